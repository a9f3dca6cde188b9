"""Run rules: edge sequences by hand, the definition spelled out, and what is refused."""

from __future__ import annotations

import itertools
import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import steadyfilm as sf
from steadyfilm import _core
from steadyfilm.run_rules import describe

from reference import Args, adapter


@adapter("rule_signals")
def _signals(args: Args) -> dict[str, list[int]]:
    z = (np.array(args.list("values")) - args.number("center")) / args.number("sigma_point")
    found = sf.find_signals(z, rules=args.words("rules"), last_point_beyond=bool(args.count("last_point_beyond")))
    return {"signals": [signal.point + 1 for signal in found]}


@adapter("pattern_probability")
def _probability(args: Args) -> dict[str, float]:
    return {"probability": sf.pattern_probability(args.word("rule"))}


def met(rule: str, z: list[float], **options: object) -> list[int]:
    return [signal.point for signal in sf.find_signals(z, rules=rule, **options)]  # type: ignore[arg-type]  # options by name


def test_the_named_sets_are_those_of_the_core() -> None:
    assert list(sf.WESTERN_ELECTRIC) == _core.rule_set("western_electric")
    assert list(sf.NELSON) == _core.rule_set("nelson")


def test_seven_and_eight_in_a_row() -> None:
    assert met("8of8_beyond0_one", [0.5] * 7) == []
    assert met("8of8_beyond0_one", [0.5] * 8) == [7]
    assert met("9of9_beyond0_one", [0.5] * 8) == []


def test_two_of_three_with_the_third_on_the_other_side() -> None:
    assert met("2of3_beyond2_one", [2.5, 0.1, -2.5]) == []
    assert met("2of3_beyond2_one", [2.5, -2.5, 2.2]) == [2]
    assert met("2of3_beyond2_either", [2.5, 0.1, -2.5]) == [2]


def test_a_point_exactly_on_a_line_is_not_beyond_it() -> None:
    assert met("1of1_beyond3_one", [3.0, -3.0, 3.0 + 2e-9]) == [2]
    assert met("3of3_beyond0_one", [0.5, 0.5, 0.0, 0.5, 0.5]) == []
    assert met("2of2_within1_either", [1.0, -1.0]) == [1]


def test_nothing_looks_across_a_gap_or_an_excluded_point() -> None:
    gap = [False] * 4 + [True] + [False] * 3
    assert met("8of8_beyond0_one", [0.5] * 8, break_before=gap) == []
    part = [True, True, True, False, True, True, True]
    assert met("4of4_beyond0_one", [0.5, 0.5, 0.5, math.nan, 0.5, 0.5, 0.5], takes_part=part) == []
    assert met("3of3_beyond0_one", [0.5, 0.5, 0.5, math.nan, 0.5, 0.5, 0.5], takes_part=part) == [2, 6]


def test_a_signal_says_its_side_length_and_points() -> None:
    z = [2.5, 0.1, 2.2, 1.0, 0.5, 0.2]
    found = sf.find_signals(z, rules=["2of3_beyond2_one", "trend4"])
    assert found == (
        sf.Signal(2, "2of3_beyond2_one", "above", 3),
        sf.Signal(5, "trend4", "below", 4),
    )
    assert sf.pattern_points(found[0], z) == (0, 2)
    assert sf.pattern_points(found[1], z) == (2, 3, 4, 5)


