"""The histogram: how the values lie in the window, with the normal curve that the capability figures assume."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, percent, plural
from steadyfilm.limits import SpecLimits
from steadyfilm.plots import Drawn
from steadyfilm.plots._bins import Bins, make_bins
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import (
    BANDS,
    COLORS,
    DASHES,
    LINE_WIDTHS,
    PAPER,
    SMALL,
    label,
    matched,
    own_look,
    put_text,
    text_width,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from steadyfilm.capability import Capability

__all__ = ["draw_histogram", "plot_capability"]


def plot_capability(result: Capability, *, ax: Any = None, resolution: float | None = None, quantity: str = "value") -> Drawn:
    """Draw the readings of a capability result in their window, titled with its verdict; ``draw_histogram`` has the options."""
    if result.values is None:
        raise TypeError("this capability was made from a mean and a sigma alone: there are no readings to draw")
    return draw_histogram(
        result.values,
        unit=result.made.unit,
        window=result.specification,
        mean=result.mean,
        sd=result.sigma_total,
        sd_within=result.sigma_within,
        below=result.below,
        above=result.above,
        resolution=resolution,
        quantity=quantity,
        things="reading",
        title=result.sentence(),
        ax=ax,
    )


def draw_histogram(
    values: Any,
    *,
    unit: str,
    window: SpecLimits | None = None,
    mean: float,
    sd: float,
    sd_within: float | None = None,
    below: int | None = None,
    above: int | None = None,
    expected_below: float | None = None,
    expected_above: float | None = None,
    resolution: float | None = None,
    quantity: str = "value",
    things: str = "value",
    title: str = "",
    caption: str = "",
    ax: Any = None,
) -> Drawn:
    """Draw how often values occur, the window, and the fitted normal curve.

    Parameters
    ----------
    values : array
        At least one finite number each; order does not matter.
    unit : str
        Unit of the values, put on the axis.
    window : SpecLimits, optional
        Specification window; bars outside are hatched, and the share outside on either side is written there.
    mean, sd : float
        Of the normal curve; ``sd`` is the total standard deviation. ``sd_within`` adds a dashed curve of the spread within.
    below, above : int, optional
        How many values miss a limit, by the rule of the verdict; by default those strictly beyond it.
    expected_below, expected_above : float, optional
        Shares that the fitted curve expects outside, said in the title if the title is made here.
    resolution : float, optional
        Step of the gauge display; bars then hold whole steps.
    quantity, things : str
        What is measured ("film, unit average") and what one value belongs to ("unit").
    title, caption : str
        The verdict; by default the share outside the window. The rule for the width of the bars is added to the caption.

    Examples
    --------
    >>> drawn = draw_histogram(
    ...     [1.9, 2.0, 2.1, 2.1, 2.2, 2.3], unit="mil", window=SpecLimits(2.0, 2.2), mean=2.1, sd=0.14, things="unit"
    ... )
    >>> drawn.title
    '2 of 6 units (33 %) lie outside 2.0 to 2.2 mil: 1 below, 1 above.'
    """
    numbers = np.asarray(values, dtype=float)
    if numbers.ndim != 1 or numbers.size == 0 or not np.isfinite(numbers).all():
        raise ValueError("a histogram needs a list of finite numbers, at least one")
    bins = make_bins(numbers, window=window, resolution=resolution, unit=unit)
    if below is None:
        below = 0 if window is None or window.lower is None else int((numbers < window.lower).sum())
    if above is None:
        above = 0 if window is None or window.upper is None else int((numbers > window.upper).sum())
    words = title or _share_sentence(numbers.size, below, above, window, unit, things, expected_below, expected_above)
    foot = f"{caption} Bars {number(bins.width, 3)} {unit} wide ({bins.rule}).".strip()
    with own_look():
        frame = open_frame([2.7], title=words, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = dict(frame.words)
        artists |= _bars(axes, bins)
        curve_x, curves = _curves(bins, window, numbers.size, mean, sd, sd_within)
        for name, heights in curves.items():
            dashed = DASHES["limit"] if name == "curve_within" else DASHES["curve"]
            artists[name] = axes.plot(
                curve_x, heights, color=COLORS["curve"], linestyle=dashed, linewidth=LINE_WIDTHS["curve"], zorder=4
            )
        top = max([float(bins.counts.max()), *(float(heights.max()) for heights in curves.values())])
        axes.set_ylim(0, top * 1.18)
        low, high = float(curve_x[0]), float(curve_x[-1])
        axes.set_xlim(low, high)
        artists |= _lines(axes, window, mean, frame.points_wide)
        artists |= _shares(axes, window, below, above, numbers.size)
        artists["curve_labels"] = _curve_words(axes, sd, sd_within, unit)
        label(axes, x=f"{quantity} ({unit})" if unit else quantity, y=f"{things}s per bar")
    data = {
        "values": numbers,
        "edges": bins.edges,
        "counts": bins.counts,
        "outside": bins.outside,
        "curve_x": curve_x,
        **curves,
        "below_above": np.array([below, above]),
        "mean_sd": np.array([mean, sd]),
    }
    return Drawn(frame.figure, {"histogram": axes}, artists, data, words, foot, (), frame.own_figure)


def _share_sentence(
    count: int,
    below: int,
    above: int,
    window: SpecLimits | None,
    unit: str,
    things: str,
    expected_below: float | None,
    expected_above: float | None,
) -> str:
    if window is None or (window.lower is None and window.upper is None):
        return f"{plural(count, things)}, with no window to judge them by."
    low, high = window.lower, window.upper
    if low is not None and high is not None:
        place = f"outside {' to '.join(matched(low, high))} {unit}".rstrip()
    elif low is not None:
        place = f"below {number(low, 4)} {unit}".rstrip()
    else:
        place = f"above {number(float(high or 0.0), 4)} {unit}".rstrip()
    out = below + above
    text = f"{out} of {plural(count, things)} ({percent(out / count, 2)}) {'lies' if out == 1 else 'lie'} {place}"
    if not out:
        text = f"None of {plural(count, things)} lies {place}"
    if low is not None and high is not None and out:
        text += f": {below} below, {above} above"
    expected = [share for share in (expected_below, expected_above) if share is not None]
    if expected:
        text += f"; the fitted normal curve expects {percent(sum(expected), 2)}"
    return text + "."


def _bars(axes: Axes, bins: Bins) -> dict[str, Any]:
    """Bars; those outside the window differ by hatching as well as by color."""
    found: dict[str, Any] = {}
    for name, pick in (("bars", ~bins.outside), ("bars_outside", bins.outside)):
        if pick.any():
            outside = name == "bars_outside"
            found[name] = axes.bar(
                bins.edges[:-1][pick],
                bins.counts[pick],
                width=np.diff(bins.edges)[pick],
                align="edge",
                facecolor=PAPER if outside else BANDS[0],
                edgecolor=COLORS["signal"] if outside else COLORS["bar"],
                hatch="////" if outside else None,
                linewidth=0.9,
                zorder=2,
            )
    return found


def _curves(
    bins: Bins, window: SpecLimits | None, count: int, mean: float, sd: float, sd_within: float | None
) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Expected counts per bar under the curves, over the values, the window and three standard deviations."""
    reach = [float(bins.edges[0]), float(bins.edges[-1]), mean - 3.2 * sd, mean + 3.2 * sd]
    reach += [limit for limit in (window.lower, window.upper) if limit is not None] if window else []
    pad = 0.03 * (max(reach) - min(reach))
    x = np.linspace(min(reach) - pad, max(reach) + pad, 301)
    found = {}
    for name, width in (("curve", sd), ("curve_within", sd_within)):
        if width is not None and width > 0:
            found[name] = count * bins.width * np.exp(-0.5 * ((x - mean) / width) ** 2) / (width * np.sqrt(2 * np.pi))
    return x, found


