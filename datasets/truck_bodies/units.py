"""Which units a month holds: when, where, by whom and with what each is painted and read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from .planted import PainterReplaced
from .scenario import Layer, Scenario, Shift
from .streams import Purpose, stream


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One painted body."""

    serial: str
    day: int
    """Working day of the month, from 1."""
    shift: str
    booth: str
    painter: str
    gun: str
    gauge: str
    substrate: str
    batches: tuple[str, ...]
    """Batch of each layer."""
    times: tuple[datetime, ...]
    """Time of each layer's cumulative reading, whole minutes."""


def working_days(scenario: Scenario, month: str) -> tuple[date, ...]:
    """Return the month's dates, Monday to Friday."""
    step = timedelta(days=-1 if month == "baseline" else 1)
    day = scenario.first_day + step if month == "baseline" else scenario.first_day
    days: list[date] = []
    while len(days) < scenario.days:
        if day.weekday() < 5:
            days.append(day)
        day += step
    return tuple(sorted(days))


def clock(day: date, hh_mm: str, minutes: int = 0) -> datetime:
    """Return the local time of a clock reading on a day, some minutes later."""
    return datetime.combine(day, time.fromisoformat(hh_mm)) + timedelta(minutes=minutes)


def gun_at(scenario: Scenario, booth: str, day: int) -> str:
    """Return the gun that hangs in a booth on a working day."""
    turns = (day - 1) // scenario.swap_days
    return scenario.guns[(scenario.booths.index(booth) + turns) % len(scenario.guns)]


def batch_names(scenario: Scenario, layer: Layer, month: str) -> tuple[str, ...]:
    """Return the batch numbers of a layer in a month; the demo month goes on from the baseline."""
    start = scenario.first_batch + (0 if month == "baseline" else len(layer.batches))
    numbers = range(start, start + len(layer.batches))
    return tuple(layer.batch_label.format(number=number) for number in numbers)


def batch_index(layer: Layer, day: int) -> int:
    """Return which of a layer's batches is open on a working day."""
    return max(i for i, batch in enumerate(layer.batches) if batch.day <= day)


def painter_at(scenario: Scenario, shift: str, booth: str, day: int, month: str) -> str:
    """Return who sprays in a booth on a shift of a working day."""
    crews = (x for x in scenario.crews if (x.shift, x.booth) == (shift, booth))
    painter = next(crews).painter
    for event in scenario.events if month == "demo" else ():
        if isinstance(event, PainterReplaced) and event.first_day <= day <= event.last_day:
            painter = event.joins if painter == event.leaves else painter
    return painter


def _counts(scenario: Scenario, seed: int, month: str) -> list[int]:
    fewest, most = scenario.units_per_day
    drawn = stream(seed, month, Purpose.COUNTS).integers(fewest, most + 1, scenario.days)
    return [int(count) for count in drawn]


def plan_units(scenario: Scenario, *, seed: int, month: str) -> tuple[Unit, ...]:
    """Return the units of a month in the order of their serials.

    Parameters
    ----------
    scenario : Scenario
        The shop.
    seed : int
        Seed of the whole shop, the same for all months.
    month : str
        ``baseline``, ``demo`` or ``quiet``.
    """
    counts = _counts(scenario, seed, month)
    number = scenario.first_unit
    if month != "baseline":
        number += sum(_counts(scenario, seed, "baseline"))
    shares = [x.share for x in scenario.substrates]
    metals = stream(seed, month, Purpose.SUBSTRATES).choice(len(shares), size=sum(counts), p=[x / sum(shares) for x in shares])
    jitter = stream(seed, month, Purpose.TIMES).random((sum(counts), len(scenario.layers)))
    names = [batch_names(scenario, layer, month) for layer in scenario.layers]

    units: list[Unit] = []
    for day, (day_date, count) in enumerate(zip(working_days(scenario, month), counts, strict=True), start=1):
        for shift, place, size in _places(scenario.shifts, count):
            i = len(units)
            booth = scenario.booths[(place + day) % len(scenario.booths)]
            units.append(
                Unit(
                    serial=scenario.unit_label.format(number=number + i),
                    day=day,
                    shift=shift.name,
                    booth=booth,
                    painter=painter_at(scenario, shift.name, booth, day, month),
                    gun=gun_at(scenario, booth, day),
                    gauge=shift.gauge,
                    substrate=scenario.substrates[int(metals[i])].name,
                    batches=tuple(names[k][batch_index(layer, day)] for k, layer in enumerate(scenario.layers)),
                    times=tuple(
                        clock(
                            day_date,
                            shift.start,
                            # Within its slot, so that units of a shift are read in order.
                            layer.read_minute + int((place + float(jitter[i, k])) * layer.read_span / size),
                        )
                        for k, layer in enumerate(scenario.layers)
                    ),
                )
            )
    return tuple(units)


def _places(shifts: tuple[Shift, ...], count: int) -> list[tuple[Shift, int, int]]:
    """Return shift, place within the shift and size of the shift for each unit of a day."""
    of_unit = [i * len(shifts) // count for i in range(count)]
    return [(shifts[s], i - of_unit.index(s), of_unit.count(s)) for i, s in enumerate(of_unit)]
