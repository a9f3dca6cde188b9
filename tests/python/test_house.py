"""The house itself: eight files a stem, small files, imports one way, examples that run, nothing of one machine."""

from __future__ import annotations

import ast
import csv
import doctest
import importlib
import os
import pkgutil
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import steadyfilm

from helpers import REPOSITORY as TOP

# Folders that hold one file a stem: where, and how the name goes on.
PLACES = {
    "header": ("cpp/include/steadyfilm", "", ".hpp"),
    "source": ("cpp/src", "", ".cpp"),
    "binding": ("cpp/bindings", "bind_", ".cpp"),
    "methods": ("cpp/methods", "", ".md"),
    "wrapper": ("python/steadyfilm", "", ".py"),
    "rows": ("tests/reference/rows", "", ".csv"),
    "C++ test": ("tests/cpp", "test_", ".cpp"),
    "Python test": ("tests/python", "test_", ".py"),
}
NOT_A_TOPIC = {"core"}  # types and errors that all topics share
PYTHON_ONLY = {
    "acceptance",
    "bakes",
    "baseline",
    "errors",
    "false_alarms",
    "findings",
    "limits",
    "measurability",
    "plan",
    "review",
    "screens",
    "units",
    "wash_review",
}  # NumPy and calls of other topics

SHORT = 600  # lines
TEXT = {".py", ".cpp", ".hpp", ".inc", ".md", ".txt", ".toml", ".cmake", ".in", ".sh", ".ipynb", ".yml", ".csv", ""}


def tracked(*suffixes: str) -> list[Path]:
    """The project's own files, without what a build leaves beside them."""
    places = [TOP / name for name in (".ci", "cpp", "python", "tests", "datasets", "notebooks") if (TOP / name).is_dir()]
    found = [path for place in places for path in sorted(place.rglob("*")) if path.is_file()]
    found += [path for path in TOP.iterdir() if path.is_file() and path.name not in {".git"}]
    return [
        path
        for path in found
        if path.suffix in (suffixes or TEXT) and not {"__pycache__", "corpus", ".ipynb_checkpoints"} & set(path.parts)
    ]


def stems(kind: str) -> set[str]:
    folder, before, after = PLACES[kind]
    names = {path.name.removeprefix(before).removesuffix(after) for path in (TOP / folder).glob(f"{before}*{after}")}
    return {name for name in names if not name.startswith("_")} - NOT_A_TOPIC


@pytest.mark.parametrize("kind", PLACES)
def test_every_topic_has_its_eight_files(kind: str) -> None:
    topics = stems("header")
    assert topics - stems(kind) == set(), f"topics without a {kind}"
    if not kind.endswith("test"):
        assert stems(kind) - topics - (PYTHON_ONLY if kind in ("wrapper", "methods") else set()) == set(), (
            f"a {kind} without a header"
        )


def test_no_file_is_long() -> None:
    long = {
        str(path.relative_to(TOP)): lines
        for path in tracked(".py", ".cpp", ".hpp", ".inc", ".md", ".cmake", ".sh", "")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > SHORT
    }
    assert long == {}


# Each word in a shape that does not find itself here.
_FOREIGN = re.compile(
    r"/(?:r[o]ot|w[o]rk|f[a]rm|h[o]me/\w+)/"
    r"|\bp[y]pi\.org\b|\bfiles\.p[y]thonhosted\b|\bdeb\.d[e]bian\.org\b"
    r"|\b(?:c[l]aude|c[h]atgpt|c[o]pilot|a[n]thropic|o[p]enai|l[a]nguage model|w[o]rktree|w[o]rkplace)\b",
    re.IGNORECASE,
)


def test_no_file_speaks_of_one_machine_or_of_anything_but_the_project() -> None:
    found = [
        f"{path.relative_to(TOP)}:{number}: {line.strip()[:120]}"
        for path in tracked()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if _FOREIGN.search(line)
    ]
    assert found == []


