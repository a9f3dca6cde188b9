"""A file's columns as cells, and cells to text, numbers and times, exactly as the plan says they are written."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from steadyfilm.errors import DataProblem, DataProblemsError

__all__ = ["LARGEST_CELL", "Broken", "Cell", "Cells", "checked_names", "kind_of", "plain_text", "shown"]

Floats = NDArray[np.float64]

LARGEST_CELL: Final = 10_000
"""Characters of a column name."""


@dataclass(frozen=True)
class Broken:
    """A cell that holds no value: an error of a formula, a formula never computed, a kind of value that no column here can be."""

    text: str
    reason: str


Cell = str | bool | int | float | datetime | date | time | Broken
"""Text as written, without surrounding space and empty where there is nothing; other kinds as the file itself holds them."""


@dataclass(frozen=True)
class Cells:
    """A file's columns, with the row of the file that each row of them starts on.

    ``lines`` counts as in the file: lines of a text file, rows of a sheet. A Parquet file has no row of names; it is
    counted as if it had, so that the same table has the same numbers in every kind of file.
    """

    file: str
    columns: dict[str, list[Cell]]
    lines: list[int]
    sha256: str
    decimal: str = "."
    missing: tuple[str, ...] = ()
    time_format: str = ""
    counted_in: Literal["line", "row"] = "line"
    named_in: str = "[columns]"
    """Table of the plan that names these columns."""

    def cells(self, column: str) -> list[Cell]:
        """A column as it stands; an unknown name is an error that shows the nearest ones."""
        name = self.name_of(column)
        if name is None:
            near = difflib.get_close_matches(column, list(self.columns), n=3, cutoff=0.4)
            have = ", ".join(f"'{name}'" for name in near or self.columns)
            raise self.problems(
                [DataProblem(column, 0, "", "no such column")],
                f"{'nearest names' if near else 'columns present'}: {have}. Name it in the plan's {self.named_in}.",
            )
        return self.columns[name]

    def name_of(self, column: str) -> str | None:
        """The file's own writing of a column's name: line ends and kinds of spaces inside of a name cannot be seen."""
        if column in self.columns:
            return column
        alike = [name for name in self.columns if name.split() == column.split()]
        return alike[0] if len(alike) == 1 else None

    def text(self, column: str) -> list[str]:
        """A column as text without surrounding space."""
        cells = self.cells(column)
        problems = [
            DataProblem(column, line, cell.text and shown(cell.text), cell.reason)
            for cell, line in zip(cells, self.lines, strict=True)
            if isinstance(cell, Broken)
        ]
        if problems:
            raise self.problems(problems, "Correct them, or empty the cells.")
        return [cell if type(cell) is str else plain_text(cell) for cell in cells]

    def numbers(self, column: str) -> Floats:
        """A column as numbers; NaN where the cell is empty or a word for missing."""
        empty = {"", *self.missing}
        swapped = "," if self.decimal == "." else "."
        pattern, other_pattern = _number_pattern(self.decimal), _number_pattern(swapped)
        out = np.full(len(self.lines), math.nan)
        problems = []
        other = 0
        for i, cell in enumerate(self.cells(column)):
            if isinstance(cell, str):
                if cell in empty:
                    continue
                if not pattern.fullmatch(cell):
                    other += bool(other_pattern.fullmatch(cell))
                    problems.append(DataProblem(column, self.lines[i], shown(cell), "is not a number"))
                    continue
                number = float(cell.replace(self.decimal, "."))
            elif isinstance(cell, int | float) and not isinstance(cell, bool):
                number = float(cell)
            else:
                reason = cell.reason if isinstance(cell, Broken) else f"is {kind_of(cell)}, not a number"
                text = plain_text(cell)
                problems.append(DataProblem(column, self.lines[i], text and shown(text), reason))
                continue
            if math.isinf(number):
                problems.append(DataProblem(column, self.lines[i], shown(plain_text(cell)), "is too large for a number"))
                continue
            out[i] = number
        if problems:
            advice = (
                f"They look like numbers with '{swapped}' as decimal sign: set decimal = '{swapped}' in the plan's [file]."
                if other == len(problems)
                else "Correct them, empty the cells of readings not taken, or list their word under missing in the plan's [file]."
            )
            raise self.problems(problems, advice)
        return out

    def times(self, column: str, date: str | None = None) -> NDArray[np.datetime64]:
        """A column as local wall times, or two (date, time of day); not-a-time where a cell is empty or a word for missing."""
        from steadyfilm._files.times import joined, moment_of, time_advice

        empty = {"", *self.missing}
        cells = self.cells(column)
        if date is not None:
            cells = [joined(day, clock, empty) for day, clock in zip(self.cells(date), cells, strict=True)]
        known: dict[str, np.datetime64 | str | None] = {}
        out = np.full(len(self.lines), "NaT", dtype="datetime64[us]")
        problems = []
        unread: list[str] = []
        for i, cell in enumerate(cells):
            if isinstance(cell, str):
                if cell in empty:
                    continue
                if cell not in known:
                    known[cell] = moment_of(cell, self.time_format)
                moment = known[cell]
            else:
                moment = moment_of(cell, self.time_format)
            if isinstance(moment, str):
                problems.append(DataProblem(column, self.lines[i], shown(plain_text(cell)), moment))
                unread += [cell] if isinstance(cell, str) else []
            elif moment is not None:
                out[i] = moment
        if problems:
            raise self.problems(problems, time_advice(unread))
        return out

    def problems(self, problems: Sequence[DataProblem], advice: str) -> DataProblemsError:
        """An error about cells of this file."""
        return DataProblemsError(problems, advice=advice, file=self.file, counted_in=self.counted_in)


def plain_text(cell: Cell) -> str:
    """A cell as the text that a plain file of the same table would hold."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, float):
        return "" if math.isnan(cell) else str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, datetime):
        wall = cell.replace(tzinfo=None)
        if wall.time() == time():
            return wall.date().isoformat()
        return wall.isoformat(sep=" ", timespec="auto" if wall.second or wall.microsecond else "minutes")
    if isinstance(cell, Broken):
        return cell.text
    return str(cell)


def checked_names(names: list[str], line: int, file: str, counted_in: Literal["line", "row"]) -> list[str]:
    """Column names, each there and none twice."""
    problems = []
    seen: set[str] = set()
    for i, name in enumerate(names):
        if not name:
            problems.append(DataProblem("", line, "", f"column {i + 1} has no name"))
        elif name in seen:
            problems.append(DataProblem(name, line, "", "stands twice among the column names"))
        elif len(name) > LARGEST_CELL:
            problems.append(DataProblem("", line, shown(name), "is too long for a column name"))
        seen.add(name)
    if problems:
        advice = "If the column names stand further down, set header_line in the plan's [file]."
        raise DataProblemsError(problems, advice=advice, file=file, counted_in=counted_in)
    return names


def shown(cell: str) -> str:
    """A cell's text for a message: quoted, what cannot be seen written out, cut where it is long."""
    return repr(cell if len(cell) <= 60 else cell[:57] + "...")


def kind_of(cell: Cell) -> str:
    """What a cell holds, in words."""
    if isinstance(cell, bool):
        return "true or false"
    if isinstance(cell, datetime | date | time):
        return "a date or time"
    return "a number" if isinstance(cell, int | float) else "text"


def _number_pattern(decimal: str) -> re.Pattern[str]:
    sign = re.escape(decimal)
    return re.compile(rf"[+-]?([0-9]+({sign}[0-9]*)?|{sign}[0-9]+)([eE][+-]?[0-9]+)?")
