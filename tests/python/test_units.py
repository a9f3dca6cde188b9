"""Lengths: the exact factor, every spelling, and one rounding only."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

MIL = Fraction(254, 10)
"""Micrometers in a mil: a thousandth of an inch, and an inch is 25.4 mm by definition (NIST SP 811, appendix B)."""


@given(st.floats(1e-3, 1e4))
def test_conversion_is_the_exact_factor_rounded_once(value: float) -> None:
    # 25.4 itself is no double; half a unit in the last place for it, half for the result.
    as_um = Fraction(sf.convert_length(value, given="mil", wanted="um"))
    as_mil = Fraction(sf.convert_length(value, given="um", wanted="mil"))
    assert abs(as_um / (Fraction(value) * MIL) - 1) < Fraction(3, 2**53)
    assert abs(as_mil / (Fraction(value) / MIL) - 1) < Fraction(3, 2**53)
    assert sf.convert_length(value, given="mil", wanted="mil") == value


@pytest.mark.parametrize("word", ["um", "µm", "μm", "UM", " micron ", "microns", "micrometers"])
def test_micrometers_are_known_by_all_their_names(word: str) -> None:
    assert sf.length_unit(word) == "um"


def test_an_unknown_unit_is_refused_with_the_nearest_ones() -> None:
    with pytest.raises(sf.InvalidInputError, match=r"'mill' is no known unit of length.*nearest: mil"):
        sf.length_unit("mill")
