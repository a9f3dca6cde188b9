"""An empty entry workbook and a plan that fits it, for a shop's own coats and places."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import click

from steadyfilm._text import visible
from steadyfilm.cli._command import USAGE, folder_path, say, stop
from steadyfilm.errors import InvalidInputError, MissingExtraError

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

__all__ = ["Template", "stream_names", "template", "write_template"]

SHEET = "readings"
ROWS = 5000
"""Rows that the entry lists and checks reach."""
HIGHEST = {"mil": 400, "um": 10_000}
"""A number above this is questioned at entry: far beyond any paint film (common practice, no source)."""
OTHER_COLUMNS = ("unit", "measured", "place", "reading", "thickness", "time", "attempt")
LONGEST_NAME = 60
"""Characters of a stream's name, so that it can be read above its column."""
LONGEST_PROMPT_TITLE = 32
"""Characters that Excel shows above a prompt."""
WRITTEN = datetime(2000, 1, 1)
"""Stands as the date of the workbook, so that the same options give the same bytes."""


@dataclass(frozen=True)
class Template:
    """What is measured: coats in order of application, places on each unit, readings at a place."""

    coats: int
    places: tuple[str, ...]
    readings: int
    unit: Literal["mil", "um"]
    streams: tuple[str, ...] = ("gun",)
    """Columns whose values are charted apart, under the shop's own names; as they can be shown and typed."""

    @property
    def adjusted(self) -> tuple[str, ...]:
        """Columns whose usual differences are taken off, unless they are streams."""
        return tuple(name for name in ("painter",) if name not in self.streams)

    @property
    def candidates(self) -> tuple[str, ...]:
        """Columns whose change may explain a shift, unless they are streams."""
        return tuple(name for name in ("batch",) if name not in self.streams)

    @property
    def measured(self) -> tuple[str, ...]:
        """What a reading is taken of: everything on the metal after each coat."""
        return tuple(f"after coat {k}" for k in range(1, self.coats + 1))


def stream_names(given: str) -> tuple[str, ...]:
    r"""The column names of streams from a list with commas, each as it can be seen in a cell.

    Raises
    ------
    InvalidInputError
        None at all, one twice, or one that another column of the workbook has.

    >>> stream_names("gun, booth"), stream_names("=1+1")
    (('gun', 'booth'), ('=1+1',))
    """
    names = tuple(visible(name.strip()) for name in given.split(","))
    taken = [name for name in names if name in OTHER_COLUMNS]
    if not all(names) or len(set(names)) < len(names):
        raise InvalidInputError("give different names, separated by commas, for example gun,booth", argument="streams")
    if taken:
        raise InvalidInputError(
            f"'{taken[0]}' is another column of the workbook: give the stream another name", argument="streams"
        )
    if too_long := [name for name in names if len(name) > LONGEST_NAME]:
        raise InvalidInputError(f"'{too_long[0][:20]}...' has more than {LONGEST_NAME} characters", argument="streams")
    return names


@dataclass(frozen=True)
class _Column:
    name: str
    unit: str
    note: str
    rule: dict[str, object] | None = None


def write_template(folder: Path, template: Template) -> tuple[Path, Path]:
    """Write ``readings.xlsx`` and ``plan.toml``; files that are there already are left alone.

    Raises
    ------
    FileExistsError
        One of the two is there already.
    """
    workbook, plan = folder / "readings.xlsx", folder / "plan.toml"
    for path in (workbook, plan):
        if path.exists():
            raise FileExistsError(f"{path} is there already; choose another folder, or move it away")
    content = _workbook(template)
    folder.mkdir(parents=True, exist_ok=True)
    workbook.write_bytes(content)
    plan.write_text(plan_text(template), encoding="utf-8", newline="\n")
    return workbook, plan


NOTES = {
    "gun": "The spray gun, by its number.",
    "booth": "The spray booth, by its number.",
    "painter": "The painter, by a short name or number.",
    "batch": "Batch number of the coating on top.",
}
OWN_NOTE = "Which one it was: the same word or number every time."


