"""Is every planted fault there to be found by its day, by an analysis that knows the truth? And are quiet months quiet?

Each fault is looked for with the contrast that fits it best: the scenario's own means, standard deviations and other
faults are known, only whether this fault is there is asked. So this measures the data, not a method: one that knows less
finds less. The files' values are used as gauges and probes show them.

Run from the top of the repository: ``python -m datasets.truck_bodies.findable`` prints the README's table for seeds 1 to
200; two numbers after it give another count and another first seed.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .displays import MIL_PER_UNIT
from .figures import GAS_CONSTANT, ZERO_CELSIUS
from .film import Floats
from .generate import Month, simulate
from .known import Fit, average_sd, contrast, day_covariance, expected, film_of, in_mil, inside_days, repeat_variance
from .oven import bake_of
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
from .scenario import SHOP, Layer, Scenario
from .wash_scenario import Tank

RAISED_BY = {"E1": 12, "E2": 10, "E3": 17, "E4": 6, "E5": 17, "E6": 11, "E7": 18, "E8": 20, "E9": 8, "E10": 15, "E11": 10}
"""The working day by whose night each fault of ``SHOP`` must be raised."""

SURE = 3.5
"""Standard errors, one-sided: where nothing is there a look exceeds it with a chance of 0.00023."""

Found = dict[str, bool]
"""What was asked to whether it was found; the first is whether the fault was raised in time."""


def layer_of(scenario: Scenario, name: str) -> Layer:
    """Return a layer by its name."""
    return next(x for x in scenario.layers if x.name == name)


def others(month: Month, scenario: Scenario, event: Planted) -> list[Planted]:
    """Return the other faults of a month, which count as known."""
    return [x for x in scenario.events if x is not event and month.name == "demo"]


# --- film -------------------------------------------------------------------------------------------


def wear(month: Month, scenario: Scenario, event: GunWear, by: int) -> Found:
    """A ramp on one gun against the units of other guns on the same days."""
    layer = layer_of(scenario, event.layer)
    film = film_of(month, scenario)
    y = film.average(layer) - expected(scenario, layer, film, others(month, scenario, event))
    sd = average_sd(scenario, layer)

    def ramp(factor: tuple[str, str], first: int, last: int, until: int) -> Fit:
        step = np.where(film.day <= last, np.maximum(film.day - first + 1.0, 0.0), 0.0) * event.per_day
        return inside_days(film, sd, y, step * film.at(*factor), film.day <= until)

    def gun(first: int, last: int, until: int) -> Fit:
        return ramp(("gun", event.gun), first, last, until)

    first, last = event.first_day, event.last_day
    in_time = max(gun(first, last, day).z for day in range(first, by + 1)) > SURE
    same = [("gun", x) for x in scenario.guns] + [("booth", x) for x in scenario.booths]
    same += [("painter", x) for x in sorted({unit.painter for unit in film.units})]
    blamed = max(same, key=lambda factor: ramp(factor, first, last, last).gain)
    onset = max(range(1, last), key=lambda day: gun(day, last, last).gain)
    end = max(range(first + 1, scenario.days), key=lambda day: gun(first, day, scenario.days).gain)
    return {
        f"raised by day {by}": in_time,
        f"gun named by day {last}": in_time and blamed == ("gun", event.gun),
        "onset dated within three days": in_time and abs(onset - first) <= 3,
        "replacement dated within one day": in_time and abs(end - last) <= 1,
    }


def thin(month: Month, scenario: Scenario, event: ThinBatch, by: int) -> Found:
    """A step of all units at the batch boundary, against the days' own wander."""
    layer = layer_of(scenario, event.layer)
    film = film_of(month, scenario)
    known = others(month, scenario, event)
    mean = expected(scenario, layer, film, known)
    y = film.average(layer) - mean
    inside = (film.day >= event.first_day) & (film.day <= event.last_day)
    signature = np.where(inside, (event.factor - 1.0) * mean, 0.0)
    covariance = day_covariance(scenario, layer, film)
    looks = {}
    for day in range(event.first_day, by + 1):
        at = film.day <= day
        looks[day] = contrast(y[at], signature[at], covariance[np.ix_(at, at)])
    return {f"raised by day {by}": max(looks.values()) > SURE}