def test_commands_can_be_run_and_stop_at_the_first_failure() -> None:
    commands = [path for path in tracked("") if path.read_bytes().startswith(b"#!")]
    assert {"tests/run", "python/demo", ".ci/run"} <= {str(path.relative_to(TOP)) for path in commands}
    for path in commands:
        assert os.access(path, os.X_OK), path
        text = path.read_text(encoding="utf-8")
        assert "python" in text.split("\n", 1)[0] or "set -euo pipefail" in "".join(text.splitlines(True)[:8]), path


# -- the demo shop ------------------------------------------------------------------------------------------------------


def names_of_the_demo_shop() -> set[str]:
    """Patterns of what the demo data calls its own: codes, names of two or more words, labels; single words are the trade's."""
    shop = importlib.import_module(f"steadyfilm.datasets.{steadyfilm.datasets.DEMO}").SHOP
    tanks = [stage for stage in shop.washer.stages if hasattr(stage, "supply")]
    things = [*shop.gauges, *shop.checks.shims, shop.oven, shop.oven.recipe, *shop.oven.probes, *shop.washer.stages]
    names = {*shop.guns, *shop.booths, *shop.locations, *(thing.name for thing in things)}
    names |= {crew.painter for crew in shop.crews} | {getattr(event, "joins", "") for event in shop.events}
    names |= {getattr(tank.supply, "meter", "") for tank in tanks}
    folder = TOP / "datasets" / steadyfilm.datasets.DEMO
    written = "\n".join(path.read_text(encoding="utf-8") for path in [*sorted(folder.glob("*.py")), folder / "plan.toml"])
    names |= set(re.findall(r"\w+_\w+\.csv", written))
    patterns = {re.escape(name) for name in names if re.search(r"[\d _]", name)}
    labels = [shop.unit_label, shop.panels.label, *(layer.batch_label for layer in shop.layers)]
    return patterns | {re.sub(r"\{number:0(\d)d\}", r"\\d{\1}", label) for label in labels}


def test_nothing_but_the_demo_data_and_what_runs_on_it_knows_a_name_of_its_shop() -> None:
    names = names_of_the_demo_shop()
    assert len(names) > 30
    pattern = re.compile(rf"\b(?:{'|'.join(sorted(names))})\b")
    runs_on_it = re.compile(rf"\bDEMO\b|\bshop\.write\b|\bwrite_demo\b|\b{steadyfilm.datasets.DEMO}\b")
    found = []
    for path in tracked(".py", ".pyi", ".hpp", ".cpp", ".inc", ".md", ".toml", ""):
        inside = path.relative_to(TOP)
        if inside.parts[0] in ("datasets", "notebooks", "README.md") or {"datasets", "golden"} & set(inside.parts):
            continue
        text = path.read_text(encoding="utf-8")
        if inside.parts[0] == "tests" and runs_on_it.search(text):
            continue
        found += [f"{inside}:{text.count(chr(10), 0, hit.start()) + 1}: {hit.group()}" for hit in pattern.finditer(text)]
    assert found == []


# -- rows ---------------------------------------------------------------------------------------------------------------


