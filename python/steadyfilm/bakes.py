"""Did it cure? A log of bakes against its recipes: every bake in one of three states, with place and amount.

A bake is judged by its worst place. Pass: some schedule point is met by what the log shows. Fail: none is met even if every gap
and faulty stretch is credited. Else it is not demonstrated. The coating maker's data sheet decides; a pass is no permission.
"""

from __future__ import annotations

import math
import warnings
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._cure.faults import Screened, screen_bake
from steadyfilm._cure.logs import BakeTraces, LogFault, check_names, clock_words, read_log
from steadyfilm._cure.options import CureOptions, LogColumns, LogRules
from steadyfilm._cure.recipes import Recipe
from steadyfilm._cure.tables import Loads, read_loads, read_recipes, source_of
from steadyfilm._cure_verdicts import minutes_text
from steadyfilm._format import fixed, number, plural
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm._text import nearest_names
from steadyfilm.cure_profile import PlaceVerdict, judge_place, profile_trace
from steadyfilm.errors import InvalidInputError, MissingDataWarning
from steadyfilm.oven_survey import air_falls, falls_in_words

if TYPE_CHECKING:
    from steadyfilm.chart_individuals import IndividualsChart

__all__ = [
    "Bake",
    "BakeReview",
    "BakedPlace",
    "CureOptions",
    "LogColumns",
    "LogFault",
    "LogRules",
    "coldest_places",
    "dose_chart",
    "read_recipes",
    "review_bake_files",
    "review_bakes",
]

Floats = NDArray[np.float64]
_RANK = {"fail": 0, "not demonstrated": 1, "pass": 2}
MOST_TOLD = 4
"""Bakes that the first sentence names."""

SOURCES = (
    "cpp/methods/cure_profile.md",
    "ASTM E230 (tolerances of thermocouple wire; three copies of its table seen, not the standard)",
)


@dataclass(frozen=True)
class BakedPlace:
    """One place of a bake. Times are min, temperatures C; minutes run from the start of the bake."""

    probe: str
    state: str
    schedule: str
    maximum: str
    overbake: str
    dose: str
    point: int
    observed_min: tuple[float, ...]
    credited_min: tuple[float, ...]
    dose_observed_min: float
    dose_credited_min: float
    dose_low_min: float
    dose_high_min: float
    peak_c: float
    peak_at_min: float
    steepest_c_per_min: float
    soak_min: float
    unobserved_min: float
    last_min: float
    sentence: str


@dataclass(frozen=True)
class Trace:
    """What a probe read in a bake, with what each reading is worth (0 sound, 1 suspect, 2 lost)."""

    bake: str
    probe: str
    air: bool
    minutes: Floats
    temperature_c: Floats
    state: NDArray[np.uint8]
    gap_limit_min: float


@dataclass(frozen=True)
class Bake:
    """One bake: its state, its worst place, and all places.

    ``state`` is ``"pass"``, ``"not demonstrated"`` or ``"fail"``; ``dose`` the same of the dose, empty where none is wanted.
    """

    bake: str
    start: str
    recipe: str
    oven: str
    units: tuple[str, ...]
    state: str
    dose: str
    worst: str
    coldest: str
    sentence: str
    places: tuple[BakedPlace, ...]
    faults: tuple[LogFault, ...]
    oven_faults: tuple[str, ...] = ()

    @property
    def schedule_state(self) -> str:
        """Worst state of the schedule over the places, the maximum left out."""
        return min((place.schedule for place in self.places), key=lambda state: _RANK[state])


