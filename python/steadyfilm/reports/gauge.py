"""The report of a gauge study: one HTML page led by the windows, all its numbers as JSON, all its tables for Excel."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from steadyfilm._format import number, percent, plural, with_unit
from steadyfilm._gauge.windows import LADDER
from steadyfilm._gauge.words import gauge_words, of_what, plan_words, readings_words, upper_first, window_words
from steadyfilm.gauge_rr import GaugeEstimate, GaugeSource
from steadyfilm.limits import SpecLimits
from steadyfilm.measurability import JudgedStudy, Measurability, WindowAnswer
from steadyfilm.plots.gauge_rr import TRADE, plot_appraisers, plot_deviations, plot_gauge_components
from steadyfilm.plots.gauge_windows import draw_shares, plot_accept_curves, plot_guard_bands
from steadyfilm.reports.figures import Figure, Table, figure_of
from steadyfilm.reports.page import Written, numbers_json, render_page, write_report
from steadyfilm.reports.workbook import Cell, Sheet, workbook_bytes

__all__ = ["gauge_html", "gauge_json", "gauge_sheets", "write_gauge"]


def write_gauge(result: Measurability, folder: str | Path, *, when: datetime | None = None) -> Written:
    """Write ``gauge.html``, ``gauge.json`` and ``gauge.xlsx`` into a folder, made if missing.

    Parameters
    ----------
    result : Measurability
    folder : str or Path
    when : datetime, optional
        Time of the run, now if left out; it stands in the marked block alone.
    """
    moment = when or datetime.now()
    return write_report(
        "gauge",
        folder,
        html=gauge_html(result, when=moment),
        numbers=gauge_json(result, when=moment),
        workbook=workbook_bytes(gauge_sheets(result), title=result.title or "Gauge study"),
    )


def gauge_json(result: Measurability, *, when: datetime) -> str:
    """All numbers: ``gauge`` with its digest, and ``run`` outside of it. Numbers have ten significant digits."""
    return numbers_json("gauge", result.to_dict(), when=when)


def gauge_html(result: Measurability, *, when: datetime) -> str:
    """The page; every name from the data is escaped, and what is not seen in it is written as its number."""
    options = result.made.options
    return render_page(
        "gauge.html.j2",
        when=when,
        result=result,
        status=_status(result),
        shares=_shares_figure(result),
        answers=_answers_table(result),
        studies=[_study_view(result, judged) for judged in result.studies],
        options=[(key.replace("_", " "), str(value)) for key, value in options.items()],
        wanted=percent(options["share_limit"]),
        multiple=number(options["sigma_multiple"]),
        alpha=number(100 * options["alpha"]),
        most=options["most_readings"],
        bias=with_unit(options["bias_bound"], result.made.unit),
        level=number(100 * options["confidence_level"]),
    )


# -- what the template shows --------------------------------------------------------------------


@dataclass(frozen=True)
class WindowView:
    """One window of a study with its pictures."""

    title: str
    sentence: str
    guards: Figure
    curves: Figure


@dataclass(frozen=True)
class StudyView:
    """One study with its pictures and tables."""

    name: str
    about: str
    steps: tuple[str, ...]
    notes: tuple[str, ...]
    deviations: Figure
    windows: tuple[WindowView, ...]
    appraisers: Figure | None
    components: Figure
    variances: Table | None


def _status(result: Measurability) -> tuple[str, str]:
    """A class name and the big word."""
    answers = [answer.judgeable for study in result.studies for answer in study.windows]
    if not answers:
        return "open", "No window given"
    if all(answers):
        return "good", "The gauge can tell"
    return ("open", "It depends on the window") if any(answers) else ("bad", "The gauge cannot tell")


def _shares_figure(result: Measurability) -> Figure | None:
    shown = [answer for study in result.studies for answer in study.windows if answer.share is not None]
    if not shown:
        return None
    counted = f"{sum(x.judgeable for x in shown)} of {plural(len(shown), 'window')}"
    title = f"What the measurement takes of each window: {counted} can be judged."
    drawn = draw_shares(result.studies, result.made.unit, title=title)
    rows = tuple(
        (
            f"{gauge_words(study.name)}: {window_words(x.window, result.made.unit)}",
            _percent(x.share),
            _interval(x.share_lower, x.share_upper),
            _percent(x.reached),
            _percent(x.floor_share),
            _percent(x.floor_share_all),
        )
        for study in result.studies
        for x in study.windows
        if x.share is not None
    )
    head = (
        "gauge and window",
        "single reading",
        "interval",
        "readings needed take",
        "endless, one appraiser",
        "endless, all appraisers",
    )
    return figure_of(drawn, Table("Shares of the window", head, rows))


def _answers_table(result: Measurability) -> Table | None:
    unit = result.made.unit
    rows = []
    for study in result.studies:
        for x in study.windows:
            one, last = x.zones[0], next(z for z in x.zones if (z.readings, z.appraisers) == (LADDER[-1], 1))
            rows.append(
                (
                    window_words(x.window, unit),
                    gauge_words(study.name),
                    "not answered" if x.share is None else "yes" if x.judgeable else "no",
                    _needed(x),
                    _percent(x.share),
                    _stretch(one.left, one.guard, unit),
                    _stretch(last.left, last.guard, unit),
                )
            )
    sure = ("clearly in, 1 reading", f"clearly in, {LADDER[-1]} readings")
    head = ("window", "gauge", "can it be judged?", "readings a verdict", "a single reading takes", *sure)
    return Table("Clearly in: what the guards leave of the window, by one appraiser", head, tuple(rows)) if rows else None


def _needed(x: WindowAnswer) -> str:
    if x.share is None:
        return "-"
    if x.readings is None:
        more = f"; {x.if_alike} once appraisers read alike" if x.if_alike is not None else ""
        return f"no number is enough{more}"
    return "1" if x.readings == 1 else readings_words(x).replace(" readings", "", 1).replace(" reading", "", 1)


def _stretch(left: float | None, guard: float, unit: str) -> str:
    if left is None:
        return f"{with_unit(guard, unit, 2)} from the limit on"
    return with_unit(left, unit, 2) if left > 0 else "nothing"


def _study_view(result: Measurability, judged: JudgedStudy) -> StudyView:
    unit = result.made.unit
    study = judged.study
    lead = _lead(judged)
    limit = float(result.made.options["share_limit"])
    window = lead.window.specification if lead is not None else None
    people = f"{plural(len(study.appraisers), 'appraiser')}" if len(study.appraisers) > 1 else "one appraiser"
    design = {"crossed": "every appraiser reads every part", "nested": "each part belongs to one appraiser"}.get(
        study.design, study.design
    )
    method = "analysis of variance" if study.method == "anova" else "restricted maximum likelihood"
    step = f" The display goes in steps of {with_unit(judged.step, unit)}." if judged.step > 0 else ""
    about = (
        f"{plural(study.made.count, 'reading')}: {plural(len(study.parts), 'part')}, {people}; {design}; {method}. "
        f"Thickness from {with_unit(float(study.values.min()), unit)} to {with_unit(float(study.values.max()), unit)}.{step}"
    )
    views = tuple(
        WindowView(
            window_words(answer.window, unit),
            sentence,
            figure_of(plot_guard_bands(answer, unit=unit), _guard_table(answer, unit)),
            figure_of(plot_accept_curves(answer, unit=unit), _curve_table(answer, unit)),
        )
        for answer, sentence in zip(judged.windows, judged.sentences, strict=True)
    )
    return StudyView(
        name=judged.name,
        about=about,
        steps=judged.steps,
        notes=judged.notes,
        deviations=figure_of(
            plot_deviations(study, window, share_limit=limit, title=_deviation_words(judged, lead, unit)),
            _readings_table(judged, unit),
        ),
        windows=views,
        appraisers=_appraisers_figure(judged, window, limit, unit),
        components=figure_of(plot_gauge_components(study, window, share_limit=limit), _sources_table(judged, unit)),
        variances=_lines_table(judged),
    )


def _lead(judged: JudgedStudy) -> WindowAnswer | None:
    """The window that asks most of readings of the film itself; of a difference only where there is no other."""
    shared = [x for x in judged.windows if x.share is not None]
    own = [x for x in shared if not x.window.difference] or shared
    own = [x for x in own if not x.window.one_limit] or own
    return max(own, key=lambda x: x.share or 0.0) if own else None


def _deviation_words(judged: JudgedStudy, lead: WindowAnswer | None, unit: str) -> str:
    repeat = with_unit(judged.spread.repeat, unit, 2)
    if lead is None or lead.share is None:
        return f"Readings of one part by one appraiser vary by a standard deviation of {repeat}."
    multiple = number(float(judged.study.made.options["sigma_multiple"]))
    window = upper_first(window_words(lead.window, unit))
    return f"{window}: {multiple} standard deviations of single readings are {percent(lead.share)} of {of_what(lead.window)}."


def _appraisers_figure(judged: JudgedStudy, window: SpecLimits | None, limit: float, unit: str) -> Figure | None:
    effects = judged.study.appraiser_effects
    if len(effects) < 2:
        return None
    rows = tuple(
        (
            x.label,
            number(x.mean, 4),
            f"{x.effect:+.3g}",
            "" if x.lower is None or x.upper is None else f"{x.lower:+.3g} to {x.upper:+.3g}",
        )
        for x in effects
    )
    table = Table(f"Means of appraisers{_in(unit)}", ("appraiser", "mean", "less the mean of all", "interval"), rows)
    return figure_of(plot_appraisers(judged.study, window, share_limit=limit), table)


def _readings_table(judged: JudgedStudy, unit: str) -> Table:
    study = judged.study
    names = study.appraisers or ("reading",)
    own = [(k, name) for k, name in enumerate(names)]
    rows = []
    for code, part in enumerate(study.parts):
        mine = np.flatnonzero(study.part == code)
        cells = (" ".join(number(float(study.values[i]), 6) for i in mine if study.appraiser[i] == k) for k, _ in own)
        mean = number(float(study.values[mine].mean()), 5) if len(mine) else ""
        rows.append((part, mean, *cells))
    return Table(f"Readings{_in(unit)}", ("part", "mean", *(name for _, name in own)), tuple(rows))


def _guard_table(answer: WindowAnswer, unit: str) -> Table:
    rows = tuple(
        (
            plan_words(zone.readings, zone.appraisers),
            number(zone.uncertainty, 3),
            number(zone.guard, 3),
            "nothing" if zone.accept is None else _limits(zone.accept),
            _limits(zone.reject),
        )
        for zone in answer.zones
    )
    head = ("averaged", "standard deviation", "guard", "clearly in", "not clearly out")
    return Table(f"Guard bands{_in(unit)}", head, rows)


def _limits(limits: SpecLimits) -> str:
    low, high = (None if x is None else number(x, 4) for x in (limits.lower, limits.upper))
    if low is None:
        return f"up to {high}"
    return f"from {low}" if high is None else f"{low} to {high}"


def _curve_table(answer: WindowAnswer, unit: str) -> Table:
    at = range(0, len(answer.thickness), max(1, (len(answer.thickness) - 1) // 20))
    rows = tuple((number(float(answer.thickness[i]), 4), *(f"{100 * x.probability[i]:.1f} %" for x in answer.curves)) for i in at)
    head = (f"true thickness{_in(unit)}", *(plan_words(x.readings, x.appraisers) for x in answer.curves))
    return Table("Chance to accept", head, rows)


def _sources_table(judged: JudgedStudy, unit: str) -> Table:
    study = judged.study
    kept, pooled = study.kept, study.pooled
    chosen = study.estimate
    rows = []
    for x in chosen.sources:
        row = [_source_name(x), number(x.sd or 0.0, 4), _sd_interval(x)]
        row += [
            "" if x.share_of_total is None else _percent(x.share_of_total),
            "" if x.share_of_variance is None else _percent(x.share_of_variance),
        ]
        row += [_other(kept, x.source), _other(pooled, x.source)]
        rows.append(tuple(row))
    head = (
        "source",
        f"standard deviation{_in(unit)}",
        "interval",
        "of TV",
        "of the variance",
        "SD, interaction kept",
        "SD, interaction pooled",
    )
    ndc = ", ".join(
        f"{number(x.ndc)} ({words})"
        for x, words in ((kept, "interaction kept"), (pooled, "pooled"))
        if x is not None and x.ndc is not None
    )
    which = {"kept": "interaction kept", "pooled": "interaction pooled"}[study.chosen]
    return Table(f"Components, {which}; ndc {ndc or 'not estimable'}", head, tuple(rows))


def _source_name(x: GaugeSource) -> str:
    trade = {"part x appraiser": "interaction of part and appraiser", "reproducibility": "between appraisers, with interaction"}
    return TRADE.get(x.source, trade.get(x.source, x.source))


def _other(estimate: GaugeEstimate | None, source: str) -> str:
    if estimate is None:
        return ""
    found = [x for x in estimate.sources if x.source == source]
    if not found or found[0].sd is None:
        return "-"
    variance = found[0].variance
    raw = f" (variance {number(variance, 3)}, below 0)" if variance is not None and variance < 0 else ""
    return f"{number(found[0].sd, 4)}{raw}"


def _sd_interval(x: GaugeSource) -> str:
    return "" if x.sd_lower is None or x.sd_upper is None else f"{number(x.sd_lower, 3)} to {number(x.sd_upper, 3)}"


def _lines_table(judged: JudgedStudy) -> Table | None:
    """Sums of squares of the analysis of variance; none for other methods."""
    kept = judged.study.kept or judged.study.pooled
    if kept is None or not kept.lines:
        return None
    rows = tuple(
        (
            x.source,
            number(x.degrees_of_freedom),
            number(x.sum_squares, 5),
            number(x.mean_square, 5),
            "" if x.f is None or x.f != x.f else f"{number(x.f, 4)}, p {number(x.p, 2)}",
        )
        for x in kept.lines
    )
    return Table("Where the components come from", ("source", "degrees of freedom", "sum of squares", "mean square", "F"), rows)


def _percent(share: float | None) -> str:
    return "-" if share is None else percent(share)


def _interval(lower: float | None, upper: float | None) -> str:
    return "-" if lower is None or upper is None else f"{percent(lower).removesuffix(' %')} to {percent(upper)}"


def _in(unit: str) -> str:
    return f" ({unit})" if unit else ""


# -- the tables for Excel -----------------------------------------------------------------------


def gauge_sheets(result: Measurability) -> tuple[Sheet, ...]:
    """Every table of a gauge report, empty ones left out but for the verdict; lengths in ``made.unit``."""
    of = _in(result.made.unit)
    sheets = [
        Sheet("Verdict", ("line", "verdict"), tuple(enumerate(result.verdict, start=1))),
        Sheet(
            "Windows",
            (
                "gauge",
                "window",
                f"from{of}",
                f"to{of}",
                "can be judged",
                "single reading takes",
                "interval from",
                "interval to",
                "wanted at most",
                "readings",
                "by appraisers",
                "these take",
                "endless, one appraiser",
                "readings once alike",
            ),
            tuple(_window_rows(result)),
        ),
        Sheet(
            "Guards",
            (
                "gauge",
                "window",
                "readings",
                "by appraisers",
                f"standard deviation{of}",
                f"guard{of}",
                f"clearly in from{of}",
                f"to{of}",
                f"left{of}",
            ),
            tuple(_guard_rows(result)),
        ),
        Sheet(
            "Components",
            ("gauge", "interaction", "source", "variance", f"SD{of}", f"from{of}", f"to{of}", "of TV", "of variance"),
            tuple(_source_rows(result.studies)),
        ),
        Sheet(
            "Appraisers",
            ("gauge", "appraiser", f"mean{of}", f"less all{of}", f"from{of}", f"to{of}"),
            tuple(_effect_rows(result.studies)),
        ),
        Sheet("Readings", ("gauge", "part", "appraiser", "trial", f"value{of}"), tuple(_reading_rows(result.studies))),
        Sheet("To do", ("gauge", "step"), tuple((x.name, step) for x in result.studies for step in x.steps)),
        Sheet("Notes", ("note",), tuple((x,) for x in result.notes)),
        Sheet("Options", ("option", "value"), tuple(result.made.options.items())),
        Sheet("Inputs", ("file", "SHA-256"), tuple(result.inputs.items())),
    ]
    return tuple(sheet for sheet in sheets if sheet.rows or sheet.name == "Verdict")


Row = tuple[Cell, ...]


def _window_rows(result: Measurability) -> Iterator[Row]:
    for study in result.studies:
        for x in study.windows:
            limits = x.window.specification
            yield (
                study.name,
                x.window.name,
                limits.lower,
                limits.upper,
                x.judgeable,
                x.share,
                x.share_lower,
                x.share_upper,
                x.share_limit,
                x.readings,
                x.appraisers,
                x.reached,
                x.floor_share,
                x.if_alike,
            )


def _guard_rows(result: Measurability) -> Iterator[Row]:
    for study in result.studies:
        for x in study.windows:
            for zone in x.zones:
                low, high = (zone.accept.lower, zone.accept.upper) if zone.accept is not None else (None, None)
                yield (
                    study.name,
                    x.window.name,
                    zone.readings,
                    zone.appraisers,
                    zone.uncertainty,
                    zone.guard,
                    low,
                    high,
                    zone.left,
                )


def _source_rows(studies: Sequence[JudgedStudy]) -> Iterator[Row]:
    for judged in studies:
        for estimate in (judged.study.kept, judged.study.pooled):
            if estimate is None:
                continue
            for x in estimate.sources:
                yield (
                    judged.name,
                    estimate.interaction,
                    x.source,
                    x.variance,
                    x.sd,
                    x.sd_lower,
                    x.sd_upper,
                    x.share_of_total,
                    x.share_of_variance,
                )


def _effect_rows(studies: Sequence[JudgedStudy]) -> Iterator[Row]:
    for judged in studies:
        for x in judged.study.appraiser_effects:
            yield (judged.name, x.label, x.mean, x.effect, x.lower, x.upper)


def _reading_rows(studies: Sequence[JudgedStudy]) -> Iterator[Row]:
    for judged in studies:
        s = judged.study
        for i, value in enumerate(s.values.tolist()):
            who: Any = s.appraisers[s.appraiser[i]] if s.appraisers else ""
            trial: Any = s.trials[s.trial[i]] if s.trials else int(s.trial[i]) + 1
            yield (judged.name, s.parts[s.part[i]], who, trial, value)
