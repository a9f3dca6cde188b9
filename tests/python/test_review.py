"""A review as a whole: the verdict, the three answers, other shops, sets without times or baseline, and files that are bad."""

from __future__ import annotations

import hashlib
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from steadyfilm._files import cells_from_bytes
from steadyfilm._review.averages import unit_averages
from steadyfilm._review.charting import SPREAD, usual_behavior
from steadyfilm._review.gather import gather
from steadyfilm._review.options import options_of
from steadyfilm._review.quiet import Standardizer
from steadyfilm._review.series import usual_levels
from steadyfilm.baseline import points_for
from steadyfilm.capability import capability

from helpers import DATASETS, ONE_LAYER, as_csv, load_dataset, shop


@pytest.fixture(scope="module")
def stepped() -> sf.Review:
    return sf.review_readings(shop(step=0.2), sf.read_plan(ONE_LAYER))


def example_results() -> list[sf.Review]:
    small = sf.read_plan(ONE_LAYER.partition("[baseline]")[0].replace('time = "when"', ""))
    return [sf.review_readings(shop(step=0.2, days=30), sf.read_plan(ONE_LAYER)), sf.review_readings(shop(days=1), small)]


def test_a_step_of_one_gun_is_told_with_gun_start_size_and_end(stepped: sf.Review) -> None:
    (finding,) = stepped.findings
    assert finding.streams == ("A",)
    assert (finding.first_unit, finding.last_unit, finding.shape) == ("U260", "U314", "step")
    assert finding.size == pytest.approx(0.2, abs=2 * finding.error)
    assert abs(next(x for x in finding.by_stream if x.stream == "B").size) < 0.05
    first = stepped.verdict[0]
    assert first.startswith("The line is not stable: film rose by 0.")
    for words in (" mil (", "on A ", "U260 (Apr 7)", "U314 (Apr 12)", "no recorded change near its start"):
        assert words in first
    assert stepped.stable is False
    assert len(stepped.verdict) <= 5


def test_a_steady_shop_is_called_stable_with_its_false_alarms() -> None:
    found = sf.review_readings(shop(seed=4), sf.read_plan(ONE_LAYER))
    assert found.findings == ()
    assert found.stable is True
    assert found.verdict[0].startswith("The line is stable: no change found in film over 120 units;")
    assert "where chance brings about" in found.verdict[0]


def test_limits_are_those_of_the_baseline_and_of_nothing_else(stepped: sf.Review) -> None:
    calm = sf.review_readings(shop(step=0.0), sf.read_plan(ONE_LAYER))
    for one, two in zip(stepped.layers[0].charts, calm.layers[0].charts, strict=True):
        assert one.lines == two.lines
        assert one.sigma == two.sigma
    early = [float(np.mean(film)) for film in np.array(shop()["film"][:360]).reshape(-1, 3)]
    guns = {"A": early[0::2], "B": early[1::2]}
    for chart in calm.layers[0].charts:
        assert chart.lines.center == pytest.approx(np.mean(guns[chart.stream]))
    rest = np.concatenate([np.array(x) - np.mean(x) for x in guns.values()])
    assert calm.layers[0].charts[0].sigma == pytest.approx(math.sqrt(float(rest @ rest) / (120 - 2)))


def test_windows_are_judged_by_unit_averages_and_compared_with_the_usual_share(stepped: sf.Review) -> None:
    layer = stepped.layers[0]
    found = layer.conformance
    assert found is not None
    outside = {u for u, x in zip(layer.units, layer.average, strict=True) if not 1.9 <= x <= 2.3}
    assert set(found.below) | set(found.above) == outside
    assert found.usual_judged == 120
    expected = capability(layer.average, unit="mil", lower=1.9, upper=2.3, stable=False)
    assert layer.capability is not None
    assert layer.capability.ppk == expected.ppk
    assert layer.capability.cpk is None
    assert "not stable" in layer.capability.index("cpk").reason
    assert stepped.measurability == "Whether the gauge can tell is not judged here: that needs a gauge study."


