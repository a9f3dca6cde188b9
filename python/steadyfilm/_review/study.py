"""One layer's unit averages studied: usual levels, changes, uneven units, charts; then its changes as findings.

In two steps, because all charts share one alarm budget and because what a change of a first coat means depends on the coats
over it.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural, with_unit
from steadyfilm._gauge_offset import OffsetDiagnosis, diagnose_offset
from steadyfilm._gauge_words import common_offset_text, gauge_in_part_text, zero_error_text
from steadyfilm._review.alarms import QuietCharts
from steadyfilm._review.changes import Found, Scan, find_changes
from steadyfilm._review.charting import SPREAD, StreamChart, chart_streams, limited_streams, usual_behavior
from steadyfilm._review.gauges import GaugeCheck, GaugeFault, on_shims, read_in
from steadyfilm._review.records import Event
from steadyfilm._review.search import Series
from steadyfilm._review.series import Usual, day_word, make_series, named_level, usual_levels, with_levels
from steadyfilm._review.unevenness import Spreads, Uneven, uneven_levels, unit_spreads
from steadyfilm._review.words import Beside, Finding, tell, units_of
from steadyfilm.chart_nested import nested_false_alarm
from steadyfilm.errors import InvalidInputError

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm._review.options import Options
    from steadyfilm.baseline import Baseline

Flags = NDArray[np.bool_]

FEWEST_UNITS = 12
"""With fewer units no change can be told from chance."""
LEAST_CRY_WOLF = 0.01
"""A plain chart that calls fewer good units than this does what it promises, about."""


@dataclass(frozen=True)
class Variation:
    """How unit averages vary when nothing happens, in the working unit."""

    sigma_unit: float
    sigma_day: float
    day_correlation: float
    between: str
    """What stands for a day: ``day``, the leading columns of the unit (a lot), or a number of units in a row."""
    source: str
    """``baseline`` or ``the same units``."""
    tested: int
    """Candidate changes that the search compares."""
    threshold: float
    """Twice the log likelihood ratio that a change must exceed, and for recorded stretches:"""
    named_threshold: float


@dataclass(frozen=True)
class StandingDifference:
    """How a value of a factor usually differs from the plain mean of that factor's values, in the working unit."""

    column: str
    value: str
    size: float
    error: float
    """Half width of its interval."""
    units: int
    new: bool
    """Not in the baseline: nothing usual is known of it."""


@dataclass(frozen=True)
class Studied:
    """What is known of a charted layer once its changes are found."""

    base: LayerUnits | None
    month: LayerUnits
    options: Options
    usual: Usual
    found: Baseline
    series: Series
    spreads: Spreads
    scan: Scan
    uneven: tuple[Uneven, ...]
    quiet: QuietCharts

    @property
    def first(self) -> int:
        """Index of the period's first unit behind those of the baseline."""
        return len(self.base) if self.base is not None else 0

    def charts(self, multiple: float) -> tuple[StreamChart, ...]:
        """The charts with their lines at a multiple of sigma."""
        return chart_streams(self.found, self.spreads, self.base, self.month, self.usual, self.options, self.quiet, multiple)

    def why_this_chart(self, repeats: int, repeat_variance: float) -> str:
        """Why unit averages are charted against their own variation; empty where units have one place, or little is gained.

        ``repeats`` are the readings at a place, each with ``repeat_variance`` of its own.
        """
        places = self.spreads.freedom + 1
        average = self.found.sigma_point
        if places < 2 or not average > 0.0:
            return ""
        inside = self.spreads.pooled
        between = math.sqrt(max(average**2 - inside**2 / places, 0.0))
        found = nested_false_alarm(
            unit=self.options.unit,
            sigma_unit=between,
            sigma_location=math.sqrt(max(inside**2 - repeat_variance / repeats, 0.0)),
            sigma_repeat=math.sqrt(repeat_variance),
            location_count=places,
            readings_per_location=repeats,
            location_rms=self.spreads.pattern_rms,
        )
        share = found.false_alarm_probability
        if share < LEAST_CRY_WOLF:
            return ""
        wolf = f"cry wolf at {number(100 * share, 2)} % of good units"
        subgroup = f"{places * repeats} readings" if repeats > 1 else f"{places} places"
        return (
            f"A plain X-bar/S chart with the {subgroup} of a unit as its subgroup would {wolf}: its limits know how the "
            f"{subgroup} of a unit differ, not how units do ({with_unit(between, self.options.unit, 2)})."
        )

    def standing(self) -> tuple[StandingDifference, ...]:
        """What has always differed."""
        return tuple(
            StandingDifference(x.column, x.value, size, error, int(x.units[self.first :].sum()), x.new)
            for x, (size, error) in zip(self.usual.levels, self.scan.levels, strict=True)
            if x.column
        )

    def variation(self) -> Variation:
        """How unit averages vary when nothing happens."""
        noise = self.scan.noise
        return Variation(
            sigma_unit=noise.sigma_unit,
            sigma_day=noise.sigma_day,
            day_correlation=noise.day_correlation,
            between=day_word(self.month, self.options),
            source="baseline" if self.base is not None else "the same units",
            tested=self.scan.tested,
            threshold=self.scan.threshold,
            named_threshold=self.scan.named_threshold,
        )


