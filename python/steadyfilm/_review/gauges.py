"""What a gauge shows on certified foils before and after a shift, and when it read off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import MONTHS

Floats = NDArray[np.float64]

FEWEST_FOR_USUAL = 8
"""With so many checks of a foil, what the gauge usually shows on it (a coarse display, say) is taken off; its median."""
SURE = 5.0
"""A check is off when it differs by more than so many standard deviations of the gauge's other checks (judgment, no source)."""
Z_95 = 1.96
TO_SIGMA = 1.4826
"""Median absolute deviation of normal values to their standard deviation."""


@dataclass(frozen=True)
class GaugeCheck:
    """One check of a gauge: how much more it showed than the foils' certificates state, what it usually shows taken off."""

    gauge: str
    time: str
    """Local time as ISO 8601."""
    difference: float
    readings: int
    display_step: float
    """Smallest step seen between two readings of this gauge, coarsest foil: what its display can tell."""


@dataclass(frozen=True)
class GaugeFault:
    """Checks in a row at which a gauge read off, in the working unit."""

    gauge: str
    size: float
    """Positive: it reads high."""
    error: float
    """Half width of the 95 % interval."""
    checks: int
    first_time: str
    last_time: str
    before_time: str
    """The last check before at which it read right, and what it then showed; empty and NaN without one."""
    before: float
    after_time: str
    after: float

    def words(self, unit: str) -> str:
        """The fault and the checks before and after it."""
        high = "high" if self.size > 0 else "low"
        digits = min(3, max(0, 1 - int(np.floor(np.log10(self.error))))) if self.error > 0 else 3
        when = (
            f"the check of {moment_text(self.first_time)}"
            if self.checks == 1
            else f"{self.checks} checks from {moment_text(self.first_time)} to {moment_text(self.last_time)}"
        )
        size = f"{abs(self.size):.{digits}f} {unit}".rstrip()
        low, up = (f"{abs(self.size) + way * self.error:.{digits}f}" for way in (-1, 1))
        parts = []
        for which, time, said in (("before", self.before_time, self.before), ("after", self.after_time, self.after)):
            if time:
                shown = f"{round(said, digits) + 0.0:+.{digits}f}"
                parts.append(f"{shown} at the check {which} ({moment_text(time)})")
        around = "; ".join(parts) or "no other check around it"
        return f"gauge {self.gauge} read {size} {high} on shims ({low} to {up}) at {when}; {around}"


def moment_text(time: str) -> str:
    """Date and time as in ``Mar 13, 07:38``."""
    moment = np.datetime64(time, "m").item()
    return f"{MONTHS[moment.month - 1]} {moment.day}, {moment:%H:%M}"


def gauge_sessions(
    gauge: Sequence[str], time: NDArray[np.datetime64], foil: Sequence[Any], value: Floats, stated: Floats
) -> tuple[GaugeCheck, ...]:
    """The checks of a log, one a gauge and time, in the order of time; rows are single readings in the working unit."""
    rows: dict[tuple[str, str, Any], list[float]] = {}
    seen: dict[tuple[str, Any], set[float]] = {}
    for k in np.argsort(time, kind="stable"):
        moment = str(time[k].astype("datetime64[m]"))
        rows.setdefault((moment, gauge[k], foil[k]), []).append(float(value[k] - stated[k]))
        seen.setdefault((gauge[k], foil[k]), set()).add(round(float(value[k]), 9))
    means = {key: float(np.mean(x)) for key, x in rows.items()}
    by_foil: dict[tuple[str, Any], list[float]] = {}
    for (_, name, what), mean in means.items():
        by_foil.setdefault((name, what), []).append(mean)
    usual = {key: float(np.median(x)) if len(x) >= FEWEST_FOR_USUAL else 0.0 for key, x in by_foil.items()}
    steps: dict[str, float] = {}
    for (name, _), shown in seen.items():
        if len(shown) > 1:
            steps[name] = max(steps.get(name, 0.0), float(np.diff(sorted(shown)).min()))
    sessions: dict[tuple[str, str], list[tuple[float, int]]] = {}
    for (moment, name, what), mean in means.items():
        sessions.setdefault((moment, name), []).append((mean - usual[name, what], len(rows[moment, name, what])))
    return tuple(
        GaugeCheck(name, moment, float(np.mean([x for x, _ in found])), sum(count for _, count in found), steps.get(name, 0.0))
        for (moment, name), found in sessions.items()
    )


def _scatter(own: Sequence[GaugeCheck]) -> float:
    """Standard deviation of one check of a gauge, whatever it was off at some of them."""
    differences = np.array([check.difference for check in own])
    scatter = TO_SIGMA * float(np.median(np.abs(differences - np.median(differences))))
    # Where the display hides all scatter, its step stands for it: an error spread evenly over a step.
    return max(scatter, own[0].display_step / float(np.sqrt(12 * own[0].readings)))


