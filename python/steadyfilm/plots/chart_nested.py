"""The picture of nested readings: unit averages, their moving range, and the spread inside the units, on one axis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from steadyfilm.plots import Drawn
from steadyfilm.plots._caption import chance_words
from steadyfilm.plots._pair import Panel, draw_panels

if TYPE_CHECKING:
    from steadyfilm.chart_nested import NestedChart
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_nested"]


def plot_nested(
    result: NestedChart,
    *,
    ax: Any = None,
    quantity: str = "unit average",
    window: SpecLimits | None = None,
    phases: Sequence[tuple[int, str]] = (),
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw a chart of nested readings.

    Parameters
    ----------
    result : NestedChart
    ax : matplotlib axes, optional
        One axes, or three: averages, moving ranges, spreads.
    quantity : str
        What is charted, for the axis.
    window : SpecLimits, optional
        Window that unit averages are to meet, drawn unlike the control limits and never part of a rule.
    phases : sequence of (first unit, words), optional
        Where a phase starts, units from 0.
    title, caption : str, optional
        Instead of the verdict, and of what the chart says of its false alarms.
    """
    options, unit = result.made.options, result.made.unit
    estimated = options["center"] is None or options["sigma_average"] is None
    words = chance_words(options["rules"], result.count, estimated=estimated, point="unit")
    ranges, spreads = result.moving_range_limits, result.spread_limits
    limits = result.limits
    return draw_panels(
        [
            Panel(
                result.averages,
                limits.center,
                limits.lower,
                limits.upper,
                result.sigma_average,
                result.signals,
                window=window,
                label=quantity,
                unit=unit,
            ),
            Panel(
                result.moving_range,
                ranges.center,
                ranges.lower,
                ranges.upper,
                signals=result.moving_range_signals,
                label="moving range",
                unit=unit,
                role="moving_range",
            ),
            Panel(
                result.spreads,
                spreads.center,
                spreads.lower,
                spreads.upper,
                signals=result.spread_signals,
                label=result.spread_words(),
                unit=unit,
                role="spread",
                height=1.5,
            ),
        ],
        title=result.sentence() if title is None else title,
        caption=_caption(result, words) if caption is None else caption,
        time=result.time,
        hollow=~result.takes_part,
        break_before=result.break_before,
        phases=phases,
        point="unit",
        names=result.units,
        ax=ax,
    )


def _caption(result: NestedChart, words: str) -> str:
    chances = f"{100 * result.moving_range_chance:.2g} % (moving range) and {100 * result.spread_chance:.2g} % (spread)"
    below = f" Below, a point of a steady process leaves its limits with a chance of {chances}."
    several = len(result.locations) > 1
    pattern = " The spread is that of a unit's location averages after the location means are taken off." if several else ""
    return f"{words}{below}{pattern}"
