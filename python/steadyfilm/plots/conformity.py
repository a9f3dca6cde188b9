"""Pictures of conformity: a window with its guard bands, and the operating curve of a sampling plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import (
    BANDS,
    COLORS,
    DASHES,
    INK,
    LINE_WIDTHS,
    PAPER,
    SMALL,
    label,
    matched,
    own_look,
    put_text,
    text_width,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.conformity import GuardBand, OperatingCurve, ReadingConformity

__all__ = ["plot_guard_band", "plot_operating_curve"]


def plot_guard_band(
    result: GuardBand | ReadingConformity,
    *,
    ax: Any = None,
    quantity: str = "value",
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw a window with its guard bands: where a reading is clearly in, doubtful (hatched) and clearly out.

    With a reading, its value and two standard uncertainties on either side stand above the strip.

    Parameters
    ----------
    result : GuardBand or ReadingConformity
    ax : matplotlib axes, optional
    quantity : str
        What is measured.
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    band = getattr(result, "band", result)
    value = getattr(result, "value", None)
    unit = result.made.unit
    low, high = _reach(band, value)
    zones = _zones(band, low, high)
    heading = result.sentence() if title is None else title
    words = "Plain: clearly in; hatched: doubtful; white: clearly out. Thick lines: the window."
    if value is not None:
        words += " Dot: the reading; line through it: two standard uncertainties."
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([1.15], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        axes.set_xlim(low, high)
        axes.set_ylim(0.0, 1.0)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        artists["zones"], artists["zone_labels"] = [], []
        for start, end, name in zones:
            look: dict[str, Any] = {"facecolor": BANDS[0] if name == "clearly in" else PAPER, "edgecolor": "none"}
            if name == "doubtful":
                look |= {"hatch": "////", "edgecolor": COLORS["bar"], "linewidth": 0.0}
            artists["zones"].append(axes.axvspan(start, end, 0.12, 0.5, zorder=1, **look))
            wide = (end - start) / (high - low) * frame.points_wide
            if text_width(name, SMALL) + 4 <= wide:
                text = put_text(axes, 0.5 * (start + end), 0.31, name, ha="center", va="center", zorder=4)
                text.set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 0.8})
                artists["zone_labels"].append(text)
        artists["window_labels"] = []
        limits = [limit for limit in (band.specification.lower, band.specification.upper) if limit is not None]
        for limit, text in zip(limits, matched(*limits), strict=True):
            side = "lower" if limit == band.specification.lower else "upper"
            style: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
            artists[f"window_{side}"] = axes.axvline(limit, 0.05, 0.58, zorder=3, **style)
            name = "window from" if side == "lower" else "window to"
            artists["window_labels"].append(put_text(axes, limit, 0.6, f"{name} {text}", ha="center", va="bottom", zorder=5))
        if value is not None:
            u = band.standard_uncertainty
            artists["reading_interval"] = axes.plot(
                [value - 2 * u, value + 2 * u], [0.82, 0.82], color=INK, linewidth=1.4, zorder=5
            )
            artists["reading"] = axes.plot([value], [0.82], "o", color=INK, markersize=5.5, zorder=6)
            artists["reading_label"] = put_text(axes, value, 0.9, f"reading {number(value)}", ha="center", va="bottom", zorder=6)
        label(axes, x=f"{quantity} ({unit})" if unit else quantity)
    data = {
        "zones": np.array([[start, end] for start, end, _ in zones]).ravel(),
        "window": np.array(limits),
        "guard": np.array([band.guard]),
        **({} if value is None else {"reading": np.array([value]), "uncertainty": np.array([band.standard_uncertainty])}),
    }
    return Drawn(frame.figure, {"window": axes}, artists, data, heading, foot, (), frame.own_figure)


def _reach(band: GuardBand, value: float | None) -> tuple[float, float]:
    """The part of the axis that shows every line and the reading."""
    lines = [band.specification.lower, band.specification.upper, band.accept_lower, band.accept_upper]
    lines += [band.reject_lower, band.reject_upper]
    if value is not None:
        lines += [value - 2.4 * band.standard_uncertainty, value + 2.4 * band.standard_uncertainty]
    there = [line for line in lines if line is not None]
    width = max(there) - min(there) or abs(there[0]) or 1.0
    low, high = min(there) - 0.12 * width, max(there) + 0.12 * width
    # With one limit the good side goes on.
    if band.specification.upper is None:
        high += 0.8 * width
    if band.specification.lower is None:
        low -= 0.8 * width
    return low, high


def _zones(band: GuardBand, low: float, high: float) -> list[tuple[float, float, str]]:
    """Stretches of the axis by class, from left to right."""
    ends = [
        low if band.reject_lower is None else band.reject_lower,
        low if band.accept_lower is None else band.accept_lower,
        high if band.accept_upper is None else band.accept_upper,
        high if band.reject_upper is None else band.reject_upper,
    ]
    if band.left is not None and band.left < 0.0:
        found = [(low, ends[0], "clearly out"), (ends[0], ends[3], "doubtful"), (ends[3], high, "clearly out")]
    else:
        found = [
            (low, ends[0], "clearly out"),
            (ends[0], ends[1], "doubtful"),
            (ends[1], ends[2], "clearly in"),
            (ends[2], ends[3], "doubtful"),
            (ends[3], high, "clearly out"),
        ]
    return [(start, end, name) for start, end, name in found if end > start]


def plot_operating_curve(
    result: OperatingCurve,
    *,
    others: Sequence[OperatingCurve] = (),
    ax: Any = None,
    quantity: str = "true unit average",
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw the chance to accept a unit against its true average, with the window.

    Parameters
    ----------
    result : OperatingCurve
    others : sequence of OperatingCurve
        Curves of other plans for the same window, each with dashes of its own; at most three.
    ax : matplotlib axes, optional
    quantity : str
        What is averaged.
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    if len(others) > 3:
        raise ValueError(f"a picture holds four curves, not {len(others) + 1}")
    if any(other.made.unit != result.made.unit for other in others):
        raise ValueError("curves in one picture must be in one unit")
    curves = (result, *others)
    unit, heading = result.made.unit, result.sentence() if title is None else title
    foot = (
        "Thick lines: the window. A perfect measurement would accept all inside and none outside." if caption is None else caption
    )
    dashes = ("solid", (0, (6, 2.5)), (0, (2, 1.6)), (0, (8, 2, 2, 2)))
    with own_look():
        frame = open_frame([2.6], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["curves"] = []
        for curve, dash in zip(curves, dashes, strict=False):
            look: dict[str, Any] = {"color": COLORS["curve"], "linestyle": dash, "linewidth": LINE_WIDTHS["curve"], "zorder": 3}
            artists["curves"] += axes.plot(curve.means, 100 * curve.probability, **look)
        axes.set_xlim(min(float(c.means.min()) for c in curves), max(float(c.means.max()) for c in curves))
        axes.set_ylim(0, 103)
        limits = [x for x in (result.specification.lower, result.specification.upper) if x is not None]
        artists["window"], artists["window_labels"] = [], []
        for limit, text in zip(limits, matched(*limits) if limits else [], strict=True):
            style: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
            artists["window"].append(axes.axvline(limit, zorder=2, **style))
            note = put_text(axes, limit, 50, text, ha="center", va="center", zorder=4)
            note.set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 0.8})
            artists["window_labels"].append(note)
        artists["curve_labels"] = _curve_words(axes, curves, dashes)
        label(axes, x=f"{quantity} ({unit})" if unit else quantity, y="accepted (% of units)")
    data = {"window": np.array(limits)}
    for i, curve in enumerate(curves):
        ending = "" if i == 0 else f"_{i + 1}"
        data[f"means{ending}"], data[f"probability{ending}"] = curve.means, curve.probability
    return Drawn(frame.figure, {"curve": axes}, artists, data, heading, foot, (), frame.own_figure)


def _curve_words(axes: Axes, curves: Sequence[OperatingCurve], dashes: Sequence[Any]) -> list[Any]:
    """Right of the axes: a piece of each curve and its plan."""
    found: list[Any] = []
    height = 0.95
    for curve, dash in zip(curves, dashes, strict=False):
        look: dict[str, Any] = {"color": COLORS["curve"], "linestyle": dash, "linewidth": LINE_WIDTHS["curve"]}
        found += axes.plot([1.02, 1.09], [height, height], transform=axes.transAxes, clip_on=False, **look)
        lines = (f"{curve.location_count} places x {curve.readings_per_location}", f"sd {number(curve.sigma_average, 3)}")
        for i, line in enumerate(lines):
            found.append(put_text(axes, 1.02, height - 0.03 - 0.06 * i, line, transform=axes.transAxes, ha="left", va="top"))
        height -= 0.23
    return found
