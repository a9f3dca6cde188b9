"""Film acceptance: readings make spots, spots areas, areas units, and a rule given as data says which units pass.

Verdicts work on the numbers they are given. They do not replace the technical and safety data sheets of the coating's maker,
local codes or the judgment of licensed professionals. A pass is no permission to ship; a thin film is no reason to spray more
before the data sheet and the design of booth and oven have been asked.
"""

from __future__ import annotations

from collections.abc import Sequence

from steadyfilm import _core
from steadyfilm._acceptance import (
    Acceptance,
    DiscardedReading,
    UnitAreas,
    UnitSpots,
    accept_film,
    roughness_correction,
)
from steadyfilm._acceptance_checks import AccuracyCheck, accuracy_checks, suspect_readings
from steadyfilm._acceptance_plans import (
    DirectionState,
    ExtentSearch,
    FilmSpread,
    PlanCurve,
    acceptance_curve,
    average_acceptance_probability,
    below_share_probability,
    film_spread,
    search_extent,
)
from steadyfilm._acceptance_rules import (
    AcceptanceRule,
    CountTable,
    RuleFact,
    Shares,
    area_rule,
    house_rule,
    ninety_ten_rule,
    rough_steel_rule,
)
from steadyfilm._lengths import in_one_unit
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = [
    "Acceptance",
    "AcceptanceRule",
    "AccuracyCheck",
    "CountTable",
    "DirectionState",
    "DiscardedReading",
    "ExtentSearch",
    "FilmSpread",
    "PlanCurve",
    "RuleFact",
    "Shares",
    "UnitAreas",
    "UnitSpots",
    "accept_film",
    "acceptance_curve",
    "accuracy_checks",
    "area_rule",
    "average_acceptance_probability",
    "below_share_probability",
    "film_spread",
    "house_rule",
    "limit_met",
    "ninety_ten_rule",
    "rough_steel_rule",
    "roughness_correction",
    "search_extent",
    "single_value_window",
    "spot_mean",
    "suspect_readings",
]


def limit_met(readings: Sequence[float], limit: float, *, side: str) -> bool:
    """Whether the mean of readings meets a limit; within 1e-9 (relative) of it is on it.

    Parameters
    ----------
    readings : sequence of float
    limit : float
        In the same unit.
    side : {"lower", "upper"}
        A lower limit wants at least it, an upper one at most it.

    Examples
    --------
    >>> 0.88 >= 0.8 * 1.1, limit_met([0.88, 0.88, 0.88], 0.8 * 1.1, side="lower")
    (False, True)
    """
    if side not in ("lower", "upper"):
        raise InvalidInputError(f"side must be 'lower' or 'upper', got {side!r}", argument="side")
    return _core.limit_met([float(x) for x in readings], limit, side == "lower")


def spot_mean(readings: Sequence[float], *, dropped: Sequence[int] = ()) -> float:
    """Mean of a spot without the readings dropped; those are numbered from 1. Report both means, and why one was dropped.

    Examples
    --------
    >>> round(spot_mean([2.1, 2.1, 3.9]), 2), round(spot_mean([2.1, 2.1, 3.9], dropped=[3]), 2)
    (2.7, 2.1)
    """
    if any(number < 1 for number in dropped):
        raise InvalidInputError(f"dropped counts readings from 1, got {list(dropped)}", argument="dropped")
    return _core.spot_mean([float(x) for x in readings], [int(number) - 1 for number in dropped])


def single_value_window(rule: AcceptanceRule, *, nominal_um: float | None = None, nominal_mil: float | None = None) -> SpecLimits:
    """The window that a rule makes of a single value in a contract, in the value's unit.

    Examples
    --------
    >>> window = single_value_window(area_rule(), nominal_mil=2.0)
    >>> round(window.lower, 3), round(window.upper, 3), single_value_window(rough_steel_rule(), nominal_um=80.0).upper
    (1.6, 2.4, None)
    """
    _, given = in_one_unit(("nominal",), nominal=(nominal_um, nominal_mil))
    return SpecLimits(**_core.single_value_window(given["nominal"], rule.single_value_share))
