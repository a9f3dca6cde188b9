"""The grid that a gauge's display lets its readings fall on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STEPS = tuple(mantissa * 10.0**power for power in range(2, -7, -1) for mantissa in (5, 2, 1))
TOLERANCE = 1e-6
"""Of a step: what a value may be off its grid by decimal writing and conversion."""


def steps_of(values: Floats, step: float) -> NDArray[np.int64]:
    """Values as whole steps, the nearest."""
    return np.rint(values / step).astype(np.int64)


def on_grid(values: Floats, step: float) -> NDArray[np.bool_]:
    """Which values are whole multiples of the step."""
    ratio = values / step
    return np.asarray(np.abs(ratio - np.rint(ratio)) <= TOLERANCE * np.maximum(1.0, np.abs(ratio) * 1e-3))


def display_step(values: Floats, share: float = 0.98) -> float:
    """Coarsest step of 1, 2 or 5 times a power of ten that at least this share of the values keeps to; 0 if there is none.

    With few values a coarse step can fit by chance; it then stands for a coarser display than there is.
    """
    if not len(values):
        return 0.0
    largest = float(np.abs(values).max())
    for step in _STEPS:
        if step <= largest and on_grid(values, step).mean() >= share:
            return step
    return 0.0
