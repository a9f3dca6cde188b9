"""Statistical process control for paint film thickness and cure.

The public names are those in each topic module's ``__all__``; a topic loads on first use.
"""

from __future__ import annotations

import importlib
import re
from functools import cache
from pathlib import Path
from typing import Any

try:
    from steadyfilm import _core
except ImportError as error:
    from importlib.util import find_spec

    if find_spec("steadyfilm._core") is not None:
        raise  # it is there and says itself why it does not load
    raise ImportError("steadyfilm's compiled core is missing: install the package with 'pip install .'") from error

__version__: str = _core.version

_ALL = re.compile(r"^__all__ = \[(.*?)\]", re.MULTILINE | re.DOTALL)


@cache
def _public() -> dict[str, str]:
    """Public name to topic module, read from the sources so that asking loads nothing."""
    names = {}
    for source in sorted(Path(__file__).parent.glob("[a-z]*.py")):
        found = _ALL.search(source.read_text(encoding="utf-8"))
        for name in re.findall(r'"([^"]+)"', found.group(1)) if found else ():
            names[name] = source.stem
    return names


def __getattr__(name: str) -> Any:
    module = None if name.startswith("__") else _public().get(name)
    if module is None:
        raise AttributeError(f"steadyfilm has no public name {name!r}")
    topic = importlib.import_module(f"steadyfilm.{module}")
    # Importing a topic puts the module itself under its name here; where a function is called like its topic, that module
    # can be called as it (see _callable.py), so that the name means the same whichever way it came here.
    value = topic if name == module else getattr(topic, name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*_public(), "__version__"])
