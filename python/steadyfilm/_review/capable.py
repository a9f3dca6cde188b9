"""Capability at the level that is judged: unit averages against their window, spread from neighbors inside one stream.

A moving range joins two units of one stream in a row. None is taken from one stream to another, over a unit without a usable
average, or over a pause that the plan calls a gap; what a stream differs from another by is no variation between neighbors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._review.series import stream_labels
from steadyfilm.capability import Capability, capability

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm._review.options import Options
    from steadyfilm.limits import SpecLimits

ROUNDING = 1e-9
"""Averages that differ by less, relative to their size, are equal."""


@dataclass(frozen=True)
class Stretches:
    """Units stream after stream, in order of production, and which of them neighbors may be joined in."""

    order: NDArray[np.intp]
    stretch: NDArray[np.intp]
    """Number of the unbroken stretch of each unit, along ``order``."""

    @property
    def ranges(self) -> int:
        """Moving ranges of two that there are."""
        return int((self.stretch[1:] == self.stretch[:-1]).sum())


def stretches(units: LayerUnits, options: Options) -> Stretches:
    """Where units follow one another in one stream without a break."""
    streams = stream_labels(units, options.streams)
    code = np.unique(streams, return_inverse=True)[1] if len(units) else np.empty(0, dtype=np.intp)
    order = np.argsort(code, kind="stable")
    new = np.ones(len(units), dtype=bool)
    new[1:] = (code[order][1:] != code[order][:-1]) | _lost_between(units, streams, options)[order][1:]
    if units.time is not None:
        new[1:] |= options.rules.breaks(units.time[order])[1:]
    return Stretches(order.astype(np.intp), np.cumsum(new).astype(np.intp) - 1)


def _lost_between(units: LayerUnits, streams: NDArray[np.object_], options: Options) -> NDArray[np.bool_]:
    """Whether a unit of the same stream without a usable average lies before each unit, after the one before it."""
    found = np.zeros(len(units), dtype=bool)
    if not len(units.lost):
        return found
    for lost, name in zip(units.lost.before, stream_labels(units.lost, options.streams), strict=True):
        later = np.flatnonzero(streams[lost:] == name)
        if len(later):
            found[lost + later[0]] = True
    return found


def unit_capability(
    units: LayerUnits, window: SpecLimits, options: Options, *, stable: bool | None
) -> tuple[Capability | None, int]:
    """The indices of unit averages, and how many moving ranges their within sigma rests on; None where all are equal."""
    enough = len(units) >= 2 and np.ptp(units.average) > ROUNDING * float(np.abs(units.average).max())
    if not enough:
        return None, 0
    joined = stretches(units, options)
    found = capability(
        units.average[joined.order],
        unit=options.unit,
        lower=window.lower,
        upper=window.upper,
        target=window.target,
        period=[str(number) for number in joined.stretch],
        stable=stable,
        confidence_level=options.confidence_level,
    )
    return found, joined.ranges
