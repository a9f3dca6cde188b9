"""Runs rows of tests/reference/rows (schema in tests/reference/README.md) through one adapter per computation.

Adapters register where their topic is tested: ``@adapter("name")`` in test_STEM.py.
``tests/selfcheck FOLDER`` runs any folder of that schema.
"""

from __future__ import annotations

import csv
import importlib
import math
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

Found = Mapping[str, Any]
Adapter = Callable[["Args"], Found]

ADAPTERS: dict[str, Adapter] = {}
PROJECT = Path(__file__).parents[1] / "reference"  # a topic is built when its rows stand here


def adapter(calc: str) -> Callable[[Adapter], Adapter]:
    """Register the function that computes ``calc``; it returns numbers, words and lists by quantity."""

    def register(function: Adapter) -> Adapter:
        ADAPTERS[calc] = function
        return function

    return register


class Args:
    """Arguments of one row, as text until an adapter asks for a type."""

    def __init__(self, text: str, folder: Path) -> None:
        self._texts = dict(pair.split("=", 1) for pair in text.split("|"))
        self._folder = folder

    def __contains__(self, name: str) -> bool:
        return name in self._texts

    def word(self, name: str) -> str:
        return self._texts[name]

    def number(self, name: str) -> float:
        return float(self._texts[name])

    def count(self, name: str) -> int:
        return int(self._texts[name])

    def optional(self, name: str) -> float | None:
        return float(self._texts[name]) if name in self._texts else None

    def words(self, name: str) -> list[str]:
        return self._texts[name].strip("[]").split()

    def list(self, name: str) -> list[float]:
        text = self._texts[name]
        if text.startswith("@"):
            return [float(row[name]) for row in self._rows(text) if row[name]]
        return [float(word) for word in text.strip("[]").split()]

    def matrix(self, name: str) -> list[list[float]]:
        text = self._texts[name]
        if text.startswith("@"):
            rows = self._rows(text)
            columns = [column for column in rows[0] if column == name or column.startswith(f"{name}_")]
            return [[float(row[column]) for column in columns] for row in rows]
        return [[float(word) for word in row.split()] for row in text.strip("[]").split(";")]

    def _rows(self, text: str) -> list[dict[str, str]]:
        with (self._folder / text[1:]).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


@dataclass
class Tally:
    """What happened to the rows of one folder."""

    passed: int = 0
    waiting: int = 0
    not_built: int = 0
    failures: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)


def allowance(printed: str, mode: str, digits: int) -> float:
    """Half a unit of the last honest digit, plus 1e-6 of it for exact halves."""
    place = digits
    if mode == "significant":
        size = Decimal(printed)
        if size == 0:
            return 0.0
        place = digits - 1 - size.adjusted()
    return 0.5 * 10.0**-place * (1.0 + 1e-6)


def judge(row: Mapping[str, str], found: Found) -> str:
    """Empty when the row passes, else what is wrong."""
    quantity, expected, mode, digits = row["quantity"], row["expected"], row["mode"], int(row["digits"])
    name, _, index = quantity.partition("[")
    if name not in found or (mode == "list" and index):
        return f"gives no {quantity}"
    value = found[name]
    if mode == "list":
        wanted = [float(word) for word in expected.strip("[]").split()]
        return "" if [float(item) for item in value] == wanted else f"gives {list(value)}, expected {expected}"
    if index:
        value = value[int(index.rstrip("]")) - 1]
    if isinstance(value, str):
        return "" if value == expected else f"gives {value}, expected {expected}"

    def agrees(text: str) -> bool:
        if mode == "exact":
            return float(value) == float(text)
        return math.isfinite(value) and abs(value - float(text)) <= allowance(expected, mode, digits)

    if row["print_error"] == "1":
        if agrees(expected):
            return "agrees with the print that is marked as wrong"
        return "" if agrees(row["computed"]) else f"gives {value!r}, expected {row['computed']}"
    return "" if agrees(expected) else f"gives {value!r}, expected {expected}"


def load_adapters() -> None:
    """Import every topic's test module, which registers its adapters."""
    for path in sorted(Path(__file__).parent.glob("test_*.py")):
        if re.search(r"^@adapter\(", path.read_text(encoding="utf-8"), re.MULTILINE):
            importlib.import_module(path.stem)


def read_waiting(*folders: Path) -> set[str]:
    """Computations that a later part brings, from waiting.txt."""
    return {
        line.split()[0]
        for folder in folders
        if (folder / "waiting.txt").is_file()
        for line in (folder / "waiting.txt").read_text(encoding="utf-8").splitlines()
        if line.strip() and not line.startswith("#")
    }


def calls(path: Path) -> Iterator[dict[str, str]]:
    """The rows of one file."""
    with path.open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


def run_folder(folder: Path) -> Tally:
    """Run every row of ``folder``/*.csv, or of its ``rows`` folder; rows of topics not built are counted, not failed."""
    rows_folder = folder / "rows" if (folder / "rows").is_dir() else folder
    waiting = read_waiting(folder, rows_folder, PROJECT)
    tally = Tally()
    tally.failures += [f"{name} stands in waiting.txt, yet has an adapter" for name in sorted(waiting & set(ADAPTERS))]
    for path in sorted(rows_folder.glob("*.csv")):
        run = present = 0
        last: tuple[str, str] | None = None
        found: Found = {}
        trouble = ""
        built = (PROJECT / "rows" / path.name).exists()
        for row in calls(path):
            present += 1
            if not built:
                tally.not_built += 1
                continue
            if row["calc"] not in ADAPTERS:
                if row["calc"] in waiting:
                    tally.waiting += 1
                else:
                    tally.failures.append(f"{row['case']}: no adapter for {row['calc']}")
                continue
            run += 1
            # Rows of one call follow one another; compute it once.
            if (key := (row["calc"], row["args"])) != last:
                last, found, trouble = key, {}, ""
                try:
                    found = ADAPTERS[row["calc"]](Args(row["args"], rows_folder))
                except Exception as error:
                    trouble = f"raised {type(error).__name__}: {error}"
            try:
                wrong = trouble or judge(row, found)
            except (ValueError, KeyError, TypeError, IndexError) as error:
                wrong = f"row unreadable: {error}"
            if wrong:
                tally.failures.append(f"{row['case']} {row['calc']} {row['quantity']}: {wrong}")
            else:
                tally.passed += 1
        tally.lines.append(f"{path.stem}: {run} of {present} rows run{'' if built else ', not built'}")
    return tally


def main(folder: Path) -> int:
    """What the C++ runner prints for the same folder."""
    load_adapters()
    tally = run_folder(folder)
    sys.stdout.writelines(f"FAIL {failure}\n" for failure in tally.failures)
    sys.stdout.writelines(f"{line}\n" for line in tally.lines)
    skipped = tally.waiting + tally.not_built
    sys.stdout.write(f"{tally.passed} passed, {len(tally.failures)} failed, {skipped} skipped\n")
    return 0 if tally.passed and not tally.failures else 1


if __name__ == "__main__":
    import reference  # the tests register their adapters in this module, not in __main__

    sys.exit(reference.main(Path(sys.argv[1])))
