"""Findings: one change told once, with streams, start, size, candidate cause and state; gauges on shims; standing differences."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest

import steadyfilm as sf

from helpers import load_dataset

STEP = [2.11, 2.07, 2.14, 2.09, 2.12, 2.05, 2.10, 2.13, 2.08, 2.12, 2.06, 2.11, 1.97, 1.93, 1.99, 1.95, 1.90, 1.98, 1.94, 1.96]
START = np.datetime64("2026-03-02T06:00")
PER_DAY = 8


def example_results() -> list[sf.Findings]:
    return [
        sf.findings({"film": STEP}, "film", unit="mil"),
        sf.findings(line(seed=2, days=8), "film", unit="mil", stream="lane", baseline=line(seed=1, days=12)),
        line_findings(seed=3, lane=0.2, events=[(10, "lane A cleaned")]),
    ]


def line(
    *,
    seed: int,
    days: int,
    lane: float = 0.0,
    lift: float = 0.0,
    cover: float = 0.0,
    at: tuple[int, int] = (4, 8),
    clerk: int = 0,
) -> dict[str, list[Any]]:
    """Two lanes, two gauges a day; on some days lane A is off by ``lane``; late on one day all first coats are lifted."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[Any]] = {name: [] for name in ("body", "film", "cover", "lane", "gauge", "when")}
    for day in range(days):
        level, top = rng.normal(0, 0.012), rng.normal(0, 0.012)
        for k in range(PER_DAY):
            name, late = "AB"[k % 2], k >= PER_DAY // 2
            off = lane if name == "A" and at[0] <= day < at[1] else 0.0
            up = lift if late and day == at[0] else 0.0
            rows["body"].append(f"N{clerk + day:02d}{k}")
            rows["film"].append(1.1 + (0.03 if name == "B" else 0.0) + level + rng.normal(0, 0.03) + off + up)
            rows["cover"].append(2.1 + top + rng.normal(0, 0.04) + (cover if up else 0.0))
            rows["lane"].append(name)
            rows["gauge"].append("early" if not late else "late")
            rows["when"].append(START + np.timedelta64(day * 24 * 60 + 75 * k, "m"))
    return rows


def line_findings(*, events: Sequence[tuple[int, str]] = (), seed: int = 3, days: int = 14, **planted: Any) -> sf.Findings:
    """Findings of two weeks after a steady month."""
    base = line(seed=100 + seed, days=24, clerk=50)
    base["when"] = [time - np.timedelta64(40, "D") for time in base["when"]]
    log = {"time": [START + np.timedelta64(day * 24 * 60 - 10, "m") for day, _ in events], "what": [what for _, what in events]}
    return sf.findings(
        line(seed=seed, days=days, **planted),
        "film",
        unit="mil",
        name="body",
        stream="lane",
        time="when",
        gauge="gauge",
        over="cover",
        baseline=base,
        events=sf.logged_events(log, text="what") if events else (),
        smallest=0.02,
    )


def test_twenty_averages_show_one_step_that_is_still_open() -> None:
    found = sf.findings({"film": STEP}, "film", unit="mil", quantity="topcoat")
    (change,) = found.changes
    # By hand: means of the first twelve and the last eight are 25.18/12 and 15.62/8.
    assert change.size == pytest.approx(15.62 / 8 - 25.18 / 12, abs=1e-12)
    assert (change.first_unit, change.earliest_unit, change.latest_unit) == ("row 13", "row 13", "row 13")
    assert (change.kind, change.shape, change.state, change.closed_by) == ("change", "step", "open", "")
    assert found.sentence().startswith("Topcoat fell by 0.14")
    assert "from row 13 to the last unit; no recorded change near its start" in found.sentence()
    assert found.stable is False


def test_a_change_of_one_stream_is_told_once_and_gathers_its_episodes() -> None:
    found = line_findings(lane=0.2)
    (change,) = found.changes
    assert change.streams == ("A",)
    assert (change.first_unit[:3], change.last_unit[:3]) == ("N04", "N07")
    assert abs(change.size - 0.2) <= change.error
    assert found.episodes >= 3
    assert change.episodes == found.explained == found.episodes - found.unexplained
    assert change.episodes >= 3
    table = found.to_frame("dict")
    assert table["size_lower"][0] < 0.2 < table["size_upper"][0]


