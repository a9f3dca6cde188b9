"""Gauge studies that lack something: computed with the treatment in the result, or refused with what is lacking."""

from __future__ import annotations

import importlib.util
import sys
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from test_gauge_rr import COLUMNS, PANELS, crossed_with_gauge, simulated

from helpers import REPOSITORY


def without(table: dict[str, Any], *rows: int) -> dict[str, Any]:
    return {name: np.delete(np.asarray(column), rows) for name, column in table.items()}


# -- few of something ---------------------------------------------------------------------------------------------------


def test_one_part_is_weighed_against_the_window_alone() -> None:
    study = sf.gauge_study(simulated((1, 4, 5), seed=2), "film", specification=sf.SpecLimits(2.0, 4.0), **COLUMNS)
    assert study.pv is None
    assert study.tv is None
    assert study.ndc is None
    assert study.estimate.source("grr").share_of_total is None
    assert study.windows[0].share == pytest.approx(6 * study.grr / 2.0)
    assert any(note.startswith("one part: the spread of parts") for note in study.notes)
    assert study.sentence().startswith("The window (2 to 4 mil) can be judged")


def test_one_appraiser_is_repeatability_alone() -> None:
    study = sf.gauge_study(simulated((6, 1, 3), seed=2), "film", unit="mil", part="part")
    assert study.grr == study.ev
    assert study.av is None
    assert study.pooled is None
    assert study.notes == ("one appraiser: what people differ by cannot be seen, so that GRR is repeatability alone",)
    named = sf.gauge_study(simulated((6, 1, 3), seed=2), "film", **COLUMNS)
    assert named.estimate.sources == study.estimate.sources


def test_one_trial_has_no_interaction_of_its_own() -> None:
    table = simulated((6, 3, 1), seed=2)
    study = sf.gauge_study(table, "film", **COLUMNS)
    assert [line.source for line in study.kept.lines] == ["part", "appraiser", "repeatability"]
    assert study.kept.lines[-1].degrees_of_freedom == 10
    assert study.kept.interaction == "none"
    assert study.pooled is None
    assert any("one reading a cell" in note for note in study.notes)
    with pytest.raises(sf.InvalidInputError, match="each cell has one reading: a range needs two trials or more"):
        sf.average_range_study(table, "film", **COLUMNS)


def test_one_part_by_one_appraiser_and_single_readings_are_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="one part read by one appraiser shows nothing but repeats"):
        sf.gauge_study(simulated((1, 1, 9)), "film", **COLUMNS)
    with pytest.raises(sf.InvalidInputError, match="each part was read once, so that repeatability cannot be told from parts"):
        sf.gauge_study(simulated((5, 1, 1)), "film", **COLUMNS)
    with pytest.raises(sf.InvalidInputError, match="the study has no readings"):
        sf.gauge_study({"film": [], "part": [], "appraiser": []}, "film", **COLUMNS)


def test_constant_readings_say_that_the_display_shows_nothing() -> None:
    table = {**simulated((3, 2, 2)), "film": [2.1] * 12}
    with pytest.warns(sf.ConstantDataWarning):
        study = sf.gauge_study(table, "film", specification=sf.SpecLimits(2.0, 2.2), **COLUMNS)
    assert study.grr == 0.0
    assert study.ndc is None
    assert study.windows[0].share is None
    assert not study.windows[0].judgeable
    assert study.notes == ("all readings are equal: every component is 0, and no window can be weighed",)
    assert study.sentence() == (
        "All 12 readings are 2.1 mil: nothing can be said about a window, since the display shows no difference at all."
    )


def test_a_display_that_never_differs_on_repeats_is_said_to_be_coarse() -> None:
    film = np.repeat([2.0, 2.1, 2.1, 2.2, 2.4, 2.4], 3)
    table = {"film": film, "part": np.repeat([1, 2, 3], 6), "appraiser": np.tile(np.repeat([1, 2], 3), 3)}
    study = sf.gauge_study(table, "film", specification=sf.SpecLimits(2.0, 2.2), **COLUMNS)
    assert study.ev == 0.0
    assert study.grr > 0.0
    assert study.notes[0].startswith("repeat readings never differ: the display is coarser")
    alone = {name: np.asarray(column)[::2] for name, column in {**table, "film": np.repeat([2.0, 2.1, 2.4], 6)}.items()}
    never = sf.gauge_study(alone, "film", unit="mil", part="part", specification=sf.SpecLimits(2.0, 2.2))
    assert never.windows[0].share is None
    assert "cannot be weighed: GRR is 0, since the display is too coarse" in never.sentence()


