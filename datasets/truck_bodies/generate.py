"""Simulate months of the invented shop and write them as the shop's files."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from .events import log_events
from .film import Floats, day_effects
from .output import log_output, log_panels
from .oven import bake_of, load, log_oven
from .planted import FeedStuck, GunWear, LowFire, PainterReplaced, Planted, ProbeGap, PulledEarly, ThinBatch
from .readings import measure
from .scenario import SHOP, Scenario
from .streams import MONTHS
from .studies import log_studies, study
from .tables import Table, to_csv
from .units import Unit, batch_names, plan_units, working_days
from .validate import check
from .verification import verify
from .wash_files import log_wash

SEED = 1
"""Seed of the shop as shipped."""


@dataclass(frozen=True)
class Month:
    """One simulated month."""

    name: str
    seed: int
    days: tuple[date, ...]
    units: tuple[Unit, ...]
    film: Floats
    """Thickness of each layer at the first attempt, shape (layers, units, locations), mil."""
    readings: Table
    events: Table
    verification: Table
    logs: dict[str, Table]
    """The other files by name without ending, as far as the shop keeps them."""
    hit: dict[str, tuple[str, ...]]
    """Fault code to the serials of the units it hit, in the order of their serials."""


def simulate(month: str, *, seed: int = SEED, scenario: Scenario = SHOP) -> Month:
    """Simulate one month.

    Parameters
    ----------
    month : str
        ``baseline`` (the working days before, no faults), ``demo`` (with the scenario's faults), or
        ``quiet`` (the demo month's units, times and noise without the faults).
    seed : int
        Seed of the shop; the three months of one seed belong together.
    scenario : Scenario
        The shop.

    Raises
    ------
    ValueError
        If the scenario contradicts itself or the month is none of the three.
    """
    check(scenario)
    planted: tuple[Planted, ...] = scenario.events if month == "demo" else ()
    units = plan_units(scenario, seed=seed, month=month)
    measured = measure(scenario, units, planted, seed=seed, month=month)
    hit = {event.code: _hit(scenario, event, units) for event in planted}
    return Month(
        name=month,
        seed=seed,
        days=working_days(scenario, month),
        units=units,
        film=measured.film,
        readings=measured.table,
        events=log_events(scenario, planted, measured.hit, month=month),
        verification=verify(scenario, planted, seed=seed, month=month),
        logs=_logs(scenario, units, planted, seed=seed, month=month),
        hit={**hit, **measured.hit},
    )


def _logs(scenario: Scenario, units: Sequence[Unit], events: Sequence[Planted], *, seed: int, month: str) -> dict[str, Table]:
    logs: dict[str, Table] = {}
    if scenario.oven is not None:
        logs |= log_oven(scenario, scenario.oven, units, events, seed=seed, month=month)
    if scenario.washer is not None:
        logs |= log_wash(scenario, scenario.washer, events, seed=seed, month=month)
        if scenario.panels is not None:
            logs["panels"] = log_panels(scenario, scenario.washer, scenario.panels, events, seed=seed, month=month)
    if scenario.output is not None:
        logs["output"] = log_output(scenario, scenario.output, units, month)
    return logs


def _hit(scenario: Scenario, event: Planted, units: Sequence[Unit]) -> tuple[str, ...]:
    if isinstance(event, LowFire | ProbeGap | PulledEarly):
        return load(scenario, units, bake_of(scenario, event))
    if isinstance(event, PainterReplaced):
        return tuple(x.serial for x in units if x.painter == event.joins)
    if isinstance(event, FeedStuck):
        return tuple(x.serial for x in units if event.first_day <= x.day <= event.last_day)
    if isinstance(event, GunWear | ThinBatch):
        days = range(event.first_day, event.last_day + 1)
        gun = event.gun if isinstance(event, GunWear) else None
        return tuple(x.serial for x in units if x.day in days and gun in (None, x.gun))
    return ()


def truth(scenario: Scenario, months: Sequence[Month]) -> dict[str, Any]:
    """Return every planted number of simulated months as JSON-able data; only tests read it."""
    return {
        "scenario": dataclasses.asdict(scenario),
        "months": {
            month.name: {
                "seed": month.seed,
                "days": list(month.days),
                "units": len(month.units),
                "batches": {layer.name: batch_names(scenario, layer, month.name) for layer in scenario.layers},
                "day_effects": {
                    layer.name: effects.tolist()
                    for layer, effects in zip(
                        scenario.layers,
                        day_effects(scenario, seed=month.seed, month=month.name),
                        strict=True,
                    )
                },
                "hit": month.hit,
            }
            for month in months
        },
        "studies": {
            month.seed: [study(scenario, k, seed=month.seed).bias for k in range(len(scenario.studies))] for month in months
        },
        "bakes": {
            event.code: bake_of(scenario, event)
            for event in scenario.events
            if isinstance(event, LowFire | ProbeGap | PulledEarly)
        },
        "kinds": {event.code: type(event).__name__ for event in scenario.events},
    }


def write(
    folder: str | Path,
    *,
    seed: int = SEED,
    months: Sequence[str] = MONTHS,
    scenario: Scenario = SHOP,
) -> tuple[Path, ...]:
    """Write the months' files and the truth; the same arguments give the same bytes.

    Parameters
    ----------
    folder : str or Path
        Where to write; made if missing.
    seed : int
        Seed of the shop.
    months : sequence of str
        Which of ``baseline``, ``demo``, ``quiet``.
    scenario : Scenario
        The shop.

    Returns
    -------
    tuple of Path
        The files written: ``MONTH/readings.csv``, and as far as the shop keeps them ``MONTH/events.csv``,
        ``MONTH/verification.csv``, those of ``Month.logs`` and ``gauge_studies.csv``; and ``truth.json``.
    """
    root = Path(folder)
    simulated = [simulate(month, seed=seed, scenario=scenario) for month in months]
    style = scenario.style
    files: dict[Path, bytes] = {}
    for month in simulated:
        at = root / month.name
        files[at / "readings.csv"] = to_csv(month.readings, style)
        if style.event_log:
            files[at / "events.csv"] = to_csv(month.events, style)
        if style.verification_log:
            files[at / "verification.csv"] = to_csv(month.verification, style)
        for name, table in month.logs.items():
            files[at / f"{name}.csv"] = to_csv(table, style)
    if scenario.studies:
        files[root / "gauge_studies.csv"] = to_csv(log_studies(scenario, seed=seed), style)
    planted = json.dumps(truth(scenario, simulated), indent=1, default=_plain, ensure_ascii=False)
    files[root / "truth.json"] = planted.encode() + b"\n"
    for path, content in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return tuple(files)


def write_demo(folder: str | Path, seed: int = SEED) -> tuple[Path, ...]:
    """Write the three months of the shop as shipped; see ``write``."""
    return write(folder, seed=seed)


def _plain(value: object) -> object:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} has no JSON form here")
