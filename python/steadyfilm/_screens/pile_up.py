"""Readings that pile up just inside a limit, against a smooth curve through the display steps around it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, with_unit
from steadyfilm._result import frozen
from steadyfilm._screens.grids import steps_of
from steadyfilm._screens.pattern import SECOND_GAUGE, Pool, Screened, Test
from steadyfilm._screens.sheet import Codes, Floats, Sheet
from steadyfilm._screens.tails import uncertain_binomial_at_least
from steadyfilm._screens.words import PileUp
from steadyfilm.limits import SpecLimits

INSIDE_STEPS = 2
"""Display steps on either side of the limit that are compared."""
FEWEST_AROUND = 12
"""Readings in those steps below which there is no test."""
FEWEST_CELLS = 6
"""Display steps away from the limits that the curve needs; fewer, and the display is too coarse to tell."""
WIDEST = 1.25
"""Standard deviations of a layer's readings that the compared steps may cover; on a coarser display the curve alone decides."""
HEAP_SD = 0.5
"""Prior standard deviation of the log excess of steps ending in 0, 5 or an even digit: judgment, no source."""
SHAPE_SD = (1.0, 0.5)
"""Prior standard deviations of the third and fourth Legendre coefficient, which make a log density skewed or flat (judgment, no
source). They matter only where hardly a reading lies beyond the limit, so that the curve must be carried past its data."""
TINY = 1e-6


@dataclass(frozen=True)
class _Zone:
    """Whole steps just inside and just outside a limit."""

    inside: NDArray[np.int64]
    outside: NDArray[np.int64]

    @property
    def all(self) -> NDArray[np.int64]:
        return np.concatenate([self.inside, self.outside])


def pile_up(sheet: Sheet, pools: Sequence[Pool], limits: Mapping[str, SpecLimits]) -> Screened:
    """One test for each pool, layer and limit with enough readings around it."""
    name = "pile-up inside a limit"
    if not limits:
        return Screened(name, why="needs limits")
    tests, coarse = [], 0
    for pool in pools:
        for code, layer in enumerate(sheet.layers):
            window = limits.get(layer)
            rows = pool.rows[sheet.layer[pool.rows] == code]
            if window is None or not len(rows):
                continue
            zones = _zones(window, pool.grid.step * pool.grid.scale)
            steps = steps_of(sheet.written[rows], pool.grid.step)
            for side, limit in (("lower", window.lower), ("upper", window.upper)):
                if limit is None:
                    continue
                zone = zones[side]
                near = np.isin(steps, zone.all)
                if int(near.sum()) < FEWEST_AROUND:
                    continue
                masked = np.unique(np.concatenate([x.all for x in zones.values()]))
                curve = expected_inside(steps, zone, masked)
                if curve is None:
                    coarse += 1
                    continue
                where = f"{layer}, {pool.where}" if layer else pool.where
                tests.append(_test(sheet, rows, steps, zone, curve, where, limit, pool.grid.step * pool.grid.scale))
    if not tests:
        return Screened(name, why="the display is too coarse to tell" if coarse else "too few readings near the limits")
    return Screened(name, tuple(tests), note=f"{coarse} not tested: the display is too coarse" if coarse else "")


