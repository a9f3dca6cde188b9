"""Shared by the scripts that recompute reference rows: reading arguments exactly, and comparing.

These scripts use only exact fractions, mpmath and SciPy, never the library under test.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path

import mpmath

ROWS = Path(__file__).resolve().parents[1] / "rows"


class Arguments:
    """Arguments of one row; numbers are read as written, without a detour through doubles."""

    def __init__(self, text: str) -> None:
        self.texts = dict(pair.split("=", 1) for pair in text.split("|"))

    def __contains__(self, name: str) -> bool:
        return name in self.texts

    def word(self, name: str) -> str:
        return self.texts[name]

    def count(self, name: str) -> int:
        return int(self.texts[name])

    def exact(self, name: str) -> mpmath.mpf:
        return mpmath.mpf(self.texts[name])

    def column(self, name: str) -> list[str]:
        """A list as the texts that were written."""
        text = self.texts[name]
        if not text.startswith("@"):
            return text.strip("[]").split()
        with (ROWS / text[1:]).open(encoding="utf-8", newline="") as file:
            return [row[name] for row in csv.DictReader(file) if row[name]]


Compute = Callable[[str, Arguments], Mapping[str, object]]


def allowance(row: Mapping[str, str]) -> Decimal:
    """Half a unit of the last honest digit, as tests/reference/README.md defines it."""
    place = int(row["digits"])
    if row["mode"] == "significant":
        size = Decimal(row["expected"])
        if size == 0:
            return Decimal(0)
        place = place - 1 - size.adjusted()
    return Decimal(5) * Decimal(10) ** (-place - 1) * (1 + Decimal("1e-6"))


def recompute(
    stem: str, compute: Compute, statuses: tuple[str, ...] = ("computed",), misprinted: tuple[str, ...] = ()
) -> tuple[int, list[str], list[str]]:
    """Rows compared, one line a row, and the lines of rows that differ; of ``misprinted`` computations also the rows whose print
    is marked as wrong.
    """
    lines, wrong, compared = [], [], 0
    waiting = {line.split()[0] for line in (ROWS.parent / "waiting.txt").read_text(encoding="utf-8").splitlines() if line}
    last, found = None, {}
    with (ROWS / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            wrong_print = row["print_error"] == "1" and row["calc"] in misprinted
            if (row["status"] not in statuses and not wrong_print) or row["calc"] in waiting:
                continue
            if (key := (row["calc"], row["args"])) != last:
                last, found = key, compute(row["calc"], Arguments(row["args"]))
            name, _, index = row["quantity"].partition("[")
            value = found[name]
            if index:
                value = value[int(index.rstrip("]")) - 1]
            compared += 1
            if row["mode"] == "list":
                lines.append(f"{row['case']} {row['quantity']}: row {row['expected']}, recomputed {value}")
                if [mpmath.mpf(word) for word in row["expected"].strip("[]").split()] != [mpmath.mpf(item) for item in value]:
                    wrong.append(lines[-1])
                continue
            text = mpmath.nstr(mpmath.mpf(value), 20)
            line = f"{row['case']} {row['quantity']}: row {row['expected']}, recomputed {text}"
            lines.append(line)
            aim = row["computed"] if row["print_error"] == "1" else row["expected"]
            with mpmath.workdps(40):
                apart = abs(mpmath.mpf(value) - mpmath.mpf(aim))
                if apart > mpmath.mpf(str(allowance(row))):
                    wrong.append(line)
    return compared, lines, wrong


def main(stem: str, compute: Compute, misprinted: tuple[str, ...] = ()) -> None:
    """Print every row with its recomputed figure; leave with 1 when one differs by more than its digits allow."""
    compared, lines, wrong = recompute(stem, compute, misprinted=misprinted)
    for line in lines:
        sys.stdout.write(line + "\n")
    sys.stdout.write(f"{compared} rows recomputed, {len(wrong)} differ\n")
    sys.exit(1 if wrong or not compared else 0)
