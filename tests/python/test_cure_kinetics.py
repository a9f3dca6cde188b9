"""Degree of cure: reference rows, SciPy's ODE solvers as oracle along traces, equivalences tried out, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy import integrate

import steadyfilm as sf

from reference import Args, adapter

R = 8.314462618


@adapter("nth_order_conversion")
def _nth(args: Args) -> dict[str, float]:
    return {
        "conversion": sf.nth_order_conversion(args.number("rate_per_min"), args.number("time_min"), order=args.number("order"))
    }


@adapter("second_order_time_ratio")
def _ratio(args: Args) -> dict[str, float]:
    return {"ratio": sf.second_order_time_ratio(args.number("from_conversion"), args.number("to_conversion"))}


@adapter("kamal_conversion")
def _kamal(args: Args) -> dict[str, Any]:
    names = ("k1_per_min", "k2_per_min", "m", "n", "initial_conversion")
    return {"conversion": sf.kamal_conversion(args.list("time_min"), **{name: args.number(name) for name in names})}


@adapter("kamal_peak")
def _peak(args: Args) -> dict[str, float]:
    found = sf.kamal_peak(k1_per_min=args.number("k1_per_min"), k2_per_min=args.number("k2_per_min"))
    return {"time_min": found.time_min, "conversion": found.conversion}


@adapter("autocatalytic_conversion")
def _autocatalytic(args: Args) -> dict[str, Any]:
    given = args.list("diffusion") if "diffusion" in args else None
    model = sf.CureKinetics(
        "autocatalytic",
        args.number("pre_exponential_per_min"),
        args.number("activation_energy_kj"),
        m=args.number("m"),
        n=args.number("n"),
        initial_conversion=args.number("initial_conversion"),
        diffusion=None if given is None else (given[0], given[1], given[2]),
        gas_constant_j=args.number("gas_constant"),
    )
    trace = {"temperature_c": args.list("temperature_c"), "evaluate_min": args.list("evaluate_min")}
    return {"conversion": sf.degree_of_cure(args.list("time_min"), model, **trace).conversion}


TIME = np.array([0.0, 8.0, 16.0, 30.0, 45.0, 50.0, 70.0, 80.0])
TEMPERATURE = np.array([25.0, 90.0, 120.0, 128.0, 130.0, 95.0, 135.0, 60.0])
FAST = {"pre_exponential_per_min": 4.2e7, "activation_energy_kj": 65.0}
GLASS = (30.0, -1.5148, 0.005171)

MODELS = {
    "first order": sf.CureKinetics("nth_order", **FAST),
    "second order": sf.CureKinetics("nth_order", **FAST, n=2.0),
    "order 1.4": sf.CureKinetics("nth_order", **FAST, n=1.4, initial_conversion=0.1),
    "autocatalytic": sf.CureKinetics("autocatalytic", **FAST, m=0.5, n=1.5, initial_conversion=1e-4),
    "autocatalytic 1 1": sf.CureKinetics("autocatalytic", **FAST, m=1.0, n=1.0, initial_conversion=1e-3),
    "autocatalytic 0.8 1.9": sf.CureKinetics("autocatalytic", **FAST, m=0.8, n=1.9, initial_conversion=1e-3),
    "with diffusion": sf.CureKinetics("autocatalytic", **FAST, m=0.5, n=1.5, initial_conversion=1e-4, diffusion=GLASS),
    "Kamal, one energy": sf.CureKinetics("kamal", 1e6, 65.0, 4.2e7, 65.0, m=1.0, n=1.0),
    "Kamal, two energies": sf.CureKinetics("kamal", 2e4, 50.0, 1e9, 75.0, m=1.0, n=1.0),
    "Kamal, any orders": sf.CureKinetics("kamal", 2e4, 50.0, 1e9, 75.0, m=0.7, n=1.6, diffusion=GLASS),
}


def example_results() -> list[Any]:
    return [sf.degree_of_cure(TIME, model, temperature_c=TEMPERATURE) for model in MODELS.values()]


def oracle(model: sf.CureKinetics) -> np.ndarray[Any, Any]:
    """The rate equation as it is written, by SciPy's implicit solver of high order, piece by piece between readings."""

    def constant(pre: float, energy: float, kelvin: float) -> float:
        return pre * math.exp(-1000.0 * energy / model.gas_constant_j / kelvin)

    def rate(t: float, y: Any) -> list[float]:
        kelvin = float(np.interp(t, TIME, TEMPERATURE)) + 273.15
        a = min(max(float(y[0]), 0.0), 1.0)
        k = constant(model.pre_exponential_per_min, model.activation_energy_kj, kelvin)
        if model.model == "autocatalytic":
            k *= a**model.m
        if model.model == "kamal":
            k += constant(model.second_pre_exponential_per_min, model.second_activation_energy_kj, kelvin) * a**model.m
        out = k * (1.0 - a) ** model.n
        if model.diffusion is not None:
            c, a0, a1 = model.diffusion
            out /= 1.0 + math.exp(c * (a - (a0 + a1 * kelvin)))
        return [out]

    values = [model.initial_conversion]
    for start, end in pairwise(TIME.tolist()):
        found = integrate.solve_ivp(rate, (start, end), [values[-1]], method="DOP853", rtol=1e-11, atol=1e-13)
        assert found.success
        values.append(float(found.y[0, -1]))
    return np.array(values)


