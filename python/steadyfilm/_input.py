"""The one place where a caller's data becomes arrays. Null is not NaN; nothing is guessed, dropped or changed unseen."""

from __future__ import annotations

import difflib
import math
import re
import warnings
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from numbers import Integral, Real
from typing import Any, Literal

import narwhals.stable.v2 as nw
import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError, MissingDataWarning

__all__ = [
    "Column",
    "Table",
    "check_options",
    "column_of",
    "float_list",
    "labels",
    "make_table",
    "name_tuple",
    "optional_numbers",
    "pause",
    "readings",
    "table",
    "times",
]

Floats = NDArray[np.float64]

# What NumPy reads as it stands; it would take 20260302 for a year, and shift a time that has a zone.
_WALL_TIME = re.compile(r"\d{4}-\d\d-\d\d([T ]\d\d(:\d\d(:\d\d(\.\d+)?)?)?)?", re.ASCII)

_Backend = Literal["pandas", "polars", "pyarrow"]
_BACKENDS: dict[str, _Backend] = {"pandas": "pandas", "polars": "polars", "pyarrow": "pyarrow"}


@dataclass(frozen=True)
class Column:
    """One column of numbers, contiguous, with the rows it came from.

    ``rows`` holds the position of each kept value in the caller's data, from 0; ``missing_rows`` those left out,
    counted from 1 as in messages.
    """

    values: Floats
    rows: NDArray[np.intp]
    missing_rows: tuple[int, ...]
    frame: str
    name: str


@dataclass(frozen=True)
class Table:
    """Columns by name, as the caller's library holds them, and the kind of table they came in."""

    columns: Mapping[str, Any]
    frame: str
    height: int

    def column(self, name: str) -> Any:
        """The column of that name; an unknown name is an error that shows the nearest ones."""
        if name in self.columns:
            return self.columns[name]
        near = difflib.get_close_matches(name, list(self.columns), n=3, cutoff=0.4)
        have = ", ".join(f"'{known}'" for known in (near or list(self.columns)))
        raise DataProblemsError(
            [DataProblem(name, 0, "", "no such column")],
            advice=f"{'nearest names' if near else 'columns present'}: {have or 'none, the table is empty'}",
        )


def table(data: Any) -> Table:
    """Any table (pandas, polars, Arrow, mapping of columns) as columns by name."""
    if isinstance(data, Table):
        return data
    if isinstance(data, Mapping):
        heights = {str(name): len(column) for name, column in data.items()}
        if len(set(heights.values())) > 1:
            raise InvalidInputError(f"columns differ in length: {heights}", argument="data")
        return Table({str(name): column for name, column in data.items()}, "dict", next(iter(heights.values()), 0))
    frame = nw.from_native(data, pass_through=True)
    if isinstance(frame, nw.LazyFrame):
        raise InvalidInputError("the table is lazy; collect it first, for example data.collect()", argument="data")
    if not isinstance(frame, nw.DataFrame):
        raise InvalidInputError(
            f"expected a table (pandas, polars, Arrow, or a mapping of columns), got {type(data).__name__}",
            argument="data",
        )
    return Table({name: frame.get_column(name) for name in frame.columns}, _kind(frame), len(frame))


def column_of(data: Any, name: str) -> Any:
    """The column of that name beside the readings, which must then have come in a table."""
    if data is None or not (isinstance(data, Table | Mapping) or hasattr(data, "columns")):
        raise InvalidInputError(
            f"'{name}' names a column, yet the readings came without a table: give the values themselves", argument="data"
        )
    return table(data).column(name)


def pause(longest: Any) -> np.timedelta64:
    """The longest pause that is no gap; a bare number has no unit and is refused."""
    if not isinstance(longest, timedelta) or longest <= timedelta(0):
        raise InvalidInputError(
            f"longest_gap must be a positive timedelta, for example timedelta(hours=8), got {longest!r}", argument="longest_gap"
        )
    return np.timedelta64(longest)


