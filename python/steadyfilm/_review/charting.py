"""The charts of a layer: limits from the baseline, held fixed; the month's units against them, stream by stream.

Center: the stream's usual level, after what painters, substrates and other adjusted factors usually add is taken off.
Sigma of the point: standard deviation of the baseline's units about the additive model, all streams pooled, so that the
day-to-day variation of a steady line is inside the limits. Without a baseline the mean moving range within streams.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._review.noise import Noise, simulate_noise
from steadyfilm._review.series import Usual, stream_labels
from steadyfilm._review.unevenness import Lines, Spreads, mean_chi
from steadyfilm.baseline import Baseline, baseline, points_for
from steadyfilm.monitor import MonitorLimits, monitor
from steadyfilm.run_rules import Signal

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm.plan import Plan, Rules

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

FEWEST_BASELINE_UNITS = 20
"""A stream with fewer baseline units gets no limits of its own."""
RANGE_TO_SIGMA = 2.0 / math.sqrt(math.pi)
"""d2 for two: mean range of two standard normal values."""
SPREAD = "spread"
FACTOR = "factor "
"""Before the plan's own column names, which may be anything."""


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


def usual_behavior(source: LayerUnits, plan: Plan, *, held: bool) -> Baseline:
    """The baseline of a layer: additive centers and the spread of unit averages.

    Held limits take the standard deviation about the centers, so that a steady line's day-to-day variation is inside
    them. Limits from the units under review themselves take moving ranges, which a change inflates less.
    """
    return baseline(
        _table(source, plan),
        "average",
        unit=plan.measure.unit,
        stream=[FACTOR + name for name in plan.streams],
        adjust=[FACTOR + name for name in plan.adjust],
        time="time" if source.time is not None else None,
        sigma_estimator="sd" if held else "mean_moving_range",
        fewest_points=FEWEST_BASELINE_UNITS if held else 2,
        confidence_level=plan.confidence_level,
        sigma_multiple=plan.rules.sigma_multiple,
    )


def _table(units: LayerUnits, plan: Plan) -> dict[str, Any]:
    """The units as a table; the plan's own column names are kept apart from ours."""
    factors = {FACTOR + name: stream_labels(units, [name]) for name in (*plan.streams, *plan.adjust)}
    stamps = {} if units.time is None else {"time": units.time}
    return {"average": units.average, **factors, **stamps}


def chart_streams(
    found: Baseline,
    spreads: Spreads,
    base: LayerUnits | None,
    month: LayerUnits,
    usual: Usual,
    noise: Noise,
    day: Codes,
    plan: Plan,
    *,
    seed: int,
    quiet_months: int = 400,
) -> tuple[StreamChart, ...]:
    """Every stream's chart against its limits, with the number of episodes that quiet months show on it."""
    first = len(base) if base is not None else 0
    rules = plan.rules
    spread, spread_lines, freedom = spreads.month, spreads.lines, spreads.freedom
    expected = _quiet_episodes(usual, noise, day, first, rules, spread_lines, freedom, seed, quiet_months)
    points = points_for(found, _table(month, plan), small_streams="leave_out")
    monitored = monitor(location_rules(rules), None, points)
    own = {x.stream: x for x in found.streams}
    charts = []
    for level in usual.streams:
        at = np.flatnonzero(level.units[first:]).astype(np.intp)
        if not len(at):
            continue
        stream = own.get(str(points.stream[at[0]]))
        count = int(level.units[:first].sum())
        nothing = Lines(math.nan, math.nan, math.nan)
        uneven = spread[at] if len(spread) else spread
        if stream is None or not stream.has_limits:
            values = month.average[at]
            charts.append(
                StreamChart(
                    level.value,
                    at,
                    values,
                    nothing,
                    math.nan,
                    np.empty(0),
                    nothing,
                    uneven,
                    nothing,
                    (),
                    count,
                    math.nan,
                    math.nan,
                )
            )
            continue
        center, sigma = stream.center, stream.sigma_point
        place = {int(i): k for k, i in enumerate(at)}
        signals = [
            Signal(place[x.point], " and ".join(x.rules), x.side, x.length) for x in monitored.episodes if x.point in place
        ]
        signals += [Signal(int(i), SPREAD, "above") for i in np.flatnonzero(uneven > spread_lines.upper)]
        width = monitored.ewma_limit * sigma
        charts.append(
            StreamChart(
                stream=level.value,
                at=at,
                values=center + sigma * monitored.z[at],
                lines=Lines(center, stream.lower, stream.upper),
                sigma=sigma,
                ewma=center + sigma * monitored.ewma[at] if rules.smoothing else np.empty(0),
                ewma_lines=Lines(center, center - width, center + width),
                spread=uneven,
                spread_lines=spread_lines,
                signals=tuple(sorted(signals, key=lambda s: (s.point, s.rule))),
                baseline_units=count,
                expected_episodes=float(expected[level.value].mean()),
                most_expected=float(np.quantile(expected[level.value], 0.99, method="higher")),
            )
        )
    return tuple(charts)


