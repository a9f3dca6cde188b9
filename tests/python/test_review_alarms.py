"""The alarm budget: what charts cost in false calls, against closed forms, and where the lines stand to keep it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf
from steadyfilm._review.alarms import QuietCharts, _chosen, _smallest, months_of
from steadyfilm._review.charting import SPREAD
from steadyfilm._review.noise import Noise
from steadyfilm._review.series import Level, Usual
from steadyfilm._review.unevenness import Spreads
from steadyfilm.false_alarms import count_episodes, count_side_by_side
from steadyfilm.plan import Rules

from helpers import ONE_LAYER, shop


def independent_shop(rules: Rules, *, base: int = 120, month: int = 90, freedom: int = 4, error: float = 0.02) -> QuietCharts:
    """One stream without day effects."""
    units = base + month
    one = np.ones(1)
    noise = Noise(1.0, 0.0, 0.0, base - 1, np.zeros(units), 0 * one, 0 * one, one, one, 0 * one, 0 * one)
    usual = Usual(
        np.ones((units, 1)),
        (Level("", "all units", np.ones(units, dtype=bool), False),),
        np.empty((0, 1)),
        np.full(units, "all units", dtype=object),
    )
    spreads = Spreads(np.empty(base), np.empty(month), 1.0, base, freedom)
    day = (np.arange(units) // 9).astype(np.intp)
    return QuietCharts(usual, noise, day, base, spreads, ["all units"], rules, 7, relative_error=error)


def test_points_beyond_estimated_limits_follow_the_t_distribution() -> None:
    """A new point less the mean of n, over their standard deviation, is t times sqrt(1 + 1/n), whatever k."""
    quiet = independent_shop(Rules(smoothing=0.0), freedom=0)
    for multiple in (2.5, 3.0):
        cost = quiet.cost(multiple, "all units")
        wanted = 90 * 2 * stats.t.sf(multiple / math.sqrt(1 + 1 / 120), 119)
        assert abs(cost.expected - wanted) < 4 * cost.standard_error
        assert abs(cost.independent - wanted) < 4 * cost.standard_error
        assert cost.most_expected >= stats.binom.ppf(0.99, 90, wanted / 90)


def test_spreads_beyond_their_limit_follow_the_f_distribution() -> None:
    """The square of a spread over the pooled square of the baseline is F; the pattern of places adds one part in n."""
    quiet = independent_shop(Rules(smoothing=0.0))
    c4 = math.sqrt(2 / 4) * math.gamma(2.5) / math.gamma(2.0)
    reach = c4 + 3 * math.sqrt(1 - c4**2)
    wanted = 90 * stats.f.sf(reach**2 / (1 + 1 / 120), 4, 4 * 119)
    location = quiet._tally(3.0).fitted["all units"]
    assert quiet.cost(3.0, "all units").expected - location.mean() == pytest.approx(wanted, rel=1e-9)
    drawn = quiet.counts(3.0)["all units"] - location
    assert abs(drawn.mean() - wanted) < 4 * drawn.std() / math.sqrt(len(drawn))


def test_the_ewma_line_is_a_multiple_of_its_own_standard_deviation() -> None:
    """Of independent points lambda / (2 - lambda), and one part in n of the center's own error."""
    quiet = independent_shop(Rules(), freedom=0)
    assert quiet.ewma_sd == pytest.approx(math.sqrt(0.2 / 1.8 + 1 / 120), rel=0.02)
    assert quiet.limits(3.0).ewma_multiple == pytest.approx(3 * quiet.ewma_sd / math.sqrt(0.2 / 1.8), rel=1e-12)
    assert quiet.limits(3.3).rules == ("1of1_beyond3.3_one",)
    assert independent_shop(Rules(ewma_multiple=2.7), freedom=0).limits(3.3).ewma_multiple == 2.7


