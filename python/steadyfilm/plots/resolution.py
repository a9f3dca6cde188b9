"""The picture of rounded readings: how often each displayed value occurs, with the fitted curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import BANDS, COLORS, DASHES, LINE_WIDTHS, label, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.resolution import RoundedFit

__all__ = ["plot_rounded_fit"]


def plot_rounded_fit(
    result: RoundedFit, *, ax: Any = None, quantity: str = "reading", title: str | None = None, caption: str | None = None
) -> Drawn:
    """Draw one bar a displayed value, as wide as the step, and the normal curve fitted to the intervals.

    Where the readings allow only an upper limit of the spread, the curve of that limit is drawn, dashed.

    Parameters
    ----------
    result : RoundedFit
    ax : matplotlib axes, optional
    quantity : str
        What is measured.
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    unit, step = result.made.unit, result.step
    upper_only = result.only_an_upper_limit
    sd = result.sd_upper if upper_only else result.sd
    heading = result.sentence() if title is None else title
    words = "Bars: readings, each as wide as the step of the display. Curve: normal, "
    words += "with the largest spread that the readings allow." if upper_only else "fitted to the intervals."
    foot = words if caption is None else caption
    low = min(float(result.shown[0]) - step, result.mean - 3.2 * sd)
    high = max(float(result.shown[-1]) + step, result.mean + 3.2 * sd)
    x = np.linspace(low, high, 301)
    curve = result.count * step * np.exp(-0.5 * ((x - result.mean) / sd) ** 2) / (sd * np.sqrt(2 * np.pi))
    tallest = max(float(result.counts.max()), min(float(curve.max()), 3.0 * float(result.counts.max())))
    with own_look():
        frame = open_frame([2.4], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        look: dict[str, Any] = {"facecolor": BANDS[0], "edgecolor": COLORS["bar"], "linewidth": 0.9, "zorder": 2}
        artists["bars"] = list(axes.bar(result.shown, result.counts, width=step, **look))
        dash = DASHES["limit"] if upper_only else DASHES["curve"]
        style: dict[str, Any] = {"color": COLORS["curve"], "linestyle": dash, "linewidth": LINE_WIDTHS["curve"]}
        artists["curve"] = axes.plot(x, curve, zorder=4, **style)
        axes.set_xlim(low, high)
        axes.set_ylim(0, 1.12 * tallest)
        artists["curve_labels"] = [*axes.plot([1.02, 1.09], [0.6, 0.6], transform=axes.transAxes, clip_on=False, **style)]
        lines = ("normal curve,", "sd at most" if upper_only else "sd", f"{number(sd, 3)} {unit}".rstrip())
        for i, line in enumerate(lines):
            at: dict[str, Any] = {"transform": axes.transAxes, "ha": "left", "va": "top"}
            artists["curve_labels"].append(put_text(axes, 1.02, 0.57 - 0.06 * i, line, **at))
        label(axes, x=f"{quantity} ({unit})" if unit else quantity, y="readings")
    data = {
        "shown": result.shown,
        "counts": result.counts,
        "curve_x": x,
        "curve": curve,
        "mean_sd": np.array([result.mean, sd]),
    }
    return Drawn(frame.figure, {"readings": axes}, artists, data, heading, foot, (), frame.own_figure)
