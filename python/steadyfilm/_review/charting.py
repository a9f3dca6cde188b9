"""The charts of a layer: limits from the baseline, held fixed; the month's units against them, stream by stream.

Center: the stream's usual level, after what painters, substrates and other adjusted factors usually add is taken off.
Sigma of the point: standard deviation of the baseline's units about the additive model, all streams pooled, so that the
day-to-day variation of a steady line is inside the limits. Without a baseline the mean moving range within streams.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._review.noise import Noise, simulate_noise
from steadyfilm._review.series import Usual
from steadyfilm.monitor import MonitorLimits, MonitorPoints, monitor
from steadyfilm.run_rules import Signal

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm.plan import Rules

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

FEWEST_BASELINE_UNITS = 20
"""A stream with fewer baseline units gets no limits of its own."""
RANGE_TO_SIGMA = 2.0 / math.sqrt(math.pi)
"""d2 for two: mean range of two standard normal values."""
SPREAD = "spread"


@dataclass(frozen=True)
class Lines:
    """Center and limits of one panel; NaN where there are none."""

    center: float
    lower: float
    upper: float


@dataclass(frozen=True)
class StreamChart:
    """One stream's units on the chart of a layer, in production order.

    ``at`` points into the layer's units. Signals count from 0 along ``at``; their rule is a rule word (several joined by
    "and"), or ``"spread"``; they are episodes: after each, the memory of its chart is cleared.
    """

    stream: str
    at: Codes
    values: Floats
    """Unit averages with adjusted factors' usual differences taken off."""
    lines: Lines
    sigma: float
    ewma: Floats
    ewma_lines: Lines
    spread: Floats
    """SD between locations of the unit after the usual pattern of locations is taken off; empty with one location."""
    spread_lines: Lines
    signals: tuple[Signal, ...]
    baseline_units: int
    expected_episodes: float
    """Mean number of episodes of quiet months under the fitted variation, limits estimated anew each time."""
    most_expected: float
    """Reached or exceeded by at most 1 % of quiet months."""

    @property
    def unusual(self) -> bool:
        """Whether there are more episodes than 99 % of quiet months show."""
        return len(self.signals) > self.most_expected


@dataclass(frozen=True)
class Limits:
    """What the baseline says of one or several series, one column each: usual levels and the pooled sigma."""

    adjust: Floats
    """What adjusted factors usually add, for every unit."""
    center: Floats
    """The stream's level, for every unit; NaN for a stream that the baseline does not have."""
    sigma: Floats


def fit_limits(values: Floats, usual: Usual, first: int) -> Limits:
    """Usual levels by least squares and sigma, from the baseline units or, without any, from the month itself.

    ``values`` has a column per series.
    """
    known = usual.known
    fit = slice(0, first) if first else slice(None)
    coefficients = np.linalg.pinv(known[fit]) @ values[fit]
    effects = usual.contrasts @ coefficients
    adjust = np.zeros(values.shape)
    for level, effect in zip(usual.levels, effects, strict=True):
        if level.column != usual.levels[0].column and not level.new:
            adjust += level.units[:, None] * effect
    fitted = known @ coefficients
    center = np.full(values.shape, np.nan)
    in_fit = np.arange(len(known)) < first if first else np.ones(len(known), dtype=bool)
    for level in usual.streams:
        at = level.units & in_fit
        if at.any():
            center[level.units] = (fitted[at] - adjust[at]).mean(axis=0)
    if first:
        free = first - int(np.linalg.matrix_rank(known[:first]))
        sigma = (
            np.sqrt(np.square(values[:first] - fitted[:first]).sum(axis=0) / free)
            if free > 0
            else np.full(values.shape[1], np.nan)
        )
    else:
        ranges = np.concatenate([np.abs(np.diff((values - adjust)[level.units], axis=0)) for level in usual.streams])
        sigma = ranges.mean(axis=0) / RANGE_TO_SIGMA if len(ranges) else np.full(values.shape[1], np.nan)
    return Limits(adjust, center, sigma)


def chart_streams(
    base: LayerUnits | None,
    month: LayerUnits,
    usual: Usual,
    noise: Noise,
    day: Codes,
    rules: Rules,
    *,
    seed: int,
    quiet_months: int = 400,
) -> tuple[StreamChart, ...]:
    """Every stream's chart, with the number of episodes that quiet months show on it."""
    first = len(base) if base is not None else 0
    values = np.concatenate([*([base.average] if base is not None else []), month.average])
    limits = fit_limits(values[:, None], usual, first)
    sigma = float(limits.sigma[0])
    spread, spread_lines, freedom = _spreads(base, month, rules.sigma_multiple)
    expected = _quiet_episodes(values, usual, noise, day, first, rules, spread_lines, freedom, seed, quiet_months)
    charts = []
    for level in usual.streams:
        at = np.flatnonzero(level.units[first:]).astype(np.intp)
        if not len(at):
            continue
        count = int(level.units[:first].sum())
        adjusted = (month.average - limits.adjust[first:, 0])[at]
        center = float(limits.center[first + at[0], 0])
        limited = sigma > 0 and (count >= FEWEST_BASELINE_UNITS if first else len(at) >= 2)
        if not limited:
            nothing = Lines(math.nan, math.nan, math.nan)
            own = spread[at] if len(spread) else spread
            charts.append(
                StreamChart(
                    level.value,
                    at,
                    adjusted,
                    nothing,
                    math.nan,
                    np.empty(0),
                    nothing,
                    own,
                    nothing,
                    (),
                    count,
                    math.nan,
                    math.nan,
                )
            )
            continue
        judged = monitor(
            location_rules(rules),
            None,
            MonitorPoints(adjusted, *_plain(at, level.value), np.full(len(at), center), np.full(len(at), sigma)),
        )
        signals = [Signal(x.point, " and ".join(x.rules), x.side, x.length) for x in judged.episodes]
        own = spread[at] if len(spread) else spread
        signals += [Signal(int(i), SPREAD, "above") for i in np.flatnonzero(own > spread_lines.upper)]
        reach = rules.sigma_multiple * sigma
        width = judged.ewma_limit * sigma
        charts.append(
            StreamChart(
                stream=level.value,
                at=at,
                values=adjusted,
                lines=Lines(center, center - reach, center + reach),
                sigma=sigma,
                ewma=center + sigma * judged.ewma if rules.smoothing else np.empty(0),
                ewma_lines=Lines(center, center - width, center + width),
                spread=own,
                spread_lines=spread_lines,
                signals=tuple(sorted(signals, key=lambda s: (s.point, s.rule))),
                baseline_units=count,
                expected_episodes=float(expected[level.value].mean()),
                most_expected=float(np.quantile(expected[level.value], 0.99, method="higher")),
            )
        )
    return tuple(charts)


