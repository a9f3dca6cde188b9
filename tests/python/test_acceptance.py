"""A file judged by a rule file: what the file must say, what the command prints, and the page."""

from __future__ import annotations

import json
import re
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from steadyfilm.acceptance import AcceptedFile, accept_file, load_rule, read_rule, rule_schema
from steadyfilm.cli import main
from steadyfilm.reports.acceptance import acceptance_html, acceptance_json, plan_curve

WHEN = datetime(2026, 3, 2, 6, 0)
RULE = """
title = "Three bodies"
rule = "area"
level = 3
film = {unit = "mil", lower = 2.0, upper = 2.2, surface_ft2 = 100}
columns = {unit = "body", spot = "place", value = "film", discarded = "why", discarded_by = "who"}
gauge = {sigma_repeat = 0.03, bias_bound = 0.02}
"""


def readings() -> str:
    """Three bodies: one passes but for a reading left out, one has a thin spot, one lacks a reading."""
    lines = ["body,place,film,why,who"]
    for body, means in {"U1": "2.1 2.05 2.2 2.1 2", "U2": "2.1 2.1 1.5 2.2 2.2", "U3": "2.1 2.1 2.1 2.1 2.1"}.items():
        for place, mean in zip("ABCDE", means.split(), strict=True):
            for k in range(2 if (body, place) == ("U3", "E") else 3):
                odd = (body, place, k) == ("U1", "A", 2)
                lines.append(f"{body},{place},{'3.9,did not repeat,inspector 2' if odd else f'{mean},,'}")
    return "\n".join(lines) + "\n"


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    (tmp_path / "film.csv").write_text(readings(), encoding="utf-8")
    (tmp_path / "rule.toml").write_text(RULE, encoding="utf-8")
    return tmp_path / "film.csv", tmp_path / "rule.toml"


def judged(files: tuple[Path, Path]) -> AcceptedFile:
    return accept_file(files[0], load_rule(files[1]))


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(main, ["accept", *map(str, arguments)])


# -- the rule file ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('rule = "area"', ["film: is needed", "columns: is needed"]),
        (RULE.replace("level = 3", ""), ["rule = 'area' needs level = 1 to 5"]),
        (RULE.replace("level = 3", "level = 6"), ["level: Input should be less than or equal to 5 (got 6)"]),
        (RULE.replace("lower = 2.0, upper = 2.2, ", ""), ["film needs a window (lower, upper or both) or a nominal value"]),
        (RULE.replace("lower = 2.0", 'lower = "2.0"'), ["film.lower: Input should be a valid number (got '2.0')"]),
        (RULE.replace("discarded_by", "discardedby"), ["columns.discardedby: unknown key; nearest: 'discarded_by'"]),
        (RULE.replace('"area"', '"house"').replace("level = 3", ""), ["rule = 'house' and the section [house] belong together"]),
        (RULE.replace('"area"', '"ninety-ten"'), ["level belongs to rule = 'area'"]),
        (RULE.replace("level = 3", 'level = 3\nthin_share = "below"'), ["thin_share belongs to rule = 'rough steel'"]),
        (RULE.replace('value = "film"', 'value = "film", layer = "coat"'), ["columns.layer and film.layer belong together"]),
        ('rule = "house"\nfilm = {unit = "um", nominal = 50}\ncolumns = {value = "x"}\nhouse = {name = "r"}', ["needs a limit"]),
        (
            'rule = "house"\nfilm = {unit = "um", nominal = 50}\ncolumns = {value = "x"}\n'
            'house = {name = "r", spot_lower = 1.0, areas_m2 = {steps = [[10, 2], [5, 3]]}}',
            ["areas_m2", "must rise"],
        ),
        ("rule = ", ["is not valid TOML"]),
    ],
)
def test_a_rule_file_that_cannot_be_used_says_why_and_what_to_write(text: str, words: list[str]) -> None:
    with pytest.raises(sf.PlanError) as caught:
        read_rule(text)
    for word in words:
        assert word in str(caught.value)


