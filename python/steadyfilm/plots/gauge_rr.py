"""Pictures of a gauge study: every reading against the width of the window, the appraisers, the components."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural, with_unit
from steadyfilm._gauge.words import person, upper_first
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import shortened
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots._labels import LineLabel, label_lines
from steadyfilm.plots.style import (
    BANDS,
    COLORS,
    DASHES,
    INK,
    LINE_WIDTHS,
    PAPER,
    SIX_COLORS,
    SMALL,
    label,
    own_look,
    text_width,
)
from steadyfilm.plots.variance_components import put_label

if TYPE_CHECKING:
    from steadyfilm.gauge_rr import GaugeStudy
    from steadyfilm.limits import SpecLimits

__all__ = ["MARKERS", "plot_appraisers", "plot_deviations", "plot_gauge_components"]

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
"""Shapes of appraisers; each also has its own place and name on the axis."""
TRADE = {"repeatability": "EV, repeat", "appraiser": "AV, people", "part": "PV, parts", "total": "TV, all", "grr": "GRR"}
"""The trade's short names of the sources."""
TICK_POINTS = 46.0
"""Room for a name left of the axes."""
SLOT = 0.55
"""Width that the trials of one part take in its slot."""


def plot_deviations(
    study: GaugeStudy,
    window: SpecLimits | None = None,
    *,
    share_limit: float = 0.30,
    ax: Any = None,
    title: str | None = None,
) -> Drawn:
    """Draw how far each reading lies from the mean of its part, by appraiser, against the width of the window.

    Parameters
    ----------
    study : GaugeStudy
    window : SpecLimits, optional
        Its width is the shaded band; a window with one limit has none. By default the study's first.
    share_limit : float
        Share of the width that the spread of the measurement may take; the inner band.
    ax : matplotlib axes, optional
    title : str, optional
        By default the study's sentence.
    """
    window = _window(study, window)
    values = study.values
    part, who = np.asarray(study.part), np.asarray(study.appraiser)
    # A nested study has parts of its own for every appraiser.
    own = part + (who * (int(part.max()) + 1) if study.design == "nested" else 0)
    mean_of = {code: float(values[own == code].mean()) for code in dict.fromkeys(own.tolist())}
    deviation = values - np.array([mean_of[code] for code in own.tolist()])
    x, middles, bounds = _places(part, who)
    half = 0.5 * (window.upper - window.lower) if window and window.lower is not None and window.upper is not None else math.nan
    means = np.array([float(deviation[who == k].mean()) for k in range(len(middles))])
    unit = study.made.unit
    reach = float(np.abs(deviation).max())
    # A window far wider than the spread would squeeze the points into a line; that is the truth, up to a point.
    top = 1.12 * max(reach, half if half < 8 * reach else 0.0, 1.2 * share_limit * half if half < 20 * reach else 0.0)
    top = top or 1.0
    heading = study.sentence() if title is None else title
    foot = "Each mark: one reading less the mean of all readings of its part; side by side the parts, in each its trials. "
    foot += "Short lines: mean of an appraiser."
    if math.isfinite(half):
        foot += (
            f" Outer band: as wide as the window, {with_unit(2 * half, unit)}; inner band: {number(100 * share_limit)} % of it, "
            f"which {number(float(study.made.options['sigma_multiple']))} standard deviations of the measurement may fill."
        )
        foot += "" if half <= top else " The window reaches beyond the picture."
    names = study.appraisers or ("",)
    with own_look():
        frame = open_frame([2.9], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        ends: list[LineLabel] = [LineLabel(0.0, "mean of the part", "boundary")]
        if math.isfinite(half):
            artists["window_band"] = axes.axhspan(-half, half, facecolor=BANDS[1], zorder=0)
            artists["wanted_band"] = axes.axhspan(-share_limit * half, share_limit * half, facecolor=BANDS[0], zorder=0.5)
            look: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
            artists["window_edges"] = [axes.axhline(y, zorder=1, **look) for y in (-half, half)]
            edge = f"{number(share_limit * half, 3)}"
            ends += [
                LineLabel(half, f"half window +{number(half, 3)}", "window"),
                LineLabel(-half, f"-{number(half, 3)}", "window"),
            ]
            ends += [
                LineLabel(y, f"{number(100 * share_limit)} %, {s}{edge}", "bar")
                for y, s in ((share_limit * half, "+"), (-share_limit * half, "-"))
            ]
        artists["zero"] = axes.axhline(0.0, color=INK, linewidth=0.8, zorder=1)
        artists["readings"] = []
        artists["means"] = []
        for k in range(len(middles)):
            mine = who == k
            style: dict[str, Any] = {"linestyle": "", "marker": MARKERS[k % len(MARKERS)], "ms": 4.2, "mew": 0.8, "mec": INK}
            artists["readings"] += axes.plot(x[mine], deviation[mine], mfc=SIX_COLORS[k % 6], zorder=3, **style)
            artists["means"] += axes.plot(bounds[k], [means[k]] * 2, color=INK, linewidth=1.8, solid_capstyle="butt", zorder=4)
        artists["between"] = [
            axes.axvline(
                0.5 * (bounds[k][1] + bounds[k + 1][0]), color=INK, linestyle=DASHES["boundary"], linewidth=0.8, zorder=1
            )
            for k in range(len(middles) - 1)
        ]
        axes.set_xlim(bounds[0][0] - 0.6, bounds[-1][1] + 0.6)
        axes.set_ylim(-top, top)
        room = frame.points_wide / len(middles)
        ticks = [f"{fitted(name, room - 3)}\n{means[k]:+.{_decimals(top)}f}" for k, name in enumerate(names)]
        axes.set_xticks(middles, ticks)
        for tick in axes.get_xticklabels():
            tick.set_parse_math(False)
        axes.tick_params(axis="x", length=0)
        artists["line_labels"] = label_lines(axes, ends, frame.points_high[0])
        label(axes, x="", y=f"reading less its part's mean ({unit})" if unit else "reading less its part's mean")
    data = {
        "x": x,
        "deviation": deviation,
        "appraiser": who.astype(float),
        "appraiser_mean": means,
        "half_window": np.array([half]),
    }
    return Drawn(frame.figure, {"deviations": axes}, artists, data, heading, foot, (), frame.own_figure)


def plot_appraisers(
    study: GaugeStudy, window: SpecLimits | None = None, *, share_limit: float = 0.30, ax: Any = None, title: str | None = None
) -> Drawn:
    """Draw what each appraiser reads more or less than the mean of all, with intervals.

    Parameters
    ----------
    study : GaugeStudy
        With two appraisers or more.
    window : SpecLimits, optional
        The band in the middle is ``share_limit`` of its width; by default the study's first.
    share_limit : float
    ax : matplotlib axes, optional
    title : str, optional
        By default who reads apart from the mean of all.
    """
    effects = study.appraiser_effects
    if len(effects) < 2:
        raise ValueError("one appraiser took part: there are no differences between appraisers to draw")
    window = _window(study, window)
    unit = study.made.unit
    rows = np.arange(len(effects), dtype=float)
    effect = np.array([one.effect for one in effects])
    lower = np.array([math.nan if one.lower is None else one.lower for one in effects])
    upper = np.array([math.nan if one.upper is None else one.upper for one in effects])
    half = (
        0.5 * share_limit * (window.upper - window.lower)
        if window and window.lower is not None and window.upper is not None
        else math.nan
    )
    apart = [one for one in effects if one.lower is not None and one.upper is not None and (one.lower > 0 or one.upper < 0)]
    heading = title or _apart_words(apart, unit, len(effects))
    level = number(100 * float(study.made.options["confidence_level"]))
    foot = f"Mark: mean of an appraiser less the mean of all; line: {level} % interval, each for itself."
    foot += f" Band: {number(100 * share_limit)} % of the window's width." if math.isfinite(half) else ""
    reach = 1.15 * float(np.nanmax(np.abs(np.concatenate([effect, lower, upper])))) or 1.0
    shows = math.isfinite(half) and half < 3 * reach
    reach = max(reach, 1.08 * half) if shows else reach
    with own_look():
        frame = open_frame([max(0.9, 0.34 * len(effects) + 0.25)], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        if math.isfinite(half):
            artists["wanted_band"] = axes.axvspan(-half, half, facecolor=BANDS[0], zorder=0)
        artists["zero"] = axes.axvline(0.0, color=INK, linewidth=0.8, zorder=1)
        artists["intervals"] = axes.hlines(rows, lower, upper, color=INK, linewidth=1.4, zorder=2)
        artists["means"] = [
            axes.plot([x], [row], marker=MARKERS[k % len(MARKERS)], ms=7, mfc=SIX_COLORS[k % 6], mec=INK, mew=0.9, zorder=3)[0]
            for k, (row, x) in enumerate(zip(rows, effect, strict=True))
        ]
        axes.set_xlim(-reach, reach)
        axes.set_ylim(len(effects) - 0.45, -0.55)
        axes.set_yticks(rows, [fitted(one.label, TICK_POINTS) for one in effects])
        for tick in axes.get_yticklabels():
            tick.set_parse_math(False)
        decimals = _decimals(reach)
        words = [f"{one.effect:+.{decimals}f}" + _interval(one, decimals) for one in effects]
        artists["row_labels"] = [put_label(axes, row, text) for row, text in zip(rows, words, strict=True)]
        label(axes, x=f"mean less the mean of all ({unit})" if unit else "mean less the mean of all", y="")
    data = {"effect": effect, "lower": lower, "upper": upper, "half_band": np.array([half])}
    return Drawn(frame.figure, {"appraisers": axes}, artists, data, heading, foot, (), frame.own_figure)


def plot_gauge_components(
    study: GaugeStudy, window: SpecLimits | None = None, *, share_limit: float = 0.30, ax: Any = None, title: str | None = None
) -> Drawn:
    """Draw the standard deviation of every source as a bar with its interval, and the widest GRR that the window allows.

    Parameters
    ----------
    study : GaugeStudy
    window : SpecLimits, optional
        By default the study's first; a window with one limit has no such line.
    share_limit : float
    ax : matplotlib axes, optional
    title : str, optional
        By default GRR, ndc, and how the interaction was treated.
    """
    window = _window(study, window)
    unit = study.made.unit
    estimate = study.estimate
    sources = [x for x in estimate.sources if x.sd is not None and x.source != "reproducibility"]
    rows = np.arange(len(sources), dtype=float)
    sd = np.array([float(x.sd or 0.0) for x in sources])
    lower = np.array([math.nan if x.sd_lower is None else x.sd_lower for x in sources])
    upper = np.array([math.nan if x.sd_upper is None else x.sd_upper for x in sources])
    multiple = float(study.made.options["sigma_multiple"])
    allowed = math.nan
    if window and window.lower is not None and window.upper is not None:
        allowed = share_limit * (window.upper - window.lower) / multiple
    level = number(100 * float(study.made.options["confidence_level"]))
    whole = float(sd.max(initial=0.0))
    edge = (
        max(1.25 * whole, min(float(np.nanmax(upper, initial=0.0)), 2.0 * whole), 1.1 * allowed if allowed < 2 * whole else 0.0)
        or 1.0
    )
    cut = np.nan_to_num(upper, nan=0.0) > edge
    heading = title or _components_words(study, unit)
    foot = f"Bar: standard deviation; line across its end: {level} % interval"
    foot += " (an arrow: it goes on beyond the picture)" if cut.any() else ""
    foot += ". Hatched: the parts, which are not the gauge's doing. Percent: of TV."
    if math.isfinite(allowed):
        foot += (
            f" Dashes: the GRR at which {number(multiple)} standard deviations fill {number(100 * share_limit)} % of the window."
        )
    with own_look():
        frame = open_frame([max(0.9, 0.36 * len(sources) + 0.3)], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["bars"] = []
        for row, x, width in zip(rows, sources, sd, strict=True):
            ours = x.source not in ("part", "total")
            look: dict[str, Any] = (
                {"color": COLORS["bar"]} if ours else {"facecolor": PAPER, "edgecolor": COLORS["bar"], "hatch": "////"}
            )
            artists["bars"] += list(axes.barh([row], [width], height=0.52, zorder=2, **look))
        line: dict[str, Any] = {"color": INK, "linewidth": 1.4, "zorder": 4}
        artists["intervals"] = axes.hlines(rows, lower, np.minimum(upper, edge), **line)
        if cut.any():
            arrow: dict[str, Any] = {"ms": 5.5, "color": INK, "linestyle": "", "zorder": 4, "clip_on": False}
            artists["cut"] = axes.plot(np.full(int(cut.sum()), edge), rows[cut], ">", **arrow)
        if allowed < edge:
            style: dict[str, Any] = {"color": COLORS["window"], "linestyle": DASHES["window"], "linewidth": LINE_WIDTHS["window"]}
            artists["allowed"] = axes.axvline(allowed, zorder=3, **style)
        axes.set_xlim(0.0, edge * 1.02)
        axes.set_ylim(len(sources) - 0.45, -0.55)
        axes.set_yticks(rows, [fitted(_trade(x.source), TICK_POINTS) for x in sources])
        for tick in axes.get_yticklabels():
            tick.set_parse_math(False)
        texts = [number(x, 3) for x in sd]
        right = [
            f"{text}, {number(100 * x.share_of_total, 3)} %" if x.share_of_total is not None else text
            for text, x in zip(texts, sources, strict=True)
        ]
        for i in np.flatnonzero(cut):
            right[i] += f"\nto {number(float(upper[i]), 2)}"
        artists["row_labels"] = [put_label(axes, row, text) for row, text in zip(rows, right, strict=True)]
        label(axes, x=f"standard deviation ({unit})" if unit else "standard deviation", y="")
    data = {"sd": sd, "lower": lower, "upper": upper, "allowed": np.array([allowed])}
    return Drawn(frame.figure, {"components": axes}, artists, data, heading, foot, (), frame.own_figure)


def fitted(name: str, points: float) -> str:
    """A name cut with a mark to what fits into so many points, three letters at least.

    >>> fitted("Ann", 46.0), fitted("Margarethe von der Halle", 46.0)
    ('Ann', 'Margaret…')
    """
    for most in range(len(name), 4, -1):
        text = shortened(name, most)
        if text_width(text, SMALL) <= points:
            return text
    return shortened(name, 4)


def _window(study: GaugeStudy, window: SpecLimits | None) -> SpecLimits | None:
    if window is not None:
        return window
    return study.windows[0].specification if study.windows else None


def _places(
    part: np.ndarray[Any, Any], who: np.ndarray[Any, Any]
) -> tuple[np.ndarray[Any, Any], list[float], list[tuple[float, float]]]:
    """Where each reading stands: appraisers side by side, in each the parts, in each part its trials."""
    x = np.empty(len(part))
    middles, bounds = [], []
    start = 0.0
    for k in range(int(who.max()) + 1):
        mine = np.flatnonzero(who == k)
        codes = sorted(set(part[mine].tolist()))
        for slot, code in enumerate(codes):
            rows = mine[part[mine] == code]
            spread = np.linspace(-SLOT / 2, SLOT / 2, len(rows)) if len(rows) > 1 else np.zeros(1)
            x[rows] = start + slot + spread
        end = start + len(codes) - 1
        middles.append(0.5 * (start + end))
        bounds.append((start - SLOT / 2, end + SLOT / 2))
        start = end + 2.2
    return x, middles, bounds


def _decimals(reach: float) -> int:
    """Decimals that show a hundredth of the reach."""
    return min(12, max(0, 2 - math.floor(math.log10(reach)))) if reach > 0 else 3


def _interval(one: Any, decimals: int) -> str:
    if one.lower is None or one.upper is None:
        return ""
    return f"\n{one.lower:+.{decimals}f} to {one.upper:+.{decimals}f}"


def _apart_words(apart: list[Any], unit: str, count: int) -> str:
    if not apart:
        return f"None of {plural(count, 'appraiser')} reads apart from the mean of all by more than chance explains."
    words = [f"{person(x.label)} reads {with_unit(abs(x.effect), unit, 2)} {'high' if x.effect > 0 else 'low'}" for x in apart]
    return upper_first(f"{', '.join(words)} against the mean of all, more than chance explains.")


def _components_words(study: GaugeStudy, unit: str) -> str:
    estimate = study.estimate
    share = estimate.source("grr").share_of_total
    text = f"GRR is {with_unit(estimate.source('grr').sd or 0.0, unit, 3)}"
    text += f", {number(100 * share, 3)} % of TV" if share is not None else ""
    text += f"; ndc {number(estimate.ndc)}" if estimate.ndc is not None else ""
    return f"{text}. These compare the gauge with the parts studied, not with a window."


def _trade(source: str) -> str:
    return TRADE.get(source, source.replace("part x appraiser", "interaction"))
