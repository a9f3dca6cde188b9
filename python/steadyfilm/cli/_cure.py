"""``steadyfilm cure``: did every bake of an oven log have its cure? Nothing heavy loads before it runs."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from steadyfilm.cli._command import (
    FOUND,
    USAGE,
    attempt,
    codes,
    column_option,
    fail_on,
    file_path,
    how_written,
    named,
    out_option,
    plan_option,
    quiet,
    stop,
    tell,
    write,
    written_options,
)
from steadyfilm.errors import InvalidInputError

if TYPE_CHECKING:
    from steadyfilm._plan.cure import CurePlan
    from steadyfilm.bakes import BakeReview

__all__ = ["cure"]

_COLUMNS = ("bake", "probe", "time", "date", "minutes", "temperature", "unit_of_measure", "load_unit", "load_recipe")


@click.command(
    epilog=codes("a bake without its cure is a finding, not a failure", "a bake failed (or is not demonstrated)"),
    short_help="Did every bake of an oven log have its cure?",
)
@click.argument("log", type=file_path)
@plan_option("its [cure] table says all of what follows")
@out_option("cure.html", "cure.json")
@click.option("--recipes", type=file_path, help="Schedules: table of recipe, line, temperature, unit_of_measure, minutes.")
@click.option("--loads", type=file_path, help="Which bake had which recipe and units.")
@click.option("--recipe", help="Recipe of every bake, where no table of loads says it.")
@click.option("--air", multiple=True, metavar="PROBE", help="A probe in the air, not on a part. Repeatable.")
@click.option("--place", "places", multiple=True, metavar="PROBE", help="A probe that every bake must have. Repeatable.")
@click.option("--unit", type=click.Choice(["C", "F"]), help="Unit of the readings, where no column says it.")
@click.option("--tolerance", "tolerance_k", type=click.FloatRange(min=0.0), metavar="K", help="How far a probe may be off.")
@click.option("--pause", "pause_min", type=float, metavar="MIN", help="Pause that parts two bakes in a log without their column.")
@column_option(_COLUMNS)
@click.option("--probe-column", "probe_columns", multiple=True, metavar="NAME", help="A log with a column a probe. Repeatable.")
@written_options
@fail_on("fail", "not-demonstrated", when="a bake is so, or worse")
@quiet
def cure(log: Path, plan_file: Path | None, out: Path | None, fail_on: str | None, quiet: bool, **typed: Any) -> None:
    """Say of every bake of an oven log whether the parts had their cure: by the coldest place, in three states.

    LOG holds one thermocouple reading a row, or one column a probe, as CSV, Excel or Parquet; the bytes say which. Its columns
    are bake, probe, time, temperature and, if there, unit_of_measure, unless the plan or --column says otherwise.
    """

    def judge() -> BakeReview:
        return _review(log, _settings(plan_file, typed))

    found, heard = attempt(judge)
    report = None
    if out is not None:
        from steadyfilm.reports.cure import write_cure

        report = write(lambda: write_cure(found, out), out)
    tell(found.verdict, [*found.notes, *heard], report=report, quiet=quiet)
    if fail_on and (found.failed or (fail_on == "not-demonstrated" and found.not_demonstrated)):
        sys.exit(FOUND)


def _settings(plan_file: Path | None, given: dict[str, Any]) -> CurePlan:
    """The plan, with what the command line says in place of it."""
    from steadyfilm._cure.options import column_names
    from steadyfilm._plan.cure import CurePlan, load_cure_plan

    plan = CurePlan() if plan_file is None else load_cure_plan(plan_file)
    options = plan.options
    columns = column_names(named(given["columns"], _COLUMNS))
    if given["probe_columns"]:
        columns |= {"probe_columns": tuple(given["probe_columns"]), "probe": None, "temperature": None}
    if "minutes" in columns:
        columns.setdefault("time", None)
    if given["pause_min"] is not None:
        columns.setdefault("bake", None)
    try:
        rules = options.rules if given["pause_min"] is None else replace(options.rules, pause_min=given["pause_min"])
    except InvalidInputError as error:
        stop(f"--pause: {error}", USAGE)
    own = {key: given[key] for key in ("air", "places", "unit", "tolerance_k") if given[key]}
    options = replace(options, columns=replace(options.columns, **columns), rules=rules, **own)
    return replace(
        plan,
        options=options,
        recipes=given["recipes"] or plan.recipes,
        loads=given["loads"] or plan.loads,
        recipe=given["recipe"] or plan.recipe,
        reading={**plan.reading, **how_written(given)},
    )


def _review(log: Path, plan: CurePlan) -> BakeReview:
    from steadyfilm.bakes import review_bake_files

    if plan.recipes is None:
        stop("no recipes: give --recipes FILE, or name them in the plan's [cure]", USAGE)
    found = review_bake_files(log, plan.recipes, loads=plan.loads, options=plan.options, recipe=plan.recipe, **plan.reading)
    return replace(found, inputs={**found.inputs, **({plan.name: plan.sha256} if plan.sha256 else {})})
