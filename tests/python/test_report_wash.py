"""The page, the numbers, the workbook, the picture and the command of a washer's review."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
import xml.etree.ElementTree as ET
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import steadyfilm as sf
from steadyfilm._files import read_cells
from steadyfilm.cli import main
from steadyfilm.plots.wash_review import plot_wash
from steadyfilm.reports.page import RUN_END, RUN_START
from steadyfilm.reports.wash import wash_html, wash_json, write_wash
from test_wash_review import PLAN, example_results, feed_plan, hours, meter, shop

NOON = datetime(2026, 5, 4, 12, 0)


@pytest.fixture(scope="module")
def months(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's own files and plan."""
    folder = tmp_path_factory.mktemp("months")
    shop.write(folder)
    shutil.copyfile(PLAN, folder / "plan.toml")
    return folder


@pytest.fixture(scope="module")
def demo(months: Path) -> sf.WashReview:
    return sf.review_wash_files(months / "plan.toml")


class _Page(HTMLParser):
    """Text and tags of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_the_page_opens_with_the_verdict_and_shows_every_tank(demo: sf.WashReview) -> None:
    page = _Page(wash_html(demo, when=NOON))
    text = " ".join(page.words)
    assert text.index("The use of phosphate had changed") < text.index(demo.verdict[0]) < text.index("What changed")
    for line in demo.verdict:
        assert line in text
    assert page.tags.count("svg") == 2
    assert "script" not in page.tags
    assert "-100 %" in text
    assert "look at pump, suction line" in text


def test_the_safety_text_stands_once_and_nothing_advises_what_it_must_not(demo: sf.WashReview) -> None:
    html = wash_html(demo, when=NOON)
    assert html.count("Before anybody acts on this") == 1
    assert html.count("Nothing here is a permission to operate") == 1
    text = " ".join(_Page(html).words).lower()
    for phrase in ("lower the exhaust", "less exhaust", "reduce the exhaust", "more units", "exposure is", "safe to", "pour in "):
        assert phrase not in text
    assert "says nothing about exposure" in text
    assert "what may be added, how much at a time, in which order and with what protection" in text


def test_the_same_review_gives_the_same_page_but_for_the_marked_block(demo: sf.WashReview) -> None:
    one, two = (wash_html(demo, when=when) for when in (NOON, datetime(2027, 1, 1)))

    def outside(page: str) -> str:
        return page[: page.index(RUN_START)] + page[page.index(RUN_END) + len(RUN_END) :]

    assert one != two
    assert outside(one) == outside(two)


def test_the_big_word_says_how_things_stand() -> None:
    steady = {"feed": meter(np.full((10, 8), 0.5)), "titrations": {"time": hours(9), "value": [2.5] * 9}}
    out = {"titrations": {"time": hours(4), "value": [2.5, 2.5, 2.5, 1.9]}}
    for tables, word in (
        (steady, "No change in use"),
        (out, "Bath is outside its band"),
        ({"titrations": {"time": hours(4), "value": [2.5, 1.9, 2.5, 2.5]}}, "A titration was outside its band"),
        ({"titrations": {"time": hours(4), "value": [2.5] * 4}}, "Use cannot be told"),
    ):
        assert f'<p class="word">{word}</p>' in wash_html(sf.review_wash(feed_plan(), tables), when=NOON)
    lasting = wash_html(example_results()[0], when=NOON)
    assert '<p class="word">The use of bath has changed</p>' in lasting


def test_names_from_a_file_are_shown_and_never_run() -> None:
    name = '<script>alert(1)</script>"&'
    plan = feed_plan(tanks=[{"name": name, "unit": "gal"}])
    found = sf.review_wash(plan, {"feed": meter(np.full((10, 8), 0.5)) | {"tank": [name] * 90}})
    html = wash_html(found, when=NOON)
    assert "<script" not in html
    assert "&lt;script&gt;" in html


def test_the_numbers_are_those_of_the_review_and_carry_their_digest(demo: sf.WashReview) -> None:
    whole = json.loads(wash_json(demo, when=NOON))
    assert set(whole) == {"wash", "sha256_of_wash", "run"}
    text = json.dumps(whole["wash"], ensure_ascii=False, allow_nan=False, sort_keys=True)
    assert hashlib.sha256(text.encode()).hexdigest() == whole["sha256_of_wash"]
    told = whole["wash"]["tanks"][1]["changes"][0]
    assert (told["tank"], told["start"], told["share"]) == ("phosphate", "2025-03-26 06:00", -1.0)
    assert set(whole["wash"]["inputs"]) >= {"plan.toml", "chemical_feed.csv", "baseline/chemical_feed.csv"}


def test_writing_gives_three_files_and_the_workbook_holds_every_titration(demo: sf.WashReview, tmp_path: Path) -> None:
    files = write_wash(demo, tmp_path / "new" / "folder", when=NOON)
    assert files.html.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert files.workbook is not None
    cells = read_cells(files.workbook, sheet="Titrations")
    assert len(cells.lines) == 168
    assert cells.text("state").count("outside") == 5
    assert read_cells(files.workbook, sheet="Changes").text("tank") == ["phosphate"]


def test_the_picture_draws_the_numbers_of_the_files(demo: sf.WashReview, months: Path) -> None:
    drawn = plot_wash(demo)
    assert drawn.title == demo.changes[0].sentence
    with (months / "demo" / "wash_checks.csv").open(encoding="utf-8") as file:
        rows = [x for x in csv.DictReader(file) if (x["tank"], x["quantity"]) == ("phosphate", "concentration")]
    assert drawn.data["percent"].tolist() == [float(x["value"]) for x in rows]
    assert drawn.data["outside"].tolist() == [k for k, x in enumerate(rows) if float(x["value"]) < 2.5]
    with (months / "demo" / "chemical_feed.csv").open(encoding="utf-8") as file:
        total = np.array([float(x["total"]) for x in csv.DictReader(file)]).reshape(21, 9)
    assert drawn.data["hour_rate"] == pytest.approx((np.diff(total, axis=1) / 2.0).ravel())
    assert drawn.data["hour_signals"].size == 16
    assert [axes.get_ylabel() for axes in drawn.axes.values()] == [
        "titration (%)",
        "fed (gal/h)",
        "used by area\n(gal/1000 ft2)",
    ]
    labels = [x.get_text() for x in drawn.artists["lines"] if hasattr(x, "get_text")]
    assert {"band from 2.5 %", "band to 3.5 %"} <= set(labels)
    # The band and the limits differ in dashes and width, the marks of signals in shape and size.
    lines = [x for x in drawn.artists["lines"] if hasattr(x, "get_linestyle")]
    assert len({(x.get_linewidth(), str(x._dash_pattern)) for x in lines}) == 3
    assert {x.get_marker() for x in (*drawn.artists["outside"], *drawn.artists["signals"])} == {"v"}
    assert ET.fromstring(drawn.svg()).tag.endswith("svg")
    with pytest.raises(sf.InvalidInputError, match="no tank 'x'"):
        plot_wash(demo, tank="x")


def test_what_has_nothing_on_file_is_not_drawn() -> None:
    plan = feed_plan(tanks=[{"name": "a", "unit": "gal"}, {"name": "b", "unit": "gal"}])
    feed = meter(np.full((10, 8), 0.5)) | {"tank": ["a"] * 90}
    found = sf.review_wash(plan, {"feed": feed})
    assert plot_wash(found).data["hour_rate"].size == 80
    with pytest.raises(sf.InvalidInputError, match="nothing is on file of tank 'b'"):
        plot_wash(found, tank="b")
    assert any("the use of b: no meter and no two additions are on file" in line for line in found.verdict)
    assert wash_html(found, when=NOON).count("<svg") == 1


# -- the command --------------------------------------------------------------------------------


def invoke(*words: str) -> Any:
    return CliRunner().invoke(main, ["wash", *words])


def test_the_command_says_the_verdict_first_and_where_the_report_is(months: Path, tmp_path: Path) -> None:
    done = invoke("--plan", str(months / "plan.toml"), "--out", str(tmp_path / "out"))
    assert done.exit_code == 0
    assert done.stdout.startswith("Phosphate feed delivered nothing from Mar 26, 06:00 to Mar 27, 22:00 (usually 0.36 gal/h); ")
    assert done.stdout.rstrip().endswith("wash.html")
    assert sorted(x.name for x in (tmp_path / "out").iterdir()) == ["wash.html", "wash.json", "wash.xlsx"]
    quiet = invoke("-q", "--plan", str(months / "plan.toml"), str(months / "quiet"))
    assert (quiet.exit_code, quiet.stdout) == (0, "")


def test_exit_codes_tell_what_happened(months: Path, tmp_path: Path) -> None:
    plan = ["--plan", str(months / "plan.toml")]
    assert invoke(*plan, "--fail-on", "signal").exit_code == 4
    assert invoke(*plan, str(months / "quiet"), "--fail-on", "signal").exit_code == 0
    assert invoke().exit_code == 2
    assert invoke("--plan", str(tmp_path / "none.toml")).exit_code == 2
    (tmp_path / "plan.toml").write_text('[wash]\ntank = [{name = "a", unit = "gal"}]\n', encoding="utf-8")
    bad = invoke("--plan", str(tmp_path / "plan.toml"))
    assert bad.exit_code == 2
    assert "wash.tank: unknown key; nearest: 'tanks'" in bad.stderr
    (tmp_path / "plan.toml").write_text("[cure]\n", encoding="utf-8")
    assert "has no [wash] table" in invoke("--plan", str(tmp_path / "plan.toml")).stderr
    nowhere = invoke(*plan, str(tmp_path / "nowhere"))
    assert nowhere.exit_code == 3
    assert "is no folder" in nowhere.stderr
    absent = invoke(*plan, "--feed", str(tmp_path / "nowhere.csv"))
    assert absent.exit_code == 3
    assert "cannot be read" in absent.stderr


def test_without_log_of_events_or_areas_it_says_what_cannot_be_told(months: Path, tmp_path: Path) -> None:
    for name in ("wash_checks", "chemical_feed", "chemical_additions"):
        shutil.copyfile(months / "demo" / f"{name}.csv", tmp_path / f"{name}.csv")
    done = invoke("--plan", str(months / "plan.toml"), str(tmp_path))
    assert done.exit_code == 0
    assert "Phosphate feed delivered nothing from Mar 26, 06:00" in done.stdout
    assert "Cannot be told: use by painted area: no file of painted area" in done.stdout
    assert "Cannot be told: what was done at the tanks: no log of events is on file." in done.stdout
    assert "note: output.csv is not there." in done.stderr
    assert "feed pump freed" not in done.stdout
    alone = invoke("--plan", str(months / "plan.toml"), str(tmp_path / "."), "--area", str(months / "demo" / "output.csv"))
    assert "no file of painted area" not in alone.stdout


def test_a_plan_is_checked_with_the_washers_files(months: Path, tmp_path: Path) -> None:
    whole = CliRunner().invoke(main, ["plan", "check", str(months / "plan.toml")])
    assert whole.exit_code == 0
    assert "seen: tank phosphate: 84 titrations, 168 intervals of use, 1 addition" in whole.stdout
    alone = tmp_path / "washer.toml"
    feed = '{file = "chemical_feed.csv"}'
    alone.write_text(f'[wash]\nfeed = {feed}\ntanks = [{{name = "phosphate", unit = "gal"}}]\n', encoding="utf-8")
    absent = CliRunner().invoke(main, ["plan", "check", str(alone)])
    assert absent.exit_code == 2
    assert "wash.feed.file: " in absent.stdout
    shutil.copyfile(months / "demo" / "chemical_feed.csv", tmp_path / "chemical_feed.csv")
    assert CliRunner().invoke(main, ["plan", "check", str(alone)]).exit_code == 0
    alone.write_text(alone.read_text(encoding="utf-8").replace('"phosphate"', '"x"'), encoding="utf-8")
    other = CliRunner().invoke(main, ["plan", "check", str(alone)])
    assert other.exit_code == 2
    assert "no row is of a tank of the plan (x); tanks there: 'phosphate'" in other.stdout


def test_single_files_may_stand_in_place_and_a_workbook_serves(months: Path, tmp_path: Path) -> None:
    import polars as pl

    book = tmp_path / "meter.bin"
    with book.open("wb") as file:
        pl.read_csv(months / "demo" / "chemical_feed.csv").write_excel(file)
    done = invoke("--plan", str(months / "plan.toml"), "--feed", str(book))
    assert done.exit_code == 0
    assert done.stdout == invoke("--plan", str(months / "plan.toml")).stdout
