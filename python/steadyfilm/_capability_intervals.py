"""Indices, intervals and sampling laws from figures alone; public through ``steadyfilm.capability``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._input import check_options, readings
from steadyfilm.errors import InvalidInputError

__all__ = [
    "CapabilityIndices",
    "CpkDistribution",
    "FractionOutside",
    "IndexInterval",
    "OneSidedIndexMoments",
    "ShiftedCapability",
    "capability_indices",
    "cp_interval",
    "cpk_interval",
    "cpk_sampling_distribution",
    "cpm_index",
    "cpm_interval",
    "fraction_outside",
    "one_sided_index_critical_value",
    "one_sided_index_interval",
    "one_sided_index_moments",
    "shifted_capability",
]


@dataclass(frozen=True)
class CapabilityIndices:
    """Indices of a mean and a sigma, without unit; None where a limit or the target is absent."""

    cp: float | None
    cpk: float | None
    cpu: float | None
    cpl: float | None
    cpm: float | None
    off_center_ratio: float | None


@dataclass(frozen=True)
class IndexInterval:
    """Confidence limits of an index; ``upper`` is None for a one-sided lower bound."""

    lower: float
    upper: float | None
    degrees_of_freedom: float


@dataclass(frozen=True)
class FractionOutside:
    """Shares of a normal population beyond each limit, as fractions of 1; 0 where there is no limit."""

    below: float
    above: float
    total: float


@dataclass(frozen=True)
class ShiftedCapability:
    """A centered process whose mean has moved: Cpk, and parts per million outside."""

    cpk: float
    ppm_nearest: float
    ppm_both: float


@dataclass(frozen=True)
class OneSidedIndexMoments:
    """``bias_factor`` times the estimate is unbiased; ``variance`` is that of the estimate itself."""

    bias_factor: float
    variance: float


@dataclass(frozen=True)
class CpkDistribution:
    """Law of the estimated Cpk: the value exceeded with probability alpha, and the chance to stay at or below the true Cpk."""

    critical_value: float
    probability_below_cpk: float


def capability_indices(
    mean: float, sigma: float, *, lower: float | None = None, upper: float | None = None, target: float | None = None
) -> CapabilityIndices:
    """Indices of a known mean and sigma (above 0); which sigma it is decides whether they are Cp or Pp.

    >>> found = capability_indices(16.0, 2.0, lower=8.0, upper=20.0)
    >>> found.cp, round(found.cpk, 4)
    (1.0, 0.6667)
    """
    check_options(capability_indices, locals())
    return CapabilityIndices(**_core.capability_indices(mean, sigma, lower, upper, target))


def fraction_outside(mean: float, sigma: float, *, lower: float | None = None, upper: float | None = None) -> FractionOutside:
    """Shares of a normal population beyond the limits.

    >>> round(100 * fraction_outside(80.0, 10.0, lower=65.0, upper=95.0).total, 1)
    13.4
    """
    check_options(fraction_outside, locals())
    return FractionOutside(**_core.fraction_outside(mean, sigma, lower, upper))


def shifted_capability(cp: float, shift_sigma: float) -> ShiftedCapability:
    """What is left of a centered process of the given Cp when its mean moves by ``shift_sigma`` sigmas.

    >>> moved = shifted_capability(2.0, 1.5)
    >>> moved.cpk, round(moved.ppm_nearest, 1)
    (1.5, 3.4)
    """
    check_options(shifted_capability, locals())
    return ShiftedCapability(**_core.shifted_capability(cp, shift_sigma))


def _degrees_of_freedom(sample_size: int | None, degrees_of_freedom: float | None) -> float:
    if degrees_of_freedom is not None:
        return degrees_of_freedom
    if sample_size is None:
        raise InvalidInputError("give sample_size or degrees_of_freedom", argument="degrees_of_freedom")
    return float(sample_size - 1)


def cp_interval(
    estimate: float,
    *,
    sample_size: int | None = None,
    degrees_of_freedom: float | None = None,
    confidence_level: float = 0.95,
    sides: int = 2,
) -> IndexInterval:
    """Exact confidence limits of Cp or Pp.

    Parameters
    ----------
    estimate : float
        The estimated index.
    sample_size : int, optional
        Readings behind the sample standard deviation, which has one degree of freedom less.
    degrees_of_freedom : float, optional
        Those of the sigma used, when it is not the standard deviation of all readings.
    sides : {2, 1}
        Two-sided limits, or a lower bound.

    Examples
    --------
    >>> found = cp_interval(2.29, sample_size=20)
    >>> round(found.lower, 2), round(found.upper, 2)
    (1.57, 3.01)
    """
    check_options(cp_interval, locals())
    df = _degrees_of_freedom(sample_size, degrees_of_freedom)
    return IndexInterval(**_core.cp_interval(estimate, df, confidence_level, sides))


def cpk_interval(
    estimate: float,
    *,
    sample_size: int,
    degrees_of_freedom: float | None = None,
    confidence_level: float = 0.95,
    sides: int = 2,
    method: str = "bissell",
) -> IndexInterval:
    """Approximate confidence limits of Cpk or Ppk with two limits.

    Parameters
    ----------
    estimate : float
        The estimated index.
    sample_size : int
        Readings behind the mean.
    degrees_of_freedom : float, optional
        Those of the sigma used; by default ``sample_size - 1``.
    sides : {2, 1}
        Two-sided limits, or a lower bound.
    method : {"bissell", "kushler_hurley_simple"}
        Bissell 1990, or the simpler C (1 -+ z / sqrt(2 nu)) of Kushler and Hurley 1992.

    Examples
    --------
    >>> found = cpk_interval(1.33, sample_size=20)
    >>> round(found.lower, 3), round(found.upper, 3)
    (0.883, 1.777)
    """
    check_options(cpk_interval, locals())
    df = _degrees_of_freedom(sample_size, degrees_of_freedom)
    return IndexInterval(**_core.cpk_interval(estimate, sample_size, df, confidence_level, sides, method))


def one_sided_index_interval(
    estimate: float,
    *,
    sample_size: int,
    degrees_of_freedom: float | None = None,
    confidence_level: float = 0.95,
    sides: int = 2,
) -> IndexInterval:
    """Exact confidence limits of Cpu, Cpl, or of Cpk when there is one limit, by the noncentral t.

    Parameters
    ----------
    estimate : float
        The estimated index.
    sample_size : int
        Readings behind the mean.
    degrees_of_freedom : float, optional
        Those of the sigma used; by default ``sample_size - 1``.
    sides : {2, 1}
        Two-sided limits, or a lower bound.

    Examples
    --------
    >>> round(one_sided_index_interval(1.0, sample_size=10, sides=1).lower, 4)
    0.5674
    """
    check_options(one_sided_index_interval, locals())
    df = _degrees_of_freedom(sample_size, degrees_of_freedom)
    return IndexInterval(**_core.one_sided_index_interval(estimate, sample_size, df, confidence_level, sides))


def one_sided_index_critical_value(index: float, *, sample_size: int, alpha: float = 0.05) -> float:
    """Value that the estimate exceeds with probability ``alpha`` when the true Cpu or Cpl is ``index``.

    >>> round(one_sided_index_critical_value(1.33, sample_size=100), 4)
    1.5172
    """
    check_options(one_sided_index_critical_value, locals())
    return _core.one_sided_index_critical_value(index, sample_size, alpha)


def one_sided_index_moments(index: float, *, sample_size: int) -> OneSidedIndexMoments:
    """Bias and variance of the estimated Cpu or Cpl from at least four readings.

    >>> round(one_sided_index_moments(1.0, sample_size=10).bias_factor, 4)
    0.9139
    """
    check_options(one_sided_index_moments, locals())
    return OneSidedIndexMoments(**_core.one_sided_index_moments(index, sample_size))


def cpk_sampling_distribution(cpk: float, *, off_center_sigma: float, sample_size: int, alpha: float = 0.05) -> CpkDistribution:
    """Law of the estimated Cpk with two limits.

    Parameters
    ----------
    cpk : float
        The true index.
    off_center_sigma : float
        Distance of the true mean from the middle of the window, in sigma; 0 or more.
    sample_size : int
        Readings behind mean and standard deviation, at least 2.
    alpha : float
        Chance to exceed the critical value.

    Examples
    --------
    >>> round(cpk_sampling_distribution(1.0, off_center_sigma=0.0, sample_size=30).critical_value, 4)
    1.226
    """
    check_options(cpk_sampling_distribution, locals())
    return CpkDistribution(**_core.cpk_sampling_distribution(cpk, off_center_sigma, sample_size, alpha))


def cpm_index(
    data: Any,
    column: str | None = None,
    *,
    lower: float,
    upper: float,
    target: float,
    definition: str = "divisor_n",
    missing: str = "error",
) -> float:
    """Window over six root mean squares of the distance from the target.

    Parameters
    ----------
    data : table, series, array or sequence
        At least two readings.
    definition : {"divisor_n", "divisor_n_minus_1", "variance_plus_offset"}
        Under the root: sum (x - target)^2 / n; the same over n - 1; or s^2 + (mean - target)^2. They differ in the third
        digit at 50 readings.

    Examples
    --------
    >>> round(cpm_index([2.0, 2.1, 2.2], lower=1.8, upper=2.4, target=2.1), 4)
    1.2247
    """
    check_options(cpm_index, locals())
    values = readings(data, column, missing=missing).values
    return _core.cpm_index(values, lower, upper, target, definition)


def cpm_interval(
    estimate: float,
    *,
    sample_size: int,
    off_target_sigma: float,
    confidence_level: float = 0.95,
    sides: int = 2,
    method: str = "boyles",
) -> IndexInterval:
    """Approximate confidence limits of Cpm with divisor n.

    Parameters
    ----------
    estimate : float
        The estimated index.
    sample_size : int
        Readings behind it.
    off_target_sigma : float
        (mean - target) / standard deviation with divisor n.
    method : {"boyles", "noncentral_chi_square"}
        Boyles 1991, or the noncentral chi-square law at the estimated ``off_target_sigma``.

    Examples
    --------
    >>> round(cpm_interval(1.0, sample_size=20, off_target_sigma=0.0, sides=1).lower, 4)
    0.7366
    """
    check_options(cpm_interval, locals())
    return IndexInterval(**_core.cpm_interval(estimate, sample_size, off_target_sigma, confidence_level, sides, method))
