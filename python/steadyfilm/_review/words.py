"""Changes in shop words: which layer and stream, from when to when, how much, and what was recorded near it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural
from steadyfilm._review.changes import Found
from steadyfilm._review.gauges import GaugeFault
from steadyfilm._review.records import Event, day_text, recorded
from steadyfilm._review.search import Series

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits

Flags = NDArray[np.bool_]

MOST_STREAMS = 4
"""More streams of a common change are counted, not named; the figures of each stand in its fields."""
QUIET_POINTS = 20
"""After its end a change is closed by so many points in a row without an episode, or by a recorded action."""


@dataclass(frozen=True)
class StreamSize:
    """Size of a change on one stream apart, with the half width of its interval."""

    stream: str
    size: float
    error: float


@dataclass(frozen=True)
class Finding:
    """One change of one layer, in the working unit. Units are named from the first to the last one it concerns."""

    kind: str
    """``change``; ``common offset``: the gauge or the film, readings do not say which; ``gauge fault``: shims say the gauge;
    ``gauge in part``: shims say that the gauge was off, by another amount."""
    layer: str
    shape: str
    """``step``, or ``drift``: ``size`` is then the growth a ``per``."""
    per: str
    """``working day``, or ``unit`` without times; empty for a step."""
    streams: tuple[str, ...]
    size: float
    error: float
    total: float
    """Largest distance from the usual level: the size of a step, the last value of a drift."""
    by_stream: tuple[StreamSize, ...]
    first_unit: str
    last_unit: str
    first_time: str
    last_time: str
    """Local times as ISO 8601; empty without times."""
    units: int
    unit_names: tuple[str, ...]
    lasting: bool
    """Whether it lasts to the end of the month."""
    earliest_unit: str
    latest_unit: str
    """Between these the change starts, at 95 %."""
    cause: str
    """Candidate cause: what was recorded with it; empty if nothing near. It fits in time, which alone proves nothing."""
    ended_by: str
    gauge: str
    """The gauge that all its units were read with; empty if several or none is recorded."""
    fault: GaugeFault | None
    """What the shims say; of a gauge fault, or of a gauge off in part."""
    episodes: int
    """Episodes of the charts that this change explains."""
    state: str
    """``open`` while it lasts; ``closed`` by a recorded action or after 20 quiet points."""
    closed_by: str
    quiet_points: int
    """Points of its streams in a row without an episode since its end."""
    evidence: float
    """Twice the log likelihood ratio."""
    threshold: float
    short: str
    """Layer, streams, size, from when to when, and what was recorded with it."""
    what_moved: str
    """Layer, streams, size and interval."""
    when: str
    why: str

    @property
    def sentence(self) -> str:
        """The whole finding in words."""
        return f"{self.what_moved[0].upper()}{self.what_moved[1:]} {self.when}; {self.why}."


def sized(size: float, error: float, unit: str) -> tuple[str, str]:
    """A size without its sign, and its interval, to two digits of the half width.

    >>> sized(-0.2178, 0.0671, "mil")
    ('0.218 mil', '0.151 to 0.285')
    """
    decimals = max(0, 1 - math.floor(math.log10(error))) if error > 0 and math.isfinite(error) else 3
    size = abs(size)
    text = f"{size:.{decimals}f} {unit}".rstrip()
    return text, f"{size - error:.{decimals}f} to {size + error:.{decimals}f}"


def joined(words: Sequence[str]) -> str:
    """Words as a list with "and".

    >>> joined(["a"]), joined(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""


def on_streams(streams: Sequence[str], *, common: bool) -> str:
    """Where a change is: its streams by name, many of them by their number.

    >>> on_streams(["A", "B"], common=True), on_streams(["A"], common=False), on_streams(list("abcde"), common=True)
    (' on both A and B', ' on A', ' on all 5 streams')
    """
    if common and len(streams) > MOST_STREAMS:
        return f" on all {len(streams)} streams"
    return f" on {'both ' if len(streams) == 2 else ''}{joined(streams)}"


@dataclass(frozen=True)
class Beside:
    """What stands beside a change: whether it may be the gauge, and what the charts show of it."""

    kind: str = "change"
    gauge: str = ""
    hint: str = ""
    """Said after the rest."""
    short: str = ""
    """Said in the verdict in place of what was recorded."""
    episodes: int = 0
    quiet_points: int = 0
    fault: GaugeFault | None = None


def tell(
    found: Found,
    series: Series,
    month: LayerUnits,
    unit: str,
    level: float,
    events: Sequence[Event],
    beside: Callable[[Found, Flags], Beside] = lambda _, __: Beside(),
) -> Finding:
    """One change in words."""
    change = found.change
    inside = units_of(found, series)
    at = np.flatnonzero(inside)
    first, last = int(at[0]), int(at[-1])
    lasting = not series.scopes[change.scope].units[series.first + change.end :].any()
    clock = series.clock[series.first :]
    total = found.size * (float(clock[last] - clock[change.start] + 1) if change.shape == "drift" else 1.0)
    step_of_time = "unit" if series.per_unit else "working day"
    names = [scope.name for scope in series.scopes]
    by_stream = tuple(StreamSize(names[s], size, error) for s, size, error in found.by_scope)
    streams = tuple(x.name for x in series.scopes[1:] if not x.coarse) if change.scope == 0 else (names[change.scope],)
    cause, ended_by = recorded(found, series, month, events)
    time = month.time
    interval = f"{number(100 * level, 3)} % sure"
    what = _what(found, month.layer.name, streams, total, unit, interval, step_of_time, alone=len(names) == 1)
    about = beside(found, inside)
    state, closed_by = _state(found, series, bool(lasting), ended_by, about.quiet_points)
    ended = f"it ended when {ended_by}" if ended_by else ""
    record = "; ".join(part for part in (about.short or cause or "no recorded change near its start", ended[3:]) if part)
    why = _why(found, by_stream, streams, cause, ended_by, unit)
    return Finding(
        kind=about.kind,
        layer=month.layer.name,
        shape=change.shape,
        per=step_of_time if change.shape == "drift" else "",
        streams=streams,
        size=found.size,
        error=found.error,
        total=total,
        by_stream=by_stream,
        first_unit=month.units[first],
        last_unit=month.units[last],
        first_time="" if time is None else str(time[first].astype("datetime64[m]")),
        last_time="" if time is None else str(time[last].astype("datetime64[m]")),
        units=len(at),
        unit_names=tuple(month.units[i] for i in at),
        lasting=bool(lasting),
        earliest_unit=month.units[found.starts[0]],
        latest_unit=month.units[min(found.starts[1], len(month) - 1)],
        cause=cause,
        ended_by=ended_by,
        gauge=about.gauge,
        fault=about.fault,
        episodes=about.episodes,
        state=state,
        closed_by=closed_by,
        quiet_points=about.quiet_points,
        evidence=found.explained,
        threshold=found.threshold,
        short=f"{_short(found, month, streams, total, unit, first, last, lasting, alone=len(names) == 1)}; {record}",
        what_moved=what,
        when=_when(found, month, first, last, len(at), lasting),
        why=f"{why}; {about.hint}" if about.hint else why,
    )


def units_of(found: Found, series: Series) -> Flags:
    """The month's units that a change concerns."""
    inside = np.zeros(len(series.values) - series.first, dtype=bool)
    inside[found.change.start : found.change.end] = True
    return np.asarray(inside & series.scopes[found.change.scope].units[series.first :])


def _state(found: Found, series: Series, lasting: bool, ended_by: str, quiet: int) -> tuple[str, str]:
    """Whether a change is open or closed, and what closed it."""
    if lasting:
        return "open", ""
    if ended_by:
        return "closed", ended_by
    named = found.change.named
    if named is not None and not series.named[named].session:
        return "closed", f"{series.named[named].column} {series.named[named].label} was no longer in use"
    return ("closed", f"{QUIET_POINTS} quiet points") if quiet >= QUIET_POINTS else ("open", "")


def _place(month: LayerUnits, i: int) -> str:
    return month.units[i] if month.time is None else f"{month.units[i]} ({day_text(month.time[i])})"


def _end(found: Found, month: LayerUnits, last: int) -> str:
    """The last unit of a change that ended, as far as the data tell; of a recorded stretch it is known."""
    place = _place(month, last)
    if found.change.named is not None:
        return place
    if found.ends[1] >= len(month):
        return f"{place} or later"
    return f"about {place}" if found.ends[1] - found.ends[0] > 3 else place


def _short(
    found: Found,
    month: LayerUnits,
    streams: Sequence[str],
    total: float,
    unit: str,
    first: int,
    last: int,
    lasting: bool,
    *,
    alone: bool,
) -> str:
    size, limits = sized(found.size, found.error, unit)
    word = "rose" if found.size > 0 else "fell"
    where = "" if alone else on_streams(streams, common=found.change.scope == 0)
    if found.change.shape == "step":
        moved = f"{word} by {size} ({limits}){where}"
    else:
        amount = sized(total, found.error * abs(total / found.size), unit)[0]
        moved = f"{word} little by little, by {amount} in all,{where}"
    about = "about " if found.starts[1] - found.starts[0] > 3 and found.change.start else ""
    start = "the first unit" if found.change.start == 0 else f"{about}{_place(month, first)}"
    end = "the last unit" if lasting else _end(found, month, last)
    return f"{month.layer.name} {moved} from {start} to {end}"


def _what(
    found: Found, layer: str, streams: Sequence[str], total: float, unit: str, interval: str, per: str, *, alone: bool
) -> str:
    size, limits = sized(found.size, found.error, unit)
    where = "" if alone else on_streams(streams, common=found.change.scope == 0)
    word = "rose" if found.size > 0 else "fell"
    if found.change.shape == "step":
        return f"{layer}{where} {word} by {size} ({limits}, {interval})"
    amount = sized(total, found.error * abs(total / found.size), unit)[0]
    return f"{layer}{where} {word} little by little, {size} a {per} ({limits}, {interval}) and {amount} in the end,"


def _when(found: Found, month: LayerUnits, first: int, last: int, count: int, lasting: bool) -> str:
    start = "from the first unit" if found.change.start == 0 else f"from {_place(month, first)}"
    if found.change.shape == "drift" and found.starts[1] - found.starts[0] > 3:
        low, high = found.starts[0], min(found.starts[1], len(month) - 1)
        start = f"from about {_place(month, first)}, at the earliest {_place(month, low)}, at the latest {_place(month, high)},"
    end = f"to the last one, {_place(month, last)}" if lasting else f"to {_end(found, month, last)}"
    return f"{start} {end}, {plural(count, 'unit')}"


def _why(found: Found, by_stream: Sequence[StreamSize], streams: Sequence[str], cause: str, ended_by: str, unit: str) -> str:
    parts = [cause or "no recorded change near its start"]
    if ended_by:
        parts.append(f"it ended when {ended_by}")
    if found.change.scope == 0 and len(by_stream) > 1:
        sizes = ", ".join(f"{sized(x.size, x.error, unit)[0]} on {x.stream}" for x in by_stream[:MOST_STREAMS])
        if len(by_stream) > MOST_STREAMS:
            sizes += f" and {len(by_stream) - MOST_STREAMS} more"
        parts.append(f"each apart: {sizes}")
    elif found.change.scope != 0:
        others = [x for x in by_stream if x.stream not in streams]
        still = [x.stream for x in others if abs(x.size) <= x.error]
        moved = [f"{x.stream} moved too ({x.size:+.2g})" for x in others if abs(x.size) > x.error]
        if len(still) > MOST_STREAMS:
            parts.append(f"{len(still)} other streams show no such change")
        elif still:
            parts.append(f"{joined(still)} {'shows' if len(still) == 1 else 'show'} no such change")
        parts += moved
    return "; ".join(parts)
