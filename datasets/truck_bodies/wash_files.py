"""The washer's files of a month: checks of every stage, the feed meter, what was added by hand, and the bands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from .film import Floats
from .planted import FeedStuck, Planted
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits, from_rows, rounded
from .units import clock, working_days
from .wash import Course, acidity, check_minutes, course, delivered_by, meter_minutes
from .wash_scenario import VOLUME_UNITS, WEIGHT_UNITS, Panels, Pump, Rinse, Tank, Washer

Row = tuple[Any, ...]


def log_wash(scenario: Scenario, washer: Washer, events: Sequence[Planted], *, seed: int, month: str) -> dict[str, Table]:
    """Return the washer's files by name: ``wash_checks``, ``chemical_feed``, ``chemical_additions``, ``wash_plan``."""
    tanks = [x for x in washer.stages if isinstance(x, Tank)]
    courses = {x.name: course(scenario, washer, x, events, seed=seed, month=month) for x in tanks}
    return {
        "wash_checks": _checks(scenario, washer, courses, events, seed=seed, month=month),
        "chemical_feed": _feed(scenario, washer, courses, seed=seed, month=month),
        "chemical_additions": _additions(scenario, washer, courses, events, month=month),
        "wash_plan": _plan(washer, scenario.panels),
    }


def _days(scenario: Scenario, month: str) -> list[datetime]:
    return [clock(day, scenario.shifts[0].start) for day in working_days(scenario, month)]


def _checks(
    scenario: Scenario,
    washer: Washer,
    courses: dict[str, Course],
    events: Sequence[Planted],
    *,
    seed: int,
    month: str,
) -> Table:
    checks = check_minutes(scenario, washer)
    shape = (scenario.days, len(checks))
    heat = "F" if washer.temperature_unit == "F" else "C"
    shown: list[tuple[str, str, Floats, str, float]] = []
    for place, stage in enumerate(washer.stages):
        if isinstance(stage, Rinse):
            z = stream(seed, month, Purpose.RINSE, place).standard_normal(shape)
            log_variance = math.log1p((stage.conductivity_sd / stage.conductivity) ** 2)
            found = stage.conductivity * np.exp(math.sqrt(log_variance) * z - log_variance / 2.0)
            shown.append((stage.name, "conductivity", found, "uS/cm", 1.0))
            continue
        shown.append((stage.name, "concentration", courses[stage.name].titrated, "%", 0.01))
        if stage.ph is not None:
            acid = acidity(scenario, washer, stage, stage.ph, courses[stage.name], events, seed=seed, month=month)
            shown.append((stage.name, "pH", acid, "pH", 0.01))
        z = stream(seed, month, Purpose.BATH, place).standard_normal(shape)
        warm = stage.temperature + stage.temperature_sd * z
        shown.append((stage.name, "temperature", warm * 1.8 + 32.0 if heat == "F" else warm, heat, 0.5))
    days = _days(scenario, month)
    rows: list[Row] = []
    for day, opens in enumerate(days):
        for k, (shift, minute) in enumerate(checks):
            at = opens + timedelta(minutes=minute)
            rows += [(at, shift, tank, what, found[day, k], unit, step) for tank, what, found, unit, step in shown]
    columns = from_rows(_CHECKS, rows)
    steps = [row[-1] for row in rows]
    columns["value"] = rounded(columns["value"], np.array(steps))
    return Table(columns, {"value": np.array([digits(x) for x in steps])})


_CHECKS = {
    "time": "datetime64[m]",
    "shift": "object",
    "tank": "object",
    "quantity": "object",
    "value": "float64",
    "unit_of_measure": "object",
}


