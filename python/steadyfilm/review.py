"""A month of film readings against its plan: which units miss, is the line stable, what moved, since when, by how much.

Three answers that are never blended: conformance (does a unit keep its window), stability (does the line behave as one
process), measurability (can the gauge tell; judged where the plan names a gauge study).
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._files import Cells, read_cells
from steadyfilm._format import number, plural, with_unit
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm._review.again import PlaceAgain, places_again
from steadyfilm._review.alarms import USUAL_MULTIPLE, AlarmBudget, months_of, set_lines
from steadyfilm._review.attempts import only_later_attempts
from steadyfilm._review.averages import LayerUnits, other_places, repeat_spread, unit_averages, without_copies
from steadyfilm._review.capable import unit_capability
from steadyfilm._review.charting import StreamChart, why_without_limits
from steadyfilm._review.conformance import Conformance, judge
from steadyfilm._review.costs import LayerCost, layer_costs
from steadyfilm._review.gather import Readings, SetAside, event_log, gather, gauge_log, short_of_readings
from steadyfilm._review.gauges import GaugeCheck, GaugeFault, gauge_faults
from steadyfilm._review.measured import with_gauge_study
from steadyfilm._review.options import Options, options_of
from steadyfilm._review.records import Event
from steadyfilm._review.screening import Screening, screen_readings, screen_text, screening
from steadyfilm._review.series import stream_labels
from steadyfilm._review.study import Over, StandingDifference, Studied, Told, Variation, study_layer, tell_findings
from steadyfilm._review.unevenness import Uneven
from steadyfilm._review.verdict import verdict_lines
from steadyfilm._review.words import Finding
from steadyfilm.capability import Capability
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

if TYPE_CHECKING:
    from steadyfilm.plan import Layer, Plan

__all__ = ["LayerReview", "Review", "StandingDifference", "Variation", "review_files", "review_readings"]

SEED = 20_250_301
"""Of the simulations behind thresholds and false-alarm figures; fixed, so that a review can be repeated."""
MEASURABILITY = "Whether the gauge can tell is not judged here: that needs a gauge study."


@dataclass(frozen=True)
class LayerReview:
    """One layer's answers. Arrays have one element a unit, in order of production, from each unit's first attempt."""

    name: str
    reading: str
    minus: str
    window: SpecLimits
    miss: str
    charted: bool
    units: NDArray[np.object_]
    average: NDArray[np.float64]
    stream: NDArray[np.object_]
    time: NDArray[np.datetime64] | None
    baseline_units: int
    conformance: Conformance | None
    capability: Capability | None
    """Of the unit averages of first attempts; Cp and Cpk are refused for a layer that is not stable."""
    moving_ranges: int
    """How many ranges of two neighbors in one stream are behind the within sigma of ``capability``."""
    charts: tuple[StreamChart, ...]
    why_this_chart: str
    """Why unit averages are charted against their own variation, and what a plain X-bar/S chart would do; may be empty."""
    unexplained: int
    """Episodes of the charts that no finding explains; listed, not disqualifying as long as chance brings as many."""
    variation: Variation | None
    standing: tuple[StandingDifference, ...]
    stable: bool | None
    """None where it could not be judged."""
    why: str
    """What stability rests on, or why it could not be judged."""

    @property
    def stability_word(self) -> str:
        """The answer in short; without a baseline, quiet units prove no more than that nothing stands out."""
        if self.stable and not self.baseline_units:
            return "no change stands out"
        return {True: "stable", False: "not stable", None: "not judged"}[self.stable]

    @property
    def within_text(self) -> str:
        """What the within sigma of the capability rests on."""
        found = self.capability
        if found is None or found.sigma_within is None:
            return f"{self.name}: no two units of one stream follow one another"
        sigma = with_unit(found.sigma_within, found.made.unit, 3)
        freedom = found.index(
            "cp" if self.window.lower is not None and self.window.upper is not None else "cpk"
        ).degrees_of_freedom
        worth = "" if freedom is None else f", worth {number(freedom, 3)} degrees of freedom"
        return f"{self.name}: {sigma} from {plural(self.moving_ranges, 'moving range')} inside streams{worth}"


@dataclass(frozen=True, eq=False, repr=False)
class Review(Result):
    """A reviewed set of readings. ``verdict`` says it in at most five lines; lengths are in ``made.unit``."""

    title: str
    verdict: tuple[str, ...]
    readings_used: int
    readings_set_aside: int
    share_set_aside: float
    alarms: AlarmBudget | None
    """How far out the lines of all charts stand, and what they cost in false calls; None without charts."""
    layers: tuple[LayerReview, ...]
    findings: tuple[Finding, ...]
    uneven: tuple[Uneven, ...]
    gauge_faults: tuple[GaugeFault, ...]
    """From the gauge verification log; empty without one."""
    set_aside: tuple[SetAside, ...]
    screening: Screening
    """Patterns in the readings that honest ones seldom show, and what each screen says falsely."""
    incomplete: tuple[str, ...]
    remeasured: tuple[str, ...]
    notes: tuple[str, ...]
    measurability: str
    inputs: dict[str, str] = field(default_factory=dict)
    """SHA-256 of each file read."""
    costs: tuple[LayerCost, ...] = ()
    """What film beyond the aim costs; empty unless the plan gives paint and painted area."""
    places_again: tuple[PlaceAgain, ...] = ()
    """Places of units measured again that were out of the usual at first."""

    @property
    def stable(self) -> bool | None:
        """Whether every charted layer is; None where none could be judged."""
        judged = [layer.stable for layer in self.layers if layer.stable is not None]
        return all(judged) if judged else None

    @property
    def has_baseline(self) -> bool:
        """Whether limits come from a baseline; otherwise from the units under review themselves."""
        return any(layer.baseline_units for layer in self.layers)

    def sentence(self) -> str:
        return self.verdict[0]

    def _columns(self) -> dict[str, Any]:
        rows: list[tuple[Any, ...]] = []
        for layer in self.layers:
            adjusted = np.full(len(layer.units), math.nan)
            signals: list[list[str]] = [[] for _ in layer.units]
            for chart in layer.charts:
                adjusted[chart.at] = chart.values
                for signal in chart.signals:
                    signals[chart.at[signal.point]].append(signal.rule)
            missed = misses_in_words(layer.conformance)
            for i, unit in enumerate(layer.units):
                time = "" if layer.time is None else str(layer.time[i].astype("datetime64[m]"))
                rows.append(
                    (
                        layer.name,
                        unit,
                        time,
                        layer.stream[i],
                        float(layer.average[i]),
                        float(adjusted[i]),
                        missed.get(unit, ""),
                        ", ".join(signals[i]),
                    )
                )
        names = ("layer", "unit", "time", "stream", "average", "charted", "outside_window", "signals")
        return {name: [row[k] for row in rows] for k, name in enumerate(names)}

    def explain(self) -> Explanation:
        given = self.made.options
        multiple = self.alarms.sigma_multiple if self.alarms is not None else math.nan
        sigma = "standard deviation of baseline units about the additive usual levels, streams pooled"
        if not self.has_baseline:
            sigma = "mean moving range over d2 of these same units about the additive usual levels, inside streams, pooled"
        origin = "the baseline, held fixed" if self.has_baseline else "these same units"
        gap = given["longest_gap_hours"]
        pauses = "no pause breaks moving ranges, runs or the EWMA"
        if gap is not None:
            pauses = f"moving ranges, runs and the EWMA end at a pause of more than {number(gap)} hours"
        steps = [
            Step(
                "share_set_aside",
                "set_aside / (used + set_aside)",
                {"set_aside": self.readings_set_aside, "used": self.readings_used},
                self.share_set_aside,
            )
        ]
        for layer in self.layers:
            if layer.conformance is not None and layer.conformance.judged:
                found = layer.conformance
                inputs = {"outside": float(found.missing), "judged": float(found.judged)}
                steps.append(Step(_step_name("share_outside_window", layer.name), "outside / judged", inputs, found.share))
            for chart in layer.charts:
                if math.isfinite(chart.sigma):
                    inputs = {"center": chart.lines.center, "multiple": multiple, "sigma": chart.sigma}
                    name = _step_name("upper_limit", layer.name, chart.stream)
                    steps.append(Step(name, "center + multiple * sigma", inputs, chart.lines.upper))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "unit average": "mean over locations of the mean of each location's readings",
                "derived layer": "difference of location means at the same unit and location",
                "charts and capability": f"first attempt of each unit; limits from {origin}",
                "window": "last attempt of each unit; an average or place within 1e-9 (relative) of a limit is on it",
                "lines": "no charts" if self.alarms is None else self.alarms.sentence,
                "sigma": sigma,
                "gaps": pauses,
                "within sigma of Cp and Cpk": "; ".join(x.within_text for x in self.layers if x.capability is not None) or "none",
                "changes": (
                    f"generalized least squares; each search's false alarm chance {given['significance']:g} a layer, "
                    "by simulation of quiet months"
                ),
                "patterns in the readings": "; ".join(f"{run.name}: {screen_text(run)}" for run in self.screening.runs),
                "confidence_level": f"{given['confidence_level']:g}",
            },
            sources=("cpp/methods/review.md",),
        )


def _step_name(*words: str) -> str:
    """One name, also where layers and streams are called by several words.

    >>> _step_name("upper_limit", "clear coat", "booth 2 / A")
    'upper_limit_clear_coat_booth_2_A'
    """
    return "_".join(re.sub(r"\W+", "_", word) for word in words)


def misses_in_words(found: Conformance | None) -> dict[str, str]:
    """What each unit outside its limits misses: ``below`` or ``above`` for the average, places by name."""
    said: dict[str, list[str]] = {}
    if found is not None:
        for side, units in (("below", found.below), ("above", found.above)):
            for unit in units:
                said.setdefault(unit, []).append(side)
        for miss in found.spot_misses:
            said.setdefault(miss.unit, []).append(f"{miss.location} {miss.side}")
    return {unit: ", ".join(words) for unit, words in said.items()}


def review_files(readings: str | Path, plan: Plan, *, checks: str | Path | None = None) -> Review:
    r"""Review a file of readings; baseline, event log and gauge checks are the files that the plan names.

    Parameters
    ----------
    readings : str or Path
        CSV, Parquet or Excel, written as the plan's ``[file]`` says.
    plan : Plan
        See `steadyfilm.plan.load_plan`.
    checks : str or Path, optional
        Gauge verification log, in place of the file that the plan names; columns as its ``[gauge_checks]`` says.

    Raises
    ------
    DataProblemsError
        A file that cannot be used; every problem with line, column, value and way out.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from steadyfilm.plan import read_plan
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> _ = (folder / "film.csv").write_text("serial;film\nA;2,1\nB;2,4\n")
    >>> plan = read_plan('''
    ... columns = {unit = "serial", value = "film"}
    ... file = {separator = ";", decimal = ","}
    ... measure = {unit = "mil"}
    ... layers = [{name = "film", lower = 2.0, upper = 2.2, miss = "rework"}]
    ... ''')
    >>> review_files(folder / "film.csv", plan).verdict[1]
    '1 unit to rework, film outside 2.0 to 2.2 mil: B above (50.0 % of 2).'
    """
    month = read_cells(readings, **plan.reading_options())
    base = events = log = painted = None
    if plan.baseline is not None and plan.baseline.readings is not None:
        base = read_cells(plan.path(plan.baseline.readings), **plan.reading_options(plan.baseline))
    if plan.events is not None:
        events = read_cells(plan.path(plan.events.file), **plan.reading_options(plan.events))
    if checks is not None:
        plan = plan.with_gauge_checks(checks)
    if plan.gauge_checks is not None:
        log = read_cells(plan.path(plan.gauge_checks.file), **plan.reading_options(plan.gauge_checks))
    if plan.screens.painted is not None:
        painted = read_cells(plan.path(plan.screens.painted), **plan.reading_options(plan.screens))
    found = review_readings(month, plan, baseline=base, events=events, checks=log, painted=painted)
    return with_gauge_study(found, plan)


def review_readings(
    readings: Any, plan: Plan, *, baseline: Any = None, events: Any = None, checks: Any = None, painted: Any = None
) -> Review:
    """Review a table of readings against a plan.

    Parameters
    ----------
    readings : table
        One row a reading, with the columns that the plan names (pandas, polars, Arrow, mapping of columns).
    plan : Plan
        See `steadyfilm.plan.read_plan`.
    baseline : table, optional
        Readings of a usual period, the same columns; limits come from it. Needed if the plan names a file for it.
    events : table, optional
        Event log with the columns that the plan's ``[events]`` names.
    checks : table, optional
        Gauge verification log with the columns that the plan's ``[gauge_checks]`` names.
    painted : table, optional
        Units that were painted, with the plan's columns of the unit; those without readings are told.

    Raises
    ------
    DataProblemsError
        Columns that are not there, values that are no numbers, more rows unusable than usable.

    Examples
    --------
    >>> from steadyfilm.plan import read_plan
    >>> plan = read_plan('''
    ... columns = {unit = "serial", value = "film"}
    ... measure = {unit = "mil"}
    ... layers = [{name = "film", lower = 2.0, upper = 2.2}]
    ... ''')
    >>> found = review_readings({"serial": ["A", "A", "B", "B"], "film": [2.1, 2.1, 2.4, 2.3]}, plan)
    >>> found.verdict[1]
    'Film: 1 of 2 units misses 2.0 to 2.2 mil (50 %): B above.'
    """
    if baseline is None and plan.baseline is not None and plan.baseline.readings is not None:
        raise InvalidInputError(
            f"the plan learns the usual behavior from '{plan.baseline.readings}'; give that table as baseline=...",
            argument="baseline",
        )
    found, copies = without_copies(gather(readings, plan))
    first, last = unit_averages(found, plan, "first"), unit_averages(found, plan, "last")
    notes = [*found.notes, *short_of_readings(found), *only_later_attempts(found)]
    base_first: tuple[LayerUnits | None, ...] = (None,) * len(first)
    base_last: tuple[LayerUnits | None, ...] = (None,) * len(first)
    learned = found
    if baseline is not None:
        usual, usual_copies = without_copies(gather(baseline, plan))
        learned = usual
        base_first, base_last = unit_averages(usual, plan, "first"), unit_averages(usual, plan, "last")
        if both := set(usual.units) & set(found.units):
            notes.append(
                f"{plural(len(both), 'unit')} in the readings and in the baseline, {min(both)} for one: is it the right file?"
            )
        if left := len(usual.set_aside) + len(usual_copies):
            notes.append(f"baseline: {plural(left, 'reading')} set aside")
    elif plan.baseline is not None and plan.baseline.until is not None:
        base_first, first = _split(first, plan)
        base_last, last = _split(last, plan)
    notes += other_places(base_first, first)
    log = event_log(events, plan, notes) if events is not None and plan.events is not None else ()
    logged = gauge_log(checks, plan, notes) if checks is not None else ()
    base_first, base_last = (tuple(x if x is not None and len(x) else None for x in part) for part in (base_first, base_last))
    options = options_of(plan)
    worth = [x for x in (smallest_change(layer, plan) for layer in plan.layers) if x > 0.0]
    faults = gauge_faults(logged, min(worth, default=0.0))
    studied = [
        study_layer(base_first[k], first[k], options, seed=SEED, direct=layer.minus is None, faults=faults)
        if layer.chart
        else "not charted"
        for k, layer in enumerate(plan.layers)
    ]
    known = [x for x in studied if isinstance(x, Studied)]
    alarms = set_lines([x.quiet for x in known], options.rules, months_of([x.month.time for x in known]))
    told = _tell(plan, studied, alarms, log, logged, faults)
    layers = [
        _review_layer(layer, studied[k], told[k], base_first[k], first[k], base_last[k], last[k], learned, plan)
        for k, layer in enumerate(plan.layers)
    ]
    findings = [finding for _, x in told for finding in x.findings]
    uneven = [rough for x in known for rough in x.uneven]
    notes += [f"{x.month.layer.name}, streams without limits: {why}" for x in known if (why := why_without_limits(x.found))]
    if alarms is not None and not alarms.kept:
        notes.append(alarms.sentence)
    layers = _with_capability(layers, first, options)
    aside = tuple(sorted([*found.set_aside, *copies], key=lambda x: x.line))
    incomplete = tuple(f"{unit}: {layer.layer.name}, {what}" for layer in first for unit, what in layer.incomplete)
    findings.sort(key=lambda x: -_weight(x, plan))
    used = len(found.value)
    inputs = {f"plan: {plan.name}": plan.sha256} if plan.sha256 else {}
    given = {"readings": readings, "baseline": baseline, "events": events, "gauge checks": checks, "painted units": painted}
    inputs |= {f"{role}: {x.file}": x.sha256 for role, x in given.items() if isinstance(x, Cells)}
    remeasured = tuple(dict.fromkeys(unit for layer in first for unit in layer.repeated))
    again = places_again(plan.layers, base_first, first, last, options)
    screened = screening(screen_readings(readings, plan, baseline=baseline, painted=painted), readings)
    return Review(
        made=_made(readings, plan, used),
        title=plan.title,
        verdict=verdict_lines(layers, findings, uneven, aside, screened, incomplete, remeasured, again, alarms, faults, plan),
        readings_used=used,
        readings_set_aside=len(aside),
        share_set_aside=len(aside) / (used + len(aside)),
        alarms=alarms,
        layers=tuple(layers),
        findings=tuple(findings),
        uneven=tuple(uneven),
        gauge_faults=faults,
        set_aside=aside,
        screening=screened,
        incomplete=incomplete,
        remeasured=remeasured,
        notes=tuple(notes),
        measurability=MEASURABILITY,
        inputs=inputs,
        costs=layer_costs(studied, first, plan, findings),
        places_again=again,
    )


def _made(readings: Any, plan: Plan, used: int) -> Made:
    unit = "" if plan.measure.unit == "unstated" else plan.measure.unit
    options = {
        "significance": plan.changes.significance,
        "shortest": plan.changes.shortest,
        "false_calls_per_month": plan.rules.false_calls_per_month,
        "sigma_multiple": plan.rules.sigma_multiple,
        "rules": list(plan.rules.points),
        "smoothing": plan.rules.smoothing,
        "ewma_multiple": plan.rules.ewma_multiple,
        "longest_gap_hours": plan.rules.longest_gap_hours,
        "confidence_level": plan.confidence_level,
        "streams": list(plan.streams),
        "adjust": list(plan.adjust),
        "candidates": list(plan.candidates),
        "seed": SEED,
    }
    from steadyfilm._input import table

    frame = "dict" if isinstance(readings, Cells) else table(readings).frame
    return Made("review_readings", unit, used, frame=frame, options=options, version=_core.version)


def _split(layers: Sequence[LayerUnits], plan: Plan) -> tuple[tuple[LayerUnits | None, ...], tuple[LayerUnits, ...]]:
    """Units up to the plan's date, and those after it."""
    until = plan.baseline.until if plan.baseline is not None else None
    usual, month = [], []
    for units in layers:
        assert units.time is not None  # the plan is refused otherwise
        is_day = type(until).__name__ == "date"
        early = (
            units.time.astype("datetime64[D]") <= np.datetime64(until, "D")
            if is_day
            else units.time <= np.datetime64(until, "us")
        )
        usual.append(units.take(early))
        month.append(units.take(~early))
    return tuple(usual), tuple(month)


