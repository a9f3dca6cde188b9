"""Is it really in? Guard bands, chance of conformance, the risks of accepting and rejecting, and the operating curve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from steadyfilm import _core
from steadyfilm._acceptance_risk import (
    AcceptanceLimit,
    AcceptanceRisks,
    OperatingCurve,
    acceptance_limit_for_risk,
    acceptance_risks,
    operating_curve,
)
from steadyfilm._format import number, percent, window_text, with_unit
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.limits import SpecLimits

__all__ = [
    "AcceptanceLimit",
    "AcceptanceRisks",
    "GuardBand",
    "OperatingCurve",
    "ReadingConformity",
    "acceptance_limit_for_risk",
    "acceptance_limit_relative",
    "acceptance_risks",
    "assess_reading",
    "conformance_probability",
    "false_accept_at_limit",
    "guard_band",
    "guard_band_factor",
    "operating_curve",
]

SOURCES = (
    "JCGM 106:2012, clauses 7 (probability of conformance) and 8 (acceptance intervals)",
    "ISO 14253-1:2017, decision rules (95 % as the usual level; clause numbers not seen)",
    "cpp/methods/conformity.md",
)


@dataclass(frozen=True, eq=False, repr=False)
class GuardBand(Result):
    """A window drawn in and out by a guard band on each limit, in the unit of the arguments.

    Inside ``accept_lower`` to ``accept_upper`` a value is clearly in, beyond ``reject_lower`` or ``reject_upper`` clearly out,
    between them doubtful. Limits that the window lacks are None. ``left`` is the width between the acceptance limits, negative
    when nothing can be clearly in, None for a window with one limit.
    """

    specification: SpecLimits
    standard_uncertainty: float
    bias_bound: float
    alpha: float
    factor: float
    guard: float
    accept_lower: float | None
    accept_upper: float | None
    reject_lower: float | None
    reject_upper: float | None
    left: float | None

    _plot: ClassVar[str] = "conformity:plot_guard_band"

    def classes(self, values: Any) -> tuple[str, ...]:
        """``"clearly in"``, ``"doubtful"`` or ``"clearly out"`` for each value."""
        given = readings(values).values
        window = self.specification
        how = (self.standard_uncertainty, self.alpha, self.bias_bound)
        return tuple(_core.guard_band_classes(window.lower, window.upper, *how, given))

    def sentence(self) -> str:
        unit, window = self.made.unit, self.specification
        bias = f" and a bias of up to {with_unit(self.bias_bound, unit, 3)}" if self.bias_bound else ""
        known = f"With a standard uncertainty of {with_unit(self.standard_uncertainty, unit, 3)}{bias} the guard band is "
        text = f"{known}{with_unit(self.guard, unit, 3)} at each limit"
        if self.left is None:
            return f"{text}: {window_text(_short(self.accept_lower), _short(self.accept_upper), unit)} is clearly in."
        width = _width(window)
        if self.left < 0.0:
            return f"{text}: two of them fill the {with_unit(width, unit)} window, so that no reading can be clearly in."
        inside = window_text(_short(self.accept_lower), _short(self.accept_upper), unit)
        spec = window_text(window.lower, window.upper, unit)
        return f"{text}: of {spec} only {inside} is clearly in, {percent(self.left / width)} of the window."

    def _columns(self) -> dict[str, Any]:
        window = self.specification
        rows = [
            ("lower", window.lower, self.accept_lower, self.reject_lower),
            ("upper", window.upper, self.accept_upper, self.reject_upper),
        ]
        kept = [row for row in rows if row[1] is not None]
        names = ("limit", "specification", "clearly_in_from", "clearly_out_beyond")
        return {name: [row[i] for row in kept] for i, name in enumerate(names)}

    def explain(self) -> Explanation:
        return Explanation(
            title=self.sentence(),
            steps=_band_steps(self),
            choices=_band_choices(self.alpha, self.bias_bound),
            sources=SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class ReadingConformity(Result):
    """One measured value against its window, in the unit of the arguments.

    ``guard_band_class`` is ``"clearly in"``, ``"doubtful"`` or ``"clearly out"``. It is no verdict of a rule: ``inside`` says
    whether the value as it stands meets the limits, which is what most rules ask. ``probability`` is the chance that the true
    value lies inside.
    """

    value: float
    inside: bool
    guard_band_class: str
    probability: float
    degrees_of_freedom: float | None
    band: GuardBand

    _plot: ClassVar[str] = "conformity:plot_guard_band"

    def sentence(self) -> str:
        unit, band = self.made.unit, self.band
        window = window_text(band.specification.lower, band.specification.upper, unit)
        chance = f"the true value is inside with a probability of {_probability(self.probability)}"
        measured = f"A reading of {with_unit(self.value, unit)}"
        guard = with_unit(band.guard, unit, 3)
        if self.guard_band_class == "clearly in":
            return f"{measured} is clearly in {window}, by at least the guard band of {guard}; {chance}."
        if self.guard_band_class == "clearly out":
            return f"{measured} is clearly out of {window}, by more than the guard band of {guard}; {chance}."
        side = "inside" if self.inside else "outside"
        return (
            f"{measured} is doubtful against {window}: it stands {side}, yet within {guard} of a limit, which is what the "
            f"measurement cannot tell; {chance}."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "value": [self.value],
            "inside": [self.inside],
            "guard_band_class": [self.guard_band_class],
            "probability": [self.probability],
        }

    def explain(self) -> Explanation:
        band, steps = self.band, []
        for name, limit in (("lower", band.specification.lower), ("upper", band.specification.upper)):
            if limit is not None:
                sign = {"value": self.value, name: limit}
                formula = "value - lower" if name == "lower" else "upper - value"
                distance = self.value - limit if name == "lower" else limit - self.value
                steps.append(Step(f"distance_to_{name}", formula, sign, distance))
        steps += [Step(f"band_{step.name}", step.formula, step.inputs, step.value) for step in _band_steps(band)]
        how = "normal" if self.degrees_of_freedom is None else f"Student t, {number(self.degrees_of_freedom)} degrees of freedom"
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                **_band_choices(band.alpha, band.bias_bound),
                "probability": f"{how}, about the value; it knows neither the bias nor the process",
                "inside": "the value as it stands; within a relative 1e-9 of a limit it meets it",
            },
            sources=SOURCES,
        )


def guard_band(
    *,
    unit: str,
    standard_uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    alpha: float = 0.05,
    bias_bound: float = 0.0,
) -> GuardBand:
    """How far inside its window a value must lie to be clearly in, and what is left of the window.

    Parameters
    ----------
    unit : str
        Unit of all lengths here.
    standard_uncertainty : float
        Of the value that is judged: of a unit's average when averages are judged.
    lower, upper : float, optional
        Specification; at least one limit.
    alpha : float
        Chance of a wrong decision at each limit, at most 1/2.
    bias_bound : float
        What the gauge may be off by after its verification; it adds to the guard band and no number of readings takes it out.

    Raises
    ------
    InvalidInputError
        No limit, limits that do not rise, a negative uncertainty, ``alpha`` out of its domain.

    Examples
    --------
    >>> band = guard_band(unit="mil", lower=2.0, upper=2.2, standard_uncertainty=0.0202, bias_bound=0.05)
    >>> round(band.guard, 3), round(band.left, 3)
    (0.083, 0.034)
    >>> band.classes([2.1, 2.19, 2.3])
    ('clearly in', 'doubtful', 'clearly out')
    """
    found = _core.guard_band(lower, upper, standard_uncertainty, alpha, bias_bound)
    left = found.pop("left")
    given = {"lower": lower, "upper": upper, "standard_uncertainty": standard_uncertainty}
    options = {**given, "alpha": alpha, "bias_bound": bias_bound}
    return build(
        GuardBand,
        found,
        made=Made("guard_band", unit, 1, options=options, version=_core.version),
        specification=SpecLimits(None if lower is None else float(lower), None if upper is None else float(upper)),
        standard_uncertainty=float(standard_uncertainty),
        bias_bound=float(bias_bound),
        alpha=float(alpha),
        left=None if math.isnan(left) else left,
    )


def assess_reading(
    value: float,
    *,
    unit: str,
    standard_uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    alpha: float = 0.05,
    bias_bound: float = 0.0,
    degrees_of_freedom: float | None = None,
) -> ReadingConformity:
    """Is a measured value clearly in, doubtful or clearly out, and how likely is the true one inside?

    Parameters
    ----------
    value : float
        A reading, or an average, whose standard uncertainty is given.
    degrees_of_freedom : float, optional
        Of the uncertainty, when it comes from a few readings; the chance is then by Student t, the guard band stays normal.
    unit, standard_uncertainty, lower, upper, alpha, bias_bound
        As in ``guard_band``.

    Raises
    ------
    InvalidInputError
        As ``guard_band``; a value that is not finite.

    Examples
    --------
    >>> print(assess_reading(2.18, unit="mil", lower=2.0, upper=2.2, standard_uncertainty=0.03).sentence())
    A reading of 2.18 mil is doubtful against 2.0 to 2.2 mil: it stands inside, yet within 0.0493 mil
    of a limit, which is what the measurement cannot tell; the true value is inside with a probability of 74.8 %.
    """
    band = guard_band(
        unit=unit, standard_uncertainty=standard_uncertainty, lower=lower, upper=upper, alpha=alpha, bias_bound=bias_bound
    )
    probability = _core.conformance_probability(value, standard_uncertainty, lower, upper, degrees_of_freedom)
    # Without a guard band the classes are those of the limits themselves.
    plain = _core.guard_band_classes(lower, upper, 0.0, alpha, 0.0, np.array([value], dtype=np.float64))
    options = {**band.made.options, "value": value, "degrees_of_freedom": degrees_of_freedom}
    return ReadingConformity(
        made=Made("assess_reading", unit, 1, options=options, version=_core.version),
        value=float(value),
        inside=plain[0] == "clearly in",
        guard_band_class=band.classes([value])[0],
        probability=probability,
        degrees_of_freedom=None if degrees_of_freedom is None else float(degrees_of_freedom),
        band=band,
    )


def conformance_probability(
    value: float,
    *,
    standard_uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    degrees_of_freedom: float | None = None,
) -> float:
    """Chance that the true value lies inside the window, for a measured one: normal, or Student t with few degrees of freedom.

    Examples
    --------
    >>> round(conformance_probability(-5.47, standard_uncertainty=0.05, upper=-5.4), 2)
    0.92
    """
    return _core.conformance_probability(value, standard_uncertainty, lower, upper, degrees_of_freedom)


def guard_band_factor(alpha: float = 0.05, *, sides: int = 1) -> float:
    """Multiple of the standard uncertainty in a guard band: one limit at risk, or two.

    Examples
    --------
    >>> round(guard_band_factor(), 4), round(guard_band_factor(sides=2), 4)
    (1.6449, 1.96)
    """
    return _core.guard_band_factor(alpha, sides)


def false_accept_at_limit(guard_over_expanded: float, *, coverage_factor: float = 2.0) -> float:
    """Chance to accept a true value on the limit, the guard band given as a multiple of the expanded uncertainty.

    Examples
    --------
    >>> round(false_accept_at_limit(1.0), 4)
    0.0228
    """
    return _core.false_accept_at_limit(guard_over_expanded, coverage_factor)


def acceptance_limit_relative(
    limit: float, *, relative_uncertainty: float, confidence_level: float = 0.95, side: str = "lower"
) -> float:
    """Acceptance limit when the uncertainty is a share of the value: not the limit times (1 + z u), since u grows with the value.

    Parameters
    ----------
    relative_uncertainty : float
        Standard uncertainty over the value: 0.03 for 3 %.
    side : {"lower", "upper"}
        Whether ``limit`` is the least or the most that is allowed.

    Examples
    --------
    >>> round(acceptance_limit_relative(60.0, relative_uncertainty=0.03), 2)
    63.11
    """
    return _core.acceptance_limit_relative(limit, relative_uncertainty, confidence_level, side)


def _band_steps(band: GuardBand) -> tuple[Step, ...]:
    inputs = {"bias_bound": band.bias_bound, "factor": band.factor, "standard_uncertainty": band.standard_uncertainty}
    steps = [Step("guard", "bias_bound + factor * standard_uncertainty", inputs, band.guard)]
    for name, limit, accept, reject in (
        ("lower", band.specification.lower, band.accept_lower, band.reject_lower),
        ("upper", band.specification.upper, band.accept_upper, band.reject_upper),
    ):
        if limit is not None and accept is not None and reject is not None:
            inward, outward = ("+", "-") if name == "lower" else ("-", "+")
            ends = {name: limit, "guard": band.guard}
            steps.append(Step(f"accept_{name}", f"{name} {inward} guard", ends, accept))
            steps.append(Step(f"reject_{name}", f"{name} {outward} guard", ends, reject))
    if band.left is not None and band.specification.lower is not None and band.specification.upper is not None:
        ends = {"upper": band.specification.upper, "lower": band.specification.lower, "guard": band.guard}
        steps.append(Step("left", "upper - lower - 2 * guard", ends, band.left))
    return tuple(steps)


def _band_choices(alpha: float, bias_bound: float) -> dict[str, str]:
    return {
        "factor": f"normal quantile for a chance of {percent(alpha)} of a wrong decision at one limit",
        "bias bound": "added whole: it is no random error" if bias_bound else "none",
        "classes": "clearly in: inside the acceptance limits; clearly out: beyond the outer ones; else doubtful; no verdict",
    }


def _short(limit: float | None) -> float | None:
    """A limit to five digits, for sentences."""
    return None if limit is None else float(number(limit, 5))


def _width(window: SpecLimits) -> float:
    return (window.upper or 0.0) - (window.lower or 0.0)


def _probability(chance: float) -> str:
    """A chance in percent that does not say 100 % of what is not certain."""
    if 0.9995 < chance < 1.0:
        return "over 99.9 %"
    return "below 0.1 %" if 0.0 < chance < 0.0005 else percent(chance)
