"""Gauge studies: can the gauge tell, what the gauge and the people add to a reading, against the window and the parts."""

from __future__ import annotations

import dataclasses
import math
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._component_parts import line_columns
from steadyfilm._format import number, percent, plural, with_unit
from steadyfilm._gauge_layout import Layout, study_layout, study_readings
from steadyfilm._gauge_more import (
    BootstrapInterval,
    GaugeBootstrap,
    GaugeFactors,
    GaugeIntervals,
    PooledSd,
    gauge_bootstrap,
    gauge_factors,
    gauge_intervals,
    pooled_sd,
    pooled_sd_from_sds,
)
from steadyfilm._gauge_notes import study_notes
from steadyfilm._gauge_parts import (
    GaugeEffect,
    GaugeEstimate,
    GaugeSource,
    WindowShare,
    estimate_of,
    known,
    named_windows,
    source_columns,
    window_words,
    windows_of,
)
from steadyfilm._gauge_ranges import AverageRangeStudy, average_range_study, gauge_from_ranges
from steadyfilm._gauge_steps import study_explanation
from steadyfilm._input import Column, make_table
from steadyfilm._result import Explanation, Made, Result, build, frozen
from steadyfilm.errors import ConstantDataWarning, InvalidInputError, MissingDataWarning
from steadyfilm.limits import SpecLimits

__all__ = [
    "AverageRangeStudy",
    "BootstrapInterval",
    "GaugeBootstrap",
    "GaugeEffect",
    "GaugeEstimate",
    "GaugeFactors",
    "GaugeIntervals",
    "GaugeSource",
    "GaugeStudy",
    "PooledSd",
    "WindowShare",
    "average_range_study",
    "gauge_bootstrap",
    "gauge_factors",
    "gauge_from_ranges",
    "gauge_intervals",
    "gauge_study",
    "pooled_sd",
    "pooled_sd_from_sds",
]


