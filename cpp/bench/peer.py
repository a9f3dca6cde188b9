"""The same work in NumPy: means and ranges of subgroups of five, the four zone rules and the range limit. The results are
compared with ours before anything is timed.

    python cpp/bench/peer.py [--readings N] [--threads N] [--pairs N]

It is written twice. *Whole arrays* is what NumPy is meant for: each step one expression over all subgroups, means and
ranges by its own reductions, signals by shifted masks. *Pieces* is as fast as it can be made there:

* Pieces of 32,768 subgroups, so that intermediate arrays stay in the second-level cache; results go to arrays made once.
* Columns of a piece are added and compared one by one: NumPy reduces a short last axis many times slower.
* Two of three and eight in a row by shifted masks and doublings, four of five by adding bytes.
* Pieces overlap by the seven points that the longest rule looks back, and can so be shared out to threads: NumPy
  gives the lock away.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

import steadyfilm as sf
from steadyfilm import _core

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
SIZE = 5
PIECE = 32_768
LOOK_BACK = 7
ON_LINE = 1e-9
D2, D3 = (getattr(sf.chart_factors(SIZE), name) for name in ("d2", "d3"))


def averages(rows: Floats, means: Floats, ranges: Floats) -> None:
    """Mean, readings added from the first to the last, and range of each row, into the arrays given."""
    np.add(rows[:, 0], rows[:, 1], out=means)
    for column in range(2, SIZE):
        means += rows[:, column]
    means /= SIZE
    low = np.minimum(rows[:, 0], rows[:, 1])
    np.maximum(rows[:, 0], rows[:, 1], out=ranges)
    for column in range(2, SIZE):
        np.minimum(low, rows[:, column], out=low)
        np.maximum(ranges, rows[:, column], out=ranges)
    ranges -= low
    equal = ranges == 0.0
    if equal.any():
        means[equal] = rows[equal, 0]


def zone_rules(z: Floats) -> list[tuple[int, int, Bools]]:
    """Rule, side and mask of the four zone rules; the first points see no others before them."""
    found = []
    for side in (1, -1):

        def beyond(sigma: float, side: int = side) -> Bools:
            return z > sigma + ON_LINE if side > 0 else z < -(sigma + ON_LINE)

        found.append((0, side, beyond(3.0)))
        two = beyond(2.0)
        earlier = np.zeros_like(two)
        earlier[1:] |= two[:-1]
        earlier[2:] |= two[:-2]
        found.append((1, side, two & earlier))
        one = beyond(1.0)
        count = one.view(np.uint8).copy()
        for back in range(1, 5):
            count[back:] += one[:-back].view(np.uint8)
        found.append((2, side, one & (count >= 4)))
        row = beyond(0.0)
        for back in (1, 2, 4):
            longer = np.zeros_like(row)
            np.logical_and(row[back:], row[:-back], out=longer[back:])
            row = longer
        found.append((3, side, row))
    return found


def in_order(found: list[tuple[int, int, NDArray[np.intp]]]) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Point, rule and side of all signals, point after point."""
    point = np.concatenate([points for _, _, points in found])
    rule = np.concatenate([np.full(points.size, rule) for rule, _, points in found])
    side = np.concatenate([np.full(points.size, side) for _, side, points in found])
    order = np.lexsort((-side, rule, point))
    return point[order], rule[order], side[order]


def share_out(groups: int, threads: int, work: Callable[[int, int], Any]) -> list[Any]:
    starts = range(0, groups, PIECE)
    if threads == 1:
        return [work(start, min(groups, start + PIECE)) for start in starts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(lambda start: work(start, min(groups, start + PIECE)), starts))


