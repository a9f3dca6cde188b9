"""Monitoring: any cut gives the bits of the whole, streams stay apart, and the state goes through JSON."""

from __future__ import annotations

import itertools
import math
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf
from steadyfilm.run_rules import describe

from reference import Args, adapter


@adapter("monitor_episodes")
def _episodes(args: Args) -> dict[str, list[int]]:
    limits = sf.MonitorLimits(
        center=args.number("center"),
        sigma_point=args.number("sigma_point"),
        rules=tuple(args.words("rules")),
        smoothing=args.number("smoothing"),
        ewma_multiple=args.number("ewma_multiple"),
    )
    values = args.list("values")
    excluded = [i + 1 in args.list("excluded") for i in range(len(values))]
    points = sf.monitor_points(values, unit="", excluded=excluded)
    found = sf.monitor(limits, None, points)
    return {
        "episodes": [episode.point + 1 for episode in found.episodes],
        "lengths": [episode.length for episode in found.episodes],
        "sides": [{"above": 1, "below": -1, "both": 0}[episode.side] for episode in found.episodes],
    }


def example_results() -> list[sf.Monitored]:
    limits = sf.MonitorLimits(center=2.1, sigma_point=0.05)
    table = {
        "film": [2.12, 2.08, 2.27, None, 2.11],
        "gun": ["A", "B", "A", "A", "B"],
        "when": ["2026-03-02 08:00", "2026-03-02 09:00", "2026-03-02 10:00", "2026-03-02 11:00", "2026-03-02 12:00"],
    }
    with pytest.warns(sf.MissingDataWarning):
        points = sf.monitor_points(table, "film", unit="mil", stream="gun", time="when", missing="drop")
    marking = sf.MonitorLimits(rules=sf.NELSON, smoothing=0.0, mark_every_signal=True)
    return [
        sf.monitor(limits, None, points),
        sf.monitor(limits, None, [], unit="mil"),
        sf.monitor(marking, None, [0.5] * 12, unit="mil"),
    ]


def bits(values: np.ndarray[Any, Any]) -> list[int]:
    return np.ascontiguousarray(values).view(np.int64).tolist()


ROW = st.tuples(
    st.integers(-40, 40),  # height in tenths of a sigma
    st.integers(0, 12),  # 0: excluded
    st.sampled_from(["A", "B", "C"]),
    st.integers(0, 3),  # hours since the row before
    st.integers(0, 15),  # 0: a new period starts
)


def _points(rows: list[tuple[int, int, str, int, int]]) -> dict[str, list[Any]]:
    hours = np.cumsum([row[3] for row in rows], dtype=int)
    periods = np.cumsum([row[4] == 0 for row in rows], dtype=int)
    start = np.datetime64("2026-03-02T06:00", "us")
    return {
        "film": [2.1 + 0.005 * row[0] for row in rows],
        "excluded": [row[1] == 0 for row in rows],
        "gun": [row[2] for row in rows],
        "when": [str(start + np.timedelta64(int(hour), "h")) for hour in hours],
        "period": [f"p{period}" for period in periods],
        "center": [2.1 if row[2] == "A" else 2.08 for row in rows],
        "sigma": [0.05 if row[2] == "A" else 0.06 for row in rows],
    }


def _piece(table: dict[str, list[Any]], first: int, last: int) -> sf.MonitorPoints:
    return sf.monitor_points(
        {name: column[first:last] for name, column in table.items()},
        "film",
        unit="mil",
        stream="gun",
        time="when",
        period="period",
        longest_gap=timedelta(hours=2.5),
        excluded="excluded",
        center="center",
        sigma_point="sigma",
    )


