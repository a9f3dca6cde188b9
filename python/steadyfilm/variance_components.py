"""Where the variation sits: analysis of variance and variance components."""

from __future__ import annotations

import dataclasses
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._balanced import body_layout, label_columns, nested_layout
from steadyfilm._component_parts import (
    AnovaLine,
    LocationEffect,
    MeanEstimate,
    VarianceComponent,
    VarianceRatio,
    VarianceSum,
    chance_words,
    component_columns,
    interval_words,
    left_out,
    line_columns,
    listed,
    where_it_sits,
)
from steadyfilm._component_steps import component_steps, line_steps, mean_steps, sum_steps
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import Column, make_table, readings
from steadyfilm._mixed_components import FixedEffect, MixedComponent, MixedComponents, SearchEnd, mixed_components
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import ConstantDataWarning, InvalidInputError

__all__ = [
    "AnovaLine",
    "BodyComponents",
    "FixedEffect",
    "LocationEffect",
    "MeanEstimate",
    "MixedComponent",
    "MixedComponents",
    "NestedComponents",
    "OneWayAnova",
    "SearchEnd",
    "VarianceComponent",
    "VarianceRatio",
    "VarianceSum",
    "body_components",
    "mixed_components",
    "nested_components",
    "one_way_anova",
]

_PAGE = "cpp/methods/variance_components.md"
_SOURCES = (
    _PAGE,
    "Searle, Casella and McCulloch, Variance Components (1992), analysis of variance estimates (from memory)",
    "Burdick and Graybill, Confidence Intervals on Variance Components (1992), chapter 3 (from memory)",
)


@dataclass(frozen=True, eq=False, repr=False)
class OneWayAnova(Result):
    """Analysis of variance of groups of any sizes; in the unit of the data, squares in unit squared."""

    count: int
    group_count: int
    mean: float
    between: AnovaLine
    within: AnovaLine
    r_squared: float
    residual_sd: float
    group_means: NDArray[np.float64]
    group_sizes: NDArray[np.int64]
    groups: tuple[str, ...]

    def sentence(self) -> str:
        inside = f"inside a group readings vary by {with_unit(self.residual_sd, self.made.unit)} (sd)"
        head = f"{plural(self.count, 'reading')} in {plural(self.group_count, 'group')}"
        if np.isnan(self.between.f):
            return f"{head} are all equal: there is nothing to compare."
        share = f"{number(100 * self.r_squared, 3)} % of the sum of squares lies between them"
        if self.between.p < self.made.options["significance"]:
            return (
                f"{head}: the groups differ by more than chance explains (p {chance_words(self.between.p)}; {share}); {inside}."
            )
        return f"{head}: the groups differ no more than chance explains (p {chance_words(self.between.p)}; {share}); {inside}."

    def _columns(self) -> dict[str, Any]:
        return line_columns((self.between, self.within))

    def group_frame(self, kind: str | None = None) -> Any:
        """One row a group: its name, count and mean."""
        columns = {"group": list(self.groups), "count": self.group_sizes, "mean": self.group_means}
        return make_table(columns, kind or self.made.frame)

    def explain(self) -> Explanation:
        squares = {"between": self.between.sum_squares, "within": self.within.sum_squares}
        steps = line_steps((self.between, self.within))
        if sum(squares.values()) > 0:
            steps.append(Step("r_squared", "between / (between + within)", squares, self.r_squared))
        steps.append(Step("residual_sd", "sqrt(mean_square)", {"mean_square": self.within.mean_square}, self.residual_sd))
        choices = {"group": str(self.made.options["group"]), "significance": number(self.made.options["significance"])}
        return Explanation(self.sentence(), tuple(steps), choices, (_PAGE,))


