"""Patterns too good to be true: planted ones are told with the power stated here, quiet months within the stated rate."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import special, stats

import steadyfilm as sf
from steadyfilm._screens.digits import _statistic
from steadyfilm._screens.pile_up import _poisson_fit, expected_inside
from steadyfilm._screens.repeats import rounded_spread
from steadyfilm._screens.tails import (
    Steps,
    binomial_at_least,
    hypergeometric,
    steps_of_sample,
    sum_at_most,
    uncertain_binomial_at_least,
)

from screens_rates import counted, gates_month, truck_month
from screens_shop import (
    COLUMNS,
    LIMITS,
    Rows,
    drop,
    favor_digits,
    gates,
    lift_to_limit,
    pick,
    read_again,
    read_again_where_low,
    write_one_down_thrice,
)

SEEDS = range(1, 11)


def screened(rows: Rows, **options: Any) -> sf.Screens:
    return sf.screen(rows, "um", unit="um", **{**COLUMNS, **options})


def told(found: sf.Screens, screen: str) -> list[sf.DataPattern]:
    return [pattern for pattern in found.patterns if pattern.screen == screen]


def run_of(found: sf.Screens, name: str) -> sf.ScreenRun:
    return next(run for run in found.runs if run.name == name)


# -- false flags ----------------------------------------------------------------------------------------------------------


def test_quiet_months_keep_to_the_stated_rate() -> None:
    """At the loose rate of 20 %, 11 or more of 24 months have chance 0.4 % (binomial), and 3 or more at 1 % 0.2 %."""
    months = [gates_month(seed) for seed in range(1, 17)] + [truck_month(seed) for seed in range(1, 9)]
    assert counted(months, 0.2)["any"] <= 10
    assert counted(months, 0.01)["any"] <= 2
    assert counted(months, 0.2)["fault"] == 0
    # Every screen had something to look at.
    assert all(run.ran and run.tests for run in months[0].runs if not math.isnan(run.false_flag_rate))


def test_the_rate_is_shared_among_screens_and_tests() -> None:
    rows = gates(1)
    write_one_down_thrice(rows, pick(rows, gate="K1040"), 1)
    found = screened(rows, false_flag_rate=0.05)
    ran = [run for run in found.runs if run.tests and not math.isnan(run.false_flag_rate)]
    assert sum(run.false_flag_rate for run in ran) == pytest.approx(0.05)
    assert found.tests == sum(run.tests for run in ran)
    (pattern,) = found.patterns
    assert pattern.tests == len(ran) * run_of(found, pattern.screen).tests
    assert pattern.adjusted_pvalue == pytest.approx(min(1.0, pattern.pvalue * pattern.tests))


# -- pile-up --------------------------------------------------------------------------------------------------------------


def test_a_pile_up_inside_a_limit_is_told_in_most_months() -> None:
    """Nine of ten readings up to 3 um under the limit are written inside it: told in at least 8 of 10 months."""
    found = 0
    for seed in SEEDS:
        rows = gates(seed)
        assert lift_to_limit(rows, seed, coat="base", share=0.9, reach=3.0) > 20
        patterns = told(screened(rows), "pile-up inside a limit")
        found += bool(patterns)
        for pattern in patterns:
            assert "base" in pattern.where
            assert "32 um" in pattern.where
            assert pattern.observed > 1.2 * pattern.expected
            assert "pile up just inside 32 um" in pattern.sentence
            assert pattern.way_out == "worth re-reading five units with a second gauge"
    assert found >= 8


def test_the_picture_shows_the_pile_up_or_what_was_found() -> None:
    rows = gates(3)
    lift_to_limit(rows, 3, coat="base", share=0.9, reach=3.0)
    found = screened(rows)
    assert found.pile is not None
    assert found.pile.told
    assert found.pile.sentence == found.patterns[0].sentence
    drawn = found.plot()
    assert drawn.title == found.sentence()
    assert int(drawn.data["counts"][drawn.data["inside"]].sum()) == found.patterns[0].observed
    share = (
        drawn.data["expected"][drawn.data["inside"]].sum()
        / drawn.data["expected"][drawn.data["inside"] | drawn.data["outside"]].sum()
    )
    around = int(drawn.data["counts"][drawn.data["inside"] | drawn.data["outside"]].sum())
    assert found.patterns[0].expected == pytest.approx(share * around)
    plain = screened(rows, limits=None)
    assert plain.pile is None
    assert plain.plot().data["found"].tolist() == [run.found for run in plain.runs]


def test_the_upper_limit_and_one_crew() -> None:
    rng = np.random.default_rng(1)
    rows = gates(2, units=240)
    for i in pick(rows, coat="finish", crew="green"):
        if 99.0 < rows["um"][i] <= 104.0 and rng.random() < 0.8:
            rows["um"][i] = 99.0 if rows["meter"][i] == "M8" else round(99.0 - 0.1 * int(rng.integers(2)), 1)
    found = screened(rows, limits={"finish": (None, 99.0)})
    patterns = told(found, "pile-up inside a limit")
    assert patterns
    assert any("crew green" in pattern.where for pattern in patterns)
    assert all(rows["um"][row - 1] <= 99.0 for pattern in patterns for row in pattern.rows)


@pytest.mark.parametrize("seed", range(4))
def test_honest_heaping_and_coarse_displays_are_no_pile_up(seed: int) -> None:
    """Readings favor whole numbers everywhere, and the limits are whole numbers."""
    rng = np.random.default_rng(seed)
    rows = gates(seed)
    for i in pick(rows, meter="M7"):
        if rng.random() < 0.4:
            rows["um"][i] = float(round(rows["um"][i]))
    assert told(screened(rows), "pile-up inside a limit") == []
    coarse = screened(gates(seed, steps=(5.0, 5.0)))
    assert coarse.patterns == ()
    assert run_of(coarse, "pile-up inside a limit").note == "the display is too coarse to tell"


def test_the_curve_gives_the_expected_share_of_a_normal_layer() -> None:
    """The exact share of a rounded normal layer (scipy) lies within two of the stated errors, and the error is small."""
    rng = np.random.default_rng(5)
    steps = np.rint(rng.normal(400, 20, 40_000)).astype(np.int64)
    inside, outside = np.arange(380, 382), np.arange(378, 380)
    from steadyfilm._screens.pile_up import _Zone

    found = expected_inside(steps, _Zone(inside, outside), np.arange(378, 382))
    assert found is not None
    a, b, c = (stats.norm.cdf(x, 400, 20) for x in (377.5, 379.5, 381.5))
    exact = (c - b) / (c - a)
    assert math.sqrt(found.variance) < 0.1
    assert abs(special.logit(found.share) - special.logit(exact)) < 2 * math.sqrt(found.variance)


def test_the_poisson_fit_is_that_of_statsmodels() -> None:
    rng = np.random.default_rng(6)
    x = np.linspace(-1, 1, 40)
    design = np.polynomial.legendre.legvander(x, 3)
    counts = rng.poisson(np.exp(2.0 + 0.5 * x - x**2)).astype(float)
    beta, covariance = _poisson_fit(design, counts, np.zeros((4, 4)))
    oracle = sm.GLM(counts, design, family=sm.families.Poisson()).fit(tol=1e-12)
    rate = np.exp(design @ oracle.params)
    scatter = max(1.0, float(np.sum((counts - rate) ** 2 / np.maximum(rate, 1.0))) / 36)
    assert beta == pytest.approx(oracle.params, abs=1e-8)
    assert covariance == pytest.approx(oracle.cov_params() * scatter, rel=1e-6, abs=1e-12)


# -- extra readings -------------------------------------------------------------------------------------------------------


def test_extra_readings_at_low_places_are_told_and_honest_ones_are_not() -> None:
    """Three of five low places are read again: told in at least 7 of 10 months; the same number at any places: in none."""
    found = 0
    for seed in SEEDS:
        patterns = told(screened(read_again_where_low(gates(seed), seed, share=0.6)), "extra readings at low places")
        found += bool(patterns)
        assert all("began low against" in pattern.sentence for pattern in patterns)
        assert told(screened(read_again(gates(seed), seed)), "extra readings at low places") == []
    assert found >= 7


def test_the_chance_of_extra_readings_is_hypergeometric() -> None:
    """One place only: Fisher's exact test (scipy) on low against extra."""
    rng = np.random.default_rng(8)
    rows: Rows = {"n": [], "p": [], "x": [], "k": []}
    table = np.zeros((2, 2), dtype=int)
    for unit in range(80):
        low = unit % 4 == 0
        extra = (low and unit % 8 == 0) or unit % 40 == 3
        table[int(not extra), int(not low)] += 1
        for place in ("here", "there"):
            for k in range(3 if extra and place == "here" else 2):
                rows["n"].append(unit)
                rows["p"].append(place)
                rows["k"].append(k)
                rows["x"].append(round((9.0 if low else 11.0) + float(rng.normal(0, 0.1)), 2))
    found = sf.screen(rows, "x", unit="um", serial="n", location="p", repeat="k", limits=(10.0, None), false_flag_rate=0.9)
    (pattern,) = told(found, "extra readings at low places")
    assert pattern.pvalue == pytest.approx(stats.fisher_exact(table, alternative="greater")[1], rel=1e-9)