def test_one_call_for_many_series_gives_the_same_z_as_the_baseline_of_each() -> None:
    plan = sf.read_plan(ONE_LAYER.replace('streams = ["gun"]', 'streams = ["gun"]\nadjust = ["crew"]').partition("[baseline]")[0])
    table = shop(seed=9)
    units = [int(name[1:]) for name in table["unit"]]
    # Crew "new" works in the second half only: the baseline never saw it.
    table["crew"] = ["new" if unit >= 200 and unit % 3 == 0 else "one" if unit % 5 else "two" for unit in units]
    whole = unit_averages(gather(table, plan), plan, "first")[0]
    early = np.arange(len(whole)) < 120
    base, month = whole.take(early), whole.take(~early)
    usual = usual_levels(base, month, options_of(plan))
    fast = Standardizer(usual, 120, {})(whole.average[:, None])[:, 0]
    found = usual_behavior(base, options_of(plan), held=True)
    columns = {"average": month.average, "time": month.time, **{f"factor {k}": v for k, v in month.factors.items()}}
    points = points_for(found, columns)
    assert points.center is not None
    assert points.sigma_point is not None
    assert fast == pytest.approx((month.average - points.center) / points.sigma_point, rel=1e-9, abs=1e-9)


def test_uneven_units_signal_on_the_spread_and_not_on_the_average() -> None:
    rng = np.random.default_rng(3)
    rows: dict[str, list[Any]] = {"unit": [], "film": [], "when": [], "gun": [], "place": []}
    for day in range(40):
        for k in range(6):
            rough = 3.0 if day >= 34 else 1.0
            for place, pattern in zip("lmr", (-0.1, 0.0, 0.1), strict=True):
                rows["unit"].append(f"U{day:02d}{k}")
                rows["film"].append(2.1 + pattern + rough * rng.normal(0, 0.03))
                rows["when"].append(f"{np.datetime64('2026-03-12') + day} {8 + k:02d}:00")
                rows["gun"].append("AB"[k % 2])
                rows["place"].append(place)
    plan = sf.read_plan(ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"'))
    signals = [s for chart in sf.review_readings(rows, plan).layers[0].charts for s in chart.signals]
    assert sum(s.rule == SPREAD for s in signals) >= 8
    # The fixed pattern of places is no spread: center near the SD of a normal sample of three, c4(3) = 0.8862.
    chart = sf.review_readings(rows, plan).layers[0].charts[0]
    assert chart.spread_lines.center == pytest.approx(0.8862 * 0.03, rel=0.1)


def test_uneven_units_are_told_by_whose_they_are_and_compared_by_f() -> None:
    rng = np.random.default_rng(12)
    rows: dict[str, list[Any]] = {"unit": [], "film": [], "when": [], "gun": [], "crew": [], "place": []}
    for day in range(40):
        for k in range(6):
            crew = ("new" if day >= 26 else "old") if k == 3 else "ABCDEF"[k]
            for place, pattern in zip("lmnr", (-0.1, 0.0, 0.05, 0.1), strict=True):
                rows["unit"].append(f"U{day:02d}{k}")
                rows["film"].append(2.1 + pattern + (2.5 if crew == "new" else 1.0) * rng.normal(0, 0.03))
                rows["when"].append(f"{np.datetime64('2026-03-12') + day} {8 + k:02d}:00")
                rows["gun"].append("AB"[k % 2])
                rows["crew"].append(crew)
                rows["place"].append(place)
    text = ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"').replace(
        '= ["gun"]', '= ["gun"]\nadjust = ["crew"]'
    )
    review = sf.review_readings(rows, sf.read_plan(text))
    (found,) = review.uneven
    assert (found.who, found.units, found.own) == ("crew new", 14, False)
    assert review.verdict[0].startswith(
        "The line is not stable: film of crew new is uneven inside the unit: standard deviation 0.0"
    )

    film = np.array(rows["film"]).reshape(240, 4)
    rest = film - film.mean(axis=1, keepdims=True)
    rest -= rest[:120].mean(axis=0)
    new = np.array(rows["crew"])[::4] == "new"
    ratio = (rest[new] ** 2).mean() / ((rest[:120] ** 2).sum() / 119 / 4)
    freedom = (14 * 3, 119 * 3)
    assert (found.sd / found.usual_sd) ** 2 == pytest.approx(ratio, rel=1e-9)
    levels = 2 + 7  # guns and crews
    assert found.chance == pytest.approx(levels * stats.f.sf(ratio, *freedom), rel=1e-6)
    assert found.ratio_lower == pytest.approx(math.sqrt(ratio / stats.f.ppf(0.975, *freedom)), rel=1e-9)
    assert found.ratio_upper == pytest.approx(math.sqrt(ratio / stats.f.ppf(0.025, *freedom)), rel=1e-9)