def test_a_change_is_closed_by_twenty_quiet_points_or_by_what_was_done() -> None:
    quiet = line_findings(lane=0.2, days=16).changes[0]
    # Eight days with four bodies of lane A each come after it.
    assert quiet.quiet_points >= 20
    assert (quiet.state, quiet.closed_by) == ("closed", "20 quiet points")
    waiting = line_findings(lane=0.2, days=11).changes[0]
    assert waiting.quiet_points <= 12
    assert (waiting.state, waiting.closed_by, waiting.lasting) == ("open", "", False)
    lasting = line_findings(lane=0.2, days=8).changes[0]
    assert (lasting.state, lasting.lasting) == ("open", True)
    done = line_findings(lane=0.2, days=11, events=[(8, "lane A cleaned")]).changes[0]
    assert done.state == "closed"
    assert done.closed_by.startswith("'lane A cleaned' was logged on Mar 10")


def test_what_was_done_to_one_stream_explains_no_change_of_another() -> None:
    found = line_findings(lane=0.2, days=11, events=[(4, "lane B cleaned"), (8, "lane B cleaned")]).changes[0]
    assert (found.cause, found.ended_by) == ("", "")
    near = line_findings(lane=0.2, days=11, events=[(4, "lane A set higher")]).changes[0]
    assert "lane A set higher" in near.cause


def test_what_always_differed_is_a_standing_difference_with_its_interval_and_no_change() -> None:
    sizes = []
    for seed in range(1, 9):
        found = line_findings(seed=seed)
        assert found.changes == ()
        assert found.sentence().startswith("No change found in film over 112 points;")
        a, b = found.standing
        assert (a.column, a.value, b.value) == ("lane", "A", "B")
        assert a.size == pytest.approx(-b.size)
        sizes.append((b.size, b.error))
    # Planted: lane B is 0.03 above lane A, 0.015 above their mean.
    assert sum(abs(size - 0.015) <= error for size, error in sizes) >= 6
    assert np.mean([size for size, _ in sizes]) == pytest.approx(0.015, abs=0.004)


# -- common offsets and gauges -------------------------------------------------------------------------------------------


def log_of(*, off: float = 0.0, days: int = 14, step: float = 0.01) -> dict[str, list[Any]]:
    """Both gauges on two foils before and after each half day; one of them off by ``off`` at the end of the fifth day."""
    rng = np.random.default_rng(5)
    rows: dict[str, list[Any]] = {name: [] for name in ("time", "gauge", "value", "stated", "foil")}
    for day in range(days):
        for gauge, hour in (("early", 0), ("late", 5)):
            for after in (False, True):
                wrong = off if (gauge, day, after) == ("late", 4, True) else 0.0
                for foil, stated in (("thin", 1.06), ("thick", 3.04)):
                    for _ in range(3):
                        rows["time"].append(START + np.timedelta64(day * 24 * 60 + 60 * hour - 30 + 330 * after, "m"))
                        rows["gauge"].append(gauge)
                        rows["value"].append(round((stated + wrong + rng.normal(0, 0.012)) / step) * step)
                        rows["stated"].append(stated)
                        rows["foil"].append(foil)
    return rows


def offset(*, cover: float = 0.0, checks: tuple[sf.GaugeCheck, ...] = (), seed: int = 3) -> sf.Findings:
    base = line(seed=103, days=24, clerk=50)
    base["when"] = [time - np.timedelta64(40, "D") for time in base["when"]]
    return sf.findings(
        line(seed=seed, days=14, lift=0.15, cover=cover),
        "film",
        unit="mil",
        quantity="primer",
        name="body",
        stream="lane",
        time="when",
        gauge="gauge",
        over="cover",
        baseline=base,
        smallest=0.02,
        checks=checks,
    )


