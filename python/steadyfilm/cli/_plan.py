"""``steadyfilm plan``: is a plan fit to use? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from steadyfilm.cli._command import USAGE, file_path, quiet, say

__all__ = ["plan"]

_CODES = """\b
Exit codes:
  0  fit
  1  unexpected failure
  2  wrong usage, or not fit: the first line of the output says so, then come the problems
"""


@click.group(short_help="Is a plan fit to use?")
def plan() -> None:
    """Work with plans."""


@plan.command("check", epilog=_CODES, short_help="Is a plan fit to use, and for a file of readings?")
@click.argument("plan_file", metavar="PLAN", type=file_path)
@click.argument("readings", required=False, type=file_path)
@quiet
def check(plan_file: Path, readings: Path | None, quiet: bool) -> None:
    """Say whether a plan is fit to use; with READINGS also whether columns, units, layers and windows fit that file.

    PLAN is TOML; the files that it names are read too. READINGS holds one gauge reading a row, as CSV, Excel or Parquet; the
    bytes say which.
    """
    from steadyfilm.cli._check import check_plan

    found = check_plan(plan_file, readings)
    if not quiet:
        say(found.verdict)
        for problem in found.problems:
            for part in problem.split("\n"):
                say(f"  {part}")
        for line in found.seen:
            say(f"seen: {line}")
    if found.problems:
        sys.exit(USAGE)
