"""A table of readings with its columns told apart, and the display grid of each reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _input
from steadyfilm._review.attempts import attempt_numbers
from steadyfilm._screens.grids import display_step, on_grid
from steadyfilm._screens.plain import in_working_unit
from steadyfilm.errors import DataProblem, DataProblemsError

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
Words = NDArray[np.object_]

FEWEST_FOR_A_STEP = 5
"""Readings of one unit from which its own display step is told apart from the gauge's; fewer fit a coarse step by chance."""


@dataclass(frozen=True)
class Names:
    """The caller's names of the columns; None where there is none."""

    value: str
    serial: tuple[str, ...] = ()
    layer: str | None = None
    location: str | None = None
    repeat: str | None = None
    attempt: str | None = None
    time: str | None = None
    unit_of_measure: str | None = None
    gauge: str | None = None
    groups: tuple[str, ...] = ()


@dataclass(frozen=True)
class Grid:
    """One display: readings of one gauge in one unit of measure that keep to ``step`` (as written; 0 if to none)."""

    label: str
    gauge: str
    measure: str
    step: float
    scale: float
    """Working units in one written unit."""


@dataclass(frozen=True)
class Sheet:
    """Readings in the order of the table. ``serial``, ``layer``, ``place`` are codes into the tuple of the plural name."""

    names: Names
    frame: str
    unit: str
    length: bool
    written: Floats
    value: Floats
    """In the working unit."""
    serials: tuple[str, ...]
    serial: Codes
    """-1 where no unit is named; without a column for it every row is a unit of its own."""
    layers: tuple[str, ...]
    layer: Codes
    places: tuple[str, ...]
    place: Codes
    repeat: Words | None
    attempt: NDArray[np.int64]
    time: NDArray[np.datetime64] | None
    gauge: Words
    measure: Words
    groups: dict[str, Words]
    faulty: dict[int, str] = field(default_factory=dict)
    """Rows that cannot be read at all: unit of measure or label missing."""

    @property
    def usable(self) -> NDArray[np.bool_]:
        """Rows with a value that can be read."""
        usable = np.isfinite(self.value)
        usable[list(self.faulty)] = False
        return usable

    def layer_words(self) -> Words:
        """The layer's name of every row."""
        return np.array(self.layers, dtype=object)[self.layer]


def read_sheet(data: Any, names: Names, *, unit: str) -> Sheet:
    """A table as a sheet; missing values stay NaN, numbers that are none are refused."""
    table = _input.table(data)
    height = table.height
    if not height:
        raise DataProblemsError([DataProblem("", 0, "", "the table has no rows")])

    def words(column: str | None) -> Words | None:
        return None if column is None else _input.labels(table.column(column), name=column)

    def text(column: str | None) -> Words:
        found = words(column)
        if found is None:
            return np.full(height, "", dtype=object)
        return np.array(["" if word is None else str(word).strip() for word in found], dtype=object)

    written = _input.optional_numbers(table, names.value)
    length = unit in ("mil", "um")
    measure = text(names.unit_of_measure)
    value = written.copy()
    faulty: dict[int, str] = {}
    if length:
        value, faulty = in_working_unit(written, measure.tolist() if names.unit_of_measure else None, wanted=unit)
    parts = [text(name) for name in names.serial]
    for role, column in (("unit", names.serial), ("layer", names.layer), ("location", names.location)):
        for name in (column,) if isinstance(column, str) else column or ():
            for i in np.flatnonzero(text(name) == "").tolist():
                faulty.setdefault(i, f"no {role} named")
    if parts:
        serial_text = [" / ".join(row) for row in zip(*parts, strict=True)]
        serials, serial = coded(serial_text)
    else:
        serials, serial = tuple(f"row {i + 1}" for i in range(height)), np.arange(height)
    layers, layer = coded(text(names.layer).tolist())
    places, place = coded(text(names.location).tolist())
    attempt = np.ones(height, dtype=np.int64)
    if names.attempt:
        given = _input.optional_numbers(table, names.attempt)
        attempt = attempt_numbers(given, range(1, height + 1), names.attempt)
    return Sheet(
        names=names,
        frame=table.frame,
        unit=unit,
        length=length,
        written=written,
        value=value,
        serials=serials,
        serial=serial,
        layers=layers,
        layer=layer,
        places=places,
        place=place,
        repeat=text(names.repeat) if names.repeat else None,
        attempt=attempt,
        time=_input.times(table, names.time) if names.time else None,
        gauge=text(names.gauge),
        measure=measure,
        groups={name: text(name) for name in names.groups},
        faulty=faulty,
    )


def coded(text: Sequence[str]) -> tuple[tuple[str, ...], Codes]:
    """Labels in order of appearance, and each row's code."""
    codes: dict[str, int] = {}
    out = np.array([codes.setdefault(word, len(codes)) for word in text], dtype=np.intp)
    return tuple(codes), out


def find_grids(sheet: Sheet, resolution: float | Mapping[str, float] | None) -> tuple[tuple[Grid, ...], Codes]:
    """The display grids of a sheet, and each row's (-1 where the row has no value).

    A given ``resolution`` (one step, or by gauge, as written) is taken as it is. Otherwise the step is the coarsest that 98 % of
    a gauge's readings in one unit of measure keep to; units whose readings all keep to a step five times coarser or more are
    a grid of their own: a gauge may display other steps on another metal.
    """
    grids: list[Grid] = []
    which = np.full(len(sheet.value), -1, dtype=np.intp)
    usable = np.isfinite(sheet.written) & sheet.usable
    pairs = [f"{gauge}\0{measure}" for gauge, measure in zip(sheet.gauge, sheet.measure, strict=True)]
    keys, key = coded(pairs)
    for code, text in enumerate(keys):
        gauge, _, measure = text.partition("\0")
        rows = np.flatnonzero(usable & (key == code))
        if not len(rows):
            continue
        step = resolution.get(gauge) if isinstance(resolution, Mapping) else resolution
        parts = [(float(step), rows)] if step else _own_steps(sheet, rows)
        for size, part in parts:
            which[part] = len(grids)
            grids.append(Grid(_label(sheet, gauge, measure, size), gauge, measure, size, _scale(sheet, part)))
    return tuple(grids), which


def _own_steps(sheet: Sheet, rows: Codes) -> list[tuple[float, Codes]]:
    values = sheet.written[rows]
    step = display_step(values)
    if step == 0.0:
        return [(0.0, rows)]
    own = np.full(len(rows), step)
    serial = sheet.serial[rows]
    order = np.argsort(serial, kind="stable")
    for part in np.split(order, np.flatnonzero(np.diff(serial[order])) + 1):
        if len(part) < FEWEST_FOR_A_STEP or np.ptp(values[part]) == 0.0:
            continue
        for coarser in (10.0 * step, 5.0 * step):
            if on_grid(values[part], coarser).all():
                own[part] = coarser
                break
    out = []
    for size in np.unique(own).tolist():
        part = np.flatnonzero(own == size)
        # Without the coarse units a finer look: the rest must keep to its step by itself.
        found = display_step(values[part]) if size == step else size
        out.append((found, rows[part]))
    return out


def _label(sheet: Sheet, gauge: str, measure: str, step: float) -> str:
    where = f"gauge {gauge}" if gauge else "all readings"
    unit = measure or sheet.unit
    return f"{where}, {step:g} {unit}".rstrip() + " display" if step else where


def _scale(sheet: Sheet, rows: Codes) -> float:
    nonzero = rows[sheet.written[rows] != 0]
    return float(np.median(sheet.value[nonzero] / sheet.written[nonzero])) if len(nonzero) else 1.0
