"""Faults that can be planted into the files of a month.

Each class is one kind of fault. Days count working days of the month from 1, ranges include both
ends, lengths are mil. What a fault does to the numbers is in ``film``, ``verification``, ``oven`` and ``wash``; what
the shop writes down about it is in ``events``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class GunWear:
    """A nozzle wears: the layer grows by ``per_day`` each day and spreads more; then it is replaced."""

    code: str
    layer: str
    gun: str
    first_day: int
    last_day: int
    per_day: float
    spread_factor: float
    """Factor on the SD of unit x location while the wear lasts."""
    replaced_at: str
    """Clock time of the replacement on the working day after ``last_day``."""


@dataclass(frozen=True, kw_only=True)
class ThinBatch:
    """A batch with fewer solids: the layer is ``factor`` times as thick, whoever sprays it."""

    code: str
    layer: str
    first_day: int
    last_day: int
    factor: float


@dataclass(frozen=True, kw_only=True)
class PainterReplaced:
    """A trainee takes over: same offsets as the painter who leaves, plus ``shift``, with more spread."""

    code: str
    leaves: str
    joins: str
    first_day: int
    last_day: int
    shift: Mapping[str, float]
    """Layer to change of the mean, mil, relative to the painter who leaves."""
    spread_factor: Mapping[str, float]
    """Layer to factor on the SD of unit x location."""


@dataclass(frozen=True, kw_only=True)
class GaugeOffset:
    """A gauge reads ``offset`` too much for one shift, whose opening check was skipped."""

    code: str
    gauge: str
    day: int
    shift: str
    offset: float
    adjusted_at: str
    """Clock time of the adjustment on the next working day."""
    remeasured: int
    """Units of that shift measured again the next morning."""
    remeasured_with: str
    remeasured_at: str


@dataclass(frozen=True, kw_only=True)
class TypedInOtherUnit:
    """One unit's outermost readings are in ``shown`` but typed into a form that says ``typed``."""

    code: str
    day: int
    shift: str
    shown: str
    resolution: float
    typed: str


@dataclass(frozen=True, kw_only=True)
class CopiedUnit:
    """A unit's form is a copy of the form of the unit before."""

    code: str
    day: int


@dataclass(frozen=True, kw_only=True)
class TouchedUp:
    """One location came out thin, was touched up, and the unit was measured again the same day."""

    code: str
    day: int
    shift: str
    location: str
    thin: float
    """Total film at the location before, as a share of the nominal total."""
    touched_up: float
    """Total film at the location after, as a share of the nominal total."""
    gauge: str
    sprayed_at: str
    remeasured_at: str


@dataclass(frozen=True, kw_only=True)
class FeedStuck:
    """A tank's feed pump delivers nothing; freed before the next working day, when the tank is made up to its target."""

    code: str
    tank: str
    first_day: int
    last_day: int
    ph_rise: float
    """Reached when the pump is freed, in proportion to what the tank has lost."""
    repaired_at: str


@dataclass(frozen=True, kw_only=True)
class LowFire:
    """The burner drops to low fire during a bake and stays there; it is put right before the next working day."""

    code: str
    day: int
    shift: str
    after_minutes: int
    air: float
    """Temperature of the air from then on, C."""
    repaired_at: str


@dataclass(frozen=True, kw_only=True)
class ProbeGap:
    """One probe logs nothing for a while; its plug is seated anew before the next working day."""

    code: str
    day: int
    shift: str
    probe: str
    from_minute: int
    """The last reading before the gap."""
    minutes: int
    """From the last reading before the gap to the first one after it."""
    reseated_at: str


@dataclass(frozen=True, kw_only=True)
class PulledEarly:
    """A load is taken out of the oven before its time."""

    code: str
    day: int
    shift: str
    minutes: int
    """In the oven."""


Planted = (
    GunWear
    | ThinBatch
    | PainterReplaced
    | GaugeOffset
    | LowFire
    | TypedInOtherUnit
    | FeedStuck
    | CopiedUnit
    | ProbeGap
    | PulledEarly
    | TouchedUp
)
