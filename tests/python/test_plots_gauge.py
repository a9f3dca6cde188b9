"""Pictures of a gauge study as data: what is drawn, where, and that words stay inside the picture."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from gauge_shop import Shop, full_study, study_text
from steadyfilm.plots import Drawn
from steadyfilm.plots.gauge_rr import plot_appraisers, plot_deviations, plot_gauge_components
from steadyfilm.plots.gauge_windows import plot_accept_curves, plot_guard_bands, plot_measurability
from steadyfilm.plots.style import new_figure
from test_measurability import example_results, judged

WINDOW = sf.SpecLimits(3.1, 3.3)


@pytest.fixture(scope="module")
def found() -> sf.Measurability:
    return judged(full_study(), {"narrow": WINDOW, "total": sf.SpecLimits(3.0, 3.5)}, unit="mil")


@pytest.fixture(scope="module")
def study(found: sf.Measurability) -> sf.GaugeStudy:
    return found.studies[0].study


def table() -> np.ndarray[Any, Any]:
    """Readings of the full study by part, appraiser and trial, read from the file itself."""
    rows = [line.split(",") for line in full_study().splitlines()[1:]]
    return np.array([float(row[3]) for row in rows]).reshape(10, 3, 3)


def inside(drawn: Drawn) -> None:
    """Every text that is drawn lies within the figure."""
    renderer: Any = drawn.figure.canvas.get_renderer()  # type: ignore[attr-defined]  # the library's own canvas
    drawn.figure.draw(renderer)
    width, height = drawn.figure.get_size_inches() * drawn.figure.dpi
    for axes in drawn.axes.values():
        # Ticks beyond the limits are not drawn.
        (left, right), (low, high) = sorted(axes.get_xlim()), sorted(axes.get_ylim())
        ticks = [x for x in axes.get_xticklabels() if left <= x.get_position()[0] <= right]
        ticks += [x for x in axes.get_yticklabels() if low <= x.get_position()[1] <= high]
        for text in [*axes.texts, *ticks, axes.xaxis.label, axes.yaxis.label]:
            if text.get_text() and text.get_visible():
                box = text.get_window_extent(renderer)
                assert -1 <= box.x0 <= box.x1 <= width + 1, (text.get_text(), box.x0, box.x1, width)
                assert -1 <= box.y0 <= box.y1 <= height + 1, text.get_text()


def test_deviations_are_readings_less_the_mean_of_their_part(study: sf.GaugeStudy) -> None:
    drawn = plot_deviations(study, WINDOW)
    film = table()
    expected = film - film.mean(axis=(1, 2), keepdims=True)
    np.testing.assert_allclose(np.sort(drawn.data["deviation"]), np.sort(expected.ravel()), atol=1e-12)
    np.testing.assert_allclose(drawn.data["appraiser_mean"], expected.mean(axis=(0, 2)), atol=1e-12)
    assert drawn.data["half_window"] == pytest.approx([0.1])
    shown = np.concatenate([line.get_ydata() for line in drawn.artists["readings"]])
    np.testing.assert_allclose(np.sort(shown), np.sort(expected.ravel()), atol=1e-12)
    assert len({line.get_marker() for line in drawn.artists["readings"]}) == 3
    # No two marks of one appraiser stand at the same place from left to right.
    assert len(np.unique(drawn.data["x"])) == 90
    low, high = drawn.axes["deviations"].get_ylim()
    assert low < -0.1 < 0.1 < high
    assert "as wide as the window, 0.2 mil" in drawn.caption
    inside(drawn)


def test_a_window_of_one_limit_or_none_has_no_band(study: sf.GaugeStudy) -> None:
    for window in (sf.SpecLimits(lower=3.0), None):
        bare = sf.judge_gauge(study).study
        drawn = plot_deviations(bare, window)
        assert "window_band" not in drawn.artists
        assert np.isnan(drawn.data["half_window"]).all()
        assert "Outer band" not in drawn.caption


def test_appraisers_stand_at_their_difference_with_their_interval(study: sf.GaugeStudy) -> None:
    drawn = plot_appraisers(study, WINDOW)
    film = table()
    expected = film.mean(axis=(0, 2)) - film.mean()
    np.testing.assert_allclose(drawn.data["effect"], expected, atol=1e-12)
    assert [line.get_xdata()[0] for line in drawn.artists["means"]] == pytest.approx(expected.tolist())
    assert (drawn.data["lower"] < drawn.data["effect"]).all()
    assert (
        drawn.title
        == "Appraiser 1 reads 0.022 mil low, appraiser 3 reads 0.023 mil high against the mean of all, more than chance explains."
    )
    inside(drawn)
    with pytest.raises(ValueError, match="one appraiser took part"):
        plot_appraisers(example_results()[2].studies[0].study)


def test_components_are_bars_of_their_standard_deviation_and_the_window_allows_a_line(study: sf.GaugeStudy) -> None:
    drawn = plot_gauge_components(study, WINDOW)
    widths = [bar.get_width() for bar in drawn.artists["bars"]]
    # Known outside: repeat, appraiser, interaction, GRR, parts, total.
    assert widths == pytest.approx([0.03352, 0.02159, 0.01355, 0.04211, 0.19955, 0.20394], abs=6e-6)
    assert drawn.data["allowed"] == pytest.approx([0.3 * 0.2 / 6])
    assert [bar.get_hatch() for bar in drawn.artists["bars"]] == [None] * 4 + ["////"] * 2
    assert "not with a window" in drawn.title
    inside(drawn)


def test_shares_of_windows(found: sf.Measurability) -> None:
    drawn = plot_measurability(found)
    assert drawn.title == found.sentence()
    assert drawn.data["share"] == pytest.approx([1.263, 0.505], abs=5e-4)
    assert np.isnan(drawn.data["reached"][0])
    assert drawn.data["reached"][1] <= 0.3
    (single,) = drawn.artists["single"]
    assert single.get_xdata().tolist() == drawn.data["share"].tolist()
    assert len(drawn.artists["cut"][0].get_xdata()) == 1  # the interval of the narrow window goes on beyond
    inside(drawn)


@pytest.mark.parametrize("k", range(2))
def test_guard_bands_fill_what_is_clearly_in(found: sf.Measurability, k: int) -> None:
    answer = found.studies[0].windows[k]
    drawn = plot_guard_bands(answer, unit="mil")
    sure = [zone for zone in answer.zones if zone.accept is not None]
    assert len(drawn.artists["clearly_in"]) == len(sure)
    for bar, zone in zip(drawn.artists["clearly_in"], sure, strict=True):
        assert bar.get_width() == pytest.approx(zone.left)
        assert bar.get_x() == pytest.approx(answer.window.specification.lower + zone.guard)
    # Hatched on both sides of each limit, as wide as twice the guard.
    assert sum(bar.get_width() for bar in drawn.artists["open"]) == pytest.approx(sum(4 * zone.guard for zone in sure))
    assert [line.get_xdata()[0] for line in drawn.artists["window"]] == list(drawn.data["window"])
    inside(drawn)


def test_guard_bands_of_one_limit_and_of_none_clearly_in() -> None:
    least = example_results()[1].studies[0].windows[2]
    drawn = plot_guard_bands(least, unit="mil")
    assert "of the limit" in drawn.title
    assert np.isnan(drawn.data["left"]).all()
    tight = judged(full_study(), sf.SpecLimits(3.1, 3.15), unit="mil").studies[0].windows[0]
    drawn = plot_guard_bands(tight, unit="mil")
    assert drawn.artists["clearly_in"] == []
    assert drawn.title.startswith("3.10 to 3.15 mil: no verdict inside it is sure, neither from single readings")
    inside(drawn)


def test_curves_are_half_at_a_limit_and_told_apart_by_dashes(found: sf.Measurability) -> None:
    answer = found.studies[0].windows[1]
    drawn = plot_accept_curves(answer, unit="mil")
    names = [name for name in drawn.data if name.startswith("readings_")]
    assert names == ["readings_1_by_1", "readings_3_by_3", "readings_10_by_1"]
    for name in names:
        at_limit = np.interp(3.5, drawn.data["thickness"], drawn.data[name])
        assert at_limit == pytest.approx(0.5, abs=0.01)
    lines = drawn.artists["curves"]
    assert len({str(line.get_linestyle()) + str(line._unscaled_dash_pattern) for line in lines}) == 3
    assert "a film 0.05 mil outside is a miss, yet a single reading accepts it in 12 of 100 cases" in drawn.title
    inside(drawn)


def test_pictures_fit_into_axes_of_the_caller(found: sf.Measurability, study: sf.GaugeStudy) -> None:
    figure = new_figure(9.0, 14.0)
    axes = figure.subplots(6, 1)
    answer = found.studies[0].windows[0]
    drawn = [
        plot_measurability(found, ax=axes[0]),
        plot_deviations(study, WINDOW, ax=axes[1]),
        plot_appraisers(study, ax=axes[2]),
        plot_gauge_components(study, ax=axes[3]),
        plot_guard_bands(answer, unit="mil", ax=axes[4]),
        plot_accept_curves(answer, unit="mil", ax=axes[5]),
    ]
    assert all(one.figure is figure and not one.own_figure for one in drawn)
    assert all(math.isfinite(x) for x in drawn[1].data["deviation"])


def test_long_names_and_many_appraisers_stay_in_the_picture() -> None:
    people = ("Margarethe von der Halle", "WWWWWWWWWWWWWWWW", "Cy", "D", "Eve", "Fritz", "Gerd", "Heinrich der Große", "I")
    shop = Shop(appraisers=people, trials=2, appraiser_sd=1.0, repeat_sd=2.0)
    columns = sf.StudyColumns(**{key: shop.columns[key] for key in ("part", "appraiser", "trial", "value")})
    windows = {
        "a layer with a name that is far too long for a row": sf.SpecLimits(55.0, 75.0),
        "least": sf.SpecLimits(lower=50.0),
    }
    found = judged(study_text(shop), windows, columns=columns, unit="um", decimal=",", separator=";")
    one = found.studies[0]
    pictures = [
        plot_measurability(found),
        plot_deviations(one.study),
        plot_appraisers(one.study),
        plot_gauge_components(one.study),
    ]
    for answer in one.windows:
        pictures += [plot_guard_bands(answer, unit="um"), plot_accept_curves(answer, unit="um")]
    for drawn in pictures:
        inside(drawn)
    names = [text.get_text() for text in pictures[2].axes["appraisers"].get_yticklabels()]
    assert any(name.endswith("…") for name in names)
    assert len(pictures[1].artists["means"]) == len(people)
