"""Exceptions and warnings. Each error says what is wrong, where, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "ConstantDataWarning",
    "DataProblem",
    "DataProblemsError",
    "InvalidInputError",
    "MissingDataWarning",
    "MissingExtraError",
    "PlanError",
    "SteadyfilmError",
    "SteadyfilmWarning",
]


class SteadyfilmError(Exception):
    """Base of all errors of this package."""


class InvalidInputError(SteadyfilmError, ValueError):
    """An argument that a function cannot use."""

    def __init__(self, message: str, *, function: str = "", argument: str = "", position: int | None = None) -> None:
        super().__init__(message)
        self.function = function
        self.argument = argument
        self.position = position


@dataclass(frozen=True)
class DataProblem:
    """One thing that is wrong with the data.

    ``row`` counts data rows from 1, in a file its lines from 1; 0 means the whole column or table.
    """

    column: str
    row: int
    value: str
    reason: str


class DataProblemsError(InvalidInputError):
    """All problems found in one set of data, as a table of column, row (in a text file: line), value and reason."""

    def __init__(
        self, problems: Sequence[DataProblem], *, advice: str = "", shown: int = 20, file: str = "", counted_in: str = "line"
    ) -> None:
        self.problems = tuple(problems)
        self.advice = advice
        self.file = file
        count = len(self.problems)
        lines = [f"{file or 'the data'} has {count} problem{'' if count == 1 else 's'}:"]
        for problem in self.problems[:shown]:
            place = [f"column '{problem.column}'"] if problem.column else []
            if problem.row:
                place.append(f"{counted_in if file else 'row'} {problem.row}")
            elif problem.column:
                place.append("whole column")
            if problem.value:
                place.append(f"value {problem.value}")
            lines.append(f"  {', '.join(place)}{': ' if place else ''}{problem.reason}")
        if count > shown:
            lines.append(f"  ... and {count - shown} more (all of them in .problems)")
        if advice:
            lines.append(advice)
        super().__init__("\n".join(lines), argument=self.problems[0].column if problems else "")


class PlanError(SteadyfilmError, ValueError):
    """A plan that cannot be used: unknown key, missing entry, contradiction. ``problems`` holds each with its way out."""

    def __init__(self, message: str, *, problems: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.problems = tuple(problems) or (message,)


class MissingExtraError(SteadyfilmError, ImportError):
    """A part of the package that needs an optional dependency."""

    def __init__(self, what: str, extra: str) -> None:
        super().__init__(f"{what} needs packages that are not installed: pip install 'steadyfilm[{extra}]'")


class SteadyfilmWarning(UserWarning):
    """Base of all warnings of this package; filter it to silence them."""


class ConstantDataWarning(SteadyfilmWarning):
    """All values are equal: spread 0 is an answer, yet seldom the truth about a process."""


class MissingDataWarning(SteadyfilmWarning):
    """Rows were left out because the caller asked for ``missing="drop"``."""
