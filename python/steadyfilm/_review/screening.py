"""The screens for patterns on the readings of a plan: what they tell of a file, in its own lines, and how often falsely."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._files import Cells
from steadyfilm._format import number, plural
from steadyfilm._input import Table
from steadyfilm._review.gather import FrameCells
from steadyfilm.limits import SpecLimits
from steadyfilm.screens import DataPattern, ScreenRun, Screens, screen

if TYPE_CHECKING:
    from steadyfilm.plan import Plan

WRITTEN_IN = "unit of measure (plan)"
"""Column of a file whose unit the plan alone knows."""
PATTERN_SCREENS = (
    "pile-up inside a limit",
    "extra readings at low places",
    "repeats too alike",
    "units without readings",
    "last digits",
)


@dataclass(frozen=True)
class Screening:
    """What the screens for patterns say of the readings. Rows are counted as in the file."""

    patterns: tuple[DataPattern, ...]
    unread: tuple[str, ...]
    """Units that were painted and have no reading, as far as the plan lets it be known."""
    runs: tuple[ScreenRun, ...]
    """Every screen: whether it ran, or why not, how many tests, and how often honest readings are told by it."""
    false_flag_rate: float
    """Chance, at most, that honest readings show any pattern."""
    tests: int

    @property
    def sentence(self) -> str:
        """Patterns, or that there are none, with the rate."""
        rate = f"honest readings show one with chance at most {number(100 * self.false_flag_rate, 2)} %"
        if not self.tests:
            return "No screen for patterns could run."
        if not self.patterns:
            return f"No pattern that honest readings would seldom show, in {plural(self.tests, 'test')} ({rate})."
        return f"{plural(len(self.patterns), 'pattern')} in {plural(self.tests, 'test')} ({rate})."


def chance_text(chance: float) -> str:
    """A chance in percent; what is smaller than anybody can judge is not written out.

    >>> chance_text(0.0042), chance_text(3e-31)
    ('0.42 %', 'below 0.0001 %')
    """
    return "below 0.0001 %" if chance < 1e-6 else f"{number(100 * chance, 2)} %"


def screen_text(run: ScreenRun) -> str:
    """What one screen did and how often it tells of honest readings."""
    if not run.ran:
        return f"did not run: {run.note}"
    if not run.tests:
        return f"nothing to test: {run.note}" if run.note else "nothing to test"
    return f"{plural(run.tests, 'test')}, {run.found} told, false flag at most {number(100 * run.false_flag_rate, 2)} %"


def screen_readings(data: Any, plan: Plan, *, baseline: Any = None, painted: Any = None) -> Screens:
    """The screens on a table or file of readings with the columns that a plan names.

    Rows of the result count from 1 in the table; `in_lines` puts the lines of a file in their place.
    """
    sheet = _table(data, plan)
    columns, options = plan.columns, plan.screens
    unit = "" if plan.measure.unit == "unstated" else plan.measure.unit
    windows = {x.source: SpecLimits(x.lower, x.upper) for x in plan.layers if x.minus is None and x.judged}
    present = set(sheet.columns[columns.layer]) if columns.layer else set()
    limits: Any = next(iter(windows.values()), None)
    if columns.layer:
        limits = {name: window for name, window in windows.items() if name in present}
    measured = columns.unit_of_measure or (WRITTEN_IN if WRITTEN_IN in sheet.columns else None)
    return screen(
        sheet,
        columns.value,
        unit=unit,
        serial=columns.unit,
        layer=columns.layer,
        location=columns.location,
        repeat=columns.repeat,
        attempt=columns.attempt,
        time=columns.time,
        unit_of_measure=measured,
        gauge=columns.gauge,
        groups=_groups(plan),
        limits=limits or None,
        planned_repeats=options.planned_readings,
        plausible=plan.measure.plausible,
        implausible_factor=plan.measure.implausible_factor,
        baseline=None if baseline is None else _table(baseline, plan),
        processed=None if painted is None else _painted(painted, plan),
        running_numbers=options.running_numbers,
        false_flag_rate=options.false_flag_rate,
    )


def screening(found: Screens, data: Any) -> Screening:
    """The patterns alone, in the file's own lines."""
    found = in_lines(found, data)
    runs = tuple(run for run in found.runs if run.name in PATTERN_SCREENS)
    unread = tuple(fault.serial for fault in found.faults if fault.check == "unit without readings")
    return Screening(found.patterns, unread, runs, found.false_flag_rate, found.tests)


def in_lines(found: Screens, data: Any) -> Screens:
    """The same with rows counted as in the file that the readings came from."""
    if not isinstance(data, Cells):
        return found
    line = [0, *data.lines]
    faults = tuple(dataclasses.replace(x, rows=tuple(line[i] for i in x.rows)) for x in found.faults)
    patterns = tuple(dataclasses.replace(x, rows=tuple(line[i] for i in x.rows)) for x in found.patterns)
    return dataclasses.replace(found, faults=faults, patterns=patterns)


def _groups(plan: Plan) -> tuple[str, ...]:
    return plan.screens.groups or tuple(dict.fromkeys([*plan.streams, *plan.adjust]))


def _table(data: Any, plan: Plan) -> Table:
    """The columns that the screens need, as text, numbers and times."""
    source: Cells | FrameCells = data if isinstance(data, Cells) else FrameCells(data)
    columns = plan.columns
    words = [*columns.unit, columns.layer, columns.location, columns.repeat, columns.unit_of_measure, columns.gauge]
    out: dict[str, Any] = {name: source.text(name) for name in (*words, *_groups(plan)) if name is not None}
    out[columns.value] = source.numbers(columns.value)
    if columns.attempt:
        out[columns.attempt] = source.numbers(columns.attempt)
    if columns.time:
        out[columns.time] = source.times(columns.time, columns.date)
    written_in = plan.measure.written_in
    if written_in not in (None, plan.measure.unit) and columns.unit_of_measure is None:
        out[WRITTEN_IN] = [written_in] * len(source.lines)
    return Table(out, "dict", len(source.lines))


def _painted(data: Any, plan: Plan) -> Table:
    source: Cells | FrameCells = data if isinstance(data, Cells) else FrameCells(data)
    have = [name for name in _groups(plan) if source.name_of(name) is not None]
    names = dict.fromkeys([*plan.columns.unit, *have])
    table: dict[str, Any] = {name: np.array(source.text(name), dtype=object) for name in names}
    return Table(table, "dict", len(source.lines))
