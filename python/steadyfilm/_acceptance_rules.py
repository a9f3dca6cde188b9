"""Rules of film acceptance as data: published ones as the core holds them, and a shop's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = [
    "AcceptanceRule",
    "CountTable",
    "RuleFact",
    "Shares",
    "area_rule",
    "core_limits",
    "house_rule",
    "limits_of",
    "ninety_ten_rule",
    "rough_steel_rule",
]


@dataclass(frozen=True)
class Shares:
    """Limits as shares of a window's ends: ``lower`` of its lower end, ``upper`` of its upper end; None is free."""

    lower: float | None = None
    upper: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no window could be multiplied with."""
        for name in ("lower", "upper"):
            share = getattr(self, name)
            if share is not None and not 0.0 < share < float("inf"):
                raise InvalidInputError(f"{name} must be a share above 0, or absent, got {share}", argument=name)


@dataclass(frozen=True)
class CountTable:
    """Counts by surface: the first step that holds it, beyond the last one ``more`` for each ``further`` or part of it.

    ``steps`` holds pairs of surface and count, rising; empty when the rule has no such count.
    """

    steps: tuple[tuple[float, int], ...] = ()
    further: float = 0.0
    more: int = 0

    def count(self, surface: float) -> int:
        """The count for a surface in the table's unit."""
        return _core.count_for((list(self.steps), self.further, self.more), surface)

    def words(self, things: str, unit: str) -> str:
        """The table in one line.

        >>> CountTable(((1.0, 5), (3.0, 10)), 3.0, 2).words("readings", "m2")
        'readings 5 to 1 m2, 10 to 3, then 2 more for each 3 or part'
        """
        if not self.steps:
            return ""
        first, *others = self.steps
        text = f"{things} {first[1]} to {number(first[0])} {unit}"
        text += "".join(f", {count} to {number(up_to)}" for up_to, count in others)
        return f"{text}, then {self.more} more for each {number(self.further)} or part" if self.more else text


@dataclass(frozen=True)
class RuleFact:
    """How a part of a rule is known: seen in an excerpt, from memory, or a shop's own."""

    about: str
    how: str
    source: str


@dataclass(frozen=True)
class AcceptanceRule:
    """A rule of acceptance. No published text was at hand whole: ``facts`` says of each part how it is known.

    Attributes
    ----------
    name, edition : str
        Printed beside every verdict.
    reading, spot, area, unit : Shares
        Limits of every reading, of spots (mean of their readings), of areas (mean of their spots) and of the unit (mean of its
        spots), as shares of the window's ends.
    thin_share : float or None
        Largest share of an area's readings below the window.
    thin_share_allowed : bool
        Whether exactly that share passes.
    readings_per_spot, spots_per_area : int
        At least; with one reading a spot, readings stand for themselves where no spots are named.
    areas_ft2, areas_m2, readings_m2 : CountTable
        How many of them a unit needs for its surface.
    one_unit_system : bool
        The rule's figures in mil and ft2 and those in um and m2 are not to be mixed.
    single_value_share : float or None
        A single value asked for stands for value -+ this share; without it, for at least the value.
    lowest_nominal_um : float or None
        The rule is one for blasted steel and does not apply to a thinner nominal film.
    """

    name: str
    edition: str
    reading: Shares
    spot: Shares
    area: Shares
    unit: Shares
    thin_share: float | None
    thin_share_allowed: bool
    readings_per_spot: int
    spots_per_area: int
    areas_ft2: CountTable
    areas_m2: CountTable
    readings_m2: CountTable
    one_unit_system: bool
    single_value_share: float | None
    lowest_nominal_um: float | None
    facts: tuple[RuleFact, ...]

    @property
    def title(self) -> str:
        """Name and edition."""
        return f"{self.name} ({self.edition})" if self.edition else self.name

    @property
    def from_memory(self) -> tuple[str, ...]:
        """Parts that nobody has read in the original."""
        return tuple(fact.about for fact in self.facts if fact.how.startswith("from memory"))

    @property
    def reservation(self) -> str:
        """What has to be said wherever the rule's verdict is shown; empty for a rule of one's own."""
        if not self.facts or all(fact.how == "own rule" for fact in self.facts):
            return ""
        text = "the rule's text was not at hand, only excerpts"
        return f"{text}; from memory: {', '.join(self.from_memory)}" if self.from_memory else text

    def words(self) -> str:
        """What the rule asks for, in one sentence."""
        parts = []
        for level in ("reading", "spot", "area", "unit"):
            shares = getattr(self, level)
            ends = []
            if shares.lower is not None:
                ends.append(f"at least {number(100 * shares.lower)} % of the lower limit")
            if shares.upper is not None:
                ends.append(f"at most {number(100 * shares.upper)} % of the upper limit")
            if ends:
                parts.append(f"{level} {' and '.join(ends)}")
        if self.thin_share is not None:
            bound = "at most" if self.thin_share_allowed else "less than"
            parts.append(f"{bound} {number(100 * self.thin_share)} % of readings below the lower limit")
        if self.readings_per_spot > 1:
            parts.append(f"{plural(self.readings_per_spot, 'reading')} a spot")
        if self.spots_per_area > 1:
            parts.append(f"{plural(self.spots_per_area, 'spot')} an area")
        return "; ".join(parts) + "."

    def needed(self, *, surface_ft2: float | None = None, surface_m2: float | None = None) -> tuple[int, int]:
        """Areas and readings that a unit of that surface needs; 0 where the rule does not count them.

        Raises
        ------
        InvalidInputError
            Two surfaces, or a unit of surface that the rule has no counts for.

        Examples
        --------
        >>> area_rule().needed(surface_m2=99.0), area_rule().needed(surface_ft2=1065.6)
        ((3, 0), (4, 0))
        """
        if surface_ft2 is not None and surface_m2 is not None:
            raise InvalidInputError("give surface_ft2 or surface_m2, not both: a rule's figures differ", argument="surface_m2")
        if surface_ft2 is not None:
            if not self.areas_ft2.steps:
                raise InvalidInputError(f"{self.name} has no counts by ft2; give surface_m2", argument="surface_ft2")
            return self.areas_ft2.count(surface_ft2), 0
        if surface_m2 is None:
            return 0, 0
        if not (self.areas_m2.steps or self.readings_m2.steps):
            raise InvalidInputError(f"{self.name} has no counts by m2; leave surface_m2 out", argument="surface_m2")
        areas = self.areas_m2.count(surface_m2) if self.areas_m2.steps else 0
        return areas, self.readings_m2.count(surface_m2) if self.readings_m2.steps else 0

    @property
    def counts_by_surface(self) -> bool:
        """Whether a unit's surface says how many areas or readings it needs."""
        return bool(self.areas_ft2.steps or self.areas_m2.steps or self.readings_m2.steps)


