"""Degree of cure by the models that the literature of coatings uses, along any temperature trace.

The parameters are a chemist's, from a measurement of the very coating; without them a schedule and a dose are what there is.
"Dry to touch" is no cure, and a film may turn to glass before it is done, however long it bakes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import fixed, number
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm._temperatures import trace_arrays
from steadyfilm.errors import InvalidInputError

__all__ = [
    "CureKinetics",
    "DegreeOfCure",
    "KamalPeak",
    "degree_of_cure",
    "kamal_conversion",
    "kamal_peak",
    "nth_order_conversion",
    "second_order_time_ratio",
]

Floats = NDArray[np.float64]
GAS_CONSTANT = 8.314462618

EQUIVALENCE = {
    "exact": "one Arrhenius factor: equal equivalent times are equal cures, whatever the temperatures",
    "approximate": "two activation energies: equivalent time is only a guide",
    "none": "diffusion control: equivalent time does not hold, a low bake may stop however long it lasts",
}

SOURCES = (
    "Kamal and Sourour, Polymer Engineering and Science 13 (1973) 59 (from memory, not seen)",
    "Dormand and Prince, Journal of Computational and Applied Mathematics 6 (1980) 19 (from memory, not seen)",
    "cpp/methods/cure_kinetics.md",
)


@dataclass(frozen=True)
class CureKinetics:
    """A model of the cure with its parameters: rates in 1/min, energies in kJ/mol.

    Attributes
    ----------
    model : {"nth_order", "autocatalytic", "kamal"}
        da/dt = k (1 - a)^n; k a^m (1 - a)^n; (k1 + k2 a^m)(1 - a)^n.
    pre_exponential_per_min, activation_energy_kj : float
        Of k, or of Kamal's k1.
    second_pre_exponential_per_min, second_activation_energy_kj : float
        Of Kamal's k2.
    m, n : float
        Orders.
    initial_conversion : float
        Above 0 for a reaction that feeds on its own product.
    diffusion : tuple of three floats, optional
        C, a0 and a1: rates are divided by 1 + exp(C (a - (a0 + a1 T))), T in K.
    gas_constant_j : float
        Where published parameters were fitted with another figure.

    Examples
    --------
    >>> CureKinetics("nth_order", 5.0e8, 70.0, n=2.0).equivalence
    'exact'
    """

    model: Literal["nth_order", "autocatalytic", "kamal"]
    pre_exponential_per_min: float
    activation_energy_kj: float
    second_pre_exponential_per_min: float = 0.0
    second_activation_energy_kj: float = 0.0
    m: float = 0.0
    n: float = 1.0
    initial_conversion: float = 0.0
    diffusion: tuple[float, float, float] | None = None
    gas_constant_j: float = GAS_CONSTANT

    def __post_init__(self) -> None:
        """Refuse a model that is none of the three."""
        if self.model not in ("nth_order", "autocatalytic", "kamal"):
            raise InvalidInputError(f"model must be nth_order, autocatalytic or kamal, got {self.model!r}", argument="model")

    @property
    def equivalence(self) -> str:
        """What equivalent time is worth for this model: ``"exact"``, ``"approximate"`` or ``"none"``."""
        return str(self._kind()["equivalence"])

    @property
    def closed_form(self) -> bool:
        """Whether the conversion has a closed form along any trace."""
        return bool(self._kind()["closed_form"])

    def _kind(self) -> dict[str, Any]:
        return _core.cure_equivalence(*self.arguments()[:7], self.diffusion is not None)

    def arguments(
        self,
    ) -> tuple[str, float, float, float, float, float, float, float, tuple[float, float, float] | None, float]:
        """As the compiled core takes it."""
        return (
            self.model,
            self.pre_exponential_per_min,
            self.activation_energy_kj,
            self.second_pre_exponential_per_min,
            self.second_activation_energy_kj,
            self.m,
            self.n,
            self.initial_conversion,
            self.diffusion,
            self.gas_constant_j,
        )


@dataclass(frozen=True)
class KamalPeak:
    """When the rate of the Kamal model with m = n = 1 is largest, and how far the cure is then."""

    time_min: float
    conversion: float


@dataclass(frozen=True, eq=False, repr=False)
class DegreeOfCure(Result):
    """Degree of cure at each reading of a trace, from 0 to 1."""

    conversion: Floats
    time_min: Floats
    temperature_c: Floats
    kinetics: CureKinetics
    equivalence: str
    closed_form: bool

    @property
    def final(self) -> float:
        """Degree of cure at the last reading."""
        return float(self.conversion[-1])

    def sentence(self) -> str:
        text = f"By the model, the degree of cure is {fixed(self.final, 4)} after minute {number(float(self.time_min[-1]), 4)}"
        half = np.flatnonzero(self.conversion >= 0.5)
        if half.size:
            text += f", above 0.5 by minute {number(float(self.time_min[half[0]]), 4)}"
        return f"{text}; {EQUIVALENCE[self.equivalence]}."

    def _columns(self) -> dict[str, Any]:
        return {"time_min": self.time_min, "temperature_c": self.temperature_c, "conversion": self.conversion}

    def explain(self) -> Explanation:
        model = self.kinetics
        kelvin = float(self.temperature_c[-1]) + 273.15
        inputs = {
            "a": model.pre_exponential_per_min,
            "e": model.activation_energy_kj,
            "r": model.gas_constant_j,
            "kelvin": kelvin,
        }
        rate = model.pre_exponential_per_min * math.exp(-1000.0 * model.activation_energy_kj / model.gas_constant_j / kelvin)
        steps = [
            Step("rate_at_the_end_per_min", "a * exp(-1000 * e / r / kelvin)", inputs, rate),
            Step("final", "1 - rest", {"rest": 1.0 - self.final}, self.final),
        ]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "model": _formula(model),
                "between readings": "straight lines of temperature",
                "solution": "closed form in the integral of k"
                if self.closed_form
                else "adaptive Runge-Kutta of order 5, error about 1e-12",
                "equivalent time": EQUIVALENCE[self.equivalence],
            },
            sources=SOURCES,
        )


def _formula(model: CureKinetics) -> str:
    n, m = number(model.n), number(model.m)
    rates = {"nth_order": "k", "autocatalytic": f"k a^{m}", "kamal": f"(k1 + k2 a^{m})"}
    text = f"da/dt = {rates[model.model]} (1 - a)^{n}"
    return text + (", divided by 1 + exp(C (a - (a0 + a1 T)))" if model.diffusion is not None else "")


def degree_of_cure(
    time_min: Any,
    kinetics: CureKinetics,
    *,
    temperature_c: Any = None,
    temperature_f: Any = None,
    evaluate_min: Sequence[float] | None = None,
) -> DegreeOfCure:
    """Degree of cure along a trace by a model.

    Parameters
    ----------
    time_min : array
        Minutes, strictly ascending.
    kinetics : CureKinetics
    temperature_c, temperature_f : array
        Part temperature.
    evaluate_min : sequence of float, optional
        Times within the trace to give the degree at, in place of its own.

    Raises
    ------
    InvalidInputError
        Times that do not ascend, parameters that cannot be, a reaction that cannot start.

    Examples
    --------
    >>> model = CureKinetics("autocatalytic", 4.2e6, 65.0, m=0.5, n=1.5, initial_conversion=1e-4)
    >>> found = degree_of_cure([0, 77.5, 87.5], model, temperature_c=[25, 180, 180])
    >>> print(found.sentence())
    By the model, the degree of cure is 0.6880 after minute 87.5, above 0.5 by minute 87.5; one Arrhenius factor: equal
    equivalent times are equal cures, whatever the temperatures.
    """
    time, temperature, unit = trace_arrays(time_min, temperature_c, temperature_f)
    wanted = time
    if evaluate_min is not None:
        wanted = readings(list(evaluate_min), name="evaluate_min").values
        outside = np.flatnonzero((wanted < time[:1]) | (wanted > time[-1:]))
        if outside.size or not time.size:
            k = int(outside[0]) if outside.size else 0
            raise InvalidInputError(f"evaluate_min[{k}] lies outside of the trace", argument="evaluate_min", position=k)
        merged = np.union1d(time, wanted)
        temperature = np.interp(merged, time, temperature)
        time = merged
    out = np.empty(time.size)
    _core.degree_of_cure(time, temperature, *kinetics.arguments(), out)
    at = np.searchsorted(time, wanted)
    made = Made("degree_of_cure", "", len(wanted), options={"given_in": unit}, version=_core.version)
    return DegreeOfCure(
        made=made,
        conversion=frozen(out[at]),
        time_min=frozen(time[at]),
        temperature_c=frozen(temperature[at]),
        kinetics=kinetics,
        equivalence=kinetics.equivalence,
        closed_form=kinetics.closed_form,
    )


def nth_order_conversion(rate_per_min: float, time_min: float, *, order: float) -> float:
    """Conversion of nth order at one temperature; 1 once the reaction has finished, which an order below 1 does.

    Examples
    --------
    >>> nth_order_conversion(0.05, 60.0, order=2.0), nth_order_conversion(0.05, 60.0, order=0.5)
    (0.75, 1.0)
    """
    return _core.nth_order_conversion(rate_per_min, time_min, order)


def second_order_time_ratio(from_conversion: float, to_conversion: float) -> float:
    """How many times longer one conversion takes than another by second order with equal parts: the tail is long.

    Examples
    --------
    >>> round(second_order_time_ratio(0.8, 0.95), 2)
    4.75
    """
    return _core.second_order_time_ratio(from_conversion, to_conversion)


def kamal_conversion(
    time_min: Sequence[float],
    *,
    k1_per_min: float,
    k2_per_min: float,
    m: float = 1.0,
    n: float = 1.0,
    initial_conversion: float = 0.0,
) -> Floats:
    """Conversion at given times of (k1 + k2 a^m)(1 - a)^n at one temperature.

    Examples
    --------
    >>> kamal_conversion([10, 60], k1_per_min=0.002, k2_per_min=0.08).round(6).tolist()
    [0.030056, 0.768365]
    """
    times = readings(list(time_min), name="time_min").values.tolist()
    return frozen(_core.kamal_conversion(k1_per_min, k2_per_min, m, n, initial_conversion, times))


def kamal_peak(*, k1_per_min: float, k2_per_min: float) -> KamalPeak:
    """When the rate of the Kamal model with m = n = 1 is largest.

    Examples
    --------
    >>> round(kamal_peak(k1_per_min=0.002, k2_per_min=0.08).time_min, 4)
    44.9863
    """
    found = _core.kamal_peak(k1_per_min, k2_per_min)
    return KamalPeak(found["time_min"], found["conversion"])
