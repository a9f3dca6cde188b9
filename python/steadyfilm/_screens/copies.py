"""Units whose readings repeat another unit's, with the chance that honest reading does so."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from steadyfilm._screens.grids import display_step

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

FEWEST = 6
"""Readings below which equality says nothing."""
MOST_CHANCE = 1e-3
"""Expected pairs of honest units as alike as these, over all pairs of the table, up to which a copy is told."""
NEAR_SHARE = 0.8
"""A near copy has at least this share of its readings equal."""
WINDOW = 400
"""Near copies are looked for among that many units before."""


@dataclass(frozen=True)
class Copy:
    """A unit equal to an earlier one in ``equal`` of ``count`` readings; ``chance``: honest pairs as alike, expected."""

    unit: int
    source: int
    rows: Codes
    equal: int
    count: int
    chance: float


@dataclass(frozen=True)
class _Spread:
    """Variances of one layer's readings: between units, between places of a unit beyond that, between repeats."""

    unit: float
    place: float
    repeat: float


def by_repeat(order: Codes, repeat: NDArray[np.object_] | None) -> Codes:
    """Rows by the number of their reading where the table has one, so that two units compare however their rows are sorted.

    Examples
    --------
    >>> by_repeat(np.array([0, 1, 2]), np.array(["10", "9", "9"], dtype=object)).tolist()
    [1, 2, 0]
    """
    if repeat is None:
        return order
    words = [str(repeat[i]) for i in order]
    return order[sorted(range(len(order)), key=lambda k: (len(words[k]), words[k]))]


