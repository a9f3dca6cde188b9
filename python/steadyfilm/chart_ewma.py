"""EWMA chart: the exponentially weighted moving average of single values, for small lasting shifts."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._chart import chart_points, decimals_between, mark, place, point_columns, rows_left_out
from steadyfilm._format import fixed, plural, with_unit
from steadyfilm._input import check_options, readings
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import ConstantDataWarning, InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import Signal

__all__ = ["EwmaChart", "ewma_chart"]

_LIMITS = ("time_varying", "asymptotic")
_SIDES = {1: "above", -1: "below"}


@dataclass(frozen=True, eq=False, repr=False)
class EwmaChart(Result):
    """EWMA of single values with its limits, in the unit of the data unless said.

    Arrays have one element a row of the data, as in ``IndividualsChart``. ``ewma`` is carried over rows that take no part and
    restarts at the center after a break. ``lower`` and ``upper`` are the limits at each point, ``limits`` their end value.
    ``standardized_ewma`` is (ewma - center) / sigma_point. ``degrees_of_freedom`` are those of ``sigma_point``, NaN when it was
    given. In ``signals``, ``point`` counts from 0 and ``length`` the points since the EWMA came to that side of the center.
    """

    _plot: ClassVar[str] = "chart_ewma:plot_ewma"

    limits: ControlLimits
    sigma_point: float
    count: int
    sum: float
    moving_range_count: int
    moving_range_sum: float
    divisor: float
    degrees_of_freedom: float
    ewma: NDArray[np.float64]
    standardized_ewma: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    values: NDArray[np.float64]
    time: NDArray[np.datetime64] | None
    takes_part: NDArray[np.bool_]
    break_before: NDArray[np.bool_]
    signals: tuple[Signal, ...]

    @property
    def center(self) -> float:
        """The middle line, where the EWMA starts."""
        return self.limits.center

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        if self.sigma_point == 0.0 and not self.signals:
            who = plural(self.count, options["point"])
            return f"All {who} are {with_unit(self.center, unit)}: there is no spread to set limits from."
        decimals = decimals_between(self.limits)

        def shown(value: float) -> str:
            return f"{fixed(value, decimals)} {unit}".rstrip()

        who = f"The EWMA (smoothing {options['smoothing']:g}) of {plural(self.count, options['point'])}"
        lines = f"its limits of {fixed(self.limits.lower, decimals)} to {shown(self.limits.upper)}"
        end = f"it ends at {shown(float(self.ewma[-1]))} against a center of {shown(self.center)}"
        if not self.signals:
            return f"{who} stays within {lines}; {end}."
        first = self.signals[0]
        since = f", {'high' if first.side == 'above' else 'low'} since point {first.point - first.length + 2}"
        where = f"{first.side} at {place(first.point, self.time)}{since if first.length > 1 else ''}"
        if len(self.signals) > 1:
            where = f"at {plural(len(self.signals), 'point')}, first {where}"
        return f"{who} leaves {lines} {where}; {end}."

    def _columns(self) -> dict[str, Any]:
        height = self.values.size
        return {
            **point_columns(self.values, self.time, self.takes_part, self.break_before),
            "ewma": self.ewma,
            "lower": self.lower,
            "center": np.full(height, self.limits.center),
            "upper": self.upper,
            "standardized_ewma": self.standardized_ewma,
            "signals": mark(self.signals, height),
        }

    def explain(self) -> Explanation:
        options = self.made.options
        steps: list[Step] = []
        if options["center"] is None:
            steps.append(Step("center", "sum / count", {"sum": self.sum, "count": self.count}, self.center))
        if options["sigma_point"] is None:
            inputs = {
                "moving_range_sum": self.moving_range_sum,
                "moving_range_count": self.moving_range_count,
                "divisor": self.divisor,
            }
            steps.append(Step("sigma_point", "moving_range_sum / moving_range_count / divisor", inputs, self.sigma_point))
        smoothing = float(options["smoothing"])
        values = {
            "center": self.center,
            "sigma_multiple": float(options["sigma_multiple"]),
            "sigma_point": self.sigma_point,
            "smoothing": smoothing,
        }
        width = "sigma_multiple * sigma_point * sqrt(smoothing / (2 - smoothing))"
        last = int(np.flatnonzero(self.takes_part)[-1])
        before = self.center if last == 0 or self.break_before[last] else float(self.ewma[last - 1])
        course = {"smoothing": smoothing, "value": float(self.values[last]), "ewma_before": before}
        steps += [
            Step("limits_lower", f"center - {width}", values, self.limits.lower),
            Step("limits_upper", f"center + {width}", values, self.limits.upper),
            Step("ewma_of_last_value", "smoothing * value + (1 - smoothing) * ewma_before", course, float(self.ewma[last])),
        ]
        varying = "widen from each restart: the width above times sqrt(1 - (1 - smoothing)^(2 i)) at the i-th point"
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "center": "mean of the values that take part" if options["center"] is None else "given",
                "sigma_point": "mean moving range of 2 over d2" if options["sigma_point"] is None else "given",
                "limits": varying if options["limits"] == "time_varying" else "at their end value throughout",
                "start": "at the center, and there again after each break",
                "breaks": f"{int(self.break_before.sum())}",
                "rows left out": rows_left_out(options["excluded_rows"], self.made.missing_rows)
                + "; the EWMA is carried over them",
            },
            sources=(
                "cpp/methods/chart_ewma.md",
                "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 EWMA control charts",
            ),
        )


def ewma_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    smoothing: float = 0.2,
    sigma_multiple: float = 3.0,
    center: float | None = None,
    sigma_point: float | None = None,
    limits: str = "time_varying",
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
    point: str = "reading",
    missing: str = "error",
) -> EwmaChart:
    """Chart the exponentially weighted moving average of single values in production order.

    z_i = smoothing x_i + (1 - smoothing) z_(i-1), starting at the center. It answers to small lasting shifts that a chart of
    single values shows late. A missing or excluded row leaves it where it is; after a gap or at a new period it starts at the
    center again.

    Parameters
    ----------
    data : table, series, array or sequence
        One value a row, in production order; a table needs ``column``.
    unit : str
        Unit of the values, for example ``"mil"``.
    smoothing : float
        Weight of the newest value, above 0 and at most 1.
    sigma_multiple : float
        Distance of the limits from the center, in standard deviations of the EWMA.
    center, sigma_point : float, optional
        Given values instead of the mean and of the mean moving range of 2 over d2, in the unit of the data.
    limits : {"time_varying", "asymptotic"}
        Limits that start narrow after each restart, as the EWMA does, or their end value throughout.
    time, period, excluded, longest_gap, point
        As in ``individuals_chart``.
    missing : {"error", "drop"}
        Missing readings are refused; or their points stay empty.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, times out of order; with column, row and value.
    InvalidInputError
        Options out of their domain, or no two neighbors to estimate sigma from.

    Warns
    -----
    ConstantDataWarning
        The moving ranges give a spread of 0.

    Notes
    -----
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; formulas in cpp/methods/chart_ewma.md.

    Examples
    --------
    >>> film = [2.12, 2.06, 2.11, 2.08, 2.17, 2.15, 2.19, 2.16, 2.20]
    >>> chart = ewma_chart(film, unit="mil", center=2.1, sigma_point=0.04)
    >>> print(chart.sentence())
    The EWMA (smoothing 0.2) of 9 readings leaves its limits of 2.060 to 2.140 mil above at point 9, high since point 5; it ends \
