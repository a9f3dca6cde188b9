"""``steadyfilm review`` and ``steadyfilm demo``: what moved, since when, by how much? Nothing heavy loads before they run."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from steadyfilm.cli._command import (
    FOUND,
    USAGE,
    attempt,
    codes,
    fail_on,
    file_path,
    folder_path,
    out_option,
    plan_option,
    quiet,
    stop,
    tell,
    write,
)

if TYPE_CHECKING:
    from steadyfilm.review import Review

__all__ = ["demo", "review"]

_CODES = codes("a signal is a finding, not a failure", "the line is not stable")
_fail_on = fail_on("signal", when="the line is not stable")


@click.command(epilog=_CODES, short_help="What moved, since when, by how much?")
@click.argument("readings", type=file_path)
@plan_option(required=True)
@out_option("review.html", "review.json", "review.xlsx", required=True)
@click.option(
    "--gauge-checks",
    "checks",
    type=file_path,
    help="Gauge verification log, in place of the file that the plan names; columns as its [gauge_checks] says.",
)
@_fail_on
@quiet
def review(readings: Path, plan_file: Path, out: Path, checks: Path | None, fail_on: str | None, quiet: bool) -> None:
    """Say whether the line is stable, and what moved, since when, by how much.

    READINGS holds one gauge reading a row, as CSV, Excel or Parquet; the bytes say which.
    """
    _run(readings, plan_file, out, checks=checks, fail_on=fail_on, quiet=quiet)


@click.command(epilog=_CODES, short_help="Review an invented shop's month.")
@click.option(
    "--out",
    default=Path("steadyfilm-demo"),
    show_default=True,
    type=folder_path,
    help="Folder for the invented data and the report.",
)
@click.option("--seed", default=1, show_default=True, type=click.IntRange(min=0), help="Another seed, another month.")
@_fail_on
@quiet
def demo(out: Path, seed: int, fail_on: str | None, quiet: bool) -> None:
    """Write an invented shop's month, review it, and say where the report is."""
    from steadyfilm.cli._demo import write_demo_files

    try:
        readings, plan_file = write_demo_files(out / "data", seed)
    except OSError as error:
        stop(f"cannot write to {out}: {error.strerror or error}", USAGE)
    _run(readings, plan_file, out, fail_on=fail_on, quiet=quiet)


def _run(readings: Path, plan_file: Path, out: Path, *, fail_on: str | None, quiet: bool, checks: Path | None = None) -> None:
    def judge() -> Review:
        from steadyfilm.plan import load_plan
        from steadyfilm.review import review_files

        return review_files(readings, load_plan(plan_file), checks=checks)

    found, heard = attempt(judge)
    from steadyfilm.reports import write_review

    report = write(lambda: write_review(found, out), out)
    tell(found.verdict, [*found.notes, *heard], report=report, quiet=quiet)
    if fail_on and found.stable is False:
        sys.exit(FOUND)
