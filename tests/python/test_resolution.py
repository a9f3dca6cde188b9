"""The display's step: the likelihood against SciPy, rounded charts against simulation, and what readings cannot tell."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

import steadyfilm as sf

from reference import Args, adapter


@adapter("window_steps")
def _steps(args: Args) -> dict[str, float]:
    found = sf.window_resolution(args.number("step"), unit="mil", lower=args.number("lower"), upper=args.number("upper"))
    return {name: getattr(found, name) for name in ("steps", "shown_inside", "standard_uncertainty")}


@adapter("rounding_effect")
def _effect(args: Args) -> dict[str, float]:
    from steadyfilm import _core

    given = [args.number(name) for name in ("sigma", "step", "mean")]
    found = _core.rounding_effect(*given, args.count("subgroup_size"))
    return {**found, "zero_range_percent": 100 * found["zero_range_share"]}


@adapter("rounded_fit")
def _fit(args: Args) -> dict[str, float]:
    found = sf.fit_rounded(
        args.list("values"), unit="", step=args.number("step"), confidence_level=args.number("confidence_level")
    )
    names = ("mean", "sd", "log_likelihood", "sd_lower", "sd_upper", "sd_of_readings")
    return {name: getattr(found, name) for name in names}


COARSE = [2.0, 2.1, 2.1, 2.2, 2.1, 2.0, 2.1, 2.1, 2.3, 2.2]


def example_results() -> list[Any]:
    return [
        sf.window_resolution(0.1, unit="mil", lower=2.0, upper=2.2),
        sf.window_resolution(0.01, unit="mil", lower=2.0, upper=2.2),
        sf.zero_ranges([2.1, 2.1, 2.1, 2.1, 2.2, 2.1], unit="mil", subgroup_size=3),
        sf.zero_ranges([2.1, 2.2, 2.3], unit="mil", subgroup=["a", "b", "c"]),
        sf.fit_rounded(COARSE, unit="mil", step=0.1),
        sf.fit_rounded([2.1, 2.1, 2.2, 2.1], unit="mil", step=0.1),
        sf.fit_rounded([2.1] * 6, unit="mil", step=0.1),
        sf.rounding_effect(0.03, unit="mil", step=0.1, subgroup_size=3),
        sf.rounding_effect(0.1, unit="mil", step=0.01),
    ]


# -- the fit ------------------------------------------------------------------------------------------------------------


def _scipy_fit(values: list[float], step: float) -> tuple[float, float, float]:
    """Mean, sd and log-likelihood by SciPy's own general minimizer on the plain likelihood."""
    x = np.array(values)

    def minus(at: Any) -> float:
        low, high = (x - 0.5 * step - at[0]) / math.exp(at[1]), (x + 0.5 * step - at[0]) / math.exp(at[1])
        return -float(np.log(stats.norm.cdf(high) - stats.norm.cdf(low)).sum())

    found = optimize.minimize(
        minus, [x.mean(), math.log(x.std())], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12}
    )
    return float(found.x[0]), math.exp(found.x[1]), -float(found.fun)


@pytest.mark.parametrize(("sd", "count"), [(0.08, 20), (0.12, 30), (0.3, 25)])
def test_fit_agrees_with_a_general_minimizer(sd: float, count: int) -> None:
    rng = np.random.default_rng(count)
    values = (np.round(rng.normal(2.13, sd, count) / 0.1) * 0.1).tolist()
    mean, spread, top = _scipy_fit(values, 0.1)
    found = sf.fit_rounded(values, unit="mil", step=0.1)
    assert not found.only_an_upper_limit
    assert found.mean == pytest.approx(mean, abs=1e-7)
    assert found.sd == pytest.approx(spread, abs=1e-7)
    assert found.log_likelihood == pytest.approx(top, abs=1e-9)


def test_fit_agrees_with_scipys_censored_fit() -> None:
    """Each reading is an interval: SciPy's CensoredData holds the same."""
    x = np.array(COARSE)
    data = stats.CensoredData(interval=np.column_stack([x - 0.05, x + 0.05]))
    mean, sd = stats.norm.fit(data)
    found = sf.fit_rounded(COARSE, unit="mil", step=0.1)
    assert found.mean == pytest.approx(mean, abs=1e-4)
    assert found.sd == pytest.approx(sd, abs=1e-4)


