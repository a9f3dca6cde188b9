"""Capability: the rows, simulated coverage, SciPy, what an unstable or constant process gets, and the words."""

from __future__ import annotations

import math
import pickle
import statistics
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf
from steadyfilm._result import Result
from steadyfilm.capability import Capability, IndexInterval

from reference import Args, adapter

FILMS = [2.11, 2.07, 2.14, 2.09, 2.12, 2.05, 2.16, 2.10]


def _window(args: Args, *names: str) -> dict[str, float | None]:
    return {name: args.optional(name) for name in names or ("lower", "upper")}


def _level(args: Args) -> dict[str, Any]:
    return {"confidence_level": args.number("confidence_level"), "sides": args.count("sides")}


def _ends(found: IndexInterval) -> dict[str, float]:
    return {
        "lower": found.lower,
        "upper": math.nan if found.upper is None else found.upper,
        "degrees_of_freedom": found.degrees_of_freedom,
    }


@adapter("capability_from_moments")
def _from_moments(args: Args) -> dict[str, Any]:
    window = _window(args, "lower", "upper", "target")
    return vars(sf.capability_indices(args.number("mean"), args.number("sigma_total"), **window))


@adapter("capability_indices")
def _indices(args: Args) -> dict[str, Any]:
    size, estimator = args.count("subgroup_size"), args.word("estimator")
    words = {} if estimator == "overall" else {"sigma_within": estimator}
    subgroups = {"subgroup_size": size} if size > 1 else {}
    found = sf.capability(args.list("values"), unit="", **subgroups, **words, **_window(args))
    letter = "p" if estimator == "overall" else "c"
    return {f"c{ending}": getattr(found, f"{letter}{ending}") for ending in ("p", "pk", "pu", "pl")}


@adapter("cp_index")
def _cp_index(args: Args) -> dict[str, Any]:
    return {"cp": sf.capability_indices(args.number("lower"), args.number("sigma_total"), **_window(args)).cp}


@adapter("cp_interval")
def _cp_interval(args: Args) -> dict[str, float]:
    return _ends(sf.cp_interval(args.number("estimate"), sample_size=args.count("sample_size"), **_level(args)))


@adapter("cpk_interval")
def _cpk_interval(args: Args) -> dict[str, float]:
    size, method = args.count("sample_size"), args.word("method")
    return _ends(sf.cpk_interval(args.number("estimate"), sample_size=size, method=method, **_level(args)))


@adapter("cpk_sampling_distribution")
def _cpk_law(args: Args) -> dict[str, Any]:
    options = {"off_center_sigma": args.number("off_center_sigma"), "alpha": args.number("alpha")}
    return vars(sf.cpk_sampling_distribution(args.number("cpk"), sample_size=args.count("sample_size"), **options))


@adapter("cpm_index")
def _cpm_index(args: Args) -> dict[str, float]:
    window = {name: args.number(name) for name in ("lower", "upper", "target")}
    return {"cpm": sf.cpm_index(args.list("values"), definition=args.word("definition"), **window)}


@adapter("cpm_interval")
def _cpm_interval(args: Args) -> dict[str, float]:
    options = {"sample_size": args.count("sample_size"), "off_target_sigma": args.number("off_target_sigma")}
    return _ends(sf.cpm_interval(args.number("estimate"), method=args.word("method"), **options, **_level(args)))


@adapter("fraction_outside")
def _fraction_outside(args: Args) -> dict[str, float]:
    found = sf.fraction_outside(args.number("mean"), args.number("sigma_total"), **_window(args))
    return {"fraction_outside": found.total, "percent_outside": 100 * found.total}


@adapter("normal_ppm")
def _normal_ppm(args: Args) -> dict[str, float]:
    found = sf.capability(args.list("values"), unit="", **_window(args)).expected_total
    return {"ppm_below": 1e6 * found.below, "ppm_above": 1e6 * found.above}


