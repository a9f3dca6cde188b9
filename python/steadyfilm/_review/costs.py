"""What film beyond the aim costs a month, layer by layer, and where the painters would have to aim above a lower limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from steadyfilm import _core
from steadyfilm._format import decimals_for, fixed, number, plural, with_unit
from steadyfilm._paint_cost import AimPoint, OverbuildCost, aim_point, money_text, overbuild_cost
from steadyfilm._review.averages import LayerUnits
from steadyfilm._review.noise import between_days
from steadyfilm._review.study import Studied
from steadyfilm._review.words import Finding

if TYPE_CHECKING:
    from steadyfilm.plan import Layer, Plan

__all__ = ["LayerCost", "layer_costs"]


@dataclass(frozen=True)
class LayerCost:
    """Film of one layer against its aim, and its price; lengths in the working unit, money in that of the plan."""

    layer: str
    units: int
    mean: float
    """Of the unit averages, first attempts."""
    half_width: float
    """Of the interval of the mean."""
    days_counted: bool
    """Whether the interval knows how days differ; else units are taken as independent."""
    aim: float
    aim_is: str
    """``target``, ``middle`` of the window, or ``aim point`` above the lower limit."""
    each: OverbuildCost
    """What a small step of film costs a month."""
    volume: float
    """Mixed paint in the overbuild of a month; 0 for film below the aim, as are:"""
    cost: float
    cost_lower: float
    cost_upper: float
    aiming: AimPoint | None
    """Above the lower limit, where there is one, and with half the spread."""
    gauge_note: str = ""
    """Units of the mean that a faulty gauge read, in words; empty for none that the review names."""

    @property
    def over(self) -> float:
        """Film above the aim; negative below it."""
        return self.mean - self.aim

    @property
    def saved(self) -> float | None:
        """Money a month that half the spread would save."""
        return None if self.aiming is None or self.aiming.saving is None else self.money(self.aiming.saving)

    def money(self, film: float) -> float:
        """What so much film costs a month."""
        return film / self.each.step * self.each.step_cost

    @property
    def over_text(self) -> str:
        """How far from the aim, with its interval."""
        decimals = decimals_for(self.half_width)
        return f"{fixed(abs(self.over), decimals)} ± {fixed(self.half_width, decimals)} {self.each.made.unit}"

    @property
    def aim_text(self) -> str:
        """What is aimed at, in words."""
        what = {
            "target": "its target of",
            "middle": "the middle of its window,",
            "aim point": "its aim point above the lower limit,",
        }[self.aim_is]
        return f"{what} {with_unit(self.aim, self.each.made.unit)}"

    @property
    def interval_text(self) -> str:
        """The interval of the cost."""
        if self.cost_upper == 0.0:
            return "nothing"
        return f"{'nothing' if self.cost_lower == 0.0 else money_text(self.cost_lower)} to {money_text(self.cost_upper)}"

    @property
    def cost_text(self) -> str:
        """The cost a month with its interval, for a table."""
        currency = self.each.made.options["currency"]
        if self.cost > 0.0:
            return f"{money_text(self.cost, currency)} ({self.interval_text})"
        return "nothing" if self.cost_upper == 0.0 else f"nothing (at most {money_text(self.cost_upper, currency)})"

    @property
    def sentence(self) -> str:
        """What overbuild costs a month, and what a small step of film does."""
        currency = self.each.made.options["currency"]
        name = self.layer[0].upper() + self.layer[1:]
        note = f" {self.gauge_note}" if self.gauge_note else ""
        each = f"each {with_unit(self.each.step, self.each.made.unit)} of film costs {money_text(self.each.step_cost, currency)}"
        if self.over > 0.0:
            head = f"lies {self.over_text} above {self.aim_text}: that overbuild costs {money_text(self.cost, currency)} a month"
            return f"{name} {head} ({self.interval_text}); {each}.{note}"
        most = f", by its interval at most {money_text(self.cost_upper, currency)} a month" if self.cost_upper > 0.0 else ""
        return f"{name} lies {self.over_text} below {self.aim_text}: no overbuild{most}; {each} a month.{note}"


def layer_costs(
    studied: Sequence[Studied | str], units: Sequence[LayerUnits], plan: Plan, findings: Sequence[Finding] = ()
) -> tuple[LayerCost, ...]:
    """Costs of the layers whose paint the plan gives and that have two units or more; empty without such.

    ``findings`` are those of the review: a gauge fault among them is told beside its layer's cost.
    """
    found = []
    for layer, own, month in zip(plan.layers, studied, units, strict=True):
        if layer.paint is not None and plan.costs is not None and len(month) >= 2:
            cost = _layer_cost(layer, own, month, plan)
            found.append(replace(cost, gauge_note=_gauge_note(cost, findings)))
    return tuple(found)


def _layer_cost(layer: Layer, studied: Studied | str, month: LayerUnits, plan: Plan) -> LayerCost:
    unit = plan.measure.unit
    mean, sigma = float(month.average.mean()), float(month.average.std(ddof=1))
    half_width, days_counted = _half_width(studied, sigma, len(month), plan.confidence_level)
    aiming = _aiming(layer, sigma, unit)
    if layer.target is not None:
        aim, aim_is = layer.target, "target"
    elif layer.lower is not None and layer.upper is not None:
        aim, aim_is = 0.5 * (layer.lower + layer.upper), "middle"
    else:
        assert aiming is not None  # the plan is refused otherwise
        aim, aim_is = aiming.target, "aim point"
    each = _each(layer, plan)

    def above(film: float) -> float:
        return max(0.0, film - aim) / each.step

    return LayerCost(
        layer=layer.name,
        units=len(month),
        mean=mean,
        half_width=half_width,
        days_counted=days_counted,
        aim=aim,
        aim_is=aim_is,
        each=each,
        volume=above(mean) * each.volume,
        cost=above(mean) * each.step_cost,
        cost_lower=above(mean - half_width) * each.step_cost,
        cost_upper=above(mean + half_width) * each.step_cost,
        aiming=aiming,
    )


def _gauge_note(cost: LayerCost, findings: Sequence[Finding]) -> str:
    """What a faulty gauge has in the mean, in words: its readings stay in it as they are."""
    unit, told = cost.each.made.unit, []
    for x in findings:
        if x.layer != cost.layer or x.fault is None or x.kind not in ("gauge fault", "gauge in part"):
            continue
        who = f"{plural(x.units, 'unit')} ({x.first_unit} to {x.last_unit}) read while gauge {x.fault.gauge} read off"
        moved = x.size * x.units / cost.units
        if x.kind == "gauge fault" and x.shape == "step":
            who += f", which alone moves the mean by about {'+' if moved > 0.0 else '-'}{with_unit(abs(moved), unit, 2)}"
        told.append(who)
    if not told:
        return ""
    return f"Counted in with what the gauge showed: {'; '.join(told)}; what it read off is not taken out of the cost."


def _half_width(studied: Studied | str, sigma: float, count: int, level: float) -> tuple[float, bool]:
    """Half width of the interval of a mean, and whether it knows how days differ."""
    if isinstance(studied, str) or not studied.scan.noise.sigma_unit > 0.0:
        return float(_core.student_t_quantile(0.5 + 0.5 * level, count - 1) * sigma / math.sqrt(count)), False
    noise, series = studied.scan.noise, studied.series
    day = series.day[series.first :]
    weight = np.bincount(day - day.min()) / count
    days = float(weight @ between_days(noise, len(weight)) @ weight)
    error = noise.sigma_unit * math.sqrt(1.0 / count + days)
    return float(_core.normal_quantile(0.5 + 0.5 * level) * error), True


def _aiming(layer: Layer, sigma: float, unit: str) -> AimPoint | None:
    if layer.lower is None or layer.paint is None:
        return None
    lengths: dict[str, Any] = {f"lower_{unit}": layer.lower, f"sigma_{unit}": sigma, f"sigma_after_{unit}": 0.5 * sigma}
    if layer.upper is not None:
        lengths[f"upper_{unit}"] = layer.upper
    return aim_point(share_below=layer.paint.share_below, **lengths)


def _each(layer: Layer, plan: Plan) -> OverbuildCost:
    """What the unit's small step of film costs a month."""
    paint, costs, unit = layer.paint, plan.costs, plan.measure.unit
    assert paint is not None  # only such layers come here
    assert costs is not None
    given: dict[str, Any] = {
        f"area_{costs.area_unit}": costs.area_a_month,
        f"price_per_{paint.price_per.lower()}": paint.price,
        f"overbuild_{unit}": 0.1 if unit == "mil" else 1.0,
    }
    return overbuild_cost(
        volume_solids=paint.volume_solids, transfer_efficiency=paint.transfer_efficiency, currency=costs.currency, **given
    )


