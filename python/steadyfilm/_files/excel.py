"""The bytes of an Excel workbook (.xlsx, .xlsm) as columns of cells, each with the kind and the row that it has in its sheet.

Read with the standard library alone: a reader that gives whole columns one kind turns a date among text into a serial number and
TRUE into 1, and then nobody can be told which cell is wrong. Formulas count with the result stored beside them.
The parts and their meaning: ECMA-376 part 1, clauses 18.3 (sheets), 18.4 (shared strings), 18.8 (styles), 18.17.4 (dates).
"""

from __future__ import annotations

import difflib
import io
import lzma
import posixpath
import struct
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from xml.parsers import expat

from steadyfilm._files.cells import Cell, checked_names, plain_text, shown
from steadyfilm._files.kinds import trouble
from steadyfilm._files.sheet import Grid, SheetReader, unescaped
from steadyfilm._files.styles import StyleReader
from steadyfilm.errors import DataProblem, DataProblemsError

__all__ = ["excel_columns"]

LARGEST_PART = 512 * 2**20
"""Bytes that one part of a workbook may unpack to; a full month of readings needs a hundredth of it."""
_AGAIN = "Copy or export it again, or open it in a spreadsheet program and save it anew."
_PIECE = 1 << 16


@dataclass(frozen=True)
class _Sheet:
    name: str
    part: str
    hidden: bool


