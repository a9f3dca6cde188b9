"""The report of a log of bakes: one HTML page that needs nothing else, and all its numbers as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from steadyfilm._cure.recipes import Recipe
from steadyfilm._cure_verdicts import minutes_text
from steadyfilm._format import fixed, number, plural
from steadyfilm.bakes import Bake, BakedPlace, BakeReview, coldest_places, dose_chart
from steadyfilm.cure_profile import activation_energy_from_schedule
from steadyfilm.errors import InvalidInputError
from steadyfilm.plots.cure_profile import plot_bakes, plot_schedule
from steadyfilm.reports.figures import Figure, Table, figure_of, option_rows
from steadyfilm.reports.page import Written, numbers_json, render_page, write_report

__all__ = ["cure_html", "cure_json", "write_cure"]

LEAST_LOADS = 8
"""Fewer loads make no chart from load to load."""
MOST_PICTURES = 6
"""Bakes that did not pass and are drawn; all are in the table."""


@dataclass(frozen=True)
class RecipeView:
    """One recipe: its lines, what they imply, and its picture."""

    name: str
    table: Table
    energy: str
    figure: Figure | None


def write_cure(review: BakeReview, folder: str | Path, *, when: datetime | None = None) -> Written:
    """Write ``cure.html`` and ``cure.json`` into a folder, made if missing.

    Parameters
    ----------
    review : BakeReview
    folder : str or Path
    when : datetime, optional
        Time of the run, now if left out; it stands in the marked block alone.
    """
    moment = when or datetime.now()
    return write_report(
        "cure",
        folder,
        html=cure_html(review, when=moment),
        numbers=cure_json(review, when=moment),
    )


def cure_json(review: BakeReview, *, when: datetime) -> str:
    """All figures, verdicts and faults; the readings themselves stay in the log, whose digest is here."""
    content = review.to_dict()
    content.pop("traces")
    return numbers_json("cure", content, when=when)


def cure_html(review: BakeReview, *, when: datetime) -> str:
    """The page; every name from the data is escaped."""
    wrong = [bake for bake in review.bakes if bake.state != "pass"]
    passed = [bake for bake in review.bakes if bake.state == "pass"]
    return render_page(
        "cure.html.j2",
        when=when,
        review=review,
        status=_status(review),
        bakes=_bake_table(review, wrong, "Bakes that did not pass, by their worst place; time as observed"),
        passed=_bake_table(review, passed, "Bakes that passed, by their worst place; time as observed"),
        passed_count=plural(len(passed), "bake"),
        pictures=[_bake_figure(review, bake) for bake in wrong[:MOST_PICTURES]],
        undrawn=[bake.bake for bake in wrong[MOST_PICTURES:]],
        worst=_ordinary(review),
        faults=_fault_table(review),
        loads=_load_view(review),
        heat=[f"Bake {bake.bake}: {words}." for bake in review.bakes for words in bake.oven_faults],
        recipes=[_recipe_view(review, recipe) for recipe in review.recipes],
        options=option_rows(review.made.options),
    )


def _status(review: BakeReview) -> tuple[str, str]:
    """A class name and the big word."""
    if review.failed:
        return "bad", f"{plural(review.failed, 'bake')} failed"
    if review.not_demonstrated:
        return "open", f"{plural(review.not_demonstrated, 'bake')} not demonstrated"
    return "good", "Every bake had its cure"


def _recipe(review: BakeReview, bake: Bake) -> Recipe:
    return next(recipe for recipe in review.recipes if recipe.name == bake.recipe)


def _bake_table(review: BakeReview, bakes: Sequence[Bake], caption: str) -> Table | None:
    rows = []
    for bake in bakes:
        recipe = _recipe(review, bake)
        worst = next(place for place in bake.places if place.probe == bake.worst)
        rows.append(
            (
                bake.bake,
                bake.start or "-",
                bake.state,
                bake.worst,
                _point_text(worst, recipe),
                _dose_text(worst, recipe),
                "-" if math.isnan(worst.peak_c) else f"{fixed(worst.peak_c, 1)} C",
                "-" if math.isnan(worst.steepest_c_per_min) else f"{fixed(worst.steepest_c_per_min, 2)} C/min",
                plural(len(bake.units), "unit") if bake.units else "-",
            )
        )
    head = ("bake", "start", "state", "worst place", "time at temperature", "dose there", "peak", "steepest rise", "load")
    return Table(caption, head, tuple(rows)) if rows else None


def _point_text(place: BakedPlace, recipe: Recipe) -> str:
    if not place.observed_min:
        return "no reading"
    point = recipe.schedule[place.point]
    have, most = place.observed_min[place.point], place.credited_min[place.point]
    text = f"{minutes_text(have, point.minutes)} of {number(point.minutes)} min at {number(point.temperature_c)} C"
    return text + (f" ({minutes_text(most, point.minutes)} if all is credited)" if most > have * (1.0 + 1e-9) + 1e-9 else "")


def _dose_text(place: BakedPlace, recipe: Recipe) -> str:
    wanted = recipe.dose
    if wanted is None or not place.observed_min:
        return "-"
    word = {"pass": "met", "fail": "missed", "not demonstrated": "not demonstrated"}[place.dose]
    text = f"{word}: {minutes_text(place.dose_observed_min, wanted.minutes)} of {number(wanted.minutes)} min"
    if math.isfinite(place.dose_low_min):
        text += f" ({fixed(place.dose_low_min, 1)} to {fixed(place.dose_high_min, 1)} for the probe's tolerance)"
    return text


def _bake_figure(review: BakeReview, bake: Bake) -> Figure:
    drawn = plot_bakes(review, bake=bake.bake)
    recipe = _recipe(review, bake)
    rows = tuple(
        (
            place.probe,
            place.state,
            _point_text(place, recipe),
            _dose_text(place, recipe),
            "-" if math.isnan(place.peak_c) else f"{fixed(place.peak_c, 1)} C at minute {fixed(place.peak_at_min, 0)}",
            "-" if math.isnan(place.unobserved_min) else f"{fixed(place.unobserved_min, 0)} min",
        )
        for place in bake.places
    )
    head = ("place", "state", "time at temperature", "dose", "peak", "not observed")
    return figure_of(drawn, Table(f"Bake {bake.bake}, place by place", head, rows))


def _ordinary(review: BakeReview) -> Figure | None:
    """The passing bake that came closest to failing, as the shop's usual picture."""
    passed = [bake for bake in review.bakes if bake.state == "pass" and bake.places]
    if not passed:
        return None

    def margin(bake: Bake) -> float:
        place = next(x for x in bake.places if x.probe == bake.worst)
        return place.observed_min[place.point] / _recipe(review, bake).schedule[place.point].minutes

    return _bake_figure(review, min(passed, key=margin))


