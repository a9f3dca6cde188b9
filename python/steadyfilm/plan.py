"""The plan of a review: which columns mean what, which layers are judged and charted, and by which rules. Written in TOML."""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from steadyfilm._cure.plan import cure_plan
from steadyfilm._format import window_text
from steadyfilm._plan_parts import (
    Costs,
    Day,
    Flag,
    Moment,
    Name,
    Names,
    Number,
    Paint,
    Whole,
    _in,
    _no_unit,
    _Section,
    _working,
    cost_problems,
)
from steadyfilm.errors import MissingExtraError, PlanError
from steadyfilm.run_rules import describe

try:
    from pydantic import BaseModel, Field, PrivateAttr, ValidationError, ValidationInfo, field_validator, model_validator
except ImportError as error:
    raise MissingExtraError("a plan", "job") from error

__all__ = ["Plan", "load_plan", "plan_schema", "read_plan"]


class FileFormat(_Section):
    """How a file is written; its kind is told by its bytes. Nothing is guessed: what differs from these defaults is said here."""

    separator: Annotated[str, Field(min_length=1, max_length=1), _no_unit] = ","
    """Character between the cells of a CSV file; a tab is written "\\t"."""
    decimal: Annotated[Literal[".", ","], _no_unit] = "."
    """Decimal sign of numbers written as text; cells that hold numbers, as in Excel and Parquet, have none."""
    encoding: Annotated[Name, _no_unit] = "utf-8"
    """How characters are written in a CSV file, for example "cp1252" or "utf-16"."""
    time_format: Annotated[str, _no_unit] = ""
    """How times are written as text: codes of Python's strptime, for example "%d.%m.%Y %H:%M"; empty means ISO 8601."""
    missing: Annotated[tuple[str, ...], _no_unit] = ()
    """Words that stand for a reading not taken, besides an empty cell."""
    header_line: Annotated[Whole, Field(ge=1), _in("lines")] = 1
    """Line (in Excel: row) of the column names; what stands above is left out."""
    sheet: Annotated[str, _no_unit] = ""
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


class Columns(_Section):
    """The file's name of each column. Only ``unit`` and ``value`` are needed."""

    unit: Annotated[Names, Field(min_length=1), _no_unit]
    """What one painted unit is; several columns together if no one is enough."""
    value: Annotated[Name, _no_unit]
    """The reading itself."""
    layer: Annotated[Name | None, _no_unit] = None
    """Which layer, or which total, a row is a reading of."""
    location: Annotated[Name | None, _no_unit] = None
    """The place on the unit."""
    repeat: Annotated[Name | None, _no_unit] = None
    """Number of the reading at one place; rows with the same unit, place, layer, attempt and repeat are entered twice."""
    unit_of_measure: Annotated[Name | None, _no_unit] = None
    """The unit of each row's reading (mil, um and their other spellings); rows are converted to the working unit."""
    time: Annotated[Name | None, _no_unit] = None
    """Local date and time of a reading; orders the units."""
    date: Annotated[Name | None, _no_unit] = None
    """The date, in a file where ``time`` holds the time of day alone."""
    gauge: Annotated[Name | None, _no_unit] = None
    """The gauge of a reading; readings in a row with one gauge may be off together."""
    attempt: Annotated[Name | None, _no_unit] = None
    """Whole numbers; the first attempt is 1 (0 in a file that counts touch-ups), the next 2. An empty cell is the first."""


