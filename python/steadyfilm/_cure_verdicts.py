"""Whether a place had its cure, and what is still owed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from steadyfilm._cure.recipes import Recipe
from steadyfilm._cure_traces import SOURCES
from steadyfilm._format import fixed, number
from steadyfilm._result import Explanation, Result, Step

__all__ = ["DOSE_ROLES", "HoldOwed", "PlaceVerdict", "minutes_text"]

DOSE_ROLES = {
    "told": "a second line that never changes the verdict",
    "enough": "a dose that is met is as good as a schedule point (the recipe says so)",
    "needed": "must be met as well (the recipe says so)",
}


@dataclass(frozen=True, eq=False, repr=False)
class PlaceVerdict(Result):
    """Whether one place had its cure. States are ``"pass"``, ``"not demonstrated"`` and ``"fail"``.

    ``state`` is that of schedule, maximum and upper curve (and of the dose only where the recipe says so). ``observed_min`` and
    ``credited_min`` hold the minutes at or above the temperature of each schedule point; ``nearest`` is the point to tell.
    ``overbake_c`` is where the largest share of what the upper curve allows was used; NaN without a curve.
    """

    state: str
    schedule: str
    maximum: str
    dose: str
    observed_min: tuple[float, ...]
    credited_min: tuple[float, ...]
    points: tuple[str, ...]
    nearest: int
    dose_observed_min: float
    dose_credited_min: float
    highest_c: float
    recipe: Recipe
    overbake: str
    overbake_c: float
    overbake_allowed_min: float
    overbake_observed_min: float
    overbake_credited_min: float

    def sentence(self) -> str:
        text = f"{self.state[0].upper()}{self.state[1:]}: {self.schedule_words()}"
        if self.recipe.dose is not None:
            text += f"; {self.dose_words()}"
        if self.maximum != "pass" and self.recipe.maximum_c is not None:
            kind = "a reading" if self.maximum == "fail" else "a doubtful reading"
            text += f"; {kind} above the maximum of {number(self.recipe.maximum_c)} C"
        if self.overbake != "pass":
            text += f"; {self.overbake_words()}"
        return text + "."

    def overbake_words(self) -> str:
        """Time against the upper curve where most of it was used."""
        allowed = number(self.overbake_allowed_min, 3)
        where = f"at {number(self.overbake_c, 4)} C or above, at most {allowed} allowed"
        if self.overbake == "fail":
            return f"over-baked: {minutes_text(self.overbake_observed_min, self.overbake_allowed_min)} min {where}"
        if self.overbake == "pass":
            return f"not over-baked: {minutes_text(self.overbake_credited_min, self.overbake_allowed_min)} min {where}"
        credited = minutes_text(self.overbake_credited_min, self.overbake_allowed_min)
        return f"over-baked if all unobserved stretches are credited: {credited} min {where}"

    def schedule_words(self) -> str:
        """The schedule point nearest to being met, in minutes."""
        point = self.recipe.schedule[self.nearest]
        text = f"{minutes_text(self.observed_min[self.nearest], point.minutes)} of {number(point.minutes)} min"
        text += f" at {number(point.temperature_c)} C or above"
        if self.points[self.nearest] == "not demonstrated":
            credited = minutes_text(self.credited_min[self.nearest], point.minutes)
            text += f" observed, {credited} if all unobserved stretches are credited"
        return text

    def dose_words(self) -> str:
        """The dose against what is wanted."""
        wanted = self.recipe.dose
        assert wanted is not None  # only asked where there is one
        word = {"pass": "met", "fail": "missed", "not demonstrated": "not demonstrated"}[self.dose]
        have = minutes_text(self.dose_observed_min if self.dose == "pass" else self.dose_credited_min, wanted.minutes)
        if self.dose == "not demonstrated":
            have = f"{minutes_text(self.dose_observed_min, wanted.minutes)} observed, {have} credited"
        return f"dose {word}: {have} of {number(wanted.minutes)} min at {number(wanted.reference_c)} C"

    def _columns(self) -> dict[str, Any]:
        points = self.recipe.schedule
        return {
            "temperature_c": np.array([point.temperature_c for point in points]),
            "wanted_min": np.array([point.minutes for point in points]),
            "observed_min": np.array(self.observed_min),
            "credited_min": np.array(self.credited_min),
            "state": list(self.points),
        }

    def explain(self) -> Explanation:
        point = self.recipe.schedule[self.nearest]
        have = self.observed_min[self.nearest]
        steps = [Step("share_observed", "have / wanted", {"have": have, "wanted": point.minutes}, have / point.minutes)]
        if self.recipe.overbake:
            used = {"had": self.overbake_observed_min, "allowed": self.overbake_allowed_min}
            steps.append(Step("overbake_share", "had / allowed", used, used["had"] / used["allowed"]))
        steps.append(Step("dose_observed_min", "observed", {"observed": self.dose_observed_min}, self.dose_observed_min))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "pass": "some schedule point is met with no gap or faulty stretch credited",
                "fail": "none is met with all of them credited",
                "maximum": "fail on a sound reading above it, not demonstrated on a doubtful one",
                "upper curve": "fail on more minutes observed than it allows, not demonstrated on more only when credited"
                if self.recipe.overbake
                else "none in the recipe",
                "dose": DOSE_ROLES[self.recipe.dose_role],
                "time that counts": "the longest unbroken run" if self.recipe.unbroken else "all time at temperature",
                "comparison": "minutes with a relative slack of 1e-9, temperatures with 1e-9 K",
            },
            sources=SOURCES,
        )


@dataclass(frozen=True, eq=False, repr=False)
class HoldOwed(Result):
    """Minutes still missing if the place is held at a temperature from the last reading on.

    ``schedule_min`` has one element a schedule point, infinite where the hold is below its temperature. It is arithmetic, no
    instruction: the data sheet says whether a broken bake may be carried on at all.
    """

    schedule_min: tuple[float, ...]
    least_schedule_min: float
    dose_min: float
    above_maximum: bool
    recipe: Recipe
    have_min: tuple[float, ...]

    @property
    def short_of_k(self) -> float:
        """How far the hold lies below the lowest schedule point; 0 at or above it."""
        return max(0.0, min(point.temperature_c for point in self.recipe.schedule) - float(self.made.options["hold_c"]))

    def sentence(self) -> str:
        hold = number(self.made.options["hold_c"])
        if math.isinf(self.least_schedule_min):
            text = f"No time at {hold} C completes the schedule: it is below every point"
        elif self.least_schedule_min == 0.0:
            text = "Nothing is owed: a schedule point is met"
        else:
            k = int(np.argmin(self.schedule_min))
            point = self.recipe.schedule[k]
            text = (
                f"At {hold} C, {fixed(self.least_schedule_min, 1)} min are missing to {number(point.minutes)} min "
                f"at {number(point.temperature_c)} C"
            )
        if math.isfinite(self.dose_min):
            text += f"; to the dose, {fixed(self.dose_min, 1)} min"
        if self.above_maximum:
            text += "; the hold itself is above the maximum"
        return text + ". The data sheet decides whether a broken bake may be carried on."

    def _columns(self) -> dict[str, Any]:
        points = self.recipe.schedule
        return {
            "temperature_c": np.array([point.temperature_c for point in points]),
            "wanted_min": np.array([point.minutes for point in points]),
            "owed_min": np.array(self.schedule_min),
        }

    def explain(self) -> Explanation:
        k = int(np.argmin(self.schedule_min))
        steps = []
        if math.isfinite(self.least_schedule_min):
            inputs = {"wanted": self.recipe.schedule[k].minutes, "have": self.have_min[k]}
            steps.append(Step("least_schedule_min", "max(0, wanted - have)", inputs, self.least_schedule_min))
        else:
            lowest = {"lowest": min(point.temperature_c for point in self.recipe.schedule), "hold": self.made.options["hold_c"]}
            steps.append(Step("short_of_k", "max(0, lowest - hold)", lowest, self.short_of_k))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "what counts": "time at temperature that was observed",
                "dose": "what is missing over the factor at the hold temperature",
            },
            sources=SOURCES,
        )


def minutes_text(have: float, wanted: float) -> str:
    """Minutes to one decimal, or with as many as show on which side of what is wanted they lie.

    >>> minutes_text(68.31, 60.0), minutes_text(59.98, 60.0), minutes_text(0.0, 60.0)
    ('68.3', '59.98', '0')
    """
    if not math.isfinite(have):
        return str(have)
    if abs(have - wanted) <= 1e-9 * wanted:
        return number(wanted)
    for decimals in range(1, 12):
        text = f"{have:.{decimals}f}"
        if (float(text) < wanted) == (have < wanted) and float(text) != wanted:
            break
    return text.rstrip("0").rstrip(".")
