"""Can the gauge tell? In shop words: one sentence a window, one line for all, and what to do next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol

from steadyfilm._format import decimals_for, fixed, number, percent, plural, window_text, with_unit
from steadyfilm._gauge.windows import StudyWindow, WindowAnswer

FEWEST_STEPS = 10
"""Steps of the display that a window should hold (common practice, no source)."""


class Answered(Protocol):
    """A study with its windows."""

    @property
    def name(self) -> str:
        """What keeps it apart from other studies."""

    @property
    def windows(self) -> tuple[WindowAnswer, ...]:
        """One answer a window."""


def gauge_words(name: str) -> str:
    """What the study is a study of, inside a sentence.

    >>> gauge_words("gauge K5, substrate steel"), gauge_words("")
    ('gauge K5 (substrate steel)', 'this gauge')
    """
    first, _, rest = name.partition(", ")
    return (f"{first} ({rest})" if rest else first) or "this gauge"


def window_words(window: StudyWindow, unit: str) -> str:
    """The window by its name and limits.

    >>> from steadyfilm.limits import SpecLimits
    >>> window_words(StudyWindow("primer", SpecLimits(1.0, 1.2)), "mil")
    'primer (1.0 to 1.2 mil)'
    """
    limits = window_text(window.specification.lower, window.specification.upper, unit)
    if window.name:
        return f"{window.name} ({limits})"
    return f"a limit of {limits}" if window.one_limit else limits


def of_what(window: StudyWindow) -> str:
    """What a share is a share of."""
    return "the distance to the limit" if window.one_limit else "the window"


def short_words(answer: WindowAnswer) -> str:
    """Yes with how many readings, or no; for a line that several windows share."""
    if answer.share is None:
        return "not answered"
    if answer.readings is None:
        return "no"
    if not answer.judgeable:
        return f"no (it would take {answer.readings} readings)"
    return f"yes from {readings_words(answer)}" if answer.readings > 1 else "yes from single readings"


def readings_words(answer: WindowAnswer) -> str:
    """How many readings, and by whom."""
    assert answer.readings is not None  # asked only where some number does
    assert answer.appraisers is not None
    if answer.appraisers == 1:
        return plural(answer.readings, "reading")
    each = answer.readings // answer.appraisers
    return f"{answer.readings} readings ({'one' if each == 1 else each} by each of {answer.appraisers} appraisers)"


def answer_sentence(answer: WindowAnswer, gauge: str, unit: str, appraisers: int) -> str:
    """Whether this window can be judged with the gauge, and from how many readings."""
    window = window_words(answer.window, unit)
    if answer.share is None:
        return _no_share(answer, gauge, window, unit)
    whole = of_what(answer.window)
    takes = f"takes {percent(answer.share)} of {whole}{_interval(answer)}"
    if answer.judgeable and answer.readings == 1:
        return f"{upper_first(gauge)} can judge {window} with single readings: one {takes}{_unproven(answer)}."
    if answer.judgeable and answer.reached is not None:
        text = f"{upper_first(gauge)} can judge {window} with the average of {readings_words(answer)}, "
        return f"{text}which takes {percent(answer.reached)} of {whole}; a single one {takes}{_alone(answer)}."
    text = f"{upper_first(gauge)} cannot judge {window}: a single reading {takes}"
    if answer.readings is not None:
        return f"{text}, and to keep {percent(answer.share_limit)} takes {readings_words(answer)}{_alike(answer)}."
    assert answer.floor_share_all is not None  # there is a share
    who = "one appraiser" if appraisers == 1 else f"the {appraisers} appraisers of the study"
    return f"{text}, and no number of readings by {who} gets below {percent(answer.floor_share_all)}{_alike(answer)}."


def _interval(answer: WindowAnswer) -> str:
    limit = f"at most {percent(answer.share_limit)} wanted"
    if answer.share_lower is None or answer.share_upper is None:
        return f" ({limit})"
    return f" (interval {percent(answer.share_lower).removesuffix(' %')} to {percent(answer.share_upper)}; {limit})"


def _unproven(answer: WindowAnswer) -> str:
    if answer.share_upper is None or answer.share_upper <= answer.share_limit:
        return ""
    return "; a study of this size does not prove it"


def _alone(answer: WindowAnswer) -> str:
    """What one appraiser alone would need, where several are told to share."""
    if answer.appraisers == 1 or answer.floor_share is None:
        return ""
    if answer.one_appraiser is None:
        return f", and one appraiser alone never gets below {percent(answer.floor_share)}"
    return f", and one appraiser alone would need {answer.one_appraiser}"


def _alike(answer: WindowAnswer) -> str:
    """How many readings it would take without differences between appraisers, if that helps."""
    if answer.if_alike is None or (answer.readings is not None and answer.if_alike >= answer.readings):
        return ""
    return f" (once appraisers read alike, {plural(answer.if_alike, 'reading')} would do)"


def _no_share(answer: WindowAnswer, gauge: str, window: str, unit: str) -> str:
    if answer.zones[0].uncertainty == 0.0:
        return (
            f"{upper_first(gauge)} is not judged for {window}: GRR is 0, since the display is too coarse to show what the gauge "
            "and the people add; repeat the study with a finer display."
        )
    guard = with_unit(answer.zones[0].guard, unit, 2)
    if math.isfinite(answer.room):
        return f"{upper_first(gauge)} is not judged for {window}: the mean of the study lies outside that limit."
    return (
        f"{upper_first(gauge)} is not judged for {window}: with one limit a difference has no width to be a share of; "
        f"single readings leave {guard} beside the limit open."
    )


def headline(studies: Sequence[Answered], unit: str) -> str:
    """All windows and studies in one sentence."""
    answers = [answer for study in studies for answer in study.windows]
    can = sum(answer.judgeable for answer in answers)
    start = "Every window can be judged" if can == len(answers) else "Not every window can be judged"
    start = start if can else "No window can be judged"
    told = []
    for study in studies:
        words = [f"{x.window.name or window_words(x.window, unit)} {short_words(x)}" for x in study.windows]
        told.append(f"with {gauge_words(study.name)}, {', '.join(words)}")
    return f"{start}: {'; '.join(told)}."


def window_notes(answer: WindowAnswer, unit: str, step: float, studied: tuple[float, float]) -> list[str]:
    """What a reader must know besides the number."""
    out = []
    window = window_words(answer.window, unit)
    limits = answer.window.specification
    if answer.window.difference:
        out.append(f"{window}: the layer is one reading minus an earlier one, so both errors enter; taken as independent.")
    if answer.outside_study and answer.zones[0].uncertainty > 0.0:
        span = window_text(studied[0], studied[1], unit)
        low, high = limits.lower, limits.upper
        overlap = low is not None and high is not None and low <= studied[1] and high >= studied[0]
        where = "reaches beyond" if overlap else "lies outside"
        out.append(f"{window} {where} the {span} of the study; the gauge is taken to err there as it does here.")
    if step > 0 and limits.lower is not None and limits.upper is not None:
        steps = (limits.upper - limits.lower) / step
        if steps < FEWEST_STEPS * (1 - 1e-9):
            out.append(
                f"{window}: the display goes in steps of {with_unit(step, unit)}, {number(steps, 2)} to the window; "
                f"{FEWEST_STEPS} are usually wished (common practice, no source)."
            )
    return out


def what_to_do(
    answers: Sequence[WindowAnswer], *, appraisers: int, apart: Sequence[tuple[str, float, float]], unit: str, most_readings: int
) -> tuple[str, ...]:
    """Steps that the figures point to; ``apart`` are appraisers whose interval excludes 0, with difference and half width."""
    out = []
    for name, difference, half in apart:
        side = "high" if difference > 0 else "low"
        digits = decimals_for(half)
        size = f"{fixed(abs(difference), digits)} {unit}".rstrip()
        apart_by = f"{size} {side} against the mean of all, give or take {fixed(half, digits)}"
        out.append(f"{upper_first(person(name))} reads {apart_by}: compare how each zeroes.")
    for answer in answers:
        window = window_words(answer.window, unit)
        if answer.judgeable and answer.readings is not None:
            if answer.readings > 1:
                alone = answer.one_appraiser if answer.appraisers != 1 else None
                instead = f", or of {alone} by one appraiser" if alone is not None and alone <= most_readings else ""
                out.append(f"Judge {window} from the average of {readings_words(answer)}{instead}, not from single readings.")
        elif answer.if_alike is None:
            continue
        elif answer.if_alike <= most_readings and appraisers > 1:
            out.append(
                f"For {window}, bring the appraisers together first: zero, probe, marked place. Once they read alike, "
                f"{plural(answer.if_alike, 'reading')} would do; until then more readings do not make up for it."
            )
        else:
            even = "even if all appraisers read alike, a verdict takes" if appraisers > 1 else "a verdict takes"
            out.append(
                f"For {window}, {even} {plural(answer.if_alike, 'reading')}: "
                "what helps is a gauge that repeats better, or a wider window agreed with the customer."
            )
    if appraisers == 1:
        out.append("One appraiser took part: what others would read is not known. Repeat the study with two more.")
    out.append("Whether the gauge reads high or low as a whole is not in a study like this: check it on shims.")
    return tuple(out)


def person(label: str) -> str:
    """An appraiser by name; a number or a letter alone is no name.

    >>> person("Ann"), person("C"), person("2")
    ('Ann', 'appraiser C', 'appraiser 2')
    """
    return label if len(label) > 1 and label[0].isalpha() else f"appraiser {label}"


def plan_words(readings: int, appraisers: int) -> str:
    """How many readings, and by how many if not one, for a line of a picture.

    >>> plan_words(1, 1), plan_words(4, 2)
    ('1 reading', '4 readings by 2')
    """
    return plural(readings, "reading") + (f" by {appraisers}" if appraisers > 1 else "")


def upper_first(text: str) -> str:
    """A sentence's first letter.

    >>> upper_first("gauge K5 reads high")
    'Gauge K5 reads high'
    """
    return text[:1].upper() + text[1:]
