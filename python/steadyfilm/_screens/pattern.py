"""What the screens for patterns share: the pools of readings they look at, and how many tests they make in all."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from steadyfilm._screens.sheet import Codes, Grid, Sheet
from steadyfilm._screens.words import DataPattern, PileUp, ScreenRun

TINY = 1e-12
"""Chances below this are equally small."""
SECOND_GAUGE = "worth re-reading five units with a second gauge"


@dataclass(frozen=True)
class Test:
    """One test: its chance in honest readings, and the words for it."""

    where: str
    rows: Codes
    observed: float
    expected: float
    pvalue: float
    sentence: str
    way_out: str
    curve: PileUp | None = None


@dataclass(frozen=True)
class Screened:
    """All tests of one screen; with ``why`` it did not run."""

    screen: str
    tests: tuple[Test, ...] = ()
    why: str = ""
    note: str = ""


@dataclass(frozen=True)
class Pool:
    """Rows of one display grid that are looked at together."""

    where: str
    grid: Grid
    rows: Codes


def pools(sheet: Sheet, rows: Codes, grids: Sequence[Grid], grid: Codes, *, by_group: bool = True) -> list[Pool]:
    """Each display grid's rows, then those of each value of each group column in it, where a column has several."""
    found = []
    for code, of in enumerate(grids):
        own = rows[grid[rows] == code]
        if not len(own) or of.step <= 0.0:
            continue
        found.append(Pool(of.label, of, own))
        for name, words in sheet.groups.items() if by_group else ():
            levels = [word for word in dict.fromkeys(words[own]) if word]
            if len(levels) > 1:
                found += [Pool(f"{of.label}, {name} {level}", of, own[words[own] == level]) for level in levels]
    return found


def judged(screened: Sequence[Screened], false_flag_rate: float) -> tuple[tuple[DataPattern, ...], tuple[ScreenRun, ...]]:
    """Patterns told at this overall rate, smallest chance first, and how each screen went.

    Each screen that made a test has the same share of the rate, divided among its tests (Bonferroni), so that honest readings
    show anything at all with chance at most the rate, whatever the dependence between tests.
    """
    active = sum(bool(x.tests) for x in screened)
    patterns, runs = [], []
    for x in screened:
        told = []
        for test in x.tests:
            adjusted = min(1.0, test.pvalue * len(x.tests) * active)
            if adjusted <= false_flag_rate:
                told.append(
                    DataPattern(
                        screen=x.screen,
                        where=test.where,
                        observed=test.observed,
                        expected=test.expected,
                        pvalue=test.pvalue,
                        tests=len(x.tests) * active,
                        adjusted_pvalue=adjusted,
                        rows=tuple((test.rows + 1).tolist()),
                        sentence=test.sentence,
                        way_out=test.way_out,
                    )
                )
        patterns += _first_only(told)
        rate = false_flag_rate / active if x.tests else 0.0
        runs.append(ScreenRun(x.screen, not x.why, x.why or x.note, len(x.tests), len(told), rate))
    return tuple(sorted(patterns, key=lambda x: x.pvalue)), tuple(runs)


def strongest_curve(screened: Sequence[Screened], false_flag_rate: float) -> PileUp | None:
    """The curve of the test with the smallest chance, of those that have one."""
    active = sum(bool(x.tests) for x in screened)
    found = [(test.pvalue, k, test.curve, len(x.tests)) for x in screened for k, test in enumerate(x.tests) if test.curve]
    if not found:
        return None
    pvalue, _, curve, count = min(found, key=lambda x: x[:2])
    adjusted = min(1.0, pvalue * count * active)
    return dataclasses.replace(curve, adjusted_pvalue=adjusted, told=adjusted <= false_flag_rate)


def _first_only(told: list[DataPattern]) -> list[DataPattern]:
    """Of patterns that share most of their rows the strongest, or of equally strong ones the widest: one cause is told once."""
    kept: list[DataPattern] = []
    for pattern in sorted(told, key=lambda x: max(x.pvalue, TINY)):
        mine = set(pattern.rows)
        if not any(len(mine & set(other.rows)) > 0.5 * min(len(mine), len(other.rows)) for other in kept):
            kept.append(pattern)
    return kept
