"""What a study of unit averages is asked: which columns do what, and how sure and how large a change must be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from steadyfilm.run_rules import BEYOND_LIMITS

if TYPE_CHECKING:
    from steadyfilm.plan import Plan


class Measured(Protocol):
    """What unit averages belong to."""

    @property
    def name(self) -> str:
        """How it is called."""


@dataclass(frozen=True)
class MeasuredName:
    """A name alone."""

    name: str


@dataclass(frozen=True)
class LineRules:
    """Rules of the charts, and where their lines stand; as in a plan's ``[rules]``."""

    points: tuple[str, ...] = BEYOND_LIMITS
    smoothing: float = 0.2
    false_calls_per_month: float = 1.0
    sigma_multiple: float | None = None
    ewma_multiple: float | None = None
    longest_gap: timedelta | None = None
    """A longer pause between two points of one chart breaks moving ranges, runs and the EWMA; None: no pause does."""

    def breaks(self, time: NDArray[np.datetime64] | None) -> NDArray[np.bool_]:
        """Where a pause before a point breaks a chart whose points have these times."""
        found = np.zeros(0 if time is None else len(time), dtype=bool)
        if time is not None and self.longest_gap is not None:
            found[1:] = np.diff(time) > np.timedelta64(self.longest_gap)
        return found


@dataclass(frozen=True)
class Options:
    """Columns, rules and confidence of one study, free of any file's layout."""

    unit: str = ""
    """Unit of measure of the values; empty if unstated."""
    streams: tuple[str, ...] = ()
    adjust: tuple[str, ...] = ()
    candidates: tuple[str, ...] = ()
    gauge: str = ""
    """Column that names the gauge; empty without one."""
    name_columns: tuple[str, ...] = ("unit",)
    """Columns that together name a painted unit."""
    rules: LineRules = LineRules()
    significance: float = 0.01
    shortest: int = 4
    confidence_level: float = 0.95


def options_of(plan: Plan) -> Options:
    """What a plan asks."""
    return Options(
        unit="" if plan.measure.unit == "unstated" else plan.measure.unit,
        streams=plan.streams,
        adjust=plan.adjust,
        candidates=plan.candidates,
        gauge=plan.columns.gauge or "",
        name_columns=plan.columns.unit,
        rules=LineRules(
            points=plan.rules.points,
            smoothing=plan.rules.smoothing,
            false_calls_per_month=plan.rules.false_calls_per_month,
            sigma_multiple=plan.rules.sigma_multiple,
            ewma_multiple=plan.rules.ewma_multiple,
            longest_gap=None if plan.rules.longest_gap_hours is None else timedelta(hours=plan.rules.longest_gap_hours),
        ),
        significance=plan.changes.significance,
        shortest=plan.changes.shortest,
        confidence_level=plan.confidence_level,
    )
