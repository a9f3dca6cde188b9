"""Judge new points against limits that were fixed before, piece by piece.

``monitor(limits, state, points)`` gives signals, episodes and the state for the next piece. Any cut of a series into pieces gives
the same bits as the whole. Limits and state are plain and go through JSON unchanged.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Self

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._callable import make_callable
from steadyfilm._format import plural, with_unit
from steadyfilm._input import check_options
from steadyfilm._points import MonitorPoints, breaks_in_order, monitor_points, order_of
from steadyfilm._result import Explanation, Made, Result, Step, _build, _plain_fields, build, frozen
from steadyfilm.errors import InvalidInputError
from steadyfilm.run_rules import BEYOND_LIMITS, SIDES, Signal, describe, flags, numbers

__all__ = ["Episode", "MonitorLimits", "MonitorPoints", "MonitorState", "Monitored", "monitor", "monitor_points", "spread_limits"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Labels = NDArray[np.object_]
Times = NDArray[np.datetime64]


class _Plain:
    """To plain values and JSON text, and back."""

    def to_dict(self) -> dict[str, Any]:
        """All content as plain Python values, ready for JSON."""
        return _plain_fields(self)

    @classmethod
    def from_dict(cls, content: Mapping[str, Any]) -> Self:
        """The object whose ``to_dict`` this is."""
        return _build(cls, content)

    def to_json(self) -> str:
        """All content as JSON text; ``from_json`` gives an equal object back."""
        return json.dumps(self.to_dict(), ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_json(cls, text: str) -> Self:
        """The object whose ``to_json`` this is."""
        return cls.from_dict(json.loads(text))


@dataclass(frozen=True)
class MonitorLimits(_Plain):
    """Limits, rules and options of one kind of chart; plain, so that a plan can hold them.

    By default one point beyond three sigma, and an EWMA with smoothing 0.2 and limits at 2.86 of its own standard deviations,
    each about one false call in 370 independent normal points. A review moves these lines to keep its alarm budget.

    Attributes
    ----------
    center, sigma_point : float
        For points that bring none of their own, in the unit of the data; ``sigma_point`` is the standard deviation of a plotted
        point.
    rules : tuple of rule words
    smoothing, ewma_multiple : float
        Of the EWMA of z = (value - center) / sigma_point; smoothing 0 means no EWMA.
    ewma_limits : {"asymptotic", "time_varying"}
        Limits at their end value from the start, or widening from each restart.
    chart : {"location", "spread"}
        A spread chart (range, standard deviation, moving range) takes "one point beyond" rules only and no EWMA.
    last_point_beyond : bool
        k of m is met only at a point that is itself a hit.
    mark_every_signal : bool
        Signals mark every point at which a rule is met, as on a retrospective chart. Episodes are the same either way.
    """

    center: float = 0.0
    sigma_point: float = 1.0
    rules: tuple[str, ...] = BEYOND_LIMITS
    smoothing: float = 0.2
    ewma_multiple: float = 2.86
    ewma_limits: Literal["asymptotic", "time_varying"] = "asymptotic"
    chart: Literal["location", "spread"] = "location"
    last_point_beyond: bool = True
    mark_every_signal: bool = False

    def __post_init__(self) -> None:
        """Refuse what the core would not understand, at the place where it was written."""
        check_options(MonitorLimits, vars(self))
        object.__setattr__(self, "rules", (self.rules,) if isinstance(self.rules, str) else tuple(self.rules))
        for name, value, known in (
            ("ewma_limits", self.ewma_limits, ("asymptotic", "time_varying")),
            ("chart", self.chart, ("location", "spread")),
        ):
            if value not in known:
                raise InvalidInputError(f"{name} must be one of {', '.join(known)}, got {value!r}", argument=name)
        for rule in self.rules:
            describe(rule)
            if self.chart == "spread" and not rule.startswith("1of1_beyond"):
                raise InvalidInputError(f"a spread chart takes '1of1_beyond...' rules only, got {rule!r}", argument="rules")
        if self.chart == "spread" and self.smoothing != 0.0:
            raise InvalidInputError("a spread chart has no EWMA: write smoothing=0", argument="smoothing")

    @property
    def words(self) -> tuple[str, ...]:
        """The rule words, the EWMA's last when there is one."""
        ewma = (f"ewma{self.smoothing:.12g}_beyond{self.ewma_multiple:.12g}",) if self.smoothing else ()
        return self.rules + ewma

    def for_core(self) -> dict[str, Any]:
        """The fields as the compiled core takes them."""
        return {
            "center": self.center,
            "sigma_point": self.sigma_point,
            "rules": list(self.rules),
            "smoothing": self.smoothing,
            "ewma_multiple": self.ewma_multiple,
            "ewma_time_varying": self.ewma_limits == "time_varying",
            "last_point_beyond": self.last_point_beyond,
            "mark_every_signal": self.mark_every_signal,
        }


