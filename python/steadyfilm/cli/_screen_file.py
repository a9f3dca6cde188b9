"""What is wrong with a file of readings itself: faults with their lines, patterns with their chance, screens with rates."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from steadyfilm._files import read_cells
from steadyfilm._format import plural
from steadyfilm._review.screening import chance_text, in_lines, screen_readings, screen_text
from steadyfilm._screens.words import DataFault, rows_text
from steadyfilm.plan import Plan
from steadyfilm.screens import Screens

__all__ = ["MOST_SHOWN", "screen_file", "screen_lines"]

MOST_SHOWN = 30
"""Faults that are printed unless all are asked for."""


def screen_file(readings: Path, plan: Plan) -> Screens:
    """The screens on a file, with the baseline and the list of painted units that the plan names; rows are the file's lines."""
    month = read_cells(readings, **plan.reading_options())
    base = painted = None
    if plan.baseline is not None and plan.baseline.readings is not None:
        base = read_cells(plan.path(plan.baseline.readings), **plan.reading_options(plan.baseline))
    if plan.screens.painted is not None:
        painted = read_cells(plan.path(plan.screens.painted), **plan.reading_options(plan.screens))
    return in_lines(screen_readings(month, plan, baseline=base, painted=painted), month)


def screen_lines(found: Screens, *, everything: bool = False) -> Iterator[str]:
    """The verdict, then faults, patterns and what each screen did."""
    yield found.sentence()
    shown = found.faults if everything else found.faults[:MOST_SHOWN]
    for fault in shown:
        yield f"  fault: {_where(fault)}: {fault.reason}; {fault.way_out}"
    if len(shown) < len(found.faults):
        yield f"  ... and {plural(len(found.faults) - len(shown), 'more fault')}; --all shows them"
    for pattern in found.patterns:
        chance = f"chance in honest readings {chance_text(pattern.adjusted_pvalue)}, all tests allowed for"
        yield f"  pattern: {pattern.sentence} ({chance}); {pattern.way_out}"
    for run in found.runs:
        if run.false_flag_rate == run.false_flag_rate:  # not a number for checks of plain facts
            yield f"screen: {run.name}: {screen_text(run)}"
        elif not run.ran:
            yield f"check: {run.name}: did not run: {run.note}"
        else:
            yield f"check: {run.name}: {run.tests} looked at, {plural(run.found, 'fault')}"


def _where(fault: DataFault) -> str:
    parts = [f"{'line' if len(fault.rows) == 1 else 'lines'} {rows_text(fault.rows)}"] if fault.rows else []
    parts += [fault.serial] if fault.serial else []
    parts += [f"column {fault.column}"] if fault.column else []
    return ", ".join([*parts, *([fault.value] if fault.value else [])]) or fault.check