class Measure(_Section):
    """The working unit, and what counts as a reading at all."""

    unit: Annotated[Literal["mil", "um", "unstated"], _no_unit]
    """The working unit: of every limit in this plan and of every figure of the review."""
    written_in: Annotated[Literal["mil", "um"] | None, _no_unit] = None
    """Unit of the numbers in a file without a column for it; the working unit if left out."""
    plausible: Annotated[tuple[Number, Number] | None, _working] = None
    """Lowest and highest reading that the gauge could show."""
    implausible_factor: Annotated[Number, Field(gt=1), _in("ratio")] = 10.0
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

    name: Annotated[Name, _no_unit]
    """What the review calls it."""
    reading: Annotated[Name | None, _no_unit] = None
    """Its word in the layer column; ``name`` if left out."""
    minus: Annotated[Name | None, _no_unit] = None
    """The earlier reading that is taken off, at the same unit and location, to get this layer alone."""
    lower: Annotated[Number | None, _working] = None
    """Lowest unit average that is inside the window."""
    upper: Annotated[Number | None, _working] = None
    """Highest unit average that is inside the window."""
    target: Annotated[Number | None, _working] = None
    """Where the unit average should lie."""
    chart: Annotated[Flag, _no_unit] = True
    """Whether it is charted; a total of layers that are charted themselves would tell each change twice."""
    miss: Annotated[Literal["tell", "rework"], _no_unit] = "tell"
    """What a unit outside its limits leads to."""
    spot_share: Annotated[tuple[Annotated[Number, Field(gt=0, le=1)], Annotated[Number, Field(ge=1)]] | None, _no_unit] = None
    """How far one location's mean may go: down to this share of ``lower``, up to this share of ``upper``."""
    paint: Annotated[Paint | None, _no_unit] = None
    """What this layer's paint is, to say what film beyond the aim costs; needs ``[costs]``."""

    @property
    def source(self) -> str:
        """The reading that this layer is computed from."""
        return self.reading or self.name

    @property
    def judged(self) -> bool:
        """Whether the layer has a window."""
        return self.lower is not None or self.upper is not None

    @field_validator("target")
    @classmethod
    def _inside(cls, target: float | None, others: ValidationInfo) -> float | None:
        lower, upper = others.data.get("lower"), others.data.get("upper")
        if target is None or ((lower is None or target >= lower) and (upper is None or target <= upper)):
            return target
        raise ValueError(
            f"lies outside the window of '{others.data.get('name', 'its layer')}', {window_text(lower, upper, '')}: "
            "correct whichever of target, lower and upper is mistyped, or leave target out"
        )

    @model_validator(mode="after")
    def _window(self) -> Self:
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise ValueError(f"lower ({self.lower}) must lie below upper ({self.upper})")
        if self.spot_share is not None and not self.judged:
            raise ValueError("spot_share needs a window to be a share of: give lower, upper or both")
        if self.paint is not None and self.target is None and self.lower is None:
            raise ValueError("paint needs something to aim at: a target, a window, or a lower limit")
        if self.minus is not None and self.minus == self.source:
            raise ValueError(f"minus is the reading '{self.minus}' itself; name an earlier one")
        return self


