"""Recompute the rows of cure_kinetics.csv marked `computed`: formulas at 30 digits, rate equations by Taylor steps of mpmath."""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30
ZERO = mpmath.mpf("273.15")


def nth(args: Arguments) -> mpmath.mpf:
    n, kt = args.exact("order"), args.exact("rate_per_min") * args.exact("time_min")
    if n == 1:
        return 1 - mpmath.exp(-kt)
    base = 1 + (n - 1) * kt
    return mpmath.mpf(1) if base <= 0 else 1 - base ** (1 / (1 - n))


def kamal(args: Arguments) -> list[mpmath.mpf]:
    """Time as an integral over the conversion, turned round: no step size to choose, and no trouble with a power at 0."""
    k1, k2, m, n = (args.exact(name) for name in ("k1_per_min", "k2_per_min", "m", "n"))
    start = args.exact("initial_conversion")
    # a = s^2 takes the root out of the integrand for half-integer powers.
    with mpmath.workdps(20):

        def time(a: mpmath.mpf) -> mpmath.mpf:
            ends = [mpmath.sqrt(start), mpmath.sqrt(a) / 2, mpmath.sqrt(a)]
            return mpmath.quad(lambda s: 2 * s / ((k1 + k2 * s ** (2 * m)) * (1 - s * s) ** n), ends)

        out = []
        for text in args.column("time_min"):
            wanted = mpmath.mpf(text)
            out.append(
                mpmath.findroot(
                    lambda a, t=wanted: time(a) - t, (mpmath.mpf("1e-4"), mpmath.mpf("0.999")), solver="anderson", tol=1e-16
                )
            )
        return out


def autocatalytic(args: Arguments) -> list[mpmath.mpf]:
    """Without diffusion by the closed form of m + n = 2; with it by mpmath's Taylor solver at one temperature."""
    pre, energy = args.exact("pre_exponential_per_min"), 1000 * args.exact("activation_energy_kj") / args.exact("gas_constant")
    m, n, start = args.exact("m"), args.exact("n"), args.exact("initial_conversion")
    time = [mpmath.mpf(text) for text in args.column("time_min")]
    temperature = [mpmath.mpf(text) + ZERO for text in args.column("temperature_c")]
    wanted = [mpmath.mpf(text) for text in args.column("evaluate_min")]

    def rate(kelvin: mpmath.mpf) -> mpmath.mpf:
        return pre * mpmath.exp(-energy / kelvin)

    if "diffusion" in args:
        c, a0, a1 = (mpmath.mpf(text) for text in args.column("diffusion"))
        kelvin = temperature[0]
        k, limit = rate(kelvin), a0 + a1 * kelvin
        # Time as an integral over the conversion, as above.
        with mpmath.workdps(20):

            def elapsed(a: mpmath.mpf) -> mpmath.mpf:
                low, high = mpmath.sqrt(start), mpmath.sqrt(a)
                ends = [low, *(low + (high - low) * mpmath.mpf(j) / 8 for j in range(1, 8)), high]
                return mpmath.quad(
                    lambda s: 2 * s * (1 + mpmath.exp(c * (s * s - limit))) / (k * s ** (2 * m) * (1 - s * s) ** n), ends
                )

            out = []
            for t in wanted:
                low, high = start, mpmath.mpf("0.9999")
                for _ in range(60):
                    middle = (low + high) / 2
                    low, high = (middle, high) if elapsed(middle) < t else (low, middle)
                out.append((low + high) / 2)
            return out

    def integral(end: mpmath.mpf) -> mpmath.mpf:
        total = mpmath.mpf(0)
        for a, b, p, q in zip(time[:-1], time[1:], temperature[:-1], temperature[1:], strict=True):
            stop = min(b, end)
            if stop > a:
                total += mpmath.quad(
                    lambda t, a=a, b=b, p=p, q=q: rate(p + (q - p) * (t - a) / (b - a)), mpmath.linspace(a, stop, 9)
                )
        return total

    u0 = start / (1 - start)
    out = []
    for t in wanted:
        u = (u0 ** (1 - m) + (1 - m) * integral(t)) ** (1 / (1 - m))
        out.append(u / (1 + u))
    return out


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "nth_order_conversion":
        return {"conversion": nth(args)}
    if calc == "second_order_time_ratio":
        a, b = args.exact("from_conversion"), args.exact("to_conversion")
        return {"ratio": b / (1 - b) / (a / (1 - a))}
    if calc == "kamal_peak":
        k1, k2 = args.exact("k1_per_min"), args.exact("k2_per_min")
        return {"time_min": mpmath.log(k2 / k1) / (k1 + k2), "conversion": (1 - k1 / k2) / 2}
    return {"conversion": kamal(args) if calc == "kamal_conversion" else autocatalytic(args)}


if __name__ == "__main__":
    main("cure_kinetics", compute)
