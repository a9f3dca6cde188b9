"""Units judged by a rule: readings to spots to areas to the verdict, with what decided it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._acceptance_data import FilmTable, Groups, film_table, group
from steadyfilm._acceptance_rules import AcceptanceRule, core_limits, limits_of
from steadyfilm._acceptance_words import found_reasons, verdict_sentence
from steadyfilm._format import number, plural, window_text
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm.distributions import normal_quantile
from steadyfilm.errors import InvalidInputError
from steadyfilm.limits import SpecLimits
from steadyfilm.units import LENGTH_UNITS, convert_length, unit_symbol

__all__ = ["VERDICTS", "Acceptance", "DiscardedReading", "UnitAreas", "UnitSpots", "accept_film", "roughness_correction"]

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]
Texts = NDArray[np.object_]

VERDICTS: Final = ("fail", "pass", "not demonstrated")
GUARD_CLASSES: Final = ("", "clear", "doubtful")
OUT_OF_SCOPE: Final = "out of scope"
SMOOTH: Final = "smooth"
FAR: Final = 8.0
"""Film so many times above or below its window is likelier um written as mil, or mil as um (judgment, no source)."""
SOURCES = ("cpp/methods/film_thickness.md",)


@dataclass(frozen=True)
class DiscardedReading:
    """A reading that somebody left out, with the reason; ``row`` counts the data's rows from 1."""

    row: int
    unit: str
    spot: str
    measured: float
    measured_unit: str
    reason: str
    by: str


@dataclass(frozen=True, eq=False)
class UnitSpots:
    """One element a spot: where it is, the mean of its readings, and -1 where it or a reading is below its limits, 1 above."""

    unit: Texts
    area: Texts
    spot: Texts
    mean: Floats
    readings: Counts
    side: Counts


@dataclass(frozen=True, eq=False)
class UnitAreas:
    """One element an area; ``thin`` counts readings below the window."""

    unit: Texts
    area: Texts
    mean: Floats
    spots: Counts
    readings: Counts
    side: Counts
    thin: Counts
    verdict: Texts