def test_a_unit_read_more_often_everywhere_was_not_picked() -> None:
    rows = gates(3)
    low = {rows["gate"][i] for i in range(len(rows["um"])) if rows["um"][i] < LIMITS[rows["coat"][i]][0]}
    whole = [i for i in range(len(rows["um"])) if rows["gate"][i] in low and rows["nth"][i] == 3]
    for i in whole:
        for column in rows.values():
            column.append(column[i])
        rows["nth"][-1] = 4
    found = screened(rows)
    assert told(found, "extra readings at low places") == []
    assert run_of(found, "extra readings at low places").note == "no place was read more often than planned"


# -- repeats --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gate", ["K1040", "K1041"])
def test_a_unit_whose_repeats_are_written_down_from_one_reading(gate: str) -> None:
    """On the fine display with a step of play, on the coarse one without: told in every month."""
    for seed in SEEDS:
        rows = gates(seed)
        write_one_down_thrice(rows, pick(rows, gate=gate), seed)
        (pattern,) = told(screened(rows), "repeats too alike")
        assert pattern.where == gate
        assert pattern.observed < 0.3
        assert pattern.sentence.startswith(f"the repeats of {gate} agree better than the gauge elsewhere")


def halved(rows: Rows, where: list[int], factor: float = 0.5) -> None:
    """Repeats drawn towards their place's mean."""
    places: dict[Any, list[int]] = {}
    for i in where:
        places.setdefault((rows["gate"][i], rows["coat"][i], rows["place"][i]), []).append(i)
    for at in places.values():
        mean = sum(rows["um"][i] for i in at) / len(at)
        for i in at:
            step = 1.0 if rows["meter"][i] == "M8" else 0.1
            rows["um"][i] = round(round((mean + factor * (rows["um"][i] - mean)) / step) * step, 1)


