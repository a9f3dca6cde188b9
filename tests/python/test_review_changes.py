"""The search for changes, against other ways to the same numbers.

Generalized least squares written out, restricted likelihood by statsmodels, a worked example, and by simulation the coverage of
the start set and the false alarm chance.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import optimize
from statsmodels.regression.mixed_linear_model import MixedLM

from steadyfilm._review.changes import SET_95, find_changes, independent
from steadyfilm._review.noise import (
    Noise,
    Precision,
    between_days,
    correlation_matrix,
    fit_noise,
    restricted_likelihood,
    simulate_noise,
)
from steadyfilm._review.search import Change, Named, Scope, Search, Series, all_pairs, block_edges

Floats = NDArray[np.float64]

STEP = [2.11, 2.07, 2.14, 2.09, 2.12, 2.05, 2.10, 2.13, 2.08, 2.12, 2.06, 2.11, 1.97, 1.93, 1.99, 1.95, 1.90, 1.98, 1.94, 1.96]
WEAR = [2.11, 2.12, 2.09, 2.10, 2.08, 2.09, 2.06, 2.07, 2.05, 2.05, 2.03, 2.04, 2.01, 2.02, 2.00, 1.99, 2.00, 1.97, 1.98, 1.96]


def one_stream(values: list[float] | Floats, *, first: int = 0, per_day: int = 8) -> Series:
    count = len(values)
    day = (np.arange(count) // per_day).astype(np.intp)
    return Series(
        np.asarray(values, dtype=float), np.ones((count, 1)), day, first, (Scope("all units", np.ones(count, dtype=bool)),)
    )


def months(rng: np.random.Generator, *, days: int = 42, per_day: int = 4, change: Floats | None = None) -> Series:
    """A baseline and a month of two streams with a day effect."""
    day = np.repeat(np.arange(days), per_day).astype(np.intp)
    count = len(day)
    stream = np.arange(count) % 2
    effect = np.linalg.cholesky(correlation_matrix(days, 0.5)) @ rng.normal(0, 0.03, days)
    values = 2.1 + 0.03 * stream + effect[day] + rng.normal(0, 0.06, count)
    if change is not None:
        values = values + change
    known = np.column_stack([np.ones(count), stream])
    scopes = (Scope("all units", np.ones(count, dtype=bool)), Scope("A", stream == 0), Scope("B", stream == 1))
    return Series(values, known, day, count // 2, scopes)


def noise_of(series: Series, seed: int = 1) -> Noise:
    fit = slice(0, series.first) if series.first else slice(None)
    length = int(series.day.max()) + 1
    return fit_noise(
        series.values[fit], series.known[fit], series.day[fit], length=length, draws=50, rng=np.random.default_rng(seed)
    )


def dense_precision(series: Series, noise: Noise) -> Floats:
    member = (series.day[:, None] == np.arange(series.day.max() + 1)).astype(float)
    covariance = np.eye(len(series.day)) + member @ between_days(noise, int(series.day.max()) + 1) @ member.T
    return np.asarray(np.linalg.inv(covariance))


def test_precision_is_the_inverse_covariance_and_its_determinant() -> None:
    series = months(np.random.default_rng(2), days=9)
    noise = noise_of(series)
    fast = Precision(series.day, between_days(noise, 9))
    dense = dense_precision(series, noise)
    assert fast.times(np.eye(len(series.day))) == pytest.approx(dense, abs=1e-12)
    assert fast.log_determinant == pytest.approx(-np.linalg.slogdet(dense)[1], rel=1e-10)


def test_evidence_and_size_of_every_interval_equal_dense_generalized_least_squares() -> None:
    series = months(np.random.default_rng(3), days=16)
    noise = noise_of(series)
    search = Search(series, noise, shortest=3)
    kept = [Change("step", 1, 5, 12)]
    edges = block_edges(series.day[series.first :], 12)
    precision = dense_precision(series, noise)
    known = np.column_stack([series.known, search.columns(kept)])
    inverse = np.linalg.inv(known.T @ precision @ known)
    project = precision - precision @ known @ inverse @ known.T @ precision
    checked = 0
    for shape, scope, start, end, gains in search.scan(all_pairs(edges), search.columns(kept), series.values[:, None]):
        for a, b, gain in zip(start, end, gains[:, 0], strict=True):
            x = search.column(Change(shape, scope, int(a), int(b)))
            expected = (x @ project @ series.values) ** 2 / (x @ project @ x) / noise.sigma_unit**2
            assert gain == pytest.approx(expected, rel=1e-8)
            checked += 1
    assert checked > 100
    clean = search.cleaned(series.values[:, None], search.columns(kept))[:, 0]
    assert clean == pytest.approx(project @ series.values, abs=1e-10)


def test_a_drift_counts_working_days_and_a_step_units() -> None:
    series = months(np.random.default_rng(4), days=12)
    search = Search(series, noise_of(series), shortest=3)
    drift = search.column(Change("drift", 2, 4, 16))[series.first :]
    assert drift[4:16].tolist() == [0, 1, 0, 1, 0, 2, 0, 2, 0, 3, 0, 3]
    assert drift[:4].tolist() == [0] * 4
    assert search.column(Change("step", 1, 4, 7))[series.first :][:8].tolist() == [0, 0, 0, 0, 1, 0, 1, 0]


def test_restricted_likelihood_peaks_where_statsmodels_puts_the_day_effect() -> None:
    series = months(np.random.default_rng(5), days=30, per_day=6)
    # In hundredths: the library warns of variances below 0.01 as being on the boundary.
    fitted = MixedLM(100 * series.values, series.known, groups=series.day).fit(reml=True)
    expected = math.sqrt(float(np.asarray(fitted.cov_re)[0, 0]) / fitted.scale)

    def loss(ratio: float) -> float:
        return -restricted_likelihood(series.values, series.known, series.day, ratio, 0.0)[0]

    best = optimize.minimize_scalar(loss, bounds=(0.01, 2.0), method="bounded", options={"xatol": 1e-8})
    assert best.x == pytest.approx(expected, rel=2e-3)
    scale = restricted_likelihood(series.values, series.known, series.day, float(best.x), 0.0)[1]
    assert (100 * scale) ** 2 == pytest.approx(fitted.scale, rel=2e-3)


def test_noise_is_recovered_and_its_simulation_has_that_variation() -> None:
    rng = np.random.default_rng(6)
    series = months(rng, days=240, per_day=6)
    noise = fit_noise(series.values, series.known, series.day, length=240, draws=2000, rng=rng)
    assert noise.sigma_unit == pytest.approx(0.06, rel=0.05)
    assert noise.sigma_day == pytest.approx(0.03, rel=0.25)
    quiet = simulate_noise(noise, series.day, rng)
    assert quiet.std() == pytest.approx(math.hypot(noise.sigma_unit, noise.sigma_day), rel=0.02)
    means = quiet.reshape(240, 6, -1).mean(axis=1)
    neighbors = (means[1:] * means[:-1]).mean()
    assert neighbors == pytest.approx(noise.between[1] * noise.sigma_unit**2, rel=0.15)


def test_a_step_in_twenty_unit_averages() -> None:
    """Worked by hand: means 25.18/12 and 15.62/8, sums of squares 0.117 about one mean and 0.014917 about two."""
    found = find_changes(one_stream(STEP), significance=0.01, shortest=4, level=0.95, seed=1)
    (change,) = found.changes
    assert (change.change.shape, change.change.start, change.change.end) == ("step", 12, 20)
    assert change.size == pytest.approx(15.62 / 8 - 25.18 / 12, abs=1e-12)
    assert change.starts == (12, 12)
    # Found against sigma from all twenty, told against what is left after the change.
    assert found.noise.sigma_unit**2 == pytest.approx(0.117 / 19, rel=1e-3)
    left = sum((x - 25.18 / 12) ** 2 for x in STEP[:12]) + sum((x - 15.62 / 8) ** 2 for x in STEP[12:])
    assert change.explained == pytest.approx((0.117 - left) / (left / 18), rel=2e-3)


def test_wear_is_told_as_a_drift_and_not_as_a_step() -> None:
    series = Series(np.array(WEAR), np.ones((20, 1)), np.zeros(20, dtype=np.intp), 0, one_stream(WEAR).scopes, per_unit=True)
    found = find_changes(one_stream(WEAR), significance=0.01, shortest=4, level=0.95, seed=1)
    assert found.changes[0].change.shape == "step"  # three days are too few to tell a drift
    (change,) = find_changes(series, significance=0.01, shortest=4, level=0.95, seed=1).changes
    assert change.change.shape == "drift"
    assert change.explained > 1.2 * change.other_shape
    # An ordinary line through all twenty has this slope; the drift starts a few units in and is no steeper than a tenth more.
    assert change.size == pytest.approx(np.polyfit(np.arange(20), WEAR, 1)[0], rel=0.1)


def test_a_step_of_one_stream_does_not_touch_the_other() -> None:
    rng = np.random.default_rng(7)
    change = np.zeros(168)
    change[124:156:2] = 0.2
    (found,) = find_changes(months(rng, change=change), significance=0.01, shortest=4, level=0.95, seed=1).changes
    assert found.change.scope == 1
    assert abs(found.change.start - 40) <= 2
    assert found.size == pytest.approx(0.2, abs=0.06)
    other = next(x for x in found.by_scope if x[0] == 2)
    assert abs(other[1]) < other[2]


def test_a_step_of_all_units_is_found_under_a_drift_of_one_stream() -> None:
    rng = np.random.default_rng(8)
    change = np.zeros(168)
    days = np.repeat(np.arange(42), 4)
    worn = (days >= 25) & (days <= 34) & (np.arange(168) % 2 == 0)
    change[worn] += 0.03 * (days[worn] - 24)
    change[(days >= 29) & (days <= 32)] -= 0.17
    series = months(rng, change=change)
    batches = tuple(Named("batch", f"no {k}", 0, a, b) for k, (a, b) in enumerate([(0, 32), (32, 48), (48, 84)]))
    series = Series(series.values, series.known, series.day, series.first, series.scopes, batches)
    found = find_changes(series, significance=0.01, shortest=4, level=0.95, seed=1).changes
    kinds = {(x.change.shape, x.change.scope): x for x in found}
    assert set(kinds) == {("drift", 1), ("step", 0)}
    step = kinds["step", 0]
    assert (step.change.start, step.change.end, step.change.named) == (32, 48, 1)
    assert abs(step.size + 0.17) < step.error
    drift = kinds["drift", 1]
    assert abs(drift.size - 0.03) < 2 * drift.error
    assert drift.starts[0] <= 16 <= drift.starts[1]


def test_the_start_set_covers_the_true_start_in_95_of_100() -> None:
    rng = np.random.default_rng(9)
    covered, runs = 0, 400
    for _ in range(runs):
        values = rng.normal(0.0, 1.0, 40)
        values[18:] += 1.5
        total = np.cumsum(values)
        split = np.arange(4, 37)
        means = total[split - 1] / split - (total[-1] - total[split - 1]) / (40 - split)
        log_ratio = 0.5 * means**2 * split * (40 - split) / 40
        covered += bool(log_ratio[split == 18][0] >= log_ratio.max() - SET_95)
    assert 0.93 <= covered / runs <= 0.995
    assert (1 - math.exp(-SET_95)) ** 2 == pytest.approx(0.95, abs=0.001)


def test_quiet_series_seldom_show_a_change() -> None:
    """At 5 %, 200 quiet months from the model itself: 10 expected, more than 21 in fewer than 1 of 1000 (binomial)."""
    rng = np.random.default_rng(10)
    shown = sum(bool(find_changes(months(rng), significance=0.05, shortest=4, level=0.95, seed=k).changes) for k in range(200))
    assert shown <= 21


def test_intervals_cover_the_true_size() -> None:
    """Given where the step is, the interval holds its size in about 95 of 100."""
    rng = np.random.default_rng(11)
    covered, told = 0, 0
    change = np.zeros(168)
    change[124:148] = -0.25
    for k in range(60):
        for found in find_changes(months(rng, change=change), significance=0.01, shortest=4, level=0.95, seed=k).changes:
            if (
                (found.change.scope, found.change.shape) == (0, "step")
                and abs(found.change.start - 40) <= 1
                and abs(found.change.end - 64) <= 1
            ):
                told += 1
                covered += abs(found.size + 0.25) <= found.error
    assert told >= 30
    assert covered / told >= 0.85


@settings(max_examples=15)
@given(st.integers(0, 2**32 - 1))
def test_a_shift_or_scale_of_the_data_moves_sizes_and_nothing_else(seed: int) -> None:
    rng = np.random.default_rng(seed)
    change = np.zeros(168)
    change[120:150] = 0.3
    series = months(rng, change=change)
    moved = Series(7.0 + 25.4 * series.values, series.known, series.day, series.first, series.scopes)
    one, two = (find_changes(s, significance=0.01, shortest=4, level=0.95, seed=1) for s in (series, moved))
    assert [x.change for x in one.changes] == [x.change for x in two.changes]
    assert [x.starts for x in one.changes] == [x.starts for x in two.changes]
    assert [25.4 * x.size for x in one.changes] == pytest.approx([x.size for x in two.changes], rel=1e-6)


def test_constant_and_tiny_series_show_nothing() -> None:
    assert find_changes(one_stream([2.0] * 20), significance=0.01, shortest=4, level=0.95, seed=1).changes == ()
    assert find_changes(one_stream([2.0, 2.1, 2.2]), significance=0.01, shortest=4, level=0.95, seed=1).changes == ()


def test_columns_that_say_the_same_are_taken_once() -> None:
    columns = np.array([[1.0, 1.0, 0.0, 2.0], [1.0, 1.0, 1.0, 0.0], [1.0, 1.0, 0.0, 2.0]])
    assert independent(columns).tolist() == columns[:, [0, 2]].tolist()


def test_blocks_follow_days_and_stay_few() -> None:
    day = np.repeat(np.arange(21), 9)
    edges = block_edges(day, 64)
    assert set(range(0, 190, 9)) <= set(edges.tolist())
    assert len(edges) - 1 == 42
    assert len(block_edges(np.repeat(np.arange(300), 5), 64)) == 65
