"""Rows of a table to readings in the working unit; what cannot be a reading of its layer is set aside, with line and reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _input
from steadyfilm._files import Cells
from steadyfilm._format import number, plural
from steadyfilm._review.attempts import attempt_numbers
from steadyfilm._review.gauges import GaugeCheck, gauge_sessions
from steadyfilm._review.records import Event
from steadyfilm._screens.plain import implausible, in_working_unit, short_places, usual_levels
from steadyfilm.errors import DataProblem, DataProblemsError
from steadyfilm.limits import SpecLimits

if TYPE_CHECKING:
    from steadyfilm.plan import Plan

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

UNIT_JOINT = " / "
"""Between the columns that together name a unit."""


@dataclass(frozen=True)
class SetAside:
    """One row that takes no part: where it is, what it says, and why."""

    line: int
    unit: str
    reading: str
    location: str
    value: str
    reason: str


@dataclass(frozen=True)
class LostRow:
    """What is known of a row that takes no part and yet names its unit: that the unit was there, and when."""

    unit: str
    reading: str
    line: int
    time: np.datetime64 | None
    factors: dict[str, str]


@dataclass(frozen=True)
class Readings:
    """Readings in the order of the table. Codes point into the tuple of the same name in plural."""

    file: str
    units: tuple[str, ...]
    readings: tuple[str, ...]
    locations: tuple[str, ...]
    unit: Codes
    reading: Codes
    location: Codes
    repeat: NDArray[np.object_] | None
    value: Floats
    """In the working unit."""
    written: Floats
    """As written in the file."""
    time: NDArray[np.datetime64] | None
    attempt: NDArray[np.int64]
    factors: dict[str, NDArray[np.object_]]
    line: NDArray[np.int64]
    set_aside: tuple[SetAside, ...]
    lost: tuple[LostRow, ...]
    """The rows set aside that name a unit and a layer of the plan."""
    notes: tuple[str, ...]

    @property
    def where(self) -> str:
        """What a row's number counts."""
        return "line" if self.file else "row"


class FrameCells:
    """Any table behind the same few questions that a file answers."""

    def __init__(self, data: Any) -> None:
        self.table = _input.table(data)
        self.file = ""
        self.counted_in = "row"
        self.lines = list(range(1, self.table.height + 1))

    def text(self, column: str) -> list[str]:
        labels = _input.labels(self.table.column(column), name=column)
        return ["" if label is None else str(label).strip() for label in labels]

    def name_of(self, column: str) -> str | None:
        return column if column in self.table.columns else None

    def numbers(self, column: str) -> Floats:
        return _input.optional_numbers(self.table, column)

    def times(self, column: str, date: str | None = None) -> NDArray[np.datetime64]:
        if date is None:
            return _input.times(self.table, column)
        both = zip(self.text(date), self.text(column), strict=True)
        return _input.times([f"{day[:10]} {clock}" if day and clock else None for day, clock in both], name=column)


