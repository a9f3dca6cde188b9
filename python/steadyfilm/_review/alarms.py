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
from steadyfilm._review.quiet import Standardizer, draw_quiet, in_blocks, telling_shares
from steadyfilm._review.unevenness import spread_reach
from steadyfilm.distributions import chi_square_survival, f_survival
from steadyfilm.false_alarms import count_side_by_side, summarize_counts
from steadyfilm.monitor import MonitorLimits

if TYPE_CHECKING:
    from steadyfilm._review.noise import Noise
    from steadyfilm._review.options import LineRules
    from steadyfilm._review.series import Usual
    from steadyfilm._review.unevenness import Spreads

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]

USUAL_MULTIPLE = 3.0
"""Lines are never nearer than this: a budget that is not used up by three sigma is left over."""
WIDEST_MULTIPLE = 8.0
TEXTBOOK_EWMA = 2.86
"""EWMA multiple that goes with three sigma limits where points are independent; only to say what such lines would cost."""
RELATIVE_ERROR = 0.01
"""Standard error that a stated mean may have, as a share of it."""
POINTS_AT_ONCE = 400_000
SERIES_AT_ONCE = 1024
"""One block; its random numbers are its own, whoever counts it and whenever."""
PILOT_BLOCKS = 12
FEWEST_BLOCKS = 8
MOST_SIMULATED = 150_000_000
"""Points of one layer, baseline and period; lines that cost next to nothing, and long periods, are known less well then."""
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
        calls = number(self.expected / self.months, 2)
        return f"{calls} false {'call' if calls == '1' else 'calls'} a month"

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
        return f"{text}.{beside} {self._how_known}"

    @property
    def _how_known(self) -> str:
        error = number(100.0 * self.standard_error / self.expected, 1) if self.expected > 0.0 else "0"
        return (
            f"Simulated, standard error {error} %, with the variation that the units behind the limits show; their batches are "
            "part of it, and batches that differ more cost more."
        )

    @property
    def _instead(self) -> str:
        return number(self.three_sigma / self.months, 2)


