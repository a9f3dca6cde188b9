"""Which readings a capability judges, and what their within sigma is and is worth."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._chart import Points, chart_points
from steadyfilm._input import Column, readings
from steadyfilm._subgroups import excluded_subgroups, subgroup_starts
from steadyfilm.errors import InvalidInputError

__all__ = ["Judged", "Within", "judged_readings"]

SINGLE = ("mean_moving_range", "median_moving_range")
SUBGROUPED = ("mean_range", "mean_sd", "pooled_sd", "pooled_sd_c4")


@dataclass(frozen=True)
class Within:
    """A within sigma with its degrees of freedom (None when not known), and where it comes from."""

    sigma: float | None = None
    degrees_of_freedom: float | None = None
    estimator: str = ""


@dataclass(frozen=True)
class Judged:
    """Readings that take part, and their within sigma."""

    values: NDArray[np.float64]
    within: Within
    column: Column
    left_out: dict[str, list[int]] = field(default_factory=dict)


def judged_readings(
    data: Any,
    column: str | None,
    *,
    missing: str,
    sigma_within: float | str | None,
    degrees_of_freedom: float | None,
    subgroup_size: int | None,
    subgroup: Any,
    time: Any,
    period: Any,
    excluded: Any,
    longest_gap: timedelta | None,
) -> Judged:
    """Readings in production order without what is excluded; their within sigma given, or estimated between neighbors or inside
    subgroups.
    """
    if degrees_of_freedom is not None and not _is_number(sigma_within):
        raise InvalidInputError("belongs to a given sigma_within; an estimate has its own", argument="degrees_of_freedom_within")
    given = readings(data, column, missing=missing)
    if subgroup_size is None and subgroup is None:
        points = chart_points(given, data, time=time, period=period, excluded=excluded, longest_gap=longest_gap)
        values = np.ascontiguousarray(points.values[points.takes_part])
        within = _between_neighbors(points, sigma_within, degrees_of_freedom)
        return Judged(values, within, given, {"excluded_rows": points.excluded_rows})

    points = chart_points(given, data, time=time)
    starts, _ = subgroup_starts(data, subgroup_size, subgroup, points.values.size)
    kept = ~np.isnan(points.values)
    offsets = np.concatenate([[0], np.cumsum(np.add.reduceat(kept.astype(np.uintp), starts))]).astype(np.uintp)
    sizes = np.diff(offsets).astype(np.intp)
    left_out = excluded_subgroups(data, excluded, starts, points.values.size)
    takes_part = (sizes > 0) & ~left_out
    values = np.ascontiguousarray(given.values[np.repeat(takes_part, sizes)])
    within = _inside_subgroups(given, offsets, takes_part, sigma_within, degrees_of_freedom)
    return Judged(values, within, given, {"excluded_subgroups": [int(i) + 1 for i in np.flatnonzero(left_out)]})


def _is_number(sigma_within: float | str | None) -> bool:
    return isinstance(sigma_within, int | float)


def _between_neighbors(points: Points, sigma_within: float | str | None, degrees_of_freedom: float | None) -> Within:
    if _is_number(sigma_within):
        return Within(float(sigma_within or 0.0), degrees_of_freedom, "given")
    estimator = str(sigma_within or SINGLE[0])
    _require_known(estimator, SINGLE, SUBGROUPED, "needs subgroup_size or subgroup")
    pairs = points.takes_part[1:] & points.takes_part[:-1] & ~points.break_before[1:]
    if sigma_within is None and not pairs.any():
        return Within()
    breaks, part = points.break_before.view(np.uint8), points.takes_part.view(np.uint8)
    chart = _core.individuals_chart(points.values, part, breaks, 2, estimator, 3.0, None, None, None)
    return Within(chart["sigma_within"], _known(chart["degrees_of_freedom"]), estimator)


def _inside_subgroups(
    given: Column,
    offsets: NDArray[np.uintp],
    takes_part: NDArray[np.bool_],
    sigma_within: float | str | None,
    degrees_of_freedom: float | None,
) -> Within:
    if _is_number(sigma_within):
        return Within(float(sigma_within or 0.0), degrees_of_freedom, "given")
    estimator = str(sigma_within or SUBGROUPED[0])
    _require_known(estimator, SUBGROUPED, SINGLE, "is for single readings: leave out subgroup_size and subgroup")
    part = takes_part.view(np.uint8)
    chart = _core.subgroup_chart(given.values, offsets, part, "range", estimator, 3.0, None, None)
    return Within(chart["within"]["sigma_within"], _known(chart["within"]["degrees_of_freedom"]), estimator)


def _require_known(estimator: str, fitting: tuple[str, ...], other: tuple[str, ...], advice: str) -> None:
    if estimator in other:
        raise InvalidInputError(f"sigma_within={estimator!r} {advice}", argument="sigma_within")
    if estimator not in fitting:
        words = ", ".join(fitting)
        raise InvalidInputError(f"sigma_within must be a number or one of {words}, got {estimator!r}", argument="sigma_within")


def _known(degrees_of_freedom: float) -> float | None:
    return None if math.isnan(degrees_of_freedom) else degrees_of_freedom