@adapter("one_sided_index_critical_value")
def _critical_value(args: Args) -> dict[str, float]:
    options = {"sample_size": args.count("sample_size"), "alpha": args.number("alpha")}
    return {"critical_value": sf.one_sided_index_critical_value(args.number("index"), **options)}


@adapter("one_sided_index_interval")
def _one_sided_interval(args: Args) -> dict[str, float]:
    size = args.count("sample_size")
    return _ends(sf.one_sided_index_interval(args.number("estimate"), sample_size=size, **_level(args)))


@adapter("one_sided_index_moments")
def _one_sided_moments(args: Args) -> dict[str, Any]:
    return vars(sf.one_sided_index_moments(args.number("index"), sample_size=args.count("sample_size")))


@adapter("shifted_capability")
def _shifted(args: Args) -> dict[str, Any]:
    return vars(sf.shifted_capability(args.number("cp"), args.number("shift_sigma")))


def example_results() -> list[Capability]:
    return [
        sf.capability(FILMS, unit="mil", lower=2.0, upper=2.2, target=2.1, stable=True),
        sf.capability(FILMS, unit="mil", lower=2.1),
        sf.capability(FILMS, unit="mil", upper=2.12, stable=False),
        sf.capability(FILMS, unit="mil", lower=2.0, upper=2.2, subgroup_size=2, sigma_within="pooled_sd"),
    ]


# -- oracles ------------------------------------------------------------------------------------


@given(st.floats(0.2, 4.0), st.integers(4, 500), st.sampled_from([0.8, 0.95, 0.99]))
def test_one_sided_intervals_agree_with_the_noncentral_t_of_scipy(estimate: float, size: int, level: float) -> None:
    found = sf.one_sided_index_interval(estimate, sample_size=size, confidence_level=level)
    scale, tail = 3 * math.sqrt(size), (1 - level) / 2
    assert stats.nct.sf(scale * estimate, size - 1, scale * found.lower) == pytest.approx(tail, rel=1e-8)
    assert found.upper is not None
    assert stats.nct.cdf(scale * estimate, size - 1, scale * found.upper) == pytest.approx(tail, rel=1e-8)


@pytest.mark.parametrize(
    ("cpk", "off_center", "size"), [(1.0, 0.0, 5), (0.2, 0.3, 4), (-0.1, 1.0, 8), (0.0, 0.5, 10), (1.33, 0.2, 30)]
)
def test_the_law_of_the_estimated_cpk_simulated(cpk: float, off_center: float, size: int) -> None:
    """400,000 samples; both figures within four standard errors."""
    rng, count = np.random.default_rng(5), 400_000
    mean = off_center + rng.standard_normal(count) / math.sqrt(size)
    sd = np.sqrt(rng.chisquare(size - 1, count) / (size - 1))
    estimate = (3 * cpk + off_center - np.abs(mean)) / (3 * sd)
    found = sf.cpk_sampling_distribution(cpk, off_center_sigma=off_center, sample_size=size, alpha=0.1)
    four_errors = 4 * math.sqrt(0.25 / count)
    assert float((estimate > found.critical_value).mean()) == pytest.approx(0.1, abs=four_errors)
    assert float((estimate <= cpk).mean()) == pytest.approx(found.probability_below_cpk, abs=four_errors)


def test_moments_of_a_one_sided_index_simulated() -> None:
    rng, count, size = np.random.default_rng(6), 400_000, 12
    mean = rng.standard_normal(count) / math.sqrt(size)
    estimate = (3 * 1.2 - mean) / (3 * np.sqrt(rng.chisquare(size - 1, count) / (size - 1)))
    found = sf.one_sided_index_moments(1.2, sample_size=size)
    assert float(estimate.mean()) * found.bias_factor == pytest.approx(1.2, abs=4 * math.sqrt(found.variance / count))
    assert float(estimate.var()) == pytest.approx(found.variance, rel=0.02)


