"""Bias of gauges: published rows, SciPy and statsmodels as oracles, exact fractions for limits, and what is refused."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.weightstats import ttost_paired

import steadyfilm as sf
from test_findings import offset as searched_offset

from reference import Args, adapter


@adapter("bias_t_test")
def _t(args: Args) -> dict[str, float]:
    level = args.number("confidence_level")
    found = sf.bias_test(args.list("values"), unit="", reference=args.number("reference"), confidence_level=level)
    return {name: getattr(found, name) for name in ("mean", "bias", "sd", "sigma_bias", "t", "p", "lower", "upper")}


@adapter("bias_range_method")
def _range(args: Args) -> dict[str, float]:
    given = {name: args.number(name) for name in ("reference", "d2", "d2_star", "degrees_of_freedom", "confidence_level")}
    found = sf.bias_range_test(args.list("values"), unit="", **given)
    names = ("mean", "bias", "range", "sigma_repeatability", "sigma_bias", "t", "t_critical", "lower", "upper")
    return {name: getattr(found, name) for name in names}


@adapter("linearity")
def _linearity(args: Args) -> dict[str, Any]:
    level = args.number("confidence_level")
    found = sf.bias_linearity(args.list("values"), unit="", reference=args.list("reference"), confidence_level=level)
    names = ["slope", "intercept", "t_slope", "t_intercept", "r_squared", "t_critical", "bias_mean", "residual_sd", "se_slope"]
    names += ["se_intercept", "p_slope", "p_intercept", "band_fit", "band_lower", "band_upper"]
    return {name: getattr(found, name) for name in names}


@adapter("single_part_study")
def _single(args: Args) -> dict[str, float]:
    given = {name: args.number(name) for name in ("reference", "tolerance_width", "tolerance_share", "sigma_spread")}
    found = sf.single_part_study(args.list("values"), unit="", **given)
    names = ("cg", "cgk", "mean", "sd", "bias", "t", "p", "minimum_tolerance", "pct_variation")
    return {name: getattr(found, name) for name in names}


@adapter("verification_limit")
def _limit(args: Args) -> dict[str, float]:
    return {"percent": sf.verification_limit(args.number("gauge_percent"), args.number("shim_percent"))}


@adapter("gauge_comparison")
def _comparison(args: Args) -> dict[str, float]:
    given = {name: args.number(name) for name in ("margin", "agreement_share")}
    found = sf.compare_gauges(args.list("first"), args.list("second"), unit="", **given)
    return {
        "mean_difference": found.mean_difference,
        "sd": found.sd,
        "agreement_lower": found.agreement_lower.value,
        "agreement_upper": found.agreement_upper.value,
    }


READINGS = [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4]
STUDY = {"tolerance_width": 0.5, "tolerance_share": 0.2, "sigma_spread": 6}


def certified(slope: float = 0.03, *, offset: float = 0.0, noise: float = 0.01, seed: int = 2) -> dict[str, list[Any]]:
    """Readings of five foils, six times each, over two substrates."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[Any]] = {"foil": [], "stated": [], "shown": [], "plate": []}
    for foil, stated in enumerate((0.5, 1.0, 2.0, 3.0, 5.0)):
        for repeat in range(6):
            rows["foil"].append(f"F{foil}")
            rows["stated"].append(stated)
            rows["shown"].append(round(stated * (1 + slope) + offset + rng.normal(0, noise), 4))
            rows["plate"].append("steel" if repeat < 3 else "aluminum")
    return rows


def check_log(checks: int = 20, *, knock: float = 0.15, at: int = 13) -> dict[str, list[Any]]:
    """Five readings a check of two gauges on one foil; one gauge reads high at one check."""
    rng = np.random.default_rng(7)
    rows: dict[str, list[Any]] = {"when": [], "gauge": [], "metal": [], "stated": [], "shown": []}
    for check in range(checks):
        for gauge in ("K4", "K5"):
            for _ in range(5):
                rows["when"].append(f"2026-03-{check + 1:02d} 06:00")
                rows["gauge"].append(gauge)
                rows["metal"].append("steel")
                rows["stated"].append(2.0)
                rows["shown"].append(2.0 + rng.normal(0.01, 0.01) + (knock if gauge == "K5" and check == at else 0.0))
    return rows


