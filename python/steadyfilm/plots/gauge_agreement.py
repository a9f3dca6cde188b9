"""The picture of a study of judgements: each appraiser's rates with their exact intervals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._agreement_parts import percent
from steadyfilm._format import number
from steadyfilm.plots import Drawn
from steadyfilm.plots._axis import shortened
from steadyfilm.plots._frame import open_frame
from steadyfilm.plots.style import COLORS, INK, PAPER, label, own_look, put_text

if TYPE_CHECKING:
    from steadyfilm.gauge_agreement import AgreementStudy

__all__ = ["plot_rates"]

_KINDS = {
    "consistent": ("alike in all trials", "s"),
    "effective": ("right in all trials", "o"),
    "miss": ("misses", "v"),
    "false_alarm": ("false alarms", "^"),
}
"""Words and marker of each rate; good ones are filled, errors are hollow."""
_ERRORS = ("miss", "false_alarm")


def plot_rates(result: AgreementStudy, *, ax: Any = None, title: str | None = None, caption: str | None = None) -> Drawn:
    """Draw one row a rate, the appraisers below each other in it: a mark for the share, a line for its exact interval.

    Parameters
    ----------
    result : AgreementStudy
    ax : matplotlib axes, optional
    title, caption : str, optional
        Instead of the verdict, and of what the marks mean.
    """
    people = result.appraisers
    kinds = [kind for kind in _KINDS if any(_share(one, kind) is not None for one in people)]
    rows = [(kind, one, _share(one, kind)) for kind in kinds for one in people]
    rows = [row for row in rows if row[2] is not None and row[2].total]
    group = np.array([kinds.index(kind) for kind, _, _ in rows], dtype=float)
    height = np.arange(len(rows)) + 0.7 * group
    data = {
        name: np.array([100.0 * getattr(found, field) for _, _, found in rows])
        for name, field in (("share", "share"), ("lower", "lower"), ("upper", "upper"))
    }
    level = number(100 * result.made.options["confidence_level"])
    words = f"Mark: share of parts (squares, circles) or of decisions (triangles); line: exact {level} % interval."
    heading = result.sentence() if title is None else title
    foot = words if caption is None else caption
    with own_look():
        tall = max(1.0, 0.24 * len(rows) + 0.2 * len(kinds) + 0.2)
        frame = open_frame([tall], title=heading, caption=foot, notes=(), ax=ax)
        axes = frame.panels[0]
        artists: dict[str, Any] = {**frame.words, "marks": [], "groups": [], "row_labels": []}
        line: dict[str, Any] = {"color": INK, "linewidth": 1.4, "zorder": 3}
        artists["intervals"] = axes.hlines(height, data["lower"], data["upper"], **line)
        for kind in kinds:
            own = [i for i, row in enumerate(rows) if row[0] == kind]
            if not own:
                continue
            color = COLORS["signal"] if kind in _ERRORS else COLORS["bar"]
            look: dict[str, Any] = {"color": color, "markerfacecolor": PAPER if kind in _ERRORS else color, "ms": 6, "mew": 1.4}
            artists["marks"] += axes.plot(data["share"][own], height[own], linestyle="", marker=_KINDS[kind][1], zorder=4, **look)
            artists["groups"].append(put_text(axes, 0.5, height[own[0]] - 0.62, _KINDS[kind][0], va="center", ha="left"))
        at = axes.get_yaxis_transform()
        for i, (_, _, found) in enumerate(rows):
            text = f"{found.count} of {found.total}, {percent(found.share)}"
            artists["row_labels"].append(put_text(axes, 1.02, height[i], text, va="center", ha="left", transform=at))
        axes.set_xlim(0.0, 101.0)
        axes.set_ylim((float(height[-1]) if len(rows) else 0.0) + 0.6, -1.0)
        axes.set_yticks(height, [shortened(one.appraiser, 12) for _, one, _ in rows])
        label(axes, x="share (%)", y="")
    return Drawn(frame.figure, {"rates": axes}, artists, data, heading, foot, (), frame.own_figure)


def _share(one: Any, kind: str) -> Any:
    return getattr(one, kind)
