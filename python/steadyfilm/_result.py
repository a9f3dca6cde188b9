"""What every result offers: text and HTML, tables, JSON, the sums behind it, a picture."""

from __future__ import annotations

import dataclasses
import functools
import html
import importlib
import json
import math
import re
import types
import typing
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Self, TypeVar

import numpy as np

from steadyfilm._format import number

if TYPE_CHECKING:
    from steadyfilm.plots import Drawn

SCHEMA = 1

T = TypeVar("T")


@dataclass(frozen=True)
class Made:
    """How a result was made: the function and its options, what went in and what was left out."""

    function: str
    unit: str
    count: int
    missing_rows: tuple[int, ...] = ()
    frame: str = "dict"
    options: dict[str, Any] = dataclasses.field(default_factory=dict)
    version: str = ""


@dataclass(frozen=True)
class Step:
    """One line of arithmetic: ``name = formula``, with the numbers that went in.

    The formula uses plain arithmetic, ``sqrt``, ``abs``, ``min``, ``max``, ``floor``, ``log`` and ``exp``, so that
    putting the inputs in gives the value again.
    """

    name: str
    formula: str
    inputs: Mapping[str, float]
    value: float

    def substituted(self) -> str:
        """The formula with every input replaced by its full-precision number."""

        def put(match: re.Match[str]) -> str:
            name = match.group(0)
            if name not in self.inputs:
                return name
            text = repr(float(self.inputs[name]))
            return f"({text})" if text.startswith("-") else text

        return re.sub(r"[A-Za-z_][A-Za-z_0-9]*", put, self.formula)


@dataclass(frozen=True)
class Explanation:
    """The sums behind a result, each with its formula and its numbers, then the choices made and the sources."""

    title: str
    steps: tuple[Step, ...]
    choices: Mapping[str, str]
    sources: tuple[str, ...]

    def __str__(self) -> str:
        lines = [self.title]
        for step in self.steps:
            lines += [
                "",
                f"{step.name} = {step.formula}",
                f"  = {step.substituted()}",
                f"  = {float(step.value)!r}",
            ]
        if self.choices:
            lines += ["", "Choices:"] + [f"  {key}: {value}" for key, value in self.choices.items()]
        if self.sources:
            lines += ["", "Sources:"] + [f"  {source}" for source in self.sources]
        return "\n".join(lines)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return f"<pre>{html.escape(str(self))}</pre>"


