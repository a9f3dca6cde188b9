"""The plan of a review: which columns mean what, which layers are judged and charted, and by which rules. Written in TOML."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from steadyfilm._format import window_text
from steadyfilm.errors import MissingExtraError
from steadyfilm.run_rules import describe

try:
    from pydantic import Field, PrivateAttr, ValidationInfo, field_validator, model_validator
except ImportError as error:
    raise MissingExtraError("a plan", "job") from error

from steadyfilm._plan.costs import Costs, Paint, cost_problems
from steadyfilm._plan.cure import CureTable
from steadyfilm._plan.keys import (
    Day,
    FileFormat,
    Flag,
    Moment,
    Name,
    Names,
    Number,
    Positive,
    Section,
    Whole,
    checked,
    in_unit,
    no_unit,
    read_file,
    toml_content,
    working_unit,
)
from steadyfilm._plan.wash import WashTable

__all__ = ["Plan", "load_plan", "plan_schema", "read_plan"]


class Columns(Section):
    """The file's name of each column. Only ``unit`` and ``value`` are needed."""

    unit: Annotated[Names, Field(min_length=1), no_unit]
    """What one painted unit is; several columns together if no one is enough."""
    value: Annotated[Name, no_unit]
    """The reading itself."""
    layer: Annotated[Name | None, no_unit] = None
    """Which layer, or which total, a row is a reading of."""
    location: Annotated[Name | None, no_unit] = None
    """The place on the unit."""
    repeat: Annotated[Name | None, no_unit] = None
    """Number of the reading at one place; rows with the same unit, place, layer, attempt and repeat are entered twice."""
    unit_of_measure: Annotated[Name | None, no_unit] = None
    """The unit of each row's reading (mil, um and their other spellings); rows are converted to the working unit."""
    time: Annotated[Name | None, no_unit] = None
    """Local date and time of a reading; orders the units."""
    date: Annotated[Name | None, no_unit] = None
    """The date, in a file where ``time`` holds the time of day alone."""
    gauge: Annotated[Name | None, no_unit] = None
    """The gauge of a reading; readings in a row with one gauge may be off together."""
    attempt: Annotated[Name | None, no_unit] = None
    """Whole numbers; the first attempt is 1 (0 in a file that counts touch-ups), the next 2. An empty cell is the first."""


class Measure(Section):
    """The working unit, and what counts as a reading at all."""

    unit: Annotated[Literal["mil", "um", "unstated"], no_unit]
    """The working unit: of every limit in this plan and of every figure of the review."""
    written_in: Annotated[Literal["mil", "um"] | None, no_unit] = None
    """Unit of the numbers in a file without a column for it; the working unit if left out."""
    plausible: Annotated[tuple[Number, Number] | None, working_unit] = None
    """Lowest and highest reading that the gauge could show."""
    implausible_factor: Annotated[Number, Field(gt=1), in_unit("ratio")] = 10.0
    """Without ``plausible``: a reading this many times above or below its layer's median is set aside."""

    @model_validator(mode="after")
    def _fit(self) -> Self:
        if self.unit == "unstated" and self.written_in is not None:
            raise ValueError("written_in needs a working unit to convert to; say unit = 'mil' or 'um'")
        if self.plausible is not None and not self.plausible[0] < self.plausible[1]:
            raise ValueError("plausible must be [lowest, highest] with lowest below highest")
        return self


class Layer(Section):
    """One layer that is judged, charted, or both."""

    name: Annotated[Name, no_unit]
    """What the review calls it."""
    reading: Annotated[Name | None, no_unit] = None
    """Its word in the layer column; ``name`` if left out."""
    minus: Annotated[Name | None, no_unit] = None
    """The earlier reading that is taken off, at the same unit and location, to get this layer alone."""
    lower: Annotated[Number | None, working_unit] = None
    """Lowest unit average that is inside the window."""
    upper: Annotated[Number | None, working_unit] = None
    """Highest unit average that is inside the window."""
    target: Annotated[Number | None, working_unit] = None
    """Where the unit average should lie."""
    chart: Annotated[Flag, no_unit] = True
    """Whether it is charted; a total of layers that are charted themselves would tell each change twice."""
    miss: Annotated[Literal["tell", "rework"], no_unit] = "tell"
    """What a unit outside its limits leads to."""
    spot_share: Annotated[tuple[Annotated[Number, Field(gt=0, le=1)], Annotated[Number, Field(ge=1)]] | None, no_unit] = None
    """How far one location's mean may go: down to this share of ``lower``, up to this share of ``upper``."""
    paint: Annotated[Paint | None, no_unit] = None
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


