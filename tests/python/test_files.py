"""Reading files: every way a shop writes them, and an error with file, line, column, value, reason and way out."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf
from steadyfilm._files import Cells, cells_from_bytes, read_cells

PLAIN = "unit,film,read at\nA1,2.11,2026-03-02 07:38\nA2,2.07,2026-03-02 08:01\n"


def cells(text: str | bytes, **options: Any) -> Cells:
    return cells_from_bytes(text if isinstance(text, bytes) else text.encode(), name="film.csv", **options)


def refusal(text: str | bytes, column: str = "", kind: str = "numbers", **options: Any) -> str:
    def read() -> None:
        getattr(cells(text, **options), kind)(column)

    with pytest.raises(sf.DataProblemsError) as caught:
        read()
    return str(caught.value)


def test_columns_lines_numbers_and_times() -> None:
    found = cells(PLAIN)
    assert found.text("unit") == ["A1", "A2"]
    assert found.lines == [2, 3]
    assert found.numbers("film").tolist() == [2.11, 2.07]
    assert found.times("read at").tolist() == np.array(["2026-03-02T07:38", "2026-03-02T08:01"], "M8[us]").tolist()


@pytest.mark.parametrize(
    ("text", "options"),
    [
        ("\ufeff" + PLAIN, {}),
        (PLAIN.replace("\n", "\r\n"), {}),
        (PLAIN.replace("\n", "\n\n"), {}),
        (PLAIN.replace(",", ";").replace("2.", "2,"), {"separator": ";", "decimal": ","}),
        (PLAIN.replace(",", "\t"), {"separator": "\t"}),
        (PLAIN.replace("\n", ",,\n"), {}),
        ("Film report\nline 2\n" + PLAIN, {"header_line": 3}),
        ("sep=,\n" + PLAIN, {}),
        ("\ufeffSEP=;\r\n" + PLAIN.replace(",", ";"), {"separator": ";"}),
        (PLAIN.encode("utf-16"), {"encoding": "utf-16"}),
        (PLAIN.replace("A1", '"A1"').replace(",2.11", ", 2.11 "), {}),
    ],
    ids=[
        "mark",
        "crlf",
        "blank lines",
        "decimal comma",
        "tab",
        "trailing",
        "title lines",
        "sep",
        "sep 2",
        "utf-16",
        "quotes and spaces",
    ],
)
def test_other_ways_of_writing_give_the_same_columns(text: str | bytes, options: dict[str, Any]) -> None:
    found, plain = cells(text, **options), cells(PLAIN)
    assert found.numbers("film").tolist() == plain.numbers("film").tolist()
    assert found.text("unit") == plain.text("unit")
    assert found.times("read at").tolist() == plain.times("read at").tolist()


def test_a_cell_may_hold_a_line_end_and_lines_stay_right() -> None:
    found = cells('unit,film\n"A\n1",2.1\nA2,two\n')
    assert found.lines == [2, 4]
    with pytest.raises(
        sf.DataProblemsError, match=r"film\.csv has 1 problem:\n  column 'film', line 4, value 'two': is not a number"
    ):
        found.numbers("film")


@pytest.mark.parametrize(
    ("text", "options", "said"),
    [
        ("", {}, ["the file is empty"]),
        ("unit,film\n", {}, ["column names but no rows"]),
        (PLAIN.replace(",", ";"), {}, ["line 1", "holds 2 ';'", 'separator = ";"']),
        (PLAIN.replace("A2,", "A2,B,"), {}, ["line 3: has 4 cells, the header has 3", "double quotes"]),
        (PLAIN.replace("film", "unit"), {}, ["column 'unit', line 1: stands twice"]),
        (PLAIN.replace("film", ""), {}, ["column 2 has no name", "header_line"]),
        (PLAIN.replace("A1", '"A1'), {}, ["cannot be read as cells"]),
        (PLAIN.replace("A1", "\x00"), {}, ["line 2: holds a zero byte"]),
        (PLAIN.replace("A2", "\u00e4").encode("cp1252"), {}, ["line 3, value byte 0xe4", "encoding = 'cp1252'"]),
        (PLAIN.encode("utf-16"), {}, ["byte order mark of utf-16", "encoding = 'utf-16'"]),
        ("sep=\t\n" + PLAIN, {}, ["its first line says that '\\t' is the separator", 'separator = "\\t"']),
        (PLAIN, {"encoding": "utf-99"}, ["unknown encoding 'utf-99'"]),
        (PLAIN, {"header_line": 9}, ["no line 9 for the column names"]),
    ],
)
def test_a_file_that_cannot_be_read_says_where_and_what_to_do(
    text: str | bytes, options: dict[str, Any], said: list[str]
) -> None:
    message = refusal(text, "film", **options)
    assert message.startswith("film.csv has 1 problem:")
    for words in said:
        assert words in message, message


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("two", "is not a number"),
        ("2,11", "is not a number"),
        ("1_0", "is not a number"),
        ("0x10", "is not a number"),
        ("NaN", "is not a number"),
        ("inf", "is not a number"),
        ("\u0662", "is not a number"),
        ("1e999", "is too large for a number"),
        ("2.1 mil", "is not a number"),
    ],
)
def test_what_is_no_number_is_refused_with_line_and_value(cell: str, reason: str) -> None:
    assert f"column 'film', line 2, value '{cell}': {reason}" in refusal(f'unit,film\nA,"{cell}"\nB,2\n', "film")


def test_a_decimal_comma_names_the_option_that_reads_it() -> None:
    message = refusal(PLAIN.replace(",", ";").replace("2.", "2,"), "film", separator=";")
    assert "2 problems" in message
    assert "set decimal = ','" in message
    assert "set decimal = '.'" in refusal(PLAIN, "film", decimal=",")


def test_missing_cells_are_not_a_number_and_words_for_them_must_be_named() -> None:
    text = "unit,film\nA,\nB,n/a\nC,2.1\n"
    assert "list their word under missing" in refusal(text, "film")
    assert [math.isnan(x) for x in cells(text, missing=("n/a",)).numbers("film")] == [True, True, False]


def test_times_are_never_guessed() -> None:
    text = "unit,when\nA,03.04.2026 07:30\n"
    assert "line 2, value '03.04.2026 07:30': is not a time in ISO 8601" in refusal(text, "when", "times")
    assert cells(text, time_format="%d.%m.%Y %H:%M").times("when")[0] == np.datetime64("2026-04-03T07:30")
    assert "is not a time as '%d.%m.%Y' says" in refusal(text, "when", "times", time_format="%d.%m.%Y")


def test_an_unknown_column_shows_the_nearest() -> None:
    assert "column 'fil', whole column: no such column\nnearest names: 'film'" in refusal(PLAIN, "fil")


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(sf.DataProblemsError, match="cannot be read: No such file"):
        read_cells(tmp_path / "no.csv")
    with pytest.raises(sf.DataProblemsError, match="cannot be read: Is a directory"):
        read_cells(tmp_path)


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=20), st.sampled_from([".", ","]))
def test_every_number_written_is_read_to_the_same_bits(values: list[float], decimal: str) -> None:
    text = "film;x\n" + "".join(f"{value!r};1\n".replace(".", decimal) for value in values)
    assert cells(text, separator=";", decimal=decimal).numbers("film").tolist() == values
