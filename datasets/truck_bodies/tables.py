"""Columns in memory and the same as the shop writes them."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .scenario import Style


@dataclass(frozen=True)
class Table:
    """Columns of equal length: text, whole numbers, float64 (NaN is an empty cell), or datetime64 in minutes."""

    columns: Mapping[str, NDArray[Any]]
    decimals: Mapping[str, NDArray[np.int64]] = field(default_factory=dict)
    """Digits after the decimal sign of each row of a float64 column."""


@cache
def digits(resolution: float) -> int:
    """Return the digits after the decimal sign of a display step."""
    exponent = Decimal(str(resolution)).normalize().as_tuple().exponent
    return max(0, -int(exponent))


def rounded(values: NDArray[np.float64], step: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Return values rounded half up to whole steps."""
    # The second rounding takes away what the product with the step leaves behind: 2.55, not 2.5500000000000003.
    return np.round(np.floor(values / step + 0.5) * step, 9)


def from_rows(kinds: Mapping[str, str], rows: Sequence[Sequence[Any]]) -> dict[str, NDArray[Any]]:
    """Return rows of cells as columns; ``kinds`` names them and their NumPy types, further cells are left out."""
    return {name: np.array([row[k] for row in rows], dtype=kind) for k, (name, kind) in enumerate(kinds.items())}


def cells(table: Table, style: Style) -> dict[str, list[str]]:
    """Return the columns under the shop's names, each cell as the shop types it."""
    typed: dict[str, list[str]] = {}
    for name, column in table.columns.items():
        if column.dtype.kind == "M":
            moments, which = np.unique(column, return_inverse=True)
            stamps = [moment.strftime(style.time_format) for moment in moments.tolist()]
            text = [stamps[i] for i in which.tolist()]
        elif column.dtype.kind == "f":
            text = [
                "" if math.isnan(number) else f"{number:.{places}f}".replace(".", style.decimal)
                for number, places in zip(column.tolist(), table.decimals[name].tolist(), strict=True)
            ]
        else:
            text = [str(cell) for cell in column.tolist()]
        if name == "unit_of_measure":
            text = [style.unit_labels.get(label, label) for label in text]
        typed[style.columns.get(name, name)] = text
    return typed


def to_csv(table: Table, style: Style) -> bytes:
    """Return the table as a CSV file with one header line; lines end with a single line feed."""
    typed = cells(table, style)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=style.separator, lineterminator="\n")
    writer.writerow(typed)
    writer.writerows(zip(*typed.values(), strict=True))
    return out.getvalue().encode(style.encoding)
