"""Faults that a reading shows by itself or beside the others: wrong unit, impossible, entered twice, not there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits
from steadyfilm.units import LENGTH_UNITS, MICROMETERS_PER_MIL, unit_symbol

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

USUAL_SHARE = 0.8
"""A location that this share of the units has belongs to every unit; a unit without it is incomplete."""
GAP = 5.0
"""Readings of one layer with a gap of this ratio between them are two heaps; 25.4 apart, they are in two units."""
FAR_SIGMAS = 10.0
"""Robust standard deviations from the layer's median beyond which a value is listed as far off."""
MOST_FAR = 0.05
"""Share of a layer's readings up to which far values are faults."""


@dataclass(frozen=True)
class Implausible:
    """Why a value cannot be a reading of its layer: ``kind`` is ``impossible``, ``wrong unit`` or ``far off``."""

    kind: str
    reason: str


def in_working_unit(
    written: Floats, measure: Sequence[str] | None, *, wanted: str, written_in: str | None = None
) -> tuple[Floats, dict[int, str]]:
    """Values in the working unit, and the rows whose unit of measure is unknown, with the reason.

    ``wanted`` is ``"mil"`` or ``"um"``; without ``measure`` all rows are ``written_in``. Each value is rounded once.
    """
    wrong: dict[int, str] = {}
    kinds: dict[str, str] = {}
    given = []
    for i, text in enumerate(measure if measure is not None else [written_in or wanted] * len(written)):
        if text not in kinds:
            try:
                kinds[text] = unit_symbol(text, among=LENGTH_UNITS)
            except InvalidInputError:
                kinds[text] = ""
        if not kinds[text]:
            wrong[i] = f"unknown unit of measure '{text}'"
        given.append(kinds[text])
    other = np.array([kind not in ("", wanted) for kind in given], dtype=bool)
    scaled = written / MICROMETERS_PER_MIL if wanted == "mil" else written * MICROMETERS_PER_MIL
    return np.where(other, scaled, written), wrong


def implausible(
    value: Floats,
    layer: NDArray[np.object_],
    usable: NDArray[np.bool_],
    *,
    length: bool,
    plausible: tuple[float, float] | None = None,
    factor: float = 10.0,
    reference: Mapping[str, float] | None = None,
    source: str = "the plan's",
) -> dict[int, Implausible]:
    """What no gauge could have shown of its layer, by row.

    The median stands for the layer, so that up to half the rows may be wrong; ``reference`` gives a better known center.
    ``length`` says that values are lengths: zero and less are impossible then, and a value that would fit in the other
    unit says so.
    """
    found: dict[int, Implausible] = {}
    for name in dict.fromkeys(layer[usable]):
        rows = np.flatnonzero(usable & (layer == name))
        known = (reference or {}).get(name)
        center = float(np.median(value[rows])) if known is None else known
        word = "median" if known is None else "usual level"
        # Times away from the median means something for quantities that start at zero; of an unstated unit that is not known.
        ratio_scale = length or bool((value[rows] > 0).all())
        for i in rows.tolist():
            x = float(value[i])
            if plausible is not None:
                low, high = plausible
                outside, kind = not low <= x <= high, "impossible"
                reason = f"outside {source} plausible range {number(low)} to {number(high)}"
            elif length and x <= 0:
                outside, kind, reason = True, "impossible", "a thickness is above zero"
            else:
                outside, kind = ratio_scale and center > 0 and not center / factor <= x <= center * factor, "impossible"
                reason = f"more than {number(factor)} times away from the {word} {number(center, 3)} {_of(name)}"
            if outside:
                slip = _slip(x, center) if length and x > 0 and center > 0 else ""
                found[i] = Implausible("wrong unit" if slip else kind, reason + slip)
    return found


def usual_levels(
    value: Floats, layer: NDArray[np.object_], usable: NDArray[np.bool_], limits: Mapping[str, SpecLimits]
) -> dict[str, float]:
    """Center of each layer of lengths whose median misleads: its readings are two heaps 25.4 apart, or 25.4 off its window."""
    levels = {}
    for name in dict.fromkeys(layer[usable]):
        values = value[usable & (layer == name) & (value > 0)]
        if len(values) < 2:
            continue
        center = _larger_heap(values)
        window = limits.get(name)
        ends = [x for x in (window.lower, window.upper) if x is not None] if window else []
        if ends and all(x > 0 for x in ends):
            # The window cannot say how thick the film is, yet a factor of 25 it can.
            ratio = center / (sum(ends) / len(ends))
            for factor in (MICROMETERS_PER_MIL, 1.0 / MICROMETERS_PER_MIL):
                if 0.6 < ratio / factor < 1.6:
                    center /= factor
        if not 0.5 < center / float(np.median(values)) < 2.0:
            levels[name] = center
    return levels


