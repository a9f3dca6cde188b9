"""Film acceptance: verdicts against exact fractions, what is missing or suspect or discarded, plans, and what is refused."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import steadyfilm as sf

from reference import Args, adapter


def spots_table(means: list[float], repeats: int = 3, **more: list[Any]) -> dict[str, list[Any]]:
    """Readings of one unit: every spot reads the same value `repeats` times."""
    film = [mean for mean in means for _ in range(repeats)]
    return {"place": [k // repeats for k in range(len(film))], "film": film, **more}


def judge(means: list[float], rule: sf.AcceptanceRule, **options: Any) -> sf.Acceptance:
    given_options = {"unit": "mil", "lower": 2.0, "upper": 2.2, **options}
    return sf.accept_film(spots_table(means), "film", rule=rule, spot="place", **given_options)


# -- reference rows -----------------------------------------------------------------------------------------------------


@adapter("area_count")
def _areas(args: Args) -> dict[str, Any]:
    surface = {name: args.number(name) for name in ("surface_ft2", "surface_m2") if name in args}
    return {"areas": sf.area_rule().needed(**surface)[0]}


@adapter("area_verdict")
def _levels(args: Args) -> dict[str, Any]:
    window = {"lower": args.number("lower_mil"), "upper": args.number("upper_mil")}
    found = [judge(args.list("spots_mil"), sf.area_rule(level), **window) for level in range(1, 6)]
    return {"area_mean_mil": float(found[0].areas.mean[0]), "verdict": [x.verdict[0] for x in found]}


@adapter("average_acceptance_probability")
def _average(args: Args) -> dict[str, float]:
    names = ("true_mean_mil", "lower_mil", "sigma_location_mil", "sigma_repeat_mil")
    share = sf.average_acceptance_probability(
        args.count("location_count"), args.count("readings_per_location"), **{name: args.number(name) for name in names}
    )
    return {"percent": 100 * share}


@adapter("below_share_probability")
def _below(args: Args) -> dict[str, float]:
    level = [args.number(name) for name in ("mean_ratio", "cv", "fraction")]
    share = sf.below_share_probability(*level, reading_count=args.count("reading_count"))
    return {"probability": share, "percent": 100 * share}


@adapter("limit_met")
def _met(args: Args) -> dict[str, str]:
    limit = args.number("limit_factor") * args.number("limit_base")
    return {"verdict": "pass" if sf.limit_met(args.list("readings"), limit, side=args.word("side")) else "fail"}


@adapter("ninety_ten_verdict")
def _ninety_ten(args: Args) -> dict[str, str]:
    found = sf.accept_film(
        {"film": args.list("readings_um")}, "film", rule=sf.ninety_ten_rule(), unit="um", nominal=args.number("nominal_um")
    )
    return {"verdict": found.verdict[0]}


@adapter("rough_steel_reading_count")
def _rough_count(args: Args) -> dict[str, Any]:
    return {"readings": sf.rough_steel_rule().needed(surface_m2=args.number("surface_m2"))[1]}


@adapter("rough_steel_verdict")
def _rough(args: Args) -> dict[str, str]:
    nominal = args.number("nominal_um")
    found = sf.accept_film(
        {"film": args.list("readings_um")},
        "film",
        rule=sf.rough_steel_rule(args.word("share_rule")),
        unit="um",
        nominal=nominal,
        upper=args.number("max_factor") * nominal if "max_factor" in args else None,
        correction_um=args.number("correction_um"),
    )
    return {"verdict": found.verdict[0]}


@adapter("single_value_range")
def _single(args: Args) -> dict[str, float]:
    rule = sf.area_rule(args.count("level"))
    found = judge([args.number("nominal_mil")] * 5, rule, lower=None, upper=None, nominal=args.number("nominal_mil"))
    window = sf.single_value_window(rule, nominal_mil=args.number("nominal_mil"))
    ends = {"lower_mil": window.lower, "upper_mil": window.upper}
    spot = {"spot_lower_mil": found.spot_limits.lower, "spot_upper_mil": found.spot_limits.upper}
    return {name: float(end) for name, end in {**ends, **spot}.items() if end is not None}


@adapter("spot_mean")
def _spot(args: Args) -> dict[str, float]:
    dropped = [int(number) for number in args.list("dropped")]
    return {"spot_mil": sf.spot_mean(args.list("readings_mil"), dropped=dropped)}


# -- examples -----------------------------------------------------------------------------------------------------------


def month() -> dict[str, list[Any]]:
    """Three units of five spots: one passes, one fails at a spot, one lacks a reading; one discarded reading matters."""
    rows: dict[str, list[Any]] = {"body": [], "place": [], "film": [], "why": [], "who": [], "doubt": []}
    levels = {"U1": [2.1, 2.05, 2.2, 2.1, 2.0], "U2": [2.1, 2.1, 1.5, 2.2, 2.2], "U3": [2.1, 2.1, 2.1, 2.1, 2.1]}
    for body, means in levels.items():
        for place, mean in zip("ABCDE", means, strict=True):
            for k in range(2 if (body, place) == ("U3", "E") else 3):
                odd = (body, place, k) == ("U1", "A", 2)
                rows["body"].append(body)
                rows["place"].append(place)
                rows["film"].append(3.9 if odd else mean)
                rows["why"].append("did not repeat" if odd else "")
                rows["who"].append("inspector 2" if odd else None)
                rows["doubt"].append("")
    return rows


def accept_month(rows: dict[str, list[Any]] | None = None, **options: Any) -> sf.Acceptance:
    settings = {"rule": sf.area_rule(3), "unit": "mil", "lower": 2.0, "upper": 2.2, "body": "body", "spot": "place"}
    settings |= {"discarded": "why", "discarded_by": "who", "suspect": "doubt", **options}
    return sf.accept_film(month() if rows is None else rows, "film", **settings)


def example_results() -> list[Any]:
    thin = {"film": [80.0, 95.0, 100.0, 105.0, 110.0, 110.0, 115.0, 120.0, 105.0, 110.0]}
    few: dict[str, Any] = {"unit": "mil", "sigma_location": 0.1, "draws": 400}
    way = {"north": [1.9, 2.0, 2.1], "east": [2.1], "south": [1.8, 1.7]}
    return [
        accept_month(),
        accept_month(sigma_repeat=0.03, bias_bound=0.02, surface_ft2=100.0),
        judge([2.1] * 5, sf.area_rule(5)),
        sf.accept_film(thin, "film", rule=sf.rough_steel_rule(), unit="um", nominal=100.0, profile="fine", surface_m2=2.0),
        sf.accept_film(thin, "film", rule=sf.rough_steel_rule(), unit="um", nominal=28.0, correction_um=0.0),
        sf.acceptance_curve(sf.area_rule(), window=sf.SpecLimits(2.0, 2.2), sigma_repeat=0.03, at_mean=2.1, **few),
        sf.acceptance_curve(
            sf.ninety_ten_rule(), unit="um", window=sf.SpecLimits(100.0), sigma_location=8.0, spots=20, draws=400
        ),
        sf.search_extent(way, origin="roof 3", unit="mil", lower=2.0, upper=2.2, edges=["south"]),
        sf.search_extent({"before": [50.0, 52.0]}, origin="bracket 7", unit="um", lower=48.0, step=1, step_unit="units"),
    ]


# -- verdicts against exact arithmetic ----------------------------------------------------------------------------------

STEPS = st.integers(120, 350)  # hundredths of a mil
ALLOWED = {1: ("1", "1", "1"), 2: ("1", "1.2", "1"), 3: ("0.8", "1.2", "1"), 4: ("0.8", "1.5", "1"), 5: ("0.8", None, None)}


def exact_verdict(level: int, spots: list[list[int]], low: Fraction, high: Fraction) -> str:
    """The area rule on hundredths, in fractions: nothing is rounded."""
    least, most, area_most = (None if text is None else Fraction(text) for text in ALLOWED[level])
    means = [Fraction(sum(spot), 100 * len(spot)) for spot in spots]
    area = sum(means) / len(means)
    good = all(mean >= (least or 0) * low and (most is None or mean <= most * high) for mean in means)
    good = good and area >= low and (area_most is None or area <= area_most * high)
    return "pass" if good else "fail"


@given(
    st.integers(1, 5),
    st.lists(st.lists(STEPS, min_size=3, max_size=3), min_size=5, max_size=5),
    st.integers(150, 220),
    st.integers(1, 60),
)
def test_verdicts_agree_with_exact_fractions_at_the_gauge_resolution(
    level: int, spots: list[list[int]], low: int, width: int
) -> None:
    rows = {"place": [k for k in range(5) for _ in range(3)], "film": [step / 100 for spot in spots for step in spot]}
    window = {"lower": low / 100, "upper": (low + width) / 100}
    found = sf.accept_film(rows, "film", rule=sf.area_rule(level), unit="mil", spot="place", **window)
    assert found.verdict[0] == exact_verdict(level, spots, Fraction(low, 100), Fraction(low + width, 100))


@given(st.lists(st.integers(700, 1400), min_size=1, max_size=30), st.integers(800, 1200), st.booleans())
def test_the_eighty_percent_rule_agrees_with_exact_fractions(readings: list[int], nominal: int, allowed: bool) -> None:
    film = [Fraction(step, 10) for step in readings]
    thin = Fraction(sum(x < Fraction(nominal, 10) for x in film), len(film))
    share = thin <= Fraction(1, 5) if allowed else thin < Fraction(1, 5)
    good = sum(film) / len(film) >= Fraction(nominal, 10) and min(film) >= Fraction(8 * nominal, 100) and share
    found = sf.accept_film(
        {"film": [step / 10 for step in readings]},
        "film",
        rule=sf.rough_steel_rule("at_most" if allowed else "below"),
        unit="um",
        nominal=nominal / 10,
        correction_um=0.0,
    )
    assert found.verdict[0] == ("pass" if good else "fail")


def test_readings_exactly_on_a_limit_that_is_a_product_pass() -> None:
    assert not 0.88 >= 0.8 * 1.1  # the trap in doubles
    found = judge([0.88, 1.2, 1.2, 1.2, 1.1], sf.area_rule(3), lower=1.1, upper=1.3)
    assert found.verdict[0] == "pass"
    assert judge([0.87, 1.21, 1.2, 1.2, 1.1], sf.area_rule(3), lower=1.1, upper=1.3).verdict[0] == "fail"


def test_the_same_film_in_the_other_unit_has_the_same_verdict() -> None:
    means = [1.60, 2.20, 2.20, 2.10, 1.90]  # both lower ends hit exactly
    rows = spots_table(means)
    um = {**rows, "film": [x * 25.4 for x in rows["film"]]}
    for level, verdict in ((1, "fail"), (3, "pass")):
        found = sf.accept_film(um, "film", rule=sf.area_rule(level), unit="um", lower=50.8, upper=55.88, spot="place")
        assert (found.verdict[0], judge(means, sf.area_rule(level)).verdict[0]) == (verdict, verdict)


# -- three states, both verdicts, guard band ----------------------------------------------------------------------------


def test_units_pass_fail_or_are_not_demonstrated_each_with_its_reason() -> None:
    found = accept_month()
    assert found.verdict.tolist() == ["pass", "fail", "not demonstrated"]
    assert found.reason.tolist() == ["", "spot C: 1.5 below 1.6 mil", "spot E: 2 of 3 readings"]
    assert (found.unit_count, found.pass_count, found.fail_count, found.open_count) == (3, 1, 1, 1)
    assert found.sentence().startswith(
        "1 of 3 units pass by SSPC-PA 2, level 3 (2015 with the editorial changes of 2017/2018), film 2.0 to 2.2 mil; "
        "1 fails (U2), 1 is not demonstrated (U3)"
    )


def test_a_discarded_reading_is_kept_with_its_reason_and_both_verdicts_are_shown_where_it_matters() -> None:
    found = accept_month()
    assert found.discarded == (sf.DiscardedReading(3, "U1", "A", 3.9, "mil", "did not repeat", "inspector 2"),)
    assert found.spots.mean[0] == pytest.approx(2.1)
    assert found.verdict_all.tolist() == ["fail", "fail", "not demonstrated"]
    assert "with the 1 discarded reading put back it would differ for U1 (fail)" in found.sentence()
    assert found.value.size == 44  # nothing is lost
    assert found.spots.readings[0] == 2
    # The spot was read three times; with all readings of a spot left out it was not read.
    rows = month()
    rows["why"][0] = rows["why"][1] = "gauge slipped"
    bare = accept_month(rows)
    assert (bare.verdict[0], bare.reason[0]) == ("not demonstrated", "spot A: no reading left of 3")


@pytest.mark.parametrize("named", [True, False])
def test_a_unit_whose_readings_were_all_left_out_is_not_demonstrated(named: bool) -> None:
    rows = {"body": ["a", "a", "b"], "place": ["x", "y", "x"], "film": [2.1, 2.1, 2.1], "why": ["slipped", "slipped", ""]}
    rule = sf.house_rule("spots", spot=sf.Shares(1.0, 1.0))
    options: dict[str, Any] = {"rule": rule, "unit": "mil", "lower": 2.0, "upper": 2.2, "body": "body", "discarded": "why"}
    found = sf.accept_film(rows, "film", spot="place" if named else (), **options)
    assert found.verdict.tolist() == ["not demonstrated", "pass"]
    assert found.verdict_all.tolist() == ["pass", "pass"]
    assert found.reason[0] == ("spot x: no reading left of 1; spot y: no reading left of 1" if named else "the unit: 0 of 1 spot")
    assert math.isnan(found.mean[0])
    assert found.plot().data["film"].size == 1
    only = {name: column[:2] for name, column in rows.items()}
    bare = sf.accept_film(only, "film", spot="place" if named else (), **options)
    assert bare.plot().data["film"].size == 0
    with pytest.raises(sf.InvalidInputError, match="every reading was left out"):
        sf.film_spread(bare)


def test_a_mean_of_an_area_that_is_not_whole_is_no_reason_for_a_failure() -> None:
    rows = spots_table([1.5, 1.9, 1.9, 1.9])  # four of five spots, one too thin by itself
    found = sf.accept_film(rows, "film", rule=sf.area_rule(), unit="mil", lower=2.0, upper=2.2, spot="place")
    assert (found.verdict[0], found.reason[0]) == ("fail", "spot 0: 1.5 below 1.6 mil")


def test_suspect_readings_leave_the_verdict_open() -> None:
    rows = month()
    rows["doubt"] = ["gauge off at the next check" if body == "U2" else "" for body in rows["body"]]
    found = accept_month(rows)
    assert found.verdict[1] == "not demonstrated"
    assert found.reason[1] == "15 suspect readings: gauge off at the next check"
    assert found.suspect_count == 15


def test_fewer_areas_than_the_surface_needs_are_not_demonstrated_and_metric_counts_are_its_own() -> None:
    found = judge([2.1] * 5, sf.area_rule(), surface_ft2=380.0)
    assert (found.verdict[0], found.reason[0]) == ("not demonstrated", "1 of 3 areas that the surface needs")
    assert judge([2.1] * 5, sf.area_rule(), surface_ft2=100.0).verdict[0] == "pass"
    open_one = judge([2.1] * 5, sf.area_rule())
    assert any("not a full application of the rule" in note for note in open_one.notes)
    assert (sf.area_rule().needed(surface_m2=99.0), sf.area_rule().needed(surface_ft2=1065.6)) == ((3, 0), (4, 0))


def test_several_areas_and_units_are_judged_by_themselves() -> None:
    rows: dict[str, list[Any]] = {"body": [], "area": [], "place": [], "film": []}
    for body in ("b2", "b1"):
        for area in ("left", "right"):
            for place in range(5):
                for _ in range(3):
                    rows["body"].append(body)
                    rows["area"].append(area)
                    rows["place"].append(place)
                    rows["film"].append(2.3 if (body, area) == ("b1", "right") else 2.1)
    shuffled = np.random.default_rng(2).permutation(60)
    mixed = {name: [column[i] for i in shuffled] for name, column in rows.items()}
    options = {"rule": sf.area_rule(), "unit": "mil", "lower": 2.0, "upper": 2.2, "body": "body", "area": "area", "spot": "place"}
    for table in (rows, mixed):
        found = sf.accept_film(table, "film", **options)
        verdicts = dict(zip(found.units, found.verdict, strict=True))
        assert verdicts == {"b2": "pass", "b1": "fail"}
        areas = {(u, a): v for u, a, v in zip(found.areas.unit, found.areas.area, found.areas.verdict, strict=True)}
        assert [key for key, verdict in areas.items() if verdict == "fail"] == [("b1", "right")]
        assert "mean of right 2.3 above 2.2 mil" in found.reason.tolist()


def test_the_guard_band_is_a_column_of_its_own() -> None:
    plain, banded = accept_month(), accept_month(sigma_repeat=0.03, bias_bound=0.02)
    assert plain.verdict.tolist() == banded.verdict.tolist()
    assert plain.guard_class.tolist() == ["", "", ""]
    # U1's average of 2.09 and its spots clear every limit by more than 0.02 + 1.645 * 0.03 / sqrt(2); U2's spot misses by 0.1.
    assert banded.guard_class.tolist() == ["clear", "clear", ""]
    close = judge([2.01] * 5, sf.area_rule(), sigma_repeat=0.03, bias_bound=0.02)
    assert (close.verdict[0], close.guard_class[0]) == ("pass", "doubtful")
    assert "1 verdict doubtful within the gauge's error" in close.sentence()


def test_rows_in_another_unit_are_converted_and_kept_as_written() -> None:
    rows = spots_table([2.1] * 5)
    rows["film"][4], rows["unit"] = 53.34, ["um" if k == 4 else "mils" for k in range(15)]
    found = sf.accept_film(
        rows, "film", rule=sf.area_rule(), unit="mil", lower=2.0, upper=2.2, spot="place", unit_of_measure="unit"
    )
    assert (found.measured[4], found.measured_unit[4], found.value[4]) == (53.34, "um", pytest.approx(2.1))
    assert any("1 reading written in another unit" in note for note in found.notes)


def test_a_profile_takes_its_correction_off_and_smooth_or_thin_film_is_out_of_scope() -> None:
    rows = {"film": [105.0] * 5}
    options = {"rule": sf.rough_steel_rule(), "unit": "um", "nominal": 80.0}
    assert sf.accept_film(rows, "film", profile="medium", **options).verdict[0] == "pass"
    assert sf.accept_film(rows, "film", profile="coarse", **options).verdict[0] == "fail"
    smooth = sf.accept_film(rows, "film", profile="smooth", **options)
    assert (smooth.verdict[0], smooth.out_count) == ("out of scope", 1)
    assert "no verdict" in smooth.sentence()
    mil = sf.accept_film({"film": [1.5] * 5}, "film", rule=sf.rough_steel_rule(), unit="mil", nominal=1.1, correction_um=0.0)
    assert mil.reason[0].endswith("for nominal films of at least 40 um, this is one of 1.1 mil")


@pytest.mark.parametrize(("odd", "told"), [(78.7, True), (0.12, True), (4.2, False)])
def test_a_unit_that_reads_like_another_unit_of_length_is_told(odd: float, told: bool) -> None:
    rows = {"body": ["a"] * 15 + ["b"] * 15, "place": list("vwxyz") * 6, "film": [3.1] * 15 + [odd] * 15}
    found = sf.accept_film(rows, "film", rule=sf.area_rule(), unit="mil", lower=3.0, upper=3.5, body="body", spot="place")
    said = f"One unit far from any such film (b with a mean of {odd} mil): written in another unit of length?"
    assert (said in " ".join(found.notes)) is told
    assert found.verdict.tolist() == ["pass", "fail"]


def test_house_rules_judge_the_unit_average_and_each_spot() -> None:
    rule = sf.house_rule(
        "shop rule 12", unit=sf.Shares(1.0, 1.0), spot=sf.Shares(0.85, 1.15), readings_per_spot=3, spots_per_area=5
    )
    assert judge([1.7, 2.3, 2.2, 2.2, 2.1], rule).verdict[0] == "pass"
    assert judge([1.69, 2.3, 2.2, 2.2, 2.1], rule).reason[0] == "spot 0: 1.69 below 1.7 mil"
    assert judge([1.9, 2.0, 2.0, 2.0, 2.0], rule).reason[0] == "mean of the unit 1.98 below 2 mil"
    assert judge([2.1] * 5, rule).sentence() == "Pass by shop rule 12, film 2.0 to 2.2 mil."
    assert rule.reservation == ""


def test_what_is_from_memory_says_so_beside_the_verdict() -> None:
    note = judge([2.1] * 5, sf.area_rule(4)).notes[0]
    assert "limits of level 4" in note
    assert "from memory" in note
    choices = judge([2.1] * 5, sf.area_rule(3)).explain().choices
    assert choices["known: limits of level 3"].startswith("seen in excerpt")


# -- plans --------------------------------------------------------------------------------------------------------------


def test_the_operating_curve_agrees_with_closed_forms() -> None:
    average = sf.house_rule("average alone", area=sf.Shares(1.0, None), readings_per_spot=3, spots_per_area=5)
    means = [1.90, 1.95, 2.00, 2.05, 2.10]
    spread = {"sigma_location": 0.13, "sigma_repeat": 0.05}
    curve = sf.acceptance_curve(average, unit="mil", window=sf.SpecLimits(2.0), true_means=means, **spread)
    for mean, share in zip(means, curve.probability, strict=True):
        error = math.sqrt(0.13**2 / 5 + 0.05**2 / 15)
        exact = 0.5 * math.erfc((2.0 - mean) / error / math.sqrt(2))
        assert share == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / 10_000))
    assert curve.standard_error.max() <= 0.005
    # Level 1 admits no spot outside: five independent spots.
    strict = sf.house_rule("spots alone", spot=sf.Shares(1.0, 1.0), spots_per_area=5)
    found = sf.acceptance_curve(strict, unit="mil", window=sf.SpecLimits(2.0, 2.2), sigma_location=0.1, at_mean=2.1)
    exact = math.erf(0.1 / 0.1 / math.sqrt(2)) ** 5
    assert found.pass_probability == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / 10_000))


def test_a_curve_is_the_same_on_every_run_and_changes_with_the_seed() -> None:
    options = {"unit": "mil", "window": sf.SpecLimits(2.0, 2.2), "sigma_location": 0.1, "draws": 300}
    one, two = (sf.acceptance_curve(sf.area_rule(), **options) for _ in range(2))
    assert one == two
    assert one != sf.acceptance_curve(sf.area_rule(), seed=2, **options)


def test_the_spread_of_judged_film_comes_out_of_its_readings() -> None:
    rng = np.random.default_rng(4)
    rows: dict[str, list[Any]] = {"body": [], "area": [], "place": [], "film": []}
    for body in range(60):
        for area in range(3):
            level = 100.0 + rng.normal(0, 3.0)
            for place in range(5):
                spot = level + rng.normal(0, 6.0)
                for _ in range(3):
                    rows["body"].append(str(body))
                    rows["area"].append(str(area))
                    rows["place"].append(str(place))
                    rows["film"].append(spot + rng.normal(0, 2.0))
    found = sf.accept_film(
        rows, "film", rule=sf.area_rule(), unit="um", lower=80.0, upper=120.0, body="body", area="area", spot="place"
    )
    spread = sf.film_spread(found)
    # Within four standard errors of what was put in, by chi-square with 1800, 720 and 120 degrees of freedom.
    assert spread.sigma_repeat == pytest.approx(2.0, rel=4 / math.sqrt(2 * 1800))
    assert spread.sigma_location == pytest.approx(6.0, rel=4 / math.sqrt(2 * 720))
    assert spread.sigma_area == pytest.approx(3.0, rel=4 * 1.9 / math.sqrt(2 * 120))
    assert spread.mean == pytest.approx(100.0, abs=1.5)


def test_the_search_outward_keeps_its_books() -> None:
    ways = {"north": [1.9, 2.0, 2.1], "east": [2.1], "south": [1.8, 1.7], "west": []}
    found = sf.search_extent(ways, origin="roof 3", unit="mil", lower=2.0, upper=2.2, edges=["south"])
    assert [(x.direction, x.state, x.reach) for x in found.directions] == [
        ("north", "closed", 5.0),
        ("east", "open", 0.0),
        ("south", "edge", 10.0),
        ("west", "open", 0.0),
    ]
    assert found.sentence().endswith("reaches 10 ft from it so far. Measure next: east at 10 ft, west at 5 ft.")
    done = sf.search_extent({**ways, "east": [2.1, 2.2], "west": [2.0, 2.0]}, origin="x", unit="mil", lower=2.0, edges=["south"])
    assert done.sentence() == "The search around x is complete: film outside at least 2 mil reaches at most 10 ft from it."
    assert sf.search_extent({"up": [51.0]}, origin="x", unit="um", lower=50.0).step == 1.5


# -- refusals -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: judge([2.1] * 5, sf.area_rule(), surface_m2=10.0), "not to be mixed: give surface_ft2"),
        (lambda: sf.area_rule().needed(surface_ft2=1.0, surface_m2=1.0), "not both"),
        (lambda: sf.area_rule(0), "level must be 1"),
        (lambda: judge([2.1] * 5, sf.area_rule(), lower=None, upper=None), "give the window"),
        (lambda: judge([2.1] * 5, sf.area_rule(), nominal=2.0), "a window or a nominal value, not both"),
        (lambda: judge([2.1] * 5, sf.area_rule(), lower=-2.0), "lower must be a thickness above 0"),
        (lambda: judge([2.1] * 5, sf.area_rule(), lower=2.3), "must lie below upper"),
        (lambda: judge([2.1] * 5, sf.area_rule(), profile="fine"), "takes nothing off for roughness"),
        (lambda: judge([2.1] * 5, sf.area_rule(), sigma_repeat=-1.0), "must be 0 or more"),
        (lambda: sf.accept_film({"film": [2.0]}, "film", rule=sf.area_rule(), unit="mil", lower=2.0), "name the columns"),
        (
            lambda: sf.accept_film({"film": [90.0]}, "film", rule=sf.rough_steel_rule(), unit="um", nominal=80.0),
            "say profile='fine'",
        ),
        (
            lambda: sf.accept_film({"film": [90.0]}, "film", rule=sf.ninety_ten_rule(), unit="um", upper=80.0),
            "counts readings below a limit",
        ),
        (lambda: sf.ninety_ten_rule().needed(surface_m2=4.0), "no counts by m2"),
        (lambda: sf.rough_steel_rule().needed(surface_ft2=4.0), "no counts by ft2"),
        (lambda: sf.rough_steel_rule("exactly"), "'below' or 'at_most'"),
        (lambda: sf.house_rule("none"), "a rule needs a limit"),
        (lambda: sf.house_rule(" ", spot=sf.Shares(1.0)), "a rule needs a name"),
        (lambda: sf.house_rule("x", spot=sf.Shares(1.0), areas_m2=sf.CountTable(((10.0, 2), (5.0, 3)))), "must rise"),
        (lambda: sf.house_rule("x", spot=sf.Shares(1.0), areas_m2=sf.CountTable()), "needs steps"),
        (lambda: sf.Shares(lower=0.0), "must be a share above 0"),
        (lambda: sf.roughness_correction("rough"), "profile must be one of fine"),
        (lambda: sf.spot_mean([1.0], dropped=[0]), "from 1"),
        (lambda: sf.limit_met([1.0], 1.0, side="below"), "'lower' or 'upper'"),
        (lambda: sf.search_extent({}, origin="x", unit="mil", lower=1.0), "name the directions"),
        (lambda: sf.search_extent({"n": []}, origin="x", unit="mil"), "neither a lower nor an upper"),
        (lambda: sf.search_extent({"n": []}, origin="x", unit="mil", lower=1.0, edges=["s"]), "no directions of the search"),
    ],
)
def test_what_cannot_be_meant_is_refused(call: Any, words: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=words):
        call()


def test_all_cells_that_cannot_be_used_are_told_at_once() -> None:
    rows = month()
    rows["film"][0], rows["film"][1] = 0.0, -2.0
    rows["place"][5] = None
    rows["why"][7] = "yes"
    with pytest.raises(sf.DataProblemsError) as caught:
        accept_month(rows)
    told = [(problem.column, problem.row) for problem in caught.value.problems]
    assert told == [("film", 1), ("film", 2), ("place", 6), ("why", 8)]
    rows = month()
    rows["film"][3] = None
    with pytest.raises(sf.DataProblemsError, match="reading is missing"):
        accept_month(rows)
    with pytest.warns(sf.MissingDataWarning):
        found = accept_month(rows, missing="drop")
    assert found.verdict[0] == "not demonstrated"
    rows = spots_table([2.1] * 5, unit=["inch"] * 15)
    with pytest.raises(sf.DataProblemsError, match="'inch' is no known unit of length"):
        sf.accept_film(rows, "film", rule=sf.area_rule(), unit="mil", lower=2.0, spot="place", unit_of_measure="unit")