def test_intervals_from_moving_ranges_cover_as_often_as_they_say() -> None:
    """2,000 stable series of 30: with n - 1 instead of the degrees of freedom of the moving range, Cp would miss the floor."""
    rng, hits, naive, total = np.random.default_rng(7), 0, 0, 2000
    for series in rng.normal(0.0, 1.0, (total, 30)):
        found = sf.capability(series, unit="", lower=-4.0, upper=4.0).index("cp")
        assert found.lower is not None
        assert found.upper is not None
        assert found.value is not None
        hits += found.lower <= 4 / 3 <= found.upper
        wrong = sf.cp_interval(found.value, sample_size=30)
        naive += wrong.lower <= 4 / 3 <= (wrong.upper or 0)
    error = 4 * math.sqrt(0.95 * 0.05 / total)
    assert hits / total == pytest.approx(0.95, abs=error)
    assert naive / total < 0.95 - error


def test_a_published_example_of_percent_outside() -> None:
    found = sf.capability(unit="um", mean=80.0, sigma_total=10.0, lower=65.0, upper=95.0)
    assert round(100 * found.expected_total.total, 1) == 13.4
    assert found.pp == 0.5


# -- what it answers ----------------------------------------------------------------------------


def test_an_unstable_process_gets_no_forecast() -> None:
    found = sf.capability(FILMS, unit="mil", lower=2.0, upper=2.2, stable=False)
    assert found.cp is None
    assert found.cpk is None
    assert found.expected_within is None
    assert found.index("cpk").reason == "refused: the process is not stable, so what it will do cannot be forecast"
    assert found.ppk == pytest.approx((2.2 - statistics.fmean(FILMS)) / (3 * statistics.stdev(FILMS)), rel=1e-12)
    assert found.sentence().endswith("for this period, not a forecast; no forecast (Cp, Cpk), since the process is not stable.")


def test_the_verdict_says_what_was_not_checked() -> None:
    words = sf.capability(FILMS, unit="mil", lower=2.0, upper=2.2).sentence()
    assert words.startswith("8 readings average 2.105 mil, none outside 2.0 to 2.2 mil")
    assert "if the process is stable, which was not checked" in words
    stable = sf.capability(FILMS, unit="mil", lower=2.0, upper=2.2, stable=True).sentence()
    assert "as a forecast as long as the process stays stable" in stable
    assert "demonstrated" in stable


def test_words_for_one_limit_and_for_tiny_shares() -> None:
    assert "1 of 8 above 2.15 mil" in sf.capability(FILMS, unit="mil", upper=2.15).sentence()
    assert "none below 1.8 mil (" in (words := sf.capability(FILMS, unit="mil", lower=1.8).sentence())
    assert "ppm expected)" in words


def test_is_an_index_demonstrated() -> None:
    found = sf.capability(FILMS, unit="mil", lower=1.0, upper=3.2, target=2.1, stable=True)
    assert found.demonstrates("ppk", 1.33) == "demonstrated"
    assert found.demonstrates("ppk", 50.0) == "missed"
    assert found.ppk is not None
    assert found.demonstrates("ppk", found.ppk) == "not demonstrated"
    assert sf.capability(FILMS, unit="mil", lower=2.0, stable=False).demonstrates("cpk", 0.1) == "not demonstrated"
    with pytest.raises(sf.InvalidInputError, match="no index 'cpx'"):
        found.demonstrates("cpx", 1.0)


def test_constant_readings_are_an_answer_with_a_warning() -> None:
    with pytest.warns(sf.ConstantDataWarning, match="all 5 readings of column 'film' are equal"):
        found = sf.capability({"film": [2.1] * 5}, "film", unit="mil", lower=2.0, upper=2.2)
    assert found.ppk is None
    assert found.index("ppk").reason == "no finite value: sigma is 0"
    assert found.sentence() == (
        "5 readings are all 2.1 mil, none outside 2.0 to 2.2 mil; Cp, Cpk, Pp and Ppk have no value, since there is no spread."
    )
    assert Result.from_json(found.to_json()) == found
    assert str(found.explain()).startswith("5 readings are all 2.1 mil")
    frame = found.to_frame("dict")
    assert frame["value"].tolist() == [None] * 9


