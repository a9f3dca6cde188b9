"""Recipes and loads from tables of a file or of the caller."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, cast

from steadyfilm._cure.logs import Source
from steadyfilm._cure.options import LogColumns
from steadyfilm._cure.recipes import DoseWanted, Recipe, SchedulePoint
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError
from steadyfilm.units import convert_temperature

__all__ = ["Loads", "read_loads", "read_recipes", "source_of"]

LINES = ("setpoint", "schedule", "dose", "maximum")


@dataclass(frozen=True)
class Loads:
    """By bake: its recipe, its oven, and its units in the order of the table."""

    recipes: dict[str, str]
    ovens: dict[str, str]
    units: dict[str, tuple[str, ...]]


def source_of(data: Any) -> Source:
    """A file's cells as they are, any other table behind the same questions."""
    from steadyfilm._files import Cells
    from steadyfilm._review.gather import FrameCells

    return data if isinstance(data, Cells) else cast("Source", FrameCells(data))


def read_recipes(data: Any) -> tuple[Recipe, ...]:
    """Recipes from a table of one row a line.

    Parameters
    ----------
    data : table
        Columns ``recipe``, ``line`` (``schedule``, ``maximum``, ``dose`` or ``setpoint``), ``temperature``,
        ``unit_of_measure`` (C or F), ``minutes``, and ``activation_energy`` (kJ/mol) for a dose.

    Raises
    ------
    DataProblemsError
        Lines that are not known, numbers that are missing, a second maximum or dose, a unit that is not declared.

    Examples
    --------
    >>> rows = {"recipe": ["A", "A"], "line": ["schedule", "maximum"], "temperature": [140, 194]}
    >>> rows |= {"unit_of_measure": ["F", "F"], "minutes": [60, None], "activation_energy": [None, None]}
    >>> read_recipes(rows)[0].schedule, read_recipes(rows)[0].maximum_c
    ((SchedulePoint(temperature_c=60.0, minutes=60.0),), 90.0)
    """
    source = source_of(data)
    name, line, unit = (source.text(column) for column in ("recipe", "line", "unit_of_measure"))
    temperature, minutes = source.numbers("temperature"), source.numbers("minutes")
    energy = source.numbers("activation_energy") if source.name_of("activation_energy") is not None else None
    problems: list[DataProblem] = []
    parts: dict[str, dict[str, list[tuple[float, float, float]]]] = {}
    for i, row in enumerate(source.lines):
        if not name[i]:
            problems.append(DataProblem("recipe", row, "", "recipe is missing"))
            continue
        kind = line[i]
        if kind not in LINES:
            problems.append(DataProblem("line", row, repr(kind), f"is none of {', '.join(LINES)}"))
            continue
        if math.isnan(temperature[i]):
            problems.append(DataProblem("temperature", row, "", "temperature is missing"))
            continue
        if kind in ("schedule", "dose") and not minutes[i] > 0.0:
            problems.append(DataProblem("minutes", row, "", "minutes above 0 are needed"))
            continue
        own = math.nan if energy is None else float(energy[i])
        if kind == "dose" and not own >= 0.0:
            problems.append(DataProblem("activation_energy", row, "", "an activation energy of 0 kJ/mol or more is needed"))
            continue
        try:
            in_c = convert_temperature(float(temperature[i]), given=unit[i], wanted="C")
        except InvalidInputError as error:
            problems.append(DataProblem("unit_of_measure", row, repr(unit[i]), str(error)))
            continue
        lines = parts.setdefault(name[i], {}).setdefault(kind, [])
        if lines and kind != "schedule":
            problems.append(DataProblem("line", row, repr(kind), f"recipe '{name[i]}' has one already"))
        lines.append((in_c, float(minutes[i]), own))
    problems += [
        DataProblem("line", 0, "", f"recipe '{recipe}' has no schedule line")
        for recipe, own in parts.items()
        if "schedule" not in own
    ]
    if problems or not parts:
        raise DataProblemsError(
            problems or [DataProblem("", 0, "", "there is no recipe")], advice="Correct the recipes.", file=source.file
        )
    return tuple(_recipe(recipe, own) for recipe, own in parts.items())


def _recipe(name: str, parts: dict[str, list[tuple[float, float, float]]]) -> Recipe:
    maximum, dose, setpoint = (parts.get(kind, [None])[0] for kind in ("maximum", "dose", "setpoint"))
    return Recipe(
        name=name,
        schedule=tuple(SchedulePoint(t, m) for t, m, _ in parts["schedule"]),
        maximum_c=None if maximum is None else maximum[0],
        dose=None if dose is None else DoseWanted(dose[1], dose[0], dose[2]),
        air_c=None if setpoint is None else setpoint[0],
        bake_min=None if setpoint is None or math.isnan(setpoint[1]) else setpoint[1],
    )


def read_loads(data: Any, columns: LogColumns) -> Loads:
    """Which bake had which recipe, oven and units; a bake with two recipes is refused."""
    source = source_of(data)
    if columns.bake is None:
        raise InvalidInputError("a table of loads needs a log with a column of bakes", argument="columns.bake")
    bakes = source.text(columns.bake)
    empty = [""] * len(bakes)
    recipe = source.text(columns.load_recipe) if columns.load_recipe else empty
    unit = source.text(columns.load_unit) if columns.load_unit else empty
    oven = source.text("oven") if source.name_of("oven") is not None else empty
    recipes: dict[str, str] = {}
    ovens: dict[str, str] = {}
    units: dict[str, list[str]] = {}
    problems = []
    for i, (bake, row) in enumerate(zip(bakes, source.lines, strict=True)):
        if not bake:
            problems.append(DataProblem(columns.bake, row, "", "bake is missing"))
            continue
        if recipe[i] and recipes.setdefault(bake, recipe[i]) != recipe[i]:
            problems.append(
                DataProblem(columns.load_recipe or "", row, repr(recipe[i]), f"bake {bake} has recipe '{recipes[bake]}' already")
            )
        if oven[i]:
            ovens.setdefault(bake, oven[i])
        if unit[i]:
            units.setdefault(bake, []).append(unit[i])
    if problems:
        raise DataProblemsError(problems, advice="Correct the table of loads.", file=source.file)
    return Loads(recipes, ovens, {bake: tuple(names) for bake, names in units.items()})
