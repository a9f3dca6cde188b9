"""Readings of units at the same places as a grid: unit by location by repeat, incomplete units kept in place and empty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._balanced import coded, incomplete_units, label_words, usual
from steadyfilm._chart import flags
from steadyfilm._input import Column, labels, table, times
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["UnitGrid", "unit_grid"]


@dataclass(frozen=True)
class UnitGrid:
    """Values unit after unit in the order in which units first appear; NaN throughout an incomplete unit.

    ``first_rows`` holds the first row of each unit, ``unit_of_row`` the unit of each row.
    """

    values: NDArray[np.float64]
    units: tuple[str, ...]
    locations: tuple[str, ...]
    repeats: int
    complete: NDArray[np.bool_]
    first_rows: NDArray[np.intp]
    unit_of_row: NDArray[np.int64]

    @property
    def height(self) -> int:
        """Rows of the data."""
        return self.unit_of_row.size

    def column(self, given: Column) -> Column:
        """One place a unit, missing where it is incomplete, for what charts make of a column."""
        kept = np.flatnonzero(self.complete)
        missing = tuple(int(unit) + 1 for unit in np.flatnonzero(~self.complete))
        return Column(np.zeros(kept.size), kept, missing, given.frame, given.name)

    def by_unit(self, data: Any, given: Any, name: str) -> Any:
        """Labels or moments of the units: of each its first row, unless there is one a unit already."""
        if given is None:
            return None
        source = table(data).column(given) if isinstance(given, str) else given
        label = given if isinstance(given, str) else name
        if not isinstance(given, str) and len(source) == len(self.units) != self.height:
            return source
        if len(source) != self.height:
            raise InvalidInputError(f"{label} has {len(source)} rows, the readings have {self.height}", argument=name)
        words = times(source, name=label) if name == "time" else labels(source, name=label)
        return words[self.first_rows]

    def flags_by_unit(self, data: Any, given: Any, name: str) -> NDArray[np.bool_] | None:
        """True and false of the units; the rows of one unit must agree."""
        if given is None:
            return None
        if not isinstance(given, str) and len(given) == len(self.units) != self.height:
            return flags(data, given, len(self.units), name)
        rows = flags(data, given, self.height, name)
        first = rows[self.first_rows]
        mixed = np.flatnonzero(rows != first[self.unit_of_row])
        if mixed.size:
            unit = self.units[self.unit_of_row[mixed[0]]]
            raise InvalidInputError(
                f"unit '{unit}' is {name} in some of its rows only; a unit is in or out as a whole", argument=name
            )
        return first


def unit_grid(
    data: Any,
    given: Column,
    *,
    body: Any,
    location: Any,
    readings_per_unit: int | None,
    order: Sequence[str] | None,
    missing: str,
) -> UnitGrid:
    """Arrange readings by unit and location.

    A unit is complete with every location, each with the usual number of readings. ``order`` gives the locations to expect.
    """
    height = given.values.size + len(given.missing_rows)
    if height == 0:
        raise InvalidInputError("there are no readings", argument="data")
    body_words = _bodies(data, body, readings_per_unit, height)
    place_words = _column(data, location, "location", height) if location is not None else np.full(height, "all", dtype=object)
    units, unit_keys = coded(body_words)
    names = [str(key[0]) for key in unit_keys]
    seen = list(dict.fromkeys(place_words.tolist()))
    places = seen if order is None else list(order)
    if set(seen) != set(places):
        odd = sorted(set(seen) ^ set(places))
        raise InvalidInputError(
            f"locations differ from those of the baseline: {', '.join(repr(word) for word in odd)} stand on one side only; "
            f"expected {', '.join(places)}",
            argument="location",
        )
    index = {word: i for i, word in enumerate(places)}
    where = np.array([index[word] for word in place_words], dtype=np.int64)
    values = np.full(height, np.nan)
    values[given.rows] = given.values
    present = ~np.isnan(values)
    cells = np.zeros((len(names), len(places)), dtype=np.int64)
    np.add.at(cells, (units[present], where[present]), 1)
    repeats = usual(cells[cells > 0])
    complete = (cells == repeats).all(axis=1)
    if not complete.all() and missing == "error":
        text = incomplete_units(cells, complete, names, places, repeats, "missing='drop' to leave empty")
        raise InvalidInputError(text, argument="missing")
    grid = np.full((len(names), len(places) * repeats), np.nan)
    kept = np.flatnonzero(present & complete[units])
    kept = kept[np.lexsort((where[kept], units[kept]))]
    grid[complete] = values[kept].reshape(-1, len(places) * repeats)
    first = np.full(len(names), height, dtype=np.intp)
    np.minimum.at(first, units, np.arange(height))
    return UnitGrid(
        values=np.ascontiguousarray(grid.ravel()),
        units=tuple(names),
        locations=tuple(places),
        repeats=repeats,
        complete=complete,
        first_rows=first,
        unit_of_row=units,
    )


def _bodies(data: Any, body: Any, readings_per_unit: int | None, height: int) -> NDArray[np.object_]:
    if (body is None) == (readings_per_unit is None):
        raise InvalidInputError("give either body (which unit was read) or readings_per_unit", argument="body")
    if readings_per_unit is None:
        return _column(data, body, "body", height)
    if readings_per_unit < 1:
        raise InvalidInputError(f"readings_per_unit must be 1 or more, got {readings_per_unit}", argument="readings_per_unit")
    if height % readings_per_unit:
        raise InvalidInputError(
            f"{height} rows do not fill units of {readings_per_unit}: the last has {height % readings_per_unit}; name the units "
            "with body=... if some are incomplete",
            argument="readings_per_unit",
        )
    return np.array([str(row // readings_per_unit + 1) for row in range(height)], dtype=object)


def _column(data: Any, given: Any, name: str, height: int) -> NDArray[np.object_]:
    label = given if isinstance(given, str) else name
    words = label_words(table(data).column(given) if isinstance(given, str) else given, label)
    if words.size != height:
        raise InvalidInputError(f"{label} has {words.size} rows, the readings have {height}", argument=name)
    if absent := [DataProblem(label, i + 1, "", "label is missing") for i, word in enumerate(words) if word is None]:
        raise DataProblemsError(absent, advice="Each reading needs to say where it belongs.")
    return words