@pytest.mark.parametrize("error", [0.05, 0.01])
def test_means_are_stated_with_the_standard_error_that_was_asked_for(error: float) -> None:
    quiet = independent_shop(Rules(), error=error)
    for multiple in (3.0, 3.3):
        cost = quiet.cost(multiple, "all units")
        assert cost.standard_error <= error * cost.expected
    fine = independent_shop(Rules(), error=0.005).cost(3.0, "all units")
    cost = quiet.cost(3.0, "all units")
    assert abs(cost.expected - fine.expected) < 4 * math.hypot(cost.standard_error, fine.standard_error)


def test_the_same_figures_come_out_on_any_number_of_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    found = independent_shop(Rules()).cost(3.1, "all units")
    monkeypatch.setattr("steadyfilm._review.quiet.available_threads", lambda: 1)
    assert independent_shop(Rules()).cost(3.1, "all units") == found


def test_counts_side_by_side_are_those_of_the_monitor() -> None:
    rng = np.random.default_rng(4)
    breaks = np.zeros(60, dtype=bool)
    breaks[[7, 40]] = True
    for series in (1, 64, 150):
        z = 1.3 * rng.standard_normal((60, series))
        for smoothing, own in ((0.0, None), (0.2, breaks), (0.35, None)):
            limits = sf.MonitorLimits(rules=("1of1_beyond2.4_one",), smoothing=smoothing, ewma_multiple=2.5)
            side_by_side = count_side_by_side(limits, z, own)
            assert side_by_side.tolist() == count_episodes(limits, np.ascontiguousarray(z.T), own).tolist()
            assert side_by_side.sum() > 0


def plan(rules: str = "") -> sf.Plan:
    return sf.read_plan(ONE_LAYER + f"[rules]\n{rules}\n")


def test_a_review_keeps_its_budget_and_says_what_the_charts_cost() -> None:
    review = sf.review_readings(shop(per_day=15), plan("false_calls_per_month = 0.4"))
    found = review.alarms
    assert found is not None
    assert found.how == "budget"
    assert found.kept
    assert found.sigma_multiple > 3
    assert found.months == pytest.approx(20 / 30.4375)
    assert found.allowed == pytest.approx(0.4 * found.months)
    assert 0.8 * found.allowed < found.expected <= found.allowed
    charts = review.layers[0].charts
    assert sum(chart.expected_episodes for chart in charts) == pytest.approx(found.expected)
    for chart in charts:
        assert chart.lines.upper == pytest.approx(chart.lines.center + found.sigma_multiple * chart.sigma)
        assert chart.independent_episodes > 0
        assert 0 < chart.expected_error < 0.2 * found.allowed
    assert f"Lines stand at {found.sigma_multiple:g} sigma, chosen so that 2 charts together cost" in found.sentence
    assert found.three_sigma > found.expected
    assert f"lines at {found.sigma_multiple:g} sigma" in review.verdict[0]
    assert sf.Review.from_json(review.to_json()).alarms == found
    strict = sf.review_readings(shop(per_day=15), plan("false_calls_per_month = 0.1")).alarms
    assert strict is not None
    assert strict.sigma_multiple > found.sigma_multiple


def test_lines_are_never_nearer_than_three_sigma() -> None:
    found = sf.review_readings(shop(), plan("false_calls_per_month = 50")).alarms
    assert found is not None
    assert (found.sigma_multiple, found.how) == (3.0, "three sigma")
    assert "never nearer" in found.sentence


def test_a_multiple_of_the_plan_is_taken_and_its_cost_told() -> None:
    review = sf.review_readings(shop(per_day=15), plan("sigma_multiple = 2.5\newma_multiple = 2.4"))
    found = review.alarms
    assert found is not None
    assert (found.sigma_multiple, found.how, found.kept) == (2.5, "plan", False)
    (note,) = [x for x in review.notes if "sigma" in x]
    assert note.startswith("Lines stand at 2.5 sigma because the plan says so; 2 charts together cost about")
    assert "the plan allows 1. Simulated, standard error" in note
    chart = review.layers[0].charts[0]
    assert chart.lines.upper == pytest.approx(chart.lines.center + 2.5 * chart.sigma)
    assert chart.ewma_lines.upper == pytest.approx(chart.lines.center + 2.4 * chart.sigma / 3)


