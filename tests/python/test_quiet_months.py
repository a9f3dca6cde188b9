"""The test bench of two hundred quiet months: its committed tables keep the bounds, and some of its months come out again."""

from __future__ import annotations

import importlib.util
import math
import sys
from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from scipy import stats

from steadyfilm._review import alarms

from helpers import REPOSITORY, load_dataset


def load(name: str) -> ModuleType:
    """A script of the bench as a module."""
    spec = importlib.util.spec_from_file_location(name, REPOSITORY / "tests" / "bench" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


bench = load("quiet_months")
model = load("quiet_model")
CHARTS: list[Any] = bench.read(bench.CHARTS, bench.Chart)
MONTHS: list[Any] = bench.read(bench.MONTHS, bench.Month)
MODEL: list[Any] = bench.read(model.TABLE, model.Row)
KEYS = list(dict.fromkeys((x.rules, x.layer, x.stream) for x in CHARTS))


def kept(seen: Sequence[float], stated: Sequence[float]) -> bool:
    """Whether what is seen on average is within 10 % or four standard errors of what is stated."""
    error = float(np.std(seen, ddof=1)) / math.sqrt(len(seen))
    return abs(float(np.mean(seen)) - float(np.mean(stated))) <= max(0.1 * float(np.mean(stated)), 4 * error)


def test_the_tables_hold_two_hundred_months_of_every_chart() -> None:
    assert [x.seed for x in MONTHS] == list(range(1, 201))
    assert len(KEYS) == 3 * 4
    for key in KEYS:
        assert [x.seed for x in CHARTS if (x.rules, x.layer, x.stream) == key] == list(range(1, 201))


@pytest.mark.parametrize("key", KEYS, ids=", ".join)
def test_charts_show_as_many_episodes_as_they_state(key: tuple[str, str, str]) -> None:
    """Within 10 % or four standard errors: for the lines of the review, for three sigma, and for zone tests."""
    own = [x for x in CHARTS if (x.rules, x.layer, x.stream) == key]
    assert kept([x.episodes for x in own], [x.expected for x in own])
    # At most 1 % of months above the 99 % point: more than 8 of 200 have a chance below one in a thousand.
    assert stats.binom.sf(8, 200, 0.01) < 0.001
    assert sum(x.episodes > x.most_expected for x in own) <= 8
    # Independent units would promise less than is seen, by far with zones.
    assert np.mean([x.independent for x in own]) < np.mean([x.episodes for x in own])


def test_the_shipped_quiet_month_has_no_chart_above_its_99_percent_point(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarms, "RELATIVE_ERROR", bench.RELATIVE_ERROR)
    _, charts = bench.quiet_month(load_dataset(load_dataset().DEMO).SEED, own_batches=False)
    assert len(charts) == 12
    assert all(x.episodes <= x.most_expected for x in charts)


def test_the_alarm_budget_of_one_a_month_is_kept() -> None:
    assert kept([x.false_calls for x in MONTHS], [x.expected for x in MONTHS])
    assert all(x.expected <= 1.0 for x in MONTHS)
    assert min(x.sigma_multiple for x in MONTHS) > 3.0


def test_at_most_18_of_200_quiet_months_name_a_cause() -> None:
    assert sum(x.names_a_cause for x in MONTHS) <= 18


@pytest.mark.parametrize("seed", [1, 77])
def test_months_come_out_again(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alarms, "RELATIVE_ERROR", bench.RELATIVE_ERROR)
    month, charts = bench.quiet_month(seed)
    assert month == next(x for x in MONTHS if x.seed == seed)
    assert charts == [x for x in CHARTS if x.seed == seed]


def model_rows(shop: str, day_effect: str) -> dict[tuple[str, str], list[Any]]:
    """Rows by layer and lines."""
    found: dict[tuple[str, str], list[Any]] = {}
    for row in MODEL:
        if (row.shop, row.day_effect) == (shop, day_effect):
            found.setdefault((row.layer, row.lines), []).append(row)
    assert len(found) == 6
    return found


@pytest.mark.parametrize(("shop", "day_effect"), [("no batches", "true"), ("no batches", "fitted"), ("own batches", "fitted")])
def test_a_shop_as_the_model_has_it_shows_what_is_stated(shop: str, day_effect: str) -> None:
    """With the day effect known and with what a baseline tells of it; batches that come anew pass for days.

    Within 10 % or four standard errors, here of the difference: what is stated varies from baseline to baseline as well.
    """
    for rows in model_rows(shop, day_effect).values():
        assert len(rows) == model.BASELINES
        apart = np.array([x.seen - x.stated for x in rows])
        stated = float(np.mean([x.stated for x in rows]))
        assert abs(apart.mean()) <= max(0.1 * stated, 4 * apart.std(ddof=1) / math.sqrt(len(rows)))


def test_months_that_repeat_the_batches_of_their_baseline_show_less_than_those_with_their_own() -> None:
    """What the center is off by because of batches cancels: a shop that no baseline can be told from one with its own batches."""
    same, own = (model_rows(f"{word} batches", "fitted") for word in ("same", "own"))
    for key, rows in same.items():
        seen, stated = (np.mean([getattr(x, name) for x in rows]) for name in ("seen", "stated"))
        assert seen < stated
        assert seen < np.mean([x.seen for x in own[key]])
        assert stated == pytest.approx(np.mean([x.stated for x in own[key]]), rel=0.1)


def test_a_baseline_of_the_model_table_comes_out_again() -> None:
    assert model.baseline(7) == [x for x in MODEL if x.baseline == 7]