at 2.150 mil against a center of 2.100 mil.
    """
    check_options(ewma_chart, locals())
    if limits not in _LIMITS:
        raise InvalidInputError(f"limits must be 'time_varying' or 'asymptotic', got {limits!r}", argument="limits")
    given = readings(data, column, missing=missing)
    points = chart_points(given, data, time=time, period=period, excluded=excluded, longest_gap=longest_gap)
    found = _core.ewma_chart(
        points.values,
        points.takes_part.view(np.uint8),
        points.break_before.view(np.uint8),
        smoothing,
        sigma_multiple,
        limits == "time_varying",
        center,
        sigma_point,
    )
    if found["sigma_point"] == 0.0 and sigma_point is None:
        text = f"neighbors in '{given.name}' are all equal: sigma_point is 0 and both limits lie on the center"
        warnings.warn(text, ConstantDataWarning, stacklevel=2)
    rule = f"ewma{smoothing:.12g}_beyond{sigma_multiple:.12g}"
    signals = zip(*(found.pop(f"signal_{name}").tolist() for name in ("points", "sides", "lengths")), strict=True)
    made = Made(
        function="ewma_chart",
        unit=unit,
        count=found["count"],
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "smoothing": smoothing,
            "sigma_multiple": sigma_multiple,
            "center": center,
            "sigma_point": sigma_point,
            "limits": limits,
            "rules": [rule],
            "excluded_rows": points.excluded_rows,
            "point": point,
            "missing": missing,
        },
        version=_core.version,
    )
    return build(
        EwmaChart,
        found,
        made=made,
        values=points.values,
        time=points.time,
        takes_part=points.takes_part,
        break_before=points.break_before,
        signals=tuple(Signal(at, rule, _SIDES[side], length) for at, side, length in signals),
    )
