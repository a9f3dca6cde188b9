"""Units: exact factors, every spelling, one rounding only, and temperatures apart from their differences."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

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
    assert sf.unit_symbol(word, among=sf.LENGTH_UNITS) == "um"


def test_an_unknown_unit_is_refused_with_the_nearest_ones() -> None:
    with pytest.raises(sf.InvalidInputError, match=r"'mill' is no known unit of length.*nearest: mil"):
        sf.unit_symbol("mill", among=sf.LENGTH_UNITS)


# Exact by definition, NIST SP 811 (2008), appendix B: in. = 25.4 mm, ft = 0.3048 m, lb = 453.59237 g, US gal = 231 in3,
# F = 1.8 C + 32.
KNOWN = [
    ("mm", "um", Fraction(1000)),
    ("mil", "mm", Fraction(254, 10_000)),
    ("h", "min", Fraction(60)),
    ("min", "s", Fraction(60)),
    ("ft2", "m2", Fraction(3048, 10_000) ** 2),
    ("gal", "L", Fraction(3785411784, 10**9)),
    ("lb/gal", "g/L", Fraction(45359237, 100_000) / Fraction(3785411784, 10**9)),
    ("mg/ft2", "g/m2", Fraction(1, 1000) / Fraction(3048, 10_000) ** 2),
]


@pytest.mark.parametrize(("given_unit", "wanted", "factor"), KNOWN)
@given(value=st.floats(1e-6, 1e6))
def test_every_conversion_is_its_exact_factor_rounded_once(given_unit: str, wanted: str, factor: Fraction, value: float) -> None:
    assert sf.convert(value, given=given_unit, wanted=wanted) == float(Fraction(value) * factor)
    assert sf.convert(value, given=wanted, wanted=given_unit) == float(Fraction(value) / factor)
    assert sf.convert(value, given=given_unit, wanted=given_unit) == value


def test_fixed_points_of_temperature_are_exact_and_differences_are_no_temperatures() -> None:
    for c, f, k in ((0.0, 32.0, 273.15), (100.0, 212.0, 373.15), (-40.0, -40.0, 233.15)):
        assert sf.convert(c, given="C", wanted="F") == sf.convert_temperature(c, given="C", wanted="F") == f
        assert sf.convert(f, given="F", wanted="C") == c
        assert sf.convert(c, given="C", wanted="K") == k
    assert sf.convert_temperature_difference(10.0, given="F", wanted="C") == pytest.approx(10 / 1.8)
    assert sf.convert(10.0, given="F", wanted="C") == pytest.approx(-22 / 1.8)


@given(st.floats(-200.0, 600.0))
def test_temperatures_come_back(value: float) -> None:
    there = sf.convert(value, given="C", wanted="F")
    assert sf.convert(there, given="F", wanted="C") == pytest.approx(value, rel=1e-14, abs=1e-12)


@pytest.mark.parametrize(
    ("word", "symbol"), [("Mils", "mil"), ("µm", "um"), (" sq  ft ", "ft2"), ("°f", "F"), ("mg/ft²", "mg/ft2"), ("Liters", "L")]
)
def test_words_on_forms_are_known(word: str, symbol: str) -> None:
    assert sf.unit_symbol(word) == symbol


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sf.convert(1.0, given="mil", wanted="m2"), "mil is a unit of length, m2 one of surface"),
        (lambda: sf.convert(1.0, given="C", wanted="mil"), "C is a unit of temperature"),
        (lambda: sf.convert(float("nan"), given="mil", wanted="um"), "must be finite"),
        (lambda: sf.unit_symbol("galon"), "nearest: gallon"),
    ],
)
def test_units_that_do_not_fit_are_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


def test_what_was_measured_is_kept() -> None:
    reading = sf.Measured(53.0, "um")
    assert reading.in_unit("mil") == pytest.approx(53 / 25.4)
    assert (reading.value, reading.unit) == (53.0, "um")
    # a chain of roundings, mil to whole um and back, is another number
    assert round(sf.convert(round(sf.convert(2.1, given="mil", wanted="um")), given="um", wanted="mil"), 4) == 2.0866
