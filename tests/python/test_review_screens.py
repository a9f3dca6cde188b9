"""Patterns in the readings, told by a review and by ``steadyfilm screen``: about data, in the file's lines, with their rates."""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from steadyfilm.cli import main
from steadyfilm.reports.review import review_html, review_json
from steadyfilm.reports.workbook import review_sheets

from helpers import as_csv
from screens_shop import (
    COLUMNS,
    LIMITS,
    Rows,
    drop,
    gates,
    leave_out,
    lift_to_limit,
    pick,
    read_again_where_low,
    write_one_down_thrice,
)

PLAN = """
streams = ["turn"]
[columns]
unit = "gate"
layer = "coat"
location = "place"
repeat = "nth"
value = "um"
unit_of_measure = "in"
time = "at"
gauge = "meter"
[measure]
unit = "um"
[[layers]]
name = "base"
lower = 32
upper = 46
[[layers]]
name = "finish"
lower = 80
upper = 110
[screens]
groups = ["crew", "turn"]
"""
WHEN = datetime(2031, 6, 2, 21, 30)
ABOUT_PEOPLE = re.compile(r"\b(fraud|cheat\w*|fak\w+|lie[sd]?|lying|guilt\w*|invent\w*|made up|he|she|who)\b", re.IGNORECASE)


def faulty() -> tuple[Rows, Rows]:
    """A month with all four patterns: readings lifted, low places read again, repeats alike and units unread on one turn."""
    rows, listed = leave_out(gates(3, units=200), 3, share=0.02)
    rows = read_again_where_low(rows, 3, share=0.6)
    lift_to_limit(rows, 3, coat="base", share=0.9, reach=1.0)
    write_one_down_thrice(rows, pick(rows, turn="night", coat="finish", meter="M7"), 3)
    gone = {g for k, (g, t) in enumerate(zip(listed["gate"], listed["turn"], strict=True)) if t == "night" and k % 3 == 0}
    return drop(rows, {i for i, gate in enumerate(rows["gate"]) if gate in gone}), listed


@pytest.fixture(scope="module")
def told() -> sf.Review:
    rows, listed = faulty()
    return sf.review_readings(rows, sf.read_plan(PLAN), painted=listed)


def test_all_four_patterns_are_told_by_the_review(told: sf.Review) -> None:
    screens = {pattern.screen for pattern in told.screening.patterns}
    assert screens >= {"pile-up inside a limit", "extra readings at low places", "repeats too alike", "units without readings"}
    assert any("turn night" in x.sentence for x in told.screening.patterns if x.screen == "units without readings")
    assert told.screening.false_flag_rate == 0.01
    assert all(run.ran and 0.0 < run.false_flag_rate <= 0.01 for run in told.screening.runs)
    data = next(line for line in told.verdict if line.startswith("Data: "))
    assert told.screening.patterns[0].sentence in data
    assert "honest readings show such with chance at most 1 %" in data


def test_it_is_the_same_as_the_screens_say_by_themselves(told: sf.Review) -> None:
    rows, listed = faulty()
    found = sf.screen(rows, "um", unit="um", processed=listed, **COLUMNS)
    assert told.screening.patterns == found.patterns
    assert set(told.screening.unread) == {x.serial for x in found.faults if x.check == "unit without readings"}
    assert LIMITS == {"base": (32.0, 46.0), "finish": (80.0, 110.0)}  # those of the plan above


def test_page_numbers_and_workbook_hold_patterns_and_rates(told: sf.Review) -> None:
    page = review_html(told, when=WHEN)
    section = page[page.index("<h2>Data problems</h2>") : page.index("<h2>How it was done</h2>")]
    for pattern in told.screening.patterns:
        assert pattern.sentence.replace("'", "&#39;") in section
    assert "false flag at most 0.2 %" in section  # five screens share 1 %
    content = json.loads(review_json(told, when=WHEN))["review"]["screening"]
    assert [x["screen"] for x in content["patterns"]] == [x.screen for x in told.screening.patterns]
    assert {x["name"]: x["false_flag_rate"] for x in content["runs"]}["last digits"] == pytest.approx(0.002)
    sheets = {sheet.name: sheet for sheet in review_sheets(told)}
    assert len(sheets["Patterns in readings"].rows) == len(told.screening.patterns)
    assert len(sheets["Screens"].rows) == 5
    assert len(sheets["Units without readings"].rows) == len(told.screening.unread)


