"""Candidate causes from a stranger's event log: no tags, no kinds, entries about anything; the right one is named or none."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm._review.records import Event, _Concerned

from helpers import ONE_LAYER, shop

PLAN = ONE_LAYER.replace('streams = ["gun"]', 'streams = ["gun"]\nadjust = ["crew"]') + (
    '[events]\nfile = "unused.csv"\ntime = "at"\ntext = "what"\n'
)
FIRST = np.datetime64("2026-03-12")
DECOYS = (
    "floor swept, lamps wiped",
    "compressor drained",
    "visitors shown round the shop",
    "new boxes for the masking tape",
    "thinner drum moved to the other wall",
    "door of the oven oiled",
    "washing line: filter rinsed",
    "A pallet of hooks came in",
)


def shop_and_log(seed: int, *, right: bool = True) -> tuple[dict[str, list[Any]], dict[str, list[Any]], str, str]:
    """A shop in which one gun steps on the 26th day and back on the 32nd; entries about other things stand as near."""
    rng = np.random.default_rng([seed, 40])
    gun, other = ("A", "B") if seed % 2 else ("B", "A")
    table = shop(step=0.2 if seed % 3 else -0.2, seed=seed, gun=gun)
    table["crew"] = [("red", "blue", "green")[int(unit[1:]) % 3] for unit in table["unit"]]
    start, end = f"nozzle of gun {gun} replaced", f"gun {gun}: old nozzle put back"
    entries: list[tuple[np.datetime64, str]] = []
    for day, true in ((26, start), (32, end)):
        morning = FIRST + np.timedelta64(day * 24 * 60, "m")
        near = [
            f"gun {other} cleaned and its cap changed",
            f"crew blue starts with gun {other}",
            *rng.choice(DECOYS, 2, replace=False),
        ]
        entries += [
            (morning + np.timedelta64(int(m), "m"), text) for m, text in zip(rng.integers(300, 470, 4), near, strict=True)
        ]
        if right:
            # Before the day's first unit; the decoys stand as near or nearer.
            entries.append((morning + np.timedelta64(int(rng.integers(240, 300)), "m"), true))
    for day in rng.choice([d for d in range(20, 40) if d not in (25, 26, 27, 31, 32, 33)], 6, replace=False):
        text = str(rng.choice([*DECOYS, f"gun {other} oiled", f"gun {gun} wiped"]))
        entries.append((FIRST + np.timedelta64(int(day) * 24 * 60 + int(rng.integers(300, 900)), "m"), text))
    order = rng.permutation(len(entries))
    log = {"at": [str(entries[i][0]) for i in order], "what": [entries[i][1] for i in order]}
    return table, log, start, end


@pytest.mark.parametrize("seed", range(1, 7))
def test_the_entry_about_this_gun_is_named_among_others_that_stand_as_near(seed: int) -> None:
    table, log, start, end = shop_and_log(seed)
    (finding,) = sf.review_readings(table, sf.read_plan(PLAN), events=log).findings
    assert f"'{start}' was logged on Apr 7" in finding.cause
    assert f"'{end}' was logged on Apr 13" in finding.ended_by


@pytest.mark.parametrize("seed", range(1, 5))
def test_an_entry_about_another_gun_is_never_named(seed: int) -> None:
    table, log, _, _ = shop_and_log(seed, right=False)
    (finding,) = sf.review_readings(table, sf.read_plan(PLAN), events=log).findings
    other = "B" if seed % 2 else "A"
    for said in (finding.cause, finding.ended_by):
        assert f"gun {other}" not in said
        assert "crew" not in said


FACTORS = {
    "gun": np.array(["R1", "R2"] * 10, dtype=object),
    "booth": np.array(["2"] * 20, dtype=object),
    "batch": np.array(["K7"] * 8 + ["K8"] * 12, dtype=object),
    "gauge": np.array(["MX 4", "MX 5"] * 10, dtype=object),
    "painter": np.array(["Ann", "Bo", "Cy", "Di"] * 5, dtype=object),
}


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("R1: nozzle replaced", True, True),
        ("r-1 cap cleaned", True, True),
        ("R2: nozzle replaced", None, None),
        ("R1 and R2 changed places", None, None),
        ("batch K8 opened", True, True),
        ("K7 emptied, K8 opened", True, None),  # what was taken out stands before the start, not before the end
        ("K7 emptied", None, None),
        ("gauge MX4 zeroed", True, True),
        ("MX 5 zeroed", None, None),
        ("Ann starts", None, None),  # paints a quarter of these units
        ("booth 2 floor swept", False, False),  # every unit of the month
        ("2 lamps changed", False, False),
        ("oven door oiled", False, False),
        ("R12 bought", False, False),
    ],
)
def test_what_an_entry_is_about_by_what_the_units_have_in_common(text: str, start: bool | None, end: bool | None) -> None:
    inside = np.arange(8, 18, 2)
    assert _Concerned(FACTORS, inside, np.array([0, 2, 4, 6]), ending=False).judge(text) is start
    assert _Concerned(FACTORS, inside, np.array([18]), ending=True).judge(text) is end


def test_what_begins_with_the_end_may_be_named_there() -> None:
    concerned = _Concerned(FACTORS, np.arange(2, 8), np.array([8, 9, 10, 11]), ending=True)
    assert concerned.judge("K8 opened") is True
    assert concerned.judge("K7 emptied") is True
    assert _Concerned(FACTORS, np.arange(2, 8), np.array([0, 1]), ending=False).judge("K8 opened") is None


def test_a_value_that_two_columns_share_is_told_by_the_column_named_before_it() -> None:
    factors = {"gun": np.array(["A", "B"] * 6, dtype=object), "booth": np.array(["B"] * 6 + ["A"] * 6, dtype=object)}
    concerned = _Concerned(factors, np.arange(0, 6, 2), np.array([], dtype=int), ending=False)  # gun A in booth B
    assert concerned.judge("gun A cleaned") is True
    assert concerned.judge("booth A cleaned") is None
    assert concerned.judge("gun B cleaned") is None
    assert concerned.judge("booth B, gun A: nozzle") is True


def test_kinds_are_alike_whatever_value_they_name() -> None:
    concerned = _Concerned(FACTORS, np.arange(0, 8, 2), np.array([8]), ending=True, scope=np.arange(0, 20, 2))
    events = [
        Event(np.datetime64("2026-03-02"), text, text, "") for text in ("K7 opened", "K8 opened", "R1 cleaned", "oven oiled")
    ]
    assert [concerned.kind(event) for event in events] == ["* opened", "* opened", "* cleaned", "oven oiled"]
    # Another batch would be named if it had been opened here; another gun never paints these units.
    assert [concerned.could_concern(text) for text in ("K8 opened", "R1 cleaned", "R2 cleaned")] == [True, True, False]


def test_batches_that_open_all_the_time_explain_nothing() -> None:
    """A step back on the day a batch is opened: named when batches are few, not when one is opened every other day."""
    for every, named in ((16, True), (2, False)):
        table = shop(step=0.2, seed=2)
        days = [int(unit[1:3]) for unit in table["unit"]]
        table["batch"] = [f"K{day // every + 10}" for day in days]
        opened = [day for day in range(20, 40) if day % every == 0]
        log = {
            "at": [str(FIRST + np.timedelta64(day * 24 * 60 + 330, "m")) for day in opened],
            "what": [f"batch K{day // every + 10} opened" for day in opened],
        }
        plan = sf.read_plan(PLAN.replace('adjust = ["crew"]', 'candidates = ["batch"]'))
        (finding,) = sf.review_readings(table, plan, events=log).findings
        assert ("opened" in finding.ended_by or "began" in finding.ended_by) is named
