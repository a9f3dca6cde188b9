"""What a place must have had: schedule points, a maximum, a dose."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

from steadyfilm.errors import InvalidInputError

__all__ = ["DoseWanted", "Recipe", "SchedulePoint"]


@dataclass(frozen=True)
class SchedulePoint:
    """One way to cure: the part, not the air, at this temperature or above for so many minutes."""

    temperature_c: float
    minutes: float


@dataclass(frozen=True)
class DoseWanted:
    """Minutes wanted at a reference temperature, with the activation energy (kJ/mol) that makes other temperatures count."""

    minutes: float
    reference_c: float
    activation_energy_kj: float


@dataclass(frozen=True)
class Recipe:
    """How a load is judged; it comes from the coating's data sheet.

    Attributes
    ----------
    schedule : tuple of SchedulePoint
        Any one of them is enough.
    maximum_c : float, optional
        No part may get hotter.
    dose : DoseWanted, optional
        The second line of the verdict.
    dose_role : {"told", "enough", "needed"}
        ``"told"``: the dose never changes the verdict; ``"enough"``: it may stand for a schedule point; ``"needed"``: it
        must be met as well.
    unbroken : bool
        Count the longest unbroken run instead of all time at temperature.
    air_c, bake_min : float, optional
        What the oven is set to, and for how long; they judge nothing.

    Examples
    --------
    >>> Recipe("example", (SchedulePoint(60.0, 60.0), SchedulePoint(71.0, 30.0)), maximum_c=90.0).schedule[1].minutes
    30.0
    """

    name: str
    schedule: tuple[SchedulePoint, ...]
    maximum_c: float | None = None
    dose: DoseWanted | None = None
    dose_role: Literal["told", "enough", "needed"] = "told"
    unbroken: bool = field(default=False)
    air_c: float | None = None
    bake_min: float | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be a recipe, with the way out."""
        if not self.schedule:
            raise InvalidInputError(f"recipe '{self.name}' needs at least one schedule point", argument="schedule")
        for k, point in enumerate(self.schedule):
            if not math.isfinite(point.temperature_c) or not 0.0 < point.minutes < math.inf:
                raise InvalidInputError(
                    f"recipe '{self.name}': schedule[{k}] needs a temperature and minutes above 0, got {point}",
                    argument="schedule",
                    position=k,
                )
        if self.dose_role not in ("told", "enough", "needed"):
            raise InvalidInputError(
                f"recipe '{self.name}': dose_role must be told, enough or needed, got {self.dose_role!r}", argument="dose_role"
            )
        if self.maximum_c is not None and self.maximum_c < min(point.temperature_c for point in self.schedule):
            raise InvalidInputError(
                f"recipe '{self.name}': the maximum of {self.maximum_c:g} C is below every schedule point", argument="maximum_c"
            )

    def arguments(self) -> tuple[list[float], list[float], float | None, float | None, float, float, bool]:
        """As the compiled core takes it."""
        dose = self.dose
        return (
            [point.temperature_c for point in self.schedule],
            [point.minutes for point in self.schedule],
            self.maximum_c,
            None if dose is None else dose.minutes,
            0.0 if dose is None else dose.activation_energy_kj,
            self.schedule[0].temperature_c if dose is None else dose.reference_c,
            self.unbroken,
        )
