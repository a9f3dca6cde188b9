"""What happens in the washer's tanks in a month.

A tank loses what is in it at ``loss_per_hour / volume`` of its concentration an hour while the washer runs, and keeps it
overnight. Between two readings of its meter a pump delivers evenly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .film import Floats
from .planted import FeedStuck, Planted
from .scenario import Scenario
from .streams import Purpose, stream
from .units import clock
from .wash_scenario import ByHand, Pump, Tank, Washer


@dataclass(frozen=True)
class Addition:
    """A volume poured in by hand, gal."""

    day: int
    minute: float
    """After the first shift's start; minus infinity for what is poured in before the working day."""
    volume: float


@dataclass(frozen=True)
class Course:
    """What happens in one tank in a month."""

    minutes: tuple[int, ...]
    """Since the first shift's start, of each day."""
    level: Floats
    """Concentration before anything is added, shape (days, minutes), %."""
    titrated: Floats
    """What the titrations at the checks say, shape (days, checks), %."""
    delivered: Floats
    """By the pump since the last reading of its meter, shape (days, readings), gal; none without a pump."""
    additions: tuple[Addition, ...]


def check_minutes(scenario: Scenario, washer: Washer) -> list[tuple[str, int]]:
    """Return the checks of a day: shift, and minutes since the first shift's start."""
    opened = zip(scenario.shifts, _openings(scenario), strict=True)
    return [(shift.name, opens + minute) for shift, opens in opened for minute in washer.check_minutes]


def running_minutes(scenario: Scenario, washer: Washer) -> int:
    """Return how long the washer runs each day: from the first shift's start to the last one's end."""
    return _openings(scenario)[-1] + washer.shift_minutes


def _openings(scenario: Scenario) -> list[int]:
    day = scenario.first_day
    first = clock(day, scenario.shifts[0].start)
    return [int((clock(day, x.start) - first).total_seconds()) // 60 for x in scenario.shifts]


def course(scenario: Scenario, washer: Washer, tank: Tank, events: Sequence[Planted], *, seed: int, month: str) -> Course:
    """Simulate one tank."""
    checks = [minute for _, minute in check_minutes(scenario, washer)]
    end = running_minutes(scenario, washer)
    pump = tank.supply if isinstance(tank.supply, Pump) else None
    reads = meter_minutes(scenario, washer, pump) if pump else []
    panel = [] if scenario.panels is None else [scenario.panels.minute]
    minutes = tuple(sorted({0, *checks, *reads, *panel, end}))
    place = [x.name for x in washer.stages].index(tank.name)
    errors = tank.titration_sd * stream(seed, month, Purpose.TITRATION, place).standard_normal((scenario.days, len(checks)))
    delivered = delivered_by(scenario, washer, tank, events, seed=seed, month=month)
    hourly = 60.0 * delivered / np.diff(reads) if pump else delivered

    decay = tank.loss_per_hour / tank.volume
    level = np.empty((scenario.days, len(minutes)))
    titrated = np.empty_like(errors)
    additions: list[Addition] = []
    now = tank.target
    for day in range(1, scenario.days + 1):
        if any(isinstance(x, FeedStuck) and x.tank == tank.name and x.last_day == day - 1 for x in events):
            additions.append(Addition(day, -math.inf, make_up(tank, now, tank.target)))
            now = tank.target
        last = 0
        for k, minute in enumerate(minutes):
            rate = hourly[day - 1, last // pump.every_minutes] if pump and minute > last else 0.0
            settled = 100.0 * rate / tank.loss_per_hour
            now = settled + (now - settled) * math.exp(-decay * (minute - last) / 60.0)
            level[day - 1, k] = now
            if minute in checks:
                check = checks.index(minute)
                found = titrated[day - 1, check] = max(now + errors[day - 1, check], 0.0)
                if isinstance(tank.supply, ByHand) and found < tank.supply.below:
                    volume = make_up(tank, found, tank.supply.up_to)
                    additions.append(Addition(day, minute, volume))
                    now += volume * (100.0 - now) / tank.volume
            last = minute
    return Course(minutes, level, titrated, delivered, tuple(additions))


def make_up(tank: Tank, level: float, wanted: float) -> float:
    """Return the volume that brings a full tank from one concentration to another; it displaces as much of the bath, gal."""
    return tank.volume * (wanted - level) / (100.0 - level)


def meter_minutes(scenario: Scenario, washer: Washer, pump: Pump) -> list[int]:
    """Return when a pump's meter is read, in minutes after the first shift's start; the first reading is at 0."""
    end = running_minutes(scenario, washer)
    return [*range(0, end, pump.every_minutes), end]


def delivered_by(scenario: Scenario, washer: Washer, tank: Tank, events: Sequence[Planted], *, seed: int, month: str) -> Floats:
    """Return what a tank's pump delivers between the readings of its meter, shape (days, intervals), gal."""
    pump = tank.supply
    if not isinstance(pump, Pump):
        return np.empty((scenario.days, 0))
    hours = np.diff(meter_minutes(scenario, washer, pump)) / 60.0
    place = [x.name for x in washer.stages].index(tank.name)
    z = stream(seed, month, Purpose.FEED, place).standard_normal((scenario.days, hours.size))
    usual = tank.loss_per_hour * tank.target / 100.0 * hours
    delivered = usual * np.maximum(1.0 + pump.stroke_sd * z, 0.0)
    for event in events:
        if isinstance(event, FeedStuck) and event.tank == tank.name:
            delivered[event.first_day - 1 : event.last_day] = 0.0
    return delivered


def acidity(
    scenario: Scenario,
    washer: Washer,
    tank: Tank,
    usual: float,
    course: Course,
    events: Sequence[Planted],
    *,
    seed: int,
    month: str,
) -> Floats:
    """Return a tank's pH at the checks, shape (days, checks)."""
    minutes = [minute for _, minute in check_minutes(scenario, washer)]
    place = [x.name for x in washer.stages].index(tank.name)
    z = stream(seed, month, Purpose.PH, place).standard_normal(scenario.days * len(minutes))
    fresh = math.sqrt(1.0 - tank.ph_phi**2)
    wander = np.empty(z.size)
    wander[0] = z[0]
    for k in range(1, z.size):
        wander[k] = tank.ph_phi * wander[k - 1] + fresh * z[k]
    found: Floats = usual + tank.ph_sd * wander.reshape(scenario.days, len(minutes))
    at = [course.minutes.index(minute) for minute in minutes]
    for event in events:
        if isinstance(event, FeedStuck) and event.tank == tank.name:
            # The acid goes with the chemical: the whole rise is reached when the pump is freed.
            stuck = slice(event.first_day - 1, event.last_day)
            lost = tank.target - course.level[stuck]
            found[stuck] += event.ph_rise * np.maximum(lost[:, at], 0.0) / lost[-1, -1]
    return found
