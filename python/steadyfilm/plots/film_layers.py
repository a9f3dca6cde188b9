"""What layers within their windows add up to: each layer, the total at worst and by root sum of squares, and its window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, label, matched, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.film_layers import StackUp
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_stack_up"]


def plot_stack_up(found: StackUp, ax: Any = None, *, total: SpecLimits | None = None, names: tuple[str, ...] = ()) -> Drawn:
    """Draw a stack-up: one bar a layer from end to end, then the total at worst and by root sum of squares.

    Parameters
    ----------
    found : StackUp
    ax : matplotlib axes, optional
        In place of a figure of its own.
    total : SpecLimits, optional
        Window of the total, drawn across.
    names : tuple of str
        Names of the layers; numbered without them.

    Examples
    --------
    >>> from steadyfilm.film_layers import stack_up
    >>> drawn = plot_stack_up(stack_up(centers_mil=[1.1, 2.1], half_widths_mil=[0.1, 0.1]), names=("primer", "topcoat"))
    >>> drawn.data["lower"].round(3).tolist()
    [1.0, 2.0, 3.0, 3.059]
    """
    unit = found.made.unit
    layers = list(names) or [f"layer {k + 1}" for k in range(len(found.centers))]
    if len(layers) != len(found.centers):
        raise ValueError(f"names needs {len(found.centers)} names, one a layer, got {len(layers)}")
    lower = np.array([*np.subtract(found.centers, found.half_widths), found.worst_lower, found.rss_lower])
    upper = np.array([*np.add(found.centers, found.half_widths), found.worst_upper, found.rss_upper])
    rows = [*layers, "total, worst case", "total, statistical"]
    correlation = float(found.made.options["correlation"])
    kind = "independent layers" if correlation == 0.0 else f"layers that correlate by {number(correlation, 2)}"
    caption = f"Each bar is what lies inside the layer's window; statistical: root sum of squares, for {kind}."
    with own_look():
        frame = open_frame([0.34 * len(rows) + 0.3], title=found.sentence(), caption=caption, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "bars": [], "ends": [], "window": []}
        for k, (low, high) in enumerate(zip(lower, upper, strict=True)):
            color = COLORS["bar"] if k < len(layers) else COLORS["curve"]
            artists["bars"] += axes.plot([low, high], [k, k], color=color, linewidth=7.0, solid_capstyle="butt", zorder=2)
            texts = matched(float(low), float(high))
            where: dict[str, Any] = {"va": "center"}
            artists["ends"].append(put_text(axes, low, k, f"{texts[0]} ", ha="right", **where))
            artists["ends"].append(put_text(axes, high, k, f" {texts[1]}", ha="left", **where))
        for end in () if total is None else (total.lower, total.upper):
            if end is not None:
                style: dict[str, Any] = {"linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
                artists["window"].append(axes.axvline(end, color=COLORS["window"], zorder=1, **style))
                head: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "bottom"}
                artists["window"].append(put_text(axes, end, 1.0, f"window {number(end)}", **head))
        span = float(upper.max() - lower.min())
        axes.set_xlim(lower.min() - 0.14 * span, upper.max() + 0.14 * span)
        axes.set_ylim(len(rows) - 0.4, -0.6)
        axes.set_yticks(range(len(rows)))
        # Names beside the bars: the room left of the axis is for numbers.
        axes.set_yticklabels([])
        axes.tick_params(axis="y", length=0)
        for k, name in enumerate(rows):
            side: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
            artists["ends"].append(put_text(axes, 1.01, k, name, **side))
        label(axes, x=f"thickness ({unit})" if unit else "thickness", y="")
    data = {"lower": lower, "upper": upper, "center": np.array([*found.centers, found.center, found.center])}
    return Drawn(frame.figure, {"stack": axes}, artists, data, found.sentence(), caption, (), frame.own_figure)
