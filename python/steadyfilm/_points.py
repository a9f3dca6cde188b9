"""New points of one or many streams: from a table to rows in the order in which they are judged."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._chart import flags
from steadyfilm._input import Table, check_options, column_of, labels, pause, readings, table, times
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["MonitorPoints", "breaks_in_order", "monitor_points", "order_of"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Labels = NDArray[np.object_]
Times = NDArray[np.datetime64]

#: Between the levels of a stream that several columns make up.
JOINT = " / "


@dataclass(frozen=True, eq=False)
class MonitorPoints:
    """New points in the caller's row order; a missing or excluded one stays in its place and takes no part."""

    value: Floats
    stream: Labels
    takes_part: Bools
    break_before: Bools
    center: Floats | None = None
    sigma_point: Floats | None = None
    time: Times | None = None
    period: Labels | None = None
    longest_gap: timedelta | None = None
    unit: str = ""
    frame: str = "dict"
    missing_rows: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def monitor_points(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    stream: Any = None,
    time: Any = None,
    period: Any = None,
    longest_gap: timedelta | None = None,
    excluded: Any = None,
    break_before: Any = None,
    center: Any = None,
    sigma_point: Any = None,
    missing: str = "error",
) -> MonitorPoints:
    """New points from a table, or from one sequence a matter.

    Parameters
    ----------
    data : table, series, array or sequence
        One row a plotted point; a table needs ``column``.
    stream : column name or list of column names of the table, or a sequence of labels
        Points of different streams never stand in one pattern. Absent: a single stream.
    time : column name or sequence
        Points of a stream are taken in its order.
    period : column name or sequence of labels
        A stream starts anew where its label changes, also from one piece to the next.
    longest_gap : timedelta, optional
        A longer pause between two points of a stream starts it anew; needs ``time``.
    excluded : column name or sequence of bool
        Points that take no part.
    break_before : column name or sequence of bool
        Where a stream starts anew besides.
    center, sigma_point : column name, number or sequence
        The points' own; absent: those of the limits.
    missing : {"error", "drop"}
        Missing values are refused, or kept in their place, taking no part.

    Examples
    --------
    >>> table = {"film": [2.1, 2.3, 2.0], "gun": ["A", "B", "A"]}
    >>> monitor_points(table, "film", unit="mil", stream="gun").stream.tolist()
    ['A', 'B', 'A']
    """
    check_options(monitor_points, locals())
    given = readings(data, column, missing=missing)
    height = given.values.size + len(given.missing_rows)
    whole = table(data) if column is not None else None
    value = np.full(height, math.nan)
    value[given.rows] = given.values
    takes_part = ~np.isnan(value)
    if excluded is not None:
        takes_part &= ~flags(whole, excluded, height, "excluded")
    if longest_gap is not None:
        pause(longest_gap)  # refuse here what is none, where it was written
    stamps = None
    if time is not None:
        stamps = times(_source(whole, time), name=time if isinstance(time, str) else "time")
        if absent := [DataProblem("time", int(row) + 1, "", "time is missing") for row in np.flatnonzero(np.isnat(stamps))]:
            raise DataProblemsError(absent)
    elif longest_gap is not None:
        raise InvalidInputError("longest_gap needs time=...", argument="longest_gap")
    points = MonitorPoints(
        value=value,
        stream=stream_labels(whole, stream, height),
        takes_part=takes_part,
        break_before=np.zeros(height, dtype=bool) if break_before is None else flags(whole, break_before, height, "break_before"),
        center=_number_column(whole, center, height, "center"),
        sigma_point=_number_column(whole, sigma_point, height, "sigma_point"),
        time=stamps,
        period=None if period is None else labels(_source(whole, period), name="period"),
        longest_gap=longest_gap,
        unit=unit,
        frame=given.frame,
        missing_rows=given.missing_rows,
    )
    for name in ("time", "period"):
        part = getattr(points, name)
        if part is not None and part.size != height:
            raise InvalidInputError(f"{name} has {part.size} rows, the points have {height}", argument=name)
    return points


