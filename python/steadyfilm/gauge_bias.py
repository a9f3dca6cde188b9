"""Does a gauge read true? Bias, linearity, single-part studies, certified standards, two gauges, and shared shifts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import decimals_for, fixed, number, plural, with_unit
from steadyfilm._gauge_checks import (
    CheckedStandard,
    CheckStandardCharts,
    CheckStream,
    Verification,
    check_standard_charts,
    verification_limit,
    verify_gauge,
)
from steadyfilm._gauge_columns import bias_words, chance_text, made_of, numbers_beside, warn_constant
from steadyfilm._gauge_comparison import GaugeComparison, LimitEstimate, compare_gauges
from steadyfilm._gauge_offset import OffsetDiagnosis, diagnose_offset
from steadyfilm._gauge_single_part import SinglePartStudy, single_part_study
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Result, Step, build, frozen

__all__ = [
    "BiasLinearity",
    "BiasRangeTest",
    "BiasTest",
    "BiasedStretch",
    "CheckStandardCharts",
    "CheckStream",
    "CheckedStandard",
    "GaugeComparison",
    "LimitEstimate",
    "OffsetDiagnosis",
    "SinglePartStudy",
    "Verification",
    "bias_linearity",
    "bias_range_test",
    "bias_test",
    "check_standard_charts",
    "compare_gauges",
    "diagnose_offset",
    "single_part_study",
    "verification_limit",
    "verify_gauge",
]

_PAGE = "cpp/methods/gauge_bias.md"
_SIGNIFICANCE = 0.05
"""Below this chance a sentence calls a bias shown."""


def _bias_sentence(
    bias: float, lower: float, upper: float, p: float, count: int, reference: float, unit: str, level: float
) -> str:
    """The verdict on a bias: shown or not, how large, how large it may be."""
    on = f"on {with_unit(reference, unit)}, {plural(count, 'reading')}"
    if not upper > lower:
        how = f"{with_unit(abs(bias), unit)} {bias_words(bias)}" if bias else "true"
        return f"The gauge reads {how} {on}, all equal: the display hides how it repeats."
    decimals = decimals_for(upper - lower) + 1
    ends = f"{fixed(lower, decimals)} to {fixed(upper, decimals)} {unit}".rstrip()
    size = f"{fixed(abs(bias), decimals)} {unit}".rstrip()
    if p < _SIGNIFICANCE:
        return f"The gauge reads {size} {bias_words(bias)} {on} ({number(100 * level)} % {ends}; {chance_text(p)})."
    most = f"{fixed(max(abs(lower), abs(upper)), decimals)} {unit}".rstrip()
    text = f"No bias is shown {on}: {fixed(bias, decimals)} ({number(100 * level)} % {ends}; {chance_text(p)})"
    return f"{text}; it may still read up to {most} off."


@dataclass(frozen=True, eq=False, repr=False)
class BiasTest(Result):
    """Bias of a gauge on one part of known value, in the unit of the data.

    ``sigma_bias`` is the standard uncertainty of ``bias``, with that of the reference if one was given; ``t`` and ``p`` test
    against no bias and are NaN for equal readings that hit the reference.
    """

    count: int
    mean: float
    bias: float
    sd: float
    sigma_bias: float
    degrees_of_freedom: float
    t: float
    t_critical: float
    p: float
    lower: float
    upper: float
    reference: float

    def sentence(self) -> str:
        level = self.made.options["confidence_level"]
        return _bias_sentence(self.bias, self.lower, self.upper, self.p, self.count, self.reference, self.made.unit, level)

    def _columns(self) -> dict[str, Any]:
        names = ["count", "mean", "reference", "bias", "lower", "upper", "sd", "sigma_bias", "degrees_of_freedom", "t", "p"]
        return {"statistic": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        known = float(self.made.options["reference_uncertainty"])
        steps = [
            Step("bias", "mean - reference", {"mean": self.mean, "reference": self.reference}, self.bias),
            Step(
                "sigma_bias",
                "sqrt(sd * sd / count + reference_uncertainty * reference_uncertainty)",
                {"sd": self.sd, "count": float(self.count), "reference_uncertainty": known},
                self.sigma_bias,
            ),
        ]
        if math.isfinite(self.t):
            steps.append(Step("t", "bias / sigma_bias", {"bias": self.bias, "sigma_bias": self.sigma_bias}, self.t))
        reach = {"bias": self.bias, "t_critical": self.t_critical, "sigma_bias": self.sigma_bias}
        steps += [
            Step("lower", "bias - t_critical * sigma_bias", reach, self.lower),
            Step("upper", "bias + t_critical * sigma_bias", reach, self.upper),
        ]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "sd": "of the readings, divisor n - 1",
                "t_critical": f"Student t with {number(self.degrees_of_freedom)} degrees of freedom",
                "reference": "taken as exact" if known == 0.0 else f"known to {with_unit(known, self.made.unit)} (standard)",
                "readings": "of one part at one place; they tell nothing about other values, people or days",
            },
            sources=(_PAGE, "AIAG, Measurement Systems Analysis, 3rd edition, pp. 86-88 (from memory)"),
        )


@dataclass(frozen=True, eq=False, repr=False)
class BiasRangeTest(Result):
    """Bias of a gauge on one part of known value, its spread from the range of the readings; in the unit of the data.

    For readings that were only kept as average and range, and to repeat studies made so; ``bias_test`` uses all of them.
    """

    count: int
    mean: float
    bias: float
    range: float
    sigma_repeatability: float
    sigma_bias: float
    degrees_of_freedom: float
    t: float
    t_critical: float
    p: float
    lower: float
    upper: float
    d2: float
    d2_star: float
    reference: float

    def sentence(self) -> str:
        level = self.made.options["confidence_level"]
        return _bias_sentence(self.bias, self.lower, self.upper, self.p, self.count, self.reference, self.made.unit, level)

    def _columns(self) -> dict[str, Any]:
        names = ["count", "mean", "reference", "bias", "lower", "upper", "range", "sigma_repeatability", "sigma_bias", "t", "p"]
        return {"statistic": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        spread = {"sigma_repeatability": self.sigma_repeatability, "count": float(self.count)}
        reach = {
            "bias": self.bias,
            "d2": self.d2,
            "d2_star": self.d2_star,
            "t_critical": self.t_critical,
            "sigma_bias": self.sigma_bias,
        }
        steps = [
            Step("bias", "mean - reference", {"mean": self.mean, "reference": self.reference}, self.bias),
            Step(
                "sigma_repeatability", "range / d2_star", {"range": self.range, "d2_star": self.d2_star}, self.sigma_repeatability
            ),
            Step("sigma_bias", "sigma_repeatability / sqrt(count)", spread, self.sigma_bias),
            Step("lower", "bias - d2 / d2_star * t_critical * sigma_bias", reach, self.lower),
            Step("upper", "bias + d2 / d2_star * t_critical * sigma_bias", reach, self.upper),
        ]
        if math.isfinite(self.t):
            steps.append(Step("t", "bias / sigma_bias", {"bias": self.bias, "sigma_bias": self.sigma_bias}, self.t))
        given = [name for name in ("d2", "d2_star", "degrees_of_freedom") if self.made.options[name] is not None]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "constants": f"given: {', '.join(given)}" if given else "computed for one group of this size",
                "half width": "times d2 / d2_star, as the method prescribes",
            },
            sources=(_PAGE, "AIAG, Measurement Systems Analysis, 3rd edition, pp. 86-88"),
        )


@dataclass(frozen=True)
class BiasedStretch:
    """References between which the band of the mean bias leaves out zero; ``side`` 1: the gauge reads high there, -1: low."""

    from_reference: float
    to_reference: float
    side: int


@dataclass(frozen=True, eq=False, repr=False)
class BiasLinearity(Result):
    """How the bias of a gauge changes with what it measures: bias = reading - reference, regressed on the reference.

    In the unit of the data; ``slope`` without unit (0.03: the gauge reads 3 % more). Arrays ``reference``, ``readings`` (their
    number), ``bias_mean``, ``band_fit``, ``band_lower`` and ``band_upper`` have one element a distinct reference, ascending;
    ``values`` and ``value_reference`` one a reading. ``biased`` lists where the band leaves out zero. ``lack_of_fit_p`` is small
    when a straight line does not describe the biases; NaN without repeats.
    """

    _plot: ClassVar[str] = "gauge_bias:plot_linearity"

    count: int
    slope: float
    intercept: float
    residual_sd: float
    degrees_of_freedom: float
    se_slope: float
    se_intercept: float
    t_slope: float
    t_intercept: float
    p_slope: float
    p_intercept: float
    r_squared: float
    t_critical: float
    mean_reference: float
    mean_bias: float
    sum_squares_reference: float
    lack_of_fit_f: float
    lack_of_fit_p: float
    reference: NDArray[np.float64]
    readings: NDArray[np.int64]
    bias_mean: NDArray[np.float64]
    band_fit: NDArray[np.float64]
    band_lower: NDArray[np.float64]
    band_upper: NDArray[np.float64]
    biased: tuple[BiasedStretch, ...]
    values: NDArray[np.float64]
    value_reference: NDArray[np.float64]

    def sentence(self) -> str:
        unit, level = self.made.unit, number(100 * self.made.options["confidence_level"])
        over = f"{number(float(self.reference[0]), 4)} to {with_unit(float(self.reference[-1]), unit)}"
        slope = f"by {with_unit(self.slope, unit, 3)} a {unit or 'unit'}"
        if not self.biased:
            text = f"No bias is shown from {over}: the {level} % band holds zero throughout"
        else:
            where = [
                f"{bias_words(one.side)} from {number(one.from_reference, 3)} to {with_unit(one.to_reference, unit, 3)}"
                for one in self.biased
            ]
            text = f"The gauge reads {' and '.join(where)} ({level} % band; studied from {over})"
        changes = self.p_slope < _SIGNIFICANCE
        text += f"; its bias {'changes' if changes else 'is not shown to change'} with the value"
        text += f" ({slope}, {chance_text(self.p_slope)})" if not math.isnan(self.p_slope) else ""
        if self.lack_of_fit_p < _SIGNIFICANCE:
            text += (
                f"; a straight line does not describe it ({chance_text(self.lack_of_fit_p)}): look at each reference by itself"
            )
        return text + "."

    def _columns(self) -> dict[str, Any]:
        names = ("reference", "readings", "bias_mean", "band_fit", "band_lower", "band_upper")
        return {name: getattr(self, name) for name in names}

    def explain(self) -> Explanation:
        line = {"mean_bias": self.mean_bias, "slope": self.slope, "mean_reference": self.mean_reference}
        steps = [
            Step("intercept", "mean_bias - slope * mean_reference", line, self.intercept),
            Step(
                "se_slope",
                "residual_sd / sqrt(sum_squares_reference)",
                {"residual_sd": self.residual_sd, "sum_squares_reference": self.sum_squares_reference},
                self.se_slope,
            ),
        ]
        if math.isfinite(self.t_slope):
            steps.append(Step("t_slope", "slope / se_slope", {"slope": self.slope, "se_slope": self.se_slope}, self.t_slope))
        spread = {
            "t_critical": self.t_critical,
            "residual_sd": self.residual_sd,
            "count": float(self.count),
            "mean_reference": self.mean_reference,
            "sum_squares_reference": self.sum_squares_reference,
        }
        away = "(reference - mean_reference) * (reference - mean_reference) / sum_squares_reference"
        for k, (x, fit, lower) in enumerate(zip(self.reference, self.band_fit, self.band_lower, strict=True), 1):
            inputs = {"fit": float(fit), "reference": float(x), **spread}
            rule = f"fit - t_critical * residual_sd * sqrt(1 / count + {away})"
            steps.append(Step(f"band_{k}_lower", rule, inputs, float(lower)))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "line": "least squares of bias on the reference, which is known; never on the reading",
                "band": f"pointwise, for the mean bias at a reference, Student t with {number(self.degrees_of_freedom)} degrees "
                "of freedom; over many references at once zero is left out a little too often",
                "lack of fit": "means of the references about the line, against readings about their means",
            },
            sources=(_PAGE, "AIAG, Measurement Systems Analysis, 3rd edition, pp. 93-96"),
        )


def bias_test(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    reference: float,
    reference_uncertainty: float = 0.0,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> BiasTest:
    """Does a gauge read a part of known value true? Student's t test, and the interval of the bias.

    Parameters
    ----------
    data : table, series, array or sequence
        Two or more readings of the same part at the same place; a table needs ``column``.
    unit : str
        Unit of the readings.
    reference : float
        The part's known value.
    reference_uncertainty : float
        Its standard uncertainty; widens the interval.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, with column, row and value.
    InvalidInputError
        Fewer than two readings, options out of their domain.

    Warns
    -----
    ConstantDataWarning
        All readings are equal.

    Examples
    --------
    >>> found = bias_test([5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0], unit="mm", reference=6.0)
    >>> print(found.sentence())
    No bias is shown on 6 mm, 15 readings: 0.007 (95 % -0.111 to 0.124 mm; p 0.9); it may still read up to 0.124 mm off.
    """
    given = readings(data, column, missing=missing)
    found = _core.bias_test(given.values, reference, confidence_level, reference_uncertainty)
    warn_constant(given)
    made = made_of("bias_test", unit, given, reference_uncertainty=reference_uncertainty, confidence_level=confidence_level)
    return build(BiasTest, found, reference=float(reference), made=made)


def bias_range_test(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    reference: float,
    d2: float | None = None,
    d2_star: float | None = None,
    degrees_of_freedom: float | None = None,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> BiasRangeTest:
    """The bias of a gauge on a part of known value, its spread from the range of the readings.

    Parameters
    ----------
    data, column, unit, reference, missing
        As in ``bias_test``.
    d2, d2_star, degrees_of_freedom : float, optional
        Constants of one group of so many readings, to repeat a study that used rounded ones; by default computed.

    Examples
    --------
    >>> seen = [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1, 6.2, 5.6, 6.0]
    >>> found = bias_range_test(seen, unit="mm", reference=6.0)
    >>> round(found.sigma_repeatability, 4), round(found.lower, 3), round(found.upper, 3)
    (0.2251, -0.119, 0.132)
    """
    given = readings(data, column, missing=missing)
    found = _core.bias_range_test(given.values, reference, confidence_level, d2, d2_star, degrees_of_freedom)
    warn_constant(given)
    options = {"d2": d2, "d2_star": d2_star, "degrees_of_freedom": degrees_of_freedom, "confidence_level": confidence_level}
    return build(BiasRangeTest, found, reference=float(reference), made=made_of("bias_range_test", unit, given, **options))


def bias_linearity(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    reference: Any,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> BiasLinearity:
    """How the bias of a gauge changes over the values that it measures, and where it is not nothing.

    Parameters
    ----------
    data : table, series, array or sequence
        Readings of parts of known value; a table needs ``column``.
    unit : str
        Unit of readings and references.
    reference : column name or sequence of numbers
        Known value of the part of each reading; two distinct ones or more.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric cells, with column, row and value.
    InvalidInputError
        Fewer than three readings, one reference only.

    Examples
    --------
    >>> found = bias_linearity([1.03, 1.01, 2.05, 2.07, 3.10, 3.08], unit="mil", reference=[1, 1, 2, 2, 3, 3])
    >>> round(found.slope, 3), [(round(one.from_reference, 2), one.to_reference, one.side) for one in found.biased]
    (0.035, [(1.02, 3.0, 1)])
    """
    given = readings(data, column, missing=missing)
    known = numbers_beside(data, given, reference, "reference")
    found = _core.bias_linearity(given.values, known, confidence_level)
    name = reference if isinstance(reference, str) else None
    made = made_of("bias_linearity", unit, given, reference=name, confidence_level=confidence_level)
    return build(
        BiasLinearity,
        {**found, "biased": tuple(build(BiasedStretch, one) for one in found["biased"])},
        values=frozen(given.values.copy()),
        value_reference=known,
        made=made,
    )
