"""Film acceptance of a file of readings by a rule in TOML: a published rule, or a shop's own."""

from __future__ import annotations

import dataclasses
import hashlib
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, Self

import numpy as np

from steadyfilm._files import Cells, read_cells
from steadyfilm._format import plural
from steadyfilm._review.attempts import attempt_numbers
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError, MissingExtraError, PlanError
from steadyfilm.film_thickness import (
    Acceptance,
    AcceptanceRule,
    CountTable,
    Shares,
    accept_film,
    area_rule,
    house_rule,
    ninety_ten_rule,
    rough_steel_rule,
)

try:
    from pydantic import Field, PrivateAttr, ValidationError, model_validator
except ImportError as error:
    raise MissingExtraError("a rule file", "job") from error

from steadyfilm._plan_parts import Flag, Name, Names, Number, Whole, _in, _no_unit, _Section, _working
from steadyfilm.plan import FileFormat, _tell

__all__ = ["AcceptedFile", "RuleFile", "accept_file", "load_rule", "read_rule", "rule_schema"]

Positive = Annotated[Number, Field(gt=0)]
_share = _in("share of the window's end")


class RuleColumns(_Section):
    """The file's name of each column. Only ``value`` is needed, and ``spot`` where the rule averages readings of a spot."""

    value: Annotated[Name, _no_unit]
    """The reading itself."""
    unit: Annotated[Names, _no_unit] = ()
    """What one painted unit is; without it all readings are of one."""
    area: Annotated[Name | None, _no_unit] = None
    """The area of a unit; without it a unit is one area."""
    spot: Annotated[Names, _no_unit] = ()
    """The spot; without it every reading stands for itself."""
    unit_of_measure: Annotated[Name | None, _no_unit] = None
    """The unit of each row's reading; rows are converted to the working unit and kept as written."""
    layer: Annotated[Name | None, _no_unit] = None
    """Which layer, or which total, a row is a reading of; ``layer`` of ``[film]`` says which is judged."""
    attempt: Annotated[Name | None, _no_unit] = None
    """Whole numbers, the first 1 (or 0 where touch-ups are counted); of each spot the last attempt is judged."""
    discarded: Annotated[Name | None, _no_unit] = None
    """Why a reading was left out; empty where it was not. Verdicts are given both ways."""
    discarded_by: Annotated[Name | None, _no_unit] = None
    """Who left it out."""
    suspect: Annotated[Name | None, _no_unit] = None
    """Why a reading cannot be relied on, for example a gauge found off afterwards; empty where it can."""


class Film(_Section):
    """What is asked of the film, and where it lies."""

    unit: Annotated[Literal["mil", "um"], _no_unit]
    """The working unit: of every thickness in this file and of every figure of the verdict."""
    lower: Annotated[Positive | None, _working] = None
    """Lower end of the window."""
    upper: Annotated[Positive | None, _working] = None
    """Upper end of the window; with ``nominal`` the largest reading agreed."""
    nominal: Annotated[Positive | None, _working] = None
    """A single value in place of a window; the rule says what it stands for."""
    layer: Annotated[Name | None, _no_unit] = None
    """Word of the layer column that is judged; other rows are left out and counted."""
    surface_ft2: Annotated[Positive | None, _in("ft2")] = None
    """Painted surface of a unit, for the number of areas; never converted."""
    surface_m2: Annotated[Positive | None, _in("m2")] = None
    """The same in m2; a rule's figures in the two systems are not the same."""
    profile: Annotated[Literal["fine", "medium", "coarse", "unknown", "smooth"] | None, _no_unit] = None
    """Blast profile, for a rule of rough steel: its correction is taken off each reading."""
    correction_um: Annotated[Annotated[Number, Field(ge=0)] | None, _in("um")] = None
    """The correction itself, in place of ``profile``; 0 where the gauge was set on the profile."""


class Counts(_Section):
    """How many areas or readings a unit needs, by its surface."""

    steps: Annotated[tuple[tuple[Number, Whole], ...], Field(min_length=1), _in("surface, count")]
    """Pairs [surface, count], rising: so many up to that surface."""
    further: Annotated[Annotated[Number, Field(ge=0)], _in("surface")] = 0.0
    """Beyond the last step: for each further such surface or part of it ..."""
    more: Annotated[Annotated[Whole, Field(ge=0)], _in("count")] = 0
    """... so many more."""


def _count_table(given: Counts | None) -> CountTable | None:
    return None if given is None else CountTable(given.steps, given.further, given.more)