def study_layer(
    base: LayerUnits | None,
    month: LayerUnits,
    options: Options,
    *,
    seed: int,
    direct: bool = False,
    faults: Sequence[GaugeFault] = (),
) -> Studied | str:
    """Study a layer that is charted; in place of it the reason if it cannot be.

    In a ``direct`` reading the gauge's error stands as it is, so that the sessions of a gauge may explain a change; in the
    difference of two readings it cancels.
    """
    if why := _not_chartable(base, month):
        return why
    try:
        found = usual_behavior(base if base is not None else month, options, held=base is not None)
    except InvalidInputError as error:
        return str(error)
    usual = usual_levels(base, month, options)
    series = make_series(base, month, usual, options, sessions=direct)
    level = options.confidence_level
    scan = find_changes(series, significance=options.significance, shortest=options.shortest, level=level, seed=seed)
    if direct and (blurred := _blurred(scan, series, month, options, faults)):
        # What shims say of a few units must not pass for a change of many more: these units get a level of their own.
        series = with_levels(series, blurred)
        scan = find_changes(series, significance=options.significance, shortest=options.shortest, level=level, seed=seed)
    spreads = unit_spreads(base, month)
    uneven = uneven_levels(spreads, month, usual, significance=options.significance, confidence_level=level)
    streams = limited_streams(found, usual, series.first) if scan.noise.sigma_unit > 0 else ()
    # Layers vary independently of one another: each has random numbers of its own.
    own = zlib.crc32(month.layer.name.encode()) ^ seed
    quiet = QuietCharts(usual, scan.noise, series.day, series.first, spreads, streams, options.rules, own, time=month.time)
    return Studied(base, month, options, usual, found, series, spreads, scan, uneven, quiet)


def _blurred(
    scan: Scan, series: Series, month: LayerUnits, options: Options, faults: Sequence[GaugeFault]
) -> list[NDArray[np.bool_]]:
    """The units read in each fault of a gauge that is less than half of a change, and no change by itself."""
    if month.time is None:
        return []
    gauge = month.factors[options.gauge].tolist() if options.gauge else [""] * len(month)
    changed = [units_of(x, series) for x in scan.changes if x.change.scope == 0]
    out = []
    for fault in faults:
        off = read_in(fault, gauge, month.time)
        touched = [inside for inside in changed if (inside & off).any()]
        mostly = [2 * int((inside & off).sum()) >= int(inside.sum()) for inside in touched]
        if touched and not any(mostly):
            out.append(off)
    return out


@dataclass(frozen=True)
class Over:
    """A coat over a first coat: what it is called, which reading it is taken from, its study and charts."""

    name: str
    reading: str
    studied: Studied
    charts: tuple[StreamChart, ...]


@dataclass(frozen=True)
class Told:
    """The findings of one layer, and how many episodes of its charts no finding explains."""

    findings: tuple[Finding, ...]
    episodes: int
    unexplained: int


def tell_findings(
    studied: Studied,
    charts: Sequence[StreamChart],
    *,
    smallest: float,
    events: Sequence[Event] = (),
    direct: bool = False,
    over: Sequence[Over] = (),
    checks: Sequence[GaugeCheck] = (),
    faults: Sequence[GaugeFault] = (),
) -> Told:
    """The changes of a layer that are at least ``smallest``, each with the episodes it explains."""
    month, series, options = studied.month, studied.series, studied.options
    explained: set[tuple[str, int]] = set()

    def beside(found: Found, inside: Flags) -> Beside:
        own = _explained(found, inside, charts) - explained
        explained.update(own)
        quiet = _quiet_points(found, series, charts)
        about = Beside(gauge=_gauge(inside, month, options), episodes=len(own), quiet_points=quiet)
        whole = found.change.scope == 0 and found.change.shape == "step"
        return _offset(found, inside, about, month, options, over, checks, faults) if direct and whole else about

    findings = []
    for found in studied.scan.changes:
        before = set(explained)
        told = tell(found, series, month, options.unit, options.confidence_level, events, beside)
        if abs(told.total) >= smallest:
            findings.append(told)
        else:
            explained = before
    episodes = {(chart.stream, k) for chart in charts for k in range(len(chart.signals))}
    uneven = {level.value for level in studied.uneven}
    rough = {
        (chart.stream, k)
        for chart in charts
        for k, signal in enumerate(chart.signals)
        if signal.rule == SPREAD
        and any(level.value in uneven and level.units[studied.first + chart.at[signal.point]] for level in studied.usual.levels)
    }
    return Told(tuple(findings), len(episodes), len(episodes - explained - rough))