def offset_of(first: float = 0.15, total: float = 0.15, **options: Any) -> sf.OffsetDiagnosis:
    given = {"unit": "mil", "primer_uncertainty": 0.015, "total_uncertainty": 0.025, "gauge": "gauge K5"}
    return sf.diagnose_offset(primer_shift=first, total_shift=total, **(given | options))


def example_results() -> list[Any]:
    log = certified()
    checks: dict[str, Any] = {"unit": "mil", "stated": "stated", "stream": ["gauge", "metal"], "time": "when"}
    one, two = [1.02, 2.11, 2.98, 4.07, 5.01, 3.3], [1.00, 2.05, 3.00, 4.01, 5.02, 3.1]
    with pytest.warns(sf.ConstantDataWarning):
        equal = [
            sf.bias_test([2.1, 2.1, 2.1], unit="mil", reference=2.1),
            sf.bias_test([2.1, 2.1, 2.1], unit="mil", reference=2.0),
            sf.single_part_study([2.1, 2.1, 2.1], unit="mil", reference=2.0, **STUDY),
            sf.bias_range_test([2.1, 2.1], unit="mil", reference=2.1),
        ]
    return [
        sf.bias_test(READINGS, unit="mm", reference=6.0),
        sf.bias_test(READINGS, unit="mm", reference=5.5, reference_uncertainty=0.02),
        sf.bias_range_test(READINGS, unit="mm", reference=6.0),
        sf.bias_range_test(READINGS, unit="mm", reference=6.0, d2=2.97, d2_star=3.08, degrees_of_freedom=7.0),
        *equal,
        sf.bias_linearity(log, "shown", unit="mil", reference="stated"),
        sf.bias_linearity([1.0, 2.0, 4.0], unit="mil", reference=[1.0, 2.0, 4.0]),
        sf.single_part_study(READINGS, unit="mm", reference=6.0, **STUDY),
        sf.single_part_study([2.01, 2.00, 2.02, 2.01], unit="mil", reference=2.0, **STUDY),
        sf.verify_gauge(log, "shown", unit="mil", stated="stated", standard="foil", gauge_percent=2, standard_percent=3),
        sf.verify_gauge(log, "shown", unit="mil", stated="stated", gauge_percent=1, gauge_absolute=0.01, judge="each"),
        sf.check_standard_charts(check_log(), "shown", **checks),
        sf.check_standard_charts(check_log(knock=0.0), "shown", **(checks | {"time": None, "check": "when", "center": 0.0})),
        sf.compare_gauges(one, two, unit="mil", margin=0.1),
        sf.compare_gauges(one, [x - 0.25 for x in one], unit="mil", margin=0.5, panel=list("abcdef")),
        offset_of(),
        offset_of(shim_deviation=[0.15, 0.16], shim_uncertainty=0.01),
        offset_of(remeasured_difference=0.0, remeasured_uncertainty=0.01, primer_uncertainty=0.0, total_uncertainty=0.0),
        offset_of(0.0, 0.2, shim_deviation=0.0, shim_uncertainty=0.01),
        sf.diagnose_offset(unit="mil", primer_shift=0.15, primer_uncertainty=0.02),
        sf.diagnose_offset(unit="mil", primer_shift=0.15, primer_uncertainty=0.02, shim_deviation=0.0, shim_uncertainty=0.01),
    ]


# -- one part, several references ---------------------------------------------------------------------------------------


@given(st.lists(st.floats(1.0, 3.0), min_size=2, max_size=30), st.floats(1.0, 3.0), st.sampled_from([0.8, 0.95]))
@settings(max_examples=60, deadline=None)
def test_bias_agrees_with_scipy(values: list[float], reference: float, level: float) -> None:
    if np.ptp(values) < 1e-6:
        return
    oracle = stats.ttest_1samp(values, reference)
    low, high = oracle.confidence_interval(level)
    found = sf.bias_test(values, unit="mil", reference=reference, confidence_level=level)
    assert (found.t, found.p) == pytest.approx((oracle.statistic, oracle.pvalue), rel=1e-7, abs=1e-9)
    assert (found.lower + reference, found.upper + reference) == pytest.approx((low, high), rel=1e-9)


