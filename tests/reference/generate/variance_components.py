"""Recompute the rows of variance_components.csv marked `computed` that have an adapter, without the library.

One-way tables run in exact fractions on the doubles; nested tables in exact fractions on the numbers as written, with F and
chi-square figures from mpmath at 30 digits. Restricted and full maximum likelihood write out the covariance matrix of all
readings in NumPy and solve the score equations by Fisher's scoring; rows made by lme4 (mixed_shop.R) are met by them too.
Gauge intervals by gauge_rr.py.
"""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction

import mpmath
import numpy as np
from common import Arguments, main
from gauge_rr import grr_intervals
from scipy.optimize import brentq
from scipy.stats import chi2, norm

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


class Mixed:
    """A mixed model with every matrix written out: y, X, and Z Z' of each term."""

    def __init__(self, y: np.ndarray, x: np.ndarray, terms: list[list[str]], restricted: bool) -> None:
        self.y, self.x, self.restricted = y, x, restricted
        kinds = [sorted(set(term), key=lambda label: [float(word) for word in label.split()]) for term in terms]
        self.indicators = [
            np.array([[label == kind for kind in own] for label in term], float) for term, own in zip(terms, kinds, strict=True)
        ]
        self.squares = [z @ z.T for z in self.indicators] + [np.eye(y.size)]

    def at(self, variances: np.ndarray) -> dict[str, np.ndarray | float]:
        v = sum(variance * square for variance, square in zip(variances, self.squares, strict=True))
        inverse = np.linalg.inv(v)
        covariance = np.linalg.inv(self.x.T @ inverse @ self.x)
        beta = covariance @ self.x.T @ inverse @ self.y
        p = inverse - inverse @ self.x @ covariance @ self.x.T @ inverse
        rank = self.x.shape[1] if self.restricted else 0
        criterion = np.linalg.slogdet(v)[1] + self.y @ p @ self.y + (self.y.size - rank) * np.log(2 * np.pi)
        criterion -= np.linalg.slogdet(covariance)[1] if self.restricted else 0.0
        py, project = p @ self.y, p if self.restricted else inverse
        halves = [project @ square for square in self.squares]
        score = np.array([py @ square @ py - np.trace(half) for square, half in zip(self.squares, halves, strict=True)])
        information = np.array([[np.sum(a * b.T) for b in halves] for a in halves])
        return {"criterion": criterion, "beta": beta, "covariance": covariance, "py": py, "score": score, "inf": information}

    def climb(self, start: np.ndarray, held: dict[int, float]) -> tuple[np.ndarray, dict[str, np.ndarray | float]]:
        """Fisher's scoring over the variances that are not held; one that goes below 0 stays at 0 while its score agrees."""
        variances = start.copy()
        for index, value in held.items():
            variances[index] = value
        zero: set[int] = set()
        for _ in range(400):
            here = self.at(variances)
            free = [i for i in range(variances.size) if i not in held and i not in zero]
            step = np.zeros(variances.size)
            step[free] = np.linalg.solve(here["inf"][np.ix_(free, free)], here["score"][free])
            part = 1.0
            while True:
                there = np.maximum(variances + part * step, 0.0)
                there[-1] = max(there[-1], 0.1 * variances[-1])
                if self.at(there)["criterion"] <= here["criterion"] + 1e-9 or part < 1e-6:
                    break
                part *= 0.5
            moved = np.max(np.abs(there - variances) / np.max(variances))
            variances = there
            if moved < 1e-14:
                back = {i for i in zero if self.at(variances)["score"][i] > 0}
                if not back:
                    break
                zero -= back
            zero |= {i for i in free if variances[i] == 0.0}
        return variances, self.at(variances)

    def best(self) -> tuple[np.ndarray, dict[str, np.ndarray | float]]:
        return self.climb(np.full(len(self.squares), self.y.var() / len(self.squares)), {})

    def profile(self, index: int, level: float) -> tuple[float, float]:
        """Variances at which the best likelihood under them has fallen by half the chi-square quantile."""
        top, found = self.best()
        target = found["criterion"] + chi2.ppf(level, 1)

        def rise(variance: float) -> float:
            return float(self.climb(top, {index: variance})[1]["criterion"] - target)

        ends = [0.0, 0.0]
        if index == len(self.squares) - 1 or rise(0.0) > 0:
            ends[0] = brentq(rise, 1e-3 * top[index], top[index], rtol=1e-10)
        ends[1] = brentq(rise, max(top[index], 1e-4 * top[-1]), 100 * max(top[index], top[-1]), rtol=1e-10)
        return ends[0], ends[1]


