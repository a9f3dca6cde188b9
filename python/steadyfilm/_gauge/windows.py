"""What a window asks of a gauge: how many readings, by how many people, and where the verdict stays open all the same."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm.conformity import guard_band, operating_curve
from steadyfilm.limits import SpecLimits

__all__ = ["AcceptCurve", "GaugeSpread", "GuardZone", "StudyWindow", "WindowAnswer", "answer_window"]

NEAR = 1e-9
"""A share that misses the wanted one by a relative 1e-9 meets it."""
CURVE_POINTS = 201
LADDER = (1, 2, 3, 5, 10)
"""Numbers of readings by one appraiser that pictures and tables show, besides those that are needed."""


@dataclass(frozen=True)
class StudyWindow:
    """A window to be judged with the gauge.

    ``difference`` says that the layer is one reading minus an earlier one, so that both errors enter.
    """

    name: str
    specification: SpecLimits
    difference: bool = False

    @property
    def one_limit(self) -> bool:
        """Whether a side is open."""
        return self.specification.lower is None or self.specification.upper is None


@dataclass(frozen=True)
class GaugeSpread:
    """What a study says of single readings: standard deviations in the unit of the readings."""

    repeat: float
    """Of readings by one appraiser at one place (EV)."""
    common: float
    """What all readings of one appraiser at one place share: appraiser and interaction."""
    grr: float
    grr_lower: float | None
    grr_upper: float | None
    appraisers: int
    mean: float
    """Of all readings."""


@dataclass(frozen=True)
class GuardZone:
    """The window as a verdict by the average of so many readings sees it, shared evenly by so many appraisers."""

    readings: int
    appraisers: int
    uncertainty: float
    """Standard deviation of that average about the true thickness."""
    guard: float
    """How far a limit must be away for the verdict to be wrong in at most ``alpha`` of cases."""
    accept: SpecLimits | None
    """Inside: clearly in. None where the guards meet and nothing is."""
    reject: SpecLimits
    """Outside: clearly out."""
    left: float | None
    """Width between the acceptance limits, below 0 where the guards overlap; None with one limit."""


@dataclass(frozen=True)
class AcceptCurve:
    """Chance that the average of so many readings lies inside the window, at each true thickness."""

    readings: int
    appraisers: int
    probability: NDArray[np.float64]
    tenth_outside: float | None
    """The same for a film a tenth of the window's width outside; None with one limit."""


@dataclass(frozen=True)
class WindowAnswer:
    """Whether one window can be judged, and how. Shares are fractions of the window's room."""

    window: StudyWindow
    room: float
    """Width of the window; with one limit the distance of the studied mean to it."""
    share: float | None
    """``sigma_multiple`` GRR over the room for a single reading (half of it with one limit); None without room, and where
    the study shows no scatter at all."""
    share_lower: float | None
    share_upper: float | None
    share_limit: float
    judgeable: bool
    """Whether ``readings`` by ``appraisers`` keep ``share_limit``, with no more readings than are ever taken."""
    readings: int | None
    """Fewest readings in all; None where no number by the appraisers of the study does."""
    appraisers: int | None
    """Who share them evenly; the fewest with that many readings."""
    reached: float | None
    """Share that those readings take."""
    one_appraiser: int | None
    """Fewest readings by one appraiser; None where no number does."""
    floor_share: float | None
    """What is left of the share with endlessly many readings by one appraiser."""
    floor_share_all: float | None
    """The same by all appraisers of the study."""
    if_alike: int | None
    """Fewest readings once appraisers read alike."""
    outside_study: bool
    """Whether the window reaches beyond the thicknesses of the study, so that its error there is an assumption."""
    zones: tuple[GuardZone, ...]
    """From single readings on."""
    thickness: NDArray[np.float64]
    """True thickness, for the curves."""
    curves: tuple[AcceptCurve, ...]
    wrong_at_limit: float
    """Chance at each guard; one-sided."""


