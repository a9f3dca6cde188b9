"""How many readings, and where: for a share of the window, a half width, the least cost, or a gauge study."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

from steadyfilm import _core
from steadyfilm._format import number, percent, plural, with_unit
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm._study_plan import (
    GaugeStudyInterval,
    GaugeStudyPlan,
    StudyMeanSquare,
    StudyOption,
    gauge_study_interval,
    plan_gauge_study,
)
from steadyfilm.errors import InvalidInputError

__all__ = [
    "GaugeStudyInterval",
    "GaugeStudyPlan",
    "HalfWidthReadings",
    "PlanOption",
    "ReadingPlan",
    "ShareReadings",
    "StudyMeanSquare",
    "StudyOption",
    "gauge_study_interval",
    "optimal_repeats",
    "plan_gauge_study",
    "plan_readings",
    "readings_for_half_width",
    "readings_for_window_share",
    "unit_average_uncertainty",
    "window_share",
]

_WHOLE = "-floor(-({}) * (1 - 0.000000001))"
"""The next whole number, but for a relative 1e-9: as the core rounds."""


@dataclass(frozen=True, eq=False, repr=False)
class ShareReadings(Result):
    """Readings whose average takes at most a share of the window; shares as fractions, the rest in the unit of the arguments.

    ``readings`` is None when no number does; ``share`` is then what endlessly many readings would leave.
    """

    readings: int | None
    share: float
    single_share: float
    wanted_share: float
    sigma_repeat: float
    sigma_common: float
    window_width: float

    def sentence(self) -> str:
        unit = self.made.unit
        window = f"the {with_unit(self.window_width, unit)} window"
        single = f"a single one takes {percent(self.single_share)}"
        if self.readings is None:
            shared = f"what all readings share ({with_unit(self.sigma_common, unit)}) takes {percent(self.share)} by itself"
            wanted = percent(self.wanted_share)
            return f"No number of readings brings the spread of the measurement to {wanted} of {window}: {shared}."
        if self.readings == 1:
            return f"One reading is enough: the spread of the measurement takes {percent(self.share)} of {window}."
        return (
            f"It takes the average of {plural(self.readings, 'reading')} to bring the spread of the measurement to "
            f"{percent(self.share)} of {window} ({percent(self.wanted_share)} wanted); {single}; a bias stays as it is."
        )

    def _columns(self) -> dict[str, Any]:
        counts = sorted({1, 2, 3, 5, 10, 15, 25, *([self.readings] if self.readings else [])})
        spread = self.made.options["sigma_spread"]
        u = [math.hypot(self.sigma_common, self.sigma_repeat / math.sqrt(n)) for n in counts]
        shares = [_core.window_share(one, self.window_width, spread) for one in u]
        return {"readings": counts, "standard_uncertainty": u, "share": shares}

    def explain(self) -> Explanation:
        spread = {"sigma_spread": float(self.made.options["sigma_spread"]), "window_width": self.window_width}
        single = {**spread, "sigma_common": self.sigma_common, "sigma_repeat": self.sigma_repeat}
        square = "sigma_common * sigma_common + sigma_repeat * sigma_repeat"
        steps = [Step("single_share", f"sigma_spread * sqrt({square}) / window_width", single, self.single_share)]
        if self.readings is None:
            inputs = {**spread, "sigma_common": self.sigma_common}
            steps.append(Step("share", "sigma_spread * sigma_common / window_width", inputs, self.share))
        else:
            steps.append(
                Step("share", f"sigma_spread * sqrt({square} / n) / window_width", {**single, "n": self.readings}, self.share)
            )
            allowed = self.wanted_share * self.window_width / spread["sigma_spread"]
            if self.sigma_repeat > 0.0:
                steps.insert(
                    0,
                    Step(
                        "allowed",
                        "wanted_share * window_width / sigma_spread",
                        {"wanted_share": self.wanted_share, **spread},
                        allowed,
                    ),
                )
                inputs = {"sigma_repeat": self.sigma_repeat, "sigma_common": self.sigma_common, "allowed": allowed}
                ratio = "sigma_repeat * sigma_repeat / (allowed * allowed - sigma_common * sigma_common)"
                steps.insert(1, Step("readings", _WHOLE.format(ratio), inputs, float(self.readings)))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "spread": f"{number(self.made.options['sigma_spread'])} standard uncertainties",
                "what averages out": "the repeats; not what all readings of a unit share, and no bias",
                "whole numbers": "the smallest that do; short by a relative 1e-9 counts as met",
            },
            sources=("cpp/methods/planning.md",),
        )


@dataclass(frozen=True, eq=False, repr=False)
class HalfWidthReadings(Result):
    """Readings for an interval of the mean of a given half width, in the unit of the arguments.

    ``half_width`` is what that number gives; ``normal_formula`` the usual (z sd / half width)^2, which asks for too few.
    """

    readings: int
    t: float
    half_width: float
    normal_formula: float
    sd: float
    wanted_half_width: float
    confidence_level: float

    def sentence(self) -> str:
        unit, level = self.made.unit, number(100 * self.confidence_level)
        text = (
            f"{plural(self.readings, 'reading')} with a standard deviation of {with_unit(self.sd, unit)} give the mean to "
            f"-+{with_unit(self.half_width, unit)} ({level} % interval; {with_unit(self.wanted_half_width, unit)} wanted)"
        )
        if self.readings > math.ceil(self.normal_formula):
            text += f"; the normal formula would ask for {math.ceil(self.normal_formula)}, too few"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        names = ["readings", "t", "half_width", "normal_formula"]
        return {"quantity": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        z = math.sqrt(self.normal_formula) * self.wanted_half_width / self.sd if self.sd else 0.0
        normal = {"z": z, "sd": self.sd, "wanted_half_width": self.wanted_half_width}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("half_width", "t * sd / sqrt(n)", {"t": self.t, "sd": self.sd, "n": self.readings}, self.half_width),
                Step("normal_formula", "z * z * sd * sd / (wanted_half_width * wanted_half_width)", normal, self.normal_formula),
            ),
            choices={
                "t": f"Student t with n - 1 = {self.readings - 1} degrees of freedom, two-sided",
                "n": "the smallest whole number whose half width is not above the wanted one; 2 or more",
                "readings": "independent: of one homogeneous spot, or one a unit; repeats on one unit tell of that unit alone",
            },
            sources=("NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.2.2 (from memory)", "cpp/methods/planning.md"),
        )


@dataclass(frozen=True)
class PlanOption:
    """One way to read a unit: places, repeats at each, what it costs and how well the average is then known."""

    location_count: int
    readings_per_location: int
    cost: float
    uncertainty: float


@dataclass(frozen=True, eq=False, repr=False)
class ReadingPlan(Result):
    """Where to spend readings; lengths in the unit of the arguments, costs in the caller's.

    ``location_count`` is 0 when no plan does; ``uncertainty`` is then the least that the places of a unit allow, or NaN when the
    budget does not pay for one reading. ``best_repeats`` is what the square-root formula gives for numbers that need not be whole
    (None without a spread from place to place). ``alternatives`` are the plans with 1, 2, 3, ... repeats a place.
    """

    location_count: int
    readings_per_location: int
    cost: float
    uncertainty: float
    best_repeats: float | None
    sigma_location: float
    sigma_repeat: float
    sigma_common: float
    alternatives: tuple[PlanOption, ...]

    _plot: ClassVar[str] = "planning:plot_reading_plan"

    def sentence(self) -> str:
        unit, options = self.made.unit, self.made.options
        if self.location_count == 0:
            if options["uncertainty"] is None:
                return f"A cost of {number(options['budget'])} does not pay for one reading."
            return (
                f"No plan of up to {plural(options['most_places'], 'place')} knows the unit's average to "
                f"{with_unit(options['uncertainty'], unit)}: the least is {with_unit(self.uncertainty, unit)}."
            )
        plan = f"{_times(self.location_count, 'place')} with {plural(self.readings_per_location, 'reading')} each"
        known = f"the unit's average is known to {with_unit(self.uncertainty, unit, 3)}"
        if options["uncertainty"] is not None:
            wanted = with_unit(options["uncertainty"], unit, 3)
            text = f"Read {plan}: {known} ({wanted} wanted), at the least cost, {number(self.cost)}"
        else:
            text = f"Read {plan}: {known}, the best that a cost of {number(options['budget'])} buys"
        if self.readings_per_location == 1:
            text += "; more places beat repeats here, a repeat only catches a freak"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        rows = self.alternatives
        return {
            "location_count": [row.location_count for row in rows],
            "readings_per_location": [row.readings_per_location for row in rows],
            "readings": [row.location_count * row.readings_per_location for row in rows],
            "cost": [row.cost for row in rows],
            "uncertainty": [row.uncertainty for row in rows],
            "chosen": [
                (row.location_count, row.readings_per_location) == (self.location_count, self.readings_per_location)
                for row in rows
            ],
        }

    def explain(self) -> Explanation:
        options, steps = self.made.options, []
        sds = {"sigma_common": self.sigma_common, "sigma_location": self.sigma_location}
        if self.location_count:
            counts = {"a": self.location_count, "b": self.readings_per_location}
            square = "sigma_common * sigma_common + sigma_location * sigma_location / a + sigma_repeat * sigma_repeat / (a * b)"
            inputs = {**sds, "sigma_repeat": self.sigma_repeat, **counts}
            steps.append(Step("uncertainty", f"sqrt({square})", inputs, self.uncertainty))
            costs = {"cost_location": options["cost_location"], "cost_reading": options["cost_reading"]}
            steps.append(Step("cost", "a * (cost_location + b * cost_reading)", {**counts, **costs}, self.cost))
        elif options["uncertainty"] is not None:
            square = "sigma_common * sigma_common + sigma_location * sigma_location / most_places"
            steps.append(Step("uncertainty", f"sqrt({square})", {**sds, "most_places": options["most_places"]}, self.uncertainty))
        else:
            one = {"cost_location": options["cost_location"], "cost_reading": options["cost_reading"]}
            steps.append(Step("cost_of_one", "cost_location + cost_reading", one, sum(one.values())))
            steps.append(Step("cost", "0 * cost_of_one", {"cost_of_one": sum(one.values())}, self.cost))
        if self.best_repeats is not None:
            formula = "sigma_repeat / sigma_location * sqrt(cost_location / cost_reading)"
            inputs = {"sigma_repeat": self.sigma_repeat, "sigma_location": self.sigma_location}
            inputs |= {name: options[name] for name in ("cost_location", "cost_reading")}
            steps.append(Step("best_repeats", formula, inputs, self.best_repeats))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "plan": "the best of all whole-number plans; the square-root formula is only shown",
                "ties": "of equally cheap plans the more certain one, of equally certain ones the cheaper",
                "sigma_location": "of unit x place when every unit is read at the same places: their pattern is no error then",
            },
            sources=("Cochran, Sampling Techniques (1977), two-stage sampling (from memory)", "cpp/methods/planning.md"),
        )


def window_share(standard_uncertainty: float, *, window_width: float, sigma_spread: float = 6.0) -> float:
    """Part of a window that the spread of a measurement takes, as a fraction: ``sigma_spread`` uncertainties over the width.

    Raises
    ------
    InvalidInputError
        A negative uncertainty, a width that is not positive and finite.

    Examples
    --------
    >>> round(window_share(0.03, window_width=0.2), 3)
    0.9
    """
    return _core.window_share(standard_uncertainty, window_width, sigma_spread)


def readings_for_window_share(
    sigma_repeat: float,
    *,
    unit: str,
    window_width: float,
    share: float,
    sigma_common: float = 0.0,
    sigma_spread: float = 6.0,
) -> ShareReadings:
    """How many readings must be averaged so that the spread of the measurement takes at most a share of the window.

    Parameters
    ----------
    sigma_repeat : float
        Standard deviation of one reading among repeats.
    unit : str
        Unit of all lengths here.
    window_width : float
        Upper less lower limit; for a window with one limit, twice the distance of the mean from it.
    share : float
        Wanted, as a fraction: 0.3 for 30 %.
    sigma_common : float
        Standard deviation of what all readings of a unit share, such as the inspector's: no number of readings takes it out.
    sigma_spread : float
        Multiples of the standard uncertainty that count as the spread.

    Raises
    ------
    InvalidInputError
        A width, share or multiple not above 0, a negative standard deviation, or more than 1e9 readings.

    Examples
    --------
    >>> readings_for_window_share(0.05, unit="mil", window_width=0.2, share=0.3).readings
    25
    >>> print(readings_for_window_share(0.03, unit="mil", window_width=0.2, share=0.2, sigma_common=0.02).sentence())
    No number of readings brings the spread of the measurement to 20 % of the 0.2 mil window:
    what all readings share (0.02 mil) takes 60 % by itself.
    """
    found = _core.readings_for_window_share(sigma_repeat, window_width, share, sigma_common, sigma_spread)
    count = found.pop("readings")
    options = {"window_width": window_width, "share": share, "sigma_common": sigma_common, "sigma_spread": sigma_spread}
    return build(
        ShareReadings,
        found,
        made=Made("readings_for_window_share", unit, count, options=options, version=_core.version),
        readings=count or None,
        wanted_share=float(share),
        sigma_repeat=float(sigma_repeat),
        sigma_common=float(sigma_common),
        window_width=float(window_width),
    )


def readings_for_half_width(sd: float, *, unit: str, half_width: float, confidence_level: float = 0.95) -> HalfWidthReadings:
    """How many readings give the mean to a wanted half width, by Student t.

    Parameters
    ----------
    sd : float
        Standard deviation that the readings are expected to have.
    unit : str
        Unit of all lengths here.
    half_width : float
        Wanted: the mean -+ this.
    confidence_level : float
        Two-sided.

    Raises
    ------
    InvalidInputError
        A half width not above 0, a negative standard deviation, a confidence level not between 0 and 1, more than 1e9 readings.

    Examples
    --------
    >>> found = readings_for_half_width(0.05, unit="mil", half_width=0.02)
    >>> found.readings, round(found.normal_formula, 2)
    (27, 24.01)
    """
    found = _core.readings_for_half_width(sd, half_width, confidence_level)
    options = {"half_width": half_width, "confidence_level": confidence_level}
    return build(
        HalfWidthReadings,
        found,
        made=Made("readings_for_half_width", unit, found["readings"], options=options, version=_core.version),
        sd=float(sd),
        wanted_half_width=float(half_width),
        confidence_level=float(confidence_level),
    )


def unit_average_uncertainty(
    *,
    sigma_location: float,
    sigma_repeat: float,
    location_count: int,
    readings_per_location: int = 1,
    sigma_common: float = 0.0,
) -> float:
    """Standard uncertainty of a unit's average over places and repeats, in the unit of the arguments.

    ``sigma_location`` is the standard deviation from place to place in one unit; when the same places are read on every unit,
    that of unit x place. ``sigma_common`` is shared by all readings of the unit.

    Examples
    --------
    >>> sds = {"sigma_location": 0.13, "sigma_repeat": 0.05}
    >>> round(unit_average_uncertainty(**sds, location_count=5, readings_per_location=3), 3)
    0.06
    >>> round(unit_average_uncertainty(**sds, location_count=15), 3)
    0.036
    """
    return _core.unit_average_uncertainty(sigma_location, sigma_repeat, location_count, readings_per_location, sigma_common)


def optimal_repeats(*, sigma_location: float, sigma_repeat: float, cost_location: float, cost_reading: float) -> float:
    """Repeats a place that give most for the money if numbers need not be whole; ``plan_readings`` gives whole ones.

    Examples
    --------
    >>> round(optimal_repeats(sigma_location=0.13, sigma_repeat=0.05, cost_location=1.0, cost_reading=1.0), 2)
    0.38
    """
    return _core.optimal_repeats(sigma_location, sigma_repeat, cost_location, cost_reading)


def plan_readings(
    *,
    unit: str,
    sigma_location: float,
    sigma_repeat: float,
    sigma_common: float = 0.0,
    cost_location: float = 0.0,
    cost_reading: float = 1.0,
    uncertainty: float | None = None,
    budget: float | None = None,
    most_places: int = 100,
) -> ReadingPlan:
    """Places and repeats on a unit: the cheapest for a wanted uncertainty of its average, or the best for a budget.

    Parameters
    ----------
    unit : str
        Unit of all lengths here.
    sigma_location, sigma_repeat, sigma_common : float
        Standard deviation from place to place in one unit, of repeats at a place, and of what all readings of a unit share.
    cost_location, cost_reading : float
        Of going to a place and of a reading there, in any unit of cost, for example seconds.
    uncertainty, budget : float, optional
        One of them: the standard uncertainty wanted, or what a unit's readings may cost.
    most_places : int
        That a unit has room for.

    Raises
    ------
    InvalidInputError
        Neither or both of ``uncertainty`` and ``budget``; numbers out of their domain.

    Examples
    --------
    >>> plan = plan_readings(unit="mil", sigma_location=0.13, sigma_repeat=0.05, cost_location=2.0, uncertainty=0.05)
    >>> print(plan.sentence())
    Read 8 places with 1 reading each: the unit's average is known to 0.0492 mil (0.05 mil wanted),
    at the least cost, 24; more places beat repeats here, a repeat only catches a freak.
    """
    if (uncertainty is None) == (budget is None):
        raise InvalidInputError("give either uncertainty or budget", function="plan_readings", argument="uncertainty")
    given = (sigma_location, sigma_repeat, sigma_common, cost_location, cost_reading, most_places)
    found = _core.best_plan(*given, budget) if budget is not None else _core.cheapest_plan(*given, uncertainty or 0.0)
    best = _core.optimal_repeats(*given[:2], cost_location, cost_reading) if sigma_location > 0.0 else None
    options = {
        "cost_location": cost_location,
        "cost_reading": cost_reading,
        "uncertainty": uncertainty,
        "budget": budget,
        "most_places": most_places,
    }
    count = found["location_count"] * found["readings_per_location"]
    rows = [found] if count else []
    for repeats in range(1, max(5, found["readings_per_location"]) + 1):
        row = _with_repeats(repeats, given, uncertainty, budget)
        if row is not None and row not in rows:
            rows.append(row)
    rows.sort(key=lambda row: (row["readings_per_location"], row["location_count"]))
    return build(
        ReadingPlan,
        found,
        made=Made("plan_readings", unit, count, options=options, version=_core.version),
        best_repeats=best,
        sigma_location=float(sigma_location),
        sigma_repeat=float(sigma_repeat),
        sigma_common=float(sigma_common),
        alternatives=tuple(PlanOption(**row) for row in rows[:12]),
    )


def _with_repeats(
    repeats: int, given: tuple[float, float, float, float, float, int], uncertainty: float | None, budget: float | None
) -> dict[str, Any] | None:
    """The plan with that many repeats a place, or None when there is none."""
    sigma_location, sigma_repeat, sigma_common, cost_location, cost_reading, most_places = given
    each = cost_location + repeats * cost_reading
    if budget is not None:
        places = min(most_places, math.floor(budget / each * (1 + 1e-9)))
    else:
        room = (uncertainty or 0.0) ** 2 - sigma_common**2
        need = (sigma_location**2 + sigma_repeat**2 / repeats) / room if room > 0.0 else math.inf
        places = max(1, math.ceil(need * (1 - 1e-9))) if need <= most_places * (1 + 1e-9) else 0
    if places < 1:
        return None
    u = _core.unit_average_uncertainty(sigma_location, sigma_repeat, places, repeats, sigma_common)
    return {"location_count": places, "readings_per_location": repeats, "cost": places * each, "uncertainty": u}


def _times(count: int, word: str) -> str:
    return "one place" if count == 1 and word == "place" else plural(count, word)