@given(st.lists(st.integers(-30, 30), min_size=3, max_size=25), st.floats(0.001, 100), st.integers(-1000, 1000))
def test_shift_and_scale_carry_over(cells: list[int], step: float, shift: int) -> None:
    one = sf.fit_rounded([float(k) for k in cells], unit="", step=1.0)
    two = sf.fit_rounded([(k + shift) * step for k in cells], unit="", step=step)
    assert two.only_an_upper_limit == one.only_an_upper_limit
    assert two.mean == pytest.approx((one.mean + shift) * step, rel=1e-7, abs=1e-7 * step)
    assert two.sd == pytest.approx(one.sd * step, rel=1e-6)
    assert two.sd_upper == pytest.approx(one.sd_upper * step, rel=1e-6)
    assert one.sd_lower <= one.sd <= one.sd_upper
    assert one.mean_lower <= one.mean <= one.mean_upper


@given(st.lists(st.floats(-3, 3), min_size=3, max_size=20, unique=True))
def test_a_fine_step_gives_the_moments(values: list[float]) -> None:
    x = np.round(np.array(values), 6)
    if x.std() < 0.01:
        return
    found = sf.fit_rounded(x, unit="", step=1e-6)
    assert found.mean == pytest.approx(x.mean(), abs=1e-8)
    assert found.sd == pytest.approx(x.std(), rel=1e-7)
    assert found.sd_unbiased == pytest.approx(x.std(ddof=1), rel=1e-7)


def test_the_likelihood_is_nearer_the_truth_than_the_readings_as_they_stand() -> None:
    table = _coverage_table()
    # Ten readings at half a step are often one value or two neighbors: then nothing is known but an upper limit.
    coarse = [row for row in table if float(row["sigma_in_steps"]) in (0.5, 1.0) and int(row["count"]) >= 30]
    assert len(coarse) == 4
    for row in coarse:
        true = float(row["sigma_in_steps"])
        assert abs(float(row["mean_sd"]) - true) < abs(float(row["mean_sd_of_readings"]) - true)


