"""Gauge studies of invented shops, as files the way each shop types them."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from helpers import REPOSITORY

FULL_STUDY = REPOSITORY / "tests" / "reference" / "rows" / "data" / "g1.csv"
"""Ten panels, three appraisers, three trials, mil: invented, its analysis known from a general-purpose statistics program."""


def full_study(*, column: str = "value") -> str:
    """The full study as a plain file with the usual column names."""
    with FULL_STUDY.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    lines = [f"part,appraiser,trial,{column}"]
    lines += [f"{row['part']},{row['appraiser']},{row['trial']},{row['values']}" for row in rows]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True)
class Shop:
    """How a shop's study is made and typed; thicknesses and standard deviations in micrometers."""

    parts: tuple[float, ...] = tuple(np.linspace(48.0, 92.0, 8).tolist())
    appraisers: tuple[str, ...] = ("Früh", "Spät")
    trials: int = 4
    appraiser_sd: float = 0.3
    repeat_sd: float = 1.0
    columns: dict[str, str] = field(
        default_factory=lambda: {"part": "Blech Nr.", "appraiser": "Prüfer", "trial": "Durchgang", "value": "Schicht [µm]"}
    )
    decimal: str = ","
    separator: str = ";"
    step: float = 0.1
    labels: tuple[str, ...] = ()
    """Names of the parts, over and over if there are fewer; numbers if left out."""


def readings(shop: Shop, seed: int = 1) -> np.ndarray[Any, Any]:
    """By part, appraiser and trial, in whole steps of the display."""
    rng = np.random.default_rng(seed)
    size = (len(shop.parts), len(shop.appraisers), shop.trials)
    film = np.array(shop.parts)[:, None, None] + shop.appraiser_sd * rng.standard_normal(size[1])[:, None]
    film = film + shop.repeat_sd * rng.standard_normal(size)
    return np.round(np.floor(film / shop.step + 0.5) * shop.step, 6)


def study_text(shop: Shop, seed: int = 1, *, leave_out: tuple[tuple[int, int, int], ...] = ()) -> str:
    """The study as a text file, readings in a shuffled order; those left out are empty cells."""
    film = readings(shop, seed)
    rows = []
    for place in np.ndindex(*film.shape):
        part, who, trial = place
        name = f"{shop.labels[part % len(shop.labels)]} {part}" if shop.labels else str(part + 1)
        text = "" if place in leave_out else f"{film[place]:.1f}".replace(".", shop.decimal)
        rows.append((name, shop.appraisers[who], trial + 1, text))
    np.random.default_rng(seed).shuffle(rows)
    out = io.StringIO()
    writer = csv.writer(out, delimiter=shop.separator, lineterminator="\n")
    writer.writerow(shop.columns.values())
    writer.writerows(rows)
    return out.getvalue()


def options(shop: Shop) -> list[str]:
    """What the command is told of this shop's file."""
    named = [text for key in ("part", "appraiser", "trial", "value") for text in ("--column", f"{key}={shop.columns[key]}")]
    return [*named, "--unit", "um", "--decimal", shop.decimal, "--separator", shop.separator]
