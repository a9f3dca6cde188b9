"""Logs of bakes: every kind of fault made on purpose and found, three states, tables as a shop has them, what is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm._cure_verdicts import minutes_text
from steadyfilm._plan.cure import load_cure_plan
from steadyfilm.errors import PlanError

from helpers import ONE_LAYER

RECIPE = sf.Recipe(
    "slow",
    (sf.SchedulePoint(60.0, 60.0), sf.SchedulePoint(71.1, 30.0)),
    maximum_c=90.0,
    dose=sf.DoseWanted(60.0, 60.0, 55.0),
    air_c=66.0,
    bake_min=105.0,
)
COLUMNS = sf.LogColumns(time=None, minutes="minutes")
OPTIONS = sf.CureOptions(COLUMNS, unit="C", air=("duct",))
LAGS = {"lid": 6.0, "beam": 18.0}


def bake(name: str = "1", *, minutes: int = 105, seed: int = 3, cold_min: float = 0.0) -> dict[str, list[Any]]:
    """A sound bake: air and two parts, one row a minute and probe, noise of 0.3 C and a display of 0.1.

    The oven is warm at the start, or comes up from 20 C with this time constant.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(minutes + 1.0)
    air = 66.0 + np.convolve(rng.normal(0.0, 0.35, t.size + 8), np.ones(9) / 3.0, "valid")
    if cold_min:
        air -= 46.0 * np.exp(-t / cold_min)
    traces = {"duct": air}
    for probe, lag in LAGS.items():
        part, value = [], 20.0
        for i in range(t.size):
            part.append(value)
            value += (air[i] - value) * (1.0 - math.exp(-1.0 / lag))
        traces[probe] = np.array(part)
    rows: dict[str, list[Any]] = {"bake": [], "probe": [], "minutes": [], "temperature": []}
    for probe, values in traces.items():
        rows["bake"] += [name] * t.size
        rows["probe"] += [probe] * t.size
        rows["minutes"] += t.tolist()
        rows["temperature"] += np.round(values + rng.normal(0.0, 0.3, t.size), 1).tolist()
    return rows


def changed(rows: dict[str, list[Any]], probe: str, change: Any) -> dict[str, list[Any]]:
    """The same with a probe's readings changed: ``change(minute, value)`` gives the new one, None leaves the row out."""
    out: dict[str, list[Any]] = {name: [] for name in rows}
    for i in range(len(rows["probe"])):
        value = rows["temperature"][i]
        if rows["probe"][i] == probe:
            value = change(rows["minutes"][i], value)
        if value is not None:
            for name in rows:
                out[name].append(value if name == "temperature" else rows[name][i])
    return out


def joined(*parts: dict[str, list[Any]]) -> dict[str, list[Any]]:
    return {name: [x for part in parts for x in part[name]] for name in parts[0]}


def review(rows: dict[str, list[Any]], recipe: sf.Recipe = RECIPE, options: sf.CureOptions = OPTIONS) -> sf.BakeReview:
    return sf.review_bakes(rows, [recipe], options=options)


def kinds(found: sf.BakeReview) -> list[tuple[str, str]]:
    return [(fault.probe, fault.kind) for fault in found.faults]


def example_results() -> list[Any]:
    gap = changed(bake("2"), "beam", lambda minute, value: None if 70 < minute < 90 else value)
    short = {name: values[:] for name, values in bake("3", minutes=60).items()}
    return [review(joined(bake(), gap, short)), review(bake())]


# -- verdicts -----------------------------------------------------------------------------------------------------------


def test_a_sound_log_passes_without_a_word_of_faults() -> None:
    for seed in range(30):
        found = review(bake(seed=seed))
        assert found.verdict == ("1 of 1 bake had its cure.",), seed
        assert found.faults == ()


