"""Files to columns of text, and text to numbers and times, exactly as the caller says they are written; nothing is guessed.

Each problem names file, line, column, value, reason and way out; all problems of a step come in one error.
"""

from __future__ import annotations

import csv
import difflib
import hashlib
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm.errors import DataProblem, DataProblemsError, MissingExtraError

__all__ = ["Cells", "cells_from_bytes", "read_cells"]

Floats = NDArray[np.float64]

_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_OTHER_SEPARATORS = {";": ";", "\t": "\\t", "|": "|", ",": ","}
_LARGEST_CELL = 10_000
_BINARY = {".parquet": "parquet", ".xlsx": "excel", ".xls": "excel", ".xlsb": "excel", ".ods": "excel"}


@dataclass(frozen=True)
class Cells:
    """A file's columns as text, with the line of the file that each row starts on."""

    file: str
    columns: dict[str, list[str]]
    lines: list[int]
    sha256: str
    decimal: str = "."
    missing: tuple[str, ...] = ()
    time_format: str = ""
    typed: frozenset[str] = frozenset()
    """Columns that the file itself holds as numbers or times; their text is plain, whatever the plan says of text."""

    def text(self, column: str) -> list[str]:
        """A column as text without surrounding space; an unknown name is an error that shows the nearest ones."""
        if column not in self.columns:
            near = difflib.get_close_matches(column, list(self.columns), n=3, cutoff=0.4)
            have = ", ".join(f"'{name}'" for name in near or self.columns)
            raise DataProblemsError(
                [DataProblem(column, 0, "", "no such column")],
                advice=f"{'nearest names' if near else 'columns present'}: {have}. Name it in the plan's [columns].",
                file=self.file,
            )
        return self.columns[column]

    def numbers(self, column: str) -> Floats:
        """A column as numbers; NaN where the cell is empty or a word for missing."""
        empty = {"", *self.missing}
        decimal = "." if column in self.typed else self.decimal
        pattern = _number_pattern(decimal)
        out = np.full(len(self.lines), math.nan)
        problems = []
        other = 0
        for i, cell in enumerate(self.text(column)):
            if cell in empty:
                continue
            if not pattern.fullmatch(cell):
                other += bool(_number_pattern("," if decimal == "." else ".").fullmatch(cell))
                problems.append(DataProblem(column, self.lines[i], _shown(cell), "is not a number"))
                continue
            number = float(cell.replace(decimal, "."))
            if math.isinf(number):
                problems.append(DataProblem(column, self.lines[i], _shown(cell), "is too large for a number"))
                continue
            out[i] = number
        if problems:
            swapped = "," if decimal == "." else "."
            advice = (
                f"They look like numbers with '{swapped}' as decimal sign: set decimal = '{swapped}' in the plan's [file]."
                if other == len(problems)
                else "Correct them, empty the cells of readings not taken, or list their word under missing in the plan's [file]."
            )
            raise DataProblemsError(problems, advice=advice, file=self.file)
        return out

    def times(self, column: str) -> NDArray[np.datetime64]:
        """A column as local wall times; not-a-time where the cell is empty or a word for missing."""
        empty = {"", *self.missing}
        time_format = "" if column in self.typed else self.time_format
        known: dict[str, np.datetime64 | None] = {}
        out = np.full(len(self.lines), "NaT", dtype="datetime64[us]")
        problems = []
        for i, cell in enumerate(self.text(column)):
            if cell in empty:
                continue
            if cell not in known:
                known[cell] = _moment(cell, time_format)
            moment = known[cell]
            if moment is None:
                wanted = f"as '{time_format}' says" if time_format else "in ISO 8601 (2026-03-31 14:05)"
                problems.append(DataProblem(column, self.lines[i], _shown(cell), f"is not a time {wanted}"))
            else:
                out[i] = moment
        if problems:
            advice = "Say how times are written with time_format in the plan's [file], for example '%d.%m.%Y %H:%M'."
            raise DataProblemsError(problems, advice=advice, file=self.file)
        return out