def reviewed_demo(seed: int, *, log: bool) -> tuple[Any, Any, sf.Review]:
    data = load_dataset(load_dataset().DEMO)
    plan = sf.load_plan(DATASETS / load_dataset().DEMO / "plan.toml")
    month, base = (data.simulate(name, seed=seed) for name in ("demo", "baseline"))
    cells = [
        cells_from_bytes(data.to_csv(x, data.SHOP.style), name=name)
        for name, x in (
            ("readings.csv", month.readings),
            ("baseline.csv", base.readings),
            ("events.csv", month.events),
            ("verification.csv", month.verification),
        )
    ]
    checks = cells[3] if log else None
    return data, month, sf.review_readings(cells[0], plan, baseline=cells[1], events=cells[2], checks=checks)


def test_a_knocked_gauge_is_told_as_a_common_offset_and_with_its_log_as_a_gauge_fault() -> None:
    offsets = faults = 0
    for seed in (1, 2, 3):
        data, month, review = reviewed_demo(seed, log=False)
        gauge = next(x for x in data.SHOP.events if type(x).__name__ == "GaugeOffset")
        hit = [x for x in review.findings if set(x.unit_names) <= set(month.hit[gauge.code]) and x.kind == "common offset"]
        for x in hit:
            assert x.gauge == gauge.gauge
            assert f"common offset: gauge {gauge.gauge} or primer; check the gauge on shims" in x.why
            assert f"gauge {gauge.gauge} adjusted" in x.ended_by
            assert f"{gauge.gauge} read in a row on Mar 10" in x.cause
        offsets += bool(hit)
        logged = reviewed_demo(seed, log=True)[2]
        (fault,) = logged.gauge_faults
        assert (fault.gauge, abs(fault.size - gauge.offset) < 0.025) == (gauge.gauge, True)
        assert f"gauge {gauge.gauge} read 0.1" in " ".join(logged.verdict)
        told = [x for x in logged.findings if x.kind == "gauge fault"]
        assert not [x for x in logged.findings if x.kind == "common offset"]
        for x in told:
            assert set(x.unit_names) <= set(month.hit[gauge.code])
            assert "at the check before (Mar 7, 21:55)" in x.why
            assert "at the check after (Mar 11, 05:50)" in x.why
        faults += bool(told)
    assert offsets >= 2
    assert faults >= 2


# -- other shops --------------------------------------------------------------------------------------------------------


