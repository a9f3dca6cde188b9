"""Which streams moved: each against the others, with the moved ones taken out of what the rest is compared with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core

__all__ = ["Compared", "Gathered", "Step", "best_step", "compare", "multiple_for"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FEW_STREAMS = 20
"""Up to this many streams, one that moved weighs so much in the others' mean that they are taken out one by one."""

MOST_PASSES = 12


@dataclass(frozen=True)
class Gathered:
    """Points stream after stream, each in the order of its moments; one point a stream and moment."""

    value: Floats
    stream: Ints
    moment: Ints
    offsets: Ints
    moments: int


@dataclass(frozen=True)
class Compared:
    """Differences and their charts; ``found`` are the core's columns, ``common`` those of the level common to all."""

    difference: Floats
    ewma: Floats
    level: Floats
    level_ewma: Floats
    found: dict[str, Any]
    common: dict[str, Any]
    reference: Bools
    multiples: Floats
    common_multiple: float


def multiple_for(chance: float, count: Ints) -> Floats:
    """Distance of limits that a steady point passes with this chance, sigma being from the moving ranges of ``count`` points.

    Student's t with 0.61 (n - 1) degrees of freedom, those of a mean moving range.
    """
    out = np.full(count.size, np.nan)
    for n in np.unique(count):
        freedom = max(0.61 * (float(n) - 1.0), 1.0)
        out[count == n] = -_core.student_t_quantile(chance / 2.0, freedom)
    return out


def compare(
    points: Gathered,
    centers: Floats,
    usable: Bools,
    *,
    others: bool,
    chance: float | None,
    sigma_multiple: float | None,
    smoothing: float,
    fewest_points: int,
    threads: int,
) -> Compared:
    """Chart the differences; while a stream moved, compare again without it, as long as half of the streams remain."""
    reference = usable.copy()
    for _ in range(MOST_PASSES):
        made = _once(points, centers, reference, others, chance, sigma_multiple, smoothing, fewest_points, threads)
        signals = made.found["beyond_count"] + made.found["ewma_count"]
        moved = reference & (signals > 0)
        if not others or not moved.any():
            return made
        if usable.sum() <= FEW_STREAMS:
            worst = int(np.argmax(np.where(moved, _strength(made, points), -1.0)))
            out = np.zeros(reference.size, dtype=bool)
            out[worst] = True
        else:
            out = moved
        left = reference & ~out
        if left.sum() < max(2, (usable.sum() + 1) // 2):
            return made
        reference = left
    return made


def _once(
    points: Gathered,
    centers: Floats,
    reference: Bools,
    others: bool,
    chance: float | None,
    sigma_multiple: float | None,
    smoothing: float,
    fewest_points: int,
    threads: int,
) -> Compared:
    difference = np.empty(points.value.size)
    level = np.empty(points.moments)
    middle = np.where(np.isnan(centers), 0.0, centers)
    _core.differences_from_others(points.value, points.stream, points.moment, middle, reference.view(np.uint8), difference, level)
    if not others:
        difference = points.value - middle[points.stream]
    present = ~np.isnan(difference)
    count = np.bincount(points.stream[present], minlength=centers.size).astype(np.int64)
    seen = int((~np.isnan(level)).sum())
    if sigma_multiple is None:
        assert chance is not None
        multiples, common_multiple = multiple_for(chance, count), float(multiple_for(chance, np.array([seen]))[0])
    else:
        multiples, common_multiple = np.full(centers.size, float(sigma_multiple)), float(sigma_multiple)

    ewma = np.empty(difference.size)
    found = _core.chart_streams(
        np.where(present, difference, 0.0),
        np.ascontiguousarray(present).view(np.uint8),
        points.offsets,
        multiples,
        smoothing,
        fewest_points,
        threads,
        ewma,
    )
    there = ~np.isnan(level)
    level_ewma = np.empty(level.size)
    common = _core.chart_streams(
        np.where(there, level, 0.0),
        np.ascontiguousarray(there).view(np.uint8),
        np.array([0, level.size], dtype=np.int64),
        np.array([common_multiple]),
        smoothing,
        fewest_points,
        1,
        level_ewma,
    )
    return Compared(difference, ewma, level, level_ewma, found, common, reference, multiples, common_multiple)


def _strength(made: Compared, points: Gathered) -> Floats:
    """Root mean square distance from the center, in sigma: a stream that moved stands out in most of its points."""
    sigma = np.where(made.found["sigma_within"] > 0.0, made.found["sigma_within"], 1.0)
    z = np.nan_to_num((made.difference - made.found["center"][points.stream]) / sigma[points.stream])
    strength: Floats = np.sqrt(np.bincount(points.stream, z * z, minlength=sigma.size) / np.maximum(made.found["count"], 1))
    return strength


@dataclass(frozen=True)
class Step:
    """Where one step fits best: the first point after it, its size, and its distance from nothing in standard errors."""

    first: int
    size: float
    strength: float


def best_step(x: Floats, sigma: float) -> Step:
    """The single step that takes most of the sum of squares away."""
    n = x.size
    if n < 2:
        return Step(0, float("nan"), 0.0)
    k = np.arange(1, n)
    before = np.cumsum(x)[:-1] / k
    after = (x.sum() - np.cumsum(x)[:-1]) / (n - k)
    weight = np.sqrt(k * (n - k) / n)
    at = int(np.argmax(weight * np.abs(after - before)))
    size = float(after[at] - before[at])
    return Step(at + 1, size, float(weight[at]) * abs(size) / sigma if sigma > 0.0 else float("inf"))
