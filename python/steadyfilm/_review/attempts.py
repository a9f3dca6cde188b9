"""Which attempt a reading belongs to: 1 is the first, and a unit touched up and measured again has more."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number
from steadyfilm.errors import DataProblem, DataProblemsError

if TYPE_CHECKING:
    from steadyfilm._review.gather import Readings

__all__ = ["attempt_numbers", "only_later_attempts"]


def attempt_numbers(
    given: NDArray[np.float64], lines: Sequence[int], column: str, *, file: str = "", counted_in: str = "row"
) -> NDArray[np.int64]:
    """Attempts from 1, of a column that may count them from 1 or, as a count of touch-ups, from 0; an empty cell is the first.

    Raises
    ------
    DataProblemsError
        Fractions and numbers below zero, with their rows; or no row of a first attempt at all.
    """
    there = ~np.isnan(given)
    wrong = np.flatnonzero(there & ((given < 0) | (given != np.floor(given)) | (given > 1e6)))
    if len(wrong):
        problems = [DataProblem(column, lines[i], number(float(given[i])), "is no attempt") for i in wrong.tolist()]
        advice = "Attempts are whole numbers; the first is 1 (or 0, if touch-ups are counted). An empty cell is the first."
        raise DataProblemsError(problems, advice=advice, file=file, counted_in=counted_in)
    lowest = float(given[there].min()) if there.any() else 1.0
    if lowest > 1 and there.all():
        reason = f"holds no first attempt: the lowest is {number(lowest)}"
        advice = "Charts need the first attempt of each unit. Name another column as attempt in the plan, or none."
        raise DataProblemsError([DataProblem(column, 0, "", reason)], advice=advice, file=file)
    return np.where(there, given + (1.0 if lowest == 0 else 0.0), 1.0).astype(np.int64)


def only_later_attempts(found: Readings) -> tuple[str, ...]:
    """Units whose first attempt is not there or not usable: the process is not seen in them, only the touching up."""
    notes = []
    for code, name in enumerate(found.readings):
        at = np.flatnonzero(found.reading == code)
        first = np.full(len(found.units), np.iinfo(np.int64).max)
        np.minimum.at(first, found.unit[at], found.attempt[at])
        notes += [
            f"{found.units[u]}: no usable first attempt of '{name}', so not charted; judged on a later one"
            for u in np.unique(found.unit[at])
            if first[u] > 1
        ]
    return tuple(notes)
