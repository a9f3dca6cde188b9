"""Can the gauge tell: shares of windows, readings needed, guard bands, the file of a study, and the words."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf
from gauge_shop import Shop, full_study, readings, study_text
from steadyfilm._files import cells_from_bytes
from steadyfilm._gauge.study_file import display_step, studies_of
from steadyfilm._gauge.windows import answer_window, fewest_readings, repeats_needed
from steadyfilm.measurability import judge_gauge_cells

from helpers import load_dataset

NARROW, WIDE = sf.SpecLimits(2.0, 2.2), sf.SpecLimits(3.0, 3.5)


def judged(text: str, windows: Any = (), **options: Any) -> sf.Measurability:
    how = {name: options.pop(name) for name in ("decimal", "separator", "missing") if name in options}
    return judge_gauge_cells(cells_from_bytes(text.encode(), name="study.csv", **how), windows, **options)


def example_results() -> list[sf.Measurability]:
    windows = [
        sf.StudyWindow("topcoat", NARROW, difference=True),
        sf.StudyWindow("total", WIDE),
        sf.StudyWindow("least", sf.SpecLimits(lower=2.5)),
        sf.StudyWindow("never", sf.SpecLimits(upper=3.0)),
        sf.StudyWindow("least topcoat", sf.SpecLimits(lower=1.9), difference=True),
    ]
    one = "\n".join(line for line in full_study().splitlines() if line.split(",")[1] in ("appraiser", "1")) + "\n"
    return [
        judged(full_study(), WIDE, unit="mil"),
        judged(full_study(), windows, unit="mil", bias_bound=0.02),
        judged(one, {"total": WIDE}, unit="mil"),
    ]


def spread(repeat: float, common: float = 0.0, appraisers: int = 1, mean: float = 0.0) -> sf.GaugeSpread:
    return sf.GaugeSpread(repeat, common, math.hypot(repeat, common), None, None, appraisers, mean)


def answer(window: sf.StudyWindow, of: sf.GaugeSpread, **more: Any) -> sf.WindowAnswer:
    usual: dict[str, Any] = {"share_limit": 0.3, "sigma_multiple": 6.0, "bias_bound": 0.0, "alpha": 0.05, "most_readings": 15}
    return answer_window(window, of, **(usual | {"studied": (-1e9, 1e9)} | more))


# -- shares and readings ------------------------------------------------------------------------------------------------

# Smallest n with 6 sigma / sqrt(n) within the share of the window, worked by hand from n = (6 sigma / (share W))^2, rounded up.
BY_HAND = [
    (0.02, 0.2, (4, 9, 36)),
    (0.03, 0.2, (9, 21, 81)),
    (0.05, 0.2, (25, 57, 225)),
    (0.08, 0.2, (64, 144, 576)),
    (0.05, 0.5, (4, 9, 36)),
    (0.08, 0.5, (11, 24, 93)),
]


@pytest.mark.parametrize(("sigma", "width", "wanted"), BY_HAND)
def test_readings_for_a_share_of_the_window(sigma: float, width: float, wanted: tuple[int, int, int]) -> None:
    assert tuple(math.ceil((6 * sigma / (share * width)) ** 2 - 1e-9) for share in (0.3, 0.2, 0.1)) == wanted
    for share, n in zip((0.3, 0.2, 0.1), wanted, strict=True):
        found = answer(sf.StudyWindow("", sf.SpecLimits(2.0, 2.0 + width)), spread(sigma), share_limit=share, most_readings=600)
        assert (found.readings, found.appraisers, found.judgeable) == (n, 1, True)
        assert found.share == pytest.approx(6 * sigma / width)


def test_the_full_study_takes_its_known_shares() -> None:
    """Shares of the window to three digits, from the components that a linear model and its mixed model gave outside."""
    repeat, people, both = 0.03352, 0.02159, 0.01355
    found = judged(full_study(), {"narrow": sf.SpecLimits(3.1, 3.3), "wide": WIDE}, unit="mil").studies[0]
    assert found.spread.repeat == pytest.approx(repeat, abs=5e-6)
    assert found.spread.common == pytest.approx(math.hypot(people, both), abs=1e-5)
    narrow, wide = found.windows
    assert (100 * narrow.share, 100 * wide.share) == pytest.approx((126.3, 50.5), abs=0.05)
    # One appraiser never gets there: 6 hypot(people, both) / 0.5; three readings by three do.
    assert wide.one_appraiser is None
    assert wide.floor_share == pytest.approx(6 * math.hypot(people, both) / 0.5, abs=2e-4)
    assert (wide.readings, wide.appraisers, wide.judgeable) == (3, 3, True)
    assert wide.reached == pytest.approx(6 * math.sqrt((people**2 + both**2 + repeat**2) / 3) / 0.5, abs=2e-4)
    assert (narrow.readings, narrow.judgeable) == (None, False)
    assert narrow.if_alike == math.ceil((6 * repeat / (0.3 * 0.2)) ** 2)


def test_shares_are_those_of_the_study_itself() -> None:
    study = sf.gauge_study(_table(full_study()), "value", unit="mil", part="part", appraiser="appraiser", specification=WIDE)
    found = sf.judge_gauge(study, WIDE).windows[0]
    shown = study.windows[0]
    ours = (found.share, found.share_lower, found.share_upper)
    assert ours == pytest.approx((shown.share, shown.share_lower, shown.share_upper))
    assert (found.floor_share, found.one_appraiser) == (pytest.approx(shown.floor_share), shown.readings)
    assert found.if_alike == shown.readings_if_alike


def _table(text: str) -> dict[str, list[Any]]:
    head, *rows = [line.split(",") for line in text.splitlines()]
    columns: dict[str, list[Any]] = {name: [row[k] for row in rows] for k, name in enumerate(head)}
    columns["value"] = [float(x) for x in columns["value"]]
    return columns


@given(
    repeat=st.floats(0.001, 1.0),
    common=st.floats(0.0, 1.0),
    target=st.floats(0.01, 1.0),
    appraisers=st.integers(1, 5),
)
def test_no_fewer_readings_do(repeat: float, common: float, target: float, appraisers: int) -> None:
    total, people = fewest_readings(spread(repeat, common, appraisers), target)

    def enough(each: int, who: int) -> bool:
        return bool(math.sqrt((common**2 + repeat**2 / each) / who) <= target * (1 + 1e-9))

    if total is None or people is None:
        assert not any(enough(10**9, who) for who in range(1, appraisers + 1)) or common > 0.999 * target * math.sqrt(appraisers)
        return
    assert total % people == 0
    assert enough(total // people, people)
    if total < 2000:
        fewer = [(each, who) for who in range(1, appraisers + 1) for each in range(1, (total - 1) // who + 1)]
        assert not any(enough(each, who) for each, who in fewer if each * who < total * (1 - 1e-6))


@pytest.mark.parametrize(
    ("repeat", "common", "target"), [(0.05, 0.0, 0.01), (0.03, 0.02, 0.025), (0.03, 0.02, 0.01), (0.02, 0.0, 0.02)]
)
def test_readings_by_one_appraiser_are_those_that_planning_asks_for(repeat: float, common: float, target: float) -> None:
    planned = sf.readings_for_window_share(
        repeat, unit="mil", window_width=target, share=1.0, sigma_common=common, sigma_spread=1.0
    )
    assert repeats_needed(repeat, common, target) == planned.readings


def test_a_gauge_without_spread_is_not_judged() -> None:
    assert repeats_needed(0.0, 0.0, 0.1) == 1
    found = answer(sf.StudyWindow("", NARROW), spread(0.0))
    assert (found.share, found.readings, found.judgeable, found.zones[0].left) == (None, None, False, pytest.approx(0.2))
    inside = (found.thickness >= 2.0) & (found.thickness <= 2.2)
    assert (found.curves[0].probability == inside).all()


def test_one_limit_takes_half_the_spread_over_the_distance() -> None:
    found = answer(sf.StudyWindow("", sf.SpecLimits(lower=2.0)), spread(0.02, mean=2.3))
    assert found.share == pytest.approx(3 * 0.02 / 0.3)
    assert found.zones[0].left is None
    beyond = answer(sf.StudyWindow("", sf.SpecLimits(upper=2.0)), spread(0.02, mean=2.3))
    assert (beyond.share, beyond.judgeable) == (None, False)


def test_a_difference_has_both_errors() -> None:
    single = answer(sf.StudyWindow("", WIDE), spread(0.03, 0.01, 3))
    both = answer(sf.StudyWindow("", WIDE, difference=True), spread(0.03, 0.01, 3))
    assert both.share == pytest.approx(math.sqrt(2) * (single.share or 0))
    assert both.zones[0].guard == pytest.approx(math.sqrt(2) * single.zones[0].guard)


# -- guards and curves --------------------------------------------------------------------------------------------------


# Window 0.2 and 0.5: guard B + 1.645 u, and what it leaves; worked by hand, three decimals.
@pytest.mark.parametrize(
    ("width", "bias", "u", "guard", "left"),
    [
        (0.2, 0.05, 0.035 / math.sqrt(3), 0.083, 0.034),
        (0.2, 0.02, 0.035 / math.sqrt(3), 0.053, 0.094),
        (0.2, 0.05, 0.030, 0.099, 0.001),
        (0.5, 0.05, 0.035 / math.sqrt(3), 0.083, 0.334),
    ],
)
def test_guard_bands(width: float, bias: float, u: float, guard: float, left: float) -> None:
    found = answer(sf.StudyWindow("", sf.SpecLimits(3.0, 3.0 + width)), spread(u), bias_bound=bias).zones[0]
    assert (found.guard, found.left) == (pytest.approx(guard, abs=5e-4), pytest.approx(left, abs=5e-4))
    assert found.guard == pytest.approx(bias + stats.norm.ppf(0.95) * u, rel=1e-12)
    assert found.accept is not None
    assert found.accept.lower == pytest.approx(3.0 + found.guard)
    assert found.reject.upper == pytest.approx(3.0 + width + found.guard)


def test_nothing_is_clearly_in_where_guards_overlap() -> None:
    zone = answer(sf.StudyWindow("", NARROW), spread(0.1)).zones[0]
    assert zone.accept is None
    assert zone.left is not None
    assert zone.left < 0


def test_the_chance_to_accept_is_that_of_the_normal_distribution() -> None:
    found = answer(sf.StudyWindow("", WIDE), spread(0.05, 0.03, 2))
    for curve in found.curves:
        u = math.sqrt((0.03**2 + 0.05**2 * curve.appraisers / curve.readings) / curve.appraisers)
        expected = stats.norm.cdf((3.5 - found.thickness) / u) - stats.norm.cdf((3.0 - found.thickness) / u)
        np.testing.assert_allclose(curve.probability, expected, atol=1e-12)
        tenth = stats.norm.cdf(-0.05 / u) - stats.norm.cdf((3.0 - 3.55) / u)
        assert curve.tenth_outside == pytest.approx(tenth, rel=1e-9)


# -- the file -----------------------------------------------------------------------------------------------------------


def test_another_shop_is_read_as_it_types() -> None:
    shop = Shop()
    columns = sf.StudyColumns(**{key: shop.columns[key] for key in ("part", "appraiser", "trial", "value")})
    found = judged(study_text(shop), sf.SpecLimits(50.0, 80.0), columns=columns, unit="um", decimal=",", separator=";")
    study = found.studies[0].study
    film = readings(shop)
    assert study.mean == pytest.approx(film.mean(), rel=1e-12)
    assert sorted(study.appraisers) == sorted(shop.appraisers)
    assert found.studies[0].spread.repeat == pytest.approx(math.sqrt(film.var(axis=2, ddof=1).mean()), rel=0.2)
    assert found.studies[0].step == pytest.approx(0.1)
    assert found.inputs.keys() == {"gauge study: study.csv"}


def test_two_gauges_in_two_units_are_two_studies_in_one_unit() -> None:
    lines = ["gauge,substrate,part,appraiser,value,unit_of_measure"]
    for row in full_study().splitlines()[1:]:
        part, who, _, value = row.split(",")
        lines.append(f"Q,steel,{part},{who},{value},mils")
        lines.append(f"R,steel,{part},{who},{float(value) * 25.4:.3f},micron")
    cells = cells_from_bytes("\n".join(lines).encode(), name="two.csv")
    unit, found = studies_of(cells, sf.StudyColumns(), unit="mil")
    assert (unit, [rows.name for rows in found]) == ("mil", ["gauge Q, substrate steel", "gauge R, substrate steel"])
    np.testing.assert_allclose(found[0].value, found[1].value, rtol=1e-4)
    with pytest.raises(sf.InvalidInputError, match="holds readings in mil and um: say which one"):
        studies_of(cells, sf.StudyColumns())
    apart = studies_of(cells, sf.StudyColumns(apart=("substrate",)), unit="um")[1]
    assert [rows.name for rows in apart] == ["substrate steel"]


def test_numbers_written_in_another_unit_are_converted_once() -> None:
    text = "part,appraiser,value\n" + "\n".join(f"{p},{a},{25.4 * (2 + p / 10)}" for p in range(3) for a in "xxyy")
    cells = cells_from_bytes(text.encode(), name="s.csv")
    assert studies_of(cells, sf.StudyColumns(), unit="mil", written_in="um")[1][0].value[-1] == 25.4 * 2.2 / 25.4
    assert studies_of(cells, sf.StudyColumns(), unit="unstated")[0] == ""


def test_steps_of_the_display() -> None:
    assert display_step(np.array([2.1, 2.1, 2.3, 2.2])) == 0.1
    assert display_step(np.array([2.1, 2.1])) == 0.0
    assert display_step(np.array([3.0, 3.0 + 1e-14, 3.2])) == pytest.approx(0.2)


BAD = [
    ("part,appraiser,value\nA,x,2.1\nA,x,thick\nB,x,2\n", {}, r"column 'value', line 3, value 'thick': is not a number"),
    ("part,appraiser,value\n,x,2.1\nA,x,2\n", {}, r"column 'part', line 2, value '': is empty"),
    ("panel,appraiser,value\nA,x,2.1\n", {}, r"column 'part', whole column: no such column\n.*'panel'"),
    (
        "part,appraiser,trial,value\nA,x,1,2.1\nA,x,1,2.2\nA,x,2,2.0\n",
        {},
        r"column 'trial', line 3, value '1': stands twice for part 'A', appraiser 'x'; first in line 2\nTake out the row",
    ),
    ("part,appraiser,value\nA,x,2.1\n", {}, r"column 'value', line 2: the study has 1 reading\nA study needs"),
    ("part,appraiser,value,unit_of_measure\nA,x,2.1,inch\nA,x,2,mil\n", {}, r"line 2, value 'inch': is no unit.*\nWrite mil"),
    ("part,appraiser,value\nA,x,2.1\nA,x,2\n", {"unit": None}, r"nothing says whether the readings are mil or um"),
]


@pytest.mark.parametrize(("text", "options", "message"), BAD, ids=[str(k) for k in range(len(BAD))])
def test_a_bad_file_is_refused_with_place_value_and_way_out(text: str, options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        judged(text, NARROW, **({"unit": "mil"} | options))


def test_a_study_without_enough_parts_says_what_it_lacks() -> None:
    with pytest.raises(sf.InvalidInputError, match="gauge Q: "):
        judged("gauge,part,appraiser,value\n" + "Q,A,x,2.1\n" * 1 + "Q,A,y,2.2\n", NARROW, unit="mil")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"share_limit": 0.0}, "share_limit must be a fraction above 0"),
        ({"bias_bound": -0.1}, "bias_bound must be 0 or a length"),
        ({"alpha": 0.6}, "alpha must be a chance"),
        ({"most_readings": 0}, "most_readings must be 1 or more"),
    ],
)
def test_options_out_of_their_domain_are_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(sf.InvalidInputError, match=message):
        judged(full_study(), WIDE, unit="mil", **options)
    with pytest.raises(sf.InvalidInputError, match="the window 'x' has no limit"):
        judged(full_study(), {"x": sf.SpecLimits()}, unit="mil")


# -- words --------------------------------------------------------------------------------------------------------------


def test_the_first_sentence_answers_for_one_window() -> None:
    found = judged(full_study(), WIDE, unit="mil")
    assert found.sentence() == (
        "This gauge can judge 3.0 to 3.5 mil with the average of 3 readings (one by each of 3 appraisers), which takes 29.2 % of "
        "the window; a single one takes 50.5 % of the window (interval 43.1 to 178 %; at most 30 % wanted), and one appraiser "
        "alone never gets below 30.6 %."
    )
    assert found.judgeable is True
    no = judged(full_study(), sf.SpecLimits(3.1, 3.3), unit="mil")
    assert no.sentence().startswith("This gauge cannot judge 3.1 to 3.3 mil: a single reading takes 126 % of the window")
    assert no.sentence().endswith(
        "no number of readings by the 3 appraisers of the study gets below 44.2 % "
        "(once appraisers read alike, 12 readings would do)."
    )
    yes = judged(full_study(), sf.SpecLimits(2.5, 4.5), unit="mil")
    assert yes.sentence().startswith("This gauge can judge 2.5 to 4.5 mil with single readings: one takes 12.6 % of the window")
    assert "a study of this size does not prove it" in yes.sentence()


def test_several_windows_share_one_line_and_none_says_so() -> None:
    several = example_results()[1]
    assert several.sentence() == (
        "Not every window can be judged: with this gauge, topcoat no, total yes from 3 readings (one by each of 3 appraisers), "
        "least yes from single readings, never not answered, least topcoat not answered."
    )
    assert len(several.verdict) == 6
    assert "the mean of the study lies outside that limit" in several.verdict[4]
    assert "with one limit a difference has no width" in several.verdict[5]
    none = judged(full_study(), unit="mil")
    start = "Whether the gauge can tell is not answered: no window was given (this gauge has a GRR of 0.0421 mil)"
    assert none.sentence().startswith(start)
    assert none.judgeable is None
    assert none.to_frame("dict")["grr"][0] == pytest.approx(0.04211, abs=5e-6)


def test_notes_say_what_the_figures_rest_on() -> None:
    notes = " ".join(example_results()[1].notes)
    assert "topcoat (2.0 to 2.2 mil): the layer is one reading minus an earlier one" in notes
    steps = judged(full_study(), {"primer": sf.SpecLimits(1.0, 1.05)}, unit="mil").notes
    assert any("steps of 0.01 mil, 5 to the window; 10 are usually wished (common practice, no source)" in note for note in steps)
    assert any("lies outside the 2.86 to 3.62 mil of the study" in note for note in steps)
    wide = judged(full_study(), {"primer": sf.SpecLimits(2.5, 3.5)}, unit="mil").notes
    assert any("reaches beyond the 2.86 to 3.62 mil of the study" in note for note in wide)


def test_what_to_do_follows_from_the_figures() -> None:
    windows = {"narrow": sf.SpecLimits(3.1, 3.3), "narrower": sf.SpecLimits(3.1, 3.2)}
    steps = judged(full_study(), windows, unit="mil").studies[0].steps
    assert any(step.startswith("Appraiser 3 reads 0.023 mil high against the mean of all") for step in steps)
    assert any("bring the appraisers together first" in step and "12 readings would do" in step for step in steps)
    assert any("even if all appraisers read alike, a verdict takes 45 readings" in step for step in steps)
    assert any(step.startswith("One appraiser took part") for step in example_results()[2].studies[0].steps)
    assert all("check it on shims" in judged_.steps[-1] for judged_ in example_results()[1].studies)


def test_windows_of_a_plan() -> None:
    plan = sf.load_plan(load_dataset().__path__[0] + f"/{load_dataset().DEMO}/plan.toml")
    found = sf.plan_windows(plan)
    assert [(x.name, x.difference) for x in found] == [("primer", False), ("topcoat", True), ("total", False)]