def test_a_shop_of_three_coats_in_micrometers_with_decimal_comma_and_no_event_log(tmp_path: Path) -> None:
    data = load_dataset(load_dataset().DEMO)
    other = data.one_booth(data.three_coats())
    data.write(tmp_path, seed=3, months=("baseline", "demo"), scenario=other)
    plan = sf.read_plan(
        """
title = "Three coats"
streams = ["pistol"]
adjust = ["operator", "substrate"]
candidates = ["batch"]
[file]
separator = ";"
decimal = ","
[columns]
unit = "serial no"
layer = "after coat"
location = "place"
repeat = "repeat"
value = "thickness"
unit_of_measure = "dimension"
time = "read at"
attempt = "attempt"
[measure]
unit = "um"
[[layers]]
name = "primer"
lower = 25.4
upper = 30.5
[[layers]]
name = "mid coat"
reading = "primer and mid coat"
minus = "primer"
lower = 33.0
upper = 38.1
[[layers]]
name = "top coat"
reading = "all coats"
minus = "primer and mid coat"
lower = 50.8
upper = 55.9
[[layers]]
name = "all coats"
lower = 109.2
upper = 127.0
chart = false
miss = "rework"
[baseline]
readings = "baseline/readings.csv"
""",
        folder=tmp_path,
    )
    review = sf.review_files(tmp_path / "demo" / "readings.csv", plan)
    assert [len(layer.charts) for layer in review.layers] == [2, 2, 2, 0]
    assert review.made.unit == "um"
    tops = [x for x in review.findings if x.layer == "top coat"]
    assert any(set(x.streams) & {"north pistol", "south pistol"} for x in tops)
    assert any(" um" in line for line in review.verdict)
    slip = [x for x in review.set_aside if "mil typed as um" in x.reason]
    assert len(slip) == 15
    assert len({x.unit for x in slip}) == 1
    assert list(review.inputs) == ["plan: plan", "readings: readings.csv", "baseline: readings.csv"]
    assert (
        review.inputs["readings: readings.csv"] == hashlib.sha256((tmp_path / "demo" / "readings.csv").read_bytes()).hexdigest()
    )
    assert sf.Review.from_json(review.to_json()) == review


def test_the_published_oxide_set_without_times_baseline_or_unit() -> None:
    plan = sf.load_plan(DATASETS / "oxide_thickness" / "plan.toml")
    review = sf.review_files(DATASETS / "oxide_thickness" / "data.csv", plan)
    (layer,) = review.layers
    assert len(layer.units) == 24
    assert layer.units[0] == "1 / 1"
    assert layer.average[0] == pytest.approx((2006 + 1999 + 2007) / 3)
    assert layer.baseline_units == 0
    assert [chart.stream for chart in layer.charts] == ["Source 1", "Source 2"]
    assert layer.conformance is None
    assert layer.variation is not None
    assert layer.variation.between == "Lot"
    assert layer.variation.sigma_day > layer.variation.sigma_unit  # lots differ more than wafers of a lot, as published
    assert review.made.unit == ""
    assert not any("mil" in line or " um" in line for line in review.verdict)


@pytest.mark.parametrize("seed", range(1, 6))
def test_one_stream_without_any_factor(seed: int) -> None:
    plan = sf.read_plan(ONE_LAYER.replace('streams = ["gun"]', ""))
    table = shop(seed=seed)
    table.pop("gun")
    review = sf.review_readings(table, plan)
    assert [chart.stream for chart in review.layers[0].charts] == ["all units"]
    assert " on " not in review.verdict[0].partition(";")[0]


def test_two_stream_columns_make_one_chart_each_combination() -> None:
    table = shop(step=0.25)
    table["booth"] = ["left" if int(name[1:3]) % 2 else "right" for name in table["unit"]]
    plan = sf.read_plan(ONE_LAYER.replace('streams = ["gun"]', 'streams = ["gun", "booth"]'))
    review = sf.review_readings(table, plan)
    charts = review.layers[0].charts
    assert {chart.stream for chart in charts} == {f"{g} / {b}" for g in "AB" for b in ("left", "right")}
    # Thirty baseline units of each: every one has limits of its own, and is judged.
    assert all(math.isfinite(chart.lines.upper) and math.isfinite(chart.lines.center) for chart in charts)
    assert "without limits" not in review.verdict[0]
    (finding,) = review.findings
    assert finding.streams == ("A",)
    assert [x.stream for x in finding.by_stream] == ["A", "B / right", "B / left"]


def risen(rise: dict[str, float], streams: str) -> sf.Review:
    """Two guns in two booths, each gun up by so much from day 28 on."""
    table = shop()
    table["booth"] = ["left" if int(name[1:3]) % 2 else "right" for name in table["unit"]]
    late = [int(name[1:3]) >= 28 for name in table["unit"]]
    table["film"] = [x + rise[gun] * on for x, gun, on in zip(table["film"], table["gun"], late, strict=True)]
    return sf.review_readings(table, sf.read_plan(ONE_LAYER.replace('streams = ["gun"]', streams)))


