"""Subgroup charts: averages with their ranges (X-bar and R) or standard deviations (X-bar and S)."""

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
    rows_left_out,
    rules_for,
    signals_clause,
    spread_clause,
)
from steadyfilm._format import plural, with_unit
from steadyfilm._input import check_options, readings
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._subgroup_signals import SignalArrays, SubgroupSignals, subgroup_signals
from steadyfilm._subgroups import breaks_between, excluded_subgroups, subgroup_starts
from steadyfilm.constants import chart_factors
from steadyfilm.errors import ConstantDataWarning, InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS, Signal, find_signals

__all__ = [
    "SignalArrays",
    "SubgroupChart",
    "SubgroupLimits",
    "SubgroupSignals",
    "WithinSigma",
    "subgroup_chart",
    "subgroup_limits_from_averages",
    "subgroup_signals",
]

_SOURCES = (
    "cpp/methods/chart_subgroup.md",
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1 Shewhart X-bar and R and S control charts",
)
_SPREADS = {"range": "range", "sd": "standard deviation"}
_ESTIMATORS = {
    "mean_range": "mean range over d2",
    "mean_sd": "mean standard deviation over c4",
    "pooled_sd": "root of the pooled variance, without c4",
    "pooled_sd_c4": "root of the pooled variance over c4",
}


@dataclass(frozen=True)
class WithinSigma:
    """Sigma inside the subgroups with the sums behind it, in the unit of the data unless said.

    ``degrees_of_freedom`` are NaN when sigma was given. ``spread_sum`` and ``mean_spread`` are of the ``groups`` ranges or
    standard deviations used; ``weighted_sum / weight_sum`` is sigma from averages of unequal sizes; ``sum_squares`` is the pooled
    sum of squared deviations. ``divisor`` is d2 or c4 for one size, c4(degrees_of_freedom + 1) or 1 when pooled, else NaN.
    """

    sigma_within: float
    degrees_of_freedom: float
    groups: int
    spread_sum: float
    mean_spread: float
    weighted_sum: float
    weight_sum: float
    sum_squares: float
    divisor: float


