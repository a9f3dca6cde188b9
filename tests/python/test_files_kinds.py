"""What a file is, told by its bytes: one table from every kind of file, and one clear error for each that cannot be read."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import os
import sqlite3
import subprocess
import sys
import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import fastexcel
import numpy as np
import polars as pl
import pytest
import xlsxwriter

import steadyfilm as sf
from steadyfilm._files import Cells, cells_from_bytes, kinds, read_cells
from steadyfilm._files.sheet import from_serial
from steadyfilm._files.styles import shows

from helpers import ONE_LAYER, as_csv, shop

Sheet = list[list[Any]]
PLAIN: Sheet = [
    ["unit", "film", "read at"],
    ["A1", 2.11, datetime(2026, 3, 2, 7, 38)],
    ["A2", 2.07, datetime(2026, 3, 2, 8, 1)],
]


def workbook(*sheets: Sheet, names: tuple[str, ...] = (), options: dict[str, Any] | None = None, **more: Any) -> bytes:
    """Sheets as a workbook; a tuple is a formula and its stored result. ``merged`` names areas of the first sheet."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True, **(options or {})}) as book:
        moment = book.add_format({"num_format": more.get("date_format", "yyyy-mm-dd hh:mm")})
        for k, rows in enumerate(sheets):
            sheet = book.add_worksheet(names[k] if names else None)
            for i, row in enumerate(rows):
                for j, cell in enumerate(row):
                    if isinstance(cell, datetime | date | time | timedelta):
                        sheet.write_datetime(i, j, cell, moment)
                    elif isinstance(cell, tuple):
                        sheet.write_formula(i, j, cell[0], None, cell[1])
                    elif isinstance(cell, str):
                        sheet.write_string(i, j, cell)
                    elif cell is not None:
                        sheet.write(i, j, cell)
            if k in more.get("hidden", ()):
                sheet.hide()
            if k == 0:
                for area, text in more.get("merged", {}).items():
                    sheet.merge_range(area, text)
    return out.getvalue()


def read(content: bytes, **options: Any) -> Cells:
    return cells_from_bytes(content, name="film.dat", **options)


def refusal(content: bytes, column: str = "", kind: str = "numbers", **options: Any) -> str:
    def attempt() -> None:
        getattr(read(content, **options), kind)(column)

    with pytest.raises(sf.DataProblemsError) as caught:
        attempt()
    return str(caught.value)