def trainee(month: Month, scenario: Scenario, event: PainterReplaced, by: int) -> Found:
    """Spread inside the units of whoever sprays in the place of the one who left."""
    seats = [(x.shift, x.booth) for x in scenario.crews if x.painter == event.leaves]
    film = film_of(month, scenario)
    mine = np.array([(unit.shift, unit.booth) in seats for unit in film.units])
    # The coat whose spread grows most tells first.
    name = max(event.spread_factor, key=lambda x: event.spread_factor[x])
    layer = layer_of(scenario, name)
    places = np.array([layer.location.get(x, 0.0) for x in scenario.locations])
    inside = film.spots[name] - places
    squares = ((inside - inside.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    variance = layer.unit_location_sd**2 + repeat_variance(scenario, layer) / scenario.repeats
    best = 0.0
    for day in range(event.first_day, by + 1):
        at = mine & (film.day >= event.first_day) & (film.day <= day)
        degrees = int(at.sum()) * (len(scenario.locations) - 1)
        if degrees:
            best = max(best, chi_square_z(float(squares[at].sum()) / variance, degrees))
    return {f"spread raised by day {by}": best > SURE}


def chi_square_z(value: float, degrees: int) -> float:
    """Return a chi-square value as a standard normal one (Wilson and Hilferty 1931)."""
    spread = 2.0 / (9.0 * degrees)
    return float(((value / degrees) ** (1.0 / 3.0) - 1.0 + spread) / spread**0.5)


# --- gauge and forms --------------------------------------------------------------------------------


def knock(month: Month, scenario: Scenario, event: GaugeOffset, by: int) -> Found:
    """The check on shims at the end of the shift; and from the film alone, a common offset of both readings."""
    log = month.verification.columns
    error = (log["value"] - log["stated"]) * np.array([MIL_PER_UNIT[unit] for unit in log["unit_of_measure"]])
    date = np.datetime64(month.days[by - 1])
    at = (log["time"].astype("datetime64[D]") == date) & (log["gauge"] == event.gauge) & (log["shift"] == event.shift)
    # A display of 0.1 mil can be off by 0.05 on each shim; a third of the offset is asked for.
    shims = bool(abs(error[at & (log["moment"] == "end")].mean()) > event.offset / 3.0)

    film = film_of(month, scenario)
    first = scenario.layers[0]
    y = film.average(first) - expected(scenario, first, film, others(month, scenario, event))
    own = np.array([(unit.day, unit.shift, unit.gauge) == (event.day, event.shift, event.gauge) for unit in film.units])
    alone = contrast(y, event.offset * own, day_covariance(scenario, first, film)) > SURE
    return {f"shims raised by day {by}": shims, "first coat off, film alone": alone}


def typed(month: Month, scenario: Scenario, event: TypedInOtherUnit, by: int) -> Found:
    """Values that no film can have."""
    usual = sum(layer.mean for layer in scenario.layers)
    odd = np.abs(np.log(np.maximum(in_mil(month), 1e-9) / usual)) > np.log(8.0)
    date = np.datetime64(month.days[by - 1])
    return {f"raised by day {by}": bool((odd & (month.readings.columns["time"].astype("datetime64[D]") <= date)).any())}


def copied(month: Month, scenario: Scenario, event: CopiedUnit, by: int) -> Found:
    """Two forms that agree in every reading."""
    table = month.readings.columns
    first = table["attempt"] == 1
    size = len(scenario.layers) * len(scenario.locations) * scenario.repeats
    forms = table["value"][first].reshape(-1, size)
    days = np.array([unit.day for unit in month.units])
    twice = [k for k in range(1, len(forms)) if days[k] <= by and (forms[k] == forms[:k]).all(axis=1).any()]
    return {f"raised by day {by}": bool(twice)}


def touched(month: Month, scenario: Scenario, event: TouchedUp, by: int) -> Found:
    """A spot below four fifths of the least total at the first attempt, and none at the last."""
    table = month.readings.columns
    outer = scenario.layers[-1].reading
    least = 0.8 * scenario.windows[outer][0]
    again = set(table["unit"][(table["attempt"] == 2) & (table["time"].astype("datetime64[D]") <= month.days[by - 1])])
    mil = in_mil(month)
    for serial in again:
        rows = (table["unit"] == serial) & (table["layer"] == outer)
        one, two = (mil[rows & (table["attempt"] == k)].reshape(-1, scenario.repeats).mean(axis=1) for k in (1, 2))
        if one.min() < least <= two.min():
            return {f"raised by day {by}": True}
    return {f"raised by day {by}": False}


# --- oven and washer --------------------------------------------------------------------------------


@dataclass(frozen=True)
class Baked:
    """The worst place of a bake."""

    above: float
    """Minutes at the first schedule point, gaps credited."""
    sure: float
    """The same without gaps."""
    dose: float


def baked(month: Month, scenario: Scenario, bake: int) -> Baked:
    """Return the least of what the parts of a bake got, straight lines between the readings."""
    oven = scenario.oven
    if oven is None:
        raise ValueError("the shop has no oven")
    log = month.logs["oven_log"].columns
    found = []
    for probe in oven.probes:
        at = (log["bake"] == bake) & (log["probe"] == probe.name)
        if probe.time_constant is not None and at.any():
            celsius = (log["temperature"][at] - 32.0) / 1.8 if oven.unit == "F" else log["temperature"][at]
            steps = np.diff(log["time"][at].astype(np.float64))
            low, high = np.minimum(celsius[:-1], celsius[1:]), np.maximum(celsius[:-1], celsius[1:])
            point = oven.recipe.schedule[0].temperature
            share = np.clip((high - point) / np.maximum(high - low, 1e-9), 0.0, 1.0)
            share = np.where(low >= point, 1.0, share)
            slope = 1000.0 * oven.recipe.activation_energy / GAS_CONSTANT
            rate = np.exp(slope * (1.0 / (point + ZERO_CELSIUS) - 1.0 / (celsius + ZERO_CELSIUS)))
            dose = float((steps * (rate[:-1] + rate[1:]) / 2.0).sum())
            found.append((float((share * steps).sum()), float((share * steps)[steps < 2.0].sum()), dose))
    above, sure, dose = (min(x) for x in zip(*found, strict=True))
    return Baked(above, sure, dose)


def bake_faults(month: Month, scenario: Scenario, event: LowFire | ProbeGap | PulledEarly, by: int) -> Found:
    """The verdict of the bake: missed, not demonstrated, or missed with the dose met."""
    oven = scenario.oven
    if oven is None:
        raise ValueError("the shop has no oven")
    wanted = oven.recipe.schedule[0].minutes
    found = baked(month, scenario, bake_of(scenario, event))
    if isinstance(event, ProbeGap):
        return {f"not demonstrated, day {by}": found.sure < wanted <= found.above}
    if isinstance(event, PulledEarly):
        return {f"schedule missed, day {by}": found.above < wanted, "dose met": found.above < wanted <= found.dose}
    return {f"schedule missed, day {by}": found.above < wanted, "dose missed": found.dose < wanted}


def feed(month: Month, scenario: Scenario, event: FeedStuck, by: int) -> Found:
    """The meter stands still between two readings of a day, before a titration is below the band."""
    log, checks = month.logs["chemical_feed"].columns, month.logs["wash_checks"].columns
    own = log["tank"] == event.tank
    time, total = log["time"][own], log["total"][own]
    date = time.astype("datetime64[D]")
    flat = np.flatnonzero((np.diff(total) <= 0.0) & (date[1:] == date[:-1]) & (date[1:] <= np.datetime64(month.days[by - 1])))
    stages = () if scenario.washer is None else scenario.washer.stages
    tank = next(x for x in stages if isinstance(x, Tank) and x.name == event.tank)
    low = (checks["tank"] == event.tank) & (checks["quantity"] == "concentration") & (checks["value"] < tank.band[0])
    raised = flat.size > 0
    before = raised and (not low.any() or time[flat[0] + 1] < checks["time"][low].min())
    return {f"meter raised by day {by}": raised, "before the titration": before}


ANALYSES: dict[type, Callable[..., Found]] = {
    GunWear: wear,
    ThinBatch: thin,
    PainterReplaced: trainee,
    GaugeOffset: knock,
    LowFire: bake_faults,
    TypedInOtherUnit: typed,
    FeedStuck: feed,
    CopiedUnit: copied,
    ProbeGap: bake_faults,
    PulledEarly: bake_faults,
    TouchedUp: touched,
}


def look(month: Month, scenario: Scenario = SHOP) -> dict[tuple[str, str], bool]:
    """Return for every fault of a scenario, by code and question, whether a month shows it."""
    return {
        (event.code, question): answer
        for event in scenario.events
        for question, answer in ANALYSES[type(event)](month, scenario, event, RAISED_BY[event.code]).items()
    }


def quiet_bakes(month: Month, scenario: Scenario = SHOP) -> int:
    """Return how many bakes of a month miss their schedule."""
    wanted = 0.0 if scenario.oven is None else scenario.oven.recipe.schedule[0].minutes
    bakes = np.unique(month.logs["bake_loads"].columns["bake"])
    return sum(baked(month, scenario, int(bake)).above < wanted for bake in bakes)


def outside_bands(month: Month) -> int:
    """Return how many wash checks and coating weights of a month lie outside the bands of the plan."""
    plan, checks, panels = (month.logs[name].columns for name in ("wash_plan", "wash_checks", "panels"))
    found = 0
    for tank, quantity, lower, upper in zip(*(plan[x] for x in ("tank", "quantity", "lower", "upper")), strict=True):
        at = (checks["tank"] == tank) & (checks["quantity"] == quantity)
        values: Floats = panels["value"][panels["test"] == quantity] if quantity == "coating weight" else checks["value"][at]
        found += int((values < lower).sum() + (values > upper).sum())
    return found


def lines(seeds: Sequence[int]) -> Iterator[str]:
    """Yield the README's table."""
    demo, quiet = ([look(simulate(name, seed=seed)) for seed in seeds] for name in ("demo", "quiet"))
    yield "| fault | found | demo months | quiet months |"
    yield "|---|---|---|---|"
    for code, question in demo[0]:
        shares = [sum(x[code, question] for x in months) for months in (demo, quiet)]
        yield f"| {code} | {question} | {shares[0]} of {len(seeds)} | {shares[1]} of {len(seeds)} |"
    months = [simulate("quiet", seed=seed) for seed in seeds]
    bakes = SHOP.days * len(SHOP.shifts)
    yield ""
    missed, outside = sum(quiet_bakes(x) for x in months), sum(outside_bands(x) for x in months)
    yield f"In the {len(seeds)} quiet months {missed} of {len(seeds) * bakes} bakes missed their schedule;"
    yield f"{outside} wash checks or coating weights lay outside their bands."


if __name__ == "__main__":
    given = [int(x) for x in sys.argv[1:]]
    count, first = (*given, *(200, 1)[len(given) :])
    sys.stdout.write("\n".join(lines(range(first, first + count))) + "\n")
