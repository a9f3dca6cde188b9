"""Gauge studies by averages and ranges."""

from __future__ import annotations

import dataclasses
import math
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import percent, plural, with_unit
from steadyfilm._gauge_layout import study_layout, study_readings
from steadyfilm._gauge_parts import GaugeSource, WindowShare, known, named_windows, window_words, windows_of
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm.errors import ConstantDataWarning, InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = ["AverageRangeStudy", "average_range_study", "gauge_from_ranges"]


@dataclass(frozen=True, eq=False, repr=False)
class AverageRangeStudy(Result):
    """A gauge study by averages and ranges; in the unit of the readings, None where the design cannot tell.

    ``ev`` = K1 mean_range; ``av_radicand`` = (K2 appraiser_difference)^2 - ev^2 / (parts x trials) as it comes, ``av`` its root,
    0 where it is negative; ``pv`` = K3 part_range. ``ranges_beyond`` names cells whose range lies above ``range_upper`` = D4
    mean_range. Arrays are empty when only ranges were given.
    """

    part_count: int
    appraiser_count: int
    trial_count: int
    mean: float | None
    mean_range: float
    appraiser_difference: float
    part_range: float | None
    range_upper: float
    K1: float
    K2: float | None
    K3: float | None
    D4: float
    ev: float
    av: float | None
    av_radicand: float | None
    grr: float
    pv: float | None
    tv: float | None
    ndc: int | None
    ndc_ratio: float | None
    appraiser_means: NDArray[np.float64]
    appraiser_mean_ranges: NDArray[np.float64]
    part_means: NDArray[np.float64]
    ranges: NDArray[np.float64]
    ranges_beyond: tuple[str, ...]
    parts: tuple[str, ...]
    appraisers: tuple[str, ...]
    windows: tuple[WindowShare, ...]

    def share_of_total(self, name: str) -> float | None:
        """Part of the total standard deviation: ``"ev"``, ``"av"``, ``"grr"`` or ``"pv"``."""
        if name not in ("ev", "av", "grr", "pv"):
            raise InvalidInputError(f"name must be ev, av, grr or pv, got {name!r}", argument="name")
        value = getattr(self, name)
        return None if value is None or not self.tv else float(value / self.tv)

    def sentence(self) -> str:
        unit = self.made.unit
        parts = [window_words(one, unit, 0.0, "what appraisers differ by") + "." for one in self.windows]
        grr = f"GRR by averages and ranges is {with_unit(self.grr, unit, 3)}"
        share = self.share_of_total("grr")
        if share is not None:
            grr += f", {percent(share)} of the total variation"
        parts.append(f"{grr}{'' if self.ndc is None else f', ndc {self.ndc}'}.")
        if self.ranges_beyond:
            parts.append(
                f"{plural(len(self.ranges_beyond), 'range')} above {with_unit(self.range_upper, unit, 3)}: "
                f"{'; '.join(self.ranges_beyond)}: look into these readings first."
            )
        return " ".join(parts)

    def _columns(self) -> dict[str, Any]:
        names = ["ev", "av", "grr", "pv", "tv"]
        values = [getattr(self, name) for name in names]
        shares = [None if value is None or not self.tv else value / self.tv for value in values]
        words = ["repeatability", "appraiser", "grr", "part", "total"]
        return {
            "source": words,
            "sd": [math.nan if value is None else value for value in values],
            "share_of_total": [math.nan if share is None else share for share in shares],
        }

    def explain(self) -> Explanation:
        steps = [
            Step("ev", "K1 * mean_range", {"K1": self.K1, "mean_range": self.mean_range}, self.ev),
            Step("range_upper", "D4 * mean_range", {"D4": self.D4, "mean_range": self.mean_range}, self.range_upper),
        ]
        if self.K2 is not None and self.av_radicand is not None and self.av is not None:
            inputs = {
                "K2": self.K2,
                "difference": self.appraiser_difference,
                "ev": self.ev,
                "parts": float(self.part_count),
                "trials": float(self.trial_count),
            }
            formula = "(K2 * difference)**2 - ev**2 / (parts * trials)"
            steps.append(Step("av_radicand", formula, inputs, self.av_radicand))
            steps.append(Step("av", "sqrt(max(0, av_radicand))", {"av_radicand": self.av_radicand}, self.av))
        steps.append(Step("grr", "sqrt(ev**2 + av**2)", {"ev": self.ev, "av": self.av or 0.0}, self.grr))
        if self.K3 is not None and self.part_range is not None and self.pv is not None and self.tv is not None:
            steps.append(Step("pv", "K3 * part_range", {"K3": self.K3, "part_range": self.part_range}, self.pv))
            steps.append(Step("tv", "sqrt(grr**2 + pv**2)", {"grr": self.grr, "pv": self.pv}, self.tv))
            if self.ndc_ratio is not None:
                steps.append(Step("ndc_ratio", "1.41 * pv / grr", {"pv": self.pv, "grr": self.grr}, self.ndc_ratio))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "K1": "1 / d2 of the trials, unless given",
                "K2, K3": "1 / d2* of one group of appraisers, of parts, unless given",
                "intervals": "none: ranges are shown for comparison; the analysis of variance has intervals",
                "interaction": "not told apart: it widens GRR in no way here",
            },
            sources=("cpp/methods/gauge_rr.md", "AIAG, Measurement Systems Analysis, 4th edition (secondary source)"),
        )


