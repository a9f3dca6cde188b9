"""How often the intervals of gauge studies hold the truth: two thousand studies of each shape, from fixed seeds.

    python tests/bench/gauge_coverage.py           # all shapes, writes gauge_coverage.csv beside this file
    python tests/bench/gauge_coverage.py 100       # a hundred studies of each shape, printed only

Each shape is a number of parts, appraisers and trials with standard deviations of part, appraiser, interaction and repeatability; the
readings are normal. One row a shape, method and source; for the study as reported (``chosen``), with the interaction kept, and pooled.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf

HERE = Path(__file__).parent
TABLE = HERE / "gauge_coverage.csv"
STUDIES = 2000
METHODS = ("modified_large_sample", "satterthwaite")
SOURCES = ("repeatability", "appraiser", "part x appraiser", "reproducibility", "grr", "part", "total")


@dataclass(frozen=True)
class Shape:
    """A design and its truth; standard deviations in any unit."""

    name: str
    parts: int
    appraisers: int
    trials: int
    part: float
    appraiser: float
    interaction: float
    repeatability: float
    fixed: bool = False

    def truth(self) -> dict[str, float]:
        """Variances of the sources; fixed appraisers as sum of squared effects over one less than their number."""
        people = self.appraiser**2 + self.interaction**2
        grr = people + self.repeatability**2
        return {
            "repeatability": self.repeatability**2,
            "appraiser": self.appraiser**2,
            "part x appraiser": self.interaction**2,
            "reproducibility": people,
            "grr": grr,
            "part": self.part**2,
            "total": grr + self.part**2,
        }


SHAPES = (
    Shape("10x3x3 good gauge", 10, 3, 3, 1.0, 0.05, 0.03, 0.10),
    Shape("10x3x3 poor gauge", 10, 3, 3, 1.0, 0.30, 0.20, 0.30),
    Shape("10x3x3 no interaction", 10, 3, 3, 1.0, 0.20, 0.0, 0.20),
    Shape("10x3x3 people differ most", 10, 3, 3, 1.0, 0.40, 0.10, 0.10),
    Shape("10x3x2 good gauge", 10, 3, 2, 1.0, 0.05, 0.03, 0.10),
    Shape("10x3x2 poor gauge", 10, 3, 2, 1.0, 0.30, 0.20, 0.30),
    Shape("10x3x2 no interaction", 10, 3, 2, 1.0, 0.20, 0.0, 0.20),
    Shape("10x3x2 interaction largest", 10, 3, 2, 1.0, 0.10, 0.30, 0.10),
    Shape("5x2x3 good gauge", 5, 2, 3, 1.0, 0.05, 0.03, 0.10),
    Shape("5x2x3 poor gauge", 5, 2, 3, 1.0, 0.30, 0.20, 0.30),
    Shape("5x2x3 no interaction", 5, 2, 3, 1.0, 0.20, 0.0, 0.20),
    Shape("10x3x3 fixed appraisers", 10, 3, 3, 1.0, 0.20, 0.10, 0.20, True),
    Shape("10x3x3 fixed appraisers alike", 10, 3, 3, 1.0, 0.0, 0.10, 0.20, True),
)


@dataclass(frozen=True)
class Row:
    """Studies whose interval holds the truth, of those that have one."""

    shape: str
    method: str
    estimate: str
    quantity: str
    studies: int
    without: int
    inside: int
    below: int
    """Truth below the interval."""

    @property
    def coverage(self) -> float:
        """Share of all studies; one without an interval does not hold the truth."""
        return self.inside / self.studies


def readings(shape: Shape, seed: int) -> dict[str, Any]:
    """The study of one seed."""
    rng = np.random.default_rng([seed, shape.parts, shape.appraisers, shape.trials, round(1000 * shape.interaction)])
    p, a, r = shape.parts, shape.appraisers, shape.trials
    if shape.fixed:  # equal steps with that sum of squares
        steps = np.arange(a) - (a - 1) / 2
        people = shape.appraiser * steps * np.sqrt((a - 1) / (steps**2).sum())
    else:
        people = rng.normal(0, 1, a) * shape.appraiser
    film = (
        shape.part * rng.normal(0, 1, (p, 1, 1))
        + people[None, :, None]
        + shape.interaction * rng.normal(0, 1, (p, a, 1))
        + shape.repeatability * rng.normal(0, 1, (p, a, r))
    )
    grid = np.indices((p, a, r)).reshape(3, -1)
    return {"film": film.ravel(), "part": grid[0], "appraiser": grid[1]}


def study_shape(shape: Shape, method: str, seeds: Iterable[int]) -> list[Row]:
    """Every row of one shape and method."""
    truth = shape.truth()
    ratio = 1.41 * np.sqrt(truth["part"] / truth["grr"])
    counts: dict[tuple[str, str], np.ndarray[Any, Any]] = {}
    for seed in seeds:
        study = sf.gauge_study(
            readings(shape, seed),
            "film",
            unit="",
            part="part",
            appraiser="appraiser",
            interval_method=method,
            appraiser_effect="fixed" if shape.fixed else "random",
        )
        for word, found in (("chosen", study.estimate), ("kept", study.kept), ("pooled", study.pooled)):
            if found is None:
                continue
            ends = [(name, one.sd_lower, one.sd_upper, np.sqrt(truth[name])) for name in SOURCES if (one := found.find(name))]
            ends += [
                (f"share of {name}", one.share_of_total_lower, one.share_of_total_upper, np.sqrt(truth[name] / truth["total"]))
                for name in SOURCES[:-1]
                if (one := found.find(name))
            ]
            ends.append(("ndc ratio", found.ndc_ratio_lower, found.ndc_ratio_upper, ratio))
            for name, lower, upper, true in ends:
                tally = counts.setdefault((word, name), np.zeros(4, dtype=int))
                tally[0] += 1
                if lower is None or upper is None:
                    tally[1] += 1
                else:
                    tally[2] += lower <= true * (1 + 1e-12) and true <= upper * (1 + 1e-12)
                    tally[3] += true < lower
    return [Row(shape.name, method, word, name, *map(int, tally)) for (word, name), tally in counts.items()]


def all_rows(studies: int) -> list[Row]:
    return [row for shape in SHAPES for method in METHODS for row in study_shape(shape, method, range(studies))]


def read(path: Path = TABLE) -> list[Row]:
    """The committed table."""
    kinds = {field.name: field.type for field in fields(Row)}
    with path.open(encoding="utf-8", newline="") as file:
        return [
            Row(**{name: int(text) if kinds[name] == "int" else text for name, text in row.items() if name in kinds})
            for row in csv.DictReader(file)
        ]


def main() -> None:
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else STUDIES
    rows = all_rows(studies)
    if studies == STUDIES:
        with TABLE.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, [*(field.name for field in fields(Row)), "percent"], lineterminator="\n")
            writer.writeheader()
            writer.writerows({**asdict(row), "percent": f"{100 * row.coverage:.2f}"} for row in rows)
    for row in rows:
        sys.stdout.write(f"{row.shape:32s} {row.method:22s} {row.estimate:7s} {row.quantity:28s} {100 * row.coverage:6.2f} %\n")


if __name__ == "__main__":
    main()
