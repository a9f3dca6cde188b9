"""What files in TOML have in common: kinds of keys, each with its unit, and a refusal that names key, reason and way out."""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict, ValidationError, field_validator, model_validator

from steadyfilm.errors import PlanError

__all__ = [
    "Day",
    "FileFormat",
    "Flag",
    "Moment",
    "Name",
    "Names",
    "Number",
    "Positive",
    "Section",
    "Whole",
    "checked",
    "in_unit",
    "no_unit",
    "read_file",
    "toml_content",
    "working_unit",
]


def _several(given: Any) -> Any:
    if isinstance(given, str):
        return (given,)
    if not isinstance(given, list | tuple):
        raise ValueError("should be a name, or a list of names")
    return given


Name = Annotated[str, Field(min_length=1)]
Names = Annotated[tuple[Name, ...], BeforeValidator(_several, json_schema_input_type=str | tuple[str, ...])]
# TOML has kinds: a number in quotes is no number, 1 is not true, and 20260301 is no date.
Number = Annotated[float, Strict()]
Positive = Annotated[Number, Field(gt=0)]
Whole = Annotated[int, Strict()]
Flag = Annotated[bool, Strict()]
Day = Annotated[date, Strict()]
Moment = Annotated[datetime, Strict()]


def in_unit(unit: str) -> Any:
    """The unit of a key, for the schema and the table of keys."""
    return Field(json_schema_extra={"unit": unit})


no_unit = in_unit("no unit")
working_unit = in_unit("working unit")


class Section(BaseModel):
    """A table of a file; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, use_attribute_docstrings=True)


class FileFormat(Section):
    """How a file is written; its kind is told by its bytes. Nothing is guessed: what differs from these defaults is said here."""

    separator: Annotated[str, Field(min_length=1, max_length=1), no_unit] = ","
    """Character between the cells of a CSV file; a tab is written "\\t"."""
    decimal: Annotated[Literal[".", ","], no_unit] = "."
    """Decimal sign of numbers written as text; cells that hold numbers, as in Excel and Parquet, have none."""
    encoding: Annotated[Name, no_unit] = "utf-8"
    """How characters are written in a CSV file, for example "cp1252" or "utf-16"."""
    time_format: Annotated[str, no_unit] = ""
    """How times are written as text: codes of Python's strptime, for example "%d.%m.%Y %H:%M"; empty means ISO 8601."""
    missing: Annotated[tuple[str, ...], no_unit] = ()
    """Words that stand for a reading not taken, besides an empty cell."""
    header_line: Annotated[Whole, Field(ge=1), in_unit("lines")] = 1
    """Line (in Excel: row) of the column names; what stands above is left out."""
    sheet: Annotated[str, no_unit] = ""
    """Sheet of an Excel workbook; needed if it shows several."""

    @model_validator(mode="after")
    def _tell_apart(self) -> Self:
        if self.separator == self.decimal:
            raise ValueError(f"separator and decimal are both '{self.decimal}'; numbers could not be told from cells")
        return self

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, encoding: str) -> str:
        try:
            "".encode(encoding)
        except (LookupError, ValueError):
            raise ValueError("is no encoding known here; for example 'utf-8', 'cp1252' or 'utf-16'") from None
        return encoding

    @field_validator("time_format")
    @classmethod
    def _says_the_date(cls, time_format: str) -> str:
        if not time_format:
            return time_format
        probe = datetime(2026, 11, 25, 17, 38, 9)
        try:
            read = datetime.strptime(probe.strftime(time_format), time_format)
        except ValueError as error:
            raise ValueError(f"cannot be used: {error}; for example '%d.%m.%Y %H:%M'") from None
        if read.date() != probe.date():
            raise ValueError("does not say day, month and year; for example '%d.%m.%Y %H:%M'")
        if read.hour not in (0, probe.hour):
            raise ValueError("has hours up to 12 without %p, so that morning and afternoon are the same; use %H, or %I with %p")
        return time_format


Model = TypeVar("Model", bound=BaseModel)


def read_file(path: Path, what: str) -> tuple[str, str]:
    """The text of a file in TOML and the SHA-256 of its bytes; ``what`` says in a refusal what it was to be."""
    try:
        content = path.read_bytes()
        return content.decode("utf-8-sig"), hashlib.sha256(content).hexdigest()
    except OSError as error:
        raise PlanError(f"cannot read the {what} {path}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PlanError(f"the {what} {path} is not UTF-8 text, as TOML must be (byte {error.start})") from error


def toml_content(text: str, name: str) -> dict[str, Any]:
    """Tables and keys of TOML text."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{name} is not valid TOML: {error}") from error


def checked(model: type[Model], content: Mapping[str, Any], name: str) -> Model:
    """The content as its model has it, or one refusal with every problem: key, reason, value and way out."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        lines = [line for problem in error.errors(include_url=False) for line in _tell(problem, model)]
        raise PlanError("\n  ".join([f"{name} cannot be used:", *lines]), problems=lines) from error


def _tell(problem: Any, model: type[BaseModel]) -> list[str]:
    """A problem of the validation as key, reason, value and way out; a contradiction may be several."""
    # Steps into a union name its arm; they are no keys. An unknown key may be called anything.
    own = problem["loc"][-1:] if problem["type"] == "extra_forbidden" else ()
    above = problem["loc"][: len(problem["loc"]) - len(own)]
    place = (*(step for step in above if not (isinstance(step, str) and ("[" in step or step in _ARMS))), *own)
    where = ""
    for step in place:
        where += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if where else str(step)
    if problem["type"] == "extra_forbidden":
        known = list(_section(model, place[:-1]).model_fields)
        near = difflib.get_close_matches(str(place[-1]), known, n=1, cutoff=0.5)
        return [f"{where}: unknown key; " + (f"nearest: '{near[0]}'" if near else f"known here: {', '.join(known)}")]
    if problem["type"] == "missing":
        field = _section(model, place[:-1]).model_fields[str(place[-1])]
        return [f"{where}: is needed and not there. {field.description}"]
    if problem["loc"][-1:] == ("datetime",):
        return []  # told at the other arm, the date
    if problem["loc"][-1:] == ("date",):
        return [f"{where}: should be a date, or date and time, without quotes: 2026-03-31 (got {problem['input']!r})"]
    if problem["type"] == "tuple_type":
        return [f"{where}: must be a list, got {problem['input']!r}"]
    if problem["type"] == "model_type":
        return [f"{where}: must be a table, got {problem['input']!r}; its keys: {', '.join(_section(model, place).model_fields)}"]
    given = problem["input"]
    shown = f" (got {given!r})" if isinstance(given, str | int | float | bool) else ""
    reasons = problem["msg"].removeprefix("Value error, ").split("\n")
    return [f"{where + ': ' if where else ''}{reason}{shown}" for reason in reasons]


_ARMS = {"date", "datetime", "FileFormat"}


def _section(model: type[BaseModel], place: tuple[Any, ...]) -> type[BaseModel]:
    """The model that the keys at a place of a file belong to, from that of the whole."""
    for step in place:
        if isinstance(step, int):
            continue
        hint = model.model_fields[step].annotation
        model = next(kind for kind in _kinds(hint) if isinstance(kind, type) and issubclass(kind, BaseModel))
    return model


def _kinds(hint: Any) -> list[Any]:
    inner = getattr(hint, "__args__", ())
    return [hint, *(kind for arm in inner for kind in _kinds(arm))]
