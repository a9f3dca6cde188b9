"""The file of a gauge study: one row a reading, several studies apart, every problem with its line and the way out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm._files import Cells
from steadyfilm._format import number, plural
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import LENGTH_UNITS, convert_length, unit_symbol

__all__ = ["StudyColumns", "StudyRows", "studies_of"]

USUAL_APART = ("gauge", "substrate")
"""Columns that, if a file has them, keep studies apart: a gauge on another metal is another measurement system."""
USUAL_UNIT = "unit_of_measure"
USUAL_TRIAL = "trial"
MOST_STUDIES = 40
FEWEST_READINGS = 2


@dataclass(frozen=True)
class StudyColumns:
    """The file's name of each column; ``None`` takes the usual name if the file has it, an empty name says that there is none.

    ``part``, ``appraiser`` and ``value`` must be there; ``appraiser=""`` is a study by one appraiser.
    """

    part: str = "part"
    appraiser: str = "appraiser"
    trial: str | None = None
    value: str = "value"
    unit_of_measure: str | None = None
    apart: tuple[str, ...] | None = None


@dataclass(frozen=True)
class StudyRows:
    """One study's readings in the working unit, in the order of the file."""

    name: str
    """What the columns that keep studies apart say of it; empty for a lone one."""
    part: tuple[str, ...]
    appraiser: tuple[str, ...] | None
    trial: tuple[str, ...] | None
    value: NDArray[np.float64]
    step: float
    """Smallest step between two readings: what the display can tell, in the working unit; 0 where all are equal."""
    empty: tuple[int, ...]
    """Lines of the file whose reading was not taken."""


def studies_of(
    cells: Cells, columns: StudyColumns, *, unit: str | None = None, written_in: str | None = None
) -> tuple[str, tuple[StudyRows, ...]]:
    """The working unit (empty if unstated) and the studies of a file, in order of appearance.

    Parameters
    ----------
    cells : Cells
    columns : StudyColumns
    unit : {"mil", "um", "unstated"}, optional
        The working unit; by default that of the file, if it names one for all its rows.
    written_in : {"mil", "um"}, optional
        Unit of the numbers in a file that does not name it; the working unit if left out.

    Raises
    ------
    DataProblemsError
        A column that is not there, a cell that cannot be used, a reading entered twice, with line and way out.
    """
    _require_columns(cells, [columns.part, *([columns.appraiser] if columns.appraiser else []), columns.value])
    value = _values(cells, columns.value)
    part = _labels(cells, columns.part)
    appraiser = _labels(cells, columns.appraiser) if columns.appraiser else None
    trial_name = _optional(cells, columns.trial, USUAL_TRIAL)
    trial = _labels(cells, trial_name) if trial_name else None
    apart = columns.apart
    if apart is None:
        apart = tuple(name for name in USUAL_APART if cells.name_of(name) is not None)
    keys = list(zip(*(_labels(cells, name) for name in apart), strict=True)) if apart else [()] * len(value)
    unit_name = _optional(cells, columns.unit_of_measure, USUAL_UNIT)
    working, value = _in_one_unit(cells, value, unit_name, unit, written_in)
    _refuse_twice(cells, keys, part, appraiser, trial, trial_name)
    found = []
    names = dict.fromkeys(keys)
    if len(names) > MOST_STUDIES:
        raise cells.problems(
            [DataProblem(" + ".join(apart), 0, "", f"holds {len(names)} studies, more than {MOST_STUDIES}")],
            "Name the columns that tell gauges and metals apart, such as gauge, and no others.",
        )
    for key in names:
        rows = [i for i, other in enumerate(keys) if other == key]
        read = [i for i in rows if not np.isnan(value[i])]
        name = ", ".join(f"{column} {word}" for column, word in zip(apart, key, strict=True))
        if len(read) < FEWEST_READINGS:
            where = f" of {name}" if name else ""
            raise cells.problems(
                [DataProblem(columns.value, cells.lines[rows[0]], "", f"the study{where} has {plural(len(read), 'reading')}")],
                "A study needs several parts, each read more than once.",
            )
        found.append(
            StudyRows(
                name,
                tuple(part[i] for i in read),
                tuple(appraiser[i] for i in read) if appraiser is not None else None,
                tuple(trial[i] for i in read) if trial is not None else None,
                np.ascontiguousarray(value[read]),
                display_step(value[read]),
                tuple(cells.lines[i] for i in rows if np.isnan(value[i])),
            )
        )
    return working, tuple(found)


def _require_columns(cells: Cells, names: Sequence[str]) -> None:
    """Every column that a study must have; all that are not there in one error."""
    missing = [name for name in names if cells.name_of(name) is None]
    if len(missing) > 1:
        have = ", ".join(f"'{name}'" for name in cells.columns)
        raise cells.problems(
            [DataProblem(name, 0, "", "no such column") for name in missing],
            f"columns present: {have}. Name it in the plan's [columns].",
        )