class HouseRule(_Section):
    """A rule of one's own. Limits are shares of the window's ends: 0.85 of its lower end, 1.15 of its upper end."""

    name: Annotated[Name, _no_unit]
    """What verdicts call it."""
    edition: Annotated[str, _no_unit] = ""
    """Its date or number, printed beside every verdict."""
    reading_lower: Annotated[Positive | None, _share] = None
    """Lowest single reading."""
    reading_upper: Annotated[Positive | None, _share] = None
    """Highest single reading."""
    spot_lower: Annotated[Positive | None, _share] = None
    """Lowest spot, the mean of its readings."""
    spot_upper: Annotated[Positive | None, _share] = None
    """Highest spot."""
    area_lower: Annotated[Positive | None, _share] = None
    """Lowest area, the mean of its spots."""
    area_upper: Annotated[Positive | None, _share] = None
    """Highest area."""
    unit_lower: Annotated[Positive | None, _share] = None
    """Lowest unit, the mean of all its spots."""
    unit_upper: Annotated[Positive | None, _share] = None
    """Highest unit."""
    thin_share: Annotated[Annotated[Number, Field(ge=0, le=1)] | None, _in("share of readings")] = None
    """Largest share of an area's readings below the window."""
    thin_share_allowed: Annotated[Flag, _no_unit] = True
    """Whether exactly that share passes."""
    readings_per_spot: Annotated[Annotated[Whole, Field(ge=1)], _in("readings")] = 1
    """Readings of a spot, at least."""
    spots_per_area: Annotated[Annotated[Whole, Field(ge=1)], _in("spots")] = 1
    """Spots of an area, at least."""
    areas_ft2: Annotated[Counts | None, _no_unit] = None
    """Areas of a unit by its surface in ft2."""
    areas_m2: Annotated[Counts | None, _no_unit] = None
    """Areas of a unit by its surface in m2."""
    readings_m2: Annotated[Counts | None, _no_unit] = None
    """Readings of a unit by its surface in m2."""
    single_value_share: Annotated[Annotated[Number, Field(gt=0, lt=1)] | None, _in("share")] = None
    """A nominal value stands for value -+ this share; without it, for at least the value."""

    def rule(self) -> AcceptanceRule:
        """The rule as it is applied."""
        return house_rule(
            self.name,
            edition=self.edition,
            reading=Shares(self.reading_lower, self.reading_upper),
            spot=Shares(self.spot_lower, self.spot_upper),
            area=Shares(self.area_lower, self.area_upper),
            unit=Shares(self.unit_lower, self.unit_upper),
            thin_share=self.thin_share,
            thin_share_allowed=self.thin_share_allowed,
            readings_per_spot=self.readings_per_spot,
            spots_per_area=self.spots_per_area,
            areas_ft2=_count_table(self.areas_ft2),
            areas_m2=_count_table(self.areas_m2),
            readings_m2=_count_table(self.readings_m2),
            single_value_share=self.single_value_share,
        )

    @model_validator(mode="after")
    def _usable(self) -> Self:
        try:
            self.rule()
        except InvalidInputError as error:
            raise ValueError(str(error)) from None
        return self


class GaugeError(_Section):
    """What the gauge may be off, for the class of each verdict: clear or doubtful. The verdict itself has no guard band."""

    sigma_repeat: Annotated[Annotated[Number, Field(ge=0)], _working]
    """Standard deviation of one reading at one spot."""
    bias_bound: Annotated[Annotated[Number, Field(ge=0)], _working] = 0.0
    """How far all readings may be off, from the verification on shims."""
    confidence_level: Annotated[Annotated[Number, Field(gt=0.5, lt=1)], _in("probability")] = 0.95
    """One-sided."""