def read_cells(
    path: str | Path,
    *,
    separator: str = ",",
    decimal: str = ".",
    encoding: str = "utf-8",
    time_format: str = "",
    missing: Sequence[str] = (),
    header_line: int = 1,
    sheet: str = "",
) -> Cells:
    """A CSV, Parquet or Excel file as columns of text.

    Parameters
    ----------
    path : str or Path
        ``.parquet``, ``.xlsx``, ``.xls``, ``.xlsb`` and ``.ods`` files need the ``io`` extra; any other name is read as CSV.
    separator, decimal, encoding : str
        How a CSV file is written. A byte order mark is taken off.
    time_format : str
        Codes as in ``strptime``; empty means ISO 8601.
    missing : sequence of str
        Words that stand for a missing value, besides an empty cell.
    header_line : int
        Line of the column names, from 1; lines above it are left out.
    sheet : str
        Sheet of an Excel file, the first one if empty.

    Raises
    ------
    DataProblemsError
        The file cannot be read, is empty, is written another way, or its lines differ in length.
    """
    path = Path(path)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise _trouble(path.name, f"the file {path} cannot be read: {error.strerror or error}") from error
    kind = _BINARY.get(path.suffix.lower())
    options: dict[str, Any] = {"decimal": decimal, "time_format": time_format, "missing": tuple(missing)}
    if kind:
        return _binary_cells(content, path.name, kind, header_line, sheet, options)
    return cells_from_bytes(content, name=path.name, separator=separator, encoding=encoding, header_line=header_line, **options)


def cells_from_bytes(
    content: bytes,
    *,
    name: str,
    separator: str = ",",
    decimal: str = ".",
    encoding: str = "utf-8",
    time_format: str = "",
    missing: Sequence[str] = (),
    header_line: int = 1,
) -> Cells:
    """The bytes of a CSV file as columns of text; see `read_cells`."""
    text = _decoded(content, name, encoding)
    rows = _rows(text, name, separator)
    first = next((i for i, (line, _) in enumerate(rows) if line >= header_line), None)
    if first is None:
        raise _trouble(name, "the file is empty" if not rows else f"the file has no line {header_line} for the column names")
    names = _names(rows[first], name, separator)
    kept: list[list[str]] = [[] for _ in names]
    lines: list[int] = []
    problems = []
    for line, cells in rows[first + 1 :]:
        trimmed = [cell.strip() for cell in cells]
        while len(trimmed) > len(names) and not trimmed[-1]:
            trimmed.pop()
        if len(trimmed) != len(names):
            reason = f"has {len(trimmed)} cells, the header has {len(names)}"
            problems.append(DataProblem("", line, "", reason))
            continue
        lines.append(line)
        for column, cell in zip(kept, trimmed, strict=True):
            column.append(cell)
    if problems:
        advice = f"Cells that hold the separator '{separator}' must stand in double quotes."
        raise DataProblemsError(problems, advice=advice, file=name)
    if not lines:
        raise _trouble(name, "the file has column names but no rows")
    return Cells(
        file=name,
        columns=dict(zip(names, kept, strict=True)),
        lines=lines,
        sha256=hashlib.sha256(content).hexdigest(),
        decimal=decimal,
        missing=tuple(missing),
        time_format=time_format,
    )


def _decoded(content: bytes, name: str, encoding: str) -> str:
    for mark, meant in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            if not _same_encoding(meant, encoding):
                reason = f"the file begins with the byte order mark of {meant}, not {encoding}"
                raise _trouble(name, reason, f"Set encoding = '{meant}' in the plan's [file].")
            if meant == "utf-8":
                content = content[len(mark) :]
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        byte = content[error.start]
        advice = "Files saved by an older spreadsheet are often encoding = 'cp1252' in the plan's [file]."
        problem = DataProblem("", line, f"byte 0x{byte:02x}", f"is not {encoding} text")
        raise DataProblemsError([problem], advice=advice, file=name) from error
    except UnicodeError as error:  # a codec for whole texts, for example UTF-16 without its mark
        raise _trouble(name, f"the file is not {encoding} text: {error}") from error
    except LookupError as error:
        raise _trouble(name, f"unknown encoding '{encoding}'", "For example utf-8, cp1252 or utf-16.") from error


def _same_encoding(one: str, other: str) -> bool:
    return one.replace("-", "") == other.lower().replace("-", "").replace("_", "").removesuffix("sig")


