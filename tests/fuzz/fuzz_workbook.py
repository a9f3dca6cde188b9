"""A workbook whose parts hold any text: cells as another parser sees them, or the one error; never anything else.

An input is the text of a sheet, a form feed, the shared strings, a form feed, the styles. It is packed here, so that a search
reaches what stands inside of a workbook and not only its packing.
"""

from __future__ import annotations

import io
import math
import os
import re
import zipfile
from datetime import datetime, time
from xml.dom import minidom

from steadyfilm import _files
from steadyfilm._files import sheet as _sheet
from steadyfilm._files.cells import Broken
from steadyfilm.errors import DataProblemsError

TYPE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
FRAME = {
    "[Content_Types].xml": "<Types/>",
    "_rels/.rels": f'<Relationships xmlns="{LINKS}"><Relationship Id="a" Type="{TYPE}/officeDocument" Target="xl/workbook.xml"/>'
    "</Relationships>",
    "xl/workbook.xml": f'<workbook xmlns:r="{TYPE}"><sheets><sheet name="film" sheetId="1" r:id="b"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{LINKS}">'
    f'<Relationship Id="b" Type="{TYPE}/worksheet" Target="worksheets/sheet1.xml"/>'
    f'<Relationship Id="c" Type="{TYPE}/sharedStrings" Target="sharedStrings.xml"/>'
    f'<Relationship Id="d" Type="{TYPE}/styles" Target="styles.xml"/></Relationships>',
}
PARTS = ("xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/styles.xml")

if os.environ.get("STEADYFILM_PLANTED_FAULT"):
    # A number is its digits, whatever else stands among them: only the fuzzer's input shows that.
    _sheet._NUMBER = re.compile(r"[\s\S]*")
    _sheet.float = lambda text: float(re.sub("[^0-9.]", "", text))  # type: ignore[attr-defined]  # the fault to be found


class PropertyError(AssertionError):
    """A property that does not hold."""


def require(holds: bool, what: str) -> None:
    """Stop with the text when a property does not hold."""
    if not holds:
        raise PropertyError(f"does not hold: {what}")


def packed(data: bytes) -> bytes:
    """The input's parts as a workbook."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in FRAME.items():
            archive.writestr(name, text)
        for name, part in zip(PARTS, [*data.split(b"\f"), b"", b""], strict=False):
            archive.writestr(name, part)
    return out.getvalue()


def fuzz_one(data: bytes) -> None:
    """Read one workbook."""
    try:
        cells = _files.cells_from_bytes(packed(data), name="film.xlsx")
    except DataProblemsError as error:
        require(error.file == "film.xlsx" and all(x.reason for x in error.problems), "an error names the file and its reasons")
        return
    except Exception as error:
        raise PropertyError(f"does not hold: a bad workbook is refused by one kind of error ({type(error).__name__})") from error
    height = len(cells.lines)
    require(height > 0, "a sheet that is read has rows")
    require(all(len(column) == height for column in cells.columns.values()), "columns have one height")
    require(all(a < b for a, b in zip(cells.lines, cells.lines[1:], strict=False)), "rows rise")
    written = as_another_parser_sees(data.split(b"\f")[0])
    for name, column in cells.columns.items():
        for line, cell in zip(cells.lines, column, strict=True):
            if isinstance(cell, int | float) and not isinstance(cell, bool):
                require(math.isfinite(cell), "a number is finite")
                require(any(same(cell, text) for text in written.get(line, ())), f"{cell!r} stands in row {line} of '{name}'")
            elif isinstance(cell, Broken):
                require(bool(cell.reason), "what is no value has a reason")
            else:
                require(isinstance(cell, str | bool | datetime | time), f"{cell!r} is a cell")
        for kind in ("text", "numbers", "times"):
            try:
                require(len(getattr(cells, kind)(name)) == height, "a column keeps its height")
            except DataProblemsError as error:
                require({problem.row for problem in error.problems} <= set(cells.lines), "problems stand on rows of the sheet")


def as_another_parser_sees(sheet: bytes) -> dict[int, list[str]]:
    """What stands between the value marks of each row."""
    rows: dict[int, list[str]] = {}
    at = 0
    for row in minidom.parseString(sheet).getElementsByTagNameNS("*", "row"):
        at = int(row.getAttribute("r") or at + 1)
        rows[at] = [
            "".join(piece.data for piece in value.childNodes if piece.nodeType in (piece.TEXT_NODE, piece.CDATA_SECTION_NODE))
            for value in row.getElementsByTagNameNS("*", "v")
        ]
    return rows


def same(number: float, text: str) -> bool:
    """Whether a text is that number, as XML Schema part 2, clause 3.2.5, writes one (xsd:double)."""
    return re.fullmatch(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?", text) is not None and float(text) == number
