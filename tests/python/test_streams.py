"""Many streams: against NumPy, alone and in a batch, in any order, with any threads; what moved is named, the rest not."""

from __future__ import annotations

import hashlib
import itertools
import warnings
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm import _core
from test_instruction_set import run_with

from reference import Args, adapter


@adapter("streams_chart")
def _streams(args: Args) -> dict[str, Any]:
    values, offsets = args.list("values"), [int(x) for x in args.list("offsets")]
    # Moments that no two streams share: each is compared with its own center.
    names = [f"{s:02d}" for s, (a, b) in enumerate(itertools.pairwise(offsets)) for _ in range(b - a)]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", sf.ConstantDataWarning)  # one of the rows is constant on purpose
        found = sf.streams(
            {"x": values, "s": names, "t": moments(len(values))},
            "x",
            unit="",
            stream="s",
            time="t",
            sigma_multiple=args.number("sigma_multiple"),
            smoothing=args.number("smoothing"),
            fewest_points=args.count("fewest_points"),
        )
    return {
        "center": found.center,
        "sigma_within": found.sigma_difference,
        "lower": found.center + found.lower,
        "upper": found.center + found.upper,
    }


def moments(count: int) -> np.ndarray[Any, Any]:
    return np.datetime64("2026-03-02T06:00", "m") + np.arange(count) * np.timedelta64(1, "h")


def grid(rounds: int = 120, width: int = 6, *, seed: int = 3, common: float = 0.04) -> np.ndarray[Any, Any]:
    """Rounds by streams: own noise, noise common to all, and a standing difference of each."""
    rng = np.random.default_rng(seed)
    own = rng.normal(0.0, 0.05, (rounds, width)) + rng.normal(0.0, common, (rounds, 1))
    return np.asarray(2.1 + own + rng.normal(0.0, 0.2, width))


def tabled(x: np.ndarray[Any, Any], names: list[str] | None = None) -> dict[str, Any]:
    rounds, width = x.shape
    names = names or [f"V{i}" for i in range(width)]
    return {"film": x.ravel(), "gun": names * rounds, "when": np.repeat(moments(rounds), width)}


def chart(table: dict[str, Any], **options: Any) -> sf.StreamsChart:
    return sf.streams(table, "film", **{"unit": "mil", "stream": "gun", "time": "when", **options})


def moved_grid() -> np.ndarray[Any, Any]:
    x = grid()
    x[70:, 2] += 0.3
    x[90:] -= 0.25
    return x


def example_results() -> list[sf.StreamsChart]:
    few = tabled(grid(30, 3, seed=8))
    for column in few:
        few[column] = [*few[column], *(few[column][i] for i in range(4))]
    few["gun"][-4:] = ["late"] * 4
    return [chart(tabled(moved_grid())), chart(few, sigma_multiple=3.0), chart(tabled(grid(25, 1)))]


# -- numbers ------------------------------------------------------------------------------------------------------------


def test_differences_and_limits_agree_with_numpy() -> None:
    x = grid()
    found = chart(tabled(x), sigma_multiple=3.0, smoothing=0.0)
    deviation = x - x.mean(axis=0)
    width = x.shape[1]
    others = deviation[:, found.reference].sum(axis=1, keepdims=True) - deviation * found.reference
    difference = deviation - others / (found.reference.sum() - found.reference)
    assert 3 <= found.reference.sum() <= width
    assert found.comparison == "others"
    assert found.center == pytest.approx(x.mean(axis=0), rel=1e-14)
    assert found.level == pytest.approx(deviation[:, found.reference].mean(axis=1), abs=1e-14)
    assert np.abs(found.difference.reshape(width, -1).T - difference).max() < 1e-14
    sigma = np.abs(np.diff(difference, axis=0)).mean(axis=0) * np.sqrt(np.pi) / 2
    assert found.sigma_difference == pytest.approx(sigma, rel=1e-12)
    assert found.upper == pytest.approx(difference.mean(axis=0) + 3 * sigma, rel=1e-9)
    beyond = (np.abs(difference - difference.mean(axis=0)) > 3 * sigma).sum(axis=0)
    assert found.beyond_count.tolist() == beyond.tolist()


def test_the_ewma_agrees_with_a_plain_loop() -> None:
    found = chart(tabled(moved_grid()))
    for s in range(found.stream_count):
        d = found.difference[found.points_of(s)]
        z, want = d.mean(), []
        for value in d:
            z = 0.2 * value + 0.8 * z
            want.append(z)
        assert found.ewma[found.points_of(s)] == pytest.approx(want, abs=1e-12)


def test_limits_hold_the_stated_chance_of_any_false_alarm() -> None:
    alarms = 0
    for seed in range(120):
        found = chart(tabled(grid(40, 8, seed=seed)), false_alarm=0.05)
        alarms += bool((found.state != "quiet").any() or found.common_state != "quiet")
    # At most 5 % are promised; 13 of 120 would be four standard errors above.
    assert alarms <= 12
    assert found.expected_false == pytest.approx(0.05, rel=0.05)
    wide = chart(tabled(grid(40, 8)), sigma_multiple=3.0)
    assert wide.expected_false == pytest.approx(0.0027 * (8 * 40 + 40) * 2, rel=0.001)


