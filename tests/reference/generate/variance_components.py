"""Recompute the rows of variance_components.csv marked `computed` that have an adapter, without the library.

One-way tables run in exact fractions on the doubles; nested tables in exact fractions on the numbers as written, with F and
chi-square figures from mpmath at 30 digits; gauge intervals by gauge_rr.py. Restricted maximum likelihood stands in waiting.txt.
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import mpmath
from common import Arguments, main
from gauge_rr import grr_intervals

mpmath.mp.dps = 30


def number(fraction: Fraction) -> mpmath.mpf:
    return mpmath.mpf(fraction.numerator) / fraction.denominator


def mean(values: list[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def one_way(args: Arguments) -> dict[str, object]:
    groups: dict[str, list[Fraction]] = defaultdict(list)
    for text, group in zip(args.column("values"), args.column("group"), strict=True):
        groups[group].append(Fraction(float(text)))
    grand = mean([x for group in groups.values() for x in group])
    between = sum(len(group) * (mean(group) - grand) ** 2 for group in groups.values())
    within = sum((x - mean(group)) ** 2 for group in groups.values() for x in group)
    df_between, df_within = len(groups) - 1, sum(map(len, groups.values())) - len(groups)
    return {
        "ss_between": number(between),
        "ss_within": number(within),
        "ms_between": number(between / df_between),
        "ms_within": number(within / df_within),
        "f": number(between / df_between / (within / df_within)),
        "r_squared": number(between / (between + within)),
        "residual_sd": mpmath.sqrt(number(within / df_within)),
    }


def f_survival(f: mpmath.mpf, n1: int, n2: int) -> mpmath.mpf:
    return mpmath.betainc(mpmath.mpf(n2) / 2, mpmath.mpf(n1) / 2, 0, n2 / (n2 + n1 * f), regularized=True)


def f_quantile(probability: mpmath.mpf, n1: int, n2: int) -> mpmath.mpf:
    return mpmath.findroot(
        lambda f: f_survival(f, n1, n2) - (1 - probability), (mpmath.mpf("0.2"), mpmath.mpf(3)), solver="anderson"
    )


def chi_square_quantile(probability: mpmath.mpf, n: int) -> mpmath.mpf:
    half = mpmath.mpf(n) / 2
    return mpmath.findroot(lambda x: mpmath.gammainc(half, 0, x / 2, regularized=True) - probability, n)


def nested(args: Arguments) -> dict[str, object]:
    cells: dict[str, dict[str, list[Fraction]]] = defaultdict(lambda: defaultdict(list))
    for text, outer, inner in zip(args.column("values"), args.column("outer"), args.column("inner"), strict=True):
        cells[outer][inner].append(Fraction(text))
    a = len(cells)
    b = len(next(iter(cells.values())))
    n = len(next(iter(next(iter(cells.values())).values())))
    outer_means = {outer: mean([x for cell in inside.values() for x in cell]) for outer, inside in cells.items()}
    grand = mean(list(outer_means.values()))
    squares = {
        "outer": b * n * sum((m - grand) ** 2 for m in outer_means.values()),
        "inner": n * sum((mean(cell) - outer_means[outer]) ** 2 for outer, inside in cells.items() for cell in inside.values()),
        "error": sum((x - mean(cell)) ** 2 for inside in cells.values() for cell in inside.values() for x in cell),
    }
    degrees = {"outer": a - 1, "inner": a * (b - 1), "error": a * b * (n - 1)}
    means = {name: squares[name] / degrees[name] for name in squares}
    out: dict[str, object] = {"ss_total": number(sum(squares.values()))}
    for name in squares:
        out |= {f"ss_{name}": number(squares[name]), f"df_{name}": degrees[name], f"ms_{name}": number(means[name])}
    for name, base in (("outer", "inner"), ("inner", "error")):
        f = number(means[name] / means[base])
        out |= {f"f_{name}": f, f"p_{name}": f_survival(f, degrees[name], degrees[base])}
    out["variance_error"] = number(means["error"])
    out["variance_inner"] = number((means["inner"] - means["error"]) / n)
    out["variance_outer"] = number((means["outer"] - means["inner"]) / (b * n))
    tail = (1 - args.exact("confidence_level")) / 2
    f, n1, n2 = number(means["inner"] / means["error"]), degrees["inner"], degrees["error"]
    out["ratio_inner_error_lower"] = (f / f_quantile(1 - tail, n1, n2) - 1) / n
    out["ratio_inner_error_upper"] = (f / f_quantile(tail, n1, n2) - 1) / n
    for end, chance in (("lower", 1 - tail), ("upper", tail)):
        out[f"variance_error_{end}"] = number(squares["error"]) / chi_square_quantile(chance, n2)
    return out


def compute(calc: str, args: Arguments) -> dict[str, object]:
    return {"one_way_anova": one_way, "nested_anova": nested, "grr_intervals": grr_intervals}[calc](args)


if __name__ == "__main__":
    main("variance_components", compute)
