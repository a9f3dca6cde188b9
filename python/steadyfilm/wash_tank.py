"""Wash tanks: titration, additions, drag-out, rinsing, coating weight, and what is used for the area painted.

Amounts are arithmetic on the numbers given. What may be added, how, and with what protection, says the product's data sheet.
"""

from __future__ import annotations

from steadyfilm import _core
from steadyfilm._result import Made, build
from steadyfilm._wash_sums import Addition, CoatingWeight, Titration
from steadyfilm._wash_use import Consumption, consumption_chart
from steadyfilm.errors import InvalidInputError

__all__ = [
    "Addition",
    "CoatingWeight",
    "Consumption",
    "Titration",
    "coating_weight",
    "consumption_chart",
    "drag_out_concentration",
    "hours_to_concentration",
    "rinse_flow_for_ratio",
    "rinse_ratio",
    "tank_addition",
    "titration",
]

_IN = 0.0254
"""Meters: 1 in is 25.4 mm exactly."""


def titration(
    titrant_ml: float,
    *,
    percent_per_ml: float,
    reading_uncertainty_ml: float = 0.0,
    lower_percent: float | None = None,
    upper_percent: float | None = None,
) -> Titration:
    """Concentration of a bath from the titrant used, and how it stands to its working band.

    Parameters
    ----------
    titrant_ml : float
        Titrant used.
    percent_per_ml : float
        Factor of the product for the sample taken, from its data sheet.
    reading_uncertainty_ml : float
        Standard uncertainty of the burette's reading.
    lower_percent, upper_percent : float, optional
        Working band, both or none.

    Examples
    --------
    >>> print(titration(8.0, percent_per_ml=0.35, reading_uncertainty_ml=0.1, lower_percent=2.5, upper_percent=3.5).sentence())
    8 mL of titrant make 2.8 % ± 0.07 %: inside the band of 2.5 to 3.5 %.
    """
    found = _core.titration_concentration(titrant_ml, percent_per_ml, reading_uncertainty_ml)
    state = ""
    if (lower_percent is None) != (upper_percent is None):
        raise InvalidInputError("a band needs both of its limits, or none", argument="lower_percent")
    if lower_percent is not None and upper_percent is not None:
        if not lower_percent < upper_percent:
            raise InvalidInputError(f"lower_percent ({lower_percent}) must lie below upper_percent", argument="lower_percent")
        room = min(found["percent"] - lower_percent, upper_percent - found["percent"])
        near = abs(room) < 2.0 * found["standard_uncertainty"]
        state = "doubtful" if near else "inside" if room >= -1e-9 * upper_percent else "outside"
    options = {"reading_uncertainty": reading_uncertainty_ml, "lower": lower_percent, "upper": upper_percent}
    made = Made("titration", "%", 1, options=options, version=_core.version)
    return build(Titration, found, titrant_ml=float(titrant_ml), percent_per_ml=float(percent_per_ml), state=state, made=made)


def tank_addition(
    *, from_percent: float, to_percent: float, tank_gal: float | None = None, tank_l: float | None = None
) -> Addition:
    """How much concentrate lifts a tank to a concentration.

    Adding at every small deviation makes the bath vary more, not less: leave it alone inside its band.

    Parameters
    ----------
    from_percent, to_percent : float
        By volume.
    tank_gal, tank_l : float
        The tank's volume, in one of the two units.

    Raises
    ------
    InvalidInputError
        No volume or two, percents out of 0 to 100, a lower concentration asked for.

    Examples
    --------
    >>> print(tank_addition(tank_gal=1200, from_percent=2.5, to_percent=3.0).sentence())
    6.154 gal (6 without displacement) of concentrate lift 1200 gal from 2.5 to 3.0 %.
    """
    unit, volume = _one_of(tank_gal=tank_gal, tank_l=tank_l)
    found = _core.addition_volume(volume, from_percent, to_percent)
    made = Made("tank_addition", unit, 1, version=_core.version)
    numbers = {"tank_volume": volume, "from_percent": float(from_percent), "to_percent": float(to_percent)}
    return build(Addition, found, **numbers, made=made)


def drag_out_concentration(
    start_percent: float,
    hours: float,
    *,
    tank_gal: float | None = None,
    loss_gal_h: float | None = None,
    tank_l: float | None = None,
    loss_l_h: float | None = None,
) -> float:
    """Concentration left after losses that are made up with water, percent.

    Examples
    --------
    >>> round(drag_out_concentration(3.0, 16, tank_gal=1200, loss_gal_h=2), 3)
    2.921
    """
    volume, loss = _tank_and_loss(tank_gal, loss_gal_h, tank_l, loss_l_h)
    return _core.drag_out_concentration(volume, loss, start_percent, hours)


