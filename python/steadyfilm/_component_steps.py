"""The sums behind variance components, line by line, for ``explain``."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from steadyfilm._result import Step
from steadyfilm.distributions import chi_square_quantile, f_quantile, student_t_quantile

if TYPE_CHECKING:
    from steadyfilm._component_parts import AnovaLine, MeanEstimate, VarianceComponent, VarianceSum

__all__ = ["component_steps", "line_steps", "mean_steps", "sum_steps"]


def line_steps(lines: Sequence[AnovaLine]) -> list[Step]:
    """Mean squares, and F of each line that is tested."""
    steps = []
    for i, line in enumerate(lines, 1):
        inputs = {"sum_squares": line.sum_squares, "degrees_of_freedom": line.degrees_of_freedom}
        steps.append(Step(f"mean_square_{i}", "sum_squares / degrees_of_freedom", inputs, line.mean_square))
    for i, line in enumerate(lines, 1):
        if math.isfinite(line.f):
            inputs = {"mean_square": line.mean_square, "denominator": line.denominator_mean_square}
            steps.append(Step(f"f_{i}", "mean_square / denominator", inputs, line.f))
    return steps


def component_steps(components: Sequence[VarianceComponent], confidence_level: float) -> list[Step]:
    """Each component with its interval, its standard deviation and its share."""
    steps = []
    for i, one in enumerate(components, 1):
        inputs = {"mean_square": one.mean_square, "next_mean_square": one.next_mean_square, "readings": one.readings}
        steps.append(Step(f"variance_{i}", "(mean_square - next_mean_square) / readings", inputs, one.variance))
        steps.append(Step(f"sd_{i}", "sqrt(max(0, variance))", {"variance": one.variance}, one.sd))
        following = components[i] if i < len(components) else None
        steps += _interval_steps(i, one, following, confidence_level)
    floored = {f"variance_{i}": max(0.0, one.variance) for i, one in enumerate(components, 1)}
    if sum(floored.values()) > 0:
        total = " + ".join(floored)
        steps += [Step(f"share_{i}", f"variance_{i} / ({total})", floored, one.share) for i, one in enumerate(components, 1)]
    return steps


def _interval_steps(
    i: int, one: VarianceComponent, following: VarianceComponent | None, confidence_level: float
) -> tuple[Step, ...]:
    tail = (1.0 - confidence_level) / 2.0
    if following is None:
        n = one.degrees_of_freedom
        return tuple(
            Step(
                f"variance_{end}_{i}",
                "degrees_of_freedom * mean_square / chi_square",
                {"degrees_of_freedom": n, "mean_square": one.mean_square, "chi_square": chi_square_quantile(chance, n)},
                value,
            )
            for end, chance, value in (("lower", 1 - tail, one.variance_lower), ("upper", tail, one.variance_upper))
        )
    n1, n2 = one.mean_square_degrees_of_freedom, following.mean_square_degrees_of_freedom
    high, low = f_quantile(1 - tail, n1, n2), f_quantile(tail, n1, n2)
    g1, g2 = (1 - n / chi_square_quantile(1 - tail, n) for n in (n1, n2))
    h1, h2 = (n / chi_square_quantile(tail, n) - 1 for n in (n1, n2))
    shared = {"mean_square": one.mean_square, "next_mean_square": one.next_mean_square, "readings": one.readings}
    square = "first**2 * mean_square**2 + second**2 * next_mean_square**2 + joint * mean_square * next_mean_square"
    lower = {"first": g1, "second": h2, "joint": ((high - 1) ** 2 - (g1 * high) ** 2 - h2**2) / high}
    upper = {"first": h1, "second": g2, "joint": ((1 - low) ** 2 - (h1 * low) ** 2 - g2**2) / low}
    return tuple(
        Step(
            f"variance_{end}_{i}",
            f"max(0, (mean_square - next_mean_square {sign} sqrt(max(0, {square}))) / readings)",
            {**shared, **factors},
            value,
        )
        for end, sign, factors, value in (
            ("lower", "-", lower, one.variance_lower),
            ("upper", "+", upper, one.variance_upper),
        )
    )


def sum_steps(name: str, found: VarianceSum, components: Sequence[VarianceComponent], divisors: Sequence[float]) -> list[Step]:
    """A sum of components, each over its divisor, as it comes."""
    inputs: dict[str, float] = {}
    parts = []
    for i, (one, divisor) in enumerate(zip(components, divisors, strict=True), 1):
        inputs[f"variance_{i}"] = one.variance
        parts.append(f"variance_{i}")
        if divisor != 1:
            inputs[f"readings_{i}"] = divisor
            parts[-1] += f" / readings_{i}"
    return [
        Step(f"{name}_variance", " + ".join(parts), inputs, found.variance),
        Step(f"{name}_sd", "sqrt(max(0, variance))", {"variance": found.variance}, found.sd),
    ]


def mean_steps(mean: MeanEstimate, confidence_level: float) -> list[Step]:
    """The interval of the mean."""
    t = student_t_quantile(0.5 + confidence_level / 2.0, mean.degrees_of_freedom)
    inputs = {"mean": mean.value, "t": t, "standard_error": mean.standard_error}
    return [
        Step("mean_lower", "mean - t * standard_error", inputs, mean.lower),
        Step("mean_upper", "mean + t * standard_error", inputs, mean.upper),
    ]
