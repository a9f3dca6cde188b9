"""What several test files share."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from pathlib import Path
from typing import Any

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
