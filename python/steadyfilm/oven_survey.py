"""The oven itself: cold and hot places, what its tolerance means for the dose, and air that fell and came back.

A survey by furnace classes is no requirement for paint ovens but borrowed practice. The figures say what a log shows; they never
say how an oven is to be run: air flow, exhaust and load stay as its maker and the fire code have them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import fixed, number
from steadyfilm._input import optional_numbers, readings, table
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._temperatures import celsius, from_fahrenheit, trace_arrays
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = [
    "AirFall",
    "AirRecovery",
    "DoseRatio",
    "UniformitySurvey",
    "air_falls",
    "air_recovery",
    "dose_ratio",
    "uniformity_survey",
]

Floats = NDArray[np.float64]
GAS_CONSTANT = 8.314462618

CLASSES = ((1, 3.0), (2, 6.0), (3, 8.0), (4, 10.0), (5, 14.0), (6, 28.0))
"""Furnace classes by uniformity, K either way: AMS2750 as a furnace article has them; the standard was not read."""

SOURCES = (
    "cpp/methods/oven_survey.md",
    "AMS2750, uniformity classes (as a furnace article has them; the standard was not read; no requirement for paint ovens)",
)


@dataclass(frozen=True)
class DoseRatio:
    """Cure rate at the target less and plus a tolerance, over that at the target."""

    low: float
    high: float


@dataclass(frozen=True)
class AirFall:
    """A stretch in which air that had reached its level lay below it; minutes and C.

    ``door``: it fell and rose again as after a door. Else the heat itself fell: burner, fan, or a door left open.
    """

    from_min: float
    to_min: float
    mean_c: float
    lowest_c: float
    lowest_at_min: float
    came_back: bool
    door: bool


@dataclass(frozen=True, eq=False, repr=False)
class AirRecovery(Result):
    """How the air comes back: level - drop exp(-(t - t_0) / tau)."""

    time_constant_min: float
    drop_k: float
    back_min: float
    residual_k: float

    def sentence(self) -> str:
        return (
            f"The air comes back from {number(self.drop_k, 3)} K below its level with a time constant of "
            f"{number(self.time_constant_min, 3)} min: within 1 K after {fixed(self.back_min, 0)} min."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "figure": ["time constant", "drop", "within 1 K after", "residual"],
            "value": np.array([self.time_constant_min, self.drop_k, self.back_min, self.residual_k]),
            "unit": ["min", "K", "min", "K"],
        }

    def explain(self) -> Explanation:
        inputs = {"tau": self.time_constant_min, "drop": self.drop_k}
        formula = "tau * log(max(1, drop))"
        return Explanation(
            title=self.sentence(),
            steps=(Step("back_min", formula, inputs, self.back_min),),
            choices={"fit": "least squares from the lowest reading on, the level known", "back": "within 1 K of the level"},
            sources=SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class UniformitySurvey(Result):
    """Cold and hot places of an oven during a soak; C and K, one element a place.

    Attributes
    ----------
    dose_ratio : array
        Mean cure rate of each place over that at the target: what its parts get of the dose while they are as warm as that.
    coldest, hottest : str
        Places of the lowest and highest mean.
    uniformity_k : float
        The oven keeps the target within so much, either way.
    spread_k : float
        Largest difference between two places at one time.
    furnace_class : int
        The tightest furnace class whose tolerance holds; 0 where none does.
    """

    places: tuple[str, ...]
    mean_c: Floats
    lowest_c: Floats
    highest_c: Floats
    dose_ratio: Floats
    coldest: str
    hottest: str
    coldest_once: str
    below_k: float
    above_k: float
    spread_k: float
    uniformity_k: float
    furnace_class: int
    tolerance_low: float
    tolerance_high: float

    def sentence(self) -> str:
        target = number(self.made.options["target_c"])
        cold, hot = self.places.index(self.coldest), self.places.index(self.hottest)
        shares = [fixed(float(self.dose_ratio[k]), 2) for k in (cold, hot)]
        means = [fixed(float(self.mean_c[k]), 1) for k in (cold, hot)]
        return (
            f"Coldest is {self.coldest} ({means[0]} C on average, {shares[0]} of the dose at {target} C), "
            f"hottest {self.hottest} ({means[1]} C, {shares[1]}); all readings lie within "
            f"{number(self.uniformity_k, 3)} K of {target} C."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "place": list(self.places),
            "mean_c": self.mean_c,
            "lowest_c": self.lowest_c,
            "highest_c": self.highest_c,
            "dose_ratio": self.dose_ratio,
        }

    def explain(self) -> Explanation:
        inputs = {"below": self.below_k, "above": self.above_k}
        target = float(self.made.options["target_c"]) + 273.15
        energy = 1000.0 * float(self.made.options["activation_energy_kj"]) / GAS_CONSTANT
        rate = {"energy": energy, "target": target, "tolerance": self.uniformity_k}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("uniformity_k", "max(below, above)", inputs, self.uniformity_k),
                Step("tolerance_low", "exp(energy * (1 / target - 1 / (target - tolerance)))", rate, self.tolerance_low),
                Step("tolerance_high", "exp(energy * (1 / target - 1 / (target + tolerance)))", rate, self.tolerance_high),
            ),
            choices={
                "readings": "of the soak alone: the caller leaves the heat-up out",
                "dose ratio": "mean of exp(-(E/R)(1/T - 1/T_target)) over the readings of the place",
                "class": "of furnaces, borrowed practice; no paint oven must meet one",
            },
            sources=SOURCES,
        )


def uniformity_survey(
    data: Any,
    places: Sequence[str],
    *,
    activation_energy_kj: float,
    target_c: float | None = None,
    target_f: float | None = None,
    unit: str = "C",
) -> UniformitySurvey:
    """Cold and hot places of an oven from a survey's soak.

    Parameters
    ----------
    data : table
        One column a place, one row a time; the soak alone.
    places : sequence of str
        Those columns.
    activation_energy_kj : float
        For the dose of each place.
    target_c, target_f : float
        What the oven is set to.
    unit : {"C", "F"}
        Unit of the readings.

    Raises
    ------
    DataProblemsError, InvalidInputError
        Missing readings with row and column, no place, a unit that is neither.

    Examples
    --------
    >>> soak = {"top": [66.0, 66.4, 66.2], "floor": [60.9, 61.3, 61.0], "rear": [64.8, 65.0, 65.2]}
    >>> print(uniformity_survey(soak, ["top", "floor", "rear"], target_c=65, activation_energy_kj=55).sentence())
    Coldest is floor (61.1 C on average, 0.79 of the dose at 65 C), hottest top (66.2 C, 1.07); all readings lie within 4.1 K of
    65 C.
    """
    target = celsius("target", target_c, target_f)
    if unit not in ("C", "F"):
        raise InvalidInputError(f"unit must be 'C' or 'F', got {unit!r}", argument="unit")
    whole = table(data)
    if not places or len(set(places)) < len(places):
        raise InvalidInputError("places must be one or more different columns", argument="places")
    columns = [optional_numbers(whole, name) for name in places]
    problems = [
        DataProblem(name, int(row) + 1, "", "reading is missing")
        for name, column in zip(places, columns, strict=True)
        for row in np.flatnonzero(np.isnan(column))
    ]
    if problems:
        raise DataProblemsError(problems, advice="A survey needs every place at every time: leave such rows out.")
    grid = np.column_stack(columns)
    if unit == "F":
        grid = from_fahrenheit(grid)
    found = _core.uniformity_survey(np.ascontiguousarray(grid).ravel(), len(places), target, activation_energy_kj)
    band = float(found["uniformity_k"])
    range_ = dose_ratio(target_c=target, tolerance_k=band, activation_energy_kj=activation_energy_kj)
    made = Made(
        function="uniformity_survey",
        unit="C",
        count=int(grid.size),
        frame=whole.frame,
        options={"target_c": target, "activation_energy_kj": activation_energy_kj, "unit": unit},
        version=_core.version,
    )
    names = tuple(places)
    found |= {"coldest": names[found["coldest"]], "hottest": names[found["hottest"]]}
    once = names[found.pop("coldest_first")]
    return build(
        UniformitySurvey,
        found,
        made=made,
        places=names,
        coldest_once=once,
        furnace_class=next((k for k, tolerance in CLASSES if band <= tolerance), 0),
        tolerance_low=range_.low,
        tolerance_high=range_.high,
    )


def dose_ratio(
    *,
    tolerance_k: float,
    activation_energy_kj: float,
    target_c: float | None = None,
    target_f: float | None = None,
) -> DoseRatio:
    """What a tolerance of the oven means for the dose: the cure rate at its ends over that at the target.

    Examples
    --------
    >>> found = dose_ratio(target_c=60, tolerance_k=5.6, activation_energy_kj=50)
    >>> round(found.low, 2), round(found.high, 2)
    (0.73, 1.35)
    """
    found = _core.dose_ratio(celsius("target", target_c, target_f), tolerance_k, activation_energy_kj)
    return DoseRatio(found["low"], found["high"])


def air_falls(
    time_min: Any,
    *,
    air_c: Any = None,
    air_f: Any = None,
    level_c: float | None = None,
    level_f: float | None = None,
    band_k: float = 5.0,
    least_min: float = 3.0,
    recovery_min: float = 20.0,
) -> tuple[AirFall, ...]:
    """Stretches in which air that had reached its level fell below it, doors told from heat that fell.

    Parameters
    ----------
    time_min, air_c, air_f : array
        The air's trace.
    level_c, level_f : float
        What the air is set to.
    band_k, least_min, recovery_min : float
        Below by more than this, for at least so long; a door's air is back by then. Common practice, no source.

    Examples
    --------
    >>> minutes = list(range(60))
    >>> fall = air_falls(minutes, air_c=[66.0] * 20 + [48.0] * 40, level_c=66)[0]
    >>> fall.door, fall.from_min, fall.mean_c
    (False, 19.0, 48.0)
    """
    time, air, _ = trace_arrays(time_min, air_c, air_f)
    level = celsius("level", level_c, level_f)
    return tuple(AirFall(**item) for item in _core.air_falls(time, air, level, band_k, least_min, recovery_min))


def air_recovery(
    time_min: Any, *, air_c: Any = None, air_f: Any = None, level_c: float | None = None, level_f: float | None = None
) -> AirRecovery:
    """How the air comes back after a door was opened, from its lowest reading on.

    Examples
    --------
    >>> import math
    >>> air = [66 - 12 * math.exp(-t / 6) for t in range(20)]
    >>> print(air_recovery(range(20), air_c=air, level_c=66).sentence())
    The air comes back from 12 K below its level with a time constant of 6 min: within 1 K after 15 min.
    """
    time, air, _ = trace_arrays(list(time_min), air_c, air_f)
    level = celsius("level", level_c, level_f)
    found = _core.air_recovery(time, air, level)
    made = Made(
        "air_recovery",
        "C",
        len(readings(list(time_min), name="time_min").values),
        options={"level_c": level},
        version=_core.version,
    )
    return build(AirRecovery, found, made=made)


def falls_in_words(falls: Sequence[AirFall], level_c: float) -> tuple[str, ...]:
    """Falls of the heat, in shop words; doors are how an oven is used.

    >>> falls_in_words([AirFall(19.0, 105.0, 48.0, 47.1, 60.0, False, False)], 66.0)
    ('air 18.0 K below its 66 C on average from minute 19 on',)
    """
    out = []
    for fall in falls:
        if not fall.door:
            until = f"to {fixed(fall.to_min, 0)}" if fall.came_back else "on"
            below = fixed(level_c - fall.mean_c, 1)
            out.append(f"air {below} K below its {number(level_c)} C on average from minute {fixed(fall.from_min, 0)} {until}")
    return tuple(out)
