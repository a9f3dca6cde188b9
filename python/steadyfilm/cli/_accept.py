"""``steadyfilm accept``: which units pass by a rule of acceptance? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from typing import NoReturn

import click

from steadyfilm._text import visible
from steadyfilm.errors import InvalidInputError, MissingExtraError, PlanError, SteadyfilmWarning

__all__ = ["accept"]

USAGE, INPUT, FAILED = 2, 3, 4

_CODES = """\b
Exit codes:
  0  done (a unit that fails is a finding, not a failure)
  1  unexpected failure
  2  wrong usage, or a rule that cannot be used
  3  input that cannot be used
  4  a unit fails (or is not demonstrated), and --fail-on said so
"""

_file = click.Path(path_type=Path, dir_okay=False)


@click.command(epilog=_CODES)
@click.argument("readings", type=_file)
@click.option(
    "--rule", "rule_file", required=True, type=_file, help="Rule in TOML: what is asked, columns, how the file is written."
)
@click.option(
    "--checks",
    type=_file,
    help="Log of gauge checks on shims, in place of the one the rule names: readings around a failed one are suspect.",
)
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for acceptance.html and acceptance.json.")
@click.option("--fail-on", type=click.Choice(["fail", "not-demonstrated"]), help="Exit with 4 if a unit is so, or worse.")
@click.option("-q", "--quiet", is_flag=True, help="No verdict on standard output; the report and the exit code say it.")
def accept(readings: Path, rule_file: Path, checks: Path | None, out: Path | None, fail_on: str | None, quiet: bool) -> None:
    """Say which units of a file of READINGS pass a rule of film acceptance: pass, fail, or not demonstrated."""
    from steadyfilm.acceptance import accept_file, load_rule

    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        try:
            judged = accept_file(readings, load_rule(rule_file), checks=checks)
        except (PlanError, MissingExtraError) as error:
            _stop(str(error), USAGE)
        except InvalidInputError as error:
            _stop(str(error), INPUT)
    written = None
    if out is not None:
        from steadyfilm.reports.acceptance import write_acceptance

        try:
            written = write_acceptance(judged, out)
        except MissingExtraError as error:
            _stop(str(error), USAGE)
        except OSError as error:
            _stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)
    found = judged.found
    if not quiet:
        click.echo(visible(found.sentence()))
        for unit, verdict, kind, reason in zip(found.units, found.verdict, found.guard_class, found.reason, strict=True):
            if verdict in ("fail", "not demonstrated"):
                click.echo(visible(f"  {unit}: {verdict}{f' ({kind})' if kind else ''}, {reason}"))
        if written is not None:
            click.echo(visible(f"Report: {written.html.resolve()}"))
    for note in (*judged.notes, *dict.fromkeys(str(warning.message) for warning in heard)):
        click.echo(visible(f"note: {note}"), err=True)
    if fail_on and (found.fail_count or (fail_on == "not-demonstrated" and found.pass_count < found.unit_count)):
        sys.exit(FAILED)


def _stop(message: str, code: int) -> NoReturn:
    for line in f"steadyfilm: {message}".split("\n"):
        click.echo(visible(line), err=True)
    sys.exit(code)
