"""A table of an oven log to traces by bake and probe, in minutes and C; what is wrong with times and cells is listed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from steadyfilm._cure.options import CureOptions, LogColumns
from steadyfilm._format import fixed, number, plural
from steadyfilm._temperatures import from_fahrenheit
from steadyfilm._text import nearest_names
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import TEMPERATURE_UNITS, unit_symbol

__all__ = ["BakeTraces", "LogFault", "Source", "Trace", "check_names", "clock_words", "read_log"]

Floats = NDArray[np.float64]
CLOCK_MIN = 60.0
"""What a change between standard and summer time moves a clock by."""
USUAL_UNIT = "unit_of_measure"
"""A column of this name says the unit, if the log has one and nothing else was said."""


class Source(Protocol):
    """A file or a table that answers by column."""

    @property
    def file(self) -> str: ...
    @property
    def lines(self) -> list[int]: ...

    def name_of(self, column: str) -> str | None: ...
    def text(self, column: str) -> list[str]: ...
    def numbers(self, column: str) -> Floats: ...
    def times(self, column: str, date: str | None = None) -> NDArray[np.datetime64]: ...


@dataclass(frozen=True)
class LogFault:
    """One thing that is wrong with a log: which bake and probe, when, how much, and what follows from it.

    ``from_min`` and ``to_min`` count from the start of the bake. ``effect`` is ``"not observed"`` for a stretch that counts only
    when credited, ``"lost"`` for readings without meaning, ``"told"`` where no verdict rests on it.
    """

    bake: str
    probe: str
    kind: str
    from_min: float
    to_min: float
    amount: float
    unit: str
    effect: str
    words: str


@dataclass(frozen=True)
class Trace:
    """The readings of one probe in one bake: minutes from the start of the bake, strictly ascending, and C."""

    probe: str
    minutes: Floats
    temperature_c: Floats
    line: NDArray[np.int64]


@dataclass(frozen=True)
class BakeTraces:
    """One bake: its traces, its first moment where the log has local times, and what was wrong with its rows."""

    bake: str
    start: str
    traces: tuple[Trace, ...]
    faults: tuple[LogFault, ...]


@dataclass(frozen=True)
class _Rows:
    """Columns of the log, one element a reading, in the order of the file."""

    bake: NDArray[np.object_]
    probe: NDArray[np.object_]
    minutes: Floats
    temperature: Floats
    line: NDArray[np.int64]
    origin: np.datetime64 | None
    names: tuple[str, ...]
    """All probes in the order of the file, those without any reading among them."""


def read_log(source: Source, options: CureOptions) -> tuple[tuple[BakeTraces, ...], tuple[str, ...], tuple[str, ...]]:
    """The bakes of a log in the order of the file, notes on rows that hold no reading, and the names of all its probes.

    A probe whose rows hold no reading at all is among the names: its place is not dropped.

    Raises
    ------
    DataProblemsError
        Columns that are not there, cells that are no numbers or times, units that are not known, a row without bake or probe.
    InvalidInputError
        No unit is declared, or a log without bakes and without a pause to cut it at.
    """
    rows, notes = _rows(source, options)
    bakes = _cut_at_pauses(rows, options) if options.columns.bake is None else rows.bake
    found = []
    names = list(dict.fromkeys(bakes.tolist()))
    if not names:
        raise DataProblemsError([DataProblem("", 0, "", "the log holds no reading")], file=source.file)
    order = np.argsort(_codes(bakes, names), kind="stable")
    ends = np.cumsum([int((bakes == name).sum()) for name in names])
    for name, part in zip(names, np.split(order, ends[:-1]), strict=True):
        found.append(_bake(str(name), rows, part, marked=options.columns.bake is not None))
    return tuple(found), notes, rows.names


def _codes(values: NDArray[np.object_], names: Sequence[Any]) -> NDArray[np.intp]:
    at = {name: k for k, name in enumerate(names)}
    return np.array([at[value] for value in values.tolist()], dtype=np.intp)


def _rows(source: Source, options: CureOptions) -> tuple[_Rows, tuple[str, ...]]:
    columns = options.columns
    height = len(source.lines)
    line = np.array(source.lines, dtype=np.int64)
    if columns.probe_columns:
        count = len(columns.probe_columns)
        probe = np.repeat(np.array(columns.probe_columns, dtype=object), height)
        value = np.concatenate([source.numbers(name) for name in columns.probe_columns])
    else:
        if columns.probe is None or columns.temperature is None:
            raise InvalidInputError("name the columns of probe and temperature, or one column a probe", argument="columns")
        count = 1
        probe = np.array(source.text(columns.probe), dtype=object)
        value = source.numbers(columns.temperature)
    minutes, origin = _minutes(source, columns)
    bake = np.array(source.text(columns.bake) if columns.bake else [""] * height, dtype=object)
    unit, notes = _units(source, options, height)
    tile = [np.tile(x, count) for x in (bake, minutes, line, unit)]
    bake, minutes, line, unit = tile
    problems = [
        DataProblem(str(name), int(at), "", f"{what} is missing")
        for what, name, column in (("bake", columns.bake, bake), ("probe", columns.probe, probe))
        if name
        for at in line[[not word for word in column]]
    ]
    problems += [
        DataProblem(columns.time or columns.minutes or "", int(at), "", "time is missing") for at in line[np.isnan(minutes)]
    ]
    if problems:
        raise DataProblemsError(problems, advice="Fill them in, or leave those rows out.", file=source.file)
    in_f = unit == "F"
    value = np.where(in_f, from_fahrenheit(value), value)
    empty = np.isnan(value)
    if empty.any():
        first = int(line[empty][0])
        rows = plural(int(empty.sum()), "row")
        notes = (f"{rows} of the log without a temperature, first in row {first}: no reading was taken", *notes)
    keep = ~empty
    names = tuple(str(name) for name in dict.fromkeys(probe.tolist()))
    return _Rows(bake[keep], probe[keep], minutes[keep], value[keep], line[keep], origin, names), notes


def _minutes(source: Source, columns: LogColumns) -> tuple[Floats, np.datetime64 | None]:
    if columns.minutes:
        return source.numbers(columns.minutes), None
    if columns.time is None:
        raise InvalidInputError("name the column of times, or of minutes", argument="columns.time")
    times = source.times(columns.time, columns.date)
    there = times[~np.isnat(times)]
    if not there.size:
        raise InvalidInputError(f"column '{columns.time}' holds no time", argument="columns.time")
    origin = there.min()
    minutes = (times - origin) / np.timedelta64(1, "us") / 60e6
    return np.where(np.isnat(times), math.nan, minutes), origin


def _units(source: Source, options: CureOptions, height: int) -> tuple[NDArray[np.object_], tuple[str, ...]]:
    """The unit of each row: what a column says goes before what was declared, and a note tells where the two differ."""
    declared = None if options.unit is None else _known(options.unit)
    name = options.columns.unit_of_measure
    if name is None:
        name = USUAL_UNIT if source.name_of(USUAL_UNIT) is not None else ""
    if not name:
        if declared is None:
            raise InvalidInputError(
                "the unit of the temperatures is not declared: name its column (unit_of_measure), or say unit C or F",
                argument="unit",
            )
        return np.full(height, declared, dtype=object), ()
    words = source.text(name)
    known: dict[str, str] = {}
    problems = []
    for word, line in zip(words, source.lines, strict=True):
        if word in known:
            continue
        try:
            known[word] = _known(word)
        except InvalidInputError as error:
            problems.append(DataProblem(name, line, repr(word), str(error)))
            known[word] = ""
    if problems:
        raise DataProblemsError(problems, advice="Write C or F.", file=source.file)
    said = dict.fromkeys(known.values())
    notes: tuple[str, ...] = ()
    if declared is not None and said and set(said) != {declared}:
        notes = (f"column '{name}' says {' and '.join(said)}: the declared unit {declared} was not used",)
    return np.array([known[word] for word in words], dtype=object), notes


def _known(word: str) -> str:
    unit = unit_symbol(word, among=TEMPERATURE_UNITS)
    if unit == "K":
        raise InvalidInputError("a log in K is not read; write C or F", argument="unit")
    return unit


def _cut_at_pauses(rows: _Rows, options: CureOptions) -> NDArray[np.object_]:
    """Bakes of a log without a column of them: cut where no probe was read for longer than the pause."""
    pause = options.rules.pause_min
    if pause is None:
        raise InvalidInputError(
            "the log has no column of bakes and so no start of any: name one, or say how long a pause parts two bakes",
            argument="pause_min",
        )
    times = np.unique(rows.minutes)
    starts = np.concatenate([times[:1], times[1:][np.diff(times) > pause]])
    at = np.searchsorted(starts, rows.minutes, side="right")
    return np.array([str(k) for k in at], dtype=object)


def _bake(name: str, rows: _Rows, part: NDArray[np.intp], *, marked: bool) -> BakeTraces:
    faults: list[LogFault] = []
    probes = list(dict.fromkeys(rows.probe[part].tolist()))
    by_probe = [part[rows.probe[part] == probe] for probe in probes]
    start = min(float(rows.minutes[mine[0]]) for mine in by_probe)  # the first rows: a clock may be set back later
    traces = []
    for probe, mine in zip(probes, by_probe, strict=True):
        made, found = _trace(name, str(probe), rows.minutes[mine] - start, rows.temperature[mine], rows.line[mine])
        traces.append(made)
        faults += found
    if not marked:
        words = "no start-of-bake marker: the bake was cut from the log at a pause"
        faults.append(LogFault(name, "", "no start marker", 0.0, 0.0, 0.0, "", "told", words))
    moment = ""
    if rows.origin is not None:
        moment = str((rows.origin + np.timedelta64(round(start * 60e6), "us")).astype("datetime64[m]")).replace("T", " ")
    return BakeTraces(name, moment, tuple(traces), tuple(faults))


def _trace(bake: str, probe: str, minutes: Floats, temperature: Floats, line: NDArray[np.int64]) -> tuple[Trace, list[LogFault]]:
    """A trace with ascending times; a clock set back is undone, what else is out of order is sorted, both told."""
    faults = []
    steps = np.diff(minutes)
    usual = float(np.median(np.abs(steps))) if steps.size else 0.0
    back_steps = np.flatnonzero(steps < 0.0)
    if back_steps.size == 1:  # more than one is disorder, not a clock
        # The clock showed an hour less than it would have: what follows is taken so much later.
        i = int(back_steps[0])
        back = usual - float(minutes[i + 1] - minutes[i])
        if abs(back - CLOCK_MIN) <= max(0.5, usual):
            minutes = np.concatenate([minutes[: i + 1], minutes[i + 1 :] + CLOCK_MIN])
            words = f"clock set back by {number(CLOCK_MIN)} min: what follows is taken {number(CLOCK_MIN)} min later"
            at = float(minutes[i])
            faults.append(LogFault(bake, probe, "clock change", at, at, CLOCK_MIN, "min", "told", words))
    steps = np.diff(minutes)
    if (steps < 0.0).any():
        count, row = int((steps < 0.0).sum()), int(line[int(np.flatnonzero(steps < 0.0)[0]) + 1])
        at = float(minutes[int(np.flatnonzero(steps < 0.0)[0]) + 1])
        words = f"{plural(count, 'reading')} earlier than the one before, first in row {row}: sorted by time"
        faults.append(LogFault(bake, probe, "time out of order", at, at, float(count), "readings", "told", words))
        order = np.argsort(minutes, kind="stable")
        minutes, temperature, line = minutes[order], temperature[order], line[order]
    same = np.flatnonzero(np.diff(minutes) == 0.0) + 1
    if same.size:
        words = (
            f"{plural(same.size, 'reading')} at a time that has one already, first in row {int(line[same[0]])}: the first counts"
        )
        at = float(minutes[same[0]])
        faults.append(LogFault(bake, probe, "time twice", at, at, float(same.size), "readings", "told", words))
        keep = np.ones(minutes.size, dtype=bool)
        keep[same] = False
        minutes, temperature, line = minutes[keep], temperature[keep], line[keep]
    arrays = (np.ascontiguousarray(minutes), np.ascontiguousarray(temperature), line)
    return Trace(probe, *arrays), faults


def check_names(wanted: Sequence[str], have: Sequence[str], what: str) -> None:
    """Refuse names of probes that no row of the log has, with the nearest ones."""
    absent = [name for name in wanted if name not in have]
    if absent:
        near = nearest_names(absent[0], have)
        raise InvalidInputError(f"{what}: no probe '{absent[0]}' in the log; {near}", argument=what)


def clock_words(start: str, minute: float) -> str:
    """A minute of a bake, with the time of day where it is known.

    >>> clock_words("2026-03-02 10:45", 30.0), clock_words("", 30.0)
    ('minute 30 (11:15)', 'minute 30')
    """
    text = f"minute {fixed(minute, 0) if abs(minute - round(minute)) < 0.05 else fixed(minute, 1)}"
    if start:
        moment = np.datetime64(start.replace(" ", "T"), "m") + np.timedelta64(round(minute), "m")
        text += f" ({str(moment)[11:16]})"
    return text
