"""The shipped data: the published set as printed, the invented shop's files, and other invented shops."""

from __future__ import annotations

import csv
import doctest
import importlib
import json
import math
from collections import Counter
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from helpers import DATASETS, load_dataset

shop = load_dataset("truck_bodies")
SHOP = shop.SHOP


def test_oxide_thickness_gives_the_published_components() -> None:
    """Littell et al. 1996, analyzed in Pinheiro & Bates 2000, who print these REML estimates.

    For a balanced nested design with no negative component REML equals the analysis of variance.
    """
    with (DATASETS / "oxide_thickness" / "data.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 72
    cells: dict[tuple[int, int, int], float] = {}
    for row in rows:
        cells[int(row["Lot"]), int(row["Wafer"]), int(row["Site"])] = float(row["Thickness"])
    x = np.array([cells[key] for key in sorted(cells)]).reshape(8, 3, 3)
    wafers, lots = x.mean(axis=2), x.mean(axis=(1, 2))
    ms_site = ((x - wafers[..., None]) ** 2).sum() / (8 * 3 * 2)
    ms_wafer = 3 * ((wafers - lots[:, None]) ** 2).sum() / (8 * 2)
    ms_lot = 9 * ((lots - x.mean()) ** 2).sum() / 7
    found = [math.sqrt((ms_lot - ms_wafer) / 9), math.sqrt((ms_wafer - ms_site) / 3), math.sqrt(ms_site)]
    assert [*found, x.mean()] == pytest.approx([11.398, 5.989, 3.545, 2000.153], abs=5e-4)


# --- the files ----------------------------------------------------------------------------------


def read(path: Path, separator: str = ",") -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, delimiter=separator, strict=True))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("shop")
    demo_shop = load_dataset(load_dataset().DEMO)
    written = demo_shop.write_demo(root, 3)
    assert sorted(written) == sorted(path for path in root.rglob("*") if path.is_file())
    return root


def test_files_are_the_same_bytes_for_a_seed_and_differ_between_seeds(folder: Path, tmp_path: Path) -> None:
    for path in shop.write(tmp_path, seed=3):
        assert path.read_bytes() == (folder / path.relative_to(tmp_path)).read_bytes()
    shop.write(tmp_path, seed=4)
    for month in shop.MONTHS:
        assert (tmp_path / month / "readings.csv").read_bytes() != (folder / month / "readings.csv").read_bytes()
    baseline = (folder / "baseline" / "verification.csv").read_bytes()
    assert baseline != (folder / "quiet" / "verification.csv").read_bytes()


def test_a_month_written_alone_is_the_same(folder: Path, tmp_path: Path) -> None:
    shop.write(tmp_path, seed=3, months=("demo",))
    assert {path.name for path in tmp_path.iterdir()} == {"demo", "gauge_studies.csv", "truth.json"}
    for path in (tmp_path / "demo").iterdir():
        assert path.read_bytes() == (folder / "demo" / path.name).read_bytes()


@pytest.mark.parametrize("month", ["baseline", "demo", "quiet"])
def test_readings_are_typed_as_the_gauge_displays(folder: Path, month: str) -> None:
    rows = read(folder / month / "readings.csv")
    per_unit = Counter(row["unit"] for row in rows if row["attempt"] == "1")
    assert set(per_unit.values()) == {30}
    planted = set(json.loads((folder / "truth.json").read_text())["months"][month]["hit"].get("E6", []))
    seen = set()
    for row in rows:
        digits = len(row["value"].partition(".")[2])
        if row["unit"] not in planted or row["layer"] == "primer":
            seen.add((row["gauge"], row["substrate"], row["unit_of_measure"], digits))
    own = {("Q1", "steel", "mil", 2), ("Q1", "aluminum", "mil", 2), ("Q2", "steel", "mil", 1), ("Q2", "aluminum", "um", 0)}
    assert seen == own


def test_calendar_is_working_days_and_the_baseline_ends_the_day_before(folder: Path) -> None:
    days = {month: sorted({row["time"][:10] for row in read(folder / month / "readings.csv")}) for month in shop.MONTHS}
    assert days["demo"] == days["quiet"]
    assert [len(days[month]) for month in shop.MONTHS] == [21, 21, 21]
    dates = [date.fromisoformat(text) for text in days["baseline"] + days["demo"]]
    for one, two in pairwise(dates):
        assert two - one == timedelta(days=3 if one.weekday() == 4 else 1)
    assert dates[21] == SHOP.first_day


