"""The invented shop's gauge studies: the given one has its known analysis, the drawn one its stated components."""

from __future__ import annotations

import csv
import dataclasses
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from helpers import load_dataset

Floats = NDArray[np.float64]

shop = load_dataset("truck_bodies")
SHOP = shop.SHOP


def readings(gauge: str, seed: int = 1, scenario: Any = SHOP) -> Floats:
    """Values of one study by part, appraiser and trial."""
    rows = shop.log_studies(scenario, seed=seed).columns
    found: Floats = rows["value"][rows["gauge"] == gauge].reshape(10, 3, 3)
    return found


def anova(x: Floats) -> dict[str, tuple[float, int]]:
    """Sums of squares and degrees of freedom of a crossed two-way table with repeats."""
    parts, appraisers, trials = x.shape
    cell, part, appraiser, mean = x.mean(axis=2), x.mean(axis=(1, 2)), x.mean(axis=(0, 2)), x.mean()
    both = cell - part[:, None] - appraiser[None, :] + mean
    return {
        "part": (appraisers * trials * ((part - mean) ** 2).sum(), parts - 1),
        "appraiser": (parts * trials * ((appraiser - mean) ** 2).sum(), appraisers - 1),
        "interaction": (trials * (both**2).sum(), (parts - 1) * (appraisers - 1)),
        "repeat": (((x - cell[..., None]) ** 2).sum(), parts * appraisers * (trials - 1)),
    }


# Known before this generator was written: sums of squares by a general-purpose statistics program (linear model), the
# components confirmed by its mixed model.
KNOWN = {
    0.01: (3.224667, (3.240373, 0.031327, 0.030140, 0.067400), (1.4906, 0.1257), (9.3543, 0.00164), (0.03352, 0.02159, 0.01355)),
    0.1: (3.230000, (3.262333, 0.032667, 0.047333, 0.086667), (1.8205, 0.0435), (6.2113, 0.00889), (0.03801, 0.02137, 0.01988)),
}


@pytest.mark.parametrize("step", KNOWN)
def test_steel_study_has_its_known_analysis(step: float) -> None:
    mean, sums, interaction, appraiser, components = KNOWN[step]
    x = np.floor(readings("Q1") / step + 0.5 + 1e-9) * step
    assert x.mean() == pytest.approx(mean, abs=5e-7)
    table = anova(x)
    assert [ss for ss, _ in table.values()] == pytest.approx(sums, abs=5e-7)
    assert [df for _, df in table.values()] == [9, 2, 18, 60]
    ms = {name: ss / df for name, (ss, df) in table.items()}
    for over, under, (f, p) in (("interaction", "repeat", interaction), ("appraiser", "interaction", appraiser)):
        ratio = ms[over] / ms[under]
        assert ratio == pytest.approx(f, abs=5e-5)
        assert stats.f.sf(ratio, table[over][1], table[under][1]) == pytest.approx(p, abs=5e-5)
    found = [ms["repeat"], (ms["appraiser"] - ms["interaction"]) / 30.0, (ms["interaction"] - ms["repeat"]) / 3.0]
    assert np.sqrt(found) == pytest.approx(components, abs=5e-6)
    assert (readings("Q1", seed=9) == readings("Q1")).all()


def test_aluminum_study_has_its_stated_components() -> None:
    tables = [anova(readings("Q2", seed=seed)) for seed in range(1, 301)]
    ms = {name: np.array([table[name][0] / table[name][1] for table in tables]) for name in tables[0]}
    # A step of 0.1 mil adds 0.1^2 / 12 to the variance of a reading.
    repeat = 0.05**2 + 0.1**2 / 12.0
    for found, expected in (
        (ms["repeat"], repeat),
        (ms["interaction"], repeat),
        ((ms["appraiser"] - ms["interaction"]) / 30.0, 0.03**2),
    ):
        error = found.std(ddof=1) / np.sqrt(found.size)
        # The rounding is not quite random from panel to panel: a hundredth of the variance is allowed for it.
        assert found.mean() == pytest.approx(expected, abs=4.0 * error + 0.01 * repeat)
        assert error < 0.1 * expected


def test_file_is_typed_as_displayed_and_the_truth_holds_the_biases(tmp_path: Path) -> None:
    shop.write(tmp_path, seed=3, months=("quiet",))
    with (tmp_path / "gauge_studies.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 180
    seen = {(row["gauge"], row["substrate"], row["unit_of_measure"], len(row["value"].partition(".")[2])) for row in rows}
    assert seen == {("Q1", "steel", "mil", 2), ("Q2", "aluminum", "mil", 1)}
    assert rows[0]["value"] == "2.93"
    given, bias = json.loads((tmp_path / "truth.json").read_text())["studies"]["3"]
    assert given == {}
    means = readings("Q2", seed=3).mean(axis=(0, 2)) - np.mean(SHOP.studies[1].parts)
    # 30 readings with an SD of 0.058 each.
    assert means == pytest.approx(list(bias.values()), abs=4 * 0.058 / np.sqrt(30))


def test_other_shops_have_other_studies() -> None:
    metric = shop.in_micrometers()
    assert readings("Q1", scenario=metric) == pytest.approx(25.4 * readings("Q1"), abs=0.051)
    assert readings("Q2", scenario=metric) == pytest.approx(25.4 * readings("Q2"), abs=25.4 * 0.05 + 0.06)
    assert set(shop.log_studies(shop.three_coats(), seed=1).columns["gauge"]) == {"meter 11", "meter 12"}
    none = dataclasses.replace(SHOP, studies=())
    assert shop.log_studies(none, seed=1).columns["value"].size == 0


def test_contradictions_of_a_study_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r"study: gauge 'Q9' is none of 'Q1', 'Q2'"):
        shop.variant(SHOP, {"studies.0.gauge": "Q9"})
    with pytest.raises(ValueError, match=r"study of gauge Q1: given must hold 2 appraisers by 3 trials"):
        shop.variant(SHOP, {"studies.0.appraisers": ("A", "B")})
    with pytest.raises(ValueError, match=r"study of gauge Q2: parts, appraisers and trials must be some"):
        shop.variant(SHOP, {"studies.1.parts": ()})
