"""A unit measured again: the place that was out of the usual is told in words; gauge checks are not blamed on more units."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

import steadyfilm as sf
from steadyfilm._files import cells_from_bytes
from steadyfilm._review.averages import unit_averages, without_copies
from steadyfilm._review.gather import gather
from steadyfilm._review.gauges import GaugeCheck, GaugeFault, on_shims
from steadyfilm._review.options import options_of
from steadyfilm._review.study import study_layer
from steadyfilm._review.unevenness import Uneven
from steadyfilm._review.verdict import uneven_text

from helpers import DATASETS, ONE_LAYER, load_dataset

PLACES = {"door": -0.1, "roof": 0.1, "left": 0.0, "right": 0.02}
PLAN = sf.read_plan(ONE_LAYER.replace('value = "film"', 'value = "film"\nlocation = "place"\nattempt = "try"'))


def month(first: dict[str, float], again: dict[str, float], unit: str = "U313") -> dict[str, list[Any]]:
    """Forty days of six units on two guns; one unit is read twice, and differs by so much at these places."""
    rng = np.random.default_rng(8)
    rows: dict[str, list[Any]] = {name: [] for name in ("unit", "film", "when", "gun", "place", "try")}
    for day in range(40):
        for k in range(6):
            name = f"U{day:02d}{k}"
            for attempt, off in ((1, first), (2, again)) if name == unit else ((1, {}),):
                for place, pattern in PLACES.items():
                    rows["unit"].append(name)
                    rows["film"].append(2.1 + pattern + rng.normal(0, 0.03) + off.get(place, 0.0))
                    rows["when"].append(f"{np.datetime64('2026-03-12') + day} {8 + k:02d}:{30 * (attempt - 1):02d}")
                    rows["gun"].append("AB"[k % 2])
                    rows["place"].append(place)
                    rows["try"].append(attempt)
    return rows


def test_the_thin_place_of_a_unit_measured_again_is_told_with_its_size() -> None:
    table = month({"door": -0.5}, {"door": 0.0})
    review = sf.review_readings(table, PLAN)
    (place,) = review.places_again
    assert (place.unit, place.location, place.layer, place.stream, place.time) == (
        "U313",
        "door",
        "film",
        "B",
        "2026-04-12T11:00",
    )
    rows = list(zip(table["unit"], table["place"], table["when"], table["film"], strict=True))
    usual = [film for unit, where, when, film in rows if where == "door" and when < "2026-04" and unit != "U313"]
    seen, after = [film for unit, where, _, film in rows if (unit, where) == ("U313", "door")]
    assert (place.first, place.last, place.usual) == pytest.approx((seen, after, np.mean(usual)))
    assert place.difference == pytest.approx(seen - np.mean(usual))
    words = (
        f"U313 (B, Apr 12) was thin at door: film read {seen:.3f} mil there at first, {np.mean(usual) - seen:.3f} mil less than "
        f"usual ({np.mean(usual):.3f}), and {after:.3f} mil when measured again"
    )
    assert place.words("mil") == words
    assert words in review.verdict[-1]


def test_the_chance_of_a_place_is_that_of_students_t_times_the_places_compared() -> None:
    table = month({"door": -0.15}, {})
    (place,) = sf.review_readings(table, PLAN).places_again
    by_unit: dict[str, list[float]] = {}
    for unit, when, film, attempt in zip(table["unit"], table["when"], table["film"], table["try"], strict=True):
        if attempt == 1 and (when < "2026-04" or unit == "U313"):
            by_unit.setdefault(unit, []).append(film)
    apart = {unit: spots[0] - float(np.median(spots[1:])) for unit, spots in by_unit.items()}
    seen = apart.pop("U313")
    usual = np.array(list(apart.values()))
    t = (seen - usual.mean()) / (usual.std(ddof=1) * np.sqrt(1 + 1 / len(usual)))
    assert place.usual_units == len(usual)
    assert place.chance == pytest.approx(4 * 2 * stats.t.sf(abs(t), len(usual) - 1), rel=1e-9)


def test_a_unit_that_is_off_as_a_whole_is_no_thin_place() -> None:
    everywhere = dict.fromkeys(PLACES, 0.3)
    review = sf.review_readings(month(everywhere, {}), PLAN)
    assert review.remeasured == ("U313",)
    assert review.places_again == ()
    assert sf.review_readings(month({}, {}), PLAN).places_again == ()


def test_both_figures_of_uneven_units_have_the_same_decimals() -> None:
    found = Uneven("film", "crew", "new", 0.24, 0.10912, 2.0, 2.4, 30, "U1", "U30", True, 1e-9)
    assert uneven_text(found, "mil").endswith("standard deviation 0.240 mil between places, usually 0.109 mil")


def test_checks_outside_a_fault_speak_for_units_of_which_few_were_read_in_it() -> None:
    checks = [GaugeCheck("Q", f"2026-03-{day:02d}T06:00", 0.15 if day == 4 else 0.002, 10, 0.01) for day in range(2, 12)]
    fault = GaugeFault(
        "Q", 0.15, 0.01, 1, "2026-03-04T06:00", "2026-03-04T06:00", "2026-03-03T06:00", 0.002, "2026-03-05T06:00", 0.0
    )
    times = np.array([f"2026-03-{day:02d}T{hour:02d}:00" for day in range(4, 10) for hour in (9, 12)], dtype="datetime64[m]")
    found = on_shims(checks, [fault], ["Q"] * len(times), times)
    assert found is not None
    assert found.fault is None
    assert found.deviation == pytest.approx(0.002)
    # All of them read in it: the fault counts.
    inside = on_shims(checks, [fault], ["Q"] * 2, times[:2])
    assert inside is not None
    assert inside.fault == fault


def days_of_points(values: np.ndarray[Any, Any], start: str) -> list[str]:
    return [str(np.datetime64(start) + np.timedelta64(24 * (i // 6) + i % 6, "h")) for i in range(len(values))]


@pytest.mark.parametrize("logged", [True, False])
def test_a_fault_of_few_units_is_no_shift_of_many(logged: bool) -> None:
    """Six units read on one day with a gauge 0.3 off, where a change is told of 20 units or more."""
    film = 1.1 + np.random.default_rng(4).normal(0, 0.03, 240)
    film[150:156] += 0.3
    when = days_of_points(film, "2026-01-05T08:00")
    off = when[150][:10]
    shown = {f"{day}T06:00": 0.0 for day in {x[:10] for x in when}} | {f"{off}T14:00": 0.3 if logged else 0.0}
    checks = [GaugeCheck("Q", time, x, 10, 0.01) for time, x in sorted(shown.items())]
    table = {"film": film, "when": when, "gauge": ["Q"] * 240}
    base, seen = ({name: list(x[part]) for name, x in table.items()} for part in (slice(0, 120), slice(120, 240)))
    told = sf.findings(
        seen, "film", unit="mil", time="when", gauge="gauge", baseline=base, checks=checks, smallest=0.02, shortest=20
    )
    assert [x.first_time for x in told.gauge_faults] == [f"{off}T14:00"] * logged
    # Without the log the same readings do look like a shift of at least 20 units.
    assert bool(told.changes) is not logged
    assert all(x.units >= 20 for x in told.changes)


@pytest.mark.parametrize("seed", [5, 6])
def test_two_guns_that_rose_by_different_amounts_are_told_one_by_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    film = 2.1 + rng.normal(0, 0.05, 240)
    gun = np.array(["A", "B"] * 120)
    film[180:] += np.where(gun[180:] == "A", 0.2, 0.4)
    table = {"film": film, "when": days_of_points(film, "2026-01-05T08:00"), "gun": gun}
    base, seen = ({name: list(x[part]) for name, x in table.items()} for part in (slice(0, 120), slice(120, 240)))
    told = sf.findings(seen, "film", unit="mil", time="when", stream="gun", baseline=base).changes
    sizes = {x.streams: x.size for x in told}
    assert set(sizes) == {("A",), ("B",)}
    assert sizes["A",] == pytest.approx(0.2, abs=0.05)
    assert sizes["B",] == pytest.approx(0.4, abs=0.05)
    assert not any("no such change" in x.sentence for x in told)


@pytest.mark.parametrize(("seed", "days", "factor"), [(17, (9, 12), 0.923), (12, (4, 8), 1.08)])
def test_a_batch_is_told_as_a_batch_and_not_as_a_drift_of_both_guns(seed: int, days: tuple[int, int], factor: float) -> None:
    data = load_dataset(load_dataset().DEMO)
    first, last = days
    shop = data.variant(data.SHOP, {"events.E2.factor": factor, "events.E2.first_day": first, "events.E2.last_day": last})
    plan = sf.load_plan(DATASETS / load_dataset().DEMO / "plan.toml")
    plan = plan.model_copy(update={"layers": tuple(x for x in plan.layers if x.name == "topcoat")})
    tables = [data.simulate(name, seed=seed, scenario=shop).readings for name in ("baseline", "demo")]
    read = [gather(cells_from_bytes(data.to_csv(x, data.SHOP.style), name="film.csv"), plan) for x in tables]
    base, month = (unit_averages(without_copies(x)[0], plan, "first")[0] for x in read)
    studied = study_layer(base, month, options_of(plan), seed=1)
    assert not isinstance(studied, str)
    whole = [x.change for x in studied.scan.changes if x.change.scope == 0]
    assert [(x.shape, x.named is not None) for x in whole] == [("step", True)]
