"""Bars of a histogram: their width by a named rule, their edges such that none straddles a window limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadyfilm._format import number
from steadyfilm.limits import SpecLimits

MOST_BARS = 120


@dataclass(frozen=True)
class Bins:
    """Edges, counts, and the rule in words. ``outside`` is true for bars that lie outside the window as a whole."""

    edges: np.ndarray
    counts: np.ndarray
    outside: np.ndarray
    rule: str

    @property
    def width(self) -> float:
        """Width of a bar, in the unit of the values."""
        return float(self.edges[1] - self.edges[0])


def make_bins(values: np.ndarray, *, window: SpecLimits | None = None, resolution: float | None = None, unit: str = "") -> Bins:
    """Bars by Freedman and Diaconis (1981): 2 IQR n^(-1/3) wide, then fitted to the window or to the gauge step.

    With a window, its limits are edges of bars (both if the window is two-sided, by adjusting the width). With a ``resolution``,
    bars hold whole steps of the gauge and edges lie half-way between two displayed values.
    """
    wish, rule = _wish(values)
    low, high = float(values.min()), float(values.max())
    wish = max(wish, (high - low) / MOST_BARS)
    lower = None if window is None else window.lower
    upper = None if window is None else window.upper
    if resolution is not None:
        anchor, width = _gauge_steps(wish, resolution, lower, upper)
        rule = f"whole gauge steps of {number(resolution, 4)} {unit}".rstrip()
    elif lower is not None and upper is not None and low < high:
        anchor, width = lower, (upper - lower) / max(1, round((upper - lower) / wish))
    elif low == high:
        anchor, width = low - wish / 2, wish
    else:
        anchor = lower if lower is not None else upper if upper is not None else math.floor(low / wish) * wish
        width = wish
    # One more on each side than needed; empty ones are taken off again below, which spares all questions of rounding.
    first, last = math.floor((low - anchor) / width) - 1, math.ceil((high - anchor) / width) + 1
    edges = anchor + width * np.arange(first, last + 1)
    for limit in (lower, upper):
        if limit is not None and resolution is None:
            edges[np.isclose(edges, limit, rtol=0, atol=width * 1e-6)] = limit  # a limit is met exactly or not at all
    place = np.searchsorted(edges, values, side="right") - 1
    if upper is not None and resolution is None:
        place[values == upper] = np.searchsorted(edges, upper, side="left") - 1  # on the limit is inside
    counts = np.bincount(place, minlength=len(edges) - 1)
    filled = np.flatnonzero(counts)
    edges, counts = edges[filled[0] : filled[-1] + 2], counts[filled[0] : filled[-1] + 1]
    slack = 0.0 if resolution is None else 1e-6 * width
    outside = np.zeros(len(counts), dtype=bool)
    if lower is not None:
        outside |= edges[1:] <= lower + slack
    if upper is not None:
        outside |= edges[:-1] >= upper - slack
    return Bins(edges, counts, outside, rule)


def _wish(values: np.ndarray) -> tuple[float, str]:
    quarter, three_quarters = np.quantile(values, [0.25, 0.75])
    width = 2.0 * float(three_quarters - quarter) * len(values) ** (-1 / 3)
    if width > 0:
        return width, "rule of Freedman and Diaconis"
    spread = float(values.max() - values.min())
    if spread > 0:
        return spread / math.ceil(math.log2(len(values)) + 1), "rule of Sturges, since half of the values are equal"
    return abs(float(values[0])) * 0.01 or 1.0, "one bar, since all values are equal"


def _gauge_steps(wish: float, resolution: float, lower: float | None, upper: float | None) -> tuple[float, float]:
    """Anchor and width: whole steps, as many as fit the wish; if possible a divisor of the steps inside the window."""
    steps = max(1, round(wish / resolution))
    if lower is not None and upper is not None:
        inside = round((upper - lower) / resolution) + 1
        divisor = min((k for k in range(1, inside + 1) if inside % k == 0), key=lambda k: (abs(math.log(k / steps)), k))
        if 0.5 <= divisor / steps <= 2:
            steps = divisor
    start = lower if lower is not None else 0.0
    first = round(start / resolution) if upper is None or lower is not None else round(upper / resolution) + 1
    return (first - 0.5) * resolution, steps * resolution
