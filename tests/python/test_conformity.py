"""Guard bands, chance of conformance, risks and operating curve: against SciPy's integrals, simulation, and what must hold."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

import steadyfilm as sf

from reference import Args, adapter


@adapter("acceptance_limit_for_risk")
def _limit(args: Args) -> dict[str, float]:
    found = sf.acceptance_limit_for_risk(
        unit="", upper=args.number("upper"), consumer_risk=args.number("consumer_risk"), **_process(args)
    )
    assert found.accept_upper is not None
    return {"accept_upper": found.accept_upper}


@adapter("acceptance_limit_relative")
def _relative(args: Args) -> dict[str, float]:
    limit = sf.acceptance_limit_relative(
        args.number("limit"),
        relative_uncertainty=args.number("relative_uncertainty"),
        confidence_level=args.number("confidence_level"),
    )
    return {"acceptance_limit": limit}


@adapter("conformance_probability")
def _probability(args: Args) -> dict[str, float]:
    names = ("lower", "upper", "degrees_of_freedom")
    chance = sf.conformance_probability(
        args.number("value"),
        standard_uncertainty=args.number("standard_uncertainty"),
        **{name: args.optional(name) for name in names},
    )
    return {"probability": chance}


@adapter("false_accept_at_limit")
def _at_limit(args: Args) -> dict[str, float]:
    chance = sf.false_accept_at_limit(args.number("guard_over_expanded"), coverage_factor=args.number("coverage_factor"))
    return {"probability": chance}


@adapter("guard_band_factor")
def _factor(args: Args) -> dict[str, float]:
    return {"factor": sf.guard_band_factor(args.number("alpha"), sides=args.count("sides"))}


def _process(args: Args) -> dict[str, Any]:
    names = ("mean", "sigma_process", "shape", "rate", "standard_uncertainty")
    return {name: args.optional(name) for name in names if name in args}


def _joint(args: Args) -> dict[str, float]:
    limits = {name: args.optional(name) for name in ("lower", "upper", "accept_lower", "accept_upper")}
    found = sf.acceptance_risks(unit="", **limits, **_process(args))
    names = ("consumer_risk", "producer_risk", "conforming", "nonconforming")
    return {name: getattr(found, name) for name in names}


adapter("joint_risks")(_joint)
adapter("joint_risks_prior")(_joint)

LAYER = {"unit": "mil", "lower": 1.0, "upper": 1.2}
PROCESS = {"mean": 1.1, "sigma_process": 0.05}


def example_results() -> list[Any]:
    plan = {"unit": "mil", "sigma_location": 0.13, "sigma_repeat": 0.05, "location_count": 5, "readings_per_location": 3}
    return [
        sf.guard_band(**LAYER, standard_uncertainty=0.02, bias_bound=0.01),
        sf.guard_band(**LAYER, standard_uncertainty=0.08),
        sf.guard_band(unit="um", lower=42.0, standard_uncertainty=1.5),
        sf.assess_reading(1.18, **LAYER, standard_uncertainty=0.03),
        sf.assess_reading(1.1, **LAYER, standard_uncertainty=0.03, degrees_of_freedom=8),
        sf.assess_reading(38.0, unit="um", lower=42.0, standard_uncertainty=1.5),
        sf.acceptance_risks(**LAYER, standard_uncertainty=0.03, **PROCESS),
        sf.acceptance_risks(**LAYER, accept_lower=1.05, accept_upper=1.15, standard_uncertainty=0.03, **PROCESS),
        sf.acceptance_risks(unit="um", upper=2.0, standard_uncertainty=0.25, shape=4.0, rate=4.0),
        sf.acceptance_limit_for_risk(**LAYER, standard_uncertainty=0.03, consumer_risk=0.01, **PROCESS),
        sf.acceptance_limit_for_risk(**LAYER, standard_uncertainty=0.03, consumer_risk=0.2, **PROCESS),
        sf.operating_curve(**plan, lower=3.0, upper=3.5),
        sf.operating_curve(**plan, lower=3.0),
        sf.operating_curve(**plan, lower=3.0, upper=3.1),
    ]


# -- risks against other ways -------------------------------------------------------------------------------------------


def _double_integral(
    pdf: Any, ends: tuple[float, float], window: tuple[float, float], accept: tuple[float, float], u: float
) -> tuple[float, float]:
    """Consumer's and producer's risk by SciPy's adaptive double integral of the joint density."""
    low, high = ends

    def density(y: float, x: float) -> float:
        return float(pdf(x) * math.exp(-0.5 * ((y - x) / u) ** 2) / (u * math.sqrt(2 * math.pi)))

    def piece(x0: float, x1: float, y0: float, y1: float) -> float:
        if not x0 < x1 or not y0 < y1:
            return 0.0
        return float(integrate.dblquad(density, x0, x1, y0, y1, epsabs=1e-10, epsrel=1e-9)[0])

    below, above = low - 9 * u, high + 9 * u
    consumer = piece(low, window[0], *accept) + piece(window[1], high, *accept)
    inside = (max(low, window[0]), min(high, window[1]))
    producer = piece(*inside, below, accept[0]) + piece(*inside, accept[1], above)
    return consumer, producer


