"""All screens for patterns, on the rows that plain faults leave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyfilm._screens.absent import absent_units
from steadyfilm._screens.digits import last_digits
from steadyfilm._screens.extra import extra_readings
from steadyfilm._screens.pattern import Screened, pools
from steadyfilm._screens.pile_up import pile_up
from steadyfilm._screens.repeats import alike_repeats, find_spots
from steadyfilm._screens.sheet import Codes, Sheet, find_grids
from steadyfilm._screens.words import DataFault
from steadyfilm.limits import SpecLimits


@dataclass(frozen=True)
class PatternOptions:
    """What the screens are told."""

    limits: Mapping[str, SpecLimits]
    resolution: float | Mapping[str, float] | None
    repeat_sd: Mapping[str, float]
    planned_repeats: int | None
    usual: Sheet | None
    processed: Any
    running_numbers: bool


def run_patterns(sheet: Sheet, rows: Codes, options: PatternOptions) -> tuple[tuple[Screened, ...], tuple[DataFault, ...]]:
    """Every screen's tests, and the units without readings as faults."""
    grids, grid = find_grids(sheet, options.resolution)
    pooled = pools(sheet, rows, grids, grid)
    usual = None
    if options.usual is not None:
        of = options.usual
        usual = find_spots(of, np.flatnonzero(of.usable), *find_grids(of, options.resolution))
    absent, listed = absent_units(sheet, options.processed, options.running_numbers)
    screened = (
        pile_up(sheet, pooled, options.limits),
        extra_readings(sheet, rows, options.limits, options.planned_repeats),
        alike_repeats(sheet, find_spots(sheet, rows, grids, grid), usual, options.repeat_sd),
        absent,
        last_digits(sheet, pooled),
    )
    return screened, listed
