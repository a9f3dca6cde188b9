"""All tables of a review as one Excel workbook: numbers as numbers, times as dates, and no text that Excel could run.

The same review gives the same bytes: the workbook says nothing of when it was written.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm._review.screening import screen_text
from steadyfilm._text import visible
from steadyfilm.errors import MissingExtraError
from steadyfilm.reports.figures import rule_text
from steadyfilm.review import LayerReview, Review, misses_in_words

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

__all__ = ["Sheet", "review_sheets", "workbook_bytes"]

Cell = str | float | int | bool | datetime | None

LONGEST_TEXT = 32_767
"""Characters in one cell."""
ROWS_OF_A_SHEET = 1_048_576
WIDEST = 60
"""Characters; longer columns are cut in view, not in content."""
WITHIN_INDICES = ("cp", "cpk", "cpu", "cpl")
"""Those that rest on moving ranges."""
WRITTEN = datetime(2000, 1, 1)
"""Stands as the date of the file, so that the same review gives the same bytes."""


@dataclass(frozen=True)
class Sheet:
    """One table: a name of at most 31 characters, column heads with units, and rows of cells."""

    name: str
    head: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def cell_text(text: str) -> str:
    r"""Text for a cell: characters that cannot be seen are written as their number, and what is too long says so.

    >>> cell_text("left\u202eright\x07")
    'left<U+202E>right<U+0007>'
    """
    shown = "\n".join(visible(line) for line in text.split("\n"))
    return shown if len(shown) <= LONGEST_TEXT else shown[: LONGEST_TEXT - 12] + " ... (cut)"


def workbook_bytes(sheets: Sequence[Sheet], *, title: str) -> bytes:
    """An Excel file of the sheets, in order.

    Text is always written as text, so that one which begins with an equals sign is no formula and one with an address no link.

    Raises
    ------
    MissingExtraError
        xlsxwriter is not installed.
    ValueError
        More rows than a sheet holds.
    """
    try:
        import xlsxwriter
    except ImportError as error:
        raise MissingExtraError("an Excel workbook", "io") from error
    memory = io.BytesIO()
    with xlsxwriter.Workbook(memory, {"in_memory": True}) as book:
        book.set_properties({"title": cell_text(title)[:255], "created": WRITTEN})
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        date = book.add_format({"num_format": "yyyy-mm-dd hh:mm", "align": "left"})
        for sheet in sheets:
            _write(book.add_worksheet(sheet.name), sheet, head, date)
    return memory.getvalue()


def _write(place: Worksheet, sheet: Sheet, head: Format, date: Format) -> None:
    if len(sheet.rows) >= ROWS_OF_A_SHEET:
        raise ValueError(f"sheet '{sheet.name}': {len(sheet.rows)} rows, a sheet holds {ROWS_OF_A_SHEET - 1}")
    width = [len(name) for name in sheet.head]
    for column, name in enumerate(sheet.head):
        place.write_string(0, column, cell_text(name), head)
    for row, cells in enumerate(sheet.rows, start=1):
        for column, cell in enumerate(cells):
            width[column] = max(width[column], _write_cell(place, row, column, cell, date))
    for column, characters in enumerate(width):
        place.set_column(column, column, min(characters, WIDEST) + 2)
    place.freeze_panes(1, 0)
    if sheet.rows:
        place.autofilter(0, 0, len(sheet.rows), len(sheet.head) - 1)


def _write_cell(place: Worksheet, row: int, column: int, cell: Cell, date: Format) -> int:
    """Write one cell; the characters it needs."""
    if cell is None or (isinstance(cell, float) and math.isnan(cell)):
        return 0
    if isinstance(cell, bool):
        place.write_boolean(row, column, cell)
        return 5
    if isinstance(cell, datetime):
        place.write_datetime(row, column, cell, date)
        return 16
    if isinstance(cell, int | float) and math.isfinite(cell):
        place.write_number(row, column, cell)
        return 10
    text = cell_text(str(cell))
    place.write_string(row, column, text)
    return max(map(len, text.split("\n")))


# -- the tables of a review ---------------------------------------------------------------------


def review_sheets(review: Review) -> tuple[Sheet, ...]:
    """Every table of a review, empty ones left out but for the verdict.

    Lengths are in ``review.made.unit``, which stands in the column heads.
    """
    unit = review.made.unit
    of = f" ({unit})" if unit else ""
    sheets = [
        Sheet("Verdict", ("line", "verdict"), tuple(enumerate(review.verdict, start=1))),
        Sheet(
            "Layers",
            (
                "layer",
                f"window from{of}",
                f"window to{of}",
                "units judged",
                "outside",
                "share outside",
                "usual share outside",
                "first-pass share",
                "share measured again",
                "a miss is",
                "steady?",
                "ground",
            ),
            tuple(_layer_row(layer) for layer in review.layers),
        ),
        Sheet(
            "Changes",
            (
                "layer",
                "streams",
                "shape",
                f"size{of}",
                f"half width of interval{of}",
                "a",
                "first unit",
                "first read",
                "last unit",
                "last read",
                "lasts",
                "units",
                "recorded with start",
                "recorded with end",
                "in words",
            ),
            tuple(
                (
                    x.layer,
                    ", ".join(x.streams) or "all units",
                    x.shape,
                    float(x.size),
                    float(x.error),
                    x.per,
                    x.first_unit,
                    _moment(x.first_time),
                    x.last_unit,
                    _moment(x.last_time),
                    bool(x.lasting),
                    int(x.units),
                    x.cause,
                    x.ended_by,
                    x.sentence,
                )
                for x in review.findings
            ),
        ),
        Sheet(
            "Uneven units",
            ("whose", "layer", f"SD between places{of}", f"usual SD{of}", "ratio from", "ratio to", "units", "first", "last"),
            tuple(
                (
                    x.who,
                    x.layer,
                    float(x.sd),
                    float(x.usual_sd),
                    float(x.ratio_lower),
                    float(x.ratio_upper),
                    int(x.units),
                    x.first_unit,
                    x.last_unit,
                )
                for x in review.uneven
            ),
        ),
        Sheet(
            "Units",
            (
                "layer",
                "unit",
                "read",
                "stream",
                f"average{of}",
                f"charted{of}",
                f"SD between places{of}",
                f"lower limit{of}",
                f"center{of}",
                f"upper limit{of}",
                "outside window",
                "signals",
            ),
            tuple(row for layer in review.layers for row in _unit_rows(layer)),
        ),
        Sheet(
            "Outside window",
            ("layer", "unit", "what misses", f"average, last attempt{of}", "a miss is"),
            tuple(row for layer in review.layers for row in _miss_rows(layer)),
        ),
        Sheet(
            "Places",
            ("layer", "place", "units", f"mean{of}", f"half width of interval{of}", f"SD between units{of}", "below", "above"),
            tuple(
                (layer.name, x.location, x.count, float(x.mean), float(x.error), float(x.sd), x.below, x.above)
                for layer in review.layers
                if layer.conformance is not None
                for x in layer.conformance.places
            ),
        ),
        Sheet(
            "Capability",
            ("layer", "index", "value", "lower", "upper", "at least", "moving ranges inside streams", "method or reason"),
            tuple(
                (
                    layer.name,
                    x.index,
                    x.value,
                    x.lower,
                    x.upper,
                    x.lower_bound,
                    layer.moving_ranges if x.index in WITHIN_INDICES else None,
                    x.reason or x.method,
                )
                for layer in review.layers
                if layer.capability is not None
                for x in layer.capability.indices
            ),
        ),
        Sheet(
            "Usual differences",
            ("layer", "factor", "value", f"differs by{of}", f"half width{of}", "units", "new"),
            tuple(
                (layer.name, x.column, x.value, float(x.size), float(x.error), int(x.units), bool(x.new))
                for layer in review.layers
                for x in layer.standing
            ),
        ),
        _cost_sheet(review),
        Sheet(
            "Set aside",
            ("line", "unit", "reading", "value", "reason"),
            tuple((int(x.line), x.unit, x.reading, x.value, x.reason) for x in review.set_aside),
        ),
        Sheet(
            "Charts",
            (
                "layer",
                "stream",
                "units",
                "baseline units",
                f"sigma of a point{of}",
                f"lower limit{of}",
                f"center{of}",
                f"upper limit{of}",
                "signals",
                "signals in a quiet period",
                "at most, in 99 of 100",
                "if units were independent",
            ),
            tuple(
                (
                    layer.name,
                    x.stream,
                    len(x.at),
                    int(x.baseline_units),
                    float(x.sigma),
                    float(x.lines.lower),
                    float(x.lines.center),
                    float(x.lines.upper),
                    len(x.signals),
                    float(x.expected_episodes),
                    float(x.most_expected),
                    float(x.independent_episodes),
                )
                for layer in review.layers
                for x in layer.charts
            ),
        ),
        Sheet(
            "Gauge faults",
            (
                "gauge",
                f"reads off by{of}",
                f"half width{of}",
                "checks",
                "first check",
                "last check",
                "right before",
                "right after",
            ),
            tuple(
                (
                    x.gauge,
                    float(x.size),
                    float(x.error),
                    int(x.checks),
                    *(_moment(text) for text in (x.first_time, x.last_time, x.before_time, x.after_time)),
                )
                for x in review.gauge_faults
            ),
        ),
        Sheet(
            "Patterns in readings",
            ("screen", "where", "in words", "seen", "expected", "chance in honest readings", "rows", "what to do"),
            tuple(
                (
                    x.screen,
                    x.where,
                    x.sentence,
                    float(x.observed),
                    float(x.expected),
                    float(x.adjusted_pvalue),
                    len(x.rows),
                    x.way_out,
                )
                for x in review.screening.patterns
            ),
        ),
        Sheet(
            "Screens",
            ("screen", "what it did", "tests", "told", "false flags at most"),
            tuple((x.name, screen_text(x), x.tests, x.found, float(x.false_flag_rate)) for x in review.screening.runs),
        ),
        Sheet("Units without readings", ("unit",), tuple((x,) for x in review.screening.unread)),
        Sheet("Notes", ("note",), tuple((x,) for x in (*review.incomplete, *review.notes))),
        Sheet("Options", ("option", "value"), tuple((k, _option(v)) for k, v in review.made.options.items())),
        Sheet("Inputs", ("file", "SHA-256"), tuple(review.inputs.items())),
    ]
    return tuple(sheet for sheet in sheets if sheet.rows or sheet.name == "Verdict")


def _option(value: Any) -> Cell:
    if isinstance(value, list | tuple):
        return ", ".join(str(item) for item in value)
    return value if isinstance(value, str | int | float | bool) or value is None else str(value)


def _moment(text: str) -> Cell:
    return datetime.fromisoformat(text) if text else None


def _time(layer: LayerReview, i: int) -> Cell:
    if layer.time is None or np.isnat(layer.time[i]):
        return None
    moment: datetime = layer.time[i].astype("datetime64[s]").item()
    return moment


def _layer_row(layer: LayerReview) -> tuple[Cell, ...]:
    found = layer.conformance
    return (
        layer.name,
        layer.window.lower,
        layer.window.upper,
        found.judged if found else None,
        found.missing if found else None,
        found.share if found else None,
        found.usual_share if found else None,
        found.first_pass_share if found else None,
        found.rework_share if found else None,
        layer.miss,
        layer.stability_word,
        layer.why,
    )


def _unit_rows(layer: LayerReview) -> Iterator[tuple[Cell, ...]]:
    none: tuple[Cell, ...] = (None,) * 5
    charted: dict[int, tuple[Cell, ...]] = {}
    signals: dict[int, list[str]] = {}
    for chart in layer.charts:
        for k, i in enumerate(chart.at):
            spread = float(chart.spread[k]) if len(chart.spread) else None
            lines = chart.lines
            charted[int(i)] = (float(chart.values[k]), spread, float(lines.lower), float(lines.center), float(lines.upper))
        for signal in chart.signals:
            signals.setdefault(int(chart.at[signal.point]), []).append(rule_text(signal.rule))
    missed = misses_in_words(layer.conformance)
    for i, unit in enumerate(layer.units):
        average = float(layer.average[i])
        said = "; ".join(signals.get(i, []))
        yield (
            layer.name,
            str(unit),
            _time(layer, i),
            str(layer.stream[i]),
            average,
            *charted.get(i, none),
            missed.get(unit, ""),
            said,
        )


def _miss_rows(layer: LayerReview) -> Iterator[tuple[Cell, ...]]:
    found = layer.conformance
    if found is not None:
        words = misses_in_words(found)
        judged = dict(zip(found.units, found.average.tolist(), strict=True))
        for unit in found.missing_units:
            yield (layer.name, unit, words[unit], judged[unit], layer.miss)


def _cost_sheet(review: Review) -> Sheet:
    """What film beyond the aim costs, and where to aim; money and paint are of a month."""
    each = review.costs[0].each if review.costs else None
    unit, volume, currency = ("", "", "") if each is None else (each.made.unit, *_paint_words(each.made.options))
    of, money = f" ({unit})", f" ({currency})" if currency else ""
    head = (
        "layer",
        "units",
        f"mean{of}",
        f"half width of interval{of}",
        f"aimed at{of}",
        "that is",
        f"overbuild a month ({volume})",
        f"its cost{money}",
        f"cost from{money}",
        f"cost to{money}",
        f"a step of film{of}",
        f"its cost a month{money}",
        f"aim point{of}",
        "share below the lower limit there",
        "share above the upper limit there",
        f"aim point with half the spread{of}",
        f"saved by half the spread a month{money}",
    )
    rows = tuple(
        (
            x.layer,
            x.units,
            x.mean,
            x.half_width,
            x.aim,
            x.aim_is,
            x.volume,
            x.cost,
            x.cost_lower,
            x.cost_upper,
            x.each.step,
            x.each.step_cost,
            *(
                (None,) * 5
                if x.aiming is None
                else (x.aiming.target, x.aiming.share_below, x.aiming.share_above, x.aiming.target_after, x.saved)
            ),
        )
        for x in review.costs
    )
    return Sheet("Film beyond the aim", head, rows)


def _paint_words(options: dict[str, Any]) -> tuple[str, str]:
    return str(options["volume_unit"]), str(options["currency"])
