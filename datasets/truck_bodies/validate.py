"""Refuse a scenario that contradicts itself, naming every contradiction."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator

from .displays import MIL_PER_UNIT
from .oven_scenario import Oven
from .planted import (
    CopiedUnit,
    FeedStuck,
    GaugeOffset,
    LowFire,
    PainterReplaced,
    Planted,
    ProbeGap,
    PulledEarly,
    ThinBatch,
    TouchedUp,
    TypedInOtherUnit,
)
from .scenario import Scenario
from .wash import running_minutes
from .wash_scenario import AREA_UNITS, VOLUME_UNITS, WEIGHT_UNITS, Panels, Pump, Tank, Washer


def check(scenario: Scenario) -> None:
    """Raise ``ValueError`` with one line for each contradiction found."""
    problems = [*_sizes(scenario), *_shop(scenario), *_layers(scenario)]
    problems += [*_oven(scenario.oven), *_wash(scenario), *_studies(scenario), *_events(scenario)]
    if problems:
        raise ValueError("scenario: " + "; ".join(problems))


def _unknown(what: str, given: Iterable[str], known: Iterable[str]) -> Iterator[str]:
    names = list(known)
    for name in given:
        if name not in names:
            yield f"{what} {name!r} is none of {', '.join(map(repr, names))}"


def _sizes(s: Scenario) -> Iterator[str]:
    fewest, most = s.units_per_day
    if not 1 <= fewest <= most:
        yield f"units_per_day {s.units_per_day} must be fewest and most, from 1"
    if fewest < len(s.shifts):
        yield f"units_per_day {s.units_per_day} leaves a shift without a unit"
    for name, number in (("days", s.days), ("repeats", s.repeats), ("swap_days", s.swap_days)):
        if number < 1:
            yield f"{name} {number} must be at least 1"
    if s.first_day.weekday() > 4:
        yield f"first_day {s.first_day} is no working day (Monday to Friday)"
    if s.style.separator == s.style.decimal:
        yield f"style: {s.style.decimal!r} is both separator and decimal sign"


def _shop(s: Scenario) -> Iterator[str]:
    substrates = [x.name for x in s.substrates]
    for gauge in s.gauges:
        yield from _unknown(f"gauge {gauge.name}: display on", gauge.display, substrates)
        for name in substrates:
            if name not in gauge.display:
                yield f"gauge {gauge.name} has no display on {name!r}"
        units = [x.unit for x in gauge.display.values()]
        yield from _unknown(f"gauge {gauge.name}: unit", units, MIL_PER_UNIT)
        for shim in s.checks.shims:
            yield from _unknown(f"shim {shim.name}: certificate without", units, shim.stated)
    yield from _unknown("shift gauge", [x.gauge for x in s.shifts], [x.name for x in s.gauges])
    crews = [(x.shift, x.booth) for x in s.crews]
    for shift in s.shifts:
        for booth in s.booths:
            if crews.count((shift.name, booth)) != 1:
                yield f"booth {booth!r} on shift {shift.name!r} needs exactly one painter"


def _layers(s: Scenario) -> Iterator[str]:
    painters = [x.painter for x in s.crews]
    for layer in s.layers:
        at = f"layer {layer.name}:"
        yield from _unknown(f"{at} painter", layer.painter, painters)
        yield from _unknown(f"{at} gun", layer.gun, s.guns)
        yield from _unknown(f"{at} substrate", layer.substrate, [x.name for x in s.substrates])
        yield from _unknown(f"{at} location", [*layer.location, *layer.skew], s.locations)
        days = [batch.day for batch in layer.batches]
        if days[:1] != [1] or days != sorted(set(days)):
            yield f"{at} batches must open on rising days, the first on day 1"
        if not -1.0 < layer.day_phi < 1.0:
            yield f"{at} day_phi {layer.day_phi} must lie between -1 and 1"


def _oven(oven: Oven | None) -> Iterator[str]:
    if oven is None:
        return
    names = [x.name for x in oven.probes]
    if len(set(names)) != len(names) or not names:
        yield f"oven {oven.name}: probes {names} must be some, each once"
    for probe in oven.probes:
        if probe.time_constant is not None and probe.time_constant <= 0.0:
            yield f"oven {oven.name}: time_constant {probe.time_constant} of probe {probe.name!r} must be positive"
    yield from _unknown(f"oven {oven.name}: unit", [oven.unit], ["C", "F"])
    if not -1.0 < oven.air_phi < 1.0:
        yield f"oven {oven.name}: air_phi {oven.air_phi} must lie between -1 and 1"
    if oven.recipe.minutes < 1 or not oven.recipe.schedule:
        yield f"recipe {oven.recipe.name} needs at least 1 minute and a schedule point"


def _wash(s: Scenario) -> Iterator[str]:
    if s.washer is not None:
        yield from _washer(s.washer)
    if s.panels is not None and s.washer is None:
        yield "panels: the shop has no washer for the coating weight"
    elif s.panels is not None and s.washer is not None:
        yield from _panels(s, s.panels, s.washer)
    if s.output is not None:
        substrates = [x.name for x in s.substrates]
        yield from _unknown("output: unit", [s.output.unit], AREA_UNITS)
        yield from _unknown("output: area of", s.output.area, substrates)
        yield from (f"output: no area of {name!r}" for name in substrates if name not in s.output.area)


def _washer(washer: Washer) -> Iterator[str]:
    names = [x.name for x in washer.stages]
    if len(set(names)) != len(names):
        yield f"washer: stages {names} must have names of their own"
    yield from _unknown("washer: volume_unit", [washer.volume_unit], VOLUME_UNITS)
    yield from _unknown("washer: temperature_unit", [washer.temperature_unit], ["C", "F"])
    late = [x for x in washer.check_minutes if not 0 <= x < washer.shift_minutes]
    if late or not washer.check_minutes:
        yield f"washer: check_minutes {washer.check_minutes} must be some, from 0 and below {washer.shift_minutes}"
    for tank in washer.stages:
        if isinstance(tank, Tank):
            if min(tank.volume, tank.loss_per_hour, tank.target) <= 0.0:
                yield f"tank {tank.name}: volume, loss_per_hour and target must be positive"
            if not -1.0 < tank.ph_phi < 1.0:
                yield f"tank {tank.name}: ph_phi {tank.ph_phi} must lie between -1 and 1"
            if isinstance(tank.supply, Pump) and tank.supply.every_minutes < 1:
                yield f"tank {tank.name}: every_minutes {tank.supply.every_minutes} must be at least 1"


def _panels(s: Scenario, panels: Panels, washer: Washer) -> Iterator[str]:
    yield from _unknown("panels: tank", [panels.tank], [x.name for x in washer.stages if isinstance(x, Tank)])
    yield from _unknown("panels: weight_unit", [panels.weight_unit], WEIGHT_UNITS)
    end = running_minutes(s, washer)
    if not 0 <= panels.minute <= end:
        yield f"panels: minute {panels.minute} must lie in 0 to {end}, while the washer runs"
    if min(panels.first_day, panels.every_days, panels.pieces) < 1:
        yield "panels: first_day, every_days and pieces must be at least 1"


def _studies(s: Scenario) -> Iterator[str]:
    for study in s.studies:
        at = f"study of gauge {study.gauge}:"
        yield from _unknown("study: gauge", [study.gauge], [x.name for x in s.gauges])
        yield from _unknown(f"{at} substrate", [study.substrate], [x.name for x in s.substrates])
        if study.display is not None:
            yield from _unknown(f"{at} unit", [study.display.unit], MIL_PER_UNIT)
        if study.given is not None:
            shapes = {(len(part), len(trials)) for part in study.given for trials in part}
            if shapes != {(len(study.appraisers), study.trials)}:
                yield f"{at} given must hold {len(study.appraisers)} appraisers by {study.trials} trials for each part"
        elif not study.parts or not study.appraisers or study.trials < 1:
            yield f"{at} parts, appraisers and trials must be some"


def _events(s: Scenario) -> Iterator[str]:
    known = {
        "layer": [x.name for x in s.layers],
        "gun": s.guns,
        "shift": [x.name for x in s.shifts],
        "gauge": [x.name for x in s.gauges],
        "remeasured_with": [x.name for x in s.gauges],
        "location": s.locations,
        "leaves": [x.painter for x in s.crews],
        "shown": list(MIL_PER_UNIT),
        "typed": list(MIL_PER_UNIT),
        "probe": [] if s.oven is None else [x.name for x in s.oven.probes],
    }
    for event in s.events:
        fields = {f.name: getattr(event, f.name) for f in dataclasses.fields(event)}
        for name, names in known.items():
            if isinstance(fields.get(name), str):
                yield from _unknown(f"event {event.code}: {name}", [fields[name]], names)
        yield from _event(s, event)
        if isinstance(event, PainterReplaced):
            layers = [*event.shift, *event.spread_factor]
            yield from _unknown(f"event {event.code}: layer", layers, known["layer"])
        first = int(fields.get("first_day", fields.get("day", 0)))
        last = int(fields.get("last_day", first))
        # What is put right the next working day needs one within the month.
        reach = s.days - isinstance(event, GaugeOffset)
        if not 1 <= first <= last <= reach:
            yield f"event {event.code}: days {first} to {last} must lie in 1 to {reach}"


def _event(s: Scenario, event: Planted) -> Iterator[str]:
    at = f"event {event.code}:"
    if isinstance(event, TypedInOtherUnit) and event.shown == event.typed:
        yield f"{at} shown and typed are both {event.typed!r}"
    if isinstance(event, TouchedUp) and not 0.0 < event.thin < event.touched_up:
        yield f"{at} thin {event.thin} must be positive and below touched_up {event.touched_up}"
    if isinstance(event, CopiedUnit) and s.units_per_day[0] < 2:
        yield f"{at} a day of one unit has none to copy"
    if isinstance(event, PainterReplaced) and event.joins in [x.painter for x in s.crews]:
        yield f"{at} {event.joins!r} sprays already"
    if isinstance(event, GaugeOffset) and (event.shift, event.gauge) not in [(x.name, x.gauge) for x in s.shifts]:
        yield f"{at} gauge {event.gauge!r} is not used on shift {event.shift!r}"
    if isinstance(event, LowFire | ProbeGap | PulledEarly):
        yield from _oven_event(s.oven, event)
    if isinstance(event, FeedStuck):
        stages = [] if s.washer is None else s.washer.stages
        pumped = [x.name for x in stages if isinstance(x, Tank) and isinstance(x.supply, Pump)]
        yield from _unknown(f"{at} tank with a pump", [event.tank], pumped)
    if isinstance(event, ThinBatch):
        opened = [x.day for layer in s.layers if layer.name == event.layer for x in layer.batches]
        spans = [(day, end - 1) for day, end in zip(opened, [*opened[1:], s.days + 1], strict=False)]
        if (event.first_day, event.last_day) not in spans:
            yield f"{at} days {event.first_day} to {event.last_day} must be those of a batch: {spans}"


def _oven_event(oven: Oven | None, event: LowFire | ProbeGap | PulledEarly) -> Iterator[str]:
    at = f"event {event.code}:"
    if oven is None:
        yield f"{at} the shop has no oven"
        return
    minutes = {
        "after_minutes": getattr(event, "after_minutes", 0),
        "from_minute": getattr(event, "from_minute", 0),
        "minutes": event.minutes if isinstance(event, PulledEarly) else 0,
        "from_minute and minutes": event.from_minute + event.minutes if isinstance(event, ProbeGap) else 0,
    }
    for name, minute in minutes.items():
        if not 0 <= minute <= oven.recipe.minutes:
            yield f"{at} {name} {minute} must lie in 0 to {oven.recipe.minutes}, the minutes of a bake"