_KINDS: dict[str, type[Shares] | type[CountTable]] = {
    **dict.fromkeys(("reading", "spot", "area", "unit"), Shares),
    **dict.fromkeys(("areas_ft2", "areas_m2", "readings_m2"), CountTable),
}


def _rule(found: Mapping[str, Any]) -> AcceptanceRule:
    made: dict[str, Any] = {name: _KINDS[name](**value) if name in _KINDS else value for name, value in found.items()}
    return AcceptanceRule(**{**made, "facts": tuple(RuleFact(**fact) for fact in found["facts"])})


def limits_of(shares: Shares, window: SpecLimits) -> SpecLimits:
    """Shares of a window's ends as limits."""
    return SpecLimits(**_core.scaled_bounds((shares.lower, shares.upper), (window.lower, window.upper)))


def core_limits(rule: AcceptanceRule, window: SpecLimits) -> _core.AcceptanceLimits:
    """All that the core judges by."""
    reading, spot, area, unit = (limits_of(shares, window) for shares in (rule.reading, rule.spot, rule.area, rule.unit))
    return _core.AcceptanceLimits(
        (reading.lower, reading.upper),
        (spot.lower, spot.upper),
        (area.lower, area.upper),
        (unit.lower, unit.upper),
        window.lower,
        rule.thin_share if window.lower is not None else None,
        rule.thin_share_allowed,
        rule.readings_per_spot,
        rule.spots_per_area,
    )


def area_rule(level: int = 3) -> AcceptanceRule:
    """The area rule: spots of three readings, areas of five spots, restriction level 1 (strictest) to 5.

    Level 3 is the usual one where a contract names none; the limits of levels 2, 4 and 5 are from memory.

    Examples
    --------
    >>> area_rule(3).spot, area_rule(5).spot
    (Shares(lower=0.8, upper=1.2), Shares(lower=0.8, upper=None))
    """
    return _rule(_core.area_rule(level))


