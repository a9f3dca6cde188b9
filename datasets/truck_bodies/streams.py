"""Independent streams of random numbers, one a month and purpose, or part of a purpose.

A stream depends on nothing but the seed, the month and the purpose. So the quiet month, which shares
the demo month's streams, has the same units, times and noise, and a fault moves no other number.
"""

from __future__ import annotations

from enum import IntEnum

from numpy.random import PCG64, Generator, SeedSequence

MONTHS = ("baseline", "demo", "quiet")
_SERIES = {"baseline": 0, "demo": 1, "quiet": 1}


class Purpose(IntEnum):
    """What the numbers of a stream are used for."""

    COUNTS = 1
    SUBSTRATES = 2
    TIMES = 3
    DAY = 4
    UNIT = 5
    UNIT_LOCATION = 6
    REPEAT = 7
    REMEASURE = 8
    CHECKS = 9
    ADJUSTMENT = 10
    OVEN_AIR = 11
    OVEN_PROBE = 12
    TITRATION = 13
    PH = 14
    BATH = 15
    RINSE = 16
    FEED = 17
    PANELS = 18
    STUDY = 19


def stream(seed: int, month: str, purpose: Purpose, *part: int) -> Generator:
    """Return the generator of a month and purpose; ``part`` tells apart what the purpose is split into."""
    if month not in _SERIES:
        raise ValueError(f"month {month!r} is none of {', '.join(MONTHS)}")
    return Generator(PCG64(SeedSequence(seed, spawn_key=(_SERIES[month], int(purpose), *part))))