def test_fixed_appraisers_are_not_multiplied() -> None:
    study = sf.gauge_study(PANELS, "film", appraiser_effect="fixed", specification=sf.SpecLimits(3.1, 3.3), **COLUMNS)
    assert study.windows[0].appraisers_needed is None
    assert "it takes 12 readings per verdict once all read alike" in study.sentence()


def test_negative_components_are_shown_as_estimated_and_count_as_nothing() -> None:
    # By hand: cell means 1 2 | 2 1, so that parts and appraisers do not differ at all and only the interaction does.
    table = {"film": [0, 2, 1, 3, 1, 3, 0, 2], "part": list("aaaabbbb"), "appraiser": [1, 1, 2, 2, 1, 1, 2, 2]}
    study = sf.gauge_study(table, "film", **COLUMNS)
    assert study.kept.source("repeatability").variance == pytest.approx(2.0)
    # Mean squares: part 0, appraiser 0, interaction 2 x 4 x 0.25 = 2: (0 - 2) / 4 for both.
    assert study.kept.source("part").variance == pytest.approx(-0.5)
    assert study.kept.source("appraiser").variance == pytest.approx(-0.5)
    assert study.kept.pv == 0.0
    assert study.kept.av == 0.0
    assert study.kept.grr == pytest.approx(np.sqrt(2.0))
    assert (study.kept.ndc, study.kept.ndc_ratio) == (1, 0.0)
    assert any("was estimated as -" in note and "it counts as 0" in note for note in study.notes)


# -- something missing, or twice ----------------------------------------------------------------------------------------


def test_a_missing_cell_is_named_and_its_part_can_be_left_out() -> None:
    table = without(simulated((5, 3, 2), seed=4), 8, 9, 12)
    with pytest.raises(sf.InvalidInputError) as caught:
        sf.gauge_study(table, "film", **{**COLUMNS}, unbalanced="error")
    text = str(caught.value)
    assert "the study lacks equal numbers of readings" in text
    assert "part '1', appraiser '1': 0 readings, most have 2" in text
    assert "part '2', appraiser '0': 1 reading, most have 2" in text
    assert "unbalanced='drop_parts' to leave out 2 parts (3 remain)" in text
    with pytest.warns(sf.MissingDataWarning, match="2 incomplete parts left out"):
        study = sf.gauge_study(table, "film", unbalanced="drop_parts", **COLUMNS)
    assert study.dropped == ("1", "2")
    assert study.parts == ("0", "3", "4")
    whole = simulated((5, 3, 2), seed=4)
    keep = ~np.isin(whole["part"], [1, 2])
    alone = sf.gauge_study({name: column[keep] for name, column in whole.items()}, "film", **COLUMNS)
    assert alone.estimate.sources == study.estimate.sources
    assert "incomplete parts left out: 1, 2" in study.notes


def test_a_missing_reading_is_refused_or_makes_its_part_incomplete() -> None:
    table = simulated((5, 3, 2), seed=4)
    table["film"] = table["film"].tolist()
    table["film"][7] = None
    with pytest.raises(sf.DataProblemsError, match="row 8: reading is missing"):
        sf.gauge_study(table, "film", **COLUMNS)
    with pytest.warns(sf.MissingDataWarning):
        study = sf.gauge_study(table, "film", missing="drop", unbalanced="drop_parts", **COLUMNS)
    assert study.dropped == ("1",)
    assert study.made.missing_rows == (8,)


def test_rows_entered_twice_are_named() -> None:
    table = {name: np.concatenate([column, column[[3]]]) for name, column in simulated((4, 2, 2)).items()}
    with pytest.raises(sf.DataProblemsError) as caught:
        sf.gauge_study(table, "film", trial="trial", **COLUMNS)
    assert "column 'trial', row 17" in str(caught.value)
    assert "part '0' by '1', trial '1' stands in row 4 already" in str(caught.value)
    # Without trials it is an extra reading: unequal numbers.
    with pytest.raises(sf.InvalidInputError, match="part '0', appraiser '1': 3 readings, most have 2"):
        sf.gauge_study(table, "film", unbalanced="error", **COLUMNS)


