"""Repeats at one place that agree better than the gauge can, by unit and by group; display rounding is in the comparison."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm._screens.grids import steps_of
from steadyfilm._screens.pattern import SECOND_GAUGE, Screened, Test
from steadyfilm._screens.sheet import Codes, Grid, Sheet
from steadyfilm._screens.tails import Steps, steps_of_sample, sum_at_most

NAME = "repeats too alike"
FEWEST_SPOTS = 60
"""Other places of the same gauge, display and layer needed to compare with."""
MOST_ALIKE = 2.0 / 3.0
"""Repeat standard deviation, as a share of that of the others, above which nothing is told: two hands differ by as much."""
DRAWS = 200_000
SEED = 20_250_302
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Spots:
    """Places read as often as planned. ``spread``: n times the sum of squares about the mean in display steps, a whole number."""

    stratum: tuple[str, ...]
    which: Codes
    """Position in ``stratum``: one gauge, display and layer."""
    serial: Codes
    first: Codes
    rows: tuple[Codes, ...]
    spread: NDArray[np.int64]
    repeats: tuple[int, ...]
    """Of each stratum."""
    steps: tuple[float, ...]
    """Display step of each stratum in the working unit."""
    layers: tuple[str, ...]


def find_spots(sheet: Sheet, rows: Codes, grids: Sequence[Grid], grid: Codes) -> Spots:
    """The places of first attempts, with the usual number of repeats of their layer."""
    rows = rows[(sheet.attempt[rows] == 1) & (grid[rows] >= 0)]
    places: dict[tuple[int, int, int, int], list[int]] = {}
    for i in rows.tolist():
        if grids[grid[i]].step > 0.0:
            key = (int(grid[i]), int(sheet.layer[i]), int(sheet.serial[i]), int(sheet.place[i]))
            places.setdefault(key, []).append(i)
    usual = {
        pair: Counter(len(at) for key, at in places.items() if key[:2] == pair).most_common(1)[0][0]
        for pair in dict.fromkeys(key[:2] for key in places)
    }
    pairs = [pair for pair, n in usual.items() if n >= 2]
    code = {pair: k for k, pair in enumerate(pairs)}
    kept = [(key, np.array(at)) for key, at in places.items() if key[:2] in code and len(at) == usual[key[:2]]]
    spread = []
    for key, at in kept:
        x = steps_of(sheet.written[at], grids[key[0]].step)
        spread.append(len(x) * int(x @ x) - int(x.sum()) ** 2)
    names = [f"{grids[g].gauge}\0{grids[g].measure}\0{grids[g].step:g}\0{sheet.layers[layer]}" for g, layer in pairs]
    return Spots(
        stratum=tuple(names),
        which=np.array([code[key[:2]] for key, _ in kept], dtype=np.intp),
        serial=np.array([key[2] for key, _ in kept], dtype=np.intp),
        first=np.array([at[0] for _, at in kept], dtype=np.intp),
        rows=tuple(at for _, at in kept),
        spread=np.array(spread, dtype=np.int64),
        repeats=tuple(usual[pair] for pair in pairs),
        steps=tuple(grids[g].step * grids[g].scale for g, _ in pairs),
        layers=tuple(sheet.layers[layer] for _, layer in pairs),
    )


def alike_repeats(sheet: Sheet, spots: Spots, usual: Spots | None, repeat_sd: Mapping[str, float]) -> Screened:
    """One test for each unit, each value of each group column, and, with an outside reference, each gauge."""
    if not sheet.names.serial:
        return Screened(NAME, why="needs the column of the unit")
    if not spots.stratum:
        return Screened(NAME, why="no place is read more than once on a display with steps")
    outside = _outside(spots, usual, repeat_sd)
    todo: list[tuple[Codes, str, bool]] = []
    if outside:
        for k, name in enumerate(spots.stratum):
            gauge = name.split("\0")[0]
            where = f"gauge {gauge}, {spots.layers[k]}" if gauge else spots.layers[k] or "all readings"
            todo.append((np.flatnonzero(spots.which == k), where, True))
    for name, words in sheet.groups.items():
        level_of = words[spots.first]
        levels = [word for word in dict.fromkeys(level_of) if word]
        todo += [(np.flatnonzero(level_of == level), f"{name} {level}", True) for level in levels if len(levels) > 1]
    order = np.argsort(spots.serial, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(spots.serial[order])) + 1)
    todo += [(part, sheet.serials[int(spots.serial[part[0]])], False) for part in parts if len(part)]
    tests = [_test(spots, members, outside, where, group=group) for members, where, group in todo]
    found = tuple(test for test in tests if test is not None)
    if not found:
        return Screened(NAME, why=f"fewer than {FEWEST_SPOTS} other places of one gauge and layer to compare with")
    return Screened(NAME, found)


def rounded_spread(sigma_steps: float, repeats: int) -> NDArray[np.int64]:
    """Simulated spreads of normal repeats on a display: standard deviation in steps, any place between two steps as likely."""
    rng = np.random.default_rng(SEED)
    shown = np.rint(rng.uniform(-0.5, 0.5, (DRAWS, 1)) + sigma_steps * rng.standard_normal((DRAWS, repeats))).astype(np.int64)
    return np.asarray(repeats * (shown**2).sum(axis=1) - shown.sum(axis=1) ** 2)


def _outside(spots: Spots, usual: Spots | None, repeat_sd: Mapping[str, float]) -> dict[int, tuple[NDArray[np.int64], int]]:
    """What is known of the spread of each stratum from elsewhere, and from how many places (0: as good as exact)."""
    found: dict[int, tuple[NDArray[np.int64], int]] = {}
    for k, name in enumerate(spots.stratum):
        if spots.layers[k] in repeat_sd:
            found[k] = rounded_spread(repeat_sd[spots.layers[k]] / spots.steps[k], spots.repeats[k]), 0
        elif usual is not None and name in usual.stratum:
            there = usual.stratum.index(name)
            sample = usual.spread[usual.which == there]
            if usual.repeats[there] == spots.repeats[k] and len(sample) >= FEWEST_SPOTS:
                found[k] = sample, len(sample)
    return found


def _test(
    spots: Spots, members: Codes, outside: Mapping[int, tuple[NDArray[np.int64], int]], where: str, *, group: bool
) -> Test | None:
    """Chance that as many places of the same kinds, drawn from the others, spread so little in all."""
    inside = np.zeros(len(spots.which), dtype=bool)
    inside[members] = True
    parts, total, spread, scatter, weight, used = [], 0, 0.0, 0.0, 0.0, []
    for k in np.unique(spots.which[members]).tolist():
        mine = members[spots.which[members] == k]
        others = np.flatnonzero((spots.which == k) & ~inside)
        sample, size = outside.get(k, (spots.spread[others], len(others)))
        if len(sample) < FEWEST_SPOTS or not sample.any():
            continue
        part = steps_of_sample(sample, len(mine))
        parts.append(part)
        used.append(mine)
        total += int(spots.spread[mine].sum())
        spread += part.draws * part.mean
        weight += part.draws
        scatter += part.draws**2 * part.variance / size if size else 0.0
    if not parts:
        return None
    rows = np.concatenate([spots.rows[i] for i in np.concatenate(used)])
    ratio = math.sqrt(total / spread)
    pvalue = 1.0
    if ratio <= MOST_ALIKE:
        # The others' mean is itself an estimate: the observed sum is compared at its possible sizes.
        sizes = np.exp(np.clip(math.sqrt(scatter) / spread * _NODES, -1.0, 1.0))
        chances = sum_at_most(parts, [math.floor(total * x + 1e-9) for x in sizes])
        pvalue = float(min(1.0, np.dot(_WEIGHTS, chances)))
        if group:
            pvalue = _widened(pvalue, _together(spots, parts, inside, outside))
    return Test(
        where=where,
        rows=np.sort(rows),
        observed=ratio,
        expected=1.0,
        pvalue=pvalue,
        sentence=(
            f"the repeats of {where} agree better than the gauge elsewhere: their standard deviation is {number(ratio, 2)} times "
            f"the usual one over {plural(int(weight), 'place')}"
        ),
        way_out=f"read these places again; {SECOND_GAUGE}",
    )


def _together(
    spots: Spots, parts: Sequence[Steps], inside: NDArray[np.bool_], outside: Mapping[int, tuple[NDArray[np.int64], int]]
) -> float:
    """How much more sums over units vary than those of independent places, from the other units; at least 1."""
    center = np.zeros(len(spots.stratum))
    deviation = np.zeros(len(spots.stratum))
    for k in range(len(spots.stratum)):
        sample = spots.spread[(spots.which == k) & ~inside]
        if len(sample) >= FEWEST_SPOTS:
            center[k], deviation[k] = sample.mean(), sample.std()
    known = ~inside & (deviation[spots.which] > 0)
    if not known.any() or not parts:
        return 1.0
    z = (spots.spread[known] - center[spots.which[known]]) / deviation[spots.which[known]]
    unit, place = np.unique(spots.serial[known], return_inverse=True)
    if len(unit) < 10:
        return 1.0
    sums = np.zeros(len(unit))
    np.add.at(sums, place, z)
    return max(1.0, float(sums @ sums) / len(z))


def _widened(pvalue: float, factor: float) -> float:
    """The chance when the variance is larger by this factor."""
    if not 0.0 < pvalue < 0.5:
        return pvalue
    return _core.normal_cdf(_core.normal_quantile(pvalue) / math.sqrt(factor))
