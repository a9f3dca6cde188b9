"""Moments: against exact rational arithmetic, under shift and scale, and what they refuse."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter


@adapter("univariate_summary")
def _univariate(args: Args) -> dict[str, float]:
    found = sf.summarize(args.list("values"), unit="")
    return {"mean": found.mean, "sd": found.sd, "lag1_autocorrelation": found.lag1_autocorrelation}


def example_results() -> list[sf.Summary]:
    return [sf.summarize([2.11, 2.07, 2.14, 2.09], unit="mil"), sf.summarize([3.2], unit="mil")]


@given(
    st.lists(st.floats(-1e3, 1e3, allow_nan=False), min_size=2, max_size=60),
    st.sampled_from([0.0, 1e6, 1e12]),
)
def test_mean_and_squares_equal_exact_rational_arithmetic_to_14_digits(values: list[float], offset: float) -> None:
    moved = [offset + value for value in values]
    exact = [Fraction(value) for value in moved]
    mean = sum(exact) / len(exact)
    squares = float(sum((x - mean) ** 2 for x in exact))
    found = sf.summarize(moved, unit="mil")
    assert found.mean == pytest.approx(float(mean), rel=5e-15, abs=1e-300)
    assert found.sum_squares == pytest.approx(squares, rel=5e-15, abs=1e-300)


@pytest.mark.parametrize("scale", [0.001, 25.4])
def test_spread_scales_and_shape_stays(scale: float) -> None:
    base = np.random.default_rng(7).normal(2.1, 0.09, 200)
    one, two = sf.summarize(base, unit="mil"), sf.summarize(base * scale, unit="um")
    assert two.sd == pytest.approx(scale * one.sd, rel=1e-12)
    assert two.skewness == pytest.approx(one.skewness, rel=1e-9)


def test_shape_figures_agree_with_scipy() -> None:
    from scipy import stats

    values = np.random.default_rng(3).gamma(3.0, 1.0, 500)
    found = sf.summarize(values, unit="mil")
    assert found.skewness == pytest.approx(stats.skew(values), rel=1e-12)
    assert found.excess_kurtosis == pytest.approx(stats.kurtosis(values), rel=1e-12)


def test_missing_readings_are_refused_or_counted() -> None:
    with pytest.raises(sf.DataProblemsError, match=r"column 'film', row 2: reading is missing"):
        sf.summarize({"film": [2.1, None, 2.2]}, "film", unit="mil")
    with pytest.warns(sf.MissingDataWarning):
        found = sf.summarize({"film": [2.1, math.nan, 2.2]}, "film", unit="mil", missing="drop")
    assert found.made.missing_rows == (2,)
    assert found.count == 2


def test_a_wrong_column_name_shows_the_nearest() -> None:
    with pytest.raises(sf.DataProblemsError, match="nearest names: 'thickness'"):
        sf.summarize({"thickness": [1.0], "unit": ["a"]}, "thicknes", unit="mil")


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ([3.2], "A single reading of 3.2 mil, which tells nothing about spread."),
        ([2.1, 2.1, 2.1], "All 3 readings are 2.1 mil: there is no spread."),
        # Mean 2.1025 and sd 0.02986 by hand: squares of 0.0075, 0.0325, 0.0375, 0.0125 sum to 0.002675.
        (
            [2.11, 2.07, 2.14, 2.09],
            "4 readings average 2.1025 mil with standard deviation 0.0299 mil, from 2.070 mil to 2.140 mil.",
        ),
        (
            [1e12, 1e12 + 2.0],
            "2 readings average 1000000000001.00 mil with standard deviation 1.41 mil, from 1000000000000.0 mil",
        ),
    ],
)
def test_the_sentence_has_the_digits_that_the_spread_can_carry(values: list[float], sentence: str) -> None:
    told = sf.summarize(values, unit="mil").sentence()
    assert told.startswith(sentence)
