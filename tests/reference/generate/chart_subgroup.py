"""Recompute the rows of chart_subgroup.csv marked `computed`, at 30 digits, from definitions alone (mpmath).

d2 = int 1 - F^n - (1 - F)^n, E[R^2] = 2 int q (1 - P(R <= q)) with the distribution of the range, c4 by the gamma function.
Run it with `python tests/reference/generate/chart_subgroup.py`: it prints each row with its recomputed figure.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30
SPREADS = {"xbar_r_limits": "range", "xbar_s_limits": "sd"}


@cache
def d2(n: int) -> mpmath.mpf:
    return 2 * mpmath.quad(lambda x: 1 - mpmath.ncdf(x) ** n - mpmath.ncdf(-x) ** n, [0, 1, 2, 4, 8, 14])


@cache
def d3(n: int) -> mpmath.mpf:
    """From smallest and largest together: E[R^2] = 2 int int_(x < y) 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n."""
    steps = 240
    width = mpmath.mpf(18) / steps
    cdf = [mpmath.ncdf(-9 + i * width) for i in range(steps + 1)]

    def beyond(i: int, j: int) -> mpmath.mpf:
        return 1 - cdf[j] ** n - (1 - cdf[i]) ** n + (cdf[j] - cdf[i]) ** n

    # Trapezoids along each diagonal y - x = const, then over the distance,
    # where the integrand starts with a slope: the first two Euler-Maclaurin terms at 0 are taken off by extrapolation.
    def on_grid(stride: int) -> mpmath.mpf:
        total = mpmath.mpf(0)
        for distance in range(0, steps + 1, stride):
            line = mpmath.fsum(beyond(i, i + distance) for i in range(0, steps + 1 - distance, stride))
            total += line / 2 if distance == 0 else line
        return 2 * total * (width * stride) ** 2

    rows = [on_grid(stride) for stride in (8, 4, 2, 1)]
    power = 4
    while len(rows) > 1:
        rows = [(power * fine - coarse) / (power - 1) for coarse, fine in pairwise(rows)]
        power *= 4
    return mpmath.sqrt(rows[0] - d2(n) ** 2)


def c4(n: int) -> mpmath.mpf:
    size = mpmath.mpf(n)
    return mpmath.sqrt(2 / (size - 1)) * mpmath.gamma(size / 2) / mpmath.gamma((size - 1) / 2)


def subgroups(args: Arguments) -> list[list[mpmath.mpf]]:
    values = [mpmath.mpf(text) for text in args.column("values")]
    n = args.count("subgroup_size")
    return [values[i : i + n] for i in range(0, len(values), n)]


def sd(values: list[mpmath.mpf]) -> mpmath.mpf:
    mean = mpmath.fsum(values) / len(values)
    return mpmath.sqrt(mpmath.fsum((x - mean) ** 2 for x in values) / (len(values) - 1))


def mean(values: list[mpmath.mpf]) -> mpmath.mpf:
    return mpmath.fsum(values) / len(values)


def within_sigma(groups: list[list[mpmath.mpf]], estimator: str) -> mpmath.mpf:
    n = len(groups[0])
    if estimator == "mean_range":
        return mean([max(g) - min(g) for g in groups]) / d2(n)
    if estimator == "mean_sd":
        return mean([sd(g) for g in groups]) / c4(n)
    pooled = mpmath.sqrt(mean([sd(g) ** 2 for g in groups]))
    return pooled if estimator == "pooled_sd" else pooled / c4(len(groups) * (n - 1) + 1)


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc.endswith("_from_averages"):
        spread = args.exact("mean_range" if calc.startswith("xbar_r") else "mean_sd")
        width = args.exact("A2" if calc.startswith("xbar_r") else "A3") * spread
        return {"lower": args.exact("center") - width, "upper": args.exact("center") + width}
    groups = subgroups(args)
    if calc == "within_sigma":
        return {"sigma_within": within_sigma(groups, args.word("estimator"))}
    if args.word("excluded") != "[]" or "A2" in args:
        raise ValueError("rows marked computed have exact factors and exclude nothing")
    word, n = SPREADS[calc], len(groups[0])
    multiple = args.exact("sigma_multiple")
    spreads = [max(g) - min(g) if word == "range" else sd(g) for g in groups]
    sigma = within_sigma(groups, f"mean_{word}")
    relative = d3(n) / d2(n) if word == "range" else mpmath.sqrt(1 - c4(n) ** 2) / c4(n)
    center, width = mean([x for g in groups for x in g]), multiple * sigma / mpmath.sqrt(n)
    upper = mean(spreads) * (1 + multiple * relative)
    lower = max(mpmath.mpf(0), mean(spreads) * (1 - multiple * relative))
    beyond = [i + 1 for i, g in enumerate(groups) if abs(mean(g) - center) > width]
    return {
        "center": center,
        "lower": center - width,
        "upper": center + width,
        "sigma_within": sigma,
        f"mean_{word}": mean(spreads),
        f"{word}_lower": lower,
        f"{word}_upper": upper,
        "beyond": beyond,
        "beyond_count": len(beyond),
        f"{word}_beyond": [i + 1 for i, spread in enumerate(spreads) if not lower <= spread <= upper],
    }


if __name__ == "__main__":
    main("chart_subgroup", compute)