def test_constant_readings_in_a_one_sided_window_explain_themselves() -> None:
    with pytest.warns(sf.ConstantDataWarning):
        found = sf.capability([2.1] * 5, unit="mil", upper=2.2)
    assert [step.name for step in found.explain().steps] == ["distance_to_limit", "sigma_total"]


def test_readings_on_a_limit_meet_it() -> None:
    found = sf.capability([0.88, 0.88, 0.88, 0.95], unit="mil", lower=0.8 * 1.1)
    assert found.below == 0


def test_moments_alone() -> None:
    found = sf.capability(unit="um", mean=16.0, sigma_total=2.0, count=30, lower=8.0, upper=20.0, sigma_within=1.5)
    assert found.cpk == pytest.approx(4 / 4.5)
    assert found.index("cpk").reason == "no interval: the degrees of freedom of the given sigma are not known"
    assert found.index("ppk").lower is not None
    assert found.sentence().startswith("A mean of 16 um and a total sigma of 2 um put 2.3 % outside 8 to 20 um")
    assert Result.from_json(found.to_json()) == found
    assert pickle.loads(pickle.dumps(found)) == found
    with pytest.raises(TypeError, match="no readings to draw"):
        found.plot()
    known = sf.capability(
        unit="um", mean=16.0, sigma_total=2.0, count=30, lower=8.0, sigma_within=1.5, degrees_of_freedom_within=20
    )
    assert known.index("cpk").degrees_of_freedom == 20


def test_gaps_periods_and_excluded_rows_break_the_within_sigma() -> None:
    values = [2.0, 2.1, 5.0, 2.0, 2.1, 2.0]
    marks = [False, False, True, False, False, False]
    found = sf.capability(values, unit="mil", lower=1.0, excluded=marks)
    assert found.count == 5
    assert found.made.options["excluded_rows"] == [3]
    assert found.sigma_within == pytest.approx(0.1 / sf.d2(2))
    shifts = sf.capability([1.0, 1.1, 3.0, 3.1], unit="mil", lower=0.5, period=["a", "a", "b", "b"])
    assert shifts.sigma_within == pytest.approx(0.1 / sf.d2(2))
    alone = sf.capability([1.0, 3.0], unit="mil", lower=0.5, period=["a", "b"])
    assert alone.sigma_within is None
    assert alone.index("cpk").reason == "needs a within sigma"
    assert "no forecast (Cp, Cpk): needs a within sigma" in alone.sentence()
    hours = [f"2026-03-02 {hour:02d}:00" for hour in (6, 7, 14, 15)]
    table = {"film": [1.0, 1.1, 3.0, 3.1], "time": hours}
    gap = sf.capability(table, "film", unit="mil", lower=0.5, time="time", longest_gap=timedelta(hours=2))
    assert gap.sigma_within == pytest.approx(0.1 / sf.d2(2))


