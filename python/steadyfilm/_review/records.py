"""What was recorded near the ends of a change: stretches of a column (a batch), and entries of the event log.

A record is named as candidate cause only if one like it would seldom stand so near by chance. An entry that names something the
units of the change have in common (their gun, booth, painter, gauge or batch) goes before one that names nothing; one that names
something else explains nothing here.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import MONTHS
from steadyfilm._review.changes import Found
from steadyfilm._review.search import Series

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits

Flags = NDArray[np.bool_]
Labels = NDArray[np.object_]

LIKELY = 0.15
"""A record that would stand so near by chance more often than this explains nothing."""
IN_COMMON = 0.8
"""Share of a change's units that must have a value for an entry about that value to concern the change."""
NEIGHBORS = 6
"""Units before the start, or after the end, whose values an entry may name besides: what was taken out, what came in."""


@dataclass(frozen=True)
class Event:
    """One entry of the event log."""

    time: np.datetime64
    text: str
    kind: str
    layer: str


@dataclass(frozen=True)
class _Record:
    """A record near a boundary: whether it names what the units have in common, how many are like it, where it stands."""

    names: bool
    tagged: bool
    count: int
    position: int
    words: str


def day_text(time: np.datetime64) -> str:
    """A date as in ``Mar 13``."""
    day = time.astype("datetime64[D]").item()
    return f"{MONTHS[day.month - 1]} {day.day}"


def moment_text(time: np.datetime64) -> str:
    """Date and time as in ``Mar 13, 07:38``."""
    return f"{day_text(time)}, {time.astype('datetime64[m]').item().strftime('%H:%M')}"


def recorded(found: Found, series: Series, month: LayerUnits, events: Sequence[Event]) -> tuple[str, str]:
    """What was recorded with the start of a change and with its end; empty where nothing was."""
    change = found.change
    own = np.asarray(series.scopes[change.scope].units[series.first :])
    inside = own.copy()
    inside[: change.start] = inside[change.end :] = False
    before, after = own.copy(), own.copy()
    before[change.start :] = False
    after[: change.end] = False

    def near(window: tuple[int, int], at: int, beyond: Flags) -> str:
        outside = np.flatnonzero(beyond)
        outside = outside[-NEIGHBORS:] if at == change.start else outside[:NEIGHBORS]
        scope = np.flatnonzero(own)
        concerned = _Concerned(month.factors, np.flatnonzero(inside), outside, ending=at != change.start, scope=scope)
        return _nearest(window, at, series, month, change.scope, concerned, events)

    if change.named is not None and series.named[change.named].session:
        stretch = series.named[change.named]
        assert month.time is not None  # sessions are told by days
        gauge = stretch.label if stretch.label.startswith(stretch.column) else f"{stretch.column} {stretch.label}"
        read = f"just the units that {gauge} read in a row on {day_text(month.time[stretch.start])}"
        return read, "" if change.end == len(month) else near(found.ends, change.end, after)
    if change.named is not None:
        stretch = series.named[change.named]
        words = f"{stretch.column} {stretch.label} was in use on just these units"
        return (words if stretch.start > 0 else f"{words}, from before the month's first one"), ""
    start = near(found.starts, change.start, before) if change.start else ""
    return start, near(found.ends, change.end, after) if change.end < len(month) else ""


class _Concerned:
    """What the units of a change have in common, column by column, to compare the words of an entry with."""

    def __init__(
        self,
        factors: dict[str, Labels],
        inside: NDArray[np.intp],
        outside: NDArray[np.intp],
        *,
        ending: bool,
        scope: NDArray[np.intp] | None = None,
    ) -> None:
        self._inside = {column: Counter(words[inside].tolist()) for column, words in factors.items()}
        self._outside = {column: Counter(words[outside].tolist()) for column, words in factors.items()}
        self._month = {column: Counter(words.tolist()) for column, words in factors.items()}
        self._ending = ending
        own = {column: words if scope is None else words[scope] for column, words in factors.items()}
        self._scope = {column: set(words.tolist()) for column, words in own.items()}
        self._patterns = {
            (column, str(value)): _pattern(column, str(value)) for column, of in self._month.items() for value in of if value
        }

    def judge(self, text: str) -> bool | None:
        """Whether an entry names what the units have in common; None if it names something else."""
        spans = self._mentions(text)
        named: dict[str, set[str]] = {}
        for column, value in (x for span in spans for x in span):
            named.setdefault(column, set()).add(value)
        fits = {column: self._fits(column, values) for column, values in named.items()}
        if any(not any(fits[column] for column, _ in span) for span in spans):
            return None
        return any(ok and self._tells_apart(column, named[column]) for column, ok in fits.items())

    def could_concern(self, text: str) -> bool:
        """Whether an entry would name what such units have in common if it stood elsewhere in the month: another batch does."""
        return all(any(value in self._scope[column] for column, value in span) for span in self._mentions(text))

    def kind(self, event: Event) -> str:
        """The kind of an entry, whatever values it names."""
        words = event.kind
        for pattern in self._patterns.values():
            words = pattern.sub("*", words)
        return words

    def _fits(self, column: str, values: set[str]) -> bool:
        known = {*self._inside[column], *self._outside[column]}
        parts = [self._inside[column], *([self._outside[column]] if self._ending else [])]
        return values <= known and any(_share(part, values) >= IN_COMMON for part in parts)

    def _tells_apart(self, column: str, values: set[str]) -> bool:
        """A value that the whole month has says nothing of these units."""
        own = {value for value in values if self._inside[column][value]} or values
        return _share(self._month[column], own) < 1.0

    def _mentions(self, text: str) -> list[list[tuple[str, str]]]:
        """Column and value for each place of a text that names one; several where columns share a value."""
        found: dict[tuple[int, int], list[tuple[str, str, bool]]] = {}
        for (column, value), pattern in self._patterns.items():
            for match in pattern.finditer(text):
                found.setdefault(match.span("value"), []).append((column, value, match.group("column") is not None))
        out = []
        for (a, b), options in found.items():
            if any(c <= a and b <= d and (c, d) != (a, b) for c, d in found):
                continue  # "R1" in "R1 left"
            with_column = [x for x in options if x[2]]
            out.append([(column, value) for column, value, _ in with_column or options])
        return out


