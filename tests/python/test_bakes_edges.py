"""Logs as an outside shop would bring them: odd units, probes, times and schedules; over-baked loads; other days and ovens."""

from __future__ import annotations

import dataclasses
import datetime
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import steadyfilm as sf
from steadyfilm._plan.cure import load_cure_plan
from steadyfilm.cli import main
from steadyfilm.errors import DataProblemsError, InvalidInputError
from steadyfilm.plots.cure_profile import plot_schedule
from steadyfilm.reports.cure import cure_html
from test_bakes import OPTIONS, RECIPE, kinds, review

from helpers import DATASETS, load_dataset

POWDER = sf.Recipe("powder", (sf.SchedulePoint(190.0, 12.0), sf.SchedulePoint(200.0, 10.0), sf.SchedulePoint(210.0, 8.0)))
"""Published: 10 min at 200 C, or 8 at 210, or 12 at 190, of the component."""
UPPER = (sf.SchedulePoint(200.0, 25.0), sf.SchedulePoint(210.0, 12.0))


def log_of(**traces: tuple[Any, Any]) -> dict[str, list[Any]]:
    rows: dict[str, list[Any]] = {"bake": [], "probe": [], "minutes": [], "temperature": []}
    for probe, (minutes, values) in traces.items():
        rows["bake"] += ["1"] * len(minutes)
        rows["probe"] += [probe] * len(minutes)
        rows["minutes"] += [float(x) for x in minutes]
        rows["temperature"] += [None if value is None or math.isnan(value) else float(value) for value in values]
    return rows


def part(minutes: Any, lag: float = 10.0, air: float = 66.0, seed: int = 1) -> Any:
    noise = np.random.default_rng(seed).normal(0.0, 0.2, len(minutes))
    return np.round(air - (air - 20.0) * np.exp(-np.asarray(minutes) / lag) + noise, 1)


def alone(rows: dict[str, list[Any]], recipe: sf.Recipe = RECIPE, **options: Any) -> sf.BakeReview:
    return review(rows, recipe, dataclasses.replace(OPTIONS, air=(), **options))


MINUTES = np.arange(106.0)
OPEN = "not demonstrated"

# -- units ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("swapped", "first", "last"),
    [(lambda t: t > 50, 51.0, 105.0), (lambda t: (t > 50) & (t < 80), 51.0, 79.0), (lambda t: t < 50, 0.0, 49.0)],
)
def test_a_unit_that_changes_within_the_bake_costs_its_stretch_alone(swapped: Any, first: float, last: float) -> None:
    values = part(MINUTES)
    mixed = np.where(swapped(MINUTES), np.round(1.8 * values + 32.0, 1), values)
    found = alone(log_of(door=(MINUTES, mixed), lid=(MINUTES, part(MINUTES, 8.0, seed=2))))
    fault = next(x for x in found.faults if x.kind == "unit swap")
    assert (fault.probe, fault.from_min, fault.to_min, fault.effect) == ("door", first, last, "lost")
    assert "the unit changed within the bake" in fault.words
    place = next(x for x in found.bakes[0].places if x.probe == "door")
    assert place.state == "not demonstrated"
    sound = ~swapped(MINUTES)
    whole = sf.time_above(MINUTES[sound], temperature_c=values[sound], threshold_c=60.0).observed.total_min
    assert place.observed_min[0] == pytest.approx(whole, abs=1e-9)
    assert place.maximum == "pass"  # 151 is not C


def test_celsius_taken_for_fahrenheit_within_a_bake_is_found_too() -> None:
    values = 1.8 * part(MINUTES) + 32.0
    mixed = np.where(MINUTES > 60, (values - 32.0) / 1.8, values)
    found = alone(log_of(door=(MINUTES, mixed)), unit="F")
    fault = next(x for x in found.faults if x.kind == "unit swap")
    assert (fault.from_min, fault.to_min) == (61.0, 105.0)
    assert "if they are C taken for F" in fault.words


# -- probes --------------------------------------------------------------------------------------------------------------


def test_a_probe_without_any_reading_is_a_place_not_demonstrated() -> None:
    silent = log_of(door=(MINUTES, np.full(106, math.nan)), lid=(MINUTES, part(MINUTES)))
    found = alone(silent)
    assert [(x.probe, x.state) for x in found.bakes[0].places] == [("door", "not demonstrated"), ("lid", "pass")]
    assert found.not_demonstrated == 1
    assert "106 rows of the log without a temperature" in found.notes[0]
    with pytest.raises(DataProblemsError, match="the log holds no reading"):
        alone(log_of(door=(MINUTES, np.full(106, math.nan))))


