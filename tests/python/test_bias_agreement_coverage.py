"""The committed table of how often gauge intervals hold the truth: its bounds, and a part of it run again."""

from __future__ import annotations

import csv
import importlib.util
import math
from types import ModuleType

import pytest

from helpers import REPOSITORY

PLACE = REPOSITORY / "tests" / "bench" / "bias_agreement_coverage.py"


def load() -> ModuleType:
    """The script as a module."""
    spec = importlib.util.spec_from_file_location("bias_agreement_coverage", PLACE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


bench = load()
with bench.TABLE.open(encoding="utf-8", newline="") as file:
    ROWS = {row["case"]: row for row in csv.DictReader(file)}


def test_the_table_holds_every_case_with_its_truth() -> None:
    assert list(ROWS) == list(bench.CASES)
    for case, (truth, _) in bench.CASES.items():
        assert float(ROWS[case]["truth"]) == pytest.approx(truth, abs=1e-6)
        assert int(ROWS[case]["studies"]) == bench.SIZE


def test_intervals_hold_the_truth_about_as_often_as_said() -> None:
    covered = {case: float(row["covered"]) for case, row in ROWS.items()}
    small = [case for case in covered if "10 subjects" in case or "20 subjects" in case or case == "cohen kappa, 30 subjects"]
    for case, share in covered.items():
        assert (0.91 if case in small else 0.93) <= share <= 0.97, case
    # The exact one, within four standard errors.
    assert abs(covered["limit of agreement, 10 panels"] - 0.95) <= 4 * math.sqrt(0.95 * 0.05 / bench.SIZE)


@pytest.mark.parametrize(
    "case",
    [
        "cohen kappa, 30 subjects",
        "fleiss kappa, 50 subjects, 3 judgements",
        "kendall w, 10 subjects, 3 judges",
        "tau with reference, 30 subjects, 3 judges",
        "cgk, 25 readings, bias of one sd",
        "limit of agreement, 10 panels",
    ],
)
def test_a_part_of_it_comes_out_again(case: str) -> None:
    size, expected = 150, float(ROWS[case]["covered"])
    assert abs(bench.covered(case, size) - expected) <= 4 * math.sqrt(expected * (1 - expected) / size)