class QuietCharts:
    """The charts of one layer in simulated quiet periods.

    A first sample says how far the EWMA strays and about where lines keep a budget; what lines cost is stated from a second one,
    as large as a standard error of one hundredth takes.
    """

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
        time: NDArray[np.datetime64] | None = None,
        relative_error: float | None = None,
    ) -> None:
        self.streams = tuple(streams)
        self.rules = rules
        self._noise, self._day = noise, day
        self.relative_error = RELATIVE_ERROR if relative_error is None else relative_error
        self._spreads, self._with_baseline, self._seed = spreads, first > 0, seed
        self._units = {level.value: np.flatnonzero(level.units[first:]) for level in usual.streams if level.value in self.streams}
        every = {level.value: level.units[first:] for level in usual.streams}
        breaks = {} if time is None else {name: rules.breaks(time[units]) for name, units in every.items()}
        self._breaks = {name: x for name, x in breaks.items() if x.any()}
        self._standardized = Standardizer(usual, first, breaks)
        self._at_once = int(np.clip(POINTS_AT_ONCE // len(usual.known), 16, SERIES_AT_ONCE))
        blocks = range(PILOT_BLOCKS if self.streams else 0)
        self._pilot = list(in_blocks(lambda block: self._block(block, noise.share), blocks))
        fitted = [x for block in self._pilot for x in block.fitted.items()]
        self.ewma_sd = _ewma_sd(fitted, self._breaks, rules.smoothing)
        self._tallies: dict[float, _Tally] = {}
        self._rough: dict[float, float] = {}

    def _block(self, block: int, taken: Floats, *, alone: bool = False) -> _Block:
        """Quiet periods of every stream."""
        rng = np.random.default_rng([self._seed, 1, block])
        drawn = draw_quiet(self._noise, taken, self._day, self._at_once, rng)
        of = [self._standardized(values) for values in (drawn.values, *([drawn.alone] if alone else []))]
        by_stream = [{name: z[units] for name, units in self._units.items()} for z in of]
        return _Block(drawn.cell, by_stream[0], by_stream[1] if alone else {})

    def under(self, rules: LineRules) -> QuietCharts:
        """The same quiet periods under other rules; the EWMA's smoothing stays."""
        other = copy.copy(self)
        other.rules, other._tallies, other._rough = replace(rules, smoothing=self.rules.smoothing), {}, {}
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

    def _counted(self, limits: MonitorLimits, stream: str, z: Floats) -> Codes:
        return count_side_by_side(limits, z, self._breaks.get(stream))

    def rough_mean(self, multiple: float) -> float:
        """Episodes of a quiet period over all streams, by the first sample."""
        if multiple not in self._rough:
            self._rough[multiple] = self._pilot_mean(self.limits(multiple), multiple)
        return self._rough[multiple]

    def three_sigma(self) -> float:
        """Mean number over all streams with the lines of textbooks, by the first sample."""
        limits = MonitorLimits(rules=self.limits(3.0).rules, smoothing=self.rules.smoothing, ewma_multiple=TEXTBOOK_EWMA)
        return self._pilot_mean(limits, 3.0)

    def _pilot_mean(self, limits: MonitorLimits, multiple: float) -> float:
        return float(self._pilot_counts(limits).mean()) + sum(self._spread_mean(multiple, x) for x in self.streams)

    def _pilot_counts(self, limits: MonitorLimits) -> Codes:
        counts = [sum(self._counted(limits, x, z) for x, z in block.fitted.items()) for block in self._pilot]
        return np.concatenate([np.asarray(x) for x in counts])

    def count(self, multiples: Sequence[float]) -> None:
        """Count episodes at these multiples until each stream's mean at the middle one is known well enough."""
        limits = [self.limits(multiple) for multiple in multiples]
        middle = len(multiples) // 2
        taken = telling_shares(
            self._noise, np.concatenate([block.cell for block in self._pilot]), self._pilot_counts(limits[middle])
        )
        # What independent units show is known sooner than what days do.
        until = {"alone": math.inf}

        def work(block: int) -> _Counted:
            with_alone = block < until["alone"]
            drawn = self._block(block, taken, alone=with_alone)
            fitted = [{x: self._counted(own, x, z) for x, z in drawn.fitted.items()} for own in limits]
            alone = [{x: self._counted(own, x, z) for x, z in drawn.alone.items()} for own in (limits if with_alone else [])]
            return _Counted(drawn.cell, fitted, alone)

        found: list[_Counted] = []
        blocks = FEWEST_BLOCKS
        most = max(FEWEST_BLOCKS, MOST_SIMULATED // (self._at_once * len(self._day)))
        weight = self._noise.share / taken
        while limits[0].words:
            found += in_blocks(work, range(PILOT_BLOCKS + len(found), PILOT_BLOCKS + blocks))
            weights = np.concatenate([weight[x.cell] for x in found])
            more = 0
            for x in self.streams:
                exact = self._spread_mean(multiples[middle], x)
                more = max(more, self._needed([y.fitted[middle][x] for y in found], weights, exact))
            alone_more = max(
                self._needed([y.alone[middle][x] for y in found if y.alone], None, self._spread_mean(multiples[middle], x))
                for x in self.streams
            )
            until["alone"] = PILOT_BLOCKS + min(most, alone_more)
            more = max(more, alone_more)
            if more <= len(found) or len(found) >= most:
                break
            blocks = min(most, more)
        nothing = np.zeros(1, dtype=np.intp)
        for k, multiple in enumerate(multiples):
            fitted = {x: np.concatenate([y.fitted[k][x] for y in found]) if found else nothing for x in self.streams}
            alone = {x: np.concatenate([y.alone[k][x] for y in found if y.alone]) if found else nothing for x in self.streams}
            self._tallies[multiple] = _Tally(fitted, alone, weights if found else np.ones(1))

    def _needed(self, blocks: Sequence[Codes], weights: Floats | None, exact: float) -> int:
        """Blocks that the wanted standard error takes, going by those there are; some more if nothing was seen yet."""
        found = summarize_counts(np.concatenate(blocks), weights)
        if found.mean == 0.0:
            return 4 * len(blocks)
        needed = len(blocks) * (found.standard_error / (found.mean + exact) / self.relative_error) ** 2
        return math.ceil(needed if needed <= len(blocks) else 1.05 * needed)

    def _tally(self, multiple: float) -> _Tally:
        if multiple not in self._tallies:
            self.count([multiple])
        return self._tallies[multiple]

    def _spread_mean(self, multiple: float, stream: str) -> float:
        """Exact: the square of a spread over the pooled square of the baseline is F, a little wider for the pattern of places."""
        freedom = self._spreads.freedom
        if not freedom:
            return 0.0
        reach = spread_reach(freedom, multiple) / self._inflated
        return len(self._units[stream]) * f_survival(reach**2, freedom, self._pooled_freedom)

    @property
    def _inflated(self) -> float:
        """The usual pattern of places is known as well as so many units tell it."""
        return math.sqrt(1.0 + (1.0 if self._with_baseline else -1.0) / max(self._spreads.source, 2))

    @property
    def _pooled_freedom(self) -> int:
        return (max(self._spreads.source, 2) - 1) * self._spreads.freedom

    def _spread_counts(self, multiple: float, periods: int) -> dict[str, Codes]:
        """Spreads beyond their limit in each quiet period; all streams share what is pooled."""
        freedom = self._spreads.freedom
        if not freedom:
            return {x: np.zeros(periods, dtype=np.intp) for x in self.streams}
        rng = np.random.default_rng([self._seed, 2])
        scale = rng.chisquare(self._pooled_freedom, periods) / self._pooled_freedom
        # The chance of one spread is smooth in what is pooled: so many points of it are enough.
        grid = np.linspace(scale.min(), scale.max(), 65)
        reach = spread_reach(freedom, multiple) / self._inflated
        chance = np.interp(scale, grid, [chi_square_survival(freedom * reach**2 * x, freedom) for x in grid])
        return {x: rng.binomial(len(self._units[x]), np.clip(chance, 0.0, 1.0)) for x in self.streams}

    def counts(self, multiple: float) -> dict[str, Codes]:
        """Episodes of each stream's charts, location and spread, in every quiet period of the second sample."""
        fitted = self._tally(multiple).fitted
        spread = self._spread_counts(multiple, len(next(iter(fitted.values()))))
        return {x: fitted[x] + spread[x] for x in self.streams}

    def cost(self, multiple: float, stream: str) -> ChartCost:
        """What one stream's charts cost."""
        tally, exact = self._tally(multiple), self._spread_mean(multiple, stream)
        location = summarize_counts(tally.fitted[stream], tally.weight)
        most = summarize_counts(self.counts(multiple)[stream], tally.weight).upper_99
        alone = float(tally.alone[stream].mean()) + exact
        return ChartCost(location.mean + exact, location.standard_error, float(most), alone)

    def total(self, multiple: float) -> tuple[float, float]:
        """Mean over all streams, and its standard error."""
        tally = self._tally(multiple)
        found = summarize_counts(np.asarray(sum(tally.fitted[x] for x in self.streams)), tally.weight)
        return found.mean + sum(self._spread_mean(multiple, x) for x in self.streams), found.standard_error

    def total_counts(self, multiple: float) -> tuple[Codes, Floats]:
        """Episodes over all streams in every quiet period of the second sample, and what each period weighs."""
        return np.asarray(sum(self.counts(multiple).values())), self._tally(multiple).weight

    def independent(self, multiple: float) -> float:
        """Mean number over all streams if units were independent."""
        return sum(self.cost(multiple, x).independent for x in self.streams)


@dataclass(frozen=True)
class _Block:
    """Quiet periods of every stream, shape (units, periods), in sigma from the center."""

    cell: Codes
    fitted: dict[str, Floats]
    alone: dict[str, Floats]
    """With units independent; empty where not wanted."""


@dataclass(frozen=True)
class _Counted:
    """Episodes of each stream in the periods of a block, for each multiple."""

    cell: Codes
    fitted: Sequence[dict[str, Codes]]
    alone: Sequence[dict[str, Codes]]


@dataclass(frozen=True)
class _Tally:
    """Episodes of each stream's location chart and EWMA in every quiet period of the second sample."""

    fitted: dict[str, Codes]
    alone: dict[str, Codes]
    weight: Floats
    """How much more often a period of ``fitted`` occurs than it was drawn."""


def set_lines(layers: Sequence[QuietCharts], rules: LineRules, months: float) -> AlarmBudget | None:
    """The multiple for all charts, and what it costs; None without charts.

    A plan's own ``sigma_multiple`` is taken as it is. Zone rules name their zones in whole sigma, so with them lines stay at 3.
    Otherwise the smallest multiple, at least 3, with which quiet periods show no more episodes on average than allowed.
    """
    layers = [layer for layer in layers if layer.streams]
    if not layers:
        return None
    allowed = rules.false_calls_per_month * months

    def rough(multiple: float) -> float:
        return sum(layer.rough_mean(multiple) for layer in layers)

    def mean(multiple: float) -> float:
        return sum(layer.total(multiple)[0] for layer in layers)

    if rules.sigma_multiple is not None:
        multiple, how = rules.sigma_multiple, "plan"
    elif not all(word.startswith("1of1_beyond3_") for word in rules.points):
        multiple, how = USUAL_MULTIPLE, "rules"
    else:
        multiple, how = _chosen(layers, rough, mean, allowed)
    counts = [layer.total_counts(multiple) for layer in layers]
    shortest = min(len(x) for x, _ in counts)
    together = np.asarray(sum(x[:shortest] for x, _ in counts))
    weight = np.prod([x[:shortest] for _, x in counts], axis=0)
    return AlarmBudget(
        false_calls_per_month=rules.false_calls_per_month,
        months=months,
        allowed=allowed,
        sigma_multiple=multiple,
        how=how,
        charts=sum(len(layer.streams) for layer in layers),
        expected=mean(multiple),
        standard_error=math.sqrt(sum(layer.total(multiple)[1] ** 2 for layer in layers)),
        most_expected=float(summarize_counts(together, weight).upper_99),
        independent=sum(layer.independent(multiple) for layer in layers),
        three_sigma=sum(layer.three_sigma() for layer in layers),
    )


def _chosen(
    layers: Sequence[QuietCharts], rough: Callable[[float], float], mean: Callable[[float], float], allowed: float
) -> tuple[float, str]:
    """The smallest multiple that keeps the budget: about where by the first sample, to the hundredth by the second."""
    low = round(100 * USUAL_MULTIPLE)
    about = low if rough(USUAL_MULTIPLE) <= allowed else round(100 * _smallest(rough, allowed))
    known: dict[float, float] = {}
    while True:
        # Each multiple is counted once, in one of the windows side by side; so the search ends.
        near = [k / 100 for k in range(max(low, about - 2), min(about + 2, round(100 * WIDEST_MULTIPLE)) + 1)]
        for layer in layers:
            layer.count(near)
        known |= {multiple: mean(multiple) for multiple in near}
        kept = [multiple for multiple in known if known[multiple] <= allowed]
        if not kept:
            if near[-1] >= WIDEST_MULTIPLE:
                return WIDEST_MULTIPLE, "widest"
            about += 5
            continue
        best = round(100 * min(kept))
        if best == low:
            return USUAL_MULTIPLE, "three sigma"
        if (best - 1) / 100 in known:
            return best / 100, "budget"
        about -= 5


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


def _ewma_sd(streams: Sequence[tuple[str, Floats]], breaks: Mapping[str, NDArray[np.bool_]], smoothing: float) -> float:
    """Standard deviation of the EWMA over the later half of each period, in sigma of a point."""
    if not smoothing:
        return math.nan
    squares, count = 0.0, 0
    for stream, z in streams:
        level = np.zeros(z.shape[1])
        own = breaks.get(stream)
        for k, points in enumerate(z):
            if own is not None and own[k]:
                level[:] = 0.0
            level += smoothing * (points - level)
            if 2 * k >= len(z) - 1:
                squares += float(level @ level)
                count += len(level)
    return math.sqrt(squares / count) if count else 1.0