def location_rules(rules: Rules) -> MonitorLimits:
    """The plan's rules; "beyond 3 sigma" follows the distance of the limits."""
    words = tuple(
        word.replace("beyond3_", f"beyond{rules.sigma_multiple:g}_") if word.startswith("1of1_") else word
        for word in rules.points
    )
    return MonitorLimits(rules=words, smoothing=rules.smoothing, ewma_multiple=rules.ewma_multiple)


def _plain(at: Codes, stream: str) -> tuple[NDArray[np.object_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Stream, takes part, break before: the points of one stream without a gap."""
    return np.full(len(at), stream, dtype=object), np.ones(len(at), dtype=bool), np.zeros(len(at), dtype=bool)


def _spreads(base: LayerUnits | None, month: LayerUnits, multiple: float) -> tuple[Floats, Lines, int]:
    """SD between locations of each unit once the usual pattern is taken off, its limits, and its degrees of freedom."""
    source = base if base is not None else month
    usual = (
        ~np.isnan(source.spots).any(axis=0) & ~np.isnan(month.spots).any(axis=0)
        if len(source) and len(month)
        else np.zeros(0, dtype=bool)
    )
    count = int(usual.sum())
    nothing = Lines(math.nan, math.nan, math.nan)
    if count < 2 or len(source) < FEWEST_BASELINE_UNITS:
        return np.empty(0), nothing, 0

    def residuals(units: LayerUnits, pattern: Floats) -> Floats:
        spots = units.spots[:, usual]
        return np.asarray(spots - spots.mean(axis=1, keepdims=True) - pattern)

    spots = source.spots[:, usual]
    pattern = (spots - spots.mean(axis=1, keepdims=True)).mean(axis=0)
    freedom = count - 1
    pooled = math.sqrt(float(np.square(residuals(source, pattern)).sum()) / freedom / max(len(source) - 1, 1))
    ratio = _mean_chi(freedom)
    center = ratio * pooled
    reach = multiple * pooled * math.sqrt(max(1.0 - ratio**2, 0.0))
    spread = np.sqrt(np.square(residuals(month, pattern)).sum(axis=1) / freedom)
    return spread, Lines(center, max(center - reach, 0.0), center + reach), freedom


def _quiet_episodes(
    values: Floats,
    usual: Usual,
    noise: Noise,
    day: Codes,
    first: int,
    rules: Rules,
    spread: Lines,
    freedom: int,
    seed: int,
    months: int,
) -> dict[str, Floats]:
    """Episodes on each stream's chart in simulated quiet months, limits estimated from each simulation's own baseline."""
    rng = np.random.default_rng([seed, 1])
    if not noise.sigma_unit > 0:
        return {level.value: np.zeros(months) for level in usual.streams}
    quiet = simulate_noise(noise, day, rng)[:, :months]
    limits = fit_limits(quiet, usual, first)
    z = ((quiet - limits.adjust - limits.center) / limits.sigma)[first:]
    # The spread's limit in terms of a chi variate over the root of its degrees of freedom.
    reach = spread.upper / spread.center * _mean_chi(freedom) if freedom else math.nan
    judge = location_rules(rules)
    out = {}
    for level in usual.streams:
        own = np.ascontiguousarray(z[level.units[first:]].T)
        if not own.size or np.isnan(own).any():
            continue
        label = np.repeat(np.array([f"{k:06d}" for k in range(len(own))], dtype=object), own.shape[1])
        whole, unit = np.ones(own.size, dtype=bool), np.ones(own.size)
        judged = monitor(judge, None, MonitorPoints(own.ravel(), label, whole, ~whole, 0.0 * unit, unit))
        count = np.bincount([int(x.stream) for x in judged.episodes], minlength=len(own)).astype(np.float64)
        if freedom:
            count += (np.sqrt(rng.chisquare(freedom, own.shape) / freedom) > reach).sum(axis=1)
        out[level.value] = count
    return out


def _mean_chi(freedom: int) -> float:
    """Mean of a chi variate over the root of its degrees of freedom (c4)."""
    return math.sqrt(2.0 / freedom) * math.exp(math.lgamma((freedom + 1) / 2.0) - math.lgamma(freedom / 2.0))
