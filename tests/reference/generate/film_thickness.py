"""Recompute the rows of film_thickness.csv marked `computed`: verdicts by exact fractions, probabilities with mpmath.

The rules are written out here a second time, each as the trade words it, and share no code with the library.
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30

# Spot from, spot to, area to, as shares of the window's ends; None is free. Area from: the lower end itself.
LEVELS = {
    1: (Fraction(1), Fraction(1), Fraction(1)),
    2: (Fraction(1), Fraction(6, 5), Fraction(1)),
    3: (Fraction(4, 5), Fraction(6, 5), Fraction(1)),
    4: (Fraction(4, 5), Fraction(3, 2), Fraction(1)),
    5: (Fraction(4, 5), None, None),
}


def fractions(args: Arguments, name: str) -> list[Fraction]:
    return [Fraction(text) for text in args.column(name)]


def word(passes: bool) -> str:
    return "pass" if passes else "fail"


def level_verdict(level: int, spots: list[Fraction], lower: Fraction, upper: Fraction) -> str:
    least, most, area_most = LEVELS[level]
    average = sum(spots) / len(spots)
    return word(
        all(spot >= least * lower for spot in spots)
        and (most is None or all(spot <= most * upper for spot in spots))
        and average >= lower
        and (area_most is None or average <= area_most * upper)
    )


def areas(surface: Fraction, small: int) -> int:
    """``small`` is 100 ft2 or 10 m2: one each to three of them, three to ten of them, then one for each ten or part."""
    if surface <= 3 * small:
        return max(1, ceil(surface / small))
    if surface <= 10 * small:
        return 3
    return 3 + ceil((surface - 10 * small) / (10 * small))


def rough_steel(args: Arguments) -> str:
    nominal = Fraction(args.word("nominal_um"))
    if nominal < 40:
        return "out of scope"
    readings = [reading - Fraction(args.word("correction_um")) for reading in fractions(args, "readings_um")]
    thin = Fraction(sum(reading < nominal for reading in readings), len(readings))
    enough = thin < Fraction(1, 5) if args.word("share_rule") == "below" else thin <= Fraction(1, 5)
    most = Fraction(args.word("max_factor")) * nominal if "max_factor" in args else None
    return word(
        sum(readings) / len(readings) >= nominal
        and min(readings) >= Fraction(4, 5) * nominal
        and enough
        and (most is None or max(readings) <= most)
    )


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "area_count":
        if "surface_ft2" in args:
            return {"areas": areas(Fraction(args.word("surface_ft2")), 100)}
        return {"areas": areas(Fraction(args.word("surface_m2")), 10)}
    if calc == "area_verdict":
        spots = fractions(args, "spots_mil")
        lower, upper = Fraction(args.word("lower_mil")), Fraction(args.word("upper_mil"))
        average = sum(spots) / len(spots)
        return {
            "area_mean_mil": mpmath.mpf(average.numerator) / average.denominator,
            "verdict": [level_verdict(level, spots, lower, upper) for level in LEVELS],
        }
    if calc == "limit_met":
        readings = fractions(args, "readings")
        limit = Fraction(args.word("limit_factor")) * Fraction(args.word("limit_base"))
        average = sum(readings) / len(readings)
        return {"verdict": word(average >= limit if args.word("side") == "lower" else average <= limit)}
    if calc == "rough_steel_verdict":
        return {"verdict": rough_steel(args)}
    if calc == "ninety_ten_verdict":
        readings, nominal = fractions(args, "readings_um"), Fraction(args.word("nominal_um"))
        good = Fraction(sum(reading >= nominal for reading in readings), len(readings))
        return {"verdict": word(good >= Fraction(9, 10) and min(readings) >= Fraction(9, 10) * nominal)}
    if calc == "spot_mean":
        dropped = {int(text) for text in args.column("dropped")}
        kept = [reading for i, reading in enumerate(fractions(args, "readings_mil"), 1) if i not in dropped]
        average = sum(kept) / len(kept)
        return {"spot_mil": mpmath.mpf(average.numerator) / average.denominator}
    if calc == "single_value_range":
        nominal = args.exact("nominal_mil")
        least, most, _ = LEVELS[args.count("level")]
        lower, upper = nominal * mpmath.mpf("0.8"), nominal * mpmath.mpf("1.2")
        return {
            "lower_mil": lower,
            "upper_mil": upper,
            "spot_lower_mil": lower * least.numerator / least.denominator,
            "spot_upper_mil": upper * most.numerator / most.denominator,
        }
    if calc == "below_share_probability":
        mean = args.exact("mean_ratio")
        one = mpmath.ncdf((args.exact("fraction") - mean) / (args.exact("cv") * mean))
        return {"probability": one, "percent": 100 * (1 - (1 - one) ** args.count("reading_count"))}
    places, repeats = args.count("location_count"), args.count("readings_per_location")
    error = mpmath.sqrt(args.exact("sigma_location_mil") ** 2 / places + args.exact("sigma_repeat_mil") ** 2 / (places * repeats))
    return {"percent": 100 * mpmath.ncdf((args.exact("true_mean_mil") - args.exact("lower_mil")) / error)}


if __name__ == "__main__":
    main("film_thickness", compute)
