"""Mixed components: stored output of lme4 and nlme, statsmodels, balanced layouts, invariance, words, refusals."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter


def _of_row(args: Args) -> sf.MixedComponents:
    table = {name: args.list(name) for name in ("values", "factor_1", "factor_2") if name in args}
    names: dict[str, Any] = {"1": "factor_1", "2": "factor_2", "1*2": ("factor_1", "factor_2")}
    terms = {kind: [names[word] for word in args.words(f"{kind}_terms")] for kind in ("random", "fixed")}
    # The base of a contrast is the level that comes first in the rows: that of the smallest number.
    order = np.lexsort([table[name] for name in ("factor_2", "factor_1") if name in table])
    table = {name: [column[i] for i in order] for name, column in table.items()}
    level = args.optional("confidence_level") or 0.95
    return sf.mixed_components(table, "values", unit="", **terms, intervals="wald", confidence_level=level)


@adapter("reml_components")
def _components(args: Args) -> dict[str, Any]:
    found = _of_row(args)
    *terms, residual = found.components
    return {
        "variance": [one.variance for one in terms],
        "sd": [one.sd for one in terms],
        "variance_residual": residual.variance,
        "sd_residual": residual.sd,
        "reml_criterion": found.criterion,
        "log_likelihood": found.log_likelihood,
        "fixed": [one.estimate for one in found.fixed],
        "fixed_se": [one.standard_error for one in found.fixed],
    }


@adapter("reml_wald_intervals")
def _intervals(args: Args) -> dict[str, Any]:
    *terms, residual = _of_row(args).components
    return {
        "sd_lower": [one.sd_lower for one in terms],
        "sd_upper": [one.sd_upper for one in terms],
        "sd_residual_lower": residual.sd_lower,
        "sd_residual_upper": residual.sd_upper,
    }


@adapter("mixed_components")
def _shop(args: Args) -> dict[str, Any]:
    names = ["day", "body", "painter"]
    columns = ("values", *names, "place", "age")
    table = {name: args.list(name) for name in columns}
    order = np.argsort(table["place"], kind="stable")  # the base is the place that comes first
    table = {name: [column[i] for i in order] for name, column in table.items()}
    found = sf.mixed_components(
        table,
        "values",
        unit="mil",
        random=names,
        fixed=["place"],
        covariates=["age"],
        method=args.word("method"),
        confidence_level=args.number("confidence_level"),
    )
    out: dict[str, Any] = {
        "variance": [one.variance for one in found.components[:-1]],
        "variance_residual": found.components[-1].variance,
        "log_likelihood": found.log_likelihood,
        "fixed": [one.estimate for one in found.fixed],
        "fixed_se": [one.standard_error for one in found.fixed],
        "sd_lower": [one.sd_lower for one in found.components],
        "sd_upper": [one.sd_upper for one in found.components],
    }
    for name in names:
        own = found.effect_source == name
        by_label = sorted(zip(map(int, found.effect_level[own]), found.effect_value[own], strict=True))
        out[f"effect_{name}"] = [value for _, value in by_label]
    return out


def study(seed: int = 1, parts: int = 10, people: int = 3, trials: int = 3, gaps: int = 7) -> dict[str, Any]:
    """A gauge study with readings missing."""
    rng = np.random.default_rng(seed)
    film = (
        2.1
        + rng.normal(0, 0.2, (parts, 1, 1))
        + rng.normal(0, 0.05, (1, people, 1))
        + rng.normal(0, 0.04, (parts, people, 1))
        + rng.normal(0, 0.05, (parts, people, trials))
    )
    part, person, _ = np.indices(film.shape)
    keep = np.sort(rng.permutation(film.size)[gaps:])
    table = {"film": film.ravel(), "part": part.ravel() + 1, "person": np.array(list("ABCDEFGH"))[person.ravel()]}
    return {name: column[keep] for name, column in table.items()}


CROSSED = ["part", "person", ("part", "person")]


def line(seed: int = 2) -> dict[str, Any]:
    """Bodies of several days at four places, some readings missing."""
    rng = np.random.default_rng(seed)
    day = np.repeat(np.arange(7), rng.integers(2, 6, 7))
    body = np.arange(day.size)
    number = np.concatenate([np.arange(count) for count in np.bincount(day)]) + 1  # starts anew each day
    film = rng.normal(0, 0.08, 7)[day][:, None] + rng.normal(0, 0.1, body.size)[:, None] + rng.normal(0, 0.05, (body.size, 4))
    film += 2.1 + np.array([0.0, 0.05, -0.05, 0.1])
    rows = np.flatnonzero(rng.random(film.size) < 0.85)
    names = np.array(["left", "right", "roof", "door"])
    each = {"day": day, "number": number, "painter": rng.integers(1, 4, body.size), "age": rng.uniform(1, 8, body.size)}
    table = {name: np.repeat(column, 4)[rows] for name, column in each.items()}
    return {**table, "film": film.ravel()[rows], "place": np.tile(names, body.size)[rows]}


def example_results() -> list[sf.MixedComponents]:
    missing = line()
    missing["film"][3] = np.nan
    with pytest.warns(sf.MissingDataWarning):
        gap = sf.mixed_components(missing, "film", unit="mil", random=["day", ("day", "number")], missing="drop")
    with pytest.warns(sf.ConstantDataWarning):
        equal = sf.mixed_components([2.1] * 6, unit="mil", random=[list("AABBCC")])
    return [
        sf.mixed_components(study(), "film", unit="mil", random=CROSSED),
        sf.mixed_components(
            line(),
            "film",
            unit="mil",
            random=["day", ("day", "number"), "painter"],
            fixed=["place"],
            covariates=["age"],
            method="ml",
            intervals="wald",
            confidence_level=0.9,
        ),
        gap,
        equal,
        sf.mixed_components(
            {"film": [2.0, 2.2, 2.9, 3.1, 2.5, 2.7, 2.4, 2.2], "lot": list("AAAABBBB"), "panel": [1, 1, 2, 2, 1, 1, 2, 2]},
            "film",
            unit="mil",
            random=["lot", ("lot", "panel")],
        ),
    ]


# -- outside values -----------------------------------------------------------------------------------------------------


def _statsmodels(table: dict[str, Any], scale: float, restricted: bool, fixed: str, **terms: str) -> Any:
    import pandas as pd
    from statsmodels.regression.mixed_linear_model import MixedLM

    # In larger units: this oracle calls components below 0.01 the edge of its space.
    frame = pd.DataFrame({**table, "film": scale * np.asarray(table["film"]), "all": 1})
    model = MixedLM.from_formula(f"film ~ {fixed}", groups="all", vc_formula=terms, data=frame)
    return model.fit(reml=restricted, method=["bfgs", "lbfgs"], gtol=1e-8)


@pytest.mark.parametrize("method", ["reml", "ml"])
def test_two_crossed_terms_are_those_of_statsmodels(method: str) -> None:
    table = study(seed=4)
    found = sf.mixed_components(table, "film", unit="mil", random=["part", "person"], method=method)
    fitted = _statsmodels(table, 100.0, method == "reml", "1", part="0 + C(part)", person="0 + C(person)")
    by_name = dict(zip(fitted.model.exog_vc.names, fitted.vcomp, strict=True))
    part, person, residual = found.components
    assert part.variance == pytest.approx(by_name["part"] / 1e4, rel=2e-4)
    assert person.variance == pytest.approx(by_name["person"] / 1e4, rel=2e-4)
    assert residual.variance == pytest.approx(fitted.scale / 1e4, rel=2e-4)
    assert found.fixed[0].estimate == pytest.approx(fitted.fe_params["Intercept"] / 100, rel=1e-6)
    assert found.fixed[0].standard_error == pytest.approx(fitted.bse_fe["Intercept"] / 100, rel=2e-4)
    # Its log-likelihood has the same constants; in other units it moves by the log of the unit for each degree of freedom.
    moved = fitted.llf + found.degrees_of_freedom * np.log(100.0)
    assert found.log_likelihood == pytest.approx(moved, abs=1e-4)


def test_a_nested_term_with_fixed_effects_is_that_of_statsmodels() -> None:
    table = line()
    found = sf.mixed_components(
        table, "film", unit="mil", random=[("day", "number")], fixed=["place"], covariates=["age"], intervals="wald"
    )
    body = [f"{day}-{number}" for day, number in zip(table["day"], table["number"], strict=True)]
    fixed = "C(place, Treatment('left')) + age"
    fitted = _statsmodels({**table, "body": body}, 100.0, True, fixed, body="0 + C(body)")
    assert found.components[0].variance == pytest.approx(fitted.vcomp[0] / 1e4, rel=2e-4)
    by_level = {one.level or one.term: one for one in found.fixed}
    for name in ("right", "roof", "door"):
        own = f"{fixed.partition(' +')[0]}[T.{name}]"
        assert by_level[name].estimate == pytest.approx(fitted.fe_params[own] / 100, rel=1e-5, abs=1e-7)
    assert by_level["age"].estimate == pytest.approx(fitted.fe_params["age"] / 100, rel=1e-5, abs=1e-7)
    # Its standard errors come from the joint information with the component; generalized least squares has its own formula.
    same = np.array(body)[:, None] == np.array(body)
    whole = found.components[0].variance * same + found.components[1].variance * np.eye(len(body))
    x = np.column_stack([np.ones(len(body)), *(table["place"] == name for name in ("right", "roof", "door")), table["age"]])
    wanted = np.sqrt(np.diag(np.linalg.inv(x.T @ np.linalg.solve(whole, x))))
    assert [by_level[name].standard_error for name in ("mean", "right", "roof", "door", "age")] == pytest.approx(wanted, rel=1e-8)
    # And the predictions: variance Z' inverse(V) (y - X beta).
    beta = [by_level[name].estimate for name in ("mean", "right", "roof", "door", "age")]
    score = np.linalg.solve(whole, table["film"] - x @ beta)
    first = found.effect_level[0].replace(", ", "-")
    by_hand = found.components[0].variance * score[np.array(body) == first].sum()
    assert found.effect_value[0] == pytest.approx(by_hand, rel=1e-8)
    # The likelihood's own slope in the component is 0 where it is said to be highest.
    assert found.convergence.converged
    assert found.convergence.last_change < 1e-10


@given(st.integers(0, 5000))
@settings(max_examples=15)
def test_balanced_readings_without_a_negative_component_are_the_analysis_of_variance(seed: int) -> None:
    rng = np.random.default_rng(seed)
    film = rng.normal(0, 2, (6, 1, 1)) + rng.normal(0, 1, (6, 4, 1)) + rng.normal(0, 0.5, (6, 4, 3))
    lot, panel, _ = np.indices(film.shape)
    table = {"film": film.ravel(), "lot": lot.ravel(), "panel": panel.ravel()}
    nested = sf.nested_components(table, "film", unit="um", levels=["lot", "panel"])
    found = sf.mixed_components(table, "film", unit="um", random=["lot", ("lot", "panel")], intervals="wald")
    assert found.balanced
    for one, other in zip(found.components, nested.components, strict=True):
        assert one.unbiased_variance == pytest.approx(other.variance, rel=1e-9, abs=1e-12)
        if all(component.variance > 0 for component in nested.components):
            assert one.variance == pytest.approx(other.variance, rel=1e-7)


# -- properties ---------------------------------------------------------------------------------------------------------


@given(st.integers(0, 5000), st.floats(-1e3, 1e3), st.floats(0.01, 100.0))
@settings(max_examples=15)
def test_shift_scale_order_and_labels_change_nothing_else(seed: int, shift: float, scale: float) -> None:
    table = study(seed=seed)
    one = sf.mixed_components(table, "film", unit="", random=CROSSED, intervals="wald")
    mixed = np.random.default_rng(seed).permutation(len(table["film"]))
    other = {
        "film": shift + scale * table["film"][mixed],
        "part": [f"panel {part}" for part in table["part"][mixed]],
        "person": [{"A": "Z", "B": "Y", "C": "X"}[person] for person in table["person"][mixed]],
    }
    two = sf.mixed_components(other, "film", unit="", random=CROSSED, intervals="wald")
    for a, b in zip(one.components, two.components, strict=True):
        assert b.variance == pytest.approx(scale**2 * a.variance, rel=1e-5, abs=1e-7 * scale**2 * one.total_variance)
    assert two.fixed[0].estimate == pytest.approx(shift + scale * one.fixed[0].estimate, abs=1e-6 * scale)
    moved = one.log_likelihood - one.degrees_of_freedom * np.log(scale)
    assert two.log_likelihood == pytest.approx(moved, abs=1e-6)


def test_numbers_and_texts_as_labels_and_labels_given_apart_are_the_same() -> None:
    table = study()
    one = sf.mixed_components(table, "film", unit="mil", random=["part"])
    texts = [str(part) for part in table["part"]]
    two = sf.mixed_components({"film": table["film"], "part": texts}, "film", unit="mil", random=["part"])
    three = sf.mixed_components(table["film"], unit="mil", random=[table["part"]])
    assert one == two
    assert [a.variance for a in one.components] == [a.variance for a in three.components]
    assert three.components[0].source == "labels 1"


def test_predictions_add_up_to_nothing_and_lie_nearer_to_the_mean_than_the_averages() -> None:
    table = study(gaps=20)
    found = sf.mixed_components(table, "film", unit="mil", random=["part"])
    frame = found.effects_frame("pandas")
    assert frame["level"].tolist() == [str(part) for part in dict.fromkeys(table["part"].tolist())]
    assert abs(frame["effect"].sum()) < 1e-9  # of balanced or unbalanced layouts: 1' inverse(V) residual is 0
    averages = np.array([table["film"][table["part"] == int(part)].mean() for part in frame["level"]])
    off = averages - found.fixed[0].estimate
    assert (np.abs(frame["effect"]) < np.abs(off)).all()
    assert (np.sign(frame["effect"]) == np.sign(off)).all()
    assert (frame["standard_error"] > 0).all()


def test_profile_intervals_cover_the_truth_as_often_as_they_say() -> None:
    inside = {"part": 0, "residual": 0}
    runs = 300
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        part = rng.integers(0, 15, 60)
        part[:15] = np.arange(15)
        film = rng.normal(0, 0.2, 15)[part] + rng.normal(0, 0.1, 60)
        found = sf.mixed_components(film, unit="", random=[part])
        for one, truth in zip(found.components, (0.04, 0.01), strict=True):
            inside["residual" if one.source == "residual" else "part"] += one.variance_lower <= truth <= one.variance_upper
    # One standard error of 300 runs is 1.3 %.
    for name, count in inside.items():
        assert 0.91 <= count / runs <= 0.985, (name, count / runs)


# -- words, and what is refused -----------------------------------------------------------------------------------------


def test_the_sentence_says_where_it_sits_and_what_is_zero() -> None:
    crossed, shop, gap, equal, negative = example_results()
    assert crossed.sentence().startswith("83 readings: most of the variation sits from part to part (sd ")
    assert "from part to part, differently for each person (sd " in crossed.sentence()
    assert shop.sentence().endswith("beside the fixed effects of place and age.")
    assert "from number to number within a day (sd " in shop.sentence()
    assert "1 missing reading left out" in gap.sentence()
    assert gap.made.missing_rows == (4,)
    assert equal.sentence() == "6 readings, mean 2.1 mil: there is no variation to divide."
    text = negative.sentence()
    assert "none can be shown from lot to lot" in text
    assert "the analysis of variance gives -0.108 mil squared for lot, counted as 0" in text  # (0.02 - 0.45) / 4
    assert negative.explain().choices["components at 0"] == "lot: the likelihood is highest there"


def test_tables_of_fixed_effects_and_of_predictions() -> None:
    shop = example_results()[1]
    fixed = shop.fixed_frame("polars")
    assert fixed["term"].to_list() == ["mean", "place", "place", "place", "age"]
    assert fixed["level"].to_list()[0] == ""
    effects = shop.effects_frame("dict")
    assert set(effects["source"]) == {"day", "number in day", "painter"}
    first = effects["level"][effects["source"] == "number in day"][0]
    assert first == "0, 1"


def test_the_picture_has_one_bar_a_component_and_no_line_without_an_interval() -> None:
    drawn = example_results()[0].plot()
    assert len(drawn.artists["bars"]) == 4
    assert [bar.get_width() for bar in drawn.artists["bars"]] == pytest.approx(drawn.data["sd"])
    table = example_results()[4]
    without = sf.mixed_components(
        {"film": [2.0, 2.2, 2.9, 3.1, 2.5, 2.7, 2.4, 2.2], "lot": list("AAAABBBB"), "panel": [1, 1, 2, 2, 1, 1, 2, 2]},
        "film",
        unit="mil",
        random=["lot", ("lot", "panel")],
        intervals="wald",
    )
    assert np.isnan(without.plot().data["sd_upper"][0])
    assert not np.isnan(table.plot().data["sd_upper"]).any()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"random": []}, "one term or more"),
        ({"random": "part"}, "random must be a list of terms"),
        ({"random": ["part"], "covariates": "age"}, "covariates must be a list"),
        ({"random": ["part"], "method": "aml"}, "method must be 'reml' or 'ml'"),
        ({"random": ["part"], "intervals": "all"}, "intervals must be 'profile' or 'wald'"),
        ({"random": ["part"], "confidence_level": 1.0}, "confidence_level"),
        ({"random": ["part", "part"]}, "stands there twice"),
        ({"random": [("part", "part")]}, "different columns"),
        ({"random": ["prt"]}, "no such column"),
        ({"random": ["one"]}, "one has one level"),
        ({"random": ["row"]}, "row has a level for every reading"),
        ({"random": ["part", "copy"]}, "'part' and 'copy' divide the readings alike"),
        ({"random": ["part"], "fixed": ["copy"]}, "part is settled by the fixed effects"),
        ({"random": ["part"], "fixed": ["side", "again"]}, r"'again' \(level 'y'\) follows from the fixed effects before it"),
        ({"random": ["part"], "covariates": ["flat"]}, "flat is the same for all readings"),
        ({"random": ["part"], "covariates": ["hole"]}, "row 2: number is missing"),
        ({"random": ["lost"]}, "row 3: label is missing"),
    ],
)
def test_input_it_cannot_use_is_refused(options: dict[str, Any], message: str) -> None:
    table = {
        "film": [2.1, 2.2, 2.3, 2.5, 2.2, 2.1, 2.0, 2.4],
        "part": [1, 1, 2, 2, 3, 3, 4, 4],
        "copy": list("ddccbbaa"),
        "one": ["x"] * 8,
        "row": range(8),
        "side": list("lrlrlrlr"),
        "again": list("xyxyxyxy"),
        "flat": [1.0] * 8,
        "hole": [1.0, None, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
        "lost": ["a", "a", None, "b", "b", "b", "b", "b"],
    }
    with pytest.raises(sf.InvalidInputError, match=message):
        sf.mixed_components(table, "film", unit="mil", **options)


def test_an_interaction_with_single_readings_is_the_residual() -> None:
    table = study(trials=1, gaps=0)
    with pytest.raises(sf.InvalidInputError, match="part x person has a level for every reading: it cannot be told"):
        sf.mixed_components(table, "film", unit="mil", random=CROSSED)
    found = sf.mixed_components(table, "film", unit="mil", random=CROSSED[:2])
    assert found.balanced


def test_repeats_that_agree_to_the_last_digit_are_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="no residual variation beside the terms"):
        sf.mixed_components([2.1, 2.1, 2.3, 2.3, 2.0, 2.0], unit="mil", random=[list("AABBCC")])
