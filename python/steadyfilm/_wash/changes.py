"""Changes of a tank's use: found on its charts, dated, sized, and set beside its titrations and the log of events."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, with_unit
from steadyfilm._review.records import moment_text
from steadyfilm._wash.series import Entry, TankSeries
from steadyfilm._wash.use import Limits, Stretch, stretches
from steadyfilm._wash.words import change_sentence, moment_words
from steadyfilm.distributions import student_t_quantile

if TYPE_CHECKING:
    from steadyfilm.wash_review import TankReview, UseChange, UseChart

__all__ = ["tank_changes"]

Floats = NDArray[np.float64]
NEAR = np.timedelta64(1, "D")
"""So near to a change an entry or an addition is told with it (common practice, no source)."""
LATEST = 4
"""Titrations before a change whose mean is where the bath stood; one alone has the whole error of a burette."""
MOST_TOLD = 3
FULL_PERCENT = 97.5
"""Of a two-sided 95 % interval."""


def tank_changes(
    tank: TankReview, series: TankSeries, limits: Sequence[Limits | None], entries: Sequence[Entry]
) -> tuple[UseChange, ...]:
    """Every change on the tank's charts; what the quicker chart has seen, a slower one does not tell again."""
    found: list[tuple[np.datetime64, np.datetime64, UseChange]] = []
    for chart, own in zip(tank.charts, limits, strict=True):
        if own is None:
            continue
        sigma = max(own.sigma, 1e-12 * abs(own.center), 1e-300)
        for stretch in stretches((chart.rate - own.center) / sigma, chart.sigma_multiple):
            start, end = chart.start[stretch.first], chart.end[stretch.last]
            if any(start < other_end and end > other_start for other_start, other_end, _ in found):
                continue
            found.append((start, end, _change(tank, chart, own, stretch, series, entries)))
    return tuple(change for _, _, change in sorted(found, key=lambda item: item[0]))


def _change(
    tank: TankReview, chart: UseChart, limits: Limits, stretch: Stretch, series: TankSeries, entries: Sequence[Entry]
) -> UseChange:
    from steadyfilm.wash_review import UseChange

    inside = slice(stretch.first, stretch.last + 1)
    start, end, seen = chart.start[stretch.first], chart.end[stretch.last], chart.end[stretch.seen]
    lasting = stretch.last == chart.rate.size - 1
    rate = float(chart.used[inside].sum() / chart.exposure[inside].sum())
    points = stretch.last - stretch.first + 1
    reach = student_t_quantile(FULL_PERCENT / 100.0, limits.degrees_of_freedom)
    error = reach * limits.sigma * math.sqrt(1.0 / points + 1.0 / limits.count) / limits.center
    out, percent = _first_out(tank, start, None if lasting else end + NEAR)
    lead = float((out - seen) / np.timedelta64(1, "h")) if out is not None else math.nan
    change = UseChange(
        tank=tank.name,
        kind=chart.kind,
        start=_text(start),
        end="" if lasting else _text(end),
        lasting=lasting,
        seen=_text(seen),
        intervals=points,
        rate=rate,
        usual_rate=limits.center,
        unit=chart.unit,
        share=rate / limits.center - 1.0,
        share_error=error,
        by_area=_by_area(tank, chart, start, end),
        metered=bool(series.meters),
        out_of_band="" if out is None else _text(out),
        out_percent=percent,
        lead_hours=lead,
        reaches_limit=_reaches(tank, chart, series, rate, limits, start) if lasting and out is None else "",
        recorded=_recorded(tank, series, entries, start, end),
        sentence="",
    )
    return replace(change, sentence=change_sentence(change, tank))


def _text(moment: Any) -> str:
    return str(np.datetime64(moment, "m")).replace("T", " ")


def _first_out(tank: TankReview, start: Any, until: Any) -> tuple[Any, float]:
    """The first titration outside the band from the start of a change on."""
    for k in tank.outside:
        at = tank.titrated_at[k]
        if at >= start and (until is None or at <= until):
            return at, float(tank.percent[k])
    return None, math.nan


def _by_area(tank: TankReview, chart: UseChart, start: Any, end: Any) -> float:
    """The change by painted area, from the stretches that lie inside of it."""
    for other in tank.charts:
        if other.kind != "area" or other is chart or not math.isfinite(other.center):
            continue
        mine = (other.start >= start) & (other.end <= end)
        if mine.any():
            return float(other.used[mine].sum() / other.exposure[mine].sum() / other.center - 1.0)
    return math.nan


def _reaches(tank: TankReview, chart: UseChart, series: TankSeries, rate: float, limits: Limits, start: Any) -> str:
    """When the bath leaves its band at this feed, if it loses as much as it usually gets; empty where it cannot be told."""
    plan = series.tank
    before = series.percent[series.titrated_at <= start]
    usual = series.percent[series.titrated_usual] if series.titrated_usual.any() else before
    if chart.kind != "hour" or plan.lower is None or plan.volume is None or not before.size or rate >= limits.center:
        return ""
    level, stands = float(usual.mean()), float(before[-LATEST:].mean())
    if level <= 0.0:
        return ""
    loss = limits.center * plan.feed_percent / level
    settles = rate * plan.feed_percent / loss
    if not settles < plan.lower < stands:
        return ""
    hours = _core.hours_to_concentration(plan.volume, loss, stands - settles, plan.lower - settles)
    fed = "unfed" if rate == 0.0 else "fed like this"
    return (
        f"{fed}, the bath falls below {number(plan.lower)} % after about {number(hours, 2)} h of running from "
        f"{moment_words(_text(start))} on, if it loses {with_unit(loss, plan.unit, 2)} of bath an hour as usual"
    )


def _recorded(tank: TankReview, series: TankSeries, entries: Sequence[Entry], start: Any, end: Any) -> tuple[str, ...]:
    """Entries of the log that name the tank near the change, and what was poured in by hand beside the meter."""
    named = re.compile(rf"(?<!\w){re.escape(tank.name)}(?!\w)", re.IGNORECASE)
    near = [entry for entry in entries if start - NEAR <= entry.time <= end + NEAR and named.search(entry.text)]
    told = [f"{moment_text(entry.time)}: {entry.text}" for entry in near[:MOST_TOLD]]
    if series.meters:
        for at, volume in zip(tank.poured_at, tank.poured, strict=True):
            if start <= at <= end + NEAR and len(told) < 2 * MOST_TOLD:
                told.append(f"{moment_text(at)}: {with_unit(float(volume), tank.unit)} poured in by hand")
    return tuple(told)
