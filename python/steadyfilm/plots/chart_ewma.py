"""The picture of an EWMA chart: the smoothed course with its limits, the single values faintly behind it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from steadyfilm.plots import Drawn
from steadyfilm.plots._caption import ewma_words
from steadyfilm.plots._labels import Mark
from steadyfilm.plots._pair import Panel, draw_panels

if TYPE_CHECKING:
    from steadyfilm.chart_ewma import EwmaChart
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_ewma"]


def plot_ewma(
    result: EwmaChart,
    *,
    ax: Any = None,
    quantity: str = "value",
    window: SpecLimits | None = None,
    phases: Sequence[tuple[int, str]] = (),
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw an EWMA chart.

    Parameters
    ----------
    result : EwmaChart
    ax : matplotlib axes, optional
    quantity : str
        What is charted, for the axis: ``"film, unit average"``.
    window : SpecLimits, optional
        Specification window, drawn unlike the control limits.
    phases : sequence of (first point, words), optional
        Where a phase starts, points from 0.
    title, caption : str, optional
        Instead of the verdict, and of what the chart says of its false alarms.
    """
    options = result.made.options
    words = "Line: EWMA; small dots: the single values. "
    words += ewma_words(options["smoothing"], options["sigma_multiple"], point=options["point"])
    panel = Panel(
        result.values,
        result.limits.center,
        result.lower,
        result.upper,
        signals=[Mark(signal.point, "EWMA beyond its limit", signal.side) for signal in result.signals],
        trace=result.ewma,
        window=window,
        label=quantity,
        unit=result.made.unit,
    )
    return draw_panels(
        [panel],
        title=result.sentence() if title is None else title,
        caption=words if caption is None else caption,
        time=result.time,
        hollow=~result.takes_part,
        break_before=result.break_before,
        phases=phases,
        point=options["point"],
        ax=ax,
    )