def test_a_common_change_of_crossed_streams_has_a_size_on_each_combination_alone() -> None:
    (finding,) = risen({"A": 0.3, "B": 0.3}, 'streams = ["gun", "booth"]').findings
    assert set(finding.streams) == {f"{g} / {b}" for g in "AB" for b in ("left", "right")}
    assert [x.stream for x in finding.by_stream] == list(finding.streams)
    assert [x.size for x in finding.by_stream] == pytest.approx([0.3] * 4, abs=0.05)


def test_two_guns_that_rose_by_different_amounts_are_each_told_by_itself() -> None:
    found = risen({"A": 0.2, "B": 0.4}, 'streams = ["gun"]').findings
    assert sorted(x.streams for x in found) == [("A",), ("B",)]
    assert {x.streams[0]: x.size for x in found} == pytest.approx({"A": 0.2, "B": 0.4}, abs=0.03)


def test_a_size_that_another_change_tells_is_told_once() -> None:
    # One gun rises half as much as the other: told as a common change and one of the gun's own, on the same units.
    common, own = risen({"A": 0.2, "B": 0.4}, 'streams = ["gun", "booth"]').findings
    assert own.streams == ("A",)
    assert {x.stream[0] for x in common.by_stream} == {"B"}
    assert [x.size for x in common.by_stream] == pytest.approx([0.4] * len(common.by_stream), abs=0.03)
    assert common.size + own.size == pytest.approx(0.2, abs=0.03)


def test_where_no_stream_has_limits_stability_is_not_judged_and_the_way_out_is_told() -> None:
    table = shop()
    table["who"] = [f"sprayer of {gun}" for gun in table["gun"]]  # each gun in one hand alone
    plan = ONE_LAYER.replace('streams = ["gun"]', 'streams = ["gun"]\nadjust = ["who"]')
    review = sf.review_readings(table, sf.read_plan(plan))
    assert review.stable is None
    assert review.verdict[0].startswith("Stability is not judged (film: no change found, yet no stream has limits; ")
    assert (
        "cannot be told apart from another column's; leave that column out of the plan's streams or adjust" in review.verdict[0]
    )
    assert any(note.startswith("film, streams without limits: ") for note in review.notes)


def test_a_change_of_many_streams_counts_them() -> None:
    table = shop(step=0.25)
    table["gun"] = [f"G{int(name[3])}" for name in table["unit"]]
    table["film"] = [x + 0.3 * (int(name[1:3]) >= 30) for x, name in zip(table["film"], table["unit"], strict=True)]
    review = sf.review_readings(table, sf.read_plan(ONE_LAYER))
    assert " on all 6 streams from U30" in review.verdict[0]
    text = next(x.sentence for x in review.findings if x.first_unit.startswith("U30"))
    assert "on G3 and 2 more" in text


def test_a_stream_that_the_baseline_hardly_has_gets_no_limits() -> None:
    table = shop()
    table["gun"] = [
        "C" if name == "B" and int(unit[1:3]) >= 20 and int(unit[3]) == 5 else name
        for name, unit in zip(table["gun"], table["unit"], strict=True)
    ]
    review = sf.review_readings(table, sf.read_plan(ONE_LAYER))
    chart = next(x for x in review.layers[0].charts if x.stream == "C")
    assert math.isnan(chart.lines.upper)
    assert chart.signals == ()
    assert any(x.value == "C" and x.new for x in review.layers[0].standing)


# -- bad files ----------------------------------------------------------------------------------------------------------

PHASE_1 = ONE_LAYER.partition("[baseline]")[0]


