"""The picture of all readings: each a small mark, by location within unit within day, with unit averages and the window."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._all_readings import AllReadings, all_readings
from steadyfilm._format import number, plural
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import day_words, shortened
from steadyfilm.plots._frame import Frame, open_frame
from steadyfilm.plots._labels import LineLabel, label_lines
from steadyfilm.plots.style import (
    COLORS,
    DASHES,
    INK,
    LINE_WIDTHS,
    PAPER,
    SIX_COLORS,
    SMALL,
    label,
    matched,
    own_look,
    put_text,
    text_width,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.limits import SpecLimits

__all__ = ["MOST_UNITS", "plot_readings"]

MOST_UNITS = 800
"""More units than this would be a smear; draw a part of them, or a chart of unit averages."""

# Without red (signals) and orange (windows); shapes tell the rest apart, and the place inside the unit tells all.
_PLACES = ((SIX_COLORS[0], "o"), (SIX_COLORS[3], "s"), (SIX_COLORS[4], "^"), (SIX_COLORS[5], "D"), (SIX_COLORS[0], "v"))
_ROW = 50


def plot_readings(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    body: Any,
    location: Any = None,
    day: Any = None,
    time: Any = None,
    window: SpecLimits | None = None,
    quantity: str = "reading",
    missing: str = "error",
    ax: Any = None,
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw every reading of units that are read at several places.

    Each unit has a slot, in it the locations stand from left to right, always in the same order; repeat readings stand above
    each other. A bar across the slot marks the unit average. Dotted lines divide the days. Many units fill several rows.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row; a table needs ``column``.
    unit : str
        Unit of the readings, for the axis.
    body : column name or sequence of labels
        Which unit was read. At most 800 units.
    location : column name or sequence of labels, optional
        Where on it, in the order of first appearance.
    day : column name or sequence, optional
        Day (or shift, batch) of each reading; of moments, their day. Labels of units count inside it.
    time : column name or sequence, optional
        Units are put in the order of their first moment; without ``day`` it gives the days too.
    window : SpecLimits, optional
        Window that unit averages are to meet.
    quantity : str
        What was read, for the axis.
    missing : {"error", "drop"}
        Missing readings are refused, or left out; the average of their unit is then drawn hollow.
    ax : matplotlib axes, optional
        One axes; rows divide it.
    title, caption : str, optional
        Instead of what the readings show, and of what the marks mean.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels or times.
    InvalidInputError
        Too many units for one picture, or columns that do not fit.

    Examples
    --------
    >>> from steadyfilm.limits import SpecLimits
    >>> table = {"film": [2.0, 2.2, 2.1, 2.4], "body": ["b1", "b1", "b2", "b2"], "place": ["side", "roof", "side", "roof"]}
    >>> drawn = plot_readings(table, "film", unit="mil", body="body", location="place", window=SpecLimits(2.0, 2.2))
    >>> print(drawn.title)
    2 units with 2 locations, 4 readings from 2 to 2.4 mil; unit averages from 2.1 to 2.25 mil, 1 outside the window.
    """
    found = all_readings(data, column, body=body, location=location, day=day, time=time, missing=missing)
    count = len(found.units)
    if count > MOST_UNITS:
        raise InvalidInputError(
            f"a picture holds {MOST_UNITS} units, the data have {count}: draw a part of them", argument="data"
        )
    rows = _rows(found)
    wide = max(stop - start for start, stop in rows)
    low, high = _range(found, window)
    far = (found.values < low) | (found.values > high)
    heading = found.sentence(unit, window) if title is None else title
    off = int(((found.averages < low) | (found.averages > high)).sum())
    foot = _caption(found, int(far.sum()), off) if caption is None else caption
    heights = [2.6 if len(rows) == 1 else 1.5] * len(rows)
    with own_look():
        frame = open_frame(heights, title=heading, caption=foot, notes=(), ax=ax, rows=1 if len(found.locations) > 1 else 0)
        artists: dict[str, Any] = dict(frame.words)
        roles = ("readings", "averages", "incomplete", "days", "day_labels", "off_scale", "averages_off")
        drawn: dict[str, list[Any]] = {role: [] for role in roles}
        slots = max(wide, 4)
        for axes, (start, stop) in zip(frame.panels, rows, strict=True):
            axes.set_xlim(-0.6, slots - 0.4)
            axes.set_ylim(low, high)
            _draw_row(axes, found, start, stop, far, frame.points_wide / slots, drawn)
            _window(axes, window, artists)
            _below(axes, found, start, stop, frame.points_wide / slots, drawn)
            words = f"{quantity} ({unit})" if unit else quantity
            label(axes, y=words)
        label(frame.panels[-1], x="units in production order" + (", by day" if found.days else ""))
        frame.panels[-1].xaxis.labelpad = 24.0 if found.days else 14.0
        if window is not None:
            artists["line_labels"] = label_lines(frame.panels[0], _window_labels(window), frame.points_high[0])
        if len(found.locations) > 1:
            artists["key"] = _key(frame, found.locations)
        artists |= {name: items for name, items in drawn.items() if items}
        if frame.own_figure:
            frame.figure.align_ylabels(list(frame.panels))
    numbers = {
        "values": found.values,
        "unit": found.unit_of,
        "location": found.location_of,
        "averages": found.averages,
        "complete": found.complete,
        "first_unit_of_row": np.array([start for start, _ in rows]),
    }
    named = {f"row_{i + 1}": axes for i, axes in enumerate(frame.panels)}
    return Drawn(frame.figure, named, artists, numbers, heading, foot, (), frame.own_figure)


