"""What a reader is told of a process: each change once, with its streams, start, size, candidate cause, and whether it lasts.

A finding gathers all episodes of the charts that the same change explains. It opens once, stays open while the change lasts, and
is closed by a recorded action or after 20 quiet points. What has always differed is a standing difference, never a change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._callable import make_callable
from steadyfilm._format import plural
from steadyfilm._input import check_options, labels, name_tuple, optional_numbers, table, times
from steadyfilm._result import Explanation, Made, Result, Step
from steadyfilm._review.alarms import AlarmBudget, months_of, set_lines
from steadyfilm._review.averages import LayerUnits
from steadyfilm._review.gauges import GaugeCheck, GaugeFault, gauge_faults, gauge_sessions
from steadyfilm._review.options import LineRules, MeasuredName, Options
from steadyfilm._review.records import Event
from steadyfilm._review.study import Over, StandingDifference, Studied, Variation, study_layer, tell_findings
from steadyfilm._review.words import Finding
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.run_rules import BEYOND_LIMITS
from steadyfilm.units import LENGTH_UNITS, MICROMETERS_PER_MIL, unit_symbol

__all__ = ["Event", "Finding", "Findings", "GaugeCheck", "GaugeFault", "findings", "gauge_checks", "logged_events"]

Floats = NDArray[np.float64]
SEED = 20_250_301
"""Of the simulations behind thresholds and false-alarm figures; fixed, so that findings can be repeated."""


@dataclass(frozen=True, eq=False, repr=False)
class Findings(Result):
    """The changes of one series of plotted points, in the unit of the data.

    Attributes
    ----------
    quantity : str
        What the points are.
    changes : tuple of Finding
        The largest evidence first.
    standing : tuple of StandingDifference
        How levels of the streams and adjusted factors usually differ, with the half width of the interval.
    gauge_faults : tuple of GaugeFault
        From the checks on shims; empty without any.
    episodes, explained, unexplained : int
        Episodes of the charts, those that a change explains, and the rest: not disqualifying as long as chance brings as many.
    alarms : AlarmBudget
        Where the lines of the charts stand, and how many episodes a steady process shows all the same.
    stable : bool
        No change, and no chart with more episodes than 99 % of quiet periods show.
    """

    quantity: str
    changes: tuple[Finding, ...]
    standing: tuple[StandingDifference, ...]
    gauge_faults: tuple[GaugeFault, ...]
    point_count: int
    baseline_count: int
    episodes: int
    explained: int
    unexplained: int
    alarms: AlarmBudget | None
    variation: Variation
    stable: bool
    unusual: tuple[str, ...]
    """Streams whose charts show more episodes than 99 % of quiet periods."""

    def sentence(self) -> str:
        name = self.quantity[:1].upper() + self.quantity[1:]
        chance = "" if self.alarms is None else f" where chance brings about {self.alarms.expected:.1f}"
        if not self.changes:
            rest = f"{plural(self.episodes, 'signal')}{chance}"
            if self.unusual:
                where = ", ".join(self.unusual)
                return f"{name} is not stable: more signals on {where} than 99 % of quiet periods show ({rest})."
            return f"No change found in {self.quantity} over {plural(self.point_count, 'point')}; {rest}."
        first = self.changes[0].short
        more = f" {len(self.changes) - 1} more." if len(self.changes) > 1 else ""
        return f"{first[:1].upper()}{first[1:]}.{more}"

    def _columns(self) -> dict[str, Any]:
        return {
            "kind": [x.kind for x in self.changes],
            "shape": [x.shape for x in self.changes],
            "streams": [", ".join(x.streams) for x in self.changes],
            "size": [x.size for x in self.changes],
            "size_lower": [x.size - x.error for x in self.changes],
            "size_upper": [x.size + x.error for x in self.changes],
            "first": [x.first_unit for x in self.changes],
            "last": [x.last_unit for x in self.changes],
            "earliest_start": [x.earliest_unit for x in self.changes],
            "latest_start": [x.latest_unit for x in self.changes],
            "points": [x.units for x in self.changes],
            "episodes": [x.episodes for x in self.changes],
            "cause": [x.cause for x in self.changes],
            "state": [x.state for x in self.changes],
            "closed_by": [x.closed_by for x in self.changes],
        }

    def explain(self) -> Explanation:
        counts = {"episodes": self.episodes, "explained": self.explained}
        steps = [Step("unexplained", "episodes - explained", counts, self.unexplained)]
        for x in self.changes:
            steps.append(Step("size_lower", "size - half_width", {"size": x.size, "half_width": x.error}, x.size - x.error))
            steps.append(Step("size_upper", "size + half_width", {"size": x.size, "half_width": x.error}, x.size + x.error))
        options = self.made.options
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "change": "a step or a drift of all points or of one stream; generalized least squares, neighboring days alike",
                "told": f"{100 * options['significance']:g} of 100 quiet periods show as much; at least {options['smallest']:g}",
                "start": "all starts whose log likelihood is within 3.68 of the best (95 %)",
                "cause": "a record that fits in time and would seldom do so by chance; that alone proves nothing",
                "state": "open while it lasts; closed by a recorded action or after 20 quiet points",
                "lines": "no charts" if self.alarms is None else self.alarms.sentence,
            },
            sources=("cpp/methods/findings.md", "cpp/methods/review.md"),
        )


def findings(
    data: Any,
    value: str,
    *,
    unit: str,
    quantity: str | None = None,
    name: str | None = None,
    stream: Sequence[str] | str = (),
    adjust: Sequence[str] | str = (),
    candidates: Sequence[str] | str = (),
    time: str | None = None,
    baseline: Any = None,
    events: Sequence[Event] = (),
    gauge: str | None = None,
    over: str | None = None,
    checks: Sequence[GaugeCheck] = (),
    smallest: float = 0.0,
    shortest: int = 4,
    significance: float = 0.01,
    rules: Sequence[str] | str = BEYOND_LIMITS,
    smoothing: float = 0.2,
    false_calls_per_month: float = 1.0,
    sigma_multiple: float | None = None,
    confidence_level: float = 0.95,
) -> Findings:
    """What changed in a series of plotted points, since when, by how much, and what was recorded with it.

    Parameters
    ----------
    data : table
        One row a plotted point, for example a unit average, in order of production or with times.
    value : str
        Column of the points.
    unit : str
        Unit of the values; ``""`` if they have none.
    quantity : str, optional
        What the points are called; the column's name if left out.
    name : str, optional
        Column that names each point, no name twice; ``row 1``, ``row 2`` ... if left out.
    stream, adjust : column name or names
        Factors that are charted apart, and factors whose usual differences are taken out; their effects add up.
    candidates : column name or names
        What may explain a change, a batch for one: each stretch of one value is tried by itself.
    time : str, optional
        Column of local times; days then share an effect. Without it eight points in a row stand in for a day.
    baseline : table, optional
        Points of a usual period, the same columns: limits and usual differences come from it; else from the points themselves.
    events : sequence of Event
        What was done and when; see ``logged_events``.
    gauge : str, optional
        Column of the gauge that read a point; needs ``time``. Readings of one gauge in a row on one day may be off together.
    over : str, optional
        Column of the coat over this one, taken as a difference so that a gauge's error cancels. A step of all points over which
        it stayed is a common offset: gauge or film.
    checks : sequence of GaugeCheck
        The gauge on shims; see ``gauge_checks``. Says whether a common offset was the gauge.
    smallest : float
        Smallest change worth telling, in ``unit``.
    shortest : int
        Fewest points of a change.
    significance : float
        Chance that a quiet period shows any change, over all starts, ends, streams and shapes tried; and the same again over all
        recorded stretches.
    rules, smoothing, false_calls_per_month, sigma_multiple
        Of the charts. Their lines stand where a steady process shows no more than so many false calls a month, or as given.
    confidence_level : float
        Of all intervals.

    Returns
    -------
    Findings

    Raises
    ------
    InvalidInputError
        Too few points, points that do not vary, options out of range.
    DataProblemsError
        Missing or unusable cells, with column, row and value.

    Examples
    --------
    >>> film = [2.11, 2.07, 2.14, 2.09, 2.12, 2.05, 2.10, 2.13, 2.08, 2.12, 2.06, 2.11]
    >>> film += [1.97, 1.93, 1.99, 1.95, 1.90, 1.98, 1.94, 1.96]
    >>> found = findings({"film": film}, "film", unit="mil")
    >>> found.changes[0].first_unit, round(found.changes[0].size, 3), found.changes[0].state
    ('row 13', -0.146, 'open')
    """
    check_options(findings, locals())
    if not smallest >= 0.0:
        raise InvalidInputError(f"smallest must not be negative, got {smallest}", argument="smallest")
    for given, label in ((significance, "significance"), (confidence_level, "confidence_level")):
        if not 0.0 < given < 1.0:
            raise InvalidInputError(f"{label} must lie between 0 and 1, got {given}", argument=label)
    if shortest < 2:
        raise InvalidInputError(f"shortest must be at least 2, got {shortest}", argument="shortest")
    if gauge is not None and time is None:
        raise InvalidInputError("gauge needs time: what one gauge read in a row on one day", argument="gauge")
    if events and time is None:
        raise InvalidInputError("events need time to be compared with", argument="events")
    options = Options(
        unit=unit,
        streams=name_tuple(stream),
        adjust=name_tuple(adjust),
        candidates=name_tuple(candidates),
        gauge=gauge or "",
        rules=LineRules(name_tuple(rules), smoothing, false_calls_per_month, sigma_multiple),
        significance=significance,
        shortest=shortest,
        confidence_level=confidence_level,
    )
    quantity = quantity or value
    month, frame = _points(data, value, quantity, name, time, options, "row"), table(data).frame
    base = None if baseline is None else _points(baseline, value, quantity, name, time, options, "baseline row")
    faults = gauge_faults(checks, smallest)
    studied = _studied(base, month, options, direct=True, faults=faults)
    alarms = set_lines([studied.quiet], options.rules, months_of([month.time]))
    multiple = alarms.sigma_multiple if alarms is not None else 3.0
    coats = []
    if over is not None:
        upper = _studied(
            None if baseline is None else _points(baseline, over, over, name, time, options, "baseline row"),
            _points(data, over, over, name, time, options, "row"),
            options,
            direct=False,
        )
        coats = [Over(over, f"{over} with {quantity}", upper, upper.charts(multiple))]
    charts = studied.charts(multiple)
    told = tell_findings(studied, charts, smallest=smallest, events=events, direct=True, over=coats, checks=checks, faults=faults)
    unusual = tuple(chart.stream for chart in charts if chart.unusual)
    return Findings(
        made=Made(
            function="findings",
            unit=unit,
            count=len(month),
            frame=frame,
            options={
                "value": value,
                "stream": list(options.streams),
                "adjust": list(options.adjust),
                "candidates": list(options.candidates),
                "smallest": smallest,
                "shortest": shortest,
                "significance": significance,
                "false_calls_per_month": false_calls_per_month,
                "sigma_multiple": sigma_multiple,
                "confidence_level": confidence_level,
                "seed": SEED,
            },
            version=_core.version,
        ),
        quantity=quantity,
        changes=tuple(sorted(told.findings, key=lambda x: -x.evidence)),
        standing=studied.standing(),
        gauge_faults=faults,
        point_count=len(month),
        baseline_count=0 if base is None else len(base),
        episodes=told.episodes,
        explained=told.episodes - told.unexplained,
        unexplained=told.unexplained,
        alarms=alarms,
        variation=studied.variation(),
        stable=not unusual and all(x.kind == "gauge fault" for x in told.findings),
        unusual=unusual,
    )


def logged_events(
    data: Any, *, time: str = "time", text: Sequence[str] | str, kind: Sequence[str] | str = (), layer: str | None = None
) -> tuple[Event, ...]:
    """The entries of an event log, in the order of time.

    Parameters
    ----------
    data : table
        One row an entry.
    time : str
        Column of the local time.
    text : column name or names
        Columns that together say what was done, in reading order.
    kind : column name or names
        Columns that say what kind of thing was done (all of ``text`` if left out); what is done all the time explains nothing.
    layer : str, optional
        Column naming the quantity that an entry concerns; entries without one concern all.

    Examples
    --------
    >>> logged_events({"time": ["2026-03-02 05:50"], "what": ["nozzle"], "done": ["replaced"]}, text=["what", "done"])[0].text
    'nozzle replaced'
    """
    check_options(logged_events, locals())
    whole = table(data)
    words = list(zip(*(_text(whole, column) for column in name_tuple(text)), strict=True))
    kinds = list(zip(*(_text(whole, column) for column in name_tuple(kind) or name_tuple(text)), strict=True))
    layers = [""] * len(words) if layer is None else _text(whole, layer)
    moments = times(whole, time)
    return tuple(
        Event(moments[i], " ".join(word for word in words[i] if word), " ".join(kinds[i]), layers[i])
        for i in np.argsort(moments, kind="stable")
        if not np.isnat(moments[i])
    )


def gauge_checks(
    data: Any,
    *,
    unit: str,
    time: str = "time",
    gauge: str = "gauge",
    value: str = "value",
    stated: str = "stated",
    unit_of_measure: str | None = None,
    foil: Sequence[str] | str = (),
) -> tuple[GaugeCheck, ...]:
    """The checks of a gauge verification log: readings of certified foils (shims), one row a reading.

    What a gauge usually shows on a foil (a coarse display, say) is taken off where there are at least eight checks of it.

    Parameters
    ----------
    data : table
        Rows without a time, reading or stated value are left out.
    unit : {"mil", "um"} or other
        Unit of the result; rows with a ``unit_of_measure`` are converted to it.
    time, gauge, value, stated : str
        Columns of the local time, the gauge, the reading, and what the foil's certificate states, in the reading's unit.
    unit_of_measure : str, optional
        Column of each row's unit.
    foil : column name or names
        Columns that tell foils, and metals below them, apart; the stated value does if left out.

    Examples
    --------
    >>> log = {"time": ["2026-03-02 06:05"] * 2, "gauge": ["Q", "Q"], "value": [1.08, 1.06], "stated": [1.05, 1.05]}
    >>> [(check.gauge, round(check.difference, 4)) for check in gauge_checks(log, unit="mil")]
    [('Q', 0.02)]
    """
    check_options(gauge_checks, locals())
    whole = table(data)
    moments, names = times(whole, time), _text(whole, gauge)
    shown, certified = optional_numbers(whole, value), optional_numbers(whole, stated)
    measure = [unit] * len(names) if unit_of_measure is None else _text(whole, unit_of_measure)
    if unit_of_measure is not None:
        wanted = unit_symbol(unit, among=LENGTH_UNITS)
        factor = {"mil": 1.0, "um": 1.0} | ({"um": 1 / MICROMETERS_PER_MIL} if wanted == "mil" else {"mil": MICROMETERS_PER_MIL})
        scale = np.array([factor[unit_symbol(x, among=LENGTH_UNITS)] for x in measure])
        shown, certified = shown * scale, certified * scale
    which = list(zip(*(_text(whole, column) for column in name_tuple(foil)), strict=True)) if foil else [()] * len(names)
    keep = np.flatnonzero(~np.isnat(moments) & ~np.isnan(shown) & ~np.isnan(certified) & np.array([x != "" for x in names]))
    foils = [(which[i], measure[i], float(certified[i])) for i in keep]
    return gauge_sessions([names[i] for i in keep], moments[keep], foils, shown[keep], certified[keep])


def _studied(
    base: LayerUnits | None, month: LayerUnits, options: Options, *, direct: bool, faults: Sequence[GaugeFault] = ()
) -> Studied:
    found = study_layer(base, month, options, seed=SEED, direct=direct, faults=faults)
    if isinstance(found, str):
        raise InvalidInputError(f"{month.layer.name} cannot be studied: {found}", function="findings", argument="data")
    return found


def _points(data: Any, value: str, quantity: str, name: str | None, time: str | None, options: Options, row: str) -> LayerUnits:
    """A table as unit averages in the order of time."""
    whole = table(data)
    numbers = optional_numbers(whole, value)
    problems = [DataProblem(value, int(i) + 1, "", "value is missing") for i in np.flatnonzero(~np.isfinite(numbers))]
    factors = {}
    gauge = (options.gauge,) if options.gauge else ()
    for column in dict.fromkeys((*options.streams, *options.adjust, *options.candidates, *gauge)):
        factors[column] = np.array(_text(whole, column), dtype=object)
    names = [f"{row} {i + 1}" for i in range(numbers.size)] if name is None else _text(whole, name)
    seen: dict[str, int] = {}
    for i, word in enumerate(names):
        if (first := seen.setdefault(word, i)) != i:
            problems.append(DataProblem(name or "", i + 1, word, f"named before, in row {first + 1}"))
    moments = None if time is None else times(whole, time)
    if moments is not None:
        problems += [DataProblem(time or "", int(i) + 1, "", "time is missing") for i in np.flatnonzero(np.isnat(moments))]
    if problems:
        raise DataProblemsError(problems)
    order = np.arange(numbers.size) if moments is None else np.argsort(moments, kind="stable")
    return LayerUnits(
        layer=MeasuredName(quantity),
        units=tuple(names[i] for i in order),
        average=numbers[order],
        locations=("",),
        spots=numbers[order][:, None],
        time=None if moments is None else moments[order],
        factors={column: words[order] for column, words in factors.items()},
        incomplete=(),
        repeated=(),
    )


def _text(whole: Any, column: str) -> list[str]:
    return ["" if word is None else str(word).strip() for word in labels(whole.column(column), name=column)]


make_callable(__name__)
