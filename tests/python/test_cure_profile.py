"""Traces of a bake: reference rows, SciPy's integrals and regression as oracles, three states, and what is refused."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, special, stats

import steadyfilm as sf

from reference import Args, adapter

R = 8.314462618
LOG = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}


def _trace(args: Args) -> dict[str, Any]:
    unit = "temperature_c" if "temperature_c" in args else "temperature_f"
    return {"time_min": args.list("time_min"), unit: args.list(unit)}


def _rate(args: Args) -> dict[str, float]:
    return {name: args.number(name) for name in ("activation_energy_kj", "reference_c")}


def _which(args: Args) -> str:
    return "credited" if args.word("credit_gaps") == "1" else "observed"


@adapter("oven_lag")
def _lag(args: Args) -> dict[str, Any]:
    names = ("air_c", "start_c", "time_constant_min", "oven_min", "threshold_c")
    found = sf.oven_lag(**{name: args.number(name) for name in names})
    reach = "never" if math.isinf(found.reach_min) else found.reach_min
    return {"reach_min": reach, "above_min": found.above_min, "exit_c": found.exit_c}


@adapter("oven_lag_equivalent_time")
def _lag_dose(args: Args) -> dict[str, float]:
    names = ("air_c", "start_c", "time_constant_min", "oven_min", "activation_energy_kj", "reference_c")
    return {"equivalent_min": sf.oven_lag_equivalent_time(**{name: args.number(name) for name in names})}


@adapter("cure_rate_factor")
def _factor(args: Args) -> dict[str, float]:
    return {"factor": sf.cure_rate_factor(temperature_c=args.number("temperature_c"), **_rate(args))}


@adapter("activation_energy_from_schedule")
def _energy(args: Args) -> dict[str, float]:
    found = sf.activation_energy_from_schedule(args.list("time_min"), temperature_c=args.list("temperature_c"))
    return {"activation_energy_kj": found.activation_energy_kj}


@adapter("equivalent_time")
def _dose(args: Args) -> dict[str, float]:
    found = sf.equivalent_time(**_trace(args), **_rate(args))
    return {"equivalent_min": getattr(found, f"{_which(args)}_min")}


@adapter("equivalent_time_trapezoid")
def _rough(args: Args) -> dict[str, float]:
    found = sf.equivalent_time_trapezoid(**_trace(args), **_rate(args), sample_min=args.optional("sample_min"))
    return {"equivalent_min": getattr(found, f"{_which(args)}_min")}


@adapter("time_above")
def _above(args: Args) -> dict[str, float]:
    unit = "threshold_c" if "threshold_c" in args else "threshold_f"
    found = sf.time_above(**_trace(args), **{unit: args.number(unit)})
    return {"total_min": getattr(found, _which(args)).total_min}


RECIPE = sf.Recipe(
    "example",
    (sf.SchedulePoint(60.0, 60.0), sf.SchedulePoint(71.0, 30.0)),
    maximum_c=90.0,
    dose=sf.DoseWanted(60.0, 60.0, 55.0),
)


def example_results() -> list[Any]:
    minutes = np.arange(0.0, 106.0)
    part = 66.0 - 46.0 * np.exp(-minutes / 18.0)
    keep = (minutes < 60.0) | (minutes > 80.0)
    return [
        sf.profile_trace(minutes, temperature_c=part, threshold_c=60, activation_energy_kj=55, tolerance_k=2.2),
        sf.profile_trace([0.0], temperature_c=[61.0], threshold_c=60),
        sf.judge_place(minutes, temperature_c=part, recipe=RECIPE),
        sf.judge_place(minutes[keep], temperature_c=part[keep], recipe=RECIPE),
        sf.hold_owed(minutes[:50], temperature_c=part[:50], recipe=RECIPE, hold_c=62.0),
        sf.hold_owed(minutes[:50], temperature_c=part[:50], recipe=RECIPE, hold_c=50.0),
        sf.activation_energy_from_schedule([10, 8, 12], temperature_c=[200, 210, 190]),
        sf.activation_energy_from_schedule([10, 8], temperature_c=[200, 210]),
        sf.oven_lag(air_c=66, start_c=20, time_constant_min=15, oven_min=60, threshold_c=60),
        sf.oven_lag(air_c=58, start_c=20, time_constant_min=15, oven_min=60, threshold_c=60),
    ]


# -- dose ---------------------------------------------------------------------------------------------------------------


def quad_dose(time: Any, temperature: Any, energy_kj: float, reference: float) -> float:
    """The integral piece by piece with SciPy's adaptive quadrature."""
    total = 0.0
    for a, b, low, high in zip(time[:-1], time[1:], temperature[:-1], temperature[1:], strict=True):

        def factor(t: float, a: float = a, b: float = b, low: float = low, high: float = high) -> float:
            kelvin = low + (high - low) * (t - a) / (b - a) + 273.15
            return math.exp(energy_kj * 1000.0 / R * (1.0 / (reference + 273.15) - 1.0 / kelvin))

        total += integrate.quad(factor, a, b, epsabs=0.0, epsrel=1e-12)[0]
    return total


