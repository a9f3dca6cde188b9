"""The report of a review: one HTML page that needs nothing else, all its numbers as JSON, all its tables for Excel.

The same inputs, plan and version give the same bytes, but for one marked block at the end that says when it was run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from steadyfilm._format import beyond_text, decimals_for, fixed, number, plural, window_text, with_unit
from steadyfilm._gauge_words import common_offset_text
from steadyfilm._review.costs import aim_rows, cost_rows
from steadyfilm._review.gather import SetAside
from steadyfilm._review.screening import chance_text, screen_text
from steadyfilm._review.series import named_level
from steadyfilm._review.verdict import names_of
from steadyfilm._review.words import Finding, sized
from steadyfilm.reports.figures import (
    Figure,
    Table,
    capability_table,
    chart_figure,
    histogram_figure,
    minute_text,
    option_rows,
    places_figure,
    rule_text,
    spread_figures,
)
from steadyfilm.reports.measured import gauge_answer
from steadyfilm.reports.page import RUN_END, RUN_START, Written, numbers_json, render_page, write_report
from steadyfilm.reports.stream_pages import stream_figures
from steadyfilm.reports.workbook import review_sheets, workbook_bytes
from steadyfilm.review import LayerReview, Review, misses_in_words

__all__ = ["RUN_END", "RUN_START", "review_html", "review_json", "write_review"]


def write_review(review: Review, folder: str | Path, *, when: datetime | None = None) -> Written:
    """Write ``review.html``, ``review.json`` and ``review.xlsx`` into a folder, made if missing.

    Parameters
    ----------
    review : Review
    folder : str or Path
    when : datetime, optional
        Time of the run, now if left out; it stands in the marked block alone.
    """
    moment = when or datetime.now()
    return write_report(
        "review",
        folder,
        html=review_html(review, when=moment),
        numbers=review_json(review, when=moment),
        workbook=workbook_bytes(review_sheets(review), title=review.title or "Film thickness"),
    )


def review_json(review: Review, *, when: datetime) -> str:
    """All numbers: ``review`` with its digest, and ``run`` outside of it. Numbers have ten significant digits."""
    return numbers_json("review", review.to_dict(), when=when)


def review_html(review: Review, *, when: datetime) -> str:
    """The page; every name from the data is escaped, and what is not seen in it is written as its number."""
    return render_page(
        "review.html.j2",
        when=when,
        review=review,
        phase_one=not review.has_baseline,
        status=_status(review),
        answers=_answers(review),
        findings=[_finding_view(review, finding) for finding in review.findings],
        uneven=_uneven_table(review),
        faults=[
            f"Gauge fault: {fault.words(review.made.unit)}."
            for fault in review.gauge_faults
            if fault not in [finding.fault for finding in review.findings]
        ],
        layers=[_layer_view(review, layer) for layer in review.layers],
        costs=_cost_tables(review),
        standing=_standing_table(review),
        signals=_signal_table(review),
        aside=_aside_table(review.set_aside),
        patterns=_pattern_table(review),
        screens=_screen_table(review),
        unread=names_of(review.screening.unread),
        options=option_rows(review.made.options),
    )


# -- what the template shows --------------------------------------------------------------------


@dataclass(frozen=True)
class Answer:
    """One row of the three answers."""

    question: str
    about: str
    answer: str
    ground: str


@dataclass(frozen=True)
class FindingView:
    """One finding with its table."""

    title: str
    sentence: str
    table: Table


@dataclass(frozen=True)
class LayerView:
    """One layer with its figures."""

    layer: LayerReview
    title: str
    charts: tuple[Figure, ...]
    histogram: Figure | None
    places: Figure | None
    spread: tuple[Figure, ...]
    streams: tuple[Figure, ...]
    capability: Table | None
    limits: str
    misses: Table | None


def _status(review: Review) -> tuple[str, str]:
    """A class name and the big word."""
    if review.stable is None:
        return "open", "Stability not judged"
    if review.stable and not all(layer.baseline_units for layer in review.layers if layer.stable is not None):
        return "open", "No change stands out"
    return ("good", "Stable") if review.stable else ("bad", "Not stable")


def _answers(review: Review) -> list[Answer]:
    unit = review.made.unit
    rows = []
    for layer in review.layers:
        found = layer.conformance
        if found is None:
            continue
        usual = "" if found.usual_share is None else f"; usually {100 * found.usual_share:.1f} % of {found.usual_judged}"
        places = found.spot_lower is not None or found.spot_upper is not None
        spots = f", places {window_text(found.spot_lower, found.spot_upper, unit)}" if places else ""
        ground = f"unit average{spots}, last attempt"
        again = found.first_pass_text
        effect = "to rework" if layer.miss == "rework" else "told, no rework"
        rows.append(
            Answer(
                "Do units keep the window?",
                f"{layer.name}, {window_text(layer.window.lower, layer.window.upper, unit)}",
                f"{found.missing} of {found.judged} miss ({100 * found.share:.1f} %){usual}"
                if found.judged
                else "no unit judged",
                "; ".join([ground, *([f"a miss is {effect}"] if found.missing else []), *([again] if again else [])]),
            )
        )
    question = "Is the line one steady process?"
    rows += [Answer(question, layer.name, layer.stability_word, layer.why) for layer in review.layers if layer.charted]
    rows.append(Answer("Can the gauge tell?", "all layers", *gauge_answer(review.measurability)))
    return rows


def _finding_view(review: Review, finding: Finding) -> FindingView:
    unit = review.made.unit
    size, limits = sized(finding.size, finding.error, unit)
    sign = "+" if finding.size > 0 else "-"
    per = f" a {finding.per}" if finding.per else ""
    where = f", {', '.join(finding.streams)}" if finding.streams else ""
    rows = [
        ("layer", finding.layer),
        ("streams", ", ".join(finding.streams) or "all units"),
        ("shape", "step" if finding.shape == "step" else "drift: grows from day to day"),
        ("size", f"{sign}{size}{per}"),
        ("interval of the size, without its sign", f"{limits} {unit}{per}"),
        *((f"on {x.stream} apart", f"{x.size:+.3g} {unit}, up to {x.error:.2g} either way is chance") for x in finding.by_stream),
        ("first unit", _unit_at(finding.first_unit, finding.first_time)),
        ("last unit", _unit_at(finding.last_unit, finding.last_time) + (", the last one read" if finding.lasting else "")),
        ("units concerned", str(finding.units)),
        ("it starts between, 95 % sure", f"{finding.earliest_unit} and {finding.latest_unit}"),
        *([("what it may be", _kind_text(finding))] if finding.kind != "change" else []),
        ("recorded with its start", finding.cause or "no recorded change near it"),
        ("recorded with its end", finding.ended_by or ("-" if finding.lasting else "no recorded change near it")),
        ("state", f"{_state_text(finding)}; {plural(finding.episodes, 'signal')} explained by it"),
        ("evidence", f"twice the log likelihood ratio {finding.evidence:.1f}; {finding.threshold:.1f} is needed"),
    ]
    title = f"{finding.layer[0].upper()}{finding.layer[1:]}{where}: {sign}{size}{per}"
    return FindingView(title, finding.sentence, Table("In numbers", ("what", "value"), tuple(rows)))


def _kind_text(finding: Finding) -> str:
    gauge = f"gauge {finding.gauge}" if finding.gauge else "gauge"
    return {
        "common offset": common_offset_text(gauge, finding.layer),
        "gauge fault": f"zero error of {gauge}: shims say so",
        "gauge in part": f"{gauge} was off on shims, by another amount",
    }[finding.kind]


def _state_text(finding: Finding) -> str:
    if finding.state == "closed":
        return f"closed: {finding.closed_by}"
    if finding.lasting:
        return "open: it lasts"
    return f"open: {plural(finding.quiet_points, 'quiet point')} in a row since its end, 20 close it"


def _uneven_table(review: Review) -> Table | None:
    unit = review.made.unit
    rows = tuple(
        (
            x.who,
            x.layer,
            f"{x.sd:.3g} {unit}",
            f"{x.usual_sd:.3g} {unit}, {'of the same' if x.own else 'of all units'}",
            f"{x.sd / x.usual_sd:.2f} ({x.ratio_lower:.2f} to {x.ratio_upper:.2f})",
            f"{x.units}, from {x.first_unit} to {x.last_unit}",
        )
        for x in review.uneven
    )
    head = ("whose units", "layer", "standard deviation between places", "usual", "ratio (interval)", "units")
    return Table("Uneven inside the unit, the usual pattern of places taken off", head, rows) if rows else None


def _unit_at(unit: str, time: str) -> str:
    return f"{unit}, read {time.replace('T', ' ')}" if time else unit


def _layer_view(review: Review, layer: LayerReview) -> LayerView:
    unit = review.made.unit
    name = layer.name[0].upper() + layer.name[1:]
    if layer.minus:
        name += f" ({layer.reading} minus {layer.minus}, place by place)"
    charts = tuple(chart_figure(review, layer, chart) for chart in layer.charts)
    histogram = histogram_figure(review, layer) if len(layer.units) > 1 else None
    origin = ""
    if layer.variation is not None:
        v = layer.variation
        source = (
            f"{plural(layer.baseline_units, 'baseline unit')}, held fixed"
            if layer.baseline_units
            else "these same units (phase 1)"
        )
        origin = (
            f"Limits from {source}. Quiet variation of a unit average: {with_unit(v.sigma_unit, unit, 3)} from unit to unit and "
            f"{with_unit(v.sigma_day, unit, 3)} from {v.between} to {v.between} "
            f"(correlation of neighbors {v.day_correlation:.2f})."
        )
    found = layer.conformance
    misses = None
    if found is not None and found.missing:
        judged = dict(zip(found.units, found.average.tolist(), strict=True))
        words = misses_in_words(found)
        rows = [
            (unit, words[unit], beyond_text(judged[unit], layer.window.lower, layer.window.upper)) for unit in found.missing_units
        ]
        title = "Units to rework" if layer.miss == "rework" else "Units outside the window"
        misses = Table(
            f"{title}: {window_text(layer.window.lower, layer.window.upper, unit)}",
            ("unit", "what misses", f"average, last attempt ({unit})".removesuffix(" ()")),
            tuple(rows),
        )
    return LayerView(
        layer,
        name,
        charts,
        histogram,
        places_figure(review, layer),
        spread_figures(review, layer),
        stream_figures(review, layer),
        capability_table(layer),
        origin,
        misses,
    )


def _signal_table(review: Review) -> Table | None:
    rows = []
    for layer in review.layers:
        for chart in layer.charts:
            for signal in chart.signals:
                i = chart.at[signal.point]
                when = "" if layer.time is None else minute_text(layer.time[i])
                value = chart.spread[signal.point] if signal.rule == "spread" else chart.values[signal.point]
                side = "" if signal.rule == "spread" else signal.side
                rows.append(
                    (
                        str(layer.units[i]),
                        when,
                        layer.name,
                        chart.stream,
                        f"{value:.4g} {review.made.unit}",
                        rule_text(signal.rule),
                        side,
                    )
                )
    if not rows:
        return None
    return Table(
        "Signals, each starting an episode", ("unit", "read at", "layer", "stream", "value", "what is seen", "side"), tuple(rows)
    )


def _standing_table(review: Review) -> Table | None:
    unit = review.made.unit
    rows = []
    for layer in review.layers:
        for x in layer.standing:
            if not x.units:
                continue
            told = math.isfinite(x.size)
            size = f"{x.size:+.{decimals_for(x.error)}f} {unit}".rstrip() if told else "cannot be told apart"
            rows.append(
                (
                    named_level(x.column, x.value),
                    layer.name,
                    size,
                    fixed(x.error, decimals_for(x.error)) if told else "",
                    str(x.units),
                    "new: not in the baseline" if x.new else "",
                )
            )
    if not rows:
        return None
    head = ("factor", "layer", "differs from the mean of its kind by", "half width of the interval", "units here", "note")
    return Table("Usual differences; none of them is a change", head, tuple(rows))


def _cost_tables(review: Review) -> list[Table]:
    """What film beyond the aim costs, and where to aim; none unless the plan gives paint and painted area."""
    if not review.costs:
        return []
    each = review.costs[0].each
    head = (
        "layer",
        "mean of unit averages",
        "aimed at",
        "above the aim",
        "paint a month",
        "cost a month",
        f"each {with_unit(each.step, each.made.unit)} a month",
        "price and solids",
    )
    area = f"{with_unit(each.area, each.made.options['area_unit'], 6)} painted a month"
    tables = [Table(f"Film beyond the aim: {area}", head, tuple(cost_rows(review.costs)))]
    if rows := aim_rows(review.costs):
        columns = (
            "layer",
            "allowed",
            "standard deviation of unit averages",
            "aim point",
            "above the upper limit then",
            "aim with half the spread",
            "saved by half the spread",
        )
        tables.append(Table("Where to aim above a lower limit", columns, tuple(rows)))
    return tables


def _aside_table(items: Sequence[SetAside]) -> Table | None:
    """Rows set aside, neighbors with the same unit, reading and reason together."""
    if not items:
        return None
    groups: list[list[SetAside]] = []
    for item in items:
        last = groups[-1][-1] if groups else None
        same = last is not None and (last.unit, last.reading) == (item.unit, item.reading) and _kind(last) == _kind(item)
        if same and last is not None and item.line == last.line + 1:
            groups[-1].append(item)
        else:
            groups.append([item])
    rows = []
    for group in groups:
        first, last = group[0], group[-1]
        lines = str(first.line) if len(group) == 1 else f"{first.line} to {last.line}"
        values = names_of(list(dict.fromkeys(x.value for x in group if x.value)))
        rows.append((lines, first.unit, first.reading, str(len(group)), values, first.reason))
    return Table("Readings set aside", ("line", "unit", "reading", "count", "values", "reason"), tuple(rows))


def _pattern_table(review: Review) -> Table | None:
    """Patterns in the readings, with the chance that honest ones show them."""
    rows = tuple(
        (
            x.sentence,
            f"{number(x.observed, 4)} against {number(x.expected, 3)}",
            chance_text(x.adjusted_pvalue),
            str(len(x.rows)) if x.rows else "",
            x.way_out,
        )
        for x in review.screening.patterns
    )
    head = (
        "what the readings show",
        "seen against expected",
        "chance in honest readings, all tests allowed for",
        "rows",
        "what to do",
    )
    return Table("Patterns that honest readings seldom show", head, rows) if rows else None


def _screen_table(review: Review) -> Table:
    rows = tuple((run.name, screen_text(run)) for run in review.screening.runs)
    return Table("Screens for patterns, each with how often it tells of honest readings", ("screen", "what it did"), rows)


def _kind(item: SetAside) -> str:
    """The reason without the numbers of one row."""
    return "".join(letter for letter in item.reason.partition(";")[0] if not letter.isdigit())
