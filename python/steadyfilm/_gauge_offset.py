"""A shift that all layers of a build share: is it the gauge or the film?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._format import number
from steadyfilm._gauge_words import STILL, common_offset_text, film_text, gauge_in_part_text, zero_error_text
from steadyfilm._input import float_list
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import InvalidInputError

__all__ = ["OffsetDiagnosis", "diagnose_offset"]


@dataclass(frozen=True, eq=False, repr=False)
class OffsetDiagnosis(Result):
    """What shifts of a first coat and of the total over it say about gauge and film; in the unit of the arguments.

    Attributes
    ----------
    first_shift, first_uncertainty, total_shift, total_uncertainty : float
        As given; of the total NaN where only the first coat is known.
    upper_shift, upper_uncertainty : float
        Of the layer between, total less first; NaN without a total.
    offset, offset_uncertainty : float
        Best common value of both shifts.
    gauge_error, gauge_error_uncertainty : float
        What standards, or readings taken again, say the gauge shows too much; NaN when that is not known.
    first_moved, total_moved, upper_moved, gauge_off, gauge_agrees : bool
        Beyond ``coverage_factor`` standard uncertainties; whether ``gauge_error`` and ``offset`` are alike.
    signature : str
        ``none``, ``common offset``, ``upper layer``, ``first reading`` (no film does that) or ``mixed``.
    verdict : str
        ``no shift``, ``gauge or film``, ``zero error``, ``gauge in part``, ``film``, ``undecided``, ``upper layer``,
        ``first reading`` or ``mixed``.
    """

    first_shift: float
    first_uncertainty: float
    total_shift: float
    total_uncertainty: float
    upper_shift: float
    upper_uncertainty: float
    offset: float
    offset_uncertainty: float
    gauge_error: float
    gauge_error_uncertainty: float
    first_moved: bool
    total_moved: bool
    upper_moved: bool
    gauge_off: bool
    gauge_agrees: bool
    signature: str
    verdict: str

    def sentence(self) -> str:
        names = self.made.options
        first, upper, gauge = names["layer"], names["upper"], names["gauge"]
        p, q = self._shown(self.first_shift, self.first_uncertainty), self._shown(self.total_shift, self.total_uncertainty)
        t = self._shown(self.upper_shift, self.upper_uncertainty)
        alone = math.isnan(self.total_shift)
        both = f"{first} {p} and total {q} moved together, {upper} between them did not ({t})"
        both = f"{first} {p} moved" if alone else both
        known = self._known()
        sure = math.isfinite(self.gauge_error)
        beside = ""
        if sure and self.signature != "common offset":
            beside = f"; the gauge {'does not read true' if self.gauge_off else 'reads true'} ({known})"
        high = "high" if self.offset > 0 else "low"
        size = self._shown(abs(self.offset), self.offset_uncertainty, signed=False)
        text = {
            "no shift": f"No shift: {first} {p}" + ("" if alone else f", total {q}, {upper} {t}"),
            "gauge or film": f"{common_offset_text(gauge, first)}: {both}",
            "zero error": f"{zero_error_text(f'{gauge} read {size} {high}')} ({known}); {both}",
            "gauge in part": f"{gauge_in_part_text(f'{gauge} does not read true ({known})')}: {both}",
            "film": f"{self.film_words()}; {both}",
            "undecided": f"{common_offset_text(gauge, first)}: what the gauge shows is too uncertain to tell ({known}); {both}",
            "upper layer": f"{upper} moved by {t}: {first} stayed ({p}) and the total went with it ({q})",
            "first reading": f"Check the readings of {first}: they moved ({p}) and the total did not ({q}), which no film does; "
            "read before it was dry and flat, or with another zero?",
            "mixed": f"No single cause shown: {first} {p}, total {q}, {upper} {t}",
        }[self.verdict]
        return f"{text[0].upper()}{text[1:]}{beside}."

    def film_words(self) -> str:
        """What is said where the gauge reads true and the film moved."""
        names = self.made.options
        shift = self._shown(self.offset, self.offset_uncertainty)
        return film_text(names["gauge"], names["layer"], shift, self._known())

    def _known(self) -> str:
        evidence = " and ".join(self.made.options["evidence"])
        return f"{evidence}: {self._shown(self.gauge_error, self.gauge_error_uncertainty)}"

    def _shown(self, value: float, uncertainty: float, *, signed: bool = True) -> str:
        """A shift with what it is known to, so many standard uncertainties either way; empty where there is none."""
        if math.isnan(value):
            return ""
        reach = self.made.options["coverage_factor"] * uncertainty
        decimals = min(4, max(0, 1 - math.floor(math.log10(reach)))) if reach > 0 else 3
        text = f"{round(value, decimals) + 0.0:{'+' if signed else ''}.{decimals}f} {self.made.unit}".rstrip()
        return f"{text} ± {reach:.{decimals}f}" if reach > 0 else text

    def _columns(self) -> dict[str, Any]:
        names = self.made.options
        rows = [
            (names["layer"], self.first_shift, self.first_uncertainty, self.first_moved),
            ("total", self.total_shift, self.total_uncertainty, self.total_moved),
            (names["upper"], self.upper_shift, self.upper_uncertainty, self.upper_moved),
            (names["gauge"], self.gauge_error, self.gauge_error_uncertainty, self.gauge_off),
        ]
        if math.isnan(self.total_shift):
            rows = [rows[0], rows[-1]]
        what, shift, uncertainty, moved = (list(column) for column in zip(*rows, strict=True))
        return {"what": what, "shift": shift, "standard_uncertainty": uncertainty, "moved": moved}

    def explain(self) -> Explanation:
        correlation = float(self.made.options["correlation"])
        errors = {
            "first_uncertainty": self.first_uncertainty,
            "total_uncertainty": self.total_uncertainty,
            "correlation": correlation,
        }
        squares = "first_uncertainty * first_uncertainty + total_uncertainty * total_uncertainty"
        shared = "correlation * first_uncertainty * total_uncertainty"
        apart = f"({squares} - 2 * {shared})"
        shifts = {"first_shift": self.first_shift, "total_shift": self.total_shift}
        alone = math.isnan(self.total_shift)
        steps = (
            [Step("offset", "first_shift", {"first_shift": self.first_shift}, self.offset)]
            if alone
            else [
                Step("upper_shift", "total_shift - first_shift", shifts, self.upper_shift),
                Step("upper_uncertainty", f"sqrt(max(0, {apart}))", errors, self.upper_uncertainty),
            ]
        )
        if alone:
            pass
        elif self.upper_uncertainty > 0:
            weight = f"(total_uncertainty * total_uncertainty - {shared}) / {apart}"
            rule = f"total_shift - {weight} * (total_shift - first_shift)"
            steps.append(Step("offset", rule, {**shifts, **errors}, self.offset))
        else:
            steps.append(Step("offset", "(first_shift + total_shift) / 2", shifts, self.offset))
        factor = number(self.made.options["coverage_factor"])
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "moved": f"beyond {factor} standard uncertainties",
                "common offset": "first coat and total moved, the layer between did not: an error of the gauge cancels in it"
                if not alone
                else "the first coat moved; no total over it says more",
                "gauge error": "mean of what is known of the gauge, weighted by what each is known to",
                "gauge or film": "film readings alone cannot tell; standards, or the same units measured again, can",
            },
            sources=(
                "cpp/methods/gauge_bias.md",
                "JCGM 100:2008 (GUM), 5.2: uncertainty of a function of correlated input quantities",
            ),
        )


def diagnose_offset(
    *,
    unit: str,
    primer_shift: float,
    primer_uncertainty: float,
    total_shift: float | None = None,
    total_uncertainty: float | None = None,
    correlation: float = 0.0,
    shim_deviation: float | Sequence[float] | None = None,
    shim_uncertainty: float | Sequence[float] | None = None,
    remeasured_difference: float | Sequence[float] | None = None,
    remeasured_uncertainty: float | Sequence[float] | None = None,
    gauge: str = "gauge",
    layer: str = "primer",
    upper: str = "topcoat",
    coverage_factor: float = STILL,
) -> OffsetDiagnosis:
    """Tell a gauge's zero error from a change of the film, for a shift or a gauge whose readings are off.

    Both builds read with one gauge that is off by the same amount move together, and the layer between them stays. So does a
    heavier first coat under an unchanged second one: film readings alone cannot tell. Standards can, and so can the same units
    measured again with another gauge.

    Parameters
    ----------
    unit : str
        Unit of all shifts.
    primer_shift, total_shift : float
        How far the means of the first coat and of the total lie from their usual level. Without a total a shift of the first
        coat may be gauge or film until the gauge is known.
    primer_uncertainty, total_uncertainty : float
        Their standard uncertainties, with what varies from unit to unit and day to day.
    correlation : float
        Of the errors of both shifts; the spread of the first coat is in both when the units are the same.
    shim_deviation, shim_uncertainty : float or sequence, optional
        What the gauge showed on certified standards less what they state, in that time, with standard uncertainties.
    remeasured_difference, remeasured_uncertainty : float or sequence, optional
        First reading less that of a sound gauge on the same unit, with standard uncertainties.
    gauge, layer, upper : str
        What they are called, for texts: ``"gauge K5"``, ``"primer"``, ``"topcoat"``.
    coverage_factor : float
        A shift counts beyond so many standard uncertainties.

    Raises
    ------
    InvalidInputError
        A deviation without its uncertainty, negative uncertainties, a correlation beyond -1 or 1.

    Examples
    --------
    >>> seen = {"primer_shift": 0.15, "primer_uncertainty": 0.015, "total_shift": 0.16, "total_uncertainty": 0.025}
    >>> print(diagnose_offset(unit="mil", **seen, gauge="gauge K5").sentence())
    Common offset: gauge K5 or primer; check the gauge on shims: primer +0.150 mil ± 0.030 and total +0.160 mil ± 0.050 moved \
