"""Figures of fault-free months by simulation, each with its standard error.

Run from the top of the repository: ``python -m datasets.truck_bodies.fault_free`` prints the README's tables for 400 months;
an argument gives another number of them.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from .displays import Display
from .film import Floats
from .generate import Month, simulate
from .known import in_mil
from .scenario import SHOP, Scenario
from .variants import variant

FIGURES = {
    "SD of unit averages, mil": 4,
    "coefficient of variation of spots, %": 2,
    "unit averages inside the window, %": 1,
    "spots inside the window, %": 1,
    "units with all spots inside, %": 2,
    "lag-1 correlation of unit averages": 3,
}
"""Figure to the digits shown."""


def spots_of(month: Month, scenario: Scenario) -> dict[str, Floats]:
    """Return the location means of each coat and of the outermost reading, shape (units, locations), mil."""
    shape = (len(month.units), len(scenario.layers), len(scenario.locations), scenario.repeats)
    mil = in_mil(month).reshape(shape).mean(axis=3)
    coats = np.diff(mil, axis=1, prepend=0.0)
    found = {layer.name: coats[:, k] for k, layer in enumerate(scenario.layers)}
    return {**found, scenario.layers[-1].reading: mil[:, -1]}


def figures_of(spots: Floats, window: tuple[float, float]) -> list[float]:
    """Return the figures of one layer of one month, in the order of ``FIGURES``."""
    average = spots.mean(axis=1)
    gap = average - average.mean()
    inside = (spots >= window[0]) & (spots <= window[1])
    return [
        float(average.std(ddof=1)),
        100.0 * float(spots.std(ddof=1) / spots.mean()),
        100.0 * float(np.mean((average >= window[0]) & (average <= window[1]))),
        100.0 * float(inside.mean()),
        100.0 * float(inside.all(axis=1).mean()),
        float(gap[1:] @ gap[:-1] / (gap @ gap)),
    ]


def shops() -> dict[str, Scenario]:
    """Return the shop as it is, with a gauge that does not round, and so without the primer's offset on aluminum."""
    fine = Display(unit="mil", resolution=1e-6)
    gauges = tuple(dataclasses.replace(x, display=dict.fromkeys(x.display, fine)) for x in SHOP.gauges)
    plain = dataclasses.replace(SHOP, gauges=gauges)
    return {
        "as read": SHOP,
        "without rounding": plain,
        "without rounding and without the offset on aluminum": variant(plain, {"layers.primer.substrate": {}}),
    }


def table(scenario: Scenario, seeds: Sequence[int]) -> Mapping[str, tuple[Floats, Floats]]:
    """Return mean and standard error of each layer's figures over quiet months."""
    months: dict[str, list[list[float]]] = {}
    for seed in seeds:
        for name, spots in spots_of(simulate("quiet", seed=seed, scenario=scenario), scenario).items():
            months.setdefault(name, []).append(figures_of(spots, scenario.windows[name]))
    root = len(seeds) ** 0.5
    return {name: (np.mean(x, axis=0), np.std(x, axis=0, ddof=1) / root) for name, x in months.items()}


def lines(seeds: Sequence[int]) -> Iterator[str]:
    """Yield the README's tables."""
    for title, scenario in shops().items():
        # Only the film counts here.
        found = table(dataclasses.replace(scenario, oven=None, washer=None, panels=None, output=None, events=()), seeds)
        yield f"| {title} | {' | '.join(found)} |"
        yield f"|---|{'---|' * len(found)}"
        for k, (figure, digits) in enumerate(FIGURES.items()):
            cells = [f"{mean[k]:.{digits}f} ({error[k]:.{digits}f})" for mean, error in found.values()]
            yield f"| {figure} | {' | '.join(cells)} |"
        yield ""


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    sys.stdout.write("\n".join(lines(range(1, count + 1))))
