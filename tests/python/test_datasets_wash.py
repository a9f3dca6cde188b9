"""The invented shop's washer, panels and output: what a tank does by itself, the stuck pump, and other shops' washers."""

from __future__ import annotations

import dataclasses
import importlib
import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from helpers import DATASETS, load_dataset

Floats = NDArray[np.float64]

shop = load_dataset("truck_bodies")
figures = importlib.import_module(f"{shop.__name__}.figures")
wash = importlib.import_module(f"{shop.__name__}.wash")
SHOP = shop.SHOP
PHOSPHATE = SHOP.washer.stages[2]
CLEANER = SHOP.washer.stages[0]
SEEDS = range(1, 21)


def even(scenario: Any) -> Any:
    """The same washer with an even feed and exact titrations."""
    at = "washer.stages.phosphate"
    changes = {f"{at}.supply.stroke_sd": 0.0, f"{at}.titration_sd": 0.0, f"{at}.ph_sd": 0.0, "panels.weight_sd": 0.0}
    return shop.variant(scenario, {**changes, "washer.stages.cleaner.titration_sd": 0.0})


def checks(month: Any, tank: str, quantity: str) -> Floats:
    """One quantity by day and check."""
    log = month.logs["wash_checks"].columns
    found: Floats = log["value"][(log["tank"] == tank) & (log["quantity"] == quantity)].reshape(len(month.days), -1)
    return found


def fed(month: Any) -> Floats:
    """What the meter counted between two readings, by day and interval."""
    total = month.logs["chemical_feed"].columns["total"].reshape(len(month.days), -1)
    found: Floats = np.diff(total, axis=1)
    return found


def weights(month: Any) -> Floats:
    panels = month.logs["panels"].columns
    found: Floats = panels["value"][panels["test"] == "coating weight"]
    return found


# --- the stuck pump, as it was asked for -----------------------------------------------------------


def test_stuck_pump_gives_the_concentrations_asked_for() -> None:
    month = shop.simulate("demo", scenario=even(SHOP))
    found = checks(month, "phosphate", "concentration")
    assert found[17].tolist() == [3.00, 2.77, 2.56, 2.36]
    assert found[:17] == pytest.approx(3.0)
    assert found[19:] == pytest.approx(3.0)
    bath = wash.course(even(SHOP), SHOP.washer, PHOSPHATE, SHOP.events, seed=1, month="demo")
    assert round(bath.level[18, -1], 2) == 1.58
    assert round(figures.hours_to_leave_band(PHOSPHATE), 1) == 9.1
    assert found[18].tolist() == [round(3.0 * math.exp(-0.02 * hours), 2) for hours in (16, 20, 24, 28)]
    acid = checks(month, "phosphate", "pH")
    assert acid[17, 0] == 4.8
    assert (np.diff(acid[17:19].ravel()) > 0).all()
    # At the last check 28 of the 32 hours have passed; the whole rise of 0.5 is reached with the last of them.
    share = (1 - math.exp(-0.56)) / (1 - math.exp(-0.64))
    assert acid[18, -1] == pytest.approx(4.8 + 0.5 * share, abs=0.005)
    assert acid[19:] == pytest.approx(4.8)
    assert np.round(weights(month)).tolist() == [45, 45, 45, 28]
    assert fed(month)[[17, 18]].max() == 0.0
    assert fed(month)[[16, 19]] == pytest.approx(12.0 * 0.03 * 2.0, abs=0.01)
    poured = month.logs["chemical_additions"].columns
    # 600 x (3.0 - 1.5819) / (100 - 1.5819) gal
    assert poured["volume"][poured["tank"] == "phosphate"].tolist() == [8.6]


def test_figures_of_the_readme_come_out_again() -> None:
    text = (DATASETS / "truck_bodies" / "README.md").read_text(encoding="utf-8")
    shown = [line for line in figures.wash_lines(SHOP, SHOP.washer, SHOP.panels) if line]
    assert len(shown) == 2 + 6 + 1
    for line in shown:
        assert line in text


