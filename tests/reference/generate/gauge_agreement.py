"""Recompute the rows of gauge_agreement.csv marked `computed`, at 30 digits and from other forms of the formulas.

Kappa's standard error comes from the gradient of kappa with respect to the cell shares (differentiated numerically at high
precision) and the multinomial covariance; the null error in the same way at the product of the margins. Fleiss' null errors come
from the part of a pair's agreement that neither of its judgements explains by itself: such parts are uncorrelated. Kendall's W is
the spread of the mean ranks as a share of the judges' own.
"""

from __future__ import annotations

import csv
import itertools
from collections.abc import Sequence
from fractions import Fraction
from math import comb

import mpmath
from common import ROWS, Arguments, main

mpmath.mp.dps = 30

Matrix = list[list[mpmath.mpf]]


def matrix(args: Arguments, name: str) -> Matrix:
    text = args.word(name)
    if text.startswith("@"):
        with (ROWS / text[1:]).open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        columns = [column for column in rows[0] if column.startswith(f"{name}_")]
        return [[mpmath.mpf(row[column]) for column in columns] for row in rows]
    return [[mpmath.mpf(word) for word in row.split()] for row in text.strip("[]").split(";")]


def kappa_of(shares: Sequence[mpmath.mpf], weights: Sequence[mpmath.mpf], k: int) -> mpmath.mpf:
    """One minus observed over expected disagreement, of shares that need not add up to one."""
    whole = mpmath.fsum(shares)
    row = [mpmath.fsum(shares[i * k + j] for j in range(k)) for i in range(k)]
    column = [mpmath.fsum(shares[i * k + j] for i in range(k)) for j in range(k)]
    observed = mpmath.fsum(w * p for w, p in zip(weights, shares, strict=True)) / whole
    expected = mpmath.fsum(weights[i * k + j] * row[i] * column[j] for i in range(k) for j in range(k)) / whole**2
    return 1 - observed / expected


def spread(shares: Sequence[mpmath.mpf], weights: Sequence[mpmath.mpf], k: int, n: mpmath.mpf) -> mpmath.mpf:
    """Delta method with the multinomial covariance of the cells."""
    step = mpmath.mpf(10) ** -10
    gradient = []
    for i in range(k * k):
        ends = []
        for sign in (1, -1):
            moved = list(shares)
            moved[i] += sign * step
            ends.append(kappa_of(moved, weights, k))
        gradient.append((ends[0] - ends[1]) / (2 * step))
    mean = mpmath.fsum(g * p for g, p in zip(gradient, shares, strict=True))
    square = mpmath.fsum(g**2 * p for g, p in zip(gradient, shares, strict=True))
    return mpmath.sqrt((square - mean**2) / n)


def cohen(args: Arguments) -> dict[str, object]:
    table = matrix(args, "table")
    k = len(table)
    if "disagreement_weights" in args:
        given = matrix(args, "disagreement_weights")
        largest = max(max(row) for row in given)
        weights = [x / largest for row in given for x in row]
    else:
        weights = [mpmath.mpf(i != j) for i in range(k) for j in range(k)]
    n = mpmath.fsum(x for row in table for x in row)
    shares = [x / n for row in table for x in row]
    row = [mpmath.fsum(r) / n for r in table]
    column = [mpmath.fsum(r[j] for r in table) / n for j in range(k)]
    product = [row[i] * column[j] for i in range(k) for j in range(k)]
    po = 1 - mpmath.fsum(w * p for w, p in zip(weights, shares, strict=True))
    pe = 1 - mpmath.fsum(w * p for w, p in zip(weights, product, strict=True))
    kappa, se, null = kappa_of(shares, weights, k), spread(shares, weights, k, n), spread(product, weights, k, n)
    reach = mpmath.sqrt(2) * mpmath.erfinv(args.exact("confidence_level")) * se
    return {
        "kappa": kappa,
        "observed_agreement": po,
        "expected_agreement": pe,
        "se": se,
        "se_null": null,
        "z": kappa / null,
        "se_cohen_1960": mpmath.sqrt(po * (1 - po) / (n * (1 - pe) ** 2)),
        "lower": kappa - reach,
        "upper": kappa + reach,
    }


