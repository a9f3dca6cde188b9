"""``steadyfilm plan check``: the verdict first, then every problem with key, value and way out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from steadyfilm.cli import main

from helpers import DATASETS, as_csv, load_dataset

PLAN = """
streams = ["booth"]
[columns]
unit = "serial"
layer = "coat"
value = "film"
unit_of_measure = "in"
time = "when"
attempt = "try"
[measure]
unit = "mil"
[[layers]]
name = "prime"
lower = 1.0
upper = 1.2
[[layers]]
name = "finish"
reading = "all"
minus = "prime"
lower = 2.0
upper = 2.4
"""


def rows(**changed: Any) -> dict[str, list[Any]]:
    """Two readings of twenty units; a column may be changed or, with None, left out."""
    table: dict[str, list[Any]] = {name: [] for name in ("serial", "coat", "film", "in", "when", "try", "booth")}
    for k in range(20):
        for coat, film in (("prime", 1.1), ("all", 3.3)):
            for name, cell in zip(table, (f"S{k}", coat, film, "mil", f"2026-03-{k + 1:02d} 09:00", 1, "N"), strict=True):
                table[name].append(cell)
    for name, change in changed.items():
        if change is None:
            del table[name]
        else:
            table[name] = [change(x) for x in table[name]]
    return table


def check(folder: Path, plan: str = PLAN, table: dict[str, list[Any]] | None = None, *, quiet: bool = False) -> Result:
    (folder / "shop.toml").write_text(plan, encoding="utf-8")
    given = [str(folder / "shop.toml")]
    if table is not None:
        (folder / "film.csv").write_text(as_csv(table), encoding="utf-8")
        given.append(str(folder / "film.csv"))
    return CliRunner().invoke(main, ["plan", "check", *given, *(["-q"] if quiet else [])], catch_exceptions=False)


def test_a_fit_plan_says_so_first_and_what_was_seen(tmp_path: Path) -> None:
    done = check(tmp_path)
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.splitlines()[0] == "The plan is fit."
    done = check(tmp_path, table=rows())
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert lines[0] == "The plan is fit for film.csv."
    assert "seen: film.csv: 40 rows, 20 units, 2026-03-01 to 2026-03-20" in lines
    assert "seen: film.csv: finish, median 2.2 mil" in lines
    assert "seen: stream 'booth': 1 value ('N' 40 rows)" in lines
    assert check(tmp_path, quiet=True).stdout == ""


@pytest.mark.parametrize("folder", ["truck_bodies", "oxide_thickness"])
def test_the_plans_of_the_data_sets_are_fit_for_their_data(folder: str, tmp_path: Path) -> None:
    plan, readings = DATASETS / folder / "plan.toml", DATASETS / folder / "data.csv"
    if not readings.exists():
        load_dataset(folder).write_demo(tmp_path, 1)
        (tmp_path / "plan.toml").write_bytes(plan.read_bytes())
        plan, readings = tmp_path / "plan.toml", tmp_path / "demo" / "readings.csv"
    done = CliRunner().invoke(main, ["plan", "check", str(plan), str(readings)], catch_exceptions=False)
    assert done.exit_code == 0, done.stdout
    assert done.stdout.startswith("The plan is fit for ")


def test_a_plan_that_is_not_fit_lists_every_problem(tmp_path: Path) -> None:
    done = check(tmp_path, PLAN.replace("unit_of_measure", "unit_of_mesure").replace("lower = 2.0", "lower = 2.5"))
    assert done.exit_code == 2
    lines = done.stdout.splitlines()
    assert lines[0] == "The plan is not fit: 2 problems."
    assert lines[1] == "  columns.unit_of_mesure: unknown key; nearest: 'unit_of_measure'"
    assert "layers[2]: lower (2.5) must lie below upper (2.4)" in lines[2]
    done = check(tmp_path, "layers = [")
    assert done.stdout.startswith("The plan is not fit: 1 problem.\n  shop.toml is not valid TOML")
    done = CliRunner().invoke(main, ["plan", "check", str(tmp_path / "none.toml")])
    assert done.exit_code == 2
    assert "No such file" in done.stdout


def halved(x: float) -> float:
    return x / 2


@pytest.mark.parametrize(
    ("plan", "changed", "said"),
    [
        (PLAN.replace('"film"', '"flim"'), {}, "columns.value = 'flim': film.csv has no such column; nearest: 'film'"),
        (PLAN, {"booth": None}, "streams = 'booth': film.csv has no such column"),
        (PLAN, {"film": lambda x: "thick" if x == 3.3 else x}, "columns.value = 'film': film.csv has 20 problems:"),
        (PLAN, {"when": lambda x: x.replace("2026-03-", "03/04/2026 ")[:16]}, "columns.time = 'when': film.csv has 40 problems"),
        (PLAN, {"try": lambda _: -1}, "columns.attempt = 'try': film.csv has 40 problems:"),
        (PLAN, {"try": lambda _: 3}, "column 'try', whole column: holds no first attempt: the lowest is 3"),
        (PLAN, {"in": lambda _: "inch"}, "'inch' in 40 rows of film.csv, first line 2, is no unit of film thickness"),
        (
            PLAN,
            {"coat": lambda x: x.replace("all", "al")},
            "layers[2].reading = 'all': no row of film.csv has this layer; nearest: 'al'",
        ),
        (PLAN, {"coat": lambda x: "zzz"}, "layers[1].name = 'prime': no row of film.csv has this layer; there: 'zzz'"),
        (PLAN, {"film": lambda x: x * 25.4}, "the numbers look like um: correct the unit of measure in the file"),
        (
            PLAN.replace('unit_of_measure = "in"\n', ""),
            {"film": lambda x: x * 25.4},
            "layers[1] 'prime' 1 to 1.2 mil: the median in film.csv is 27.9 mil; the numbers look like um: set written_in = 'um'",
        ),
        (PLAN, {"film": lambda x: x * 4}, "median in film.csv is 4.4 mil; more than 3 times outside: correct the window"),
        (PLAN, {"film": lambda x: 4.4 - x}, "layers[2].minus = 'prime': in film.csv 'all' less 'prime' has the median -2.2 mil"),
        (
            PLAN.replace('"mil"', '"mil"\nplausible = [5, 9]'),
            {},
            "measure.plausible = [5, 9]: the median of 'prime' in film.csv is 1.1",
        ),
        (PLAN + "[baseline]\nuntil = 2027-01-01\n", {}, "baseline.until = 2027-01-01: film.csv has no rows after it"),
        (
            PLAN + "[baseline]\nuntil = 2025-01-01T08:00:00\n",
            {},
            "film.csv has no rows up to it; its times run from 2026-03-01T09:00",
        ),
        (PLAN + '[baseline]\nreadings = "old.csv"\n', {}, "baseline.readings: old.csv has 1 problem:"),
        (PLAN + '[events]\nfile = "log.csv"\ntext = "what"\n', {}, "events.file: log.csv has 1 problem:"),
        (
            PLAN + '[events]\nfile = "film.csv"\ntime = "when"\ntext = "what"\n',
            {},
            "events.text = 'what': film.csv has no such column",
        ),
        (PLAN + '[gauge_checks]\nfile = "log.csv"\n', {}, "gauge_checks.file: log.csv has 1 problem:"),
        (
            PLAN + '[gauge_checks]\nfile = "film.csv"\ntime = "when"\nvalue = "film"\nunit_of_measure = "unit"\n',
            {},
            "gauge_checks.unit_of_measure = 'unit': film.csv has no such column",
        ),
        (
            PLAN + '[gauge_checks]\nfile = "film.csv"\ntime = "when"\nvalue = "film"\nstated = "booth"\ngauge = "booth"\n',
            {},
            "gauge_checks: film.csv has 40 problems:",
        ),
        (PLAN + '[gauge_study]\nfile = "log.csv"\n', {}, "gauge_study: log.csv has 1 problem:"),
        (
            PLAN + '[gauge_study]\nfile = "film.csv"\npart = "serial"\nvalue = "film"\n',
            {},
            "column 'appraiser', whole column: no such column\n"
            "      nearest names: 'serial'. Name it in the plan's [gauge_study].",
        ),
        (PLAN + '[file]\nseparator = ";"\n', {}, 'Set separator = "," in the plan\'s [file].'),
    ],
)
def test_each_misfit_names_key_value_and_way_out(plan: str, changed: dict[str, Any], said: str, tmp_path: Path) -> None:
    done = check(tmp_path, plan, rows(**changed))
    assert done.exit_code == 2
    assert done.stdout.startswith("The plan is not fit for film.csv: ")
    assert said in done.stdout, done.stdout


def test_mixed_units_and_unused_layers_are_said_and_no_problem(tmp_path: Path) -> None:
    table = rows()
    for k in range(0, 40, 2):
        table["in"][k], table["film"][k] = "um", 27.94
    for column, cell in zip(table.values(), ("N1", "clear", 0.5, "mil", "2026-03-01 09:00", 1, "N"), strict=True):
        column.append(cell)
    done = check(tmp_path, table=table)
    assert done.exit_code == 0
    assert "units of measure 'um' 20, 'mil' 21 rows, all to mil" in done.stdout
    assert "1 row of 'clear' is left out: no layer of the plan" in done.stdout
    assert "prime, median 1.1 mil" in done.stdout


def test_both_files_that_a_plan_names_may_be_written_another_way(tmp_path: Path) -> None:
    text = "\n".join(";".join(map(str, row)) for row in zip(*([name, *cells] for name, cells in rows().items()), strict=True))
    (tmp_path / "old.csv").write_text(text.replace(".", ","), encoding="utf-16")
    (tmp_path / "log.csv").write_text("time|what\n04.03.2026 07:00|batch\n", encoding="utf-8")
    written = 'format = {separator = ";", decimal = ",", encoding = "utf-16"}'
    log = 'format = {separator = "|", time_format = "%d.%m.%Y %H:%M"}'
    plan = f'{PLAN}[baseline]\nreadings = "old.csv"\n{written}\n[events]\nfile = "log.csv"\ntext = "what"\n{log}\n'
    done = check(tmp_path, plan, rows())
    assert done.exit_code == 0, done.stdout
    assert "old.csv (baseline): 40 rows, 20 units" in done.stdout
    assert "log.csv: 1 row, 0 of them without a time" in done.stdout


def test_the_files_of_gauges_are_looked_at_too(tmp_path: Path) -> None:
    checks = ["time,gauge,value,stated,in", "2026-03-01 06:00,Q,2.01,2.0,mil", ",Q,2.0,2.0,mil", "2026-03-01 22:00,Q,51,50.8,um"]
    (tmp_path / "checks.csv").write_text("\n".join(checks), encoding="utf-8")
    study = [f"{p},{who},{1 + 0.1 * p + 0.01 * k}" for p in range(4) for who in ("Ann", "Bo") for k in range(2)]
    (tmp_path / "study.csv").write_text("\n".join(["part,appraiser,value", *study]), encoding="utf-8")
    plan = f'{PLAN}[gauge_checks]\nfile = "checks.csv"\nunit_of_measure = "in"\n[gauge_study]\nfile = "study.csv"\n'
    done = check(tmp_path, plan, rows())
    assert done.exit_code == 0, done.stdout
    assert "seen: checks.csv: 3 rows, checks of 'Q' 2; 1 row left out, without a time, a gauge," in done.stdout
    assert "seen: study.csv: gauge study\n" in done.stdout


def test_numbers_far_thicker_than_paint_are_asked_about(tmp_path: Path) -> None:
    thick = PLAN.replace("lower = 1.0\nupper = 1.2", "lower = 25\nupper = 30").replace(
        "lower = 2.0\nupper = 2.4", "lower = 50\nupper = 60"
    )
    found = check(tmp_path, thick, rows(film=lambda film: 25.4 * film))
    assert found.exit_code == 0, found.stdout
    assert "finish, median 55.9 mil, that is 1.4 mm: are these numbers um? Then say unit = 'um' in [measure]" in found.stdout
    assert "prime, median 27.9 mil\n" in found.stdout
    assert "are these numbers um?" not in check(tmp_path, PLAN, rows()).stdout


# -- the oven -----------------------------------------------------------------------------------

OVEN = """
[cure]
recipes = "recipes.csv"
loads = "loads.csv"
columns = {bake = "run"}
"""
RECIPES = "recipe,line,temperature,unit_of_measure,minutes\nslow,schedule,60,C,60\nfast,schedule,80,C,20\n"


def oven(folder: Path, plan: str = OVEN, recipes: str = RECIPES, loads: str = "run,recipe\n1,slow\n2,fast\n") -> Result:
    (folder / "recipes.csv").write_text(recipes, encoding="utf-8")
    (folder / "loads.csv").write_text(loads, encoding="utf-8")
    return check(folder, plan)


@pytest.mark.parametrize("film", ["", PLAN])
def test_the_oven_is_checked_alone_or_with_the_film(film: str, tmp_path: Path) -> None:
    done = oven(tmp_path, film + OVEN)
    assert done.exit_code == 0, done.stdout
    lines = done.stdout.splitlines()
    assert lines[0] == "The plan is fit."
    assert lines[-2:] == ["seen: recipes.csv: 2 recipes ('slow', 'fast')", "seen: loads.csv: 2 bakes"]


@pytest.mark.parametrize("film", ["", PLAN])
@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"plan": OVEN.replace("loads =", "load =")}, "cure.load: unknown key; nearest: 'loads'"),
        ({"plan": OVEN.replace("bake =", "bakes =")}, "cure.columns.bakes: unknown key; nearest: 'bake'"),
        ({"plan": OVEN + "unit = 'R'\n"}, "cure.unit: Input should be 'C' or 'F' (got 'R')"),
        ({"plan": OVEN + "recipe = 'slwo'\n"}, "cure.recipe = 'slwo': no such recipe; nearest: 'slow'"),
        ({"plan": OVEN.replace("recipes.csv", "no.csv")}, "cure.recipes: no.csv has 1 problem:"),
        ({"recipes": RECIPES.replace("60,C,60", "60,C,")}, "cure.recipes: recipes.csv has 1 problem:"),
        ({"loads": "rum,recipe\n1,slow\n"}, "cure.loads: loads.csv has 1 problem:"),
        (
            {"loads": "run,recipe\n1,slow\n7,fats\n8,fats\n"},
            "cure.loads: loads.csv has 'fats' for 2 bakes, first 7: no such recipe; nearest: 'fast'",
        ),
    ],
)
def test_what_is_wrong_with_the_oven_is_named_with_its_way_out(
    film: str, given: dict[str, str], said: str, tmp_path: Path
) -> None:
    given = given | {"plan": film + given.get("plan", OVEN)}
    done = oven(tmp_path, **given)
    assert (done.exit_code, done.stderr) == (2, "")
    assert done.stdout.splitlines()[0] == "The plan is not fit: 1 problem."
    assert done.stdout.splitlines()[1].startswith(f"  {said}")