def test_zone_tests_on_request_show_their_larger_cost() -> None:
    words = ", ".join(f'"{word}"' for word in sf.WESTERN_ELECTRIC)
    zones = sf.review_readings(shop(per_day=15), plan(f"points = [{words}]"))
    beyond = sf.review_readings(shop(per_day=15), plan())
    assert zones.alarms is not None
    assert beyond.alarms is not None
    assert (zones.alarms.sigma_multiple, zones.alarms.how) == (3.0, "rules")
    assert zones.alarms.expected > 5 * beyond.alarms.expected
    assert any("zone rules" in x for x in zones.notes)


def test_spread_signals_follow_the_same_multiple() -> None:
    rng = np.random.default_rng(8)
    table = shop()
    table["place"] = [f"p{k % 3}" for k in range(len(table["film"]))]
    table["film"] = [x + rng.normal(0, 0.02) for x in table["film"]]
    text = ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"')
    near, far = (
        sf.review_readings(table, sf.read_plan(f"{text}[rules]\nsigma_multiple = {k}\n")).layers[0].charts[0] for k in (1.5, 4.0)
    )
    c4 = math.sqrt(math.pi) / 2
    pooled = near.spread_lines.center / c4
    for chart, k in ((near, 1.5), (far, 4.0)):
        assert chart.spread_lines.upper == pytest.approx(pooled * (c4 + k * math.sqrt(1 - c4**2)))
        assert sum(x.rule == SPREAD for x in chart.signals) == (chart.spread > chart.spread_lines.upper).sum()
    assert near.expected_episodes > far.expected_episodes


def test_no_charts_no_budget() -> None:
    review = sf.review_readings(shop(days=1), sf.read_plan(ONE_LAYER.partition("[baseline]")[0]))
    assert review.alarms is None
    assert "no charts" in str(review.explain())


@given(st.floats(0.5, 30), st.floats(1, 8), st.floats(0.01, 5))
def test_the_smallest_multiple_that_keeps_the_budget_is_found(start: float, steep: float, allowed: float) -> None:
    def mean(multiple: float) -> float:
        return start * math.exp(-steep * (multiple - 3))

    if mean(3.0) <= allowed:
        return
    found = _smallest(mean, allowed)
    assert round(100 * found) == pytest.approx(100 * found)
    assert mean(found) <= allowed or found == 8.0
    assert mean(found - 0.01) > allowed


@pytest.mark.parametrize("first", [3.0, 3.2, 3.5, 3.9])
@pytest.mark.parametrize("wobble", [0.0, 0.01, 0.03])
def test_the_search_ends_where_windows_disagree_about_the_budget(first: float, wobble: float) -> None:
    """Each window of multiples has a sample of its own; the means of two of them may fall on either side of what is allowed."""

    class Layer:
        def __init__(self) -> None:
            self.means: dict[float, float] = {}
            self.windows = 0

        def count(self, multiples: list[float]) -> None:
            self.windows += 1
            up = wobble if self.windows % 2 else -wobble
            self.means |= {x: math.exp(-2.5 * (x - 3.5)) * (1.0 + up) for x in multiples}

        def total(self, multiple: float) -> tuple[float, float]:
            return self.means[multiple], 0.0

    layer: Any = Layer()
    multiple, how = _chosen([layer], lambda x: math.exp(-2.5 * (x - first)), lambda x: layer.total(x)[0], 1.0)
    assert how == "budget"
    assert layer.means[multiple] <= 1.0
    assert abs(multiple - 3.5) <= 0.03
    assert layer.windows <= 20


def test_a_month_is_a_month_and_other_periods_count_by_days() -> None:
    days = np.arange(np.datetime64("2026-01-01"), np.datetime64("2027-01-01"))
    assert months_of([days]) == pytest.approx(365 / 30.4375)
    assert [months_of([days[:n]]) for n in (26, 28, 31)] == [1.0] * 3
    assert months_of([days[:7], None, days[3:14]]) == pytest.approx(14 / 30.4375)
    assert months_of([]) == 1.0
