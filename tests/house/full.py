"""The slow suites of `tests/run --full`: clang++, sanitizers, static analysis, fuzzing, recomputed rows, data, bare machine."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import sysconfig
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import fuzz
from tally import BUILD, TOP, Tally, run, tool

CoreTests = Callable[[Path], Tally]


def build(name: str, *options: str) -> tuple[Path, Tally]:
    """Configure and build a tree of its own with warnings as errors; two checks."""
    tree, tally = BUILD / name, Tally()
    wheels = sysconfig.get_path("purelib")
    configure = [*tool("cmake"), "-S", TOP, "-B", tree, "-G", "Ninja", f"-DSTEADYFILM_HEADER_WHEELS={wheels}"]
    configure += ["-DSTEADYFILM_WARNINGS_AS_ERRORS=ON", *options]
    for command in (configure, [*tool("cmake"), "--build", tree, "-j2", "--", "-k0"]):
        ran = run(command)
        tally.add(ran.code == 0, ran.text[-6000:])
    return tree, tally


def sanitized(core_tests: CoreTests) -> Iterator[tuple[str, Tally]]:
    """The C++ tests and the kept fuzz inputs under the address and undefined-behavior sanitizers."""
    tree, tally = build("sanitize", "-DSTEADYFILM_SANITIZE=ON", "-DSTEADYFILM_TESTS=ON", "-DCMAKE_BUILD_TYPE=RelWithDebInfo")
    yield "sanitizers, build", tally
    if tally.good:
        yield "sanitizers, C++ core", core_tests(tree / "tests" / "cpp" / "steadyfilm_tests")
        yield "sanitizers, fuzz replay", fuzz.replay(tree)


def second_compiler(core_tests: CoreTests) -> Iterator[tuple[str, Tally]]:
    """Everything with clang++, then clang-tidy over the same commands."""
    stub = [sys.executable, "-m", "pybind11", "--cmakedir"]
    place = subprocess.run(stub, check=True, capture_output=True, text=True).stdout.strip()
    options = ["TESTS", "BENCH", "PYTHON"]
    tree, tally = build(
        "clang",
        "-DCMAKE_CXX_COMPILER=clang++",
        f"-DPython_EXECUTABLE={sys.executable}",
        f"-Dpybind11_DIR={place}",
        *(f"-DSTEADYFILM_{name}=ON" for name in options),
    )
    yield "clang++, build", tally
    if tally.good:
        yield "clang++, C++ core", core_tests(tree / "tests" / "cpp" / "steadyfilm_tests")
        yield "clang-tidy", tidy(tree)


def tidy(tree: Path) -> Tally:
    """Static analysis of the core's sources and the bindings, file by file."""
    tally = Tally()
    commands = json.loads((tree / "compile_commands.json").read_text(encoding="utf-8"))
    own = [TOP / "cpp" / "src", TOP / "cpp" / "bindings"]
    files = sorted({entry["file"] for entry in commands if any(Path(entry["file"]).is_relative_to(place) for place in own)})
    with ThreadPoolExecutor(2) as pool:
        for ran in pool.map(lambda file: run(["clang-tidy", "-p", tree, "--quiet", file]), files):
            found = [line for line in ran.text.splitlines() if re.search(r": (warning|error): ", line)]
            tally.add(ran.code == 0 and not found, "\n".join(found) or ran.text[-2000:])
    return tally


def fuzzing() -> Iterator[tuple[str, Tally]]:
    """Each target searched for a minute, and once more with a planted fault that must be found."""
    for name, planted in (("fuzz", False), ("fuzz-planted", True)):
        options = [f"-DSTEADYFILM_PLANTED_FAULT={'ON' if planted else 'OFF'}", "-DCMAKE_BUILD_TYPE=RelWithDebInfo"]
        tree, tally = build(name, "-DCMAKE_CXX_COMPILER=clang++", "-DSTEADYFILM_FUZZ=ON", *options)
        yield f"{name}, build", tally
        if tally.good:
            yield from fuzz.search(tree, planted=planted)


def recomputed() -> Iterator[tuple[str, Tally]]:
    """Rows marked `computed`, by the scripts that made them; scripts without rows of their name help these or make data."""
    tally = Tally()
    reference = TOP / "tests" / "reference"
    for script in sorted((reference / "generate").glob("*.py")):
        if not (reference / "rows" / f"{script.stem}.csv").exists():
            continue
        ran = run([sys.executable, script], timeout=3600)
        counts = re.search(r"^(\d+) rows recomputed, (\d+) differ$", ran.text, re.MULTILINE)
        if counts and (ran.code == 0) == (counts[2] == "0"):
            tally.passed += int(counts[1]) - int(counts[2])
            tally.failed += int(counts[2])
        else:
            tally.add(False, f"{script.name}: {ran.text[-2000:]}")
        if ran.code != 0:
            tally.notes.append(f"{script.name}: {ran.text[-2000:]}")
    yield "recomputed rows", tally


def invented_shop() -> Iterator[tuple[str, Tally]]:
    """The tables of the invented shop's README, line by line, by the scripts that made them."""
    tally = Tally()
    shown = (TOP / "datasets" / "truck_bodies" / "README.md").read_text(encoding="utf-8").splitlines()
    for name in ("figures", "fault_free", "findable"):
        ran = run([sys.executable, "-m", f"datasets.truck_bodies.{name}"], timeout=3600)
        tally.add(ran.code == 0, ran.text[-2000:])
        for line in filter(None, ran.text.splitlines()):
            tally.add(line in shown, f"{name}: not in the README: {line}")
    yield "invented shop", tally


def bare_machine() -> Iterator[tuple[str, Tally]]:
    """python/demo on a Debian with nothing installed."""
    tally = Tally()
    ran = run([TOP / "tests" / "install" / "bare"], timeout=3600)
    tally.add(ran.code == 0, ran.text[-6000:])
    yield "bare machine", tally


def suites(core_tests: CoreTests) -> tuple[Callable[[], Iterator[tuple[str, Tally]]], ...]:
    """All of them, in the order they run."""
    return (lambda: sanitized(core_tests), lambda: second_compiler(core_tests), fuzzing, recomputed, invented_shop, bare_machine)
