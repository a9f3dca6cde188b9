"""The demonstration month, found through the data sets that come with the package."""

from __future__ import annotations

import importlib
import shutil
from pathlib import Path
from typing import Any


def write_demo_files(folder: Path, seed: int) -> tuple[Path, Path]:
    """Write the invented months and the plan; return the month's readings and the plan."""
    datasets = importlib.import_module("steadyfilm.datasets")
    demo: Any = importlib.import_module(f"steadyfilm.datasets.{datasets.DEMO}")
    demo.write_demo(folder, seed)
    plan = folder / "plan.toml"
    shutil.copyfile(Path(demo.__file__).parent / "plan.toml", plan)
    return folder / "demo" / "readings.csv", plan
