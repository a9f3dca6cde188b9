"""What the charts of a review cost in false calls, and how far out their lines must stand to keep a plan's budget.

Quiet periods are simulated under the fitted variation, each with its own baseline, and sent through the charts. One multiple
serves all lines: limits of the average in sigma of a point, of the EWMA in standard deviations of the EWMA as quiet periods
show it (days that resemble each other included), of the spread in sigma of a spread.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import number, plural
from steadyfilm._review.noise import Noise, simulate_noise
from steadyfilm._review.series import Usual
from steadyfilm._review.unevenness import Spreads, spread_reach
from steadyfilm.false_alarms import count_episodes, summarize_counts
from steadyfilm.monitor import MonitorLimits

if TYPE_CHECKING:
    from steadyfilm._review.options import LineRules

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

USUAL_MULTIPLE = 3.0
"""Lines are never nearer than this: a budget that is not used up by three sigma is left over."""
WIDEST_MULTIPLE = 8.0
TEXTBOOK_EWMA = 2.86
"""EWMA multiple that goes with three sigma limits where points are independent; only to say what such lines would cost."""
QUIET_PERIODS = 2000
MOST_SIMULATED = 6_000_000
"""Points of one layer; long periods are simulated less often, never less than 200 times."""
RANGE_TO_SIGMA = 2.0 / math.sqrt(math.pi)
"""d2 for two: mean range of two standard normal values."""
DAYS_A_MONTH = 30.4375
WHOLE_MONTH = (26, 31)
"""Days from the first to the last unit, both counted, that make one month."""


@dataclass(frozen=True)
class ChartCost:
    """Episodes that one stream's charts together show in a quiet period of the same length."""

    expected: float
    standard_error: float
    most_expected: float
    """The smallest number that at most 1 % of quiet periods exceed."""
    independent: float
    """Mean number if units were independent, for the same lines; only to be shown beside ``expected``."""


NO_COST = ChartCost(math.nan, math.nan, math.nan, math.nan)


@dataclass(frozen=True)
class AlarmBudget:
    """The multiple that all charts of a review share, and what it costs."""

    false_calls_per_month: float
    months: float
    """Length of the period; 1 where units have no times."""
    allowed: float
    """``false_calls_per_month * months``."""
    sigma_multiple: float
    how: str
    """``budget``: chosen to keep it; ``three sigma``: that keeps it already; ``plan``: given; ``rules``: zones stand at whole
    sigma, so nothing was chosen; ``widest``: no multiple tried keeps it."""
    charts: int
    expected: float
    """Episodes of a quiet period over all charts."""
    standard_error: float
    most_expected: float
    independent: float
    three_sigma: float
    """What limits at 3 sigma and an EWMA at 2.86 of its independent standard deviation would cost instead."""

    @property
    def kept(self) -> bool:
        """Whether the charts cost no more than the plan allows, by up to two standard errors of the simulation."""
        return self.expected <= self.allowed + 2.0 * self.standard_error

    @property
    def cost(self) -> str:
        """False calls a month in words."""
        return f"{number(self.expected / self.months, 2)} false calls a month"

    @property
    def sentence(self) -> str:
        """Multiple, budget and cost in words."""
        multiple, allowed = number(self.sigma_multiple, 3), number(self.false_calls_per_month, 3)
        cost = f"{plural(self.charts, 'chart')} together cost about {self.cost}"
        budget = f"the plan allows {allowed}"
        if self.how == "budget":
            text = f"Lines stand at {multiple} sigma, chosen so that {cost}; {budget}"
        elif self.how == "three sigma":
            text = f"Lines stand at {multiple} sigma, never nearer; {cost}; {budget}"
        elif self.how == "plan":
            text = f"Lines stand at {multiple} sigma because the plan says so; {cost}; {budget}"
        elif self.how == "rules":
            text = f"Lines stand at {multiple} sigma, where the plan's zone rules have their zones; {cost}; {budget}"
        else:
            text = f"Lines stand at {multiple} sigma, the widest; even so {cost}; {budget}"
        beside = "" if self.how in ("plan", "rules") else f" Limits at 3 sigma and an EWMA at 2.86 would cost {self._instead}."
        return f"{text}.{beside}"

    @property
    def _instead(self) -> str:
        return number(self.three_sigma / self.months, 2)


