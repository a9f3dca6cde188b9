"""Wet to dry, coverage, money, VOC: worked cases, both unit systems, exact fractions, SciPy's normal law, what is refused."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf

from reference import Args, adapter

MIL = 25.4
GALLON = 3.785411784  # L; NIST SP 811, appendix B
SQUARE_FOOT = 0.09290304  # m2; the same
POUND = 453.59237  # g; the same
SHARES = st.floats(0.01, 1.0)
FILMS = st.floats(0.05, 500.0)


def numbers(args: Args, *names: str) -> dict[str, Any]:
    return {name: args.number(name) for name in names}


@adapter("wet_film_target")
def _wet(args: Args) -> dict[str, float]:
    found = sf.wet_film_target(**numbers(args, "dft_mil", "volume_solids", "thinner_fraction"))
    return {"wft_mil": found.wft, "volume_solids_thinned": found.volume_solids_thinned}


@adapter("spreading_rate")
def _spread(args: Args) -> dict[str, float]:
    found = sf.spreading_rate(**numbers(args, "dft_mil", "volume_solids", "transfer_efficiency"))
    return {name: getattr(found, name) for name in ("theoretical_ft2_gal", "theoretical_m2_l", "practical_ft2_gal")}


@adapter("mixed_volume_solids")
def _mix(args: Args) -> dict[str, float]:
    found = sf.mixed_volume_solids(args.list("parts"), args.list("volume_solids"), **numbers(args, "thinner_fraction"))
    return {"volume_solids": found.volume_solids, "volume_solids_thinned": found.volume_solids_thinned}


@adapter("dft_after_solids_change")
def _change(args: Args) -> dict[str, float]:
    found = sf.dft_after_solids_change(**numbers(args, "dft_mil", "solids_from", "solids_to"))
    return {"dft_mil": found.dft, "change_mil": found.change}


@adapter("overbuild_cost")
def _overbuild(args: Args) -> dict[str, float]:
    paint = numbers(args, "area_ft2", "overbuild_mil", "volume_solids", "transfer_efficiency", "price_per_gal")
    found = sf.overbuild_cost(**paint)
    return {"gallons": found.volume, "cost": found.cost}


@adapter("aim_point")
def _aim(args: Args) -> dict[str, float]:
    return {"target_mil": sf.aim_point(**numbers(args, "lower_mil", "sigma_mil", "z")).target}


@adapter("powder_coverage")
def _powder(args: Args) -> dict[str, float]:
    return {"coverage_ft2_lb": sf.powder_coverage(**numbers(args, "specific_gravity", "thickness_mil")).theoretical_ft2_lb}


@adapter("wet_step_as_dry")
def _step(args: Args) -> dict[str, float]:
    return {"step_dry_mil": sf.wet_step_as_dry(**numbers(args, "step_mil", "volume_solids"))}


@adapter("thinner_allowance")
def _thinner(args: Args) -> dict[str, float]:
    return {
        "thinner_gal": sf.thinner_allowance(**numbers(args, "voc_lb", "volume_gal", "thinner_voc_lb_gal", "limit_lb_gal")).thinner
    }


@adapter("voc_content")
def _content(args: Args) -> dict[str, Any]:
    found = sf.voc_content(**numbers(args, "voc_lb", "volume_gal", "water_gal", "solids_gal"))
    return {"per_gallon": found.per_volume, "less_water": found.less_water, "per_gallon_solids": found.per_solids}


@adapter("voc_per_solids")
def _solids(args: Args) -> dict[str, float]:
    return {"per_gallon_solids": sf.voc_per_solids(**numbers(args, "voc_lb_gal", "density_lb_gal"))}


@adapter("mixed_voc")
def _voc(args: Args) -> dict[str, float]:
    return {"voc": sf.mixed_voc(args.list("parts"), args.list("voc"))}


SHOP = {"volume_solids": 0.52, "transfer_efficiency": 0.65}


def example_results() -> list[Any]:
    mix = {"voc_lb": 15.9, "volume_gal": 5.0, "limit_lb_gal": 3.5}
    return [
        sf.mixed_volume_solids([4, 1], [0.48, 0.65]),
        sf.mixed_volume_solids([4, 1, 0.5], [0.48, 0.65, 0.0], thinner_fraction=0.1),
        sf.wet_film_target(dft_mil=2.1, volume_solids=0.52, thinner_fraction=0.1, window_mil=0.2),
        sf.wet_film_target(dft_um=53.0, volume_solids=0.52, window_um=40.0),
        sf.wet_film_target(dft_um=53.0, volume_solids=0.52),
        sf.dft_after_solids_change(dft_mil=2.1, solids_from=0.52, solids_to=0.48),
        sf.spreading_rate(dft_mil=2.1, **SHOP),
        sf.spreading_rate(dft_um=53.0, other_losses=0.05, **SHOP),
        sf.powder_coverage(thickness_mil=2.5, specific_gravity=1.5),
        sf.powder_coverage(thickness_um=60.0, specific_gravity=1.5, utilization=0.95),
        sf.overbuild_cost(area_ft2=67200, overbuild_mil=0.3, price_per_gal=95, half_width_mil=0.05, **SHOP),
        sf.overbuild_cost(area_m2=6243, overbuild_um=2.0, price_per_l=25, half_width_um=3.0, currency="USD", period="", **SHOP),
        sf.overbuild_cost(area_ft2=0, overbuild_mil=0, price_per_gal=0, **SHOP),
        sf.aim_point(lower_mil=2.0, sigma_mil=0.15, upper_mil=2.2, sigma_after_mil=0.10),
        sf.aim_point(lower_um=50.0, sigma_um=1.5, share_below=0.01, upper_um=60.0),
        sf.aim_point(lower_um=50.0, sigma_um=0.0, z=2.0),
        sf.voc_content(voc_lb=33.2, volume_gal=100, water_gal=62.4, solids_gal=33.06),
        sf.voc_content(voc_g=420.0, volume_l=1.0, exempt_l=0.1),
        sf.thinner_allowance(thinner_voc_lb_gal=6.4, **mix),
        sf.thinner_allowance(thinner_voc_lb_gal=3.0, **mix),
        sf.thinner_allowance(voc_g=450.0, volume_l=1.0, thinner_voc_g_l=770.0, limit_g_l=420.0),
    ]


# -- wet to dry ---------------------------------------------------------------------------------------------------------


@given(FILMS, SHARES, st.floats(0.0, 1.0))
def test_wet_and_dry_are_each_other_s_inverse(dft: float, solids: float, thinner: float) -> None:
    wet = sf.wet_film_target(dft_mil=dft, volume_solids=solids, thinner_fraction=thinner)
    assert sf.dry_film(wft_mil=wet.wft, volume_solids=solids, thinner_fraction=thinner) == pytest.approx(dft, rel=1e-14)
    exact = Fraction(dft) * (1 + Fraction(thinner)) / Fraction(solids)
    assert wet.wft == pytest.approx(float(exact), rel=1e-14)
    # Thinner alone, the wet film left as it was, takes what the change of solids takes.
    change = sf.dft_after_solids_change(dft_mil=dft, solids_from=solids, solids_to=wet.volume_solids_thinned)
    assert change.dft == pytest.approx(wet.dft_if_not_raised, rel=1e-13)


@given(FILMS, SHARES)
def test_the_unit_of_the_film_does_not_matter(dft: float, solids: float) -> None:
    mil = sf.wet_film_target(dft_mil=dft, volume_solids=solids, window_mil=0.2)
    um = sf.wet_film_target(dft_um=dft * MIL, volume_solids=solids, window_um=0.2 * MIL)
    assert um.wft == pytest.approx(mil.wft * MIL, rel=1e-14)
    if min(abs(mil.wft - edge) for edge in (6, 10, 30)) > 1e-9:
        assert um.comb_step == pytest.approx(mil.comb_step * MIL)
        assert um.comb_is_too_coarse == mil.comb_is_too_coarse


def test_ten_percent_of_thinner_cost_a_fifth_of_a_mil_at_the_same_wet_film() -> None:
    found = sf.wet_film_target(dft_mil=2.1, volume_solids=0.52, thinner_fraction=0.1, window_mil=0.2)
    assert found.dft - found.dft_if_not_raised == pytest.approx(0.19, abs=0.005)
    assert "2.1 mil dry need 4.442 mil wet at 47.27 % volume solids, 10 % of thinner in" in found.sentence()
    assert "0.5 mil there, 0.236 mil dry: more than the window of 0.2 mil, so that it finds a missed pass" in found.sentence()
    assert found.sentence().endswith(sf.THINNER_CARE)
    wide = sf.wet_film_target(dft_mil=2.1, volume_solids=0.52, window_mil=0.5)
    assert not wide.comb_is_too_coarse
    assert "missed pass" not in wide.sentence()


@given(st.lists(st.tuples(st.floats(0.1, 9.0), SHARES), min_size=1, max_size=5), st.floats(0.0, 1.0))
def test_thinner_is_one_more_component_without_solids(mix: list[tuple[float, float]], thinner: float) -> None:
    parts, shares = [part for part, _ in mix], [share for _, share in mix]
    found = sf.mixed_volume_solids(parts, shares, thinner_fraction=thinner)
    whole = sum(Fraction(p) for p in parts)
    solids = sum(Fraction(p) * Fraction(s) for p, s in mix)
    assert found.volume_solids == pytest.approx(float(solids / whole), rel=1e-13)
    same = sf.mixed_volume_solids([*parts, float(whole * Fraction(thinner))], [*shares, 0.0])
    assert same.volume_solids == pytest.approx(found.volume_solids_thinned, rel=1e-12)
    assert min(shares) * (1 - 1e-12) <= found.volume_solids <= max(shares) * (1 + 1e-12)


# -- coverage and money -------------------------------------------------------------------------------------------------


@given(FILMS, SHARES, SHARES, st.floats(0.0, 0.9))
def test_both_systems_cover_the_same_area(dft: float, solids: float, efficiency: float, lost: float) -> None:
    used = {"volume_solids": solids, "transfer_efficiency": efficiency, "other_losses": lost}
    us, metric = sf.spreading_rate(dft_mil=dft, **used), sf.spreading_rate(dft_um=dft * MIL, **used)
    # The volume of solids in a liter, spread out: exact fractions of SI units.
    square_meters = Fraction(solids) / 1000 / (Fraction(dft) * Fraction(254, 10) / 10**6)
    for found in (us, metric):
        assert found.theoretical_m2_l == pytest.approx(float(square_meters), rel=1e-13)
        assert found.theoretical_ft2_gal == pytest.approx(found.theoretical_m2_l * GALLON / SQUARE_FOOT, rel=1e-13)
        assert found.practical_m2_l == pytest.approx(found.theoretical_m2_l * efficiency * (1 - lost), rel=1e-13)
        assert found.practical_ft2_gal == pytest.approx(found.practical_m2_l * GALLON / SQUARE_FOOT, rel=1e-13)


@given(FILMS, st.floats(0.5, 4.0))
def test_powder_weighs_what_its_film_weighs(thickness: float, gravity: float) -> None:
    found = sf.powder_coverage(thickness_um=thickness, specific_gravity=gravity)
    assert found.theoretical_m2_kg * thickness * 1e-6 * gravity * 1000.0 == pytest.approx(1.0, rel=1e-12)
    assert found.theoretical_ft2_lb == pytest.approx(found.theoretical_m2_kg * POUND / 1000 / SQUARE_FOOT, rel=1e-12)
    same = sf.powder_coverage(thickness_mil=thickness / MIL, specific_gravity=gravity)
    assert same.theoretical_ft2_lb == pytest.approx(found.theoretical_ft2_lb, rel=1e-12)


@given(st.floats(1.0, 1e6), st.floats(0.0, 5.0), st.floats(0.0, 500.0), SHARES, SHARES)
def test_overbuild_costs_the_same_in_any_unit(area: float, film: float, price: float, solids: float, efficiency: float) -> None:
    shop = {"volume_solids": solids, "transfer_efficiency": efficiency}
    us = sf.overbuild_cost(area_ft2=area, overbuild_mil=film, price_per_gal=price, **shop)
    square_meters, micrometers, per_liter = area * SQUARE_FOOT, film * MIL, price / GALLON
    for found in (
        sf.overbuild_cost(area_m2=square_meters, overbuild_um=micrometers, price_per_l=per_liter, **shop),
        sf.overbuild_cost(area_ft2=area, overbuild_um=micrometers, price_per_l=per_liter, **shop),
        sf.overbuild_cost(area_m2=square_meters, overbuild_mil=film, price_per_gal=price, **shop),
    ):
        assert found.cost == pytest.approx(us.cost, rel=1e-12, abs=1e-12)
    rate = sf.spreading_rate(dft_mil=0.1, **shop)
    assert us.step_cost == pytest.approx(area / rate.practical_ft2_gal * price, rel=1e-12, abs=1e-12)
    assert us.cost == pytest.approx(us.step_cost * film / 0.1, rel=1e-12, abs=1e-12)


def test_the_interval_of_the_film_is_that_of_the_cost_and_ends_at_nothing() -> None:
    shop = {"area_ft2": 67200, "price_per_gal": 95, **SHOP}
    found = sf.overbuild_cost(overbuild_mil=0.3, half_width_mil=0.05, currency="USD", **shop)
    low, high = (sf.overbuild_cost(overbuild_mil=film, **shop).cost for film in (0.25, 0.35))
    assert (found.cost_lower, found.cost_upper) == (pytest.approx(low), pytest.approx(high))
    assert found.sentence() == (
        "0.3 ± 0.05 mil of overbuild on 67200 ft2 a month takes 37.18 gal of paint, 3532 USD (2944 to 4121); "
        "each 0.1 mil of film 1177 USD."
    )
    assert sf.overbuild_cost(overbuild_mil=0.02, half_width_mil=0.05, **shop).cost_lower == 0.0


@given(st.floats(0.0, 100.0), st.floats(0.01, 10.0), st.floats(1e-6, 0.5))
def test_the_aim_leaves_the_normal_share_below_the_limit(lower: float, sigma: float, share: float) -> None:
    found = sf.aim_point(lower_um=lower, sigma_um=sigma, share_below=share)
    assert found.target == pytest.approx(lower + stats.norm.isf(share) * sigma, rel=1e-9, abs=1e-9)
    assert stats.norm.cdf(lower, found.target, sigma) == pytest.approx(share, rel=1e-6)
    assert found.share_below == pytest.approx(share, rel=1e-9)
    left = sf.share_below(lower_um=lower, mean_um=found.target, sigma_um=sigma)
    assert left == pytest.approx(stats.norm.cdf(lower, found.target, sigma), rel=1e-9)


def test_a_window_too_narrow_for_the_spread_is_told() -> None:
    found = sf.aim_point(lower_mil=2.0, sigma_mil=0.15, upper_mil=2.2)
    assert found.share_above == pytest.approx(stats.norm.sf(2.2, found.target, 0.15), rel=1e-12)
    assert not found.fits
    assert "62.2 % above 2.2 mil, for the window is too narrow for this spread" in found.sentence()
    assert sf.aim_point(lower_mil=2.0, sigma_mil=0.05, upper_mil=2.2).fits
    worse = sf.aim_point(lower_mil=2.0, sigma_mil=0.1, sigma_after_mil=0.15)
    assert "0.0822 mil more film on every unit" in worse.sentence()


# -- VOC ----------------------------------------------------------------------------------------------------------------


@given(st.floats(0.0, 30.0), st.floats(0.5, 50.0), st.floats(0.5, 8.0), st.floats(0.5, 8.0))
def test_a_mix_with_its_thinner_stands_at_the_limit(mass: float, volume: float, thinner: float, limit: float) -> None:
    found = sf.thinner_allowance(voc_lb=mass, volume_gal=volume, thinner_voc_lb_gal=thinner, limit_lb_gal=limit)
    if mass >= limit * volume:
        assert found.thinner == 0.0
    elif thinner <= limit:
        assert math.isinf(found.thinner)
    else:
        after = sf.mixed_voc([volume, found.thinner], [mass / volume, thinner])
        assert after == pytest.approx(limit, rel=1e-9)
        assert found.dry_share == pytest.approx(1.0 / (1.0 + found.thinner_fraction))
    assert "data sheet and the local rules may allow less" in found.sentence()


def test_a_limit_met_or_never_reached_is_no_room_and_no_permission() -> None:
    mix = {"voc_lb": 17.5, "volume_gal": 5.0, "limit_lb_gal": 3.5}
    assert (
        "at the limit of 3.5 lb/gal already: no room for thinner"
        in sf.thinner_allowance(thinner_voc_lb_gal=6.4, **mix).sentence()
    )
    over = sf.thinner_allowance(voc_lb=20.0, volume_gal=5.0, thinner_voc_lb_gal=6.4, limit_lb_gal=3.5)
    assert "above the limit" in over.sentence()
    weak = sf.thinner_allowance(voc_lb=15.9, volume_gal=5.0, thinner_voc_lb_gal=3.0, limit_lb_gal=3.5)
    assert "this limit sets no bound. The data sheet" in weak.sentence()


def test_voc_in_grams_and_liters_is_that_in_pounds_and_gallons() -> None:
    us = sf.voc_content(voc_lb=33.2, volume_gal=100, water_gal=62.4, solids_gal=33.06)
    metric = sf.voc_content(voc_g=33.2 * POUND, volume_l=100 * GALLON, water_l=62.4 * GALLON, solids_l=33.06 * GALLON)
    for name in ("per_volume", "less_water", "per_solids"):
        assert getattr(metric, name) == pytest.approx(getattr(us, name) * POUND / GALLON, rel=1e-13)
    assert us.to_frame("dict")["g_l"] == pytest.approx(metric.to_frame("dict")["g_l"], rel=1e-12)
    per_liter = POUND / GALLON
    assert sf.voc_per_solids(voc_g_l=3.5 * per_liter) == pytest.approx(sf.voc_per_solids(voc_lb_gal=3.5) * per_liter, rel=1e-12)
    assert sf.voc_per_solids(voc_g_l=420.0, density_lb_gal=7.36) == pytest.approx(sf.voc_per_solids(voc_g_l=420.0), rel=1e-15)


def test_care_stands_beside_every_answer_about_solvent() -> None:
    for result in example_results():
        choices = result.explain().choices
        if isinstance(result, sf.VocContent | sf.ThinnerAllowance):
            assert "say the local rules" in choices["care"]
            assert "exposure" in choices["care"]
        if isinstance(result, sf.MixedSolids | sf.WetFilmTarget):
            assert choices["care"] == sf.THINNER_CARE
            assert (sf.THINNER_CARE in result.sentence()) == (result.thinner_fraction > 0.0)


# -- what is refused ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: sf.wet_film_target(dft_mil=2.1, volume_solids=0.0),
            "volume_solids must be a share above 0 and at most 1, got 0",
        ),
        (lambda: sf.wet_film_target(dft_mil=2.1, volume_solids=52), "52 % is written 0.52"),
        (lambda: sf.wet_film_target(dft_mil=2.1, volume_solids=0.5, thinner_fraction=1.5), "thinner_fraction must lie between 0"),
        (lambda: sf.wet_film_target(dft_mil=-2.1, volume_solids=0.5), "dft must be positive and finite, got -2.1"),
        (lambda: sf.wet_film_target(volume_solids=0.5), "dft_um or dft_mil is needed"),
        (lambda: sf.wet_film_target(dft_mil=2.1, dft_um=53.0, volume_solids=0.5), "give dft_um or dft_mil, not both"),
        (lambda: sf.wet_film_target(dft_mil=2.1, volume_solids=0.5, window_um=5.0), "must be in one unit: window is in um"),
        (lambda: sf.wet_film_target(dft_mil=2.1, volume_solids=0.5, window_mil=0.0), "window must be positive"),
        (lambda: sf.dry_film(wft_mil=0.0, volume_solids=0.5), "wft must be positive"),
        (lambda: sf.wet_comb_step(wft_um=math.nan), "wft must be positive"),
        (lambda: sf.mixed_volume_solids([], []), "parts"),
        (lambda: sf.mixed_volume_solids([4, 1], [0.5]), "volume_solids has 1 elements for 2 parts"),
        (lambda: sf.mixed_volume_solids([4, -1], [0.5, 0.5]), r"parts\[1\] must be 0 or more and finite, got -1"),
        (lambda: sf.mixed_volume_solids([4, 1], [0.0, 0.0]), "leave no solids in the mix"),
        (lambda: sf.spreading_rate(dft_mil=2.1, volume_solids=0.5, transfer_efficiency=65), "65 % is written 0.65"),
        (lambda: sf.spreading_rate(dft_mil=2.1, volume_solids=0.5, other_losses=1.0), "other_losses must be a share from 0"),
        (lambda: sf.powder_coverage(thickness_mil=2.5, specific_gravity=0.0), "specific_gravity must be positive"),
        (lambda: sf.overbuild_cost(overbuild_mil=0.1, price_per_gal=1, **SHOP), "area_ft2 or area_m2 is needed"),
        (lambda: sf.overbuild_cost(area_ft2=1, overbuild_mil=0.1, **SHOP), "price_per_gal or price_per_l is needed"),
        (
            lambda: sf.overbuild_cost(area_ft2=1, overbuild_mil=-0.1, price_per_gal=1, **SHOP),
            "film below the aim is no overbuild",
        ),
        (
            lambda: sf.overbuild_cost(area_ft2=1, overbuild_mil=0.1, half_width_mil=-1, price_per_gal=1, **SHOP),
            "half_width must be 0 or more",
        ),
        (lambda: sf.overbuild_cost(area_ft2=-1, overbuild_mil=0.1, price_per_gal=1, **SHOP), "area must be 0 or more"),
        (lambda: sf.overbuild_cost(area_ft2=1, overbuild_mil=0.1, price_per_gal=-1, **SHOP), "price must be 0 or more"),
        (lambda: sf.aim_point(lower_mil=2.0), "sigma_mil is needed"),
        (lambda: sf.aim_point(lower_mil=2.0, sigma_um=2.0), "sigma is in um, the others are in mil"),
        (lambda: sf.aim_point(lower_mil=2.0, sigma_mil=-0.1), "sigma must be 0 or more"),
        (lambda: sf.aim_point(lower_mil=2.0, sigma_mil=0.1, share_below=0.6), "share_below must be above 0 and at most 0.5"),
        (lambda: sf.aim_point(lower_mil=2.0, sigma_mil=0.1, share_below=0.1, z=1.0), "share_below or z, not both"),
        (lambda: sf.aim_point(lower_mil=2.0, sigma_mil=0.1, upper_mil=1.9), "must lie above lower"),
        (lambda: sf.share_below(lower_mil=2.0, mean_mil=2.1), "sigma_mil is needed"),
        (lambda: sf.voc_content(voc_lb=1.0, volume_l=1.0), "volume_l should be in gal"),
        (lambda: sf.voc_content(voc_lb=1.0), "volume_gal is needed"),
        (lambda: sf.voc_content(voc_lb=1.0, volume_gal=1.0, water_gal=0.7, exempt_gal=0.3), "leave nothing of 1"),
        (
            lambda: sf.voc_content(voc_lb=1.0, volume_gal=1.0, water_gal=0.7, solids_gal=0.4),
            "more than water and exempt solvents",
        ),
        (lambda: sf.voc_per_solids(voc_lb_gal=7.36), "no room is left for solids"),
        (
            lambda: sf.thinner_allowance(voc_lb=1.0, volume_gal=1.0, thinner_voc_lb_gal=6.0, limit_g_l=420.0),
            "limit_g_l should be in lb/gal",
        ),
        (lambda: sf.mixed_voc([1], [-1.0]), r"voc\[0\] must be 0 or more"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_way_out(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()
