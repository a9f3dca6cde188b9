"""Recompute the rows of constants.csv marked `computed`, at 30 digits (mpmath).

E(R) and E(R^2) from the distribution function of the range, W(w) = n integral of phi(x) [Phi(x + w) - Phi(x)]^(n-1) dx, by
sums over equal steps; c4 from gamma functions; nu by root finding.
"""

from __future__ import annotations

import itertools
from functools import cache

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


CUTS = [mpmath.mpf(cut) for cut in ("0", "1", "2", "3", "4", "5", "6.5", "8", "10", "13", "17")]
STEP = mpmath.mpf(1) / 12


@cache
def grid() -> list[tuple[mpmath.mpf, mpmath.mpf, list[tuple[mpmath.mpf, mpmath.mpf]]]]:
    """For each w: its weight, and phi(x) with Phi(x + w) - Phi(x) at equal steps of x."""
    found = []
    for a, b in itertools.pairwise(CUTS):
        for position, weight in gauss(20):
            w = (a + b) / 2 + (b - a) / 2 * position
            line = []
            for i in range(-130, 131):
                x = i * STEP
                density = mpmath.npdf(x)
                if density > mpmath.mpf(10) ** -32:
                    line.append((density, mpmath.ncdf(x + w) - mpmath.ncdf(x)))
            found.append((w, (b - a) / 2 * weight, line))
    return found


@cache
def moments(n: int) -> tuple[mpmath.mpf, mpmath.mpf]:
    """Mean and sd of the range: E(R) = int (1 - W) dw, E(R^2) = int 2 w (1 - W) dw."""
    mean = square = mpmath.mpf(0)
    for w, weight, line in grid():
        above = 1 - n * STEP * mpmath.fsum(density * between ** (n - 1) for density, between in line)
        mean += weight * above
        square += weight * 2 * w * above
    return mean, mpmath.sqrt(square - mean * mean)


@cache
def gauss(count: int) -> list[tuple[mpmath.mpf, mpmath.mpf]]:
    """Nodes and weights on [-1, 1], from the polynomial's exact coefficients."""
    coefficients = [
        (-1) ** k * mpmath.binomial(count, k) * mpmath.binomial(2 * count - 2 * k, count) / mpmath.mpf(2) ** count
        for k in range(count // 2 + 1)
    ]
    filled = [coefficients[i // 2] if i % 2 == 0 else mpmath.mpf(0) for i in range(count + 1)]
    roots = mpmath.polyroots(filled, maxsteps=200, extraprec=200)
    found = []
    for root in roots:
        x = mpmath.re(root)
        slope = mpmath.diff(lambda t: mpmath.polyval(filled, t), x)
        found.append((x, 2 / ((1 - x * x) * slope * slope)))
    return found


def c4(n: mpmath.mpf) -> mpmath.mpf:
    return mpmath.sqrt(2 / (n - 1)) * mpmath.exp(mpmath.loggamma(n / 2) - mpmath.loggamma((n - 1) / 2))


def compute(calc: str, args: Arguments) -> dict[str, object]:
    n = args.count("subgroup_size")
    d2, d3 = moments(n)
    if calc == "d2_star":
        groups = args.count("groups")
        star = mpmath.sqrt(d2 * d2 + d3 * d3 / groups)
        near = d2 * d2 * groups / (2 * d3 * d3)
        nu = mpmath.findroot(lambda v: c4(v + 1) - d2 / star, (near, near * mpmath.mpf("1.01")))
        return {"d2_star": star, "degrees_of_freedom": nu}
    mean = c4(mpmath.mpf(n))
    sd = mpmath.sqrt(1 - mean * mean)
    root = mpmath.sqrt(n)
    return {
        "d2": d2,
        "d3": d3,
        "c4": mean,
        "c5": sd,
        "A": 3 / root,
        "A2": 3 / (d2 * root),
        "A3": 3 / (mean * root),
        "B3": max(mpmath.mpf(0), 1 - 3 * sd / mean),
        "B4": 1 + 3 * sd / mean,
        "B5": max(mpmath.mpf(0), mean - 3 * sd),
        "B6": mean + 3 * sd,
        "D1": max(mpmath.mpf(0), d2 - 3 * d3),
        "D2": d2 + 3 * d3,
        "D3": max(mpmath.mpf(0), 1 - 3 * d3 / d2),
        "D4": 1 + 3 * d3 / d2,
        "E2": 3 / d2,
        "E3": 3 / mean,
        "one_over_c4": 1 / mean,
        "one_over_d2": 1 / d2,
    }


if __name__ == "__main__":
    main("constants", compute)
