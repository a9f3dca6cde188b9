"""Lines of a chart and specification windows: limits come from the process, windows from the customer; never mixed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadyfilm.errors import InvalidInputError

__all__ = ["ControlLimits", "SpecLimits"]


@dataclass(frozen=True)
class ControlLimits:
    """Lower limit (LCL), center line and upper limit (UCL) of a chart, in the unit of the data."""

    lower: float
    center: float
    upper: float


@dataclass(frozen=True)
class SpecLimits:
    """A specification window (LSL, USL, aim), in the unit of the data; either side may be absent."""

    lower: float | None = None
    upper: float | None = None
    target: float | None = None

    def __post_init__(self) -> None:
        """Refuse a window that no reading could meet."""
        for name in ("lower", "upper", "target"):
            value = getattr(self, name)
            if value is not None and not math.isfinite(value):
                raise InvalidInputError(f"{name} must be a finite number or absent, got {value}", argument=name)
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise InvalidInputError(f"lower ({self.lower}) must lie below upper ({self.upper})", argument="lower")
