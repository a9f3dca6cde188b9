"""The plan of a review: which columns mean what, which layers are judged and charted, and by which rules. Written in TOML."""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from steadyfilm.errors import MissingExtraError, PlanError
from steadyfilm.run_rules import describe

try:
    from pydantic import (
        BaseModel,
        BeforeValidator,
        ConfigDict,
        Field,
        PrivateAttr,
        ValidationError,
        field_validator,
        model_validator,
    )
except ImportError as error:
    raise MissingExtraError("a plan", "job") from error

__all__ = ["Plan", "load_plan", "read_plan"]

Name = Annotated[str, Field(min_length=1)]
Names = Annotated[tuple[Name, ...], BeforeValidator(lambda given: (given,) if isinstance(given, str) else given)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class FileFormat(_Section):
    """How the files are written. Nothing is guessed: what differs from these defaults is said here."""

    separator: Annotated[str, Field(min_length=1, max_length=1)] = ","
    decimal: Literal[".", ","] = "."
    encoding: Name = "utf-8"
    time_format: str = ""
    """Codes as in Python's ``strptime``, for example ``"%d.%m.%Y %H:%M"``; empty means ISO 8601."""
    missing: tuple[str, ...] = ()
    """Words that stand for a reading not taken, besides an empty cell."""
    header_line: Annotated[int, Field(ge=1)] = 1
    sheet: str = ""
    """Sheet of an Excel file; the first one if empty."""

    @model_validator(mode="after")
    def _tell_apart(self) -> Self:
        if self.separator == self.decimal:
            raise ValueError(f"separator and decimal are both '{self.decimal}'; numbers could not be told from cells")
        return self


class Columns(_Section):
    """The file's name of each column. Only ``unit`` and ``value`` are needed."""

    unit: Names
    """What one painted unit is; several columns together if no one is enough."""
    value: Name
    layer: Name | None = None
    location: Name | None = None
    repeat: Name | None = None
    unit_of_measure: Name | None = None
    time: Name | None = None
    attempt: Name | None = None


class Measure(_Section):
    """The working unit, and what counts as a reading at all."""

    unit: Literal["mil", "um", "unstated"]
    written_in: Literal["mil", "um"] | None = None
    """Unit of the numbers in a file without a column for it; the working unit if left out."""
    plausible: tuple[float, float] | None = None
    """Lowest and highest reading that the gauge could show, in the working unit."""
    implausible_factor: Annotated[float, Field(gt=1)] = 10.0
    """Without ``plausible``: a reading this many times above or below its layer's median is set aside."""

    @model_validator(mode="after")
    def _fit(self) -> Self:
        if self.unit == "unstated" and self.written_in is not None:
            raise ValueError("written_in needs a working unit to convert to; say unit = 'mil' or 'um'")
        if self.plausible is not None and not self.plausible[0] < self.plausible[1]:
            raise ValueError("plausible must be [lowest, highest] with lowest below highest")
        return self


class Layer(_Section):
    """One layer that is judged, charted, or both."""

    name: Name
    reading: Name | None = None
    """Its word in the layer column; ``name`` if left out."""
    minus: Name | None = None
    """The earlier reading that is taken off, at the same unit and location, to get this layer alone."""
    lower: float | None = None
    upper: float | None = None
    target: float | None = None
    chart: bool = True
    miss: Literal["tell", "rework"] = "tell"
    """What a unit average outside the window leads to."""

    @property
    def source(self) -> str:
        """The reading that this layer is computed from."""
        return self.reading or self.name

    @property
    def judged(self) -> bool:
        """Whether the layer has a window."""
        return self.lower is not None or self.upper is not None

    @model_validator(mode="after")
    def _window(self) -> Self:
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise ValueError(f"lower ({self.lower}) must lie below upper ({self.upper})")
        if self.minus is not None and self.minus == self.source:
            raise ValueError(f"minus is the reading '{self.minus}' itself; name an earlier one")
        return self


class BaselineFrom(_Section):
    """Where the usual behavior is learned: another file, or the part of the readings up to a date."""

    readings: Name | None = None
    until: date | datetime | None = None

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.readings is None) == (self.until is None):
            raise ValueError("give either readings = 'file' or until = date")
        return self


