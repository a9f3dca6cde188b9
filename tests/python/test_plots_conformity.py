"""Pictures of conformity, planning and resolution: the numbers drawn are those of the result."""

from __future__ import annotations

import numpy as np
import pytest

import steadyfilm as sf

PLAN = {"unit": "mil", "sigma_location": 0.13, "sigma_repeat": 0.05, "location_count": 5}


def test_zones_of_a_window_are_those_of_its_guard_band() -> None:
    band = sf.guard_band(unit="mil", lower=1.0, upper=1.2, standard_uncertainty=0.02)
    drawn = band.plot(quantity="film")
    assert drawn.title == band.sentence()
    assert drawn.axes["window"].get_xlabel() == "film (mil)"
    zones = drawn.data["zones"].reshape(-1, 2)
    inner = [band.reject_lower, band.accept_lower, band.accept_upper, band.reject_upper]
    np.testing.assert_array_equal(zones[1:, 0], inner)
    np.testing.assert_array_equal(zones[:-1, 1], inner)
    assert len(drawn.artists["zones"]) == 5
    narrow = sf.guard_band(unit="mil", lower=1.0, upper=1.2, standard_uncertainty=0.08).plot()
    assert len(narrow.artists["zones"]) == 3
    one = sf.assess_reading(43.0, unit="um", lower=42.0, standard_uncertainty=1.5).plot()
    assert len(one.artists["zones"]) == 3
    assert one.data["reading"].tolist() == [43.0]


def test_operating_curves_of_several_plans_share_a_picture() -> None:
    few = sf.operating_curve(**PLAN, lower=3.0, upper=3.5)
    many = sf.operating_curve(**{**PLAN, "location_count": 15}, lower=3.0, upper=3.5)
    drawn = few.plot(others=[many])
    np.testing.assert_array_equal(drawn.data["probability"], few.probability)
    np.testing.assert_array_equal(drawn.data["probability_2"], many.probability)
    np.testing.assert_array_equal(drawn.artists["curves"][1].get_ydata(), 100 * many.probability)
    dashes = [line.get_linestyle() for line in drawn.artists["curves"]]
    assert dashes[0] != dashes[1]
    with pytest.raises(ValueError, match="holds four curves"):
        few.plot(others=[many] * 4)


def test_the_chosen_plan_is_ringed_where_it_lies_on_its_curve() -> None:
    plan = sf.plan_readings(unit="mil", sigma_location=0.13, sigma_repeat=0.05, uncertainty=0.05)
    drawn = plan.plot()
    at = drawn.data["readings_1"].tolist().index(8)
    assert drawn.data["chosen"].tolist() == [8, plan.uncertainty]
    assert drawn.data["uncertainty_1"][at] == pytest.approx(plan.uncertainty, rel=1e-12)


def test_bars_of_a_study_plan_show_which_reach_the_width() -> None:
    plan = sf.plan_gauge_study(unit="mil", relative_width=1.0, sigma_repeat=0.035, sigma_appraiser=0.01)
    drawn = plan.plot()
    assert drawn.data["appraisers"].tolist() == [2, 3, 4, 5, 6]
    hatched = [bar.get_hatch() is not None for bar in drawn.artists["bars"]]
    assert hatched == (~drawn.data["reached"]).tolist()


def test_rounded_readings_are_drawn_one_bar_a_displayed_value() -> None:
    found = sf.fit_rounded([2.0, 2.1, 2.1, 2.2, 2.1, 2.4], unit="mil", step=0.1)
    drawn = found.plot(quantity="film")
    assert [bar.get_height() for bar in drawn.artists["bars"]] == found.counts.tolist()
    assert drawn.data["mean_sd"].tolist() == [found.mean, found.sd]
    only = sf.fit_rounded([2.1, 2.1, 2.2], unit="mil", step=0.1)
    assert only.plot().data["mean_sd"].tolist() == [only.mean, only.sd_upper]