@pytest.mark.parametrize(
    ("process", "window", "accept", "u"),
    [
        (PROCESS, (1.0, 1.2), (1.02, 1.17), 0.03),
        ({"mean": 0.0, "sigma_process": 1.0}, (-0.5, 2.0), (-1.0, 1.5), 0.6),
        ({"shape": 2.5, "rate": 2.0}, (0.4, 2.0), (0.5, 1.9), 0.2),
    ],
)
def test_risks_agree_with_a_double_integral(
    process: dict[str, float], window: tuple[float, float], accept: tuple[float, float], u: float
) -> None:
    if "mean" in process:
        mean, sd = process["mean"], process["sigma_process"]
        pdf = lambda x: math.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))  # noqa: E731
        ends = (mean - 8 * sd, mean + 8 * sd)
    else:
        pdf = lambda x: 2**2.5 * x**1.5 * math.exp(-2 * x) / math.gamma(2.5)  # noqa: E731
        ends = (0.0, 20.0)
    consumer, producer = _double_integral(pdf, ends, window, accept, u)
    found = sf.acceptance_risks(
        unit="mil",
        lower=window[0],
        upper=window[1],
        accept_lower=accept[0],
        accept_upper=accept[1],
        standard_uncertainty=u,
        **process,
    )
    assert found.consumer_risk == pytest.approx(consumer, abs=3e-10)
    assert found.producer_risk == pytest.approx(producer, abs=3e-10)


def test_risks_agree_with_simulation() -> None:
    rng, size = np.random.default_rng(7), 400_000
    true = rng.gamma(0.6, 1 / 1.5, size)  # a density with a pole at 0
    read = true + rng.normal(0.0, 0.1, size)
    found = sf.acceptance_risks(unit="um", upper=0.8, accept_upper=0.7, standard_uncertainty=0.1, shape=0.6, rate=1.5)
    shares = {
        "consumer_risk": (read <= 0.7) & (true > 0.8),
        "producer_risk": (read > 0.7) & (true <= 0.8),
        "accepted": read <= 0.7,
        "nonconforming": true > 0.8,
    }
    for name, seen in shares.items():
        error = math.sqrt(seen.mean() * (1 - seen.mean()) / size)
        assert getattr(found, name) == pytest.approx(seen.mean(), abs=4 * error), name


@given(st.floats(-2, 2), st.floats(0.05, 2), st.floats(0.001, 2), st.floats(-0.4, 0.4), st.booleans(), st.booleans())
def test_risks_are_the_margins_of_one_table(
    mean: float, sd: float, u: float, guard: float, has_lower: bool, has_upper: bool
) -> None:
    lower, upper = -1.0 if has_lower or not has_upper else None, 1.0 if has_upper else None
    accept = {
        "accept_lower": None if lower is None else lower + guard,
        "accept_upper": None if upper is None else upper - guard,
    }
    found = sf.acceptance_risks(unit="", lower=lower, upper=upper, **accept, standard_uncertainty=u, mean=mean, sigma_process=sd)
    both = math.hypot(sd, u)
    low, high = (-np.inf if x is None else x for x in (accept["accept_lower"], accept["accept_upper"]))
    high = np.inf if accept["accept_upper"] is None else high
    assert found.accepted == pytest.approx(stats.norm.cdf((high - mean) / both) - stats.norm.cdf((low - mean) / both), abs=1e-11)
    assert found.conforming - found.producer_risk + found.consumer_risk == pytest.approx(found.accepted, abs=1e-11)
    assert 0 <= found.consumer_risk <= found.nonconforming + 1e-12
    assert 0 <= found.producer_risk <= found.conforming + 1e-12


