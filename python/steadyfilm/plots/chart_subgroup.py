"""The picture of a subgroup chart: averages above, ranges or standard deviations below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm.plots import Drawn
from steadyfilm.plots._caption import chance_words
from steadyfilm.plots._pair import Panel, draw_panels

if TYPE_CHECKING:
    from steadyfilm.chart_subgroup import SubgroupChart
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_subgroups"]

_WORDS = {"range": "range", "sd": "sd"}


def plot_subgroups(
    result: SubgroupChart,
    *,
    ax: Any = None,
    quantity: str = "average",
    window: SpecLimits | None = None,
    phases: Sequence[tuple[int, str]] = (),
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw a subgroup chart; limits and bands step where subgroups have sizes of their own.

    Parameters
    ----------
    result : SubgroupChart
    ax : matplotlib axes, optional
        One axes, or two: averages, spreads.
    quantity : str
        What is charted, for the axis: ``"film, average of five"``.
    window : SpecLimits, optional
        Window that averages are to meet; leave it out when the window is for single readings.
    phases : sequence of (first subgroup, words), optional
        Where a phase starts, subgroups from 0.
    title, caption : str, optional
        Instead of the verdict, and of what the chart says of its false alarms.
    """
    options = result.made.options
    estimated = options["center"] is None or options["sigma_within"] is None
    count = int(result.takes_part.sum())
    words = chance_words(options["rules"], count, estimated=estimated, point=options["point"], pairs=True)
    with np.errstate(divide="ignore"):
        sigma = np.where(result.sizes > 0, result.sigma_within / np.sqrt(result.sizes), np.nan)
    unit = result.made.unit
    center = result.limits.center
    below = (result.spread_center, result.spread_lower, result.spread_upper)
    return draw_panels(
        [
            Panel(
                result.means, center, result.lower, result.upper, sigma, result.signals, window=window, label=quantity, unit=unit
            ),
            Panel(
                result.spreads, *below, signals=result.spread_signals, label=_WORDS[options["spread"]], unit=unit, role="spread"
            ),
        ],
        title=result.sentence() if title is None else title,
        caption=words if caption is None else caption,
        time=result.time,
        hollow=~result.takes_part,
        break_before=result.break_before,
        phases=phases,
        point=options["point"],
        names=result.labels,
        ax=ax,
    )