def _by_definition(z: list[float], part: list[bool], rule: str) -> list[int]:
    """Points at which a rule is met, from every window of the points before, without memory."""

    def reachable(t: int, count: int) -> list[float]:
        window = []
        for i in range(t, max(-1, t - count), -1):
            if not part[i]:
                break
            window.append(z[i])
        return window[::-1]

    points = []
    for t in range(len(z)):
        if not part[t]:
            continue
        if found := re.fullmatch(r"(trend|alternating)(\d+)", rule):
            window = reachable(t, int(found[2]))
            steps = [np.sign(b - a) if abs(b - a) > 1e-9 else 0.0 for a, b in itertools.pairwise(window)]
            if len(window) < int(found[2]) or 0.0 in steps:
                continue
            wanted = 1 if found[1] == "trend" else -1
            if all(a * b == wanted for a, b in itertools.pairwise(steps)):
                points.append(t)
            continue
        counted = re.fullmatch(r"(\d+)of(\d+)_(beyond|within)([\d.]+)_(one|either)", rule)
        assert counted
        hits, zone = int(counted[1]), float(counted[4]) + 1e-9
        window = reachable(t, int(counted[2]))
        if counted[3] == "within":
            kept = [[abs(x) <= zone for x in window]]
        elif counted[5] == "either":
            kept = [[abs(x) > zone for x in window]]
        else:
            kept = [[x > zone for x in window], [x < -zone for x in window]]
        if any(side[-1] and sum(side) >= hits for side in kept):
            points.append(t)
    return points


@given(
    st.lists(st.tuples(st.integers(-7, 7), st.integers(0, 15)), max_size=50),
    st.sampled_from([*sf.WESTERN_ELECTRIC, *sf.NELSON, "3of7_beyond0.5_either", "13of15_within1.5_either", "alternating3"]),
)
def test_the_engine_equals_the_definition(points: list[tuple[int, int]], rule: str) -> None:
    z = [0.5 * height for height, _ in points]
    part = [chance > 0 for _, chance in points]
    assert met(rule, z, takes_part=part) == _by_definition(z, part, rule)


@given(st.lists(st.floats(-4, 4), max_size=60), st.sampled_from(sf.NELSON))
def test_turning_the_chart_upside_down_swaps_the_sides(z: list[float], rule: str) -> None:
    swapped = {"above": "below", "below": "above", "both": "both"}
    up = sf.find_signals(z, rules=rule)
    down = sf.find_signals([-x for x in z], rules=rule)
    assert [(s.point, swapped[s.side], s.length) for s in up] == [(s.point, s.side, s.length) for s in down]


def test_chances_against_counting_all_orders_and_scipy() -> None:
    def alternates(order: tuple[int, ...]) -> bool:
        steps = [b > a for a, b in itertools.pairwise(order)]
        return all(a != b for a, b in itertools.pairwise(steps))

    for n in (3, 5, 7):
        share = sum(map(alternates, itertools.permutations(range(n)))) / math.factorial(n)
        assert sf.pattern_probability(f"alternating{n}") == pytest.approx(share, rel=1e-14)
    p = stats.norm.sf(2.0)
    assert sf.pattern_probability("2of3_beyond2_one") == pytest.approx(2 * p * stats.binom.sf(0, 2, p), rel=1e-12)
    q = 1 - 2 * stats.norm.sf(1.0)
    assert sf.pattern_probability("15of15_within1_either") == pytest.approx(q**15, rel=1e-12)


def test_refusals_name_what_is_wrong() -> None:
    with pytest.raises(sf.InvalidInputError, match="'rule1' is not a rule word; write for example"):
        sf.find_signals([0.0], rules=["rule1"])
    with pytest.raises(sf.InvalidInputError, match=r"z\[1\] is not a number"):
        sf.find_signals([0.0, math.nan], rules=sf.NELSON)
    with pytest.raises(sf.InvalidInputError, match="takes_part must hold 2 times True or False"):
        sf.find_signals([0.0, 1.0], rules=sf.NELSON, takes_part=[True])
    with pytest.raises(sf.InvalidInputError, match="one dimension"):
        sf.find_signals([[0.0, 1.0]], rules=sf.NELSON)
    with pytest.raises(sf.InvalidInputError, match="outside the 1 points"):
        sf.pattern_points(sf.Signal(3, "trend6", "above", 6), [0.0])


def test_shop_words() -> None:
    assert describe("8of8_beyond0_one") == "8 points in a row on one side of the center"
    assert describe("15of15_within1_either") == "15 points in a row within 1 sigma of the center"
