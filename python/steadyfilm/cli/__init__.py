"""The command line. Verdicts go to standard output, notes and errors to standard error; nothing heavy loads before it is needed.

Exit codes: 0 done; 1 unexpected failure; 2 wrong usage or plan; 3 input unusable; 4 what ``--fail-on`` asks for was found.
"""

from __future__ import annotations

import sys
from typing import Any

from steadyfilm.errors import MissingExtraError

try:
    import click
except ImportError as error:
    raise MissingExtraError("the command line", "job") from error

from steadyfilm.cli._accept import accept
from steadyfilm.cli._command import codes, stop
from steadyfilm.cli._cure import cure
from steadyfilm.cli._gauge import gauge
from steadyfilm.cli._plan import plan
from steadyfilm.cli._review import demo, review
from steadyfilm.cli._screen import screen
from steadyfilm.cli._template import template
from steadyfilm.cli._wash import wash

__all__ = ["main"]


class _Commands(click.Group):
    """Commands in the order of their use; wrong usage is told in one line, as every other refusal."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)

    def main(self, *args: Any, **more: Any) -> Any:
        """Run, and end the program."""
        more["standalone_mode"] = False
        try:
            code = super().main(*args, **more)
        except click.exceptions.NoArgsIsHelpError as error:
            error.show()
            sys.exit(error.exit_code)
        except click.UsageError as error:
            command = error.ctx.command_path if error.ctx is not None else "steadyfilm"
            stop(f"{error.format_message()} See: {command} --help", error.exit_code)
        except click.ClickException as error:
            stop(error.format_message(), error.exit_code)
        except click.Abort:
            stop("interrupted", 1)
        sys.exit(code if isinstance(code, int) else 0)


def _version() -> str:
    import steadyfilm

    return steadyfilm.__version__


@click.group(
    "steadyfilm",
    cls=_Commands,
    epilog=codes("what is found is no failure", "something was found"),
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(_version(), prog_name="steadyfilm", message="%(prog)s %(version)s")
def main() -> None:
    """Statistical process control for film thickness and cure: what moved, since when, by how much."""


for _command in (demo, template, plan, screen, review, gauge, accept, cure, wash):
    main.add_command(_command)

if __name__ == "__main__":
    main()
