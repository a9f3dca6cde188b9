"""Columns beside the readings of a gauge study: known values, labels, or one for all."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._balanced import label_columns
from steadyfilm._input import Column, column_of, readings
from steadyfilm._result import Made
from steadyfilm.errors import ConstantDataWarning, InvalidInputError

__all__ = ["bias_words", "chance_text", "joint_labels", "made_of", "numbers_beside", "warn_constant"]


def numbers_beside(data: Any, given: Column, item: Any, name: str) -> NDArray[np.float64]:
    """Numbers of the rows that have a reading: by column name, as a sequence, or one number for all.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells.
    InvalidInputError
        Another number of rows than the readings.
    """
    if isinstance(item, int | float | np.number) and not isinstance(item, bool):
        return np.full(given.values.size, float(item))
    found = readings(column_of(data, item) if isinstance(item, str) else item, name=item if isinstance(item, str) else name)
    height = given.values.size + len(given.missing_rows)
    if found.values.size != height:
        raise InvalidInputError(f"{name} has {found.values.size} rows, the readings have {height}", argument=name)
    return np.ascontiguousarray(found.values[given.rows])


def joint_labels(data: Any, given: Column, names: Any) -> NDArray[np.object_]:
    """One label a reading out of one column or several, joined by a slash."""
    columns = label_columns(data, given, [names] if isinstance(names, str) else list(names))
    joined = [" / ".join(words) for words in zip(*(column.tolist() for _, column in columns), strict=True)]
    return np.array(joined, dtype=object)


def chance_text(p: float) -> str:
    """A chance in words.

    >>> chance_text(0.00001), chance_text(0.0234), chance_text(float("nan"))
    ('p below 0.001', 'p 0.023', 'no test possible')
    """
    if p != p:
        return "no test possible"
    return "p below 0.001" if p < 0.001 else f"p {p:.2g}"


def bias_words(bias: float) -> str:
    """Which way a gauge reads."""
    return "high" if bias > 0 else "low"


def made_of(function: str, unit: str, given: Column, **options: Any) -> Made:
    """How a result on these readings was made."""
    return Made(function, unit, int(given.values.size), given.missing_rows, given.frame, options, _core.version)


def warn_constant(given: Column) -> None:
    """Equal readings are an answer, yet seldom the truth about a gauge."""
    if np.ptp(given.values) == 0.0:
        text = f"all values of '{given.name}' are equal: the display hides how the gauge repeats"
        warnings.warn(text, ConstantDataWarning, stacklevel=3)