def test_every_row_names_where_its_value_comes_from() -> None:
    statuses = {"published", "computed", "from memory", "common practice, no source"}
    for path in sorted((TOP / "tests" / "reference" / "rows").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                assert row["stem"] == path.stem
                assert row["status"] in statuses, f"{path.stem} {row['case']}: {row['status']}"
                assert row["source"] or row["status"] == "common practice, no source", f"{path.stem} {row['case']}"
                if row["status"] == "computed":
                    assert (TOP / "tests" / "reference" / "generate" / path.name).with_suffix(".py").exists(), path.stem


# -- imports ------------------------------------------------------------------------------------------------------------

HEAVY = {"matplotlib", "polars", "pandas", "pydantic", "click", "jinja2", "sqlite3"}


def loaded_by(code: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint(*sys.modules)"],
        env={**os.environ, "PYTHONPATH": str(Path(steadyfilm.__file__).parents[1])},
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.splitlines()[-1].split())


def test_importing_the_package_loads_neither_numpy_nor_any_extra() -> None:
    assert loaded_by("import steadyfilm") & (HEAVY | {"numpy", "narwhals"}) == set()


def test_a_topic_loads_no_extra_and_no_other_layer() -> None:
    loaded = loaded_by("import steadyfilm\nsteadyfilm.summarize([1.0, 2.0], unit='mil').explain()")
    assert loaded & HEAVY == set()
    assert not any(name.startswith(tuple(f"steadyfilm.{layer}." for layer in LAYERS[1:])) for name in loaded)


def test_help_on_the_command_line_loads_no_numpy() -> None:
    code = (
        "import sys\nfrom steadyfilm.cli import main\nsys.argv[1:] = ['--help']\ntry:\n    main()\nexcept SystemExit:\n    pass"
    )
    assert loaded_by(code) & (HEAVY | {"numpy", "narwhals"}) == {"click"}


# Each layer may load those before it: a drawing takes a result, a report takes drawings, the command line takes all.
# A plan is read by an extra of its own.
LAYERS = ("results", "plan", "plots", "store", "reports", "cli")


def layer(module: str) -> str:
    name = module.split(".")[1] if "." in module else ""
    # Parts of the plan, and topics that read a file of its kind by the same extra.
    name = "plan" if name in ("_plan", "acceptance", "_wash", "wash_review") else name
    return name if name in LAYERS else "results"


def imports(path: Path) -> Iterator[tuple[str, bool]]:
    """Modules of the package that a file imports, and whether at load time (not inside a function, not for types alone)."""

    def walk(node: ast.AST, now: bool) -> Iterator[tuple[str, bool]]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Import):
                yield from ((alias.name, now) for alias in child.names)
            elif isinstance(child, ast.ImportFrom) and child.module:
                yield child.module, now
                yield from ((f"{child.module}.{alias.name}", now) for alias in child.names)
            elif isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
                continue
            else:
                yield from walk(child, now and not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef))

    yield from walk(ast.parse(path.read_text(encoding="utf-8")), True)


PACKAGE = TOP / "python" / "steadyfilm"
MODULES = sorted(str(path.relative_to(PACKAGE)) for path in PACKAGE.rglob("*.py") if "datasets" not in path.parts)


@pytest.mark.parametrize("file", MODULES)
def test_imports_point_one_way(file: str) -> None:
    own = LAYERS.index(layer("steadyfilm." + file.removesuffix(".py").replace("/", ".")))
    for module, at_load in imports(PACKAGE / file):
        if not module.startswith("steadyfilm"):
            # An extra is loaded where it is used, so that a topic works without it.
            if own == 0:
                assert not (at_load and module.split(".")[0] in HEAVY), f"{file} loads {module}"
            continue
        # The protocol of results reaches plots and writers inside its methods; it alone does.
        if file == "_result.py" and not at_load:
            continue
        assert LAYERS.index(layer(module)) <= own, f"{file} imports {module}"
        assert not module.startswith("steadyfilm.datasets."), f"{file} knows a data set by name: {module}"


# -- examples -----------------------------------------------------------------------------------------------------------


def public_modules() -> list[str]:
    return [
        found.name
        for found in pkgutil.walk_packages(steadyfilm.__path__, "steadyfilm.")
        if ".datasets" not in found.name and not found.name.endswith(("__main__", "._core"))
    ]


@pytest.mark.parametrize("name", public_modules())
def test_docstring_examples_run(name: str) -> None:
    failed, _ = doctest.testmod(importlib.import_module(name), optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS)
    assert failed == 0


def test_every_public_function_shows_an_example() -> None:
    values = {name: getattr(steadyfilm, name) for name in dir(steadyfilm)}
    # A topic may be called like its function; then the name holds the module.
    functions = {name: getattr(value, name, value) for name, value in values.items()}
    without = [
        name
        for name, value in functions.items()
        if callable(value) and not isinstance(value, type) and ">>>" not in (value.__doc__ or "")
    ]
    assert without == []


# -- C++ ----------------------------------------------------------------------------------------------------------------

CXX = os.environ.get("CXX", "c++").split()
HEADERS = sorted(path.name for path in (TOP / "cpp" / "include" / "steadyfilm").glob("*.hpp"))


