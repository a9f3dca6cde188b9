"""What the sums of a wash tank give back: a titration, an addition, a coating weight."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from steadyfilm._format import alike, fixed, number, with_unit
from steadyfilm._result import Explanation, Result, Step

__all__ = ["CARE", "FT2", "PAGE", "Addition", "CoatingWeight", "Titration"]

PAGE = "cpp/methods/wash_tank.md"
CARE = "arithmetic only; what may be added, how, and with what protection, says the product's data sheet"
FT2 = 0.09290304
"""Square meters: 1 ft is 0.3048 m exactly."""


@dataclass(frozen=True, eq=False, repr=False)
class Titration(Result):
    """A concentration by titration, percent.

    Against a working band ``state`` is ``inside``, ``outside`` or ``doubtful`` (a limit is within reach); empty without one.
    """

    percent: float
    standard_uncertainty: float
    titrant_ml: float
    percent_per_ml: float
    state: str

    def sentence(self) -> str:
        known = f" ± {number(2 * self.standard_uncertainty, 2)} %" if self.standard_uncertainty > 0 else ""
        text = f"{number(self.titrant_ml)} mL of titrant make {number(self.percent, 4)} %{known}"
        if not self.state:
            return text + "."
        low, high = alike(self.made.options["lower"], self.made.options["upper"])
        said = {"inside": "inside", "outside": "outside", "doubtful": "too near a limit to tell whether it is inside"}[self.state]
        return f"{text}: {said} the band of {low} to {high} %."

    def _columns(self) -> dict[str, Any]:
        return {"statistic": ["percent", "standard_uncertainty"], "value": [self.percent, self.standard_uncertainty]}

    def explain(self) -> Explanation:
        inputs = {"titrant_ml": self.titrant_ml, "percent_per_ml": self.percent_per_ml}
        known = {"reading_uncertainty": float(self.made.options["reading_uncertainty"]), "percent_per_ml": self.percent_per_ml}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("percent", "titrant_ml * percent_per_ml", inputs, self.percent),
                Step("standard_uncertainty", "reading_uncertainty * percent_per_ml", known, self.standard_uncertainty),
            ),
            choices={
                "band": "doubtful within two standard uncertainties of a limit",
                "factor": "of the product and its sample, given",
            },
            sources=(PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class Addition(Result):
    """Concentrate that lifts a tank to a concentration, in the unit of its volume.

    ``exact`` counts that as much of the old bath runs over as is poured in; ``growing`` that nothing runs over and the bath
    grows; ``simple`` counts neither.
    """

    simple: float
    exact: float
    growing: float
    tank_volume: float
    from_percent: float
    to_percent: float

    def sentence(self) -> str:
        unit = self.made.unit
        low, high = alike(self.from_percent, self.to_percent)
        tank = with_unit(self.tank_volume, unit)
        if self.exact == 0.0:
            return f"{tank} stand at {high} % already: nothing to add."
        simple = (
            "" if math.isclose(self.simple, self.exact, rel_tol=1e-3) else f" ({number(self.simple, 4)} without displacement)"
        )
        return f"{with_unit(self.exact, unit)}{simple} of concentrate lift {tank} from {low} to {high} %."

    def _columns(self) -> dict[str, Any]:
        return {"way": ["simple", "exact", "growing"], f"volume_{self.made.unit}": [self.simple, self.exact, self.growing]}

    def explain(self) -> Explanation:
        inputs = {"tank_volume": self.tank_volume, "from_percent": self.from_percent, "to_percent": self.to_percent}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("simple", "tank_volume * (to_percent - from_percent) / 100", inputs, self.simple),
                Step("exact", "tank_volume * (to_percent - from_percent) / (100 - from_percent)", inputs, self.exact),
                Step("growing", "tank_volume * (to_percent - from_percent) / (100 - to_percent)", inputs, self.growing),
            ),
            choices={"care": CARE},
            sources=(PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class CoatingWeight(Result):
    """Weight of a coating by weighing, stripping and weighing again; ``error_...`` is what the balance makes of it."""

    mg_per_ft2: float
    g_per_m2: float
    error_mg_per_ft2: float
    error_g_per_m2: float
    loss_mg: float
    area_m2: float

    def sentence(self) -> str:
        decimals = 1 if self.error_mg_per_ft2 >= 0.1 else 2
        error = f" ± {fixed(self.error_mg_per_ft2, 2)}" if self.error_mg_per_ft2 > 0 else ""
        return f"The coating weighs {fixed(self.mg_per_ft2, decimals)} mg/ft2{error} ({number(self.g_per_m2, 4)} g/m2)."

    def _columns(self) -> dict[str, Any]:
        return {
            "unit": ["mg/ft2", "g/m2"],
            "weight": [self.mg_per_ft2, self.g_per_m2],
            "error": [self.error_mg_per_ft2, self.error_g_per_m2],
        }

    def explain(self) -> Explanation:
        inputs = {"loss_mg": self.loss_mg, "area_m2": self.area_m2}
        balance = {
            "balance_mg": float(self.made.options["balance_mg"]),
            "weighings": float(self.made.options["weighings"]),
            "area_m2": self.area_m2,
        }
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("g_per_m2", "loss_mg / 1000 / area_m2", inputs, self.g_per_m2),
                Step("mg_per_ft2", f"loss_mg / (area_m2 / {FT2})", inputs, self.mg_per_ft2),
                Step("error_mg_per_ft2", f"balance_mg * sqrt(weighings) / (area_m2 / {FT2})", balance, self.error_mg_per_ft2),
            ),
            choices={"stripping": "laboratory work with its own protection", "area": "of all sides that were coated"},
            sources=(PAGE,),
        )
