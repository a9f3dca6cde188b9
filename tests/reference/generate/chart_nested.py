"""Recompute the rows of chart_nested.csv marked `computed`, at 30 digits, from definitions alone (mpmath).

d2 by quadrature of 1 - F^n - (1 - F)^n; d3 from the double integral of 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n over x < y.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import mpmath
from common import Arguments, main

mpmath.mp.dps = 20


@cache
def d2(n: int) -> mpmath.mpf:
    return 2 * mpmath.quad(lambda x: 1 - mpmath.ncdf(x) ** n - mpmath.ncdf(-x) ** n, [0, 1, 2, 4, 8, 14])


@cache
def d3(n: int) -> mpmath.mpf:
    """E[R^2] = 2 int int_(x < y); for two values sqrt(2 - d2^2) in closed form."""
    if n == 2:
        return mpmath.sqrt(2 - 4 / mpmath.pi)

    def inner(x: mpmath.mpf) -> mpmath.mpf:
        low = mpmath.ncdf(x)
        rest = mpmath.ncdf(-x) ** n

        def beyond(y: mpmath.mpf) -> mpmath.mpf:
            high = mpmath.ncdf(y)
            return 1 - high**n - rest + (high - low) ** n

        return mpmath.quad(beyond, [x, x + 1, x + 3, x + 8, 9] if x < 1 else [x, x + 1, x + 3, 12])

    with mpmath.workdps(14):
        square = 2 * mpmath.quad(inner, [-9, -6, -3, -1, 0, 1, 3, 6, 9])
    return mpmath.sqrt(square - d2(n) ** 2)


def units(args: Arguments) -> list[list[mpmath.mpf]]:
    values = [mpmath.mpf(text) for text in args.column("values")]
    size = args.count("subgroup_size")
    return [values[i : i + size] for i in range(0, len(values), size)]


def mean(values: list[mpmath.mpf]) -> mpmath.mpf:
    return mpmath.fsum(values) / len(values)


def limits(args: Arguments) -> dict[str, object]:
    groups = units(args)
    n = len(groups[0])
    multiple = args.exact("sigma_multiple")
    averages = [mean(group) for group in groups]
    center = mean(averages)
    moving = mean([abs(b - a) for a, b in pairwise(averages)])
    spread = mean([max(group) - min(group) for group in groups])
    average, within = moving / d2(2), spread / d2(n)
    between = mpmath.sqrt(max(mpmath.mpf(0), average**2 - within**2 / n))
    return {
        "center": center,
        "mean_range": spread,
        "mean_moving_range": moving,
        "sigma_mean": average,
        "upper": center + multiple * average,
        "lower": center - multiple * average,
        "moving_range_upper": moving + multiple * d3(2) * average,
        "range_upper": spread + multiple * d3(n) * within,
        "range_lower": max(mpmath.mpf(0), spread - multiple * d3(n) * within),
        "sigma_within": within,
        "sigma_between": between,
        "sigma_total": mpmath.sqrt(between**2 + within**2),
    }


def anova(args: Arguments) -> dict[str, object]:
    groups = units(args)
    n, count = len(groups[0]), len(groups)
    averages = [mean(group) for group in groups]
    grand = mean(averages)
    between = n * mpmath.fsum((x - grand) ** 2 for x in averages) / (count - 1)
    within = mpmath.fsum((x - average) ** 2 for group, average in zip(groups, averages, strict=True) for x in group)
    within /= count * (n - 1)
    return {
        "ms_between": between,
        "ms_within": within,
        "sigma_between": mpmath.sqrt(max(mpmath.mpf(0), (between - within) / n)),
        "sigma_within": mpmath.sqrt(within),
    }


def false_alarm(args: Arguments) -> dict[str, object]:
    unit, location, repeat = (args.exact(f"sigma_{name}_mil") for name in ("unit", "location", "repeat"))
    a, b = args.count("location_count"), args.count("readings_per_location")
    inside = location**2 * b * (a - 1) / (a * b - 1) + repeat**2
    average = unit**2 + location**2 / a + repeat**2 / (a * b)
    multiple = 3 * mpmath.sqrt(inside / (a * b) / average)
    return {"false_alarm_probability": mpmath.erfc(multiple / mpmath.sqrt(2)), "limit_sigma_multiple": multiple}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    return {"nested_limits": limits, "nested_sigma_anova": anova, "nested_false_alarm": false_alarm}[calc](args)


if __name__ == "__main__":
    main("chart_nested", compute)