@dataclass(frozen=True, eq=False, repr=False)
class Result:
    """Base of all results. Frozen; two results are equal when all their content is."""

    made: Made

    _plot: ClassVar[str] = ""

    # -- what each topic fills in ---------------------------------------------------------------

    def sentence(self) -> str:
        """The verdict in one sentence, with numbers and units."""
        raise NotImplementedError(f"{type(self).__name__} must say its verdict")  # abstract

    def _columns(self) -> dict[str, Sequence[Any] | np.ndarray[Any, Any]]:
        """Columns of the tidy table, all of one length."""
        raise NotImplementedError(f"{type(self).__name__} must give its table")  # abstract

    def explain(self) -> Explanation:
        """The sums behind the numbers, with their inputs, options and sources."""
        raise NotImplementedError(f"{type(self).__name__} must explain itself")  # abstract

    # -- the protocol ---------------------------------------------------------------------------

    def to_frame(self, kind: str | None = None) -> Any:
        """The result as a tidy table.

        Parameters
        ----------
        kind : {"pandas", "polars", "pyarrow", "dict"}, optional
            Kind of table; by default the kind that the data came in.
        """
        from steadyfilm._input import make_table

        return make_table(self._columns(), kind or self.made.frame)

    def to_dict(self) -> dict[str, Any]:
        """All content as plain Python values, ready for JSON."""
        kind = type(self)
        stem = kind.__module__.rpartition(".")[2]
        return {"result": f"{stem}.{kind.__name__}", "schema": SCHEMA, **_plain_fields(self)}

    def to_json(self, *, indent: int | None = None) -> str:
        """All content as JSON text; ``from_json`` gives an equal result back."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_dict(cls, content: Mapping[str, Any]) -> Self:
        """The result whose ``to_dict`` this is."""
        stem, _, name = str(content.get("result", "")).rpartition(".")
        if not re.fullmatch(r"[a-z_]+", stem) or content.get("schema") != SCHEMA:
            raise ValueError(f"not a result of schema {SCHEMA}: {content.get('result')!r}, {content.get('schema')!r}")
        kind = getattr(importlib.import_module(f"steadyfilm.{stem}"), name, None)
        if not (isinstance(kind, type) and issubclass(kind, cls)):
            raise ValueError(f"{content['result']} is not a {cls.__name__}")
        return _build(kind, content)

    @classmethod
    def from_json(cls, text: str) -> Self:
        """The result whose ``to_json`` this is; ``Result.from_json`` takes any of them."""
        return cls.from_dict(json.loads(text))

    def plot(self, ax: Any = None, **options: Any) -> Drawn:
        """Draw the result; see ``steadyfilm.plots``. Returns axes, artists and the exact numbers drawn."""
        if not self._plot:
            raise TypeError(f"{type(self).__name__} has no picture; to_frame() gives its numbers")
        stem, _, name = self._plot.partition(":")
        draw = getattr(importlib.import_module(f"steadyfilm.plots.{stem}"), name)
        return typing.cast("Drawn", draw(self, ax=ax, **options))

    def __repr__(self) -> str:
        table = self._columns()
        names = list(table)
        rows = [[_cell(table[name][i]) for name in names] for i in range(min(8, _length(table)))]
        widths = [max([len(name), *(len(row[j]) for row in rows)]) for j, name in enumerate(names)]
        lines = [self.sentence(), ""]
        lines.append("  ".join(name.rjust(width) for name, width in zip(names, widths, strict=True)))
        lines += ["  ".join(c.rjust(w) for c, w in zip(row, widths, strict=True)) for row in rows]
        if _length(table) > len(rows):
            lines.append(f"... {_length(table)} rows in all; to_frame() gives them")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        table = self._columns()
        head = "".join(f'<th scope="col">{html.escape(name)}</th>' for name in table)
        rows = "".join(
            "<tr>" + "".join(f"<td>{html.escape(_cell(column[i]))}</td>" for column in table.values()) + "</tr>"
            for i in range(min(20, _length(table)))
        )
        more = f"<p>{_length(table)} rows in all.</p>" if _length(table) > 20 else ""
        verdict = html.escape(self.sentence())
        return f"<p>{verdict}</p><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{more}"

    def __eq__(self, other: object) -> bool:
        if type(self) is not type(other):
            return NotImplemented
        return isinstance(other, Result) and self.to_dict() == other.to_dict()

    def __hash__(self) -> int:
        return hash(self.to_json())


def frozen(array: Any) -> np.ndarray[Any, Any]:
    """An array that nobody can write to any more."""
    out = np.asarray(array)
    if out.flags.writeable:
        out = out.copy() if out.base is not None else out
        out.flags.writeable = False
    return out


@functools.cache
def _hints(kind: Any) -> dict[str, Any]:
    """Types of the fields; reading them takes longer than most of the rest of a small call."""
    return typing.get_type_hints(kind)


def build(kind: type[T], found: Mapping[str, Any], **more: Any) -> T:
    """A dataclass from the fields of a compiled result; a missing or extra field fails here, at the first call."""
    hints = _hints(typing.cast("Any", kind))
    given = {**found, **more}
    return kind(**{name: _value(hints.get(name, Any), value) for name, value in given.items()})


def _value(hint: Any, value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return frozen(value)
    if isinstance(value, Mapping) and dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return build(hint, value)
    return value


def _length(table: Mapping[str, Any]) -> int:
    return len(next(iter(table.values()))) if table else 0


def _cell(value: Any) -> str:
    if isinstance(value, float | np.floating):
        return number(float(value))
    return "" if value is None else str(value)


# -- JSON ---------------------------------------------------------------------------------------


def _plain_fields(value: Any) -> dict[str, Any]:
    return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _plain_fields(value)
    if isinstance(value, np.ndarray):
        if value.dtype.kind == "M":
            return {"dtype": "datetime64[us]", "values": value.astype("datetime64[us]").astype(str).tolist()}
        dtype = "str" if value.dtype.kind in "UO" else value.dtype.name
        return {"dtype": dtype, "values": [_plain(item) for item in value.tolist()]}
    if isinstance(value, np.generic):
        return _plain(value.item())
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    # JSON has no word for these three; strings keep them apart from null.
    if isinstance(value, float) and not math.isfinite(value):
        return "nan" if math.isnan(value) else "inf" if value > 0 else "-inf"
    return value


def _build(kind: type[T], content: Mapping[str, Any]) -> T:
    hints = _hints(typing.cast("Any", kind))
    names = [field.name for field in dataclasses.fields(typing.cast(Any, kind))]
    unknown = set(content) - set(names) - {"result", "schema"}
    if unknown or not set(names) <= set(content):
        raise ValueError(f"{kind.__name__}: unknown or missing fields {sorted(unknown | (set(names) - set(content)))}")
    return kind(**{name: _restore(hints[name], content[name]) for name in names})


def _restore(hint: Any, value: Any) -> Any:
    origin = typing.get_origin(hint)
    if origin in (typing.Union, types.UnionType):
        if value is None:
            return None
        return _restore(next(arm for arm in typing.get_args(hint) if arm is not type(None)), value)
    if isinstance(value, Mapping) and set(value) == {"dtype", "values"}:
        dtype = value["dtype"]
        if dtype.startswith("float"):
            return frozen(np.array([float(item) for item in value["values"]], dtype=dtype))
        return frozen(np.array(value["values"], dtype=object if dtype == "str" else dtype))
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        return _build(hint, value)
    if origin is tuple:
        args = typing.get_args(hint)
        if len(args) == 2 and args[1] is Ellipsis:
            return tuple(_restore(args[0], item) for item in value)
        return tuple(_restore(arm, item) for arm, item in zip(args, value, strict=True))
    if origin is dict:
        inner = typing.get_args(hint)[1]
        return {key: _restore(inner, item) for key, item in value.items()}
    if hint is float and value is not None:
        return float(value)
    return value
