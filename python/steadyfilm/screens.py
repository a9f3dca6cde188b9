"""The data's own faults, found before anything is charted: plain ones row by row, and patterns too good to be true.

A screen speaks of readings, never of a person. Every pattern comes with the chance that honest readings show it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm._input import check_options, name_tuple
from steadyfilm._result import Explanation, Made, Result, Step
from steadyfilm._screens.faults import PlainOptions, plain_faults
from steadyfilm._screens.pattern import judged, strongest_curve
from steadyfilm._screens.run import PatternOptions, run_patterns
from steadyfilm._screens.sheet import Names, Sheet, find_grids, read_sheet
from steadyfilm._screens.words import DataFault, DataPattern, PileUp, ScreenRun, rows_text
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits
from steadyfilm.units import LENGTH_UNITS

__all__ = ["DataFault", "DataPattern", "PileUp", "ScreenRun", "Screens", "screen"]

Limits = SpecLimits | tuple[float | None, float | None]


@dataclass(frozen=True, eq=False, repr=False)
class Screens(Result):
    """What is wrong with the readings themselves.

    Attributes
    ----------
    faults : tuple of DataFault
        Facts about named rows.
    patterns : tuple of DataPattern
        Patterns that honest readings seldom show, smallest chance first.
    runs : tuple of ScreenRun
        Every check and screen: whether it ran, why not, how many tests, and its false-flag rate.
    false_flag_rate : float
        Chance, at most, that one table of honest readings shows any pattern.
    rows, rows_at_fault : int
        Rows looked at, and those with at least one fault.
    share_at_fault : float
    units : int
        Units read; 0 without a column for them.
    pile : PileUp or None
        Readings around the limit where they pile up most, told or not, for the picture.
    notes : tuple of str
        What is no fault but should be known.
    """

    _plot: ClassVar[str] = "screens:plot_screens"

    rows: int
    rows_at_fault: int
    share_at_fault: float
    units: int
    faults: tuple[DataFault, ...]
    patterns: tuple[DataPattern, ...]
    runs: tuple[ScreenRun, ...]
    false_flag_rate: float
    tests: int
    pile: PileUp | None
    notes: tuple[str, ...]

    @property
    def clean(self) -> bool:
        """Whether nothing was found."""
        return not self.faults and not self.patterns

    def sentence(self) -> str:
        read = plural(self.rows, "reading") + (f" of {plural(self.units, 'unit')}" if self.units else "")
        rate = f"honest readings show one with chance at most {100 * self.false_flag_rate:.2g} %"
        quiet = f"no pattern too good to be true in {plural(self.tests, 'test')} ({rate})"
        if not self.tests:
            quiet = "no screen for patterns could run"
        if self.clean:
            return f"Nothing wrong with {read}; {quiet}."
        parts = [_told(self.faults)] if self.faults else []
        if self.patterns:
            parts.append("; ".join(pattern.sentence for pattern in self.patterns[:2]))
            more = len(self.patterns) - 2
            parts[-1] += f"; and {plural(more, 'more pattern')}" if more > 0 else f" ({rate})"
        else:
            parts.append(quiet)
        return f"Look at the data first, {read}: {'; '.join(parts)}."

    def _columns(self) -> dict[str, Any]:
        """One row a fault or pattern; rows of the caller's table as text, counted from 1."""
        lines = [
            (x.check, rows_text(x.rows), len(x.rows), x.serial, x.column, x.value, x.reason, x.way_out, math.nan)
            for x in self.faults
        ]
        lines += [
            (
                x.screen,
                rows_text(x.rows) if len(x.rows) <= 12 else f"{len(x.rows)} rows",
                len(x.rows),
                "",
                "",
                f"{number(x.observed, 4)} against {number(x.expected, 3)} expected",
                x.sentence,
                x.way_out,
                x.adjusted_pvalue,
            )
            for x in self.patterns
        ]
        names = ("screen", "rows", "count", "serial", "column", "value", "reason", "way_out", "adjusted_pvalue")
        return {name: [line[k] for line in lines] for k, name in enumerate(names)}

    def explain(self) -> Explanation:
        steps = [
            Step(
                "share_at_fault",
                "rows_at_fault / rows",
                {"rows_at_fault": self.rows_at_fault, "rows": self.rows},
                self.share_at_fault,
            )
        ]
        for k, pattern in enumerate(self.patterns, 1):
            inputs = {"pvalue": pattern.pvalue, "tests": pattern.tests}
            steps.append(Step(f"pattern_{k}_chance", "min(1, pvalue * tests)", inputs, pattern.adjusted_pvalue))
        choices = {"false_flag_rate": f"{self.false_flag_rate:g} over all screens; each has the same share, divided by its tests"}
        for run in self.runs:
            what = f"{plural(run.tests, 'test')}, chance of a false flag at most {run.false_flag_rate:.2g}"
            if math.isnan(run.false_flag_rate):
                what = f"{run.tests} looked at"
            choices[run.name] = f"{what}{'; ' + run.note if run.note else ''}" if run.ran else f"did not run: {run.note}"
        return Explanation(self.sentence(), tuple(steps), choices, ("cpp/methods/screens.md",))


