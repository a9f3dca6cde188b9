"""What an analysis knows that knows the truth: film as measured, means and contrasts from the scenario's own numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .displays import MIL_PER_UNIT
from .film import Floats
from .generate import Month
from .planted import CopiedUnit, GunWear, PainterReplaced, Planted, ThinBatch, TouchedUp, TypedInOtherUnit
from .scenario import Layer, Scenario
from .units import Unit, batch_index


@dataclass(frozen=True)
class Film:
    """First attempts of a month as arrays by unit, mil; units with a typing fault or a touch-up are left out."""

    units: tuple[Unit, ...]
    day: NDArray[np.int64]
    spots: dict[str, Floats]
    """Coat to location means, shape (units, locations)."""

    def at(self, field: str, value: str) -> NDArray[np.bool_]:
        """Return which units have this gun, painter, booth or gauge."""
        found: NDArray[np.bool_] = np.array([getattr(unit, field) == value for unit in self.units])
        return found

    def average(self, layer: Layer) -> Floats:
        """Return the unit averages of a coat."""
        found: Floats = self.spots[layer.name].mean(axis=1)
        return found


def in_mil(month: Month) -> Floats:
    """Return the readings' values in mil, as their unit of measure says."""
    columns = month.readings.columns
    factor = np.array([MIL_PER_UNIT[unit] for unit in columns["unit_of_measure"]])
    values: Floats = columns["value"] * factor
    return values


def film_of(month: Month, scenario: Scenario) -> Film:
    """Return the readings of a month as film of each coat."""
    first = month.readings.columns["attempt"] == 1
    shape = (len(month.units), len(scenario.layers), len(scenario.locations), scenario.repeats)
    mil = in_mil(month)[first].reshape(shape)
    twice = {x for x in month.readings.columns["unit"][~first] if x in month.hit.get(_code(scenario, TouchedUp), ())}
    sound = [k for k, unit in enumerate(month.units) if unit.serial not in twice | _mistyped(month, scenario)]
    spots = np.diff(mil[sound].mean(axis=3), axis=1, prepend=0.0)
    units = tuple(month.units[k] for k in sound)
    return Film(
        units=units,
        day=np.array([unit.day for unit in units]),
        spots={layer.name: spots[:, k] for k, layer in enumerate(scenario.layers)},
    )


def _code(scenario: Scenario, kind: type[Planted]) -> str:
    return next((x.code for x in scenario.events if isinstance(x, kind)), "")


def _mistyped(month: Month, scenario: Scenario) -> set[str]:
    codes = [x.code for x in scenario.events if isinstance(x, TypedInOtherUnit | CopiedUnit)]
    return {month.hit[code][-1] for code in codes if code in month.hit}


# --- what is known of the film ------------------------------------------------------------------


def expected(scenario: Scenario, layer: Layer, film: Film, events: Sequence[Planted]) -> Floats:
    """Return the mean of each unit's average with the given faults and no others."""
    places = float(np.mean([layer.location.get(x, 0.0) for x in scenario.locations]))
    found = np.empty(len(film.units))
    for k, unit in enumerate(film.units):
        level, factor, painter = layer.mean + places, 1.0, unit.painter
        for event in scenario.events:
            if isinstance(event, PainterReplaced) and unit.painter == event.joins:
                painter = event.leaves
                level += event.shift.get(layer.name, 0.0) if event in events else 0.0
        for event in events:
            if isinstance(event, GunWear) and event.layer == layer.name and unit.gun == event.gun:
                worn = event.first_day <= unit.day <= event.last_day
                level += event.per_day * (unit.day - event.first_day + 1) if worn else 0.0
            if isinstance(event, ThinBatch) and event.layer == layer.name:
                factor *= event.factor if event.first_day <= unit.day <= event.last_day else 1.0
        level += layer.batches[batch_index(layer, unit.day)].offset + layer.painter.get(painter, 0.0)
        level += layer.gun.get(unit.gun, 0.0) + layer.substrate.get(unit.substrate, 0.0)
        found[k] = level * factor
    return found


def repeat_variance(scenario: Scenario, layer: Layer) -> float:
    """Return the variance of one derived reading of a coat from repeat error: its own reading's and the one below's."""
    k = [x.name for x in scenario.layers].index(layer.name)
    return sum(x.repeat_sd**2 for x in scenario.layers[max(k - 1, 0) : k + 1])


def average_sd(scenario: Scenario, layer: Layer) -> float:
    """Return the SD of a unit average about its day's level."""
    places = len(scenario.locations)
    repeat = repeat_variance(scenario, layer) / (places * scenario.repeats)
    return float(np.sqrt(layer.unit_sd**2 + layer.unit_location_sd**2 / places + repeat))


def contrast(y: Floats, signature: Floats, covariance: Floats) -> float:
    """Return the best contrast for a signature in standard errors: s' C^-1 y / sqrt(s' C^-1 s)."""
    weights = np.linalg.solve(covariance, signature)
    size = float(weights @ signature)
    return float(weights @ y) / size**0.5 if size > 0.0 else 0.0


def day_covariance(scenario: Scenario, layer: Layer, film: Film) -> Floats:
    """Return the covariance of the unit averages of a fault-free month."""
    days = layer.day_sd**2 * layer.day_phi ** np.abs(film.day[:, None] - film.day[None, :])
    found: Floats = days + average_sd(scenario, layer) ** 2 * np.eye(film.day.size)
    return found


@dataclass(frozen=True)
class Fit:
    """How well a signature of known size fits."""

    z: float
    """The best contrast for it, in standard errors."""
    gain: float
    """Log-likelihood over that of nothing being there."""


def inside_days(film: Film, sd: float, y: Floats, signature: Floats, at: NDArray[np.bool_]) -> Fit:
    """Fit a signature between some units of the same day: what a day shares tells nothing."""
    day = film.day[at] - 1
    count = np.maximum(np.bincount(day), 1)
    y = y[at] - (np.bincount(day, y[at]) / count)[day]
    signature = signature[at] - (np.bincount(day, signature[at]) / count)[day]
    size, common = float(signature @ signature), float(signature @ y)
    return Fit(common / (sd * size**0.5) if size > 1e-12 else 0.0, (common - size / 2.0) / sd**2)
