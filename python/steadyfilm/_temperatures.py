"""Arguments that name their unit: a temperature as ``..._c`` or ``..._f``, and as arrays in C for the core."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._input import readings
from steadyfilm.errors import InvalidInputError
from steadyfilm.units import convert_temperature

__all__ = ["celsius", "from_fahrenheit", "optional_celsius", "trace_arrays"]

Floats = NDArray[np.float64]


def celsius(name: str, in_c: float | None, in_f: float | None) -> float:
    """One temperature in C; exactly one of both must be given.

    >>> celsius("threshold", None, 140.0)
    60.0
    """
    value = optional_celsius(name, in_c, in_f)
    if value is None:
        raise InvalidInputError(f"{name}_c or {name}_f is needed", argument=f"{name}_c")
    return value


def optional_celsius(name: str, in_c: float | None, in_f: float | None) -> float | None:
    """One temperature in C, or None where neither is given."""
    if in_c is not None and in_f is not None:
        raise InvalidInputError(f"give {name}_c or {name}_f, not both", argument=f"{name}_f")
    return convert_temperature(float(in_f), given="F", wanted="C") if in_f is not None else None if in_c is None else float(in_c)


def from_fahrenheit(values: Floats) -> Floats:
    """Temperatures in F as C.

    >>> from_fahrenheit(np.array([140.0, 32.0])).tolist()
    [60.0, 0.0]
    """
    return np.asarray((values - 32.0) / 1.8)


def trace_arrays(time_min: Any, in_c: Any, in_f: Any) -> tuple[Floats, Floats, str]:
    """Times and temperatures of a trace in min and C, and the unit that the temperatures came in."""
    if (in_c is None) == (in_f is None):
        which = "not both" if in_c is not None else "one is needed"
        raise InvalidInputError(f"give temperature_c or temperature_f, {which}", argument="temperature_c")
    time = readings(time_min, name="time_min").values
    if in_c is not None:
        return time, readings(in_c, name="temperature_c").values, "C"
    return time, from_fahrenheit(readings(in_f, name="temperature_f").values), "F"
