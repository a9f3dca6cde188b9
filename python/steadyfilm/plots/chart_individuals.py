"""The picture of an individuals chart: single values above, moving ranges below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from steadyfilm._chart import limits_clause
from steadyfilm.plots import Drawn
from steadyfilm.plots._caption import chance_words
from steadyfilm.plots._pair import Panel, draw_panels

if TYPE_CHECKING:
    from steadyfilm.chart_individuals import IndividualsChart
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_individuals"]


def plot_individuals(
    result: IndividualsChart,
    *,
    ax: Any = None,
    quantity: str = "value",
    window: SpecLimits | None = None,
    spread: bool = False,
    phases: Sequence[tuple[int, str]] = (),
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw an individuals chart.

    Parameters
    ----------
    result : IndividualsChart
    ax : matplotlib axes, optional
        One axes, or two: values, moving ranges.
    quantity : str
        What is charted, for the axis: ``"film, unit average"``.
    window : SpecLimits, optional
        Specification window, drawn unlike the control limits and never part of a rule.
    spread : bool
        The values are a spread, a standard deviation or a range, and never below 0: a lower limit at or below 0 is left out,
        and the caption says so.
    phases : sequence of (first point, words), optional
        Where a phase starts, points from 0.
    title, caption : str, optional
        Instead of the verdict, and of what the chart says of its false alarms.
    """
    options = result.made.options
    estimated = options["center"] is None or options["sigma_within"] is None
    words = chance_words(options["rules"], result.made.count, estimated=estimated, point=options["point"], pairs=True)
    ranges = result.moving_range_limits
    bare = spread and result.limits.lower <= 0.0
    verdict = result.sentence()
    if bare:
        mean = result.sum / result.made.count if options["center"] is not None else None
        both, upper = (limits_clause(result.limits, result.made.unit, mean, no_lower=one) for one in (False, True))
        verdict = verdict.replace(both, upper)
        words = f"{words} No lower limit: a spread is never below 0."
    return draw_panels(
        [
            Panel(
                result.values,
                result.limits.center,
                None if bare else result.limits.lower,
                result.limits.upper,
                result.sigma_within,
                result.signals,
                window=window,
                label=quantity,
                unit=result.made.unit,
            ),
            Panel(
                result.moving_range,
                ranges.center,
                ranges.lower,
                ranges.upper,
                signals=result.moving_range_signals,
                label="moving range",
                unit=result.made.unit,
                role="spread",
            ),
        ],
        title=verdict if title is None else title,
        caption=words if caption is None else caption,
        time=result.time,
        hollow=~result.takes_part,
        break_before=result.break_before,
        phases=phases,
        point=options["point"],
        ax=ax,
    )
