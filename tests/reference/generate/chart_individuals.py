"""Recompute the rows of chart_individuals.csv marked `computed`, at 30 digits, from definitions alone (mpmath).

For two normal values d2 = 2/sqrt(pi) and d3 = sqrt(2 - 4/pi); the median range is sqrt(2) times the upper quartile.
Run it with `python tests/reference/generate/chart_individuals.py`: it prints each row with its recomputed figure.
"""

from __future__ import annotations

from itertools import pairwise

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30

D2 = 2 / mpmath.sqrt(mpmath.pi)
D3 = mpmath.sqrt(2 - 4 / mpmath.pi)
MEDIAN = 2 * mpmath.erfinv(mpmath.mpf(1) / 2)


def median(values: list[mpmath.mpf]) -> mpmath.mpf:
    ordered = sorted(values)
    return (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2


def compute(calc: str, args: Arguments) -> dict[str, object]:
    multiple = args.exact("sigma_multiple")
    if calc == "individuals_limits_from_averages":
        width = multiple * args.exact("mean_moving_range") / args.exact("d2")
        return {"lower": args.exact("center") - width, "upper": args.exact("center") + width}
    if args.count("span") != 2:
        raise ValueError("only ranges of two have these closed forms")
    values = [mpmath.mpf(text) for text in args.column("values")]
    center = mpmath.fsum(values) / len(values)
    ranges = [abs(b - a) for a, b in pairwise(values)]
    mean = mpmath.fsum(ranges) / len(ranges)
    if args.word("estimator") == "median_moving_range":
        sigma = median(ranges) / MEDIAN
    else:
        sigma = mean / (args.exact("d2") if "d2" in args else D2)
    lower, upper = center - multiple * sigma, center + multiple * sigma
    range_upper = mean + multiple * D3 * sigma
    return {
        "center": center,
        "lower": lower,
        "upper": upper,
        "sigma_within": sigma,
        "mean_moving_range": mean,
        "median_moving_range": median(ranges),
        "moving_range_upper": range_upper,
        "beyond": [i + 1 for i, x in enumerate(values) if not lower <= x <= upper],
        "moving_range_beyond": [i + 2 for i, r in enumerate(ranges) if r > range_upper],
    }


if __name__ == "__main__":
    main("chart_individuals", compute)
