"""Signals of very many equal subgroups, without a chart's arrays; public through ``steadyfilm.chart_subgroup``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._chart import limit_rule, limits_clause, rules_for
from steadyfilm._format import plural
from steadyfilm._input import check_options
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.constants import chart_factors
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS, SIDES, numbers

_SOURCES = (
    "cpp/methods/chart_subgroup.md",
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1 Shewhart X-bar and R and S control charts",
)


@dataclass(frozen=True)
class SignalArrays:
    """Signals as one array a field, since there may be very many: ``point`` from 0, ``rule`` by its position in the rules
    asked for, ``side`` +1 above or rising, -1 below or falling, 0 both, ``length`` in points.
    """

    point: NDArray[np.int64]
    rule: NDArray[np.int64]
    side: NDArray[np.int64]
    length: NDArray[np.int64]


@dataclass(frozen=True, eq=False, repr=False)
class SubgroupSignals(Result):
    """Limits and signals of averages and ranges of equal subgroups, in the unit of the data.

    ``sum`` and ``range_sum`` are of all readings and of all ranges; 0 when center and sigma were both given. ``means`` and
    ``ranges``, one a subgroup, are None unless they were asked for.
    """

    limits: ControlLimits
    spread_limits: ControlLimits
    sigma_within: float
    groups: int
    sum: float
    range_sum: float
    signals: SignalArrays
    spread_signals: SignalArrays
    means: NDArray[np.float64] | None
    ranges: NDArray[np.float64] | None

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        who = f"{plural(self.groups, 'subgroup')} of {options['subgroup_size']} readings"
        mean = self.sum / self.made.count if options["center"] is not None and self.sum != 0.0 else None
        limit = limit_rule(options["sigma_multiple"])
        met = dict(zip(options["rules"], np.bincount(self.signals.rule, minlength=len(options["rules"])).tolist(), strict=True))
        clauses = [f"{plural(met.pop(limit), 'average')} beyond the limits"] if limit in met else []
        clauses += [f"{plural(sum(met.values()), 'signal')} of run rules"] if met else []
        clause = " and ".join(clauses) or "no rule was asked for"
        beyond = plural(self.spread_signals.point.size, "range")
        return f"{who} run {limits_clause(self.limits, unit, mean)}; {clause}; {beyond} beyond the range limit."

    def _columns(self) -> dict[str, Any]:
        words = np.array([*self.made.options["rules"], limit_rule(self.made.options["sigma_multiple"])], dtype=object)
        charts = (self.signals, self.spread_signals)
        rules = np.concatenate([self.signals.rule, self.spread_signals.rule + len(words) - 1])
        sides = np.concatenate([chart.side for chart in charts])
        return {
            "subgroup": np.concatenate([chart.point for chart in charts]) + 1,
            "chart": np.repeat(np.array(["average", "range"], dtype=object), [chart.point.size for chart in charts]),
            "rule": words[rules],
            "side": np.array([SIDES[-1], SIDES[0], SIDES[1]], dtype=object)[sides + 1],
            "length": np.concatenate([chart.length for chart in charts]),
        }

    def explain(self) -> Explanation:
        options = self.made.options
        size, multiple = int(options["subgroup_size"]), float(options["sigma_multiple"])
        factors = chart_factors(size)
        center, sigma = self.limits.center, self.sigma_within
        steps: list[Step] = []
        if options["center"] is None:
            steps.append(Step("center", "sum / count", {"sum": self.sum, "count": self.made.count}, center))
        if options["sigma_within"] is None:
            inputs = {"range_sum": self.range_sum, "groups": self.groups, "d2": factors.d2}
            steps.append(Step("sigma_within", "range_sum / groups / d2", inputs, sigma))
        values = {"center": center, "sigma_multiple": multiple, "sigma_within": sigma, "subgroup_size": size}
        spread = {"d2": factors.d2, "d3": factors.d3, "sigma_multiple": multiple, "sigma_within": sigma}
        width = "sigma_multiple * sigma_within / sqrt(subgroup_size)"
        steps += [
            Step("limits_lower", f"center - {width}", values, self.limits.lower),
            Step("limits_upper", f"center + {width}", values, self.limits.upper),
            Step("spread_limits_upper", "(d2 + sigma_multiple * d3) * sigma_within", spread, self.spread_limits.upper),
        ]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "center": "mean of all readings" if options["center"] is None else "given",
                "sigma_within": "mean range over d2" if options["sigma_within"] is None else "given",
                "rules": (", ".join(options["rules"]) or "none") + ", on the distance of each average in its own sigma",
                "range chart": "one point beyond the limit only",
            },
            sources=_SOURCES,
        )


def subgroup_signals(
    values: Any,
    *,
    unit: str,
    subgroup_size: int,
    center: float | None = None,
    sigma_within: float | None = None,
    sigma_multiple: float = 3.0,
    rules: Sequence[str] | str = BEYOND_LIMITS,
    keep_points: bool = False,
    threads: int = 0,
) -> SubgroupSignals:
    """Find the signals of very many equal subgroups, all of which take part, without the arrays of ``subgroup_chart``.

    The limits and the signals are those of ``subgroup_chart``. With ``center`` and ``sigma_within`` given, one pass over the
    readings is enough.

    Parameters
    ----------
    values : array or sequence
        Finite readings in production order, one subgroup after the other. A contiguous float64 array is not copied.
    unit : str
        Unit of the readings.
    subgroup_size : int
        Readings a subgroup, 2 or more.
    center, sigma_within : float, optional
        Given values instead of those estimated from the data; ``sigma_within`` is that of single readings.
    sigma_multiple : float
        Distance of the limits from the center, in sigma of the point. The rule "one point beyond 3 sigma" follows it.
    rules : sequence of rule words
        What counts as a signal of the averages, see ``steadyfilm.run_rules``.
    keep_points : bool
        Whether the result holds ``means`` and ``ranges``.
    threads : int
        Most threads; 0: as many as the processor runs at once. The result is the same for all.

    Raises
    ------
    InvalidInputError
        A reading that is not finite, readings that do not fill the subgroups, or options out of their domain.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1; formulas in cpp/methods/chart_subgroup.md.

    Examples
    --------
    >>> film = [2.11, 2.03, 2.14, 2.09, 2.16, 2.05, 2.08, 2.13, 2.04, 2.12, 2.02, 2.10, 2.06, 2.15, 2.11, 2.31, 2.38, 2.29]
    >>> found = subgroup_signals(film, unit="mil", subgroup_size=3)
    >>> found.signals.point.tolist(), round(found.limits.upper, 3)
    ([5], 2.232)
    """
    check_options(subgroup_signals, locals())
    readings = numbers(values, "values")
    if subgroup_size < 2:
        raise InvalidInputError(f"subgroup_size must be 2 or more, got {subgroup_size}", argument="subgroup_size")
    words = rules_for(rules, sigma_multiple)
    groups = readings.size // subgroup_size if keep_points else 0
    means, ranges = np.empty(groups), np.empty(groups)
    found = _core.subgroup_signals(
        readings, subgroup_size, center, sigma_within, sigma_multiple, list(words), threads, means, ranges
    )
    made = Made(
        function="subgroup_signals",
        unit=unit,
        count=readings.size,
        options={
            "subgroup_size": subgroup_size,
            "center": center,
            "sigma_within": sigma_within,
            "sigma_multiple": sigma_multiple,
            "rules": list(words),
        },
        version=_core.version,
    )
    kept = {"means": means, "ranges": ranges} if keep_points else {"means": None, "ranges": None}
    return build(SubgroupSignals, found, made=made, **kept)