together, topcoat between them did not (+0.010 mil ± 0.058).
    >>> diagnose_offset(unit="mil", **seen, shim_deviation=0.15, shim_uncertainty=0.005).verdict
    'zero error'
    """
    deviations: list[float] = []
    uncertainties: list[float] = []
    evidence = []
    for name, said, value, known in (
        ("shim", "on shims", shim_deviation, shim_uncertainty),
        ("remeasured", "on units measured again", remeasured_difference, remeasured_uncertainty),
    ):
        values, errors = (float_list(item) for item in (value, known))
        if len(errors) == 1 and len(values) > 1:
            errors *= len(values)
        if len(values) != len(errors):
            raise InvalidInputError(
                f"each {name} value needs its standard uncertainty: got {len(values)} and {len(errors)}",
                argument=f"{name}_uncertainty",
            )
        deviations += values
        uncertainties += errors
        evidence += [said] if values else []
    alone = total_shift is None
    if alone != (total_uncertainty is None):
        raise InvalidInputError("a total needs its shift and its standard uncertainty, or neither", argument="total_shift")
    # A first coat with nothing over it is its own total.
    total = (primer_shift, primer_uncertainty, 1.0)
    if total_shift is not None and total_uncertainty is not None:
        total = (total_shift, total_uncertainty, correlation)
    found = _core.diagnose_offset(
        primer_shift,
        primer_uncertainty,
        *total,
        deviations,
        uncertainties,
        coverage_factor,
    )
    made = Made(
        function="diagnose_offset",
        unit=unit,
        count=2 - alone + len(deviations),
        options={
            "correlation": correlation,
            "gauge_deviation": deviations,
            "gauge_uncertainty": uncertainties,
            "evidence": evidence,
            "gauge": gauge,
            "layer": layer,
            "upper": upper,
            "coverage_factor": coverage_factor,
        },
        version=_core.version,
    )
    if alone:
        found |= {"upper_shift": math.nan, "upper_uncertainty": math.nan, "total_moved": False}
    return build(
        OffsetDiagnosis,
        found,
        first_shift=float(primer_shift),
        first_uncertainty=float(primer_uncertainty),
        total_shift=math.nan if total_shift is None else float(total_shift),
        total_uncertainty=math.nan if total_uncertainty is None else float(total_uncertainty),
        made=made,
    )
