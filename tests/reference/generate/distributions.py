"""Recompute the rows of distributions.csv marked `computed`, at 40 digits, from definitions alone (mpmath).

Quantiles by root finding on the cdf; the noncentral t cdf as the mean of Phi(t s - noncentrality) over s = chi / sqrt(df).
Run it with `python tests/reference/generate/distributions.py`: it prints each row with its recomputed figure.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 40


def root(cdf: object, probability: mpmath.mpf, near: mpmath.mpf) -> mpmath.mpf:
    return mpmath.findroot(lambda x: cdf(x) - probability, (near, near * (1 + mpmath.mpf(10) ** -6)), tol=mpmath.mpf(10) ** -50)


def chi_square_cdf(x: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    return mpmath.gammainc(df / 2, 0, x / 2, regularized=True)


def student_t_cdf(x: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    return 1 - mpmath.betainc(df / 2, mpmath.mpf(1) / 2, 0, df / (df + x * x), regularized=True) / 2


def noncentral_t_cdf(x: mpmath.mpf, df: mpmath.mpf, noncentrality: mpmath.mpf) -> mpmath.mpf:
    half = df / 2
    scale = 2 * half**half / mpmath.gamma(half)
    width = 12 / mpmath.sqrt(2 * df)
    cuts = [max(mpmath.mpf(0), 1 - width), 1 - width / 4, 1, 1 + width / 4, 1 + width]
    return mpmath.quad(lambda s: mpmath.ncdf(x * s - noncentrality) * scale * s ** (df - 1) * mpmath.exp(-half * s * s), cuts)


def compute(calc: str, args: Arguments) -> dict[str, object]:
    probability = args.exact("probability")
    if calc == "normal_quantile":
        return {"quantile": mpmath.sqrt(2) * mpmath.erfinv(2 * probability - 1)}
    df = args.exact("degrees_of_freedom")
    if calc == "chi_square_quantile":
        return {"quantile": root(lambda x: chi_square_cdf(x, df), probability, df * mpmath.mpf("0.6"))}
    if calc == "student_t_quantile":
        return {"quantile": root(lambda x: student_t_cdf(x, df), probability, mpmath.mpf(2))}
    noncentrality = args.exact("noncentrality")
    mpmath.mp.dps = 25
    near = noncentrality * mpmath.mpf("1.4")
    found = mpmath.findroot(
        lambda x: noncentral_t_cdf(x, df, noncentrality) - probability,
        (near, near + mpmath.mpf("0.1")),
        tol=mpmath.mpf(10) ** -36,
    )
    mpmath.mp.dps = 40
    return {"quantile": found}


if __name__ == "__main__":
    main("distributions", compute)