def rezipped(content: bytes, change: dict[str, tuple[str, str]], *, drop: str = "") -> bytes:
    """A workbook with text of its parts changed; the text must be there."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            text = old.read(entry)
            if entry in change:
                before, after = change[entry]
                assert before.encode() in text, (entry, text[:2000])
                text = text.replace(before.encode(), after.encode())
            if entry != drop:
                new.writestr(entry, text)
    return out.getvalue()


# -- the same table -----------------------------------------------------------------------------


def test_the_name_says_nothing_and_the_digest_is_that_of_the_bytes(tmp_path: Path) -> None:
    out = io.BytesIO()
    pl.DataFrame(PLAIN[1:], schema=PLAIN[0], orient="row").write_parquet(out)
    text = "unit,film,read at\nA1,2.11,2026-03-02 07:38\nA2,2.07,2026-03-02 08:01\n"
    for content in (workbook(PLAIN), out.getvalue(), text.encode()):
        for name in ("film.csv", "film.xlsx", "film.parquet", "film"):
            (tmp_path / name).write_bytes(content)
            # The plan's words on text concern no cell that holds a number or a time.
            found = read_cells(tmp_path / name) if content == text.encode() else read_cells(tmp_path / name, decimal=",")
            assert found.text("unit") == ["A1", "A2"]
            assert found.numbers("film").tolist() == [2.11, 2.07]
            assert found.times("read at").tolist() == np.array(["2026-03-02T07:38", "2026-03-02T08:01"], "M8[us]").tolist()
            assert found.text("read at") == ["2026-03-02 07:38", "2026-03-02 08:01"]
            assert found.lines == [2, 3]
            assert found.sha256 == hashlib.sha256(content).hexdigest()


def _typed(table: dict[str, list[Any]]) -> pl.DataFrame:
    frame = pl.DataFrame(table)
    return frame.with_columns(pl.col("when").str.to_datetime("%Y-%m-%d %H:%M"), pl.col("try").cast(pl.Int64))


def test_one_month_gives_the_same_review_from_every_kind_of_file(tmp_path: Path) -> None:
    table = shop(step=0.2)
    table["try"] = [1] * len(table["unit"])
    table["film"][7], table["film"][20] = 53.3, None  # micrometers typed as mils, and a reading not taken
    frame = _typed(table)
    blank = {name: ["" if cell is None else cell for cell in column] for name, column in table.items()}
    (tmp_path / "film.csv").write_text(as_csv(blank), encoding="utf-8")
    with_commas = [";".join(str(x).replace(".", ",") for x in row) for row in [[*blank], *zip(*blank.values(), strict=True)]]
    (tmp_path / "comma.csv").write_text("\n".join(with_commas), encoding="utf-16")
    frame.write_parquet(tmp_path / "film.parquet")
    rows = [list(row) for row in frame.rows()]
    (tmp_path / "film.xlsx").write_bytes(workbook([frame.columns, *rows]))
    plan = ONE_LAYER.replace('time = "when"', 'time = "when"\nattempt = "try"')
    written = '[file]\nseparator = ";"\ndecimal = ","\nencoding = "utf-16"\n'
    told = {}
    for path in sorted(tmp_path.iterdir()):
        extra = written if path.name == "comma.csv" else ""
        review = sf.review_files(path, sf.read_plan(plan + extra)).to_dict()
        digests = review.pop("inputs")
        assert digests[f"readings: {path.name}"] == hashlib.sha256(path.read_bytes()).hexdigest()
        told[path.name] = json.dumps(review, sort_keys=True)
    assert len(told) == 4
    assert len(set(told.values())) == 1
    assert '"line": 9' in told["film.xlsx"]
    assert '"line": 22' in told["film.xlsx"]


def test_a_workbook_is_read_as_another_reader_reads_it() -> None:
    chance = np.random.default_rng(1)
    rows: Sheet = [["name", "number", "moment"]]
    for i in range(400):
        moment = datetime(1990, 1, 1) + timedelta(milliseconds=int(chance.integers(0, 2_000_000_000_000)))
        rows.append([f"n \u00e4 {i}", float(np.round(chance.normal(2, 1), 4)), moment])
    content = workbook(rows)
    other = fastexcel.read_excel(content).load_sheet(0).to_polars()
    ours = read(content)
    assert ours.text("name") == other["name"].to_list()
    assert ours.numbers("number").tolist() == other["number"].to_list()
    assert ours.times("moment").tolist() == [row[2] for row in rows[1:]]
    # The other one cuts, ours rounds to the millisecond.
    assert all(
        abs(a - b) <= timedelta(milliseconds=1) for a, b in zip(ours.times("moment").tolist(), other["moment"], strict=True)
    )


# -- workbooks ----------------------------------------------------------------------------------


def test_blank_rows_title_rows_and_left_columns_keep_the_sheets_row_numbers() -> None:
    rows: Sheet = [[], ["", "", "Film report"], [], *[["", "", *row] for row in (PLAIN[0], PLAIN[1], [], PLAIN[2])]]
    found = read(workbook(rows), header_line=3)
    assert list(found.columns) == ["unit", "film", "read at"]
    assert found.lines == [5, 7]
    rows[4][3] = "two"
    assert "column 'film', row 5, value 'two': is not a number" in refusal(workbook(rows), "film", header_line=3)


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        ("two", "value 'two': is not a number"),
        (True, "value 'TRUE': is true or false, not a number"),
        (datetime(2026, 2, 1), "value '2026-02-01': is a date or time, not a number"),
        (("=1/0", "#DIV/0!"), "value '#DIV/0!': is the error of a formula"),
    ],
)
def test_a_cell_that_is_no_number_is_named_with_its_row(cell: Any, reason: str) -> None:
    text = refusal(workbook([*PLAIN, ["A3", cell, datetime(2026, 3, 2, 9, 0)]]), "film")
    assert f"film.dat has 1 problem:\n  column 'film', row 4, {reason}" in text


def test_parts_may_lie_anywhere_and_be_named_from_the_top() -> None:
    moved = rezipped(workbook(PLAIN), {"xl/_rels/workbook.xml.rels": ("worksheets/sheet1.xml", "/odd/place.xml")})
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(moved)) as old, zipfile.ZipFile(out, "w") as new:
        for entry in old.namelist():
            new.writestr("odd/place.xml" if entry == "xl/worksheets/sheet1.xml" else entry, old.read(entry))
    assert read(out.getvalue()).numbers("film").tolist() == [2.11, 2.07]


def test_a_name_with_line_ends_or_other_spaces_is_found_by_its_words() -> None:
    found = read(workbook([["unit", "film\n(mil)", "a\u00a0b", "c  d", "c d"], ["A1", 2.1, 1, 1, 1]]))
    assert found.numbers("film (mil)").tolist() == [2.1]
    assert found.numbers("a b").tolist() == [1.0]
    assert found.name_of("c d") == "c d"
    assert found.name_of("c   d") is None


def test_text_in_a_column_of_numbers_is_read_as_the_plan_says() -> None:
    content = workbook([*PLAIN, ["A3", "2,5", datetime(2026, 3, 2, 9, 0)]])
    assert "set decimal = ','" in refusal(content, "film")
    assert read(content, decimal=",").numbers("film").tolist() == [2.11, 2.07, 2.5]


def test_formulas_count_with_their_stored_result() -> None:
    content = workbook([["unit", "film"], ["A1", ("=1+1.11", 2.11)], [("='A'&\"2\"", "A2"), 2.07]])
    found = read(content)
    assert found.numbers("film").tolist() == [2.11, 2.07]
    assert found.text("unit") == ["A1", "A2"]
    bare = rezipped(content, {"xl/worksheets/sheet1.xml": ("<v>2.11</v>", "")})
    assert "row 2: is a formula without a stored result; open the workbook and save it" in refusal(bare, "film")


@pytest.mark.parametrize(
    ("cell", "reason"),
    [
        (46083.5, "value '46083.5': is a number, not a date and time"),
        (time(7, 38), "value '07:38:00': is a time of day without a date"),
        ("02.03.2026", "value '02.03.2026': is not a time in ISO 8601"),
    ],
)
def test_a_cell_that_is_no_time_is_named_with_its_row(cell: Any, reason: str) -> None:
    assert f"column 'read at', row 4, {reason}" in refusal(workbook([*PLAIN, ["A3", 2.1, cell]]), "read at", "times")


def test_a_length_of_time_is_neither_a_number_nor_a_date() -> None:
    content = workbook([["unit", "film"], ["A1", timedelta(hours=30)]], date_format="[h]:mm")
    assert "row 2, value '1.25': is shown as a length of time" in refusal(content, "film")
    assert "is shown as a length of time" in refusal(content, "film", "times")


def test_both_calendars_give_the_same_days() -> None:
    for options in ({}, {"date_1904": True}):
        found = read(workbook(PLAIN, options=options))
        assert found.text("read at") == ["2026-03-02 07:38", "2026-03-02 08:01"]


def test_serial_numbers_are_those_of_the_standard() -> None:
    # ECMA-376 part 1, clause 18.17.4.1: 1900-01-01 is 1, 9999-12-31 is 2 958 465; in the other calendar 1904-01-01 is 0.
    assert from_serial(1.0) == datetime(1900, 1, 1)
    assert from_serial(61.0) == datetime(1900, 3, 1)
    assert from_serial(2_958_465.0) == datetime(9999, 12, 31)
    assert from_serial(0.0, date1904=True) == datetime(1904, 1, 1)
    assert from_serial(0.25) == time(6, 0)
    assert "no calendar" in str(from_serial(-1.0))
    assert "no calendar" in str(from_serial(2_958_466.0))


@pytest.mark.parametrize(
    ("code", "kind"),
    [
        ("General", "number"),
        ("0.00", "number"),
        ('0.00" mil, dry"', "number"),
        ("0.00E+00", "number"),
        ("[Red]-0.0;[Blue]0.0", "number"),
        ("#,##0.0_);(#,##0.0)", "number"),
        ("@", "number"),
        ("dd/mm/yyyy", "date"),
        ("[$-409]d-mmm-yy h:mm AM/PM;@", "date"),
        ("mm:ss.0", "date"),
        ("[h]:mm:ss", "duration"),
        ("[mm]:ss", "duration"),
    ],
)
def test_number_formats_show_what_they_show(code: str, kind: str) -> None:
    assert shows(code) == kind


def test_several_sheets_want_a_choice_and_hidden_ones_are_no_choice() -> None:
    content = workbook(PLAIN, [["a"], [1]], names=("March", "April"))
    text = refusal(content)
    assert "the workbook has 2 sheets: 'March', 'April'" in text
    assert 'sheet = "March" in the plan\'s [file]' in text
    assert read(content, sheet="April").numbers("a").tolist() == [1.0]
    assert "has no sheet 'Marsh'\nNearest names: 'March'" in refusal(content, sheet="Marsh")
    assert read(workbook(PLAIN, [["a"], [1]], hidden=(1,))).text("unit") == ["A1", "A2"]


def test_merged_cells_in_the_table_are_refused_and_above_it_are_titles() -> None:
    rows: Sheet = [["Film report"], *PLAIN]
    found = read(workbook(rows, merged={"A1:C1": "Film report"}), header_line=2)
    assert found.lines == [3, 4]
    text = refusal(workbook([*PLAIN, ["", 2.0]], merged={"A3:A4": "A2"}))
    assert "column 'unit', row 3, value cells A3:A4: are merged" in text
    assert "Take the merging off" in text


def test_cells_beside_the_table_and_names_twice_are_named() -> None:
    assert "row 3, value 'see note': stands in column E, which has no name in row 1" in refusal(
        workbook([PLAIN[0], PLAIN[1], [*PLAIN[2], None, "see note"]])
    )
    assert "column 'unit', row 1: stands twice" in refusal(workbook([["unit", "unit"], ["A", "B"]]))


def test_characters_that_a_workbook_writes_in_its_own_way_are_read() -> None:
    found = read(workbook([["unit", "film"], ["a\x07b <&> \u202e", 2.0], ["_x0041_", 2.0]]))
    assert found.text("unit") == ["a\x07b <&> \u202e", "_x0041_"]


@pytest.mark.parametrize(
    ("rows", "options", "said"),
    [
        ([], {}, "the sheet is empty"),
        ([["unit", "film"]], {}, "column names but no rows"),
        (PLAIN, {"header_line": 9}, "the sheet has no row 9 for the column names"),
    ],
)
def test_an_empty_sheet_says_so(rows: Sheet, options: dict[str, Any], said: str) -> None:
    assert said in refusal(workbook(rows), **options)


# -- files that cannot be read ------------------------------------------------------------------


def _zip(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return out.getvalue()


def _database() -> bytes:
    base = sqlite3.connect(":memory:")
    base.execute("create table film (value real)")
    content = base.serialize()
    base.close()
    return content


def _flagged(content: bytes) -> bytes:
    """A zip whose entries say that they are encrypted."""
    changed = bytearray(content)
    at = 0
    while (at := changed.find(b"PK\x01\x02", at)) >= 0:
        changed[at + 8] |= 1
        at += 4
    return bytes(changed)


OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


@pytest.mark.parametrize(
    ("content", "said", "way_out"),
    [
        (b"", "the file is empty", ""),
        (OLD + "Workbook".encode("utf-16-le"), "a workbook of the old .xls format", "save it as .xlsx"),
        (b"\x09\x04\x06\x00" + bytes(9), "a workbook of the old .xls format", "save it as .xlsx"),
        (OLD + "EncryptedPackage".encode("utf-16-le"), "is encrypted", "Save a copy without a password"),
        (_flagged(workbook(PLAIN)), "is encrypted", "Save a copy without a password"),
        (_zip(a=b"text"), "an archive (zip), not an Excel workbook", "Unpack it"),
        (_zip(mimetype=b"application/vnd.oasis.opendocument.spreadsheet"), "OpenDocument", "save it as .xlsx"),
        (_zip(**{"xl/workbook.bin": b"x"}), "a binary workbook (.xlsb)", "save it as .xlsx"),
        (_zip(**{"[Content_Types].xml": b"x", "_rels/.rels": b"<Relationships/>"}), "not an Excel workbook", "Unpack it"),
        (workbook(PLAIN)[:-400], "cut off or damaged", "Copy or export it again"),
        (workbook(PLAIN)[:40], "cut off or damaged", "Copy or export it again"),
        (rezipped(workbook(PLAIN), {}, drop="xl/worksheets/sheet1.xml"), "cut off or damaged", "save it anew"),
        (gzip.compress(b"unit,film\n", mtime=0), "compressed (gzip)", "Unpack it"),
        (b"%PDF-1.7\n", "is a PDF", "as .xlsx, CSV or Parquet"),
        (_database(), "a database (SQLite)", "Export the readings"),
        (b"ARROW1\x00\x00", "an Arrow (Feather) file", "Save the table as Parquet"),
        (b"\xef\xbb\xbf\n<HTML><table>", "a web page or XML, whatever its name says", "save it as .xlsx"),
        (b'<?xml version="1.0"?><Workbook>', "a web page or XML", "save it as .xlsx"),
        (b"PAR1 no", "the Parquet file is cut off", "Copy or export it again"),
        (b"PAR1" + bytes(40) + b"PAR1", "the Parquet file is damaged", "Copy or export it again"),
        (b"PARE" + bytes(40) + b"PARE", "an encrypted Parquet file", "without encryption"),
        (b"PAR1" + bytes(40) + b"PARE", "an encrypted Parquet file", "without encryption"),
    ],
    ids=lambda given: "" if isinstance(given, bytes) else given,
)
def test_each_kind_that_cannot_be_read_has_one_error_with_the_way_out(content: bytes, said: str, way_out: str) -> None:
    text = refusal(content)
    assert text.startswith("film.dat has 1 problem:\n")
    assert said in text
    assert way_out in text


DOCTYPE = '<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb"><!ENTITY c "&b;&b;&b;&b;&b;&b;">]>'


@pytest.mark.parametrize(
    ("part", "before", "after", "said"),
    [
        ("xl/worksheets/sheet1.xml", "<worksheet", f"{DOCTYPE}<worksheet", "declares a document type"),
        ("xl/worksheets/sheet1.xml", "</sheetData>", "", "cut off or damaged"),
        ("xl/worksheets/sheet1.xml", 'r="A2"', 'r="ZZZZ2"', "'ZZZZ2' as the name of a cell"),
        ("xl/worksheets/sheet1.xml", '<row r="3"', '<row r="2"', "row 2 after row 2"),
        ("xl/worksheets/sheet1.xml", '<row r="3"', '<row r="9999999"', "row 9999999 after row 2"),
        ("xl/worksheets/sheet1.xml", "<v>2.11</v>", "<v>2.1.1</v>", "'2.1.1' as a number in row 2"),
        ("xl/worksheets/sheet1.xml", "<v>2.11</v>", "<v>1e999</v>", "'1e999' as a number in row 2"),
        ("xl/worksheets/sheet1.xml", 't="s"><v>3</v>', 't="s"><v>33</v>', "string 33 of 5"),
        ("xl/_rels/workbook.xml.rels", "worksheets/sheet1.xml", "worksheets/../../../x.xml", "no item named"),
        ("xl/_rels/workbook.xml.rels", "relationships/worksheet", "relationships/chartsheet", "no sheet of cells"),
    ],
)
def test_a_damaged_workbook_has_one_error(part: str, before: str, after: str, said: str) -> None:
    text = refusal(rezipped(workbook(PLAIN), {part: (before, after)}))
    assert text.startswith("film.dat has 1 problem:\n")
    assert said in text


def test_a_file_that_unpacks_to_too_much_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    many = pl.DataFrame({"unit": pl.repeat("A", 200_000, eager=True), "film": pl.repeat(2.0, 200_000, eager=True)})
    out = io.BytesIO()
    many.write_parquet(out)
    assert len(out.getvalue()) < 20_000
    monkeypatch.setattr(kinds, "MOST_CELLS", 100_000)
    assert "the file unpacks to more than 100,000 cells" in refusal(out.getvalue())
    rows: Sheet = [["unit", "film"], *[["A", 1.0]] * 200]
    monkeypatch.setattr(kinds, "MOST_CELLS", 300)
    assert "the file unpacks to more than 300 cells" in refusal(workbook(rows))
    assert "the file unpacks to more than 300 cells" in refusal(b"unit,film\n" + b"A,1\n" * 200)
    monkeypatch.setattr("steadyfilm._files.excel.LARGEST_PART", 2000)
    assert "the workbook unpacks to more than 0 MiB" in refusal(workbook(rows))
    monkeypatch.setattr(kinds, "LARGEST_FILE", 100)
    assert "the file is larger" in refusal(b"unit,film\n" + b"A,1\n" * 200)


def test_a_large_file_is_refused_before_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "film.csv").write_bytes(bytes(300))
    monkeypatch.setattr(kinds, "LARGEST_FILE", 100)
    with pytest.raises(sf.DataProblemsError, match="the file is larger"):
        read_cells(tmp_path / "film.csv")


# -- Parquet ------------------------------------------------------------------------------------


def test_every_column_type_of_parquet_is_read_or_named() -> None:
    frame = pl.DataFrame(
        {
            "whole": pl.Series([1, None], dtype=pl.Int32),
            "half": pl.Series([1.5, float("nan")], dtype=pl.Float32),
            "exact": pl.Series(["2.10", "2.25"]).cast(pl.Decimal(10, 2)),
            "group": pl.Series(["a", "b"], dtype=pl.Categorical),
            "day": [date(2026, 3, 2), None],
            "zoned": pl.Series([datetime(2026, 3, 2, 7, 38)] * 2).dt.replace_time_zone("Europe/Berlin"),
            "flag": [True, False],
            "list": [[1], [2]],
            "none": pl.Series([None, None]),
        }
    )
    out = io.BytesIO()
    frame.write_parquet(out)
    found = read(out.getvalue())
    assert found.numbers("exact").tolist() == [2.1, 2.25]
    assert np.isnan(found.numbers("whole")).tolist() == [False, True]
    assert np.isnan(found.numbers("half")).tolist() == [False, True]
    assert found.text("whole") == ["1", ""]
    assert found.text("group") == ["a", "b"]
    assert found.text("flag") == ["TRUE", "FALSE"]
    assert np.isnan(found.numbers("none")).all()
    assert found.times("day").tolist() == [datetime(2026, 3, 2), None]
    assert found.times("zoned")[0] == np.datetime64("2026-03-02T07:38")  # the wall clock, whatever the zone
    with pytest.raises(sf.DataProblemsError, match=r"row 2, value '\[1\]': is a list, which no column here can be"):
        found.text("list")


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        (["03/04/2026"], "'%d/%m/%Y' (day first) or time_format = '%m/%d/%Y' (month first)"),
        (["03.04.26 07:30"], "'%d.%m.%y %H:%M' (day first) or time_format = '%m.%d.%y %H:%M' (month first)"),
        (["03/04/2026", "13/04/2026"], "Write time_format = '%d/%m/%Y' in the plan's [file]; no other order fits them all."),
        (["03/04/2026", "04/13/2026"], "Write time_format = '%m/%d/%Y'"),
        (["13/04/2026", "04/13/2026"], "no one time_format reads them all"),
        (["2026/04/03 07:30:15"], "Write time_format = '%Y/%m/%d %H:%M:%S'"),
        (["3/14/2026 7:30 AM"], "Write time_format = '%m/%d/%Y %I:%M %p'"),
        (["3/4/2026 17:30", "3/4/2026 7:30 AM"], "Say how times are written with time_format"),
        (["40.50.2026"], "Say how times are written with time_format"),
        (["2026-03-02", "soon"], "Say how times are written with time_format"),
    ],
)
def test_the_order_of_day_and_month_is_never_guessed(cells: list[str], said: str) -> None:
    text = "unit,when\n" + "".join(f"A,{cell}\n" for cell in cells)
    assert said in refusal(text.encode(), "when", "times")


def test_damage_inside_a_parquet_file_is_one_error_or_none() -> None:
    code = """
