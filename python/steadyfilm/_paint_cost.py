"""What film beyond the aim costs, and where to aim above a lower limit."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._format import fixed, number, with_unit
from steadyfilm._quantities import METRIC, UnitSystem, given_once, length_once, optional_length, percent
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.errors import InvalidInputError
from steadyfilm.units import convert

__all__ = ["AimPoint", "OverbuildCost", "aim_point", "money_text", "overbuild_cost", "share_below"]

_PAGE = "cpp/methods/film_coverage.md"
_LESS_FILM = "a lower aim follows from less spread alone; the window and the data sheet say what film must be there"


def money_text(amount: float, currency: str = "") -> str:
    """An amount of money: cents below 100, whole numbers above.

    >>> money_text(3532.22), money_text(17.5209, "USD")
    ('3532', '17.52 USD')
    """
    return f"{fixed(amount, 0 if abs(amount) >= 99.995 else 2)} {currency}".rstrip()


@dataclass(frozen=True, eq=False, repr=False)
class OverbuildCost(Result):
    """Paint, and its price, in film beyond what is wanted.

    Lengths are in mil or um, areas in ft2 or m2, volumes in gal or L, by the unit of the film; money is in that of the price.

    Attributes
    ----------
    volume, cost : float
        Mixed paint in the overbuild, and its price.
    step, step_cost : float
        A small length (0.1 mil or 1 um), and what so much film costs.
    cost_lower, cost_upper : float
        For the ends of the overbuild's interval; below 0 there is no overbuild. Both are ``cost`` without a half width.
    """

    volume: float
    cost: float
    cost_lower: float
    cost_upper: float
    step: float
    step_cost: float
    overbuild: float
    half_width: float
    area: float
    volume_solids: float
    transfer_efficiency: float
    price: float

    def sentence(self) -> str:
        options = self.made.options
        unit, period = self.made.unit, f" a {options['period']}" if options["period"] else ""
        over = with_unit(self.overbuild, unit)
        if self.half_width > 0.0:
            over = f"{number(self.overbuild)} ± {with_unit(self.half_width, unit, 2)}"
        paint = f"{with_unit(self.volume, options['volume_unit'])} of paint"
        known = f" ({money_text(self.cost_lower)} to {money_text(self.cost_upper)})" if self.half_width > 0.0 else ""
        each = f"each {with_unit(self.step, unit)} of film {money_text(self.step_cost, options['currency'])}"
        return (
            f"{over} of overbuild on {with_unit(self.area, options['area_unit'], 6)}{period} takes {paint}, "
            f"{money_text(self.cost, options['currency'])}{known}; {each}."
        )

    def _columns(self) -> dict[str, Any]:
        options = self.made.options
        film = [self.overbuild, max(0.0, self.overbuild - self.half_width), self.overbuild + self.half_width, self.step]
        per = 0.0 if self.step == 0.0 else self.step_volume / self.step
        return {
            "film": ["overbuild", "lower end", "upper end", "step"],
            f"film_{self.made.unit}": film,
            f"volume_{options['volume_unit']}": [length * per for length in film],
            "cost": [self.cost, self.cost_lower, self.cost_upper, self.step_cost],
        }

    @property
    def step_volume(self) -> float:
        """Paint in ``step`` of film."""
        solids = _core.solids_coverage(self.made.unit == METRIC.length)
        return self.area * self.step / (solids * self.volume_solids * self.transfer_efficiency)

    def explain(self) -> Explanation:
        rate = "1000" if self.made.unit == METRIC.length else "(231 / 0.144)"
        paint = {"area": self.area, "volume_solids": self.volume_solids, "transfer_efficiency": self.transfer_efficiency}
        volume = f"/ ({rate} * volume_solids * transfer_efficiency)"
        known = {"overbuild": self.overbuild, "half_width": self.half_width}
        money = {**paint, "price": self.price}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("volume", f"area * overbuild {volume}", {**paint, "overbuild": self.overbuild}, self.volume),
                Step("cost", "volume * price", {"volume": self.volume, "price": self.price}, self.cost),
                Step("step_cost", f"area * step {volume} * price", {**money, "step": self.step}, self.step_cost),
                Step(
                    "cost_lower",
                    f"area * max(0, overbuild - half_width) {volume} * price",
                    {**money, **known},
                    self.cost_lower,
                ),
                Step("cost_upper", f"area * (overbuild + half_width) {volume} * price", {**money, **known}, self.cost_upper),
            ),
            choices={
                "paint": "as mixed; its price and solids belong to the same state, with or without thinner",
                "transfer efficiency": "the shop's own where measured; figures fixed by a regulation are for its sums",
                "care": _LESS_FILM,
            },
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class AimPoint(Result):
    """Mean to aim at above a lower limit, in the unit of the limit.

    Attributes
    ----------
    target : float
        ``lower + z sigma``.
    z, share_below : float
        Standard deviations up to the aim, and the normal share that is then below the limit.
    share_above : float or None
        Normal share above the upper limit, where one is given.
    sigma_after, target_after, saving : float or None
        Another spread, the aim that it allows, and how much less film that is on every unit.
    """

    target: float
    z: float
    share_below: float
    lower: float
    sigma: float
    upper: float | None
    share_above: float | None
    sigma_after: float | None
    target_after: float | None
    saving: float | None

    @property
    def fits(self) -> bool:
        """Whether the share above the upper limit is no larger than the one below the lower; true without an upper limit."""
        return self.share_above is None or self.share_above <= self.share_below * (1.0 + 1e-9)

    def sentence(self) -> str:
        unit = self.made.unit
        text = (
            f"Aim at {with_unit(self.target, unit)}: with a standard deviation of {with_unit(self.sigma, unit, 3)}, "
            f"{percent(self.share_below, 3)} then lie below {with_unit(self.lower, unit)}"
        )
        if self.share_above is not None and self.upper is not None:
            text += f" and {percent(self.share_above, 3)} above {with_unit(self.upper, unit)}"
            if not self.fits:
                text += ", for the window is too narrow for this spread"
        if self.sigma_after is not None and self.target_after is not None and self.saving is not None:
            less, word = abs(self.saving), "less" if self.saving >= 0.0 else "more"
            text += (
                f"; with {with_unit(self.sigma_after, unit, 3)} the aim is {with_unit(self.target_after, unit)}, "
                f"{with_unit(less, unit, 3)} {word} film on every unit"
            )
        return text + "."

    def _columns(self) -> dict[str, Any]:
        unit = self.made.unit
        after = [] if self.sigma_after is None else [self.sigma_after]
        targets = [] if self.target_after is None else [self.target_after]
        return {f"sigma_{unit}": [self.sigma, *after], f"target_{unit}": [self.target, *targets]}

    def explain(self) -> Explanation:
        inputs = {"lower": self.lower, "sigma": self.sigma, "z": self.z}
        steps = [Step("target", "lower + z * sigma", inputs, self.target)]
        if self.sigma_after is not None and self.target_after is not None and self.saving is not None:
            after = {"lower": self.lower, "sigma_after": self.sigma_after, "z": self.z}
            steps.append(Step("target_after", "lower + z * sigma_after", after, self.target_after))
            steps.append(
                Step("saving", "target - target_after", {"target": self.target, "target_after": self.target_after}, self.saving)
            )
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "sigma": "of what the limit judges: of unit averages for a limit on averages, of spots for one on spots",
                "share": "of a normal distribution; how well mean and sigma are known is not in it",
                "care": _LESS_FILM,
            },
            sources=(_PAGE,),
        )


def overbuild_cost(
    *,
    area_ft2: float | None = None,
    area_m2: float | None = None,
    overbuild_um: float | None = None,
    overbuild_mil: float | None = None,
    half_width_um: float | None = None,
    half_width_mil: float | None = None,
    volume_solids: float,
    transfer_efficiency: float,
    price_per_gal: float | None = None,
    price_per_l: float | None = None,
    currency: str = "",
    period: str = "month",
) -> OverbuildCost:
    """What film beyond the aim costs: gallons or liters of mixed paint, and their price.

    Parameters
    ----------
    area_ft2, area_m2 : float
        Painted in the period, in one of the two units.
    overbuild_um, overbuild_mil : float
        Film above the aim, 0 or more; a whole film gives the paint that it takes. Its unit is that of the result: gal and ft2
        go with mil, L and m2 with um.
    half_width_um, half_width_mil : float, optional
        Of the overbuild's interval.
    volume_solids, transfer_efficiency : float
        Shares, of the paint as priced and of the spraying.
    price_per_gal, price_per_l : float
        Of mixed paint, in one of the two units.
    currency, period : str
        Words for the sentence.

    Raises
    ------
    InvalidInputError
        A quantity that is missing or given twice, a negative area, overbuild or price, shares out of 0 to 1.

    Examples
    --------
    >>> paint = {"volume_solids": 0.52, "transfer_efficiency": 0.65, "price_per_gal": 95.0}
    >>> print(overbuild_cost(area_ft2=67200, overbuild_mil=0.3, **paint).sentence())
    0.3 mil of overbuild on 67200 ft2 a month takes 37.18 gal of paint, 3532; each 0.1 mil of film 1177.
    """
    units, overbuild = length_once("overbuild", um=overbuild_um, mil=overbuild_mil)
    half_width = optional_length(units, "half_width", um=half_width_um, mil=half_width_mil) or 0.0
    if not (half_width >= 0.0 and math.isfinite(half_width)):
        raise InvalidInputError(f"half_width must be 0 or more, got {half_width}", argument=f"half_width_{units.length}")
    area_unit, area = given_once("area", ft2=area_ft2, m2=area_m2)
    price_unit, price = given_once("price_per", gal=price_per_gal, l=price_per_l)
    surface = convert(float(area), given=area_unit, wanted=units.area)
    # A price is for one of its volumes: the more such volumes in the wanted one, the higher.
    paid = float(price) * convert(1.0, given=units.volume, wanted=price_unit)

    def of(film: float) -> dict[str, float]:
        return _core.overbuild_cost(surface, film, units.metric, volume_solids, transfer_efficiency, paid)

    options = {"area_unit": units.area, "volume_unit": units.volume, "currency": currency, "period": period}
    return build(
        OverbuildCost,
        of(overbuild),
        made=Made("overbuild_cost", units.length, 1, options=options, version=_core.version),
        cost_lower=of(max(0.0, overbuild - half_width))["cost"],
        cost_upper=of(overbuild + half_width)["cost"],
        step=units.step,
        step_cost=of(units.step)["cost"],
        overbuild=overbuild,
        half_width=half_width,
        area=surface,
        volume_solids=float(volume_solids),
        transfer_efficiency=float(transfer_efficiency),
        price=paid,
    )


def aim_point(
    *,
    lower_um: float | None = None,
    lower_mil: float | None = None,
    sigma_um: float | None = None,
    sigma_mil: float | None = None,
    share_below: float | None = None,
    z: float | None = None,
    upper_um: float | None = None,
    upper_mil: float | None = None,
    sigma_after_um: float | None = None,
    sigma_after_mil: float | None = None,
) -> AimPoint:
    """Mean to aim at so that no more than a share lies below a lower limit, and what less spread would save.

    Parameters
    ----------
    lower_um, lower_mil : float
        Lower limit; its unit is that of all lengths of the call.
    sigma_um, sigma_mil : float
        Standard deviation of what the limit judges: of unit averages for a limit on averages, of spots for one on spots.
    share_below : float, optional
        Share that may lie below, above 0 and at most 0.5; 0.05 if neither this nor ``z`` is given.
    z : float, optional
        Standard deviations up to the aim, in its place.
    upper_um, upper_mil : float, optional
        Upper limit, to see what lies above it.
    sigma_after_um, sigma_after_mil : float, optional
        Another spread, to see how much film it would save.

    Raises
    ------
    InvalidInputError
        Lengths that are missing, given twice or in two units, a negative sigma, both of share and z.

    Examples
    --------
    >>> found = aim_point(lower_mil=2.0, sigma_mil=0.15, sigma_after_mil=0.10)
    >>> round(found.target, 3), round(found.target_after, 3), round(found.saving, 4)
    (2.247, 2.164, 0.0822)
    >>> print(aim_point(lower_mil=2.0, sigma_mil=0.15).sentence())
    Aim at 2.247 mil: with a standard deviation of 0.15 mil, 5 % then lie below 2 mil.
    """
    units, lower = length_once("lower", um=lower_um, mil=lower_mil)
    sigma = _needed(units, "sigma", um=sigma_um, mil=sigma_mil)
    upper = optional_length(units, "upper", um=upper_um, mil=upper_mil)
    after = optional_length(units, "sigma_after", um=sigma_after_um, mil=sigma_after_mil)
    if upper is not None and not upper > lower:
        raise InvalidInputError(f"upper ({upper}) must lie above lower ({lower})", argument=f"upper_{units.length}")
    if share_below is not None and z is not None:
        raise InvalidInputError("give share_below or z, not both: one follows from the other", argument="z")
    if z is None:
        share = 0.05 if share_below is None else float(share_below)
        if not 0.0 < share <= 0.5:
            raise InvalidInputError(f"share_below must be above 0 and at most 0.5, got {share}", argument="share_below")
        z = -_core.normal_quantile(share)
    target = _core.aim_point(lower, sigma, z)
    target_after = None if after is None else _core.aim_point(lower, after, z)
    return AimPoint(
        made=Made("aim_point", units.length, 1, version=_core.version),
        target=target,
        z=float(z) + 0.0,
        share_below=_core.normal_cdf(-float(z)),
        lower=lower,
        sigma=sigma,
        upper=upper,
        share_above=None if upper is None else _core.share_below(-upper, -target, sigma),
        sigma_after=after,
        target_after=target_after,
        saving=None if target_after is None else target - target_after,
    )


def share_below(
    *,
    lower_um: float | None = None,
    lower_mil: float | None = None,
    mean_um: float | None = None,
    mean_mil: float | None = None,
    sigma_um: float | None = None,
    sigma_mil: float | None = None,
) -> float:
    """Share of a normal distribution below a lower limit.

    Examples
    --------
    >>> round(share_below(lower_mil=2.0, mean_mil=2.1, sigma_mil=0.087), 4)
    0.1252
    """
    units, lower = length_once("lower", um=lower_um, mil=lower_mil)
    mean = _needed(units, "mean", um=mean_um, mil=mean_mil)
    sigma = _needed(units, "sigma", um=sigma_um, mil=sigma_mil)
    return _core.share_below(lower, mean, sigma)


def _needed(units: UnitSystem, name: str, *, um: float | None, mil: float | None) -> float:
    """A length in the unit of the others of its call, which must be there."""
    found = optional_length(units, name, um=um, mil=mil)
    if found is None:
        raise InvalidInputError(f"{name}_{units.length} is needed", argument=f"{name}_{units.length}")
    return found
