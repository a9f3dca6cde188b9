"""Arguments that name their unit, of any kind: one quantity is given once, and the units of a call are told apart by system."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from steadyfilm.errors import InvalidInputError

__all__ = ["METRIC", "US", "UnitSystem", "given_once", "length_once", "optional_length", "percent"]


@dataclass(frozen=True)
class UnitSystem:
    """Units that belong together; ``step`` is a length that is small for a film, in ``length``."""

    metric: bool
    length: str
    area: str
    volume: str
    mass: str
    content: str
    step: float


US: Final = UnitSystem(False, "mil", "ft2", "gal", "lb", "lb/gal", 0.1)
METRIC: Final = UnitSystem(True, "um", "m2", "L", "g", "g/L", 1.0)


def given_once(name: str, **units: Any) -> tuple[str, Any]:
    """The unit and value of a quantity that must be given in just one of its units; keywords are the endings of its names.

    Raises
    ------
    InvalidInputError
        It is not given, or in two units.

    Examples
    --------
    >>> given_once("area", ft2=67200.0, m2=None)
    ('ft2', 67200.0)
    """
    found = {unit: value for unit, value in units.items() if value is not None}
    names = [f"{name}_{unit}" for unit in units]
    if not found:
        raise InvalidInputError(f"{' or '.join(names)} is needed", argument=names[0])
    if len(found) > 1:
        raise InvalidInputError(f"give {' or '.join(names)}, not both", argument=names[-1])
    ((unit, value),) = found.items()
    return unit, value


def length_once(name: str, *, um: float | None, mil: float | None) -> tuple[UnitSystem, float]:
    """The system that a length belongs to, and its number."""
    unit, value = given_once(name, um=um, mil=mil)
    return (METRIC if unit == "um" else US), float(value)


def optional_length(units: UnitSystem, name: str, *, um: float | None, mil: float | None) -> float | None:
    """A length that may be left out, and must be in the unit of the others of its call."""
    if um is None and mil is None:
        return None
    system, value = length_once(name, um=um, mil=mil)
    if system is not units:
        raise InvalidInputError(
            f"lengths of one call must be in one unit: {name} is in {system.length}, the others are in {units.length}",
            argument=f"{name}_{system.length}",
        )
    return value


def percent(share: float, digits: int = 4) -> str:
    """A share as percent.

    >>> percent(0.472727), percent(0.05)
    ('47.27 %', '5 %')
    """
    return f"{100.0 * share:.{digits}g} %"