class BaselineFrom(Section):
    """Where the usual behavior is learned: another file, or the part of the readings up to a date."""

    readings: Annotated[Name | None, no_unit] = None
    """File of a usual period, with the same columns; looked for beside the plan."""
    until: Annotated[Day | Moment | None, in_unit("local date, or date and time")] = None
    """Last day (or moment) of the usual period within the readings themselves."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How that file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.readings is None) == (self.until is None):
            raise ValueError("give either readings = 'file' or until = date")
        if self.format is not None and self.readings is None:
            raise ValueError("format says how a file is written, but readings names none")
        return self


class EventLog(Section):
    """A file of what was done and when; its entries may explain a change."""

    file: Annotated[Name, no_unit]
    """The file; looked for beside the plan."""
    time: Annotated[Name, no_unit] = "time"
    """Column of the local date and time."""
    date: Annotated[Name | None, no_unit] = None
    """Column of the date, in a file where ``time`` holds the time of day alone."""
    text: Annotated[Names, Field(min_length=1), no_unit]
    """Columns that together say what was done, in reading order."""
    kind: Annotated[Names, no_unit] = ()
    """Columns that say what kind of thing was done (all of ``text`` if left out); what is done all the time explains nothing."""
    layer: Annotated[Name | None, no_unit] = None
    """Column naming the layer that an entry concerns; entries without one concern all."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class GaugeChecks(Section):
    """A file of gauge verifications: readings of certified foils (shims) before and after a shift."""

    file: Annotated[Name, no_unit]
    """The file; looked for beside the plan."""
    time: Annotated[Name, no_unit] = "time"
    """Column of the local date and time of a check."""
    gauge: Annotated[Name, no_unit] = "gauge"
    """Column naming the gauge, as ``columns.gauge`` names it."""
    value: Annotated[Name, no_unit] = "value"
    """Column of the reading."""
    stated: Annotated[Name, no_unit] = "stated"
    """Column of the thickness that the foil's certificate states, in the same unit as the reading."""
    unit_of_measure: Annotated[Name | None, no_unit] = None
    """Column of each row's unit; the unit of ``[measure]`` if left out."""
    foil: Annotated[Names, no_unit] = ()
    """Columns that tell foils, and metals below them, apart."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class GaugeStudyFile(Section):
    """A file of gauge studies, one row a reading: whether the gauges can judge the windows of this plan's layers."""

    file: Annotated[Name, no_unit]
    """The file; looked for beside the plan."""
    part: Annotated[Name, no_unit] = "part"
    """Column naming the panel or part that was read."""
    appraiser: Annotated[str, no_unit] = "appraiser"
    """Column naming who read it; empty if one appraiser read all."""
    trial: Annotated[str | None, no_unit] = None
    """Column counting the readings of one part by one appraiser; ``trial`` if the file has it, and empty for none."""
    value: Annotated[Name, no_unit] = "value"
    """Column of the reading."""
    unit_of_measure: Annotated[str | None, no_unit] = None
    """Column of each row's unit; ``unit_of_measure`` if the file has it. Without one the numbers are as ``[measure]`` says."""
    apart: Annotated[Names | None, no_unit] = None
    """Columns that keep studies apart; ``gauge`` and ``substrate`` if the file has them."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class Rules(Section):
    """Which points are signals."""

    points: Annotated[tuple[Name, ...], no_unit] = ("1of1_beyond3_one",)
    """Rule words, for example "2of3_beyond2_one": 2 of 3 points beyond 2 sigma on one side."""
    smoothing: Annotated[Number, Field(ge=0, le=1), in_unit("share")] = 0.2
    """Weight of the newest point in the EWMA; 0 leaves the EWMA out."""
    false_calls_per_month: Annotated[Number, Field(gt=0), in_unit("episodes a month")] = 1.0
    """Alarm budget: episodes a month that a steady line may show on average, all charts of the review together."""
    sigma_multiple: Annotated[Positive | None, in_unit("standard deviations of a point")] = None
    """How far out all lines stand; chosen to keep the alarm budget if left out, and never below 3 then."""
    ewma_multiple: Annotated[Positive | None, in_unit("standard deviations of an EWMA of independent points")] = None
    """EWMA lines apart; they follow the other lines if left out."""
    longest_gap_hours: Annotated[Positive | None, in_unit("hours")] = None
    """Longest pause between two units in a row on one chart over which moving ranges, runs and the EWMA go on: 24 breaks them at
    weekends but not over night. If left out, no pause breaks them."""

    @field_validator("points")
    @classmethod
    def _known(cls, points: tuple[str, ...]) -> tuple[str, ...]:
        for word in points:
            describe(word)  # says itself what is wrong with a word
        return points


class DataScreens(Section):
    """Patterns that honest readings seldom show, such as a pile-up just inside a limit; told under the data problems."""

    groups: Annotated[Names, no_unit] = ()
    """Columns by whose values patterns are looked for, for example shift and gun; ``streams`` and ``adjust`` if left out."""
    painted: Annotated[Name | None, no_unit] = None
    """File of the units that were painted, with the columns of ``columns.unit``: those without readings are listed, and compared
    by those ``groups`` that it has."""
    running_numbers: Annotated[Flag, no_unit] = False
    """Whether serials end in a running number, so that its gaps are units without readings."""
    planned_readings: Annotated[Annotated[Whole, Field(ge=1)] | None, in_unit("readings a place")] = None
    """Readings that a place should have; the usual number if left out."""
    false_flag_rate: Annotated[Number, Field(gt=0, lt=0.5), in_unit("probability")] = 0.01
    """Chance, at most, that a file of honest readings shows any pattern."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the file of painted units is written, with the keys of ``[file]``; as ``[file]`` says if left out."""

    @model_validator(mode="after")
    def _one(self) -> Self:
        if self.format is not None and self.painted is None:
            raise ValueError("format says how a file is written, but painted names none")
        return self


