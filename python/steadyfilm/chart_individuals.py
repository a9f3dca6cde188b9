"""Individuals and moving-range chart: one value a point, spread from neighbors."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._chart import (
    chart_points,
    limit_rule,
    limits_clause,
    mark,
    point_columns,
    rows_left_out,
    rules_for,
    signals_clause,
    spread_clause,
)
from steadyfilm._format import plural, with_unit
from steadyfilm._input import check_options, readings
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import ConstantDataWarning
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS, Signal, find_signals

__all__ = ["IndividualsChart", "IndividualsLimits", "individuals_chart", "individuals_limits_from_averages"]

_SOURCES = (
    "cpp/methods/chart_individuals.md",
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 Individuals control charts",
)


@dataclass(frozen=True, eq=False, repr=False)
class IndividualsChart(Result):
    """Single values in production order with their limits, and the moving-range chart; in the unit of the data unless said.

    Arrays have one element a row of the data: a missing reading is NaN in ``values``, and it and an excluded one are False in
    ``takes_part``. ``break_before`` is True where a gap or a new period starts. ``moving_range`` is NaN where there is none.
    ``standardized`` is (value - center) / sigma_within. ``degrees_of_freedom`` are those of ``sigma_within``: NaN when it
    was given, or comes from a median of spans above 2. ``signals`` and ``moving_range_signals`` count points from 0.
    """

    _plot: ClassVar[str] = "chart_individuals:plot_individuals"

    limits: ControlLimits
    moving_range_limits: ControlLimits
    sigma_within: float
    count: int
    sum: float
    moving_range_count: int
    moving_range_sum: float
    mean_moving_range: float
    median_moving_range: float
    median_low: float
    median_high: float
    divisor: float
    range_sd_factor: float
    degrees_of_freedom: float
    moving_range: NDArray[np.float64]
    standardized: NDArray[np.float64]
    moving_range_standardized: NDArray[np.float64]
    values: NDArray[np.float64]
    time: NDArray[np.datetime64] | None
    takes_part: NDArray[np.bool_]
    break_before: NDArray[np.bool_]
    signals: tuple[Signal, ...]
    moving_range_signals: tuple[Signal, ...]

    @property
    def center(self) -> float:
        """The middle line."""
        return self.limits.center

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        point = options["point"]
        if self.sigma_within == 0.0 and np.ptp(self.values[self.takes_part]) == 0.0 and not self.signals:
            return f"All {plural(self.count, point)} are {with_unit(self.center, unit)}: there is no spread to set limits from."
        mean = self.sum / self.count if options["center"] is not None else None
        found = signals_clause(self.signals, options["rules"], options["sigma_multiple"], self.time)
        jumps = spread_clause(self.moving_range_signals, "moving range", self.moving_range_limits.upper, unit, self.time)
        return f"{plural(self.count, point)} run {limits_clause(self.limits, unit, mean)}; {found}{jumps}."

    def _columns(self) -> dict[str, Any]:
        height = self.values.size
        return {
            **point_columns(self.values, self.time, self.takes_part, self.break_before),
            "lower": np.full(height, self.limits.lower),
            "center": np.full(height, self.limits.center),
            "upper": np.full(height, self.limits.upper),
            "standardized": self.standardized,
            "moving_range": self.moving_range,
            "signals": mark(self.signals, height),
            "moving_range_signals": mark(self.moving_range_signals, height),
        }

    def explain(self) -> Explanation:
        options = self.made.options
        steps: list[Step] = []
        if options["center"] is None:
            steps.append(Step("center", "sum / count", {"sum": self.sum, "count": self.count}, self.center))
        if self.moving_range_count:
            ranges = {"moving_range_sum": self.moving_range_sum, "moving_range_count": self.moving_range_count}
            steps.append(Step("mean_moving_range", "moving_range_sum / moving_range_count", ranges, self.mean_moving_range))
            middle = {"median_low": self.median_low, "median_high": self.median_high}
            steps.append(Step("median_moving_range", "(median_low + median_high) / 2", middle, self.median_moving_range))
        if options["sigma_within"] is None:
            average = options["estimator"]
            inputs = {average: getattr(self, average), "divisor": self.divisor}
            steps.append(Step("sigma_within", f"{average} / divisor", inputs, self.sigma_within))
        steps += _limit_steps(
            self.limits, self.moving_range_limits, self.sigma_within, self.range_sd_factor, options["sigma_multiple"]
        )
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "center": "mean of the values that take part" if options["center"] is None else "given",
                "sigma_within": options["estimator"].replace("_", " ") if options["sigma_within"] is None else "given",
                "span": f"{options['span']} values a moving range",
                "limits": f"{options['sigma_multiple']:g} sigma_within from the center",
                "rules": ", ".join(options["rules"]) or "none",
                "moving range chart": "one point beyond the limit only",
                "breaks": f"{int(self.break_before.sum())}; no range and no run goes across one or across a row left out",
                "rows left out": rows_left_out(options["excluded_rows"], self.made.missing_rows),
            },
            sources=_SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class IndividualsLimits(Result):
    """Limits from two averages alone, in the unit of the data."""

    limits: ControlLimits
    moving_range_limits: ControlLimits
    sigma_within: float
    mean_moving_range: float
    divisor: float
    range_sd_factor: float

    def sentence(self) -> str:
        return (
            f"Values that average {with_unit(self.limits.center, self.made.unit)} with a moving range of "
            f"{with_unit(self.mean_moving_range, self.made.unit)} run {limits_clause(self.limits, self.made.unit)}."
        )

    def _columns(self) -> dict[str, Any]:
        both = (self.limits, self.moving_range_limits)
        return {
            "chart": ["value", "moving range"],
            "lower": [limits.lower for limits in both],
            "center": [limits.center for limits in both],
            "upper": [limits.upper for limits in both],
        }

    def explain(self) -> Explanation:
        inputs = {"average_moving_range": self.mean_moving_range, "divisor": self.divisor}
        sigma = Step("sigma_within", "average_moving_range / divisor", inputs, self.sigma_within)
        multiple = self.made.options["sigma_multiple"]
        lines = _limit_steps(self.limits, self.moving_range_limits, self.sigma_within, self.range_sd_factor, multiple)
        choices = {"moving range": self.made.options["estimator"].replace("_", " ")}
        return Explanation(self.sentence(), (sigma, *lines), choices, _SOURCES)


def individuals_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    span: int = 2,
    estimator: str = "mean_moving_range",
    sigma_multiple: float = 3.0,
    center: float | None = None,
    sigma_within: float | None = None,
    divisor: float | None = None,
    rules: Sequence[str] = BEYOND_LIMITS,
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
    point: str = "reading",
    missing: str = "error",
) -> IndividualsChart:
    """Chart single values in production order, with limits from the spread between neighbors.

    A moving range is the range of ``span`` values in a row. None is taken across a gap, a new period, or a missing or excluded
    row; runs of the rules break there too. The moving-range chart knows one rule, a point beyond its limit.

    Parameters
    ----------
    data : table, series, array or sequence
        One value a row, in production order; a table needs ``column``.
    unit : str
        Unit of the values, for example ``"mil"``.
    span : int
        Values a moving range, 2 or more.
    estimator : {"mean_moving_range", "median_moving_range"}
        The average that gives ``sigma_within``: the mean over d2(span), or the median over the median of the range distribution,
        which a few jumps hardly move.
    sigma_multiple : float
        Distance of the limits from the center, in sigma. The rule "one point beyond 3 sigma" follows it.
    center, sigma_within : float, optional
        Given values instead of those estimated from the data, in the unit of the data.
    divisor : float, optional
        Given instead of the exact constant, to repeat a chart that was made with a rounded one.
    rules : sequence of rule words
        What counts as a signal, see ``steadyfilm.run_rules``.
    time : column name or sequence, optional
        Times in ascending order.
    period : column name or sequence, optional
        Labels; a change of label (shift, batch, stream) is a boundary.
    excluded : column name or sequence of bool, optional
        Rows that are shown and take no part.
    longest_gap : timedelta, optional
        A longer pause between two rows is a gap; needs ``time``.
    point : str
        What one point is, for texts: ``"unit average"``.
    missing : {"error", "drop"}
        Missing readings are refused; or their points stay empty and break ranges and runs.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, times out of order; with column, row and value.
    InvalidInputError
        Options out of their domain, or no two neighbors to take a range of.

    Warns
    -----
    ConstantDataWarning
        The moving ranges give a spread of 0.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; formulas in cpp/methods/chart_individuals.md.

    Examples
    --------
    >>> chart = individuals_chart([2.11, 2.07, 2.14, 2.09, 2.12, 2.61], unit="mil", center=2.1, sigma_within=0.03)
    >>> print(chart.sentence())
    6 readings run at 2.190 mil against the given center 2.100 mil with limits 2.01 to 2.19 mil; point 6 lies beyond the limits; \
