"""The options of ``steadyfilm gauge`` as the library wants them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyfilm._format import number
from steadyfilm._gauge.study_file import StudyColumns, retold
from steadyfilm.errors import DataProblemsError, InvalidInputError, PlanError
from steadyfilm.limits import SpecLimits
from steadyfilm.measurability import Measurability, StudyWindow, judge_gauge_file, plan_study_columns, plan_windows

if TYPE_CHECKING:
    from steadyfilm.plan import Plan

__all__ = ["GaugeOptions", "run_gauge"]

OPEN = "-"
"""Stands for the limit that a window does not have."""
WAYS = (
    (" Name it in the plan's [columns].", " Say which with --column WHAT=NAME, or with --apart."),
    ("set decimal = ',' in the plan's [file]", "give --decimal ','"),
    ("set decimal = '.' in the plan's [file]", "give --decimal '.'"),
    ("list their word under missing in the plan's [file]", "give their word with --missing"),
    ("set header_line in the plan's [file]", "give --header-line"),
    ("Set separator = ", "Give --separator "),
    ("Set encoding = ", "Give --encoding "),
    ("Set sheet", "Give --sheet"),
    ("with sheet", "with --sheet"),
    ("encoding = ", "--encoding "),
    ("sheet = ", "--sheet "),
    (" in the plan's [file]", ""),
)
"""What an error says of a plan, and the option that does the same."""
STUDY_WAYS = (
    ("column of units", "column of units with --column unit_of_measure=NAME"),
    ("(unit)", "with --unit"),
    ("write nested=True", "give --nested"),
    ("write unbalanced='drop_parts'", "give --drop-parts"),
)
"""What the library says of its arguments, and the option that does the same."""


@dataclass(frozen=True)
class GaugeOptions:
    """What was typed; ``None`` and empty are what was not."""

    windows: tuple[tuple[str, str], ...] = ()
    plan: Plan | None = None
    unit: str | None = None
    written_in: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    """Names by what they are; an empty one says that there is no such column."""
    apart: tuple[str, ...] = ()
    nested: bool = False
    drop_parts: bool = False
    share: float = 30.0
    bias: float = 0.0
    most_readings: int | None = None
    how_written: Mapping[str, Any] = field(default_factory=dict)


def run_gauge(path: Path | None, given: GaugeOptions) -> Measurability:
    """Read and judge a study; errors name the option that is the way out."""
    plan = given.plan
    section = plan.gauge_study if plan is not None else None
    if path is None:
        if plan is None or section is None:
            raise PlanError("no study: name its file, or a --plan with a [gauge_study]")
        path = plan.path(section.file)
    unit = given.unit or (plan.measure.unit if plan is not None else None)
    windows = [_window(pair, given) for pair in given.windows]
    if plan is not None and not windows:
        windows = list(plan_windows(plan))
        if given.unit is not None and plan.measure.unit not in ("unstated", given.unit):
            raise InvalidInputError(
                f"the plan's windows are in {plan.measure.unit}, --unit says {given.unit}: leave --unit out, or give --window",
                argument="unit",
            )
    usual = plan_study_columns(plan) if plan is not None else StudyColumns()
    for name in ("part", "value"):
        if given.columns.get(name) == "":
            raise PlanError(f"--column {name}=: a study has no figures without that column; name it")
    columns = replace(usual, apart=given.apart or usual.apart, **given.columns)
    how_written: dict[str, Any] = plan.reading_options(section) if plan is not None else {}
    how_written |= given.how_written
    if how_written.get("decimal", ".") == how_written.get("separator", ","):
        raise InvalidInputError(
            f"the decimal sign and the separator are both '{how_written.get('separator', ',')}': give --separator ';' (or '\\t')",
            argument="separator",
        )
    more: dict[str, Any] = {"most_readings": given.most_readings} if given.most_readings is not None else {}
    try:
        return judge_gauge_file(
            path,
            windows,
            columns=columns,
            unit=unit,
            written_in=given.written_in or (plan.measure.written_in if plan is not None else None),
            nested=given.nested,
            unbalanced="drop_parts" if given.drop_parts else None,
            share_limit=given.share / 100.0,
            bias_bound=given.bias,
            title=plan.title if plan is not None else "",
            inputs={plan.name: plan.sha256} if plan is not None else None,
            **more,
            **how_written,
        )
    except DataProblemsError as error:
        raise retold(error, WAYS) from None
    except InvalidInputError as error:
        words = str(error)
        for said, instead in STUDY_WAYS:
            words = words.replace(said, instead)
        raise InvalidInputError(words, argument=error.argument) from None


def _window(pair: Sequence[str], given: GaugeOptions) -> StudyWindow:
    """Two limits as typed, ``-`` for one that is absent; with the decimal sign of the file or a point."""
    decimal = given.how_written.get("decimal", ".")
    limits: list[float | None] = []
    for text in pair:
        if text == OPEN:
            limits.append(None)
            continue
        try:
            limits.append(float(text.replace(decimal, ".")))
        except ValueError:
            raise PlanError(
                f"--window {' '.join(pair)}: '{text}' is no number; give two limits, {OPEN} for one that is absent"
            ) from None
    if limits == [None, None]:
        raise PlanError(f"--window {' '.join(pair)}: no limit at all; give one number at least")
    low, high = limits
    if low is not None and high is not None and not low < high:
        raise PlanError(f"--window {' '.join(pair)}: {number(low)} must lie below {number(high)}")
    return StudyWindow("", SpecLimits(low, high))
