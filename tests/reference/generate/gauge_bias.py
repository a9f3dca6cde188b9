"""Recompute the rows of gauge_bias.csv marked `computed`, at 30 digits and in exact fractions, without the library.

The line of a linearity study comes from the normal equations in exact fractions, its band from the inverse of their matrix.
"""

from __future__ import annotations

from fractions import Fraction

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def real(x: Fraction) -> mpmath.mpf:
    return mpmath.mpf(x.numerator) / x.denominator


def t_tail(t: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    """Both tails of Student's t."""
    return mpmath.betainc(df / 2, mpmath.mpf(1) / 2, 0, df / (df + t**2), regularized=True)


def t_critical(level: mpmath.mpf, df: mpmath.mpf) -> mpmath.mpf:
    return mpmath.findroot(lambda t: t_tail(t, df) - (1 - level), mpmath.mpf(2))


def moments(args: Arguments) -> tuple[list[Fraction], Fraction, Fraction]:
    values = [Fraction(text) for text in args.column("values")]
    mean = sum(values, Fraction(0)) / len(values)
    return values, mean, sum((x - mean) ** 2 for x in values) / (len(values) - 1)


def bias_t(args: Arguments) -> dict[str, object]:
    values, mean, variance = moments(args)
    n = mpmath.mpf(len(values))
    bias = real(mean - Fraction(args.word("reference")))
    sd = mpmath.sqrt(real(variance))
    error = sd / mpmath.sqrt(n)
    t = bias / error
    out: dict[str, object] = {"mean": real(mean), "bias": bias, "sd": sd, "sigma_bias": error, "t": t, "p": t_tail(t, n - 1)}
    if "confidence_level" in args:
        reach = t_critical(args.exact("confidence_level"), n - 1) * error
        out |= {"lower": bias - reach, "upper": bias + reach}
    return out


def bias_range(args: Arguments) -> dict[str, object]:
    values, mean, _ = moments(args)
    bias = real(mean - Fraction(args.word("reference")))
    span = real(max(values) - min(values))
    sigma = span / args.exact("d2_star")
    error = sigma / mpmath.sqrt(len(values))
    critical = t_critical(args.exact("confidence_level"), args.exact("degrees_of_freedom"))
    reach = args.exact("d2") / args.exact("d2_star") * critical * error
    return {
        "mean": real(mean),
        "bias": bias,
        "range": span,
        "sigma_repeatability": sigma,
        "sigma_bias": error,
        "t": bias / error,
        "t_critical": critical,
        "lower": bias - reach,
        "upper": bias + reach,
    }


def single_part(args: Arguments) -> dict[str, object]:
    out = bias_t(args)
    share, width, multiple = (args.exact(name) for name in ("tolerance_share", "tolerance_width", "sigma_spread"))
    spread = multiple * out["sd"]  # type: ignore[operator]
    return {
        **out,
        "cg": share * width / spread,
        "cgk": (share * width / 2 - abs(out["bias"])) / (spread / 2),  # type: ignore[arg-type]
        "minimum_tolerance": mpmath.mpf("1.33") * spread / share,
        "pct_variation": 100 * spread / width,
    }


def linearity(args: Arguments) -> dict[str, object]:
    x = [Fraction(text) for text in args.column("reference")]
    y = [Fraction(text) - level for text, level in zip(args.column("values"), x, strict=True)]
    n, sx, sxx = len(x), sum(x), sum(a * a for a in x)
    sy, sxy = sum(y), sum(a * b for a, b in zip(x, y, strict=True))
    det = n * sxx - sx * sx
    intercept, slope = (sxx * sy - sx * sxy) / det, (n * sxy - sx * sy) / det
    inverse = ((sxx / det, -sx / det), (-sx / det, n / det))
    squares = sum((b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    total = sum((b - Fraction(sy, n)) ** 2 for b in y)
    df = mpmath.mpf(n - 2)
    sd = mpmath.sqrt(real(squares) / df)
    errors = [sd * mpmath.sqrt(real(inverse[i][i])) for i in (0, 1)]
    critical = t_critical(args.exact("confidence_level"), df)
    levels = sorted(set(x))
    groups = [[b for a, b in zip(x, y, strict=True) if a == level] for level in levels]
    fit = [real(intercept + slope * level) for level in levels]
    reach = [
        critical * sd * mpmath.sqrt(real(inverse[0][0] + 2 * level * inverse[0][1] + level**2 * inverse[1][1]))
        for level in levels
    ]
    ratio = [real(intercept) / errors[0], real(slope) / errors[1]]
    return {
        "slope": real(slope),
        "intercept": real(intercept),
        "residual_sd": sd,
        "se_intercept": errors[0],
        "se_slope": errors[1],
        "t_intercept": ratio[0],
        "t_slope": ratio[1],
        "p_intercept": t_tail(ratio[0], df),
        "p_slope": t_tail(ratio[1], df),
        "r_squared": 1 - real(squares) / real(total),
        "t_critical": critical,
        "bias_mean": [real(sum(own, Fraction(0)) / len(own)) for own in groups],
        "band_fit": fit,
        "band_lower": [a - b for a, b in zip(fit, reach, strict=True)],
        "band_upper": [a + b for a, b in zip(fit, reach, strict=True)],
    }


def comparison(args: Arguments) -> dict[str, object]:
    pairs = zip(args.column("first"), args.column("second"), strict=True)
    apart = [Fraction(one) - Fraction(two) for one, two in pairs]
    mean = sum(apart, Fraction(0)) / len(apart)
    sd = mpmath.sqrt(real(sum((x - mean) ** 2 for x in apart) / (len(apart) - 1)))
    reach = mpmath.sqrt(2) * mpmath.erfinv(args.exact("agreement_share")) * sd
    middle = real(mean)
    return {"mean_difference": middle, "sd": sd, "agreement_lower": middle - reach, "agreement_upper": middle + reach}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "verification_limit":
        return {"percent": mpmath.sqrt(args.exact("gauge_percent") ** 2 + args.exact("shim_percent") ** 2)}
    return {
        "bias_t_test": bias_t,
        "bias_range_method": bias_range,
        "single_part_study": single_part,
        "linearity": linearity,
        "gauge_comparison": comparison,
    }[calc](args)


if __name__ == "__main__":
    main("gauge_bias", compute)
