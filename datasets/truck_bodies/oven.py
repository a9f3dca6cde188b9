"""The oven's files of a month: what the probes log, minute by minute, which units a bake held, and the recipe.

A part follows the air with a first-order lag. The air keeps its level, wanders about it as a stationary
first-order autoregression, and is taken to run straight from minute to minute.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .film import Floats
from .oven_scenario import Oven, Probe
from .planted import LowFire, Planted, ProbeGap, PulledEarly
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits, rounded
from .units import Unit, clock, working_days


def bake_number(scenario: Scenario, day: int, shift: str) -> int:
    """Return the number of a bake within its month: one a shift, from 1."""
    return (day - 1) * len(scenario.shifts) + [x.name for x in scenario.shifts].index(shift) + 1


def bake_of(scenario: Scenario, event: LowFire | PulledEarly | ProbeGap) -> int:
    """Return the number of the bake that a fault hits."""
    return bake_number(scenario, event.day, event.shift)


def part_temperature(start: float, time_constant: float, level: Floats, wander: Floats) -> Floats:
    """Return the temperature of a part at each whole minute of some bakes.

    Parameters
    ----------
    start : float
        Temperature of the part at minute 0, C.
    time_constant : float
        First-order lag behind the air, minutes.
    level : ndarray of shape (bakes, minutes)
        What the air keeps during the minute that begins here, C.
    wander : ndarray of shape (bakes, minutes + 1)
        How far the air is off its level at each whole minute, straight in between, C.

    Returns
    -------
    ndarray of shape (bakes, minutes + 1)
        Exact for such air; C.
    """
    keep = math.exp(-1.0 / time_constant)
    ramp = 1.0 - time_constant * (1.0 - keep)
    part = np.empty_like(wander)
    part[:, 0] = start
    for k in range(level.shape[1]):
        pull = (1.0 - keep) * (level[:, k] + wander[:, k]) + ramp * (wander[:, k + 1] - wander[:, k])
        part[:, k + 1] = keep * part[:, k] + pull
    return part


def log_oven(
    scenario: Scenario,
    oven: Oven,
    units: Sequence[Unit],
    events: Sequence[Planted],
    *,
    seed: int,
    month: str,
) -> dict[str, Table]:
    """Return the files of an oven by name: ``oven_log``, ``bake_loads``, ``recipes``."""
    return {
        "oven_log": _log(scenario, oven, events, seed=seed, month=month),
        "bake_loads": _loads(scenario, oven, units, month),
        "recipes": _recipes(oven),
    }


def load(scenario: Scenario, units: Sequence[Unit], bake: int) -> tuple[str, ...]:
    """Return the serials of the units in a bake: those painted on its shift."""
    return tuple(x.serial for x in units if bake_number(scenario, x.day, x.shift) == bake)


def _starts(scenario: Scenario, oven: Oven, month: str) -> NDArray[np.datetime64]:
    days = working_days(scenario, month)
    starts = [clock(day, shift.start, oven.start_minute) for day in days for shift in scenario.shifts]
    return np.array(starts, dtype="datetime64[m]")


def _log(scenario: Scenario, oven: Oven, events: Sequence[Planted], *, seed: int, month: str) -> Table:
    bakes, whole = scenario.days * len(scenario.shifts), oven.recipe.minutes
    # Drawn for the whole bake even where it is cut short, so that a fault moves no other number.
    minutes = np.arange(whole + oven.after_minutes + 1)
    wander = _wander(oven, stream(seed, month, Purpose.OVEN_AIR).standard_normal((bakes, minutes.size)))
    noise = stream(seed, month, Purpose.OVEN_PROBE).standard_normal((bakes, len(oven.probes), minutes.size))
    level = np.full((bakes, minutes.size), oven.recipe.setpoint)
    ends = np.full(bakes, whole)
    for event in events:
        if isinstance(event, LowFire):
            level[bake_of(scenario, event) - 1, event.after_minutes :] = event.air
        elif isinstance(event, PulledEarly):
            ends[bake_of(scenario, event) - 1] = event.minutes
    since = minutes - ends[:, None]
    opened = np.where(since > 0, oven.door_drop * np.exp((1.0 - since) / oven.door_recovery), 0.0)
    true = np.empty(noise.shape)
    logged = np.empty(noise.shape, dtype=np.bool_)
    for k, probe in enumerate(oven.probes):
        if probe.time_constant is None:
            true[:, k] = level + wander - opened + probe.offset
            logged[:, k] = since <= oven.after_minutes
        else:
            part = part_temperature(oven.part_start, probe.time_constant, level[:, :whole], wander[:, : whole + 1])
            true[:, k, : whole + 1] = part
            true[:, k, whole + 1 :] = np.nan
            logged[:, k] = since <= 0
    for event in events:
        if isinstance(event, ProbeGap):
            gone = (minutes > event.from_minute) & (minutes < event.from_minute + event.minutes)
            logged[bake_of(scenario, event) - 1, _place(oven.probes, event.probe), gone] = False

    bake, probe_at, minute = np.nonzero(logged)
    shown = temperature(true + oven.probe_sd * noise, oven)[logged]
    return Table(
        {
            "bake": bake + 1,
            "probe": np.array([x.name for x in oven.probes], dtype=object)[probe_at],
            "time": _starts(scenario, oven, month)[bake] + minute,
            "temperature": shown,
            "unit_of_measure": np.full(bake.size, oven.unit, dtype=object),
        },
        {"temperature": np.full(bake.size, digits(oven.resolution))},
    )


def temperature(celsius: Floats, oven: Oven) -> Floats:
    """Return temperatures as the files hold them: in the oven's unit, rounded half up to its step."""
    own = celsius * 1.8 + 32.0 if oven.unit == "F" else celsius
    return rounded(own, oven.resolution)


