"""Fuzz targets: the kept inputs in the default run, a timed search and the planted-fault check in the full one.

Targets are found in tests/fuzz, not listed: fuzz_NAME.cpp (see its CMakeLists.txt) and fuzz_NAME.py, which defines
``fuzz_one(data: bytes) -> None`` and raises when a property does not hold. Kept inputs lie in tests/fuzz/corpus/NAME. With
STEADYFILM_PLANTED_FAULT set (a macro in C++, an environment variable in Python) a target has a fault that a search must find.
"""

from __future__ import annotations

import importlib
import random
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tally import BUILD, TOP, TREE, Tally, run, tell

PLACE = TOP / "tests" / "fuzz"
SEARCH_SECONDS = 60


def names(suffix: str) -> list[str]:
    return [path.stem.removeprefix("fuzz_") for path in sorted(PLACE.glob(f"fuzz_*{suffix}"))]


def replay(tree: Path = TREE) -> Tally:
    """Every kept input of every target, each target in a process of its own; C++ targets as built in ``tree``."""
    tally = Tally()
    commands: dict[str, list[str | Path]] = {}
    for name in names(".cpp"):
        commands[name] = [tree / "tests" / "fuzz" / f"replay_{name}", PLACE / "corpus" / name]
    for name in names(".py"):
        commands[name] = [sys.executable, __file__, "replay", name]
    for name, command in commands.items():
        kept = len(list((PLACE / "corpus" / name).glob("*")))
        ran = run(command, timeout=60)
        if ran.code == 0 and f"{kept} inputs run" in ran.text and kept:
            tally.passed += kept
        else:
            tally.add(False, f"fuzz_{name}: {ran.text[-2000:]}")
    return tally


def search(programs: Path, *, planted: bool) -> Iterator[tuple[str, Tally]]:
    """Search a minute a target; with a planted fault, it has to be found."""
    tally = Tally()
    for name in names(".cpp"):
        found = BUILD / "fuzz-found" / ("planted-" * planted + name)
        found.mkdir(parents=True, exist_ok=True)
        command: list[str | Path] = [programs / "tests" / "fuzz" / f"fuzz_{name}", f"-max_total_time={SEARCH_SECONDS}"]
        command += ["-seed=1", "-max_len=4096", f"-artifact_prefix={found}/", found, PLACE / "corpus" / name]
        verdict(tally, name, command, planted=planted)
    for name in names(".py"):
        verdict(tally, name, [sys.executable, __file__, "search", name], planted=planted)
    yield ("fuzz, planted faults" if planted else "fuzz, a minute a target"), tally


def verdict(tally: Tally, name: str, command: list[str | Path], *, planted: bool) -> None:
    """A search without a planted fault must end quietly; with one it must end at a property."""
    ran = run(command, timeout=5 * SEARCH_SECONDS, env={"STEADYFILM_PLANTED_FAULT": "1"} if planted else {})
    if planted:
        tally.add(ran.code != 0 and "does not hold" in ran.text, f"fuzz_{name} missed its planted fault\n{ran.text[-2000:]}")
    else:
        tally.add(ran.code == 0, f"fuzz_{name}: {ran.text[-4000:]}")


def mutated(data: bytes, chance: random.Random) -> bytes:
    """One input changed at a few places: bytes replaced, inserted, dropped, a piece doubled."""
    changed = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randint(0, len(changed))
        what = chance.randrange(4)
        if what == 0 and at < len(changed):
            changed[at] = chance.randrange(256)
        elif what == 1:
            changed[at:at] = bytes(chance.randrange(256) for _ in range(chance.randint(1, 4)))
        elif what == 2:
            del changed[at : at + chance.randint(1, 8)]
        else:
            changed[at:at] = changed[at : at + chance.randint(1, 64)]
    return bytes(changed)


def main(what: str, name: str) -> int:
    """Replay or search one Python target in this process."""
    sys.path.insert(0, str(PLACE))
    fuzz_one: Callable[[bytes], None] = importlib.import_module(f"fuzz_{name}").fuzz_one
    kept = [path.read_bytes() for path in sorted((PLACE / "corpus" / name).glob("*"))]
    if what == "replay":
        for data in kept:
            fuzz_one(data)
        tell(f"{len(kept)} inputs run")
        return 0
    chance = random.Random(1)
    end = time.monotonic() + SEARCH_SECONDS
    while time.monotonic() < end:
        data = mutated(chance.choice(kept), chance)
        try:
            fuzz_one(data)
        except Exception:
            tell(f"does not hold for {data!r}")
            raise
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