def average_range_study(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    part: Any,
    appraiser: Any = None,
    trial: Any = None,
    specification: SpecLimits | Mapping[str, SpecLimits] | None = None,
    process_mean: float | None = None,
    sigma_multiple: float = 6.0,
    share_limit: float = 0.30,
    K1: float | None = None,
    K2: float | None = None,
    K3: float | None = None,
    D4: float | None = None,
    missing: str = "error",
) -> AverageRangeStudy:
    """A crossed gauge study by averages and ranges.

    Parameters
    ----------
    data, column, unit, part, appraiser, trial, specification, process_mean, sigma_multiple, share_limit, missing
        As in ``gauge_study``.
    K1, K2, K3, D4 : float, optional
        Factors from a print; absent: exact, for any numbers of trials, appraisers and parts.

    Raises
    ------
    DataProblemsError, InvalidInputError
        As in ``gauge_study``; also a study with one trial, which has no range.

    Notes
    -----
    Kept for comparison with sheets: it does not see the interaction and has no intervals. See cpp/methods/gauge_rr.md.

    Examples
    --------
    >>> table = {"film": [1, 3, 5, 5, 4, 4, 8, 10], "panel": list("aaaabbbb"), "by": [1, 1, 2, 2, 1, 1, 2, 2]}
    >>> round(average_range_study(table, "film", unit="mil", part="panel", appraiser="by").ev, 4)
    0.8862
    """
    windows = named_windows(specification)
    given = study_readings(data, column, missing)
    layout, names = study_layout(
        data, given, part=part, appraiser=appraiser, trial=trial, factors=(), nested=False, unbalanced="error"
    )
    if layout.trial_count < 2:
        raise InvalidInputError("each cell has one reading: a range needs two trials or more", argument="trial")
    if np.ptp(layout.values) == 0.0:
        warnings.warn(f"all values of '{given.name}' are equal: every component is 0", ConstantDataWarning, stacklevel=2)
    parts, appraisers = layout.parts, layout.appraisers
    found = _core.average_range(layout.values, len(parts), len(appraisers), layout.trial_count, K1, K2, K3, D4)
    made = Made(
        "average_range_study",
        unit,
        int(layout.values.size),
        given.missing_rows,
        given.frame,
        {
            **{key: value for key, value in names.items() if key != "factors"},
            "specification": {name: dataclasses.asdict(window) for name, window in windows.items()},
            "process_mean": process_mean,
            "sigma_multiple": float(sigma_multiple),
            "share_limit": float(share_limit),
            "missing": missing,
        },
        _core.version,
    )
    cells = [f"part {part}, appraiser {who}" if names["appraiser"] else f"part {part}" for part in parts for who in appraisers]
    beyond = tuple(
        cell for cell, width in zip(cells, found["ranges"], strict=True) if width > found["range_upper"] * (1.0 + 1e-12)
    )
    study = _study(found, made, len(parts), len(appraisers), layout.trial_count, beyond, parts, appraisers)
    mean = found["mean"] if process_mean is None else process_mean
    shares = windows_of(_sources(study), windows, mean=mean, sigma_multiple=sigma_multiple, share_limit=share_limit)
    return dataclasses.replace(study, windows=shares)