# -- what moved ---------------------------------------------------------------------------------------------------------


def test_a_change_of_one_and_a_change_of_all_are_told_apart() -> None:
    found = chart(tabled(moved_grid()))
    assert found.state.tolist() == ["quiet", "quiet", "moved", "quiet", "quiet", "quiet"]
    assert abs(int(found.change_moment[2]) - 70) <= 2
    assert found.change[2] == pytest.approx(0.3, abs=0.05)
    assert found.common_state == "moved"
    assert abs(found.common_change_moment - 90) <= 2
    assert found.common_change == pytest.approx(-0.25, abs=0.06)
    assert found.reference.tolist() == [True, True, False, True, True, True]
    assert found.sentence().startswith("1 of 6 streams moved against the others: V2 by +0.")
    assert "the level common to all moved by -0.2" in found.sentence()


@pytest.mark.parametrize("width", [3, 5, 30])
def test_the_others_are_not_blamed_for_a_large_change_of_one(width: int) -> None:
    x = grid(100, width, seed=width)
    x[50:, 1] += 2.0
    found = chart(tabled(x))
    assert np.flatnonzero(found.state == "moved").tolist() == [1]
    assert found.common_state == "quiet"


def test_with_two_streams_it_is_said_that_either_may_have_moved() -> None:
    x = grid(100, 2)
    x[50:, 1] += 0.5
    assert "does not tell which of them moved" in chart(tabled(x)).sentence()


def test_a_single_freak_point_is_no_change() -> None:
    x = grid(100, 6)
    x[50, 4] += 1.0
    found = chart(tabled(x))
    assert found.state[4] == "single point"
    assert found.moved_count == 0
    assert "a single point is off in V4" in found.sentence()


def test_streams_that_never_meet_are_compared_with_their_own_centers_and_can_be_gathered() -> None:
    x = moved_grid()
    table = tabled(x)
    table["when"] = moments(x.size)
    apart = chart(table)
    assert apart.comparison == "center"
    assert "give every=" in apart.sentence()
    table["when"] = np.repeat(moments(120)[0] + np.arange(120) * np.timedelta64(1, "D"), 6) + np.tile(
        np.arange(6), 120
    ) * np.timedelta64(1, "h")
    gathered = chart(table, every=timedelta(days=1))
    assert gathered.comparison == "others"
    assert gathered.difference == pytest.approx(chart(tabled(x)).difference, abs=1e-12)


def test_points_of_a_stream_at_one_moment_are_averaged_and_counted() -> None:
    table = tabled(grid(40, 3))
    twice = {name: np.concatenate([np.asarray(column), np.asarray(column)]) for name, column in table.items()}
    found = chart(twice)
    assert found.difference == pytest.approx(chart(table).difference, abs=1e-12)
    assert "120 points of a stream at one moment averaged" in str(found.explain())


# -- the same whatever stands beside it ---------------------------------------------------------------------------------


def unequal(streams: int = 40) -> tuple[Any, Any, Any]:
    rng = np.random.default_rng(2)
    lengths = rng.integers(0, 90, streams)
    lengths[:3] = (0, 1, 2)
    values = rng.normal(2.0, 0.1, int(lengths.sum()))
    values[::37] += 0.6
    return values, np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64), lengths


def core(values: Any, offsets: Any, threads: int = 1) -> tuple[dict[str, Any], Any]:
    ewma = np.empty(values.size)
    return _core.chart_streams(values, np.empty(0, np.uint8), offsets, np.array([3.0]), 0.2, 20, threads, ewma), ewma


def test_a_stream_in_a_batch_equals_itself_alone_to_the_bit() -> None:
    values, offsets, lengths = unequal()
    whole, ewma = core(values, offsets)
    for s, length in enumerate(lengths):
        part = np.ascontiguousarray(values[offsets[s] : offsets[s + 1]])
        alone, own = core(part, np.array([0, length], dtype=np.int64))
        for name in ("center", "sigma_within", "lower", "upper"):
            assert alone[name].tobytes() == whole[name][s : s + 1].tobytes() or np.isnan(whole[name][s])
        assert own.tobytes() == ewma[offsets[s] : offsets[s + 1]].tobytes()
        mine = whole["signal_stream"] == s
        assert (whole["signal_point"][mine] - offsets[s]).tolist() == alone["signal_point"].tolist()


@pytest.mark.parametrize("threads", [2, 4])
def test_threads_change_nothing(threads: int) -> None:
    table = tabled(moved_grid())
    assert chart(table, threads=threads) == chart(table, threads=1)