class BaselineFrom(_Section):
    """Where the usual behavior is learned: another file, or the part of the readings up to a date."""

    readings: Annotated[Name | None, _no_unit] = None
    """File of a usual period, with the same columns; looked for beside the plan."""
    until: Annotated[Day | Moment | None, _in("local date, or date and time")] = None
    """Last day (or moment) of the usual period within the readings themselves."""
    format: Annotated[FileFormat | None, _no_unit] = None
    """How that file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.readings is None) == (self.until is None):
            raise ValueError("give either readings = 'file' or until = date")
        if self.format is not None and self.readings is None:
            raise ValueError("format says how a file is written, but readings names none")
        return self


class EventLog(_Section):
    """A file of what was done and when; its entries may explain a change."""

    file: Annotated[Name, _no_unit]
    """The file; looked for beside the plan."""
    time: Annotated[Name, _no_unit] = "time"
    """Column of the local date and time."""
    date: Annotated[Name | None, _no_unit] = None
    """Column of the date, in a file where ``time`` holds the time of day alone."""
    text: Annotated[Names, Field(min_length=1), _no_unit]
    """Columns that together say what was done, in reading order."""
    kind: Annotated[Names, _no_unit] = ()
    """Columns that say what kind of thing was done (all of ``text`` if left out); what is done all the time explains nothing."""
    layer: Annotated[Name | None, _no_unit] = None
    """Column naming the layer that an entry concerns; entries without one concern all."""
    format: Annotated[FileFormat | None, _no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class GaugeChecks(_Section):
    """A file of gauge verifications: readings of certified foils (shims) before and after a shift."""

    file: Annotated[Name, _no_unit]
    """The file; looked for beside the plan."""
    time: Annotated[Name, _no_unit] = "time"
    """Column of the local date and time of a check."""
    gauge: Annotated[Name, _no_unit] = "gauge"
    """Column naming the gauge, as ``columns.gauge`` names it."""
    value: Annotated[Name, _no_unit] = "value"
    """Column of the reading."""
    stated: Annotated[Name, _no_unit] = "stated"
    """Column of the thickness that the foil's certificate states, in the same unit as the reading."""
    unit_of_measure: Annotated[Name | None, _no_unit] = None
    """Column of each row's unit; the unit of ``[measure]`` if left out."""
    foil: Annotated[Names, _no_unit] = ()
    """Columns that tell foils, and metals below them, apart."""
    format: Annotated[FileFormat | None, _no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class GaugeStudyFile(_Section):
    """A file of gauge studies, one row a reading: whether the gauges can judge the windows of this plan's layers."""

    file: Annotated[Name, _no_unit]
    """The file; looked for beside the plan."""
    part: Annotated[Name, _no_unit] = "part"
    """Column naming the panel or part that was read."""
    appraiser: Annotated[str, _no_unit] = "appraiser"
    """Column naming who read it; empty if one appraiser read all."""
    trial: Annotated[str | None, _no_unit] = None
    """Column counting the readings of one part by one appraiser; ``trial`` if the file has it, and empty for none."""
    value: Annotated[Name, _no_unit] = "value"
    """Column of the reading."""
    unit_of_measure: Annotated[str | None, _no_unit] = None
    """Column of each row's unit; ``unit_of_measure`` if the file has it. Without one the numbers are as ``[measure]`` says."""
    apart: Annotated[Names | None, _no_unit] = None
    """Columns that keep studies apart; ``gauge`` and ``substrate`` if the file has them."""
    format: Annotated[FileFormat | None, _no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class Rules(_Section):
    """Which points are signals."""

    points: Annotated[tuple[Name, ...], _no_unit] = ("1of1_beyond3_one",)
    """Rule words, for example "2of3_beyond2_one": 2 of 3 points beyond 2 sigma on one side."""
    smoothing: Annotated[Number, Field(ge=0, le=1), _in("share")] = 0.2
    """Weight of the newest point in the EWMA; 0 leaves the EWMA out."""
    false_calls_per_month: Annotated[Number, Field(gt=0), _in("episodes a month")] = 1.0
    """Alarm budget: episodes a month that a steady line may show on average, all charts of the review together."""
    sigma_multiple: Annotated[Annotated[Number, Field(gt=0)] | None, _in("standard deviations of a point")] = None
    """How far out all lines stand; chosen to keep the alarm budget if left out, and never below 3 then."""
    ewma_multiple: Annotated[
        Annotated[Number, Field(gt=0)] | None, _in("standard deviations of an EWMA of independent points")
    ] = None
    """EWMA lines apart; they follow the other lines if left out."""
    longest_gap_hours: Annotated[Annotated[Number, Field(gt=0)] | None, _in("hours")] = None
    """Longest pause between two units in a row on one chart over which moving ranges, runs and the EWMA go on: 24 breaks them at
    weekends but not over night. If left out, no pause breaks them."""

    @field_validator("points")
    @classmethod
    def _known(cls, points: tuple[str, ...]) -> tuple[str, ...]:
        for word in points:
            describe(word)  # says itself what is wrong with a word
        return points


class DataScreens(_Section):
    """Patterns that honest readings seldom show, such as a pile-up just inside a limit; told under the data problems."""

    groups: Annotated[Names, _no_unit] = ()
    """Columns by whose values patterns are looked for, for example shift and gun; ``streams`` and ``adjust`` if left out."""
    painted: Annotated[Name | None, _no_unit] = None
    """File of the units that were painted, with the columns of ``columns.unit``: those without readings are listed, and compared
    by those ``groups`` that it has."""
    running_numbers: Annotated[Flag, _no_unit] = False
    """Whether serials end in a running number, so that its gaps are units without readings."""
    planned_readings: Annotated[Annotated[Whole, Field(ge=1)] | None, _in("readings a place")] = None
    """Readings that a place should have; the usual number if left out."""
    false_flag_rate: Annotated[Number, Field(gt=0, lt=0.5), _in("probability")] = 0.01
    """Chance, at most, that a file of honest readings shows any pattern."""
    format: Annotated[FileFormat | None, _no_unit] = None
    """How the file of painted units is written, with the keys of ``[file]``; as ``[file]`` says if left out."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        if self.format is not None and self.painted is None:
            raise ValueError("format says how a file is written, but painted names none")
        return self


class Changes(_Section):
    """When a change is told: how sure, and how large."""

    significance: Annotated[Number, Field(gt=0, lt=0.5), _in("probability")] = 0.01
    """Chance per layer that a month without changes shows one, over all starts, ends, streams and shapes tried."""
    smallest: Annotated[Annotated[Number, Field(gt=0)] | None, _working] = None
    """Smallest change worth telling; a tenth of the layer's window if left out."""
    shortest: Annotated[Whole, Field(ge=2), _in("painted units")] = 4
    """Fewest units that a change lasts."""


class Plan(_Section):
    """A whole plan. Unknown keys are refused."""

    title: Annotated[str, _no_unit] = ""
    """What is reviewed; heads the report."""
    columns: Annotated[Columns, _no_unit]
    """The file's name of each column."""
    measure: Annotated[Measure, _no_unit]
    """The working unit, and which readings can be."""
    layers: Annotated[tuple[Layer, ...], _no_unit]
    """The layers that are judged and charted, one ``[[layers]]`` each."""
    file: Annotated[FileFormat, _no_unit] = FileFormat()
    """How the files are written."""
    streams: Annotated[Names, _no_unit] = ()
    """Columns whose values are charted apart."""
    adjust: Annotated[Names, _no_unit] = ()
    """Columns whose usual differences are taken off before charting."""
    candidates: Annotated[Names, _no_unit] = ()
    """Columns whose change may explain a shift."""
    baseline: Annotated[BaselineFrom | None, _no_unit] = None
    """Where the usual behavior is learned; from the same readings if left out."""
    events: Annotated[EventLog | None, _no_unit] = None
    """A file of what was done and when."""
    gauge_checks: Annotated[GaugeChecks | None, _no_unit] = None
    """A file of gauge verifications."""
    cure: Annotated[dict[str, Any] | None, _no_unit] = None
    """How the oven log is written and judged, for ``steadyfilm cure``; its keys stand in ``cpp/methods/bakes.md``."""
    gauge_study: Annotated[GaugeStudyFile | None, _no_unit] = None
    """A file of gauge studies."""
    costs: Annotated[Costs | None, _no_unit] = None
    """How much is painted a month, and in which money, to say what film beyond the aim costs."""
    rules: Annotated[Rules, _no_unit] = Rules()
    """Which points of a chart are signals."""
    changes: Annotated[Changes, _no_unit] = Changes()
    """When a change is told."""
    screens: Annotated[DataScreens, _no_unit] = DataScreens()
    """How patterns in the readings themselves are looked for."""
    confidence_level: Annotated[Number, Field(gt=0.5, lt=1), _in("probability")] = 0.95
    """Of every interval in the review."""

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

    def reading_options(
        self, part: BaselineFrom | EventLog | GaugeChecks | GaugeStudyFile | DataScreens | None = None
    ) -> dict[str, Any]:
        """How the readings, or the file that a part names, are written: keyword arguments of the file reader."""
        own = part.format if part is not None else None
        return (own or self.file).model_dump()

    def path(self, name: str) -> Path:
        """A file that the plan names; relative names start at the plan's own folder."""
        return self._folder / name

    def with_gauge_checks(self, file: str | Path) -> Plan:
        """The same plan with another file of gauge verifications, given from the working folder, not from that of the plan."""
        options = self.gauge_checks.model_dump() if self.gauge_checks is not None else {}
        return self.model_copy(update={"gauge_checks": GaugeChecks(**options | {"file": str(Path(file).absolute())})})

    @field_validator("cure")
    @classmethod
    def _cure(cls, content: dict[str, Any] | None) -> dict[str, Any] | None:
        if content is not None:
            try:
                cure_plan(content)
            except PlanError as error:
                raise ValueError("\n".join(problem.removeprefix("cure.") for problem in error.problems)) from error
        return content

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
        wrong = []
        if self.columns.layer is None and (len(self.layers) > 1 or self.layers[0].minus is not None):
            wrong.append("several layers, or minus, need columns.layer to tell their readings apart")
        if self.measure.unit == "unstated" and self.columns.unit_of_measure is not None:
            wrong.append("columns.unit_of_measure needs a working unit to convert to; say measure.unit = 'mil' or 'um'")
        if self.columns.time is None and self.columns.date is not None:
            wrong.append(
                "columns.date needs columns.time, the time of day; if the date has a column of its own alone, name it as time"
            )
        if self.columns.time is None and self.baseline is not None and self.baseline.until is not None:
            wrong.append("baseline.until needs columns.time")
        if self.columns.time is None and self.rules.longest_gap_hours is not None:
            wrong.append("rules.longest_gap_hours needs columns.time, to know how long a pause is; name it, or leave the key out")
        if self.columns.time is None and self.events is not None:
            wrong.append("events need columns.time to be compared with")
        wrong += cost_problems(self.costs, [x.name for x in self.layers if x.paint is not None], self.measure.unit)
        used = [*self.streams, *self.adjust]
        twice = sorted({name for name in used if used.count(name) > 1})
        wrong += [f"column '{name}' stands twice in streams and adjust; once is enough" for name in twice]
        if wrong:
            raise ValueError("\n".join(wrong))
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
        lines = [line for problem in error.errors(include_url=False) for line in _tell(problem)]
        raise PlanError("\n  ".join([f"{name} cannot be used:", *lines]), problems=lines) from error
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


def plan_schema() -> dict[str, Any]:
    """JSON Schema of a plan, from the models above; each key has its unit or ``no unit``.

    Examples
    --------
    >>> plan_schema()["$defs"]["Layer"]["properties"]["lower"]["unit"]
    'working unit'
    """
    found = Plan.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": "Plan of a review"}


def _tell(problem: Any, model: type[BaseModel] = Plan) -> list[str]:
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
