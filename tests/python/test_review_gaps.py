"""The longest gap of a plan: nothing is joined over a longer pause, neither by ranges nor by runs nor by the EWMA."""

from __future__ import annotations

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.false_alarms import count_episodes
from steadyfilm.reports.figures import chart_figure

from helpers import ONE_LAYER, shop

RUNS = '[rules]\npoints = ["8of8_beyond0_one"]\n'
OVER_NIGHT = f"{RUNS}longest_gap_hours = 12\n"


def test_runs_and_the_ewma_start_anew_after_a_long_pause() -> None:
    # Each gun has three units a day, at two hours' distance: no run of eight lies within a day.
    table = shop(step=0.2)
    free, broken = (sf.review_readings(table, sf.read_plan(ONE_LAYER + rules)).layers[0].charts for rules in (RUNS, OVER_NIGHT))
    assert any(x.rule == "8of8_beyond0_one" for chart in free for x in chart.signals)
    assert not any(x.rule == "8of8_beyond0_one" for chart in broken for x in chart.signals)
    for chart, whole in zip(broken, free, strict=True):
        assert np.flatnonzero(chart.break_before).tolist() == list(range(3, 60, 3))
        assert not whole.break_before.any()
        assert chart.lines == whole.lines  # limits held from a baseline take no moving ranges
        starts = [0, *np.flatnonzero(chart.break_before)]
        center = chart.lines.center
        assert chart.ewma[starts] == pytest.approx(center + 0.2 * (chart.values[starts] - center))


def test_what_a_quiet_month_shows_is_stated_for_broken_runs() -> None:
    # Without an EWMA runs of eight are all there is, and days of three units cannot show one.
    table = shop()
    free, broken = (
        sf.review_readings(table, sf.read_plan(ONE_LAYER + rules + "smoothing = 0.0\n")).layers[0].charts[0]
        for rules in (RUNS, OVER_NIGHT)
    )
    assert free.expected_episodes > 0.1
    assert (broken.expected_episodes, broken.most_expected, broken.independent_episodes) == (0.0, 0.0, 0.0)


def test_without_a_baseline_no_moving_range_goes_over_the_pause() -> None:
    table = shop(seed=3, days=20)
    text = ONE_LAYER.partition("[baseline]")[0]
    layer = sf.review_readings(table, sf.read_plan(text + "[rules]\nlongest_gap_hours = 12\n")).layers[0]
    averages = np.array(table["film"]).reshape(-1, 3).mean(axis=1)
    ranges = []
    for gun in (averages[0::2], averages[1::2]):
        for day in gun.reshape(20, 3):
            ranges += np.abs(np.diff(day - gun.mean())).tolist()
    assert layer.moving_ranges == len(ranges) == 80
    sigma = np.mean(ranges) / (2 / np.sqrt(np.pi))
    assert layer.capability is not None
    assert layer.capability.sigma_within == pytest.approx(sigma, rel=1e-12)
    assert layer.charts[0].sigma == pytest.approx(sigma, rel=1e-9)


def test_a_pause_as_long_as_the_gap_is_none() -> None:
    table = shop(days=20)
    text = ONE_LAYER.partition("[baseline]")[0]
    for hours, breaks in ((20, 0), (19.9, 19)):  # from 12:00 to 8:00
        charts = sf.review_readings(table, sf.read_plan(f"{text}[rules]\nlongest_gap_hours = {hours}\n")).layers[0].charts
        assert [int(chart.break_before.sum()) for chart in charts] == [breaks, breaks]


def test_broken_series_count_as_their_pieces() -> None:
    rng = np.random.default_rng(5)
    series = rng.standard_normal((40, 50))
    breaks = np.zeros(50, dtype=bool)
    breaks[[0, 7, 20, 21]] = True
    limits = sf.MonitorLimits(rules=("2of3_beyond1_one", "trend6"), ewma_multiple=1.5)
    pieces = [count_episodes(limits, series[:, a:b]) for a, b in ((0, 7), (7, 20), (20, 21), (21, 50))]
    assert count_episodes(limits, series, breaks).tolist() == np.sum(pieces, axis=0).tolist()
    # The same as the monitor says of each row with these breaks.
    for row in series[:5]:
        found = sf.monitor(limits, None, sf.monitor_points(row, unit="", break_before=breaks))
        assert len(found.episodes) == count_episodes(limits, row[None, :], breaks)[0]


def test_the_chart_is_broken_and_says_so() -> None:
    plan = sf.read_plan(ONE_LAYER + "[rules]\nlongest_gap_hours = 12\n")
    review = sf.review_readings(shop(), plan)
    chart = review.layers[0].charts[0]
    caption = chart_figure(review, review.layers[0], chart).caption
    assert "start anew after a pause of more than 12 hours: broken at 19 pauses." in caption
    assert "moving ranges, runs and the EWMA end at a pause of more than 12 hours" in str(review.explain())
    free = sf.review_readings(shop(), sf.read_plan(ONE_LAYER))
    assert "pause" not in chart_figure(free, free.layers[0], free.layers[0].charts[0]).caption


def test_a_gap_needs_times() -> None:
    text = ONE_LAYER.partition("[baseline]")[0].replace('time = "when"', "")
    with pytest.raises(sf.PlanError, match=r"rules.longest_gap_hours needs columns.time, to know how long a pause is"):
        sf.read_plan(text + "[rules]\nlongest_gap_hours = 12\n")
    with pytest.raises(sf.PlanError, match=r"rules.longest_gap_hours: Input should be greater than 0 \(got 0"):
        sf.read_plan(ONE_LAYER + "[rules]\nlongest_gap_hours = 0.0\n")
