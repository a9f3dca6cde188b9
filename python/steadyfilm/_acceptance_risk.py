"""What accepting by measured values does to a process: consumer's and producer's risk, limits for a risk, operating curve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, percent, plural, window_text, with_unit
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

SOURCES = (
    "JCGM 106:2012, clause 9 (consumer's and producer's risk as joint probabilities)",
    "cpp/methods/conformity.md",
)

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class AcceptanceRisks(Result):
    """What accepting by measured values does to units of a process; shares of all units, as fractions.

    ``consumer_risk``: accepted, yet the true value is outside. ``producer_risk``: rejected, yet inside. The conditional
    shares are None when nothing is accepted, or rejected.
    """

    specification: SpecLimits
    accept: SpecLimits
    standard_uncertainty: float
    conforming: float
    nonconforming: float
    accepted: float
    consumer_risk: float
    producer_risk: float
    outside_among_accepted: float | None
    inside_among_rejected: float | None

    def sentence(self) -> str:
        unit, window = self.made.unit, self.specification
        spec = window_text(window.lower, window.upper, unit)
        truly = f"{percent(self.nonconforming)} of the units are truly outside {spec}"
        if self.accept.lower is None and self.accept.upper is None:
            return f"{truly}; accepting whatever is read passes them all."
        same = (self.accept.lower, self.accept.upper) == (window.lower, window.upper)
        limits = "that range" if same else window_text(_short(self.accept.lower), _short(self.accept.upper), unit)
        u = with_unit(self.standard_uncertainty, unit, 3)
        return (
            f"{truly}; accepting readings of {limits} with a standard uncertainty of {u} passes "
            f"{percent(self.consumer_risk)} of all units wrongly (consumer's risk) and rejects "
            f"{percent(self.producer_risk)} wrongly (producer's risk)."
        )

    def _columns(self) -> dict[str, Any]:
        return {
            "true_value": ["inside", "inside", "outside", "outside"],
            "decision": ["accepted", "rejected", "accepted", "rejected"],
            "share": [
                self.accepted - self.consumer_risk,
                self.producer_risk,
                self.consumer_risk,
                max(0.0, self.nonconforming - self.consumer_risk),
            ],
        }

    def explain(self) -> Explanation:
        both = {"conforming": self.conforming, "producer_risk": self.producer_risk, "consumer_risk": self.consumer_risk}
        steps = [Step("accepted", "conforming - producer_risk + consumer_risk", both, self.accepted)]
        if self.outside_among_accepted is not None:
            inputs = {"consumer_risk": self.consumer_risk, "accepted": self.accepted}
            steps.append(Step("outside_among_accepted", "consumer_risk / accepted", inputs, self.outside_among_accepted))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "risks": "joint probabilities of a unit drawn from the process: shares of all units, not of the accepted ones",
                "integral": "density of the true values times the chance to be accepted, over those outside (or inside)",
                "process": _process_words(self.made.options, self.made.unit),
                "measurement": "normal about the true value, without bias",
            },
            sources=SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class AcceptanceLimit(Result):
    """Widest acceptance limits that keep a consumer's risk, drawn in from the window by ``guard`` on each limit it has.

    ``guard`` is negative when the risk allows limits outside the window. When even accepting all keeps the risk (``needed`` is
    False) there is no limit, and ``guard`` is None.
    """

    needed: bool
    guard: float | None
    accept_lower: float | None
    accept_upper: float | None
    wanted_risk: float
    risks: AcceptanceRisks

    def sentence(self) -> str:
        unit, window = self.made.unit, self.risks.specification
        wanted, spec = f"a consumer's risk of {percent(self.wanted_risk)}", window_text(window.lower, window.upper, unit)
        if not self.needed or self.guard is None:
            out = percent(self.risks.nonconforming)
            return f"No acceptance limit is needed for {wanted}: only {out} of the units are truly outside {spec}."
        limits = window_text(_short(self.accept_lower), _short(self.accept_upper), unit)
        where, guard = "inside" if self.guard >= 0.0 else "outside", with_unit(abs(self.guard), unit, 3)
        return (
            f"Accept readings of {limits} to keep {wanted} against {spec}: {guard} {where} each limit; "
            f"{percent(self.risks.producer_risk)} of the units are then rejected wrongly."
        )

    def _columns(self) -> dict[str, Any]:
        window = self.risks.specification
        rows = [("lower", window.lower, self.accept_lower), ("upper", window.upper, self.accept_upper)]
        kept = [row for row in rows if row[1] is not None]
        return {name: [row[i] for row in kept] for i, name in enumerate(("limit", "specification", "acceptance"))}

    def explain(self) -> Explanation:
        window, steps = self.risks.specification, []
        for name, limit, accept in (
            ("lower", window.lower, self.accept_lower),
            ("upper", window.upper, self.accept_upper),
        ):
            if limit is not None and accept is not None and self.guard is not None:
                sign = "+" if name == "lower" else "-"
                steps.append(Step(f"accept_{name}", f"{name} {sign} guard", {name: limit, "guard": self.guard}, accept))
        if not steps:
            steps.append(
                Step(
                    "wanted_risk",
                    "0 * nonconforming + wanted",
                    {"nonconforming": self.risks.nonconforming, "wanted": self.wanted_risk},
                    self.wanted_risk,
                )
            )
        under = self.risks.explain()
        return Explanation(
            title=self.sentence(),
            steps=(*steps, *(Step(f"risks_{step.name}", step.formula, step.inputs, step.value) for step in under.steps)),
            choices={"limits": "the same distance from each limit of the window, found by root search", **under.choices},
            sources=SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class OperatingCurve(Result):
    """Chance that a sampling plan accepts a unit, against the unit's true average; lengths in the unit of the arguments.

    ``means`` and ``probability`` are the curve. ``good_lower`` to ``good_upper`` are true averages accepted with at least
    ``high``, beyond ``poor_lower`` and ``poor_upper`` they are accepted with at most ``low``; None where there is none.
    """

    location_count: int
    readings_per_location: int
    sigma_location: float
    sigma_repeat: float
    sigma_common: float
    sigma_average: float
    specification: SpecLimits
    accept: SpecLimits
    high: float
    low: float
    good_lower: float | None
    good_upper: float | None
    poor_lower: float | None
    poor_upper: float | None
    means: Floats
    probability: Floats

    _plot: ClassVar[str] = "conformity:plot_operating_curve"

    def sentence(self) -> str:
        unit = self.made.unit
        places = f"{plural(self.location_count, 'place')} with {plural(self.readings_per_location, 'reading')} each"
        text = f"{places} know a unit's average to {with_unit(self.sigma_average, unit, 3)}"
        if self.good_lower is None and self.good_upper is None:
            best = float(self.probability.max())
            text += f": even the best true average is accepted only {percent(best)} of the time"
        else:
            good = window_text(_short(self.good_lower), _short(self.good_upper), unit)
            text += f": true averages of {good} are accepted at least {percent(self.high)} of the time"
        poor = [with_unit(x, unit) for x in (self.poor_lower, self.poor_upper) if x is not None]
        if poor:
            words = (
                f"below {poor[0]} or above {poor[1]}" if len(poor) == 2 else ("below " if self.poor_lower else "above ") + poor[0]
            )
            text += f", those {words} at most {percent(self.low)}"
        return text[0].upper() + text[1:] + "."

    def _columns(self) -> dict[str, Any]:
        return {"true_average": self.means, "chance_to_accept": self.probability}

    def explain(self) -> Explanation:
        square = "sigma_common * sigma_common + sigma_location * sigma_location / a + sigma_repeat * sigma_repeat / (a * b)"
        inputs = {
            "sigma_common": self.sigma_common,
            "sigma_location": self.sigma_location,
            "a": self.location_count,
            "b": self.readings_per_location,
            "sigma_repeat": self.sigma_repeat,
        }
        return Explanation(
            title=self.sentence(),
            steps=(Step("sigma_average", f"sqrt({square})", inputs, self.sigma_average),),
            choices={
                "judged": "the unit's average against the acceptance limits; no rule on single spots",
                "curve": "normal probability that an average with sigma_average about its true mean lies inside",
                "sigma_location": "of unit x place when the same places are read on every unit",
            },
            sources=("JCGM 106:2012, clause 9.2 (operating characteristic; from memory)", "cpp/methods/conformity.md"),
        )


def acceptance_risks(
    *,
    unit: str,
    standard_uncertainty: float,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
    mean: float | None = None,
    sigma_process: float | None = None,
    shape: float | None = None,
    rate: float | None = None,
) -> AcceptanceRisks:
    """Consumer's and producer's risk of a decision on measured values, by the joint integral of process and measurement.

    Parameters
    ----------
    unit : str
        Unit of all lengths here.
    standard_uncertainty : float
        Of the judged value about its true one; normal.
    lower, upper : float, optional
        Specification; at least one limit.
    accept_lower, accept_upper : float, optional
        Acceptance limits; on a side without one everything is accepted. When neither is given they are the specification's.
    mean, sigma_process : float
        Of the true values of a normal process: without the measurement's own spread.
    shape, rate : float
        Of a gamma process instead, mean shape / rate.

    Raises
    ------
    InvalidInputError
        No limit, limits that do not rise, no process or two, numbers out of their domain.

    Examples
    --------
    >>> found = acceptance_risks(unit="mil", lower=1.0, upper=1.2, standard_uncertainty=0.03, mean=1.1, sigma_process=0.05)
    >>> round(found.consumer_risk, 6), round(found.producer_risk, 6)
    (0.013568, 0.054416)
    """
    process = _process(mean, sigma_process, shape, rate, "acceptance_risks")
    if accept_lower is None and accept_upper is None:
        accept_lower, accept_upper = lower, upper
    found = _core.acceptance_risks(*process, lower, upper, standard_uncertainty, accept_lower, accept_upper)
    options = {"mean": mean, "sigma_process": sigma_process, "shape": shape, "rate": rate}
    return _risks(found, unit, _limits(lower, upper), _limits(accept_lower, accept_upper), standard_uncertainty, options)


def acceptance_limit_for_risk(
    *,
    unit: str,
    standard_uncertainty: float,
    consumer_risk: float,
    lower: float | None = None,
    upper: float | None = None,
    mean: float | None = None,
    sigma_process: float | None = None,
    shape: float | None = None,
    rate: float | None = None,
) -> AcceptanceLimit:
    """The widest acceptance limits that keep a consumer's risk, at one distance from each limit of the window.

    Parameters
    ----------
    consumer_risk : float
        Share of all units that may be accepted with their true value outside.
    unit, standard_uncertainty, lower, upper, mean, sigma_process, shape, rate
        As in ``acceptance_risks``.

    Raises
    ------
    InvalidInputError
        As ``acceptance_risks``; a risk not between 0 and 1.

    Examples
    --------
    >>> found = acceptance_limit_for_risk(unit="um", upper=2.0, standard_uncertainty=0.25, shape=4, rate=4, consumer_risk=0.001)
    >>> round(found.accept_upper, 2)
    1.67
    """
    process = _process(mean, sigma_process, shape, rate, "acceptance_limit_for_risk")
    found = _core.acceptance_limit_for_risk(*process, lower, upper, standard_uncertainty, consumer_risk)
    options = {"mean": mean, "sigma_process": sigma_process, "shape": shape, "rate": rate}
    accept = SpecLimits(found["accept_lower"], found["accept_upper"])
    risks = _risks(found.pop("risks"), unit, _limits(lower, upper), accept, standard_uncertainty, options)
    guard = found.pop("guard")
    made_options = {**options, "lower": lower, "upper": upper, "standard_uncertainty": standard_uncertainty}
    return build(
        AcceptanceLimit,
        found,
        made=Made("acceptance_limit_for_risk", unit, 1, options=made_options, version=_core.version),
        guard=None if math.isnan(guard) else guard,
        wanted_risk=float(consumer_risk),
        risks=risks,
    )


def operating_curve(
    *,
    unit: str,
    sigma_location: float,
    sigma_repeat: float,
    location_count: int,
    readings_per_location: int = 1,
    sigma_common: float = 0.0,
    lower: float | None = None,
    upper: float | None = None,
    accept_lower: float | None = None,
    accept_upper: float | None = None,
    means: Any = None,
    high: float = 0.95,
    low: float = 0.1,
) -> OperatingCurve:
    """Chance that a plan of places and repeats accepts a unit, for each true average of the unit.

    Parameters
    ----------
    unit : str
        Unit of all lengths here.
    sigma_location, sigma_repeat, sigma_common : float
        Standard deviation from place to place in one unit, of repeats at a place, and of what all readings of the unit share.
    location_count, readings_per_location : int
        The plan.
    lower, upper : float, optional
        Specification of the unit's average; at least one limit.
    accept_lower, accept_upper : float, optional
        Acceptance limits where they differ from the specification, as a guard band makes them.
    means : sequence of float, optional
        True averages; by default 201 that reach four standard deviations beyond the limits.
    high, low : float
        Chances for which the true averages are told.

    Raises
    ------
    InvalidInputError
        No limit, counts of 0, negative standard deviations, chances not between 0 and 1.

    Examples
    --------
    >>> plan = {"sigma_location": 0.13, "sigma_repeat": 0.05, "location_count": 5, "readings_per_location": 3}
    >>> print(operating_curve(unit="mil", lower=3.0, upper=3.5, **plan).sentence())
    5 places with 3 readings each know a unit's average to 0.0596 mil: true averages of 3.098 to 3.402 mil are
    accepted at least 95 % of the time, those below 2.924 mil or above 3.576 mil at most 10 %.
    """
    if accept_lower is None and accept_upper is None:
        accept_lower, accept_upper = lower, upper
    sd = _core.unit_average_uncertainty(sigma_location, sigma_repeat, location_count, readings_per_location, sigma_common)
    accept = (accept_lower, accept_upper)
    points = {
        name: _core.operating_point(*accept, sd, chance, side)
        for name, chance, side in (
            ("good_lower", high, "lower"),
            ("good_upper", high, "upper"),
            ("poor_lower", low, "lower"),
            ("poor_upper", low, "upper"),
        )
    }
    if means is None:
        ends = [limit for limit in (lower, upper, *accept) if limit is not None]
        reach = 4.0 * sd if sd > 0.0 else 0.1 * (max(ends) - min(ends) or abs(ends[0]) or 1.0)
        means = np.linspace(min(ends) - reach, max(ends) + reach, 201)
    at = np.ascontiguousarray(means, dtype=np.float64)
    probability = np.empty_like(at)
    _core.operating_curve(at, *accept, sd, probability)
    return OperatingCurve(
        made=Made("operating_curve", unit, location_count * readings_per_location, version=_core.version),
        location_count=location_count,
        readings_per_location=readings_per_location,
        sigma_location=float(sigma_location),
        sigma_repeat=float(sigma_repeat),
        sigma_common=float(sigma_common),
        sigma_average=sd,
        specification=_limits(lower, upper),
        accept=_limits(*accept),
        high=float(high),
        low=float(low),
        **{name: None if math.isnan(value) else value for name, value in points.items()},
        means=frozen(at),
        probability=frozen(probability),
    )


def _risks(
    found: dict[str, Any],
    unit: str,
    specification: SpecLimits,
    accept: SpecLimits,
    standard_uncertainty: float,
    options: dict[str, Any],
) -> AcceptanceRisks:
    conditional = {name: found.pop(name) for name in ("outside_among_accepted", "inside_among_rejected")}
    return build(
        AcceptanceRisks,
        found,
        made=Made("acceptance_risks", unit, 1, options=options, version=_core.version),
        specification=specification,
        accept=accept,
        standard_uncertainty=float(standard_uncertainty),
        **{name: None if math.isnan(value) else value for name, value in conditional.items()},
    )


def _process(
    mean: float | None, sigma_process: float | None, shape: float | None, rate: float | None, function: str
) -> tuple[str, float, float]:
    if mean is not None and sigma_process is not None and shape is None and rate is None:
        return "normal", mean, sigma_process
    if shape is not None and rate is not None and mean is None and sigma_process is None:
        return "gamma", shape, rate
    raise InvalidInputError(
        "give mean and sigma_process (normal process) or shape and rate (gamma process)", function=function, argument="mean"
    )


def _process_words(options: dict[str, Any], unit: str) -> str:
    if options["mean"] is not None:
        return f"normal, mean {with_unit(options['mean'], unit)}, standard deviation {with_unit(options['sigma_process'], unit)}"
    return f"gamma, shape {number(options['shape'])}, rate {number(options['rate'])}"


def _limits(lower: float | None, upper: float | None) -> SpecLimits:
    """A window of plain floats."""
    return SpecLimits(None if lower is None else float(lower), None if upper is None else float(upper))


def _short(limit: float | None) -> float | None:
    """A limit to four digits, for sentences."""
    return None if limit is None else float(number(limit, 4))