def test_grades_in_words_are_pointed_to_agreement() -> None:
    table = {**simulated((2, 2, 2)), "film": ["good", "bad"] * 4}
    with pytest.raises(sf.DataProblemsError, match="is not a number") as caught:
        sf.gauge_study(table, "film", **COLUMNS)
    assert "compared as agreement between judges" in str(caught.value)


def test_missing_labels_and_unknown_words_are_refused() -> None:
    table = simulated((3, 2, 2))
    labels = table["appraiser"].astype(object)
    labels[4] = None
    with pytest.raises(sf.DataProblemsError, match="column 'appraiser', row 5: label is missing"):
        sf.gauge_study({**table, "appraiser": labels}, "film", **COLUMNS)
    for name in ("appraiser_effect", "unbalanced", "interval_method", "f_denominator"):
        with pytest.raises(sf.InvalidInputError, match=name):
            sf.gauge_study(table, "film", **COLUMNS, **{name: "other"})
    with pytest.raises(sf.InvalidInputError, match="has neither a lower nor an upper limit"):
        sf.gauge_study(table, "film", specification={"x": sf.SpecLimits()}, **COLUMNS)
    with pytest.raises(sf.InvalidInputError, match="pooling_level"):
        sf.gauge_study(table, "film", pooling_level=1.5, **COLUMNS)


# -- nested, and further factors ----------------------------------------------------------------------------------------


def pulls(seed: int = 3) -> dict[str, Any]:
    """Pull-off tests: three operators, four panels each, three specimens a panel, gone once tested."""
    rng = np.random.default_rng(seed)
    strength = 5 + rng.normal(0, 0.2, (3, 1, 1)) + rng.normal(0, 0.5, (3, 4, 1)) + rng.normal(0, 0.3, (3, 4, 3))
    grid = np.indices((3, 4, 3)).reshape(3, -1)
    return {"film": strength.ravel(), "appraiser": grid[0], "part": grid[1], "trial": grid[2]}


def test_destructive_tests_are_nested() -> None:
    table = pulls()
    study = sf.gauge_study(table, "film", nested=True, specification=sf.SpecLimits(lower=3.0), **COLUMNS)
    nested = sf.nested_components(table, "film", unit="mil", levels=["appraiser", "part"])
    assert study.design == "nested"
    for name, one in zip(("appraiser", "part", "repeatability"), nested.components, strict=True):
        assert study.estimate.source(name).variance == pytest.approx(one.variance, rel=1e-9)
        assert study.estimate.source(name).sd_upper == pytest.approx(one.sd_upper, rel=1e-7)
    assert len(study.parts) == 12
    assert "what specimens of one part differ by counts as repeatability" in " ".join(study.notes)
    numbered = {**table, "part": [f"{a}-{p}" for a, p in zip(table["appraiser"], table["part"], strict=True)]}
    again = sf.gauge_study(numbered, "film", nested=True, specification=sf.SpecLimits(lower=3.0), **COLUMNS)
    assert again.estimate.sources == study.estimate.sources
    with pytest.raises(sf.InvalidInputError, match="every part was read by one appraiser only"):
        sf.gauge_study(numbered, "film", **COLUMNS)


def test_panels_of_a_substrate_are_nested_in_it_and_substrate_is_no_measurement() -> None:
    table = simulated((8, 3, 2), seed=9)
    table["substrate"] = np.where(table["part"] < 4, "steel", "aluminum")
    table["film"] = table["film"] + 0.5 * (table["part"] < 4)
    study = sf.gauge_study(table, "film", factors=["substrate"], nested="substrate", **COLUMNS)
    ms = {line.source: line.mean_square for line in study.kept.lines}
    assert set(ms) == {"substrate", "part", "appraiser", "substrate x appraiser", "part x appraiser", "repeatability"}
    # Parts in substrate, crossed with appraisers: part over part x appraiser, 2 readings a cell, 3 appraisers.
    within = (ms["part"] - ms["part x appraiser"]) / 6
    assert study.kept.source("part within groups").variance == pytest.approx(within, rel=1e-9)
    substrate = (ms["substrate"] - ms["part"] - ms["substrate x appraiser"] + ms["part x appraiser"]) / 24
    assert study.kept.source("substrate").variance == pytest.approx(substrate, rel=1e-9)
    assert study.kept.pv == pytest.approx(np.sqrt(max(0, within) + max(0, substrate)))
    assert study.kept.source("substrate x appraiser").role == "measurement"
    assert "substrate counts as a difference between parts, not as measurement" in study.notes