@dataclass(frozen=True, eq=False, repr=False)
class BakeReview(Result):
    """A log of bakes against its recipes.

    Attributes
    ----------
    verdict : tuple of str
        The answer in one sentence, then one line a bake that did not pass, then faults of the log that changed no verdict.
    bakes : tuple of Bake
        In the order of the log.
    recipes : tuple of Recipe
    traces : tuple of Trace
        What the probes read.
    inputs : dict
        SHA-256 of every file that was read.
    """

    verdict: tuple[str, ...]
    bakes: tuple[Bake, ...]
    recipes: tuple[Recipe, ...]
    traces: tuple[Trace, ...]
    passed: int
    failed: int
    not_demonstrated: int
    inputs: dict[str, str]
    notes: tuple[str, ...]

    _plot = "cure_profile:plot_bakes"

    def sentence(self) -> str:
        return self.verdict[0]

    @property
    def faults(self) -> tuple[LogFault, ...]:
        """Every fault of the log, bake by bake."""
        return tuple(fault for bake in self.bakes for fault in bake.faults)

    def _columns(self) -> dict[str, Any]:
        rows = [(bake, place) for bake in self.bakes for place in bake.places]
        return {
            "bake": [bake.bake for bake, _ in rows],
            "start": [bake.start for bake, _ in rows],
            "recipe": [bake.recipe for bake, _ in rows],
            "place": [place.probe for _, place in rows],
            "state": [place.state for _, place in rows],
            "wanted_c": np.array([self._recipe(bake).schedule[place.point].temperature_c for bake, place in rows]),
            "wanted_min": np.array([self._recipe(bake).schedule[place.point].minutes for bake, place in rows]),
            "observed_min": np.array([place.observed_min[place.point] if place.observed_min else math.nan for _, place in rows]),
            "credited_min": np.array([place.credited_min[place.point] if place.credited_min else math.nan for _, place in rows]),
            "dose": [place.dose for _, place in rows],
            "dose_observed_min": np.array([place.dose_observed_min for _, place in rows]),
            "dose_credited_min": np.array([place.dose_credited_min for _, place in rows]),
            "peak_c": np.array([place.peak_c for _, place in rows]),
            "steepest_c_per_min": np.array([place.steepest_c_per_min for _, place in rows]),
        }

    def _recipe(self, bake: Bake) -> Recipe:
        return next(recipe for recipe in self.recipes if recipe.name == bake.recipe)

    def explain(self) -> Explanation:
        counts = {"bakes": len(self.bakes), "failed": self.failed, "not_demonstrated": self.not_demonstrated}
        return Explanation(
            title=self.sentence(),
            steps=(Step("passed", "bakes - failed - not_demonstrated", counts, self.passed),),
            choices={
                "a bake": "is judged by its worst place on a part; probes in the air judge nothing",
                "pass": "some schedule point is met with no gap or faulty stretch credited",
                "fail": "none is met with all of them credited",
                "between readings": "straight lines",
                "thresholds of faults": "common practice, no source; each is an option",
            },
            sources=SOURCES,
        )


def review_bake_files(
    log: str | Path,
    recipes: str | Path,
    *,
    loads: str | Path | None = None,
    options: CureOptions | None = None,
    recipe: str | None = None,
    **reading: Any,
) -> BakeReview:
    """Review files: the oven log, the recipes, and which bake had which recipe and units. See ``review_bakes``.

    Parameters
    ----------
    log, recipes, loads : path
        CSV, Parquet or Excel; the bytes say which.
    reading : dict
        How they are written: ``separator``, ``decimal``, ``encoding``, ``time_format``, ``missing``, ``header_line``.

    Raises
    ------
    DataProblemsError
        A file that cannot be read or used; every problem with its line.

    Examples
    --------
    >>> review_bake_files("nowhere.csv", "recipes.csv")
    Traceback (most recent call last):
    ...
    steadyfilm.errors.DataProblemsError: nowhere.csv has 1 problem:
      the file nowhere.csv cannot be read: No such file or directory
    """
    from steadyfilm._files import read_cells

    asked = options or CureOptions()
    tables = {"log": read_cells(log, **reading), "recipes": read_cells(recipes, **reading)}
    if loads is not None:
        tables["loads"] = read_cells(loads, **reading)
    found = review_bakes(tables["log"], tables["recipes"], loads=tables.get("loads"), options=asked, recipe=recipe)
    return replace(found, inputs={cells.file: cells.sha256 for cells in tables.values()})


