"""Room on the page: title on top, panels below each other with one x axis, words at the ends of lines, caption below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from steadyfilm.plots.style import INK, SMALL, WIDTH, dress, new_figure, wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEFT, RIGHT, BETWEEN = 0.72, 1.22, 0.16
"""Inches beside and between the panels."""

TITLE_SIZE = 10.0
_LINE = 1.32 / 72
"""Inches of a text line for each point of its size."""


PANEL_POINTS = (WIDTH - LEFT - RIGHT) * 72
"""Width of a panel on a figure of its own."""


@dataclass(frozen=True)
class Frame:
    """Figure, panels from top to bottom, and their widths and heights in points."""

    figure: Figure
    panels: tuple[Axes, ...]
    points_wide: float
    points_high: tuple[float, ...]
    own_figure: bool
    words: dict[str, Any]


def open_frame(
    heights: Sequence[float], *, title: str, caption: str, notes: Sequence[str], ax: Any, x_label: bool = True, rows: int = 0
) -> Frame:
    """Axes for panels of these heights in inches, with title, notes and caption in place.

    ``ax`` may be one axes or as many as there are panels; one axes for several panels is divided among them. ``rows`` lines of
    words find room between title and panels.
    """
    if ax is None:
        return _own(heights, title, caption, notes, x_label, rows)
    given = [ax] if not isinstance(ax, Sequence) and not hasattr(ax, "ravel") else list(getattr(ax, "ravel", lambda: ax)())
    if len(given) == 1 and len(heights) > 1:
        given = _divided(given[0], heights)
    if len(given) != len(heights):
        raise ValueError(f"this picture has {len(heights)} panels: give one axes or {len(heights)}, not {len(given)}")
    figure = given[0].figure
    inches = figure.get_size_inches()
    boxes = [axes.get_position() for axes in given]
    for axes in given:
        dress(axes)
    lines = wrapped(title, boxes[0].width * inches[0], TITLE_SIZE, bold=True)
    heading = given[0].set_title(
        "\n".join(lines), loc="left", pad=6 + 10 * rows, fontsize=TITLE_SIZE, fontweight="bold", color=INK
    )
    heading.set_parse_math(False)
    words: dict[str, Any] = {"title": heading}
    foot = [line for part in (*notes, caption) for line in wrapped(part, boxes[-1].width * inches[0], SMALL)]
    if foot:
        words["caption"] = given[-1].annotate(
            "\n".join(foot),
            xy=(0, 0),
            xycoords="axes fraction",
            xytext=(0, -36 if x_label else -20),
            textcoords="offset points",
            ha="left",
            va="top",
            fontsize=SMALL,
            color=INK,
            annotation_clip=False,
        )
        words["caption"].set_parse_math(False)
    high = tuple(float(box.height * inches[1] * 72) for box in boxes)
    return Frame(figure, tuple(given), float(boxes[0].width * inches[0] * 72), high, False, words)


def _own(heights: Sequence[float], title: str, caption: str, notes: Sequence[str], x_label: bool, rows: int) -> Frame:
    head = wrapped(title, WIDTH - 0.3, TITLE_SIZE, bold=True)
    foot = [line for part in (*notes, caption) for line in wrapped(part, WIDTH - 0.3, SMALL)]
    top = max(0.2, 0.12 + 0.14 * rows) + len(head) * TITLE_SIZE * _LINE
    bottom = 0.1 + len(foot) * SMALL * _LINE + (0.56 if x_label else 0.36)
    total = top + bottom + sum(heights) + BETWEEN * (len(heights) - 1)
    figure = new_figure(WIDTH, total)
    panels: list[Axes] = []
    edge = total - top
    for height in heights:
        box = (LEFT / WIDTH, (edge - height) / total, 1 - (LEFT + RIGHT) / WIDTH, height / total)
        axes = figure.add_axes(box, sharex=panels[0] if panels else None)
        dress(axes)
        panels.append(axes)
        edge -= height + BETWEEN
    still: dict[str, Any] = {"parse_math": False, "usetex": False, "color": INK, "ha": "left"}
    words: dict[str, Any] = {
        "title": figure.text(
            0.15 / WIDTH, 1 - 0.1 / total, "\n".join(head), va="top", fontsize=TITLE_SIZE, fontweight="bold", **still
        )
    }
    if foot:
        words["caption"] = figure.text(0.15 / WIDTH, 0.08 / total, "\n".join(foot), va="bottom", fontsize=SMALL, **still)
    return Frame(figure, tuple(panels), PANEL_POINTS, tuple(72.0 * height for height in heights), True, words)


def _divided(ax: Axes, heights: Sequence[float]) -> list[Axes]:
    """Panels in the place of one axes, which keeps its place and is no longer drawn."""
    ax.set_axis_off()
    gap = 0.06
    share = (1 - gap * (len(heights) - 1)) / sum(heights)
    panels: list[Axes] = []
    edge = 1.0
    for height in heights:
        tall = share * height
        shared: dict[str, Any] = {"sharex": panels[0]} if panels else {}
        panels.append(ax.inset_axes((0, edge - tall, 1, tall), **shared))
        edge -= tall + gap
    for panel in panels:
        panel.apply_aspect(panel.get_axes_locator()(panel, None))  # type: ignore[arg-type]  # a fixed place needs no renderer
    return panels


def x_ticks_only_below(panels: Sequence[Axes]) -> None:
    """Tick labels at the lowest panel alone."""
    for axes in panels[:-1]:
        axes.tick_params(labelbottom=False)
