"""Another invented shop goes through the same commands: other names, one booth, three coats, um, decimal comma, no event log."""

from __future__ import annotations

import json
import re
import warnings
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import steadyfilm as sf
from other_shop import START, STEP, UNITS, write_shop
from steadyfilm.cli import main


def run(*arguments: Any) -> Result:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        return CliRunner().invoke(main, [str(argument) for argument in arguments], catch_exceptions=False)


def test_check_screen_and_review_of_a_month_with_a_baseline(tmp_path: Path) -> None:
    # Of 60 seeds 55 tell the step as a lasting one of this coat, with 53 intervals over its size and 55 over its start.
    readings, plan = write_shop(tmp_path, seed=2)
    fit = run("plan", "check", plan, readings)
    assert fit.exit_code == 0, fit.stdout
    assert re.search(r"Deck, median 5\d\.?\d? um", fit.stdout)
    screened = run("screen", readings, "--plan", plan)
    assert screened.stdout.startswith("Nothing wrong with 3960 readings of 110 units; ")
    done = run("review", readings, "--plan", plan, "--out", tmp_path / "out", "--fail-on", "signal")
    assert done.exit_code == 4, done.stderr
    first = done.stdout.splitlines()[0]
    told = re.fullmatch(
        r"The line is not stable: Deck fell by ([\d.]+) um \(([\d.]+) to ([\d.]+)\) from (about )?Z-(\d+) "
        r"\(Mar \d+\) to the last unit; no recorded change near its start\.",
        first,
    )
    assert told, first
    assert float(told[2]) <= -STEP <= float(told[3])
    assert abs(int(told[5]) - 300 - START) <= 5
    page = (tmp_path / "out" / "review.html").read_text(encoding="utf-8")
    for words in (
        "Deck (gesamt minus Grund+Zwischen, place by place)",
        "Zwischen (Grund+Zwischen minus Grund",
        "Pfosten",
        "Zäune",
    ):
        assert words in page
    assert "mil" not in re.sub(r"1 mil = 25\.4 µm exactly|<style>.*?</style>|family|similar", "", page, flags=re.DOTALL)
    content = json.loads((tmp_path / "out" / "review.json").read_text(encoding="utf-8"))["review"]
    assert [layer["name"] for layer in content["layers"]] == ["Grund", "Zwischen", "Deck", "gesamt"]


def test_the_same_month_without_a_baseline_promises_nothing(tmp_path: Path) -> None:
    readings, plan = write_shop(tmp_path, baseline=False)
    done = run("review", readings, "--plan", plan, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    first = done.stdout.splitlines()[0]
    assert "The line is stable" not in first
    assert first.startswith(
        ("The line is not stable: Deck fell by ", "In Grund, Zwischen and Deck no change stands out against ")
    )


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_a_quiet_month_of_it_names_no_coat(tmp_path: Path, seed: int) -> None:
    readings, plan = write_shop(tmp_path, seed=seed, step=0.0)
    review = sf.review_files(readings, sf.load_plan(plan))
    assert review.findings == ()
    assert review.verdict[0].startswith(f"The line is stable: no change found in Grund, Zwischen and Deck over {UNITS} units; ")
    assert review.layers[2].moving_ranges == UNITS - 1