def signals(
    values: Floats, center: float, sigma: float, threads: int, means: Floats, ranges: Floats, *, averaged: bool = False
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Point, rule and side of the signals of the averages, and the points of the ranges, for given limits."""
    rows = values.reshape(-1, SIZE)
    sigma_point = sigma / np.sqrt(SIZE)

    def work(start: int, end: int) -> tuple[list[tuple[int, int, NDArray[np.intp]]], NDArray[np.intp]]:
        before = max(0, start - LOOK_BACK)
        if averaged:
            own = means[before:end]
        else:
            own, spare = np.empty(end - before), np.empty(end - before)
            averages(rows[before:end], own, spare)
            means[start:end] = own[start - before :]
            ranges[start:end] = spare[start - before :]
        z = (own - center) / sigma_point
        met = [(rule, side, np.flatnonzero(mask[start - before :]) + start) for rule, side, mask in zone_rules(z)]
        z_range = (ranges[start:end] - D2 * sigma) / (D3 * sigma)
        return met, np.flatnonzero(np.abs(z_range) > 3.0 + ON_LINE) + start

    pieces = share_out(len(rows), threads, work)
    found = [entry for met, _ in pieces for entry in met]
    return *in_order(found), np.concatenate([beyond for _, beyond in pieces])


def estimated(values: Floats, threads: int, means: Floats, ranges: Floats) -> Any:
    """The same with limits from the readings."""
    rows = values.reshape(-1, SIZE)
    share_out(len(rows), threads, lambda start, end: averages(rows[start:end], means[start:end], ranges[start:end]))
    return signals(values, float(means.mean()), float(ranges.mean()) / D2, threads, means, ranges, averaged=True)


def whole_arrays(values: Floats, center: float | None, sigma: float | None) -> Any:
    """Signals as above, then means and ranges; limits that are not given come from the readings."""
    rows = values.reshape(-1, SIZE)
    means = rows.mean(axis=1)
    ranges = np.ptp(rows, axis=1)
    center = float(means.mean()) if center is None else center
    sigma = float(ranges.mean()) / D2 if sigma is None else sigma
    met = [(rule, side, np.flatnonzero(mask)) for rule, side, mask in zone_rules((means - center) / (sigma / np.sqrt(SIZE)))]
    beyond = np.flatnonzero(np.abs((ranges - D2 * sigma) / (D3 * sigma)) > 3.0 + ON_LINE)
    return *in_order(met), beyond, means, ranges


def ours(values: Floats, center: float | None, sigma: float | None, threads: int, means: Floats, ranges: Floats) -> Any:
    return _core.subgroup_signals(values, SIZE, center, sigma, 3.0, list(sf.WESTERN_ELECTRIC), threads, means, ranges)


def check(values: Floats, threads: int) -> int:
    """All ways give the same means, ranges and signals."""
    groups = values.size // SIZE
    means, ranges, own_means, own_ranges = (np.empty(groups) for _ in range(4))
    total = 0
    for center, sigma in ((85.0, 5.0), (None, None)):
        found = ours(values, center, sigma, threads, own_means, own_ranges)
        if center is None or sigma is None:
            in_pieces = *estimated(values, threads, means, ranges), means, ranges
        else:
            in_pieces = *signals(values, center, sigma, threads, means, ranges), means, ranges
        mine = [found["signals"][name] for name in ("point", "rule", "side")]
        mine += [found["spread_signals"]["point"], own_means, own_ranges]
        names = ("points", "rules", "sides", "ranges beyond", "means", "ranges")
        for way, others in (("pieces", in_pieces), ("whole arrays", whole_arrays(values, center, sigma))):
            for name, own, other in zip(names, mine, others, strict=True):
                if not np.array_equal(own, other):
                    raise SystemExit(f"{name} differ: {way}")
        total = sum(array.size for array in mine[:4:3])
    return total


def seconds(call: Callable[[], Any]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def compare(name: str, mine: Callable[[], Any], peer: Callable[[], Any], pairs: int, target: float | None = None) -> None:
    """Times of both, measured by turns, and how many times faster ours is."""
    both = [(seconds(mine), seconds(peer)) for _ in range(pairs)]
    own, other = (statistics.median(column) for column in zip(*both, strict=True))
    low, ratio, high = statistics.quantiles((theirs / mine for mine, theirs in both), n=4)
    wanted = "" if target is None else f"{target:7.0f}"
    print(f"{name:52s} {own * 1e3:9.1f} {other * 1e3:9.1f} {ratio:7.1f} {low:7.1f}-{high:<7.1f}{wanted}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--readings", type=int, default=80_000_000)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--pairs", type=int, default=7)
    args = parser.parse_args()
    threads, pairs = args.threads, args.pairs

    values = np.random.default_rng(20240607).normal(85.0, 5.0, args.readings).round(2)
    groups = values.size // SIZE
    means, ranges = np.zeros(groups), np.zeros(groups)
    nothing = np.empty(0)
    count = check(values, threads)
    print(
        f"NumPy {np.__version__}, instruction set {_core.instruction_set()}; {groups:,} subgroups of {SIZE}, {count:,} signals,"
    )
    print("equal in all ways for given and for estimated limits\n")
    print(f"{'call; NumPy by':52s} {'ours ms':>9} {'NumPy ms':>9} {'times':>7} {'quartiles':>15} {'target':>7}")

    def given() -> Any:
        return ours(values, 85.0, 5.0, threads, nothing, nothing)

    def from_readings() -> Any:
        return ours(values, None, None, threads, means, ranges)

    compare("given limits: signals; whole arrays", given, lambda: whole_arrays(values, 85.0, 5.0), pairs, 20)
    compare("estimated limits, all; whole arrays", from_readings, lambda: whole_arrays(values, None, None), pairs, 15)
    for count in sorted({1, threads}):
        way = f"pieces, {count} thread{'s' if count > 1 else ''}"
        in_pieces = partial(signals, values, 85.0, 5.0, count, means, ranges)
        compare(f"given limits: signals; {way}", given, in_pieces, pairs, 20)
        compare(f"estimated limits, all; {way}", from_readings, partial(estimated, values, count, means, ranges), pairs, 15)


if __name__ == "__main__":
    main()
