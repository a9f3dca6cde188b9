"""What screens tell: a fault of rows, a pattern over many of them, and which screens ran."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class DataFault:
    """Something wrong with named rows, and the way out. ``rows`` count the table's rows from 1."""

    check: str
    rows: tuple[int, ...]
    column: str
    serial: str
    value: str
    reason: str
    way_out: str
    set_aside: bool
    """Whether the rows took no part in the screens for patterns."""


@dataclass(frozen=True)
class DataPattern:
    """A pattern that honest readings would seldom show.

    ``observed`` and ``expected`` are in the words of ``sentence``; ``pvalue`` is the chance of as much in honest readings, by
    itself; ``adjusted_pvalue`` allows for all tests of all screens: a pattern is told when that is at most the false-flag rate.
    """

    screen: str
    where: str
    observed: float
    expected: float
    pvalue: float
    tests: int
    adjusted_pvalue: float
    rows: tuple[int, ...]
    sentence: str
    way_out: str


@dataclass(frozen=True, eq=False)
class PileUp:
    """Readings by display step around a limit, and the curve through the other steps: the test with the smallest chance.

    Arrays of one entry a step: ``values`` in the working unit, ``counts``, ``expected`` of the curve, and whether the step lies
    just ``inside`` or just ``outside`` the limit. ``told`` says whether it is a pattern.
    """

    where: str
    limit: float
    values: NDArray[np.float64]
    counts: NDArray[np.int64]
    expected: NDArray[np.float64]
    inside: NDArray[np.bool_]
    outside: NDArray[np.bool_]
    sentence: str
    pvalue: float
    adjusted_pvalue: float
    told: bool


@dataclass(frozen=True)
class ScreenRun:
    """One check or screen: whether it ran, on what, what it found, and what it says falsely.

    ``false_flag_rate`` is the chance that honest readings are told here (a bound; NaN for faults, which are facts of the rows).
    """

    name: str
    ran: bool
    note: str
    tests: int
    found: int
    false_flag_rate: float


def rows_text(rows: Iterable[int]) -> str:
    """Row numbers with runs shortened.

    >>> rows_text([3, 4, 5, 9])
    '3 to 5, 9'
    """
    runs: list[list[int]] = []
    for row in sorted(rows):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)
