"""What is said of wash tanks: changes of use, titrations beside their band, and what cannot be told."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._format import MONTHS, alike, number, plural, window_text

if TYPE_CHECKING:
    from steadyfilm._plan.wash import WashPlan
    from steadyfilm.wash_review import TankReview, UseChange

__all__ = [
    "band_text",
    "cannot_tell",
    "change_sentence",
    "moment_words",
    "tank_sentence",
    "told_first",
    "upper_first",
    "verdict_lines",
]

PER = {"hour": "an hour", "day": "a day"}
SMALLEST = 0.005
"""Of a share that is written as whole percent."""


def moment_words(moment: str) -> str:
    """Month, day and time of a local time as text.

    >>> moment_words("2026-03-26 06:00")
    'Mar 26, 06:00'
    """
    return f"{MONTHS[int(moment[5:7]) - 1]} {int(moment[8:10])}, {moment[11:16]}"


def upper_first(text: str) -> str:
    """A text as it begins a sentence."""
    return text[:1].upper() + text[1:]


def band_text(tank: TankReview) -> str:
    """The band in words; the tank has one."""
    return window_text(tank.lower, tank.upper, "%")


def change_sentence(change: UseChange, tank: TankReview) -> str:
    """One change: what, since when, how much, and what the titration did."""
    perfect = change.lasting
    who = upper_first(f"{change.tank} feed" if change.metered else change.tank)
    shown, per = change.share, PER.get(change.kind, f"a {_surface(change.unit)}")
    if change.kind == "hour" and math.isfinite(change.by_area) and change.rate > 0.0:
        shown, per = change.by_area, f"a {_area_unit(tank)}"
    more = "more" if shown > 0 else "less"
    if change.rate == 0.0 and change.metered:
        text = f"{who} {'has ' if perfect else ''}delivered nothing"
    else:
        verb = ("has used" if perfect else "used") if change.metered else ("has taken" if perfect else "took")
        amount = f"{100 * abs(shown):.0f}" if abs(shown) >= SMALLEST else number(100 * abs(shown), 2)
        text = f"{who} {verb} {amount} % {more} {per}"
    start = moment_words(change.start)
    text += f" since {start}" if perfect else f" from {start} to {moment_words(change.end)}"
    usual, now = number(change.usual_rate, 3), number(change.rate, 3)
    text += f" (usually {usual} {change.unit})" if change.rate == 0.0 else f" ({now} against {usual} {change.unit})"
    text += _beside(change, tank)
    if change.reaches_limit:
        text += f"; {change.reaches_limit}"
    if change.recorded:
        text += f"; on record: {'; '.join(change.recorded)}"
    return text + "."


def _surface(unit: str) -> str:
    return unit.rpartition(" ")[2].rpartition("/")[2]


def _area_unit(tank: TankReview) -> str:
    return next(_surface(chart.unit) for chart in tank.charts if chart.kind == "area")


def _beside(change: UseChange, tank: TankReview) -> str:
    """What the titration did meanwhile."""
    if not tank.percent.size:
        return "; no titration says where the bath stands"
    if tank.lower is None and tank.upper is None:
        return "; the plan has no band for its titration"
    if change.out_of_band:
        told = f"({number(change.out_percent, 3)} % on {moment_words(change.out_of_band)}; band {band_text(tank)})"
        if change.lead_hours > 0.0:
            lead = number(round(change.lead_hours, 1))
            return f"; seen on {moment_words(change.seen)}, {lead} h before a titration left its band {told}"
        return f"; seen on {moment_words(change.seen)}, when a titration had left its band {told}"
    if not change.lasting:
        return f"; seen on {moment_words(change.seen)}; no titration left its band"
    at = moment_words(str(tank.titrated_at[-1].astype("datetime64[m]")).replace("T", " "))
    told = f"({number(float(tank.percent[-1]), 3)} % on {at}; band {band_text(tank)})"
    word = {
        "inside": "titration still inside its band",
        "doubtful": "titration too near a limit to tell whether it is inside its band",
        "outside": "titration outside its band, from before",
    }[tank.states[-1]]
    return f"; {word} {told}"


def tank_sentence(tank: TankReview, least: int) -> tuple[str, tuple[str, ...]]:
    """What there is to say of a tank beside its changes, and what cannot be told of it."""
    name = upper_first(tank.name)
    cannot: list[str] = []
    use = ""
    charted = [chart for chart in tank.charts if math.isfinite(chart.center)]
    if charted and not tank.changes:
        chart = charted[0]
        low, high = (number(max(x, 0.0), 3) for x in (chart.lower, chart.upper))
        use = f"use is steady (usually {number(chart.center, 3)} {chart.unit}, limits {low} to {high})"
    elif charted:
        use = f"{plural(len(tank.changes), 'change')} of use, told above"
    elif not tank.charts:
        cannot.append(f"the use of {tank.name}: no meter and no two additions are on file")
    if tank.charts and not charted and not tank.metered and tank.charts[0].rate.size:
        use = _compared(tank)
    for chart in tank.charts:
        if not math.isfinite(chart.center):
            what = "usual interval" if tank.metered else "usual addition"
            by = {"hour": "by the hour", "area": "by painted area", "day": "by the day"}[chart.kind]
            cannot.append(f"whether the use of {tank.name} {by} has changed: fewer than {plural(least, what)}")
    titrated = _titrated(tank)
    if not titrated:
        cannot.append(f"where {tank.name} stands: no titration of it is on file")
    parts = [part for part in (use, titrated) if part]
    return f"{name}: {'; '.join(parts)}." if parts else f"{name}: nothing is on file.", tuple(cannot)


def _compared(tank: TankReview) -> str:
    """What was taken for the area, or a day, beside the usual period; too few additions for limits."""
    chart = tank.charts[0]
    rate = float(chart.used.sum() / chart.exposure.sum())
    text = f"took {number(rate, 3)} {chart.unit}"
    if not math.isfinite(chart.usual_rate):
        return f"{text} in {plural(chart.rate.size, 'addition')}"
    count = f"{plural(chart.rate.size, 'addition')} now, {chart.usual_points} before"
    return f"{text} against usually {number(chart.usual_rate, 3)} ({count}: too few for limits)"


def _titrated(tank: TankReview) -> str:
    count = tank.percent.size
    if not count:
        return ""
    if tank.lower is None and tank.upper is None:
        low, high = alike(float(tank.percent.min()), float(tank.percent.max()))
        return f"{plural(count, 'titration')} from {low} to {high} %, no band to judge them by"
    band = band_text(tank)
    doubtful = tank.states.count("doubtful")
    near = f", {doubtful} too near a limit to tell" if doubtful else ""
    if not tank.outside:
        return f"{plural(count, 'titration')}, none outside {band}{near}"
    first, last = tank.outside[0], tank.outside[-1]
    text = f"{len(tank.outside)} of {plural(count, 'titration')} outside {band}{near}, {_at(tank, first)}"
    if last != first:
        text += f" to {_at(tank, last)}"
    return text + (", the last one among them" if last == count - 1 else "")


def _at(tank: TankReview, k: int) -> str:
    when = moment_words(str(tank.titrated_at[k].astype("datetime64[m]")).replace("T", " "))
    return f"{number(float(tank.percent[k]), 3)} % on {when}"


def told_first(changes: Iterable[UseChange]) -> tuple[UseChange, ...]:
    """Changes that last before others, then those after which a titration left its band, then the surest."""
    return tuple(
        sorted(changes, key=lambda x: (not x.lasting, not x.out_of_band, -abs(x.share) * math.sqrt(x.intervals), x.start))
    )


def verdict_lines(tanks: Sequence[TankReview], cannot: Sequence[str]) -> tuple[str, ...]:
    """The answer first: changes of use, else titrations outside, else that all is steady; then tanks, and what is not known."""
    changes = told_first(x for tank in tanks for x in tank.changes)
    out = sorted((tank for tank in tanks if tank.outside), key=lambda tank: tank.states[-1] != "outside")
    lines = [change.sentence for change in changes]
    if not lines and not out:
        lines.append(_all_quiet(tanks))
    elif not lines:
        lines.append(out[0].sentence)
    lines += [tank.sentence for tank in tanks if tank.sentence not in lines]
    unknown = [*(text for tank in tanks for text in tank.cannot), *cannot]
    lines += [f"Cannot be told: {text}." for text in unknown]
    return tuple(lines)


def _all_quiet(tanks: Sequence[TankReview]) -> str:
    told = [tank for tank in tanks if any(math.isfinite(chart.center) for chart in tank.charts)]
    count = sum(tank.percent.size for tank in tanks)
    banded = [tank for tank in tanks if tank.percent.size and not (tank.lower is None and tank.upper is None)]
    use = f"No use of chemical has changed ({_names(told)})" if told else "Whether the use of chemical changed cannot be told"
    if not count:
        return f"{use}; no titration is on file."
    if not banded:
        return f"{use}; {plural(count, 'titration')}, and no band to judge them by."
    of = sum(tank.percent.size for tank in banded)
    return f"{use}, and none of {plural(of, 'titration')} lies outside its band, {_period(tanks)}."


def _names(tanks: Sequence[TankReview]) -> str:
    return ", ".join(tank.name for tank in tanks)


def _period(tanks: Sequence[TankReview]) -> str:
    times: list[Any] = [x for tank in tanks if tank.percent.size for x in tank.titrated_at[[0, -1]]]
    first, last = (str(np.datetime64(x, "m")).replace("T", " ") for x in (min(times), max(times)))
    return f"{moment_words(first)} to {moment_words(last)}"


def cannot_tell(plan: WashPlan, parts: Mapping[str, Any], *, usual_given: bool) -> tuple[str, ...]:
    """What no table of the period can answer."""
    have = {name for name, part in parts.items() if part.month is not None}
    said = []
    if not have & {"feed", "additions"}:
        said.append("the use of chemical: neither a feed meter nor additions are on file")
    elif "area" not in have:
        said.append("use by painted area: no file of painted area, so that use is told by the hour or day alone")
    if "titrations" not in have:
        said.append("where the baths stand: no titrations are on file")
    if "events" not in have:
        said.append("what was done at the tanks: no log of events is on file")
    if not usual_given and have & {"feed", "additions"}:
        said.append("a change that lasted through the whole period: limits come from its own intervals")
    return tuple(said)
