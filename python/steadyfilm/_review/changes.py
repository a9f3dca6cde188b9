"""What changed, where, from when to when: steps and drifts over all units or one stream.

A change is told only if quiet series, simulated under everything the baseline leaves open about the noise, seldom show
as much anywhere in the same search. Recorded stretches (a batch, say) are few, so they are also searched by themselves
and need less. Changes are found one after another and moved about until none explains more elsewhere; because the
first one found can lead astray when several overlap, the search starts from each scope and shape and the best whole
account wins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm._review.noise import Noise, fit_noise, generalized_scale, simulate_noise
from steadyfilm._review.search import Change, Named, Pairs, Scope, Search, Series, Weighed, all_pairs, block_edges, crossed

__all__ = ["Change", "Found", "Named", "Scan", "Scope", "Series", "find_changes"]

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

MOST_BLOCKS = 64
MOST_CHANGES = 8
QUIET_SERIES = 1000
MOST_SIMULATED = 20_000_000
"""Long series are simulated less often, so that the simulation fits into memory; never less than 200 times."""
CONFOUNDED = 1e-8
"""Share of a stream's information about a change that must be left beside the other changes."""
SET_95 = 3.68
"""Log likelihood below the best that a start may lie and still be in the 95 % set of a step's start: from
P(2 log LR <= x) -> (1 - exp(-x/2))^2 for independent points, solved for 95 %."""


@dataclass(frozen=True)
class Found:
    """One change with its size, its interval and how sure its ends are. Units count from the month's first."""

    change: Change
    size: float
    """Of a step; of a drift its growth a day."""
    error: float
    """Half width of the interval of the size."""
    by_scope: tuple[tuple[int, float, float], ...]
    """Scope, size and half width on each stream apart."""
    explained: float
    """Twice the log likelihood ratio against no such change, all others kept."""
    other_shape: float
    """The same for the best change of the other shape about there."""
    threshold: float
    starts: tuple[int, int]
    """Earliest and latest start in the 95 % set."""
    ends: tuple[int, int]


@dataclass(frozen=True)
class Scan:
    """All changes of one series, and the noise they were judged against."""

    changes: tuple[Found, ...]
    noise: Noise
    levels: tuple[tuple[float, float], ...]
    """Size and half width of each contrast of usual levels, the changes taken into account; NaN where it cannot be told."""
    tested: int
    """How many candidate changes a search compares."""
    threshold: float
    named_threshold: float


@dataclass(frozen=True)
class _Bars:
    """What a change must explain to be told."""

    free: float
    named: float

    def of(self, change: Change) -> float:
        return self.free if change.named is None else self.named


