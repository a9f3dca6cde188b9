"""Units of the trade and how they become one another, exactly. They are changed at the boundary alone.

Lengths a film gauge shows, temperatures a probe shows (a difference of temperatures is another thing), surfaces, volumes, times,
contents and coating weights. What was measured stays as it was written, with its unit: see ``Measured``.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from steadyfilm.errors import InvalidInputError

__all__ = [
    "LENGTH_UNITS",
    "MICROMETERS_PER_MIL",
    "TEMPERATURE_UNITS",
    "Measured",
    "convert",
    "convert_length",
    "convert_temperature",
    "convert_temperature_difference",
    "unit_symbol",
]

MICROMETERS_PER_MIL: Final = 25.4
"""Exact: 1 inch is 25.4 mm by definition (international yard and pound agreement of 1959; NIST SP 811, appendix B)."""

LENGTH_UNITS: Final = ("mil", "um")
"""Those that a film gauge shows."""

TEMPERATURE_UNITS: Final = ("C", "F", "K")

_POUND: Final = Fraction(45359237, 100_000)  # grams
_FOOT: Final = Fraction(3048, 10_000)  # meters
_GALLON: Final = 231 * Fraction(254, 100) ** 3 / 1000  # liters: 231 cubic inches

# Kind of quantity, and how many of the kind's base unit one of this is. All exact: NIST SP 811, appendix B.
_SCALES: Final[dict[str, tuple[str, Fraction]]] = {
    "um": ("length", Fraction(1)),
    "mil": ("length", Fraction(254, 10)),
    "mm": ("length", Fraction(1000)),
    "s": ("time", Fraction(1)),
    "min": ("time", Fraction(60)),
    "h": ("time", Fraction(3600)),
    "m2": ("surface", Fraction(1)),
    "ft2": ("surface", _FOOT**2),
    "L": ("volume", Fraction(1)),
    "gal": ("volume", _GALLON),
    "g/L": ("content", Fraction(1)),
    "lb/gal": ("content", _POUND / _GALLON),
    "g/m2": ("coating weight", Fraction(1)),
    "mg/ft2": ("coating weight", Fraction(1, 1000) / _FOOT**2),
}
_TO_KELVIN: Final[dict[str, tuple[Fraction, Fraction]]] = {
    "K": (Fraction(1), Fraction(0)),
    "C": (Fraction(1), Fraction(27315, 100)),
    "F": (Fraction(5, 9), Fraction(27315, 100) - 32 * Fraction(5, 9)),
}
# What people write on forms, in small letters; no two units differ by their case alone.
_WORDS: Final = {
    **{symbol.lower(): symbol for symbol in (*_SCALES, *_TO_KELVIN)},
    "mils": "mil",
    "thou": "mil",
    "\u00b5m": "um",  # micro sign
    "\u03bcm": "um",  # Greek letter mu
    "micron": "um",
    "microns": "um",
    "micrometer": "um",
    "micrometers": "um",
    "\u00b0c": "C",
    "degc": "C",
    "deg c": "C",
    "celsius": "C",
    "\u00b0f": "F",
    "degf": "F",
    "deg f": "F",
    "fahrenheit": "F",
    "kelvin": "K",
    "millimeter": "mm",
    "millimeters": "mm",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "minute": "min",
    "minutes": "min",
    "hour": "h",
    "hours": "h",
    "ft\u00b2": "ft2",
    "sq ft": "ft2",
    "square feet": "ft2",
    "m\u00b2": "m2",
    "sq m": "m2",
    "square meters": "m2",
    "gallon": "gal",
    "gallons": "gal",
    "us gal": "gal",
    "liter": "L",
    "liters": "L",
    "mg/ft\u00b2": "mg/ft2",
    "g/m\u00b2": "g/m2",
}


def unit_symbol(text: str, *, among: Sequence[str] = ()) -> str:
    r"""The unit that a word on a form means.

    Parameters
    ----------
    text : str
        Its symbol or another spelling; case and spaces around it do not matter.
    among : sequence of str
        Units of one kind that are meant, for example ``LENGTH_UNITS``; all that are known if left out.

    Raises
    ------
    InvalidInputError
        If the word is none of the known spellings of those units.

    Examples
    --------
    >>> unit_symbol("Gallons"), unit_symbol("\u00b0F"), unit_symbol("LB/GAL"), unit_symbol("k")
    ('gal', 'F', 'lb/gal', 'K')
    >>> unit_symbol(" Mils ", among=LENGTH_UNITS)
    'mil'
    >>> unit_symbol("mm", among=LENGTH_UNITS)
    Traceback (most recent call last):
    ...
    steadyfilm.errors.InvalidInputError: 'mm' is no known unit of length (known: mil, um)
    """
    word = " ".join(text.strip().lower().split())
    symbol = _WORDS.get(word, "")
    if symbol and (not among or symbol in among):
        return symbol
    near = difflib.get_close_matches(word, [x for x, meant in _WORDS.items() if not among or meant in among], n=2)
    hint = f"; nearest: {', '.join(near)}" if near else ""
    known = f"{f' of {_kind(among[0])}' if among else ''} (known: {', '.join(among or (*_SCALES, *_TO_KELVIN))})"
    raise InvalidInputError(f"'{text}' is no known unit{known}{hint}", argument="unit")


def _kind(symbol: str) -> str:
    return _SCALES[symbol][0] if symbol in _SCALES else "temperature"


def convert_length(value: float, *, given: str, wanted: str) -> float:
    """A length in another unit, by one multiplication or division, so that it is rounded once.

    Raises
    ------
    InvalidInputError
        A unit that is none of ``LENGTH_UNITS``.

    Examples
    --------
    >>> convert_length(81.28, given="um", wanted="mil"), convert_length(2.0, given="mil", wanted="um")
    (3.2, 50.8)
    """
    given, wanted = (unit_symbol(unit, among=LENGTH_UNITS) for unit in (given, wanted))
    if given == wanted:
        return value
    return value / MICROMETERS_PER_MIL if wanted == "mil" else value * MICROMETERS_PER_MIL


def convert_temperature(value: float, *, given: str, wanted: str) -> float:
    """A temperature in another unit. K = C + 273.15 and F = 1.8 C + 32, exactly (NIST SP 811, appendix B).

    A difference of temperatures is another thing: see ``convert_temperature_difference``.

    Raises
    ------
    InvalidInputError
        A unit that is none of ``TEMPERATURE_UNITS``.

    Examples
    --------
    >>> convert_temperature(140.0, given="F", wanted="C"), convert_temperature(60.0, given="C", wanted="F")
    (60.0, 140.0)
    """
    given, wanted = (unit_symbol(unit, among=TEMPERATURE_UNITS) for unit in (given, wanted))
    if given == wanted:
        return value
    in_c = (value - 32.0) / 1.8 if given == "F" else value - 273.15 if given == "K" else value
    return in_c * 1.8 + 32.0 if wanted == "F" else in_c + 273.15 if wanted == "K" else in_c


def convert_temperature_difference(value: float, *, given: str, wanted: str) -> float:
    """A difference of temperatures in another unit: 1 K is 1 C is 1.8 F, without the 32.

    Raises
    ------
    InvalidInputError
        A unit that is none of ``TEMPERATURE_UNITS``.

    Examples
    --------
    >>> convert_temperature_difference(5.0, given="C", wanted="F"), convert_temperature_difference(9.0, given="F", wanted="K")
    (9.0, 5.0)
    """
    given, wanted = (unit_symbol(unit, among=TEMPERATURE_UNITS) for unit in (given, wanted))
    per_k = {"C": 1.0, "K": 1.0, "F": 1.8}
    return value / per_k[given] * per_k[wanted]


def convert(value: float, *, given: str, wanted: str) -> float:
    """A quantity in another unit, rounded once; a temperature as a temperature, see ``convert_temperature_difference``.

    Parameters
    ----------
    value : float
    given, wanted : str
        Two units of one kind.

    Raises
    ------
    InvalidInputError
        An unknown unit, units of two kinds, a value that is not finite.

    Examples
    --------
    >>> convert(1.0, given="gal", wanted="L"), convert(3.5, given="lb/gal", wanted="g/L")
    (3.785411784, 419.39249...)
    >>> convert(451.0, given="F", wanted="K"), convert(150.0, given="mg/ft2", wanted="g/m2")
    (505.9277..., 1.6145865...)
    """
    given, wanted = unit_symbol(given), unit_symbol(wanted)
    if not math.isfinite(value):
        raise InvalidInputError(f"value must be finite, got {value}", argument="value")
    if given == wanted:
        return value
    if given in _TO_KELVIN and wanted in _TO_KELVIN:
        (factor, offset), (other, shift) = _TO_KELVIN[given], _TO_KELVIN[wanted]
        return float((Fraction(value) * factor + offset - shift) / other)
    if _kind(given) != _kind(wanted):
        raise InvalidInputError(f"{given} is a unit of {_kind(given)}, {wanted} one of {_kind(wanted)}", argument="wanted")
    return float(Fraction(value) * _SCALES[given][1] / _SCALES[wanted][1])


@dataclass(frozen=True)
class Measured:
    """A value as it was measured, with its unit; what it is in another unit is asked of it and never written over it.

    >>> reading = Measured(53.0, "um")
    >>> round(reading.in_unit("mil"), 4), reading
    (2.0866, Measured(value=53.0, unit='um'))
    """

    value: float
    unit: str

    def in_unit(self, wanted: str) -> float:
        """The value in another unit of its kind."""
        return convert(self.value, given=self.unit, wanted=wanted)
