"""Which units keep the layer's window, and which places do. The unit average is judged, and each place where the plan says so."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm.distributions import student_t_quantile

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm.plan import Layer

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

TOLERANCE = 1e-9
"""Relative: an average so near to a limit is on it, and a limit is inside. Three readings of 0.88 must meet 0.8 * 1.1."""


@dataclass(frozen=True)
class SpotMiss:
    """A place of a unit whose mean lies outside its limits."""

    unit: str
    location: str
    value: float
    side: str
    """``below`` or ``above``."""


@dataclass(frozen=True)
class Place:
    """One place over all judged units: its spots, and their mean with the half width of its interval."""

    location: str
    values: Floats
    """Mean at this place of each judged unit; NaN where a unit lacks it."""
    count: int
    mean: float
    error: float
    """For independent units."""
    sd: float
    below: int
    """Spots under the window; the window is that of the unit average."""
    above: int


@dataclass(frozen=True)
class Conformance:
    """How the units of one layer keep its window.

    ``units`` are those judged, in order of production. ``spot_lower`` and ``spot_upper`` are None where the plan sets no limit
    for a single place.
    """

    judged: int
    below: tuple[str, ...]
    """Units whose average is under the window, in order of production."""
    above: tuple[str, ...]
    not_judged: tuple[str, ...]
    """Units without a full set of usable readings."""
    usual_share: float | None
    """Share of the baseline's units that miss; None without a baseline."""
    usual_judged: int
    spot_lower: float | None
    spot_upper: float | None
    spot_misses: tuple[SpotMiss, ...]
    units: tuple[str, ...]
    average: Floats
    """Of those units, as they were judged, in the working unit."""
    places: tuple[Place, ...]
    first_judged: int
    """Units with a usable first attempt."""
    first_kept: int
    """Of these, units that kept the window at their first attempt, untouched."""
    measured_again: tuple[str, ...]
    """Units with a later attempt: touched up, or only read again."""

    @property
    def first_pass_share(self) -> float:
        """Share of units that kept the window at their first attempt."""
        return self.first_kept / self.first_judged if self.first_judged else float("nan")

    @property
    def rework_share(self) -> float:
        """Share of the judged units that were measured again."""
        return len(self.measured_again) / self.judged if self.judged else float("nan")

    @property
    def first_pass_text(self) -> str:
        """Both shares in words; empty where no unit was measured again, so that the last attempt is the first."""
        if not self.measured_again or not self.first_judged:
            return ""
        return (
            f"first pass {100 * self.first_pass_share:.1f} % ({self.first_kept} of {self.first_judged}), "
            f"measured again {100 * self.rework_share:.1f} % ({len(self.measured_again)} of {self.judged})"
        )

    @property
    def missing_units(self) -> tuple[str, ...]:
        """Units whose average or any place is outside its limits, in order of production."""
        missed = {*self.below, *self.above, *(x.unit for x in self.spot_misses)}
        return tuple(unit for unit in self.units if unit in missed)

    @property
    def missing(self) -> int:
        """How many units those are."""
        return len(self.missing_units)

    @property
    def share(self) -> float:
        """Their share of the judged units."""
        return self.missing / self.judged if self.judged else float("nan")


def outside(values: Floats, lower: float | None, upper: float | None) -> tuple[Flags, Flags]:
    """Flags of values under and over a window; NaN is neither."""
    below = np.zeros(values.shape, dtype=bool) if lower is None else values < lower - TOLERANCE * abs(lower)
    above = np.zeros(values.shape, dtype=bool) if upper is None else values > upper + TOLERANCE * abs(upper)
    return below, above


def judge(layer: Layer, month: LayerUnits, base: LayerUnits | None, *, first: LayerUnits, confidence_level: float) -> Conformance:
    """Judge the last valid readings of each unit in ``month``; ``first`` are those of the first attempts."""
    low, high = outside(month.average, layer.lower, layer.upper)
    spot_lower, spot_upper = spot_limits(layer)
    usual = None
    if base is not None and len(base):
        usual = float(_misses(layer, base).mean())
    names = np.array(month.units, dtype=object)
    misses = []
    for side, flags in zip(("below", "above"), outside(month.spots, spot_lower, spot_upper), strict=True):
        for unit, place in np.argwhere(flags):
            value = float(month.spots[unit, place])
            misses.append((int(unit), int(place), SpotMiss(month.units[unit], month.locations[place], value, side)))
    return Conformance(
        judged=len(month),
        below=tuple(names[low]),
        above=tuple(names[high]),
        not_judged=tuple(unit for unit, _ in month.incomplete),
        usual_share=usual,
        usual_judged=len(base) if base is not None else 0,
        spot_lower=spot_lower,
        spot_upper=spot_upper,
        spot_misses=tuple(miss for _, _, miss in sorted(misses, key=lambda x: x[:2])),
        units=month.units,
        average=month.average.copy(),
        places=tuple(_places(layer, month, confidence_level)),
        first_judged=len(first),
        first_kept=len(first) - int(_misses(layer, first).sum()) if len(first) else 0,
        measured_again=month.repeated,
    )


def spot_limits(layer: Layer) -> tuple[float | None, float | None]:
    """Limits of a single place: the plan's shares of the window, None where there is none."""
    if layer.spot_share is None:
        return None, None
    low, high = layer.spot_share
    return (None if layer.lower is None else low * layer.lower, None if layer.upper is None else high * layer.upper)


def _misses(layer: Layer, units: LayerUnits) -> Flags:
    """Units whose average or any place is outside."""
    low, high = outside(units.average, layer.lower, layer.upper)
    spot_low, spot_high = outside(units.spots, *spot_limits(layer))
    return np.asarray(low | high | (spot_low | spot_high).any(axis=1))


def _places(layer: Layer, units: LayerUnits, confidence_level: float) -> Iterator[Place]:
    for place, values in zip(units.locations, units.spots.T, strict=True):
        there = values[~np.isnan(values)]
        if not len(there):
            continue
        sd = float(there.std(ddof=1)) if len(there) > 1 else float("nan")
        quantile = student_t_quantile(0.5 + 0.5 * confidence_level, len(there) - 1) if len(there) > 1 else float("nan")
        low, high = outside(there, layer.lower, layer.upper)
        error = float(quantile * sd / np.sqrt(len(there)))
        yield Place(place, values.copy(), len(there), float(there.mean()), error, sd, int(low.sum()), int(high.sum()))
