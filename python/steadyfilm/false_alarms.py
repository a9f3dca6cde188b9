"""How many episodes a steady process shows all the same, by sending steady series through the monitor itself."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural
from steadyfilm._input import check_options
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.baseline import Baseline, residual_days
from steadyfilm.errors import InvalidInputError
from steadyfilm.monitor import MonitorLimits

__all__ = ["DayModel", "ExpectedEpisodes", "day_model", "expected_episodes"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class CountSummary:
    """Episodes of many simulated series: mean, its standard error, and the smallest number that at most 1 % of them exceed."""

    mean: float
    standard_error: float
    upper_99: int


def count_episodes(limits: MonitorLimits, series: Floats, breaks: NDArray[np.bool_] | None = None) -> NDArray[np.int64]:
    """Episodes of each row of a matrix of standardized series, as ``monitor`` counts them, each row from a fresh start.

    ``breaks`` are True at the columns where runs and EWMA start anew: what follows is as a series of its own.
    """
    plain = replace(limits, center=0.0, sigma_point=1.0, mark_every_signal=False).for_core()
    rows, width = series.shape
    if not width:
        return np.zeros(rows, dtype=np.int64)
    inner = np.flatnonzero(breaks[1:]) + 1 if breaks is not None else np.empty(0, dtype=np.intp)
    starts = np.concatenate([[0], inner]).astype(np.int64)
    offsets = np.append((np.arange(rows, dtype=np.int64)[:, None] * width + starts).ravel(), rows * width)
    counts = np.asarray(_core.episode_counts(plain, np.ascontiguousarray(series).ravel(), offsets.astype(np.int64)))
    return np.asarray(counts.reshape(rows, len(starts)).sum(axis=1))


_ONE_POINT = re.compile(r"1of1_beyond([0-9.]+)_one")


def count_side_by_side(limits: MonitorLimits, series: Floats, breaks: NDArray[np.bool_] | None = None) -> NDArray[np.intp]:
    """The same for series that stand in columns, shape (points, series); the fast way where the only rule is one point beyond."""
    words = [_ONE_POINT.fullmatch(word) for word in limits.rules]
    if len(words) != 1 or words[0] is None or limits.ewma_limits == "time_varying" or not series.size:
        return count_episodes(limits, np.ascontiguousarray(series.T), breaks).astype(np.intp)
    flags = np.empty(0, dtype=np.uint8) if breaks is None else breaks.astype(np.uint8)
    weight = limits.smoothing
    reach = limits.ewma_multiple * math.sqrt(weight / (2.0 - weight))
    flat = np.ascontiguousarray(series).ravel()
    found = _core.lane_episode_counts(flat, series.shape[1], flags, float(words[0][1]), weight, reach)
    return np.asarray(found, dtype=np.intp)


def summarize_counts(counts: NDArray[Any], weight: Floats | None = None) -> CountSummary:
    """What is stated of simulated counts; ``weight`` where series were not drawn as often as they occur, 1 on average."""
    values = counts if weight is None else counts * weight
    error = float(np.std(values, ddof=1)) / math.sqrt(counts.size) if counts.size > 1 else math.inf
    if weight is None:
        return CountSummary(float(np.mean(values)), error, int(np.quantile(counts, 0.99, method="inverted_cdf")))
    share = np.cumsum(np.bincount(counts.astype(np.intp), weights=weight))
    return CountSummary(float(np.mean(values)), error, int(np.searchsorted(share, 0.99 * share[-1])))


@dataclass(frozen=True)
class DayModel:
    """A steady process whose points share the day: point = day + what is its own, both normal, in sigma of a plotted point.

    ``day_sd`` and ``day_correlation`` belong to the effect of a day and its resemblance to the day before, ``point_sd`` to what
    a point has of its own. ``day_sizes`` are the points of the chart on each day seen, ``baseline_count`` those that its limits
    come from.
    """

    day_sd: float
    day_correlation: float
    point_sd: float
    day_sizes: tuple[int, ...]
    baseline_count: int


def day_model(found: Baseline, stream: str | None = None) -> DayModel:
    """Fit the days of a baseline by the analysis of variance and the covariance of neighboring days.

    Parameters
    ----------
    found : Baseline
        With times or periods.
    stream : str, optional
        Days are fitted to the points of all streams, which share them; the chart's own points a day are those of this stream.

    Raises
    ------
    InvalidInputError
        Fewer than three days, or never two points on one day.

    Examples
    --------
    >>> from steadyfilm.baseline import baseline
    >>> days = [f"2026-03-{day:02d}" for day in (2, 3, 4, 5) for _ in range(3)]
    >>> film = [2.1, 2.0, 2.2, 2.3, 2.2, 2.4, 2.2, 2.3, 2.1, 2.0, 1.9, 2.1]
    >>> fitted = day_model(baseline({"film": film, "day": days}, "film", unit="mil", period="day"))
    >>> fitted.day_sd > 0.5 * fitted.point_sd, fitted.day_sizes
    (True, (3, 3, 3, 3))
    """
    check_options(day_model, locals())
    # Residuals of a least squares fit are smaller than what they stand for.
    scale = math.sqrt(found.used_count / found.degrees_of_freedom)
    days = [day * scale for day in residual_days(found)]
    sizes = np.array([day.size for day in days])
    total = int(sizes.sum())
    if sizes.size < 3 or total == sizes.size:
        raise InvalidInputError(
            f"{plural(sizes.size, 'day')} with {plural(total, 'point')} tell nothing about days: at least three are needed, and "
            "more than one point on some",
            argument="found",
        )
    means = np.array([float(np.mean(day)) for day in days])
    within = sum(float(np.sum((day - mean) ** 2)) for day, mean in zip(days, means, strict=True)) / (total - sizes.size)
    apart = means - float(sizes @ means) / total
    between = float(sizes @ apart**2) / (sizes.size - 1)
    size = (total - float(sizes @ sizes) / total) / (sizes.size - 1)
    variance = max(0.0, (between - within) / size)
    neighbors = float(apart[1:] @ apart[:-1]) / (sizes.size - 1)
    own = days if stream is None else residual_days(found, stream)
    return DayModel(
        day_sd=math.sqrt(variance),
        day_correlation=min(0.9, max(0.0, neighbors / variance)) if variance > 0.0 else 0.0,
        point_sd=math.sqrt(within),
        day_sizes=tuple(day.size for day in own),
        baseline_count=sum(day.size for day in own),
    )


@dataclass(frozen=True, eq=False, repr=False)
class ExpectedEpisodes(Result):
    """How many episodes a steady process shows in ``count`` points under these limits and rules.

    Attributes
    ----------
    mean, standard_error : float
        Mean number of episodes of the simulated series, and the uncertainty of that mean.
    upper_99 : int
        The smallest number that at most one series in a hundred exceeds.
    any_probability : float
        Share of the series with at least one episode.
    share : array
        Share of the series with 0, 1, 2, ... episodes.
    grade : str
        Always ``"simulated"``.
    """

    count: int
    mean: float
    standard_error: float
    upper_99: int
    any_probability: float
    share: Floats
    series_count: int
    total_episodes: int
    model: str
    grade: str
    limits: MonitorLimits

    def sentence(self) -> str:
        error = f"standard error {self.standard_error:.2g}"
        asked = float(self.made.options["relative_error"])
        if self.standard_error > asked * self.mean:
            error += f", more than the {number(100.0 * asked, 2)} % asked for"
        return (
            f"A steady process begins {number(self.mean, 3)} episodes in {plural(self.count, 'point')} on average "
            f"({error}, simulated: {self.model}); 99 of 100 such series have at most {self.upper_99}."
        )

    def _columns(self) -> dict[str, Any]:
        return {"episodes": np.arange(self.share.size), "share": self.share}

    def explain(self) -> Explanation:
        counts = {"total_episodes": self.total_episodes, "series_count": self.series_count}
        return Explanation(
            title=self.sentence(),
            steps=(Step("mean", "total_episodes / series_count", counts, self.mean),),
            choices={
                "model": self.model,
                "rules": "; ".join(self.limits.words) or "none",
                "upper_99": "smallest number with at least 99 % of the series at or below it",
                "seed": str(self.made.options["seed"]),
            },
            sources=("cpp/methods/monitor.md",),
        )


def expected_episodes(
    limits: MonitorLimits,
    count: int,
    *,
    model: DayModel | None = None,
    days: Sequence[Any] | None = None,
    days_per_block: int = 1,
    estimated_from: int | None = None,
    relative_error: float = 0.01,
    most_points: int = 100_000_000,
    seed: int = 1956,
) -> ExpectedEpisodes:
    """Episodes that a steady process shows all the same, by sending steady series through the monitor itself.

    Parameters
    ----------
    limits : MonitorLimits
        Rules and EWMA; its center and sigma play no part, the series are standardized.
    count : int
        Points of one chart.
    model : DayModel, optional
        The fitted in-control model (``day_model``): the figure to state. Its limits are estimated from ``model.baseline_count``
        points unless ``estimated_from`` says otherwise.
    days : sequence of arrays, optional
        In place of a model, residuals of a baseline in sigma, one array a day (``residual_days``): whole days are drawn at
        random. No drawn point lies further out than those seen, so a short baseline understates points beyond limits. With
        neither, points are independent and normal, a figure to be shown only beside the other.
    days_per_block : int
        Draw blocks of so many consecutive days, where days resemble their neighbors.
    estimated_from : int, optional
        0: limits known exactly. Else each series is judged by limits from its own baseline of so many points of the same model:
        mean, and mean moving range over d2.
    relative_error : float
        Series are added until the standard error is at most this share of the mean, or ``most_points`` were simulated.
    seed : int
        The same seed gives the same figures.

    Examples
    --------
    >>> found = expected_episodes(MonitorLimits(smoothing=0.0), 190)
    >>> abs(found.mean - 190 * 0.0027) < 0.02, found.grade
    (True, 'simulated')
    """
    check_options(expected_episodes, locals())
    if count < 1:
        raise InvalidInputError(f"count must be at least 1, got {count}", argument="count")
    if model is not None and days is not None:
        raise InvalidInputError("give a model or days, not both", argument="days")
    if estimated_from is None:
        estimated_from = model.baseline_count if model is not None else 0
    if estimated_from < 0 or estimated_from == 1:
        raise InvalidInputError(f"estimated_from must be 0 or at least 2, got {estimated_from}", argument="estimated_from")
    if not relative_error > 0.0:
        raise InvalidInputError(f"relative_error must be positive, got {relative_error}", argument="relative_error")
    # The legacy generator's stream is frozen for good, that of the newer one may change with NumPy.
    random = np.random.RandomState(np.random.MT19937(seed))
    draw: _Draw = _normal(random)
    words = "independent normal points"
    if model is not None:
        draw = _modeled(model, random)
        words = (
            f"days with standard deviation {number(model.day_sd, 2)} and correlation {number(model.day_correlation, 2)}, points "
            f"with {number(model.point_sd, 2)} of their own, in sigma of a point"
        )
    elif days is not None:
        draw = _Days(days, days_per_block, random)
        words = f"days drawn from {len(days)} of the baseline" + (f", {days_per_block} in a row" if days_per_block > 1 else "")
    if estimated_from:
        words += f", limits from {estimated_from} points"
    length = count + estimated_from
    batch = max(1, min(20_000, 400_000 // length))
    found: list[NDArray[np.int64]] = []
    while True:
        series = draw(batch, length)
        if estimated_from:
            series = _restandardized(series, estimated_from)
        found.append(count_side_by_side(limits, series.T))
        episodes = np.concatenate(found)
        said = summarize_counts(episodes)
        settled = episodes.size >= 2000 and said.standard_error <= relative_error * said.mean
        if settled or not limits.words or episodes.size * length >= most_points:
            break
    return build(
        ExpectedEpisodes,
        {},
        made=Made(
            function="expected_episodes",
            unit="",
            count=count,
            options={"seed": seed, "relative_error": relative_error, "estimated_from": estimated_from},
            version=_core.version,
        ),
        count=count,
        mean=said.mean,
        standard_error=said.standard_error if math.isfinite(said.standard_error) else math.nan,
        upper_99=said.upper_99,
        any_probability=float(np.mean(episodes > 0)),
        share=np.bincount(episodes) / episodes.size,
        series_count=episodes.size,
        total_episodes=int(episodes.sum()),
        model=words,
        grade="simulated",
        limits=limits,
    )


# Series of a steady process: how many, and how many points each.
_Draw = Callable[[int, int], Floats]


def _normal(random: np.random.RandomState) -> _Draw:
    return lambda series, length: random.standard_normal((series, length))


def _modeled(model: DayModel, random: np.random.RandomState) -> _Draw:
    carried, fresh = model.day_correlation, math.sqrt(1 - model.day_correlation**2)

    def draw(series: int, length: int) -> Floats:
        # All series of a batch have the same days; many batches see many of them.
        picked = random.randint(len(model.day_sizes), size=math.ceil(length / min(model.day_sizes)))
        sizes = np.array(model.day_sizes)[picked]
        sizes = sizes[: int(np.searchsorted(np.cumsum(sizes), length)) + 1]
        day = random.standard_normal((series, sizes.size))
        for i in range(1, sizes.size):
            day[:, i] = carried * day[:, i - 1] + fresh * day[:, i]
        own = random.standard_normal((series, length))
        points: Floats = model.day_sd * np.repeat(day, sizes, axis=1)[:, :length] + model.point_sd * own
        return points

    return draw


class _Days:
    """Series made of whole days drawn at random, each series from the morning of a day on."""

    def __init__(self, days: Sequence[Any], days_per_block: int, random: np.random.RandomState) -> None:
        arrays = [np.asarray(day, dtype=np.float64).ravel() for day in days]
        if not arrays or any(day.size == 0 or not np.isfinite(day).all() for day in arrays):
            raise InvalidInputError(
                "days must be arrays of finite residuals, at least one and none of them empty", argument="days"
            )
        if not 1 <= days_per_block <= len(arrays):
            raise InvalidInputError(
                f"days_per_block must lie between 1 and the {len(arrays)} days given, got {days_per_block}",
                argument="days_per_block",
            )
        starts = range(len(arrays) - days_per_block + 1)
        self._blocks = [np.concatenate(arrays[start : start + days_per_block]) for start in starts]
        self._random = random

    def __call__(self, series: int, length: int) -> Floats:
        out = np.empty((series, length))
        need = math.ceil(length / min(block.size for block in self._blocks))
        for row in out:
            picked = self._random.randint(len(self._blocks), size=need)
            row[:] = np.concatenate([self._blocks[i] for i in picked])[:length]
        return out


def _restandardized(series: Floats, first: int) -> Floats:
    """The later points of each series by the mean and the mean moving range of its first ones."""
    start = series[:, :first]
    sigma = np.mean(np.abs(np.diff(start, axis=1)), axis=1) / _core.d2(2)
    if not sigma.all():
        raise InvalidInputError(
            "a drawn baseline does not vary: estimated_from is too small for these days", argument="estimated_from"
        )
    result: Floats = (series[:, first:] - np.mean(start, axis=1)[:, None]) / sigma[:, None]
    return result