def _values(cells: Cells, column: str) -> NDArray[np.float64]:
    """The readings; grades in words are pointed to what judges them."""
    try:
        return cells.numbers(column)
    except DataProblemsError as error:
        words = sum(problem.reason == "is not a number" and any(map(str.isalpha, problem.value)) for problem in error.problems)
        if 2 * words < len(cells.lines):
            raise
        advice = (
            "A gauge study needs readings on a scale. Grades (pass or fail, good or bad) are compared as agreement between "
            "judges instead. "
        )
        raise retold(error, [(error.advice, f"{advice}{error.advice}")]) from None


def display_step(values: NDArray[np.float64]) -> float:
    """The smallest step between two different readings; 0 where there is none.

    >>> display_step(np.array([2.9, 3.0, 3.2, 2.9]))
    0.1
    """
    steps = np.diff(np.unique(values))
    # What differs by the noise of a conversion is the same reading.
    steps = steps[steps > 1e-9 * float(np.abs(values).max(initial=0.0))]
    return float(f"{steps.min():.6g}") if len(steps) else 0.0


def _optional(cells: Cells, name: str | None, usual: str) -> str:
    """A column that was named must be there; the usual one may."""
    if name is None:
        return usual if cells.name_of(usual) is not None else ""
    if name:
        cells.cells(name)
    return name


def _labels(cells: Cells, column: str) -> list[str]:
    found = cells.text(column)
    problems = [
        DataProblem(column, line, "''", "is empty, so nobody knows where the reading belongs")
        for line, text in zip(cells.lines, found, strict=True)
        if not text
    ]
    if problems:
        raise cells.problems(problems, "Fill them in, or take those rows out.")
    return found


def _in_one_unit(
    cells: Cells, value: NDArray[np.float64], column: str, unit: str | None, written_in: str | None
) -> tuple[str, NDArray[np.float64]]:
    """The working unit and the readings in it; each is converted by one multiplication or division."""
    if unit == "unstated":
        return "", value
    if not column:
        if unit is None:
            raise InvalidInputError(
                "nothing says whether the readings are mil or um: name the file's column of units, or say which (unit)",
                argument="unit",
            )
        factor = convert_length(1.0, given=written_in or unit, wanted=unit)
        if factor == 1.0:
            return unit, value
        return unit, np.array([convert_length(float(x), given=written_in or unit, wanted=unit) for x in value])
    words = cells.text(column)
    meant: dict[str, str] = {}
    problems = []
    for line, text, x in zip(cells.lines, words, value, strict=True):
        if np.isnan(x):
            continue
        try:
            meant[text] = unit_symbol(text, among=LENGTH_UNITS)
        except InvalidInputError:
            problems.append(DataProblem(column, line, repr(text), "is no unit of film thickness known here"))
    if problems:
        raise cells.problems(problems, "Write mil or um.")
    if unit is None:
        if len(set(meant.values())) > 1:
            raise InvalidInputError(
                f"{cells.file} holds readings in {' and '.join(sorted(set(meant.values())))}: say which one to work in (unit)",
                argument="unit",
            )
        unit = next(iter(meant.values()), "mil")
    out = [x if np.isnan(x) else convert_length(float(x), given=meant[t], wanted=unit) for x, t in zip(value, words, strict=True)]
    return unit, np.array(out)


def _refuse_twice(
    cells: Cells,
    keys: Sequence[tuple[str, ...]],
    part: Sequence[str],
    appraiser: Sequence[str] | None,
    trial: Sequence[str] | None,
    trial_name: str,
) -> None:
    """A trial that stands twice for the same part and appraiser is a row entered twice, or a wrong label."""
    if trial is None:
        return
    first: dict[tuple[object, ...], int] = {}
    problems = []
    who = appraiser if appraiser is not None else [""] * len(part)
    for i, line in enumerate(cells.lines):
        cell = (keys[i], part[i], who[i], trial[i])
        if cell in first:
            by = f", appraiser '{who[i]}'" if who[i] else ""
            reason = f"stands twice for part '{part[i]}'{by}; first in {cells.counted_in} {first[cell]}"
            problems.append(DataProblem(trial_name, line, repr(trial[i]), reason))
        else:
            first[cell] = line
    if problems:
        raise cells.problems(problems, "Take out the row that was entered twice, or correct its part, appraiser or trial.")


def empty_note(rows: StudyRows, counted_in: str) -> str:
    """Which readings of a study were not taken."""
    of = f" of {rows.name}" if rows.name else ""
    shown = ", ".join(number(line) for line in rows.empty[:8])
    more = f" and {len(rows.empty) - 8} more" if len(rows.empty) > 8 else ""
    counted = plural(len(rows.empty), "reading")
    return f"{counted}{of} not taken ({counted_in} {shown}{more}): the study is computed from those that are there."


def retold(error: DataProblemsError, ways: Sequence[tuple[str, str]]) -> DataProblemsError:
    """The same problems with another way out, where advice speaks of a plan that was not given."""
    advice = error.advice
    for said, instead in ways:
        advice = advice.replace(said, instead)
    # The message knows how lines are counted; keep its words, change the advice alone.
    told = DataProblemsError(error.problems, advice=advice, file=error.file)
    told.args = (str(error).replace(error.advice, advice),) if error.advice else error.args
    return told
