"""The ``[cure]`` table of a plan: where recipes and loads are, how the oven log is written, what counts as a fault."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from steadyfilm._cure.options import CureOptions, LogColumns, LogRules
from steadyfilm.errors import InvalidInputError, PlanError

__all__ = ["CurePlan", "cure_plan", "load_cure_plan"]

FORMAT = ("separator", "decimal", "encoding", "time_format", "missing", "header_line", "sheet")
"""How files are written; as in the plan's own ``[file]``."""
FILES = ("recipes", "loads", "recipe")
OPTIONS = ("unit", "air", "places", "tolerance_k", "slope_window_min", "dose_role", "unbroken")
NAMES = ("air", "places", "probe_columns", "missing")


@dataclass(frozen=True)
class CurePlan:
    """What a plan says of the oven: options, files (relative names start at the plan's folder), and how they are written."""

    options: CureOptions = field(default_factory=CureOptions)
    recipes: Path | None = None
    loads: Path | None = None
    recipe: str | None = None
    reading: Mapping[str, Any] = field(default_factory=dict)
    sha256: str = ""
    name: str = ""


def load_cure_plan(path: str | Path) -> CurePlan:
    """The ``[cure]`` table of a TOML file; other tables of it are of the film's review and are left alone.

    Raises
    ------
    PlanError
        The file cannot be read, is no TOML, has no ``[cure]``, or that table has keys or values that cannot be used.
    """
    import hashlib

    path = Path(path)
    try:
        content = path.read_bytes()
        found = tomllib.loads(content.decode("utf-8-sig"))
    except OSError as error:
        raise PlanError(f"cannot read the plan {path}: {error.strerror}") from error
    except UnicodeDecodeError as error:
        raise PlanError(f"the plan {path} is not UTF-8 text, as TOML must be (byte {error.start})") from error
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"the plan {path} is not valid TOML: {error}") from error
    if not isinstance(found.get("cure"), dict):
        raise PlanError(f"the plan {path} has no [cure] table: it says nothing of an oven log")
    return cure_plan(found["cure"], folder=path.parent, name=path.name, sha256=hashlib.sha256(content).hexdigest())


def cure_plan(content: Mapping[str, Any], *, folder: str | Path = ".", name: str = "plan", sha256: str = "") -> CurePlan:
    """A plan from the content of its ``[cure]`` table.

    Examples
    --------
    >>> cure_plan({"unit": "F", "air": ["supply"], "rules": {"gap_medians": 4.0}}).options.rules.gap_medians
    4.0
    >>> cure_plan({"airs": ["supply"]})
    Traceback (most recent call last):
    ...
    steadyfilm.errors.PlanError: plan: cure.airs: unknown key; nearest: 'air'
    """
    problems: list[str] = []
    tables = ("columns", "rules", "format")
    _unknown(content, (*FILES, *OPTIONS, *tables), "cure", problems)
    inner = {table: content.get(table, {}) for table in tables}
    for table, known in (("columns", LogColumns), ("rules", LogRules)):
        _unknown(inner[table], tuple(x.name for x in fields(known)), f"cure.{table}", problems)
    _unknown(inner["format"], FORMAT, "cure.format", problems)
    if problems:
        raise PlanError("\n".join(f"{name}: {problem}" for problem in problems), problems=problems)
    try:
        options = CureOptions(
            columns=LogColumns(**_values(inner["columns"])),
            rules=LogRules(**_values(inner["rules"])),
            **_values({key: content[key] for key in OPTIONS if key in content}),
        )
    except (InvalidInputError, TypeError) as error:
        raise PlanError(f"{name}: cure: {error}", problems=[str(error)]) from error
    where = Path(folder)
    recipes, loads = content.get("recipes"), content.get("loads")
    return CurePlan(
        options=options,
        recipes=None if recipes is None else where / str(recipes),
        loads=None if loads is None else where / str(loads),
        recipe=content.get("recipe"),
        reading=_values(inner["format"]),
        sha256=sha256,
        name=name,
    )


def _unknown(given: Any, known: tuple[str, ...], where: str, problems: list[str]) -> None:
    if not isinstance(given, Mapping):
        problems.append(f"{where}: must be a table, got {given!r}")
        return
    for key, value in given.items():
        if key not in known:
            near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.5)
            hint = f"nearest: '{near[0]}'" if near else f"known here: {', '.join(known)}"
            problems.append(f"{where}.{key}: unknown key; {hint}")
        elif key in NAMES and not (isinstance(value, list) and all(isinstance(x, str) for x in value)):
            problems.append(f"{where}.{key}: must be a list of names, got {value!r}")


def _values(given: Mapping[str, Any]) -> dict[str, Any]:
    """Lists become tuples; an empty text for a column says that there is none."""
    return {key: tuple(value) if isinstance(value, list) else None if value == "" else value for key, value in given.items()}
