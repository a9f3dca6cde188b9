"""Recompute the rows of film_coverage.csv marked `computed` at 30 digits, from volumes and masses in SI units.

Paint on a surface is a volume: solids that arrive there are area times film. Nothing here uses the trade's constants.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30

INCH = mpmath.mpf("0.0254")  # m
MIL = INCH / 1000
SQUARE_FOOT = (12 * INCH) ** 2
GALLON = 231 * INCH**3
POUND = mpmath.mpf("0.45359237")  # kg


def wet(args: Arguments) -> dict[str, object]:
    # A liter of paint takes up its thinner and keeps its solids.
    solids = args.exact("volume_solids") / (1 + args.exact("thinner_fraction"))
    film = mpmath.findroot(lambda w: w * solids - args.exact("dft_mil"), (1, 10))
    return {"volume_solids_thinned": solids, "wft_mil": film}


def spread(args: Arguments) -> dict[str, object]:
    film = args.exact("dft_mil") * MIL
    square_meters = args.exact("volume_solids") * GALLON / film
    rate = square_meters / SQUARE_FOOT
    liter = args.exact("volume_solids") * mpmath.mpf("0.001") / film
    practical = rate * args.exact("transfer_efficiency")
    return {"theoretical_ft2_gal": rate, "theoretical_m2_l": liter, "practical_ft2_gal": practical}


def mix(args: Arguments) -> dict[str, object]:
    parts, shares = ([mpmath.mpf(word) for word in args.column(name)] for name in ("parts", "volume_solids"))
    solids = mpmath.fsum(part * share for part, share in zip(parts, shares, strict=True))
    thinner = mpmath.fsum(parts) * args.exact("thinner_fraction")
    return {"volume_solids": solids / mpmath.fsum(parts), "volume_solids_thinned": solids / (mpmath.fsum(parts) + thinner)}


def change(args: Arguments) -> dict[str, object]:
    wet_film = args.exact("dft_mil") / args.exact("solids_from")
    dry = wet_film * args.exact("solids_to")
    return {"dft_mil": dry, "change_mil": dry - args.exact("dft_mil")}


def overbuild(args: Arguments) -> dict[str, object]:
    on_parts = args.exact("area_ft2") * SQUARE_FOOT * args.exact("overbuild_mil") * MIL
    gallons = on_parts / args.exact("transfer_efficiency") / args.exact("volume_solids") / GALLON
    return {"gallons": gallons, "cost": gallons * args.exact("price_per_gal")}


def powder(args: Arguments) -> dict[str, object]:
    volume = POUND / (1000 * args.exact("specific_gravity"))
    return {"coverage_ft2_lb": volume / (args.exact("thickness_mil") * MIL) / SQUARE_FOOT}


def thinner(args: Arguments) -> dict[str, object]:
    def over(gallons: mpmath.mpf) -> mpmath.mpf:
        mass = args.exact("voc_lb") + gallons * args.exact("thinner_voc_lb_gal")
        return mass - args.exact("limit_lb_gal") * (args.exact("volume_gal") + gallons)

    return {"thinner_gal": mpmath.findroot(over, (0, args.exact("volume_gal")))}


def voc_per_solids(args: Arguments) -> dict[str, object]:
    # In one gallon of paint: what is no solvent is solids.
    solvent = args.exact("voc_lb_gal") / args.exact("density_lb_gal")
    return {"per_gallon_solids": args.exact("voc_lb_gal") / (1 - solvent)}


def mixed_voc(args: Arguments) -> dict[str, object]:
    parts, contents = ([mpmath.mpf(word) for word in args.column(name)] for name in ("parts", "voc"))
    return {"voc": mpmath.fsum(p * c for p, c in zip(parts, contents, strict=True)) / mpmath.fsum(parts)}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "aim_point":
        return {"target_mil": args.exact("lower_mil") + args.exact("z") * args.exact("sigma_mil")}
    if calc == "wet_step_as_dry":
        return {"step_dry_mil": args.exact("step_mil") * args.exact("volume_solids")}
    computations = {
        "wet_film_target": wet,
        "spreading_rate": spread,
        "mixed_volume_solids": mix,
        "dft_after_solids_change": change,
        "overbuild_cost": overbuild,
        "powder_coverage": powder,
        "thinner_allowance": thinner,
        "voc_per_solids": voc_per_solids,
        "mixed_voc": mixed_voc,
    }
    return computations[calc](args)


if __name__ == "__main__":
    main("film_coverage", compute, misprinted=("mixed_voc",))
