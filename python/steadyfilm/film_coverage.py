"""From wet to dry film, what paint or powder covers, what too much film costs, where to aim, and VOC content as applied.

Volume solids, transfer efficiency and losses are shares: 0.52, not 52. A thinner fraction is thinner for one of mixed paint by
volume. Lengths, areas, volumes and masses carry their unit in the argument's name.

All of it is arithmetic on the numbers given. How a paint may be mixed and thinned, what may be sprayed and baked, say its
technical and safety data sheets, the makers of booth and oven, and the local rules. More thinner or more film is more solvent for
booth and oven: nothing here is a reason for either.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from steadyfilm import _core
from steadyfilm._format import number, with_unit
from steadyfilm._paint_cost import AimPoint, OverbuildCost, aim_point, overbuild_cost, share_below
from steadyfilm._quantities import length_once, optional_length, percent
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._voc import (
    SOLVENT_DENSITY_LB_GAL,
    ThinnerAllowance,
    VocContent,
    mixed_voc,
    thinner_allowance,
    voc_content,
    voc_per_solids,
)
from steadyfilm.errors import InvalidInputError

__all__ = [
    "SOLVENT_DENSITY_LB_GAL",
    "THINNER_CARE",
    "AimPoint",
    "MixedSolids",
    "OverbuildCost",
    "PowderCoverage",
    "SolidsChange",
    "SpreadingRate",
    "ThinnerAllowance",
    "VocContent",
    "WetFilmTarget",
    "aim_point",
    "dft_after_solids_change",
    "dry_film",
    "mixed_voc",
    "mixed_volume_solids",
    "overbuild_cost",
    "powder_coverage",
    "share_below",
    "spreading_rate",
    "thinner_allowance",
    "voc_content",
    "voc_per_solids",
    "wet_comb_step",
    "wet_film_target",
    "wet_step_as_dry",
]

THINNER_CARE: Final = "Thin only as the paint's data sheet and local rules allow: more thinner is more solvent in booth and oven."
"""What every answer about thinner says besides."""

_PAGE = "cpp/methods/film_coverage.md"
_ADDITIVE = "volumes of the components add up (common practice, no source)"


@dataclass(frozen=True, eq=False, repr=False)
class MixedSolids(Result):
    """Volume solids of a mix, as shares, before and after thinning."""

    volume_solids: float
    volume_solids_thinned: float
    thinner_fraction: float
    parts: tuple[float, ...]
    component_solids: tuple[float, ...]

    def sentence(self) -> str:
        parts = " : ".join(number(part) for part in self.parts)
        text = f"Mixed {parts} by volume, the paint has {percent(self.volume_solids)} volume solids"
        if self.thinner_fraction == 0.0:
            return text + "."
        thinned = f"{percent(self.volume_solids_thinned)} with {percent(self.thinner_fraction)} of thinner"
        return f"{text}, {thinned}. {THINNER_CARE}"

    def _columns(self) -> dict[str, Any]:
        return {"part": list(self.parts), "volume_solids": list(self.component_solids)}

    def explain(self) -> Explanation:
        names = range(1, len(self.parts) + 1)
        inputs = {f"part_{i}": part for i, part in zip(names, self.parts, strict=True)}
        inputs |= {f"solids_{i}": share for i, share in zip(names, self.component_solids, strict=True)}
        top = " + ".join(f"part_{i} * solids_{i}" for i in names)
        thinned = {"volume_solids": self.volume_solids, "thinner_fraction": self.thinner_fraction}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("volume_solids", f"({top}) / ({' + '.join(f'part_{i}' for i in names)})", inputs, self.volume_solids),
                Step("volume_solids_thinned", "volume_solids / (1 + thinner_fraction)", thinned, self.volume_solids_thinned),
            ),
            choices={"mixing": _ADDITIVE, "care": THINNER_CARE},
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class WetFilmTarget(Result):
    """Wet film that dries to a wanted one, in the unit of that.

    Attributes
    ----------
    wft : float
        Wet film to lay.
    wft_unthinned : float
        The same without thinner.
    dft_if_not_raised : float
        Dry film when the wet film stays at ``wft_unthinned`` although thinner is in.
    comb_step, comb_step_dry : float
        Step of a wet-film comb there, wet and as dry film.
    window : float or None
        Width of the dry film's window, where given.
    """

    wft: float
    wft_unthinned: float
    dft: float
    dft_if_not_raised: float
    volume_solids: float
    volume_solids_thinned: float
    thinner_fraction: float
    comb_step: float
    comb_step_dry: float
    window: float | None

    @property
    def comb_is_too_coarse(self) -> bool:
        """Whether one notch of the comb is wider than the window."""
        return self.window is not None and self.comb_step_dry > self.window

    def sentence(self) -> str:
        unit = self.made.unit
        text = f"{with_unit(self.dft, unit)} dry need {with_unit(self.wft, unit)} wet"
        if self.thinner_fraction > 0.0:
            text += (
                f" at {percent(self.volume_solids_thinned)} volume solids, {percent(self.thinner_fraction)} of thinner in"
                f" ({with_unit(self.wft_unthinned, unit)} without; the film dries to {with_unit(self.dft_if_not_raised, unit)}"
                " if the wet film is not raised)"
            )
        else:
            text += f" at {percent(self.volume_solids)} volume solids"
        notch = (
            f"A notch of a wet comb is {with_unit(self.comb_step, unit, 3)} there, {with_unit(self.comb_step_dry, unit, 3)} dry"
        )
        if self.comb_is_too_coarse:
            notch += (
                f": more than the window of {with_unit(self.window or 0.0, unit)}, so that it finds a missed pass, nothing finer"
            )
        care = f" {THINNER_CARE}" if self.thinner_fraction > 0.0 else ""
        return f"{text}. {notch}.{care}"

    def _columns(self) -> dict[str, Any]:
        rows = {
            "wet film": self.wft,
            "wet film without thinner": self.wft_unthinned,
            "dry film": self.dft,
            "dry film if the wet film is not raised": self.dft_if_not_raised,
            "comb step, wet": self.comb_step,
            "comb step, dry": self.comb_step_dry,
        }
        return {"what": list(rows), self.made.unit: list(rows.values())}

    def explain(self) -> Explanation:
        inputs = {"dft": self.dft, "volume_solids": self.volume_solids, "thinner_fraction": self.thinner_fraction}
        comb = {"comb_step": self.comb_step, "volume_solids_thinned": self.volume_solids_thinned}
        thinned = {"volume_solids": self.volume_solids, "thinner_fraction": self.thinner_fraction}
        left = {"dft": self.dft, "thinner_fraction": self.thinner_fraction}
        neat = {"dft": self.dft, "volume_solids": self.volume_solids}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("volume_solids_thinned", "volume_solids / (1 + thinner_fraction)", thinned, self.volume_solids_thinned),
                Step("wft", "dft * (1 + thinner_fraction) / volume_solids", inputs, self.wft),
                Step("wft_unthinned", "dft / volume_solids", neat, self.wft_unthinned),
                Step("dft_if_not_raised", "dft / (1 + thinner_fraction)", left, self.dft_if_not_raised),
                Step("comb_step_dry", "comb_step * volume_solids_thinned", comb, self.comb_step_dry),
            ),
            choices={
                "comb": "steps of 0.5 mil up to 6 mil wet, 1 up to 10, 2 up to 30, 5 above (ASTM D4414, seen in an excerpt)",
                "care": THINNER_CARE,
            },
            sources=(_PAGE, "ASTM D4414"),
        )


@dataclass(frozen=True, eq=False, repr=False)
class SolidsChange(Result):
    """Dry film that the same wet film leaves with other solids, in the unit of the film before."""

    dft: float
    change: float
    dft_before: float
    solids_from: float
    solids_to: float

    def sentence(self) -> str:
        unit = self.made.unit
        return (
            f"A wet film that dries to {with_unit(self.dft_before, unit)} at {percent(self.solids_from)} volume solids dries to "
            f"{with_unit(self.dft, unit)} at {percent(self.solids_to)}: {self.change:+.3g} {unit}."
        )

    def _columns(self) -> dict[str, Any]:
        unit = self.made.unit
        return {"volume_solids": [self.solids_from, self.solids_to], f"dft_{unit}": [self.dft_before, self.dft]}

    def explain(self) -> Explanation:
        inputs = {"dft_before": self.dft_before, "solids_from": self.solids_from, "solids_to": self.solids_to}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("dft", "dft_before * solids_to / solids_from", inputs, self.dft),
                Step("change", "dft_before * (solids_to - solids_from) / solids_from", inputs, self.change),
            ),
            choices={"wet film": "the same before and after; gun, painter and viscosity may change it too"},
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class SpreadingRate(Result):
    """Area that a volume of mixed paint covers, in both unit systems; practical after transfer efficiency and losses."""

    theoretical_ft2_gal: float
    theoretical_m2_l: float
    practical_ft2_gal: float
    practical_m2_l: float
    dft: float
    volume_solids: float
    transfer_efficiency: float
    other_losses: float

    def sentence(self) -> str:
        lost = f" and {percent(self.other_losses)} of other losses" if self.other_losses > 0.0 else ""
        return (
            f"At {with_unit(self.dft, self.made.unit)} dry and {percent(self.volume_solids)} volume solids a gallon covers "
            f"{number(self.practical_ft2_gal, 4)} ft2, a liter {number(self.practical_m2_l, 4)} m2, with a transfer efficiency "
            f"of {percent(self.transfer_efficiency)}{lost}; {number(self.theoretical_ft2_gal, 4)} ft2 and "
            f"{number(self.theoretical_m2_l, 4)} m2 without any loss."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "rate": ["theoretical", "practical"],
            "ft2_gal": [self.theoretical_ft2_gal, self.practical_ft2_gal],
            "m2_l": [self.theoretical_m2_l, self.practical_m2_l],
        }

    def explain(self) -> Explanation:
        rate, own, other = {
            "mil": ("231 / 0.144", "theoretical_ft2_gal", "theoretical_m2_l"),
            "um": ("1000", "theoretical_m2_l", "theoretical_ft2_gal"),
        }[self.made.unit]
        link = "* (0.09290304 / 3.785411784)" if own == "theoretical_ft2_gal" else "/ (0.09290304 / 3.785411784)"
        inputs = {"volume_solids": self.volume_solids, "dft": self.dft}
        used = {"transfer_efficiency": self.transfer_efficiency, "other_losses": self.other_losses}
        steps = [
            Step(own, f"{rate} * volume_solids / dft", inputs, getattr(self, own)),
            Step(other, f"{own} {link}", {own: getattr(self, own)}, getattr(self, other)),
        ]
        for unit in ("ft2_gal", "m2_l"):
            given = {f"theoretical_{unit}": getattr(self, f"theoretical_{unit}"), **used}
            rule = f"theoretical_{unit} * transfer_efficiency * (1 - other_losses)"
            steps.append(Step(f"practical_{unit}", rule, given, getattr(self, f"practical_{unit}")))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "constants": "a US gallon is 231 in3, a square foot by a mil 0.144 in3; a liter covers 1000 m2 by 1 um",
                "losses": "transfer efficiency of the spraying, then what never reaches the gun's air",
            },
            sources=(_PAGE, "NIST SP 811, appendix B"),
        )


@dataclass(frozen=True, eq=False, repr=False)
class PowderCoverage(Result):
    """Area that a mass of powder covers, in both unit systems; practical at the share that ends on the part."""

    theoretical_ft2_lb: float
    theoretical_m2_kg: float
    practical_ft2_lb: float
    practical_m2_kg: float
    thickness: float
    specific_gravity: float
    utilization: float

    def sentence(self) -> str:
        used = f" with {percent(self.utilization)} of it used" if self.utilization < 1.0 else ""
        return (
            f"Powder of specific gravity {number(self.specific_gravity)} at {with_unit(self.thickness, self.made.unit)} covers "
            f"{number(self.practical_ft2_lb, 4)} ft2/lb ({number(self.practical_m2_kg, 4)} m2/kg){used}."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "rate": ["theoretical", "practical"],
            "ft2_lb": [self.theoretical_ft2_lb, self.practical_ft2_lb],
            "m2_kg": [self.theoretical_m2_kg, self.practical_m2_kg],
        }

    def explain(self) -> Explanation:
        scale = "25.4 * " if self.made.unit == "mil" else ""
        inputs = {"specific_gravity": self.specific_gravity, "thickness": self.thickness}
        rate = {"theoretical_m2_kg": self.theoretical_m2_kg}
        link = "theoretical_m2_kg / (0.09290304 / 0.45359237)"
        used = {"theoretical_ft2_lb": self.theoretical_ft2_lb, "utilization": self.utilization}
        both = {"theoretical_m2_kg": self.theoretical_m2_kg, "utilization": self.utilization}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("theoretical_m2_kg", f"1000 / specific_gravity / ({scale}thickness)", inputs, self.theoretical_m2_kg),
                Step("theoretical_ft2_lb", link, rate, self.theoretical_ft2_lb),
                Step("practical_m2_kg", "theoretical_m2_kg * utilization", both, self.practical_m2_kg),
                Step("practical_ft2_lb", "theoretical_ft2_lb * utilization", used, self.practical_ft2_lb),
            ),
            choices={"specific gravity": "of the cured film, against 1 g/cm3"},
            sources=(_PAGE, "NIST SP 811, appendix B"),
        )


def mixed_volume_solids(parts: Sequence[float], volume_solids: Sequence[float], *, thinner_fraction: float = 0.0) -> MixedSolids:
    """Volume solids of a paint mixed of several components, before and after thinning.

    Parameters
    ----------
    parts : sequence of float
        Of each component by volume, for example ``[4, 1]``.
    volume_solids : sequence of float
        Share of solids of each component, from its data sheet; 0 for one that is all solvent.
    thinner_fraction : float
        Thinner for one of mixed paint by volume, 0 to 1.

    Raises
    ------
    InvalidInputError
        Lengths that differ, no component, shares out of 0 to 1, a mix without solids.

    Examples
    --------
    >>> print(mixed_volume_solids([4, 1], [0.48, 0.65]).sentence())
    Mixed 4 : 1 by volume, the paint has 51.4 % volume solids.
    """
    given, shares = [float(part) for part in parts], [float(share) for share in volume_solids]
    found = _core.mixed_volume_solids(given, shares, thinner_fraction)
    made = Made("mixed_volume_solids", "", len(given), version=_core.version)
    more = {"thinner_fraction": float(thinner_fraction), "parts": tuple(given), "component_solids": tuple(shares)}
    return build(MixedSolids, found, made=made, **more)


def wet_film_target(
    *,
    dft_um: float | None = None,
    dft_mil: float | None = None,
    volume_solids: float,
    thinner_fraction: float = 0.0,
    window_um: float | None = None,
    window_mil: float | None = None,
) -> WetFilmTarget:
    """Wet film that dries to a wanted one, and whether a wet comb can steer it.

    Parameters
    ----------
    dft_um, dft_mil : float
        Dry film wanted, in one of the two units.
    volume_solids : float
        Share of the mixed paint before thinning.
    thinner_fraction : float
        Thinner for one of mixed paint by volume, 0 to 1.
    window_um, window_mil : float, optional
        Width of the dry film's window (upper less lower limit), in the unit of the film.

    Raises
    ------
    InvalidInputError
        No film or two, units that differ, a film or window that is not positive, shares out of their domain.

    Examples
    --------
    >>> print(wet_film_target(dft_mil=2.1, volume_solids=0.52).sentence())
    2.1 mil dry need 4.038 mil wet at 52 % volume solids. A notch of a wet comb is 0.5 mil there, 0.26 mil dry.
    >>> thinned = wet_film_target(dft_mil=2.1, volume_solids=0.52, thinner_fraction=0.1, window_mil=0.2)
    >>> round(thinned.wft, 3), thinned.comb_is_too_coarse
    (4.442, True)
    """
    units, dft = length_once("dft", um=dft_um, mil=dft_mil)
    window = optional_length(units, "window", um=window_um, mil=window_mil)
    if window is not None and not (window > 0.0 and math.isfinite(window)):
        raise InvalidInputError(f"window must be positive and finite, got {window}", argument=f"window_{units.length}")
    found = _core.wet_film_target(dft, volume_solids, thinner_fraction)
    step = _core.wet_comb_step(found["wft"], units.metric)
    return build(
        WetFilmTarget,
        found,
        made=Made("wet_film_target", units.length, 1, version=_core.version),
        wft_unthinned=_core.wet_film_target(dft, volume_solids, 0.0)["wft"],
        dft=dft,
        dft_if_not_raised=_core.dry_film(dft / volume_solids, volume_solids, thinner_fraction),
        volume_solids=float(volume_solids),
        thinner_fraction=float(thinner_fraction),
        comb_step=step,
        comb_step_dry=_core.wet_step_as_dry(step, found["volume_solids_thinned"]),
        window=window,
    )


def dry_film(
    *, wft_um: float | None = None, wft_mil: float | None = None, volume_solids: float, thinner_fraction: float = 0.0
) -> float:
    """Dry film that a wet one leaves, in the unit of the wet film; the inverse of ``wet_film_target``.

    Examples
    --------
    >>> round(dry_film(wft_mil=4.5, volume_solids=0.52, thinner_fraction=0.1), 3)
    2.127
    """
    _, wft = length_once("wft", um=wft_um, mil=wft_mil)
    return _core.dry_film(wft, volume_solids, thinner_fraction)


def wet_comb_step(*, wft_um: float | None = None, wft_mil: float | None = None) -> float:
    """Step between neighboring notches of a wet-film comb where it reads a film, in the unit of that.

    Examples
    --------
    >>> wet_comb_step(wft_mil=4.4), wet_comb_step(wft_mil=8.0)
    (0.5, 1.0)
    """
    units, wft = length_once("wft", um=wft_um, mil=wft_mil)
    return _core.wet_comb_step(wft, units.metric)


def wet_step_as_dry(*, step_um: float | None = None, step_mil: float | None = None, volume_solids: float) -> float:
    """Dry film between two notches of a wet-film comb, in the unit of the step; solids are those of the paint as sprayed.

    Examples
    --------
    >>> round(wet_step_as_dry(step_mil=0.5, volume_solids=0.467), 3)
    0.234
    """
    _, step = length_once("step", um=step_um, mil=step_mil)
    return _core.wet_step_as_dry(step, volume_solids)


def dft_after_solids_change(
    *, dft_um: float | None = None, dft_mil: float | None = None, solids_from: float, solids_to: float
) -> SolidsChange:
    """Dry film that the same wet film leaves after a batch, a mix or thinner has changed the volume solids.

    Parameters
    ----------
    dft_um, dft_mil : float
        Dry film before, in one of the two units.
    solids_from, solids_to : float
        Volume solids of the paint as sprayed, before and after.

    Examples
    --------
    >>> print(dft_after_solids_change(dft_mil=2.1, solids_from=0.52, solids_to=0.48).sentence())
    A wet film that dries to 2.1 mil at 52 % volume solids dries to 1.938 mil at 48 %: -0.162 mil.
    """
    units, dft = length_once("dft", um=dft_um, mil=dft_mil)
    found = _core.dft_after_solids_change(dft, solids_from, solids_to)
    made = Made("dft_after_solids_change", units.length, 1, version=_core.version)
    shares = {"solids_from": float(solids_from), "solids_to": float(solids_to)}
    return build(SolidsChange, found, made=made, dft_before=dft, **shares)


def spreading_rate(
    *,
    dft_um: float | None = None,
    dft_mil: float | None = None,
    volume_solids: float,
    transfer_efficiency: float = 1.0,
    other_losses: float = 0.0,
) -> SpreadingRate:
    """Area that a gallon and a liter of mixed paint cover: in theory, and after transfer efficiency and other losses.

    Parameters
    ----------
    dft_um, dft_mil : float
        Dry film, in one of the two units.
    volume_solids : float
        Share of the paint as measured out (with its thinner if that is in the volume).
    transfer_efficiency : float
        Share of the sprayed solids that stays on the part. Figures fixed by a regulation are for its sums, not measurements.
    other_losses : float
        Share of the paint that is never sprayed: lines, cups, paint past its pot life.

    Examples
    --------
    >>> found = spreading_rate(dft_mil=2.1, volume_solids=0.52, transfer_efficiency=0.65)
    >>> round(found.theoretical_ft2_gal, 1), round(found.practical_ft2_gal, 1), round(found.theoretical_m2_l, 3)
    (397.2, 258.2, 9.749)
    """
    units, dft = length_once("dft", um=dft_um, mil=dft_mil)
    found = _core.spreading_rate(volume_solids, dft, units.metric, transfer_efficiency, other_losses)
    made = Made("spreading_rate", units.length, 1, version=_core.version)
    shares = {"transfer_efficiency": float(transfer_efficiency), "other_losses": float(other_losses)}
    return build(SpreadingRate, found, made=made, dft=dft, volume_solids=float(volume_solids), **shares)


def powder_coverage(
    *,
    thickness_um: float | None = None,
    thickness_mil: float | None = None,
    specific_gravity: float,
    utilization: float = 1.0,
) -> PowderCoverage:
    """Area that a pound and a kilogram of powder cover.

    Parameters
    ----------
    thickness_um, thickness_mil : float
        Cured film, in one of the two units.
    specific_gravity : float
        Of the cured film, against 1 g/cm3.
    utilization : float
        Share of the powder that ends on the part, reclaim counted.

    Examples
    --------
    >>> print(powder_coverage(thickness_mil=2.5, specific_gravity=1.5).sentence())
    Powder of specific gravity 1.5 at 2.5 mil covers 51.26 ft2/lb (10.5 m2/kg).
    """
    units, thickness = length_once("thickness", um=thickness_um, mil=thickness_mil)
    found = _core.powder_coverage(specific_gravity, thickness, units.metric, utilization)
    made = Made("powder_coverage", units.length, 1, version=_core.version)
    more = {"specific_gravity": float(specific_gravity), "utilization": float(utilization)}
    return build(PowderCoverage, found, made=made, thickness=thickness, **more)