def test_a_lifted_first_coat_under_a_still_one_is_a_common_offset_of_gauge_or_film() -> None:
    found = offset()
    (change,) = found.changes
    assert (change.kind, change.gauge, change.units) == ("common offset", "late", 4)
    assert abs(change.size - 0.15) <= change.error
    assert "cover over it did not move" in change.sentence
    assert "common offset: gauge late or primer; check the gauge on shims" in change.sentence
    assert "common offset: gauge late or primer; check the gauge on shims" in found.sentence()
    assert "gauge fault" not in change.sentence
    assert found.stable is False


def test_where_the_coat_over_it_moved_too_it_is_no_offset() -> None:
    (change,) = offset(cover=-0.15).changes
    assert change.kind == "change"
    assert "shims" not in change.sentence


def test_shims_say_that_it_was_the_gauge_with_size_and_the_checks_around_it() -> None:
    checks = sf.gauge_checks(log_of(off=0.15), unit="mil", foil="foil")
    found = offset(checks=checks)
    (change,) = found.changes
    (fault,) = found.gauge_faults
    assert (change.kind, change.fault) == ("gauge fault", fault)
    assert (fault.gauge, fault.checks) == ("late", 1)
    # Six readings with a standard deviation of 0.012 each, and those of the other checks.
    assert fault.size == pytest.approx(0.15, abs=4 * 0.012 / math.sqrt(6))
    assert abs(fault.before) < 0.02
    assert abs(fault.after) < 0.02
    assert f"gauge fault: zero error, gauge late read {fault.size:.3f} mil high on shims" in change.sentence
    assert "at the check before (Mar 6, 10:30)" in change.sentence
    assert "at the check after (Mar 7, 10:30)" in change.sentence
    # The line itself did not move.
    assert found.stable is True


def test_shims_that_read_right_before_and_after_say_it_was_the_film() -> None:
    found = offset(checks=sf.gauge_checks(log_of(), unit="mil", foil="foil"))
    (change,) = found.changes
    assert (change.kind, change.fault) == ("change", None)
    assert re.search(
        r"change of film: primer itself moved by \+0\.1\d+ mil ± 0\.\d+, since gauge late reads true", change.sentence
    )
    assert "gauge fault" not in change.sentence
    assert found.stable is False


def test_shims_tell_a_gauge_fault_also_where_the_coat_over_it_moved_by_itself() -> None:
    (change,) = offset(cover=-0.15, checks=sf.gauge_checks(log_of(off=0.15), unit="mil", foil="foil")).changes
    assert change.kind == "gauge fault"
    assert "cover over it moved too, which no error of a gauge does; gauge fault: zero error, gauge late read" in change.sentence


def test_shims_that_are_off_the_other_way_do_not_explain_the_readings() -> None:
    found = offset(checks=sf.gauge_checks(log_of(off=-0.15), unit="mil", foil="foil"))
    (change,) = found.changes
    assert (change.kind, change.fault) == ("gauge in part", found.gauge_faults[0])
    assert "yet the film readings are off by another amount" in change.sentence
    assert found.stable is False


def test_a_log_that_does_not_reach_over_the_readings_leaves_the_question_open() -> None:
    checks = sf.gauge_checks(log_of(), unit="mil", foil="foil")
    for short in (
        tuple(x for x in checks if x.gauge == "early"),
        tuple(x for x in checks if x.time < "2026-03-06T08"),
    ):
        assert offset(checks=short).changes[0].kind == "common offset"


def test_what_a_coarse_display_always_shows_is_no_fault() -> None:
    """A foil of 1.06 on a display of tenths shows 1.1 nearly every time: 0.04 high, always."""
    checks = sf.gauge_checks(log_of(step=0.1), unit="mil", foil="foil")
    assert max(abs(check.difference) for check in checks) < 0.051
    assert np.median([check.difference for check in checks]) == pytest.approx(0.0, abs=0.01)
    assert offset(checks=checks).gauge_faults == ()
    off = sf.gauge_checks(log_of(step=0.1, off=0.15), unit="mil", foil="foil")
    (fault,) = offset(checks=off).gauge_faults
    assert fault.size == pytest.approx(0.15, abs=0.051)


