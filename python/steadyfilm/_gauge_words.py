"""What a shift that all layers of a build share is called, wherever it is told; the one place for these words."""

from __future__ import annotations

__all__ = ["STILL", "common_offset_text", "film_text", "gauge_fault_text", "gauge_in_part_text", "zero_error_text"]

STILL = 2.0
"""A coat did not move if its shift is within so many standard uncertainties of nothing."""


def common_offset_text(gauge: str, layer: str) -> str:
    """What film readings alone can say.

    >>> common_offset_text("gauge K5", "primer")
    'common offset: gauge K5 or primer; check the gauge on shims'
    """
    return f"common offset: {gauge} or {layer}; check the gauge on shims"


def gauge_fault_text(said: str) -> str:
    """What standards have shown of a gauge.

    >>> gauge_fault_text("gauge K5 read 0.15 mil high on shims")
    'gauge fault: gauge K5 read 0.15 mil high on shims'
    """
    return f"gauge fault: {said}"


def zero_error_text(said: str) -> str:
    """What standards, or readings taken again, have shown of a gauge whose readings of the film are off by as much.

    >>> zero_error_text("gauge K5 read 0.15 mil high on shims")
    'gauge fault: zero error, gauge K5 read 0.15 mil high on shims'
    """
    return gauge_fault_text(f"zero error, {said}")


def gauge_in_part_text(said: str) -> str:
    """What is said of a gauge that was off by another amount than the readings of the film.

    >>> gauge_in_part_text("gauge K5 read 0.05 mil high on shims")
    'gauge fault: gauge K5 read 0.05 mil high on shims, yet the film readings are off by another amount'
    """
    return f"{gauge_fault_text(said)}, yet the film readings are off by another amount"


def film_text(gauge: str, layer: str, shift: str, known: str) -> str:
    """What is said of a shift that the gauge did not make.

    >>> film_text("gauge K5", "primer", "+0.15 mil", "on shims: +0.002 mil")
    'change of film: primer itself moved by +0.15 mil, since gauge K5 reads true (on shims: +0.002 mil)'
    """
    return f"change of film: {layer} itself moved by {shift}, since {gauge} reads true ({known})"