def test_a_bias_with_an_uncertain_reference_is_covered_as_often_as_said() -> None:
    rng = np.random.default_rng(1)
    hit, size, known, spread = 0, 2000, 0.02, 0.05
    for _ in range(size):
        readings = rng.normal(2.0 + 0.03, spread, 6)
        reference = rng.normal(2.0, known)
        found = sf.bias_test(readings, unit="mil", reference=reference, reference_uncertainty=known)
        hit += found.lower <= 0.03 <= found.upper
    # Welch and Satterthwaite's figure is approximate; four standard errors of the count are 2 %.
    assert 0.93 <= hit / size <= 0.97


@pytest.mark.parametrize("seed", range(6))
def test_linearity_agrees_with_least_squares_of_statsmodels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    log = certified(slope=float(rng.normal(0, 0.03)), offset=float(rng.normal(0, 0.05)), noise=0.03, seed=seed)
    found = sf.bias_linearity(log, "shown", unit="mil", reference="stated", confidence_level=0.9)
    x = np.array(log["stated"])
    fit = sm.OLS(np.array(log["shown"]) - x, sm.add_constant(x)).fit()
    assert (found.intercept, found.slope) == pytest.approx(tuple(fit.params), rel=1e-9, abs=1e-13)
    assert (found.se_intercept, found.se_slope) == pytest.approx(tuple(fit.bse), rel=1e-9)
    assert (found.p_intercept, found.p_slope) == pytest.approx(tuple(fit.pvalues), rel=1e-7)
    band = fit.get_prediction(sm.add_constant(found.reference)).summary_frame(alpha=0.1)
    assert found.band_lower == pytest.approx(band["mean_ci_lower"].to_numpy(), rel=1e-9, abs=1e-12)
    groups = sm.OLS(np.array(log["shown"]) - x, np.equal.outer(x, found.reference).astype(float)).fit()
    oracle = groups.compare_f_test(fit)
    assert (found.lack_of_fit_f, found.lack_of_fit_p) == pytest.approx((oracle[0], oracle[1]), rel=1e-6)
    # Where the band leaves out zero, on a fine grid.
    grid = np.linspace(0.5, 5.0, 2001)
    frame = fit.get_prediction(sm.add_constant(grid)).summary_frame(alpha=0.1)
    out = (frame["mean_ci_lower"] > 0).to_numpy() | (frame["mean_ci_upper"] < 0).to_numpy()
    mine = (
        np.any([(grid >= one.from_reference) & (grid <= one.to_reference) for one in found.biased], axis=0)
        if found.biased
        else False
    )
    assert np.count_nonzero(out != mine) <= 4


def test_a_curved_bias_is_told_from_a_line() -> None:
    rng = np.random.default_rng(3)
    x = np.repeat([1.0, 2.0, 3.0, 4.0], 5)
    found = sf.bias_linearity(x + 0.05 * (x - 2.5) ** 2 + rng.normal(0, 0.01, 20), unit="mil", reference=x)
    assert found.lack_of_fit_p < 0.001
    assert "a straight line does not describe it" in found.sentence()


def test_cgk_is_the_index_of_a_window_around_the_reference() -> None:
    found = sf.single_part_study(READINGS, unit="mm", reference=6.0, tolerance_width=2.0, tolerance_share=0.3, sigma_spread=4)
    as_window = sf.capability(READINGS, unit="mm", lower=6.0 - 0.3, upper=6.0 + 0.3)
    assert found.cgk == pytest.approx(as_window.ppk * 6 / 4, rel=1e-12)
    assert found.cg == pytest.approx(as_window.pp * 6 / 4, rel=1e-12)
    # The variance has a chi-square law, so that the interval of Cg is exact.
    n, tail = len(READINGS), np.array([0.025, 0.975])
    assert (found.cg_lower, found.cg_upper) == pytest.approx(tuple(found.cg * np.sqrt(stats.chi2.ppf(tail, n - 1) / (n - 1))))
    assert "4 standard deviations" in found.sentence()
    assert "30 %" in found.sentence()


def test_at_the_tolerance_named_the_indices_are_as_required() -> None:
    found = sf.single_part_study(READINGS, unit="mm", reference=6.0, **STUDY, required=1.5)
    rule = STUDY | {"tolerance_width": found.minimum_tolerance}
    assert sf.single_part_study(READINGS, unit="mm", reference=6.0, **rule).cg == pytest.approx(1.5)
    rule["tolerance_width"] = found.minimum_tolerance_cgk
    assert sf.single_part_study(READINGS, unit="mm", reference=6.0, **rule).cgk == pytest.approx(1.5)


