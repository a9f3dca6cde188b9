"""What is used of a chemical for the area painted, or an hour run, on a chart of individuals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural, with_unit
from steadyfilm._gauge_columns import numbers_beside
from steadyfilm._input import column_of, pause, readings, times
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm._wash_sums import CARE, PAGE
from steadyfilm.chart_individuals import IndividualsChart, individuals_chart
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS

__all__ = ["Consumption", "consumption_chart"]


@dataclass(frozen=True, eq=False, repr=False)
class Consumption(Result):
    """What is used for the area painted, or an hour run: a chart of the rate, one point an interval.

    Attributes
    ----------
    chart : IndividualsChart
        Of the rates.
    used, exposure : array
        Of each charted interval: amount, and area or hours.
    left_out : int
        Intervals without area or hours, or longer than the longest gap.
    used_left_out : float
        Amount used in them.
    baseline_count : int
        First intervals from which center and limits come; 0: all of them.
    first_signal, first_out_of_band : str
        End of the first interval beyond the limits, and time of the first titration outside its band; empty if none.
    lead_hours : float
        From the first to the second; NaN if either is missing.
    """

    chart: IndividualsChart
    used: NDArray[np.float64]
    exposure: NDArray[np.float64]
    left_out: int
    used_left_out: float
    baseline_count: int
    first_signal: str
    first_out_of_band: str
    lead_hours: float

    @property
    def limits(self) -> ControlLimits:
        """Lines of the chart."""
        return self.chart.limits

    def sentence(self) -> str:
        unit = self.made.unit
        usual = f"usual {with_unit(self.chart.limits.center, unit, 3)}"
        limits = f"limits {number(self.chart.limits.lower, 3)} to {number(self.chart.limits.upper, 3)}"
        head = plural(self.chart.count, "interval")
        band = ""
        if self.first_out_of_band:
            band = f"; a titration leaves its band at {self.first_out_of_band.replace('T', ' ')}"
            if self.lead_hours > 0:
                band += f", {number(round(self.lead_hours, 1))} h later"
        if not self.chart.signals:
            return f"Use is steady over {head}: {usual}, {limits}{band}."
        at = self.chart.signals[0].point
        value = float(self.chart.values[at])
        way = "nothing is used" if value == 0.0 else f"use {'rises' if value > self.chart.limits.center else 'falls'} to "
        shown = way if value == 0.0 else f"{way}{with_unit(value, unit, 3)}"
        when = f" up to {self.first_signal.replace('T', ' ')}" if self.first_signal else ""
        return f"Use changed: {shown} in interval {at + 1} of {head}{when} ({usual}, {limits}){band}."

    def _columns(self) -> dict[str, Any]:
        columns: dict[str, Any] = {} if self.chart.time is None else {"time": self.chart.time}
        marked = {signal.point for signal in self.chart.signals}
        return columns | {
            "used": self.used,
            "exposure": self.exposure,
            "rate": self.chart.values,
            "lower": np.full(self.used.size, self.chart.limits.lower),
            "upper": np.full(self.used.size, self.chart.limits.upper),
            "signal": [k in marked for k in range(self.used.size)],
        }

    def explain(self) -> Explanation:
        limits = self.chart.limits
        inputs = {"center": limits.center, "sigma_within": self.chart.sigma_within}
        last = {"used": float(self.used[-1]), "exposure": float(self.exposure[-1])}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("last_rate", "used / exposure", last, float(self.chart.values[-1])),
                Step("limits_lower", "center - 3 * sigma_within", inputs, limits.lower),
                Step("limits_upper", "center + 3 * sigma_within", inputs, limits.upper),
            ),
            choices={
                "limits": f"from the first {self.baseline_count} intervals" if self.baseline_count else "from all intervals",
                "left out": f"{plural(self.left_out, 'interval')} without area or hours, or across a pause; "
                f"{number(self.used_left_out)} used in them",
                "care": CARE,
            },
            sources=(PAGE, "cpp/methods/chart_individuals.md"),
        )


def consumption_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    per: str,
    exposure: Any = None,
    time: Any = None,
    metered: bool = True,
    longest_gap: timedelta | None = None,
    baseline: int = 0,
    rules: Sequence[str] = BEYOND_LIMITS,
    titrations: Sequence[float] | None = None,
    titration_time: Any = None,
    lower_percent: float | None = None,
    upper_percent: float | None = None,
) -> Consumption:
    """Has the use of a chemical changed? Amounts for the area painted, or the hours run, on a chart of individuals.

    A stuck pump, a leak or more drag-out changes the use at once, and the concentration only after hours of decay: this chart
    sees it before a titration leaves its band.

    Parameters
    ----------
    data : table, series, array or sequence
        Readings of a meter that counts on, in order of time; or amounts, one an interval (``metered=False``).
    unit, per : str
        Of the amounts and of what they are used for: ``"gal"`` and ``"h"``, or ``"gal"`` and ``"ft2"``.
    exposure : column name or sequence of numbers, optional
        Area painted or hours run in the interval that ends at each row; without it the hours between readings, from ``time``.
    time : column name or sequence, optional
        Local times, ascending.
    longest_gap : timedelta, optional
        A longer interval is a pause and no point; needs ``time``.
    baseline : int
        So many first intervals give center and limits; 0 for all.
    rules : sequence of rule words
        What counts as a signal.
    titrations, titration_time, lower_percent, upper_percent : optional
        Concentrations of the bath with their times and band, to tell how much earlier the chart saw it.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, times out of order.
    InvalidInputError
        A meter that runs backwards, fewer than two intervals, neither exposure nor times.

    Examples
    --------
    >>> meter = [0.0, 0.71, 1.44, 2.15, 2.88, 3.58, 3.58, 3.58]
    >>> when = [f"2026-03-02 {6 + 2 * k:02d}:00" for k in range(8)]
    >>> print(consumption_chart(meter, unit="gal", per="h", time=when, baseline=5).sentence())
    Use changed: nothing is used in interval 6 of 7 intervals up to 2026-03-02 18:00 (usual 0.358 gal/h, limits 0.328 to 0.388).
    """
    given = readings(data, column)
    stamps = None if time is None else times(column_of(data, time) if isinstance(time, str) else time)
    if stamps is not None and stamps.size != given.values.size:
        raise InvalidInputError(f"time has {stamps.size} rows, the readings have {given.values.size}", argument="time")
    shift = 1 if metered else 0
    used = _core.metered_use(given.values) if metered else given.values
    if stamps is not None and (np.isnat(stamps).any() or (np.diff(stamps) <= np.timedelta64(0, "us")).any()):
        raise InvalidInputError("time must rise from row to row and be there in each", argument="time")
    if longest_gap is not None and (stamps is None or not metered):
        raise InvalidInputError("longest_gap needs time, and readings of a meter", argument="longest_gap")
    if exposure is not None:
        amounts = numbers_beside(data, given, exposure, "exposure")[shift:]
    elif stamps is not None and metered:
        amounts = np.diff(stamps) / np.timedelta64(1, "h")
    else:
        raise InvalidInputError("give exposure, area or hours of each interval, or time with a meter", argument="exposure")
    rates = _core.use_rates(np.ascontiguousarray(used), np.ascontiguousarray(amounts))
    keep = np.isfinite(rates)
    if longest_gap is not None and stamps is not None:
        keep &= np.diff(stamps) <= pause(longest_gap)
    ends = None if stamps is None else stamps[shift:][keep]
    points = rates[keep]
    if points.size < 2 or not 0 <= baseline <= points.size or baseline == 1:
        raise InvalidInputError(
            f"{plural(int(points.size), 'interval')} with area or hours, baseline {baseline}: two or more are needed",
            argument="baseline",
        )
    lines: dict[str, Any] = {"unit": f"{unit}/{per}", "time": ends, "rules": rules, "point": "interval"}
    if baseline:
        usual = individuals_chart(points[:baseline], unit=lines["unit"])
        lines |= {"center": usual.limits.center, "sigma_within": usual.sigma_within}
    chart = individuals_chart(points, **lines)
    first = "" if not chart.signals or ends is None else str(ends[chart.signals[0].point].astype("datetime64[m]"))
    out = _first_out(titrations, titration_time, lower_percent, upper_percent)
    lead = float((np.datetime64(out) - np.datetime64(first)) / np.timedelta64(1, "h")) if first and out else math.nan
    made = Made(
        function="consumption_chart",
        unit=f"{unit}/{per}",
        count=int(points.size),
        frame=given.frame,
        options={"metered": metered, "baseline": baseline, "lower": lower_percent, "upper": upper_percent},
        version=_core.version,
    )
    return Consumption(
        made=made,
        chart=chart,
        used=frozen(used[keep]),
        exposure=frozen(amounts[keep]),
        left_out=int((~keep).sum()),
        used_left_out=float(used[~keep].sum()),
        baseline_count=baseline,
        first_signal=first,
        first_out_of_band=out,
        lead_hours=lead,
    )


def _first_out(values: Sequence[float] | None, time: Any, lower: float | None, upper: float | None) -> str:
    """Time of the first titration outside its band."""
    given = [item is not None for item in (values, time)]
    if not any(given) and lower is None and upper is None:
        return ""
    if not all(given) or (lower is None and upper is None):
        raise InvalidInputError("titrations need their times and a limit of their band", argument="titrations")
    found, stamps = readings(values, name="titrations").values, times(time, name="titration_time")
    if found.size != stamps.size:
        raise InvalidInputError(f"titration_time has {stamps.size} rows, titrations have {found.size}", argument="titration_time")
    out = (found < (-math.inf if lower is None else lower)) | (found > (math.inf if upper is None else upper))
    return str(stamps[out].min().astype("datetime64[m]")) if out.any() else ""
