"""Parts of variance components: lines, components, intervals; and their words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from steadyfilm._format import number, plural, with_unit

__all__ = [
    "AnovaLine",
    "LocationEffect",
    "MeanEstimate",
    "VarianceComponent",
    "VarianceRatio",
    "VarianceSum",
    "chance_words",
    "component_columns",
    "interval_words",
    "left_out",
    "line_columns",
    "listed",
    "where_it_sits",
]


@dataclass(frozen=True)
class AnovaLine:
    """One line of an analysis of variance, in unit squared; ``f`` and ``p`` are NaN where nothing is tested."""

    source: str
    sum_squares: float
    degrees_of_freedom: float
    mean_square: float
    f: float
    denominator_mean_square: float
    denominator_degrees_of_freedom: float
    p: float


@dataclass(frozen=True)
class VarianceComponent:
    """One component: ``variance`` as it comes (it may be negative), ``sd`` with a negative one counted as 0.

    ``share`` is its part of the sum of all components floored at 0. ``degrees_of_freedom`` are those of the variance by
    Satterthwaite. ``variance`` = (``mean_square`` - ``next_mean_square``) / ``readings``.
    """

    source: str
    variance: float
    variance_lower: float
    variance_upper: float
    sd: float
    sd_lower: float
    sd_upper: float
    share: float
    degrees_of_freedom: float
    mean_square: float
    mean_square_degrees_of_freedom: float
    next_mean_square: float
    readings: float


@dataclass(frozen=True)
class VarianceSum:
    """A variance that is a sum of components, with its interval."""

    variance: float
    variance_lower: float
    variance_upper: float
    sd: float
    sd_lower: float
    sd_upper: float
    degrees_of_freedom: float


@dataclass(frozen=True)
class MeanEstimate:
    """The mean of all readings, with its interval."""

    value: float
    standard_error: float
    degrees_of_freedom: float
    lower: float
    upper: float


@dataclass(frozen=True)
class VarianceRatio:
    """Variance of the innermost level over that of the residual, with its exact interval."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True)
class LocationEffect:
    """A fixed location: its mean over all units, and its distance from the mean of all locations, with an interval."""

    location: str
    mean: float
    effect: float
    lower: float
    upper: float


def line_columns(lines: Sequence[AnovaLine]) -> dict[str, Any]:
    names = ("source", "degrees_of_freedom", "sum_squares", "mean_square", "f", "p")
    return {name: [getattr(line, name) for line in lines] for name in names}


def component_columns(lines: Sequence[AnovaLine], components: Sequence[VarianceComponent]) -> dict[str, Any]:
    """NaN beside a fixed source, which has no component."""
    by_source = {one.source: one for one in components}
    names = ("variance", "variance_lower", "variance_upper", "sd", "sd_lower", "sd_upper", "share")
    return {name: [getattr(by_source.get(line.source), name, float("nan")) for line in lines] for name in names}


class Sited(Protocol):
    """What the words need of a component."""

    @property
    def source(self) -> str: ...
    @property
    def sd(self) -> float: ...
    @property
    def share(self) -> float: ...


def where_it_sits(components: Sequence[Sited], words: Mapping[str, str], unit: str) -> str:
    """The components in words, the largest first."""
    ranked = sorted(components, key=lambda one: -one.share)
    parts = [f"{words[one.source]} (sd {with_unit(one.sd, unit, 3)}, {100 * one.share:.0f} %)" for one in ranked if one.sd]
    if not parts:
        return "no variation beyond the locations"
    if len(components) == 1:
        return f"the variation sits {parts[0]}"
    head = "most of the variation sits" if ranked[0].share > 0.5 else "the largest part of the variation sits"
    rest = parts[1:]
    more = f", then {', '.join(rest[:-1])}{' and ' if rest[:-1] else ''}{rest[-1]}" if rest else ""
    none = [words[one.source] for one in components if not one.sd]
    return f"{head} {parts[0]}{more}" + (f"; none can be shown {' or '.join(none)}" if none else "")


def left_out(dropped: Sequence[str], what: str) -> str:
    return f"; {plural(len(dropped), f'incomplete {what}')} left out" if dropped else ""


def listed(dropped: Sequence[str]) -> str:
    return ", ".join(dropped) or "none"


def interval_words(level: float) -> dict[str, str]:
    return {
        "intervals": f"{number(100 * level)} %, two-sided; not below 0",
        "interval of the last component": "exact, chi-square",
        "other intervals": "modified large sample: differences by Ting and others (1990), sums by Graybill and Wang (1980)",
    }


def chance_words(p: float) -> str:
    return "below 0.0001" if p < 1e-4 else number(p, 2)
