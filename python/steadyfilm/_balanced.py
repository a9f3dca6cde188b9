"""Balanced readings: from a table to groups of equal size, and what to say when the sizes are not equal."""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import plural
from steadyfilm._input import Column, labels, table
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError, MissingDataWarning

__all__ = [
    "Bodies",
    "Nested",
    "body_layout",
    "coded",
    "incomplete_units",
    "label_columns",
    "label_words",
    "nested_layout",
    "usual",
]

Floats = NDArray[np.float64]
Labels = NDArray[np.object_]
Codes = NDArray[np.int64]

_SHOWN = 12


@dataclass(frozen=True)
class Nested:
    """Values in nested order, groups a level, and the outermost groups that were left out."""

    values: Floats
    counts: NDArray[np.int64]
    dropped: tuple[str, ...]


@dataclass(frozen=True)
class Bodies:
    """Values unit after unit, in each the same locations, in each of these the same number of readings.

    ``order`` holds the position of each value among those given.
    """

    values: Floats
    order: NDArray[np.intp]
    locations: tuple[str, ...]
    repeats: int
    units: tuple[str, ...]
    days: tuple[str, ...]
    units_per_day: NDArray[np.int64]
    dropped: tuple[str, ...]


def label_columns(data: Any, given: Column, names: Sequence[Any]) -> list[tuple[str, Labels]]:
    """Label columns of the rows that have a reading, by column name or as sequences; a missing label is an error."""
    height = given.values.size + len(given.missing_rows)
    found = []
    problems: list[DataProblem] = []
    for i, item in enumerate(names):
        name = item if isinstance(item, str) else f"labels {i + 1}"
        words = label_words(table(data).column(item) if isinstance(item, str) else item, name)
        if words.size != height:
            raise InvalidInputError(f"'{name}' has {words.size} rows, the readings have {height}", argument=name)
        problems += [DataProblem(name, int(row) + 1, "", "label is missing") for row in given.rows if words[row] is None]
        found.append((name, words[given.rows]))
    if problems:
        raise DataProblemsError(problems, advice="Each reading needs to say where it belongs.")
    return found


def label_words(source: Any, name: str) -> Labels:
    """Labels as text; of a moment, its day."""
    items = source.to_list() if hasattr(source, "to_list") else list(source)
    if any(isinstance(item, datetime) for item in items):
        items = [item.date().isoformat() if isinstance(item, datetime) else item for item in items]
    elif isinstance(source, np.ndarray) and source.dtype.kind == "M":
        items = [None if np.isnat(item) else str(item.astype("datetime64[D]")) for item in source]
    return labels(items, name=name)


def coded(*columns: Iterable[Any]) -> tuple[Codes, list[tuple[Any, ...]]]:
    """Numbers for combinations of labels, in the order in which they first appear."""
    seen: dict[tuple[Any, ...], int] = {}
    codes = [seen.setdefault(key, len(seen)) for key in zip(*columns, strict=True)]
    return np.array(codes, dtype=np.int64), list(seen)


def usual(counts: Iterable[int]) -> int:
    """The most common count; of equally common ones the larger."""
    tally = Counter(int(count) for count in counts)
    return max(tally, key=lambda count: (tally[count], count))


def nested_layout(values: Floats, columns: Sequence[tuple[str, Labels]], incomplete: str) -> Nested:
    """Values in nested order.

    A label belongs to the group around it: wafer 1 of one lot is not wafer 1 of another.
    """
    _require_choice(incomplete, "drop_groups")
    names = [name for name, _ in columns]
    paths = [coded(*(words for _, words in columns[: k + 1])) for k in range(len(columns))]
    top = paths[0][1]
    faults: dict[int, str] = {}  # of an outermost group: what is unusual
    counts = []
    for k, (codes, groups) in enumerate(paths):
        if k + 1 < len(paths):
            parents = coded(*(words for _, words in columns[: k + 2]))[1]
            inside = Counter(path[: k + 1] for path in parents)
            sizes = [inside[path] for path in groups]
        else:
            sizes = np.bincount(codes, minlength=len(groups)).tolist()
        what = f"{names[k + 1]} labels" if k + 1 < len(paths) else "readings"
        common = usual(sizes)
        counts.append(common)
        for path, size in zip(groups, sizes, strict=True):
            if size != common:
                place = " of ".join(f"{name} '{word}'" for name, word in reversed(list(zip(names, path, strict=False))))
                faults.setdefault(top.index(path[:1]), f"{place} has {size} {what}, most have {common}")
    keep = np.ones(values.size, dtype=bool)
    if faults:
        remaining = len(top) - len(faults)
        if incomplete == "error":
            raise InvalidInputError(
                _complaint(f"{len(faults)} of {len(top)} groups of '{names[0]}' differ", faults.values())
                + f"Mean squares need equal numbers. Enter what is missing, or write incomplete='drop_groups' to leave out "
                f"{'that group' if len(faults) == 1 else 'those groups'} ({remaining} remain; the result records it).",
                argument="levels",
            )
        keep = ~np.isin(paths[0][0], list(faults))
    dropped = tuple(str(top[i][0]) for i in sorted(faults))
    _warn_dropped(dropped, f"'{names[0]}' group", "drop_groups")
    counts = [len(top) - len(dropped), *counts]
    for k, count in enumerate(counts):
        if count < 2:
            raise InvalidInputError(_too_few(names, k, count), argument="levels")
    order = np.lexsort([codes[keep] for codes, _ in reversed(paths)])
    return Nested(np.ascontiguousarray(values[keep][order]), np.array(counts, dtype=np.int64), dropped)


