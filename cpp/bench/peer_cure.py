"""Equivalent time in NumPy, in place and by turns with ours; the results are compared before anything is timed.

    python cpp/bench/peer_cure.py [--readings N] [--pairs N]

Written twice: the trapezoid of the factor, which is the least that NumPy can do and says another number for coarse steps,
and with corrections for slopes and curvatures at the ends, which is the same integral as ours. Buffers are made once.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core

Floats = NDArray[np.float64]
R = 8.314462618
ENERGY, REFERENCE = 55.0, 60.0
B = 1000.0 * ENERGY / R


class InPlace:
    """Both ways, with every intermediate array made before."""

    def __init__(self, minutes: Floats, temperature: Floats) -> None:
        self.minutes, self.temperature = minutes, temperature
        self.u, self.f, self.g, self.c = (np.empty_like(temperature) for _ in range(4))
        self.a, self.b, self.d = (np.empty(temperature.size - 1) for _ in range(3))

    def _factor(self) -> None:
        np.add(self.temperature, 273.15, out=self.u)
        np.divide(1.0, self.u, out=self.u)
        np.subtract(1.0 / (REFERENCE + 273.15), self.u, out=self.f)
        self.f *= B
        np.exp(self.f, out=self.f)

    def trapezoid(self) -> float:
        self._factor()
        np.subtract(self.minutes[1:], self.minutes[:-1], out=self.a)
        np.add(self.f[1:], self.f[:-1], out=self.b)
        return 0.5 * float(np.dot(self.a, self.b))

    def corrected(self) -> float:
        self._factor()
        np.multiply(self.u, self.u, out=self.g)
        self.g *= B
        np.multiply(self.u, -2.0, out=self.c)
        self.c += self.g
        self.g *= self.f
        self.c *= self.g
        np.subtract(self.temperature[1:], self.temperature[:-1], out=self.d)
        np.add(self.c[1:], self.c[:-1], out=self.a)
        self.a *= 1.0 / 120.0
        self.a *= self.d
        np.subtract(self.g[:-1], self.g[1:], out=self.b)
        self.b *= 0.1
        self.a += self.b
        self.a *= self.d
        np.add(self.f[1:], self.f[:-1], out=self.b)
        self.b *= 0.5
        self.a += self.b
        np.subtract(self.minutes[1:], self.minutes[:-1], out=self.b)
        return float(np.dot(self.a, self.b))


def seconds(call: Callable[[], float]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--readings", type=int, default=2_600_000)
    parser.add_argument("--pairs", type=int, default=15)
    parser.add_argument("--threads", type=int, default=2)
    given = parser.parse_args()
    rng = np.random.default_rng(1)
    minutes = np.arange(given.readings) / 6.0
    phase = minutes % 240.0
    part = np.where(phase < 105.0, 66.0 - 46.0 * np.exp(-phase / 10.0), 20.0 + 46.0 * np.exp(-(phase - 105.0) / 10.0))
    temperature = np.round(part + rng.normal(0.0, 0.3, given.readings), 1)
    peer = InPlace(minutes, temperature)
    none = np.empty(0, dtype=np.uint8)

    def ours(threads: int) -> float:
        found = _core.equivalent_time(minutes, temperature, ENERGY, REFERENCE, none, 3.0, None, None, threads)
        return float(found["observed_min"])

    assert abs(peer.corrected() / ours(1) - 1.0) < 1e-10
    print(f"{given.readings} readings; the trapezoid is {peer.trapezoid() / ours(1) - 1.0:+.1e} off")
    for threads in (1, given.threads):
        for name, call in (("trapezoid", peer.trapezoid), ("corrected", peer.corrected)):
            ratios, own = [], []
            for _ in range(given.pairs):
                other = seconds(call)
                own.append(seconds(lambda n=threads: ours(n)))
                ratios.append(other / own[-1])
            low, middle, high = statistics.quantiles(ratios, n=4)
            print(
                f"{threads} thread{'s' if threads > 1 else ''}, NumPy in place, {name}: {middle:.1f} times faster "
                f"({low:.1f} to {high:.1f}); ours {1000.0 * statistics.median(own):.2f} ms"
            )


if __name__ == "__main__":
    main()
