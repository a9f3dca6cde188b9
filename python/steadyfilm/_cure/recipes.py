"""What a place must have had: schedule points, an upper curve, a maximum, a dose."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise
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
    overbake : tuple of SchedulePoint
        Upper curve of the window: no part may have more minutes at that temperature or above. Between its points the limit is
        the straight line of ln t on 1/T; beyond them nothing is said.
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
    overbake: tuple[SchedulePoint, ...] = ()

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

        self._check_overbake()

    def _check_overbake(self) -> None:
        """An upper curve falls with temperature, and lies above the schedule."""
        for k, point in enumerate(self.overbake):
            if not math.isfinite(point.temperature_c) or not 0.0 < point.minutes < math.inf:
                raise InvalidInputError(
                    f"recipe '{self.name}': overbake[{k}] needs a temperature and minutes above 0, got {point}",
                    argument="overbake",
                    position=k,
                )
        ordered = sorted(self.overbake, key=lambda point: point.temperature_c)
        for cooler, hotter in pairwise(ordered):
            if hotter.temperature_c == cooler.temperature_c or hotter.minutes > cooler.minutes:
                raise InvalidInputError(
                    f"recipe '{self.name}': overbake allows {hotter.minutes:g} min at {hotter.temperature_c:g} C and "
                    f"{cooler.minutes:g} at {cooler.temperature_c:g} C: an upper curve falls with temperature, one line each",
                    argument="overbake",
                )
        for point in self.schedule:
            for limit in self.overbake:
                if limit.temperature_c <= point.temperature_c and limit.minutes < point.minutes:
                    raise InvalidInputError(
                        f"recipe '{self.name}': {point.minutes:g} min at {point.temperature_c:g} C are asked for, yet overbake "
                        f"allows {limit.minutes:g} min at {limit.temperature_c:g} C or above",
                        argument="overbake",
                    )

    def arguments(
        self,
    ) -> tuple[list[float], list[float], list[float], list[float], float | None, float | None, float, float, bool]:
        """As the compiled core takes it."""
        dose = self.dose
        return (
            [point.temperature_c for point in self.schedule],
            [point.minutes for point in self.schedule],
            [point.temperature_c for point in self.overbake],
            [point.minutes for point in self.overbake],
            self.maximum_c,
            None if dose is None else dose.minutes,
            0.0 if dose is None else dose.activation_energy_kj,
            self.schedule[0].temperature_c if dose is None else dose.reference_c,
            self.unbroken,
        )
