"""Film by place with the verdict of every unit, and how often a rule passes film of a true mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural, window_text
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots._labels import shortened
from steadyfilm.plots.places import draw_places
from steadyfilm.plots.style import COLORS, DASHES, LINE_WIDTHS, SMALL, label, matched, own_look, put_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.film_thickness import Acceptance, PlanCurve
    from steadyfilm.limits import SpecLimits

__all__ = ["plot_acceptance", "plot_operating_curve", "plot_places"]

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
    title = found.sentence()
    with own_look():
        frame = open_frame([max(1.1, 0.2 * len(shown) + 0.3)], title=title, caption=caption, notes=found.notes[:1], ax=ax, rows=1)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "inside": [], "outside": [], "means": [], "verdicts": [], "lines": []}
        # Several spots of one thickness lie beside one another, so that each is seen.
        spread = row + 0.5 * (_rank_within(row) - 0.5)
        marks: dict[str, Any] = {"s": 16, "linewidths": 0.9, "zorder": 3}
        inside = side == 0
        artists["inside"].append(
            axes.scatter(film[inside], spread[inside], facecolors="none", edgecolors=COLORS["value"], **marks)
        )
        artists["outside"].append(axes.scatter(film[~inside], spread[~inside], marker="x", color=COLORS["signal"], **marks))
        means = found.mean[shown]
        for k, mean in enumerate(means):
            if np.isfinite(mean):
                artists["means"] += axes.plot([mean, mean], [k - 0.36, k + 0.36], color=COLORS["center"], linewidth=1.8, zorder=4)
        for k, i in enumerate(shown):
            where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
            doubt = " (doubtful)" if found.guard_class[i] == "doubtful" else ""
            artists["verdicts"].append(put_text(axes, 1.01, k, f"{verdicts[i]}{doubt}", **where))
        _limits(axes, artists, found)
        span = np.array([*film, *_ends(found.window), *_ends(found.spot_limits), *_ends(found.reading_limits)])
        room = 0.05 * max(float(np.ptp(span)), 0.02 * float(np.abs(span).max()))
        axes.set_xlim(float(span.min()) - room, float(span.max()) + room)
        axes.set_ylim(len(shown) - 0.4, -0.6)
        axes.set_yticks(range(len(shown)))
        axes.set_yticklabels([shortened(str(found.units[i]), 44.0) for i in shown], fontsize=SMALL)
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
    wanted = [("window", end, "window") for end in _ends(found.window)]
    own = [("spot", end) for end in _ends(found.spot_limits)] + [("reading", end) for end in _ends(found.reading_limits)]
    known = {round(end, 9) for _, end, _ in wanted}
    wanted += [(name, end, "boundary") for name, end in own if round(end, 9) not in known]
    for name, end, role in wanted:
        style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role], "zorder": 1}
        artists["lines"].append(axes.axvline(end, **style))
        where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "center", "va": "bottom"}
        artists["lines"].append(put_text(axes, end, 1.0, f"{name} {number(end, 4)}", **where))


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
            where: dict[str, Any] = {"transform": axes.get_xaxis_transform(), "ha": "left", "va": "bottom"}
            artists["window"].append(put_text(axes, end, 0.02, f" window {text}", **where))
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
