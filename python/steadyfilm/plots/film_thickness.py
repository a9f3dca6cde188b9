"""Film by place with the verdict of every unit, and how often a rule passes film of a true mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural, window_text
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots._labels import shortened
from steadyfilm.plots.places import draw_places
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, SMALL, label, matched, own_look, plain, put_text, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.film_thickness import Acceptance, PlanCurve
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_acceptance", "plot_operating_curve", "plot_places"]

NAME_POINTS, MOST_NAME_POINTS = 44.0, 110.0
"""Room for the names of units, as a frame has it and at most."""
MOST_BEYOND = 0.75
"""Film farther outside the limits than this share of what they span is an arrow: one wrong unit must not hide all others."""
MOST_ROWS = 40
"""With more units, those that do not pass are drawn, and the rest by number alone."""


def plot_acceptance(found: Acceptance, ax: Any = None) -> Drawn:
    """Draw a map: one row a unit, one mark a spot at its thickness, the unit's verdict at the right end.

    Spots outside their limits are crosses, spots inside are dots; a unit's mean is a bar. Above `MOST_ROWS` units only those
    that do not pass have a row.

    Examples
    --------
    >>> from steadyfilm.film_thickness import accept_film, area_rule
    >>> rows = {"place": [k // 3 for k in range(15)], "film": [2.1] * 12 + [1.5] * 3}
    >>> found = accept_film(rows, "film", rule=area_rule(), unit="mil", lower=2.0, upper=2.2, spot="place")
    >>> drawn = plot_acceptance(found)
    >>> drawn.data["side"].tolist(), drawn.data["verdict"].tolist()
    ([0.0, 0.0, 0.0, 0.0, -1.0], [0.0])
    """
    unit = found.made.unit
    verdicts = found.verdict.tolist()
    shown = list(range(found.unit_count))
    if found.unit_count > MOST_ROWS:
        shown = [i for i in shown if verdicts[i] != "pass"][:MOST_ROWS] or shown[:MOST_ROWS]
    place = {found.units[i]: row for row, i in enumerate(shown)}
    keep = np.isfinite(found.spots.mean) & np.array([name in place for name in found.spots.unit], dtype=bool)
    row = np.array([place[name] for name in found.spots.unit[keep]], dtype=float)
    film, side = found.spots.mean[keep], found.spots.side[keep]
    left = found.unit_count - len(shown)
    caption = (
        f"One row a unit, one mark a spot (mean of its readings); crosses lie outside their limits, upright bars are unit means. "
        f"By {found.rule.title}; {found.rule.words()}"
    )
    if left:
        caption += f" {plural(left, 'further unit')} not drawn."
    low, high = _drawn_range(found, film)
    far = np.flatnonzero((film < low) | (film > high))
    if far.size:
        most = number(float(film[far[np.argmax(np.abs(film[far] - 0.5 * (low + high)))]]), 4)
        caption += f" Arrows: {plural(far.size, 'spot')} beyond the picture, the farthest at {most} {unit}."
    title = found.sentence()
    with own_look():
        frame = open_frame([max(1.1, 0.2 * len(shown) + 0.3)], title=title, caption=caption, notes=found.notes[:1], ax=ax, rows=1)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "inside": [], "outside": [], "means": [], "verdicts": [], "lines": []}
        # Several spots of one thickness lie beside one another, so that each is seen.
        spread = row + 0.5 * (_rank_within(row) - 0.5)
        marks: dict[str, Any] = {"s": 16, "linewidths": 0.9, "zorder": 3}
        here, inside = (film >= low) & (film <= high), side == 0
        artists["inside"].append(
            axes.scatter(film[here & inside], spread[here & inside], facecolors="none", edgecolors=COLORS["value"], **marks)
        )
        own = here & ~inside
        artists["outside"].append(axes.scatter(film[own], spread[own], marker="x", color=COLORS["signal"], **marks))
        for beyond, edge, arrow in ((film < low, low, "<"), (film > high, high, ">")):
            if beyond.any():
                at_edge = np.full(int(beyond.sum()), edge)
                artists["outside"].append(axes.scatter(at_edge, spread[beyond], marker=arrow, color=COLORS["signal"], **marks))
        means = found.mean[shown]
        for k, mean in enumerate(means):
            if low <= mean <= high:
                artists["means"] += axes.plot([mean, mean], [k - 0.36, k + 0.36], color=COLORS["center"], linewidth=1.8, zorder=4)
        for k, i in enumerate(shown):
            where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
            doubt = " (doubtful)" if found.guard_class[i] == "doubtful" else ""
            artists["verdicts"].append(put_text(axes, 1.01, k, f"{verdicts[i]}{doubt}", **where))
        _limits(axes, artists, found)
        room = 0.05 * max(high - low, 0.02 * max(abs(low), abs(high)))
        axes.set_xlim(low - room, high + room)
        axes.set_ylim(len(shown) - 0.4, -0.6)
        axes.set_yticks(range(len(shown)))
        names = [plain(str(found.units[i])) for i in shown]
        wide = NAME_POINTS
        if frame.own_figure:
            wide = min(max([NAME_POINTS, *(text_width(name, SMALL) for name in names)]) + 1.0, MOST_NAME_POINTS)
            box, more = axes.get_position(), (wide - NAME_POINTS) / (72 * frame.figure.get_figwidth())
            axes.set_position((box.x0 + more, box.y0, box.width - more, box.height))
        axes.set_yticklabels([shortened(name, wide) for name in names], fontsize=SMALL)
        for text in axes.get_yticklabels():
            text.set_parse_math(False)
        label(axes, x=f"film at a spot ({unit})", y="")
    codes = {"fail": 0.0, "pass": 1.0, "not demonstrated": 2.0, "out of scope": 3.0}
    data = {
        "film": film,
        "row": row,
        "side": side.astype(float),
        "mean": means.copy(),
        "verdict": np.array([codes[verdicts[i]] for i in shown]),
    }
    return Drawn(frame.figure, {"map": axes}, artists, data, title, caption, (), frame.own_figure)


def _drawn_range(found: Acceptance, film: Any) -> tuple[float, float]:
    """What the picture shows: all limits, and film no farther outside of them than a share of what they span."""
    ends = np.array([*_ends(found.window), *_ends(found.spot_limits), *_ends(found.reading_limits)])
    # One limit alone spans nothing: then as far as it lies from zero.
    reach = MOST_BEYOND * (float(np.ptp(ends)) or float(ends.max()))
    low = min(float(ends.min()), max(float(film.min(initial=np.inf)), float(ends.min()) - reach))
    return low, max(float(ends.max()), min(float(film.max(initial=-np.inf)), float(ends.max()) + reach))


def _ends(limits: SpecLimits) -> list[float]:
    return [end for end in (limits.lower, limits.upper) if end is not None]


def _rank_within(row: Any) -> Any:
    """Place of each mark among those of its row, from 0 to 1 in order of appearance."""
    out = np.zeros(row.size)
    for value in np.unique(row):
        at = np.flatnonzero(row == value)
        out[at] = (np.arange(at.size) + 0.5) / at.size
    return out


def _limits(axes: Axes, artists: dict[str, Any], found: Acceptance) -> None:
    ends = _ends(found.window)
    lines = [("window", end, "window") for end in ends]
    own = [("spot", end) for end in _ends(found.spot_limits)] + [("reading", end) for end in _ends(found.reading_limits)]
    known = {round(end, 9) for end in ends}
    lines += [(name, end, "boundary") for name, end in own if round(end, 9) not in known]
    over: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "va": "bottom"}
    for name, end, role in lines:
        style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role], "zorder": 1}
        artists["lines"].append(axes.axvline(end, **style))
        if role == "boundary":
            # Away from the window's own words.
            side = "right" if end < min(ends) else "left" if end > max(ends) else "center"
            artists["lines"].append(put_text(axes, end, 1.0, f"{name} {number(end, 4)}", ha=side, **over))
    text = " to ".join(number(end, 4) for end in ends)
    artists["lines"].append(put_text(axes, sum(ends) / len(ends), 1.0, f"window {text}", ha="center", **over))


def plot_places(found: Acceptance, ax: Any = None) -> Drawn:
    """Draw the spots by place over all units, as the review does; for units whose spots carry the same names.

    Examples
    --------
    >>> from steadyfilm.film_thickness import accept_film, area_rule
    >>> rows = {"body": ["a"] * 15 + ["b"] * 15, "place": list("vwxyz") * 6, "film": [2.0, 2.1, 2.2, 2.1, 2.1] * 6}
    >>> found = accept_film(rows, "film", rule=area_rule(), unit="mil", lower=2.0, upper=2.2, body="body", spot="place")
    >>> plot_places(found).data["mean"].round(2).tolist()
    [2.0, 2.1, 2.2, 2.1, 2.1]
    """
    names = list(dict.fromkeys(found.spots.spot.tolist()))
    rows = list(dict.fromkeys(zip(found.spots.unit.tolist(), found.spots.area.tolist(), strict=True)))
    grid = np.full((len(rows), len(names)), np.nan)
    at = {key: i for i, key in enumerate(rows)}
    for unit, area, spot, mean in zip(found.spots.unit, found.spots.area, found.spots.spot, found.spots.mean, strict=True):
        grid[at[unit, area], names.index(spot)] = mean
    several = len({unit for unit, _ in rows}) < len(rows)
    return draw_places(
        grid,
        names,
        unit=found.made.unit,
        window=found.window,
        spot_limits=found.spot_limits,
        things="area" if several else "unit",
        caption=f"By {found.rule.title}.",
        ax=ax,
    )


def plot_operating_curve(found: PlanCurve, ax: Any = None) -> Drawn:
    """Draw the share of units that pass against their true mean, with the window and the mean asked about.

    Examples
    --------
    >>> from steadyfilm.film_thickness import acceptance_curve, area_rule
    >>> from steadyfilm.limits import SpecLimits
    >>> window = SpecLimits(2.0, 2.2)
    >>> curve = acceptance_curve(area_rule(), unit="mil", window=window, sigma_location=0.1, true_means=[2.0, 2.1], draws=200)
    >>> plot_operating_curve(curve).data["true_mean"].tolist()
    [2.0, 2.1]
    """
    unit = found.made.unit
    options = found.made.options
    words = {"sigma_area": "area to area", "sigma_location": "spot to spot", "sigma_repeat": "repeats"}
    parts = [(options[name], word) for name, word in words.items()]
    spread = ", ".join(f"{number(size, 3)} {unit} {word}" for size, word in parts if size)
    caption = (
        f"Simulated, {options['draws']} units a mean; standard deviations {spread or 'zero'}; gauge without bias. "
        f"Window {window_text(found.window.lower, found.window.upper, unit)}, {found.rule.title}."
    )
    title = found.sentence()
    with own_look():
        frame = open_frame([2.3], title=title, caption=caption, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "curve": [], "window": [], "asked": []}
        share = 100 * found.probability
        line: dict[str, Any] = {"color": COLORS["curve"], "linewidth": LINE_WIDTHS["curve"], "zorder": 3}
        artists["curve"] += axes.plot(found.true_mean, share, **line)
        error = 200 * found.standard_error
        band: dict[str, Any] = {"color": COLORS["curve"], "alpha": 0.2, "linewidth": 0, "zorder": 2}
        artists["curve"].append(axes.fill_between(found.true_mean, share - error, share + error, **band))
        ends = _ends(found.window)
        for end, text in zip(ends, matched(*ends), strict=True):
            style: dict[str, Any] = {"linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"], "zorder": 1}
            artists["window"].append(axes.axvline(end, color=COLORS["window"], **style))
            # Over the axes, clear of the curve; two close ends lean away from each other.
            first = end == ends[0] and found.window.lower is not None
            where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "right" if first else "left", "va": "bottom"}
            artists["window"].append(put_text(axes, end, 1.0, f"window {text} " if first else f" window {text}", **where))
        if np.isfinite(found.at_mean):
            mark: dict[str, Any] = {"marker": "D", "color": COLORS["signal"], "zorder": 5, "clip_on": False}
            artists["asked"] += axes.plot([found.at_mean], [100 * found.pass_probability], **mark)
            told = f"{number(100 * found.pass_probability, 3)} % at {number(found.at_mean, 4)}"
            side: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
            artists["asked"].append(put_text(axes, 1.01, 100 * found.pass_probability, told, **side))
        axes.set_ylim(0.0, 104.0)
        label(axes, x=f"true mean of the unit ({unit})" if unit else "true mean of the unit", y="units that pass (%)")
    data = {"true_mean": found.true_mean.copy(), "probability": found.probability.copy()}
    return Drawn(frame.figure, {"curve": axes}, artists, data, title, caption, (), frame.own_figure)
