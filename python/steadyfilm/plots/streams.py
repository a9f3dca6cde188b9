"""The picture of many streams: the level common to all, large panels for streams that are not quiet, small ones for the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import Axis, make_axis, shortened
from steadyfilm.plots._frame import PANEL_POINTS, open_frame
from steadyfilm.plots._panel import MANY_POINTS
from steadyfilm.plots.style import COLORS, DASHES, INK, LINE_WIDTHS, PAPER, SMALL, dress, label, matched, own_look, put_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.streams import StreamsChart

__all__ = ["plot_streams"]

COLUMNS = 6
ROWS = 5
"""Small panels of a page: so many that each is still wide enough for its points and its name."""

LARGE = 5
"""Large panels of a page."""

FEW = 3
"""Small panels that stand in one row of wider ones."""

_TALL, _GAP, _SMALL_TALL, _SMALL_GAP, _FOOT, _UNIT_LINE = 0.85, 0.24, 0.42, 0.24, 0.36, 0.12  # inches


@dataclass
class _Page:
    """What one page shows, and what has been drawn on it."""

    large: list[int]
    small: list[int]
    axes: dict[str, Axes] = field(default_factory=dict)
    artists: dict[str, Any] = field(default_factory=dict)
    data: dict[str, np.ndarray[Any, Any]] = field(default_factory=dict)

    def keep(self, role: str, found: Any) -> None:
        self.artists.setdefault(role, []).extend(found if isinstance(found, list) else [found])


def plot_streams(
    result: StreamsChart,
    *,
    ax: Any = None,
    quantity: str = "difference from the others",
    page: int = 1,
    judged: bool = True,
    named: Mapping[str, str] | None = None,
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw the streams: those that are not quiet large, the largest step first, then the quiet ones small, on one scale.

    Parameters
    ----------
    result : StreamsChart
    ax : matplotlib axes, optional
        One axes, in whose place all panels stand.
    quantity : str
        What is charted, for the axes.
    page : int
        From 1. A page holds 5 large and 30 small panels; the caption says what it shows of how many.
    judged : bool
        Whether the words say what these tests make of the level common to all; a report that judges it otherwise leaves them out.
    named : mapping, optional
        Further streams that stand large, by name, with the words for each: those of which a report tells something.
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    named = named or {}
    loud, quiet = _in_order(result, named)
    pages = max(1, -(-len(loud) // LARGE), -(-len(quiet) // (COLUMNS * ROWS)))
    if not 1 <= page <= pages:
        raise InvalidInputError(f"page must lie between 1 and {pages}, got {page}", argument="page")
    shown = _Page(loud[(page - 1) * LARGE : page * LARGE], quiet[(page - 1) * COLUMNS * ROWS : page * COLUMNS * ROWS])
    heading = result.sentence() if title is None else title
    foot = _caption(result, shown, loud, quiet, page, pages, named) if caption is None else caption
    notes = tuple(_note(result, s, named) for s in shown.large)
    rows = -(-len(shown.small) // _columns(shown))
    tall = [_UNIT_LINE, *[_TALL + _GAP] * (1 + len(shown.large)), _FOOT, *[_SMALL_TALL + _SMALL_GAP] * rows]
    with own_look():
        frame = open_frame([sum(tall)], title=heading, caption=foot, notes=notes, ax=ax, x_label=False)
        body = frame.panels[0]
        body.set_axis_off()
        shown.artists |= frame.words
        axis = make_axis(result.time, result.level.size, "moment")
        edge, large = _GAP + _UNIT_LINE, []
        for s in [-1, *shown.large]:
            axes = _inset(body, 0.0, edge, 1.0, _TALL, sum(tall))
            large.append(axes)
            if s < 0:
                _level(axes, result, axis, shown, judged=judged)
            else:
                _large(axes, result, s, axis, shown, f"stream_{len(large) - 1}", named.get(result.name(s), ""))
            edge += _TALL + _GAP
        wide = frame.points_wide if ax is not None else PANEL_POINTS
        for axes in large:
            axes.set_xlim(*axis.limits())
            axis.ticks(axes, wide)
            axes.tick_params(labelbottom=axes is large[-1])
        label(large[-1], x=axis.label)
        edge += _FOOT
        _small(body, result, shown, axis, edge, sum(tall))
        if result.made.unit:
            unit = f"All panels in {result.made.unit}."
            put_text(body, 0.0, 1.0, f"{unit} Large and small panels: {quantity}.", transform=body.transAxes, va="top")
    shown.data |= {"level": result.level, "level_ewma": result.level_ewma, "shown": np.array([*shown.large, *shown.small], int)}
    return Drawn(frame.figure, shown.axes, shown.artists, shown.data, heading, foot, notes, frame.own_figure)


def _in_order(result: StreamsChart, named: Mapping[str, str]) -> tuple[list[int], list[int]]:
    moved = result.strongest().tolist()
    loud = moved + np.flatnonzero(result.state == "single point").tolist()
    loud += [s for s in range(result.stream_count) if s not in loud and result.name(s) in named]
    known = set(loud)
    return loud, [s for s in range(result.stream_count) if s not in known]


def _caption(
    result: StreamsChart,
    shown: _Page,
    loud: Sequence[int],
    quiet: Sequence[int],
    page: int,
    pages: int,
    named: Mapping[str, str],
) -> str:
    words = ["On top the level common to all: the streams' mean distance from their centers."]
    if shown.large:
        many = _share(len(shown.large), page, LARGE, len(loud))
        told = "with a change or a signal of its own" if named else "that moved or have a single point off, largest step first"
        words.append(f"Large: {many} {told}.")
    if shown.small:
        many = _share(len(shown.small), page, COLUMNS * ROWS, len(quiet))
        words.append(f"Small: {many} without a signal, all on one scale.")
        if (result.state[shown.small] == "too few points").any():
            words.append("Hollow dots: too few points for limits.")
    if pages > 1:
        words.append(f"Page {page} of {pages}; page={page % pages + 1} shows more.")
    words.append("Dots: points; thick line: EWMA; dashed: limits of points; dotted upright: where the step starts.")
    options = result.made.options
    chance = (
        f"A steady set of streams shows any signal at all with a chance of at most {number(100 * options['false_alarm'], 3)} %."
        if options["sigma_multiple"] is None
        else f"A steady set of streams shows about {number(result.expected_false, 2)} signals at these limits."
    )
    return " ".join([*words, chance])


def _columns(shown: _Page) -> int:
    """A few streams have room for larger panels."""
    return COLUMNS if len(shown.small) > FEW else FEW


def _share(count: int, page: int, each: int, total: int) -> str:
    if count == total:
        return plural(total, "stream")
    first = (page - 1) * each + 1
    return f"streams {first} to {first + count - 1} of {total}"


def _note(result: StreamsChart, s: int, named: Mapping[str, str]) -> str:
    if result.name(s) in named and result.state[s] == "quiet":
        return f"{result.name(s)}: {named[result.name(s)]}."
    beyond, drifted = int(result.beyond_count[s]), int(result.ewma_count[s])
    return f"{result.name(s)}: {result.state[s]}; {plural(beyond, 'point')} beyond the limits, the EWMA at {drifted}."


def _inset(body: Axes, left: float, top: float, wide: float, tall: float, total: float) -> Axes:
    """Axes in a place of the body: left and width as shares, top and height in inches of the body's total."""
    axes = body.inset_axes((left, 1 - (top + tall) / total, wide, tall / total))
    dress(axes)
    return axes


