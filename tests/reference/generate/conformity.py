"""Recompute the rows of conformity.csv marked `computed` at 30 digits.

Risks of a normal process in the other order: the density of the measured value times the chance of the true one given it. Those
of a gamma process by tanh-sinh quadrature over the true value.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def phi(z: mpmath.mpf) -> mpmath.mpf:
    return mpmath.erfc(-z / mpmath.sqrt(2)) / 2


def quantile(p: mpmath.mpf) -> mpmath.mpf:
    return mpmath.sqrt(2) * mpmath.erfinv(2 * p - 1)


def student(t: mpmath.mpf, nu: mpmath.mpf) -> mpmath.mpf:
    tail = mpmath.betainc(nu / 2, mpmath.mpf(1) / 2, 0, nu / (nu + t * t), regularized=True) / 2
    return 1 - tail if t > 0 else tail


def window(args: Arguments, before: str = "") -> tuple[mpmath.mpf, mpmath.mpf]:
    lower = args.exact(f"{before}lower") if f"{before}lower" in args else -mpmath.inf
    upper = args.exact(f"{before}upper") if f"{before}upper" in args else mpmath.inf
    return lower, upper


def conformance(args: Arguments) -> mpmath.mpf:
    value, u = args.exact("value"), args.exact("standard_uncertainty")
    lower, upper = window(args)

    def below(x: mpmath.mpf) -> mpmath.mpf:
        if mpmath.isinf(x):
            return mpmath.mpf(x > 0)
        z = (x - value) / u
        return student(z, args.exact("degrees_of_freedom")) if "degrees_of_freedom" in args else phi(z)

    return below(upper) - below(lower)


def normal_risks(args: Arguments) -> dict[str, mpmath.mpf]:
    mean, sigma, u = (args.exact(name) for name in ("mean", "sigma_process", "standard_uncertainty"))
    lower, upper = window(args)
    accept_lower, accept_upper = window(args, "accept_")
    total = mpmath.sqrt(sigma**2 + u**2)
    spread = sigma * u / total  # of the true value given the measured one

    def true_inside(y: mpmath.mpf) -> mpmath.mpf:
        middle = (y * sigma**2 + mean * u**2) / total**2
        return phi((upper - middle) / spread) - phi((lower - middle) / spread)

    def density(y: mpmath.mpf) -> mpmath.mpf:
        return mpmath.exp(-(((y - mean) / total) ** 2) / 2) / (total * mpmath.sqrt(2 * mpmath.pi))

    marks = sorted({accept_lower, accept_upper, mean, *(x for x in (lower, upper) if accept_lower < x < accept_upper)})
    inside = [x for x in marks if accept_lower <= x <= accept_upper]
    both = mpmath.quad(lambda y: density(y) * true_inside(y), inside)
    accepted = phi((accept_upper - mean) / total) - phi((accept_lower - mean) / total)
    conforming = phi((upper - mean) / sigma) - phi((lower - mean) / sigma)
    return {
        "consumer_risk": accepted - both,
        "producer_risk": conforming - both,
        "conforming": conforming,
        "nonconforming": 1 - conforming,
    }


def gamma_risks(args: Arguments, accept_upper: mpmath.mpf | None = None) -> dict[str, mpmath.mpf]:
    shape, rate, u, upper = (args.exact(name) for name in ("shape", "rate", "standard_uncertainty", "upper"))
    lowest, highest = window(args, "accept_")
    if accept_upper is not None:
        highest = accept_upper

    def density(x: mpmath.mpf) -> mpmath.mpf:
        return rate**shape * x ** (shape - 1) * mpmath.exp(-rate * x) / mpmath.gamma(shape)

    def chance(x: mpmath.mpf) -> mpmath.mpf:
        low = mpmath.mpf(0) if mpmath.isinf(lowest) else phi((lowest - x) / u)
        return phi((highest - x) / u) - low

    consumer = mpmath.quad(lambda x: density(x) * chance(x), [upper, upper + 4 * u, upper + 12 * u, upper + 60 * u])
    both = mpmath.quad(lambda x: density(x) * chance(x), [0, u, upper - 4 * u, upper])
    conforming = mpmath.gammainc(shape, 0, rate * upper, regularized=True)
    return {"nonconforming": 1 - conforming, "consumer_risk": consumer, "producer_risk": conforming - both}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "conformance_probability":
        return {"probability": conformance(args)}
    if calc == "acceptance_limit_relative":
        z = quantile(args.exact("confidence_level"))
        return {"acceptance_limit": args.exact("limit") / (1 - z * args.exact("relative_uncertainty"))}
    if calc == "guard_band_factor":
        return {"factor": quantile(1 - args.exact("alpha") / args.count("sides"))}
    if calc == "false_accept_at_limit":
        return {"probability": phi(-args.exact("guard_over_expanded") * args.exact("coverage_factor"))}
    if calc == "joint_risks":
        return normal_risks(args)
    if calc == "joint_risks_prior":
        return gamma_risks(args)
    wanted = args.exact("consumer_risk")
    with mpmath.workdps(20):
        found = mpmath.findroot(
            lambda limit: gamma_risks(args, limit)["consumer_risk"] - wanted,
            (mpmath.mpf("1.6"), mpmath.mpf("1.75")),
            solver="anderson",
            tol=1e-17,
        )
    return {"accept_upper": found}


if __name__ == "__main__":
    main("conformity", compute)
