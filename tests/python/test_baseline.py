"""Baselines: against least squares and Bartlett's test of general libraries, known effects, and what is refused or named."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import polars
import pytest
import statsmodels.formula.api as smf
from scipy import stats

import steadyfilm as sf


def shop(seed: int = 3, count: int = 240, sigma: float = 0.08, spread_of_d: float = 1.0) -> pd.DataFrame:
    """Unit averages of four painters with two guns and three batches; effects add."""
    rng = np.random.default_rng(seed)
    painter = rng.choice(["a", "b", "c", "d"], size=count)
    gun = rng.choice(["one", "two"], size=count)
    batch = np.repeat(["x", "y", "z"], math.ceil(count / 3))[:count]
    effect = {"a": 0.0, "b": 0.05, "c": -0.04, "d": -0.01, "one": -0.015, "two": 0.015, "x": 0.0, "y": 0.03, "z": -0.02}
    film = [2.1 + effect[p] + effect[g] + effect[b] for p, g, b in zip(painter, gun, batch, strict=True)]
    film += rng.normal(0.0, sigma, count) * np.where(painter == "d", spread_of_d, 1.0)
    when = np.datetime64("2026-03-02T06:00") + np.arange(count) * np.timedelta64(100, "m")
    return pd.DataFrame({"film": film, "painter": painter, "gun": gun, "batch": batch, "when": when})


def fit(table: Any, **options: Any) -> sf.Baseline:
    given = {"unit": "mil", "stream": ["painter"], "adjust": ["gun", "batch"], "time": "when", **options}
    return sf.baseline(table, "film", **given)


def example_results() -> list[sf.Baseline]:
    with pytest.warns(sf.ConstantDataWarning):
        constant = sf.baseline({"film": [2.1] * 25}, "film", unit="mil")
    return [
        fit(shop()),
        fit(shop(), sigma_point=0.08),
        fit(shop(spread_of_d=3.0), sigma_estimator="sd", stream=["painter", "gun"], adjust="batch"),
        sf.baseline({"film": [2.0, 2.2, 2.1]}, "film", unit="mil"),
        constant,
    ]


def test_centers_and_intervals_equal_those_of_least_squares_elsewhere() -> None:
    table = shop()
    found = fit(table)
    model = smf.ols("film ~ C(painter) + C(gun) + C(batch)", table).fit()
    assert found.residual_sd == pytest.approx(math.sqrt(model.mse_resid), rel=1e-10)
    assert found.degrees_of_freedom == model.df_resid
    share = {name: table[name].value_counts(normalize=True) for name in ("gun", "batch")}
    for stream in found.streams:
        # A painter at the average gun and batch, as a combination of statsmodels' parameters.
        weights = {"Intercept": 1.0, "C(gun)[T.two]": share["gun"]["two"]}
        weights |= {f"C(batch)[T.{level}]": share["batch"][level] for level in ("y", "z")}
        weights |= {f"C(painter)[T.{stream.stream}]": 1.0} if stream.stream != "a" else {}
        direction = [weights.get(name, 0.0) for name in model.params.index]
        wanted = model.t_test(direction)
        assert stream.center == pytest.approx(float(wanted.effect[0]), rel=1e-10)
        low, high = wanted.conf_int(0.05)[0]
        assert (stream.center_lower, stream.center_upper) == pytest.approx((low, high), rel=1e-9)


def test_each_factors_effects_average_to_zero_over_the_points() -> None:
    table = shop()
    found = fit(table)
    for name, effects in found.effects.items():
        assert float(np.mean([effects[level] for level in table[name]])) == pytest.approx(0.0, abs=1e-14)
    assert found.mean == pytest.approx(table["film"].mean(), rel=1e-13)


def test_sigma_comes_from_moving_ranges_inside_streams_in_the_order_of_time() -> None:
    # Two painters by turns, 0.4 apart; ranges of neighbors in a painter are 0.02 and 0.06, then 0.04.
    table = {
        "film": [2.0, 2.40, 2.02, 2.44, 2.08, 2.40],
        "painter": ["a", "b"] * 3,
        "hour": [f"2026-03-02 {hour:02d}:00" for hour in (8, 9, 10, 11, 12, 13)],
    }
    found = sf.baseline(table, "film", unit="mil", stream="painter", time="hour", fewest_points=2)
    assert found.mean_moving_range == pytest.approx((0.02 + 0.06 + 0.04 + 0.04) / 4, rel=1e-12)
    assert found.sigma_point == pytest.approx(found.mean_moving_range / (2 / math.sqrt(math.pi)), rel=1e-12)
    backwards = {name: column[::-1] for name, column in table.items()}
    assert sf.baseline(
        backwards, "film", unit="mil", stream="painter", time="hour", fewest_points=2
    ).sigma_point == pytest.approx(found.sigma_point, rel=1e-12)


def test_no_moving_range_crosses_a_gap_a_period_or_a_point_left_out() -> None:
    film = [1.0, 1.1, 3.0, 3.1, 1.0, 1.1, 9.0, 1.1]
    table: dict[str, list[Any]] = {
        "film": film,
        "month": ["m1", "m1", "m2", "m2", "m3", "m3", "m3", "m3"],
        "out": [False] * 6 + [True, False],
    }
    found = sf.baseline(table, "film", unit="mil", period="month", excluded="out")
    assert found.mean_moving_range == pytest.approx(0.1)
    assert found.moving_range_count == 3
    assert found.used_count == 7
    table["film"] = [*film[:6], None, film[7]]
    with pytest.warns(sf.MissingDataWarning):
        dropped = sf.baseline(table, "film", unit="mil", period="month", missing="drop")
    assert dropped.mean_moving_range == found.mean_moving_range


def test_known_effects_and_sigma_are_found() -> None:
    found = fit(shop(seed=11, count=4000))
    assert found.sigma_point == pytest.approx(0.08, rel=0.05)
    centers = {stream.stream: stream.center for stream in found.streams}
    assert centers["b"] - centers["c"] == pytest.approx(0.09, abs=0.012)
    assert found.effects["batch"]["y"] - found.effects["batch"]["z"] == pytest.approx(0.05, abs=0.012)
    assert abs(found.lag1_autocorrelation) < 0.05
    assert found.confounded == ()


def test_equal_spreads_are_pooled_and_different_ones_are_not() -> None:
    assert fit(shop()).spreads_pooled
    for estimator in ("mean_moving_range", "sd"):
        found = fit(shop(spread_of_d=2.5), sigma_estimator=estimator)
        assert not found.spreads_pooled
        sigmas = {stream.stream: stream.sigma_point for stream in found.streams}
        assert sigmas["d"] == pytest.approx(0.2, rel=0.3)
        assert sigmas["a"] == pytest.approx(0.08, rel=0.3)
        assert "each has its own" in found.sentence()


def test_the_test_of_spreads_is_bartletts() -> None:
    rng = np.random.default_rng(1)
    groups = [rng.normal(0.0, sigma, 30) for sigma in (1.0, 1.1, 1.5)]
    table = {"film": np.concatenate(groups), "gun": np.repeat(["a", "b", "c"], 30)}
    found = sf.baseline(table, "film", unit="mil", stream="gun", sigma_estimator="sd")
    assert found.spread_pvalue == pytest.approx(stats.bartlett(*groups).pvalue, rel=1e-9)


def test_the_test_on_moving_ranges_seldom_separates_equal_spreads() -> None:
    rng = np.random.default_rng(2)
    guns = np.tile(["a", "b", "c"], 40)
    pvalues = [
        sf.baseline({"film": rng.normal(2.1, 0.1, 120), "gun": guns}, "film", unit="mil", stream="gun").spread_pvalue
        for _ in range(600)
    ]
    # Six expected at 1 %, sixty at 10 %: within four standard errors.
    assert sum(p < 0.01 for p in pvalues) <= 6 + 4 * math.sqrt(6)
    assert abs(sum(p < 0.1 for p in pvalues) - 60) <= 4 * math.sqrt(54)


def test_a_stream_with_few_points_gets_no_limits_of_its_own() -> None:
    table = pd.concat([shop(), shop(seed=5, count=7).assign(painter="e")])
    found = fit(table)
    small = next(stream for stream in found.streams if stream.stream == "e")
    assert not small.has_limits
    assert math.isnan(small.lower)
    assert small.reason == "7 baseline points, fewer than 20"
    assert "no limits of their own for e (7)" in found.sentence()
    assert all(stream.has_limits for stream in found.streams if stream.stream != "e")
    # It may still lend its points: judged by the additive center and the pooled sigma, or left out.
    new = {"film": [2.1], "painter": ["e"], "gun": ["one"], "batch": ["x"], "when": ["2026-04-01 08:00"]}
    borrowed = sf.points_for(found, new)
    assert borrowed.center is not None
    assert borrowed.center[0] == pytest.approx(
        found.mean + found.effects["painter"]["e"] + found.effects["gun"]["one"] + found.effects["batch"]["x"]
    )
    assert borrowed.takes_part.tolist() == [True]
    left_out = sf.points_for(found, new, small_streams="leave_out")
    assert left_out.takes_part.tolist() == [False]
    assert left_out.notes == ("stream 'e' has no limits of its own (7 baseline points, fewer than 20): left out",)


def test_levels_never_seen_have_effect_zero_and_are_named() -> None:
    found = fit(shop())
    new = {"film": [2.1, 2.1], "painter": ["a", "f"], "gun": ["one", "two"], "batch": ["w", "x"], "when": ["2026-04-01"] * 2}
    points = sf.points_for(found, new)
    effects = found.effects
    assert points.center is not None
    assert points.center.tolist() == pytest.approx(
        [
            found.mean + effects["painter"]["a"] + effects["gun"]["one"],
            found.mean + effects["gun"]["two"] + effects["batch"]["x"],
        ]
    )
    assert points.notes[:2] == (
        "painter 'f' was never seen in the baseline: effect 0",
        "batch 'w' was never seen in the baseline: effect 0",
    )
    judged = sf.monitor(found.limits, None, points)
    assert judged.notes == points.notes
    assert "never seen" in judged.explain().choices["notes"]


def test_the_baselines_own_points_have_its_residuals() -> None:
    table = shop(spread_of_d=2.5)
    found = fit(table)
    judged = sf.monitor(found.limits, None, sf.points_for(found, table))
    assert judged.z == pytest.approx(found.residual, abs=1e-9)


def test_factors_that_cannot_be_told_apart_are_named() -> None:
    table = shop()
    table["booth"] = table["painter"].map({"a": "1", "b": "2", "c": "1", "d": "2"})
    found = fit(table, adjust=["booth", "gun"])
    assert found.confounded == ("painter", "booth")
    assert all(not stream.has_limits for stream in found.streams)
    assert "cannot be told apart" in found.streams[0].reason
    assert "not told apart: painter, booth" in found.explain().choices["centers"]


def test_constant_points_are_an_answer_without_limits() -> None:
    table = {"film": [2.1] * 25 + [2.3] * 25, "gun": ["a"] * 25 + ["b"] * 25}
    with pytest.warns(sf.ConstantDataWarning, match="do not vary"):
        found = sf.baseline(table, "film", unit="mil", stream="gun")
    assert found.sigma_point == 0.0
    assert [stream.reason for stream in found.streams] == ["its baseline points do not vary"] * 2
    points = sf.points_for(found, table)
    assert not points.takes_part.any()
    assert sf.monitor(found.limits, None, points).used_count == 0


def test_residual_days_hold_each_days_points() -> None:
    table = shop(count=40)
    found = fit(table)
    days = sf.residual_days(found)
    stamps = table["when"].dt.date
    assert [day.size for day in days] == stamps.value_counts().sort_index().tolist()
    assert np.concatenate(days) == pytest.approx(found.residual)
    painter = sf.residual_days(found, "a")
    assert np.concatenate(painter) == pytest.approx(found.residual[table["painter"] == "a"])
    weeks = sf.residual_days(fit(table.assign(week=np.repeat(["w1", "w2"], 20)), period="week"))
    assert [week.size for week in weeks] == [20, 20]
    with pytest.raises(sf.InvalidInputError, match="neither times nor periods"):
        sf.residual_days(sf.baseline(table, "film", unit="mil"))


def test_any_kind_of_table_gives_the_same() -> None:
    table = shop(count=60)
    one, two = fit(table), fit(polars.from_pandas(table))
    assert two.made.frame == "polars"
    assert one.to_dict()["streams"] == two.to_dict()["streams"]


def test_refusals_name_what_is_wrong() -> None:
    table = shop(count=60)
    with pytest.raises(sf.DataProblemsError, match="nearest names: 'painter'"):
        fit(table, stream="paintr")
    with pytest.raises(sf.InvalidInputError, match=r"\['gun'\] stand in both stream and adjust"):
        fit(table, stream="gun", adjust="gun")
    with pytest.raises(sf.InvalidInputError, match="give more points or fewer columns"):
        sf.baseline({"film": [2.0, 2.1], "gun": ["a", "b"]}, "film", unit="mil", stream="gun")
    with pytest.raises(sf.InvalidInputError, match="no stream has two neighbors"):
        sf.baseline({"film": [1.0, 2.0, 3.0], "w": ["a", "b", "c"]}, "film", unit="mil", period="w")
    with pytest.raises(sf.DataProblemsError, match="column 'gun', row 2: label is missing"):
        fit(table.assign(gun=["one", None] + ["two"] * 58))
    with pytest.raises(sf.InvalidInputError, match="confidence_level must lie between 0 and 1"):
        fit(table, confidence_level=95)
    with pytest.raises(sf.InvalidInputError, match="sigma_estimator must be"):
        fit(table, sigma_estimator="range")
    with pytest.raises(sf.InvalidInputError, match="sigma_point must be positive"):
        fit(table, sigma_point=0.0)
    with pytest.raises(sf.InvalidInputError, match="small_streams must be"):
        sf.points_for(fit(table), table, small_streams="drop")  # type: ignore[arg-type]  # the refusal is what is tested
