"""Gauge studies that lost readings: an outside fit, the balanced study as the limit, what the result says, refusals."""

from __future__ import annotations

import csv
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm import _core
from test_gauge_rr import COLUMNS, crossed_with_gauge, simulated
from test_gauge_rr_input import pulls, without

from helpers import REPOSITORY

ROWS = REPOSITORY / "tests" / "reference" / "rows"
LOST = without(simulated((8, 3, 3), seed=11), 4, 17, 18, 19, 20, 40)


def test_components_are_those_of_an_outside_fit() -> None:
    """A published sheet without seven readings; by lme4, see the rows of variance_components.csv."""
    with (ROWS / "data" / "reml-aiag-unbalanced.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    table = {"film": [float(row["values"]) for row in rows], "part": [row["factor_1"] for row in rows]}
    table["appraiser"] = [row["factor_2"] for row in rows]
    study = sf.gauge_study(table, "film", **COLUMNS)
    assert study.method == "reml"
    with (ROWS / "variance_components.csv").open(encoding="utf-8", newline="") as file:
        wanted = {
            row["quantity"]: float(row["expected"]) for row in csv.DictReader(file) if row["case"] == "reml-aiag-unbalanced"
        }
    sources = {"variance[1]": "part", "variance[2]": "appraiser", "variance_residual": "repeatability"}
    for quantity, source in sources.items():
        assert study.kept.source(source).sd ** 2 == pytest.approx(wanted[quantity], rel=1e-7)
    interaction = study.kept.source("part x appraiser")
    assert interaction.sd == pytest.approx(0.0, abs=1e-6)
    assert interaction.variance <= 0.0
    assert study.mean == pytest.approx(wanted["fixed[1]"], rel=1e-5)
    assert study.interaction_p == 1.0  # the likelihood is highest without it
    assert study.chosen == "pooled"
    # Without a component at 0 nothing is left of it: pooled and kept agree.
    assert study.pooled is not None
    assert study.pooled.grr == pytest.approx(study.kept.grr, rel=1e-6)


@pytest.mark.parametrize("effect", ["random", "fixed"])
def test_balanced_readings_give_the_analysis_of_variance_with_all_its_intervals(effect: str) -> None:
    table = simulated((10, 3, 3), seed=11)
    study = sf.gauge_study(table, "film", appraiser_effect=effect, **COLUMNS)
    assert all(one.variance > 0 for one in study.kept.sources)
    codes = [
        ("part", study.part.astype(np.int32), 10, "part", False, -1),
        ("appraiser", study.appraiser.astype(np.int32), 3, "measurement", effect == "fixed", -1),
    ]
    found = _core.unbalanced_gauge_study(study.values, codes, 0.25, 0.95, "modified_large_sample")
    for one, other in zip(study.kept.sources, found["kept"]["sources"], strict=True):
        for name in ("variance", "sd", "sd_lower", "sd_upper", "share_of_total", "share_of_total_lower", "share_of_total_upper"):
            assert other[name] == pytest.approx(getattr(one, name), rel=1e-6, abs=1e-9), (one.source, name)
    for mine, effect in zip(study.appraiser_effects, found["effects"][1], strict=True):
        assert effect["effect"] == pytest.approx(mine.effect, abs=1e-9)
        assert effect["upper"] == pytest.approx(mine.upper, rel=1e-6)
    # Ratio of likelihoods, half of it at the edge (Self and Liang 1987), against F: near, not equal.
    assert found["interaction_p"] == pytest.approx(study.interaction_p, abs=0.03)


def test_the_result_says_what_is_missing_and_what_was_done() -> None:
    study = sf.gauge_study(LOST, "film", specification=sf.SpecLimits(2.9, 3.4), **COLUMNS)
    assert study.lacks[0] == "part '0', appraiser '1': 2 readings, most have 3"
    assert "part '2', appraiser '0': 0 readings, most have 3" in study.lacks
    assert study.notes[0].startswith("numbers of readings are unequal (part '0', appraiser '1': 2 readings, most have 3;")
    assert study.notes[0].endswith("components by restricted maximum likelihood, intervals approximate")
    assert study.estimate.lines == ()
    assert study.sentence().startswith("The window (2.9 to 3.4 mil)")
    with pytest.raises(sf.InvalidInputError, match="it is not balanced"):
        sf.gauge_bootstrap(study)


def test_fixed_appraisers_of_a_study_that_lost_readings_are_those_of_an_outside_fit() -> None:
    """By statsmodels with fixed appraisers: AV^2 = (sum of squared effects - trace of their covariance) / (a - 1)."""
    smf = pytest.importorskip("statsmodels.formula.api")
    pd = pytest.importorskip("pandas")
    study = sf.gauge_study(LOST, "film", appraiser_effect="fixed", **COLUMNS)
    assert study.method == "reml"
    frame = pd.DataFrame({**LOST, "all": 1, "both": [f"{p} {a}" for p, a in zip(LOST["part"], LOST["appraiser"], strict=True)]})
    frame["film"] *= 100.0  # it calls components below 0.01 the edge of its space
    terms = {"part": "0 + C(part)", "both": "0 + C(both)"}
    fitted = smf.mixedlm("film ~ C(appraiser)", frame, groups="all", vc_formula=terms).fit(reml=True, gtol=1e-12)
    places = [name for name in fitted.fe_params.index if name.startswith("C(appraiser)")]
    effects = np.array([0.0, *fitted.fe_params[places]]) / 100.0
    spread = np.zeros((3, 3))
    spread[1:, 1:] = fitted.cov_params().loc[places, places].to_numpy() / 1e4
    center = np.eye(3) - 1.0 / 3.0
    wanted = (effects @ center @ effects - np.trace(center @ spread)) / 2.0
    assert study.kept.source("appraiser").variance == pytest.approx(wanted, rel=2e-3)
    found = dict(zip(fitted.model.exog_vc.names, fitted.vcomp / 1e4, strict=True))
    assert study.kept.source("part").variance == pytest.approx(found["part"], rel=2e-3)
    assert study.kept.source("part x appraiser").variance == pytest.approx(found["both"], rel=5e-3)
    assert study.ev if study.chosen == "pooled" else study.ev**2 == pytest.approx(fitted.scale / 1e4, rel=2e-3)
    mean = (fitted.fe_params["Intercept"] / 100.0) + effects.mean()
    assert study.mean == pytest.approx(mean, rel=1e-5)
    assert "appraisers are fixed: the result holds for these people and says nothing about others" in study.notes
    assert study.kept.source("appraiser").sd_lower is not None


def test_fixed_appraisers_of_one_part_are_compared_by_their_means_alone() -> None:
    """Closed form: sum of squared effects less s^2 sum(1/n) (1 - 1/a), over a - 1."""
    table = {"film": [1.0, 2.0, 3.0, 4.0, 6.0, 5.5, 4.5], "part": ["A"] * 7, "appraiser": list("xxyyyzz")}
    study = sf.gauge_study(table, "film", appraiser_effect="fixed", **COLUMNS)
    means, counts = np.array([1.5, 13.0 / 3.0, 5.0]), np.array([2.0, 3.0, 2.0])
    within = (0.5 + 42.0 / 9.0 + 0.5) / 4.0
    wanted = (np.sum((means - means.mean()) ** 2) - within * np.sum(1.0 / counts) * (1.0 - 1.0 / 3.0)) / 2.0
    assert study.ev**2 == pytest.approx(within, rel=1e-12)
    assert study.kept.source("appraiser").variance == pytest.approx(wanted, rel=1e-12)
    assert study.mean == pytest.approx(means.mean(), rel=1e-12)


def test_losing_a_few_readings_changes_little() -> None:
    whole = sf.gauge_study(simulated((8, 3, 3), seed=11), "film", **COLUMNS)
    lost = sf.gauge_study(LOST, "film", **COLUMNS)
    assert lost.ev == pytest.approx(whole.ev, rel=0.15)
    assert lost.pv == pytest.approx(whole.pv, rel=0.15)
    shift = [a.effect - b.effect for a, b in zip(lost.appraiser_effects, whole.appraiser_effects, strict=True)]
    assert max(map(abs, shift)) < 0.02


def test_effects_do_not_follow_from_which_parts_were_lost() -> None:
    """An appraiser who missed the thickest part is not for that reason low: nothing but parts differs here."""
    table = simulated((6, 3, 2), sds=(0.5, 0.0, 0.0, 0.001), seed=2)
    thickest = int(np.argmax(np.reshape(table["film"], (6, 6)).mean(axis=1)))
    rows = np.flatnonzero((table["part"] == thickest) & (table["appraiser"] == 1))
    study = sf.gauge_study(without(table, *rows.tolist()), "film", **COLUMNS)
    assert max(abs(one.effect) for one in study.appraiser_effects) < 0.003


def test_nested_studies_and_further_factors_may_lose_readings_too() -> None:
    nested = sf.gauge_study(without(pulls(), 5, 20, 21, 22, 23), "film", nested=True, **COLUMNS)
    assert nested.method == "reml"
    assert {one.source for one in nested.estimate.sources} >= {"repeatability", "appraiser", "grr", "part", "total"}
    gauges = sf.gauge_study(without(crossed_with_gauge(), 3, 50), "film", factors=["gauge"], **COLUMNS)
    assert gauges.method == "reml"
    assert gauges.estimate.source("gauge").role == "measurement"
    balanced = sf.gauge_study(crossed_with_gauge(), "film", factors=["gauge"], **COLUMNS)
    assert gauges.grr == pytest.approx(balanced.grr, rel=0.25)


def test_what_no_likelihood_can_make_up_for_is_refused() -> None:
    table: dict[str, Any] = simulated((4, 2, 1), seed=1)
    # One reading a cell but for one, which is missing: parts and appraisers, repeatability from what is left.
    study = sf.gauge_study(without(table, 7), "film", **COLUMNS)
    assert study.kept.interaction == "none"
    # Two parts, each read by one appraiser but for a single reading.
    split = {"film": [1.0, 1.1, 1.2, 2.0, 2.1], "part": list("aaabb"), "appraiser": list("xxyyy")}
    with pytest.raises(sf.InvalidInputError, match="the study lacks equal numbers of readings") as caught:
        sf.gauge_study(split, "film", **COLUMNS)
    assert "Restricted maximum likelihood cannot make up for it" in str(caught.value)
