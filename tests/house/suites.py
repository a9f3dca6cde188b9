"""Runs every suite, also after one has failed; prints counts a suite and, last, in total. Called by tests/run."""

from __future__ import annotations

import json
import re
import sys
import time
import xml.etree.ElementTree
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import full
import fuzz
from tally import BUILD, RUNNER, TOP, TREE, Ran, Tally, read_counts, run, sources, tell, tool

Suite = Callable[[], Iterator[tuple[str, Tally]]]

TEST_SECONDS = 60.0


def formats() -> Iterator[tuple[str, Tally]]:
    """C++ as clang-format leaves it, Python as ruff does."""
    tally = Tally()
    files = sources(".cpp", ".hpp", ".inc")
    ran = run([*tool("clang-format"), "--dry-run", "--Werror", *files])
    bad = {TOP / line.split(":", 1)[0] for line in ran.text.splitlines() if "clang-format-violations" in line}
    for path in files:
        tally.add(path not in bad, f"{path.relative_to(TOP)}: clang-format -i would change it")
    if ran.code != 0 and not bad:
        tally.add(False, ran.text)
    ran = run([*tool("ruff"), "format", "--check", "--output-format=concise", "."])
    counts = [sum(int(n) for n in re.findall(pattern, ran.text)) for pattern in (r"(\d+) files? already", r"(\d+) files? would")]
    tally.passed += counts[0]
    tally.failed += counts[1]
    if ran.code != 0:
        tally.notes.append(ran.text)
        tally.failed += counts[1] == 0
    yield "format", tally


def lint() -> Iterator[tuple[str, Tally]]:
    """Python lint."""
    tally = Tally()
    files = run([*tool("ruff"), "check", "--show-files", "."]).text.split("\n")
    ran = run([*tool("ruff"), "check", "--output-format=json", "--no-cache", "."])
    try:
        found = json.loads(ran.text)
    except ValueError:
        found = []
        tally.add(False, ran.text)
    bad = {entry["filename"] for entry in found}
    tally.passed += len([path for path in files if path and path not in bad])
    tally.failed += len(bad)
    tally.notes += [f"{e['filename']}:{e['location']['row']}: {e['code']} {e['message']}" for e in found]
    yield "lint", tally


def types() -> Iterator[tuple[str, Tally]]:
    """Static types of the package and of these scripts, strict."""
    tally = Tally()
    for command in ([], ["--config-file", "pyproject.toml", *sorted((TOP / "tests" / "house").glob("*.py"))]):
        ran = run([sys.executable, "-m", "mypy", *command])
        checked = re.search(r"(?:no issues found in|checked) (\d+) source file", ran.text)
        wrong = re.search(r"Found \d+ errors? in (\d+) file", ran.text)
        failed = int(wrong[1]) if wrong else int(ran.code != 0)
        tally.passed += max(0, int(checked[1]) - failed) if checked else 0
        tally.failed += failed
        if failed:
            tally.notes.append(ran.text)
    yield "types", tally


def generated() -> Iterator[tuple[str, Tally]]:
    """Files that follow from others are up to date."""
    ran = run([sys.executable, "tests/regenerate", "--check"])
    stale = re.search(r"^out of date: (.*)$", ran.text, re.MULTILINE)
    fresh = re.search(r"^up to date: (.*)$", ran.text, re.MULTILINE)
    failed = len(stale[1].split(", ")) if stale else int(ran.code != 0)
    yield "generated files", Tally(len(fresh[1].split(", ")) if fresh else 0, failed, notes=[ran.text] if failed else [])


def core_tests(program: Path, *, workers: int = 2) -> Tally:
    """Every doctest case in a process of its own, so that one that hangs or crashes takes no other with it."""
    tally = Tally()
    listed = run([program, "--list-test-cases", "--no-colors=true"], timeout=TEST_SECONDS)
    names = [line for line in listed.text.splitlines() if line and not line.startswith(("[doctest]", "==="))]
    everything = run([program, "--list-test-cases", "--no-skip", "--no-colors=true"], timeout=TEST_SECONDS).text
    tally.skipped = len([line for line in everything.splitlines() if line and not line.startswith(("[doctest]", "==="))]) - len(
        names
    )
    if listed.code != 0:
        tally.add(False, listed.text)

    def one(number: int) -> Ran:
        return run([program, f"--first={number}", f"--last={number}", "--no-colors=true"], timeout=TEST_SECONDS)

    with ThreadPoolExecutor(workers) as pool:
        for name, ran in zip(names, pool.map(one, range(1, len(names) + 1)), strict=True):
            asserted = re.search(r"assertions: +(\d+)", ran.text)
            empty = ran.code == 0 and (asserted is None or asserted[1] == "0")
            tally.add(ran.code == 0 and not empty, f"{name}\n{'asserts nothing' if empty else ran.text}")
    return tally