@given(st.integers(0, 10_000), st.sampled_from([0.0, 30.0, 55.0, 90.0, 140.0]), st.sampled_from([0.05, 0.6, 3.0, 25.0]))
@settings(max_examples=25, deadline=None)
def test_the_dose_is_the_integral_along_straight_lines(seed: int, energy: float, spread: float) -> None:
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.uniform(0.2, 3.0, 40))
    temperature = 60.0 + np.cumsum(rng.normal(0.0, spread, 40)).clip(-70, 120)
    found = sf.equivalent_time(
        time, temperature_c=temperature, activation_energy_kj=energy, reference_c=60.0, gap_medians=math.inf
    )
    assert found.observed_min == found.credited_min
    # The bound of the core for its largest corrected step is 5e-11; SciPy's own is 1e-12.
    assert found.credited_min == pytest.approx(quad_dose(time, temperature, energy, 60.0), rel=6e-11)


def test_a_ramp_agrees_with_the_closed_form_of_scipys_exponential_integral() -> None:
    energy, low, high = 60_000.0 / R, 298.15, 338.15

    def antiderivative(kelvin: float) -> float:
        return float(kelvin * math.exp(-energy / kelvin) - energy * special.exp1(energy / kelvin))

    exact = 20.0 / (high - low) * (antiderivative(high) - antiderivative(low)) * math.exp(energy / 333.15)
    found = sf.equivalent_time([0, 20], temperature_c=[25, 65], activation_energy_kj=60, reference_c=60)
    assert found.credited_min == pytest.approx(exact, rel=1e-11)


def test_the_dose_of_the_mean_temperature_is_another_number() -> None:
    """62.52 min for 56.25 C over 80 min at 60 kJ/mol, against 76.62 along the trace: the mean understates it by 18 %."""
    mean = 80.0 * sf.cure_rate_factor(temperature_c=56.25, reference_c=60.0, activation_energy_kj=60.0)
    whole = sf.equivalent_time(**LOG, activation_energy_kj=60, reference_c=60).credited_min
    assert mean == pytest.approx(62.52, abs=0.005)
    assert 1.0 - mean / whole == pytest.approx(0.18, abs=0.005)


def test_doubling_every_ten_degrees_is_one_energy() -> None:
    """65.9 kJ/mol between 60 and 70 C."""
    energy = R * math.log(2.0) / (1.0 / 333.15 - 1.0 / 343.15) / 1000.0
    assert energy == pytest.approx(65.9, abs=0.05)
    assert sf.cure_rate_factor(temperature_c=70.0, reference_c=60.0, activation_energy_kj=energy) == pytest.approx(2.0)