def _too_few(names: Sequence[str], k: int, count: int) -> str:
    if k == 0:
        return f"{plural(count, 'complete group')} of '{names[0]}': two or more are needed to see a spread between them"
    if k == len(names):
        return f"each '{names[-1]}' has a single reading: leave '{names[-1]}' out of levels, its spread is then the residual"
    return f"each '{names[k - 1]}' has a single '{names[k]}', so that they cannot be told apart: leave one of them out of levels"


def body_layout(
    values: Floats, body: tuple[str, Labels], location: tuple[str, Labels], day: tuple[str, Labels] | None, incomplete: str
) -> Bodies:
    """Values unit after unit; complete is a unit with every location, each with the usual number of readings."""
    _require_choice(incomplete, "drop_units")
    if not values.size:
        raise InvalidInputError("there are no readings", argument="data")
    day_words = day[1] if day is not None else np.full(values.size, "", dtype=object)
    units, keys = coded(day_words, body[1])
    places, place_keys = coded(location[1])
    cells = np.zeros((len(keys), len(place_keys)), dtype=np.int64)
    np.add.at(cells, (units, places), 1)
    repeats = usual(cells[cells > 0])
    complete = (cells == repeats).all(axis=1)
    names = [str(key[1]) if day is None else f"{key[1]} of {key[0]}" for key in keys]
    if not complete.all() and incomplete == "error":
        raise InvalidInputError(
            incomplete_units(
                cells,
                complete,
                names,
                [str(key[0]) for key in place_keys],
                repeats,
                "incomplete='drop_units' (mean squares need equal numbers) to leave out",
            ),
            argument="incomplete",
        )
    dropped = tuple(name for name, whole in zip(names, complete, strict=True) if not whole)
    _warn_dropped(dropped, "unit", "drop_units")
    if complete.sum() < 2:
        left = f" after {plural(len(dropped), 'incomplete one')} left out" if dropped else ""
        raise InvalidInputError(
            f"{plural(int(complete.sum()), 'complete unit')} in '{body[0]}'{left}: two or more are needed", argument="body"
        )
    days, day_keys = coded(key[0] for key in keys)
    kept = complete[units]
    order = np.flatnonzero(kept)
    order = order[np.lexsort((places[order], units[order], days[units[order]]))]
    per_day = np.bincount(days[complete], minlength=len(day_keys))
    in_order = np.lexsort((np.arange(len(keys)), days))
    return Bodies(
        values=np.ascontiguousarray(values[order]),
        order=order,
        locations=tuple(str(key[0]) for key in place_keys),
        repeats=repeats,
        units=tuple(names[i] for i in in_order if complete[i]),
        days=() if day is None else tuple(str(key[0]) for key, size in zip(day_keys, per_day, strict=True) if size),
        units_per_day=np.array([] if day is None else per_day[per_day > 0], dtype=np.int64),
        dropped=dropped,
    )


def incomplete_units(
    cells: NDArray[np.int64], complete: NDArray[np.bool_], names: Sequence[str], places: Sequence[str], repeats: int, choice: str
) -> str:
    """Which units lack what, and the choice that leaves them out."""
    faults = []
    for unit in np.flatnonzero(~complete).tolist():
        odd = np.flatnonzero(cells[unit] != repeats)
        words = ", ".join(f"location '{places[i]}' has {cells[unit, i]}" for i in odd[:4])
        words = words if len(places) > 1 else plural(int(cells[unit, 0]), "reading")
        more = f" and {len(odd) - 4} more" if len(odd) > 4 else ""
        faults.append(f"unit '{names[unit]}': {words}{more}")
    rare = [
        f"location '{places[i]}' is read on {plural(int(seen), 'unit')} only: is it a slip of the pen?"
        for i, seen in enumerate((cells > 0).sum(axis=0))
        if len(places) > 1 and seen <= 0.1 * len(names)
    ]
    if (cells > repeats).any():
        rare.append("some units have more than that: do their labels come back, as numbers that start anew each day do?")
    wanted = f"{plural(len(places), 'location')} with {plural(repeats, 'reading')} each are wanted"
    return (
        _complaint(f"{len(faults)} of {len(names)} units are incomplete ({wanted})", [*rare, *faults])
        + f"Enter what is missing, or write {choice} "
        f"{'that unit' if len(faults) == 1 else 'those units'} ({int(complete.sum())} remain; the result records it)."
    )


def _complaint(head: str, lines: Iterable[str]) -> str:
    found = list(lines)
    more = [f"  ... and {len(found) - _SHOWN} more"] if len(found) > _SHOWN else []
    return "\n".join([f"the readings are not balanced: {head}:", *(f"  {line}" for line in found[:_SHOWN]), *more, ""])


def _require_choice(incomplete: str, word: str) -> None:
    if incomplete not in ("error", word):
        raise InvalidInputError(f"incomplete must be 'error' or '{word}', got {incomplete!r}", argument="incomplete")


def _warn_dropped(dropped: Sequence[str], what: str, word: str) -> None:
    if dropped:
        text = f"{len(dropped)} incomplete {what if len(dropped) == 1 else what + 's'} left out (incomplete='{word}')"
        warnings.warn(
            text,
            MissingDataWarning,
            stacklevel=4,
        )
