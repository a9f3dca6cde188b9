"""What all commands share: options in the same words, exit codes, and how verdicts, notes and refusals are told."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from steadyfilm._text import visible
from steadyfilm.errors import InvalidInputError, MissingExtraError, PlanError, SteadyfilmWarning

if TYPE_CHECKING:
    from steadyfilm.reports.page import Written

__all__ = [
    "FOUND",
    "INPUT",
    "USAGE",
    "attempt",
    "codes",
    "column_option",
    "fail_on",
    "file_path",
    "folder_path",
    "how_written",
    "named",
    "out_option",
    "plan_option",
    "quiet",
    "say",
    "stop",
    "tell",
    "write",
    "written_options",
]

USAGE, INPUT, FOUND = 2, 3, 4
"""Exit codes; 0 is done, 1 an unexpected failure."""

file_path = click.Path(path_type=Path, dir_okay=False)
folder_path = click.Path(path_type=Path, file_okay=False)

F = TypeVar("F", bound=Callable[..., Any])
T = TypeVar("T")


def codes(done: str, found: str, *, plan: str = "plan") -> str:
    """The exit codes of a command, below its options: what is no failure, and what ``--fail-on`` makes one."""
    return (
        f"\b\nExit codes:\n  0  done ({done})\n  1  unexpected failure\n  2  wrong usage, or a {plan} that cannot be used\n"
        f"  3  input that cannot be used\n  4  {found}, and --fail-on asked for it\n"
    )


def plan_option(says: str = "", *, required: bool = False) -> Callable[[F], F]:
    """``--plan``, with what the command takes from it."""
    text = f"Plan in TOML{f': {says}' if says else ''}."
    return click.option("--plan", "plan_file", required=required, type=file_path, help=text)


def out_option(*files: str, required: bool = False) -> Callable[[F], F]:
    """``--out``: the folder, and the files that come to lie there."""
    text = f"Folder for {', '.join(files[:-1])} and {files[-1]}."
    return click.option("--out", required=required, type=folder_path, help=text)


def fail_on(*findings: str, when: str) -> Callable[[F], F]:
    """``--fail-on``: findings that the exit code tells."""
    return click.option("--fail-on", type=click.Choice(findings), help=f"Exit with 4 if {when}.")


quiet = click.option("-q", "--quiet", is_flag=True, help="Print no verdict; the exit code and the report say it.")

_WRITTEN = (
    click.option("--separator", help="Character between cells of a CSV file; \\t for a tab."),
    click.option("--decimal", type=click.Choice([".", ","]), help="Decimal sign of numbers written as text."),
    click.option("--encoding", help="How characters are written, for example cp1252."),
    click.option("--time-format", metavar="CODES", help="How times are written as text, for example '%d.%m.%Y %H:%M'."),
    click.option("--missing", multiple=True, metavar="WORD", help="Stands for a reading not taken. Repeatable."),
    click.option("--header-line", type=click.IntRange(1), help="Line of the column names."),
    click.option("--sheet", help="Sheet of an Excel workbook."),
)
_NAMES = ("separator", "decimal", "encoding", "time_format", "missing", "header_line", "sheet")


def written_options(function: F) -> F:
    """How files are written, with the words of a plan's ``[file]``; ``how_written`` takes them out again."""
    for option in reversed(_WRITTEN):
        function = option(function)
    return function


def how_written(typed: dict[str, Any]) -> dict[str, Any]:
    """Those that were typed of ``written_options``, taken out of what the command was called with."""
    found = {name: typed.pop(name) or None for name in _NAMES}
    if found["separator"] == "\\t":
        found["separator"] = "\t"
    return {name: value for name, value in found.items() if value is not None}


def named(given: Iterable[str], known: tuple[str, ...]) -> dict[str, str]:
    """What ``--column WHAT=NAME`` says; an empty name says that there is no such column."""
    out = {}
    for text in given:
        what, sign, name = text.partition("=")
        if not sign or what not in known:
            stop(f"--column {text}: write WHAT=NAME, with WHAT one of {', '.join(known)}", USAGE)
        out[what] = name
    return out


def column_option(known: tuple[str, ...]) -> Callable[[F], F]:
    """``--column WHAT=NAME``: the file's name of a column."""
    text = f"What the file calls a column; leave NAME empty if there is none. WHAT: {', '.join(known)}. Repeatable."
    return click.option("--column", "columns", multiple=True, metavar="WHAT=NAME", help=text)


def attempt(call: Callable[[], T]) -> tuple[T, list[str]]:
    """What a call gives, and what it warned of; a refusal ends the command, with 2 of a plan and 3 of the input."""
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        try:
            found = call()
        except (PlanError, MissingExtraError) as error:
            stop(str(error), USAGE)
        except InvalidInputError as error:
            stop(str(error), INPUT)
    return found, list(dict.fromkeys(str(warning.message) for warning in heard))


def write(call: Callable[[], Written], out: Path) -> Path:
    """The page of a report that a call writes to ``--out``."""
    try:
        return call().html
    except MissingExtraError as error:
        stop(str(error), USAGE)
    except OSError as error:
        stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)


def tell(verdict: Iterable[str], notes: Iterable[str], *, report: Path | None, quiet: bool) -> None:
    """The verdict and where the report is on standard output, notes on standard error."""
    if not quiet:
        for line in verdict:
            say(line)
        if report is not None:
            say(f"Report: {report.resolve()}")
    for note in notes:
        say(f"note: {note}", err=True)


def say(text: str, *, err: bool = False) -> None:
    """One line for the terminal; names from a file may not steer it."""
    click.echo(visible(text), err=err)


def stop(message: str, code: int) -> NoReturn:
    """End with a code and the reason on standard error; further lines of it are its list of problems."""
    for line in f"steadyfilm: {message}".split("\n"):
        say(line, err=True)
    sys.exit(code)
