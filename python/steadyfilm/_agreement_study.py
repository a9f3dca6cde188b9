"""A study of judgements: several appraisers judge the same parts, perhaps more than once, perhaps with a known reference."""

from __future__ import annotations

import itertools
import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._agreement_parts import (
    Agreement,
    Proportion,
    against_chance,
    agreement_steps,
    interval_text,
    percent,
    proportion_text,
)
from steadyfilm._balanced import label_words
from steadyfilm._format import number, plural
from steadyfilm._input import table
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError, MissingDataWarning

__all__ = ["AgreementStudy", "AppraiserAgreement", "PairAgreement", "agreement_study"]

Codes = NDArray[np.int64]


@dataclass(frozen=True)
class AppraiserAgreement:
    """One appraiser; what the study cannot tell is None.

    Attributes
    ----------
    consistent : Proportion
        Parts judged alike in all trials; None for a single trial.
    effective : Proportion
        Parts judged as the reference says in all trials.
    right, miss, false_alarm : Proportion
        Decisions that match the reference; those that accept a part to reject; those that reject a part to accept.
    with_self, with_reference : Agreement
        Fleiss' kappa of the trials with one another; Cohen's kappa of all decisions with the reference.
    """

    appraiser: str
    consistent: Proportion | None
    effective: Proportion | None
    right: Proportion | None
    miss: Proportion | None
    false_alarm: Proportion | None
    with_self: Agreement | None
    with_reference: Agreement | None


@dataclass(frozen=True)
class PairAgreement:
    """Two appraisers, trial by trial: decisions that are the same, and Cohen's kappa."""

    first: str
    second: str
    same: Proportion
    kappa: Agreement


@dataclass(frozen=True, eq=False, repr=False)
class AgreementStudy(Result):
    """Judgements of the same parts by several appraisers.

    Attributes
    ----------
    appraisers : tuple of AppraiserAgreement
    pairs : tuple of PairAgreement
    between : Agreement
        Fleiss' kappa over all judgements of a part, by whomever; None for a single judgement a part.
    between_category : tuple of Agreement
        The same, one category against all others.
    with_reference : Agreement
        Mean of Fleiss' kappa of each appraiser and trial with the reference; None without one.
    with_reference_category : tuple of Agreement
    categories : tuple of str
    part_count, trial_count, appraiser_count, judgement_count : int
    """

    _plot: ClassVar[str] = "gauge_agreement:plot_rates"

    appraisers: tuple[AppraiserAgreement, ...]
    pairs: tuple[PairAgreement, ...]
    between: Agreement | None
    between_category: tuple[Agreement, ...]
    with_reference: Agreement | None
    with_reference_category: tuple[Agreement, ...]
    categories: tuple[str, ...]
    part_count: int
    trial_count: int
    appraiser_count: int
    judgement_count: int

    def sentence(self) -> str:
        level, part = self.made.options["confidence_level"], self.made.options["part_word"]
        head = f"{plural(self.appraiser_count, 'appraiser')}, {plural(self.part_count, part)}"
        head += f", {plural(self.trial_count, 'trial')}"
        clauses = []
        for kind, said in (("effective", "right"), ("consistent", "like themselves")):
            rated = [(one.appraiser, share) for one in self.appraisers if (share := getattr(one, kind)) is not None]
            if not rated:
                continue
            worst = min(rated, key=lambda pair: pair[1].share)
            best = max(rated, key=lambda pair: pair[1].share)
            where = {1: "", 2: " in both trials"}.get(self.trial_count, f" in all {self.trial_count} trials")
            who = f"least often {worst[0]}: " if best[0] != worst[0] else f"{worst[0]}: "
            text = f"judged {said}{where}, {who}{proportion_text(worst[1])}"
            if best[0] != worst[0]:
                text += f"; most often {best[0]}: {proportion_text(best[1])}"
            clauses.append(text)
            break
        for kind, said in (("miss", "misses"), ("false_alarm", "false alarms")):
            rated = [(one.appraiser, share) for one in self.appraisers if (share := getattr(one, kind)) and share.total]
            if rated:
                who, most = max(rated, key=lambda pair: pair[1].share)
                clauses.append(f"{said} at most {percent(most.share)} ({who}, {most.count} of {most.total})")
        if self.between is not None and math.isfinite(self.between.value):
            clauses.append(
                f"agreement of all judgements {against_chance(self.between)}, kappa {interval_text(self.between, level)}"
            )
        elif self.between is not None:
            clauses.append("all judgements fall in one category, so that kappa is not defined")
        return f"{head}: {'; '.join(clauses) or 'one judgement a part and no reference, nothing to compare'}."

    def _columns(self) -> dict[str, Any]:
        columns: dict[str, Any] = {"appraiser": [one.appraiser for one in self.appraisers]}
        for kind in ("consistent", "effective", "right", "miss", "false_alarm"):
            found = [getattr(one, kind) for one in self.appraisers]
            if all(share is None for share in found):
                continue
            for field in ("count", "total", "share", "lower", "upper"):
                columns[f"{kind}_{field}"] = [getattr(share, field) for share in found]
        for kind in ("with_self", "with_reference"):
            kappas = [getattr(one, kind) for one in self.appraisers]
            if all(kappa is not None for kappa in kappas):
                for field, name in (("value", "kappa"), ("lower", "kappa_lower"), ("upper", "kappa_upper")):
                    columns[f"{kind}_{name}"] = [getattr(kappa, field) for kappa in kappas]
        return columns

    def explain(self) -> Explanation:
        level = self.made.options["confidence_level"]
        counted = {
            "appraisers": float(self.appraiser_count),
            "parts": float(self.part_count),
            "trials": float(self.trial_count),
        }
        steps = [Step("judgement_count", "appraisers * parts * trials", counted, self.judgement_count)]
        for k, one in enumerate(self.appraisers, 1):
            for kind in ("consistent", "effective", "right", "miss", "false_alarm"):
                share = getattr(one, kind)
                if share is not None and share.total:
                    inputs = {"count": float(share.count), "total": float(share.total)}
                    steps.append(Step(f"appraiser_{k}_{kind}", "count / total", inputs, share.share))
        for name in ("between", "with_reference"):
            kappa = getattr(self, name)
            if kappa is not None:
                judged = self.appraiser_count * self.trial_count
                steps += agreement_steps(name, kappa, level, least=-1.0 / (judged - 1) if name == "between" else -1.0)
        choices = {
            "rates": f"{number(100 * level)} % exact binomial intervals (Clopper and Pearson)",
            "appraisers": ", ".join(one.appraiser for one in self.appraisers),
            "rejected": ", ".join(self.made.options["rejected"]) or "not given: no misses, no false alarms",
        }
        if self.trial_count > 1:
            choices["trials"] = (
                "intervals of decisions (right, miss, false_alarm) and kappas of pairs count every trial by itself; trials on "
                "one part are alike, so that these are narrower than they should be; those of whole parts are not"
            )
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices=choices,
            sources=("cpp/methods/gauge_agreement.md", "Clopper and Pearson, Biometrika 26 (1934)"),
        )