def cost_rows(costs: Sequence[LayerCost]) -> list[tuple[str, ...]]:
    """The table behind the sentences: a layer a row."""
    rows: list[tuple[str, ...]] = []
    for x in costs:
        unit, options = x.each.made.unit, x.each.made.options
        rows.append(
            (
                x.layer,
                f"{with_unit(x.mean, unit, 4)} of {x.units} units",
                f"{with_unit(x.aim, unit)} ({x.aim_is})",
                f"{'+' if x.over > 0.0 else '-'}{x.over_text}",
                with_unit(x.volume, options["volume_unit"], 3),
                x.cost_text,
                money_text(x.each.step_cost, options["currency"]),
                f"{number(x.each.price)} for a {options['volume_unit']}, {number(100 * x.each.volume_solids)} % solids, "
                f"{number(100 * x.each.transfer_efficiency)} % transferred",
            )
        )
    return rows


def aim_rows(costs: Sequence[LayerCost]) -> list[tuple[str, ...]]:
    """Where to aim above lower limits, with the month's spread and with half of it."""
    rows: list[tuple[str, ...]] = []
    for x in costs:
        if x.aiming is None:
            continue
        a, unit = x.aiming, x.each.made.unit
        money = money_text(x.saved or 0.0, x.each.made.options["currency"])
        decimals = decimals_for(0.5 * a.sigma)
        above = "no upper limit" if a.share_above is None else f"{number(100 * a.share_above, 2)} %"
        rows.append(
            (
                x.layer,
                f"{number(100 * a.share_below, 3)} % below {with_unit(a.lower, unit)}",
                with_unit(a.sigma, unit, 3),
                f"{fixed(a.target, decimals)} {unit}",
                above + ("" if a.fits else ": the window is too narrow for this spread"),
                f"{fixed(a.target_after or 0.0, decimals)} {unit}",
                f"{fixed(a.saving or 0.0, decimals)} {unit}, {money} a month",
            )
        )
    return rows
