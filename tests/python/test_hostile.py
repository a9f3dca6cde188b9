"""A month whose every name is hostile, through the whole of ``steadyfilm review``: nothing steers, runs, hides or gets out."""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from steadyfilm.cli import main

from helpers import shop

MATH, SCRIPT, FORMULA = r"$\bad$", "<script>alert(1)</script>", "=1+1"
PATH, CONTROL, TURNED = "../../x", "bell\x07 red\x1b[31m", "left\u202eright\u2066"
IMAGE, LINES, TEMPLATE = '"><img src=x onerror=alert(1)>', "two\nlines\r\tand\u2028more", "{{7*7}}{% raw %}"
ALL = (MATH, SCRIPT, FORMULA, PATH, CONTROL, TURNED, IMAGE, LINES, TEMPLATE, "@SUM(A1)", "+1", "-1", "&amp;<b>&#60;", "a" * 300)
STEERS = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


def toml(text: str) -> str:
    """A TOML string; what JSON leaves as it is TOML wants escaped as well."""
    return json.dumps(text).replace("\x7f", "\\u007f")


def write_month(folder: Path, *, layer: str, stream: str, column: str) -> tuple[Path, Path]:
    table = shop(step=0.2)
    units = {name: f"{ALL[k % len(ALL)]} {name}" for k, name in enumerate(dict.fromkeys(table["unit"]))}
    table["unit"] = [units[name] for name in table["unit"]]
    table["gun"] = [stream if name == "A" else f"{IMAGE}{name}" for name in table["gun"]]
    days = [text[:10] for text in table["when"]]
    starts = list(dict.fromkeys(days))
    table[column] = [ALL[starts.index(day) // 3 % len(ALL)] for day in days]
    table["coat"] = [layer] * len(days)
    table["film"][5] = -1.0
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(table)
    writer.writerows(zip(*table.values(), strict=True))
    log = io.StringIO()
    writer = csv.writer(log)
    writer.writerow(["time", "what", TURNED])
    writer.writerows([f"{day} 05:30", ALL[k % len(ALL)], CONTROL] for k, day in enumerate(starts[::3]))
    plan = f"""
title = {toml(SCRIPT + TURNED)}
streams = ["gun"]
candidates = [{toml(column)}]
[columns]
unit = "unit"
value = "film"
layer = "coat"
time = "when"
[measure]
unit = "mil"
[[layers]]
name = {toml(layer)}
lower = 1.9
upper = 2.3
miss = "rework"
[baseline]
until = 2026-03-31
[events]
file = "log.csv"
text = ["what", {toml(TURNED)}]
"""
    for name, text in (("film.csv", out.getvalue()), ("log.csv", log.getvalue()), ("plan.toml", plan)):
        (folder / name).write_bytes(text.encode())
    return folder / "film.csv", folder / "plan.toml"


def strings(value: Any) -> Iterator[str]:
    """Every text in a JSON value."""
    if isinstance(value, str):
        yield value
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from strings(item)


class Page(HTMLParser):
    """Every element with its attributes, and all text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


@pytest.mark.parametrize(
    ("layer", "stream", "column"),
    [
        (SCRIPT, MATH, "batch"),
        (MATH, CONTROL, FORMULA),
        (TURNED, LINES, SCRIPT),
        (PATH, TEMPLATE, CONTROL),
        (CONTROL, FORMULA, PATH),
    ],
    ids=["markup", "math", "direction", "path", "control"],
)
def test_hostile_names_are_text_everywhere(layer: str, stream: str, column: str, tmp_path: Path) -> None:
    folder = tmp_path / "in" / "deep"
    folder.mkdir(parents=True)
    readings, plan = write_month(folder, layer=layer, stream=stream, column=column)
    before = set(tmp_path.rglob("*"))
    checked = CliRunner().invoke(main, ["plan", "check", str(plan), str(readings)], catch_exceptions=False)
    assert checked.exit_code == 0, checked.stdout
    out = folder / "out"
    done = CliRunner().invoke(main, ["review", str(readings), "--plan", str(plan), "--out", str(out)], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr

    for text in (checked.stdout, done.stdout, done.stderr):
        assert not STEERS.search(text), STEERS.findall(text)
    # A name with ends of line is no line of its own: verdict, report's path, or a note.
    assert len(done.stdout.splitlines()) <= 6
    assert all(line.startswith("note: ") for line in done.stderr.splitlines())

    assert {path.name for path in tmp_path.rglob("*") if path not in before} == {
        "out",
        "review.html",
        "review.json",
        "review.xlsx",
    }
    assert {path.name for path in out.iterdir()} == {"review.html", "review.json", "review.xlsx"}

    check_page((out / "review.html").read_text(encoding="utf-8"), layer)
    review = json.loads((out / "review.json").read_text(encoding="utf-8"))["review"]
    assert review["layers"][0]["name"] == layer
    # Data stay what they were: the names themselves, with nothing taken away.
    kept = set(strings(review["layers"][0]))
    assert all(any(text.startswith(f"{name} U") for text in kept) for name in ALL)
    assert {stream.strip(), layer} <= kept
    assert not STEERS.search((out / "review.json").read_text(encoding="utf-8"))
    check_workbook((out / "review.xlsx").read_bytes())


def check_page(text: str, layer: str) -> None:
    page = Page(text)
    tags = {tag for tag, _ in page.elements}
    assert not tags & {"script", "img", "iframe", "b", "object", "embed", "link", "form"}
    assert not [name for _, given in page.elements for name in given if name.startswith("on")]
    assert not [
        value
        for _, given in page.elements
        for name, value in given.items()
        if name in ("src", "href") and value and not value.startswith("#")
    ]
    assert not STEERS.search(text.replace("\t", "")), STEERS.findall(text)
    assert "49{%" not in text
    said = "".join(page.words)
    assert any(piece in said for piece in (layer, layer.replace("\x07", "").replace("\x1b", ""), "U+202E"))
    pictures = re.findall(r"<svg\b.*?</svg>", text, re.DOTALL)
    assert pictures
    for picture in pictures:
        root = xml.etree.ElementTree.fromstring(picture)
        assert not [x for x in root.iter() if x.tag.rpartition("}")[2] in ("script", "image", "foreignObject", "a")]


def check_workbook(content: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for name in archive.namelist():
            text = archive.read(name).decode()
            assert not STEERS.search(text.replace("\t", "").replace("\r", "")), (name, STEERS.findall(text))
            root = xml.etree.ElementTree.fromstring(text)
            if name.startswith("xl/worksheets/sheet"):
                assert not [x for x in root.iter() if x.tag.rpartition("}")[2] in ("f", "hyperlink")]
            assert "TargetMode" not in text


def error_lines(folder: Path, rows: list[list[Any]], plan: str) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    (folder / "film.csv").write_text(out.getvalue(), encoding="utf-8", newline="")
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    done = CliRunner().invoke(
        main, ["review", str(folder / "film.csv"), "--plan", str(folder / "plan.toml"), "--out", str(folder / "out")]
    )
    assert done.exit_code in (2, 3)
    assert done.stdout == ""
    return done.stderr


@pytest.mark.parametrize("name", ALL)
def test_errors_do_not_let_a_name_steer_the_terminal(name: str, tmp_path: Path) -> None:
    plan = f"""
columns = {{unit = "unit", value = {toml(name)}, layer = "coat"}}
measure = {{unit = "mil"}}
layers = [{{name = {toml(name)}}}]
"""
    texts = [
        error_lines(tmp_path, [["unit", name, "coat"], ["A", f"no {name}", name]], plan),
        error_lines(tmp_path, [["unit", "film", "coat"], ["A", "2", name]], plan),
        error_lines(tmp_path, [["unit", name, "coat"], ["A", "2", "other"]], plan),
        error_lines(tmp_path, [["unit", "film"], ["A", "2"]], f"{toml(name)} = 1\n" + plan),
        error_lines(tmp_path, [["unit", "film"], ["A", "2"]], plan.replace('"mil"', toml(name))),
    ]
    for text in texts:
        assert text.startswith("steadyfilm: ")
        assert not STEERS.search(text), repr(text)