def _columns(template: Template) -> tuple[_Column, ...]:
    unit = template.unit
    columns = [
        _Column("unit", "no unit", "Serial number of the painted unit. The same on all rows of a unit."),
        _Column(
            "measured", "no unit", "What was on the metal when it was measured. Choose from the list.", _list("A", template.coats)
        ),
        _Column("place", "no unit", "Where on the unit. The same places on every unit.", _list("B", len(template.places))),
        _Column(
            "reading", "no unit", f"Number of the reading at this place, 1 to {template.readings}.", _whole(template.readings)
        ),
        _Column(
            "thickness",
            unit,
            f"What the gauge shows, in {unit}. Leave the cell empty for a reading not taken; never write 0 for it.",
            {
                "validate": "decimal",
                "criteria": "between",
                "minimum": 0.001,
                "maximum": HIGHEST[unit],
                "error_type": "warning",
                "error_title": f"Is this in {unit}?",
                "error_message": f"A film thickness in {unit} lies above 0 and below {HIGHEST[unit]}.",
            },
        ),
        _Column(
            "time",
            "local date and time",
            "When it was measured, by the clock on the wall. Type it as a date and time.",
            {
                "validate": "date",
                "criteria": ">=",
                "value": WRITTEN,
                "error_title": "A date and time",
                "error_message": "Type a date and time, for example 2026-03-31 14:05.",
            },
        ),
        *(_Column(name, "no unit", NOTES.get(name, OWN_NOTE)) for name in template.streams),
        *(_Column(name, "no unit", NOTES[name]) for name in (*template.adjusted, *template.candidates)),
        _Column(
            "attempt", "no unit", "1; 2 when the unit was touched up and measured again, and so on. Empty means 1.", _whole(99)
        ),
    ]
    if len(template.places) == 1:
        columns = [column for column in columns if column.name != "place"]
    if template.readings == 1:
        columns = [column for column in columns if column.name != "reading"]
    return tuple(columns)


def _list(letter: str, count: int) -> dict[str, object]:
    return {
        "validate": "list",
        "source": f"=lists!${letter}$1:${letter}${count}",
        "error_title": "Choose from the list",
        "error_message": "Another word would be another layer or another place. The lists stand on the sheet 'lists'.",
    }


def _whole(most: int) -> dict[str, object]:
    return {
        "validate": "integer",
        "criteria": "between",
        "minimum": 1,
        "maximum": most,
        "error_title": "A whole number",
        "error_message": f"Write a whole number from 1 to {most}.",
    }


def _workbook(template: Template) -> bytes:
    try:
        import xlsxwriter
    except ImportError as error:
        raise MissingExtraError("an entry workbook", "io") from error
    import io

    memory = io.BytesIO()
    with xlsxwriter.Workbook(memory, {"in_memory": True}) as book:
        book.set_properties({"title": "Film thickness readings", "created": WRITTEN})
        columns = _columns(template)
        _entry_sheet(book, columns)
        _notes_sheet(book, columns, template)
        lists = book.add_worksheet("lists")
        for at, words in enumerate((template.measured, template.places)):
            for row, word in enumerate(words):
                lists.write_string(row, at, visible(word))
    return memory.getvalue()


def _entry_sheet(book: Workbook, columns: Sequence[_Column]) -> None:
    sheet: Worksheet = book.add_worksheet(SHEET)
    head = book.add_format({"bold": True, "bottom": 1, "valign": "top", "text_wrap": True})
    shapes = {
        "time": book.add_format({"num_format": "yyyy-mm-dd hh:mm", "align": "left"}),
        # As text, so that a serial number keeps its zeros and is never taken for a date.
        "unit": book.add_format({"num_format": "@"}),
    }
    for at, column in enumerate(columns):
        sheet.set_column(at, at, 18, shapes.get(column.name))
        sheet.write_string(0, at, column.name, head)
        sheet.write_comment(0, at, f"{column.note}\nUnit: {column.unit}.", {"author": "", "x_scale": 2})
        rule = column.rule or {"validate": "any"}
        prompt = {"input_title": column.name[:LONGEST_PROMPT_TITLE], "input_message": column.note[:255]}
        sheet.data_validation(1, at, ROWS, at, {**rule, **prompt})
    sheet.freeze_panes(1, 0)


def _notes_sheet(book: Workbook, columns: Sequence[_Column], template: Template) -> None:
    sheet: Worksheet = book.add_worksheet("notes")
    head = book.add_format({"bold": True, "bottom": 1})
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    for at, (title, width) in enumerate((("column", 14), ("unit", 20), ("what to write", 90))):
        sheet.set_column(at, at, width, wrap)
        sheet.write_string(0, at, title, head)
    for row, column in enumerate(columns, 1):
        for at, text in enumerate((column.name, column.unit, column.note)):
            sheet.write_string(row, at, text)
    lines = (
        "One row a reading. Do not merge cells, do not leave notes beside the table, and do not rename the columns.",
        f"All thicknesses are in {template.unit}; plan.toml says so. Measure every coat at the same places.",
        "Let coatings cure before measuring as the data sheet of the coating says.",
    )
    for row, text in enumerate(lines, len(columns) + 2):
        sheet.write_string(row, 0, text)


