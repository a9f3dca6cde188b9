"""All plain faults of a sheet, one entry a cause, and the rows that are left for the screens for patterns."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural
from steadyfilm._screens.copies import by_repeat, copied_units
from steadyfilm._screens.grids import on_grid
from steadyfilm._screens.plain import entered_before, far_off, implausible, short_places, usual_levels
from steadyfilm._screens.sheet import Codes, Grid, Sheet
from steadyfilm._screens.times import time_faults
from steadyfilm._screens.words import DataFault, ScreenRun
from steadyfilm.limits import SpecLimits


@dataclass(frozen=True)
class PlainOptions:
    """What is known beforehand."""

    limits: Mapping[str, SpecLimits]
    plausible: tuple[float, float] | None
    factor: float
    planned_repeats: int | None
    levels: Mapping[str, float]
    """Usual level of each layer from a baseline."""


@dataclass(frozen=True)
class PlainFindings:
    """Faults, which checks ran, and the rows without a fault that would mislead a screen."""

    faults: tuple[DataFault, ...]
    runs: tuple[ScreenRun, ...]
    clean: NDArray[np.bool_]


class _Collector:
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.faults: list[DataFault] = []
        self.runs: list[ScreenRun] = []
        self.clean = sheet.usable.copy()

    def add(self, check: str, rows: Sequence[int] | Codes, column: str | None, reason: str, way_out: str, *, aside: bool) -> None:
        sheet, at = self.sheet, [int(i) for i in rows]
        if aside:
            self.clean[at] = False
        serials = list(dict.fromkeys(sheet.serials[sheet.serial[i]] for i in at)) if sheet.names.serial else []
        values = list(dict.fromkeys(_value(sheet, i) for i in at))
        self.faults.append(
            DataFault(
                check=check,
                rows=tuple(i + 1 for i in at),
                column=column or "",
                serial=", ".join(serials[:3]),
                value=", ".join(values[:3]) + (", ..." if len(values) > 3 else ""),
                reason=reason,
                way_out=way_out,
                set_aside=aside,
            )
        )

    def ran(self, name: str, start: int, tested: int, note: str = "") -> None:
        self.runs.append(ScreenRun(name, True, note, tested, len(self.faults) - start, math.nan))

    def left_out(self, name: str, why: str) -> None:
        self.runs.append(ScreenRun(name, False, why, 0, 0, math.nan))


def plain_faults(sheet: Sheet, grids: Sequence[Grid], grid: Codes, options: PlainOptions) -> PlainFindings:
    """Faults in the order in which a reader should look."""
    found = _Collector(sheet)
    _unreadable(found)
    _values(found, grids, grid, options)
    _entered_twice(found)
    _copies(found)
    _off_the_grid(found, grids, grid)
    _short(found, options)
    _times(found)
    return PlainFindings(tuple(found.faults), tuple(found.runs), found.clean)


def _value(sheet: Sheet, i: int) -> str:
    return "" if math.isnan(sheet.written[i]) else f"{number(float(sheet.written[i]), 6)} {sheet.measure[i]}".rstrip()


def _together(sheet: Sheet, reasons: Mapping[int, str]) -> list[tuple[list[int], str]]:
    """Rows of one unit and layer with the same kind of reason as one entry; the reason is that of the first."""
    groups: dict[tuple[int, int, str], list[int]] = {}
    for i, reason in reasons.items():
        groups.setdefault((int(sheet.serial[i]), int(sheet.layer[i]), reason.partition(";")[0]), []).append(i)
    return [(rows, reasons[rows[0]]) for rows in groups.values()]


def _unreadable(found: _Collector) -> None:
    sheet, names, start = found.sheet, found.sheet.names, len(found.faults)
    for rows, reason in _together(sheet, sheet.faulty):
        column = names.unit_of_measure if reason.startswith("unknown") else None
        found.add("unreadable", rows, column, reason, "write what is meant; nothing is guessed", aside=True)
    missing = [i for i in np.flatnonzero(np.isnan(sheet.written)).tolist() if i not in sheet.faulty]
    for rows, reason in _together(sheet, dict.fromkeys(missing, "reading is missing")):
        found.add("missing reading", rows, names.value, reason, "read the place again, or write why it was not read", aside=True)
    found.ran("readable", start, len(sheet.value))


def _values(found: _Collector, grids: Sequence[Grid], grid: Codes, options: PlainOptions) -> None:
    sheet, names, start = found.sheet, found.sheet.names, len(found.faults)
    usable, layer = found.clean.copy(), sheet.layer_words()
    levels = dict(options.levels)
    if sheet.length:
        levels = usual_levels(sheet.value, layer, usable, options.limits) | levels
    strange = implausible(
        sheet.value,
        layer,
        usable,
        length=sheet.length,
        plausible=options.plausible,
        factor=options.factor,
        reference=levels,
        source="the stated",
    )
    for rows, reason in _together(sheet, {i: x.reason for i, x in strange.items() if x.kind == "wrong unit"}):
        which = f"{plural(len(rows), 'reading')}: {reason}"
        found.add("wrong unit", rows, names.value, which, "correct the unit of these rows at the source", aside=True)
    steps = np.array([x.step * x.scale for x in grids] + [0.0])[grid]
    far = far_off(sheet.value, layer, usable, steps, reference=levels)
    hints = {i: far.get(i, "").partition(";") for i in strange}
    impossible = {i: x.reason + "".join(hints[i][1:]) for i, x in strange.items() if x.kind != "wrong unit"}
    for rows, reason in _together(sheet, impossible):
        found.add("impossible value", rows, names.value, reason, "look at the form; read the place again", aside=True)
    for i, reason in far.items():
        if i in strange:
            continue
        found.add("far off", [i], names.value, reason, "look at the form; read the place again", aside=True)
    found.ran("values that can be", start, int(usable.sum()))


def _entered_twice(found: _Collector) -> None:
    sheet, names, start = found.sheet, found.sheet.names, len(found.faults)
    if not names.serial or not names.repeat:
        found.left_out("entered twice", "needs the columns of the unit and of the repeat number")
        return
    rows = np.flatnonzero(found.clean)
    assert sheet.repeat is not None  # its column is named
    columns = (sheet.serial, sheet.layer, sheet.place, sheet.repeat, sheet.attempt)
    groups: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for i, first in entered_before(zip(*(column[rows] for column in columns), strict=True)).items():
        row = int(rows[i])
        groups.setdefault((int(sheet.serial[row]), int(sheet.layer[row])), []).append((row, int(rows[first])))
    for pairs in groups.values():
        same = all(sheet.value[i] == sheet.value[j] for i, j in pairs)
        reason = f"same place and repeat as row {pairs[0][1] + 1}, {'with the same' if same else 'with another'} value"
        found.add(
            "entered twice", [i for i, _ in pairs], names.repeat, reason, "keep one; if both were read, number them", aside=True
        )
    found.ran("entered twice", start, len(rows))


def _copies(found: _Collector) -> None:
    sheet, names, start = found.sheet, found.sheet.names, len(found.faults)
    if not names.serial:
        found.left_out("copied units", "needs the column of the unit")
        return
    rows = by_repeat(np.flatnonzero(found.clean & (sheet.attempt == 1)), sheet.repeat)
    args = (sheet.serial, sheet.layer, sheet.place, sheet.value, sheet.written)
    told = set()
    copies = copied_units(*args, rows, near=True)
    for code in range(len(sheet.layers)) if len(sheet.layers) > 1 else ():
        whole = {copy.unit for copy in copies}
        copies += [x for x in copied_units(*args, rows[sheet.layer[rows] == code], near=True) if x.unit not in whole]
    for copy in copies:
        layers = list(dict.fromkeys(sheet.layers[k] for k in sheet.layer[copy.rows]))
        if (copy.unit, layers[0]) in told:
            continue
        told.add((copy.unit, layers[0]))
        part = f"{'' if copy.equal == copy.count else f'{copy.equal} of '}{copy.count}"
        of = f" of '{layers[0]}'" if len(layers) < len(sheet.layers) and layers[0] else ""
        verb = f"all {part}" if copy.equal == copy.count else part
        reason = (
            f"{verb} readings{of} equal those of {sheet.serials[copy.source]}; expected honest pairs so alike: "
            f"{'below 1e-9' if copy.chance < 1e-9 else f'{copy.chance:.1g}'}"
        )
        found.add(
            "copied unit", copy.rows, names.value, reason, "read the unit again; one form may have been used twice", aside=True
        )
    found.ran("copied units", start, len(np.unique(sheet.serial[rows])))


def _off_the_grid(found: _Collector, grids: Sequence[Grid], grid: Codes) -> None:
    sheet, start = found.sheet, len(found.faults)
    tested, off = 0, {}
    for code, of in enumerate(grids):
        rows = np.flatnonzero(found.clean & (grid == code))
        if of.step <= 0.0:
            continue
        tested += len(rows)
        for i in rows[~on_grid(sheet.written[rows], of.step)].tolist():
            off[i] = f"not a multiple of {number(of.step)}, the step of {of.label}"
    for rows_off, reason in _together(sheet, off):
        way_out = "a computed or retyped value? find what the gauge showed"
        found.add("off the grid", rows_off, sheet.names.value, reason, way_out, aside=True)
    if tested:
        found.ran("display grid", start, tested)
    else:
        found.left_out("display grid", "the values keep to no step")


def _short(found: _Collector, options: PlainOptions) -> None:
    sheet, names, start = found.sheet, found.sheet.names, len(found.faults)
    if not names.serial:
        found.left_out("missing places", "needs the column of the unit")
        return
    # Rows entered and set aside count as read: what is wrong with them is told already.
    rows = np.flatnonzero(sheet.attempt == 1)
    rows = rows[[i not in sheet.faulty for i in rows.tolist()]]
    shorts = short_places(
        sheet.serial[rows], sheet.layer[rows], sheet.place[rows], planned=options.planned_repeats, all_places=True
    )
    first: dict[tuple[int, int], int] = {}
    for i in rows.tolist():
        first.setdefault((int(sheet.serial[i]), int(sheet.layer[i])), i)
    for short in shorts:
        where = f" at {sheet.places[short.place]}" if sheet.places[short.place] else ""
        layer = f" of '{sheet.layers[short.layer]}'" if sheet.layers[short.layer] else ""
        reason = f"{short.count} of {short.usual} readings{layer}{where}"
        at = first[(short.unit, short.layer)]
        found.add("missing place", [at], names.location, reason, "read the place, or write why it was not read", aside=False)
    found.ran("missing places", start, len(first))


def _times(found: _Collector) -> None:
    sheet, start = found.sheet, len(found.faults)
    if not sheet.names.time or not sheet.names.serial:
        found.left_out("times", "needs the columns of the time and of the unit")
        return
    for fault in time_faults(sheet, np.flatnonzero(found.clean)):
        found.add("time", fault.rows, sheet.names.time, fault.reason, "look at the clock of the gauge or the form", aside=False)
    found.ran("times", start, int(found.clean.sum()))