@dataclass(frozen=True, eq=False, repr=False)
class NestedComponents(Result):
    """Components of nested readings, from the outermost level inward, the residual last; in the unit of the data.

    ``counts`` holds the groups of the outermost level, the groups of the next level in each of these, ..., and the readings in
    each innermost group. ``dropped`` names outermost groups that were left out because they were incomplete.
    """

    _plot: ClassVar[str] = "variance_components:plot_components"

    lines: tuple[AnovaLine, ...]
    components: tuple[VarianceComponent, ...]
    total: VarianceSum
    mean: MeanEstimate
    innermost_ratio: VarianceRatio
    levels: tuple[str, ...]
    counts: tuple[int, ...]
    dropped: tuple[str, ...]

    def place_words(self) -> dict[str, str]:
        """Each source in words that follow "the variation sits"."""
        words = {self.levels[0]: f"from {self.levels[0]} to {self.levels[0]}"}
        for outer, inner in zip(self.levels, self.levels[1:], strict=False):
            words[inner] = f"from {inner} to {inner} within a {outer}"
        words["residual"] = f"from reading to reading within a {self.levels[-1]}"
        return words

    def sentence(self) -> str:
        head = plural(self.made.count, "reading")
        unit = self.made.unit
        if self.total.sd == 0.0 and not any(one.sd for one in self.components):
            return f"All {head} are {with_unit(self.mean.value, unit)}: there is no variation to divide."
        found = where_it_sits(self.components, self.place_words(), unit)
        return f"{head}: {found}; mean {with_unit(self.mean.value, unit)}{left_out(self.dropped, 'group')}."

    def _columns(self) -> dict[str, Any]:
        return {**line_columns(self.lines), **component_columns(self.lines, self.components)}

    def explain(self) -> Explanation:
        level = self.made.options["confidence_level"]
        steps = line_steps(self.lines) + component_steps(self.components, level)
        steps += sum_steps("total", self.total, self.components, [1.0] * len(self.components))
        steps += mean_steps(self.mean, level)
        counts = " x ".join(map(str, self.counts))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "levels": f"{', '.join(self.levels)}, readings: {counts}, each inside the one before",
                "components": "method of moments; shown as they come, counted as 0 where negative",
                **interval_words(level),
                "left out": listed(self.dropped),
            },
            sources=_SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class BodyComponents(Result):
    """Components of units read at the same locations; in the unit of the data.

    Random sources: "day" (when given), "unit", "unit_location" (a unit's own deviations from the pattern), "repeat". With one
    reading a location, repeat is part of unit_location; with one location, unit_location is part of unit. ``total`` is for a
    single reading about the mean of its location, ``unit_average`` for the average of all readings of a unit. ``locations`` are
    the fixed pattern, ``location_rms`` its root mean square. ``units_per_day`` is empty without days.
    """

    _plot: ClassVar[str] = "variance_components:plot_components"

    lines: tuple[AnovaLine, ...]
    components: tuple[VarianceComponent, ...]
    total: VarianceSum
    unit_average: VarianceSum
    mean: MeanEstimate
    locations: tuple[LocationEffect, ...]
    effect_standard_error: float
    effect_degrees_of_freedom: float
    location_rms: float
    unit_count: int
    repeats: int
    units_per_day: tuple[int, ...]
    dropped: tuple[str, ...]

    def place_words(self) -> dict[str, str]:
        """Each source in words that follow "the variation sits"."""
        single = self.repeats == 1
        return {
            "day": "from day to day",
            "unit": "from unit to unit" + (" (single readings, with their repeat error)" if len(self.components) == 1 else ""),
            "location": "from location to location, alike on every unit",
            "unit_location": "from location to location, differently on each unit" + (" (with repeat error)" if single else ""),
            "repeat": "from reading to reading at one location",
        }

    def sentence(self) -> str:
        unit = self.made.unit
        head = f"{plural(self.unit_count, 'unit')} with {plural(len(self.locations), 'location')}"
        head += f" and {plural(self.repeats, 'reading')} each" if self.repeats > 1 else ""
        if self.total.sd == 0.0 and self.location_rms == 0.0 and not any(one.sd for one in self.components):
            every = f"All {plural(self.made.count, 'reading')} are {with_unit(self.mean.value, unit)}"
            return f"{every}: there is no variation to divide."
        clauses = [f"{head}: {where_it_sits(self.components, self.place_words(), unit)}"]
        if len(self.locations) > 1:
            low = min(self.locations, key=lambda place: place.effect)
            high = max(self.locations, key=lambda place: place.effect)
            clauses.append(
                f"besides, the locations differ alike on every unit, from {low.effect:+.3g} ({low.location}) to "
                f"{f'{high.effect:+.3g} {unit}'.rstrip()} ({high.location}) about their mean"
            )
        clauses.append(f"unit averages vary by {with_unit(self.unit_average.sd, unit)} (sd)")
        return "; ".join(clauses) + f"{left_out(self.dropped, 'unit')}."

    def _columns(self) -> dict[str, Any]:
        return {**line_columns(self.lines), **component_columns(self.lines, self.components)}

    def location_frame(self, kind: str | None = None) -> Any:
        """One row a location: its mean, its effect and the interval of the effect."""
        columns = {name: [getattr(place, name) for place in self.locations] for name in ("location", "mean", "effect")}
        columns |= {f"effect_{end}": [getattr(place, end) for place in self.locations] for end in ("lower", "upper")}
        return make_table(columns, kind or self.made.frame)

    def _divisors(self) -> list[float]:
        """Of each component in the variance of a unit average."""
        places = float(len(self.locations))
        own = {"unit_location": places, "repeat": places * self.repeats}
        return [own.get(one.source, 1.0) for one in self.components]

    def explain(self) -> Explanation:
        level = self.made.options["confidence_level"]
        steps = line_steps(self.lines) + component_steps(self.components, level)
        steps += sum_steps("total", self.total, self.components, [1.0] * len(self.components))
        steps += sum_steps("unit_average", self.unit_average, self.components, self._divisors())
        steps += mean_steps(self.mean, level)
        steps += [
            Step(f"effect_{i}", "location_mean - mean", {"location_mean": place.mean, "mean": self.mean.value}, place.effect)
            for i, place in enumerate(self.locations, 1)
        ]
        if len(self.locations) > 1:
            base = next(line for line in self.lines if line.source == "unit_location")
            inputs = {
                "mean_square": base.mean_square,
                "units": float(self.unit_count),
                "repeats": float(self.repeats),
                "locations": float(len(self.locations)),
            }
            formula = "sqrt(mean_square / (units * repeats) * (1 - 1 / locations))"
            steps.append(Step("effect_standard_error", formula, inputs, self.effect_standard_error))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "locations": "fixed, crossed with unit: the same places on every unit; their effects add up to 0",
                "unit x location": "random and free (not made to add up to 0 inside a unit)",
                "components": "method of moments; shown as they come, counted as 0 where negative",
                **interval_words(level),
                "location effects": f"{number(100 * level)} % by Student t, each for itself",
                "days": "each day's mean counted once" if self.units_per_day else "none",
                "left out": listed(self.dropped),
            },
            sources=_SOURCES,
        )


