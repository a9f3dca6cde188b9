"""What the parts of a plan are made of, and the parts about paint."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from steadyfilm.errors import MissingExtraError

try:
    from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, Strict
except ImportError as error:
    raise MissingExtraError("a plan", "job") from error

__all__ = ["Costs", "Day", "Flag", "Moment", "Name", "Names", "Number", "Paint", "Whole", "cost_problems"]

Name = Annotated[str, Field(min_length=1)]
Names = Annotated[
    tuple[Name, ...],
    BeforeValidator(lambda given: (given,) if isinstance(given, str) else given, json_schema_input_type=str | tuple[str, ...]),
]
# TOML has kinds: a number in quotes is no number, 1 is not true, and 20260301 is no date.
Number = Annotated[float, Strict()]
Whole = Annotated[int, Strict()]
Flag = Annotated[bool, Strict()]
Day = Annotated[date, Strict()]
Moment = Annotated[datetime, Strict()]


def _in(unit: str) -> Any:
    """The unit of a key, for the schema and the table of keys."""
    return Field(json_schema_extra={"unit": unit})


_no_unit = _in("no unit")
_working = _in("working unit")


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, use_attribute_docstrings=True)


class Costs(_Section):
    """How much is painted a month, and the money that prices are in: to say what film beyond the aim costs."""

    area_a_month: Annotated[Number, Field(gt=0), _in("ft2 or m2 a month, as area_unit says")]
    """Surface painted in a usual month, every coat of it once."""
    area_unit: Annotated[Literal["ft2", "m2"], _no_unit]
    """Unit of the surface."""
    currency: Annotated[str, _no_unit] = ""
    """Word for the money that prices are in, for example "USD"."""


class Paint(_Section):
    """The paint of a layer; price and solids are of the same state, as mixed or as thinned."""

    price: Annotated[Number, Field(ge=0), _in("money for a gal or L, as price_per says")]
    """Price of mixed paint."""
    price_per: Annotated[Literal["gal", "L"], _no_unit]
    """Volume that the price is for."""
    volume_solids: Annotated[Number, Field(gt=0, le=1), _in("share")]
    """Volume solids, from the data sheet: 0.52 for 52 %."""
    transfer_efficiency: Annotated[Number, Field(gt=0, le=1), _in("share")]
    """Share of the sprayed solids that stays on the part, as the shop knows it."""
    share_below: Annotated[Number, Field(gt=0, le=0.5), _in("share of units")] = 0.05
    """Share of units that may lie below the layer's lower limit; sets the aim point."""


def cost_problems(costs: Costs | None, layers: list[str], unit: str) -> list[str]:
    """What does not agree between the paint of layers and what is painted."""
    if costs is None:
        return [f"layers: '{name}' has paint; [costs] must say how much is painted a month" for name in layers[:1]]
    if not layers:
        return ["costs: no layer has paint, so that nothing can be said of its cost; give layers.paint, or leave costs out"]
    return ["costs need a working unit of length; say measure.unit = 'mil' or 'um'"] if unit == "unstated" else []