def _share(of: Counter[str], values: set[str]) -> float:
    return sum(of[value] for value in values) / max(of.total(), 1)


def _pattern(column: str, value: str) -> re.Pattern[str]:
    """How an entry may name a value: whole, letters and digits joined or not; a bare number only after its column's name.

    >>> found = _pattern("gun", "R1")
    >>> [bool(found.search(text)) for text in ("R1 nozzle", "Gun r-1 cleaned", "R12 nozzle", "BR1")]
    [True, True, False, False]
    >>> bool(_pattern("lane", "2").search("2 nozzles replaced")), bool(_pattern("lane", "2").search("Lane no. 2: nozzle"))
    (False, True)
    >>> bool(_pattern("gun", "A").search("A filter was changed")), bool(_pattern("gun", "A").search("nozzle of A replaced"))
    (False, True)
    """
    loose = r"[-_ ]?".join(re.escape(part) for part in re.findall(r"[^\W\d_]+|\d+|.", value) if part not in "-_ ")
    own = rf"(?<!\w)(?P<value>{loose or re.escape(value)})(?!\w)"
    before = rf"(?P<column>(?<!\w){re.escape(column)}\s*(?:no\.?|number|[#:=])?\s*)"
    if value.replace(".", "").replace(",", "").isdigit():
        return re.compile(before + own, re.IGNORECASE)
    if len(value) == 1:
        # One letter alone is a name where it is written as one; "A filter" at the start of a sentence is none.
        alone = rf"(?<!\w)(?!^{re.escape(value)}\s+[a-z])(?P<value>{re.escape(value)})(?!\w)"
        return re.compile(rf"(?:(?i:{before})|){alone}")
    return re.compile(rf"(?:{before}|){own}", re.IGNORECASE)


def _nearest(
    near: tuple[int, int],
    at: int,
    series: Series,
    month: LayerUnits,
    scope: int,
    concerned: _Concerned,
    events: Sequence[Event],
) -> str:
    """What was recorded at a boundary: what names these units first, then the rarest kind of record, then the nearest one."""
    found = [*_stretches(near, series, month, scope), *_entries(near, month, concerned, events)]
    if any(x.names for x in found):
        found = [x for x in found if x.names or x.tagged]
    width = near[1] - near[0] + 1
    likely = [(not x.names, x.count, abs(x.position - at), x.words) for x in found if x.count * width / len(month) <= LIKELY]
    return min(likely)[3] if likely else ""


def _stretches(near: tuple[int, int], series: Series, month: LayerUnits, scope: int) -> list[_Record]:
    """Starts of recorded stretches, which are about their own units."""
    own = [x for x in series.named if not x.session and x.scope in (0, scope) and 0 < x.start < len(month)]
    return [
        _Record(True, True, sum(y.column == x.column for y in own), x.start, f"{x.column} {x.label} began")
        for x in own
        if near[0] <= x.start <= near[1]
    ]


def _entries(near: tuple[int, int], month: LayerUnits, concerned: _Concerned, events: Sequence[Event]) -> list[_Record]:
    """Entries of the event log that may concern these units, and how many there are this month at least as rare as each."""
    if month.time is None:
        return []
    low, high = month.time[max(near[0] - 1, 0)], month.time[min(near[1], len(month) - 1)]
    order = np.maximum.accumulate(month.time)
    first, last = month.time[0], month.time[-1]
    own = [x for x in events if first <= x.time <= last and x.layer in ("", month.layer.name)]
    judged = [(event, concerned.judge(event.text)) for event in own]
    kinds = [concerned.kind(event) for event in own]
    usual = Counter(kinds)
    out = []
    for (event, names), kind in zip(judged, kinds, strict=True):
        if names is None or not low <= event.time <= high:
            continue
        # What might have been named in its place: entries at least as rare, and those of its kind about another time's value.
        alike = sum(
            usual[k] <= usual[kind]
            if other is names
            else bool(names) and other is None and k == kind and concerned.could_concern(x.text)
            for (x, other), k in zip(judged, kinds, strict=True)
        )
        # An entry belongs before the first unit that was read after it.
        position = int(np.searchsorted(order, event.time))
        words = f"'{event.text}' was logged on {moment_text(event.time)}"
        out.append(_Record(names, event.layer != "", alike, position, words))
    return out