def test_twins_for_a_while_are_not_observed_for_that_while() -> None:
    one, two = part(MINUTES, 10.0), part(MINUTES, 12.0, seed=9)
    found = alone(log_of(door=(MINUTES, one), lid=(MINUTES, np.where(MINUTES > 50, one, two))))
    assert kinds(found) == [("door", "twin"), ("lid", "twin")]
    assert {(x.from_min, x.to_min) for x in found.faults} == {(51.0, 105.0)}
    assert found.not_demonstrated == 1


def test_sound_probes_beside_one_another_are_no_twins() -> None:
    for seed in range(20):
        rows = log_of(door=(MINUTES, part(MINUTES, 10.0, seed=seed)), lid=(MINUTES, part(MINUTES, 10.5, seed=100 + seed)))
        assert kinds(alone(rows)) == []


def test_one_probe_alone_and_thirty_are_judged_each() -> None:
    assert alone(log_of(door=(MINUTES, part(MINUTES)))).passed == 1
    lags = [6.0 + k for k in range(30)]
    found = alone(log_of(**{f"p{k}": (MINUTES, part(MINUTES, lag, seed=k)) for k, lag in enumerate(lags)}))
    places = found.bakes[0].places
    assert len(places) == 30
    assert found.bakes[0].worst == found.bakes[0].coldest == "p29"
    # Slower parts have less time: 105 - lag ln(46 / 6) min without noise.
    for place, lag in zip(places, lags, strict=True):
        assert place.credited_min[0] == pytest.approx(105.0 - lag * math.log(46.0 / 6.0), abs=2.5)


def test_a_quick_part_in_a_hot_oven_does_not_jump() -> None:
    minutes = np.arange(0.0, 30.5, 0.5)
    warm = log_of(panel=(minutes, np.round(205.0 - 185.0 * np.exp(-minutes / 4.0), 1)))
    found = alone(warm, POWDER)
    assert kinds(found) == []
    assert found.passed == 1
    fell = np.where(minutes > 15, 60.0, 205.0 - 185.0 * np.exp(-minutes / 4.0))
    assert kinds(alone(log_of(panel=(minutes, np.round(fell, 1))), POWDER))[0] == ("panel", "jump")


# -- times ---------------------------------------------------------------------------------------------------------------


def test_irregular_times_are_judged_by_the_limits_of_a_gap_that_are_said() -> None:
    rng = np.random.default_rng(4)
    minutes = np.concatenate([[0.0], np.cumsum(np.exp(rng.uniform(math.log(1.0 / 60.0), math.log(10.0), 80)))])
    values = part(minutes)
    strict = alone(log_of(door=(minutes, values)))
    assert strict.not_demonstrated == 1
    assert {kind for _, kind in kinds(strict)} == {"gap"}
    wide = alone(log_of(door=(minutes, values)), rules=sf.LogRules(gap_medians=1000.0, longest_interval_min=10.0))
    place = wide.bakes[0].places[0]
    above = [  # by hand: every interval's share at 60 C or above
        (b - a) * (1.0 if min(p, q) >= 60 else 0.0 if max(p, q) < 60 else (max(p, q) - 60) / abs(q - p))
        for a, b, p, q in zip(minutes[:-1], minutes[1:], values[:-1], values[1:], strict=True)
    ]
    assert place.observed_min[0] == pytest.approx(math.fsum(above), rel=1e-9)


@pytest.mark.parametrize(("count", "what"), [(1, "one reading"), (4, "gap")])
def test_too_little_to_tell_is_not_demonstrated(count: int, what: str) -> None:
    minutes = np.array([0.0, 20.0, 50.0, 100.0])[:count]
    found = alone(log_of(door=(minutes, [61.0, 62.0, 63.0, 64.0][:count])))
    assert found.not_demonstrated == 1
    assert what in {kind for _, kind in kinds(found)}


def test_infinite_and_missing_cells_are_named_with_row() -> None:
    values = part(MINUTES)
    with pytest.raises(DataProblemsError, match="row 51, value inf: is not finite"):
        alone(log_of(door=(MINUTES, np.where(MINUTES == 50, math.inf, values))))
    rows = log_of(door=(MINUTES, values))
    rows["minutes"][7] = None
    with pytest.raises(DataProblemsError, match="row 8: time is missing"):
        alone(rows)


