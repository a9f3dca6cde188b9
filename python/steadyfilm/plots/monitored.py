"""Points judged against limits that were set before: the chart of a review, from plain numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from steadyfilm.limits import SpecLimits
from steadyfilm.plots import Drawn
from steadyfilm.plots._pair import Mark, Panel, draw_panels

__all__ = ["Mark", "Panel", "draw_monitored"]


def draw_monitored(
    values: Any,
    *,
    unit: str,
    center: Any,
    lower: Any,
    upper: Any,
    sigma: Any = None,
    signals: Sequence[Any] = (),
    time: Any = None,
    hollow: Any = None,
    break_before: Any = None,
    phases: Sequence[tuple[int, str]] = (),
    window: SpecLimits | None = None,
    quantity: str = "value",
    stream: str = "",
    title: str,
    caption: str = "",
    below: Sequence[Panel] = (),
    ax: Any = None,
) -> Drawn:
    """Draw points with given limits, their signals and gaps, and further panels below on the same axis.

    Parameters
    ----------
    values : array
        One number per point, in production order; NaN where the reading is missing.
    unit : str
        Unit of the values, put on the axis.
    center, lower, upper, sigma : float or array
        Lines of the chart and sigma of the point, one number or one per point (NaN: no line there). ``sigma`` draws the bands
        within 1, 2 and 3 sigma of the center.
    signals : sequence of Mark, of run_rules.Signal or of (point, text, side)
        ``point`` counts from 0; ``text`` is shown beside the point in shop words; ``side`` is "above", "below" or "both".
    time : array of datetime64, optional
        Rising times make a time axis; equal or unordered times give production order with the days as tick labels.
    hollow : array of bool, optional
        Points that take no part (excluded, suspect): drawn hollow, the line passes them by.
    break_before : array of bool, optional
        A gap before this point: the line is broken.
    phases : sequence of (first point, words), optional
        Where a phase starts, for example ``[(0, "baseline"), (120, "month under review")]``.
    window : SpecLimits, optional
        Specification window, drawn unlike control limits.
    quantity, stream : str
        What is plotted and of which stream; both go to the axis label.
    title : str
        The verdict in one sentence.
    caption : str
        What the chart's false-alarm figure is, and whatever else belongs under it.
    below : sequence of Panel
        Further rows on the same axis, at most three: spread inside the unit, moving range, EWMA.
    ax : matplotlib axes, optional
        One axes, or one for each panel; by default a figure of its own.

    Returns
    -------
    Drawn
        Axes "values" and one for each further panel by its role; ``data`` holds every number drawn.

    Examples
    --------
    >>> drawn = draw_monitored(
    ...     [2.1, 2.2, 2.6], unit="mil", center=2.1, lower=1.9, upper=2.3, sigma=0.07, quantity="film",
    ...     title="1 point above the limit.", signals=[(2, "beyond the limits", "above")],
    ... )
    >>> drawn.axes["values"].get_ylabel(), drawn.data["signals"].tolist()
    ('film (mil)', [2])
    """
    words = f"{quantity}, {stream}" if stream else quantity
    main = Panel(values, center, lower, upper, sigma, signals, window=window, label=words, unit=unit)
    return draw_panels(
        [main, *below],
        title=title,
        caption=caption,
        time=time,
        hollow=hollow,
        break_before=break_before,
        phases=phases,
        ax=ax,
    )
