"""Can the gauge tell? A file of gauge studies, judged against the windows that its readings are to decide."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyfilm import _core
from steadyfilm._files import Cells, read_cells
from steadyfilm._gauge.study_file import StudyColumns, StudyRows, empty_note, retold, studies_of
from steadyfilm._gauge.windows import (
    AcceptCurve,
    GaugeSpread,
    GuardZone,
    StudyWindow,
    WindowAnswer,
    answer_window,
)
from steadyfilm._gauge.words import answer_sentence, gauge_words, headline, what_to_do, window_notes
from steadyfilm._gauge_parts import or_nan
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm.errors import DataProblemsError, InvalidInputError
from steadyfilm.gauge_rr import GaugeStudy, gauge_study
from steadyfilm.limits import SpecLimits

if TYPE_CHECKING:
    from steadyfilm.plan import Plan

__all__ = [
    "AcceptCurve",
    "GaugeSpread",
    "GuardZone",
    "JudgedStudy",
    "Measurability",
    "StudyColumns",
    "StudyWindow",
    "WindowAnswer",
    "judge_gauge",
    "judge_gauge_file",
    "judge_planned_study",
    "plan_windows",
]

MOST_READINGS = 15
"""More readings of one place are not taken on a shop floor (judgment, no source)."""


@dataclass(frozen=True)
class JudgedStudy:
    """One study with an answer for each window, in the order given."""

    name: str
    """What keeps it apart from other studies of the file; empty for a lone one."""
    study: GaugeStudy
    spread: GaugeSpread
    step: float
    """Smallest step between two readings; 0 if not known."""
    windows: tuple[WindowAnswer, ...]
    sentences: tuple[str, ...]
    """One a window."""
    steps: tuple[str, ...]
    """What to do next."""
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Measurability(Result):
    """Whether windows can be judged with the gauges studied. ``verdict`` leads with it; lengths are in ``made.unit``."""

    title: str
    verdict: tuple[str, ...]
    studies: tuple[JudgedStudy, ...]
    notes: tuple[str, ...]
    inputs: dict[str, str] = field(default_factory=dict)
    """SHA-256 of each file read."""

    _plot = "gauge_windows:plot_measurability"

    @property
    def judgeable(self) -> bool | None:
        """Whether every window can be judged with every gauge; None without windows."""
        answers = [answer for study in self.studies for answer in study.windows]
        return all(answer.judgeable for answer in answers) if answers else None

    @property
    def first(self) -> WindowAnswer | None:
        """The first window of the first study."""
        return next((answer for study in self.studies for answer in study.windows), None)

    def sentence(self) -> str:
        return self.verdict[0]

    def _columns(self) -> dict[str, Any]:
        rows = [(study, answer) for study in self.studies for answer in study.windows]
        if not rows:
            return {
                "study": [study.name for study in self.studies],
                "readings": [study.study.made.count for study in self.studies],
                "grr": [study.spread.grr for study in self.studies],
            }
        numbers = ("share", "share_lower", "share_upper", "share_limit", "reached", "floor_share")
        return {
            "study": [study.name for study, _ in rows],
            "window": [answer.window.name for _, answer in rows],
            "lower": [or_nan(answer.window.specification.lower) for _, answer in rows],
            "upper": [or_nan(answer.window.specification.upper) for _, answer in rows],
            "judgeable": [answer.judgeable for _, answer in rows],
            **{name: [or_nan(getattr(answer, name)) for _, answer in rows] for name in numbers},
            "readings": [or_nan(answer.readings) for _, answer in rows],
            "appraisers": [or_nan(answer.appraisers) for _, answer in rows],
        }

    def explain(self) -> Explanation:
        steps: list[Step] = []
        options = self.made.options
        for k, judged in enumerate(self.studies):
            of = f"_{k + 1}" if len(self.studies) > 1 else ""
            s = judged.spread
            variance = {"repeat": s.repeat, "common": s.common}
            grr = math.sqrt(s.repeat**2 + s.common**2)
            steps.append(Step(f"grr{of}", "sqrt(repeat * repeat + common * common)", variance, grr))
            for j, answer in enumerate(judged.windows):
                if answer.share is None:
                    continue
                lead = "first_" if k == j == 0 else ""
                tail = "" if lead else f"{of}_window_{j + 1}"
                half = answer.window.one_limit
                given = {
                    "multiple": options["sigma_multiple"] / (2 if half else 1),
                    "times": math.sqrt(2.0) if answer.window.difference else 1.0,
                    "room": answer.room,
                }
                share = {**given, "grr": s.grr}
                steps.append(Step(f"{lead}share{tail}", "multiple * times * grr / room", share, answer.share))
                floor = {**given, "common": s.common}
                assert answer.floor_share is not None  # there is a share
                steps.append(Step(f"{lead}floor_share{tail}", "multiple * times * common / room", floor, answer.floor_share))
                if answer.reached is not None and answer.readings is not None and answer.appraisers is not None:
                    formula = "multiple * times * sqrt((common * common + repeat * repeat / each) / appraisers) / room"
                    inputs = {**given, **variance, "appraisers": float(answer.appraisers)}
                    inputs["each"] = float(answer.readings // answer.appraisers)
                    steps.append(Step(f"{lead}reached{tail}", formula, inputs, answer.reached))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "share": f"{options['sigma_multiple']:g} standard deviations of the measurement over the width of the window; "
                "with one limit half of that over the distance of the studied mean to it",
                "wanted": f"at most {100 * options['share_limit']:g} %",
                "readings": f"fewest in all, shared evenly by at most the appraisers of the study; more than "
                f"{options['most_readings']} are not counted as practical (judgment, no source)",
                "guard": f"{options['bias_bound']:g} for bias, plus the one-sided normal quantile of "
                f"{1 - options['alpha']:g} times the standard deviation of the average",
                "difference of two readings": "both errors enter, as independent ones",
            },
            sources=(
                "JCGM 106:2012 and ISO 14253-1, guard bands",
                "cpp/methods/measurability.md",
                "cpp/methods/gauge_rr.md",
            ),
        )


def judge_gauge(
    study: GaugeStudy,
    windows: Sequence[StudyWindow] | Mapping[str, SpecLimits] | SpecLimits = (),
    *,
    name: str = "",
    share_limit: float = 0.30,
    bias_bound: float = 0.0,
    alpha: float = 0.05,
    most_readings: int = MOST_READINGS,
    step: float = 0.0,
) -> JudgedStudy:
    """Judge windows with the gauge of one study.

    Parameters
    ----------
    study : GaugeStudy
    windows : SpecLimits, mapping of names to SpecLimits, or sequence of StudyWindow
        The windows that readings are to decide, in the unit of the study.
    name : str
        What sentences call the gauge; "this gauge" if empty.
    share_limit : float
        How much of the window the spread of the measurement may take.
    bias_bound : float
        How far the gauge may be off as a whole, from shims; widens every guard.
    alpha : float
        Chance of a wrong verdict at a guard.
    most_readings : int
        More readings than that are never taken.
    step : float
        Step of the display; 0 if not known.

    Examples
    --------
    >>> from steadyfilm.gauge_rr import gauge_study
    >>> rows = [(p, who, 50 + 10 * p + off + e) for p in range(4) for who, off in (("Ann", 0), ("Bo", 1)) for e in (-1, 0, 1)]
    >>> part, who, film = zip(*rows)
    >>> study = gauge_study(list(film), unit="um", part=list(part), appraiser=list(who))
    >>> answer = judge_gauge(study, SpecLimits(50.0, 80.0)).windows[0]
    >>> answer.judgeable, answer.readings
    (True, 1)
    """
    _check(share_limit, bias_bound, alpha, most_readings)
    unit = study.made.unit
    spread = spread_of(study)
    studied = (float(study.values.min()), float(study.values.max()))
    answers = tuple(
        answer_window(
            window,
            spread,
            share_limit=share_limit,
            sigma_multiple=float(study.made.options["sigma_multiple"]),
            bias_bound=bias_bound,
            alpha=alpha,
            most_readings=most_readings,
            studied=studied,
        )
        for window in as_windows(windows)
    )
    gauge = gauge_words(name)
    apart = [
        (effect.label, effect.effect, (effect.upper - effect.lower) / 2)
        for effect in study.appraiser_effects
        if effect.lower is not None and effect.upper is not None and (effect.lower > 0 or effect.upper < 0)
    ]
    return JudgedStudy(
        name=name,
        study=study,
        spread=spread,
        step=step,
        windows=answers,
        sentences=tuple(answer_sentence(answer, gauge, unit, spread.appraisers) for answer in answers),
        steps=what_to_do(answers, appraisers=spread.appraisers, apart=apart, unit=unit, most_readings=most_readings),
        notes=(*(note for answer in answers for note in window_notes(answer, unit, step, studied)), *map(ended, study.notes)),
    )


def judge_gauge_file(
    path: str | Path,
    windows: Sequence[StudyWindow] | Mapping[str, SpecLimits] | SpecLimits = (),
    *,
    columns: StudyColumns | None = None,
    unit: str | None = None,
    written_in: str | None = None,
    nested: bool = False,
    share_limit: float = 0.30,
    bias_bound: float = 0.0,
    alpha: float = 0.05,
    most_readings: int = MOST_READINGS,
    confidence_level: float = 0.95,
    unbalanced: str | None = None,
    title: str = "",
    inputs: Mapping[str, str] | None = None,
    **how_written: Any,
) -> Measurability:
    r"""Judge windows with every gauge studied in a CSV, Excel or Parquet file of one reading a row.

    Parameters
    ----------
    path : str or Path
    windows : as in `judge_gauge`
        In the working unit.
    columns : StudyColumns, optional
        The file's name of each column.
    unit : {"mil", "um", "unstated"}, optional
        The working unit; by default the one that the file names for all its rows.
    written_in : {"mil", "um"}, optional
        Unit of the numbers in a file that does not name it.
    nested : bool
        Each part belongs to one appraiser, as in destructive tests.
    share_limit, bias_bound, alpha, most_readings
        As in `judge_gauge`.
    confidence_level : float
        Of the intervals.
    unbalanced : str, optional
        What to do where readings are missing, as in `gauge_study`; its default if left out.
    title : str
        Heads the report.
    inputs : mapping, optional
        Digests of further files that belong to the question, such as a plan.
    **how_written
        As in a plan's ``[file]``: separator, decimal, encoding, missing, header_line, sheet.

    Raises
    ------
    DataProblemsError
        Column, line, value, reason and way out of everything that cannot be used.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> path = pathlib.Path(tempfile.mkdtemp()) / "study.csv"
    >>> rows = [(p, who, 50 + 10 * p + off + e) for p in range(4) for who, off in (("Ann", 0), ("Bo", 1)) for e in (-1, 0, 1)]
    >>> _ = path.write_text("part,appraiser,value\n" + "\n".join(f"{p},{who},{x}" for p, who, x in rows))
    >>> judge_gauge_file(path, SpecLimits(50.0, 80.0), unit="um").judgeable
    True
    """
    return judge_gauge_cells(
        read_cells(path, **how_written),
        windows,
        columns=columns,
        unit=unit,
        written_in=written_in,
        nested=nested,
        share_limit=share_limit,
        bias_bound=bias_bound,
        alpha=alpha,
        most_readings=most_readings,
        confidence_level=confidence_level,
        unbalanced=unbalanced,
        title=title,
        inputs=inputs,
    )


def judge_gauge_cells(
    cells: Cells,
    windows: Sequence[StudyWindow] | Mapping[str, SpecLimits] | SpecLimits = (),
    *,
    columns: StudyColumns | None = None,
    unit: str | None = None,
    written_in: str | None = None,
    nested: bool = False,
    share_limit: float = 0.30,
    bias_bound: float = 0.0,
    alpha: float = 0.05,
    most_readings: int = MOST_READINGS,
    confidence_level: float = 0.95,
    unbalanced: str | None = None,
    title: str = "",
    inputs: Mapping[str, str] | None = None,
) -> Measurability:
    """The same for a file that has been read; see `judge_gauge_file`."""
    _check(share_limit, bias_bound, alpha, most_readings)
    wanted = as_windows(windows)
    working, found = studies_of(cells, columns or StudyColumns(), unit=unit, written_in=written_in)
    judged = []
    notes: list[str] = []
    for rows in found:
        more = {"unbalanced": unbalanced} if unbalanced is not None else {}
        study = _computed(rows, working, nested=nested, share_limit=share_limit, confidence_level=confidence_level, **more)
        judged.append(
            judge_gauge(
                study,
                wanted,
                name=rows.name,
                share_limit=share_limit,
                bias_bound=bias_bound,
                alpha=alpha,
                most_readings=most_readings,
                step=rows.step,
            )
        )
        if rows.empty:
            notes.append(empty_note(rows, cells.counted_in))
    for one in judged:
        before = f"{one.name}: " if one.name else ""
        notes += [f"{before}{note}" for note in one.notes]
    return Measurability(
        made=Made(
            function="judge_gauge_file",
            unit=working,
            count=sum(len(rows.value) for rows in found),
            missing_rows=tuple(line for rows in found for line in rows.empty),
            options={
                "share_limit": share_limit,
                "sigma_multiple": float(judged[0].study.made.options["sigma_multiple"]),
                "bias_bound": bias_bound,
                "alpha": alpha,
                "most_readings": most_readings,
                "confidence_level": confidence_level,
                "nested": nested,
            },
            version=_core.version,
        ),
        title=title,
        verdict=_verdict(judged, working),
        studies=tuple(judged),
        notes=tuple(dict.fromkeys(notes)),
        inputs={f"gauge study: {cells.file}": cells.sha256, **(inputs or {})},
    )


def judge_planned_study(plan: Plan) -> Measurability:
    r"""Judge the windows of a plan with the gauge study that it names.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> from steadyfilm.plan import read_plan
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> rows = [(p, who, 50 + 10 * p + off + e) for p in range(4) for who, off in (("Ann", 0), ("Bo", 1)) for e in (-1, 0, 1)]
    >>> _ = (folder / "study.csv").write_text("part,appraiser,value\n" + "\n".join(f"{p},{who},{x}" for p, who, x in rows))
    >>> plan = read_plan('''
    ... columns = {unit = "serial", value = "thickness"}
    ... measure = {unit = "um"}
    ... layers = [{name = "film", lower = 50.0, upper = 80.0}]
    ... gauge_study = {file = "study.csv"}
    ... ''', folder=folder)
    >>> judge_planned_study(plan).judgeable
    True
    """
    if plan.gauge_study is None:
        raise InvalidInputError("the plan names no gauge study: give it a [gauge_study] with the file", argument="plan")
    try:
        return judge_gauge_file(
            plan.path(plan.gauge_study.file),
            plan_windows(plan),
            columns=plan_study_columns(plan),
            unit=plan.measure.unit,
            written_in=plan.measure.written_in,
            confidence_level=plan.confidence_level,
            title=plan.title,
            **plan.reading_options(plan.gauge_study),
        )
    except DataProblemsError as error:
        raise retold(error, [("[columns]", "[gauge_study]")]) from None


def plan_study_columns(plan: Plan) -> StudyColumns:
    """The columns of a study's file as the plan names them, or as they are usually called."""
    given = plan.gauge_study
    if given is None:
        return StudyColumns()
    return StudyColumns(given.part, given.appraiser, given.trial, given.value, given.unit_of_measure, given.apart)