@pytest.mark.parametrize("seed", SEEDS)
def test_meter_tells_before_the_titration_does(seed: int) -> None:
    month, quiet = (shop.simulate(name, seed=seed) for name in ("demo", "quiet"))
    usual = fed(quiet)
    assert usual.min() > 0.5
    assert fed(month)[17, 0] == 0.0
    titrated = checks(month, "phosphate", "concentration")
    assert titrated[17, :2].min() > 2.5
    assert titrated[18].max() < 2.5
    assert checks(month, "phosphate", "pH")[18, -1] > 4.9
    assert weights(month)[3] < 35.0
    # Nothing else moves, and a quiet month stays inside its bands.
    rest = [k for k in range(21) if k not in (17, 18)]
    assert (fed(month)[rest] == pytest.approx(usual[rest], abs=0.011)) is True
    for tank, quantity in (("cleaner", "concentration"), ("cleaner", "temperature"), ("final rinse", "conductivity")):
        assert (checks(month, tank, quantity) == checks(quiet, tank, quantity)).all()
    bands = quiet.logs["wash_plan"].columns
    for tank, quantity, lower, upper in zip(*(bands[x] for x in ("tank", "quantity", "lower", "upper")), strict=True):
        if quantity in ("volume", "loss"):
            continue
        values = weights(quiet) if quantity == "coating weight" else checks(quiet, tank, quantity)
        assert not (values < lower).any(), (tank, quantity)
        assert not (values > upper).any(), (tank, quantity)


# --- a tank by itself --------------------------------------------------------------------------------


def test_cleaner_decays_and_is_made_up_like_a_sawtooth() -> None:
    """1200 gal losing 2 gal/h: from 3.0 % to 2.960 after 8 hours, 2.921 after 16, 2.807 after 40 (computed elsewhere)."""
    plan = {"target": 3.0, "supply.below": 0.0}
    scenario = shop.variant(even(SHOP), {f"washer.stages.cleaner.{name}": value for name, value in plan.items()})
    found = wash.course(scenario, scenario.washer, scenario.washer.stages[0], (), seed=1, month="quiet").level
    assert [found[0, 2], found[0, -1], found[2, 2]] == pytest.approx([2.960, 2.921, 2.807], abs=5e-4)

    month = shop.simulate("quiet", scenario=even(SHOP))
    poured = month.logs["chemical_additions"].columns
    assert poured["volume"].size >= 3
    # From just below 2.4 up to 2.6 %: 1200 x 0.2 / 97.6 gal, and up to 0.7 % of 2.4 % more.
    assert poured["volume"] == pytest.approx(2.56, abs=0.15)
    levels = checks(month, "cleaner", "concentration").ravel()
    jumps = np.flatnonzero(np.diff(levels) > 0)
    assert jumps.size == poured["volume"].size
    assert levels[jumps].max() < 2.4
    # Four or, overnight, eight running hours later: 2.6 exp(-4 / 600) = 2.583 or 2.565 %.
    assert set(levels[jumps + 1].tolist()) <= {2.57, 2.58}


def test_make_up_displaces_as_much_of_the_bath() -> None:
    """1200 gal from 2.5 to 3.0 %: 6.154 gal (computed elsewhere)."""
    assert wash.make_up(CLEANER, 2.5, 3.0) == pytest.approx(6.154, abs=5e-4)


def test_noise_has_the_stated_size() -> None:
    months = [shop.simulate("quiet", seed=seed) for seed in range(1, 61)]
    errors, acid, feed, final, gloss, rubs, ratings = [], [], [], [], [], [], []
    for month in months:
        bath = wash.course(SHOP, SHOP.washer, PHOSPHATE, (), seed=month.seed, month="quiet")
        at = [bath.minutes.index(minute) for _, minute in wash.check_minutes(SHOP, SHOP.washer)]
        errors.append(checks(month, "phosphate", "concentration") - bath.level[:, at])
        acid.append(checks(month, "phosphate", "pH").ravel() - 4.8)
        feed.append(fed(month))
        final.append(checks(month, "final rinse", "conductivity"))
        panels = month.logs["panels"].columns
        gloss.append(panels["value"][panels["test"] == "gloss at 60 degrees"])
        ratings.append(panels["value"][panels["test"] == "cross-cut"])
        rubs.append(panels["stopped"][panels["test"] == "double rubs"] == "yes")
    # 5,040 titrations; the relative standard error of an SD from n values is 1 / sqrt(2 n), times 4.
    assert np.std(errors) == pytest.approx(0.05, rel=0.04)
    assert np.std(feed) / np.mean(feed) == pytest.approx(0.05, rel=0.03)
    assert np.mean(feed) == pytest.approx(0.72, rel=0.002)
    series = np.array(acid)
    # Effective number for correlation 0.8: n (1 - 0.64) / (1 + 0.64).
    assert np.std(series) == pytest.approx(0.08, rel=0.09)
    lagged = np.mean(series[:, 1:] * series[:, :-1]) / np.mean(series**2)
    assert lagged == pytest.approx(0.8, abs=0.035)
    assert np.std(final) == pytest.approx(7.5, rel=0.05)
    assert np.mean(final) == pytest.approx(60.0, abs=0.5)
    assert np.std(gloss) == pytest.approx(0.75, rel=0.09)
    # ln(180 / 100) / 0.3 = 1.959: 97.5 % of pieces get to 100 rubs.
    assert np.mean(rubs) == pytest.approx(0.975, abs=0.018)
    assert np.mean(np.concatenate(ratings) == 5) == pytest.approx(0.80, abs=0.05)