def standardized(values: Floats, usual: Usual, first: int) -> Floats:
    """Many series, a column each, as deviations from their own limits in sigma; what `usual_behavior` does, all at once."""
    known = usual.known
    fit = slice(0, first) if first else slice(None)
    coefficients = np.linalg.pinv(known[fit]) @ values[fit]
    fitted = known @ coefficients
    # A level that the baseline never saw has effect 0: its factor adds what it adds on average.
    for columns, new in usual.unseen(first):
        part = known[:, columns] @ coefficients[columns]
        fitted[new] += part[fit].mean(axis=0) - part[new]
    if first:
        free = first - int(np.linalg.matrix_rank(known[:first]))
        sigma = np.sqrt(np.square(values[:first] - fitted[:first]).sum(axis=0) / free)
    else:
        rest = values - fitted
        sigma = (
            np.concatenate([np.abs(np.diff(rest[level.units], axis=0)) for level in usual.streams]).mean(axis=0) / RANGE_TO_SIGMA
        )
    return np.asarray((values - fitted) / sigma)


def location_rules(rules: Rules) -> MonitorLimits:
    """The plan's rules; "beyond 3 sigma" follows the distance of the limits."""
    words = tuple(
        word.replace("beyond3_", f"beyond{rules.sigma_multiple:g}_") if word.startswith("1of1_") else word
        for word in rules.points
    )
    return MonitorLimits(rules=words, smoothing=rules.smoothing, ewma_multiple=rules.ewma_multiple)


def _quiet_episodes(
    usual: Usual, noise: Noise, day: Codes, first: int, rules: Rules, spread: Lines, freedom: int, seed: int, months: int
) -> dict[str, Floats]:
    """Episodes on each stream's chart in simulated quiet months, limits estimated from each simulation's own baseline."""
    rng = np.random.default_rng([seed, 1])
    if not noise.sigma_unit > 0:
        return {level.value: np.zeros(months) for level in usual.streams}
    z = standardized(simulate_noise(noise, day, rng)[:, :months], usual, first)[first:]
    # The spread's limit in terms of a chi variate over the root of its degrees of freedom.
    reach = spread.upper / spread.center * mean_chi(freedom) if freedom else math.nan
    judge = location_rules(rules).for_core()
    out = {}
    for level in usual.streams:
        own = np.ascontiguousarray(z[level.units[first:]].T)
        if not own.size:
            continue
        # Each series is a stream of its own to the monitor's count.
        offsets = np.arange(0, own.size + 1, own.shape[1], dtype=np.int64)
        count = np.asarray(_core.episode_counts(judge, own.ravel(), offsets), dtype=np.float64)
        if freedom:
            count += (np.sqrt(rng.chisquare(freedom, own.shape) / freedom) > reach).sum(axis=1)
        out[level.value] = count
    return out
