"""Last digits that are favored, where the readings spread widely enough for all digits to be as likely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number
from steadyfilm._screens.grids import steps_of
from steadyfilm._screens.pattern import SECOND_GAUGE, Pool, Screened, Test
from steadyfilm._screens.sheet import Codes, Sheet

FEWEST = 100
"""Readings of a pool below which there is no test."""


def last_digits(sheet: Sheet, pools: Sequence[Pool]) -> Screened:
    """One test for each pool. A layer takes part when its standard deviation covers half a round of digits: then no digit of a
    normal layer is favored by more than 1.5 %, and by far less for wider ones.
    """
    name = "last digits"
    tests = []
    for pool in pools:
        lead = float(pool.grid.step / 10.0 ** np.floor(np.log10(pool.grid.step) + 1e-9))
        mantissa = round(lead)
        digits = 10 // mantissa if abs(lead - mantissa) < 1e-6 and mantissa in (1, 2, 5) else 1
        steps = steps_of(sheet.written[pool.rows], pool.grid.step)
        wide = np.zeros(len(steps), dtype=bool)
        for code in range(len(sheet.layers)):
            of = sheet.layer[pool.rows] == code
            if of.sum() >= 2 and float(np.std(steps[of])) >= 0.5 * digits:
                wide |= of
        if int(wide.sum()) >= FEWEST and digits > 1:
            tests.append(_test(sheet, pool, pool.rows[wide], (steps[wide] % digits).astype(np.intp), digits, mantissa))
    if not tests:
        return Screened(name, why="no gauge's readings spread over enough of its display steps, or they are too few")
    return Screened(name, tuple(tests))


def _test(sheet: Sheet, pool: Pool, rows: Codes, digit: Codes, digits: int, mantissa: int) -> Test:
    counts = np.bincount(digit, minlength=digits)
    expected = len(rows) / digits
    statistic = float(np.sum((counts - expected) ** 2) / expected) / _design_effect(sheet.serial[rows], digit, digits)
    top = int(np.argmax(counts))
    return Test(
        where=pool.where,
        rows=rows,
        observed=float(counts[top]),
        expected=expected,
        pvalue=_core.chi_square_survival(statistic, digits - 1),
        sentence=(
            f"the last digits of {pool.where} are uneven: {counts[top]} of {len(rows)} end in {top * mantissa} "
            f"against {number(expected, 4)} expected"
        ),
        way_out=f"see how readings get from the gauge to the form; {SECOND_GAUGE}",
    )


def _design_effect(serial: Codes, digit: Codes, digits: int) -> float:
    """How much more counts vary because readings of one unit agree more often than readings of different units."""
    table: NDArray[np.float64] = np.zeros((int(np.unique(serial).size), digits))
    np.add.at(table, (np.unique(serial, return_inverse=True)[1], digit), 1.0)
    size = table.sum(axis=1)
    pairs = float(np.sum(size * (size - 1)))
    if pairs == 0.0:
        return 1.0
    agree = float(np.sum(table * (table - 1))) / pairs
    chance = float(np.sum((table.sum(axis=0) / size.sum()) ** 2))
    return max(1.0, 1.0 + pairs / float(size.sum()) * (agree - chance) / (1.0 - chance)) if chance < 1.0 else 1.0
