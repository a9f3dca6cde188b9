"""Write rows/data/mixed-shop.csv: invented readings of painted bodies with gaps, for mixed models (mixed_shop.R).

Days, bodies in days, painters crossed with days, places (fixed) and the age of the paint in hours (a covariate). Film in mil.
"""

from __future__ import annotations

import csv
import random

from common import ROWS

PATTERN = {1: 0.0, 2: 0.06, 3: -0.04, 4: 0.10}


def main() -> None:
    chance = random.Random(20)
    painter_effect = {painter: chance.gauss(0.0, 0.05) for painter in range(1, 6)}
    body = 0
    with (ROWS / "data" / "mixed-shop.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["values", "day", "body", "painter", "place", "age"])
        for day in range(1, 10):
            day_effect = chance.gauss(0.0, 0.06)
            for _ in range(chance.randint(2, 6)):
                body += 1
                body_effect = chance.gauss(0.0, 0.09)
                painter = chance.randint(1, 5)
                age = round(chance.uniform(0.5, 8.0), 1)
                for place, pattern in PATTERN.items():
                    for _ in range(chance.choice((0, 1, 1, 2))):
                        film = 2.1 + day_effect + body_effect + painter_effect[painter] + pattern + 0.01 * age
                        film += chance.gauss(0.0, 0.05)
                        out.writerow([f"{film:.3f}", day, body, painter, place, age])


if __name__ == "__main__":
    main()
