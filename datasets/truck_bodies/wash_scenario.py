"""The invented shop's washer, weekly panels and output as data.

Volumes are US gallons, concentrations % by volume, temperatures C, conductivities uS/cm, coating weights mg/ft2,
areas ft2; the files may hold other units. A range written target +/- x is taken as two standard deviations.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

LITERS_PER_GALLON = 3.785411784
"""1 US gal is 231 in3 and 1 in is 25.4 mm exactly."""
SQUARE_METERS_PER_SQUARE_FOOT = 0.3048**2
"""1 ft is 0.3048 m exactly."""
VOLUME_UNITS: Mapping[str, float] = {"gal": 1.0, "L": LITERS_PER_GALLON}
WEIGHT_UNITS: Mapping[str, float] = {"mg/ft2": 1.0, "g/m2": 0.001 / SQUARE_METERS_PER_SQUARE_FOOT}
AREA_UNITS: Mapping[str, float] = {"ft2": 1.0, "m2": SQUARE_METERS_PER_SQUARE_FOOT}
"""Unit of a file to how many of it make one of the scenario's."""


@dataclass(frozen=True, kw_only=True)
class Pump:
    """A metering pump that makes up for the loss; its meter is read from time to time."""

    meter: str
    every_minutes: int
    stroke_sd: float
    """What is delivered between two readings has this coefficient of variation."""


@dataclass(frozen=True, kw_only=True)
class ByHand:
    """Chemical is added after a titration below ``below``, as much as brings what was titrated to ``up_to``."""

    below: float
    up_to: float


@dataclass(frozen=True, kw_only=True)
class Tank:
    """A stage with a chemical; the loss (drag-out, overflow, reaction) goes on while the washer runs."""

    name: str
    volume: float
    loss_per_hour: float
    target: float
    band: tuple[float, float]
    supply: Pump | ByHand
    titration_sd: float
    """Error of one titration, % absolute."""
    temperature: float
    temperature_band: tuple[float, float]
    temperature_sd: float
    ph: float | None = None
    ph_band: tuple[float, float] | None = None
    ph_sd: float = 0.0
    ph_phi: float = 0.0
    """From one check to the next: stationary first-order autoregression."""


@dataclass(frozen=True, kw_only=True)
class Rinse:
    """A rinse; its conductivity is lognormal with this mean and SD."""

    name: str
    conductivity: float
    conductivity_sd: float
    limit: float | None


@dataclass(frozen=True, kw_only=True)
class Washer:
    """The stages in their order, running from the first shift's start for so many minutes a shift."""

    stages: tuple[Tank | Rinse, ...]
    check_minutes: tuple[int, ...]
    """Minutes after the start of each shift at which every stage is checked."""
    shift_minutes: int
    temperature_unit: str = "C"
    volume_unit: str = "gal"


@dataclass(frozen=True, kw_only=True)
class Panels:
    """The weekly panels: one for the coating weight, and pieces of a painted one for the other tests."""

    label: str
    """Format of a panel's name, with the field ``number``."""
    first_day: int
    every_days: int
    minute: int
    """After the first shift's start; the washer has to be running."""
    tank: str
    """The coating weight is proportional to this tank's concentration."""
    weight: float
    """At the tank's target."""
    weight_sd: float
    weight_least: float
    pieces: int
    cross_cut: Mapping[int, float]
    """Rating (5 is best) to its chance."""
    rubs_median: float
    rubs_log_sd: float
    """Double rubs to break-through are lognormal."""
    rubs_stop: int
    """A test that gets so far is stopped."""
    gloss: float
    gloss_sd: float
    weight_unit: str = "mg/ft2"


@dataclass(frozen=True, kw_only=True)
class Output:
    """What goes into the file of units and area: the painted area of a body of each substrate."""

    area: Mapping[str, float]
    unit: str = "ft2"


WASHER = Washer(
    stages=(
        Tank(
            name="cleaner",
            volume=1200.0,
            loss_per_hour=2.0,
            target=2.5,
            band=(2.0, 3.0),
            supply=ByHand(below=2.4, up_to=2.6),
            titration_sd=0.05,
            temperature=57.0,
            temperature_band=(53.0, 61.0),
            temperature_sd=0.8,
        ),
        Rinse(name="rinse 1", conductivity=250.0, conductivity_sd=30.0, limit=None),
        Tank(
            name="phosphate",
            volume=600.0,
            loss_per_hour=12.0,
            target=3.0,
            band=(2.5, 3.5),
            supply=Pump(meter="M1", every_minutes=120, stroke_sd=0.05),
            titration_sd=0.05,
            temperature=52.0,
            temperature_band=(48.0, 56.0),
            temperature_sd=0.8,
            ph=4.8,
            ph_band=(4.4, 5.2),
            ph_sd=0.08,
            ph_phi=0.8,
        ),
        Rinse(name="rinse 2", conductivity=250.0, conductivity_sd=30.0, limit=None),
        Rinse(name="final rinse", conductivity=60.0, conductivity_sd=7.5, limit=100.0),
    ),
    check_minutes=(0, 240),
    shift_minutes=480,
)
"""The five-stage washer of ``SHOP``."""

PANELS = Panels(
    label="W{number:02d}",
    first_day=4,
    every_days=5,
    minute=480,
    tank="phosphate",
    weight=45.0,
    weight_sd=2.0,
    weight_least=35.0,
    pieces=5,
    cross_cut={5: 0.80, 4: 0.18, 3: 0.02},
    rubs_median=180.0,
    rubs_log_sd=0.3,
    rubs_stop=100,
    gloss=88.0,
    gloss_sd=0.75,
)
"""The weekly panels of ``SHOP``."""

OUTPUT = Output(area={"steel": 380.0, "aluminum": 320.0})
"""The bodies of ``SHOP``: 35 and 30 m2."""
