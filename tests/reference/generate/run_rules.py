"""Recompute the rows of run_rules.csv: every window looked at anew in exact fractions, chances by counting orders."""

from __future__ import annotations

import itertools
import re
from fractions import Fraction
from math import factorial

import mpmath
from common import Arguments, main

mpmath.mp.dps = 30


def up_down_orders(points: int) -> int:
    """Orders of ``points`` different numbers that rise first and then turn at each step.

    Counted by the rank of the last point among those so far: each turn sums over the ranks that lie on the other side.
    """
    ranks = [1]
    for size in range(2, points + 1):
        rising = size % 2 == 0
        ranks = [sum(ranks[:r]) if rising else sum(ranks[r:]) for r in range(size)]
    return sum(ranks)


def met(rule: str, z: list[Fraction], last_point_beyond: bool) -> bool:
    """Whether the rule is met at the last point."""
    words = re.fullmatch(r"(\d+)of(\d+)_(beyond|within)([\d.]+)_(one|either)", rule)
    if words:
        hits, window, zone = int(words[1]), z[-int(words[2]) :], Fraction(words[4])
        sides = {
            "beyond one": [[x > zone for x in window], [-x > zone for x in window]],
            "beyond either": [[abs(x) > zone for x in window]],
            "within either": [[abs(x) <= zone for x in window]],
        }[f"{words[3]} {words[5]}"]
        return any(sum(side) >= hits and (side[-1] or not last_point_beyond) for side in sides)
    kind, count = re.fullmatch(r"(trend|alternating)(\d+)", rule).groups()  # type: ignore[union-attr]  # no other word occurs
    window = z[-int(count) :]
    steps = [b - a for a, b in itertools.pairwise(window)]
    turns = [a * b for a, b in itertools.pairwise(steps)]
    return len(window) == int(count) and all(turn > 0 if kind == "trend" else turn < 0 for turn in turns)


def compute(calc: str, args: Arguments) -> dict[str, object]:
    if calc == "pattern_probability":
        kind, count = re.fullmatch(r"(trend|alternating)(\d+)", args.word("rule")).groups()  # type: ignore[union-attr]  # no other word occurs
        orders = 2 if kind == "trend" else 2 * up_down_orders(int(count))
        return {"probability": mpmath.mpf(orders) / factorial(int(count))}
    center, sigma = Fraction(args.word("center")), Fraction(args.word("sigma_point"))
    z = [(Fraction(text) - center) / sigma for text in args.column("values")]
    rules, strict = args.column("rules"), args.word("last_point_beyond") == "1"
    return {"signals": [t for t in range(1, len(z) + 1) if any(met(rule, z[:t], strict) for rule in rules)]}


if __name__ == "__main__":
    main("run_rules", compute)
