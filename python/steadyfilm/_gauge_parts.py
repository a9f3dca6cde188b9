"""Parts of gauge studies: sources, estimates, windows, effects; and their words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._component_parts import AnovaLine
from steadyfilm._format import number, percent, plural, window_text, with_unit
from steadyfilm._result import build
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = [
    "GaugeEffect",
    "GaugeEstimate",
    "GaugeSource",
    "WindowShare",
    "estimate_of",
    "known",
    "named_windows",
    "source_columns",
    "window_words",
    "windows_of",
]

INTERACTION = "part x appraiser"


def known(value: float) -> float | None:
    """A number, or None where there is none."""
    return float(value) if math.isfinite(value) else None


@dataclass(frozen=True)
class GaugeSource:
    """One component of a gauge study, or a sum of components; None where the design cannot tell.

    ``variance`` is as estimated and may be negative; ``sd`` counts negative components as 0. ``degrees_of_freedom`` are those of
    the variance by Satterthwaite. Shares are fractions: of the total variance, and of the total standard deviation.
    ``weights`` are those of the mean squares of ``lines`` in ``variance``.
    """

    source: str
    role: str
    variance: float
    sd: float
    sd_lower: float | None
    sd_upper: float | None
    degrees_of_freedom: float | None
    share_of_variance: float | None
    share_of_variance_lower: float | None
    share_of_variance_upper: float | None
    share_of_total: float | None
    share_of_total_lower: float | None
    share_of_total_upper: float | None
    weights: tuple[float, ...]


@dataclass(frozen=True)
class WindowShare:
    """A window and how much of it the measurement takes; lengths in the unit of the readings, shares as fractions.

    ``room`` is the width of the window, or the distance of the mean to its one limit; ``spread`` the multiple of GRR that is set
    against it. ``readings`` by one appraiser, averaged, bring the share down to ``share_limit``; None where no number does, since
    ``floor_share`` stays. ``appraisers_needed`` single readings by as many appraisers do (None for fixed appraisers, who are no
    sample of others), and ``readings_if_alike`` once only repeatability is left. ``demonstrated``: the whole interval lies on the
    side of ``share_limit`` that ``judgeable`` says.
    """

    name: str
    specification: SpecLimits
    room: float
    one_sided: bool
    spread: float
    share: float | None
    share_lower: float | None
    share_upper: float | None
    floor_share: float | None
    share_limit: float
    sigma_multiple: float
    judgeable: bool
    demonstrated: bool
    readings: int | None
    appraisers_needed: int | None
    readings_if_alike: int | None


@dataclass(frozen=True)
class GaugeEffect:
    """One level of a factor: its mean, and its distance from the mean of all with an interval for it alone."""

    label: str
    mean: float
    effect: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True)
class GaugeEstimate:
    """Estimates under one model: interactions kept, some pooled into repeatability, or none to be seen.

    ``ndc`` is the whole part of ``ndc_ratio`` = 1.41 PV / GRR, at least 1; ``ndc_ratio_upper`` is None where GRR may be 0.
    ``lines`` is empty for restricted maximum likelihood.
    """

    interaction: str
    lines: tuple[AnovaLine, ...]
    sources: tuple[GaugeSource, ...]
    pooled_terms: tuple[str, ...]
    ndc: int | None
    ndc_ratio: float | None
    ndc_ratio_lower: float | None
    ndc_ratio_upper: float | None
    windows: tuple[WindowShare, ...]
    interval_method: str
    confidence_level: float

    def find(self, name: str) -> GaugeSource | None:
        """The source of that name, None when this design has none."""
        return next((one for one in self.sources if one.source == name), None)

    def source(self, name: str) -> GaugeSource:
        """The source of that name, for example ``"grr"``."""
        found = self.find(name)
        if found is None:
            have = ", ".join(one.source for one in self.sources)
            raise InvalidInputError(f"no source {name!r} in this study; there are {have}", argument="name")
        return found

    def _sd(self, name: str) -> float | None:
        found = self.find(name)
        return None if found is None else found.sd

    @property
    def ev(self) -> float:
        """Repeatability (equipment variation), a standard deviation."""
        return self.source("repeatability").sd

    @property
    def av(self) -> float | None:
        """Differences between appraisers, a standard deviation; None for one appraiser."""
        return self._sd("appraiser")

    @property
    def interaction_sd(self) -> float | None:
        """What appraisers do differently from part to part; None where it is not told apart."""
        return self._sd(INTERACTION)

    @property
    def grr(self) -> float:
        """Everything but the parts, a standard deviation."""
        return self.source("grr").sd

    @property
    def pv(self) -> float | None:
        """Differences between parts, a standard deviation; None for one part."""
        return self._sd("part")

    @property
    def tv(self) -> float | None:
        """Total variation, a standard deviation; None for one part."""
        return self._sd("total")


def named_windows(specification: SpecLimits | Mapping[str, SpecLimits] | None) -> dict[str, SpecLimits]:
    """Windows by name; a lone one has the name ""."""
    if specification is None:
        return {}
    given = {"": specification} if isinstance(specification, SpecLimits) else dict(specification)
    for name, window in given.items():
        if not isinstance(window, SpecLimits):
            raise InvalidInputError(
                f"specification must be SpecLimits, or a mapping from names to SpecLimits, got {type(window).__name__}",
                argument="specification",
            )
        if window.lower is None and window.upper is None:
            raise InvalidInputError(
                f"window {name!r} has neither a lower nor an upper limit" if name else "the window has no limit",
                argument="specification",
            )
    return {
        str(name): SpecLimits(*(None if limit is None else float(limit) for limit in (window.lower, window.upper, window.target)))
        for name, window in given.items()
    }


def windows_of(
    sources: Sequence[GaugeSource],
    windows: Mapping[str, SpecLimits],
    *,
    mean: float,
    sigma_multiple: float,
    share_limit: float,
    fixed: bool = False,
) -> tuple[WindowShare, ...]:
    """Each window against what the measurement takes of it."""
    plain = [(one.source, one.role, one.sd, or_nan(one.sd_lower), or_nan(one.sd_upper), list(one.weights)) for one in sources]
    out = []
    for name, window in windows.items():
        found = _core.gauge_window(plain, window.lower, window.upper, mean, sigma_multiple, share_limit)
        for key in ("share", "share_lower", "share_upper", "floor_share"):
            found[key] = known(found[key])
        for key in ("readings", "appraisers_needed", "readings_if_alike"):
            found[key] = int(found[key]) if math.isfinite(found[key]) else None
        if fixed:
            found["appraisers_needed"] = None
        more = {"name": name, "specification": window, "share_limit": share_limit, "sigma_multiple": sigma_multiple}
        out.append(build(WindowShare, found, **more))
    return tuple(out)


def estimate_of(found: Mapping[str, Any], interaction: str, *, interval_method: str, confidence_level: float) -> GaugeEstimate:
    """An estimate of the core, without windows yet."""
    optional = [
        "sd_lower",
        "sd_upper",
        "degrees_of_freedom",
        *(f"share_of_{of}{end}" for of in ("variance", "total") for end in ("", "_lower", "_upper")),
    ]
    sources = [build(GaugeSource, {**source, **{name: known(source[name]) for name in optional}}) for source in found["sources"]]
    return GaugeEstimate(
        interaction=interaction,
        lines=tuple(build(AnovaLine, line) for line in found["lines"]),
        sources=tuple(sources),
        pooled_terms=tuple(found["pooled_terms"]),
        ndc=int(found["ndc"]) if math.isfinite(found["ndc"]) else None,
        ndc_ratio=known(found["ndc_ratio"]),
        ndc_ratio_lower=known(found["ndc_ratio_lower"]),
        ndc_ratio_upper=known(found["ndc_ratio_upper"]),
        windows=(),
        interval_method=interval_method,
        confidence_level=confidence_level,
    )


def source_columns(sources: Sequence[GaugeSource]) -> dict[str, Any]:
    """One row a source; NaN where there is no number."""
    words = {name: [getattr(one, name) for one in sources] for name in ("source", "role")}
    names = ["variance", "sd", "sd_lower", "sd_upper", "degrees_of_freedom"]
    names += [f"share_of_{of}{end}" for of in ("variance", "total") for end in ("", "_lower", "_upper")]
    return {**words, **{name: [or_nan(getattr(one, name)) for one in sources] for name in names}}


def window_words(one: WindowShare, unit: str, confidence_level: float, others: str) -> str:
    """The verdict on one window, without a full stop.

    ``others`` says in a word or two what readings differ by besides repeatability.
    """
    limits = one.specification
    named = f"'{one.name}' " if one.name else ""
    head = f"The window {named}({window_text(limits.lower, limits.upper, unit)})"
    if one.spread == 0.0:
        return f"{head} cannot be weighed: GRR is 0, since the display is too coarse to show what the gauge and the people add"
    if one.share is None:
        return (
            f"{head} cannot be weighed: the mean does not lie inside its limit (distance {with_unit(one.room, unit)}); "
            "give the mean of the process as process_mean"
        )
    half = 0.5 if one.one_sided else 1.0
    of_what = f"the {with_unit(one.room, unit)} from the mean to the limit" if one.one_sided else "it"
    ends = ""
    if one.share_lower is not None and one.share_upper is not None:
        level = number(100 * confidence_level, 3)
        ends = f" ({level} % interval {number(100 * one.share_lower, 3)} to {number(100 * one.share_upper, 3)} %)"
    spread = (
        f"{number(half * one.sigma_multiple, 3)} GRR is {with_unit(one.spread, unit, 3)}, {percent(one.share)} of {of_what}{ends}"
    )
    wanted = percent(one.share_limit)
    if one.judgeable:
        doubt = "" if one.demonstrated or not ends else ", yet a study of this size does not exclude more than that"
        return f"{head} can be judged with this gauge by single readings: {spread}, at most {wanted} wanted{doubt}"
    doubt = "" if one.demonstrated or not ends else ", though a study of this size does not exclude less"
    why = f"{spread}, at most {wanted} wanted{doubt}"
    if one.readings is not None:
        return (
            f"{head} cannot be judged with this gauge by single readings: {why}; it takes the average of "
            f"{plural(one.readings, 'reading')} per verdict"
        )
    assert one.floor_share is not None  # there is a share, so there is its floor
    alike = f"{plural(one.readings_if_alike or 0, 'reading')} per verdict once all read alike"
    if one.appraisers_needed is not None:
        more = plural(one.appraisers_needed, "reading")
        alike = f"{more} per verdict, each by another appraiser, or {one.readings_if_alike} once all read alike"
    return (
        f"{head} cannot be judged with this gauge: {why}; no number of readings by one appraiser is enough, since {others} "
        f"alone takes {percent(one.floor_share)}; it takes {alike}"
    )


def or_nan(value: float | None) -> float:
    """A number for a table, in which an absent one is NaN."""
    return math.nan if value is None else float(value)
