"""The picture of all readings: every reading in its place, unit averages, days, the window; ten units and a month."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.plots.readings import plot_readings

PLACES = ["left", "right", "roof", "door", "inside"]
WINDOW = sf.SpecLimits(lower=2.0, upper=2.2)
OPTIONS: dict[str, Any] = {"unit": "mil", "body": "body", "location": "place"}


def month(units: int, per_day: int = 9, seed: int = 4) -> dict[str, Any]:
    """Bodies with five places and three readings each, one an hour."""
    rng = np.random.default_rng(seed)
    film = 2.1 + rng.normal(0, 0.08, (units, 1, 1)) + rng.normal(0, 0.1, (units, 5, 1)) + rng.normal(0, 0.04, (units, 5, 3))
    day, hour = np.divmod(np.arange(units), per_day)
    at = np.datetime64("2026-03-02T06:00", "m") + 1440 * day + 60 * hour
    return {
        "film": film.ravel(),
        "body": np.repeat([f"B{i + 1}" for i in range(units)], 15),
        "place": np.tile(np.repeat(PLACES, 3), units),
        "at": np.repeat(at, 15),
    }


def marks(drawn: Any) -> tuple[np.ndarray, np.ndarray]:
    """Heights and places of all readings, row after row, location after location."""
    lines = drawn.artists["readings"]
    return np.concatenate([line.get_ydata() for line in lines]), np.concatenate([line.get_xdata() for line in lines])


@pytest.mark.parametrize("units", [10, 200])
def test_every_reading_is_drawn_once_and_every_average_where_numpy_has_it(units: int) -> None:
    table = month(units)
    drawn = plot_readings(table, "film", time="at", window=WINDOW, **OPTIONS)
    heights, _ = marks(drawn)
    assert sorted(heights.tolist()) == sorted(table["film"].tolist())
    averages = table["film"].reshape(units, 15).mean(axis=1)
    assert drawn.data["averages"] == pytest.approx(averages)
    bars = np.concatenate([bar.get_segments() for bar in drawn.artists["averages"]])
    assert bars[:, 0, 1] == pytest.approx(averages)
    outside = int(((averages < 2.0) | (averages > 2.2)).sum())
    assert drawn.title.startswith(f"{units} units with 5 locations, {15 * units} readings from ")
    assert drawn.title.endswith(f"{outside} outside the window.")
    assert drawn.figure.get_size_inches()[1] < 11  # one page


def test_locations_stand_from_left_to_right_inside_their_unit() -> None:
    table = month(6)
    drawn = plot_readings(table, "film", **OPTIONS)
    places = [line.get_xdata() for line in drawn.artists["readings"]]
    for unit in range(6):
        own = np.array([x[3 * unit] for x in places])
        assert (np.diff(own) > 0).all()
        assert (np.abs(own - unit) < 0.5).all()
    assert len({line.get_marker() for line in drawn.artists["readings"]}) == 5
    names = [text.get_text() for text in drawn.artists["key"] if hasattr(text, "get_text")]
    assert names == PLACES


def test_a_month_has_rows_that_end_with_days() -> None:
    drawn = plot_readings(month(190), "film", time="at", window=WINDOW, **OPTIONS)
    first = drawn.data["first_unit_of_row"].tolist()
    assert len(first) == 4
    assert all(start % 9 == 0 for start in first)
    assert "dotted: a new day" in drawn.caption
    labels = [text.get_text() for text in drawn.artists["day_labels"]]
    assert labels[:3] == ["2 Mar", "3 Mar", "4 Mar"]
    assert len(labels) == 22
    limits = {axes.get_ylim() for axes in drawn.axes.values()}
    assert len(limits) == 1
    assert len(drawn.artists["window_lower"]) == 4


def test_words_under_the_rows_do_not_touch() -> None:
    for units, per_day in ((10, 4), (30, 2), (200, 9)):
        drawn = plot_readings(month(units, per_day), "film", time="at", window=WINDOW, **OPTIONS)
        drawn.figure.canvas.draw()
        words = [*drawn.artists["day_labels"], drawn.axes[f"row_{len(drawn.axes)}"].xaxis.label, drawn.artists["caption"]]
        boxes = [text.get_window_extent() for text in words]
        for i, box in enumerate(boxes):
            assert not any(box.overlaps(other) for other in boxes[:i]), words[i].get_text()


def test_a_mistyped_reading_does_not_flatten_the_rest() -> None:
    table = month(30)
    table["film"][100] = 81.2
    drawn = plot_readings(table, "film", time="at", **OPTIONS)
    assert drawn.axes["row_1"].get_ylim()[1] < 4
    texts = [item.get_text() for item in drawn.artists["off_scale"] if hasattr(item, "get_text")]
    assert texts == ["81.2, off the scale"]
    assert "Arrows at the edge (hollow: readings): 1 reading and 1 unit average off the scale." in drawn.caption
    assert len(drawn.artists["averages_off"]) == 1
    assert "to 81.2 mil" in drawn.title


def test_an_average_on_the_limit_meets_the_window() -> None:
    table = {"film": [0.88, 0.88, 0.88, 0.9], "body": list("AAAB")}
    drawn = plot_readings(table, "film", unit="mil", body="body", window=sf.SpecLimits(lower=0.8 * 1.1), missing="error")
    assert drawn.title.endswith("unit average 0.88 mil, none outside the window.")


def test_units_without_all_readings_are_hollow() -> None:
    table = {name: np.delete(column, [20, 21, 22]) for name, column in month(8).items()}
    drawn = plot_readings(table, "film", **OPTIONS)
    assert np.flatnonzero(~drawn.data["complete"]).tolist() == [1]
    assert "hollow: of 1 unit without all readings" in drawn.caption
    film: list[Any] = month(4)["film"].tolist()
    film[3] = None
    with pytest.raises(sf.DataProblemsError, match="row 4: reading is missing"):
        plot_readings({**month(4), "film": film}, "film", **OPTIONS)
    with pytest.warns(sf.MissingDataWarning):
        kept = plot_readings({**month(4), "film": film}, "film", missing="drop", **OPTIONS)
    assert "1 reading missing." in kept.caption


def test_order_follows_time_and_units_may_be_numbered_anew_each_day() -> None:
    table = month(12, per_day=4)
    mixed = np.random.default_rng(1).permutation(180)
    one = plot_readings(table, "film", time="at", **OPTIONS)
    shuffled = {name: column[mixed] for name, column in table.items()}
    two = plot_readings(shuffled, "film", time="at", **{**OPTIONS, "location": "place"})
    assert two.data["averages"] == pytest.approx(one.data["averages"])
    again = {**table, "body": np.tile(np.repeat([1, 2, 3, 4], 15), 3), "shift": np.repeat(["early", "late", "night"], 60)}
    three = plot_readings(again, "film", day="shift", **OPTIONS)
    assert three.data["averages"] == pytest.approx(one.data["averages"])
    assert [text.get_text() for text in three.artists["day_labels"]][-3:] == ["early", "late", "night"]


def test_sequences_one_place_equal_readings_and_a_callers_axes() -> None:
    from matplotlib.figure import Figure

    axes = Figure(figsize=(8, 4)).subplots()
    drawn = plot_readings([2.1, 2.1, 2.1, 2.1], unit="mil", body=list("AABB"), ax=axes)
    assert drawn.axes["row_1"] is axes
    assert not drawn.own_figure
    assert "key" not in drawn.artists
    assert drawn.description()["data"]["averages"] == [2.1, 2.1]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"body": list("AAB")}, "body has 3 rows, the readings have 4"),
        ({"body": list("AABB"), "location": ["x", None, "x", "y"]}, "row 2: label is missing"),
        ({"body": list("AABB"), "time": ["2026-03-02"] * 3 + [None]}, "row 4: time is missing"),
        ({"body": list("AABB"), "time": ["2026-03-02"] * 3}, "time has 3 rows"),
    ],
)
def test_columns_that_do_not_fit_are_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        plot_readings([2.1, 2.2, 2.3, 2.4], unit="mil", **options)


def test_too_many_units_and_no_readings_are_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="holds 800 units, the data have 801"):
        plot_readings(np.arange(801.0), unit="mil", body=np.arange(801))
    with pytest.raises(sf.InvalidInputError, match="there are no readings"):
        plot_readings([], unit="mil", body=[])
