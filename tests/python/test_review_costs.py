"""Overbuild and aim points in the review: against plain sums and covariance algebra, on the page, and without a word of paint."""

from __future__ import annotations

import dataclasses
import math
import re
import types
from datetime import datetime
from typing import Any, cast

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from steadyfilm._review.averages import unit_averages
from steadyfilm._review.costs import layer_costs
from steadyfilm._review.gather import gather
from steadyfilm._review.gauges import GaugeFault
from steadyfilm._review.options import options_of
from steadyfilm._review.study import Studied, study_layer
from steadyfilm.reports.review import review_html
from steadyfilm.reports.workbook import review_sheets

from helpers import ONE_LAYER, load_dataset, shop

COSTS = """
[costs]
area_a_month = 67200
area_unit = "ft2"
currency = "USD"
"""
PAINT = """
[layers.paint]
price = 95.0
price_per = "gal"
volume_solids = 0.52
transfer_efficiency = 0.65
"""
HEADING = "What film beyond the aim costs"
PER_MIL = 67200 / (231 / 0.144 * 0.52 * 0.65) * 95.0  # money a month for a mil, written out


def plan_text(
    *, layer: str = "lower = 1.9\nupper = 2.3", paint: str = PAINT, costs: str = COSTS, more: str = "chart = false\n"
) -> str:
    """A plan with paint; not charted, for costs need no charts and a study takes seconds."""
    head, _, rest = ONE_LAYER.partition("lower = 1.9\nupper = 2.3\n")
    return f"{head}{layer}\n{more}{paint}{rest}{costs}"


def reviewed(readings: Any = None, **plan: str) -> sf.Review:
    return sf.review_readings(shop() if readings is None else readings, sf.read_plan(plan_text(**plan)))


def example_results() -> list[sf.Review]:
    return [reviewed(), reviewed(layer="lower = 2.1"), reviewed(layer="upper = 2.3\ntarget = 2.0")]


@pytest.fixture(scope="module")
def found() -> sf.Review:
    return reviewed()


def test_cost_is_area_times_film_over_the_paint_s_coverage(found: sf.Review) -> None:
    (cost,) = found.costs
    mean = float(np.mean(found.layers[0].average))
    assert (cost.mean, cost.aim, cost.aim_is) == (pytest.approx(mean), pytest.approx(2.1), "middle")
    assert cost.cost == pytest.approx(max(0.0, mean - 2.1) * PER_MIL, rel=1e-12)
    assert cost.cost_upper == pytest.approx((mean - 2.1 + cost.half_width) * PER_MIL, rel=1e-12)
    assert cost.each.step_cost == pytest.approx(0.1 * PER_MIL, rel=1e-12)
    assert cost.volume == pytest.approx(cost.cost / 95.0, rel=1e-12)


def test_the_interval_counts_that_units_share_days(found: sf.Review) -> None:
    plan = sf.read_plan(plan_text(more=""))
    (whole,) = unit_averages(gather(shop(days=36), plan), plan, "first")
    assert whole.time is not None
    early = whole.time < np.datetime64("2026-04-01")
    base, month = whole.take(early), whole.take(~early)
    studied = study_layer(base, month, options_of(plan), seed=1)
    assert isinstance(studied, Studied)
    (cost,) = layer_costs([studied], [month], plan)
    # The whole covariance matrix of the units, days by the calendar.
    day = np.unique(month.time.astype("datetime64[D]"), return_inverse=True)[1]
    noise = studied.scan.noise
    covariance = noise.sigma_unit**2 * (np.eye(len(day)) + noise.between[np.abs(np.subtract.outer(day, day))])
    error = math.sqrt(covariance.mean())
    assert cost.half_width == pytest.approx(stats.norm.ppf(0.975) * error, rel=1e-9)
    assert cost.days_counted
    alone = stats.norm.ppf(0.975) * noise.sigma_unit / math.sqrt(len(day))
    assert cost.half_width > alone


def test_a_layer_without_charts_has_the_t_interval_of_independent_units(found: sf.Review) -> None:
    (cost,), averages = found.costs, found.layers[0].average
    low, high = stats.t.interval(0.95, len(averages) - 1, np.mean(averages), stats.sem(averages))
    assert (cost.mean - cost.half_width, cost.mean + cost.half_width) == (pytest.approx(low), pytest.approx(high))
    assert not cost.days_counted


def test_the_aim_point_is_the_normal_one_and_half_the_spread_saves_film(found: sf.Review) -> None:
    (cost,) = found.costs
    assert cost.aiming is not None
    spread = float(np.std(found.layers[0].average, ddof=1))
    assert cost.aiming.target == pytest.approx(1.9 + stats.norm.ppf(0.95) * spread, rel=1e-9)
    assert cost.saved == pytest.approx(0.5 * stats.norm.ppf(0.95) * spread * PER_MIL, rel=1e-9)
    assert stats.norm.sf(2.3, cost.aiming.target, spread) == pytest.approx(cost.aiming.share_above, rel=1e-9)


def test_what_is_aimed_at_is_the_target_then_the_middle_then_the_aim_point() -> None:
    (target,) = reviewed(layer="lower = 1.9\nupper = 2.3\ntarget = 2.0").costs
    assert (target.aim, target.aim_is) == (2.0, "target")
    assert f"above its target of 2 mil: that overbuild costs {target.cost:.0f} USD a month (" in target.sentence
    assert target.sentence.endswith("each 0.1 mil of film costs 1177 USD.")
    (one_sided,) = reviewed(layer="lower = 1.9").costs
    assert one_sided.aiming is not None
    assert (one_sided.aim, one_sided.aim_is) == (one_sided.aiming.target, "aim point")
    (upper,) = reviewed(layer="upper = 2.3\ntarget = 2.0").costs
    assert upper.aiming is None