def test_a_group_whose_repeats_spread_half_as_much_is_told() -> None:
    for seed in range(1, 6):
        rows = gates(seed)
        halved(rows, pick(rows, turn="night"))
        patterns = told(screened(rows), "repeats too alike")
        assert "turn night" in {pattern.where for pattern in patterns}
        assert next(p for p in patterns if p.where == "turn night").observed == pytest.approx(0.5, abs=0.12)


def test_all_readings_too_alike_need_a_baseline_or_a_known_gauge() -> None:
    rows = gates(1)
    halved(rows, list(range(len(rows["um"]))), 0.4)
    assert told(screened(rows), "repeats too alike") == []
    for options in ({"baseline": gates(2)}, {"repeat_sd": {"base": 0.28 * 4.0, "finish": 0.28 * 6.0}}):
        assert {pattern.where for pattern in told(screened(rows, **options), "repeats too alike")} & {
            "gauge M7, base",
            "gauge M7, finish",
        }
        assert told(screened(gates(3), **options), "repeats too alike") == []


def test_a_display_that_swallows_all_repeats_is_no_pattern() -> None:
    rows = gates(1, steps=(10.0, 10.0))
    assert screened(rows).patterns == ()


def test_the_rounded_model_against_theory() -> None:
    """On a fine display the mean spread is n (n - 1) sigma^2 with Sheppard's 1/12; on a coarse one most places show one value."""
    fine = rounded_spread(5.0, 3)
    assert fine.mean() == pytest.approx(6 * (25 + 1 / 12), rel=0.01)
    # Three values a quarter step from an edge or nearer differ; P(all equal) by quadrature over the place between two steps.
    phase = np.linspace(-0.5, 0.5, 20_001)
    same = sum((stats.norm.cdf((k + 0.5 - phase) / 0.1) - stats.norm.cdf((k - 0.5 - phase) / 0.1)) ** 3 for k in (-1, 0, 1))
    assert (rounded_spread(0.1, 3) == 0).mean() == pytest.approx(float(np.trapezoid(same, phase)), abs=0.004)