def one_way_anova(
    data: Any, column: str | None = None, *, unit: str, group: Any, significance: float = 0.05, missing: str = "error"
) -> OneWayAnova:
    """Compare groups of readings: how much of the spread lies between them, and whether chance explains it.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in any order; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``.
    group : column name or sequence of labels
        Two groups or more, of any sizes; one of them with two readings or more.
    significance : float
        Below this chance the sentence calls the groups different.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels; with column, row and value.
    InvalidInputError
        Fewer than two groups, or one reading in each.

    Notes
    -----
    Formulas in cpp/methods/variance_components.md; sums run in twice the working precision.

    Examples
    --------
    >>> found = one_way_anova([1.0, 2.0, 4.0, 5.0], unit="mil", group=["A", "A", "B", "B"])
    >>> found.between.f, found.residual_sd ** 2
    (18.0, 0.5000000000000001)
    """
    given = readings(data, column, missing=missing)
    name, words = label_columns(data, given, [group])[0]
    names = list(dict.fromkeys(words.tolist()))
    code = {word: i for i, word in enumerate(names)}
    codes = np.array([code[word] for word in words], dtype=np.int64)
    order = np.argsort(codes, kind="stable")
    sizes = np.bincount(codes, minlength=len(names)).astype(np.int64)
    if len(names) < 2:
        raise InvalidInputError(f"'{name}' holds {plural(len(names), 'group')}: two or more are needed", argument="group")
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    found = _core.one_way_anova(np.ascontiguousarray(given.values[order]), offsets)
    _warn_constant(given.values, given.name)
    made = _made("one_way_anova", unit, given, given.values.size, group=name, significance=significance, missing=missing)
    return build(OneWayAnova, found, made=made, group_sizes=sizes, groups=tuple(names))


