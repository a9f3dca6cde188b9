"""VOC content as applied: sums on the figures of data sheets, never a judgement of what may be sprayed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from steadyfilm import _core
from steadyfilm._format import number, with_unit
from steadyfilm._quantities import METRIC, US, UnitSystem, given_once, percent
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import InvalidInputError
from steadyfilm.units import convert

__all__ = [
    "SOLVENT_DENSITY_LB_GAL",
    "ThinnerAllowance",
    "VocContent",
    "mixed_voc",
    "thinner_allowance",
    "voc_content",
    "voc_per_solids",
]

SOLVENT_DENSITY_LB_GAL: Final = 7.36
"""Density that rules assume for the solvent of a paint, lb/gal (as seen in a state's rule)."""

_PAGE = "cpp/methods/film_coverage.md"
_CARE = (
    "arithmetic only: contents come from data sheets, what counts as VOC and which limit holds say the local rules, and neither "
    "exposure nor the load of booth and oven is judged"
)


@dataclass(frozen=True, eq=False, repr=False)
class VocContent(Result):
    """VOC of a coating as applied, over three volumes, in lb/gal or g/L.

    Attributes
    ----------
    per_volume : float
        Of the whole paint.
    less_water : float
        Of the paint without water and exempt solvents.
    per_solids : float or None
        Of the solids, where their volume is given.
    """

    per_volume: float
    less_water: float
    per_solids: float | None
    voc_mass: float
    volume: float
    water: float
    exempt: float
    solids: float | None

    def sentence(self) -> str:
        unit = self.made.unit
        text = f"As applied, the coating holds {with_unit(self.per_volume, unit)} of VOC"
        if self.water + self.exempt > 0.0:
            text += f", {with_unit(self.less_water, unit)} less water and exempt solvents"
        if self.per_solids is not None:
            text += f", {number(self.per_solids, 4)} {unit} of solids"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        rows = {"paint": self.per_volume, "paint less water and exempt solvents": self.less_water}
        if self.per_solids is not None:
            rows["solids"] = self.per_solids
        both = {
            unit: [convert(value, given=self.made.unit, wanted=unit) for value in rows.values()] for unit in ("lb/gal", "g/L")
        }
        return {"per_volume_of": list(rows), "lb_gal": both["lb/gal"], "g_l": both["g/L"]}

    def explain(self) -> Explanation:
        inputs = {"voc_mass": self.voc_mass, "volume": self.volume}
        rest = {**inputs, "water": self.water, "exempt": self.exempt}
        steps = [
            Step("per_volume", "voc_mass / volume", inputs, self.per_volume),
            Step("less_water", "voc_mass / (volume - water - exempt)", rest, self.less_water),
        ]
        if self.per_solids is not None and self.solids is not None:
            solids = {"voc_mass": self.voc_mass, "solids": self.solids}
            steps.append(Step("per_solids", "voc_mass / solids", solids, self.per_solids))
        return Explanation(title=self.sentence(), steps=tuple(steps), choices={"care": _CARE}, sources=(_PAGE,))


@dataclass(frozen=True, eq=False, repr=False)
class ThinnerAllowance(Result):
    """Thinner at which a mix reaches a VOC limit, in gal or L; a bound of arithmetic, no permission.

    Attributes
    ----------
    thinner : float
        Volume; 0 for a mix at its limit or above, infinite where the thinner holds no more VOC than the limit.
    thinner_fraction : float
        Of one of the mix.
    content : float
        VOC of the mix without that thinner, lb/gal or g/L.
    dry_share : float
        What the same wet film then leaves of the dry film, as a share.
    """

    thinner: float
    thinner_fraction: float
    content: float
    dry_share: float
    voc_mass: float
    volume: float
    thinner_voc: float
    limit: float

    def sentence(self) -> str:
        options = self.made.options
        mix = f"{with_unit(self.volume, self.made.unit)} of mix at {with_unit(self.content, options['content_unit'])}"
        limit = with_unit(self.limit, options["content_unit"])
        last = "The data sheet and the local rules may allow less, and decide"
        if self.thinner == 0.0:
            side = "at" if math.isclose(self.content, self.limit, rel_tol=1e-12) else "above"
            return f"{mix} are {side} the limit of {limit} already: no room for thinner. {last}."
        if math.isinf(self.thinner):
            return (
                f"{mix} cannot be brought over the limit of {limit} by a thinner of "
                f"{with_unit(self.thinner_voc, options['content_unit'])}: this limit sets no bound. {last}."
            )
        return (
            f"{mix} reach the limit of {limit} with {with_unit(self.thinner, self.made.unit)} of thinner "
            f"({percent(self.thinner_fraction, 3)}): a bound of arithmetic, not to be gone to. {last}. The same wet film then "
            f"dries to {percent(self.dry_share, 3)} of its film."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "what": ["mix without more thinner", "at the limit"],
            f"thinner_{self.made.unit.lower()}": [0.0, self.thinner],
            "thinner_fraction": [0.0, self.thinner_fraction],
            "dry_share": [1.0, self.dry_share],
        }

    def explain(self) -> Explanation:
        mix = {"voc_mass": self.voc_mass, "volume": self.volume}
        steps = [Step("content", "voc_mass / volume", mix, self.content)]
        if math.isfinite(self.thinner):
            room = {**mix, "thinner_voc": self.thinner_voc, "limit": self.limit}
            rule = "max(0, limit * volume - voc_mass) / (thinner_voc - limit)"
            if self.thinner > 0.0:
                steps.append(Step("thinner", rule, room, self.thinner))
            after = {"volume": self.volume, "thinner": self.thinner}
            steps.append(Step("thinner_fraction", "thinner / volume", after, self.thinner_fraction))
            steps.append(Step("dry_share", "volume / (volume + thinner)", after, self.dry_share))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={"care": _CARE, "limit": "of the whole paint as applied; the thinner's own water counts as paint"},
            sources=(_PAGE,),
        )


