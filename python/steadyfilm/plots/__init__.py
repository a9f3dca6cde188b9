"""Pictures of results. A drawing function takes a result and an axes and returns what it drew; it computes no statistics."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Drawn"]


@dataclass(frozen=True)
class Drawn:
    """What was drawn: figure, axes by role, artists by role, and the exact numbers.

    ``notes`` says in words what the markers mean, one line a signal. A picture on the library's own figure shows itself in a
    notebook; one drawn on axes that the caller gave (``own_figure`` false) is left to the caller to show.
    """

    figure: Figure
    axes: dict[str, Axes]
    artists: dict[str, Any]
    data: dict[str, np.ndarray[Any, Any]]
    title: str
    caption: str
    notes: tuple[str, ...] = field(default=())
    own_figure: bool = field(default=True)

    def svg(self, title: str | None = None, description: str | None = None) -> str:
        """The picture as SVG text for embedding in HTML: the same bytes on every run, text kept as text, alternative text inside.

        Parameters
        ----------
        title, description : str, optional
            What a screen reader says; by default the verdict, and the caption with the signals.
        """
        from steadyfilm.plots._svg import svg_text

        words = " ".join(part for part in (self.caption, *self.notes) if part)
        return svg_text(self.figure, title or self.title, words if description is None else description)

    def png(self, dpi: float = 144) -> bytes:
        """The picture as PNG bytes, without date or version inside."""
        from steadyfilm.plots._svg import png_bytes

        return png_bytes(self.figure, dpi)

    def save(self, path: str | Path, dpi: float = 200) -> Path:
        """Write the picture to a file; the suffix says the kind (``.svg``, ``.png``, or what matplotlib knows besides)."""
        from steadyfilm.plots._svg import write_picture

        return write_picture(self, Path(path), dpi)

    def description(self) -> dict[str, Any]:
        """What the picture shows, ready for JSON: words, axes, how many artists of each role, the numbers (None for none)."""
        return {
            "title": self.title,
            "caption": self.caption,
            "notes": list(self.notes),
            "axes": {name: {"x": axes.get_xlabel(), "y": axes.get_ylabel()} for name, axes in self.axes.items()},
            "artists": {role: len(found) if isinstance(found, list | tuple) else 1 for role, found in self.artists.items()},
            "data": {name: [None if x != x else x for x in numbers.tolist()] for name, numbers in self.data.items()},
        }

    def _repr_svg_(self) -> str | None:
        return self.svg() if self.own_figure else None

    def _repr_png_(self) -> bytes | None:
        return self.png() if self.own_figure else None