def test_a_house_rule_of_the_file_is_the_one_of_the_function() -> None:
    found = read_rule(
        'rule = "house"\nfilm = {unit = "mil", lower = 2.0, upper = 2.2}\ncolumns = {value = "film"}\n'
        '[house]\nname = "rule 12"\nedition = "2026-03"\nspot_lower = 0.85\nspot_upper = 1.15\nunit_lower = 1.0\n'
        "thin_share = 0.2\nreadings_per_spot = 3\nspots_per_area = 5\nareas_ft2 = {steps = [[100, 1]], further = 100, more = 1}\n"
    ).acceptance_rule()
    assert found == sf.house_rule(
        "rule 12",
        edition="2026-03",
        spot=sf.Shares(0.85, 1.15),
        unit=sf.Shares(1.0),
        thin_share=0.2,
        readings_per_spot=3,
        spots_per_area=5,
        areas_ft2=sf.CountTable(((100.0, 1),), 100.0, 1),
    )
    assert found.needed(surface_ft2=380.0) == (4, 0)


def test_the_shipped_schema_is_that_of_the_models_and_every_key_has_its_unit() -> None:
    shipped = Path(sf.__file__).parent / "acceptance.schema.json"
    assert json.loads(shipped.read_text(encoding="utf-8")) == rule_schema()
    sections = [rule_schema(), *rule_schema()["$defs"].values()]
    for section in sections:
        for key, about in section.get("properties", {}).items():
            assert about.get("unit"), key
            assert about.get("description"), key


def test_the_schema_takes_what_the_reader_takes() -> None:
    checker = jsonschema.Draft202012Validator(rule_schema())
    checker.check_schema(rule_schema())
    assert list(checker.iter_errors(tomllib.loads(RULE))) == []
    assert list(checker.iter_errors(tomllib.loads(RULE.replace("level = 3", "level = 6")))) != []


# -- judging ------------------------------------------------------------------------------------------------------------


def test_a_file_is_judged_with_lines_of_the_file(files: tuple[Path, Path]) -> None:
    found = judged(files)
    assert found.found.verdict.tolist() == ["pass", "fail", "not demonstrated"]
    assert found.found.guard_class.tolist() == ["clear", "clear", ""]
    assert found.found.discarded[0].row == 4  # as an editor counts
    assert set(found.inputs) == {"film.csv", "rule.toml"}


def test_other_layers_are_left_out_and_counted_and_an_unknown_one_is_told(tmp_path: Path) -> None:
    place = tmp_path / "film.csv"
    place.write_text("coat,film\n" + "primer,28\n" * 2 + "total,90\n" * 5, encoding="utf-8")
    text = 'rule = "ninety-ten"\nfilm = {unit = "um", nominal = 80, layer = "total"}\ncolumns = {value = "film", layer = "coat"}'
    found = accept_file(place, read_rule(text))
    assert (found.found.verdict.tolist(), found.left_out) == (["pass"], {"primer": 2})
    assert found.notes[-1] == "Rows of other layers left out: 2 of 'primer'."
    with pytest.raises(sf.DataProblemsError, match=r"no row of this layer; there are 'primer', 'total'"):
        accept_file(place, read_rule(text.replace('"total"', '"topcoat"')))


def test_the_last_attempt_at_each_spot_is_judged_and_mixed_attempts_are_told(tmp_path: Path) -> None:
    place = tmp_path / "film.csv"
    rows = [f"U1,{spot},{1.5 if spot == 'C' else 2.1},1" for spot in "ABCDE" for _ in range(3)]
    rows += ["U1,C,2.1,2"] * 3
    rows.append("U1,A,,2")  # a row of an attempt that was never read
    text = (
        'rule = "area"\nlevel = 3\nfilm = {unit = "mil", lower = 2.0, upper = 2.2}\nmissing_readings = "drop"\n'
        'columns = {unit = "body", spot = "place", value = "film", attempt = "attempt"}'
    )
    place.write_text("body,place,film,attempt\n" + "\n".join(rows) + "\n", encoding="utf-8")
    with pytest.warns(sf.MissingDataWarning):
        found = accept_file(place, read_rule(text))
    assert (found.found.verdict[0], found.superseded) == ("pass", 3)
    assert found.notes[-1] == "3 readings of earlier attempts left out: the last at each spot is judged."
    with pytest.warns(sf.MissingDataWarning):
        mixed = accept_file(place, read_rule(text.replace(', attempt = "attempt"', "")))
    assert mixed.found.spots.mean[2] == pytest.approx(1.8)
    assert "1 spot with more than 3 readings, first U1, C: measured again after a touch-up" in mixed.notes[0]
    with pytest.raises(sf.PlanError, match=r"columns\.attempt needs columns\.spot"):
        read_rule(text.replace('spot = "place", ', ""))
    place.write_text("body,place,film,attempt\n" + "\n".join([*rows[:-1], "U1,A,2.1,1.5"]) + "\n", encoding="utf-8")
    with pytest.raises(sf.DataProblemsError, match=r"(?s)line 20, value 1\.5: is no attempt"):
        accept_file(place, read_rule(text))