def _feed(scenario: Scenario, washer: Washer, courses: dict[str, Course], *, seed: int, month: str) -> Table:
    per_unit = VOLUME_UNITS[washer.volume_unit]
    opens = _days(scenario, month)
    rows: list[Row] = []
    for tank in washer.stages:
        if not (isinstance(tank, Tank) and isinstance(tank.supply, Pump)):
            continue
        total = 0.0
        if month != "baseline":  # the meter goes on counting
            total = float(delivered_by(scenario, washer, tank, (), seed=seed, month="baseline").sum())
        minutes = meter_minutes(scenario, washer, tank.supply)
        for day, delivered in zip(opens, courses[tank.name].delivered.tolist(), strict=True):
            for minute, volume in zip(minutes, [0.0, *delivered], strict=True):
                total += volume
                at = day + timedelta(minutes=minute)
                rows.append((at, tank.name, tank.supply.meter, total * per_unit, washer.volume_unit))
    columns = from_rows(_FEED, rows)
    columns["total"] = rounded(columns["total"], 0.01)
    return Table(columns, {"total": np.full(len(rows), 2)})


_FEED = {
    "time": "datetime64[m]",
    "tank": "object",
    "meter": "object",
    "total": "float64",
    "unit_of_measure": "object",
}


def _additions(scenario: Scenario, washer: Washer, courses: dict[str, Course], events: Sequence[Planted], *, month: str) -> Table:
    days = _days(scenario, month)
    repaired = {(x.tank, x.last_day + 1): x.repaired_at for x in events if isinstance(x, FeedStuck)}
    rows: list[Row] = []
    for name, found in courses.items():
        for one in found.additions:
            opens = days[one.day - 1]
            if math.isinf(one.minute):
                at = clock(opens.date(), repaired[name, one.day], 10)
            else:
                at = opens + timedelta(minutes=one.minute + 10)
            rows.append((at, name, one.volume * VOLUME_UNITS[washer.volume_unit], washer.volume_unit))
    rows.sort(key=lambda row: row[0])
    columns = from_rows(_ADDED, rows)
    columns["volume"] = rounded(columns["volume"], 0.1)
    return Table(columns, {"volume": np.ones(len(rows), dtype=np.int64)})


_ADDED = {"time": "datetime64[m]", "tank": "object", "volume": "float64", "unit_of_measure": "object"}


def _plan(washer: Washer, panels: Panels | None) -> Table:
    heat = washer.temperature_unit
    volume = VOLUME_UNITS[washer.volume_unit]

    def warm(celsius: float) -> float:
        return celsius * 1.8 + 32.0 if heat == "F" else celsius

    rows: list[Row] = []
    none = math.nan
    for stage in washer.stages:
        if isinstance(stage, Rinse):
            limit = none if stage.limit is None else stage.limit
            rows.append((stage.name, "conductivity", none, stage.conductivity, limit, "uS/cm", 0))
            continue
        rows.append((stage.name, "concentration", stage.band[0], stage.target, stage.band[1], "%", 2))
        if stage.ph is not None:
            low, high = (none, none) if stage.ph_band is None else stage.ph_band
            rows.append((stage.name, "pH", low, stage.ph, high, "pH", 2))
        low, high = stage.temperature_band
        rows.append((stage.name, "temperature", warm(low), warm(stage.temperature), warm(high), heat, 1))
        rows.append((stage.name, "volume", none, stage.volume * volume, none, washer.volume_unit, 0))
        rows.append((stage.name, "loss", none, stage.loss_per_hour * volume, none, f"{washer.volume_unit}/h", 1))
    if panels is not None:
        weight, places = (WEIGHT_UNITS[panels.weight_unit], 3 if panels.weight_unit == "g/m2" else 1)
        limits = (panels.weight_least * weight, panels.weight * weight, none)
        rows.append((panels.tank, "coating weight", *limits, panels.weight_unit, places))
    decimals = np.array([row[-1] for row in rows])
    return Table(from_rows(_BANDS, rows), dict.fromkeys(("lower", "target", "upper"), decimals))


_BANDS = {
    "tank": "object",
    "quantity": "object",
    "lower": "float64",
    "target": "float64",
    "upper": "float64",
    "unit_of_measure": "object",
}