def hours_to_concentration(
    start_percent: float,
    level_percent: float,
    *,
    tank_gal: float | None = None,
    loss_gal_h: float | None = None,
    tank_l: float | None = None,
    loss_l_h: float | None = None,
) -> float:
    """Hours until losses bring a bath down to a level when nothing is added.

    Examples
    --------
    >>> round(hours_to_concentration(3.0, 2.5, tank_gal=600, loss_gal_h=12), 1)
    9.1
    """
    volume, loss = _tank_and_loss(tank_gal, loss_gal_h, tank_l, loss_l_h)
    return _core.hours_to_concentration(volume, loss, start_percent, level_percent)


def rinse_ratio(
    *,
    drag_gal_h: float | None = None,
    flow_gal_h: float | None = None,
    drag_l_h: float | None = None,
    flow_l_h: float | None = None,
) -> float:
    """Share of the bath's concentration that its rinse settles at, percent.

    Examples
    --------
    >>> round(rinse_ratio(drag_gal_h=2, flow_gal_h=180), 1)
    1.1
    """
    drag, flow = _tank_and_loss(drag_gal_h, flow_gal_h, drag_l_h, flow_l_h, names=("drag", "flow"))
    return _core.rinse_ratio(drag, flow)


def rinse_flow_for_ratio(ratio_percent: float, *, drag_gal_h: float | None = None, drag_l_h: float | None = None) -> float:
    """Fresh water that holds a rinse at such a share of the bath, in the unit of the drag-out.

    Examples
    --------
    >>> round(rinse_flow_for_ratio(3.0, drag_gal_h=2), 1)
    64.7
    """
    _, drag = _one_of(drag_gal_h=drag_gal_h, drag_l_h=drag_l_h)
    return _core.rinse_flow_for_ratio(drag, ratio_percent)


def coating_weight(
    loss_mg: float,
    *,
    width_in: float | None = None,
    length_in: float | None = None,
    width_mm: float | None = None,
    length_mm: float | None = None,
    sides: int = 2,
    balance_mg: float = 0.0,
    weighings: int = 2,
) -> CoatingWeight:
    """Coating weight of a panel that is weighed, stripped and weighed again.

    Stripping is laboratory work with its own protection.

    Parameters
    ----------
    loss_mg : float
        Weight lost in stripping.
    width_in, length_in, width_mm, length_mm : float
        Size of the panel, both in one unit.
    sides : int
        Coated sides, 1 or 2.
    balance_mg : float
        Error of one weighing; the weighings' errors add by root sum of squares.
    weighings : int

    Examples
    --------
    >>> print(coating_weight(14.6, width_in=4, length_in=6, balance_mg=0.2).sentence())
    The coating weighs 43.8 mg/ft2 ± 0.85 (0.4715 g/m2).
    """
    if sides not in (1, 2):
        raise InvalidInputError(f"sides must be 1 or 2, got {sides}", argument="sides")
    unit, width = _one_of(width_in=width_in, width_mm=width_mm)
    other, length = _one_of(length_in=length_in, length_mm=length_mm)
    if unit != other:
        raise InvalidInputError("width and length must be in one unit", argument=f"length_{other}")
    scale = _IN if unit == "in" else 0.001
    area = width * scale * length * scale * sides
    found = _core.coating_weight(loss_mg, area)
    error = _core.coating_weight_error(balance_mg, weighings, area)
    made = Made("coating_weight", "mg/ft2", 1, options={"balance_mg": balance_mg, "weighings": weighings}, version=_core.version)
    errors = {f"error_{name}": value for name, value in error.items()}
    return build(CoatingWeight, {**found, **errors}, loss_mg=float(loss_mg), area_m2=area, made=made)


def _one_of(**given: float | None) -> tuple[str, float]:
    """The one number that is given, and the unit in its name."""
    found = {name: value for name, value in given.items() if value is not None}
    if len(found) != 1:
        raise InvalidInputError(f"give one of {' and '.join(given)}, got {len(found)}", argument=next(iter(given)))
    ((name, value),) = found.items()
    return name.split("_", 1)[1], float(value)


def _tank_and_loss(
    first_gal: float | None,
    second_gal: float | None,
    first_l: float | None,
    second_l: float | None,
    names: tuple[str, str] = ("tank", "loss"),
) -> tuple[float, float]:
    """Two amounts in one unit."""
    gallons, liters = (first_gal, second_gal), (first_l, second_l)
    for pair, other in ((gallons, liters), (liters, gallons)):
        if pair[0] is not None and pair[1] is not None and other == (None, None):
            return float(pair[0]), float(pair[1])
    raise InvalidInputError(f"give {names[0]} and {names[1]}, both in gallons or both in liters", argument=f"{names[0]}_gal")
