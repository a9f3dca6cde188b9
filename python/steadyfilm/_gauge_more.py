"""Smaller calculations beside a gauge study: factors of ranges, intervals from mean squares, bootstrap, pooled sd."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural, with_unit
from steadyfilm._gauge_parts import known
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.errors import InvalidInputError

if TYPE_CHECKING:
    from steadyfilm.gauge_rr import GaugeStudy

__all__ = [
    "BootstrapInterval",
    "GaugeBootstrap",
    "GaugeFactors",
    "GaugeIntervals",
    "PooledSd",
    "gauge_bootstrap",
    "gauge_factors",
    "gauge_intervals",
    "pooled_sd",
    "pooled_sd_from_sds",
]

_PAGE = "cpp/methods/gauge_rr.md"


@dataclass(frozen=True)
class GaugeFactors:
    """Factors of ranges, without unit; None where there is no range to take."""

    K1: float | None
    K2: float | None
    K3: float | None
    D4: float | None


def gauge_factors(trial_count: int, appraiser_count: int, part_count: int) -> GaugeFactors:
    """K1 = 1 / d2(trials), K2 and K3 = 1 / d2* of one group of appraisers and of parts, D4 of the range limit; any numbers.

    Examples
    --------
    >>> found = gauge_factors(3, 3, 10)
    >>> round(found.K1, 4), round(found.K2, 4), round(found.K3, 4)
    (0.5908, 0.5231, 0.3146)
    """
    return build(
        GaugeFactors,
        {name: known(value) for name, value in _core.gauge_factors(trial_count, appraiser_count, part_count).items()},
    )


@dataclass(frozen=True)
class GaugeIntervals:
    """Variances of a crossed study and their ratio, with intervals; None where the method has none.

    ``measurement`` is appraiser + interaction + repeatability, ``reproducibility`` appraiser + interaction, ``ratio`` part over
    measurement, ``share`` = 1 / sqrt(1 + ratio) is GRR over the total standard deviation.
    """

    variance_part: float
    variance_part_lower: float | None
    variance_part_upper: float | None
    variance_repeatability: float
    variance_repeatability_lower: float | None
    variance_repeatability_upper: float | None
    variance_reproducibility: float
    variance_reproducibility_lower: float | None
    variance_reproducibility_upper: float | None
    variance_measurement: float
    variance_measurement_lower: float | None
    variance_measurement_upper: float | None
    ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    share: float | None
    share_lower: float | None
    share_upper: float | None
    reproducibility_df: float
    measurement_df: float


def gauge_intervals(
    ms_part: float,
    ms_appraiser: float,
    ms_interaction: float,
    ms_repeatability: float,
    *,
    part_count: int,
    appraiser_count: int,
    trial_count: int,
    confidence_level: float = 0.95,
    method: str = "modified_large_sample",
) -> GaugeIntervals:
    """Intervals from the four mean squares of a crossed study, interaction kept.

    Parameters
    ----------
    ms_part, ms_appraiser, ms_interaction, ms_repeatability : float
        Mean squares, unit squared.
    part_count, appraiser_count, trial_count : int
        Each 2 or more.
    confidence_level : float
        Two-sided.
    method : {"modified_large_sample", "satterthwaite"}

    Examples
    --------
    >>> found = gauge_intervals(4.0, 0.9, 0.1, 0.05, part_count=10, appraiser_count=3, trial_count=2)
    >>> round(found.variance_measurement, 4)
    0.115
    """
    found = _core.gauge_intervals(
        ms_part,
        ms_appraiser,
        ms_interaction,
        ms_repeatability,
        part_count,
        appraiser_count,
        trial_count,
        confidence_level,
        method,
    )
    return build(GaugeIntervals, {name: known(value) for name, value in found.items()})


@dataclass(frozen=True)
class BootstrapInterval:
    """Interval of the standard deviation of one source, or of ``"ndc_ratio"``; None where all draws are without it."""

    source: str
    value: float | None
    lower: float | None
    upper: float | None


@dataclass(frozen=True, eq=False, repr=False)
class GaugeBootstrap(Result):
    """Parametric bootstrap of the chosen estimates of a study: a cross-check of the intervals in it."""

    intervals: tuple[BootstrapInterval, ...]
    replicates: int
    seed: int
    confidence_level: float
    grr: float
    grr_lower: float
    grr_upper: float
    study_lower: float | None
    study_upper: float | None

    def interval(self, source: str) -> BootstrapInterval:
        """The interval of one source."""
        for one in self.intervals:
            if one.source == source:
                return one
        have = ", ".join(one.source for one in self.intervals)
        raise InvalidInputError(f"no source {source!r}; there are {have}", argument="source")

    def sentence(self) -> str:
        unit = self.made.unit
        own = f"{number(self.grr_lower, 3)} to {with_unit(self.grr_upper, unit, 3)}"
        beside = ""
        if self.study_lower is not None and self.study_upper is not None:
            beside = f", the study's own interval is {number(self.study_lower, 3)} to {with_unit(self.study_upper, unit, 3)}"
        level = number(100 * self.confidence_level, 3)
        return f"GRR is {with_unit(self.grr, unit, 3)}; {self.replicates} draws give {own} ({level} %){beside}."

    def _columns(self) -> dict[str, Any]:
        columns: dict[str, Any] = {"source": [one.source for one in self.intervals]}
        for name in ("value", "lower", "upper"):
            found = [getattr(one, name) for one in self.intervals]
            columns[name] = [math.nan if value is None else value for value in found]
        return columns

    def explain(self) -> Explanation:
        width = {"upper": self.grr_upper, "lower": self.grr_lower}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("grr", "value", {"value": self.grr}, self.grr),
                Step("width_of_grr", "upper - lower", width, self.grr_upper - self.grr_lower),
            ),
            choices={
                "draws": f"mean squares as expectation x chi-square / df, {self.replicates} times from seed {self.seed}",
                "expectations": "at the components counted as 0 where negative",
                "ends": "quantiles of the drawn values; with few appraisers they lie too low, so this is no substitute",
            },
            sources=(_PAGE,),
        )


def gauge_bootstrap(study: GaugeStudy, *, replicates: int = 2000, seed: int = 1) -> GaugeBootstrap:
    """Draw the chosen estimates of a study anew many times: a cross-check of its intervals.

    Parameters
    ----------
    study : GaugeStudy
        By analysis of variance, with random appraisers.
    replicates : int
        100 or more.
    seed : int
        The same seed gives the same numbers.

    Raises
    ------
    InvalidInputError
        A study by restricted maximum likelihood, with fixed appraisers, or of constant readings.

    Examples
    --------
    >>> from steadyfilm.gauge_rr import gauge_study
    >>> table = {"film": [1, 3, 5, 5, 4, 4, 8, 10], "panel": list("aaaabbbb"), "by": [1, 1, 2, 2, 1, 1, 2, 2]}
    >>> study = gauge_study(table, "film", unit="mil", part="panel", appraiser="by")
    >>> found = gauge_bootstrap(study, replicates=500, seed=3)
    >>> found.interval("grr").lower < study.grr < found.interval("grr").upper
    True
    """
    estimate = study.estimate
    if not estimate.lines:
        raise InvalidInputError("the study has no mean squares to draw: it is not balanced", argument="study")
    if study.made.options["appraiser_effect"] == "fixed":
        raise InvalidInputError("appraisers are fixed: draws would take them for a sample", argument="study")
    if study.grr == 0.0:
        raise InvalidInputError("GRR is 0: there is nothing to draw", argument="study")
    plain = [(one.source, one.role, one.sd, 0.0, 0.0, list(one.weights)) for one in estimate.sources]
    found = _core.gauge_bootstrap(
        plain,
        [line.degrees_of_freedom for line in estimate.lines],
        math.nan if estimate.ndc_ratio is None else estimate.ndc_ratio,
        replicates,
        seed,
        estimate.confidence_level,
    )
    rows = tuple(
        build(BootstrapInterval, {**row, **{name: known(row[name]) for name in ("value", "lower", "upper")}}) for row in found
    )
    grr = next(one for one in found if one["source"] == "grr")
    own = estimate.source("grr")
    made = Made(
        "gauge_bootstrap",
        study.made.unit,
        study.made.count,
        study.made.missing_rows,
        study.made.frame,
        {"replicates": replicates, "seed": seed},
        _core.version,
    )
    return GaugeBootstrap(
        made=made,
        intervals=rows,
        replicates=replicates,
        seed=seed,
        confidence_level=estimate.confidence_level,
        grr=estimate.grr,
        grr_lower=grr["lower"],
        grr_upper=grr["upper"],
        study_lower=own.sd_lower,
        study_upper=own.sd_upper,
    )


@dataclass(frozen=True, eq=False, repr=False)
class PooledSd(Result):
    """A standard deviation pooled over groups, in the unit of the readings."""

    sum_squares: float
    degrees_of_freedom: float
    sd: float
    group_sds: NDArray[np.float64]
    group_degrees_of_freedom: NDArray[np.float64]

    def sentence(self) -> str:
        return (
            f"{plural(self.group_sds.size, 'group')} give a standard deviation of {with_unit(self.sd, self.made.unit)} on "
            f"{number(self.degrees_of_freedom, 4)} degrees of freedom."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "group": list(range(1, self.group_sds.size + 1)),
            "sd": self.group_sds,
            "degrees_of_freedom": self.group_degrees_of_freedom,
        }

    def explain(self) -> Explanation:
        inputs = {"sum_squares": self.sum_squares, "degrees_of_freedom": self.degrees_of_freedom}
        step = Step("sd", "sqrt(sum_squares / degrees_of_freedom)", inputs, self.sd)
        return Explanation(self.sentence(), (step,), {}, (_PAGE,))


def pooled_sd(sums_of_squares: Sequence[float], degrees_of_freedom: Sequence[float], *, unit: str) -> PooledSd:
    """Pool groups' sums of squares: root of their sum over the sum of their degrees of freedom.

    Examples
    --------
    >>> pooled_sd([2.0, 6.0], [4, 4], unit="mil").sd
    1.0
    """
    sums, df = _floats(sums_of_squares), _floats(degrees_of_freedom)
    return _pooled(_core.pooled_sd(sums, df), df, unit, "pooled_sd")


def pooled_sd_from_sds(sds: Sequence[float], degrees_of_freedom: Sequence[float], *, unit: str) -> PooledSd:
    """Pool groups' standard deviations.

    Examples
    --------
    >>> round(pooled_sd_from_sds([3.0, 4.0], [5, 5], unit="mil").sd ** 2, 9)
    12.5
    """
    values, df = _floats(sds), _floats(degrees_of_freedom)
    return _pooled(_core.pooled_sd_from_sds(values, df), df, unit, "pooled_sd_from_sds")


def _floats(values: Sequence[float]) -> NDArray[np.float64]:
    return np.ascontiguousarray(values, dtype=np.float64)


def _pooled(found: dict[str, Any], df: NDArray[np.float64], unit: str, function: str) -> PooledSd:
    made = Made(function, unit, int(df.size), version=_core.version)
    return build(PooledSd, found, made=made, group_degrees_of_freedom=frozen(df.copy()))