def readings(data: Any, column: str | None = None, *, missing: str = "error", name: str = "values") -> Column:
    """One column of numbers as contiguous float64.

    Parameters
    ----------
    data : table, series, array or sequence
        A table needs ``column``; anything else is the column itself.
    missing : {"error", "drop"}
        Missing readings (null or NaN) are refused; dropping them is a choice that the result records.

    Raises
    ------
    DataProblemsError
        All problems at once: column, row (counted from 1), value and reason.
    """
    if missing not in ("error", "drop"):
        raise InvalidInputError(f"missing must be 'error' or 'drop', got {missing!r}", argument="missing")
    if column is not None:
        whole = table(data)
        source, frame, name = whole.column(column), whole.frame, column
    else:
        source, frame = _series(data)
    values, problems, absent = _numbers(source, name)
    if problems:
        decimal = any("," in problem.value for problem in problems)
        raise DataProblemsError(
            problems,
            advice="If the numbers are written with a decimal comma, read the file with decimal=','." if decimal else "",
        )
    if absent.any() and missing == "error":
        rows = np.flatnonzero(absent) + 1
        raise DataProblemsError(
            [DataProblem(name, int(row), "", "reading is missing") for row in rows],
            advice="Fill them in, leave those rows out, or write missing='drop' to have them left out and counted.",
        )
    kept = np.flatnonzero(~absent)
    if absent.any():
        warnings.warn(
            f"{plural(int(absent.sum()), 'missing reading')} in column '{name}' left out (missing='drop')",
            MissingDataWarning,
            stacklevel=3,
        )
    return Column(
        values=np.ascontiguousarray(values[kept] if absent.any() else values),
        rows=kept,
        missing_rows=tuple(int(row) + 1 for row in np.flatnonzero(absent)),
        frame=frame,
        name=name,
    )


def optional_numbers(data: Any, column: str) -> Floats:
    """One column of numbers as float64, NaN where a value is missing; for callers that list what is missing themselves."""
    values, problems, _ = _numbers(table(data).column(column), column)
    if problems:
        raise DataProblemsError(problems)
    return values.copy()


def labels(data: Any, column: str | None = None, *, name: str = "labels") -> NDArray[np.object_]:
    """One column of labels as text; missing ones become None."""
    source = table(data).column(column) if column is not None else data
    array = _plain_array(source)
    items = array.tolist() if array is not None and array.dtype.kind == "U" and array.ndim == 1 else _items(source, name)
    # Labels are text already in most tables and in every simulation of one.
    if all(type(item) is str for item in items):
        return np.array(items, dtype=object)
    return np.array([None if _is_missing(item) else _label(item) for item in items], dtype=object)


def times(data: Any, column: str | None = None, *, name: str = "time") -> NDArray[np.datetime64]:
    """One column of times as datetime64[us]; text must be ISO 8601, nothing is guessed."""
    source = table(data).column(column) if column is not None else data
    label = column or name
    array = _plain_array(source)
    if array is not None and array.dtype.kind == "M" and array.ndim == 1:
        return array.astype("datetime64[us]")
    out = np.empty(len(source), dtype="datetime64[us]")
    problems = []
    for i, item in enumerate(_items(source, label)):
        try:
            out[i] = np.datetime64("NaT") if _is_missing(item) else _moment(item)
        except (ValueError, TypeError, OverflowError):
            problems.append(DataProblem(label, i + 1, _shown(item), "is not an ISO 8601 time"))
    if problems:
        raise DataProblemsError(problems, advice="Write times as 2026-03-31 14:05, or give the reader a time format.")
    return out


def make_table(columns: Mapping[str, Any], kind: str) -> Any:
    """A table of the given kind from columns of equal length."""
    if kind == "dict":
        return {name: np.asarray(column) for name, column in columns.items()}
    if kind not in _BACKENDS:
        raise InvalidInputError(f"kind must be pandas, polars, pyarrow or dict, got {kind!r}", argument="kind")
    plain = {name: list(column) if _is_objects(column) else np.asarray(column) for name, column in columns.items()}
    return nw.from_dict(plain, backend=_BACKENDS[kind]).to_native()


# -- options ------------------------------------------------------------------------------------


