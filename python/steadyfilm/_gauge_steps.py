"""The sums behind a gauge study, line by line, for ``explain``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from steadyfilm._component_steps import line_steps
from steadyfilm._format import number
from steadyfilm._gauge_parts import GaugeEstimate, GaugeSource, WindowShare
from steadyfilm._result import Explanation, Step
from steadyfilm.distributions import chi_square_quantile

if TYPE_CHECKING:
    from steadyfilm.gauge_rr import GaugeStudy

__all__ = ["SOURCES", "study_explanation", "window_steps"]

PAGE = "cpp/methods/gauge_rr.md"
SOURCES = (
    PAGE,
    "Burdick, Borror and Montgomery, Journal of Quality Technology 35 (2003) 342, intervals (from memory)",
    "AIAG, Measurement Systems Analysis, 4th edition, 1.41 PV / GRR and the names EV, AV, PV, TV (secondary source)",
)

_METHODS = {
    "modified_large_sample": "modified large sample; repeatability exact (chi-square)",
    "satterthwaite": "Satterthwaite: too short where few appraisers differ; repeatability exact (chi-square)",
}


_COMPONENTS = {
    "anova": "method of moments; shown as they come, counted as 0 where negative",
    "reml": "restricted maximum likelihood; of one at 0 `variance` shows the unbiased quadratic estimate, if that is negative",
}


def study_explanation(study: GaugeStudy) -> Explanation:
    """Mean squares, components, GRR with its interval, ndc, windows, and the choices made."""
    estimate = study.estimate
    options = study.made.options
    steps = line_steps(estimate.lines)
    steps += _component_steps(estimate)
    steps += _grr_steps(estimate)
    if estimate.pv is not None and estimate.tv is not None:
        steps.append(Step("tv", "sqrt(grr**2 + pv**2)", {"grr": estimate.grr, "pv": estimate.pv}, estimate.tv))
        if estimate.ndc_ratio is not None:
            inputs = {"pv": estimate.pv, "grr": estimate.grr}
            steps.append(Step("ndc_ratio", "1.41 * pv / grr", inputs, estimate.ndc_ratio))
    for i, one in enumerate(estimate.windows, 1):
        steps += window_steps(i, one, estimate)
    return Explanation(
        title=study.sentence(),
        steps=tuple(steps),
        choices={
            "interaction": f"pooled into repeatability if its p lies above {number(options['pooling_level'], 3)}; "
            f"shown: {study.chosen}",
            "appraisers": str(options["appraiser_effect"]),
            "parts": "nested in " + ("appraisers" if options["nested"] is True else str(options["nested"]))
            if options["nested"]
            else "crossed",
            "components": _COMPONENTS[study.method],
            "ndc": "whole part of 1.41 PV / GRR, at least 1",
            "window": f"{number(options['sigma_multiple'], 3)} GRR over its width, half of that over the distance from the mean "
            f"to a lone limit; at most {number(100 * options['share_limit'], 3)} % wanted",
            "intervals": f"{number(100 * estimate.confidence_level, 3)} %, two-sided; {_METHODS[estimate.interval_method]}",
            "tested over": str(options["f_denominator"]),
            **{f"note {i}": note for i, note in enumerate(study.notes, 1)},
        },
        sources=SOURCES,
    )


def _component_steps(estimate: GaugeEstimate) -> list[Step]:
    """Each component as a sum of weighted mean squares, and its root."""
    steps = []
    squares = {f"mean_square_{k}": line.mean_square for k, line in enumerate(estimate.lines, 1)}
    i = 0
    for one in estimate.sources:
        if one.role == "sum":
            continue
        i += 1
        if estimate.lines:
            inputs: dict[str, float] = {}
            for k, weight in enumerate(one.weights, 1):
                if weight != 0.0:
                    inputs |= {f"weight_{k}": weight, f"mean_square_{k}": squares[f"mean_square_{k}"]}
            terms = [f"weight_{k} * mean_square_{k}" for k, weight in enumerate(one.weights, 1) if weight != 0.0]
            steps.append(Step(f"variance_{i}", " + ".join(terms), inputs, one.variance))
        else:
            continue  # by likelihood: no sum of the readings gives it
        name = {"repeatability": "ev", "appraiser": "av", "part x appraiser": "interaction_sd", "part": "pv"}.get(one.source)
        steps.append(Step(name or f"sd_{i}", "sqrt(max(0, variance))", {"variance": one.variance}, one.sd))
    return steps


def _grr_steps(estimate: GaugeEstimate) -> list[Step]:
    parts = [one for one in estimate.sources if one.role == "measurement"]
    inputs = {f"sd_{i}": one.sd for i, one in enumerate(parts, 1)}
    grr = estimate.source("grr")
    formula = "sqrt(" + " + ".join(f"{name}**2" for name in inputs) + ")"
    steps = [Step("grr", formula, inputs, grr.sd)]
    if estimate.lines and grr.sd_lower is not None and grr.sd_upper is not None and all(w >= 0.0 for w in grr.weights):
        steps += _interval_steps(estimate, grr)
    return steps


def _interval_steps(estimate: GaugeEstimate, grr: GaugeSource) -> list[Step]:
    """Ends of GRR: the modified large sample of a sum, where the mean squares are those of random appraisers."""
    tail = 0.5 - 0.5 * estimate.confidence_level
    used = [(weight, line) for weight, line in zip(grr.weights, estimate.lines, strict=True) if weight > 0.0]
    steps = []
    for end, chance, sign in (("lower", 1.0 - tail, "-"), ("upper", tail, "+")):
        inputs = {"variance": grr.variance}
        terms = []
        for k, (weight, line) in enumerate(used, 1):
            ratio = line.degrees_of_freedom / chi_square_quantile(chance, line.degrees_of_freedom)
            inputs |= {f"reach_{k}": abs(1.0 - ratio), f"part_{k}": weight * line.mean_square}
            terms.append(f"(reach_{k} * part_{k})**2")
        value = grr.sd_lower if end == "lower" else grr.sd_upper
        formula = f"sqrt(max(0, variance {sign} sqrt({' + '.join(terms)})))"
        step = Step(f"grr_{end}", formula, inputs, value or 0.0)
        if _gives(inputs, len(used), sign, step.value):
            steps.append(step)
    return steps


def _gives(inputs: dict[str, float], count: int, sign: str, value: float) -> bool:
    """Whether the plain sum is how this end was made: not with Satterthwaite, nor with fixed appraisers."""
    reach = math.sqrt(sum((inputs[f"reach_{k}"] * inputs[f"part_{k}"]) ** 2 for k in range(1, count + 1)))
    found = math.sqrt(max(0.0, inputs["variance"] + (reach if sign == "+" else -reach)))
    return math.isclose(found, value, rel_tol=1e-12, abs_tol=1e-12)


def window_steps(i: int, one: WindowShare, estimate: GaugeEstimate | None) -> Sequence[Step]:
    """Share of a window, and the readings that a verdict takes."""
    if one.share is None or estimate is None:
        return []
    half = 0.5 if one.one_sided else 1.0
    inputs = {"multiple": half * one.sigma_multiple, "grr": estimate.grr, "room": one.room}
    steps = [Step(f"window_{i}_share", "multiple * grr / room", inputs, one.share)]
    if one.readings is not None and not one.judgeable and one.floor_share is not None:
        alone = {
            "multiple": half * one.sigma_multiple,
            "ev": estimate.ev,
            "room": one.room,
            "wanted": one.share_limit,
            "floor_share": one.floor_share,
        }
        value = (alone["multiple"] * alone["ev"] / alone["room"]) ** 2 / (alone["wanted"] ** 2 - alone["floor_share"] ** 2)
        formula = "(multiple * ev / room)**2 / (wanted**2 - floor_share**2)"
        steps.append(Step(f"window_{i}_readings_before_rounding_up", formula, alone, value))
    return steps
