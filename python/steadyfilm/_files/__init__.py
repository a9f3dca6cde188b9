"""Files to columns of cells, and cells to text, numbers and times, exactly as the plan says they are written; nothing is guessed.

The bytes of a file are read once; they say what kind of file it is, and their digest and the table come from them. Each
problem names file, row, column, value, reason and way out; all problems of a step come in one error.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

from steadyfilm._files.cells import Cells
from steadyfilm._files.kinds import check_cells, check_size, file_kind, trouble

__all__ = ["Cells", "cells_from_bytes", "read_cells"]


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
    """A CSV, Parquet or Excel file as columns of cells.

    Parameters
    ----------
    path : str or Path
        The kind is told by the bytes, never by the name. Parquet needs the ``io`` extra.
    separator, encoding : str
        How a CSV file is written. A byte order mark is taken off.
    decimal : str
        Decimal sign of numbers written as text, in a CSV file or in cells of text.
    time_format : str
        Of times written as text: codes as in ``strptime``; empty means ISO 8601.
    missing : sequence of str
        Words that stand for a missing value, besides an empty cell.
    header_line : int
        Line of the column names, from 1; lines above it are left out. A Parquet file has no such line.
    sheet : str
        Sheet of an Excel workbook; may be empty if it has one alone.

    Raises
    ------
    DataProblemsError
        The file cannot be read, is empty, of another kind, damaged, encrypted or too large, or is written another way.
    """
    path = Path(path)
    try:
        check_size(path.stat().st_size, path.name)
        content = path.read_bytes()
    except OSError as error:
        raise trouble(path.name, f"the file {path} cannot be read: {error.strerror or error}") from error
    return cells_from_bytes(
        content,
        name=path.name,
        separator=separator,
        decimal=decimal,
        encoding=encoding,
        time_format=time_format,
        missing=missing,
        header_line=header_line,
        sheet=sheet,
    )


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
    sheet: str = "",
) -> Cells:
    """The bytes of a file as columns of cells; see `read_cells`."""
    check_size(len(content), name)
    kind = file_kind(content, name)
    if kind == "parquet":
        from steadyfilm._files.parquet import parquet_columns

        columns, lines = parquet_columns(content, name=name)
    elif kind == "excel":
        from steadyfilm._files.excel import excel_columns

        columns, lines = excel_columns(content, name=name, header_line=header_line, sheet=sheet)
    else:
        from steadyfilm._files.text import text_columns

        columns, lines = text_columns(content, name=name, separator=separator, encoding=encoding, header_line=header_line)
    if not lines:
        raise trouble(name, "the file has column names but no rows")
    check_cells(len(lines) * len(columns), name)
    return Cells(
        file=name,
        columns=columns,
        lines=lines,
        sha256=hashlib.sha256(content).hexdigest(),
        decimal=decimal,
        missing=tuple(missing),
        time_format=time_format,
        counted_in="line" if kind == "text" else "row",
    )
