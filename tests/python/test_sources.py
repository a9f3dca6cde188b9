"""Every source that a reference row names is listed once, with its citation and how it was seen."""

from __future__ import annotations

import csv
from pathlib import Path

REFERENCE = Path(__file__).parents[1] / "reference"


def _read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


SOURCES = _read(REFERENCE / "SOURCES.csv")
ROWS = [row for path in sorted((REFERENCE / "rows").glob("*.csv")) for row in _read(path)]


def test_every_source_of_a_row_is_listed() -> None:
    keys = {source["key"] for source in SOURCES}
    wanted = {(row["stem"], row["source"]) for row in ROWS if row["source"]}
    assert len(wanted) > 0
    assert sorted((stem, key) for stem, key in wanted if key not in keys) == []


def test_sources_are_listed_once_and_whole() -> None:
    keys = [source["key"] for source in SOURCES]
    assert len(keys) == len(set(keys))
    assert [source["key"] for source in SOURCES if not (source["citation"].strip() and source["how_seen"].strip())] == []


def test_a_source_says_how_it_was_seen_as_its_rows_do() -> None:
    how = {source["key"]: source["how_seen"] for source in SOURCES}
    wrong = set()
    for row in ROWS:
        said = how.get(row["source"], "")
        if row["status"] == "from memory" and "memory" not in said:
            wrong.add((row["source"], "has rows from memory"))
        if row["status"] == "published" and said in ("computed", "from memory, not seen"):
            wrong.add((row["source"], "has published rows"))
    assert wrong == set()
