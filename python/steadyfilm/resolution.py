"""What the step of a display does: steps in the window, zero ranges, spread from rounded readings, and chart limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, percent, plural, window_text, with_unit
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm._subgroups import subgroup_starts
from steadyfilm.errors import InvalidInputError

__all__ = [
    "RoundedFit",
    "RoundingEffect",
    "WindowResolution",
    "ZeroRanges",
    "fit_rounded",
    "rounding_effect",
    "window_resolution",
    "zero_ranges",
]

Floats = NDArray[np.float64]

TENTH = "a display of a tenth of the window is the usual wish (common practice, no source)"
MANY_ZEROS = 0.25
"""Share of zero ranges beyond which limits from ranges are not to be trusted; common practice, no source."""


@dataclass(frozen=True, eq=False, repr=False)
class WindowResolution(Result):
    """How finely a display divides a window, in the unit of the arguments.

    ``steps`` is the width over the step, ``shown_inside`` the number of different readings that meet both limits,
    ``standard_uncertainty`` what the display alone contributes, ``step`` / sqrt(12).
    """

    lower: float
    upper: float
    step: float
    steps: float
    shown_inside: int
    wanted_step: float
    standard_uncertainty: float

    def sentence(self) -> str:
        unit = self.made.unit
        window = window_text(self.lower, self.upper, unit)
        steps = "1 step" if self.steps == 1.0 else f"{number(self.steps, 3)} steps"
        text = f"A display of {with_unit(self.step, unit)} divides the window of {window} into {steps}"
        if self.step <= self.wanted_step * (1 + 1e-9):
            return f"{text}, at least the ten that are usually wished for."
        return (
            f"{text} ({plural(self.shown_inside, 'different reading')} inside): too coarse, a display of "
            f"{with_unit(self.wanted_step, unit)} would make ten."
        )

    def _columns(self) -> dict[str, Any]:
        names = ["step", "steps", "shown_inside", "wanted_step", "standard_uncertainty"]
        return {"quantity": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        ends = {"upper": self.upper, "lower": self.lower}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("steps", "(upper - lower) / step", {**ends, "step": self.step}, self.steps),
                Step("wanted_step", "(upper - lower) / 10", ends, self.wanted_step),
                Step("standard_uncertainty", "step / sqrt(12)", {"step": self.step}, self.standard_uncertainty),
            ),
            choices={"wish": TENTH, "shown_inside": "multiples of the step; within a relative 1e-9 of a limit they meet it"},
            sources=(
                "JCGM 100:2008, 4.3.7 and F.2.2.1 (rectangular distribution of a digital display)",
                "cpp/methods/resolution.md",
            ),
        )


@dataclass(frozen=True, eq=False, repr=False)
class ZeroRanges(Result):
    """Groups of readings that are all alike. ``share`` of the ``groups`` with two or more readings, None without any."""

    groups: int
    zero: int
    single: int
    share: float | None

    def sentence(self) -> str:
        if self.share is None:
            return "No group has two readings, so that there is no range to look at."
        text = (
            f"{self.zero} of {plural(self.groups, 'range')} ({percent(self.share, 2)}) {'is' if self.zero == 1 else 'are'} zero"
        )
        if self.share > MANY_ZEROS:
            text += ": the display is too coarse for limits from ranges; take the spread from the likelihood of rounded readings"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        return {"groups": [self.groups], "zero": [self.zero], "single": [self.single], "share": [self.share]}

    def explain(self) -> Explanation:
        inputs = {"zero": self.zero, "groups": self.groups}
        step = Step("share", "zero / groups", inputs, self.share) if self.share is not None else None
        return Explanation(
            title=self.sentence(),
            steps=(step or Step("groups", "zero + others", {"zero": self.zero, "others": self.groups - self.zero}, self.groups),),
            choices={
                "zero": "all readings of the group equal as displayed",
                "single": f"{plural(self.single, 'group')} of one reading left out: no range",
                "flag": f"more than {percent(MANY_ZEROS, 2)} (common practice, no source)",
            },
            sources=("cpp/methods/resolution.md",),
        )


@dataclass(frozen=True, eq=False, repr=False)
class RoundedFit(Result):
    """Mean and standard deviation from rounded readings by maximum likelihood, in the unit of the data.

    ``sd`` is the maximum of the likelihood (divisor n when the step is small), ``sd_unbiased`` the same times sqrt(n / (n - 1)).
    ``sd_of_readings`` takes the readings as they stand, ``sheppard_sd`` is corrected for the step on average. With
    ``only_an_upper_limit`` the readings are one value or two neighbors, and any smaller spread explains them as well. ``shown``
    and ``counts`` are the different readings.
    """

    count: int
    mean: float
    mean_lower: float
    mean_upper: float
    sd: float
    sd_lower: float
    sd_upper: float
    sd_unbiased: float
    log_likelihood: float
    mean_of_readings: float
    sd_of_readings: float
    sheppard_sd: float
    only_an_upper_limit: bool
    shown: Floats
    counts: NDArray[np.int64]
    step: float
    confidence_level: float

    _plot: ClassVar[str] = "resolution:plot_rounded_fit"

    def sentence(self) -> str:
        unit, level = self.made.unit, number(100 * self.confidence_level)
        what = f"{plural(self.count, 'reading')} on a display of {with_unit(self.step, unit)}"
        if self.only_an_upper_limit:
            values = "one value" if self.shown.size == 1 else "two neighboring values"
            return (
                f"{what} show only {values}: their standard deviation is at most {with_unit(self.sd_upper, unit, 3)} "
                f"({level} %), and no lower limit can be given."
            )
        text = (
            f"{what} have a standard deviation of {with_unit(self.sd, unit, 3)} by the likelihood of rounded readings "
            f"({level} % interval {number(self.sd_lower, 3)} to {with_unit(self.sd_upper, unit, 3)})"
        )
        return f"{text}; as they stand they would give {with_unit(self.sd_of_readings, unit, 3)}."

    def _columns(self) -> dict[str, Any]:
        edges = np.append(self.shown - 0.5 * self.step, self.shown[-1] + 0.5 * self.step)
        return {"reading": self.shown, "from": edges[:-1], "to": self.shown + 0.5 * self.step, "count": self.counts}

    def explain(self) -> Explanation:
        n = {"n": self.count}
        squares = self.sd_of_readings**2 * (self.count - 1)
        steps = [
            Step("sd_of_readings", "sqrt(squares / (n - 1))", {"squares": squares, **n}, self.sd_of_readings),
            Step(
                "sheppard_sd",
                "sqrt(max(0, sd_of_readings * sd_of_readings - step * step / 12))",
                {"sd_of_readings": self.sd_of_readings, "step": self.step},
                self.sheppard_sd,
            ),
        ]
        if not self.only_an_upper_limit:
            steps.insert(0, Step("sd_unbiased", "sd * sqrt(n / (n - 1))", {"sd": self.sd, **n}, self.sd_unbiased))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "likelihood": "each reading is an interval of one step about it under a normal distribution",
                "interval": f"profile likelihood, {number(100 * self.confidence_level)} %: an approximation for few readings",
                "readings": "independent, of one homogeneous spot: one mean",
                "squares": "sum of the squared deviations of the readings from their mean",
            },
            sources=(
                "Burridge, Journal of the Royal Statistical Society B 43 (1981) 41: one maximum only (from memory)",
                "Sheppard, Proceedings of the London Mathematical Society 29 (1898) 353 (from memory)",
                "cpp/methods/resolution.md",
            ),
        )


@dataclass(frozen=True, eq=False, repr=False)
class RoundingEffect(Result):
    """What charts make of rounded readings of a steady normal process; one element a place of its mean between displayed values.

    ``place`` runs from 0 (on a displayed value) to 0.5 (half-way). ``sigma_ratio`` is the sigma that ranges give over the true
    one, ``false_alarm`` the chance that a point of the steady process lies beyond limits made from it, ``plain_false_alarm`` that
    without rounding.
    """

    sigma: float
    step: float
    subgroup_size: int
    place: Floats
    mean_range: Floats
    zero_range_share: Floats
    sigma_ratio: Floats
    sd_ratio: Floats
    false_alarm: Floats
    plain_false_alarm: float
    sigma_in_steps: float
    smallest_ratio: float
    largest_ratio: float

    def sentence(self) -> str:
        unit = self.made.unit
        low, high = number(self.smallest_ratio, 2), number(self.largest_ratio, 2)
        text = f"With sigma {with_unit(self.sigma, unit, 3)} and a display of {with_unit(self.step, unit)}, "
        if max(abs(1 - self.smallest_ratio), abs(1 - self.largest_ratio)) < 0.05:
            return f"{text}limits from ranges are right within 5 %, wherever the mean lies."
        share = f"{percent(float(self.zero_range_share.min()), 2)} to {percent(float(self.zero_range_share.max()), 2)}"
        worst = percent(float(self.false_alarm.max()), 2)
        return (
            f"{text}ranges give {low} to {high} times the true sigma, depending on where the mean lies between two displayed "
            f"values; {share} of the ranges are zero, and up to {worst} of the points of a steady process lie beyond such limits."
        )

    def _columns(self) -> dict[str, Any]:
        names = ["place", "mean_range", "zero_range_share", "sigma_ratio", "sd_ratio", "false_alarm"]
        return {name: getattr(self, name) for name in names}

    def explain(self) -> Explanation:
        i, j = int(self.sigma_ratio.argmin()), int(self.sigma_ratio.argmax())
        factor = _core.d2(max(2, self.subgroup_size))
        ratio = "mean_range / d2 / sigma"
        given = {"d2": factor, "sigma": self.sigma}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("sigma_in_steps", "sigma / step", {"sigma": self.sigma, "step": self.step}, self.sigma_in_steps),
                Step("smallest_ratio", ratio, {"mean_range": float(self.mean_range[i]), **given}, self.smallest_ratio),
                Step("largest_ratio", ratio, {"mean_range": float(self.mean_range[j]), **given}, self.largest_ratio),
            ),
            choices={
                "mean_range": "exact sum over the cells' edges of the chance that a subgroup lies on both sides",
                "chart": "individuals, moving ranges of 2" if self.subgroup_size == 1 else f"averages of {self.subgroup_size}",
                "limits": "3 sigma about the mean of the displayed readings, from the expected mean range",
                "a point on a limit": "belongs to the inner side",
                "distribution": "normal before rounding, independent readings, one mean",
            },
            sources=("cpp/methods/resolution.md",),
        )


def window_resolution(step: float, *, unit: str, lower: float, upper: float) -> WindowResolution:
    """How many steps of a display a window has, and how fine a display would do.

    Parameters
    ----------
    step : float
        Smallest difference that the display shows.
    unit : str
        Unit of all lengths here.
    lower, upper : float
        The window; a display cannot be judged by one limit.

    Raises
    ------
    InvalidInputError
        Limits that do not rise, a step not above 0.

    Examples
    --------
    >>> print(window_resolution(0.1, unit="mil", lower=2.0, upper=2.2).sentence())
    A display of 0.1 mil divides the window of 2.0 to 2.2 mil into 2 steps (3 different readings inside):
    too coarse, a display of 0.02 mil would make ten.
    """
    found = _core.window_steps(lower, upper, step)
    made = Made("window_resolution", unit, 1, options={"step": step, "lower": lower, "upper": upper}, version=_core.version)
    return build(WindowResolution, found, made=made, lower=float(lower), upper=float(upper), step=float(step))


def zero_ranges(
    data: Any, column: str | None = None, *, unit: str, subgroup_size: int | None = None, subgroup: Any = None
) -> ZeroRanges:
    """How many groups of readings are all alike: the sign of a display that is too coarse.

    Parameters
    ----------
    data : table, series, array or sequence
        Readings as displayed, the rows of a group following one another; a table needs ``column``.
    unit : str
        Unit of the readings.
    subgroup_size, subgroup : optional
        One of them: rows a group, or the column or sequence of the groups' labels.

    Raises
    ------
    InvalidInputError, DataProblemsError
        Missing readings, rows that do not fill the groups, labels that come back.

    Examples
    --------
    >>> zero_ranges([2.1, 2.1, 2.1, 2.1, 2.2, 2.1], unit="mil", subgroup_size=3).share
    0.5
    """
    given = readings(data, column)
    starts, _ = subgroup_starts(data, subgroup_size, subgroup, given.values.size)
    found = _core.zero_ranges(given.values, [*(int(start) for start in starts), given.values.size])
    made = Made("zero_ranges", unit, given.values.size, frame=given.frame, version=_core.version)
    return build(ZeroRanges, found, made=made, share=found["zero"] / found["groups"] if found["groups"] else None)


def fit_rounded(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    step: float,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> RoundedFit:
    """Mean and standard deviation from rounded readings, by likelihood: a reading says only between which values it lay.

    Parameters
    ----------
    data : table, series, array or sequence
        Two or more readings of one spot, as displayed; a table needs ``column``.
    unit : str
        Unit of the readings and the step.
    step : float
        Of the display. Each reading must lie within 2 % of a step of a multiple of it.
    confidence_level : float
        Of the profile likelihood intervals.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    InvalidInputError
        Fewer than two readings, one off the display's grid, a step not above 0.

    Examples
    --------
    >>> found = fit_rounded([2.0, 2.1, 2.1, 2.2, 2.1, 2.0, 2.1, 2.1], unit="mil", step=0.1)
    >>> round(found.mean, 3), found.sd < found.sd_of_readings
    (2.087, True)
    """
    given = readings(data, column, missing=missing)
    found = _core.fit_rounded(given.values, step, confidence_level)
    made = Made(
        function="fit_rounded",
        unit=unit,
        count=given.values.size,
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={"step": step, "confidence_level": confidence_level, "missing": missing},
        version=_core.version,
    )
    return build(RoundedFit, found, made=made, step=float(step), confidence_level=float(confidence_level))


def rounding_effect(sigma: float, *, unit: str, step: float, subgroup_size: int = 1, places: int = 11) -> RoundingEffect:
    """What a chart with limits from ranges makes of rounded readings, wherever the mean lies between two displayed values.

    Parameters
    ----------
    sigma : float
        True standard deviation inside a subgroup.
    unit : str
        Unit of sigma and step.
    step : float
        Of the display.
    subgroup_size : int
        1 for single readings with moving ranges of 2, else 2 to 30.
    places : int
        How many places of the mean, from a displayed value to half-way, are computed; 2 or more.

    Raises
    ------
    InvalidInputError
        sigma or step not above 0, a size or number of places out of range.

    Examples
    --------
    >>> found = rounding_effect(0.03, unit="mil", step=0.1, subgroup_size=3)
    >>> round(found.smallest_ratio, 2), round(found.largest_ratio, 2)
    (0.54, 1.48)
    """
    if places < 2:
        raise InvalidInputError(f"places must be 2 or more, got {places}", function="rounding_effect", argument="places")
    at = np.linspace(0.0, 0.5, places)
    found = [_core.rounding_effect(sigma, step, float(place) * step, subgroup_size) for place in at]
    names = ("mean_range", "zero_range_share", "sigma_ratio", "sd_ratio", "false_alarm")
    columns = {name: frozen(np.array([one[name] for one in found])) for name in names}
    options = {"sigma": sigma, "step": step, "subgroup_size": subgroup_size, "places": places}
    return RoundingEffect(
        made=Made("rounding_effect", unit, places, options=options, version=_core.version),
        sigma=float(sigma),
        step=float(step),
        subgroup_size=subgroup_size,
        place=frozen(at),
        **columns,
        plain_false_alarm=2.0 * _core.normal_cdf(-3.0),
        sigma_in_steps=sigma / step,
        smallest_ratio=float(columns["sigma_ratio"].min()),
        largest_ratio=float(columns["sigma_ratio"].max()),
    )
