"""Agreement of judgements: published rows, statsmodels and SciPy as oracles, resampling for intervals, tables with holes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats import inter_rater

import steadyfilm as sf

from reference import Args, adapter


@adapter("cohen_kappa")
def _cohen(args: Args) -> dict[str, float]:
    weights = args.matrix("disagreement_weights") if "disagreement_weights" in args else None
    found = sf.cohen_kappa(args.matrix("table"), weights=weights, confidence_level=args.number("confidence_level"))
    return {
        "kappa": found.kappa.value,
        "observed_agreement": found.observed_agreement,
        "expected_agreement": found.expected_agreement,
        "se_cohen_1960": found.se_cohen_1960,
        **{name: getattr(found.kappa, name) for name in ("se", "se_null", "z", "lower", "upper")},
    }


@adapter("cohen_kappa_ratings")
def _ratings(args: Args) -> dict[str, float]:
    level = args.number("confidence_level")
    found = sf.cohen_kappa_ratings(args.list("rater_1"), args.list("rater_2"), confidence_level=level)
    return {"kappa": found.kappa.value, "z": found.kappa.z, "p": found.kappa.p}


@adapter("fleiss_kappa")
def _fleiss(args: Args) -> dict[str, Any]:
    found = sf.fleiss_kappa(args.matrix("counts"))
    return {
        "kappa": found.kappa.value,
        "observed_agreement": found.observed_agreement,
        "expected_agreement": found.expected_agreement,
        "se_null": found.kappa.se_null,
        "z": found.kappa.z,
        "se_1971": found.se_1971,
        "z_1971": found.z_1971,
        "se_category": found.category[0].se_null,
        "kappa_category": [one.value for one in found.category],
        "kappa_free_marginal": found.kappa_free_marginal,
    }


@adapter("kendall_w")
def _kendall(args: Args) -> dict[str, Any]:
    found = sf.kendall_w(args.matrix("ratings"))
    return {"df": found.degrees_of_freedom} | {
        name: getattr(found, name) for name in ("w_uncorrected", "w", "chi_square", "p", "rank_sum")
    }


GRADES = ("ok", "touch up", "strip")


def study_table(parts: int = 12, people: int = 3, trials: int = 2, *, seed: int = 4) -> dict[str, list[Any]]:
    """Grades of panels by several appraisers, each as good as his number is low."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[Any]] = {"panel": [], "who": [], "run": [], "grade": [], "known": []}
    for panel in range(parts):
        known = int(rng.integers(0, 3))
        for who in range(people):
            for run in range(trials):
                wrong = rng.random() < 0.1 * (who + 1)
                rows["panel"].append(f"P{panel}")
                rows["who"].append("ABCDEFG"[who])
                rows["run"].append(str(run))
                rows["grade"].append(GRADES[int(rng.integers(0, 3)) if wrong else known])
                rows["known"].append(GRADES[known])
    return rows


def study(rows: dict[str, list[Any]], **options: Any) -> sf.AgreementStudy:
    given = {"trial": "run", "reference": "known", "rejected": ["touch up", "strip"], "part_word": "panel"}
    return sf.agreement_study(rows, "grade", part="panel", appraiser="who", **(given | options))


def example_results() -> list[Any]:
    return [
        sf.cohen_kappa([[44, 6], [3, 97]], subject="panel"),
        sf.cohen_kappa([[88, 14, 18], [10, 40, 10], [2, 6, 12]], weights="quadratic", categories=GRADES),
        sf.cohen_kappa([[9, 0], [0, 0]]),
        sf.cohen_kappa([[5, 0], [3, 0]]),
        sf.fleiss_kappa([[4, 1, 0], [2, 2, 1], [0, 5, 0], [1, 0, 4]], categories=GRADES, subject="panel"),
        sf.fleiss_kappa([[3, 0], [3, 0]]),
        sf.kendall_w([[1, 1, 6], [6, 5, 3], [3, 6, 2], [2, 4, 5], [5, 2, 4], [4, 3, 1]], reference=[1, 6, 5, 3, 4, 2]),
        sf.kendall_w([[1, 1], [1, 1]]),
        study(study_table()),
        study(study_table(trials=1, people=1), trial=None, reference=None, rejected=()),
        study(study_table(people=2), reference=None, rejected=()),
    ]