def _wander(oven: Oven, z: Floats) -> Floats:
    fresh = math.sqrt(1.0 - oven.air_phi**2)
    wander = np.empty_like(z)
    wander[:, 0] = z[:, 0]
    for k in range(1, z.shape[1]):
        wander[:, k] = oven.air_phi * wander[:, k - 1] + fresh * z[:, k]
    return oven.air_sd * wander


def _place(probes: Sequence[Probe], name: str) -> int:
    return [x.name for x in probes].index(name)


def _loads(scenario: Scenario, oven: Oven, units: Sequence[Unit], month: str) -> Table:
    bakes = np.array([bake_number(scenario, x.day, x.shift) for x in units])
    return Table(
        {
            "bake": bakes,
            "oven": np.full(len(units), oven.name, dtype=object),
            "recipe": np.full(len(units), oven.recipe.name, dtype=object),
            "time": _starts(scenario, oven, month)[bakes - 1],
            "unit": np.array([x.serial for x in units], dtype=object),
        }
    )


def _recipes(oven: Oven) -> Table:
    recipe = oven.recipe
    first = recipe.schedule[0]
    lines = [("setpoint", recipe.setpoint, float(recipe.minutes), math.nan)]
    lines += [("schedule", x.temperature, x.minutes, math.nan) for x in recipe.schedule]
    lines.append(("dose", first.temperature, first.minutes, recipe.activation_energy))
    lines.append(("maximum", recipe.maximum, math.nan, math.nan))
    kinds, temperatures, minutes, energies = zip(*lines, strict=True)
    whole = np.zeros(len(lines), dtype=np.int64)
    return Table(
        {
            "recipe": np.full(len(lines), recipe.name, dtype=object),
            "line": np.array(kinds, dtype=object),
            "temperature": temperature(np.array(temperatures), oven),
            "unit_of_measure": np.full(len(lines), oven.unit, dtype=object),
            "minutes": np.array(minutes),
            "activation_energy": np.array(energies),
        },
        {"temperature": whole + digits(oven.resolution), "minutes": whole, "activation_energy": whole + 1},
    )
