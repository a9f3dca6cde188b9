"""A wash tank over a period: titrations against their band, and below them the use of its chemical with limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import fixed, number, plural
from steadyfilm._wash.words import moment_words, told_first, upper_first
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import Axis, make_axis
from steadyfilm.plots._frame import open_frame, x_ticks_only_below
from steadyfilm.plots._labels import LineLabel, label_lines
from steadyfilm.plots.style import (
    COLORS,
    DASHES,
    LINE_WIDTHS,
    PAPER,
    label,
    matched,
    own_look,
    put_text,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.wash_review import TankReview, UseChange, UseChart, WashReview

__all__ = ["plot_wash"]

SHADE = "#e8e8ec"
"""A stretch of time, behind everything."""
PAUSES = 3.0
"""The line through points stops at a pause of more than so many middle intervals."""
LABELS = {"hour": "fed ({unit})", "area": "used by area\n({unit})", "day": "used by the day\n({unit})"}
MOST_SHADES = 4


def plot_wash(review: WashReview, *, tank: str | None = None, ax: Any = None) -> Drawn:
    """Draw one tank: titrations with the band, then each chart of its use with center and limits, on one axis of days.

    Parameters
    ----------
    review : WashReview
    tank : str, optional
        Which one; by default the first whose use changed, else the first that has anything to draw.
    ax : matplotlib axes, optional
        One axes, or as many as there are panels.
    """
    found = _tank(review, tank)
    charts = [chart for chart in found.charts if chart.rate.size]
    moments = [*([found.titrated_at] if found.percent.size else []), *(chart.end for chart in charts)]
    if not moments:
        raise InvalidInputError(f"nothing is on file of tank '{found.name}' that could be drawn", argument="tank")
    axis = make_axis(
        np.unique(np.concatenate([*moments, *(chart.start[:1] for chart in charts)])), _count(moments, charts), "time"
    )
    told = told_first(found.changes)
    title = told[0].sentence if told else found.sentence
    caption = _caption(found, charts)
    heights = [*([1.35] if found.percent.size else []), *(1.25 if k == 0 else 1.0 for k in range(len(charts)))]
    with own_look():
        frame = open_frame(heights, title=title, caption=caption, notes=(), ax=ax, rows=1 if found.changes else 0)
        artists: dict[str, Any] = {
            **frame.words,
            "changes": [],
            "titrations": [],
            "outside": [],
            "use": [],
            "signals": [],
            "lines": [],
        }
        data: dict[str, Any] = {}
        panels: dict[str, Axes] = {}
        free = list(zip(frame.panels, frame.points_high, strict=True))
        if found.percent.size:
            axes, high = free.pop(0)
            panels["titrations"] = axes
            _titrations(axes, high, found, artists, data)
        for chart, (axes, high) in zip(charts, free, strict=True):
            panels[chart.kind] = axes
            _use(axes, high, chart, artists, data)
        for axes in frame.panels:
            axes.set_xlim(*axis.limits())
        _shade(frame.panels, found.changes, artists, axis)
        axis.ticks(frame.panels[-1], frame.points_wide)
        x_ticks_only_below(frame.panels)
        label(frame.panels[-1], x=axis.label)
    notes = tuple(change.sentence for change in told[1:])
    return Drawn(frame.figure, panels, artists, data, title, caption, notes, frame.own_figure)


def _tank(review: WashReview, name: str | None) -> TankReview:
    if name is None:
        shown = [tank for tank in review.tanks if tank.percent.size or any(chart.rate.size for chart in tank.charts)]
        return next((tank for tank in shown if tank.changes), shown[0] if shown else review.tanks[0])
    for tank in review.tanks:
        if tank.name == name:
            return tank
    raise InvalidInputError(f"no tank '{name}' in this review; there: {', '.join(x.name for x in review.tanks)}", argument="tank")


def _count(moments: Sequence[Any], charts: Sequence[UseChart]) -> int:
    return int(np.unique(np.concatenate([*moments, *(chart.start[:1] for chart in charts)])).size)


def _days(times: Any) -> np.ndarray[Any, Any]:
    return np.asarray(np.asarray(times).astype("datetime64[us]").astype(np.int64) / 86_400e6)


def _thread(axes: Axes, x: np.ndarray[Any, Any], y: np.ndarray[Any, Any]) -> list[Any]:
    """A thin line through the points, broken at pauses, and the points."""
    steps = np.diff(x)
    cut = np.flatnonzero(steps > PAUSES * float(np.median(steps))) + 1 if steps.size else np.array([], dtype=int)
    look: dict[str, Any] = {"color": COLORS["thread"], "linewidth": LINE_WIDTHS["thread"], "zorder": 3}
    line = axes.plot(np.insert(x, cut, np.nan), np.insert(y, cut, np.nan), **look)
    return line + axes.plot(x, y, "o", ms=2.4, mfc=COLORS["value"], mec="none", linestyle="", zorder=4)


def _level(axes: Axes, value: float, role: str) -> Any:
    return axes.axhline(value, color=COLORS[role], linestyle=DASHES[role], linewidth=LINE_WIDTHS[role], zorder=2.5)


def _marks(axes: Axes, x: np.ndarray[Any, Any], y: np.ndarray[Any, Any], above: np.ndarray[Any, Any]) -> list[Any]:
    """Larger marks that point to the side, so that they do not rest on their color."""
    found = []
    for shape, pick in (("^", above), ("v", ~above)):
        if pick.any():
            look: dict[str, Any] = {"ms": 7.0, "mfc": COLORS["signal"], "mec": PAPER, "mew": 0.8, "zorder": 6}
            found += axes.plot(x[pick], y[pick], shape, linestyle="", **look)
    return found


def _room(axes: Axes, values: np.ndarray[Any, Any], lines: Sequence[float]) -> None:
    shown = [float(x) for x in (values.min(), values.max(), *lines) if math.isfinite(x)]
    low, high = min(shown), max(shown)
    wide = high - low or abs(high) or 1.0
    axes.set_ylim(low - 0.1 * wide, high + 0.1 * wide)


def _titrations(axes: Axes, high: float, tank: TankReview, artists: dict[str, Any], data: dict[str, Any]) -> None:
    x, y = _days(tank.titrated_at), tank.percent
    limits = [("from", tank.lower), ("to", tank.upper)]
    band = [(words, value) for words, value in limits if value is not None]
    artists["titrations"] += _thread(axes, x, y)
    out = np.array([state == "outside" for state in tank.states], dtype=bool)
    doubtful = np.array([state == "doubtful" for state in tank.states], dtype=bool)
    if out.any():
        above = y > (math.inf if tank.upper is None else tank.upper)
        artists["outside"] += _marks(axes, x[out], y[out], above[out])
    if doubtful.any():
        look: dict[str, Any] = {"ms": 5.0, "mfc": PAPER, "mec": COLORS["value"], "mew": 0.9, "zorder": 5}
        artists["outside"] += axes.plot(x[doubtful], y[doubtful], "D", linestyle="", **look)
    _room(axes, y, [value for _, value in band])
    artists["lines"] += [_level(axes, value, "window") for _, value in band]
    texts = matched(*(value for _, value in band)) if band else []
    labels = [LineLabel(value, f"band {words} {text} %", "window") for (words, value), text in zip(band, texts, strict=True)]
    artists["lines"] += label_lines(axes, labels, high)
    label(axes, y="titration (%)")
    data |= {"titrated_days": x, "percent": y, "outside": np.flatnonzero(out), "doubtful": np.flatnonzero(doubtful)}


def _use(axes: Axes, high: float, chart: UseChart, artists: dict[str, Any], data: dict[str, Any]) -> None:
    x = _days(chart.end)
    artists["use"] += _thread(axes, x, chart.rate)
    limited = math.isfinite(chart.center)
    lines = [("lower", chart.lower), ("usual", chart.center), ("upper", chart.upper)] if limited else []
    lines = [(words, value) for words, value in lines if words != "lower" or value > 0.0]
    _room(axes, chart.rate, [value for _, value in lines])
    texts = matched(*(value for _, value in lines), digits=3) if lines else []
    for words, value in lines:
        artists["lines"].append(_level(axes, value, "center" if words == "usual" else "limit"))
    roles = [("center" if words == "usual" else "limit") for words, _ in lines]
    names = {"lower": "lower limit", "usual": "usual", "upper": "upper limit"}
    labels = [
        LineLabel(value, f"{names[words]} {text}", role) for (words, value), text, role in zip(lines, texts, roles, strict=True)
    ]
    artists["lines"] += label_lines(axes, labels, high)
    if chart.signals:
        at = np.array(chart.signals)
        artists["signals"] += _marks(axes, x[at], chart.rate[at], chart.rate[at] > chart.center)
    label(axes, y=LABELS[chart.kind].format(unit=chart.unit))
    data |= {
        f"{chart.kind}_end_days": x,
        f"{chart.kind}_rate": chart.rate,
        f"{chart.kind}_limits": np.array([value for _, value in lines]),
        f"{chart.kind}_signals": np.array(chart.signals, dtype=np.int64),
    }


def _shade(panels: Sequence[Axes], changes: Sequence[UseChange], artists: dict[str, Any], axis: Axis) -> None:
    """The stretch of each change behind all panels, with its start in words on top."""
    right = axis.limits()[1]
    for change in changes[:MOST_SHADES]:
        start = float(_days(np.datetime64(change.start.replace(" ", "T")))[()])
        end = right if change.lasting else float(_days(np.datetime64(change.end.replace(" ", "T")))[()])
        for axes in panels:
            artists["changes"].append(axes.axvspan(start, end, color=SHADE, linewidth=0, zorder=0.5))
        where: dict[str, Any] = {"transform": panels[0].get_xaxis_transform(), "va": "bottom", "ha": "center"}
        words = f"from {moment_words(change.start)}"
        left = axis.limits()[0]
        share = (0.5 * (start + end) - left) / (right - left)
        where["ha"] = "left" if share < 0.15 else "right" if share > 0.85 else "center"
        artists["changes"].append(put_text(panels[0], 0.5 * (start + end), 1.02, words, **where))


def _caption(tank: TankReview, charts: Sequence[UseChart]) -> str:
    parts = [
        "Dots: a titration, or an interval at its end; large triangles: outside the band or beyond the limits, pointing away."
    ]
    if "doubtful" in tank.states:
        parts.append("Open diamonds: too near a limit to tell.")
    if tank.changes:
        parts.append("Gray: the use was off.")
    for chart in charts:
        way = {"hour": "by the hour", "area": "by painted area", "day": "by the day"}[chart.kind]
        if not math.isfinite(chart.center):
            parts.append(f"Use {way} has no limits: too few usual intervals.")
            continue
        whose = "of these same ones, far ones left out" if chart.own_limits else "of a usual period"
        parts.append(
            f"Use {way}: limits {fixed(chart.sigma_multiple, 2)} standard deviations from the mean, from "
            f"{plural(chart.usual_points, 'interval')} {whose}; a steady tank shows about {number(chart.expected_signals, 2)} "
            f"points beyond them in {plural(chart.rate.size, 'interval')} (independent normal points)."
        )
    return upper_first(" ".join(parts))
