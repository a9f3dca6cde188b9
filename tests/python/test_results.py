"""The protocol that every result class offers, run over the examples in each topic's test module."""

from __future__ import annotations

import dataclasses
import importlib
import json
import math
import pickle
import pkgutil
import re
from pathlib import Path
from typing import Any

import pytest

import steadyfilm
from steadyfilm._result import Explanation, Result

HERE = Path(__file__).parent
_LINES = re.compile(r"^(?P<name>\w+) = (?P<formula>.+)\n  = (?P<numbers>.+)\n  = (?P<value>.+)$", re.MULTILINE)
_WORDS = {"sqrt": math.sqrt, "abs": abs, "min": min, "max": max, "floor": math.floor, "log": math.log, "exp": math.exp}


def _examples() -> list[Result]:
    found: list[Result] = []
    for path in sorted(HERE.glob("test_*.py")):
        if "\ndef example_results(" in path.read_text(encoding="utf-8"):
            found += importlib.import_module(path.stem).example_results()
    return found


def _result_classes() -> set[type[Result]]:
    for module in pkgutil.iter_modules(steadyfilm.__path__, "steadyfilm."):
        if not module.ispkg and not module.name.rpartition(".")[2].startswith("_"):
            importlib.import_module(module.name)
    found: set[type[Result]] = set()
    todo: list[type[Result]] = [Result]
    while todo:
        for kind in todo.pop().__subclasses__():
            if kind.__module__.startswith("steadyfilm."):
                found.add(kind)
                todo.append(kind)
    return found


EXAMPLES = _examples()
IDS = [f"{type(result).__name__}-{i}" for i, result in enumerate(EXAMPLES)]
each = pytest.mark.parametrize("result", EXAMPLES, ids=IDS)


def test_every_result_class_has_an_example() -> None:
    assert _result_classes() == {type(result) for result in EXAMPLES}


@each
def test_json_and_pickle_give_an_equal_result(result: Result) -> None:
    text = result.to_json()
    json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert Result.from_json(text) == result
    assert type(result).from_json(text).to_json() == text
    assert pickle.loads(pickle.dumps(result)) == result


@each
def test_results_cannot_be_changed(result: Result) -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        result.made = None  # type: ignore[misc,assignment]  # the refusal is what is tested
    for field in dataclasses.fields(result):
        value = getattr(result, field.name)
        if hasattr(value, "flags"):
            assert not value.flags.writeable, field.name


@each
@pytest.mark.parametrize("kind", ["pandas", "polars", "pyarrow", "dict"])
def test_tables_come_in_every_kind_with_the_same_columns(result: Result, kind: str) -> None:
    frame = result.to_frame(kind)
    names = list(frame) if kind == "dict" else list(frame.column_names if kind == "pyarrow" else frame.columns)
    assert names == list(result.to_frame("dict"))
    assert len(names) > 0


@each
def test_text_and_html_open_with_the_verdict(result: Result) -> None:
    sentence = result.sentence()
    assert sentence.endswith(".")
    assert repr(result).startswith(sentence)
    html = result._repr_html_()
    assert "<table" in html
    assert "<script" not in html


@each
def test_explain_prints_sums_that_give_the_result_again(result: Result) -> None:
    explanation = result.explain()
    assert isinstance(explanation, Explanation)
    blocks = list(_LINES.finditer(str(explanation)))
    assert len(blocks) == len(explanation.steps) > 0
    for block in blocks:
        again = eval(block["numbers"], {"__builtins__": {}}, dict(_WORDS))
        assert again == pytest.approx(float(block["value"]), rel=1e-12, abs=1e-12), block["name"]
        shown = _field(result, block["name"])
        if shown is not None:
            assert again == pytest.approx(shown, rel=1e-12, abs=1e-12), block["name"]


def _field(result: Any, name: str) -> float | None:
    """The field that a step names (`limits_upper` is `limits.upper`), when the result has it."""
    if hasattr(result, name):
        value = getattr(result, name)
        return float(value) if isinstance(value, int | float) else None
    owner, _, rest = name.rpartition("_")
    return _field(getattr(result, owner), rest) if owner and hasattr(result, owner) else None


@each
def test_at_least_one_step_explains_a_field(result: Result) -> None:
    assert any(_field(result, step.name) is not None for step in result.explain().steps)


@each
def test_pictures_show_the_verdict_and_give_their_numbers(result: Result) -> None:
    if not result._plot:
        with pytest.raises(TypeError, match="no picture"):
            result.plot()
        return
    drawn = result.plot()
    assert drawn.title
    assert drawn.axes
    assert drawn.artists
    assert drawn.data
    assert all(axes.get_ylabel() or axes.get_xlabel() for axes in drawn.axes.values())
