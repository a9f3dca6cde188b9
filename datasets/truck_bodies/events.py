"""The event log of a month: what the shop writes down, which is not always what happened.

A thin batch is opened like any other, a nozzle's wear is not known before it is replaced, and an oven is
looked at the next morning, a pump once a panel came out bare.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import NamedTuple

import numpy as np

from .oven import bake_of
from .planted import FeedStuck, GaugeOffset, GunWear, LowFire, PainterReplaced, Planted, ProbeGap, PulledEarly, TouchedUp
from .scenario import Scenario
from .tables import Table
from .units import batch_names, clock, gun_at, working_days

CURE = "cure"
"""In the column for the coat: the entry concerns no coat but the bake, so it explains no film."""
PRETREATMENT = "pretreatment"
"""The same for the washer."""


class Entry(NamedTuple):
    """One line of the log. ``item`` is a value of the column that ``factor`` names, in one of the month's files."""

    time: datetime
    factor: str
    item: str
    action: str
    replaces: str = ""
    layer: str = ""
    note: str = ""


def log_events(
    scenario: Scenario,
    events: Sequence[Planted],
    hit: Mapping[str, tuple[str, ...]],
    *,
    month: str,
) -> Table:
    """Return the event log in the order of time; ``hit`` is ``readings.Measured.hit``."""
    days = working_days(scenario, month)
    entries = [
        *_batches(scenario, days, month),
        *_guns(scenario, days),
        *_maintenance(scenario, days),
    ]
    for event in events:
        entries += _planted(scenario, event, days, hit)
        entries += _oven(scenario, event, days)
        if isinstance(event, FeedStuck) and event.last_day < len(days):
            at = clock(days[event.last_day], event.repaired_at)
            freed = Entry(at, "tank", event.tank, "feed pump freed", layer=PRETREATMENT, note="found stuck, tank made up")
            entries.append(freed)
    entries.sort(key=lambda entry: entry.time)
    columns = {
        name: np.array([entry[position] for entry in entries], dtype=object) for position, name in enumerate(Entry._fields)
    }
    columns["time"] = columns["time"].astype("datetime64[m]")
    return Table(columns)


def _batches(scenario: Scenario, days: Sequence[date], month: str) -> Iterator[Entry]:
    for layer in scenario.layers:
        names = batch_names(scenario, layer, month)
        last = "" if month == "baseline" else batch_names(scenario, layer, "baseline")[-1]
        for batch, name in zip(layer.batches, names, strict=True):
            if batch.day <= len(days):
                at = clock(days[batch.day - 1], scenario.shifts[0].start, -15)
                yield Entry(at, "batch", name, "opened", replaces=last, layer=layer.name)
            last = name


def _guns(scenario: Scenario, days: Sequence[date]) -> Iterator[Entry]:
    for day in range(2, len(days) + 1):
        for booth in scenario.booths:
            old, new = (gun_at(scenario, booth, d) for d in (day - 1, day))
            if old != new:
                at = clock(days[day - 1], scenario.shifts[0].start, -20)
                yield Entry(at, "gun", new, "moved", replaces=old, note=f"to booth {booth}")


def _maintenance(scenario: Scenario, days: Sequence[date]) -> Iterator[Entry]:
    for work in scenario.maintenance:
        if work.day <= len(days):
            yield Entry(clock(days[work.day - 1], work.time), work.factor, work.item, work.action)


def _planted(
    scenario: Scenario,
    event: Planted,
    days: Sequence[date],
    hit: Mapping[str, tuple[str, ...]],
) -> Iterator[Entry]:
    if isinstance(event, GunWear) and event.last_day < len(days):
        at = clock(days[event.last_day], event.replaced_at)
        yield Entry(at, "gun", event.gun, "nozzle replaced", layer=event.layer)
    elif isinstance(event, PainterReplaced):
        for crew in scenario.crews:
            if crew.painter == event.leaves:
                shift = next(x for x in scenario.shifts if x.name == crew.shift)
                yield Entry(
                    clock(days[event.first_day - 1], shift.start, -10),
                    "painter",
                    event.joins,
                    "started",
                    replaces=event.leaves,
                    note=f"{crew.shift} shift, booth {crew.booth}",
                )
    elif isinstance(event, GaugeOffset):
        yield Entry(
            clock(days[event.day], event.adjusted_at),
            "gauge",
            event.gauge,
            "adjusted",
            note="read high on shims at the end of the shift",
        )
        for k, serial in enumerate(hit[f"{event.code} measured again"]):
            at = clock(days[event.day], event.remeasured_at, 6 * k)
            note = f"with {event.remeasured_with}"
            yield Entry(at, "unit", serial, "measured again", note=note)
    elif isinstance(event, TouchedUp):
        at = clock(days[event.day - 1], event.sprayed_at)
        layer = scenario.layers[-1].name
        for serial in hit[event.code]:
            yield Entry(at, "unit", serial, "touched up", layer=layer, note=event.location)


def _oven(scenario: Scenario, event: Planted, days: Sequence[date]) -> Iterator[Entry]:
    oven = scenario.oven
    if oven is None:
        return
    if isinstance(event, PulledEarly):
        start = next(x.start for x in scenario.shifts if x.name == event.shift)
        at = clock(days[event.day - 1], start, oven.start_minute + event.minutes)
        note = f"after {event.minutes} of {oven.recipe.minutes} minutes"
        yield Entry(at, "bake", str(bake_of(scenario, event)), "pulled early", layer=CURE, note=note)
    elif isinstance(event, LowFire) and event.day < len(days):
        at = clock(days[event.day], event.repaired_at)
        yield Entry(at, "oven", oven.name, "burner repaired", layer=CURE, note="found in low fire")
    elif isinstance(event, ProbeGap) and event.day < len(days):
        at = clock(days[event.day], event.reseated_at)
        yield Entry(at, "probe", event.probe, "plug reseated", layer=CURE, note="found loose")