@dataclass(frozen=True, eq=False, repr=False)
class SubgroupChart(Result):
    """Averages and spreads of subgroups with their limits, in the unit of the data unless said.

    Arrays have one element a subgroup; ``lower`` and ``upper`` are the limits of its own size, as are the spread lines.
    ``limits`` and ``spread_limits`` are those of ``nominal_size``, the size of most subgroups. ``means`` is NaN where no reading
    is left, ``spreads`` below two readings. ``standardized`` is (mean - center) over the sigma of that mean. ``signals`` and
    ``spread_signals`` count subgroups from 0.
    """

    _plot: ClassVar[str] = "chart_subgroup:plot_subgroups"

    limits: ControlLimits
    spread_limits: ControlLimits
    nominal_size: int
    spread_factor: float
    spread_sd_factor: float
    count: int
    sum: float
    within: WithinSigma
    sizes: NDArray[np.intp]
    means: NDArray[np.float64]
    spreads: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    spread_lower: NDArray[np.float64]
    spread_center: NDArray[np.float64]
    spread_upper: NDArray[np.float64]
    standardized: NDArray[np.float64]
    spread_standardized: NDArray[np.float64]
    labels: NDArray[np.object_] | None
    time: NDArray[np.datetime64] | None
    takes_part: NDArray[np.bool_]
    break_before: NDArray[np.bool_]
    signals: tuple[Signal, ...]
    spread_signals: tuple[Signal, ...]

    @property
    def center(self) -> float:
        """The middle line of the averages."""
        return self.limits.center

    @property
    def sigma_within(self) -> float:
        """Sigma inside the subgroups, estimated or given."""
        return self.within.sigma_within

    @property
    def mean_spread(self) -> float:
        """Mean of the ranges or standard deviations that sigma comes from; 0 when sigma was given."""
        return self.within.mean_spread

    @property
    def degrees_of_freedom(self) -> float:
        """Of ``sigma_within``; NaN when it was given."""
        return self.within.degrees_of_freedom

    @property
    def equal_sizes(self) -> bool:
        """Whether all subgroups that take part have the same size."""
        return bool((self.sizes[self.takes_part] == self.nominal_size).all())

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        size = f"{self.nominal_size}" if self.equal_sizes else f"{self.sizes[self.takes_part].min()} to {self.sizes.max()}"
        who = f"{plural(int(self.takes_part.sum()), options['point'])} of {size} readings"
        marks: NDArray[Any] | None = self.time if self.labels is None else self.labels
        if self.sigma_within == 0.0 and not self.signals and not self.spread_signals:
            return f"{who} are all {with_unit(self.center, unit)}: there is no spread to set limits from."
        mean = self.sum / self.count if options["center"] is not None else None
        lines = limits_clause(self.limits, unit, mean)
        lines += "" if self.equal_sizes else f" for {self.nominal_size} readings"
        found = signals_clause(self.signals, options["rules"], options["sigma_multiple"], marks)
        upper = self.spread_upper[self.spread_signals[0].point] if len(self.spread_signals) == 1 else None
        if upper is None and self.equal_sizes:
            upper = self.spread_limits.upper
        spread = spread_clause(self.spread_signals, _SPREADS[options["spread"]], upper, unit, marks)
        return f"{who} run {lines}; {found}{spread}."

    def _columns(self) -> dict[str, Any]:
        groups = self.sizes.size
        return {
            "subgroup": np.arange(1, groups + 1),
            **({"label": self.labels} if self.labels is not None else {}),
            **({"time": self.time} if self.time is not None else {}),
            "size": self.sizes,
            "takes_part": self.takes_part,
            "break_before": self.break_before,
            "mean": self.means,
            "lower": self.lower,
            "center": np.full(groups, self.limits.center),
            "upper": self.upper,
            "standardized": self.standardized,
            self.made.options["spread"]: self.spreads,
            "spread_lower": self.spread_lower,
            "spread_center": self.spread_center,
            "spread_upper": self.spread_upper,
            "signals": mark(self.signals, groups),
            "spread_signals": mark(self.spread_signals, groups),
        }

    def explain(self) -> Explanation:
        options, within = self.made.options, self.within
        steps: list[Step] = []
        if options["center"] is None:
            steps.append(Step("center", "sum / count", {"sum": self.sum, "count": self.count}, self.center))
        if options["sigma_within"] is None:
            steps += _sigma_steps(within, options["estimator"])
        multiple = float(options["sigma_multiple"])
        values = {
            "center": self.center,
            "sigma_multiple": multiple,
            "sigma_within": within.sigma_within,
            "nominal_size": self.nominal_size,
        }
        factors = {
            "spread_factor": self.spread_factor,
            "spread_sd_factor": self.spread_sd_factor,
            "sigma_multiple": multiple,
            "sigma_within": within.sigma_within,
        }
        width = "sigma_multiple * sigma_within / sqrt(nominal_size)"
        low, high = (f"(spread_factor {sign} sigma_multiple * spread_sd_factor) * sigma_within" for sign in "-+")
        middle = {name: factors[name] for name in ("spread_factor", "sigma_within")}
        steps += [
            Step("limits_lower", f"center - {width}", values, self.limits.lower),
            Step("limits_upper", f"center + {width}", values, self.limits.upper),
            Step("spread_limits_lower", f"max(0, {low})", factors, self.spread_limits.lower),
            Step("spread_limits_center", "spread_factor * sigma_within", middle, self.spread_limits.center),
            Step("spread_limits_upper", high, factors, self.spread_limits.upper),
        ]
        moving = "the lines above are of the most frequent size; each other subgroup has those of its own, by the same formulas"
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "center": "mean of all readings that take part" if options["center"] is None else "given",
                "sigma_within": _ESTIMATORS[options["estimator"]] if options["sigma_within"] is None else "given",
                "degrees of freedom of sigma_within": f"{within.degrees_of_freedom:.5g}",
                "sizes": "all equal" if self.equal_sizes else moving,
                "rules": (", ".join(options["rules"]) or "none") + ", on the distance of each average in its own sigma",
                f"{_SPREADS[options['spread']]} chart": "one point beyond the limit only",
                "breaks": f"{int(self.break_before.sum())}; no run goes across one or across a subgroup left out",
                "subgroups left out": rows_left_out(options["excluded_subgroups"], ()),
                "rows left out": rows_left_out((), self.made.missing_rows),
            },
            sources=_SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class SubgroupLimits(Result):
    """Limits of averages and of their spread from averages alone, in the unit of the data; the factors have no unit."""

    limits: ControlLimits
    spread_limits: ControlLimits
    mean_factor: float
    lower_factor: float
    upper_factor: float

    def sentence(self) -> str:
        unit, spread = self.made.unit, _SPREADS[self.made.options["spread"]]
        return (
            f"Averages run {limits_clause(self.limits, unit)}, their {spread}s at {with_unit(self.spread_limits.center, unit)} "
            f"with limits {with_unit(self.spread_limits.lower, unit)} to {with_unit(self.spread_limits.upper, unit)}."
        )

    def _columns(self) -> dict[str, Any]:
        both = (self.limits, self.spread_limits)
        return {
            "chart": ["average", _SPREADS[self.made.options["spread"]]],
            "lower": [limits.lower for limits in both],
            "center": [limits.center for limits in both],
            "upper": [limits.upper for limits in both],
        }

    def explain(self) -> Explanation:
        values = {"center": self.limits.center, "mean_factor": self.mean_factor, "mean_spread": self.spread_limits.center}
        low = {"lower_factor": self.lower_factor, "mean_spread": self.spread_limits.center}
        high = {"upper_factor": self.upper_factor, "mean_spread": self.spread_limits.center}
        steps = (
            Step("limits_lower", "center - mean_factor * mean_spread", values, self.limits.lower),
            Step("limits_upper", "center + mean_factor * mean_spread", values, self.limits.upper),
            Step("spread_limits_lower", "lower_factor * mean_spread", low, self.spread_limits.lower),
            Step("spread_limits_upper", "upper_factor * mean_spread", high, self.spread_limits.upper),
        )
        given = self.made.options["given_factors"]
        return Explanation(self.sentence(), steps, {"factors given": ", ".join(given) or "none, all exact"}, _SOURCES)


