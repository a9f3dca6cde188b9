"""Verdicts of acceptance in words: what a unit misses and by how much, what it lacks, and the sentence above the table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import beyond_text, number, plural, window_text
from steadyfilm.limits import SpecLimits

if TYPE_CHECKING:
    from steadyfilm._acceptance import Acceptance
    from steadyfilm._acceptance_data import FilmTable, Groups
    from steadyfilm._acceptance_rules import AcceptanceRule

__all__ = ["found_reasons", "names_text", "verdict_sentence"]

WHOLE = "whole unit"
"""The area of a unit that names none."""
MOST_REASONS = 4
MOST_NAMES = 5


def found_reasons(
    groups: Groups,
    found: Mapping[str, Any],
    given: FilmTable,
    kept: NDArray[np.bool_],
    rule: AcceptanceRule,
    window: SpecLimits,
    limits: Mapping[str, SpecLimits],
    needed: tuple[int, int],
    unit: str,
) -> NDArray[np.object_]:
    """What decided about each unit: what is outside first, else what is missing or suspect; "" for a pass."""
    values, names, suspect = given.values[kept], given.spot[kept], given.suspect[kept]
    starts = groups.spot_start
    out = []
    for u, verdict in enumerate(found["unit_verdict"]):
        areas = range(groups.unit_start[u], groups.unit_start[u + 1])
        spots = range(groups.area_start[areas.start], groups.area_start[areas.stop])
        first, last = starts[spots.start], starts[spots.stop]
        if verdict == 1:
            out.append("")
            continue
        if verdict == 0:
            enough = last - first >= needed[1]
            whole = {a: enough and _whole(groups, a, rule, suspect) for a in areas}
            words = [
                f"{_reading_name(names[i])}: {_miss(values[i], found['reading_side'][i], limits['reading_limits'], unit)}"
                for i in range(first, last)
                if found["reading_side"][i] and not suspect[i]
            ]
            words += [
                f"{_spot_name(groups, s)}: {_miss(found['spot_mean'][s], found['spot_side'][s], limits['spot_limits'], unit)}"
                for s in spots
                if found["spot_side"][s] and _sound(groups, s, rule, suspect)
            ]
            words += [
                f"mean of {_area_name(groups, a)} "
                f"{_miss(found['area_mean'][a], found['area_side'][a], limits['area_limits'], unit)}"
                for a in areas
                if found["area_side"][a] and whole[a]
            ]
            words += [_thin_words(groups, found, a, rule, window, unit) for a in areas if found["thin_exceeded"][a] and whole[a]]
            if found["unit_side"][u]:
                words.append(
                    f"mean of the unit {_miss(found['unit_mean'][u], found['unit_side'][u], limits['unit_limits'], unit)}"
                )
        else:
            words = _lacking(groups, u, rule, suspect, needed)
        more = f"; {len(words) - MOST_REASONS} more" if len(words) > MOST_REASONS else ""
        out.append("; ".join(words[:MOST_REASONS]) + more)
    return np.array(out, dtype=object)


def _spot_name(groups: Groups, spot: int) -> str:
    area, name = groups.area[groups.spot_area[spot]], _reading_name(groups.spot[spot])
    return name if area == WHOLE else f"{area}, {name}"


def _reading_name(name: str) -> str:
    """The name of a spot; a reading that stands for itself has one that says so."""
    return name if name.startswith(("reading ", "spot ")) else f"spot {name}"


def _area_name(groups: Groups, area: int) -> str:
    return "the unit" if groups.area[area] == WHOLE else str(groups.area[area])


def _sound(groups: Groups, spot: int, rule: AcceptanceRule, suspect: NDArray[np.object_]) -> bool:
    first, last = groups.spot_start[spot], groups.spot_start[spot + 1]
    return bool(first < last and groups.spot_taken[spot] >= rule.readings_per_spot) and not any(suspect[first:last])


def _whole(groups: Groups, area: int, rule: AcceptanceRule, suspect: NDArray[np.object_]) -> bool:
    spots = range(groups.area_start[area], groups.area_start[area + 1])
    return len(spots) >= rule.spots_per_area and all(_sound(groups, s, rule, suspect) for s in spots)


def _miss(value: float, side: int, limits: SpecLimits, unit: str) -> str:
    lower, upper = (limits.lower, None) if side < 0 else (None, limits.upper)
    limit = limits.lower if side < 0 else limits.upper
    return f"{beyond_text(float(value), lower, upper)} {'below' if side < 0 else 'above'} {number(float(limit or 0.0), 6)} {unit}"


def _thin_words(groups: Groups, found: Mapping[str, Any], area: int, rule: AcceptanceRule, window: SpecLimits, unit: str) -> str:
    count = int(groups.spot_start[groups.area_start[area + 1]] - groups.spot_start[groups.area_start[area]])
    thin = int(found["thin"][area])
    bound = "at most" if rule.thin_share_allowed else "less than"
    share, limit = number(100 * thin / count, 3), number(window.lower or 0.0, 6)
    allowed = number(100 * (rule.thin_share or 0.0))
    return f"{thin} of {plural(count, 'reading')} ({share} %) below {limit} {unit}, {bound} {allowed} % allowed"


def _lacking(groups: Groups, unit: int, rule: AcceptanceRule, suspect: NDArray[np.object_], needed: tuple[int, int]) -> list[str]:
    areas = range(groups.unit_start[unit], groups.unit_start[unit + 1])
    spots = range(groups.area_start[areas.start], groups.area_start[areas.stop])
    first, last = groups.spot_start[spots.start], groups.spot_start[spots.stop]
    words = []
    if len(areas) < needed[0]:
        words.append(f"{len(areas)} of {plural(needed[0], 'area')} that the surface needs")
    if last - first < needed[1]:
        words.append(f"{last - first} of {plural(needed[1], 'reading')} that the surface needs")
    for a in areas:
        count = int(groups.area_start[a + 1] - groups.area_start[a])
        if count < rule.spots_per_area:
            words.append(f"{_area_name(groups, a)}: {count} of {plural(rule.spots_per_area, 'spot')}")
    for s in spots:
        count = int(groups.spot_taken[s])
        if count < rule.readings_per_spot:
            words.append(f"{_spot_name(groups, s)}: {count} of {plural(rule.readings_per_spot, 'reading')}")
        elif groups.spot_start[s + 1] == groups.spot_start[s]:
            words.append(f"{_spot_name(groups, s)}: no reading left of {count}")
    doubted = [reason for reason in suspect[first:last] if reason]
    if doubted:
        words.append(f"{plural(len(doubted), 'suspect reading')}: {'; '.join(dict.fromkeys(doubted))}")
    return words


def names_text(names: list[str]) -> str:
    """The first few names, and how many more.

    >>> names_text(["A", "B"]), names_text(list("ABCDEFG"))
    ('A, B', 'A, B, C, D, E and 2 more')
    """
    more = len(names) - MOST_NAMES
    return ", ".join(names[:MOST_NAMES]) + (f" and {more} more" if more > 0 else "")


def verdict_sentence(found: Acceptance) -> str:
    """The verdict, the rule with its edition, the window, who fails and why if it is one."""
    window = window_text(found.window.lower, found.window.upper, found.made.unit)
    by = f"by {found.rule.title}, film {window}"
    if found.out_count:
        return f"Out of scope, no verdict: {found.reason[0]}."
    failed = [unit for unit, verdict in zip(found.units.tolist(), found.verdict, strict=True) if verdict == "fail"]
    opened = [unit for unit, verdict in zip(found.units.tolist(), found.verdict, strict=True) if verdict == "not demonstrated"]
    if found.unit_count == 1:
        word = {"pass": "Pass", "fail": "Fail", "not demonstrated": "Not demonstrated"}[found.verdict[0]]
        text = f"{word} {by}" + (f": {found.reason[0]}" if found.reason[0] else "")
    elif found.pass_count == found.unit_count:
        text = f"All {found.unit_count} units pass {by}"
    else:
        parts = [f"{len(failed)} fail{'s' if len(failed) == 1 else ''} ({names_text(failed)})"] if failed else []
        parts += [f"{len(opened)} are not demonstrated ({names_text(opened)})"] if len(opened) > 1 else []
        parts += [f"1 is not demonstrated ({opened[0]})"] if len(opened) == 1 else []
        text = f"{found.pass_count} of {found.unit_count} units pass {by}; {', '.join(parts)}"
    doubtful = int((found.guard_class == "doubtful").sum())
    if doubtful:
        text += f"; {plural(doubtful, 'verdict')} doubtful within the gauge's error"
    changed = [
        f"{unit} ({other})"
        for unit, verdict, other in zip(found.units.tolist(), found.verdict, found.verdict_all, strict=True)
        if verdict != other
    ]
    if changed:
        count = len(found.discarded)
        text += f"; with the {plural(count, 'discarded reading')} put back it would differ for {names_text(changed)}"
    return text + "."
