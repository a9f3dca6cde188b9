"""The invented shop's gauge studies as data; lengths are mil."""

from __future__ import annotations

from dataclasses import dataclass

from .displays import Display


@dataclass(frozen=True, kw_only=True)
class Study:
    """A crossed study of one gauge on one substrate: readings that are given, or a model to draw them from."""

    gauge: str
    substrate: str
    appraisers: tuple[str, ...]
    trials: int
    parts: tuple[float, ...] = ()
    """Film at the marked place of each panel."""
    appraiser_sd: float = 0.0
    repeat_sd: float = 0.0
    given: tuple[tuple[tuple[float, ...], ...], ...] | None = None
    """Readings by part, appraiser and trial; nothing is drawn then."""
    display: Display | None = None
    """Absent: the gauge's own on this substrate."""


_STEEL = """
2.93 2.92 2.97  2.86 2.95 2.89  2.93 2.96 2.91
2.94 2.96 2.97  2.96 2.99 3.02  3.04 3.02 3.05
3.04 3.10 3.03  3.09 3.07 3.12  3.06 3.13 3.05
3.07 3.10 3.12  3.08 3.11 3.13  3.17 3.21 3.20
3.20 3.22 3.22  3.15 3.27 3.19  3.20 3.24 3.20
3.22 3.16 3.23  3.19 3.24 3.22  3.26 3.28 3.25
3.25 3.29 3.35  3.26 3.33 3.33  3.28 3.33 3.34
3.30 3.37 3.36  3.42 3.38 3.40  3.44 3.39 3.36
3.36 3.42 3.37  3.47 3.43 3.46  3.48 3.51 3.45
3.53 3.58 3.49  3.57 3.60 3.53  3.55 3.53 3.62
"""


def _given(text: str, trials: int) -> tuple[tuple[tuple[float, ...], ...], ...]:
    lines = [[float(cell) for cell in line.split()] for line in text.split("\n") if line]
    return tuple(tuple(tuple(line[k : k + trials]) for k in range(0, len(line), trials)) for line in lines)


STUDIES = (
    Study(gauge="Q1", substrate="steel", appraisers=("A", "B", "C"), trials=3, given=_given(_STEEL, 3)),
    Study(
        gauge="Q2",
        substrate="aluminum",
        appraisers=("A", "B", "C"),
        trials=3,
        parts=(2.90, 2.97, 3.04, 3.11, 3.18, 3.25, 3.32, 3.39, 3.46, 3.53),
        appraiser_sd=0.03,
        repeat_sd=0.05,
        display=Display(unit="mil", resolution=0.1),
    ),
)
"""The studies of ``SHOP``: Q1 as an invented data set whose analysis is known, Q2 drawn and shown in steps of 0.1 mil."""
