"""The same work in NumPy, as well as it can be written there: means and ranges of subgroups of five, the four zone rules and
the range limit, and the EWMA. The results are compared with ours before anything is timed.

    python cpp/bench/peer.py [--readings N] [--threads N] [--pairs N]

How it is written, and why:

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


def share_out(groups: int, threads: int, work: Callable[[int, int], Any]) -> list[Any]:
    starts = range(0, groups, PIECE)
    if threads == 1:
        return [work(start, min(groups, start + PIECE)) for start in starts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(lambda start: work(start, min(groups, start + PIECE)), starts))


def signals(
    values: Floats, center: float, sigma: float, threads: int, means: Floats, ranges: Floats, *, averaged: bool = False
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
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
    point = np.concatenate([points for _, _, points in found])
    rule = np.concatenate([np.full(points.size, rule) for rule, _, points in found])
    side = np.concatenate([np.full(points.size, side) for _, side, points in found])
    order = np.lexsort((-side, rule, point))
    return point[order], rule[order], side[order], np.concatenate([beyond for _, beyond in pieces])


def estimated(values: Floats, threads: int, means: Floats, ranges: Floats) -> Any:
    """The same with limits from the readings."""
    rows = values.reshape(-1, SIZE)
    share_out(len(rows), threads, lambda start, end: averages(rows[start:end], means[start:end], ranges[start:end]))
    return signals(values, float(means.mean()), float(ranges.mean()) / D2, threads, means, ranges, averaged=True)


def ours(values: Floats, center: float | None, sigma: float | None, threads: int, means: Floats, ranges: Floats) -> Any:
    return _core.subgroup_signals(values, SIZE, center, sigma, 3.0, list(sf.WESTERN_ELECTRIC), threads, means, ranges)


def check(values: Floats, threads: int) -> int:
    """Both ways give the same means, ranges and signals."""
    groups = values.size // SIZE
    means, ranges, own_means, own_ranges = (np.empty(groups) for _ in range(4))
    total = 0
    for center, sigma in ((85.0, 5.0), (None, None)):
        found = ours(values, center, sigma, threads, own_means, own_ranges)
        if center is None or sigma is None:
            point, rule, side, beyond = estimated(values, threads, means, ranges)
        else:
            point, rule, side, beyond = signals(values, center, sigma, threads, means, ranges)
        for name, mine, other in (
            ("means", own_means, means),
            ("ranges", own_ranges, ranges),
            ("points", found["signals"]["point"], point),
            ("rules", found["signals"]["rule"], rule),
            ("sides", found["signals"]["side"], side),
            ("ranges beyond", found["spread_signals"]["point"], beyond),
        ):
            if not np.array_equal(mine, other):
                raise SystemExit(f"{name} differ")
        total = point.size + beyond.size
    return total


def seconds(call: Callable[[], Any]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def compare(name: str, mine: Callable[[], Any], peer: Callable[[], Any], pairs: int, target: float | None = None) -> None:
    """Times of both, measured by turns."""
    both = [(seconds(mine), seconds(peer)) for _ in range(pairs)]
    own, other = (statistics.median(column) for column in zip(*both, strict=True))
    ratio = statistics.median(theirs / mine for mine, theirs in both)
    print(f"{name:52s} {own * 1e3:9.1f} {other * 1e3:9.1f} {ratio:8.1f} {'' if target is None else target:>7}")


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
    print("equal in both ways for given and for estimated limits\n")
    print(f"{'call':52s} {'ours ms':>9} {'NumPy ms':>9} {'times':>8} {'target':>7}")
    for peer_threads in (1, threads):
        name = f"NumPy on {peer_threads} thread{'s' if peer_threads > 1 else ''}"

        def peer_given(count: int = peer_threads) -> Any:
            return signals(values, 85.0, 5.0, count, means, ranges)

        def peer_estimated(count: int = peer_threads) -> Any:
            return estimated(values, count, means, ranges)

        compare(
            f"given limits: signals; {name}", lambda: ours(values, 85.0, 5.0, threads, nothing, nothing), peer_given, pairs, 20
        )
        compare(
            f"given limits, means, ranges; {name}", lambda: ours(values, 85.0, 5.0, threads, means, ranges), peer_given, pairs
        )
        compare(
            f"estimated limits, means, ranges; {name}",
            lambda: ours(values, None, None, threads, means, ranges),
            peer_estimated,
            pairs,
            15,
        )


if __name__ == "__main__":
    main()