def excel_columns(content: bytes, *, name: str, header_line: int, sheet: str) -> tuple[dict[str, list[Cell]], list[int]]:
    """Columns by name, and the sheet's row number of each row."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            grid = _grid(archive, name, sheet)
    except DataProblemsError:
        raise
    except (
        zipfile.BadZipFile,
        zlib.error,
        lzma.LZMAError,
        struct.error,
        expat.ExpatError,
        NotImplementedError,
        EOFError,
        OSError,
        RuntimeError,
        LookupError,
        ValueError,
        OverflowError,
    ) as error:
        raise trouble(name, f"the workbook is cut off or damaged: {error}", _AGAIN) from error
    return _columns(grid, name, header_line)


def _grid(archive: zipfile.ZipFile, name: str, wanted: str) -> Grid:
    workbook = _related(archive, name, "", "officeDocument")[0][1]
    found = _Workbook()
    _walk(archive, name, workbook, found.start)
    parts = {key: part for key, part, kind in _links(archive, name, workbook) if kind == "worksheet"}
    sheets = [_Sheet(label, parts[key], hidden) for label, key, hidden in found.sheets if key in parts]
    chosen = _chosen(sheets, name, wanted)
    styles = StyleReader()
    for _, part in _related(archive, name, workbook, "styles"):
        _walk(archive, name, part, styles.start)
    strings = _Strings()
    for _, part in _related(archive, name, workbook, "sharedStrings"):
        _walk(archive, name, part, strings.start, strings.end, strings.text, plain=True)
    reader = SheetReader(name, strings.found, styles.kinds, date1904=found.date1904)
    _walk(archive, name, chosen.part, reader.start, reader.end, reader.text, plain=True)
    return reader.grid


def _chosen(sheets: list[_Sheet], file: str, wanted: str) -> _Sheet:
    if wanted:
        for sheet in sheets:
            if sheet.name == wanted:
                return sheet
        near = difflib.get_close_matches(wanted, [sheet.name for sheet in sheets], n=3, cutoff=0.4)
        have = ", ".join(f"'{label}'" for label in near or [sheet.name for sheet in sheets])
        advice = f"{'Nearest names' if near else 'Sheets present'}: {have}. Set sheet in the plan's [file]."
        raise trouble(file, f"the workbook has no sheet '{wanted}'", advice)
    visible = [sheet for sheet in sheets if not sheet.hidden]
    if not visible:
        raise trouble(file, "the workbook has no sheet of cells that is not hidden", "Name one with sheet in the plan's [file].")
    if len(visible) > 1:
        labels = ", ".join(f"'{sheet.name}'" for sheet in visible)
        advice = f'Say which: sheet = "{visible[0].name}" in the plan\'s [file].'
        raise trouble(file, f"the workbook has {len(visible)} sheets: {labels}", advice)
    return visible[0]


def _columns(grid: Grid, file: str, header_line: int) -> tuple[dict[str, list[Cell]], list[int]]:
    rows = [(line, cells) for line, cells in grid.rows if any(cell != "" for cell in cells.values())]
    first = next((i for i, (line, _) in enumerate(rows) if line >= header_line), None)
    if first is None:
        raise trouble(file, "the sheet is empty" if not rows else f"the sheet has no row {header_line} for the column names")
    line, header = rows[first]
    named = sorted(at for at, cell in header.items() if cell != "")
    names = checked_names([plain_text(header[at]) for at in named], line, file, "row")
    problems = [
        DataProblem("", row, shown(plain_text(cell)), f"stands in column {letters(at)}, which has no name in row {line}")
        for row, cells in rows[first + 1 :]
        for at, cell in sorted(cells.items())
        if at not in header
    ]
    if problems:
        advice = "Name the column or empty its cells. If the names stand in another row, set header_line in the plan's [file]."
        raise DataProblemsError(problems, advice=advice, file=file, counted_in="row")
    label = dict(zip(named, names, strict=True))
    reason = "are merged; only the first of them holds the value"
    merged = [
        DataProblem(label.get(left, ""), top, area, reason)
        for area, top, bottom, left, right in grid.merged
        if bottom > line and top <= rows[-1][0] and any(left <= at <= right for at in named)
    ]
    if merged:
        advice = "Take the merging off and write the value into every cell that it is true of."
        raise DataProblemsError(merged, advice=advice, file=file, counted_in="row")
    kept = rows[first + 1 :]
    columns = {text: [cells.get(at, "") for _, cells in kept] for at, text in label.items()}
    return columns, [row for row, _ in kept]


def letters(at: int) -> str:
    """A column's letters; the first is 0."""
    text = ""
    at += 1
    while at:
        at, rest = divmod(at - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


# -- parts and XML ------------------------------------------------------------------------------

Start = Callable[[str, dict[str, str]], None]


def _walk(
    archive: zipfile.ZipFile,
    file: str,
    part: str,
    start: Start,
    end: Callable[[str], None] | None = None,
    text: Callable[[str], None] | None = None,
    *,
    plain: bool = False,
) -> None:
    """One part through the handlers, in pieces; names come without their namespace, and a part may not define entities.

    ``plain`` leaves the names of attributes as they are: those of sheets and strings have no namespace, and there are many.
    """
    entry = archive.getinfo(part)
    if entry.file_size > LARGEST_PART:
        raise trouble(file, f"the workbook unpacks to more than {LARGEST_PART / 2**20:.0f} MiB", "Give one month a file.")
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True

    def refuse(*_: object) -> None:
        raise trouble(file, f"the workbook is damaged: {part} declares a document type, which no workbook does", _AGAIN)

    parser.StartDoctypeDeclHandler = refuse
    local: dict[str, str] = {}

    def name(tag: str) -> str:
        return local.setdefault(tag, tag.rpartition(" ")[2])

    parser.StartElementHandler = lambda tag, given: start(
        local.get(tag) or name(tag), given if plain else {key.rpartition(" ")[2]: value for key, value in given.items()}
    )
    if end is not None:
        parser.EndElementHandler = lambda tag: end(local[tag])
    if text is not None:
        parser.CharacterDataHandler = text
    with archive.open(entry) as stream:
        while piece := stream.read(_PIECE):
            parser.Parse(piece, False)
    parser.Parse(b"", True)


def _links(archive: zipfile.ZipFile, file: str, part: str) -> list[tuple[str, str, str]]:
    """Key, part and type of everything that a part points to inside the workbook."""
    folder, base = posixpath.split(part)
    where = posixpath.join(folder, "_rels", f"{base}.rels")
    found: list[tuple[str, str, str]] = []

    def start(tag: str, given: dict[str, str]) -> None:
        if tag == "Relationship" and given.get("TargetMode") != "External":
            target = given["Target"]
            inside = target.lstrip("/") if target.startswith("/") else posixpath.normpath(posixpath.join(folder, target))
            found.append((given["Id"], inside, given["Type"].rpartition("/")[2]))

    if where in archive.namelist():
        _walk(archive, file, where, start)
    return found


def _related(archive: zipfile.ZipFile, file: str, part: str, kind: str) -> list[tuple[str, str]]:
    found = [(key, inside) for key, inside, type_ in _links(archive, file, part) if type_ == kind]
    if kind == "officeDocument" and not found:
        raise trouble(file, "the file is an archive (zip), not an Excel workbook", "Unpack it and give the file inside.")
    return found


class _Workbook:
    """Names of the sheets, and which of the two calendars dates count in."""

    def __init__(self) -> None:
        self.sheets: list[tuple[str, str, bool]] = []
        self.date1904 = False

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "workbookPr":
            self.date1904 = given.get("date1904", "0") in ("1", "true")
        elif tag == "sheet":
            self.sheets.append((given["name"], given["id"], given.get("state", "visible") != "visible"))


class _Strings:
    """The shared strings, without the phonetic guides beside them."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self._pieces: list[str] = []
        self._inside = False
        self._phonetic = False

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "si":
            self._pieces = []
        elif tag == "rPh":
            self._phonetic = True
        self._inside = tag == "t" and not self._phonetic

    def end(self, tag: str) -> None:
        if tag == "si":
            self.found.append(unescaped("".join(self._pieces)))
        elif tag == "rPh":
            self._phonetic = False
        self._inside = False

    def text(self, piece: str) -> None:
        if self._inside:
            self._pieces.append(piece)
