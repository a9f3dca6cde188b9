"""Two hundred months of a washer: the committed table keeps the bounds, and some of its months come out again."""

from __future__ import annotations

import importlib.util
import math
import sys
from dataclasses import astuple
from types import ModuleType
from typing import Any

import pytest
from scipy import stats

from steadyfilm._plan.wash import load_wash_plan

from helpers import DATASETS, REPOSITORY, load_dataset

PLACE = REPOSITORY / "tests" / "bench" / "wash_months.py"


def load() -> ModuleType:
    """The script as a module."""
    spec = importlib.util.spec_from_file_location("wash_months", PLACE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["wash_months"] = module
    spec.loader.exec_module(module)
    return module


bench = load()
ROWS: list[Any] = bench.read()


def of(kind: str) -> list[Any]:
    return [row for row in ROWS if row.kind == kind]


def test_the_table_holds_two_hundred_months_of_each_kind_with_events_on_all_days() -> None:
    for kind in bench.KINDS:
        assert [row.seed for row in of(kind)] == list(range(1, 201))
        assert {row.first_day for row in of(kind)} == set(range(2, 20))


def test_a_stuck_pump_is_always_named_at_the_first_reading_and_before_the_titration() -> None:
    stuck = of("stuck")
    assert all(row.found for row in stuck)
    assert {row.start_error_intervals for row in stuck} == {0}
    assert {row.intervals_to_see for row in stuck} == {1}
    assert {row.share for row in stuck} == {-1.0}
    assert all(row.titration_out and row.lead_hours > 0.0 for row in stuck)


def test_a_fifth_less_is_nearly_always_found_with_its_size() -> None:
    weak = [row for row in of("a fifth less") if row.found]
    assert len(weak) >= 190
    assert sum(row.share for row in weak) / len(weak) == pytest.approx(-0.2, abs=0.01)
    assert sum(abs(row.start_error_intervals) <= 1 for row in weak) >= 0.95 * len(weak)


@pytest.mark.parametrize("kind", ["quiet", "stuck"])
def test_false_calls_are_as_many_as_the_plan_allows(kind: str) -> None:
    """0.1 a month over all charts: about 19 in 200 months of 28.7 days; Poisson counts keep to four standard errors."""
    counted = sum(row.other_changes for row in of(kind))
    expected = 200 * 0.1 * (28.67 / (365.25 / 12))
    assert abs(counted - expected) <= 4.0 * math.sqrt(expected)
    assert sum(row.other_changes > 0 for row in of(kind)) <= stats.binom.isf(0.001, 200, 0.1)


def test_some_months_come_out_again() -> None:
    plan = load_wash_plan(DATASETS / "truck_bodies" / "plan.toml")
    for seed in (1, 57, 143):
        again = bench.months_of(seed, plan, load_dataset("truck_bodies"))
        kept = [row for row in ROWS if row.seed == seed]
        assert [repr(astuple(row)) for row in again] == [repr(astuple(row)) for row in kept]