@dataclass(frozen=True, eq=False, repr=False)
class Acceptance(Result):
    """Units judged by a rule. Arrays have one element a unit, in order of first appearance, in ``made.unit``.

    Works on the numbers it was given. A pass is no permission to ship; a thin film is no reason to spray more before the
    coating's data sheet and the booth's design have been asked.

    Attributes
    ----------
    verdict : array
        "pass", "fail", "not demonstrated" where readings that the rule needs are missing or suspect and nothing sound fails, or
        "out of scope". By the rule's text, without guard band.
    verdict_all : array
        The same with the discarded readings put back.
    guard_class : array
        "clear" or "doubtful": whether the verdict stands with every limit moved by the guard band; "" without one.
    reason : array
        What decided; "" for a pass.
    mean : array
        Mean of the unit's spots.
    window : SpecLimits
        What the contract asks for; the limits of readings, spots, areas and units follow from it by the rule.
    measured, measured_unit, value, row
        Every reading, discarded ones too, as written down and as judged, with its row.
    """

    rule: AcceptanceRule
    window: SpecLimits
    reading_limits: SpecLimits
    spot_limits: SpecLimits
    area_limits: SpecLimits
    unit_limits: SpecLimits
    areas_needed: int
    readings_needed: int
    units: Texts
    verdict: Texts
    verdict_all: Texts
    guard_class: Texts
    reason: Texts
    mean: Floats
    reading_count: Counts
    spots: UnitSpots
    areas: UnitAreas
    discarded: tuple[DiscardedReading, ...]
    suspect_count: int
    measured: Floats
    measured_unit: Texts
    value: Floats
    row: Counts
    unit_count: int
    pass_count: int
    fail_count: int
    open_count: int
    out_count: int
    notes: tuple[str, ...]

    _plot: ClassVar[str] = "film_thickness:plot_acceptance"

    def sentence(self) -> str:
        return verdict_sentence(self)

    def _columns(self) -> dict[str, Any]:
        sizes = {name: _per_unit(self, name) for name in ("areas", "spots", "lowest", "highest")}
        unit = self.made.unit
        return {
            "unit": self.units,
            "verdict": self.verdict,
            "guard_class": self.guard_class,
            f"mean_{unit}": self.mean,
            f"lowest_spot_{unit}": sizes["lowest"],
            f"highest_spot_{unit}": sizes["highest"],
            "areas": sizes["areas"],
            "spots": sizes["spots"],
            "readings": self.reading_count,
            "with_discarded": self.verdict_all,
            "reason": self.reason,
        }

    def explain(self) -> Explanation:
        counts = {
            "unit_count": self.unit_count,
            "pass_count": self.pass_count,
            "open_count": self.open_count,
            "out_count": self.out_count,
        }
        steps = [Step("fail_count", "unit_count - pass_count - open_count - out_count", counts, self.fail_count)]
        for level in ("reading", "spot", "area", "unit"):
            shares, limits = getattr(self.rule, level), getattr(self, f"{level}_limits")
            for end in ("lower", "upper"):
                limit = getattr(limits, end)
                if limit is not None:
                    inputs = {"share": getattr(shares, end), f"window_{end}": getattr(self.window, end)}
                    steps.append(Step(f"{level}_limits_{end}", f"share * window_{end}", inputs, limit))
        options = self.made.options
        choices = {
            "rule": self.rule.title,
            "asks for": self.rule.words(),
            "comparison": "means and readings unrounded; within 1e-9 (relative) of a limit is on it, and on it is inside",
            "not demonstrated": "readings that the rule needs are missing or suspect, and nothing sound fails",
            "counts by surface": self._surface_words(),
        }
        if options["sigma_repeat"] is not None:
            choices["guard band"] = (
                f"{number(options['bias_bound'])} + {number(options['multiple'], 4)} * {number(options['sigma_repeat'])} / "
                "sqrt(readings of a mean): the class column alone, never the verdict"
            )
        for fact in self.rule.facts:
            choices[f"known: {fact.about}"] = f"{fact.how}{f' ({fact.source})' if fact.source else ''}"
        return Explanation(self.sentence(), tuple(steps), choices, SOURCES)

    def _surface_words(self) -> str:
        if not self.rule.counts_by_surface:
            return "the rule has none"
        if not (self.areas_needed or self.readings_needed):
            return "not checked, no surface given"
        needs = [f"{plural(self.areas_needed, 'area')}"] if self.areas_needed else []
        needs += [plural(self.readings_needed, "reading")] if self.readings_needed else []
        return f"each unit needs {' and '.join(needs)}"


def _per_unit(found: Acceptance, name: str) -> Any:
    place = {unit: i for i, unit in enumerate(found.units.tolist())}
    if name == "areas":
        return np.bincount([place[unit] for unit in found.areas.unit], minlength=len(place))
    at = np.array([place[unit] for unit in found.spots.unit], dtype=np.int64)
    if name == "spots":
        return np.bincount(at[found.spots.readings > 0], minlength=len(place))
    out = np.full(len(place), np.nan)
    (np.fmin if name == "lowest" else np.fmax).at(out, at, found.spots.mean)  # what is empty is not a number
    return out


def roughness_correction(profile: str) -> float:
    """What is taken off each reading on a blast profile, in um: fine, medium, coarse, or unknown (then as medium).

    The classes' values are seen in an excerpt, that for an unknown profile is from memory.

    Examples
    --------
    >>> roughness_correction("medium")
    25.0
    """
    known: dict[str, float] = {name: correction for name, correction, _ in _core.roughness_corrections()}
    if profile not in known:
        raise InvalidInputError(f"profile must be one of {', '.join(known)}, got {profile!r}", argument="profile")
    return known[profile]


