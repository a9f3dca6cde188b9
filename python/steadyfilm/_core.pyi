"""
Compiled core of steadyfilm; private, see the typed modules in front of it.
"""

from __future__ import annotations
import numpy
import numpy.typing
import typing

__all__: list[str] = ["summarize", "version"]

def summarize(values: numpy.typing.NDArray[numpy.float64]) -> dict[str, typing.Any]:
    """
    Moments of float64 values; see steadyfilm.summary.
    """

version: str