# -- the upper curve -----------------------------------------------------------------------------------------------------


def brute(minutes: Any, values: Any, points: tuple[sf.SchedulePoint, ...]) -> float:
    """Largest share of the upper curve used: time above counted interval by interval at 4,000 temperatures."""
    x = np.array([1.0 / (p.temperature_c + 273.15) for p in points])
    y = np.log([p.minutes for p in points])
    most = 0.0
    for level in np.linspace(points[0].temperature_c, points[-1].temperature_c, 4001):
        allowed = math.exp(float(np.interp(-1.0 / (level + 273.15), -x, y)))
        a, b = values[:-1], values[1:]
        high, low = np.maximum(a, b), np.minimum(a, b)
        share = np.clip((high - level) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
        have = float(np.sum(np.diff(minutes) * np.where(high > low, share, high >= level)))
        most = max(most, have / allowed)
    return most


@pytest.mark.parametrize("seed", range(4))
def test_time_against_the_upper_curve_is_that_of_counting(seed: int) -> None:
    rng = np.random.default_rng(seed)
    minutes = np.cumsum(rng.uniform(0.2, 1.0, 60))
    values = 203.0 + 6.0 * np.sin(minutes / 5.0) + rng.normal(0.0, 1.0, 60)
    found = sf.judge_place(minutes, temperature_c=values, recipe=dataclasses.replace(POWDER, overbake=UPPER))
    share = found.overbake_observed_min / found.overbake_allowed_min
    assert share == pytest.approx(brute(minutes, values, UPPER), rel=2e-3)
    assert found.overbake == ("fail" if share > 1.0 else "pass")


def test_an_over_baked_load_fails_with_place_and_amount_on_page_and_picture() -> None:
    recipe = dataclasses.replace(POWDER, overbake=UPPER, maximum_c=230.0)
    minutes = np.arange(0.0, 50.5, 0.5)
    rows = log_of(
        rim=(minutes, part(minutes, 4.0, air=204.0)),
        hub=(minutes, part(minutes, 6.0, air=198.0, seed=2)),
    )
    found = alone(rows, recipe)
    assert (found.failed, found.bakes[0].worst) == (1, "rim")
    rim, hub = found.bakes[0].places
    assert (rim.state, rim.schedule, rim.overbake, rim.maximum) == ("fail", "pass", "fail", "pass")
    assert (hub.state, hub.overbake) == ("pass", "pass")
    assert "over-baked: " in found.sentence()
    assert "at most " in found.sentence()
    page = cure_html(found, when=datetime.datetime(2026, 5, 4))
    assert "over-baked: " in page
    assert "25 min at most; more is over-baked" in page
    drawn = plot_schedule(found)
    assert drawn.data["upper_min"].tolist() == [25.0, 12.0]
    assert "upper curve" in drawn.caption
    told = sf.judge_place(minutes, temperature_c=rows["temperature"][:101], recipe=recipe)
    assert told.sentence().startswith("Fail: ")
    assert told.overbake_words() in told.sentence()


def test_a_gap_may_hide_an_over_bake_and_the_text_says_so() -> None:
    minutes = [0.0, 1.0, 2.0, 3.0, 20.0, 21.0]
    recipe = sf.Recipe("one", (sf.SchedulePoint(200.0, 3.0),), overbake=(sf.SchedulePoint(200.0, 10.0),))
    found = sf.judge_place(minutes, temperature_c=[204.0] * 6, recipe=recipe)
    assert (found.state, found.schedule, found.overbake) == ("not demonstrated", "pass", "not demonstrated")
    assert "over-baked if all unobserved stretches are credited: 21 min at 200 C or above, at most 10 allowed" in found.sentence()


def test_the_recipe_table_has_lines_of_the_upper_curve() -> None:
    rows: dict[str, list[Any]] = {"recipe": ["A"] * 4, "line": ["schedule", "overbake", "overbake", "maximum"]}
    rows |= {"temperature": [374.0, 392.0, 410.0, 446.0], "unit_of_measure": ["F"] * 4, "minutes": [12.0, 25.0, 12.0, None]}
    (recipe,) = sf.read_recipes(rows)
    assert [(round(p.temperature_c, 9), p.minutes) for p in recipe.overbake] == [(200.0, 25.0), (210.0, 12.0)]


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        ((sf.SchedulePoint(200.0, 10.0), sf.SchedulePoint(210.0, 12.0)), "falls with temperature"),
        ((sf.SchedulePoint(200.0, 10.0), sf.SchedulePoint(200.0, 12.0)), "falls with temperature"),
        ((sf.SchedulePoint(200.0, 0.0),), "minutes above 0"),
        ((sf.SchedulePoint(190.0, 11.0),), "12 min at 190 C are asked for, yet overbake allows 11"),
    ],
)
def test_upper_curves_that_cannot_be_meant_are_refused(curve: tuple[sf.SchedulePoint, ...], words: str) -> None:
    with pytest.raises(InvalidInputError, match=words):
        dataclasses.replace(POWDER, overbake=curve)


