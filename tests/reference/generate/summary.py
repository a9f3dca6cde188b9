"""Recompute the rows of summary.csv marked `computed` in exact fractions.

Rows whose source says "on the same doubles" take the doubles as the data; others take the numbers as written.
"""

from __future__ import annotations

import itertools
from fractions import Fraction

import mpmath
from common import Arguments, main

mpmath.mp.dps = 40


def compute(calc: str, args: Arguments) -> dict[str, object]:
    values = [Fraction(float(text)) for text in args.column("values")]
    count = len(values)
    mean = sum(values) / count
    deviations = [value - mean for value in values]
    squares = sum(deviation**2 for deviation in deviations)
    products = sum(a * b for a, b in itertools.pairwise(deviations))
    variance = squares / (count - 1)
    return {
        "mean": number(mean),
        "sd": mpmath.sqrt(number(variance)),
        "lag1_autocorrelation": number(products / squares) if squares else mpmath.mpf(0),
    }


def number(fraction: Fraction) -> mpmath.mpf:
    return mpmath.mpf(fraction.numerator) / fraction.denominator


if __name__ == "__main__":
    main("summary", compute)