def from_file(tmp_path: Path, text: str | bytes, plan: str = PHASE_1) -> sf.Review:
    path = tmp_path / "film.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return sf.review_files(path, sf.read_plan(plan, folder=tmp_path))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("film", "flim", 1), "column 'film', whole column: no such column\nnearest names: 'flim'"),
        (lambda text: text.replace(",", ";").replace(".", ","), 'Set separator = ";"'),
        (lambda text: re.sub(r"(\d)\.(\d+)", r'"\1,\2"', text), "set decimal = ','"),
        (lambda text: text.replace("2.1", "thick"), "is not a number"),
        (lambda _: "", "film.csv has 1 problem:\n  the file is empty"),
        (lambda _: "unit,film,when,gun\n", "column names but no rows"),
        (lambda text: text.encode("utf-16"), "byte order mark of utf-16"),
        (lambda text: text.replace("2026-03-12 08:00", "12.3.2026"), "is not a time in ISO 8601"),
        (lambda text: text.replace(",2.", ",-2."), "More rows are unusable than usable"),
    ],
)
def test_a_bad_file_gets_one_clear_error(tmp_path: Path, change: Any, said: str) -> None:
    with pytest.raises(sf.DataProblemsError) as caught:
        from_file(tmp_path, change(as_csv(shop(days=4))))
    assert said in str(caught.value)


def test_a_byte_order_mark_is_taken_off(tmp_path: Path) -> None:
    text = as_csv(shop())
    assert from_file(tmp_path, "\ufeff" + text).verdict == from_file(tmp_path, text).verdict


@pytest.mark.parametrize("value", ["1e300", "", "0", "-2.1", "53.1"])
def test_a_value_that_is_no_thickness_is_set_aside_and_listed(tmp_path: Path, value: str) -> None:
    lines = as_csv(shop(days=6)).splitlines()
    unit, _, *rest = lines[1].split(",")
    lines[1] = ",".join([unit, value, *rest])
    review = from_file(tmp_path, "\n".join(lines))
    assert [(x.line, x.unit) for x in review.set_aside] == [(2, "U000")]
    assert review.verdict[-1].startswith("Data: 1 reading set aside (U000: ")
    assert np.isfinite(review.layers[0].average).all()


def test_one_row_and_one_unit_are_judged_and_not_charted(tmp_path: Path) -> None:
    review = from_file(tmp_path, "unit,film,when,gun\nA,2.1,2026-03-02,B\n")
    assert review.verdict == (
        "Stability is not judged (film: too few units to set limits from: the set has 1, 12 are needed).",
        "Film: the only unit keeps 1.9 to 2.3 mil.",
    )
    assert review.stable is None


def test_equal_readings_are_an_answer_and_no_limits(tmp_path: Path) -> None:
    table = shop(days=10)
    table["film"] = [2.1] * len(table["film"])
    review = from_file(tmp_path, as_csv(table))
    assert "all unit averages of the set are equal: there is no spread to set limits from" in review.verdict[0]
    assert review.layers[0].charts == ()


def test_nan_in_a_table_is_a_missing_reading_and_in_a_file_an_error(tmp_path: Path) -> None:
    table = shop(days=4)
    table["film"][0] = math.nan
    review = sf.review_readings(table, sf.read_plan(PHASE_1))
    assert [x.reason for x in review.set_aside] == ["reading is missing"]
    assert review.notes == ("U000: 2 of 3 usable readings of 'film'",)
    with pytest.raises(sf.DataProblemsError, match="value 'nan': is not a number"):
        from_file(tmp_path, as_csv(table))


def test_the_callers_table_is_left_as_it_was() -> None:
    table = shop(days=14)
    before = {name: list(column) for name, column in table.items()}
    sf.review_readings(table, sf.read_plan(PHASE_1))
    assert table == before


@pytest.mark.parametrize("kind", ["pandas", "polars", "pyarrow"])
def test_every_kind_of_table_gives_the_same_review(kind: str) -> None:
    table = shop(days=14)
    plan = sf.read_plan(PHASE_1)
    plain = sf.review_readings(table, plan)
    if kind == "pandas":
        import pandas as pd

        frame: Any = pd.DataFrame(table)
    elif kind == "polars":
        import polars as pl

        frame = pl.DataFrame(table)
    else:
        import pyarrow as pa

        frame = pa.table(table)
    found = sf.review_readings(frame, plan)
    assert found.verdict == plain.verdict
    assert found.made.frame == kind
    assert np.array_equal(found.layers[0].average, plain.layers[0].average)


