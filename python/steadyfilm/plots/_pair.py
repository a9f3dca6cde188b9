"""Panels of points with their lines: the values above, their spread below, one axis of time or production order for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import Axis, make_axis
from steadyfilm.plots._frame import PANEL_POINTS, open_frame, x_ticks_only_below
from steadyfilm.plots._labels import MOST_DIRECT, Mark, as_marks, grouped, label_groups, letters_of
from steadyfilm.plots._panel import Panel, draw_panel
from steadyfilm.plots.style import COLORS, DASHES, FONT, LINE_WIDTHS, SMALL, label, own_look, plain, put_text, text_width, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["MOST_PANELS", "Mark", "Panel", "draw_panels"]

MOST_PANELS = 4


def draw_panels(
    panels: Sequence[Panel],
    *,
    title: str,
    caption: str = "",
    time: Any = None,
    hollow: Any = None,
    break_before: Any = None,
    phases: Sequence[tuple[int, str]] = (),
    point: str = "point",
    names: Any = None,
    ax: Any = None,
) -> Drawn:
    """Draw the panels below each other; see `steadyfilm.plots.monitored.draw_monitored` for the meaning of the arguments."""
    if not 1 <= len(panels) <= MOST_PANELS:
        raise ValueError(f"a chart has 1 to {MOST_PANELS} panels, not {len(panels)}; draw the rest on a chart of its own")
    count = len(panels[0].values)
    hollow_here = _flags(hollow, count, "hollow")
    breaks = _flags(break_before, count, "break_before")
    marks = [as_marks(panel.signals, count) for panel in panels]
    axis = make_axis(time, count, point, names)
    # One label for signals so near to each other that two labels would overlap.
    groups = [grouped(found, axis.x, 0.05 * float(np.ptp(axis.x)) if count else 0.0) for found in marks]
    texts = [text for found in groups for group in found for text in group.texts]
    letters = letters_of(texts) if sum(map(len, groups)) > MOST_DIRECT or any(len(text) > 30 for text in texts) else None
    notes = _notes(panels, marks, time, names)
    heights = [panel.height or (2.5 if i == 0 else 1.15) for i, panel in enumerate(panels)]
    key = [] if letters is None else ["; ".join(f"{letter}: {text}" for text, letter in letters.items()) + "."]
    gone = int(np.isnan(np.asarray(panels[0].values, dtype=float)).sum())
    if hollow_here.any() or gone:
        key.append(_hollow_words(int((hollow_here & ~np.isnan(np.asarray(panels[0].values, dtype=float))).sum()), gone))
    places = _phase_places(axis, phases)
    rows = 1 + max((place.row for place in places), default=-1)
    with own_look():
        frame = open_frame(heights, title=title, caption=caption, notes=key, ax=ax, rows=rows)
        artists: dict[str, Any] = dict(frame.words)
        data: dict[str, np.ndarray] = {"x": axis.x, "hollow": hollow_here, "break_before": breaks}
        named = {}
        for i, panel in enumerate(panels):
            axes = frame.panels[i]
            name = panel.role if panel.role not in named else f"{panel.role}_{i + 1}"
            named[name] = axes
            prefix = "" if i == 0 else f"{name}_"
            axes.set_xlim(*axis.limits())
            found, numbers = draw_panel(axes, panel, axis, hollow_here, breaks, marks[i], groups[i], frame.points_high[i])
            found["signal_labels"] = label_groups(
                axes, groups[i], axis.x, numbers["shown"], letters, frame.points_wide, frame.points_high[i]
            )
            artists |= {prefix + role: artist for role, artist in found.items() if artist not in ([], None)}
            data |= {prefix + role: array for role, array in numbers.items() if role != "shown"}
            words = f"{panel.label} ({panel.unit})" if panel.unit else panel.label
            label(axes, y="\n".join(wrapped(words, 1.15 * frame.points_high[i] / 72, FONT)))
        artists["boundaries"] = _phases(frame.panels, places, frame.points_high[0])
        if not artists["boundaries"]:
            del artists["boundaries"]
        axis.ticks(frame.panels[-1], frame.points_wide)
        label(frame.panels[-1], x=axis.label)
        x_ticks_only_below(frame.panels)
        if frame.own_figure:
            frame.figure.align_ylabels(list(frame.panels))
    return Drawn(frame.figure, named, artists, data, title, caption, notes, frame.own_figure)


def _hollow_words(excluded: int, missing: int) -> str:
    parts = [f"{plural(excluded, 'point')} left out"] if excluded else []
    parts += [f"{plural(missing, 'reading')} missing (at the foot of the chart)"] if missing else []
    return f"Hollow: {' and '.join(parts)}; no rule counts them."


def _flags(given: Any, count: int, name: str) -> np.ndarray:
    flags = np.zeros(count, dtype=bool) if given is None else np.asarray(given, dtype=bool)
    if flags.shape != (count,):
        raise ValueError(f"{name} needs one flag for each of the {count} points, got shape {flags.shape}")
    return flags


@dataclass(frozen=True)
class _Phase:
    """Where a phase starts on the axis, and where its words stand: to which side and in which row above the panel."""

    at: float
    words: str
    side: str
    row: int


def _phase_places(axis: Axis, phases: Sequence[tuple[int, str]]) -> list[_Phase]:
    """Words right of the start, or left of it near the end of the axis; one row higher where they would touch others."""
    found = []
    ends: list[float] = []
    first, last = axis.limits()
    for start, given in sorted(phases):
        words, at = plain(given), axis.before(start)
        wide = text_width(words, SMALL) + 8
        left = (at - first) / (last - first) * PANEL_POINTS
        side = "right" if left + wide > PANEL_POINTS + 60 else "left"
        begin = left - wide if side == "right" else left
        row = 0
        if words:
            row = next((i for i, end in enumerate(ends) if begin >= end), len(ends))
            ends[row : row + 1] = [begin + wide]
        found.append(_Phase(at, words, side, row if words else -1))
    return found


def _phases(panels: Sequence[Axes], places: Sequence[_Phase], points_high: float) -> list[Any]:
    found: list[Any] = []
    style = {"color": COLORS["boundary"], "linestyle": DASHES["boundary"], "linewidth": LINE_WIDTHS["boundary"]}
    for place in places:
        found += [axes.axvline(place.at, zorder=3.5, **style) for axes in panels if place.at > axes.get_xlim()[0]]
        if place.words:
            height = 1 + (1 + 10 * place.row) / points_high
            where: dict[str, Any] = {"transform": panels[0].get_xaxis_transform(), "ha": place.side, "va": "bottom"}
            found.append(put_text(panels[0], place.at, height, place.words, **where))
    return found


def _moment(mark: Any) -> str:
    """A time to the minute, or a name as it is."""
    return str(mark)[:16].replace("T", " ") if isinstance(mark, np.datetime64) else str(mark)


def _notes(panels: Sequence[Panel], marks: Sequence[Sequence[Mark]], time: Any, names: Any, most: int = 20) -> tuple[str, ...]:
    """The signals in words, for readers who cannot see the markers."""
    found = []
    for panel, here in zip(panels, marks, strict=True):
        for mark in here:
            where = time if time is not None else names
            when = "" if where is None else f" ({_moment(where[mark.point])})"
            value = float(np.asarray(panel.values, dtype=float)[mark.point])
            found.append(f"{panel.label}, point {mark.point + 1}{when}, {number(value, 4)} {panel.unit}: {mark.text}.")
    if len(found) > most:
        found = [*found[:most], f"... and {plural(len(found) - most, 'further signal')}."]
    return tuple(found)
