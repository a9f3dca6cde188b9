"""What a thickness gauge displays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MIL_PER_UNIT: Mapping[str, float] = {"mil": 1.0, "um": 1.0 / 25.4}
"""Units a gauge can display; 1 mil is 25.4 um exactly."""


@dataclass(frozen=True, kw_only=True)
class Display:
    """What a gauge shows: the unit (a key of ``MIL_PER_UNIT``) and the step of its last digit."""

    unit: str
    resolution: float
