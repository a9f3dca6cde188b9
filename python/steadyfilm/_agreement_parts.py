"""Parts that results on agreement share: a coefficient, a share, their words and sums."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number
from steadyfilm._result import Step
from steadyfilm.errors import InvalidInputError

__all__ = [
    "Agreement",
    "Proportion",
    "against_chance",
    "agreement_steps",
    "code_matrix",
    "interval_text",
    "number_matrix",
    "percent",
    "proportion_text",
]

SIGNIFICANCE = 0.05
"""Below this chance the sentence calls an agreement better than chance."""


@dataclass(frozen=True)
class Agreement:
    """A coefficient of agreement, without unit; NaN where the judgements leave it open.

    Attributes
    ----------
    value : float
    se_null, z, p : float
        Standard error when there is no agreement but by chance, value over it, and the two-sided chance of so large a z.
    se, lower, upper : float
        Standard error at the agreement found, and the interval from it.
    """

    value: float
    se_null: float
    z: float
    p: float
    se: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Proportion:
    """A count out of a total, the share with its exact interval; a total of 0 leaves the share open."""

    count: int
    total: int
    share: float
    lower: float
    upper: float


def against_chance(found: Agreement) -> str:
    """The verdict of the test."""
    if math.isnan(found.p):
        return "cannot be told from chance"
    if found.p >= SIGNIFICANCE:
        return "is no better than chance explains" if found.value >= 0.0 else "is no worse than chance explains"
    return "is better than chance explains" if found.value > 0.0 else "is worse than chance explains"


def interval_text(found: Agreement, level: float) -> str:
    """The value with its interval.

    >>> interval_text(Agreement(0.49153, 0.052, 9.46, 0.0, 0.051, 0.3916, 0.5915), 0.95)
    '0.492 (95 % 0.392 to 0.592)'
    """
    if math.isnan(found.lower):
        return number(found.value, 3)
    return f"{number(found.value, 3)} ({number(100 * level)} % {number(found.lower, 3)} to {number(found.upper, 3)})"


def percent(share: float) -> str:
    """A share in percent, to a tenth at most.

    >>> percent(0.9), percent(2 / 3), percent(0.0)
    ('90 %', '66.7 %', '0 %')
    """
    return f"{number(round(100 * share, 1))} %"


def proportion_text(found: Proportion) -> str:
    """Count, total and share with its interval.

    >>> proportion_text(Proportion(45, 50, 0.9, 0.78186, 0.96672))
    '45 of 50 (90 %; 78.2 to 96.7 %)'
    """
    if not found.total:
        return "none to judge"
    ends = f"{number(round(100 * found.lower, 1))} to {percent(found.upper)}"
    return f"{found.count} of {found.total} ({percent(found.share)}; {ends})"


def agreement_steps(name: str, found: Agreement, level: float, *, least: float | None = None) -> list[Step]:
    """Z and the ends of the interval; what is open is left out."""
    steps = []
    if math.isfinite(found.z):
        steps.append(Step(f"{name}_z", "value / se_null", {"value": found.value, "se_null": found.se_null}, found.z))
    if math.isfinite(found.lower):
        reach = {"value": found.value, "normal_quantile": _core.normal_quantile(0.5 + 0.5 * level), "se": found.se}
        low = "value - normal_quantile * se"
        floor = {} if least is None else {"least": least}
        rule = low if least is None else f"max(least, {low})"
        steps.append(Step(f"{name}_lower", rule, {**floor, **reach}, found.lower))
        steps.append(Step(f"{name}_upper", "min(1, value + normal_quantile * se)", reach, found.upper))
    return steps


def number_matrix(rows: Any, name: str) -> NDArray[np.float64]:
    """Rows of equal length as a matrix; what is no number is named."""
    if hasattr(rows, "to_numpy"):
        rows = rows.to_numpy()
    items: Sequence[Any] = list(rows)
    lengths = {len(row) if hasattr(row, "__len__") and not isinstance(row, str) else 0 for row in items}
    if len(lengths) != 1 or 0 in lengths:
        raise InvalidInputError(f"{name} must be rows of one length, one or more; got lengths {sorted(lengths)}", argument=name)
    out = np.empty((len(items), lengths.pop()))
    for i, row in enumerate(items):
        for j, item in enumerate(row):
            try:
                if isinstance(item, str | bytes | bool | np.bool_):
                    raise TypeError
                out[i, j] = float(item)
            except (TypeError, ValueError):
                where = f"row {i + 1}, column {j + 1}"
                raise InvalidInputError(f"{name}, {where}: {item!r} is not a number", argument=name) from None
    return out


def code_matrix(rows: Any, name: str) -> NDArray[np.int64]:
    """Rows of whole numbers."""
    matrix = number_matrix(rows, name)
    for i, j in np.argwhere(~np.isfinite(matrix) | (matrix != np.floor(matrix))).tolist():
        where = f"row {i + 1}, column {j + 1}"
        raise InvalidInputError(f"{name}, {where}: {matrix[i, j]:g} is not a whole number", argument=name)
    return np.ascontiguousarray(matrix.astype(np.int64))