def _fault_table(review: BakeReview) -> Table | None:
    rows = []
    for fault in review.faults:
        when = f"minute {fixed(fault.from_min, 0)}"
        if fault.to_min > fault.from_min:
            when += f" to {fixed(fault.to_min, 0)}"
        amount = f"{number(fault.amount, 4)} {fault.unit}".rstrip() if fault.unit else "-"
        rows.append((fault.bake, fault.probe or "log", fault.kind, when, amount, fault.words, fault.effect))
    head = ("bake", "probe", "fault", "when", "amount", "what is seen", "what follows")
    return (
        Table("Faults of the log; every threshold is common practice, no source, and an option", head, tuple(rows))
        if rows
        else None
    )


def _load_view(review: BakeReview) -> Figure | None:
    """Dose from load to load at the coldest place, and how often each place was it; None for fewer than eight loads."""
    names = {bake.recipe for bake in review.bakes}
    if len(names) != 1 or len(review.bakes) < LEAST_LOADS or review.recipes[0].dose is None:
        return None
    try:
        drawn = dose_chart(review).plot(quantity="dose at the coldest place")
    except InvalidInputError:
        return None  # no two loads with a whole dose
    rows = tuple((place, str(count)) for place, count in coldest_places(review).items())
    table = Table(f"Coldest place of {plural(len(review.bakes), 'bake')}", ("place", "bakes"), rows)
    return figure_of(drawn, table)


def _recipe_view(review: BakeReview, recipe: Recipe) -> RecipeView:
    rows = [
        ("schedule", f"{number(point.temperature_c)} C", f"{number(point.minutes)} min, any one line is enough")
        for point in recipe.schedule
    ]
    rows += [
        ("upper curve", f"{number(point.temperature_c)} C", f"{number(point.minutes)} min at most; more is over-baked")
        for point in recipe.overbake
    ]
    if recipe.maximum_c is not None:
        rows.append(("maximum", f"{number(recipe.maximum_c)} C", "no part hotter"))
    if recipe.dose is not None:
        role = {"told": "told beside the verdict", "enough": "enough by itself", "needed": "needed as well"}[recipe.dose_role]
        rows.append(
            (
                "dose",
                f"{number(recipe.dose.reference_c)} C",
                f"{number(recipe.dose.minutes)} min, {number(recipe.dose.activation_energy_kj)} kJ/mol; {role}",
            )
        )
    if recipe.air_c is not None:
        rows.append(
            ("oven set to", f"{number(recipe.air_c)} C", "-" if recipe.bake_min is None else f"{number(recipe.bake_min)} min")
        )
    energy = ""
    if len({point.temperature_c for point in recipe.schedule}) > 1:
        found = activation_energy_from_schedule(
            [point.minutes for point in recipe.schedule], temperature_c=[point.temperature_c for point in recipe.schedule]
        )
        energy = found.sentence()
    figure = None
    if any(bake.recipe == recipe.name for bake in review.bakes):
        drawn = plot_schedule(review, recipe=recipe.name)
        table = Table("The schedule", ("line", "part at", "for"), tuple(rows))
        figure = figure_of(drawn, table)
    return RecipeView(recipe.name, Table(f"Recipe {recipe.name}", ("line", "temperature", "time"), tuple(rows)), energy, figure)
