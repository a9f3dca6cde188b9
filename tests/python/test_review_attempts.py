"""Units measured again: charts and capability from the first attempt, the window from the last, both shares told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.reports.figures import histogram_figure
from steadyfilm.reports.review import review_html
from steadyfilm.reports.workbook import review_sheets
from test_report import WHEN

from helpers import ONE_LAYER, shop

PLAN = ONE_LAYER.replace('time = "when"', 'time = "when"\nattempt = "try"').replace("upper = 2.3", 'upper = 2.3\nmiss = "rework"')


def touched_up() -> tuple[dict[str, list[Any]], list[str]]:
    """A shop in which four units of the second month start out at 2.5 mil and are read again at 2.1."""
    table = shop(seed=4)
    table["try"] = [1] * len(table["film"])
    again = ["U210", "U241", "U300", "U352"]
    for unit in again:
        rows = [i for i, name in enumerate(table["unit"]) if name == unit]
        for i in rows:
            for name in table:
                table[name].append({"film": 2.1, "try": 2}.get(name, table[name][i]))
            table["film"][i] = 2.5
    return table, again


@pytest.fixture(scope="module")
def review() -> sf.Review:
    return sf.review_readings(touched_up()[0], sf.read_plan(PLAN))


def test_both_shares_are_counted(review: sf.Review) -> None:
    table, again = touched_up()
    film, tries = np.array(table["film"]), np.array(table["try"])
    units = [unit for unit in dict.fromkeys(table["unit"]) if int(unit[1:3]) >= 20]
    names = np.array(table["unit"])
    first = np.array([film[(names == unit) & (tries == 1)].mean() for unit in units])
    kept = int(((first >= 1.9) & (first <= 2.3)).sum())
    found = review.layers[0].conformance
    assert found is not None
    assert (found.first_judged, found.first_kept) == (120, kept)
    assert found.measured_again == tuple(again)
    assert found.first_pass_share == pytest.approx(kept / 120)
    assert found.rework_share == pytest.approx(4 / 120)
    assert found.missing == 120 - kept - 4  # the four keep the window in the end
    words = f"first pass {100 * kept / 120:.1f} % ({kept} of 120), measured again 3.3 % (4 of 120)"
    assert any(words in line for line in review.verdict)
    assert words in review_html(review, when=WHEN)
    layers = next(sheet for sheet in review_sheets(review) if sheet.name == "Layers")
    row = dict(zip(layers.head, layers.rows[0], strict=True))
    assert row["first-pass share"] == pytest.approx(kept / 120)
    assert row["share measured again"] == pytest.approx(4 / 120)


def test_capability_is_of_first_attempts_and_the_histogram_of_the_judged_ones(review: sf.Review) -> None:
    layer = review.layers[0]
    assert layer.capability is not None
    assert sorted(layer.capability.values) == pytest.approx(sorted(layer.average))
    assert (np.abs(layer.capability.values - 2.5) < 1e-9).sum() == 4
    found = layer.conformance
    assert found is not None
    title = histogram_figure(review, layer).title
    assert title.startswith(f"{found.missing or 'None'} of 120 units ")


def test_without_a_second_attempt_nothing_is_said_of_first_ones() -> None:
    found = sf.review_readings(shop(seed=4), sf.read_plan(ONE_LAYER)).layers[0].conformance
    assert found is not None
    assert found.first_pass_text == ""
    assert found.first_pass_share == pytest.approx(1.0 - found.share)
