"""How many readings, and where: against trying every plan, simulated studies, and what must hold."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf

from reference import Args, adapter


@adapter("window_share")
def _share(args: Args) -> dict[str, float]:
    u = args.number("sigma_repeat_mil") / math.sqrt(args.count("readings"))
    return {"percent": 100 * sf.window_share(u, window_width=args.number("window_mil"))}


@adapter("readings_for_window_share")
def _share_readings(args: Args) -> dict[str, float]:
    found = sf.readings_for_window_share(
        args.number("sigma_repeat_mil"), unit="mil", window_width=args.number("window_mil"), share=args.number("share")
    )
    assert found.readings is not None
    return {"readings": found.readings}


@adapter("guard_band_window")
def _guarded(args: Args) -> dict[str, float]:
    found = sf.guard_band(
        unit="mil",
        lower=0.0,
        upper=args.number("window_mil"),
        standard_uncertainty=args.number("standard_uncertainty_mil"),
        alpha=args.number("alpha"),
        bias_bound=args.number("bias_bound_mil"),
    )
    assert found.left is not None
    return {"guard_mil": found.guard, "left_mil": found.left}


@adapter("unit_average_uncertainty")
def _average(args: Args) -> dict[str, float]:
    u = sf.unit_average_uncertainty(
        sigma_location=args.number("sigma_location_mil"),
        sigma_repeat=args.number("sigma_repeat_mil"),
        location_count=args.count("location_count"),
        readings_per_location=args.count("readings_per_location"),
    )
    return {"uncertainty_mil": u}


@adapter("optimal_repeats")
def _repeats(args: Args) -> dict[str, float]:
    names = ("cost_location", "cost_reading")
    sds = {f"sigma_{name}": args.number(f"sigma_{name}_mil") for name in ("location", "repeat")}
    return {"repeats": sf.optimal_repeats(**sds, **{name: args.number(name) for name in names})}


@adapter("readings_for_half_width")
def _half_width(args: Args) -> dict[str, float]:
    found = sf.readings_for_half_width(
        args.number("sd_mil"),
        unit="mil",
        half_width=args.number("half_width_mil"),
        confidence_level=args.number("confidence_level"),
    )
    return {"readings": found.readings, "normal_formula": found.normal_formula}


UNIT = {"unit": "mil", "sigma_location": 0.13, "sigma_repeat": 0.05}


def example_results() -> list[Any]:
    return [
        sf.readings_for_window_share(0.05, unit="mil", window_width=0.2, share=0.3),
        sf.readings_for_window_share(0.03, unit="mil", window_width=0.2, share=0.2, sigma_common=0.02),
        sf.readings_for_window_share(0.0, unit="mil", window_width=0.2, share=0.2, sigma_common=0.005),
        sf.readings_for_half_width(0.05, unit="mil", half_width=0.02),
        sf.readings_for_half_width(0.0, unit="mil", half_width=0.02),
        sf.plan_readings(**UNIT, uncertainty=0.05),
        sf.plan_readings(**UNIT, cost_location=20.0, sigma_common=0.01, budget=100.0),
        sf.plan_readings(**UNIT, uncertainty=0.01, most_places=20),
        sf.plan_readings(**UNIT, cost_location=3.0, budget=2.0),
        sf.plan_readings(unit="um", sigma_location=0.0, sigma_repeat=1.2, uncertainty=0.5),
        sf.gauge_study_interval(10, 3, 3, unit="mil", sigma_repeat=0.0335, sigma_appraiser=0.0216, sigma_interaction=0.0136),
        sf.gauge_study_interval(10, 3, 2, unit="mil", sigma_repeat=0.0335, sigma_appraiser=0.01, interaction=False),
        sf.gauge_study_interval(10, 3, 1, unit="mil", sigma_repeat=0.0335, method="satterthwaite"),
        sf.gauge_study_interval(20, 1, 2, unit="mil", sigma_repeat=0.0335),
        sf.plan_gauge_study(unit="mil", relative_width=1.0, sigma_repeat=0.035, sigma_appraiser=0.01),
        sf.plan_gauge_study(unit="mil", relative_width=0.5, sigma_repeat=0.035, sigma_appraiser=0.03),
    ]


# -- readings -----------------------------------------------------------------------------------------------------------


@given(st.floats(0.001, 1), st.floats(0.05, 3), st.floats(0.05, 2), st.floats(0, 1.5))
def test_readings_for_a_share_do_and_one_fewer_does_not(repeat: float, width: float, share: float, part: float) -> None:
    common = part * share * width / 6
    if 0.999 < part < 1.0:
        return  # endlessly many, refused or not by the last digits
    found = sf.readings_for_window_share(repeat, unit="mil", window_width=width, share=share, sigma_common=common)

    def taken(n: float) -> float:
        return 6 * math.sqrt(common**2 + repeat**2 / n) / width

    if found.readings is None:
        assert part >= 1.0 - 1e-12
        assert found.share == pytest.approx(6 * common / width)
        return
    assert taken(found.readings) <= share * (1 + 1e-8)
    assert found.share == pytest.approx(taken(found.readings), rel=1e-12)
    if found.readings > 1:
        assert taken(found.readings - 1) > share * (1 - 1e-8)


def test_a_share_that_comes_out_whole_is_not_one_too_many() -> None:
    for n in range(1, 200):
        sd = 0.2 * 0.3 / 6 * math.sqrt(n)
        assert sf.readings_for_window_share(sd, unit="mil", window_width=0.2, share=0.3).readings == n


def test_intervals_of_the_planned_number_are_as_narrow_as_told() -> None:
    plan = sf.readings_for_half_width(0.05, unit="mil", half_width=0.02, confidence_level=0.9)
    rng = np.random.default_rng(2)
    samples = rng.normal(2.1, 0.05, (20_000, plan.readings))
    half = stats.t.ppf(0.95, plan.readings - 1) * samples.std(axis=1, ddof=1) / math.sqrt(plan.readings)
    covered = (np.abs(samples.mean(axis=1) - 2.1) <= half).mean()
    assert covered == pytest.approx(0.9, abs=4 * math.sqrt(0.09 / 20_000))
    assert half.mean() == pytest.approx(plan.half_width, rel=0.02)
    assert half.mean() < 0.02


def test_unit_average_uncertainty_agrees_with_simulation() -> None:
    rng, units = np.random.default_rng(4), 40_000
    places = rng.normal(0, 0.13, (units, 4))
    average = (places + rng.normal(0, 0.05, (units, 4, 2)).mean(axis=2)).mean(axis=1) + rng.normal(0, 0.03, units)
    u = sf.unit_average_uncertainty(
        sigma_location=0.13, sigma_repeat=0.05, sigma_common=0.03, location_count=4, readings_per_location=2
    )
    assert u == pytest.approx(average.std(), rel=4 / math.sqrt(2 * units))


# -- where to spend readings --------------------------------------------------------------------------------------------


@given(
    st.floats(0, 1), st.floats(0.01, 1), st.floats(0, 0.1), st.floats(0, 20), st.floats(0.1, 5), st.floats(0.02, 1), st.booleans()
)
def test_the_plan_is_the_best_of_all(
    location: float, repeat: float, common: float, cost_location: float, cost_reading: float, wanted: float, by_cost: bool
) -> None:
    a, b = np.arange(1, 31)[:, None], np.arange(1, 401)[None, :]
    u = np.sqrt(common**2 + location**2 / a + repeat**2 / (a * b))
    cost = a * (cost_location + b * cost_reading)
    sds = {"unit": "mil", "sigma_location": location, "sigma_repeat": repeat, "sigma_common": common}
    costs = {"cost_location": cost_location, "cost_reading": cost_reading, "most_places": 30}
    if by_cost:
        budget = 40 * wanted
        plan = sf.plan_readings(**sds, **costs, budget=budget)
        if not (cost <= budget).any():
            assert plan.location_count == 0
            assert math.isnan(plan.uncertainty)
            return
        assert plan.uncertainty == pytest.approx(u[cost <= budget].min(), rel=1e-6)
        assert plan.cost <= budget * (1 + 1e-6)
    else:
        plan = sf.plan_readings(**sds, **costs, uncertainty=wanted)
        if not (u <= wanted).any():
            assert plan.location_count == 0 or plan.readings_per_location > 400
            return
        assert plan.cost == pytest.approx(cost[u <= wanted * (1 + 1e-10)].min(), rel=1e-6)
        assert plan.uncertainty <= wanted * (1 + 1e-6)


def test_the_whole_number_plan_can_differ_from_the_rounded_formula() -> None:
    """Root formula 2.4 repeats; rounded to 2 it asks for 9 places at 45, yet 3 repeats at 8 places cost 48, 1 at 12 cost 48."""
    plan = sf.plan_readings(unit="mil", sigma_location=0.1, sigma_repeat=0.14, cost_location=3.0, uncertainty=0.047)
    assert plan.best_repeats == pytest.approx(math.sqrt(0.14**2 * 3 / 0.1**2))
    tried = {}
    for repeats in range(1, 8):
        places = math.ceil((0.01 + 0.0196 / repeats) / 0.047**2)
        tried[repeats] = places * (3 + repeats)
    assert plan.cost == min(tried.values())
    assert {row.readings_per_location: row.cost for row in plan.alternatives}[1] == tried[1]


def test_places_beat_repeats_unless_going_there_costs() -> None:
    assert sf.plan_readings(**UNIT, budget=15).readings_per_location == 1
    assert sf.plan_readings(**UNIT, budget=15).location_count == 15
    assert sf.plan_readings(**UNIT, cost_location=50, budget=500).readings_per_location > 1


# -- gauge studies ------------------------------------------------------------------------------------------------------


def _studies(parts: int, appraisers: int, trials: int, sds: tuple[float, float, float], count: int) -> list[np.ndarray[Any, Any]]:
    """Mean squares of simulated crossed studies: appraiser, interaction, repeat."""
    repeat, appraiser, crossed = sds
    rng = np.random.default_rng(parts + 100 * appraisers)
    x = rng.normal(0, repeat, (count, parts, appraisers, trials))
    x += rng.normal(0, appraiser, (count, 1, appraisers, 1)) + rng.normal(0, crossed, (count, parts, appraisers, 1))
    x += rng.normal(0, 0.2, (count, parts, 1, 1))
    cell, by_part, by_man, mean = x.mean(3), x.mean((2, 3)), x.mean((1, 3)), x.mean((1, 2, 3))
    inter = cell - by_part[:, :, None] - by_man[:, None, :] + mean[:, None, None]
    lines = [parts * trials * ((by_man - mean[:, None]) ** 2).sum(1) / (appraisers - 1)]
    lines.append(trials * (inter**2).sum((1, 2)) / ((parts - 1) * (appraisers - 1)))
    if trials > 1:
        lines.append(((x - cell[..., None]) ** 2).sum((1, 2, 3)) / (parts * appraisers * (trials - 1)))
    return lines


@pytest.mark.parametrize(
    ("size", "sds", "method"),
    [
        ((10, 3, 3), (0.03, 0.02, 0.01), "modified_large_sample"),
        ((6, 4, 2), (0.03, 0.005, 0.0), "modified_large_sample"),
        ((8, 3, 1), (0.03, 0.01, 0.01), "modified_large_sample"),
        ((10, 3, 3), (0.03, 0.02, 0.01), "satterthwaite"),
    ],
)
def test_study_interval_agrees_with_simulated_studies(
    size: tuple[int, int, int], sds: tuple[float, float, float], method: str
) -> None:
    parts, _, trials = size
    plan = sf.gauge_study_interval(
        *size, unit="mil", sigma_repeat=sds[0], sigma_appraiser=sds[1], sigma_interaction=sds[2], method=method
    )
    count = 4000
    lines = _studies(*size, sds, count)
    for line, seen in zip(plan.mean_squares, lines, strict=True):
        sd = line.expected * math.sqrt(2 / line.degrees_of_freedom / count)
        assert seen.mean() == pytest.approx(line.expected, abs=4 * sd)
    if trials > 1:
        weights = [1 / (parts * trials), (parts - 1) / (parts * trials), 1 - 1 / trials]
    else:
        weights = [1 / parts, 1 - 1 / parts]
    assert [line.weight for line in plan.mean_squares] == pytest.approx(weights)
    df = [line.degrees_of_freedom for line in plan.mean_squares]
    parts_of = np.array([w * s for w, s in zip(weights, lines, strict=True)])
    value = parts_of.sum(0)
    if method == "modified_large_sample":
        down = np.array([1 - n / stats.chi2.ppf(0.975, n) for n in df])[:, None]
        up = np.array([n / stats.chi2.ppf(0.025, n) - 1 for n in df])[:, None]
        lower = np.sqrt(value - np.sqrt(((down * parts_of) ** 2).sum(0)))
        upper = np.sqrt(value + np.sqrt(((up * parts_of) ** 2).sum(0)))
    else:
        nu = value**2 / (parts_of**2 / np.array(df)[:, None]).sum(0)
        lower, upper = np.sqrt(value * nu / stats.chi2.ppf(0.975, nu)), np.sqrt(value * nu / stats.chi2.ppf(0.025, nu))
    for told, seen in ((plan.mean_lower, lower), (plan.mean_upper, upper)):
        assert told == pytest.approx(seen.mean(), abs=4 * seen.std() / math.sqrt(count))
    # The closed form stands for the studies: between their quartiles, and near their mean.
    assert np.quantile(upper, 0.25) < plan.upper < np.quantile(upper, 0.85)
    width = (plan.upper - plan.lower) / plan.sigma_measurement
    assert plan.relative_width == pytest.approx(width)
    assert plan.relative_width == pytest.approx(plan.mean_relative_width, rel=0.25)


def test_pooled_interaction_leaves_two_lines() -> None:
    plan = sf.gauge_study_interval(10, 3, 2, unit="mil", sigma_repeat=0.03, sigma_appraiser=0.02, interaction=False)
    assert [line.degrees_of_freedom for line in plan.mean_squares] == [2, 18 + 30]
    assert [line.weight for line in plan.mean_squares] == pytest.approx([1 / 20, 19 / 20])
    assert plan.sigma_measurement == pytest.approx(math.hypot(0.03, 0.02))


def test_more_appraisers_narrow_the_interval_more_than_more_parts() -> None:
    def width(parts: int, appraisers: int) -> float:
        return sf.gauge_study_interval(parts, appraisers, 3, unit="mil", sigma_repeat=0.03, sigma_appraiser=0.02).relative_width

    assert width(5, 6) < width(30, 3)
    assert (
        "only 3 appraisers" in sf.gauge_study_interval(10, 3, 3, unit="mil", sigma_repeat=0.03, sigma_appraiser=0.02).sentence()
    )


def test_the_planned_study_is_the_cheapest_that_keeps_the_width() -> None:
    given = {"unit": "mil", "sigma_repeat": 0.03, "sigma_appraiser": 0.01, "sigma_interaction": 0.005}
    plan = sf.plan_gauge_study(
        **given, relative_width=1.2, most_parts=12, most_appraisers=5, most_trials=3, cost_part=4.0, cost_appraiser=10.0
    )
    fits = {}
    for parts in range(5, 13):
        for appraisers in range(2, 6):
            for trials in (2, 3):
                found = sf.gauge_study_interval(parts, appraisers, trials, **given)
                if found.relative_width <= 1.2:
                    fits[parts, appraisers, trials] = 4 * parts + 10 * appraisers + parts * appraisers * trials
    assert plan.reached
    assert plan.cost == min(fits.values())
    assert fits[plan.interval.parts, plan.interval.appraisers, plan.interval.trials] == plan.cost
    assert [option.appraisers for option in plan.options[1:]] == sorted(option.appraisers for option in plan.options[1:])
    assert len({option.appraisers for option in plan.options}) == len(plan.options) == 4


def test_a_width_out_of_reach_is_said() -> None:
    plan = sf.plan_gauge_study(unit="mil", relative_width=0.3, sigma_repeat=0.03, sigma_appraiser=0.03)
    assert not plan.reached
    assert plan.sentence().startswith("No gauge study of up to 30 parts, 6 appraisers and 4 trials")
    assert plan.interval.appraisers == 6


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.window_share(0.1, window_width=0.0), "window_width must be"),
        (lambda: sf.readings_for_window_share(0.1, unit="mil", window_width=0.2, share=-1.0), "share must be"),
        (lambda: sf.readings_for_window_share(0.1, unit="mil", window_width=0.2, share=1e-9), "more than 1e9 readings"),
        (lambda: sf.readings_for_half_width(-0.1, unit="mil", half_width=0.1), r"sd must be 0 or more \(-0.1\)"),
        (lambda: sf.plan_readings(**UNIT), "either uncertainty or budget"),
        (lambda: sf.plan_readings(**UNIT, uncertainty=0.1, budget=1.0), "either uncertainty or budget"),
        (lambda: sf.plan_readings(**UNIT, uncertainty=0.1, cost_reading=0.0), "cost_reading must be"),
        (lambda: sf.unit_average_uncertainty(sigma_location=0.1, sigma_repeat=0.1, location_count=0), "location_count must be"),
        (lambda: sf.optimal_repeats(sigma_location=0.0, sigma_repeat=0.1, cost_location=1, cost_reading=1), "sigma_location"),
        (lambda: sf.gauge_study_interval(10, 1, 3, unit="mil", sigma_repeat=0.1, sigma_appraiser=0.1), "appraisers must be 2"),
        (lambda: sf.gauge_study_interval(10, 1, 1, unit="mil", sigma_repeat=0.1), "trials must be 2 or more"),
        (lambda: sf.gauge_study_interval(1, 3, 3, unit="mil", sigma_repeat=0.1), "parts must be 2 or more"),
        (lambda: sf.gauge_study_interval(10, 3, 3, unit="mil", sigma_repeat=0.1, method="exact"), "or satterthwaite, got exact"),
        (lambda: sf.plan_gauge_study(unit="mil", relative_width=0.0, sigma_repeat=0.1), "relative_width must be"),
        (lambda: sf.plan_gauge_study(unit="mil", relative_width=1.0, sigma_repeat=0.1, most_parts=3), "at least fewest_parts"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
