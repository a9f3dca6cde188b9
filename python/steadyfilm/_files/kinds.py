"""What a file is, told by its bytes and never by its name; and what each kind may hold at most."""

from __future__ import annotations

import io
import zipfile
from typing import Literal

from steadyfilm.errors import DataProblem, DataProblemsError

__all__ = ["LARGEST_FILE", "MOST_CELLS", "Kind", "check_cells", "check_size", "file_kind", "trouble"]

Kind = Literal["text", "parquet", "excel"]

LARGEST_FILE = 256 * 2**20
"""Bytes; a month of readings is a thousandth of it."""
MOST_CELLS = 20_000_000

_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED_PART = "EncryptedPackage".encode("utf-16-le")
_SAVE_AS = "Open it in a spreadsheet program and save it as .xlsx (Excel workbook) or as CSV."
_UNPACK = "Unpack it and give the file inside."
_OTHERS = (
    (b"\x1f\x8b\x08", "is compressed (gzip)", _UNPACK),
    (b"BZh", "is compressed (bzip2)", _UNPACK),
    (b"\xfd7zXZ\x00", "is compressed (xz)", _UNPACK),
    (b"(\xb5/\xfd", "is compressed (zstandard)", _UNPACK),
    (b"7z\xbc\xaf\x27\x1c", "is an archive (7z)", _UNPACK),
    (b"Rar!\x1a\x07", "is an archive (rar)", _UNPACK),
    (b"%PDF-", "is a PDF, which holds no table that can be read", "Ask for the readings as .xlsx, CSV or Parquet."),
    (b"SQLite format 3\x00", "is a database (SQLite)", "Export the readings as CSV, .xlsx or Parquet."),
    (b"ARROW1\x00\x00", "is an Arrow (Feather) file", "Save the table as Parquet or CSV."),
    (b"\x09\x00\x04\x00", "is a workbook of the old .xls format", _SAVE_AS),
    (b"\x09\x02\x06\x00", "is a workbook of the old .xls format", _SAVE_AS),
    (b"\x09\x04\x06\x00", "is a workbook of the old .xls format", _SAVE_AS),
)
_MARKUP = (b"<html", b"<!doctype html", b"<table", b"<?xml", b"<workbook")


def file_kind(content: bytes, name: str) -> Kind:
    """The kind of a file that can be read.

    Raises
    ------
    DataProblemsError
        The file is empty, or of a kind that cannot be read; with the way out.
    """
    if not content:
        raise trouble(name, "the file is empty")
    if content.startswith(b"PAR1"):
        return "parquet"
    if content.startswith(b"PARE"):
        raise trouble(name, "the file is an encrypted Parquet file", "Save it again without encryption.")
    if content.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zip_kind(content, name)
    if content.startswith(_OLD_OFFICE):
        if _ENCRYPTED_PART in content:
            raise trouble(name, "the workbook is encrypted (protected by a password)", "Save a copy without a password.")
        raise trouble(name, "the file is a workbook of the old .xls format", _SAVE_AS)
    for mark, reason, advice in _OTHERS:
        if content.startswith(mark):
            raise trouble(name, f"the file {reason}", advice)
    if content[:200].removeprefix(b"\xef\xbb\xbf").lstrip().lower().startswith(_MARKUP):
        raise trouble(name, "the file is a web page or XML, whatever its name says", _SAVE_AS)
    return "text"


def _zip_kind(content: bytes, name: str) -> Kind:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            parts = {entry.filename: entry for entry in archive.infolist()}
            kind = archive.read("mimetype")[:80] if 0 < _size(parts.get("mimetype")) <= 200 else b""
    except (zipfile.BadZipFile, NotImplementedError, OSError, RuntimeError, ValueError, EOFError) as error:
        raise trouble(name, f"the workbook is cut off or damaged: {error}", "Copy or export it again.") from error
    if any(entry.flag_bits & 1 for entry in parts.values()):
        raise trouble(name, "the file is encrypted (protected by a password)", "Save a copy without a password.")
    if b"opendocument" in kind:
        raise trouble(name, "the file is an OpenDocument spreadsheet (.ods)", _SAVE_AS)
    if any(part.endswith("workbook.bin") for part in parts):
        raise trouble(name, "the file is a binary workbook (.xlsb)", _SAVE_AS)
    if "[Content_Types].xml" not in parts or "_rels/.rels" not in parts:
        raise trouble(name, "the file is an archive (zip), not an Excel workbook", _UNPACK)
    return "excel"


def _size(entry: zipfile.ZipInfo | None) -> int:
    return entry.file_size if entry is not None else 0


def check_size(size: int, name: str) -> None:
    """Refuse a file that is larger than any set of readings."""
    if size > LARGEST_FILE:
        reason = f"the file is larger ({size / 2**20:.0f} MiB) than a set of readings may be ({LARGEST_FILE / 2**20:.0f} MiB)"
        raise trouble(name, reason, "Give one month a file, or read the table yourself and pass it to review_readings.")


def check_cells(count: int, name: str) -> None:
    """Refuse a table of more cells than any set of readings."""
    if count > MOST_CELLS:
        reason = f"the file unpacks to more than {MOST_CELLS:,} cells"
        raise trouble(name, reason, "Give one month a file, with only the columns that the plan names.")


def trouble(file: str, reason: str, advice: str = "") -> DataProblemsError:
    """One error about the file as a whole."""
    return DataProblemsError([DataProblem("", 0, "", reason)], advice=advice, file=file)