def _coverage_table() -> list[dict[str, str]]:
    with (Path(__file__).parents[1] / "bench" / "rounded_coverage.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_intervals_cover_as_the_committed_table_says() -> None:
    """A slice of tests/bench/rounded_coverage.py again, with its own seed."""
    row = next(row for row in _coverage_table() if (row["sigma_in_steps"], row["count"]) == ("0.5", "30"))
    rng, studies, covered = np.random.default_rng(99), 300, 0
    for _ in range(studies):
        values = np.round(rng.normal(rng.uniform(), 0.5, 30))
        found = sf.fit_rounded(values, unit="", step=1.0)
        covered += found.sd_lower <= 0.5 <= found.sd_upper
    told = float(row["coverage"])
    assert told > 0.92
    assert covered / studies == pytest.approx(told, abs=4 * math.sqrt(told * (1 - told) / studies))


def test_one_value_or_two_neighbors_give_only_an_upper_limit() -> None:
    one, two = sf.fit_rounded([2.1] * 6, unit="mil", step=0.1), sf.fit_rounded([2.1, 2.2, 2.1], unit="mil", step=0.1)
    assert one.only_an_upper_limit
    assert two.only_an_upper_limit
    # The largest spread: the mean in the middle of the cell, 2 Phi(h/2s) - 1 to the power n falls to exp(-1.92).
    chance = math.exp(-0.5 * stats.chi2.ppf(0.95, 1) / 6)
    assert one.sd_upper == pytest.approx(0.05 / stats.norm.ppf(0.5 + 0.5 * chance), rel=1e-9)
    assert "no lower limit can be given" in one.sentence()
    assert "two neighboring values" in two.sentence()


def test_a_display_in_another_unit_may_be_off_in_its_last_digit() -> None:
    um = [53, 52, 54, 53, 55, 53]
    mil = [round(x / 25.4, 4) for x in um]
    found = sf.fit_rounded(mil, unit="mil", step=1 / 25.4)
    assert found.sd * 25.4 == pytest.approx(sf.fit_rounded(um, unit="um", step=1.0).sd, rel=1e-9)


# -- charts -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("sigma", "size", "place"), [(0.3, 3, 0.0), (0.3, 3, 0.5), (0.5, 1, 0.2), (0.4, 5, 0.3)])
def test_rounded_charts_agree_with_simulation(sigma: float, size: int, place: float) -> None:
    rng, groups = np.random.default_rng(13), 100_000
    found = sf.rounding_effect(sigma, unit="", step=1.0, subgroup_size=size, places=11)
    i = round(place * 20)
    readings = np.round(rng.normal(place, sigma, (groups, max(2, size))))
    ranges = np.ptp(readings, axis=1)
    assert found.mean_range[i] == pytest.approx(ranges.mean(), abs=4 * ranges.std() / math.sqrt(groups))
    zero = (ranges == 0).mean()
    assert found.zero_range_share[i] == pytest.approx(zero, abs=4 * math.sqrt(zero * (1 - zero) / groups))
    assert found.sd_ratio[i] * sigma == pytest.approx(readings.std(), rel=0.02)
    averages = readings[:, 0] if size == 1 else readings.mean(axis=1)
    limit = 3 * found.sigma_ratio[i] * sigma / math.sqrt(size)
    law = stats.norm(place, sigma)
    cells = np.arange(-12, 13)
    center = float((cells * (law.cdf(cells + 0.5) - law.cdf(cells - 0.5))).sum())
    beyond = (np.abs(averages - center) > limit + 1e-9).mean()
    assert found.false_alarm[i] == pytest.approx(beyond, abs=4 * math.sqrt(max(beyond, 1e-4) / groups))


def test_limits_are_harmless_from_eight_tenths_of_a_step_on() -> None:
    for size in (1, 2, 3, 5):
        fine = sf.rounding_effect(0.8, unit="", step=1.0, subgroup_size=size)
        assert fine.smallest_ratio > 0.97
        assert fine.largest_ratio < 1.05
        coarse = sf.rounding_effect(0.3, unit="", step=1.0, subgroup_size=size)
        assert coarse.largest_ratio / coarse.smallest_ratio > 1.5


def test_zero_ranges_are_counted_and_flagged() -> None:
    rng = np.random.default_rng(1)
    values = np.round(rng.normal(2.1, 0.03, 3000), 1)
    found = sf.zero_ranges(values, unit="mil", subgroup_size=3)
    expected = sf.rounding_effect(0.03, unit="mil", step=0.1, subgroup_size=3, places=2).zero_range_share[0]
    assert found.share == pytest.approx(expected, abs=4 * math.sqrt(0.25 / 1000))
    assert "too coarse" in found.sentence()
    labeled = sf.zero_ranges(
        {"film": [1.0, 1.0, 2.0, 3.0, 3.0], "spot": ["a", "a", "b", "c", "c"]}, "film", unit="mil", subgroup="spot"
    )
    assert (labeled.groups, labeled.zero, labeled.single) == (2, 2, 1)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.fit_rounded([2.1, 2.13], unit="mil", step=0.1), r"values\[1\] is no multiple of the step of 0.1 \(2.13\)"),
        (lambda: sf.fit_rounded([2.1], unit="mil", step=0.1), "values"),
        (lambda: sf.fit_rounded([2.1, 2.2], unit="mil", step=-0.1), "step must be"),
        (lambda: sf.fit_rounded([2.1, None], unit="mil", step=0.1), "reading is missing"),
        (lambda: sf.window_resolution(0.1, unit="mil", lower=2.2, upper=2.0), "must lie below upper"),
        (lambda: sf.rounding_effect(0.1, unit="mil", step=0.1, subgroup_size=31), "subgroup_size must be 1 to 30"),
        (lambda: sf.rounding_effect(0.1, unit="mil", step=0.1, places=1), "places must be 2 or more"),
        (lambda: sf.zero_ranges([1.0, 2.0, 3.0], unit="mil", subgroup_size=2), "do not fill subgroups of 2"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
