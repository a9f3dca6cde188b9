"""Readings to one average a unit and layer: repeats to location means, locations to the unit, layers by difference."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from steadyfilm._derived_layers import cell_means, successive_layers
from steadyfilm._review.gather import LostRow, Readings, SetAside
from steadyfilm._screens.copies import by_repeat, copied_units
from steadyfilm._screens.plain import USUAL_SHARE, entered_before

if TYPE_CHECKING:
    from steadyfilm._review.options import Measured
    from steadyfilm.plan import Layer, Plan

Floats = NDArray[np.float64]
Attempts = Literal["first", "last"]


@dataclass(frozen=True)
class LostUnits:
    """Units between those of a layer that have no usable average: neighbors across one are no neighbors."""

    before: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    """Index of the first unit with an average that was made later."""
    factors: dict[str, NDArray[np.object_]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.before)

    def take(self, keep: NDArray[np.bool_]) -> LostUnits:
        """The same where only some of the units with an average stay; ``keep`` is a stretch in order of production."""
        first, count = int(np.argmax(keep)) if keep.any() else 0, int(keep.sum())
        inside = (self.before > first) & (self.before < first + count)
        return LostUnits(self.before[inside] - first, {name: column[inside] for name, column in self.factors.items()})


@dataclass(frozen=True)
class LayerUnits:
    """The units of one layer in the order of production.

    ``average`` is NaN-free; units without a full set of locations are in ``incomplete`` and nowhere else.
    """

    layer: Measured
    units: tuple[str, ...]
    average: Floats
    locations: tuple[str, ...]
    spots: Floats
    """Location means, shape (units, locations); NaN where a unit lacks an unusual location."""
    time: NDArray[np.datetime64] | None
    factors: dict[str, NDArray[np.object_]]
    incomplete: tuple[tuple[str, str], ...]
    """Unit, and what is missing of it."""
    repeated: tuple[str, ...]
    """Units that were measured again."""
    lost: LostUnits = LostUnits()

    def __len__(self) -> int:
        return len(self.units)

    def take(self, keep: NDArray[np.bool_]) -> LayerUnits:
        """The same with some of the units."""
        return dataclasses.replace(
            self,
            units=tuple(name for name, k in zip(self.units, keep, strict=True) if k),
            average=self.average[keep],
            spots=self.spots[keep],
            time=None if self.time is None else self.time[keep],
            factors={name: column[keep] for name, column in self.factors.items()},
            lost=self.lost.take(keep),
        )


def without_copies(found: Readings) -> tuple[Readings, tuple[SetAside, ...]]:
    """Take out what was entered twice: the same place, repeat and attempt again, or a whole unit equal to another.

    What counts as a copy, and the chance that honest reading looks so: `steadyfilm._screens.copies`.
    """
    keep = np.ones(len(found.value), dtype=bool)
    aside, lost = [], list(found.lost)

    def drop(rows: NDArray[np.intp], reason: str) -> None:
        keep[rows] = False
        for i in rows:
            names = (found.units[found.unit[i]], found.readings[found.reading[i]], found.locations[found.location[i]])
            aside.append(SetAside(int(found.line[i]), *names, f"{found.written[i]:.6g}", reason))
            lost.append(_lost_row(found, int(i)))

    if found.repeat is not None:
        keys = zip(found.unit, found.reading, found.location, found.repeat, found.attempt, strict=True)
        for i, first in entered_before(keys).items():
            drop(np.array([i]), f"entered before, in {found.where} {found.line[first]}")
    order = np.argsort(found.line, kind="stable")
    order = order[keep[order] & (found.attempt[order] == 1)]
    order = by_repeat(order, found.repeat)
    for copy in copied_units(found.unit, found.reading, found.location, found.value, found.written, order, near=False):
        drop(copy.rows, f"all {copy.count} readings equal those of {found.units[copy.source]}: a copied form?")
    if keep.all():
        return found, ()
    return dataclasses.replace(_take(found, keep), lost=tuple(lost)), tuple(aside)


def _lost_row(found: Readings, i: int) -> LostRow:
    return LostRow(
        found.units[found.unit[i]],
        found.readings[found.reading[i]],
        int(found.line[i]),
        None if found.time is None else found.time[i],
        {name: str(column[i]) for name, column in found.factors.items()},
    )


def _take(found: Readings, keep: NDArray[np.bool_]) -> Readings:
    return dataclasses.replace(
        found,
        unit=found.unit[keep],
        reading=found.reading[keep],
        location=found.location[keep],
        repeat=None if found.repeat is None else found.repeat[keep],
        value=found.value[keep],
        written=found.written[keep],
        time=None if found.time is None else found.time[keep],
        attempt=found.attempt[keep],
        factors={name: column[keep] for name, column in found.factors.items()},
        line=found.line[keep],
    )


def unit_averages(found: Readings, plan: Plan, attempts: Attempts) -> tuple[LayerUnits, ...]:
    """Every layer's unit averages, from each unit's first attempt (for charts) or its last at each location (for the verdict)."""
    spots = {name: _location_means(found, code, attempts) for code, name in enumerate(found.readings)}
    return tuple(_layer_units(found, layer, spots) for layer in plan.layers)


def _location_means(found: Readings, reading: int, attempts: Attempts) -> Floats:
    """Mean over repeats, shape (units, locations); NaN where there is none."""
    shape = (len(found.units), len(found.locations))
    rows = np.flatnonzero(found.reading == reading)
    unit, location, attempt = found.unit[rows], found.location[rows], found.attempt[rows]
    if attempts == "first":
        rows = rows[attempt == 1]
    else:
        latest = np.full(shape, np.iinfo(np.int64).min)
        np.maximum.at(latest, (unit, location), attempt)
        rows = rows[attempt == latest[unit, location]]
    cell = found.unit[rows] * shape[1] + found.location[rows]
    mean, _, _ = cell_means(found.value[rows], cell, shape[0] * shape[1])
    return mean.reshape(shape)


def _layer_units(found: Readings, layer: Layer, spots: dict[str, Floats]) -> LayerUnits:
    builds = [spots[name] for name in (layer.minus, layer.source) if name is not None]
    film = successive_layers(np.stack(builds, axis=-1))[..., -1]
    there = ~np.isnan(film)
    # A unit belongs to the layer if it has any reading of it, usable or not in this difference.
    started = ~np.isnan(spots[layer.source]).all(axis=1)
    if layer.minus is not None:
        started |= ~np.isnan(spots[layer.minus]).all(axis=1)
    usual = there[there.any(axis=1)].mean(axis=0) >= USUAL_SHARE if there.any() else np.zeros(len(found.locations), dtype=bool)
    full = there[:, usual].all(axis=1) & there.any(axis=1)
    incomplete = []
    for u in np.flatnonzero(started & ~full):
        if not there[u].any():
            gone = layer.source if np.isnan(spots[layer.source][u]).all() or layer.minus is None else layer.minus
            incomplete.append((found.units[u], f"no usable reading of '{gone}'"))
        else:
            names = [name for name, wanted, ok in zip(found.locations, usual, there[u], strict=True) if wanted and not ok]
            incomplete.append((found.units[u], f"no usable reading at {', '.join(names)}"))

    told = {unit for unit, _ in incomplete} | {found.units[u] for u in np.flatnonzero(full)}
    for item in found.set_aside:
        if item.unit and item.reading == layer.source and item.unit not in told:
            told.add(item.unit)
            incomplete.append((item.unit, f"no usable reading of '{layer.source}'"))

    code = found.readings.index(layer.source)
    rows = np.flatnonzero(found.reading == code)
    first = np.full(len(found.units), -1, dtype=np.intp)
    # The earliest row of the first attempt says when, by whom and with what.
    for i in rows[np.lexsort((found.line[rows], found.attempt[rows]))][::-1]:
        first[found.unit[i]] = i
    members = np.flatnonzero(full)
    start = first[members]
    order = np.arange(len(members))
    if found.time is not None:
        order = np.lexsort((found.line[start], found.time[start]))
    else:
        order = np.argsort(found.line[start], kind="stable")
    members, start = members[order], start[order]
    with np.errstate(invalid="ignore"):
        average = np.nanmean(film[members], axis=1) if len(members) else np.empty(0)
    again = found.unit[rows[found.attempt[rows] > 1]]
    return LayerUnits(
        layer=layer,
        units=tuple(found.units[u] for u in members),
        average=average,
        locations=found.locations,
        spots=film[members],
        time=None if found.time is None else found.time[start],
        factors={name: column[start] for name, column in found.factors.items()},
        incomplete=tuple(incomplete),
        repeated=tuple(found.units[u] for u in dict.fromkeys(again.tolist())),
        lost=_lost_units(found, layer, np.asarray(full), start),
    )


def _lost_units(found: Readings, layer: Layer, full: NDArray[np.bool_], start: NDArray[np.intp]) -> LostUnits:
    """Units of a layer without an average, placed between those that have one, whose first rows are ``start``."""
    kinds = [found.readings.index(name) for name in (layer.source, layer.minus) if name is not None]
    has_average = {found.units[u] for u in np.flatnonzero(full)}
    rows = np.flatnonzero(~full[found.unit] & np.isin(found.reading, kinds))
    candidates = [_lost_row(found, int(i)) for i in rows]
    candidates += [x for x in found.lost if x.unit not in has_average and x.reading in (layer.source, layer.minus)]
    earliest: dict[str, LostRow] = {}
    for row in candidates:
        if row.time is not None and np.isnat(row.time):
            continue
        other = earliest.get(row.unit)
        if other is None or (row.time, row.line) < (other.time, other.line):
            earliest[row.unit] = row
    if not earliest:
        return LostUnits()
    lost = list(earliest.values())
    if found.time is None:
        before = np.searchsorted(found.line[start], [x.line for x in lost])
    else:
        before = np.searchsorted(found.time[start], np.array([x.time for x in lost]))
    factors = {name: np.array([x.factors[name] for x in lost], dtype=object) for name in found.factors}
    return LostUnits(before.astype(np.intp), factors)


def other_places(base: Sequence[LayerUnits | None], month: Sequence[LayerUnits]) -> tuple[str, ...]:
    """A note for each layer whose units are usually read at other places than those of the baseline: averages then differ too."""

    def usual(units: LayerUnits) -> list[str]:
        there = ~np.isnan(units.spots)
        return [name for name, share in zip(units.locations, there.mean(axis=0), strict=True) if share >= USUAL_SHARE]

    notes = []
    for before, now in zip(base, month, strict=True):
        if before is None or not len(before) or not len(now):
            continue
        ours, theirs = usual(now), usual(before)
        gone, new = ([x for x in a if x not in b] for a, b in ((theirs, ours), (ours, theirs)))
        if gone or new:
            parts = [f"{', '.join(map(repr, names))} only {where}" for names, where in ((gone, "there"), (new, "here")) if names]
            notes.append(
                f"{now.layer.name} is read at other places than in the baseline ({'; '.join(parts)}): "
                "unit averages are compared all the same; a place that is thicker or thinner than the rest moves them"
            )
    return tuple(notes)


def repeat_spread(found: Readings, layer: Layer) -> tuple[int, float]:
    """Usual number of readings at a spot, and their variance pooled over all spots; of a derived layer that of both readings.

    The variance is 0 where no spot has two readings.
    """
    counts, variances = [], []
    for kind in (layer.source, layer.minus):
        if kind is None:
            continue
        rows = np.flatnonzero(found.reading == found.readings.index(kind))
        spots = np.column_stack([found.unit[rows], found.location[rows], found.attempt[rows]])
        _, spot, count = np.unique(spots, axis=0, return_inverse=True, return_counts=True)
        away = found.value[rows] - (np.bincount(spot, found.value[rows]) / count)[spot]
        freedom = int((count - 1).sum())
        counts.append(int(np.median(count)) if len(count) else 1)
        variances.append(float(away @ away) / freedom if freedom else 0.0)
    return min(counts), sum(variances)
