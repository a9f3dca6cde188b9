"""The command line: what it prints where, its exit codes, and that help loads nothing heavy."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from steadyfilm.cli import main

from helpers import DATASETS, ONE_LAYER, as_csv, load_dataset, shop


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    readings, plan = tmp_path / "film.csv", tmp_path / "plan.toml"
    readings.write_text(as_csv(shop(step=0.2)), encoding="utf-8")
    plan.write_text(ONE_LAYER, encoding="utf-8")
    return readings, plan


def test_a_review_prints_the_verdict_and_the_report_and_exits_0(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    done = run("review", readings, "--plan", plan, "--out", tmp_path / "out")
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert lines[0].startswith("The line is not stable: film rose by 0.")
    assert len(lines) <= 6
    assert lines[-1] == f"Report: {tmp_path / 'out' / 'review.html'}"
    assert (tmp_path / "out" / "review.html").exists()
    assert json.loads((tmp_path / "out" / "review.json").read_text(encoding="utf-8"))["review"]["verdict"] == lines[:-1]


def test_a_signal_exits_4_when_asked_for(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    assert run("review", readings, "--plan", plan, "--out", tmp_path, "--fail-on", "signal").exit_code == 4
    readings.write_text(as_csv(shop(seed=4)), encoding="utf-8")
    assert run("review", readings, "--plan", plan, "--out", tmp_path, "--fail-on", "signal").exit_code == 0


def test_quiet_says_nothing_on_standard_output(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    done = run("review", readings, "--plan", plan, "--out", tmp_path, "--quiet")
    assert (done.exit_code, done.stdout) == (0, "")


def test_a_wrong_plan_exits_2_and_a_bad_file_3_with_the_reason_on_standard_error(
    files: tuple[Path, Path], tmp_path: Path
) -> None:
    readings, plan = files
    done = run("review", tmp_path / "no.csv", "--plan", plan, "--out", tmp_path)
    assert (done.exit_code, done.stdout) == (3, "")
    assert done.stderr.startswith("steadyfilm: no.csv has 1 problem:")
    readings.write_text("unit,film\nA,thick\n", encoding="utf-8")
    assert run("review", readings, "--plan", plan, "--out", tmp_path).exit_code == 3
    plan.write_text(ONE_LAYER.replace("lower", "lowr"), encoding="utf-8")
    done = run("review", readings, "--plan", plan, "--out", tmp_path)
    assert done.exit_code == 2
    assert "nearest: 'lower'" in done.stderr
    assert run("review", readings, "--plan", tmp_path / "no.toml", "--out", tmp_path).exit_code == 2
    assert run("review", readings).exit_code == 2
    assert run("reveiw").exit_code == 2


def test_an_output_folder_that_cannot_be_written_is_a_usage_error(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    done = run("review", readings, "--plan", plan, "--out", tmp_path / "taken" / "out")
    assert done.exit_code == 2
    assert "cannot write the report to" in done.stderr


def test_notes_go_to_standard_error(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    lines = readings.read_text(encoding="utf-8").splitlines()
    del lines[-1]
    readings.write_text("\n".join(lines), encoding="utf-8")
    done = run("review", readings, "--plan", plan, "--out", tmp_path)
    assert "note: U395: 2 of 3 usable readings of 'film'" in done.stderr
    assert "note:" not in done.stdout


def test_the_demo_tells_the_batch_and_the_report(tmp_path: Path) -> None:
    done = run("demo", "--out", tmp_path / "demo")
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    data = load_dataset(load_dataset().DEMO)
    thin = next(x for x in data.SHOP.events if type(x).__name__ == "ThinBatch")
    month = data.simulate("demo")
    row = next(k for k, layer in enumerate(data.SHOP.layers) if layer.name == thin.layer)
    label = next(x.batches[row] for x in month.units if x.day == thin.first_day)
    assert lines[0].startswith(f"The line is not stable: {thin.layer} fell by 0.")
    assert label in lines[0]
    assert " mil (" in lines[0]
    assert lines[-1] == f"Report: {tmp_path / 'demo' / 'review.html'}"
    assert (tmp_path / "demo" / "data" / "plan.toml").read_bytes() == (DATASETS / load_dataset().DEMO / "plan.toml").read_bytes()


def test_help_names_every_exit_code_and_loads_nothing_heavy() -> None:
    for arguments in ([], ["review"], ["demo"]):
        text = run(*arguments, "--help").stdout
        assert all(re.search(rf"^ +{code}  \w", text, re.MULTILINE) for code in range(5))
    code = "import sys\nfrom steadyfilm.cli import main\ntry: main(['--help'])\nexcept SystemExit: print(*sys.modules)"
    environment = {**os.environ, "PYTHONPATH": str(Path(sf.__file__).parents[1])}
    loaded = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    heavy = {"numpy", "narwhals", "matplotlib", "polars", "pandas", "pydantic", "jinja2"}
    assert set(loaded.stdout.splitlines()[-1].split()) & heavy == set()


def test_every_command_is_shown_in_help_and_loads_nothing_heavy() -> None:
    shown = run("--help").stdout
    assert all(f"  {name} " in shown for name in main.commands)
    code = (
        "import sys\nfrom steadyfilm.cli import main\nfor name in sys.argv[1:]:\n    try: main([*name.split(), '--help'])\n"
        "    except SystemExit: pass\nprint(*sys.modules)"
    )
    environment = {**os.environ, "PYTHONPATH": str(Path(sf.__file__).parents[1])}
    command = [sys.executable, "-c", code, *commands()]
    loaded = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    heavy = {"numpy", "narwhals", "matplotlib", "polars", "pydantic", "jinja2", "xlsxwriter"}
    assert loaded.stdout.count("Usage: ") == len(commands())
    assert set(loaded.stdout.splitlines()[-1].split()) & heavy == set()


def commands() -> dict[str, click.Command]:
    """Every command by what is typed to call it."""
    out: dict[str, click.Command] = {}
    for name, command in main.commands.items():
        inner = command.commands if isinstance(command, click.Group) else {}
        out |= {f"{name} {own}": more for own, more in inner.items()} if inner else {name: command}
    return out


def test_the_same_option_has_the_same_place_and_words_in_every_command() -> None:
    words: dict[str, set[str]] = {}
    for name, command in commands().items():
        options = [x for x in command.params if isinstance(x, click.Option)]
        order = [x.opts[-1] for x in options]
        first = [x for x in ("--plan", "--rule", "--out") if x in order]
        last = [x for x in ("--fail-on", "--quiet") if x in order]
        assert order[: len(first)] == first, name
        assert order[len(order) - len(last) :] == last, name
        for option in options:
            assert option.help, (name, option.name)
            assert option.help.endswith((".", "]")), (name, option.help)
            words.setdefault(option.opts[-1], set()).add(option.help)
    # What a plan is for, which files are written and what --fail-on asks for differ; a unit is one of lengths or of temperatures.
    own = {"--plan", "--out", "--fail-on", "--unit", "--column"}
    assert {name: found for name, found in words.items() if name not in own and len(found) > 1} == {}
    assert all(found.startswith("Plan in TOML") for found in words["--plan"])
    assert all(found.startswith("Folder for ") for found in words["--out"])
    assert all(found.startswith("Exit with 4 if ") for found in words["--fail-on"])


def test_every_command_states_its_exit_codes_and_an_end_by_4_only_with_fail_on() -> None:
    for name, command in commands().items():
        text = run(*name.split(), "--help").stdout
        stated = [int(code) for code in re.findall(r"^    (\d)  \w", text, re.MULTILINE)]
        assert stated[:3] == [0, 1, 2], name
        assert (4 in stated) == any(x.name == "fail_on" for x in command.params), name


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["review", "x.csv"], "Missing option '--plan'. See: steadyfilm review --help"),
        (["reviw"], "No such command 'reviw'. Did you mean 'review'? See: steadyfilm --help"),
        (["plan", "check"], "Missing argument 'PLAN'. See: steadyfilm plan check --help"),
        (["cure", "x.csv", "--airs", "y"], "No such option"),
        (["gauge", "x.csv", "--column", "part"], "--column part: write WHAT=NAME, with WHAT one of part, appraiser"),
    ],
)
def test_wrong_use_is_one_line_on_standard_error(given: list[str], said: str) -> None:
    done = run(*given)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith(f"steadyfilm: {said}")
    assert done.stderr.count("\n") == 1


def test_version() -> None:
    from importlib.metadata import PackageNotFoundError, version

    try:
        installed = version("steadyfilm")
    except PackageNotFoundError:
        installed = ""
    done = CliRunner().invoke(main, ["--version"])
    assert sf.__version__ in done.output
    assert installed in ("", sf.__version__)


def test_gauge_checks_come_from_the_plan_or_from_an_option(files: tuple[Path, Path], tmp_path: Path) -> None:
    readings, plan = files
    log = ["time,gauge,stated,value"]
    for day in range(1, 11):
        off = 0.2 if day == 6 else 0.0
        log += [f"2026-04-{day:02d} 06:00,Q,2.00,{2.0 + off + 0.01 * k:.2f}" for k in range(3)]
    (tmp_path / "shims.csv").write_text("\n".join(log), encoding="utf-8")
    named = tmp_path / "named.toml"
    named.write_text(f'{ONE_LAYER}[gauge_checks]\nfile = "shims.csv"\n', encoding="utf-8")
    for given, options, faults in ((plan, [], 0), (named, [], 1), (plan, ["--gauge-checks", str(tmp_path / "shims.csv")], 1)):
        done = run("review", readings, "--plan", given, "--out", tmp_path / "out", *options)
        assert done.exit_code == 0, done.output
        review = json.loads((tmp_path / "out" / "review.json").read_text(encoding="utf-8"))["review"]
        assert len(review["gauge_faults"]) == faults
        assert ("gauge Q read 0.200 mil high on shims" in " ".join(review["verdict"])) == bool(faults)
        assert ("gauge checks: shims.csv" in review["inputs"]) == bool(faults)