def review_bakes(
    log: Any,
    recipes: Any,
    *,
    loads: Any = None,
    options: CureOptions | None = None,
    recipe: str | None = None,
) -> BakeReview:
    """Every bake of a log against its recipe.

    Parameters
    ----------
    log : table
        One row a reading (bake, probe, time, temperature), or one column a probe; ``options.columns`` says which.
    recipes : table, or sequence of Recipe
        One row a line: ``schedule``, ``maximum``, ``dose`` or ``setpoint``. See ``read_recipes``.
    loads : table, optional
        Which bake had which recipe, oven and units.
    options : CureOptions
        Columns, the declared unit, which probes are in the air, and what is a fault.
    recipe : str, optional
        Of every bake, where no table of loads says it; may be left out when there is one alone.

    Raises
    ------
    DataProblemsError, InvalidInputError
        Columns, cells, units or names that cannot be used, each with row, value and way out.

    Examples
    --------
    >>> from steadyfilm import Recipe, SchedulePoint
    >>> minutes = list(range(0, 81, 5))
    >>> hot = [25.0 + min(40.0, 3.3 * t) - 0.05 * (t % 3) for t in minutes]
    >>> log = {"bake": ["1"] * 17, "probe": ["door"] * 17, "minutes": minutes, "temperature": hot}
    >>> columns = LogColumns(time=None, minutes="minutes")
    >>> found = review_bakes(log, [Recipe("example", (SchedulePoint(60.0, 40.0),))], options=CureOptions(columns, unit="C"))
    >>> print(found.sentence())
    1 of 1 bake had its cure.
    """
    asked = options or CureOptions()
    known = tuple(recipes) if isinstance(recipes, list | tuple) else read_recipes(recipes)
    known = tuple(replace(x, dose_role=cast(Any, asked.dose_role), unbroken=asked.unbroken) for x in known)
    source = source_of(log)
    bakes, notes, probes = read_log(source, asked)
    check_names(asked.air, probes, "air")
    check_names(asked.places, probes, "places")
    places = asked.places or tuple(name for name in probes if name not in asked.air)
    if not places:
        raise InvalidInputError("every probe of the log is named as air: no place on a part is left to judge", argument="air")
    extra = [] if asked.air else ["No probe is named as air: all of them are judged as places on parts."]
    told = read_loads(loads, asked.columns) if loads is not None else Loads({}, {}, {})
    done = [_judge(bake, _recipe_of(bake.bake, known, told, recipe), told, places, asked) for bake in bakes]
    logged = {bake.bake for bake in bakes}
    notes += tuple(
        f"bake {name} is among the loads, not in the log: nothing is known of it" for name in told.recipes if name not in logged
    )
    traces = tuple(
        Trace(
            bake.bake,
            name,
            name in asked.air,
            frozen(x.trace.minutes),
            frozen(x.trace.temperature_c),
            frozen(x.state),
            x.gap_limit_min,
        )
        for bake, (_, screened) in zip(bakes, done, strict=True)
        for name, x in screened.items()
    )
    judged = tuple(bake for bake, _ in done)
    states = [bake.state for bake in judged]
    made = Made(
        function="review_bakes",
        unit="C",
        count=sum(trace.minutes.size for trace in traces),
        options=_plain_options(asked),
        version=_core.version,
    )
    return BakeReview(
        made=made,
        verdict=_verdict(judged),
        bakes=judged,
        recipes=known,
        traces=traces,
        passed=states.count("pass"),
        failed=states.count("fail"),
        not_demonstrated=states.count("not demonstrated"),
        inputs={},
        notes=(*notes, *extra),
    )