def _course(
    axes: Axes,
    x: np.ndarray[Any, Any],
    y: np.ndarray[Any, Any],
    ewma: np.ndarray[Any, Any],
    size: float,
    trace: float = LINE_WIDTHS["trace"],
) -> list[Any]:
    """Points on their thread, the EWMA strongly over them."""
    many: dict[str, Any] = {"rasterized": x.size > MANY_POINTS}
    found = axes.plot(x, y, color=COLORS["thread"], linewidth=LINE_WIDTHS["thread"], zorder=3, **many)
    dot: dict[str, Any] = {"ms": size, "mfc": COLORS["value"], "mec": "none", "zorder": 4, "linestyle": ""}
    found += axes.plot(x, y, "o", **dot, **many)
    if np.isfinite(ewma).any():
        found += axes.plot(x, ewma, color=COLORS["trace"], linewidth=trace, zorder=5, **many)
    return found


def _lines(axes: Axes, lower: float, upper: float) -> list[Any]:
    style: dict[str, Any] = {"color": COLORS["limit"], "linestyle": DASHES["limit"], "linewidth": LINE_WIDTHS["limit"]}
    return [axes.axhline(y, zorder=2, **style) for y in (lower, upper) if np.isfinite(y)]


def _range(axes: Axes, *given: Any) -> None:
    """Room for every point and line; a flat panel gets some too."""
    y = np.concatenate([np.atleast_1d(np.asarray(part, dtype=float)) for part in given])
    y = y[np.isfinite(y)]
    low, high = (float(y.min()), float(y.max())) if y.size else (-1.0, 1.0)
    pad = 0.08 * (high - low) or max(abs(high), 1.0) * 0.05
    axes.set_ylim(low - pad, high + pad)


def _ends(axes: Axes, lower: float, upper: float) -> list[Any]:
    """The limits in numbers, right of the panel."""
    if not (np.isfinite(lower) and np.isfinite(upper)):
        return [put_text(axes, 1.01, 0.5, "no limits", transform=axes.transAxes, va="center")]
    texts = matched(lower, upper)
    return [
        put_text(axes, 1.01, y, f"{name} {text}", transform=axes.get_yaxis_transform(), va=side)
        for name, y, text, side in (("LCL", lower, texts[0], "center"), ("UCL", upper, texts[1], "center"))
    ]