class EventLog(_Section):
    """A file of what was done and when; its entries may explain a change."""

    file: Name
    time: Name = "time"
    text: Names
    """Columns that together say what was done, in reading order."""
    kind: Names = ()
    """Columns that say what kind of thing was done (all of ``text`` if left out); what is done all the time explains nothing."""
    layer: Name | None = None
    """Column naming the layer that an entry concerns; entries without one concern all."""


class Rules(_Section):
    """Which points are signals."""

    # Rule words as in steadyfilm.run_rules, for example "2of3_beyond2_one".
    points: tuple[Name, ...] = ("1of1_beyond3_one",)
    smoothing: Annotated[float, Field(ge=0, le=1)] = 0.2
    """Weight of the newest point in the EWMA; 0 leaves the EWMA out."""
    false_calls_per_month: Annotated[float, Field(gt=0)] = 1.0
    """Alarm budget: episodes a month that a steady line may show on average, all charts of the review together."""
    sigma_multiple: Annotated[float, Field(gt=0)] | None = None
    """How far out all lines stand, in sigma; chosen to keep the alarm budget if left out, and never below 3 then."""
    ewma_multiple: Annotated[float, Field(gt=0)] | None = None
    """EWMA lines apart, in standard deviations of an EWMA of independent points; they follow the other lines if left out."""

    @field_validator("points")
    @classmethod
    def _known(cls, points: tuple[str, ...]) -> tuple[str, ...]:
        for word in points:
            describe(word)  # says itself what is wrong with a word
        return points


class Changes(_Section):
    """When a change is told: how sure, and how large."""

    significance: Annotated[float, Field(gt=0, lt=0.5)] = 0.01
    """Chance per layer that a month without changes shows one, over all starts, ends, streams and shapes tried."""
    smallest: Annotated[float, Field(gt=0)] | None = None
    """Smallest change worth telling, in the working unit; a tenth of the layer's window if left out."""
    shortest: Annotated[int, Field(ge=2)] = 4
    """Fewest units that a change lasts."""


class Plan(_Section):
    """A whole plan. Unknown keys are refused."""

    title: str = ""
    columns: Columns
    measure: Measure
    layers: tuple[Layer, ...]
    file: FileFormat = FileFormat()
    streams: Names = ()
    """Columns whose values are charted apart."""
    adjust: Names = ()
    """Columns whose usual differences are taken off before charting."""
    candidates: Names = ()
    """Columns whose change may explain a shift."""
    baseline: BaselineFrom | None = None
    events: EventLog | None = None
    rules: Rules = Rules()
    changes: Changes = Changes()
    confidence_level: Annotated[float, Field(gt=0.5, lt=1)] = 0.95

    _folder: Path = PrivateAttr(default=Path())
    _name: str = PrivateAttr(default="plan")
    _sha256: str = PrivateAttr(default="")

    @property
    def name(self) -> str:
        """What the plan's file is called."""
        return self._name

    @property
    def sha256(self) -> str:
        """Of the plan's text; empty for a plan that has none."""
        return self._sha256

    def path(self, name: str) -> Path:
        """A file that the plan names; relative names start at the plan's own folder."""
        return self._folder / name

    @field_validator("layers")
    @classmethod
    def _layers(cls, layers: tuple[Layer, ...]) -> tuple[Layer, ...]:
        if not layers:
            raise ValueError("name at least one layer")
        names = [layer.name for layer in layers]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two layers are called '{twice[0]}'")
        return layers

    @model_validator(mode="after")
    def _agree(self) -> Self:
        if self.columns.layer is None and (len(self.layers) > 1 or self.layers[0].minus is not None):
            raise ValueError("several layers, or minus, need columns.layer to tell their readings apart")
        if self.measure.unit == "unstated" and self.columns.unit_of_measure is not None:
            raise ValueError("columns.unit_of_measure needs a working unit to convert to; say measure.unit = 'mil' or 'um'")
        if self.columns.time is None and self.baseline is not None and self.baseline.until is not None:
            raise ValueError("baseline.until needs columns.time")
        if self.columns.time is None and self.events is not None:
            raise ValueError("events need columns.time to be compared with")
        used = [*self.streams, *self.adjust]
        twice = sorted({name for name in used if used.count(name) > 1})
        if twice:
            raise ValueError(f"column '{twice[0]}' stands twice in streams and adjust; once is enough")
        return self