def _told(faults: Sequence[DataFault]) -> str:
    """Faults by check, the first of each in words."""
    checks: dict[str, list[DataFault]] = {}
    for fault in faults:
        checks.setdefault(fault.check, []).append(fault)
    parts = []
    for check, found in list(checks.items())[:4]:
        first = found[0]
        whose = f"{first.serial}: " if first.serial else f"row {first.rows[0]}: "
        more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
        parts.append(f"{check}, {whose}{first.reason}{more}")
    if len(checks) > 4:
        parts.append(f"{plural(sum(len(x) for x in list(checks.values())[4:]), 'other fault')}")
    return "; ".join(parts)


def screen(
    data: Any,
    value: str,
    *,
    unit: str,
    serial: str | Sequence[str] = (),
    layer: str | None = None,
    location: str | None = None,
    repeat: str | None = None,
    attempt: str | None = None,
    time: str | None = None,
    unit_of_measure: str | None = None,
    gauge: str | None = None,
    groups: str | Sequence[str] = (),
    limits: Limits | Mapping[str, Limits] | None = None,
    resolution: float | Mapping[str, float] | None = None,
    repeat_sd: float | Mapping[str, float] | None = None,
    planned_repeats: int | None = None,
    plausible: tuple[float, float] | None = None,
    implausible_factor: float = 10.0,
    baseline: Any = None,
    processed: Any = None,
    running_numbers: bool = False,
    false_flag_rate: float = 0.01,
) -> Screens:
    """Look for faults of the data before anything is charted.

    Parameters
    ----------
    data : table
        One row a reading (pandas, polars, Arrow, mapping of columns). Missing values are listed, not refused.
    value : str
        Column of the readings.
    unit : str
        Working unit. With ``"mil"`` or ``"um"`` a slip between the two is looked for; any other word is only carried along.
    serial : column name or names
        What one painted unit is. Without it most checks cannot run; the result names them.
    layer, location, repeat, attempt, time, unit_of_measure, gauge : str, optional
        Columns; a check that needs one that is not named does not run and says so.
    groups : column name or names
        Columns by which patterns are also looked for, for example shift, spray gun or booth.
    limits : SpecLimits or (lower, upper), or mapping of layer to one
        Limits near which readings may pile up, in the working unit; either side may be None.
    resolution : float or mapping of gauge to float, optional
        Display step, in the unit the values are written in; found from the values if left out.
    repeat_sd : float or mapping of layer to float, optional
        Repeat standard deviation known of the gauge (of a gauge study), working unit; else groups are compared with one another.
    planned_repeats : int, optional
        Readings a place should have; the usual number if left out.
    plausible : (lowest, highest), optional
        What the gauge could show at all, working unit; else values more than ``implausible_factor`` times from the median are
        told.
    baseline : table, optional
        Readings of a usual period, the same columns: gives each layer's usual level and the usual spread of repeats.
    processed : table or sequence, optional
        Units that were painted: serials, or a table with the ``serial`` column and, to compare them, the ``groups`` columns.
    running_numbers : bool
        Serials end in a running number: gaps are units without readings.
    false_flag_rate : float
        Chance, at most, that a table of honest readings shows any pattern.

    Raises
    ------
    DataProblemsError
        Columns that are not there, cells that are no numbers or times.

    Examples
    --------
    >>> film = {"body": ["A", "A", "B", "B", "C", "C"], "film": [2.12, 2.06, 2.14, 2.08, 53.6, 52.9]}
    >>> found = screen(film, "film", unit="mil", serial="body")
    >>> found.faults[0].check, found.faults[0].rows
    ('wrong unit', (5, 6))
    >>> found.faults[0].reason
    '2 readings: more than 10 times away from the median 2.13 of all readings; 2.11 would fit: um typed as mil?'
    """
    check_options(screen, locals())
    if not 0.0 < false_flag_rate < 1.0:
        raise InvalidInputError(f"false_flag_rate must lie between 0 and 1, got {false_flag_rate}", argument="false_flag_rate")
    if implausible_factor <= 1.0:
        raise InvalidInputError(f"implausible_factor must exceed 1, got {implausible_factor}", argument="implausible_factor")
    names = Names(value, name_tuple(serial), layer, location, repeat, attempt, time, unit_of_measure, gauge, name_tuple(groups))
    if unit_of_measure is not None and unit not in LENGTH_UNITS:
        raise InvalidInputError(f"unit_of_measure needs a unit to convert to: 'mil' or 'um', not {unit!r}", argument="unit")
    sheet = read_sheet(data, names, unit=unit)
    windows = _windows(limits, sheet)
    usual = read_sheet(baseline, names, unit=unit) if baseline is not None else None
    grids, grid = find_grids(sheet, resolution)
    plain = plain_faults(
        sheet, grids, grid, PlainOptions(windows, plausible, implausible_factor, planned_repeats, _levels(usual))
    )
    options = PatternOptions(windows, resolution, _by_layer(repeat_sd, sheet), planned_repeats, usual, processed, running_numbers)
    screened, listed = run_patterns(sheet, np.flatnonzero(plain.clean), options)
    patterns, runs = judged(screened, false_flag_rate)
    pile = strongest_curve(screened, false_flag_rate)
    faults = plain.faults + listed
    at_fault = {row for fault in faults for row in fault.rows}
    rows = len(sheet.value)
    return Screens(
        made=Made(
            function="screen",
            unit=unit,
            count=rows,
            missing_rows=tuple((np.flatnonzero(np.isnan(sheet.written)) + 1).tolist()),
            frame=sheet.frame,
            options={
                "resolution": dict(resolution) if isinstance(resolution, Mapping) else resolution,
                "repeat_sd": dict(repeat_sd) if isinstance(repeat_sd, Mapping) else repeat_sd,
                "planned_repeats": planned_repeats,
                "plausible": None if plausible is None else list(plausible),
                "implausible_factor": implausible_factor,
                "running_numbers": running_numbers,
                "limits": {name: [x.lower, x.upper] for name, x in windows.items()},
            },
            version=_core.version,
        ),
        rows=rows,
        rows_at_fault=len(at_fault),
        share_at_fault=len(at_fault) / rows,
        units=len({code for code in sheet.serial.tolist() if code >= 0}) if names.serial else 0,
        faults=faults,
        patterns=patterns,
        runs=plain.runs + runs,
        false_flag_rate=float(false_flag_rate),
        tests=sum(run.tests for run in runs),
        pile=pile,
        notes=tuple(_mixed(sheet)),
    )