def test_a_bake_is_judged_by_its_worst_place_and_says_place_and_amount() -> None:
    cold = {name: values[:] for name, values in bake("9", minutes=75).items()}
    found = review(joined(bake("8"), cold))
    assert (found.passed, found.failed, found.not_demonstrated) == (1, 1, 0)
    bad = found.bakes[1]
    assert (bad.state, bad.worst, bad.dose) == ("fail", "beam", "pass")
    wanted = next(x for x in bad.places if x.probe == "beam")
    by_hand = sf.time_above(
        *[np.array([v for p, v in zip(cold["probe"], cold[c], strict=True) if p == "beam"]) for c in ("minutes",)],
        temperature_c=[v for p, v in zip(cold["probe"], cold["temperature"], strict=True) if p == "beam"],
        threshold_c=60.0,
    )
    assert wanted.observed_min[0] == by_hand.observed.total_min
    text = f"bake 9 failed: beam {minutes_text(wanted.observed_min[0], 60.0)} of 60 min at 60 C or above"
    assert text in found.sentence()
    assert "schedule missed, dose met" in found.sentence()
    assert "its log ends after 75 of 105 min" in found.verdict[1]


def test_a_gap_makes_it_not_demonstrated_when_all_hangs_on_it_and_only_then() -> None:
    rows = bake()
    on_plateau = changed(rows, "beam", lambda minute, value: None if 70 < minute < 90 else value)
    found = review(on_plateau)
    assert found.bakes[0].state == "not demonstrated"
    assert kinds(found) == [("beam", "gap")]
    assert (found.faults[0].from_min, found.faults[0].to_min, found.faults[0].amount) == (70.0, 90.0, 20.0)
    early = changed(rows, "beam", lambda minute, value: None if 2 < minute < 20 else value)
    found = review(early)
    assert found.bakes[0].state == "pass"
    assert found.verdict[1].startswith("Bake 1 passed in spite of a fault of its log (beam: gap from minute 2 to minute 20")


def test_the_maximum_fails_a_bake_however_long_it_was_hot() -> None:
    found = review(changed(bake(), "lid", lambda minute, value: value + 25.0 * math.exp(-(((minute - 70.0) / 8.0) ** 2))))
    assert found.bakes[0].state == "fail"
    assert "above the maximum of 90 C" in found.sentence()


def test_a_place_that_one_bake_lacks_is_not_demonstrated_there() -> None:
    found = review(joined(bake("1"), changed(bake("2"), "beam", lambda minute, value: None)))
    assert [x.state for x in found.bakes] == ["pass", "not demonstrated"]
    assert ("beam", "not logged") in kinds(found)
    found = review(bake(), options=replace(OPTIONS, places=("lid", "beam")))
    assert found.passed == 1


# -- faults, each made on purpose ---------------------------------------------------------------------------------------


def test_an_open_circuit_means_nothing_and_is_bridged_when_credited() -> None:
    found = review(changed(bake(), "beam", lambda minute, value: 1372.0 if 70 <= minute < 90 else value))
    assert kinds(found) == [("beam", "open circuit")]
    assert found.faults[0].effect == "lost"
    assert found.bakes[0].state == "not demonstrated"  # not too hot: the readings mean nothing
    beam = next(x for x in found.bakes[0].places if x.probe == "beam")
    assert beam.peak_c < 70.0
    assert beam.unobserved_min == pytest.approx(21.0)


def test_a_stuck_value_is_not_observed_from_its_first_to_its_last_reading() -> None:
    found = review(changed(bake(), "beam", lambda minute, value: 63.7 if 60 <= minute <= 90 else value))
    assert kinds(found) == [("beam", "stuck")]
    assert (found.faults[0].from_min, found.faults[0].to_min, found.faults[0].amount) == (60.0, 90.0, 31.0)
    assert found.bakes[0].state == "not demonstrated"


def test_ten_equal_readings_are_not_yet_stuck() -> None:
    ten = changed(bake(), "beam", lambda minute, value: 63.7 if 60 <= minute < 70 else value)
    assert ("beam", "stuck") not in kinds(review(ten))
    eleven = changed(bake(), "beam", lambda minute, value: 63.7 if 60 <= minute < 71 else value)
    assert ("beam", "stuck") in kinds(review(eleven))


def test_a_coarse_display_may_stand_still() -> None:
    rows = bake()
    rows["temperature"] = [float(round(value)) for value in rows["temperature"]]
    # Whole degrees: 25 equal readings on the plateau, while no other probe moves by more than three of them.
    rows = changed(rows, "beam", lambda minute, value: 66.0 if minute >= 80 else value)
    assert ("beam", "stuck") not in kinds(review(rows))


