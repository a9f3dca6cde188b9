"""Panels of points with their lines: the values above, their spread below, one axis of time or production order for all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import Axis, make_axis
from steadyfilm.plots._frame import open_frame, x_ticks_only_below
from steadyfilm.plots._labels import MOST_DIRECT, Mark, as_marks, grouped, label_groups, letters_of
from steadyfilm.plots._panel import Panel, draw_panel
from steadyfilm.plots.style import (
    COLORS,
    DASHES,
    FONT,
    LINE_WIDTHS,
    SMALL,
    label,
    own_look,
    put_text,
    wrapped,
)

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
    with own_look():
        frame = open_frame(heights, title=title, caption=caption, notes=key, ax=ax)
        artists: dict[str, Any] = dict(frame.words)
        data: dict[str, np.ndarray] = {"x": axis.x, "hollow": hollow_here, "break_before": breaks}
        named = {}
        for i, panel in enumerate(panels):
            axes = frame.panels[i]
            name = panel.role if panel.role not in named else f"{panel.role}_{i + 1}"
            named[name] = axes
            prefix = "" if i == 0 else f"{name}_"
            axis.limit(axes)
            found, numbers = draw_panel(axes, panel, axis, hollow_here, breaks, marks[i], groups[i], frame.points_high[i])
            found["signal_labels"] = label_groups(
                axes, groups[i], axis.x, numbers["shown"], letters, frame.points_wide, frame.points_high[i]
            )
            artists |= {prefix + role: artist for role, artist in found.items() if artist not in ([], None)}
            data |= {prefix + role: array for role, array in numbers.items() if role != "shown"}
            words = f"{panel.label} ({panel.unit})" if panel.unit else panel.label
            label(axes, y="\n".join(wrapped(words, 1.15 * frame.points_high[i] / 72, FONT)))
        artists["boundaries"] = _phases(frame.panels, axis, phases)
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


def _phases(panels: Sequence[Axes], axis: Axis, phases: Sequence[tuple[int, str]]) -> list[Any]:
    found: list[Any] = []
    for start, words in phases:
        at = axis.before(start)
        for i, axes in enumerate(panels):
            if start > 0:
                style = {"color": COLORS["boundary"], "linestyle": DASHES["boundary"], "linewidth": LINE_WIDTHS["boundary"]}
                found.append(axes.axvline(at, zorder=3.5, **style))
            if i == 0 and words:
                found.append(
                    put_text(
                        axes, at, 1.0, f" {words}", transform=axes.get_xaxis_transform(), ha="left", va="bottom", fontsize=SMALL
                    )
                )
    return found


def _notes(panels: Sequence[Panel], marks: Sequence[Sequence[Mark]], time: Any, names: Any, most: int = 20) -> tuple[str, ...]:
    """The signals in words, for readers who cannot see the markers."""
    found = []
    for panel, here in zip(panels, marks, strict=True):
        for mark in here:
            where = time if time is not None else names
            when = "" if where is None else f" ({str(where[mark.point])[:16]})"
            value = float(np.asarray(panel.values, dtype=float)[mark.point])
            found.append(f"{panel.label}, point {mark.point + 1}{when}, {number(value, 4)} {panel.unit}: {mark.text}.")
    if len(found) > most:
        found = [*found[:most], f"... and {plural(len(found) - most, 'further signal')}."]
    return tuple(found)
