"""Recompute the rows of chart_ewma.csv marked `computed`, at 30 digits, by the recursion as it is written (mpmath).

Run it with `python tests/reference/generate/chart_ewma.py`: it prints each row with its recomputed figure.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc != "ewma_limits":
        raise ValueError(calc)
    smoothing, center = args.exact("smoothing"), args.exact("center")
    varying = args.word("limits") == "time_varying"
    end = args.exact("sigma_multiple") * args.exact("sigma_point") * mpmath.sqrt(smoothing / (2 - smoothing))
    ewma, upper, level = [], [], center
    for i, text in enumerate(args.column("values"), start=1):
        level = smoothing * mpmath.mpf(text) + (1 - smoothing) * level
        ewma.append(level)
        upper.append(center + end * (mpmath.sqrt(1 - (1 - smoothing) ** (2 * i)) if varying else 1))
    return {
        "ewma": ewma,
        "upper": upper if varying else center + end,
        "lower": center - end,
        "signals": [i for i, (z, line) in enumerate(zip(ewma, upper, strict=True), start=1) if abs(z - center) > line - center],
    }


if __name__ == "__main__":
    main("chart_ewma", compute)