def _review_layer(
    layer: Layer,
    studied: Studied | str,
    told: tuple[tuple[StreamChart, ...], Told],
    base: LayerUnits | None,
    month: LayerUnits,
    judged_base: LayerUnits | None,
    judged: LayerUnits,
    readings: Readings,
    plan: Plan,
) -> LayerReview:
    charts, said = told
    stable, why = None, studied if isinstance(studied, str) else ""
    if isinstance(studied, Studied):
        moved = [x for x in said.findings if x.kind != "gauge fault"]
        stable = not moved and not studied.uneven and not any(chart.unusual for chart in charts)
        why = _grounds(said.findings, studied.uneven, charts, held=base is not None)
        if stable and not any(math.isfinite(chart.lines.center) for chart in charts):
            stable, why = None, f"no change found, yet no stream has limits; {why_without_limits(studied.found)}"
    return LayerReview(
        name=layer.name,
        reading=layer.source,
        minus=layer.minus or "",
        window=SpecLimits(layer.lower, layer.upper, layer.target),
        miss=layer.miss,
        charted=layer.chart,
        units=frozen(np.array(month.units, dtype=object)),
        average=frozen(month.average),
        stream=frozen(stream_labels(month, plan.streams)),
        time=None if month.time is None else frozen(month.time),
        baseline_units=len(base) if base is not None else 0,
        conformance=judge(layer, judged, judged_base, first=month, confidence_level=plan.confidence_level)
        if layer.judged
        else None,
        capability=None,
        moving_ranges=0,
        charts=charts,
        why_this_chart=studied.why_this_chart(*repeat_spread(readings, layer)) if isinstance(studied, Studied) else "",
        unexplained=said.unexplained,
        variation=studied.variation() if isinstance(studied, Studied) else None,
        standing=studied.standing() if isinstance(studied, Studied) else (),
        stable=stable,
        why=why,
    )