def gather(data: Any, plan: Plan) -> Readings:
    """The readings of a table that the plan asks for, in the working unit, first screened one by one.

    Raises
    ------
    DataProblemsError
        A column that is not there, cells that are no numbers or times, a layer without any reading, or more rows
        set aside than kept.
    """
    source: Cells | FrameCells = data if isinstance(data, Cells) else FrameCells(data)
    columns = plan.columns
    height = len(source.lines)
    if not height:
        raise DataProblemsError([DataProblem("", 0, "", "the table has no rows")], file=source.file)
    parts = [source.text(name) for name in columns.unit]
    unit_text = parts[0] if len(parts) == 1 else [UNIT_JOINT.join(row) if all(row) else "" for row in zip(*parts, strict=True)]
    written = source.numbers(columns.value)
    reading_text = source.text(columns.layer) if columns.layer else [plan.layers[0].source] * height
    location_text = source.text(columns.location) if columns.location else [""] * height
    wanted = dict.fromkeys(name for layer in plan.layers for name in (layer.minus, layer.source) if name is not None)
    _refuse_absent_layers(wanted, reading_text, source.file, columns.layer)

    gauge = [columns.gauge] if columns.gauge else []
    names = dict.fromkeys([*plan.streams, *plan.adjust, *plan.candidates, *gauge])
    factors = {name: np.array(source.text(name), dtype=object) for name in names}
    attempt = np.ones(height, dtype=np.int64)
    if columns.attempt:
        given = source.numbers(columns.attempt)
        attempt = attempt_numbers(given, source.lines, columns.attempt, file=source.file, counted_in=source.counted_in)
    measure = source.text(columns.unit_of_measure) if columns.unit_of_measure else None
    time = source.times(columns.time, columns.date) if columns.time else None
    value = written.copy()
    wrong_unit: dict[int, str] = {}
    if plan.measure.unit != "unstated":
        value, wrong_unit = in_working_unit(written, measure, wanted=plan.measure.unit, written_in=plan.measure.written_in)

    reasons: list[str | None] = [None] * height
    for i in range(height):
        if not unit_text[i]:
            reasons[i] = "no unit named"
        elif not reading_text[i]:
            reasons[i] = "no layer named"
        elif columns.location and not location_text[i]:
            reasons[i] = "no location named"
        elif i in wrong_unit:
            reasons[i] = wrong_unit[i]
        elif np.isnan(written[i]):
            reasons[i] = "reading is missing"
        elif time is not None and np.isnat(time[i]):
            reasons[i] = "time is missing"
    usable = np.array([reason is None for reason in reasons])
    known = np.array([text in wanted for text in reading_text])
    length, words = plan.measure.unit != "unstated", np.array(reading_text, dtype=object)
    windows = {x.source: SpecLimits(x.lower, x.upper) for x in plan.layers if x.minus is None and x.judged}
    strange_values = implausible(
        value,
        words,
        usable & known,
        length=length,
        reference=usual_levels(value, words, usable & known, windows) if length else None,
        plausible=plan.measure.plausible,
        factor=plan.measure.implausible_factor,
    )
    for i, found in strange_values.items():
        reasons[i] = found.reason

    keep = np.array([reason is None for reason in reasons]) & known
    aside = [
        SetAside(source.lines[i], unit_text[i], reading_text[i], location_text[i], _text(written[i], measure, i), reason)
        for i, reason in enumerate(reasons)
        if reason is not None and (known[i] or not reading_text[i])
    ]
    lost = tuple(
        LostRow(
            unit_text[i],
            reading_text[i],
            source.lines[i],
            None if time is None else time[i],
            {name: str(column[i]) for name, column in factors.items()},
        )
        for i, reason in enumerate(reasons)
        if reason is not None and known[i] and unit_text[i]
    )
    if 2 * len(aside) > len(aside) + int(keep.sum()):
        problems = [DataProblem(columns.value, item.line, item.value, item.reason) for item in aside]
        raise DataProblemsError(problems, advice="More rows are unusable than usable; nothing was reviewed.", file=source.file)
    strange = Counter(text for text, ok in zip(reading_text, known, strict=True) if text and not ok)
    notes = [
        f"{plural(count, 'reading')} of '{text}' {'belongs' if count == 1 else 'belong'} to no layer of the plan"
        for text, count in strange.items()
    ]

    rows = np.flatnonzero(keep)
    units, unit = _coded(unit_text, rows)
    readings, reading = _coded(reading_text, rows, tuple(wanted))
    locations, location = _coded(location_text, rows)
    return Readings(
        file=source.file,
        units=units,
        readings=readings,
        locations=locations,
        unit=unit,
        reading=reading,
        location=location,
        repeat=np.array(source.text(columns.repeat), dtype=object)[rows] if columns.repeat else None,
        value=value[rows],
        written=written[rows],
        time=time[rows] if time is not None else None,
        attempt=attempt[rows],
        factors={name: column[rows] for name, column in factors.items()},
        line=np.array(source.lines, dtype=np.int64)[rows],
        set_aside=tuple(aside),
        lost=lost,
        notes=tuple(notes),
    )


def _refuse_absent_layers(wanted: dict[str, None], present: Sequence[str], file: str, column: str | None) -> None:
    have = dict.fromkeys(present)
    absent = [name for name in wanted if name not in have]
    if absent:
        raise DataProblemsError(
            [
                DataProblem(column or "", 0, repr(name), "no row has this reading, which the plan's [[layers]] name")
                for name in absent
            ],
            advice=f"Readings present: {', '.join(repr(name) for name in list(have)[:12])}.",
            file=file,
        )


