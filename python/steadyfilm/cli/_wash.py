"""``steadyfilm wash``: has the use of a wash tank's chemical changed, and is its titration inside the band?"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from steadyfilm.cli._command import (
    FOUND,
    attempt,
    codes,
    fail_on,
    file_path,
    folder_path,
    out_option,
    plan_option,
    quiet,
    tell,
    write,
)

if TYPE_CHECKING:
    from steadyfilm.wash_review import WashReview

__all__ = ["wash"]

WAS = "a use changed or a titration lies outside its band"


@click.command(
    epilog=codes("a change of use is a finding, not a failure", WAS),
    short_help="Has a wash tank's feed changed, and is its titration inside?",
)
@click.argument("folder", type=folder_path, required=False)
@plan_option("its [wash] table names tanks, files and columns", required=True)
@out_option("wash.html", "wash.json", "wash.xlsx")
@click.option("--titrations", type=file_path, help="File of titrations, in place of the one that the plan names.")
@click.option("--feed", type=file_path, help="File of feed meters, in place of the plan's.")
@click.option("--additions", type=file_path, help="File of what was poured in by hand, in place of the plan's.")
@click.option("--area", type=file_path, help="File of painted area, in place of the plan's.")
@click.option("--events", type=file_path, help="Log of what was done, in place of the plan's.")
@fail_on("signal", when=WAS)
@quiet
def wash(folder: Path | None, plan_file: Path, out: Path | None, fail_on: str | None, quiet: bool, **files: Path | None) -> None:
    """Say of every wash tank whether the use of its chemical has changed, and how its titrations stand to the band.

    FOLDER holds the files that the plan's [wash] names, as CSV, Excel or Parquet; the bytes say which. Left out, they lie in the
    folder that the plan says.
    """

    def judge() -> WashReview:
        from steadyfilm.wash_review import review_wash_files

        return review_wash_files(plan_file, folder, files={name: path for name, path in files.items() if path is not None})

    found, heard = attempt(judge)
    report = None
    if out is not None:
        from steadyfilm.reports.wash import write_wash

        report = write(lambda: write_wash(found, out), out)
    tell(found.verdict, [*found.notes, *heard], report=report, quiet=quiet)
    if fail_on and not found.steady:
        sys.exit(FOUND)