@given(st.integers(0, 1000), st.integers(1, 38))
@settings(max_examples=20, deadline=None)
def test_cutting_a_trace_cuts_its_dose_and_its_time_above(seed: int, cut: int) -> None:
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.uniform(0.5, 1.5, 40))
    temperature = 60.0 + rng.normal(0.0, 4.0, 40)

    def figures(part: slice) -> tuple[float, float]:
        dose = sf.equivalent_time(time[part], temperature_c=temperature[part], activation_energy_kj=55, reference_c=60)
        above = sf.time_above(time[part], temperature_c=temperature[part], threshold_c=60)
        return dose.credited_min, above.credited.total_min

    one, two, whole = figures(slice(0, cut + 1)), figures(slice(cut, None)), figures(slice(None))
    assert one[0] + two[0] == pytest.approx(whole[0], rel=1e-12)
    assert one[1] + two[1] == pytest.approx(whole[1], rel=1e-9, abs=1e-9)


def test_fahrenheit_and_celsius_tell_the_same() -> None:
    in_f = [t * 1.8 + 32.0 for t in LOG["temperature_c"]]
    one = sf.profile_trace(**LOG, threshold_c=60, activation_energy_kj=55)
    two = sf.profile_trace(LOG["time_min"], temperature_f=in_f, threshold_f=140, activation_energy_kj=55)
    assert two.equivalent_observed_min == pytest.approx(one.equivalent_observed_min, rel=1e-12)
    assert two.above_observed.total_min == pytest.approx(one.above_observed.total_min, rel=1e-9)
    assert two.made.options["given_in"] == "F"
    assert sf.convert_temperature_difference(9.0, given="F", wanted="C") == pytest.approx(5.0)


# -- profile ------------------------------------------------------------------------------------------------------------


def test_the_range_for_the_probes_tolerance_is_that_of_shifted_readings() -> None:
    shifted = {k: [t + d for t in LOG["temperature_c"]] for k, d in (("low", -2.2), ("high", 2.2))}
    found = sf.profile_trace(**LOG, threshold_c=60, activation_energy_kj=55, tolerance_k=2.2)
    for name, readings in shifted.items():
        dose = quad_dose(LOG["time_min"], readings, 55.0, 60.0)
        assert getattr(found, f"equivalent_{name}_min") == pytest.approx(dose, rel=1e-10)
        above = sf.time_above(LOG["time_min"], temperature_c=readings, threshold_c=60).observed.total_min
        assert getattr(found, f"above_{name}_min") == pytest.approx(above, rel=1e-6)
    # At 60 C and 55 kJ/mol a probe that is 2.2 C off changes the dose by about 13 to 14 %.
    hold = sf.profile_trace([0, 60], temperature_c=[60, 60], threshold_c=60, activation_energy_kj=55, tolerance_k=2.2)
    assert hold.equivalent_low_min / 60 - 1 == pytest.approx(-0.125, abs=0.01)
    assert hold.equivalent_high_min / 60 - 1 == pytest.approx(0.14, abs=0.01)


def test_tolerances_are_those_of_the_published_table() -> None:
    """ASTM E230 as three independent copies of its table have it; J and K alike, special wire about half."""
    assert sf.probe_tolerance("J", 400.0) == pytest.approx(3.0)
    assert sf.probe_tolerance("K", 60.0, special=True) == 1.1
    with pytest.raises(sf.InvalidInputError, match="kind must be one of"):
        sf.probe_tolerance("X", 60.0)  # type: ignore[arg-type]  # the refusal is what is tested


def test_a_gap_is_told_with_both_figures() -> None:
    minutes = [0, 5, 10, 15, 20, 25, 30, 50, 55, 60, 65, 70, 75]
    readings = [72, 95, 118, 134, 143, 147, 149, 151, 150, 149, 148, 141, 128]
    found = sf.profile_trace(minutes, temperature_f=readings, threshold_f=140, activation_energy_kj=50)
    assert found.unobserved_from_min.tolist() == [30.0]
    assert found.unobserved_to_min.tolist() == [50.0]
    assert found.observed_share == pytest.approx(32.0513 / 52.0513, abs=1e-4)
    assert "32.1 min at 60 C or above (52.1 if all unobserved stretches are credited)" in found.sentence()


