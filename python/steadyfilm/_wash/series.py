"""A washer's tables to series by tank: titrations, meter readings, additions and painted area, in the tank's units."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._cure.tables import source_of
from steadyfilm._format import number, plural
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import convert, unit_symbol

if TYPE_CHECKING:
    from steadyfilm._plan.wash import WashPlan, WashTank

__all__ = ["AreaRows", "Entry", "Part", "TankSeries", "read_series"]

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]
Flags = NDArray[np.bool_]

PERCENT_WORDS = {"%", "percent", "vol%", "vol %", "vol-%", "vol.-%", "% by volume", "% vol", "% v/v"}
PER = {"ft2": (1000.0, "1000 ft2"), "m2": (100.0, "100 m2")}
"""Painted area is told in so many of its unit."""


@dataclass(frozen=True)
class Part:
    """One table as it was handed in: of the period under review, and of the usual one where there is one."""

    month: Any = None
    usual: Any = None

    def sources(self) -> list[tuple[Any, bool]]:
        """Tables behind the questions that files answer, the usual one first."""
        return [(source_of(data), usual) for data, usual in ((self.usual, True), (self.month, False)) if data is not None]


@dataclass(frozen=True)
class Entry:
    """One entry of the log of events."""

    time: np.datetime64
    text: str


@dataclass(frozen=True)
class AreaRows:
    """Painted area by stretch, in order of time; ``area`` in multiples of ``per``."""

    begin: Times
    end: Times
    area: Floats
    usual: Flags
    per: str

    def within(self, first: np.datetime64, last: np.datetime64) -> float:
        """Area painted between two moments, a stretch that is cut counted by its share; NaN beyond the rows."""
        if not self.begin.size or first < self.begin[0] or last > self.end.max():
            return math.nan
        low, high = np.maximum(self.begin, first), np.minimum(self.end, last)
        share = np.maximum((high - low) / np.timedelta64(1, "s"), 0.0) / ((self.end - self.begin) / np.timedelta64(1, "s"))
        return float((share * self.area).sum())


@dataclass(frozen=True)
class TankSeries:
    """What is known of one tank. Meter readings are in pieces, one a meter that counts on; volumes in the tank's unit."""

    tank: WashTank
    titrated_at: Times
    percent: Floats
    titrated_usual: Flags
    meters: tuple[tuple[Times, Floats, Flags], ...]
    meter_step: float
    """Smallest step in which the meter is written; 0 if there is none."""
    added_at: Times
    added: Floats
    added_usual: Flags
    area: AreaRows | None


@dataclass
class _Rows:
    """Columns of one part, the usual and the reviewed rows together, with notes on what was left out."""

    time: list[Times] = field(default_factory=list)
    value: list[Floats] = field(default_factory=list)
    usual: list[Flags] = field(default_factory=list)
    tank: list[NDArray[np.object_]] = field(default_factory=list)
    unit: list[NDArray[np.object_]] = field(default_factory=list)
    more: list[NDArray[np.object_]] = field(default_factory=list)
    line: list[NDArray[np.int64]] = field(default_factory=list)
    file: list[NDArray[np.object_]] = field(default_factory=list)

    def joined(self) -> dict[str, NDArray[Any]]:
        out = {name: np.concatenate(getattr(self, name)) for name in self.__dataclass_fields__}
        order = np.argsort(out["time"], kind="stable")
        return {name: column[order] for name, column in out.items()}


def read_series(plan: WashPlan, parts: dict[str, Part]) -> tuple[tuple[TankSeries, ...], tuple[Entry, ...], tuple[str, ...]]:
    """The plan's tanks with all that the tables hold of them, the log's entries, and notes on rows left out.

    Parameters
    ----------
    parts : dict
        ``titrations``, ``feed``, ``additions``, ``area`` and ``events``, as far as they are there.

    Raises
    ------
    DataProblemsError
        Columns that are not there, cells that are no numbers or times, units that are not known.
    InvalidInputError
        A unit that nothing declares; a table without any row of the plan's tanks.
    """
    table = plan.table
    notes: list[str] = []
    tanks = {tank.name: tank for tank in table.tanks}
    read: dict[str, dict[str, NDArray[Any]]] = {}
    for name, column, extra in (
        ("titrations", "value", "quantity"),
        ("feed", "total", "meter"),
        ("additions", "volume", None),
        ("area", "area", None),
    ):
        section, part = getattr(table, name), parts.get(name)
        if section is None or part is None or part.month is None:
            continue
        found = _columns(section, part, getattr(section, column), extra, name, notes)
        if name != "area" or section.tank is not None:
            found = _of_plan(found, tanks, name, notes)
        read[name] = found
    if "titrations" in read:
        read["titrations"] = _titrations(read["titrations"], tanks, table.titrations, notes)
    last = max((x["time"].max() for x in read.values() if x["time"].size), default=None)
    series = tuple(_series(tank, plan, read, last, notes) for tank in table.tanks)
    return series, _entries(plan, parts.get("events")), tuple(notes)


