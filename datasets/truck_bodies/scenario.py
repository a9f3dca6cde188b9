"""The invented shop as data: every number of the simulation stands in ``SHOP``.

Lengths are mil. Days count working days of a month from 1. All effects of a layer add up; names that
an offset table leaves out have offset 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from .displays import Display
from .oven_scenario import OVEN, Oven
from .planted import (
    CopiedUnit,
    FeedStuck,
    GaugeOffset,
    GunWear,
    LowFire,
    PainterReplaced,
    Planted,
    ProbeGap,
    PulledEarly,
    ThinBatch,
    TouchedUp,
    TypedInOtherUnit,
)
from .studies_scenario import STUDIES, Study
from .wash_scenario import OUTPUT, PANELS, WASHER, Output, Panels, Washer


@dataclass(frozen=True, kw_only=True)
class Substrate:
    """A metal and its share of the units."""

    name: str
    share: float


@dataclass(frozen=True, kw_only=True)
class Shift:
    """A shift: its first minute as ``HH:MM`` and the gauge its inspector uses."""

    name: str
    start: str
    gauge: str


@dataclass(frozen=True, kw_only=True)
class Crew:
    """Who sprays in a booth on a shift."""

    shift: str
    booth: str
    painter: str


@dataclass(frozen=True, kw_only=True)
class Gauge:
    """A thickness gauge and its display on each substrate."""

    name: str
    display: Mapping[str, Display]


@dataclass(frozen=True, kw_only=True)
class Shim:
    """A certified foil; the certificate states its thickness in each unit (unit to value)."""

    name: str
    stated: Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Checks:
    """The gauge verification of each shift: shims over bare plates, before and after the work."""

    shims: tuple[Shim, ...]
    readings: int
    repeat_sd: float
    start_minute: int
    """Minutes after the start of the shift."""
    end_minute: int


@dataclass(frozen=True, kw_only=True)
class Batch:
    """A paint batch: the working day it is opened and its offset from the layer's mean."""

    day: int
    offset: float


@dataclass(frozen=True, kw_only=True)
class Layer:
    """A coat, and the cumulative reading that is taken once it is on."""

    name: str
    reading: str
    """Name of the cumulative reading (all coats so far) in the readings file."""
    mean: float
    batches: tuple[Batch, ...]
    batch_label: str
    """Format of a batch number, with the field ``number``."""
    painter: Mapping[str, float]
    gun: Mapping[str, float]
    substrate: Mapping[str, float]
    location: Mapping[str, float]
    day_sd: float
    day_phi: float
    """Lag-1 correlation of the day effect, a stationary first-order autoregression."""
    unit_sd: float
    unit_location_sd: float
    repeat_sd: float
    """SD of repeats inside one marked circle, of the cumulative reading, gauge included."""
    read_minute: int
    """First minute after the start of the shift at which this layer can be read."""
    read_span: int
    """Minutes within which all units of the shift are read."""
    skew: Mapping[str, float] = field(default_factory=dict)
    """Location to log-SD: there unit x location is lognormal with this log-SD and mean 0."""


@dataclass(frozen=True, kw_only=True)
class Maintenance:
    """An entry of the event log that changes nothing in the film."""

    day: int
    time: str
    factor: str
    item: str
    action: str


@dataclass(frozen=True, kw_only=True)
class Style:
    """How the shop writes its files; the defaults of the csv module otherwise."""

    separator: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    time_format: str = "%Y-%m-%d %H:%M"
    columns: Mapping[str, str] = field(default_factory=dict)
    """Column name to the shop's own name for it; other columns keep theirs."""
    unit_labels: Mapping[str, str] = field(default_factory=dict)
    """``mil`` and ``um`` to what the shop types in the column for the unit of measure."""
    event_log: bool = True
    verification_log: bool = True


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """A shop, its fault-free variation, its files, and the faults planted into the demo month."""

    first_day: date
    """First working day of the demo and quiet months; the baseline ends the working day before."""
    days: int
    units_per_day: tuple[int, int]
    """Fewest and most units of a day, all counts in between equally likely."""
    first_unit: int
    unit_label: str
    """Format of a serial, with the field ``number``."""
    first_batch: int
    substrates: tuple[Substrate, ...]
    shifts: tuple[Shift, ...]
    booths: tuple[str, ...]
    crews: tuple[Crew, ...]
    guns: tuple[str, ...]
    swap_days: int
    """The guns move on by one booth after this many working days."""
    gauges: tuple[Gauge, ...]
    checks: Checks
    layers: tuple[Layer, ...]
    locations: tuple[str, ...]
    repeats: int
    windows: Mapping[str, tuple[float, float]]
    """Aimed-at range of the unit average of each coat and of the outermost cumulative reading."""
    maintenance: tuple[Maintenance, ...]
    oven: Oven | None
    """Absent where the shop logs no oven; the same with what follows."""
    washer: Washer | None
    panels: Panels | None
    output: Output | None
    studies: tuple[Study, ...]
    events: tuple[Planted, ...]
    style: Style = field(default_factory=Style)


_PLACES = ("left panel", "right panel", "roof", "rear door", "inside compartment")