def test_a_guard_band_trades_the_consumers_risk_for_the_producers() -> None:
    guards = np.linspace(-0.05, 0.09, 15)
    found = [
        sf.acceptance_risks(**LAYER, accept_lower=1.0 + g, accept_upper=1.2 - g, standard_uncertainty=0.03, **PROCESS)
        for g in guards
    ]
    assert (np.diff([one.consumer_risk for one in found]) < 0).all()
    assert (np.diff([one.producer_risk for one in found]) > 0).all()


def test_risks_are_the_same_in_micrometers() -> None:
    mil = sf.acceptance_risks(**LAYER, standard_uncertainty=0.03, **PROCESS)
    um = sf.acceptance_risks(
        unit="um", lower=25.4, upper=1.2 * 25.4, standard_uncertainty=0.03 * 25.4, mean=1.1 * 25.4, sigma_process=0.05 * 25.4
    )
    assert um.consumer_risk == pytest.approx(mil.consumer_risk, rel=1e-9)
    assert um.producer_risk == pytest.approx(mil.producer_risk, rel=1e-9)


# -- a reading ----------------------------------------------------------------------------------------------------------


def test_chance_of_conformance_agrees_with_simulated_true_values() -> None:
    """A flat process: of true values whose reading fell near 1.18, the share inside is the chance that is told."""
    rng = np.random.default_rng(3)
    true = rng.uniform(0.8, 1.6, 2_000_000)
    read = true + rng.normal(0, 0.03, true.size)
    near = np.abs(read - 1.18) < 0.0005
    inside = ((true[near] >= 1.0) & (true[near] <= 1.2)).mean()
    error = math.sqrt(inside * (1 - inside) / near.sum())
    assert sf.assess_reading(1.18, **LAYER, standard_uncertainty=0.03).probability == pytest.approx(inside, abs=4 * error)


def test_guard_band_keeps_its_chance_of_a_wrong_decision_at_the_limit() -> None:
    band = sf.guard_band(**LAYER, standard_uncertainty=0.02, alpha=0.05)
    assert band.accept_lower is not None
    assert band.reject_lower is not None
    assert stats.norm.sf(band.accept_lower, 1.0, 0.02) == pytest.approx(0.05, rel=1e-12)  # true value on the limit
    assert stats.norm.cdf(band.reject_lower, 1.0, 0.02) == pytest.approx(0.05, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "name", "inside"),
    [
        (1.1, "clearly in", True),
        (1.18, "doubtful", True),
        (1.2, "doubtful", True),
        (1.21, "doubtful", False),
        (1.3, "clearly out", False),
        (0.9, "clearly out", False),
    ],
)
def test_a_reading_is_told_apart_from_the_verdict_of_the_plain_limits(value: float, name: str, inside: bool) -> None:
    found = sf.assess_reading(value, **LAYER, standard_uncertainty=0.03)
    assert (found.guard_band_class, found.inside) == (name, inside)
    assert name in found.sentence()


def test_a_limit_that_is_no_double_is_met() -> None:
    found = sf.assess_reading(0.88, unit="mil", lower=0.8 * 1.1, standard_uncertainty=0.01)
    assert found.inside
    assert found.probability == pytest.approx(0.5)


def test_few_degrees_of_freedom_make_the_chance_less_sure() -> None:
    sure = sf.assess_reading(1.15, **LAYER, standard_uncertainty=0.02)
    unsure = sf.assess_reading(1.15, **LAYER, standard_uncertainty=0.02, degrees_of_freedom=2)
    law = stats.t(2, 1.15, 0.02)
    assert unsure.probability == pytest.approx(law.cdf(1.2) - law.cdf(1.0), rel=1e-12)
    assert unsure.probability < sure.probability


