"""How numbers are shown: enough digits to act on, never the noise of the last bits."""

from __future__ import annotations

import math

__all__ = [
    "alike",
    "beyond_text",
    "decimals_for",
    "fixed",
    "number",
    "outside_text",
    "percent",
    "plural",
    "window_text",
    "with_unit",
]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
"""The same words whatever the language settings of the process."""

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


def alike(*values: float) -> list[str]:
    """Numbers that are read together, as they were given, with as many decimals as the one that has most.

    >>> alike(2.0, 2.25), alike(60.0, 80.0)
    (['2.00', '2.25'], ['60', '80'])
    """
    texts = [number(value, 10) for value in values]
    decimals = max(len(text.partition(".")[2]) for text in texts)
    return [text if "e" in text else f"{float(text):.{decimals}f}" for text in texts]


def window_text(lower: float | None, upper: float | None, unit: str) -> str:
    """What a window wants, in words; at least one limit is there.

    >>> window_text(2.0, 2.2, "mil"), window_text(42.0, None, "um"), window_text(None, 3.5, "")
    ('2.0 to 2.2 mil', 'at least 42 um', 'at most 3.5')
    """
    words = " to ".join(alike(*(limit for limit in (lower, upper) if limit is not None)))
    bound = "at least " if upper is None else "at most " if lower is None else ""
    return f"{bound}{words} {unit}".rstrip()


def outside_text(lower: float | None, upper: float | None, unit: str) -> str:
    """Where a value lies that misses a window; at least one limit is there.

    >>> outside_text(2.0, 2.2, "mil"), outside_text(42.0, None, "um"), outside_text(None, 3.5, "")
    ('outside 2.0 to 2.2 mil', 'below 42 um', 'above 3.5')
    """
    words = " to ".join(alike(*(limit for limit in (lower, upper) if limit is not None)))
    side = "below" if upper is None else "above" if lower is None else "outside"
    return f"{side} {words} {unit}".rstrip()


def beyond_text(value: float, lower: float | None, upper: float | None) -> str:
    """A value that misses a window, with as many digits as show that it does.

    >>> beyond_text(2.9071, 3.0, 3.5), beyond_text(3.50004, 3.0, 3.5)
    ('2.907', '3.50004')
    """
    for digits in range(4, 17):
        text = f"{value:.{digits}g}"
        if (lower is not None and float(text) < lower) or (upper is not None and float(text) > upper):
            return text
    return repr(value)


def percent(share: float, digits: int = 3) -> str:
    """A share as a percentage.

    >>> percent(1.2633), percent(0.3), percent(0.2946), percent(0.2946, 2)
    ('126 %', '30 %', '29.5 %', '29 %')
    """
    return f"{number(100 * share, digits)} %"


def plural(count: int, word: str) -> str:
    """A count with its noun.

    >>> plural(1, "point"), plural(3, "point")
    ('1 point', '3 points')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"
