"""What several test files share."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from pathlib import Path
from typing import Any

import numpy as np

REPOSITORY = Path(__file__).resolve().parents[2]
DATASETS = REPOSITORY / "datasets"


def load_dataset(name: str = "") -> Any:
    """Import a subpackage of the repository's ``datasets`` folder, or the folder itself without a name.

    It is imported under a name of its own, so that neither an installed copy nor another package
    called ``datasets`` is taken instead.
    """
    package = "repository_datasets"
    if package not in sys.modules:
        spec = importlib.util.spec_from_file_location(
            package, DATASETS / "__init__.py", submodule_search_locations=[str(DATASETS)]
        )
        if spec is None or spec.loader is None:
            raise ImportError(f"no package at {DATASETS}")
        module = importlib.util.module_from_spec(spec)
        sys.modules[package] = module
        spec.loader.exec_module(module)
    return importlib.import_module(f"{package}.{name}" if name else package)


ONE_LAYER = """
streams = ["gun"]
[columns]
unit = "unit"
value = "film"
time = "when"
[measure]
unit = "mil"
[[layers]]
name = "film"
lower = 1.9
upper = 2.3
[baseline]
until = 2026-03-31
"""


def shop(*, step: float = 0.0, seed: int = 1, days: int = 40, per_day: int = 6, gun: str = "A") -> dict[str, list[Any]]:
    """Readings of two guns over two months; from the 26th day on, for six days, one gun is off by ``step``."""
    rng = np.random.default_rng(seed)
    rows: dict[str, list[Any]] = {"unit": [], "film": [], "when": [], "gun": []}
    for day in range(days):
        for k in range(per_day):
            name = "AB"[k % 2]
            off = step if name == gun and 26 <= day < 32 else 0.0
            level = 2.1 + (0.04 if name == "B" else 0.0) + off + rng.normal(0, 0.05)
            date = np.datetime64("2026-03-12") + day
            for _ in range(3):
                rows["unit"].append(f"U{day:02d}{k}")
                rows["film"].append(round(level + rng.normal(0, 0.02), 3))
                rows["when"].append(f"{date} {8 + k:02d}:00")
                rows["gun"].append(name)
    return rows


def as_csv(table: dict[str, list[Any]]) -> str:
    """A table as a plain CSV file."""
    return "\n".join([",".join(table), *(",".join(map(str, row)) for row in zip(*table.values(), strict=True))]) + "\n"