@dataclass(frozen=True, eq=False, repr=False)
class GaugeStudy(Result):
    """A gauge study: components in the unit of the readings, shares as fractions.

    ``kept`` holds the estimates with every interaction that can be told apart, ``pooled`` those with interactions pooled into
    repeatability, ``chosen`` which of the two the verdict speaks of. ``part``, ``appraiser``, ``trial`` and ``factor_codes`` are
    numbers from 0, one a reading, of the labels in ``parts``, ``appraisers``, ``trials`` and ``factor_levels``. ``notes`` say
    every treatment that changes how the numbers are to be read.
    """

    design: str
    method: str
    chosen: str
    kept: GaugeEstimate
    pooled: GaugeEstimate | None
    interaction_p: float | None
    mean: float
    values: NDArray[np.float64]
    part: NDArray[np.int64]
    appraiser: NDArray[np.int64]
    trial: NDArray[np.int64]
    factor_codes: NDArray[np.int64]
    parts: tuple[str, ...]
    appraisers: tuple[str, ...]
    trials: tuple[str, ...]
    factors: tuple[str, ...]
    factor_levels: tuple[tuple[str, ...], ...]
    part_effects: tuple[GaugeEffect, ...]
    appraiser_effects: tuple[GaugeEffect, ...]
    dropped: tuple[str, ...]
    lacks: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def estimate(self) -> GaugeEstimate:
        """The estimates that the verdict speaks of."""
        return self.pooled if self.chosen == "pooled" and self.pooled is not None else self.kept

    @property
    def other(self) -> GaugeEstimate | None:
        """The estimates under the other treatment of interactions."""
        return self.kept if self.chosen == "pooled" else self.pooled

    @property
    def windows(self) -> tuple[WindowShare, ...]:
        """Each window, and how much of it the measurement takes."""
        return self.estimate.windows

    @property
    def ev(self) -> float:
        """Repeatability (equipment variation), a standard deviation."""
        return self.estimate.ev

    @property
    def av(self) -> float | None:
        """Differences between appraisers, a standard deviation."""
        return self.estimate.av

    @property
    def interaction_sd(self) -> float | None:
        """What appraisers do differently from part to part, a standard deviation."""
        return self.estimate.interaction_sd

    @property
    def grr(self) -> float:
        """Everything but the parts, a standard deviation."""
        return self.estimate.grr

    @property
    def pv(self) -> float | None:
        """Differences between parts, a standard deviation."""
        return self.estimate.pv

    @property
    def tv(self) -> float | None:
        """Total variation, a standard deviation."""
        return self.estimate.tv

    @property
    def ndc(self) -> int | None:
        """Number of distinct categories: whole part of 1.41 PV / GRR, at least 1."""
        return self.estimate.ndc

    @property
    def ndc_ratio(self) -> float | None:
        """1.41 PV / GRR."""
        return self.estimate.ndc_ratio

    @property
    def smallest_window(self) -> float:
        """The narrowest two-sided window that single readings can judge."""
        return float(self.made.options["sigma_multiple"] * self.grr / self.made.options["share_limit"])

    @property
    def ndc_depends_on_pooling(self) -> bool:
        """Whether the two treatments of the interaction give different numbers of categories."""
        return self.other is not None and self.other.ndc != self.ndc

    def window_sentence(self, i: int = 0) -> str:
        """The verdict on one window."""
        if not self.windows:
            raise InvalidInputError("the study was made without a window: give specification", argument="i")
        extra = f" and {', '.join(self.factors)}" if self.factors else ""
        others = f"what appraisers{extra} differ by"
        return window_words(self.windows[i], self.made.unit, self.estimate.confidence_level, others) + "."

    def sentence(self) -> str:
        unit = self.made.unit
        if np.ptp(self.values) == 0.0:
            return (
                f"All {plural(self.made.count, 'reading')} are {with_unit(float(self.values[0]), unit)}: nothing can be said "
                "about a window, since the display shows no difference at all."
            )
        parts = [self.window_sentence(i) for i in range(len(self.windows))]
        grr = f"GRR is {_grr_words(self.estimate, unit)}"
        if not self.windows:
            parts.append(
                f"No window was given: single readings can judge windows of {with_unit(self.smallest_window, unit, 3)} or more."
            )
        if self.ndc_depends_on_pooling and self.other is not None:
            kept, pooled = self.kept.ndc, None if self.pooled is None else self.pooled.ndc
            p = "" if self.interaction_p is None else f" (p {number(self.interaction_p, 2)})"
            parts.append(
                f"{grr}; ndc hangs on a choice: {kept} with the interaction kept, {pooled} with it pooled{p}, here it is "
                f"{self.chosen} (otherwise GRR is {_grr_words(self.other, unit)})."
            )
        else:
            ndc = "" if self.ndc is None else f", ndc {self.ndc}"
            beside = (
                "" if self.other is None else f" ({_grr_words(self.other, unit)} with the interaction {self.other.interaction})"
            )
            parts.append(f"{grr}{ndc}{beside}.")
        return " ".join(parts)

    def _columns(self) -> dict[str, Any]:
        return source_columns(self.estimate.sources)

    def anova_frame(self, kind: str | None = None) -> Any:
        """One row a line of the analysis of variance of the chosen estimates."""
        return make_table(line_columns(self.estimate.lines), kind or self.made.frame)

    def both_frame(self, kind: str | None = None) -> Any:
        """The sources with the interaction kept, then pooled; ``interaction`` says which."""
        both = [one for one in (self.kept, self.pooled) if one is not None]
        words = [one.interaction for one in both for _ in one.sources]
        columns = source_columns([source for one in both for source in one.sources])
        return make_table({"interaction": words, **columns}, kind or self.made.frame)

    def effects_frame(self, kind: str | None = None) -> Any:
        """One row a part and one an appraiser: mean, distance from the mean of all, interval."""
        rows = [("part", one) for one in self.part_effects] + [("appraiser", one) for one in self.appraiser_effects]
        columns: dict[str, Any] = {"factor": [name for name, _ in rows], "label": [one.label for _, one in rows]}
        for name in ("mean", "effect", "lower", "upper"):
            found = [getattr(one, name) for _, one in rows]
            columns[name] = [math.nan if value is None else value for value in found]
        return make_table(columns, kind or self.made.frame)

    def explain(self) -> Explanation:
        return study_explanation(self)


