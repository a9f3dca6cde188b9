"""``steadyfilm gauge``: can this gauge judge that window? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from steadyfilm.cli._command import (
    FOUND,
    attempt,
    codes,
    column_option,
    fail_on,
    file_path,
    how_written,
    named,
    out_option,
    plan_option,
    quiet,
    tell,
    write,
    written_options,
)

if TYPE_CHECKING:
    from steadyfilm.measurability import Measurability

__all__ = ["gauge"]

_COLUMNS = ("part", "appraiser", "trial", "value", "unit_of_measure")


@click.command(
    epilog=codes("a gauge that cannot tell is an answer, not a failure", "a window cannot be judged"),
    short_help="Can this gauge judge that window?",
)
@click.argument("study", type=file_path, required=False)
@plan_option("its windows, its unit, its file of a study and how that is written")
@out_option("gauge.html", "gauge.json", "gauge.xlsx")
@click.option(
    "--window", "windows", nargs=2, multiple=True, metavar="LOWER UPPER", help="A window to judge; - for no limit. Repeatable."
)
@click.option("--unit", type=click.Choice(["mil", "um", "unstated"]), help="Unit of the windows and of every figure.")
@click.option("--written-in", type=click.Choice(["mil", "um"]), help="Unit of the readings, where no column says it.")
@column_option(_COLUMNS)
@click.option(
    "--apart",
    multiple=True,
    metavar="NAME",
    help="Column that keeps studies apart. Repeatable.  [default: gauge and substrate, if there]",
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
@written_options
@fail_on("cannot", when="a window cannot be judged")
@quiet
def gauge(
    study: Path | None,
    plan_file: Path | None,
    out: Path | None,
    columns: tuple[str, ...],
    fail_on: str | None,
    quiet: bool,
    **typed: Any,
) -> None:
    """Say whether windows can be judged with the gauge of a study, and how many readings that takes.

    STUDY holds one reading a row (part, appraiser, trial, value), as CSV, Excel or Parquet; the bytes say which. Left out, it is
    the file that the plan names. Its columns are part, appraiser, trial, value and unit_of_measure unless --column says
    otherwise; trial and unit_of_measure need not be there, and "--column appraiser=" is a study by one appraiser.
    """
    how = how_written(typed)
    names = named(columns, _COLUMNS)

    def judge() -> Measurability:
        from steadyfilm.cli._gauge_study import GaugeOptions, run_gauge
        from steadyfilm.plan import load_plan

        plan = None if plan_file is None else load_plan(plan_file)
        return run_gauge(study, GaugeOptions(plan=plan, columns=names, how_written=how, **typed))

    found, heard = attempt(judge)
    report = None
    if out is not None:
        from steadyfilm.reports.gauge import write_gauge

        report = write(lambda: write_gauge(found, out), out)
    tell(found.verdict, [*found.notes, *heard], report=report, quiet=quiet)
    if fail_on and not found.judgeable:
        sys.exit(FOUND)
