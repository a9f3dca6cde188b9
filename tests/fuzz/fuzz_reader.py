"""Any bytes through the file reader: columns of one height with rising lines, or the one error; never anything else.

The first line of an input says how the file is written (separator, decimal, encoding, line of the header, time format); the rest
is the file, a text or a workbook: its bytes say which. (The inside of a Parquet file is another library's to decode.) Run alone
with ``--replay`` for the kept inputs, or ``--seconds N`` for a search.
"""

from __future__ import annotations

import argparse
import hashlib
import math
import os
import random
import re
import sys
import time
from decimal import Decimal
from pathlib import Path

import numpy as np

from steadyfilm import _files
from steadyfilm._files import cells as _cells
from steadyfilm.errors import DataProblemsError

CORPUS = Path(__file__).parent / "corpus" / "reader"
SEPARATORS = (",", ";", "\t", "|")
ENCODINGS = ("utf-8", "cp1252", "utf-16", "latin-1", "ascii")
TIMES = ("", "%d.%m.%Y %H:%M", "%Y%m%d", "%H:%M")

if os.environ.get("STEADYFILM_PLANTED_FAULT"):
    # A number is whatever stands there: only the fuzzer's input shows that.
    _cells._number_pattern = lambda decimal: re.compile(r"[^A-Za-z]*")  # type: ignore[assignment]  # the fault to be found


class PropertyError(AssertionError):
    """A property that does not hold."""


def require(holds: bool, what: str) -> None:
    """Stop with the text when a property does not hold."""
    if not holds:
        raise PropertyError(f"does not hold: {what}")


def fuzz_one(data: bytes) -> None:
    """Read one file in the way that its first line says."""
    head, _, content = data.partition(b"\n")
    kind = [*head[:5], 0, 0, 0, 0, 0]
    separator = SEPARATORS[kind[0] % len(SEPARATORS)]
    decimal = "." if kind[1] % 2 == 0 or separator == "," else ","
    encoding = ENCODINGS[kind[2] % len(ENCODINGS)]
    options = {"separator": separator, "decimal": decimal, "encoding": encoding, "header_line": 1 + kind[3] % 3}
    try:
        cells = _files.cells_from_bytes(
            content, name="film.csv", time_format=TIMES[kind[4] % len(TIMES)], missing=("n/a",), **options
        )
    except DataProblemsError as error:
        check_error(error)
        return
    except Exception as error:
        raise PropertyError(f"does not hold: a bad file is refused by one kind of error ({type(error).__name__})") from error
    height = len(cells.lines)
    require(height > 0 and len(cells.columns) > 0, "a file that is read has rows and columns")
    require(all(len(column) == height for column in cells.columns.values()), "columns have one height")
    require(all(a < b for a, b in zip(cells.lines, cells.lines[1:], strict=False)), "lines rise")
    if not content.startswith(b"PAR1"):
        require(cells.lines[0] > options["header_line"], "rows stand below the header")
    require(cells.sha256 == hashlib.sha256(content).hexdigest(), "the digest is that of the bytes")
    for name in list(cells.columns)[:6]:
        check_numbers(cells, name)
        check_times(cells, name)


def check_error(error: DataProblemsError) -> None:
    """An error names the file, at least one problem, and a reason for each."""
    require(error.file == "film.csv" and len(error.problems) > 0, "an error names the file and a problem")
    require(all(problem.reason and problem.row >= 0 for problem in error.problems), "each problem has a reason")
    require("film.csv" in str(error), "the message names the file")


def check_numbers(cells: _files.Cells, name: str) -> None:
    """What is read as a number is the number that stands there."""
    try:
        numbers = cells.numbers(name)
    except DataProblemsError as error:
        check_error(error)
        require({problem.row for problem in error.problems} <= set(cells.lines), "problems stand on lines of the file")
        return
    except Exception as error:
        raise PropertyError(f"does not hold: a cell that is no number is refused ({type(error).__name__})") from error
    for cell, number in zip(cells.columns[name], numbers.tolist(), strict=True):
        if not isinstance(cell, str):
            require(not isinstance(cell, bool) and (cell == number or cell != cell), f"{cell!r} is {number!r}")
            continue
        if cell in ("", "n/a"):
            require(math.isnan(number), "a missing cell is not a number")
            continue
        plain = cell.replace(cells.decimal, ".")
        require(re.fullmatch(r"[0-9.eE+-]+", plain) is not None, f"{cell!r} looks like a number")
        require(number == float(Decimal(plain)), f"{cell!r} is {number!r}")


def check_times(cells: _files.Cells, name: str) -> None:
    """What is read as a time is a time, and only a missing cell is none."""
    try:
        moments = cells.times(name)
    except DataProblemsError as error:
        check_error(error)
        return
    except Exception as error:
        raise PropertyError(f"does not hold: a cell that is no time is refused ({type(error).__name__})") from error
    missing = [cell in ("", "n/a") or cell != cell for cell in cells.columns[name]]
    require(np.isnat(moments).tolist() == missing, "a time is missing where its cell is")


def mutated(data: bytes, chance: random.Random) -> bytes:
    """One input changed at a few places."""
    changed = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randint(0, len(changed))
        what = chance.randrange(4)
        if what == 0 and at < len(changed):
            changed[at] = chance.randrange(256)
        elif what == 1:
            changed[at:at] = chance.choice([b'"', b",", b"\n", b"\r", b"\x00", b"_", b"1", b"e", b"\xef\xbb\xbf", b"n/a"])
        elif what == 2:
            del changed[at : at + chance.randint(1, 8)]
        else:
            changed[at:at] = changed[at : at + chance.randint(1, 64)]
    return bytes(changed)


def main() -> int:
    """Replay the kept inputs, or search for some seconds."""
    options = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    options.add_argument("--replay", action="store_true")
    options.add_argument("--seconds", type=float, default=0.0)
    given = options.parse_args()
    kept = [path.read_bytes() for path in sorted(CORPUS.iterdir())]
    for data in kept:
        fuzz_one(data)
    count = len(kept)
    chance = random.Random(1)
    end = time.monotonic() + given.seconds
    while not given.replay and time.monotonic() < end:
        fuzz_one(mutated(chance.choice(kept), chance))
        count += 1
    sys.stdout.write(f"{count} inputs run\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
