"""Last digits that are favored, where the readings spread widely enough for all digits to be as likely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

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
    statistic = _statistic(sheet.serial[rows], digit, digits)
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


def _statistic(serial: Codes, digit: Codes, digits: int) -> float:
    """Chi-square of equal digits, each harmonic of the round of digits against its own scatter between units.

    The sum of (count - expected)^2 / expected is the sum over harmonics k = 1 ... digits - 1 of |F_k|^2 / n, F_k the sum of
    exp(2 pi i k digit / digits) over the n readings (Parseval). For independent readings each |F_k|^2 / n is 1 on average, and
    this is Pearson's statistic. Readings of one place lie a few display steps apart, so that their digits are neighbors: low
    harmonics then scatter several times as much as high ones. One common factor for all would get their mean right and
    their largest, which makes the tail, far too small.
    """
    units = np.unique(serial, return_inverse=True)[1]
    k = np.arange(1, digits)
    waves = np.exp(2j * np.pi / digits * np.outer(digit, k))
    by_unit = np.zeros((int(units.max()) + 1, digits - 1), dtype=complex)
    np.add.at(by_unit, units, waves)
    scatter = np.maximum(np.sum(np.abs(by_unit) ** 2, axis=0), float(len(digit)))
    return float(np.sum(np.abs(by_unit.sum(axis=0)) ** 2 / scatter))
