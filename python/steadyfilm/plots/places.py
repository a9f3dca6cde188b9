"""Thickness by place: every unit's mean at every place, the place's own mean, the window, and how each place fares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, percent, plural
from steadyfilm.limits import SpecLimits
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots._labels import shortened
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, SMALL, label, matched, own_look, plain, put_text, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["draw_places"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

PLACES_IN_WORDS = 6
"""With more, places are numbered and named below."""
ON_LIMIT = 1e-9
"""Relative: what lies so near to a limit is on it, and inside, as where units are judged."""
STRIP = 0.8
"""Width of a place's strip, of the distance between two places."""


def draw_places(
    spots: Any,
    places: Sequence[str],
    *,
    unit: str,
    window: SpecLimits | None = None,
    spot_limits: SpecLimits | None = None,
    error: Any = None,
    quantity: str = "thickness",
    things: str = "unit",
    caption: str = "",
    ax: Any = None,
) -> Drawn:
    """Draw every unit's mean at each place, in order of production from left to right within the strip of its place.

    Parameters
    ----------
    spots : array, shape (units, places)
        NaN where a unit has no reading at a place; at least one number at every place.
    places : sequence of str
        Their names.
    unit : str
        Unit of the numbers, put on the axis.
    window : SpecLimits, optional
        Window of the unit average; what lies outside is marked and counted by place.
    spot_limits : SpecLimits, optional
        Limits of a single place.
    error : array, optional
        Half width of the interval of each place's mean.
    quantity, things : str
        What is measured, and what a row of ``spots`` belongs to.
    caption : str
        Said before the words on how the marks stand.
    ax : matplotlib axes, optional
        In place of a figure of its own.

    Examples
    --------
    >>> drawn = draw_places(
    ...     [[2.1, 2.3], [2.0, 2.4]], ["left side", "roof"], unit="mil", window=SpecLimits(2.0, 2.2), things="unit"
    ... )
    >>> drawn.title
    'Thinnest at left side (2.05 mil), thickest at roof (2.35 mil); 2 of 4 spots (50 %) lie outside 2.0 to 2.2 mil.'
    """
    film = np.asarray(spots, dtype=float)
    if film.ndim != 2 or film.shape[1] != len(places) or film.shape[1] == 0:
        raise ValueError(f"spots must have one column for each of the {len(places)} places, at least one; got shape {film.shape}")
    there = ~np.isnan(film)
    if not there.any(axis=0).all():
        bare = [name for name, any_there in zip(places, there.any(axis=0), strict=True) if not any_there]
        raise ValueError(f"no number at all at {', '.join(bare)}: leave the place out")
    limits = window or SpecLimits()
    low = np.zeros(film.shape, dtype=bool) if limits.lower is None else film < limits.lower * (1 - ON_LIMIT)
    high = np.zeros(film.shape, dtype=bool) if limits.upper is None else film > limits.upper * (1 + ON_LIMIT)
    mean = np.array([float(column[ok].mean()) for column, ok in zip(film.T, there.T, strict=True)])
    half = np.full(len(places), np.nan) if error is None else np.asarray(error, dtype=float)
    title = _title(mean, places, int(there.sum()), int((low | high).sum()), limits, unit)
    foot = (
        f"{caption} Each mark is one {things}, in order of production within its place; crosses lie outside the window.".strip()
    )
    many = len(places) > PLACES_IN_WORDS
    if many:
        foot += " Places: " + "; ".join(f"{k} {plain(name)}" for k, name in enumerate(places, start=1)) + "."
    with own_look():
        frame = open_frame([2.9 if many else 2.5], title=title, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "inside": [], "outside": [], "means": [], "verdicts": [], "lines": []}
        span = [*film[there], *(x for x in _values(limits, spot_limits) if _near(x, film[there]))]
        said = [
            _verdict(mean[k], half[k], there[:, k], low[:, k], high[:, k], limits, ", " if many else "\n")
            for k in range(len(places))
        ]
        # The marks leave as much free above them as the words need.
        tall = max(text_width(words, SMALL) if many else 1.35 * SMALL * (words.count("\n") + 1) for words in said) + 8
        free = min(0.7, tall / frame.points_high[0])
        room = max(max(span) - min(span), 1e-6 * max(abs(x) for x in span), 1e-12)
        axes.set_ylim(min(span) - 0.05 * room, max(span) + 1.05 * room * free / (1 - free))
        axes.set_xlim(-0.55, max(len(places), 2) - 0.45)
        where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "top"}
        for k in range(len(places)):
            _strip(axes, artists, k, film[:, k], (low | high)[:, k], mean[k], half[k])
            found = put_text(axes, k, 0.99, "", rotation=90 if many else 0, **where)
            found.set_text(said[k])
            artists["verdicts"].append(found)
        _limit_lines(axes, artists, limits, spot_limits, axes.get_ylim())
        wide = frame.points_wide / max(len(places), 2)
        axes.set_xticks(range(len(places)))
        ticks = [str(k + 1) if many else shortened(name, wide) for k, name in enumerate(places)]
        axes.set_xticklabels(ticks, parse_math=False)
        label(axes, y=f"{quantity} ({unit})" if unit else quantity)
    data = {"spots": film, "mean": mean, "error": half, "below": low.sum(axis=0), "above": high.sum(axis=0)}
    return Drawn(frame.figure, {"places": axes}, artists, data, title, foot, (), frame.own_figure)