def _larger_heap(values: Floats) -> float:
    ordered = np.sort(values)
    ratios = ordered[1:] / ordered[:-1]
    cut = int(np.argmax(ratios)) + 1
    low, high = float(np.median(ordered[:cut])), float(np.median(ordered[cut:]))
    if ratios[cut - 1] < GAP or not 0.6 < high / low / MICROMETERS_PER_MIL < 1.6:
        return float(np.median(values))
    return low if 2 * cut >= len(ordered) else high


def _of(name: str) -> str:
    return f"of '{name}'" if name else "of all readings"


def _slip(value: float, center: float) -> str:
    for wrong, word in ((value / MICROMETERS_PER_MIL, "um typed as mil"), (value * MICROMETERS_PER_MIL, "mil typed as um")):
        if 0.5 < wrong / center < 2.0:
            return f"; {number(wrong, 3)} would fit: {word}?"
    return ""


def far_off(
    value: Floats,
    layer: NDArray[np.object_],
    usable: NDArray[np.bool_],
    step: Floats,
    *,
    reference: Mapping[str, float] | None = None,
) -> dict[int, str]:
    """Rows further from their layer's median than ``FAR_SIGMAS`` robust standard deviations (1.4826 times the median deviation).

    One display step, ``step`` of each row, is the least spread assumed. Layers with fewer than eight readings are left alone, and
    so are values of which there are many: those are another kind of unit.
    """
    found: dict[int, str] = {}
    for name in dict.fromkeys(layer[usable]):
        rows = np.flatnonzero(usable & (layer == name))
        if len(rows) < 8:
            continue
        center = (reference or {}).get(name, float(np.median(value[rows])))
        spread = 1.4826 * float(np.median(np.abs(value[rows] - np.median(value[rows]))))
        least = np.maximum(np.maximum(step[rows], spread), 1e-9 * abs(center))
        distance = (value[rows] - center) / least
        out = np.abs(distance) > FAR_SIGMAS
        if int(out.sum()) > max(1.0, MOST_FAR * len(rows)):
            continue
        for i, sigma, away in zip(rows[out].tolist(), least[out].tolist(), distance[out].tolist(), strict=True):
            reason = f"{number(abs(away), 3)} robust standard deviations from the median {number(center, 3)} {_of(name)}"
            for times in (0.1, 10.0):
                if abs(float(value[i]) * times - center) <= 4.0 * sigma:
                    reason += f"; {number(float(value[i]) * times, 3)} would fit: decimal sign slipped?"
            found[i] = reason
    return found


def entered_before(keys: Iterable[Hashable]) -> dict[int, int]:
    """Rows whose key was there before, each with the first row that had it."""
    seen: dict[Hashable, int] = {}
    return {i: first for i, key in enumerate(keys) if (first := seen.setdefault(key, i)) != i}


@dataclass(frozen=True)
class ShortPlace:
    """A place of a unit with fewer readings than its layer usually has."""

    unit: int
    layer: int
    place: int
    count: int
    usual: int


def short_places(
    unit: Codes, layer: Codes, place: Codes, *, planned: int | None = None, all_places: bool = False
) -> tuple[ShortPlace, ...]:
    """Places short of readings, in the order of their first reading.

    With ``all_places`` also those usual places of a unit that have none at all.
    """
    found = []
    for code in range(int(layer.max(initial=-1)) + 1):
        at = np.flatnonzero(layer == code)
        if not len(at):
            continue
        places = Counter(zip(unit[at].tolist(), place[at].tolist(), strict=True))
        usual = planned if planned is not None else Counter(places.values()).most_common(1)[0][0]
        found += [ShortPlace(u, code, p, count, usual) for (u, p), count in places.items() if count < usual]
        if all_places:
            units = dict.fromkeys(u for u, _ in places)
            share = Counter(p for _, p in places)
            wanted = [p for p, count in share.items() if count >= USUAL_SHARE * len(units)]
            found += [ShortPlace(u, code, p, 0, usual) for u in units for p in wanted if (u, p) not in places]
    return tuple(found)
