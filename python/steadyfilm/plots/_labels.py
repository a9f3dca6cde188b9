"""Where words go: labels at the ends of lines without overlap, and the words at signals."""

from __future__ import annotations

import string
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm.plots.style import COLORS, INK, PAPER, SMALL, plain, put_text, text_width
from steadyfilm.run_rules import describe

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Annotation, Text

MOST_DIRECT = 3
"""Up to this many groups of signals say their reason beside the point; more get letters, explained below the chart."""


@dataclass(frozen=True)
class Mark:
    """One signal to be shown: the point from 0, why in words, on which side ("above", "below", "both").

    ``length`` counts the points of its pattern up to this one; the line through them is drawn strongly.
    """

    point: int
    text: str
    side: str = "above"
    length: int = 1


@dataclass(frozen=True)
class Group:
    """Neighboring points that signal for the same reasons on the same side; they share one label."""

    points: tuple[int, ...]
    texts: tuple[str, ...]
    side: str


def as_marks(signals: Sequence[Any], count: int) -> tuple[Mark, ...]:
    """Signals of any kind (with ``point``, ``side`` and ``text`` or ``rule``; or tuples) as marks, in order of points."""
    marks = []
    for signal in signals:
        if isinstance(signal, tuple):
            mark = Mark(*signal)
        else:
            text = getattr(signal, "text", None)
            words = _reason(signal.rule) if text is None else str(text)
            mark = Mark(int(signal.point), words, str(signal.side), int(getattr(signal, "length", 1)))
        if not 0 <= mark.point < count:
            raise ValueError(f"signal at point {mark.point}, but the chart has points 0 to {count - 1}")
        marks.append(mark)
    return tuple(sorted(marks, key=lambda mark: mark.point))


def _reason(rule: str) -> str:
    """Shop words of a rule; a word of another kind speaks for itself."""
    try:
        return describe(rule)
    except ValueError:
        return str(rule)


def grouped(marks: Sequence[Mark], x: np.ndarray, reach: float) -> list[Group]:
    """Marks gathered by point, then points in a row or near to each other in ``x``, with the same reasons and side."""
    by_point: dict[int, list[Mark]] = {}
    for mark in marks:
        by_point.setdefault(mark.point, []).append(mark)
    groups: list[Group] = []
    for point, here in sorted(by_point.items()):
        texts = tuple(dict.fromkeys(mark.text for mark in here))
        sides = {mark.side for mark in here}
        side = sides.pop() if len(sides) == 1 else "both"
        last = groups[-1] if groups else None
        near = last and (point == last.points[-1] + 1 or x[point] - x[last.points[-1]] <= reach)
        if last and near and last.texts == texts and last.side == side:
            groups[-1] = Group((*last.points, point), texts, side)
        else:
            groups.append(Group((point,), texts, side))
    return groups


def letters_of(texts: Sequence[str]) -> dict[str, str]:
    """A letter for each reason, in order of appearance; a second round is aa, ab, ..."""
    names = {}
    for i, text in enumerate(dict.fromkeys(texts)):
        first, last = divmod(i, 26)
        names[text] = (string.ascii_lowercase[first - 1] if first else "") + string.ascii_lowercase[last]
    return names


def label_groups(
    axes: Axes,
    groups: Sequence[Group],
    x: np.ndarray,
    y: np.ndarray,
    letters: dict[str, str] | None,
    width: float,
    height: float,
) -> list[Text]:
    """Words beside the most extreme point of each group, moved outward until they are free of each other.

    ``width`` and ``height`` of the axes are in points. The axes must have its final limits, with room for the words.
    """
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    taken: list[Box] = [_around(x[i], y[i], axes, width, height) for group in groups for i in group.points]
    found = []
    for group in groups:
        down = group.side == "below"
        here = y[list(group.points)]
        point = group.points[int(np.argmin(here) if down else np.argmax(here))]
        words = plain(", ".join(group.texts) if letters is None else " ".join(letters[text] for text in group.texts))
        if len(group.points) > 1:
            words += f" \u00d7{len(group.points)}"
        size = SMALL
        wide, tall = text_width(words, size, bold=True) + 2, 1.25 * size
        px = (float(x[point]) - left) / (right - left) * width
        py = (float(y[point]) - low) / (high - low) * height
        mine = _free_place(px, py, wide, tall, down, taken, width, height)
        taken.append(mine)
        text = put_text(
            axes,
            (mine[0] + mine[2]) / 2 / width,
            (mine[1] + mine[3]) / 2 / height,
            words,
            transform=axes.transAxes,
            ha="center",
            va="center",
            fontsize=size,
            fontweight="bold",
            color=INK,
            zorder=9,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.75, "pad": 0.6},
        )
        found.append(text)
    return found


