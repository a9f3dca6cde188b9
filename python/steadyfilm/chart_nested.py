"""Units read at several places: unit averages, their change from unit to unit, and the spread inside each unit."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._chart import chart_points, limit_rule, limits_clause, mark, place, rows_left_out, rules_for
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import check_options, readings
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._unit_grid import UnitGrid, unit_grid
from steadyfilm.distributions import poisson_cdf
from steadyfilm.errors import ConstantDataWarning, InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS, Signal, describe, find_signals, pattern_probability

__all__ = ["NestedChart", "NestedFalseAlarm", "nested_chart", "nested_false_alarm"]

_SOURCES = (
    "cpp/methods/chart_nested.md",
    "Woodall and Thomas, Statistical process control with several components of common cause variability, IIE Transactions 27 "
    "(1995) 757 (from memory)",
    "Wheeler, Understanding Statistical Process Control, three-way charts (from memory)",
)


@dataclass(frozen=True, eq=False, repr=False)
class NestedChart(Result):
    """Unit averages, their moving range and the spread inside the units, with limits; in the unit of the data unless said.

    Arrays have one element a unit, in production order; a unit that lacks a reading is NaN and takes no part. ``spreads`` are the
    standard deviations (or ranges) of a unit's location averages less ``location_means``; with one location, of its readings.
    ``sigma_average`` is that of a unit average, from the moving range; ``sigma_inside`` that of one inside value;
    ``sigma_between`` what units vary by beyond what is inside them; ``sigma_total`` both together. ``own_mean_factor`` is
    below 1 when the location means come from the same units, which makes their spreads that much smaller.
    ``moving_range_chance`` and ``spread_chance`` are those of one point of a steady process beyond its limits.
    """

    _plot: ClassVar[str] = "chart_nested:plot_nested"

    limits: ControlLimits
    moving_range_limits: ControlLimits
    spread_limits: ControlLimits
    sigma_average: float
    sigma_inside: float
    sigma_between: float
    sigma_total: float
    degrees_of_freedom: float
    inside_degrees_of_freedom: float
    count: int
    sum: float
    moving_range_count: int
    moving_range_sum: float
    mean_moving_range: float
    median_moving_range: float
    divisor: float
    range_sd_factor: float
    inside_count: int
    spread_count: int
    spread_sum: float
    spread_factor: float
    spread_sd_factor: float
    own_mean_factor: float
    moving_range_chance: float
    spread_chance: float
    averages: NDArray[np.float64]
    moving_range: NDArray[np.float64]
    spreads: NDArray[np.float64]
    standardized: NDArray[np.float64]
    moving_range_standardized: NDArray[np.float64]
    spread_standardized: NDArray[np.float64]
    location_means: NDArray[np.float64]
    locations: tuple[str, ...]
    repeats: int
    units: tuple[str, ...]
    time: NDArray[np.datetime64] | None
    takes_part: NDArray[np.bool_]
    break_before: NDArray[np.bool_]
    signals: tuple[Signal, ...]
    moving_range_signals: tuple[Signal, ...]
    spread_signals: tuple[Signal, ...]

    @property
    def center(self) -> float:
        """The middle line of the unit averages."""
        return self.limits.center

    def spread_words(self) -> str:
        """What the third panel shows."""
        kind = "sd" if self.made.options["spread"] == "sd" else "range"
        return f"{kind} inside a unit"

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        head = plural(self.count, "unit average")
        flat = self.sigma_average == 0.0 and self.sigma_inside == 0.0
        if flat and not (self.signals or self.spread_signals or self.moving_range_signals):
            level = with_unit(self.center, unit)
            same = f"All {head.removeprefix('1 ')} are {level} and nothing varies inside the units"
            return f"{same}: there is no spread to set limits from."
        mean = self.sum / self.count if options["center"] is not None else None
        marks = np.array(self.units, dtype=object) if self.time is None else self.time
        limit = limit_rule(options["sigma_multiple"])
        change, ranges = "the change from unit to unit", f" of {with_unit(self.moving_range_limits.upper, unit, 3)}"
        spreads = f" of {with_unit(self.spread_limits.upper, unit, 3)}"
        # What chance brings in such a chart at most in 99 of 100 sets of this size.
        expected = self.count * sum(pattern_probability(word) for word in options["rules"])
        own = _verdict("", "look", self.signals, limit, marks, expected) if options["rules"] else "no rule was asked for"
        moved = self.moving_range_count * self.moving_range_chance
        parts = [
            f"{head} run {limits_clause(self.limits, unit, mean)}{' and' if options['rules'] else ':'} {own}",
            _verdict(f"{change} ", "looks", self.moving_range_signals, limit, marks, moved, ranges),
            _verdict("the spread inside the units ", "looks", self.spread_signals, limit, marks,
                     self.spread_count * self.spread_chance, spreads),
        ]  # fmt: skip
        return f"{'; '.join(parts)}."

    def _columns(self) -> dict[str, Any]:
        height = self.averages.size
        return {
            "unit": list(self.units),
            **({"time": self.time} if self.time is not None else {}),
            "average": self.averages,
            "takes_part": self.takes_part,
            "break_before": self.break_before,
            "lower": np.full(height, self.limits.lower),
            "center": np.full(height, self.limits.center),
            "upper": np.full(height, self.limits.upper),
            "standardized": self.standardized,
            "moving_range": self.moving_range,
            "spread": self.spreads,
            "spread_lower": np.full(height, self.spread_limits.lower),
            "spread_center": np.full(height, self.spread_limits.center),
            "spread_upper": np.full(height, self.spread_limits.upper),
            "signals": mark(self.signals, height),
            "moving_range_signals": mark(self.moving_range_signals, height),
            "spread_signals": mark(self.spread_signals, height),
        }

    def explain(self) -> Explanation:
        options = self.made.options
        steps: list[Step] = []
        if options["center"] is None:
            steps.append(Step("center", "sum / count", {"sum": self.sum, "count": self.count}, self.center))
        if options["sigma_average"] is None:
            if options["estimator"] == "mean_moving_range":
                ranges = {"moving_range_sum": self.moving_range_sum, "moving_range_count": self.moving_range_count}
                steps.append(Step("mean_moving_range", "moving_range_sum / moving_range_count", ranges, self.mean_moving_range))
            inputs = {options["estimator"]: getattr(self, options["estimator"]), "divisor": self.divisor}
            steps.append(Step("sigma_average", f"{options['estimator']} / divisor", inputs, self.sigma_average))
        if options["sigma_inside"] is None:
            spreads = {
                "spread_sum": self.spread_sum,
                "spread_count": self.spread_count,
                "spread_factor": self.spread_factor,
                "own_mean_factor": self.own_mean_factor,
            }
            formula = "spread_sum / spread_count / (spread_factor * own_mean_factor)"
            steps.append(Step("sigma_inside", formula, spreads, self.sigma_inside))
            if len(self.locations) > 1 and not options["location_means_given"]:
                factor = Step("own_mean_factor", "sqrt(1 - 1 / units)", {"units": self.spread_count}, self.own_mean_factor)
                steps.append(factor)
        multiple = float(options["sigma_multiple"])
        lines = {"center": self.center, "sigma_multiple": multiple, "sigma_average": self.sigma_average}
        moving = {"middle": self.moving_range_limits.center, **lines, "range_sd_factor": self.range_sd_factor}
        inside = {
            "middle": self.spread_limits.center,
            "sigma_multiple": multiple,
            "spread_sd_factor": self.spread_sd_factor,
            "own_mean_factor": self.own_mean_factor,
            "sigma_inside": self.sigma_inside,
        }
        wide = "sigma_multiple * range_sd_factor * sigma_average"
        high = "sigma_multiple * spread_sd_factor * own_mean_factor * sigma_inside"
        parts = {"sigma_average": self.sigma_average, "sigma_inside": self.sigma_inside, "inside_count": self.inside_count}
        both = {"sigma_between": self.sigma_between, "sigma_inside": self.sigma_inside}
        del moving["center"]
        steps += [
            Step("limits_lower", "center - sigma_multiple * sigma_average", lines, self.limits.lower),
            Step("limits_upper", "center + sigma_multiple * sigma_average", lines, self.limits.upper),
            Step("moving_range_limits_upper", f"middle + {wide}", moving, self.moving_range_limits.upper),
            Step("spread_limits_lower", f"max(0, middle - {high})", inside, self.spread_limits.lower),
            Step("spread_limits_upper", f"middle + {high}", inside, self.spread_limits.upper),
            Step("sigma_between", "sqrt(max(0, sigma_average**2 - sigma_inside**2 / inside_count))", parts, self.sigma_between),
            Step("sigma_total", "sqrt(sigma_between**2 + sigma_inside**2)", both, self.sigma_total),
        ]
        kind = options["spread"]
        several = len(self.locations) > 1
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "center": "mean of the unit averages that take part" if options["center"] is None else "given",
                "sigma_average": f"from unit to unit: {options['estimator'].replace('_', ' ')}"
                if options["sigma_average"] is None
                else "given",
                "spread inside": f"{kind} of {self.inside_count} "
                + ("location averages less the location means" if several else "readings"),
                "location means": "not used"
                if not several
                else "given"
                if options["location_means_given"]
                else "of the units that take part",
                "sigma_inside": f"mean {kind}" if options["sigma_inside"] is None else "given",
                "limits": f"{number(multiple)} sigma from the center, each chart with its own",
                "rules": ", ".join(options["rules"]) or "none",
                "moving range and spread": "one point beyond the limit only",
                "breaks": f"{int(self.break_before.sum())}; no range and no run goes across one or across a unit left out",
                "units left out": rows_left_out(options["excluded_units"], options["incomplete_units"]),
            },
            sources=_SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class NestedFalseAlarm(Result):
    """What an ordinary averages chart, with limits from the spread inside the units, would do to in-control units.

    ``false_alarm_probability`` is that of one unit average; ``limit_sigma_multiple`` the distance of such limits in standard
    deviations ``sd_average`` of a unit average; ``sd_inside`` the standard deviation that all readings of a unit show.
    """

    false_alarm_probability: float
    limit_sigma_multiple: float
    sd_inside: float
    sd_average: float

    def sentence(self) -> str:
        share = f"{number(100 * self.false_alarm_probability, 3)} %"
        return (
            f"An averages chart with limits from the spread inside the units would call {share} of in-control units: its limits "
            f"lie {number(self.limit_sigma_multiple, 3)} standard deviations of a unit average from the center, not "
            f"{number(self.made.options['sigma_multiple'])}."
        )

    def _columns(self) -> dict[str, Any]:
        names = ("false_alarm_probability", "limit_sigma_multiple", "sd_inside", "sd_average")
        return {"quantity": list(names), "value": [getattr(self, name) for name in names]}

    def explain(self) -> Explanation:
        options = self.made.options
        inputs = {name: float(options[name]) for name in ("sigma_unit", "sigma_location", "sigma_repeat", "location_rms")}
        inputs |= {"a": float(options["location_count"]), "b": float(options["readings_per_location"])}
        pick = {name: inputs[name] for name in ("sigma_location", "sigma_repeat", "location_rms", "a", "b")}
        inside = "sqrt(sigma_location**2 * b * (a - 1) / (a*b - 1) + sigma_repeat**2 + location_rms**2 * a*b / (a*b - 1))"
        of_average = {name: inputs[name] for name in ("sigma_unit", "sigma_location", "sigma_repeat", "a", "b")}
        average = "sqrt(sigma_unit**2 + sigma_location**2 / a + sigma_repeat**2 / (a*b))"
        multiple = {
            "sigma_multiple": float(options["sigma_multiple"]),
            "sd_inside": self.sd_inside,
            "sd_average": self.sd_average,
            "a": inputs["a"],
            "b": inputs["b"],
        }
        steps = (
            Step("sd_inside", inside, pick, self.sd_inside),
            Step("sd_average", average, of_average, self.sd_average),
            Step(
                "limit_sigma_multiple",
                "sigma_multiple * sd_inside / sqrt(a*b) / sd_average",
                multiple,
                self.limit_sigma_multiple,
            ),
        )
        choices = {"false_alarm_probability": "2 (1 - Phi(limit_sigma_multiple)), normal unit averages"}
        return Explanation(self.sentence(), steps, choices, _SOURCES)


def nested_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    body: Any = None,
    location: Any = None,
    readings_per_unit: int | None = None,
    spread: str = "sd",
    estimator: str = "mean_moving_range",
    sigma_multiple: float = 3.0,
    center: float | None = None,
    sigma_average: float | None = None,
    sigma_inside: float | None = None,
    location_means: Mapping[str, float] | None = None,
    baseline: NestedChart | None = None,
    rules: Sequence[str] = BEYOND_LIMITS,
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
    missing: str = "error",
) -> NestedChart:
    """Chart units that are read at several places: three charts on one axis.

    Unit averages are charted as single values, with limits from the change between neighboring units. The places of one unit are
    no sample of the process, so that limits from the spread inside it would cry wolf (see ``nested_false_alarm``). That
    spread has a chart of its own, after the baseline's location means are taken off: a roof that is always heavy is no
    spread.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row; a table needs ``column``. Units stand in the order of their first rows.
    unit : str
        Unit of the readings, for example ``"mil"``.
    body : column name or sequence of labels, optional
        Which unit was read. Or ``readings_per_unit`` rows make a unit, in the order of the rows.
    location : column name or sequence of labels, optional
        Where on it: the same places on every unit, each read equally often. Absent: readings whose place does not matter.
    spread : {"sd", "range"}
        How the spread inside a unit is measured.
    estimator : {"mean_moving_range", "median_moving_range"}
        The average of moving ranges that gives ``sigma_average``.
    sigma_multiple : float
        Distance of the limits of all three charts from their center, each in its own sigma.
    center, sigma_average, sigma_inside : float, optional
        Given values instead of those estimated: mean and standard deviation of a unit average, and standard deviation of one
        location average about its pattern (of one reading, without locations).
    location_means : mapping of location to mean, optional
        Given instead of those of the units.
    baseline : NestedChart, optional
        An earlier chart whose center, sigmas and location means are taken, frozen.
    rules : sequence of rule words
        What counts as a signal of the unit averages, see ``steadyfilm.run_rules``.
    time, period : column name or sequence, optional
        Of a unit, those of its first row. Times must ascend; a change of ``period`` is a boundary.
    excluded : column name or sequence of bool, optional
        Units that are shown and take no part: one entry a row, or one a unit.
    longest_gap : timedelta, optional
        A longer pause between two units is a gap; needs ``time``.
    missing : {"error", "drop"}
        Units that lack a reading are refused; or they stay empty and break ranges and runs. An average of other places would not
        compare.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels, times out of order; with column, row and value.
    InvalidInputError
        Incomplete units (named), a single reading a unit, no two neighbors, options out of their domain, a baseline of other
        locations.

    Warns
    -----
    ConstantDataWarning
        Unit averages or inside values do not vary.

    Notes
    -----
    ``steadyfilm.plots.readings.plot_readings`` draws every reading by location within unit within day, from the same table.

    Sources: Wheeler's three-way chart; Woodall and Thomas (1995); formulas in cpp/methods/chart_nested.md.

    Examples
    --------
    >>> table = {
    ...     "film": [2.0, 2.3, 2.1, 2.5, 2.0, 2.4, 2.2, 2.4],
    ...     "body": ["b1", "b1", "b2", "b2", "b3", "b3", "b4", "b4"],
    ...     "place": ["side", "roof"] * 4,
    ... }
    >>> chart = nested_chart(table, "film", unit="mil", body="body", location="place")
    >>> chart.averages.round(3).tolist(), chart.location_means.round(3).tolist()
    ([2.15, 2.3, 2.2, 2.3], [2.075, 2.4])
    >>> chart.spreads.round(4).tolist()
    [0.0177, 0.053, 0.053, 0.0884]
    """
    check_options(nested_chart, locals())
    given = readings(data, column, missing=missing)
    if baseline is not None:
        clash = [name for name, value in (("center", center), ("sigma_average", sigma_average), ("sigma_inside", sigma_inside),
                                          ("location_means", location_means)) if value is not None]  # fmt: skip
        if clash:
            raise InvalidInputError(f"baseline gives {', '.join(clash)} already; leave one out", argument="baseline")
        center, sigma_average, sigma_inside = baseline.center, baseline.sigma_average, baseline.sigma_inside
        location_means = dict(zip(baseline.locations, baseline.location_means.tolist(), strict=True))
    grid = unit_grid(
        data,
        given,
        body=body,
        location=location,
        readings_per_unit=readings_per_unit,
        order=None if location_means is None else [str(name) for name in location_means],
        missing=missing,
    )
    _require_like(baseline, grid, spread)
    points = chart_points(
        grid.column(given),
        None,
        time=grid.by_unit(data, time, "time"),
        period=grid.by_unit(data, period, "period"),
        excluded=grid.flags_by_unit(data, excluded, "excluded"),
        longest_gap=longest_gap,
    )
    found = _core.nested_chart(
        grid.values,
        len(grid.locations),
        grid.repeats,
        points.takes_part.view(np.uint8),
        points.break_before.view(np.uint8),
        spread,
        estimator,
        sigma_multiple,
        center,
        sigma_average,
        sigma_inside,
        np.array([] if location_means is None else list(location_means.values()), dtype=np.float64),
    )
    if not found["sigma_inside"] and sigma_inside is None:
        _warn("nothing varies inside the units", given.name)
    if not found["sigma_average"] and sigma_average is None:
        _warn("unit averages do not change", given.name)
    words = rules_for(rules, sigma_multiple)
    limit = (limit_rule(sigma_multiple),)
    made = Made(
        function="nested_chart",
        unit=unit,
        count=found["count"] * len(grid.locations) * grid.repeats,
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "spread": spread,
            "estimator": estimator,
            "sigma_multiple": sigma_multiple,
            "center": center,
            "sigma_average": sigma_average,
            "sigma_inside": sigma_inside,
            "location_means_given": location_means is not None,
            "rules": list(words),
            "excluded_units": points.excluded_rows,
            "incomplete_units": [int(row) + 1 for row in np.flatnonzero(~grid.complete)],
            "missing": missing,
        },
        version=_core.version,
    )
    return build(
        NestedChart,
        found,
        made=made,
        locations=grid.locations,
        repeats=grid.repeats,
        units=grid.units,
        time=points.time,
        takes_part=points.takes_part,
        break_before=points.break_before,
        signals=find_signals(found["standardized"], rules=words, takes_part=points.takes_part, break_before=points.break_before),
        moving_range_signals=find_signals(
            found["moving_range_standardized"], rules=limit, takes_part=~np.isnan(found["moving_range"])
        ),
        spread_signals=find_signals(found["spread_standardized"], rules=limit, takes_part=points.takes_part),
    )


def nested_false_alarm(
    *,
    unit: str,
    sigma_unit: float,
    sigma_location: float,
    sigma_repeat: float,
    location_count: int,
    readings_per_location: int,
    location_rms: float = 0.0,
    sigma_multiple: float = 3.0,
) -> NestedFalseAlarm:
    """How often an ordinary averages chart, with limits from the spread inside the units, calls units that are in control.

    Parameters
    ----------
    unit : str
        Unit of the sigmas.
    sigma_unit, sigma_location, sigma_repeat : float
        Standard deviations from unit to unit, of a unit's location beyond unit and pattern, and of a reading at one spot; see
        ``body_components``.
    location_count, readings_per_location : int
        Places on a unit, and readings at each.
    location_rms : float
        Root mean square of the fixed location effects. A pattern widens such limits and hides signals.
    sigma_multiple : float
        Of those limits.

    Raises
    ------
    InvalidInputError
        A number out of its domain, all sigmas 0, or a single reading a unit.

    Examples
    --------
    >>> found = nested_false_alarm(
    ...     unit="mil", sigma_unit=0.09, sigma_location=0.13, sigma_repeat=0.05, location_count=5, readings_per_location=3
    ... )
    >>> round(found.false_alarm_probability, 6)
    0.349561
    """
    check_options(nested_false_alarm, locals())
    options: dict[str, Any] = {
        "sigma_unit": sigma_unit,
        "sigma_location": sigma_location,
        "sigma_repeat": sigma_repeat,
        "location_count": location_count,
        "readings_per_location": readings_per_location,
        "location_rms": location_rms,
        "sigma_multiple": sigma_multiple,
    }
    found = _core.nested_false_alarm(**options)
    return build(NestedFalseAlarm, found, made=Made("nested_false_alarm", unit, 0, options=options, version=_core.version))


def _require_like(baseline: NestedChart | None, grid: UnitGrid, spread: str) -> None:
    """Sigmas hold for the same places, read equally often, and the same measure of spread."""
    if baseline is None:
        return
    mine, theirs = (len(grid.locations), grid.repeats), (len(baseline.locations), baseline.repeats)
    if mine != theirs:
        raise InvalidInputError(
            f"units have {plural(mine[0], 'location')} with {plural(mine[1], 'reading')}, those of the baseline {theirs[0]} with "
            f"{theirs[1]}: its sigmas do not hold here",
            argument="baseline",
        )
    if spread != baseline.made.options["spread"]:
        raise InvalidInputError(
            f"spread is '{spread}', that of the baseline '{baseline.made.options['spread']}'", argument="spread"
        )


def _verdict(
    who: str, looks: str, signals: Sequence[Signal], limit: str, marks: NDArray[Any], expected: float, line: str = ""
) -> str:
    """One chart in words: stable, stable but for a few units (no more than chance may bring), or not."""
    if not signals:
        return f"{who}{looks} stable"
    points = sorted({signal.point for signal in signals})
    first = next(signal for signal in signals if signal.point == points[0])
    where = place(points[0], marks, "unit") if marks.dtype.kind == "M" else f"unit '{marks[points[0]]}'"
    if first.rule == limit:
        what = {"above": "above its limit", "below": "below its limit"}.get(first.side, "beyond its limit")
        what += line if first.side == "above" else ""
    else:
        what = f"at the end of a run: {describe(first.rule)}"
    most = 0
    while poisson_cdf(most, expected) < 0.99:
        most += 1
    count = len(points)
    if count <= most:
        return f"{who}{looks} stable but for " + (f"{where}, {what}" if count == 1 else f"{count} units, first {where}, {what}")
    bad = f"{who}{'do' if looks == 'look' else 'does'} not look stable"
    chance = f"{count} signals where chance brings at most {most}"
    return f"{bad}: {where} lies {what}" if count == 1 else f"{bad}: {chance}, first {where}, {what}"


def _warn(what: str, name: str) -> None:
    warnings.warn(f"{what} in '{name}': that sigma is 0 and its limits lie on the center", ConstantDataWarning, stacklevel=3)