def test_no_word_is_about_a_person(told: sf.Review) -> None:
    for pattern in told.screening.patterns:
        assert not ABOUT_PEOPLE.search(f"{pattern.sentence} {pattern.way_out}")


def test_an_honest_month_tells_no_pattern_and_says_so() -> None:
    rows, listed = leave_out(gates(5), 5)
    found = sf.review_readings(rows, sf.read_plan(PLAN), painted=listed)
    assert found.screening.patterns == ()
    assert "No pattern that honest readings would seldom show, in " in review_html(found, when=WHEN)
    assert "(honest readings show one with chance at most 1 %)" in found.screening.sentence


def test_a_file_in_another_unit_is_screened_as_it_is_written() -> None:
    # Written in um, worked in mil: the display step is that of the file.
    rows, _ = faulty()
    plan = PLAN.replace('unit = "um"\n[[', 'unit = "mil"\nwritten_in = "um"\n[[').replace('unit_of_measure = "in"\n', "")
    for old, new in (("= 32", "= 1.2598"), ("= 46", "= 1.8110"), ("= 80", "= 3.1496"), ("= 110", "= 4.3307")):
        plan = plan.replace(old, new)
    found = sf.review_readings(rows, sf.read_plan(plan))
    (pile,) = (x.sentence for x in found.screening.patterns if x.screen == "pile-up inside a limit")
    assert "0.1 um display pile up just inside 1.26 mil" in pile


# -- the command ----------------------------------------------------------------------------------------------------------


def run(folder: Path, rows: Rows, *more: str, plan: str = PLAN) -> Result:
    (folder / "plan.toml").write_text(plan, encoding="utf-8")
    (folder / "film.csv").write_text(as_csv(rows), encoding="utf-8")
    given = ["screen", str(folder / "film.csv"), "--plan", str(folder / "plan.toml"), *more]
    return CliRunner().invoke(main, given, catch_exceptions=False)


def test_the_command_says_verdict_faults_patterns_and_rates(tmp_path: Path) -> None:
    rows, listed = faulty()
    rows["um"][10] = 3900.0
    (tmp_path / "painted.csv").write_text(as_csv(listed), encoding="utf-8")
    plan = f'{PLAN}painted = "painted.csv"\n'
    done = run(tmp_path, rows, plan=plan)
    assert done.exit_code == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("Look at the data first, ")
    assert any(line.startswith("  fault: line 12, K1000, column um, 3900 um: ") for line in lines)  # the header is line 1
    patterns = [line for line in lines if line.startswith("  pattern: ")]
    assert len(patterns) >= 4
    assert all("chance in honest readings " in line for line in patterns)
    assert any(re.fullmatch(r"screen: last digits: \d+ tests, \d told, false flag at most 0.2 %", line) for line in lines)
    assert "more faults; --all shows them" in done.stdout
    everything = run(tmp_path, rows, "--all", plan=plan).stdout
    assert everything.count("  fault: ") > 30
    assert "--all" not in everything


def test_exit_codes_of_the_command(tmp_path: Path) -> None:
    quiet = gates(5, units=40)
    assert run(tmp_path, quiet, "--fail-on", "fault").exit_code == 0
    assert run(tmp_path, quiet).stdout.startswith("Nothing wrong with 960 readings of 40 units; no pattern too good to be true")
    bad = {name: list(column) for name, column in quiet.items()}
    bad["um"][3] = -1.0
    assert run(tmp_path, bad, "--fail-on", "fault").exit_code == 4
    assert run(tmp_path, bad, "-q", "--fail-on", "fault").stdout == ""
    assert run(tmp_path, {"a": [1]}).exit_code == 3
    assert run(tmp_path, quiet, plan="x = 1").exit_code == 2


@pytest.mark.parametrize("name", ["=1+1", "<script>", "left\u202eright", "../x"])
def test_hostile_names_come_out_as_they_can_be_seen(tmp_path: Path, name: str) -> None:
    rows: dict[str, list[Any]] = gates(5, units=20)
    rows["gate"] = [name if gate == "K1003" else gate for gate in rows["gate"]]
    rows["um"] = [None if gate == name else x for gate, x in zip(rows["gate"], rows["um"], strict=True)]
    rows["um"] = ["" if x is None else x for x in rows["um"]]
    text = run(tmp_path, rows).stdout
    assert "\u202e" not in text
    assert ("left<U+202E>right" if "\u202e" in name else name) in text