@pytest.mark.parametrize("name", MODELS)
def test_the_cure_along_a_trace_is_that_of_an_independent_solver(name: str) -> None:
    found = sf.degree_of_cure(TIME, MODELS[name], temperature_c=TEMPERATURE)
    assert found.conversion == pytest.approx(oracle(MODELS[name]), rel=1e-8, abs=1e-10)
    assert 0.05 < found.final <= 1.0


def test_equivalent_time_is_worth_what_is_said_of_it() -> None:
    """Two traces of one equivalent time: equal cures where it is called exact, and only there."""
    minutes = sf.equivalent_time(
        TIME, temperature_c=TEMPERATURE, activation_energy_kj=65.0, reference_c=110.0, gap_medians=math.inf
    ).credited_min
    for name, model in MODELS.items():
        along = sf.degree_of_cure(TIME, model, temperature_c=TEMPERATURE).final
        held = sf.degree_of_cure([0.0, minutes], model, temperature_c=[110.0, 110.0]).final
        if model.equivalence == "exact":
            assert held == pytest.approx(along, rel=1e-9), name
        else:
            assert abs(held - along) > 2e-3, name
    said = {name: model.equivalence for name, model in MODELS.items() if model.equivalence != "exact"}
    assert said == {"with diffusion": "none", "Kamal, two energies": "approximate", "Kamal, any orders": "none"}


def test_diffusion_stops_a_low_bake_however_long() -> None:
    model = MODELS["with diffusion"]
    stopped = [sf.degree_of_cure([0.0, t], model, temperature_c=[130.0, 130.0]).final for t in (1e4, 1e5)]
    free = sf.degree_of_cure([0.0, 1e4], replace(model, diffusion=None), temperature_c=[130.0, 130.0]).final
    assert stopped[1] - stopped[0] < 0.1
    assert stopped[1] < free - 0.1


def test_times_in_between_are_on_the_same_curve() -> None:
    model = MODELS["second order"]
    fine = np.linspace(0.0, 80.0, 161)
    whole = sf.degree_of_cure(fine, model, temperature_c=np.interp(fine, TIME, TEMPERATURE)).conversion
    some = sf.degree_of_cure(TIME, model, temperature_c=TEMPERATURE, evaluate_min=fine[::10].tolist()).conversion
    # The fine grid does not hold all readings of the coarse one; its own straight lines cut their corners a little.
    assert some == pytest.approx(whole[::10], abs=2e-4)
    twice = sf.degree_of_cure(TIME, model, temperature_c=TEMPERATURE, evaluate_min=TIME.tolist()).conversion
    assert twice == pytest.approx(sf.degree_of_cure(TIME, model, temperature_c=TEMPERATURE).conversion, rel=1e-13)


def test_fahrenheit_tells_the_same() -> None:
    in_f = sf.degree_of_cure(TIME, MODELS["first order"], temperature_f=TEMPERATURE * 1.8 + 32.0)
    in_c = sf.degree_of_cure(TIME, MODELS["first order"], temperature_c=TEMPERATURE)
    assert in_f.conversion == pytest.approx(in_c.conversion, rel=1e-12)


def test_a_coarse_rk4_errs_as_known_and_the_closed_form_does_not() -> None:
    """Runge-Kutta of order 4 with 1 min steps errs by -1.2e-7 after 60 min of the Kamal case; from the closed form, that is."""
    a = 0.0
    for _ in range(60):

        def rate(x: float) -> float:
            return (0.002 + 0.08 * x) * (1.0 - x)

        k1 = rate(a)
        k2 = rate(a + k1 / 2)
        k3 = rate(a + k2 / 2)
        k4 = rate(a + k3)
        a += (k1 + 2 * k2 + 2 * k3 + k4) / 6
    error = a - float(sf.kamal_conversion([60.0], k1_per_min=0.002, k2_per_min=0.08)[0])
    assert error == pytest.approx(-1.2e-7, abs=0.5e-8)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.CureKinetics("third", 1.0, 1.0), "model must be"),  # type: ignore[arg-type]  # the refusal is tested
        (
            lambda: sf.degree_of_cure([0, 1], sf.CureKinetics("autocatalytic", 1.0, 1.0, m=1.0), temperature_c=[1, 2]),
            "cannot start without any",
        ),
        (lambda: sf.degree_of_cure([0, 0], MODELS["first order"], temperature_c=[1, 2]), "must ascend strictly"),
        (lambda: sf.degree_of_cure([0, 1], MODELS["first order"]), "one is needed"),
        (
            lambda: sf.degree_of_cure([0, 1], MODELS["first order"], temperature_c=[1, 2], evaluate_min=[3.0]),
            "outside of the trace",
        ),
        (lambda: sf.nth_order_conversion(0.1, -1.0, order=1.0), "time_min must be 0 or more"),
        (lambda: sf.second_order_time_ratio(0.5, 1.0), "to_conversion"),
        (lambda: sf.kamal_conversion([1.0], k1_per_min=0.0, k2_per_min=0.1), "cannot start"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
