"""Which step makes stated and seen episodes differ: the model, its fit, or months that repeat one another.

Unit averages of the invented shop are drawn from its own numbers, without files: a baseline month, and a hundred quiet months
that are judged by it. Location chart and EWMA, both guns. What is stated of the day effect that is fitted to the baseline stands
beside what is seen, for three shops:

    no batches     the day effect is all that units share: the model is true. Here the true day effect is put in as well
    own batches    offsets drawn anew for each month, as paint comes
    same batches   every month opens batches with the same offsets on the same days; what the center of a baseline is off by
                   is then the same in the month judged by it, and cancels. No fit to one baseline can know that

    python tests/bench/quiet_model.py         # writes the table beside this file
    python tests/bench/quiet_model.py 3       # with so many baselines, prints means
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

import steadyfilm as sf
from steadyfilm._review.alarms import QuietCharts
from steadyfilm._review.noise import Noise, fit_noise
from steadyfilm._review.options import LineRules
from steadyfilm._review.quiet import Standardizer
from steadyfilm._review.series import Level, Usual
from steadyfilm._review.unevenness import Spreads
from steadyfilm.false_alarms import count_side_by_side

sys.path.insert(0, str(Path(__file__).parent))
quiet_months = importlib.import_module("quiet_months")

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
TABLE = Path(__file__).parent / "quiet_model.csv"
BASELINES = 100
MONTHS = 100
RELATIVE_ERROR = 0.03
SHOPS = ("no batches", "own batches", "same batches")
LINES = {"3.6 sigma": (LineRules(), 3.6), "3 sigma": (LineRules(), 3.0), "zones": (LineRules(points=sf.WESTERN_ELECTRIC), 3.0)}
NO_SPREADS = Spreads(np.empty(0), np.empty(0), np.nan, 0, 0)


@dataclass(frozen=True)
class Row:
    """Episodes of a month, mean of both guns: stated from one baseline, and seen in months judged by it."""

    baseline: int
    layer: str
    shop: str
    day_effect: str
    """``true`` or ``fitted``."""
    lines: str
    stated: float
    seen: float


def layout(seed: int) -> tuple[Usual, Codes, int]:
    """Usual levels, working day and number of baseline units, of a baseline and the quiet month after it."""
    shop = quiet_months.demo()
    plan_units = importlib.import_module(f"{shop.__name__}.units").plan_units
    parts = [plan_units(shop.SHOP, seed=seed, month=month) for month in ("baseline", "quiet")]
    units = [unit for part in parts for unit in part]
    day = [unit.day - 1 + k * shop.SHOP.days for k, part in enumerate(parts) for unit in part]
    columns, levels = [np.ones(len(units))], []
    for name in ("gun", "painter", "substrate"):
        labels = np.array([getattr(unit, name) for unit in units])
        for k, value in enumerate(sorted(set(labels))):
            columns += [(labels == value).astype(np.float64)] if k else []
            levels.append(Level(name, str(value), labels == value, new=False))
    guns = np.array([unit.gun for unit in units], dtype=object)
    return Usual(np.column_stack(columns), tuple(levels), np.empty((0, 0)), guns), np.array(day, dtype=np.intp), len(parts[0])


def sigma_of_units(layer: Any, shop: Any) -> float:
    """Of averages about their day: the unit, its places, repeats of the one or two readings that the layer is made of."""
    places = len(shop.locations)
    readings = 1 if layer.reading == layer.name else 2
    repeat = readings * layer.repeat_sd**2 / (places * shop.repeats)
    return float(np.sqrt(layer.unit_sd**2 + layer.unit_location_sd**2 / places + repeat))


def true_months(layer: Any, days: int, kind: str, series: int, rng: np.random.Generator) -> Floats:
    """What the units of a day share in one month, shape (days, series)."""
    effect = rng.standard_normal((days, series))
    for i in range(1, days):
        effect[i] = layer.day_phi * effect[i - 1] + np.sqrt(1.0 - layer.day_phi**2) * effect[i]
    effect *= layer.day_sd
    opened = np.searchsorted([batch.day for batch in layer.batches], np.arange(1, days + 1), side="right") - 1
    offsets = np.array([batch.offset for batch in layer.batches])
    if kind == "own batches":
        effect += rng.normal(0.0, offsets.std(ddof=1), (len(offsets), series))[opened]
    elif kind == "same batches":
        effect += offsets[opened][:, None]
    return np.asarray(effect)


def known(layer: Any, sigma: float) -> Noise:
    """The true day effect as if it were fitted."""
    one, ratio = np.ones(1), layer.day_sd / sigma
    return Noise(sigma, layer.day_sd, layer.day_phi, 1, one, one, one, one, one, ratio * one, layer.day_phi * one)


def baseline(seed: int) -> list[Row]:
    """All rows of one baseline."""
    shop = quiet_months.demo().SHOP
    usual, day, first = layout(seed)
    standardized = Standardizer(usual, first, {})
    guns = {level.value: level.units[first:] for level in usual.streams}
    rows = []
    for k, layer in enumerate(shop.layers):
        sigma = sigma_of_units(layer, shop)
        for s, kind in enumerate(SHOPS):
            rng = np.random.default_rng([seed, k, s])
            effect = np.concatenate(
                [
                    np.repeat(true_months(layer, shop.days, kind, 1, rng), MONTHS, axis=1),
                    true_months(layer, shop.days, kind, MONTHS, rng),
                ]
            )
            values = effect[day] + sigma * rng.standard_normal((len(day), MONTHS))
            values[:first] = values[:first, :1]
            z = standardized(values)
            length = int(day.max()) + 1
            fit = fit_noise(values[:first, 0], usual.known[:first], day[:first], length=length, draws=1, rng=rng)
            effects = {"fitted": fit} | ({"true": known(layer, sigma)} if kind == SHOPS[0] else {})
            for word, noise in effects.items():
                charts = QuietCharts(
                    usual, noise, day, first, NO_SPREADS, list(guns), LineRules(), seed, relative_error=RELATIVE_ERROR
                )
                for lines, (rules, multiple) in LINES.items():
                    own = charts.under(rules)
                    limits = own.limits(multiple)
                    stated = np.mean([own.cost(multiple, gun).expected for gun in guns])
                    seen = np.mean([count_side_by_side(limits, np.ascontiguousarray(z[at])).mean() for at in guns.values()])
                    rows.append(Row(seed, layer.name, kind, word, lines, round(float(stated), 4), round(float(seen), 4)))
    return rows


def summary(rows: Sequence[Row]) -> Iterator[str]:
    """Means over baselines."""
    yield "| layer | shop | day effect | lines | stated | seen | standard error of seen |"
    yield "|---|---|---|---|---|---|---|"
    for key in dict.fromkeys((x.layer, x.shop, x.day_effect, x.lines) for x in rows):
        own = [x for x in rows if (x.layer, x.shop, x.day_effect, x.lines) == key]
        stated, seen = np.mean([x.stated for x in own]), np.array([x.seen for x in own])
        error = seen.std(ddof=1) / np.sqrt(len(own))
        yield f"| {' | '.join(key)} | {stated:.3f} | {seen.mean():.3f} | {error:.3f} |"


def main() -> None:
    """Compute, print, and write if all."""
    given = [int(word) for word in sys.argv[1:]]
    with ProcessPoolExecutor() as pool:
        rows = [row for found in pool.map(baseline, range(1, (given or [BASELINES])[0] + 1)) for row in found]
    if not given:
        quiet_months.write(TABLE, rows)
    sys.stdout.write("\n".join(summary(rows)) + "\n")


if __name__ == "__main__":
    main()