def dose_chart(review: BakeReview, *, recipe: str | None = None) -> IndividualsChart:
    """Individuals chart of the loads' dose at their coldest place, in the order of the log.

    Bakes of one recipe alone belong on one chart; a bake whose dose is not wholly observed is left open.

    Parameters
    ----------
    recipe : str, optional
        Which one; by default that of the first bake.

    Examples
    --------
    >>> from steadyfilm import Recipe, SchedulePoint, DoseWanted
    >>> minutes = list(range(0, 81, 5))
    >>> rows = {"bake": [], "probe": [], "minutes": [], "temperature": []}
    >>> for k in range(6):
    ...     rows["bake"] += [str(k)] * 17
    ...     rows["probe"] += ["door"] * 17
    ...     rows["minutes"] += minutes
    ...     rows["temperature"] += [25.0 + min(40.0 + 0.2 * (k % 3), 3.3 * t) - 0.05 * (t % 3) for t in minutes]
    >>> asked = CureOptions(LogColumns(time=None, minutes="minutes"), unit="C")
    >>> found = review_bakes(rows, [Recipe("A", (SchedulePoint(60.0, 40.0),), dose=DoseWanted(40.0, 60.0, 55.0))], options=asked)
    >>> dose_chart(found).count
    6
    """
    from steadyfilm.chart_individuals import individuals_chart

    name = recipe if recipe is not None else review.bakes[0].recipe
    values = []
    for bake in (x for x in review.bakes if x.recipe == name):
        place = next(x for x in bake.places if x.probe == bake.coldest)
        whole = place.dose_credited_min <= place.dose_observed_min * (1.0 + 1e-9)
        values.append(place.dose_observed_min if whole else None)
    if sum(value is not None and math.isfinite(value) for value in values) < 2:
        raise InvalidInputError(f"recipe '{name}' has no two bakes whose dose is wholly observed", argument="recipe")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", MissingDataWarning)  # left open on purpose, and drawn so
        return individuals_chart(values, unit="min", point="load", missing="drop")


def coldest_places(review: BakeReview) -> dict[str, int]:
    """How many loads each place was the coldest of, most first: is it always the same?

    Examples
    --------
    >>> from steadyfilm import Recipe, SchedulePoint
    >>> log = {"bake": ["1"] * 3, "probe": ["door"] * 3, "minutes": [0, 5, 10], "temperature": [61.0, 62.0, 61.5]}
    >>> asked = CureOptions(LogColumns(time=None, minutes="minutes"), unit="C")
    >>> coldest_places(review_bakes(log, [Recipe("A", (SchedulePoint(60.0, 5.0),))], options=asked))
    {'door': 1}
    """
    return dict(Counter(bake.coldest for bake in review.bakes).most_common())


def _plain_options(asked: CureOptions) -> dict[str, Any]:
    rules = {name: getattr(asked.rules, name) for name in asked.rules.__dataclass_fields__}
    return {
        "unit": asked.unit,
        "air": list(asked.air),
        "places": list(asked.places),
        "tolerance_k": asked.tolerance_k,
        "slope_window_min": asked.slope_window_min,
        "dose_role": asked.dose_role,
        "unbroken": asked.unbroken,
        **rules,
    }


def _recipe_of(bake: str, known: Sequence[Recipe], told: Loads, given: str | None) -> Recipe:
    """The recipe of a bake: from the loads, from the caller, or the only one there is."""
    name = told.recipes.get(bake) or given
    if name is None:
        if len(known) == 1:
            return known[0]
        raise InvalidInputError(
            f"bake {bake}: which of the {len(known)} recipes it had is not said; give a table of loads, or one recipe for all",
            argument="recipe",
        )
    for recipe in known:
        if recipe.name == name:
            return recipe
    near = nearest_names(name, [x.name for x in known])
    raise InvalidInputError(f"bake {bake}: no recipe '{name}'; {near}", argument="recipe")