def _text(value: float, measure: list[str] | None, i: int) -> str:
    if np.isnan(value):
        return ""
    return f"{number(value, 6)} {measure[i]}".rstrip() if measure else number(value, 6)


def _coded(text: Sequence[str], rows: Codes, first: tuple[str, ...] = ()) -> tuple[tuple[str, ...], Codes]:
    """Labels in order of appearance, after those given, and each row's code."""
    codes = {name: i for i, name in enumerate(first)}
    out = np.empty(len(rows), dtype=np.intp)
    for k, i in enumerate(rows):
        out[k] = codes.setdefault(text[i], len(codes))
    return tuple(codes), out


def short_of_readings(found: Readings) -> tuple[str, ...]:
    """Places of a unit with fewer readings than is usual for their layer, first attempt."""
    first = found.attempt == 1
    notes = []
    for short in short_places(found.unit[first], found.reading[first], found.location[first]):
        where = f" at {found.locations[short.place]}" if found.locations[short.place] else ""
        notes.append(
            f"{found.units[short.unit]}: {short.count} of {short.usual} usable readings of '{found.readings[short.layer]}'{where}"
        )
    return tuple(notes)


def event_log(data: Any, plan: Plan, notes: list[str] | None = None) -> tuple[Event, ...]:
    """The entries of an event log, in order of time; entries without a time are left out, which is said among ``notes``."""
    options = plan.events
    if options is None:
        return ()
    source: Cells | FrameCells = replace(data, named_in="[events]") if isinstance(data, Cells) else FrameCells(data)
    time = source.times(options.time, options.date)
    text = list(zip(*(source.text(name) for name in options.text), strict=True))
    kind = list(zip(*(source.text(name) for name in options.kind or options.text), strict=True))
    layer = source.text(options.layer) if options.layer else [""] * len(text)
    order = np.argsort(time, kind="stable")
    if notes is not None and (timeless := int(np.isnat(time).sum())):
        notes.append(f"events: {plural(timeless, 'row')} without a time left out")
    return tuple(
        Event(time[i], " ".join(word for word in text[i] if word), " ".join(kind[i]), layer[i])
        for i in order
        if not np.isnat(time[i])
    )


def gauge_log(data: Any, plan: Plan, notes: list[str] | None = None) -> tuple[GaugeCheck, ...]:
    """The checks of a gauge verification log, in order of time.

    Rows that lack a time, a gauge, a value or a stated value, or have a unit that is not known, are left out; ``notes`` says so.
    """
    options = plan.gauge_checks
    if options is None:
        return ()
    source: Cells | FrameCells = replace(data, named_in="[gauge_checks]") if isinstance(data, Cells) else FrameCells(data)
    measure = source.text(options.unit_of_measure) if options.unit_of_measure else None
    value, stated = source.numbers(options.value), source.numbers(options.stated)
    wrong: dict[int, str] = {}
    if plan.measure.unit != "unstated":
        unit, written_in = plan.measure.unit, plan.measure.written_in
        value, wrong = in_working_unit(value, measure, wanted=unit, written_in=written_in)
        stated, _ = in_working_unit(stated, measure, wanted=unit, written_in=written_in)
    time, gauge = source.times(options.time), source.text(options.gauge)
    foil = list(zip(*(source.text(name) for name in options.foil), strict=True)) if options.foil else [()] * len(gauge)
    whole = ~np.isnat(time) & ~np.isnan(value) & ~np.isnan(stated)
    keep = [i for i in np.flatnonzero(whole) if i not in wrong and gauge[i]]
    if notes is not None and (lost := len(whole) - len(keep)):
        notes.append(
            f"gauge checks: {plural(lost, 'row')} left out, without a time, a gauge, a reading or a stated thickness, "
            "or in a unit that is not known"
        )
    # Two units of measure are two displays, even on one foil.
    which = [(foil[i], measure[i] if measure is not None else "", float(stated[i])) for i in keep]
    return gauge_sessions([gauge[i] for i in keep], time[keep], which, value[keep], stated[keep])
