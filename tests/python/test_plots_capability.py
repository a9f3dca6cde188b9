"""The histogram: where its bars end, what it counts as outside, and what it says."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from steadyfilm.limits import SpecLimits
from steadyfilm.plots._bins import make_bins
from steadyfilm.plots.capability import draw_histogram

WINDOW = SpecLimits(2.0, 2.2, 2.1)


def test_width_follows_freedman_and_diaconis() -> None:
    """Freedman and Diaconis, Z. Wahrscheinlichkeitstheorie verw. Gebiete 57 (1981) 453: 2 IQR n^(-1/3), here 2 * 499.5 / 10."""
    bins = make_bins(np.arange(1000.0))
    assert bins.width == pytest.approx(99.9)
    assert bins.rule == "rule of Freedman and Diaconis"
    assert bins.width == pytest.approx(np.diff(np.histogram_bin_edges(np.arange(1000.0), "fd"))[0], rel=0.1)


@given(st.lists(st.floats(1.5, 2.7), min_size=1, max_size=80), st.sampled_from([(2.0, 2.2), (2.0, None), (None, 2.2)]))
def test_bars_hold_every_value_once_and_none_straddles_a_limit(
    values: list[float], limits: tuple[float | None, float | None]
) -> None:
    lower, upper = limits
    numbers = np.array([*values, *(limit for limit in limits if limit is not None)])
    bins = make_bins(numbers, window=SpecLimits(lower, upper))
    assert bins.counts.sum() == numbers.size
    below = 0 if lower is None else int((numbers < lower).sum())
    above = 0 if upper is None else int((numbers > upper).sum())
    assert bins.counts[bins.outside].sum() == below + above


@given(st.lists(st.integers(150, 270), min_size=2, max_size=80))
def test_with_a_gauge_step_bars_hold_whole_steps(steps: list[int]) -> None:
    values = np.array(steps) / 100
    bins = make_bins(values, window=WINDOW, resolution=0.01, unit="mil")
    assert bins.counts.sum() == values.size
    in_steps = bins.width / 0.01
    assert in_steps == pytest.approx(round(in_steps))
    half = bins.edges / 0.01 - 0.5
    np.testing.assert_allclose(half, np.round(half), atol=1e-6)
    whole = 21 % round(in_steps) == 0
    if whole:
        assert bins.counts[bins.outside].sum() == sum(step < 200 or step > 220 for step in steps)


def test_title_says_the_share_outside_and_what_the_curve_expects() -> None:
    values = [1.9, 1.95, 2.0, 2.1, 2.1, 2.2, 2.3]
    drawn = draw_histogram(
        values, unit="mil", window=WINDOW, mean=2.08, sd=0.13, things="unit", expected_below=0.27, expected_above=0.18
    )
    assert (
        drawn.title == "3 of 7 units (43 %) lie outside 2.0 to 2.2 mil: 2 below, 1 above; the fitted normal curve expects 45 %."
    )
    assert drawn.data["below_above"].tolist() == [2, 1]
    assert drawn.axes["histogram"].get_xlabel() == "value (mil)"
    assert drawn.axes["histogram"].get_ylabel() == "units per bar"
    words = [text.get_text() for text in drawn.artists["line_labels"]]
    assert sorted(words) == ["aim 2.1", "mean 2.08", "window from 2.0", "window to 2.2"]
    assert drawn.caption.endswith("mil wide (rule of Freedman and Diaconis).")


def test_limits_compare_exactly() -> None:
    drawn = draw_histogram([2.0, 2.2, np.nextafter(2.2, 3)], unit="mil", window=WINDOW, mean=2.1, sd=0.1)
    assert drawn.data["below_above"].tolist() == [0, 1]


def test_the_curve_is_the_normal_density_scaled_to_counts() -> None:
    from scipy import stats

    drawn = draw_histogram(np.linspace(1.9, 2.3, 50), unit="mil", window=WINDOW, mean=2.1, sd=0.11, sd_within=0.08)
    width = np.diff(drawn.data["edges"])[0]
    for name, sd in (("curve", 0.11), ("curve_within", 0.08)):
        expected = 50 * width * stats.norm.pdf(drawn.data["curve_x"], 2.1, sd)
        np.testing.assert_allclose(drawn.data[name], expected, rtol=1e-12)
        np.testing.assert_array_equal(drawn.artists[name][0].get_ydata(), drawn.data[name])
    styles = [drawn.artists[name][0].get_linestyle() for name in ("curve", "curve_within")]
    assert styles == ["-", "--"]


def test_bars_outside_differ_by_hatching() -> None:
    drawn = draw_histogram([1.8, 2.05, 2.1, 2.15, 2.5], unit="mil", window=WINDOW, mean=2.1, sd=0.2)
    assert {bar.get_hatch() for bar in drawn.artists["bars_outside"]} == {"////"}
    assert {bar.get_hatch() for bar in drawn.artists["bars"]} == {None}


def test_one_value_and_equal_values_are_drawn() -> None:
    drawn = draw_histogram([2.1] * 4, unit="mil", window=WINDOW, mean=2.1, sd=0.0)
    assert drawn.data["counts"].tolist() == [4]
    assert drawn.title == "None of 4 values lies outside 2.0 to 2.2 mil."
    assert "curve" not in drawn.artists
    assert draw_histogram([2.1], unit="mil", mean=2.1, sd=0.1).title == "1 value, with no window to judge them by."


def test_a_far_value_does_not_make_thousands_of_bars() -> None:
    values = np.append(np.random.default_rng(1).normal(3.2, 0.1, 200), 81.0)
    assert len(draw_histogram(values, unit="mil", window=SpecLimits(3.0, 3.5), mean=3.2, sd=0.1).data["counts"]) <= 241


def test_what_is_no_list_of_numbers_is_refused() -> None:
    for bad in ([], [np.nan], [[1.0]]):
        with pytest.raises(ValueError, match="list of finite numbers"):
            draw_histogram(bad, unit="mil", mean=0.0, sd=1.0)


def test_words_at_a_line_near_the_edge_stay_clear_of_the_numbers_beside_the_axes() -> None:
    values = np.random.default_rng(5).normal(70.6, 2.3, 110)
    drawn = draw_histogram(values, unit="um", window=SpecLimits(60.0, 81.0), mean=70.6, sd=2.3)
    axes = drawn.axes["histogram"]
    drawn.figure.canvas.draw()
    frame = axes.get_window_extent()
    numbers = [label.get_window_extent() for label in axes.get_yticklabels() if label.get_text()]
    assert len(numbers) > 2
    for words in drawn.artists["line_labels"]:
        box = words.get_window_extent()
        assert frame.x0 <= box.x0
        assert box.x1 <= frame.x1
        assert not any(box.overlaps(number) for number in numbers)