# --- output, other shops -------------------------------------------------------------------------


@pytest.mark.parametrize("month", shop.MONTHS)
def test_output_counts_the_units_and_their_area(month: str) -> None:
    simulated = shop.simulate(month, seed=4)
    rows = simulated.logs["output"].columns
    assert rows["units"].sum() == len(simulated.units)
    area = {"steel": 380.0, "aluminum": 320.0}
    assert rows["area"].tolist() == [n * area[metal] for n, metal in zip(rows["units"], rows["substrate"], strict=True)]
    for shift, metal, n, at in zip(*(rows[x] for x in ("shift", "substrate", "units", "time")), strict=True):
        same = [u for u in simulated.units if (u.shift, u.substrate, u.times[0].date()) == (shift, metal, at.item().date())]
        assert n == len(same)


def test_meter_and_panels_go_on_from_the_baseline() -> None:
    baseline, demo = (shop.simulate(name, seed=7) for name in ("baseline", "demo"))
    totals = [month.logs["chemical_feed"].columns["total"] for month in (baseline, demo)]
    assert totals[0][0] == 0.0
    assert totals[1][0] == totals[0][-1]
    names = [list(dict.fromkeys(month.logs["panels"].columns["panel"])) for month in (baseline, demo)]
    assert names == [["W01", "W02", "W03", "W04"], ["W05", "W06", "W07", "W08"]]


def test_metric_shops_convert_and_another_day_moves_the_fault() -> None:
    metric = shop.simulate("demo", seed=3, scenario=shop.in_micrometers())
    plain = shop.simulate("demo", seed=3)
    liters, gallons = (x.logs["chemical_feed"].columns["total"] for x in (metric, plain))
    assert liters == pytest.approx(gallons * 3.785411784, abs=0.03)
    heavy, light = weights(metric), weights(plain)
    # 45 mg/ft2 is 0.48 g/m2.
    assert heavy == pytest.approx(light * 0.0107639, abs=0.0012)
    assert set(metric.logs["output"].columns["unit_of_measure"]) == {"m2"}
    assert metric.logs["output"].columns["area"].sum() == pytest.approx(
        plain.logs["output"].columns["area"].sum() * 0.09290304, rel=0.01
    )
    early = shop.variant(SHOP, {"events.E7.first_day": 3, "events.E7.last_day": 3}, rename={"phosphate": "conversion"})
    month = shop.simulate("demo", seed=3, scenario=early)
    assert fed(month)[2].max() == 0.0
    assert fed(month)[[1, 3, 17]].min() > 0.5
    assert "conversion" in month.events.columns["item"]
    three = shop.simulate("demo", seed=3, scenario=shop.three_coats())
    assert set(three.logs["chemical_feed"].columns["meter"]) == {"counter 3"}


def test_short_months_and_shops_without_a_washer() -> None:
    short = shop.variant(dataclasses.replace(SHOP, days=3, events=()))
    month = shop.simulate("quiet", scenario=short)
    assert month.logs["panels"].columns["panel"].size == 0
    assert shop.to_csv(month.logs["panels"], short.style).count(b"\n") == 1
    without = shop.variant(dataclasses.replace(SHOP, washer=None, panels=None, output=None, events=SHOP.events[:4]))
    assert set(shop.simulate("demo", scenario=without).logs) == {"oven_log", "bake_loads", "recipes"}


def test_contradictions_of_the_washer_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r"event E7: tank with a pump 'cleaner' is none of 'phosphate'"):
        shop.variant(SHOP, {"events.E7.tank": "cleaner"})
    with pytest.raises(ValueError, match=r"panels: the shop has no washer"):
        shop.variant(SHOP, {"washer": None})
    with pytest.raises(ValueError, match=r"output: no area of 'aluminum'"):
        shop.variant(SHOP, {"output.area": {"steel": 380.0}})
    with pytest.raises(ValueError, match=r"panels: minute 961 must lie in 0 to 960"):
        shop.variant(SHOP, {"panels.minute": 961})
    with pytest.raises(ValueError, match=r"washer: volume_unit 'barrel' is none of 'gal', 'L'"):
        shop.variant(SHOP, {"washer.volume_unit": "barrel"})