def test_a_second_gauge_is_part_of_the_measurement() -> None:
    plain = sf.gauge_study(crossed_with_gauge(gauge_sd=0.3), "film", factors=["gauge"], **COLUMNS)
    assert plain.estimate.source("gauge").role == "measurement"
    assert plain.grr > 0.15
    assert plain.pooled is not None
    assert all(" x " in term for term in plain.pooled.pooled_terms)
    with pytest.raises(sf.InvalidInputError, match="nested must be True, False or one of the factors"):
        sf.gauge_study(crossed_with_gauge(), "film", factors=["gauge"], nested="oven", **COLUMNS)
    with pytest.raises(sf.InvalidInputError, match="nested=True needs an appraiser"):
        sf.gauge_study(crossed_with_gauge(), "film", unit="mil", part="part", nested=True)


def test_fixed_appraisers_have_the_same_estimates_and_narrower_ends() -> None:
    sample = sf.gauge_study(PANELS, "film", **COLUMNS)
    these = sf.gauge_study(PANELS, "film", appraiser_effect="fixed", **COLUMNS)
    # AV^2 is the sum of squared effects over a - 1, less the chance in the means: MS(part x appraiser) / 30.
    effects = [one.effect for one in these.appraiser_effects]
    chance = these.kept.lines[2].mean_square / 30
    assert these.av == pytest.approx(np.sqrt(np.square(effects).sum() / 2 - chance), rel=1e-9)
    assert these.av == sample.av
    assert (these.estimate.source("grr").sd_upper or 0) < (sample.estimate.source("grr").sd_upper or 0)
    assert any("appraisers are fixed" in note for note in these.notes)
    assert any(
        note.startswith("appraisers differ by more than chance explains (p 0.0016); appraiser 3 reads 0.0233 mil high")
        for note in sample.notes
    )


# -- coverage -----------------------------------------------------------------------------------------------------------


def load() -> ModuleType:
    """The bench script as a module."""
    spec = importlib.util.spec_from_file_location("gauge_coverage", REPOSITORY / "tests" / "bench" / "gauge_coverage.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["gauge_coverage"] = module
    spec.loader.exec_module(module)
    return module


bench = load()
TABLE: list[Any] = bench.read()
DEFAULT = [row for row in TABLE if row.method == "modified_large_sample" and row.estimate == "chosen"]


def test_the_default_interval_of_grr_covers_as_promised_in_every_shape() -> None:
    found = [row for row in DEFAULT if row.quantity == "grr"]
    assert [row.shape for row in found] == [shape.name for shape in bench.SHAPES]
    assert all(row.studies == 2000 for row in found)
    assert min(row.coverage for row in found) >= 0.93


@pytest.mark.parametrize("shape", [bench.SHAPES[1], bench.SHAPES[10]], ids=lambda shape: shape.name)
def test_a_slice_of_the_studies_comes_out_as_the_table_says(shape: Any) -> None:
    studies = 150
    again = bench.study_shape(shape, "modified_large_sample", range(5000, 5000 + studies))
    for row in again:
        whole = next(
            one
            for one in TABLE
            if (one.shape, one.method, one.estimate, one.quantity) == (row.shape, row.method, row.estimate, row.quantity)
        )
        if row.quantity == "grr" and row.estimate == "chosen":
            # New seeds: at most a chance of 1 in 10,000 to fall outside when the table is right.
            low, high = stats.binom.ppf([5e-5, 1 - 5e-5], studies, whole.coverage)
            assert low <= row.inside <= high
        if row.quantity == "repeatability" and row.estimate == "kept":
            low, high = stats.binom.ppf([5e-5, 1 - 5e-5], studies, 0.95)  # exact by chi-square
            assert low <= row.inside <= high