SHOP = Scenario(
    first_day=date(2025, 3, 3),
    days=21,
    units_per_day=(8, 10),
    first_unit=1,
    unit_label="B{number:04d}",
    first_batch=1,
    substrates=(Substrate(name="steel", share=0.6), Substrate(name="aluminum", share=0.4)),
    shifts=(
        Shift(name="day", start="06:00", gauge="Q1"),
        Shift(name="late", start="14:00", gauge="Q2"),
    ),
    booths=("B1", "B2"),
    crews=(
        Crew(shift="day", booth="B1", painter="P1"),
        Crew(shift="day", booth="B2", painter="P2"),
        Crew(shift="late", booth="B1", painter="P3"),
        Crew(shift="late", booth="B2", painter="P4"),
    ),
    guns=("G1", "G2"),
    swap_days=2,
    gauges=(
        Gauge(
            name="Q1",
            display={
                "steel": Display(unit="mil", resolution=0.01),
                "aluminum": Display(unit="mil", resolution=0.01),
            },
        ),
        Gauge(
            name="Q2",
            display={
                "steel": Display(unit="mil", resolution=0.1),
                "aluminum": Display(unit="um", resolution=1.0),
            },
        ),
    ),
    checks=Checks(
        shims=(
            Shim(name="S1", stated={"mil": 1.06, "um": 26.9}),
            Shim(name="S2", stated={"mil": 3.04, "um": 77.2}),
        ),
        readings=5,
        repeat_sd=0.015,
        start_minute=5,
        end_minute=475,
    ),
    layers=(
        Layer(
            name="primer",
            reading="primer",
            mean=1.10,
            batches=(
                Batch(day=1, offset=0.0),
                Batch(day=3, offset=0.012),
                Batch(day=11, offset=-0.015),
                Batch(day=16, offset=0.010),
            ),
            batch_label="PR-{number:03d}",
            painter={"P1": 0.0, "P2": 0.02, "P3": -0.02, "P4": 0.0},
            gun={"G1": -0.010, "G2": 0.010},
            substrate={"aluminum": -0.03},
            location=dict(zip(_PLACES, (-0.02, -0.01, 0.05, 0.03, -0.05), strict=True)),
            day_sd=0.020,
            day_phi=0.6,
            unit_sd=0.030,
            unit_location_sd=0.055,
            repeat_sd=0.035,
            read_minute=75,
            read_span=120,
        ),
        Layer(
            name="topcoat",
            reading="total",
            mean=2.10,
            batches=(
                Batch(day=1, offset=0.0),
                Batch(day=4, offset=0.02),
                Batch(day=9, offset=0.0),
                Batch(day=13, offset=-0.02),
                Batch(day=17, offset=0.03),
            ),
            batch_label="TC-{number:03d}",
            painter={"P1": 0.0, "P2": 0.05, "P3": -0.04, "P4": -0.01},
            gun={"G1": -0.015, "G2": 0.015},
            substrate={},
            location=dict(zip(_PLACES, (-0.03, -0.02, 0.10, 0.05, -0.10), strict=True)),
            day_sd=0.035,
            day_phi=0.6,
            unit_sd=0.050,
            unit_location_sd=0.100,
            repeat_sd=0.045,
            read_minute=410,
            read_span=60,
        ),
    ),
    locations=_PLACES,
    repeats=3,
    windows={"primer": (1.0, 1.2), "topcoat": (2.0, 2.2), "total": (3.0, 3.5)},
    maintenance=(
        Maintenance(day=2, time="13:55", factor="booth", item="B1", action="filters changed"),
        Maintenance(day=2, time="13:57", factor="booth", item="B2", action="filters changed"),
        Maintenance(day=19, time="05:50", factor="gun", item="G2", action="cleaned and re-packed"),
        Maintenance(day=17, time="13:55", factor="booth", item="B1", action="filters changed"),
        Maintenance(day=17, time="13:57", factor="booth", item="B2", action="filters changed"),
    ),
    oven=OVEN,
    washer=WASHER,
    panels=PANELS,
    output=OUTPUT,
    studies=STUDIES,
    events=(
        GunWear(
            code="E1",
            layer="topcoat",
            gun="G1",
            first_day=5,
            last_day=14,
            per_day=0.025,
            spread_factor=1.2,
            replaced_at="05:50",
        ),
        ThinBatch(code="E2", layer="topcoat", first_day=9, last_day=12, factor=0.923),
        PainterReplaced(
            code="E3",
            leaves="P3",
            joins="P5",
            first_day=13,
            last_day=21,
            shift={"primer": 0.02, "topcoat": 0.05},
            spread_factor={"topcoat": 2.2},
        ),
        GaugeOffset(
            code="E4",
            gauge="Q2",
            day=6,
            shift="late",
            offset=0.15,
            adjusted_at="05:50",
            remeasured=2,
            remeasured_with="Q1",
            remeasured_at="06:25",
        ),
        LowFire(code="E5", day=17, shift="late", after_minutes=20, air=48.0, repaired_at="05:20"),
        TypedInOtherUnit(code="E6", day=11, shift="late", shown="um", resolution=1.0, typed="mil"),
        FeedStuck(code="E7", tank="phosphate", first_day=18, last_day=19, ph_rise=0.5, repaired_at="05:30"),
        CopiedUnit(code="E8", day=20),
        ProbeGap(code="E9", day=8, shift="late", probe="frame", from_minute=65, minutes=20, reseated_at="05:30"),
        PulledEarly(code="E10", day=15, shift="day", minutes=75),
        TouchedUp(
            code="E11",
            day=10,
            shift="day",
            location="inside compartment",
            thin=0.67,
            touched_up=0.97,
            gauge="Q2",
            sprayed_at="15:00",
            remeasured_at="20:40",
        ),
    ),
)
"""The shop that ``write_demo`` writes; all of its numbers are invented."""
