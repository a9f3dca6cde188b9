"""One layer before its lines are drawn: usual levels, changes, uneven units, and how its charts behave in quiet periods."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from steadyfilm._format import plural
from steadyfilm._review.alarms import QuietCharts
from steadyfilm._review.changes import Scan, find_changes
from steadyfilm._review.charting import StreamChart, chart_streams, limited_streams, usual_behavior
from steadyfilm._review.series import Usual, make_series, usual_levels
from steadyfilm._review.unevenness import Spreads, Uneven, uneven_levels, unit_spreads
from steadyfilm._review.words import Event, Finding, tell
from steadyfilm.errors import InvalidInputError

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm.baseline import Baseline
    from steadyfilm.plan import Layer, Plan

FEWEST_UNITS = 12
"""With fewer units no change can be told from chance."""


@dataclass(frozen=True)
class Studied:
    """What is known of a charted layer once its changes are found."""

    base: LayerUnits | None
    month: LayerUnits
    usual: Usual
    found: Baseline
    spreads: Spreads
    scan: Scan
    findings: tuple[Finding, ...]
    uneven: tuple[Uneven, ...]
    quiet: QuietCharts

    @property
    def first(self) -> int:
        """Index of the period's first unit behind those of the baseline."""
        return len(self.base) if self.base is not None else 0

    def charts(self, plan: Plan, multiple: float) -> tuple[StreamChart, ...]:
        """The charts with their lines at a multiple of sigma."""
        return chart_streams(self.found, self.spreads, self.base, self.month, self.usual, plan, self.quiet, multiple)


def study_layer(
    layer: Layer, base: LayerUnits | None, month: LayerUnits, plan: Plan, log: Sequence[Event], seed: int
) -> Studied | str:
    """Study a layer that is charted; in place of it the reason if it cannot be."""
    if why := _not_chartable(base, month):
        return why
    try:
        found = usual_behavior(base if base is not None else month, plan, held=base is not None)
    except InvalidInputError as error:
        return str(error)
    usual = usual_levels(base, month, plan)
    series = make_series(base, month, usual, plan)
    options, level = plan.changes, plan.confidence_level
    scan = find_changes(series, significance=options.significance, shortest=options.shortest, level=level, seed=seed)
    spreads = unit_spreads(base, month)
    uneven = uneven_levels(spreads, month, usual, significance=options.significance, confidence_level=level)
    unit = "" if plan.measure.unit == "unstated" else plan.measure.unit
    told = [tell(x, series, month, unit, level, log) for x in scan.changes]
    streams = limited_streams(found, usual, series.first) if scan.noise.sigma_unit > 0 else ()
    quiet = QuietCharts(usual, scan.noise, series.day, series.first, spreads, streams, plan.rules, seed)
    findings = tuple(x for x in told if abs(x.total) >= smallest_change(layer, plan))
    return Studied(base, month, usual, found, spreads, scan, findings, uneven, quiet)


def smallest_change(layer: Layer, plan: Plan) -> float:
    """Smallest change that is told."""
    if plan.changes.smallest is not None:
        return plan.changes.smallest
    return 0.1 * (layer.upper - layer.lower) if layer.lower is not None and layer.upper is not None else 0.0


def _not_chartable(base: LayerUnits | None, month: LayerUnits) -> str:
    """Why a layer has no charts; empty if it has."""
    source = base if base is not None else month
    name = "baseline" if base is not None else "set"
    if len(source) < FEWEST_UNITS:
        return f"too few units to set limits from: the {name} has {len(source)}, {FEWEST_UNITS} are needed"
    if len(month) < 2:
        return f"{plural(len(month), 'unit')}: nothing to chart"
    if np.ptp(source.average) <= 1e-9 * float(np.abs(source.average).max()):
        return f"all unit averages of the {name} are equal: there is no spread to set limits from"
    if len(month) >= FEWEST_UNITS and np.ptp(month.average) <= 1e-9 * float(np.abs(month.average).max()):
        return f"all {len(month)} unit averages are {month.average[0]:.4g}: a stuck gauge or copied readings, not a steady line"
    return ""
