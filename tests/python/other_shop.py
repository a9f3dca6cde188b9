"""A month of another invented shop: fences in one booth, three coats, um with decimal comma, no event log."""

from __future__ import annotations

from pathlib import Path

import numpy as np

PLAN = """
title = "Zäune"
streams = ["Kabine"]
adjust = ["Lackierer"]

[file]
separator = ";"
decimal = ","
encoding = "cp1252"
time_format = "%d.%m.%Y %H:%M"
missing = ["-"]

[columns]
unit = "Zaun Nr."
layer = "Schicht"
location = "Stelle"
repeat = "Messung"
value = "Dicke (µm)"
time = "gemessen am"

[measure]
unit = "um"

[[layers]]
name = "Grund"
lower = 55
upper = 75

[[layers]]
name = "Zwischen"
reading = "Grund+Zwischen"
minus = "Grund"
lower = 60
upper = 85

[[layers]]
name = "Deck"
reading = "gesamt"
minus = "Grund+Zwischen"
lower = 45
upper = 65

[[layers]]
name = "gesamt"
lower = 180
upper = 215
chart = false
miss = "rework"
"""
BASELINE = '\n[baseline]\nreadings = "Februar.csv"\n'
COATS = {"Grund": (65.0, 2.2), "Grund+Zwischen": (72.0, 2.6), "gesamt": (56.0, 1.8)}
"""What each coat adds, and how units differ, um."""
PLACES = ("oben", "Mitte", "unten", "Pfosten")
PATTERN = (1.5, 0.0, -2.0, 0.5)
UNITS = 110
START = 70
STEP = -6.5


def month(seed: int, first: str, *, step: float = 0.0, serial: int = 100) -> str:
    """A month as a CSV text: from unit ``START`` on the last coat is off by ``step``."""
    rng = np.random.default_rng(seed)
    lines = ["Zaun Nr.;Kabine;Lackierer;Schicht;Stelle;Messung;Dicke (µm);gemessen am"]
    day_effect = dict.fromkeys(COATS, 0.0)
    for i in range(UNITS):
        if i % 5 == 0:
            day_effect = {coat: 0.5 * day_effect[coat] + rng.normal(0, 0.7) for coat in COATS}
        when = np.datetime64(first) + np.timedelta64(24 * 60 * (i // 5 + 2 * (i // 25)) + 95 * (i % 5), "m")
        painter = ("Jo", "Mia")[int(rng.integers(2))]
        total = np.zeros(len(PLACES))
        for k, (coat, (mean, sd)) in enumerate(COATS.items()):
            unit = mean + day_effect[coat] + rng.normal(0, sd) + (0.8 if painter == "Mia" else 0.0)
            unit += step if coat == "gesamt" and i >= START else 0.0
            total = total + unit + np.array(PATTERN) / 3 + rng.normal(0, 1.2, len(PLACES))
            stamp = (when + np.timedelta64(30 * k, "m")).item().strftime("%d.%m.%Y %H:%M")
            for place, spot in zip(PLACES, total, strict=True):
                for n in (1, 2, 3):
                    value = f"{spot + rng.normal(0, 1.0):.1f}".replace(".", ",")
                    lines.append(f"Z-{serial + i};1;{painter};{coat};{place};{n};{value};{stamp}")
    return "\r\n".join(lines) + "\r\n"


def write_shop(folder: Path, *, seed: int = 1, step: float = STEP, baseline: bool = True) -> tuple[Path, Path]:
    """The month, the month before and the plan; readings and plan."""
    readings, plan = folder / "März.csv", folder / "plan.toml"
    readings.write_bytes(month(seed, "2026-03-02T07:10", step=step, serial=300).encode("cp1252"))
    (folder / "Februar.csv").write_bytes(month(seed + 1000, "2026-01-26T07:10").encode("cp1252"))
    plan.write_text(PLAN + (BASELINE if baseline else ""), encoding="utf-8")
    return readings, plan
