"""Other invented shops, made from a scenario by changing some of its data."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any, TypeVar, cast

from .displays import Display
from .planted import GaugeOffset, TypedInOtherUnit
from .scenario import SHOP, Batch, Layer, Scenario, Style
from .validate import check

T = TypeVar("T")


def variant(
    scenario: Scenario = SHOP,
    changes: Mapping[str, object] | None = None,
    *,
    rename: Mapping[str, str] | None = None,
) -> Scenario:
    """Return a scenario with some of its data changed.

    Parameters
    ----------
    scenario : Scenario
        The shop to start from.
    changes : mapping of str to object
        Dotted path to new value. A step is a field name, a key of a mapping, or an element of a
        tuple: its position, or its ``code`` or ``name``. Keys of mappings may be new.
    rename : mapping of str to str
        Old name to new name, applied afterward to every text in the scenario that is the old name:
        painters, guns, booths, shifts, gauges, substrates, layers, readings, locations.

    Raises
    ------
    KeyError
        If a path leads nowhere.
    ValueError
        If the new scenario contradicts itself.

    Examples
    --------
    >>> shop = variant(
    ...     SHOP,
    ...     {"units_per_day": (4, 6), "events.E2.factor": 0.95, "style.separator": ";"},
    ...     rename={"G1": "left gun", "topcoat": "finish"},
    ... )
    >>> shop.layers[1].gun["left gun"]
    -0.015
    """
    for path, value in (changes or {}).items():
        scenario = cast(Scenario, _set(scenario, path.split("."), value, path))
    if rename:
        scenario = _renamed(scenario, rename)
    check(scenario)
    return scenario


def _set(node: Any, steps: list[str], value: object, path: str) -> object:
    if not steps:
        return value
    step, rest = steps[0], steps[1:]
    if dataclasses.is_dataclass(node) and not isinstance(node, type):
        if step not in {f.name for f in dataclasses.fields(node)}:
            raise KeyError(f"{path}: {type(node).__name__} has no field {step!r}")
        new = _set(getattr(node, step), rest, value, path)
        return dataclasses.replace(node, **{step: new})
    if isinstance(node, Mapping):
        if rest and step not in node:
            raise KeyError(f"{path}: no {step!r} among {', '.join(map(str, node))}")
        return {**node, step: _set(node.get(step), rest, value, path)}
    if isinstance(node, tuple):
        names = [getattr(x, "code", getattr(x, "name", None)) for x in node]
        found = names.index(step) if step in names else int(step) if step.isdigit() else -1
        if not 0 <= found < len(node):
            raise KeyError(f"{path}: no element {step!r} among {', '.join(map(str, names))}")
        new = _set(node[found], rest, value, path)
        return (*node[:found], new, *node[found + 1 :])
    raise KeyError(f"{path}: nothing lies under {step!r}")


def _renamed(node: T, names: Mapping[str, str]) -> T:
    new: object = node
    if isinstance(node, str):
        new = names.get(node, node)
    elif isinstance(node, tuple):
        new = tuple(_renamed(x, names) for x in node)
    elif isinstance(node, Mapping):
        new = {_renamed(k, names): _renamed(v, names) for k, v in node.items()}
    elif dataclasses.is_dataclass(node) and not isinstance(node, type):
        fields = {f.name: getattr(node, f.name) for f in dataclasses.fields(node)}
        new = dataclasses.replace(node, **{k: _renamed(v, names) for k, v in fields.items()})
    return cast(T, new)


def in_micrometers(scenario: Scenario = SHOP, resolution: float = 0.1) -> Scenario:
    """Return the shop with gauges that all display um; the slip of the unit is then mil. Other files are metric too."""
    display = Display(unit="um", resolution=resolution)
    gauges = tuple(dataclasses.replace(x, display=dict.fromkeys(x.display, display)) for x in scenario.gauges)
    events = tuple(
        dataclasses.replace(x, shown="mil", resolution=0.01, typed="um") if isinstance(x, TypedInOtherUnit) else x
        for x in scenario.events
    )
    studies = tuple(dataclasses.replace(x, display=None) for x in scenario.studies)
    return variant(_metric(dataclasses.replace(scenario, gauges=gauges, events=events, studies=studies)))


def _metric(scenario: Scenario) -> Scenario:
    """Return the shop with liters, g/m2 and m2 in its files."""
    washer, panels, output = scenario.washer, scenario.panels, scenario.output
    return dataclasses.replace(
        scenario,
        washer=None if washer is None else dataclasses.replace(washer, volume_unit="L"),
        panels=None if panels is None else dataclasses.replace(panels, weight_unit="g/m2"),
        output=None if output is None else dataclasses.replace(output, unit="m2"),
    )


def one_booth(scenario: Scenario = SHOP) -> Scenario:
    """Return the shop with its first booth alone; its painters and gun effects stay."""
    booths = scenario.booths[:1]
    crews = tuple(x for x in scenario.crews if x.booth in booths)
    painters = {x.painter for x in crews}
    layers = tuple(
        dataclasses.replace(x, painter={name: v for name, v in x.painter.items() if name in painters}) for x in scenario.layers
    )
    maintenance = tuple(x for x in scenario.maintenance if x.factor != "booth" or x.item in booths)
    return variant(dataclasses.replace(scenario, booths=booths, crews=crews, layers=layers, maintenance=maintenance))


def three_coats() -> Scenario:
    """Return a shop with primer, mid coat and top coat, its own names, um and a decimal comma.

    Its readings are cumulative (primer, primer with mid coat, all three), its files have other
    column names and ``;`` between cells, and it keeps no event log.
    """
    base = in_micrometers(SHOP)
    primer, topcoat = base.layers
    mid = Layer(
        name="mid coat",
        reading="primer and mid coat",
        mean=1.40,
        batches=(Batch(day=1, offset=0.0), Batch(day=8, offset=0.015), Batch(day=15, offset=-0.01)),
        batch_label="MC{number:02d}",
        painter={"P2": 0.03},
        gun={"G1": 0.01, "G2": -0.01},
        substrate={},
        location=primer.location,
        day_sd=0.025,
        day_phi=0.6,
        unit_sd=0.040,
        unit_location_sd=0.075,
        repeat_sd=0.040,
        read_minute=210,
        read_span=90,
    )
    shop = dataclasses.replace(
        base,
        layers=(primer, mid, dataclasses.replace(topcoat, reading="all coats")),
        unit_label="{number:05d}",
        windows={
            "primer": (1.0, 1.2),
            "mid coat": (1.3, 1.5),
            "topcoat": (2.0, 2.2),
            "all coats": (4.3, 5.0),
        },
        style=Style(
            separator=";",
            decimal=",",
            columns={
                "unit": "serial no",
                "value": "thickness",
                "layer": "after coat",
                "location": "place",
                "painter": "operator",
                "gun": "pistol",
                "unit_of_measure": "dimension",
                "time": "read at",
            },
            unit_labels={"um": "µm"},
            event_log=False,
        ),
    )
    # A knocked gauge moves more on a thicker film system; elsewhere the faults stay as they are.
    events = tuple(dataclasses.replace(x, offset=0.2) if isinstance(x, GaugeOffset) else x for x in shop.events)
    return variant(
        dataclasses.replace(shop, events=events),
        rename={
            "topcoat": "top coat",
            "P1": "Operator A",
            "P2": "Operator B",
            "P3": "Operator C",
            "P4": "Operator D",
            "P5": "Operator E",
            "G1": "north pistol",
            "G2": "south pistol",
            "Q1": "meter 11",
            "Q2": "meter 12",
            "B1": "cabin 1",
            "B2": "cabin 2",
            "O1": "box oven",
            "M1": "counter 3",
        },
    )