class Changes(Section):
    """When a change is told: how sure, and how large."""

    significance: Annotated[Number, Field(gt=0, lt=0.5), in_unit("probability")] = 0.01
    """Chance per layer that a month without changes shows one, over all starts, ends, streams and shapes tried."""
    smallest: Annotated[Positive | None, working_unit] = None
    """Smallest change worth telling; a tenth of the layer's window if left out."""
    shortest: Annotated[Whole, Field(ge=2), in_unit("painted units")] = 4
    """Fewest units that a change lasts."""


class Plan(Section):
    """A whole plan. Unknown keys are refused."""

    title: Annotated[str, no_unit] = ""
    """What is reviewed; heads the report."""
    columns: Annotated[Columns, no_unit]
    """The file's name of each column."""
    measure: Annotated[Measure, no_unit]
    """The working unit, and which readings can be."""
    layers: Annotated[tuple[Layer, ...], no_unit]
    """The layers that are judged and charted, one ``[[layers]]`` each."""
    file: Annotated[FileFormat, no_unit] = FileFormat()
    """How the files are written."""
    streams: Annotated[Names, no_unit] = ()
    """Columns whose values are charted apart."""
    adjust: Annotated[Names, no_unit] = ()
    """Columns whose usual differences are taken off before charting."""
    candidates: Annotated[Names, no_unit] = ()
    """Columns whose change may explain a shift."""
    baseline: Annotated[BaselineFrom | None, no_unit] = None
    """Where the usual behavior is learned; from the same readings if left out."""
    events: Annotated[EventLog | None, no_unit] = None
    """A file of what was done and when."""
    gauge_checks: Annotated[GaugeChecks | None, no_unit] = None
    """A file of gauge verifications."""
    gauge_study: Annotated[GaugeStudyFile | None, no_unit] = None
    """A file of gauge studies."""
    cure: Annotated[CureTable | None, no_unit] = None
    """How the oven log is written and judged, for ``steadyfilm cure``."""
    wash: Annotated[WashTable | None, no_unit] = None
    """The washer's tanks and files, for ``steadyfilm wash``."""
    costs: Annotated[Costs | None, no_unit] = None
    """How much is painted a month, and in which money, to say what film beyond the aim costs."""
    rules: Annotated[Rules, no_unit] = Rules()
    """Which points of a chart are signals."""
    changes: Annotated[Changes, no_unit] = Changes()
    """When a change is told."""
    screens: Annotated[DataScreens, no_unit] = DataScreens()
    """How patterns in the readings themselves are looked for."""
    confidence_level: Annotated[Number, Field(gt=0.5, lt=1), in_unit("probability")] = 0.95
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
        """Of the plan's file or text; empty for a plan made of neither."""
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
    plan = make_plan(toml_content(text, name), name=name, folder=folder)
    plan._sha256 = hashlib.sha256(text.encode()).hexdigest()
    return plan


def make_plan(content: dict[str, Any], *, name: str = "plan", folder: str | Path = ".") -> Plan:
    """A plan from a mapping of the same shape; errors as in `read_plan`."""
    plan = checked(Plan, content, name)
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
    text, sha256 = read_file(path, "plan")
    plan = read_plan(text, name=path.name, folder=path.parent)
    plan._sha256 = sha256
    return plan


def plan_schema() -> dict[str, Any]:
    """JSON Schema of a plan, from the models above; each key has its unit or ``no unit``.

    Examples
    --------
    >>> plan_schema()["$defs"]["Layer"]["properties"]["lower"]["unit"]
    'working unit'
    """
    found = Plan.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": "Plan of a review"}