# -- oracles ------------------------------------------------------------------------------------------------------------


@given(st.lists(st.integers(0, 30), min_size=9, max_size=9), st.sampled_from([None, "linear", "quadratic"]))
@settings(max_examples=60, deadline=None)
def test_kappa_agrees_with_statsmodels(cells: list[int], weights: str | None) -> None:
    table = np.array(cells).reshape(3, 3)
    used = np.count_nonzero(table.sum(axis=0)) > 1 and np.count_nonzero(table.sum(axis=1)) > 1
    if not used:
        return
    oracle = inter_rater.cohens_kappa(table, wt=weights)
    found = sf.cohen_kappa(table.tolist(), weights=weights)
    assert found.kappa.value == pytest.approx(oracle.kappa, rel=1e-9, abs=1e-12)
    # Its variances cancel less well than its values; compare what is left of them.
    assert found.kappa.se**2 == pytest.approx(oracle.var_kappa, rel=1e-6, abs=1e-12)
    assert found.kappa.se_null**2 == pytest.approx(oracle.var_kappa0, rel=1e-6, abs=1e-12)


@given(st.integers(2, 7), st.integers(2, 5), st.integers(2, 25), st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_fleiss_kappa_agrees_with_statsmodels(judgements: int, kinds: int, subjects: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    counts = rng.multinomial(judgements, rng.dirichlet(np.ones(kinds)), subjects)
    found = sf.fleiss_kappa(counts)
    if np.count_nonzero(counts.sum(axis=0)) < 2:
        assert math.isnan(found.kappa.value)
        return
    assert found.kappa.value == pytest.approx(inter_rater.fleiss_kappa(counts), rel=1e-9, abs=1e-12)
    free = inter_rater.fleiss_kappa(counts, method="randolph")
    assert found.kappa_free_marginal == pytest.approx(free, rel=1e-9, abs=1e-12)


def test_standard_error_of_fleiss_kappa_agrees_with_leaving_out_one_subject() -> None:
    rng = np.random.default_rng(3)
    counts = np.array([rng.multinomial(4, rng.dirichlet([0.4, 0.3, 0.8])) for _ in range(400)])
    found = sf.fleiss_kappa(counts)
    left = np.array([inter_rater.fleiss_kappa(np.delete(counts, i, axis=0)) for i in range(len(counts))])
    jackknife = math.sqrt((len(left) - 1) / len(left) * ((left - left.mean()) ** 2).sum())
    assert found.kappa.se == pytest.approx(jackknife, rel=0.01)
    one = np.column_stack([counts[:, 1], 4 - counts[:, 1]])
    left = np.array([inter_rater.fleiss_kappa(np.delete(one, i, axis=0)) for i in range(len(one))])
    jackknife = math.sqrt((len(left) - 1) / len(left) * ((left - left.mean()) ** 2).sum())
    assert found.category[1].se == pytest.approx(jackknife, rel=0.01)


def test_null_standard_error_is_the_spread_of_kappa_under_chance() -> None:
    rng = np.random.default_rng(8)
    shares, subjects, judgements = [0.6, 0.3, 0.1], 200, 3
    kappas = [inter_rater.fleiss_kappa(rng.multinomial(judgements, shares, subjects)) for _ in range(1500)]
    expected = sf.fleiss_kappa(rng.multinomial(judgements, shares, 20 * subjects)).kappa.se_null * math.sqrt(20)
    # The standard deviation of 1500 values has a standard error of 1.8 %.
    assert np.std(kappas) == pytest.approx(expected, rel=0.08)


@given(st.integers(2, 5), st.integers(2, 12), st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_concordance_agrees_with_friedmans_test(judges: int, subjects: int, seed: int) -> None:
    ratings = np.random.default_rng(seed).integers(0, 6, (subjects, judges))
    found = sf.kendall_w(ratings)
    if (ratings == ratings[0]).all():
        assert math.isnan(found.w)
        return
    if subjects >= 3 and judges >= 3:
        oracle = stats.friedmanchisquare(*ratings)  # its treatments are our subjects
        assert (found.chi_square, found.p) == pytest.approx((oracle.statistic, oracle.pvalue), rel=1e-9, abs=1e-12)
    if subjects < 3:
        return  # SciPy's chance divides by subjects - 2
    reference = np.random.default_rng(seed + 1).integers(0, 6, subjects)
    tau = sf.kendall_w(ratings, reference=reference.tolist())
    with np.errstate(invalid="ignore"):
        each = [stats.kendalltau(ratings[:, k], reference, method="asymptotic") for k in range(judges)]
    assert tau.judge_tau == pytest.approx([one.statistic for one in each], rel=1e-9, abs=1e-12, nan_ok=True)


def test_the_interval_of_w_leaves_out_one_subject_at_a_time_and_takes_student_t() -> None:
    """Friedman's statistic over m (n - 1) is W (no ties here)."""
    rng = np.random.default_rng(8)
    ratings = rng.normal(size=(9, 1)) + rng.normal(0, 0.8, (9, 3))

    def w(rows: np.ndarray) -> float:
        return float(stats.friedmanchisquare(*rows).statistic) / (3 * (len(rows) - 1))

    left = [w(np.delete(ratings, i, axis=0)) for i in range(9)]
    reach = stats.t.ppf(0.975, 8) * math.sqrt(8 / 9 * np.sum((left - np.mean(left)) ** 2))
    found = sf.kendall_w(ratings)
    assert (found.lower, found.upper) == pytest.approx((max(0.0, w(ratings) - reach), min(1.0, w(ratings) + reach)), rel=1e-9)


def test_a_single_judge_against_the_reference_has_scipys_chance() -> None:
    rng = np.random.default_rng(5)
    known = rng.integers(0, 8, 30)
    one = known + rng.integers(-3, 4, 30)
    found = sf.kendall_w(np.column_stack([one, one]), reference=known.tolist())
    oracle = stats.kendalltau(one, known, method="asymptotic")
    assert found.tau is not None
    assert found.tau.value == pytest.approx(oracle.statistic)
    # Two judges who are the same count as two: z is larger by the root of 2.
    assert 2 * stats.norm.sf(found.tau.z / math.sqrt(2)) == pytest.approx(oracle.pvalue, rel=1e-9)


@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_exact_intervals_agree_with_scipy(level: float) -> None:
    for total in (1, 7, 50):
        for count in range(0, total + 1, max(1, total // 7)):
            oracle = stats.binomtest(count, total).proportion_ci(level, method="exact")
            found = sf.exact_proportion(count, total, confidence_level=level)
            assert (found.lower, found.upper) == pytest.approx((oracle.low, oracle.high), abs=1e-10)


# -- a study ------------------------------------------------------------------------------------------------------------


def test_a_study_counts_what_a_loop_counts() -> None:
    rows = study_table(parts=25)
    found = study(rows)
    seen = list(zip(*(rows[name] for name in ("panel", "who", "grade", "known")), strict=True))
    for one in found.appraisers:
        own = [(panel, grade, known) for panel, who, grade, known in seen if who == one.appraiser]
        grades = {panel: [g for p, g, _ in own if p == panel] for panel, _, _ in own}
        truth = {panel: known for panel, _, known in own}
        assert one.consistent is not None
        assert one.effective is not None
        assert one.right is not None
        assert one.miss is not None
        assert one.false_alarm is not None
        assert one.consistent.count == sum(len(set(g)) == 1 for g in grades.values())
        assert one.effective.count == sum(set(g) == {truth[p]} for p, g in grades.items())
        assert one.right.count == sum(g == k for _, g, k in own)
        assert one.miss.count == sum(k != "ok" and g == "ok" for _, g, k in own)
        assert one.miss.total == sum(k != "ok" for _, _, k in own)
        assert one.false_alarm.count == sum(k == "ok" and g != "ok" for _, g, k in own)
        pairs = [(g, k) for _, g, k in own]
        kappa = sf.cohen_kappa_ratings([g for g, _ in pairs], [k for _, k in pairs], categories=GRADES)
        assert one.with_reference is not None
        assert one.with_reference.value == pytest.approx(kappa.kappa.value, rel=1e-12)
        assert one.with_reference.se == pytest.approx(kappa.kappa.se, rel=1e-9)
    judged = [[g for p, _, g, _ in seen if p == panel] for panel in dict.fromkeys(rows["panel"])]
    counts = [[row.count(kind) for kind in sorted(GRADES)] for row in judged]
    between, plain = found.between, sf.fleiss_kappa(counts).kappa
    assert between is not None
    assert (between.value, between.se, between.se_null) == pytest.approx((plain.value, plain.se, plain.se_null), rel=1e-12)
    assert found.with_reference is not None
    each = []
    for who in "ABC":
        for run in "01":
            own = [(g, k) for (_, w, g, k), r in zip(seen, rows["run"], strict=True) if (w, r) == (who, run)]
            each.append(inter_rater.fleiss_kappa([[pair.count(kind) for kind in GRADES] for pair in own]))
    assert found.with_reference.value == pytest.approx(np.mean(each), rel=1e-9)


def test_rows_in_any_order_and_trials_without_numbers_give_the_same_rates() -> None:
    rows = study_table()
    mixed = np.random.default_rng(2).permutation(len(rows["grade"]))
    again = study({name: [column[i] for i in mixed] for name, column in rows.items()})
    by_name = {one.appraiser: one for one in again.appraisers}
    plain = study(rows, trial=None)
    for one, two in zip(study(rows).appraisers, plain.appraisers, strict=True):
        assert by_name[one.appraiser].effective == one.effective == two.effective
        assert by_name[one.appraiser].miss == one.miss == two.miss


def test_the_verdict_names_the_appraiser_who_is_right_least_often() -> None:
    found = study(study_table(parts=40))
    shares = {one.appraiser: one.effective.share for one in found.appraisers if one.effective}
    worst = min(shares, key=lambda who: shares[who])
    assert f"least often {worst}:" in found.sentence()
    assert "misses at most" in found.sentence()


def test_one_category_only_is_an_answer() -> None:
    rows = study_table(people=2)
    rows["grade"] = ["ok"] * len(rows["grade"])
    found = study(rows, reference=None, rejected=())
    assert found.between is not None
    assert math.isnan(found.between.value)
    assert "all judgements fall in one category, so that kappa is not defined" in found.sentence()
    same = sf.cohen_kappa_ratings(["ok", "ok"], ["ok", "ok"])
    assert math.isnan(same.kappa.value)
    assert "Kappa is not defined" in same.sentence()


def test_one_appraiser_once_without_reference_has_nothing_to_compare() -> None:
    found = study(study_table(people=1, trials=1), reference=None, rejected=())
    assert found.between is None
    assert "nothing to compare" in found.sentence()


def test_missing_judgements_are_refused_or_take_their_part_along() -> None:
    rows = study_table()
    rows["grade"][3] = None
    with pytest.raises(sf.DataProblemsError, match=r"column 'grade', row 4: judgement is missing"):
        study(rows)
    with pytest.warns(sf.MissingDataWarning, match="1 part left out"):
        found = study(rows, missing="drop")
    assert found.part_count == 11
    assert found.made.missing_rows == (1, 2, 3, 4, 5, 6)
    with pytest.raises(sf.DataProblemsError, match=r"column 'judge_2', row 2: judgement is missing"):
        sf.cohen_kappa_ratings(["a", "b"], ["a", None])
    with pytest.warns(sf.MissingDataWarning):
        assert sf.cohen_kappa_ratings(["a", "b", "a"], ["a", None, "b"], missing="drop").made.missing_rows == (2,)


def _without(rows: dict[str, list[Any]], row: int) -> dict[str, list[Any]]:
    return {name: column[:row] + column[row + 1 :] for name, column in rows.items()}


def _with(rows: dict[str, list[Any]], name: str, row: int, value: Any) -> dict[str, list[Any]]:
    return rows | {name: [value if i == row else x for i, x in enumerate(rows[name])]}


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: study(_without(study_table(), 4)), "'C' judged part 'P0' 1 time, others up to 2"),
        (lambda: study(_with(study_table(), "run", 4, "9")), "must number the same 2 trials"),
        (lambda: study(_with(study_table(), "known", 4, "ok")), "has two references"),
        (lambda: study(study_table(), categories=["ok", "strip"]), "is none of the categories"),
        (lambda: study(study_table(), rejected=["burn"]), "rejected names 'burn'"),
        (lambda: study({name: [] for name in study_table()}), "holds no judgement"),
        (lambda: study(study_table(), reference="truth"), "nearest names|columns present"),
        (lambda: sf.cohen_kappa([[1, 2], [3]]), "rows of one length"),
        (lambda: sf.cohen_kappa([[1, 2.5], [3, 4]]), r"table, row 1, column 2: 2.5 is not a whole number"),
        (lambda: sf.cohen_kappa([[1, "many"], [3, 4]]), r"row 1, column 2: 'many' is not a number"),
        (lambda: sf.cohen_kappa([[1, 2], [3, 4]], weights="cubic"), "'linear', 'quadratic' or a matrix"),
        (lambda: sf.cohen_kappa([[1, 2], [3, 4]], categories=["a"]), "2 different names"),
        (lambda: sf.cohen_kappa_ratings(["a"], ["a", "b"]), "judge_2 has 2 judgements, judge_1 has 1"),
        (lambda: sf.cohen_kappa_ratings(["a", "b"], ["a", "b"], weights="linear"), "weights need categories"),
        (lambda: sf.cohen_kappa_ratings(["a"], ["c"], categories=["a", "b"]), "is none of the categories"),
        (lambda: sf.cohen_kappa_ratings([], []), "categories must be 2 or more"),
        (lambda: sf.fleiss_kappa([[1, 0], [0, 1]]), "two judgements or more"),
        (lambda: sf.fleiss_kappa([]), "rows of one length"),
        (lambda: sf.kendall_w([[1, 2], [2, 1]], reference=[1, 2, 3]), "reference needs 2 elements"),
        (lambda: sf.exact_proportion(-1, 5), "must not be negative"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


@pytest.mark.parametrize("kind", ["pandas", "polars", "pyarrow"])
def test_any_table_comes_back_in_its_kind(kind: str) -> None:
    from steadyfilm._input import make_table

    rows = study_table()
    found = study(make_table({name: np.array(column) for name, column in rows.items()}, kind))
    assert type(found.to_frame()).__module__.startswith(kind)
    assert found.appraisers == study(rows).appraisers


# -- picture ------------------------------------------------------------------------------------------------------------


def test_the_picture_draws_each_share_with_its_interval() -> None:
    found = study(study_table())
    drawn = found.plot()
    assert drawn.title == found.sentence()
    expected = [
        100 * getattr(one, kind).share for kind in ("consistent", "effective", "miss", "false_alarm") for one in found.appraisers
    ]
    assert drawn.data["share"].tolist() == pytest.approx(expected)
    assert (drawn.data["lower"] <= drawn.data["share"]).all()
    assert (drawn.data["share"] <= drawn.data["upper"]).all()
    segments = drawn.artists["intervals"].get_segments()
    assert [segment[1][0] for segment in segments] == pytest.approx(drawn.data["upper"].tolist())
    marked = [x for line in drawn.artists["marks"] for x in line.get_xdata()]
    assert marked == pytest.approx(expected)
