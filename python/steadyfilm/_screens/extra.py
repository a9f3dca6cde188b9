"""Places that were read more often than planned, if that goes with a low first reading."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm._screens.pattern import Screened, Test
from steadyfilm._screens.sheet import Codes, Sheet
from steadyfilm._screens.tails import hypergeometric
from steadyfilm.limits import SpecLimits

NAME = "extra readings at low places"


@dataclass(frozen=True)
class _Spot:
    """First reading of one place of one unit, and whether more were taken than planned."""

    unit: int
    stratum: tuple[int, int]
    first: int
    value: float
    rows: Codes
    extra: bool


def extra_readings(sheet: Sheet, rows: Codes, limits: Mapping[str, SpecLimits], planned: int | None) -> Screened:
    """One test over all places, and one for each value of each group column."""
    if not sheet.names.serial or not sheet.names.location:
        return Screened(NAME, why="needs the columns of the unit and of the location")
    spots = _spots(sheet, rows[sheet.attempt[rows] == 1], planned)
    # A unit read more often everywhere was not picked for a low place.
    everywhere = {key for key, all_extra in _whole(spots).items() if all_extra}
    spots = [spot for spot in spots if (spot.unit, spot.stratum[0]) not in everywhere]
    if not any(spot.extra for spot in spots):
        return Screened(NAME, note="no place was read more often than planned")
    low = _low(sheet, spots, limits)
    tests = [_test(spots, low, "all readings")]
    for name, words in sheet.groups.items():
        levels = [word for word in dict.fromkeys(words[[spot.first for spot in spots]]) if word]
        for level in levels if len(levels) > 1 else ():
            inside = [k for k, spot in enumerate(spots) if words[spot.first] == level]
            if any(spots[k].extra for k in inside):
                tests.append(_test([spots[k] for k in inside], [low[k] for k in inside], f"{name} {level}"))
    return Screened(NAME, tuple(tests))


def _spots(sheet: Sheet, rows: Codes, planned: int | None) -> list[_Spot]:
    places: dict[tuple[int, int, int], list[int]] = {}
    for i in rows.tolist():
        places.setdefault((int(sheet.serial[i]), int(sheet.layer[i]), int(sheet.place[i])), []).append(i)
    usual: dict[int, int] = {}
    for layer in range(len(sheet.layers)):
        counts = Counter(len(at) for key, at in places.items() if key[1] == layer)
        usual[layer] = planned if planned is not None else counts.most_common(1)[0][0] if counts else 0
    return [
        _Spot(u, (layer, place), at[0], float(sheet.value[at[0]]), np.array(at), len(at) > usual[layer])
        for (u, layer, place), at in places.items()
    ]


def _whole(spots: Sequence[_Spot]) -> dict[tuple[int, int], bool]:
    """Whether all of several places of a unit and layer have extra readings."""
    found: dict[tuple[int, int], list[bool]] = {}
    for spot in spots:
        found.setdefault((spot.unit, spot.stratum[0]), []).append(spot.extra)
    return {key: len(flags) > 1 and all(flags) for key, flags in found.items()}


def _low(sheet: Sheet, spots: Sequence[_Spot], limits: Mapping[str, SpecLimits]) -> list[bool]:
    """Below the lower limit where that parts the first readings of a place; else in their lowest quarter."""
    border: dict[tuple[int, int], float] = {}
    for stratum in {spot.stratum for spot in spots}:
        values = np.array([spot.value for spot in spots if spot.stratum == stratum])
        window = limits.get(sheet.layers[stratum[0]])
        limit = window.lower if window is not None else None
        parts = limit is not None and 0.02 <= float(np.mean(values < limit)) <= 0.6
        border[stratum] = float(limit) if parts and limit is not None else float(np.quantile(values, 0.25))
    return [spot.value < border[spot.stratum] for spot in spots]


def _test(spots: Sequence[_Spot], low: Sequence[bool], where: str) -> Test:
    """Given how many places of each kind are low and how many have extra readings, which ones is chance: hypergeometric."""
    strata: dict[tuple[int, int], list[tuple[bool, bool]]] = {}
    for spot, is_low in zip(spots, low, strict=True):
        strata.setdefault(spot.stratum, []).append((spot.extra, is_low))
    chances = np.ones(1)
    observed, expected, extras = 0, 0.0, 0
    for pairs in strata.values():
        drawn, marked = sum(extra for extra, _ in pairs), sum(is_low for _, is_low in pairs)
        observed += sum(extra and is_low for extra, is_low in pairs)
        expected += drawn * marked / len(pairs)
        extras += drawn
        chances = np.convolve(chances, hypergeometric(len(pairs), marked, drawn))
    rows = np.concatenate(
        [spot.rows for spot, is_low in zip(spots, low, strict=True) if spot.extra and is_low] or [np.empty(0, int)]
    )
    return Test(
        where=where,
        rows=np.sort(rows),
        observed=observed,
        expected=expected,
        pvalue=float(min(1.0, chances[observed:].sum())),
        sentence=(
            f"extra readings were taken where the first was low ({where}): of {plural(extras, 'place')} read more often "
            f"than planned {observed} began low against {number(expected, 3)} expected"
        ),
        way_out="judge these places by their planned readings, and write why one is read again",
    )
