"""How unit averages vary when nothing happens: units at random about their day, days that resemble the day before.

Model: average = usual level of its factors + day + unit, day a first-order autoregression over working days with
correlation ``day_correlation``, unit independent normal. Restricted likelihood on a grid; what the grid leaves open is
kept as weights, so that thresholds and intervals allow for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

DAY_TO_UNIT = np.concatenate([[0.0], np.geomspace(0.08, 2.0, 14)])
"""Grid of sigma_day / sigma_unit."""
DAY_CORRELATION = np.array([0.0, 0.15, 0.3, 0.45, 0.6, 0.75, 0.9])
RATIO_SCALE = 0.7
"""Prior of the ratio: half normal with this scale, for a day seldom differs more than a unit (judgement, no source).
The prior of the correlation is (phi + 0.1)(1 - phi). Both matter only where few days leave the noise open."""
FEWEST_DAYS = 5
"""With fewer days than this a day effect cannot be told from the rest, and none is fitted."""


@dataclass(frozen=True)
class Noise:
    """The fitted variation; standard deviations in the unit of the data."""

    sigma_unit: float
    sigma_day: float
    day_correlation: float
    degrees_of_freedom: int
    between: Floats
    """Covariance of day effects over sigma_unit squared, by days apart: the mean over all that the data leave possible."""
    ratio_draws: Floats
    """Draws of sigma_day / sigma_unit that the data leave possible, and with them:"""
    correlation_draws: Floats
    scale_draws: Floats
    """Draws of sigma_unit."""
    share: Floats
    """What the data leave possible once more: how likely each point of the grid is, which are"""
    ratio_grid: Floats
    correlation_grid: Floats


def correlation_matrix(days: int, correlation: float) -> Floats:
    """Correlation of day effects."""
    step = np.abs(np.subtract.outer(np.arange(days), np.arange(days)))
    return np.asarray(correlation**step, dtype=np.float64)


class Precision:
    """Inverse covariance, up to 1 / sigma_unit^2, of units that share days: I - Z M Z', Z the days' indicator."""

    def __init__(self, day: Codes, between: Floats) -> None:
        self.day = day
        self.days = int(day.max()) + 1 if len(day) else 0
        count = np.bincount(day, minlength=self.days).astype(float)
        inner = np.eye(self.days) + between * count
        self.middle: Floats = np.linalg.solve(inner, between)
        self.log_determinant = float(np.linalg.slogdet(inner)[1])

    def sums(self, columns: Floats) -> Floats:
        """Z' times columns: sums by day."""
        out = np.zeros((self.days, columns.shape[1]))
        np.add.at(out, self.day, columns)
        return out

    def times(self, columns: Floats) -> Floats:
        """The precision times columns."""
        return np.asarray(columns - (self.middle @ self.sums(columns))[self.day])


def restricted_likelihood(values: Floats, known: Floats, day: Codes, ratio: float, phi: float) -> tuple[float, float]:
    """Restricted log likelihood (up to a constant) at its best sigma_unit, and that sigma_unit."""
    free = len(values) - known.shape[1]
    precision = Precision(day, ratio**2 * correlation_matrix(int(day.max()) + 1, phi))
    both = np.column_stack([known, values])
    gram = both.T @ precision.times(both)
    inner, cross = gram[:-1, :-1], gram[:-1, -1]
    rest = max(float(gram[-1, -1] - cross @ np.linalg.solve(inner, cross)), 0.0)
    spread = np.log(max(rest, 1e-300))
    likelihood = -0.5 * (free * spread + precision.log_determinant + np.linalg.slogdet(inner)[1])
    return float(likelihood), float(np.sqrt(rest / free))


def generalized_scale(values: Floats, known: Floats, day: Codes, noise: Noise) -> Floats:
    """Estimate of sigma_unit of each column of values, the ratios between days and units taken from the fit."""
    precision = Precision(day, between_days(noise, int(day.max()) + 1))
    weighted = precision.times(known)
    clean = precision.times(values) - weighted @ (np.linalg.pinv(known.T @ weighted, hermitian=True) @ (weighted.T @ values))
    free = len(values) - np.linalg.matrix_rank(known)
    return np.asarray(np.sqrt(np.einsum("nc,nc->c", clean, values) / free))


