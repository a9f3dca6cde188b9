"""The picture of points judged against limits that were set before: one stream in its unit, or all streams in sigma."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import number, plural, with_unit
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots import Drawn
from steadyfilm.plots._caption import chance_words, ewma_words
from steadyfilm.plots._labels import Mark
from steadyfilm.plots._pair import Panel, draw_panels
from steadyfilm.run_rules import describe

if TYPE_CHECKING:
    from steadyfilm.limits import SpecLimits
    from steadyfilm.monitor import Monitored

__all__ = ["plot_monitored"]


def plot_monitored(
    result: Monitored,
    *,
    ax: Any = None,
    stream: str | None = None,
    adjusted: bool = False,
    quantity: str = "value",
    window: SpecLimits | None = None,
    title: str | None = None,
    caption: str | None = None,
) -> Drawn:
    """Draw one piece of monitored points, and the EWMA below where there is one.

    Parameters
    ----------
    result : Monitored
    ax : matplotlib axes, optional
        One axes, or one for each panel.
    stream : str, optional
        This stream alone, in the unit of its values. By default, a single stream is drawn so, and several streams together as
        distances from their own centers, in sigma.
    adjusted : bool
        Take off what makes the centers of a stream's points differ (adjusted factors), so that its lines are level: each value is
        moved by as much as its center lies off the stream's mean center.
    quantity : str
        What is monitored, for the axis.
    window : SpecLimits, optional
        Specification window of the values; not for several streams together.
    title, caption : str, optional
        Instead of the verdict, and of what the chart says of its false alarms.
    """
    names = sorted(set(result.stream.tolist()))
    if stream is not None and stream not in names:
        raise InvalidInputError(f"no points of stream {stream!r}; there are {', '.join(map(repr, names))}", argument="stream")
    together = stream is None and len(names) > 1
    pick = np.ones(result.stream.size, dtype=bool) if stream is None else result.stream == stream
    rows = np.flatnonzero(pick)
    if result.time is not None:
        rows = rows[np.argsort(result.time[rows], kind="stable")]
    place = {int(row): i for i, row in enumerate(rows)}
    marks: dict[bool, list[Mark]] = {False: [], True: []}
    for signal in result.signals:
        if signal.point in place:
            of = f" ({result.stream[signal.point]})" if together else ""
            words = f"{describe(signal.rule)}{of}"
            smoothed = signal.rule.startswith("ewma")
            length = 1 if together or smoothed else signal.length
            marks[smoothed].append(Mark(place[signal.point], words, signal.side, length))
    center = np.zeros(rows.size) if together else result.center[rows]
    value = result.z[rows] if together else result.value[rows]
    if adjusted and not together:
        used = result.takes_part[rows]
        level = float(center[used].mean()) if used.any() else 0.0
        value, center = value - (center - level), np.full(rows.size, level)
        quantity = f"{quantity}, adjusted"
    scale = np.ones(rows.size) if together else result.sigma_point[rows]
    unit = "sigma" if together else result.made.unit
    multiple = _limit_multiple(result.limits.rules)
    reach = np.nan if multiple is None else multiple
    panels = [
        Panel(
            value,
            center,
            center - reach * scale,
            center + reach * scale,
            scale if result.limits.chart == "location" else None,
            [*marks[False], *marks[True]] if together else marks[False],
            window=None if together else window,
            label=f"{quantity}, distance from center" if together else quantity,
            unit=unit,
        )
    ]
    if result.limits.smoothing and not together:
        width = result.ewma_limit * scale
        points = np.where(result.takes_part[rows], value, np.nan)
        panels.append(
            Panel(
                points,
                center,
                center - width,
                center + width,
                signals=marks[True],
                trace=center + result.ewma[rows] * scale,
                label=f"EWMA, smoothing {number(result.limits.smoothing)}",
                unit=unit,
                role="ewma",
            )
        )
    words = chance_words(result.limits.rules, int(result.takes_part[rows].sum()), estimated=False)
    if result.limits.smoothing:
        words += " " + ewma_words(result.limits.smoothing, result.limits.ewma_multiple)
    return draw_panels(
        panels,
        title=(_stream_sentence(result, stream, rows, value, center) if stream else result.sentence())
        if title is None
        else title,
        caption=words if caption is None else caption,
        time=None if result.time is None else result.time[rows],
        hollow=~result.takes_part[rows],
        break_before=np.ones(rows.size, dtype=bool) if together else result.break_before[rows],
        ax=ax,
    )


def _stream_sentence(result: Monitored, stream: str, rows: np.ndarray, values: np.ndarray, centers: np.ndarray) -> str:
    """The verdict on one stream, with the numbers as drawn."""
    episodes = [episode for episode in result.episodes if episode.stream == stream]
    among = f"{plural(int(result.takes_part[rows].sum()), 'point')} of {stream}"
    if not episodes:
        return f"No signal among {among}."
    first = episodes[0]
    place = int(np.flatnonzero(rows == first.point)[0])
    at = f"point {place + 1}"
    if result.time is not None:
        at += f" ({str(result.time[first.point].astype('datetime64[m]')).replace('T', ' ')})"
    value = with_unit(float(values[place]), result.made.unit)
    center = with_unit(float(centers[place]), result.made.unit)
    reasons = " and ".join(describe(rule) for rule in first.rules)
    side = "" if first.side == "both" else f", {first.side}"
    return f"{plural(len(episodes), 'episode')} among {among}; first at {at}, {value} with center {center}: {reasons}{side}."


def _limit_multiple(rules: tuple[str, ...]) -> float | None:
    """Where the limits lie, in sigma: the rule of a single point."""
    found = [re.fullmatch(r"1of1_beyond([0-9.]+)_\w+", rule) for rule in rules]
    return min((float(match[1]) for match in found if match), default=None)