def test_film_below_the_aim_is_no_saving() -> None:
    (below,) = reviewed(layer="lower = 1.9\nupper = 2.9\ntarget = 2.8").costs
    assert (below.cost, below.cost_lower, below.cost_upper, below.volume) == (0.0, 0.0, 0.0, 0.0)
    assert "below its target of 2.8 mil: no overbuild; each 0.1 mil of film costs 1177 USD a month." in below.sentence
    near = dataclasses.replace(below, aim=below.mean + 0.1 * below.half_width, cost_upper=10.0)
    assert "no overbuild, by its interval at most 10.00 USD a month;" in near.sentence


def test_micrometers_liters_and_square_meters_say_the_same() -> None:
    mil = reviewed(layer="lower = 1.9\nupper = 2.3\ntarget = 2.0")
    rows = shop()
    rows["film"] = [round(value * 25.4, 1) for value in rows["film"]]
    text = plan_text(
        layer="lower = 48.26\nupper = 58.42\ntarget = 50.8",
        paint=PAINT.replace("95.0", str(95.0 / 3.785411784)).replace('"gal"', '"L"'),
        costs=COSTS.replace("67200", str(67200 * 0.09290304)).replace('"ft2"', '"m2"'),
    )
    um = sf.review_readings(rows, sf.read_plan(text.replace('unit = "mil"', 'unit = "um"')))
    assert um.costs[0].cost == pytest.approx(mil.costs[0].cost, abs=0.02 / 25.4 * PER_MIL)  # readings rounded to 0.1 um
    assert um.costs[0].each.step == 1.0
    assert f"each 1 um of film costs {PER_MIL / 25.4:.0f} USD" in um.costs[0].sentence


def test_the_page_and_the_workbook_have_it_where_the_plan_speaks_of_paint(found: sf.Review) -> None:
    when = datetime(2031, 5, 4)
    page = review_html(found, when=when)
    assert page.count(HEADING) == 1
    assert found.costs[0].sentence in page
    assert "Where to aim above a lower limit" in page
    assert page.count("Before anybody acts on this") == 1
    (sheet,) = [x for x in review_sheets(found) if x.name == "Film beyond the aim"]
    assert sheet.rows[0][7] == found.costs[0].cost
    assert len(sheet.head) == len(sheet.rows[0])

    bare = reviewed(paint="", costs="")
    assert bare.costs == ()
    assert HEADING not in review_html(bare, when=when)
    assert all(x.name != "Film beyond the aim" for x in review_sheets(bare))
    # And everything else stays word by word.
    page_of = [review_html(dataclasses.replace(x, costs=(), inputs={}), when=when) for x in (found, bare)]
    assert page_of[0] == page_of[1]


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ({"costs": ""}, r"'film' has paint; \[costs\] must say how much is painted a month"),
        ({"paint": ""}, "costs: no layer has paint"),
        ({"layer": "upper = 2.3"}, "paint needs something to aim at"),
        ({"paint": PAINT.replace("0.52", "52")}, "layers.1..paint.volume_solids: .*less than or equal to 1"),
        ({"paint": PAINT.replace("0.65", "0.0")}, "transfer_efficiency: .*greater than 0"),
        ({"paint": PAINT.replace('"gal"', '"quart"')}, "price_per: .*'gal' or 'L'"),
        ({"costs": COSTS.replace('"ft2"', '"acre"')}, "area_unit: .*'ft2' or 'm2'"),
        ({"costs": COSTS.replace("67200", "-1")}, "area_a_month: .*greater than 0"),
    ],
)
def test_a_plan_that_does_not_agree_with_itself_is_refused(plan: dict[str, str], words: str) -> None:
    with pytest.raises(sf.PlanError, match=words):
        sf.read_plan(plan_text(**plan))


def test_a_plan_without_a_unit_of_length_has_no_price_of_film() -> None:
    with pytest.raises(sf.PlanError, match="costs need a working unit of length"):
        sf.read_plan(plan_text().replace('unit = "mil"', 'unit = "unstated"'))


def test_the_demonstration_plan_prices_its_coats() -> None:
    plan = sf.load_plan(f"{load_dataset().__path__[0]}/{load_dataset().DEMO}/plan.toml")
    assert plan.costs is not None
    assert [layer.name for layer in plan.layers if layer.paint is not None] == ["primer", "topcoat"]


def test_a_cost_says_which_units_a_faulty_gauge_read() -> None:
    """A shim's word of 0.12 mil on 6 of the month's units moves their mean by 0.12 x 6 / units."""
    plan = sf.read_plan(plan_text())
    (units,) = unit_averages(gather(shop(), plan), plan, "first")
    fault = GaugeFault("G7", 0.12, 0.02, 2, "2026-04-01T06:00", "2026-04-02T06:00", "", math.nan, "", math.nan)
    told = types.SimpleNamespace(
        kind="gauge fault", layer="film", shape="step", size=0.12, units=6, first_unit="a", last_unit="f", fault=fault
    )
    (plain,) = layer_costs(["not charted"], [units], plan)
    (noted,) = layer_costs(["not charted"], [units], plan, cast(Any, [told]))
    assert plain.gauge_note == ""
    assert noted.sentence == f"{plain.sentence} {noted.gauge_note}"
    moved = float(re.findall(r"moves the mean by about \+([\d.]+) mil", noted.gauge_note)[0])
    assert moved == pytest.approx(0.12 * 6 / len(units), rel=0.05)
    assert "6 units (a to f) read while gauge G7 read off" in noted.gauge_note
    told.layer = "other"
    assert layer_costs(["not charted"], [units], plan, cast(Any, [told]))[0].gauge_note == ""