def rough_steel_rule(share: str = "below") -> AcceptanceRule:
    """The '80 % rule' for blasted steel: single readings, a mean of at least the nominal value, none below 80 % of it.

    Parameters
    ----------
    share : {"below", "at_most"}
        How many readings may lie between 80 % and the nominal value: below 20 %, or at most 20 %. With 5, 10, 15, 20 or 30
        readings exactly 20 % can occur, so that the choice decides; the strict one is the default.

    Examples
    --------
    >>> rough_steel_rule().readings_m2.count(30.1), rough_steel_rule().lowest_nominal_um
    (30, 40.0)
    """
    if share not in ("below", "at_most"):
        raise InvalidInputError(f"share must be 'below' or 'at_most', got {share!r}", argument="share")
    return _rule(_core.rough_steel_rule(share == "at_most"))


def ninety_ten_rule() -> AcceptanceRule:
    """The 90/10 rule: at least 90 % of readings at the nominal value, none below 90 % of it.

    Examples
    --------
    >>> ninety_ten_rule().reading.lower, ninety_ten_rule().thin_share
    (0.9, 0.1)
    """
    return _rule(_core.ninety_ten_rule())


def house_rule(
    name: str,
    *,
    edition: str = "",
    reading: Shares | None = None,
    spot: Shares | None = None,
    area: Shares | None = None,
    unit: Shares | None = None,
    thin_share: float | None = None,
    thin_share_allowed: bool = True,
    readings_per_spot: int = 1,
    spots_per_area: int = 1,
    areas_ft2: CountTable | None = None,
    areas_m2: CountTable | None = None,
    readings_m2: CountTable | None = None,
    single_value_share: float | None = None,
) -> AcceptanceRule:
    """A rule of one's own. At least one limit is needed.

    Parameters
    ----------
    name, edition : str
        What verdicts call it, for example "shop rule 12" and "of 2026-03-01".
    reading, spot, area, unit : Shares, optional
        Limits as shares of the window's ends.
    thin_share, thin_share_allowed
        Largest share of an area's readings below the window, and whether exactly that share passes.
    readings_per_spot, spots_per_area : int
        At least.
    areas_ft2, areas_m2, readings_m2 : CountTable, optional
        What a unit needs by its surface.
    single_value_share : float, optional
        What a single value asked for stands for.

    Examples
    --------
    >>> rule = house_rule("five places", unit=Shares(1.0, 1.0), spot=Shares(0.85, 1.15), readings_per_spot=3, spots_per_area=5)
    >>> print(rule.words())
    spot at least 85 % of the lower limit and at most 115 % of the upper limit; unit at least 100 % of the lower limit and
        at most 100 % of the upper limit; 3 readings a spot; 5 spots an area.
    """
    if not name.strip():
        raise InvalidInputError("a rule needs a name: it stands beside every verdict", argument="name")
    given = [shares for shares in (reading, spot, area, unit) if shares is not None]
    ends = [end for shares in given for end in (shares.lower, shares.upper) if end is not None]
    if not ends and thin_share is None:
        raise InvalidInputError(
            "a rule needs a limit: give reading, spot, area or unit as Shares, or thin_share", argument="reading"
        )
    if thin_share is not None and not 0.0 <= thin_share <= 1.0:
        raise InvalidInputError(f"thin_share must lie between 0 and 1, got {thin_share}", argument="thin_share")
    for word, count in (("readings_per_spot", readings_per_spot), ("spots_per_area", spots_per_area)):
        if count < 1:
            raise InvalidInputError(f"{word} must be 1 or more, got {count}", argument=word)
    for word, table in (("areas_ft2", areas_ft2), ("areas_m2", areas_m2), ("readings_m2", readings_m2)):
        if table is not None:
            _check_table(word, table)
    blank = replace(
        ninety_ten_rule(), reading=Shares(), thin_share=None, facts=(RuleFact("all of it", "own rule", "whoever wrote it"),)
    )
    return replace(
        blank,
        name=name,
        edition=edition,
        reading=reading or Shares(),
        spot=spot or Shares(),
        area=area or Shares(),
        unit=unit or Shares(),
        thin_share=thin_share,
        thin_share_allowed=thin_share_allowed,
        readings_per_spot=readings_per_spot,
        spots_per_area=spots_per_area,
        areas_ft2=areas_ft2 or CountTable(),
        areas_m2=areas_m2 or CountTable(),
        readings_m2=readings_m2 or CountTable(),
        single_value_share=single_value_share,
    )


def _check_table(name: str, table: CountTable) -> None:
    """A table with holes is refused where it is written, not at the first surface that falls into one."""
    if not table.steps:
        raise InvalidInputError(f"{name} needs steps: pairs of surface and count", argument=name)
    try:
        for up_to, _ in table.steps:
            table.count(up_to)
    except InvalidInputError as error:
        raise InvalidInputError(f"{name}: {error}", argument=name) from error
