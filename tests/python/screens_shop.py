"""Generated months of an invented shop that coats gates: um, two coats, four places, two meters with unlike displays.

What a screen must find is planted by the functions below; everything else is honest reading.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Rows = dict[str, list[Any]]

PLACES = ("post", "rail", "hinge", "latch")
COATS = {"base": (38.0, 4.0), "finish": (92.0, 6.0)}
"""Mean and spread between spots, um."""
LIMITS = {"base": (32.0, 46.0), "finish": (80.0, 110.0)}
COLUMNS = {
    "serial": "gate",
    "layer": "coat",
    "location": "place",
    "repeat": "nth",
    "time": "at",
    "unit_of_measure": "in",
    "gauge": "meter",
    "groups": ["crew", "turn"],
    "limits": LIMITS,
}


def gates(
    seed: int,
    *,
    units: int = 120,
    repeats: int = 3,
    steps: tuple[float, float] = (0.1, 1.0),
    places: int = 4,
    spread: float = 1.0,
) -> Rows:
    """A month without faults, one row a reading.

    Units differ (normal, with a drift from day to day), spots differ (skewed), repeats scatter (Student's t with 6 degrees
    of freedom): a screen that needs normal readings would tell what is not there.
    """
    rng = np.random.default_rng(seed)
    rows: Rows = {name: [] for name in ("gate", "coat", "place", "nth", "um", "in", "meter", "crew", "turn", "at")}
    day = np.cumsum(rng.normal(0, 0.3, units // 6 + 1))
    for i in range(units):
        meter = i % 2
        turn = ("early", "night")[(i // 3) % 2]
        crew = ("red", "green", "blue")[int(rng.integers(3))]
        start = np.datetime64("2026-05-04T06:00") + np.timedelta64((i // 6) * 24 * 60 + (i % 6) * 110, "m")
        for k, (coat, (mean, sd)) in enumerate(COATS.items()):
            level = mean + day[i // 6] + rng.normal(0, 0.4 * sd) + {"red": 0.0, "green": 1.0, "blue": -0.6}[crew]
            for p, place in enumerate(PLACES[:places]):
                skew = (rng.gamma(4.0) - 4.0) / 2.0
                spot = level + (1.5, -1.0, 2.0, -2.5)[p] + spread * 0.7 * sd * skew
                shown = spot + 0.28 * sd * rng.standard_t(6, repeats) * np.sqrt(4 / 6)
                for n, x in enumerate(np.maximum(1.0, shown), 1):
                    value = round(round(float(x) / steps[meter]) * steps[meter], 1)
                    cells = (f"K{1000 + i}", coat, place, n, value, "um", f"M{meter + 1}", crew, turn, str(start + 40 * k))
                    for name, cell in zip(rows, cells, strict=True):
                        rows[name].append(cell)
    return rows


def pick(rows: Rows, **wanted: Any) -> list[int]:
    """Row positions whose cells are as wanted."""
    return [i for i in range(len(rows["um"])) if all(rows[name][i] == cell for name, cell in wanted.items())]


def drop(rows: Rows, gone: set[int]) -> Rows:
    """The table without those rows."""
    return {name: [cell for i, cell in enumerate(column) if i not in gone] for name, column in rows.items()}
