"""Chances in the tail that several screens need: counts with an uncertain share, draws without replacement, sums of steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core

Floats = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(41)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
MOST_EXACT = 60
"""Summands up to which a sum of steps is convolved exactly; more take the saddlepoint."""
MOST_CELLS = 1 << 15
"""Whole numbers from 0 to the largest limit up to which the convolution is exact; beyond, see ``_exact``."""


def binomial_at_least(count: int, trials: int, share: float) -> float:
    """Chance of ``count`` or more, by the incomplete beta function (DLMF 8.17.5)."""
    if count <= 0:
        return 1.0
    return 0.0 if count > trials else _core.beta_cdf(share, count, trials - count + 1)


def uncertain_binomial_at_least(count: int, trials: int, share: float, logit_variance: float) -> float:
    """The same when the logit of the share is normal about that of ``share``: a mixture over 41 Gauss-Hermite nodes."""
    logits = math.log(share) - math.log1p(-share) + math.sqrt(logit_variance) * _NODES
    shares = 1.0 / (1.0 + np.exp(-np.clip(logits, -700.0, 700.0)))
    terms = [binomial_at_least(count, trials, float(p)) for p in shares]
    return float(min(1.0, np.dot(_WEIGHTS, terms)))


def hypergeometric(total: int, marked: int, drawn: int) -> Floats:
    """Chances of 0, 1, ... marked ones among ``drawn`` of ``total`` without replacement."""
    out = np.zeros(drawn + 1)
    whole = _log_choose(total, drawn)
    for k in range(max(0, drawn - (total - marked)), min(drawn, marked) + 1):
        out[k] = math.exp(_log_choose(marked, k) + _log_choose(total - marked, drawn - k) - whole)
    return out


def _log_choose(n: int, k: int) -> float:
    return math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)


@dataclass(frozen=True)
class Steps:
    """A distribution on whole numbers from 0, and how many independent draws of it are summed."""

    values: NDArray[np.int64]
    chances: Floats
    draws: int

    @property
    def mean(self) -> float:
        """Of one draw."""
        return float(self.values @ self.chances)

    @property
    def variance(self) -> float:
        """Of one draw."""
        return float((self.values - self.mean) ** 2 @ self.chances)


def steps_of_sample(sample: NDArray[np.int64], draws: int) -> Steps:
    """The distribution of a sample."""
    values, counts = np.unique(sample, return_counts=True)
    return Steps(values, counts / counts.sum(), draws)


def sum_at_most(parts: Sequence[Steps], limits: Sequence[int]) -> list[float]:
    """Chance that the sum of all draws is at most each limit; exact for few draws, else Lugannani and Rice's saddlepoint."""
    if sum(part.draws for part in parts) <= MOST_EXACT:
        return _exact(parts, limits)
    return [_saddlepoint(parts, limit) for limit in limits]


def _exact(parts: Sequence[Steps], limits: Sequence[int]) -> list[float]:
    """By convolution. Limits beyond ``MOST_CELLS`` are told in cells of several whole numbers, or readings converted from another
    unit would take arrays without end: values and limits are rounded down, so that a chance is never too small, and a limit
    stands for one at most ``draws / MOST_CELLS`` of the largest limit further up.
    """
    top = max(limits)
    if top < 0:
        return [0.0] * len(limits)
    cell = -(-(top + 1) // MOST_CELLS)
    limits, top = [limit // cell for limit in limits], top // cell
    size = 1 << (2 * top + 2).bit_length()
    total = np.zeros(top + 1)
    total[0] = 1.0
    for part in parts:
        one = np.zeros(top + 1)
        values = part.values // cell
        low = values <= top
        np.add.at(one, values[low], part.chances[low])
        draws, power = part.draws, one
        while draws:
            if draws & 1:
                total = _product(total, power, size)
            draws >>= 1
            power = _product(power, power, size) if draws else power
    sums = np.cumsum(np.maximum(total, 0.0))
    return [float(min(1.0, sums[limit])) if limit >= 0 else 0.0 for limit in limits]


def _product(a: Floats, b: Floats, size: int) -> Floats:
    """Of two distributions' sums, cut where no limit reaches."""
    return np.asarray(np.fft.irfft(np.fft.rfft(a, size) * np.fft.rfft(b, size), size)[: len(a)])


def _saddlepoint(parts: Sequence[Steps], limit: int) -> float:
    """Lugannani and Rice's approximation of the lower tail, half a step of continuity added (Adv. Appl. Prob. 12 (1980) 475)."""
    mean = sum(part.draws * part.mean for part in parts)
    variance = sum(part.draws * part.variance for part in parts)
    x = limit + 0.5
    lowest = sum(part.draws * int(part.values.min()) for part in parts)
    if x <= lowest + 0.5:
        log_chance = sum(part.draws * math.log(float(part.chances[np.argmin(part.values)])) for part in parts)
        return math.exp(log_chance) if limit >= lowest else 0.0
    if variance <= 0.0 or x >= mean:
        return 1.0
    low, high = -1.0 / max(1.0, math.sqrt(variance)), 0.0
    while _cumulants(parts, low)[1] > x:
        low *= 2.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _cumulants(parts, middle)[1] < x else (low, middle)
    t = 0.5 * (low + high)
    k0, _, k2 = _cumulants(parts, t)
    w = -math.sqrt(max(0.0, 2.0 * (t * x - k0)))
    u = t * math.sqrt(k2)
    if abs(w) < 1e-4:
        return 0.5
    density = math.exp(-0.5 * w * w) / math.sqrt(2.0 * math.pi)
    return float(min(1.0, max(0.0, _core.normal_cdf(w) + density * (1.0 / w - 1.0 / u))))


def _cumulants(parts: Sequence[Steps], t: float) -> tuple[float, float, float]:
    """Log of the moment generating function of the sum, and its first two derivatives."""
    k0 = k1 = k2 = 0.0
    for part in parts:
        power = t * part.values
        top = float(power.max())
        weight = part.chances * np.exp(power - top)
        whole = float(weight.sum())
        first = float(part.values @ weight) / whole
        second = float((part.values.astype(np.float64) - first) ** 2 @ weight) / whole
        k0 += part.draws * (math.log(whole) + top)
        k1 += part.draws * first
        k2 += part.draws * second
    return k0, k1, k2
