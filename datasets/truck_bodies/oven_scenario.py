"""The invented shop's oven as data: recipe, probes and what disturbs the air; times are minutes, temperatures C."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class SchedulePoint:
    """One way to cure: the part, not the air, at ``temperature`` or above for ``minutes``."""

    temperature: float
    minutes: float


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """How a load is baked and what its cure is judged by; a real one comes from the coating's data sheet."""

    name: str
    setpoint: float
    minutes: int
    schedule: tuple[SchedulePoint, ...]
    """Any one of these is enough; the dose refers to the first."""
    maximum: float
    """No part may get hotter."""
    activation_energy: float
    """For the dose (equivalent minutes at the first schedule point), kJ/mol."""


@dataclass(frozen=True, kw_only=True)
class Probe:
    """A thermocouple: on a part with a time constant, or in the air with an offset from its mean."""

    name: str
    time_constant: float | None = None
    """First-order lag of the part behind the air; absent for a probe in the air."""
    offset: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Oven:
    """A batch oven with one bake a shift."""

    name: str
    recipe: Recipe
    probes: tuple[Probe, ...]
    start_minute: int
    """Minutes after the start of the shift: load in place, door closed, air at its setpoint."""
    part_start: float
    """Temperature of the parts at the start of a bake."""
    air_sd: float
    air_phi: float
    """The air wanders about its level: stationary first-order autoregression, one step a minute."""
    probe_sd: float
    door_drop: float
    """The door is opened at the end of a bake: parts and their probes leave, and the air falls by this much."""
    door_recovery: float
    """Time constant with which the air comes back."""
    after_minutes: int
    """The air is logged so much longer than the bake."""
    unit: str
    """C or F, in the files."""
    resolution: float
    """Step of the last digit in the files, in ``unit``."""


OVEN = Oven(
    name="O1",
    recipe=Recipe(
        name="RC-1",
        setpoint=66.0,
        minutes=105,
        schedule=(
            SchedulePoint(temperature=60.0, minutes=60),
            SchedulePoint(temperature=65.6, minutes=45),
            SchedulePoint(temperature=71.1, minutes=30),
        ),
        maximum=90.0,
        activation_energy=55.0,
    ),
    probes=(
        Probe(name="air supply", offset=1.0),
        Probe(name="air return", offset=-1.0),
        Probe(name="aluminum skin", time_constant=6.0),
        Probe(name="steel skin", time_constant=10.0),
        Probe(name="frame", time_constant=18.0),
    ),
    start_minute=285,
    part_start=20.0,
    air_sd=0.8,
    air_phi=0.95,
    probe_sd=0.3,
    door_drop=12.0,
    door_recovery=6.0,
    after_minutes=20,
    unit="C",
    resolution=0.1,
)
"""The oven of ``SHOP``; its schedule is invented and cures nothing."""
