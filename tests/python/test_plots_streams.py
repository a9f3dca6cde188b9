"""The picture of many streams: what is large, what is small, what a page leaves out, and names that try to be more than names."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure

import steadyfilm as sf
import test_streams
from steadyfilm.plots.streams import plot_streams
from steadyfilm.plots.style import text_width
from test_streams import chart, grid, tabled


def sixty() -> sf.StreamsChart:
    x = grid(120, 60, seed=4)
    x[70:, 2] += 0.3
    x[30:, 40] -= 0.25
    x[50, 9] += 1.0
    return chart(tabled(x))


def texts(figure: Any) -> list[str]:
    return [item.get_text() for item in figure.findobj(lambda artist: hasattr(artist, "get_text")) if item.get_text()]


def test_moved_streams_are_large_and_the_rest_is_paged_and_said() -> None:
    found = sixty()
    drawn = found.plot()
    large = [drawn.axes[name] for name in ("level", "stream_1", "stream_2", "stream_3")]
    small = [axes for name, axes in drawn.axes.items() if name.startswith("quiet_")]
    assert len(small) == 30
    assert min(axes.get_position().height for axes in large) > 1.8 * max(axes.get_position().height for axes in small)
    assert drawn.title == found.sentence()
    assert "Large: 3 streams that moved or have a single point off" in drawn.caption
    assert "Small: streams 1 to 30 of 57 without a signal" in drawn.caption
    assert "Page 1 of 2; page=2 shows more." in drawn.caption
    assert "any signal at all with a chance of at most 1 %" in drawn.caption
    second = found.plot(page=2)
    shown = [*drawn.data["shown"].tolist(), *second.data["shown"].tolist()]
    assert sorted(shown) == list(range(60))
    assert "streams 31 to 57 of 57" in second.caption


def test_the_numbers_drawn_are_those_of_the_result() -> None:
    found = sixty()
    drawn = found.plot()
    first = int(drawn.data["shown"][0])
    assert first == int(found.strongest()[0])
    assert drawn.data["stream_1"].tolist() == found.difference[found.points_of(first)].tolist()
    assert drawn.data["level"].tolist() == found.level.tolist()
    own = np.isin(found.signal_point, np.arange(found.offsets[first], found.offsets[first + 1]))
    beyond = int((own & (found.signal_test == "beyond")).sum())
    marked = sum(len(line.get_xdata()) for line in drawn.axes["stream_1"].lines if line.get_marker() in ("^", "v"))
    assert marked == beyond > 0
    limits = {float(line.get_ydata()[0]) for line in drawn.axes["stream_1"].lines if len(set(line.get_ydata())) == 1}
    assert {float(found.lower[first]), float(found.upper[first])} <= limits


def test_small_panels_share_one_scale() -> None:
    drawn = sixty().plot()
    assert len({axes.get_ylim() for name, axes in drawn.axes.items() if name.startswith("quiet_")}) == 1


@pytest.mark.parametrize("width", [1, 2])
def test_few_streams_are_drawn_too(width: int) -> None:
    x = grid(60, width)
    x[30:, -1] += 0.5
    drawn = chart(tabled(x)).plot()
    assert len(drawn.axes) == 1 + width
    assert "Page" not in drawn.caption


def test_streams_without_limits_are_hollow_and_it_is_said() -> None:
    table = tabled(grid(25, 3))
    keep = [i for i in range(75) if not (i % 3 == 2 and i > 30)]
    drawn = chart({name: [column[i] for i in keep] for name, column in table.items()}).plot()
    assert "Hollow dots: too few points for limits." in drawn.caption
    assert len(drawn.artists["too_few"]) == 1
    assert any("n 10" in text for text in texts(drawn.figure))


def test_one_axes_of_the_caller_holds_all_panels() -> None:
    figure = Figure(figsize=(8, 9))
    ax = figure.subplots()
    drawn = sixty().plot(ax=ax)
    assert drawn.figure is figure
    assert not drawn.own_figure
    assert len(drawn.axes) == 34


def test_a_page_that_is_not_there_is_refused() -> None:
    found = sixty()
    for page in (0, 3):
        with pytest.raises(sf.InvalidInputError, match="page must lie between 1 and 2"):
            found.plot(page=page)


def test_hostile_names_are_drawn_as_text_alone() -> None:
    names = [name for name in test_streams.HOSTILE if name.isascii()]
    x = grid(60, len(names))
    x[30:, :2] += 0.6
    drawn = chart(tabled(x, names)).plot()
    svg = drawn.svg()
    assert "<script" not in svg
    assert "&lt;script&gt;" in svg
    assert r"$\bad$" in svg
    assert not re.search(r"[\x00-\x08\x0b-\x1f]", svg)
    for item in drawn.figure.findobj(lambda artist: hasattr(artist, "get_parse_math")):
        if item.get_text():
            assert not item.get_parse_math() or "$" not in item.get_text(), item.get_text()
    assert max(len(text) for text in texts(drawn.figure) if "xxx" in text and "\n" not in text) < 60
    assert drawn.svg() == chart(tabled(x, names)).plot().svg()


def test_letters_that_the_font_lacks_have_a_width() -> None:
    assert text_width("\u5857\u88c5", 10.0) == 20.0


def test_streams_that_a_report_names_stand_large_with_its_words() -> None:
    found = sixty()
    quiet = [found.name(s) for s in np.flatnonzero(found.state == "quiet")[:2]]
    plain = plot_streams(found)
    drawn = plot_streams(found, named={quiet[1]: "2 signals"}, judged=False)
    assert len(drawn.data["shown"]) == len(plain.data["shown"]) + 1  # the page of small ones has room for one more
    large = [found.name(s) for s in drawn.data["shown"][:4]]
    assert large[3] == quiet[1]  # after those that moved or have a point off
    words = [text.get_text() for text in drawn.artists["words"]]
    assert f"{quiet[1]}: 2 signals" in words
    assert f"{quiet[1]}: 2 signals." in drawn.notes
    assert "Large: 4 streams with a change or a signal of its own." in drawn.caption
    # The tests of the level common to all are not told where a report judges it otherwise.
    assert "Common to all" in words
    assert not any(word.startswith("Common to all:") for word in words)
    assert any(text.get_text().startswith("Common to all: ") for text in plain.artists["words"])
