"""The charts of a layer: limits from the baseline, held fixed; the month's units against them, stream by stream.

Center: the stream's usual level, after what painters, substrates and other adjusted factors usually add is taken off.
Sigma of the point: standard deviation of the baseline's units about the additive model, all streams pooled, so that the
day-to-day variation of a steady line is inside the limits. Without a baseline the mean moving range within streams.
How many sigma out the lines stand is the business of `alarms`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._result import frozen
from steadyfilm._review.alarms import NO_COST, QuietCharts
from steadyfilm._review.series import Usual, stream_labels
from steadyfilm._review.unevenness import Lines, Spreads
from steadyfilm.baseline import Baseline, baseline, points_for
from steadyfilm.monitor import monitor
from steadyfilm.run_rules import Signal

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm._review.options import Options

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
Flags = NDArray[np.bool_]

FEWEST_BASELINE_UNITS = 20
"""A stream with fewer baseline units gets no limits of its own."""
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
    break_before: Flags
    """Where a pause longer than the plan's longest gap lies before a unit: runs and EWMA start anew there."""
    signals: tuple[Signal, ...]
    baseline_units: int
    expected_episodes: float
    """Mean number of episodes of quiet periods under the fitted variation, limits estimated anew, all panels together."""
    expected_error: float
    """Standard error of that mean: it is simulated."""
    most_expected: float
    """The smallest number that at most 1 % of quiet periods exceed."""
    independent_episodes: float
    """Mean number if units were independent, same lines and rules; only to be shown beside ``expected_episodes``."""

    @property
    def unusual(self) -> bool:
        """Whether there are more episodes than 99 % of quiet periods show."""
        return len(self.signals) > self.most_expected


def usual_behavior(source: LayerUnits, options: Options, *, held: bool) -> Baseline:
    """The baseline of a layer: additive centers and the spread of unit averages.

    Held limits take the standard deviation about the centers, so that a steady line's day-to-day variation is inside
    them. Limits from the units under review themselves take moving ranges, which a change inflates less.
    """
    return baseline(
        _table(source, options),
        "average",
        unit=options.unit,
        stream=_stream_columns(options),
        adjust=[FACTOR + name for name in options.adjust],
        time="time" if source.time is not None else None,
        longest_gap=options.rules.longest_gap,
        sigma_estimator="sd" if held else "mean_moving_range",
        fewest_points=FEWEST_BASELINE_UNITS if held else 2,
        confidence_level=options.confidence_level,
    )


def _table(units: LayerUnits, options: Options) -> dict[str, Any]:
    """The units as a table; the plan's own column names are kept apart from ours."""
    factors = {FACTOR + name: stream_labels(units, [name]) for name in (*options.streams, *options.adjust)}
    if not options.streams:
        factors[FACTOR] = stream_labels(units, ())
    stamps = {} if units.time is None else {"time": units.time}
    return {"average": units.average, **factors, **stamps}


def _stream_columns(options: Options) -> list[str]:
    """Without columns of streams all units are one stream, called as in `series.stream_labels`."""
    return [FACTOR + name for name in options.streams] or [FACTOR]


def limited_streams(found: Baseline, usual: Usual, first: int) -> tuple[str, ...]:
    """Streams of the period under review that have limits of their own."""
    own = {x.stream for x in found.streams if x.has_limits}
    return tuple(level.value for level in usual.streams if level.value in own and level.units[first:].any())


def why_without_limits(found: Baseline) -> str:
    """Why streams of the usual period have no limits of their own, with the way out; empty where every one has."""
    reasons = {x.reason: x.stream for x in found.streams if not x.has_limits}
    told = [f"{stream}: {reason}" for reason, stream in reasons.items()]
    if any("told apart" in reason for reason in reasons):
        told.append("leave that column out of the plan's streams or adjust")
    return "; ".join(told)


def chart_streams(
    found: Baseline,
    spreads: Spreads,
    base: LayerUnits | None,
    month: LayerUnits,
    usual: Usual,
    options: Options,
    quiet: QuietCharts,
    multiple: float,
) -> tuple[StreamChart, ...]:
    """Every stream's chart against its limits, with the number of episodes that quiet periods show on it."""
    first = len(base) if base is not None else 0
    limits = quiet.limits(multiple)
    spread, spread_lines = spreads.month, spreads.lines(multiple)
    points = points_for(found, _table(month, options), small_streams="leave_out")
    monitored = monitor(limits, None, points)
    own = {x.stream: x for x in found.streams}
    charts = []
    for level in usual.streams:
        at = np.flatnonzero(level.units[first:]).astype(np.intp)
        if not len(at):
            continue
        count = int(level.units[:first].sum())
        uneven = spread[at] if len(spread) else spread
        if level.value not in quiet.streams:
            charts.append(_without_limits(level.value, at, month, uneven, count, options))
            continue
        center, sigma = own[level.value].center, own[level.value].sigma_point
        place = {int(i): k for k, i in enumerate(at)}
        signals = [
            Signal(place[x.point], " and ".join(x.rules), x.side, x.length) for x in monitored.episodes if x.point in place
        ]
        signals += [Signal(int(i), SPREAD, "above") for i in np.flatnonzero(uneven > spread_lines.upper)]
        reach, width = multiple * sigma, monitored.ewma_limit * sigma
        cost = quiet.cost(multiple, level.value)
        charts.append(
            StreamChart(
                stream=level.value,
                at=at,
                values=center + sigma * monitored.z[at],
                lines=Lines(center, center - reach, center + reach),
                sigma=sigma,
                ewma=center + sigma * monitored.ewma[at] if limits.smoothing else np.empty(0),
                ewma_lines=Lines(center, center - width, center + width),
                spread=uneven,
                spread_lines=spread_lines,
                break_before=frozen(monitored.break_before[at]),
                signals=tuple(sorted(signals, key=lambda s: (s.point, s.rule))),
                baseline_units=count,
                expected_episodes=cost.expected,
                expected_error=cost.standard_error,
                most_expected=cost.most_expected,
                independent_episodes=cost.independent,
            )
        )
    return tuple(charts)


def _without_limits(stream: str, at: Codes, month: LayerUnits, uneven: Floats, count: int, options: Options) -> StreamChart:
    nothing = Lines(math.nan, math.nan, math.nan)
    breaks = np.zeros(len(at), dtype=bool) if month.time is None else options.rules.breaks(month.time[at])
    return StreamChart(
        stream=stream,
        at=at,
        values=month.average[at],
        lines=nothing,
        sigma=math.nan,
        ewma=np.empty(0),
        ewma_lines=nothing,
        spread=uneven,
        spread_lines=nothing,
        break_before=frozen(breaks),
        signals=(),
        baseline_units=count,
        expected_episodes=NO_COST.expected,
        expected_error=NO_COST.standard_error,
        most_expected=NO_COST.most_expected,
        independent_episodes=NO_COST.independent,
    )
