"""Individuals chart: NIST's flow rates, SciPy and simulation as oracles, shift and scale, breaks, refusals."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter

FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]  # NIST/SEMATECH e-Handbook 6.3.2.2


def _points(signals: tuple[sf.Signal, ...]) -> list[int]:
    return [signal.point + 1 for signal in signals]


@adapter("individuals_limits")
def _from_data(args: Args) -> dict[str, Any]:
    found = sf.individuals_chart(
        args.list("values"),
        unit="",
        span=args.count("span"),
        estimator=args.word("estimator"),
        sigma_multiple=args.number("sigma_multiple"),
        divisor=args.optional("d2"),
    )
    return {
        "center": found.center,
        "lower": found.limits.lower,
        "upper": found.limits.upper,
        "sigma_within": found.sigma_within,
        "mean_moving_range": found.mean_moving_range,
        "median_moving_range": found.median_moving_range,
        "moving_range_upper": found.moving_range_limits.upper,
        "beyond": _points(found.signals),
        "moving_range_beyond": _points(found.moving_range_signals),
    }


@adapter("individuals_limits_from_averages")
def _from_averages(args: Args) -> dict[str, float]:
    found = sf.individuals_limits_from_averages(
        args.number("center"),
        args.number("mean_moving_range"),
        unit="",
        sigma_multiple=args.number("sigma_multiple"),
        divisor=args.optional("d2"),
    )
    return {"lower": found.limits.lower, "upper": found.limits.upper}


def _unit_averages() -> np.ndarray[Any, Any]:
    values = np.random.default_rng(12).normal(2.1, 0.087, 46).round(3)
    values[[11, 30, 44]] += [0.45, -0.5, 0.4]
    return values


def example_results() -> list[sf.IndividualsChart | sf.IndividualsLimits]:
    table = {
        "film": [2.11, 2.09, None, 2.14, 2.10, 2.52, 2.12, 2.10],
        "at": np.arange("2026-03-02T06:00", "2026-03-02T14:00", 60, dtype="datetime64[m]"),
        "batch": ["A1", "A1", "A1", "A1", "B7", "B7", "B7", "B7"],
        "touched_up": [False, False, False, False, False, False, True, False],
    }
    with pytest.warns(sf.MissingDataWarning):
        broken = sf.individuals_chart(
            table, "film", unit="mil", time="at", period="batch", excluded="touched_up", sigma_within=0.03, missing="drop"
        )
    return [
        sf.individuals_chart(_unit_averages(), unit="mil", point="unit average", rules=sf.WESTERN_ELECTRIC),
        sf.individuals_chart(FLOW_RATES, unit="", estimator="median_moving_range", span=3, sigma_multiple=2.5),
        sf.individuals_chart([2.1, 2.3], unit="mil", center=2.0, sigma_within=0.0),
        broken,
        sf.individuals_limits_from_averages(50.81, 1.8778, unit="gpm", divisor=1.128),
    ]


finite = st.floats(-1e3, 1e3, allow_nan=False).map(lambda x: round(x, 4))
series = st.lists(finite, min_size=3, max_size=40).filter(lambda xs: len(set(xs)) > 2)


@given(series, st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
@pytest.mark.filterwarnings("ignore::steadyfilm.ConstantDataWarning")
def test_shift_and_scale_move_the_lines_alike(values: list[float], shift: float, scale: float) -> None:
    one = sf.individuals_chart(values, unit="mil")
    two = sf.individuals_chart([shift + scale * value for value in values], unit="um")
    tolerance = 1e-11 * (abs(shift) + scale * (1e3 + one.sigma_within))
    assert two.sigma_within == pytest.approx(scale * one.sigma_within, abs=tolerance)
    assert two.limits.upper == pytest.approx(shift + scale * one.limits.upper, abs=tolerance)
    assert two.limits.lower == pytest.approx(shift + scale * one.limits.lower, abs=tolerance)
    assert two.moving_range_limits.upper == pytest.approx(scale * one.moving_range_limits.upper, abs=tolerance)


@given(series)
@pytest.mark.filterwarnings("ignore::steadyfilm.ConstantDataWarning")
def test_the_same_series_backwards_has_the_same_limits(values: list[float]) -> None:
    one, two = sf.individuals_chart(values, unit=""), sf.individuals_chart(values[::-1], unit="")
    assert two.sigma_within == pytest.approx(one.sigma_within, rel=1e-12)
    assert two.center == pytest.approx(one.center, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("span", [2, 3, 5, 8])
def test_moving_ranges_are_those_of_numpy_windows(span: int) -> None:
    values = np.random.default_rng(span).normal(2.1, 0.09, 50)
    found = sf.individuals_chart(values, unit="mil", span=span)
    windows = np.lib.stride_tricks.sliding_window_view(values, span)
    assert np.isnan(found.moving_range[: span - 1]).all()
    assert np.array_equal(found.moving_range[span - 1 :], np.ptp(windows, axis=1))
    assert found.median_moving_range == np.median(np.ptp(windows, axis=1))
    assert found.moving_range_limits.lower == max(0.0, found.mean_moving_range - 3 * found.range_sd_factor * found.sigma_within)


@pytest.mark.parametrize("span", [2, 3, 4, 5, 7, 10])
def test_the_median_divisor_is_the_median_of_the_studentized_range(span: int) -> None:
    from scipy import stats

    values = np.random.default_rng(1).normal(size=40)
    found = sf.individuals_chart(values, unit="", span=span, estimator="median_moving_range")
    # With endless degrees of freedom the studentized range is the range of standard normal values.
    assert stats.studentized_range.cdf(found.divisor, span, 1e9) == pytest.approx(0.5, abs=1e-7)


@pytest.mark.parametrize("estimator", ["mean_moving_range", "median_moving_range"])
@pytest.mark.parametrize("span", [2, 4])
def test_degrees_of_freedom_match_the_spread_of_sigma_in_simulated_series(estimator: str, span: int) -> None:
    if (estimator, span) == ("median_moving_range", 4):
        assert np.isnan(sf.individuals_chart(FLOW_RATES, unit="", span=4, estimator=estimator).degrees_of_freedom)
        return
    draws = np.random.default_rng(99).normal(size=(8000, 60))
    windows = np.lib.stride_tricks.sliding_window_view(draws, span, axis=1)
    average = np.mean if estimator == "mean_moving_range" else np.median
    sigmas = average(np.ptp(windows, axis=2), axis=1)
    relative = sigmas.var() / sigmas.mean() ** 2
    found = sf.individuals_chart(draws[0], unit="", span=span, estimator=estimator)
    # The relative variance of a chi estimate is nearly 1 / (2 nu); 8000 series show it to 1.6 % (one standard error).
    assert 1.0 / (2.0 * found.degrees_of_freedom) == pytest.approx(relative, rel=0.06)


def test_breaks_and_left_out_rows_are_kept_in_place() -> None:
    chart = example_results()[3]
    assert isinstance(chart, sf.IndividualsChart)
    assert chart.takes_part.tolist() == [True, True, False, True, True, True, False, True]
    assert np.flatnonzero(chart.break_before).tolist() == [4]
    assert np.flatnonzero(~np.isnan(chart.moving_range)).tolist() == [1, 5]
    assert chart.made.missing_rows == (3,)
    assert chart.made.options["excluded_rows"] == [7]
    assert [signal.point for signal in chart.signals] == [5]
    assert "point 6 (2026-03-02 11:00)" in chart.sentence()
    assert "excluded 7; missing 3" in str(chart.explain())


def test_a_long_pause_is_a_gap() -> None:
    times = np.array(["2026-03-06T14:00", "2026-03-06T14:20", "2026-03-09T06:00"], dtype="datetime64[m]")
    chart = sf.individuals_chart([2.1, 2.2, 2.0], unit="mil", time=times, longest_gap=timedelta(hours=12))
    assert chart.break_before.tolist() == [False, False, True]
    assert chart.moving_range_count == 1
    with pytest.raises(sf.InvalidInputError, match="longest_gap needs time"):
        sf.individuals_chart([2.1, 2.2, 2.0], unit="mil", longest_gap=timedelta(hours=12))


def test_the_limit_rule_follows_the_multiple_and_zone_rules_stay() -> None:
    values = [0.0, 2.8, 0.0, 0.0, 1.5, 1.5]
    chart = sf.individuals_chart(values, unit="", center=0.0, sigma_within=1.0, sigma_multiple=2.5, rules=sf.WESTERN_ELECTRIC)
    assert [(signal.point, signal.rule) for signal in chart.signals] == [(1, "1of1_beyond2.5_one")]
    wide = sf.individuals_chart(values, unit="", center=0.0, sigma_within=1.0, rules=sf.WESTERN_ELECTRIC)
    assert wide.signals == ()


def test_a_point_on_the_limit_is_inside() -> None:
    chart = sf.individuals_chart([2.4, 2.4000001], unit="mil", center=2.1, sigma_within=0.1)
    assert [signal.point for signal in chart.signals] == [1]


def test_sentences_say_what_happened_in_shop_words() -> None:
    chart = example_results()[0]
    assert isinstance(chart, sf.IndividualsChart)
    lines = f"at {chart.center:.3f} mil with limits {chart.limits.lower:.2f} to {chart.limits.upper:.2f} mil"
    assert chart.sentence().startswith(f"46 unit averages run {lines}; 3 points lie beyond the limits, first at point 12;")
    quiet = sf.individuals_chart(FLOW_RATES, unit="gpm")
    assert quiet.sentence() == "10 readings run at 50.81 gpm with limits 45.8 to 55.8 gpm; no point lies beyond the limits."


def test_constant_data_is_an_answer_with_a_warning() -> None:
    with pytest.warns(sf.ConstantDataWarning, match="all values of 'film' are equal"):
        chart = sf.individuals_chart({"film": [2.1] * 6}, "film", unit="mil")
    assert (chart.sigma_within, chart.limits.lower, chart.limits.upper) == (0.0, 2.1, 2.1)
    assert chart.signals == ()
    assert chart.sentence() == "All 6 readings are 2.1 mil: there is no spread to set limits from."
    with pytest.warns(sf.ConstantDataWarning, match="rounded too coarsely"):
        coarse = sf.individuals_chart([2.1] * 6 + [2.2], unit="mil", estimator="median_moving_range")
    assert _points(coarse.signals) == [1, 2, 3, 4, 5, 6, 7]


@pytest.mark.parametrize(
    ("values", "options", "message"),
    [
        ([2.1, float("nan")], {}, "row 2: reading is missing"),
        ([2.1, float("inf")], {}, "is not finite"),
        ([], {}, "needs at least 1"),
        ([2.1], {}, "there is no moving range; give sigma_within"),
        ([2.1, 2.2], {"span": 1}, "span must be 2 or more"),
        ([2.1, 2.2], {"span": 3}, "no 3 neighbors"),
        ([2.1, 2.2], {"estimator": "mode"}, "estimator must be"),
        ([2.1, 2.2], {"sigma_multiple": -3.0}, "sigma_multiple must be positive"),
        ([2.1, 2.2], {"sigma_within": float("nan")}, "sigma_within must be 0 or more"),
        ([1e308, -1e308, 1e308], {}, "is not finite"),
        ([2.1, 2.2], {"excluded": [True, "no"]}, "is neither true nor false"),
        ([2.1, 2.2], {"excluded": [True]}, "excluded has 1 rows, the readings have 2"),
        ([2.1, 2.2], {"time": ["2026-03-02", "2026-03-01"]}, "lies before the row above it"),
        ([2.1, 2.2], {"time": ["2026-03-02", None]}, "time is missing"),
    ],
)
def test_input_it_cannot_use_is_refused(values: list[float], options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        sf.individuals_chart(values, unit="mil", **options)
