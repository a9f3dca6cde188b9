"""What a plan of readings can tell before it is carried out, and the search for the extent of a bad area."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._acceptance_rules import AcceptanceRule, core_limits
from steadyfilm._format import number, plural, window_text, with_unit
from steadyfilm._lengths import in_one_unit
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

if TYPE_CHECKING:
    from steadyfilm._acceptance import Acceptance

__all__ = [
    "DirectionState",
    "ExtentSearch",
    "FilmSpread",
    "PlanCurve",
    "acceptance_curve",
    "average_acceptance_probability",
    "below_share_probability",
    "film_spread",
    "search_extent",
]

Floats = NDArray[np.float64]

SOURCES = ("cpp/methods/film_thickness.md",)
STEP = {"mil": 5.0, "um": 1.5}
STEP_UNIT = {"mil": "ft", "um": "m"}
DIRECTIONS = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def below_share_probability(mean_ratio: float, cv: float, fraction: float, *, reading_count: int = 1) -> float:
    """Chance that at least one of independent normal readings lies below a fraction of the nominal value.

    A rule on single readings is a rule on the least of them: the more are taken, the more often good film fails.

    Parameters
    ----------
    mean_ratio, cv : float
        True mean over nominal value, and coefficient of variation of the readings.
    fraction : float
        For example 0.8.
    reading_count : int
        Readings taken.

    Examples
    --------
    >>> [round(below_share_probability(1.15, 0.12, 0.8, reading_count=n), 3) for n in (5, 30, 100)]
    [0.028, 0.155, 0.43]
    """
    return _core.below_share_probability(mean_ratio, cv, fraction, reading_count)


def average_acceptance_probability(
    location_count: int,
    readings_per_location: int,
    *,
    true_mean_um: float | None = None,
    true_mean_mil: float | None = None,
    lower_um: float | None = None,
    lower_mil: float | None = None,
    sigma_location_um: float | None = None,
    sigma_location_mil: float | None = None,
    sigma_repeat_um: float | None = None,
    sigma_repeat_mil: float | None = None,
) -> float:
    """Chance that the average of a unit reads at least ``lower``, for normal variation from place to place and in repeats.

    An average-based rule has no guard band: at a true mean on the limit itself it passes half of the units.

    Examples
    --------
    >>> spread = {"sigma_location_mil": 0.13, "sigma_repeat_mil": 0.05}
    >>> [round(average_acceptance_probability(5, 3, true_mean_mil=m, lower_mil=2.0, **spread), 3) for m in (1.9, 2.0, 2.1)]
    [0.047, 0.5, 0.953]
    """
    _, given = in_one_unit(
        ("true_mean", "lower", "sigma_location", "sigma_repeat"),
        true_mean=(true_mean_um, true_mean_mil),
        lower=(lower_um, lower_mil),
        sigma_location=(sigma_location_um, sigma_location_mil),
        sigma_repeat=(sigma_repeat_um, sigma_repeat_mil),
    )
    spread = (given["sigma_location"], given["sigma_repeat"])
    return _core.average_acceptance_probability(
        given["true_mean"], given["lower"], *spread, location_count, readings_per_location
    )


# -- operating curve ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class PlanCurve(Result):
    """Share of units that a rule passes, by their true mean, in ``made.unit``; simulated, with its standard error.

    ``at_mean`` is the mean asked about, NaN for none; ``pass_probability`` and ``reject_probability`` are those there.
    """

    rule: AcceptanceRule
    window: SpecLimits
    true_mean: Floats
    probability: Floats
    standard_error: Floats
    at_mean: float
    pass_probability: float
    reject_probability: float
    areas: int
    spots: int
    readings: int

    _plot: ClassVar[str] = "film_thickness:plot_operating_curve"

    def sentence(self) -> str:
        unit, size = self.made.unit, self.areas * self.spots * self.readings
        plan = f"{plural(size, 'reading')} ({plural(self.areas, 'area')} of {plural(self.spots, 'spot')} of {self.readings})"
        by = f"by {self.rule.title}, film {window_text(self.window.lower, self.window.upper, unit)}"
        if np.isfinite(self.at_mean):
            draws = int(self.made.options["draws"])
            # None of n: 95 % sure that it is fewer than 3 of n.
            often = f"{number(100 * self.reject_probability, 2)} % of cases"
            if self.reject_probability == 0.0:
                often = f"fewer than {number(np.ceil(3e6 / draws) / 1e4, 2)} % of cases (none of {draws} simulated)"
            return f"A unit of true mean {with_unit(self.at_mean, unit)} is rejected {by} with {plan} in {often}."
        best = int(np.argmax(self.probability))
        share = number(100 * float(self.probability[best]), 3)
        return f"With {plan}, {by}, at most {share} % of units pass, those of true mean {with_unit(self.true_mean[best], unit)}."

    def _columns(self) -> dict[str, Any]:
        return {
            f"true_mean_{self.made.unit}": self.true_mean,
            "pass_probability": self.probability,
            "standard_error": self.standard_error,
        }

    def explain(self) -> Explanation:
        i = int(np.argmin(np.abs(self.probability - 0.5)))
        p = float(self.probability[i])
        draws = self.made.options["draws"]
        error = {"probability": p, "draws": draws}
        steps = [
            Step(
                "standard_error_nearest_one_half", "sqrt(probability * (1 - probability) / draws)", error, self.standard_error[i]
            )
        ]
        if np.isfinite(self.at_mean):
            inputs = {"pass_probability": self.pass_probability}
            steps.insert(0, Step("reject_probability", "1 - pass_probability", inputs, self.reject_probability))
        else:
            counts = {"spots_per_area": self.spots, "readings_per_spot": self.readings, "areas": self.areas}
            steps.insert(0, Step("made_count", "areas * spots_per_area * readings_per_spot", counts, self.made.count))
        options = self.made.options
        spread = ", ".join(f"{name} {number(options[f'sigma_{name}'], 4)}" for name in ("area", "location", "repeat"))
        return Explanation(
            self.sentence(),
            tuple(steps),
            {
                "grade": f"simulated, {draws} units a mean, seed {options['seed']}",
                "standard error": f"at most {number(0.5 / draws**0.5, 2)}",
                "standard deviations": f"{spread} ({self.made.unit}), normal, the same at every mean",
                "rule": self.rule.words(),
                "gauge": "without bias",
            },
            SOURCES,
        )


def acceptance_curve(
    rule: AcceptanceRule,
    *,
    unit: str,
    window: SpecLimits,
    sigma_location: float,
    sigma_repeat: float = 0.0,
    sigma_area: float = 0.0,
    areas: int = 1,
    spots: int | None = None,
    readings: int | None = None,
    true_means: Sequence[float] | None = None,
    at_mean: float | None = None,
    draws: int = 10_000,
    seed: int = 1,
) -> PlanCurve:
    """Operating curve of a rule and a plan: how often units of a true mean pass.

    Parameters
    ----------
    rule : AcceptanceRule
    unit : {"mil", "um"}
        Unit of all lengths of the call.
    window : SpecLimits
        What the contract asks for.
    sigma_location, sigma_repeat, sigma_area : float
        Standard deviation from spot to spot inside an area, of readings of a spot, and from area to area.
    areas, spots, readings : int, optional
        Areas, spots an area and readings a spot; by default 1 and what the rule needs at least.
    true_means : sequence of float, optional
        Where to compute the curve; by default 25 means around the window.
    at_mean : float, optional
        One true mean to be answered for by itself.
    draws, seed : int
        Simulated units, and the seed: the same call gives the same numbers.

    Examples
    --------
    >>> from steadyfilm.film_thickness import area_rule
    >>> window = SpecLimits(2.0, 2.2)
    >>> curve = acceptance_curve(area_rule(), unit="mil", window=window, sigma_location=0.13, at_mean=2.1, draws=500)
    >>> 0.7 < curve.pass_probability < 1.0, curve.spots, curve.readings
    (True, 5, 3)
    """
    core = core_limits(rule, window)
    spots = rule.spots_per_area if spots is None else spots
    readings = rule.readings_per_spot if readings is None else readings
    means = [float(x) for x in true_means] if true_means is not None else _around(window, sigma_location, sigma_repeat)
    asked = [] if at_mean is None else [float(at_mean)]
    found = _core.operating_curve(
        core, areas, spots, readings, sigma_area, sigma_location, sigma_repeat, [*means, *asked], draws, seed
    )
    passes = float(found["probability"][-1]) if asked else float("nan")
    options = {"sigma_area": sigma_area, "sigma_location": sigma_location, "sigma_repeat": sigma_repeat}
    return PlanCurve(
        made=Made(
            "acceptance_curve",
            unit,
            areas * spots * readings,
            options={**options, "draws": draws, "seed": seed},
            version=_core.version,
        ),
        rule=rule,
        window=window,
        true_mean=frozen(np.array(means)),
        probability=frozen(found["probability"][: len(means)].copy()),
        standard_error=frozen(found["standard_error"][: len(means)].copy()),
        at_mean=asked[0] if asked else float("nan"),
        pass_probability=passes,
        reject_probability=1 - passes,
        areas=areas,
        spots=spots,
        readings=readings,
    )


def _around(window: SpecLimits, sigma_location: float, sigma_repeat: float) -> list[float]:
    ends = [x for x in (window.lower, window.upper) if x is not None]
    reach = max(3.0 * float(np.hypot(sigma_location, sigma_repeat)), 0.05 * max(ends))
    low, high = max(min(ends) - reach, 0.0), max(ends) + reach
    return [float(x) for x in np.linspace(low, high, 25)]


@dataclass(frozen=True)
class FilmSpread:
    """What judged readings say of the film: mean over units, and standard deviations (NaN where there is no repetition)."""

    mean: float
    sigma_area: float
    sigma_location: float
    sigma_repeat: float


def film_spread(found: Acceptance) -> FilmSpread:
    """Mean and standard deviations inside units, pooled over units, from the readings that were judged.

    From area to area and spot to spot by differences of mean squares, not below 0; spots count alike. Variation from unit to unit
    is in none of them.

    Examples
    --------
    >>> from steadyfilm.film_thickness import accept_film, area_rule
    >>> rows = {"place": [k // 3 for k in range(15)], "film": [2.1, 2.2, 2.0] * 5}
    >>> found = accept_film(rows, "film", rule=area_rule(), unit="mil", lower=2.0, upper=2.2, spot="place")
    >>> spread = film_spread(found)
    >>> round(spread.mean, 3), round(spread.sigma_location, 3), round(spread.sigma_repeat, 3)
    (2.1, 0.0, 0.1)
    """
    keep = ~np.isin(found.row, [item.row for item in found.discarded])
    at = np.repeat(np.arange(found.spots.mean.size), found.spots.readings)
    square = (found.value[keep] - found.spots.mean[at]) ** 2
    freedom = int(np.maximum(found.spots.readings - 1, 0).sum())
    repeat = float(square.sum()) / freedom if freedom else float("nan")
    there = found.spots.readings > 0
    if not there.any():
        raise InvalidInputError("every reading was left out: there is no spread to go by", argument="found")
    share = float(np.mean(1.0 / found.spots.readings[there]))
    keys = list(zip(found.spots.unit.tolist(), found.spots.area.tolist(), strict=True))
    location, per_area = _between(found.spots.mean[there], [key for key, ok in zip(keys, there, strict=True) if ok])
    area, _ = _between(found.areas.mean, found.areas.unit.tolist())
    within_spot = repeat * share if np.isfinite(repeat) else 0.0
    return FilmSpread(
        mean=float(np.nanmean(found.mean)),
        sigma_area=float(np.sqrt(max(area - location / per_area, 0.0))) if np.isfinite(area) else float("nan"),
        sigma_location=float(np.sqrt(max(location - within_spot, 0.0))) if np.isfinite(location) else float("nan"),
        sigma_repeat=float(np.sqrt(repeat)),
    )


def _between(values: Floats, keys: Sequence[Any]) -> tuple[float, float]:
    """Variance of values inside their groups, pooled, and how many there are a group on average."""
    groups: dict[Any, list[float]] = {}
    for key, value in zip(keys, values.tolist(), strict=True):
        if np.isfinite(value):
            groups.setdefault(key, []).append(value)
    freedom = sum(len(group) - 1 for group in groups.values())
    squares = sum(float(np.var(group)) * len(group) for group in groups.values())
    size = sum(map(len, groups.values())) / len(groups) if groups else float("nan")
    return (squares / freedom if freedom else float("nan")), size


# -- extent of a bad area -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class DirectionState:
    """One direction of a search; distances from the bad spot in the search's step unit.

    ``state`` is "closed" (enough conforming spots in a row), "edge" (nothing further was coated in that shift) or "open".
    """

    direction: str
    measured: int
    conforming_run: int
    reach: float
    next_at: float
    state: str


@dataclass(frozen=True, eq=False, repr=False)
class ExtentSearch(Result):
    """Where the outward search around a spot that failed stands; ``reach`` is the farthest spot that does not conform."""

    origin: str
    window: SpecLimits
    directions: tuple[DirectionState, ...]
    step: float
    step_unit: str
    direction_count: int
    closed_count: int
    edge_count: int
    open_count: int
    reach: float

    def sentence(self) -> str:
        at = f"around {self.origin}"
        found = f"film outside {window_text(self.window.lower, self.window.upper, self.made.unit)} reaches"
        far = f"{found} {with_unit(self.reach, self.step_unit)} from it so far"
        if not self.open_count:
            far = f"{found} at most {with_unit(self.reach, self.step_unit)} from it" if self.reach else "no further spot is bad"
            return f"The search {at} is complete: {far}."
        waiting = [x for x in self.directions if x.state == "open"]
        todo = ", ".join(f"{x.direction} at {with_unit(x.next_at, self.step_unit)}" for x in waiting)
        done = self.closed_count + self.edge_count
        return (
            f"The search {at} is open, {done} of {plural(self.direction_count, 'direction')} done; {far}. Measure next: {todo}."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "direction": [x.direction for x in self.directions],
            "state": [x.state for x in self.directions],
            "measured": [x.measured for x in self.directions],
            "conforming_run": [x.conforming_run for x in self.directions],
            f"reach_{self.step_unit}": [x.reach for x in self.directions],
            f"next_at_{self.step_unit}": [x.next_at for x in self.directions],
        }

    def explain(self) -> Explanation:
        counts = {"direction_count": self.direction_count, "closed_count": self.closed_count, "edge_count": self.edge_count}
        return Explanation(
            self.sentence(),
            (Step("open_count", "direction_count - closed_count - edge_count", counts, self.open_count),),
            {
                "limits": "the contract's own, without any allowance for spots (seen in excerpt)",
                "closed": f"{plural(self.made.options['needed'], 'conforming spot')} in a row (two: seen in excerpt)",
                "steps": f"every {with_unit(self.step, self.step_unit)}",
                "eight directions": "from memory",
            },
            SOURCES,
        )


def search_extent(
    spots: Mapping[str, Sequence[float]],
    *,
    origin: str,
    unit: str,
    lower: float | None = None,
    upper: float | None = None,
    edges: Sequence[str] = (),
    needed: int = 2,
    step: float | None = None,
    step_unit: str | None = None,
) -> ExtentSearch:
    """Keep the books of a search outward from a spot that failed.

    Go out from the bad spot in steps of 5 ft (1.5 m) in every direction until two spots in a row keep the contract's own limits,
    or nothing further was coated in that shift. On small parts where no such grid fits, units before and after take the place
    of spots: ``step=1, step_unit="units"``.

    Parameters
    ----------
    spots : mapping of direction to spot means
        Nearest first; an empty sequence for a direction not begun. Without keys of your own use the eight compass points.
    origin : str
        What the bad spot is called.
    unit : {"mil", "um"}
        Unit of the spots and limits.
    lower, upper : float, optional
        The contract's limits; at least one.
    edges : sequence of str
        Directions where nothing further was coated.
    needed : int
        Conforming spots in a row that close a direction.
    step, step_unit
        Distance of spots; 5 ft for mil, 1.5 m for um.

    Examples
    --------
    >>> found = search_extent({"left": [1.9, 2.0, 2.1], "right": [2.1]}, origin="roof 3", unit="mil", lower=2.0, upper=2.2)
    >>> print(found.sentence())
    The search around roof 3 is open, 1 of 2 directions done; film outside 2.0 to 2.2 mil reaches 5 ft from it so far.
        Measure next: right at 10 ft.
    """
    if unit not in STEP:
        raise InvalidInputError(f"unit must be 'mil' or 'um', got {unit!r}", argument="unit")
    if not spots:
        raise InvalidInputError(f"name the directions, for example {', '.join(DIRECTIONS)}", argument="spots")
    strange = [name for name in edges if name not in spots]
    if strange:
        raise InvalidInputError(f"edges names {strange}, which are no directions of the search", argument="edges")
    step = STEP[unit] if step is None else float(step)
    if not 0.0 < step < float("inf"):
        raise InvalidInputError(f"step must be above 0, got {step}", argument="step")
    window = SpecLimits(lower, upper)
    found = {name: _core.follow_direction([float(x) for x in way], (lower, upper), needed) for name, way in spots.items()}
    states = {name: "closed" if way["closed"] else "edge" if name in edges else "open" for name, way in found.items()}
    directions = tuple(
        DirectionState(
            direction=name,
            measured=way["measured"],
            conforming_run=way["conforming_run"],
            reach=step * way["reach"],
            next_at=step * (way["measured"] + 1) if states[name] == "open" else float("nan"),
            state=states[name],
        )
        for name, way in found.items()
    )
    tally = list(states.values())
    made = Made("search_extent", unit, sum(x.measured for x in directions), options={"needed": needed}, version=_core.version)
    return build(
        ExtentSearch,
        {
            "origin": origin,
            "window": window,
            "directions": directions,
            "step": step,
            "step_unit": step_unit or STEP_UNIT[unit],
            "direction_count": len(tally),
            "closed_count": tally.count("closed"),
            "edge_count": tally.count("edge"),
            "open_count": tally.count("open"),
            "reach": max(x.reach for x in directions),
        },
        made=made,
    )