def _optional(source: Any, given: str | None, usual: str | None) -> str | None:
    """A column that need not be there: as the plan says, or under its usual name if the table has it."""
    if given is None:
        return usual if usual is not None and source.name_of(usual) is not None else None
    return given or None


def _columns(section: Any, part: Part, column: str, extra: str | None, what: str, notes: list[str]) -> dict[str, NDArray[Any]]:
    rows = _Rows()
    for source, usual in part.sources():
        height = len(source.lines)
        time, value = source.times(section.time, section.date), source.numbers(column)
        tank = _optional(source, section.tank, None if what == "area" else "tank")
        unit = _optional(source, section.unit_of_measure, "unit_of_measure")
        other = _optional(source, getattr(section, extra), extra) if extra else None
        keep = ~np.isnat(time) & ~np.isnan(value)
        if not keep.all():
            notes.append(f"{source.file or what}: {plural(int((~keep).sum()), 'row')} without a time or a number left out")
        declared = section.written_in or ""

        def words(name: str | None, default: str, of: Any = source, count: int = height) -> NDArray[np.object_]:
            return np.array(of.text(name) if name else [default] * count, dtype=object)

        for into, cells in (
            (rows.time, time),
            (rows.value, value),
            (rows.usual, np.full(height, usual)),
            (rows.tank, words(tank, "")),
            (rows.unit, words(unit, declared)),
            (rows.more, words(other, "")),
            (rows.line, np.array(source.lines, dtype=np.int64)),
            (rows.file, np.full(height, source.file, dtype=object)),
        ):
            into.append(cells[keep])
    return rows.joined()


def _of_plan(found: dict[str, NDArray[Any]], tanks: dict[str, WashTank], what: str, notes: list[str]) -> dict[str, NDArray[Any]]:
    """Rows of the plan's tanks; a table of one tank needs a plan of one."""
    names = dict.fromkeys(found["tank"].tolist())
    if list(names) == [""]:
        if len(tanks) > 1:
            raise InvalidInputError(
                f"{what}: no column says which tank a row is of, and the plan has {len(tanks)}: name it as {what}.tank",
                argument=f"{what}.tank",
            )
        return found | {"tank": np.full(found["tank"].size, next(iter(tanks)), dtype=object)}
    keep = np.array([name in tanks for name in found["tank"].tolist()], dtype=bool)
    others = [name for name in names if name not in tanks]
    if not keep.any():
        shown = ", ".join(f"'{name}'" for name in others[:8])
        raise InvalidInputError(
            f"{what}: no row is of a tank of the plan ({', '.join(tanks)}); tanks there: {shown}", argument=f"{what}.tank"
        )
    if others:
        rest = plural(int((~keep).sum()), "row")
        shown = ", ".join(str(name) or "(empty)" for name in others[:8])
        notes.append(f"{what}: {rest} of tanks that the plan does not have left out: {shown}")
    return {name: column[keep] for name, column in found.items()}