def test_a_baseline_that_holds_the_same_units_is_noted() -> None:
    plan = sf.read_plan(PHASE_1 + '[baseline]\nreadings = "usual.csv"')
    notes = sf.review_readings(shop(days=20), plan, baseline=shop(days=20)).notes
    assert notes == ("120 units in the readings and in the baseline, U000 for one: is it the right file?",)


def test_a_baseline_file_in_the_plan_must_be_given() -> None:
    plan = sf.read_plan(PHASE_1 + '[baseline]\nreadings = "usual.csv"')
    with pytest.raises(sf.InvalidInputError, match=r"usual\.csv.*baseline="):
        sf.review_readings(shop(days=4), plan)


def test_why_a_plain_chart_of_the_places_would_cry_wolf_is_said_with_its_share() -> None:
    """Against the formula by hand: limits from the spread of all places of a unit, unit averages that vary by more."""
    rng = np.random.default_rng(21)
    rows: dict[str, list[Any]] = {"unit": [], "film": [], "when": [], "gun": [], "place": []}
    for day in range(40):
        for k in range(6):
            level = rng.normal(0, 0.09)
            for place, pattern in zip("abcde", (-0.05, -0.02, 0.0, 0.02, 0.05), strict=True):
                rows["unit"].append(f"U{day:02d}{k}")
                rows["film"].append(2.1 + level + pattern + rng.normal(0, 0.13))
                rows["when"].append(f"{np.datetime64('2026-03-12') + day} {8 + k:02d}:00")
                rows["gun"].append("AB"[k % 2])
                rows["place"].append(place)
    text = ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"')
    (layer,) = sf.review_readings(rows, sf.read_plan(text)).layers
    places = math.sqrt(0.13**2 + np.mean(np.square([0.05, 0.02, 0.0, 0.02, 0.05])) * 5 / 4)
    average = math.hypot(0.09, 0.13 / math.sqrt(5))
    wanted = 2 * stats.norm.sf(3 * places / math.sqrt(5) / average)
    said = re.search(r"the 5 places of a unit as its subgroup would cry wolf at ([0-9.]+) % of good units", layer.why_this_chart)
    assert said is not None
    assert float(said[1]) / 100 == pytest.approx(wanted, rel=0.3)
    assert 0.05 < wanted < 0.5
    one = sf.review_readings(shop(), sf.read_plan(ONE_LAYER)).layers[0]
    assert one.why_this_chart == ""


def test_repeats_at_a_place_belong_to_the_subgroup_of_a_plain_chart() -> None:
    """0.349561 for standard deviations 0.09, 0.13 and 0.05 at five places with three readings, from the normal distribution.

    And the share that an averages chart of those very readings calls.
    """
    rng = np.random.default_rng(22)
    count = 600
    levels = rng.normal(2.1, 0.09, (count, 1, 1)) + rng.normal(0, 0.13, (count, 5, 1))
    film = (levels + rng.normal(0, 0.05, (count, 5, 3))).ravel()
    unit = np.repeat(np.arange(count), 15)
    rows = {
        "unit": [f"U{k:03d}" for k in unit],
        "film": film,
        "when": (np.datetime64("2026-01-01T08:00") + unit // 6 * np.timedelta64(24, "h") + unit % 6).tolist(),
        "gun": ["A"] * film.size,
        "place": np.tile(np.repeat(list("abcde"), 3), count),
    }
    text = ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"')
    (layer,) = sf.review_readings(rows, sf.read_plan(text)).layers
    said = re.search(
        r"the 15 readings of a unit as its subgroup would cry wolf at ([0-9.]+) % of good units", layer.why_this_chart
    )
    assert said is not None
    share = float(said[1]) / 100
    assert share == pytest.approx(0.349561, abs=0.05)
    plain = sf.subgroup_chart(film, unit="mil", subgroup_size=15, spread="sd")
    assert share == pytest.approx(len({x.point for x in plain.signals}) / count, abs=0.06)