def _judge(
    bake: BakeTraces, recipe: Recipe, told: Loads, places: Sequence[str], asked: CureOptions
) -> tuple[Bake, Mapping[str, Screened]]:
    screened = screen_bake(bake, recipe, asked.air, asked.rules)
    found = [_place(name, screened.get(name), recipe, asked) for name in places]
    faults = [*bake.faults, *(fault for x in screened.values() for fault in x.faults)]
    for name in places:
        if name not in screened:
            words = "no reading at all: the place is not demonstrated"
            faults.append(LogFault(bake.bake, name, "not logged", 0.0, 0.0, 0.0, "", "not observed", words))
    heat = tuple(
        f"{name}: {words}"
        for name in asked.air
        if name in screened and recipe.air_c is not None
        for words in _heat(screened[name], recipe.air_c)
    )
    worst = min(found, key=lambda x: (_RANK[x.state], _share(x, recipe)))
    # The least dose, where there is one, else the least of its schedule: what was observed of both.
    coldest = min(found, key=lambda x: (x.dose_observed_min if math.isfinite(x.dose_observed_min) else 0.0, _share(x, recipe)))
    dose = "" if recipe.dose is None else max((x.dose for x in found), key=lambda state: -_RANK[state])
    made = Bake(
        bake=bake.bake,
        start=bake.start,
        recipe=recipe.name,
        oven=told.ovens.get(bake.bake, ""),
        units=told.units.get(bake.bake, ()),
        state=worst.state,
        dose=dose,
        worst=worst.probe,
        coldest=coldest.probe,
        sentence="",
        places=tuple(found),
        faults=tuple(faults),
        oven_faults=heat,
    )
    return replace(made, sentence=_bake_sentence(made, recipe, bake.start)), screened


def _heat(screened: Screened, level_c: float) -> tuple[str, ...]:
    """Where the air's heat fell, as far as its probe is sound; doors are how an oven is used."""
    keep = screened.state == 0
    if not keep.any():
        return ()
    falls = air_falls(screened.trace.minutes[keep], air_c=screened.trace.temperature_c[keep], level_c=level_c)
    return falls_in_words(falls, level_c)


def _share(place: BakedPlace, recipe: Recipe) -> tuple[float, float, float]:
    """How much of the nearest schedule point is credited, then observed, then the dose: of equal places the coldest is worst."""
    if not place.observed_min:
        return (0.0, 0.0, 0.0)
    wanted = recipe.schedule[place.point].minutes
    dose = place.dose_credited_min if math.isfinite(place.dose_credited_min) else 0.0
    return place.credited_min[place.point] / wanted, place.observed_min[place.point] / wanted, dose


def _place(name: str, screened: Screened | None, recipe: Recipe, asked: CureOptions) -> BakedPlace:
    if screened is None:
        none = math.nan
        dose = "" if recipe.dose is None else "not demonstrated"
        open_ = "not demonstrated"
        return BakedPlace(
            name, open_, open_, open_, open_, dose, 0, (), (), none, none, none, none, none, none,
            none, none, none, none, "no reading",
        )  # fmt: skip
    trace = screened.trace
    options: dict[str, Any] = {
        "temperature_c": trace.temperature_c,
        "state": screened.state,
        "gap_medians": screened.gap_medians,
        "begin_min": screened.begin_min,
        "end_min": screened.end_min,
    }
    verdict = judge_place(trace.minutes, recipe=recipe, **options)
    wanted = recipe.dose
    profile = profile_trace(
        trace.minutes,
        threshold_c=recipe.schedule[verdict.nearest].temperature_c,
        activation_energy_kj=None if wanted is None else wanted.activation_energy_kj,
        reference_c=None if wanted is None else wanted.reference_c,
        slope_window_min=asked.slope_window_min,
        tolerance_k=asked.tolerance_k,
        **options,
    )
    return BakedPlace(
        probe=name,
        state=verdict.state,
        schedule=verdict.schedule,
        maximum=verdict.maximum,
        overbake=verdict.overbake,
        dose="" if wanted is None else verdict.dose,
        point=verdict.nearest,
        observed_min=verdict.observed_min,
        credited_min=verdict.credited_min,
        dose_observed_min=profile.equivalent_observed_min,
        dose_credited_min=profile.equivalent_credited_min,
        dose_low_min=profile.equivalent_low_min,
        dose_high_min=profile.equivalent_high_min,
        peak_c=profile.peak_c,
        peak_at_min=profile.peak_at_min,
        steepest_c_per_min=profile.steepest_c_per_min,
        soak_min=profile.soak_min,
        unobserved_min=profile.unobserved_min,
        last_min=float(trace.minutes[-1]),
        sentence=_place_words(verdict),
    )


