"""Whether a plan is fit to use, and whether it fits a file of readings: columns, units, layers, windows, dates, the oven."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._cure.tables import read_loads, read_recipes
from steadyfilm._files import Cells, read_cells
from steadyfilm._format import number, plural
from steadyfilm._plan.cure import CurePlan, cure_plan, is_of_the_oven_alone, load_cure_plan
from steadyfilm._plan.wash import WashPlan, is_of_the_washer_alone, load_wash_plan
from steadyfilm._review.attempts import attempt_numbers
from steadyfilm._review.gather import gauge_log
from steadyfilm._text import nearest_names
from steadyfilm.errors import DataProblemsError, InvalidInputError, PlanError
from steadyfilm.plan import Layer, Plan, load_plan
from steadyfilm.units import LENGTH_UNITS, MICROMETERS_PER_MIL, convert_length, unit_symbol

__all__ = ["Checked", "check_plan"]

FAR = 3.0
"""A median this many times outside the window says that the numbers, or the window, are of something else."""
THICKEST_PAINT_MIL = 40.0
"""Above this a film is a lining rather than paint (common practice, no source); only asked, never refused."""
MOST_SHOWN = 8


@dataclass
class Checked:
    """What a check found. ``problems`` each name key, value and way out; ``seen`` says what a file holds."""

    subject: str
    problems: list[str] = field(default_factory=list)
    seen: list[str] = field(default_factory=list)

    @property
    def verdict(self) -> str:
        """Whether the plan is fit, in one sentence."""
        if not self.problems:
            return f"The plan is fit{self.subject}."
        return f"The plan is not fit{self.subject}: {plural(len(self.problems), 'problem')}."


def check_plan(path: Path, readings: Path | None = None) -> Checked:
    """Check a plan, the files that it names, and a file of readings if one is given.

    A plan that has ``[cure]`` or ``[wash]`` and nothing of the film is one for that command alone, and is checked as such.
    """
    found = Checked(f" for {readings.name}" if readings is not None else "")
    try:
        if readings is None and is_of_the_oven_alone(path):
            _check_oven(load_cure_plan(path), found)
            return found
        if readings is None and is_of_the_washer_alone(path):
            _check_washer(load_wash_plan(path), found)
            return found
        plan = load_plan(path)
    except PlanError as error:
        found.problems += error.problems
        return found
    found.seen.append(f"plan {path.name}: {', '.join(_window(layer, plan) for layer in plan.layers)}")
    month = _read(readings, plan.reading_options(), "file", found) if readings is not None else None
    if month is not None:
        _check_readings(month, plan, found, own=True)
    if plan.baseline is not None and plan.baseline.readings is not None:
        options = plan.reading_options(plan.baseline)
        base = _read(plan.path(plan.baseline.readings), options, "baseline.readings", found)
        if base is not None:
            _check_readings(replace(base, file=f"{base.file} (baseline)"), plan, found, own=False)
    if plan.events is not None:
        log = _read(plan.path(plan.events.file), plan.reading_options(plan.events), "events.file", found)
        if log is not None:
            _check_events(log, plan, found)
    if plan.gauge_checks is not None:
        checks = _read(plan.path(plan.gauge_checks.file), plan.reading_options(plan.gauge_checks), "gauge_checks.file", found)
        if checks is not None:
            _check_gauge_checks(checks, plan, found)
    if plan.gauge_study is not None:
        _check_gauge_study(plan, found)
    if plan.screens.painted is not None:
        listed = _read(plan.path(plan.screens.painted), plan.reading_options(plan.screens), "screens.painted", found)
        if listed is not None and _columns_there(listed, [("columns.unit", name) for name in plan.columns.unit], found):
            found.seen.append(f"{listed.file}: {plural(len(listed.lines), 'row')} of painted units")
    if plan.cure is not None:
        _check_oven(cure_plan(plan.cure, plan.file, plan.path(".")), found)
    if plan.wash is not None:
        _check_washer(WashPlan(plan.wash, plan.file, plan.path(".")), found)
    return found


def _check_washer(plan: WashPlan, found: Checked) -> None:
    """The files that ``[wash]`` names: whether they can be read, and columns, units and tanks are there."""
    from steadyfilm.wash_review import PARTS, review_wash

    tables = {}
    for name in PARTS:
        section = getattr(plan.table, name)
        if section is None:
            continue
        cells = _read(plan.month() / section.file, plan.reading_options(section), f"wash.{name}.file", found)
        if cells is None:
            return
        tables[name] = cells
    try:
        tanks = review_wash(plan, tables).tanks
    except InvalidInputError as error:
        found.problems.append(f"wash: {_inner(error)}")
        return
    for tank in tanks:
        intervals = max((chart.rate.size for chart in tank.charts), default=0)
        found.seen.append(
            f"tank {tank.name}: {plural(tank.percent.size, 'titration')}, {plural(intervals, 'interval')} of use, "
            f"{plural(tank.poured.size, 'addition')}"
        )


def _check_oven(plan: CurePlan, found: Checked) -> None:
    """The files that ``[cure]`` names, and whether the recipes that are asked for are there."""
    names: list[str] | None = None
    cells = _read(plan.recipes, plan.reading, "cure.recipes", found) if plan.recipes is not None else None
    if cells is not None:
        try:
            names = [recipe.name for recipe in read_recipes(cells)]
            found.seen.append(f"{cells.file}: {plural(len(names), 'recipe')} ({', '.join(repr(x) for x in names[:MOST_SHOWN])})")
        except InvalidInputError as error:
            found.problems.append(f"cure.recipes: {_inner(error)}")
    if names is not None and plan.recipe is not None and plan.recipe not in names:
        found.problems.append(f"cure.recipe = '{plan.recipe}': no such recipe; {nearest_names(plan.recipe, names)}")
    listed = _read(plan.loads, plan.reading, "cure.loads", found) if plan.loads is not None else None
    if listed is None:
        return
    try:
        loads = read_loads(listed, plan.options.columns)
    except InvalidInputError as error:
        found.problems.append(f"cure.loads: {_inner(error)}")
        return
    found.seen.append(f"{listed.file}: {plural(len(loads.recipes), 'bake')}")
    if names is None:
        return
    for name in dict.fromkeys(loads.recipes.values()):
        if name not in names:
            bakes = [bake for bake, other in loads.recipes.items() if other == name]
            found.problems.append(
                f"cure.loads: {listed.file} has '{name}' for {plural(len(bakes), 'bake')}, first {bakes[0]}: no such recipe; "
                f"{nearest_names(name, names)}"
            )


def _read(path: Path, options: Mapping[str, Any], key: str, found: Checked) -> Cells | None:
    try:
        return read_cells(path, **options)
    except DataProblemsError as error:
        found.problems.append(f"{key}: {_inner(error)}")
        return None


def _check_readings(cells: Cells, plan: Plan, found: Checked, *, own: bool) -> None:
    names = _named(plan)
    if not _columns_there(cells, names, found):
        return
    columns = plan.columns
    try:
        value = cells.numbers(columns.value)
    except DataProblemsError as error:
        found.problems.append(f"columns.value = '{columns.value}': {_inner(error)}")
        return
    time = _times(cells, columns.time, columns.date, "columns.time", found) if columns.time else None
    if columns.attempt:
        _check_attempts(cells, columns.attempt, found)
    parts = [cells.text(name) for name in columns.unit]
    units = {" / ".join(row) for row in zip(*parts, strict=True) if all(row)}
    line = f"{cells.file}: {plural(len(cells.lines), 'row')}, {plural(len(units), 'unit')}"
    if time is not None and not np.isnat(time).all():
        first, last = np.nanmin(time), np.nanmax(time)
        line += f", {str(first)[:10]} to {str(last)[:10]}"
    found.seen.append(line)
    value = _converted(cells, value, plan, found)
    word = np.array(cells.text(columns.layer) if columns.layer else [plan.layers[0].source] * len(value), dtype=object)
    _check_layers(cells.file, value, word, plan, found)
    if own and time is not None and plan.baseline is not None and plan.baseline.until is not None:
        _check_until(cells.file, time, plan.baseline.until, found)
    for name in plan.streams:
        values = Counter(cells.text(name))
        shown = ", ".join(f"'{text}' {count}" for text, count in values.most_common(MOST_SHOWN))
        found.seen.append(f"stream '{name}': {plural(len(values), 'value')} ({shown} rows)")


def _named(plan: Plan) -> list[tuple[str, str]]:
    """Key and column of everything that the plan wants of a file of readings."""
    columns = plan.columns
    out = [("columns.unit", name) for name in columns.unit]
    for key in ("value", "layer", "location", "repeat", "unit_of_measure", "time", "date", "gauge", "attempt"):
        name = getattr(columns, key)
        if name is not None:
            out.append((f"columns.{key}", name))
    out += [("screens.groups", name) for name in plan.screens.groups]
    for key in ("streams", "adjust", "candidates"):
        out += [(key, name) for name in getattr(plan, key)]
    return out


def _columns_there(cells: Cells, names: Sequence[tuple[str, str]], found: Checked) -> bool:
    absent = [(key, name) for key, name in names if cells.name_of(name) is None]
    for key, name in absent:
        found.problems.append(f"{key} = '{name}': {cells.file} has no such column; {nearest_names(name, cells.columns)}")
    return not absent


def _times(cells: Cells, name: str, date: str | None, key: str, found: Checked) -> NDArray[np.datetime64] | None:
    try:
        return cells.times(name, date)
    except DataProblemsError as error:
        found.problems.append(f"{key} = '{name}': {_inner(error)}")
        return None


def _check_attempts(cells: Cells, name: str, found: Checked) -> None:
    try:
        attempt_numbers(cells.numbers(name), cells.lines, name, file=cells.file, counted_in=cells.counted_in)
    except DataProblemsError as error:
        found.problems.append(f"columns.attempt = '{name}': {_inner(error)}")
        return


def _converted(cells: Cells, value: NDArray[np.float64], plan: Plan, found: Checked) -> NDArray[np.float64]:
    """Values in the working unit; NaN where the unit is not known."""
    wanted = plan.measure.unit
    if wanted == "unstated":
        return value
    name = plan.columns.unit_of_measure
    given = cells.text(name) if name else [plan.measure.written_in or wanted] * len(value)
    factor = {}
    for text in dict.fromkeys(given):
        try:
            factor[text] = convert_length(1.0, given=unit_symbol(text, among=LENGTH_UNITS), wanted=wanted)
        except InvalidInputError:
            rows = [line for line, other in zip(cells.lines, given, strict=True) if other == text]
            found.problems.append(
                f"columns.unit_of_measure = '{name}': '{text}' in {plural(len(rows), 'row')} of {cells.file}, first "
                f"{cells.counted_in} {rows[0]}, is no unit of film thickness known here; write mil or um"
            )
            factor[text] = np.nan
    if name and len(factor) > 1:
        counts = ", ".join(f"'{text}' {count}" for text, count in Counter(given).items())
        found.seen.append(f"{cells.file}: units of measure {counts} rows, all to {wanted}")
    scaled: NDArray[np.float64] = value * np.array([factor[text] for text in given])
    return scaled


def _check_layers(file: str, value: NDArray[np.float64], word: NDArray[np.object_], plan: Plan, found: Checked) -> None:
    median = {}
    for text in dict.fromkeys(word):
        usable = value[(word == text) & ~np.isnan(value)]
        median[text] = float(np.median(usable)) if len(usable) else np.nan
    wanted = set()
    for k, layer in enumerate(plan.layers, 1):
        key = f"layers[{k}].{'reading' if layer.reading else 'name'}"
        named = [(key, layer.source)] + ([(f"layers[{k}].minus", layer.minus)] if layer.minus else [])
        wanted |= {text for _, text in named}
        absent = [(key, text) for key, text in named if text not in median]
        for key, text in absent:
            found.problems.append(f"{key} = '{text}': no row of {file} has this layer; {nearest_names(text, median)}")
        if not absent:
            middle = median[layer.source] - (median[layer.minus] if layer.minus else 0.0)
            found.seen.append(f"{file}: {layer.name}, median {number(middle, 3)}{_unit(plan)}{_thick(middle, plan)}")
            _check_window(f"layers[{k}]", layer, middle, file, plan, found)
    for text, count in Counter(word).items():
        if text and text not in wanted:
            verb = "is" if count == 1 else "are"
            found.seen.append(f"{file}: {plural(count, 'row')} of '{text}' {verb} left out: no layer of the plan")


def _thick(middle: float, plan: Plan) -> str:
    """A question where numbers and window agree and both are thicker than paint is."""
    if plan.measure.unit != "mil" or middle <= THICKEST_PAINT_MIL:
        return ""
    millimeters = middle * MICROMETERS_PER_MIL / 1000
    return f", that is {number(millimeters, 2)} mm: are these numbers um? Then say unit = 'um' in [measure]"


def _check_window(key: str, layer: Layer, middle: float, file: str, plan: Plan, found: Checked) -> None:
    unit = _unit(plan)
    if np.isnan(middle):
        found.problems.append(f"{key} '{layer.name}': {file} holds no usable reading of it")
        return
    if layer.minus and middle <= 0 and plan.measure.unit != "unstated":
        found.problems.append(
            f"{key}.minus = '{layer.minus}': in {file} '{layer.source}' less '{layer.minus}' has the median "
            f"{number(middle, 3)}{unit}; name the earlier and thinner reading"
        )
        return
    plausible = plan.measure.plausible
    if plausible is not None and not layer.minus and not plausible[0] <= middle <= plausible[1]:
        found.problems.append(
            f"measure.plausible = [{number(plausible[0])}, {number(plausible[1])}]: the median of '{layer.name}' in {file} is "
            f"{number(middle, 3)}{unit}; more than half of its readings would be set aside"
        )
        return
    low, high = layer.lower, layer.upper
    far_above = high is not None and high > 0 and middle > FAR * high
    far_below = low is not None and low > 0 and middle < low / FAR
    if far_above or far_below:
        found.problems.append(
            f"{key} {_window(layer, plan)}: the median in {file} is {number(middle, 3)}{unit}{_other_unit(layer, middle, plan)}"
        )


def _other_unit(layer: Layer, middle: float, plan: Plan) -> str:
    """Whether the numbers would fit in the other unit of length."""
    low = layer.lower if layer.lower is not None else layer.upper
    high = layer.upper if layer.upper is not None else layer.lower
    assert low is not None  # a layer without a window is not far from it
    assert high is not None
    if plan.measure.unit != "unstated":
        for factor, other in ((1 / MICROMETERS_PER_MIL, "um"), (MICROMETERS_PER_MIL, "mil")):
            if low / FAR <= middle * factor <= high * FAR and other != plan.measure.unit:
                way = (
                    "correct the unit of measure in the file"
                    if plan.columns.unit_of_measure
                    else f"set written_in = '{other}' in [measure]"
                )
                return f"; the numbers look like {other}: {way}"
    return f"; more than {number(FAR)} times outside: correct the window, or the layer's reading"


def _check_until(file: str, time: NDArray[np.datetime64], until: object, found: Checked) -> None:
    moment = np.datetime64(until, "us") if isinstance(until, datetime) else np.datetime64(until, "D") + 1  # type: ignore[call-overload]  # a date
    early = int((time <= moment).sum() if isinstance(until, datetime) else (time < moment).sum())
    late = int((~np.isnat(time)).sum()) - early
    if not early or not late:
        found.problems.append(
            f"baseline.until = {until}: {file} has no rows {'up to' if not early else 'after'} it; "
            f"its times run from {str(np.nanmin(time))[:16]} to {str(np.nanmax(time))[:16]}"
        )


def _check_events(cells: Cells, plan: Plan, found: Checked) -> None:
    log = plan.events
    assert log is not None  # it has just been read
    names = [("events.time", log.time), *[("events.text", x) for x in log.text], *[("events.kind", x) for x in log.kind]]
    if log.date:
        names.append(("events.date", log.date))
    if log.layer:
        names.append(("events.layer", log.layer))
    if not _columns_there(cells, names, found):
        return
    time = _times(cells, log.time, log.date, "events.time", found)
    if time is not None:
        found.seen.append(f"{cells.file}: {plural(len(time), 'row')}, {int(np.isnat(time).sum())} of them without a time")
    if log.layer:
        known = {layer.name for layer in plan.layers} | {layer.source for layer in plan.layers}
        for text, count in Counter(cells.text(log.layer)).items():
            if text and text not in known:
                found.seen.append(f"{cells.file}: {plural(count, 'row')} for '{text}', which is no layer of the plan")


def _check_gauge_checks(cells: Cells, plan: Plan, found: Checked) -> None:
    log = plan.gauge_checks
    assert log is not None  # it has just been read
    names = [(f"gauge_checks.{key}", getattr(log, key)) for key in ("time", "gauge", "value", "stated")]
    if log.unit_of_measure:
        names.append(("gauge_checks.unit_of_measure", log.unit_of_measure))
    if not _columns_there(cells, [*names, *[("gauge_checks.foil", x) for x in log.foil]], found):
        return
    notes: list[str] = []
    try:
        checks = gauge_log(cells, plan, notes)
    except DataProblemsError as error:
        found.problems.append(f"gauge_checks: {_inner(error)}")
        return
    gauges = ", ".join(f"'{name}' {count}" for name, count in Counter(x.gauge for x in checks).most_common(MOST_SHOWN))
    left = "".join(f"; {note.removeprefix('gauge checks: ')}" for note in notes)
    found.seen.append(f"{cells.file}: {plural(len(cells.lines), 'row')}, checks of {gauges or 'no gauge'}{left}")


def _check_gauge_study(plan: Plan, found: Checked) -> None:
    from steadyfilm.measurability import judge_planned_study

    try:
        study = judge_planned_study(plan)
    except InvalidInputError as error:
        found.problems.append(f"gauge_study: {_inner(error)}")
        return
    assert plan.gauge_study is not None  # it has just been judged
    of = "; ".join(x.name for x in study.studies if x.name)
    found.seen.append(f"{plan.gauge_study.file}: gauge study{f' of {of}' if of else ''}")


def _inner(error: Exception) -> str:
    """An error's lines as one item of a list."""
    return str(error).replace("\n", "\n    ")


def _unit(plan: Plan) -> str:
    return "" if plan.measure.unit == "unstated" else f" {plan.measure.unit}"


def _window(layer: Layer, plan: Plan) -> str:
    low, high = layer.lower, layer.upper
    if low is not None and high is not None:
        return f"'{layer.name}' {number(low)} to {number(high)}{_unit(plan)}"
    if low is None and high is None:
        return f"'{layer.name}' without a window"
    limit = low if low is not None else high
    assert limit is not None  # one of them is there
    return f"'{layer.name}' {'at least' if low is not None else 'at most'} {number(limit)}{_unit(plan)}"
