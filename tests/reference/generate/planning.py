"""Recompute the rows of planning.csv marked `computed` at 30 digits, numbers of readings by trying them one by one."""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def quantile(p: mpmath.mpf) -> mpmath.mpf:
    return mpmath.sqrt(2) * mpmath.erfinv(2 * p - 1)


def student_within(t: mpmath.mpf, nu: int) -> mpmath.mpf:
    """P(|T| <= t)."""
    return mpmath.betainc(mpmath.mpf(1) / 2, mpmath.mpf(nu) / 2, 0, t * t / (nu + t * t), regularized=True)


def half_width(args: Arguments) -> dict[str, object]:
    sd, half, level = (args.exact(name) for name in ("sd_mil", "half_width_mil", "confidence_level"))
    n = 2
    # t sd / sqrt(n) <= half exactly when |T| stays within half sqrt(n) / sd with at least that probability.
    while student_within(half * mpmath.sqrt(n) / sd, n - 1) < level:
        n += 1
    return {"readings": n, "normal_formula": (quantile((1 + level) / 2) * sd / half) ** 2}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "window_share":
        u = args.exact("sigma_repeat_mil") / mpmath.sqrt(args.count("readings"))
        return {"percent": 600 * u / args.exact("window_mil")}
    if calc == "readings_for_window_share":
        sd, width, share = (args.exact(name) for name in ("sigma_repeat_mil", "window_mil", "share"))
        n = 1
        # Decimal arguments: an exact tie may be a 1e-29 off.
        while 36 * sd**2 > n * (share * width) ** 2 * (1 + mpmath.mpf("1e-25")):
            n += 1
        return {"readings": n}
    if calc == "guard_band_window":
        z = quantile(1 - args.exact("alpha"))
        guard = args.exact("bias_bound_mil") + z * args.exact("standard_uncertainty_mil")
        return {"guard_mil": guard, "left_mil": args.exact("window_mil") - 2 * guard}
    if calc == "unit_average_uncertainty":
        a, b = args.count("location_count"), args.count("readings_per_location")
        square = args.exact("sigma_location_mil") ** 2 / a + args.exact("sigma_repeat_mil") ** 2 / (a * b)
        return {"uncertainty_mil": mpmath.sqrt(square)}
    if calc == "optimal_repeats":
        ratio = args.exact("sigma_repeat_mil") ** 2 * args.exact("cost_location")
        return {"repeats": mpmath.sqrt(ratio / (args.exact("sigma_location_mil") ** 2 * args.exact("cost_reading")))}
    return half_width(args)


if __name__ == "__main__":
    main("planning", compute)