def spread_limits(center: float, sigma_point: float, *, sigma_multiple: float = 3.0) -> MonitorLimits:
    """Limits of a range, standard deviation or moving-range chart: one point beyond a limit, nothing else.

    Parameters
    ----------
    center, sigma_point : float
        Expected spread and the standard deviation of a plotted spread (d2 sigma_within and d3 sigma_within for ranges).

    Examples
    --------
    >>> spread_limits(0.093, 0.034).words
    ('1of1_beyond3_one',)
    """
    check_options(spread_limits, locals())
    return MonitorLimits(
        center=center,
        sigma_point=sigma_point,
        rules=(f"1of1_beyond{sigma_multiple:.12g}_one",),
        smoothing=0.0,
        chart="spread",
    )


@dataclass(frozen=True, eq=False)
class MonitorState(_Plain):
    """What each stream remembers between two pieces: counts, the rules' memory and the unfinished block of the EWMA.

    ``memory`` holds one array a name, stream after stream: last values as z, hits among the earlier points as bits (newest in
    bit 0), steps of trends and alternations, the EWMA before its unfinished block and the z of that block.
    """

    streams: tuple[str, ...]
    rules: tuple[str, ...]
    smoothing: float
    mark_every_signal: bool
    last_period: tuple[str | None, ...]
    last_time: tuple[str | None, ...]
    memory: dict[str, NDArray[Any]]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, MonitorState) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(self.to_json())


@dataclass(frozen=True)
class Episode:
    """A point at which one or more rules were met, after which the chart's memory was cleared.

    ``point`` is the row from 0; ``length`` counts the stream's points from the first of the longest pattern to this one (for the
    EWMA, those since it came to this side of the center), ``first_point`` is the row of that first one, None when it lies in an
    earlier piece.
    """

    stream: str
    point: int
    rules: tuple[str, ...]
    side: str
    length: int
    first_point: int | None
    z: float


@dataclass(frozen=True, eq=False, repr=False)
class Monitored(Result):
    """What the points of one piece show, in the caller's row order, and the state for the next piece.

    ``z`` is NaN where a point takes no part; ``ewma`` is carried over such points and NaN without smoothing. ``ewma_limit`` is
    the distance of the EWMA's limits from the center in sigma of a point (their end value), 0 without smoothing.
    ``break_before`` is True where a stream's runs and EWMA started anew: after a long pause, at a new period, or where asked.
    """

    _plot: ClassVar[str] = "monitor:plot_monitored"

    limits: MonitorLimits
    state: MonitorState
    stream: Labels
    time: Times | None
    value: Floats
    center: Floats
    sigma_point: Floats
    z: Floats
    ewma: Floats
    takes_part: Bools
    break_before: Bools
    signals: tuple[Signal, ...]
    episodes: tuple[Episode, ...]
    point_count: int
    left_out_count: int
    used_count: int
    ewma_limit: float
    notes: tuple[str, ...]

    def sentence(self) -> str:
        streams = sorted(set(self.stream.tolist()))
        among = plural(self.used_count, "point") + (f" of {plural(len(streams), 'stream')}" if len(streams) > 1 else "")
        left = f" ({plural(self.left_out_count, 'point')} left out)" if self.left_out_count else ""
        if not self.episodes:
            return f"No signal among {among}{left}."
        first = self.episodes[0]
        of = f" of {first.stream}" if first.stream else ""
        unit = self.made.unit
        where = f"{with_unit(float(self.value[first.point]), unit)}, center {with_unit(float(self.center[first.point]), unit)}"
        side = "" if first.side == "both" else f", {first.side}"
        what = " and ".join(describe(rule) for rule in first.rules)
        count = plural(len(self.episodes), "episode")
        return f"{count} among {among}{left}; first at point {first.point + 1}{of} ({where}): {what}{side}."

    def _columns(self) -> dict[str, Any]:
        met: list[list[str]] = [[] for _ in range(self.point_count)]
        for signal in self.signals:
            met[signal.point].append(signal.rule)
        begins = np.zeros(self.point_count, dtype=bool)
        begins[[episode.point for episode in self.episodes]] = True
        when = {} if self.time is None else {"time": self.time}
        return {
            "point": np.arange(1, self.point_count + 1),
            **when,
            "stream": self.stream,
            "value": self.value,
            "center": self.center,
            "sigma_point": self.sigma_point,
            "z": self.z,
            "ewma": self.ewma,
            "takes_part": self.takes_part,
            "break_before": self.break_before,
            "signals": np.array(["; ".join(words) for words in met], dtype=object),
            "episode": begins,
        }

    def explain(self) -> Explanation:
        counts = {"point_count": self.point_count, "left_out_count": self.left_out_count}
        steps = [Step("used_count", "point_count - left_out_count", counts, self.used_count)]
        used = np.flatnonzero(self.takes_part)
        if self.episodes or used.size:
            i = self.episodes[0].point if self.episodes else int(used[0])
            inputs = {"value": self.value[i], "center": self.center[i], "sigma_point": self.sigma_point[i]}
            steps.append(Step(f"z_{i + 1}", "(value - center) / sigma_point", inputs, self.z[i]))
        limits = self.limits
        if limits.smoothing:
            inputs = {"ewma_multiple": limits.ewma_multiple, "smoothing": limits.smoothing}
            steps.append(Step("ewma_limit", "ewma_multiple * sqrt(smoothing / (2 - smoothing))", inputs, self.ewma_limit))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "rules": "; ".join(f"{word} ({describe(word)})" for word in limits.words) or "none",
                "episodes": "start at a signal; all memory of that chart is then cleared",
                "signals": "every point that meets a rule" if limits.mark_every_signal else "those that start an episode",
                "ewma_limits": limits.ewma_limits if limits.smoothing else "no EWMA",
                "missing and excluded points": "take no part and break runs; the EWMA is carried over them",
                "gaps and new periods": f"{int(self.break_before.sum())}; runs and EWMA start anew",
                **({"notes": "; ".join(self.notes)} if self.notes else {}),
            },
            sources=("cpp/methods/monitor.md", "cpp/methods/run_rules.md"),
        )


