"""The spread between locations of one unit: its chart lines, and whose units have become uneven.

The usual pattern of locations is taken off first: the same places are heavy on every body, and that is no spread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._review.series import Level, Usual, named_level
from steadyfilm.distributions import f_quantile, f_survival

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits

Floats = NDArray[np.float64]

FEWEST_BASELINE_UNITS = 20
FEWEST_UNITS = 5
NO_SPREAD = 1e-12
"""A standard deviation below this share of the largest film is a rest of rounding."""
SMALLEST_RATIO = 1.25
"""A standard deviation that grew by less than a quarter is not told."""


@dataclass(frozen=True)
class Lines:
    """Center and limits of one panel; NaN where there are none."""

    center: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Spreads:
    """Standard deviation between locations of each unit, the pattern taken off; empty where it cannot be had."""

    base: Floats
    month: Floats
    pooled: float
    """Root mean square of the units that the limits come from."""
    source: int
    """How many units these are."""
    freedom: int
    """Degrees of freedom of one unit: locations less one; 0 without spreads."""
    pattern_rms: float = 0.0
    """Root mean square of the usual pattern of locations."""

    def lines(self, multiple: float) -> Lines:
        """Limits of the spread chart."""
        if not self.freedom:
            return Lines(math.nan, math.nan, math.nan)
        reach = spread_reach(self.freedom, multiple)
        center = mean_chi(self.freedom)
        return Lines(*(self.pooled * x for x in (center, max(2.0 * center - reach, 0.0), reach)))


@dataclass(frozen=True)
class Uneven:
    """Units of one level that vary more from place to place than usual, in the working unit."""

    layer: str
    column: str
    value: str
    sd: float
    usual_sd: float
    ratio_lower: float
    ratio_upper: float
    """Interval of sd over usual_sd."""
    units: int
    first_unit: str
    last_unit: str
    own: bool
    """Whether ``usual_sd`` is that of the same level; otherwise of all baseline units."""
    chance: float
    """Of so large a ratio if nothing changed, times the levels compared."""

    @property
    def who(self) -> str:
        """Whose units."""
        return named_level(self.column, self.value)

    @property
    def whose(self) -> str:
        """These units in words."""
        return f"units of {self.who}" if self.column else self.who


def mean_chi(freedom: int) -> float:
    """Mean of a chi variate over the root of its degrees of freedom (c4)."""
    return math.sqrt(2.0 / freedom) * math.exp(math.lgamma((freedom + 1) / 2.0) - math.lgamma(freedom / 2.0))


def spread_reach(freedom: int, multiple: float) -> float:
    """Upper limit of a standard deviation over the true one: c4 + multiple sqrt(1 - c4^2); NaN without spreads."""
    if not freedom:
        return math.nan
    ratio = mean_chi(freedom)
    return ratio + multiple * math.sqrt(max(1.0 - ratio**2, 0.0))


def unit_spreads(base: LayerUnits | None, month: LayerUnits) -> Spreads:
    """Spread of each unit, and what s-chart limits need of the baseline, or without one of the month itself."""
    source = base if base is not None else month
    nothing = Spreads(np.empty(0), np.empty(0), math.nan, 0, 0)
    if len(source) < FEWEST_BASELINE_UNITS or not len(month):
        return nothing
    # Places are matched by name: each file lists them in an order of its own, and one file may have more of them.
    shared = [name for name in month.locations if name in source.locations]
    ours, theirs = (units.spots[:, [units.locations.index(name) for name in shared]] for units in (month, source))
    usual = ~np.isnan(theirs).any(axis=0) & ~np.isnan(ours).any(axis=0)
    freedom = int(usual.sum()) - 1
    if freedom < 1:
        return nothing

    def centered(spots: Floats) -> Floats:
        spots = spots[:, usual]
        return np.asarray(spots - spots.mean(axis=1, keepdims=True))

    pattern = centered(theirs).mean(axis=0)
    squares = [np.square(centered(spots) - pattern).sum(axis=1) / freedom for spots in (theirs, ours)]
    # The pattern itself was estimated from the source: one unit's worth of freedom is gone.
    pooled = math.sqrt(float(squares[0].sum()) / (len(source) - 1))
    # What rounding leaves of an exact pattern is no spread.
    if not pooled > NO_SPREAD * float(np.abs(theirs[:, usual]).max()):
        return nothing
    usual_spread = np.sqrt(squares[0]) if base is not None else np.empty(0)
    return Spreads(usual_spread, np.sqrt(squares[1]), pooled, len(source), freedom, math.sqrt(float(np.mean(pattern**2))))


def uneven_levels(
    spreads: Spreads, month: LayerUnits, usual: Usual, *, significance: float, confidence_level: float
) -> tuple[Uneven, ...]:
    """Levels whose units have become uneven, the clearest first; its units are then left out of the comparison of the rest.

    Variances are compared by F, for locations that vary normally about the pattern; every level counts as a comparison.
    """
    first = len(spreads.base)
    if not first or not len(spreads.month):
        return ()
    squares = np.square(spreads.month)
    open_units = np.ones(len(squares), dtype=bool)
    found: list[Uneven] = []
    while True:
        compared = [x for x in (_compare(spreads, squares, open_units, level, first) for level in usual.levels) if x is not None]
        if not compared:
            return tuple(found)
        chance, ratio, sd, usual_sd, at, freedom, own, level = min(compared, key=lambda x: x[0])
        chance *= len(usual.levels)
        if chance > significance or math.sqrt(ratio) < SMALLEST_RATIO:
            return tuple(found)
        tail = (1.0 - confidence_level) / 2.0
        units = [month.units[i] for i in np.flatnonzero(at)]
        found.append(
            Uneven(
                layer=month.layer.name,
                column=level.column,
                value=level.value,
                sd=sd,
                usual_sd=usual_sd,
                ratio_lower=math.sqrt(ratio / f_quantile(1.0 - tail, *freedom)),
                ratio_upper=math.sqrt(ratio / f_quantile(tail, *freedom)),
                units=len(units),
                first_unit=units[0],
                last_unit=units[-1],
                own=own,
                chance=chance,
            )
        )
        open_units &= ~at


_Compared = tuple[float, float, float, float, NDArray[np.bool_], tuple[float, float], bool, Level]


def _compare(spreads: Spreads, squares: Floats, open_units: NDArray[np.bool_], level: Level, first: int) -> _Compared | None:
    """Chance, variance ratio and what it is made of, for the units of one level that are still compared."""
    at = level.units[first:] & open_units
    before = level.units[:first]
    own = int(before.sum()) >= FEWEST_BASELINE_UNITS
    base = np.square(spreads.base[before] if own else spreads.base)
    if at.sum() < FEWEST_UNITS:
        return None
    freedom = (float(at.sum() * spreads.freedom), float((len(base) - 1) * spreads.freedom))
    variance, usual = float(squares[at].mean()), float(base.sum() / (len(base) - 1))
    if not usual > 0:
        return None
    chance = f_survival(variance / usual, *freedom)
    return chance, variance / usual, math.sqrt(variance), math.sqrt(usual), at, freedom, own, level
