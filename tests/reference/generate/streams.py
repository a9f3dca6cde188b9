"""Recompute the rows of streams.csv marked `computed` in exact fractions; d2 of two is 2 / sqrt(pi)."""

from __future__ import annotations

import itertools
from fractions import Fraction

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def number(fraction: Fraction) -> mpmath.mpf:
    return mpmath.mpf(fraction.numerator) / fraction.denominator


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc != "streams_chart":
        raise ValueError(calc)
    values = [Fraction(text) for text in args.column("values")]
    offsets = [int(text) for text in args.column("offsets")]
    found: dict[str, list[mpmath.mpf]] = {"center": [], "sigma_within": [], "lower": [], "upper": []}
    for first, last in itertools.pairwise(offsets):
        x = values[first:last]
        center = number(sum(x) / len(x))
        ranges = [abs(a - b) for a, b in itertools.pairwise(x)]
        sigma = number(sum(ranges) / len(ranges)) * mpmath.sqrt(mpmath.pi) / 2 if ranges else mpmath.nan
        reach = args.exact("sigma_multiple") * sigma
        for name, value in zip(found, (center, sigma, center - reach, center + reach), strict=True):
            found[name].append(value)
    return dict(found)


if __name__ == "__main__":
    main("streams", compute)