def _grr_words(estimate: GaugeEstimate, unit: str) -> str:
    share = estimate.source("grr").share_of_total
    of_total = "" if share is None else f", {percent(share)} of the total variation"
    return f"{with_unit(estimate.grr, unit, 3)}{of_total}"


def gauge_study(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    part: Any,
    appraiser: Any = None,
    trial: Any = None,
    factors: Sequence[Any] = (),
    nested: bool | str = False,
    specification: SpecLimits | Mapping[str, SpecLimits] | None = None,
    process_mean: float | None = None,
    sigma_multiple: float = 6.0,
    share_limit: float = 0.30,
    pooling_level: float = 0.25,
    appraiser_effect: str = "random",
    interval_method: str = "modified_large_sample",
    confidence_level: float = 0.95,
    f_denominator: str = "model",
    unbalanced: str = "reml",
    missing: str = "error",
) -> GaugeStudy:
    """Can this gauge judge this window? A study of parts read by appraisers, several times each.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in any order; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``.
    part, appraiser, trial : column names or sequences of labels
        Without ``appraiser`` all readings are by one. Without ``trial`` readings of one part by one appraiser are counted as they
        come; with it, the same part, appraiser and trial twice is an error.
    factors : sequence of column names or of labels
        How else readings differ: gauge, day, probe. Each crossed with parts and appraisers, and part of the measurement.
    nested : bool or one of the factors
        True: each part belongs to one appraiser (pull-off, wedge cut: a specimen is gone once it is tested; specimens of one part
        are taken as alike). A factor's name: each part belongs to one level of it (substrate), and its spread is the parts'.
    specification : SpecLimits, or mapping from names to SpecLimits
        The windows that readings are to judge; either side may be absent.
    process_mean : float, optional
        For a window with one limit: the mean whose distance to the limit is the room. Absent: the mean of the study.
    sigma_multiple : float
        Standard deviations of measurement that are set against the window's width; half for a window with one limit.
    share_limit : float
        At most this share of a window may go to measurement for a verdict by single readings.
    pooling_level : float
        An interaction whose p lies above is pooled into repeatability. Both results are always there.
    appraiser_effect : {"random", "fixed"}
        A sample of all who measure, or these very people. AV^2 is the sum of squared effects over one less than their number,
        free of the share of chance; intervals differ. Unbalanced studies take fixed appraisers as fixed effects.
    interval_method : {"modified_large_sample", "satterthwaite"}
        Of all intervals but that of repeatability, which is exact.
    confidence_level : float
        Two-sided.
    f_denominator : {"model", "repeatability"}
        What sources are tested over: what the model gives, or repeatability for all, as some prints have it.
    unbalanced : {"reml", "error", "drop_parts"}
        A study that lacks readings is computed by restricted maximum likelihood, or refused, or parts with a missing cell are
        left out and named in ``dropped``. ``lacks`` and ``notes`` say what is missing and what was done.
    missing : {"error", "drop"}
        Missing readings are refused, or left out; their part is then incomplete.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels, rows that were entered twice; with column, row and value.
    InvalidInputError
        What the study lacks: cells, trials, a second part or appraiser.

    Warns
    -----
    ConstantDataWarning
        All readings are equal.

    Notes
    -----
    Analysis of variance, method of moments; formulas, sources and the coverage of the intervals in cpp/methods/gauge_rr.md.

    Examples
    --------
    >>> table = {"film": [1, 3, 5, 5, 4, 4, 8, 10], "panel": list("aaaabbbb"), "by": [1, 1, 2, 2, 1, 1, 2, 2]}
    >>> study = gauge_study(table, "film", unit="mil", part="panel", appraiser="by", pooling_level=1.0)
    >>> study.kept.source("grr").variance, study.kept.source("part").variance
    (9.0, 4.0)
    """
    _require_word("appraiser_effect", appraiser_effect, ("random", "fixed"))
    _require_word("unbalanced", unbalanced, ("reml", "error", "drop_parts"))
    windows = named_windows(specification)
    given = study_readings(data, column, missing)
    layout, names = study_layout(
        data, given, part=part, appraiser=appraiser, trial=trial, factors=factors, nested=nested, unbalanced=unbalanced
    )
    if layout.dropped:
        text = f"{plural(len(layout.dropped), 'incomplete part')} left out (unbalanced='drop_parts')"
        warnings.warn(text, MissingDataWarning, stacklevel=2)
    if np.ptp(layout.values) == 0.0:
        warnings.warn(f"all values of '{given.name}' are equal: every component is 0", ConstantDataWarning, stacklevel=2)
    made = _made(
        unit,
        given,
        layout,
        **names,
        nested=nested,
        specification={name: dataclasses.asdict(window) for name, window in windows.items()},
        process_mean=process_mean,
        sigma_multiple=float(sigma_multiple),
        share_limit=float(share_limit),
        pooling_level=float(pooling_level),
        appraiser_effect=appraiser_effect,
        interval_method=interval_method,
        confidence_level=float(confidence_level),
        f_denominator=f_denominator,
        unbalanced=unbalanced,
        missing=missing,
    )
    plain = _plain_factors(layout, names, nested, appraiser_effect == "fixed")
    if layout.balanced:
        found = _core.gauge_study(
            layout.values, plain, layout.trial_count, pooling_level, confidence_level, interval_method, f_denominator
        )
    else:
        found = _unbalanced(layout, plain, names, made)
    return _study(found, layout, names, made, plain, windows)