def test_a_probe_that_falls_into_the_air_jumps_and_then_counts_only_when_credited() -> None:
    rows = bake()
    air = dict(zip(rows["minutes"][:106], rows["temperature"][:106], strict=True))
    found = review(changed(rows, "beam", lambda minute, value: air[minute] + 0.1 if minute >= 12 else value))
    assert ("beam", "jump") in kinds(found)
    jump = found.faults[0]
    assert jump.from_min == 12.0
    assert jump.amount > 15.0
    assert found.bakes[0].state == "not demonstrated"


def test_a_jump_and_back_is_a_stretch_without_meaning() -> None:
    found = review(changed(bake(), "beam", lambda minute, value: value + 30.0 if 80 <= minute < 84 else value))
    assert kinds(found) == [("beam", "jump")]
    assert (found.faults[0].from_min, found.faults[0].to_min, found.faults[0].effect) == (80.0, 83.0, "lost")
    assert found.bakes[0].state == "pass"


def test_a_probe_that_hangs_in_the_air_from_the_start_is_named() -> None:
    rows = bake(cold_min=9.0)
    assert review(rows).faults == ()
    air = rows["temperature"][:106]
    rng = np.random.default_rng(1)
    lag = {"value": 20.0}

    def hanging(minute: float, value: float) -> float:
        lag["value"] += (air[int(minute)] - lag["value"]) * (1.0 - math.exp(-1.0 / 0.25))
        return round(lag["value"] + float(rng.normal(0.0, 0.3)), 1)

    found = review(changed(rows, "beam", hanging))
    assert ("beam", "follows the air") in kinds(found)
    assert found.bakes[0].state == "not demonstrated"
    assert ("lid", "follows the air") not in kinds(found)


def test_twin_probes_are_named_both() -> None:
    rows = bake()
    beam = dict(
        zip(
            rows["minutes"][:106],
            [v for p, v in zip(rows["probe"], rows["temperature"], strict=True) if p == "beam"],
            strict=True,
        )
    )
    found = review(changed(rows, "lid", lambda minute, value: beam[minute]))
    assert kinds(found) == [("lid", "twin"), ("beam", "twin")]
    assert found.bakes[0].state == "not demonstrated"


def test_readings_in_the_other_unit_are_named_never_converted() -> None:
    rows = bake()
    in_f = {**rows, "temperature": [round(value * 1.8 + 32.0, 1) for value in rows["temperature"]]}
    found = review(in_f)
    assert {kind for _, kind in kinds(found)} == {"unit swap"}
    assert found.bakes[0].state == "not demonstrated"
    assert review(in_f, options=replace(OPTIONS, unit="F")).passed == 1
    other = review(rows, options=replace(OPTIONS, unit="F"))
    assert {kind for _, kind in kinds(other)} == {"unit swap"}
    assert other.bakes[0].state == "not demonstrated"
    one = review(changed(rows, "beam", lambda minute, value: value * 1.8 + 32.0))
    assert kinds(one) == [("beam", "unit swap")]


def test_an_oven_that_stayed_cold_is_no_swapped_unit() -> None:
    rows = bake()
    rows["temperature"] = [round(20.0 + 0.02 * value, 1) for value in rows["temperature"]]
    found = review(rows)
    assert "unit swap" not in {kind for _, kind in kinds(found)}
    # A value that hardly moves is stuck as well, and even so credited it is far from any schedule.
    assert found.bakes[0].state == "fail"


def test_a_clock_set_back_is_undone_and_told() -> None:
    rows = bake()
    rows["minutes"] = [minute - 60.0 if minute > 50 else minute for minute in rows["minutes"]]
    found = review(rows)
    assert {kind for _, kind in kinds(found)} == {"clock change"}
    assert found.passed == 1
    assert {(x.from_min, x.amount) for x in found.faults} == {(50.0, 60.0)}


def test_a_clock_set_forward_is_a_gap_that_may_be_one() -> None:
    rows = bake()
    rows["minutes"] = [minute + 60.0 if minute > 50 else minute for minute in rows["minutes"]]
    found = review(rows)
    assert {kind for _, kind in kinds(found)} == {"gap"}
    assert "the clock may have been set forward" in found.faults[0].words