@given(
    st.lists(ROW, max_size=60),
    st.lists(st.integers(0, 60), max_size=5),
    st.booleans(),
    st.sampled_from([sf.BEYOND_LIMITS, sf.NELSON, sf.WESTERN_ELECTRIC]),
)
def test_any_cut_gives_the_bits_of_the_whole(
    rows: list[tuple[int, int, str, int, int]], cuts: list[int], mark: bool, rules: tuple[str, ...]
) -> None:
    limits = sf.MonitorLimits(rules=rules, mark_every_signal=mark, ewma_multiple=2.0)
    table = _points(rows)
    whole = sf.monitor(limits, None, _piece(table, 0, len(rows)))

    state = None
    z: list[int] = []
    ewma: list[int] = []
    signals: list[sf.Signal] = []
    episodes: list[tuple[Any, ...]] = []
    borders = sorted({0, len(rows), *(cut for cut in cuts if cut <= len(rows))})
    for first, last in itertools.pairwise(borders):
        found = sf.monitor(limits, state, _piece(table, first, last))
        state = sf.MonitorState.from_json(found.state.to_json())
        assert state == found.state
        z += bits(found.z)
        ewma += bits(found.ewma)
        signals += [sf.Signal(s.point + first, s.rule, s.side, s.length) for s in found.signals]
        episodes += [(e.stream, e.point + first, e.rules, e.side, e.length, e.z) for e in found.episodes]
    assert z == bits(whole.z)
    assert ewma == bits(whole.ewma)
    assert tuple(signals) == whole.signals
    assert episodes == [(e.stream, e.point, e.rules, e.side, e.length, e.z) for e in whole.episodes]
    if state is not None:
        assert state == whole.state


def test_streams_together_equal_each_alone() -> None:
    rng = np.random.default_rng(5)
    names = rng.choice(["A", "B", "one point", "C"], size=90, p=[0.4, 0.3, 0.0, 0.3]).astype(object)
    names[17] = "one point"
    values = rng.normal(0.0, 1.5, 90)
    limits = sf.MonitorLimits(rules=sf.NELSON)
    together = sf.monitor(limits, None, sf.monitor_points(values, unit="mil", stream=names))
    count = 0
    for name in set(names):
        rows = np.flatnonzero(names == name)
        alone = sf.monitor(limits, None, values[rows], unit="mil")
        assert bits(together.ewma[rows]) == bits(alone.ewma)
        moved = [sf.Signal(int(rows[s.point]), s.rule, s.side, s.length) for s in alone.signals]
        assert moved == [s for s in together.signals if names[s.point] == name]
        count += len(moved)
    assert count == len(together.signals) > 0


def test_points_of_a_stream_are_taken_in_the_order_of_time() -> None:
    limits = sf.MonitorLimits(rules=("trend3",), smoothing=0.0)
    times = ["2026-03-02 10:00", "2026-03-02 08:00", "2026-03-02 09:00"]
    found = sf.monitor(limits, None, sf.monitor_points([3.0, 1.0, 2.0], unit="mil", time=times))
    assert [(e.point, e.first_point) for e in found.episodes] == [(0, 1)]


def test_an_episode_clears_the_memory_and_marks_go_on() -> None:
    run = [0.5] * 12
    limits = sf.MonitorLimits(rules=("8of8_beyond0_one",), smoothing=0.0)
    found = sf.monitor(limits, None, run)
    assert [s.point for s in found.signals] == [7]
    marking = sf.monitor(sf.MonitorLimits(rules=("8of8_beyond0_one",), smoothing=0.0, mark_every_signal=True), None, run)
    assert [s.point for s in marking.signals] == [7, 8, 9, 10, 11]
    assert [e.point for e in marking.episodes] == [e.point for e in found.episodes] == [7]


def test_an_episode_that_began_in_an_earlier_piece_says_its_length() -> None:
    limits = sf.MonitorLimits(rules=("8of8_beyond0_one",), smoothing=0.0)
    first = sf.monitor(limits, None, [0.5] * 6)
    (episode,) = sf.monitor(limits, first.state, [0.5] * 3).episodes
    assert (episode.point, episode.length, episode.first_point) == (1, 8, None)


def test_the_ewma_equals_its_recursion_and_limit() -> None:
    values = np.random.default_rng(8).normal(0.0, 0.5, 40)
    found = sf.monitor(sf.MonitorLimits(rules=(), ewma_multiple=50.0), None, values)
    level, levels = 0.0, []
    for value in values:
        level = 0.2 * value + 0.8 * level
        levels.append(level)
    assert found.ewma == pytest.approx(levels, rel=1e-12)
    assert found.ewma_limit == pytest.approx(50.0 * math.sqrt(0.2 / 1.8))


def test_points_judged_twice_are_refused() -> None:
    limits = sf.MonitorLimits()
    times = ["2026-03-02 08:00", "2026-03-02 09:00"]
    points = sf.monitor_points([0.1, 0.2], unit="mil", time=times)
    first = sf.monitor(limits, None, points)
    with pytest.raises(sf.InvalidInputError, match=r"begin at 2026-03-02T08:00.*were they judged already"):
        sf.monitor(limits, first.state, points)


