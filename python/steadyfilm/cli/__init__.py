"""The command line. Verdicts go to standard output, notes and errors to standard error; nothing heavy loads before it is needed.

Exit codes: 0 done; 1 unexpected failure; 2 wrong usage or plan; 3 input unusable; 4 signals found, with ``--fail-on signal``.
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NoReturn

from steadyfilm._text import visible
from steadyfilm.errors import InvalidInputError, MissingExtraError, PlanError, SteadyfilmWarning

try:
    import click
except ImportError as error:
    raise MissingExtraError("the command line", "job") from error

from steadyfilm.cli._accept import accept
from steadyfilm.cli._cure import cure
from steadyfilm.cli._wash import wash

if TYPE_CHECKING:
    from steadyfilm.measurability import Measurability
    from steadyfilm.plan import Plan
    from steadyfilm.review import Review

__all__ = ["main"]

USAGE, INPUT, SIGNAL = 2, 3, 4
MOST_PLACES = 100

_CODES = """\b
Exit codes:
  0  done (a signal is a finding, not a failure)
  1  unexpected failure
  2  wrong usage, or a plan that cannot be used
  3  input that cannot be used
  4  the line is not stable, and --fail-on signal was given
"""

_CHECK_CODES = """\b
Exit codes:
  0  fit
  1  unexpected failure
  2  not fit: the first line of the output says so, then come the problems
"""

_SCREEN_CODES = """\b
Exit codes:
  0  done (a fault is a finding, not a failure)
  1  unexpected failure
  2  wrong usage, or a plan that cannot be used
  3  input that cannot be used
  4  a fault or a pattern was found, and --fail-on fault was given
"""

_fail_on = click.option("--fail-on", type=click.Choice(["signal"]), help="Exit with 4 if the line is not stable.")
_quiet = click.option("-q", "--quiet", is_flag=True, help="No verdict on standard output; the report and the exit code say it.")


def _version() -> str:
    import steadyfilm

    return steadyfilm.__version__


@click.group(epilog=_CODES, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(_version(), prog_name="steadyfilm", message="%(prog)s %(version)s")
def main() -> None:
    """Statistical process control for film thickness: what moved, since when, by how much."""


@main.command(epilog=_CODES)
@click.argument("readings", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--plan", "plan_file", required=True, type=click.Path(path_type=Path, dir_okay=False), help="Plan in TOML.")
@click.option("--out", required=True, type=click.Path(path_type=Path, file_okay=False), help="Folder for the report.")
@click.option(
    "--gauge-checks",
    "checks",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Gauge verification log, in place of the file that the plan names; columns as its [gauge_checks] says.",
)
@_fail_on
@_quiet
def review(readings: Path, plan_file: Path, out: Path, checks: Path | None, fail_on: str | None, quiet: bool) -> None:
    """Review a file of READINGS: verdict on standard output, review.html, review.json and review.xlsx in a folder."""
    _run(readings, plan_file, out, fail_on, quiet, checks)


@main.command(epilog=_CODES)
@click.option(
    "--out",
    default=Path("steadyfilm-demo"),
    show_default=True,
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the invented data and the report.",
)
@click.option("--seed", default=1, show_default=True, type=click.IntRange(min=0), help="Another seed, another month.")
@_fail_on
@_quiet
def demo(out: Path, seed: int, fail_on: str | None, quiet: bool) -> None:
    """Write an invented shop's month, review it, and say where the report is."""
    from steadyfilm.cli._demo import write_demo_files

    try:
        readings, plan_file = write_demo_files(out / "data", seed)
    except OSError as error:
        _stop(f"cannot write to {out}: {error.strerror or error}", USAGE)
    _run(readings, plan_file, out, fail_on, quiet)


