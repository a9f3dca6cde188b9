"""Faults planted in generated months of an invented shop are told with row, value and way out; months without them are quiet."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm._result import Result
from steadyfilm._screens.copies import copied_units
from steadyfilm._screens.grids import display_step

from helpers import load_dataset
from screens_shop import COLUMNS, Rows, drop, gates, pick

data = load_dataset(load_dataset().DEMO)
DEMO_COLUMNS = {name: name for name in ("layer", "location", "repeat", "attempt", "time", "unit_of_measure", "gauge")} | {
    "serial": "unit",
    "groups": ["painter", "gun", "booth", "substrate"],
    "limits": {"primer": (1.0, 1.2), "total": (3.0, 3.5)},
}


def screened(rows: Rows, **options: Any) -> sf.Screens:
    return sf.screen(rows, "um", unit="um", **{**COLUMNS, **options})


def demo(month: str, seed: int = 1) -> tuple[Any, sf.Screens]:
    simulated = data.simulate(month, seed=seed)
    return simulated, sf.screen(dict(simulated.readings.columns), "value", unit="mil", **DEMO_COLUMNS)


def example_results() -> list[Result]:
    broken = gates(3, units=30)
    broken["um"][5] /= 25.4
    broken["um"][9] = -1.0
    return [screened(gates(2, units=30)), screened(broken), sf.screen({"x": [1.0, 2.0]}, "x", unit="")]


def kinds(found: sf.Screens) -> list[str]:
    return list(dict.fromkeys(fault.check for fault in found.faults))


# -- plain faults ---------------------------------------------------------------------------------------------------------


def test_a_quiet_month_is_quiet() -> None:
    found = screened(gates(1))
    assert found.clean
    assert found.sentence().startswith("Nothing wrong with 2880 readings of 120 units; ")
    assert found.rows_at_fault == 0


@pytest.mark.parametrize("divide", [True, False])
def test_one_row_typed_in_the_other_unit_is_told_with_row_value_and_way_out(divide: bool) -> None:
    rows = gates(1)
    rows["um"][700] = round(rows["um"][700] / 25.4, 2) if divide else round(rows["um"][700] * 25.4, 1)
    (fault,) = screened(rows).faults
    assert (fault.check, fault.rows, fault.column) == ("wrong unit", (701,), "um")
    assert fault.serial == rows["gate"][700]
    assert fault.value.startswith(str(rows["um"][700]))
    assert "would fit" in fault.reason
    assert fault.way_out == "correct the unit of these rows at the source"


@pytest.mark.parametrize("seed", range(5))
def test_a_unit_typed_in_the_other_unit_is_one_entry(seed: int) -> None:
    rows = gates(seed)
    at = pick(rows, gate="K1017", coat="finish")
    for i in at:
        rows["um"][i] = round(rows["um"][i] / 25.4, 2)
    (fault,) = screened(rows).faults
    assert fault.check == "wrong unit"
    assert fault.rows == tuple(i + 1 for i in at)


@pytest.mark.parametrize("share", [0.45, 0.5, 0.8])
def test_many_rows_in_the_other_unit_are_found_by_window_or_baseline(share: float) -> None:
    rows = gates(4, units=40)
    changed = {i for i in range(len(rows["um"])) if int(rows["gate"][i][1:]) - 1000 < 40 * share}
    for i in changed:
        rows["um"][i] = round(rows["um"][i] / 25.4, 2)
    for options in ({}, {"baseline": gates(5, units=40), "limits": None}):
        found = screened(rows, **options)
        assert {row - 1 for fault in found.faults if fault.check == "wrong unit" for row in fault.rows} == changed


def test_impossible_and_far_values_and_slipped_decimal_signs() -> None:
    rows = gates(1)
    for i, value in ((3, 0.0), (80, -4.0), (150, 9999.0), (400, None)):
        rows["um"][i] = value
    slipped = pick(rows, coat="finish")[50]
    rows["um"][slipped] = round(rows["um"][slipped] * 10, 1)
    found = screened(rows)
    told = {fault.rows[0]: fault for fault in found.faults}
    assert told[4].reason == told[81].reason == "a thickness is above zero"
    assert told[151].check == "impossible value"
    assert told[401].check == "missing reading"
    assert "decimal sign slipped?" in told[slipped + 1].reason
    assert len(found.faults) == 5
    assert found.made.missing_rows == (401,)


def test_another_kind_of_unit_is_not_far_off() -> None:
    rows = gates(1)
    for i in pick(rows, crew="green"):
        rows["um"][i] += 120.0
    assert "far off" not in kinds(screened(rows))


def test_a_plausible_range_can_be_stated() -> None:
    rows = gates(1)
    rows["um"][12] = 61.0
    found = screened(rows, plausible=(10.0, 60.0), layer=None, limits=None)
    assert 13 in {row for fault in found.faults for row in fault.rows}
    assert all(fault.reason == "outside the stated plausible range 10 to 60" for fault in found.faults)


def test_unknown_words_for_units_and_missing_labels() -> None:
    rows = gates(1)
    rows["in"][7] = "furlong"
    rows["place"][30] = None
    reasons = {fault.rows: fault.reason for fault in screened(rows).faults if fault.check == "unreadable"}
    assert reasons == {(8,): "unknown unit of measure 'furlong'", (31,): "no location named"}


def test_mixed_units_are_converted_and_noted_not_blamed() -> None:
    rows = gates(1)
    for i in pick(rows, meter="M7"):
        rows["um"][i], rows["in"][i] = round(rows["um"][i] / 25.4, 2), "mil"
    found = screened(rows)
    assert found.clean
    assert found.notes == ("values are written in different units of measure (1440 in mil, 1440 in um); all are converted to um",)


def test_a_row_entered_twice_and_a_place_left_out() -> None:
    rows = gates(1)
    for column in rows.values():
        column.append(column[100])
    gone = {*pick(rows, gate="K1030", coat="base", place="hinge"), pick(rows, gate="K1040", coat="base", place="rail")[1]}
    found = screened(drop(rows, gone))
    assert kinds(found) == ["entered twice", "missing place"]
    twice, *short = found.faults
    assert twice.rows == (len(rows["um"]) - len(gone),)
    assert twice.reason == "same place and repeat as row 101, with the same value"
    assert {(fault.serial, fault.reason) for fault in short} == {
        ("K1030", "0 of 3 readings of 'base' at hinge"),
        ("K1040", "2 of 3 readings of 'base' at rail"),
    }


@pytest.mark.parametrize("unlike", [0, 1, 4])
@pytest.mark.parametrize("seed", range(3))
def test_copied_units_and_near_copies_come_with_their_chance(unlike: int, seed: int) -> None:
    rows = gates(seed)
    source, target = pick(rows, gate="K1050"), pick(rows, gate="K1052")
    for k, (i, j) in enumerate(zip(source, target, strict=True)):
        rows["um"][j] = rows["um"][i] + (0.3 if k % 6 == 0 and k // 6 < unlike else 0.0)
    (fault,) = screened(rows).faults
    assert (fault.check, fault.serial) == ("copied unit", "K1052")
    assert fault.reason.startswith(f"{'all 24' if not unlike else f'{24 - unlike} of 24'} readings equal those of K1050; ")
    assert fault.reason.endswith("expected honest pairs so alike: below 1e-9")
    assert fault.rows == tuple(j + 1 for j in target)


def test_one_copied_coat_is_told() -> None:
    rows = gates(6)
    for i, j in zip(pick(rows, gate="K1010", coat="base"), pick(rows, gate="K1090", coat="base"), strict=True):
        rows["um"][j] = rows["um"][i]
    (fault,) = screened(rows).faults
    assert fault.reason.startswith("all 12 readings of 'base' equal those of K1010")


def test_coarse_displays_repeat_themselves_honestly() -> None:
    """Two places on a 10 um display: hundreds of pairs are equal by chance, and the stated chance says so."""
    rows = gates(1, steps=(10.0, 10.0), places=2, units=200)
    units = {gate: tuple(rows["um"][i] for i in pick(rows, gate=gate)) for gate in dict.fromkeys(rows["gate"])}
    assert len(set(units.values())) < 190
    assert "copied unit" not in kinds(screened(rows))


def test_the_chance_of_equal_honest_units_is_near_the_truth() -> None:
    """Six readings a unit on a display as coarse as their spread: simulated share of equal pairs against the formula."""
    rng = np.random.default_rng(20)
    units, shape = 4000, (4000, 3, 2)
    film = 50 + rng.normal(0, 1.0, (units, 1, 1)) + rng.normal(0, 1.0, (units, 3, 1)) + rng.normal(0, 0.8, shape)
    shown = np.rint(film)
    flat = shown.reshape(units, 6)
    _, counts = np.unique(flat, axis=0, return_counts=True)
    equal = float(np.sum(counts * (counts - 1) / 2))
    assert equal > 100
    unit = np.repeat(np.arange(units), 6)
    place = np.tile(np.repeat(np.arange(3), 2), units)
    from steadyfilm._screens.copies import _Judge

    judge = _Judge(unit, np.zeros_like(unit), place, flat.ravel(), flat.ravel(), np.arange(unit.size), units * (units - 1) // 2)
    assert judge.chance(np.arange(6), 0) == pytest.approx(equal, rel=0.35)
    assert copied_units(unit, np.zeros_like(unit), place, flat.ravel(), flat.ravel(), np.arange(unit.size), near=False) == []


def test_values_off_the_display_grid() -> None:
    rows = gates(1)
    for i in pick(rows, meter="M8")[6:9]:
        rows["um"][i] += 0.3
    (fault,) = screened(rows).faults
    assert fault.check == "off the grid"
    assert fault.reason == "not a multiple of 1, the step of gauge M8, 1 um display"
    assert len(fault.rows) == 3
    given = screened(gates(1), resolution={"M7": 0.2})
    assert {fault.check for fault in given.faults} == {"off the grid"}
    assert sum(len(fault.rows) for fault in given.faults) == pytest.approx(720, abs=80)  # every second 0.1 is no multiple of 0.2


@pytest.mark.parametrize(
    ("values", "step"),
    [([1.1, 1.25, 1.3], 0.05), ([1.11, 1.25, 1.3], 0.01), ([20.0, 40.0], 20.0), ([3.0, 0.1 + 0.2], 0.1), ([np.pi, np.e], 0.0)],
)
def test_display_steps(values: list[float], step: float) -> None:
    assert display_step(np.array(values)) == pytest.approx(step)


def test_times_back_far_and_at_once() -> None:
    rows = gates(1)
    for i in pick(rows, gate="K1033"):
        rows["at"][i] = "2026-05-07 06:00"
    for i in pick(rows, gate="K1077"):
        rows["at"][i] = rows["at"][i].replace("2026", "2025")
    for i, j in zip(pick(rows, gate="K1060"), pick(rows, gate="K1062"), strict=True):
        rows["at"][j] = rows["at"][i]
    found = screened(rows)
    assert kinds(found) == ["time"]
    reasons = {(fault.serial, fault.reason) for fault in found.faults}
    assert ("K1033", "runs back in time; the rows around it run forward") in reasons
    assert ("K1077", "more than 31 days from all other readings") in reasons
    assert ("K1062", "gauge M7 reads K1060 at the same time") in reasons
    # Of two units that stand in each other's place in time either one may be told.
    assert {serial for serial, _ in reasons} - {"K1061"} == {"K1033", "K1077", "K1062"}


def test_tables_not_kept_in_order_of_time_are_no_fault() -> None:
    rows = gates(1)
    order = np.random.default_rng(1).permutation(len(rows["um"])).tolist()
    assert "time" not in kinds(screened({name: [column[i] for i in order] for name, column in rows.items()}))


def test_the_demonstration_months() -> None:
    simulated, found = demo("demo")
    mistyped, copied = found.faults
    assert (mistyped.check, mistyped.serial) == ("wrong unit", simulated.hit["E6"][0])
    assert len(mistyped.rows) == 15
    source, target = simulated.hit["E8"]
    assert (copied.check, copied.serial) == ("copied unit", target)
    assert copied.reason.startswith(f"all 30 readings equal those of {source}; ")
    for month in ("quiet", "baseline"):
        assert demo(month)[1].clean
