"""Capability in a review: its within sigma comes from neighbors inside one stream, and from nothing else."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.constants import moving_range_degrees_of_freedom

from helpers import ONE_LAYER, shop

D2 = 2.0 / math.sqrt(math.pi)  # mean range of two standard normal values
PLAIN = ONE_LAYER.partition("[baseline]")[0]


def ranges_from_scratch(table: dict[str, list[Any]], lost: frozenset[str] = frozenset()) -> list[list[float]]:
    """Moving ranges of each unbroken stretch of one gun, from the rows alone."""
    rows: dict[str, list[float]] = {}
    gun = {}
    for unit, film, name in zip(table["unit"], table["film"], table["gun"], strict=True):
        gun[unit] = name
        rows.setdefault(unit, []).append(float(film))
    stretches = []
    for name in sorted(set(gun.values())):
        current: list[float] = []
        for unit in rows:
            if gun[unit] != name:
                continue
            if unit in lost:
                stretches.append(current)
                current = []
            else:
                current.append(float(np.mean(rows[unit])))
        stretches.append(current)
    return [np.abs(np.diff(x)).tolist() for x in stretches if len(x) > 1]


def test_within_sigma_takes_no_range_from_one_stream_to_another() -> None:
    table = shop(seed=4, days=20)
    table["film"] = [x + (0.3 if gun == "B" else 0.0) for x, gun in zip(table["film"], table["gun"], strict=True)]
    layer = sf.review_readings(table, sf.read_plan(PLAIN)).layers[0]
    stretches = ranges_from_scratch(table)
    ranges = [x for stretch in stretches for x in stretch]
    found = layer.capability
    assert found is not None
    assert layer.moving_ranges == len(ranges) == 118
    assert found.sigma_within == pytest.approx(np.mean(ranges) / D2, rel=1e-12)
    # The guns differ by 0.34 mil and take turns: a range from one to the other would be about that.
    assert found.sigma_within < 0.07
    averages = np.array(table["film"]).reshape(-1, 3).mean(axis=1)
    assert layer.stable is True
    assert found.cp == pytest.approx(0.4 / (6 * np.mean(ranges) / D2), rel=1e-9)
    assert found.sigma_total == pytest.approx(averages.std(ddof=1), rel=1e-9)
    expected = moving_range_degrees_of_freedom(118, 116)
    assert found.index("cp").degrees_of_freedom == pytest.approx(expected)
    assert "118 moving ranges inside streams" in str(sf.review_readings(table, sf.read_plan(PLAIN)).explain())


def test_degrees_of_freedom_are_those_of_a_simulated_mean_moving_range() -> None:
    # Chi match: 2 nu with the same relative variance of sigma; two streams of 30 units are two chains of 29 ranges.
    table = shop(seed=4, days=10)
    layer = sf.review_readings(table, sf.read_plan(PLAIN)).layers[0]
    assert layer.capability is not None
    nu = layer.capability.index("cp").degrees_of_freedom
    rng = np.random.default_rng(8)
    sigma = np.abs(np.diff(rng.standard_normal((40_000, 2, 30)), axis=2)).mean(axis=(1, 2)) / D2
    assert nu is not None
    # Of a chi variate over its mean: relative variance 1 / (2 nu) to first order; the exact one from log gamma.
    c4 = math.sqrt(2 / nu) * math.exp(math.lgamma((nu + 1) / 2) - math.lgamma(nu / 2))
    assert sigma.var() == pytest.approx((1 - c4**2) / c4**2, rel=0.05)


def test_no_range_crosses_a_unit_without_an_average() -> None:
    table = shop(seed=6, days=20)
    gone = frozenset({"U040", "U091", "U102"})
    broken = {k: list(v) for k, v in table.items()}
    broken["film"] = [None if u in gone else x for u, x in zip(table["unit"], table["film"], strict=True)]
    layer = sf.review_readings(broken, sf.read_plan(PLAIN)).layers[0]
    stretches = ranges_from_scratch(table, gone)
    ranges = [x for stretch in stretches for x in stretch]
    assert layer.capability is not None
    assert layer.moving_ranges == len(ranges) == 118 - 6
    assert layer.capability.sigma_within == pytest.approx(np.mean(ranges) / D2, rel=1e-12)


def test_without_neighbors_there_is_no_forecast_and_the_reason_is_said() -> None:
    table = {"unit": ["a", "b"], "film": [2.1, 2.2], "gun": ["A", "B"]}
    layer = sf.review_readings(table, sf.read_plan(PLAIN.replace('time = "when"', ""))).layers[0]
    assert layer.moving_ranges == 0
    assert layer.capability is not None
    assert layer.capability.cpk is None
    assert layer.capability.index("cpk").reason
    assert layer.within_text == "film: no two units of one stream follow one another"


def test_a_shop_without_stream_columns_has_one_chart_with_limits() -> None:
    table = shop(seed=4)
    averages = np.array(table["film"]).reshape(-1, 3).mean(axis=1)
    one_stream = ONE_LAYER.replace('streams = ["gun"]', "")
    review = sf.review_readings(table, sf.read_plan(one_stream))
    (chart,) = review.layers[0].charts
    assert chart.lines.center == pytest.approx(averages[:120].mean(), rel=1e-9)
    assert chart.sigma == pytest.approx(averages[:120].std(ddof=1), rel=1e-9)
    assert chart.expected_episodes > 0.0
    assert "without limits" not in review.verdict[0]
    assert review.layers[0].moving_ranges == 119
    # Without a baseline the limits come from neighbors.
    (chart,) = sf.review_readings(table, sf.read_plan(one_stream.partition("[baseline]")[0])).layers[0].charts
    assert chart.lines.center == pytest.approx(averages.mean(), rel=1e-9)
    assert chart.sigma == pytest.approx(np.abs(np.diff(averages)).mean() / D2, rel=1e-9)
