"""The axis that all panels share: time where the times are given and differ, production order otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import MONTHS
from steadyfilm.plots.style import plain, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def day_words(moment: np.datetime64) -> str:
    r"""Day and month, and the time of day unless it is midnight; the same words whatever the language settings.

    >>> day_words(np.datetime64("2026-05-08")), day_words(np.datetime64("2026-05-08T14:30"))
    ('8 May', '8 May\n14:30')
    """
    day = str(moment.astype("datetime64[D]"))
    clock = str(moment.astype("datetime64[m]"))[11:16]
    words = f"{int(day[8:10])} {MONTHS[int(day[5:7]) - 1]}"
    return words if clock == "00:00" else f"{words}\n{clock}"


_STEPS = (
    "1m",
    "5m",
    "15m",
    "1h",
    "3h",
    "6h",
    "12h",
    "1D",
    "2D",
    "4D",
    "7D",
    "14D",
    "1M",
    "2M",
    "3M",
    "6M",
    "1Y",
    "2Y",
    "5Y",
    "10Y",
)


def time_ticks(first: np.datetime64, last: np.datetime64, most: int) -> np.ndarray:
    """Round moments from first to last, at most ``most`` of them: minutes to days, Mondays, first days of months and years.

    >>> time_ticks(np.datetime64("2026-05-04T06:30"), np.datetime64("2026-06-02T22:00"), 6).astype("datetime64[D]").tolist()[:2]
    [datetime.date(2026, 5, 11), datetime.date(2026, 5, 18)]
    """
    at = np.array([first], dtype="datetime64[m]")
    for step in _STEPS:
        count, unit = int(step[:-1]), step[-1]
        grid = np.arange(first.astype(f"datetime64[{unit}]"), last.astype(f"datetime64[{unit}]") + 1)
        shift = 3 if unit == "D" and count % 7 == 0 else 0  # 1970-01-01 was a Thursday; weeks start on a Monday
        grid = grid[(grid.astype(np.int64) + shift) % count == 0].astype("datetime64[m]")
        grid = grid[(grid >= first) & (grid <= last)]
        if len(grid) <= most:
            at = grid if len(grid) else at
            break
    return at


def shortened(name: object, most: int = 14) -> str:
    """A name for a tick: plain, and cut with a mark when long."""
    words = plain(name)
    return words if len(words) <= most else words[: most - 1] + "\u2026"


def _days(times: np.ndarray) -> np.ndarray:
    return np.asarray(times.astype("datetime64[us]").astype(np.int64) / 86_400e6)


def years_words(time: np.ndarray) -> str:
    """The year or years of the times."""
    first, last = str(time.min())[:4], str(time.max())[:4]
    return first if first == last else f"{first} to {last}"


@dataclass(frozen=True)
class Axis:
    """Place of each point, words under the axis, and how ticks are written: "time", "day" (order and dates), "name", "order"."""

    x: np.ndarray
    label: str
    kind: str
    time: np.ndarray | None = None
    names: tuple[str, ...] = ()

    def steps(self, *heights: np.ndarray) -> tuple[np.ndarray, ...]:
        """Lines that are level around each point and step half-way between points; where none changes, one stretch."""
        if not len(self.x):
            return self.x, *heights
        x = np.repeat(self._edges(), 2)[1:-1]
        lines = [np.repeat(height, 2) for height in heights]
        same = np.all([(y[1:-1] == y[:-2]) & (y[1:-1] == y[2:]) for y in lines], axis=0)
        keep = np.concatenate([[True], ~same, [True]])
        return x[keep], *(y[keep] for y in lines)

    def before(self, point: int) -> float:
        """Half-way between this point and the one before it."""
        return float(self._edges()[point])

    def _edges(self) -> np.ndarray:
        if len(self.x) < 2:
            middle = float(self.x[0]) if len(self.x) else 1.0
            return np.array([middle - 0.5, middle + 0.5])
        middle = (self.x[1:] + self.x[:-1]) / 2
        pad = max((self.x[-1] - self.x[0]) * 0.012, 1e-9)
        return np.concatenate([[self.x[0] - pad], middle, [self.x[-1] + pad]])

    def limits(self) -> tuple[float, float]:
        """The axis reaches just past the first and the last point."""
        edges = self._edges()
        return float(edges[0]), float(edges[-1])

    def ticks(self, axes: Axes, points_wide: float) -> None:
        """Few ticks, written so that they do not touch."""
        if self.kind == "time" and self.time is not None:
            at = time_ticks(self.time[0], self.time[-1], max(2, int(points_wide / 58)))
            axes.set_xticks(_days(at), [day_words(moment) for moment in at])
        elif self.kind == "day" and self.time is not None:
            days = self.time.astype("datetime64[D]")
            first = np.flatnonzero(np.concatenate([[True], days[1:] != days[:-1]]))
            every = max(1, int(np.ceil(len(first) * 44 / points_wide)))
            first = first[::every]
            axes.set_xticks(self.x[first], [day_words(day) for day in days[first]])
        elif self.kind == "name":
            widest = max((text_width(name, 7.5) for name in self.names), default=0.0) + 8
            every = max(1, int(np.ceil(len(self.names) * widest / points_wide)))
            axes.set_xticks(self.x[::every], list(self.names[::every]))
        else:
            from matplotlib.ticker import MaxNLocator

            axes.xaxis.set_major_locator(MaxNLocator(nbins=8, steps=[1, 2, 5, 10], integer=True, min_n_ticks=1))


def make_axis(time: Any, count: int, point: str, names: Any = None) -> Axis:
    """Time on the axis if every point has one and they rise; equal or unordered times would put points over each other.

    ``names`` are written at the points when there is no time.
    """
    order = np.arange(1.0, count + 1.0)
    if time is None and names is not None:
        return Axis(order, f"{point}, in production order", "name", names=tuple(shortened(name) for name in names))
    if time is None or count == 0:
        return Axis(order, f"{point}, in production order", "order")
    times = np.asarray(time)
    if times.shape != (count,):
        raise ValueError(f"time needs {count} entries, got shape {times.shape}")
    if times.dtype.kind != "M":
        times = times.astype("datetime64[us]")
    if np.isnat(times).any():
        return Axis(order, f"{point}, in production order", "order")
    if count > 1 and not (times[1:] > times[:-1]).all():
        return Axis(order, f"{point}s in production order, day of {years_words(times)}", "day", times)
    return Axis(_days(times), f"time, {years_words(times)}", "time", times)
