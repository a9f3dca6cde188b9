"""The ``[wash]`` table of a plan: the tanks, and how titrations, feed meter, additions and painted area are written."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from steadyfilm._plan.keys import (
    Day,
    FileFormat,
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
)
from steadyfilm.errors import InvalidInputError, PlanError
from steadyfilm.units import convert, unit_symbol

__all__ = ["WashPlan", "WashTable", "WashTank", "is_of_the_washer_alone", "load_wash_plan", "make_wash_plan"]


def _unit_of(kind: str, text: str | None) -> str | None:
    """The symbol of a unit of this kind (that of ``kind``)."""
    if text is None:
        return None
    try:
        convert(1.0, given=text, wanted=kind)
    except InvalidInputError as error:
        raise ValueError(str(error)) from None
    return unit_symbol(text)


class WashFile(Section):
    """What all files of a washer have in common."""

    file: Annotated[Name, no_unit]
    """The file; looked for in ``folder``."""
    time: Annotated[Name, no_unit] = "time"
    """Column of the local date and time."""
    date: Annotated[Name | None, no_unit] = None
    """Column of the date, in a file where ``time`` holds the time of day alone."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the file is written, with the keys of ``[file]``; as ``[file]`` says if left out."""


class WashTitrations(WashFile):
    """The file of titrations, one row a reading."""

    tank: Annotated[str | None, no_unit] = None
    """Column naming the tank; ``tank`` if the file has it, and empty for a file of one tank."""
    quantity: Annotated[str | None, no_unit] = None
    """Column naming what was read; ``quantity`` if the file has it, and empty for a file of titrations alone."""
    value: Annotated[Name, no_unit] = "value"
    """Column of the reading."""
    unit_of_measure: Annotated[str | None, no_unit] = None
    """Column of each row's unit, % or mL of titrant; ``unit_of_measure`` if the file has it."""
    written_in: Annotated[Literal["%", "mL"], no_unit] = "%"
    """Unit of the readings where no column says it: percent by volume, or mL of titrant, which needs ``percent_per_ml``."""


class WashVolumes(WashFile):
    """What files of chemical volumes have in common."""

    tank: Annotated[str | None, no_unit] = None
    """Column naming the tank; ``tank`` if the file has it, and empty for a file of one tank."""
    unit_of_measure: Annotated[str | None, no_unit] = None
    """Column of each row's unit, gal or L; ``unit_of_measure`` if the file has it."""
    written_in: Annotated[Name | None, no_unit] = None
    """Unit of the volumes, gal or L, where no column says it."""

    @field_validator("written_in")
    @classmethod
    def _volume(cls, unit: str | None) -> str | None:
        return _unit_of("L", unit)


class WashFeed(WashVolumes):
    """The file of feed meters that count on, one row a reading."""

    total: Annotated[Name, no_unit] = "total"
    """Column of what was delivered so far."""
    meter: Annotated[str | None, no_unit] = None
    """Column naming the meter; ``meter`` if the file has it. A new meter starts anew."""


class WashAdditions(WashVolumes):
    """The file of what was poured in by hand, one row a time."""

    volume: Annotated[Name, no_unit] = "volume"
    """Column of the volume."""


class WashArea(WashFile):
    """The file of painted area, one row a shift or a day; rows of one time add up."""

    area: Annotated[Name, no_unit] = "area"
    """Column of the area."""
    unit_of_measure: Annotated[str | None, no_unit] = None
    """Column of each row's unit, ft2 or m2; ``unit_of_measure`` if the file has it."""
    written_in: Annotated[Name | None, no_unit] = None
    """Unit of the areas, ft2 or m2, where no column says it."""
    tank: Annotated[Name | None, no_unit] = None
    """Column naming the tank that the area went through; if left out all area went through every tank."""
    hours: Annotated[Positive | None, in_unit("hours")] = None
    """How long the work of a row goes on from its time; until the next row's time if left out."""

    @field_validator("written_in")
    @classmethod
    def _surface(cls, unit: str | None) -> str | None:
        return _unit_of("m2", unit)


class WashEvents(WashFile):
    """A file of what was done and when; its entries that name a tank are told beside a change of its use."""

    text: Annotated[Names, Field(min_length=1), no_unit]
    """Columns that together say what was done, in reading order."""


class WashTank(Section):
    """One tank, one ``[[wash.tanks]]`` each."""

    name: Annotated[Name, no_unit]
    """Its word in the columns of tanks."""
    unit: Annotated[Literal["gal", "L"], no_unit]
    """Unit of every volume below, and of the figures told; files may have others."""
    lower: Annotated[Number | None, in_unit("% by volume")] = None
    """Lowest concentration inside the working band, from the product's data sheet."""
    upper: Annotated[Number | None, in_unit("% by volume")] = None
    """Highest concentration inside the working band."""
    titrated: Annotated[Name, no_unit] = "concentration"
    """Word of the titrated concentration in the column of quantities."""
    percent_per_ml: Annotated[Positive | None, in_unit("% by volume per mL of titrant")] = None
    """Factor of the product and its sample, from the data sheet; needed for titrations written in mL."""
    titration_uncertainty: Annotated[Annotated[Number, Field(ge=0)], in_unit("% by volume")] = 0.0
    """Standard uncertainty of a titration: one nearer to a limit than two of them is told as doubtful."""
    volume: Annotated[Positive | None, in_unit("unit of the tank")] = None
    """Volume of the bath; needed to say when an unfed bath leaves its band."""
    feed_percent: Annotated[Annotated[Number, Field(gt=0, le=100)], in_unit("% by volume")] = 100.0
    """Concentration of what is fed or poured in: 100 for the product itself, less if it is diluted before."""

    @model_validator(mode="after")
    def _band(self) -> Self:
        if self.lower is not None and self.upper is not None and not self.lower < self.upper:
            raise ValueError(f"lower ({self.lower:g}) must lie below upper ({self.upper:g})")
        return self


