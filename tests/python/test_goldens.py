"""Wording is as it was read and accepted; the numbers in it are recomputed here with NumPy alone."""

from __future__ import annotations

import csv
import difflib

import numpy as np
import pytest

import steadyfilm as sf

from goldens import CURE, GOLDEN, TINY, WASH, golden_texts, tiny_bakes, tiny_review, tiny_washer
from helpers import DATASETS

INPUTS = {"README.md", "cure/log.csv", "cure/recipes.csv", "tiny_month/readings.csv", "tiny_month/plan.toml"} | {
    f"wash/{name}" for name in ("plan.toml", "titrations.csv", "counter.csv", "poured.csv")
}


@pytest.fixture(scope="module")
def texts() -> dict[str, str]:
    return golden_texts()


@pytest.fixture(scope="module")
def review() -> sf.Review:
    return tiny_review()


@pytest.fixture(scope="module")
def averages() -> dict[str, tuple[str, float]]:
    """Unit, its line and its average, in order of production."""
    films: dict[str, list[float]] = {}
    lines = {}
    with (TINY / "readings.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            films.setdefault(row["serial"], []).append(float(row["film_mil"]))
            lines[row["serial"]] = row["line"]
    return {unit: (lines[unit], sum(values) / len(values)) for unit, values in films.items()}


@pytest.mark.parametrize(
    "name",
    sorted(str(path.relative_to(GOLDEN)) for path in GOLDEN.rglob("*") if path.is_file()),
)
def test_every_text_is_as_it_was_accepted(name: str, texts: dict[str, str]) -> None:
    if name in INPUTS:
        assert name not in texts
        return
    accepted = (GOLDEN / name).read_text(encoding="utf-8")
    changed = list(difflib.unified_diff(accepted.splitlines(), texts[name].splitlines(), "accepted", "now", lineterm="", n=0))
    assert not changed, "\n".join([*changed[:40], "see tests/golden/README.md"])


def test_every_text_has_its_golden(texts: dict[str, str]) -> None:
    assert [name for name in texts if not (GOLDEN / name).is_file()] == []


def test_averages_and_misses_are_those_of_the_file(review: sf.Review, averages: dict[str, tuple[str, float]]) -> None:
    layer = review.layers[0]
    month = list(averages)[42:]  # the plan's baseline ends with the seventh working day, six units a day
    assert layer.units.tolist() == month
    np.testing.assert_allclose(layer.average, [averages[unit][1] for unit in month], rtol=1e-14)
    low = tuple(unit for unit in month if averages[unit][1] < 2.0)
    assert layer.conformance is not None
    assert (layer.conformance.below, layer.conformance.above, layer.conformance.judged) == (low, (), 30)
    usual = [averages[unit][1] for unit in list(averages)[:42]]
    assert layer.conformance.usual_share == pytest.approx(sum(not 2.0 <= x <= 2.3 for x in usual) / 42)


def test_limits_lie_about_the_means_of_the_usual_period(review: sf.Review, averages: dict[str, tuple[str, float]]) -> None:
    layer = review.layers[0]
    usual = list(averages.values())[:42]
    means = {line: float(np.mean([x for name, x in usual if name == line])) for line in ("left", "right")}
    squares = sum((x - means[name]) ** 2 for name, x in usual)
    sigma = (squares / (42 - 2)) ** 0.5
    assert review.alarms is not None
    for chart in layer.charts:
        assert chart.lines.center == pytest.approx(means[chart.stream], rel=1e-12)
        assert chart.lines.upper == pytest.approx(means[chart.stream] + review.alarms.sigma_multiple * sigma, rel=1e-12)


def test_the_planted_step_is_told_with_its_line_and_start(review: sf.Review, averages: dict[str, tuple[str, float]]) -> None:
    (finding,) = review.findings
    assert (finding.streams, finding.first_unit, finding.last_unit, finding.lasting) == (("left",), "T056", "T072", True)
    assert finding.size - finding.error < -0.24 < finding.size + finding.error
    # Without correlation between days the estimate would be this difference of means; it may not be far from it.
    left = {unit: x for unit, (line, x) in averages.items() if line == "left"}
    late = [x for unit, x in left.items() if unit >= "T056"]
    early = [x for unit, x in left.items() if unit < "T056"]
    assert finding.size == pytest.approx(np.mean(late) - np.mean(early), abs=0.02)


def test_oxide_averages_are_those_of_the_published_rows() -> None:
    found = sf.review_files(DATASETS / "oxide_thickness" / "data.csv", sf.load_plan(DATASETS / "oxide_thickness" / "plan.toml"))
    wafers: dict[tuple[str, str], list[float]] = {}
    with (DATASETS / "oxide_thickness" / "data.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            wafers.setdefault((row["Lot"], row["Wafer"]), []).append(float(row["Thickness"]))
    means = {f"{lot} / {wafer}": sum(values) / 3 for (lot, wafer), values in wafers.items()}
    layer = found.layers[0]
    assert dict(zip(layer.units.tolist(), layer.average.tolist(), strict=True)) == pytest.approx(means, rel=1e-14)
    for chart in layer.charts:
        mine = [means[unit] for unit in layer.units[chart.at]]
        assert chart.lines.center == pytest.approx(np.mean(mine), rel=1e-12)


def test_the_minutes_and_doses_of_the_bakes_are_those_of_a_fine_grid() -> None:
    traces: dict[tuple[str, str], tuple[list[float], list[float]]] = {}
    with (CURE / "log.csv").open(newline="") as file:
        for row in csv.DictReader(file):
            minutes, readings = traces.setdefault((row["bake"], row["probe"]), ([], []))
            minutes.append(float(row["minutes"]))
            readings.append(float(row["temperature"]))
    for bake in tiny_bakes().bakes:
        for place in bake.places:
            minutes, readings = (np.array(x) for x in traces[bake.bake, place.probe])
            above = dose = 0.0
            for k in np.flatnonzero(np.diff(minutes) <= 15.0):  # three medians of 5 min
                grid = np.linspace(0.0, 1.0, 20_001)
                line = readings[k] + (readings[k + 1] - readings[k]) * (0.5 * (grid[1:] + grid[:-1]))
                length = minutes[k + 1] - minutes[k]
                above += length * float((line >= 60.0).mean())
                dose += length * float(np.exp(55_000 / 8.314462618 * (1 / 333.15 - 1 / (line + 273.15))).mean())
            assert place.observed_min[0] == pytest.approx(above, abs=0.002)
            assert place.dose_observed_min == pytest.approx(dose, rel=1e-6)


def test_the_use_of_the_baths_is_that_of_their_counter_and_what_was_poured_in() -> None:
    def column(file: str, name: str, bath: str) -> tuple[list[str], np.ndarray]:
        with (WASH / file).open(newline="") as opened:
            rows = [row for row in csv.DictReader(opened, delimiter=";") if row["bath"] == bath]
        return [row["when"] for row in rows], np.array([float(row[name].replace(",", ".")) for row in rows])

    when, counter = column("counter.csv", "counter", "east")
    rate = np.diff(counter.reshape(15, 5), axis=1) / 2.0  # five readings a day, two hours apart
    usual, late = rate[:10].ravel(), rate[12:].ravel()[1:]  # the pump loses its stroke on the thirteenth day after 08:00
    east, west = tiny_washer().tanks
    (change,) = east.changes
    (chart,) = east.charts
    assert (change.start, change.seen, change.lasting) == (when[12 * 5 + 1], when[12 * 5 + 2], True)
    assert change.rate == pytest.approx(late.mean(), rel=1e-12)
    assert chart.center == change.usual_rate == pytest.approx(usual.mean(), rel=1e-12)
    ranges = np.abs(np.diff(usual))
    assert chart.sigma == pytest.approx(max(ranges.mean() / 1.128379, 0.01 / 6**0.5 / 2.0), rel=1e-6)
    titrated, percent = column("titrations.csv", "reading", "east")
    low = [k for k, value in enumerate(percent) if value < 2.5]
    assert [titrated[k] for k in low] == [change.out_of_band]
    near = np.minimum(*(np.abs(column("titrations.csv", "reading", "west")[1][20:] - limit) for limit in (1.3, 1.7)))
    assert west.states.count("doubtful") == (near < 0.08).sum() == 1
    poured = column("poured.csv", "liters", "west")[1]
    assert west.charts[0].usual_rate == pytest.approx(poured[1:4].sum() / 10)  # May 6 to 16
    assert west.charts[0].rate == pytest.approx([poured[4] / 5])