def null_spread(share: Sequence[mpmath.mpf], judgements: int, subjects: int) -> mpmath.mpf:
    """Of kappa when judgements fall at random with `share`: spread of the part of pairs that estimated shares leave."""
    k = len(share)
    pe = mpmath.fsum(p**2 for p in share)
    variance = mpmath.fsum(
        share[a] * share[b] * (mpmath.mpf(a == b) - share[a] - share[b] + pe) ** 2
        for a, b in itertools.product(range(k), repeat=2)
    )
    return mpmath.sqrt(variance / (comb(judgements, 2) * subjects)) / (1 - pe)


def fleiss(args: Arguments) -> dict[str, object]:
    counts = [[int(x) for x in row] for row in matrix(args, "counts")]
    n, m, k = len(counts), sum(counts[0]), len(counts[0])
    share = [Fraction(sum(row[j] for row in counts), n * m) for j in range(k)]
    po = Fraction(sum(comb(x, 2) for row in counts for x in row), n * comb(m, 2))
    pe = sum(p * p for p in share)

    def real(x: Fraction) -> mpmath.mpf:
        return mpmath.mpf(x.numerator) / x.denominator

    categories = []
    for j in range(k):
        split = Fraction(sum(row[j] * (m - row[j]) for row in counts), n * m * (m - 1))
        categories.append(real(1 - split / (share[j] * (1 - share[j]))))
    kappa = real((po - pe) / (1 - pe))
    null = null_spread([real(p) for p in share], m, n)
    cubes = sum(p**3 for p in share)
    older = mpmath.sqrt(real(2 * (pe - (2 * m - 3) * pe**2 + 2 * (m - 2) * cubes) / (n * m * (m - 1) * (1 - pe) ** 2)))
    p = real(share[0])
    return {
        "kappa": kappa,
        "observed_agreement": real(po),
        "expected_agreement": real(pe),
        "se_null": null,
        "z": kappa / null,
        "se_1971": older,
        "z_1971": kappa / older,
        "se_category": null_spread([p, 1 - p], m, n),
        "kappa_category": categories,
        "kappa_free_marginal": real((po - Fraction(1, k)) / (1 - Fraction(1, k))),
    }


def ranks(values: Sequence[mpmath.mpf]) -> list[Fraction]:
    return [Fraction(2 * sum(v < x for v in values) + sum(v == x for v in values) + 1, 2) for x in values]


def kendall(args: Arguments) -> dict[str, object]:
    rows = matrix(args, "ratings")
    n, m = len(rows), len(rows[0])
    by_judge = [ranks([row[k] for row in rows]) for k in range(m)]
    sums = [sum((judge[i] for judge in by_judge), Fraction(0)) for i in range(n)]
    middle = Fraction(n + 1, 2)
    between = sum((s / m - middle) ** 2 for s in sums)
    own = [sum((r - middle) ** 2 for r in judge) for judge in by_judge]
    corrected = between / (sum(own, Fraction(0)) / m)
    uncorrected = between / Fraction(n**3 - n, 12)
    chi = m * (n - 1) * corrected

    def real(x: Fraction) -> mpmath.mpf:
        return mpmath.mpf(x.numerator) / x.denominator

    return {
        "w": real(corrected),
        "w_uncorrected": real(uncorrected),
        "chi_square": real(chi),
        "df": n - 1,
        "p": mpmath.gammainc(mpmath.mpf(n - 1) / 2, real(chi) / 2, mpmath.inf, regularized=True),
        "rank_sum": [real(s) for s in sums],
    }


def compute(calc: str, args: Arguments) -> dict[str, object]:
    return {"cohen_kappa": cohen, "fleiss_kappa": fleiss, "kendall_w": kendall}[calc](args)


if __name__ == "__main__":
    main("gauge_agreement", compute)
