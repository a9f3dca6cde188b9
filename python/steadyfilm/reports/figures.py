"""The pictures of a review as SVG text, each with the numbers that stand in the table below it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyfilm._format import number, plural, with_unit
from steadyfilm._review.charting import SPREAD, StreamChart
from steadyfilm._review.words import Finding, sized
from steadyfilm.limits import SpecLimits
from steadyfilm.plots import Drawn
from steadyfilm.plots.capability import draw_histogram
from steadyfilm.plots.monitored import Mark, Panel, draw_monitored
from steadyfilm.plots.places import draw_places
from steadyfilm.plots.readings import MOST_UNITS, plot_readings
from steadyfilm.plots.style import matched
from steadyfilm.plots.variance_components import plot_components
from steadyfilm.review import LayerReview, Review
from steadyfilm.run_rules import describe
from steadyfilm.variance_components import body_components


@dataclass(frozen=True)
class Table:
    """A table under a figure: column names, and rows of text; the first cell of a row is its heading."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Figure:
    """A picture, its words, and its table."""

    svg: str
    title: str
    caption: str
    table: Table


def rule_text(rule: str) -> str:
    """What a signal's rule says, in shop words."""
    if rule == SPREAD:
        return "uneven inside the unit"
    return " and ".join(_one_rule(word) for word in rule.split(" and "))


def _one_rule(word: str) -> str:
    if word.startswith("ewma"):
        return "EWMA beyond its limit"
    if word.startswith("1of1_beyond"):
        return "beyond the limits"
    return describe(word)


def chart_figure(review: Review, layer: LayerReview, chart: StreamChart) -> Figure:
    """One stream's units with limits, zones and signals, the EWMA and the spread inside the unit below."""
    unit = review.made.unit
    name = f"{layer.name}, {chart.stream}" if review.made.options["streams"] else layer.name
    limited = math.isfinite(chart.lines.center)
    location = [x for x in chart.signals if x.rule != SPREAD]
    ewma_alone = [x for x in location if x.rule.startswith("ewma")]
    beyond = [x for x in location if not x.rule.startswith("ewma")]
    uneven = [x for x in chart.signals if x.rule == SPREAD]
    below = []
    if len(chart.ewma):
        below.append(
            Panel(
                chart.ewma,
                chart.ewma_lines.center,
                chart.ewma_lines.lower,
                chart.ewma_lines.upper,
                signals=_marks(ewma_alone),
                label="EWMA",
                unit=unit,
                role="ewma",
            )
        )
    if len(chart.spread):
        lines = chart.spread_lines
        below.append(
            Panel(
                chart.spread,
                lines.center,
                lines.lower if lines.lower > 0 else math.nan,
                lines.upper,
                signals=_marks(uneven),
                label="SD between locations",
                unit=unit,
                role="spread",
            )
        )
    time = layer.time[chart.at] if layer.time is not None else None
    drawn = draw_monitored(
        chart.values,
        unit=unit,
        center=chart.lines.center if limited else math.nan,
        lower=chart.lines.lower,
        upper=chart.lines.upper,
        sigma=chart.sigma if limited else None,
        signals=_marks(beyond),
        time=time,
        break_before=chart.break_before,
        phases=_phases(review, layer, chart),
        quantity="unit average",
        stream=name,
        title=_chart_title(name, chart),
        caption=" ".join([false_alarms(layer, chart), *_gap_text(review, chart)]),
        below=below,
    )
    return figure_of(drawn, _chart_table(layer, chart, unit))


def _marks(signals: Sequence[Any]) -> list[Mark]:
    return [Mark(x.point, rule_text(x.rule), x.side, x.length) for x in signals]


def _phases(review: Review, layer: LayerReview, chart: StreamChart) -> list[tuple[int, str]]:
    """Where the told changes of this stream start and end."""
    units = [layer.units[i] for i in chart.at]
    marks: dict[int, str] = {}
    for finding in review.findings:
        if finding.layer != layer.name or not concerns(finding, chart):
            continue
        mine = [i for i, unit in enumerate(units) if unit in set(finding.unit_names)]
        if not mine:
            continue
        marks[mine[0]] = short_size(finding, review.made.unit)
        if mine[-1] + 1 < len(units):
            marks.setdefault(mine[-1] + 1, "")
    return sorted(marks.items())


def concerns(finding: Finding, chart: StreamChart) -> bool:
    """Whether a change is one of this stream, or of all."""
    return not finding.streams or any(stream in (chart.stream, *chart.stream.split(", ")) for stream in finding.streams)


def short_size(finding: Finding, unit: str) -> str:
    """The size of a change with its sign."""
    size = sized(finding.size, finding.error, unit)[0]
    return f"{'+' if finding.size > 0 else '-'}{size}{f' a {finding.per}' if finding.per else ''}"