_HASHED = """
import hashlib, numpy as np
from steadyfilm import _core
rng = np.random.default_rng(5)
offsets = np.concatenate([[0], np.cumsum(rng.integers(0, 300, 70))]).astype(np.int64)
values = rng.normal(2.0, 0.1, offsets[-1]); ewma = np.empty(values.size)
found = _core.chart_streams(values, np.empty(0, np.uint8), offsets, np.array([3.0]), 0.2, 20, 2, ewma)
content = ewma.tobytes() + b"".join(found[name].tobytes() for name in sorted(found))
print(hashlib.sha256(content).hexdigest())
"""


def test_every_instruction_set_gives_the_same_bits() -> None:
    done = [run_with(name, _HASHED) for name in ("baseline", _core.instruction_set())]
    assert [run.returncode for run in done] == [0, 0], done[0].stderr
    assert len({run.stdout for run in done}) == 1
    assert len(done[0].stdout.strip()) == len(hashlib.sha256().hexdigest())


def test_the_order_of_rows_and_of_streams_does_not_matter() -> None:
    table = tabled(moved_grid())
    mixed = np.random.default_rng(9).permutation(len(table["film"]))
    again = {name: [column[i] for i in mixed] for name, column in table.items()}
    assert chart(again).to_dict() == chart(table).to_dict()
    names = ["V5", "V4", "V3", "V2", "V1", "V0"]
    turned = chart(tabled(moved_grid(), names))
    assert turned.state.tolist() == chart(table).state.tolist()[::-1]
    assert turned.center.tolist() == chart(table).center.tolist()[::-1]
    assert turned.upper[::-1] == pytest.approx(chart(table).upper, rel=1e-12)


# -- edges --------------------------------------------------------------------------------------------------------------


def test_a_stream_with_too_few_points_has_no_limits_and_it_is_said() -> None:
    x = grid(60, 4)
    x[10:, 3] = np.nan
    table = tabled(x)
    with pytest.raises(sf.DataProblemsError, match="reading is missing"):
        chart(table)
    with pytest.warns(sf.MissingDataWarning):
        found = chart(table, missing="drop")
    assert found.state.tolist() == ["quiet", "quiet", "quiet", "too few points"]
    assert np.isnan(found.upper[3])
    assert not found.reference[3]
    assert "no limits of its own, fewer than 20 points compared: V3 (10)" in found.sentence()


def test_one_stream_one_point_and_constant_streams_are_answers() -> None:
    assert chart(tabled(grid(30, 1))).sentence().startswith("None of 1 stream moved against its own center")
    one = chart({"film": [2.0], "gun": ["A"], "when": moments(1)})
    assert one.state.tolist() == ["too few points"]
    assert "none with the 20 points" in one.sentence()
    with pytest.warns(sf.ConstantDataWarning):
        flat = chart(tabled(np.full((30, 3), 2.0)))
    assert flat.state.tolist() == ["quiet"] * 3
    assert flat.upper.tolist() == [0.0] * 3


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"false_alarm": 0.0}, "false_alarm must lie between"),
        ({"sigma_multiple": -1.0}, "sigma_multiple must be positive"),
        ({"smoothing": 2.0}, "smoothing must lie between"),
        ({"fewest_points": 1}, "fewest_points must be 2"),
        ({"time": None, "every": timedelta(1)}, "every needs time"),
        ({"every": timedelta(0)}, "every must be a stretch"),
        ({"stream": "gnu"}, "nearest names: 'gun'"),
        ({"stream": "film", "time": "gun"}, "not an ISO 8601 time"),
    ],
)
def test_what_cannot_be_meant_is_refused(options: dict[str, Any], words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        chart(tabled(grid(30, 2)), **options)


def test_an_empty_table_and_absent_labels_are_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="has no points"):
        chart({"film": [], "gun": [], "when": []})
    table = tabled(grid(30, 2))
    table["gun"][5] = None
    with pytest.raises(sf.DataProblemsError, match=r"column 'gun', row 6: label is missing"):
        chart(table)


HOSTILE = [r"$\bad$", "<script>alert(1)</script>", "line\nbreak\x1b[31m", "", "übel / 塗装", "x" * 90]


def test_hostile_names_are_shown_as_what_they_are() -> None:
    x = grid(60, 6)
    x[30:, :3] += 0.6
    found = chart(tabled(x, HOSTILE), fewest_points=10)
    assert set(found.stream) == set(HOSTILE)
    assert "\x1b" not in found.sentence()
    assert "\n" not in found.sentence()
    assert "<script" not in found._repr_html_()
    assert sf.StreamsChart.from_json(found.to_json()) == found


def test_ten_thousand_streams_go_in_one_call() -> None:
    rng = np.random.default_rng(1)
    x = rng.normal(2.0, 0.1, (30, 10_000))
    x[15:, 4321] += 1.5
    found = sf.streams({"film": x.ravel(), "sensor": np.tile(np.arange(10_000), 30)}, "film", unit="um", stream="sensor")
    assert found.stream[found.state == "moved"].tolist() == ["4321"]
    assert len(found.to_frame("dict")["stream"]) == 10_000
