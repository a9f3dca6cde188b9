"""The ``[cure]`` table of a plan: where recipes and loads are, how the oven log is written, what counts as a fault."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from steadyfilm._cure.options import CureOptions, LogColumns, LogRules, column_names
from steadyfilm._plan.keys import (
    FileFormat,
    Flag,
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
from steadyfilm.errors import PlanError

__all__ = ["CurePlan", "CureTable", "cure_plan", "is_of_the_oven_alone", "load_cure_plan"]


class CureColumns(Section):
    """The log's name of each column; an empty name says that there is none. Times are local, or minutes."""

    bake: Annotated[str, no_unit] = "bake"
    """Which bake a row is of; without it bakes are cut at pauses of ``rules.pause_min``."""
    probe: Annotated[str, no_unit] = "probe"
    """Which thermocouple a row is of."""
    temperature: Annotated[str, no_unit] = "temperature"
    """The reading itself."""
    probe_columns: Annotated[Names, no_unit] = ()
    """A log with one column a probe: those columns, in place of ``probe`` and ``temperature``."""
    time: Annotated[str, no_unit] = "time"
    """Local date and time of a reading."""
    date: Annotated[str, no_unit] = ""
    """The date, in a log where ``time`` holds the time of day alone."""
    minutes: Annotated[str, no_unit] = ""
    """Minutes, in a log without local times."""
    unit_of_measure: Annotated[str | None, no_unit] = None
    """Unit of each row's temperature, C or F; ``unit_of_measure`` if the log has it. Without one ``unit`` says it."""
    load_unit: Annotated[str, no_unit] = ""
    """Painted unit, in the file of loads."""
    load_recipe: Annotated[str, no_unit] = "recipe"
    """Recipe, in the file of loads."""


class CureRules(Section):
    """What in a log is a fault. All numbers are common practice, no source."""

    gap_medians: Annotated[Positive, in_unit("median intervals")] = LogRules.gap_medians
    """A longer interval between readings is a gap."""
    longest_interval_min: Annotated[Positive, in_unit("min")] = LogRules.longest_interval_min
    """A longer interval is a gap, whatever the median."""
    stuck_readings: Annotated[Annotated[Whole, Field(ge=1)], in_unit("readings")] = LogRules.stuck_readings
    """More equal readings in a row are those of a probe that is stuck."""
    fine_step_k: Annotated[Positive, in_unit("K")] = LogRules.fine_step_k
    """In a log with coarser steps, equal readings count only while another probe moves."""
    lowest_c: Annotated[Number, in_unit("C")] = LogRules.lowest_c
    """Readings below are those of an open circuit."""
    highest_c: Annotated[Number, in_unit("C")] = LogRules.highest_c
    """Readings above are those of an open circuit."""
    jump_k_per_min: Annotated[Positive, in_unit("K/min")] = LogRules.jump_k_per_min
    """Faster over a minute than a part can follow."""
    air_lag_min: Annotated[Positive, in_unit("min")] = LogRules.air_lag_min
    """A part that lags less behind the air is the air: its probe has come off."""
    pause_min: Annotated[Positive | None, in_unit("min")] = None
    """A pause that parts two bakes, for a log without a column of bakes."""

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if not self.lowest_c < self.highest_c:
            raise ValueError(f"lowest_c ({self.lowest_c:g}) must lie below highest_c ({self.highest_c:g})")
        return self


