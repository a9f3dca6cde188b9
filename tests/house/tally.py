"""What a suite counted, and how a command is run and read."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
BUILD = TOP / "build"
TREE = BUILD / "tests"
RUNNER = TREE / "tests" / "cpp" / "steadyfilm_tests"

_COUNTS = re.compile(r"^(\d+) passed, (\d+) failed, (\d+) skipped$", re.MULTILINE)


@dataclass
class Tally:
    """Counts of one suite. ``skipped`` fails the run, ``waiting`` (named in a file, with a reason) does not."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0
    waiting: int = 0
    notes: list[str] = field(default_factory=list)

    def add(self, ok: bool, note: str = "") -> None:
        """Count one check; the note is shown when it failed."""
        if ok:
            self.passed += 1
        else:
            self.failed += 1
            self.notes.append(note)

    @property
    def good(self) -> bool:
        return self.failed == 0 and self.skipped == 0 and self.passed > 0

    def __str__(self) -> str:
        return f"{self.passed} passed, {self.failed} failed, {self.skipped + self.waiting} skipped"


@dataclass(frozen=True)
class Ran:
    """A finished command: exit code (124 when its time was up) and both outputs in one text."""

    code: int
    text: str


def run(command: Sequence[object], *, timeout: float | None = None, env: dict[str, str] | None = None) -> Ran:
    """Run a command at the top of the project, without input."""
    try:
        done = subprocess.run(
            [str(word) for word in command],
            cwd=TOP,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=timeout,
            env={**os.environ, **(env or {})},
            text=True,
            errors="replace",
        )
    except subprocess.TimeoutExpired as late:
        shown = late.stdout if isinstance(late.stdout, str) else (late.stdout or b"").decode(errors="replace")
        return Ran(124, f"{shown}\nstopped after {timeout:.0f} s")
    return Ran(done.returncode, done.stdout)


def tool(name: str) -> list[str]:
    """A program of the pinned tools, run by the interpreter in use."""
    return [str(Path(sys.executable).parent / name)]


def read_counts(ran: Ran) -> Tally:
    """The last line 'N passed, N failed, N skipped' of an output; an output without one has failed."""
    found = _COUNTS.findall(ran.text)
    if not found or (ran.code != 0 and found[-1][1] == "0"):
        return Tally(failed=1, notes=[ran.text[-4000:]])
    passed, failed, skipped = (int(word) for word in found[-1])
    return Tally(passed, failed, skipped)


def sources(*suffixes: str) -> list[Path]:
    """Files of the project with these suffixes, without what is built or generated on the way."""
    places = [TOP / name for name in ("cpp", "python", "tests", "datasets") if (TOP / name).is_dir()]
    found = [path for place in places for path in place.rglob("*") if path.suffix in suffixes]
    return sorted(path for path in found if "__pycache__" not in path.parts and path.is_file())


def tell(text: str) -> None:
    """Print at once, also into a pipe."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()
