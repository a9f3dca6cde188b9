"""A gauge on certified standards: does it read them within the combined tolerance, and does that stay so?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._derived_layers import cell_means
from steadyfilm._format import decimals_for, fixed, number, plural, with_unit
from steadyfilm._gauge_columns import bias_words, joint_labels, numbers_beside
from steadyfilm._input import column_of, readings, times
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.chart_ewma import EwmaChart, ewma_chart
from steadyfilm.chart_individuals import IndividualsChart, individuals_chart
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = [
    "CheckStandardCharts",
    "CheckStream",
    "CheckedStandard",
    "Verification",
    "check_standard_charts",
    "verification_limit",
    "verify_gauge",
]

_PAGE = "cpp/methods/gauge_bias.md"


@dataclass(frozen=True)
class CheckedStandard:
    """A gauge on one certified standard, in the unit of the data.

    Attributes
    ----------
    limit : float
        Root sum of squares of what gauge and standard are allowed.
    deviation, worst_deviation : float
        Of the mean of the readings, and of the single reading furthest off, from the stated value.
    passes : bool
        Within the limit; on it counts as within.
    """

    standard: str
    stated: float
    gauge_tolerance: float
    standard_tolerance: float
    limit: float
    count: int
    mean: float
    deviation: float
    worst_deviation: float
    passes: bool


@dataclass(frozen=True, eq=False, repr=False)
class Verification(Result):
    """A gauge on certified standards: ``passes`` when it reads all of them within the combined tolerance."""

    standards: tuple[CheckedStandard, ...]
    passes: bool
    failed_count: int

    def sentence(self) -> str:
        unit = self.made.unit
        total = plural(len(self.standards), "standard")
        judged = "worst_deviation" if self.made.options["judge"] == "each" else "deviation"
        near = max(self.standards, key=lambda one: abs(getattr(one, judged)) / one.limit if one.limit > 0 else math.inf)
        decimals = decimals_for(near.limit) + 1
        off, most = getattr(near, judged), f"{fixed(near.limit, decimals)} {unit}".rstrip()
        where = f"{near.standard} ({with_unit(near.stated, unit)})"
        shown = f"{off:+.{decimals}f} of ±{most}"
        if self.passes:
            return (
                f"The gauge reads {total} within the combined tolerance, closest to its limit on {where}: {shown}; a gauge that "
                f"just passes may read {most} off there."
            )
        head = f"The gauge fails on {self.failed_count} of {total}, worst on {where}: {shown}"
        return f"{head}; readings since its last good check are in doubt."

    def _columns(self) -> dict[str, Any]:
        names = ("standard", "stated", "count", "mean", "deviation", "worst_deviation", "limit", "passes")
        return {name: [getattr(one, name) for one in self.standards] for name in names}

    def explain(self) -> Explanation:
        passed = {"standard_count": float(len(self.standards)), "passed": float(sum(one.passes for one in self.standards))}
        steps = [Step("failed_count", "standard_count - passed", passed, self.failed_count)]
        for k, one in enumerate(self.standards, 1):
            parts = {"gauge_tolerance": one.gauge_tolerance, "standard_tolerance": one.standard_tolerance}
            rule = "sqrt(gauge_tolerance * gauge_tolerance + standard_tolerance * standard_tolerance)"
            steps.append(Step(f"limit_{k}", rule, parts, one.limit))
            steps.append(Step(f"deviation_{k}", "mean - stated", {"mean": one.mean, "stated": one.stated}, one.deviation))
        options, unit = self.made.options, self.made.unit

        def allowed(kind: str) -> str:
            return f"{number(options[f'{kind}_percent'])} % of the value + {with_unit(options[f'{kind}_absolute'], unit)}"

        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "gauge": allowed("gauge"),
                "standard": allowed("standard"),
                "judged": "every reading" if options["judge"] == "each" else "the mean of the readings",
                "comparison": "to 1e-9 of the value, so that a limit that is met exactly is met",
                "meaning": "a gauge that passes is not thereby fit for a narrow window: compare the limit with the window",
            },
            sources=(_PAGE, "combined tolerance by root sum of squares: practice of coating gauge verification (from memory)"),
        )


@dataclass(frozen=True)
class CheckStream:
    """The checks of one gauge, or gauge and substrate, in order: chart of the deviations and its EWMA."""

    stream: str
    readings: NDArray[np.int64]
    """Of each check."""
    chart: IndividualsChart
    ewma: EwmaChart


@dataclass(frozen=True, eq=False, repr=False)
class CheckStandardCharts(Result):
    """Checks of gauges on certified standards over time: reading less stated value, one chart a gauge and substrate."""

    streams: tuple[CheckStream, ...]
    check_count: int

    def sentence(self) -> str:
        unit = self.made.unit
        loud = [one for one in self.streams if one.chart.signals or one.ewma.signals]
        head = f"{plural(self.check_count, 'check')} of {plural(len(self.streams), 'gauge stream')}"
        if not loud:
            return f"{head}: none leaves its limits."
        parts = []
        for one in loud[:3]:
            own = one.chart.signals or one.ewma.signals
            at = own[0].point
            value = float(one.chart.values[at])
            when = "" if one.chart.time is None else f", {str(one.chart.time[at].astype('datetime64[m]')).replace('T', ' ')}"
            what = "lies beyond the limits" if one.chart.signals else "brings the EWMA beyond its limits"
            decimals = decimals_for(max(one.chart.sigma_within, 1e-6))
            shown = f"{fixed(abs(value), decimals)} {unit}".rstrip()
            parts.append(f"{one.stream} read {shown} {bias_words(value)} at check {at + 1}{when}, which {what}")
        more = f"; {len(loud) - 3} more" if len(loud) > 3 else ""
        return f"{head}, {len(loud)} with signals: {'; '.join(parts)}{more}."

    def _columns(self) -> dict[str, Any]:
        sizes = [one.chart.values.size for one in self.streams]
        columns: dict[str, Any] = {
            "stream": [one.stream for one, size in zip(self.streams, sizes, strict=True) for _ in range(size)],
            "check": np.concatenate([np.arange(1, size + 1) for size in sizes]),
        }
        if all(one.chart.time is not None for one in self.streams):
            columns["time"] = np.concatenate([one.chart.time for one in self.streams if one.chart.time is not None])
        columns["readings"] = np.concatenate([one.readings for one in self.streams])
        columns["deviation"] = np.concatenate([one.chart.values for one in self.streams])
        for name in ("lower", "center", "upper"):
            lines = [np.full(size, getattr(one.chart.limits, name)) for one, size in zip(self.streams, sizes, strict=True)]
            columns[name] = np.concatenate(lines)
        columns["ewma"] = np.concatenate([one.ewma.ewma for one in self.streams])
        for name in ("chart", "ewma"):
            marked = [{signal.point for signal in getattr(one, name).signals} for one in self.streams]
            columns[f"{name}_signal"] = [k in own for own, size in zip(marked, sizes, strict=True) for k in range(size)]
        return columns

    def explain(self) -> Explanation:
        counts = {f"stream_{k}": float(one.chart.count) for k, one in enumerate(self.streams, 1)}
        steps = [Step("check_count", " + ".join(counts), counts, self.check_count)]
        for k, one in enumerate(self.streams, 1):
            lines = {"center": one.chart.limits.center, "sigma_within": one.chart.sigma_within}
            multiple = {**lines, "sigma_multiple": float(self.made.options["sigma_multiple"])}
            rule = "center + sigma_multiple * sigma_within"
            steps.append(Step(f"stream_{k}_limits_upper", rule, multiple, one.chart.limits.upper))
        given = self.made.options["center"]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "streams": ", ".join(one.stream for one in self.streams),
                "point": "one check: mean of reading less stated value",
                "center": "mean of the checks of a stream: a lasting bias is not a signal; bias_test tells it"
                if given is None
                else f"{with_unit(given, self.made.unit)}, given",
                "charts": "individuals with limits from moving ranges, and EWMA beside it; each stream has its own false calls",
            },
            sources=(_PAGE, "cpp/methods/chart_individuals.md", "cpp/methods/chart_ewma.md"),
        )


def verification_limit(gauge_tolerance: float, standard_tolerance: float) -> float:
    """Combined limit of a gauge and the standard it is checked on: root sum of squares, in any unit or in percent.

    Examples
    --------
    >>> round(verification_limit(5.0, 5.0), 2)
    7.07
    """
    return _core.verification_limit(gauge_tolerance, standard_tolerance)


def verify_gauge(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    stated: Any,
    standard: Any = None,
    gauge_percent: float = 0.0,
    gauge_absolute: float = 0.0,
    standard_percent: float = 0.0,
    standard_absolute: float = 0.0,
    judge: str = "mean",
    missing: str = "error",
) -> Verification:
    """Does a gauge read certified standards within the combined tolerance of both?

    Parameters
    ----------
    data : table, series, array or sequence
        Readings on the standards; a table needs ``column``.
    unit : str
        Unit of readings and stated values.
    stated : column name, sequence of numbers, or number
        Stated value of the standard of each reading.
    standard : column name or sequence of labels, optional
        Which standard; by default one each stated value.
    gauge_percent, gauge_absolute : float
        What the maker allows the gauge: percent of the value plus a length.
    standard_percent, standard_absolute : float
        What the certificate allows the standard.
    judge : {"mean", "each"}
        Whether the mean of the readings on a standard must lie within the limit, or every one of them.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, a standard with two stated values; with column, row and value.
    InvalidInputError
        No tolerance at all, a negative one.

    Notes
    -----
    Passing says that gauge and standards agree within what both are allowed. It does not make a gauge fit for a window that is
    narrower than that.

    Examples
    --------
    >>> log = {"shim": [1.97, 1.97, 3.94, 3.94], "shown": [2.02, 2.03, 4.01, 3.99]}
    >>> print(verify_gauge(log, "shown", unit="mil", stated="shim", gauge_percent=5, standard_percent=5).sentence())
    The gauge reads 2 standards within the combined tolerance, closest to its limit on 1.97 (1.97 mil): +0.055 of ±0.139 mil; a \