def _place_words(verdict: PlaceVerdict) -> str:
    """What a place had of what it should, without its name."""
    text = verdict.schedule_words()
    limit = verdict.recipe.maximum_c
    if verdict.maximum != "pass" and limit is not None:
        kind = f"up to {number(verdict.highest_c, 4)} C" if verdict.maximum == "fail" else "a doubtful reading"
        text += f", {kind} above the maximum of {number(limit)} C"
    if verdict.overbake != "pass":
        text += f", {verdict.overbake_words()}"
    return text


def _bake_sentence(bake: Bake, recipe: Recipe, start: str) -> str:
    worst = next(place for place in bake.places if place.probe == bake.worst)
    word = {"pass": "passed", "fail": "failed", "not demonstrated": "is not demonstrated"}[bake.state]
    text = f"Bake {bake.bake} {word}: {worst.probe} {worst.sentence}"
    if recipe.dose is not None and worst.observed_min:
        have = minutes_text(worst.dose_observed_min if worst.dose == "pass" else worst.dose_credited_min, recipe.dose.minutes)
        kind = {"pass": "met", "fail": "missed", "not demonstrated": "not demonstrated"}[worst.dose]
        text += f"; dose {kind} there ({have} of {number(recipe.dose.minutes)} min at {number(recipe.dose.reference_c)} C)"
    if bake.state != "pass":
        mine = [fault for fault in bake.faults if fault.probe == worst.probe and fault.effect != "told"]
        text += "".join(f"; {_fault_words(fault, start)}" for fault in mine[:3])
        text += f"; {bake.oven_faults[0]}" if bake.oven_faults else ""
        ended = max((place.last_min for place in bake.places if math.isfinite(place.last_min)), default=math.nan)
        if recipe.bake_min is not None and ended < recipe.bake_min - 1.0:
            text += f"; its log ends after {fixed(ended, 0)} of {number(recipe.bake_min)} min"
        others = [place.probe for place in bake.places if place.state == bake.state and place.probe != worst.probe]
        if others:
            same = {"fail": "failed", "not demonstrated": "not demonstrated"}[bake.state]
            text += f"; also {same}: {', '.join(others)}"
    return text + "."


def _fault_words(fault: LogFault, start: str) -> str:
    if fault.to_min > fault.from_min:
        return f"{fault.kind} from {clock_words(start, fault.from_min)} to {clock_words(start, fault.to_min)}: {fault.words}"
    return f"{fault.kind} at {clock_words(start, fault.from_min)}: {fault.words}"


def _verdict(bakes: Sequence[Bake]) -> tuple[str, ...]:
    passed = sum(bake.state == "pass" for bake in bakes)
    wrong = sorted((bake for bake in bakes if bake.state != "pass"), key=lambda bake: _RANK[bake.state])
    text = f"{passed} of {plural(len(bakes), 'bake')} had {'its' if len(bakes) == 1 else 'their'} cure"
    for bake in wrong[:MOST_TOLD]:
        place = next(x for x in bake.places if x.probe == bake.worst)
        word = "failed" if bake.state == "fail" else "is not demonstrated"
        text += f"; bake {bake.bake} {word}: {bake.worst} {place.sentence}"
        if bake.state == "fail" and place.schedule == "fail" and place.dose == "pass":
            text += ", schedule missed, dose met"
    if len(wrong) > MOST_TOLD:
        text += f"; {plural(len(wrong) - MOST_TOLD, 'other bake')} did not pass"
    lines = [text + ".", *(bake.sentence for bake in wrong)]
    beside = [bake for bake in bakes if bake.state == "pass" and any(x.effect != "told" for x in bake.faults)]
    for bake in beside:
        said = "; ".join(f"{x.probe}: {_fault_words(x, bake.start)}" for x in bake.faults if x.effect != "told")
        lines.append(f"Bake {bake.bake} passed in spite of a fault of its log ({said}).")
    lines += [
        f"Bake {x.bake} passed, yet the heat fell: {x.oven_faults[0]}." for x in bakes if x.state == "pass" and x.oven_faults
    ]
    return tuple(lines)
