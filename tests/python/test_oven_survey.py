"""The oven: reference rows, survey against NumPy, falls of the air by kind, recovery against SciPy's fit, and what is refused."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import optimize

import steadyfilm as sf

from reference import Args, adapter


@adapter("dose_ratio")
def _ratio(args: Args) -> dict[str, float]:
    names = ("target_c", "tolerance_k", "activation_energy_kj")
    found = sf.dose_ratio(**{name: args.number(name) for name in names})
    return {"low": found.low, "high": found.high}


def soak(seed: int = 2, times: int = 60) -> dict[str, np.ndarray[Any, Any]]:
    rng = np.random.default_rng(seed)
    wander = np.cumsum(rng.normal(0.0, 0.15, times))
    return {name: np.round(65.0 + off + wander + rng.normal(0.0, 0.2, times), 1) for name, off in PLACES.items()}


PLACES = {"front top": 0.9, "rear top": 1.6, "middle": 0.1, "floor left": -2.8, "floor right": -2.1}


def example_results() -> list[Any]:
    air = [66 - 12 * math.exp(-t / 6) for t in range(20)]
    return [
        sf.uniformity_survey(soak(), list(PLACES), target_c=65, activation_energy_kj=55),
        sf.uniformity_survey({"only": [20.0]}, ["only"], target_c=65, activation_energy_kj=55),
        sf.air_recovery(range(20), air_c=air, level_c=66),
    ]


def test_a_survey_is_plain_arithmetic_on_the_soak() -> None:
    readings = soak()
    grid = np.column_stack([readings[name] for name in PLACES])
    found = sf.uniformity_survey(readings, list(PLACES), target_c=65, activation_energy_kj=55)
    assert found.mean_c == pytest.approx(grid.mean(axis=0), rel=1e-12)
    assert found.spread_k == pytest.approx(np.ptp(grid, axis=1).max(), rel=1e-12)
    assert found.uniformity_k == pytest.approx(np.abs(grid - 65.0).max(), rel=1e-12)
    assert (found.coldest, found.hottest) == ("floor left", "rear top")
    factor = np.exp(55_000.0 / 8.314462618 * (1.0 / 338.15 - 1.0 / (grid + 273.15))).mean(axis=0)
    assert found.dose_ratio == pytest.approx(factor, rel=1e-12)
    in_f = {name: values * 1.8 + 32.0 for name, values in readings.items()}
    same = sf.uniformity_survey(in_f, list(PLACES), target_f=149.0, activation_energy_kj=55, unit="F")
    assert same.dose_ratio == pytest.approx(found.dose_ratio, rel=1e-12)


@pytest.mark.parametrize(("off", "named"), [(0.0, 1), (3.0, 1), (3.1, 2), (28.0, 6), (29.0, 0)])
def test_the_class_is_the_tightest_whose_tolerance_holds(off: float, named: int) -> None:
    found = sf.uniformity_survey({"a": [100.0 + off], "b": [100.0]}, ["a", "b"], target_c=100, activation_energy_kj=55)
    assert found.furnace_class == named


def test_the_recovery_is_that_of_a_general_fit() -> None:
    rng = np.random.default_rng(4)
    minutes = np.arange(0.0, 25.0)
    air = 66.0 - 12.0 * np.exp(-minutes / 6.0) + rng.normal(0.0, 0.3, minutes.size)
    found = sf.air_recovery(minutes, air_c=air, level_c=66.0)
    (drop, tau), _ = optimize.curve_fit(lambda t, d, k: 66.0 - d * np.exp(-t / k), minutes, air, p0=(10.0, 5.0))
    assert found.time_constant_min == pytest.approx(tau, rel=1e-5)
    assert found.drop_k == pytest.approx(drop, rel=1e-6)


def test_doors_and_falls_of_the_heat_are_told_apart() -> None:
    rng = np.random.default_rng(5)
    minutes = np.arange(0.0, 126.0)
    wrong = 0
    for k in range(200):
        air = 66.0 + rng.normal(0.0, 0.5, minutes.size)
        at = int(rng.integers(10, 90))
        if k % 2:
            air[at:] -= 12.0 * np.exp(-(minutes[at:] - at) / 6.0)
        else:
            air[at:] -= rng.uniform(9.0, 20.0) * (1.0 - np.exp(-(minutes[at:] - at + 1.0) / rng.uniform(0.5, 8.0)))
        falls = sf.air_falls(minutes, air_c=air, level_c=66.0)
        wrong += len(falls) != 1 or falls[0].door is not bool(k % 2)
    assert wrong == 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.uniformity_survey(soak(), [], target_c=65, activation_energy_kj=55), "one or more different columns"),
        (lambda: sf.uniformity_survey(soak(), ["midle"], target_c=65, activation_energy_kj=55), "nearest names: 'middle'"),
        (lambda: sf.uniformity_survey(soak(), ["middle"], target_c=65, activation_energy_kj=55, unit="K"), "'C' or 'F'"),
        (
            lambda: sf.uniformity_survey({"a": [1.0, None]}, ["a"], target_c=65, activation_energy_kj=5),
            "row 2: reading is missing",
        ),
        (lambda: sf.dose_ratio(target_c=60, tolerance_k=-1, activation_energy_kj=50), "tolerance_k must be 0 or more"),
        (lambda: sf.air_falls([0, 1], air_c=[1, 2]), "level_c or level_f is needed"),
        (lambda: sf.air_recovery(range(4), air_c=[70.0] * 4, level_c=66), "must start below the level"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