def contrasts(labels: list[str]) -> np.ndarray:
    """Treatment contrasts, the smallest label the base."""
    kinds = sorted(set(labels), key=float)
    return np.array([[float(label == kind) for kind in kinds[1:]] for label in labels])


def mixed_result(model: Mixed) -> dict[str, object]:
    variances, found = model.best()
    return {
        "variance": list(variances[:-1]),
        "variance_residual": variances[-1],
        "sd": list(np.sqrt(variances[:-1])),
        "sd_residual": np.sqrt(variances[-1]),
        "reml_criterion": found["criterion"],
        "log_likelihood": -found["criterion"] / 2,
        "fixed": list(found["beta"]),
        "fixed_se": list(np.sqrt(np.diag(found["covariance"]))),
        "effects": [variance * z.T @ found["py"] for variance, z in zip(variances, model.indicators, strict=False)],
    }


def reml(args: Arguments) -> dict[str, object]:
    factors = {"1": args.column("factor_1")}
    if "factor_2" in args:
        factors["2"] = args.column("factor_2")
        factors["1*2"] = [f"{a} {b}" for a, b in zip(factors["1"], factors["2"], strict=True)]
    y = np.array(args.column("values"), float)
    x = [np.ones((y.size, 1)), *(contrasts(factors[name]) for name in args.column("fixed_terms"))]
    return mixed_result(Mixed(y, np.hstack(x), [factors[name] for name in args.column("random_terms")], True))


def wald(args: Arguments) -> dict[str, object]:
    """exp(ln sd -+ z se) by the observed information of the restricted likelihood, its second derivatives in closed form."""
    factors = [f"{a} {b}" for a, b in zip(args.column("factor_1"), args.column("factor_2"), strict=True)]
    y = np.array(args.column("values"), float)
    x = np.hstack([np.ones((y.size, 1)), contrasts(args.column("factor_2"))])
    model = Mixed(y, x, [args.column("factor_1"), factors], True)
    variances, _ = model.best()
    inverse = np.linalg.inv(sum(variance * square for variance, square in zip(variances, model.squares, strict=True)))
    p = inverse - inverse @ x @ np.linalg.inv(x.T @ inverse @ x) @ x.T @ inverse
    halves = [p @ square for square in model.squares]
    moved = [square @ p @ y for square in model.squares]
    observed = np.array([[a @ p @ b for b in moved] for a in moved])
    observed -= 0.5 * np.array([[np.sum(a * b.T) for b in halves] for a in halves])
    slope = np.diag(2 * variances)  # of a variance in ln sd
    errors = np.sqrt(np.diag(np.linalg.inv(slope @ observed @ slope)))
    z = norm.ppf(0.5 + float(args.exact("confidence_level")) / 2)
    lower, upper = (np.exp(0.5 * np.log(variances) + sign * z * errors) for sign in (-1, 1))
    return {
        "sd_lower": list(lower[:2]),
        "sd_upper": list(upper[:2]),
        "sd_residual_lower": lower[2],
        "sd_residual_upper": upper[2],
    }


def mixed(args: Arguments) -> dict[str, object]:
    y = np.array(args.column("values"), float)
    age = np.array(args.column("age"), float)[:, None]
    x = np.hstack([np.ones((y.size, 1)), contrasts(args.column("place")), age])
    names = ("day", "body", "painter")
    model = Mixed(y, x, [args.column(name) for name in names], args.word("method") == "reml")
    out = mixed_result(model)
    out |= {f"effect_{name}": list(effects) for name, effects in zip(names, out["effects"], strict=True)}
    if not model.restricted:
        ends = [model.profile(i, 0.95) for i in range(4)]
        out |= {"sd_lower": [np.sqrt(low) for low, _ in ends], "sd_upper": [np.sqrt(high) for _, high in ends]}
    return out


def compute(calc: str, args: Arguments) -> dict[str, object]:
    calls = {
        "one_way_anova": one_way,
        "nested_anova": nested,
        "grr_intervals": grr_intervals,
        "reml_components": reml,
        "reml_wald_intervals": wald,
        "mixed_components": mixed,
    }
    return calls[calc](args)


if __name__ == "__main__":
    main("variance_components", compute, misprinted=("reml_wald_intervals",))
