"""Windows of layers against the window of their total, and what a change of two builds together points to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import alike, number, window_text
from steadyfilm._lengths import in_one_unit
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits
from steadyfilm.units import MICROMETERS_PER_MIL

__all__ = [
    "LAYER_SIGNATURES",
    "SOFT_COAT",
    "LayerDiagnosis",
    "LayerSignature",
    "SignatureFit",
    "WindowConsistency",
    "diagnose_layers",
    "window_consistency",
]

Floats = NDArray[np.float64]

SOURCES = ("cpp/methods/film_layers.md",)

SOFT_COAT: Final = (
    "A coat that is measured before it is hard reads thin, since the probe dents it, and the coat above then seems thicker by as "
    "much. Measure each coat once it is hard, as the coating's data sheet says."
)

SLIP: Final = 1.5
"""A ratio within this factor of 25.4, or of 1/25.4, is a slip of units: film itself may be thin or thick besides."""


# -- windows ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class WindowConsistency(Result):
    """Whether windows of layers agree with that of their total, in the unit of the arguments.

    ``layer_lower`` and ``layer_upper`` say where each layer may lie while the total and all other layers conform;
    ``layer_implied`` whether that range lies inside the layer's own window. ``room_below`` and ``room_above`` are what the
    total's window leaves beyond the layers' sum; negative: conforming layers can miss it by as much.
    """

    names: tuple[str, ...]
    windows: tuple[SpecLimits, ...]
    total: SpecLimits
    implied_lower: float
    implied_upper: float
    room_below: float
    room_above: float
    implied: bool
    layer_lower: Floats
    layer_upper: Floats
    layer_implied: NDArray[np.uint8]
    center_difference: float

    def sentence(self) -> str:
        unit = self.made.unit
        span = f"{' to '.join(alike(_short(self.implied_lower), _short(self.implied_upper)))} {unit}".rstrip()
        total = window_text(self.total.lower, self.total.upper, unit)
        if self.implied:
            text = f"Layers inside their windows add up to {span}: the total's window, {total}, is then always kept"
        else:
            sides = [(self.room_below, "thin"), (self.room_above, "thick")]
            misses = " or ".join(f"{number(-room, 3)} {unit} too {word}" for room, word in sides if room < 0)
            text = f"Layers inside their windows add up to {span} and can miss the total's window, {total}: {misses}"
        loose = [k for k, inside in enumerate(self.layer_implied) if not inside]
        if loose:
            spans = [" to ".join(alike(_short(self.layer_lower[k]), _short(self.layer_upper[k]))) for k in loose]
            told = [f"{self.names[k]} in {span} {unit}" for k, span in zip(loose[1:], spans[1:], strict=True)]
            first = f"{self.names[loose[0]]} may lie anywhere in {spans[0]} {unit}"
            text += f"; the total does not stand for the layers: {', '.join([first, *told])}"
        if abs(self.center_difference) > 1e-9 * abs(self.implied_upper):
            aim = (self.implied_lower + self.implied_upper) / 2
            own = (float(self.total.lower or 0.0) + float(self.total.upper or 0.0)) / 2
            first, second = alike(_short(aim), _short(own))
            text += f"; the layers aim at {first} {unit}, the total at {second}: ask which one is used"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        unit = self.made.unit
        return {
            "layer": list(self.names),
            f"window_lower_{unit}": [x.lower for x in self.windows],
            f"window_upper_{unit}": [x.upper for x in self.windows],
            f"allowed_by_total_lower_{unit}": self.layer_lower,
            f"allowed_by_total_upper_{unit}": self.layer_upper,
            "implied_by_total": [bool(x) for x in self.layer_implied],
        }

    def explain(self) -> Explanation:
        below = {"implied_lower": self.implied_lower, "total_lower": float(self.total.lower or 0.0)}
        above = {"implied_upper": self.implied_upper, "total_upper": float(self.total.upper or 0.0)}
        steps = [
            Step("room_below", "implied_lower - total_lower", below, self.room_below),
            Step("room_above", "total_upper - implied_upper", above, self.room_above),
        ]
        for k in range(len(self.names)):
            inputs = {
                "total_upper": float(self.total.upper or 0.0),
                "implied_lower": self.implied_lower,
                "own_lower": float(self.windows[k].lower or 0.0),
            }
            rule = "total_upper - (implied_lower - own_lower)"
            steps.append(Step(f"layer_{k + 1}_may_reach", rule, inputs, float(self.layer_upper[k])))
        return Explanation(
            self.sentence(),
            tuple(steps),
            {"comparison": "ends within 1e-9 (relative) are equal", "sums": "worst case: every layer at its end at once"},
            SOURCES,
        )


def _short(value: float) -> float:
    """Without the noise of the last bits, for words."""
    return float(f"{value:.10g}")


def window_consistency(layers: Mapping[str, tuple[float, float]], total: tuple[float, float], *, unit: str) -> WindowConsistency:
    """Do the windows of the layers imply that of the total, and the other way round?

    Parameters
    ----------
    layers : mapping of name to (lower, upper)
        Window of each layer, first coat first.
    total : (lower, upper)
        Window of their sum.
    unit : {"mil", "um"}
        Unit of all of them.

    Raises
    ------
    InvalidInputError
        No layer, or a window whose lower end is not below its upper one.

    Examples
    --------
    >>> print(window_consistency({"primer": (1.0, 1.2), "topcoat": (2.0, 2.2)}, (3.0, 3.5), unit="mil").sentence())
    Layers inside their windows add up to 3.0 to 3.4 mil: the total's window, 3.0 to 3.5 mil, is then always kept; the total does
    not stand for the layers: primer may lie anywhere in 0.8 to 1.5 mil, topcoat in 1.8 to 2.5 mil; the layers aim at 3.20 mil,
    the total at 3.25: ask which one is used.
    """
    names, ends = list(layers), [(float(low), float(high)) for low, high in layers.values()]
    low, high = float(total[0]), float(total[1])
    found = _core.window_consistency([x for x, _ in ends], [x for _, x in ends], low, high)
    made = Made("window_consistency", unit, len(names), version=_core.version)
    windows = tuple(SpecLimits(a, b) for a, b in ends)
    return build(WindowConsistency, found, made=made, names=tuple(names), windows=windows, total=SpecLimits(low, high))


# -- what a change points to --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LayerSignature:
    """How a cause moves a build of two coats: ``primer``, ``total`` and ``topcoat`` are +, 0, -, x or a word.

    ``pattern`` says how the changes of primer and total go together: "equal", "total alone", "primer alone", "in proportion" or
    "factor 25.4".
    """

    cause: str
    primer: str
    total: str
    topcoat: str
    pattern: str
    physical: bool
    look_at: str


LAYER_SIGNATURES: Final = (
    LayerSignature(
        "zero error of the gauge",
        "+",
        "+",
        "0",
        "equal",
        False,
        "shim readings of the gauge, and whether only its units have moved",
    ),
    LayerSignature(
        "heavier or thinner primer",
        "+",
        "+",
        "0",
        "equal",
        True,
        "whether all gauges see it, then gun, painter and batch",
    ),
    LayerSignature(
        "heavier or thinner topcoat", "0", "+", "+", "total alone", True, "solids of the topcoat, gun, painter and batch"
    ),
    LayerSignature(
        "primer read with another zero, or before it was hard",
        "+",
        "0",
        "-",
        "primer alone",
        False,
        "when the primer was measured after spraying, and with which gauge",
    ),
    LayerSignature(
        "gain error of the gauge",
        "x 1.03",
        "x 1.03",
        "x 1.03",
        "in proportion",
        False,
        "a thick and a thin shim",
    ),
    LayerSignature(
        "readings in the other unit",
        "x 25.4",
        "x 25.4",
        "x 25.4",
        "factor 25.4",
        False,
        "the unit column, the display",
    ),
)
"""Signatures of causes for a change upward; downward all signs turn. They follow from the gauge model: offset, gain, noise."""


@dataclass(frozen=True)
class SignatureFit:
    """One signature against what was seen; ``size`` is in the unit of the builds, for "in proportion" a share."""

    cause: str
    pattern: str
    size: float
    sigma: float
    misfit: float
    p_value: float
    fits: bool
    look_at: str


@dataclass(frozen=True, eq=False, repr=False)
class LayerDiagnosis(Result):
    """What a change of primer and total together points to, in the unit of the arguments.

    ``changed`` is whether primer and total differ at all from usual; ``causes`` are the signatures that explain both changes.
    """

    primer_change: float
    total_change: float
    topcoat_change: float
    topcoat_uncertainty: float
    chi_square: float
    p_value: float
    changed: bool
    slip: str
    fits: tuple[SignatureFit, ...]
    causes: tuple[str, ...]

    def sentence(self) -> str:
        unit = self.made.unit
        if self.slip:
            way = "25.4 times off, which no film explains; check the unit column"
            return f"Readings of the {self.slip} are in the other unit: {way}."
        moves = (("primer", self.primer_change), ("total", self.total_change), ("derived topcoat", self.topcoat_change))
        seen = ", ".join(f"{name} {size:+.3g}" for name, size in moves) + f" {unit}".rstrip()
        if not self.changed:
            return f"No change beyond what the measurement brings: {seen}."
        if not self.causes:
            return f"{seen[0].upper()}{seen[1:]}: no single cause of the table explains both; more than one thing has changed."
        fitting = [fit for fit in self.fits if fit.fits]
        told = "; or ".join(f"{fit.cause} (look at {fit.look_at})" for fit in fitting)
        return f"{seen[0].upper()}{seen[1:]}: {told}."

    def _columns(self) -> dict[str, Any]:
        names = ("cause", "pattern", "size", "sigma", "misfit", "p_value", "fits", "look_at")
        return {name: [getattr(fit, name) for fit in self.fits] for name in names}

    def explain(self) -> Explanation:
        options = self.made.options
        inputs = {
            "primer_change": self.primer_change,
            "total_change": self.total_change,
            "sigma_primer": options["sigma_primer"],
            "sigma_total": options["sigma_total"],
        }
        change = {"primer_change": self.primer_change, "total_change": self.total_change}
        rule = "(primer_change / sigma_primer) * (primer_change / sigma_primer)"
        rule += " + (total_change / sigma_total) * (total_change / sigma_total)"
        spread = {"sigma_primer": options["sigma_primer"], "sigma_total": options["sigma_total"]}
        return Explanation(
            self.sentence(),
            (
                Step("topcoat_change", "total_change - primer_change", change, self.topcoat_change),
                Step(
                    "topcoat_uncertainty",
                    "sqrt(sigma_primer * sigma_primer + sigma_total * sigma_total)",
                    spread,
                    self.topcoat_uncertainty,
                ),
                Step("chi_square", rule, inputs, self.chi_square),
                Step("p_value", "exp(-chi_square / 2)", {"chi_square": self.chi_square}, self.p_value),
            ),
            {
                "changed": f"chi-square of both changes, 2 degrees of freedom, at {number(options['significance'])}",
                "a cause fits": f"misfit, chi-square with 1 degree of freedom, no rarer than {number(options['significance'])}",
                "unit slip": f"a level within a factor of {number(SLIP)} of 25.4 times the usual one, or of a 25.4th",
                "soft coat": SOFT_COAT,
            },
            SOURCES,
        )


def diagnose_layers(
    *,
    primer_um: float | None = None,
    primer_mil: float | None = None,
    total_um: float | None = None,
    total_mil: float | None = None,
    usual_primer_um: float | None = None,
    usual_primer_mil: float | None = None,
    usual_total_um: float | None = None,
    usual_total_mil: float | None = None,
    sigma_primer_um: float | None = None,
    sigma_primer_mil: float | None = None,
    sigma_total_um: float | None = None,
    sigma_total_mil: float | None = None,
    significance: float = 0.05,
) -> LayerDiagnosis:
    """What a change of primer and total points to: gauge zero, gain, unit slip, or a layer that really changed.

    Parameters
    ----------
    primer_um, primer_mil, total_um, total_mil : float
        Present level of primer and of the whole build, all lengths of the call in one unit.
    usual_primer_um, usual_primer_mil, usual_total_um, usual_total_mil : float
        Usual levels.
    sigma_primer_um, sigma_primer_mil, sigma_total_um, sigma_total_mil : float
        Standard uncertainty of each difference from usual, as chance brings it.
    significance : float
        Chance of calling steady levels changed, and of turning down a true cause.

    Raises
    ------
    InvalidInputError
        Lengths in two units, a level or uncertainty not above 0.

    Examples
    --------
    >>> usual = {"usual_primer_mil": 1.1, "usual_total_mil": 3.2, "sigma_primer_mil": 0.02, "sigma_total_mil": 0.02}
    >>> found = diagnose_layers(primer_mil=1.1, total_mil=3.35, **usual)
    >>> found.causes
    ('heavier or thinner topcoat',)
    >>> diagnose_layers(primer_mil=28.0, total_mil=81.3, **usual).slip
    'primer and total'
    """
    names = ("primer", "total", "usual_primer", "usual_total", "sigma_primer", "sigma_total")
    unit, given = in_one_unit(
        names,
        primer=(primer_um, primer_mil),
        total=(total_um, total_mil),
        usual_primer=(usual_primer_um, usual_primer_mil),
        usual_total=(usual_total_um, usual_total_mil),
        sigma_primer=(sigma_primer_um, sigma_primer_mil),
        sigma_total=(sigma_total_um, sigma_total_mil),
    )
    level = {name: float(given[name]) for name in names}
    for name, value in level.items():
        if not 0.0 < value < float("inf"):
            raise InvalidInputError(f"{name} must be above 0, got {value}", argument=f"{name}_{unit}")
    if not 0.0 < significance < 1.0:
        raise InvalidInputError(f"significance must lie between 0 and 1, got {significance}", argument="significance")
    first, second = level["primer"] - level["usual_primer"], level["total"] - level["usual_total"]
    spread = (level["sigma_primer"], level["sigma_total"])
    patterns = {
        "equal": (1.0, 1.0),
        "total alone": (0.0, 1.0),
        "primer alone": (1.0, 0.0),
        "in proportion": (level["usual_primer"], level["usual_total"]),
    }
    slips = [name for name in ("primer", "total") if _slipped(level[name] / level[f"usual_{name}"])]
    chi_square = (first / spread[0]) ** 2 + (second / spread[1]) ** 2
    p_value = float(np.exp(-chi_square / 2))  # of chi-square with 2 degrees of freedom
    changed = bool(slips) or p_value <= significance
    fits = tuple(
        _fit(
            signature,
            _core.fit_pattern(first, second, *spread, *patterns[signature.pattern]),
            changed and not slips,
            significance,
        )
        for signature in LAYER_SIGNATURES
        if signature.pattern in patterns
    )
    causes = [fit.cause for fit in fits if fit.fits] or (["readings in the other unit"] if slips else [])
    options = {**{name: level[name] for name in names}, "significance": significance}
    return LayerDiagnosis(
        made=Made("diagnose_layers", unit, 2, options=options, version=_core.version),
        primer_change=first,
        total_change=second,
        topcoat_change=second - first,
        topcoat_uncertainty=float(np.sqrt(spread[0] * spread[0] + spread[1] * spread[1])),
        chi_square=chi_square,
        p_value=p_value,
        changed=changed,
        slip=" and ".join(slips),
        fits=fits,
        causes=tuple(causes),
    )


def _slipped(ratio: float) -> bool:
    return any(1.0 / SLIP <= ratio / factor <= SLIP for factor in (MICROMETERS_PER_MIL, 1.0 / MICROMETERS_PER_MIL))


def _fit(signature: LayerSignature, found: dict[str, Any], told: bool, significance: float) -> SignatureFit:
    return SignatureFit(
        cause=signature.cause,
        pattern=signature.pattern,
        size=found["size"],
        sigma=found["sigma"],
        misfit=found["misfit"],
        p_value=found["p_value"],
        fits=told and found["p_value"] > significance,
        look_at=signature.look_at,
    )
