"""The bytes of a Parquet file as columns of cells."""

from __future__ import annotations

import io
from typing import Any

from steadyfilm._files.cells import Broken, Cell
from steadyfilm._files.kinds import LARGEST_FILE, check_cells, trouble
from steadyfilm.errors import DataProblemsError, MissingExtraError

__all__ = ["parquet_columns"]


def parquet_columns(content: bytes, *, name: str) -> tuple[dict[str, list[Cell]], list[int]]:
    """Columns by name, and row numbers; the first row is 2, as under a row of names."""
    try:
        import polars as pl
    except ImportError as error:
        raise MissingExtraError(f"reading {name}", "io") from error
    if not content.endswith(b"PAR1"):
        if content.endswith(b"PARE"):
            raise trouble(name, "the file is an encrypted Parquet file", "Save it again without encryption.")
        raise trouble(name, "the Parquet file is cut off: its end is missing", "Copy or export it again.")
    try:
        lazy = pl.scan_parquet(io.BytesIO(content))
        height = int(lazy.select(pl.len()).collect().item())
        check_cells(height * len(lazy.collect_schema()), name)
        frame = lazy.collect()
        texts = [column for column, kind in frame.schema.items() if kind == pl.String or kind == pl.Categorical]
        length = frame.select(pl.sum_horizontal(pl.col(texts).cast(pl.String).str.len_bytes().sum())).item() if texts else 0
        if (length or 0) > LARGEST_FILE:
            raise trouble(name, f"the file unpacks to more than {LARGEST_FILE / 2**20:.0f} MiB of text")
        columns = {column: _cells(frame.get_column(column), pl) for column in frame.columns}
    except DataProblemsError:
        raise
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError, ValueError, OverflowError) as error:
        reason = str(error).partition("\n")[0]
        raise trouble(name, f"the Parquet file is damaged: {reason}", "Copy or export it again.") from error
    if any(len(column) != height for column in columns.values()):
        raise trouble(name, "the Parquet file is damaged: its columns differ in height", "Copy or export it again.")
    return columns, list(range(2, 2 + height))


def _cells(column: Any, pl: Any) -> list[Cell]:
    kind = column.dtype
    if kind.is_decimal():
        column = column.cast(pl.Float64)
    elif kind in (pl.Categorical, pl.Enum):
        column = column.cast(pl.String)
    elif not (kind.is_numeric() or kind in (pl.String, pl.Boolean, pl.Date, pl.Time, pl.Null) or kind == pl.Datetime):
        reason = f"is a {str(kind).partition('(')[0].lower()}, which no column here can be"
        return ["" if cell is None else Broken(str(cell), reason) for cell in column.to_list()]
    return ["" if cell is None else cell.strip() if isinstance(cell, str) else cell for cell in column.to_list()]