@given(st.integers(0, 1000))
@settings(max_examples=15, deadline=None)
def test_the_steepest_slope_is_the_largest_fit_over_the_window(seed: int) -> None:
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.uniform(0.3, 2.0, 80))
    temperature = 20.0 + 45.0 * (1.0 - np.exp(-time / 12.0)) + rng.normal(0.0, 0.5, 80)
    slopes = []
    for i in range(80):
        ends = np.flatnonzero(time >= time[i] + 5.0)
        if ends.size:
            part = slice(i, int(ends[0]) + 1)
            slopes.append(stats.linregress(time[part], temperature[part]).slope)
    found = sf.profile_trace(time, temperature_c=temperature, threshold_c=60, gap_medians=math.inf)
    assert found.steepest_c_per_min == pytest.approx(max(slopes), rel=1e-9)


# -- schedules ----------------------------------------------------------------------------------------------------------


def test_the_energy_of_three_points_has_the_interval_of_a_regression() -> None:
    minutes, temperature = [12.0, 10.0, 8.0, 6.0], np.array([190.0, 200.0, 210.0, 225.0])
    fit = stats.linregress(1.0 / (temperature + 273.15), np.log(minutes))
    found = sf.activation_energy_from_schedule(minutes, temperature_c=temperature.tolist(), confidence_level=0.9)
    assert found.activation_energy_kj == pytest.approx(fit.slope * R / 1000.0, rel=1e-9)
    assert found.standard_error_kj == pytest.approx(fit.stderr * R / 1000.0, rel=1e-9)
    half = stats.t.ppf(0.95, 2) * fit.stderr * R / 1000.0
    assert found.upper_kj - found.lower_kj == pytest.approx(2.0 * half, rel=1e-9)


def test_fahrenheit_of_the_published_schedule_gives_its_own_energy() -> None:
    """38.8 kJ/mol from 390, 410 and 375 F as printed, 37.7 from the Celsius figures beside them."""
    in_f = sf.activation_energy_from_schedule([10, 8, 12], temperature_f=[390, 410, 375])
    assert in_f.activation_energy_kj == pytest.approx(38.8, abs=0.05)


# -- verdicts -----------------------------------------------------------------------------------------------------------


def test_the_same_log_passes_is_not_demonstrated_or_fails_by_what_is_asked() -> None:
    """52.05 min with the gap bridged, 32.05 without: 30 min pass, 45 are not demonstrated, 60 fail."""
    minutes = [0, 5, 10, 15, 20, 25, 30, 50, 55, 60, 65, 70, 75]
    readings = [72, 95, 118, 134, 143, 147, 149, 151, 150, 149, 148, 141, 128]
    states = {}
    for wanted in (30.0, 45.0, 60.0):
        recipe = sf.Recipe("example", (sf.SchedulePoint(60.0, wanted),))
        states[wanted] = sf.judge_place(minutes, temperature_f=readings, recipe=recipe).state
    assert states == {30.0: "pass", 45.0: "not demonstrated", 60.0: "fail"}


def test_exactly_what_is_asked_is_enough() -> None:
    recipe = sf.Recipe("example", (sf.SchedulePoint(60.0, 10.0),), maximum_c=60.0)
    thirds = np.linspace(0.0, 10.0, 31)
    assert sf.judge_place(thirds, temperature_c=np.full(31, 60.0), recipe=recipe).state == "pass"
    assert sf.judge_place(thirds, temperature_f=np.full(31, 140.0), recipe=recipe).state == "pass"
    assert sf.judge_place(thirds[:-1], temperature_c=np.full(30, 60.0), recipe=recipe).state == "fail"


