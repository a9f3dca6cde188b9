"""Readings to unit averages: by hand-made tables whose averages can be checked in the head."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm._review.averages import LayerUnits, other_places, unit_averages, without_copies
from steadyfilm._review.conformance import outside
from steadyfilm._review.gather import gather, short_of_readings
from steadyfilm._review.unevenness import unit_spreads

PLAN = """
[columns]
unit = "unit"
layer = "layer"
location = "place"
repeat = "n"
value = "film"
unit_of_measure = "in"
attempt = "try"
[measure]
unit = "{unit}"
[[layers]]
name = "base"
lower = 1.0
upper = 1.2
[[layers]]
name = "top"
reading = "both"
minus = "base"
"""


def plan_in(unit: str = "mil") -> Any:
    return sf.read_plan(PLAN.format(unit=unit))


def rows(*given: tuple[Any, ...]) -> dict[str, list[Any]]:
    names = ("unit", "layer", "place", "n", "film", "in", "try")
    return {name: [row[k] for row in given] for k, name in enumerate(names)}


def body(unit: str, base: float = 1.1, both: float = 3.2, attempt: int = 1) -> list[tuple[Any, ...]]:
    """A unit with two places and two repeats; the right place is 0.1 above the left one on both readings."""
    out = []
    for layer, film in (("base", base), ("both", both)):
        for place, more in (("left", 0.0), ("right", 0.1)):
            out += [(unit, layer, place, n, film + more + 0.02 * n - 0.03, "mil", attempt) for n in (1, 2)]
    return out


MONTH = rows(*body("A"), *body("B", 1.2, 3.1), *body("C", 1.0, 3.3))


def test_a_unit_average_is_the_mean_of_location_means_and_layers_differ_place_by_place() -> None:
    found = gather(MONTH, plan_in())
    base, top = unit_averages(found, plan_in(), "first")
    assert base.units == ("A", "B", "C")
    assert base.average == pytest.approx([1.15, 1.25, 1.05])
    assert top.average == pytest.approx([2.1, 1.9, 2.3])
    assert top.spots[0] == pytest.approx([2.1, 2.1])


def test_location_means_count_once_however_many_repeats_a_location_has() -> None:
    more = rows(*body("A"), *[("A", "base", "left", n, 5.0, "mil", 1) for n in (3, 4)], *body("B"), *body("C"))
    base = unit_averages(gather(more, plan_in()), plan_in(), "first")[0]
    left = (1.09 + 1.11 + 5.0 + 5.0) / 4
    assert base.average[0] == pytest.approx((left + 1.2) / 2)


def test_readings_become_one_unit() -> None:
    mixed = {name: list(column) for name, column in MONTH.items()}
    for i in range(0, len(mixed["film"]), 2):
        mixed["film"][i] *= 25.4
        mixed["in"][i] = "µm"
    base = unit_averages(gather(mixed, plan_in()), plan_in(), "first")[0]
    assert base.average == pytest.approx([1.15, 1.25, 1.05], rel=1e-15)
    metric = sf.read_plan(PLAN.format(unit="um").replace("lower = 1.0", "lower = 25.4").replace("upper = 1.2", "upper = 30.48"))
    in_um = unit_averages(gather(mixed, metric), metric, "first")[0]
    assert in_um.average == pytest.approx([25.4 * 1.15, 25.4 * 1.25, 25.4 * 1.05])


def test_what_cannot_be_a_reading_is_set_aside_with_row_value_and_reason() -> None:
    bad = {name: list(column) for name, column in MONTH.items()}
    for row, value in ((0, 28.4), (1, -1.1), (2, 0.0), (3, None), (4, 1e300)):
        bad["film"][row] = value
    bad["in"][5] = "inch"
    bad["unit"][6] = ""
    found = gather(bad, plan_in())
    reasons = {item.line: item.reason for item in found.set_aside}
    assert reasons[1] == "more than 10 times away from the median 1.11 of 'base'; 1.12 would fit: um typed as mil?"
    assert reasons[2] == reasons[3] == "a thickness is above zero"
    assert reasons[4] == "reading is missing"
    assert reasons[5].startswith("more than 10 times away from the median")
    assert reasons[6] == "unknown unit of measure 'inch'"
    assert reasons[7] == "no unit named"
    assert len(reasons) == 7
    assert found.set_aside[0].value == "28.4 mil"
    base, top = unit_averages(found, plan_in(), "first")
    assert base.units == ("B", "C")
    assert base.incomplete == (("A", "no usable reading of 'base'"),)
    assert top.incomplete == (("A", "no usable reading of 'base'"),)


@pytest.mark.parametrize("share", [0.6, 1.0])
def test_a_month_typed_in_the_other_unit_is_told_by_its_window(share: float) -> None:
    slipped = {name: list(column) for name, column in MONTH.items()}
    base = [i for i, layer in enumerate(slipped["layer"]) if layer == "base"]
    wrong = base[: round(share * len(base))]
    for i in wrong:
        slipped["film"][i] = round(slipped["film"][i] * 25.4, 1)
    aside = gather(slipped, plan_in()).set_aside
    assert [item.line for item in aside] == [i + 1 for i in wrong]
    assert all(item.reason.endswith("would fit: um typed as mil?") for item in aside)


def test_a_plan_can_state_what_is_plausible() -> None:
    plan = sf.read_plan(PLAN.format(unit="mil").replace('unit = "mil"', 'unit = "mil"\nplausible = [0.5, 3.32]'))
    aside = gather(MONTH, plan).set_aside
    assert [(x.unit, x.place if hasattr(x, "place") else x.location) for x in aside] == [("C", "right"), ("C", "right")]
    assert aside[0].reason == "outside the plan's plausible range 0.5 to 3.32"


def test_nothing_is_reviewed_when_most_rows_are_unusable() -> None:
    bad = {**MONTH, "in": ["inch"] * len(MONTH["in"])}
    with pytest.raises(
        sf.DataProblemsError, match=r"24 problems(.|\n)*unknown unit of measure 'inch'(.|\n)*nothing was reviewed"
    ):
        gather(bad, plan_in())


def test_a_layer_without_readings_is_an_error_that_shows_what_is_there() -> None:
    other = {**MONTH, "layer": ["base"] * len(MONTH["layer"])}
    with pytest.raises(
        sf.DataProblemsError, match=r"column 'layer'.*'both': no row has this reading.*\nReadings present: 'base'"
    ):
        gather(other, plan_in())


def test_a_reading_of_no_layer_is_noted() -> None:
    more = rows(*body("A"), *body("B"), *body("C"), ("A", "clear", "left", 1, 1.0, "mil", 1))
    assert gather(more, plan_in()).notes == ("1 reading of 'clear' belongs to no layer of the plan",)


def test_second_attempts_count_for_the_window_and_first_ones_for_the_charts() -> None:
    again = [row for row in body("A", both=3.5, attempt=2) if row[1] == "both"]
    found = gather(rows(*body("A"), *body("B"), *again), plan_in())
    first, last = (unit_averages(found, plan_in(), which)[1] for which in ("first", "last"))
    assert first.average[0] == pytest.approx(2.1)
    assert last.average[0] == pytest.approx(2.4)
    assert first.repeated == ("A",)


def attempts(*given: Any) -> dict[str, list[Any]]:
    """Four units, each measured whole at the attempt given."""
    return rows(*(row for unit, attempt in zip("ABCD", given, strict=False) for row in body(unit, attempt=attempt)))


def test_attempts_may_be_counted_from_1_from_0_as_touch_ups_or_left_empty() -> None:
    assert set(gather(attempts(1, 2, 1, 3), plan_in()).attempt.tolist()) == {1, 2, 3}
    found = gather(attempts(0, 1, 0, 2), plan_in())
    assert found.attempt.reshape(4, 8)[:, 0].tolist() == [1, 2, 1, 3]
    assert gather(attempts(None, 2.0, None, 1.0), plan_in()).attempt.reshape(4, 8)[:, 0].tolist() == [1, 2, 1, 1]
    without = sf.read_plan(PLAN.format(unit="mil").replace('attempt = "try"', ""))
    assert set(gather(attempts(1, 2, 1, 3), without).attempt.tolist()) == {1}


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ((1, 1.5, 1, 1), "column 'try', row 9, value 1.5: is no attempt"),
        ((1, -1, 1, 1), "column 'try', row 9, value -1: is no attempt"),
        ((2, 2, 3, 2), "column 'try', whole column: holds no first attempt: the lowest is 2"),
    ],
)
def test_what_is_no_attempt_is_refused(given: tuple[Any, ...], said: str) -> None:
    with pytest.raises(sf.DataProblemsError) as caught:
        gather(attempts(*given), plan_in())
    assert said in str(caught.value)


def test_a_unit_whose_first_attempt_is_not_there_is_judged_and_said_but_not_charted() -> None:
    found = gather(attempts(1, 2, 1, 1), plan_in())
    assert unit_averages(found, plan_in(), "first")[0].units == ("A", "C", "D")
    assert unit_averages(found, plan_in(), "last")[0].units == ("A", "B", "C", "D")
    notes = sf.review_readings(attempts(1, 2, 1, 1), plan_in()).notes
    assert "B: no usable first attempt of 'base', so not charted; judged on a later one" in notes
    # The first attempt is there, but what it reads cannot be.
    table = attempts(1, 1, 1, 1)
    table["film"][8:16] = [0.0] * 8
    for row in body("B", attempt=2):
        for name, cell in zip(table, row, strict=True):
            table[name].append(cell)
    assert any(note.startswith("B: no usable first attempt of 'both'") for note in sf.review_readings(table, plan_in()).notes)


def test_a_copied_unit_and_a_row_entered_twice_are_set_aside() -> None:
    copied = [("B", *row[1:]) for row in body("A")]
    table = rows(*body("A"), *copied, *body("C", 1.0, 3.3), body("C", 1.0, 3.3)[0])
    found, aside = without_copies(gather(table, plan_in()))
    assert [item.unit for item in aside].count("B") == 8
    assert {x.reason for x in aside if x.unit == "B"} == {"all 8 readings equal those of A: a copied form?"}
    assert [x.reason for x in aside if x.unit == "C"] == ["entered before, in row 17"]
    assert unit_averages(found, plan_in(), "first")[0].units == ("A", "C")


def test_a_copy_is_found_however_its_rows_are_sorted() -> None:
    given = [*body("A"), *body("B", 1.2, 3.1), *body("C", 1.0, 3.3)]
    copy = [("D", *row[1:]) for row in body("A")]
    kept, copies = without_copies(gather(rows(*given, *copy[::-1]), plan_in()))
    assert {x.unit for x in copies} == {"D"}
    assert len(copies) == len(copy)
    assert kept.value.size == len(given)
    numbered = [(*row[:3], 12 - 3 * row[3], *row[4:]) for row in (*given, *copy[::-1])]  # 9 comes before 12, as a number
    # The two readings of a place change sides for both units, so that they stay alike.
    assert len(without_copies(gather(rows(*numbered), plan_in()))[1]) == len(copy)


def read_at(film: dict[str, float], count: int) -> tuple[LayerUnits, ...]:
    """Units that follow one pattern of places exactly, their places in the order given."""
    given = [
        (f"U{k}", layer, name, 1, more + at + 0.01 * (k % 3), "mil", 1)
        for k in range(count)
        for layer, more in (("base", 0.0), ("both", 2.0))
        for name, at in film.items()
    ]
    return unit_averages(gather(rows(*given), plan_in()), plan_in(), "first")


def test_places_are_those_of_the_baseline_by_name_whatever_the_order_of_a_file() -> None:
    usual = read_at({"left": 1.15, "right": 1.0, "roof": 1.3}, 24)
    rough = read_at({"left": 1.15, "right": 1.0, "roof": 1.4}, 24)
    assert unit_spreads(usual[0], usual[0]).freedom == 0  # one exact pattern leaves rounding alone: no limits
    mixed = LayerUnits(**{**vars(usual[0]), "spots": np.vstack([usual[0].spots[:12], rough[0].spots[:12]])})
    turned = read_at({"roof": 1.3, "left": 1.15, "right": 1.0}, 3)[0]
    told, same = (unit_spreads(mixed, month).month for month in (turned, usual[0].take(np.arange(24) < 3)))
    assert told == pytest.approx(same)
    # Half a roof's excess is in the pattern: deviations -(1/60), -(1/60), 2/60 with two degrees of freedom.
    assert told == pytest.approx([np.sqrt(6.0) / 60.0 / np.sqrt(2.0)] * 3)
    more = read_at({"hood": 1.0, "right": 1.0, "roof": 1.3, "left": 1.15}, 3)[0]
    assert unit_spreads(mixed, more).month == pytest.approx(told)


def test_places_that_only_one_of_both_periods_has_are_told() -> None:
    usual, month = read_at({"left": 1.1, "roof": 1.3}, 3), read_at({"hood": 1.2, "left": 1.1}, 3)
    assert other_places(usual, usual) == ()
    assert other_places((None, None), month) == ()
    base, top = other_places(usual, month)
    assert base.startswith("base is read at other places than in the baseline ('roof' only there; 'hood' only here): ")
    assert top.startswith("top is read at other places")


def test_equal_readings_of_a_stuck_gauge_are_no_copies() -> None:
    flat = [
        (u, layer, p, n, film, "mil", 1)
        for u in "ABC"
        for layer, film in (("base", 1.1), ("both", 3.2))
        for p in "lr"
        for n in (1, 2)
    ]
    stuck = [(*row[:4], 1.1, *row[5:]) for row in flat]
    assert without_copies(gather(rows(*stuck), plan_in()))[1] == ()


def test_a_unit_that_lacks_a_usual_location_has_no_average_and_short_places_are_told() -> None:
    full = [row for unit in "ABCDGHIK" for row in body(unit)]
    table = rows(*full, *[row for row in body("E") if row[2] != "right"], body("F")[0])
    found = gather(table, plan_in())
    base = unit_averages(found, plan_in(), "first")[0]
    assert base.units == tuple("ABCDGHIK")
    assert base.incomplete == (("E", "no usable reading at right"), ("F", "no usable reading at right"))
    assert short_of_readings(found) == ("F: 1 of 2 usable readings of 'base' at left",)


def test_without_layer_location_repeat_or_attempt_columns() -> None:
    plan = sf.read_plan(
        'columns = {unit = ["lot", "no"], value = "x"}\nmeasure = {unit = "unstated"}\nlayers = [{name = "film"}]'
    )
    found = gather({"lot": [1, 1, 1, 2], "no": ["a", "a", "b", "a"], "x": [-2.0, 4.0, 3.0, 7.0]}, plan)
    film = unit_averages(found, plan, "first")[0]
    assert film.units == ("1 / a", "1 / b", "2 / a")
    assert film.average.tolist() == [1.0, 3.0, 7.0]


def test_units_stand_in_the_order_of_their_readings() -> None:
    plan = sf.read_plan('columns = {unit = "u", value = "x", time = "t"}\nmeasure = {unit = "mil"}\nlayers = [{name = "film"}]')
    found = gather({"u": ["late", "early"], "x": [1.0, 2.0], "t": ["2026-03-02 09:00", "2026-03-02 07:00"]}, plan)
    assert unit_averages(found, plan, "first")[0].units == ("early", "late")


def test_three_readings_of_088_meet_the_lower_limit_of_08_times_11() -> None:
    mean = np.array([0.88 + 0.88 + 0.88]) / 3
    assert not any(flags.any() for flags in outside(mean, 0.8 * 1.1, None))
    assert mean[0] != 0.8 * 1.1  # as doubles they differ; the comparison must not see it
    below, above = outside(np.array([0.8799, 0.88, 1.2, 1.2001]), 0.88, 1.2)
    assert below.tolist() == [True, False, False, False]
    assert above.tolist() == [False, False, False, True]