def _unbalanced(layout: Layout, plain: Sequence[tuple[str, int, str, bool, int]], names: Mapping[str, Any], made: Made) -> Any:
    """A study of any layout by the core."""
    options = made.options
    codes = {"part": (layout.part, layout.parts), "appraiser": (layout.appraiser, layout.appraisers)}
    for k, name in enumerate(names["factors"]):
        codes[name] = (layout.factor_codes[:, k], layout.factor_levels[k])
    given = [
        (name, np.ascontiguousarray(codes[name][0], dtype=np.int32), len(codes[name][1]), role, fixed, around)
        for name, _, role, fixed, around in plain
    ]
    try:
        found = _core.unbalanced_gauge_study(
            layout.values, given, options["pooling_level"], options["confidence_level"], options["interval_method"]
        )
    except InvalidInputError as error:
        raise InvalidInputError(
            f"{_lacking(layout)}\nRestricted maximum likelihood cannot make up for it: {error}", argument="unbalanced"
        ) from None
    for word in ("kept", "pooled"):
        if found[word] is not None:  # mean squares are put together there, not taken from the readings
            found[word]["lines"] = []
            for source in found[word]["sources"]:
                source["weights"] = ()
    return found


def _lacking(layout: Layout) -> str:
    return (
        "the study lacks equal numbers of readings: " + "; ".join(layout.lacks[:4]) + ("; ..." if len(layout.lacks) > 4 else "")
    )