@main.command(epilog=_SCREEN_CODES)
@click.argument("readings", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--plan", "plan_file", required=True, type=click.Path(path_type=Path, dir_okay=False), help="Plan in TOML.")
@click.option("--all", "everything", is_flag=True, help="Print every fault, however many there are.")
@click.option("--fail-on", type=click.Choice(["fault"]), help="Exit with 4 if a fault or a pattern is found.")
@_quiet
def screen(readings: Path, plan_file: Path, everything: bool, fail_on: str | None, quiet: bool) -> None:
    """Say what is wrong with the READINGS themselves: faults by line, and patterns that honest readings seldom show."""
    plan = _plan(plan_file)
    from steadyfilm.cli._screen import screen_file, screen_lines

    try:
        found = screen_file(readings, plan)
    except MissingExtraError as error:
        _stop(str(error), USAGE)
    except InvalidInputError as error:
        _stop(str(error), INPUT)
    if not quiet:
        for line in screen_lines(found, everything=everything):
            _say(line)
    if fail_on == "fault" and not found.clean:
        sys.exit(SIGNAL)


_GAUGE_CODES = """\b
Exit codes:
  0  done (a gauge that cannot tell is an answer, not a failure)
  1  unexpected failure
  2  wrong usage, or a plan that cannot be used
  3  input that cannot be used
  4  a window cannot be judged, and --fail-on cannot was given
"""
_file = click.Path(path_type=Path, dir_okay=False)


@main.command(epilog=_GAUGE_CODES)
@click.argument("study", type=_file, required=False)
@click.option(
    "--window", "windows", nargs=2, multiple=True, metavar="LOWER UPPER", help="A window to judge; - for no limit. Repeatable."
)
@click.option("--plan", "plan_file", type=_file, help="Plan in TOML: its windows, its unit, how files are written.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for gauge.html, gauge.json and gauge.xlsx.")
@click.option("--unit", type=click.Choice(["mil", "um", "unstated"]), help="Unit of the windows and of every figure.")
@click.option("--written-in", type=click.Choice(["mil", "um"]), help="Unit of the file's numbers, if no column says it.")
@click.option("--part", help="Column that names the part.  [default: part]")
@click.option("--appraiser", help="Column that names the appraiser.  [default: appraiser]")
@click.option("--one-appraiser", is_flag=True, help="The file has no such column: one appraiser read all.")
@click.option("--trial", help="Column that counts the trials.  [default: trial, if there]")
@click.option("--value", help="Column of the readings.  [default: value]")
@click.option("--unit-column", help="Column with the unit of each reading.  [default: unit_of_measure, if there]")
@click.option(
    "--apart", multiple=True, help="Column that keeps studies apart. Repeatable.  [default: gauge and substrate, if there]"
)
@click.option("--nested", is_flag=True, help="Each part belongs to one appraiser, as in a destructive test.")
@click.option("--drop-parts", is_flag=True, help="Leave out parts that lack a reading.")
@click.option(
    "--share",
    default=30.0,
    show_default=True,
    type=click.FloatRange(0, 100, min_open=True),
    help="Percent of the window that the measurement may take.",
)
@click.option(
    "--bias",
    default=0.0,
    show_default=True,
    type=click.FloatRange(0),
    help="What the gauge may be off by, from shims; widens every guard.",
)
@click.option("--most-readings", type=click.IntRange(1), help="More readings a verdict are never taken.  [default: 15]")
@click.option("--decimal", type=click.Choice([".", ","]), help="Decimal sign.")
@click.option("--separator", help="Character between cells; \\t for a tab.")
@click.option("--encoding", help="How characters are written, for example cp1252.")
@click.option("--header-line", type=click.IntRange(1), help="Line of the column names.")
@click.option("--sheet", help="Sheet of an Excel workbook.")
@click.option("--missing", multiple=True, help="Word for a reading not taken, besides an empty cell. Repeatable.")
@click.option("--fail-on", type=click.Choice(["cannot"]), help="Exit with 4 if a window cannot be judged.")
@_quiet
def gauge(study: Path | None, plan_file: Path | None, out: Path | None, fail_on: str | None, quiet: bool, **typed: Any) -> None:
    """Say whether windows can be judged with the gauge of a STUDY, and how many readings that takes.

    STUDY holds one reading a row (part, appraiser, trial, value) as CSV, Excel or Parquet; the bytes say which. Left out, it is
    the file that the plan names.
    """
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        found = _measurability(study, _plan(plan_file) if plan_file is not None else None, typed)
    written = None
    if out is not None:
        from steadyfilm.reports.gauge import write_gauge

        try:
            written = write_gauge(found, out)
        except OSError as error:
            _stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)
    if not quiet:
        for line in found.verdict:
            _say(line)
        if written is not None:
            _say(f"Report: {written.html.resolve()}")
    for note in (*found.notes, *dict.fromkeys(str(warning.message) for warning in heard)):
        _say(f"note: {note}", err=True)
    if fail_on == "cannot" and not found.judgeable:
        sys.exit(SIGNAL)


