"""What a steady process looks like: the centers of its streams and the spread of its points.

``baseline(data, ...)`` estimates, ``points_for(found, new)`` gives each new point its center and sigma, ``monitor`` judges them,
and ``expected_episodes`` says how many episodes a steady process would show.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any, ClassVar, Literal

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._baseline_fit import AdditiveFit, NeighborSpread, bartlett_pvalue
from steadyfilm._callable import make_callable
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import check_options, labels, name_tuple, table
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import ConstantDataWarning, DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.monitor import MonitorLimits, MonitorPoints, monitor_points

__all__ = ["Baseline", "BaselineStream", "baseline", "points_for", "residual_days"]

Floats = NDArray[np.float64]
Labels = NDArray[np.object_]


@dataclass(frozen=True)
class BaselineStream:
    """One stream: its additive center with a confidence interval, and its limits if it has enough points for limits of its own.

    ``lower`` and ``upper`` are ``sigma_multiple`` sigma around the center; NaN, with the reason, without limits of its own.
    """

    stream: str
    count: int
    center: float
    center_lower: float
    center_upper: float
    sigma_point: float
    has_limits: bool
    lower: float
    upper: float
    reason: str


@dataclass(frozen=True, eq=False, repr=False)
class Baseline(Result):
    """Additive centers, the spread of plotted points, and what is left of the points, in the unit of the data.

    Attributes
    ----------
    mean : float
        Mean of the points that take part; every factor's effects average 0 over them.
    effects : dict of dict
        Column, level, effect. A point's expected value is ``mean`` plus its effects.
    sigma_point : float
        Standard deviation of a plotted point, pooled over the streams.
    spreads_pooled : bool
        Whether streams share ``sigma_point``; ``spread_pvalue`` is that of the test (NaN when there was none).
    residual_sd, degrees_of_freedom : float
        Root of the residual mean square; the base of the intervals.
    lag1_autocorrelation : float
        Of the residuals of neighbors in a stream; far from 0, points are not independent and intervals too narrow.
    confounded : tuple of str
        Columns whose effects the data cannot tell apart.
    residual : array
        What is left of each point, in its own sigma; NaN where it took no part.
    """

    _plot: ClassVar[str] = "baseline:plot_baseline"

    mean: float
    effects: dict[str, dict[str, float]]
    streams: tuple[BaselineStream, ...]
    sigma_point: float
    sigma_estimator: str
    mean_moving_range: float
    moving_range_count: int
    d2: float
    spreads_pooled: bool
    spread_pvalue: float
    residual_sd: float
    residual_sum_squares: float
    degrees_of_freedom: int
    lag1_autocorrelation: float
    confounded: tuple[str, ...]
    used_count: int
    sigma_multiple: float
    fewest_points: int
    columns: dict[str, tuple[str, ...]]
    longest_gap_hours: float | None
    stream: Labels
    residual: Floats
    time: NDArray[np.datetime64] | None
    period: Labels | None

    @property
    def limits(self) -> MonitorLimits:
        """Limits with the default rules of a review, for points that bring their own center and sigma."""
        return MonitorLimits(center=self.mean, sigma_point=self.sigma_point if self.sigma_point > 0.0 else 1.0)

    def sentence(self) -> str:
        unit, without = self.made.unit, [stream for stream in self.streams if not stream.has_limits]
        text = (
            f"{plural(self.used_count, 'baseline point')} in {plural(len(self.streams), 'stream')} average "
            f"{with_unit(self.mean, unit)}, standard deviation of a point {with_unit(self.sigma_point, unit, 3)}"
        )
        if not self.spreads_pooled:
            text += " on average, yet the streams spread differently and each has its own"
        if without:
            which = ", ".join(f"{stream.stream or 'all points'} ({stream.count})" for stream in without[:4])
            more = f" and {len(without) - 4} more" if len(without) > 4 else ""
            text += f"; no limits of their own for {which}{more}"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        names = list(BaselineStream.__dataclass_fields__)
        return {name: [getattr(stream, name) for stream in self.streams] for name in names}

    def explain(self) -> Explanation:
        freedom = {"residual_sum_squares": self.residual_sum_squares, "degrees_of_freedom": self.degrees_of_freedom}
        steps = [Step("residual_sd", "sqrt(residual_sum_squares / degrees_of_freedom)", freedom, self.residual_sd)]
        if self.sigma_estimator == "mean_moving_range":
            ranges = {"mean_moving_range": self.mean_moving_range, "d2": self.d2}
            steps.append(Step("sigma_point", "mean_moving_range / d2", ranges, self.sigma_point))
        elif self.sigma_estimator == "sd":
            steps.append(Step("sigma_point", "sqrt(residual_sum_squares / degrees_of_freedom)", freedom, self.sigma_point))
        limited = [stream for stream in self.streams if stream.has_limits]
        if limited:
            first = limited[0]
            inputs = {"center": first.center, "sigma_multiple": self.sigma_multiple, "sigma_point": first.sigma_point}
            steps.append(Step("first_upper", "center + sigma_multiple * sigma_point", inputs, first.upper))
        pooled = "pooled over the streams" if self.spreads_pooled else "one a stream: the spreads differ"
        tested = "no test" if math.isnan(self.spread_pvalue) else f"Bartlett's test, p = {number(self.spread_pvalue, 3)}"
        unclear = f"; not told apart: {', '.join(self.confounded)}" if self.confounded else ""
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "centers": f"additive effects by least squares, each factor's averaging 0 over the points{unclear}",
                "sigma_point": f"{self.sigma_estimator}; {pooled} ({tested})",
                "moving ranges": "of residuals of neighbors in a stream; not across gaps, new periods, points left out",
                "intervals": f"for independent points; residual lag-1 autocorrelation {number(self.lag1_autocorrelation, 2)}",
                "limits": f"a stream with fewer than {self.fewest_points} points has none of its own",
            },
            sources=("cpp/methods/monitor.md",),
        )


def baseline(
    data: Any,
    value: str,
    *,
    unit: str,
    stream: Sequence[str] | str = (),
    adjust: Sequence[str] | str = (),
    time: str | None = None,
    period: str | None = None,
    longest_gap: timedelta | None = None,
    excluded: str | None = None,
    sigma_estimator: Literal["mean_moving_range", "sd"] = "mean_moving_range",
    sigma_point: float | None = None,
    fewest_points: int = 20,
    spread_significance: float = 0.01,
    confidence_level: float = 0.95,
    sigma_multiple: float = 3.0,
    missing: str = "error",
) -> Baseline:
    """Centers and spread of a process from points that were plotted while it was steady.

    Parameters
    ----------
    data : table
        One row a plotted point, for example a unit average.
    value : str
        Column of the points.
    stream : column name or names
        Factors that are charted separately: each combination of levels is a stream. Their effects add up.
    adjust : column name or names
        Factors whose additive effects are taken out of every stream.
    time, period, longest_gap, excluded
        As in ``monitor_points``: order of a stream's points, and what no moving range crosses.
    sigma_estimator : {"mean_moving_range", "sd"}
        From moving ranges of the residuals over d2, or the root of the residual mean square.
    sigma_point : float, optional
        A known standard deviation of a plotted point, used for all streams.
    fewest_points : int
        A stream with fewer points gets no limits of its own.
    spread_significance : float
        Streams get a sigma each when Bartlett's test says that they differ at this level.

    Returns
    -------
    Baseline

    Warns
    -----
    ConstantDataWarning
        Nothing is left of the points after the effects, or of a stream's: sigma 0, no limits.

    Raises
    ------
    InvalidInputError
        Too few points for the levels, no two neighbors in any stream, options out of range.
    DataProblemsError
        Missing or unusable cells, with column, row and value.

    Examples
    --------
    >>> film = [2.06, 2.16, 2.02, 2.14, 2.07, 2.13, 2.03, 2.18]
    >>> found = baseline({"film": film, "gun": ["A", "B"] * 4}, "film", unit="mil", stream="gun", fewest_points=4)
    >>> [(stream.stream, round(stream.center, 4)) for stream in found.streams]
    [('A', 2.045), ('B', 2.1525)]
    """
    check_options(baseline, locals())
    if sigma_estimator not in ("mean_moving_range", "sd"):
        raise InvalidInputError(
            f"sigma_estimator must be 'mean_moving_range' or 'sd', got {sigma_estimator!r}", argument="sigma_estimator"
        )
    if sigma_point is not None and not (math.isfinite(sigma_point) and sigma_point > 0.0):
        raise InvalidInputError(f"sigma_point must be positive and finite, got {sigma_point}", argument="sigma_point")
    if not 0.0 < confidence_level < 1.0:
        raise InvalidInputError(f"confidence_level must lie between 0 and 1, got {confidence_level}", argument="confidence_level")
    stream, adjust = name_tuple(stream), name_tuple(adjust)
    if twice := set(stream) & set(adjust):
        raise InvalidInputError(f"{sorted(twice)} stand in both stream and adjust", argument="adjust")
    whole = table(data)
    points = monitor_points(
        whole,
        value,
        unit=unit,
        stream=stream or None,
        time=time,
        period=period,
        longest_gap=longest_gap,
        excluded=excluded,
        missing=missing,
    )
    factors = {name: _factor(whole, name) for name in stream + adjust}
    used = np.flatnonzero(points.takes_part)
    fit = AdditiveFit(points.value[used], {name: words[used] for name, words in factors.items()}, stream)
    residual = np.full(points.value.size, math.nan)
    residual[used] = fit.residual
    spread = NeighborSpread(points, residual)
    # One row of each stream tells its levels.
    row_of = {name: int(row) for row, name in zip(used[::-1], points.stream[used[::-1]].tolist(), strict=True)}
    names = sorted(row_of)
    counts = {name: int(np.sum(points.stream[used] == name)) for name in names}
    charted = [name for name in names if counts[name] >= fewest_points]

    if sigma_point is not None:
        estimator, pooled, own, pvalue = "given", float(sigma_point), {}, math.nan
    else:
        estimator = sigma_estimator
        own = spread.by_moving_range(charted) if estimator == "mean_moving_range" else fit.by_sd(points.stream[used], charted)
        pooled = spread.sigma if estimator == "mean_moving_range" else fit.sd
        pvalue = bartlett_pvalue(own)
    if estimator == "mean_moving_range" and spread.ranges.size == 0:
        raise InvalidInputError(
            "no stream has two neighbors, so there is no moving range: use sigma_estimator='sd' or give sigma_point",
            function="baseline",
            argument="stream",
        )
    apart = pvalue < spread_significance
    sigmas = {name: own[name][0] if apart and name in own else pooled for name in names}
    reach = _core.student_t_quantile(0.5 + confidence_level / 2, fit.freedom)
    streams = []
    for name in names:
        center, error, clear = fit.center({column: factors[column][row_of[name]] for column in stream})
        reason = _reason(counts[name], fewest_points, sigmas[name], clear)
        width = math.nan if reason else sigma_multiple * sigmas[name]
        streams.append(
            BaselineStream(
                stream=name,
                count=counts[name],
                center=center,
                center_lower=center - reach * error,
                center_upper=center + reach * error,
                sigma_point=sigmas[name],
                has_limits=not reason,
                lower=center - width,
                upper=center + width,
                reason=reason,
            )
        )
    if any(sigma == 0.0 for sigma in sigmas.values()):
        warnings.warn("the baseline points do not vary: sigma 0 is an answer, yet no limits", ConstantDataWarning, stacklevel=2)
    scale = np.array([sigmas.get(name, pooled) for name in points.stream.tolist()], dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        residual_z = np.where(scale > 0.0, residual / scale, residual * 0.0)
    made = Made(
        function="baseline",
        unit=unit,
        count=points.value.size,
        missing_rows=points.missing_rows,
        frame=points.frame,
        options={
            "sigma_estimator": sigma_estimator,
            "sigma_point": sigma_point,
            "spread_significance": spread_significance,
            "confidence_level": confidence_level,
            "missing": missing,
        },
        version=_core.version,
    )
    columns = {
        "value": (value,),
        "stream": stream,
        "adjust": adjust,
        "time": name_tuple(time or ()),
        "period": name_tuple(period or ()),
    }
    return build(
        Baseline,
        {},
        made=made,
        mean=fit.mean,
        effects=fit.effects,
        streams=tuple(streams),
        sigma_point=pooled,
        sigma_estimator=estimator,
        mean_moving_range=spread.mean_range,
        moving_range_count=spread.ranges.size,
        d2=spread.d2,
        spreads_pooled=not apart,
        spread_pvalue=pvalue,
        residual_sd=fit.sd,
        residual_sum_squares=fit.sum_squares,
        degrees_of_freedom=fit.freedom,
        lag1_autocorrelation=spread.lag1,
        confounded=fit.confounded,
        used_count=used.size,
        sigma_multiple=float(sigma_multiple),
        fewest_points=fewest_points,
        columns={**columns, "excluded": name_tuple(excluded or ())},
        longest_gap_hours=None if longest_gap is None else longest_gap.total_seconds() / 3600,
        stream=points.stream,
        residual=residual_z,
        time=points.time,
        period=points.period,
    )


def points_for(
    found: Baseline, data: Any, *, small_streams: Literal["borrow", "leave_out"] = "borrow", missing: str = "error"
) -> MonitorPoints:
    """New points with the center and sigma that the baseline gives each of them.

    A point's center is the baseline's mean plus the effects of its levels; a level that the baseline never saw has effect 0. Both
    such levels and streams without limits of their own are named in ``notes``.

    Parameters
    ----------
    found : Baseline
    data : table
        New rows with the same columns as the baseline's table.
    small_streams : {"borrow", "leave_out"}
        Points of streams without limits of their own are judged by the additive center and the pooled sigma, or take no part.

    Examples
    --------
    >>> film = [2.06, 2.16, 2.02, 2.14, 2.07, 2.13, 2.03, 2.18]
    >>> found = baseline({"film": film, "gun": ["A", "B"] * 4}, "film", unit="mil", stream="gun", fewest_points=4)
    >>> new = points_for(found, {"film": [2.1, 2.1], "gun": ["B", "C"]})
    >>> new.center.round(4).tolist(), new.notes[0]
    ([2.1525, 2.0988], "gun 'C' was never seen in the baseline: effect 0")
    """
    check_options(points_for, locals())
    if small_streams not in ("borrow", "leave_out"):
        raise InvalidInputError(f"small_streams must be 'borrow' or 'leave_out', got {small_streams!r}", argument="small_streams")
    whole = table(data)
    columns = found.columns
    points = monitor_points(
        whole,
        columns["value"][0],
        unit=found.made.unit,
        stream=columns["stream"] or None,
        time=_only(columns["time"]),
        period=_only(columns["period"]),
        longest_gap=None if found.longest_gap_hours is None else timedelta(hours=found.longest_gap_hours),
        excluded=_only(columns["excluded"]),
        missing=missing,
    )
    center = np.full(points.value.size, found.mean)
    notes = []
    for name in columns["stream"] + columns["adjust"]:
        effects, words = found.effects[name], _factor(whole, name).tolist()
        center += [effects.get(word, 0.0) for word in words]
        notes += [f"{name} '{word}' was never seen in the baseline: effect 0" for word in sorted(set(words) - set(effects))]

    known = {stream.stream: stream for stream in found.streams}
    takes_part = points.takes_part.copy()
    sigma = np.full(points.value.size, found.sigma_point)
    for name in sorted(set(points.stream.tolist())):
        rows = points.stream == name
        own = known.get(name)
        if own is not None and own.has_limits:
            sigma[rows] = own.sigma_point
            continue
        why = own.reason if own is not None else f"0 baseline points, fewer than {found.fewest_points}"
        judged = small_streams == "borrow" and found.sigma_point > 0.0
        takes_part[rows] &= judged
        how = "judged by the additive center and the pooled sigma" if judged else "left out"
        which = f"stream '{name}'" if name else "the stream"
        notes.append(f"{which} has no limits of its own ({why}): {how}")
    # A point that takes no part is not read; a sigma of 0 has nothing to say about others.
    sigma[sigma == 0.0] = 1.0
    return replace(points, takes_part=takes_part, center=center, sigma_point=sigma, notes=tuple(notes))


def residual_days(found: Baseline, stream: str | None = None) -> tuple[Floats, ...]:
    """What is left of the baseline's points, in sigma, one array a day (or a period, where it has periods), oldest first.

    Parameters
    ----------
    stream : str, optional
        Only the points of that stream; days without any are left out.

    Raises
    ------
    InvalidInputError
        A baseline that has neither times nor periods.

    Examples
    --------
    >>> days = ["2026-03-02"] * 3 + ["2026-03-03"] * 2
    >>> found = baseline({"film": [2.1, 2.0, 2.2, 2.1, 2.0], "day": days}, "film", unit="mil", period="day")
    >>> [day.size for day in residual_days(found)]
    [3, 2]
    """
    check_options(residual_days, locals())
    if found.period is None and found.time is None:
        raise InvalidInputError("the baseline has neither times nor periods, so it has no days", argument="found")
    rows = np.flatnonzero(np.isfinite(found.residual))
    if stream is not None:
        rows = rows[found.stream[rows] == stream]
    if found.time is not None:
        rows = rows[np.argsort(found.time[rows], kind="stable")]
        day = found.time[rows].astype("datetime64[D]").astype(object)
    if found.period is not None:
        day = found.period[rows]
    days: dict[Any, list[int]] = {}
    for row, key in zip(rows.tolist(), day.tolist(), strict=True):
        days.setdefault(key, []).append(row)
    return tuple(found.residual[np.array(mine)] for mine in days.values())


def _only(names: tuple[str, ...]) -> str | None:
    return names[0] if names else None


def _factor(whole: Any, name: str) -> Labels:
    words = labels(whole.column(name), name=name)
    if absent := [DataProblem(name, row + 1, "", "label is missing") for row, word in enumerate(words) if word is None]:
        raise DataProblemsError(absent)
    return words


def _reason(count: int, fewest: int, sigma: float, clear: bool) -> str:
    """Why a stream has no limits of its own; empty when it has."""
    if count < fewest:
        return f"{plural(count, 'baseline point')}, fewer than {fewest}"
    if sigma == 0.0:
        return "its baseline points do not vary"
    return "" if clear else "its levels cannot be told apart from another column's"


make_callable(__name__)
