"""``steadyfilm gauge``: the demonstration study, another shop's, bad files, the page, its numbers and its workbook."""

from __future__ import annotations

import hashlib
import json
import math
import re
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from gauge_shop import Shop, full_study, options, readings, study_text
from steadyfilm._files import cells_from_bytes
from steadyfilm.cli import main
from steadyfilm.measurability import judge_gauge_cells
from steadyfilm.reports.gauge import gauge_html, gauge_json, gauge_sheets
from steadyfilm.reports.page import RUN_END, RUN_START
from steadyfilm.reports.review import review_html
from steadyfilm.reports.workbook import workbook_bytes
from test_hostile import ALL, STEERS, check_page, check_workbook
from test_report import Page

from helpers import DATASETS, ONE_LAYER, as_csv, load_dataset, shop

WHEN = datetime(2031, 6, 2, 21, 30)


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["gauge", *(str(argument) for argument in arguments)], catch_exceptions=False)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """The demonstration shop's study file and plan, as ``steadyfilm demo`` lays them out."""
    folder = tmp_path_factory.mktemp("shop")
    shop = load_dataset(load_dataset().DEMO)
    shop.write(folder, seed=shop.SEED, months=())
    return folder / "gauge_studies.csv", DATASETS / load_dataset().DEMO / "plan.toml"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "study.csv"
    path.write_text(full_study(), encoding="utf-8")
    return path


# -- the demonstration study --------------------------------------------------------------------------------------------


def test_the_demo_study_is_answered_in_the_first_line(demo: tuple[Path, Path]) -> None:
    file, plan = demo
    done = run(file, "--plan", plan)
    assert done.exit_code == 0
    first, *rest = done.stdout.splitlines()
    # Windows of 0.2 mil are out of reach with either gauge; 0.5 mil needs several readings by several people.
    assert first.startswith(
        "Not every window can be judged: with gauge Q1 (substrate steel), primer no, topcoat no, total yes from 3 "
    )
    assert "with gauge Q2 (substrate aluminum), primer no, topcoat no, total" in first
    assert len(rest) == 6
    # Known outside: 6 GRR over 0.2 and 0.5 of the study on steel, from a linear model and its mixed model.
    assert "a single reading takes 126 % of the window" in rest[0]
    assert "takes 50.5 % of the window" in rest[2]
    assert all(line.startswith("note: ") for line in done.stderr.splitlines())
    assert "the display goes in steps of 0.1 mil, 2 to the window" in done.stderr
    assert run(file, "--plan", plan, "--fail-on", "cannot").exit_code == 4
    assert run(file, "--plan", plan, "--quiet").stdout == ""


def test_the_truth_of_the_drawn_study_is_in_its_interval_and_inputs_have_digests(demo: tuple[Path, Path], tmp_path: Path) -> None:
    file, plan = demo
    assert run(file, "--plan", plan, "--out", tmp_path).exit_code == 0
    drawn = json.loads((tmp_path / "gauge.json").read_text(encoding="utf-8"))["gauge"]["studies"][1]
    page = (tmp_path / "gauge.html").read_text(encoding="utf-8")
    for path in demo:
        assert hashlib.sha256(path.read_bytes()).hexdigest() in page
    # As planted: appraisers 0.03, repeats 0.05, shown in steps of 0.1 mil.
    true = math.sqrt(0.03**2 + 0.05**2 + 0.1**2 / 12)
    assert drawn["name"] == "gauge Q2, substrate aluminum"
    assert drawn["spread"]["grr_lower"] < true < drawn["spread"]["grr_upper"]
    assert drawn["spread"]["repeat"] == pytest.approx(math.sqrt(0.05**2 + 0.1**2 / 12), rel=0.2)


def test_the_plan_may_name_the_study(demo: tuple[Path, Path], tmp_path: Path) -> None:
    file, plan = demo
    (tmp_path / "plan.toml").write_bytes(plan.read_bytes())
    (tmp_path / "gauge_studies.csv").write_bytes(file.read_bytes())
    done = run("--plan", tmp_path / "plan.toml")
    assert done.exit_code == 0
    assert done.stdout == run(file, "--plan", plan).stdout
    assert run().exit_code == 2
    assert "no study: name its file, or a --plan with a [gauge_study]" in run().stderr


