"""Option values of the wrong kind: every public function of the charts says which option, what it must be, and the way out."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm import (
    baseline,
    capability,
    chart_ewma,
    chart_individuals,
    chart_nested,
    chart_subgroup,
    false_alarms,
    findings,
    monitor,
    run_rules,
    screens,
    streams,
)
from steadyfilm._input import check_options

VALUES = [2.11, 2.07, 2.14, 2.09, 2.12, 2.10, 2.08, 2.13]
TABLE = {"film": VALUES, "gun": ["A", "B"] * 4}
BODIES = {"film": VALUES, "body": [1, 1, 2, 2, 3, 3, 4, 4], "place": ["l", "r"] * 4}
LIMITS = sf.MonitorLimits(center=2.1, sigma_point=0.05)
DAYS = sf.baseline(
    {"film": [2.1, 2.0, 2.2, 2.3, 2.2, 2.4, 2.2, 2.3, 2.1, 2.0, 1.9, 2.1], "day": [f"day {k // 3}" for k in range(12)]},
    "film",
    unit="mil",
    period="day",
)
SIGNAL = sf.find_signals([0.2, 3.4], rules=sf.BEYOND_LIMITS)[0]

CALLS: dict[str, tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]]] = {
    "subgroup_chart": (sf.subgroup_chart, (VALUES,), {"unit": "mil", "subgroup_size": 2}),
    "subgroup_limits_from_averages": (
        sf.subgroup_limits_from_averages,
        (),
        {"center": 2.1, "mean_spread": 0.05, "unit": "mil", "subgroup_size": 2},
    ),
    "subgroup_signals": (sf.subgroup_signals, (VALUES,), {"unit": "mil", "subgroup_size": 2}),
    "individuals_chart": (sf.individuals_chart, (VALUES,), {"unit": "mil"}),
    "individuals_limits_from_averages": (
        sf.individuals_limits_from_averages,
        (),
        {"center": 2.1, "mean_moving_range": 0.05, "unit": "mil"},
    ),
    "nested_chart": (sf.nested_chart, (BODIES, "film"), {"unit": "mil", "body": "body", "location": "place"}),
    "nested_false_alarm": (
        sf.nested_false_alarm,
        (),
        {
            "unit": "mil",
            "sigma_unit": 0.1,
            "sigma_location": 0.05,
            "sigma_repeat": 0.02,
            "location_count": 5,
            "readings_per_location": 3,
        },
    ),
    "ewma_chart": (sf.ewma_chart, (VALUES,), {"unit": "mil"}),
    "streams": (streams.streams, (TABLE, "film"), {"unit": "mil", "stream": "gun", "fewest_points": 2}),
    "capability": (capability.capability, (VALUES,), {"unit": "mil", "lower": 1.9, "upper": 2.3}),
    "capability_indices": (capability.capability_indices, (), {"mean": 2.1, "sigma": 0.05, "lower": 1.9}),
    "fraction_outside": (capability.fraction_outside, (), {"mean": 2.1, "sigma": 0.05, "lower": 1.9}),
    "shifted_capability": (capability.shifted_capability, (), {"cp": 2.0, "shift_sigma": 1.5}),
    "cp_interval": (capability.cp_interval, (), {"estimate": 1.3, "sample_size": 20}),
    "cpk_interval": (capability.cpk_interval, (), {"estimate": 1.3, "sample_size": 20}),
    "one_sided_index_interval": (capability.one_sided_index_interval, (), {"estimate": 1.3, "sample_size": 20}),
    "one_sided_index_critical_value": (capability.one_sided_index_critical_value, (), {"index": 1.3, "sample_size": 20}),
    "one_sided_index_moments": (capability.one_sided_index_moments, (), {"index": 1.3, "sample_size": 20}),
    "cpk_sampling_distribution": (
        capability.cpk_sampling_distribution,
        (),
        {"cpk": 1.3, "off_center_sigma": 0.1, "sample_size": 20},
    ),
    "cpm_index": (capability.cpm_index, (VALUES,), {"lower": 1.9, "upper": 2.3, "target": 2.1}),
    "cpm_interval": (capability.cpm_interval, (), {"estimate": 1.3, "sample_size": 20, "off_target_sigma": 0.1}),
    "baseline": (baseline.baseline, (TABLE, "film"), {"unit": "mil", "fewest_points": 2}),
    "points_for": (baseline.points_for, (), {"found": baseline.baseline(TABLE, "film", unit="mil"), "data": TABLE}),
    "residual_days": (
        baseline.residual_days,
        (),
        {
            "found": baseline.baseline(
                TABLE | {"time": np.arange("2026-03-01", "2026-03-09", dtype="datetime64[D]")}, "film", unit="mil", time="time"
            )
        },
    ),
    "spread_limits": (monitor.spread_limits, (), {"center": 0.09, "sigma_point": 0.03}),
    "monitor": (monitor.monitor, (), {"limits": LIMITS, "state": None, "points": VALUES}),
    "monitor_points": (monitor.monitor_points, (VALUES,), {"unit": "mil"}),
    "find_signals": (run_rules.find_signals, ([0.2, 3.4],), {"rules": sf.BEYOND_LIMITS}),
    "pattern_points": (run_rules.pattern_points, (), {"signal": SIGNAL, "z": [0.2, 3.4]}),
    "pattern_probability": (run_rules.pattern_probability, (), {"rule": "trend6"}),
    "screen": (screens.screen, (BODIES, "film"), {"unit": "mil", "serial": "body", "location": "place"}),
    "findings": (findings.findings, ({"film": VALUES * 3}, "film"), {"unit": "mil"}),
    "logged_events": (findings.logged_events, ({"time": ["2026-03-02 05:50"], "what": ["nozzle"]},), {"text": "what"}),
    "gauge_checks": (
        findings.gauge_checks,
        ({"time": ["2026-03-02 05:50"], "gauge": ["Q"], "value": [1.0], "stated": [1.0]},),
        {"unit": "mil"},
    ),
    "day_model": (false_alarms.day_model, (), {"found": DAYS}),
    "expected_episodes": (false_alarms.expected_episodes, (LIMITS, 20), {"most_points": 4000}),
}
MODULES = (
    chart_subgroup,
    chart_individuals,
    chart_nested,
    chart_ewma,
    streams,
    capability,
    baseline,
    monitor,
    run_rules,
    screens,
    findings,
    false_alarms,
)
WRONG: dict[str, tuple[Any, ...]] = {
    "int": ("2", 2.5, True, [2]),
    "float": ("0.05", True, [0.05]),
    "str": (3, ["mil"]),
    "bool": ("yes", 1),
    "timedelta | None": (8, "8 h"),
    "Sequence[str]": (3, [3]),
}


def wrong_values() -> list[tuple[str, str, Any]]:
    """Function, option and a value that the option cannot be."""
    cases = []
    for name, (function, _, _) in CALLS.items():
        for option, annotation in function.__annotations__.items():
            for kind, values in WRONG.items():
                arms = str(annotation).split(" | ")
                if option == "return" or kind.split(" | ")[0] not in arms or ("float" in arms and kind in ("int", "str")):
                    continue
                if kind == "str" and any(arm.startswith("Sequence") for arm in arms):
                    continue
                cases += [(name, option, value) for value in values if not ("str" in arms and isinstance(value, str))]
                if "None" not in arms:
                    cases.append((name, option, None))
    return cases


def test_every_public_function_of_these_topics_is_in_the_table() -> None:
    public = {
        name
        for module in MODULES
        for name in module.__all__
        if inspect.isfunction(getattr(module, name)) or (name in CALLS and callable(getattr(module, name)))
    }
    assert public == set(CALLS)


@pytest.mark.parametrize("name", CALLS)
def test_the_right_kinds_are_taken(name: str) -> None:
    function, data, options = CALLS[name]
    function(*data, **options)


@pytest.mark.parametrize(("name", "option", "value"), wrong_values())
def test_a_value_of_the_wrong_kind_is_refused_by_name(name: str, option: str, value: Any) -> None:
    function, data, options = CALLS[name]
    positional = list(inspect.signature(function).parameters)[: len(data)]
    if option in positional:
        data, options = (), {**dict(zip(positional, data, strict=True)), **options}
    with pytest.raises(sf.InvalidInputError) as caught:
        function(*data, **(options | {option: value}))
    said = str(caught.value)
    assert caught.value.argument == option
    assert said.startswith(f"{option} must be ")
    assert f"({type(value).__name__}): " in said
    assert "incompatible" not in said


def test_what_to_write_instead_is_said() -> None:
    with pytest.raises(sf.InvalidInputError, match="span must be a whole number, got '2' \\(str\\): write it without quotes, 2"):
        sf.individuals_chart(VALUES, unit="mil", span="2")  # type: ignore[arg-type]
    with pytest.raises(sf.InvalidInputError, match=r"sigma_multiple must be a number, got None .*: leave it out for its default"):
        sf.individuals_chart(VALUES, unit="mil", sigma_multiple=None)  # type: ignore[arg-type]
    with pytest.raises(sf.InvalidInputError, match="limits must be a MonitorLimits, got "):
        sf.monitor(3.0, None, VALUES)  # type: ignore[operator]
    with pytest.raises(sf.InvalidInputError, match=r"center must be a number, got '2.1'"):
        sf.MonitorLimits(center="2.1")  # type: ignore[arg-type]


def test_numbers_of_numpy_are_numbers() -> None:
    exact = sf.individuals_chart(VALUES, unit="mil", span=2, sigma_multiple=3.0)
    other = sf.individuals_chart(VALUES, unit="mil", span=np.int64(2), sigma_multiple=np.float64(3))  # type: ignore[arg-type]
    assert other.limits == exact.limits
    sf.individuals_chart(VALUES, unit="mil", sigma_multiple=3)


def test_what_is_annotated_as_data_is_left_alone() -> None:
    def f(data: Any, pause: timedelta | None, names: list[int]) -> None:
        check_options(f, locals())

    f(object(), None, [1])
    with pytest.raises(
        sf.InvalidInputError, match="pause must be a positive timedelta, for example timedelta\\(hours=8\\), got 3 \\(int\\)"
    ):
        f(object(), 3, [1])  # type: ignore[arg-type]
