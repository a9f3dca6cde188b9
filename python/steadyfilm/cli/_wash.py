"""``steadyfilm wash``: has the use of a tank's chemical changed, and is its titration inside the band?"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from steadyfilm._text import visible
from steadyfilm.errors import InvalidInputError, MissingExtraError, PlanError, SteadyfilmWarning

if TYPE_CHECKING:
    from steadyfilm.wash_review import WashReview

__all__ = ["wash"]

USAGE, INPUT, SIGNAL = 2, 3, 4

_CODES = """\b
Exit codes:
  0  done (a change of use is a finding, not a failure)
  1  unexpected failure
  2  wrong usage, or a plan that cannot be used
  3  input that cannot be used
  4  a use changed or a titration lies outside its band, and --fail-on signal was given
"""

_file = click.Path(path_type=Path, dir_okay=False)
_folder = click.Path(path_type=Path, file_okay=False)


@click.command(epilog=_CODES)
@click.argument("folder", type=_folder, required=False)
@click.option("--plan", "plan_file", required=True, type=_file, help="Plan in TOML with a [wash] table.")
@click.option("--titrations", type=_file, help="File of titrations, in place of the one that the plan names.")
@click.option("--feed", type=_file, help="File of feed meters, likewise.")
@click.option("--additions", type=_file, help="File of what was poured in by hand, likewise.")
@click.option("--area", type=_file, help="File of painted area, likewise.")
@click.option("--events", type=_file, help="Log of what was done, likewise.")
@click.option("--out", type=_folder, help="Folder for wash.html, wash.json and wash.xlsx.")
@click.option("--fail-on", type=click.Choice(["signal"]), help="Exit with 4 if a use changed or a titration is outside.")
@click.option("-q", "--quiet", is_flag=True, help="No verdict on standard output; the report and the exit code say it.")
def wash(folder: Path | None, plan_file: Path, out: Path | None, fail_on: str | None, quiet: bool, **files: Path | None) -> None:
    """Say of every wash tank whether the use of its chemical has changed, and how its titrations stand to the band.

    FOLDER holds the files that the plan's [wash] names; left out, they lie in the folder that the plan says.
    """
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        found = _review(plan_file, folder, {name: path for name, path in files.items() if path is not None})
    report = None
    if out is not None:
        from steadyfilm.reports.wash import write_wash

        try:
            report = write_wash(found, out).html
        except MissingExtraError as error:
            _stop(str(error), USAGE)
        except OSError as error:
            _stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)
    if not quiet:
        for line in found.verdict:
            click.echo(visible(line))
        if report is not None:
            click.echo(visible(f"Report: {report.resolve()}"))
    for note in (*found.notes, *dict.fromkeys(str(warning.message) for warning in heard)):
        click.echo(visible(f"note: {note}"), err=True)
    if fail_on == "signal" and not found.steady:
        sys.exit(SIGNAL)


def _review(plan_file: Path, folder: Path | None, files: dict[str, Path]) -> WashReview:
    try:
        from steadyfilm.wash_review import review_wash_files

        return review_wash_files(plan_file, folder, files=files)
    except (PlanError, MissingExtraError) as error:
        _stop(str(error), USAGE)
    except ImportError as error:
        _stop(str(MissingExtraError("a plan", "job")) if error.name == "pydantic" else str(error), USAGE)
    except InvalidInputError as error:
        _stop(str(error), INPUT)


def _stop(message: str, code: int) -> NoReturn:
    for line in f"steadyfilm: {message}".split("\n"):
        click.echo(visible(line), err=True)
    sys.exit(code)