def nested_components(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    levels: Sequence[Any],
    confidence_level: float = 0.95,
    incomplete: str = "error",
    missing: str = "error",
) -> NestedComponents:
    """Divide the variation of nested readings among their levels: lots, wafers in lots, sites in wafers.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in any order; a table needs ``column``.
    unit : str
        Unit of the readings.
    levels : sequence of column names (or of label sequences)
        From the outermost inward, for example ``["lot", "wafer"]``. A label counts inside the group around it, so that wafers may
        be numbered anew in every lot. Readings of one innermost group are the residual.
    confidence_level : float
        Of all intervals, two-sided.
    incomplete : {"error", "drop_groups"}
        Outermost groups with fewer or more groups or readings than usual are refused, or left out and named in ``dropped``.
    missing : {"error", "drop"}
        Missing readings are refused, or left out; their group is then incomplete.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels; with column, row and value.
    InvalidInputError
        Unequal numbers (named), fewer than two groups of a level, one reading a group.

    Warns
    -----
    ConstantDataWarning
        All readings are equal.
    MissingDataWarning
        Groups or readings were left out.

    Notes
    -----
    Components by the method of moments. Intervals: exact chi-square for the residual, modified large sample for the others (Ting,
    Burdick, Graybill, Jeyaratnam and Lu 1990) and for their total (Graybill and Wang 1980); see
    cpp/methods/variance_components.md.

    Examples
    --------
    >>> table = {"film": [2.0, 2.2, 2.9, 3.1, 2.5, 2.7, 2.4, 2.2], "lot": list("AAAABBBB"), "panel": [1, 1, 2, 2, 1, 1, 2, 2]}
    >>> found = nested_components(table, "film", unit="mil", levels=["lot", "panel"])
    >>> [(one.source, round(one.variance, 4)) for one in found.components]
    [('lot', -0.1075), ('panel', 0.215), ('residual', 0.02)]
    """
    names = list(levels) if not isinstance(levels, str) else [levels]
    if not names:
        raise InvalidInputError("levels must name one column or more, the outermost first", argument="levels")
    given = readings(data, column, missing=missing)
    columns = label_columns(data, given, names)
    layout = nested_layout(given.values, columns, incomplete)
    found = _core.nested_components(layout.values, layout.counts, confidence_level)
    words = [name for name, _ in columns]
    _warn_constant(layout.values, given.name)
    made = _made(
        "nested_components",
        unit,
        given,
        layout.values.size,
        levels=words,
        confidence_level=confidence_level,
        incomplete=incomplete,
        missing=missing,
    )
    counts = tuple(int(count) for count in layout.counts)
    more = {"levels": tuple(words), "counts": counts, "dropped": layout.dropped, "made": made}
    return build(NestedComponents, _with_rows(found, [*words, "residual"]), **more)


