"""Coverage of the likelihood interval of the standard deviation of rounded readings; writes rounded_coverage.csv.

Normal readings, their mean anywhere between two displayed values, rounded to whole steps. A sample of one value or two neighbors
has an interval from 0 to its upper limit, and counts.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path

import numpy as np

import steadyfilm as sf

STUDIES = 1000


def row(sigma: float, count: int, seed: int) -> dict[str, object]:
    """One line of the table."""
    rng = np.random.default_rng(seed)
    covered, limits, spreads, plain = 0, 0, [], []
    for _ in range(STUDIES):
        found = sf.fit_rounded(np.round(rng.normal(rng.uniform(), sigma, count)), unit="", step=1.0)
        covered += found.sd_lower <= sigma <= found.sd_upper
        limits += found.only_an_upper_limit
        spreads.append(found.sd_unbiased)
        plain.append(found.sd_of_readings)
    return {
        "sigma_in_steps": sigma,
        "count": count,
        "studies": STUDIES,
        "coverage": round(covered / STUDIES, 3),
        "only_an_upper_limit": round(limits / STUDIES, 3),
        "mean_sd": round(float(np.mean(spreads)), 3),
        "mean_sd_of_readings": round(float(np.mean(plain)), 3),
    }


def main() -> None:
    """Every line, then the file."""
    rows = [row(sigma, count, 1000 * count + round(100 * sigma)) for sigma in (0.3, 0.5, 1.0, 2.0) for count in (10, 30, 100)]
    path = Path(__file__).with_suffix(".csv")
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    sys.stdout.write(path.read_text(encoding="utf-8"))


if __name__ == "__main__":
    main()
