"""``steadyfilm cure``: did every bake of an oven log have its cure? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
import warnings
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from steadyfilm._text import visible
from steadyfilm.errors import InvalidInputError, MissingExtraError, PlanError, SteadyfilmWarning

if TYPE_CHECKING:
    from steadyfilm._plan.cure import CurePlan
    from steadyfilm.bakes import BakeReview

__all__ = ["cure"]

USAGE, INPUT, FAILED = 2, 3, 4

_CODES = """\b
Exit codes:
  0  done (a bake without its cure is a finding, not a failure)
  1  unexpected failure
  2  wrong usage, or a plan that cannot be used
  3  input that cannot be used
  4  a bake failed (or is not demonstrated), and --fail-on said so
"""

_file = click.Path(path_type=Path, dir_okay=False)
_COLUMNS = ("bake", "probe", "time", "date", "minutes", "temperature", "unit_of_measure", "load_unit", "load_recipe")
_FORMAT = ("separator", "decimal", "encoding", "time_format")


@click.command(epilog=_CODES)
@click.argument("log", type=_file)
@click.option("--plan", "plan_file", type=_file, help="Plan in TOML whose [cure] table says all of this.")
@click.option("--recipes", type=_file, help="Schedules: table of recipe, line, temperature, unit_of_measure, minutes.")
@click.option("--loads", type=_file, help="Which bake had which recipe and units.")
@click.option("--recipe", help="Recipe of every bake, where no table of loads says it.")
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), help="Folder for cure.html and cure.json.")
@click.option("--air", multiple=True, metavar="PROBE", help="A probe in the air, not on a part; once for each.")
@click.option("--place", "places", multiple=True, metavar="PROBE", help="A probe that every bake must have; once for each.")
@click.option("--unit", type=click.Choice(["C", "F"]), help="Unit of the readings, where no column says it.")
@click.option("--tolerance", "tolerance_k", type=click.FloatRange(min=0.0), metavar="K", help="How far a probe may be off.")
@click.option("--column", "columns", multiple=True, metavar="WHAT=NAME", help=f"A column's name; WHAT: {', '.join(_COLUMNS)}.")
@click.option(
    "--probe-column", "probe_columns", multiple=True, metavar="NAME", help="A log with a column a probe: once for each."
)
@click.option("--pause", "pause_min", type=float, metavar="MIN", help="Pause that parts two bakes in a log without their column.")
@click.option(
    "--format", "formats", multiple=True, metavar="WHAT=TEXT", help=f"How files are written; WHAT: {', '.join(_FORMAT)}."
)
@click.option("--fail-on", type=click.Choice(["fail", "not-demonstrated"]), help="Exit with 4 if a bake is so, or worse.")
@click.option("-q", "--quiet", is_flag=True, help="No verdict on standard output; the report and the exit code say it.")
def cure(log: Path, out: Path | None, fail_on: str | None, quiet: bool, **given: Any) -> None:
    """Say of every bake of an oven LOG whether the parts had their cure: by the coldest place, in three states."""
    try:
        plan = _settings(given)
    except PlanError as error:
        _stop(str(error), USAGE)
    if plan.recipes is None:
        _stop("no recipes: give --recipes FILE, or name them in the plan's [cure]", USAGE)
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always", SteadyfilmWarning)
        found = _review(log, plan)
    notes = [*found.notes, *dict.fromkeys(str(warning.message) for warning in heard)]
    report = None
    if out is not None:
        from steadyfilm.reports.cure import write_cure

        try:
            report = write_cure(found, out).html
        except MissingExtraError as error:
            _stop(str(error), USAGE)
        except OSError as error:
            _stop(f"cannot write the report to {out}: {error.strerror or error}", USAGE)
    if not quiet:
        for line in found.verdict:
            click.echo(visible(line))
        if report is not None:
            click.echo(visible(f"Report: {report.resolve()}"))
    for note in notes:
        click.echo(visible(f"note: {note}"), err=True)
    if fail_on and (found.failed or (fail_on == "not-demonstrated" and found.not_demonstrated)):
        sys.exit(FAILED)


def _settings(given: dict[str, Any]) -> CurePlan:
    """The plan, with what the command line says in place of it."""
    from steadyfilm._cure.options import column_names
    from steadyfilm._plan.cure import CurePlan, load_cure_plan

    plan = load_cure_plan(given["plan_file"]) if given["plan_file"] else CurePlan()
    options = plan.options
    named = column_names(_pairs(given["columns"], _COLUMNS, "--column"))
    if given["probe_columns"]:
        named |= {"probe_columns": tuple(given["probe_columns"]), "probe": None, "temperature": None}
    if "minutes" in named:
        named.setdefault("time", None)
    if given["pause_min"] is not None:
        named.setdefault("bake", None)
    try:
        rules = options.rules if given["pause_min"] is None else replace(options.rules, pause_min=given["pause_min"])
    except InvalidInputError as error:
        raise PlanError(f"--pause: {error}") from error
    own = {key: given[key] for key in ("air", "places", "unit", "tolerance_k") if given[key]}
    options = replace(options, columns=replace(options.columns, **named), rules=rules, **own)
    return replace(
        plan,
        options=options,
        recipes=given["recipes"] or plan.recipes,
        loads=given["loads"] or plan.loads,
        recipe=given["recipe"] or plan.recipe,
        reading={**plan.reading, **_pairs(given["formats"], _FORMAT, "--format")},
    )


def _pairs(given: tuple[str, ...], known: tuple[str, ...], option: str) -> dict[str, Any]:
    """WHAT=NAME pairs."""
    out: dict[str, Any] = {}
    for text in given:
        what, sign, name = text.partition("=")
        if not sign or what not in known:
            raise PlanError(f"{option} {text}: write WHAT=NAME, with WHAT one of {', '.join(known)}")
        out[what] = name
    return out


def _review(log: Path, plan: CurePlan) -> BakeReview:
    from steadyfilm.bakes import review_bake_files

    assert plan.recipes is not None  # the caller has asked
    try:
        found = review_bake_files(log, plan.recipes, loads=plan.loads, options=plan.options, recipe=plan.recipe, **plan.reading)
    except MissingExtraError as error:
        _stop(str(error), USAGE)
    except InvalidInputError as error:
        _stop(str(error), INPUT)
    return replace(found, inputs={**found.inputs, **({plan.name: plan.sha256} if plan.sha256 else {})})


def _stop(message: str, code: int) -> NoReturn:
    for line in f"steadyfilm: {message}".split("\n"):
        click.echo(visible(line), err=True)
    sys.exit(code)
