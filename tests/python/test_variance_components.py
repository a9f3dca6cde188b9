"""Variance components: certified sets, oxide wafers, statsmodels and simulation as oracles, what is unbalanced, refusals."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter

PLACES = ["left", "right", "roof", "door", "inside"]
PATTERN = np.array([-0.03, -0.02, 0.10, 0.05, -0.10])


@adapter("one_way_anova")
def _one_way(args: Args) -> dict[str, float]:
    found = sf.one_way_anova(args.list("values"), unit="", group=args.list("group"))
    return {
        "df_between": found.between.degrees_of_freedom,
        "df_within": found.within.degrees_of_freedom,
        "ss_between": found.between.sum_squares,
        "ss_within": found.within.sum_squares,
        "ms_between": found.between.mean_square,
        "ms_within": found.within.mean_square,
        "f": found.between.f,
        "r_squared": found.r_squared,
        "residual_sd": found.residual_sd,
    }


@adapter("nested_anova")
def _nested(args: Args) -> dict[str, float]:
    table = {name: args.list(name) for name in ("values", "outer", "inner")}
    found = sf.nested_components(
        table, "values", unit="", levels=["outer", "inner"], confidence_level=args.number("confidence_level")
    )
    out = {
        "ss_total": sum(line.sum_squares for line in found.lines),
        "ratio_inner_error_lower": found.innermost_ratio.lower,
        "ratio_inner_error_upper": found.innermost_ratio.upper,
        "variance_error_lower": found.components[2].variance_lower,
        "variance_error_upper": found.components[2].variance_upper,
        "mean": found.mean.value,
    }
    for name, line, one in zip(("outer", "inner", "error"), found.lines, found.components, strict=True):
        out |= {f"ss_{name}": line.sum_squares, f"df_{name}": line.degrees_of_freedom, f"ms_{name}": line.mean_square}
        out |= {f"f_{name}": line.f, f"p_{name}": line.p, f"variance_{name}": one.variance, f"sd_{name}": one.sd}
    return out


def bodies(units: int = 40, repeats: int = 3, seed: int = 3, days: int = 0) -> dict[str, Any]:
    """Readings of painted bodies at five places, in shop order."""
    rng = np.random.default_rng(seed)
    count = len(PLACES)
    day = np.sort(rng.integers(0, days, units)) if days else np.zeros(units, dtype=int)
    film = (
        2.1
        + rng.normal(0, 0.09, (units, 1, 1))
        + rng.normal(0, 0.04, max(days, 1))[day][:, None, None] * (days > 0)
        + PATTERN[None, :, None]
        + rng.normal(0, 0.10, (units, count, 1))
        + rng.normal(0, 0.05, (units, count, repeats))
    )
    each = count * repeats
    return {
        "film": film.ravel(),
        "body": np.repeat([f"T{i + 1}" for i in range(units)], each),
        "place": np.tile(np.repeat(PLACES, repeats), units),
        "day": np.repeat([f"day {d + 1}" for d in day], each),
    }


def _frame(table: dict[str, Any]) -> Any:
    import pandas as pd

    return pd.DataFrame(table)


def wafers(seed: int = 8, lots: int = 6, each: int = 3, sites: int = 2) -> dict[str, Any]:
    rng = np.random.default_rng(seed)
    film = 50.0 + rng.normal(0, 2, (lots, 1, 1)) + rng.normal(0, 1, (lots, each, 1)) + rng.normal(0, 0.5, (lots, each, sites))
    grid = np.array(list(itertools.product(range(lots), range(each), range(sites))))
    return {"film": film.ravel(), "lot": grid[:, 0], "panel": grid[:, 1]}


def example_results() -> list[sf.OneWayAnova | sf.NestedComponents | sf.BodyComponents]:
    gap = {name: np.delete(column, [4, 100]) for name, column in bodies(units=12).items()}
    with pytest.warns(sf.MissingDataWarning, match="2 incomplete units left out"):
        dropped = sf.body_components(gap, "film", unit="mil", body="body", location="place", incomplete="drop_units")
    with pytest.warns(sf.ConstantDataWarning):
        equal = sf.nested_components([2.1] * 8, unit="mil", levels=[list("AAAABBBB"), list("ccddeeff")])
    return [
        sf.one_way_anova([2.1, 2.2, 2.05, 2.4, 2.35, 2.42, 2.1], unit="mil", group=list("AAABBBA")),
        sf.nested_components(wafers(), "film", unit="um", levels=["lot", "panel"]),
        sf.body_components(bodies(days=8), "film", unit="mil", body="body", location="place", day="day", confidence_level=0.9),
        sf.body_components(bodies(units=9, repeats=1), "film", unit="mil", body="body", location="place"),
        sf.body_components([2.0, 2.1, 2.3, 2.2], unit="mil", body=list("AABB")),
        sf.body_components([2.0, 2.1, 2.3, 2.2], unit="mil", body=list("ABCD")),
        dropped,
        equal,
    ]


# -- outside values -----------------------------------------------------------------------------------------------------


def test_the_mean_squares_of_the_body_model_are_those_of_least_squares() -> None:
    from statsmodels.formula.api import ols
    from statsmodels.stats.anova import anova_lm

    table = bodies(units=7)
    found = sf.body_components(table, "film", unit="mil", body="body", location="place")
    fitted = anova_lm(ols("film ~ C(body) * C(place)", data=_frame(table)).fit())
    for line, name in zip(found.lines, ["C(body)", "C(place)", "C(body):C(place)", "Residual"], strict=True):
        assert line.sum_squares == pytest.approx(fitted.loc[name, "sum_sq"], rel=1e-9)
        assert line.degrees_of_freedom == fitted.loc[name, "df"]


def test_components_of_balanced_readings_are_those_of_restricted_maximum_likelihood() -> None:
    from statsmodels.regression.mixed_linear_model import MixedLM

    table = bodies(units=30, seed=5)
    # In hundredths of a mil: the oracle calls components below 0.01 the edge of its space.
    table["film"] = 100.0 * table["film"]
    found = sf.body_components(table, "film", unit="mil", body="body", location="place")
    model = MixedLM.from_formula(
        "film ~ 0 + C(place)", groups="body", vc_formula={"unit_location": "0 + C(place)"}, re_formula="1", data=_frame(table)
    )
    fitted = model.fit(reml=True, method="bfgs", gtol=1e-9, maxiter=500)
    assert all(one.variance > 0 for one in found.components)
    assert found.components[0].variance == pytest.approx(float(fitted.cov_re.iloc[0, 0]), rel=2e-3)
    assert found.components[1].variance == pytest.approx(float(fitted.vcomp[0]), rel=2e-3)
    assert found.components[2].variance == pytest.approx(float(fitted.scale), rel=2e-3)
    by_name = {place.location: place.mean for place in found.locations}
    for name in PLACES:
        assert by_name[name] == pytest.approx(fitted.fe_params[f"C(place)[{name}]"], rel=1e-8)


def test_a_one_way_table_is_that_of_scipy() -> None:
    from scipy import stats

    rng = np.random.default_rng(2)
    groups = [rng.normal(2.1, 0.1, size) for size in (3, 9, 5, 1)]
    labels = np.repeat(["A", "B", "C", "D"], [len(group) for group in groups])
    found = sf.one_way_anova(np.concatenate(groups), unit="mil", group=labels)
    wanted = stats.f_oneway(*groups)
    assert found.between.f == pytest.approx(wanted.statistic, rel=1e-11)
    assert found.between.p == pytest.approx(wanted.pvalue, rel=1e-10)
    assert found.group_means == pytest.approx([group.mean() for group in groups])
    assert found.group_sizes.tolist() == [3, 9, 5, 1]


def test_the_interval_of_a_unit_average_is_the_chi_square_of_the_averages() -> None:
    from scipy import stats

    table = bodies(units=17)
    found = sf.body_components(table, "film", unit="mil", body="body", location="place")
    averages = np.reshape(table["film"], (17, -1)).mean(axis=1)
    assert found.unit_average.sd == pytest.approx(averages.std(ddof=1), rel=1e-12)
    assert found.unit_average.degrees_of_freedom == pytest.approx(16)
    low, high = stats.chi2.ppf([0.025, 0.975], 16)
    assert found.unit_average.variance_lower == pytest.approx(16 * averages.var(ddof=1) / high, rel=1e-9)
    assert found.unit_average.variance_upper == pytest.approx(16 * averages.var(ddof=1) / low, rel=1e-9)
    assert found.mean.lower == pytest.approx(stats.t.interval(0.95, 16, averages.mean(), stats.sem(averages))[0], rel=1e-12)


def test_intervals_cover_the_truth_as_often_as_they_say() -> None:
    truth = {"day": 0.04**2, "unit": 0.09**2, "unit_location": 0.10**2, "repeat": 0.05**2}
    inside = dict.fromkeys([*truth, "total", "unit_average", "effect"], 0)
    runs = 400
    for seed in range(runs):
        found = sf.body_components(
            bodies(units=24, seed=seed, days=9), "film", unit="mil", body="body", location="place", day="day"
        )
        for one in found.components:
            inside[one.source] += one.variance_lower <= truth[one.source] <= one.variance_upper
        inside["total"] += found.total.variance_lower <= sum(truth.values()) <= found.total.variance_upper
        average = 0.04**2 + 0.09**2 + 0.1**2 / 5 + 0.05**2 / 15
        inside["unit_average"] += found.unit_average.variance_lower <= average <= found.unit_average.variance_upper
        inside["effect"] += found.locations[2].lower <= 0.10 <= found.locations[2].upper
    # One standard error of 400 runs is 1.1 %; the approximate ones are known to lie a little above 95 %.
    for name, count in inside.items():
        assert 0.92 <= count / runs <= 0.99, (name, count / runs)


def test_the_day_component_is_right_on_average_for_days_of_unequal_size() -> None:
    found = [
        sf.body_components(bodies(units=24, seed=seed, days=9), "film", unit="mil", body="body", location="place", day="day")
        for seed in range(1000, 1400)
    ]
    variances = np.array([result.components[0].variance for result in found])
    assert abs(variances.mean() - 0.04**2) < 4 * variances.std() / np.sqrt(variances.size)


# -- properties ---------------------------------------------------------------------------------------------------------


@given(st.integers(0, 10_000), st.floats(-1e4, 1e4), st.floats(0.01, 100.0))
def test_shift_and_scale(seed: int, shift: float, scale: float) -> None:
    table = bodies(units=6, seed=seed, days=3)
    options: dict[str, Any] = {"unit": "", "body": "body", "location": "place"}
    one = sf.body_components(table, "film", **options)
    two = sf.body_components({**table, "film": shift + scale * table["film"]}, "film", **options)
    assert two.mean.value == pytest.approx(shift + scale * one.mean.value)
    for a, b in zip(one.components, two.components, strict=True):
        assert b.variance == pytest.approx(scale**2 * a.variance, rel=1e-6, abs=1e-9 * scale**2)
        assert b.sd_upper == pytest.approx(scale * a.sd_upper, rel=1e-6, abs=1e-6 * scale)
    assert two.lines[0].p == pytest.approx(one.lines[0].p, rel=1e-5)


@given(st.integers(0, 10_000))
def test_the_order_of_rows_and_the_names_of_labels_do_not_matter(seed: int) -> None:
    table = wafers(seed)
    mixed = np.random.default_rng(seed).permutation(len(table["film"]))
    one = sf.nested_components(table, "film", unit="um", levels=["lot", "panel"])
    other = {name: column[mixed] for name, column in table.items()}
    other["lot"] = np.array(list("FADBEC"))[other["lot"]]
    # Labels count inside their lot: numbering the panels through changes nothing.
    other["panel"] = [f"{lot}{panel}" for lot, panel in zip(other["lot"], other["panel"], strict=True)]
    two = sf.nested_components(other, "film", unit="um", levels=["lot", "panel"])
    assert [a.variance for a in two.components] == pytest.approx([a.variance for a in one.components], rel=1e-12)
    assert two.mean.value == pytest.approx(one.mean.value, rel=1e-14)


def test_shares_add_up_and_negative_components_count_as_nothing() -> None:
    table = {"film": [2.0, 2.2, 2.9, 3.1, 2.5, 2.7, 2.4, 2.2], "lot": list("AAAABBBB"), "panel": [1, 1, 2, 2, 1, 1, 2, 2]}
    found = sf.nested_components(table, "film", unit="mil", levels=["lot", "panel"])
    lot, panel, residual = found.components
    # By hand: mean squares 0.02, 0.45, 0.02.
    assert lot.variance == pytest.approx((0.02 - 0.45) / 4)
    assert (lot.sd, lot.share, lot.variance_lower) == (0.0, 0.0, 0.0)
    assert panel.share + residual.share == pytest.approx(1.0)
    assert found.total.variance == pytest.approx(lot.variance + panel.variance + residual.variance)
    assert "none can be shown from lot to lot" in found.sentence()


def test_three_levels_reduce_to_two_when_the_innermost_is_averaged() -> None:
    rng = np.random.default_rng(1)
    film = rng.normal(0, 1, (3, 4, 2, 5)) + rng.normal(0, 1, (3, 4, 1, 1))
    labels = {name: np.indices(film.shape)[i].ravel() for i, name in enumerate(("lot", "panel", "side"))}
    deep = sf.nested_components({"film": film.ravel(), **labels}, "film", unit="", levels=["lot", "panel", "side"])
    mean = film.mean(axis=3)
    small = {name: np.indices(mean.shape)[i].ravel() for i, name in enumerate(("lot", "panel"))}
    shallow = sf.nested_components({"film": mean.ravel(), **small}, "film", unit="", levels=["lot", "panel"])
    assert [line.sum_squares for line in shallow.lines] == pytest.approx([line.sum_squares / 5 for line in deep.lines[:3]])
    assert deep.counts == (3, 4, 2, 5)


# -- what is unbalanced -------------------------------------------------------------------------------------------------


def test_incomplete_units_are_named_and_can_be_left_out() -> None:
    table = {name: np.delete(column, [4, 100]) for name, column in bodies(units=12).items()}
    options: dict[str, Any] = {"unit": "mil", "body": "body", "location": "place"}
    with pytest.raises(sf.InvalidInputError) as caught:
        sf.body_components(table, "film", **options)
    text = str(caught.value)
    assert "2 of 12 units are incomplete (5 locations with 3 readings each are wanted)" in text
    assert "unit 'T1': location 'right' has 2" in text
    assert "unit 'T7': location 'door' has 2" in text
    assert "incomplete='drop_units'" in text
    assert "(10 remain" in text
    dropped = example_results()[6]
    assert isinstance(dropped, sf.BodyComponents)
    assert dropped.dropped == ("T1", "T7")
    assert (dropped.unit_count, dropped.made.count) == (10, 150)
    whole = bodies(units=12)
    keep = ~np.isin(whole["body"], ["T1", "T7"])
    alone = sf.body_components({name: column[keep] for name, column in whole.items()}, "film", **options)
    assert alone.components == dropped.components
    assert "2 incomplete units left out" in dropped.sentence()


def test_a_missing_reading_makes_its_unit_incomplete() -> None:
    table = bodies(units=5)
    table["film"] = table["film"].tolist()
    table["film"][20] = None
    options: dict[str, Any] = {"unit": "mil", "body": "body", "location": "place"}
    with pytest.raises(sf.DataProblemsError, match="row 21: reading is missing"):
        sf.body_components(table, "film", **options)
    with pytest.warns(sf.MissingDataWarning), pytest.raises(sf.InvalidInputError, match="1 of 5 units are incomplete"):
        sf.body_components(table, "film", missing="drop", **options)
    with pytest.warns(sf.MissingDataWarning):
        found = sf.body_components(table, "film", missing="drop", incomplete="drop_units", **options)
    assert found.dropped == ("T2",)
    assert found.made.missing_rows == (21,)


def test_a_mistyped_location_is_pointed_out() -> None:
    table = bodies(units=12)
    table["place"] = table["place"].astype("U12")
    table["place"][7] = "ruof"
    with pytest.raises(sf.InvalidInputError, match="location 'ruof' is read on 1 unit only: is it a slip of the pen"):
        sf.body_components(table, "film", unit="mil", body="body", location="place")


def test_incomplete_groups_are_named_and_can_be_left_out() -> None:
    table = {name: np.delete(column, [0, 35]) for name, column in wafers().items()}
    with pytest.raises(sf.InvalidInputError) as caught:
        sf.nested_components(table, "film", unit="um", levels=["lot", "panel"])
    text = str(caught.value)
    assert "2 of 6 groups of 'lot' differ" in text
    assert "panel '0' of lot '0' has 1 readings, most have 2" in text
    assert "(4 remain" in text
    with pytest.warns(sf.MissingDataWarning, match="2 incomplete 'lot' groups left out"):
        found = sf.nested_components(table, "film", unit="um", levels=["lot", "panel"], incomplete="drop_groups")
    assert found.dropped == ("0", "5")
    assert found.counts == (4, 3, 2)


def test_units_may_be_numbered_anew_every_day_and_moments_count_as_their_day() -> None:
    table = bodies(units=12)
    day = np.repeat(np.arange(4), 45)
    stamps = np.array("2026-03-02T06:00", dtype="datetime64[m]") + day * 1440 + np.arange(180) % 45
    numbered = np.tile(np.repeat([1, 2, 3], 15), 4)
    one = sf.body_components({**table, "at": stamps, "no": numbered}, "film", unit="mil", body="no", location="place", day="at")
    two = sf.body_components({**table, "day": day}, "film", unit="mil", body="body", location="place", day="day")
    assert one.units_per_day == (3, 3, 3, 3)
    assert one.components == two.components


# -- words, and what is refused -----------------------------------------------------------------------------------------


def test_sentences_say_where_the_variation_sits() -> None:
    oxide = sf.nested_components(wafers(), "film", unit="um", levels=["lot", "panel"])
    assert oxide.sentence().startswith("36 readings: most of the variation sits from lot to lot (sd ")
    body = example_results()[2]
    assert "40 units with 5 locations and 3 readings each" in body.sentence()
    assert "besides, the locations differ alike on every unit, from -0." in body.sentence()
    assert "(roof) about their mean; unit averages vary by 0." in body.sentence()
    assert example_results()[7].sentence() == "All 8 readings are 2.1 mil: there is no variation to divide."
    groups = example_results()[0]
    assert groups.sentence().startswith("7 readings in 2 groups: the groups differ by more than chance explains (p 0.00")


def test_what_cannot_be_told_apart_is_one_component() -> None:
    single, place, alone = example_results()[3:6]
    assert [one.source for one in single.components] == ["unit", "unit_location"]  # type: ignore[union-attr]  # a components result
    assert "differently on each unit (with repeat error)" in single.sentence()
    assert [one.source for one in place.components] == ["unit", "repeat"]  # type: ignore[union-attr]  # a components result
    assert np.isnan(place.effect_standard_error)  # type: ignore[union-attr]  # a components result
    assert "(single readings, with their repeat error)" in alone.sentence()


def test_tables_of_locations_and_groups() -> None:
    body = example_results()[2]
    assert isinstance(body, sf.BodyComponents)
    frame = body.location_frame()
    assert frame["location"].tolist() == PLACES
    assert sum(frame["effect"]) == pytest.approx(0.0, abs=1e-12)
    table = body.to_frame("polars")
    assert table["source"].to_list() == ["day", "unit", "location", "unit_location", "repeat"]
    groups = example_results()[0]
    assert isinstance(groups, sf.OneWayAnova)
    assert groups.group_frame("pandas")["count"].tolist() == [4, 3]


def test_the_picture_has_one_bar_a_source() -> None:
    body = example_results()[2]
    drawn = body.plot()
    assert len(drawn.artists["bars"]) == 4
    assert len(drawn.artists["pattern"]) == 1
    assert [bar.get_width() for bar in drawn.artists["bars"]] == pytest.approx(drawn.data["sd"][:4])
    assert drawn.axes["components"].get_xlabel() == "standard deviation (mil)"
    few = sf.nested_components(wafers(lots=2), "film", unit="um", levels=["lot", "panel"]).plot()
    assert "an arrow" in few.caption
    assert "cut" in few.artists
    equal = example_results()[7].plot()
    assert equal.data["sd"].tolist() == [0.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("call", "options", "message"),
    [
        ("one_way_anova", {"group": list("AAAA")}, "holds 1 group: two or more"),
        ("one_way_anova", {"group": list("ABCD")}, "one value a group"),
        ("one_way_anova", {"group": ["A", None, "B", "B"]}, "row 2: label is missing"),
        ("one_way_anova", {"group": list("ABB")}, "has 3 rows, the readings have 4"),
        ("nested_components", {"levels": []}, "must name one column or more"),
        ("nested_components", {"levels": [list("AABB"), list("abcd")]}, "has a single reading: leave 'labels 2' out"),
        ("nested_components", {"levels": [list("AABB"), list("aabb")]}, "has a single 'labels 2'"),
        ("nested_components", {"levels": [list("AAAA"), list("aabb")]}, "1 complete group of 'labels 1'"),
        ("nested_components", {"levels": [list("AABB")], "confidence_level": 1.0}, "confidence_level"),
        ("nested_components", {"levels": [list("AABB")], "incomplete": "drop"}, "must be 'error' or 'drop_groups'"),
        ("body_components", {"body": list("AAAA")}, "1 complete unit"),
        ("body_components", {"body": list("AABB"), "incomplete": "drop"}, "must be 'error' or 'drop_units'"),
        ("body_components", {"body": list("AABB"), "day": list("xxxx")}, "must be two days or more"),
        ("body_components", {"body": list("AABB"), "day": list("xxyy")}, "day and unit cannot be told apart"),
    ],
)
def test_input_it_cannot_use_is_refused(call: str, options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        getattr(sf, call)([2.1, 2.2, 2.3, 2.5], unit="mil", **options)