def test_share_and_multiple_have_no_default() -> None:
    with pytest.raises(TypeError, match=r"tolerance_share.*sigma_spread"):
        sf.single_part_study(READINGS, unit="mm", reference=6.0, tolerance_width=1.0)  # type: ignore[call-arg]


# -- standards ----------------------------------------------------------------------------------------------------------


@given(
    st.integers(20, 9000),
    st.integers(-400, 400),
    st.sampled_from([(3, 4), (5, 12), (8, 15), (20, 21), (5, 0)]),
    st.integers(1, 4),
)
@settings(max_examples=150, deadline=None)
def test_limits_are_compared_as_exact_fractions_compare(stated: int, off: int, tolerances: tuple[int, int], repeats: int) -> None:
    """Percents that are legs of right triangles have an exact root, so that readings on the limit itself occur."""
    value, reading = Fraction(stated, 100), Fraction(stated + off, 100)
    limit = value * Fraction(math.isqrt(tolerances[0] ** 2 + tolerances[1] ** 2), 100)
    for shown in (reading, value + limit, value - limit):
        found = sf.verify_gauge(
            [float(shown)] * repeats,
            unit="mil",
            stated=float(value),
            gauge_percent=tolerances[0],
            standard_percent=tolerances[1],
        )
        assert found.passes == (abs(shown - value) <= limit), (shown, value, limit)


def test_verification_judges_each_standard_by_its_own_limit() -> None:
    log = certified(slope=0.03)
    found = sf.verify_gauge(log, "shown", unit="mil", stated="stated", standard="foil", gauge_percent=2, standard_percent=1)
    for one in found.standards:
        own = [x for x, name in zip(log["shown"], log["foil"], strict=True) if name == one.standard]
        assert one.mean == pytest.approx(np.mean(own))
        assert one.limit == pytest.approx(one.stated * math.hypot(0.02, 0.01))
        assert one.passes == (abs(np.mean(own) - one.stated) <= one.limit)
    assert found.failed_count == sum(not one.passes for one in found.standards) > 0
    assert found.sentence().startswith(f"The gauge fails on {found.failed_count} of 5 standards, worst on ")
    wide = sf.verify_gauge(log, "shown", unit="mil", stated="stated", gauge_percent=5, standard_percent=5)
    assert wide.passes
    assert "a gauge that just passes may read" in wide.sentence()


def test_a_knock_is_seen_on_the_chart_of_its_gauge_alone() -> None:
    log = check_log()
    found = sf.check_standard_charts(log, "shown", unit="mil", stated="stated", stream=["gauge", "metal"], time="when")
    first, second = found.streams
    assert (first.stream, second.stream) == ("K4 / steel", "K5 / steel")
    assert not first.chart.signals
    assert [signal.point for signal in second.chart.signals] == [13]
    assert "K5 / steel read" in found.sentence()
    assert "at check 14, 2026-03-14 06:00" in found.sentence()
    shown = np.array(log["shown"]).reshape(20, 2, 5).mean(axis=2) - 2.0
    assert second.chart.values == pytest.approx(shown[:, 1])
    # The very chart that the chart topics make of these values.
    own = sf.individuals_chart(second.chart.values, unit="mil", point="check")
    assert (own.limits, own.signals) == (second.chart.limits, second.chart.signals)
    assert sf.ewma_chart(second.chart.values, unit="mil", point="check").ewma == pytest.approx(second.ewma.ewma)


def test_a_single_check_needs_a_sigma() -> None:
    log = check_log(checks=1)
    options: dict[str, Any] = {"unit": "mil", "stated": "stated", "stream": "gauge", "time": "when"}
    with pytest.raises(sf.InvalidInputError, match="'K4' has a single check"):
        sf.check_standard_charts(log, "shown", **options)
    assert sf.check_standard_charts(log, "shown", **options, center=0.0, sigma_within=0.01).check_count == 2


# -- two gauges ---------------------------------------------------------------------------------------------------------