def test_within_sigma_from_subgroups_and_its_degrees_of_freedom() -> None:
    by_range = sf.capability(FILMS, unit="mil", lower=2.0, subgroup_size=2)
    assert by_range.within_estimator == "mean_range"
    assert by_range.index("cpk").degrees_of_freedom == pytest.approx(sf.d2_star(4, 2).degrees_of_freedom)
    pooled = sf.capability(FILMS, unit="mil", lower=2.0, subgroup_size=4, sigma_within="pooled_sd")
    assert pooled.index("cpk").degrees_of_freedom == 6
    assert pooled.index("ppk").degrees_of_freedom == 7
    variances = [statistics.variance(FILMS[:4]), statistics.variance(FILMS[4:])]
    assert pooled.sigma_within == pytest.approx(math.sqrt(statistics.fmean(variances)), rel=1e-12)
    labels = ["a"] * 4 + ["b"] * 4
    fewer = sf.capability(FILMS, unit="mil", lower=2.0, subgroup=labels, excluded=[False, True], sigma_within="mean_sd")
    assert fewer.count == 4
    assert fewer.made.options["excluded_subgroups"] == [2]
    assert fewer.sigma_within == pytest.approx(statistics.stdev(FILMS[:4]) / sf.c4(4), rel=1e-12)
    assert fewer.index("cpk").degrees_of_freedom == pytest.approx(3.0, rel=1e-9)
    known = sf.capability(FILMS, unit="mil", lower=2.0, subgroup_size=2, sigma_within=0.03, degrees_of_freedom_within=40)
    assert known.index("cpk").degrees_of_freedom == 40
    with pytest.raises(sf.InvalidInputError, match="needs subgroup_size or subgroup"):
        sf.capability(FILMS, unit="mil", lower=2.0, sigma_within="mean_range")
    with pytest.raises(sf.InvalidInputError, match="is for single readings"):
        sf.capability(FILMS, unit="mil", lower=2.0, sigma_within="mean_moving_range", subgroup_size=2)


def test_missing_readings_are_refused_or_counted() -> None:
    with pytest.raises(sf.DataProblemsError, match=r"column 'film', row 2: reading is missing"):
        sf.capability({"film": [2.1, None, 2.2]}, "film", unit="mil", lower=2.0)
    with pytest.warns(sf.MissingDataWarning):
        found = sf.capability({"film": [2.1, None, 2.2, 2.15]}, "film", unit="mil", lower=2.0, missing="drop")
    assert found.made.missing_rows == (2,)
    assert found.sigma_within == pytest.approx(0.05 / sf.d2(2))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({}, "needs a lower or an upper limit"),
        ({"lower": 2.2, "upper": 2.0}, "must lie below upper"),
        ({"lower": 2.0, "mean": 2.1}, "not both"),
        ({"lower": 2.0, "sigma_within": "guess"}, "sigma_within must be a number or one of"),
        ({"lower": 2.0, "sigma_within": -1.0}, "sigma_within must be finite and not negative"),
        ({"lower": 2.0, "degrees_of_freedom_within": 5}, "belongs to a given sigma_within"),
        ({"lower": 2.0, "confidence_level": 95}, "must lie between 0 and 1"),
        ({"lower": 2.0, "cpm_definition": "other"}, "must be divisor_n, divisor_n_minus_1 or variance_plus_offset"),
    ],
)
def test_what_it_cannot_use_is_refused_by_name(options: dict[str, Any], words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        sf.capability(FILMS, unit="mil", **options)


def test_moments_need_both_figures() -> None:
    with pytest.raises(sf.InvalidInputError, match="give data, or mean and sigma_total"):
        sf.capability(unit="mil", lower=2.0, mean=2.1)
    with pytest.raises(sf.InvalidInputError, match="needs data"):
        sf.capability(unit="mil", lower=2.0, mean=2.1, sigma_total=0.1, sigma_within="mean_moving_range")
    with pytest.raises(sf.InvalidInputError, match="give sample_size or degrees_of_freedom"):
        sf.cp_interval(1.0)


@pytest.mark.parametrize("method", ["bissell", "kushler_hurley_simple"])
def test_unknown_methods_are_refused_and_known_ones_answer(method: str) -> None:
    found = sf.cpk_interval(1.2, sample_size=50, method=method)
    assert found.upper is not None
    assert found.lower < 1.2 < found.upper
    with pytest.raises(sf.InvalidInputError, match="method must be"):
        sf.cpk_interval(1.2, sample_size=50, method="exact")


def test_the_picture_counts_as_the_verdict_does() -> None:
    drawn = sf.capability([0.88, 0.88, 0.9, 0.95], unit="mil", lower=0.8 * 1.1).plot()
    assert drawn.data["below_above"].tolist() == [0, 0]
    assert drawn.title.startswith("4 readings average")