def test_a_state_of_other_rules_is_refused() -> None:
    state = sf.monitor(sf.MonitorLimits(), None, [0.1]).state
    with pytest.raises(sf.InvalidInputError, match=r"left under rules .* start again with state=None"):
        sf.monitor(sf.MonitorLimits(rules=sf.NELSON), state, [0.1])
    with pytest.raises(sf.InvalidInputError, match=r"left under smoothing 0\.2"):
        sf.monitor(sf.MonitorLimits(smoothing=0.1), state, [0.1])


def test_limits_go_through_json_and_say_their_words() -> None:
    limits = sf.MonitorLimits(center=2.1, sigma_point=0.05, rules=sf.WESTERN_ELECTRIC)
    assert sf.MonitorLimits.from_json(limits.to_json()) == limits
    assert limits.words == (*sf.WESTERN_ELECTRIC, "ewma0.2_beyond2.86")
    assert describe(limits.words[-1]) == "weighted average (EWMA, smoothing 0.2) beyond 2.86 of its sigma"


def test_spread_charts_take_points_beyond_limits_only() -> None:
    found = sf.monitor(sf.spread_limits(0.09, 0.03), None, [0.1] * 20 + [0.2], unit="mil")
    assert [(e.point, e.side) for e in found.episodes] == [(20, "above")]
    with pytest.raises(sf.InvalidInputError, match=r"takes '1of1_beyond\.\.\.' rules only, got '8of8_beyond0_one'"):
        sf.MonitorLimits(chart="spread", rules=("8of8_beyond0_one",), smoothing=0.0)
    with pytest.raises(sf.InvalidInputError, match="no EWMA"):
        sf.MonitorLimits(chart="spread")


def test_missing_points_are_refused_or_stay_in_their_place() -> None:
    with pytest.raises(sf.DataProblemsError, match="row 2: reading is missing"):
        sf.monitor_points([0.1, None, 0.2], unit="mil")
    with pytest.warns(sf.MissingDataWarning):
        points = sf.monitor_points([0.5, None, 0.5], unit="mil", missing="drop")
    found = sf.monitor(sf.MonitorLimits(rules=("2of2_beyond0_one",)), None, points)
    assert found.signals == ()
    assert found.left_out_count == 1
    assert math.isnan(found.z[1])
    assert found.ewma[1] == found.ewma[0]


def test_refusals_name_what_is_wrong() -> None:
    with pytest.raises(sf.InvalidInputError, match="ewma_limits must be one of asymptotic, time_varying"):
        sf.MonitorLimits(ewma_limits="wide")  # type: ignore[arg-type]  # the refusal is what is tested
    with pytest.raises(sf.InvalidInputError, match="is not a rule word"):
        sf.MonitorLimits(rules=("rule 1",))
    with pytest.raises(sf.InvalidInputError, match="sigma_point must be positive and finite, got 0"):
        sf.monitor(sf.MonitorLimits(sigma_point=0.0), None, [0.1])
    with pytest.raises(sf.InvalidInputError, match="longest_gap needs time"):
        sf.monitor_points([0.1], unit="mil", longest_gap=timedelta(hours=1))
    with pytest.raises(sf.DataProblemsError, match="column 'gun', row 2: label is missing"):
        sf.monitor_points({"x": [1.0, 2.0], "gun": ["A", None]}, "x", unit="mil", stream="gun")
    with pytest.raises(sf.DataProblemsError, match="is neither true nor false"):
        sf.monitor_points([1.0, 2.0], unit="mil", excluded=[True, "no"])
    with pytest.raises(sf.InvalidInputError, match="period has 1 rows, the points have 2"):
        sf.monitor_points([1.0, 2.0], unit="mil", period=["a"])
    with pytest.raises(sf.InvalidInputError, match="'gun' names a column, yet the readings came without a table"):
        sf.monitor_points([1.0, 2.0], unit="mil", time="gun")


def test_the_module_can_be_called_as_its_function() -> None:
    import steadyfilm.monitor as module

    assert sf.monitor is module
    assert sf.monitor(sf.MonitorLimits(), None, [0.1]) == module.monitor(sf.MonitorLimits(), None, [0.1])