@given(st.integers(3, 40), st.integers(0, 10_000), st.sampled_from([0.01, 0.05, 0.2]))
@settings(max_examples=40, deadline=None)
def test_equivalence_agrees_with_statsmodels(panels: int, seed: int, margin: float) -> None:
    rng = np.random.default_rng(seed)
    one = rng.uniform(1, 5, panels)
    two = one + rng.normal(rng.normal(0, 0.05), 0.05, panels)
    found = sf.compare_gauges(one, two, unit="mil", margin=margin)
    p, lower, upper = ttost_paired(one, two, -margin, margin)
    assert (found.p_equivalence, found.p_lower, found.p_upper) == pytest.approx((p, lower[1], upper[1]), rel=1e-7, abs=1e-12)
    assert found.equivalent == (p < 0.05) == (-margin < found.equivalence_lower and found.equivalence_upper < margin)
    line = stats.linregress((one + two) / 2, one - two)
    assert (found.slope, found.slope_se, found.slope_p) == pytest.approx(
        (line.slope, line.stderr, line.pvalue), rel=1e-6, abs=1e-9
    )
    n, z = panels, stats.norm.ppf(0.975)
    t = stats.nct.ppf([0.025, 0.975], n - 1, z * math.sqrt(n)) * found.standard_error
    assert (found.agreement_upper.lower, found.agreement_upper.upper) == pytest.approx(tuple(found.mean_difference + t), rel=1e-6)
    assert (found.agreement_lower.lower, found.agreement_lower.upper) == pytest.approx(
        tuple(found.mean_difference - t[::-1]), rel=1e-6
    )


def test_the_same_data_are_equivalent_or_not_as_the_margin_says() -> None:
    one, two = [1.02, 2.11, 2.98, 4.07, 5.01], [1.00, 2.05, 3.00, 4.01, 5.02]
    assert sf.compare_gauges(one, two, unit="mil", margin=0.1).sentence().startswith("Equivalent within ±0.1 mil")
    assert sf.compare_gauges(one, two, unit="mil", margin=0.03).sentence().startswith("Equivalence within ±0.03 mil is not shown")
    far = [x - 1.0 for x in two]
    assert sf.compare_gauges(one, far, unit="mil", margin=0.1).sentence().startswith("Not equivalent: the gauges differ by more")
    with pytest.raises(TypeError, match="margin"):
        sf.compare_gauges(one, two, unit="mil")  # type: ignore[call-arg]


def test_repeats_of_a_panel_are_averaged_first() -> None:
    rows = {"panel": ["a", "a", "b", "b", "c", "c"], "one": [1.0, 1.2, 2.0, 2.2, 3.0, 3.4], "two": [1.0, 1.0, 2.0, 2.1, 3.0, 3.1]}
    found = sf.compare_gauges("one", "two", data=rows, panel="panel", unit="mil", margin=0.5)
    assert found.panels == ("a", "b", "c")
    assert found.first == pytest.approx([1.1, 2.1, 3.2])
    plain = sf.compare_gauges([1.1, 2.1, 3.2], [1.0, 2.05, 3.05], unit="mil", margin=0.5)
    assert found.sd == pytest.approx(plain.sd)
    rows["two"][2] = None  # type: ignore[call-overload]
    with pytest.warns(sf.MissingDataWarning):
        holes = sf.compare_gauges("one", "two", data=rows, panel="panel", unit="mil", margin=0.5, missing="drop")
    assert holes.made.missing_rows == (3,)
    assert holes.first == pytest.approx([1.1, 2.2, 3.2])


# -- a shift that layers share ------------------------------------------------------------------------------------------


def test_film_readings_alone_send_to_the_shims_and_shims_decide() -> None:
    alone = offset_of()
    assert alone.verdict == "gauge or film"
    assert "ommon offset: gauge K5 or primer; check the gauge on shims" in alone.sentence()
    off = offset_of(shim_deviation=0.149, shim_uncertainty=0.005)
    assert off.verdict == "zero error"
    assert "zero error, gauge K5 read 0.150 mil ± 0.026 high" in off.sentence()
    assert offset_of(remeasured_difference=[0.15, 0.14], remeasured_uncertainty=[0.02, 0.02]).verdict == "zero error"
    true = offset_of(shim_deviation=0.001, shim_uncertainty=0.005)
    assert true.verdict == "film"
    assert "primer itself moved by +0.150 mil" in true.sentence()
    assert offset_of(shim_deviation=0.05, shim_uncertainty=0.005).verdict == "gauge in part"
    vague = offset_of(shim_deviation=0.05, shim_uncertainty=0.2)
    assert vague.verdict == "undecided"
    assert "too uncertain to tell" in vague.sentence()


