"""What a schedule implies, and what an oven does to a part by first-order lag."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyfilm import _core
from steadyfilm._format import fixed, number, plural
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._temperatures import celsius
from steadyfilm.errors import InvalidInputError

__all__ = ["OvenLag", "ScheduleEnergy", "activation_energy_from_schedule", "oven_lag", "oven_lag_equivalent_time"]

GAS_CONSTANT = 8.314462618
"""J/(mol K), CODATA 2018."""


@dataclass(frozen=True, eq=False, repr=False)
class ScheduleEnergy(Result):
    """Activation energy that the points of a schedule imply, kJ/mol; interval and error are NaN for two points."""

    activation_energy_kj: float
    standard_error_kj: float
    lower_kj: float
    upper_kj: float
    ln_minutes_at_zero: float
    residual_sd: float
    temperature_c: tuple[float, ...]
    minutes: tuple[float, ...]

    def sentence(self) -> str:
        text = f"{plural(len(self.minutes), 'schedule point')} imply {number(self.activation_energy_kj, 4)} kJ/mol"
        if math.isfinite(self.lower_kj):
            level = f"{100 * self.made.options['confidence_level']:g} %"
            text += f" ({level} interval {number(self.lower_kj, 3)} to {number(self.upper_kj, 3)})"
        return text + ", heat-up allowances and rounding of the schedule among it."

    def _columns(self) -> dict[str, Any]:
        inverse = 1.0 / (np.array(self.temperature_c) + 273.15)
        fitted = np.exp(self.ln_minutes_at_zero + 1000.0 * self.activation_energy_kj / GAS_CONSTANT * inverse)
        return {
            "temperature_c": np.array(self.temperature_c),
            "minutes": np.array(self.minutes),
            "fitted_minutes": fitted,
        }

    def explain(self) -> Explanation:
        x = 1.0 / (np.array(self.temperature_c) + 273.15)
        y = np.log(self.minutes)
        sums = {
            "r": GAS_CONSTANT,
            "sxy": float(((x - x.mean()) * (y - y.mean())).sum()),
            "sxx": float(((x - x.mean()) ** 2).sum()),
        }
        return Explanation(
            title=self.sentence(),
            steps=(Step("activation_energy_kj", "r * sxy / sxx / 1000", sums, self.activation_energy_kj),),
            choices={
                "fit": "least squares of ln t on 1/T, T in K; through both points when there are two",
                "interval": "Student's t, points - 2 degrees of freedom; schedules are rounded, so it is no proof of chemistry",
            },
            sources=("cpp/methods/cure_profile.md",),
        )


@dataclass(frozen=True, eq=False, repr=False)
class OvenLag(Result):
    """A part that follows the air with a first-order lag; ``reach_min`` is infinite where it is never reached."""

    reach_min: float
    above_min: float
    exit_c: float

    def sentence(self) -> str:
        options = self.made.options
        where = f"{number(options['threshold_c'])} C"
        if math.isinf(self.reach_min):
            return f"The part never reaches {where}; it leaves at {fixed(self.exit_c, 1)} C."
        return (
            f"The part reaches {where} after {fixed(self.reach_min, 1)} min, is {fixed(self.above_min, 1)} min at or above it, "
            f"and leaves at {fixed(self.exit_c, 1)} C."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "figure": ["reaches the threshold", "time above", "temperature at the end"],
            "value": np.array([self.reach_min, self.above_min, self.exit_c]),
            "unit": ["min", "min", "C"],
        }

    def explain(self) -> Explanation:
        options = self.made.options
        inputs = {name: float(options[name]) for name in ("air_c", "start_c", "time_constant_min", "oven_min")}
        formula = "air_c - (air_c - start_c) * exp(-oven_min / time_constant_min)"
        return Explanation(
            title=self.sentence(),
            steps=(Step("exit_c", formula, inputs, self.exit_c),),
            choices={"model": "first-order lag behind air that keeps its temperature"},
            sources=("cpp/methods/cure_profile.md",),
        )


def activation_energy_from_schedule(
    minutes: Sequence[float],
    *,
    temperature_c: Sequence[float] | None = None,
    temperature_f: Sequence[float] | None = None,
    confidence_level: float = 0.95,
) -> ScheduleEnergy:
    """The activation energy that a data sheet's own points imply: slope of ln t on 1/T, times R.

    Parameters
    ----------
    minutes : sequence of float
        Time of each point.
    temperature_c, temperature_f : sequence of float
        Part temperature of each point.

    Examples
    --------
    >>> round(activation_energy_from_schedule([10, 8], temperature_c=[200, 210]).activation_energy_kj, 5)
    42.41304
    """
    if (temperature_c is None) == (temperature_f is None):
        raise InvalidInputError("give temperature_c or temperature_f, one of them", argument="temperature_c")
    given = [celsius("temperature", t, None) for t in temperature_c or ()] if temperature_c is not None else []
    given += [celsius("temperature", None, t) for t in temperature_f or ()]
    times = [float(t) for t in minutes]
    found = _core.activation_energy_from_schedule(given, times, confidence_level)
    made = Made(
        "activation_energy_from_schedule",
        "kJ/mol",
        len(times),
        options={"confidence_level": confidence_level},
        version=_core.version,
    )
    return build(ScheduleEnergy, found, made=made, temperature_c=tuple(given), minutes=tuple(times))


def oven_lag(*, air_c: float, start_c: float, time_constant_min: float, oven_min: float, threshold_c: float) -> OvenLag:
    """How a part follows the air: T = air - (air - start) exp(-t / tau).

    "An hour in an oven" is anything from nearly an hour to nothing at temperature, on one and the same body.

    Examples
    --------
    >>> print(oven_lag(air_c=66, start_c=20, time_constant_min=15, oven_min=60, threshold_c=60).sentence())
    The part reaches 60 C after 30.6 min, is 29.4 min at or above it, and leaves at 65.2 C.
    """
    options = {
        "air_c": float(air_c),
        "start_c": float(start_c),
        "time_constant_min": float(time_constant_min),
        "oven_min": float(oven_min),
        "threshold_c": float(threshold_c),
    }
    found = _core.oven_lag(*options.values())
    return build(OvenLag, found, made=Made("oven_lag", "C", 1, options=options, version=_core.version))


def oven_lag_equivalent_time(
    *,
    air_c: float,
    start_c: float,
    time_constant_min: float,
    oven_min: float,
    activation_energy_kj: float,
    reference_c: float,
) -> float:
    """Minutes at the reference that cure as much as a part that follows the air, by adaptive integration.

    Examples
    --------
    >>> lag = {"air_c": 66, "start_c": 20, "time_constant_min": 15, "oven_min": 60}
    >>> round(oven_lag_equivalent_time(**lag, activation_energy_kj=50, reference_c=60), 2)
    52.04
    """
    return _core.oven_lag_equivalent_time(air_c, start_c, time_constant_min, oven_min, activation_energy_kj, reference_c)
