"""Recompute the rows of monitor.csv: every window looked at anew, the EWMA by its recursion in exact fractions."""

from __future__ import annotations

import re
from fractions import Fraction

from common import Arguments, main


def length_of_pattern(rule: str, run: list[Fraction]) -> tuple[int, int]:
    """Length and side of the pattern that ends at the last point of ``run``; length 0 when the rule is not met."""
    words = re.fullmatch(r"(\d+)of(\d+)_beyond([\d.]+)_one", rule)
    if words:
        hits, window, zone = int(words[1]), int(words[2]), Fraction(words[3])
        side = 1 if run[-1] > 0 else -1
        back = [i for i, z in enumerate(reversed(run[-window:])) if side * z > zone]
        met = bool(back) and back[0] == 0 and len(back) >= hits
        return (back[-1] + 1, side) if met else (0, 0)
    steps = int(rule.removeprefix("trend"))
    for side in (1, -1):
        length = 1
        while length < len(run) and side * (run[-length] - run[-length - 1]) > 0:
            length += 1
        if length >= steps:
            return length, side
    return 0, 0


def compute(calc: str, args: Arguments) -> dict[str, object]:
    center, sigma = Fraction(args.word("center")), Fraction(args.word("sigma_point"))
    smoothing, multiple = Fraction(args.word("smoothing")), Fraction(args.word("ewma_multiple"))
    excluded = {int(text) for text in args.column("excluded")}
    rules = args.column("rules")
    found: dict[str, list[int]] = {"episodes": [], "lengths": [], "sides": []}
    run: list[Fraction] = []
    level, side_of_level, since = Fraction(0), 0, 0
    for number, text in enumerate(args.column("values"), start=1):
        since += since > 0
        if number in excluded:
            run = []
            continue
        run.append((Fraction(text) - center) / sigma)
        met = [pattern for rule in rules if (pattern := length_of_pattern(rule, run))[0]]
        if smoothing:
            level = smoothing * run[-1] + (1 - smoothing) * level
            side = (level > 0) - (level < 0)
            since = since if side == side_of_level and since else 1
            side_of_level = side
            # Squares compare without a root: |level| beyond multiple * sqrt(smoothing / (2 - smoothing)).
            if level**2 > multiple**2 * smoothing / (2 - smoothing):
                met.append((since, side))
        if met:
            sides = {side for _, side in met}
            found["episodes"].append(number)
            found["lengths"].append(max(length for length, _ in met))
            found["sides"].append(sides.pop() if len(sides) == 1 else 0)
            run, level, side_of_level, since = [], Fraction(0), 0, 0
    return dict(found)


if __name__ == "__main__":
    main("monitor", compute)
