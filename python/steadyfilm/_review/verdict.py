"""The verdict in at most five lines: is the line stable and what moved, which units miss, what the data leave open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from steadyfilm._format import decimals_for, fixed, number, outside_text, plural, window_text
from steadyfilm._review.again import PlaceAgain
from steadyfilm._review.alarms import AlarmBudget
from steadyfilm._review.gather import SetAside
from steadyfilm._review.gauges import GaugeFault
from steadyfilm._review.screening import Screening
from steadyfilm._review.unevenness import Uneven
from steadyfilm._review.words import MOST_STREAMS, Finding, joined

if TYPE_CHECKING:
    from steadyfilm._review.conformance import Conformance
    from steadyfilm.plan import Plan
    from steadyfilm.review import LayerReview

MOST_NAMES = 8


def verdict_lines(
    layers: Sequence[LayerReview],
    findings: Sequence[Finding],
    uneven: Sequence[Uneven],
    aside: Sequence[SetAside],
    screened: Screening,
    incomplete: Sequence[str],
    remeasured: Sequence[str],
    again: Sequence[PlaceAgain],
    alarms: AlarmBudget | None,
    faults: Sequence[GaugeFault],
    plan: Plan,
) -> tuple[str, ...]:
    """The lines; the first says whether the line is stable and what moved most."""
    unit = "" if plan.measure.unit == "unstated" else plan.measure.unit
    moved = [x.short for x in findings if x.kind != "gauge fault"]
    rough = [uneven_text(x, unit) for x in uneven]
    gauges = _gauges(findings, faults, unit)
    lines = [_stability(layers, [*moved, *rough], alarms)]
    # The second change, the first uneven level and the first gauge fault; the rest is counted.
    also = [*moved[1:2], *(rough[:1] if moved else rough[1:2]), *gauges[:1]]
    if also:
        rest = len(moved) + len(rough) + len(gauges) - len(also) - (1 if moved or rough else 0)
        more = f" {rest} more in the report." if rest else ""
        lines.append(f"Also: {'. '.join(text[0].upper() + text[1:] for text in also)}.{more}")
    rework = [x for x in layers if x.miss == "rework" and x.conformance is not None]
    if rework:
        lines.append(" ".join(_rework(x, unit) for x in rework))
    tells = [x for x in layers if x.miss == "tell" and x.conformance is not None]
    if tells:
        lines.append(" ".join(_share(x, unit) for x in tells))
    open_points = _open(aside, screened, incomplete, remeasured, again, unit)
    if open_points:
        lines.append(open_points)
    return tuple(lines)


def _gauges(findings: Sequence[Finding], faults: Sequence[GaugeFault], unit: str) -> list[str]:
    """Faults of gauges: those that moved readings, then those that the shims alone show."""
    own = [x for x in findings if x.kind == "gauge fault"]
    alone = [x for x in faults if x not in [y.fault for y in findings]]
    return [*(x.short for x in own), *(f"gauge fault: {x.words(unit)}" for x in alone)]


def uneven_text(found: Uneven, unit: str) -> str:
    """Whose units are uneven, by how much; both figures with the same decimals."""
    decimals = decimals_for(min(found.sd, found.usual_sd)) + 1
    sd, usual = (f"{fixed(x, decimals)} {unit}".rstrip() for x in (found.sd, found.usual_sd))
    return f"{found.layer} of {found.who} is uneven inside the unit: standard deviation {sd} between places, usually {usual}"


def _stability(layers: Sequence[LayerReview], told: Sequence[str], alarms: AlarmBudget | None) -> str:
    judged = [x for x in layers if x.stable is not None]
    if not judged:
        reasons = [f"{x.name}: {x.why}" for x in layers if x.charted] or ["no layer is charted"]
        return f"Stability is not judged ({'; '.join(reasons)})."
    apart = _without_limits(judged)
    if told:
        return f"The line is not stable: {told[0]}{apart}."
    restless = [(x, chart) for x in judged for chart in x.charts if chart.unusual]
    if restless:
        words = [
            f"{x.name}{_on(chart.stream, x)} shows {plural(len(chart.signals), 'signal')}, "
            f"more than the {chart.most_expected:.0f} that 99 % of quiet periods stay within"
            for x, chart in restless
        ]
        return f"The line is not stable: {'; '.join(words)}; no single change explains it{apart}."
    charts = [chart for x in judged for chart in x.charts]
    count = sum(len(chart.signals) for chart in charts)
    chance = alarms.expected if alarms is not None else 0.0
    lines = "" if alarms is None else f", lines at {number(alarms.sigma_multiple, 3)} sigma"
    units = plural(max(len(x.units) for x in judged), "unit")
    signals = f"{plural(count, 'signal')} where chance brings about {chance:.1f}{lines}"
    held, own = ([x.name for x in judged if bool(x.baseline_units) is with_baseline] for with_baseline in (True, False))
    # Day-to-day variation estimated from the units under review takes in whatever lasted a few days there.
    days = "day-to-day " if all(x.variation is None or x.variation.between == "day" for x in judged) else ""
    quiet = f"in {joined(own)} no change stands out against the {days}variation estimated from the same units"
    hidden = "without a baseline a lasting change can pass as such variation"
    if not held:
        return f"{quiet[0].upper()}{quiet[1:]}, {units}; {signals}; {hidden}{apart}."
    but = f"; {quiet} ({hidden})" if own else ""
    return f"The line is stable: no change found in {joined(held)} over {units}; {signals}{but}{apart}."


def _without_limits(layers: Sequence[LayerReview]) -> str:
    """Streams that were not judged: a value that the baseline never saw, or hardly, has nothing to be compared with."""
    loose: dict[str, int] = {}
    for chart in (chart for x in layers for chart in x.charts if not math.isfinite(chart.lines.center)):
        loose[chart.stream] = max(loose.get(chart.stream, 0), len(chart.at))
    which = joined(list(loose)) if len(loose) <= MOST_STREAMS else f"{len(loose)} streams"
    return f"; {which} not judged, without limits ({plural(sum(loose.values()), 'unit')})" if loose else ""


def _on(stream: str, layer: LayerReview) -> str:
    return f" on {stream}" if len(layer.charts) > 1 else ""


def _window(layer: LayerReview, unit: str) -> str:
    return window_text(layer.window.lower, layer.window.upper, unit)


def _outside(layer: LayerReview, unit: str) -> str:
    return outside_text(layer.window.lower, layer.window.upper, unit)


def _rework(layer: LayerReview, unit: str) -> str:
    found = layer.conformance
    assert found is not None  # only judged layers come here
    if not found.judged:
        return f"No unit of {layer.name} can be judged."
    if not found.missing:
        passed = f"; {found.first_pass_text}" if found.first_pass_text else ""
        return f"No unit needs rework: {layer.name} keeps {_window(layer, unit)} on {_all_units(found.judged)}{passed}."
    parts = _missing_parts(found)
    usual = "" if found.usual_share is None else f", usually {100 * found.usual_share:.1f} %"
    passed = f"; {found.first_pass_text}" if found.first_pass_text else ""
    return (
        f"{plural(found.missing, 'unit')} to rework, {layer.name} {_outside(layer, unit)}: {'; '.join(parts)} "
        f"({100 * found.share:.1f} % of {found.judged}{usual}){passed}."
    )


def _share(layer: LayerReview, unit: str) -> str:
    found = layer.conformance
    assert found is not None  # only judged layers come here
    name = layer.name[0].upper() + layer.name[1:]
    window = _window(layer, unit)
    if not found.judged:
        return f"{name}: no unit can be judged."
    if not found.missing:
        return f"{name}: {_all_units(found.judged)} {'keeps' if found.judged == 1 else 'keep'} {window}."
    usual = "" if found.usual_share is None else f", usually {100 * found.usual_share:.0f} %"
    one = found.missing == 1
    missed = f"{'misses' if one else 'miss'} {window}"
    if (layer.window.lower is None or layer.window.upper is None) and not found.spot_misses:
        missed = f"{'lies' if one else 'lie'} {_outside(layer, unit)}"
    text = f"{name}: {found.missing} of {plural(found.judged, 'unit')} {missed} ({100 * found.share:.0f} %{usual})"
    if found.missing > 3:
        return f"{text}."
    return f"{text}: {'; '.join(_missing_parts(found))}."


def _missing_parts(found: Conformance) -> list[str]:
    """Who is below, who above, and who misses at single places alone."""
    parts = [f"{names_of(names)} {word}" for names, word in ((found.below, "below"), (found.above, "above")) if names]
    by_average = {*found.below, *found.above}
    spots: dict[str, list[str]] = {}
    for miss in found.spot_misses:
        if miss.unit not in by_average:
            spots.setdefault(miss.unit, []).append(f"{miss.location} {miss.side}")
    if spots:
        limits = [f"below {number(x)}" for x in (found.spot_lower,) if x is not None]
        limits += [f"above {number(x)}" for x in (found.spot_upper,) if x is not None]
        named = names_of([f"{unit} ({', '.join(where)})" for unit, where in spots.items()])
        parts.append(f"a place {' or '.join(limits)} on {named}")
    return parts


def _all_units(count: int) -> str:
    return "the only unit" if count == 1 else "both units" if count == 2 else f"all {count} units"


def names_of(names: Sequence[str]) -> str:
    """Names as a list, the rest counted."""
    shown = ", ".join(names[:MOST_NAMES])
    return shown if len(names) <= MOST_NAMES else f"{shown} and {len(names) - MOST_NAMES} more"


def _open(
    aside: Sequence[SetAside],
    screened: Screening,
    incomplete: Sequence[str],
    remeasured: Sequence[str],
    again: Sequence[PlaceAgain],
    unit: str,
) -> str:
    parts = []
    if screened.patterns:
        more = f", and {plural(len(screened.patterns) - 1, 'more pattern')}" if len(screened.patterns) > 1 else ""
        rate = f"honest readings show such with chance at most {number(100 * screened.false_flag_rate, 2)} %"
        parts.append(f"{screened.patterns[0].sentence}{more} ({rate})")
    if screened.unread:
        names = names_of(screened.unread)
        parts.append(f"{plural(len(screened.unread), 'unit')} without readings ({names})")
    if aside:
        by_unit: dict[str, SetAside] = {}
        for item in aside:
            by_unit.setdefault(item.unit, item)
        shown = [f"{item.unit or 'no unit'}: {item.reason.rpartition('; ')[2]}" for item in list(by_unit.values())[:2]]
        more = f" and {plural(len(by_unit) - 2, 'more unit')}" if len(by_unit) > 2 else ""
        parts.append(f"{plural(len(aside), 'reading')} set aside ({'; '.join(shown)}{more})")
    if incomplete and not aside:
        parts.append(f"{plural(len(incomplete), 'unit average')} missing")
    if remeasured:
        parts.append(f"{names_of(remeasured)} measured again: first attempt charted, last one judged")
    if again:
        more = f", and {plural(len(again) - 1, 'more place')} of units measured again" if len(again) > 1 else ""
        parts.append(f"{again[0].words(unit)}{more}")
    return f"Data: {'; '.join(parts)}." if parts else ""
