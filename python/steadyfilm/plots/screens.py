"""The picture of the data's own screens: readings by display step around the limit where they pile up most, or what was found."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural, with_unit
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, PAPER, SMALL, label, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.screens import PileUp, Screens

__all__ = ["plot_screens"]


def plot_screens(result: Screens, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw the readings by display step around the limit where they pile up most, with the curve through the other steps.

    Without a limit to look at: how many entries each check and screen has.

    Parameters
    ----------
    result : Screens
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the bars mean.
    """
    heading = result.sentence() if title is None else title
    if result.pile is None:
        return _found(result, ax, heading, caption)
    return _pile(result.pile, result, ax, heading, caption)


def _pile(pile: PileUp, result: Screens, ax: Any, heading: str, caption: str | None) -> Drawn:
    unit = result.made.unit
    inside, outside = int(pile.counts[pile.inside].sum()), int(pile.counts[pile.outside].sum())
    rates = float(pile.expected[pile.inside].sum()), float(pile.expected[pile.outside].sum())
    expected = (inside + outside) * rates[0] / (rates[0] + rates[1])
    chance = f"chance of as much in honest readings {pile.adjusted_pvalue:.1g}, all tests allowed for"
    words = (
        f"{pile.where}. Filled bars: the display steps just inside {with_unit(pile.limit, unit)}; hatched: those just outside. "
        f"Of {plural(inside + outside, 'reading')} in both {inside} lie inside, {number(expected, 3)} expected from the curve "
        f"through the other steps ({chance})."
    )
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([2.7], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        step = float(np.min(np.diff(pile.values))) if len(pile.values) > 1 else 1.0
        edge: dict[str, Any] = {"edgecolor": COLORS["value"], "linewidth": 0.6, "width": step}
        other = ~(pile.inside | pile.outside)
        artists["bars"] = axes.bar(pile.values[other], pile.counts[other], color=PAPER, **edge)
        artists["inside"] = axes.bar(pile.values[pile.inside], pile.counts[pile.inside], color=COLORS["bar"], **edge)
        artists["outside"] = axes.bar(pile.values[pile.outside], pile.counts[pile.outside], color=PAPER, hatch="////", **edge)
        curve: dict[str, Any] = {"color": COLORS["curve"], "linestyle": DASHES["curve"], "linewidth": LINE_WIDTHS["curve"]}
        artists["curve"] = axes.plot(pile.values, pile.expected, zorder=4, **curve)
        top = 1.18 * max(float(pile.counts.max()), float(pile.expected.max()), 1.0)
        axes.set_ylim(0, top)
        # The line stands between the last step inside and the first outside, so that it crosses no bar.
        between = 0.5 * (float(pile.values[pile.inside].mean()) + float(pile.values[pile.outside].mean()))
        line: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
        artists["limit"] = axes.axvline(between, zorder=3, **line)
        where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "bottom", "fontsize": SMALL}
        artists["limit_label"] = put_text(axes, between, 1.01, f"limit {with_unit(pile.limit, unit)}", **where)
        aside: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center", "fontsize": SMALL}
        artists["curve_label"] = put_text(axes, 1.01, float(pile.expected[-1]), "curve", **aside)
        label(axes, x=f"reading ({unit})" if unit else "reading", y="readings per display step")
    data = {
        "values": pile.values,
        "counts": pile.counts,
        "expected": pile.expected,
        "inside": pile.inside,
        "outside": pile.outside,
    }
    return Drawn(frame.figure, {"steps": axes}, artists, data, heading, foot, (), frame.own_figure)


def _found(result: Screens, ax: Any, heading: str, caption: str | None) -> Drawn:
    runs = result.runs
    rows = np.arange(len(runs), dtype=float)
    counts = np.array([run.found for run in runs])
    words = "Bars: entries of each check and screen, of so many rows, units or tests. explain() says why some did not run."
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([0.3 * len(runs) + 0.2], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["bars"] = axes.barh(rows + 0.2, counts, color=COLORS["bar"], edgecolor=COLORS["value"], linewidth=0.6, height=0.3)
        axes.set_ylim(len(runs) - 0.5, -0.5)
        axes.set_xlim(0, max(1.0, 1.05 * float(counts.max())))
        axes.set_yticks([])
        inside: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center", "fontsize": SMALL}
        artists["names"] = [put_text(axes, 0.01, row - 0.15, run.name, **inside) for row, run in zip(rows, runs, strict=True)]
        text: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center", "fontsize": SMALL}
        artists["row_labels"] = [
            put_text(axes, 1.02, row, f"{run.found} of {run.tests}" if run.ran else "did not run", **text)
            for row, run in zip(rows, runs, strict=True)
        ]
        label(axes, x="entries", y="")
    return Drawn(frame.figure, {"runs": axes}, artists, {"found": counts}, heading, foot, (), frame.own_figure)
