"""Figures of bakes and tanks without noise, from the scenario's numbers by closed forms; nothing of ``oven`` or ``wash`` is used.

Run from the top of the repository: ``python -m datasets.truck_bodies.figures`` prints the lines that the README holds.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from .oven_scenario import Oven
from .planted import FeedStuck, LowFire, ProbeGap, PulledEarly
from .scenario import SHOP, Scenario
from .wash_scenario import Panels, Tank, Washer

GAS_CONSTANT = 8.314462618
"""J/(mol K); exact in the SI to the digits given."""
ZERO_CELSIUS = 273.15
"""K."""


@dataclass(frozen=True)
class Span:
    """A stretch of a bake in which the air keeps one temperature."""

    minutes: float
    air: float


@dataclass(frozen=True)
class Cure:
    """What a part got: minutes at or above the first schedule point, and the dose in minutes at that point."""

    above: float
    dose: float


def part_at(minute: float, *, start: float, air: float, time_constant: float) -> float:
    """Return the temperature of a part that was at ``start`` when the air began to keep ``air``, C."""
    return air + (start - air) * math.exp(-minute / time_constant)


def cure(oven: Oven, time_constant: float, spans: Sequence[Span]) -> Cure:
    """Return the cure of a part that follows the air with a first-order lag."""
    threshold = oven.recipe.schedule[0].temperature
    start, above, dose = oven.part_start, 0.0, 0.0
    for span in spans:
        part = partial(part_at, start=start, air=span.air, time_constant=time_constant)
        end = part(span.minutes)
        if (start - threshold) * (end - threshold) < 0.0:
            crossing = time_constant * math.log((start - span.air) / (threshold - span.air))
            above += crossing if start > threshold else span.minutes - crossing
        elif min(start, end) >= threshold:
            above += span.minutes
        # Simpson's rule; the error of 2000 steps is far below the digits shown.
        h = span.minutes / 2000
        rates = [_rate(oven, part(k * h)) for k in range(2001)]
        dose += h / 3.0 * (rates[0] + 4.0 * sum(rates[1:-1:2]) + 2.0 * sum(rates[2:-1:2]) + rates[-1])
        start = end
    return Cure(above, dose)


def _rate(oven: Oven, celsius: float) -> float:
    reference = oven.recipe.schedule[0].temperature + ZERO_CELSIUS
    slope = 1000.0 * oven.recipe.activation_energy / GAS_CONSTANT
    return math.exp(slope * (1.0 / reference - 1.0 / (celsius + ZERO_CELSIUS)))


def bakes(scenario: Scenario, oven: Oven) -> dict[str, tuple[Span, ...]]:
    """Return what the air does in a sound bake (under the name ``sound``) and in each faulty one, by code."""
    whole, setpoint = oven.recipe.minutes, oven.recipe.setpoint
    found: dict[str, tuple[Span, ...]] = {"sound": (Span(whole, setpoint),)}
    for event in scenario.events:
        if isinstance(event, LowFire):
            found[event.code] = (Span(event.after_minutes, setpoint), Span(whole - event.after_minutes, event.air))
        elif isinstance(event, PulledEarly):
            found[event.code] = (Span(event.minutes, setpoint),)
    return found


def parts(oven: Oven) -> dict[str, float]:
    """Return the time constant of each probe on a part."""
    return {x.name: x.time_constant for x in oven.probes if x.time_constant is not None}


def uncredited(scenario: Scenario, oven: Oven) -> dict[str, float]:
    """Return the minutes of each fault's probe that are left where a gap on the plateau is not credited, by code."""
    sound = bakes(scenario, oven)["sound"]
    return {
        event.code: cure(oven, parts(oven)[event.probe], sound).above - event.minutes
        for event in scenario.events
        if isinstance(event, ProbeGap)
    }


def schedule_energies(oven: Oven) -> list[float]:
    """Return the activation energy that each other schedule point implies with the first one, kJ/mol."""
    first, *others = oven.recipe.schedule
    inverse = 1.0 / (first.temperature + ZERO_CELSIUS)
    return [
        GAS_CONSTANT * math.log(first.minutes / x.minutes) / (inverse - 1.0 / (x.temperature + ZERO_CELSIUS)) / 1000.0
        for x in others
    ]


def lines(scenario: Scenario, oven: Oven) -> Iterator[str]:
    """Yield the README's table of bakes and the line under it."""
    names = parts(oven)
    first = oven.recipe.schedule[0]
    yield f"| bake | figure | {' | '.join(names)} | wanted |"
    yield f"|---|---|{'---|' * len(names)}---|"
    for code, spans in bakes(scenario, oven).items():
        found = [cure(oven, constant, spans) for constant in names.values()]
        above = " | ".join(f"{x.above:.1f}" for x in found)
        dose = " | ".join(f"{x.dose:.1f}" for x in found)
        yield f"| {code} | minutes at {first.temperature:g} C or above | {above} | {first.minutes:g} |"
        yield f"| {code} | dose, minutes at {first.temperature:g} C | {dose} | {first.minutes:g} |"
    for event in scenario.events:
        if isinstance(event, ProbeGap):
            left = uncredited(scenario, oven)[event.code]
            shown = " | ".join(f"{left:.1f}" if name == event.probe else "as sound" for name in names)
            yield f"| {event.code} | minutes, the gap not credited | {shown} | {first.minutes:g} |"
    yield ""
    energies = " and ".join(f"{x:.1f}" for x in schedule_energies(oven))
    yield f"Between its first point and each other one the schedule's own activation energy is {energies} kJ/mol."


def level_without_feed(tank: Tank, hours: float) -> float:
    """Return the concentration so many running hours after the feed stopped at the target, %."""
    return tank.target * math.exp(-tank.loss_per_hour * hours / tank.volume)


def hours_to_leave_band(tank: Tank) -> float:
    """Return after how many running hours without feed the concentration falls below its band."""
    return tank.volume / tank.loss_per_hour * math.log(tank.target / tank.band[0])


def wash_lines(scenario: Scenario, washer: Washer, panels: Panels) -> Iterator[str]:
    """Yield the README's table of the tanks whose feed stops."""
    daily = len(scenario.shifts) * washer.shift_minutes / 60.0
    yield "| fault | after running hours | concentration, % | coating weight, mg/ft2 |"
    yield "|---|---|---|---|"
    for event in scenario.events:
        if not isinstance(event, FeedStuck):
            continue
        tank = next(x for x in washer.stages if isinstance(x, Tank) and x.name == event.tank)
        whole = daily * (event.last_day - event.first_day + 1)
        for hours in sorted([4.0, 8.0, hours_to_leave_band(tank), 12.0, 24.0, whole]):
            level = level_without_feed(tank, hours)
            weight = f"{panels.weight * level / tank.target:.1f}" if panels.tank == tank.name else ""
            yield f"| {event.code} | {hours:.1f} | {level:.2f} | {weight} |"
        left = level_without_feed(tank, whole)
        yield ""
        made_up = tank.volume * (tank.target - left) / (100.0 - left)
        yield f"Making the tank up again takes {made_up:.1f} gal."


if __name__ == "__main__":
    shown: list[str] = []
    if SHOP.oven is not None:
        shown += lines(SHOP, SHOP.oven)
    if SHOP.washer is not None and SHOP.panels is not None:
        shown += ["", *wash_lines(SHOP, SHOP.washer, SHOP.panels)]
    sys.stdout.write("\n".join(shown) + "\n")
