"""Recompute the rows of wash_tank.csv marked `computed` at 30 digits, from balances of matter rather than closed formulas.

An addition is the root of the balance of what the tank holds; drag-out is many small losses in a row, extrapolated to no step; a
rinse is the level at which as much leaves as comes in.
"""

from __future__ import annotations

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def addition(args: Arguments) -> dict[str, object]:
    volume, start, aim = args.exact("tank_gal"), args.exact("from_percent") / 100, args.exact("to_percent") / 100
    # Old bath runs over, as much as is poured in.
    exact = mpmath.findroot(lambda v: (volume - v) * start + v - volume * aim, (0, volume))
    # The tank keeps its volume and loses nothing.
    simple = mpmath.findroot(lambda v: volume * start + v - volume * aim, (0, volume))
    return {"simple_gal": simple, "exact_gal": exact}


def drag_out(args: Arguments) -> dict[str, object]:
    share = args.exact("loss_gal_h") * args.exact("hours") / args.exact("tank_gal")
    left = [args.exact("start_percent") * (1 - share / n) ** n for n in (10**5, 2 * 10**5, 4 * 10**5)]
    once = [2 * left[1] - left[0], 2 * left[2] - left[1]]
    return {"percent": (4 * once[1] - once[0]) / 3}


def rinse(args: Arguments) -> dict[str, object]:
    drag, flow = args.exact("drag_gal_h"), args.exact("flow_gal_h")
    return {"percent": 100 * mpmath.findroot(lambda c: drag - (drag + flow) * c, (0, 1))}


def flow(args: Arguments) -> dict[str, object]:
    drag, share = args.exact("drag_gal_h"), args.exact("ratio_percent") / 100
    return {"flow_gal_h": mpmath.findroot(lambda f: drag - (drag + f) * share, (0, 1000 * drag))}


def weight(args: Arguments, milligrams: mpmath.mpf) -> dict[str, object]:
    square_inches = args.exact("width_in") * args.exact("length_in") * args.count("sides")
    square_meters = square_inches * mpmath.mpf("0.0254") ** 2
    return {"mg_ft2": milligrams / (square_inches / 144), "g_m2": milligrams / 1000 / square_meters}


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "coating_weight":
        return weight(args, args.exact("loss_mg"))
    if calc == "coating_weight_error":
        return weight(args, mpmath.sqrt(args.count("weighings") * args.exact("balance_mg") ** 2))
    computations = {
        "addition_volume": addition,
        "drag_out_concentration": drag_out,
        "rinse_ratio": rinse,
        "rinse_flow_for_ratio": flow,
    }
    return computations[calc](args)


if __name__ == "__main__":
    main("wash_tank", compute)
