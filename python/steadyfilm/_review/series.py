"""Unit averages of a layer as a series: usual levels of streams and adjusted factors, working days, and what was recorded."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._points import JOINT
from steadyfilm._review.averages import LayerUnits, LostUnits
from steadyfilm._review.gather import UNIT_JOINT
from steadyfilm._review.search import Named, Scope, Series

if TYPE_CHECKING:
    from steadyfilm._review.options import Options

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
Labels = NDArray[np.object_]

ALL = "all units"
BLOCK_WITHOUT_TIME = 8
"""Without times so many units in a row stand in for a working day."""
FEWEST_UNITS_PER_RUN = 6
"""A recorded value that changes more often than once in so many units cannot explain a lasting shift."""


@dataclass(frozen=True)
class Level:
    """One value of a factor: which column, which value, and which units of baseline and month have it."""

    column: str
    value: str
    units: NDArray[np.bool_]
    new: bool
    """Not in the baseline."""


def named_level(column: str, value: str) -> str:
    """A value with its column's name before it.

    >>> named_level("gun", "A"), named_level("lane", "lane 2"), named_level("", "all units")
    ('gun A', 'lane 2', 'all units')
    """
    return value if not column or value.startswith(column) else f"{column} {value}"


@dataclass(frozen=True)
class Usual:
    """The additive model of usual levels: an intercept and a column for every level but each factor's first."""

    known: Floats
    levels: tuple[Level, ...]
    """Every level, those without a column too; a factor's levels stand together."""
    contrasts: Floats
    """Row per level: its difference from the plain mean of its factor's levels, in terms of the columns."""
    stream: Labels
    """Stream of each unit, the stream columns' values joined."""

    @property
    def streams(self) -> tuple[Level, ...]:
        """The levels that are streams; they come first."""
        return tuple(level for level in self.levels if level.column == self.levels[0].column)

    def unseen(self, first: int) -> list[tuple[list[int], NDArray[np.bool_]]]:
        """For each factor its columns and the units whose level the baseline never saw; factors without such are left out."""
        found = []
        column = 1
        for name in dict.fromkeys(level.column for level in self.levels):
            own = [level for level in self.levels if level.column == name]
            columns = list(range(column, column + len(own) - 1))
            column += len(own) - 1
            new = np.zeros(len(self.known), dtype=bool)
            for level in own:
                if level.new:
                    new |= level.units
            if first and new.any():
                found.append((columns, new))
        return found


def with_levels(series: Series, groups: Sequence[NDArray[np.bool_]]) -> Series:
    """The same with a level of its own for each group of the month's units."""
    columns = np.zeros((len(series.values), len(groups)))
    for k, group in enumerate(groups):
        columns[series.first :, k] = group
    nothing = np.zeros((len(series.contrasts), len(groups)))
    contrasts = np.column_stack([series.contrasts, nothing]) if len(series.contrasts) else series.contrasts
    return dataclasses.replace(series, known=np.column_stack([series.known, columns]), contrasts=contrasts)


def stream_labels(units: LayerUnits | LostUnits, columns: Sequence[str]) -> Labels:
    """Each unit's stream, the values of the stream columns joined as the baseline joins them."""
    if not columns:
        return np.full(len(units), ALL, dtype=object)
    parts = [[level_name(name, value) for value in units.factors[name]] for name in columns]
    return np.array([JOINT.join(row) for row in zip(*parts, strict=True)], dtype=object)


def level_name(column: str, value: str) -> str:
    """What a value is called; a bare number gets its column's name before it.

    >>> level_name("gun", "A"), level_name("lane", "2"), level_name("lane", "")
    ('A', 'lane 2', 'lane not stated')
    """
    if not value:
        return f"{column} not stated"
    return f"{column} {value}" if value.replace(".", "").isdigit() else value


def usual_levels(base: LayerUnits | None, month: LayerUnits, options: Options) -> Usual:
    """The columns of usual levels over baseline units and then the month's."""
    first = len(base) if base is not None else 0

    def joined(of: LayerUnits, name: str) -> Labels:
        return stream_labels(of, options.streams) if name == "" else stream_labels(of, [name])

    columns: list[Floats] = [np.ones(first + len(month))]
    levels: list[Level] = []
    groups: list[list[int | None]] = []
    stream = np.empty(0, dtype=object)
    for name in ("", *options.adjust):
        labels = np.concatenate([*([joined(base, name)] if base is not None else []), joined(month, name)])
        if name == "":
            stream = labels
        group: list[int | None] = []
        for k, value in enumerate(sorted(set(labels), key=lambda label: list(labels).index(label))):
            flags = labels == value
            group.append(len(columns) if k else None)
            if k:
                columns.append(flags.astype(np.float64))
            new = base is not None and not flags[:first].any()
            levels.append(Level(name or JOINT.join(options.streams), str(value), flags, new))
        groups.append(group)
    contrasts = np.zeros((len(levels), len(columns)))
    row = 0
    for group in groups:
        for _ in group:
            for j in group:
                if j is not None:
                    contrasts[row, j] -= 1.0 / len(group)
            own = group[row - sum(len(g) for g in groups[: groups.index(group)])]
            if own is not None:
                contrasts[row, own] += 1.0
            row += 1
    return Usual(np.column_stack(columns), tuple(levels), contrasts, stream)