def mixed_voc(parts: Sequence[float], voc: Sequence[float]) -> float:
    """VOC of components mixed by volume, in the unit of theirs.

    Parameters
    ----------
    parts : sequence of float
        Of each component by volume.
    voc : sequence of float
        VOC of each component, all in lb/gal or all in g/L.

    Raises
    ------
    InvalidInputError
        Lengths that differ, no component, a negative part or content.

    Examples
    --------
    >>> round(mixed_voc([3, 1], [3.1, 1.8]), 3)
    2.775
    """
    return _core.mixed_voc([float(part) for part in parts], [float(content) for content in voc])


def voc_content(
    *,
    voc_lb: float | None = None,
    voc_g: float | None = None,
    volume_gal: float | None = None,
    volume_l: float | None = None,
    water_gal: float | None = None,
    water_l: float | None = None,
    exempt_gal: float | None = None,
    exempt_l: float | None = None,
    solids_gal: float | None = None,
    solids_l: float | None = None,
) -> VocContent:
    """VOC of a coating as applied: of the paint, of the paint less water and exempt solvents, and of its solids.

    Parameters
    ----------
    voc_lb, voc_g : float
        Mass of VOC in the paint; lb go with gallons, g with liters.
    volume_gal, volume_l : float
        Of the paint.
    water_gal, water_l, exempt_gal, exempt_l, solids_gal, solids_l : float, optional
        Volumes in it of water, of exempt solvents and of solids.

    Raises
    ------
    InvalidInputError
        A quantity that is missing or in two units, units of both systems, negative numbers, parts that are more than the paint.

    Examples
    --------
    >>> print(voc_content(voc_lb=33.2, volume_gal=100, water_gal=62.4, solids_gal=33.06).sentence())
    As applied, the coating holds 0.332 lb/gal of VOC, 0.883 lb/gal less water and exempt solvents, 1.004 lb/gal of solids.
    """
    units, mass = _mass(voc_lb, voc_g)
    volume = _volume(units, "volume", volume_gal, volume_l)
    if volume is None:
        raise InvalidInputError(f"volume_{units.volume.lower()} is needed", argument=f"volume_{units.volume.lower()}")
    water = _volume(units, "water", water_gal, water_l) or 0.0
    exempt = _volume(units, "exempt", exempt_gal, exempt_l) or 0.0
    solids = _volume(units, "solids", solids_gal, solids_l)
    found = _core.voc_content(mass, volume, water, exempt, solids)
    made = Made("voc_content", units.content, 1, version=_core.version)
    return build(VocContent, found, made=made, voc_mass=mass, volume=volume, water=water, exempt=exempt, solids=solids)


