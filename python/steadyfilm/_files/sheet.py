"""One sheet's cells with their kinds; handlers for its XML."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from steadyfilm._files.cells import Broken, Cell
from steadyfilm._files.kinds import check_cells
from steadyfilm._files.styles import Shows

__all__ = ["Grid", "SheetReader", "from_serial", "unescaped"]

_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_REFERENCE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_MOST_ROWS, _MOST_COLUMNS = 1_048_576, 16_384
_LAST_DAY = 2_958_466
"""Serial number after 9999-12-31."""


@dataclass
class Grid:
    """Rows with their number and their cells by column (from 0), and the merged areas: text, top, bottom, left, right."""

    rows: list[tuple[int, dict[int, Cell]]] = field(default_factory=list)
    merged: list[tuple[str, int, int, int, int]] = field(default_factory=list)


class SheetReader:
    """Handlers that fill a grid."""

    def __init__(self, file: str, strings: Sequence[str], kinds: Sequence[Shows], *, date1904: bool) -> None:
        self.grid = Grid()
        self._file = file
        self._strings = strings
        self._kinds = kinds
        self._date1904 = date1904
        self._row = 0
        self._cells: dict[int, Cell] = {}
        self._columns: dict[str, int] = {}
        self._count = 0
        self._at = -1
        self._type = ""
        self._style = 0
        self._formula = False
        self._value: list[str] = []
        self._inside = False
        self._phonetic = False

    def start(self, tag: str, given: dict[str, str]) -> None:
        self._inside = False
        if tag == "c":
            self._at = self._column(given["r"]) if "r" in given else self._at + 1
            self._type, self._style = given.get("t", "n"), int(given.get("s", "0"))
            self._formula, self._value = False, []
        elif tag == "v":
            self._inside = True
        elif tag == "t":
            self._inside = self._type == "inlineStr" and not self._phonetic
        elif tag == "f":
            self._formula = True
        elif tag == "row":
            row = int(given["r"]) if "r" in given else self._row + 1
            if not self._row < row <= _MOST_ROWS:
                raise ValueError(f"row {row} after row {self._row}")
            self._row, self._cells, self._at = row, {}, -1
        elif tag == "rPh":
            self._phonetic = True
        elif tag == "mergeCell":
            area = given["ref"]
            first, _, last = area.partition(":")
            (top, left), (bottom, right) = _place(first), _place(last or first)
            self.grid.merged.append((f"cells {area}", top, bottom, left, right))

    def end(self, tag: str) -> None:
        self._inside = False
        if tag == "c":
            cell = self._cell("".join(self._value))
            if cell != "":
                self._cells[self._at] = cell
                self._count += 1
                check_cells(self._count, self._file)
        elif tag == "row" and self._cells:
            self.grid.rows.append((self._row, self._cells))
        elif tag == "rPh":
            self._phonetic = False

    def text(self, piece: str) -> None:
        if self._inside:
            self._value.append(piece)

    def _column(self, reference: str) -> int:
        letters = reference.rstrip("0123456789")
        if letters not in self._columns or letters == reference:
            self._columns[letters] = _place(reference)[1]
        return self._columns[letters]

    def _cell(self, value: str) -> Cell:
        kind = self._type
        if kind == "s":
            return self._strings[_index(value, len(self._strings))].strip() if value else ""
        if kind in ("str", "inlineStr"):
            return unescaped(value).strip()
        if not value:
            return Broken("", "is a formula without a stored result; open the workbook and save it") if self._formula else ""
        if kind == "b":
            return value.strip() in ("1", "true")
        if kind == "e":
            return Broken(value, "is the error of a formula")
        if kind == "d":
            return datetime.fromisoformat(value.strip())
        if not _NUMBER.fullmatch(value) or not math.isfinite(number := float(value)):
            raise ValueError(f"'{value[:40]}' as a number in row {self._row}")
        shown = self._kinds[self._style] if self._style < len(self._kinds) else "number"
        if shown == "date":
            return from_serial(number, date1904=self._date1904)
        if shown == "duration":
            return Broken(value, "is shown as a length of time, neither a number nor a date")
        return int(value) if value.isascii() and value.isdigit() and len(value) <= 15 else number


def from_serial(serial: float, *, date1904: bool = False) -> Cell:
    """A day count as date and time to the millisecond; less than a day is a time of day.

    In the calendar that starts at 1900 the day 60 never was, so the days before it count from a day later.
    """
    if not 0 <= serial < _LAST_DAY:
        return Broken(repr(serial), "is shown as a date, but no calendar has it")
    if serial < 1 and not date1904:
        return (datetime(1900, 1, 1) + timedelta(milliseconds=round(serial * 86_400_000))).time()
    start = datetime(1904, 1, 1) if date1904 else datetime(1899, 12, 30 if serial >= 60 else 31)
    try:
        return start + timedelta(milliseconds=round(serial * 86_400_000))
    except OverflowError:
        return Broken(repr(serial), "is shown as a date, but no calendar has it")


def _place(reference: str) -> tuple[int, int]:
    """Row (from 1) and column (from 0) of a cell's name."""
    match = _REFERENCE.fullmatch(reference)
    if match is None:
        raise ValueError(f"'{reference[:40]}' as the name of a cell")
    column = 0
    for letter in match[1]:
        column = 26 * column + ord(letter) - ord("A") + 1
    if column > _MOST_COLUMNS or not 1 <= int(match[2]) <= _MOST_ROWS:
        raise ValueError(f"'{reference}' as the name of a cell")
    return int(match[2]), column - 1


def _index(value: str, count: int) -> int:
    at = int(value)
    if not 0 <= at < count:
        raise ValueError(f"string {at} of {count}")
    return at


_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")


def unescaped(text: str) -> str:
    """Characters that XML cannot hold, which a workbook writes as _x0007_."""
    return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text) if "_x" in text else text