def _weight(finding: Finding, plan: Plan) -> float:
    """How much a change matters: its size in windows if there is one, and how long it lasted."""
    layer = next(x for x in plan.layers if x.name == finding.layer)
    width = layer.upper - layer.lower if layer.lower is not None and layer.upper is not None else 1.0
    average = abs(finding.total) * (0.5 if finding.shape == "drift" else 1.0)
    return average / width * math.sqrt(finding.units)


def _with_capability(layers: Sequence[LayerReview], first: Sequence[LayerUnits], options: Options) -> list[LayerReview]:
    """Capability at the level that is judged, of first attempts: a touched-up unit says nothing of the spraying.

    A layer that is not charted is no steadier than those that are.
    """
    known = [layer.stable for layer in layers if layer.stable is not None]
    together = all(known) if known else None
    out = []
    for layer, units in zip(layers, first, strict=True):
        if layer.conformance is not None:
            stable = layer.stable if layer.charted else together
            if stable and not any(x.baseline_units for x in layers):
                stable = None
            found, ranges = unit_capability(units, layer.window, options, stable=stable)
            layer = dataclasses.replace(layer, capability=found, moving_ranges=ranges)
        out.append(layer)
    return out


def _tell(
    plan: Plan,
    studied: Sequence[Studied | str],
    alarms: AlarmBudget | None,
    log: Sequence[Event],
    checks: Sequence[GaugeCheck],
    faults: Sequence[GaugeFault],
) -> list[tuple[tuple[StreamChart, ...], Told]]:
    """Charts and findings of every layer; what a first coat's change means depends on the layers over it."""
    multiple = alarms.sigma_multiple if alarms is not None else USUAL_MULTIPLE
    charts = [x.charts(multiple) if isinstance(x, Studied) else () for x in studied]
    out: list[tuple[tuple[StreamChart, ...], Told]] = []
    for layer, own, drawn in zip(plan.layers, studied, charts, strict=True):
        if isinstance(own, str):
            out.append(((), Told((), 0, 0)))
            continue
        over = [
            Over(x.name, x.source, upper, panels)
            for x, upper, panels in zip(plan.layers, studied, charts, strict=True)
            if isinstance(upper, Studied) and x.minus == layer.source
        ]
        told = tell_findings(
            own,
            drawn,
            smallest=smallest_change(layer, plan),
            events=log,
            direct=layer.minus is None,
            over=over,
            checks=checks,
            faults=faults,
        )
        out.append((drawn, told))
    return out


def smallest_change(layer: Layer, plan: Plan) -> float:
    """Smallest change that is told."""
    if plan.changes.smallest is not None:
        return plan.changes.smallest
    return 0.1 * (layer.upper - layer.lower) if layer.lower is not None and layer.upper is not None else 0.0


def _grounds(findings: Sequence[Finding], uneven: Sequence[Uneven], charts: Sequence[StreamChart], *, held: bool) -> str:
    unusual = [chart.stream for chart in charts if chart.unusual]
    moved = [x for x in findings if x.kind != "gauge fault"]
    if moved or uneven:
        parts = [f"{plural(len(moved), 'change')} found"] if moved else []
        return "; ".join([*parts, *(f"{x.whose} are uneven" for x in uneven)])
    if unusual:
        return f"more signals on {', '.join(unusual)} than 99 % of quiet periods show"
    if findings:
        return "readings moved by a gauge fault alone, and no more signals than chance brings"
    against = "" if held else " that stands out against the variation of the same units; a lasting one can pass as that"
    return f"no change found{against}, and no more signals than chance brings"
