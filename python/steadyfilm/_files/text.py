"""The bytes of a CSV file as columns of text."""

from __future__ import annotations

import csv
import io
import re

from steadyfilm._files.cells import Cell, checked_names, shown
from steadyfilm._files.kinds import check_cells, trouble
from steadyfilm._format import plural
from steadyfilm.errors import DataProblem, DataProblemsError

__all__ = ["text_columns"]

_BYTE_ORDER_MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_OTHER_SEPARATORS = {";": ";", "\t": "\\t", "|": "|", ",": ","}

_SEPARATOR_LINE = re.compile(r"sep=(.)", re.IGNORECASE)
"""A first line that spreadsheet programs write for themselves."""


def text_columns(
    content: bytes, *, name: str, separator: str, encoding: str, header_line: int
) -> tuple[dict[str, list[Cell]], list[int]]:
    """Columns by name, and the line that each row starts on."""
    text = _decoded(content, name, encoding)
    rows = _rows(text, name, separator)
    if rows and (said := _SEPARATOR_LINE.fullmatch(separator.join(rows[0][1]))):
        if said[1] != separator:
            shown_as = _OTHER_SEPARATORS.get(said[1], said[1])
            raise trouble(
                name,
                f"its first line says that '{shown_as}' is the separator",
                f'Set separator = "{shown_as}" in the plan\'s [file].',
            )
        rows = rows[1:]
    first = next((i for i, (line, _) in enumerate(rows) if line >= header_line), None)
    if first is None:
        raise trouble(name, "the file is empty" if not rows else f"the file has no line {header_line} for the column names")
    names = _names(rows[first], name, separator)
    kept: list[list[Cell]] = [[] for _ in names]
    lines: list[int] = []
    problems = []
    for line, cells in rows[first + 1 :]:
        trimmed = [cell.strip() for cell in cells]
        while len(trimmed) > len(names) and not trimmed[-1]:
            trimmed.pop()
        if len(trimmed) != len(names):
            reason = f"has {plural(len(trimmed), 'cell')}, the header has {len(names)}"
            problems.append(DataProblem("", line, "", reason))
            continue
        lines.append(line)
        for column, cell in zip(kept, trimmed, strict=True):
            column.append(cell)
    if problems:
        advice = f"Cells that hold the separator '{separator}' must stand in double quotes."
        if len(problems) == 1 and problems[0].row == rows[-1][0]:
            advice += " It is the last line: the file may be cut off; then copy or export it again."
        raise DataProblemsError(problems, advice=advice, file=name)
    return dict(zip(names, kept, strict=True)), lines


def _decoded(content: bytes, name: str, encoding: str) -> str:
    for mark, meant in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            if not _same_encoding(meant, encoding):
                reason = f"the file begins with the byte order mark of {meant}, not {encoding}"
                raise trouble(name, reason, f"Set encoding = '{meant}' in the plan's [file].")
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
        raise trouble(name, f"the file is not {encoding} text: {error}") from error
    except LookupError as error:
        raise trouble(name, f"unknown encoding '{encoding}'", "For example utf-8, cp1252 or utf-16.") from error


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
    start, count = 1, 0
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
            count += len(cells)
            check_cells(count, name)
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
                "", line, shown(names[0]), f"is one cell; it holds {count[likely]} '{_OTHER_SEPARATORS[likely]}'"
            )
            advice = f'Set separator = "{_OTHER_SEPARATORS[likely]}" in the plan\'s [file].'
            raise DataProblemsError([problem], advice=advice, file=file)
    return checked_names(names, line, file, "line")
