"""The compiled core's choice of instruction set, as the environment gives it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from steadyfilm import _core

PACKAGE = Path(_core.__file__ or "").parents[1]


def run_with(instruction_set: str, code: str) -> subprocess.CompletedProcess[str]:
    environment = os.environ | {"STEADYFILM_ISA": instruction_set, "PYTHONPATH": str(PACKAGE)}
    return subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("instruction_set", ["baseline", _core.instruction_set()])
def test_the_environment_forces_a_set(instruction_set: str) -> None:
    done = run_with(instruction_set, "from steadyfilm import _core; print(_core.instruction_set())")
    assert done.stdout.strip() == instruction_set, done.stderr


def test_an_unknown_set_stops_the_import_and_says_what_there_is() -> None:
    done = run_with("v17", "import steadyfilm")
    assert done.returncode != 0
    last_line = done.stderr.strip().splitlines()[-1]
    assert last_line.startswith("ImportError: instruction_set: STEADYFILM_ISA is 'v17', which is no instruction set; ")
    assert "give one of: baseline" in last_line