def test_the_words_are_those_of_the_search_for_changes() -> None:
    (change,) = searched_offset().changes
    words = "ommon offset: gauge late or primer; check the gauge on shims"
    assert words in change.sentence
    assert words in offset_of(gauge="gauge late").sentence()


def test_a_low_gauge_is_told_as_low_and_other_signatures_by_their_cause() -> None:
    low = offset_of(-0.15, -0.16, shim_deviation=-0.155, shim_uncertainty=0.01)
    # Both shifts weighted by one over their variances: (0.15 / 0.015^2 + 0.16 / 0.025^2) over the sum of the weights.
    assert "read 0.153 mil ± 0.026 low" in low.sentence()
    assert offset_of(0.0, 0.2).sentence().startswith("Topcoat moved by +0.20")
    assert "which no film does" in offset_of(0.2, 0.0).sentence()
    assert offset_of(0.0, 0.0).sentence().startswith("No shift: primer")
    assert offset_of(0.2, 0.5).verdict == "mixed"
    assert "the gauge does not read true" in offset_of(0.0, 0.2, shim_deviation=0.1, shim_uncertainty=0.01).sentence()


def test_the_best_common_offset_has_the_spread_that_is_stated() -> None:
    rng = np.random.default_rng(6)
    # Standard deviations of 1500 values have a standard error of 1.8 %.
    errors = rng.multivariate_normal([0, 0], [[0.015**2, 0.4 * 0.015 * 0.025], [0.4 * 0.015 * 0.025, 0.025**2]], 1500)
    found = [offset_of(0.15 + a, 0.15 + b, correlation=0.4) for a, b in errors]
    assert np.std([one.offset for one in found]) == pytest.approx(found[0].offset_uncertainty, rel=0.08)
    assert np.std([one.upper_shift for one in found]) == pytest.approx(found[0].upper_uncertainty, rel=0.08)
    # Beyond two standard uncertainties chance alone moves the layer between in 4.6 % of cases.
    moved = np.mean([one.upper_moved for one in found])
    assert abs(moved - 2 * stats.norm.sf(2)) <= 4 * math.sqrt(0.0455 / 1500)


