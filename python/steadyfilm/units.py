"""Lengths a film gauge shows, and how they become one another: 1 mil is 25.4 micrometers, exactly."""

from __future__ import annotations

import difflib
from typing import Final

from steadyfilm.errors import InvalidInputError

__all__ = ["LENGTH_UNITS", "MICROMETERS_PER_MIL", "convert_length", "length_unit"]

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
