"""Oven traces with threshold, dose and faults; and the schedule's window in 1/T against ln t with the loads on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._cure_schedule import GAS_CONSTANT
from steadyfilm._format import fixed, number, plural
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, DASHES, INK, LINE_WIDTHS, PAPER, SIX_COLORS, label, own_look, plain, put_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm._cure.recipes import Recipe
    from steadyfilm.bakes import Bake, BakeReview, Trace

__all__ = ["plot_bakes", "plot_schedule"]

STYLES: tuple[Any, ...] = ("solid", (0, (5, 1.5)), (0, (1.5, 1.2)), (0, (6, 1.5, 1.5, 1.5)), (0, (9, 3)), (0, (3, 1, 1, 1, 1, 1)))
"""One dash pattern a place, so that no trace rests on its color."""
ORDER = (0, 3, 5, 2, 4, 1)
"""Colors of places: the window's own comes last."""
MARKS = {"pass": ("o", "none"), "not demonstrated": ("D", PAPER), "fail": ("X", INK)}


def plot_bakes(review: BakeReview, *, bake: str | None = None, ax: Any = None) -> Drawn:
    """Draw the traces of one bake: parts, air, threshold, maximum, stretches that were not observed, and the dose below.

    Parameters
    ----------
    bake : str, optional
        Which one; by default the first that did not pass, else the first.
    """
    found = _bake(review, bake)
    recipe = next(x for x in review.recipes if x.name == found.recipe)
    traces = [x for x in review.traces if x.bake == found.bake]
    if not traces:
        raise InvalidInputError(f"bake {found.bake} has no trace to draw", argument="bake")
    parts = [x for x in traces if not x.air]
    notes = [f"{x.probe or 'log'}: {x.kind}, {x.words}." for x in found.faults if x.effect != "told"]
    told = recipe.dose is not None
    caption = "Straight lines between readings. Gray bands: not observed, with the place's name; hollow marks: doubtful readings."
    if told:
        caption += " Below: dose from what was observed; fine dots: all credited."
    with own_look():
        frame = open_frame([2.7, 1.3] if told else [2.9], title=found.sentence, caption=caption, notes=notes[:4], ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {
            **frame.words,
            "parts": [],
            "air": [],
            "doubtful": [],
            "unobserved": [],
            "lines": [],
            "dose": [],
        }
        data: dict[str, Any] = {}
        ends: list[tuple[float, str, str]] = []
        for k, trace in enumerate(parts):
            color, style = SIX_COLORS[ORDER[k % 6]], STYLES[k % 6]
            artists["parts"] += _line(axes, trace, color, style, 1.6)
            artists["doubtful"] += _doubtful(axes, trace, color)
            data[f"{trace.probe} minutes"] = trace.minutes
            data[f"{trace.probe} temperature"] = trace.temperature_c
            sound = trace.temperature_c[trace.state != 2]
            if sound.size:
                ends.append((float(sound[-1]), plain(trace.probe), color))
        for trace in (x for x in traces if x.air):
            artists["air"] += _line(axes, trace, COLORS["thread"], "solid", 0.8)
        _bands(axes, artists, found, {x.probe for x in parts})
        _range(axes, parts, traces, recipe)
        point = recipe.schedule[next(x for x in found.places if x.probe == found.worst).point]
        _level(axes, artists, point.temperature_c, f"{number(point.minutes)} min at {number(point.temperature_c)} C", "window")
        if recipe.maximum_c is not None:
            _level(axes, artists, recipe.maximum_c, f"maximum {number(recipe.maximum_c)} C", "boundary")
        artists["lines"] += _names(axes, ends)
        label(axes, y="temperature (C)")
        panels = {"traces": axes}
        if told:
            _dose(frame.panels[1], artists, data, parts, recipe)
            panels["dose"] = frame.panels[1]
            label(frame.panels[1], y=f"dose (min\nat {number(recipe.dose.reference_c)} C)" if recipe.dose else "dose")
            frame.panels[1].set_xlim(axes.get_xlim())
            axes.tick_params(labelbottom=False)
        label(frame.panels[-1], x="minutes from the start of the bake")
    return Drawn(frame.figure, panels, artists, data, found.sentence, caption, tuple(notes), frame.own_figure)


def _bake(review: BakeReview, name: str | None) -> Bake:
    if name is None:
        return next((x for x in review.bakes if x.state != "pass"), review.bakes[0])
    for bake in review.bakes:
        if bake.bake == name:
            return bake
    raise InvalidInputError(f"no bake '{name}' in this review", argument="bake")


def _line(axes: Axes, trace: Trace, color: str, style: Any, width: float) -> list[Any]:
    """The trace, broken at gaps and over readings that mean nothing."""
    keep = trace.state != 2
    x, y = trace.minutes[keep], trace.temperature_c[keep]
    if x.size > 1:
        steps = np.diff(x)
        cut = np.flatnonzero(steps > trace.gap_limit_min * (1.0 + 1e-9)) + 1
        x, y = np.insert(x, cut, np.nan), np.insert(y, cut, np.nan)
    return axes.plot(x, y, color=color, linestyle=style, linewidth=width, zorder=4)


def _doubtful(axes: Axes, trace: Trace, color: str) -> list[Any]:
    pick = trace.state == 1
    if not pick.any():
        return []
    marks: dict[str, Any] = {"ms": 3.6, "mfc": PAPER, "mec": color, "mew": 0.8, "zorder": 5}
    return axes.plot(trace.minutes[pick], trace.temperature_c[pick], "o", **marks)


def _bands(axes: Axes, artists: dict[str, Any], bake: Bake, parts: set[str]) -> None:
    """Stretches of the places' logs that were not observed."""
    last = max((x.last_min for x in bake.places if math.isfinite(x.last_min)), default=1.0)
    for k, fault in enumerate(x for x in bake.faults if x.probe in parts and x.effect != "told"):
        end = max(fault.to_min, fault.from_min + 0.004 * last)
        artists["unobserved"].append(axes.axvspan(fault.from_min, end, color="#e8e8ec", linewidth=0, zorder=0.5))
        words = f"{plain(fault.probe)}: {fault.kind}"
        where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "bottom", "zorder": 6}
        artists["unobserved"].append(put_text(axes, 0.5 * (fault.from_min + end), 0.02 + 0.06 * (k % 4), words, **where))