gauge that just passes may read 0.139 mil off there.
    """
    if judge not in ("mean", "each"):
        raise InvalidInputError(f"judge must be 'mean' or 'each', got {judge!r}", argument="judge")
    allowed = {
        "gauge_percent": gauge_percent,
        "gauge_absolute": gauge_absolute,
        "standard_percent": standard_percent,
        "standard_absolute": standard_absolute,
    }
    if not any(allowed.values()):
        raise InvalidInputError(
            "a tolerance is needed: what the maker allows the gauge, and the certificate the standard", argument="gauge_percent"
        )
    given = readings(data, column, missing=missing)
    known = numbers_beside(data, given, stated, "stated")
    names = (
        np.array([number(float(x), 10) for x in known], dtype=object)
        if standard is None
        else joint_labels(data, given, [standard])
    )
    found = []
    for name in dict.fromkeys(names.tolist()):
        own = names == name
        values = set(known[own].tolist())
        if len(values) > 1:
            row = int(given.rows[np.flatnonzero(own)[-1]]) + 1
            raise DataProblemsError(
                [DataProblem("stated", row, "", f"standard '{name}' has several stated values: {sorted(values)}")]
            )
        value = values.pop()
        gauge_part = gauge_percent / 100.0 * abs(value) + gauge_absolute
        standard_part = standard_percent / 100.0 * abs(value) + standard_absolute
        limit = _core.verification_limit(gauge_part, standard_part)
        checked = _core.check_standard(np.ascontiguousarray(given.values[own]), value, limit, judge == "each")
        parts = {"gauge_tolerance": gauge_part, "standard_tolerance": standard_part, "limit": limit}
        found.append(build(CheckedStandard, {**checked, **parts}, standard=name, stated=value))
    if not found:
        raise InvalidInputError("there is no reading on a standard", argument="data")
    made = Made(
        function="verify_gauge",
        unit=unit,
        count=int(given.values.size),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={**allowed, "judge": judge, "missing": missing},
        version=_core.version,
    )
    failed = sum(not one.passes for one in found)
    return Verification(made=made, standards=tuple(found), passes=failed == 0, failed_count=failed)


def check_standard_charts(
    data: Any,
    column: str,
    *,
    unit: str,
    stated: str,
    stream: str | Sequence[str],
    check: str | None = None,
    time: str | None = None,
    center: float | None = None,
    sigma_within: float | None = None,
    sigma_multiple: float = 3.0,
    smoothing: float = 0.2,
    missing: str = "error",
) -> CheckStandardCharts:
    """Does a gauge stay as it is? One chart of its checks on certified standards for each gauge and substrate.

    Parameters
    ----------
    data : table
        One row a reading on a standard, in the order of the checks.
    column, stated : str
        Columns of the readings and of the standards' stated values.
    unit : str
        Unit of both.
    stream : column name or names
        What has a chart of its own: gauge, or gauge and substrate. Substrates are separate measuring systems.
    check : str, optional
        Column that says which check a reading belongs to; by default its ``time``, or else each row is a check.
    time : str, optional
        Column of times, ascending within a stream.
    center, sigma_within : float, optional
        Of all charts, in place of each stream's own: ``center=0`` asks whether the gauge reads true, not whether it stays.
    sigma_multiple : float
        Distance of the limits from the center, for both charts.
    smoothing : float
        Of the EWMA.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, times out of order; with column, row and value.
    InvalidInputError
        A stream with a single check and no ``sigma_within``.

    Examples
    --------
    >>> log = {
    ...     "gauge": ["Q"] * 8,
    ...     "shim": [2.0] * 8,
    ...     "shown": [2.01, 2.00, 2.02, 2.01, 2.00, 2.01, 2.16, 2.01],
    ... }
    >>> found = check_standard_charts(log, "shown", unit="mil", stated="shim", stream="gauge", center=0.01, sigma_within=0.01)
    >>> print(found.sentence())
    8 checks of 1 gauge stream, 1 with signals: Q read 0.160 mil high at check 7, which lies beyond the limits.
    """
    given = readings(data, column, missing=missing)
    deviation = given.values - numbers_beside(data, given, stated, "stated")
    names = joint_labels(data, given, stream)
    stamps = None if time is None else times(column_of(data, time), name=time)[given.rows]
    if check is not None:
        checks = joint_labels(data, given, [check])
    elif stamps is not None:
        checks = stamps.astype(str).astype(object)
    else:
        checks = np.arange(given.values.size).astype(object)
    found = []
    for name in dict.fromkeys(names.tolist()):
        own = np.flatnonzero(names == name)
        first: dict[Any, int] = {}
        index = np.array([first.setdefault(checks[i], len(first)) for i in own], dtype=np.int64)
        means, counts, _ = cell_means(deviation[own], index, len(first))
        starts = own[np.unique(index, return_index=True)[1]]
        lines: dict[str, Any] = {"unit": unit, "center": center, "point": "check", "sigma_multiple": sigma_multiple}
        lines["time"] = None if stamps is None else stamps[starts]
        if len(first) < 2 and sigma_within is None:
            raise InvalidInputError(
                f"'{name}' has a single check: two are needed to see how checks vary, or give sigma_within", argument="data"
            )
        chart = individuals_chart(means, sigma_within=sigma_within, **lines)
        ewma = ewma_chart(means, sigma_point=sigma_within, smoothing=smoothing, **lines)
        found.append(CheckStream(name, counts, chart, ewma))
    if not found:
        raise InvalidInputError("there is no check", argument="data")
    made = Made(
        function="check_standard_charts",
        unit=unit,
        count=int(given.values.size),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "column": column,
            "stated": stated,
            "stream": [stream] if isinstance(stream, str) else list(stream),
            "check": check,
            "time": time,
            "center": center,
            "sigma_within": sigma_within,
            "sigma_multiple": sigma_multiple,
            "smoothing": smoothing,
            "missing": missing,
        },
        version=_core.version,
    )
    return CheckStandardCharts(made=made, streams=tuple(found), check_count=sum(one.chart.count for one in found))