def _explained(found: Found, inside: Flags, charts: Sequence[StreamChart]) -> set[tuple[str, int]]:
    """Episodes of the averages whose points lie in a change and on its side."""
    side = "above" if found.size > 0 else "below"
    return {
        (chart.stream, k)
        for chart in charts
        for k, signal in enumerate(chart.signals)
        if signal.rule != SPREAD
        and signal.side in (side, "both")
        and inside[chart.at[max(0, signal.point - signal.length + 1) : signal.point + 1]].any()
    }


def _quiet_points(found: Found, series: Series, charts: Sequence[StreamChart]) -> int:
    """Most points in a row without an episode since the end of a change, over the charts of its streams together."""
    mine = series.scopes[found.change.scope].units[series.first :]
    begun = {int(chart.at[x.point]) for chart in charts for x in chart.signals if x.rule != SPREAD}
    run = best = 0
    for i in range(found.change.end, len(mine)):
        if mine[i]:
            run = 0 if i in begun else run + 1
            best = max(best, run)
    return best


def _gauge(inside: Flags, month: LayerUnits, options: Options) -> str:
    names = set(month.factors[options.gauge][inside]) if options.gauge else set()
    return names.pop() if len(names) == 1 else ""


def _offset(
    found: Found,
    inside: Flags,
    about: Beside,
    month: LayerUnits,
    options: Options,
    over: Sequence[Over],
    checks: Sequence[GaugeCheck],
    faults: Sequence[GaugeFault],
) -> Beside:
    """A step of all units of a direct reading: gauge or film, judged with the coats over it and the log of checks."""
    name = month.layer.name
    gauge = named_level(options.gauge, about.gauge) if about.gauge else "gauge"
    error = found.error / NormalDist().inv_cdf(0.5 + 0.5 * options.confidence_level)
    given: dict[str, Any] = {"unit": options.unit, "gauge": gauge, "layer": name}
    given |= {"primer_shift": found.size, "primer_uncertainty": error}
    shims = None
    if month.time is not None and (checks or faults):
        read_with = month.factors[options.gauge][inside].tolist() if options.gauge else [""] * int(inside.sum())
        shims = on_shims(checks, faults, read_with, month.time[inside])
    if shims is not None:
        given |= {"shim_deviation": shims.deviation, "shim_uncertainty": shims.uncertainty}
    units = {month.units[i] for i in np.flatnonzero(inside)}
    still, alone = [], diagnose_offset(**given)
    judged = alone
    for coat in over:
        shift = _shift(coat, units)
        if shift is None:
            continue
        # What a coat builds does not hang on the one below: their errors are apart, and the total has both.
        total = math.hypot(error, shift[1])
        with_it = diagnose_offset(
            **given,
            total_shift=found.size + shift[0],
            total_uncertainty=total,
            correlation=min(1.0, error / total) if total > 0.0 else 0.0,
            upper=coat.name,
        )
        if with_it.upper_moved:
            # Only standards can tell a gauge's error from a film whose coats both moved.
            if alone.verdict != "zero error" or shims is None or shims.fault is None:
                return about
            still.append(f"{coat.name} over it moved too, which no error of a gauge does")
            continue
        still.append(f"{coat.name} over it did not move, {coat.reading} did")
        # A coat known too poorly to say whether the total moved says no more than the first coat alone.
        judged = with_it if with_it.signature == "common offset" else judged
    fault = shims.fault if shims is not None else None
    session = found.change.named is not None and about.gauge != ""
    if not still and not session and fault is None:
        return about
    return _judged(judged, about, still, fault, options.unit)


def _judged(found: OffsetDiagnosis, about: Beside, still: Sequence[str], fault: GaugeFault | None, unit: str) -> Beside:
    """A diagnosed offset beside its change."""
    kind, short = "common offset", common_offset_text(found.made.options["gauge"], found.made.options["layer"])
    if found.verdict == "zero error" and fault is not None:
        kind, short = "gauge fault", zero_error_text(fault.words(unit))
    elif found.verdict == "gauge in part" and fault is not None:
        kind, short = "gauge in part", gauge_in_part_text(fault.words(unit))
    elif found.verdict == "film":
        return replace(about, hint="; ".join([*still, found.film_words()]))
    else:
        fault = None
    return replace(about, kind=kind, hint="; ".join([*still, short]), short=short, fault=fault)


def _shift(over: Over, units: set[str]) -> tuple[float, float] | None:
    """How far a coat lies from its usual level on these units, with its standard uncertainty; None if it has nothing to say."""
    names = over.studied.month.units
    gaps = [
        float(value - chart.lines.center)
        for chart in over.charts
        for i, value in zip(chart.at, chart.values, strict=True)
        if names[i] in units
    ]
    if not gaps or not math.isfinite(sum(gaps)):
        return None
    noise = over.studied.scan.noise
    return sum(gaps) / len(gaps), math.hypot(noise.sigma_unit / math.sqrt(len(gaps)), noise.sigma_day)


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
