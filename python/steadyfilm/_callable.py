"""Modules that can be called as their function of the same name.

``steadyfilm.monitor`` is a module once anything has imported it. With this, ``steadyfilm.monitor(...)`` and
``steadyfilm.monitor.monitor(...)`` are the same call.
"""

from __future__ import annotations

import sys
from types import ModuleType
from typing import Any

__all__ = ["CallableModule", "make_callable"]


class CallableModule(ModuleType):
    """A module whose call is that of its function of the same name."""

    def __call__(self, *args: Any, **options: Any) -> Any:
        return getattr(self, self.__name__.rpartition(".")[2])(*args, **options)


def make_callable(module: str) -> None:
    """Make the loaded module of that full name callable."""
    sys.modules[module].__class__ = CallableModule
