"""``steadyfilm screen``: what is wrong with the readings themselves? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from steadyfilm.cli._command import FOUND, attempt, codes, fail_on, file_path, plan_option, quiet, tell

if TYPE_CHECKING:
    from steadyfilm.screens import Screens

__all__ = ["screen"]


@click.command(
    epilog=codes("a fault is a finding, not a failure", "a fault or a pattern was found"),
    short_help="What is wrong with the readings themselves?",
)
@click.argument("readings", type=file_path)
@plan_option(required=True)
@click.option("--all", "everything", is_flag=True, help="Print every fault, however many there are.")
@fail_on("fault", when="a fault or a pattern is found")
@quiet
def screen(readings: Path, plan_file: Path, everything: bool, fail_on: str | None, quiet: bool) -> None:
    """Say what is wrong with the readings themselves: faults by line, and patterns that honest readings seldom show.

    READINGS holds one gauge reading a row, as CSV, Excel or Parquet; the bytes say which.
    """

    def look() -> Screens:
        from steadyfilm.cli._screen_file import screen_file
        from steadyfilm.plan import load_plan

        return screen_file(readings, load_plan(plan_file))

    found, heard = attempt(look)
    from steadyfilm.cli._screen_file import screen_lines

    tell(screen_lines(found, everything=everything), [*found.notes, *heard], report=None, quiet=quiet)
    if fail_on and not found.clean:
        sys.exit(FOUND)
