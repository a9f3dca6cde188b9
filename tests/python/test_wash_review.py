"""A washer's month: the stuck feed pump of the demonstration named before the titration tells, other shops, and what is refused."""

from __future__ import annotations

import json
import math
import shutil
from collections.abc import Iterator
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import steadyfilm as sf
from steadyfilm._plan.wash import load_wash_plan, make_wash_plan
from steadyfilm._wash.use import stretches
from steadyfilm.cli import main

from helpers import DATASETS, load_dataset

shop = load_dataset("truck_bodies")
PLAN = DATASETS / "truck_bodies" / "plan.toml"
FILES = ("wash_checks", "chemical_feed", "chemical_additions", "output", "events")


@pytest.fixture(scope="module")
def months(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration's own files and plan."""
    folder = tmp_path_factory.mktemp("months")
    shop.write(folder)
    shutil.copyfile(PLAN, folder / "plan.toml")
    return folder


def planted(folder: Path) -> tuple[str, np.datetime64, np.datetime64]:
    """Tank, and first and last day of the stuck pump, from the truth that only tests read."""
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    event = next(x for x in truth["scenario"]["events"] if x["code"] == "E7")
    days = (
        [np.datetime64(day) for day in next(x for x in truth["months"] if x["name"] == "demo")["days"]]
        if isinstance(truth["months"], list)
        else [np.datetime64(day) for day in truth["months"]["demo"]["days"]]
    )
    return event["tank"], days[event["first_day"] - 1], days[event["last_day"] - 1]


def cut(folder: Path, into: Path, moment: str) -> Path:
    """The demo month as it lay on the table at a moment: rows up to then, and shifts that were over by then."""
    into.mkdir()
    for name in FILES:
        lines = (folder / "demo" / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        late = (np.datetime64(moment.replace(" ", "T")) - np.timedelta64(8, "h")).astype("datetime64[m]")
        until = str(late).replace("T", " ") if name == "output" else moment
        (into / f"{name}.csv").write_text(
            "\n".join([lines[0], *(x for x in lines[1:] if x[:16] <= until)]) + "\n", encoding="utf-8"
        )
    return into


def test_the_stuck_pump_is_named_with_tank_start_and_size_before_the_titration_leaves_its_band(months: Path) -> None:
    tank, first, last = planted(months)
    found = sf.review_wash_files(months / "plan.toml")
    (change,) = found.changes
    assert change.tank == tank
    assert change.start == f"{first} 06:00"  # the start of the first shift of its first day
    assert change.end == f"{last} 22:00"
    assert (change.share, change.rate, change.intervals) == (-1.0, 0.0, 16)
    assert change.usual_rate == pytest.approx(12.0 * 0.03, rel=0.01)  # what the tank loses: 12 gal/h at 3 %
    assert change.seen == f"{first} 08:00"  # the first reading of the meter after it stuck
    low = min(
        x[:16]
        for x in (months / "demo" / "wash_checks.csv").read_text(encoding="utf-8").splitlines()
        if f",{tank},concentration," in x and float(x.split(",")[4]) < 2.5
    )
    assert change.out_of_band == low > change.seen
    hours = (np.datetime64(low.replace(" ", "T")) - np.datetime64(f"{first}T08:00")) / np.timedelta64(1, "h")
    assert change.lead_hours == hours > 0
    assert found.sentence().startswith(
        "Phosphate feed delivered nothing from Mar 26, 06:00 to Mar 27, 22:00 (usually 0.36 gal/h); "
    )
    assert "10 h before a titration left its band" in found.sentence()
    assert any("feed pump freed" in text for text in change.recorded)
    assert any("poured in by hand" in text for text in change.recorded)


def test_on_the_day_it_is_named_at_the_first_reading_with_the_titration_still_inside(months: Path, tmp_path: Path) -> None:
    _, first, _ = planted(months)
    told = {}
    for hour in (6, 8, 10, 14):
        folder = cut(months, tmp_path / str(hour), f"{first} {hour:02d}:00")
        told[hour] = sf.review_wash_files(months / "plan.toml", folder)
    assert not told[6].changes
    for hour in (8, 10, 14):
        (change,) = told[hour].changes
        assert change.lasting
        assert change.start == f"{first} 06:00"
        assert change.out_of_band == ""
        assert told[hour].sentence().startswith("Phosphate feed has delivered nothing since Mar 26, 06:00 (usually 0.36 gal/h); ")
        assert "titration still inside its band" in told[hour].sentence()
        # The scenario's own loss is 12 gal/h of 600 gal: 2.5 % after 9.1 h.
        assert "the bath falls below 2.5 % after about 9" in told[hour].sentence()


def test_a_quiet_month_and_the_usual_month_itself_are_quiet(months: Path) -> None:
    for month in ("quiet", "baseline"):
        found = sf.review_wash_files(months / "plan.toml", months / month)
        assert found.steady
        assert not found.changes
        assert found.sentence().startswith("No use of chemical has changed (phosphate")
    assert "The reviewed period is the usual one itself" in found.notes[0]
