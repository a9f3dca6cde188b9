"""Which units keep the layer's window. The unit average is judged; limits belong to the window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm.plan import Layer

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

TOLERANCE = 1e-9
"""Relative: an average so near to a limit is on it, and a limit is inside. Three readings of 0.88 must meet 0.8 * 1.1."""


@dataclass(frozen=True)
class Conformance:
    """How the units of one layer keep its window."""

    judged: int
    below: tuple[str, ...]
    """Units under the window, in order of production."""
    above: tuple[str, ...]
    below_average: tuple[float, ...]
    """Of those units, as they were judged, in the working unit."""
    above_average: tuple[float, ...]
    not_judged: tuple[str, ...]
    """Units without a full set of usable readings."""
    usual_share: float | None
    """Share of the baseline's units outside; None without a baseline."""
    usual_judged: int

    @property
    def missing(self) -> int:
        """Units outside the window."""
        return len(self.below) + len(self.above)

    @property
    def share(self) -> float:
        """Share of the judged units outside the window."""
        return self.missing / self.judged if self.judged else float("nan")


def outside(values: Floats, lower: float | None, upper: float | None) -> tuple[Flags, Flags]:
    """Flags of values under and over a window."""
    below = np.zeros(len(values), dtype=bool) if lower is None else values < lower - TOLERANCE * abs(lower)
    above = np.zeros(len(values), dtype=bool) if upper is None else values > upper + TOLERANCE * abs(upper)
    return below, above


def judge(layer: Layer, month: LayerUnits, base: LayerUnits | None) -> Conformance:
    """Judge the last valid readings of each unit."""
    below, above = outside(month.average, layer.lower, layer.upper)
    usual = None
    if base is not None and len(base):
        low, high = outside(base.average, layer.lower, layer.upper)
        usual = float((low | high).mean())
    names = np.array(month.units, dtype=object)
    return Conformance(
        judged=len(month),
        below=tuple(names[below]),
        above=tuple(names[above]),
        below_average=tuple(month.average[below].tolist()),
        above_average=tuple(month.average[above].tolist()),
        not_judged=tuple(unit for unit, _ in month.incomplete),
        usual_share=usual,
        usual_judged=len(base) if base is not None else 0,
    )
