"""``steadyfilm template``: an empty workbook and a plan that fit each other and, filled in, are reviewed."""

from __future__ import annotations

import html
import re
import zipfile
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from steadyfilm._files import read_cells
from steadyfilm.cli import main


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)


def parts(path: Path) -> dict[str, str]:
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name).decode() for name in archive.namelist()}


def cell(value: Any) -> str:
    if value is None:
        return "<c/>"
    if isinstance(value, np.datetime64):
        return f'<c t="d"><v>{value}</v></c>'
    return f"<c><v>{value}</v></c>" if isinstance(value, int | float) else f'<c t="inlineStr"><is><t>{value}</t></is></c>'


def fill(path: Path, rows: list[list[Any]]) -> None:
    """Type rows into the entry sheet, as a spreadsheet program would store them."""
    content = parts(path)
    lines = "".join(f"<row>{''.join(map(cell, row))}</row>" for row in rows)
    sheet = "xl/worksheets/sheet1.xml"
    assert content[sheet].count("</sheetData>") == 1
    content[sheet] = content[sheet].replace("</sheetData>", f"{lines}</sheetData>")
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, text in content.items():
            archive.writestr(name, text)
    path.write_bytes(out.getvalue())


def month(columns: list[str], coats: int, places: list[str], readings: int, factor: float) -> list[list[Any]]:
    """Readings of eighty units; each coat is twice as thick as a mil."""
    rng = np.random.default_rng(5)
    rows = []
    for k in range(80):
        when = np.datetime64("2026-03-02T08:00") + np.timedelta64(97 * k, "m")
        film = 0.0
        for coat in range(1, coats + 1):
            film += 2.0 + rng.normal(0, 0.05)
            for place in places:
                for reading in range(1, readings + 1):
                    value = round(factor * (film + rng.normal(0, 0.03)), 2)
                    given = {
                        "unit": f"{k:04d}",
                        "measured": f"after coat {coat}",
                        "place": place,
                        "reading": reading,
                        "thickness": value,
                        "time": when,
                        "gun": f"gun {k % 2 + 1}",
                        "painter": f"painter {k % 3 + 1}",
                        "batch": f"{k // 20}",
                        "attempt": None,
                    }
                    rows.append([given[name] for name in columns])
    return rows


