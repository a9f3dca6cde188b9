"""The project's reference rows, and the runner itself."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import reference

ROWS = Path(__file__).parents[1] / "reference"


def test_every_row_of_the_project_passes(capsys: pytest.CaptureFixture[str]) -> None:
    reference.load_adapters()
    tally = reference.run_folder(ROWS)
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(tally.lines) + "\n")
    assert tally.passed > 0
    assert not tally.failures, "\n".join(tally.failures)


@pytest.mark.parametrize(
    ("printed", "mode", "digits", "allowed"),
    [("2.10", "decimals", 2, 0.005), ("0.0123", "significant", 3, 0.00005), ("1E-03", "significant", 1, 0.0005)],
)
def test_half_a_unit_of_the_last_digit_is_allowed(printed: str, mode: str, digits: int, allowed: float) -> None:
    assert reference.allowance(printed, mode, digits) == pytest.approx(allowed, rel=2e-6)


def test_a_misprint_must_differ_from_the_computed_value() -> None:
    row = {"quantity": "x", "expected": "1.00", "computed": "1.05", "mode": "decimals", "digits": "2", "print_error": "1"}
    assert reference.judge(row, {"x": 1.05}) == ""
    assert "marked as wrong" in reference.judge(row, {"x": 1.0})
    assert reference.judge({**row, "print_error": "0"}, {"x": 1.05}) != ""
