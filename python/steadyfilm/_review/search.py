"""What a candidate change explains: generalized least squares for thousands of intervals at once.

A change is a column beside the usual levels: 1 on its units (a step), or 1, 2, 3 ... by working day (a drift). With P
the precision after the levels are taken out, a column x explains (x'Py)^2 / (x'Px); for intervals both forms are
differences of cumulated sums, so that one pass serves them all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from steadyfilm._review.noise import Noise, Precision, between_days

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.intp]
Pairs = tuple[Codes, Codes]

SHORTEST_DRIFT = 4
"""Fewest working days (without times: units) that a drift lasts; in less it cannot be told from a step."""
LEAST_INFORMATION = 1e-6
"""A change whose column is nearly a combination of usual levels cannot be seen at all; share of its units' information."""


@dataclass(frozen=True)
class Scope:
    """Units that a change may concern: all, or those of one stream."""

    name: str
    units: Flags
    coarse: bool = False
    """Whether it gathers several streams: one gun in all booths. Streams that are not coarse have no unit in common."""


@dataclass(frozen=True)
class Named:
    """A recorded stretch of units that may explain a change: from ``start`` up to ``end`` (exclusive), of the month.

    It concerns all units, or those of one stream if what was recorded belongs to that stream.
    """

    column: str
    label: str
    scope: int
    start: int
    end: int
    session: bool = False
    """Units read in a row with one gauge on one day: the column names the gauge, which comes and goes all the time."""


@dataclass(frozen=True)
class Series:
    """Baseline units (if any) and then the month's, in order of production.

    ``known`` are the columns of usual levels; ``day`` counts working days over both parts, not falling.
    """

    values: Floats
    known: Floats
    day: Codes
    first: int
    """Index of the month's first unit; 0 when there is no baseline."""
    scopes: tuple[Scope, ...]
    """The first one holds all units."""
    named: tuple[Named, ...] = ()
    contrasts: Floats = field(default_factory=lambda: np.empty((0, 0)))
    """Rows of weights on ``known`` whose sizes are wanted beside the changes: differences of levels."""
    per_unit: bool = False
    """Without times a drift grows from unit to unit, else from working day to working day."""

    @property
    def clock(self) -> Floats:
        """What a drift grows with, counted from the month's first unit as 1."""
        steps = np.arange(len(self.values)) if self.per_unit else self.day
        return np.asarray(steps - steps[self.first] + 1, dtype=np.float64)


@dataclass(frozen=True)
class Change:
    """A step or drift of one scope's units from ``start`` up to ``end`` (exclusive), of the month."""

    shape: str
    scope: int
    start: int
    end: int
    named: int | None = None


@dataclass(frozen=True)
class Weighed:
    """A change and what it explains: twice the log likelihood ratio against its absence."""

    change: Change
    explained: float


