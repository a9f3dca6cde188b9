"""All readings by unit, location and day, in the order of production, for the picture that shows each of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._balanced import coded, label_words, usual
from steadyfilm._format import plural, with_unit
from steadyfilm._input import readings, table, times
from steadyfilm._review.conformance import outside
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = ["AllReadings", "all_readings"]


@dataclass(frozen=True)
class AllReadings:
    """Readings with the unit and location of each, both counted from 0; units in production order.

    ``complete`` is True for units with every location, each with the usual number of readings. ``days`` holds one label a
    unit, or nothing. Rows without a reading are only counted.
    """

    values: NDArray[np.float64]
    unit_of: NDArray[np.int64]
    location_of: NDArray[np.int64]
    units: tuple[str, ...]
    locations: tuple[str, ...]
    days: tuple[str, ...]
    averages: NDArray[np.float64]
    complete: NDArray[np.bool_]
    repeats: int
    missing: int

    def outside(self, window: SpecLimits) -> int:
        """Averages of complete units outside a window; one on a limit meets it."""
        below, above = outside(self.averages[self.complete], window.lower, window.upper)
        return int((below | above).sum())

    def sentence(self, unit: str, window: SpecLimits | None) -> str:
        """What the readings show, in one sentence."""
        head = plural(len(self.units), "unit")
        head += f" with {plural(len(self.locations), 'location')}" if len(self.locations) > 1 else ""
        low, high = float(self.values.min()), float(self.values.max())
        said = f"{head}, {plural(self.values.size, 'reading')} from {with_unit(low, '')} to {with_unit(high, unit)}"
        averages = self.averages[self.complete]
        if not averages.size:
            return f"{said}; no unit has all its readings."
        if averages.size > 1:
            said += f"; unit averages from {with_unit(float(averages.min()), '')} to {with_unit(float(averages.max()), unit)}"
        else:
            said += f"; unit average {with_unit(float(averages[0]), unit)}"
        if window is not None and (window.lower is not None or window.upper is not None):
            count = self.outside(window)
            said += f", {count or 'none'} outside the window"
        return f"{said}."


def all_readings(data: Any, column: str | None, *, body: Any, location: Any, day: Any, time: Any, missing: str) -> AllReadings:
    """Readings of a table, or of sequences, arranged for the picture.

    Units stand in the order of their first moment when ``time`` is given, else of their first row. With ``day``, labels of units
    count inside their day; else the day is that of a unit's first moment.
    """
    given = readings(data, column, missing=missing)
    height = given.values.size + len(given.missing_rows)
    if not given.values.size:
        raise InvalidInputError("there are no readings", argument="data")
    words = {"body": _words(data, body, "body", height, given.rows)}
    if location is not None:
        words["location"] = _words(data, location, "location", height, given.rows)
    if day is not None:
        words["day"] = _words(data, day, "day", height, given.rows)
    stamps = None if time is None else _stamps(data, time, height)[given.rows]
    inside = [words["day"]] if day is not None else []
    units, keys = coded(*inside, words["body"])
    count = len(keys)
    names = [str(key[-1]) for key in keys]
    order = np.arange(count)
    days: list[str] = [str(key[0]) for key in keys] if day is not None else []
    if stamps is not None:
        first = np.full(count, np.datetime64("9999-01-01", "us"))
        np.minimum.at(first, units, stamps)
        order = np.argsort(first, kind="stable")
        if day is None:
            days = [str(moment)[:10] for moment in first]
    rank = np.empty(count, dtype=np.int64)
    rank[order] = np.arange(count)
    unit_of = rank[units]
    if location is None:
        places, place_names = np.zeros(unit_of.size, dtype=np.int64), ["all"]
    else:
        places, found = coded(words["location"])
        place_names = [str(key[0]) for key in found]
    cells = np.zeros((count, len(place_names)), dtype=np.int64)
    np.add.at(cells, (unit_of, places), 1)
    repeats = usual(cells[cells > 0])
    sums = np.bincount(unit_of, weights=given.values, minlength=count)
    return AllReadings(
        values=given.values,
        unit_of=unit_of,
        location_of=places,
        units=tuple(names[i] for i in order),
        locations=tuple(place_names),
        days=tuple(days[i] for i in order) if days else (),
        averages=sums / cells.sum(axis=1),
        complete=(cells == repeats).all(axis=1),
        repeats=repeats,
        missing=len(given.missing_rows),
    )


def _words(data: Any, given: Any, name: str, height: int, rows: NDArray[np.intp]) -> NDArray[np.object_]:
    label = given if isinstance(given, str) else name
    source = table(data).column(given) if isinstance(given, str) else given
    found = label_words(source, label)
    if found.size != height:
        raise InvalidInputError(f"{label} has {found.size} rows, the readings have {height}", argument=name)
    if absent := [DataProblem(label, int(row) + 1, "", "label is missing") for row in rows if found[row] is None]:
        raise DataProblemsError(absent, advice="Each reading needs to say where it belongs.")
    return found[rows]


def _stamps(data: Any, given: Any, height: int) -> NDArray[np.datetime64]:
    label = given if isinstance(given, str) else "time"
    found = times(table(data).column(given) if isinstance(given, str) else given, name=label)
    if found.size != height:
        raise InvalidInputError(f"{label} has {found.size} rows, the readings have {height}", argument="time")
    if absent := [DataProblem(label, int(row) + 1, "", "time is missing") for row in np.flatnonzero(np.isnat(found))]:
        raise DataProblemsError(absent)
    return found