def body_components(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    body: Any,
    location: Any = None,
    day: Any = None,
    confidence_level: float = 0.95,
    incomplete: str = "error",
    missing: str = "error",
) -> BodyComponents:
    """Divide the variation of units that are all read at the same locations.

    Units are random, locations fixed: the roof of every body is the same place. What a unit's location does beyond its unit and
    its location is random, and so are repeat readings at one spot.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in any order; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``.
    body : column name or sequence of labels
        Which unit was read: two or more.
    location : column name or sequence of labels, optional
        Where on it; absent for readings at one place.
    day : column name or sequence, optional
        Day (or shift, batch) that units belong to; of moments, their day. Days may hold unequal numbers of units. Unit labels
        count inside their day.
    confidence_level : float
        Of all intervals, two-sided.
    incomplete : {"error", "drop_units"}
        Units that lack a location, or readings at one, are refused, or left out and named in ``dropped``.
    missing : {"error", "drop"}
        Missing readings are refused, or left out; their unit is then incomplete.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels; with column, row and value.
    InvalidInputError
        Incomplete units (named, with how many remain), fewer than two units, days that cannot be told from units.

    Warns
    -----
    ConstantDataWarning
        All readings are equal.
    MissingDataWarning
        Units or readings were left out.

    Notes
    -----
    Components by the method of moments, in the model in which unit x location is free. Intervals as in ``nested_components``;
    that of a unit average without days is exact. See cpp/methods/variance_components.md.

    Examples
    --------
    >>> table = {
    ...     "film": [1, 3, 5, 5, 4, 4, 8, 10],
    ...     "body": ["b1"] * 4 + ["b2"] * 4,
    ...     "place": ["side", "side", "roof", "roof"] * 2,
    ... }
    >>> found = body_components(table, "film", unit="mil", body="body", location="place")
    >>> [(one.source, one.variance) for one in found.components]
    [('unit', 4.0), ('unit_location', 0.5), ('repeat', 1.0)]
    >>> found.unit_average.variance
    4.5
    """
    given = readings(data, column, missing=missing)
    place = np.full(given.values.size + len(given.missing_rows), "all", dtype=object) if location is None else location
    columns = label_columns(data, given, [body, place, *([] if day is None else [day])])
    layout = body_layout(given.values, columns[0], columns[1], None if day is None else columns[2], incomplete)
    found = _core.body_components(layout.values, len(layout.locations), layout.repeats, layout.units_per_day, confidence_level)
    _warn_constant(layout.values, given.name)
    made = _made(
        "body_components",
        unit,
        given,
        layout.values.size,
        body=columns[0][0],
        location=None if location is None else columns[1][0],
        day=None if day is None else columns[2][0],
        confidence_level=confidence_level,
        incomplete=incomplete,
        missing=missing,
    )
    effects = tuple(
        build(LocationEffect, line, location=name) for line, name in zip(found["locations"], layout.locations, strict=True)
    )
    return build(
        BodyComponents,
        {**_with_rows(found), "locations": effects},
        unit_count=len(layout.units),
        repeats=layout.repeats,
        units_per_day=tuple(int(size) for size in layout.units_per_day),
        dropped=layout.dropped,
        made=made,
    )


def _with_rows(found: Mapping[str, Any], names: Sequence[str] | None = None) -> dict[str, Any]:
    """Lines and components as their classes, under the caller's names of the sources."""
    out = dict(found)
    for field, kind in (("lines", AnovaLine), ("components", VarianceComponent)):
        rows: list[Any] = [build(kind, row) for row in found[field]]
        if names is not None:
            rows = [dataclasses.replace(row, source=name) for row, name in zip(rows, names, strict=True)]
        out[field] = tuple(rows)
    return out


def _made(function: str, unit: str, given: Column, count: int, **options: Any) -> Made:
    return Made(function, unit, int(count), given.missing_rows, given.frame, options, _core.version)


def _warn_constant(values: NDArray[np.float64], name: str) -> None:
    if np.ptp(values) == 0.0:
        warnings.warn(f"all values of '{name}' are equal: every component is 0", ConstantDataWarning, stacklevel=3)
