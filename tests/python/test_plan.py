"""Plans: what they say, what they refuse, and that a refusal names the key, the reason and the way out."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import steadyfilm as sf

from helpers import DATASETS, REPOSITORY

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
        ("[baseline]\nuntil = '2026-03-01'", "baseline.until: should be a date, or date and time, without quotes"),
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
        (SMALL.replace('value = "film"', 'value = "film", date = "day"'), "columns.date needs columns.time, the time of day"),
        (SMALL.replace("2.2", "nan"), "layers[1].upper: Input should be a finite number"),
        (
            SMALL.replace('{unit = "mil"}', '{unit = "unstated", written_in = "um"}'),
            "written_in needs a working unit to convert to",
        ),
        (SMALL.replace('"mil"', '"mil", plausible = [3, 1]'), "plausible must be [lowest, highest]"),
        ('streams = ["a"]\nadjust = ["a"]' + SMALL, "column 'a' stands twice in streams and adjust"),
        (
            SMALL.replace("upper = 2.2", "upper = 2.2, target = 21"),
            "layers[1].target: lies outside the window of 'film', 2.0 to 2.2: correct whichever of target, lower and upper is "
            "mistyped, or leave target out (got 21)",
        ),
        (SMALL.replace("lower = 2.0", "target = 2.3"), "layers[1].target: lies outside the window of 'film', at most 2.2: "),
    ],
)
def test_a_contradiction_is_refused(text: str, message: str) -> None:
    assert message in refusal(text)


def test_a_target_on_a_limit_or_without_a_window_is_taken() -> None:
    for given in ("lower = 2.0, upper = 2.2, target = 2.2", "lower = 2.0, target = 2.0", "target = 2.1"):
        assert sf.read_plan(SMALL.replace("lower = 2.0, upper = 2.2", given)).layers[0].target in (2.0, 2.1, 2.2)


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


# -- keys ---------------------------------------------------------------------------------------


def sections() -> dict[str, dict[str, Any]]:
    schema = sf.plan_schema()
    return {"Plan": schema, **schema["$defs"]}


def test_every_key_says_what_it_is_and_its_unit_or_that_it_has_none() -> None:
    keys = [(name, key, about) for name, section in sections().items() for key, about in section["properties"].items()]
    assert len(keys) > 45
    for name, key, about in keys:
        assert about.get("description", "").endswith("."), (name, key)
        assert about["unit"], (name, key)
    units = {f"{name}.{key}": about["unit"] for name, key, about in keys}
    assert units["Layer.lower"] == units["Measure.plausible"] == units["Changes.smallest"] == "working unit"
    assert units["FileFormat.decimal"] == "no unit"


def test_the_shipped_schema_and_the_table_of_keys_are_those_of_the_models() -> None:
    shipped = Path(sf.__file__).parent / "plan.schema.json"
    assert json.loads(shipped.read_text(encoding="utf-8")) == sf.plan_schema()
    page = (REPOSITORY / "cpp" / "methods" / "plan.md").read_text(encoding="utf-8")
    for name, section in sections().items():
        if name != "Plan":  # every kind of table has a heading of its own
            assert f"`\n\n{section['description'].replace('``', '`')}\n\n| key |" in page, name
        for key, about in section["properties"].items():
            if "$ref" not in json.dumps(about) or key == "format":
                assert f"| `{key}` | {about['description'].replace('``', '`')}" in page, key


def plain(value: Any) -> Any:
    """TOML as JSON: dates become text."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [plain(item) for item in value]
    return value.isoformat() if hasattr(value, "isoformat") else value


def test_the_schema_agrees_with_the_reader_of_plans() -> None:
    checker = jsonschema.Draft202012Validator(sf.plan_schema())
    checker.check_schema(sf.plan_schema())
    good = [path.read_text(encoding="utf-8") for path in DATASETS.glob("*/plan.toml")]
    good += [SMALL, SMALL + "[baseline]\nuntil = 2026-03-01\n", SMALL + '[events]\nfile = "e"\ntext = ["a", "b"]\n']
    for text in good:
        assert list(checker.iter_errors(plain(tomllib.loads(text)))) == []
    for text in (
        'streems = ["a"]\n' + SMALL,
        SMALL.replace("lower", "lowr"),
        SMALL.replace('"mil"', '"inch"'),
        SMALL.replace("2.0", '"2"'),
        SMALL.replace("2.0", "true"),
        SMALL.replace("lower", "chart = 1, lower"),
        SMALL + "[baseline]\nuntil = 20260301\n",
        SMALL + "[file]\nheader_line = 0\n",
        SMALL + "[file]\nheader_line = 1.5\n",
        SMALL + "[changes]\nsignificance = 2.0\n",
        SMALL.replace(', value = "film"', ""),
    ):
        assert list(checker.iter_errors(plain(tomllib.loads(text)))), text
        refusal(text)


@pytest.mark.parametrize(
    ("time_format", "said"),
    [
        ("%H:%M", "file.time_format: does not say day, month and year"),
        ("%m/%y", "file.time_format: does not say day, month and year"),
        ("%Q", "file.time_format: cannot be used"),
        ("%d.%m.%Y %I:%M", "file.time_format: has hours up to 12 without %p"),
        ("on %d.%m.%Y at %I:%M %p", ""),
        ("%Y%m%d", ""),
        ("%d.%m.%y %H:%M:%S", ""),
        ("%Y-%j", ""),
    ],
)
def test_a_format_of_times_says_the_whole_date(time_format: str, said: str) -> None:
    text = f'{SMALL}\n[file]\ntime_format = "{time_format}"\n'
    if said:
        assert said in refusal(text)
    else:
        assert sf.read_plan(text).file.time_format == time_format


def test_an_unknown_encoding_and_keys_deep_inside_are_named() -> None:
    assert "file.encoding: is no encoding known here" in refusal(SMALL + '[file]\nencoding = "utf-99"\n')
    assert "file.encoding: is no encoding known here" in refusal(SMALL + '[file]\nencoding = "base64"\n')
    text = SMALL.replace('value = "film"', 'value = "film", time = "t"')
    text += '[events]\nfile = "e.csv"\ntext = "what"\nformat = {separatr = ";"}\n'
    assert "events.format.separatr: unknown key; nearest: 'separator'" in refusal(text)
    assert "baseline: format says how a file is written" in refusal(
        SMALL + "[baseline]\nuntil = 2026-03-01\nformat = {header_line = 2}\n"
    )


def test_a_part_may_say_how_its_own_file_is_written() -> None:
    plan = sf.read_plan(SMALL + '[file]\nsheet = "a"\n[baseline]\nreadings = "b.csv"\nformat = {separator = ";"}\n')
    assert plan.reading_options()["sheet"] == "a"
    assert plan.reading_options(plan.baseline)["separator"] == ";"
    assert plan.reading_options(plan.baseline)["sheet"] == ""