def find_changes(series: Series, *, significance: float, shortest: int, level: float, seed: int) -> Scan:
    """All changes that quiet series would seldom show.

    Parameters
    ----------
    series : Series
    significance : float
        Chance that a quiet month shows any change in the search over all starts and ends, and the same again in the
        search over recorded stretches.
    shortest : int
        Fewest units of a change.
    level : float
        Confidence level of the intervals.
    seed : int
        Of the simulation; the same seed gives the same answer.
    """
    rng = np.random.default_rng(seed)
    draws = int(np.clip(MOST_SIMULATED // len(series.values), 200, QUIET_SERIES))
    fit = slice(0, series.first) if series.first else slice(None)
    days = int(series.day.max()) + 1
    noise = fit_noise(series.values[fit], independent(series.known[fit]), series.day[fit], length=days, draws=draws, rng=rng)
    edges = block_edges(series.day[series.first :], MOST_BLOCKS)
    if noise.sigma_unit <= 0 or len(edges) < 3:
        return Scan((), noise, ((np.nan, np.nan),) * len(series.contrasts), 0, np.inf, np.inf)
    search = Search(series, noise, shortest)
    quiet = simulate_noise(noise, series.day, rng)
    # Each quiet series is measured by its own estimate of sigma, as the data are by theirs.
    own = generalized_scale(quiet[fit], independent(series.known[fit]), series.day[fit], noise)
    quiet *= noise.sigma_unit / own
    pairs = all_pairs(edges)
    nothing = np.empty((len(series.values), 0))
    tested, top = 0, np.zeros(draws)
    for _, _, start, _, gains in search.scan(pairs, nothing, quiet):
        tested += len(start)
        top = np.maximum(top, gains.max(axis=0))
    named, columns = search.named
    named_top = np.zeros(draws)
    if named:
        clean = search.cleaned(columns, nothing)
        information = np.einsum("nc,nc->c", clean, columns)
        seen = information > 1e-9
        named_top = ((clean[:, seen].T @ quiet) ** 2 / information[seen, None] / noise.sigma_unit**2).max(axis=0)
    bars = _Bars(float(np.quantile(top, 1 - significance)), float(np.quantile(named_top, 1 - significance)) if named else np.inf)
    kept = _as_they_moved(search, _best_account(search, pairs, bars), bars)
    if kept and not series.first:
        # Sigma came from the same units, changes included; what is told of the changes needs it without them.
        explained = np.column_stack([series.known, search.columns(kept)])
        search.scale = min(search.scale, float(generalized_scale(series.values[:, None], explained, series.day, noise)[0]))
        quiet *= search.scale / noise.sigma_unit
    changes = tuple(_described(search, pairs, kept, i, quiet, level, bars) for i in range(len(kept)))
    levels = _level_sizes(search, kept, quiet, level)
    return Scan(changes, noise, levels, tested + len(named), bars.free, bars.named)


def independent(columns: Floats) -> Floats:
    """The columns that are no combination of those before them."""
    keep: list[int] = []
    for j in range(columns.shape[1]):
        if np.linalg.matrix_rank(columns[:, [*keep, j]]) > len(keep):
            keep.append(j)
    return columns[:, keep]


def _best_account(search: Search, pairs: Pairs, bars: _Bars) -> list[Change]:
    """The set of changes that explains most beyond what its changes must explain, from several beginnings."""
    nothing = np.empty((len(search.series.values), 0))
    beginnings = []
    for s in range(len(search.series.scopes)):
        found = [search.best(pairs, nothing, shape, s) for shape in ("step", "drift")] + [search.best_named(nothing, s)]
        beginnings += [x for x in found if x is not None and x.explained > bars.of(x.change)]
    best: list[Change] = []
    score = 0.0
    for first in dict.fromkeys(x.change for x in sorted(beginnings, key=lambda x: -x.explained)):
        account = _grown(search, pairs, bars, first)
        gain = search.total(account) - sum(bars.of(x) for x in account) if account else 0.0
        if gain > score + 1e-9:
            best, score = account, gain
    return sorted(best, key=lambda x: (x.start, x.end, x.scope))


def _as_they_moved(search: Search, kept: list[Change], bars: _Bars) -> list[Change]:
    """Where both of two streams moved one way at one time by different amounts, each told by itself.

    A step of both with another step of one says the same with as many sizes; yet where that one is a step back, nothing fell.
    """
    fine = [s for s, scope in enumerate(search.series.scopes) if s and not scope.coarse]
    if len(fine) != 2:
        return kept
    for whole in [x for x in kept if x.scope == 0 and x.shape == "step" and not _of_session(search, x)]:
        for part in [x for x in kept if x.scope in fine and x.shape == "step"]:
            rest = [x for x in kept if x not in (whole, part)]
            for ends in (whole, part):
                apart = [Change("step", s, ends.start, ends.end) for s in fine]
                account = [*rest, *apart]
                size = _sizes(search, apart, search.columns(rest))
                strong = all(_alone(search, account, i) > bars.of(x) for i, x in enumerate(account))
                if size[0] * size[1] > 0 and strong and search.total(account) > search.total(kept) - 2 * SET_95:
                    return sorted(account, key=lambda x: (x.start, x.end, x.scope))
    return kept


def _of_session(search: Search, x: Change) -> bool:
    return x.named is not None and search.series.named[x.named].session


def _sizes(search: Search, changes: Sequence[Change], others: Floats) -> Floats:
    columns = search.columns(changes)
    clean = search.cleaned(columns, others)
    return np.asarray(np.linalg.pinv(clean.T @ columns, hermitian=True) @ (clean.T @ search.series.values))


def _grown(search: Search, pairs: Pairs, bars: _Bars, first: Change) -> list[Change]:
    """Add changes while they explain enough; the first one keeps its scope and shape until all are found."""
    kept = [first]
    while len(kept) < MOST_CHANGES:
        kept = _refined(search, pairs, bars, kept, held=True)
        columns = search.columns(kept)
        found = [search.best(pairs, columns), search.best_named(columns)]
        passing = [x for x in found if x is not None and x.explained > bars.of(x.change)]
        if not passing:
            break
        kept = [*kept, max(passing, key=lambda x: x.explained - bars.of(x.change)).change]
    kept = _refined(search, pairs, bars, kept, held=False)
    while kept:
        gains = [_alone(search, kept, i) / bars.of(x) for i, x in enumerate(kept)]
        worst = int(np.argmin(gains))
        if gains[worst] > 1:
            break
        kept = kept[:worst] + kept[worst + 1 :]
    return kept


def _alone(search: Search, kept: Sequence[Change], i: int) -> float:
    """What one change explains beside the others."""
    others = search.columns([x for j, x in enumerate(kept) if j != i])
    return float(search.explained(search.column(kept[i])[:, None], others)[0])


def _refined(search: Search, pairs: Pairs, bars: _Bars, kept: list[Change], *, held: bool) -> list[Change]:
    """Move each change to where it explains most beside the others, until none moves."""
    kept = list(kept)
    for _ in range(4):
        before = list(kept)
        for i, x in enumerate(kept):
            others = search.columns([y for j, y in enumerate(kept) if j != i])
            if held and i == 0:
                rough = None if x.named is not None else search.best(pairs, others, x.shape, x.scope)
            else:
                rough = search.best(pairs, others)
            if rough is not None:
                kept[i] = _to_the_unit(search, pairs, bars, rough, others, held and i == 0).change
        if kept == before:
            break
    return kept


def _to_the_unit(search: Search, pairs: Pairs, bars: _Bars, rough: Weighed, others: Floats, held: bool) -> Weighed:
    """The same change with its ends to the unit, or the recorded stretch that the data do not tell from it.

    A recorded stretch is one of few, a free drift the best of thousands: against a drift each counts by what it explains beyond
    its bar.
    """
    x = rough.change
    near = crossed(_between_blocks(pairs, x.start), _between_blocks(pairs, x.end))
    fine = search.best(near, others, x.shape, x.scope) or rough
    named = search.best_named(others, x.scope if held else None)
    if named is None or (held and x.shape == "drift"):
        return fine
    worth = bars.named - bars.free if x.shape == "drift" else 0.0
    return named if named.explained - worth > fine.explained - 2 * SET_95 else fine


def _between_blocks(pairs: Pairs, at: int) -> Codes:
    edges = np.unique(np.concatenate(pairs))
    k = int(np.searchsorted(edges, at))
    low, high = edges[max(k - 1, 0)], edges[min(k + 1, len(edges) - 1)]
    return np.arange(low, high + 1) if high - low < 64 else np.unique(np.linspace(low, high, 64).round().astype(np.intp))


def _described(search: Search, pairs: Pairs, kept: Sequence[Change], i: int, quiet: Floats, level: float, bars: _Bars) -> Found:
    x = kept[i]
    others = search.columns([y for j, y in enumerate(kept) if j != i])
    column = search.column(x)
    gain = float(search.explained(column[:, None], others)[0])
    size, error = _size(search, column[:, None], others, quiet, level)[0]
    other = search.best(pairs, others, "drift" if x.shape == "step" else "step", x.scope)
    scopes = search.series.scopes
    fine = [s for s in range(1, len(scopes)) if not scopes[s].coarse]
    streams = [s for s in fine if (scopes[s].units & (column != 0)).sum() >= 2]
    # A stream with a change of its own in that time is told there, not as one that stayed.
    own = {y.scope for y in kept if y != x and y.start < x.end and x.start < y.end}
    apart = [s for s in fine if s not in own and not (scopes[s].units & scopes[x.scope].units).any()]
    wanted = streams if x.scope == 0 else [x.scope, *apart]
    # Each stream with its own size, all at once.
    split = [search.column(Change(x.shape, s, x.start, x.end)) for s in wanted]
    by_scope = tuple((s, *found) for s, found in zip(wanted, _apart(search, split, others, quiet, level), strict=True) if found)
    return Found(
        change=x,
        size=size,
        error=error,
        by_scope=by_scope,
        explained=gain,
        other_shape=other.explained if other else 0.0,
        threshold=bars.of(x),
        starts=_set(search, x, others, gain, "start"),
        ends=_set(search, x, others, gain, "end"),
    )


def _set(search: Search, x: Change, others: Floats, gain: float, which: str) -> tuple[int, int]:
    """Earliest and latest start (or end) that the data do not tell from the one found."""
    if which == "start":
        pairs = crossed(_candidates(0, x.end - 1, x.start), np.array([x.end], dtype=np.intp))
    else:
        pairs = crossed(np.array([x.start], dtype=np.intp), _candidates(x.start + 1, search.length, x.end))
    low, high = (x.start, x.start) if which == "start" else (x.end, x.end)
    for _, _, start, end, gains in search.scan(pairs, others, search.series.values[:, None], x.shape, x.scope):
        near = (start if which == "start" else end)[gains[:, 0] > gain - 2 * SET_95]
        if len(near):
            low, high = min(low, int(near.min())), max(high, int(near.max()))
    return low, high


def _candidates(low: int, high: int, at: int) -> Codes:
    close = np.arange(max(low, at - 200), min(high, at + 200) + 1)
    return np.unique(np.concatenate([np.linspace(low, high, 64).round().astype(np.intp), close]))


def _size(search: Search, columns: Floats, others: Floats, quiet: Floats, level: float) -> list[tuple[float, float]]:
    """Sizes of changes, estimated together, with half widths: how far from 0 quiet series' estimates lie in that share."""
    clean = search.cleaned(columns, others)
    inverse = np.linalg.pinv(clean.T @ columns, hermitian=True)
    sizes = inverse @ (clean.T @ search.series.values)
    half = np.quantile(np.abs(inverse @ (clean.T @ quiet)), level, axis=1)
    return [(float(size), float(error)) for size, error in zip(sizes, half, strict=True)]


def _apart(
    search: Search, columns: Sequence[Floats], others: Floats, quiet: Floats, level: float
) -> list[tuple[float, float] | None]:
    """Sizes with half widths, None where nothing tells a stream's size: too few units, or another change says the same of it."""
    out: list[tuple[float, float] | None] = [None] * len(columns)
    use = [k for k, column in enumerate(columns) if (column != 0).sum() >= 2]
    if not use:
        return out
    split = np.column_stack([columns[k] for k in use])
    clean = search.cleaned(split, others)
    scale = 1.0 / np.sqrt(np.maximum((search.cleaned(split, others[:, :0]) * split).sum(axis=0), np.finfo(float).tiny))
    gram = scale[:, None] * (clean.T @ split) * scale
    told = np.abs(np.linalg.pinv(gram, rcond=CONFOUNDED, hermitian=True) @ gram - np.eye(len(use))).max(axis=1) < 1e-6
    kept = [k for k, ok in zip(use, told, strict=True) if ok]
    if kept:
        sizes = _size(search, np.column_stack([columns[k] for k in kept]), others, quiet, level)
        for k, found in zip(kept, sizes, strict=True):
            out[k] = found
    return out


def _level_sizes(search: Search, kept: Sequence[Change], quiet: Floats, level: float) -> tuple[tuple[float, float], ...]:
    """Differences of usual levels, changes estimated with them."""
    contrasts = search.series.contrasts
    if not len(contrasts):
        return ()
    columns = np.column_stack([search.series.known, search.columns(kept)])
    wide = np.column_stack([contrasts, np.zeros((len(contrasts), len(kept)))])
    weighted = search.precision.times(columns)
    gram = columns.T @ weighted
    inverse = np.linalg.pinv(gram, hermitian=True)
    told = np.abs(wide @ inverse @ gram - wide).max(axis=1) < 1e-6
    rows = wide @ inverse @ weighted.T
    sizes = rows @ search.series.values
    half = np.quantile(np.abs(rows @ quiet), level, axis=1)
    return tuple((float(a), float(b)) if ok else (np.nan, np.nan) for a, b, ok in zip(sizes, half, told, strict=True))