def stream_labels(whole: Table | None, stream: Any, height: int) -> Labels:
    """One label a row; several columns are joined with a slash."""
    if stream is None:
        return np.array([""] * height, dtype=object)
    if whole is None:
        columns = {"stream": labels(stream, name="stream")}
    else:
        names = [stream] if isinstance(stream, str) else list(stream)
        columns = {name: labels(whole.column(name), name=name) for name in names}
    problems = [
        DataProblem(name, row + 1, "", "label is missing")
        for name, words in columns.items()
        for row, word in enumerate(words)
        if word is None
    ]
    if problems:
        raise DataProblemsError(problems, advice="Each point needs the stream that it belongs to.")
    if any(words.size != height for words in columns.values()):
        raise InvalidInputError(f"stream needs {height} labels, one a point", argument="stream")
    if len(columns) == 1:
        return next(iter(columns.values()))
    return np.array([JOINT.join(words) for words in zip(*columns.values(), strict=True)] or [""] * height, dtype=object)


def _source(whole: Table | None, given: Any) -> Any:
    if isinstance(given, str):
        return column_of(whole, given)
    return given


def _number_column(whole: Table | None, given: Any, height: int, name: str) -> Floats | None:
    if given is None:
        return None
    if isinstance(given, int | float | np.number):
        return np.full(height, float(given))
    column = readings(_source(whole, given), name=name).values
    if column.size != height:
        raise InvalidInputError(f"{name} has {column.size} rows, the points have {height}", argument=name)
    return column


def order_of(points: MonitorPoints, known: Sequence[str] = ()) -> tuple[NDArray[np.intp], NDArray[np.int64], tuple[str, ...]]:
    """Rows stream after stream, each in the order of time; where each stream begins; the names, with those known before."""
    streams = tuple(sorted({*known, *points.stream.tolist()}))
    index = {name: i for i, name in enumerate(streams)}
    which = np.array([index[name] for name in points.stream.tolist()], dtype=np.intp)
    rows = np.arange(points.value.size)
    order = np.lexsort((rows, points.time, which)) if points.time is not None else np.lexsort((rows, which))
    offsets = np.concatenate([[0], np.cumsum(np.bincount(which, minlength=len(streams)))]).astype(np.int64)
    return order, offsets, streams


def breaks_in_order(
    points: MonitorPoints,
    order: NDArray[np.intp],
    offsets: NDArray[np.int64],
    earlier: Sequence[tuple[str | None, str | None] | None] = (),
) -> NDArray[np.uint8]:
    """Where a stream starts anew, in the order of ``order_of``: breaks given, a new period, a long pause.

    ``earlier`` holds each stream's last period and time before these points, None for a new stream.
    """
    given = points.break_before[order]
    breaks = given.copy()
    period = None if points.period is None else points.period[order]
    time = None if points.time is None else points.time[order]
    gap = None if points.longest_gap is None else pause(points.longest_gap)
    if period is not None:
        breaks[1:] |= period[1:] != period[:-1]
    if time is not None and gap is not None:
        breaks[1:] |= np.diff(time) > gap
    # Across the border of a stream, the comparison is with what the state remembers.
    for i in range(offsets.size - 1):
        first = int(offsets[i])
        if first == offsets[i + 1]:
            continue
        breaks[first] = given[first]
        if not earlier or (before := earlier[i]) is None:
            continue
        last_period, last_time = before
        if period is not None:
            breaks[first] |= period[first] != last_period
        if time is not None and last_time is not None:
            waited = time[first] - np.datetime64(last_time, "us")
            if waited < np.timedelta64(0, "us"):
                name = points.stream[order[first]]
                of = f" of stream '{name}'" if name else ""
                raise InvalidInputError(
                    f"points{of} begin at {time[first]}, before the last one judged at {last_time}: were they judged already?",
                    function="monitor",
                    argument="points",
                )
            breaks[first] |= gap is not None and waited > gap
    return np.ascontiguousarray(breaks, dtype=np.uint8)