def _heading(axes: Axes, words: str, state: str) -> Any:
    weight = "bold" if state not in ("quiet", "too few points") else "normal"
    return put_text(axes, 0.0, 1.02, words, transform=axes.transAxes, va="bottom", fontweight=weight)


def _level(axes: Axes, result: StreamsChart, axis: Axis, shown: _Page, *, judged: bool) -> None:
    limits = result.common_limits
    shown.keep("level", _course(axes, axis.x, result.level, result.level_ewma, 2.6))
    shown.keep("limits", _lines(axes, limits.lower, limits.upper))
    _range(axes, result.level, result.level_ewma, limits.lower, limits.upper)
    shown.keep("words", _ends(axes, limits.lower, limits.upper))
    words = "Common to all: steady" if result.common_state == "quiet" else f"Common to all: {result.common_state}"
    if judged:
        shown.keep("words", _heading(axes, words, result.common_state))
        _step(axes, axis, result.common_change_moment, shown)
    else:
        shown.keep("words", _heading(axes, "Common to all", "quiet"))
    label(axes, y="level")
    axes.locator_params(axis="y", nbins=4)
    shown.axes["level"] = axes


def _large(axes: Axes, result: StreamsChart, s: int, axis: Axis, shown: _Page, role: str, said: str) -> None:
    part = result.points_of(s)
    x, y = axis.x[result.moment[part]], result.difference[part]
    lower, upper = float(result.lower[s]), float(result.upper[s])
    shown.keep("streams", _course(axes, x, y, result.ewma[part], 2.6))
    shown.keep("limits", _lines(axes, lower, upper))
    _range(axes, y, result.ewma[part], lower, upper)
    own = (result.signal_point >= part.start) & (result.signal_point < part.stop) & (result.signal_test == "beyond")
    for side, shape in ((1, "^"), (-1, "v")):
        at = result.signal_point[own & (result.signal_side == side)] - part.start
        if at.size:
            mark: dict[str, Any] = {"ms": 6.5, "mfc": COLORS["signal"], "mec": PAPER, "mew": 0.7, "zorder": 7, "linestyle": ""}
            shown.keep("signals", axes.plot(x[at], y[at], shape, **mark))
    shown.keep("words", _ends(axes, lower, upper))
    if not said:
        said = f"{result.change[s]:+.3g} {result.made.unit}".rstrip() if result.state[s] == "moved" else "a single point is off"
    shown.keep("words", _heading(axes, f"{shortened(result.name(s), 60)}: {said}", "named"))
    _step(axes, axis, int(result.change_moment[s]), shown)
    label(axes, y="difference")
    axes.locator_params(axis="y", nbins=4)
    shown.axes[role] = axes
    shown.data[role] = y


def _step(axes: Axes, axis: Axis, moment: int, shown: _Page) -> None:
    if moment < 0:
        return
    style: dict[str, Any] = {"color": COLORS["boundary"], "linestyle": DASHES["boundary"], "linewidth": LINE_WIDTHS["boundary"]}
    shown.keep("steps", axes.axvline(axis.before(moment), zorder=2.5, **style))


def _small(body: Axes, result: StreamsChart, shown: _Page, axis: Axis, top: float, total: float) -> None:
    """A grid of panels on one scale; only the first column has numbers beside it."""
    gap = 0.025
    columns = _columns(shown)
    wide = (1 - gap * (columns - 1)) / columns
    everything: list[Any] = [0.0]
    for k, s in enumerate(shown.small):
        part = result.points_of(s)
        everything += [result.difference[part], result.lower[s], result.upper[s]]
        row, column = divmod(k, columns)
        axes = _inset(body, column * (wide + gap), top + row * (_SMALL_TALL + _SMALL_GAP) + _SMALL_GAP, wide, _SMALL_TALL, total)
        x, y = axis.x[result.moment[part]], result.difference[part]
        enough = result.state[s] != "too few points"
        if enough:
            shown.keep("quiet", _course(axes, x, y, result.ewma[part], 1.0, 1.1))
        else:
            ring: dict[str, Any] = {"ms": 2.4, "mfc": PAPER, "mec": INK, "mew": 0.6, "linestyle": "", "zorder": 4}
            shown.keep("too_few", axes.plot(x, y, "o", **ring))
        shown.keep("limits", _lines(axes, float(result.lower[s]), float(result.upper[s])))
        axes.set_xlim(*axis.limits())
        axes.set_xticks([])
        name = shortened(result.name(s), 14)
        axes.xaxis.set_label_position("top")
        label(axes, x=name if enough else f"{shortened(name, 8)}, n {int(result.count[s])}")
        axes.xaxis.label.set_fontsize(SMALL - 1)
        axes.xaxis.labelpad = 1.5
        axes.tick_params(labelleft=column == 0, labelsize=SMALL - 1)
        shown.axes[f"quiet_{k + 1}"] = axes
        shown.data[f"quiet_{k + 1}"] = y
    for k in range(len(shown.small)):
        axes = shown.axes[f"quiet_{k + 1}"]
        _range(axes, *everything)
        axes.locator_params(axis="y", nbins=3)
