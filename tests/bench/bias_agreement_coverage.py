"""How often the intervals of gauge bias and agreement hold the truth: nominal 95 %, fixed seeds, truths in closed form.

    PYTHONPATH=python python tests/bench/bias_agreement_coverage.py    writes bias_agreement_coverage.csv beside itself

A part of it is run again by a test.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

import steadyfilm as sf

TABLE = Path(__file__).with_suffix(".csv")
SIZE = 2000
Interval = tuple[float, float]
Draw = Callable[[np.random.Generator], Interval]


def cohen(subjects: int) -> tuple[float, Draw]:
    """Two judges and three categories of unlike frequency."""
    shares = np.array([[0.42, 0.05, 0.03], [0.06, 0.20, 0.04], [0.02, 0.05, 0.13]])
    expected = float(shares.sum(axis=1) @ shares.sum(axis=0))
    truth = (float(np.trace(shares)) - expected) / (1 - expected)

    def draw(rng: np.random.Generator) -> Interval:
        found = sf.cohen_kappa(rng.multinomial(subjects, shares.reshape(-1)).reshape(3, 3)).kappa
        return found.lower, found.upper

    return truth, draw


def fleiss(subjects: int, judgements: int) -> tuple[float, Draw]:
    """Three kinds of subjects, each with its chances of the three categories."""
    weights, kinds = np.array([0.5, 0.3, 0.2]), np.array([[0.85, 0.1, 0.05], [0.2, 0.7, 0.1], [0.05, 0.15, 0.8]])
    observed, expected = float(weights @ (kinds**2).sum(axis=1)), float(((weights @ kinds) ** 2).sum())
    truth = (observed - expected) / (1 - expected)

    def draw(rng: np.random.Generator) -> Interval:
        counts = rng.multinomial(judgements, kinds[rng.choice(3, subjects, p=weights)])
        found = sf.fleiss_kappa(counts).kappa
        return found.lower, found.upper

    return truth, draw


def _ranked(subjects: int, judges: int, noise: float, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    true = rng.normal(size=subjects)
    return true[:, None] + rng.normal(0, noise, (subjects, judges)), true


def concordance(subjects: int, judges: int, noise: float) -> tuple[float, Draw]:
    """Normal grades; W is (1 + (m - 1) r) / m, r the rank correlation 6 / pi asin(rho / 2)."""
    rank = 6 / math.pi * math.asin(0.5 / (1 + noise**2))
    truth = (1 + (judges - 1) * rank) / judges

    def draw(rng: np.random.Generator) -> Interval:
        found = sf.kendall_w(_ranked(subjects, judges, noise, rng)[0])
        return found.lower, found.upper

    return truth, draw


def tau(subjects: int, judges: int, noise: float) -> tuple[float, Draw]:
    """Normal grades against the true order; tau is 2 / pi asin(rho)."""
    truth = 2 / math.pi * math.asin(1 / math.sqrt(1 + noise**2))

    def draw(rng: np.random.Generator) -> Interval:
        grades, true = _ranked(subjects, judges, noise, rng)
        found = sf.kendall_w(grades, reference=true.tolist()).tau
        assert found is not None
        return found.lower, found.upper

    return truth, draw


def cgk(readings: int, bias: float) -> tuple[float, Draw]:
    """Normal readings with standard deviation 0.01; 20 % of 0.5, six standard deviations."""
    truth = (0.05 - bias) / 0.03

    def draw(rng: np.random.Generator) -> Interval:
        rule = {"tolerance_width": 0.5, "tolerance_share": 0.2, "sigma_spread": 6}
        found = sf.single_part_study(rng.normal(2.0 + bias, 0.01, readings), unit="mil", reference=2.0, **rule)
        return found.cgk_lower, found.cgk_upper

    return truth, draw


def limit_of_agreement(panels: int) -> tuple[float, Draw]:
    """Normal differences with standard deviation 0.05."""
    truth = 0.02 + 1.959963984540054 * 0.05

    def draw(rng: np.random.Generator) -> Interval:
        base = rng.uniform(1, 5, panels)
        found = sf.compare_gauges(base + rng.normal(0.02, 0.05, panels), base, unit="mil", margin=1.0).agreement_upper
        return found.lower, found.upper

    return truth, draw


CASES: dict[str, tuple[float, Draw]] = {
    "cohen kappa, 30 subjects": cohen(30),
    "cohen kappa, 100 subjects": cohen(100),
    "fleiss kappa, 20 subjects, 3 judgements": fleiss(20, 3),
    "fleiss kappa, 50 subjects, 3 judgements": fleiss(50, 3),
    "fleiss kappa, 50 subjects, 9 judgements": fleiss(50, 9),
    "kendall w, 10 subjects, 3 judges": concordance(10, 3, 0.7),
    "kendall w, 30 subjects, 3 judges": concordance(30, 3, 0.7),
    "kendall w, 30 subjects, 6 judges": concordance(30, 6, 1.0),
    "tau with reference, 10 subjects, 3 judges": tau(10, 3, 0.7),
    "tau with reference, 30 subjects, 3 judges": tau(30, 3, 0.7),
    "cgk, 25 readings, no bias": cgk(25, 0.0),
    "cgk, 25 readings, bias of one sd": cgk(25, 0.01),
    "cgk, 50 readings, bias of one sd": cgk(50, 0.01),
    "limit of agreement, 10 panels": limit_of_agreement(10),
}


def covered(case: str, size: int) -> float:
    """Share of intervals that hold the truth."""
    truth, draw = CASES[case]
    rng = np.random.default_rng(20261127)
    hits = 0
    for _ in range(size):
        lower, upper = draw(rng)
        hits += lower <= truth <= upper
    return hits / size


def main() -> Iterator[dict[str, object]]:
    """One row a case."""
    for case, (truth, _) in CASES.items():
        yield {"case": case, "truth": f"{truth:.6f}", "studies": SIZE, "covered": f"{covered(case, SIZE):.4f}"}


if __name__ == "__main__":
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, ["case", "truth", "studies", "covered"])
        writer.writeheader()
        writer.writerows(main())