def monitor(limits: MonitorLimits, state: MonitorState | None, points: Any, *, unit: str = "") -> Monitored:
    """Judge a piece of one or many streams against fixed limits.

    Parameters
    ----------
    limits : MonitorLimits
        Rules and options, and the center and sigma of points that bring none of their own.
    state : MonitorState or None
        What the piece before left (``Monitored.state``); None at the start. Streams that are new begin afresh.
    points : MonitorPoints, or a sequence of numbers for a single stream
        See ``monitor_points`` and ``baseline.points_for``. Within a stream, points with times are taken in the order of time,
        else of rows.
    unit : str
        Unit of the values when ``points`` is a plain sequence.

    Returns
    -------
    Monitored
        z, EWMA, signals, episodes, and the state for the next piece.

    Raises
    ------
    InvalidInputError
        A state left by other rules or smoothing; points older than the last one judged; a center or sigma that cannot be used.

    Examples
    --------
    >>> limits = MonitorLimits(center=2.10, sigma_point=0.05)
    >>> monday = monitor(limits, None, [2.12, 2.08, 2.11], unit="mil")
    >>> tuesday = monitor(limits, monday.state, [2.27, 2.10], unit="mil")
    >>> tuesday.sentence()
    '1 episode among 2 points; first at point 1 (2.27 mil, center 2.1 mil): 1 point beyond 3 sigma, above.'
    """
    check_options(monitor, locals())
    if not isinstance(points, MonitorPoints):
        points = monitor_points(points, unit=unit)
    _check_state(limits, state)
    before = state or MonitorState((), limits.rules, limits.smoothing, limits.mark_every_signal, (), (), {})
    order, offsets, streams = order_of(points, before.streams)
    height = points.value.size
    earlier = dict(zip(before.streams, zip(before.last_period, before.last_time, strict=True), strict=True))

    breaks = breaks_in_order(points, order, offsets, [earlier.get(name) for name in streams])
    found = _core.monitor(
        limits.for_core(),
        _spread_memory(before, streams),
        points.value[order],
        flags(points.takes_part, "takes_part", height)[order],
        breaks,
        _in_order(points.center, order),
        _in_order(points.sigma_point, order),
        offsets,
    )
    ends = [int(order[offsets[i + 1] - 1]) if offsets[i + 1] > offsets[i] else None for i in range(len(streams))]
    after = MonitorState(
        streams=streams,
        rules=limits.rules,
        smoothing=limits.smoothing,
        mark_every_signal=limits.mark_every_signal,
        last_period=_last(points.period, ends, [earlier.get(name, (None, None))[0] for name in streams]),
        last_time=_last(points.time, ends, [earlier.get(name, (None, None))[1] for name in streams]),
        memory={name: frozen(values) for name, values in sorted(found["state"].items())},
    )
    z = _restored(found["z"], order)
    used = int(points.takes_part.sum())
    made = Made(
        function="monitor",
        unit=points.unit,
        count=height,
        missing_rows=points.missing_rows,
        frame=points.frame,
        options={"continued": state is not None},
        version=_core.version,
    )
    return build(
        Monitored,
        {},
        made=made,
        limits=limits,
        state=after,
        stream=points.stream,
        time=points.time,
        value=points.value,
        center=_filled(points.center, limits.center, height),
        sigma_point=_filled(points.sigma_point, limits.sigma_point, height),
        z=z,
        ewma=_restored(found["ewma"], order) if limits.smoothing else np.full(height, math.nan),
        takes_part=points.takes_part,
        break_before=_restored(breaks.astype(bool), order),
        signals=_signals(found["signals"], limits, order),
        episodes=_episodes(found["episodes"], limits, order, offsets, streams, z),
        point_count=height,
        left_out_count=height - used,
        used_count=used,
        ewma_limit=limits.ewma_multiple * math.sqrt(limits.smoothing / (2 - limits.smoothing)),
        notes=points.notes,
    )


