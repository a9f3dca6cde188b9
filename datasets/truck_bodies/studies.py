"""The two gauge studies of the invented shop: marked places on painted panels, three inspectors, three readings each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .film import Floats
from .readings import display_of, show
from .scenario import Scenario
from .streams import Purpose, stream
from .tables import Table, digits, from_rows


@dataclass(frozen=True)
class Studied:
    """One study as simulated."""

    values: Floats
    """As the gauge displays them, shape (parts, appraisers, trials)."""
    bias: Mapping[str, float]
    """What each appraiser reads too much, mil; none for readings that are given."""


def study(scenario: Scenario, number: int, *, seed: int) -> Studied:
    """Return the readings of one of the scenario's studies."""
    plan = scenario.studies[number]
    display = plan.display or display_of(scenario, plan.gauge, plan.substrate)
    if plan.given is not None:
        return Studied(show(np.array(plan.given, dtype=np.float64), display), {})
    draw = stream(seed, "baseline", Purpose.STUDY, number)
    bias = plan.appraiser_sd * draw.standard_normal(len(plan.appraisers))
    noise = plan.repeat_sd * draw.standard_normal((len(plan.parts), bias.size, plan.trials))
    mil = np.array(plan.parts)[:, None, None] + bias[:, None] + noise
    return Studied(show(mil, display), dict(zip(plan.appraisers, bias.tolist(), strict=True)))


def log_studies(scenario: Scenario, *, seed: int) -> Table:
    """Return the file of all studies, one row a reading."""
    rows = []
    for number, plan in enumerate(scenario.studies):
        display = plan.display or display_of(scenario, plan.gauge, plan.substrate)
        values = study(scenario, number, seed=seed).values
        for part, appraiser, trial in np.ndindex(*values.shape):
            named = (plan.gauge, plan.substrate, part + 1, plan.appraisers[appraiser], trial + 1)
            rows.append((*named, values[part, appraiser, trial], display.unit, digits(display.resolution)))
    return Table(from_rows(_COLUMNS, rows), {"value": np.array([row[-1] for row in rows], dtype=np.int64)})


_COLUMNS = {
    "gauge": "object",
    "substrate": "object",
    "part": "int64",
    "appraiser": "object",
    "trial": "int64",
    "value": "float64",
    "unit_of_measure": "object",
}
