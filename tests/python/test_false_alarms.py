"""Episodes of a steady process: against closed forms and published run lengths, and under days that share an effect."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf

from helpers import load_dataset

BEYOND = sf.MonitorLimits(smoothing=0.0)


def example_results() -> list[sf.ExpectedEpisodes]:
    days = [[0.1, -2.5, 3.5], [0.4, 0.2]]
    return [
        sf.expected_episodes(sf.MonitorLimits(), 190, relative_error=0.05),
        sf.expected_episodes(BEYOND, 20, days=days, estimated_from=30, relative_error=0.05),
        sf.expected_episodes(BEYOND, 20, model=sf.DayModel(0.5, 0.5, 0.9, (9, 8), 170), relative_error=0.05),
    ]


def test_points_beyond_limits_follow_the_binomial_distribution() -> None:
    found = sf.expected_episodes(BEYOND, 190)
    p = 2 * stats.norm.sf(3.0)
    assert found.standard_error <= 0.01 * found.mean
    assert abs(found.mean - 190 * p) < 4 * found.standard_error
    assert found.upper_99 == stats.binom.ppf(0.99, 190, p)
    size = math.sqrt(found.series_count)
    assert abs(found.any_probability - (1 - stats.binom.pmf(0, 190, p))) < 4 * 0.5 / size
    assert found.share.sum() == pytest.approx(1.0)


def test_zone_tests_agree_with_the_published_run_length() -> None:
    # Champ & Woodall, Technometrics 29 (1987) 393, table 1 (from memory): 91.75 points on average for the four rules; exact
    # chain 91.7508, standard deviation 88.145. Episodes renew the chart: E N(n) -> n / m + (s^2 + m - m^2) / (2 m^2).
    found = sf.expected_episodes(sf.MonitorLimits(rules=sf.WESTERN_ELECTRIC, smoothing=0.0), 1000)
    wanted = 1000 / 91.7508 + (88.145**2 + 91.7508 - 91.7508**2) / (2 * 91.7508**2)
    assert abs(found.mean - wanted) < 4 * found.standard_error


def test_the_ewma_agrees_with_the_published_run_length() -> None:
    # Lucas & Saccucci, Technometrics 32 (1990) 1 (from memory): 500 points for smoothing 0.2 and limits at 2.962; integral
    # equation 499.735. The standard deviation of its run length is within 2 % of the mean: a renewal constant below 0.02.
    found = sf.expected_episodes(sf.MonitorLimits(rules=(), ewma_multiple=2.962), 10_000, relative_error=0.005)
    assert abs(found.mean - 10_000 / 499.735) < 4 * found.standard_error + 0.02


def test_days_that_share_an_effect_give_more_episodes() -> None:
    rng = np.random.default_rng(4)
    days = [rng.normal(0.0, 0.8) + rng.normal(0.0, 0.6, 9) for _ in range(60)]
    limits = sf.MonitorLimits(rules=sf.WESTERN_ELECTRIC, smoothing=0.0)
    alone = sf.expected_episodes(limits, 190, relative_error=0.02)
    together = sf.expected_episodes(limits, 190, days=days, relative_error=0.02)
    assert together.mean > 1.5 * alone.mean
    assert "days drawn from 60" in together.sentence()


def test_days_of_one_point_are_independent_points() -> None:
    points = np.random.default_rng(6).normal(size=20_000)
    found = sf.expected_episodes(BEYOND, 190, days=[[point] for point in points], relative_error=0.02)
    share = float(np.mean(np.abs(points) > 3.0))
    assert abs(found.mean - 190 * share) < 4 * found.standard_error


def test_limits_from_few_points_give_more_episodes() -> None:
    few = sf.expected_episodes(BEYOND, 190, estimated_from=25, relative_error=0.02)
    many = sf.expected_episodes(BEYOND, 190, estimated_from=1000, relative_error=0.02)
    assert few.mean > 1.5 * many.mean
    assert many.mean == pytest.approx(190 * 0.0027, rel=0.15)


def test_points_beyond_known_limits_follow_the_whole_variance_of_the_model() -> None:
    # Each point alone is normal with variance 0.6^2 + 0.9^2, whatever the days share.
    model = sf.DayModel(day_sd=0.6, day_correlation=0.7, point_sd=0.9, day_sizes=(9, 4, 1), baseline_count=190)
    found = sf.expected_episodes(BEYOND, 190, model=model, estimated_from=0)
    p = 2 * stats.norm.sf(3.0 / math.hypot(0.6, 0.9))
    assert abs(found.mean - 190 * p) < 4 * found.standard_error
    assert found.any_probability < 1 - (1 - p) ** 190  # the day bundles them


def test_the_day_model_of_many_days_is_found_again() -> None:
    rng = np.random.default_rng(9)
    day = np.zeros(1500)
    for i in range(1, day.size):
        day[i] = 0.6 * day[i - 1] + 0.8 * rng.normal()
    sizes = rng.integers(5, 11, day.size)
    film = 2.1 + 0.04 * np.repeat(day, sizes) + rng.normal(0.0, 0.08, sizes.sum())
    days = np.repeat([f"d{i:04d}" for i in range(day.size)], sizes)
    base = sf.baseline({"film": film, "day": days}, "film", unit="mil", period="day", sigma_point=0.08)
    model = sf.day_model(base)
    assert model.day_sd == pytest.approx(0.5, rel=0.05)
    assert model.day_correlation == pytest.approx(0.6, abs=0.06)
    assert model.point_sd == pytest.approx(1.0, rel=0.02)
    assert model.day_sizes == tuple(sizes.tolist())


def test_independent_points_have_hardly_a_day() -> None:
    film = np.random.default_rng(12).normal(2.1, 0.08, 3000)
    table = {"film": film, "day": np.repeat([f"d{i:04d}" for i in range(300)], 10)}
    model = sf.day_model(sf.baseline(table, "film", unit="mil", period="day", sigma_point=0.08))
    assert model.day_sd < 0.12
    with pytest.raises(sf.InvalidInputError, match="tell nothing about days"):
        sf.day_model(sf.baseline({"film": film[:4], "day": ["a", "a", "b", "b"]}, "film", unit="mil", period="day"))


def test_the_stated_figure_agrees_with_quiet_months_of_the_shop() -> None:
    simulate = load_dataset("truck_bodies.generate").simulate
    limits = sf.MonitorLimits()
    seen, stated = [], []
    for seed in range(101, 131):
        base = sf.baseline(_topcoat(simulate("baseline", seed=seed)), "film", unit="mil", time="time", **SHOP_FACTORS)
        quiet = _topcoat(simulate("quiet", seed=seed))
        judged = sf.monitor(limits, None, sf.points_for(base, quiet))
        for stream in {episode.stream for episode in judged.episodes} | set(quiet["gun"]):
            seen.append(sum(episode.stream == stream for episode in judged.episodes))
            count = quiet["gun"].count(stream)
            stated.append(sf.expected_episodes(limits, count, model=sf.day_model(base, stream), relative_error=0.05).mean)
    error = float(np.std(seen)) / math.sqrt(len(seen))
    assert float(np.mean(seen)) == pytest.approx(float(np.mean(stated)), abs=max(0.1 * float(np.mean(stated)), 4 * error))
    # Independent points would promise far less.
    assert sf.expected_episodes(limits, 95, relative_error=0.05).mean < 0.5 * float(np.mean(seen))


SHOP_FACTORS = {"stream": "gun", "adjust": "painter"}


def _topcoat(month: Any) -> dict[str, list[Any]]:
    """Unit averages of total minus primer, in the order of the total readings."""
    columns = month.readings.columns
    mil = np.where(columns["unit_of_measure"] == "um", columns["value"] / 25.4, columns["value"])
    first = columns["attempt"].astype(int) == 1
    rows: dict[str, list[Any]] = {"film": [], "gun": [], "painter": [], "time": []}
    for unit in sorted(set(columns["unit"].tolist())):
        mine = first & (columns["unit"] == unit)
        total = mine & (columns["layer"] == "total")
        rows["film"].append(float(mil[total].mean() - mil[mine & (columns["layer"] == "primer")].mean()))
        row = int(np.flatnonzero(total)[0])
        for name in ("gun", "painter", "time"):
            rows[name].append(columns[name][row])
    return rows


def test_the_same_seed_gives_the_same_bytes() -> None:
    one, two = (sf.expected_episodes(sf.MonitorLimits(), 50, relative_error=0.05) for _ in range(2))
    assert one.to_json() == two.to_json()
    other = sf.expected_episodes(sf.MonitorLimits(), 50, relative_error=0.05, seed=1)
    assert other.total_episodes != one.total_episodes


def test_without_rules_there_is_no_episode() -> None:
    found = sf.expected_episodes(sf.MonitorLimits(rules=(), smoothing=0.0), 10)
    assert (found.mean, found.upper_99, found.any_probability) == (0.0, 0, 0.0)


def test_refusals_name_what_is_wrong() -> None:
    with pytest.raises(sf.InvalidInputError, match="count must be at least 1"):
        sf.expected_episodes(BEYOND, 0)
    with pytest.raises(sf.InvalidInputError, match="days must be arrays of finite residuals"):
        sf.expected_episodes(BEYOND, 10, days=[[0.1], []])
    with pytest.raises(sf.InvalidInputError, match="days_per_block must lie between 1 and the 2 days"):
        sf.expected_episodes(BEYOND, 10, days=[[0.1], [0.2]], days_per_block=3)
    with pytest.raises(sf.InvalidInputError, match="estimated_from must be 0 or at least 2"):
        sf.expected_episodes(BEYOND, 10, estimated_from=1)
    with pytest.raises(sf.InvalidInputError, match="relative_error must be positive"):
        sf.expected_episodes(BEYOND, 10, relative_error=0.0)
