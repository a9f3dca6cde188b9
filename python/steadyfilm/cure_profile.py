"""Temperature traces of a bake: how long at temperature, how much cure, and whether that can be told from the log.

Times are in minutes. A temperature has two names, ``..._c`` and ``..._f``, of which a call gives one; all come back in C. The
coating maker's data sheet decides what cures a film; these figures only say what a log shows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._cure.recipes import DoseWanted, Recipe, SchedulePoint
from steadyfilm._cure_schedule import OvenLag, ScheduleEnergy
from steadyfilm._cure_schedule import activation_energy_from_schedule as activation_energy_from_schedule
from steadyfilm._cure_schedule import oven_lag as oven_lag
from steadyfilm._cure_schedule import oven_lag_equivalent_time as oven_lag_equivalent_time
from steadyfilm._cure_traces import TimeAbove, TraceProfile
from steadyfilm._cure_verdicts import HoldOwed, PlaceVerdict
from steadyfilm._result import Made, build
from steadyfilm._temperatures import celsius, optional_celsius, trace_arrays
from steadyfilm.errors import InvalidInputError

__all__ = [
    "DoseWanted",
    "EquivalentTime",
    "HoldOwed",
    "OvenLag",
    "PlaceVerdict",
    "Recipe",
    "ScheduleEnergy",
    "SchedulePoint",
    "TimeAbove",
    "TraceProfile",
    "activation_energy_from_schedule",
    "cure_rate_factor",
    "equivalent_time",
    "equivalent_time_trapezoid",
    "hold_owed",
    "judge_place",
    "oven_lag",
    "oven_lag_equivalent_time",
    "probe_tolerance",
    "profile_trace",
    "time_above",
]

Floats = NDArray[np.float64]
States = Sequence[int] | NDArray[np.uint8] | None

SOUND, SUSPECT, LOST = 0, 1, 2
"""What a reading is worth: its figure stands; may stand; means nothing."""


@dataclass(frozen=True)
class TimeAbovePair:
    """Minutes at or above a temperature from what was observed alone, and with gaps and faulty stretches credited."""

    observed: TimeAbove
    credited: TimeAbove
    highest_c: float


@dataclass(frozen=True)
class EquivalentTime:
    """Minutes at the reference temperature that cure as much: from what was observed alone, and with all credited."""

    observed_min: float
    credited_min: float


def probe_tolerance(kind: Literal["J", "K", "T"], temperature_c: float, *, special: bool = False) -> float:
    """Tolerance of a new thermocouple wire in K at a temperature of 0 C or more: ASTM E230's table, seen in three copies.

    Types J and K: 2.2 K or 0.75 % (special 1.1 K or 0.4 %); type T: 1.0 K or 0.75 % (special 0.5 K or 0.4 %), whichever is
    greater. Used wire may have drifted further.

    Examples
    --------
    >>> probe_tolerance("K", 60.0), probe_tolerance("T", 60.0), probe_tolerance("T", 60.0, special=True)
    (2.2, 1.0, 0.5)
    """
    table = {"J": ((2.2, 0.0075), (1.1, 0.004)), "K": ((2.2, 0.0075), (1.1, 0.004)), "T": ((1.0, 0.0075), (0.5, 0.004))}
    if kind not in table:
        raise InvalidInputError(f"kind must be one of {', '.join(table)}, got {kind!r}", argument="kind")
    if not 0.0 <= temperature_c < math.inf:
        raise InvalidInputError(f"temperature_c must be 0 or more, got {temperature_c!r}", argument="temperature_c")
    flat, share = table[kind][special]
    return max(flat, share * temperature_c)


def cure_rate_factor(
    *,
    activation_energy_kj: float,
    temperature_c: float | None = None,
    temperature_f: float | None = None,
    reference_c: float | None = None,
    reference_f: float | None = None,
) -> float:
    """Minutes at the reference that one minute is worth: exp(-(E/R)(1/T - 1/T_ref)), temperatures in K.

    Examples
    --------
    >>> round(cure_rate_factor(temperature_c=50.0, reference_c=60.0, activation_energy_kj=50.0), 4)
    0.572
    """
    temperature = celsius("temperature", temperature_c, temperature_f)
    return _core.cure_rate_factor(temperature, activation_energy_kj, celsius("reference", reference_c, reference_f))


def time_above(
    time_min: Any,
    *,
    temperature_c: Any = None,
    temperature_f: Any = None,
    threshold_c: float | None = None,
    threshold_f: float | None = None,
    state: States = None,
    gap_medians: float = 3.0,
    begin_min: float | None = None,
    end_min: float | None = None,
    threads: int = 1,
) -> TimeAbovePair:
    """Time at or above a temperature, with crossings on the straight line between readings.

    Parameters
    ----------
    time_min : array
        Minutes, strictly ascending.
    temperature_c : array
        The readings.
    threshold_c : float
        A reading within 1e-9 K of it is at it.
    state : array of int, optional
        What each reading is worth: 0 sound, 1 suspect, 2 lost.
    gap_medians : float
        An interval longer than so many median intervals is a gap; ``math.inf``: nothing is.
    begin_min, end_min : float, optional
        The load's first and last minute, where the trace may be shorter; a missing end counts as at temperature when credited.

    Raises
    ------
    InvalidInputError
        Times that do not ascend, lengths that differ, numbers that are not finite.

    Examples
    --------
    >>> log = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}
    >>> round(time_above(**log, threshold_c=60).observed.total_min, 3)
    45.833
    """
    time, temperature, _ = trace_arrays(time_min, temperature_c, temperature_f)
    threshold = celsius("threshold", threshold_c, threshold_f)
    found = _core.time_above(time, temperature, threshold, _states(state), gap_medians, begin_min, end_min, threads)
    return build(TimeAbovePair, found)


def equivalent_time(
    time_min: Any,
    *,
    activation_energy_kj: float,
    temperature_c: Any = None,
    temperature_f: Any = None,
    reference_c: float | None = None,
    reference_f: float | None = None,
    state: States = None,
    gap_medians: float = 3.0,
    begin_min: float | None = None,
    end_min: float | None = None,
    threads: int = 1,
) -> EquivalentTime:
    """Minutes at the reference temperature that cure as much, along straight lines between readings.

    It is exact for a cure whose every rate follows one activation energy; see ``steadyfilm.cure_kinetics``. Parameters as in
    ``time_above``.

    Examples
    --------
    >>> log = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}
    >>> round(equivalent_time(**log, activation_energy_kj=60, reference_c=60).credited_min, 6)
    76.616821
    """
    time, temperature, _ = trace_arrays(time_min, temperature_c, temperature_f)
    reference = celsius("reference", reference_c, reference_f)
    found = _core.equivalent_time(
        time, temperature, activation_energy_kj, reference, _states(state), gap_medians, begin_min, end_min, threads
    )
    return build(EquivalentTime, found)


def equivalent_time_trapezoid(
    time_min: Any,
    *,
    activation_energy_kj: float,
    temperature_c: Any = None,
    temperature_f: Any = None,
    reference_c: float | None = None,
    reference_f: float | None = None,
    sample_min: float | None = None,
    gap_medians: float = 3.0,
) -> EquivalentTime:
    """The dose as the trapezoid of the factor would have it, at the readings or at every ``sample_min``.

    Only to see what coarse logging does: it flatters the cure.

    Examples
    --------
    >>> log = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}
    >>> round(equivalent_time_trapezoid(**log, activation_energy_kj=60, reference_c=60, sample_min=20).credited_min, 3)
    85.163
    """
    time, temperature, _ = trace_arrays(time_min, temperature_c, temperature_f)
    reference = celsius("reference", reference_c, reference_f)
    found = _core.equivalent_time_trapezoid(time, temperature, activation_energy_kj, reference, sample_min, gap_medians)
    return build(EquivalentTime, found)


def profile_trace(
    time_min: Any,
    *,
    temperature_c: Any = None,
    temperature_f: Any = None,
    threshold_c: float | None = None,
    threshold_f: float | None = None,
    activation_energy_kj: float | None = None,
    reference_c: float | None = None,
    reference_f: float | None = None,
    state: States = None,
    gap_medians: float = 3.0,
    begin_min: float | None = None,
    end_min: float | None = None,
    slope_window_min: float = 5.0,
    soak_band_k: float = 3.0,
    tolerance_k: float | None = None,
) -> TraceProfile:
    """All figures of one trace: time above, peak, ramp, soak, dose, and what of it was observed.

    Parameters
    ----------
    activation_energy_kj : float, optional
        For the dose, kJ/mol; without it there is none.
    reference_c : float, optional
        Temperature that the dose refers to; the threshold when left out.
    tolerance_k : float, optional
        How far the probe may be off; gives the range of time above and dose. See ``probe_tolerance``.
    time_min, temperature_c, threshold_c, state, gap_medians, begin_min, end_min
        As in ``time_above``.
    slope_window_min, soak_band_k : float
        Length of the moving slope, and what counts as soak: so far below the peak.

    Examples
    --------
    >>> log = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}
    >>> print(profile_trace(**log, threshold_c=60, activation_energy_kj=60, tolerance_k=1).sentence())
    45.8 min at 60 C or above, peak 65 C at minute 20; as much cure as 76.6 min at 60 C, 71.8 to 81.7 for a probe within 1 K.
    """
    time, temperature, unit = trace_arrays(time_min, temperature_c, temperature_f)
    threshold = celsius("threshold", threshold_c, threshold_f)
    given = optional_celsius("reference", reference_c, reference_f)
    reference = threshold if given is None else given
    if tolerance_k is not None and not 0.0 <= tolerance_k < math.inf:
        raise InvalidInputError(f"tolerance_k must be 0 or more, got {tolerance_k!r}", argument="tolerance_k")
    kinds = _states(state)
    rule = (gap_medians, begin_min, end_min)

    def above(shift: float) -> dict[str, Any]:
        return _core.time_above(time, temperature, threshold - shift, kinds, *rule, 1)

    def dose(shift: float) -> EquivalentTime:
        if activation_energy_kj is None:
            return EquivalentTime(math.nan, math.nan)
        # A probe that reads too low by `shift`: the readings moved up.
        moved = temperature + shift if shift else temperature
        return build(EquivalentTime, _core.equivalent_time(time, moved, activation_energy_kj, reference, kinds, *rule, 1))

    found, own = build(TimeAbovePair, above(0.0)), dose(0.0)
    band = tolerance_k
    low, high = (dose(-band), dose(band)) if band is not None else (EquivalentTime(math.nan, math.nan),) * 2
    credited = found.credited.total_min
    made = Made(
        function="profile_trace",
        unit="C",
        count=len(time),
        options={
            "threshold_c": threshold,
            "activation_energy_kj": activation_energy_kj,
            "reference_c": reference,
            "gap_medians": gap_medians,
            "slope_window_min": slope_window_min,
            "soak_band_k": soak_band_k,
            "tolerance_k": tolerance_k,
            "given_in": unit,
        },
        version=_core.version,
    )
    logging = _core.trace_logging(time, temperature, kinds, *rule)
    shape = _core.trace_shape(time, temperature, slope_window_min, soak_band_k, kinds, gap_medians)
    return build(
        TraceProfile,
        {**logging, **shape},
        made=made,
        above_observed=found.observed,
        above_credited=found.credited,
        observed_share=found.observed.total_min / credited if credited > 0.0 else math.nan,
        equivalent_observed_min=own.observed_min,
        equivalent_credited_min=own.credited_min,
        equivalent_low_min=low.observed_min,
        equivalent_high_min=high.observed_min,
        equivalent_uncertainty_min=(high.observed_min - low.observed_min) / 2.0 / math.sqrt(3.0),
        above_low_min=above(-band)["observed"]["total_min"] if band is not None else math.nan,
        above_high_min=above(band)["observed"]["total_min"] if band is not None else math.nan,
    )


def judge_place(
    time_min: Any,
    *,
    recipe: Recipe,
    temperature_c: Any = None,
    temperature_f: Any = None,
    state: States = None,
    gap_medians: float = 3.0,
    begin_min: float | None = None,
    end_min: float | None = None,
) -> PlaceVerdict:
    """Whether one place had its cure by a recipe: pass, fail, or not demonstrated by this log.

    Parameters as in ``time_above``. The data sheet decides what cures; a pass is no permission to ship.

    Examples
    --------
    >>> recipe = Recipe("example", (SchedulePoint(60.0, 40.0),))
    >>> log = {"time_min": [0, 20, 60, 80], "temperature_c": [25, 65, 65, 35]}
    >>> print(judge_place(**log, recipe=recipe, gap_medians=math.inf).sentence())
    Pass: 45.8 of 40 min at 60 C or above.
    >>> print(judge_place([0, 5, 10, 50, 55], temperature_c=[60, 62, 64, 64, 62], recipe=recipe).sentence())
    Not demonstrated: 15 of 40 min at 60 C or above observed, 55 if all unobserved stretches are credited.
    """
    time, temperature, _ = trace_arrays(time_min, temperature_c, temperature_f)
    found = _core.judge_place(
        time, temperature, *recipe.arguments(), recipe.dose_role, _states(state), gap_medians, begin_min, end_min
    )
    found |= {name: tuple(found[name]) for name in ("observed_min", "credited_min", "points")}
    made = Made("judge_place", "C", len(time), options={"gap_medians": gap_medians}, version=_core.version)
    return build(PlaceVerdict, found, made=made, recipe=recipe)


def hold_owed(
    time_min: Any,
    *,
    recipe: Recipe,
    temperature_c: Any = None,
    temperature_f: Any = None,
    hold_c: float | None = None,
    hold_f: float | None = None,
    state: States = None,
    gap_medians: float = 3.0,
) -> HoldOwed:
    """What is still missing to a recipe after a dip, if the place were held at a temperature from now on.

    Arithmetic only: the data sheet says whether a broken bake may be carried on, the oven's limits stay as they are.

    Examples
    --------
    >>> recipe = Recipe("example", (SchedulePoint(60.0, 60.0),), dose=DoseWanted(60.0, 60.0, 55.0))
    >>> owed = hold_owed([0, 10, 20, 30], temperature_c=[62, 62, 56, 62], recipe=recipe, hold_c=62)
    >>> print(owed.sentence())
    At 62 C, 43.3 min are missing to 60 min at 60 C; to the dose, 26.5 min. The data sheet decides whether a broken bake may
    be carried on.
    """
    time, temperature, _ = trace_arrays(time_min, temperature_c, temperature_f)
    hold = celsius("hold", hold_c, hold_f)
    found = _core.hold_owed(time, temperature, *recipe.arguments(), hold, _states(state), gap_medians)
    found["schedule_min"] = tuple(found["schedule_min"])
    have = tuple(
        point.minutes - owed if math.isfinite(owed) else math.nan
        for point, owed in zip(recipe.schedule, found["schedule_min"], strict=True)
    )
    made = Made("hold_owed", "C", len(time), options={"hold_c": hold, "gap_medians": gap_medians}, version=_core.version)
    return build(HoldOwed, found, made=made, recipe=recipe, have_min=have)


def _states(given: States) -> NDArray[np.uint8]:
    return np.ascontiguousarray([] if given is None else given, dtype=np.uint8)