def test_times_out_of_order_and_twice_are_told_and_the_rest_is_judged() -> None:
    rows = bake()
    k = 106 + 40
    rows["minutes"][k], rows["minutes"][k + 1] = rows["minutes"][k + 1], rows["minutes"][k]
    rows["temperature"][k], rows["temperature"][k + 1] = rows["temperature"][k + 1], rows["temperature"][k]
    rows["minutes"][k + 10] = rows["minutes"][k + 9]
    found = review(rows)
    assert kinds(found) == [("lid", "time out of order"), ("lid", "time twice")]
    assert found.passed == 1


def test_a_log_that_starts_hot_is_not_failed_for_what_it_does_not_show() -> None:
    rows = bake()
    late = changed(rows, "beam", lambda minute, value: value if minute >= 70 else None)
    whole = {
        name: [x for x, minute in zip(values, rows["minutes"], strict=True) if minute >= 70] for name, values in rows.items()
    }
    found = review(late)
    assert {kind for _, kind in kinds(found)} == {"starts late", "starts hot"}
    assert found.bakes[0].state == "not demonstrated"
    found = review(whole)
    assert {kind for _, kind in kinds(found)} == {"starts hot"}
    assert found.bakes[0].state == "not demonstrated"


def test_a_probe_that_stops_before_the_load_is_told() -> None:
    found = review(changed(bake(), "beam", lambda minute, value: value if minute <= 60 else None))
    assert kinds(found) == [("beam", "ends early")]
    assert found.faults[0].amount == 45.0
    assert found.bakes[0].state == "not demonstrated"


def test_one_reading_gives_what_it_can() -> None:
    found = review(changed(bake(), "beam", lambda minute, value: value if minute == 50 else None))
    assert ("beam", "one reading") in kinds(found)
    assert found.bakes[0].state == "not demonstrated"


def test_bakes_without_a_marker_are_cut_at_pauses() -> None:
    one, two = bake("x"), bake("x", seed=5)
    two["minutes"] = [minute + 300.0 for minute in two["minutes"]]
    rows = joined(one, two)
    del rows["bake"]
    columns = replace(COLUMNS, bake=None)
    with pytest.raises(sf.InvalidInputError, match="no column of bakes"):
        review(rows, options=replace(OPTIONS, columns=columns))
    found = review(rows, options=replace(OPTIONS, columns=columns, rules=sf.LogRules(pause_min=60.0)))
    assert [x.bake for x in found.bakes] == ["1", "2"]
    assert found.passed == 2
    assert [x.kind for x in found.faults] == ["no start marker"] * 2


def test_a_coarse_log_shows_no_cure_between_its_readings() -> None:
    rows = bake()
    some = [k for k in range(len(rows["minutes"])) if rows["minutes"][k] in (0, 1, 2, 40, 80, 105)]
    found = review({name: [values[k] for k in some] for name, values in rows.items()})
    # 25 min is the median interval here, and three of it would be no gap: a straight line over 40 min is no observation.
    assert found.bakes[0].state == "not demonstrated"
    assert {kind for _, kind in kinds(found)} == {"gap"}
    told = review(
        {name: [values[k] for k in some] for name, values in rows.items()},
        options=replace(OPTIONS, rules=sf.LogRules(longest_interval_min=60.0)),
    )
    assert told.passed == 1


def test_a_log_without_order_is_sorted_and_never_taken_for_a_clock() -> None:
    rows = bake()
    mixed = np.random.default_rng(1).permutation(len(rows["minutes"]))
    found = review({name: [values[k] for k in mixed] for name, values in rows.items()})
    assert {kind for _, kind in kinds(found)} == {"time out of order"}
    inside = {place.probe: place for place in found.bakes[0].places}
    for place in review(rows).bakes[0].places:
        # Minutes count from the first row of the log, which is another one here; amounts stay.
        assert inside[place.probe].observed_min == pytest.approx(place.observed_min, rel=1e-9)


def test_a_log_without_a_reading_is_refused() -> None:
    rows = bake()
    for nothing in ({name: [] for name in rows}, {**rows, "temperature": [None] * len(rows["bake"])}):
        with pytest.raises(sf.DataProblemsError, match="the log holds no reading"):
            review(nothing)


def test_one_time_for_all_readings_shows_nothing() -> None:
    rows = bake()
    found = review({**rows, "minutes": [5.0] * len(rows["minutes"])})
    assert found.bakes[0].state == "not demonstrated"
    assert ("beam", "one reading") in kinds(found)


