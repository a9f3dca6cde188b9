"""Which number formats of a workbook show a date; ECMA-376 part 1, clauses 18.8.30 (codes and the built-in ones) and 18.8.45."""

from __future__ import annotations

import re
from typing import Literal

__all__ = ["Shows", "StyleReader", "shows"]

Shows = Literal["number", "date", "duration"]

_BUILT_IN: dict[int, Shows] = {
    **dict.fromkeys((*range(14, 23), *range(27, 37), *range(50, 59)), "date"),
    **dict.fromkeys((45, 46, 47), "duration"),
}
_NOT_A_CODE = re.compile(r'"[^"]*"|\\.|_.|\*.|\[(?!h+\]|m+\]|s+\])[^\]]*\]')
_DURATION = re.compile(r"\[(h+|m+|s+)\]")


def shows(code: str) -> Shows:
    """What a number format makes of a number."""
    bare = _NOT_A_CODE.sub("", code.lower()).partition(";")[0]
    if _DURATION.search(bare):
        return "duration"
    if bare in ("general", "@"):
        return "number"
    return "date" if re.search(r"[ymdhs]", bare) else "number"


class StyleReader:
    """What each cell style of a workbook shows, in the order that cells refer to."""

    def __init__(self) -> None:
        self.kinds: list[Shows] = []
        self._formats: dict[int, Shows] = dict(_BUILT_IN)
        self._cells = False

    def start(self, tag: str, given: dict[str, str]) -> None:
        if tag == "numFmt":
            self._formats[int(given["numFmtId"])] = shows(given["formatCode"])
        elif tag in ("cellXfs", "cellStyleXfs", "dxfs", "cellStyles"):
            self._cells = tag == "cellXfs"
        elif tag == "xf" and self._cells:
            self.kinds.append(self._formats.get(int(given.get("numFmtId", "0")), "number"))
