"""Cells to moments, and what to write in the plan where they cannot be read; nothing is guessed."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

import numpy as np

from steadyfilm._files.cells import Broken, Cell, kind_of, plain_text

__all__ = ["joined", "moment_of", "time_advice"]


def moment_of(cell: Cell, time_format: str) -> np.datetime64 | str | None:
    """A cell as a local wall time, None where it is missing, or the reason why it is none."""
    if isinstance(cell, str):
        wanted = f"as '{time_format}' says" if time_format else "in ISO 8601 (2026-03-31 14:05)"
        try:
            found = datetime.strptime(cell, time_format) if time_format else datetime.fromisoformat(cell)
        except ValueError:
            return f"is not a time {wanted}"
        return wall_time(found)
    if isinstance(cell, datetime | date):
        return wall_time(cell)
    if isinstance(cell, Broken):
        return cell.reason
    if isinstance(cell, float) and math.isnan(cell):
        return None
    if isinstance(cell, time):
        return "is a time of day without a date; name the column of the date as date in the plan"
    return f"is {kind_of(cell)}, not a date and time"


def wall_time(moment: datetime | date) -> np.datetime64:
    """Local wall time: a zone would shift the shop's shifts, so it is taken off, not converted."""
    if isinstance(moment, datetime):
        moment = moment.replace(tzinfo=None)
    return np.datetime64(moment, "us")


def joined(day: Cell, clock: Cell, empty: set[str]) -> Cell:
    """Date and time of day of two columns as one cell; missing where either is."""
    if any(cell in empty if isinstance(cell, str) else isinstance(cell, float) and math.isnan(cell) for cell in (day, clock)):
        return ""
    if isinstance(day, str) and isinstance(clock, str):
        return f"{day} {clock}"
    if isinstance(day, datetime | date) and isinstance(clock, time):
        return datetime.combine(day.date() if isinstance(day, datetime) else day, clock)
    for cell in (day, clock):
        if isinstance(cell, Broken):
            return cell
    text = f"{plain_text(day)} {plain_text(clock)}"
    return Broken(text, f"is {kind_of(day)} beside {kind_of(clock)}; both must be text, or a date and a time of day")


@dataclass(frozen=True)
class _Order:
    """One way of writing a date: the codes in order."""

    codes: tuple[str, str, str]
    words: str


_YEAR_LAST = (_Order(("%d", "%m", "%Y"), "day first"), _Order(("%m", "%d", "%Y"), "month first"))
_YEAR_FIRST = (_Order(("%Y", "%m", "%d"), "year first"),)
_DATE = re.compile(
    r"([0-9]{1,4})([./-])([0-9]{1,2})\2([0-9]{1,4})"  # 03.04.2026, 3/4/26, 2026/04/03
    r"(?:([ T]+)([0-9]{1,2}:[0-9]{2})(:[0-9]{2})?( ?[AaPp][Mm])?)?"  # 07:30, 07:30:15, 7:30 AM
)


def time_advice(unread: Sequence[str]) -> str:
    """What to write in the plan; where two orders of day and month would do, both are named and neither is taken."""
    parts = [match for cell in unread if (match := _DATE.fullmatch(cell))]
    general = "Say how times are written with time_format in the plan's [file], for example '%d.%m.%Y %H:%M'."
    if not parts or len(parts) < len(unread):
        return general
    first = parts[0]
    year_first = len(first[1]) == 4
    year = "%Y" if year_first or len(first[4]) == 4 else "%y"
    clock = ""
    if first[6] is not None:
        hours = "%I:%M" if first[8] else "%H:%M"
        clock = (
            first[5]
            + hours
            + (":%S" if first[7] else "")
            + (" %p" if first[8] and first[8][0] == " " else "%p" if first[8] else "")
        )
    fits = []
    for order in _YEAR_FIRST if year_first else _YEAR_LAST:
        written = first[2].join(code.replace("%Y", year) for code in order.codes) + clock
        if all(not isinstance(moment_of(cell, written), str) for cell in unread):
            fits.append((written, order.words))
    if len(fits) > 1:
        return (
            "The first number may be the day or the month, and nothing is guessed: write in the plan's [file] "
            + " or ".join(f"time_format = '{written}' ({words})" for written, words in fits)
            + "."
        )
    if fits:
        return f"Write time_format = '{fits[0][0]}' in the plan's [file]; no other order fits them all."
    days = [cell[: match.end(4)] for cell, match in zip(unread, parts, strict=True)]
    orders = [first[2].join(code.replace("%Y", year) for code in order.codes) for order in _YEAR_LAST]
    each = [[not isinstance(moment_of(day, written), str) for day in days] for written in orders]
    if not year_first and not any(map(all, each)) and all(map(any, zip(*each, strict=True))):
        return "Some have the day first and some the month: no one time_format reads them all. Correct them in the file."
    return general
