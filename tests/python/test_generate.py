"""The scripts that recompute `computed` reference rows without the library still give those rows."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

GENERATE = Path(__file__).parents[1] / "reference" / "generate"
# Quick ones only; tests/run --full runs them all.
QUICK = [
    "cure_profile",
    "distributions",
    "film_layers",
    "film_thickness",
    "gauge_agreement",
    "gauge_bias",
    "monitor",
    "oven_survey",
    "run_rules",
    "streams",
    "summary",
    "wash_tank",
]


@pytest.mark.parametrize("stem", QUICK)
def test_computed_rows_come_out_again(stem: str) -> None:
    command = [sys.executable, str(GENERATE / f"{stem}.py")]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout[-2000:] + ran.stderr[-2000:]
    assert " rows recomputed, 0 differ" in ran.stdout
