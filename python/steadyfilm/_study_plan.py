"""How large a gauge study must be: the interval of the measurement standard deviation that a study of some size gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from steadyfilm import _core
from steadyfilm._format import number, plural, with_unit
from steadyfilm._result import Explanation, Made, Result, Step, build

SOURCES = (
    "Burdick, Borror and Montgomery, Journal of Quality Technology 35 (2003) 342: modified large sample interval (from memory)",
    "Satterthwaite, Biometrics Bulletin 2 (1946) 110 (from memory)",
    "cpp/methods/planning.md",
)


@dataclass(frozen=True)
class StudyMeanSquare:
    """A line of the analysis of variance to be expected, and its weight in the measurement variance."""

    weight: float
    expected: float
    degrees_of_freedom: float


@dataclass(frozen=True, eq=False, repr=False)
class GaugeStudyInterval(Result):
    """The interval of the measurement standard deviation (GRR) that a study of this size gives, in the unit of the arguments.

    ``lower`` and ``upper`` hold when every mean square comes out at its expectation; ``mean_lower`` and ``mean_upper`` are averages
    over all such studies. A relative width is the width over ``sigma_measurement``.
    """

    parts: int
    appraisers: int
    trials: int
    readings: int
    sigma_measurement: float
    lower: float
    upper: float
    relative_width: float
    degrees_of_freedom: float
    mean_squares: tuple[StudyMeanSquare, ...]
    mean_lower: float
    mean_upper: float
    mean_relative_width: float

    def sentence(self) -> str:
        unit, level = self.made.unit, number(100 * self.made.options["confidence_level"])
        size = f"{plural(self.parts, 'part')}, {plural(self.appraisers, 'appraiser')} and {plural(self.trials, 'trial')}"
        text = (
            f"A gauge study of {size} ({plural(self.readings, 'reading')}) that finds a measurement sd of "
            f"{with_unit(self.sigma_measurement, unit, 3)} knows it to {number(self.lower, 3)} to {with_unit(self.upper, unit, 3)} "
            f"({level} % interval)"
        )
        if self._appraisers_rule():
            text += f"; its upper end comes from there being only {plural(self.appraisers, 'appraiser')}, more parts do not help"
        return text + "."

    def _appraisers_rule(self) -> bool:
        """Whether most of the upper end comes from the line between appraisers."""
        if self.appraisers == 1 or self.made.options["method"] != "modified_large_sample":
            return False
        reach = [self._reach(line, upward=True) * line.weight * line.expected for line in self.mean_squares]
        return reach[0] ** 2 > 0.8 * sum(r * r for r in reach)

    def _reach(self, line: StudyMeanSquare, *, upward: bool) -> float:
        tail = 0.5 - 0.5 * self.made.options["confidence_level"]
        quantile = _core.chi_square_quantile(tail if upward else 1.0 - tail, line.degrees_of_freedom)
        return abs(line.degrees_of_freedom / quantile - 1.0)

    def _columns(self) -> dict[str, Any]:
        names = ["repeat"] if len(self.mean_squares) == 1 else ["appraiser", "interaction", "repeat"]
        if len(self.mean_squares) == 2:
            names = ["appraiser", "repeat"]
        return {
            "line": names,
            "weight": [line.weight for line in self.mean_squares],
            "expected_mean_square": [line.expected for line in self.mean_squares],
            "degrees_of_freedom": [line.degrees_of_freedom for line in self.mean_squares],
        }

    def explain(self) -> Explanation:
        inputs = {f"w{i}": line.weight for i, line in enumerate(self.mean_squares, 1)}
        inputs |= {f"s{i}": line.expected for i, line in enumerate(self.mean_squares, 1)}
        places = range(1, len(self.mean_squares) + 1)
        sigma = f"sqrt({' + '.join(f'w{i} * s{i}' for i in places)})"
        steps = [Step("sigma_measurement", sigma, inputs, self.sigma_measurement)]
        value = {"sigma_measurement": self.sigma_measurement}
        if self.made.options["method"] == "modified_large_sample":
            for name, letter, sign in (("lower", "g", "-"), ("upper", "h", "+")):
                reach = {f"{letter}{i}": self._reach(line, upward=letter == "h") for i, line in enumerate(self.mean_squares, 1)}
                root = " + ".join(f"({letter}{i} * w{i} * s{i}) * ({letter}{i} * w{i} * s{i})" for i in places)
                inside = f"sigma_measurement * sigma_measurement {sign} sqrt({root})"
                formula = f"sqrt(max(0, {inside}))"
                steps.append(Step(name, formula, {**value, **inputs, **reach}, getattr(self, name)))
        else:
            tail = 0.5 - 0.5 * self.made.options["confidence_level"]
            for name, p in (("lower", 1.0 - tail), ("upper", tail)):
                chi = {"chi_square": _core.chi_square_quantile(p, self.degrees_of_freedom)}
                formula = "sigma_measurement * sqrt(degrees_of_freedom / chi_square)"
                limit = {**value, "degrees_of_freedom": self.degrees_of_freedom, **chi}
                steps.append(Step(name, formula, limit, getattr(self, name)))
        ends = {"upper": self.upper, "lower": self.lower, **value}
        steps.append(Step("relative_width", "(upper - lower) / sigma_measurement", ends, self.relative_width))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices=_choices(self.made.options),
            sources=SOURCES,
        )


@dataclass(frozen=True)
class StudyOption:
    """The cheapest study with one number of appraisers, or the narrowest one when none reaches the wanted width."""

    parts: int
    appraisers: int
    trials: int
    readings: int
    cost: float
    relative_width: float
    reached: bool


@dataclass(frozen=True, eq=False, repr=False)
class GaugeStudyPlan(Result):
    """The cheapest gauge study whose interval is as narrow as wanted, or the narrowest one within the bounds.

    ``interval`` is what it gives; ``options`` has one study for each number of appraisers, that of the plan first.
    """

    reached: bool
    cost: float
    wanted_relative_width: float
    interval: GaugeStudyInterval
    options: tuple[StudyOption, ...]

    _plot: ClassVar[str] = "planning:plot_study_plan"

    def sentence(self) -> str:
        found, made = self.interval, self.made
        size = f"{plural(found.parts, 'part')} x {plural(found.appraisers, 'appraiser')} x {plural(found.trials, 'trial')}"
        wanted, width = number(self.wanted_relative_width, 3), number(found.relative_width, 3)
        known = f"interval of the measurement sd {number(found.lower, 3)} to {with_unit(found.upper, made.unit, 3)}"
        if self.reached:
            return (
                f"The cheapest gauge study is {size}, {plural(found.readings, 'reading')}: {known}, {width} times that sd wide "
                f"({wanted} wanted)."
            )
        bounds = made.options
        most = f"{bounds['most_parts']} parts, {bounds['most_appraisers']} appraisers and {bounds['most_trials']} trials"
        text = f"No gauge study of up to {most} has an interval only {wanted} times the measurement sd wide; {size} comes nearest, with {width}"
        return text + ("; more appraisers are what it lacks." if found._appraisers_rule() else ".")

    def _columns(self) -> dict[str, Any]:
        names = ["appraisers", "parts", "trials", "readings", "cost", "relative_width", "reached"]
        return {name: [getattr(option, name) for option in self.options] for name in names}

    def explain(self) -> Explanation:
        found = self.interval.explain()
        option = self.options[0]
        costs = {name: float(self.made.options[name]) for name in ("cost_part", "cost_appraiser", "cost_reading")}
        counts = {"parts": option.parts, "appraisers": option.appraisers, "readings": option.readings}
        formula = "cost_part * parts + cost_appraiser * appraisers + cost_reading * readings"
        return Explanation(
            title=self.sentence(),
            steps=(
                *(Step(f"interval_{step.name}", step.formula, step.inputs, step.value) for step in found.steps),
                Step("cost", formula, {**costs, **counts}, self.cost),
            ),
            choices={
                **found.choices,
                "search": "every whole-number study within the bounds, with two or more trials; the width at the expected mean squares",
            },
            sources=SOURCES,
        )


def gauge_study_interval(
    parts: int,
    appraisers: int,
    trials: int,
    *,
    unit: str,
    sigma_repeat: float,
    sigma_appraiser: float = 0.0,
    sigma_interaction: float = 0.0,
    confidence_level: float = 0.95,
    method: str = "modified_large_sample",
    interaction: bool = True,
) -> GaugeStudyInterval:
    """How well a crossed gauge study of this size knows the measurement standard deviation, before a reading is taken.

    Parameters
    ----------
    parts, appraisers, trials : int
        Size of the study. With one appraiser the repeats alone are the measurement.
    unit : str
        Unit of the standard deviations.
    sigma_repeat, sigma_appraiser, sigma_interaction : float
        What the study is expected to find.
    confidence_level : float
        Two-sided.
    method : {"modified_large_sample", "satterthwaite"}
        The second is far too short with few appraisers.
    interaction : bool
        Kept in the evaluation; False: pooled with the repeats.

    Raises
    ------
    InvalidInputError
        Counts that leave no degree of freedom, ``sigma_repeat`` not above 0, appraiser components with one appraiser.

    Examples
    --------
    >>> found = gauge_study_interval(10, 3, 3, unit="mil", sigma_repeat=0.0335, sigma_appraiser=0.0216, sigma_interaction=0.0136)
    >>> round(found.lower, 4), round(found.upper, 3)
    (0.0363, 0.142)
    """
    given = (sigma_repeat, sigma_appraiser, sigma_interaction, parts, appraisers, trials, confidence_level, method, interaction)
    found = _core.study_interval(*given)
    return _built(found, unit, confidence_level, method, interaction)


def _built(found: dict[str, Any], unit: str, confidence_level: float, method: str, interaction: bool) -> GaugeStudyInterval:
    lines = tuple(StudyMeanSquare(**line) for line in found.pop("mean_squares"))
    options = {"confidence_level": confidence_level, "method": method, "interaction": interaction}
    made = Made("gauge_study_interval", unit, found["readings"], options=options, version=_core.version)
    return build(GaugeStudyInterval, found, made=made, mean_squares=lines)


def plan_gauge_study(
    *,
    unit: str,
    relative_width: float,
    sigma_repeat: float,
    sigma_appraiser: float = 0.0,
    sigma_interaction: float = 0.0,
    fewest_parts: int = 5,
    most_parts: int = 30,
    most_appraisers: int = 6,
    most_trials: int = 4,
    cost_part: float = 0.0,
    cost_appraiser: float = 0.0,
    cost_reading: float = 1.0,
    confidence_level: float = 0.95,
    method: str = "modified_large_sample",
    interaction: bool = True,
) -> GaugeStudyPlan:
    """Parts, appraisers and trials for an interval of the measurement standard deviation of a wanted width.

    Parameters
    ----------
    unit : str
        Unit of the standard deviations.
    relative_width : float
        Wanted width of the interval over the measurement standard deviation itself: 1 for limits as far apart as it is large.
    sigma_repeat, sigma_appraiser, sigma_interaction : float
        What the study is expected to find. Give an appraiser component when inspectors may differ: it decides.
    fewest_parts, most_parts, most_appraisers, most_trials : int
        Bounds of the search; two or more trials are always taken.
    cost_part, cost_appraiser, cost_reading : float
        By default the fewest readings win.
    confidence_level, method, interaction
        As in ``gauge_study_interval``.

    Raises
    ------
    InvalidInputError
        Numbers out of their domain, bounds that leave no study.

    Examples
    --------
    >>> plan = plan_gauge_study(unit="mil", relative_width=0.7, sigma_repeat=0.035)
    >>> plan.reached, plan.interval.appraisers, plan.interval.readings
    (True, 1, 27)
    """
    sds = (sigma_repeat, sigma_appraiser, sigma_interaction)
    how = (confidence_level, method, interaction)
    bounds = {
        "fewest_parts": fewest_parts,
        "most_parts": most_parts,
        "most_appraisers": most_appraisers,
        "most_trials": most_trials,
        "cost_part": cost_part,
        "cost_appraiser": cost_appraiser,
        "cost_reading": cost_reading,
    }
    options = tuple(StudyOption(**option) for option in _core.plan_study(*sds, relative_width, *bounds.values(), *how))
    best = options[0]
    found = _core.study_interval(*sds, best.parts, best.appraisers, best.trials, *how)
    made_options = {"relative_width": relative_width, **bounds, "confidence_level": confidence_level, "method": method}
    made = Made(
        "plan_gauge_study",
        unit,
        best.readings,
        options={**made_options, "interaction": interaction},
        version=_core.version,
    )
    return GaugeStudyPlan(
        made=made,
        reached=best.reached,
        cost=best.cost,
        wanted_relative_width=relative_width,
        interval=_built(found, unit, *how),
        options=options,
    )


def _choices(options: dict[str, Any]) -> dict[str, str]:
    large = options["method"] == "modified_large_sample"
    return {
        "interval": "modified large sample" if large else "Satterthwaite: far too short with few appraisers",
        "mean squares": "each at its expectation; mean_lower and mean_upper average over all studies of that size",
        "interaction": "kept in the evaluation" if options["interaction"] else "pooled with the repeats",
        "appraisers": "random",
        "confidence": f"{number(100 * options['confidence_level'])} %, two-sided",
    }
