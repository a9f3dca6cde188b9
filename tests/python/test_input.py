"""Every kind of table gives the same numbers, keeps the caller's kind, and is left as it was."""

from __future__ import annotations

import datetime
import decimal
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pyarrow as pa
import pytest

import steadyfilm as sf
from steadyfilm._input import labels, make_table, readings, table, times

VALUES = [2.11, 2.07, 2.14, 2.09]
TABLES: dict[str, Callable[[dict[str, Any]], Any]] = {
    "pandas": pd.DataFrame,
    "polars": pl.DataFrame,
    "pyarrow": pa.table,
    "dict": dict,
}
each_kind = pytest.mark.parametrize("kind", list(TABLES))


@each_kind
def test_every_table_gives_the_same_numbers_and_its_own_kind_back(kind: str) -> None:
    found = sf.summarize(TABLES[kind]({"film": VALUES}), "film", unit="mil")
    plain = sf.summarize(VALUES, unit="mil")
    assert (found.mean, found.sum_squares) == (plain.mean, plain.sum_squares)
    assert found.made.frame == kind
    assert type(found.to_frame()) is type(TABLES[kind]({"film": VALUES}))


@pytest.mark.parametrize(
    "column",
    [
        np.array(VALUES)[::1],
        np.repeat(VALUES, 2)[::2],
        np.array(VALUES, dtype=">f8"),
        pd.Series(VALUES),
        pl.Series(VALUES),
        pa.chunked_array([VALUES[:1], VALUES[1:]]),
        tuple(VALUES),
        np.ma.masked_array(VALUES, mask=False),
    ],
    ids=["array", "strided", "byte-swapped", "pandas", "polars", "arrow", "tuple", "masked array"],
)
def test_a_column_may_come_alone(column: Any) -> None:
    assert readings(column).values.tolist() == VALUES


def test_integers_and_single_precision_are_numbers() -> None:
    assert readings(np.array([1, 2], dtype=np.int16)).values.tolist() == [1.0, 2.0]
    assert readings(np.array([0.5, 2], dtype=np.float32)).values.tolist() == [0.5, 2.0]


@pytest.mark.parametrize(
    "column",
    [
        [2.1, None, 2.2],
        [2.1, float("nan"), 2.2],
        pd.array([2.1, None, 2.2], dtype="Float64"),
        pl.Series([2.1, None, 2.2]),
        pa.array([2.1, None, 2.2]),
        np.ma.masked_array([2.1, 9.9, 2.2], mask=[0, 1, 0]),
    ],
    ids=["None", "NaN", "pandas", "polars", "arrow", "masked"],
)
def test_null_and_nan_are_missing_and_never_a_number(column: Any) -> None:
    with pytest.raises(sf.DataProblemsError, match="row 2: reading is missing"):
        readings(column)
    with pytest.warns(sf.MissingDataWarning, match="1 missing"):
        kept = readings(column, missing="drop")
    assert kept.values.tolist() == [2.1, 2.2]
    assert kept.missing_rows == (2,)
    assert kept.rows.tolist() == [0, 2]


def test_all_problems_come_at_once_with_row_value_and_way_out() -> None:
    with pytest.raises(sf.DataProblemsError) as caught:
        readings({"film": ["2,1", 2.2, True, float("inf"), "thin"]}, "film")
    assert [(p.row, p.value) for p in caught.value.problems] == [(1, "'2,1'"), (3, "True"), (4, "inf"), (5, "'thin'")]
    assert "decimal=','" in str(caught.value)


def test_infinite_readings_in_a_number_column_are_refused_with_their_row() -> None:
    with pytest.raises(sf.DataProblemsError, match=r"row 2, value inf: is not finite"):
        readings(np.array([1.0, np.inf]))


def test_numbers_beyond_a_double_are_named_and_a_decimal_nan_is_missing() -> None:
    with pytest.raises(sf.DataProblemsError, match=r"row 2, value 10{19}\.\.\. \(401 characters\): is not finite"):
        readings([2.1, 10**400])
    with pytest.raises(sf.DataProblemsError, match="row 1: reading is missing"):
        readings([decimal.Decimal("NaN"), decimal.Decimal("2.1")])


@each_kind
def test_the_data_is_left_as_it_was(kind: str) -> None:
    column = np.array(VALUES)
    data = TABLES[kind]({"film": column})
    sf.summarize(data, "film", unit="mil")
    assert column.tolist() == VALUES
    assert readings(data, "film").values.tolist() == VALUES


def test_results_keep_no_view_of_the_data() -> None:
    column = np.array(VALUES)
    found = sf.summarize(column, unit="mil")
    before = found.to_json()
    column[:] = 0.0
    assert found.to_json() == before


def test_a_table_needs_a_column_name_and_equal_columns() -> None:
    with pytest.raises(sf.InvalidInputError, match="name one of its columns"):
        readings(pl.DataFrame({"film": VALUES}))
    with pytest.raises(sf.InvalidInputError, match="differ in length"):
        table({"film": [1.0], "unit": ["a", "b"]})
    with pytest.raises(sf.InvalidInputError, match="collect"):
        table(pl.LazyFrame({"film": VALUES}))
    with pytest.raises(sf.InvalidInputError, match="expected a table"):
        table(3.5)