def plan_windows(plan: Plan) -> tuple[StudyWindow, ...]:
    """The windows of a plan's layers, in its working unit; a layer of one reading minus another is a difference.

    Examples
    --------
    >>> from steadyfilm.plan import read_plan
    >>> plan = read_plan('''
    ... columns = {unit = "serial", value = "thickness"}
    ... measure = {unit = "mil"}
    ... layers = [{name = "film", lower = 2.0, upper = 2.2}]
    ... ''')
    >>> plan_windows(plan)[0].specification.upper
    2.2
    """
    return tuple(
        StudyWindow(layer.name, SpecLimits(layer.lower, layer.upper), difference=layer.minus is not None)
        for layer in plan.layers
        if layer.judged
    )


def as_windows(windows: Sequence[StudyWindow] | Mapping[str, SpecLimits] | SpecLimits) -> tuple[StudyWindow, ...]:
    """Windows in one form; each has a limit at least."""
    if isinstance(windows, SpecLimits):
        found: tuple[StudyWindow, ...] = (StudyWindow("", windows),)
    elif isinstance(windows, Mapping):
        found = tuple(StudyWindow(str(name), limits) for name, limits in windows.items())
    else:
        found = tuple(windows)
    for window in found:
        if window.specification.lower is None and window.specification.upper is None:
            raise InvalidInputError(f"the window '{window.name}' has no limit: give lower, upper or both", argument="windows")
    return found


