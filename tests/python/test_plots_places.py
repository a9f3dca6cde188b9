"""Thickness by place: every spot once, outside ones told apart, and words that say which place is thin."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from steadyfilm._review.conformance import spot_limits
from steadyfilm.limits import SpecLimits
from steadyfilm.plots.places import draw_places

WINDOW = SpecLimits(2.0, 2.2)
FILM = np.array([[1.9, 2.1, 2.3], [2.0, 2.2, np.nan], [2.05, 2.15, 2.25]])
PLACES = ["door", "roof", "sill"]


def test_marks_are_the_spots_inside_and_outside_apart() -> None:
    drawn = draw_places(FILM, PLACES, unit="mil", window=WINDOW, things="body")
    inside = [sorted(marks.get_offsets()[:, 1].tolist()) for marks in drawn.artists["inside"]]
    outside = [sorted(marks.get_offsets()[:, 1].tolist()) for marks in drawn.artists["outside"]]
    assert inside == [[2.0, 2.05], [2.1, 2.15, 2.2], []]
    assert outside == [[1.9], [2.25, 2.3]]
    assert drawn.data["below"].tolist() == [1, 0, 0]
    assert drawn.data["above"].tolist() == [0, 0, 2]
    assert (
        drawn.title
        == "Thinnest at door (1.983 mil), thickest at sill (2.275 mil); 3 of 8 spots (38 %) lie outside 2.0 to 2.2 mil."
    )
    assert "Each mark is one body" in drawn.caption
    # In order of production: the second body right of the first, the third right of it.
    x = drawn.artists["inside"][1].get_offsets()[:, 0]
    assert np.all(np.diff(x) > 0)


def test_verdicts_give_mean_interval_and_shares() -> None:
    drawn = draw_places(FILM, PLACES, unit="mil", window=WINDOW, error=[0.19, 0.12, 0.32])
    words = [text.get_text() for text in drawn.artists["verdicts"]]
    assert words[0] == "1.98 ± 0.19\n33 % below"
    assert words[1] == "2.15 ± 0.12\nall inside"
    assert words[2] == "2.27 ± 0.32\n100 % above"


def test_limits_of_a_place_are_drawn_where_they_are_near_and_unlike_the_window() -> None:
    drawn = draw_places(FILM, PLACES, unit="mil", window=WINDOW, spot_limits=SpecLimits(1.8, 9.0))
    words = [x.get_text() for x in drawn.artists["lines"] if hasattr(x, "get_text")]
    assert words == ["window from 2.0", "window to 2.2", "place from 1.8"]
    dashes = {line.get_linestyle() for line in drawn.artists["lines"] if hasattr(line, "get_linestyle")}
    widths = {line.get_linewidth() for line in drawn.artists["lines"] if hasattr(line, "get_linewidth")}
    assert dashes == {"--"}
    assert len(widths) == 2


def test_many_places_are_numbered_and_named_below() -> None:
    rng = np.random.default_rng(3)
    names = [f"place {k} <b>$x$" for k in range(14)]
    drawn = draw_places(rng.normal(2.1, 0.1, (8, 14)), names, unit="mil", window=WINDOW)
    ticks = [text.get_text() for text in drawn.axes["places"].get_xticklabels()]
    assert ticks == [str(k) for k in range(1, 15)]
    assert "13 place 12 <b>$x$; 14 place 13 <b>$x$." in drawn.caption
    figure = drawn.figure
    figure.canvas.draw()  # type: ignore[attr-defined]  # the canvas is set when the figure is made
    boxes = [text.get_window_extent() for text in drawn.artists["verdicts"]]
    assert all(one.x1 <= two.x0 for one, two in pairwise(boxes))
    box = drawn.axes["places"].get_window_extent()
    top_of_marks = max(
        marks.get_offsets()[:, 1].max()
        for marks in (*drawn.artists["inside"], *drawn.artists["outside"])
        if len(marks.get_offsets())
    )
    highest = drawn.axes["places"].transData.transform((0, top_of_marks))[1]
    assert all(highest <= one.y0 + 1 and one.y1 <= box.y1 for one in boxes)


def test_one_unit_one_place_and_equal_values_are_drawn() -> None:
    assert (
        draw_places([[2.1]], ["roof"], unit="mil").title
        == "One place, roof: 2.1 mil on average; 1 spot, with no window to judge them by."
    )
    drawn = draw_places([[2.1, 2.1]], ["roof", "door"], unit="mil", window=SpecLimits(2.0, None))
    assert drawn.title == "All 2 places have 2.1 mil on average; 0 of 2 spots (0 %) lie below 2 mil."


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(ValueError, match="one column for each of the 2 places"):
        draw_places([[1.0, 2.0, 3.0]], ["a", "b"], unit="mil")
    with pytest.raises(ValueError, match="no number at all at b"):
        draw_places([[1.0, np.nan]], ["a", "b"], unit="mil")


PLAN = """
columns = {unit = "serial", value = "film", location = "where"}
measure = {unit = "mil"}
[[layers]]
name = "film"
lower = 2.0
upper = 2.2
miss = "rework"
spot_share = [0.8, 1.2]
"""


def body(serial: str, films: list[float]) -> dict[str, list[object]]:
    return {"serial": [serial] * len(films), "film": list(films), "where": ["door", "roof", "sill"][: len(films)]}


def test_a_single_place_beyond_its_limits_makes_a_unit_to_rework() -> None:
    """1.60 = 0.8 * 2.0 and 2.64 = 1.2 * 2.2 are on their limits, which is inside."""
    units = [body("A", [1.60, 2.64, 2.0]), body("B", [1.59, 2.5, 2.1]), body("C", [2.1, 2.1, 2.1]), body("D", [1.5, 1.9, 1.9])]
    table = {name: [x for unit in units for x in unit[name]] for name in units[0]}
    found = sf.review_readings(table, sf.read_plan(PLAN)).layers[0].conformance
    assert found is not None
    assert (found.spot_lower, found.spot_upper) == (pytest.approx(1.6), pytest.approx(2.64))
    assert [(x.unit, x.location, x.side) for x in found.spot_misses] == [("B", "door", "below"), ("D", "door", "below")]
    assert found.below == ("D",)
    assert found.missing_units == ("B", "D")
    assert found.missing == 2
    assert found.share == 0.5
    door = found.places[0]
    films = np.array([1.60, 1.59, 2.1, 1.5])
    assert (door.location, door.count, door.below, door.above) == ("door", 4, 3, 0)
    assert door.mean == pytest.approx(films.mean())
    low, high = stats.t.interval(0.95, 3, films.mean(), stats.sem(films))
    assert door.error == pytest.approx((high - low) / 2)


def test_the_verdict_names_the_place_of_a_unit_that_misses_there_alone() -> None:
    units = [body("A", [2.1, 2.1, 2.1]), body("B", [1.59, 2.6, 2.1])]
    table = {name: [x for unit in units for x in unit[name]] for name in units[0]}
    review = sf.review_readings(table, sf.read_plan(PLAN))
    assert (
        "1 unit to rework, film outside 2.0 to 2.2 mil: a place below 1.6 or above 2.64 on B (door below) (50.0 % of 2)."
        in review.verdict
    )
    with pytest.raises(sf.PlanError, match="spot_share needs a window"):
        sf.read_plan(PLAN.replace("lower = 2.0", "").replace("upper = 2.2", ""))


def test_spot_limits_of_the_published_example() -> None:
    """SSPC-PA 2, default allowance, as lecture slides on it print it: 8 to 12 mil gives spots from 6.4 to 14.4."""
    plan = sf.read_plan(PLAN.replace("2.0", "8.0").replace("2.2", "12.0"))
    low, high = spot_limits(plan.layers[0])
    assert low == pytest.approx(6.4, rel=1e-12)
    assert high == pytest.approx(14.4, rel=1e-12)