def subgroup_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    subgroup_size: int | None = None,
    subgroup: Any = None,
    spread: str = "range",
    estimator: str | None = None,
    sigma_multiple: float = 3.0,
    center: float | None = None,
    sigma_within: float | None = None,
    rules: Sequence[str] = BEYOND_LIMITS,
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
    point: str = "subgroup average",
    missing: str = "error",
) -> SubgroupChart:
    """Chart averages of subgroups, and the spread inside them, in production order.

    Limits follow the size of each subgroup; rules act on the distance of each average in its own sigma. The spread chart knows
    one rule, a point beyond its limit. Limits from the spread inside subgroups expect readings inside a subgroup to differ as
    much as readings of different subgroups: where units differ more than places on one unit, chart unit averages as individuals.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in production order; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``.
    subgroup_size : int
        Rows a subgroup; or instead
    subgroup : column name or sequence
        Labels; rows of one label must follow one another.
    spread : {"range", "sd"}
        What the chart below plots.
    estimator : {"mean_range", "mean_sd", "pooled_sd", "pooled_sd_c4"}, optional
        What ``sigma_within`` comes from; by default the average of ``spread``. With unequal sizes averages are weighted.
    sigma_multiple : float
        Distance of the limits from the center, in sigma of the point. The rule "one point beyond 3 sigma" follows it.
    center, sigma_within : float, optional
        Given values instead of those estimated from the data; ``sigma_within`` is that of single readings.
    rules, longest_gap, point
        As in ``individuals_chart``.
    time : column name or sequence, optional
        Times of the readings in ascending order; a subgroup has that of its first.
    period : column name or sequence, optional
        Labels of the readings; a change between the first rows of two subgroups is a boundary.
    excluded : column name or sequence of bool, optional
        Subgroups that are shown and take no part: one flag a subgroup, or one a row, alike in all rows of a subgroup.
    missing : {"error", "drop"}
        Missing readings are refused; or left out, and the subgroup is so much smaller.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, times out of order; with column, row and value.
    InvalidInputError
        Options out of their domain, rows that do not fill the subgroups, or no subgroup of two or more.

    Warns
    -----
    ConstantDataWarning
        The readings in each subgroup are all equal: the spread is 0.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1; formulas in cpp/methods/chart_subgroup.md.

    Examples
    --------
    >>> film = [2.11, 2.03, 2.14, 2.09, 2.16, 2.05, 2.08, 2.13, 2.04, 2.12, 2.02, 2.10, 2.06, 2.15, 2.11, 2.31, 2.38, 2.29]
    >>> chart = subgroup_chart(film, unit="mil", subgroup_size=3, point="unit average")
    >>> print(chart.sentence())
    6 unit averages of 3 readings run at 2.132 mil with limits 2.03 to 2.23 mil; point 6 lies beyond the limits.
    >>> round(chart.sigma_within, 4)
    0.0581
    """
    check_options(subgroup_chart, locals())
    if spread not in _SPREADS:
        raise InvalidInputError(f"spread must be 'range' or 'sd', got {spread!r}", argument="spread")
    given = readings(data, column, missing=missing)
    points = chart_points(given, data, time=time, period=period, longest_gap=longest_gap)
    starts, names = subgroup_starts(data, subgroup_size, subgroup, points.values.size)
    kept = ~np.isnan(points.values)
    offsets = np.concatenate([[0], np.cumsum(np.add.reduceat(kept.astype(np.uintp), starts))]).astype(np.uintp)
    sizes = np.diff(offsets)
    left_out = excluded_subgroups(data, excluded, starts, points.values.size)
    takes_part = (sizes > 0) & ~left_out
    breaks = breaks_between(points, starts)
    chosen = estimator or ("mean_range" if spread == "range" else "mean_sd")
    found = _core.subgroup_chart(
        given.values, offsets, takes_part.view(np.uint8), spread, chosen, sigma_multiple, center, sigma_within
    )
    found["within"] = build(WithinSigma, found["within"])
    found["sizes"] = found["sizes"].astype(np.intp)
    if found["within"].sigma_within == 0.0 and sigma_within is None:
        text = f"the readings of '{given.name}' in each subgroup are all equal: sigma_within is 0"
        warnings.warn(text, ConstantDataWarning, stacklevel=2)
    words = rules_for(rules, sigma_multiple)
    made = Made(
        function="subgroup_chart",
        unit=unit,
        count=found["count"],
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "subgroup_size": subgroup_size,
            "spread": spread,
            "estimator": chosen,
            "sigma_multiple": sigma_multiple,
            "center": center,
            "sigma_within": sigma_within,
            "rules": list(words),
            "excluded_subgroups": [int(i) + 1 for i in np.flatnonzero(left_out)],
            "point": point,
            "missing": missing,
        },
        version=_core.version,
    )
    return build(
        SubgroupChart,
        found,
        made=made,
        labels=names,
        time=points.time[starts] if points.time is not None else None,
        takes_part=takes_part,
        break_before=breaks,
        signals=find_signals(found["standardized"], rules=words, takes_part=takes_part, break_before=breaks),
        spread_signals=find_signals(
            found["spread_standardized"],
            rules=(limit_rule(sigma_multiple),),
            takes_part=takes_part & ~np.isnan(found["spreads"]),
        ),
    )


