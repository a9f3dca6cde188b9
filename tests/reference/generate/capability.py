"""Recompute the rows of capability.csv marked `computed`, at 25 digits from definitions (mpmath, exact fractions).

Chi-square by the incomplete gamma function; noncentral t as the mean of Phi(t s - noncentrality) over s = chi / sqrt(df);
noncentral chi-square as a Poisson mixture; the law of the estimated Cpk as an integral over the mean; quantiles and bounds by
root finding.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from fractions import Fraction

import mpmath
from common import Arguments, main
from constants import c4, gauss, moments

mpmath.mp.dps = 25
ONE = mpmath.mpf(1)
Function = Callable[[mpmath.mpf], mpmath.mpf]


def root(function: Function, near: mpmath.mpf, width: mpmath.mpf) -> mpmath.mpf:
    return mpmath.findroot(function, (near - width, near + width), tol=mpmath.mpf(10) ** -36, maxsteps=80)


def integral(function: Function, cuts: list[mpmath.mpf]) -> mpmath.mpf:
    total = mpmath.mpf(0)
    for a, b in itertools.pairwise(cuts):
        half = (b - a) / 2
        total += half * mpmath.fsum(weight * function((a + b) / 2 + half * x) for x, weight in gauss(20))
    return total


def normal_quantile(probability: mpmath.mpf) -> mpmath.mpf:
    return mpmath.sqrt(2) * mpmath.erfinv(2 * probability - 1)


def chi_square_cdf(x: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    return mpmath.gammainc(df / 2, 0, x / 2, regularized=True)


def chi_square_quantile(probability: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    # Wilson and Hilferty's cube is close enough to start from.
    near = df * (1 - 2 / (9 * df) + normal_quantile(probability) * mpmath.sqrt(2 / (9 * df))) ** 3
    return root(lambda x: chi_square_cdf(x, df) - probability, near, near / 1000)


def noncentral_t_cdf(t: mpmath.mpf, df: mpmath.mpf, noncentrality: mpmath.mpf) -> mpmath.mpf:
    half = df / 2
    scale = 2 * half**half / mpmath.gamma(half)
    sd = 1 / mpmath.sqrt(2 * df)
    cuts = [max(mpmath.mpf(0), 1 + sd * step) for step in (-12, -8, -5, -3, -1, 1, 3, 5, 8, 12, 16)]
    first = max(i for i, cut in enumerate(cuts) if cut == 0) if cuts[0] == 0 else 0
    return integral(
        lambda s: mpmath.ncdf(t * s - noncentrality) * scale * s ** (df - 1) * mpmath.exp(-half * s * s), cuts[first:]
    )


def noncentral_chi_square_cdf(x: mpmath.mpf, df: mpmath.mpf, noncentrality: mpmath.mpf) -> mpmath.mpf:
    half = noncentrality / 2
    if half == 0:
        return chi_square_cdf(x, df)
    term, total, k = mpmath.exp(-half), mpmath.mpf(0), 0
    while k < half or term > mpmath.mpf(10) ** -30:
        total += term * chi_square_cdf(x, df + 2 * k)
        k += 1
        term *= half / k
    return total


def ends(args: Arguments) -> list[tuple[str, mpmath.mpf]]:
    """Name of each end of the interval and the probability below it."""
    sides = args.count("sides")
    chance = (1 - args.exact("confidence_level")) / sides
    return [("lower", chance), ("upper", 1 - chance)] if sides == 2 else [("lower", chance)]


def one_sided_bound(estimate: mpmath.mpf, n: int, chance: mpmath.mpf) -> mpmath.mpf:
    scale = 3 * mpmath.sqrt(n)
    spread = mpmath.sqrt(1 + (scale * estimate) ** 2 / (2 * (n - 1)))
    near = scale * estimate + normal_quantile(chance) * spread
    found = root(lambda d: 1 - noncentral_t_cdf(scale * estimate, mpmath.mpf(n - 1), d) - chance, near, spread / 20)
    return found / scale


def cpk_estimate_cdf(c: mpmath.mpf, half_width: mpmath.mpf, off_center: mpmath.mpf, n: int) -> mpmath.mpf:
    """P(estimate <= c), c > 0, by conditioning on |mean - midpoint| sqrt(n) / sigma."""
    reach, shift = half_width * mpmath.sqrt(n), off_center * mpmath.sqrt(n)

    def piece(t: mpmath.mpf) -> mpmath.mpf:
        ratio = (reach - t) / (3 * c * mpmath.sqrt(n))
        below = chi_square_cdf((n - 1) * ratio * ratio, mpmath.mpf(n - 1))
        return below * (mpmath.npdf(t - shift) + mpmath.npdf(t + shift))

    cuts = sorted({min(reach, max(mpmath.mpf(0), shift + 2 * step)) for step in range(-6, 7)})
    return 1 - integral(piece, cuts)


def sigma(args: Arguments) -> mpmath.mpf:
    """The named estimate of sigma, its sums exact."""
    values = [Fraction(text) for text in args.column("values")]
    size, estimator = args.count("subgroup_size"), args.word("estimator")
    if estimator == "overall":
        return mpmath.sqrt(number(variance(values)))
    if estimator == "mean_moving_range":
        ranges = [abs(b - a) for a, b in itertools.pairwise(values)]
        return number(sum(ranges) / Fraction(len(ranges))) / moments(2)[0]
    groups = [values[i : i + size] for i in range(0, len(values), size)]
    if estimator == "mean_range":
        return number(sum(max(group) - min(group) for group in groups) / Fraction(len(groups))) / moments(size)[0]
    variances = [variance(group) for group in groups]
    if estimator == "pooled_sd":
        return mpmath.sqrt(number(sum(variances) / Fraction(len(groups))))
    return mpmath.fsum(mpmath.sqrt(number(v)) for v in variances) / len(groups) / c4(mpmath.mpf(size))


def number(fraction: Fraction) -> mpmath.mpf:
    return mpmath.mpf(fraction.numerator) / fraction.denominator


def variance(values: list[Fraction]) -> Fraction:
    mean = sum(values) / Fraction(len(values))
    return sum((value - mean) ** 2 for value in values) / Fraction(len(values) - 1)


def indices(mean: mpmath.mpf, spread: mpmath.mpf, args: Arguments) -> dict[str, mpmath.mpf]:
    lower, upper = args.exact("lower"), args.exact("upper")
    found = {"cp": (upper - lower) / (6 * spread), "cpu": (upper - mean) / (3 * spread), "cpl": (mean - lower) / (3 * spread)}
    found["cpk"] = min(found["cpu"], found["cpl"])
    found["off_center_ratio"] = abs(lower + upper - 2 * mean) / (upper - lower)
    if "target" in args:
        found["cpm"] = (upper - lower) / (6 * mpmath.sqrt(spread**2 + (mean - args.exact("target")) ** 2))
    return found


def from_figures(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "cp_interval":
        df = mpmath.mpf(args.count("sample_size") - 1)
        return {end: args.exact("estimate") * mpmath.sqrt(chi_square_quantile(p, df) / df) for end, p in ends(args)}
    if calc == "cpk_interval":
        c, n = args.exact("estimate"), args.count("sample_size")
        spread = c / mpmath.sqrt(2 * (n - 1))
        if args.word("method") == "bissell":
            spread = mpmath.sqrt(ONE / (9 * n) + c * c / (2 * (n - 1)))
        return {end: c + normal_quantile(p) * spread for end, p in ends(args)}
    if calc == "one_sided_index_interval":
        return {end: one_sided_bound(args.exact("estimate"), args.count("sample_size"), p) for end, p in ends(args)}
    if calc == "one_sided_index_critical_value":
        c, n, alpha = args.exact("index"), args.count("sample_size"), args.exact("alpha")
        scale = 3 * mpmath.sqrt(n)
        spread = mpmath.sqrt(1 + (scale * c) ** 2 / (2 * (n - 1)))
        near = scale * c + normal_quantile(1 - alpha) * spread
        found = root(lambda t: noncentral_t_cdf(t, mpmath.mpf(n - 1), scale * c) - 1 + alpha, near, spread / 20)
        return {"critical_value": found / scale}
    if calc == "one_sided_index_moments":
        c, n = args.exact("index"), args.count("sample_size")
        factor = mpmath.sqrt(mpmath.mpf(2) / (n - 1)) * mpmath.gamma(mpmath.mpf(n - 1) / 2) / mpmath.gamma(mpmath.mpf(n - 2) / 2)
        return {
            "bias_factor": factor,
            "variance": mpmath.mpf(n - 1) / (n - 3) * (c * c + ONE / (9 * n)) - (c / factor) ** 2,
        }
    if calc == "cpk_sampling_distribution":
        cpk, n, off_center = args.exact("cpk"), args.count("sample_size"), args.exact("off_center_sigma")
        half_width = 3 * cpk + off_center
        aim = 1 - args.exact("alpha")
        spread = mpmath.sqrt(ONE / (9 * n) + cpk * cpk / (2 * (n - 1)))
        near = cpk + normal_quantile(aim) * spread
        return {
            "critical_value": root(lambda c: cpk_estimate_cdf(c, half_width, off_center, n) - aim, near, spread / 20),
            "probability_below_cpk": cpk_estimate_cdf(cpk, half_width, off_center, n),
        }
    if calc == "cpm_interval":
        c, n, square = args.exact("estimate"), args.count("sample_size"), args.exact("off_target_sigma") ** 2
        if args.word("method") == "boyles":
            df = n * (1 + square) ** 2 / (1 + 2 * square)
            found = {end: c * mpmath.sqrt(chi_square_quantile(p, df) / df) for end, p in ends(args)}
            return {**found, "degrees_of_freedom": df}
        near = n * (1 + square)

        def quantile(p: mpmath.mpf) -> mpmath.mpf:
            start = near + normal_quantile(p) * mpmath.sqrt(2 * n * (1 + 2 * square))
            return root(lambda q: noncentral_chi_square_cdf(q, mpmath.mpf(n), n * square) - p, start, start / 100)

        return {end: c * mpmath.sqrt(quantile(p) / near) for end, p in ends(args)}
    if calc == "shifted_capability":
        cp, shift = args.exact("cp"), args.exact("shift_sigma")
        nearest = mpmath.ncdf(shift - 3 * cp)
        return {
            "cpk": cp - shift / 3,
            "ppm_nearest": nearest * 10**6,
            "ppm_both": (nearest + mpmath.ncdf(-shift - 3 * cp)) * 10**6,
        }
    raise KeyError(calc)


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "capability_from_moments":
        return indices(args.exact("mean"), args.exact("sigma_total"), args)
    if calc == "cp_index":
        return {"cp": (args.exact("upper") - args.exact("lower")) / (6 * args.exact("sigma_total"))}
    if calc == "fraction_outside":
        mean, spread = args.exact("mean"), args.exact("sigma_total")
        share = mpmath.ncdf((args.exact("lower") - mean) / spread) + mpmath.ncdf((mean - args.exact("upper")) / spread)
        return {"fraction_outside": share, "percent_outside": 100 * share}
    if "values" not in args:
        return from_figures(calc, args)
    values = [Fraction(text) for text in args.column("values")]
    mean = sum(values) / Fraction(len(values))
    if calc == "capability_indices":
        return indices(number(mean), sigma(args), args)
    if calc == "normal_ppm":
        spread = mpmath.sqrt(number(variance(values)))
        below = mpmath.ncdf((args.exact("lower") - number(mean)) / spread)
        return {"ppm_below": 10**6 * below, "ppm_above": 10**6 * mpmath.ncdf((number(mean) - args.exact("upper")) / spread)}
    target = Fraction(args.word("target"))
    squares = sum((value - target) ** 2 for value in values)
    under = {
        "divisor_n": squares / Fraction(len(values)),
        "divisor_n_minus_1": squares / Fraction(len(values) - 1),
        "variance_plus_offset": variance(values) + (mean - target) ** 2,
    }[args.word("definition")]
    return {"cpm": (args.exact("upper") - args.exact("lower")) / (6 * mpmath.sqrt(number(under)))}


if __name__ == "__main__":
    main("capability", compute)