def agreement_study(
    data: Any,
    judgement: str,
    *,
    part: str,
    appraiser: str,
    trial: str | None = None,
    reference: str | None = None,
    rejected: Sequence[str] = (),
    categories: Sequence[str] | None = None,
    confidence_level: float = 0.95,
    part_word: str = "part",
    missing: str = "error",
) -> AgreementStudy:
    """How appraisers' judgements agree: with themselves, with one another, with the reference.

    Parameters
    ----------
    data : table
        One row a judgement.
    judgement, part, appraiser : str
        Columns: the category given, what was judged, who judged.
    trial : str, optional
        Column that numbers repeated judgements; by default in the order of the rows.
    reference : str, optional
        Column with the known category of the part.
    rejected : sequence of str
        Categories that send a part back. With a reference they give misses (a part to reject accepted) and false alarms.
    categories : sequence of str, optional
        All categories that could be given; by default those that occur.
    part_word : str
        What one judged thing is called, for texts: ``"panel"``.
    missing : {"error", "drop"}
        Missing judgements are refused; or all judgements of such a part are left out, and its rows counted in
        ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing labels, categories that are not among those named, a part with two references; with column, row and value.
    InvalidInputError
        Judgements that are not balanced: each appraiser must judge each part equally often.

    Examples
    --------
    >>> rows = {
    ...     "panel": ["1", "1", "2", "2", "3", "3"],
    ...     "who": ["Ada", "Ben"] * 3,
    ...     "grade": ["ok", "ok", "run", "ok", "run", "run"],
    ...     "known": ["ok", "ok", "run", "run", "run", "run"],
    ... }
    >>> found = agreement_study(rows, "grade", part="panel", appraiser="who", reference="known", rejected=["run"])
    >>> [(one.appraiser, one.effective.count, one.miss.count, one.miss.total) for one in found.appraisers]
    [('Ada', 3, 0, 2), ('Ben', 2, 1, 2)]
    """
    if missing not in ("error", "drop"):
        raise InvalidInputError(f"missing must be 'error' or 'drop', got {missing!r}", argument="missing")
    whole = table(data)
    names = [judgement, part, appraiser, *([trial] if trial else []), *([reference] if reference else [])]
    text = {name: label_words(whole.column(name), name) for name in names}
    absent = [
        DataProblem(name, i + 1, "", "judgement is missing" if name == judgement else "label is missing")
        for name, words in text.items()
        for i, word in enumerate(words)
        if word is None
    ]
    dropped: tuple[int, ...] = ()
    keep = np.ones(whole.height, dtype=bool)
    if absent and missing == "drop" and all(problem.column == judgement for problem in absent):
        gone = {text[part][problem.row - 1] for problem in absent}
        keep = np.array([word not in gone for word in text[part]])
        dropped = tuple(int(i) + 1 for i in np.flatnonzero(~keep))
        said = ", ".join(sorted(map(str, gone)))
        warnings.warn(f"{plural(len(gone), 'part')} left out (missing='drop'): {said}", MissingDataWarning, stacklevel=2)
    elif absent:
        raise DataProblemsError(absent, advice="Every judgement needs its part and appraiser; missing='drop' leaves parts out.")
    rows = {name: words[keep] for name, words in text.items()}
    if not keep.any():
        raise InvalidInputError("the study holds no judgement", argument="data")
    kinds = _categories(rows, [judgement, *([reference] if reference else [])], categories, rejected, np.flatnonzero(keep))
    people, parts, codes = _arrange(rows, judgement, part, appraiser, trial, kinds)
    known = _reference(rows, part, parts, reference, kinds)
    trials = codes.shape[2]
    flags = np.array([name in set(rejected) for name in kinds], dtype=np.uint8)
    found = tuple(
        _one(name, codes[:, k], known, kinds, flags if len(rejected) else None, confidence_level) for k, name in enumerate(people)
    )
    made = Made(
        function="agreement_study",
        unit="",
        count=int(keep.sum()),
        missing_rows=dropped,
        frame=whole.frame,
        options={
            "judgement": judgement,
            "part": part,
            "appraiser": appraiser,
            "trial": trial,
            "reference": reference,
            "rejected": [str(name) for name in rejected],
            "confidence_level": confidence_level,
            "part_word": part_word,
            "missing": missing,
        },
        version=_core.version,
    )
    flat = codes.reshape(len(parts), -1)
    between = _fleiss(flat, len(kinds), confidence_level) if flat.shape[1] > 1 else None
    against = None
    if known is not None:
        against = _core.fleiss_kappa_with_reference(_run(flat), known, len(kinds), confidence_level)
    return AgreementStudy(
        made=made,
        appraisers=found,
        pairs=tuple(
            _pair(people[a], people[b], codes[:, a], codes[:, b], len(kinds), confidence_level)
            for a, b in itertools.combinations(range(len(people)), 2)
        ),
        between=None if between is None else build(Agreement, between["kappa"]),
        between_category=() if between is None else _every(between["category"]),
        with_reference=None if against is None else build(Agreement, against["kappa"]),
        with_reference_category=() if against is None else _every(against["category"]),
        categories=tuple(kinds),
        part_count=len(parts),
        trial_count=trials,
        appraiser_count=len(people),
        judgement_count=int(codes.size),
    )


