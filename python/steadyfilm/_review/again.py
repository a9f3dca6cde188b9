"""Units measured again: which place of theirs was out of the usual at first, by how much, and what it reads now."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from steadyfilm._format import decimals_for, fixed
from steadyfilm._review.records import day_text
from steadyfilm._review.series import stream_labels
from steadyfilm.distributions import student_t_cdf

if TYPE_CHECKING:
    from steadyfilm._review.averages import LayerUnits
    from steadyfilm._review.options import Options
    from steadyfilm.plan import Layer

FEWEST_UNITS = 12
"""With fewer other units nothing usual is known of a place."""
FEWEST_PLACES = 3
"""With fewer places none can be told from the rest."""


@dataclass(frozen=True)
class PlaceAgain:
    """One place of a unit measured again that was out of the usual at first, in the working unit."""

    unit: str
    layer: str
    location: str
    stream: str
    time: str
    """Of the first attempt, local, as ISO 8601; empty without times."""
    first: float
    """Mean at the place at the first attempt, and at the last one."""
    last: float
    usual: float
    """Mean at this place of the other units: of the baseline, or without one of the same period."""
    usual_sd: float
    usual_units: int
    chance: float
    """Of so large a difference if nothing was wrong, times the places compared."""

    @property
    def difference(self) -> float:
        """First attempt less usual."""
        return self.first - self.usual

    def words(self, unit: str) -> str:
        """Unit, stream, day, place, first and last reading, and how far the first one was from the usual."""
        decimals = decimals_for(self.usual_sd)
        first, last, usual, gap = (fixed(x, decimals) for x in (self.first, self.last, self.usual, abs(self.difference)))
        about = ", ".join(x for x in (self.stream, day_text(np.datetime64(self.time)) if self.time else "") if x)
        who = f"{self.unit} ({about})" if about else self.unit
        side = "thin" if self.difference < 0 else "thick"
        way = "less" if self.difference < 0 else "more"
        measure = f" {unit}" if unit else ""
        return (
            f"{who} was {side} at {self.location}: {self.layer} read {first}{measure} there at first, "
            f"{gap}{measure} {way} than usual ({usual}), and {last}{measure} when measured again"
        )


def places_again(
    layers: Sequence[Layer],
    bases: Sequence[LayerUnits | None],
    first: Sequence[LayerUnits],
    last: Sequence[LayerUnits],
    options: Options,
) -> tuple[PlaceAgain, ...]:
    """Places that stood out at the first attempt of the units measured again, the clearest first.

    A place, less the median of the unit's other places, is compared by Student's t with the same place of other units that were
    read once: of the baseline, or without one of the same period. All places of all units measured again are compared, so
    chances are times their number. A reading is told once: as it was read where a layer is just that, else as the first layer
    made of it.
    """
    told: set[str] = set()
    out: list[PlaceAgain] = []
    order = sorted(range(len(first)), key=lambda k: layers[k].minus is not None)
    for k in order:
        source = layers[k].source
        if source not in told and first[k].repeated:
            told.add(source)
            out += _of_layer(bases[k], first[k], last[k], options)
    return tuple(sorted(out, key=lambda x: x.chance))


def _of_layer(base: LayerUnits | None, first: LayerUnits, last: LayerUnits, options: Options) -> list[PlaceAgain]:
    again = set(first.repeated)
    source = base if base is not None else first
    shared = [x for x in first.locations if x in source.locations and x in last.locations]
    if len(shared) < FEWEST_PLACES:
        return []
    ours, theirs, after = (x.spots[:, [x.locations.index(name) for name in shared]] for x in (first, source, last))
    others = theirs[[unit not in again and unit not in source.repeated for unit in source.units]]
    apart, usual_apart = _from_the_rest(ours), _from_the_rest(others)
    streams = stream_labels(first, options.streams) if options.streams else None
    now = {unit: i for i, unit in enumerate(last.units)}
    found = []
    for i in (i for i, unit in enumerate(first.units) if unit in again and unit in now):
        for j, location in enumerate(shared):
            usual = usual_apart[~np.isnan(usual_apart[:, j]), j]
            sd = float(usual.std(ddof=1)) if len(usual) >= FEWEST_UNITS else 0.0
            if not sd > 0.0 or math.isnan(apart[i, j]) or math.isnan(after[now[first.units[i]], j]):
                continue
            t = abs(float(apart[i, j] - usual.mean())) / (sd * math.sqrt(1.0 + 1.0 / len(usual)))
            found.append(
                PlaceAgain(
                    unit=first.units[i],
                    layer=first.layer.name,
                    location=location,
                    stream="" if streams is None else str(streams[i]),
                    time="" if first.time is None else str(first.time[i].astype("datetime64[m]")),
                    first=float(ours[i, j]),
                    last=float(after[now[first.units[i]], j]),
                    usual=float(np.nanmean(others[:, j])),
                    usual_sd=float(np.nanstd(others[:, j], ddof=1)),
                    usual_units=len(usual),
                    chance=2.0 * student_t_cdf(-t, len(usual) - 1.0),
                )
            )
    told = [dataclasses.replace(x, chance=min(1.0, x.chance * len(found))) for x in found]
    return [x for x in told if x.chance <= options.significance]


def _from_the_rest(spots: NDArray[np.float64]) -> NDArray[np.float64]:
    """Each place less the median of the unit's other places: a whole unit that is thin, or a gauge that is off, is no place."""
    out = np.full_like(spots, math.nan)
    for j in range(spots.shape[1]):
        rest = np.delete(spots, j, axis=1)
        there = ~np.isnan(rest).all(axis=1)
        out[there, j] = spots[there, j] - np.nanmedian(rest[there], axis=1)
    return out
