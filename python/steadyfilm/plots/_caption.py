"""What a chart says of itself: how often a steady process would look like this by chance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.run_rules import pattern_probability

__all__ = ["chance_words", "ewma_run_length", "ewma_words"]


def chance_words(rules: Sequence[str], count: int, *, estimated: bool, point: str = "point", pairs: bool = False) -> str:
    """False-alarm statement of a location chart for independent normal points, with the limits taken as exact.

    ``estimated`` says that the limits come from the same points (phase 1): then only the chance that a stable set shows anything
    beyond the limits is meaningful. Otherwise the expected count of signals is given. ``pairs`` adds that the spread chart below
    comes on top.
    """
    known = [(word, _reach(word)) for word in rules]
    expected = sum(pattern_probability(word) * max(0, count - reach + 1) for word, reach in known)
    single = [word for word, reach in known if reach == 1]
    more = " The spread chart below adds its own." if pairs else ""
    if not known:
        return "No rule is applied to these points."
    if estimated:
        steady = 1.0
        for word in single:
            steady *= (1 - pattern_probability(word)) ** count
        chance = _two(100 * (1 - steady))
        text = (
            f"Limits from the same {plural(count, point)}: a stable set this long has a {chance} % chance of a point beyond them"
        )
        others = f"; its run patterns add about {_two(_patterns(known, count))} signals" if len(known) > len(single) else ""
        return f"{text}{others} (independent normal points, limits taken as exact).{more}"
    return (
        f"A steady process gives about {_two(expected)} false signals in {plural(count, point)} "
        f"(independent normal points, limits taken as exact).{more}"
    )


def ewma_words(smoothing: float, multiple: float, *, point: str = "point") -> str:
    """False-alarm statement of an EWMA chart for independent normal points, with center and sigma taken as exact."""
    length = ewma_run_length(smoothing, multiple)
    return (
        f"EWMA with smoothing {number(smoothing)} and limits at {number(multiple)} of its own sigma: of a steady process "
        f"it leaves them about once in {_two(length)} {point}s (independent normal points, limits taken as exact)."
    )


@cache
def ewma_run_length(smoothing: float, multiple: float, states: int = 151) -> float:
    """Mean number of points to the first false alarm of an EWMA that starts at the center, limits at their end value.

    Markov chain over equal cells between the limits: Brook and Evans, Biometrika 59 (1972) 539; Lucas and Saccucci, Technometrics
    32 (1990) 1.
    """
    reach = multiple * math.sqrt(smoothing / (2 - smoothing))
    half = reach / states
    cells = half * (2 * np.arange(states) - states + 1)
    to = (cells[None, :] + half - (1 - smoothing) * cells[:, None]) / smoothing
    upper = np.array([[0.5 * math.erfc(-z / math.sqrt(2)) for z in row] for row in to])
    first = np.array([0.5 * math.erfc(-z / math.sqrt(2)) for z in (-reach - (1 - smoothing) * cells) / smoothing])
    moves = np.diff(np.column_stack([first, upper]), axis=1)
    lengths = np.linalg.solve(np.eye(states) - moves, np.ones(states))
    return float(lengths[states // 2])


def _two(value: float) -> str:
    """Two digits; more would claim more than the assumptions hold."""
    return number(float(f"{value:.2g}"))


def _reach(word: str) -> int:
    """How many points a rule looks at."""
    if "of" in word:
        return int(word.partition("of")[2].partition("_")[0])
    return int("".join(letter for letter in word if letter.isdigit()))


def _patterns(known: Sequence[tuple[str, int]], count: int) -> float:
    return sum(pattern_probability(word) * max(0, count - reach + 1) for word, reach in known if reach > 1)