def _run(codes: Codes) -> Codes:
    return np.ascontiguousarray(codes.reshape(-1))


def _every(found: Sequence[dict[str, Any]]) -> tuple[Agreement, ...]:
    return tuple(build(Agreement, one) for one in found)


def _fleiss(codes: Codes, kinds: int, level: float) -> dict[str, Any]:
    """Of judgements, one row a part, one column a judgement."""
    counts = (codes[:, :, None] == np.arange(kinds)).sum(axis=1).astype(np.int64)
    return _core.fleiss_kappa(_run(counts), kinds, level)


def _one(
    name: str, codes: Codes, known: Codes | None, kinds: Sequence[str], rejects: NDArray[np.uint8] | None, level: float
) -> AppraiserAgreement:
    trials = codes.shape[1]
    repeated = trials > 1
    # Without a reference the first trial stands in for it; only what it does not enter is kept.
    flags = np.zeros(len(kinds), dtype=np.uint8) if rejects is None else rejects
    rates = _core.appraiser_rates(_run(codes), trials, _run(codes[:, 0]) if known is None else known, flags, level)
    shares = {kind: build(Proportion, rates[kind]) for kind in rates}
    against = None
    if known is not None:
        pairs = _core.agreement_table(_run(codes), np.repeat(known, trials), len(kinds))
        against = build(Agreement, _core.cohen_kappa(pairs, len(kinds), level, np.empty(0))["kappa"])
    return AppraiserAgreement(
        appraiser=name,
        consistent=shares["consistent"] if repeated else None,
        effective=None if known is None else shares["effective"],
        right=None if known is None else shares["right"],
        miss=None if known is None or rejects is None else shares["miss"],
        false_alarm=None if known is None or rejects is None else shares["false_alarm"],
        with_self=build(Agreement, _fleiss(codes, len(kinds), level)["kappa"]) if repeated else None,
        with_reference=against,
    )


