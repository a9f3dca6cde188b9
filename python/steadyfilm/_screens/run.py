"""All screens for patterns, on the rows that plain faults leave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from steadyfilm._screens.pattern import Screened
from steadyfilm._screens.sheet import Codes, Sheet
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


def run_patterns(
    sheet: Sheet, rows: Codes, options: PatternOptions
) -> tuple[tuple[Screened, ...], tuple[DataFault, ...], tuple[str, ...]]:
    """Every screen's tests, the units without readings as faults, and notes."""
    return (), (), ()
