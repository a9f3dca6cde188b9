"""The Excel workbook of a review: the review's numbers as numbers, dates as dates, hostile text as text, the same bytes again."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import datetime
from pathlib import Path

import fastexcel
import numpy as np
import polars as pl
import pytest

import steadyfilm as sf
from steadyfilm.reports import write_review
from steadyfilm.reports.workbook import Sheet, review_sheets, workbook_bytes

from helpers import ONE_LAYER, shop

HOSTILE = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "http://example.org",
    r"$\bad$",
    "<script>",
    "../x",
    "bell\x07",
    "\u202eright to left",
    "{=1}",
]


@pytest.fixture(scope="module")
def review() -> sf.Review:
    return sf.review_readings(shop(step=0.3), sf.read_plan(ONE_LAYER))


def parts(content: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name).decode() for name in archive.namelist()}


def table(content: bytes, sheet: str) -> pl.DataFrame:
    return fastexcel.read_excel(content).load_sheet(sheet).to_polars()


def test_every_chart_with_its_lines_and_what_quiet_periods_show(review: sf.Review) -> None:
    charts = table(workbook_bytes(review_sheets(review), title="t"), "Charts")
    assert charts["stream"].to_list() == ["A", "B"]
    for row, chart in zip(charts.to_dicts(), review.layers[0].charts, strict=True):
        assert row["upper limit (mil)"] == pytest.approx(chart.lines.upper, rel=1e-15)
        assert row["signals"] == len(chart.signals)
        assert row["signals in a quiet period"] == pytest.approx(chart.expected_episodes, rel=1e-15)


def test_every_unit_with_its_average_time_and_side(review: sf.Review) -> None:
    content = workbook_bytes(review_sheets(review), title="t")
    units = table(content, "Units")
    layer = review.layers[0]
    assert units["unit"].to_list() == list(layer.units)
    np.testing.assert_allclose(units["average (mil)"].to_numpy(), layer.average, rtol=1e-15)
    assert units.schema["read"] == pl.Datetime("ms")
    assert layer.time is not None
    assert units["read"].to_list() == layer.time.astype("datetime64[s]").tolist()
    assert layer.conformance is not None
    outside = units.filter(pl.col("outside window") == "below")["unit"].to_list()
    assert outside == list(layer.conformance.below)
    misses = table(content, "Outside window")
    assert sorted(misses["unit"].to_list()) == sorted([*layer.conformance.below, *layer.conformance.above])


def test_changes_and_inputs_are_those_of_the_review(review: sf.Review) -> None:
    content = workbook_bytes(review_sheets(review), title="t")
    assert review.findings
    changes = table(content, "Changes")
    np.testing.assert_allclose(changes["size (mil)"].to_numpy(), [x.size for x in review.findings], rtol=1e-15)
    assert changes["in words"].to_list() == [x.sentence for x in review.findings]
    assert table(content, "Verdict")["verdict"].to_list() == list(review.verdict)
    assert set(table(content, "Options")["option"].to_list()) == set(review.made.options)


def test_sheets_without_rows_are_left_out() -> None:
    found = sf.review_readings(
        {"serial": ["A", "B"], "film": [2.1, 2.2]},
        sf.read_plan(
            'columns = {unit = "serial", value = "film"}\nmeasure = {unit = "mil"}\nlayers = [{name = "film", lower = 2.0}]'
        ),
    )
    names = [sheet.name for sheet in review_sheets(found)]
    assert "Changes" not in names
    assert "Set aside" not in names
    assert names[0] == "Verdict"


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_text(text: str) -> None:
    content = workbook_bytes([Sheet("S", (text,), ((text,),))], title=text)
    files = parts(content)
    sheet = files["xl/worksheets/sheet1.xml"]
    assert "<f>" not in sheet
    assert "<f " not in sheet
    assert "hyperlink" not in sheet
    assert not any("TargetMode=" in body for name, body in files.items() if "worksheets" in name)
    back = fastexcel.read_excel(content).load_sheet("S", header_row=None).to_polars()
    shown = back.to_series(0).to_list()
    clean = text.replace("\x07", "<U+0007>").replace("\u202e", "<U+202E>")
    assert shown == [clean, clean]


def test_numbers_that_excel_cannot_hold_are_told_as_text_and_missing_ones_are_empty() -> None:
    rows = ((float("inf"), 1.5, None), (1e300, float("nan"), datetime(2026, 3, 4, 5, 6)))
    files = parts(workbook_bytes([Sheet("S", ("a", "b", "c"), rows)], title=""))
    sheet = files["xl/worksheets/sheet1.xml"]
    assert ">inf<" in files["xl/sharedStrings.xml"]
    assert re.search(r'<c r="A3"><v>1E\+300</v></c>', sheet)
    assert 'r="B3"' not in sheet
    assert 'r="C2"' not in sheet


def test_a_text_longer_than_a_cell_says_that_it_is_cut() -> None:
    files = parts(workbook_bytes([Sheet("S", ("a",), (("x" * 40_000,),))], title=""))
    assert "x ... (cut)" in files["xl/sharedStrings.xml"]


def test_more_rows_than_a_sheet_holds_are_refused() -> None:
    class Many(tuple[tuple[int], ...]):
        def __len__(self) -> int:
            return 1_048_576

    with pytest.raises(ValueError, match="'S': 1048576 rows, a sheet holds 1048575"):
        workbook_bytes([Sheet("S", ("a",), Many())], title="")


def test_the_same_review_gives_the_same_bytes_whenever_it_is_written(review: sf.Review, tmp_path: Path) -> None:
    first = write_review(review, tmp_path / "a", when=datetime(2031, 5, 4)).workbook
    second = write_review(review, tmp_path / "b", when=datetime(2032, 6, 5)).workbook
    assert first.name == "review.xlsx"
    assert first.read_bytes() == second.read_bytes()
    assert len(first.read_bytes()) > 5000