def copied_units(
    unit: Codes, layer: Codes, place: Codes, value: Floats, written: Floats, order: Codes, *, near: bool
) -> list[Copy]:
    """Copies among units, each told of the later unit; ``order``: row numbers, those of one place in the order of its readings.

    A unit counts as a copy when it has at least ``FEWEST`` readings, not all equal, and another unit has the very same
    ones in every place, repeat and layer (with ``near``: in at least ``NEAR_SHARE`` of them), and when at most ``MOST_CHANCE``
    honest pairs as alike are expected in the whole table.
    """
    order = order[np.argsort(place[order], kind="stable")]
    order = order[np.argsort(layer[order], kind="stable")]
    order = order[np.argsort(unit[order], kind="stable")]
    sheets = [rows for rows in np.split(order, np.flatnonzero(np.diff(unit[order])) + 1) if len(rows)]
    sheets = [rows for rows in sheets if len(rows) >= FEWEST and not np.all(value[rows] == value[rows[0]])]
    if len(sheets) < 2:
        return []
    judge = _Judge(unit, layer, place, value, written, order, len(sheets) * (len(sheets) - 1) // 2)
    found: list[Copy] = []
    contents: dict[tuple[object, ...], Codes] = {}
    shapes: dict[tuple[object, ...], list[Codes]] = {}
    for rows in sheets:
        shape = (tuple(layer[rows]), tuple(place[rows]))
        first = contents.setdefault((shape, tuple(value[rows])), rows)
        if first is not rows:
            chance = judge.chance(rows, 0)
            if chance <= MOST_CHANCE:
                found.append(Copy(int(unit[rows[0]]), int(unit[first[0]]), np.sort(rows), len(rows), len(rows), chance))
            continue
        if near:
            before = shapes.setdefault(shape, [])
            if copy := _nearest(rows, before[-WINDOW:], value, unit, judge):
                found.append(copy)
            before.append(rows)
    return found


def _nearest(rows: Codes, before: list[Codes], value: Floats, unit: Codes, judge: _Judge) -> Copy | None:
    if not before:
        return None
    equal = (value[np.stack(before)] == value[rows]).sum(axis=1)
    best = int(np.argmax(equal))
    count, same = len(rows), int(equal[best])
    if same < NEAR_SHARE * count or same < FEWEST:
        return None
    chance = judge.chance(rows, count - same)
    return (
        Copy(int(unit[rows[0]]), int(unit[before[best][0]]), np.sort(rows), same, count, chance)
        if chance <= MOST_CHANCE
        else None
    )


class _Judge:
    """Chance of equal readings when honest ones vary as normal components, displayed in steps.

    Two independent vectors from a density f agree to the step h in all n entries with chance about h^n times the integral of
    f^2, which for a normal density is h^n (4 pi)^(-n/2) det(covariance)^(-1/2). See cpp/methods/screens.md.
    """

    def __init__(self, unit: Codes, layer: Codes, place: Codes, value: Floats, written: Floats, order: Codes, pairs: int) -> None:
        self.unit, self.layer, self.place, self.value, self.written = unit, layer, place, value, written
        self.order, self.pairs = order, pairs

    @cached_property
    def spread(self) -> dict[int, _Spread]:
        """By layer; computed only when a pair is alike at all."""
        found = {}
        for k in np.unique(self.layer[self.order]).tolist():
            rows = self.order[self.layer[self.order] == k]
            found[k] = _spread(self.unit[rows], self.place[rows], self.value[rows])
        return found

    @cached_property
    def linked(self) -> dict[int, float]:
        """By layer; see `_linked`."""
        rows = self.order
        return _linked(self.unit[rows], self.layer[rows], self.place[rows], self.value[rows])

    def chance(self, rows: Codes, unlike: int) -> float:
        """Expected pairs that agree in all but ``unlike`` of these readings."""
        written, value = self.written[rows], self.value[rows]
        step = display_step(written, 1.0)
        if step == 0.0:
            return 0.0
        nonzero = written != 0
        step *= float(np.median(np.abs(value[nonzero] / written[nonzero]))) if nonzero.any() else 1.0
        log_chance, widest = 0.0, 0.0
        for k in np.unique(self.layer[rows]).tolist():
            of = self.spread[k]
            repeat = of.repeat + step**2 / 12.0
            counts = np.unique(self.place[rows[self.layer[rows] == k]], return_counts=True)[1]
            own = repeat + counts * of.place
            log_det = float(np.sum((counts - 1) * math.log(repeat) + np.log(own))) + math.log1p(
                of.unit * float(np.sum(counts / own))
            )
            total = int(counts.sum())
            log_chance += min(0.0, total * math.log(step) - 0.5 * total * math.log(4.0 * math.pi) - 0.5 * log_det)
            # Layers read at one spot go together: given the one, the other leaves less room.
            log_chance -= 0.5 * len(counts) * math.log1p(-self.linked.get(k, 0.0))
            widest = max(widest, repeat + of.place + of.unit)
        if unlike:
            log_one = math.log(step) - 0.5 * math.log(4.0 * math.pi * widest)
            log_chance += math.log(math.comb(len(rows), unlike)) - unlike * min(0.0, log_one)
        return self.pairs * math.exp(min(0.0, log_chance))


def _spot_means(unit: Codes, place: Codes, value: Floats) -> tuple[Floats, Floats, Floats]:
    """Means, counts and sums of squares about them, shape (units, places); NaN means where there is no reading."""
    shape = (int(unit.max()) + 1, int(place.max()) + 1)
    count, total, square = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    np.add.at(count, (unit, place), 1.0)
    np.add.at(total, (unit, place), value)
    mean = np.divide(total, count, out=np.full(shape, np.nan), where=count > 0)
    np.add.at(square, (unit, place), (value - mean[unit, place]) ** 2)
    return mean, count, square


def _spread(unit: Codes, place: Codes, value: Floats) -> _Spread:
    mean, count, square = _spot_means(unit, place, value)
    freedom = float(np.maximum(count - 1, 0).sum())
    repeat = float(square.sum()) / freedom if freedom else 0.0
    there = ~np.isnan(mean)
    full = mean[:, there.sum(axis=0) > 1]
    full = full[~np.isnan(full).any(axis=1)] if full.shape[1] else full
    if full.shape[0] < 2 or not full.shape[1]:
        return _Spread(0.0, 0.0, repeat)
    places = full.shape[1]
    spots = float(np.mean(np.var(full, axis=0, ddof=1)))
    averages = float(np.var(full.mean(axis=1), ddof=1))
    between = max(0.0, (places * averages - spots) / (places - 1)) if places > 1 else 0.0
    return _Spread(between, max(0.0, spots - between - repeat / float(count[count > 0].mean())), repeat)


def _linked(unit: Codes, layer: Codes, place: Codes, value: Floats) -> dict[int, float]:
    """Largest squared correlation of each layer's spot means with those of an earlier layer, at most 0.99."""
    codes = np.unique(layer).tolist()
    shape = (int(unit.max()) + 1, int(place.max()) + 1)
    means = {}
    for k in codes:
        of = layer == k
        mean = np.full(shape, np.nan)
        found = _spot_means(unit[of], place[of], value[of])[0]
        mean[: found.shape[0], : found.shape[1]] = found
        number = np.maximum(1, (~np.isnan(mean)).sum(axis=0))
        means[k] = (mean - np.nansum(mean, axis=0) / number).ravel()
    out: dict[int, float] = {}
    for j, k in enumerate(codes):
        for earlier in codes[:j]:
            both = ~np.isnan(means[k]) & ~np.isnan(means[earlier])
            a, b = means[k][both], means[earlier][both]
            power = float(a @ a) * float(b @ b)
            out[k] = max(out.get(k, 0.0), min(0.99, float(a @ b) ** 2 / power)) if power > 0 else out.get(k, 0.0)
    return out
