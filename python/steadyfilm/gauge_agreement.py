"""Agreement of judgements: do appraisers judge alike, like themselves, and like the reference?"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._agreement_parts import (
    Agreement,
    Proportion,
    against_chance,
    agreement_steps,
    code_matrix,
    interval_text,
    number_matrix,
    percent,
)
from steadyfilm._agreement_study import AgreementStudy, AppraiserAgreement, PairAgreement, agreement_study
from steadyfilm._balanced import label_words
from steadyfilm._format import number, plural
from steadyfilm._input import column_of
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError, MissingDataWarning

__all__ = [
    "Agreement",
    "AgreementStudy",
    "AppraiserAgreement",
    "CohenKappa",
    "FleissKappa",
    "KendallW",
    "PairAgreement",
    "Proportion",
    "agreement_study",
    "cohen_kappa",
    "cohen_kappa_ratings",
    "exact_proportion",
    "fleiss_kappa",
    "kendall_w",
]

_PAGE = "cpp/methods/gauge_agreement.md"


@dataclass(frozen=True, eq=False, repr=False)
class CohenKappa(Result):
    """Two judges of the same subjects; shares and coefficients, without unit.

    Attributes
    ----------
    count : int
        Subjects.
    observed_agreement, expected_agreement : float
        Share on which the judges agree, and that on which chance would make judges with their habits agree; weighted when
        disagreements differ in weight.
    kappa : Agreement
        NaN when both judges use one and the same category alone.
    se_cohen_1960 : float
        The older, rougher standard error.
    table : array
        Counts: a row a category of the first judge, a column a category of the second.
    categories : tuple of str
        In the order of the table.
    weights : tuple of float
        Disagreement weights, row by row; empty when all disagreements count alike.
    """

    count: int
    observed_agreement: float
    expected_agreement: float
    kappa: Agreement
    se_cohen_1960: float
    table: NDArray[np.int64]
    categories: tuple[str, ...]
    weights: tuple[float, ...]

    def sentence(self) -> str:
        level, subject = self.made.options["confidence_level"], self.made.options["subject"]
        same = int(np.trace(self.table))
        head = f"the two judges agree on {same} of {plural(self.count, subject)} ({percent(same / self.count)})"
        if math.isnan(self.kappa.value):
            return (
                f"Kappa is not defined: both judges put every {subject} in one and the same category, which chance would do too."
            )
        chance = f"chance alone would give {percent(self.expected_agreement)}"
        if self.weights:
            chance = f"weighted, {percent(self.observed_agreement)}, of which {chance}"
        text = f"Agreement {against_chance(self.kappa)}: {head}; {chance}; kappa {interval_text(self.kappa, level)}"
        if math.isnan(self.kappa.z):
            text += "; one judge used one category only, so that kappa cannot differ from 0"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        columns: dict[str, Any] = {"first_judge": list(self.categories)}
        for j, name in enumerate(self.categories):
            columns[f"second_judge_{name}"] = self.table[:, j]
        return columns

    def explain(self) -> Explanation:
        size = len(self.categories)
        weights = np.array(self.weights).reshape(size, size) if self.weights else 1.0 - np.eye(size)
        disagreement = {
            "weighted_disagreement": float((weights * self.table).sum()),
            "largest_weight": float(weights.max()),
            "count": float(self.count),
        }
        rule = "1 - weighted_disagreement / largest_weight / count"
        steps = [Step("observed_agreement", rule, disagreement, self.observed_agreement)]
        if math.isfinite(self.kappa.value):
            inputs = {"observed_agreement": self.observed_agreement, "expected_agreement": self.expected_agreement}
            formula = "1 - (1 - observed_agreement) / (1 - expected_agreement)"
            steps.append(Step("kappa_value", formula, inputs, self.kappa.value))
            older = "sqrt(observed_agreement * (1 - observed_agreement) / count) / (1 - expected_agreement)"
            steps.append(Step("se_cohen_1960", older, {**inputs, "count": float(self.count)}, self.se_cohen_1960))
        steps += agreement_steps("kappa", self.kappa, self.made.options["confidence_level"])
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "weights": "of disagreements, 0 where the judges agree"
                if self.weights
                else "none: all disagreements count alike",
                "categories": ", ".join(self.categories),
                "se_null": "for the test against chance; se for the interval",
                "repeats": "subjects count as independent; repeated judgements of one subject make the errors too small",
                "coverage": "in simulated studies a 95 % interval held the true kappa 92.4 % of the time with 30 subjects, "
                "94.4 % with 100: with few subjects it is somewhat too narrow",
            },
            sources=(
                _PAGE,
                "Cohen, Educational and Psychological Measurement 20 (1960); Psychological Bulletin 70 (1968)",
                "Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969)",
            ),
        )


@dataclass(frozen=True, eq=False, repr=False)
class FleissKappa(Result):
    """Several judgements of each subject; shares and coefficients, without unit.

    ``category`` holds one coefficient a category, that category against all others, NaN for a category that was never or always
    used; ``category_share`` is its share of all judgements. ``se_1971`` and ``z_1971`` are by Fleiss' older formula.
    ``kappa_free_marginal`` takes all categories as equally likely by chance.
    """

    subjects: int
    judgements: int
    observed_agreement: float
    expected_agreement: float
    kappa: Agreement
    category: tuple[Agreement, ...]
    category_share: NDArray[np.float64]
    se_1971: float
    z_1971: float
    kappa_free_marginal: float
    agreeing_pairs: int
    categories: tuple[str, ...]

    def sentence(self) -> str:
        level, subject = self.made.options["confidence_level"], self.made.options["subject"]
        head = f"{self.judgements} judgements of each of {plural(self.subjects, subject)}"
        if math.isnan(self.kappa.value):
            return f"Kappa is not defined: {head} all fall in one category, which chance would do too."
        text = f"Agreement {against_chance(self.kappa)}: in {head}, {percent(self.observed_agreement)} of pairs agree"
        text += f", by chance {percent(self.expected_agreement)}; kappa {interval_text(self.kappa, level)}"
        known = [i for i, one in enumerate(self.category) if math.isfinite(one.value)]
        if len(known) > 2:
            low = min(known, key=lambda i: self.category[i].value)
            text += f"; judges agree least about {self.categories[low]} (kappa {number(self.category[low].value, 3)})"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        every = [self.kappa, *self.category]
        columns: dict[str, Any] = {
            "category": ["all", *self.categories],
            "share": [1.0, *self.category_share.tolist()],
            "kappa": [one.value for one in every],
        }
        for name in ("lower", "upper", "se", "se_null", "z", "p"):
            columns[name] = [getattr(one, name) for one in every]
        return columns

    def explain(self) -> Explanation:
        pairs = self.subjects * self.judgements * (self.judgements - 1) / 2
        counted = {"agreeing_pairs": float(self.agreeing_pairs), "pairs": pairs}
        steps = [Step("observed_agreement", "agreeing_pairs / pairs", counted, self.observed_agreement)]
        if math.isfinite(self.kappa.value):
            inputs = {"observed_agreement": self.observed_agreement, "expected_agreement": self.expected_agreement}
            formula = "(observed_agreement - expected_agreement) / (1 - expected_agreement)"
            steps.append(Step("kappa_value", formula, inputs, self.kappa.value))
        level, least = self.made.options["confidence_level"], -1.0 / (self.judgements - 1)
        steps += agreement_steps("kappa", self.kappa, level, least=least)
        free = {"observed_agreement": self.observed_agreement, "categories": float(len(self.categories))}
        rule = "(observed_agreement - 1 / categories) / (1 - 1 / categories)"
        steps.append(Step("kappa_free_marginal", rule, free, self.kappa_free_marginal))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "categories": ", ".join(self.categories),
                "expected_agreement": "sum of the squared shares of the categories",
                "se_null": "for the test against chance (1979); se for the interval, from how subjects differ",
                "subjects": "count as a sample; the judges as they are",
                "coverage": "in simulated studies a 95 % interval held the true kappa 92.6 % of the time with 20 subjects, "
                "95 % with 50: with few subjects it is somewhat too narrow",
            },
            sources=(
                _PAGE,
                "Fleiss, Psychological Bulletin 76 (1971)",
                "Fleiss, Nee and Landis, Psychological Bulletin 86 (1979)",
            ),
        )


@dataclass(frozen=True, eq=False, repr=False)
class KendallW(Result):
    """Rankings or ordered grades of the same subjects by several judges, without unit.

    ``w`` is corrected for ties, ``w_uncorrected`` is not; 1 is full concordance. ``chi_square`` tests against ranking at random.
    ``se`` and the interval come from leaving out one subject at a time. ``tau`` is the mean of the judges' rank correlations with
    a reference, ``judge_tau`` each judge's; None without a reference.
    """

    subjects: int
    judges: int
    w_uncorrected: float
    w: float
    chi_square: float
    degrees_of_freedom: float
    p: float
    se: float
    lower: float
    upper: float
    sum_squares: float
    tie_correction: float
    rank_sum: NDArray[np.float64]
    tau: Agreement | None
    judge_tau: NDArray[np.float64] | None

    def sentence(self) -> str:
        subject, level = self.made.options["subject"], self.made.options["confidence_level"]
        head = f"{self.judges} judges and {plural(self.subjects, subject)}"
        if math.isnan(self.w):
            return f"Concordance is not defined: each of {self.judges} judges ties all {plural(self.subjects, subject)}."
        alike = "alike" if self.p < 0.05 else "no more alike than chance explains"
        bounds = "" if math.isnan(self.se) else f" ({number(100 * level)} % {number(self.lower, 3)} to {number(self.upper, 3)})"
        chance = "below 0.001" if self.p < 0.001 else number(self.p, 2)
        text = f"The judges rank {alike}: {head}, Kendall's W {number(self.w, 3)}{bounds}, p {chance}"
        if self.tau is not None:
            text += f"; with the reference, rank correlation {interval_text(self.tau, level)}"
            text += " is not defined" if math.isnan(self.tau.value) else ""
        return text + "."

    def _columns(self) -> dict[str, Any]:
        mean = self.rank_sum / self.judges
        return {"subject": np.arange(1, self.subjects + 1), "rank_sum": self.rank_sum, "mean_rank": mean}

    def explain(self) -> Explanation:
        sizes = {"judges": float(self.judges), "subjects": float(self.subjects)}
        most = "judges * judges * (subjects * subjects * subjects - subjects)"
        squares = {"sum_squares": self.sum_squares, **sizes}
        steps = [Step("w_uncorrected", f"12 * sum_squares / ({most})", squares, self.w_uncorrected)]
        if math.isfinite(self.w):
            inputs = {**squares, "tie_correction": self.tie_correction}
            steps.append(Step("w", f"12 * sum_squares / ({most} - judges * tie_correction)", inputs, self.w))
            steps.append(Step("chi_square", "judges * (subjects - 1) * w", {**sizes, "w": self.w}, self.chi_square))
        level = self.made.options["confidence_level"]
        if math.isfinite(self.se):
            reach = {"w": self.w, "t_quantile": _core.student_t_quantile(0.5 + 0.5 * level, self.subjects - 1.0), "se": self.se}
            steps.append(Step("lower", "max(0, w - t_quantile * se)", reach, self.lower))
            steps.append(Step("upper", "min(1, w + t_quantile * se)", reach, self.upper))
        if self.tau is not None:
            steps += agreement_steps("tau", self.tau, level, least=-1.0)
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "ranks": "from each judge's grades; equal grades share their mean rank",
                "tie_correction": "sum of t^3 - t over all groups of t equal grades",
                "interval": "leaving out one subject at a time, Student t on one less than the subjects; rough below ten",
                "coverage": "in simulated studies a 95 % interval held the true W 94.1 % of the time with 10 subjects, "
                "94.9 to 95.4 % with 30",
                "p": "by chi-square; rough below seven subjects",
            },
            sources=(_PAGE, "Kendall, Rank Correlation Methods (1948); Siegel, Nonparametric Statistics (1956)"),
        )


def cohen_kappa(
    table: Any,
    *,
    categories: Sequence[str] | None = None,
    weights: Any = None,
    confidence_level: float = 0.95,
    subject: str = "subject",
) -> CohenKappa:
    """Agreement of two judges beyond chance, from the table of their judgements.

    Parameters
    ----------
    table : matrix of whole numbers
        Rows are the first judge's categories, columns the second's, in the same order.
    categories : sequence of str, optional
        Their names; by default 1, 2, 3 ...
    weights : {"linear", "quadratic"} or matrix, optional
        How much each disagreement weighs: by the distance of ordered categories, by its square, or as given, 0 where the judges
        agree. By default all disagreements weigh alike.
    subject : str
        What one judged thing is called, for texts: ``"panel"``.

    Raises
    ------
    InvalidInputError
        A table that is not square, is empty or holds anything but counts; weights out of their domain.

    Notes
    -----
    Standard errors of Fleiss, Cohen and Everitt (1969); formulas in cpp/methods/gauge_agreement.md.

    Examples
    --------
    >>> print(cohen_kappa([[44, 6], [3, 97]], subject="panel").sentence())
    Agreement is better than chance explains: the two judges agree on 141 of 150 panels (94 %); chance alone would give 56.2 %; \
