"""Lengths a film gauge shows and temperatures a probe shows, and how they become one another, exactly."""

from __future__ import annotations

import difflib
from typing import Final

from steadyfilm.errors import InvalidInputError

__all__ = [
    "LENGTH_UNITS",
    "MICROMETERS_PER_MIL",
    "TEMPERATURE_UNITS",
    "convert_length",
    "convert_temperature",
    "convert_temperature_difference",
    "length_unit",
    "temperature_unit",
]

MICROMETERS_PER_MIL: Final = 25.4
"""Exact: 1 inch is 25.4 mm by definition (international yard and pound agreement of 1959; NIST SP 811, appendix B)."""

LENGTH_UNITS: Final = ("mil", "um")

_SPELLINGS: Final = {
    "mil": "mil",
    "mils": "mil",
    "thou": "mil",
    "um": "um",
    "µm": "um",  # micro sign
    "μm": "um",  # Greek letter mu
    "micron": "um",
    "microns": "um",
    "micrometer": "um",
    "micrometers": "um",
}


def length_unit(text: str) -> str:
    """The unit that a word on a form means: ``"mil"`` or ``"um"``.

    Raises
    ------
    InvalidInputError
        If the word is none of the known spellings.

    Examples
    --------
    >>> length_unit(" Mils "), length_unit("µm")
    ('mil', 'um')
    """
    word = text.strip().lower()
    if word not in _SPELLINGS:
        near = difflib.get_close_matches(word, _SPELLINGS, n=2)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise InvalidInputError(f"'{text}' is no known unit of length (known: {', '.join(_SPELLINGS)}){hint}", argument="unit")
    return _SPELLINGS[word]


def convert_length(value: float, *, given: str, wanted: str) -> float:
    """A length in another unit, by one multiplication or division, so that it is rounded once.

    Examples
    --------
    >>> convert_length(81.28, given="um", wanted="mil"), convert_length(2.0, given="mil", wanted="um")
    (3.2, 50.8)
    """
    given, wanted = length_unit(given), length_unit(wanted)
    if given == wanted:
        return value
    return value / MICROMETERS_PER_MIL if wanted == "mil" else value * MICROMETERS_PER_MIL


TEMPERATURE_UNITS: Final = ("C", "F", "K")

_TEMPERATURES: Final = {
    "c": "C",
    "°c": "C",
    "degc": "C",
    "deg c": "C",
    "celsius": "C",
    "f": "F",
    "°f": "F",
    "degf": "F",
    "deg f": "F",
    "fahrenheit": "F",
    "k": "K",
    "kelvin": "K",
}


def temperature_unit(text: str) -> str:
    """The unit that a word on a form means: ``"C"``, ``"F"`` or ``"K"``.

    Raises
    ------
    InvalidInputError
        If the word is none of the known spellings.

    Examples
    --------
    >>> temperature_unit("°F"), temperature_unit(" celsius ")
    ('F', 'C')
    """
    word = text.strip().lower()
    if word not in _TEMPERATURES:
        raise InvalidInputError(f"'{text}' is no known unit of temperature (known: {', '.join(_TEMPERATURES)})", argument="unit")
    return _TEMPERATURES[word]


def convert_temperature(value: float, *, given: str, wanted: str) -> float:
    """A temperature in another unit. K = C + 273.15 and F = 1.8 C + 32, exactly (NIST SP 811, appendix B).

    A difference of temperatures is another thing: see ``convert_temperature_difference``.

    Examples
    --------
    >>> convert_temperature(140.0, given="F", wanted="C"), convert_temperature(60.0, given="C", wanted="F")
    (60.0, 140.0)
    """
    given, wanted = temperature_unit(given), temperature_unit(wanted)
    if given == wanted:
        return value
    in_c = (value - 32.0) / 1.8 if given == "F" else value - 273.15 if given == "K" else value
    return in_c * 1.8 + 32.0 if wanted == "F" else in_c + 273.15 if wanted == "K" else in_c


def convert_temperature_difference(value: float, *, given: str, wanted: str) -> float:
    """A difference of temperatures in another unit: 1 K is 1 C is 1.8 F, without the 32.

    Examples
    --------
    >>> convert_temperature_difference(5.0, given="C", wanted="F"), convert_temperature_difference(9.0, given="F", wanted="K")
    (9.0, 5.0)
    """
    given, wanted = temperature_unit(given), temperature_unit(wanted)
    per_k = {"C": 1.0, "K": 1.0, "F": 1.8}
    return value / per_k[given] * per_k[wanted]
