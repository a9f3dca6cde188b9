"""EWMA chart: NIST's example, SciPy's filter and the monitor in pieces as oracles, shift and scale, breaks, refusals."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter


@adapter("ewma_limits")
def _ewma_limits(args: Args) -> dict[str, Any]:
    found = sf.ewma_chart(
        args.list("values"),
        unit="",
        smoothing=args.number("smoothing"),
        sigma_multiple=args.number("sigma_multiple"),
        center=args.number("center"),
        sigma_point=args.number("sigma_point"),
        limits=args.word("limits"),
    )
    return {
        "ewma": found.ewma,
        "lower": found.limits.lower,
        # The rows ask for one line of constant limits, or for `upper[i]` of varying ones.
        "upper": found.upper if args.word("limits") == "time_varying" else found.limits.upper,
        "signals": [signal.point + 1 for signal in found.signals],
    }


def _shifted() -> np.ndarray[Any, Any]:
    values = np.random.default_rng(4).normal(2.1, 0.08, 60)
    values[35:] += 0.11
    return values.round(3)


def example_results() -> list[sf.EwmaChart]:
    table = {
        "film": [2.11, 2.09, None, 2.14, 2.10, 2.32, 2.12, 2.10],
        "at": np.arange("2026-03-02T06:00", "2026-03-02T14:00", 60, dtype="datetime64[m]"),
        "batch": ["A1", "A1", "A1", "A1", "B7", "B7", "B7", "B7"],
        "touched_up": [False, False, False, False, False, False, False, True],
    }
    with pytest.warns(sf.MissingDataWarning):
        broken = sf.ewma_chart(
            table, "film", unit="mil", time="at", period="batch", excluded="touched_up", sigma_point=0.03, missing="drop"
        )
    return [
        sf.ewma_chart(_shifted(), unit="mil", point="unit average", center=2.1),
        sf.ewma_chart(_shifted()[:30], unit="mil", limits="asymptotic", smoothing=0.4),
        sf.ewma_chart([2.1, 2.3], unit="mil", center=2.0, sigma_point=0.0),
        broken,
    ]


finite = st.floats(-1e3, 1e3, allow_nan=False).map(lambda x: round(x, 4))
series = st.lists(finite, min_size=3, max_size=40).filter(lambda xs: len(set(xs)) > 2)
smoothings = st.sampled_from([0.05, 0.2, 0.3, 0.75, 1.0])


@given(series, smoothings, st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
def test_shift_and_scale_move_the_course_alike(values: list[float], smoothing: float, shift: float, scale: float) -> None:
    one = sf.ewma_chart(values, unit="mil", smoothing=smoothing)
    two = sf.ewma_chart([shift + scale * value for value in values], unit="um", smoothing=smoothing)
    tolerance = 1e-10 * (abs(shift) + scale * 1e3)
    assert two.ewma == pytest.approx(shift + scale * one.ewma, abs=tolerance)
    assert two.upper == pytest.approx(shift + scale * one.upper, abs=tolerance)
    assert two.lower == pytest.approx(shift + scale * one.lower, abs=tolerance)


@given(series, smoothings)
def test_the_course_is_that_of_scipys_linear_filter(values: list[float], smoothing: float) -> None:
    from scipy import signal

    chart = sf.ewma_chart(values, unit="", smoothing=smoothing, center=1.0, sigma_point=2.0)
    filtered, _ = signal.lfilter([smoothing], [1.0, smoothing - 1.0], np.array(values) - 1.0, zi=[0.0])
    assert chart.ewma == pytest.approx(1.0 + filtered, abs=1e-10)


@given(st.data(), smoothings)
def test_a_monitor_that_gets_the_series_in_pieces_gives_the_same_bits(data: st.DataObject, smoothing: float) -> None:
    values = _shifted()
    takes_part = np.ones(values.size, dtype=bool)
    breaks = np.zeros(values.size, dtype=bool)
    takes_part[data.draw(st.lists(st.integers(0, values.size - 1), max_size=8))] = False
    breaks[data.draw(st.lists(st.integers(1, values.size - 1), max_size=3))] = True
    cuts = sorted({0, values.size, *data.draw(st.lists(st.integers(0, values.size), max_size=4))})
    chart = sf.ewma_chart(
        values,
        unit="mil",
        smoothing=smoothing,
        center=2.1,
        sigma_point=0.09,
        excluded=~takes_part,
        period=np.cumsum(breaks),
        sigma_multiple=2.86,
        limits="asymptotic",
    )
    limits = sf.MonitorLimits(2.1, 0.09, rules=(), smoothing=smoothing, ewma_multiple=2.86, mark_every_signal=True)
    state = None
    pieces = []
    for start, end in pairwise(cuts):
        piece = slice(start, end)
        points = sf.monitor_points(values[piece], unit="mil", excluded=~takes_part[piece], break_before=breaks[piece])
        found = sf.monitor(limits, state, points)
        state = found.state
        pieces.append(found.ewma)
    assert np.concatenate(pieces).tobytes() == chart.standardized_ewma.tobytes()


def test_sigma_and_center_are_those_of_the_individuals_chart() -> None:
    values = _shifted()
    single, chart = sf.individuals_chart(values, unit="mil"), sf.ewma_chart(values, unit="mil", smoothing=1.0)
    assert (chart.sigma_point, chart.center, chart.degrees_of_freedom) == (
        single.sigma_within,
        single.center,
        single.degrees_of_freedom,
    )
    assert chart.ewma == pytest.approx(values, rel=1e-14)
    assert chart.limits == single.limits


def test_gaps_carry_the_course_and_periods_restart_it() -> None:
    chart = example_results()[3]
    assert chart.takes_part.tolist() == [True, True, False, True, True, True, True, False]
    assert chart.ewma[2] == chart.ewma[1]
    assert chart.upper[2] == chart.upper[1]
    assert chart.ewma[7] == chart.ewma[6]
    assert chart.ewma[4] == pytest.approx(0.2 * 2.10 + 0.8 * chart.center, rel=1e-14)
    assert chart.upper[4] == chart.upper[0]
    assert chart.made.missing_rows == (3,)
    assert chart.made.options["excluded_rows"] == [8]
    times = np.array(["2026-03-06T14:00", "2026-03-06T14:20", "2026-03-09T06:00"], dtype="datetime64[m]")
    paused = sf.ewma_chart([2.1, 2.2, 2.0], unit="mil", time=times, longest_gap=timedelta(hours=12))
    assert paused.break_before.tolist() == [False, False, True]


def test_a_small_lasting_shift_is_found_and_dated() -> None:
    chart = example_results()[0]
    assert chart.signals
    assert all(signal.side == "above" and signal.point >= 35 for signal in chart.signals)
    first = chart.signals[0]
    assert chart.ewma[first.point - first.length] <= 2.1 < chart.ewma[first.point - first.length + 1]
    assert (
        f"first above at point {first.point + 1}, high since point {first.point - first.length + 2}; it ends at"
        in chart.sentence()
    )
    single = sf.individuals_chart(_shifted(), unit="mil", center=2.1)
    assert all(first.point < signal.point for signal in single.signals)


def test_a_quiet_course_says_so() -> None:
    # NIST/SEMATECH e-Handbook 6.3.2.4
    data = "52 47 53 49.3 50.1 47 51 50.1 51.2 50.5 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
    values = [float(word) for word in data.split()]
    chart = sf.ewma_chart(values, unit="", smoothing=0.3, center=50.0, sigma_point=2.0539, limits="asymptotic")
    quiet = "The EWMA (smoothing 0.3) of 20 readings stays within its limits of 47.4 to 52.6"
    assert chart.sentence() == f"{quiet}; it ends at 52.0 against a center of 50.0."


def test_constant_data_is_an_answer_with_a_warning() -> None:
    with pytest.warns(sf.ConstantDataWarning, match="neighbors in 'film' are all equal"):
        chart = sf.ewma_chart({"film": [2.1] * 6}, "film", unit="mil")
    assert (chart.sigma_point, chart.limits.lower, chart.limits.upper) == (0.0, 2.1, 2.1)
    assert chart.signals == ()
    assert chart.sentence() == "All 6 readings are 2.1 mil: there is no spread to set limits from."


@pytest.mark.parametrize(
    ("values", "options", "message"),
    [
        ([2.1, float("nan")], {}, "row 2: reading is missing"),
        ([2.1, float("inf")], {}, "is not finite"),
        ([], {}, "needs at least 1"),
        ([2.1], {}, "hold no 2 neighbors without a break; give sigma_point"),
        ([2.1, 2.2], {"smoothing": 0.0}, "smoothing must lie above 0 and not above 1"),
        ([2.1, 2.2], {"smoothing": 1.5}, "smoothing must lie above 0"),
        ([2.1, 2.2], {"sigma_multiple": 0.0}, "sigma_multiple must be positive"),
        ([2.1, 2.2], {"sigma_point": -0.1}, "sigma_point must be 0 or more"),
        ([2.1, 2.2], {"center": float("inf")}, "center is not finite"),
        ([2.1, 2.2], {"limits": "wide"}, "limits must be 'time_varying' or 'asymptotic'"),
        ([1e308, -1e308, 1e308], {}, "is not finite"),
        ([1.7e308, 1.7e308], {"center": -1e308, "sigma_point": 1.0}, "is not finite"),
    ],
)
def test_input_it_cannot_use_is_refused(values: list[float], options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        sf.ewma_chart(values, unit="mil", **options)