class RuleFile(_Section):
    """A whole rule file. Unknown keys are refused; nothing is guessed."""

    title: Annotated[str, _no_unit] = ""
    """What is judged; heads the report."""
    rule: Annotated[Literal["area", "rough steel", "ninety-ten", "house"], _no_unit]
    """The area rule with restriction levels, the 80 % rule for blasted steel, the 90/10 rule, or ``[house]``."""
    level: Annotated[Annotated[Whole, Field(ge=1, le=5)] | None, _no_unit] = None
    """Restriction level of the area rule, 1 strictest; needed there, since a contract names it."""
    thin_share: Annotated[Literal["below", "at_most"] | None, _no_unit] = None
    """For the 80 % rule: below 20 % of readings may be thin, or at most 20 %; "below" if left out."""
    film: Annotated[Film, _no_unit]
    """What is asked of the film."""
    columns: Annotated[RuleColumns, _no_unit]
    """The file's name of each column."""
    house: Annotated[HouseRule | None, _no_unit] = None
    """A rule of one's own."""
    gauge: Annotated[GaugeError | None, _no_unit] = None
    """What the gauge may be off."""
    missing_readings: Annotated[Literal["error", "drop"], _no_unit] = "error"
    """Rows without a reading are refused, or count as readings not taken."""
    file: Annotated[FileFormat, _no_unit] = FileFormat()
    """How the readings are written."""

    _name: str = PrivateAttr(default="rule")
    _sha256: str = PrivateAttr(default="")

    @property
    def name(self) -> str:
        """What messages call the file."""
        return self._name

    @property
    def sha256(self) -> str:
        """Of the file's text."""
        return self._sha256

    def acceptance_rule(self) -> AcceptanceRule:
        """The rule as it is applied."""
        if self.rule == "house" and self.house is not None:
            return self.house.rule()
        if self.rule == "area":
            return area_rule(self.level or 3)
        return ninety_ten_rule() if self.rule == "ninety-ten" else rough_steel_rule(self.thin_share or "below")

    @model_validator(mode="after")
    def _agree(self) -> Self:
        wrong = []
        if (self.rule == "house") != (self.house is not None):
            wrong.append("rule = 'house' and the section [house] belong together: write both, or neither")
        if self.rule == "area" and self.level is None:
            wrong.append("rule = 'area' needs level = 1 to 5, as the contract names it (3 is the usual one where it names none)")
        if self.rule != "area" and self.level is not None:
            wrong.append(f"level belongs to rule = 'area', not to '{self.rule}'")
        if self.rule != "rough steel" and self.thin_share is not None:
            wrong.append("thin_share belongs to rule = 'rough steel'; for a rule of your own it stands in [house]")
        if (self.columns.layer is None) != (self.film.layer is None):
            wrong.append("columns.layer and film.layer belong together: the column, and the word in it that is judged")
        if self.columns.attempt is not None and not self.columns.spot:
            wrong.append("columns.attempt needs columns.spot: a later attempt replaces the readings of its own spots")
        if self.film.nominal is None and self.film.lower is None and self.film.upper is None:
            wrong.append("film needs a window (lower, upper or both) or a nominal value")
        if wrong:
            raise ValueError("\n".join(wrong))
        return self


