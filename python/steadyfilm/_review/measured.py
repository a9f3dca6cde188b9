"""The third answer of a review: what a gauge study that the plan names says of its windows."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from steadyfilm.plan import Plan
    from steadyfilm.review import Review


def with_gauge_study(review: Review, plan: Plan) -> Review:
    """The review with the study's verdict as its measurability, and the study's file among its inputs."""
    if plan.gauge_study is None:
        return review
    from steadyfilm.measurability import judge_planned_study

    found = judge_planned_study(plan)
    return dataclasses.replace(review, measurability=found.sentence(), inputs={**review.inputs, **found.inputs})