def accept_film(
    data: Any,
    value: str,
    *,
    rule: AcceptanceRule,
    unit: str,
    lower: float | None = None,
    upper: float | None = None,
    nominal: float | None = None,
    body: Sequence[str] | str = (),
    area: str | None = None,
    spot: Sequence[str] | str = (),
    surface_ft2: float | None = None,
    surface_m2: float | None = None,
    profile: str | None = None,
    correction_um: float | None = None,
    unit_of_measure: str | None = None,
    discarded: str | None = None,
    discarded_by: str | None = None,
    suspect: str | None = None,
    sigma_repeat: float | None = None,
    bias_bound: float = 0.0,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> Acceptance:
    """Judge units by a rule of acceptance.

    Parameters
    ----------
    data : table
        One row a reading.
    value : str
        Column of the readings.
    rule : AcceptanceRule
        `area_rule`, `rough_steel_rule`, `ninety_ten_rule`, or one of your own by `house_rule`.
    unit : {"mil", "um"}
        Unit of the window, of all figures of the result, and of the readings unless ``unit_of_measure`` names a column.
    lower, upper : float, optional
        The window that the contract asks for.
    nominal : float, optional
        A single value in its place; the rule says what it stands for. With ``upper``: the largest reading agreed.
    body : column name or names, optional
        What names a painted unit; without it all readings are of one.
    area : str, optional
        Column that names the areas of a unit; without it a unit is one area.
    spot : column name or names, optional
        What names a spot; without it every reading stands for itself, which a rule of several readings a spot refuses.
    surface_ft2, surface_m2 : float, optional
        Painted surface of a unit, for the number of areas or readings; never converted, since a rule's figures differ.
    profile : {"fine", "medium", "coarse", "unknown", "smooth"}, optional
        Blast profile, for a rule of rough steel: its correction is taken off each reading. "smooth" is out of its scope.
    correction_um : float, optional
        The correction itself; 0 where the gauge was set on the profile.
    unit_of_measure : str, optional
        Column of each row's unit; rows are converted to ``unit``.
    discarded, suspect : str, optional
        Columns of reasons: why a reading was left out (a spot still counts as read so often, and both verdicts are given), or why
        it cannot be relied on (gauge found off afterwards). Empty: neither.
    discarded_by : str, optional
        Column of who left it out.
    sigma_repeat : float, optional
        Standard deviation of one reading at one spot, in ``unit``; with it every verdict is classed as clear or doubtful.
    bias_bound : float
        How far the gauge may be off, from its verification.
    confidence_level : float
        One-sided, of the guard band.
    missing : {"error", "drop"}
        Missing readings are refused, or count as not taken.

    Returns
    -------
    Acceptance

    Raises
    ------
    DataProblemsError
        Cells that cannot be used, all at once.
    InvalidInputError
        A window in neither form, unit systems that the rule forbids to mix, spots that the rule needs and nobody names.

    Examples
    --------
    >>> from steadyfilm.film_thickness import area_rule
    >>> rows = {"place": [k // 3 for k in range(15)], "film": [2.1, 2.1, 3.9] + [2.1] * 12}
    >>> rows["why"] = ["", "", "did not repeat"] + [""] * 12
    >>> found = accept_film(rows, "film", rule=area_rule(3), unit="mil", lower=2.0, upper=2.2, spot="place", discarded="why")
    >>> found.verdict.tolist(), found.verdict_all.tolist()
    (['pass'], ['fail'])
    """
    unit = unit_symbol(unit, among=LENGTH_UNITS)
    window = _window(rule, lower, upper, nominal)
    _check_systems(rule, unit, surface_ft2, surface_m2)
    columns = [[x] if isinstance(x, str) else list(x) for x in (body, spot)]
    if not columns[1] and rule.readings_per_spot > 1:
        raise InvalidInputError(
            f"{rule.name} averages {rule.readings_per_spot} readings a spot: name the columns that tell them apart with spot=...",
            argument="spot",
        )
    correction = _correction(rule, unit, profile, correction_um)
    if (sigma_repeat is not None and not sigma_repeat >= 0.0) or not bias_bound >= 0.0:
        raise InvalidInputError("sigma_repeat and bias_bound must be 0 or more", argument="sigma_repeat")
    given = film_table(
        data,
        value,
        unit=unit,
        body=columns[0],
        area=area,
        spot=columns[1],
        unit_of_measure=unit_of_measure,
        discarded=discarded,
        discarded_by=discarded_by,
        suspect=suspect,
        correction=correction,
        missing=missing,
    )
    multiple = normal_quantile(confidence_level)
    options = {
        "value": value,
        "nominal": nominal,
        "body": columns[0],
        "area": area,
        "spot": columns[1],
        "surface_ft2": surface_ft2,
        "surface_m2": surface_m2,
        "profile": profile,
        "correction": correction,
        "sigma_repeat": sigma_repeat,
        "bias_bound": bias_bound,
        "confidence_level": confidence_level,
        "multiple": multiple,
        "missing": missing,
    }
    kept = np.array([not reason for reason in given.discarded])
    made = Made("accept_film", unit, int(kept.sum()), given.missing_rows, given.frame, options, _core.version)
    guard = None if sigma_repeat is None else (float(sigma_repeat), float(bias_bound), multiple)
    needed = rule.needed(surface_ft2=surface_ft2, surface_m2=surface_m2)
    judging = _Judging(rule, window, needed, guard, bool(columns[1]))
    thin_nominal = (
        rule.lowest_nominal_um is not None
        and window.lower is not None
        and not _core.at_least(convert_length(window.lower, given=unit, wanted="um"), rule.lowest_nominal_um)
    )
    outside = _out_of_scope(rule, unit, window, thin_nominal, profile)
    return _assemble(made, given, kept, judging, outside)


@dataclass(frozen=True)
class _Judging:
    """What the core judges by."""

    rule: AcceptanceRule
    window: SpecLimits
    needed: tuple[int, int]
    guard: tuple[float, float, float] | None
    named_spots: bool

    def judge(self, given: FilmTable, keep: NDArray[np.bool_]) -> tuple[Groups, dict[str, Any]]:
        groups = group(given, keep, empty_spots=self.named_spots)
        doubted = np.array([bool(reason) for reason in given.suspect[keep]], dtype=np.uint8)
        found = _core.judge_film(
            core_limits(self.rule, self.window),
            np.ascontiguousarray(given.values[keep]),
            groups.spot_start,
            groups.area_start,
            groups.unit_start,
            doubted,
            groups.spot_taken,
            *self.needed,
            self.guard,
        )
        return groups, found


def _assemble(made: Made, given: FilmTable, kept: NDArray[np.bool_], judging: _Judging, outside: str) -> Acceptance:
    groups, found = judging.judge(given, kept)
    again = found if kept.all() else judging.judge(given, np.ones(kept.size, dtype=bool))[1]
    rule = judging.rule
    verdict, verdict_all = (np.array([VERDICTS[k] for k in x["unit_verdict"]], dtype=object) for x in (found, again))
    classes = np.array([GUARD_CLASSES[k] for k in found["guard_class"]], dtype=object)
    limits = {f"{level}_limits": limits_of(getattr(rule, level), judging.window) for level in ("reading", "spot", "area", "unit")}
    readings = np.diff(groups.spot_start)
    spots = UnitSpots(
        unit=frozen(groups.unit[groups.area_unit[groups.spot_area]]),
        area=frozen(groups.area[groups.spot_area]),
        spot=frozen(groups.spot),
        mean=frozen(found["spot_mean"]),
        readings=frozen(readings),
        side=frozen(_spot_sides(found, groups.spot_start)),
    )
    areas = UnitAreas(
        unit=frozen(groups.unit[groups.area_unit]),
        area=frozen(groups.area),
        mean=frozen(found["area_mean"]),
        spots=frozen(np.diff(groups.area_start)),
        readings=frozen(np.diff(groups.spot_start[groups.area_start])),
        side=frozen(found["area_side"].astype(np.int64)),
        thin=frozen(found["thin"]),
        verdict=frozen(np.array([VERDICTS[k] for k in found["area_verdict"]], dtype=object)),
    )
    reason = found_reasons(groups, found, given, kept, rule, judging.window, limits, judging.needed, made.unit)
    if outside:
        verdict, verdict_all = (np.full(verdict.size, OUT_OF_SCOPE, dtype=object) for _ in range(2))
        classes, reason = np.full(verdict.size, "", dtype=object), np.full(verdict.size, outside, dtype=object)
    dropped = np.flatnonzero(~kept)
    counts = {word: int((verdict == word).sum()) for word in (*VERDICTS, OUT_OF_SCOPE)}
    return Acceptance(
        made=made,
        rule=rule,
        window=judging.window,
        **limits,
        areas_needed=judging.needed[0],
        readings_needed=judging.needed[1],
        units=frozen(groups.unit),
        verdict=frozen(verdict),
        verdict_all=frozen(verdict_all),
        guard_class=frozen(classes),
        reason=frozen(reason),
        mean=frozen(found["unit_mean"]),
        reading_count=frozen(np.diff(groups.spot_start[groups.area_start[groups.unit_start]])),
        spots=spots,
        areas=areas,
        discarded=tuple(
            DiscardedReading(
                int(given.rows[i]),
                given.unit[i],
                given.spot[i],
                float(given.measured[i]),
                given.measured_unit[i],
                given.discarded[i],
                given.discarded_by[i],
            )
            for i in dropped
        ),
        suspect_count=int(sum(bool(x) for x in given.suspect[kept])),
        measured=frozen(given.measured),
        measured_unit=frozen(given.measured_unit),
        value=frozen(given.values),
        row=frozen(given.rows),
        unit_count=int(verdict.size),
        pass_count=counts["pass"],
        fail_count=counts["fail"],
        open_count=counts["not demonstrated"],
        out_count=counts[OUT_OF_SCOPE],
        notes=(
            *_unlikely(groups.unit, found["unit_mean"], judging.window, made.unit),
            *_notes(made, rule, judging, given, groups),
        ),
    )


def _spot_sides(found: dict[str, Any], starts: Counts) -> Counts:
    """Sides of the spots; one inside its limits takes that of a reading which is not."""
    sides: Counts = found["spot_side"].astype(np.int64)
    at = np.repeat(np.arange(sides.size), np.diff(starts))
    for side in (1, -1):
        outside = at[found["reading_side"] == side]
        sides[outside[found["spot_side"][outside] == 0]] = side
    return sides


def _window(rule: AcceptanceRule, lower: float | None, upper: float | None, nominal: float | None) -> SpecLimits:
    for name, end in (("lower", lower), ("upper", upper), ("nominal", nominal)):
        if end is not None and not 0.0 < end < float("inf"):
            raise InvalidInputError(f"{name} must be a thickness above 0, got {end}", argument=name)
    if nominal is None:
        if lower is None and upper is None:
            raise InvalidInputError("give the window: lower, upper or both, or a single nominal value", argument="lower")
        if rule.thin_share is not None and lower is None:
            raise InvalidInputError(f"{rule.name} counts readings below a limit: give lower or nominal", argument="lower")
        return SpecLimits(lower, upper)
    if lower is not None:
        raise InvalidInputError("give a window or a nominal value, not both", argument="nominal")
    found = _core.single_value_window(nominal, rule.single_value_share)
    if upper is not None and found["upper"] is not None:
        raise InvalidInputError(
            f"{rule.name} makes a window of a nominal value by itself; give lower and upper if the contract names both",
            argument="upper",
        )
    return SpecLimits(found["lower"], upper if found["upper"] is None else found["upper"])


def _check_systems(rule: AcceptanceRule, unit: str, surface_ft2: float | None, surface_m2: float | None) -> None:
    mixed = (unit == "mil" and surface_m2 is not None) or (unit == "um" and surface_ft2 is not None)
    if rule.one_unit_system and mixed:
        raise InvalidInputError(
            f"{rule.name} has figures for mil with ft2 and others for um with m2, which are not to be mixed: "
            f"give surface_{'ft2' if unit == 'mil' else 'm2'}, or judge in {'um' if unit == 'mil' else 'mil'}",
            argument="unit",
        )


def _correction(rule: AcceptanceRule, unit: str, profile: str | None, correction_um: float | None) -> float:
    if rule.lowest_nominal_um is None:
        if profile is not None or correction_um is not None:
            raise InvalidInputError(f"{rule.name} takes nothing off for roughness; leave profile out", argument="profile")
        return 0.0
    if (profile is None) == (correction_um is None):
        raise InvalidInputError(
            f"{rule.name} takes a correction for the blast profile off each reading: say profile='fine', 'medium', 'coarse', "
            "'unknown' or 'smooth', or correction_um (0 where the gauge was set on the profile)",
            argument="profile",
        )
    if profile is not None:
        um = 0.0 if profile == SMOOTH else roughness_correction(profile)
    else:
        um = float(correction_um or 0.0)
        if not 0.0 <= um < float("inf"):
            raise InvalidInputError(f"correction_um must be 0 or more, got {correction_um}", argument="correction_um")
    return convert_length(um, given="um", wanted=unit)


def _out_of_scope(rule: AcceptanceRule, unit: str, window: SpecLimits, thin: bool, profile: str | None) -> str:
    if rule.lowest_nominal_um is None:
        return ""
    if profile == SMOOTH:
        return f"{rule.name} is for blasted steel, the surface is smooth"
    if thin:
        nominal = window_text(window.lower, None, unit).removeprefix("at least ")
        return f"{rule.name} is for nominal films of at least {number(rule.lowest_nominal_um)} um, this is one of {nominal}"
    return ""


def _unlikely(units: Texts, mean: Floats, window: SpecLimits, unit: str) -> list[str]:
    """Units whose film is so far from what is asked for that another unit of length is likelier than such a film."""
    high, low = (window.upper or window.lower or 0.0) * FAR, (window.lower or window.upper or 0.0) / FAR
    odd = np.flatnonzero((mean > high) | (mean < low))
    if not odd.size:
        return []
    first = f"{units[odd[0]]} with a mean of {number(float(mean[odd[0]]), 4)} {unit}"
    many = f"{odd.size} units" if odd.size > 1 else "One unit"
    return [f"{many} far from any such film ({first}): written in another unit of length? The verdict takes it as written."]


def _notes(made: Made, rule: AcceptanceRule, judging: _Judging, given: FilmTable, groups: Groups) -> tuple[str, ...]:
    notes = []
    many = int((groups.spot_taken > rule.readings_per_spot).sum()) if rule.readings_per_spot > 1 else 0
    if many:
        first = int(np.flatnonzero(groups.spot_taken > rule.readings_per_spot)[0])
        where = f"{groups.unit[groups.area_unit[groups.spot_area[first]]]}, {groups.spot[first]}"
        notes.append(
            f"{plural(many, 'spot')} with more than {rule.readings_per_spot} readings, first {where}: measured again after a "
            "touch-up (then judge the last attempt alone), or read until it passed?"
        )
    if rule.reservation:
        notes.append(f"{rule.title}: {rule.reservation}. What binds is the document that the contract names.")
    if rule.counts_by_surface and not any(judging.needed):
        things = "areas" if rule.areas_ft2.steps or rule.areas_m2.steps else "readings"
        notes.append(f"No surface was given, so that the number of {things} is not checked: not a full application of the rule.")
    if given.converted:
        notes.append(
            f"{plural(given.converted, 'reading')} written in another unit, converted to {made.unit}; kept as written too."
        )
    if made.options["correction"]:
        notes.append(f"{number(made.options['correction'], 4)} {made.unit} for the blast profile taken off each reading.")
    if made.missing_rows:
        notes.append(f"{plural(len(made.missing_rows), 'reading')} missing, counted as not taken.")
    if made.options["sigma_repeat"] is None:
        notes.append(
            "Whether the gauge can tell is not judged: say how it repeats (sigma_repeat) and how far it may be off (bias_bound)."
        )
    return tuple(notes)
