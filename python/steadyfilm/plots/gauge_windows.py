"""Pictures of a window as a gauge sees it: what the measurement takes of it, guard bands, and the chance to accept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, percent, plural, window_text, with_unit
from steadyfilm._gauge.words import plan_words, upper_first, window_words
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import shortened
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import (
    BANDS,
    COLORS,
    DASHES,
    INK,
    LINE_WIDTHS,
    PAPER,
    SIX_COLORS,
    label,
    own_look,
    put_text,
)
from steadyfilm.plots.variance_components import put_label

if TYPE_CHECKING:
    from steadyfilm.measurability import JudgedStudy, Measurability, WindowAnswer

__all__ = ["plot_accept_curves", "plot_guard_bands", "plot_measurability"]

MOST_TIMES = 3.0
"""A share of more than so many windows runs out of the picture with an arrow; its number is written out."""
CURVE_DASHES: tuple[Any, ...] = ("solid", (0, (6, 2.5)), (0, (2, 1.6)), (0, (9, 2, 1.5, 2)))


def plot_measurability(result: Measurability, *, ax: Any = None, title: str | None = None) -> Drawn:
    """Draw what single readings take of each window, with intervals, and what the readings that are needed leave of it.

    Parameters
    ----------
    result : Measurability
        Without windows there is nothing to draw.
    ax : matplotlib axes, optional
    title : str, optional
        By default the verdict.
    """
    return draw_shares(result.studies, result.made.unit, title=title or result.sentence(), ax=ax)


def draw_shares(studies: tuple[JudgedStudy, ...], unit: str, *, title: str, ax: Any = None) -> Drawn:
    """The same for some of the studies."""
    pairs = [(study, answer) for study in studies for answer in study.windows if answer.share is not None]
    rows = np.arange(len(pairs), dtype=float)

    def numbers(name: str) -> np.ndarray[Any, Any]:
        return np.array([np.nan if getattr(x, name) is None else getattr(x, name) for _, x in pairs], dtype=float)

    share, lower, upper, limit = (numbers(name) for name in ("share", "share_lower", "share_upper", "share_limit"))
    reached, floor = numbers("reached"), numbers("floor_share_all")
    edge = max(1.12, 1.1 * min(float(np.nanmax(np.concatenate([share, upper]), initial=0.0)), MOST_TIMES))
    cut = np.nan_to_num(np.fmax(upper, share)) > edge
    multiple = number(float(studies[0].study.made.options["sigma_multiple"]))
    foot = f"Round mark: share of the window that {multiple} standard deviations of single readings take; line: its interval"
    foot += " (an arrow: it goes on beyond the picture)" if cut.any() else ""
    foot += ". With one limit: half of that, of the distance to it" if any(x.window.one_limit for _, x in pairs) else ""
    foot += ". Diamond: the fewest readings that keep what is wanted"
    foot += "; open triangle: what endlessly many readings leave, where that is too much." if np.isnan(reached).any() else "."
    height = max(0.95, 0.42 * len(pairs) + 0.5)
    with own_look():
        frame = open_frame([height], title=title, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["wanted_band"] = axes.axvspan(0.0, float(limit[0]) if len(pairs) else 0.0, facecolor=BANDS[0], zorder=0)
        look: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
        artists["whole_window"] = axes.axvline(1.0, zorder=1, **look)
        artists["intervals"] = axes.hlines(rows, lower, np.minimum(upper, edge), color=INK, linewidth=1.4, zorder=2)
        style: dict[str, Any] = {"linestyle": "", "mec": INK, "mew": 0.9, "zorder": 4, "clip_on": False}
        inside = share <= edge
        artists["single"] = axes.plot(share[inside], rows[inside], "o", ms=7, mfc=SIX_COLORS[2], **style)
        if cut.any():
            artists["cut"] = axes.plot(np.full(int(cut.sum()), edge), rows[cut], ">", ms=6, mfc=INK, **style)
        can = ~np.isnan(reached)
        artists["reached"] = axes.plot(reached[can], rows[can], "D", ms=6, mfc=SIX_COLORS[0], **style)
        artists["floor"] = axes.plot(floor[~can], rows[~can], "<", ms=6, mfc=PAPER, **style)
        axes.set_xlim(0.0, edge)
        axes.set_ylim(len(pairs) - 0.4, -0.95)
        several = len(studies) > 1
        axes.set_yticks(rows, ["" for _ in rows])
        axes.tick_params(axis="y", length=0)
        artists["names"] = [
            put_text(
                axes,
                0.012,
                row - 0.3,
                _pair_name(study, answer, unit, several),
                transform=axes.get_yaxis_transform(),
                va="center",
                zorder=5,
            )
            for row, (study, answer) in zip(rows, pairs, strict=True)
        ]
        for text in artists["names"]:
            text.set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 0.4})
        artists["row_labels"] = [put_label(axes, row, _row_words(x)) for row, (_, x) in zip(rows, pairs, strict=True)]
        if len(pairs):
            up: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "va": "bottom", "ha": "center"}
            artists["line_labels"] = [
                put_text(axes, 0.5 * float(limit[0]), 1.01, f"wanted: up to {percent(float(limit[0]))}", **up),
                put_text(axes, 1.0, 1.01, "the whole window", **up),
            ]
        ticks = [x for x in (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0) if x <= edge]
        axes.set_xticks(ticks, [f"{100 * x:.0f} %" for x in ticks])
        label(axes, x="share of the window", y="")
    data = {"share": share, "lower": lower, "upper": upper, "wanted": limit, "reached": reached, "floor": floor}
    return Drawn(frame.figure, {"shares": axes}, artists, data, title, foot, (), frame.own_figure)


def plot_guard_bands(answer: WindowAnswer, *, unit: str, ax: Any = None, title: str | None = None) -> Drawn:
    """Draw the window with its guard bands, one row for each number of readings by one appraiser.

    Parameters
    ----------
    answer : WindowAnswer
    unit : str
        Of the window's limits.
    ax : matplotlib axes, optional
    title : str, optional
        By default what is left that single readings can be sure of.
    """
    limits = answer.window.specification
    zones = answer.zones
    ends = [x for x in (limits.lower, limits.upper) if x is not None]
    widest = max(zone.guard for zone in zones)
    beyond = 1.25 * widest or 0.1 * abs(ends[0]) or 1.0
    span = (min(ends) - beyond, max(ends) + beyond) if len(ends) == 2 else (ends[0] - 2 * beyond, ends[0] + 2 * beyond)
    heading = title or guard_words(answer, unit)
    sure = number(100 * (1 - answer.wrong_at_limit))
    wrong = number(100 * answer.wrong_at_limit)
    foot = (
        f"Filled: clearly in; hatched: open, a verdict there may be wrong in more than {wrong} of 100 cases; white: clearly out. "
        "One row a number of readings averaged, by one appraiser unless said. "
        f"Guard: one-sided {sure} % normal quantile times the standard deviation of the average (JCGM 106, ISO 14253-1), "
        "plus the bias bound if one is given."
    )
    rows = np.arange(len(zones), dtype=float)
    with own_look():
        frame = open_frame([0.36 * len(zones) + 0.4], title=heading, caption=foot, notes=(), ax=ax, rows=0)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["clearly_in"], artists["open"] = [], []
        for row, zone in zip(rows, zones, strict=True):
            for low, high in open_stretches(zone, span):
                look: dict[str, Any] = {"facecolor": PAPER, "edgecolor": SIX_COLORS[4], "hatch": "/////", "linewidth": 0.8}
                artists["open"] += list(axes.barh([row], [high - low], left=low, height=0.62, zorder=2, **look))
            if zone.accept is not None:
                low = span[0] if zone.accept.lower is None else zone.accept.lower
                high = span[1] if zone.accept.upper is None else zone.accept.upper
                artists["clearly_in"] += list(
                    axes.barh([row], [high - low], left=low, height=0.62, color=COLORS["bar"], zorder=3)
                )
        style: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
        artists["window"] = [axes.axvline(x, zorder=4, **style) for x in ends]
        axes.set_xlim(*span)
        axes.set_ylim(len(zones) - 0.5, -0.75)
        axes.set_yticks(rows, [_zone_name(zone) for zone in zones])
        axes.tick_params(axis="y", length=0)
        artists["row_labels"] = [put_label(axes, row, _left_words(zone)) for row, zone in zip(rows, zones, strict=True)]
        label(axes, x=f"{answer.window.name or 'thickness'} ({unit})" if unit else answer.window.name or "value", y="")
    data = {
        "readings": np.array([zone.readings for zone in zones], dtype=float),
        "appraisers": np.array([zone.appraisers for zone in zones], dtype=float),
        "guard": np.array([zone.guard for zone in zones]),
        "left": np.array([np.nan if zone.left is None else zone.left for zone in zones]),
        "window": np.array(ends),
    }
    return Drawn(frame.figure, {"guards": axes}, artists, data, heading, foot, (), frame.own_figure)


def plot_accept_curves(answer: WindowAnswer, *, unit: str, ax: Any = None, title: str | None = None) -> Drawn:
    """Draw the chance that a verdict by the window's limits says "inside", against the true thickness.

    Parameters
    ----------
    answer : WindowAnswer
    unit : str
    ax : matplotlib axes, optional
    title : str, optional
        By default the chance for a film a tenth of the window outside.
    """
    limits = answer.window.specification
    ends = [x for x in (limits.lower, limits.upper) if x is not None]
    heading = title or curve_words(answer, unit)
    foot = (
        "Operating curves: chance that the average of so many readings (by one appraiser unless said) lies inside the window, "
        "limits as they are, no guard; normal errors with the standard deviations of the study. "
        "A gauge without error would step at the dashed limits."
    )
    with own_look():
        frame = open_frame([2.4], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["curves"] = []
        inks = (COLORS["curve"], COLORS["bar"], INK, COLORS["limit"])
        for k, curve in enumerate(answer.curves):
            style: dict[str, Any] = {"color": inks[k % 4], "linestyle": CURVE_DASHES[k % 4], "linewidth": 1.7}
            artists["curves"] += axes.plot(answer.thickness, curve.probability, zorder=3, **style)
        look: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
        artists["window"] = [axes.axvline(x, zorder=1, **look) for x in ends]
        axes.set_xlim(float(answer.thickness[0]), float(answer.thickness[-1]))
        axes.set_ylim(0.0, 1.06)
        axes.set_yticks([0.0, 0.25, 0.5, 0.75, 1.0], ["0 %", "25 %", "50 %", "75 %", "100 %"])
        artists["keys"] = _keys(axes, [_zone_name(x) for x in answer.curves], inks)
        name = answer.window.name
        label(axes, x=f"true {name or 'thickness'} ({unit})" if unit else f"true {name or 'value'}", y="chance to accept")
    data: dict[str, np.ndarray[Any, Any]] = {"thickness": answer.thickness, "window": np.array(ends)}
    data |= {f"readings_{x.readings}_by_{x.appraisers}": x.probability for x in answer.curves}
    return Drawn(frame.figure, {"curves": axes}, artists, data, heading, foot, (), frame.own_figure)


def open_stretches(zone: Any, span: tuple[float, float]) -> list[tuple[float, float]]:
    """Where a verdict is open: about each limit, or all between the outer guards where nothing is clearly in."""
    low, high = zone.reject.lower, zone.reject.upper
    if zone.accept is None:
        return [(low, high)]
    found = []
    if low is not None:
        found.append((max(low, span[0]), zone.accept.lower))
    if high is not None:
        found.append((zone.accept.upper, min(high, span[1])))
    return found


def guard_words(answer: WindowAnswer, unit: str) -> str:
    """What is left of the window that a verdict is sure of."""
    first, last = answer.zones[0], answer.zones[-1]
    window = upper_first(window_words(answer.window, unit))
    if first.left is None:
        return (
            f"{window}: single readings are open within {with_unit(first.guard, unit, 2)} of the limit, "
            f"the average of {last.readings} within {with_unit(last.guard, unit, 2)}."
        )
    assert last.left is not None  # all have two limits
    if last.left <= 0 and first.left <= 0:
        return f"{window}: no verdict inside it is sure, neither from single readings nor from the average of {last.readings}."
    text = f"{window}: of its {with_unit(answer.room, unit)} a single reading is sure of {_sure(first.left, unit)}"
    return f"{text}, an average of {last.readings} readings of {_sure(last.left, unit)}."


def _sure(left: float, unit: str) -> str:
    return with_unit(left, unit, 2) if left > 0 else "nothing"


def curve_words(answer: WindowAnswer, unit: str) -> str:
    """How often a film a tenth of the window outside is let through."""
    window = upper_first(window_words(answer.window, unit))
    told = [(plan_words(x.readings, x.appraisers), x.tenth_outside) for x in answer.curves if x.tenth_outside is not None]
    if not told:
        return f"{window}: how often a film is accepted, against its true thickness."
    first = f"a single reading accepts it {percent_of_cases(told[0][1])}"
    more = "".join(f", the average of {plan} {percent_of_cases(chance)}" for plan, chance in told[1:])
    by = with_unit(0.1 * answer.room, unit, 3)
    return f"{window}: a film {by} outside is a miss, yet {first}{more}."


def percent_of_cases(chance: float) -> str:
    """A chance as cases.

    >>> percent_of_cases(0.417)
    'in 42 of 100 cases'
    """
    return f"in {100 * chance:.0f} of 100 cases" if chance >= 0.01 else "in fewer than 1 of 100 cases"


def _keys(axes: Any, names: list[str], inks: tuple[str, ...]) -> list[Any]:
    """Right of the axes: a piece of each curve and its number of readings, and who shares them on a line below."""
    found: list[Any] = []
    for k, name in enumerate(names):
        height = 0.86 - 0.17 * k
        style: dict[str, Any] = {"color": inks[k % 4], "linestyle": CURVE_DASHES[k % 4], "linewidth": 1.7}
        found += axes.plot([1.015, 1.075], [height, height], transform=axes.transAxes, clip_on=False, **style)
        for line, text in enumerate(name.split("\n")):
            at = height - 0.065 * line
            found.append(put_text(axes, 1.085, at, text, transform=axes.transAxes, va="center", ha="left"))
    return found


def _zone_name(zone: Any) -> str:
    return plural(zone.readings, "reading") + (f"\nby {zone.appraisers} people" if zone.appraisers > 1 else "")


def _left_words(zone: Any) -> str:
    if zone.left is None:
        return f"open: {number(zone.guard, 2)}\neither side"
    return f"clearly in: {number(zone.left, 3)}" if zone.left > 0 else "nothing is sure"


def _row_words(answer: WindowAnswer) -> str:
    first = percent(answer.share or 0.0)
    if answer.readings is None:
        return f"{first}\nnever enough"
    if answer.readings == 1:
        return f"{first}\n1 reading does"
    who = f" by {answer.appraisers}" if answer.appraisers and answer.appraisers > 1 else ""
    return f"{first}\n{answer.readings} readings{who}"


def _pair_name(study: JudgedStudy, answer: WindowAnswer, unit: str, several: bool) -> str:
    limits = answer.window.specification
    window = f"{shortened(answer.window.name, 24)} {window_text(limits.lower, limits.upper, unit)}".strip()
    return f"{shortened(study.name, 34)}: {window}" if several else window
