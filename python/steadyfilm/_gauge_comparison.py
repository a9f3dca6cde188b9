"""Two gauges on the same panels: paired differences, limits of agreement, equivalence within a margin that the user names."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._balanced import label_words
from steadyfilm._format import decimals_for, fixed, number, plural, with_unit
from steadyfilm._gauge_columns import chance_text
from steadyfilm._input import column_of, readings
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["GaugeComparison", "LimitEstimate", "compare_gauges"]

_PAGE = "cpp/methods/gauge_bias.md"


@dataclass(frozen=True)
class LimitEstimate:
    """A limit of agreement with its exact interval, in the unit of the data."""

    value: float
    lower: float
    upper: float


@dataclass(frozen=True, eq=False, repr=False)
class GaugeComparison(Result):
    """Two gauges on the same panels; differences are first less second, in the unit of the data.

    Attributes
    ----------
    mean_difference, lower, upper : float
        With its interval.
    agreement_lower, agreement_upper : LimitEstimate
        Between them lies the stated share of single differences, were they normal.
    equivalent : bool
        Whether both one-sided tests place the mean difference within the margin: ``equivalence_lower`` to ``equivalence_upper``
        then lies inside it.
    p_lower, p_upper, p_equivalence : float
        Chance of such data with a mean at or below the lower end of the margin, at or above its upper end, and the larger one.
    slope, slope_se, slope_p : float
        Of the differences on the panels' means: a gain error of one of the gauges. NaN for panels that are all alike.
    panels : tuple of str
        With ``first`` and ``second``, the mean reading of each.
    """

    _plot: ClassVar[str] = "gauge_bias:plot_comparison"

    count: int
    mean_difference: float
    sd: float
    standard_error: float
    degrees_of_freedom: float
    lower: float
    upper: float
    agreement_multiple: float
    agreement_lower: LimitEstimate
    agreement_upper: LimitEstimate
    t_lower: float
    t_upper: float
    p_lower: float
    p_upper: float
    p_equivalence: float
    equivalence_lower: float
    equivalence_upper: float
    equivalent: bool
    slope: float
    slope_se: float
    slope_p: float
    margin: float
    panels: tuple[str, ...]
    first: NDArray[np.float64]
    second: NDArray[np.float64]

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        one, two = options["gauges"]
        decimals = decimals_for(max(self.equivalence_upper - self.equivalence_lower, 0.02 * self.margin))
        margin = with_unit(self.margin, unit)
        ends = f"{fixed(self.equivalence_lower, decimals)} to {fixed(self.equivalence_upper, decimals)}"
        known = f"{number(100 * (1 - 2 * options['significance']))} % {ends}"
        if self.equivalent:
            head = f"Equivalent within ±{margin}"
        elif self.equivalence_lower > self.margin or self.equivalence_upper < -self.margin:
            head = f"Not equivalent: the gauges differ by more than {margin}"
        else:
            head = f"Equivalence within ±{margin} is not shown"
        differ = f"{fixed(abs(self.mean_difference), decimals)} {unit}".rstrip()
        way = "above" if self.mean_difference > 0 else "below"
        low, high = (fixed(limit.value, decimals) for limit in (self.agreement_lower, self.agreement_upper))
        text = (
            f"{head}: over {plural(self.count, 'panel')} {one} reads {differ} {way} {two} on average ({known}); on a single "
            f"panel {number(100 * options['agreement_share'])} % of differences lie between {low} and {high} {unit}".rstrip()
        )
        if self.slope_p < 0.05:
            text += f"; the difference changes with the value (by {number(100 * self.slope, 2)} %, {chance_text(self.slope_p)})"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        return {
            "panel": list(self.panels),
            "first": self.first,
            "second": self.second,
            "mean": 0.5 * (self.first + self.second),
            "difference": self.first - self.second,
        }

    def explain(self) -> Explanation:
        options = self.made.options
        steps = [
            Step("standard_error", "sd / sqrt(count)", {"sd": self.sd, "count": float(self.count)}, self.standard_error),
            Step(
                "agreement_lower_value",
                "mean_difference - agreement_multiple * sd",
                {"mean_difference": self.mean_difference, "agreement_multiple": self.agreement_multiple, "sd": self.sd},
                self.agreement_lower.value,
            ),
            Step(
                "agreement_upper_value",
                "mean_difference + agreement_multiple * sd",
                {"mean_difference": self.mean_difference, "agreement_multiple": self.agreement_multiple, "sd": self.sd},
                self.agreement_upper.value,
            ),
        ]
        if math.isfinite(self.t_lower) and math.isfinite(self.t_upper):
            inputs = {"mean_difference": self.mean_difference, "margin": self.margin, "standard_error": self.standard_error}
            steps.append(Step("t_lower", "(mean_difference + margin) / standard_error", inputs, self.t_lower))
            steps.append(Step("t_upper", "(mean_difference - margin) / standard_error", inputs, self.t_upper))
        tail = {"p_lower": self.p_lower, "p_upper": self.p_upper}
        steps.append(Step("p_equivalence", "max(p_lower, p_upper)", tail, self.p_equivalence))
        level = number(100 * options["confidence_level"])
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "margin": f"{with_unit(self.margin, self.made.unit)}, given: the mean difference that does not matter",
                "equivalence": f"two one-sided t tests, each at {number(100 * options['significance'])} %",
                "limits of agreement": f"of {number(100 * options['agreement_share'])} % of differences, were they normal; "
                f"{level} % intervals by the noncentral t: "
                f"{number(self.agreement_lower.lower, 4)} to {number(self.agreement_lower.upper, 4)} and "
                f"{number(self.agreement_upper.lower, 4)} to {number(self.agreement_upper.upper, 4)}",
                "panels": "repeats of a panel are averaged first: the differences are those of such averages",
            },
            sources=(
                _PAGE,
                "Bland and Altman, Lancet i (1986), 307-310: limits of agreement",
                "Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987): two one-sided tests",
            ),
        )


def compare_gauges(
    first: Any,
    second: Any,
    *,
    unit: str,
    margin: float,
    data: Any = None,
    panel: Any = None,
    gauges: Sequence[str] = ("the first gauge", "the second gauge"),
    agreement_share: float = 0.95,
    confidence_level: float = 0.95,
    significance: float = 0.05,
    missing: str = "error",
) -> GaugeComparison:
    """Are two gauges interchangeable? Their readings of the same panels, compared panel by panel.

    A test that finds no difference does not show that there is none: too few panels do the same. So the question is turned
    around, and it needs the difference that would not matter.

    Parameters
    ----------
    first, second : column name or sequence of numbers
        Readings of the two gauges, in the same order; names are columns of ``data``.
    unit : str
        Unit of the readings.
    margin : float
        Largest mean difference that does not matter, from what the readings are used for. There is no default.
    panel : column name or sequence of labels, optional
        What was measured; readings of the same panel are averaged. By default each row is a panel.
    gauges : two str
        Their names, for texts.
    agreement_share : float
        Share of single differences between the limits of agreement.
    significance : float
        Of each of the two one-sided tests.
    missing : {"error", "drop"}
        Missing readings are refused; or rows without both are left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, with column, row and value.
    InvalidInputError
        Fewer than three panels, no margin above 0, numbers of readings that differ.

    Examples
    --------
    >>> one, two = [1.02, 2.11, 2.98, 4.07, 5.01], [1.00, 2.05, 3.00, 4.01, 5.02]
    >>> print(compare_gauges(one, two, unit="mil", margin=0.1).sentence())
    Equivalent within ±0.1 mil: over 5 panels the first gauge reads 0.022 mil above the second gauge on average (90 % -0.014 to \
0.058); on a single panel 95 % of differences lie between -0.052 and 0.096 mil.
    """
    names = [item if isinstance(item, str) else word for item, word in ((first, "first"), (second, "second"))]
    given = [
        readings(column_of(data, item) if isinstance(item, str) else item, missing=missing, name=name)
        for item, name in zip((first, second), names, strict=True)
    ]
    heights = [column.values.size + len(column.missing_rows) for column in given]
    if heights[0] != heights[1]:
        raise InvalidInputError(f"second has {heights[1]} readings, first has {heights[0]}", argument="second")
    both = np.intersect1d(given[0].rows, given[1].rows)
    values = []
    for column in given:
        whole = np.full(heights[0], np.nan)
        whole[column.rows] = column.values
        values.append(whole[both])
    words = np.array([f"row {row + 1}" for row in range(heights[0])], dtype=object)
    if panel is not None:
        words = label_words(column_of(data, panel) if isinstance(panel, str) else panel, "panel")
        if words.size != heights[0]:
            raise InvalidInputError(f"panel has {words.size} rows, the readings have {heights[0]}", argument="panel")
        gone = [DataProblem("panel", int(row) + 1, "", "label is missing") for row in both if words[row] is None]
        if gone:
            raise DataProblemsError(gone, advice="Every reading needs its panel.")
    labels = words[both]
    order = list(dict.fromkeys(labels.tolist()))
    means = [np.array([column[labels == name].mean() for name in order]) for column in values]
    if len(gauges) != 2 or gauges[0] == gauges[1]:
        raise InvalidInputError(f"gauges needs two different names, got {list(gauges)}", argument="gauges")
    found = _core.compare_gauges(means[0], means[1], margin, agreement_share, confidence_level, significance)
    made = Made(
        function="compare_gauges",
        unit=unit,
        count=int(2 * both.size),
        missing_rows=tuple(int(row) + 1 for row in np.setdiff1d(np.arange(heights[0]), both)),
        frame=given[0].frame,
        options={
            "gauges": [str(name) for name in gauges],
            "agreement_share": agreement_share,
            "confidence_level": confidence_level,
            "significance": significance,
            "missing": missing,
        },
        version=_core.version,
    )
    limits = {name: build(LimitEstimate, found[name]) for name in ("agreement_lower", "agreement_upper")}
    return build(
        GaugeComparison,
        {**found, **limits},
        margin=float(margin),
        panels=tuple(order),
        first=frozen(means[0]),
        second=frozen(means[1]),
        made=made,
    )