def _chart_title(name: str, chart: StreamChart) -> str:
    label = name[0].upper() + name[1:]
    if not math.isfinite(chart.lines.center):
        return f"{label}: no limits of its own, the baseline has {plural(chart.baseline_units, 'unit')} of it."
    if not chart.signals:
        return f"{label}: no signal among {plural(len(chart.at), 'unit')}."
    return f"{label}: {plural(len(chart.signals), 'signal')} among {plural(len(chart.at), 'unit')}."


def false_alarms(layer: LayerReview, chart: StreamChart) -> str:
    """What this chart says of its own false alarms, for these limits and rules under the fitted quiet behavior."""
    if not math.isfinite(chart.expected_episodes):
        return "Without limits there are no signals."
    limits = "Limits from the baseline, held fixed." if layer.baseline_units else "Limits from these same units."
    return (
        f"{limits} All panels together, a quiet period of this length brings {chart.expected_episodes:.1f} signals on average, "
        f"and at most {chart.most_expected:.0f} in 99 of 100 (simulated, standard error {chart.expected_error:.1g}; "
        f"if units were independent {chart.independent_episodes:.1f})."
    )


def _gap_text(review: Review, chart: StreamChart) -> list[str]:
    """That the chart is broken at long pauses, if the plan says so."""
    longest = review.made.options["longest_gap_hours"]
    if longest is None:
        return []
    broken = f"broken at {plural(int(chart.break_before.sum()), 'pause')}" if chart.break_before.any() else "not broken"
    return [f"Line, runs and EWMA start anew after a pause of more than {number(longest)} hours: {broken}."]


def _chart_table(layer: LayerReview, chart: StreamChart, unit: str) -> Table:
    said: dict[int, list[str]] = {}
    for signal in chart.signals:
        said.setdefault(signal.point, []).append(rule_text(signal.rule))
    head = ["unit", *(["read at"] if layer.time is not None else []), "average", "charted"]
    head += ["EWMA"] if len(chart.ewma) else []
    head += ["SD between locations"] if len(chart.spread) else []
    rows = []
    for k, i in enumerate(chart.at):
        row = [str(layer.units[i])]
        if layer.time is not None:
            row.append(minute_text(layer.time[i]))
        row += [f"{layer.average[i]:.4g}", f"{chart.values[k]:.4g}"]
        row += [f"{chart.ewma[k]:.4g}"] if len(chart.ewma) else []
        row += [f"{chart.spread[k]:.3g}"] if len(chart.spread) else []
        rows.append((*row, ", ".join(said.get(k, []))))
    lines = chart.lines
    words = (
        f"center {number(lines.center, 4)}, limits {number(lines.lower, 4)} to {number(lines.upper, 4)} {unit}".rstrip()
        if math.isfinite(lines.center)
        else "no limits"
    )
    return Table(f"{plural(len(rows), 'unit')}; {words}", (*head, "signal"), tuple(rows))


def minute_text(time: np.datetime64) -> str:
    """Local date and time to the minute."""
    return str(time.astype("datetime64[m]")).replace("T", " ")


def histogram_figure(review: Review, layer: LayerReview) -> Figure:
    """Unit averages, the window, and the fitted normal curve."""
    # The units as they are judged, where there is a window: the last attempt of each.
    found = layer.conformance
    values = layer.average if found is None or not found.judged else found.average
    mean, sd = float(values.mean()), float(values.std(ddof=1)) if len(values) > 1 else 0.0
    drawn = draw_histogram(
        values,
        unit=review.made.unit,
        window=layer.window,
        mean=mean,
        sd=sd,
        below=len(found.below) if found is not None and found.judged else None,
        above=len(found.above) if found is not None and found.judged else None,
        quantity=f"{layer.name}, unit average",
        things="unit",
    )
    edges, counts = drawn.data["edges"], drawn.data["counts"]
    rows = tuple((f"{a:.4g} to {b:.4g}", f"{int(n)}") for a, b, n in zip(edges[:-1], edges[1:], counts, strict=True))
    table = Table(
        f"mean {number(mean, 4)}, standard deviation {number(sd, 3)} {review.made.unit}".rstrip(), ("from, to", "units"), rows
    )
    return figure_of(drawn, table)