def core() -> Iterator[tuple[str, Tally]]:
    """The C++ core."""
    yield "C++ core", core_tests(RUNNER)


def rows() -> Iterator[tuple[str, Tally]]:
    """Reference rows through both runners; rows of computations in waiting.txt are the only ones that may wait."""
    for name, command in (
        ("C++", [RUNNER, "--reference"]),
        ("Python", [sys.executable, "tests/python/reference.py"]),
    ):
        ran = run([*command, TOP / "tests" / "reference"], timeout=600)
        tally = read_counts(ran)
        tally.waiting, tally.skipped = tally.skipped, 0
        tally.notes += [line for line in ran.text.splitlines() if line.startswith("FAIL ")]
        for line in ran.text.splitlines():
            if line.endswith(" rows run"):
                tell(f"  {name} {line}")
        yield f"reference rows, {name}", tally


def python() -> Iterator[tuple[str, Tally]]:
    """The Python tests against the installed package: two workers, a minute a test, warnings are errors."""
    report = BUILD / "pytest.xml"
    report.unlink(missing_ok=True)
    command = [sys.executable, "-m", "pytest", "-q", "-n", "2", f"--timeout={TEST_SECONDS:.0f}", f"--junitxml={report}"]
    ran = run(command, env={"STEADYFILM_INSTALLED": "1"})
    groups = {"Python": Tally(), "house": Tally()}
    if (TOP / "notebooks").is_dir():
        groups["notebooks"] = Tally()
    if report.exists():
        for case in xml.etree.ElementTree.parse(report).iter("testcase"):
            module = case.get("classname", "").rpartition("test_")[2]
            tally = groups.get(module, groups["Python"])
            label = f"{case.get('classname')}::{case.get('name')}"
            if case.find("skipped") is not None:
                tally.skipped += 1
                tally.notes.append(f"{label}: skipped")
            else:
                tally.add(case.find("failure") is None and case.find("error") is None, label)
    if ran.code != 0 and all(tally.good for tally in groups.values()):
        groups["Python"].add(False, "pytest itself failed")
    if ran.code != 0:
        groups["Python"].notes.append(ran.text[-12000:])
    yield from groups.items()


def consumer() -> Iterator[tuple[str, Tally]]:
    """A program of a C++ user against the installed package, through CMake and through pkg-config."""
    tally = Tally()
    prefix, place = BUILD / "consumer" / "prefix", TOP / "tests" / "install" / "consumer"
    steps = (
        [*tool("cmake"), "--install", TREE, "--component", "development", "--prefix", prefix],
        [*tool("cmake"), "-S", place, "-B", BUILD / "consumer" / "cmake", f"-DCMAKE_PREFIX_PATH={prefix}"],
        [*tool("cmake"), "--build", BUILD / "consumer" / "cmake"],
        [BUILD / "consumer" / "cmake" / "film_check"],
        [place / "with_pkg_config", prefix, BUILD / "consumer"],
    )
    for step in steps:
        ran = run(step, timeout=300)
        tally.add(ran.code == 0, f"{' '.join(str(word) for word in step)}\n{ran.text}")
    yield "C++ consumer", tally


def fuzz_replay() -> Iterator[tuple[str, Tally]]:
    """The kept inputs of every fuzz target."""
    yield "fuzz replay", fuzz.replay()


DEFAULT: tuple[Suite, ...] = (formats, lint, types, generated, core, rows, python, consumer, fuzz_replay)


def main() -> int:
    suites: tuple[Suite, ...] = DEFAULT
    if "--full" in sys.argv[1:]:
        suites += full.suites(core_tests)
    total, good = Tally(), True
    started = time.monotonic()
    for suite in suites:
        for name, tally in suite():
            for note in tally.notes:
                tell(f"  {note}")
            if tally.passed + tally.failed == 0:
                tell(f"  {name} is empty: no check ran")
            tell(f"{name}: {tally}")
            good = good and tally.good
            total.passed += tally.passed
            total.failed += tally.failed
            total.skipped += tally.skipped
            total.waiting += tally.waiting
    tell(f"tests took {time.monotonic() - started:.0f} s; {'all well' if good else 'NOT all well'}")
    tell(str(total))
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
