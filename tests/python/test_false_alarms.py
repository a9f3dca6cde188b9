"""Episodes of a steady process: against closed forms and published run lengths, and under days that share an effect."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf

BEYOND = sf.MonitorLimits(smoothing=0.0)


def example_results() -> list[sf.ExpectedEpisodes]:
    days = [[0.1, -2.5, 3.5], [0.4, 0.2]]
    return [
        sf.expected_episodes(sf.MonitorLimits(), 190, relative_error=0.05),
        sf.expected_episodes(BEYOND, 20, days=days, estimated_from=30, relative_error=0.05),
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
    with pytest.raises(sf.InvalidInputError, match="estimated_from must be at least 2"):
        sf.expected_episodes(BEYOND, 10, estimated_from=1)
    with pytest.raises(sf.InvalidInputError, match="relative_error must be positive"):
        sf.expected_episodes(BEYOND, 10, relative_error=0.0)
