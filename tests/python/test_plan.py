"""Plans: what they say, what they refuse, and that a refusal names the key, the reason and the way out."""

from __future__ import annotations

from pathlib import Path

import pytest

import steadyfilm as sf

from helpers import DATASETS

SMALL = """
columns = {unit = "serial", value = "film"}
measure = {unit = "mil"}
layers = [{name = "film", lower = 2.0, upper = 2.2}]
"""


def refusal(text: str) -> str:
    with pytest.raises(sf.PlanError) as caught:
        sf.read_plan(text, name="shop.toml")
    return str(caught.value)


def test_a_small_plan_has_the_stated_defaults() -> None:
    plan = sf.read_plan(SMALL)
    assert plan.columns.unit == ("serial",)
    assert plan.layers[0].source == "film"
    assert (plan.file.separator, plan.file.decimal, plan.file.encoding) == (",", ".", "utf-8")
    assert (plan.changes.significance, plan.confidence_level, plan.layers[0].miss) == (0.01, 0.95, "tell")
    assert plan.baseline is None


@pytest.mark.parametrize("folder", ["truck_bodies", "oxide_thickness"])
def test_the_plans_of_the_data_sets_are_read(folder: str) -> None:
    plan = sf.load_plan(DATASETS / folder / "plan.toml")
    assert plan.layers
    assert plan.path("x") == DATASETS / folder / "x"


@pytest.mark.parametrize(
    ("added", "message"),
    [
        ('streems = ["a"]', "streems: unknown key; nearest: 'streams'"),
        ("[file]\ndecimall = ','", "file.decimall: unknown key; nearest: 'decimal'"),
        ("[file]\nqqq = 1", "file.qqq: unknown key; known here: separator, decimal"),
        ("[file]\ndecimal = ','", "file: separator and decimal are both ','"),
        ("[file]\nheader_line = 0", "file.header_line: Input should be greater than or equal to 1 (got 0)"),
        ('[rules]\npoints = ["2of3"]', "rules.points: "),
        ("[baseline]", "baseline: give either readings = 'file' or until = date"),
        ("[baseline]\nuntil = 2026-03-01", "baseline.until needs columns.time"),
        ("[changes]\nsignificance = 2.0", "changes.significance: Input should be less than 0.5 (got 2.0)"),
        ('[events]\nfile = "e.csv"\ntext = ["what"]', "events need columns.time to be compared with"),
    ],
)
def test_each_mistake_is_named_with_its_way_out(added: str, message: str) -> None:
    assert message in refusal(f"{added}\n{SMALL}" if "[" not in added.partition("=")[0] else f"{SMALL}\n{added}")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("layers = [", "shop.toml is not valid TOML"),
        (SMALL.replace("lower = 2.0", "lower = 2.4"), "layers[1]: lower (2.4) must lie below upper (2.2)"),
        (SMALL.replace("lower = 2.0", "lowr = 2.0"), "layers[1].lowr: unknown key; nearest: 'lower'"),
        (SMALL.replace('value = "film"', 'valu = "film"'), "columns.value: is needed and not there"),
        (SMALL.replace('"mil"', '"inch"'), "measure.unit: Input should be 'mil', 'um' or 'unstated' (got 'inch')"),
        (SMALL.replace("[{", '[{name = "a"}, {'), "several layers, or minus, need columns.layer"),
        (SMALL.replace("layers = [", 'x = ["'), "is not valid TOML"),
        (SMALL.replace('[{name = "film", lower = 2.0, upper = 2.2}]', "[]"), "layers: name at least one layer"),
        (SMALL.replace("2.2", "nan"), "layers[1].upper: Input should be a finite number"),
        (
            SMALL.replace('{unit = "mil"}', '{unit = "unstated", written_in = "um"}'),
            "written_in needs a working unit to convert to",
        ),
        (SMALL.replace('"mil"', '"mil", plausible = [3, 1]'), "plausible must be [lowest, highest]"),
        ('streams = ["a"]\nadjust = ["a"]' + SMALL, "column 'a' stands twice in streams and adjust"),
    ],
)
def test_a_contradiction_is_refused(text: str, message: str) -> None:
    assert message in refusal(text)


def test_all_mistakes_come_at_once() -> None:
    text = refusal('streems = "a"\n' + SMALL.replace("lower", "lowr").replace('"mil"', '"inch"'))
    assert all(word in text for word in ("streems", "lowr", "inch"))


def test_a_plan_that_is_not_there_or_no_text_is_a_plan_error(tmp_path: Path) -> None:
    with pytest.raises(sf.PlanError, match=r"cannot read the plan .*nowhere.toml: No such file"):
        sf.load_plan(tmp_path / "nowhere.toml")
    (tmp_path / "bytes.toml").write_bytes(b"title = '\xff'")
    with pytest.raises(sf.PlanError, match="is not UTF-8 text"):
        sf.load_plan(tmp_path / "bytes.toml")
    (tmp_path / "mark.toml").write_bytes(b"\xef\xbb\xbf" + SMALL.encode())
    assert sf.load_plan(tmp_path / "mark.toml").layers[0].name == "film"