def check_options(owner: Any, given: Mapping[str, Any]) -> None:
    """Refuse option values of a kind that the annotations of a function or class do not allow.

    Parameters
    ----------
    owner : function or class
        Whose annotations say what each option may be; what is annotated as data (Any, arrays) is left to the readers above.
    given : mapping
        Values by name: ``locals()`` in the first line of a function.

    Raises
    ------
    InvalidInputError
        Naming the option, what it must be, what was given, and the way out.
    """
    for name, kinds in _kinds_of(owner):
        value = given[name]
        if not any(_fits(value, kind) for kind in kinds):
            words = " or ".join(_said(kind) for kind in kinds if kind != "None")
            raise InvalidInputError(
                f"{name} must be {words}, got {_shown(value)} ({type(value).__name__}): {_way_out(value, kinds)}",
                function=getattr(owner, "__name__", ""),
                argument=name,
            )


_KIND_WORDS = {
    "int": "a whole number",
    "float": "a number",
    "str": "text",
    "bool": "True or False",
    "timedelta": "a positive timedelta, for example timedelta(hours=8)",
    "Sequence[str]": "a word or a list of words",
    "Mapping[str, float]": "a mapping of names to numbers",
}
_FITS: dict[str, Callable[[Any], bool]] = {
    "None": lambda value: value is None,
    "bool": lambda value: isinstance(value, bool | np.bool_),
    "int": lambda value: isinstance(value, Integral) and not isinstance(value, bool),
    "float": lambda value: isinstance(value, Real) and not isinstance(value, bool),
    "str": lambda value: isinstance(value, str),
    "timedelta": lambda value: isinstance(value, timedelta),
    "Sequence[str]": lambda value: (
        isinstance(value, str)
        or (isinstance(value, Sequence | np.ndarray) and not isinstance(value, bytes) and all(isinstance(x, str) for x in value))
    ),
    "Mapping[str, float]": lambda value: isinstance(value, Mapping),
}


Kind = str | type


@cache
def _kinds_of(owner: Any) -> tuple[tuple[str, tuple[Kind, ...]], ...]:
    """Options whose annotation is made of kinds known here or of classes, with these kinds."""
    around = getattr(owner, "__globals__", {})
    found = []
    for name, annotation in owner.__annotations__.items():
        kinds: list[Kind] = []
        for word in re.split(r" \| (?![^\[]*\])", str(annotation)):
            kind = "str" if word.startswith("Literal") else word
            known = kind if kind in _FITS else around.get(kind)
            kinds += [known] if isinstance(known, str) or (isinstance(known, type) and known is not Any) else [""]
        if name != "return" and all(kinds):
            found.append((name, tuple(dict.fromkeys(kinds))))
    return tuple(found)


def _fits(value: Any, kind: Kind) -> bool:
    return isinstance(value, kind) if isinstance(kind, type) else _FITS[kind](value)


def _said(kind: Kind) -> str:
    return f"a {kind.__name__}" if isinstance(kind, type) else _KIND_WORDS[kind]


def _way_out(value: Any, kinds: Sequence[Kind]) -> str:
    if value is None:
        return "leave it out for its default, or give a value"
    if isinstance(value, str) and ("int" in kinds or "float" in kinds):
        try:
            return f"write it without quotes, {number(float(value), 15)}"
        except ValueError:
            return "write digits, without quotes"
    if "timedelta" in kinds:
        return "only a timedelta has a unit"
    if "int" in kinds and isinstance(value, Real) and not isinstance(value, bool):
        return "there are no parts of it"
    if "bool" in kinds:
        return "write True or False"
    return "see the documentation of this option"


def _is_objects(column: Any) -> bool:
    return np.asarray(column).dtype.kind in "OU"


def _kind(frame: Any) -> str:
    implementation = frame.implementation
    if implementation.is_polars():
        return "polars"
    if implementation.is_pyarrow():
        return "pyarrow"
    return "pandas"


def _series(data: Any) -> tuple[Any, str]:
    series = nw.from_native(data, series_only=True, pass_through=True)
    if isinstance(series, nw.Series):
        return series, _kind(series)
    if isinstance(data, Mapping) or hasattr(data, "columns"):
        raise InvalidInputError("data is a table; name one of its columns with column=...", argument="column")
    return data, "dict"


def _items(source: Any, name: str) -> Sequence[Any]:
    if isinstance(source, nw.Series):
        return source.to_list()
    if isinstance(source, str | bytes) or not hasattr(source, "__len__"):
        raise InvalidInputError(f"{name}: expected a sequence, got {type(source).__name__}", argument=name)
    return list(source)