def _zones(window: SpecLimits, step: float) -> dict[str, _Zone]:
    out = {}
    width = INSIDE_STEPS
    if window.lower is not None and window.upper is not None:
        width = max(1, min(width, int(math.floor((window.upper - window.lower) / step + TINY) + 1) // 2))
    if window.lower is not None:
        first = math.ceil(window.lower / step - TINY)
        out["lower"] = _Zone(np.arange(first, first + width), np.arange(first - width, first))
    if window.upper is not None:
        last = math.floor(window.upper / step + TINY)
        out["upper"] = _Zone(np.arange(last - width + 1, last + 1), np.arange(last + 1, last + width + 1))
    return out


def _test(
    sheet: Sheet, rows: Codes, steps: NDArray[np.int64], zone: _Zone, curve: Curve, where: str, at: float, step: float
) -> Test:
    share, variance, limit = curve.share, curve.variance, with_unit(at, sheet.unit)
    inside = np.isin(steps, zone.inside)
    around = inside | np.isin(steps, zone.outside)
    count, trials = int(inside.sum()), int(around.sum())
    variance += _clustering(sheet.serial[rows][around], inside[around])
    pvalue = uncertain_binomial_at_least(count, trials, share, variance)
    mean = trials * share
    width = len(zone.inside)
    which = "display step" if width == 1 else f"{('', 'one', 'two')[width]} display steps"
    sentence = (
        f"the readings of {where} pile up just inside {limit}: {count} in the last {which} inside against "
        f"{number(mean, 3)} expected of the {trials} on both sides"
    )
    drawn = PileUp(
        where=where,
        limit=at,
        values=frozen(curve.cells * step),
        counts=frozen(curve.counts.astype(np.int64)),
        expected=frozen(curve.rate),
        inside=frozen(np.isin(curve.cells, zone.inside)),
        outside=frozen(np.isin(curve.cells, zone.outside)),
        sentence=sentence,
        pvalue=pvalue,
        adjusted_pvalue=1.0,
        told=False,
    )
    return Test(
        where=f"{where}, {limit}",
        rows=rows[inside],
        observed=count,
        expected=mean,
        pvalue=pvalue,
        sentence=sentence,
        way_out=SECOND_GAUGE,
        curve=drawn,
    )


@dataclass(frozen=True)
class Curve:
    """Share of the readings around a limit that lie inside, variance of its logit, and counts and curve by display step."""

    share: float
    variance: float
    cells: NDArray[np.int64]
    counts: Floats
    rate: Floats


def expected_inside(steps: NDArray[np.int64], zone: _Zone, masked: NDArray[np.int64]) -> Curve | None:
    """Share of the readings around a limit that lie inside, from the other steps, and the variance of its logit.

    Counts of the steps away from all limits follow a polynomial of degree 4 at most on the log scale; steps ending in 0, in 5
    or in an even digit may be favored everywhere. None if the steps are too coarse or too few are left.
    """
    if len(zone.all) > WIDEST * float(np.std(steps)):
        return None
    low, high = np.quantile(steps, [0.005, 0.995])
    cells = np.arange(min(int(low), int(zone.all.min())), max(int(high), int(zone.all.max())) + 1)
    counts = np.bincount(np.clip(steps, cells[0] - 1, cells[-1] + 1) - cells[0] + 1, minlength=len(cells) + 2)[1:-1].astype(float)
    used = ~np.isin(cells, masked)
    if int(np.sum(used & (counts > 0))) < FEWEST_CELLS:
        return None
    degree = min(4, max(1, int(used.sum()) // 3))
    x = 2.0 * (cells - cells[0]) / max(1, len(cells) - 1) - 1.0
    smooth = np.polynomial.legendre.legvander(x, degree)
    heaps = np.stack([cells % 10 == 0, (cells % 5 == 0) & (cells % 10 != 0), cells % 2 == 0], axis=1).astype(float)
    design = np.hstack([smooth, heaps])
    penalty = np.diag(
        [1e-4] * min(3, degree + 1) + [1.0 / sd**2 for sd in SHAPE_SD[: max(0, degree - 2)]] + [1.0 / HEAP_SD**2] * 3
    )
    beta, covariance = _poisson_fit(design[used], counts[used], penalty)
    rate = np.exp(np.clip(design @ beta, -30.0, 30.0))
    inside, outside = np.isin(cells, zone.inside), np.isin(cells, zone.outside)
    a, b = float(rate[inside].sum()), float(rate[outside].sum())
    slope = rate[inside] @ design[inside] / a - rate[outside] @ design[outside] / b
    return Curve(a / (a + b), float(slope @ covariance @ slope), cells, counts, rate)


def _poisson_fit(design: Floats, counts: Floats, penalty: Floats) -> tuple[Floats, Floats]:
    """Log-linear Poisson fit with a normal prior, and the covariance of its coefficients, widened by the scatter found."""
    beta = np.zeros(design.shape[1])
    beta[0] = math.log(max(float(counts.mean()), 1e-3))
    for _ in range(60):
        rate = np.exp(np.clip(design @ beta, -30.0, 30.0))
        gradient = design.T @ (counts - rate) - penalty @ beta
        gradient[0] += penalty[0, 0] * beta[0]  # the level is free
        hessian = design.T @ (design * rate[:, None]) + penalty
        step = np.linalg.solve(hessian, gradient)
        beta = beta + step * min(1.0, 2.0 / max(1e-12, float(np.abs(step).max())))
        if float(np.abs(step).max()) < 1e-9:
            break
    rate = np.exp(np.clip(design @ beta, -30.0, 30.0))
    freedom = max(1.0, len(counts) - design.shape[1])
    scatter = max(1.0, float(np.sum((counts - rate) ** 2 / np.maximum(rate, 1.0))) / freedom)
    return beta, np.linalg.inv(design.T @ (design * rate[:, None]) / scatter + penalty)


def _clustering(serial: Codes, inside: NDArray[np.bool_]) -> float:
    """Variance of the logit that comes from readings of one unit going together, beyond independent ones."""
    trials, share = len(inside), float(inside.mean())
    spread = trials * share * (1.0 - share)
    if spread <= 0.0:
        return 0.0
    unit, place = np.unique(serial, return_inverse=True)
    if len(unit) < 10:
        return 0.0
    excess = np.zeros(len(unit))
    np.add.at(excess, place, inside - share)
    return max(0.0, float(excess @ excess) / spread - 1.0) / spread