def _lines(axes: Axes, window: SpecLimits | None, mean: float, points_wide: float) -> dict[str, Any]:
    """Upright lines of window, target and mean, their words above the axes side by side."""
    wanted = [("mean", mean, f"mean {number(mean, 4)}", "center")]
    limits = window or SpecLimits()
    names = [name for name in ("lower", "target", "upper") if getattr(limits, name) is not None]
    texts = matched(*(getattr(limits, name) for name in names)) if names else []
    for name, text in zip(names, texts, strict=True):
        words = {"lower": f"window from {text}", "target": f"aim {text}", "upper": f"window to {text}"}[name]
        line = "target" if name == "target" else f"window_{name}"
        wanted.append((line, getattr(limits, name), words, "boundary" if name == "target" else "window"))
    wanted.sort(key=lambda item: item[1])
    low, high = axes.get_xlim()
    found: dict[str, Any] = {"line_labels": []}
    # Rows of words: a label goes one row down when it would touch the one before it.
    ends = [-np.inf, -np.inf, -np.inf, -np.inf]
    for name, value, words, role in wanted:
        half = text_width(words, SMALL) / 2
        # Words stay inside the axes, clear of the numbers beside them, also where their line stands at the edge.
        at = min(max((value - low) / (high - low) * points_wide, half + 3), points_wide - half - 3)
        row = next((i for i, end in enumerate(ends) if at - half > end), len(ends) - 1)
        ends[row] = at + half + 6
        style: dict[str, Any] = {"color": COLORS[role], "linestyle": DASHES[role], "linewidth": LINE_WIDTHS[role]}
        found[name] = axes.axvline(value, ymax=0.93 - 0.055 * row, zorder=3, **style)
        where: dict[str, Any] = {"transform": axes.transAxes, "ha": "center", "va": "bottom"}
        note = put_text(axes, at / points_wide, 0.94 - 0.055 * row, words, **where)
        note.set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.6})
        found["line_labels"].append(note)
    return found


def _shares(axes: Axes, window: SpecLimits | None, below: int, above: int, count: int) -> dict[str, Any]:
    """How many lie outside, written on the side where they lie."""
    found = {}
    for name, out, limit, x, side in (
        ("below", below, window and window.lower, 0.01, "left"),
        ("above", above, window and window.upper, 0.99, "right"),
    ):
        if limit is not None and out:
            words = f"{out} {name} ({percent(out / count, 2)})"
            found[f"share_{name}"] = put_text(axes, x, 0.78, words, transform=axes.transAxes, ha=side, va="top", zorder=6)
            found[f"share_{name}"].set_bbox({"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 0.8})
    return found


def _curve_words(axes: Axes, sd: float, sd_within: float | None, unit: str) -> list[Any]:
    """Right of the axes: a piece of each curve and what it is."""
    found: list[Any] = []
    height = 0.6
    for width, words, dashes in ((sd, "total", DASHES["curve"]), (sd_within, "within", DASHES["limit"])):
        if width is None or not width > 0:
            continue
        style: dict[str, Any] = {"color": COLORS["curve"], "linestyle": dashes, "linewidth": LINE_WIDTHS["curve"]}
        found += axes.plot([1.02, 1.09], [height, height], transform=axes.transAxes, clip_on=False, **style)
        for i, line in enumerate(("normal curve,", f"sd {words}", f"{number(width, 3)} {unit}")):
            where: dict[str, Any] = {"transform": axes.transAxes, "ha": "left", "va": "top"}
            found.append(put_text(axes, 1.02, height - 0.02 - 0.055 * i, line, **where))
        height -= 0.28
    return found