def _numbers(source: Any, name: str) -> tuple[Floats, list[DataProblem], NDArray[np.bool_]]:
    array = _fast_array(source)
    if array is not None:
        if array.ndim != 1:
            raise InvalidInputError(f"{name} must have one dimension, got {array.ndim}", argument=name)
        values = np.require(array, np.float64, ["C_CONTIGUOUS", "ALIGNED"])
        absent = np.isnan(values)
        endless = np.flatnonzero(np.isinf(values))
        return values, [DataProblem(name, int(i) + 1, str(values[i]), "is not finite") for i in endless], absent
    items = _items(source, name)
    values = np.full(len(items), math.nan)
    absent = np.zeros(len(items), dtype=bool)
    problems = []
    for i, item in enumerate(items):
        if _is_missing(item):
            absent[i] = True
            continue
        if isinstance(item, bool | np.bool_ | str | bytes):
            problems.append(DataProblem(name, i + 1, _shown(item), "is not a number"))
            continue
        try:
            values[i] = float(item)
        except (TypeError, ValueError):
            problems.append(DataProblem(name, i + 1, _shown(item), "is not a number"))
            continue
        except OverflowError:
            values[i] = math.inf
        if math.isnan(values[i]):
            absent[i] = True  # of a decimal type, say
        elif math.isinf(values[i]):
            problems.append(DataProblem(name, i + 1, _shown(item), "is not finite"))
    return values, problems, absent


def _fast_array(source: Any) -> NDArray[Any] | None:
    """The memory behind the data when it is plain numbers without nulls, else None."""
    if isinstance(source, nw.Series) and (not source.dtype.is_numeric() or source.dtype.is_decimal() or source.null_count()):
        return None
    array = _plain_array(source)
    return array if array is not None and array.dtype.kind in "iuf" else None


def _plain_array(source: Any) -> NDArray[Any] | None:
    """The data as NumPy holds them, else None; zones are not NumPy's and take the way of single items."""
    if isinstance(source, nw.Series):
        if getattr(source.dtype, "time_zone", None) is not None:
            return None
        source = source.to_numpy()
    if isinstance(source, np.ma.MaskedArray) or not hasattr(source, "__array__"):
        return None
    return np.asarray(source)


def _is_missing(item: Any) -> bool:
    if item is None or item is np.ma.masked:
        return True
    if isinstance(item, float | np.floating | np.datetime64):
        return bool(item != item)
    return type(item).__name__ in ("NAType", "NaTType")  # of pandas, which need not be there


def _shown(item: Any, most: int = 40) -> str:
    """A cell as an error shows it; a long one is cut."""
    text = repr(item)
    return text if len(text) <= most else f"{text[:20]}... ({len(text)} characters)"


def _label(item: Any) -> str:
    if isinstance(item, float) and item.is_integer():
        return str(int(item))
    return str(item)


def _moment(item: Any) -> np.datetime64:
    """Local wall time: a zone would shift the shop's shifts, so it is taken off, not converted. A bare number is no time."""
    if isinstance(item, int | float | np.number):
        raise TypeError("since when, and in what unit, would be a guess")
    if isinstance(item, str) and item.strip() and not _WALL_TIME.fullmatch(item):
        item = datetime.fromisoformat(item.strip())  # a zone, or the short form without hyphens; "now" is none
    if hasattr(item, "tzinfo") and item.tzinfo is not None:
        item = item.replace(tzinfo=None)
    return np.datetime64(item, "us")


def name_tuple(given: Sequence[str] | str) -> tuple[str, ...]:
    """One name or several.

    >>> name_tuple("gun"), name_tuple(["gun", "painter"])
    (('gun',), ('gun', 'painter'))
    """
    return (given,) if isinstance(given, str) else tuple(given)


def float_list(given: float | Sequence[float] | None) -> list[float]:
    """One number, several, or none.

    >>> float_list(2), float_list([1, 2]), float_list(None)
    ([2.0], [1.0, 2.0], [])
    """
    if given is None:
        return []
    return [float(x) for x in (given if isinstance(given, Sequence | np.ndarray) else [given])]