def spread_of(study: GaugeStudy) -> GaugeSpread:
    """What single readings of a study's gauge vary by: by one appraiser, and what all readings of one appraiser share."""
    estimate = study.estimate
    shared = [x for x in estimate.sources if x.role == "measurement" and x.source != "repeatability" and x.sd is not None]
    repeat = estimate.source("repeatability").sd
    grr = estimate.source("grr")
    return GaugeSpread(
        repeat=float(repeat or 0.0),
        common=math.sqrt(sum(float(x.sd or 0.0) ** 2 for x in shared)),
        grr=float(grr.sd or 0.0),
        grr_lower=grr.sd_lower,
        grr_upper=grr.sd_upper,
        appraisers=max(1, len(study.appraisers)),
        mean=float(study.mean),
    )


def _computed(rows: StudyRows, unit: str, **options: Any) -> GaugeStudy:
    table: dict[str, Any] = {"part": list(rows.part), "value": frozen(rows.value)}
    named: dict[str, Any] = {}
    if rows.appraiser is not None:
        table["appraiser"] = list(rows.appraiser)
        named["appraiser"] = "appraiser"
    if rows.trial is not None:
        table["trial"] = list(rows.trial)
        named["trial"] = "trial"
    try:
        return gauge_study(
            table,
            "value",
            unit=unit,
            part="part",
            **named,
            **options,
        )
    except InvalidInputError as error:
        if not rows.name:
            raise
        raise InvalidInputError(f"{rows.name}: {error}", argument=error.argument) from error


