"""Wash tanks: titration, additions, drag-out, rinsing, coating weight, and what is used for the area painted.

Amounts are arithmetic on the numbers given. What may be added, how, and with what protection, says the product's data sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import alike, fixed, number, plural, with_unit
from steadyfilm._gauge_columns import numbers_beside
from steadyfilm._input import column_of, pause, readings, times
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.chart_individuals import IndividualsChart, individuals_chart
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import ControlLimits
from steadyfilm.run_rules import BEYOND_LIMITS

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

_PAGE = "cpp/methods/wash_tank.md"
_CARE = "arithmetic only; what may be added, how, and with what protection, says the product's data sheet"
_IN, _FT2 = 0.0254, 0.09290304


@dataclass(frozen=True, eq=False, repr=False)
class Titration(Result):
    """A concentration by titration, percent.

    Against a working band ``state`` is ``inside``, ``outside`` or ``doubtful`` (a limit is within reach); empty without one.
    """

    percent: float
    standard_uncertainty: float
    titrant_ml: float
    percent_per_ml: float
    state: str

    def sentence(self) -> str:
        known = f" ± {number(2 * self.standard_uncertainty, 2)} %" if self.standard_uncertainty > 0 else ""
        text = f"{number(self.titrant_ml)} mL of titrant make {number(self.percent, 4)} %{known}"
        if not self.state:
            return text + "."
        low, high = alike(self.made.options["lower"], self.made.options["upper"])
        said = {"inside": "inside", "outside": "outside", "doubtful": "too near a limit to tell whether it is inside"}[self.state]
        return f"{text}: {said} the band of {low} to {high} %."

    def _columns(self) -> dict[str, Any]:
        return {"statistic": ["percent", "standard_uncertainty"], "value": [self.percent, self.standard_uncertainty]}

    def explain(self) -> Explanation:
        inputs = {"titrant_ml": self.titrant_ml, "percent_per_ml": self.percent_per_ml}
        known = {"reading_uncertainty": float(self.made.options["reading_uncertainty"]), "percent_per_ml": self.percent_per_ml}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("percent", "titrant_ml * percent_per_ml", inputs, self.percent),
                Step("standard_uncertainty", "reading_uncertainty * percent_per_ml", known, self.standard_uncertainty),
            ),
            choices={
                "band": "doubtful within two standard uncertainties of a limit",
                "factor": "of the product and its sample, given",
            },
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class Addition(Result):
    """Concentrate that lifts a tank to a concentration, in the unit of its volume.

    ``exact`` counts that as much of the old bath runs over as is poured in; ``growing`` that nothing runs over and the bath
    grows; ``simple`` counts neither.
    """

    simple: float
    exact: float
    growing: float
    tank_volume: float
    from_percent: float
    to_percent: float

    def sentence(self) -> str:
        unit = self.made.unit
        low, high = alike(self.from_percent, self.to_percent)
        tank = with_unit(self.tank_volume, unit)
        if self.exact == 0.0:
            return f"{tank} stand at {high} % already: nothing to add."
        simple = (
            "" if math.isclose(self.simple, self.exact, rel_tol=1e-3) else f" ({number(self.simple, 4)} without displacement)"
        )
        return f"{with_unit(self.exact, unit)}{simple} of concentrate lift {tank} from {low} to {high} %."

    def _columns(self) -> dict[str, Any]:
        return {"way": ["simple", "exact", "growing"], f"volume_{self.made.unit}": [self.simple, self.exact, self.growing]}

    def explain(self) -> Explanation:
        inputs = {"tank_volume": self.tank_volume, "from_percent": self.from_percent, "to_percent": self.to_percent}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("simple", "tank_volume * (to_percent - from_percent) / 100", inputs, self.simple),
                Step("exact", "tank_volume * (to_percent - from_percent) / (100 - from_percent)", inputs, self.exact),
                Step("growing", "tank_volume * (to_percent - from_percent) / (100 - to_percent)", inputs, self.growing),
            ),
            choices={"care": _CARE},
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class CoatingWeight(Result):
    """Weight of a coating by weighing, stripping and weighing again; ``error_...`` is what the balance makes of it."""

    mg_per_ft2: float
    g_per_m2: float
    error_mg_per_ft2: float
    error_g_per_m2: float
    loss_mg: float
    area_m2: float

    def sentence(self) -> str:
        decimals = 1 if self.error_mg_per_ft2 >= 0.1 else 2
        error = f" ± {fixed(self.error_mg_per_ft2, 2)}" if self.error_mg_per_ft2 > 0 else ""
        return f"The coating weighs {fixed(self.mg_per_ft2, decimals)} mg/ft2{error} ({number(self.g_per_m2, 4)} g/m2)."

    def _columns(self) -> dict[str, Any]:
        return {
            "unit": ["mg/ft2", "g/m2"],
            "weight": [self.mg_per_ft2, self.g_per_m2],
            "error": [self.error_mg_per_ft2, self.error_g_per_m2],
        }

    def explain(self) -> Explanation:
        inputs = {"loss_mg": self.loss_mg, "area_m2": self.area_m2}
        balance = {
            "balance_mg": float(self.made.options["balance_mg"]),
            "weighings": float(self.made.options["weighings"]),
            "area_m2": self.area_m2,
        }
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("g_per_m2", "loss_mg / 1000 / area_m2", inputs, self.g_per_m2),
                Step("mg_per_ft2", f"loss_mg / (area_m2 / {_FT2})", inputs, self.mg_per_ft2),
                Step("error_mg_per_ft2", f"balance_mg * sqrt(weighings) / (area_m2 / {_FT2})", balance, self.error_mg_per_ft2),
            ),
            choices={"stripping": "laboratory work with its own protection", "area": "of all sides that were coated"},
            sources=(_PAGE,),
        )


@dataclass(frozen=True, eq=False, repr=False)
class Consumption(Result):
    """What is used for the area painted, or an hour run: a chart of the rate, one point an interval.

    Attributes
    ----------
    chart : IndividualsChart
        Of the rates.
    used, exposure : array
        Of each charted interval: amount, and area or hours.
    left_out : int
        Intervals without area or hours, or longer than the longest gap.
    used_left_out : float
        Amount used in them.
    baseline_count : int
        First intervals from which center and limits come; 0: all of them.
    first_signal, first_out_of_band : str
        End of the first interval beyond the limits, and time of the first titration outside its band; empty if none.
    lead_hours : float
        From the first to the second; NaN if either is missing.
    """

    chart: IndividualsChart
    used: NDArray[np.float64]
    exposure: NDArray[np.float64]
    left_out: int
    used_left_out: float
    baseline_count: int
    first_signal: str
    first_out_of_band: str
    lead_hours: float

    @property
    def limits(self) -> ControlLimits:
        """Lines of the chart."""
        return self.chart.limits

    def sentence(self) -> str:
        unit = self.made.unit
        usual = f"usual {with_unit(self.chart.limits.center, unit, 3)}"
        limits = f"limits {number(self.chart.limits.lower, 3)} to {number(self.chart.limits.upper, 3)}"
        head = plural(self.chart.count, "interval")
        band = ""
        if self.first_out_of_band:
            band = f"; a titration leaves its band at {self.first_out_of_band.replace('T', ' ')}"
            if self.lead_hours > 0:
                band += f", {number(round(self.lead_hours, 1))} h later"
        if not self.chart.signals:
            return f"Use is steady over {head}: {usual}, {limits}{band}."
        at = self.chart.signals[0].point
        value = float(self.chart.values[at])
        way = "nothing is used" if value == 0.0 else f"use {'rises' if value > self.chart.limits.center else 'falls'} to "
        shown = way if value == 0.0 else f"{way}{with_unit(value, unit, 3)}"
        when = f" up to {self.first_signal.replace('T', ' ')}" if self.first_signal else ""
        return f"Use changed: {shown} in interval {at + 1} of {head}{when} ({usual}, {limits}){band}."

    def _columns(self) -> dict[str, Any]:
        columns: dict[str, Any] = {} if self.chart.time is None else {"time": self.chart.time}
        marked = {signal.point for signal in self.chart.signals}
        return columns | {
            "used": self.used,
            "exposure": self.exposure,
            "rate": self.chart.values,
            "lower": np.full(self.used.size, self.chart.limits.lower),
            "upper": np.full(self.used.size, self.chart.limits.upper),
            "signal": [k in marked for k in range(self.used.size)],
        }

    def explain(self) -> Explanation:
        limits = self.chart.limits
        inputs = {"center": limits.center, "sigma_within": self.chart.sigma_within}
        last = {"used": float(self.used[-1]), "exposure": float(self.exposure[-1])}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("last_rate", "used / exposure", last, float(self.chart.values[-1])),
                Step("limits_lower", "center - 3 * sigma_within", inputs, limits.lower),
                Step("limits_upper", "center + 3 * sigma_within", inputs, limits.upper),
            ),
            choices={
                "limits": f"from the first {self.baseline_count} intervals" if self.baseline_count else "from all intervals",
                "left out": f"{plural(self.left_out, 'interval')} without area or hours, or across a pause; "
                f"{number(self.used_left_out)} used in them",
                "care": _CARE,
            },
            sources=(_PAGE, "cpp/methods/chart_individuals.md"),
        )


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


def consumption_chart(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    per: str,
    exposure: Any = None,
    time: Any = None,
    metered: bool = True,
    longest_gap: timedelta | None = None,
    baseline: int = 0,
    rules: Sequence[str] = BEYOND_LIMITS,
    titrations: Sequence[float] | None = None,
    titration_time: Any = None,
    lower_percent: float | None = None,
    upper_percent: float | None = None,
) -> Consumption:
    """Has the use of a chemical changed? Amounts for the area painted, or the hours run, on a chart of individuals.

    A stuck pump, a leak or more drag-out changes the use at once, and the concentration only after hours of decay: this chart
    sees it before a titration leaves its band.

    Parameters
    ----------
    data : table, series, array or sequence
        Readings of a meter that counts on, in order of time; or amounts, one an interval (``metered=False``).
    unit, per : str
        Of the amounts and of what they are used for: ``"gal"`` and ``"h"``, or ``"gal"`` and ``"ft2"``.
    exposure : column name or sequence of numbers, optional
        Area painted or hours run in the interval that ends at each row; without it the hours between readings, from ``time``.
    time : column name or sequence, optional
        Local times, ascending.
    longest_gap : timedelta, optional
        A longer interval is a pause and no point; needs ``time``.
    baseline : int
        So many first intervals give center and limits; 0 for all.
    rules : sequence of rule words
        What counts as a signal.
    titrations, titration_time, lower_percent, upper_percent : optional
        Concentrations of the bath with their times and band, to tell how much earlier the chart saw it.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, times out of order.
    InvalidInputError
        A meter that runs backwards, fewer than two intervals, neither exposure nor times.

    Examples
    --------
    >>> meter = [0.0, 0.71, 1.44, 2.15, 2.88, 3.58, 3.58, 3.58]
    >>> when = [f"2026-03-02 {6 + 2 * k:02d}:00" for k in range(8)]
    >>> print(consumption_chart(meter, unit="gal", per="h", time=when, baseline=5).sentence())
    Use changed: nothing is used in interval 6 of 7 intervals up to 2026-03-02 18:00 (usual 0.358 gal/h, limits 0.328 to 0.388).
    """
    given = readings(data, column)
    stamps = None if time is None else times(column_of(data, time) if isinstance(time, str) else time)
    if stamps is not None and stamps.size != given.values.size:
        raise InvalidInputError(f"time has {stamps.size} rows, the readings have {given.values.size}", argument="time")
    shift = 1 if metered else 0
    used = _core.metered_use(given.values) if metered else given.values
    if stamps is not None and (np.isnat(stamps).any() or (np.diff(stamps) <= np.timedelta64(0, "us")).any()):
        raise InvalidInputError("time must rise from row to row and be there in each", argument="time")
    if longest_gap is not None and (stamps is None or not metered):
        raise InvalidInputError("longest_gap needs time, and readings of a meter", argument="longest_gap")
    if exposure is not None:
        amounts = numbers_beside(data, given, exposure, "exposure")[shift:]
    elif stamps is not None and metered:
        amounts = np.diff(stamps) / np.timedelta64(1, "h")
    else:
        raise InvalidInputError("give exposure, area or hours of each interval, or time with a meter", argument="exposure")
    rates = _core.use_rates(np.ascontiguousarray(used), np.ascontiguousarray(amounts))
    keep = np.isfinite(rates)
    if longest_gap is not None and stamps is not None:
        keep &= np.diff(stamps) <= pause(longest_gap)
    ends = None if stamps is None else stamps[shift:][keep]
    points = rates[keep]
    if points.size < 2 or not 0 <= baseline <= points.size or baseline == 1:
        raise InvalidInputError(
            f"{plural(int(points.size), 'interval')} with area or hours, baseline {baseline}: two or more are needed",
            argument="baseline",
        )
    lines: dict[str, Any] = {"unit": f"{unit}/{per}", "time": ends, "rules": rules, "point": "interval"}
    if baseline:
        usual = individuals_chart(points[:baseline], unit=lines["unit"])
        lines |= {"center": usual.limits.center, "sigma_within": usual.sigma_within}
    chart = individuals_chart(points, **lines)
    first = "" if not chart.signals or ends is None else str(ends[chart.signals[0].point].astype("datetime64[m]"))
    out = _first_out(titrations, titration_time, lower_percent, upper_percent)
    lead = float((np.datetime64(out) - np.datetime64(first)) / np.timedelta64(1, "h")) if first and out else math.nan
    made = Made(
        function="consumption_chart",
        unit=f"{unit}/{per}",
        count=int(points.size),
        frame=given.frame,
        options={"metered": metered, "baseline": baseline, "lower": lower_percent, "upper": upper_percent},
        version=_core.version,
    )
    return Consumption(
        made=made,
        chart=chart,
        used=frozen(used[keep]),
        exposure=frozen(amounts[keep]),
        left_out=int((~keep).sum()),
        used_left_out=float(used[~keep].sum()),
        baseline_count=baseline,
        first_signal=first,
        first_out_of_band=out,
        lead_hours=lead,
    )


def _first_out(values: Sequence[float] | None, time: Any, lower: float | None, upper: float | None) -> str:
    """Time of the first titration outside its band."""
    given = [item is not None for item in (values, time)]
    if not any(given) and lower is None and upper is None:
        return ""
    if not all(given) or (lower is None and upper is None):
        raise InvalidInputError("titrations need their times and a limit of their band", argument="titrations")
    found, stamps = readings(values, name="titrations").values, times(time, name="titration_time")
    if found.size != stamps.size:
        raise InvalidInputError(f"titration_time has {stamps.size} rows, titrations have {found.size}", argument="titration_time")
    out = (found < (-math.inf if lower is None else lower)) | (found > (math.inf if upper is None else upper))
    return str(stamps[out].min().astype("datetime64[m]")) if out.any() else ""


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