def test_a_window_narrower_than_its_guard_bands_has_nothing_clearly_in() -> None:
    band = sf.guard_band(**LAYER, standard_uncertainty=0.08)
    assert band.left is not None
    assert band.left < 0
    assert set(band.classes(np.linspace(0.9, 1.3, 41))) == {"doubtful"}
    assert "no reading can be clearly in" in band.sentence()


# -- operating curve ----------------------------------------------------------------------------------------------------


def test_operating_curve_agrees_with_simulated_units() -> None:
    rng, units = np.random.default_rng(5), 20_000
    means = np.array([2.97, 3.05, 3.3, 3.52])
    places = rng.normal(0, 0.13, (units, 5))
    average = (places + rng.normal(0, 0.05, (units, 5, 3)).mean(axis=2)).mean(axis=1) + rng.normal(0, 0.02, units)
    found = sf.operating_curve(
        unit="mil",
        lower=3.0,
        upper=3.5,
        sigma_location=0.13,
        sigma_repeat=0.05,
        sigma_common=0.02,
        location_count=5,
        readings_per_location=3,
        means=means,
    )
    for mean, chance in zip(means, found.probability, strict=True):
        seen = ((average + mean >= 3.0) & (average + mean <= 3.5)).mean()
        assert chance == pytest.approx(seen, abs=4 * math.sqrt(0.25 / units))


def test_points_of_the_operating_curve_lie_on_it() -> None:
    found = sf.operating_curve(
        unit="mil", lower=3.0, upper=3.5, sigma_location=0.13, sigma_repeat=0.05, location_count=5, readings_per_location=3
    )
    law = stats.norm(0, found.sigma_average)
    for at, chance in ((found.good_lower, 0.95), (found.good_upper, 0.95), (found.poor_lower, 0.1), (found.poor_upper, 0.1)):
        assert at is not None
        assert law.cdf(3.5 - at) - law.cdf(3.0 - at) == pytest.approx(chance, rel=1e-10)
    one = sf.operating_curve(unit="mil", lower=3.0, sigma_location=0.13, sigma_repeat=0.05, location_count=5)
    assert one.good_upper is None
    assert one.poor_upper is None
    assert one.good_lower == pytest.approx(3.0 + stats.norm.ppf(0.95) * one.sigma_average)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.guard_band(unit="mil", standard_uncertainty=0.1), "lower or upper is needed"),
        (lambda: sf.guard_band(**LAYER, standard_uncertainty=-0.1), r"standard_uncertainty must be 0 or more \(-0.1\)"),
        (lambda: sf.guard_band(**LAYER, standard_uncertainty=0.1, alpha=0.7), "alpha must be at most 1/2"),
        (lambda: sf.guard_band(unit="mil", lower=2.0, upper=1.0, standard_uncertainty=0.1), "must lie below"),
        (lambda: sf.assess_reading(math.nan, **LAYER, standard_uncertainty=0.1), "value is not finite"),
        (lambda: sf.acceptance_risks(**LAYER, standard_uncertainty=0.1), "mean and sigma_process"),
        (lambda: sf.acceptance_risks(**LAYER, standard_uncertainty=0.1, mean=1.0, sigma_process=0.1, shape=1.0), "mean and"),
        (lambda: sf.acceptance_risks(**LAYER, standard_uncertainty=0.1, mean=1.0, sigma_process=-1.0), "sigma_process must be"),
        (lambda: sf.acceptance_risks(**LAYER, standard_uncertainty=0.1, shape=0.0, rate=1.0), "shape must be"),
        (
            lambda: sf.acceptance_limit_for_risk(**LAYER, standard_uncertainty=0.1, consumer_risk=1.0, **PROCESS),
            "consumer_risk must",
        ),
        (lambda: sf.acceptance_limit_relative(60.0, relative_uncertainty=0.03, side="left"), "lower or upper, got left"),
        (lambda: sf.guard_band_factor(0.05, sides=3), "sides must be 1 or 2"),
        (
            lambda: sf.operating_curve(unit="mil", lower=1.0, sigma_location=0.1, sigma_repeat=0.1, location_count=0),
            "location_count must be 1 or more",
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