def _verdict(judged: Sequence[JudgedStudy], unit: str) -> tuple[str, ...]:
    sentences = [sentence for study in judged for sentence in study.sentences]
    if not sentences:
        which = "; ".join(f"{gauge_words(study.name)} has a GRR of {study.spread.grr:.3g} {unit}".rstrip() for study in judged)
        return (f"Whether the gauge can tell is not answered: no window was given ({which}).",)
    return (sentences[0],) if len(sentences) == 1 else (headline(judged, unit), *sentences)


def _check(share_limit: float, bias_bound: float, alpha: float, most_readings: int) -> None:
    for name, value, fits, wanted in (
        ("share_limit", share_limit, 0 < share_limit < 10, "a fraction above 0, such as 0.30"),
        ("bias_bound", bias_bound, 0 <= bias_bound < math.inf, "0 or a length in the unit of the readings"),
        ("alpha", alpha, 0 < alpha <= 0.5, "a chance above 0 and at most 0.5, such as 0.05"),
        ("most_readings", most_readings, most_readings >= 1, "1 or more"),
    ):
        if not fits:
            raise InvalidInputError(f"{name} must be {wanted}; got {value!r}", argument=name)


def ended(note: str) -> str:
    """A note as a sentence of its own."""
    return note if note.endswith(".") else f"{note}."