def _values(*limits: SpecLimits | None) -> list[float]:
    return [x for found in limits if found is not None for x in (found.lower, found.upper) if x is not None]


def _near(limit: float, film: Floats) -> bool:
    """Whether a limit is so near to the marks that the axis should reach it."""
    reach = max(float(np.ptp(film)), 0.02 * float(np.abs(film).max()))
    return float(film.min()) - reach <= limit <= float(film.max()) + reach


def _strip(axes: Axes, artists: dict[str, Any], at: int, film: Floats, out: Flags, mean: float, half: float) -> None:
    """The marks of one place, its mean as a bar across, the interval as a bar upright."""
    x = at - STRIP / 2 + STRIP * (np.arange(len(film)) + 0.5) / len(film)
    size = float(np.clip(900 / max(len(film), 1), 5, 22))
    inside = ~np.isnan(film) & ~out
    dots: dict[str, Any] = {"s": size, "linewidths": 0.6, "zorder": 2}
    artists["inside"].append(axes.scatter(x[inside], film[inside], facecolors="none", edgecolors=COLORS["value"], **dots))
    if out.any():
        artists["outside"].append(axes.scatter(x[out], film[out], marker="x", color=COLORS["signal"], **dots))
    line: dict[str, Any] = {"color": COLORS["center"], "zorder": 4}
    artists["means"] += axes.plot([at - STRIP / 2, at + STRIP / 2], [mean, mean], linewidth=2.2, **line)
    if np.isfinite(half):
        artists["means"] += axes.plot([at, at], [mean - half, mean + half], linewidth=5.0, alpha=0.6, **line)


def _verdict(mean: float, half: float, there: Flags, low: Flags, high: Flags, limits: SpecLimits, between: str) -> str:
    """The mean with its interval, and the shares outside."""
    decimals = max(0, 1 - int(np.floor(np.log10(half)))) if np.isfinite(half) and half > 0 else 3
    first = f"{mean:.{decimals}f} ± {half:.{decimals}f}" if np.isfinite(half) else number(mean, 4)
    if limits.lower is None and limits.upper is None:
        return first
    count = int(there.sum())
    parts = [f"{percent(int(x.sum()) / count, 2)} {word}" for x, word in ((low, "below"), (high, "above")) if x.any()]
    return between.join([first, *(parts or ["all inside"])])


def _limit_lines(
    axes: Axes, artists: dict[str, Any], window: SpecLimits, spot_limits: SpecLimits | None, span: tuple[float, float]
) -> None:
    """The window and the limits of a single place, each with its words at the right end."""
    wanted = [(x, f"window {word}", "window") for x, word in ((window.lower, "from"), (window.upper, "to"))]
    if spot_limits is not None:
        wanted += [(x, f"place {word}", "boundary") for x, word in ((spot_limits.lower, "from"), (spot_limits.upper, "to"))]
    drawn = [(x, words, role) for x, words, role in wanted if x is not None and span[0] <= x <= span[1]]
    texts = matched(*(x for x, _, _ in drawn)) if drawn else []
    for (x, words, role), text in zip(drawn, texts, strict=True):
        style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role]}
        artists["lines"].append(axes.axhline(x, zorder=3, **style))
        where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
        artists["lines"].append(put_text(axes, 1.01, x, f"{words} {text}", **where))


def _title(mean: Floats, places: Sequence[str], spots: int, outside: int, window: SpecLimits, unit: str) -> str:
    thin, thick = int(np.argmin(mean)), int(np.argmax(mean))
    low, high = (f"{text} {unit}".rstrip() for text in matched(float(mean[thin]), float(mean[thick])))
    if len(places) == 1:
        head = f"One place, {plain(places[0])}: {low} on average"
    elif thin == thick:
        head = f"All {len(places)} places have {low} on average"
    else:
        head = f"Thinnest at {plain(places[thin])} ({low}), thickest at {plain(places[thick])} ({high})"
    if window.lower is None and window.upper is None:
        return f"{head}; {plural(spots, 'spot')}, with no window to judge them by."
    if window.lower is not None and window.upper is not None:
        limits = f"outside {' to '.join(matched(window.lower, window.upper))} {unit}"
    elif window.lower is not None:
        limits = f"below {number(window.lower, 4)} {unit}"
    else:
        limits = f"above {number(float(window.upper or 0.0), 4)} {unit}"
    verb = "lies" if outside == 1 else "lie"
    return f"{head}; {outside} of {plural(spots, 'spot')} ({percent(outside / spots, 2)}) {verb} {limits.rstrip()}."