def read_plan(text: str, *, name: str = "plan", folder: str | Path = ".") -> Plan:
    """A plan from TOML text.

    Parameters
    ----------
    text : str
        The plan.
    name : str
        What error messages call it.
    folder : str or Path
        Where the files that it names are looked for.

    Raises
    ------
    PlanError
        Not TOML, an unknown key (with the nearest known one), a wrong value, a contradiction; all problems at once.

    Examples
    --------
    >>> plan = read_plan('''
    ... columns = {unit = "serial", value = "thickness"}
    ... measure = {unit = "mil"}
    ... layers = [{name = "film", lower = 2.0, upper = 2.2}]
    ... ''')
    >>> plan.layers[0].upper, plan.file.decimal
    (2.2, '.')
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{name} is not valid TOML: {error}") from error
    plan = make_plan(content, name=name, folder=folder)
    plan._sha256 = hashlib.sha256(text.encode()).hexdigest()
    return plan


def make_plan(content: dict[str, Any], *, name: str = "plan", folder: str | Path = ".") -> Plan:
    """A plan from a mapping of the same shape; errors as in `read_plan`."""
    try:
        plan = Plan.model_validate(content)
    except ValidationError as error:
        lines = [_tell(problem) for problem in error.errors(include_url=False)]
        raise PlanError("\n  ".join([f"{name} cannot be used:", *lines])) from error
    plan._folder, plan._name = Path(folder), name
    return plan


def load_plan(path: str | Path) -> Plan:
    """A plan from a TOML file; files that it names are looked for beside it.

    Raises
    ------
    PlanError
        As `read_plan`, and if the file cannot be read.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> _ = (folder / "shop.toml").write_text('''
    ... columns = {unit = "serial", value = "thickness"}
    ... measure = {unit = "um"}
    ... layers = [{name = "film", lower = 50.8}]
    ... ''')
    >>> load_plan(folder / "shop.toml").layers[0].lower
    50.8
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise PlanError(f"cannot read the plan {path}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PlanError(f"the plan {path} is not UTF-8 text, as TOML must be (byte {error.start})") from error
    return read_plan(text, name=path.name, folder=path.parent)


def _tell(problem: Any) -> str:
    """One problem of the validation as key, reason and way out."""
    place = tuple(step for step in problem["loc"] if not (isinstance(step, str) and "[" in step))
    where = ""
    for step in place:
        where += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if where else str(step)
    if problem["type"] == "extra_forbidden":
        known = list(_section(place[:-1]).model_fields)
        near = difflib.get_close_matches(str(place[-1]), known, n=1, cutoff=0.5)
        return f"{where}: unknown key; " + (f"nearest: '{near[0]}'" if near else f"known here: {', '.join(known)}")
    if problem["type"] == "missing":
        return f"{where}: is needed and not there"
    reason = problem["msg"].removeprefix("Value error, ")
    given = problem["input"]
    shown = f" (got {given!r})" if isinstance(given, str | int | float | bool) else ""
    return f"{where + ': ' if where else ''}{reason}{shown}"


def _section(place: tuple[Any, ...]) -> type[BaseModel]:
    """The model that the keys at a place of the plan belong to."""
    model: type[BaseModel] = Plan
    for step in place:
        if isinstance(step, int):
            continue
        hint = model.model_fields[step].annotation
        model = next(kind for kind in _kinds(hint) if isinstance(kind, type) and issubclass(kind, BaseModel))
    return model


def _kinds(hint: Any) -> list[Any]:
    inner = getattr(hint, "__args__", ())
    return [hint, *(kind for arm in inner for kind in _kinds(arm))]