def _study(
    found: Mapping[str, Any],
    layout: Layout,
    names: Mapping[str, Any],
    made: Made,
    plain: Sequence[tuple[str, int, str, bool, int]],
    windows: Mapping[str, SpecLimits],
) -> GaugeStudy:
    options = made.options
    given_mean = options["process_mean"]
    common = {"interval_method": options["interval_method"], "confidence_level": options["confidence_level"]}
    asked = {
        "mean": found["mean"] if given_mean is None else given_mean,
        "sigma_multiple": options["sigma_multiple"],
        "share_limit": options["share_limit"],
        "fixed": options["appraiser_effect"] == "fixed",
    }
    estimates = []
    for word in ("kept", "pooled"):
        if found[word] is None:
            continue
        estimate = estimate_of(found[word], word if found["pooled"] is not None else _interaction_word(found["kept"]), **common)
        estimates.append(dataclasses.replace(estimate, windows=windows_of(estimate.sources, windows, **asked)))
    effects = {"part": layout.parts, "appraiser": layout.appraisers}
    effect_rows: dict[str, tuple[GaugeEffect, ...]] = {}
    for name, labels in effects.items():
        at = next((i for i, one in enumerate(plain) if one[0] == name), None)
        rows = [] if at is None else found["effects"][at]
        effect_rows[name] = (
            tuple(
                build(GaugeEffect, {**row, "lower": known(row["lower"]), "upper": known(row["upper"])}, label=label)
                for row, label in zip(rows, labels, strict=True)
            )
            if rows
            else ()
        )
    study = GaugeStudy(
        made=made,
        design="nested" if options["nested"] is True else "factors" if names["factors"] else "crossed",
        method="reml" if found["restricted_likelihood"] else "anova",
        chosen="pooled" if found["pooled_chosen"] else "kept",
        kept=estimates[0],
        pooled=estimates[1] if len(estimates) > 1 else None,
        interaction_p=known(found["interaction_p"]),
        mean=found["mean"],
        values=frozen(layout.values),
        part=frozen(layout.part),
        appraiser=frozen(layout.appraiser),
        trial=frozen(layout.trial),
        factor_codes=frozen(layout.factor_codes),
        parts=layout.parts,
        appraisers=layout.appraisers,
        trials=layout.trials,
        factors=tuple(names["factors"]),
        factor_levels=layout.factor_levels,
        part_effects=effect_rows["part"],
        appraiser_effects=effect_rows["appraiser"],
        dropped=layout.dropped,
        lacks=layout.lacks,
        notes=(),
    )
    return dataclasses.replace(study, notes=study_notes(study))


def _interaction_word(kept: Mapping[str, Any]) -> str:
    return "kept" if any(" x " in one["source"] for one in kept["sources"]) else "none"


def _plain_factors(
    layout: Layout, names: Mapping[str, Any], nested: bool | str, fixed: bool
) -> list[tuple[str, int, str, bool, int]]:
    """The factors as the core takes them: name, levels, role, fixed, position of the factor around it."""
    count = {"part": len(layout.parts), "appraiser": len(layout.appraisers)}
    rows: list[tuple[str, int, str, bool]] = [
        ("part", count["part"], "part", False),
        ("appraiser", count["appraiser"], "measurement", fixed),
    ]
    for name, found in zip(names["factors"], layout.factor_levels, strict=True):
        if name in count:
            raise InvalidInputError(f"a factor cannot be called '{name}'", argument="factors")
        rows.append((name, len(found), "process" if name == nested else "measurement", False))
    order = list(range(len(rows)))
    outer = -1
    if nested:
        outer = 1 if nested is True else 2 + list(names["factors"]).index(nested)
        order.remove(outer)
        order.insert(0, outer)
    used = [i for i in order if rows[i][1] > 1]
    if nested and outer not in used:
        raise InvalidInputError(f"'{rows[outer][0]}' has one level only: write nested=False", argument="nested")
    out = []
    for i in used:
        name, levels, role, is_fixed = rows[i]
        inside = i == 0 and outer >= 0
        size = levels // rows[outer][1] if inside else levels
        if size < 2:
            kind = "appraiser" if nested is True else str(nested)
            raise InvalidInputError(f"each {kind} has one part only: two or more are needed", argument="part")
        out.append((name, size, role, is_fixed, 0 if inside else -1))
    if not out:
        raise InvalidInputError(
            "one part read by one appraiser shows nothing but repeats: read two parts or more, or let two appraisers read it",
            argument="part",
        )
    if layout.balanced and layout.trial_count == 1 and len(out) == 1:
        raise InvalidInputError(
            f"each {out[0][0]} was read once, so that repeatability cannot be told from {out[0][0]}s: read each twice or more",
            argument="trial",
        )
    return out


def _require_word(name: str, value: str, allowed: Sequence[str]) -> None:
    if value not in allowed:
        raise InvalidInputError(f"{name} must be {' or '.join(map(repr, allowed))}, got {value!r}", argument=name)


def _made(unit: str, given: Column, layout: Layout, **options: Any) -> Made:
    return Made("gauge_study", unit, int(layout.values.size), given.missing_rows, given.frame, options, _core.version)
