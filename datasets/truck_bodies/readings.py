"""The readings file of a month: what the gauges show of the film, and what is typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .displays import MIL_PER_UNIT, Display
from .film import Floats, spray, touch_up
from .planted import CopiedUnit, GaugeOffset, Planted, TouchedUp, TypedInOtherUnit
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits
from .units import Unit, clock, working_days

COLUMNS = (
    "unit",
    "substrate",
    "layer",
    "location",
    "repeat",
    "value",
    "unit_of_measure",
    "gauge",
    "painter",
    "gun",
    "booth",
    "batch",
    "time",
    "attempt",
)

Rows = dict[str, NDArray[Any]]


@dataclass(frozen=True)
class Measured:
    """The readings of a month, the film behind the first attempts, and whom each fault hit."""

    table: Table
    film: Floats
    hit: dict[str, tuple[str, ...]]
    """Fault code to serials, for the faults that pick their units in the simulated month."""


def show(mil: Floats, display: Display) -> Floats:
    """Return what a display shows of lengths in mil, in its own unit, rounded half up."""
    steps = np.floor(mil / MIL_PER_UNIT[display.unit] / display.resolution + 0.5)
    return np.round(np.maximum(steps, 0.0) * display.resolution, digits(display.resolution))


def display_of(scenario: Scenario, gauge: str, substrate: str) -> Display:
    """Return the display of a gauge on a substrate."""
    return next(x for x in scenario.gauges if x.name == gauge).display[substrate]


def measure(
    scenario: Scenario,
    units: Sequence[Unit],
    events: Sequence[Planted],
    *,
    seed: int,
    month: str,
) -> Measured:
    """Spray, read and type a month.

    The second attempts of ``GaugeOffset`` and ``TouchedUp`` are of the outermost reading alone: the
    coats below are covered by then.
    """
    film = spray(scenario, units, events, seed=seed, month=month)
    fresh = stream(seed, month, Purpose.REMEASURE)
    hit: dict[str, tuple[str, ...]] = {}
    extra: list[Rows] = []
    for event in events:
        if isinstance(event, TouchedUp):
            i, after = touch_up(scenario, units, event, film)
            day = working_days(scenario, month)[event.day - 1]
            at = clock(day, event.remeasured_at)
            hit[event.code] = (units[i].serial,)
            extra.append(_again(scenario, units, i, after, event.gauge, at, fresh))
    for event in events:
        if isinstance(event, GaugeOffset):
            chosen = _read_by(units, event)[: event.remeasured]
            day = working_days(scenario, month)[event.day]
            for k, i in enumerate(chosen):
                at = clock(day, event.remeasured_at, minutes=6 * k)
                extra.append(_again(scenario, units, i, film[:, i], event.remeasured_with, at, fresh))
            hit[event.code] = tuple(units[i].serial for i in _read_by(units, event))
            hit[f"{event.code} measured again"] = tuple(units[i].serial for i in chosen)

    first, mil = _first_attempts(scenario, units, events, film, seed=seed, month=month)
    for event in events:
        if isinstance(event, TypedInOtherUnit):
            hit[event.code] = (_mistype(scenario, units, event, first, mil),)
        elif isinstance(event, CopiedUnit):
            hit[event.code] = _copy(units, event, first)
    return Measured(_table(scenario, units, [first, *extra]), film, hit)


def _read_by(units: Sequence[Unit], event: GaugeOffset) -> list[int]:
    key = (event.day, event.shift, event.gauge)
    return [i for i, u in enumerate(units) if (u.day, u.shift, u.gauge) == key]


def _first_attempts(
    scenario: Scenario,
    units: Sequence[Unit],
    events: Sequence[Planted],
    film: Floats,
    *,
    seed: int,
    month: str,
) -> tuple[Rows, Floats]:
    z = stream(seed, month, Purpose.REPEAT).standard_normal((*film.shape, scenario.repeats))
    repeat_sd = np.array([layer.repeat_sd for layer in scenario.layers])
    mil = film.cumsum(axis=0)[..., None] + repeat_sd[:, None, None, None] * z
    for event in events:
        if isinstance(event, GaugeOffset):
            mil[:, _read_by(units, event)] += event.offset
    mil = np.ascontiguousarray(mil.transpose(1, 0, 2, 3))
    rows = _rows(
        scenario,
        units,
        np.arange(len(units)),
        np.arange(len(scenario.layers)),
        mil,
        [unit.gauge for unit in units],
        [list(unit.times) for unit in units],
        attempt=1,
    )
    return rows, mil.ravel()


def _again(
    scenario: Scenario,
    units: Sequence[Unit],
    i: int,
    film: Floats,
    gauge: str,
    at: datetime,
    fresh: np.random.Generator,
) -> Rows:
    z = fresh.standard_normal((len(scenario.locations), scenario.repeats))
    mil = film.sum(axis=0)[:, None] + scenario.layers[-1].repeat_sd * z
    last = np.array([len(scenario.layers) - 1])
    return _rows(scenario, units, np.array([i]), last, mil[None, None], [gauge], [[at]], attempt=2)


def _rows(
    scenario: Scenario,
    units: Sequence[Unit],
    which: NDArray[np.int64],
    layers: NDArray[np.int64],
    mil: Floats,
    gauges: Sequence[str],
    times: Sequence[Sequence[datetime]],
    *,
    attempt: int,
) -> Rows:
    """Return index columns and typed columns of readings of shape (units, layers, places, repeats)."""
    u, k, place, repeat = (axis.ravel() for axis in np.indices(mil.shape))
    shown = np.empty_like(mil)
    displays = [display_of(scenario, gauge, units[i].substrate) for i, gauge in zip(which.tolist(), gauges, strict=True)]
    for row, display in enumerate(displays):
        shown[row] = show(mil[row], display)
    return {
        "unit": which[u],
        "layer": layers[k],
        "location": place,
        "repeat": repeat + 1,
        "value": shown.ravel(),
        "decimals": np.array([digits(x.resolution) for x in displays])[u],
        "unit_of_measure": np.array([x.unit for x in displays], dtype=object)[u],
        "gauge": np.array(gauges, dtype=object)[u],
        "time": np.array(times, dtype="datetime64[m]")[u, k],
        "attempt": np.full(u.size, attempt),
    }


def _mistype(
    scenario: Scenario,
    units: Sequence[Unit],
    event: TypedInOtherUnit,
    rows: Rows,
    mil: Floats,
) -> str:
    of_shift = [i for i, u in enumerate(units) if (u.day, u.shift) == (event.day, event.shift)]
    # The natural slip: a unit whose gauge does show the other unit there; else the first one.
    natural = (i for i in of_shift if display_of(scenario, units[i].gauge, units[i].substrate).unit == event.shown)
    i = next(natural, of_shift[0])
    at = (rows["unit"] == i) & (rows["layer"] == len(scenario.layers) - 1)
    rows["value"][at] = show(mil[at], Display(unit=event.shown, resolution=event.resolution))
    rows["decimals"][at] = digits(event.resolution)
    rows["unit_of_measure"][at] = event.typed
    return units[i].serial


def _copy(units: Sequence[Unit], event: CopiedUnit, rows: Rows) -> tuple[str, str]:
    of_day = [i for i, unit in enumerate(units) if unit.day == event.day]
    pairs = [(i, i + 1) for i in of_day if i + 1 in of_day]

    def unlike(pair: tuple[int, int]) -> tuple[bool, bool]:
        a, b = units[pair[0]], units[pair[1]]
        return a.shift != b.shift, a.substrate != b.substrate

    source, target = min(pairs, key=unlike)
    for name in ("value", "decimals", "unit_of_measure"):
        rows[name][rows["unit"] == target] = rows[name][rows["unit"] == source]
    return units[source].serial, units[target].serial


def _table(scenario: Scenario, units: Sequence[Unit], blocks: Sequence[Rows]) -> Table:
    rows = {name: np.concatenate([x[name] for x in blocks]) for name in blocks[0]}
    order = np.lexsort((rows["attempt"], rows["unit"]))
    rows = {name: column[order] for name, column in rows.items()}
    unit, layer = rows["unit"], rows["layer"]
    batches = np.array([x.batches for x in units], dtype=object)

    def of_unit(name: str) -> NDArray[Any]:
        column: NDArray[Any] = np.array([getattr(x, name) for x in units], dtype=object)[unit]
        return column

    columns: Rows = {
        **rows,
        "unit": of_unit("serial"),
        "layer": np.array([x.reading for x in scenario.layers], dtype=object)[layer],
        "location": np.array(scenario.locations, dtype=object)[rows["location"]],
        "batch": batches[unit, layer],
        **{name: of_unit(name) for name in ("substrate", "painter", "gun", "booth")},
    }
    return Table({name: columns[name] for name in COLUMNS}, {"value": rows["decimals"]})