def _caption(found: AllReadings, far: int, off: int) -> str:
    words = "Small marks: readings"
    words += ", locations from left to right inside each unit" if len(found.locations) > 1 else ""
    words += "; bars: unit averages"
    hollow = int((~found.complete).sum())
    words += f" (hollow: of {plural(hollow, 'unit')} without all readings)" if hollow else ""
    words += "; dotted: a new day." if len(set(found.days)) > 1 else "."
    words += f" {plural(found.missing, 'reading')} missing." if found.missing else ""
    if far or off:
        parts = [plural(count, what) for count, what in ((far, "reading"), (off, "unit average")) if count]
        words += f" Arrows at the edge (hollow: readings): {' and '.join(parts)} off the scale."
    return words


def _rows(found: AllReadings) -> list[tuple[int, int]]:
    """First and past-the-last unit of each row; a row ends with a day where one ends near where it is full."""
    count = len(found.units)
    most = max(_ROW, math.ceil(count / 8))
    rows = []
    start = 0
    while start < count:
        left = count - start
        even = math.ceil(left / math.ceil(left / most))
        stop = start + even
        if stop < count and found.days:
            reach = range(start + math.ceil(0.75 * even), min(count, start + math.ceil(1.15 * most)) + 1)
            ends = [i for i in reach if i == count or found.days[i] != found.days[i - 1]]
            stop = min(ends, key=lambda i: abs(i - start - even)) if ends else stop
        rows.append((start, stop))
        start = stop
    return rows


def _range(found: AllReadings, window: SpecLimits | None) -> tuple[float, float]:
    """All readings, unless a few lie so far away (a slip of the pen) that the rest would be flattened."""
    low, middle, high = (float(x) for x in np.quantile(found.values, [0.25, 0.5, 0.75]))
    reach = 6.0 * max(middle - low, high - middle)
    near = found.values[np.abs(found.values - middle) <= 2.0 * reach] if reach > 0 else found.values
    edges = [float(near.min()), float(near.max())]
    if window is not None:
        edges += [x for x in (window.lower, window.upper) if x is not None]
    span = max(edges) - min(edges)
    pad = 0.05 * span if span > 0 else 0.05 * abs(middle) or 1.0
    return min(edges) - pad, max(edges) + pad


def _draw_row(
    axes: Axes, found: AllReadings, start: int, stop: int, far: np.ndarray, slot: float, drawn: dict[str, list[Any]]
) -> None:
    """Readings and averages of one row; ``slot`` is the width of a unit in points."""
    places = len(found.locations)
    here = (found.unit_of >= start) & (found.unit_of < stop)
    step = 0.76 / places
    x = found.unit_of - start + (found.location_of - (places - 1) / 2) * step
    size = float(np.clip(0.75 * slot * step, 1.8, 4.5))
    for place in range(places):
        color, shape = _PLACES[place % len(_PLACES)]
        pick = here & (found.location_of == place) & ~far
        style: dict[str, Any] = {"ms": size, "mfc": color, "mec": color, "mew": 0, "linestyle": "", "zorder": 4}
        drawn["readings"] += axes.plot(x[pick], found.values[pick], shape, **style)
    low, high = axes.get_ylim()
    for i in np.flatnonzero(here & far).tolist():
        up = bool(found.values[i] > high)
        edge = high - 0.03 * (high - low) if up else low + 0.03 * (high - low)
        arrow: dict[str, Any] = {"ms": 5.5, "mfc": PAPER, "mec": INK, "mew": 0.9, "zorder": 8}
        drawn["off_scale"] += axes.plot([x[i]], [edge], "^" if up else "v", **arrow)
        if len(drawn["off_scale"]) <= 20:
            left = bool(x[i] > 0.5 * (stop - start))
            where: dict[str, Any] = {"ha": "right" if left else "left", "va": "center", "zorder": 8}
            aside = 5.0 / slot
            text = f"{number(float(found.values[i]), 4)}, off the scale"
            drawn["off_scale"].append(put_text(axes, float(x[i]) + (-aside if left else aside), edge, text, **where))
    averages = found.averages[start:stop]
    inside = (averages >= low) & (averages <= high)
    half = 0.44
    for name, pick in (("averages", found.complete[start:stop]), ("incomplete", ~found.complete[start:stop])):
        at = np.flatnonzero(pick & inside)
        if at.size:
            bar: dict[str, Any] = {"color": INK, "linewidth": 1.7 if name == "averages" else 3.0, "zorder": 6}
            drawn[name].append(axes.hlines(averages[at], at - half, at + half, **bar))
            if name == "incomplete":
                drawn[name].append(
                    axes.hlines(averages[at], at - 0.9 * half, at + 0.9 * half, color=PAPER, linewidth=1.3, zorder=6.5)
                )
    for i in np.flatnonzero(~inside).tolist():
        up = bool(averages[i] > high)
        tip: dict[str, Any] = {"ms": 6.0, "mfc": INK, "mec": INK, "zorder": 9, "clip_on": False}
        drawn["averages_off"] += axes.plot([i], [high if up else low], "^" if up else "v", **tip)


