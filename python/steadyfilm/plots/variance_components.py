"""The picture of variance components: one bar a source, with its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import shortened
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, INK, PAPER, label, matched, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.variance_components import BodyComponents, MixedComponents, NestedComponents

__all__ = ["plot_components"]

_NAMES = {"unit_location": "unit x loc.", "location": "pattern"}


def plot_components(
    result: NestedComponents | BodyComponents | MixedComponents,
    *,
    ax: Any = None,
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw the standard deviation of each source as a bar, its interval as a line across the end.

    Standard deviations, not variances, so that lengths are in the unit of the data. The fixed pattern of the locations, when
    there is one, is a hatched bar without interval: its root mean square.

    Parameters
    ----------
    result : NestedComponents, BodyComponents or MixedComponents
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    components = result.components
    sources = [one.source for one in components]
    heights = [one.sd for one in components]
    pattern = float(getattr(result, "location_rms", 0.0))
    fixed = len(getattr(result, "locations", ())) > 1
    if fixed:
        sources.append("location")
        heights.append(pattern)
    rows = np.arange(len(sources), dtype=float)
    random = rows[: len(components)]
    data = {
        "sd": np.array(heights),
        "sd_lower": np.array([one.sd_lower for one in components]),
        "sd_upper": np.array([one.sd_upper for one in components]),
        "share": np.array([one.share for one in components]),
        "variance": np.array([one.variance for one in components]),
    }
    level = number(100 * result.made.options["confidence_level"])
    whole = max(heights, default=0.0)
    # An upper end known from a few groups may be many times the bar; it is cut off with an arrow, and written out. A source
    # without an interval has no line.
    reach = max((end for end in data["sd_upper"].tolist() if end == end), default=0.0)
    edge = max(1.25 * whole, min(reach, 3.0 * whole)) or 1.0
    cut = data["sd_upper"] > edge
    words = f"Bar: standard deviation of the source; line across its end: {level} % interval"
    words += " (an arrow: it goes on beyond the picture)" if cut.any() else ""
    words += ". Hatched: what all units have in common." if fixed else "."
    heading = result.sentence() if title is None else title
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([max(0.9, 0.42 * len(sources) + 0.3)], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["bars"] = list(axes.barh(random, data["sd"][: len(random)], height=0.52, color=COLORS["bar"], zorder=2))
        if fixed:
            look: dict[str, Any] = {"facecolor": PAPER, "edgecolor": COLORS["bar"], "hatch": "////", "linewidth": 1.0}
            artists["pattern"] = list(axes.barh(rows[-1:], [pattern], height=0.52, zorder=2, **look))
        line: dict[str, Any] = {"color": INK, "linewidth": 1.4, "zorder": 4}
        artists["intervals"] = axes.hlines(random, data["sd_lower"], np.minimum(data["sd_upper"], edge), **line)
        ends = np.concatenate([data["sd_lower"], data["sd_upper"][~cut]])
        at = np.concatenate([random, random[~cut]])
        artists["interval_ends"] = axes.plot(ends, at, "|", ms=8, mew=1.4, color=INK, linestyle="", zorder=4)
        if cut.any():
            arrow: dict[str, Any] = {"ms": 5.5, "color": INK, "linestyle": "", "zorder": 4, "clip_on": False}
            artists["cut"] = axes.plot(np.full(int(cut.sum()), edge), random[cut], ">", **arrow)
        axes.set_xlim(0.0, edge * 1.02)
        axes.set_ylim(len(sources) - 0.45, -0.55)
        axes.set_yticks(rows, [shortened(_NAMES.get(source, source), 12) for source in sources])
        texts = matched(*heights)
        right = [f"{text}, {100 * share:.0f} %" for text, share in zip(texts, data["share"], strict=False)]
        right += [f"{texts[-1]}, fixed"] if fixed else []
        for i in np.flatnonzero(cut):
            right[i] += f"\nto {number(float(data['sd_upper'][i]), 3)}"
        artists["row_labels"] = [put_label(axes, row, text) for row, text in zip(rows, right, strict=True)]
        unit = result.made.unit
        label(axes, x=f"standard deviation ({unit})" if unit else "standard deviation", y="")
    return Drawn(frame.figure, {"components": axes}, artists, data, heading, foot, (), frame.own_figure)


def put_label(axes: Any, row: float, text: str) -> Any:
    """Words right of the axes, at a row; a second line below the first."""
    first, _, second = text.partition("\n")
    where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left"}
    if not second:
        return put_text(axes, 1.02, row, first, va="center", **where)
    put_text(axes, 1.02, row + 0.05, second, va="top", **where)
    return put_text(axes, 1.02, row, first, va="bottom", **where)
