"""Example data; each folder holds a data set, or the generator of one, and its README."""

from typing import Final

DEMO: Final = "truck_bodies"
"""The subpackage whose ``write_demo(folder, seed)`` writes the demonstration shop."""

__all__ = ["DEMO"]