# -- another shop's files ------------------------------------------------------------------------------------------------

START = datetime.datetime(2026, 10, 25, 2, 20)
NAMES = ("bake=Charge", "probe=Fühler", "time=Zeit", "temperature=Temp")


def shop_file(folder: Path, stamp: Any) -> Path:
    values = part(MINUTES, 8.0)
    lines = [f"17;Tür;{stamp(k)};" + f"{values[k]:.1f}".replace(".", ",") for k in range(106)]
    (folder / "log.csv").write_text("Charge;Fühler;Zeit;Temp\n" + "\n".join(lines) + "\n", encoding="utf-8")
    recipe = "recipe;line;temperature;unit_of_measure;minutes\nA;schedule;60,0;C;60\n"
    (folder / "recipes.csv").write_text(recipe, encoding="utf-8")
    return folder / "log.csv"


def asked(log: Path, *more: str) -> Any:
    options = [x for name in NAMES for x in ("--column", name)]
    formats = ["--separator", ";", "--decimal", ","]
    files = ["cure", str(log), "--recipes", str(log.parent / "recipes.csv")]
    return CliRunner().invoke(main, [*files, *options, *formats, "--unit", "C", *more])


def clock_back(k: int) -> datetime.datetime:
    return START + datetime.timedelta(minutes=k - 60 if k >= 40 else k)


@pytest.mark.parametrize(
    "stamp",
    [
        lambda k: (START + datetime.timedelta(minutes=k)).isoformat(),
        lambda k: (START + datetime.timedelta(minutes=k)).isoformat() + "Z",
        lambda k: clock_back(k).isoformat() + ("+01:00" if k >= 40 else "+02:00"),
        lambda k: clock_back(k).isoformat(),
    ],
)
def test_a_foreign_log_is_read_whatever_its_clock(tmp_path: Path, stamp: Any) -> None:
    out = asked(shop_file(tmp_path, stamp))
    assert out.exit_code == 0, out.output
    assert "1 of 1 bake had its cure." in out.output


def test_times_of_another_kind_are_read_when_said_and_refused_when_not(tmp_path: Path) -> None:
    german = shop_file(tmp_path, lambda k: (START + datetime.timedelta(minutes=k)).strftime("%d.%m.%Y %H:%M"))
    assert "1 of 1 bake had its cure." in asked(german, "--time-format", "%d.%m.%Y %H:%M").output
    refused = asked(german)
    assert refused.exit_code == 3
    assert "'25.10.2026 02:20': is not a time in ISO 8601" in refused.output
    epoch = asked(shop_file(tmp_path, lambda k: 1_772_524_800 + 60 * k))
    assert epoch.exit_code == 3
    assert "value '1772524800': is not a time" in epoch.output


# -- other days and ovens ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seed", "moves", "wrong"),
    [
        (
            3,
            {"events.E5.day": 9, "events.E9.day": 14, "events.E10.day": 4},
            {"18": "fail", "28": OPEN, "7": "fail"},
        ),
        (8, {"events.E5.day": 3, "events.E9.day": 20, "oven.unit": "F"}, {"6": "fail", "40": OPEN, "29": "fail"}),
    ],
)
def test_events_on_other_days_are_found_there(seed: int, moves: dict[str, Any], wrong: dict[str, str]) -> None:
    data = load_dataset(load_dataset().DEMO)
    moved = data.variant(data.SHOP, moves)
    plan = load_cure_plan(DATASETS / load_dataset().DEMO / "plan.toml")
    logs = {name: table.columns for name, table in data.simulate("demo", seed=seed, scenario=moved).logs.items()}
    found = sf.review_bakes(logs["oven_log"], logs["recipes"], loads=logs["bake_loads"], options=plan.options)
    assert {x.bake: x.state for x in found.bakes if x.state != "pass"} == wrong
