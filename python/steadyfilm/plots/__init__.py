"""Pictures of results. A drawing function takes a result and an axes and returns what it drew; it computes no statistics."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Drawn"]


@dataclass(frozen=True)
class Drawn:
    """What was drawn: figure, axes by role, artists by role, and the exact numbers."""

    figure: Figure
    axes: dict[str, Axes]
    artists: dict[str, Any]
    data: dict[str, np.ndarray[Any, Any]]
    title: str
    caption: str