def _range(axes: Axes, parts: Sequence[Trace], traces: Sequence[Trace], recipe: Recipe) -> None:
    shown = np.concatenate([x.temperature_c[x.state != 2] for x in traces] or [np.zeros(1)])
    levels = [point.temperature_c for point in recipe.schedule[:1]] + ([recipe.maximum_c] if recipe.maximum_c is not None else [])
    low, high = min([*levels, float(shown.min(initial=math.inf))]), max([*levels, float(shown.max(initial=-math.inf))])
    axes.set_ylim(low - 0.06 * (high - low), high + 0.08 * (high - low))
    last = max(float(x.minutes[-1]) for x in (parts or traces))
    first = min(float(x.minutes[0]) for x in traces)
    axes.set_xlim(first - 0.01 * (last - first), last + 0.03 * max(last - first, 1.0))


def _level(axes: Axes, artists: dict[str, Any], value: float, words: str, role: str) -> None:
    style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role]}
    artists["lines"].append(axes.axhline(value, zorder=3, **style))
    where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "bottom"}
    artists["lines"].append(put_text(axes, 0.005, value, words, **where))


def _names(axes: Axes, ends: Sequence[tuple[float, str, str]]) -> list[Any]:
    """Names at the right, moved apart where they would touch."""
    low, high = axes.get_ylim()
    apart = 0.075 * (high - low)
    out = []
    top = -math.inf
    for value, name, color in sorted(ends):
        at = max(value, top + apart)
        top = at
        where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
        out.append(put_text(axes, 1.01, at, f"\u2014 {name}", color=INK, **where))
        out[-1].set_color(color)
    return out


