"""Distributions: against SciPy and mpmath, round trips, and what they refuse."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import mpmath
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf

from reference import Args, adapter


@adapter("normal_quantile")
def _normal(args: Args) -> dict[str, float]:
    return {"quantile": sf.normal_quantile(args.number("probability"))}


@adapter("chi_square_quantile")
def _chi_square(args: Args) -> dict[str, float]:
    return {"quantile": sf.chi_square_quantile(args.number("probability"), args.number("degrees_of_freedom"))}


@adapter("student_t_quantile")
def _student_t(args: Args) -> dict[str, float]:
    return {"quantile": sf.student_t_quantile(args.number("probability"), args.number("degrees_of_freedom"))}


@adapter("noncentral_t_quantile")
def _noncentral_t(args: Args) -> dict[str, float]:
    parameters = [args.number(name) for name in ("degrees_of_freedom", "noncentrality")]
    return {"quantile": sf.noncentral_t_quantile(args.number("probability"), *parameters)}


positive = st.floats(0.3, 60.0)
shift = st.floats(0.0, 40.0)
FAMILIES: dict[str, tuple[Callable[..., Any], list[st.SearchStrategy[float]]]] = {
    "normal": (stats.norm, []),
    "chi_square": (stats.chi2, [positive]),
    "noncentral_chi_square": (stats.ncx2, [positive, st.floats(0.1, 40.0)]),
    "student_t": (stats.t, [positive]),
    "noncentral_t": (stats.nct, [positive, shift]),
    "f": (stats.f, [positive, positive]),
    "beta": (stats.beta, [positive, positive]),
    "gamma": (lambda shape, rate: stats.gamma(shape, scale=1.0 / rate), [positive, positive]),
}


@pytest.mark.parametrize("family", FAMILIES)
@given(data=st.data(), probability=st.floats(1e-4, 0.9999))
def test_families_agree_with_scipy(family: str, data: st.DataObject, probability: float) -> None:
    oracle, strategies = FAMILIES[family]
    parameters = [data.draw(strategy) for strategy in strategies]
    law = oracle(*parameters)
    at = float(law.ppf(probability))
    assert getattr(sf, f"{family}_quantile")(probability, *parameters) == pytest.approx(at, rel=1e-8, abs=1e-12)
    assert getattr(sf, f"{family}_cdf")(at, *parameters) == pytest.approx(law.cdf(at), rel=1e-9)
    assert getattr(sf, f"{family}_survival")(at, *parameters) == pytest.approx(law.sf(at), rel=1e-9)


@given(st.integers(0, 40), st.integers(1, 40), st.floats(0.0, 1.0), st.floats(0.0, 30.0))
def test_counts_agree_with_scipy(count: int, trials: int, chance: float, mean: float) -> None:
    assert sf.binomial_cdf(count, trials, chance) == pytest.approx(stats.binom.cdf(count, trials, chance), rel=1e-11, abs=1e-300)
    assert sf.poisson_cdf(count, mean) == pytest.approx(stats.poisson.cdf(count, mean), rel=1e-11)


@pytest.mark.parametrize(
    ("probability", "df", "noncentrality"), [(0.95, 99, 39.9), (0.025, 199, 70.85), (0.9, 4, 3.0), (0.025, 999, 150.0)]
)
def test_noncentral_t_agrees_with_its_defining_integral(probability: float, df: float, noncentrality: float) -> None:
    """The mean of Phi(t s - noncentrality) over s = chi / sqrt(df), at 25 digits; no series in common."""
    found = sf.noncentral_t_quantile(probability, df, noncentrality)
    with mpmath.workdps(25):
        half = mpmath.mpf(df) / 2
        scale = 2 * half**half / mpmath.gamma(half)
        width = 8 / mpmath.sqrt(2 * df)
        cuts = [max(mpmath.mpf(0), 1 - width), mpmath.mpf(1), 1 + width, 1 + 2 * width]
        chance = mpmath.quad(
            lambda s: mpmath.ncdf(found * s - noncentrality) * scale * s ** (df - 1) * mpmath.exp(-half * s * s), cuts
        )
    assert float(chance) == pytest.approx(probability, abs=1e-13)


@pytest.mark.parametrize(
    ("value", "df", "noncentrality"), [(10.0, 3.0, 5.0), (69.0, 60.0, 33.75), (1605.0, 1000.0, 500.0), (0.5, 2.5, 0.1)]
)
def test_noncentral_chi_square_agrees_with_its_poisson_mixture(value: float, df: float, noncentrality: float) -> None:
    with mpmath.workdps(25):
        half = mpmath.mpf(noncentrality) / 2
        weights = (mpmath.exp(-half) * half**k / mpmath.factorial(k) for k in range(int(noncentrality) + 120))
        chances = [
            w * mpmath.gammainc(mpmath.mpf(df) / 2 + k, 0, mpmath.mpf(value) / 2, regularized=True) for k, w in enumerate(weights)
        ]
        exact = float(mpmath.fsum(chances))
    assert sf.noncentral_chi_square_cdf(value, df, noncentrality) == pytest.approx(exact, rel=1e-11)


@pytest.mark.parametrize("value", [3.0, 5.0, 8.0, 20.0])
def test_far_normal_tails_keep_their_digits(value: float) -> None:
    with mpmath.workdps(30):
        exact = float(mpmath.erfc(value / mpmath.sqrt(2)) / 2)
    assert sf.normal_survival(value) == pytest.approx(exact, rel=1e-13)
    assert sf.normal_cdf(-value) == sf.normal_survival(value)


def test_arguments_outside_the_domain_are_refused_by_name() -> None:
    with pytest.raises(sf.InvalidInputError, match="probability must lie between 0 and 1, got 0") as caught:
        sf.normal_quantile(0.0)
    assert caught.value.argument == "probability"
    with pytest.raises(sf.InvalidInputError, match="degrees_of_freedom must be positive and finite, got -1"):
        sf.student_t_cdf(1.0, -1.0)
    with pytest.raises(sf.InvalidInputError, match="value is not finite"):
        sf.normal_cdf(math.nan)