@pytest.mark.parametrize("header", HEADERS)
def test_a_public_header_compiles_alone_without_eigen_or_boost(header: str) -> None:
    flags = ["-std=c++20", "-Wall", "-Wextra", "-Wpedantic", "-Werror", f"-I{TOP / 'cpp' / 'include'}", "-x", "c++", "-"]
    text = f"#include <steadyfilm/{header}>\n"
    compiled = subprocess.run([*CXX, "-fsyntax-only", *flags], input=text, capture_output=True, text=True, check=False)
    assert compiled.returncode == 0, compiled.stderr
    seen = subprocess.run([*CXX, "-M", *flags], input=text, capture_output=True, text=True, check=True).stdout
    assert not re.search(r"/(boost|eigen3?)/", seen, re.IGNORECASE), seen


# -- new topics ---------------------------------------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The sources alone, in a folder of their own."""
    for name in ("cpp", "python", "tests"):
        shutil.copytree(TOP / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__", "*.so", "datasets"))
    shutil.copy(TOP / "pyproject.toml", tmp_path)
    return tmp_path


def test_a_new_topic_is_eight_files_whose_tests_fail(copy: Path) -> None:
    before = {path for path in copy.rglob("*") if path.is_file()}
    subprocess.run([sys.executable, copy / "tests" / "new_topic", "new_film"], check=True, capture_output=True)
    made = {str(path.relative_to(copy)) for path in copy.rglob("*") if path.is_file()} - {
        str(p.relative_to(copy)) for p in before
    }
    assert made == {f"{folder}/{before_}new_film{after}" for folder, before_, after in PLACES.values()}
    again = subprocess.run(
        [sys.executable, copy / "tests" / "new_topic", "new_film"], capture_output=True, text=True, check=False
    )
    assert again.returncode != 0
    assert "exists already" in again.stderr

    # The Python side, in front of a core that gives what the new source gives.
    (copy / "python" / "steadyfilm" / "_core.py").write_text(
        "version = '0'\n\n\ndef compute_new_film(values):\n    return {'count': len(values), 'value': float('nan')}\n"
    )
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/python/test_new_film.py"],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy / "python")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "1 failed, 1 passed" in ran.stdout, ran.stdout

    # The C++ side.
    sources = [
        "cpp/src/core.cpp",
        "cpp/src/new_film.cpp",
        "tests/cpp/main.cpp",
        "tests/cpp/reference.cpp",
        "tests/cpp/test_new_film.cpp",
    ]
    define = f'-DSTEADYFILM_REFERENCE="{copy}/tests/reference"'
    compiled = subprocess.run(
        [*CXX, "-std=c++20", "-O0", "-Wall", "-Wextra", "-Werror", "-Icpp/include", define, *sources, "-o", "new_film"],
        cwd=copy,
        capture_output=True,
        text=True,
        check=False,
    )
    assert compiled.returncode == 0, compiled.stderr
    ran = subprocess.run([copy / "new_film"], capture_output=True, text=True, check=False)
    assert "1 passed | 1 failed" in ran.stdout, ran.stdout


# -- the installed package ----------------------------------------------------------------------------------------------


def pins() -> dict[str, str]:
    lines = (TOP / "tests" / "constraints.txt").read_text(encoding="utf-8").splitlines()
    pairs = [line.split("==") for line in lines if line and not line.startswith("#")]
    return {name.lower().replace("_", "-"): version for name, version in pairs}


def test_every_dependency_is_pinned_at_a_version_that_the_project_admits() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    for extra in project["project"]["optional-dependencies"].values():
        wanted += extra
    for override in project["tool"]["scikit-build"]["overrides"]:
        wanted += override["build"]["requires"]
    for requirement in map(Requirement, wanted):
        if requirement.name == "steadyfilm":
            continue
        version = pins().get(requirement.name.lower().replace("_", "-"))
        assert version is not None, f"{requirement.name} is not pinned"
        assert requirement.specifier.contains(version), f"{requirement} does not admit {version}"


@pytest.mark.skipif("STEADYFILM_INSTALLED" not in os.environ, reason="a developer's tree, not an installed package")
def test_the_tests_run_against_the_installed_package() -> None:
    assert TOP / "python" not in Path(steadyfilm.__file__).parents
