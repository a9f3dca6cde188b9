"""How numbers are shown: enough digits to act on, never the noise of the last bits."""

from __future__ import annotations

import math

__all__ = ["number", "plural", "with_unit"]


def number(value: float, digits: int = 5) -> str:
    """A number with the given count of significant digits, without trailing zeros.

    >>> number(2.10000001), number(1234567.0), number(0.00001234), number(float("nan"))
    ('2.1', '1234567', '1.234e-05', 'nan')
    """
    if not math.isfinite(value):
        return str(value)
    if value == int(value) and abs(value) < 1e9:
        return str(int(value))
    return f"{value:.{digits}g}"


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
