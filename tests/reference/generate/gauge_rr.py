"""Recompute the rows of gauge_rr.csv marked `computed`, and the gauge intervals of variance_components.csv, without the library.

Sums of squares in exact fractions on the numbers as written; roots, F and chi-square figures from mpmath at 30 digits; d2 and d3
by the quadrature of constants.py.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction

import mpmath
from common import Arguments, main
from constants import moments

mpmath.mp.dps = 30

Numbers = dict[str, object]


def number(fraction: Fraction | int) -> mpmath.mpf:
    whole = Fraction(fraction)
    return mpmath.mpf(whole.numerator) / whole.denominator


def mean(values: Iterable[Fraction]) -> Fraction:
    found = list(values)
    return sum(found, Fraction(0)) / len(found)


def f_survival(f: mpmath.mpf, n1: int, n2: int) -> mpmath.mpf:
    return mpmath.betainc(mpmath.mpf(n2) / 2, mpmath.mpf(n1) / 2, 0, n2 / (n2 + n1 * f), regularized=True)


def f_quantile(probability: mpmath.mpf, n1: int, n2: int) -> mpmath.mpf:
    """By bisection of the logarithm: some limits lie far from 1."""
    low, high = mpmath.mpf(-20), mpmath.mpf(20)
    for _ in range(110):
        middle = (low + high) / 2
        if f_survival(mpmath.e**middle, n1, n2) > 1 - probability:
            low = middle
        else:
            high = middle
    return mpmath.e ** ((low + high) / 2)


def chi_square_quantile(probability: mpmath.mpf, n: mpmath.mpf) -> mpmath.mpf:
    low, high = mpmath.mpf(-30), mpmath.log(n + 40 * mpmath.sqrt(n) + 100)
    for _ in range(110):
        middle = (low + high) / 2
        if mpmath.gammainc(mpmath.mpf(n) / 2, 0, mpmath.e**middle / 2, regularized=True) < probability:
            low = middle
        else:
            high = middle
    return mpmath.e ** ((low + high) / 2)


class Cells:
    """Readings by part and appraiser, labels in rising order."""

    def __init__(self, args: Arguments) -> None:
        found: dict[tuple[int, int], list[Fraction]] = defaultdict(list)
        rows = zip(args.column("values"), args.column("part"), args.column("appraiser"), strict=True)
        for text, part, appraiser in rows:
            found[int(part), int(appraiser)].append(Fraction(text))
        self.cells = found
        self.parts = sorted({part for part, _ in found})
        self.appraisers = sorted({appraiser for _, appraiser in found})
        self.trials = len(next(iter(found.values())))
        self.cell_means = {key: mean(values) for key, values in found.items()}
        self.part_means = {p: mean(self.cell_means[p, a] for a in self.appraisers) for p in self.parts}
        self.appraiser_means = {a: mean(self.cell_means[p, a] for p in self.parts) for a in self.appraisers}
        self.grand = mean(self.part_means.values())


def anova(args: Arguments) -> Numbers:
    data = Cells(args)
    p, a, r = len(data.parts), len(data.appraisers), data.trials
    pooled = args.word("pool_interaction") == "1"
    squares = {
        "part": a * r * sum((m - data.grand) ** 2 for m in data.part_means.values()),
        "appraiser": p * r * sum((m - data.grand) ** 2 for m in data.appraiser_means.values()),
        "interaction": r
        * sum(
            (data.cell_means[i, j] - data.part_means[i] - data.appraiser_means[j] + data.grand) ** 2
            for i in data.parts
            for j in data.appraisers
        ),
        "repeatability": sum((x - data.cell_means[key]) ** 2 for key, cell in data.cells.items() for x in cell),
    }
    degrees = {"part": p - 1, "appraiser": a - 1, "interaction": (p - 1) * (a - 1), "repeatability": p * a * (r - 1)}
    if pooled:
        squares["repeatability"] += squares.pop("interaction")
        degrees["repeatability"] += degrees.pop("interaction")
    ms = {name: squares[name] / degrees[name] for name in squares}
    out: Numbers = {"grand_mean": number(data.grand), "ss_total": number(sum(squares.values()))}
    base = "repeatability" if pooled or "f_denominator" in args else "interaction"
    for name in squares:
        out |= {f"ss_{name}": number(squares[name]), f"df_{name}": degrees[name], f"ms_{name}": number(ms[name])}
        over = "repeatability" if name == "interaction" else base
        if name != "repeatability" and ms[over] != 0:
            f = number(ms[name] / ms[over])
            out |= {f"f_{name}": f, f"p_{name}": f_survival(f, degrees[name], degrees[over])}
    error = ms["repeatability"]
    inner = error if pooled else ms["interaction"]
    variances = {
        "repeatability": error,
        "interaction": Fraction(0) if pooled else (inner - error) / r,
        "appraiser": (ms["appraiser"] - inner) / (p * r),
        "part": (ms["part"] - inner) / (a * r),
    }
    out |= {f"variance_{name}": number(value) for name, value in variances.items()}
    floored = {name: max(Fraction(0), value) for name, value in variances.items()}
    grr = floored["repeatability"] + floored["interaction"] + floored["appraiser"]
    total = grr + floored["part"]
    letters = {"ev": floored["repeatability"], "av": floored["appraiser"], "grr": grr, "pv": floored["part"], "tv": total}
    for name, variance in letters.items():
        out |= {
            name: mpmath.sqrt(number(variance)),
            f"share_{name}": 100 * number(variance / total),
            f"pct_{name}": 100 * mpmath.sqrt(number(variance / total)),
        }
    out["interaction_sd"] = mpmath.sqrt(number(floored["interaction"]))
    return out | categories(out)


def categories(out: Numbers) -> Numbers:
    ratio = mpmath.mpf(out["pv"]) / mpmath.mpf(out["grr"])  # type: ignore[arg-type]  # both are mpmath numbers
    plain = mpmath.mpf("1.41") * ratio
    return {"ndc_ratio": plain, "ndc_ratio_sqrt2": mpmath.sqrt(2) * ratio, "ndc": max(1, int(mpmath.floor(plain)))}


def factors(trials: int, appraisers: int, parts: int) -> dict[str, mpmath.mpf]:
    def of_one_group(size: int) -> mpmath.mpf:
        d2, d3 = moments(size)
        return 1 / mpmath.sqrt(d2**2 + d3**2)

    d2, d3 = moments(trials)
    return {"K1": 1 / d2, "K2": of_one_group(appraisers), "K3": of_one_group(parts), "D4": 1 + 3 * d3 / d2}


def gauge_factors(args: Arguments) -> Numbers:
    return dict(factors(args.count("trial_count"), args.count("appraiser_count"), args.count("part_count")))


def average_range(args: Arguments) -> Numbers:
    data = Cells(args)
    p, a, r = len(data.parts), len(data.appraisers), data.trials
    used = factors(r, a, p) | {name: args.exact(name) for name in ("K1", "K2", "K3", "D4") if name in args}
    ranges = {key: max(cell) - min(cell) for key, cell in data.cells.items()}
    mean_range = number(mean(ranges.values()))
    difference = number(max(data.appraiser_means.values()) - min(data.appraiser_means.values()))
    part_range = number(max(data.part_means.values()) - min(data.part_means.values()))
    ev = used["K1"] * mean_range
    radicand = (used["K2"] * difference) ** 2 - ev**2 / (p * r)
    av = mpmath.sqrt(max(mpmath.mpf(0), radicand))
    grr, pv = mpmath.sqrt(ev**2 + av**2), used["K3"] * part_range
    tv = mpmath.sqrt(grr**2 + pv**2)
    out: Numbers = {"mean_range": mean_range, "appraiser_difference": difference, "part_range": part_range, **used}
    out |= {"range_upper": used["D4"] * mean_range, "av_radicand": radicand, "ev": ev, "av": av, "grr": grr, "pv": pv, "tv": tv}
    out |= {"pct_ev": 100 * ev / tv, "pct_av": 100 * av / tv, "pct_grr": 100 * grr / tv, "pct_pv": 100 * pv / tv}
    out["appraiser_mean"] = [number(data.appraiser_means[j]) for j in data.appraisers]
    out["appraiser_mean_range"] = [number(mean(ranges[i, j] for i in data.parts)) for j in data.appraisers]
    return out | categories(out)


def window_share(args: Arguments) -> Numbers:
    return {"percent": 600 * mpmath.mpf(anova(args)["grr"]) / args.exact("window_mil")}  # type: ignore[arg-type]  # as above


def pooled(args: Arguments) -> Numbers:
    df = [mpmath.mpf(text) for text in args.column("df")]
    if "ss" in args:
        squares = [mpmath.mpf(text) for text in args.column("ss")]
    else:
        squares = [n * mpmath.mpf(text) ** 2 for n, text in zip(df, args.column("sds"), strict=True)]
    sds = [mpmath.sqrt(s / n) for s, n in zip(squares, df, strict=True)]
    return {"ss_total": sum(squares), "df": sum(df), "sd": mpmath.sqrt(sum(squares) / sum(df)), "group_sd": sds}


def grr_intervals(args: Arguments) -> Numbers:
    """Modified large sample of Burdick, Borror and Montgomery, or Satterthwaite, from four mean squares."""
    p, a, r = (args.count(f"{name}_count") for name in ("part", "appraiser", "trial"))
    names = ("part", "appraiser", "interaction", "repeatability")
    s = {name: args.exact(f"ms_{name}") for name in names}
    n = dict(zip(names, (p - 1, a - 1, (p - 1) * (a - 1), p * a * (r - 1)), strict=True))
    tail = (1 - args.exact("confidence_level")) / 2
    part = (s["part"] - s["interaction"]) / (a * r)
    weights = {
        "appraiser": mpmath.mpf(1) / (p * r),
        "interaction": mpmath.mpf(p - 1) / (p * r),
        "repeatability": 1 - mpmath.mpf(1) / r,
    }
    measurement = sum(w * s[name] for name, w in weights.items())
    people = {**weights, "repeatability": -mpmath.mpf(1) / r}
    reproducibility = sum(w * s[name] for name, w in people.items())
    out: Numbers = {"variance_part": part, "variance_measurement": measurement, "variance_reproducibility": reproducibility}
    out |= {"variance_repeatability": s["repeatability"], "ratio": part / measurement}
    out["pct_grr"] = 100 / mpmath.sqrt(1 + part / measurement)
    if args.word("method") == "satterthwaite":
        for name, parts, value in (("measurement", weights, measurement), ("reproducibility", people, reproducibility)):
            df = value**2 / sum((w * s[k]) ** 2 / n[k] for k, w in parts.items())
            out[f"{name}_df"] = df
            if value > 0:
                out[f"variance_{name}_lower"] = df * value / chi_square_quantile(1 - tail, df)
                out[f"variance_{name}_upper"] = df * value / chi_square_quantile(tail, df)
        return out
    chi = {
        (name, end): n[name] / chi_square_quantile(1 - tail if end == "low" else tail, n[name])
        for name in names
        for end in ("low", "high")
    }
    g = {name: 1 - chi[name, "low"] for name in names}
    h = {name: chi[name, "high"] - 1 for name in names}
    high, low = (f_quantile(q, n["part"], n["interaction"]) for q in (1 - tail, tail))
    joint_g = ((high - 1) ** 2 - (g["part"] * high) ** 2 - h["interaction"] ** 2) / high
    joint_h = ((1 - low) ** 2 - (h["part"] * low) ** 2 - g["interaction"] ** 2) / low
    s1, s3 = s["part"], s["interaction"]
    down = mpmath.sqrt((g["part"] * s1) ** 2 + (h["interaction"] * s3) ** 2 + joint_g * s1 * s3)
    up = mpmath.sqrt((h["part"] * s1) ** 2 + (g["interaction"] * s3) ** 2 + joint_h * s1 * s3)
    out["variance_part_lower"], out["variance_part_upper"] = (s1 - s3 - down) / (a * r), (s1 - s3 + up) / (a * r)
    out["variance_measurement_lower"] = measurement - mpmath.sqrt(sum((g[k] * w * s[k]) ** 2 for k, w in weights.items()))
    out["variance_measurement_upper"] = measurement + mpmath.sqrt(sum((h[k] * w * s[k]) ** 2 for k, w in weights.items()))
    out["variance_repeatability_lower"] = s["repeatability"] * chi["repeatability", "low"]
    out["variance_repeatability_upper"] = s["repeatability"] * chi["repeatability", "high"]
    rest = weights["interaction"] * s3 + weights["repeatability"] * s["repeatability"]
    for end, reach, chance, other in (("lower", 1 - g["part"], 1 - tail, high), ("upper", 1 + h["part"], tail, low)):
        people_limit = weights["appraiser"] * s["appraiser"] * reach * f_quantile(chance, n["part"], n["appraiser"])
        ratio = reach * (s1 - other * s3) / (a * r) / (rest + people_limit)
        out[f"ratio_{end}"] = ratio
        out["pct_grr_" + ("upper" if end == "lower" else "lower")] = 100 / mpmath.sqrt(1 + ratio)
    return out


CALCS = {
    "gauge_factors": gauge_factors,
    "grr_anova": anova,
    "grr_average_range": average_range,
    "grr_window_share": window_share,
    "pooled_sd": pooled,
    "pooled_sd_from_sds": pooled,
    "grr_intervals": grr_intervals,
}


def compute(calc: str, args: Arguments) -> Numbers:
    return CALCS[calc](args)


if __name__ == "__main__":
    main("gauge_rr", compute)
