"""The film on every location of every unit, before anybody measures it.

layer = mean + batch + painter + gun + day + substrate + unit + location + unit x location, where day
is a stationary first-order autoregression, location is fixed (the same places on every body), and
unit and unit x location are normal. Planted faults change these terms; see ``planted``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .planted import GunWear, PainterReplaced, Planted, ThinBatch, TouchedUp
from .scenario import Layer, Scenario
from .streams import Purpose, stream
from .units import Unit, batch_index

Floats = NDArray[np.float64]


def day_effects(scenario: Scenario, *, seed: int, month: str) -> Floats:
    """Return the day effect of each layer (rows) and working day (columns), mil."""
    z = stream(seed, month, Purpose.DAY).standard_normal((len(scenario.layers), scenario.days))
    effects = np.empty_like(z)
    for row, layer in enumerate(scenario.layers):
        fresh = math.sqrt(1.0 - layer.day_phi**2)
        level = float(z[row, 0])
        for day in range(scenario.days):
            if day > 0:
                level = layer.day_phi * level + fresh * float(z[row, day])
            effects[row, day] = layer.day_sd * level
    return effects


def spray(
    scenario: Scenario,
    units: Sequence[Unit],
    events: Sequence[Planted],
    *,
    seed: int,
    month: str,
) -> Floats:
    """Return the thickness of each layer, shape (layers, units, locations), mil."""
    shape = (len(scenario.layers), len(units), len(scenario.locations))
    days = day_effects(scenario, seed=seed, month=month)
    z_unit = stream(seed, month, Purpose.UNIT).standard_normal(shape[:2])
    z_place = stream(seed, month, Purpose.UNIT_LOCATION).standard_normal(shape)
    film = np.empty(shape)
    for row, layer in enumerate(scenario.layers):
        level = np.array([_level(layer, unit, events) for unit in units])
        level += days[row, [unit.day - 1 for unit in units]]
        level += layer.unit_sd * z_unit[row]
        places = np.array([layer.location.get(name, 0.0) for name in scenario.locations])
        spread = np.array([_spread(layer, unit, events) for unit in units])
        factor = np.array([_factor(layer, unit, events) for unit in units])
        random = spread[:, None] * _unit_location(scenario, layer, z_place[row])
        film[row] = (level[:, None] + places + random) * factor[:, None]
    return film


def _level(layer: Layer, unit: Unit, events: Sequence[Planted]) -> float:
    painter, extra = unit.painter, 0.0
    for event in events:
        if isinstance(event, GunWear):
            if _worn(event, layer, unit):
                extra += event.per_day * (unit.day - event.first_day + 1)
        elif isinstance(event, PainterReplaced) and unit.painter == event.joins:
            painter = event.leaves
            extra += event.shift.get(layer.name, 0.0)
    return (
        layer.mean
        + layer.batches[batch_index(layer, unit.day)].offset
        + layer.painter.get(painter, 0.0)
        + layer.gun.get(unit.gun, 0.0)
        + layer.substrate.get(unit.substrate, 0.0)
        + extra
    )


def _spread(layer: Layer, unit: Unit, events: Sequence[Planted]) -> float:
    factor = 1.0
    for event in events:
        if isinstance(event, GunWear):
            factor *= event.spread_factor if _worn(event, layer, unit) else 1.0
        elif isinstance(event, PainterReplaced) and unit.painter == event.joins:
            factor *= event.spread_factor.get(layer.name, 1.0)
    return factor


def _factor(layer: Layer, unit: Unit, events: Sequence[Planted]) -> float:
    factor = 1.0
    for event in events:
        if isinstance(event, ThinBatch) and event.layer == layer.name:
            factor *= event.factor if event.first_day <= unit.day <= event.last_day else 1.0
    return factor


def _worn(event: GunWear, layer: Layer, unit: Unit) -> bool:
    hit = event.layer == layer.name and event.gun == unit.gun
    return hit and event.first_day <= unit.day <= event.last_day


def _unit_location(scenario: Scenario, layer: Layer, z: Floats) -> Floats:
    effect = layer.unit_location_sd * z
    for name, log_sd in layer.skew.items():
        place = scenario.locations.index(name)
        # The mean of exp(log_sd z) is exp(log_sd^2 / 2); so the effect has mean 0.
        effect[:, place] = layer.mean * np.expm1(log_sd * z[:, place] - log_sd**2 / 2.0)
    return effect


def touch_up(scenario: Scenario, units: Sequence[Unit], event: TouchedUp, film: Floats) -> tuple[int, Floats]:
    """Make one unit thin at one location; return its index and its film after the touch-up.

    Of the units of the shift the one whose total is nearest to nominal is taken, so that nothing
    but the thin location speaks against it. ``film`` is changed in place; the film afterward has
    shape (layers, locations).
    """
    nominal = sum(layer.mean for layer in scenario.layers)
    of_shift = [i for i, u in enumerate(units) if (u.day, u.shift) == (event.day, event.shift)]
    totals = film.sum(axis=0).mean(axis=1)
    chosen = min(of_shift, key=lambda i: abs(float(totals[i]) - nominal))
    place = scenario.locations.index(event.location)
    under = float(film[:-1, chosen, place].sum())
    after = film[:, chosen, :].copy()
    film[-1, chosen, place] = event.thin * nominal - under
    after[-1, place] = event.touched_up * nominal - under
    return chosen, after
