"""Faults of the times that readings carry: out of order, far away, one gauge at two units at once."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from steadyfilm._screens.sheet import Codes, Sheet

MOST_EXCEPTIONS = 0.02
"""Share of units up to which something is a fault; more often it is this table's way of being written."""
FAR_DAYS = 31.0
"""A unit this many days from its nearest neighbor in time is listed: year or month mistyped?"""


@dataclass(frozen=True)
class TimeFault:
    """Rows with a time that cannot be right, and why."""

    rows: Codes
    reason: str


def time_faults(sheet: Sheet, usable: Codes) -> list[TimeFault]:
    """Faults of the times of usable rows."""
    assert sheet.time is not None  # the caller asks only with a column of times
    rows = usable[~np.isnat(sheet.time[usable])]
    found = _within_units(sheet, rows)
    first = rows[sheet.attempt[rows] == 1]
    seen: set[int] = {int(i) for fault in found for i in fault.rows}
    far = _far(sheet, first)
    seen |= {int(i) for fault in far for i in fault.rows}
    kept = np.array([i for i in first.tolist() if i not in seen], dtype=np.intp)
    return found + far + _out_of_order(sheet, kept) + _at_once(sheet, kept)


def _blocks(sheet: Sheet, rows: Codes) -> list[Codes]:
    """Rows of one unit and layer, in the order in which they first appear."""
    blocks: dict[tuple[int, int, int], list[int]] = {}
    for i in rows.tolist():
        blocks.setdefault((int(sheet.serial[i]), int(sheet.layer[i]), int(sheet.attempt[i])), []).append(i)
    return [np.array(block, dtype=np.intp) for block in blocks.values()]


def _within_units(sheet: Sheet, rows: Codes) -> list[TimeFault]:
    """A later attempt stands before an earlier one."""
    assert sheet.time is not None  # the caller asks only with a column of times
    spans: dict[tuple[int, int], dict[int, Codes]] = {}
    for block in _blocks(sheet, rows):
        i = int(block[0])
        spans.setdefault((int(sheet.serial[i]), int(sheet.layer[i])), {})[int(sheet.attempt[i])] = block
    found = []
    for attempts in spans.values():
        for attempt in sorted(attempts)[1:]:
            before = attempts[max(x for x in attempts if x < attempt)]
            if sheet.time[attempts[attempt]].min() < sheet.time[before].min():
                found.append(TimeFault(attempts[attempt], f"attempt {attempt} is earlier than the one before it"))
    return found


def _far(sheet: Sheet, rows: Codes) -> list[TimeFault]:
    assert sheet.time is not None  # the caller asks only with a column of times
    blocks = _blocks(sheet, rows)
    if len(blocks) < 20:
        return []
    when = np.array([sheet.time[block].min() for block in blocks])
    order = np.argsort(when, kind="stable")
    days = np.diff(when[order]).astype("timedelta64[s]").astype(np.float64) / 86400.0
    parts = np.split(order, np.flatnonzero(days > FAR_DAYS) + 1)
    out = []
    for part in parts:
        if len(part) <= MOST_EXCEPTIONS * len(blocks):
            out += [TimeFault(blocks[k], f"more than {FAR_DAYS:g} days from all other readings") for k in part.tolist()]
    return out


def _out_of_order(sheet: Sheet, rows: Codes) -> list[TimeFault]:
    """Units whose time runs back in a table that otherwise runs forward; each layer by itself."""
    assert sheet.time is not None  # the caller asks only with a column of times
    found = []
    for layer in range(len(sheet.layers)):
        blocks = _blocks(sheet, rows[sheet.layer[rows] == layer])
        if len(blocks) < 20:
            continue
        when = [int(sheet.time[block].min().astype("datetime64[us]").astype(np.int64)) for block in blocks]
        kept = _longest_rise(when)
        back = [k for k in range(len(blocks)) if k not in kept]
        if back and len(back) <= MOST_EXCEPTIONS * len(blocks):
            found += [TimeFault(blocks[k], "runs back in time; the rows around it run forward") for k in back]
    return found


def _longest_rise(when: list[int]) -> set[int]:
    """Positions of a longest run of values that never fall."""
    ends: list[int] = []
    last: list[int] = []
    before = [-1] * len(when)
    for i, value in enumerate(when):
        k = bisect_right(ends, value)
        before[i] = last[k - 1] if k else -1
        ends[k : k + 1] = [value]
        last[k : k + 1] = [i]
    kept = set()
    i = last[-1] if last else -1
    while i >= 0:
        kept.add(i)
        i = before[i]
    return kept


def _at_once(sheet: Sheet, rows: Codes) -> list[TimeFault]:
    """One gauge at two units at one time, where that is an exception."""
    assert sheet.time is not None  # the caller asks only with a column of times
    if sheet.names.gauge is None:
        return []
    taken: dict[tuple[str, int], Codes] = {}
    clashes = []
    blocks = _blocks(sheet, rows)
    for block in blocks:
        i = int(block[0])
        key = (str(sheet.gauge[i]), int(sheet.time[i].astype("datetime64[us]").astype(np.int64)))
        other = taken.setdefault(key, block)
        if sheet.serial[other[0]] != sheet.serial[i]:
            name = sheet.serials[int(sheet.serial[other[0]])]
            clashes.append(TimeFault(block, f"gauge {key[0]} reads {name} at the same time"))
    return clashes if len(clashes) <= MOST_EXCEPTIONS * len(blocks) else []