def voc_per_solids(
    *,
    voc_lb_gal: float | None = None,
    voc_g_l: float | None = None,
    density_lb_gal: float | None = None,
    density_g_l: float | None = None,
) -> float:
    """VOC in a volume of solids from that in a volume of paint (less water), in the unit of the latter.

    Parameters
    ----------
    voc_lb_gal, voc_g_l : float
        VOC of the paint.
    density_lb_gal, density_g_l : float, optional
        Of its solvent; 7.36 lb/gal, which rules assume, if left out.

    Examples
    --------
    >>> round(voc_per_solids(voc_lb_gal=3.5), 4)
    6.6736
    """
    unit, voc = given_once("voc", lb_gal=voc_lb_gal, g_l=voc_g_l)
    wanted = _CONTENT[unit]
    given, density = "lb_gal", SOLVENT_DENSITY_LB_GAL
    if density_lb_gal is not None or density_g_l is not None:
        given, density = given_once("density", lb_gal=density_lb_gal, g_l=density_g_l)
    return _core.voc_per_solids(float(voc), convert(float(density), given=_CONTENT[given], wanted=wanted))


def thinner_allowance(
    *,
    voc_lb: float | None = None,
    voc_g: float | None = None,
    volume_gal: float | None = None,
    volume_l: float | None = None,
    thinner_voc_lb_gal: float | None = None,
    thinner_voc_g_l: float | None = None,
    limit_lb_gal: float | None = None,
    limit_g_l: float | None = None,
) -> ThinnerAllowance:
    """Thinner at which a mix reaches a VOC limit: a bound of arithmetic, not a permission and not an advice.

    The data sheet says how far a paint may be thinned, the local rules which limit holds and what counts; the makers of booth and
    oven say for how much solvent they were built. A published handbook advises not to go to the limit.

    Parameters
    ----------
    voc_lb, voc_g : float
        Mass of VOC in the mix; lb go with gallons and lb/gal, g with liters and g/L.
    volume_gal, volume_l : float
        Of the mix.
    thinner_voc_lb_gal, thinner_voc_g_l, limit_lb_gal, limit_g_l : float
        VOC of the thinner, and the limit for the coating as applied.

    Raises
    ------
    InvalidInputError
        A quantity that is missing or in two units, units of both systems, numbers that are not positive.

    Examples
    --------
    >>> found = thinner_allowance(voc_lb=15.9, volume_gal=5.0, thinner_voc_lb_gal=6.4, limit_lb_gal=3.5)
    >>> round(found.thinner, 4), round(found.dry_share, 3)
    (0.5517, 0.901)
    """
    units, mass = _mass(voc_lb, voc_g)
    volume = _volume(units, "volume", volume_gal, volume_l)
    if volume is None:
        raise InvalidInputError(f"volume_{units.volume.lower()} is needed", argument=f"volume_{units.volume.lower()}")
    contents = []
    for name, lb_gal, g_l in (("thinner_voc", thinner_voc_lb_gal, thinner_voc_g_l), ("limit", limit_lb_gal, limit_g_l)):
        unit, value = given_once(name, lb_gal=lb_gal, g_l=g_l)
        _require_system(units, _CONTENT[unit], f"{name}_{unit}")
        contents.append(float(value))
    thinner = _core.thinner_allowance(mass, volume, *contents)
    return ThinnerAllowance(
        made=Made("thinner_allowance", units.volume, 1, options={"content_unit": units.content}, version=_core.version),
        thinner=thinner,
        thinner_fraction=thinner / volume,
        content=mass / volume,
        dry_share=volume / (volume + thinner),
        voc_mass=mass,
        volume=volume,
        thinner_voc=contents[0],
        limit=contents[1],
    )


_CONTENT: Final = {"lb_gal": "lb/gal", "g_l": "g/L"}


def _mass(lb: float | None, g: float | None) -> tuple[UnitSystem, float]:
    unit, mass = given_once("voc", lb=lb, g=g)
    return (US if unit == "lb" else METRIC), float(mass)


def _volume(units: UnitSystem, name: str, gal: float | None, liters: float | None) -> float | None:
    if gal is None and liters is None:
        return None
    unit, value = given_once(name, gal=gal, l=liters)
    _require_system(units, {"gal": "gal", "l": "L"}[unit], f"{name}_{unit}")
    return float(value)


def _require_system(units: UnitSystem, unit: str, argument: str) -> None:
    if unit in (units.volume, units.content):
        return
    raise InvalidInputError(
        f"units of one call must belong together: the mass is in {units.mass}, so that {argument} should be in "
        f"{units.content if '/' in unit else units.volume}",
        argument=argument,
    )
