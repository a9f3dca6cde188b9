"""``steadyfilm accept``: which units pass by a rule of acceptance? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from steadyfilm.cli._command import FOUND, attempt, codes, fail_on, file_path, out_option, quiet, tell, write

if TYPE_CHECKING:
    from steadyfilm.acceptance import AcceptedFile
    from steadyfilm.film_thickness import Acceptance

__all__ = ["accept"]


@click.command(
    epilog=codes("a unit that fails is a finding, not a failure", "a unit fails (or is not demonstrated)", plan="rule"),
    short_help="Which units pass a rule of film acceptance?",
)
@click.argument("readings", type=file_path)
@click.option(
    "--rule", "rule_file", required=True, type=file_path, help="Rule in TOML: what is asked, columns, how the file is written."
)
@out_option("acceptance.html", "acceptance.json")
@click.option(
    "--checks",
    type=file_path,
    help="Log of gauge checks on shims, in place of the one the rule names: readings around a failed one are suspect.",
)
@fail_on("fail", "not-demonstrated", when="a unit is so, or worse")
@quiet
def accept(readings: Path, rule_file: Path, checks: Path | None, out: Path | None, fail_on: str | None, quiet: bool) -> None:
    """Say which units of a file pass a rule of film acceptance: pass, fail, or not demonstrated.

    READINGS holds one gauge reading a row, as CSV, Excel or Parquet; the bytes say which.
    """

    def judge() -> AcceptedFile:
        from steadyfilm.acceptance import accept_file, load_rule

        return accept_file(readings, load_rule(rule_file), checks=checks)

    judged, heard = attempt(judge)
    report = None
    if out is not None:
        from steadyfilm.reports.acceptance import write_acceptance

        report = write(lambda: write_acceptance(judged, out), out)
    found = judged.found
    tell(_lines(found), [*judged.notes, *heard], report=report, quiet=quiet)
    if fail_on and (found.fail_count or (fail_on == "not-demonstrated" and found.pass_count < found.unit_count)):
        sys.exit(FOUND)


def _lines(found: Acceptance) -> Iterator[str]:
    yield found.sentence()
    for unit, verdict, kind, reason in zip(found.units, found.verdict, found.guard_class, found.reason, strict=True):
        if verdict in ("fail", "not demonstrated"):
            yield f"  {unit}: {verdict}{f' ({kind})' if kind else ''}, {reason}"
