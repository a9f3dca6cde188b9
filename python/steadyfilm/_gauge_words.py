"""What a shift that all layers of a build share is called, wherever it is told; the one place for these words."""

from __future__ import annotations

__all__ = ["STILL", "common_offset_text", "gauge_fault_text"]

STILL = 2.0
"""A coat did not move if its shift is within so many standard uncertainties of nothing."""


def common_offset_text(gauge: str, layer: str) -> str:
    """What film readings alone can say.

    >>> common_offset_text("gauge Q2", "primer")
    'common offset: gauge Q2 or primer; check the gauge on shims'
    """
    return f"common offset: {gauge} or {layer}; check the gauge on shims"


def gauge_fault_text(said: str) -> str:
    """What standards, or readings taken again, have shown of the gauge.

    >>> gauge_fault_text("gauge Q2 read 0.15 mil high on shims")
    'gauge fault: gauge Q2 read 0.15 mil high on shims'
    """
    return f"gauge fault: {said}"