@pytest.mark.parametrize("month", ["baseline", "demo", "quiet"])
def test_shop_runs_as_described(folder: Path, month: str) -> None:
    rows = [row for row in read(folder / month / "readings.csv") if row["attempt"] == "1"]
    by_day: dict[str, set[str]] = {}
    for row in rows:
        by_day.setdefault(row["time"][:10], set()).add(row["unit"])
        late = row["time"][11:] >= "14:00"
        assert row["gauge"] == ("Q2" if late else "Q1")
        crew = {("B1", False): {"P1"}, ("B2", False): {"P2"}, ("B1", True): {"P3", "P5"}, ("B2", True): {"P4"}}
        assert row["painter"] in crew[row["booth"], late]
    assert {len(units) for units in by_day.values()} <= {8, 9, 10}
    for number, day in enumerate(sorted(by_day)):
        hung = {(row["booth"], row["gun"]) for row in rows if row["time"][:10] == day}
        swapped = number // 2 % 2 == 1
        assert hung == ({("B1", "G2"), ("B2", "G1")} if swapped else {("B1", "G1"), ("B2", "G2")})
    serials = list(dict.fromkeys(row["unit"] for row in rows))
    assert serials == sorted(serials)
    for reading in ("primer", "total"):
        times = [row["time"] for row in rows if row["layer"] == reading]
        assert times == sorted(times)


def test_event_log_says_what_a_shop_would_write_down(folder: Path) -> None:
    logs = {month: read(folder / month / "events.csv") for month in shop.MONTHS}
    readings = read(folder / "demo" / "readings.csv")
    for log in logs.values():
        assert [row["time"] for row in log] == sorted(row["time"] for row in log)
    opened = {row["item"]: row["time"][:10] for row in logs["demo"] if row["factor"] == "batch"}
    used: dict[str, str] = {}
    for row in readings:
        used.setdefault(row["batch"], row["time"][:10])
    assert opened == used
    told = {(row["factor"], row["item"], row["action"]) for row in logs["demo"]}
    shared = {(row["factor"], row["item"], row["action"]) for row in logs["quiet"]}
    planted = json.loads((folder / "truth.json").read_text())["months"]["demo"]["hit"]
    assert shared < told
    assert told - shared == {
        ("gun", "G1", "nozzle replaced"),
        ("painter", "P5", "started"),
        ("gauge", "Q2", "adjusted"),
        *(("unit", serial, "measured again") for serial in planted["E4 measured again"]),
        *(("unit", serial, "touched up") for serial in planted["E11"]),
        ("oven", "O1", "burner repaired"),
        ("probe", "frame", "plug reseated"),
        ("bake", "29", "pulled early"),
        ("tank", "phosphate", "feed pump freed"),
    }
    days = sorted({row["time"][:10] for row in readings})
    at = {row["action"]: row["time"] for row in logs["demo"] if row["factor"] != "batch"}
    assert at["nozzle replaced"] == f"{days[14]} 05:50"
    assert at["started"] == f"{days[12]} 13:50"
    assert at["adjusted"] == f"{days[6]} 05:50"
    assert at["pulled early"] == f"{days[14]} 12:00"
    assert at["burner repaired"][:10] == days[17]
    assert at["plug reseated"][:10] == days[8]
    about = {row["factor"]: row["layer"] for row in logs["demo"]}
    assert at["feed pump freed"][:10] == days[19]
    assert about["tank"] == "pretreatment"
    assert about["oven"] == about["probe"] == about["bake"] == "cure"
    known: dict[str, set[str]] = {}
    for path in (folder / "demo").glob("*.csv"):
        if path.name != "events.csv":
            for row in read(path):
                for name, cell in row.items():
                    known.setdefault(name, set()).add(cell)
    for row in logs["demo"]:
        assert row["item"] in known[row["factor"]]


def test_truth_holds_every_planted_number(folder: Path) -> None:
    truth = json.loads((folder / "truth.json").read_text())
    codes = [event["code"] for event in truth["scenario"]["events"]]
    assert codes == ["E1", "E2", "E3", "E4", "E5", "E6", "E7", "E8", "E9", "E10", "E11"] == list(truth["kinds"])
    planted = {event["code"]: event for event in truth["scenario"]["events"]}
    assert planted["E1"]["per_day"] * 10 == pytest.approx(0.25)
    assert planted["E2"]["factor"] == pytest.approx(48 / 52, abs=5e-4)
    assert planted["E3"]["spread_factor"] == {"topcoat": 2.2}
    assert planted["E4"]["offset"] == 0.15
    assert truth["bakes"] == {"E5": 34, "E9": 16, "E10": 29}
    assert set(truth["months"]["demo"]["hit"]) == {*codes, "E4 measured again"}
    assert truth["months"]["quiet"]["hit"] == truth["months"]["baseline"]["hit"] == {}
    assert truth["months"]["demo"]["day_effects"] == truth["months"]["quiet"]["day_effects"]
    assert truth["months"]["demo"]["day_effects"] != truth["months"]["baseline"]["day_effects"]