def _check_state(limits: MonitorLimits, state: MonitorState | None) -> None:
    if state is None:
        return
    for name in ("rules", "smoothing", "mark_every_signal"):
        left, now = getattr(state, name), getattr(limits, name)
        if left != now:
            raise InvalidInputError(
                f"the state was left under {name} {left!r}, the limits have {now!r}: start again with state=None",
                function="monitor",
                argument="state",
            )


def _spread_memory(state: MonitorState, streams: Sequence[str]) -> dict[str, NDArray[Any]]:
    """The arrays of a state with a place for every stream of this piece; a new stream's numbers are 0."""
    if not state.streams:
        return {}
    index = {name: i for i, name in enumerate(streams)}
    places = [index[name] for name in state.streams]
    wide = {}
    for name, values in state.memory.items():
        rows = values.reshape(len(state.streams), -1)
        out = np.zeros((len(streams), rows.shape[1]), dtype=values.dtype)
        out[places] = rows
        wide[name] = np.ascontiguousarray(out.ravel())
    return wide


def _in_order(values: Floats | None, order: NDArray[np.intp]) -> Floats:
    return np.empty(0) if values is None else numbers(values[order], "values")


def _restored(values: NDArray[Any], order: NDArray[np.intp]) -> NDArray[Any]:
    """Back from the order of judging to the caller's rows."""
    out = np.empty_like(values)
    out[order] = values
    return out


def _filled(values: Floats | None, otherwise: float, count: int) -> Floats:
    return np.full(count, float(otherwise)) if values is None else values


def _last(values: NDArray[Any] | None, ends: Sequence[int | None], before: Sequence[str | None]) -> tuple[str | None, ...]:
    """Each stream's last label or time; the remembered one when the piece brings none."""
    return tuple(
        old if end is None or values is None else None if values[end] is None else str(values[end])
        for end, old in zip(ends, before, strict=True)
    )


def _signals(found: Mapping[str, NDArray[np.int64]], limits: MonitorLimits, order: NDArray[np.intp]) -> tuple[Signal, ...]:
    words = limits.words
    signals = [
        Signal(int(order[point]), words[rule], SIDES[side], length)
        for point, rule, side, length in zip(*(found[name].tolist() for name in ("point", "rule", "side", "length")), strict=True)
    ]
    return tuple(sorted(signals, key=lambda signal: signal.point))


def _episodes(
    found: Mapping[str, NDArray[np.int64]],
    limits: MonitorLimits,
    order: NDArray[np.intp],
    offsets: NDArray[np.int64],
    streams: Sequence[str],
    z: Floats,
) -> tuple[Episode, ...]:
    words = limits.words
    episodes = []
    for stream, point, rules, side, length in zip(
        *(found[name].tolist() for name in ("stream", "point", "rules", "side", "length")), strict=True
    ):
        row, start = int(order[point]), point - length + 1
        episodes.append(
            Episode(
                stream=streams[stream],
                point=row,
                rules=tuple(word for bit, word in enumerate(words) if rules >> bit & 1),
                side=SIDES[side],
                length=length,
                first_point=int(order[start]) if start >= offsets[stream] else None,
                z=float(z[row]),
            )
        )
    return tuple(sorted(episodes, key=lambda episode: episode.point))


make_callable(__name__)
