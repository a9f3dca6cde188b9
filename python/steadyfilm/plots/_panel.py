"""One panel: bands, lines, points, signals and their range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.limits import SpecLimits
from steadyfilm.plots._axis import Axis
from steadyfilm.plots._labels import Group, LineLabel, Mark, label_lines
from steadyfilm.plots.style import BANDS, COLORS, DASHES, INK, LINE_WIDTHS, PAPER, SMALL, matched

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MANY_POINTS = 5000
"""More points than this are drawn as an image inside the SVG; words and lines stay sharp."""


@dataclass(frozen=True)
class Panel:
    """One row of a chart: numbers for each point, in the unit of the axis.

    ``center``, ``lower``, ``upper`` and ``sigma`` (of the point) are one number or one per point; NaN or None: there is none.
    ``trace`` is a smoothed course (EWMA): the limits then belong to it, and the single values are drawn faintly behind.
    """

    values: Any
    center: Any = None
    lower: Any = None
    upper: Any = None
    sigma: Any = None
    signals: Sequence[Any] = ()
    trace: Any = None
    window: SpecLimits | None = None
    label: str = "value"
    unit: str = ""
    names: tuple[str, str, str] = ("LCL", "center", "UCL")
    role: str = "values"
    height: float = field(default=0.0)


def _per_point(given: Any, count: int) -> np.ndarray:
    if given is None:
        return np.full(count, np.nan)
    numbers = np.asarray(given, dtype=float)
    return np.full(count, float(numbers)) if numbers.ndim == 0 else numbers


def draw_panel(
    axes: Axes,
    panel: Panel,
    axis: Axis,
    hollow: np.ndarray,
    breaks: np.ndarray,
    marks: Sequence[Mark],
    groups: Sequence[Group],
    points_high: float,
) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    count = len(axis.x)
    values = np.asarray(panel.values, dtype=float)
    trace = None if panel.trace is None else np.asarray(panel.trace, dtype=float)
    lines = {role: _per_point(getattr(panel, role), count) for role in ("lower", "center", "upper", "sigma")}
    for role, array in {"values": values, **lines, **({} if trace is None else {"trace": trace})}.items():
        if array.shape != (count,):
            raise ValueError(f"{panel.role}: {role} needs {count} numbers, got shape {array.shape}")
    shown = values if trace is None else trace
    found: dict[str, Any] = {}
    low, high = _range(panel, values, trace, lines, hollow, groups, points_high)
    axes.set_ylim(low, high)
    far = hollow & ((values < low) | (values > high))
    found["bands"] = _bands(axes, axis, lines)
    # A smoothed course is carried over points that take no part.
    passed = hollow if trace is None else np.zeros(count, dtype=bool)
    found["thread"] = _thread(axes, axis.x, shown, passed, breaks, "trace" if trace is not None else "thread")
    found["patterns"] = _patterns(axes, axis.x, shown, hollow, breaks, marks)
    found["center"] = _steps(axes, axis, lines["center"], "center")
    if _has_lower(panel, lines):
        found["lower"] = _steps(axes, axis, lines["lower"], "limit")
    found["upper"] = _steps(axes, axis, lines["upper"], "limit")
    found |= _window(axes, panel.window)
    many = count > MANY_POINTS
    at_signal = np.zeros(count, dtype=bool)
    at_signal[[mark.point for mark in marks]] = True
    here = np.isfinite(values)
    faint = trace is not None
    full = here & ~hollow & ~(at_signal & (trace is None))
    color = COLORS["thread"] if faint else COLORS["value"]
    dot = 2.2 if faint or count > 120 else 3.4
    found["points"] = axes.plot(axis.x[full], values[full], "o", ms=dot, mfc=color, mec=color, mew=0, zorder=5, rasterized=many)
    if (here & hollow).any():
        pick = here & hollow & ~far
        found["hollow"] = axes.plot(
            axis.x[pick], values[pick], "o", ms=4.2, mfc=PAPER, mec=INK, mew=0.9, zorder=6, rasterized=many
        )
    found["off_scale"] = _off_scale(axes, axis.x, values, far)
    if not here.all() and panel.role == "values":
        pick = ~here
        found["missing"] = axes.plot(
            axis.x[pick], np.full(pick.sum(), 0.015), "o", ms=4.2, mfc=PAPER, mec=INK, mew=0.9, zorder=6, clip_on=False,
            transform=axes.get_xaxis_transform(),
        )  # fmt: skip
    found["signals"] = _signal_markers(axes, axis.x, shown, marks)
    found["line_labels"] = label_lines(axes, _line_labels(panel, lines), points_high)
    numbers: dict[str, np.ndarray] = {"values": values, **lines, "shown": shown}
    numbers["signals"] = np.array([mark.point for mark in marks], dtype=np.int64)
    if trace is not None:
        numbers["trace"] = trace
    return found, numbers


def _has_lower(panel: Panel, lines: dict[str, np.ndarray]) -> bool:
    """A spread chart has no lower limit where it comes out as 0."""
    return panel.role == "values" or bool((lines["lower"] > 0).any())


def _range(
    panel: Panel,
    values: np.ndarray,
    trace: np.ndarray | None,
    lines: dict[str, np.ndarray],
    hollow: np.ndarray,
    groups: Sequence[Group],
    points_high: float,
) -> tuple[float, float]:
    """Everything that takes part fits, with room for words above and below the outermost points.

    A point that takes no part widens the range at most to twice, so that a mistyped value does not flatten the chart.
    """
    window = panel.window or SpecLimits()
    single = [x for x in (window.lower, window.upper) if x is not None]
    arrays = [
        values[~hollow],
        lines["lower"],
        lines["center"],
        lines["upper"],
        np.array(single),
        *([] if trace is None else [trace]),
    ]
    finite = np.concatenate([array[np.isfinite(array)] for array in arrays])
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 1.0)
    if low == high:
        pad = abs(low) * 0.05 or 1.0
        low, high = low - pad, high + pad
    aside = values[hollow & np.isfinite(values)]
    aside = aside[(aside > low - (high - low) / 2) & (aside < high + (high - low) / 2)]
    low, high = min([low, *aside.tolist()]), max([high, *aside.tolist()])
    shown = values if trace is None else trace
    above = below = 0.05
    span = high - low
    for group in groups:
        here = shown[list(group.points)]
        room = 26 / points_high  # a marker and a line of words
        if group.side == "below":
            below = max(below, room - (float(np.nanmin(here)) - low) / span)
        else:
            above = max(above, room - (high - float(np.nanmax(here))) / span)
    floor_at_zero = low >= 0 and low / span < 0.02 and panel.role != "values"
    return (0.0 if floor_at_zero and below == 0.05 else low - below * span), high + above * span


def _off_scale(axes: Axes, x: np.ndarray, values: np.ndarray, far: np.ndarray) -> list[Any]:
    """Points that take no part and lie far away: hollow arrows at the edge, with their value."""
    found: list[Any] = []
    low, high = axes.get_ylim()
    for point in np.flatnonzero(far):
        up = bool(values[point] > high)
        style: dict[str, Any] = {"ms": 6, "mfc": PAPER, "mec": INK, "mew": 0.9, "zorder": 8, "clip_on": False}
        edge = high - 0.04 * (high - low) if up else low + 0.04 * (high - low)
        found += axes.plot([x[point]], [edge], "^" if up else "v", **style)
        left = bool(x[point] > np.mean(axes.get_xlim()))
        note = axes.annotate(
            f"{number(float(values[point]), 4)}, off the scale",
            xy=(x[point], edge),
            xytext=(-6 if left else 6, 0),
            textcoords="offset points",
            ha="right" if left else "left",
            va="center",
            fontsize=SMALL,
            color=INK,
            zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 0.6},
        )
        found.append(note)
    return found


def _bands(axes: Axes, axis: Axis, lines: dict[str, np.ndarray]) -> list[Any]:
    center, sigma = lines["center"], lines["sigma"]
    if not np.isfinite(sigma).any() or not np.nanmax(sigma) > 0:
        return []
    found = []
    for i in (2, 1, 0):  # the widest first, the narrower over it
        x, low, high = axis.steps(center - (i + 1) * sigma, center + (i + 1) * sigma)
        found.append(axes.fill_between(x, low, high, color=BANDS[i], linewidth=0, zorder=0.5 + 0.1 * (2 - i)))
    return found


def _thread(axes: Axes, x: np.ndarray, y: np.ndarray, hollow: np.ndarray, breaks: np.ndarray, role: str) -> list[Any]:
    """The line through the points that take part; it stops at every gap, and at points that take no part."""
    height = np.where(hollow, np.nan, y)
    cut = np.flatnonzero(breaks)
    return axes.plot(
        np.insert(x, cut, np.nan),
        np.insert(height, cut, np.nan),
        color=COLORS[role],
        linewidth=LINE_WIDTHS[role],
        zorder=4,
        rasterized=len(x) > MANY_POINTS,
    )


def _patterns(
    axes: Axes, x: np.ndarray, y: np.ndarray, hollow: np.ndarray, breaks: np.ndarray, marks: Sequence[Mark]
) -> list[Any]:
    """The line through the points of each pattern of several points, drawn strongly."""
    part = np.zeros(len(x), dtype=bool)
    for mark in marks:
        if mark.length > 1:
            part[max(0, mark.point - mark.length + 1) : mark.point + 1] = True
    if not part.any():
        return []
    found = _thread(axes, x, np.where(part, y, np.nan), hollow, breaks, "thread")
    found[0].set(color=COLORS["signal"], linewidth=1.5, alpha=0.65, zorder=4.5)
    return found


def _steps(axes: Axes, axis: Axis, height: np.ndarray, role: str) -> list[Any]:
    if not np.isfinite(height).any():
        return []
    x, y = axis.steps(height)
    return axes.plot(x, y, color=COLORS[role], linestyle=DASHES[role], linewidth=LINE_WIDTHS[role], zorder=3)


def _window(axes: Axes, window: SpecLimits | None) -> dict[str, Any]:
    found = {}
    for name in ("lower", "upper"):
        value = None if window is None else getattr(window, name)
        if value is not None:
            style = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
            found[f"window_{name}"] = axes.axhline(value, zorder=2.5, **style)
    return found


_SHAPES = {"above": "^", "below": "v", "both": "D"}


def _signal_markers(axes: Axes, x: np.ndarray, y: np.ndarray, marks: Sequence[Mark]) -> list[Any]:
    """Larger markers that point to the side of the signal."""
    sides: dict[int, str] = {}
    for mark in marks:
        side = mark.side if mark.side in _SHAPES else "both"
        sides[mark.point] = side if sides.get(mark.point, side) == side else "both"
    found = []
    for side, shape in _SHAPES.items():
        points = [point for point, here in sorted(sides.items()) if here == side]
        if points:
            size = 7.5 if side != "both" else 6.2
            found += axes.plot(
                x[points], y[points], shape, ms=size, mfc=COLORS["signal"], mec=PAPER, mew=0.8, zorder=7, linestyle=""
            )
    return found


def _line_labels(panel: Panel, lines: dict[str, np.ndarray]) -> list[LineLabel]:
    kinds = {"lower": "limit", "center": "center", "upper": "limit"}
    ends = {}
    names = panel.names if _has_lower(panel, lines) else ("", *panel.names[1:])
    for name, (role, line) in zip(names, [(role, lines[role]) for role in kinds], strict=True):
        finite = line[np.isfinite(line)]
        if finite.size and name:
            ends[role] = (name, float(finite[-1]), bool(finite.min() == finite.max()))
    texts = matched(*(value for _, value, _ in ends.values())) if ends else []
    found = [
        LineLabel(value, f"{name} {text}" if constant else f"{name} {text} (end)", kinds[role])
        for (role, (name, value, constant)), text in zip(ends.items(), texts, strict=True)
    ]
    window = panel.window or SpecLimits()
    limits = [
        (words, value) for words, value in (("window from", window.lower), ("window to", window.upper)) if value is not None
    ]
    texts = matched(*(value for _, value in limits)) if limits else []
    return found + [
        LineLabel(float(value), f"{words} {text}", "window") for (words, value), text in zip(limits, texts, strict=True)
    ]