import io, random
import polars as pl
from steadyfilm._files import cells_from_bytes
from steadyfilm.errors import DataProblemsError
out = io.BytesIO()
pl.DataFrame({"unit": [f"A{i}" for i in range(3000)], "film": [2 + i / 7 for i in range(3000)]}).write_parquet(out)
chance, refused = random.Random(1), 0
for _ in range(100):
    content = bytearray(out.getvalue())
    content[chance.randrange(4, len(content) - 4)] = chance.randrange(256)
    try:
        cells_from_bytes(bytes(content), name="film.parquet").numbers("film")
    except DataProblemsError as error:
        assert "film.parquet" in str(error)
        refused += 1
print(refused)
"""
    environment = {**os.environ, "PYTHONPATH": str(Path(sf.__file__).parents[1])}
    done = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True)
    assert 10 < int(done.stdout) < 100


@pytest.mark.parametrize(
    ("rows", "options"),
    [
        ([["2026-03-02", "07:38"], ["2026-03-03", "08:01:30"]], {}),
        ([["02.03.2026", "07:38:00"], ["03.03.2026", "08:01:30"]], {"time_format": "%d.%m.%Y %H:%M:%S"}),
        ([[date(2026, 3, 2), time(7, 38)], [date(2026, 3, 3), time(8, 1, 30)]], {}),
    ],
)
def test_date_and_time_of_day_may_stand_in_two_columns(rows: list[list[Any]], options: dict[str, Any]) -> None:
    wanted = [datetime(2026, 3, 2, 7, 38), datetime(2026, 3, 3, 8, 1, 30), None, None]
    table = [["day", "clock"], *rows, [rows[0][0], None], [None, rows[0][1]]]
    assert read(workbook(table), **options).times("clock", "day").tolist() == wanted
    out = io.BytesIO()
    pl.DataFrame(table[1:], schema=table[0], orient="row").write_parquet(out)
    assert read(out.getvalue(), **options).times("clock", "day").tolist() == wanted
    if isinstance(rows[0][0], str):
        text = "\n".join(",".join(cell or "" for cell in row) for row in table)
        assert read(text.encode(), **options).times("clock", "day").tolist() == wanted


def test_a_date_cell_beside_text_is_no_time() -> None:
    with pytest.raises(
        sf.DataProblemsError, match=r"row 2, value '2026-03-02 07:38': is a date or time beside text; both must be"
    ):
        read(workbook([["day", "clock"], [date(2026, 3, 2), "07:38"]])).times("clock", "day")


def test_a_month_with_two_columns_of_time_is_the_same_review(tmp_path: Path) -> None:
    table = shop(step=0.2)
    told = []
    for plan in (ONE_LAYER, ONE_LAYER.replace('time = "when"', 'time = "clock"\ndate = "when"')):
        (tmp_path / "film.csv").write_text(as_csv(table), encoding="utf-8")
        from_file = sf.review_files(tmp_path / "film.csv", sf.read_plan(plan))
        from_table = sf.review_readings(table, sf.read_plan(plan))
        assert from_file.verdict == from_table.verdict
        told.append(from_file.verdict)
        table["clock"] = [text[11:] for text in table["when"]]
        table["when"] = [text[:10] for text in table["when"]]
    assert told[0] == told[1]
