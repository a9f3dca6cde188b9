"""How an oven log is written and screened: its columns, which probes are in the air, and what counts as a fault."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from steadyfilm.errors import InvalidInputError

__all__ = ["CureOptions", "LogColumns", "LogRules", "column_names"]


@dataclass(frozen=True)
class LogColumns:
    """Names of columns.

    ``temperature`` and ``probe`` are for a log with one row a reading; ``probe_columns`` for one with a column a probe. Times
    are local (``time``, or ``date`` and ``time``) or minutes (``minutes``). Without ``bake``, bakes are cut at pauses.
    ``unit_of_measure`` left out is the column of that name if the log has it; an empty name says that there is none.
    """

    bake: str | None = "bake"
    probe: str | None = "probe"
    time: str | None = "time"
    date: str | None = None
    minutes: str | None = None
    temperature: str | None = "temperature"
    unit_of_measure: str | None = None
    probe_columns: tuple[str, ...] = ()
    load_unit: str | None = None
    load_recipe: str | None = "recipe"


def column_names(written: Mapping[str, Any]) -> dict[str, Any]:
    """Names of columns as a plan or a command line writes them: an empty one says that there is no such column.

    >>> column_names({"bake": "", "probe": "sensor", "unit_of_measure": ""})
    {'bake': None, 'probe': 'sensor', 'unit_of_measure': ''}
    """
    return {key: None if name == "" and key != "unit_of_measure" else name for key, name in written.items()}


@dataclass(frozen=True)
class LogRules:
    """What in a log is a fault. All numbers are common practice, no source; each is an option.

    Attributes
    ----------
    gap_medians : float
        An interval longer than so many median intervals.
    longest_interval_min : float
        An interval longer than this, whatever the median: a straight line across it is no observation.
    stuck_readings : int
        More equal readings in a row than this.
    fine_step_k : float
        In a log that shows coarser steps than this, equal readings count only while another probe moves.
    lowest_c, highest_c : float
        Readings beyond are those of an open circuit.
    jump_k_per_min : float
        Faster than a part can follow, over a minute.
    air_lag_min : float
        A part that lags less than this behind the air is the air.
    pause_min : float, optional
        A pause that parts two bakes, for a log without a column of bakes.
    """

    gap_medians: float = 3.0
    longest_interval_min: float = 15.0
    stuck_readings: int = 10
    fine_step_k: float = 0.2
    lowest_c: float = -40.0
    highest_c: float = 400.0
    jump_k_per_min: float = 15.0
    air_lag_min: float = 1.0
    pause_min: float | None = None

    def __post_init__(self) -> None:
        """Refuse numbers that cannot be meant."""
        for name in ("gap_medians", "longest_interval_min", "fine_step_k", "jump_k_per_min", "air_lag_min"):
            if not getattr(self, name) > 0.0:
                raise InvalidInputError(f"{name} must be above 0, got {getattr(self, name)!r}", argument=name)
        if self.stuck_readings < 1:
            raise InvalidInputError(f"stuck_readings must be 1 or more, got {self.stuck_readings!r}", argument="stuck_readings")
        if self.pause_min is not None and not 0.0 < self.pause_min < math.inf:
            raise InvalidInputError(f"pause_min must be above 0, got {self.pause_min!r}", argument="pause_min")
        if not self.lowest_c < self.highest_c:
            raise InvalidInputError("lowest_c must be below highest_c", argument="lowest_c")


@dataclass(frozen=True)
class CureOptions:
    """How a log is read and judged.

    Attributes
    ----------
    unit : str, optional
        ``"C"`` or ``"F"`` for all readings, where no column says it. Nothing is guessed: column or unit must be there.
    air : tuple of str
        Probes in the air; every other one is on a part and is judged.
    places : tuple of str
        Probes on parts that every bake must have; empty: those that any bake has.
    tolerance_k : float, optional
        How far the probes may be off.
    """

    columns: LogColumns = field(default_factory=LogColumns)
    rules: LogRules = field(default_factory=LogRules)
    unit: str | None = None
    air: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    tolerance_k: float | None = None
    slope_window_min: float = 5.0
    dose_role: str = "told"
    unbroken: bool = False
