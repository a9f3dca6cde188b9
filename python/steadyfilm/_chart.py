"""What all charts share: points with their times and breaks, the rule that follows the limit, and words for the verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import decimals_for, fixed, number, plural, with_unit
from steadyfilm._input import Column, column_of, labels, pause, times
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import Signal, describe

__all__ = [
    "Points",
    "chart_points",
    "decimals_between",
    "flags",
    "limit_rule",
    "limits_clause",
    "mark",
    "place",
    "point_columns",
    "rows_left_out",
    "rules_for",
    "signals_clause",
    "spread_clause",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Points:
    """Rows of a chart in production order, missing ones kept in place as NaN."""

    values: Floats
    time: NDArray[np.datetime64] | None
    takes_part: Bools
    break_before: Bools

    @property
    def excluded_rows(self) -> list[int]:
        """Rows, counted from 1, that have a reading which takes no part."""
        return [int(row) + 1 for row in np.flatnonzero(~self.takes_part & ~np.isnan(self.values))]


def chart_points(
    given: Column,
    data: Any,
    *,
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
) -> Points:
    """Points with what interrupts them.

    A missing or excluded row takes no part. A new label in ``period``, and a pause longer than ``longest_gap``, start afresh.
    """
    height = given.values.size + len(given.missing_rows)
    values = np.full(height, math.nan)
    values[given.rows] = given.values
    takes_part = ~np.isnan(values)
    if excluded is not None:
        takes_part &= ~flags(data, excluded, height, "excluded")
    breaks = np.zeros(height, dtype=bool)
    stamps = _times(data, time, height) if time is not None else None
    if longest_gap is not None:
        if stamps is None:
            raise InvalidInputError("longest_gap needs time=...", argument="longest_gap")
        breaks[1:] |= np.diff(stamps) > pause(longest_gap)
    if period is not None:
        breaks[1:] |= _changes(data, period, height)
    return Points(values, stamps, takes_part, breaks)


def flags(data: Any, given: Any, height: int, name: str) -> Bools:
    """One column of true and false (or 1 and 0), by name or as a sequence."""
    source, label = _source(data, given, name)
    items = source.to_list() if hasattr(source, "to_list") else list(source)
    _require_height(len(items), height, label)
    problems = [
        DataProblem(label, i + 1, repr(item), "is neither true nor false")
        for i, item in enumerate(items)
        if not (isinstance(item, bool | np.bool_) or (isinstance(item, int | np.integer) and item in (0, 1)))
    ]
    if problems:
        raise DataProblemsError(problems, advice=f"{name} needs one true or false a row.")
    return np.array([bool(item) for item in items], dtype=bool)


def _source(data: Any, given: Any, name: str) -> tuple[Any, str]:
    if isinstance(given, str):
        return column_of(data, given), given
    return given, name


def _require_height(have: int, need: int, name: str) -> None:
    if have != need:
        raise InvalidInputError(f"{name} has {have} rows, the readings have {need}", argument=name)


def _times(data: Any, given: Any, height: int) -> NDArray[np.datetime64]:
    source, label = _source(data, given, "time")
    stamps = times(source, name=label)
    _require_height(stamps.size, height, label)
    problems = [DataProblem(label, int(i) + 1, "", "time is missing") for i in np.flatnonzero(np.isnat(stamps))]
    backwards = np.flatnonzero(np.diff(stamps) < np.timedelta64(0, "us"))
    problems += [DataProblem(label, int(i) + 2, str(stamps[i + 1]), "lies before the row above it") for i in backwards]
    if problems:
        raise DataProblemsError(problems, advice="A chart needs rows in production order: sort the table by time.")
    return stamps


def _changes(data: Any, given: Any, height: int) -> Bools:
    """Where a row's label differs from the one before it."""
    source, label = _source(data, given, "period")
    words = labels(source, name=label)
    _require_height(words.size, height, label)
    changed: Bools = words[1:] != words[:-1]
    return changed


def point_columns(
    values: Floats, time: NDArray[np.datetime64] | None, takes_part: Bools, break_before: Bools
) -> dict[str, NDArray[Any]]:
    """The first columns of a table of single values: which point, when, what, and whether it takes part."""
    return {
        "point": np.arange(1, values.size + 1),
        **({"time": time} if time is not None else {}),
        "value": values,
        "takes_part": takes_part,
        "break_before": break_before,
    }