class CureTable(Section):
    """How an oven log is written and judged, for ``steadyfilm cure``; its options go before these keys."""

    recipes: Annotated[Name | None, no_unit] = None
    """File of recipes, one row a line of a schedule; looked for beside the plan."""
    loads: Annotated[Name | None, no_unit] = None
    """File that says which bake had which recipe and units; looked for beside the plan."""
    recipe: Annotated[Name | None, no_unit] = None
    """Recipe of every bake, where no file of loads says it."""
    unit: Annotated[Literal["C", "F"] | None, no_unit] = None
    """Unit of all temperatures, where no column says it."""
    air: Annotated[Names, no_unit] = ()
    """Probes in the air; every other one is on a part and is judged."""
    places: Annotated[Names, no_unit] = ()
    """Probes on parts that every bake must have; those that any bake has if left out."""
    tolerance_k: Annotated[Annotated[Number, Field(ge=0)] | None, in_unit("K")] = None
    """How far the probes may be off."""
    slope_window_min: Annotated[Positive, in_unit("min")] = CureOptions.slope_window_min
    """Length of the moving slope."""
    dose_role: Annotated[Literal["told", "enough", "needed"], no_unit] = "told"
    """Whether the dose is only told, is enough in place of the schedule, or is needed as well."""
    unbroken: Annotated[Flag, no_unit] = False
    """Whether the longest run at temperature counts alone, not all time."""
    columns: Annotated[CureColumns, no_unit] = CureColumns()
    """The log's name of each column, in ``[cure.columns]``."""
    rules: Annotated[CureRules, no_unit] = CureRules()
    """What in a log is a fault, in ``[cure.rules]``."""
    format: Annotated[FileFormat | None, no_unit] = None
    """How the three files are written, with the keys of ``[file]``; as ``[file]`` says if left out."""

    def options(self) -> CureOptions:
        """How a log is read and judged, as the library takes it."""
        return CureOptions(
            columns=LogColumns(**column_names(self.columns.model_dump())),
            rules=LogRules(**self.rules.model_dump()),
            unit=self.unit,
            air=self.air,
            places=self.places,
            tolerance_k=self.tolerance_k,
            slope_window_min=self.slope_window_min,
            dose_role=self.dose_role,
            unbroken=self.unbroken,
        )


@dataclass(frozen=True)
class CurePlan:
    """What a plan says of the oven: options, files (relative names start at the plan's folder), and how they are written."""

    options: CureOptions = field(default_factory=CureOptions)
    recipes: Path | None = None
    loads: Path | None = None
    recipe: str | None = None
    reading: Mapping[str, Any] = field(default_factory=dict)
    sha256: str = ""
    name: str = ""


def cure_plan(table: CureTable, file: FileFormat, folder: Path) -> CurePlan:
    """What a ``[cure]`` table says, with how the plan's files are written and where they are looked for."""
    return CurePlan(
        options=table.options(),
        recipes=None if table.recipes is None else folder / table.recipes,
        loads=None if table.loads is None else folder / table.loads,
        recipe=table.recipe,
        reading=(table.format or file).model_dump(),
    )


class _OvenOnly(BaseModel):
    """What ``steadyfilm cure`` wants of a plan; tables of the film's review are left alone."""

    model_config = ConfigDict(extra="ignore", frozen=True)

    cure: CureTable
    file: FileFormat = FileFormat()


def is_of_the_oven_alone(path: str | Path) -> bool:
    """Whether a plan has ``[cure]`` and none of the tables that a review of film cannot do without."""
    content = toml_content(read_file(Path(path), "plan")[0], Path(path).name)
    return "cure" in content and not {"columns", "measure", "layers"} & set(content)


def load_cure_plan(path: str | Path) -> CurePlan:
    """The ``[cure]`` table of a plan in TOML; tables of the film's review are left alone, and need not be there.

    Raises
    ------
    PlanError
        The file cannot be read, is no TOML, has no ``[cure]``, or that table has keys or values that cannot be used.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> place = pathlib.Path(tempfile.mkdtemp()) / "oven.toml"
    >>> _ = place.write_text('cure = {unit = "F", air = "supply", rules = {gap_medians = 4}}')
    >>> load_cure_plan(place).options.rules.gap_medians
    4.0
    >>> _ = place.write_text('cure = {airs = ["supply"]}')
    >>> load_cure_plan(place)
    Traceback (most recent call last):
    ...
    steadyfilm.errors.PlanError: oven.toml cannot be used:
      cure.airs: unknown key; nearest: 'air'
    """
    path = Path(path)
    text, sha256 = read_file(path, "plan")
    content = toml_content(text, path.name)
    if "cure" not in content:
        raise PlanError(f"the plan {path} has no [cure] table: it says nothing of an oven log")
    found = checked(_OvenOnly, content, path.name)
    return replace(cure_plan(found.cure, found.file, path.parent), sha256=sha256, name=path.name)
