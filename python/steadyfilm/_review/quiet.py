"""Quiet periods by the thousand, in sigma of a plotted point: what charts see when nothing is wrong.

Whatever lasts some days in the baseline, batches of paint too, is in its day effect and its resemblance to the day before: with
a handful of batches a month a component of their own could not be told from it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from steadyfilm._review.noise import Noise
    from steadyfilm._review.series import Usual

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
T = TypeVar("T")

FEW = 20
"""So many series of the overall mean square steady those of a grid point."""


@dataclass(frozen=True)
class Drawn:
    """Quiet series in sigma of a unit, shape (units, series)."""

    values: Floats
    alone: Floats
    """The same units without their days."""
    cell: Codes
    """Point of the noise's grid that each series has its days from."""


def draw_quiet(noise: Noise, taken: Floats, day: Codes, series: int, rng: np.random.Generator) -> Drawn:
    """Quiet series whose grid points come as often as ``taken`` says, to within one: that scatters less than drawing them."""
    places = (np.arange(series) + rng.random()) / series
    # In an order of their own: a sum over layers joins series by their place.
    cell = rng.permutation(np.minimum(np.searchsorted(np.cumsum(taken), places), len(taken) - 1))
    alone = rng.standard_normal((len(day), series))
    phi = noise.correlation_grid[cell]
    fresh = np.sqrt(1.0 - phi**2)
    effect = rng.standard_normal((int(day.max()) + 1, series))
    for i in range(1, len(effect)):
        effect[i] = phi * effect[i - 1] + fresh * effect[i]
    effect *= noise.ratio_grid[cell]
    return Drawn(alone + effect[day], alone, cell)


def telling_shares(noise: Noise, cell: Codes, counts: Codes) -> Floats:
    """How often to take each grid point so that a mean of counts is soon known: as its share times their root mean square.

    That is the product of what its ratio and its correlation have, in a sample drawn by shares. A quarter goes by shares alone:
    no series weighs more than four.
    """
    squares = np.square(counts.astype(np.float64))
    overall = float(squares.mean())
    if overall == 0.0:
        return noise.share
    size = np.ones(len(noise.share))
    for grid in (noise.ratio_grid, noise.correlation_grid):
        for value in np.unique(grid):
            own = squares[grid[cell] == value]
            size[grid == value] *= (own.sum() + FEW * overall) / (len(own) + FEW) / overall
    wanted = noise.share * np.sqrt(size)
    return np.asarray(0.75 * wanted / wanted.sum() + 0.25 * noise.share)


class Standardizer:
    """Many series at once in sigma from their own centers, as `charting.usual_behavior` makes them of the data."""

    def __init__(self, usual: Usual, first: int, breaks: Mapping[str, NDArray[np.bool_]]) -> None:
        self.usual, self.first, self.breaks = usual, first, breaks
        known = usual.known
        fit = known[:first] if first else known
        left, scale, right = np.linalg.svd(fit, full_matrices=False)
        solid = scale > scale[0] * 1e-10
        self._basis = np.ascontiguousarray(left[:, solid])
        judged = known[first:].copy()
        # A level that the baseline never saw has effect 0: its factor adds what it adds on average.
        for columns, new in usual.unseen(first):
            judged[np.ix_(np.flatnonzero(new[first:]), np.array(columns))] = fit[:, columns].mean(axis=0)
        self._judged = judged @ (right[solid].T / scale[solid])
        self._free = len(fit) - int(solid.sum())

    def __call__(self, values: Floats) -> Floats:
        """Units of the period, shape (units, series)."""
        first = self.first
        fit = values[:first] if first else values
        inside = self._basis.T @ fit
        away = values[first:] - self._judged @ inside
        if first:
            squares = np.einsum("us,us->s", fit, fit) - np.einsum("us,us->s", inside, inside)
            return np.asarray(away / np.sqrt(squares / self._free))
        ranges = []
        for level in self.usual.streams:
            own = np.abs(np.diff(away[level.units], axis=0))
            pauses = self.breaks.get(level.value)
            ranges.append(own if pauses is None else own[~pauses[1:]])
        return np.asarray(away / (np.concatenate(ranges).mean(axis=0) * (np.sqrt(np.pi) / 2.0)))


def available_threads() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def in_blocks(work: Callable[[int], T], blocks: Sequence[int]) -> Iterator[T]:
    """Results of blocks in their order; who does a block is chance, what it does is not."""
    threads = min(available_threads(), len(blocks))
    if threads < 2:
        yield from map(work, blocks)
        return
    with ThreadPoolExecutor(threads) as pool:
        yield from pool.map(work, blocks)