# -- what is refused, kinds of tables -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.bias_test([2.0], unit="mil", reference=2.0), "at least 2"),
        (lambda: sf.bias_test([2.0, None], unit="mil", reference=2.0), "row 2: reading is missing"),
        (lambda: sf.bias_test([2.0, 2.1], unit="mil", reference=float("nan")), "reference is not finite"),
        (lambda: sf.bias_linearity([1.0, 2.0, 3.0], unit="mil", reference=[1.0, 2.0]), "reference has 2 rows"),
        (lambda: sf.bias_linearity([1.0, 1.1, 1.2], unit="mil", reference=1.0), "one value only"),
        (lambda: sf.bias_linearity({"x": [1.0]}, "x", unit="mil", reference="known"), "no such column"),
        (lambda: sf.single_part_study(READINGS, unit="mm", reference=6.0, **(STUDY | {"tolerance_share": 20})), "at most 1"),
        (lambda: sf.verify_gauge([2.0], unit="mil", stated=2.0), "a tolerance is needed"),
        (lambda: sf.verify_gauge([2.0], unit="mil", stated=2.0, gauge_percent=-5), "must be 0 or more"),
        (lambda: sf.verify_gauge([2.0], unit="mil", stated=2.0, gauge_percent=5, judge="best"), "'mean' or 'each'"),
        (
            lambda: sf.verify_gauge([2.0, 3.0], unit="mil", stated=[2.0, 3.0], standard=["a", "a"], gauge_percent=5),
            "several stated values",
        ),
        (lambda: sf.verify_gauge([], unit="mil", stated=2.0, gauge_percent=5), "no reading on a standard"),
        (lambda: sf.compare_gauges([1.0, 2.0], [1.0, 2.0], unit="mil", margin=0.1), "at least 3"),
        (lambda: sf.compare_gauges([1.0, 2.0, 3.0], [1.0, 2.0], unit="mil", margin=0.1), "second has 2 readings"),
        (lambda: sf.compare_gauges([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], unit="mil", margin=0.0), "margin must be positive"),
        (lambda: sf.compare_gauges([1.0] * 3, [1.0] * 3, unit="", margin=1.0, gauges=["a", "a"]), "two different names"),
        (lambda: offset_of(shim_deviation=0.1), "each shim value needs its standard uncertainty"),
        (lambda: offset_of(correlation=2.0), "between -1 and 1"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


@pytest.mark.parametrize("kind", ["pandas", "polars", "pyarrow"])
def test_any_table_comes_back_in_its_kind(kind: str) -> None:
    from steadyfilm._input import make_table

    rows = certified()
    table = make_table({name: np.array(column) for name, column in rows.items()}, kind)
    found = sf.bias_linearity(table, "shown", unit="mil", reference="stated")
    assert type(found.to_frame()).__module__.startswith(kind)
    assert found.slope == sf.bias_linearity(rows, "shown", unit="mil", reference="stated").slope
    checked = sf.verify_gauge(table, "shown", unit="mil", stated="stated", standard="foil", gauge_percent=5)
    assert type(checked.to_frame()).__module__.startswith(kind)


# -- pictures -----------------------------------------------------------------------------------------------------------


def test_linearity_is_drawn_with_its_band_and_where_that_leaves_out_zero() -> None:
    found = sf.bias_linearity(certified(), "shown", unit="mil", reference="stated")
    drawn = found.plot()
    assert drawn.title == found.sentence()
    np.testing.assert_array_equal(drawn.data["bias_mean"], found.bias_mean)
    at = [int(np.argmin(np.abs(drawn.data["line_reference"] - x))) for x in (found.reference[0], found.reference[-1])]
    assert drawn.data["band_lower"][at] == pytest.approx(found.band_lower[[0, -1]])
    assert drawn.data["band_upper"][at] == pytest.approx(found.band_upper[[0, -1]])
    lines = [line.get_xdata() for line in drawn.artists["biased"]]
    assert [list(x) for x in lines] == [[one.from_reference, one.to_reference] for one in found.biased] != []


def test_the_comparison_is_drawn_with_limits_and_margin() -> None:
    one, two = [1.02, 2.11, 2.98, 4.07, 5.01], [1.00, 2.05, 3.00, 4.01, 5.02]
    found = sf.compare_gauges(one, two, unit="mil", margin=0.1)
    drawn = found.plot()
    assert drawn.title == found.sentence()
    np.testing.assert_allclose(drawn.data["difference"], found.first - found.second)
    heights = sorted(line.get_ydata()[0] for line in drawn.artists["lines"])
    limits = [found.agreement_lower.value, found.mean_difference, found.agreement_upper.value]
    assert heights == pytest.approx(sorted([-0.1, 0.1, *limits]))
    assert len(drawn.artists["line_labels"]) == 5


@pytest.mark.parametrize(
    ("shift", "deviation", "verdict", "words"),
    [
        (
            0.15,
            None,
            "gauge or film",
            "Common offset: gauge K5 or primer; check the gauge on shims: primer +0.150 mil ± 0.040 moved.",
        ),
        (
            0.15,
            0.15,
            "zero error",
            "Gauge fault: zero error, gauge K5 read 0.150 mil ± 0.040 high (on shims: +0.150 mil ± 0.020)",
        ),
        (0.15, 0.05, "gauge in part", "yet the film readings are off by another amount: primer +0.150"),
        (0.15, 0.0, "film", "Change of film: primer itself moved by +0.150 mil ± 0.040, since gauge K5 reads true"),
        (0.03, 0.0, "no shift", "No shift: primer +0.030 mil ± 0.040; the gauge reads true"),
    ],
)
def test_a_first_coat_alone_is_gauge_or_film_until_the_gauge_is_known(
    shift: float, deviation: float | None, verdict: str, words: str
) -> None:
    given: dict[str, Any] = {} if deviation is None else {"shim_deviation": deviation, "shim_uncertainty": 0.01}
    found = sf.diagnose_offset(unit="mil", primer_shift=shift, primer_uncertainty=0.02, gauge="gauge K5", **given)
    assert (found.verdict, words in found.sentence()) == (verdict, True)
    assert math.isnan(found.total_shift)
    assert "nan" not in found.sentence()
    assert (found.offset, found.offset_uncertainty) == (shift, 0.02)


def test_a_total_has_both_its_shift_and_its_uncertainty() -> None:
    with pytest.raises(sf.InvalidInputError, match="a total needs its shift and its standard uncertainty, or neither"):
        sf.diagnose_offset(unit="mil", primer_shift=0.1, primer_uncertainty=0.02, total_shift=0.1)
