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
                    cells = (f"K{1000 + i}", coat, place, n, value, "um", f"M{meter + 7}", crew, turn, str(start + 40 * k))
                    for name, cell in zip(rows, cells, strict=True):
                        rows[name].append(cell)
    return rows


def pick(rows: Rows, **wanted: Any) -> list[int]:
    """Row positions whose cells are as wanted."""
    return [i for i in range(len(rows["um"])) if all(rows[name][i] == cell for name, cell in wanted.items())]


def drop(rows: Rows, gone: set[int]) -> Rows:
    """The table without those rows."""
    return {name: [cell for i, cell in enumerate(column) if i not in gone] for name, column in rows.items()}


# -- honest habits that a screen must not blame ---------------------------------------------------------------------------


def read_again(rows: Rows, seed: int, *, share: float = 0.04) -> Rows:
    """Some places, drawn at random, are read a fourth time."""
    rng = np.random.default_rng([seed, 1])
    last = [i for i in range(len(rows["um"])) if rows["nth"][i] == 3 and rng.random() < share]
    out = {name: list(column) for name, column in rows.items()}
    for i in last:
        for name, column in out.items():
            column.append(rows[name][i])
        out["nth"][-1] = 4
        out["um"][-1] = rows["um"][i - int(rng.integers(1, 3))]
    return out


def leave_out(rows: Rows, seed: int, *, share: float = 0.08) -> tuple[Rows, Rows]:
    """Some units, drawn at random, are not read; the table and the list of all units painted."""
    rng = np.random.default_rng([seed, 2])
    first = {gate: i for i, gate in reversed(list(enumerate(rows["gate"])))}
    units = sorted(first)
    listed = {"gate": units, "crew": [rows["crew"][first[u]] for u in units], "turn": [rows["turn"][first[u]] for u in units]}
    gone = {unit for unit in units if rng.random() < share}
    return drop(rows, {i for i, gate in enumerate(rows["gate"]) if gate in gone}), listed


def quiet_month(seed: int, **shape: Any) -> tuple[Rows, Rows]:
    """A month in which every screen has something to look at and nothing to tell; and the list of units painted."""
    return leave_out(read_again(gates(seed, **shape), seed), seed)


# -- faults ---------------------------------------------------------------------------------------------------------------


def lift_to_limit(rows: Rows, seed: int, *, coat: str, share: float, reach: float) -> int:
    """Of the readings up to ``reach`` under the coat's lower limit, that share is written as the limit or a step above."""
    rng = np.random.default_rng([seed, 3])
    limit, changed = LIMITS[coat][0], 0
    for i in pick(rows, coat=coat):
        if limit - reach <= rows["um"][i] < limit and rng.random() < share:
            step = 1.0 if rows["meter"][i] == "M8" else 0.1
            rows["um"][i] = round(limit + step * int(rng.integers(2)), 1)
            changed += 1
    return changed


def read_again_where_low(rows: Rows, seed: int, *, share: float) -> Rows:
    """Places whose first reading is low are read a fourth time more often than others."""
    rng = np.random.default_rng([seed, 4])
    again = []
    for i in range(len(rows["um"])):
        if rows["nth"][i] == 1:
            low = rows["um"][i] < LIMITS[rows["coat"][i]][0]
            if rng.random() < (share if low else 0.01):
                again.append(i)
    out = {name: list(column) for name, column in rows.items()}
    for i in again:
        for name, column in out.items():
            column.append(rows[name][i])
        out["nth"][-1] = 4
        out["um"][-1] = round(LIMITS[rows["coat"][i]][0] + 1.0, 1)
    return out


def write_one_down_thrice(rows: Rows, where: list[int], seed: int) -> None:
    """At those rows the first reading is written for all repeats, now and then one step off."""
    rng = np.random.default_rng([seed, 5])
    first: dict[tuple[Any, ...], float] = {}
    for i in where:
        value = first.setdefault((rows["gate"][i], rows["coat"][i], rows["place"][i]), rows["um"][i])
        step = 1.0 if rows["meter"][i] == "M8" else 0.1
        rows["um"][i] = round(value + step * int(rng.integers(-1, 2)), 1) if rows["nth"][i] > 1 and step < 1.0 else value


def favor_digits(rows: Rows, seed: int, *, share: float) -> None:
    """That share of the fine meter's readings ends in 0 or 5."""
    rng = np.random.default_rng([seed, 6])
    for i in pick(rows, meter="M7"):
        if rng.random() < share:
            rows["um"][i] = round(rows["um"][i] * 2) / 2