def _dose(axes: Axes, artists: dict[str, Any], data: dict[str, Any], parts: Sequence[Trace], recipe: Recipe) -> None:
    """Dose so far, reading by reading, by the trapezoid: the picture's own, the figures come from the closed form."""
    wanted = recipe.dose
    assert wanted is not None  # only drawn where there is one
    highest = wanted.minutes
    for k, trace in enumerate(parts):
        keep = trace.state != 2
        minutes, t = trace.minutes[keep], trace.temperature_c[keep] + 273.15
        if minutes.size < 2:
            continue
        rate = np.exp(1000.0 * wanted.activation_energy_kj / GAS_CONSTANT * (1.0 / (wanted.reference_c + 273.15) - 1.0 / t))
        steps = np.diff(minutes) * 0.5 * (rate[1:] + rate[:-1])
        sound = trace.state[keep] == 0
        gap = np.diff(minutes) > trace.gap_limit_min * (1.0 + 1e-9)
        # An interval is observed when both its readings are sound, with no lost one and no gap between them.
        between = np.diff(np.flatnonzero(keep)) > 1
        observed = sound[1:] & sound[:-1] & ~gap & ~between
        color, style = SIX_COLORS[ORDER[k % 6]], STYLES[k % 6]
        sums = np.concatenate([[0.0], np.cumsum(np.where(observed, steps, 0.0))])
        artists["dose"] += axes.plot(minutes, sums, color=color, linestyle=style, linewidth=1.4, zorder=4)
        data[f"{trace.probe} dose"] = sums
        highest = max(highest, float(sums[-1]))
        if not observed.all():
            whole = np.concatenate([[0.0], np.cumsum(steps)])
            artists["dose"] += axes.plot(minutes, whole, color=color, linestyle=DASHES["boundary"], linewidth=1.1, zorder=3)
            highest = max(highest, float(whole[-1]))
    axes.set_ylim(0.0, 1.08 * highest)
    _level(axes, artists, wanted.minutes, f"wanted {number(wanted.minutes)} min", "window")


