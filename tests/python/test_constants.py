"""Chart factors: the rows, other routes to the same figures, and what is refused."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

import steadyfilm as sf

from reference import Args, adapter


@adapter("chart_factors")
def _factors(args: Args) -> dict[str, float]:
    found = sf.chart_factors(args.count("subgroup_size"))
    table = found.to_frame("dict")
    factors = dict(zip(table["factor"].tolist(), table["value"].tolist(), strict=True))
    return {**factors, "one_over_c4": 1 / found.c4, "one_over_d2": 1 / found.d2}


@adapter("d2_star")
def _d2_star(args: Args) -> dict[str, float]:
    found = sf.d2_star(args.count("groups"), args.count("subgroup_size"))
    return {"d2_star": found.d2_star, "degrees_of_freedom": found.degrees_of_freedom}


def example_results() -> list[sf.ChartFactors | sf.D2Star]:
    return [sf.chart_factors(5), sf.chart_factors(300), sf.d2_star(10, 3), sf.d2_star(1, 2)]


@pytest.mark.parametrize("size", [30, 100, 1000, 5000])
def test_mean_and_sd_of_the_range_from_the_joint_density_of_the_extremes(size: int) -> None:
    """On a plain grid over (smallest, largest): another integral and another program."""
    step = 0.02
    at = np.arange(-9.5, 9.5 + step / 2, step)
    lower, upper = at[:, None], at[None, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        between = np.log1p(-(special.ndtr(lower) + special.ndtr(-upper)))
    logs = math.log(size * (size - 1) / (2 * math.pi)) - (lower**2 + upper**2) / 2 + (size - 2) * between
    density = np.where(upper > lower, np.exp(logs), 0.0) * step * step
    mean = float(np.nansum(density * (upper - lower)))
    variance = float(np.nansum(density * (upper - lower - mean) ** 2))
    assert sf.d2(size) == pytest.approx(mean, rel=1e-12)
    assert sf.d3(size) == pytest.approx(math.sqrt(variance), rel=1e-12)


@pytest.mark.parametrize("size", [2, 17, 400, 5000])
def test_the_mean_range_at_30_digits(size: int) -> None:
    with mpmath.workdps(30):
        cuts = [0, 1, 2, 3, 4, 5, 6, 8, 12]
        exact = 2 * mpmath.quad(lambda x: 1 - mpmath.ncdf(x) ** size - mpmath.ncdf(-x) ** size, cuts)
    assert sf.d2(size) == pytest.approx(float(exact), rel=1e-14)


@given(st.floats(1.001, 1e7))
def test_c4_and_c5_from_gamma_functions_at_40_digits(n: float) -> None:
    with mpmath.workdps(40):
        half = mpmath.mpf(n) / 2
        ratio = mpmath.exp(mpmath.loggamma(half) - mpmath.loggamma(half - mpmath.mpf(1) / 2))
        exact = mpmath.sqrt(2 / (mpmath.mpf(n) - 1)) * ratio
        rest = float(mpmath.sqrt(1 - exact * exact))
    assert sf.c4(n) == pytest.approx(float(exact), rel=1e-15)
    assert sf.c5(n) == pytest.approx(rest, rel=1e-14)


@given(st.integers(1, 10**6), st.integers(2, 400))
def test_degrees_of_freedom_of_d2_star_meet_their_definition(groups: int, size: int) -> None:
    found = sf.d2_star(groups, size)
    relative = found.d3**2 / groups / found.d2**2
    nu = found.degrees_of_freedom
    assert found.d2_star == pytest.approx(found.d2 * math.sqrt(1 + relative), rel=1e-14)
    assert (sf.c5(nu + 1) / sf.c4(nu + 1)) ** 2 == pytest.approx(relative, rel=1e-12)
    assert nu <= groups * (size - 1) + 1e-9


@pytest.mark.parametrize("lengths", [[2], [7], [5, 3, 8]])
def test_moving_ranges_simulated(lengths: list[int]) -> None:
    """Relative variance of the mean moving range over 400,000 series with gaps, within four standard errors."""
    rng = np.random.default_rng(20)
    pieces = [np.abs(np.diff(rng.standard_normal((400_000, length)), axis=1)) for length in lengths]
    means = np.concatenate(pieces, axis=1).mean(axis=1)
    relative = float(means.var() / means.mean() ** 2)
    error = 4 * relative * math.sqrt((float(((means - means.mean()) ** 4).mean()) / float(means.var()) ** 2 - 1) / means.size)
    ranges = sum(length - 1 for length in lengths)
    nu = sf.moving_range_degrees_of_freedom(ranges, sum(length - 2 for length in lengths))
    assert (sf.c5(nu + 1) / sf.c4(nu + 1)) ** 2 == pytest.approx(relative, abs=error)


def test_the_sentence_says_how_to_use_them() -> None:
    assert sf.chart_factors(5).sentence() == (
        "For subgroups of 5: sigma is the mean range / 2.3259 or the mean s / 0.93999; averages stay within 0.57682 mean ranges "
        "or 1.4273 mean s of the center, ranges between 0 and 2.1145 mean ranges."
    )
    assert sf.d2_star(1, 15).sentence() == (
        "The mean of 1 range of 15 readings estimates sigma as well as 10.77 degrees of freedom would (d2* = 3.55323)."
    )


def test_what_has_no_factor_is_refused() -> None:
    with pytest.raises(sf.InvalidInputError, match="subgroup_size must be at least 2, got 1"):
        sf.chart_factors(1)
    with pytest.raises(sf.InvalidInputError, match="groups must be at least 1"):
        sf.d2_star(0, 5)
    with pytest.raises(sf.InvalidInputError, match="greater than 1"):
        sf.c4(1.0)
    with pytest.raises(sf.InvalidInputError, match="adjacent_ranges must be less than ranges"):
        sf.moving_range_degrees_of_freedom(3, 5)