def working_days(base: LayerUnits | None, month: LayerUnits, options: Options) -> Codes:
    """Day of each unit, from 0; without times, units that share the leading unit columns (a lot), or a few in a row."""
    parts = [x for x in (base, month) if x is not None]
    if all(x.time is not None for x in parts):
        days = np.concatenate([x.time.astype("datetime64[D]") for x in parts if x.time is not None])
        return np.unique(days, return_inverse=True)[1].astype(np.intp)
    out: list[Codes] = []
    start = 0
    for x in parts:
        if len(options.name_columns) > 1:
            group = np.array([name.rpartition(UNIT_JOINT)[0] for name in x.units], dtype=object)
            step = np.concatenate([[0], np.cumsum(group[1:] != group[:-1])]) if len(group) else np.empty(0)
        else:
            step = np.arange(len(x)) // BLOCK_WITHOUT_TIME
        out.append(start + step.astype(np.intp))
        start = int(out[-1].max()) + 1 if len(x) else start
    return np.concatenate(out)


def day_word(month: LayerUnits, options: Options) -> str:
    """What stands for a day in `working_days`."""
    if month.time is not None:
        return "day"
    leading = options.name_columns[:-1]
    return ", ".join(leading) if leading else f"{BLOCK_WITHOUT_TIME} units"


def make_series(base: LayerUnits | None, month: LayerUnits, usual: Usual, options: Options, *, sessions: bool = False) -> Series:
    """The layer as a series for the search of changes; ``sessions`` of a gauge are recorded stretches then."""
    first = len(base) if base is not None else 0
    values = np.concatenate([*([base.average] if base is not None else []), month.average])
    scopes = [Scope(ALL, np.ones(len(values), dtype=bool))]
    here = usual.stream[first:]
    if len(set(here)) > 1:
        scopes += [Scope(str(name), usual.stream == name) for name in dict.fromkeys(here)]
    if len(options.streams) > 1:
        seen = {tuple(scope.units) for scope in scopes}
        for column in options.streams:
            labels = np.concatenate(
                [*([stream_labels(base, [column])] if base is not None else []), stream_labels(month, [column])]
            )
            for value in dict.fromkeys(labels[first:]):
                flags = labels == value
                if tuple(flags) not in seen:
                    scopes.append(Scope(str(value), flags, coarse=True))
    day = working_days(base, month, options)
    named = recorded_stretches(month, tuple(scopes), first, options)
    if sessions and options.gauge and month.time is not None:
        named += gauge_sessions(month, options.gauge)
    return Series(values, usual.known, day, first, tuple(scopes), named, usual.contrasts, per_unit=month.time is None)


def runs(labels: Labels) -> list[tuple[int, int]]:
    """Start and end (exclusive) of every stretch of equal labels."""
    if not len(labels):
        return []
    edges = [0, *(np.flatnonzero(labels[1:] != labels[:-1]) + 1).tolist(), len(labels)]
    return list(pairwise(edges))


def recorded_stretches(month: LayerUnits, scopes: tuple[Scope, ...], first: int, options: Options) -> tuple[Named, ...]:
    """Stretches of one value of a candidate column; if it changes too often overall, stretches within each stream."""
    found = []
    for column in options.candidates:
        labels = month.factors[column]
        whole = runs(labels)
        if len(whole) * FEWEST_UNITS_PER_RUN <= len(labels):
            found += [Named(column, str(labels[a]), 0, a, b) for a, b in whole if len(whole) > 1]
            continue
        for s, scope in enumerate(scopes[1:], start=1):
            at = np.flatnonzero(scope.units[first:])
            own = runs(labels[at])
            if len(own) > 1 and len(own) * FEWEST_UNITS_PER_RUN <= len(at):
                found += [Named(column, str(labels[at[a]]), s, int(at[a]), int(at[b - 1]) + 1) for a, b in own]
    return tuple(found)


def gauge_sessions(month: LayerUnits, gauge: str) -> tuple[Named, ...]:
    """Units read in a row with one gauge on one day."""
    assert month.time is not None  # the caller asks for sessions only then
    days = month.time.astype("datetime64[D]").astype(str)
    names = month.factors[gauge]
    both = np.array([f"{day} {name}" for day, name in zip(days, names, strict=True)], dtype=object)
    whole = runs(both)
    return tuple(Named(gauge, str(names[a]), 0, a, b, session=True) for a, b in whole if len(whole) > 1)
