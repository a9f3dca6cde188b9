"""How numbers are shown: enough digits to act on, never the noise of the last bits."""

from __future__ import annotations

import math

__all__ = ["decimals_for", "fixed", "number", "plural", "with_unit"]

LONGEST_WRITTEN_OUT = 1e15
"""From here on numbers are written with an exponent: all whole numbers below are exact doubles of at most 15 digits."""


def number(value: float, digits: int = 5) -> str:
    """A number with the given count of significant digits, without trailing zeros; whole digits are all shown.

    >>> number(2.10000001), number(1234567.8), number(0.00001234), number(float("nan"))
    ('2.1', '1234568', '1.234e-05', 'nan')
    """
    if not math.isfinite(value):
        return str(value)
    if abs(value) < LONGEST_WRITTEN_OUT and (value == int(value) or abs(value) >= 10.0**digits):
        return f"{value:.0f}"
    return f"{value:.{digits}g}"


def fixed(value: float, decimals: int) -> str:
    """A number with that many decimals; what rounds to nothing has no sign, what is beyond writing out has an exponent.

    >>> fixed(2.1, 2), fixed(-0.001, 1), fixed(1e300 / 3, 0)
    ('2.10', '0.0', '3.3333e+299')
    """
    if abs(value) >= LONGEST_WRITTEN_OUT:
        return number(value)
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def decimals_for(width: float) -> int:
    """Decimals that show a distance to two digits.

    >>> decimals_for(0.18), decimals_for(25.0), decimals_for(0.0)
    (2, 0, 4)
    """
    return min(12, max(0, 1 - math.floor(math.log10(width)))) if width > 0.0 else 4


def with_unit(value: float, unit: str, digits: int = 4) -> str:
    """A number and its unit, for sentences.

    >>> with_unit(2.0999, "mil"), with_unit(1.5, "")
    ('2.1 mil', '1.5')
    """
    return f"{number(value, digits)} {unit}".rstrip()


def plural(count: int, word: str) -> str:
    """A count with its noun.

    >>> plural(1, "point"), plural(3, "point")
    ('1 point', '3 points')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"