def gauge_from_ranges(
    mean_range: float,
    appraiser_difference: float,
    part_range: float,
    *,
    unit: str,
    part_count: int,
    appraiser_count: int,
    trial_count: int,
    K1: float | None = None,
    K2: float | None = None,
    K3: float | None = None,
) -> AverageRangeStudy:
    """The same from the three ranges of a sheet, without its readings.

    Parameters
    ----------
    mean_range, appraiser_difference, part_range : float
        Mean of the ranges over trials, range of the appraisers' means, range of the parts' means.
    unit : str
        Their unit.
    part_count, appraiser_count, trial_count : int
        How many there were.
    K1, K2, K3 : float, optional
        Factors from a print; absent: exact.

    Examples
    --------
    >>> found = gauge_from_ranges(0.04, 0.02, 0.6, unit="mil", part_count=10, appraiser_count=3, trial_count=3)
    >>> round(found.grr, 4), found.ndc
    (0.0255, 10)
    """
    found = _core.average_range_from_ranges(
        mean_range, appraiser_difference, part_range, part_count, appraiser_count, trial_count, K1, K2, K3, None
    )
    options = {"mean_range": mean_range, "appraiser_difference": appraiser_difference, "part_range": part_range}
    made = Made("gauge_from_ranges", unit, part_count * appraiser_count * trial_count, (), "dict", options, _core.version)
    return _study(found, made, part_count, appraiser_count, trial_count, (), (), ())


def _study(
    found: Mapping[str, Any],
    made: Made,
    part_count: int,
    appraiser_count: int,
    trial_count: int,
    beyond: tuple[str, ...],
    parts: tuple[str, ...],
    appraisers: tuple[str, ...],
) -> AverageRangeStudy:
    factors = found["factors"]
    return AverageRangeStudy(
        made=made,
        part_count=part_count,
        appraiser_count=appraiser_count,
        trial_count=trial_count,
        mean=known(found["mean"]),
        mean_range=found["mean_range"],
        appraiser_difference=found["appraiser_difference"],
        part_range=known(found["part_range"]),
        range_upper=found["range_upper"],
        K1=factors["K1"],
        K2=known(factors["K2"]),
        K3=known(factors["K3"]),
        D4=factors["D4"],
        ev=found["ev"],
        av=known(found["av"]),
        av_radicand=known(found["av_radicand"]),
        grr=found["grr"],
        pv=known(found["pv"]),
        tv=known(found["tv"]),
        ndc=int(found["ndc"]) if math.isfinite(found["ndc"]) else None,
        ndc_ratio=known(found["ndc_ratio"]),
        appraiser_means=frozen(found["appraiser_means"]),
        appraiser_mean_ranges=frozen(found["appraiser_mean_ranges"]),
        part_means=frozen(found["part_means"]),
        ranges=frozen(found["ranges"]),
        ranges_beyond=beyond,
        parts=parts,
        appraisers=appraisers,
        windows=(),
    )


def _sources(study: AverageRangeStudy) -> list[GaugeSource]:
    """What a window is weighed with; ranges have no intervals."""
    return [
        GaugeSource(name, role, sd * sd, sd, None, None, None, None, None, None, None, None, None, ())
        for name, role, sd in (("repeatability", "measurement", study.ev), ("grr", "sum", study.grr))
    ]
