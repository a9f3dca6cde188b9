"""How often the intervals of gauge studies hold the truth: two thousand studies of each shape, from fixed seeds.

    python tests/bench/gauge_coverage.py                           # all shapes, writes gauge_coverage.csv beside this file
    python tests/bench/gauge_coverage.py 100                       # a hundred studies of each shape, printed only
    python tests/bench/gauge_coverage.py "5x2x3 poor gauge" ...    # these shapes anew, the other rows of the table stay

Each shape is a number of parts, appraisers and trials with standard deviations of part, appraiser, interaction and
repeatability; the readings are normal. One row a shape, method and source: for the study as reported (``chosen``), with the
interaction kept, and pooled.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf

HERE = Path(__file__).parent
TABLE = HERE / "gauge_coverage.csv"
STUDIES = 2000
METHODS = ("modified_large_sample", "satterthwaite", "bootstrap")
REPLICATES = 400
"""Of the bootstrap, which covers random appraisers and balanced studies."""
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
    lost: int = 0
    """Readings taken away at random."""
    nested: bool = False
    """Parts belong to one appraiser each, ``parts`` to each of them."""
    gauge: float = 0.0
    """Standard deviation of gauges, of which there are two where it is not 0."""

    def truth(self) -> dict[str, float]:
        """Variances of the sources; fixed appraisers as sum of squared effects over one less than their number."""
        people = self.appraiser**2 + self.interaction**2 + self.gauge**2
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
    Shape("10x3x3 ten of 90 lost", 10, 3, 3, 1.0, 0.20, 0.10, 0.20, lost=10),
    Shape("10x3x2 ten of 60 lost", 10, 3, 2, 1.0, 0.20, 0.0, 0.20, lost=10),
    Shape("5 nested in 3, 3 specimens", 5, 3, 3, 1.0, 0.20, 0.0, 0.40, nested=True),
    Shape("6x3x2 by 2 gauges", 6, 3, 2, 1.0, 0.10, 0.0, 0.20, gauge=0.10),
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
    gauges = 2 if shape.gauge else 1
    if shape.fixed:  # equal steps with that sum of squares
        steps = np.arange(a) - (a - 1) / 2
        people = shape.appraiser * steps * np.sqrt((a - 1) / (steps**2).sum())
    else:
        people = rng.normal(0, 1, a) * shape.appraiser
    film = (
        shape.part * rng.normal(0, 1, (p, a if shape.nested else 1, 1, 1))
        + people[None, :, None, None]
        + shape.interaction * rng.normal(0, 1, (p, a, 1, 1))
        + shape.repeatability * rng.normal(0, 1, (p, a, gauges, r))
    )
    if shape.gauge:
        film = film + shape.gauge * rng.normal(0, 1, (1, 1, gauges, 1))
    grid = np.indices(film.shape).reshape(4, -1)
    table = {"film": film.ravel(), "part": grid[0], "appraiser": grid[1], "gauge": grid[2]}
    lost = rng.choice(film.size, shape.lost, replace=False)
    return {name: np.delete(column, lost) for name, column in table.items()}


def study_shape(shape: Shape, method: str, seeds: Iterable[int]) -> list[Row]:
    """Every row of one shape and method."""
    if method == "bootstrap" and (shape.fixed or shape.lost):
        return []
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
            interval_method="modified_large_sample" if method == "bootstrap" else method,
            factors=("gauge",) if shape.gauge else (),
            nested=shape.nested,
            appraiser_effect="fixed" if shape.fixed else "random",
        )
        for word, found in (("chosen", study.estimate), ("kept", study.kept), ("pooled", study.pooled)):
            if found is None or (method == "bootstrap" and word != "chosen"):
                continue
            ends = [(name, one.sd_lower, one.sd_upper, np.sqrt(truth[name])) for name in SOURCES if (one := found.find(name))]
            ends += [
                (f"share of {name}", one.share_of_total_lower, one.share_of_total_upper, np.sqrt(truth[name] / truth["total"]))
                for name in SOURCES[:-1]
                if (one := found.find(name))
            ]
            ends.append(("ndc ratio", found.ndc_ratio_lower, found.ndc_ratio_upper, ratio))
            if method == "bootstrap":
                drawn = {one.source: one for one in sf.gauge_bootstrap(study, replicates=REPLICATES, seed=seed).intervals}
                ends = [
                    (name, drawn[key].lower, drawn[key].upper, true)
                    for name, _, _, true in ends
                    if (key := name.replace("ndc ratio", "ndc_ratio")) in drawn
                ]
            for name, lower, upper, true in ends:
                tally = counts.setdefault((word, name), np.zeros(4, dtype=int))
                tally[0] += 1
                if lower is None:
                    tally[1] += 1
                else:
                    upper = np.inf if upper is None else upper  # a ratio to a GRR that may be 0
                    tally[2] += lower <= true * (1 + 1e-12) and true <= upper * (1 + 1e-12)
                    tally[3] += true < lower
    return [Row(shape.name, method, word, name, *map(int, tally)) for (word, name), tally in counts.items()]


def all_rows(studies: int, only: Sequence[str] = ()) -> list[Row]:
    """All shapes, or some anew and the others from the table."""
    kept = read() if only else []
    rows = []
    for shape in SHAPES:
        if only and shape.name not in only:
            rows += [row for row in kept if row.shape == shape.name]
        else:
            rows += [row for method in METHODS for row in study_shape(shape, method, range(studies))]
    return rows


def read(path: Path = TABLE) -> list[Row]:
    """The committed table."""
    kinds = {field.name: field.type for field in fields(Row)}
    with path.open(encoding="utf-8", newline="") as file:
        return [
            Row(**{name: int(text) if kinds[name] == "int" else text for name, text in row.items() if name in kinds})
            for row in csv.DictReader(file)
        ]


def main() -> None:
    words = sys.argv[1:]
    studies = int(words[0]) if words and words[0].isdigit() else STUDIES
    rows = all_rows(studies, () if studies != STUDIES else words)
    if studies == STUDIES:
        with TABLE.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, [*(field.name for field in fields(Row)), "percent"], lineterminator="\n")
            writer.writeheader()
            writer.writerows({**asdict(row), "percent": f"{100 * row.coverage:.2f}"} for row in rows)
    for row in rows:
        sys.stdout.write(f"{row.shape:32s} {row.method:22s} {row.estimate:7s} {row.quantity:28s} {100 * row.coverage:6.2f} %\n")


if __name__ == "__main__":
    main()