def subgroup_limits_from_averages(
    center: float,
    mean_spread: float,
    *,
    unit: str,
    subgroup_size: int | None = None,
    spread: str = "range",
    mean_factor: float | None = None,
    lower_factor: float | None = None,
    upper_factor: float | None = None,
) -> SubgroupLimits:
    """Three-sigma limits from the grand mean and the mean range or mean standard deviation alone, as a published page gives them.

    Parameters
    ----------
    center, mean_spread : float
        In the unit of the data.
    subgroup_size : int, optional
        Gives the exact factors; needed unless all three are given.
    spread : {"range", "sd"}
        What ``mean_spread`` is the mean of.
    mean_factor, lower_factor, upper_factor : float, optional
        A2, D3, D4 (or A3, B3, B4) as a rounded table has them, instead of the exact ones.

    Raises
    ------
    InvalidInputError
        A number that is not finite or negative, or neither a size nor all factors.

    Examples
    --------
    >>> found = subgroup_limits_from_averages(2.10, 0.12, unit="mil", subgroup_size=5)
    >>> round(found.limits.lower, 3), round(found.limits.upper, 3), round(found.spread_limits.upper, 3)
    (2.031, 2.169, 0.254)
    """
    check_options(subgroup_limits_from_averages, locals())
    if spread not in _SPREADS:
        raise InvalidInputError(f"spread must be 'range' or 'sd', got {spread!r}", argument="spread")
    factors: dict[str, Any] = {"mean_factor": mean_factor, "lower_factor": lower_factor, "upper_factor": upper_factor}
    given = [name for name, factor in factors.items() if factor is not None]
    if subgroup_size is not None:
        exact = chart_factors(subgroup_size)
        own = (exact.A2, exact.D3, exact.D4) if spread == "range" else (exact.A3, exact.B3, exact.B4)
        factors = {name: factors[name] if name in given else value for name, value in zip(factors, own, strict=True)}
    elif len(given) < len(factors):
        raise InvalidInputError(
            "give subgroup_size, or all of mean_factor, lower_factor and upper_factor", argument="subgroup_size"
        )
    found = _core.subgroup_limits_from_averages(center, mean_spread, *factors.values())
    made = Made(
        function="subgroup_limits_from_averages",
        unit=unit,
        count=0,
        options={"subgroup_size": subgroup_size, "spread": spread, "given_factors": given},
        version=_core.version,
    )
    return build(SubgroupLimits, found, made=made, **{name: float(factor) for name, factor in factors.items()})


def _sigma_steps(within: WithinSigma, estimator: str) -> list[Step]:
    """How sigma comes from the sums."""
    if estimator.startswith("pooled"):
        inputs = {
            "sum_squares": within.sum_squares,
            "degrees_of_freedom": within.degrees_of_freedom,
            "divisor": within.divisor,
        }
        return [Step("sigma_within", "sqrt(sum_squares / degrees_of_freedom) / divisor", inputs, within.sigma_within)]
    sums = {"spread_sum": within.spread_sum, "groups": within.groups}
    steps = [Step("mean_spread", "spread_sum / groups", sums, within.mean_spread)]
    if np.isnan(within.divisor):
        weighted = {"weighted_sum": within.weighted_sum, "weight_sum": within.weight_sum}
        return [*steps, Step("sigma_within", "weighted_sum / weight_sum", weighted, within.sigma_within)]
    inputs = {"mean_spread": within.mean_spread, "divisor": within.divisor}
    return [*steps, Step("sigma_within", "mean_spread / divisor", inputs, within.sigma_within)]