def _titrations(
    found: dict[str, NDArray[Any]], tanks: dict[str, WashTank], section: Any, notes: list[str]
) -> dict[str, NDArray[Any]]:
    """Concentrations in percent; rows of other quantities are left to others."""
    quantity = found["more"].tolist()
    if any(quantity):
        keep = np.array(
            [what == tanks[name].titrated for what, name in zip(quantity, found["tank"].tolist(), strict=True)], dtype=bool
        )
        others = dict.fromkeys(str(what) for what, kept in zip(quantity, keep, strict=True) if not kept)
        if not keep.any():
            shown = ", ".join(f"'{what}'" for what in others)
            raise InvalidInputError(
                f"titrations: no row is of the quantity '{next(iter(tanks.values())).titrated}'; there: {shown}",
                argument="titrated",
            )
        if others:
            notes.append(f"Not judged here, though in the file of titrations: {', '.join(others)}.")
        found = {name: column[keep] for name, column in found.items()}
    factor, problems = np.ones(found["value"].size), []
    for i, word in enumerate(found["unit"].tolist()):
        plain = " ".join(word.lower().split())
        if plain in PERCENT_WORDS:
            continue
        per_ml = tanks[found["tank"][i]].percent_per_ml
        if plain == "ml" and per_ml is not None:
            factor[i] = per_ml
            continue
        reason = "is neither % nor mL of titrant" if plain else "says no unit, % or mL of titrant"
        if plain == "ml":
            reason = f"needs percent_per_ml of tank '{found['tank'][i]}'"
        problems.append(DataProblem(section.unit_of_measure or "unit_of_measure", int(found["line"][i]), repr(word), reason))
    _refuse(problems, found, "Say the unit of titrations in the file, or as written_in in the plan's [wash.titrations].")
    low = found["value"] < 0.0
    _refuse(
        [
            DataProblem(section.value, int(at), number(float(value)), "a titration is not below 0")
            for at, value in zip(found["line"][low], found["value"][low], strict=True)
        ],
        found,
        "Correct them, or empty the cells.",
    )
    return found | {"value": found["value"] * factor}


def _refuse(problems: Sequence[DataProblem], found: dict[str, NDArray[Any]], advice: str) -> None:
    if problems:
        raise DataProblemsError(list(problems), advice=advice, file=str(found["file"][0]))


def _converted(found: dict[str, NDArray[Any]], wanted: str, what: str, column: str) -> Floats:
    """Values in the wanted unit; rows whose unit is not known, or not declared, are refused."""
    value = found["value"].astype(np.float64)
    factors: dict[str, float] = {}
    problems = []
    for i, word in enumerate(found["unit"].tolist()):
        if not word:
            raise InvalidInputError(
                f"{what}: nothing says the unit of its volumes or areas; name its column as {what}.unit_of_measure, or say "
                f"{what}.written_in",
                argument=f"{what}.written_in",
            )
        try:
            if word not in factors:
                factors[word] = convert(1.0, given=word, wanted=wanted)
        except InvalidInputError as error:
            rate = what == "feed" and "/" in word
            reason = "is a rate; a meter's total is needed, which counts on, in gal or L" if rate else str(error)
            problems.append(DataProblem(column, int(found["line"][i]), repr(word), reason))
            continue
        if value[i] < 0.0:
            problems.append(DataProblem(column, int(found["line"][i]), number(float(value[i])), "is below 0"))
        value[i] *= factors[word]
    _refuse(problems, found, "Correct them, or empty the cells.")
    return value


def _series(
    tank: WashTank, plan: WashPlan, read: dict[str, dict[str, NDArray[Any]]], last: np.datetime64 | None, notes: list[str]
) -> TankSeries:
    def own(name: str) -> dict[str, NDArray[Any]] | None:
        found = read.get(name)
        if found is None:
            return None
        keep = found["tank"] == tank.name
        return {key: column[keep] for key, column in found.items()}

    none = np.array([], dtype="datetime64[us]"), np.array([]), np.array([], dtype=bool)
    titrated, fed, added = own("titrations"), own("feed"), own("additions")
    until = plan.table.usual_until
    split = None if until is None else _moment_after(until)

    def usual(found: dict[str, NDArray[Any]]) -> Flags:
        return found["usual"] if split is None else found["time"] < split

    meters: tuple[tuple[Times, Floats, Flags], ...] = ()
    step = 0.0
    if fed is not None and fed["time"].size:
        total = _converted(fed, tank.unit, "feed", plan.table.feed.total if plan.table.feed else "total")
        step = _step(fed["value"]) * (total[-1] / fed["value"][-1] if fed["value"][-1] else 1.0)
        meters = _pieces(fed, total, usual(fed), tank, notes)
    given: tuple[Times, Floats, Flags] = none
    if added is not None and added["time"].size:
        column = plan.table.additions.volume if plan.table.additions else "volume"
        given = added["time"], _converted(added, tank.unit, "additions", column), usual(added)
    percent = none if titrated is None else (titrated["time"], titrated["value"].astype(np.float64), usual(titrated))
    return TankSeries(
        tank=tank,
        titrated_at=percent[0],
        percent=percent[1],
        titrated_usual=percent[2],
        meters=meters,
        meter_step=step,
        added_at=given[0],
        added=given[1],
        added_usual=given[2],
        area=_area(tank, plan, read.get("area"), last, usual),
    )


