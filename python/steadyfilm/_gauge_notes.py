"""What changes how a gauge study is to be read, said by the study itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from steadyfilm._component_parts import chance_words
from steadyfilm._format import number, plural, with_unit

if TYPE_CHECKING:
    from steadyfilm.gauge_rr import GaugeStudy

__all__ = ["study_notes"]

_FEW_APPRAISERS = 4  # with so few, the upper end of their component is several times the estimate


def study_notes(study: GaugeStudy) -> tuple[str, ...]:
    """Every treatment and doubt, most weighty first."""
    if study.values.min() == study.values.max():
        return ("all readings are equal: every component is 0, and no window can be weighed",)
    parts = (_coarse, _alike, _unbalanced, _pooling, _appraisers, _negative, _design, _left_out)
    return tuple(note for part in parts for note in part(study))


def _pooling(study: GaugeStudy) -> list[str]:
    out = []
    options = study.made.options
    if study.pooled is not None:
        p = "" if study.interaction_p is None else f"p of the interaction is {chance_words(study.interaction_p)}; "
        level = number(options["pooling_level"], 3)
        terms = study.pooled.pooled_terms
        p = "" if study.design == "factors" else p  # of the highest interaction, which need not be among these
        verb = "are" if len(terms) > 1 else "is"
        out.append(
            f"{p}{', '.join(terms)} {verb} pooled into repeatability above {level}: here {study.chosen}; both results are shown"
        )
    if study.ndc_depends_on_pooling and study.pooled is not None:
        out.append(
            f"ndc is {study.kept.ndc} with the interaction kept and {study.pooled.ndc} with it pooled "
            f"({_ratio(study.kept.ndc_ratio)} and {_ratio(study.pooled.ndc_ratio)} before flooring): the verdict by ndc hangs on "
            "that choice"
        )
    for one, other in zip(study.windows, () if study.other is None else study.other.windows, strict=False):
        if one.judgeable != other.judgeable:
            name = f"window '{one.name}'" if one.name else "the window"
            here, there = ("can", "cannot") if one.judgeable else ("cannot", "can")
            how = {"kept": "pooled", "pooled": "kept"}[study.chosen]
            out.append(
                f"{name} {here} be judged by single readings with the interaction {study.chosen} and {there} with it {how}: the "
                "verdict hangs on that choice"
            )
    return out


def _coarse(study: GaugeStudy) -> list[str]:
    if study.ev > 0.0:
        return []
    return ["repeat readings never differ: the display is coarser than the gauge's own scatter, which is therefore not seen"]


def _alike(study: GaugeStudy) -> list[str]:
    out = []
    for kind, labels in (("part", study.parts), ("appraiser", study.appraisers)):
        plain: dict[str, list[str]] = {}
        for label in labels:
            plain.setdefault("".join(label.split()).casefold(), []).append(label)
        twins = [" and ".join(f"'{label}'" for label in group) for group in plain.values() if len(group) > 1]
        if twins:
            more = f" and {len(twins) - 4} more" if len(twins) > 4 else ""
            out.append(f"{kind} labels that differ in capitals or spaces alone count as different: {', '.join(twins[:4])}{more}")
    return out


def _unbalanced(study: GaugeStudy) -> list[str]:
    if study.method != "reml":
        return []
    more = f" and {len(study.lacks) - 4} more" if len(study.lacks) > 4 else ""
    lacks = "; ".join(study.lacks[:4]) + more
    return [f"numbers of readings are unequal ({lacks}): components by restricted maximum likelihood, intervals approximate"]


def _ratio(value: float | None) -> str:
    return "none" if value is None else number(value, 4)


def _appraisers(study: GaugeStudy) -> list[str]:
    unit = study.made.unit
    count = len(study.appraisers)
    out = []
    if count == 1:
        out.append("one appraiser: what people differ by cannot be seen, so that GRR is repeatability alone")
        return out
    line = next((one for one in study.estimate.lines if one.source == "appraiser"), None)
    if line is not None and line.p < 0.05 and study.appraiser_effects:
        far = max(study.appraiser_effects, key=lambda one: abs(one.effect))
        way = "high" if far.effect > 0 else "low"
        out.append(
            f"appraisers differ by more than chance explains (p {chance_words(line.p)}); appraiser {far.label} reads "
            f"{with_unit(abs(far.effect), unit, 3)} {way} against the mean of all"
        )
    if study.made.options["appraiser_effect"] == "fixed":
        out.append("appraisers are fixed: the result holds for these people and says nothing about others")
    elif count <= _FEW_APPRAISERS:
        out.append(f"{plural(count, 'appraiser')} stand for all who measure: their part of GRR is known poorly, see its interval")
    return out


def _negative(study: GaugeStudy) -> list[str]:
    unit = study.made.unit
    squared = f"{unit}^2" if unit else ""
    return [
        f"{one.source} was estimated as {with_unit(one.variance, squared, 3)}, which no variance can be: it counts as 0"
        for one in study.estimate.sources
        if one.role != "sum" and one.variance < 0.0
    ]


def _design(study: GaugeStudy) -> list[str]:
    out = []
    if len(study.parts) == 1:
        out.append("one part: the spread of parts, shares of the total variation and ndc cannot be seen")
    if len(study.trials) == 1 and study.design != "nested":
        out.append("one reading a cell: the interaction cannot be told from repeatability and is part of it")
    if study.design == "nested":
        out.append("parts belong to one appraiser each: what specimens of one part differ by counts as repeatability")
    if isinstance(study.made.options["nested"], str):
        out.append(f"{study.made.options['nested']} counts as a difference between parts, not as measurement")
    return out


def _left_out(study: GaugeStudy) -> list[str]:
    out = []
    if study.dropped:
        out.append(f"incomplete parts left out: {', '.join(study.dropped)}")
    if study.made.missing_rows:
        out.append(f"{plural(len(study.made.missing_rows), 'missing reading')} left out")
    return out
