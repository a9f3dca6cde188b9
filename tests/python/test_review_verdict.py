"""The verdict claims no more than was seen: ends that the data leave open, streams without limits, months without spread."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm._review.words import day_text

from helpers import ONE_LAYER, REPOSITORY, shop


def first_rows(table: dict[str, list[Any]], count: int) -> dict[str, list[Any]]:
    return {name: column[:count] for name, column in table.items()}


def test_an_end_that_the_data_do_not_tell_from_the_last_unit_is_no_end() -> None:
    # Gun A is 0.2 mil off, four sigma of a unit, up to the 32nd day; of its one unit after that a third of the step is left.
    table = first_rows(shop(step=0.2), (32 * 6 + 1) * 3)
    table["film"][-3:] = [2.17] * 3
    (finding,) = sf.review_readings(table, sf.read_plan(ONE_LAYER)).findings
    assert not finding.lasting
    assert finding.when.endswith("to U314 (Apr 12) or later, 18 units")
    # With the eight days that follow the end is told: U314 is the last unit that was off.
    (finding,) = sf.review_readings(shop(step=0.2), sf.read_plan(ONE_LAYER)).findings
    assert finding.when.endswith("to U314 (Apr 12), 18 units")


def test_a_gun_that_the_baseline_never_saw_is_not_called_stable() -> None:
    table = shop()
    table["gun"] = ["C" if gun == "B" and i >= 150 * 3 else gun for i, gun in enumerate(table["gun"])]
    found = sf.review_readings(table, sf.read_plan(ONE_LAYER))
    assert found.verdict[0].startswith("The line is stable: ")
    assert found.verdict[0].endswith("; C not judged, without limits (45 units).")


def test_a_month_without_any_spread_is_no_steady_line() -> None:
    table = shop()
    table["film"] = [film if i < 120 * 3 else 2.1 for i, film in enumerate(table["film"])]
    found = sf.review_readings(table, sf.read_plan(ONE_LAYER))
    assert found.stable is None
    assert found.verdict[0] == (
        "Stability is not judged (film: all 120 unit averages are 2.1: a stuck gauge or copied readings, not a steady line)."
    )


@pytest.mark.parametrize(
    ("miss", "line"), [("rework", "No unit of film can be judged."), ("tell", "Film: no unit can be judged.")]
)
def test_a_baseline_that_takes_every_unit_leaves_none_to_judge(miss: str, line: str) -> None:
    plan = ONE_LAYER.replace("upper = 2.3", f'upper = 2.3\nmiss = "{miss}"').replace("2026-03-31", "2027-12-31")
    assert line in sf.review_readings(shop(), sf.read_plan(plan)).verdict


def test_one_unit_is_told_in_the_singular() -> None:
    table = {"unit": ["A", "A"], "film": [2.1, 2.12]}
    plan = sf.read_plan(
        """
        columns = {unit = "unit", value = "film"}
        measure = {unit = "mil"}
        layers = [{name = "film", lower = 2.0, upper = 2.2}]
        """
    )
    assert "Film: the only unit keeps 2.0 to 2.2 mil." in sf.review_readings(table, plan).verdict


def test_dates_are_the_same_words_whatever_the_language() -> None:
    days = [np.datetime64("2026-03-13T06:10"), np.datetime64("2026-12-01")]
    assert [day_text(day) for day in days] == ["Mar 13", "Dec 1"]
    # strftime's names of months and days follow the language that the process was set to.
    package = REPOSITORY / "python" / "steadyfilm"
    named = re.compile(r"(:|strftime\(f?['\"])[^'\"}]*%[aAbBcxX]")
    assert [str(path) for path in package.rglob("*.py") if named.search(path.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize("seed", range(1, 9))
def test_without_a_baseline_nothing_is_called_stable(seed: int) -> None:
    # A step of gun A from the 11th of 20 days on, two and a half standard deviations of a unit; no month to compare with.
    rng = np.random.default_rng(seed)
    table = shop(seed=seed, days=20)
    day = np.array([int(unit[1:3]) for unit in table["unit"]])
    off = rng.choice([0.05, 0.12]) * ((day >= 10) & (np.array(table["gun"]) == "A"))
    table["film"] = (np.array(table["film"]) + off).tolist()
    found = sf.review_readings(table, sf.read_plan(ONE_LAYER.partition("[baseline]")[0]))
    first = found.verdict[0]
    if found.findings:
        assert first.startswith("The line is not stable: film ")
        assert found.layers[0].stability_word == "not stable"
        return
    assert "stable" not in first
    assert first.startswith(
        "In film no change stands out against the day-to-day variation estimated from the same units, 120 units; "
    )
    assert first.endswith("; without a baseline a lasting change can pass as such variation.")
    assert found.layers[0].stability_word == "no change stands out"
    assert "against the variation of the same units; a lasting one can pass as that" in found.layers[0].why
    assert found.layers[0].capability is not None
    assert found.layers[0].capability.stable is None


def test_a_step_that_passes_as_day_to_day_variation_is_not_denied() -> None:
    # All units step, with no quiet month beside: half of the months of such a shop look like days that differ.
    passed = 0
    for seed in range(1, 9):
        table = shop(seed=seed, days=20)
        day = np.array([int(unit[1:3]) for unit in table["unit"]])
        table["film"] = (np.array(table["film"]) + 0.05 * (day >= 10)).tolist()
        found = sf.review_readings(table, sf.read_plan(ONE_LAYER.partition("[baseline]")[0]))
        passed += not found.findings
        assert "The line is stable" not in found.verdict[0]
    assert passed >= 1  # the case is met; otherwise this test would check nothing


def test_streams_without_limits_are_named_beside_a_change_too() -> None:
    table = shop(step=0.2)
    table["gun"] = ["C" if gun == "B" and i >= 150 * 3 else gun for i, gun in enumerate(table["gun"])]
    first = sf.review_readings(table, sf.read_plan(ONE_LAYER)).verdict[0]
    assert first.startswith("The line is not stable: film rose by ")
    assert first.endswith("; C not judged, without limits (45 units).")