class WashTable(Section):
    """The washer's tanks and files, for ``steadyfilm wash``."""

    folder: Annotated[str, no_unit] = ""
    """Folder of the files below, beside the plan; the command may name another one."""
    usual: Annotated[str | None, no_unit] = None
    """Folder with the same files of a usual period, from which limits come; beside the plan."""
    usual_until: Annotated[Day | Moment | None, in_unit("local date, or date and time")] = None
    """In place of ``usual``: last day (or moment) of the usual period within the files themselves."""
    titrations: Annotated[WashTitrations | None, no_unit] = None
    """The file of titrations."""
    feed: Annotated[WashFeed | None, no_unit] = None
    """The file of feed meters."""
    additions: Annotated[WashAdditions | None, no_unit] = None
    """The file of what was poured in by hand."""
    area: Annotated[WashArea | None, no_unit] = None
    """The file of painted area."""
    events: Annotated[WashEvents | None, no_unit] = None
    """A file of what was done and when."""
    tanks: Annotated[tuple[WashTank, ...], Field(min_length=1), no_unit]
    """The tanks, in the order of the report."""
    longest_gap_hours: Annotated[Positive | None, in_unit("hours")] = None
    """A longer time between two meter readings is a pause and no point; twice the middle one if left out."""
    false_calls_per_month: Annotated[Positive, in_unit("points a month")] = 0.1
    """Points beyond their limits that a steady washer may show on average, all charts of use together."""
    sigma_multiple: Annotated[Positive | None, in_unit("standard deviations of a point")] = None
    """How far out the limits stand; chosen to keep the false calls if left out, and never below 3 then."""
    least_usual: Annotated[Annotated[Whole, Field(ge=3)], in_unit("points")] = 5
    """Fewer usual points make no limits."""

    @model_validator(mode="after")
    def _agree(self) -> Self:
        wrong = []
        if self.usual is not None and self.usual_until is not None:
            wrong.append("give either usual = 'folder' or usual_until = date")
        if self.titrations is None and self.feed is None and self.additions is None:
            wrong.append("name at least one file: titrations, feed or additions")
        names = [tank.name for tank in self.tanks]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            wrong.append(f"two tanks are called '{twice[0]}'")
        if self.titrations is not None and self.titrations.written_in == "mL":
            lost = [tank.name for tank in self.tanks if tank.percent_per_ml is None]
            wrong += [f"tank '{name}': titrations in mL need percent_per_ml" for name in lost]
        if wrong:
            raise ValueError("\n".join(wrong))
        return self


class _Whole(BaseModel):
    """A plan as far as it speaks of the washer; other tables are left alone."""

    model_config = ConfigDict(extra="ignore", frozen=True, use_attribute_docstrings=True)

    title: str = ""
    """What is reviewed; heads the report."""
    file: FileFormat = FileFormat()
    """How the files are written."""
    wash: WashTable
    """The washer's tanks and files, in a table ``[wash]``."""


@dataclass(frozen=True)
class WashPlan:
    """What a plan says of the washer, how files are written where their own table does not say it, and where they lie."""

    table: WashTable
    file: FileFormat = field(default_factory=FileFormat)
    folder: Path = Path()
    title: str = ""
    name: str = ""
    sha256: str = ""

    def reading_options(self, part: WashFile) -> dict[str, Any]:
        """How a file is written: keyword arguments of the file reader."""
        return (part.format or self.file).model_dump()

    def month(self, folder: str | Path | None = None) -> Path:
        """The folder of the files: the given one, or that of the plan."""
        return Path(folder) if folder is not None else self.folder / self.table.folder


def make_wash_plan(content: dict[str, Any], *, folder: str | Path = ".", name: str = "plan", sha256: str = "") -> WashPlan:
    """A plan from a mapping with a ``wash`` table.

    Examples
    --------
    >>> tank = {"name": "cleaner", "unit": "gal", "lower": 2.0, "upper": 3.0}
    >>> plan = make_wash_plan({"wash": {"feed": {"file": "meter.csv"}, "tanks": [tank]}})
    >>> plan.table.tanks[0].upper, plan.table.feed.total
    (3.0, 'total')
    >>> make_wash_plan({"wash": {"feeds": {}, "tanks": [tank]}})
    Traceback (most recent call last):
    ...
    steadyfilm.errors.PlanError: plan cannot be used:
      wash.feeds: unknown key; nearest: 'feed'
    """
    if not isinstance(content.get("wash"), dict):
        raise PlanError(f"{name} has no [wash] table: it says nothing of wash tanks")
    found = checked(_Whole, content, name)
    return WashPlan(found.wash, found.file, Path(folder), found.title, name, sha256)


def is_of_the_washer_alone(path: str | Path) -> bool:
    """Whether a plan has ``[wash]`` and none of the tables that other reviews cannot do without."""
    content = toml_content(read_file(Path(path), "plan")[0], Path(path).name)
    return "wash" in content and not {"columns", "measure", "layers", "cure"} & set(content)


def load_wash_plan(path: str | Path) -> WashPlan:
    """The ``[wash]`` table of a TOML file, with its ``[file]``; other tables are those of other reviews and are left alone.

    Raises
    ------
    PlanError
        The file cannot be read, is no TOML, has no ``[wash]``, or keys and values that cannot be used.
    """
    path = Path(path)
    text, digest = read_file(path, "plan")
    return make_wash_plan(toml_content(text, path.name), folder=path.parent, name=path.name, sha256=digest)