the moving range at point 6 lies beyond its limit of 0.111 mil.
    >>> chart.signals[0].point, chart.signals[0].side
    (5, 'above')
    """
    check_options(individuals_chart, locals())
    given = readings(data, column, missing=missing)
    points = chart_points(given, data, time=time, period=period, excluded=excluded, longest_gap=longest_gap)
    found = _core.individuals_chart(
        points.values,
        points.takes_part.view(np.uint8),
        points.break_before.view(np.uint8),
        span,
        estimator,
        sigma_multiple,
        center,
        sigma_within,
        divisor,
    )
    if found["sigma_within"] == 0.0 and sigma_within is None:
        _warn_no_spread(points.values[points.takes_part], given.name)
    words = rules_for(rules, sigma_multiple)
    made = Made(
        function="individuals_chart",
        unit=unit,
        count=int(points.takes_part.sum()),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "span": span,
            "estimator": estimator,
            "sigma_multiple": sigma_multiple,
            "center": center,
            "sigma_within": sigma_within,
            "divisor": divisor,
            "rules": list(words),
            "excluded_rows": points.excluded_rows,
            "point": point,
            "missing": missing,
        },
        version=_core.version,
    )
    return build(
        IndividualsChart,
        found,
        made=made,
        values=points.values,
        time=points.time,
        takes_part=points.takes_part,
        break_before=points.break_before,
        signals=find_signals(found["standardized"], rules=words, takes_part=points.takes_part, break_before=points.break_before),
        moving_range_signals=find_signals(
            found["moving_range_standardized"],
            rules=(limit_rule(sigma_multiple),),
            takes_part=~np.isnan(found["moving_range"]),
        ),
    )


def individuals_limits_from_averages(
    center: float,
    mean_moving_range: float,
    *,
    unit: str,
    span: int = 2,
    estimator: str = "mean_moving_range",
    sigma_multiple: float = 3.0,
    divisor: float | None = None,
) -> IndividualsLimits:
    """Limits of single values from their mean and their mean moving range alone, as a published page gives them.

    Parameters
    ----------
    center, mean_moving_range : float
        In the unit of the data; with ``estimator="median_moving_range"`` the second is the median.
    divisor : float, optional
        Given instead of the exact constant, to repeat a page that used a rounded one.

    Raises
    ------
    InvalidInputError
        A number that is not finite or out of its domain.

    Examples
    --------
    >>> found = individuals_limits_from_averages(50.81, 1.8778, unit="", divisor=1.128)
    >>> round(found.limits.lower, 4), round(found.limits.upper, 4)
    (45.8159, 55.8041)
    """
    check_options(individuals_limits_from_averages, locals())
    found = _core.individuals_limits_from_averages(center, mean_moving_range, span, estimator, sigma_multiple, divisor)
    made = Made(
        function="individuals_limits_from_averages",
        unit=unit,
        count=0,
        options={"span": span, "estimator": estimator, "sigma_multiple": sigma_multiple, "divisor": divisor},
        version=_core.version,
    )
    return build(IndividualsLimits, found, mean_moving_range=float(mean_moving_range), made=made)


def _limit_steps(
    limits: ControlLimits, ranges: ControlLimits, sigma_within: float, range_sd_factor: float, sigma_multiple: float
) -> list[Step]:
    """The four lines from center and sigma."""
    values = {"center": limits.center, "sigma_multiple": float(sigma_multiple), "sigma_within": sigma_within}
    spread = {
        "range_center": ranges.center,
        "sigma_multiple": float(sigma_multiple),
        "range_sd_factor": range_sd_factor,
        "sigma_within": sigma_within,
    }
    width = "sigma_multiple * range_sd_factor * sigma_within"
    return [
        Step("limits_lower", "center - sigma_multiple * sigma_within", values, limits.lower),
        Step("limits_upper", "center + sigma_multiple * sigma_within", values, limits.upper),
        Step("moving_range_limits_lower", f"max(0, range_center - {width})", spread, ranges.lower),
        Step("moving_range_limits_upper", f"range_center + {width}", spread, ranges.upper),
    ]


def _warn_no_spread(values: NDArray[np.float64], name: str) -> None:
    if np.ptp(values) == 0.0:
        text = f"all values of '{name}' are equal: sigma_within is 0 and both limits lie on that value"
    else:
        text = f"most neighbors in '{name}' are equal and sigma_within is 0: are readings rounded too coarsely?"
    warnings.warn(text, ConstantDataWarning, stacklevel=3)
