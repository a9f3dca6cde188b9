"""Pictures of results: the numbers drawn are the fields of the result, and the caption says what the chart's alarms are worth."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from steadyfilm.plots._caption import chance_words, ewma_run_length, ewma_words

VALUES = [2.11, 2.07, 2.14, 2.09, 2.12, 2.61, 2.10, 2.08]


def test_a_spread_has_no_lower_limit_below_nothing() -> None:
    chart = sf.individuals_chart([0.09, 0.11, 0.10, 0.12, 0.08], unit="mil", center=0.1, sigma_within=0.04)
    assert chart.limits.lower == pytest.approx(-0.02)
    plain, spread = chart.plot(), chart.plot(spread=True)
    assert np.isfinite(plain.data["lower"]).all()
    assert np.isnan(spread.data["lower"]).all()
    assert "lower" in plain.artists
    assert "lower" not in spread.artists
    assert "run at 0.100 mil against the given center 0.100 mil with an upper limit of 0.22 mil;" in spread.title
    assert "No lower limit: a spread is never below 0." in spread.caption
    assert spread.axes["values"].get_ylim()[0] > -0.02
    high = sf.individuals_chart([0.09, 0.11, 0.10, 0.12, 0.08], unit="mil", center=0.1, sigma_within=0.01)
    assert high.plot(spread=True).data["lower"] == pytest.approx(np.full(5, 0.07))


def test_individuals_chart_draws_its_own_numbers() -> None:
    chart = sf.individuals_chart(VALUES, unit="mil", center=2.1, sigma_within=0.03, excluded=[False] * 7 + [True], point="unit")
    drawn = chart.plot(quantity="film", window=sf.SpecLimits(2.0, 2.2))
    assert drawn.title == chart.sentence()
    assert [axes.get_ylabel() for axes in drawn.axes.values()] == ["film (mil)", "moving range (mil)"]
    np.testing.assert_array_equal(drawn.data["values"], chart.values)
    np.testing.assert_array_equal(drawn.data["spread_values"], chart.moving_range)
    np.testing.assert_array_equal(drawn.data["hollow"], ~chart.takes_part)
    assert set(drawn.data["upper"]) == {chart.limits.upper}
    assert set(drawn.data["sigma"]) == {chart.sigma_within}
    assert set(drawn.data["spread_upper"]) == {chart.moving_range_limits.upper}
    assert drawn.data["signals"].tolist() == [signal.point for signal in chart.signals] == [5]
    assert drawn.data["spread_signals"].tolist() == [signal.point for signal in chart.moving_range_signals]
    assert "spread_lower" not in drawn.artists  # it is 0
    assert drawn.artists["window_upper"].get_ydata() == [2.2, 2.2]
    assert chart.plot(title="Mine.", caption="").title == "Mine."


def test_caption_tells_limits_from_the_same_points_from_given_limits() -> None:
    beyond = 2 * stats.norm.sf(3)
    limit = ("1of1_beyond3_one",)
    assert chance_words(limit, 190, estimated=False, point="unit").startswith(
        f"A steady process gives about {190 * beyond:.2g} false signals in 190 units ("
    )
    assert f"has a {100 * (1 - (1 - beyond) ** 190):.2g} % chance" in chance_words(limit, 190, estimated=True)
    # eight in a row on one side: 2 * (1/2)^8 at each of 183 places
    both = chance_words((*limit, "8of8_beyond0_one"), 190, estimated=False)
    assert f"about {190 * beyond + 183 / 128:.2g} false signals" in both
    assert "run patterns add about 1.4 signals" in chance_words((*limit, "8of8_beyond0_one"), 190, estimated=True)
    assert chance_words((), 10, estimated=True) == "No rule is applied to these points."


@pytest.mark.parametrize("rule", [*sf.NELSON, *sf.WESTERN_ELECTRIC])
def test_every_rule_of_the_named_sets_has_a_figure(rule: str) -> None:
    assert "false signals" in chance_words((rule,), 100, estimated=False)


def test_subgroup_chart_draws_the_limits_of_each_size() -> None:
    readings = [2.11, 2.07, 2.14, 2.09, 2.12, 2.2, 2.1, 2.08, 2.35, 2.41]
    batches = ["b1"] * 3 + ["b2"] * 3 + ["b3"] * 2 + ["b4"] * 2
    chart = sf.subgroup_chart(readings, unit="mil", subgroup=batches, center=2.1, sigma_within=0.04)
    drawn = chart.plot(quantity="film, batch average")
    assert drawn.title == chart.sentence()
    assert [axes.get_ylabel() for axes in drawn.axes.values()] == ["film, batch average (mil)", "range (mil)"]
    assert [tick.get_text() for tick in drawn.axes["spread"].get_xticklabels()] == ["b1", "b2", "b3", "b4"]
    for role, field in (("values", "means"), ("upper", "upper"), ("lower", "lower"), ("spread_values", "spreads")):
        np.testing.assert_array_equal(drawn.data[role], getattr(chart, field))
    for role in ("lower", "center", "upper"):
        np.testing.assert_array_equal(drawn.data[f"spread_{role}"], getattr(chart, f"spread_{role}"))
    np.testing.assert_allclose(3 * drawn.data["sigma"], chart.upper - chart.center)
    assert drawn.notes == ("film, batch average, point 4 (b4), 2.38 mil: 1 point beyond 3 sigma.",)


def test_capability_is_drawn_with_its_verdict_and_its_counts() -> None:
    found = sf.capability([1.95, 2.0, 2.05, 2.1, 2.12, 2.14, 2.2, 2.25], unit="mil", lower=2.0, upper=2.2)
    drawn = found.plot(quantity="film")
    assert drawn.title == found.sentence()
    np.testing.assert_array_equal(drawn.data["values"], found.values)
    assert drawn.data["below_above"].tolist() == [found.below, found.above] == [1, 1]
    assert drawn.data["mean_sd"].tolist() == [found.mean, found.sigma_total]


def test_ewma_chart_draws_its_course_over_the_values() -> None:
    values = [2.12, 2.08, 2.11, 2.15, 2.19, 2.18, 2.17, 2.19]
    chart = sf.ewma_chart(values, unit="mil", center=2.1, sigma_point=0.05, excluded=[False, True] + [False] * 6, point="unit")
    drawn = chart.plot(quantity="film", window=sf.SpecLimits(2.0, 2.2))
    assert drawn.title == chart.sentence()
    for role, field in (("values", "values"), ("trace", "ewma"), ("lower", "lower"), ("upper", "upper")):
        np.testing.assert_array_equal(drawn.data[role], getattr(chart, field))
    assert drawn.data["signals"].tolist() == [signal.point for signal in chart.signals]
    assert len(chart.signals) > 0
    # the course goes on past the point that takes no part
    np.testing.assert_array_equal(drawn.artists["thread"][0].get_ydata(), chart.ewma)
    assert drawn.axes["values"].get_ylabel() == "film (mil)"
    assert drawn.axes["values"].get_xlabel() == "unit, in production order"


def test_monitored_stream_is_drawn_in_its_unit_with_the_ewma_below() -> None:
    limits = sf.MonitorLimits(center=2.1, sigma_point=0.05, ewma_multiple=2.7)
    values = [2.12, 2.08, 2.28, 2.15, 2.19, 2.18, 2.17, 2.19]
    found = sf.monitor(limits, None, values, unit="mil")
    drawn = found.plot(quantity="film")
    np.testing.assert_array_equal(drawn.data["values"], found.value)
    np.testing.assert_allclose(drawn.data["upper"], 2.1 + 3 * 0.05)
    np.testing.assert_allclose(drawn.data["ewma_trace"], 2.1 + 0.05 * found.ewma)
    np.testing.assert_allclose(drawn.data["ewma_upper"], 2.1 + 0.05 * 2.7 * np.sqrt(0.2 / 1.8))
    rules = {signal.point: signal.rule for signal in found.signals}
    drawn_at = [*drawn.data["signals"].tolist(), *drawn.data["ewma_signals"].tolist()]
    assert sorted(drawn_at) == sorted(rules)
    assert len(rules) == 2


def test_several_monitored_streams_share_a_scale_of_sigma_or_are_drawn_one_by_one() -> None:
    table = {"film": [2.1, 3.3, 2.3, 3.2], "gun": ["A", "B", "A", "B"], "center": [2.0, 3.2, 2.1, 3.2]}
    points = sf.monitor_points(table, "film", unit="mil", stream="gun", center="center", sigma_point=0.05)
    found = sf.monitor(sf.MonitorLimits(smoothing=0.0), None, points)
    drawn = found.plot()
    assert drawn.axes["values"].get_ylabel() == "value, distance from center (sigma)"
    np.testing.assert_array_equal(drawn.data["values"], found.z)
    assert drawn.notes == ("value, distance from center, point 3, 4 sigma: 1 point beyond 3 sigma (A).",)
    alone = found.plot(stream="B")
    assert alone.data["values"].tolist() == [3.3, 3.2]
    assert alone.title == "No signal among 2 points of B."
    level = found.plot(stream="A", adjusted=True)
    assert "first at point 2, 2.25 mil with center 2.05 mil:" in level.title
    np.testing.assert_allclose(level.data["values"] - level.data["center"], found.z[[0, 2]] * 0.05)
    other = "1 episode among 2 points of A; first at point 2, 2.3 mil with center 2.1 mil: 1 point beyond 3 sigma, above."
    assert found.plot(stream="A").title == other
    assert alone.axes["values"].get_ylabel() == "value (mil)"
    with pytest.raises(sf.InvalidInputError, match="there are 'A', 'B'"):
        found.plot(stream="C")


def test_pauses_and_new_periods_of_a_monitored_stream_interrupt_its_line() -> None:
    hours = [8, 8, 9, 10, 15, 16, 17, 18]
    table = {
        "film": [2.12, 2.08, 2.10, 2.11, 2.09, 2.10, 2.12, 2.07],
        "gun": ["A", "B", "A", "A", "A", "B", "A", "A"],
        "when": [f"2026-03-02 {hour:02d}:{i:02d}" for i, hour in enumerate(hours)],
        "batch": ["x", "x", "x", "x", "x", "x", "x", "y"],
    }
    order = [7, 3, 0, 5, 1, 4, 2, 6]  # the caller's rows need not be in the order of time
    mixed = {name: [column[i] for i in order] for name, column in table.items()}
    points = sf.monitor_points(
        mixed, "film", unit="mil", stream="gun", time="when", period="batch", longest_gap=timedelta(hours=4)
    )
    found = sf.monitor(sf.MonitorLimits(center=2.1, sigma_point=0.05), None, points)
    # A pauses from 10:03 to 15:04 and has a new batch at 18:07, B pauses from 8:01 to 16:05.
    broken = {4, 5, 7}
    assert found.break_before.tolist() == [row in broken for row in order]
    drawn = found.plot(stream="A")
    assert drawn.data["break_before"].tolist() == [False, False, False, True, False, True]
    line = np.asarray(drawn.artists["thread"][0].get_ydata())
    np.testing.assert_array_equal(line, [2.12, 2.10, 2.11, np.nan, 2.09, 2.12, np.nan, 2.07])


def test_a_pause_between_two_pieces_is_told_by_the_second() -> None:
    limits = sf.MonitorLimits(center=2.1, sigma_point=0.05)

    def piece(times: list[str]) -> sf.MonitorPoints:
        values = [2.1] * len(times)
        return sf.monitor_points(values, unit="mil", time=times, longest_gap=timedelta(hours=4))

    early = sf.monitor(limits, None, piece(["2026-03-02 08:00", "2026-03-02 09:00"]))
    late = sf.monitor(limits, early.state, piece(["2026-03-02 14:00", "2026-03-02 15:00"]))
    assert late.break_before.tolist() == [True, False]
    assert late.to_frame("dict")["break_before"].tolist() == [True, False]


def test_baseline_is_drawn_with_a_row_a_stream_and_hollow_without_limits() -> None:
    film = [2.06, 2.16, 2.02, 2.14, 2.07, 2.13, 2.03, 2.18, 2.10, 2.11]
    table = {"film": film, "gun": ["A", "B"] * 4 + ["C", "C"]}
    found = sf.baseline(table, "film", unit="mil", stream="gun", fewest_points=4)
    drawn = found.plot(quantity="film", window=sf.SpecLimits(2.0, 2.2))
    assert drawn.title == found.sentence()
    axes = drawn.axes["streams"]
    assert axes.get_xlabel() == "film (mil)"
    assert [tick.get_text() for tick in axes.get_yticklabels()] == ["A", "B", "C"]
    for name in ("center", "center_lower", "center_upper", "lower", "upper", "count"):
        np.testing.assert_array_equal(drawn.data[name], [getattr(stream, name) for stream in found.streams])
    assert drawn.artists["centers"][0].get_xdata().tolist() == [found.streams[0].center, found.streams[1].center]
    assert drawn.artists["hollow"][0].get_xdata().tolist() == [found.streams[2].center]
    assert [text.get_text().rpartition("n ")[2] for text in drawn.artists["row_labels"]] == ["4", "4", "2"]
    many = {"film": film * 10, "gun": [f"gun {i // 2}" for i in range(100)]}
    with pytest.raises(sf.InvalidInputError, match="holds 40 streams, the baseline has 50"):
        sf.baseline(many, "film", unit="mil", stream="gun").plot()


@pytest.mark.parametrize(
    ("smoothing", "multiple"),
    [(1.0, 3.09), (0.75, 3.087), (0.5, 3.071), (0.4, 3.054), (0.25, 2.998), (0.1, 2.814), (0.05, 2.615)],
)
def test_run_length_of_the_ewma(smoothing: float, multiple: float) -> None:
    """Schemes of run length 500 in Lucas and Saccucci, Technometrics 32 (1990) 1, from memory; and another method.

    The integral equation (Crowder, Technometrics 29 (1987) 401) by Gauss-Legendre quadrature has no cells.
    """
    found = ewma_run_length(smoothing, multiple)
    assert found == pytest.approx(500, rel=0.005)
    reach = multiple * np.sqrt(smoothing / (2 - smoothing))
    nodes, weights = np.polynomial.legendre.leggauss(120)
    y, w = reach * nodes, reach * weights
    kernel = stats.norm.pdf((y[None, :] - (1 - smoothing) * y[:, None]) / smoothing) / smoothing * w[None, :]
    lengths = np.linalg.solve(np.eye(120) - kernel, np.ones(120))
    at_center = 1 + float(stats.norm.pdf(y / smoothing) / smoothing * w @ lengths)
    assert found == pytest.approx(at_center, rel=0.004)


def test_caption_of_an_ewma_tells_its_run_length() -> None:
    assert "about once in 370 units (" in ewma_words(0.2, 2.86, point="unit")
