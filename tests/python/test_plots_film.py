"""Pictures of film acceptance and of layers: what is drawn is what was judged."""

from __future__ import annotations

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.plots.film_layers import plot_stack_up
from steadyfilm.plots.film_thickness import MOST_ROWS, plot_acceptance, plot_operating_curve, plot_places
from test_film_thickness import accept_month, judge


def test_the_map_has_a_row_a_unit_and_its_verdict_in_words() -> None:
    found = accept_month()
    drawn = plot_acceptance(found)
    assert drawn.title == found.sentence()
    assert [text.get_text() for text in drawn.artists["verdicts"]] == ["pass", "fail", "not demonstrated"]
    assert drawn.data["film"].tolist() == found.spots.mean.tolist()
    assert (drawn.data["side"] != 0).sum() == 1
    assert len(drawn.artists["outside"][0].get_offsets()) == 1
    # four lines; words for the window and for the two limits of a spot
    assert len(drawn.artists["lines"]) == 7


def test_doubtful_verdicts_are_marked_and_singles_have_their_own_limits() -> None:
    close = judge([2.01] * 5, sf.area_rule(), sigma_repeat=0.03, bias_bound=0.02)
    assert [text.get_text() for text in plot_acceptance(close).artists["verdicts"]] == ["pass (doubtful)"]
    film = {"film": [79.0, *([110.0] * 9)]}
    thin = sf.accept_film(film, "film", rule=sf.rough_steel_rule(), unit="um", nominal=100.0, correction_um=0.0)
    assert plot_acceptance(thin).data["side"].tolist() == [-1.0] + [0.0] * 9


def test_with_many_units_those_that_do_not_pass_are_drawn() -> None:
    rows = {"body": [], "film": []}
    for k in range(MOST_ROWS + 20):
        rows["body"] += [f"b{k}"] * 2
        rows["film"] += [90.0 if k in (3, 50) else 110.0] * 2
    found = sf.accept_film(rows, "film", rule=sf.ninety_ten_rule(), unit="um", nominal=105.0, body="body")
    drawn = plot_acceptance(found)
    assert drawn.data["verdict"].tolist() == [0.0, 0.0]
    assert "58 further units not drawn" in drawn.caption


def test_places_are_drawn_as_in_a_review() -> None:
    drawn = plot_places(accept_month())
    assert drawn.data["spots"].shape == (3, 5)
    assert drawn.data["below"].tolist() == [0, 0, 1, 0, 0]
    assert drawn.data["above"].tolist() == [0, 0, 0, 0, 0]
    # spots exactly on a limit that is a product in doubles are inside, as they are judged
    edge = judge([0.88] * 5, sf.house_rule("edge", spot=sf.Shares(1.0, None)), lower=0.8 * 1.1, upper=None)
    assert (edge.verdict[0], plot_places(edge).data["below"].sum()) == ("pass", 0)


def test_the_operating_curve_marks_the_mean_asked_about() -> None:
    curve = sf.acceptance_curve(
        sf.area_rule(), unit="mil", window=sf.SpecLimits(2.0, 2.2), sigma_location=0.1, at_mean=2.1, draws=300
    )
    drawn = plot_operating_curve(curve)
    assert np.array_equal(drawn.data["probability"], curve.probability)
    # The window's words stand over the axes, clear of the curve.
    words = [item for item in drawn.artists["window"] if hasattr(item, "get_text")]
    assert [text.get_position()[1] for text in words] == [1.0] * len(words)
    assert words
    assert len(drawn.artists["asked"]) == 2
    assert len(drawn.artists["window"]) == 4


def test_the_stack_up_names_its_layers_and_shows_the_totals_window() -> None:
    found = sf.stack_up(centers_mil=[1.1, 2.1], half_widths_mil=[0.1, 0.1])
    drawn = plot_stack_up(found, names=("primer", "topcoat"), total=sf.SpecLimits(3.0, 3.5))
    assert drawn.data["lower"] == pytest.approx([1.0, 2.0, 3.0, 3.2 - 0.02**0.5])
    assert drawn.data["upper"] == pytest.approx([1.2, 2.2, 3.4, 3.2 + 0.02**0.5])
    assert len(drawn.artists["window"]) == 4
    words = [text.get_text() for text in drawn.artists["ends"]]
    assert "primer" in words
    with pytest.raises(ValueError, match="needs 2 names"):
        plot_stack_up(found, names=("primer",))


def test_a_unit_in_the_wrong_unit_is_an_arrow_and_does_not_hide_the_others() -> None:
    rows = {"body": ["a"] * 15 + ["b"] * 15, "place": list("vwxyz") * 6, "film": [3.1] * 15 + [78.0] * 15}
    found = sf.accept_film(rows, "film", rule=sf.area_rule(), unit="mil", lower=3.0, upper=3.5, body="body", spot="place")
    drawn = plot_acceptance(found)
    low, high = drawn.axes["map"].get_xlim()
    # Limits of spots are 2.4 and 4.2: half as far again is shown at most.
    assert (low < 2.4, 4.2 < high < 6.0) == (True, True)
    assert "Arrows: 5 spots beyond the picture, the farthest at 78 mil." in drawn.caption
    assert len(drawn.artists["inside"][0].get_offsets()) == 5
    assert [len(x.get_offsets()) for x in drawn.artists["outside"]] == [0, 5]
    assert drawn.data["film"].max() == pytest.approx(78.0)