def test_columns_have_one_dimension() -> None:
    with pytest.raises(sf.InvalidInputError, match="one dimension"):
        readings(np.zeros((2, 2)))


def test_labels_are_text_and_missing_ones_are_none() -> None:
    assert labels([1.0, "A", None, 2]).tolist() == ["1", "A", None, "2"]


def test_times_are_iso_and_never_guessed() -> None:
    found = times(["2026-03-02 07:15", datetime.datetime(2026, 3, 2, 8), np.datetime64("2026-03-03")])
    assert found.astype(str).tolist() == [
        "2026-03-02T07:15:00.000000",
        "2026-03-02T08:00:00.000000",
        "2026-03-03T00:00:00.000000",
    ]
    with pytest.raises(sf.DataProblemsError, match=r"row 2, value '03/02/2026'.*ISO 8601"):
        times(["2026-03-02", "03/02/2026"])


def test_a_zone_is_taken_off_so_that_shifts_stay_where_they_are() -> None:
    zone = datetime.timezone(datetime.timedelta(hours=-6))
    local = datetime.datetime(2026, 3, 2, 22, 30, tzinfo=zone)
    written = [local, "2026-03-02 22:30-06:00", "2026-03-02T22:30Z", "20260302T2230"]
    assert times(written).tolist() == [datetime.datetime(2026, 3, 2, 22, 30)] * 4


@pytest.mark.parametrize("given", ["now", "today", "20260302.5", "1767225600", 1_767_225_600, 3.5, True, "2026-13-01"])
def test_numbers_and_words_are_no_times(given: Any) -> None:
    with pytest.raises(sf.DataProblemsError, match=r"row 1, value .*is not an ISO 8601 time"):
        times([given])


def test_a_missing_time_of_pandas_is_missing() -> None:
    assert np.isnat(times(pd.Series([pd.NaT, pd.Timestamp("2026-03-02")])))[0]
    with pytest.raises(sf.DataProblemsError, match="column 'when', row 1: time is missing"):
        sf.individuals_chart(
            pd.DataFrame({"film": [2.1, 2.2], "when": [pd.NaT, pd.Timestamp("2026-03-02")]}), "film", unit="mil", time="when"
        )


def test_unknown_choices_are_refused_by_name() -> None:
    with pytest.raises(sf.InvalidInputError, match="'error' or 'drop', got 'skip'"):
        readings(VALUES, missing="skip")
    with pytest.raises(sf.InvalidInputError, match="got 'spreadsheet'"):
        make_table({"film": VALUES}, "spreadsheet")


@pytest.mark.parametrize("gap", [8, "8h", datetime.timedelta(0), np.timedelta64(8, "h")])
def test_a_longest_gap_has_a_unit(gap: Any) -> None:
    table = {"film": VALUES, "when": [f"2026-03-0{day}" for day in (2, 3, 4, 5)]}
    for chart in (sf.individuals_chart, sf.ewma_chart, sf.monitor_points):
        with pytest.raises(sf.InvalidInputError, match="longest_gap must be a positive timedelta, for example"):
            chart(table, "film", unit="mil", time="when", longest_gap=gap)


def test_a_name_without_a_table_is_explained() -> None:
    for options in ({"time": "when"}, {"period": "shift"}, {"excluded": "suspect"}):
        name = next(iter(options.values()))
        with pytest.raises(sf.InvalidInputError, match=f"'{name}' names a column, yet the readings came without a table"):
            sf.individuals_chart(VALUES, unit="mil", **options)  # type: ignore[arg-type]  # options by name
    with pytest.raises(sf.InvalidInputError, match="'part' names a column, yet the readings came without a table"):
        sf.subgroup_chart(np.array(VALUES), unit="mil", subgroup="part")


def test_whole_columns_of_times_and_labels_are_those_of_single_items() -> None:
    """The way of whole arrays gives what single items give, zones and missing ones included."""
    moments = np.array(["2026-03-02T07:15", "NaT", "1969-12-31T23:59:59.999999"], dtype="datetime64[us]")
    one_by_one = times(moments.tolist())
    for column in (moments, pl.Series(moments), pd.Series(moments), moments.astype("datetime64[ns]")):
        np.testing.assert_array_equal(times(column), one_by_one)
        assert times(column).dtype == np.dtype("datetime64[us]")
    days = np.array(["2026-03-02"], dtype="datetime64[D]")
    assert times(days)[0] == np.datetime64("2026-03-02T00:00")
    zoned = pd.Series(pd.to_datetime(["2026-03-02 07:15"])).dt.tz_localize("America/Chicago")
    assert times(zoned)[0] == np.datetime64("2026-03-02T07:15")
    written = labels(np.array(["A", "bc"]))
    assert written.tolist() == ["A", "bc"]
    assert all(type(word) is str for word in written)