# --- other shops --------------------------------------------------------------------------------


def test_three_coat_shop_writes_its_own_kind_of_files(tmp_path: Path) -> None:
    scenario = shop.three_coats()
    shop.write(tmp_path, seed=5, scenario=scenario)
    assert not list(tmp_path.rglob("events.csv"))
    rows = read(tmp_path / "demo" / "readings.csv", ";")
    assert {"serial no", "thickness", "after coat", "operator", "pistol"} < set(rows[0])
    quiet = read(tmp_path / "quiet" / "readings.csv", ";")
    means = {}
    for layer in ("primer", "primer and mid coat", "all coats"):
        values = [float(row["thickness"].replace(",", ".")) for row in quiet if row["after coat"] == layer]
        means[layer] = np.mean(values)
    assert {row["dimension"] for row in rows} == {"µm"}
    nominal = [1.10, 1.10 + 1.40, 1.10 + 1.40 + 2.10]
    assert list(means.values()) == pytest.approx([25.4 * mil for mil in nominal], rel=0.02)
    # The slip of the unit is the other way round here: mil typed as um.
    slip = [row for row in rows if float(row["thickness"].replace(",", ".")) < 10.0]
    assert len({row["serial no"] for row in slip}) == 1
    assert {row["after coat"] for row in slip} == {"all coats"}


def test_one_booth_sees_both_guns() -> None:
    month = shop.simulate("demo", seed=2, scenario=shop.one_booth())
    assert {unit.booth for unit in month.units} == {"B1"}
    assert {unit.gun for unit in month.units} == {"G1", "G2"}
    assert {unit.painter for unit in month.units} == {"P1", "P3", "P5"}


def test_variant_changes_sizes_days_and_names() -> None:
    places = ("front", "back", "top")
    scenario = shop.variant(
        SHOP,
        {
            "units_per_day": (20, 24),
            "locations": places,
            "repeats": 2,
            "layers.primer.location": {},
            "layers.topcoat.location": {"top": 0.1},
            "events.E1.first_day": 3,
            "events.E11.location": "back",
        },
        rename={"G1": "gun north", "topcoat": "finish", "total": "both", "Q2": "gauge 7"},
    )
    month = shop.simulate("demo", seed=2, scenario=scenario)
    table = month.readings.columns
    assert set(table["layer"]) == {"primer", "both"}
    assert set(table["gun"]) == {"gun north", "G2"}
    assert set(table["location"]) == set(places)
    assert (table["attempt"] == 1).sum() == len(month.units) * 2 * 3 * 2
    assert min(unit.day for unit in month.units if unit.serial in month.hit["E1"]) == 3
    assert "gauge 7" in month.events.columns["item"]


def test_contradictions_are_refused_by_name() -> None:
    with pytest.raises(ValueError, match=r"event E11: location 'inside compartment' is none of 'front'"):
        shop.variant(SHOP, {"locations": ("front",)})
    with pytest.raises(ValueError, match=r"event E2: days 8 to 12 must be those of a batch"):
        shop.variant(SHOP, {"events.E2.first_day": 8})
    with pytest.raises(ValueError, match=r"event E4: days 21 to 21 must lie in 1 to 20"):
        shop.variant(SHOP, {"events.E4.day": 21})
    with pytest.raises(ValueError, match=r"',' is both separator and decimal sign"):
        shop.variant(SHOP, {"style.decimal": ","})
    with pytest.raises(ValueError, match=r"booth 'B3' on shift 'day' needs exactly one painter"):
        shop.variant(SHOP, {"booths": ("B1", "B2", "B3")})
    with pytest.raises(KeyError, match=r"layers.clearcoat.mean: no element 'clearcoat' among primer, topcoat"):
        shop.variant(SHOP, {"layers.clearcoat.mean": 1.0})
    with pytest.raises(ValueError, match=r"month 'may' is none of baseline, demo, quiet"):
        shop.simulate("may")


def test_docstring_example_runs() -> None:
    module = importlib.import_module(f"{shop.__name__}.variants")
    outcome = doctest.testmod(module)
    assert outcome.attempted > 0
    assert outcome.failed == 0


def test_readme_names_every_column() -> None:
    text = (DATASETS / "truck_bodies" / "README.md").read_text()
    month = shop.simulate("demo")
    for table in (month.readings, month.events, month.verification, *month.logs.values(), shop.log_studies(SHOP, seed=1)):
        for name in table.columns:
            assert f"| `{name}` |" in text, name
