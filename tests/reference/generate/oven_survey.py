"""Recompute the rows of oven_survey.csv marked `computed` at 30 digits: the ratio of two Arrhenius factors."""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc != "dose_ratio":
        raise ValueError(calc)
    energy = 1000 * args.exact("activation_energy_kj") / mpmath.mpf("8.314462618")
    target = args.exact("target_c") + mpmath.mpf("273.15")

    def ratio(shift: mpmath.mpf) -> mpmath.mpf:
        return mpmath.exp(-energy / (target + shift)) / mpmath.exp(-energy / target)

    return {"low": ratio(-args.exact("tolerance_k")), "high": ratio(args.exact("tolerance_k"))}


if __name__ == "__main__":
    main("oven_survey", compute)
