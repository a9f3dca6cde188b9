"""Recompute the rows of resolution.csv marked `computed` at 30 digits.

The mean range from the joint distribution of smallest and largest, the false alarms by adding up every combination of readings;
the fit by solving the likelihood's two equations, its intervals by solving for where the profile falls.
"""

from __future__ import annotations

import itertools

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30

D2 = {2: 2 / mpmath.sqrt(mpmath.pi), 3: 3 / mpmath.sqrt(mpmath.pi)}
"""Mean range of 2 and 3 standard normal values in closed form."""


def phi(z: mpmath.mpf) -> mpmath.mpf:
    return mpmath.erfc(-z / mpmath.sqrt(2)) / 2


def between(a: mpmath.mpf, b: mpmath.mpf) -> mpmath.mpf:
    return phi(b) - phi(a) if a < 0 else phi(-a) - phi(-b)


def effect(args: Arguments) -> dict[str, object]:
    sigma, step, mean = args.exact("sigma"), args.exact("step"), args.exact("mean")
    size = args.count("subgroup_size")
    n = max(2, size)
    half = mpmath.mpf(1) / 2
    middle, reach = int(mpmath.nint(mean / step)), int(mpmath.ceil(9 * sigma / step)) + 1
    cells = range(middle - reach, middle + reach + 1)
    chance = {k: between(((k - half) * step - mean) / sigma, ((k + half) * step - mean) / sigma) for k in cells}

    def within(a: int, b: int) -> mpmath.mpf:
        return mpmath.fsum(chance[k] for k in range(a, b + 1)) ** n if a <= b else mpmath.mpf(0)

    mean_range = mpmath.mpf(0)
    for a in cells:
        for b in range(a + 1, cells.stop):
            mean_range += (b - a) * (within(a, b) - within(a + 1, b) - within(a, b - 1) + within(a + 1, b - 1))
    first = mpmath.fsum(k * p for k, p in chance.items())
    second = mpmath.fsum(k * k * p for k, p in chance.items()) - first**2
    from_ranges = mean_range * step / D2[n]
    limit = 3 * from_ranges / mpmath.sqrt(size) / step
    alarm = mpmath.mpf(0)
    for readings in itertools.product(cells, repeat=size):
        if abs(mpmath.mpf(sum(readings)) / size - first) > limit:
            alarm += mpmath.fprod(chance[k] for k in readings)
    return {
        "mean_range": mean_range * step,
        "zero_range_share": mpmath.fsum(p**n for p in chance.values()),
        "zero_range_percent": 100 * mpmath.fsum(p**n for p in chance.values()),
        "sigma_ratio": from_ranges / sigma,
        "sd_rounded": mpmath.sqrt(second) * step,
        "false_alarm": alarm,
    }


def fit(args: Arguments) -> dict[str, object]:
    step = args.exact("step")
    cells = [int(mpmath.nint(mpmath.mpf(text) / step)) for text in args.column("values")]
    origin = min(cells)
    half = mpmath.mpf(1) / 2

    def likelihood(mean: mpmath.mpf, sd: mpmath.mpf) -> mpmath.mpf:
        parts = {k: mpmath.log(between((k - half - mean) / sd, (k + half - mean) / sd)) for k in {c - origin for c in cells}}
        return mpmath.fsum(parts[c - origin] for c in cells)

    def mean_slope(mean: mpmath.mpf, sd: mpmath.mpf) -> mpmath.mpf:
        return mpmath.diff(lambda m: likelihood(m, sd), mean)

    n = len(cells)
    start = mpmath.fsum(c - origin for c in cells) / n
    spread = mpmath.sqrt(mpmath.fsum((c - origin - start) ** 2 for c in cells) / n)
    found: dict[str, object] = {"sd_of_readings": spread * mpmath.sqrt(mpmath.mpf(n) / (n - 1)) * step}
    drop = mpmath.findroot(lambda x: mpmath.gammainc(half, 0, x, regularized=True) - args.exact("confidence_level"), 1.9)
    if max(cells) - origin <= 1:
        # One value or two neighbors: the likelihood's largest value is the chance of their shares.
        shares = [mpmath.mpf(cells.count(c)) / n for c in set(cells)]
        top = mpmath.fsum(n * p * mpmath.log(p) for p in shares)
        spread = mpmath.mpf("0.4")
    else:

        def gradient(mean: mpmath.mpf, log_sd: mpmath.mpf) -> tuple[mpmath.mpf, mpmath.mpf]:
            sd = mpmath.exp(log_sd)
            return mean_slope(mean, sd), mpmath.diff(lambda s: likelihood(mean, mpmath.exp(s)), log_sd)

        mean, log_sd = mpmath.findroot(gradient, (start, mpmath.log(spread)), tol=1e-22)
        top, spread = likelihood(mean, mpmath.exp(log_sd)), mpmath.exp(log_sd)
        found |= {"mean": (mean + origin) * step, "sd": spread * step, "log_likelihood": top}

    def profile(sd: mpmath.mpf) -> mpmath.mpf:
        middle = mpmath.findroot(lambda m: mean_slope(m, sd), (start, start + mpmath.mpf("0.01")), tol=1e-22)
        return likelihood(middle, sd) - top + drop

    with mpmath.workdps(22):
        for name, low, high in (("sd_lower", 0.3, 0.95), ("sd_upper", 1.05, 4)):
            if name == "sd_lower" and "sd" not in found:
                continue
            ends = (spread * low, spread * high)
            found[name] = mpmath.findroot(profile, ends, solver="anderson", tol=1e-16) * step
    return found


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "window_steps":
        lower, upper, step = (args.exact(name) for name in ("lower", "upper", "step"))
        slack = mpmath.mpf("1e-20")
        inside = mpmath.floor(upper / step + slack) - mpmath.ceil(lower / step - slack) + 1
        return {"steps": (upper - lower) / step, "shown_inside": inside, "standard_uncertainty": step / mpmath.sqrt(12)}
    return effect(args) if calc == "rounding_effect" else fit(args)


if __name__ == "__main__":
    main("resolution", compute)