# -- tables -------------------------------------------------------------------------------------------------------------


def test_a_log_with_a_column_a_probe_tells_the_same() -> None:
    rows = bake()
    wide: dict[str, list[Any]] = {"minutes": rows["minutes"][:106], "bake": ["1"] * 106}
    for k, probe in enumerate(("duct", "lid", "beam")):
        wide[probe] = rows["temperature"][106 * k : 106 * (k + 1)]
    columns = replace(COLUMNS, probe=None, temperature=None, probe_columns=("duct", "lid", "beam"))
    found = review(wide, options=replace(OPTIONS, columns=columns))
    assert found.bakes[0].places == review(rows).bakes[0].places


def test_files_say_the_same_and_give_their_digests(tmp_path: Path) -> None:
    rows = bake()
    lines = ["bake;probe;minutes;temperature;unit"]
    for b, p, m, t in zip(*rows.values(), strict=True):
        lines.append(f"{b};{p};{m:g};{str(round(t * 1.8 + 32.0, 2)).replace('.', ',')};degF")
    (tmp_path / "log.txt").write_text("\n".join(lines), encoding="utf-8")
    recipes = "recipe;line;temperature;unit_of_measure;minutes;activation_energy\nslow;schedule;60;C;60;\nslow;dose;140;F;60;55\n"
    (tmp_path / "recipes.csv").write_text(recipes, encoding="utf-8")
    columns = replace(COLUMNS, unit_of_measure="unit")
    options = sf.CureOptions(columns, air=("duct",))
    found = sf.review_bake_files(tmp_path / "log.txt", tmp_path / "recipes.csv", options=options, separator=";", decimal=",")
    same = review(rows).bakes[0].places
    assert found.bakes[0].places[1].observed_min[0] == pytest.approx(same[1].observed_min[0], abs=0.02)
    assert set(found.inputs) == {"log.txt", "recipes.csv"}
    assert all(len(digest) == 64 for digest in found.inputs.values())