def plot_schedule(review: BakeReview, *, recipe: str | None = None, ax: Any = None) -> Drawn:
    """Draw a recipe's points in 1/T against ln t, and each load's worst place by its time at each point's temperature.

    A load lies to the right of, or above, a point that it meets. Between the points runs the line through them; nothing is drawn
    beyond the tabulated temperatures.
    """
    known = [x for x in review.recipes if recipe is None or x.name == recipe]
    if not known:
        raise InvalidInputError(f"no recipe '{recipe}' in this review", argument="recipe")
    chosen = known[0]
    bakes = [x for x in review.bakes if x.recipe == chosen.name]
    points = sorted(chosen.schedule, key=lambda x: x.temperature_c)
    title = _schedule_title(bakes, chosen)
    caption = (
        "Each column of marks: the loads' time at that temperature or above, at their worst place, as observed; "
        "small lines reach to what is credited; marks on the lowest level had no more than that. Circles passed, "
        "diamonds are not demonstrated, crosses failed. "
        "A load needs one point only. No line is drawn beyond the schedule's own temperatures."
    )
    if chosen.overbake:
        caption += " Triangles pointing down: the upper curve; more minutes than these are over-baked."
    with own_look():
        frame = open_frame([3.1], title=title, caption=caption, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "schedule": [], "loads": [], "credited": [], "names": []}
        x = np.array([_place(point.temperature_c) for point in points])
        y = np.array([point.minutes for point in points])
        line: dict[str, Any] = {"color": COLORS["window"], "linewidth": LINE_WIDTHS["window"], "linestyle": DASHES["window"]}
        artists["schedule"] += axes.plot(x, y, marker="s", ms=6, zorder=3, **line)
        data: dict[str, Any] = {"schedule_c": np.array([p.temperature_c for p in points]), "schedule_min": y}
        upper = sorted(chosen.overbake, key=lambda p: p.temperature_c)
        upper_x, upper_y = np.array([_place(p.temperature_c) for p in upper]), np.array([p.minutes for p in upper])
        if upper:
            limit: dict[str, Any] = {"color": COLORS["boundary"], "linestyle": DASHES["boundary"], "linewidth": 1.2}
            artists["upper"] = axes.plot(upper_x, upper_y, marker="v", ms=6, zorder=3, **limit)
            data |= {"upper_c": np.array([p.temperature_c for p in upper]), "upper_min": upper_y}
        x = np.concatenate([x, upper_x])
        wide = float(np.ptp(x)) if np.ptp(x) > 0.0 else 1e-4
        least = 0.25 * float(y.min())
        seen: list[tuple[float, float, float, str, int]] = []
        for point in points:
            index = chosen.schedule.index(point)
            for n, bake in enumerate(bakes):
                worst = next(p for p in bake.places if p.probe == bake.worst)
                if worst.observed_min:
                    seen.append(
                        (_place(point.temperature_c), worst.observed_min[index], worst.credited_min[index], bake.state, n)
                    )
        for state, (shape, face) in MARKS.items():
            mine = [item for item in seen if item[3] == state]
            if not mine:
                continue
            at = np.array([item[0] + wide * 0.10 * ((item[4] + 0.5) / max(len(bakes), 1) - 0.5) for item in mine])
            have = np.maximum(np.array([item[1] for item in mine]), least)
            most = np.maximum(np.array([item[2] for item in mine]), least)
            color = COLORS["signal"] if state == "fail" else COLORS["value"]
            size = 3.2 if state == "pass" else 6.5
            marks: dict[str, Any] = {"ms": size, "mfc": face, "mec": color, "mew": 0.9, "zorder": 5 + (state != "pass")}
            artists["loads"] += axes.plot(at, have, shape, linestyle="", **marks)
            for a, low, high in zip(at, have, most, strict=True):
                if high > low * 1.001:
                    artists["credited"] += axes.plot([a, a], [low, high], color=color, linewidth=0.8, zorder=4)
        data["loads_min"] = np.array([item[1] for item in seen])
        data["loads_credited_min"] = np.array([item[2] for item in seen])
        axes.set_yscale("log")
        axes.minorticks_off()
        top = max([*y.tolist(), *upper_y.tolist(), *(item[2] for item in seen)])
        ticks = _minutes_ticks(least, 1.2 * top)
        axes.set_yticks(ticks)
        axes.set_yticklabels([number(value) for value in ticks], parse_math=False)
        axes.set_ylim(0.9 * least, 1.25 * top)
        axes.set_xlim(x.max() + 0.2 * wide, x.min() - 0.2 * wide)  # 1/T falls as T rises
        ticks_c = sorted({p.temperature_c for p in [*points, *upper]})
        axes.set_xticks([_place(level) for level in ticks_c])
        axes.set_xticklabels([f"{number(level)} C" for level in ticks_c], parse_math=False)
        for p in upper:
            words, beside = f"at most {number(p.minutes)} min", _place(p.temperature_c) - 0.08 * wide
            artists["names"].append(put_text(axes, beside, p.minutes, words, ha="left", va="center", zorder=7))
        for p, at in zip(points, x, strict=False):
            artists["names"].append(
                put_text(axes, at - 0.08 * wide, p.minutes, f"{number(p.minutes)} min", ha="left", va="center", zorder=7)
            )
        label(axes, x="part at this temperature or above (scale of 1/T)", y="minutes (scale of ln t)")
    return Drawn(frame.figure, {"schedule": axes}, artists, data, title, caption, (), frame.own_figure)


def _place(temperature_c: float) -> float:
    return 1.0 / (temperature_c + 273.15)


def _minutes_ticks(low: float, high: float) -> list[float]:
    steps = [m * 10.0**k for k in range(-2, 5) for m in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)]
    return [value for value in steps if low <= value <= high]


def _schedule_title(bakes: Sequence[Bake], recipe: Recipe) -> str:
    passed = sum(x.schedule_state == "pass" for x in bakes)
    least = min(
        (max(place.observed_min[k] / p.minutes for k, p in enumerate(recipe.schedule)) for x in bakes for place in x.places
         if place.observed_min and x.state == "pass"),
        default=math.nan,
    )  # fmt: skip
    text = f"{passed} of {plural(len(bakes), 'bake')} by recipe {plain(recipe.name)} met a schedule point"
    if math.isfinite(least):
        text += f"; the closest of those that passed had {fixed(least, 2)} times its minutes"
    return text + "."
