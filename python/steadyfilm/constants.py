"""Chart factors of any subgroup size, computed from the normal range and chi distributions, never typed from a table."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm._result import Explanation, Made, Result, Step, build

__all__ = [
    "ChartFactors",
    "D2Star",
    "c4",
    "c5",
    "chart_factors",
    "chi_match_degrees_of_freedom",
    "d2",
    "d2_star",
    "d3",
    "moving_range_degrees_of_freedom",
]

_MEANING = {
    "d2": "mean of the range / sigma",
    "d3": "sd of the range / sigma",
    "c4": "mean of s / sigma",
    "c5": "sd of s / sigma",
    "A": "averages, sigma known",
    "A2": "averages, from the mean range",
    "A3": "averages, from the mean s",
    "B3": "s chart, lower, from the mean s",
    "B4": "s chart, upper, from the mean s",
    "B5": "s chart, lower, sigma known",
    "B6": "s chart, upper, sigma known",
    "D1": "range chart, lower, sigma known",
    "D2": "range chart, upper, sigma known",
    "D3": "range chart, lower, from the mean range",
    "D4": "range chart, upper, from the mean range",
    "E2": "single readings, from the mean range",
    "E3": "single readings, from the mean s",
}
_FORMULAS = {
    "c5": "sqrt(1 - c4 * c4)",
    "A": "3 / sqrt(subgroup_size)",
    "A2": "3 / (d2 * sqrt(subgroup_size))",
    "A3": "3 / (c4 * sqrt(subgroup_size))",
    "B3": "max(0, 1 - 3 * c5 / c4)",
    "B4": "1 + 3 * c5 / c4",
    "B5": "max(0, c4 - 3 * c5)",
    "B6": "c4 + 3 * c5",
    "D1": "max(0, d2 - 3 * d3)",
    "D2": "d2 + 3 * d3",
    "D3": "max(0, 1 - 3 * d3 / d2)",
    "D4": "1 + 3 * d3 / d2",
    "E2": "3 / d2",
    "E3": "3 / c4",
}


@dataclass(frozen=True, eq=False, repr=False)
class ChartFactors(Result):
    """Three-sigma factors for subgroups of ``subgroup_size`` normal readings, without unit.

    The letters are those of the trade and their case matters (``d3`` is not ``D3``). Lower factors are floored at 0.
    """

    subgroup_size: int
    d2: float
    d3: float
    c4: float
    c5: float
    A: float
    A2: float
    A3: float
    B3: float
    B4: float
    B5: float
    B6: float
    D1: float
    D2: float
    D3: float
    D4: float
    E2: float
    E3: float

    def sentence(self) -> str:
        return (
            f"For subgroups of {self.subgroup_size}: sigma is the mean range / {number(self.d2)} or the mean s / "
            f"{number(self.c4)}; averages stay within {number(self.A2)} mean ranges or {number(self.A3)} mean s of the center, "
            f"ranges between {number(self.D3)} and {number(self.D4)} mean ranges."
        )

    def _columns(self) -> dict[str, Any]:
        names = [field.name for field in fields(self) if field.name in _MEANING]
        return {
            "factor": names,
            "value": [getattr(self, name) for name in names],
            "meaning": [_MEANING[name] for name in names],
        }

    def explain(self) -> Explanation:
        known = {name: getattr(self, name) for name in ("subgroup_size", "d2", "d3", "c4", "c5")}
        steps = tuple(
            Step(name, formula, {k: v for k, v in known.items() if k in formula}, getattr(self, name))
            for name, formula in _FORMULAS.items()
        )
        return Explanation(
            title=self.sentence(),
            steps=steps,
            choices={
                "d2, d3": "mean and sd of the range of normal readings, by integration",
                "c4": "sqrt(2 / (n - 1)) Gamma(n / 2) / Gamma((n - 1) / 2)",
                "limits": "3 sigma; a lower factor below 0 is 0",
            },
            sources=("Tippett 1925, Biometrika 17, 364-387 (range)", "cpp/methods/constants.md"),
        )


@dataclass(frozen=True, eq=False, repr=False)
class D2Star(Result):
    """Divisor for the mean of ``groups`` ranges whose square estimates the variance without bias, and what it is worth.

    ``degrees_of_freedom`` is that of the chi distribution with the same coefficient of variation, and is not whole.
    """

    groups: int
    subgroup_size: int
    d2: float
    d3: float
    d2_star: float
    degrees_of_freedom: float

    def sentence(self) -> str:
        return (
            f"The mean of {plural(self.groups, 'range')} of {self.subgroup_size} readings estimates sigma as well as "
            f"{number(self.degrees_of_freedom, 4)} degrees of freedom would (d2* = {number(self.d2_star, 6)})."
        )

    def _columns(self) -> dict[str, Any]:
        names = ["groups", "subgroup_size", "d2", "d3", "d2_star", "degrees_of_freedom"]
        return {"quantity": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        inputs = {"d2": self.d2, "d3": self.d3, "groups": self.groups}
        return Explanation(
            title=self.sentence(),
            steps=(Step("d2_star", "sqrt(d2 * d2 + d3 * d3 / groups)", inputs, self.d2_star),),
            choices={"degrees_of_freedom": "nu for which c4(nu + 1) = d2 / d2_star"},
            sources=("Patnaik 1950, Biometrika 37, 78-87", "cpp/methods/constants.md"),
        )


def d2(subgroup_size: int) -> float:
    """Mean range of ``subgroup_size`` standard normal values (at least 2).

    Raises
    ------
    InvalidInputError
        A size below 2.

    Examples
    --------
    >>> round(d2(5), 6)
    2.325929
    """
    return _core.d2(subgroup_size)


def d3(subgroup_size: int) -> float:
    """Standard deviation of the range of ``subgroup_size`` standard normal values (at least 2).

    Raises
    ------
    InvalidInputError
        A size below 2.

    Examples
    --------
    >>> round(d3(5), 6)
    0.864082
    """
    return _core.d3(subgroup_size)


def c4(n: float) -> float:
    """Mean of the sample standard deviation (divisor n - 1) over sigma; ``n`` may be any real number above 1.

    Raises
    ------
    InvalidInputError
        A number that is not finite and above 1.

    Examples
    --------
    >>> round(c4(5), 6)
    0.939986
    """
    return _core.c4(n)


def c5(n: float) -> float:
    """Standard deviation of the sample standard deviation over sigma, ``sqrt(1 - c4**2)``.

    Raises
    ------
    InvalidInputError
        A number that is not finite and above 1.

    Examples
    --------
    >>> round(c5(5), 6)
    0.341214
    """
    return _core.c5(n)


def chart_factors(subgroup_size: int) -> ChartFactors:
    """All three-sigma factors of one subgroup size.

    Parameters
    ----------
    subgroup_size : int
        Readings in a subgroup, at least 2; any size is computed.

    Raises
    ------
    InvalidInputError
        A size below 2.

    Examples
    --------
    >>> factors = chart_factors(5)
    >>> round(factors.A2, 3), round(factors.D4, 3), factors.D3
    (0.577, 2.114, 0.0)
    """
    made = Made("chart_factors", unit="", count=1, options={"subgroup_size": subgroup_size}, version=_core.version)
    return build(ChartFactors, _core.chart_factors(subgroup_size), made=made)


def d2_star(groups: int, subgroup_size: int) -> D2Star:
    """Divisor d2* for the mean of a few ranges, and the degrees of freedom of the sigma it gives.

    Parameters
    ----------
    groups : int
        How many ranges were averaged, at least 1.
    subgroup_size : int
        Readings behind each range, at least 2.

    Examples
    --------
    >>> found = d2_star(10, 3)
    >>> round(found.d2_star, 4), round(found.degrees_of_freedom, 1)
    (1.7157, 18.4)
    """
    options = {"groups": groups, "subgroup_size": subgroup_size}
    made = Made("d2_star", unit="", count=groups, options=options, version=_core.version)
    return build(D2Star, _core.d2_star(groups, subgroup_size), made=made)


def chi_match_degrees_of_freedom(relative_variance: float) -> float:
    """Degrees of freedom of a sigma estimate whose variance over squared mean is ``relative_variance`` (above 0).

    They are those of the chi distribution with the same coefficient of variation.

    >>> round(chi_match_degrees_of_freedom((c5(12) / c4(12)) ** 2), 9)
    11.0
    """
    return _core.chi_match_degrees_of_freedom(relative_variance)


def moving_range_degrees_of_freedom(ranges: int, adjacent_ranges: int) -> float:
    """Degrees of freedom of a mean moving range of 2: about 0.61 (n - 1), not n - 1, since ranges share readings.

    Parameters
    ----------
    ranges : int
        How many moving ranges were averaged, at least 1.
    adjacent_ranges : int
        How many pairs of them share a reading: ``ranges - 1`` for an unbroken series, fewer where it has gaps.

    >>> round(moving_range_degrees_of_freedom(99, 98) / 99, 2)
    0.61
    """
    return _core.moving_range_degrees_of_freedom(ranges, adjacent_ranges)
