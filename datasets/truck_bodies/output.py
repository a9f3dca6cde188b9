"""The weekly panels of a month, and units and area per shift."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from .planted import Planted
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits, from_rows, rounded
from .units import Unit, clock, working_days
from .wash import course
from .wash_scenario import AREA_UNITS, WEIGHT_UNITS, Output, Panels, Tank, Washer


def panel_days(scenario: Scenario, panels: Panels) -> range:
    """Return the working days of a month on which panels are made."""
    return range(panels.first_day, scenario.days + 1, panels.every_days)


def log_panels(scenario: Scenario, washer: Washer, panels: Panels, events: Sequence[Planted], *, seed: int, month: str) -> Table:
    """Return the panel tests, one row a piece and test."""
    tank = next(x for x in washer.stages if isinstance(x, Tank) and x.name == panels.tank)
    bath = course(scenario, washer, tank, events, seed=seed, month=month)
    share = bath.level[:, bath.minutes.index(panels.minute)] / tank.target
    dates = working_days(scenario, month)
    days = panel_days(scenario, panels)
    number = 1 if month == "baseline" else 1 + len(days)
    draw = stream(seed, month, Purpose.PANELS)
    per_unit = WEIGHT_UNITS[panels.weight_unit]
    step = 0.001 if panels.weight_unit == "g/m2" else 0.1
    rows: list[tuple[Any, ...]] = []
    for k, day in enumerate(days):
        at = clock(dates[day - 1], scenario.shifts[0].start, panels.minute)
        name = panels.label.format(number=number + k)
        weight = max(panels.weight * float(share[day - 1]) + panels.weight_sd * float(draw.standard_normal()), 0.0)
        rows.append((at, name, "coating weight", 1, weight * per_unit, panels.weight_unit, "", step))
        chances = np.array(list(panels.cross_cut.values()))
        ratings = draw.choice(list(panels.cross_cut), size=panels.pieces, p=chances / chances.sum())
        rubs = np.floor(panels.rubs_median * np.exp(panels.rubs_log_sd * draw.standard_normal(panels.pieces)))
        gloss = panels.gloss + panels.gloss_sd * draw.standard_normal(panels.pieces)
        pieces = range(1, panels.pieces + 1)
        rows += [(at, name, "cross-cut", n, float(x), "B", "", 1.0) for n, x in zip(pieces, ratings.tolist(), strict=True)]
        for n, x in zip(pieces, rubs.tolist(), strict=True):
            stopped = x >= panels.rubs_stop
            rows.append((at, name, "double rubs", n, min(x, panels.rubs_stop), "rubs", "yes" if stopped else "no", 1.0))
        rows += [(at, name, "gloss at 60 degrees", n, x, "GU", "", 0.1) for n, x in zip(pieces, gloss.tolist(), strict=True)]
    columns = from_rows(_PANELS, rows)
    steps = [row[-1] for row in rows]
    columns["value"] = rounded(columns["value"], np.array(steps))
    return Table(columns, {"value": np.array([digits(x) for x in steps], dtype=np.int64)})


_PANELS = {
    "time": "datetime64[m]",
    "panel": "object",
    "test": "object",
    "piece": "int64",
    "value": "float64",
    "unit_of_measure": "object",
    "stopped": "object",
}


def log_output(scenario: Scenario, output: Output, units: Sequence[Unit], month: str) -> Table:
    """Return units and painted area of each shift and substrate."""
    dates = working_days(scenario, month)
    counts = Counter((x.day, x.shift, x.substrate) for x in units)
    keys = [
        (day, shift, metal.name)
        for day in range(1, scenario.days + 1)
        for shift in scenario.shifts
        for metal in scenario.substrates
    ]
    painted = np.array([counts[day, shift.name, metal] for day, shift, metal in keys])
    area = painted * np.array([output.area[metal] for _, _, metal in keys]) * AREA_UNITS[output.unit]
    return Table(
        {
            "time": np.array([clock(dates[day - 1], shift.start) for day, shift, _ in keys], dtype="datetime64[m]"),
            "shift": np.array([shift.name for _, shift, _ in keys], dtype=object),
            "substrate": np.array([metal for _, _, metal in keys], dtype=object),
            "units": painted,
            "area": rounded(area, 1.0),
            "unit_of_measure": np.full(len(keys), output.unit, dtype=object),
        },
        {"area": np.zeros(len(keys), dtype=np.int64)},
    )