class Search:
    """All products that the search needs, after the usual levels are taken out."""

    def __init__(self, series: Series, noise: Noise, shortest: int) -> None:
        self.series = series
        self.shortest = shortest
        self.scale = noise.sigma_unit
        self.precision = Precision(series.day, between_days(noise, int(series.day.max()) + 1))
        self.length = len(series.values) - series.first
        self.clock = series.clock
        self.named = self._named_columns()

    def column(self, change: Change) -> Floats:
        """A change of size 1 as a column over all units."""
        out = np.zeros(len(self.series.values))
        at = slice(self.series.first + change.start, self.series.first + change.end)
        out[at] = self.series.scopes[change.scope].units[at]
        if change.shape == "drift":
            clock = self.clock[at]
            out[at] *= clock - clock[0] + 1.0
        return out

    def columns(self, changes: Sequence[Change]) -> Floats:
        """Several changes as columns."""
        return np.column_stack([np.empty((len(self.series.values), 0)), *(self.column(x) for x in changes)])

    def cleaned(self, columns: Floats, kept: Floats) -> Floats:
        """P times columns, levels and kept changes taken out."""
        known = np.column_stack([self.series.known, kept])
        weighted = self.precision.times(known)
        inverse = np.linalg.pinv(known.T @ weighted, hermitian=True)
        return np.asarray(self.precision.times(columns) - weighted @ (inverse @ (weighted.T @ columns)))

    def explained(self, columns: Floats, kept: Floats) -> Floats:
        """What each column explains of the values, one at a time."""
        clean = self.cleaned(columns, kept)
        information = np.einsum("nc,nc->c", clean, columns)
        seen = information > LEAST_INFORMATION * np.maximum(np.einsum("nc,nc->c", columns, columns), 1.0)
        product = clean.T @ self.series.values
        return np.where(seen, product**2 / np.where(seen, information, 1.0) / self.scale**2, 0.0)

    def total(self, changes: Sequence[Change]) -> float:
        """What all changes together explain."""
        columns = self.columns(changes)
        clean = self.cleaned(columns, np.empty((len(columns), 0)))
        product = clean.T @ self.series.values
        return float(product @ np.linalg.pinv(clean.T @ columns, hermitian=True) @ product) / self.scale**2

    def _named_columns(self) -> tuple[list[Change], Floats]:
        """Recorded stretches as steps, those with units enough."""
        changes: list[Change] = []
        for n, stretch in enumerate(self.series.named):
            change = Change("step", stretch.scope, stretch.start, stretch.end, n)
            inside = self.column(change).sum()
            others = self.series.scopes[stretch.scope].units[self.series.first :].sum() - inside
            if inside >= self.shortest and (self.series.first or (others >= self.shortest and stretch.start > 0)):
                changes.append(change)
        return changes, self.columns(changes)

    def best_named(self, kept: Floats, scope: int | None = None) -> Weighed | None:
        """The recorded stretch that explains most."""
        changes, columns = self.named
        which = [k for k, x in enumerate(changes) if scope is None or x.scope == scope]
        if not which:
            return None
        gains = self.explained(columns[:, which], kept)
        top = int(np.argmax(gains))
        return Weighed(changes[which[top]], float(gains[top]))

    def best(self, pairs: Pairs, kept: Floats, shape: str | None = None, scope: int | None = None) -> Weighed | None:
        """The interval, among pairs of start and end, that explains most."""
        top = None
        for kind, s, start, end, gains in self.scan(pairs, kept, self.series.values[:, None], shape, scope):
            k = int(np.argmax(gains[:, 0]))
            if top is None or gains[k, 0] > top.explained:
                top = Weighed(Change(kind, s, int(start[k]), int(end[k])), float(gains[k, 0]))
        return top

    def scan(
        self, pairs: Pairs, kept: Floats, values: Floats, shape: str | None = None, scope: int | None = None
    ) -> Iterator[tuple[str, int, Codes, Codes, Floats]]:
        """For every scope and shape: starts, ends, and what they explain of each series, shape (intervals, series)."""
        first = self.series.first
        known = np.column_stack([self.series.known, kept])
        weighted = self.precision.times(known)
        inverse = np.linalg.pinv(known.T @ weighted, hermitian=True)
        clean = (self.precision.times(values) - weighted @ (inverse @ (weighted.T @ values)))[first:]
        edges, at = np.unique(np.concatenate(pairs), return_inverse=True)
        low, high = at[: len(pairs[0])], at[len(pairs[0]) :]
        clock = self.clock[first:]
        origin = 1.0 - clock[edges[low]]
        span = clock[edges[high] - 1] - clock[edges[low]]
        for s, one_scope in enumerate(self.series.scopes):
            if scope is not None and s != scope:
                continue
            flags = one_scope.units[first:].astype(np.float64)
            timed = flags * clock

            def over(part: Floats, columns: Floats) -> Floats:
                """Sums over every interval."""
                total = _cumulative(part[:, None] * columns, edges)
                return np.asarray(total[high] - total[low])

            units = over(flags, flags[:, None])[:, 0]
            fits = units >= self.shortest
            step_fits = fits
            if first == 0:
                # Without a baseline the earlier part is the reference: a step from the first unit is the later one turned around.
                fits = fits & (flags.sum() - units >= self.shortest)
                step_fits = fits & (edges[low] > 0)
            by_day = [self._by_day(part, edges) for part in (flags, timed)]
            by_level = [_cumulative(part[:, None] * weighted[first:], edges) for part in (flags, timed)]

            def form(i: int, j: int, direct: Floats, day: list[Floats], level: list[Floats]) -> Floats:
                """x_i' P x_j for every interval, from the same between edges."""
                shared = day[i] @ self.precision.middle @ day[j].T + level[i] @ inverse @ level[j].T
                diagonal = np.diagonal(shared)
                return np.asarray(direct - (diagonal[high] + diagonal[low] - shared[high, low] - shared[low, high]))

            information = form(0, 0, units, by_day, by_level)
            product = over(flags, clean)
            seen = step_fits & (information > LEAST_INFORMATION * np.maximum(units, 1.0))
            if seen.any() and shape in (None, "step"):
                gains = product[seen] ** 2 / information[seen, None] / self.scale**2
                yield "step", s, edges[low[seen]], edges[high[seen]], gains
            if shape in (None, "drift"):
                cross = form(0, 1, over(flags, timed[:, None])[:, 0], by_day, by_level)
                square = form(1, 1, over(timed, timed[:, None])[:, 0], by_day, by_level)
                ramp = over(timed, clean) + origin[:, None] * product
                ramp_information = square + 2.0 * origin * cross + origin**2 * information
                seen = fits & (span >= SHORTEST_DRIFT - 1) & (ramp_information > LEAST_INFORMATION * np.maximum(units, 1.0))
                if seen.any():
                    gains = ramp[seen] ** 2 / ramp_information[seen, None] / self.scale**2
                    yield "drift", s, edges[low[seen]], edges[high[seen]], gains

    def _by_day(self, part: Floats, edges: Codes) -> Floats:
        """Sums by day over the units before each edge."""
        block = np.searchsorted(edges, np.arange(len(part)), side="right")
        sums = np.zeros((len(edges) + 1, self.precision.days))
        np.add.at(sums, (block, self.series.day[self.series.first :]), part)
        return np.asarray(np.cumsum(sums, axis=0)[:-1])


def _cumulative(columns: Floats, edges: Codes) -> Floats:
    total = np.vstack([np.zeros((1, columns.shape[1])), np.cumsum(columns, axis=0)])
    return np.asarray(total[edges])


def all_pairs(edges: Codes) -> Pairs:
    """Every interval between two of the edges."""
    low, high = np.triu_indices(len(edges), k=1)
    return edges[low], edges[high]


def crossed(starts: Codes, ends: Codes) -> Pairs:
    """Every interval from one of the starts to one of the ends."""
    a, b = (axis.ravel() for axis in np.meshgrid(starts, ends))
    return a[a < b], b[a < b]


def block_edges(day: Codes, most: int) -> Codes:
    """Block boundaries for the search: day starts, and the middle of each day while there is room."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(day)) + 1, [len(day)]])
    if len(starts) - 1 > most:
        starts = starts[np.unique(np.linspace(0, len(starts) - 1, most + 1).round().astype(int))]
    while 2 * (len(starts) - 1) <= most and np.diff(starts).max() > 4:
        starts = np.unique(np.concatenate([starts, (starts[:-1] + starts[1:]) // 2]))
    return np.unique(starts).astype(np.intp)
