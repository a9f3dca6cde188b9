"""Has the use of a wash tank's chemical changed, and is its titration inside the band? A month of a washer's files.

A feed pump that sticks, a leak or more drag-out changes the use at once; the concentration follows only after hours of decay. So
the use is charted, by the hour and by painted area, and told beside the titrations. What may be added, how, and with what
protection, says the product's data sheet.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm._wash.changes import tank_changes
from steadyfilm._wash.series import Part, TankSeries, read_series
from steadyfilm._wash.use import Limits, Points, chance_beyond, chance_per_point, limits_of, multiple_for, points_of
from steadyfilm._wash.words import cannot_tell, tank_sentence, told_first, verdict_lines
from steadyfilm.errors import InvalidInputError

if TYPE_CHECKING:
    from steadyfilm._plan.wash import WashPlan

__all__ = ["TankReview", "UseChange", "UseChart", "WashReview", "review_wash", "review_wash_files"]

Floats = NDArray[np.float64]
Times = NDArray[np.datetime64]

PARTS = ("titrations", "feed", "additions", "area", "events")
"""The tables of a washer."""


@dataclass(frozen=True)
class UseChart:
    """Use of one tank from interval to interval, with the limits of a steady tank.

    Attributes
    ----------
    kind : str
        ``"hour"`` of the washer's running, painted ``"area"``, or ``"day"``.
    unit : str
        Of the rates.
    start, end : array of times
        Of each reviewed interval.
    used, exposure, rate : array
        Amount, what it was used for, and their quotient.
    lower, center, upper : float
        NaN where there are no limits.
    sigma, sigma_multiple : float
        Standard deviation of a usual point, and how far out the limits stand.
    usual_points : int
        On which the limits rest; ``own_limits`` says that they are the reviewed points themselves.
    usual_rate : float
        Over the whole usual period, limits or not; NaN without one.
    signals : tuple of int
        Intervals beyond the limits, from 0.
    expected_signals : float
        Of a steady tank, over these intervals.
    left_out, used_left_out
        Intervals that are no points (pauses, no area), and what was used in them.
    """

    kind: str
    unit: str
    start: Times
    end: Times
    used: Floats
    exposure: Floats
    rate: Floats
    lower: float
    center: float
    upper: float
    sigma: float
    sigma_multiple: float
    usual_points: int
    own_limits: bool
    usual_rate: float
    signals: tuple[int, ...]
    expected_signals: float
    left_out: int
    used_left_out: float


@dataclass(frozen=True)
class UseChange:
    """One change of a tank's use: when, how much, how it was seen, and what the titration did.

    ``share`` is the change as a part of the usual rate (-1: nothing was used), ``share_error`` the half width of its 95 %
    interval. ``by_area`` is the same share by painted area, NaN if that cannot be told. Times are local texts, empty for none;
    ``lead_hours`` is from ``seen`` to ``out_of_band``, NaN if either is missing.
    """

    tank: str
    kind: str
    start: str
    end: str
    lasting: bool
    seen: str
    intervals: int
    rate: float
    usual_rate: float
    unit: str
    share: float
    share_error: float
    by_area: float
    metered: bool
    out_of_band: str
    out_percent: float
    lead_hours: float
    reaches_limit: str
    recorded: tuple[str, ...]
    sentence: str


@dataclass(frozen=True)
class TankReview:
    """One tank: titrations against the band, charts of use, and what changed.

    ``states`` says of every titration whether it lies ``"inside"``, ``"outside"`` or, within two standard uncertainties of a
    limit, is ``"doubtful"``; empty texts where the tank has no band.
    """

    name: str
    unit: str
    metered: bool
    lower: float | None
    upper: float | None
    titrated_at: Times
    percent: Floats
    states: tuple[str, ...]
    charts: tuple[UseChart, ...]
    changes: tuple[UseChange, ...]
    poured_at: Times
    poured: Floats
    cannot: tuple[str, ...]
    sentence: str

    @property
    def outside(self) -> tuple[int, ...]:
        """Titrations outside the band, from 0."""
        return tuple(k for k, state in enumerate(self.states) if state == "outside")


@dataclass(frozen=True, eq=False, repr=False)
class WashReview(Result):
    """A washer's tanks over a period.

    Attributes
    ----------
    verdict : tuple of str
        The answer in one sentence, then one line a change or tank, then what cannot be told.
    tanks : tuple of TankReview
    inputs : dict
        SHA-256 of every file that was read.
    notes : tuple of str
        Rows left out, and why.
    """

    title: str
    verdict: tuple[str, ...]
    tanks: tuple[TankReview, ...]
    cannot: tuple[str, ...]
    inputs: dict[str, str]
    notes: tuple[str, ...]

    _plot = "wash_review:plot_wash"

    @property
    def changes(self) -> tuple[UseChange, ...]:
        """Every change of use: those that last first, then those after which a titration left its band, then the surest."""
        return told_first(change for tank in self.tanks for change in tank.changes)

    @property
    def outside(self) -> int:
        """Titrations outside their bands, all tanks together."""
        return sum(len(tank.outside) for tank in self.tanks)

    @property
    def steady(self) -> bool:
        """Whether no use changed and no titration lies outside its band."""
        return not self.changes and not self.outside

    def sentence(self) -> str:
        return self.verdict[0]

    def _columns(self) -> dict[str, Any]:
        charts = [(tank, chart) for tank in self.tanks for chart in tank.charts]
        sizes = [chart.rate.size for _, chart in charts]

        def each(of: Any) -> list[Any]:
            return [value for pair, size in zip(charts, sizes, strict=True) for value in [of(*pair)] * size]

        def joined(name: str, empty: Any) -> Any:
            return np.concatenate([getattr(chart, name) for _, chart in charts] or [empty])

        moments = np.array([], dtype="datetime64[us]")
        marked = [k in set(chart.signals) for _, chart in charts for k in range(chart.rate.size)]
        return {
            "tank": each(lambda tank, _: tank.name),
            "start": joined("start", moments),
            "end": joined("end", moments),
            "used": joined("used", np.array([])),
            "exposure": joined("exposure", np.array([])),
            "rate": joined("rate", np.array([])),
            "unit": each(lambda _, chart: chart.unit),
            "lower": np.array(each(lambda _, chart: chart.lower), dtype=float),
            "center": np.array(each(lambda _, chart: chart.center), dtype=float),
            "upper": np.array(each(lambda _, chart: chart.upper), dtype=float),
            "signal": marked,
        }

    def explain(self) -> Explanation:
        count = sum(tank.percent.size for tank in self.tanks)
        titrated = {"titrations": float(count), "not_outside": float(count - self.outside)}
        steps = [Step("outside", "titrations - not_outside", titrated, self.outside)]
        for tank in self.tanks:
            for chart in tank.charts:
                if math.isfinite(chart.center):
                    inputs = {"center": chart.center, "sigma_multiple": chart.sigma_multiple, "sigma": chart.sigma}
                    steps.append(Step("lower", "center - sigma_multiple * sigma", inputs, chart.lower))
                    steps.append(Step("upper", "center + sigma_multiple * sigma", inputs, chart.upper))
            for change in tank.changes:
                rates = {"rate": change.rate, "usual_rate": change.usual_rate}
                steps.append(Step("share", "rate / usual_rate - 1", rates, change.share))
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "limits": "as far out as keeps the false calls a month over all charts, and never closer than 3 sigma",
                "sigma": "mean moving range of the usual points; without a usual period of all points that are not far off",
                "start and end": "the most likely ones of a shift from the usual rate",
                "between readings": "a meter counts evenly",
                "care": "arithmetic only; what may be added, how, and with what protection, says the product's data sheet",
            },
            sources=("cpp/methods/wash_review.md", "cpp/methods/wash_tank.md", "cpp/methods/chart_individuals.md"),
        )


def review_wash_files(
    plan: WashPlan | str | Path,
    folder: str | Path | None = None,
    *,
    files: Mapping[str, str | Path] | None = None,
) -> WashReview:
    """Review the files that a plan names.

    Parameters
    ----------
    plan : path or WashPlan
        Plan in TOML with a ``[wash]`` table; relative names start at its folder.
    folder : path, optional
        Where the files of the reviewed period lie, in place of the plan's own folder of them.
    files : mapping, optional
        Single files in place of those that the plan names: ``titrations``, ``feed``, ``additions``, ``area``, ``events``. A file
        that the plan names and that is not there is told as missing, one that is given must be there.

    Raises
    ------
    DataProblemsError, InvalidInputError
        Files, columns, cells or units that cannot be used, each with row, value and way out.
    PlanError
        A plan that cannot be used.

    Examples
    --------
    >>> review_wash_files("nowhere.toml")
    Traceback (most recent call last):
    ...
    steadyfilm.errors.PlanError: cannot read the plan nowhere.toml: No such file or directory
    """
    from steadyfilm._files import read_cells

    if isinstance(plan, str | Path):
        from steadyfilm._plan.wash import load_wash_plan

        plan = load_wash_plan(plan)
    given = dict(files or {})
    unknown = [name for name in given if name not in PARTS or getattr(plan.table, name) is None]
    if unknown:
        raise InvalidInputError(
            f"the plan's [wash] has no table '{unknown[0]}' that says how that file is written", argument=unknown[0]
        )
    month = plan.month(folder)
    usual = plan.folder / plan.table.usual if plan.table.usual is not None else None
    notes = []
    if usual is not None and usual.resolve() == month.resolve():
        usual = None
        notes.append("The reviewed period is the usual one itself: limits come from its own points.")
    if folder is not None and not month.is_dir():
        raise InvalidInputError(f"{month} is no folder", argument="folder")
    tables: dict[str, Part] = {}
    inputs: dict[str, str] = {}
    absent = []
    for name in PARTS:
        section = getattr(plan.table, name)
        if section is None:
            continue
        path = Path(given[name]) if name in given else month / section.file
        if name not in given and not path.exists():
            absent.append(f"{path.name} is not there")
            continue
        reading = plan.reading_options(section)
        own = read_cells(path, **reading)
        inputs[own.file] = own.sha256
        before = None
        if usual is not None and name != "events" and (usual / section.file).exists():
            before = read_cells(usual / section.file, **reading)
            inputs[f"{plan.table.usual}/{before.file}"] = before.sha256
        tables[name] = Part(own, before)
    if plan.sha256:
        inputs[plan.name] = plan.sha256
    found = review_wash(plan, tables, usual_given=usual is not None or plan.table.usual_until is not None)
    return replace(found, inputs=inputs, notes=(*notes, *(f"{text}." for text in absent), *found.notes))


def review_wash(plan: WashPlan, tables: Mapping[str, Any], *, usual_given: bool | None = None) -> WashReview:
    """Review tables of any kind; see ``review_wash_files``.

    Parameters
    ----------
    plan : WashPlan
    tables : mapping
        ``titrations``, ``feed``, ``additions``, ``area``, ``events``, as far as they are there; a table, or a pair of the
        reviewed and the usual one.

    Examples
    --------
    >>> from datetime import date
    >>> from steadyfilm._plan.wash import make_wash_plan
    >>> feed = {"file": "-", "written_in": "gal"}
    >>> tank = {"name": "cleaner", "unit": "gal", "volume": 600.0}
    >>> plan = make_wash_plan({"wash": {"feed": feed, "usual_until": date(2026, 3, 2), "tanks": [tank]}})
    >>> total = [0.0, 0.71, 1.44, 2.15, 2.88, 3.58, 4.31, 4.31, 4.31]
    >>> when = [f"2026-03-02 {6 + 2 * k:02d}:00" for k in range(7)] + ["2026-03-03 06:00", "2026-03-03 08:00"]
    >>> print(review_wash(plan, {"feed": {"time": when, "total": total}}).sentence())
    Cleaner feed has delivered nothing since Mar 3, 06:00 (usually 0.359 gal/h); no titration says where the bath stands.
    """
    parts = {name: _part(value) for name, value in tables.items()}
    unknown = [name for name in parts if name not in PARTS]
    if unknown:
        raise InvalidInputError(f"no table '{unknown[0]}' of a washer; known: {', '.join(PARTS)}", argument=unknown[0])
    series, entries, notes = read_series(plan, parts)
    if usual_given is None:
        usual_given = plan.table.usual_until is not None or any(part.usual is not None for part in parts.values())
    table = plan.table
    ways = [points_of(x, table.longest_gap_hours) for x in series]
    limits = [[limits_of(p, usual_given=usual_given, least=table.least_usual) for p in points] for points in ways]
    pairs = [(p, found) for points, own in zip(ways, limits, strict=True) for p, found in zip(points, own, strict=True)]
    chance = chance_per_point([(p, found) for p, found in pairs if found is not None], table.false_calls_per_month)
    tanks = tuple(_tank(x, points, own, chance, plan, entries) for x, points, own in zip(series, ways, limits, strict=True))
    cannot = cannot_tell(plan, parts, usual_given=usual_given)
    made = Made(
        function="review_wash",
        unit="",
        count=sum(x.percent.size for x in tanks) + sum(chart.rate.size for x in tanks for chart in x.charts),
        options={
            "usual_until": None if table.usual_until is None else str(table.usual_until),
            "usual": table.usual,
            "longest_gap_hours": table.longest_gap_hours,
            "false_calls_per_month": table.false_calls_per_month,
            "sigma_multiple": table.sigma_multiple,
            "least_usual": table.least_usual,
        },
        version=_core.version,
    )
    return WashReview(
        made=made,
        title=plan.title,
        verdict=verdict_lines(tanks, cannot),
        tanks=tanks,
        cannot=cannot,
        inputs={},
        notes=notes,
    )


def _part(value: Any) -> Part:
    if isinstance(value, Part):
        return value
    return Part(*value) if isinstance(value, tuple) else Part(value)


def _tank(
    series: TankSeries,
    points: tuple[Points, ...],
    limits: list[Limits | None],
    chance: float,
    plan: WashPlan,
    entries: tuple[Any, ...],
) -> TankReview:
    tank = series.tank
    reviewed = ~series.titrated_usual
    charts = tuple(_chart(p, found, chance, tank.unit, plan) for p, found in zip(points, limits, strict=True))
    percent = series.percent[reviewed]
    made = TankReview(
        name=tank.name,
        unit=tank.unit,
        metered=bool(series.meters),
        lower=tank.lower,
        upper=tank.upper,
        titrated_at=frozen(series.titrated_at[reviewed].astype("datetime64[us]")),
        percent=frozen(percent),
        states=tuple(_state(float(value), tank) for value in percent),
        charts=charts,
        changes=(),
        poured_at=frozen(series.added_at[~series.added_usual].astype("datetime64[us]")),
        poured=frozen(series.added[~series.added_usual]),
        cannot=(),
        sentence="",
    )
    made = replace(made, changes=tank_changes(made, series, limits, entries))
    sentence, cannot = tank_sentence(made, plan.table.least_usual)
    return replace(made, cannot=cannot, sentence=sentence)


def _state(percent: float, tank: Any) -> str:
    """How a titration stands to the band; a limit itself is inside."""
    if tank.lower is None and tank.upper is None:
        return ""
    low = -math.inf if tank.lower is None else tank.lower
    high = math.inf if tank.upper is None else tank.upper
    room = min(percent - low, high - percent)
    if abs(room) < 2.0 * tank.titration_uncertainty:
        return "doubtful"
    return "inside" if room >= -1e-9 * max(abs(percent), 1.0) else "outside"


def _chart(points: Points, limits: Limits | None, chance: float, unit: str, plan: WashPlan) -> UseChart:
    mine = ~points.usual
    rate = points.rate[mine]
    before = points.exposure[points.usual].sum()
    lines = (math.nan, math.nan, math.nan)
    multiple, signals, expected = math.nan, np.array([], dtype=int), 0.0
    if limits is not None:
        multiple = plan.table.sigma_multiple or multiple_for(limits, chance)
        reach = multiple * limits.sigma
        lines = (limits.center - reach, limits.center, limits.center + reach)
        signals = np.flatnonzero(np.abs(rate - limits.center) > reach)
        expected = rate.size * chance_beyond(multiple, limits)
    return UseChart(
        kind=points.kind,
        unit=f"{unit}/{points.per}",
        start=frozen(points.start[mine].astype("datetime64[us]")),
        end=frozen(points.end[mine].astype("datetime64[us]")),
        used=frozen(points.used[mine]),
        exposure=frozen(points.exposure[mine]),
        rate=frozen(rate),
        lower=lines[0],
        center=lines[1],
        upper=lines[2],
        sigma=math.nan if limits is None else limits.sigma,
        sigma_multiple=multiple,
        usual_points=int(points.usual.sum()) if limits is None else limits.count,
        own_limits=limits is not None and limits.own,
        usual_rate=float(points.used[points.usual].sum() / before) if before > 0.0 else math.nan,
        signals=tuple(int(k) for k in signals),
        expected_signals=expected,
        left_out=points.left_out,
        used_left_out=points.used_left_out,
    )