# -- units without readings, last digits ----------------------------------------------------------------------------------


def night_unread(seed: int) -> tuple[Rows, Rows, set[str]]:
    rng = np.random.default_rng([seed, 9])
    rows = gates(seed)
    first = {gate: i for i, gate in reversed(list(enumerate(rows["gate"])))}
    gone = {g for g, i in first.items() if rng.random() < (0.4 if rows["turn"][i] == "night" else 0.02)}
    listed = {"gate": list(first), "turn": [rows["turn"][i] for i in first.values()]}
    return drop(rows, {i for i, gate in enumerate(rows["gate"]) if gate in gone}), listed, gone


def test_units_without_readings_are_listed_and_their_shift_is_told() -> None:
    by_list = 0
    for seed in SEEDS:
        rows, listed, gone = night_unread(seed)
        found = screened(rows, processed=listed)
        assert {fault.serial for fault in found.faults} == gone
        assert {fault.reason for fault in found.faults} == {"was painted and has no reading"}
        patterns = told(found, "units without readings")
        by_list += [pattern.where for pattern in patterns] == ["turn night"]
    assert by_list >= 9


def test_gaps_in_running_numbers() -> None:
    rows = gates(1, units=40)
    found = screened(drop(rows, set(pick(rows, gate="K1007")) | set(pick(rows, gate="K1008"))), running_numbers=True)
    assert [(fault.serial, fault.reason) for fault in found.faults] == [
        ("K1007", "is a gap in the running numbers"),
        ("K1008", "is a gap in the running numbers"),
    ]
    # A gap within a run of units of one shift is that shift's: of 20 gone units 18, two stand between the shifts.
    units = [k for k in range(120) if not (k // 20 % 2 and k % 3 == 1)]
    shifts = {"no": [f"N{k:03d}" for k in units], "shift": ["ab"[k // 20 % 2] for k in units], "x": [float(k % 7) for k in units]}
    blocks = sf.screen(shifts, "x", unit="", serial="no", groups="shift", running_numbers=True)
    (pattern,) = told(blocks, "units without readings")
    assert (pattern.where, pattern.observed) == ("shift b", 18)
    assert pattern.pvalue == pytest.approx(stats.hypergeom.sf(17, 118, 18, 58), rel=1e-9)
    rows["gate"] = [f"{gate}x" for gate in rows["gate"]]
    assert run_of(screened(rows, running_numbers=True), "units without readings").note.startswith("the serials do not end")
    plain = screened(rows, processed=[*rows["gate"], "K9x"])
    assert [fault.serial for fault in plain.faults] == ["K9x"]


def test_favored_digits_are_told() -> None:
    """A fifth of the readings rounded to halves: told in every month, and the gauge is named."""
    for seed in range(1, 6):
        rows = gates(seed)
        favor_digits(rows, seed, share=0.2)
        pattern = told(screened(rows), "last digits")[0]
        assert "gauge M7" in pattern.where
        assert "end in 5" in pattern.sentence or "end in 0" in pattern.sentence


def test_the_digit_test_is_the_chi_square_test_for_independent_readings() -> None:
    rng = np.random.default_rng(3)
    values = np.round(rng.normal(50, 5, 800), 1)
    found = sf.screen({"x": values}, "x", unit="um", false_flag_rate=0.999999)
    (pattern,) = told(found, "last digits")
    counts = np.bincount(np.rint(values * 10).astype(int) % 10, minlength=10)
    assert pattern.pvalue == pytest.approx(stats.chisquare(counts).pvalue, rel=1e-9)


def test_neighboring_digits_of_one_place_are_no_favored_digits() -> None:
    """On a display as coarse as a unit is wide its digits are neighbors: the tail is kept, which one common factor misses."""
    rng = np.random.default_rng(11)
    unit = np.repeat(np.arange(40), 12)
    own, common = [], []
    for _ in range(1500):
        digit = (rng.uniform(0, 10, 40)[unit] + rng.normal(0, 1.2, 480)).round().astype(int) % 10
        own.append(stats.chi2.sf(_statistic(unit, digit, 10), 9))
        waves = np.exp(2j * np.pi / 10 * np.outer(digit, np.arange(1, 10)))
        scatter = float(sum(np.abs(waves[unit == u].sum(axis=0)) ** 2 for u in range(40)).mean())
        common.append(stats.chi2.sf(float(np.sum(np.abs(waves.sum(axis=0)) ** 2)) / scatter, 9))
    for level in (0.002, 0.01, 0.05):
        error = math.sqrt(level * (1 - level) / 1500)
        assert np.mean(np.array(own) <= level) <= level + 3 * error
        assert np.mean(np.array(common) <= level) > level + 3 * error


def test_each_harmonic_is_measured_by_its_own_scatter_between_units() -> None:
    rng = np.random.default_rng(4)
    unit = np.repeat(np.arange(50), 12)
    digit = (rng.integers(0, 10, 50)[unit] + rng.integers(0, 3, 600)) % 10
    found = _statistic(unit, digit, 10)
    expected = 0.0
    for k in range(1, 10):
        wave = np.exp(2j * np.pi * k * digit / 10)
        parts = [wave[unit == u].sum() for u in range(50)]
        expected += abs(sum(parts)) ** 2 / max(600.0, sum(abs(part) ** 2 for part in parts))
    assert found == pytest.approx(expected, rel=1e-12)


def test_a_gauge_whose_readings_span_few_steps_has_no_last_digits() -> None:
    narrow = sf.screen({"x": np.round(np.random.default_rng(1).normal(5.0, 0.02, 500), 2)}, "x", unit="um")
    assert not run_of(narrow, "last digits").ran


# -- tails ----------------------------------------------------------------------------------------------------------------


def test_tails_against_scipy() -> None:
    for count, trials, share in ((0, 5, 0.3), (3, 10, 0.2), (38, 44, 0.43), (120, 200, 0.5), (7, 6, 0.9)):
        assert binomial_at_least(count, trials, share) == pytest.approx(stats.binom.sf(count - 1, trials, share), rel=1e-10)
    for total, marked, drawn in ((50, 7, 9), (300, 120, 12), (5, 5, 2)):
        oracle = stats.hypergeom.pmf(np.arange(drawn + 1), total, marked, drawn)
        assert hypergeometric(total, marked, drawn) == pytest.approx(oracle, rel=1e-9, abs=1e-15)


def test_an_uncertain_share_widens_the_tail() -> None:
    assert uncertain_binomial_at_least(38, 44, 0.45, 0.0) == pytest.approx(stats.binom.sf(37, 44, 0.45), rel=1e-9)
    draws = special.expit(np.random.default_rng(1).normal(special.logit(0.45), 0.5, 400_000))
    oracle = float(stats.binom.sf(29, 44, draws).mean())
    assert uncertain_binomial_at_least(30, 44, 0.45, 0.25) == pytest.approx(oracle, rel=0.02)


@pytest.mark.parametrize("draws", [3, 20, 200])
def test_sums_of_steps_against_negative_binomial_tails(draws: int) -> None:
    """Geometric steps add up to a negative binomial: exact by convolution, within 1 % of it by the saddlepoint."""
    values = np.arange(400)
    part = Steps(values, stats.nbinom.pmf(values, 1, 0.2), draws)
    limits = [int(stats.nbinom.ppf(q, draws, 0.2)) for q in (1e-6, 1e-3, 0.1)]
    oracle = [float(stats.nbinom.cdf(limit, draws, 0.2)) for limit in limits]
    assert sum_at_most([part], limits) == pytest.approx(oracle, rel=1e-9 if draws <= 60 else 0.02)


def test_sums_at_the_lowest_step_are_exact() -> None:
    part = steps_of_sample(np.array([0, 0, 0, 2, 6]), 10)
    assert sum_at_most([part], [0, -1]) == pytest.approx([0.6**10, 0.0])
    many = steps_of_sample(np.array([0, 0, 0, 2, 6]), 100)
    assert sum_at_most([many], [0]) == pytest.approx([0.6**100])


# -- degenerate tables ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "rows",
    [
        gates(1, units=1),
        gates(1, repeats=1),
        gates(1, places=1),
        drop(gates(1), set(pick(gates(1), meter="M8"))),
        {**gates(1), "um": [40.0] * 2880},
        {name: column[:1] for name, column in gates(1).items()},
    ],
    ids=["one unit", "no repeats", "one place", "one gauge", "all equal", "one row"],
)
def test_degenerate_tables_are_quiet_and_say_what_did_not_run(rows: Rows) -> None:
    found = screened(rows, limits=(32.0, 110.0))
    assert found.patterns == ()
    assert all(run.ran or run.note for run in found.runs)
    assert sf.Screens.from_json(found.to_json()) == found


def test_values_alone_are_enough_for_some_screens() -> None:
    values = np.round(np.random.default_rng(2).normal(60, 8, 2000), 1)
    found = sf.screen({"film": values}, "film", unit="um", limits=(50.0, None))
    assert found.clean
    assert [run.name for run in found.runs if run.ran] == [
        "readable",
        "values that can be",
        "display grid",
        "pile-up inside a limit",
        "last digits",
    ]
    assert found.units == 0


def test_options_that_cannot_be_used_are_refused() -> None:
    rows = gates(1, units=4)
    for options, word in (
        ({"false_flag_rate": 0.0}, "false_flag_rate"),
        ({"implausible_factor": 1.0}, "implausible_factor"),
        ({"limits": {"primer": (1.0, 2.0)}}, "layers present"),
        ({"repeat_sd": -1.0}, "repeat_sd"),
    ):
        with pytest.raises(sf.InvalidInputError, match=word):
            screened(rows, **options)
    with pytest.raises(sf.InvalidInputError, match="'mil' or 'um'"):
        sf.screen(rows, "um", unit="g", unit_of_measure="in")
    with pytest.raises(sf.DataProblemsError, match="no such column"):
        screened(rows, gauge="metre")


def test_steps_of_a_converted_display_are_summed_in_bounded_work() -> None:
    """Values times a factor have the chances of the values; the factor is that of 0.01 mil in steps of 0.002 um, squared."""
    rng = np.random.default_rng(8)
    sample = 2 * rng.integers(0, 12, 400)
    for draws in (3, 40):
        limits = [int(share * draws * sample.mean()) for share in (0.5, 0.7, 0.9)]
        plain = sum_at_most([steps_of_sample(sample, draws)], limits)
        fine = sum_at_most([steps_of_sample(sample * 127**2, draws)], [limit * 127**2 for limit in limits])
        assert fine == pytest.approx(plain, rel=1e-9)
    assert sum_at_most([steps_of_sample(sample * 127**2, 3)], [-1, 0])[0] == 0.0


@pytest.mark.parametrize("gate", ["K1040"])
def test_readings_converted_and_not_rounded_are_screened_in_the_same_time(gate: str) -> None:
    rows = gates(1)
    write_one_down_thrice(rows, pick(rows, gate=gate), 1)
    rows["um"] = [value / 25.4 * 25.4 * 25.4 for value in rows["um"]]
    (pattern,) = told(screened(rows, limits=None), "repeats too alike")
    assert pattern.where == gate