def _window(axes: Axes, window: SpecLimits | None, artists: dict[str, Any]) -> None:
    for name in ("lower", "upper"):
        value = None if window is None else getattr(window, name)
        if value is not None:
            style = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": 0.7 * LINE_WIDTHS["window"]}
            artists.setdefault(f"window_{name}", []).append(axes.axhline(value, zorder=2, **style))


def _window_labels(window: SpecLimits) -> list[LineLabel]:
    both = (("window from", window.lower), ("window to", window.upper))
    limits = [(words, float(value)) for words, value in both if value is not None]
    texts = matched(*(value for _, value in limits)) if limits else []
    return [LineLabel(value, f"{words} {text}", "window") for (words, value), text in zip(limits, texts, strict=True)]


def _below(axes: Axes, found: AllReadings, start: int, stop: int, slot: float, drawn: dict[str, list[Any]]) -> None:
    """Days under the axis with their boundaries; without days, or in few and short names, the units themselves."""
    axes.set_xticks([])
    units = [shortened(name, 10) for name in found.units[start:stop]]
    named = max(text_width(name, SMALL) for name in units) + 5 <= slot
    below: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "top"}
    if named:
        drawn["day_labels"] += [put_text(axes, i, -0.02, name, **below) for i, name in enumerate(units)]
    if not found.days:
        if not named:
            for i in (0, stop - start - 1):
                drawn["day_labels"].append(put_text(axes, i, -0.02, units[i], **below))
        return
    days = found.days[start:stop]
    first = [i for i in range(stop - start) if i == 0 or days[i] != days[i - 1]]
    style = {"color": COLORS["boundary"], "linestyle": DASHES["boundary"], "linewidth": LINE_WIDTHS["boundary"]}
    drawn["days"] += [axes.axvline(i - 0.5, zorder=3, **style) for i in first if i]
    free = -math.inf
    for i, past in zip(first, [*first[1:], stop - start], strict=True):
        text = _day_text(days[i])
        middle, half = 0.5 * (i + past - 1), 0.5 * text_width(text, SMALL) / slot
        # A label that would touch the one before it is left out; its boundary is there.
        if middle - half > free:
            high = axes.get_window_extent().height / axes.figure.dpi * 72 or 72.0
            drawn["day_labels"].append(put_text(axes, middle, -(11.0 if named else 2.0) / high, text, **below))
            free = middle + half + 3.0 / slot


def _day_text(day: str) -> str:
    try:
        return day_words(np.datetime64(day, "D"))
    except ValueError:
        return shortened(day, 12)


def _key(frame: Frame, locations: Sequence[str]) -> list[Any]:
    """Marks and names of the locations, in their order, above the first row."""
    axes = frame.panels[0]
    found: list[Any] = []
    at = 0.0
    height = 1 + 7 / frame.points_high[0]
    for i, name in enumerate(locations):
        words = shortened(name, 16)
        needed = 10 + text_width(words, SMALL) + 12
        if at + needed > frame.points_wide + 60:
            found.append(put_text(axes, at / frame.points_wide, height, "...", transform=axes.transAxes, va="center"))
            break
        color, shape = _PLACES[i % len(_PLACES)]
        mark: dict[str, Any] = {"transform": axes.transAxes, "clip_on": False, "ms": 4.5, "mfc": color, "mec": color, "mew": 0}
        found += axes.plot([(at + 4) / frame.points_wide], [height], shape, **mark)
        found.append(put_text(axes, (at + 10) / frame.points_wide, height, words, transform=axes.transAxes, va="center"))
        at += needed
    return found