@pytest.mark.parametrize(
    ("options", "coats", "places", "readings", "factor"),
    [
        ([], 2, [f"place {k}" for k in range(1, 6)], 3, 1.0),
        (
            ["--coats", 3, "--unit", "um", "--places", "roof, left & right,<door>", "--readings", 2],
            3,
            ["roof", "left &amp; right", "&lt;door&gt;"],
            2,
            25.4,
        ),
        (["--coats", 1, "--places", 1, "--readings", 1], 1, ["place 1"], 1, 1.0),
    ],
)
def test_a_filled_template_is_reviewed(
    options: list[Any], coats: int, places: list[str], readings: int, factor: float, tmp_path: Path
) -> None:
    folder = tmp_path / "shop"
    done = run("template", folder, *options)
    assert done.exit_code == 0
    assert done.stdout.splitlines()[0] == f"Entry workbook: {folder / 'readings.xlsx'}"
    workbook, plan = folder / "readings.xlsx", folder / "plan.toml"
    assert run("plan", "check", plan).stdout.startswith("The plan is fit.")
    empty = run("plan", "check", plan, workbook)
    assert empty.exit_code == 2
    assert "has column names but no rows" in empty.stdout

    header = re.findall(r'<c r="[A-Z]+1"[^>]*><v>(\d+)</v>', parts(workbook)["xl/worksheets/sheet1.xml"])
    words = re.findall(r"<t[^>]*>([^<]*)</t>", parts(workbook)["xl/sharedStrings.xml"])
    columns = [words[int(at)] for at in header]
    assert ("place" in columns) == (len(places) > 1)
    assert ("reading" in columns) == (readings > 1)
    fill(workbook, month(columns, coats, places, readings, factor))
    fit = run("plan", "check", plan, workbook)
    assert fit.exit_code == 0, fit.stdout
    assert "80 units, 2026-03-02 to 2026-03-07" in fit.stdout
    assert read_cells(workbook, sheet="readings").text("unit")[0] == "0000"

    low, high = (38.1, 63.5) if factor > 1 else (1.5, 2.5)
    limits = (
        plan.read_text(encoding="utf-8")
        .replace("# lower = ", f"lower = {low} #", 1)
        .replace("# upper = ", f"upper = {high} #", 1)
    )
    plan.write_text(limits, encoding="utf-8")
    done = run("review", workbook, "--plan", plan, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    assert done.stdout.startswith("In coat 1")
    assert "no change stands out against the day-to-day variation estimated from the same units, 80 units; " in done.stdout
    assert f"Coat 1: all 80 units keep {low} to {high} {'um' if factor > 1 else 'mil'}." in done.stdout


def test_the_workbook_has_lists_checks_and_notes(tmp_path: Path) -> None:
    run("template", tmp_path, "--coats", 2, "--places", "left,right")
    content = parts(tmp_path / "readings.xlsx")
    entry = content["xl/worksheets/sheet1.xml"]
    assert "lists!$A$1:$A$2" in entry
    assert "lists!$B$1:$B$2" in entry
    assert {kind for kind in ("list", "whole", "decimal", "date") if f'type="{kind}"' in entry} == {
        "list",
        "whole",
        "decimal",
        "date",
    }
    comments = content["xl/comments1.xml"]
    assert "Unit: mil." in comments
    assert comments.count("<comment ") == 10
    words = content["xl/sharedStrings.xml"]
    assert all(word in words for word in ("after coat 2", "left", "right", "what to write", "local date and time"))


def test_the_same_options_give_the_same_bytes_and_nothing_is_overwritten(tmp_path: Path) -> None:
    for folder in ("a", "b"):
        assert run("template", tmp_path / folder).exit_code == 0
    for name in ("readings.xlsx", "plan.toml"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    (tmp_path / "a" / "readings.xlsx").unlink()
    done = run("template", tmp_path / "a")
    assert done.exit_code == 2
    assert "plan.toml is there already" in done.stderr
    assert not (tmp_path / "a" / "readings.xlsx").exists()
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    assert run("template", tmp_path / "taken" / "x").exit_code == 2


@pytest.mark.parametrize("places", ["0", "101", "a,a", "a,,b", ""])
def test_places_that_cannot_be_are_refused(places: str, tmp_path: Path) -> None:
    done = run("template", tmp_path, "--places", places)
    assert done.exit_code == 2
    assert "--places: give a count from 1 to 100" in done.stderr


def test_every_number_of_coats_gives_a_plan(tmp_path: Path) -> None:
    for coats in range(1, 7):
        run("template", tmp_path / str(coats), "--coats", coats)
        plan = sf.load_plan(tmp_path / str(coats) / "plan.toml")
        assert len(plan.layers) == coats + (coats > 1)
        assert [layer.chart for layer in plan.layers] == [True] * coats + [False] * (coats > 1)


def header_of(workbook: Path) -> list[str]:
    content = parts(workbook)
    at = re.findall(r'<c r="[A-Z]+1"[^>]*><v>(\d+)</v>', content["xl/worksheets/sheet1.xml"])
    words = re.findall(r"<t[^>]*>([^<]*)</t>", content["xl/sharedStrings.xml"])
    return [html.unescape(words[int(i)]) for i in at]


@pytest.mark.parametrize(
    ("given", "names"),
    [
        ("gun,booth", ["gun", "booth"]),
        ("painter", ["painter"]),
        (" line 3 , =1+1", ["line 3", "=1+1"]),
        ("<script>alert(1)</script>", ["<script>alert(1)</script>"]),
        ('say "x" \\ ]', ['say "x" \\ ]']),
        ("left\u202eright\x07", ["left<U+202E>right<U+0007>"]),
        ("\u55b7\u67aa,\U0001f600", ["\u55b7\u67aa", "\U0001f600"]),
    ],
)
def test_streams_have_the_shops_own_names(tmp_path: Path, given: str, names: list[str]) -> None:
    done = run("template", tmp_path, "--streams", given)
    assert done.exit_code == 0, done.stderr
    plan = sf.load_plan(tmp_path / "plan.toml")
    assert list(plan.streams) == names
    assert plan.adjust == (() if "painter" in names else ("painter",))
    header = header_of(tmp_path / "readings.xlsx")
    assert [name for name in header if name in names] == names
    assert header.count("painter") == 1
    assert "<f>" not in parts(tmp_path / "readings.xlsx")["xl/worksheets/sheet1.xml"]
    # Every column that the plan names is one of the workbook: an empty one is refused for its rows alone.
    empty = run("plan", "check", tmp_path / "plan.toml", tmp_path / "readings.xlsx")
    assert "no such column" not in empty.stdout
    assert "has column names but no rows" in empty.stdout


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("gun,,booth", "--streams: give different names, separated by commas, for example gun,booth"),
        ("gun,gun", "--streams: give different names"),
        ("", "--streams: give different names"),
        ("thickness", "--streams: 'thickness' is another column of the workbook: give the stream another name"),
        ("x" * 61, "has more than 60 characters"),
    ],
)
def test_streams_that_cannot_be_columns_are_refused(tmp_path: Path, given: str, said: str) -> None:
    done = run("template", tmp_path / "out", "--streams", given)
    assert done.exit_code == 2
    assert said in done.stderr
    assert not (tmp_path / "out").exists()


def test_without_the_option_the_stream_is_the_gun(tmp_path: Path) -> None:
    run("template", tmp_path)
    plan = (tmp_path / "plan.toml").read_text(encoding="utf-8")
    assert re.search(r'^streams = \["gun"\] +# columns whose values are charted apart$', plan, re.MULTILINE)
    assert header_of(tmp_path / "readings.xlsx")[-4:] == ["gun", "painter", "batch", "attempt"]


def test_what_stands_there_as_a_comment_is_a_plan_too(tmp_path: Path) -> None:
    run("template", tmp_path)
    text = (tmp_path / "plan.toml").read_text(encoding="utf-8")
    for line in ("[rules]", "longest_gap_hours = 24", "[screens]", "running_numbers = true"):
        assert f"\n# {line}" in text
        text = text.replace(f"\n# {line}", f"\n{line}")
    plan = sf.read_plan(text)
    assert plan.rules.longest_gap_hours == 24
    assert plan.screens.running_numbers