def test_problems_are_told_by_line(files: tuple[Path, Path]) -> None:
    files[0].write_text(readings().replace("U1,A,3.9", "U1,A,-3.9").replace("U3,A,2.1", ",A,2.1", 1), encoding="utf-8")
    with pytest.raises(sf.DataProblemsError) as caught:
        judged(files)
    assert [(x.column, x.row) for x in caught.value.problems] == [("film", 4), ("body", 32)]
    files[0].write_text(readings().replace("U1,B,2.05", "U1,B,"), encoding="utf-8")
    with pytest.raises(sf.DataProblemsError, match="reading is missing"):
        judged(files)
    files[1].write_text(RULE.replace("level = 3", 'level = 3\nmissing_readings = "drop"'), encoding="utf-8")
    with pytest.warns(sf.MissingDataWarning):
        assert judged(files).found.verdict[0] == "not demonstrated"


# -- command and page ---------------------------------------------------------------------------------------------------


def test_the_command_says_the_verdict_first_and_writes_a_page(files: tuple[Path, Path], tmp_path: Path) -> None:
    done = run(files[0], "--rule", files[1], "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert lines[0].startswith("1 of 3 units pass by SSPC-PA 2, level 3 (2015")
    assert lines[1] == "  U2: fail (clear), spot C: 1.5 below 1.6 mil"
    assert lines[-1].startswith("Report: ")
    assert "note: SSPC-PA 2" in done.stderr
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"acceptance.html", "acceptance.json"}


@pytest.mark.parametrize(("option", "code"), [([], 0), (["--fail-on", "fail"], 4), (["--fail-on", "not-demonstrated"], 4)])
def test_the_exit_code_says_what_was_asked(files: tuple[Path, Path], option: list[str], code: int) -> None:
    done = run(files[0], "--rule", files[1], "--quiet", *option)
    assert (done.exit_code, done.stdout) == (code, "")


def test_what_cannot_be_used_ends_with_its_code_and_no_traceback(files: tuple[Path, Path], tmp_path: Path) -> None:
    files[1].write_text(RULE.replace("level = 3", ""), encoding="utf-8")
    done = run(files[0], "--rule", files[1])
    assert (done.exit_code, "needs level" in done.stderr) == (2, True)
    files[1].write_text(RULE.replace("surface_ft2 = 100", "surface_m2 = 10"), encoding="utf-8")
    done = run(files[0], "--rule", files[1])
    assert (done.exit_code, "not to be mixed" in done.stderr) == (3, True)
    done = run(tmp_path / "none.csv", "--rule", files[1])
    assert (done.exit_code, "none.csv" in done.stderr) == (3, True)
    done = run(files[0], "--rule", tmp_path / "none.toml")
    assert (done.exit_code, "cannot read the rule" in done.stderr) == (2, True)


def test_the_page_leads_with_the_verdict_and_carries_the_care_text_once(files: tuple[Path, Path]) -> None:
    found = judged(files)
    page = acceptance_html(found, when=WHEN)
    assert page == acceptance_html(judged(files), when=WHEN)
    assert page.count("Nothing here is a permission to operate a line") == 1
    body = re.sub(r"<svg.*?</svg>", "", page, flags=re.DOTALL)
    assert body.index("1 of 3 units fail") < body.index("Unit by unit") < body.index("Readings left out")
    assert "did not repeat" in body
    assert "2015 with the editorial changes" in body
    assert "from memory" in body
    assert body.count("is rejected by SSPC-PA 2") == 1
    # apart from the marked block nothing tells when it was run
    later = acceptance_html(found, when=datetime(2027, 1, 1))
    assert page.split("<!-- run:")[0] == later.split("<!-- run:")[0]


def test_names_from_the_data_stay_harmless(files: tuple[Path, Path]) -> None:
    files[0].write_text(readings().replace("U2", "<b>U2\u202e</b>").replace("did not repeat", "<script>"), encoding="utf-8")
    page = acceptance_html(judged(files), when=WHEN)
    assert "<b>U2" not in page
    assert "<script>" not in page
    assert "\u202e" not in page


def test_the_numbers_give_the_result_again(files: tuple[Path, Path]) -> None:
    found = judged(files)
    content = json.loads(acceptance_json(found, when=WHEN))
    again = sf.Acceptance.from_dict(content["acceptance"]["found"])
    assert again.verdict.tolist() == found.found.verdict.tolist()
    assert again.spots.mean == pytest.approx(found.found.spots.mean, rel=1e-9)
    assert content["acceptance"]["sentence"] == found.found.sentence()
    assert len(content["sha256_of_acceptance"]) == 64


def test_the_curve_of_the_page_is_for_as_many_readings_as_were_taken(files: tuple[Path, Path]) -> None:
    curve = plan_curve(judged(files).found)
    assert curve is not None
    assert (curve.areas, curve.spots, curve.readings) == (1, 5, 3)
    assert curve.at_mean == pytest.approx(judged(files).found.mean.mean())


# -- the log of gauge checks --------------------------------------------------------------------------------------------

CHECKED = (
    RULE.replace('who"}', 'who", gauge = "with", time = "at"}') + "[gauge_checks]\nstandard_percent = 1\ngauge_percent = 3\n"
)


def checked_files(
    folder: Path, *, gauge: str = "K5", off: tuple[str, ...] = ("13:00",), unit: str = "mil"
) -> tuple[Path, Path, Path]:
    """Three sound bodies read at 07:00, 11:00 and 15:00 by one gauge, checked at 06:00, 09:00, 13:00 and 17:00."""
    lines = ["body,place,film,why,who,with,at"]
    for body, hour in {"U1": 7, "U2": 11, "U3": 15}.items():
        lines += [f"{body},{place},2.1,,,K5,2026-03-02 {hour:02d}:0{k}" for place in "ABCDE" for k in range(3)]
    # In no order of time.
    lines = [lines[0], *reversed(lines[1:])]
    scale = 25.4 if unit == "um" else 1.0
    log = ["time,gauge,value,stated,unit"]
    for hour in ("13:00", "06:00", "17:00", "09:00"):
        shown = 2.0 + (0.15 if hour in off else 0.02)
        log += [f"2026-03-02 {hour},{gauge},{shown * scale:.4f},{2.0 * scale:.4f},{unit}"] * 3
    for name, text in (("film.csv", "\n".join(lines)), ("rule.toml", CHECKED), ("log.csv", "\n".join(log))):
        (folder / name).write_text(text + "\n", encoding="utf-8")
    return folder / "film.csv", folder / "rule.toml", folder / "log.csv"


def test_readings_around_a_failed_check_leave_their_units_open(tmp_path: Path) -> None:
    film, rule, log = checked_files(tmp_path)
    found = accept_file(film, load_rule(rule), checks=log)
    # 09:00 passed, 13:00 failed, 17:00 passed: what was read between is suspect, before and after the failed check.
    assert dict(zip(found.found.units.tolist(), found.found.verdict.tolist(), strict=True)) == {
        "U1": "pass",
        "U2": "not demonstrated",
        "U3": "not demonstrated",
    }
    why = dict(zip(found.found.units.tolist(), found.found.reason.tolist(), strict=True))["U2"]
    assert (
        "gauge K5 failed its check of 2026-03-02 13:00 (+0.15 mil on 2 mil, 0.0632 mil allowed), last passed 2026-03-02 09:00"
        in why
    )
    assert "30 readings suspect by 1 failed of 4 gauge checks: they prove neither pass nor fail." in found.notes
    assert set(found.inputs) == {"film.csv", "rule.toml", "log.csv"}
    assert [check.passed for check in found.checks] == [True, True, False, True]


def test_without_a_log_nothing_is_suspect_and_a_rule_may_name_its_own(tmp_path: Path) -> None:
    film, rule, log = checked_files(tmp_path)
    assert accept_file(film, load_rule(rule)).found.pass_count == 3
    rule.write_text(CHECKED + 'file = "log.csv"\n', encoding="utf-8")
    assert accept_file(film, load_rule(rule)).found.open_count == 2
    shown = run(film, "--rule", rule, "--fail-on", "not-demonstrated")
    assert (shown.exit_code, "U2: not demonstrated" in shown.output) == (4, True)
    rule.write_text(RULE, encoding="utf-8")
    refused = run(film, "--rule", rule, "--checks", log)
    assert (refused.exit_code, "has no section [gauge_checks]" in refused.output) == (2, True)


def test_a_gauge_that_is_not_in_the_log_is_told_and_not_suspect(tmp_path: Path) -> None:
    film, rule, log = checked_files(tmp_path, gauge="Q7")
    found = accept_file(film, load_rule(rule), checks=log)
    assert found.found.pass_count == 3
    assert "Gauge K5 is not in the log of checks: 45 readings unchecked." in found.notes


def test_a_log_in_another_unit_with_other_names_says_the_same(tmp_path: Path) -> None:
    film, rule, log = checked_files(tmp_path, unit="um")
    names = 'time = "wann"\ngauge = "Nr"\nvalue = "gezeigt"\nstated = "Folie"\nunit_of_measure = "Einheit"\n'
    text = log.read_text(encoding="utf-8").replace("time,gauge,value,stated,unit", "wann;Nr;gezeigt;Folie;Einheit")
    log.write_text(re.sub(r"(\d)\.(\d)", r"\1,\2", text.replace(",", ";").replace("um", "µm")), encoding="utf-8")
    rule.write_text(CHECKED + names + 'format = {separator = ";", decimal = ","}\n', encoding="utf-8")
    found = accept_file(film, load_rule(rule), checks=log)
    assert (found.found.pass_count, found.found.open_count) == (1, 2)
    assert [round(check.deviation, 4) for check in found.checks] == [0.02, 0.02, 0.15, 0.02]


@pytest.mark.parametrize(
    ("off", "open_units"),
    [
        ((), set()),
        (("06:00",), {"U1"}),
        (("06:00", "09:00"), {"U1", "U2"}),
        (("17:00",), {"U3"}),
        (("13:00", "17:00"), {"U2", "U3"}),
    ],
)
def test_suspect_is_what_lies_next_to_a_failed_check(tmp_path: Path, off: tuple[str, ...], open_units: set[str]) -> None:
    film, rule, log = checked_files(tmp_path, off=off)
    found = accept_file(film, load_rule(rule), checks=log).found
    assert {unit for unit, verdict in zip(found.units, found.verdict, strict=True) if verdict == "not demonstrated"} == open_units


def test_what_is_missing_in_film_or_log_is_told_by_line(tmp_path: Path) -> None:
    film, rule, log = checked_files(tmp_path)
    film.write_text(film.read_text(encoding="utf-8").replace("K5,2026-03-02 15:02", ",", 1), encoding="utf-8")
    with pytest.raises(sf.DataProblemsError, match="vouches for the reading") as caught:
        accept_file(film, load_rule(rule), checks=log)
    assert {(item.column, item.row) for item in caught.value.problems} == {("with", 2), ("at", 2)}
    film, rule, log = checked_files(tmp_path)
    log.write_text(log.read_text(encoding="utf-8").replace(",2.0000,mil", ",,mil", 1), encoding="utf-8")
    with pytest.raises(sf.DataProblemsError, match="stated") as caught:
        accept_file(film, load_rule(rule), checks=log)
    assert [(item.column, item.row) for item in caught.value.problems] == [("stated", 2)]


def test_a_check_exactly_at_its_limit_passes_and_one_step_beyond_fails() -> None:
    for shown, passed in ((1.1 * 2.0, True), (2.21, False), (1.8, True), (1.79, False)):
        log = {"time": ["2026-03-02 06:00"], "gauge": ["Q"], "value": [shown], "stated": [2.0]}
        assert sf.accuracy_checks(log, unit="mil", gauge_percent=10)[0].passed is passed
    two = {
        "time": ["2026-03-02 06:00", "2026-03-02 06:01"],
        "gauge": ["Q"] * 2,
        "value": [2.0, 3.2],
        "stated": [2.0, 3.0],
        "no": [1, 1],
    }
    assert [x.passed for x in sf.accuracy_checks(two, unit="mil", gauge_percent=5)] == [True, False]
    (both,) = sf.accuracy_checks(two, unit="mil", gauge_percent=5, check="no")
    assert (both.time, both.passed, both.stated) == ("2026-03-02T06:01", False, 3.0)
    with pytest.raises(sf.InvalidInputError, match="a tolerance is needed"):
        sf.accuracy_checks(two, unit="mil")
