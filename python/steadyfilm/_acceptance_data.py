"""Readings of a table in the order of acceptance: by unit, area and spot, with what was measured kept beside what is judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._input import labels, readings, table
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import LENGTH_UNITS, convert_length, unit_symbol

__all__ = ["FilmTable", "Groups", "film_table", "group"]

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Texts = NDArray[np.object_]

_FLAGS = {"true", "false", "yes", "no", "0", "1", "x"}


@dataclass(frozen=True)
class FilmTable:
    """Readings, sorted by unit, area and spot in the order in which each first appears; one element a reading.

    ``rows`` counts the caller's rows from 1; ``measured`` and ``measured_unit`` are as they were written down, ``values`` what is
    judged: in one unit, any correction taken off. ``discarded`` and ``suspect`` hold reasons, "" for none.
    """

    values: Floats
    measured: Floats
    measured_unit: Texts
    rows: Codes
    unit: Texts
    area: Texts
    spot: Texts
    discarded: Texts
    discarded_by: Texts
    suspect: Texts
    converted: int
    missing_rows: tuple[int, ...]
    frame: str


@dataclass(frozen=True)
class Groups:
    """Starts of spots, areas and units, as the core wants them, and their names."""

    spot_start: Codes
    spot_taken: Codes
    """Readings of each spot, those left out among them."""
    area_start: Codes
    unit_start: Codes
    unit: Texts
    area: Texts
    """One element an area."""
    area_unit: Codes
    spot: Texts
    """One element a spot."""
    spot_area: Codes


def film_table(
    data: Any,
    value: str,
    *,
    unit: str,
    body: Sequence[str],
    area: str | None,
    spot: Sequence[str],
    unit_of_measure: str | None,
    discarded: str | None,
    discarded_by: str | None,
    suspect: str | None,
    correction: float,
    missing: str,
) -> FilmTable:
    """Read the columns, refuse what cannot be used, and sort.

    Without ``body`` all readings are of one unit, without ``area`` a unit is one area, without ``spot`` a reading is a spot.
    """
    whole = table(data)
    given = readings(whole, value, missing=missing)
    if given.values.size == 0:
        raise InvalidInputError("there are no readings", argument="data")
    rows = given.rows
    problems: list[DataProblem] = []

    def words(columns: Sequence[str], otherwise: str) -> Texts:
        found = []
        for name in columns:
            text = labels(whole, name)[rows]
            absent = [int(row) + 1 for row, x in zip(rows, text, strict=True) if not x]
            problems.extend(DataProblem(name, row, "", "label is missing") for row in absent)
            found.append(text)
        if not found:
            return np.full(rows.size, otherwise, dtype=object)
        if len(found) == 1:
            return found[0]
        return np.array([" / ".join(map(str, parts)) for parts in zip(*found, strict=True)], dtype=object)

    unit_words = words(body, "all readings")
    area_words = words([area] if area else [], "whole unit")
    spot_words = words(spot, "")
    if not spot:
        spot_words = np.array([f"reading {row + 1}" for row in rows], dtype=object)
    units_of_rows = words([unit_of_measure] if unit_of_measure else [], unit)
    problems += [
        DataProblem(value, int(row) + 1, f"{x:g}", "is no thickness: it must be above 0")
        for row, x in zip(rows, given.values, strict=True)
        if not x > 0.0
    ]
    factor: dict[str, float] = {}
    for text in dict.fromkeys(units_of_rows.tolist()):
        if not text:
            continue
        try:
            factor[text] = convert_length(1.0, given=unit_symbol(text, among=LENGTH_UNITS), wanted=unit)
        except InvalidInputError as error:
            row = int(rows[np.flatnonzero(units_of_rows == text)[0]])
            problems.append(DataProblem(unit_of_measure or "unit", row + 1, repr(text), str(error)))
    reasons = {name: _reasons(whole, column, rows, problems) for name, column in (("discarded", discarded), ("suspect", suspect))}
    by = labels(whole, discarded_by)[rows] if discarded_by else np.full(rows.size, "", dtype=object)
    if problems:
        raise DataProblemsError(sorted(problems, key=lambda item: item.row), advice="Each reading needs to say where it belongs.")
    wanted = unit_symbol(unit, among=LENGTH_UNITS)
    values = np.array(
        [
            convert_length(x, given=unit_symbol(text, among=LENGTH_UNITS), wanted=wanted) - correction
            for x, text in zip(given.values.tolist(), units_of_rows.tolist(), strict=True)
        ]
    )
    thin = [
        DataProblem(value, int(row) + 1, f"{x:g}", "is not above the roughness correction")
        for row, x, left in zip(rows, given.values, values, strict=True)
        if not left > 0.0
    ]
    if thin:
        raise DataProblemsError(thin, advice="Check the unit of the readings and of the correction.")
    keys = [_codes(unit_words), _codes(area_words, unit_words), _codes(spot_words, area_words, unit_words)]
    order = np.lexsort((np.arange(rows.size), keys[2], keys[1], keys[0]))
    return FilmTable(
        values=np.ascontiguousarray(values[order]),
        measured=given.values[order],
        measured_unit=units_of_rows[order],
        rows=(rows[order] + 1).astype(np.int64),
        unit=unit_words[order],
        area=area_words[order],
        spot=spot_words[order],
        discarded=reasons["discarded"][order],
        discarded_by=np.array([x or "" for x in by[order]], dtype=object),
        suspect=reasons["suspect"][order],
        converted=int(sum(unit_symbol(text, among=LENGTH_UNITS) != wanted for text in units_of_rows)),
        missing_rows=given.missing_rows,
        frame=given.frame,
    )


def _reasons(whole: Any, column: str | None, rows: Any, problems: list[DataProblem]) -> Texts:
    """Texts of a column of reasons; a bare yes or no is none."""
    if column is None:
        return np.full(len(rows), "", dtype=object)
    text = [(x or "").strip() for x in labels(whole, column)[rows]]
    problems += [
        DataProblem(column, int(row) + 1, repr(x), "says no reason; write it out, or leave the cell empty")
        for row, x in zip(rows, text, strict=True)
        if x.lower() in _FLAGS
    ]
    return np.array(text, dtype=object)


def _codes(*words: Texts) -> Codes:
    """Numbers of the groups of equal words, in order of first appearance."""
    known: dict[tuple[Any, ...], int] = {}
    return np.array([known.setdefault(key, len(known)) for key in zip(*words, strict=True)], dtype=np.int64)


def group(found: FilmTable, keep: NDArray[np.bool_], *, empty_spots: bool) -> Groups:
    """Spots, areas and units with the readings that are kept.

    ``empty_spots``: a spot that lost all its readings stays, without any; else, as for readings that stand for themselves, it
    goes.
    """
    unit, area, spot = _codes(found.unit), _codes(found.area, found.unit), _codes(found.spot, found.area, found.unit)
    # Sorted by unit, area and spot: a group ends where its number changes.
    firsts = [np.flatnonzero(np.diff(codes, prepend=-1)) for codes in (unit, area, spot)]
    kept = np.concatenate([[0], np.cumsum(keep)])
    taken = np.diff(np.append(firsts[2], spot.size))
    if not empty_spots:
        there = np.append(kept[firsts[2]][1:], kept[-1]) > kept[firsts[2]]
        firsts[2], taken = firsts[2][there], taken[there]
    spot_start = np.append(kept[firsts[2]], kept[-1])
    area_start = np.searchsorted(firsts[2], np.append(firsts[1], spot.size))
    unit_start = np.searchsorted(firsts[1], np.append(firsts[0], spot.size))
    return Groups(
        spot_start=spot_start.astype(np.int64),
        spot_taken=taken.astype(np.int64),
        area_start=area_start.astype(np.int64),
        unit_start=unit_start.astype(np.int64),
        unit=found.unit[firsts[0]],
        area=found.area[firsts[1]],
        area_unit=(np.searchsorted(firsts[0], firsts[1], side="right") - 1).astype(np.int64),
        spot=found.spot[firsts[2]],
        spot_area=(np.searchsorted(firsts[1], firsts[2], side="right") - 1).astype(np.int64),
    )
