"""The report's page of streams: small multiples of the quiet ones, large panels for others, no verdict of its own."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.reports.review import review_html
from steadyfilm.reports.stream_pages import stream_figures
from test_report import WHEN

from helpers import ONE_LAYER, shop

LANES = ONE_LAYER.replace('"gun"', '"lane"')


def lanes(count: int, *, step: float = 0.0, days: int = 40) -> dict[str, list[Any]]:
    """One unit a lane and day; from the 30th day on the third lane is off."""
    rng = np.random.default_rng(9)
    rows: dict[str, list[Any]] = {"unit": [], "film": [], "when": [], "lane": []}
    for day in range(days):
        common = rng.normal(0, 0.02)
        for k in range(count):
            off = step if k == 2 and day >= 30 else 0.0
            rows["unit"].append(f"U{day:02d}-{k:02d}")
            rows["film"].append(2.1 + common + off + rng.normal(0, 0.04))
            rows["when"].append(f"{np.datetime64('2026-03-12') + day} {6 + k // 6:02d}:{10 * (k % 6):02d}")
            rows["lane"].append(f"lane {k + 1:02d}")
    return rows


@pytest.mark.parametrize(("count", "pages"), [(12, 1), (34, 2)])
def test_quiet_streams_stand_side_by_side(count: int, pages: int) -> None:
    review = sf.review_readings(lanes(count), sf.read_plan(LANES))
    figures = stream_figures(review, review.layers[0])
    assert len(figures) == pages
    (said,) = {figure.title for figure in figures}
    assert said.startswith("Film, streams day by day against one another: ")
    with_signals = [chart.stream for chart in review.layers[0].charts if chart.signals]
    assert f"{count - len(with_signals)} of {count} without a signal or a change of their own" in said
    assert all(name in said for name in with_signals)
    assert [row[0] for row in figures[0].table.rows] == [f"lane {k + 1:02d}" for k in range(count)]
    # What these tests make of the level common to all is not said: the search for changes judges it.
    assert "steady" not in figures[0].title
    assert "Common to all" in figures[0].svg
    assert "Common to all: " not in figures[0].svg


def test_a_stream_that_stands_out_is_named() -> None:
    review = sf.review_readings(lanes(8, step=0.2), sf.read_plan(LANES))
    (figure,) = stream_figures(review, review.layers[0])
    state = {row[0]: row[1] for row in figure.table.rows}
    (finding,) = review.findings
    assert finding.streams == ("lane 03",)
    assert state["lane 03"] == f"+{finding.size:.3f} mil from {finding.first_unit}"
    quiet = sum(not word for word in state.values())
    assert f" {quiet} of 8 without a signal or a change of their own; " in figure.title
    assert "lane 03" in figure.title
    assert f"lane 03: {state['lane 03']}" in figure.svg
    assert "Streams against one another" in review_html(review, when=WHEN)


def test_means_of_days_are_those_of_the_charted_values() -> None:
    review = sf.review_readings(shop(), sf.read_plan(ONE_LAYER))
    layer = review.layers[0]
    (figure,) = stream_figures(review, layer)
    assert layer.time is not None
    days = layer.time.astype("datetime64[D]")
    difference = {}
    for chart in layer.charts:
        means = np.array([chart.values[days[chart.at] == day].mean() for day in np.unique(days)])
        difference[chart.stream] = means - means.mean()
    # Two streams: each is compared with the other, and sigma comes from neighbors.
    apart = difference["A"] - difference["B"]
    sigma = np.abs(np.diff(apart)).mean() / (2 / np.sqrt(np.pi))
    assert {row[4] for row in figure.table.rows} == {f"{sigma:.3g}"}


def test_without_times_days_or_a_second_stream_there_is_no_such_page() -> None:
    untimed = LANES.partition("[baseline]")[0].replace('time = "when"', "")
    for table, plan in (
        (lanes(4), untimed),
        (lanes(1), LANES),
        (lanes(4, days=24), LANES),  # five days after the baseline
    ):
        review = sf.review_readings(table, sf.read_plan(plan))
        assert stream_figures(review, review.layers[0]) == ()
        assert "Streams against one another" not in review_html(review, when=WHEN)