def limit_rule(sigma_multiple: float) -> str:
    """The rule word of one point beyond a limit that lies at this multiple."""
    return f"1of1_beyond{float(sigma_multiple):.12g}_one"


def rules_for(rules: Sequence[str] | str, sigma_multiple: float) -> tuple[str, ...]:
    """Rule words with "one point beyond 3 sigma" moved to where the limits are."""
    words = (rules,) if isinstance(rules, str) else tuple(rules)
    return tuple(limit_rule(sigma_multiple) if word == limit_rule(3.0) else word for word in words)


def mark(signals: Sequence[Signal], count: int) -> list[str]:
    """One text a point: the rules met there."""
    met: list[list[str]] = [[] for _ in range(count)]
    for signal in signals:
        met[signal.point].append(signal.rule)
    return ["; ".join(words) for words in met]


def place(point: int, marks: NDArray[Any] | None, word: str = "point") -> str:
    """A point in words, counted from 1, with its time or its label when there is one."""
    if marks is None:
        return f"{word} {point + 1}"
    own = marks[point]
    text = str(own.astype("datetime64[m]")).replace("T", " ") if marks.dtype.kind == "M" else str(own)
    return f"{word} {point + 1} ({text})"


def decimals_between(limits: ControlLimits) -> int:
    """Decimals that show the distance of the limits to two digits."""
    return decimals_for(limits.upper - limits.lower)


def limits_clause(limits: ControlLimits, unit: str, mean: float | None = None, *, no_lower: bool = False) -> str:
    """Center and limits, with as many digits as the distance of the limits can carry; of a spread maybe the upper one alone."""
    if not limits.upper > limits.lower:
        return f"at {with_unit(limits.center, unit)} with both limits on that value"
    decimals = decimals_between(limits)

    def shown(value: float, more: int = 0) -> str:
        return fixed(value, decimals + more)

    center = f"{shown(limits.center, 1)} {unit}".rstrip()
    where = f"at {center}" if mean is None else f"at {f'{shown(mean, 1)} {unit}'.rstrip()} against the given center {center}"
    if no_lower:
        return f"{where} with an upper limit of {f'{shown(limits.upper)} {unit}'.rstrip()}"
    return f"{where} with limits {shown(limits.lower)} to {f'{shown(limits.upper)} {unit}'.rstrip()}"


def signals_clause(
    signals: Sequence[Signal],
    rules: Sequence[str],
    sigma_multiple: float,
    marks: NDArray[Any] | None,
    word: str = "point",
) -> str:
    """What the rules found: points beyond the limits first, then run patterns."""
    if not rules:
        return "no rule was asked for"
    limit = limit_rule(sigma_multiple)
    beyond = sorted({signal.point for signal in signals if signal.rule == limit})
    others = [signal for signal in signals if signal.rule != limit]
    clauses = []
    if len(beyond) == 1:
        clauses.append(f"{place(beyond[0], marks, word)} lies beyond the limits")
    elif beyond:
        clauses.append(f"{plural(len(beyond), word)} lie beyond the limits, first at {place(beyond[0], marks, word)}")
    elif limit in rules:
        clauses.append(f"no {word} lies beyond the limits")
    if others:
        first = min(others, key=lambda signal: signal.point)
        count = len({signal.point for signal in others})
        clauses.append(
            f"{plural(count, word)} end{'s' if count == 1 else ''} a run pattern, first at {place(first.point, marks, word)}: "
            f"{describe(first.rule)}"
        )
    elif limit not in rules or len(rules) > 1:
        clauses.append("no run pattern is complete")
    return "; ".join(clauses)


def spread_clause(signals: Sequence[Signal], what: str, upper: float | None, unit: str, marks: NDArray[Any] | None) -> str:
    """What the spread chart found; empty when nothing."""
    if not signals:
        return ""
    first = place(signals[0].point, marks)
    line = f" of {with_unit(upper, unit, 3)}" if upper is not None else ""
    if len(signals) == 1:
        return f"; the {what} at {first} lies beyond its limit{line}"
    return f"; {number(len(signals))} {what}s lie beyond their limit{line}, first at {first}"


def rows_left_out(excluded: Sequence[int], missing: Sequence[int]) -> str:
    """Numbers, counted from 1, of what takes no part."""
    parts = [f"{word} {', '.join(map(str, rows))}" for word, rows in (("excluded", excluded), ("missing", missing)) if rows]
    return "; ".join(parts) or "none"
