"""A washer's month: the stuck pump of the demonstration named before the titration tells, other shops, and what is refused."""

from __future__ import annotations

import json
import math
import shutil
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf
from steadyfilm._plan.wash import make_wash_plan
from steadyfilm._wash.use import stretches

from helpers import DATASETS, load_dataset

shop = load_dataset("truck_bodies")
PLAN = DATASETS / "truck_bodies" / "plan.toml"
FILES = ("wash_checks", "chemical_feed", "chemical_additions", "output", "events")


@pytest.fixture(scope="module")
def months(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's own files and plan."""
    folder = tmp_path_factory.mktemp("months")
    shop.write(folder)
    shutil.copyfile(PLAN, folder / "plan.toml")
    return folder


def planted(folder: Path) -> tuple[str, np.datetime64, np.datetime64]:
    """Tank, and first and last day of the stuck pump, from the truth that only tests read."""
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    event = next(x for x in truth["scenario"]["events"] if x["code"] == "E7")
    days = (
        [np.datetime64(day) for day in next(x for x in truth["months"] if x["name"] == "demo")["days"]]
        if isinstance(truth["months"], list)
        else [np.datetime64(day) for day in truth["months"]["demo"]["days"]]
    )
    return event["tank"], days[event["first_day"] - 1], days[event["last_day"] - 1]


def cut(folder: Path, into: Path, moment: str) -> Path:
    """The demo month as it lay on the table at a moment: rows up to then, and shifts that were over by then."""
    into.mkdir()
    for name in FILES:
        lines = (folder / "demo" / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        late = (np.datetime64(moment.replace(" ", "T")) - np.timedelta64(8, "h")).astype("datetime64[m]")
        until = str(late).replace("T", " ") if name == "output" else moment
        (into / f"{name}.csv").write_text(
            "\n".join([lines[0], *(x for x in lines[1:] if x[:16] <= until)]) + "\n", encoding="utf-8"
        )
    return into


def test_the_stuck_pump_is_named_with_tank_start_and_size_before_the_titration_leaves_its_band(months: Path) -> None:
    tank, first, last = planted(months)
    found = sf.review_wash_files(months / "plan.toml")
    (change,) = found.changes
    assert change.tank == tank
    assert change.start == f"{first} 06:00"  # the start of the first shift of its first day
    assert change.end == f"{last} 22:00"
    assert (change.share, change.rate, change.intervals) == (-1.0, 0.0, 16)
    assert change.usual_rate == pytest.approx(12.0 * 0.03, rel=0.01)  # what the tank loses: 12 gal/h at 3 %
    assert change.seen == f"{first} 08:00"  # the first reading of the meter after it stuck
    low = min(
        x[:16]
        for x in (months / "demo" / "wash_checks.csv").read_text(encoding="utf-8").splitlines()
        if f",{tank},concentration," in x and float(x.split(",")[4]) < 2.5
    )
    assert change.out_of_band == low > change.seen
    hours = (np.datetime64(low.replace(" ", "T")) - np.datetime64(f"{first}T08:00")) / np.timedelta64(1, "h")
    assert change.lead_hours == hours > 0
    assert found.sentence().startswith(
        "Phosphate feed delivered nothing from Mar 26, 06:00 to Mar 27, 22:00 (usually 0.36 gal/h); "
    )
    assert "10 h before a titration left its band" in found.sentence()
    assert any("feed pump freed" in text for text in change.recorded)
    assert any("poured in by hand" in text for text in change.recorded)


def test_on_the_day_it_is_named_at_the_first_reading_with_the_titration_still_inside(months: Path, tmp_path: Path) -> None:
    _, first, _ = planted(months)
    told = {}
    for hour in (6, 8, 10, 14):
        folder = cut(months, tmp_path / str(hour), f"{first} {hour:02d}:00")
        told[hour] = sf.review_wash_files(months / "plan.toml", folder)
    assert not told[6].changes
    for hour in (8, 10, 14):
        (change,) = told[hour].changes
        assert change.lasting
        assert change.start == f"{first} 06:00"
        assert change.out_of_band == ""
        assert told[hour].sentence().startswith("Phosphate feed has delivered nothing since Mar 26, 06:00 (usually 0.36 gal/h); ")
        assert "titration still inside its band" in told[hour].sentence()
        # The scenario's own loss is 12 gal/h of 600 gal: 2.5 % after 9.1 h.
        assert "the bath falls below 2.5 % after about 9" in told[hour].sentence()


def test_a_quiet_month_and_the_usual_month_itself_are_quiet(months: Path) -> None:
    for month in ("quiet", "baseline"):
        found = sf.review_wash_files(months / "plan.toml", months / month)
        assert found.steady
        assert not found.changes
        assert found.sentence().startswith("No use of chemical has changed (phosphate")
    assert "The reviewed period is the usual one itself" in found.notes[0]


def named(tables: dict[str, Any], **changed: str) -> dict[str, Any]:
    """Tables with columns under other names."""
    return {name: {changed.get(column, column): cells for column, cells in table.items()} for name, table in tables.items()}


@cache
def elsewhere() -> tuple[dict[str, Any], dict[str, Any]]:
    """Another shop's month and usual month: other names, liters and m2, pump stuck on day 5 alone."""
    scenario = shop.variant(
        shop.three_coats(),
        {"events.E7.first_day": 5, "events.E7.last_day": 5},
        rename={"phosphate": "conversion", "cleaner": "soap"},
    )
    return tuple(  # type: ignore[return-value]
        {name: table.columns for name, table in shop.simulate(month, seed=11, scenario=scenario).logs.items()}
        for month in ("demo", "baseline")
    )


def other_plan(**more: Any) -> Any:
    columns = {"tank": "bath", "time": "when"}
    wash = {
        "titrations": {"file": "a", "quantity": "what", "value": "reading", "unit_of_measure": "dimension"} | columns,
        "feed": {"file": "b", "total": "count", "meter": "counter", "unit_of_measure": "dimension"} | columns,
        "area": {"file": "c", "time": "when", "area": "surface", "unit_of_measure": "dimension", "hours": 8},
        "tanks": [{"name": "conversion", "unit": "L", "lower": 2.5, "upper": 3.5, "volume": 2271.0}],
    }
    return make_wash_plan({"wash": wash | more})


def other_tables() -> dict[str, Any]:
    words = {
        "tank": "bath",
        "time": "when",
        "quantity": "what",
        "value": "reading",
        "unit_of_measure": "dimension",
        "total": "count",
        "meter": "counter",
        "area": "surface",
    }
    month, usual = (named(logs, **words) for logs in elsewhere())
    files = {"titrations": "wash_checks", "feed": "chemical_feed", "area": "output"}
    return {name: (month[file], usual[file]) for name, file in files.items()}


def test_another_shop_with_its_own_names_and_units_is_told_the_same_way() -> None:
    found = sf.review_wash(other_plan(), other_tables())
    (change,) = found.changes
    assert (change.tank, change.kind, change.unit, change.share) == ("conversion", "hour", "L/h", -1.0)
    assert change.start.endswith("06:00")
    assert change.end.endswith("22:00")
    assert change.usual_rate == pytest.approx(0.36 * 3.785411784, rel=0.01)
    assert found.tanks[0].charts[1].unit == "L/100 m2"
    assert change.lead_hours > 0.0
    text = found.to_json()
    assert not any(word in text for word in ("phosphate", "cleaner", "gal", "ft2"))


def test_gallons_and_liters_area_in_feet_and_meters_give_the_same_change() -> None:
    month, usual = elsewhere()
    tank = {"name": "conversion", "lower": 2.5, "upper": 3.5}
    files = {"titrations": {"file": "a"}, "feed": {"file": "b"}, "area": {"file": "c", "hours": 8}}
    tables = {"titrations": "wash_checks", "feed": "chemical_feed", "area": "output"}
    given = {name: (month[file], usual[file]) for name, file in tables.items()}
    both = [
        sf.review_wash(make_wash_plan({"wash": files | {"tanks": [tank | {"unit": unit}]}}), given).tanks[0]
        for unit in ("gal", "L")
    ]
    gallons, liters = (x.charts[0] for x in both)
    assert liters.rate == pytest.approx(gallons.rate * 3.785411784)
    assert (liters.signals, liters.sigma_multiple) == (gallons.signals, gallons.sigma_multiple)


def hours(count: int, *, first: str = "2026-03-02T06:00", step: int = 2) -> list[str]:
    """Times of shifts of 16 hours: nine readings a day."""
    start = np.datetime64(first)
    return [str(start + np.timedelta64(24 * (k // 9) + step * (k % 9), "h")) for k in range(count)]


def meter(rates: Any, *, seed: int = 4, sd: float = 0.02) -> dict[str, Any]:
    """A meter read nine times a day; one rate, gal/h, for each of the eight intervals of each day."""
    rng = np.random.default_rng(seed)
    rates = np.asarray(rates, dtype=float).reshape(-1, 8)
    total, out = 100.0, []
    for day in rates:
        out.append(total)
        for rate in day:
            total += 2.0 * rate * (1.0 + sd * rng.normal())
            out.append(total)
    return {"time": hours(9 * len(rates)), "total": np.round(out, 3)}


def feed_plan(**more: Any) -> Any:
    tank = {"name": "bath", "unit": "gal", "lower": 2.0, "upper": 3.0, "volume": 500.0}
    feed = {"file": "f", "written_in": "gal"}
    titrations, area = {"file": "t"}, {"file": "a", "written_in": "ft2"}
    additions = {"file": "p", "written_in": "gal"}
    return make_wash_plan(
        {"wash": {"feed": feed, "titrations": titrations, "area": area, "additions": additions, "tanks": [tank]} | more}
    )


USUAL = {"usual_until": date(2026, 3, 9)}  # eight days, 64 intervals


def example_results() -> list[Any]:
    rates = np.full((12, 8), 0.5)
    rates[10:] = 0.3
    titrations = {"time": hours(108)[::4], "value": np.r_[np.full(23, 2.5), 2.2, 2.03, 1.9, 1.8]}
    when = hours(9 * 12)[::9]
    area = {"time": when, "area": np.full(12, 2500.0)}
    told = sf.review_wash(
        feed_plan(**USUAL, tanks=[{"name": "bath", "unit": "gal", "lower": 2.0, "upper": 3.0, "titration_uncertainty": 0.03}]),
        {"feed": meter(rates), "titrations": titrations, "area": area},
    )
    return [told, sf.review_wash(feed_plan(), {"titrations": titrations}), sf.review_wash(other_plan(), other_tables())]


def test_less_use_is_told_by_area_with_its_share_and_the_titration_beside() -> None:
    rates = np.full((11, 8), 0.5)
    rates[9:] = 0.35  # 30 % less from the tenth day on
    area = {"time": hours(9 * 11)[::9], "area": np.full(11, 2500.0)}
    titrations = {"time": hours(9 * 11)[::4], "value": np.full(25, 2.4)}
    found = sf.review_wash(feed_plan(**USUAL), {"feed": meter(rates), "area": area, "titrations": titrations})
    (change,) = found.changes
    assert change.lasting
    assert change.share == pytest.approx(-0.3, abs=0.02)
    assert abs(change.share + 0.3) < change.share_error < 0.03
    assert change.by_area == pytest.approx(-0.3, abs=0.02)
    assert change.start == "2026-03-11 06:00"
    assert found.sentence().startswith("Bath feed has used 30 % less a ft2 since Mar 11, 06:00 (0.349 against 0.5 gal/h); ")
    assert "titration still inside its band (2.4 % on Mar 12, 18:00; band 2 to 3 %)" in found.sentence()
    # The balance of matter: with 70 % of the feed the bath settles at 70 % of 2.4 %, below the band of 2 %.
    loss = change.usual_rate * 100.0 / 2.4
    settles = change.rate * 100.0 / loss
    hours_left = 500.0 / loss * math.log((2.4 - settles) / (2.0 - settles))
    assert f"after about {hours_left:.2g} h of running" in found.sentence()
    assert "fed like this" in found.sentence()


def test_a_leak_is_told_as_more_and_what_follows_it_as_usual_again() -> None:
    rates = np.full((12, 8), 0.5)
    rates[9, 2:6] = 0.8
    found = sf.review_wash(feed_plan(**USUAL), {"feed": meter(rates), "titrations": {"time": hours(9), "value": [2.5] * 9}})
    (change,) = found.changes
    assert (change.start, change.end, change.lasting) == ("2026-03-11 10:00", "2026-03-11 18:00", False)
    assert change.sentence.startswith("Bath feed used 60 % more an hour from Mar 11, 10:00 to Mar 11, 18:00 (")
    assert (
        "Cannot be told: use by painted area: no file of painted area, so that use is told by the hour or day alone."
        in found.verdict
    )
    assert "Cannot be told: what was done at the tanks: no log of events is on file." in found.verdict


def test_additions_by_hand_are_told_by_area_or_by_the_day() -> None:
    days = [str(np.datetime64("2026-03-02T06:00") + np.timedelta64(24 * k, "h")) for k in range(40)]
    poured = np.tile([3.0, 3.1, 2.9, 3.05], 10)[:20]
    poured[15:] *= 2.0
    additions = {"time": days[::2], "volume": poured}
    area = {"time": days, "area": np.full(40, 1000.0)}
    until = {"usual_until": date(2026, 3, 30)}
    by_area = sf.review_wash(feed_plan(**until), {"additions": additions, "area": area})
    (change,) = by_area.changes
    assert (change.kind, change.unit, change.metered) == ("area", "gal/1000 ft2", False)
    assert change.share == pytest.approx(1.0, abs=0.05)
    assert by_area.sentence().startswith("Bath has taken 101 % more a ft2 since Mar 30, 06:00 (")
    assert "no titration says where the bath stands" in by_area.sentence()
    by_day = sf.review_wash(feed_plan(**until), {"additions": additions})
    assert (by_day.changes[0].kind, by_day.changes[0].unit) == ("day", "gal/day")
    few = sf.review_wash(feed_plan(usual_until=date(2026, 3, 8)), {"additions": additions, "area": area})
    assert not few.changes
    # 63.3 gal for 32,000 ft2 against 9.05 gal for 6,000 ft2.
    assert "took 1.98 gal/1000 ft2 against usually 1.51 (16 additions now, 3 before: too few for limits)" in few.tanks[0].sentence
    assert any("fewer than 5 usual additions" in line for line in few.verdict)


def test_without_a_usual_period_the_medians_serve_and_the_report_says_so() -> None:
    rates = np.full((12, 8), 0.5)
    rates[9:] = 0.0
    found = sf.review_wash(feed_plan(), {"feed": meter(rates)})
    (change,) = found.changes
    assert change.start == "2026-03-11 06:00"
    assert found.tanks[0].charts[0].own_limits
    assert any("limits come from its own intervals" in line for line in found.verdict)


def test_a_meter_that_falls_is_a_new_one_and_its_pause_no_point() -> None:
    log = meter(np.full((10, 8), 0.5))
    log["total"] = np.where(np.arange(90) >= 85, log["total"] - log["total"][85] + 1.0, log["total"])
    found = sf.review_wash(feed_plan(**USUAL), {"feed": log})
    assert not found.changes
    assert any("falls from" in note and "new one" in note for note in found.notes)
    chart = found.tanks[0].charts[0]
    assert chart.rate.size == 2 * 8 - 1
    assert chart.left_out == 2  # the nights before the two reviewed days


def test_a_meter_without_any_scatter_gets_limits_from_its_own_step() -> None:
    log = meter(np.full((10, 8), 0.5), sd=0.0)
    # Every interval counts 1.0 gal; whole numbers look as if the meter went by whole gallons: a tenth of an interval is the most.
    found = sf.review_wash(feed_plan(**USUAL), {"feed": log})
    assert not found.changes
    assert found.tanks[0].charts[0].sigma == pytest.approx(0.1 / math.sqrt(6.0) / 2.0)
    log["total"][-3:] = log["total"][-4]
    (change,) = sf.review_wash(feed_plan(**USUAL), {"feed": log}).changes
    assert (change.intervals, change.share, change.lasting) == (3, -1.0, True)
    fine = meter(np.full((10, 8), 0.53), sd=0.0)
    steady = sf.review_wash(feed_plan(**USUAL), {"feed": fine | {"total": np.round(fine["total"], 2)}})
    assert steady.tanks[0].charts[0].sigma == pytest.approx(0.01 / math.sqrt(6.0) / 2.0)


def test_the_limits_are_those_of_a_students_t_for_a_further_point() -> None:
    found = sf.review_wash(feed_plan(**USUAL), {"feed": meter(np.full((10, 8), 0.5))})
    chart = found.tanks[0].charts[0]
    usual = sf.individuals_chart(np.diff(meter(np.full((10, 8), 0.5))["total"].reshape(10, 9), axis=1)[:8].ravel() / 2.0, unit="")
    months = (np.datetime64("2026-03-11T22") - np.datetime64("2026-03-10T06")) / np.timedelta64(1, "D") / (365.25 / 12)
    p = min(0.0027, 0.1 * months / 16)
    reach = stats.t.isf(p / 2.0, usual.degrees_of_freedom) * math.sqrt(1.0 + 1.0 / 64.0)
    assert chart.sigma_multiple == pytest.approx(max(3.0, reach), rel=1e-9)
    assert chart.upper == pytest.approx(usual.center + chart.sigma_multiple * usual.sigma_within, rel=1e-12)
    expected = 16 * 2 * stats.t.sf(chart.sigma_multiple / math.sqrt(1.0 + 1.0 / 64.0), usual.degrees_of_freedom)
    assert chart.expected_signals == pytest.approx(expected, rel=1e-9)


def strongest(z: list[float], low: int, high: int, multiple: float) -> list[tuple[int, int, float]]:
    """First, last and gain of each stretch, by trying all of them."""
    best = (0, 0, 0.0)
    for a in range(low, high):
        for b in range(a, high):
            total = math.fsum(z[a : b + 1])
            side = math.copysign(1.0, total)
            if any(side * x > multiple for x in z[a : b + 1]) and total**2 / (b - a + 1) > best[2] + 1e-9:
                best = (a, b, total**2 / (b - a + 1))
    if best[2] == 0.0:
        return []
    before, after = strongest(z, low, best[0], multiple), strongest(z, best[1] + 1, high, multiple)
    return [*before, best, *after]


@given(st.lists(st.floats(-8, 8), min_size=1, max_size=16), st.floats(3, 5))
def test_start_and_end_are_the_best_of_all_by_brute_force(values: list[float], multiple: float) -> None:
    wanted = strongest(values, 0, len(values), multiple)
    found = stretches(np.array(values), multiple)
    gains = [sum(values[x.first : x.last + 1]) ** 2 / (x.last - x.first + 1) for x in found]
    assert sorted(gains) == pytest.approx(sorted(gain for _, _, gain in wanted), rel=1e-6)
    for x in found:
        assert abs(values[x.seen]) > multiple
    covered = {k for x in found for k in range(x.first, x.last + 1)}
    side = {k: math.copysign(1.0, sum(values[x.first : x.last + 1])) for x in found for k in range(x.first, x.last + 1)}
    for k, value in enumerate(values):
        assert abs(value) <= multiple or k in covered
        if k in {x.seen for x in found}:
            assert side[k] == math.copysign(1.0, value)


def test_a_stray_point_weeks_before_does_not_swallow_a_stuck_pump() -> None:
    z = np.zeros(100)
    z[10], z[60:76] = -4.5, -20.0
    assert [(x.first, x.seen, x.last) for x in stretches(z, 4.0)] == [(10, 10, 10), (60, 60, 75)]


def test_titrant_in_ml_takes_the_factor_and_a_titration_near_a_limit_is_doubtful() -> None:
    tank = {"name": "bath", "unit": "gal", "lower": 2.5, "upper": 3.5, "percent_per_ml": 0.35, "titration_uncertainty": 0.035}
    plan = make_wash_plan({"wash": {"titrations": {"file": "t", "written_in": "mL"}, "tanks": [tank]}})
    found = sf.review_wash(plan, {"titrations": {"time": hours(4), "value": [8.0, 7.0, 7.2, 10.5]}})
    assert found.tanks[0].percent == pytest.approx([2.8, 2.45, 2.52, 3.675])
    # Two uncertainties are 0.07 %.
    assert found.tanks[0].states == ("inside", "doubtful", "doubtful", "outside")
    assert found.sentence().startswith(
        "Bath: 1 of 4 titrations outside 2.5 to 3.5 %, 2 too near a limit to tell, 3.67 % on Mar 2, 12:00"
    )
    rows = {"time": hours(2), "value": [8.0, 2.9], "unit_of_measure": ["mL", "%"]}
    assert sf.review_wash(plan, {"titrations": rows}).tanks[0].percent == pytest.approx([2.8, 2.9])


@pytest.mark.parametrize(
    ("plan", "tables", "words"),
    [
        ({}, {"feed": {"time": hours(3), "totals": [1, 2, 3]}}, "no such column"),
        (
            {},
            {"feed": {"time": hours(3), "total": [1.0, 2.0, 3.0], "unit_of_measure": ["gal", "lb", "gal"]}},
            "row 2.*no known unit",
        ),
        ({}, {"feed": {"time": hours(3), "total": [1.0, 2.0, 3.0], "unit_of_measure": ["gal", "ft2", "gal"]}}, "unit of surface"),
        ({"feed": {"file": "f"}}, {"feed": {"time": hours(3), "total": [1.0, 2.0, 3.0]}}, "feed.written_in"),
        ({}, {"feed": {"time": hours(3), "total": [1.0, 2.0, 3.0], "tank": ["x", "y", "x"]}}, "no row is of a tank of the plan"),
        ({}, {"titrations": {"time": hours(2), "value": [1.0, 2.0], "unit_of_measure": ["%", "mL"]}}, "needs percent_per_ml"),
        ({}, {"titrations": {"time": hours(2), "value": [1.0, -2.0]}}, "row 2.*not below 0"),
        ({}, {"titrations": {"time": hours(2), "value": [1.0, 2.0], "quantity": ["pH", "C"]}}, "no row is of the quantity"),
        ({}, {"additions": {"time": hours(2), "volume": [1.0, -2.0]}}, "row 2.*is below 0"),
        ({}, {"feeds": {}}, "no table 'feeds'"),
        (
            {"tanks": [{"name": "a", "unit": "gal"}, {"name": "b", "unit": "gal"}]},
            {"feed": {"time": hours(3), "total": [1.0, 2.0, 3.0]}},
            "no column says which tank",
        ),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_place(plan: dict[str, Any], tables: dict[str, Any], words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        sf.review_wash(feed_plan(**plan), tables)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"tanks": []}, "wash.tanks"),
        ({"tanks": [{"name": "a", "unit": "lb"}]}, "wash.tanks\\[1\\].unit"),
        ({"tanks": [{"name": "a", "unit": "gal", "lower": 3.0, "upper": 2.0}]}, "lower \\(3\\) must lie below upper"),
        ({"tanks": [{"name": "a", "unit": "gal"}] * 2}, "two tanks are called 'a'"),
        ({"feed": {"file": "f", "written_in": "ft2"}}, "unit of surface"),
        ({"usual": "x", "usual_until": date(2026, 3, 9)}, "either usual"),
        ({"longest_gap": 3.0}, "unknown key; nearest: 'longest_gap_hours'"),
        ({"titrations": {"file": "t", "written_in": "mL"}}, "need percent_per_ml"),
    ],
)
def test_a_plan_that_contradicts_itself_is_refused(change: dict[str, Any], words: str) -> None:
    with pytest.raises(sf.PlanError, match=words):
        feed_plan(**change)


def test_a_whole_plan_takes_the_table_too(months: Path) -> None:
    plan = sf.load_plan(months / "plan.toml")
    assert plan.wash is not None
    assert [tank.name for tank in plan.wash.tanks] == ["cleaner", "phosphate"]


def test_rows_of_other_tanks_rates_and_unit_words_are_told() -> None:
    titrations = {"time": hours(4), "tank": ["bath", "bath", "rinse", "bath"], "value": [2.5, 2.5, 240.0, 2.5]}
    found = sf.review_wash(feed_plan(), {"titrations": titrations})
    assert found.notes == ("titrations: 1 row of tanks that the plan does not have left out: rinse",)
    words = {"time": hours(2), "value": [2.5, 2.4], "unit_of_measure": ["Vol-%", "% vol"]}
    assert sf.review_wash(feed_plan(), {"titrations": words}).tanks[0].percent.tolist() == [2.5, 2.4]
    for word, reason in (("g/L", "is neither % nor mL of titrant"), ("", "says no unit, % or mL of titrant")):
        with pytest.raises(sf.DataProblemsError, match=reason):
            sf.review_wash(feed_plan(), {"titrations": words | {"unit_of_measure": ["%", word]}})
    rate = {"time": hours(3), "total": [15.0, 15.2, 15.1], "unit_of_measure": ["mL/min"] * 3}
    with pytest.raises(sf.DataProblemsError, match=r"'mL/min': is a rate; a meter's total is needed"):
        sf.review_wash(feed_plan(), {"feed": rate})


def test_rows_in_any_order_of_time_say_the_same() -> None:
    total = np.cumsum(np.full(9, 0.7))
    for turn in (slice(None), slice(None, None, -1)):
        tables = {"feed": {"time": hours(9)[turn], "total": total[turn].tolist(), "unit_of_measure": ["gal"] * 9}}
        (tank,) = sf.review_wash(feed_plan(), tables).tanks
        assert tank.charts[0].used == pytest.approx(np.full(8, 0.7))