def _rows(text: str, name: str, separator: str) -> list[tuple[int, list[str]]]:
    """Rows with the line that each starts on; blank lines are left out."""
    if "\x00" in text:
        line = text.count("\n", 0, text.index("\x00")) + 1
        problem = DataProblem("", line, "", "holds a zero byte; this is no text file, or its encoding is another")
        raise DataProblemsError([problem], advice="Check encoding in the plan's [file].", file=name)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    out: list[tuple[int, list[str]]] = []
    start = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return out
        except csv.Error as error:
            problem = DataProblem("", reader.line_num, "", f"cannot be read as cells: {error}")
            advice = "A double quote opens a cell and closes it; inside a cell it is written twice."
            raise DataProblemsError([problem], advice=advice, file=name) from error
        if any(cell.strip() for cell in cells):
            out.append((start, cells))
        start = reader.line_num + 1


def _names(header: tuple[int, list[str]], file: str, separator: str) -> list[str]:
    line, cells = header
    names = [cell.strip() for cell in cells]
    while len(names) > 1 and not names[-1]:
        names.pop()
    if len(names) == 1:
        count = {other: names[0].count(other) for other in _OTHER_SEPARATORS if other != separator}
        likely = max(count, key=lambda other: count[other])
        if count[likely]:
            problem = DataProblem(
                "", line, _shown(names[0]), f"is one cell; it holds {count[likely]} '{_OTHER_SEPARATORS[likely]}'"
            )
            advice = f'Set separator = "{_OTHER_SEPARATORS[likely]}" in the plan\'s [file].'
            raise DataProblemsError([problem], advice=advice, file=file)
    problems = []
    for i, name in enumerate(names):
        if not name:
            problems.append(DataProblem("", line, "", f"column {i + 1} has no name"))
        elif name in names[:i]:
            problems.append(DataProblem(name, line, "", "stands twice among the column names"))
        elif len(name) > _LARGEST_CELL:
            problems.append(DataProblem("", line, _shown(name), "is too long for a column name"))
    if problems:
        advice = "If the column names stand further down, set header_line in the plan's [file]."
        raise DataProblemsError(problems, advice=advice, file=file)
    return names


def _binary_cells(content: bytes, name: str, kind: str, header_line: int, sheet: str, options: dict[str, Any]) -> Cells:
    try:
        import polars as pl
    except ImportError as error:
        raise MissingExtraError(f"reading {name}", "io") from error
    try:
        if kind == "parquet":
            frame = pl.read_parquet(io.BytesIO(content))
        else:
            chosen: dict[str, Any] = {"sheet_name": sheet} if sheet else {}
            reading = {"header_row": header_line - 1}
            frame = pl.read_excel(io.BytesIO(content), engine="calamine", read_options=reading, **chosen)
    except Exception as error:  # the readers raise many kinds; each means that the file is not what its name says
        raise _trouble(name, f"the file cannot be read as {kind}: {error}") from error
    if not frame.height:
        raise _trouble(name, "the file has no rows")
    first = 1 if kind == "parquet" else header_line + 1
    columns = {column: [_plain(cell) for cell in frame.get_column(column).to_list()] for column in frame.columns}
    return Cells(
        file=name,
        columns=columns,
        lines=list(range(first, first + frame.height)),
        sha256=hashlib.sha256(content).hexdigest(),
        typed=frozenset(
            column for column in frame.columns if frame.schema[column].is_numeric() or frame.schema[column].is_temporal()
        ),
        **options,
    )


def _plain(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell).strip()


def _number_pattern(decimal: str) -> re.Pattern[str]:
    sign = re.escape(decimal)
    return re.compile(rf"[+-]?([0-9]+({sign}[0-9]*)?|{sign}[0-9]+)([eE][+-]?[0-9]+)?")


def _moment(cell: str, time_format: str) -> np.datetime64 | None:
    try:
        found = datetime.strptime(cell, time_format) if time_format else datetime.fromisoformat(cell)
    except ValueError:
        return None
    return np.datetime64(found.replace(tzinfo=None), "us")


def _shown(cell: str) -> str:
    return repr(cell if len(cell) <= 60 else cell[:57] + "...")


def _trouble(file: str, reason: str, advice: str = "") -> DataProblemsError:
    return DataProblemsError([DataProblem("", 0, "", reason)], advice=advice, file=file)
