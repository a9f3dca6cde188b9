"""Subgroup charts: published sets, NumPy and simulation as oracles, shift, scale and order, sizes, exclusions, refusals."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf
from steadyfilm import _core

from reference import Args, adapter


def _points(signals: tuple[sf.Signal, ...]) -> list[int]:
    return [signal.point + 1 for signal in signals]


def _chart(args: Args, **options: Any) -> sf.SubgroupChart:
    values = args.list("values")
    size = args.count("subgroup_size")
    out = [number in args.list("excluded") for number in range(1, len(values) // size + 1)] if "excluded" in args else None
    return sf.subgroup_chart(values, unit="", subgroup_size=size, excluded=out, **options)


@adapter("xbar_r_limits")
def _ranges(args: Args) -> dict[str, Any]:
    chart = _chart(args, sigma_multiple=args.number("sigma_multiple"))
    limits, spread, beyond, spread_beyond = (
        chart.limits,
        chart.spread_limits,
        _points(chart.signals),
        _points(chart.spread_signals),
    )
    if "A2" in args:
        factors = {"mean_factor": args.number("A2"), "lower_factor": args.number("D3"), "upper_factor": args.number("D4")}
        rounded = sf.subgroup_limits_from_averages(chart.center, chart.mean_spread, unit="", **factors)
        limits, spread = rounded.limits, rounded.spread_limits
        beyond = [int(i) + 1 for i in np.flatnonzero((chart.means < limits.lower) | (chart.means > limits.upper))]
        spread_beyond = [int(i) + 1 for i in np.flatnonzero((chart.spreads < spread.lower) | (chart.spreads > spread.upper))]
    return {
        "center": limits.center,
        "mean_range": chart.mean_spread,
        "sigma_within": chart.sigma_within,
        "lower": limits.lower,
        "upper": limits.upper,
        "range_lower": spread.lower,
        "range_upper": spread.upper,
        "beyond": beyond,
        "beyond_count": len(beyond),
        "range_beyond": spread_beyond,
    }


@adapter("xbar_s_limits")
def _sds(args: Args) -> dict[str, Any]:
    chart = _chart(args, spread="sd", sigma_multiple=args.number("sigma_multiple"))
    return {
        "center": chart.center,
        "mean_sd": chart.mean_spread,
        "sigma_within": chart.sigma_within,
        "lower": chart.limits.lower,
        "upper": chart.limits.upper,
        "sd_lower": chart.spread_limits.lower,
        "sd_upper": chart.spread_limits.upper,
        "sd_beyond": _points(chart.spread_signals),
    }


@adapter("within_sigma")
def _within(args: Args) -> dict[str, float]:
    return {"sigma_within": _chart(args, estimator=args.word("estimator")).sigma_within}


@adapter("xbar_r_limits_from_averages")
def _range_averages(args: Args) -> dict[str, float]:
    return _from_averages(args, "range", "A2", "D3", "D4")


@adapter("xbar_s_limits_from_averages")
def _sd_averages(args: Args) -> dict[str, float]:
    return _from_averages(args, "sd", "A3", "B3", "B4")


def _from_averages(args: Args, spread: str, mean: str, lower: str, upper: str) -> dict[str, float]:
    found = sf.subgroup_limits_from_averages(
        args.number("center"),
        args.number(f"mean_{spread}"),
        unit="",
        spread=spread,
        mean_factor=args.number(mean),
        lower_factor=args.number(lower),
        upper_factor=args.number(upper),
    )
    return {
        "lower": found.limits.lower,
        "upper": found.limits.upper,
        f"{spread}_lower": found.spread_limits.lower,
        f"{spread}_upper": found.spread_limits.upper,
    }


FILM = [2.11, 2.03, 2.14, 2.09, 2.16, 2.05, 2.08, 2.13, 2.04, 2.12, 2.02, 2.10, 2.06, 2.15, 2.11, 2.31, 2.38, 2.29]


def _units() -> dict[str, Any]:
    return {
        "film": [*FILM[:10], None, *FILM[11:]],
        "unit": ["U1"] * 3 + ["U2"] * 5 + ["U3"] * 4 + ["U4"] * 4 + ["U5"] * 2,
        "gun": ["A"] * 8 + ["B"] * 10,
        "at": np.arange("2026-03-02T06:00", "2026-03-02T15:00", 30, dtype="datetime64[m]"),
        "reworked": [False] * 8 + [True] * 4 + [False] * 6,
    }


def _unit_chart(**options: Any) -> sf.SubgroupChart:
    with pytest.warns(sf.MissingDataWarning):
        return sf.subgroup_chart(
            _units(), "film", unit="mil", subgroup="unit", excluded="reworked", point="unit average", missing="drop", **options
        )


def example_results() -> list[sf.SubgroupChart | sf.SubgroupLimits | sf.SubgroupSignals]:
    return [
        sf.subgroup_signals(FILM, unit="mil", subgroup_size=3, rules=sf.NELSON),
        sf.subgroup_signals(FILM, unit="mil", subgroup_size=3, center=2.1, sigma_within=0.02, keep_points=True),
        sf.subgroup_chart(FILM, unit="mil", subgroup_size=3, point="unit average", rules=sf.NELSON),
        sf.subgroup_chart(FILM, unit="mil", subgroup_size=9, spread="sd", sigma_multiple=2.0, estimator="pooled_sd"),
        sf.subgroup_chart([2.1, 2.3, 2.2, 2.4], unit="mil", subgroup_size=2, center=2.1, sigma_within=0.02),
        _unit_chart(time="at", period="gun", spread="sd"),
        _unit_chart(estimator="pooled_sd_c4"),
        sf.subgroup_limits_from_averages(2.10, 0.12, unit="mil", subgroup_size=5),
        sf.subgroup_limits_from_averages(33.32, 2.345, unit="", subgroup_size=5, spread="sd", mean_factor=1.427),
    ]


@pytest.mark.parametrize("given", [{}, {"center": 2.1, "sigma_within": 0.09}, {"center": 2.09, "sigma_multiple": 2.0}])
@pytest.mark.parametrize("keep_points", [False, True])
def test_signals_of_very_many_subgroups_are_those_of_the_chart(given: dict[str, float], keep_points: bool) -> None:
    values = np.random.default_rng(6).normal(2.1, 0.09, 5 * 70_000).round(2)
    chart = sf.subgroup_chart(values, unit="mil", subgroup_size=5, rules=sf.WESTERN_ELECTRIC, **given)
    for threads in (1, 2):
        found = sf.subgroup_signals(
            values, unit="mil", subgroup_size=5, rules=sf.WESTERN_ELECTRIC, keep_points=keep_points, threads=threads, **given
        )
        assert (found.limits, found.spread_limits) == (chart.limits, chart.spread_limits)
        for arrays, signals in ((found.signals, chart.signals), (found.spread_signals, chart.spread_signals)):
            assert arrays.point.tolist() == [signal.point for signal in signals]
            assert arrays.length.tolist() == [signal.length for signal in signals]
        words = found.made.options["rules"]
        assert [words[rule] for rule in found.signals.rule] == [signal.rule for signal in chart.signals]
        assert found.signals.point.size > 1000
        if keep_points:
            assert found.means is not None
            assert found.ranges is not None
            assert np.array_equal(found.means, chart.means)
            assert np.array_equal(found.ranges, chart.spreads)


def test_signals_refuse_what_they_cannot_use() -> None:
    values = np.full(10, 2.1)
    values[7] = np.nan
    with pytest.raises(sf.InvalidInputError, match=r"values\[7\] is not finite \(nan\)"):
        sf.subgroup_signals(values, unit="mil", subgroup_size=5)
    with pytest.raises(sf.InvalidInputError, match="no whole number of subgroups of 3"):
        sf.subgroup_signals(values, unit="mil", subgroup_size=3)
    with pytest.raises(sf.InvalidInputError, match="subgroup_size must be 2 or more"):
        sf.subgroup_signals(values, unit="mil", subgroup_size=1)


def test_readings_that_lie_askew_in_memory_are_copied() -> None:
    readings = np.frombuffer(bytearray(8 * 1000 + 1), dtype=np.float64, offset=1)
    readings[:] = np.random.default_rng(7).normal(2.1, 0.09, 1000)
    assert not readings.flags.aligned
    straight = readings.copy()
    options: dict[str, Any] = {"unit": "mil", "subgroup_size": 5}
    assert sf.subgroup_signals(readings, **options).to_dict() == sf.subgroup_signals(straight, **options).to_dict()
    assert sf.subgroup_chart(readings, **options).to_dict() == sf.subgroup_chart(straight, **options).to_dict()
    with pytest.raises(sf.InvalidInputError, match="values must be aligned in memory"):
        _core.summarize(readings)


ESTIMATORS = ["mean_range", "mean_sd", "pooled_sd", "pooled_sd_c4"]
estimators = pytest.mark.parametrize("estimator", ESTIMATORS)
grids = st.integers(2, 6).flatmap(
    lambda n: st.lists(st.lists(st.integers(-10_000, 10_000), min_size=n, max_size=n, unique=True), min_size=2, max_size=8)
)


@given(grids, st.sampled_from(ESTIMATORS), st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
def test_shift_and_scale_move_the_lines_alike(grid: list[list[int]], estimator: str, shift: float, scale: float) -> None:
    values = np.array(grid, dtype=float).ravel() / 100.0
    n = len(grid[0])
    one = sf.subgroup_chart(values, unit="mil", subgroup_size=n, estimator=estimator)
    two = sf.subgroup_chart(shift + scale * values, unit="um", subgroup_size=n, estimator=estimator)
    tolerance = 1e-11 * (abs(shift) + scale * 1e3)
    assert two.sigma_within == pytest.approx(scale * one.sigma_within, abs=tolerance)
    assert two.limits.upper == pytest.approx(shift + scale * one.limits.upper, abs=tolerance)
    assert two.spread_limits.upper == pytest.approx(scale * one.spread_limits.upper, abs=tolerance)


@given(grids, st.sampled_from(ESTIMATORS), st.randoms(use_true_random=False))
def test_order_inside_a_subgroup_and_order_of_subgroups_do_not_matter(grid: list[list[int]], estimator: str, random: Any) -> None:
    mixed = [random.sample(row, len(row)) for row in random.sample(grid, len(grid))]
    one, two = (
        sf.subgroup_chart(np.array(rows, dtype=float).ravel(), unit="", subgroup_size=len(grid[0]), estimator=estimator)
        for rows in (grid, mixed)
    )
    assert two.sigma_within == pytest.approx(one.sigma_within, rel=1e-13)
    assert two.center == pytest.approx(one.center, rel=1e-13, abs=1e-10)
    assert sorted(two.spreads) == pytest.approx(sorted(one.spreads), rel=1e-13)


def test_figures_are_those_of_numpy() -> None:
    values = np.random.default_rng(5).normal(2.1, 0.09, (40, 5))
    rows = sf.subgroup_chart(values.ravel(), unit="mil", subgroup_size=5)
    assert rows.means == pytest.approx(values.mean(axis=1), rel=1e-14)
    assert np.array_equal(rows.spreads, np.ptp(values, axis=1))
    sds = sf.subgroup_chart(values.ravel(), unit="mil", subgroup_size=5, spread="sd")
    assert sds.spreads == pytest.approx(values.std(axis=1, ddof=1), rel=1e-12)
    pooled = sf.subgroup_chart(values.ravel(), unit="mil", subgroup_size=5, estimator="pooled_sd")
    assert pooled.sigma_within == pytest.approx(np.sqrt(values.var(axis=1, ddof=1).mean()), rel=1e-12)
    assert pooled.degrees_of_freedom == 160.0


@estimators
def test_sigma_of_unequal_sizes_is_right_on_average_and_spreads_as_its_degrees_of_freedom_say(estimator: str) -> None:
    sizes = [2, 3, 5, 8, 3, 4, 2, 6]
    names = np.repeat([f"U{i}" for i in range(len(sizes))], sizes)
    random = np.random.default_rng(17)
    charts = [
        sf.subgroup_chart(random.normal(80.0, 2.0, names.size), unit="um", subgroup=names, estimator=estimator, rules=())
        for _ in range(3000)
    ]
    sigmas = np.array([chart.sigma_within for chart in charts])
    degrees = charts[0].degrees_of_freedom
    bias = sf.c4(degrees + 1) if estimator == "pooled_sd" else 1.0
    error = sigmas.std() / np.sqrt(sigmas.size)
    assert sigmas.mean() == pytest.approx(2.0 * bias, abs=4.0 * error)
    # Relative variance of a chi estimate: 1 / c4(nu + 1)^2 - 1; 3000 series show it to 2.6 % (one standard error).
    assert sigmas.var() / sigmas.mean() ** 2 == pytest.approx(1.0 / sf.c4(degrees + 1) ** 2 - 1.0, rel=0.1)


@pytest.mark.parametrize("spread", ["range", "sd"])
def test_three_sigma_lines_of_one_size_are_those_of_the_factors(spread: str) -> None:
    values = np.random.default_rng(6).normal(2.1, 0.09, 200)
    chart = sf.subgroup_chart(values, unit="mil", subgroup_size=8, spread=spread)
    again = sf.subgroup_limits_from_averages(chart.center, chart.mean_spread, unit="mil", subgroup_size=8, spread=spread)
    for mine, factors in ((chart.limits, again.limits), (chart.spread_limits, again.spread_limits)):
        assert (mine.lower, mine.upper) == pytest.approx((factors.lower, factors.upper), rel=1e-12)
    assert chart.spread_limits.lower > 0.0


def test_units_of_unequal_size_with_gaps_exclusions_and_times() -> None:
    chart = _unit_chart(time="at", period="gun", spread="sd")
    assert chart.sizes.tolist() == [3, 5, 3, 4, 2]
    assert chart.labels is not None
    assert chart.labels.tolist() == ["U1", "U2", "U3", "U4", "U5"]
    assert chart.takes_part.tolist() == [True, True, False, True, True]
    assert chart.break_before.tolist() == [False, False, True, False, False]
    assert chart.made.missing_rows == (11,)
    assert chart.made.options["excluded_subgroups"] == [3]
    assert chart.count == 14
    assert chart.center == pytest.approx(np.mean([*FILM[:8], *FILM[12:]]), rel=1e-14)
    assert chart.upper == pytest.approx(chart.center + 3 * chart.sigma_within / np.sqrt(chart.sizes), rel=1e-14)
    assert chart.nominal_size == 5
    assert chart.time is not None
    assert str(chart.time[2]) == "2026-03-02T10:00:00.000000"
    assert _points(chart.signals) == [5]
    assert "point 5 (U5) lies beyond the limits" in chart.sentence()
    assert "4 unit averages of 2 to 5 readings run" in chart.sentence()
    assert "for 5 readings" in chart.sentence()


def test_rules_act_on_each_average_in_its_own_sigma() -> None:
    # 0.9 is beyond 3 / sqrt(12), not beyond 3 / sqrt(2).
    values = [0.9] * 12 + [0.9] * 2
    chart = sf.subgroup_chart(values, unit="", subgroup=["a"] * 12 + ["b"] * 2, center=0.0, sigma_within=1.0)
    assert _points(chart.signals) == [1]
    assert chart.standardized == pytest.approx([0.9 * np.sqrt(12), 0.9 * np.sqrt(2)])


def test_a_pause_between_subgroups_is_a_gap() -> None:
    times = np.array(["2026-03-06T14:00", "2026-03-06T14:20", "2026-03-09T06:00", "2026-03-09T06:20"], dtype="datetime64[m]")
    chart = sf.subgroup_chart([2.1, 2.2, 2.0, 2.1], unit="mil", subgroup_size=2, time=times, longest_gap=timedelta(hours=12))
    assert chart.break_before.tolist() == [False, True]


def test_flags_may_stand_for_rows_or_for_subgroups() -> None:
    one = sf.subgroup_chart(FILM, unit="mil", subgroup_size=3, excluded=[False] * 5 + [True])
    two = sf.subgroup_chart(FILM, unit="mil", subgroup_size=3, excluded=[False] * 15 + [True] * 3)
    assert one == two
    assert one.signals == ()
    with pytest.raises(sf.InvalidInputError, match="subgroup 6 is excluded in some of its rows only"):
        sf.subgroup_chart(FILM, unit="mil", subgroup_size=3, excluded=[False] * 16 + [True] * 2)


def test_a_subgroup_without_any_reading_left_stays_in_place() -> None:
    with pytest.warns(sf.MissingDataWarning):
        chart = sf.subgroup_chart([2.1, 2.2, None, None, 2.0, 2.1], unit="mil", subgroup_size=2, missing="drop")
    assert chart.sizes.tolist() == [2, 0, 2]
    assert np.isnan(chart.means[1])
    assert np.isnan(chart.upper[1])
    assert not chart.takes_part[1]


def test_constant_data_is_an_answer_with_a_warning() -> None:
    with pytest.warns(sf.ConstantDataWarning, match="'film' in each subgroup are all equal"):
        chart = sf.subgroup_chart({"film": [0.1] * 6}, "film", unit="mil", subgroup_size=3)
    assert (chart.sigma_within, chart.limits.lower, chart.limits.upper) == (0.0, 0.1, 0.1)
    assert chart.sentence() == "2 subgroup averages of 3 readings are all 0.1 mil: there is no spread to set limits from."
    with pytest.warns(sf.ConstantDataWarning):
        steps = sf.subgroup_chart([0.1, 0.1, 0.3, 0.3], unit="mil", subgroup_size=2)
    assert _points(steps.signals) == [1, 2]


@pytest.mark.parametrize(
    ("values", "options", "message"),
    [
        ([2.1, float("nan")], {"subgroup_size": 2}, "row 2: reading is missing"),
        ([2.1, float("inf")], {"subgroup_size": 2}, "is not finite"),
        ([], {"subgroup_size": 2}, "there are no readings"),
        ([2.1, 2.2], {}, "give either subgroup_size or subgroup"),
        ([2.1, 2.2], {"subgroup_size": 2, "subgroup": ["a", "a"]}, "give either"),
        ([2.1, 2.2], {"subgroup_size": 1}, "subgroup_size must be 2 or more"),
        ([2.1, 2.2, 2.3], {"subgroup_size": 2}, "3 rows do not fill subgroups of 2: the last has 1"),
        ([2.1, 2.2, 2.3], {"subgroup": ["a", "b", "a"]}, "row 3, value a: comes back after other subgroups"),
        ([2.1, 2.2], {"subgroup": ["a", None]}, "row 2: label is missing"),
        ([2.1, 2.2], {"subgroup": ["a"]}, "subgroup has 1 rows, the readings have 2"),
        ([2.1, 2.2], {"subgroup": ["a", "b"]}, "single readings go to an individuals chart"),
        ([2.1, 2.2], {"subgroup_size": 2, "excluded": [True]}, "need two or more readings"),
        ([2.1, 2.2], {"subgroup_size": 2, "spread": "mad"}, "spread must be"),
        ([2.1, 2.2], {"subgroup_size": 2, "estimator": "mad"}, "estimator must be"),
        ([2.1, 2.2], {"subgroup_size": 2, "sigma_multiple": 0.0}, "sigma_multiple must be positive"),
        ([2.1, 2.2], {"subgroup_size": 2, "sigma_within": -1.0}, "sigma_within must be 0 or more"),
        ([1e308, 1.5e308], {"subgroup_size": 2}, "is not finite"),
        ([1e300, -1e300], {"subgroup_size": 2, "spread": "sd"}, "is not finite"),
    ],
)
def test_input_it_cannot_use_is_refused(values: list[float], options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        sf.subgroup_chart(values, unit="mil", **options)


def test_averages_alone_need_a_size_or_all_factors() -> None:
    with pytest.raises(sf.InvalidInputError, match="give subgroup_size, or all of"):
        sf.subgroup_limits_from_averages(2.1, 0.1, unit="mil", mean_factor=0.577)
    with pytest.raises(sf.InvalidInputError, match="mean_spread must be 0 or more"):
        sf.subgroup_limits_from_averages(2.1, -0.1, unit="mil", subgroup_size=5)
