"""What a plan says of its paint and of how much is painted, to say what film beyond the aim costs."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from steadyfilm._plan.keys import Number, Section, in_unit, no_unit

__all__ = ["Costs", "Paint", "cost_problems"]


class Costs(Section):
    """How much is painted a month, and the money that prices are in: to say what film beyond the aim costs."""

    area_a_month: Annotated[Number, Field(gt=0), in_unit("ft2 or m2 a month, as area_unit says")]
    """Surface painted in a usual month, every coat of it once."""
    area_unit: Annotated[Literal["ft2", "m2"], no_unit]
    """Unit of the surface."""
    currency: Annotated[str, no_unit] = ""
    """Word for the money that prices are in, for example "USD"."""


class Paint(Section):
    """The paint of a layer; price and solids are of the same state, as mixed or as thinned."""

    price: Annotated[Number, Field(ge=0), in_unit("money for a gal or L, as price_per says")]
    """Price of mixed paint."""
    price_per: Annotated[Literal["gal", "L"], no_unit]
    """Volume that the price is for."""
    volume_solids: Annotated[Number, Field(gt=0, le=1), in_unit("share")]
    """Volume solids, from the data sheet: 0.52 for 52 %."""
    transfer_efficiency: Annotated[Number, Field(gt=0, le=1), in_unit("share")]
    """Share of the sprayed solids that stays on the part, as the shop knows it."""
    share_below: Annotated[Number, Field(gt=0, le=0.5), in_unit("share of units")] = 0.05
    """Share of units that may lie below the layer's lower limit; sets the aim point."""


def cost_problems(costs: Costs | None, layers: list[str], unit: str) -> list[str]:
    """What does not agree between the paint of layers and what is painted."""
    if costs is None:
        return [f"layers: '{name}' has paint; [costs] must say how much is painted a month" for name in layers[:1]]
    if not layers:
        return ["costs: no layer has paint, so that nothing can be said of its cost; give layers.paint, or leave costs out"]
    return ["costs need a working unit of length; say measure.unit = 'mil' or 'um'"] if unit == "unstated" else []
