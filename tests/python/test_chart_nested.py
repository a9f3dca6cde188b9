"""Nested chart: reference rows, statsmodels and simulation as oracles, frozen baselines, incomplete units, words, refusals."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter

PLACES = ["left", "right", "roof", "door", "inside"]
PATTERN = np.array([-0.03, -0.02, 0.10, 0.05, -0.10])
OPTIONS: dict[str, Any] = {"unit": "mil", "body": "body", "location": "place"}


@adapter("nested_limits")
def _limits(args: Args) -> dict[str, float]:
    found = sf.nested_chart(
        args.list("values"),
        unit="",
        readings_per_unit=args.count("subgroup_size"),
        spread="range",
        sigma_multiple=args.number("sigma_multiple"),
    )
    return {
        "center": found.center,
        "lower": found.limits.lower,
        "upper": found.limits.upper,
        "mean_range": found.spread_limits.center,
        "mean_moving_range": found.mean_moving_range,
        "moving_range_upper": found.moving_range_limits.upper,
        "range_upper": found.spread_limits.upper,
        "range_lower": found.spread_limits.lower,
        "sigma_mean": found.sigma_average,
        "sigma_within": found.sigma_inside,
        "sigma_between": found.sigma_between,
        "sigma_total": found.sigma_total,
    }


@adapter("nested_sigma_anova")
def _anova(args: Args) -> dict[str, float]:
    values, size = args.list("values"), args.count("subgroup_size")
    found = sf.nested_components(values, unit="", levels=[[i // size for i in range(len(values))]])
    return {
        "ms_between": found.lines[0].mean_square,
        "ms_within": found.lines[1].mean_square,
        "sigma_between": found.components[0].sd,
        "sigma_within": found.components[1].sd,
    }


@adapter("nested_false_alarm")
def _false_alarm(args: Args) -> dict[str, float]:
    found = sf.nested_false_alarm(
        unit="mil",
        sigma_unit=args.number("sigma_unit_mil"),
        sigma_location=args.number("sigma_location_mil"),
        sigma_repeat=args.number("sigma_repeat_mil"),
        location_count=args.count("location_count"),
        readings_per_location=args.count("readings_per_location"),
    )
    return {
        "false_alarm_probability": found.false_alarm_probability,
        "limit_sigma_multiple": found.limit_sigma_multiple,
    }


def bodies(units: int = 20, repeats: int = 3, seed: int = 3, pattern: float = 1.0) -> dict[str, Any]:
    """Readings of painted bodies at five places, in shop order, one body an hour."""
    rng = np.random.default_rng(seed)
    film = (
        2.1
        + rng.normal(0, 0.09, (units, 1, 1))
        + pattern * PATTERN[None, :, None]
        + rng.normal(0, 0.10, (units, len(PLACES), 1))
        + rng.normal(0, 0.05, (units, len(PLACES), repeats))
    )
    each = len(PLACES) * repeats
    start = np.datetime64("2026-03-02T06:00", "m")
    return {
        "film": film.ravel(),
        "body": np.repeat([f"T{i + 1}" for i in range(units)], each),
        "place": np.tile(np.repeat(PLACES, repeats), units),
        "at": np.repeat(start + 60 * np.arange(units), each),
    }


def without(table: dict[str, Any], rows: list[int]) -> dict[str, Any]:
    return {name: np.delete(column, rows) for name, column in table.items()}


def troubled() -> dict[str, Any]:
    """One body too heavy as a whole, another uneven."""
    table = bodies(units=30)
    film = table["film"] = table["film"].copy()
    film[15 * 12 : 15 * 13] += 0.6
    film[15 * 21 : 15 * 21 + 3] += 0.7
    film[15 * 21 + 6 : 15 * 21 + 9] -= 0.7
    return table


def example_results() -> list[sf.NestedChart | sf.NestedFalseAlarm]:
    with pytest.warns(sf.ConstantDataWarning):
        equal = sf.nested_chart([2.1] * 8, unit="mil", readings_per_unit=4)
    calm = sf.nested_chart(bodies(), "film", **OPTIONS)
    return [
        sf.nested_chart(troubled(), "film", time="at", rules=sf.WESTERN_ELECTRIC, **OPTIONS),
        calm,
        sf.nested_chart(bodies(units=4, seed=8), "film", baseline=calm, **OPTIONS),
        sf.nested_chart(without(bodies(units=9), [17]), "film", missing="drop", spread="range", **OPTIONS),
        sf.nested_chart(
            bodies(units=8)["film"],
            unit="um",
            readings_per_unit=15,
            estimator="median_moving_range",
            excluded=[True] + [False] * 7,
        ),
        equal,
        sf.nested_false_alarm(
            unit="mil",
            sigma_unit=0.09,
            sigma_location=0.07,
            sigma_repeat=0.05,
            location_count=5,
            readings_per_location=3,
            location_rms=0.12,
        ),
    ]


def chart_of(number: int) -> sf.NestedChart:
    found = example_results()[number]
    assert isinstance(found, sf.NestedChart)
    return found


# -- outside values -----------------------------------------------------------------------------------------------------


def test_spreads_are_those_of_residuals_of_a_two_way_fit() -> None:
    import pandas as pd
    from statsmodels.formula.api import ols

    table = bodies(units=9)
    found = sf.nested_chart(table, "film", **OPTIONS)
    averages = pd.DataFrame(table).groupby(["body", "place"], as_index=False, sort=False)["film"].mean()
    averages["rest"] = ols("film ~ C(body) + C(place)", data=averages).fit().resid
    wanted = averages.groupby("body", sort=False)["rest"].apply(lambda rest: np.sqrt((rest**2).sum() / 4))
    assert found.spreads == pytest.approx(wanted.to_numpy(), rel=1e-10)
    assert found.averages == pytest.approx(np.reshape(table["film"], (9, -1)).mean(axis=1))
    assert dict(zip(found.locations, found.location_means, strict=True)) == pytest.approx(
        averages.groupby("place")["film"].mean().to_dict()
    )


def test_the_averages_have_the_limits_of_an_individuals_chart() -> None:
    table = troubled()
    found = sf.nested_chart(table, "film", time="at", rules=sf.WESTERN_ELECTRIC, **OPTIONS)
    single = sf.individuals_chart(found.averages, unit="mil", time=table["at"][::15], rules=sf.WESTERN_ELECTRIC)
    assert found.limits == single.limits
    assert found.moving_range_limits == single.moving_range_limits
    assert found.signals == single.signals
    assert found.degrees_of_freedom == single.degrees_of_freedom


def test_a_pattern_of_places_changes_nothing_once_it_is_removed() -> None:
    plain = sf.nested_chart(bodies(pattern=0.0), "film", **OPTIONS)
    heavy = sf.nested_chart(bodies(pattern=3.0), "film", **OPTIONS)
    assert heavy.spreads == pytest.approx(plain.spreads, rel=1e-9)
    assert heavy.spread_limits.upper == pytest.approx(plain.spread_limits.upper, rel=1e-9)


def test_false_alarms_come_as_often_as_stated() -> None:
    rng = np.random.default_rng(6)
    units = 200_000
    readings = (
        rng.normal(0, 0.09, (units, 1, 1)) + rng.normal(0, 0.13, (units, 5, 1)) + rng.normal(0, 0.05, (units, 5, 3))
    ).reshape(units, 15)
    limit = 3 * np.sqrt(readings.var(axis=1, ddof=1).mean() / 15)
    share = np.mean(np.abs(readings.mean(axis=1)) > limit)
    found = sf.nested_false_alarm(
        unit="mil", sigma_unit=0.09, sigma_location=0.13, sigma_repeat=0.05, location_count=5, readings_per_location=3
    )
    assert abs(share - found.false_alarm_probability) < 4 * np.sqrt(0.35 * 0.65 / units) + 0.001  # the limit is estimated too
    # The nested chart itself, on the same kind of units, calls about 0.27 %.
    averages = readings.mean(axis=1)[:50_000]
    chart = sf.individuals_chart(averages, unit="mil")
    assert len(chart.signals) / averages.size == pytest.approx(0.0027, abs=0.001)


@pytest.mark.parametrize("spread", ["sd", "range"])
@pytest.mark.parametrize("multiple", [3.0, 1.5])
def test_chances_below_are_those_of_scipy(spread: str, multiple: float) -> None:
    from scipy import stats

    found = sf.nested_chart(bodies(units=5), "film", spread=spread, sigma_multiple=multiple, **OPTIONS)
    low = found.spread_factor - multiple * found.spread_sd_factor
    high = found.spread_factor + multiple * found.spread_sd_factor
    if spread == "sd":
        wanted = stats.chi2.sf(4 * high**2, 4) + stats.chi2.cdf(4 * max(0.0, low) ** 2, 4)
    else:
        # With endless degrees of freedom the studentized range is the range of standard normal values.
        wanted = stats.studentized_range.sf(high, 5, 1e9) + stats.studentized_range.cdf(max(0.0, low), 5, 1e9)
    assert found.spread_chance == pytest.approx(wanted, abs=1e-7)
    moving = stats.norm.sf((found.divisor + multiple * found.range_sd_factor) / np.sqrt(2)) * 2
    assert found.moving_range_chance == pytest.approx(moving + max(0.0, _below(found, multiple)), rel=1e-9)


def _below(found: sf.NestedChart, multiple: float) -> float:
    from scipy import stats

    low = found.divisor - multiple * found.range_sd_factor
    return float(2 * stats.norm.cdf(low / np.sqrt(2)) - 1) if low > 0 else 0.0


def test_the_inside_degrees_of_freedom_match_simulated_sigmas() -> None:
    sigmas = np.array([sf.nested_chart(bodies(units=6, seed=seed), "film", **OPTIONS).sigma_inside for seed in range(1500)])
    nu = sf.nested_chart(bodies(units=6), "film", **OPTIONS).inside_degrees_of_freedom
    assert sigmas.var() / sigmas.mean() ** 2 == pytest.approx(1 / (2 * nu), rel=0.12)


# -- properties ---------------------------------------------------------------------------------------------------------


@given(st.integers(0, 10_000), st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
def test_shift_and_scale(seed: int, shift: float, scale: float) -> None:
    table = bodies(units=5, seed=seed)
    one = sf.nested_chart(table, "film", **OPTIONS)
    two = sf.nested_chart({**table, "film": shift + scale * table["film"]}, "film", **OPTIONS)
    tolerance = 1e-11 * (abs(shift) + 10 * scale)
    assert two.limits.upper == pytest.approx(shift + scale * one.limits.upper, abs=tolerance)
    assert two.spread_limits.upper == pytest.approx(scale * one.spread_limits.upper, abs=tolerance)
    assert two.sigma_between == pytest.approx(scale * one.sigma_between, abs=1e-5 * scale)
    assert [signal.point for signal in two.spread_signals] == [signal.point for signal in one.spread_signals]


@given(st.integers(0, 10_000))
def test_the_order_of_rows_inside_a_unit_does_not_matter(seed: int) -> None:
    table = bodies(units=5, seed=seed)
    rng = np.random.default_rng(seed)
    mixed = np.concatenate([15 * unit + rng.permutation(15) for unit in range(5)])
    one = sf.nested_chart(table, "film", **OPTIONS)
    two = sf.nested_chart({name: column[mixed] for name, column in table.items()}, "film", **OPTIONS)
    assert two.units == one.units
    assert two.spreads == pytest.approx(one.spreads, rel=1e-12)
    assert two.limits.upper == pytest.approx(one.limits.upper, rel=1e-12)


def test_rows_sorted_by_place_give_the_same_chart() -> None:
    table = bodies(units=6)
    by_place = np.argsort(table["place"], kind="stable")
    one = sf.nested_chart(table, "film", **OPTIONS)
    two = sf.nested_chart({name: column[by_place] for name, column in table.items()}, "film", **OPTIONS)
    assert two.averages == pytest.approx(one.averages, rel=1e-13)


# -- frozen baselines ---------------------------------------------------------------------------------------------------


def test_a_baseline_freezes_center_sigmas_and_location_means() -> None:
    before = chart_of(1)
    shifted = bodies(units=10, seed=4)
    shifted["film"] = shifted["film"] + 0.5
    shifted["film"][shifted["place"] == "roof"] += 0.9
    found = sf.nested_chart(shifted, "film", baseline=before, **OPTIONS)
    assert found.limits == before.limits
    assert found.location_means.tolist() == before.location_means.tolist()
    assert found.own_mean_factor == 1.0
    assert len(found.signals) == 10
    assert len(found.spread_signals) == 10  # the roof left its old pattern; against its own means it would not show
    assert sf.nested_chart(shifted, "film", **OPTIONS).spread_signals == ()
    by_hand = sf.nested_chart(
        shifted,
        "film",
        center=before.center,
        sigma_average=before.sigma_average,
        sigma_inside=before.sigma_inside,
        location_means=dict(zip(before.locations, before.location_means, strict=True)),
        **OPTIONS,
    )
    assert by_hand.spread_standardized == pytest.approx(found.spread_standardized)


def test_a_baseline_knows_its_places_in_any_order() -> None:
    before = chart_of(1)
    table = bodies(units=4, seed=8)
    order = np.argsort(table["place"], kind="stable")
    found = sf.nested_chart({name: column[order] for name, column in table.items()}, "film", baseline=before, **OPTIONS)
    assert found.locations == before.locations
    assert found.spreads == pytest.approx(chart_of(2).spreads)


def test_a_baseline_of_other_places_readings_or_spread_is_refused() -> None:
    before = chart_of(1)
    other = bodies(units=4)
    other["place"] = np.where(other["place"] == "roof", "hood", other["place"])
    with pytest.raises(sf.InvalidInputError, match="'hood', 'roof' stand on one side only"):
        sf.nested_chart(other, "film", baseline=before, **OPTIONS)
    with pytest.raises(sf.InvalidInputError, match="its sigmas do not hold here"):
        sf.nested_chart(bodies(units=4, repeats=2), "film", baseline=before, **OPTIONS)
    with pytest.raises(sf.InvalidInputError, match="that of the baseline 'sd'"):
        sf.nested_chart(bodies(units=4), "film", baseline=before, spread="range", **OPTIONS)
    with pytest.raises(sf.InvalidInputError, match="baseline gives center already"):
        sf.nested_chart(bodies(units=4), "film", baseline=before, center=2.0, **OPTIONS)


# -- gaps, missing, excluded --------------------------------------------------------------------------------------------


def test_incomplete_units_are_named_or_stay_empty() -> None:
    table = without(bodies(units=9), [17, 60])
    with pytest.raises(sf.InvalidInputError) as caught:
        sf.nested_chart(table, "film", **OPTIONS)
    text = str(caught.value)
    assert "2 of 9 units are incomplete (5 locations with 3 readings each are wanted)" in text
    assert "unit 'T2': location 'left' has 2" in text
    assert "missing='drop'" in text
    found = sf.nested_chart(table, "film", missing="drop", **OPTIONS)
    assert np.flatnonzero(np.isnan(found.averages)).tolist() == [1, 4]
    assert np.flatnonzero(np.isnan(found.moving_range)).tolist() == [0, 1, 2, 4, 5]
    assert found.made.options["incomplete_units"] == [2, 5]
    assert "missing 2, 5" in str(found.explain())


def test_a_missing_reading_empties_its_unit() -> None:
    table = bodies(units=6)
    film = table["film"].tolist()
    film[20] = None
    with pytest.raises(sf.DataProblemsError, match="row 21: reading is missing"):
        sf.nested_chart({**table, "film": film}, "film", **OPTIONS)
    with pytest.warns(sf.MissingDataWarning):
        found = sf.nested_chart({**table, "film": film}, "film", missing="drop", **OPTIONS)
    assert found.takes_part.tolist() == [True, False, True, True, True, True]
    assert found.made.missing_rows == (21,)


def test_gaps_periods_and_excluded_units_break_the_change() -> None:
    table = bodies(units=8)
    table["at"] = table["at"] + np.repeat([0, 0, 0, 0, 900, 900, 900, 900], 15)
    table["batch"] = np.repeat(list("AAAAAABB"), 15)
    out = np.repeat([False, True] + [False] * 6, 15)
    found = sf.nested_chart(table, "film", time="at", period="batch", excluded=out, longest_gap=timedelta(hours=4), **OPTIONS)
    assert np.flatnonzero(found.break_before).tolist() == [4, 6]
    assert np.flatnonzero(np.isnan(found.moving_range)).tolist() == [0, 1, 2, 4, 6]
    again = sf.nested_chart(table, "film", time="at", period="batch", excluded=out[::15].tolist(), **OPTIONS)
    assert again.takes_part.tolist() == found.takes_part.tolist()
    half = out.copy()
    half[20] = False
    with pytest.raises(sf.InvalidInputError, match="unit 'T2' is excluded in some of its rows only"):
        sf.nested_chart(table, "film", excluded=half, **OPTIONS)


# -- words and pictures -------------------------------------------------------------------------------------------------


def test_sentences_say_which_of_the_three_look_stable() -> None:
    calm = chart_of(1).sentence()
    assert calm.startswith("20 unit averages run at 2.")
    assert "mil and look stable; the change from unit to unit looks stable; the spread inside the units" in calm
    said = chart_of(0).sentence()
    assert "mil and look stable but for 2 units, first unit 9 (2026-03-02 14:00), at the end of a run: " in said
    assert "the spread inside the units looks stable but for unit 22 (2026-03-03 03:00), above its limit of 0.2" in said
    many = troubled()
    many["film"][15 * 2 : 15 * 5] -= 0.9
    worse = sf.nested_chart(many, "film", center=2.1, sigma_average=0.1, **OPTIONS).sentence()
    assert "and do not look stable: 4 signals where chance brings at most 1, first unit 'T3', below its limit;" in worse
    equal = chart_of(5).sentence()
    assert equal == (
        "All 2 unit averages are 2.1 mil and nothing varies inside the units: there is no spread to set limits from."
    )
    alarm = example_results()[6].sentence()
    # Worked out for the trade: 23 %.
    assert alarm.startswith(
        "An averages chart with limits from the spread inside the units would call 23."
    )  # worked out for the trade: 23 %


def test_one_reading_a_place_and_one_place_a_unit() -> None:
    single = sf.nested_chart(bodies(repeats=1), "film", **OPTIONS)
    assert (single.inside_count, single.repeats) == (5, 1)
    one_place = sf.nested_chart([2.0, 2.1, 2.3, 2.2, 2.1, 2.3], unit="mil", readings_per_unit=2)
    assert one_place.spreads == pytest.approx(np.array([0.1, 0.1, 0.2]) / np.sqrt(2))
    assert "pattern" not in one_place.sentence()


def test_the_picture_has_three_panels_on_one_axis() -> None:
    chart = chart_of(0)
    drawn = chart.plot(window=sf.SpecLimits(lower=1.8, upper=2.4))
    assert list(drawn.axes) == ["values", "moving_range", "spread"]
    np.testing.assert_array_equal(drawn.data["values"], chart.averages)
    np.testing.assert_array_equal(drawn.data["spread_values"], chart.spreads)
    assert "window_upper" in drawn.artists
    assert drawn.axes["spread"].get_ylabel().replace("\n", " ") == "sd inside a unit (mil)"
    assert "30 units" in drawn.caption
    assert "after the location means are taken off" in drawn.caption
    quiet = chart_of(1).plot()
    assert quiet.axes["spread"].get_xticklabels()[0].get_text() == "T1"


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({}, "give either body"),
        ({"body": list("AABB"), "readings_per_unit": 2}, "give either body"),
        ({"readings_per_unit": 3}, "4 rows do not fill units of 3"),
        ({"readings_per_unit": 0}, "readings_per_unit must be 1 or more"),
        ({"readings_per_unit": 1}, "leave no spread inside a unit"),
        ({"readings_per_unit": 4}, "so that there is no change to set limits from; give sigma_average"),
        ({"body": list("AAB")}, "body has 3 rows, the readings have 4"),
        ({"body": ["A", None, "B", "B"]}, "row 2: label is missing"),
        ({"body": list("AABB"), "spread": "iqr"}, "spread must be 'sd' or 'range'"),
        ({"body": list("AABB"), "estimator": "mode"}, "estimator must be"),
        ({"body": list("AABB"), "sigma_multiple": 0.0}, "sigma_multiple must be positive"),
        ({"body": list("AABB"), "sigma_inside": -1.0}, "sigma_inside must be 0 or more"),
        ({"body": list("AABB"), "time": ["2026-03-02"] * 2 + ["2026-03-01"] * 2}, "lies before the row above it"),
        ({"body": list("AABB"), "location": list("lrlr"), "location_means": {"l": 1.0}}, "'r' stand on one side only"),
    ],
)
def test_input_it_cannot_use_is_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        sf.nested_chart([2.1, 2.2, 2.3, 2.5], unit="mil", **options)
