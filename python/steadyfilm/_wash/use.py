"""Use of a chemical from one reading to the next: points, limits from usual points, and changes with start, end and size."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._wash.series import TankSeries
from steadyfilm.chart_individuals import individuals_chart
from steadyfilm.distributions import student_t_quantile, student_t_survival
from steadyfilm.errors import ConstantDataWarning

__all__ = ["Limits", "Points", "Stretch", "chance_beyond", "limits_of", "multiple_for", "points_of", "stretches"]

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]
Flags = NDArray[np.bool_]

SINGLE_POINT = 0.0027
"""Two-sided chance of a normal point beyond 3 sigma: the limits are never closer."""
MONTH_DAYS = 365.25 / 12
STEP_SHARE = 0.1
"""Of the middle amount of an interval: a step of the meter that looks coarser is taken for this."""
MAD = 1.4826
"""Standard deviation of a normal variable over its median absolute deviation."""
SCREEN, PASSES, SCREEN_LEAST = 4.0, 3, 3
"""Standard deviations beyond which a point makes no limits, how often that is asked, and of how many points at least."""


@dataclass(frozen=True)
class Points:
    """Use in intervals that follow each other: amount, what it is for (hours, area, days), and their quotient."""

    kind: str
    """``"hour"``, ``"area"`` or ``"day"``."""
    per: str
    start: Times
    end: Times
    used: Floats
    exposure: Floats
    usual: Flags
    left_out: int
    used_left_out: float
    step: float
    """Smallest step in which an amount is written."""

    @property
    def rate(self) -> Floats:
        """Amount for one of what it is for."""
        return np.asarray(_core.use_rates(np.ascontiguousarray(self.used), np.ascontiguousarray(self.exposure)))


@dataclass(frozen=True)
class Limits:
    """Usual rate, its standard deviation, how many points they rest on, and the degrees of freedom of the second."""

    center: float
    sigma: float
    count: int
    degrees_of_freedom: float
    own: bool
    """Whether they come from the reviewed points themselves."""


@dataclass(frozen=True)
class Stretch:
    """Points ``first`` to ``last`` run off the usual rate; ``seen`` is the first of them beyond a limit."""

    first: int
    seen: int
    last: int


def points_of(series: TankSeries, longest_gap_hours: float | None) -> tuple[Points, ...]:
    """All ways to tell the use of a tank, the quickest first: a meter by the hour and by area; additions by area or day."""
    if series.meters:
        by_area = _metered_by_area(series)
        return (_metered_by_hour(series, longest_gap_hours), *([by_area] if by_area is not None else []))
    poured = _poured(series)
    return (poured,) if poured is not None else ()


def _metered_by_hour(series: TankSeries, longest_gap_hours: float | None) -> Points:
    start = np.concatenate([time[:-1] for time, _, _ in series.meters])
    end = np.concatenate([time[1:] for time, _, _ in series.meters])
    used = np.concatenate([np.diff(total) for _, total, _ in series.meters])
    usual = np.concatenate([flags[1:] for _, _, flags in series.meters])
    hours = (end - start) / np.timedelta64(1, "h")
    longest = longest_gap_hours or (2.0 * float(np.median(hours)) if hours.size else 0.0)
    keep = hours <= longest * (1.0 + 1e-9)
    lost = ~keep & ~usual
    order = np.argsort(start[keep], kind="stable")
    columns = _columns((start, end, used, hours, usual), np.flatnonzero(keep)[order])
    return Points("hour", "h", **columns, left_out=int(lost.sum()), used_left_out=float(used[lost].sum()), step=series.meter_step)


def _columns(columns: tuple[Any, ...], rows: Any) -> dict[str, Any]:
    """Columns of points by name, as far as they are chosen."""
    names = ("start", "end", "used", "exposure", "usual")
    return {name: column[rows] for name, column in zip(names, columns, strict=True)}


def _metered_by_area(series: TankSeries) -> Points | None:
    """Use in each stretch of painted area; between two readings a meter counts evenly."""
    if series.area is None:
        return None
    area = series.area
    used = np.full(area.begin.size, math.nan)
    for time, total, _ in series.meters:
        if time.size < 2:
            continue
        inside = (area.begin >= time[0]) & (area.end <= time[-1])
        at = time.astype("datetime64[us]").astype(np.int64)
        low, high = (np.interp(x[inside].astype("datetime64[us]").astype(np.int64), at, total) for x in (area.begin, area.end))
        used[inside] = high - low
    keep = np.isfinite(used) & (area.area > 0.0)
    lost = ~keep & ~area.usual
    columns = _columns((area.begin, area.end, used, area.area, area.usual), keep)
    left = float(np.nansum(used[lost]))
    return Points("area", area.per, **columns, left_out=int(lost.sum()), used_left_out=left, step=series.meter_step)


def _poured(series: TankSeries) -> Points | None:
    """Each addition makes up for what was used since the one before."""
    if series.added_at.size < 2:
        return None
    at, where = np.unique(series.added_at, return_inverse=True)
    poured = np.zeros(at.size)
    np.add.at(poured, where, series.added)
    usual = np.zeros(at.size, dtype=bool)
    usual[where] = series.added_usual
    start, end, used = at[:-1], at[1:], poured[1:]
    if series.area is not None:
        kind, per = "area", series.area.per
        exposure = np.array([series.area.within(a, b) for a, b in zip(start, end, strict=True)])
    else:
        kind, per, exposure = "day", "day", (end - start) / np.timedelta64(1, "D")
    keep = np.isfinite(exposure) & (exposure > 0.0)
    lost = ~keep & ~usual[1:]
    columns = _columns((start, end, used, exposure, usual[1:]), keep)
    return Points(kind, per, **columns, left_out=int(lost.sum()), used_left_out=float(used[lost].sum()), step=0.0)


def limits_of(points: Points, *, usual_given: bool, least: int) -> Limits | None:
    """Center and spread from the usual points; without a usual period from all that are not far off. None: too few."""
    rate = points.rate
    chosen = rate[points.usual] if usual_given else rate
    if chosen.size < least:
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConstantDataWarning)
        left_out = np.zeros(chosen.size, dtype=bool) if usual_given else _screened(chosen)
        if chosen.size - int(left_out.sum()) < least:
            return None
        chart = individuals_chart(chosen, unit="", excluded=left_out)
    exposure = float(np.median(points.exposure))
    # Both ends of an interval are rounded: each errs by a uniform of one step. Totals that all happen to be round look as if the
    # step were coarser than it is.
    step = min(points.step, STEP_SHARE * float(np.median(points.used)))
    rounding = max(step, 0.0) / math.sqrt(6.0) / exposure
    degrees = float(chart.degrees_of_freedom)
    sigma = max(float(chart.sigma_within), rounding)
    count = int((~left_out).sum())
    if not math.isfinite(degrees) or degrees <= 0.0:
        degrees = float(count - 1)
    return Limits(float(chart.limits.center), sigma, count, degrees, not usual_given)


def _screened(rate: Floats) -> Flags:
    """Points that are no usual ones, where no usual period is given: far from the middle of all, then from that of the rest."""
    middle = float(np.median(rate))
    spread = MAD * float(np.median(np.abs(rate - middle)))
    out = np.abs(rate - middle) > SCREEN * spread if spread > 0.0 else np.zeros(rate.size, dtype=bool)
    for _ in range(PASSES):
        if (~out).sum() < SCREEN_LEAST:
            break
        chart = individuals_chart(rate, unit="", excluded=out)
        again = np.abs(rate - chart.limits.center) > SCREEN * float(chart.sigma_within)
        if chart.sigma_within == 0.0 or (again == out).all():
            break
        out = again
    return out


def chance_beyond(multiple: float, limits: Limits) -> float:
    """Chance that a further point of a steady tank lies beyond: center and sigma are estimates themselves."""
    return 2.0 * student_t_survival(multiple / math.sqrt(1.0 + 1.0 / limits.count), limits.degrees_of_freedom)


def multiple_for(limits: Limits, chance: float) -> float:
    """How far out the limits stand for this two-sided chance a point; never closer than 3."""
    wanted = min(chance, SINGLE_POINT)
    reach = student_t_quantile(1.0 - wanted / 2.0, limits.degrees_of_freedom)
    return max(3.0, reach * math.sqrt(1.0 + 1.0 / limits.count))


def stretches(standardized: Floats, multiple: float) -> tuple[Stretch, ...]:
    """Stretches off the usual rate, each with a point beyond a limit, in order.

    For a known usual rate the most likely shift is the stretch of the largest ``(z_a + ... + z_b)^2 / (b - a + 1)``; among those
    with a point beyond a limit on the side of their sum it is taken first, then the same is asked before and after it.
    """
    found: list[Stretch] = []
    todo = [(0, standardized.size)]
    while todo:
        low, high = todo.pop()
        best = max((_strongest(side * standardized[low:high], multiple) for side in (1.0, -1.0)), key=lambda item: item[0])
        if best[0] <= 0.0:
            continue
        _, first, seen, last = best
        found.append(Stretch(low + first, low + seen, low + last))
        todo += [(low, low + first), (low + last + 1, high)]
    return tuple(sorted(found, key=lambda stretch: stretch.first))


def _strongest(z: Floats, multiple: float) -> tuple[float, int, int, int]:
    """Of the stretches with a point above the multiple the one of the largest gain: gain, first, seen, last; gain 0 for none."""
    beyond = np.flatnonzero(z > multiple)
    if not beyond.size:
        return 0.0, 0, 0, 0
    sums = np.concatenate([[0.0], np.cumsum(z)])
    best = (0.0, 0, 0, 0)
    for first in range(int(beyond[-1]) + 1):
        seen = int(beyond[np.searchsorted(beyond, first)])
        toward = np.maximum(sums[seen + 1 :] - sums[first], 0.0)
        gain = toward**2 / np.arange(seen + 1 - first, z.size + 1 - first)
        at = int(np.argmax(gain))
        if gain[at] > best[0]:
            best = (float(gain[at]), first, seen, seen + at)
    return best


def chance_per_point(charts: Sequence[tuple[Points, Limits]], false_calls_per_month: float) -> float:
    """Two-sided chance a point for this many false calls a month over all charts."""
    judged = [points for points, limits in charts if limits is not None]
    ends = [points.end[~points.usual] for points in judged]
    count = sum(x.size for x in ends)
    if not count:
        return SINGLE_POINT
    first = min(points.start[~points.usual].min() for points in judged if (~points.usual).any())
    last = max(x.max() for x in ends if x.size)
    months = max(float((last - first) / np.timedelta64(1, "D")), 1.0) / MONTH_DAYS
    return min(SINGLE_POINT, false_calls_per_month * months / count)