@dataclass(frozen=True)
class _Simulated:
    """Quiet periods of every stream, shape (periods, units): averages in sigma from the center, spreads over their pooled SD."""

    location: dict[str, Floats]
    spread: dict[str, Floats]
    breaks: dict[str, NDArray[np.bool_]]
    """Where a long pause breaks the runs and the EWMA of a stream."""

    def count(self, limits: MonitorLimits, reach: float, stream: str) -> Floats:
        """Episodes of each period on location and spread chart together."""
        count = count_episodes(limits, self.location[stream], self.breaks.get(stream)).astype(np.float64)
        if stream in self.spread:
            count += (self.spread[stream] > reach).sum(axis=1)
        return count


class QuietCharts:
    """The charts of one layer in simulated quiet periods."""

    def __init__(
        self,
        usual: Usual,
        noise: Noise,
        day: Codes,
        first: int,
        spreads: Spreads,
        streams: Sequence[str],
        rules: LineRules,
        seed: int,
        *,
        periods: int = QUIET_PERIODS,
        time: NDArray[np.datetime64] | None = None,
    ) -> None:
        self.streams = tuple(streams)
        self.rules = rules
        self.freedom = spreads.freedom
        here = {level.value: level.units[first:] for level in usual.streams}
        self._breaks = {} if time is None else {name: rules.breaks(time[units]) for name, units in here.items()}
        rng = np.random.default_rng([seed, 1])
        periods = int(np.clip(MOST_SIMULATED // len(usual.known), 200, periods))
        months = [simulate_noise(noise, day, rng) for _ in range(math.ceil(periods / len(noise.scale_draws)))]
        fitted = np.concatenate(months, axis=1)[:, :periods]
        alone = rng.standard_normal(fitted.shape)
        self._fitted = self._judged(fitted, usual, first, spreads, rng)
        self._alone = self._judged(alone, usual, first, spreads, rng)
        self.ewma_sd = _ewma_sd(self._fitted, rules.smoothing)
        self._counted: dict[tuple[float, str], Floats] = {}

    def _judged(self, values: Floats, usual: Usual, first: int, spreads: Spreads, rng: np.random.Generator) -> _Simulated:
        z = standardized(values, usual, first, self._breaks)[first:]
        location, spread = {}, {}
        freedom, source = spreads.freedom, max(spreads.source, 2)
        all_freedom = (source - 1) * freedom
        pooled = np.sqrt(rng.chisquare(all_freedom, z.shape[1]) / all_freedom)[:, None] if freedom else np.empty(0)
        # The usual pattern of places is known as well as so many units tell it.
        inflated = math.sqrt(1.0 + (1.0 if first else -1.0) / source)
        for level in usual.streams:
            if level.value not in self.streams:
                continue
            own = np.ascontiguousarray(z[level.units[first:]].T)
            location[level.value] = own
            if freedom:
                spread[level.value] = inflated * np.sqrt(rng.chisquare(freedom, own.shape) / freedom) / pooled
        return _Simulated(location, spread, self._breaks)

    def under(self, rules: LineRules) -> QuietCharts:
        """The same quiet periods under other rules; the EWMA's smoothing stays."""
        other = copy.copy(self)
        other.rules, other._counted = replace(rules, smoothing=self.rules.smoothing), {}
        return other

    def limits(self, multiple: float) -> MonitorLimits:
        """The plan's rules with lines at a multiple; "beyond 3 sigma" follows it."""
        rules = self.rules
        words = tuple(
            word.replace("beyond3_", f"beyond{multiple:.12g}_") if word.startswith("1of1_") else word for word in rules.points
        )
        ewma = rules.ewma_multiple
        if ewma is None:
            ewma = multiple * self.ewma_sd * math.sqrt((2.0 - rules.smoothing) / rules.smoothing) if rules.smoothing else 3.0
        return MonitorLimits(rules=words, smoothing=rules.smoothing, ewma_multiple=ewma)

    def counts(self, multiple: float, stream: str) -> Floats:
        """Episodes of every quiet period on one stream's charts."""
        key = (multiple, stream)
        if key not in self._counted:
            self._counted[key] = self._fitted.count(self.limits(multiple), spread_reach(self.freedom, multiple), stream)
        return self._counted[key]

    def total(self, multiple: float) -> Floats:
        """The same over all streams."""
        return np.asarray(sum(self.counts(multiple, stream) for stream in self.streams))

    def three_sigma(self) -> float:
        """Mean number over all streams with the lines of textbooks."""
        limits = MonitorLimits(rules=self.limits(3.0).rules, smoothing=self.rules.smoothing, ewma_multiple=TEXTBOOK_EWMA)
        reach = spread_reach(self.freedom, 3.0)
        return float(sum(self._fitted.count(limits, reach, stream).mean() for stream in self.streams))

    def cost(self, multiple: float, stream: str) -> ChartCost:
        """What one stream's charts cost."""
        found = summarize_counts(self.counts(multiple, stream))
        alone = self._alone.count(self.limits(multiple), spread_reach(self.freedom, multiple), stream)
        return ChartCost(found.mean, found.standard_error, float(found.upper_99), float(alone.mean()))

    def independent(self, multiple: float) -> float:
        """Mean number over all streams if units were independent."""
        limits, reach = self.limits(multiple), spread_reach(self.freedom, multiple)
        return float(sum(self._alone.count(limits, reach, stream).mean() for stream in self.streams))


def set_lines(layers: Sequence[QuietCharts], rules: LineRules, months: float) -> AlarmBudget | None:
    """The multiple for all charts, and what it costs; None without charts.

    A plan's own ``sigma_multiple`` is taken as it is. Zone rules name their zones in whole sigma, so with them lines stay at 3.
    Otherwise the smallest multiple, at least 3, with which quiet periods show no more episodes on average than allowed.
    """
    layers = [layer for layer in layers if layer.streams]
    if not layers:
        return None
    allowed = rules.false_calls_per_month * months

    def total(multiple: float) -> Floats:
        counts = [layer.total(multiple) for layer in layers]
        shortest = min(len(count) for count in counts)
        return np.asarray(sum(count[:shortest] for count in counts))

    def mean(multiple: float) -> float:
        return float(sum(layer.total(multiple).mean() for layer in layers))

    if rules.sigma_multiple is not None:
        multiple, how = rules.sigma_multiple, "plan"
    elif not all(word.startswith("1of1_beyond3_") for word in rules.points):
        multiple, how = USUAL_MULTIPLE, "rules"
    elif mean(USUAL_MULTIPLE) <= allowed:
        multiple, how = USUAL_MULTIPLE, "three sigma"
    else:
        multiple, how = _smallest(mean, allowed), "budget"
        if mean(multiple) > allowed:
            how = "widest"
    found = summarize_counts(total(multiple))
    return AlarmBudget(
        false_calls_per_month=rules.false_calls_per_month,
        months=months,
        allowed=allowed,
        sigma_multiple=multiple,
        how=how,
        charts=sum(len(layer.streams) for layer in layers),
        expected=mean(multiple),
        standard_error=found.standard_error,
        most_expected=float(found.upper_99),
        independent=sum(layer.independent(multiple) for layer in layers),
        three_sigma=sum(layer.three_sigma() for layer in layers),
    )


def _smallest(mean: Callable[[float], float], allowed: float) -> float:
    """The smallest multiple with no more episodes than allowed; the widest one if none has.

    In hundredths of a sigma: nobody can tell more, and a chart can be drawn again from the printed number.
    """
    low, high = round(100 * USUAL_MULTIPLE), round(100 * WIDEST_MULTIPLE)
    known = {low: mean(low / 100)}
    while high - low > 1:
        # Counts fall about exponentially; so steep a line is drawn through the nearest two known points, else halves are taken.
        below = sorted(known)[-2:]
        middle = (low + high) // 2 if len(known) > 12 else low + 40
        if len(below) == 2 and known[below[0]] > known[below[1]] > 0.0:
            steep = math.log(known[below[0]] / known[below[1]]) / (below[1] - below[0])
            middle = round(below[1] + math.log(known[below[1]] / allowed) / steep)
        middle = min(max(middle, low + 1), high - 1)
        known[middle] = mean(middle / 100)
        low, high = (low, middle) if known[middle] <= allowed else (middle, high)
    return high / 100


def months_of(times: Sequence[NDArray[np.datetime64] | None]) -> float:
    """Length of the period in months, from the first to the last unit of any layer; 26 to 31 days are one month.

    >>> days = np.array(["2026-03-02", "2026-03-31"], dtype="datetime64[D]")
    >>> months_of([days, None]), round(months_of([days[:1]]), 4), months_of([None])
    (1.0, 0.0329, 1.0)
    """
    seen = [time for time in times if time is not None and len(time)]
    if not seen:
        return 1.0
    first, last = min(x.min() for x in seen), max(x.max() for x in seen)
    days = int((last.astype("datetime64[D]") - first.astype("datetime64[D]")).astype(int)) + 1
    return 1.0 if WHOLE_MONTH[0] <= days <= WHOLE_MONTH[1] else days / DAYS_A_MONTH


def _ewma_sd(quiet: _Simulated, smoothing: float) -> float:
    """Standard deviation of the EWMA over the later half of each period, in sigma of a point."""
    if not smoothing:
        return math.nan
    squares, count = 0.0, 0
    for stream, z in quiet.location.items():
        level = np.zeros(len(z))
        breaks = quiet.breaks.get(stream)
        for k in range(z.shape[1]):
            if breaks is not None and breaks[k]:
                level = np.zeros(len(z))
            level += smoothing * (z[:, k] - level)
            if 2 * k >= z.shape[1] - 1:
                squares += float(level @ level)
                count += len(level)
    return math.sqrt(squares / count) if count else 1.0


def standardized(values: Floats, usual: Usual, first: int, breaks: Mapping[str, NDArray[np.bool_]] | None = None) -> Floats:
    """Many series, a column each, in sigma from their own centers; what `charting.usual_behavior` does, all at once.

    ``breaks`` says for each stream where no moving range goes over a pause.
    """
    known = usual.known
    fit = slice(0, first) if first else slice(None)
    coefficients = np.linalg.pinv(known[fit]) @ values[fit]
    fitted = known @ coefficients
    # A level that the baseline never saw has effect 0: its factor adds what it adds on average.
    for columns, new in usual.unseen(first):
        part = known[:, columns] @ coefficients[columns]
        fitted[new] += part[fit].mean(axis=0) - part[new]
    if first:
        free = first - int(np.linalg.matrix_rank(known[:first]))
        sigma = np.sqrt(np.square(values[:first] - fitted[:first]).sum(axis=0) / free)
    else:
        rest = values - fitted
        ranges = []
        for level in usual.streams:
            own = np.abs(np.diff(rest[level.units], axis=0))
            pauses = (breaks or {}).get(level.value)
            ranges.append(own if pauses is None else own[~pauses[1:]])
        sigma = np.concatenate(ranges).mean(axis=0) / RANGE_TO_SIGMA
    return np.asarray((values - fitted) / sigma)
