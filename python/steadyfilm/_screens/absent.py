"""Units that were painted and have no readings: listed, and compared by shift, gun or whatever the caller names."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

import numpy as np

from steadyfilm import _input
from steadyfilm._format import number
from steadyfilm._screens.pattern import Screened, Test
from steadyfilm._screens.sheet import Sheet, Words
from steadyfilm._screens.tails import hypergeometric
from steadyfilm._screens.words import DataFault

NAME = "units without readings"
_NUMBER = re.compile(r"^(.*?)(\d+)$", re.DOTALL)


def absent_units(sheet: Sheet, processed: Any, running_numbers: bool) -> tuple[Screened, tuple[DataFault, ...]]:
    """The units without readings as faults, and one test for each value of each group column."""
    if not sheet.names.serial:
        return Screened(NAME, why="needs the column of the unit"), ()
    if processed is not None:
        units, groups = _given(sheet, processed)
        how = "was painted and has no reading"
    elif running_numbers:
        units, groups = _running(sheet)
        how = "is a gap in the running numbers"
        if not units:
            return Screened(NAME, why="the serials do not end in a number that runs on"), ()
    else:
        return Screened(NAME, why="needs a list of the units processed, or running numbers"), ()
    read = set(sheet.serials)
    gone = [unit not in read for unit in units]
    column = " / ".join(sheet.names.serial)
    way_out = "measure the unit, or write why it was not read"
    faults = tuple(
        DataFault("unit without readings", (), column, unit, "", how, way_out, False)
        for unit, missing in zip(units, gone, strict=True)
        if missing
    )
    tests = []
    for name, of in groups.items():
        known = [k for k, word in enumerate(of) if word]
        levels = Counter(of[k] for k in known)
        if len(levels) < 2:
            continue
        marked = sum(gone[k] for k in known)
        for level, count in levels.items():
            missing = sum(gone[k] for k in known if of[k] == level)
            if not marked:
                continue
            chance = float(min(1.0, hypergeometric(len(known), marked, count)[missing:].sum()))
            expected = marked * count / len(known)
            tests.append(
                Test(
                    where=f"{name} {level}",
                    rows=np.empty(0, dtype=np.intp),
                    observed=missing,
                    expected=expected,
                    pvalue=chance,
                    sentence=(
                        f"units without readings gather at {name} {level}: {missing} of {marked} against "
                        f"{number(expected, 3)} expected for its {count} units"
                    ),
                    way_out="measure some of these units now",
                )
            )
    note = "" if tests else "none is missing" if not faults else "no group column to compare by"
    return Screened(NAME, tuple(tests), note=note), faults


def _given(sheet: Sheet, processed: Any) -> tuple[list[str], dict[str, list[str]]]:
    """Units processed, each once, and those group columns that the list has."""
    if not isinstance(processed, Mapping) and not hasattr(processed, "columns") and not hasattr(processed, "column_names"):
        words = _input.labels(processed, name="processed")
        return list(dict.fromkeys(str(word).strip() for word in words if word is not None)), {}
    table = _input.table(processed)
    parts = [_text(_input.labels(table.column(name), name=name)) for name in sheet.names.serial]
    first: dict[str, int] = {}
    for k, row in enumerate(zip(*parts, strict=True)):
        if all(row):
            first.setdefault(" / ".join(row), k)
    rows = list(first.values())
    groups = {}
    for name in sheet.names.groups:
        if name in table.columns:
            text = _text(_input.labels(table.column(name), name=name))
            groups[name] = [text[k] for k in rows]
    return list(first), groups


def _text(words: Words) -> list[str]:
    return ["" if word is None else str(word).strip() for word in words]


def _running(sheet: Sheet) -> tuple[list[str], dict[str, list[str]]]:
    """All numbers between the lowest and the highest of each prefix; a gap belongs to a group if both units around it do."""
    kinds: dict[tuple[str, int], dict[int, str]] = {}
    for serial in sheet.serials:
        if match := _NUMBER.match(serial):
            prefix, digits = match[1], match[2]
            kinds.setdefault((prefix, len(digits)), {})[int(digits)] = serial
    first_row = {int(code): i for i, code in reversed(list(enumerate(sheet.serial.tolist())))}
    row_of = {name: first_row[code] for code, name in enumerate(sheet.serials) if code in first_row}
    units: list[str] = []
    groups: dict[str, list[str]] = {name: [] for name in sheet.groups}
    for (prefix, width), present in kinds.items():
        low, high = min(present), max(present)
        # Numbers with more gaps than units do not run.
        if len(present) < 2 or high - low + 1 > 2 * len(present):
            continue
        numbers = sorted(present)
        for before, after in zip(numbers, [*numbers[1:], numbers[-1]], strict=True):
            for n in range(before, max(after, before + 1)):
                units.append(present.get(n, f"{prefix}{n:0{width}d}"))
                for name, words in sheet.groups.items():
                    a, b = words[row_of[present[before]]], words[row_of[present[after]]]
                    groups[name].append(str(a) if n == before or a == b else "")
    return units, groups