def _measurability(study: Path | None, plan: Plan | None, typed: dict[str, Any]) -> Measurability:
    from steadyfilm.cli._gauge import GaugeOptions, run_gauge

    own = {name: typed.pop(name) or None for name in ("decimal", "separator", "encoding", "header_line", "sheet", "missing")}
    if own["separator"] == "\\t":
        own["separator"] = "\t"
    try:
        return run_gauge(study, GaugeOptions(plan=plan, how_written=own, **typed))
    except (PlanError, MissingExtraError) as error:
        _stop(str(error), USAGE)
    except InvalidInputError as error:
        _stop(str(error), INPUT)


main.add_command(cure)
main.add_command(wash)


@main.group()
def plan() -> None:
    """Work with plans."""


@plan.command("check", epilog=_CHECK_CODES)
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path, dir_okay=False))
@click.argument("readings", required=False, type=click.Path(path_type=Path, dir_okay=False))
@_quiet
def check(plan_file: Path, readings: Path | None, quiet: bool) -> None:
    """Say whether a plan is fit to use; with READINGS also whether columns, units, layers and windows fit that file."""
    from steadyfilm.cli._check import check_plan

    found = check_plan(plan_file, readings)
    if not quiet:
        _say(found.verdict)
        for problem in found.problems:
            for part in problem.split("\n"):
                _say(f"  {part}")
        for line in found.seen:
            _say(f"seen: {line}")
    if found.problems:
        sys.exit(USAGE)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
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
    from steadyfilm.cli._template import Template, stream_names, write_template

    names = tuple(name.strip() for name in places.split(","))
    if names[0].isascii() and names[0].isdigit() and len(names) == 1:
        names = tuple(f"place {k}" for k in range(1, int(names[0]) + 1))
    if not names or not all(names) or len(set(names)) < len(names) or len(names) > MOST_PLACES:
        _stop(f"--places: give a count from 1 to {MOST_PLACES}, or as many different names, separated by commas", USAGE)
    try:
        apart = stream_names(streams)
    except InvalidInputError as error:
        _stop(f"--streams: {error}", USAGE)
    try:
        workbook, plan_file = write_template(folder, Template(coats, names, readings, unit, apart))
    except OSError as error:
        _stop(str(error) if isinstance(error, FileExistsError) else f"cannot write to {folder}: {error.strerror}", USAGE)
    _say(f"Entry workbook: {workbook.resolve()}")
    _say(f"Plan: {plan_file.resolve()}")
    _say(f"Fill in the workbook, write each coat's limits into the plan, then: steadyfilm plan check {plan_file} {workbook}")


main.add_command(accept)


def _run(readings: Path, plan_file: Path, out: Path, fail_on: str | None, quiet: bool, checks: Path | None = None) -> None:
    plan = _plan(plan_file)
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        found = _review(readings, plan, checks)
    from steadyfilm.reports import write_review

    try:
        written = write_review(found, out)
    except OSError as error:
        _stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)
    if not quiet:
        for line in found.verdict:
            _say(line)
        _say(f"Report: {written.html.resolve()}")
    for note in (*found.notes, *dict.fromkeys(str(warning.message) for warning in heard)):
        _say(f"note: {note}", err=True)
    if fail_on == "signal" and found.stable is False:
        sys.exit(SIGNAL)


def _plan(path: Path) -> Plan:
    from steadyfilm.plan import load_plan

    try:
        return load_plan(path)
    except PlanError as error:
        _stop(str(error), USAGE)


def _review(readings: Path, plan: Plan, checks: Path | None) -> Review:
    from steadyfilm.review import review_files

    try:
        return review_files(readings, plan, checks=checks)
    except MissingExtraError as error:
        _stop(str(error), USAGE)
    except InvalidInputError as error:
        _stop(str(error), INPUT)


def _say(text: str, *, err: bool = False) -> None:
    """One line for the terminal; names from a file may not steer it."""
    click.echo(visible(text), err=err)


def _stop(message: str, code: int) -> NoReturn:
    for line in f"steadyfilm: {message}".split("\n"):
        _say(line, err=True)
    sys.exit(code)


if __name__ == "__main__":
    main()