def gauge_faults(checks: Sequence[GaugeCheck], smallest: float) -> tuple[GaugeFault, ...]:
    """Runs of checks at which a gauge read off by more than its other checks scatter, and by at least ``smallest``."""
    faults = []
    for name in dict.fromkeys(check.gauge for check in checks):
        own = [check for check in checks if check.gauge == name]
        differences = np.array([check.difference for check in own])
        sigma = _scatter(own)
        off = np.abs(differences) > np.maximum(SURE * sigma, max(smallest, 1e-9))
        k = 0
        while k < len(own):
            if not off[k]:
                k += 1
                continue
            end = k
            while end + 1 < len(own) and off[end + 1] and differences[end + 1] * differences[k] > 0:
                end += 1
            before, after = own[k - 1] if k else None, own[end + 1] if end + 1 < len(own) else None
            faults.append(
                GaugeFault(
                    gauge=name,
                    size=float(differences[k : end + 1].mean()),
                    error=float(Z_95 * sigma / np.sqrt(end + 1 - k)),
                    checks=end + 1 - k,
                    first_time=own[k].time,
                    last_time=own[end].time,
                    before_time=before.time if before else "",
                    before=before.difference if before else float("nan"),
                    after_time=after.time if after else "",
                    after=after.difference if after else float("nan"),
                )
            )
            k = end + 1
    return tuple(sorted(faults, key=lambda fault: fault.first_time))


def read_in(fault: GaugeFault, gauge: Sequence[str], time: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Readings with a gauge between the good checks around its fault. Where gauges are not recorded, names are empty: any."""
    names, minutes = np.asarray(gauge, dtype=object), time.astype("datetime64[m]")
    inside = (names == "") | (names == fault.gauge)
    if fault.before_time:
        inside &= minutes >= np.datetime64(fault.before_time)
    if fault.after_time:
        inside &= minutes <= np.datetime64(fault.after_time)
    return np.asarray(inside, dtype=bool)


@dataclass(frozen=True)
class OnShims:
    """What the log says of the gauges that read some units: how far they were off at that time, in the working unit."""

    deviation: float
    uncertainty: float
    """Standard; a coarse display cannot be known better than an error spread evenly over its step."""
    fault: GaugeFault | None
    """The fault that most of the units were read in."""


def on_shims(
    checks: Sequence[GaugeCheck], faults: Sequence[GaugeFault], gauge: Sequence[str], time: NDArray[np.datetime64]
) -> OnShims | None:
    """What checks say of the gauges at the times of some units' readings; None where they do not say it.

    The units lie in a fault if at least half were read with its gauge between the good checks around it. Otherwise what counts
    is the rest of them, read outside any fault: each gauge must have been checked before the first and after the last of its
    units. Where gauges are not recorded, names are empty: any gauge of the log may have read them.
    """
    names, minutes = np.asarray(gauge, dtype=object), time.astype("datetime64[m]")
    by_gauge = {check.gauge: [x for x in checks if x.gauge == check.gauge] for check in checks}
    touched = [(int(inside.sum()), fault, inside) for fault in faults if (inside := read_in(fault, gauge, time)).any()]
    if touched:
        units, fault, _ = max(touched, key=lambda x: x[0])
        if 2 * units >= len(names):
            display = by_gauge[fault.gauge][0].display_step / np.sqrt(12.0)
            return OnShims(fault.size, float(np.hypot(fault.error / Z_95, display)), fault)
        outside = ~np.logical_or.reduce([inside for _, _, inside in touched])
        if 2 * int(outside.sum()) < len(names):
            return None
        names, minutes = names[outside], minutes[outside]
    shown, errors = [], []
    for name in by_gauge if "" in names else dict.fromkeys(names):
        own = [x for x in by_gauge.get(name, []) if not any(_is_of(x, fault) for _, fault, _ in touched)]
        read = minutes[(names == "") | (names == name)]
        before = [k for k, x in enumerate(own) if np.datetime64(x.time) <= read.min()]
        after = [k for k, x in enumerate(own) if np.datetime64(x.time) >= read.max()]
        if not before or not after:
            return None
        around = [x.difference for x in own[before[-1] : after[0] + 1]]
        shown.append(float(np.mean(around)))
        errors.append(float(np.hypot(_scatter(own) / np.sqrt(len(around)), own[0].display_step / np.sqrt(12.0))))
    if not shown:
        return None
    # The worst of several gauges stands for all: none may have read wrong.
    worst = int(np.argmax(np.abs(shown)))
    return OnShims(shown[worst], errors[worst], None)


def _is_of(check: GaugeCheck, fault: GaugeFault) -> bool:
    """Whether a check is one of those at which the gauge was off."""
    return check.gauge == fault.gauge and fault.first_time <= check.time <= fault.last_time
