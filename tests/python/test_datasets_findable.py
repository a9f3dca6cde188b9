"""The README's tables of faults found and of fault-free months: they hold what was asked, and a slice comes out again."""

from __future__ import annotations

import importlib
import re

import numpy as np
import pytest

from helpers import DATASETS, load_dataset

shop = load_dataset("truck_bodies")
findable = importlib.import_module(f"{shop.__name__}.findable")
fault_free = importlib.import_module(f"{shop.__name__}.fault_free")
known = importlib.import_module(f"{shop.__name__}.known")
README = (DATASETS / "truck_bodies" / "README.md").read_text(encoding="utf-8")
SHOP = shop.SHOP
SEEDS = range(1, 7)

# These hang on noise; the others on what is written, whatever the seed.
BY_CHANCE = {
    ("E1", "replacement dated within one day"),
    ("E2", "raised by day 10"),
    ("E4", "first coat off, film alone"),
}


def table() -> dict[tuple[str, str], tuple[int, int]]:
    """The README's table: fault and question to how many demo and quiet months of 200."""
    rows = re.findall(r"^\| (E\d+) \| ([^|]+) \| (\d+) of 200 \| (\d+) of 200 \|$", README, re.MULTILINE)
    return {(code, question): (int(demo), int(quiet)) for code, question, demo, quiet in rows}


def test_every_fault_is_found_by_its_day_in_95_percent_of_200_months() -> None:
    shown = table()
    assert [code for code, _ in shown] == sorted((code for code, _ in shown), key=lambda code: int(code[1:]))
    assert {code for code, _ in shown} == {event.code for event in SHOP.events} == set(findable.RAISED_BY)
    assert len(findable.RAISED_BY) == 11
    assert min(demo for demo, _ in shown.values()) >= 190
    assert max(quiet for _, quiet in shown.values()) <= 4
    assert min(demo for row, (demo, _) in shown.items() if row not in BY_CHANCE) == 200


@pytest.mark.parametrize("name", ["demo", "quiet"])
def test_a_slice_of_the_table_comes_out_again(name: str) -> None:
    found = [findable.look(shop.simulate(name, seed=seed)) for seed in SEEDS]
    assert set(found[0]) == set(table())
    for row in table():
        count = sum(answers[row] for answers in found)
        if name == "quiet":
            assert count <= 1, row
        else:
            assert count >= len(SEEDS) - (row in BY_CHANCE), row


def test_a_fault_made_small_is_no_longer_found() -> None:
    """The analyses can fail: with a tenth of the size hardly any of the film's faults is there to be found."""
    small = {
        "events.E1.per_day": 0.0025,
        "events.E2.factor": 0.9923,
        "events.E3.spread_factor": {"topcoat": 1.02},
        "events.E4.offset": 0.015,
    }
    scenario = shop.variant(SHOP, small)
    found = [findable.look(shop.simulate("demo", seed=seed, scenario=scenario), scenario) for seed in SEEDS]
    for row in (("E1", "raised by day 12"), ("E2", "raised by day 10"), ("E3", "spread raised by day 17")):
        assert sum(answers[row] for answers in found) <= 1, row
    assert sum(answers["E4", "first coat off, film alone"] for answers in found) <= 1


def test_chi_square_as_normal_keeps_its_tail() -> None:
    """99.9 % points of chi-square: 10 degrees 29.588, 50 degrees 86.661 (NIST/SEMATECH handbook, table 1.3.6.7.4)."""
    assert findable.chi_square_z(29.588, 10) == pytest.approx(3.090, abs=0.02)
    assert findable.chi_square_z(86.661, 50) == pytest.approx(3.090, abs=0.01)


def test_quiet_bakes_and_tanks_are_quiet() -> None:
    months = [shop.simulate("quiet", seed=seed) for seed in SEEDS]
    assert sum(findable.quiet_bakes(month) for month in months) <= 1
    assert [findable.outside_bands(month) for month in months] == [0] * len(months)
    assert findable.outside_bands(shop.simulate("demo", seed=1)) >= 5


def test_fault_free_figures_come_out_again_within_their_errors() -> None:
    blocks = re.findall(
        r"^\| (as read|without rounding[^|]*) \| primer \| topcoat \| total \|\n\|[-|]+\n((?:\|.*\n)+)", README, re.MULTILINE
    )
    assert [title for title, _ in blocks] == list(fault_free.shops())
    for title, block in blocks:
        cells = [re.findall(r"([\d.]+) \(([\d.]+)\)", line) for line in block.splitlines()]
        shown = np.array(cells, dtype=np.float64)
        assert shown.shape == (len(fault_free.FIGURES), 3, 2)
        found = fault_free.table(fault_free.shops()[title], range(401, 421))
        for k, name in enumerate(("primer", "topcoat", "total")):
            mean, error = found[name]
            # Other seeds: both errors count, and half a unit of the last digit.
            allowed = 4.0 * np.hypot(error, shown[:, k, 1]) + [0.5 * 0.1**digits for digits in fault_free.FIGURES.values()]
            assert (np.abs(mean - shown[:, k, 0]) < allowed).all(), (title, name)
            assert (shown[:, k, 1] < error).all()
