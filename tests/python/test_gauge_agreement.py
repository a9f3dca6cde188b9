"""Say against what it is checked: published rows, an independent oracle, a property, the refusals."""

from __future__ import annotations

import pytest

import steadyfilm as sf

from reference import Args, adapter


@adapter("gauge_agreement")
def _gauge_agreement(args: Args) -> dict[str, float]:
    return {"value": sf.compute_gauge_agreement(args.list("values"), unit="").value}


def example_results() -> list[sf.GaugeAgreement]:
    return [sf.compute_gauge_agreement([2.11, 2.07, 2.14, 2.09], unit="mil"), sf.compute_gauge_agreement([3.2], unit="mil")]


def test_twice_the_data_give_twice_the_value() -> None:
    one, two = sf.compute_gauge_agreement([1.0, 2.0, 4.0], unit="mil"), sf.compute_gauge_agreement([2.0, 4.0, 8.0], unit="mil")
    assert two.value == pytest.approx(2.0 * one.value)


def test_missing_readings_are_refused() -> None:
    with pytest.raises(sf.DataProblemsError, match=r"column 'film', row 2: reading is missing"):
        sf.compute_gauge_agreement({"film": [2.1, None, 2.2]}, "film", unit="mil")
