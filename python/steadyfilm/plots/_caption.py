"""What a chart says of itself: how often a steady process would look like this by chance."""

from __future__ import annotations

from collections.abc import Sequence

from steadyfilm._format import number, plural
from steadyfilm.run_rules import pattern_probability

__all__ = ["chance_words"]


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
        chance = number(100 * (1 - steady), 2)
        text = (
            f"Limits from the same {plural(count, point)}: a stable set this long has a {chance} % chance of a point beyond them"
        )
        others = f"; its run patterns add about {number(_patterns(known, count), 2)} signals" if len(known) > len(single) else ""
        return f"{text}{others} (independent normal points, limits taken as exact).{more}"
    return (
        f"A steady process gives about {number(expected, 2)} false signals in {plural(count, point)} "
        f"(independent normal points, limits taken as exact).{more}"
    )


def _reach(word: str) -> int:
    """How many points a rule looks at."""
    if "of" in word:
        return int(word.partition("of")[2].partition("_")[0])
    return int("".join(letter for letter in word if letter.isdigit()))


def _patterns(known: Sequence[tuple[str, int]], count: int) -> float:
    return sum(pattern_probability(word) * max(0, count - reach + 1) for word, reach in known if reach > 1)
