"""The picture of a baseline: where each stream runs, how well that is known, and the limits that new points will meet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import shortened
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, PAPER, SMALL, label, matched, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.baseline import Baseline
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_baseline"]

MOST_STREAMS = 40


def plot_baseline(
    result: Baseline,
    *,
    ax: Any = None,
    quantity: str = "value",
    window: SpecLimits | None = None,
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw the streams of a baseline, one row each.

    Parameters
    ----------
    result : Baseline
        At most 40 streams; ``to_frame()`` gives the numbers of more.
    ax : matplotlib axes, optional
    quantity : str
        What is charted, for the axis.
    window : SpecLimits, optional
        Specification window of the points.
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    streams = result.streams
    if len(streams) > MOST_STREAMS:
        raise InvalidInputError(f"a picture holds {MOST_STREAMS} streams, the baseline has {len(streams)}", argument="result")
    names = ("center", "center_lower", "center_upper", "lower", "upper")
    data = {name: np.array([getattr(stream, name) for stream in streams], dtype=float) for name in names}
    data["count"] = np.array([stream.count for stream in streams])
    rows = np.arange(len(streams), dtype=float)
    confidence = number(100 * result.made.options["confidence_level"])
    words = (
        f"Dot and thick bar: center of the stream with its {confidence} % interval. Dashed, to the short strokes: limits at "
        f"{number(result.sigma_multiple)} sigma of a point. A hollow dot has fewer than {plural(result.fewest_points, 'point')} "
        f"or another reason to have no limits of its own."
    )
    heading = result.sentence() if title is None else title
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([max(0.9, 0.3 * len(streams) + 0.35)], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        own = np.isfinite(data["lower"])
        limit: dict[str, Any] = {"color": COLORS["limit"], "linewidth": LINE_WIDTHS["limit"]}
        artists["limits"] = axes.hlines(rows[own], data["lower"][own], data["upper"][own], linestyles=DASHES["limit"], **limit)
        ends = np.concatenate([data["lower"][own], data["upper"][own]])
        artists["limit_ends"] = axes.plot(ends, np.tile(rows[own], 2), "|", ms=9, mew=1.4, color=COLORS["limit"], linestyle="")
        thick: dict[str, Any] = {"color": COLORS["trace"], "linewidth": 5.0, "zorder": 4}
        artists["intervals"] = axes.hlines(rows, data["center_lower"], data["center_upper"], **thick)
        for name, pick, face in (("centers", own, COLORS["value"]), ("hollow", ~own, PAPER)):
            if pick.any():
                dot: dict[str, Any] = {"ms": 5, "mfc": face, "mec": COLORS["value"], "mew": 0.9, "zorder": 5, "linestyle": ""}
                artists[name] = axes.plot(data["center"][pick], rows[pick], "o", **dot)
        axes.set_ylim(len(streams) - 0.5, -0.5)
        axes.set_yticks(rows, [shortened(stream.stream or "all points", 12) for stream in streams])
        axes.margins(x=0.04)
        artists |= _window(axes, window)
        artists["row_labels"] = [
            put_text(axes, 1.02, row, f"{text}, n {stream.count}", transform=axes.get_yaxis_transform(), ha="left", va="center")
            for row, text, stream in zip(rows, matched(*data["center"]) if len(streams) else [], streams, strict=True)
        ]
        label(axes, x=f"{quantity} ({result.made.unit})" if result.made.unit else quantity, y="")
    return Drawn(frame.figure, {"streams": axes}, artists, data, heading, foot, (), frame.own_figure)


def _window(axes: Any, window: SpecLimits | None) -> dict[str, Any]:
    limits = [] if window is None else [(name, getattr(window, name)) for name in ("lower", "upper")]
    limits = [(name, value) for name, value in limits if value is not None]
    texts = matched(*(value for _, value in limits)) if limits else []
    found: dict[str, Any] = {}
    for (name, value), text in zip(limits, texts, strict=True):
        style: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
        found[f"window_{name}"] = axes.axvline(value, zorder=2, **style)
        words = f"window {'from' if name == 'lower' else 'to'} {text}"
        where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "bottom", "fontsize": SMALL}
        found[f"window_{name}_label"] = put_text(axes, value, 1.01, words, **where)
    return found