def test_a_review_says_the_verdict_of_the_study_that_its_plan_names(tmp_path: Path, study: Path) -> None:
    (tmp_path / "film.csv").write_text(as_csv(shop(days=10)), encoding="utf-8")
    plan = ONE_LAYER.replace("until = 2026-03-31", "until = 2026-03-16") + '[gauge_study]\nfile = "study.csv"\n'
    found = sf.review_files(tmp_path / "film.csv", sf.read_plan(plan, folder=tmp_path))
    alone = sf.judge_planned_study(sf.read_plan(plan, folder=tmp_path))
    assert found.measurability == alone.sentence()
    assert found.measurability.startswith("This gauge can judge film (1.9 to 2.3 mil) with the average of ")
    assert found.inputs["gauge study: study.csv"] == hashlib.sha256(study.read_bytes()).hexdigest()
    # Its own row of the three answers; conformance and stability are what they are without a study.
    without = sf.review_files(tmp_path / "film.csv", sf.read_plan(plan[: plan.index("[gauge_study]")], folder=tmp_path))
    assert (found.verdict, found.stable) == (without.verdict, without.stable)
    page, plain = (review_html(review, when=WHEN) for review in (found, without))
    row = re.search(r"Can the gauge tell\?</th><td>all layers</td><td>(.*?)</td><td>(.*?)</td>", page)
    assert row is not None
    assert row[1].startswith("this gauge can judge film (1.9 to 2.3 mil)")
    assert "Can the gauge tell?</th><td>all layers</td><td>not judged</td><td>needs a gauge study</td>" in plain
    study.write_text("part,appraiser,value\nA,x,thick\n", encoding="utf-8")
    with pytest.raises(sf.InvalidInputError, match=r"study.csv has 1 problem:\n  column 'value', line 2"):
        sf.review_files(tmp_path / "film.csv", sf.read_plan(plan, folder=tmp_path))


# -- options and another shop -------------------------------------------------------------------------------------------