def read_rule(text: str, *, name: str = "rule") -> RuleFile:
    """A rule file from TOML text.

    Raises
    ------
    PlanError
        Not TOML, an unknown key (with the nearest known one), a wrong value, a contradiction; all problems at once.

    Examples
    --------
    >>> found = read_rule('''
    ... rule = "area"
    ... level = 3
    ... film = {unit = "mil", lower = 2.0, upper = 2.2}
    ... columns = {unit = "body", spot = "place", value = "film"}
    ... ''')
    >>> found.acceptance_rule().name
    'SSPC-PA 2, level 3'
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"{name} is not valid TOML: {error}") from error
    try:
        found = RuleFile.model_validate(content)
    except ValidationError as error:
        lines = [line for problem in error.errors(include_url=False) for line in _tell(problem, RuleFile)]
        raise PlanError("\n  ".join([f"{name} cannot be used:", *lines]), problems=lines) from error
    found._name, found._sha256 = name, hashlib.sha256(text.encode()).hexdigest()
    return found


def load_rule(path: str | Path) -> RuleFile:
    r"""A rule file.

    Raises
    ------
    PlanError
        As `read_rule`, and if the file cannot be read.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> place = pathlib.Path(tempfile.mkdtemp()) / "rule.toml"
    >>> _ = place.write_text('rule = "ninety-ten"\nfilm = {unit = "um", nominal = 320}\ncolumns = {value = "film"}')
    >>> load_rule(place).film.nominal
    320.0
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise PlanError(f"cannot read the rule {path}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PlanError(f"the rule {path} is not UTF-8 text, as TOML must be (byte {error.start})") from error
    return read_rule(text, name=path.name)


def rule_schema() -> dict[str, Any]:
    """JSON Schema of a rule file; each key has its unit or ``no unit``.

    Examples
    --------
    >>> rule_schema()["$defs"]["Film"]["properties"]["surface_ft2"]["unit"]
    'ft2'
    """
    found = RuleFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": "Rule of film acceptance"}


@dataclass(frozen=True)
class AcceptedFile:
    """A judged file: the verdicts, what was left out, and SHA-256 of what was read."""

    title: str
    found: Acceptance
    left_out: dict[str, int]
    superseded: int
    """Readings of an attempt that a later one at the same spot replaces."""
    inputs: dict[str, str]

    @property
    def notes(self) -> tuple[str, ...]:
        """What has to be said beside the verdict."""
        rows = ", ".join(f"{count} of '{word}'" for word, count in self.left_out.items())
        own = [f"Rows of other layers left out: {rows}."] if rows else []
        if self.superseded:
            own.append(f"{plural(self.superseded, 'reading')} of earlier attempts left out: the last at each spot is judged.")
        return (*self.found.notes, *own)


def accept_file(readings: str | Path, rule: RuleFile) -> AcceptedFile:
    r"""Judge a file of readings by a rule file.

    Parameters
    ----------
    readings : str or Path
        CSV, Parquet or Excel, written as the rule's ``[file]`` says.
    rule : RuleFile

    Raises
    ------
    DataProblemsError
        A file that cannot be used; every problem with line, column, value and way out.
    InvalidInputError
        A rule that does not fit what is asked, for example unit systems mixed.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> place = pathlib.Path(tempfile.mkdtemp()) / "film.csv"
    >>> _ = place.write_text("film\n" + "\n".join(["330"] * 18 + ["288", "319"]))
    >>> rule = read_rule('rule = "ninety-ten"\nfilm = {unit = "um", nominal = 320}\ncolumns = {value = "film"}')
    >>> accept_file(place, rule).found.verdict.tolist()
    ['pass']
    """
    cells = read_cells(readings, **rule.file.model_dump())
    names = rule.columns
    table, lines, left_out, superseded = _table(cells, rule)
    try:
        found = accept_film(
            table,
            names.value,
            rule=rule.acceptance_rule(),
            unit=rule.film.unit,
            lower=rule.film.lower,
            upper=rule.film.upper,
            nominal=rule.film.nominal,
            body=names.unit,
            area=names.area,
            spot=names.spot,
            surface_ft2=rule.film.surface_ft2,
            surface_m2=rule.film.surface_m2,
            profile=rule.film.profile,
            correction_um=rule.film.correction_um,
            unit_of_measure=names.unit_of_measure,
            discarded=names.discarded,
            discarded_by=names.discarded_by,
            suspect=names.suspect,
            sigma_repeat=rule.gauge.sigma_repeat if rule.gauge else None,
            bias_bound=rule.gauge.bias_bound if rule.gauge else 0.0,
            confidence_level=rule.gauge.confidence_level if rule.gauge else 0.95,
            missing=rule.missing_readings,
        )
    except DataProblemsError as error:
        told = [dataclasses.replace(item, row=lines[item.row - 1] if item.row else 0) for item in error.problems]
        raise DataProblemsError(told, advice=error.advice, file=cells.file, counted_in=cells.counted_in) from error
    # Rows of the result are lines of the file, where its reader will look.
    found = dataclasses.replace(
        found,
        row=np.array([lines[row - 1] for row in found.row], dtype=np.int64),
        discarded=tuple(dataclasses.replace(item, row=lines[item.row - 1]) for item in found.discarded),
    )
    found.row.flags.writeable = False
    inputs = {cells.file: cells.sha256}
    if rule.sha256:
        inputs[rule.name] = rule.sha256
    return AcceptedFile(rule.title, found, left_out, superseded, inputs)


def _table(cells: Cells, rule: RuleFile) -> tuple[dict[str, Any], list[int], dict[str, int], int]:
    """Columns of the rows that are judged, the line of each, rows of other layers, and how many a later attempt replaces."""
    names = rule.columns
    texts = [*names.unit, *names.spot]
    texts += [name for name in (names.area, names.unit_of_measure, names.discarded, names.discarded_by, names.suspect) if name]
    table: dict[str, Any] = {name: cells.text(name) for name in dict.fromkeys(texts)}
    table[names.value] = cells.numbers(names.value)
    lines = [int(line) for line in cells.lines]
    keep = np.ones(len(lines), dtype=bool)
    left_out: dict[str, int] = {}
    if names.layer is not None:
        words = cells.text(names.layer)
        keep = np.array([word == rule.film.layer for word in words])
        for word, ok in zip(words, keep, strict=True):
            if not ok:
                left_out[word] = left_out.get(word, 0) + 1
        if not keep.any():
            known = ", ".join(f"'{word}'" for word in list(left_out)[:8])
            raise DataProblemsError(
                [DataProblem(names.layer, 0, f"'{rule.film.layer}'", f"no row of this layer; there are {known or 'none'}")],
                file=cells.file,
            )
    superseded = 0
    if names.attempt is not None:
        given = cells.numbers(names.attempt)
        attempt = attempt_numbers(given, lines, names.attempt, file=cells.file, counted_in=cells.counted_in)
        where = [*names.unit, *([names.area] if names.area else []), *names.spot]
        keys = list(zip(*(table[name] for name in where), strict=True)) if where else [()] * len(lines)
        # A row without a reading is no attempt: it does not take away the one before.
        read = keep & ~np.isnan(table[names.value])
        last: dict[tuple[str, ...], int] = {}
        for key, number, ok in zip(keys, attempt.tolist(), read, strict=True):
            if ok:
                last[key] = max(number, last.get(key, 0))
        latest = np.array([number >= last.get(key, 0) for key, number in zip(keys, attempt.tolist(), strict=True)], dtype=bool)
        superseded = int((keep & ~latest).sum())
        keep &= latest
    judged = {name: [x for x, ok in zip(column, keep, strict=True) if ok] for name, column in table.items()}
    judged[names.value] = table[names.value][keep]
    return judged, [line for line, ok in zip(lines, keep, strict=True) if ok], left_out, superseded
