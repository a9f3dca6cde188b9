"""Recompute the rows of cure_profile.csv marked `computed`, at 30 digits: integrals by mpmath's quadrature, piece by piece."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30
ZERO = mpmath.mpf("273.15")
R = mpmath.mpf("8.314462618")


def factor(temperature: mpmath.mpf, args: Arguments) -> mpmath.mpf:
    energy = 1000 * args.exact("activation_energy_kj") / R
    return mpmath.exp(energy * (1 / (args.exact("reference_c") + ZERO) - 1 / (temperature + ZERO)))


def trace(args: Arguments) -> tuple[list[mpmath.mpf], list[mpmath.mpf]]:
    time = [mpmath.mpf(text) for text in args.column("time_min")]
    if "temperature_c" in args:
        return time, [mpmath.mpf(text) for text in args.column("temperature_c")]
    return time, [(mpmath.mpf(text) - 32) / mpmath.mpf("1.8") for text in args.column("temperature_f")]


def intervals(args: Arguments) -> list[tuple[mpmath.mpf, mpmath.mpf, mpmath.mpf, mpmath.mpf]]:
    """Start, end and both temperatures of every interval that counts."""
    time, temperature = trace(args)
    steps = sorted(b - a for a, b in pairwise(time))
    half = len(steps) // 2
    median = steps[half] if len(steps) % 2 else (steps[half - 1] + steps[half]) / 2
    found = list(zip(time[:-1], time[1:], temperature[:-1], temperature[1:], strict=True))
    return [item for item in found if args.count("credit_gaps") or item[1] - item[0] <= 3 * median]


def line(item: tuple[mpmath.mpf, ...]) -> Callable[[mpmath.mpf], mpmath.mpf]:
    start, end, low, high = item
    return lambda t: low + (high - low) * (t - start) / (end - start)


def dose(args: Arguments) -> mpmath.mpf:
    def one(item: tuple[mpmath.mpf, ...]) -> mpmath.mpf:
        at = line(item)
        return mpmath.quad(lambda t: factor(at(t), args), mpmath.linspace(item[0], item[1], 5))

    return mpmath.fsum(one(item) for item in intervals(args))


def trapezoid(args: Arguments) -> mpmath.mpf:
    if "sample_min" not in args:
        return mpmath.fsum((b - a) * (factor(p, args) + factor(q, args)) / 2 for a, b, p, q in intervals(args))
    time, temperature = trace(args)
    step, grid = args.exact("sample_min"), [time[0]]
    while grid[-1] < time[-1]:
        grid.append(min(grid[-1] + step, time[-1]))
    pieces = list(zip(time[:-1], time[1:], temperature[:-1], temperature[1:], strict=True))

    def at(t: mpmath.mpf) -> mpmath.mpf:
        return factor(line(next(item for item in pieces if t <= item[1]))(t), args)

    return mpmath.fsum((b - a) * (at(a) + at(b)) / 2 for a, b in pairwise(grid))


def above(args: Arguments) -> mpmath.mpf:
    threshold = args.exact("threshold_c") if "threshold_c" in args else (args.exact("threshold_f") - 32) / mpmath.mpf("1.8")
    total = mpmath.mpf(0)
    for a, b, p, q in intervals(args):
        high, low = max(p, q), min(p, q)
        share = 1 if low >= threshold else 0 if high < threshold else (high - threshold) / (high - low)
        total += share * (b - a)
    return total


def lag(args: Arguments) -> dict[str, object]:
    air, start, tau, end = (args.exact(name) for name in ("air_c", "start_c", "time_constant_min", "oven_min"))
    reach = tau * mpmath.log((air - start) / (air - args.exact("threshold_c")))
    return {
        "reach_min": reach if reach <= end else "never",
        "above_min": max(mpmath.mpf(0), end - reach),
        "exit_c": air - (air - start) * mpmath.exp(-end / tau),
    }


def lag_dose(args: Arguments) -> mpmath.mpf:
    air, start, tau, end = (args.exact(name) for name in ("air_c", "start_c", "time_constant_min", "oven_min"))
    return mpmath.quad(lambda t: factor(air - (air - start) * mpmath.exp(-t / tau), args), mpmath.linspace(0, end, 9))


def energy(args: Arguments) -> mpmath.mpf:
    x = [1 / (mpmath.mpf(text) + ZERO) for text in args.column("temperature_c")]
    y = [mpmath.log(mpmath.mpf(text)) for text in args.column("time_min")]
    mean_x, mean_y = mpmath.fsum(x) / len(x), mpmath.fsum(y) / len(y)
    slope = mpmath.fsum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / mpmath.fsum(
        (a - mean_x) ** 2 for a in x
    )
    return slope * R / 1000


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "oven_lag":
        return lag(args)
    one = {
        "oven_lag_equivalent_time": ("equivalent_min", lag_dose),
        "cure_rate_factor": ("factor", lambda given: factor(given.exact("temperature_c"), given)),
        "activation_energy_from_schedule": ("activation_energy_kj", energy),
        "equivalent_time": ("equivalent_min", dose),
        "equivalent_time_trapezoid": ("equivalent_min", trapezoid),
        "time_above": ("total_min", above),
    }
    name, function = one[calc]
    return {name: function(args)}


if __name__ == "__main__":
    main("cure_profile", compute)
