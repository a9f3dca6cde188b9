"""The report of film acceptance: one HTML page that leads with the verdict, and all its numbers as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural, window_text
from steadyfilm.film_thickness import acceptance_curve, film_spread
from steadyfilm.plots.film_thickness import plot_acceptance, plot_operating_curve
from steadyfilm.reports.figures import Figure, Table, figure_of
from steadyfilm.reports.page import Written, numbers_json, render_page, write_report

if TYPE_CHECKING:
    from steadyfilm.acceptance import AcceptedFile
    from steadyfilm.film_thickness import Acceptance, PlanCurve

__all__ = ["acceptance_html", "acceptance_json", "plan_curve", "write_acceptance"]

MOST_ROWS = 200
DRAWS = 4000


@dataclass(frozen=True)
class CurveView:
    """The operating curve with its sentence."""

    sentence: str
    figure: Figure


def write_acceptance(judged: AcceptedFile, folder: str | Path, *, when: datetime | None = None) -> Written:
    """Write ``acceptance.html`` and ``acceptance.json`` into a folder, made if missing.

    Parameters
    ----------
    judged : AcceptedFile
    folder : str or Path
    when : datetime, optional
        Time of the run, now if left out; it stands in the marked block alone.
    """
    moment = when or datetime.now()
    return write_report(
        "acceptance",
        folder,
        html=acceptance_html(judged, when=moment),
        numbers=acceptance_json(judged, when=moment),
    )


def acceptance_json(judged: AcceptedFile, *, when: datetime) -> str:
    """All numbers: ``acceptance`` with its digest, and ``run`` outside of it. Numbers have ten significant digits."""
    content = {
        "title": judged.title,
        "sentence": judged.found.sentence(),
        "notes": list(judged.notes),
        "left_out": judged.left_out,
        "superseded": judged.superseded,
        "inputs": judged.inputs,
        "found": judged.found.to_dict(),
    }
    return numbers_json("acceptance", content, when=when)


def acceptance_html(judged: AcceptedFile, *, when: datetime) -> str:
    """The page; every name from the data is escaped, and what is not seen in it is written as its number."""
    found = judged.found
    curve = plan_curve(found)
    return render_page(
        "acceptance.html.j2",
        when=when,
        title=judged.title,
        found=found,
        notes=judged.notes,
        status=_status(found),
        map=figure_of(plot_acceptance(found), _spots_table(found)),
        units=_units_table(found, found.verdict != "pass"),
        passed=_units_table(found, found.verdict == "pass"),
        discarded=_discarded_table(found),
        curve=None if curve is None else _curve_view(curve),
        limits=_limits_table(found),
        facts=_facts_table(found),
        inputs=judged.inputs,
    )


def plan_curve(found: Acceptance) -> PlanCurve | None:
    """How often the rule passes film like that which was judged, with as many readings; None without a spread to go by."""
    if found.out_count or not (found.spots.readings > 0).any():
        return None
    spread = film_spread(found)
    if not np.isfinite(spread.sigma_location):
        return None
    units = len(found.units)
    areas = max(1, round(found.areas.spots.size / units), found.areas_needed)
    spots = int(np.median(found.areas.spots)) if found.areas.spots.size else found.rule.spots_per_area
    readings = int(np.median(found.spots.readings[found.spots.readings > 0]))
    repeat, area = (0.0 if np.isnan(x) else x for x in (spread.sigma_repeat, spread.sigma_area))
    return acceptance_curve(
        found.rule,
        unit=found.made.unit,
        window=found.window,
        sigma_location=spread.sigma_location,
        sigma_repeat=repeat,
        sigma_area=area,
        areas=areas,
        spots=max(spots, found.rule.spots_per_area),
        readings=max(readings, found.rule.readings_per_spot),
        at_mean=spread.mean,
        draws=DRAWS,
    )


def _curve_view(curve: PlanCurve) -> CurveView:
    rows = tuple(
        (number(mean, 4), f"{number(100 * share, 3)} %", f"{number(100 * error, 2)} %")
        for mean, share, error in zip(curve.true_mean, curve.probability, curve.standard_error, strict=True)
    )
    head = (f"true mean ({curve.made.unit})", "units that pass", "standard error of the simulation")
    sentence = f"For film that varies inside a unit as this does: {curve.sentence()[0].lower()}{curve.sentence()[1:]}"
    return CurveView(sentence, figure_of(plot_operating_curve(curve), Table("Operating curve", head, rows)))


def _status(found: Acceptance) -> tuple[str, str]:
    """A class name and the big word."""
    if found.out_count:
        return "open", "Out of scope"
    if found.fail_count:
        return "bad", "Fail" if found.unit_count == 1 else f"{found.fail_count} of {plural(found.unit_count, 'unit')} fail"
    if found.open_count:
        return "open", "Not demonstrated"
    return "good", "Pass"


def _units_table(found: Acceptance, which: NDArray[np.bool_]) -> Table | None:
    """Some units with what decides; columns that say nothing of any unit are left out."""
    if not which.any():
        return None
    table = found._columns()
    unit = found.made.unit
    # What fails comes before what is open.
    order = [i for i in np.argsort(found.verdict != "fail", kind="stable").tolist() if which[i]]
    shown = order[:MOST_ROWS]
    columns: list[tuple[str, list[str]]] = [
        ("unit", [str(found.units[i]) for i in shown]),
        ("verdict", [str(found.verdict[i]) for i in shown]),
    ]
    if found.guard_class.any():
        columns.append(("guard-band class", [str(found.guard_class[i]) or "-" for i in shown]))
    columns += [
        (f"mean ({unit})", [_text(float(found.mean[i])) for i in shown]),
        (f"lowest spot ({unit})", [_text(float(table[f"lowest_spot_{unit}"][i])) for i in shown]),
        (f"highest spot ({unit})", [_text(float(table[f"highest_spot_{unit}"][i])) for i in shown]),
        ("areas, spots, readings", [f"{table['areas'][i]}, {table['spots'][i]}, {found.reading_count[i]}" for i in shown]),
    ]
    if found.discarded:
        changed = found.verdict != found.verdict_all
        columns.append(("with what was left out", [str(found.verdict_all[i]) if changed[i] else "the same" for i in shown]))
    if any(found.reason[i] for i in shown):
        columns.append(("what decides", [str(found.reason[i]) for i in shown]))
    more = f"; the first {MOST_ROWS} of {len(order)}" if len(order) > MOST_ROWS else ""
    head, cells = zip(*columns, strict=True)
    return Table(f"Verdicts by {found.rule.title}{more}", head, tuple(zip(*cells, strict=True)))


def _text(value: float) -> str:
    return number(value, 4) if np.isfinite(value) else "-"


def _spots_table(found: Acceptance) -> Table:
    word = {-1: "below", 0: "", 1: "above"}
    rows = tuple(
        (str(unit), str(area), str(spot), _text(float(mean)), str(count), word[int(side)])
        for unit, area, spot, mean, count, side in zip(
            found.spots.unit,
            found.spots.area,
            found.spots.spot,
            found.spots.mean,
            found.spots.readings,
            found.spots.side,
            strict=True,
        )
    )
    more = f", the first {MOST_ROWS} of {len(rows)}" if len(rows) > MOST_ROWS else ""
    head = ("unit", "area", "spot", f"mean ({found.made.unit})", "readings", "outside its limits")
    return Table(f"Spots{more}", head, rows[:MOST_ROWS])


def _discarded_table(found: Acceptance) -> Table | None:
    rows = tuple(
        (str(x.row), x.unit, x.spot, f"{number(x.measured)} {x.measured_unit}", x.reason, x.by or "-") for x in found.discarded
    )
    return Table("Kept here with the reason", ("line", "unit", "spot", "reading", "reason", "by"), rows) if rows else None


def _limits_table(found: Acceptance) -> Table:
    unit = found.made.unit
    rows = [("contract", window_text(found.window.lower, found.window.upper, unit))]
    for name in ("reading", "spot", "area", "unit"):
        limits = getattr(found, f"{name}_limits")
        if limits.lower is not None or limits.upper is not None:
            rows.append((f"each {name}", window_text(_plain(limits.lower), _plain(limits.upper), unit)))
    if found.areas_needed:
        rows.append(("areas of a unit", f"at least {found.areas_needed}, by its surface"))
    if found.readings_needed:
        rows.append(("readings of a unit", f"at least {found.readings_needed}, by its surface"))
    return Table("Limits", ("of what", "limit"), tuple(rows))


def _plain(value: float | None) -> float | None:
    """Without the noise of a product's last bits."""
    return None if value is None else float(f"{value:.10g}")


def _facts_table(found: Acceptance) -> Table:
    rows = tuple((fact.about, fact.how, fact.source or "-") for fact in found.rule.facts)
    return Table(f"How the rule is known: {found.rule.title}", ("part", "known", "source"), rows)