def test_the_dose_changes_the_verdict_only_where_the_recipe_says_so() -> None:
    from dataclasses import replace

    minutes = np.arange(0.0, 76.0)
    part = 66.0 - 46.0 * np.exp(-minutes / 18.0)
    told = sf.judge_place(minutes, temperature_c=part, recipe=RECIPE)
    assert (told.state, told.schedule, told.dose) == ("fail", "fail", "pass")
    assert sf.judge_place(minutes, temperature_c=part, recipe=replace(RECIPE, dose_role="enough")).state == "pass"
    longer = np.arange(0.0, 106.0)
    full = 66.0 - 46.0 * np.exp(-longer / 18.0)
    asked = replace(RECIPE, dose=sf.DoseWanted(500.0, 60.0, 55.0))
    assert sf.judge_place(longer, temperature_c=full, recipe=asked).state == "pass"
    assert sf.judge_place(longer, temperature_c=full, recipe=replace(asked, dose_role="needed")).state == "fail"


def test_hold_owed_after_a_dip_is_what_then_makes_it_pass() -> None:
    minutes, part = [0.0, 30.0, 40.0, 60.0], [64.0, 64.0, 55.0, 62.0]
    recipe = sf.Recipe("example", (sf.SchedulePoint(60.0, 60.0),), dose=sf.DoseWanted(120.0, 60.0, 55.0))
    owed = sf.hold_owed(minutes, temperature_c=part, recipe=recipe, hold_c=62.0)
    end = minutes[-1] + owed.least_schedule_min
    done = sf.judge_place([*minutes, end], temperature_c=[*part, 62.0], recipe=recipe, gap_medians=math.inf)
    assert done.schedule == "pass"
    short = sf.judge_place([*minutes, end - 0.01], temperature_c=[*part, 62.0], recipe=recipe, gap_medians=math.inf)
    assert short.schedule == "fail"
    dose_end = minutes[-1] + owed.dose_min
    dose = sf.equivalent_time(
        [*minutes, dose_end], temperature_c=[*part, 62.0], activation_energy_kj=55, reference_c=60, gap_medians=math.inf
    )
    assert dose.observed_min == pytest.approx(120.0, rel=1e-9)


# -- what is refused ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.time_above([0, 2, 1], temperature_c=[1, 2, 3], threshold_c=60), r"time_min\[2\] must ascend strictly"),
        (lambda: sf.time_above([0, 1, 1], temperature_c=[1, 2, 3], threshold_c=60), "1 equals the time before it"),
        (lambda: sf.time_above([0, 1], temperature_c=[1, 2], threshold_c=60, threshold_f=140), "not both"),
        (lambda: sf.time_above([0, 1], threshold_c=60), "one is needed"),
        (lambda: sf.time_above([0, 1], temperature_c=[1, 2]), "threshold_c or threshold_f is needed"),
        (lambda: sf.time_above([0, 1], temperature_c=[1, None], threshold_c=60), "reading is missing"),
        (lambda: sf.time_above([0, 1], temperature_c=[1], threshold_c=60), "needs 2 elements"),
        (lambda: sf.time_above([0, 1], temperature_c=[1, 2], threshold_c=60, state=[0, 7]), "0, 1 or 2"),
        (lambda: sf.equivalent_time([0, 1], temperature_c=[1, -300], activation_energy_kj=5, reference_c=1), "absolute zero"),
        (lambda: sf.Recipe("x", ()), "at least one schedule point"),
        (lambda: sf.Recipe("x", (sf.SchedulePoint(60.0, 0.0),)), "minutes above 0"),
        (lambda: sf.Recipe("x", (sf.SchedulePoint(60.0, 1.0),), maximum_c=50.0), "below every schedule point"),
        (lambda: sf.profile_trace(**LOG, threshold_c=60, tolerance_k=-1), "tolerance_k must be 0 or more"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