def test_another_shop_with_its_own_words_and_decimal_comma(tmp_path: Path) -> None:
    shop = Shop()
    path = tmp_path / "messung.txt"
    path.write_bytes(study_text(shop).encode())
    done = run(path, *options(shop), "--window", "50,0", "80,0", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    film = readings(shop)
    ev = math.sqrt(film.var(axis=2, ddof=1).mean())
    assert done.stdout.startswith("This gauge can judge 50 to 80 um with single readings: one takes ")
    share = float(re.search(r"one takes ([\d.]+) %", done.stdout)[1])  # type: ignore[index]  # a miss fails the test
    # Eight panels, two people, four repeats: repeats are nearly all of it.
    assert share == pytest.approx(100 * 6 * ev / 30, rel=0.25)
    text = (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    assert "Früh" in text
    assert "Spät" in text
    assert done.stdout.splitlines()[-1] == f"Report: {tmp_path / 'out' / 'gauge.html'}"


def test_windows_from_the_line_go_before_those_of_the_plan(demo: tuple[Path, Path]) -> None:
    file, plan = demo
    done = run(file, "--plan", plan, "--window", "2", "4", "--window", "2.5", "-", "--apart", "gauge")
    wanted = "Every window can be judged: with gauge Q1, 2 to 4 mil yes from single readings, a limit of at least 2.5 mil"
    assert done.stdout.splitlines()[0].startswith(wanted)


def test_a_share_and_a_bias_of_ones_own(study: Path) -> None:
    asked = (study, "--unit", "mil", "--window", "3.0", "3.5")
    assert run(*asked, "--share", "60").stdout.startswith("This gauge can judge 3.0 to 3.5 mil with single")
    assert "at most 10 % wanted), and no number of readings" in run(*asked, "--share", "10").stdout
    few = run(*asked, "--most-readings", "2").stdout
    assert few.startswith("This gauge cannot judge 3.0 to 3.5 mil")
    assert "to keep 30 % takes 3 readings (one by each of 3 appraisers)" in few


def test_one_appraiser_and_lost_readings(tmp_path: Path) -> None:
    names = {"part": "p", "appraiser": "a", "trial": "t", "value": "v"}
    shop = Shop(appraisers=("x",), columns=names, decimal=".", separator=",")
    path = tmp_path / "one.csv"
    path.write_text(study_text(shop), encoding="utf-8")
    how = ["--column", "part=p", "--column", "trial=t", "--column", "value=v", "--unit", "um", "--window", "40", "100"]
    done = run(path, *how, "--column", "appraiser=", "--out", tmp_path / "out")
    assert done.exit_code == 0
    assert "One appraiser took part" in (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    pair = Shop(columns=shop.columns, decimal=".", separator=",")
    path.write_text(study_text(pair, leave_out=((2, 1, 0), (2, 1, 3))), encoding="utf-8")
    done = run(path, *how, "--column", "appraiser=a", "--drop-parts")
    assert done.exit_code == 0, done.stderr
    lines = [k for k, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1) if line.endswith(",")]
    assert f"note: 2 readings not taken (line {lines[0]}, {lines[1]}): the study is computed from those" in done.stderr


def test_a_study_with_lost_readings_is_computed_and_says_how(tmp_path: Path) -> None:
    rows = full_study().splitlines()
    lost = [7, 19, 42, 79]
    path = tmp_path / "lost.csv"
    path.write_text(
        "\n".join(f"{row.rpartition(',')[0]}," if k in lost else row for k, row in enumerate(rows, 1)), encoding="utf-8"
    )
    done = run(path, "--unit", "mil", "--window", "3.0", "3.5", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    # 4 of 90 readings less move the 50.5 % of the full study by little.
    found = json.loads((tmp_path / "out" / "gauge.json").read_text(encoding="utf-8"))["gauge"]
    assert found["studies"][0]["windows"][0]["share"] == pytest.approx(0.505, abs=0.02)
    assert found["made"]["missing_rows"] == lost
    page = (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    assert "86 readings used; 4 not taken (line 7, 19, 42, 79)" in page
    assert "86 readings: 10 parts, 3 appraisers; every appraiser reads every part; restricted maximum likelihood" in page


def test_a_destructive_study_is_nested_and_refused_as_crossed(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    lines = ["part,appraiser,value"]
    for who in "ABC":
        for part in range(6):
            film = 60 + 8 * rng.standard_normal()
            lines += [f"{who}{part},{who},{film + 1.5 * rng.standard_normal():.1f}" for _ in range(2)]
    path = tmp_path / "nested.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    how = (path, "--unit", "um", "--window", "40", "80")
    refused = run(*how)
    assert (refused.exit_code, refused.stdout) == (3, "")
    assert "let each appraiser read every part, or give --nested" in refused.stderr
    done = run(*how, "--nested", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    assert "each part belongs to one appraiser" in (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    repeat = json.loads((tmp_path / "out" / "gauge.json").read_text(encoding="utf-8"))["gauge"]["studies"][0]["spread"]["repeat"]
    pairs = np.array([float(line.split(",")[2]) for line in lines[1:]]).reshape(-1, 2)
    assert repeat == pytest.approx(math.sqrt((np.diff(pairs) ** 2 / 2).mean()), rel=1e-9)


WRONG = [
    (["--window", "2.2", "2.0"], 2, "--window 2.2 2.0: 2.2 must lie below 2"),
    (["--window", "-", "-"], 2, "no limit at all"),
    (["--window", "2.0", "wide"], 2, "'wide' is no number; give two limits, - for one that is absent"),
    (["--window", "2.0"], 2, "requires 2 arguments"),
    (["--unit", "inch"], 2, "'inch' is not one of"),
    (["--column", "part=Xyz"], 3, "columns present: 'part', 'appraiser', 'trial', 'value'. Say which with --column WHAT=NAME"),
    (["--column", "value=valu"], 3, "column 'valu', whole column: no such column\nnearest names: 'value'"),
    (["--column", "trial=trail"], 3, "nearest names: 'trial'"),
    (["--column", "prat=Xyz"], 2, "--column prat=Xyz: write WHAT=NAME, with WHAT one of part, appraiser"),
    (["--column", "part="], 2, "--column part=: a study has no figures without that column"),
    (["--decimal", ","], 3, "the decimal sign and the separator are both ','"),
    (["--separator", ";"], 3, 'Give --separator ",".'),
    (["--header-line", "200"], 3, "study.csv"),
    (["--plan", "none.toml"], 2, "cannot read the plan"),
    (["--apart", "value", "--unit", "mil"], 3, "column 'value', whole column: holds 60 studies, more than 40"),
    ([], 3, "name the file's column of units with --column unit_of_measure=NAME, or say which with --unit"),
]


@pytest.mark.parametrize(("given", "code", "words"), WRONG, ids=[" ".join(given) for given, _, _ in WRONG])
def test_wrong_use_names_the_option_that_is_the_way_out(given: list[str], code: int, words: str, study: Path) -> None:
    done = run(study, *given)
    assert (done.exit_code, done.stdout) == (code, "")
    assert words in done.stderr
    assert "in the plan's" not in done.stderr


BAD = [
    ("A,x,1,2.1\nA,x,2,thick\n", "column 'value', line 3, value 'thick': is not a number\n", "give their word with --missing."),
    ('A,x,1,"2,1"\nA,x,2,"2,2"\n', "line 2, value '2,1': is not a number", "with ',' as decimal sign: give --decimal ','."),
    ("A,x,1,2.1\nA,x,1,2.2\nB,x,1,2\n", "line 3, value '1': stands twice for part 'A', appraiser 'x'", "Take out the row"),
    ("A,,1,2.1\n", "column 'appraiser', line 2, value '': is empty", "Fill them in"),
    ("A,x,1,2.1,3\n", "line 2", "must stand in double quotes"),
]


@pytest.mark.parametrize(("rows", "problem", "way"), BAD, ids=[str(k) for k in range(len(BAD))])
def test_a_bad_file_is_told_by_column_line_value_and_way_out(rows: str, problem: str, way: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text("part,appraiser,trial,value\n" + rows, encoding="utf-8")
    done = run(path, "--unit", "mil", "--window", "2.0", "2.2")
    assert (done.exit_code, done.stdout) == (3, "")
    assert done.stderr.startswith("steadyfilm: bad.csv has 1 problem") or "2 problems" in done.stderr
    assert problem in done.stderr
    assert way in done.stderr, done.stderr
    assert "plan" not in done.stderr


# Small whole studies of two appraisers: part, appraiser, value.
FOUR_PARTS = [(part, who, k) for part in "ABCD" for who in "xy" for k in range(2)]
UNUSUAL = {
    "constant": (
        [(p, w, 3.1) for p, w, _ in FOUR_PARTS],
        0,
        "This gauge is not judged for 2.5 to 3.5 mil: GRR is 0, since the display",
    ),
    "repeats that never differ": (
        [(p, w, 3.0 + 0.1 * "ABCD".index(p)) for p, w, _ in FOUR_PARTS],
        0,
        "This gauge is not judged for 2.5 to 3.5 mil: GRR is 0, since the display is too coarse",
    ),
    "grades": ([(p, w, "good" if k else "bad") for p, w, k in FOUR_PARTS], 3, "compared as agreement between judges instead."),
    "one word": (
        [(p, w, "good" if i == 3 else 3.0 + 0.1 * i) for i, (p, w, _) in enumerate(FOUR_PARTS)],
        3,
        "line 5, value 'good': is not a number\nCorrect them",
    ),
    "two spellings": (
        [(p.lower() if k else p, w, 3.0 + 0.1 * i) for i, (p, w, k) in enumerate(FOUR_PARTS)],
        0,
        "note: part labels that differ in capitals or spaces alone count as different: 'A' and 'a', 'B' and 'b', 'C' and 'c', ",
    ),
    "one part, one appraiser": ([("A", "x", 3.0), ("A", "x", 3.1)], 3, "shows nothing but repeats: read two parts or more"),
    "one reading a part": (
        [("A", "x", 3.0), ("B", "x", 3.1)],
        3,
        "each part was read once, so that repeatability cannot be told",
    ),
    "each by one": ([("A", "x", 3.0), ("A", "x", 3.1), ("B", "y", 3.2), ("B", "y", 3.0)], 3, "give --nested"),
}


@pytest.mark.parametrize("case", UNUSUAL)
def test_an_unusual_study_is_computed_as_said_or_refused_with_what_it_lacks(case: str, tmp_path: Path) -> None:
    rows, code, words = UNUSUAL[case]
    path = tmp_path / "study.csv"
    lines = ["part,appraiser,value", *(",".join(map(str, row)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = run(path, "--unit", "mil", "--window", "2.5", "3.5")
    assert done.exit_code == code, done.stderr
    assert words in (done.stderr if code else done.stdout + done.stderr)


def test_all_columns_that_are_not_there_are_named_at_once(tmp_path: Path) -> None:
    path = tmp_path / "study.csv"
    path.write_text("panel,who,mils\nA,x,3.0\n", encoding="utf-8")
    told = run(path, "--unit", "mil", "--window", "2.5", "3.5").stderr
    assert all(f"column '{name}', whole column: no such column" in told for name in ("part", "appraiser", "value"))
    assert "columns present: 'panel', 'who', 'mils'. Say which with --column WHAT=NAME" in told


def test_a_study_without_scatter_judges_no_window(tmp_path: Path) -> None:
    path = tmp_path / "study.csv"
    path.write_text("part,appraiser,value\n" + "".join(f"{p},{w},3.1\n" for p, w, _ in FOUR_PARTS), encoding="utf-8")
    done = run(path, "--unit", "mil", "--window", "2.5", "3.5", "--fail-on", "cannot", "--out", tmp_path / "out")
    assert done.exit_code == 4
    assert "can judge" not in (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    assert "is taken to err there" not in done.stdout + done.stderr


def test_other_kinds_of_file_are_told_by_their_bytes(tmp_path: Path) -> None:
    from steadyfilm.reports.workbook import Sheet

    rows = [line.split(",") for line in full_study().splitlines()]
    cells = tuple((p, a, int(t), float(v)) for p, a, t, v in rows[1:])
    path = tmp_path / "study.csv"  # its name says another kind
    path.write_bytes(workbook_bytes((Sheet("readings", tuple(rows[0]), cells),), title="study"))
    done = run(path, "--unit", "mil", "--window", "3.0", "3.5")
    assert "takes 50.5 % of the window" in done.stdout
    assert run(tmp_path / "none.csv").exit_code == 3


# -- the page -----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def found(demo: tuple[Path, Path]) -> sf.Measurability:
    file, plan = demo
    return sf.judge_gauge_file(file, sf.plan_windows(sf.load_plan(plan)), title="Shop")


@pytest.fixture(scope="module")
def text(found: sf.Measurability) -> str:
    return gauge_html(found, when=WHEN)


def test_the_page_leads_with_the_answer_and_ends_with_care(text: str, found: sf.Measurability) -> None:
    page = Page(text)
    assert page.open == []
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    start = text[text.index("<main>") :][:1200]
    assert "It depends on the window" in start
    assert found.verdict[0] in start
    order = ["Window by window", "What to do next", "<h2>Gauge Q1, substrate steel", "<h2>Gauge Q2", "<h2>Data"]
    order += ["How it was done", "Before anybody acts"]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    assert text.count("Before anybody acts") == 1
    for term in ("EV", "AV", "GRR", "PV", "TV", "ndc"):
        assert re.search(rf"\b{term}\b", text), term


def test_the_page_needs_nothing_else_and_every_picture_has_words_and_a_table(text: str) -> None:
    check_page(text, "primer")
    page = Page(text)
    pictures = page.all("svg")
    assert len(pictures) == 1 + 2 * (3 + 2 * 3)
    assert all(picture["role"] == "img" for picture in pictures)
    assert text.count("<figure>") == len(pictures) == text.count("</table>\n\n</details>\n</figure>")
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_the_same_study_gives_the_same_bytes_with_its_digest() -> None:
    cells = cells_from_bytes(full_study().encode(), name="study.csv")
    found, again = (judge_gauge_cells(cells, sf.SpecLimits(3.0, 3.5), unit="mil") for _ in range(2))
    text, later = gauge_html(found, when=WHEN), gauge_html(again, when=datetime(2032, 1, 1))
    assert later != text

    def outside(page: str) -> str:
        return page[: page.index(RUN_START)] + page[page.index(RUN_END) + len(RUN_END) :]

    assert outside(later) == outside(text)
    digest = re.search(r"SHA-256 <code>(\w+)</code>; the same", text)
    assert digest is not None
    whole = text[: text.index(RUN_START)] + RUN_START + RUN_END + text[text.index(RUN_END) + len(RUN_END) :]
    assert hashlib.sha256(whole.encode()).hexdigest() == digest[1]
    content = json.loads(gauge_json(found, when=WHEN))
    plain = json.dumps(content["gauge"], ensure_ascii=False, sort_keys=True)
    assert hashlib.sha256(plain.encode()).hexdigest() == content["sha256_of_gauge"]
    assert content["gauge"]["verdict"] == list(found.verdict)
    assert workbook_bytes(gauge_sheets(found), title="x") == workbook_bytes(gauge_sheets(found), title="x")


def test_the_workbook_holds_every_reading_and_component(found: sf.Measurability) -> None:
    sheets = {sheet.name: sheet for sheet in gauge_sheets(found)}
    assert all(len(row) == len(sheet.head) for sheet in sheets.values() for row in sheet.rows)
    assert len(sheets["Readings"].rows) == 180
    assert len(sheets["Windows"].rows) == 6
    sources = {row[2] for row in sheets["Components"].rows}
    assert sources >= {"repeatability", "appraiser", "part x appraiser", "grr", "part", "total"}
    assert sheets["Windows"].head[2] == "from (mil)"


def test_hostile_labels_are_text_everywhere(tmp_path: Path) -> None:
    names = {"part": ALL[1], "appraiser": ALL[0], "trial": ALL[2], "value": ALL[6]}
    shop = Shop(labels=tuple(ALL), appraisers=(ALL[1], ALL[4], ALL[5], ALL[7].strip()), trials=2, columns=names)
    path = tmp_path / "study.csv"
    path.write_bytes(study_text(shop).encode())
    done = run(path, *options(shop), "--window", "50", "80", "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    for told in (done.stdout, done.stderr):
        assert not STEERS.search(told)
    assert len(done.stdout.splitlines()) == 2
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"gauge.html", "gauge.json", "gauge.xlsx"}
    check_page((tmp_path / "out" / "gauge.html").read_text(encoding="utf-8"), ALL[1])
    assert not STEERS.search((tmp_path / "out" / "gauge.json").read_text(encoding="utf-8"))
    kept = json.loads((tmp_path / "out" / "gauge.json").read_text(encoding="utf-8"))["gauge"]["studies"][0]["study"]
    assert set(kept["appraisers"]) == set(shop.appraisers)
    check_workbook((tmp_path / "out" / "gauge.xlsx").read_bytes())


def test_without_a_window_the_page_says_what_is_missing(study: Path, tmp_path: Path) -> None:
    done = run(study, "--unit", "mil", "--out", tmp_path / "out")
    assert done.exit_code == 0
    assert done.stdout.startswith("Whether the gauge can tell is not answered: no window was given")
    assert "No window given" in (tmp_path / "out" / "gauge.html").read_text(encoding="utf-8")
    assert run(study, "--unit", "mil", "--fail-on", "cannot").exit_code == 4


def test_a_study_that_reads_without_error_is_drawn_and_not_judged(tmp_path: Path) -> None:
    rows = [f"{p},{who},{10 + p}" for p in range(4) for who in "ab" for _ in range(2)]
    cells = cells_from_bytes(("part,appraiser,value\n" + "\n".join(rows)).encode(), name="s.csv")
    found: Any = judge_gauge_cells(cells, sf.SpecLimits(10.0, 12.0), unit="um")
    page = gauge_html(found, when=WHEN)
    assert found.judgeable is False
    assert "is not judged for 10 to 12 um: GRR is 0" in page
    assert "0 % of the window" not in page.split("<details")[0]
    assert not np.isnan(found.studies[0].spread.grr)


def test_an_output_folder_that_cannot_be_written_is_a_usage_error(study: Path, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    done = run(study, "--unit", "mil", "--out", tmp_path / "taken" / "out")
    assert done.exit_code == 2
    assert "cannot write the report to" in done.stderr
