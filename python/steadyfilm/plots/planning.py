"""Pictures of planning: uncertainty against the number of readings, and the width that a gauge study reaches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, DASHES, INK, LINE_WIDTHS, PAPER, label, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.planning import GaugeStudyPlan, ReadingPlan

__all__ = ["plot_reading_plan", "plot_study_plan"]

_DASHES: tuple[Any, ...] = ("solid", (0, (6, 2.5)), (0, (2, 1.6)))


def plot_reading_plan(result: ReadingPlan, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw the uncertainty of a unit's average against the number of its readings, for 1, 3 and 5 readings at each place.

    Parameters
    ----------
    result : ReadingPlan
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    unit, options = result.made.unit, result.made.options
    chosen = result.location_count * result.readings_per_location
    most = max(16, 2 * chosen, *(row.location_count * row.readings_per_location for row in result.alternatives))
    if not result.alternatives:
        most = 16
    heading = result.sentence() if title is None else title
    foot = "Each mark is one plan of whole places. Ring: the plan chosen." if caption is None else caption
    data: dict[str, np.ndarray[Any, Any]] = {}
    with own_look():
        frame = open_frame([2.5], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["curves"], artists["curve_labels"] = [], []
        for repeats, dash, mark in zip((1, 3, 5), _DASHES, ("o", "s", "^"), strict=True):
            places = np.arange(1, min(options["most_places"], max(2, most // repeats)) + 1)
            square = result.sigma_location**2 / places + result.sigma_repeat**2 / (places * repeats)
            u = np.sqrt(result.sigma_common**2 + square)
            look: dict[str, Any] = {
                "color": COLORS["curve"],
                "linestyle": dash,
                "linewidth": 1.2,
                "marker": mark,
                "markersize": 3.2,
            }
            artists["curves"] += axes.plot(places * repeats, u, zorder=3, **look)
            data[f"readings_{repeats}"], data[f"uncertainty_{repeats}"] = places * repeats, u
            height = 0.95 - 0.1 * len(artists["curve_labels"]) / 2
            at: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False}
            artists["curve_labels"] += axes.plot([1.02, 1.08], [height, height], **look, **at)
            words = "1 a place" if repeats == 1 else f"{repeats} a place"
            artists["curve_labels"].append(put_text(axes, 1.1, height, words, transform=axes.transAxes, ha="left", va="center"))
        axes.set_xlim(0, most + 1)
        if options["uncertainty"] is not None:
            style: dict[str, Any] = {"color": COLORS["limit"], "linestyle": DASHES["limit"], "linewidth": LINE_WIDTHS["limit"]}
            artists["wanted"] = axes.axhline(options["uncertainty"], zorder=2, **style)
            words = f"wanted {number(options['uncertainty'], 3)}"
            artists["wanted_label"] = put_text(axes, most + 0.8, options["uncertainty"], words, ha="right", va="bottom", zorder=4)
        if chosen:
            ring: dict[str, Any] = {"markersize": 11, "markerfacecolor": "none", "markeredgecolor": INK, "linestyle": "none"}
            artists["chosen"] = axes.plot([chosen], [result.uncertainty], "o", zorder=5, **ring)
        axes.set_ylim(bottom=0.0)
        label(axes, x="readings on a unit", y=f"uncertainty of the average ({unit})" if unit else "uncertainty of the average")
    data["chosen"] = np.array([chosen, result.uncertainty])
    return Drawn(frame.figure, {"uncertainty": axes}, artists, data, heading, foot, (), frame.own_figure)


def plot_study_plan(result: GaugeStudyPlan, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw, for each number of appraisers, the width that the planned study reaches, with its size.

    Parameters
    ----------
    result : GaugeStudyPlan
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    options = sorted(result.options, key=lambda option: option.appraisers)
    rows = np.arange(len(options), dtype=float)
    widths = np.array([option.relative_width for option in options])
    reached = np.array([option.reached for option in options])
    heading = result.sentence() if title is None else title
    words = "Bar: width of the interval over the measurement sd, for the cheapest study with that many appraisers. "
    words += "Hatched: wider than wanted, whatever the parts and trials."
    foot = words if caption is None else caption
    edge = 1.15 * min(float(widths.max()), 6.0 * result.wanted_relative_width)
    with own_look():
        frame = open_frame([max(0.8, 0.34 * len(options) + 0.3)], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["bars"] = []
        for row, width, fits in zip(rows, np.minimum(widths, edge), reached, strict=True):
            look: dict[str, Any] = {"facecolor": COLORS["bar"] if fits else PAPER, "edgecolor": COLORS["bar"], "linewidth": 1.0}
            artists["bars"] += list(axes.barh([row], [width], height=0.55, hatch=None if fits else "////", zorder=2, **look))
        style: dict[str, Any] = {"color": COLORS["limit"], "linestyle": DASHES["limit"], "linewidth": LINE_WIDTHS["limit"]}
        artists["wanted"] = axes.axvline(result.wanted_relative_width, zorder=3, **style)
        axes.set_xlim(0, edge)
        axes.set_ylim(len(options) - 0.5, -0.5)
        axes.set_yticks(rows, [plural(option.appraisers, "appraiser") for option in options])
        artists["sizes"] = [
            put_text(
                axes,
                1.01,
                row,
                f"{option.parts} parts x {option.trials}: {option.readings}",
                ha="left",
                va="center",
                transform=axes.get_yaxis_transform(),
            )
            for row, option in zip(rows, options, strict=True)
        ]
        label(axes, x=f"width of the interval over the measurement sd (wanted: {number(result.wanted_relative_width, 3)})")
    data = {
        "appraisers": np.array([option.appraisers for option in options]),
        "relative_width": widths,
        "readings": np.array([option.readings for option in options]),
        "reached": reached,
    }
    return Drawn(frame.figure, {"widths": axes}, artists, data, heading, foot, (), frame.own_figure)