def _moment_after(until: Any) -> Any:
    """The first moment after a day, or after a moment, that is told as the last one."""
    if hasattr(until, "hour"):
        return np.datetime64(until.replace(tzinfo=None), "us") + np.timedelta64(1, "us")
    return np.datetime64(until, "D").astype("datetime64[us]") + np.timedelta64(1, "D")


def _step(values: Floats) -> float:
    """The step in which numbers are written: a power of ten, of which all are multiples; 0 for none coarser than 1e-9."""
    for decimals in range(10):
        if np.allclose(values, np.round(values, decimals), rtol=0.0, atol=1e-10 * max(1.0, float(np.abs(values).max()))):
            return 10.0**-decimals
    return 0.0


def _pieces(
    fed: dict[str, NDArray[Any]], total: Floats, usual: Flags, tank: WashTank, notes: list[str]
) -> tuple[tuple[Times, Floats, Flags], ...]:
    """One piece a meter that counts on; two readings at one time are one, the later row of the file."""
    out = []
    for name in dict.fromkeys(fed["more"].tolist()):
        own = np.flatnonzero(fed["more"] == name)
        own = own[np.append(np.diff(fed["time"][own]) > np.timedelta64(0, "us"), True)]
        time, count, flags = fed["time"][own], total[own], usual[own]
        for fall in np.flatnonzero(np.diff(count) < 0.0):
            when = str(time[fall + 1].astype("datetime64[m]")).replace("T", " ")
            notes.append(
                f"{tank.name}: its meter falls from {number(float(count[fall]))} to {number(float(count[fall + 1]))} {tank.unit} "
                f"at {when} and is taken for a new one"
            )
        cut = np.flatnonzero(np.diff(count) < 0.0) + 1
        out += list(zip(np.split(time, cut), np.split(count, cut), np.split(flags, cut), strict=True))
    return tuple(sorted(out, key=lambda piece: piece[0][0]))


def _area(
    tank: WashTank,
    plan: WashPlan,
    found: dict[str, NDArray[Any]] | None,
    last: np.datetime64 | None,
    usual: Callable[[dict[str, NDArray[Any]]], Flags],
) -> AreaRows | None:
    section = plan.table.area
    if found is None or section is None:
        return None
    if section.tank is not None:
        keep = found["tank"] == tank.name
        found = {name: column[keep] for name, column in found.items()}
    if not found["time"].size:
        return None
    try:
        unit = unit_symbol(str(found["unit"][0]))
    except InvalidInputError:
        unit = "ft2"  # refused below, with its row
    scale, per = PER.get(unit, PER["ft2"])
    area = _converted(found, unit if unit in PER else "ft2", "area", section.area) / scale
    begin, at = np.unique(found["time"], return_inverse=True)
    sums = np.zeros(begin.size)
    np.add.at(sums, at, area)
    flags = np.zeros(begin.size, dtype=bool)
    flags[at] = usual(found)
    following: Times = np.append(begin[1:], np.datetime64("NaT"))
    end: Any = following
    if section.hours is not None:
        end = begin + np.timedelta64(round(section.hours * 3600e6), "us")
        end = np.where(np.isnat(following), end, np.minimum(end, following))
    elif last is not None and last > begin[-1]:
        end[-1] = last
    keep = ~np.isnat(end)
    return AreaRows(begin[keep], end[keep], sums[keep], flags[keep], per)


def _entries(plan: WashPlan, part: Part | None) -> tuple[Entry, ...]:
    section = plan.table.events
    if section is None or part is None or part.month is None:
        return ()
    source = source_of(part.month)
    time = source.times(section.time, section.date)
    text = list(zip(*(source.text(name) for name in section.text), strict=True))
    order = np.argsort(time, kind="stable")
    return tuple(Entry(time[i], " ".join(word for word in text[i] if word)) for i in order if not np.isnat(time[i]))