def spread_figures(review: Review, layer: LayerReview) -> tuple[Figure, ...]:
    """Every place of every judged unit in one picture, and where the variation sits; none with one place or too many units."""
    found = layer.conformance
    if found is None or not 2 <= len(found.units) <= MOST_UNITS:
        return ()
    # A place that some units lack is no part of what all have in common.
    shown = [x for x in found.places if not np.isnan(x.values).any()]
    if len(shown) < 2:
        return ()
    unit, names, places = review.made.unit, found.units, [x.location for x in shown]
    film = np.column_stack([x.values for x in shown])
    known = {} if layer.time is None else dict(zip(layer.units, layer.time, strict=True))
    days = [str(known[name].astype("datetime64[D]")) for name in names if name in known]
    table: dict[str, Any] = {
        "film": film.ravel(),
        "unit": [name for name in names for _ in places],
        "place": places * len(names),
    }
    if len(days) == len(names):
        table["day"] = [day for day in days for _ in places]
    drawn = plot_readings(
        table,
        "film",
        unit=unit,
        body="unit",
        location="place",
        day="day" if "day" in table else None,
        window=layer.window,
        quantity=layer.name,
        title=(
            f"{plural(len(names), 'unit')} with {len(places)} places: "
            f"means by place from {with_unit(float(film.min()), unit)} to {with_unit(float(film.max()), unit)}."
        ),
        caption="Small marks: means by place, from left to right inside each unit; bars: unit averages; dotted: a new day.",
    )
    rows = tuple((name, *(f"{x:.4g}" for x in row)) for name, row in zip(names, film, strict=True))
    left = [x.location for x in found.places if x.location not in places]
    caption = f"Means by place{f' ({unit})' if unit else ''}, last attempt"
    caption += f"; not read on every unit and left out: {', '.join(left)}" if left else ""
    pictures = [figure_of(drawn, Table(caption, ("unit", *places), rows))]
    if np.ptp(film) > 1e-9 * float(np.abs(film).max()):
        parts = body_components(table, "film", unit=unit, body="unit", location="place")
        lines = [(x.source.replace("_", " x "), f"{x.sd:.3g}", f"{100 * x.share:.0f} %") for x in parts.components]
        lines.append(("place, alike on every unit", f"{parts.location_rms:.3g}", "fixed"))
        words = f"Standard deviations of means by place{f' ({unit})' if unit else ''}"
        pictures.append(figure_of(plot_components(parts), Table(words, ("source", "SD", "share"), tuple(lines))))
    return tuple(pictures)


def places_figure(review: Review, layer: LayerReview) -> Figure | None:
    """Thickness by place of the judged units; None where there are no two places."""
    found = layer.conformance
    if found is None or len(found.places) < 2:
        return None
    unit = review.made.unit
    drawn = draw_places(
        np.column_stack([x.values for x in found.places]),
        [x.location for x in found.places],
        unit=unit,
        window=layer.window,
        spot_limits=SpecLimits(found.spot_lower, found.spot_upper) if found.spot_misses else None,
        error=[x.error for x in found.places],
        quantity=layer.name,
        caption="The window is that of the unit average; a single place may lie outside it.",
    )
    means = matched(*(x.mean for x in found.places))
    rows = tuple(
        (x.location, str(x.count), mean, f"{x.error:.2g}", f"{x.sd:.3g}", str(x.below), str(x.above))
        for x, mean in zip(found.places, means, strict=True)
    )
    head = ("place", "units", "mean", "half width of its interval", "SD between units", "spots below", "spots above")
    return figure_of(drawn, Table(f"By place ({unit}); intervals for independent units".replace(" ()", ""), head, rows))


def capability_table(layer: LayerReview) -> Table | None:
    """The indices with their intervals, or why there are none."""
    found = layer.capability
    if found is None:
        return None
    rows = []
    two_sided = layer.window.lower is not None and layer.window.upper is not None
    shown = ("pp", "ppk", "cp", "cpk", "cpm") if two_sided else ("ppu", "ppl", "cpu", "cpl")
    for x in found.indices:
        if x.index not in shown or (x.index == "cpm" and layer.window.target is None):
            continue
        if x.value is None:
            reason = x.reason
            if reason:
                rows.append((x.index.capitalize(), "", "", "", reason))
            continue
        interval = f"{x.lower:.2f} to {x.upper:.2f}" if x.lower is not None and x.upper is not None else ""
        bound = f"{x.lower_bound:.2f}" if x.lower_bound is not None else ""
        kind = "this period, not a forecast"
        if x.index.startswith("c") and x.index != "cpm":
            kind = "a forecast" if found.stable else "a forecast if the line is steady, which only a baseline can show"
        rows.append((x.index.capitalize(), f"{x.value:.2f}", interval, bound, kind))
    percent = f"{100 * found.confidence_level:g} %"
    head = ("index", "value", f"{percent} interval", f"at least, {percent} sure", "note")
    within = f"; within sigma of {layer.within_text}" if found.sigma_within is not None else ""
    return Table(f"Capability of unit averages, first attempts; intervals for independent units{within}", head, tuple(rows))


def figure_of(drawn: Drawn, table: Table) -> Figure:
    """A picture with its words and its table."""
    return Figure(drawn.svg(), drawn.title, drawn.caption, table)


def option_rows(options: Mapping[str, Any]) -> list[tuple[str, str]]:
    """What a result was made with, in words.

    >>> option_rows({"rules": ["a", "b"], "sigma_within": None})
    [('rules', 'a, b'), ('sigma within', '-')]
    """
    shown = []
    for key, value in options.items():
        text = ", ".join(str(item) for item in value) if isinstance(value, list) else "" if value is None else str(value)
        shown.append((key.replace("_", " "), text or "-"))
    return shown