def _pair(first: str, second: str, one: Codes, two: Codes, kinds: int, level: float) -> PairAgreement:
    pairs = _core.agreement_table(_run(one), _run(two), kinds)
    same = _core.exact_proportion(int((one == two).sum()), int(one.size), level)
    kappa = _core.cohen_kappa(pairs, kinds, level, np.empty(0))["kappa"]
    return PairAgreement(first, second, build(Proportion, same), build(Agreement, kappa))


def _categories(
    rows: dict[str, NDArray[np.object_]],
    columns: Sequence[str],
    given: Sequence[str] | None,
    rejected: Sequence[str],
    at: NDArray[np.intp],
) -> list[str]:
    """All categories; at least two, so that a judgement could have been another one."""
    used = dict.fromkeys(word for name in columns for word in rows[name])
    kinds = [str(name) for name in given] if given is not None else sorted(used)
    if len(set(kinds)) < len(kinds):
        raise InvalidInputError(f"categories must differ, got {kinds}", argument="categories")
    strange = [
        DataProblem(name, int(at[i]) + 1, repr(word), "is none of the categories")
        for name in columns
        for i, word in enumerate(rows[name])
        if word not in kinds
    ]
    if strange:
        raise DataProblemsError(strange, advice=f"Categories: {', '.join(kinds)}.")
    for name in rejected:
        if str(name) not in kinds:
            raise InvalidInputError(f"rejected names {name!r}, which is none of {', '.join(kinds)}", argument="rejected")
    return kinds if len(kinds) > 1 else [*kinds, "any other"]


def _arrange(
    rows: dict[str, NDArray[np.object_]], judgement: str, part: str, appraiser: str, trial: str | None, kinds: Sequence[str]
) -> tuple[list[str], list[str], Codes]:
    """Appraisers, parts, and codes part by appraiser by trial."""
    people, parts = (list(dict.fromkeys(rows[name])) for name in (appraiser, part))
    code = {name: i for i, name in enumerate(kinds)}
    cells: dict[tuple[str, str], list[tuple[str, int]]] = {(p, a): [] for p in parts for a in people}
    for i, (p, a, word) in enumerate(zip(rows[part], rows[appraiser], rows[judgement], strict=True)):
        cells[p, a].append((rows[trial][i] if trial else "", code[word]))
    counts = {key: len(cell) for key, cell in cells.items()}
    trials = max(counts.values())
    for (p, a), count in counts.items():
        if count != trials:
            raise InvalidInputError(
                f"'{a}' judged part '{p}' {plural(count, 'time')}, others up to {trials}: every appraiser must judge every part "
                "equally often; leave the part out for all, or add the judgements",
                argument="data",
            )
    numbers = [sorted(label for label, _ in cell) for cell in cells.values()]
    if trial and (any(n != numbers[0] for n in numbers) or len(set(numbers[0])) < trials):
        raise InvalidInputError(
            f"column '{trial}' must number the same {trials} trials of each part and appraiser", argument="trial"
        )
    arranged = [[[c for _, c in sorted(cells[p, a], key=lambda pair: pair[0])] for a in people] for p in parts]
    return people, parts, np.array(arranged, dtype=np.int64)


def _reference(
    rows: dict[str, NDArray[np.object_]], part: str, parts: Sequence[str], reference: str | None, kinds: Sequence[str]
) -> Codes | None:
    if reference is None:
        return None
    known: dict[str, str] = {}
    for p, word in zip(rows[part], rows[reference], strict=True):
        if known.setdefault(p, word) != word:
            raise DataProblemsError([DataProblem(reference, 0, repr(word), f"part '{p}' has two references, also '{known[p]}'")])
    return np.array([kinds.index(known[p]) for p in parts], dtype=np.int64)