def _windows(limits: Limits | Mapping[str, Limits] | None, sheet: Sheet) -> dict[str, SpecLimits]:
    """Limits by layer; limits without a layer hold for all rows."""
    if limits is None:
        return {}
    if isinstance(limits, Mapping):
        if unknown := [name for name in limits if name not in sheet.layers]:
            raise InvalidInputError(
                f"limits name {unknown}, which no row has; layers present: {list(sheet.layers[:8])}", argument="limits"
            )
        return {name: _window(given) for name, given in limits.items()}
    return dict.fromkeys(sheet.layers, _window(limits))


def _window(given: Limits) -> SpecLimits:
    return given if isinstance(given, SpecLimits) else SpecLimits(lower=given[0], upper=given[1])


def _by_layer(given: float | Mapping[str, float] | None, sheet: Sheet) -> dict[str, float]:
    if given is None:
        return {}
    found = dict(given) if isinstance(given, Mapping) else dict.fromkeys(sheet.layers, float(given))
    for name, sd in found.items():
        if not (math.isfinite(sd) and sd > 0.0):
            raise InvalidInputError(f"repeat_sd must be positive and finite, got {sd} for '{name}'", argument="repeat_sd")
    return found


def _levels(usual: Sheet | None) -> dict[str, float]:
    if usual is None:
        return {}
    usable = usual.usable
    return {
        name: float(np.median(usual.value[usable & (usual.layer == code)]))
        for code, name in enumerate(usual.layers)
        if (usable & (usual.layer == code)).any()
    }


def _mixed(sheet: Sheet) -> list[str]:
    """Both units of measure in one table are converted, and said."""
    if not sheet.names.unit_of_measure or not sheet.length:
        return []
    words = [word for word in sheet.measure.tolist() if word]
    kinds = {word: words.count(word) for word in dict.fromkeys(words)}
    if len(kinds) < 2:
        return []
    counts = ", ".join(f"{count} in {word}" for word, count in kinds.items())
    return [f"values are written in different units of measure ({counts}); all are converted to {sheet.unit}"]