def test_few_checks_are_taken_against_the_certificate() -> None:
    log = {"time": ["2026-03-02 06:05"] * 3, "gauge": ["Q"] * 3, "value": [27.5, 27.7, 1.07], "stated": [26.9, 26.9, 1.05]}
    log["in"] = ["um", "um", "mil"]
    (check,) = sf.gauge_checks(log, unit="mil", unit_of_measure="in")
    # By hand: 0.7 um are 0.7/25.4 mil on one foil, 0.02 mil on the other.
    assert check.difference == pytest.approx((0.7 / 25.4 + 0.02) / 2)
    assert check.readings == 3


def test_quiet_logs_of_the_invented_shop_show_no_fault_and_its_knocked_gauge_is_found() -> None:
    data = load_dataset(load_dataset().DEMO)
    planted = next(x for x in data.SHOP.events if type(x).__name__ == "GaugeOffset")
    for seed in range(1, 11):
        for month in ("quiet", "demo"):
            table = dict(data.cells(data.simulate(month, seed=seed).verification, data.SHOP.style))
            for column in ("value", "stated"):
                table[column] = [float(x) for x in table[column]]
            checks = sf.gauge_checks(table, unit="mil", unit_of_measure="unit_of_measure", foil=["substrate", "shim"])
            faults = sf.findings({"film": STEP}, "film", unit="mil", checks=checks, smallest=0.02).gauge_faults
            if month == "quiet":
                assert faults == ()
                continue
            (fault,) = faults
            assert fault.gauge == planted.gauge
            assert abs(fault.size - planted.offset) <= 0.025
            assert fault.after_time[11:] == planted.adjusted_at


# -- tables and refusals -------------------------------------------------------------------------------------------------


def test_any_table_and_any_order_of_rows_with_times_gives_the_same_findings() -> None:
    rows = line(seed=4, days=20, lane=0.15)
    one = sf.findings(rows, "film", unit="mil", name="body", stream="lane", time="when")
    frame = pd.DataFrame(rows).sample(frac=1.0, random_state=1)
    two = sf.findings(frame, "film", unit="mil", name="body", stream="lane", time="when")
    assert two.changes == one.changes
    assert isinstance(two.to_frame(), pd.DataFrame)


def test_candidates_are_tried_stretch_by_stretch() -> None:
    rows = line(seed=6, days=20)
    rows["drum"] = [f"D{k // (4 * PER_DAY)}" for k in range(len(rows["film"]))]
    rows["film"] = [x - (0.1 if drum == "D2" else 0.0) for x, drum in zip(rows["film"], rows["drum"], strict=True)]
    found = sf.findings(rows, "film", unit="mil", stream="lane", candidates="drum", time="when")
    change = found.changes[0]
    assert change.cause == "drum D2 was in use on just these units"
    assert (change.state, change.closed_by) == ("closed", "drum D2 was no longer in use")
    assert abs(change.size + 0.1) <= change.error


@pytest.mark.parametrize(
    ("rows", "given", "said"),
    [
        ({"film": STEP[:5]}, {}, "too few units to set limits from"),
        ({"film": [2.0] * 20}, {}, "all unit averages of the set are equal"),
        ({"film": [*STEP, None]}, {}, "row 21"),
        ({"film": STEP, "id": ["a"] * 20}, {"name": "id"}, "named before, in row 1"),
        ({"film": STEP, "g": ["x"] * 20}, {"gauge": "g"}, "gauge needs time"),
        ({"film": STEP}, {"smallest": -1.0}, "smallest must not be negative"),
        ({"film": STEP}, {"significance": 1.0}, "significance must lie between 0 and 1"),
        ({"film": STEP}, {"shortest": 1}, "shortest must be at least 2"),
        ({"film": STEP}, {"stream": "flim"}, "flim"),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(rows: dict[str, Any], given: dict[str, Any], said: str) -> None:
    with pytest.raises(sf.InvalidInputError) as caught:
        sf.findings(rows, "film", unit="mil", **given)
    assert said in str(caught.value)
