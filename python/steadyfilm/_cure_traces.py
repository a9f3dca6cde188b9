"""What a trace shows: all its figures, observed and credited."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import fixed, number
from steadyfilm._result import Explanation, Result, Step

__all__ = ["SOURCES", "TimeAbove", "TraceProfile"]

Floats = NDArray[np.float64]

SOURCES = (
    "NIST Digital Library of Mathematical Functions, 6.6.2 and 6.9.1 (exponential integral)",
    "reduced-time approach to curing kinetics (title and abstract seen)",
    "cpp/methods/cure_profile.md",
)


@dataclass(frozen=True)
class TimeAbove:
    """Minutes at or above a temperature.

    ``excursions`` counts unbroken runs: how often the place came up to the temperature.
    """

    total_min: float
    longest_min: float
    excursions: int


@dataclass(frozen=True, eq=False, repr=False)
class TraceProfile(Result):
    """All figures of one trace. Times are min, temperatures C, slopes C/min; NaN where a figure cannot be given.

    Attributes
    ----------
    above_observed, above_credited : TimeAbove
        Time at or above the threshold.
    observed_share : float
        Part of the credited time above that was observed rather than bridged; NaN without time above.
    equivalent_observed_min, equivalent_credited_min : float
        Minutes at the reference that cure as much.
    equivalent_low_min, equivalent_high_min : float
        The observed figure if the probe reads too high, or too low, by its whole tolerance.
    above_low_min, above_high_min : float
        Time above for the same.
    equivalent_uncertainty_min : float
        Standard uncertainty for a tolerance whose every value is equally likely: half the range over root 3.
    steepest_c_per_min : float
        Largest least-squares slope over the moving window.
    soak_min, soak_mean_c : float
        Longest stretch within the band below the peak, and the mean there.
    """

    above_observed: TimeAbove
    above_credited: TimeAbove
    observed_share: float
    equivalent_observed_min: float
    equivalent_credited_min: float
    equivalent_low_min: float
    equivalent_high_min: float
    equivalent_uncertainty_min: float
    above_low_min: float
    above_high_min: float
    peak_c: float
    peak_at_min: float
    lowest_c: float
    suspect_peak_c: float
    steepest_c_per_min: float
    steepest_from_min: float
    steepest_to_min: float
    soak_min: float
    soak_mean_c: float
    median_interval_min: float
    gap_limit_min: float
    unobserved_min: float
    duration_min: float
    unobserved_from_min: Floats
    unobserved_to_min: Floats
    unobserved_open: NDArray[np.uint8]

    @property
    def time_above_min(self) -> float:
        """All observed time at or above the threshold."""
        return self.above_observed.total_min

    def sentence(self) -> str:
        options = self.made.options
        text = f"{fixed(self.above_observed.total_min, 1)} min at {number(options['threshold_c'])} C or above"
        if self.above_credited.total_min > self.above_observed.total_min + 0.05:
            text += f" ({fixed(self.above_credited.total_min, 1)} if all unobserved stretches are credited)"
        if math.isfinite(self.peak_c):
            text += f", peak {number(self.peak_c, 4)} C at minute {number(self.peak_at_min, 4)}"
        if math.isfinite(self.equivalent_observed_min):
            text += f"; as much cure as {fixed(self.equivalent_observed_min, 1)} min at {number(options['reference_c'])} C"
            if options["tolerance_k"]:
                text += (
                    f", {fixed(self.equivalent_low_min, 1)} to {fixed(self.equivalent_high_min, 1)} "
                    f"for a probe within {number(options['tolerance_k'])} K"
                )
        return text + "."

    def _columns(self) -> dict[str, Any]:
        rows: list[tuple[str, float, float, str]] = [
            ("time above", self.above_observed.total_min, self.above_credited.total_min, "min"),
            ("longest run above", self.above_observed.longest_min, self.above_credited.longest_min, "min"),
            ("runs above", self.above_observed.excursions, self.above_credited.excursions, ""),
            ("equivalent time", self.equivalent_observed_min, self.equivalent_credited_min, "min"),
            ("peak", self.peak_c, math.nan, "C"),
            ("peak at", self.peak_at_min, math.nan, "min"),
            ("steepest slope", self.steepest_c_per_min, math.nan, "C/min"),
            ("soak", self.soak_min, math.nan, "min"),
            ("mean of the soak", self.soak_mean_c, math.nan, "C"),
            ("not observed", self.unobserved_min, math.nan, "min"),
        ]
        return {
            "figure": [row[0] for row in rows],
            "observed": np.array([row[1] for row in rows], dtype=float),
            "all credited": np.array([row[2] for row in rows], dtype=float),
            "unit": [row[3] for row in rows],
        }

    def explain(self) -> Explanation:
        options = self.made.options
        above = {"observed": self.above_observed.total_min, "credited": self.above_credited.total_min}
        steps = []
        if self.above_credited.total_min > 0.0:
            steps.append(Step("observed_share", "observed / credited", above, self.observed_share))
        limits = {"gap_medians": float(options["gap_medians"]), "median_interval": self.median_interval_min}
        if math.isfinite(self.gap_limit_min):
            steps.append(Step("gap_limit_min", "gap_medians * median_interval", limits, self.gap_limit_min))
        if math.isfinite(self.equivalent_uncertainty_min):
            range_ = {"high": self.equivalent_high_min, "low": self.equivalent_low_min}
            steps.append(
                Step("equivalent_uncertainty_min", "(high - low) / 2 / sqrt(3)", range_, self.equivalent_uncertainty_min)
            )
        total = {
            "longest": self.above_observed.longest_min,
            "rest": self.above_observed.total_min - self.above_observed.longest_min,
        }
        steps.append(Step("time_above_min", "longest + rest", total, self.above_observed.total_min))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "between readings": "straight lines; crossings found on them",
                "equivalent time": "integral of exp(-(E/R)(1/T - 1/T_ref)) along the straight lines, not of the mean temperature",
                "gap": f"an interval longer than {number(options['gap_medians'])} median intervals (common practice, no source)",
                "observed": "intervals between two sound readings without a gap; credited adds all others",
                "slope": f"least squares over {number(options['slope_window_min'])} min (common practice, no source)",
                "soak": f"within {number(options['soak_band_k'])} K below the peak (common practice, no source)",
            },
            sources=SOURCES,
        )
