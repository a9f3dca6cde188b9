"""The arithmetic of a baseline: additive effects by least squares, spread from neighbors, and whether spreads differ."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import plural
from steadyfilm._points import MonitorPoints, breaks_in_order, order_of
from steadyfilm.errors import InvalidInputError

__all__ = ["AdditiveFit", "NeighborSpread", "bartlett_pvalue"]

Floats = NDArray[np.float64]
Labels = NDArray[np.object_]

#: Sigma of one stream and its degrees of freedom.
StreamSpread = tuple[float, float]

# Relative size below which what is left of a direction, or of a residual, is rounding.
_ROUNDING = 1e-8


class AdditiveFit:
    """Least squares for value = mean + one effect a factor; the effects of each factor average 0 over the points.

    Every factor has one column a level, so the columns overlap; the solution of least norm is taken, and what the data cannot
    tell apart is named instead of guessed.
    """

    def __init__(self, values: Floats, factors: Mapping[str, Labels], stream_columns: Sequence[str]) -> None:
        count = values.size
        self.levels = {name: sorted(set(words.tolist())) for name, words in factors.items()}
        self.stream_columns = tuple(stream_columns)
        self._place: dict[tuple[str, str], int] = {}
        for name, levels in self.levels.items():
            for level in levels:
                self._place[name, level] = 1 + len(self._place)
        design = np.zeros((count, 1 + len(self._place)))
        design[:, 0] = 1.0
        for name, words in factors.items():
            design[np.arange(count), [self._place[name, word] for word in words.tolist()]] = 1.0

        rough = float(np.mean(values)) if count else math.nan
        solution, _, rank, _ = np.linalg.lstsq(design, values - rough, rcond=None) if count else (None, None, 0, None)
        self.freedom = count - int(rank)
        if solution is None or self.freedom < 1:
            raise InvalidInputError(
                f"{plural(count, 'point')} cannot carry the {plural(max(int(rank), 1), 'level mean')} asked for: "
                "give more points or fewer columns",
                function="baseline",
                argument="data",
            )
        self._share = design.mean(axis=0)
        # The directions that the points determine: as many as the rank, the others are rounding.
        sizes, directions = np.linalg.eigh(design.T @ design)
        determined = directions[:, -int(rank) :]
        self._reachable = determined @ determined.T
        self._inverse = (determined / sizes[-int(rank) :]) @ determined.T
        self.mean = rough + float(solution[0])
        self.effects: dict[str, dict[str, float]] = {}
        for name, levels in self.levels.items():
            places = [self._place[name, level] for level in levels]
            average = float(self._share[places] @ solution[places])
            self.mean += average
            self.effects[name] = {level: float(solution[place]) - average for level, place in zip(levels, places, strict=True)}
        fitted = np.full(count, self.mean - rough)
        for name, words in factors.items():
            fitted += [self.effects[name][word] for word in words.tolist()]
        self.residual = (values - rough) - fitted
        # Values that agree may leave a rest of rounding; their spread is exactly 0.
        self.residual[np.abs(self.residual) <= 64 * np.finfo(float).eps * float(np.max(np.abs(values)))] = 0.0
        self.sum_squares = float(self.residual @ self.residual)
        self.sd = math.sqrt(self.sum_squares / self.freedom)

    @property
    def confounded(self) -> tuple[str, ...]:
        """Columns with an effect that the data cannot tell from another column's."""
        return tuple(
            name for name, levels in self.levels.items() if not all(self._clear(self._contrast(name, level)) for level in levels)
        )

    def center(self, levels: Mapping[str, str]) -> tuple[float, float, bool]:
        """Center of a stream at the average of the adjusting factors, its standard error, and whether the data determine it."""
        direction = self._share.copy()
        center = self.mean
        for name, level in levels.items():
            center += self.effects[name][level]
            direction += self._contrast(name, level)
        error = self.sd * math.sqrt(max(0.0, float(direction @ self._inverse @ direction)))
        return center, error, self._clear(direction)

    def by_sd(self, streams: Labels, names: Sequence[str]) -> dict[str, StreamSpread]:
        """Residual standard deviation of single streams; each bears its share of the degrees of freedom."""
        found = {}
        for name in names:
            mine = self.residual[streams == name]
            freedom = mine.size * self.freedom / self.residual.size
            found[name] = (math.sqrt(float(mine @ mine) / freedom), freedom)
        return found

    def _contrast(self, name: str, level: str) -> Floats:
        """Direction of one effect: the level against the average of its factor."""
        places = [self._place[name, other] for other in self.levels[name]]
        direction = np.zeros(self._share.size)
        direction[places] = -self._share[places]
        direction[self._place[name, level]] += 1.0
        return direction

    def _clear(self, direction: Floats) -> bool:
        return bool(np.max(np.abs(self._reachable @ direction - direction)) < _ROUNDING)


class NeighborSpread:
    """Moving ranges of residuals of neighbors in a stream, never across what interrupts it."""

    def __init__(self, points: MonitorPoints, residual: Floats) -> None:
        order, offsets, streams = order_of(points)
        self._streams = streams
        breaks = breaks_in_order(points, order, offsets).astype(bool)
        breaks[offsets[:-1][np.diff(offsets) > 0]] = True
        left = residual[order]
        usable = ~breaks[1:] & np.isfinite(left[1:]) & np.isfinite(left[:-1])
        self.ranges = np.abs(np.diff(left))[usable]
        self._stream = np.repeat(np.arange(len(streams)), np.diff(offsets))[1:][usable]
        self._chained = np.concatenate([[False], usable[1:] & usable[:-1]])[usable] if usable.size else usable
        self.d2 = _core.d2(2)
        self.mean_range = float(np.mean(self.ranges)) if self.ranges.size else math.nan
        self.sigma = self.mean_range / self.d2
        before, after = left[:-1][usable], left[1:][usable]
        size = math.sqrt(float(before @ before) * float(after @ after))
        self.lag1 = float(before @ after) / size if size > 0.0 else 0.0

    def by_moving_range(self, names: Sequence[str]) -> dict[str, StreamSpread]:
        """Sigma of single streams from their own moving ranges; a stream without any is left out."""
        found = {}
        for name in names:
            mine = self._stream == self._streams.index(name)
            count = int(mine.sum())
            if count:
                freedom = _core.moving_range_degrees_of_freedom(count, int(self._chained[mine].sum()))
                found[name] = (float(np.mean(self.ranges[mine])) / self.d2, freedom)
        return found


def bartlett_pvalue(spreads: Mapping[str, StreamSpread]) -> float:
    """Chance of spreads at least so different when all are equal (Bartlett 1937); NaN for fewer than two streams.

    For moving ranges it is approximate: their degrees of freedom are those of a chi distribution with the same mean and variance.
    """
    if len(spreads) < 2:
        return math.nan
    variances = np.array([sigma**2 for sigma, _ in spreads.values()])
    freedoms = np.array([freedom for _, freedom in spreads.values()])
    if not variances.any():
        return 1.0
    if not variances.all():
        return 0.0
    total = float(freedoms.sum())
    together = float(freedoms @ variances) / total
    statistic = total * math.log(together) - float(freedoms @ np.log(variances))
    correction = 1 + (float(np.sum(1 / freedoms)) - 1 / total) / (3 * (freedoms.size - 1))
    return float(_core.chi_square_survival(max(0.0, statistic / correction), freedoms.size - 1))