def test_loads_say_which_recipe_and_units(tmp_path: Path) -> None:
    hard = replace(RECIPE, name="hard", schedule=(sf.SchedulePoint(66.0, 200.0),))
    loads = {
        "bake": ["1", "1", "2", "7"],
        "recipe": ["slow", "slow", "hard", "slow"],
        "serial": ["A", "B", "C", "D"],
        "oven": ["x"] * 4,
    }
    options = replace(OPTIONS, columns=replace(COLUMNS, load_unit="serial"))
    found = sf.review_bakes(joined(bake("1"), bake("2")), [RECIPE, hard], loads=loads, options=options)
    assert [(x.recipe, x.units, x.state) for x in found.bakes] == [("slow", ("A", "B"), "pass"), ("hard", ("C",), "fail")]
    assert found.notes == ("bake 7 is among the loads, not in the log: nothing is known of it",)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"unit": None}, "unit of the temperatures is not declared"),
        ({"unit": "X"}, "no known unit of temperature"),
        ({"air": ("ducd",)}, "no probe 'ducd' in the log; nearest: 'duct'"),
        ({"places": ("lids",)}, "no probe 'lids' in the log; nearest: 'lid'"),
        ({"air": ("duct", "lid", "beam")}, "no place on a part is left"),
    ],
)
def test_what_is_not_said_is_asked_for(change: dict[str, Any], words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        review(bake(), options=replace(OPTIONS, **change))


def test_cells_that_cannot_be_are_named_with_row() -> None:
    rows = bake()
    rows["temperature"][4] = "warm"
    with pytest.raises(sf.DataProblemsError, match=r"column 'temperature', row 5, value 'warm'"):
        review(rows)
    rows = bake()
    rows["probe"][2] = ""
    with pytest.raises(sf.DataProblemsError, match=r"column 'probe', row 3: probe is missing"):
        review(rows)
    rows = bake()
    rows["temperature"][3] = None
    assert "1 row of the log without a temperature, first in row 4" in review(rows).notes[0]


def test_two_recipes_and_no_word_which_are_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="which of the 2 recipes"):
        sf.review_bakes(bake(), [RECIPE, replace(RECIPE, name="other")], options=OPTIONS)
    with pytest.raises(sf.InvalidInputError, match="no recipe 'slwo'; nearest: 'slow'"):
        sf.review_bakes(bake(), [RECIPE], options=OPTIONS, recipe="slwo")


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (("a", "schedul", 60, "C", 60), "is none of setpoint, schedule"),
        (("a", "schedule", None, "C", 60), "temperature is missing"),
        (("a", "schedule", 60, "C", 0), "minutes above 0"),
        (("a", "schedule", 60, "", 60), "no known unit of temperature"),
        (("a", "maximum", 90, "C", None), "has no schedule line"),
        (("a", "dose", 60, "C", 60), "activation energy of 0"),
    ],
)
def test_recipes_with_holes_are_refused(row: tuple[Any, ...], words: str) -> None:
    names = ("recipe", "line", "temperature", "unit_of_measure", "minutes")
    with pytest.raises(sf.DataProblemsError, match=words):
        sf.read_recipes({name: [value] for name, value in zip(names, row, strict=True)})


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("airs = ['duct']", "cure.airs: unknown key; nearest: 'air'"),
        ("air = 3", "cure.air: should be a name, or a list of names (got 3)"),
        ("air = ['duct', 4]", "cure.air[2]: Input should be a valid string (got 4)"),
        ("unit = 'K'", "cure.unit: Input should be 'C' or 'F' (got 'K')"),
        ("dose_role = 'tell'", "cure.dose_role: Input should be 'told', 'enough' or 'needed' (got 'tell')"),
        ("tolerance_k = '2'", "cure.tolerance_k: Input should be a valid number (got '2')"),
        ("columns.probes = 'x'", "cure.columns.probes: unknown key; nearest: 'probe'"),
        ("format.separatr = ';'", "cure.format.separatr: unknown key; nearest: 'separator'"),
        ("rules.stuck = 4", "cure.rules.stuck: unknown key; nearest: 'stuck_readings'"),
        ("rules.gap_medians = 0", "cure.rules.gap_medians: Input should be greater than 0 (got 0)"),
        ("rules.stuck_readings = 0", "cure.rules.stuck_readings: Input should be greater than or equal to 1 (got 0)"),
        ("rules.lowest_c = 500", "cure.rules: lowest_c (500) must lie below highest_c (400)"),
        ("rules = 3", "cure.rules: must be a table, got 3; its keys: gap_medians, longest_interval_min"),
    ],
)
def test_a_plan_with_mistakes_is_refused_by_either_reader(content: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "oven.toml").write_text(f"[cure]\n{content}\n", encoding="utf-8")
    with pytest.raises(PlanError) as alone:
        load_cure_plan(tmp_path / "oven.toml")
    with pytest.raises(PlanError) as whole:
        sf.read_plan(f"{ONE_LAYER}[cure]\n{content}\n", name="oven.toml")
    assert alone.value.problems == whole.value.problems
    assert len(alone.value.problems) == 1
    assert words in alone.value.problems[0]


def test_the_defaults_of_a_plan_are_those_of_the_library(tmp_path: Path) -> None:
    (tmp_path / "oven.toml").write_text("[cure]\n", encoding="utf-8")
    assert load_cure_plan(tmp_path / "oven.toml").options == sf.CureOptions()


def test_an_empty_name_says_that_there_is_no_such_column(tmp_path: Path) -> None:
    (tmp_path / "oven.toml").write_text("[cure.columns]\nbake = ''\nprobe_columns = 'door'\n", encoding="utf-8")
    columns = load_cure_plan(tmp_path / "oven.toml").options.columns
    assert (columns.bake, columns.probe_columns, columns.time) == (None, ("door",), "time")


def test_oven_files_are_written_as_the_readings_unless_the_table_says_how(tmp_path: Path) -> None:
    (tmp_path / "oven.toml").write_text("file = {separator = ';'}\n[cure]\nrecipes = 'r.csv'\n", encoding="utf-8")
    plan = load_cure_plan(tmp_path / "oven.toml")
    assert (plan.reading["separator"], plan.recipes) == (";", tmp_path / "r.csv")
    (tmp_path / "oven.toml").write_text("file = {separator = ';'}\n[cure.format]\ndecimal = '.'\n", encoding="utf-8")
    assert load_cure_plan(tmp_path / "oven.toml").reading["separator"] == ","
