"""Run rules: patterns of plotted points that a steady process seldom shows.

A rule is a word that says what is seen: ``2of3_beyond2_one`` (2 of the last 3 points beyond 2 sigma on one side; also
``_either``, ``_above``, ``_below``), ``15of15_within1_either``, ``trend6`` (six points, five steps one way), ``alternating14``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._input import check_options
from steadyfilm.errors import InvalidInputError

__all__ = ["BEYOND_LIMITS", "NELSON", "WESTERN_ELECTRIC", "Signal", "find_signals", "pattern_points", "pattern_probability"]

#: One point beyond a limit at three sigma.
BEYOND_LIMITS: tuple[str, ...] = ("1of1_beyond3_one",)

#: The four zone tests of the Western Electric Statistical Quality Control Handbook (1956).
WESTERN_ELECTRIC: tuple[str, ...] = ("1of1_beyond3_one", "2of3_beyond2_one", "4of5_beyond1_one", "8of8_beyond0_one")

#: The eight tests of Nelson, Journal of Quality Technology 16 (1984) 237, in his order.
NELSON: tuple[str, ...] = (
    "1of1_beyond3_one",
    "9of9_beyond0_one",
    "trend6",
    "alternating14",
    "2of3_beyond2_one",
    "4of5_beyond1_one",
    "15of15_within1_either",
    "8of8_beyond1_either",
)

SIDES = {1: "above", -1: "below", 0: "both"}


@dataclass(frozen=True)
class Signal:
    """One rule met at one point.

    ``point`` counts from 0. ``side`` is ``"above"`` (or rising), ``"below"`` (or falling) or ``"both"``. ``length`` counts the
    points from the first that takes part in the pattern to this one.
    """

    point: int
    rule: str
    side: str
    length: int = 1


def describe(rule: str) -> str:
    """What a rule word says, in shop words; also the word of an EWMA, as ``monitor`` writes it.

    >>> describe("2of3_beyond2_one"), describe("trend6")
    ('2 of 3 points beyond 2 sigma on one side', '6 points in a row rising or falling')
    >>> describe("ewma0.2_beyond2.86")
    'weighted average (EWMA, smoothing 0.2) beyond 2.86 of its sigma'
    """
    if ewma := re.fullmatch(r"ewma([\d.]+)_beyond([\d.]+)", rule):
        return f"weighted average (EWMA, smoothing {ewma[1]}) beyond {ewma[2]} of its sigma"
    return _core.describe_rule(rule)


def find_signals(
    z: Any,
    *,
    rules: Sequence[str] | str,
    takes_part: Any = None,
    break_before: Any = None,
    clear_after_signal: bool = False,
    last_point_beyond: bool = True,
) -> tuple[Signal, ...]:
    """Every point of a series at which a rule is met.

    Parameters
    ----------
    z : sequence or array
        Standardized points in production order, (value - center) / sigma of each point. "Beyond" is strict; a point within 1e-9
        of a line is on it and belongs to the inner side, a point on the center breaks one-side runs, an equal neighbor
        breaks trends and alternations.
    rules : sequence of rule words
        For example ``WESTERN_ELECTRIC`` or ``("2of3_beyond2_one", "trend6")``.
    takes_part : sequence of bool, optional
        False for a missing or excluded point, which breaks every pattern; its z is not read.
    break_before : sequence of bool, optional
        True where a gap or a new period starts, which no pattern crosses.
    clear_after_signal : bool
        Forget all earlier points once any rule is met, as in counting episodes.
    last_point_beyond : bool
        k of m is met only at a point that is itself a hit (default), or at every point whose window holds k hits.

    Raises
    ------
    InvalidInputError
        A word that is no rule, lengths that differ, or a point that takes part and is not a number.

    Examples
    --------
    >>> find_signals([0.2, 2.4, -0.3, 2.1], rules=WESTERN_ELECTRIC)
    (Signal(point=3, rule='2of3_beyond2_one', side='above', length=3),)
    """
    check_options(find_signals, locals())
    words = [rules] if isinstance(rules, str) else list(rules)
    points = numbers(z, "z")
    found = _core.rule_signals(
        points,
        flags(takes_part, "takes_part", points.size),
        flags(break_before, "break_before", points.size),
        words,
        last_point_beyond=last_point_beyond,
        clear_after_signal=clear_after_signal,
    )
    return tuple(
        Signal(point, words[rule], SIDES[side], length)
        for point, rule, side, length in zip(
            found["point"].tolist(), found["rule"].tolist(), found["side"].tolist(), found["length"].tolist(), strict=True
        )
    )


def pattern_points(signal: Signal, z: Any) -> tuple[int, ...]:
    """The points that make up a signal's pattern, oldest first.

    >>> z = [0.2, 2.4, -0.3, 2.1]
    >>> pattern_points(find_signals(z, rules="2of3_beyond2_one")[0], z)
    (1, 3)
    """
    check_options(pattern_points, locals())
    side = next(number for number, name in SIDES.items() if name == signal.side)
    return tuple(_core.pattern_points(numbers(z, "z"), signal.rule, signal.point, side, signal.length))


def pattern_probability(rule: str) -> float:
    """Chance that as many given points of a steady process as the rule looks at meet it at the last of them.

    A trend or an alternation needs independent points with one continuous distribution of any shape; a counted pattern is for
    independent normal points.

    >>> round(pattern_probability("trend6") * 720, 12)
    2.0
    """
    check_options(pattern_probability, locals())
    return _core.pattern_probability(rule)


def numbers(values: Any, name: str) -> NDArray[np.float64]:
    """A one-dimensional contiguous, aligned float64 array."""
    array = np.require(values, np.float64, ["C_CONTIGUOUS", "ALIGNED"])
    if array.ndim != 1:
        raise InvalidInputError(f"{name} must have one dimension, got {array.ndim}", argument=name)
    return array


def flags(values: Any, name: str, count: int) -> NDArray[np.uint8]:
    """One yes or no a point as the core takes them; None is an empty array."""
    if values is None:
        return np.empty(0, dtype=np.uint8)
    array = np.asarray(values)
    if array.shape != (count,) or (count > 0 and array.dtype.kind not in "biu"):
        raise InvalidInputError(f"{name} must hold {count} times True or False, one a point", argument=name)
    return np.ascontiguousarray(array != 0, dtype=np.uint8)