kappa 0.863 (95 % 0.776 to 0.95).
    """
    counts = code_matrix(table, "table")
    names = _category_names(categories, counts.shape[1])
    return _cohen(counts, names, weights, confidence_level, subject, "cohen_kappa", (), "dict")


def cohen_kappa_ratings(
    judge_1: Any,
    judge_2: Any,
    *,
    data: Any = None,
    categories: Sequence[str] | None = None,
    weights: Any = None,
    confidence_level: float = 0.95,
    subject: str = "subject",
    missing: str = "error",
) -> CohenKappa:
    """Agreement of two judges beyond chance, from their judgements subject by subject.

    Parameters
    ----------
    judge_1, judge_2 : column name or sequence of labels
        One judgement a subject, in the same order; names are columns of ``data``.
    categories : sequence of str, optional
        All categories in order; by default those that occur. Weights by distance need it.
    weights, confidence_level, subject
        As in ``cohen_kappa``.
    missing : {"error", "drop"}
        A subject that a judge did not judge is refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing judgements, or such as are none of ``categories``; with column, row and value.

    Examples
    --------
    >>> found = cohen_kappa_ratings(["run", "ok", "ok", "ok"], ["run", "ok", "run", "ok"])
    >>> found.kappa.value, found.table.tolist(), found.categories
    (0.5, [[2, 1], [0, 1]], ('ok', 'run'))
    """
    if missing not in ("error", "drop"):
        raise InvalidInputError(f"missing must be 'error' or 'drop', got {missing!r}", argument="missing")
    named = [item if isinstance(item, str) else f"judge_{k}" for k, item in ((1, judge_1), (2, judge_2))]
    words = [
        label_words(column_of(data, item) if isinstance(item, str) else item, name)
        for item, name in zip((judge_1, judge_2), named, strict=True)
    ]
    if words[0].size != words[1].size:
        raise InvalidInputError(f"judge_2 has {words[1].size} judgements, judge_1 has {words[0].size}", argument="judge_2")
    gone = [DataProblem(name, i + 1, "", "judgement is missing") for name, w in zip(named, words, strict=True)
            for i, word in enumerate(w) if word is None]  # fmt: skip
    if gone and missing == "error":
        raise DataProblemsError(gone, advice="Fill them in, or write missing='drop' to leave these subjects out.")
    missing_rows = tuple(sorted({problem.row for problem in gone}))
    if missing_rows:
        text = f"{plural(len(missing_rows), 'subject')} without both judgements left out (missing='drop')"
        warnings.warn(text, MissingDataWarning, stacklevel=2)
    pairs = [(a, b) for a, b in zip(*words, strict=True) if a is not None and b is not None]
    if weights is not None and categories is None:
        raise InvalidInputError("weights need categories, in their order: how far apart are they?", argument="categories")
    used = {word for pair in pairs for word in pair}
    names = _category_names(sorted(used, key=_order) if categories is None else categories, None)
    strange = [
        DataProblem(name, i + 1, repr(word), "is none of the categories")
        for name, w in zip(named, words, strict=True)
        for i, word in enumerate(w)
        if word is not None and word not in names
    ]
    if strange:
        raise DataProblemsError(strange, advice=f"Categories: {', '.join(names)}.")
    if len(names) == 1:
        names = (*names, "any other")
    code = {name: i for i, name in enumerate(names)}
    columns = [np.array([code[pair[k]] for pair in pairs], dtype=np.int64) for k in (0, 1)]
    counts = _core.agreement_table(columns[0], columns[1], len(names)).reshape(len(names), len(names))
    return _cohen(counts, names, weights, confidence_level, subject, "cohen_kappa_ratings", missing_rows, "dict")


def fleiss_kappa(
    counts: Any, *, categories: Sequence[str] | None = None, confidence_level: float = 0.95, subject: str = "subject"
) -> FleissKappa:
    """Agreement beyond chance of several judgements of each subject, over all categories and in each.

    Parameters
    ----------
    counts : matrix of whole numbers
        One row a subject, one column a category: how many judgements put the subject there; all rows have the same sum.
    categories : sequence of str, optional
        Their names; by default 1, 2, 3 ...
    subject : str
        What one judged thing is called, for texts.

    Raises
    ------
    InvalidInputError
        Fewer than two judgements a subject, rows whose sums differ, anything but counts.

    Notes
    -----
    Null standard errors of Fleiss, Nee and Landis (1979), interval by linearization over the subjects; formulas in
    cpp/methods/gauge_agreement.md. ``agreement_study`` starts from single judgements.

    Examples
    --------
    >>> found = fleiss_kappa([[7, 1], [3, 5]])
    >>> round(found.kappa.value, 6), round(found.kappa_free_marginal, 6)
    (0.161905, 0.214286)
    """
    matrix = code_matrix(counts, "counts")
    names = _category_names(categories, matrix.shape[1])
    found = _core.fleiss_kappa(matrix.reshape(-1), matrix.shape[1], confidence_level)
    options = {"confidence_level": confidence_level, "subject": subject}
    made = Made("fleiss_kappa", "", int(matrix.sum()), options=options, version=_core.version)
    return build(
        FleissKappa,
        {**found, "category": tuple(build(Agreement, one) for one in found["category"])},
        agreeing_pairs=int((matrix * (matrix - 1)).sum()) // 2,
        categories=names,
        made=made,
    )


def kendall_w(
    ratings: Any, *, reference: Sequence[float] | None = None, confidence_level: float = 0.95, subject: str = "subject"
) -> KendallW:
    """Concordance of several judges who rank or grade the same subjects.

    Parameters
    ----------
    ratings : matrix
        One row a subject, one column a judge: ranks, or grades that have an order.
    reference : sequence of float, optional
        Known rank or grade of each subject; adds each judge's rank correlation (Kendall's tau-b) with it, and their mean.
    subject : str
        What one judged thing is called, for texts.

    Raises
    ------
    InvalidInputError
        Fewer than two subjects or judges, a grade that is no finite number, a reference of another length.

    Examples
    --------
    >>> found = kendall_w([[1, 1, 6], [6, 5, 3], [3, 6, 2], [2, 4, 5], [5, 2, 4], [4, 3, 1]])
    >>> round(found.w, 4), found.rank_sum.tolist()
    (0.1619, [8.0, 14.0, 11.0, 11.0, 11.0, 8.0])
    """
    matrix = number_matrix(ratings, "ratings")
    flat, judges = np.ascontiguousarray(matrix.reshape(-1)), matrix.shape[1]
    found = _core.kendall_w(flat, judges, confidence_level)
    tau: Agreement | None = None
    judge_tau = None
    if reference is not None:
        known = number_matrix([[item] for item in reference], "reference").reshape(-1)
        against = _core.kendall_tau_with_reference(flat, judges, known, confidence_level)
        tau, judge_tau = build(Agreement, against["tau"]), against["judge"]
    options = {"confidence_level": confidence_level, "subject": subject}
    made = Made("kendall_w", "", int(matrix.size), options=options, version=_core.version)
    return build(KendallW, found, tau=tau, judge_tau=judge_tau, made=made)


def exact_proportion(count: int, total: int, *, confidence_level: float = 0.95) -> Proportion:
    """A share with its exact binomial interval.

    Examples
    --------
    >>> found = exact_proportion(45, 50)
    >>> found.share, round(found.lower, 4), round(found.upper, 4)
    (0.9, 0.7819, 0.9667)
    """
    if min(count, total) < 0:
        raise InvalidInputError(f"count and total must not be negative, got {count} of {total}", argument="count")
    return build(Proportion, _core.exact_proportion(count, total, confidence_level))


def _cohen(
    counts: NDArray[np.int64],
    names: tuple[str, ...],
    weights: Any,
    confidence_level: float,
    subject: str,
    function: str,
    missing_rows: tuple[int, ...],
    frame: str,
) -> CohenKappa:
    size = len(names)
    if isinstance(weights, str):
        powers = {"linear": 1.0, "quadratic": 2.0}
        if weights not in powers:
            raise InvalidInputError(f"weights must be 'linear', 'quadratic' or a matrix, got {weights!r}", argument="weights")
        flat = _core.distance_weights(size, powers[weights])
    else:
        flat = np.empty(0) if weights is None else np.ascontiguousarray(number_matrix(weights, "weights").reshape(-1))
    found = _core.cohen_kappa(np.ascontiguousarray(counts.reshape(-1)), size, confidence_level, flat)
    options = {"confidence_level": confidence_level, "subject": subject}
    made = Made(function, "", int(counts.sum()), missing_rows, frame, options, _core.version)
    return build(CohenKappa, found, table=counts, categories=names, weights=tuple(flat.tolist()), made=made)


def _category_names(given: Sequence[str] | None, count: int | None) -> tuple[str, ...]:
    names = tuple(str(i + 1) for i in range(count or 0)) if given is None else tuple(str(name) for name in given)
    if len(set(names)) < len(names) or (count is not None and len(names) != count):
        wanted = "different names" if count is None else f"{count} different names, one a column"
        raise InvalidInputError(f"categories needs {wanted}, got {list(names)}", argument="categories")
    return names


def _order(word: str) -> tuple[int, float, str]:
    """Numbers by size before words by letters."""
    try:
        return 0, float(word), word
    except ValueError:
        return 1, 0.0, word