def fit_noise(values: Floats, known: Floats, day: Codes, *, length: int, draws: int, rng: np.random.Generator) -> Noise:
    """Fit the variation about the columns ``known`` (levels of factors, full rank).

    Parameters
    ----------
    values : array
        Unit averages in order of production.
    known : array, shape (units, columns)
    day : array
        Working day of each unit, from 0, not falling.
    length : int
        Days that the between-day covariance is wanted for.
    draws : int
        How many draws of what the data leave open.
    """
    free = len(values) - known.shape[1]
    if free < 1:
        raise ValueError("as many levels as units")
    days = int(day.max()) + 1
    ratios = DAY_TO_UNIT if days >= FEWEST_DAYS else DAY_TO_UNIT[:1]
    cells = [(ratio, phi) for ratio in ratios for phi in (DAY_CORRELATION if ratio > 0 else DAY_CORRELATION[:1])]
    # A ratio's cell is as heavy as it is wide, times the priors.
    phi_weight = (DAY_CORRELATION + 0.1) * (1.0 - DAY_CORRELATION)
    phi_weight = phi_weight / phi_weight.sum()
    width = np.gradient(ratios) if len(ratios) > 1 else np.ones(1)
    log_weight = np.empty(len(cells))
    scales = np.empty(len(cells))
    for k, (ratio, phi) in enumerate(cells):
        likelihood, scales[k] = restricted_likelihood(values, known, day, ratio, phi)
        cell = width[list(ratios).index(ratio)] * np.exp(-0.5 * (ratio / RATIO_SCALE) ** 2)
        cell *= phi_weight[list(DAY_CORRELATION).index(phi)] if ratio > 0 else 1.0
        log_weight[k] = likelihood + np.log(cell)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    ratio_of = np.array([ratio for ratio, _ in cells])
    phi_of = np.array([phi for _, phi in cells])
    variance = weight * scales**2
    sigma_unit = float(np.sqrt(variance.sum()))
    sigma_day = float(np.sqrt(variance @ ratio_of**2))
    apart = np.arange(length)
    between = np.zeros(length)
    for share, ratio, phi in zip(variance, ratio_of, phi_of, strict=True):
        between += share * ratio**2 * phi**apart
    if sigma_unit > 0:
        between /= sigma_unit**2
    picked = rng.choice(len(cells), size=draws, p=weight)
    return Noise(
        sigma_unit=sigma_unit,
        sigma_day=sigma_day,
        day_correlation=float(between[1] / between[0]) if length > 1 and between[0] > 0 else 0.0,
        degrees_of_freedom=free,
        between=between,
        ratio_draws=ratio_of[picked],
        correlation_draws=phi_of[picked],
        scale_draws=scales[picked] * np.sqrt(free / rng.chisquare(free, size=draws)),
        share=weight,
        ratio_grid=ratio_of,
        correlation_grid=phi_of,
    )


def between_days(noise: Noise, days: int) -> Floats:
    """Covariance matrix of day effects over sigma_unit squared."""
    return noise.between[np.abs(np.subtract.outer(np.arange(days), np.arange(days)))]


def simulate_noise(noise: Noise, day: Codes, rng: np.random.Generator) -> Floats:
    """Quiet series under each draw of the variation, shape (units, draws)."""
    days = int(day.max()) + 1
    draws = len(noise.scale_draws)
    out = rng.standard_normal((len(day), draws))
    z = rng.standard_normal((days, draws))
    for phi in np.unique(noise.correlation_draws):
        which = noise.correlation_draws == phi
        effects = np.linalg.cholesky(correlation_matrix(days, float(phi))) @ z[:, which]
        out[:, which] += (noise.ratio_draws[which] * effects)[day]
    return np.asarray(out * noise.scale_draws)