Box = tuple[float, float, float, float]


def _free_place(
    px: float, py: float, wide: float, tall: float, down: bool, taken: Sequence[Box], width: float, height: float
) -> Box:
    """The first place near the point, inside the axes, that covers neither a marker nor other words; else the nearest inside."""
    places = []
    for step in np.arange(0.0, 6.0, 0.5):
        bottom = py - (8 + tall + step * tall) if down else py + 8 + step * tall
        for aside in (0.0, -0.6, 0.6, -1.1, 1.1):
            start = min(max(px - wide / 2 + aside * (wide + 6), 0.0), max(width - wide, 0.0))
            if 0 <= bottom <= height - tall:
                places.append((start, bottom, start + wide, bottom + tall))
    for place in places:
        if not any(_overlap(place, other) for other in taken):
            return place
    bottom = min(max(py - 8 - tall if down else py + 8, 0.0), max(height - tall, 0.0))
    start = min(max(px - wide / 2, 0.0), max(width - wide, 0.0))
    return (start, bottom, start + wide, bottom + tall)


def _around(x: float, y: float, axes: Axes, width: float, height: float, half: float = 4.0) -> Box:
    """The box of a signal marker, in points."""
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    px, py = (x - left) / (right - left) * width, (y - low) / (high - low) * height
    return px - half, py - half, px + half, py + half


def _overlap(one: Box, two: Box) -> bool:
    return one[0] < two[2] and two[0] < one[2] and one[1] < two[3] and two[1] < one[3]


@dataclass(frozen=True)
class LineLabel:
    """Words at the right end of a line, at height ``y`` in data units."""

    y: float
    text: str
    role: str


def label_lines(axes: Axes, labels: Sequence[LineLabel], points_high: float) -> list[Annotation]:
    """Labels right of the axes, each at its line; crowded ones are moved apart and keep a leader to their line."""
    low, high = axes.get_ylim()
    shown = sorted((item for item in labels if np.isfinite(item.y) and low <= item.y <= high), key=lambda item: item.y)
    if not shown:
        return []
    wished = np.array([(item.y - low) / (high - low) * points_high for item in shown])
    placed = spread_apart(wished, SMALL * 1.25, points_high)
    found = []
    for item, at, wish in zip(shown, placed, wished, strict=True):
        note = axes.annotate(
            plain(item.text),
            xy=(1.0, item.y),
            xycoords=axes.get_yaxis_transform(),
            xytext=(12, float(at - wish)),
            textcoords="offset points",
            ha="left",
            va="center",
            fontsize=SMALL,
            color=INK,
            annotation_clip=False,
            arrowprops={"arrowstyle": "-", "linewidth": 0.7, "color": COLORS[item.role], "shrinkA": 1, "shrinkB": 0},
        )
        note.set_parse_math(False)
        found.append(note)
    return found


def spread_apart(wished: np.ndarray, gap: float, room: float) -> np.ndarray:
    """Sorted heights moved by as little as needed so that neighbors keep ``gap`` and, where possible, all stay within ``room``.

    Least squares under an order constraint: heights less their running offsets are made non-decreasing by pooling neighbors.
    """
    offsets = gap * np.arange(len(wished))
    blocks: list[tuple[float, int]] = []
    for value in wished - offsets:
        blocks.append((float(value), 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (a, n), (b, m) = blocks[-2:]
            blocks[-2:] = [((a * n + b * m) / (n + m), n + m)]
    level = np.concatenate([np.full(count, value) for value, count in blocks])
    upper = max(room - float(offsets[-1]), 0.0)
    return np.asarray(np.clip(level, 0.0, upper) + offsets)


def shortened(name: str, room: float) -> str:
    """A name that does not run into its neighbor's."""
    shown = plain(name) or "(no name)"
    if text_width(shown, SMALL) <= room:
        return shown
    while shown and text_width(f"{shown}...", SMALL) > room:
        shown = shown[:-1]
    return f"{shown}..."
