"""Pictures of gauge bias: the bias over what is measured with its band, and two gauges side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import BANDS, COLORS, DASHES, INK, LINE_WIDTHS, PAPER, label, matched, own_look, put_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.gauge_bias import BiasLinearity, GaugeComparison

__all__ = ["plot_comparison", "plot_linearity"]


def plot_linearity(result: BiasLinearity, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw each reading's bias over its reference, the means, the fitted line with its band, and where that leaves out zero.

    Parameters
    ----------
    result : BiasLinearity
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    unit = result.made.unit
    level = number(100 * result.made.options["confidence_level"])
    x = np.linspace(float(result.reference[0]), float(result.reference[-1]), 101)
    fit = result.intercept + result.slope * x
    away = (x - result.mean_reference) ** 2 / result.sum_squares_reference
    half = result.t_critical * result.residual_sd * np.sqrt(1.0 / result.count + away)
    bias = result.values - result.value_reference
    data = {
        "reference": result.value_reference,
        "bias": bias,
        "mean_reference": result.reference,
        "bias_mean": result.bias_mean,
        "line_reference": x,
        "line": fit,
        "band_lower": fit - half,
        "band_upper": fit + half,
    }
    words = f"Rings: readings; bars: their mean at each reference; band: {level} % for the mean bias."
    words += " Thick along zero: references at which the band leaves out zero." if result.biased else ""
    heading = result.sentence() if title is None else title
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([2.7], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists["band"] = axes.fill_between(x, fit - half, fit + half, color=BANDS[0], linewidth=0, zorder=1)
        artists["line"] = axes.plot(x, fit, color=COLORS["curve"], linewidth=LINE_WIDTHS["curve"], zorder=3)
        artists["zero"] = axes.axhline(0.0, color=INK, linewidth=LINE_WIDTHS["center"], zorder=2)
        rings: dict[str, Any] = {"s": 14, "facecolors": "none", "edgecolors": COLORS["value"], "linewidths": 0.6, "zorder": 4}
        artists["readings"] = axes.scatter(result.value_reference, bias, **rings)
        dash: dict[str, Any] = {"marker": "_", "ms": 14, "mew": 2.2, "color": COLORS["bar"], "linestyle": "", "zorder": 5}
        artists["means"] = axes.plot(result.reference, result.bias_mean, **dash)
        artists["biased"] = [
            artist
            for one in result.biased
            for artist in axes.plot(
                [one.from_reference, one.to_reference],
                [0.0, 0.0],
                color=COLORS["signal"],
                linewidth=4.0,
                solid_capstyle="butt",
                zorder=2.5,
            )
        ]
        axes.margins(x=0.03)
        _end_labels(axes, artists, [(0.0, "no bias"), (float(fit[-1]), "line")])
        label(axes, x=f"reference ({unit})" if unit else "reference", y=f"bias ({unit})" if unit else "bias")
    return Drawn(frame.figure, {"linearity": axes}, artists, data, heading, foot, (), frame.own_figure)


def plot_comparison(result: GaugeComparison, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw each panel's difference over its mean, the mean difference, the limits of agreement, and the margin.

    Parameters
    ----------
    result : GaugeComparison
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    unit, options = result.made.unit, result.made.options
    middle, difference = 0.5 * (result.first + result.second), result.first - result.second
    limits = (result.agreement_lower, result.agreement_upper)
    data = {
        "mean": middle,
        "difference": difference,
        "mean_difference": np.array([result.mean_difference, result.equivalence_lower, result.equivalence_upper]),
        "agreement_lower": np.array([limits[0].value, limits[0].lower, limits[0].upper]),
        "agreement_upper": np.array([limits[1].value, limits[1].lower, limits[1].upper]),
        "margin": np.array([-result.margin, result.margin]),
    }
    share, level = number(100 * options["agreement_share"]), number(100 * options["confidence_level"])
    narrow = number(100 * (1 - 2 * options["significance"]))
    words = (
        f"Bands: {narrow} % interval of the mean difference, which must lie inside the margin, and {level} % intervals of the "
        f"limits between which {share} % of single differences lie."
    )
    heading = result.sentence() if title is None else title
    foot = words if caption is None else caption
    with own_look():
        frame = open_frame([2.9], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "bands": [], "lines": []}
        for low, high in [(result.equivalence_lower, result.equivalence_upper), *((one.lower, one.upper) for one in limits)]:
            artists["bands"].append(axes.axhspan(low, high, color=BANDS[1], linewidth=0, zorder=1))
        lines = [(result.mean_difference, "mean", "center"), *((one.value, "limit", "limit") for one in limits)]
        lines += [(edge, "margin", "window") for edge in (-result.margin, result.margin)]
        for height, _, role in lines:
            style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role]}
            artists["lines"].append(axes.axhline(height, zorder=2, **style))
        rings: dict[str, Any] = {"s": 18, "facecolors": PAPER, "edgecolors": COLORS["value"], "linewidths": 0.8, "zorder": 4}
        artists["differences"] = axes.scatter(middle, difference, **rings)
        texts = matched(*(height for height, _, _ in lines), digits=4)
        said = [(height, f"{name} {text}") for (height, name, _), text in zip(lines, texts, strict=True)]
        axes.margins(y=0.08)
        _end_labels(axes, artists, said)
        mean = "mean of both gauges"
        label(axes, x=f"{mean} ({unit})" if unit else mean, y=f"difference ({unit})" if unit else "difference")
    return Drawn(frame.figure, {"comparison": axes}, artists, data, heading, foot, (), frame.own_figure)


def _end_labels(axes: Axes, artists: dict[str, Any], said: list[tuple[float, str]]) -> None:
    """Words at the right ends of lines, moved apart where they would touch."""
    low, high = axes.get_ylim()
    step = 0.055 * (high - low)
    artists["line_labels"] = []
    last = -np.inf
    for height, text in sorted(said):
        at = max(height, last + step)
        last = at
        where: dict[str, Any] = {"transform": axes.get_yaxis_transform(), "ha": "left", "va": "center"}
        artists["line_labels"].append(put_text(axes, 1.01, at, text, **where))
    axes.set_ylim(low, high)
