"""Recompute the rows of film_layers.csv marked `computed` at 30 digits.

A derived layer by the matrix rule for independent inputs: every true layer at every place and every mean error is one input
with its variance, a layer is a row of coefficients, and a covariance is the sum over inputs of coefficient times coefficient
times variance.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def derived(args: Arguments) -> dict[str, object]:
    repeat = args.exact("sigma_repeat_mil") ** 2
    variances = {
        "primer here": args.exact("sigma_primer_location_mil") ** 2,
        "primer there": args.exact("sigma_primer_location_mil") ** 2,
        "topcoat": args.exact("sigma_topcoat_location_mil") ** 2,
        "error of primer": repeat / args.count("readings_primer"),
        "error of total": repeat / args.count("readings_total"),
    }
    place = "primer here" if args.count("same_spot") else "primer there"
    primer = {"primer here": 1, "error of primer": 1}
    total = {place: 1, "topcoat": 1, "error of total": 1}
    topcoat = {name: total.get(name, 0) - primer.get(name, 0) for name in variances}
    # The error is what is left after the topcoat where the total was read.
    error = {**topcoat, "topcoat": 0}

    def covariance(one: dict[str, int], two: dict[str, int]) -> mpmath.mpf:
        return mpmath.fsum(one.get(name, 0) * two.get(name, 0) * variance for name, variance in variances.items())

    spread = mpmath.sqrt(covariance(primer, primer) * covariance(topcoat, topcoat))
    return {
        "uncertainty_mil": mpmath.sqrt(covariance(error, error) / args.count("locations")),
        "correlation": covariance(primer, topcoat) / spread,
    }


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "derived_layer_uncertainty":
        return derived(args)
    if calc == "gain_error":
        return {"error_mil": args.exact("gain") * args.exact("topcoat_mil")}
    if calc == "equal_layer_half_width":
        return {"half_width_mil": args.exact("total_half_width_mil") / mpmath.sqrt(args.count("layer_count"))}
    centers = [mpmath.mpf(text) for text in args.column("centers_mil")]
    halves = [mpmath.mpf(text) for text in args.column("half_widths_mil")]
    rss = mpmath.sqrt(mpmath.fsum(half**2 for half in halves))
    return {
        "rss_lower_mil": mpmath.fsum(centers) - rss,
        "rss_upper_mil": mpmath.fsum(centers) + rss,
        "worst_lower_mil": mpmath.fsum(centers) - mpmath.fsum(halves),
        "worst_upper_mil": mpmath.fsum(centers) + mpmath.fsum(halves),
    }


if __name__ == "__main__":
    main("film_layers", compute)
