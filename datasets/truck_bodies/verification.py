"""The gauge verification log of a month: shims over bare plates, before and after each shift."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .planted import GaugeOffset, Planted
from .readings import display_of, show
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits
from .units import clock, working_days

COLUMNS = (
    "time",
    "shift",
    "moment",
    "gauge",
    "substrate",
    "shim",
    "stated",
    "repeat",
    "value",
    "unit_of_measure",
)


def verify(scenario: Scenario, events: Sequence[Planted], *, seed: int, month: str) -> Table:
    """Return the verification log, one row a reading, in the order of time.

    ``moment`` is ``start`` or ``end`` of the shift, or ``adjusted`` for the check that follows an
    adjustment.
    """
    faults = [event for event in events if isinstance(event, GaugeOffset)]
    days = working_days(scenario, month)
    checks, adjustment = (stream(seed, month, purpose) for purpose in (Purpose.CHECKS, Purpose.ADJUSTMENT))
    rows: list[tuple[datetime, tuple[Any, ...]]] = []
    for day, date in enumerate(days, start=1):
        for shift in scenario.shifts:
            fault = next(
                (x for x in faults if (x.gauge, x.day, x.shift) == (shift.gauge, day, shift.name)),
                None,
            )
            for moment, minute in (
                ("start", scenario.checks.start_minute),
                ("end", scenario.checks.end_minute),
            ):
                at = clock(date, shift.start, minute)
                offset = 0.0 if fault is None else fault.offset
                # The readings of a skipped check are drawn too, so that no other number moves.
                check = _check(scenario, checks, at, shift.name, moment, shift.gauge, offset)
                if fault is None or moment == "end":
                    rows += check
    for fault in faults:
        at = clock(days[fault.day], fault.adjusted_at)
        shift_name = scenario.shifts[0].name
        rows += _check(scenario, adjustment, at, shift_name, "adjusted", fault.gauge, 0.0)
    rows.sort(key=lambda row: row[0])

    cells = list(zip(*(row for _, row in rows), strict=True))
    columns = {name: _column(name, cells[position]) for position, name in enumerate(COLUMNS)}
    return Table(
        columns,
        {
            "stated": np.array(cells[len(COLUMNS)], dtype=np.int64),
            "value": np.array(cells[len(COLUMNS) + 1], dtype=np.int64),
        },
    )


def _check(
    scenario: Scenario,
    draw: np.random.Generator,
    at: datetime,
    shift: str,
    moment: str,
    gauge: str,
    offset: float,
) -> list[tuple[datetime, tuple[Any, ...]]]:
    """Return the rows of one check, each with the digits of ``stated`` and ``value`` at its end."""
    plan = scenario.checks
    rows: list[tuple[datetime, tuple[Any, ...]]] = []
    for substrate in scenario.substrates:
        display = display_of(scenario, gauge, substrate.name)
        for shim in plan.shims:
            noise = plan.repeat_sd * draw.standard_normal(plan.readings)
            values = show(shim.stated["mil"] + offset + noise, display)
            stated = shim.stated[display.unit]
            for repeat, value in enumerate(values.tolist(), start=1):
                typed = (stated, repeat, value, display.unit)
                shown_digits = (digits(stated), digits(display.resolution))
                named = (at, shift, moment, gauge, substrate.name, shim.name)
                rows.append((at, (*named, *typed, *shown_digits)))
    return rows


def _column(name: str, values: Sequence[Any]) -> NDArray[Any]:
    if name == "time":
        return np.array(values, dtype="datetime64[m]")
    if name in ("stated", "value"):
        return np.array(values, dtype=np.float64)
    return np.array(values, dtype=np.int64 if name == "repeat" else object)