def answer_window(
    window: StudyWindow,
    spread: GaugeSpread,
    *,
    share_limit: float,
    sigma_multiple: float,
    bias_bound: float,
    alpha: float,
    most_readings: int,
    studied: tuple[float, float],
) -> WindowAnswer:
    """What one window asks of the gauge.

    Variance of an average of k readings by each of m appraisers: (common^2 + repeat^2 / k) / m, twice that for a difference of
    two readings. The guard is ``bias_bound`` plus the one-sided normal quantile of ``1 - alpha`` times its root (JCGM 106:2012,
    ISO 14253-1).
    """
    times = math.sqrt(2.0) if window.difference else 1.0
    limits = window.specification
    low, high = limits.lower, limits.upper
    if low is not None and high is not None:
        room, multiple = high - low, sigma_multiple
    else:
        edge = low if low is not None else high
        assert edge is not None  # a window has a limit
        # The studied thicknesses are those of the films that were read, not of a difference of two of them.
        room = math.nan if window.difference else (spread.mean - edge if low is not None else edge - spread.mean)
        multiple = sigma_multiple / 2.0
    # Without any scatter the display is too coarse to show it: a share of 0 would be a claim about the display alone.
    known = math.isfinite(room) and room > 0.0 and spread.grr > 0.0

    def share_of(sd: float | None) -> float | None:
        return multiple * times * sd / room if known and sd is not None else None

    target = share_limit * room / (multiple * times) if known else 0.0
    readings = appraisers = reached = one = alike = None
    if known:
        readings, appraisers = fewest_readings(spread, target)
        one = repeats_needed(spread.repeat, spread.common, target)
        alike = repeats_needed(spread.repeat, 0.0, target)
    if readings is not None and appraisers is not None:
        reached = share_of(average_sd(spread, appraisers, readings // appraisers))
    judgeable = readings is not None and readings <= most_readings
    plans = [(n, 1) for n in LADDER]
    if judgeable and readings is not None and appraisers is not None and (readings, appraisers) not in plans:
        plans = sorted([*plans, (readings, appraisers)])
    sds = {plan: times * average_sd(spread, plan[1], plan[0] // plan[1]) for plan in plans}
    zones = tuple(_zone(limits, plan, sd, bias_bound, alpha) for plan, sd in sds.items())
    thickness = _thickness(limits, zones[0].uncertainty)
    shown = [plan for plan in plans if plan in ((1, 1), (readings, appraisers), (LADDER[-1], 1))]
    curves = tuple(_curve(limits, thickness, plan, sds[plan]) for plan in shown)
    return WindowAnswer(
        window=window,
        room=room,
        share=share_of(spread.grr),
        share_lower=share_of(spread.grr_lower),
        share_upper=share_of(spread.grr_upper),
        share_limit=share_limit,
        judgeable=judgeable,
        readings=readings,
        appraisers=appraisers,
        reached=reached,
        one_appraiser=one,
        floor_share=share_of(spread.common),
        floor_share_all=share_of(spread.common / math.sqrt(spread.appraisers)),
        if_alike=alike,
        outside_study=_outside(window, studied),
        zones=zones,
        thickness=thickness,
        curves=curves,
        wrong_at_limit=alpha,
    )


def average_sd(spread: GaugeSpread, appraisers: int, each: int) -> float:
    """Standard deviation of an average of ``each`` readings by each of so many appraisers."""
    return math.sqrt((spread.common**2 + spread.repeat**2 / each) / appraisers)


def repeats_needed(repeat: float, common: float, target: float) -> int | None:
    """Smallest n with sqrt(common^2 + repeat^2 / n) at most ``target``; None where no n has it.

    >>> repeats_needed(0.05, 0.0, 0.01), repeats_needed(0.05, 0.02, 0.01)
    (25, None)
    """
    if repeat**2 + common**2 <= target**2 * (1 + NEAR):
        return 1
    room = target**2 - common**2
    if room <= NEAR * target**2:
        return None
    return max(1, math.ceil(repeat**2 / room * (1 - NEAR)))


def fewest_readings(spread: GaugeSpread, target: float) -> tuple[int | None, int | None]:
    """Fewest readings in all, and the fewest appraisers who share them evenly; at most those of the study."""
    best: tuple[int, int] | None = None
    for appraisers in range(1, spread.appraisers + 1):
        each = repeats_needed(spread.repeat, spread.common, target * math.sqrt(appraisers))
        if each is not None and (best is None or each * appraisers < best[0]):
            best = (each * appraisers, appraisers)
    return best or (None, None)


def _zone(limits: SpecLimits, plan: tuple[int, int], sd: float, bias_bound: float, alpha: float) -> GuardZone:
    low, high = limits.lower, limits.upper
    band = guard_band(unit="", standard_uncertainty=sd, lower=low, upper=high, alpha=alpha, bias_bound=bias_bound)
    accept = None
    if band.left is None or band.left > 0:
        accept = SpecLimits(band.accept_lower, band.accept_upper)
    return GuardZone(*plan, sd, band.guard, accept, SpecLimits(band.reject_lower, band.reject_upper), band.left)


def _thickness(limits: SpecLimits, sd: float) -> NDArray[np.float64]:
    """True thicknesses to draw a curve over: the window and where its verdicts turn."""
    ends = [x for x in (limits.lower, limits.upper) if x is not None]
    beyond = 3.2 * sd if sd > 0 else 0.5 * (ends[-1] - ends[0]) or 0.05 * abs(ends[0]) or 1.0
    return np.linspace(min(ends) - beyond, max(ends) + beyond, CURVE_POINTS)


def _curve(limits: SpecLimits, thickness: NDArray[np.float64], plan: tuple[int, int], sd: float) -> AcceptCurve:
    tenth = None
    if limits.lower is not None and limits.upper is not None:
        beyond = np.array([limits.upper + 0.1 * (limits.upper - limits.lower)])
        tenth = float(_accepted(limits, beyond, sd)[0])
    return AcceptCurve(*plan, _accepted(limits, thickness, sd), tenth)


def _accepted(limits: SpecLimits, thickness: NDArray[np.float64], sd: float) -> NDArray[np.float64]:
    """Chance to accept by the plain limits."""
    low, high = limits.lower, limits.upper
    one: dict[str, Any] = {"sigma_location": 0.0, "sigma_repeat": sd, "location_count": 1}
    return operating_curve(unit="", lower=low, upper=high, means=thickness, **one).probability


def _outside(window: StudyWindow, studied: tuple[float, float]) -> bool:
    """Whether a limit of a film that is read itself lies outside the studied thicknesses."""
    if window.difference:
        return False
    ends: Sequence[float] = [x for x in (window.specification.lower, window.specification.upper) if x is not None]
    return any(not studied[0] <= x <= studied[1] for x in ends)