def plan_text(template: Template) -> str:
    """The plan, with what only the shop can know as comments."""
    columns = {column.name for column in _columns(template)}
    unit = template.unit
    lines = [
        "# How the readings are reviewed; steadyfilm plan check says whether that fits them. All keys: cpp/methods/plan.md.",
        'title = "Film thickness"',
        "",
        *_aligned(
            ("streams", template.streams, "columns whose values are charted apart"),
            ("adjust", template.adjusted, "columns whose usual differences are taken off"),
            ("candidates", template.candidates, "columns whose change may explain a shift"),
        ),
        "",
        "[file]",
        f'sheet = "{SHEET}"          # of an Excel workbook; a CSV or Parquet file with the same columns is read as well',
        "",
        "[columns]                  # left: what it is; right: what the file calls it",
        'unit = "unit"',
        'value = "thickness"',
        'layer = "measured"',
        *(['location = "place"'] if "place" in columns else []),
        *(['repeat = "reading"'] if "reading" in columns else []),
        'time = "time"',
        'attempt = "attempt"',
        "",
        "[measure]",
        f'unit = "{unit}"               # of every number below and of the review',
        f'written_in = "{unit}"         # of the numbers in the file',
    ]
    for k, measured in enumerate(template.measured, 1):
        lines += ["", "[[layers]]", f'name = "coat {k}"', f"reading = {json.dumps(measured)}"]
        if k > 1:
            lines.append(f"minus = {json.dumps(template.measured[k - 2])}   # this coat alone, place by place")
        lines += _limits(unit)
    if template.coats > 1:
        lines += [
            "",
            "# The total is judged, not charted: a change of one coat would be told twice.",
            "[[layers]]",
            'name = "total"',
            f"reading = {json.dumps(template.measured[-1])}",
            "chart = false",
            *_limits(unit),
        ]
    lines += [
        "",
        "# Limits come from the same readings until a usual period is named, either one:",
        "# [baseline]",
        '# readings = "usual_month.xlsx"',
        "# until = 2026-03-31        # last day of the usual period within the readings",
        "",
        "# [rules]",
        "# longest_gap_hours = 24    # a longer pause breaks moving ranges and runs: at weekends, not over night",
        "",
        "# [screens]                 # patterns in the readings themselves",
        "# running_numbers = true    # serials run on: a gap is a unit without readings",
    ]
    return "\n".join(lines) + "\n"


def _aligned(*keys: tuple[str, Sequence[str], str]) -> list[str]:
    """Keys with lists of names, their comments below each other."""
    written = [(f"{key} = {toml_names(names)}", comment) for key, names, comment in keys]
    wide = max(len(text) for text, _ in written)
    return [f"{text:{wide}}  # {comment}" for text, comment in written]


def toml_names(names: Sequence[str]) -> str:
    r"""A TOML array of strings; what TOML wants escaped is.

    >>> print(toml_names(['a "b"', "c\\d"]))
    ["a \"b\"", "c\\d"]
    """
    return f"[{', '.join(json.dumps(name, ensure_ascii=False) for name in names)}]"


def _limits(unit: str) -> list[str]:
    return [
        f"# lower =                  # {unit}: lowest unit average allowed, from the data sheet or the contract",
        f"# upper =                  # {unit}: highest unit average allowed",
        '# miss = "rework"          # what a miss leads to; "tell" if left out',
    ]


MOST_PLACES = 100

_CODES = """\b
Exit codes:
  0  done
  1  unexpected failure
  2  wrong usage, or files that are there already and are not written over
"""


@click.command(epilog=_CODES, short_help="Write an empty entry workbook and a plan that fits it.")
@click.argument("folder", type=folder_path)
@click.option("--coats", default=2, show_default=True, type=click.IntRange(1, 6), help="Coats that are measured one by one.")
@click.option("--unit", default="mil", show_default=True, type=click.Choice(["mil", "um"]), help="Unit of all thicknesses.")
@click.option(
    "--places", default="5", show_default=True, help="How many places on each unit, or their names separated by commas."
)
@click.option("--readings", default=3, show_default=True, type=click.IntRange(1, 20), help="Readings at each place.")
@click.option(
    "--streams", default="gun", show_default=True, help="Columns whose values are charted apart, separated by commas: gun,booth."
)
def template(folder: Path, coats: int, unit: Literal["mil", "um"], places: str, readings: int, streams: str) -> None:
    """Write an empty entry workbook (readings.xlsx) and a plan that fits it (plan.toml) into FOLDER."""
    names = tuple(name.strip() for name in places.split(","))
    if names[0].isascii() and names[0].isdigit() and len(names) == 1:
        names = tuple(f"place {k}" for k in range(1, int(names[0]) + 1))
    if not names or not all(names) or len(set(names)) < len(names) or len(names) > MOST_PLACES:
        stop(f"--places: give a count from 1 to {MOST_PLACES}, or as many different names, separated by commas", USAGE)
    try:
        apart = stream_names(streams)
    except InvalidInputError as error:
        stop(f"--streams: {error}", USAGE)
    try:
        workbook, plan_file = write_template(folder, Template(coats, names, readings, unit, apart))
    except MissingExtraError as error:
        stop(str(error), USAGE)
    except OSError as error:
        stop(str(error) if isinstance(error, FileExistsError) else f"cannot write to {folder}: {error.strerror}", USAGE)
    say(f"Entry workbook: {workbook.resolve()}")
    say(f"Plan: {plan_file.resolve()}")
    say(f"Fill in the workbook, write each coat's limits into the plan, then: steadyfilm plan check {plan_file} {workbook}")
