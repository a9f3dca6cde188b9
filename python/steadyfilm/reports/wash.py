"""The report of a washer: one HTML page that needs nothing else, all its numbers as JSON, all its tables for Excel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from steadyfilm._format import number, plural, window_text, with_unit
from steadyfilm._wash.words import upper_first
from steadyfilm.reports.figures import Figure, Table, minute_text
from steadyfilm.reports.page import Written, numbers_json, render_page, write_report
from steadyfilm.reports.workbook import Cell, Sheet, workbook_bytes
from steadyfilm.wash_review import TankReview, UseChart, WashReview

__all__ = ["wash_html", "wash_json", "wash_sheets", "write_wash"]


@dataclass(frozen=True)
class TankView:
    """One tank: its sentence, its picture, what to look at, and its limits."""

    name: str
    sentence: str
    figure: Figure | None
    steps: tuple[str, ...]
    charts: Table | None


def write_wash(review: WashReview, folder: str | Path, *, when: datetime | None = None) -> Written:
    """Write ``wash.html``, ``wash.json`` and ``wash.xlsx`` into a folder, made if missing.

    Parameters
    ----------
    review : WashReview
    folder : str or Path
    when : datetime, optional
        Time of the run, now if left out; it stands in the marked block alone.
    """
    moment = when or datetime.now()
    return write_report(
        "wash",
        folder,
        html=wash_html(review, when=moment),
        numbers=wash_json(review, when=moment),
        workbook=workbook_bytes(wash_sheets(review), title=review.title or "Wash tanks"),
    )


def wash_json(review: WashReview, *, when: datetime) -> str:
    """All numbers: ``wash`` with its digest, and ``run`` outside of it. Numbers have ten significant digits."""
    return numbers_json("wash", review.to_dict(), when=when)


def wash_html(review: WashReview, *, when: datetime) -> str:
    """The page; every name from the data is escaped, and what is not seen in it is written as its number."""
    return render_page(
        "wash.html.j2",
        when=when,
        review=review,
        status=_status(review),
        changes=_change_table(review),
        tanks=[_tank_view(review, tank) for tank in review.tanks],
        options=[(key.replace("_", " "), "-" if value is None else str(value)) for key, value in review.made.options.items()],
        calls=number(review.made.options["false_calls_per_month"]),
    )


def _status(review: WashReview) -> tuple[str, str]:
    """A class name and the big word."""
    lasting = [change for change in review.changes if change.lasting]
    if lasting:
        return "bad", f"The use of {lasting[0].tank} has changed"
    out = [tank.name for tank in review.tanks if tank.states and tank.states[-1] == "outside"]
    if out:
        return "bad", f"{upper_first(out[0])} is outside its band"
    if review.changes:
        return "open", f"The use of {review.changes[0].tank} had changed"
    if any(tank.outside for tank in review.tanks):
        return "open", "A titration was outside its band"
    if not any(math.isfinite(chart.center) for tank in review.tanks for chart in tank.charts):
        return "open", "Use cannot be told"
    return "good", "No change in use"


def _change_table(review: WashReview) -> Table | None:
    rows = tuple(
        (
            change.tank,
            change.start,
            "lasts" if change.lasting else change.end,
            change.seen,
            f"{number(change.rate, 3)} {change.unit}",
            f"{number(change.usual_rate, 3)} {change.unit}",
            f"{100 * change.share:+.0f} % (± {number(100 * change.share_error, 2)})",
            "-" if math.isnan(change.by_area) else f"{100 * change.by_area:+.0f} %",
            change.out_of_band or "-",
            "-" if math.isnan(change.lead_hours) else f"{number(round(change.lead_hours, 1))} h",
        )
        for change in review.changes
    )
    head = ("tank", "from", "to", "seen at", "use", "usual", "change", "by area", "titration out at", "seen earlier by")
    return Table("Changes of use; intervals are 95 %", head, rows) if rows else None


def _tank_view(review: WashReview, tank: TankReview) -> TankView:
    figure = None
    if tank.percent.size or any(chart.rate.size for chart in tank.charts):
        drawn = review.plot(tank=tank.name)
        rows = tuple(
            (minute_text(at), number(float(value), 4), state or "-")
            for at, value, state in zip(tank.titrated_at, tank.percent, tank.states, strict=True)
        )
        band = "no band" if tank.lower is None and tank.upper is None else f"band {window_text(tank.lower, tank.upper, '%')}"
        table = Table(f"{plural(len(rows), 'titration')}; {band}", ("time", "%", "state"), rows)
        figure = Figure(drawn.svg(), drawn.title, drawn.caption, table)
    told = "" if figure and figure.title == tank.sentence else tank.sentence  # a figure's title need not say it twice
    return TankView(upper_first(tank.name), told, figure, _steps(tank), _chart_table(tank))


def _steps(tank: TankReview) -> tuple[str, ...]:
    """Where to look first; the answer lies at the tank."""
    out = []
    if any(change.share < 0 and change.metered for change in tank.changes):
        out.append(
            "Less is fed: look at pump, suction line, valve, empty drum and setting, and at the meter itself. If the titration "
            "stays level, the meter is at fault; if it falls, the feed is."
        )
    if any(change.share < 0 and not change.metered for change in tank.changes):
        out.append("Less is taken: look whether additions were left out or not written down, and at how the titration is done.")
    if any(change.share > 0 for change in tank.changes):
        out.append("More is used: look for a leak, an open drain, overflow, more carry-over on the parts, and a wrong setting.")
    if tank.outside:
        out.append(
            "A titration outside the band: repeat it, then treat work and bath as the product's data sheet and the shop's own "
            "rules say."
        )
    return tuple(out)


def _chart_table(tank: TankReview) -> Table | None:
    rows = tuple(
        (
            {"hour": "by the hour", "area": "by painted area", "day": "by the day"}[chart.kind],
            chart.unit,
            str(chart.rate.size),
            _cell(chart.lower),
            _cell(chart.center),
            _cell(chart.upper),
            f"{chart.usual_points}{' (own)' if chart.own_limits else ''}",
            str(len(chart.signals)),
            number(chart.expected_signals, 2),
            f"{chart.left_out}, {with_unit(chart.used_left_out, tank.unit, 3)} used in them",
        )
        for chart in tank.charts
    )
    head = (
        "use",
        "unit",
        "intervals",
        "lower limit",
        "usual",
        "upper limit",
        "usual intervals",
        "beyond limits",
        "expected of a steady tank",
        "pauses and intervals left out",
    )
    return Table(f"Use of {tank.name}", head, rows) if rows else None


def _cell(value: float) -> str:
    return number(value, 4) if math.isfinite(value) else "-"


# -- the tables for Excel -----------------------------------------------------------------------


def wash_sheets(review: WashReview) -> tuple[Sheet, ...]:
    """Every table of a washer's report, empty ones left out but for the verdict."""
    sheets = [
        Sheet("Verdict", ("line", "verdict"), tuple(enumerate(review.verdict, start=1))),
        Sheet(
            "Changes",
            (
                "tank",
                "from",
                "to",
                "lasts",
                "seen at",
                "intervals",
                "use",
                "usual use",
                "unit",
                "change, share of usual",
                "half width of interval",
                "by area, share of usual",
                "titration out at",
                "that titration (%)",
                "seen earlier by (h)",
                "on record",
                "in words",
            ),
            tuple(
                (
                    x.tank,
                    _moment(x.start),
                    _moment(x.end),
                    x.lasting,
                    _moment(x.seen),
                    x.intervals,
                    x.rate,
                    x.usual_rate,
                    x.unit,
                    x.share,
                    x.share_error,
                    x.by_area,
                    _moment(x.out_of_band),
                    x.out_percent,
                    x.lead_hours,
                    "; ".join(x.recorded),
                    x.sentence,
                )
                for x in review.changes
            ),
        ),
        Sheet(
            "Titrations",
            ("tank", "time", "%", "band from (%)", "band to (%)", "state"),
            tuple(
                (tank.name, _time(at), float(value), tank.lower, tank.upper, state)
                for tank in review.tanks
                for at, value, state in zip(tank.titrated_at, tank.percent, tank.states, strict=True)
            ),
        ),
        Sheet(
            "Use",
            ("tank", "from", "to", "used", "for", "rate", "unit", "lower limit", "usual", "upper limit", "beyond"),
            tuple(row for tank in review.tanks for chart in tank.charts for row in _use_rows(tank, chart)),
        ),
        Sheet(
            "Poured in by hand",
            ("tank", "time", "volume", "unit"),
            tuple(
                (tank.name, _time(at), float(volume), tank.unit)
                for tank in review.tanks
                for at, volume in zip(tank.poured_at, tank.poured, strict=True)
            ),
        ),
        Sheet("Notes", ("note",), tuple((x,) for x in review.notes)),
        Sheet("Options", ("option", "value"), tuple(review.made.options.items())),
        Sheet("Inputs", ("file", "SHA-256"), tuple(review.inputs.items())),
    ]
    return tuple(sheet for sheet in sheets if sheet.rows or sheet.name == "Verdict")


def _use_rows(tank: TankReview, chart: UseChart) -> Iterator[tuple[Cell, ...]]:
    beyond = set(chart.signals)
    lines = (chart.lower, chart.center, chart.upper)
    for k in range(chart.rate.size):
        numbers = (float(chart.used[k]), float(chart.exposure[k]), float(chart.rate[k]))
        yield (tank.name, _time(chart.start[k]), _time(chart.end[k]), *numbers, chart.unit, *lines, k in beyond)


def _time(moment: Any) -> datetime:
    found: datetime = moment.astype("datetime64[s]").item()
    return found


def _moment(text: str) -> Cell:
    return datetime.fromisoformat(text) if text else None
