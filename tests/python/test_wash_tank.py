"""Wash tanks: worked cases, balances of matter, a simulated tank whose pump sticks, units, and what is refused."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

import steadyfilm as sf

from reference import Args, adapter


@adapter("addition_volume")
def _addition(args: Args) -> dict[str, float]:
    given = {name: args.number(name) for name in ("tank_gal", "from_percent", "to_percent")}
    found = sf.tank_addition(**given)
    return {"simple_gal": found.simple, "exact_gal": found.exact}


@adapter("drag_out_concentration")
def _drag(args: Args) -> dict[str, float]:
    tank = {name: args.number(name) for name in ("tank_gal", "loss_gal_h")}
    return {"percent": sf.drag_out_concentration(args.number("start_percent"), args.number("hours"), **tank)}


@adapter("rinse_ratio")
def _rinse(args: Args) -> dict[str, float]:
    return {"percent": sf.rinse_ratio(drag_gal_h=args.number("drag_gal_h"), flow_gal_h=args.number("flow_gal_h"))}


@adapter("rinse_flow_for_ratio")
def _flow(args: Args) -> dict[str, float]:
    return {"flow_gal_h": sf.rinse_flow_for_ratio(args.number("ratio_percent"), drag_gal_h=args.number("drag_gal_h"))}


def _panel(args: Args) -> dict[str, Any]:
    return {"width_in": args.number("width_in"), "length_in": args.number("length_in"), "sides": args.count("sides")}


@adapter("coating_weight")
def _weight(args: Args) -> dict[str, float]:
    found = sf.coating_weight(args.number("loss_mg"), **_panel(args))
    return {"mg_ft2": found.mg_per_ft2, "g_m2": found.g_per_m2}


@adapter("coating_weight_error")
def _error(args: Args) -> dict[str, float]:
    balance = {"balance_mg": args.number("balance_mg"), "weighings": args.count("weighings")}
    return {"mg_ft2": sf.coating_weight(10.0, **_panel(args), **balance).error_mg_per_ft2}


START = np.datetime64("2026-03-02T06:00")


def pump_log(*, stuck_from: int | None = 60, seed: int = 3) -> dict[str, Any]:
    """A bath fed for what it loses, ten days of sixteen hours; the pump may stick. Meter every 2 h, two titrations a day."""
    rng = np.random.default_rng(seed)
    volume, loss, level, total = 600.0, 12.0, 3.0, 100.0
    log: dict[str, Any] = {"when": [], "meter": [], "checked": [], "percent": []}
    step = 0
    for day in range(10):
        for slot in range(9):
            when = START + np.timedelta64(24 * day + 2 * slot, "h")
            if slot:
                fed = 0.0 if stuck_from is not None and step >= stuck_from else loss * 2 * 0.03 * rng.normal(1, 0.03)
                total += fed
                level = level * math.exp(-loss * 2 / volume) + 100.0 * fed / volume
                step += 1
            log["when"].append(str(when))
            log["meter"].append(round(total, 3))
            if slot in (2, 6):
                log["checked"].append(str(when))
                log["percent"].append(round(level + rng.normal(0, 0.05), 2))
    return log


def consumption(log: dict[str, Any], **options: Any) -> sf.Consumption:
    given: dict[str, Any] = {"unit": "gal", "per": "h", "time": log["when"], "longest_gap": timedelta(hours=3), "baseline": 40}
    bath = {"titrations": log["percent"], "titration_time": log["checked"], "lower_percent": 2.5, "upper_percent": 3.5}
    return sf.consumption_chart(log["meter"], **(given | bath | options))


def example_results() -> list[Any]:
    return [
        sf.titration(8.0, percent_per_ml=0.35, reading_uncertainty_ml=0.1, lower_percent=2.5, upper_percent=3.5),
        sf.titration(8.0, percent_per_ml=0.35),
        sf.tank_addition(tank_gal=1200, from_percent=2.5, to_percent=3.0),
        sf.tank_addition(tank_l=4500, from_percent=3.0, to_percent=3.0),
        sf.coating_weight(14.6, width_in=4, length_in=6, balance_mg=0.2),
        consumption(pump_log()),
        sf.consumption_chart(
            [5.0, 5.2, 4.9, 5.1], unit="gal", per="ft2", exposure=[1000.0, 1010.0, 990.0, 1000.0], metered=False
        ),
    ]


@given(st.floats(0.5, 10), st.floats(0, 20), st.floats(100, 5000), st.floats(0, 40))
def test_drag_out_agrees_with_an_integrated_balance(start: float, loss: float, tank: float, hours: float) -> None:
    oracle = solve_ivp(lambda _, c: -loss / tank * c, (0, max(hours, 1e-9)), [start], rtol=1e-10, atol=1e-12).y[0, -1]
    assert sf.drag_out_concentration(start, hours, tank_gal=tank, loss_gal_h=loss) == pytest.approx(oracle, rel=1e-7)


def test_liters_and_gallons_tell_the_same() -> None:
    gallon = 3.785411784
    found = sf.tank_addition(tank_l=1200 * gallon, from_percent=2.5, to_percent=3.0)
    assert found.exact == pytest.approx(gallon * sf.tank_addition(tank_gal=1200, from_percent=2.5, to_percent=3.0).exact)
    assert "of concentrate lift 4542 l from 2.5 to 3.0 %" in found.sentence()
    inch = sf.coating_weight(14.6, width_in=4, length_in=6)
    assert sf.coating_weight(14.6, width_mm=101.6, length_mm=152.4).g_per_m2 == pytest.approx(inch.g_per_m2)
    assert sf.hours_to_concentration(3.0, 2.5, tank_l=600, loss_l_h=12) == pytest.approx(50 * math.log(1.2))


@pytest.mark.parametrize(
    ("ml", "state"), [(8.0, "inside"), (7.0, "outside"), (7.2, "doubtful"), (10.0, "doubtful"), (11.0, "outside")]
)
def test_a_titration_near_a_limit_is_doubtful(ml: float, state: str) -> None:
    found = sf.titration(ml, percent_per_ml=0.35, reading_uncertainty_ml=0.05, lower_percent=2.5, upper_percent=3.5)
    # Limits lie at 7.14 and 10 mL, twice the uncertainty is 0.1 mL.
    assert found.state == state


def test_a_limit_itself_is_inside() -> None:
    assert sf.titration(3.0, percent_per_ml=0.1, lower_percent=0.1 * 3, upper_percent=0.5).state == "inside"
    assert sf.titration(3.0, percent_per_ml=0.1, lower_percent=0.3, upper_percent=0.5).state == "inside"


def test_a_stuck_pump_is_seen_in_its_first_interval_before_the_titration_leaves_its_band() -> None:
    log = pump_log()
    found = consumption(log)
    first = found.chart.signals[0].point
    assert first == 60  # sixty good intervals of two hours, then none
    assert found.chart.values[60:].tolist() == [0.0] * 20
    ends = [w for w, before in zip(log["when"][1:], log["when"], strict=False) if np.datetime64(w) - np.datetime64(before) < 180]
    assert found.first_signal == ends[60]
    assert found.lead_hours > 0
    assert "Use changed: nothing is used in interval 61" in found.sentence()
    assert "a titration leaves its band" in found.sentence()
    assert (found.left_out, found.used_left_out) == (9, 0.0)  # nights


def test_quiet_pumps_are_called_as_seldom_as_three_sigma_limits_promise() -> None:
    found = [consumption(pump_log(stuck_from=None, seed=seed)) for seed in range(40)]
    # 80 intervals each; with limits from 40 intervals about 0.5 % lie beyond them.
    assert sum(len(one.chart.signals) for one in found) <= 40 * 80 * 0.012
    for one in found:
        assert one.sentence().startswith("Use changed" if one.chart.signals else "Use is steady over 80 intervals")


def test_more_use_for_the_area_painted_is_a_leak_or_drag_out() -> None:
    rng = np.random.default_rng(2)
    area = rng.uniform(2000, 3500, 30)
    used = area * 0.002 * rng.normal(1, 0.03, 30)
    used[24:] *= 1.3
    found = sf.consumption_chart(used, unit="gal", per="ft2", exposure=area, metered=False, baseline=20)
    assert found.chart.values == pytest.approx(used / area)
    assert found.chart.signals[0].point == 24
    assert "use rises to" in found.sentence()
    # In the plain amounts the same shift is hidden by how much was painted: they show it later, with the same baseline.
    usual = sf.individuals_chart(used[:20], unit="gal")
    plain = sf.individuals_chart(used, unit="gal", center=usual.center, sigma_within=usual.sigma_within)
    assert all(signal.point > 24 for signal in plain.signals)


def test_intervals_without_area_are_no_points_and_are_counted() -> None:
    found = sf.consumption_chart([0.0, 1.0, 2.1, 2.6, 3.6], unit="gal", per="ft2", exposure=[0.0, 500.0, 510.0, 0.0, 490.0])
    assert found.used.tolist() == pytest.approx([1.0, 1.1, 1.0])
    assert (found.left_out, found.used_left_out) == (1, pytest.approx(0.5))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.tank_addition(from_percent=2, to_percent=3), "give one of tank_gal and tank_l"),
        (lambda: sf.tank_addition(tank_gal=1, tank_l=1, from_percent=2, to_percent=3), "got 2"),
        (lambda: sf.tank_addition(tank_gal=10, from_percent=3, to_percent=2), "cannot lower a concentration"),
        (lambda: sf.drag_out_concentration(3.0, 8, tank_gal=1200, loss_l_h=2), "both in gallons or both in liters"),
        (lambda: sf.coating_weight(1.0, width_in=4, length_mm=6), "must be in one unit"),
        (lambda: sf.coating_weight(1.0, width_in=4, length_in=6, sides=3), "sides must be 1 or 2"),
        (lambda: sf.titration(8.0, percent_per_ml=0.35, lower_percent=2.5), "both of its limits"),
        (lambda: sf.titration(8.0, percent_per_ml=0.35, lower_percent=3.5, upper_percent=2.5), "must lie below"),
        (lambda: sf.consumption_chart([3.0, 2.0, 4.0], unit="gal", per="h", exposure=[1.0] * 3), "split the log"),
        (lambda: sf.consumption_chart([1.0, 2.0, 4.0], unit="gal", per="h"), "give exposure"),
        (lambda: sf.consumption_chart([1.0, 2.0, 4.0], unit="gal", per="h", exposure=[0.0] * 3), "two or more are needed"),
        (lambda: sf.consumption_chart([1.0, None], unit="gal", per="h", exposure=[1.0] * 2), "row 2: reading is missing"),
        (lambda: consumption(pump_log(), titration_time=None), "titrations need their times"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


def test_worked_figures_of_the_trade() -> None:
    """Worked cases of the coating trade beside those in the reference rows; each follows from the numbers named."""
    # A burette read to 0.1 mL at 0.35 % a mL knows a concentration to 0.035 %.
    assert sf.titration(8.0, percent_per_ml=0.35, reading_uncertainty_ml=0.1).standard_uncertainty == pytest.approx(
        0.035, rel=1e-12
    )
    # 35 mg/ft2, the least for iron phosphate by summaries of a US federal specification, is 0.377 g/m2; balance twice 0.2 mg.
    assert sf.convert(35.0, given="mg/ft2", wanted="g/m2") == pytest.approx(0.377, abs=0.0005)
    panel = sf.coating_weight(14.6, width_in=4, length_in=6, balance_mg=0.2)
    assert panel.area_m2 / 0.09290304 == pytest.approx(0.3333, abs=0.00005)
    # 600 gal that lose 12 gal an hour, unfed from 3.0 %.
    bath = {"tank_gal": 600.0, "loss_gal_h": 12.0}
    for hours, percent in ((4, 2.77), (8, 2.56), (12, 2.36), (32, 1.58)):
        assert sf.drag_out_concentration(3.0, hours, **bath) == pytest.approx(percent, abs=0.005)
    assert sf.hours_to_concentration(3.0, 2.5, **bath) == pytest.approx(9.1, abs=0.05)
    left = sf.drag_out_concentration(3.0, 32, **bath)
    assert sf.tank_addition(tank_gal=600, from_percent=left, to_percent=3.0).exact == pytest.approx(8.6, abs=0.05)


@pytest.mark.parametrize(("phi", "reach", "alarms"), [(0.3, 2.51, 1.2), (0.5, 2.12, 3.4), (0.7, 1.64, 10.0), (0.9, 0.95, 34.0)])
def test_limits_from_moving_ranges_of_a_bath_that_remembers_are_too_close(phi: float, reach: float, alarms: float) -> None:
    """AR(1): the moving range sees sqrt(1 - phi) of the SD, so that limits at "3 sigma" lie at 3 sqrt(1 - phi) (exact)."""
    assert 3.0 * math.sqrt(1.0 - phi) == pytest.approx(reach, abs=0.005)
    assert 200.0 * sf.normal_survival(3.0 * math.sqrt(1.0 - phi)) == pytest.approx(alarms, abs=0.5 if alarms > 30 else 0.05)
    rng = np.random.default_rng(8)
    fresh = rng.normal(size=60_000) * math.sqrt(1.0 - phi**2)
    level = np.empty_like(fresh)
    level[0] = rng.normal()
    for k in range(1, level.size):
        level[k] = phi * level[k - 1] + fresh[k]
    chart = sf.individuals_chart(level, unit="%", center=0.0)
    assert chart.limits.upper == pytest.approx(reach, rel=0.02)
    assert 100.0 * np.mean(np.abs(level) > chart.limits.upper) == pytest.approx(alarms, rel=0.12)
