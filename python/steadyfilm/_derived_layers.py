"""Layers of a build from a table of readings: each build less the one before it, spot by spot."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import labels, readings, table
from steadyfilm._layer_windows import SOFT_COAT
from steadyfilm._result import Explanation, Made, Result, Step, frozen
from steadyfilm.errors import DataProblem, DataProblemsError, InvalidInputError

__all__ = ["SOURCES", "DerivedLayer", "DerivedLayers", "UnpairedSpot", "cell_means", "derive_layers", "successive_layers"]

Floats = NDArray[np.float64]

SOURCES = (
    "cpp/methods/film_layers.md",
    "JCGM 100:2008 (GUM), 5.2: uncertainty of a function of correlated input quantities",
)


@dataclass(frozen=True)
class UnpairedSpot:
    """A spot without a usable reading of one build; the layers that this build bounds have no value there."""

    spot: str
    build: str
    reason: str


@dataclass(frozen=True, eq=False)
class DerivedLayer:
    """One layer; arrays have one element a spot, NaN where a build is not measured.

    ``uncertainty`` is the standard uncertainty of each value from repeat readings, NaN when it is not known; ``mean`` and ``sd``
    are those of the ``count`` values. ``before`` is "" for the first coat.
    """

    layer: str
    build: str
    before: str
    film: Floats
    uncertainty: Floats
    count: int
    mean: float
    sd: float
    not_above_zero: int


@dataclass(frozen=True, eq=False, repr=False)
class DerivedLayers(Result):
    """Every layer at every spot, with its uncertainty and what could not be paired; in the unit of the data unless said.

    Attributes
    ----------
    keys : dict
        Column of the table, label of each spot.
    order : tuple of str
        Builds, first coat first.
    reading_counts : tuple of arrays
        Readings of each build at each spot.
    sigma_repeat, degrees_of_freedom : tuple
        Spread of repeat readings of each build, pooled over the spots, or given (degrees of freedom 0); NaN when not known.
    neighbor_correlation : tuple of float
        Of each layer with the next one, over the spots that have both; NaN for fewer than three.
    shared_correlation : tuple of float
        The part of it that the shared build makes by itself.
    other_builds : dict
        Readings in the table that belong to no build of ``order``.
    """

    keys: dict[str, NDArray[np.object_]]
    order: tuple[str, ...]
    layers: tuple[DerivedLayer, ...]
    reading_counts: tuple[NDArray[np.int64], ...]
    spot_count: int
    complete_count: int
    incomplete_count: int
    unpaired: tuple[UnpairedSpot, ...]
    sigma_repeat: tuple[float, ...]
    repeat_sum_squares: tuple[float, ...]
    degrees_of_freedom: tuple[int, ...]
    neighbor_correlation: tuple[float, ...]
    shared_correlation: tuple[float, ...]
    other_builds: dict[str, int]

    def sentence(self) -> str:
        unit = self.made.unit
        found = [
            f"{layer.layer} averages {with_unit(layer.mean, unit)}{_known_to(layer, unit)}"
            if layer.count
            else f"{layer.layer} has no value"
            for layer in self.layers
        ]
        text = f"{plural(self.spot_count, 'spot')}: {', '.join(found)}"
        if self.unpaired:
            first = self.unpaired[0]
            lack = "lacks" if self.incomplete_count == 1 else "lack"
            text += f"; {plural(self.incomplete_count, 'spot')} {lack} a partner reading, first {first.spot}: {first.reason}"
        if bad := sum(layer.not_above_zero for layer in self.layers):
            text += f"; {plural(bad, 'value')} not above zero, which no film is: readings swapped or mistyped?"
        if not self.made.options["same_spot"]:
            text += "; read at different spots, so that thin under thick is partly made by the measurement"
        if self.other_builds:
            text += f"; left alone: {', '.join(f'{count} of {name!r}' for name, count in self.other_builds.items())}"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        height = self.spot_count
        columns: dict[str, Any] = {name: np.tile(column, len(self.layers)) for name, column in self.keys.items()}
        columns |= {
            "layer": np.repeat(np.array([layer.layer for layer in self.layers], dtype=object), height),
            "film": np.concatenate([layer.film for layer in self.layers]),
            "uncertainty": np.concatenate([layer.uncertainty for layer in self.layers]),
            "readings": np.concatenate(self.reading_counts),
            "readings_before": np.concatenate([np.zeros(height, dtype=np.int64), *self.reading_counts[:-1]]),
        }
        without = [np.isnan(layer.film) for layer in self.layers]
        lacks = {(item.spot, item.build): item.reason for item in self.unpaired}
        spots = _spot_names(self.keys, height)
        columns["remark"] = [
            "; ".join(lacks[spot, name] for name in (layer.before, layer.build) if (spot, name) in lacks)
            if gone
            else ("" if film > 0.0 else "not above zero")
            for layer, empty in zip(self.layers, without, strict=True)
            for spot, gone, film in zip(spots, empty, layer.film, strict=True)
        ]
        return columns

    def explain(self) -> Explanation:
        counts = {"spot_count": self.spot_count, "complete_count": self.complete_count}
        steps = [Step("incomplete_count", "spot_count - complete_count", counts, self.incomplete_count)]
        for k, sd in enumerate(self.sigma_repeat):
            if self.degrees_of_freedom[k] > 0:
                inputs = {"sum_squares": self.repeat_sum_squares[k], "degrees_of_freedom": self.degrees_of_freedom[k]}
                steps.append(Step(f"build_{k + 1}_sigma_repeat", "sqrt(sum_squares / degrees_of_freedom)", inputs, sd))
        options = self.made.options
        choices = {
            "layer": "mean of a build's readings at a spot less that of the build before, at the same keys",
            "uncertainty": "of one value, from repeat readings; zero and gain of the gauge are not in it",
            "soft coats": SOFT_COAT,
            "sigma_repeat": "given" if options["sigma_repeat"] is not None else "pooled over the spots, one a build",
        }
        for k, (seen, made) in enumerate(zip(self.neighbor_correlation, self.shared_correlation, strict=True)):
            pair = f"correlation of {self.layers[k].layer} with {self.layers[k + 1].layer}"
            choices[pair] = f"{number(seen, 3)}, of which the shared build makes {number(made, 3)}"
        if self.unpaired:
            choices["no partner"] = "; ".join(f"{item.spot}: {item.reason}" for item in self.unpaired)
        return Explanation(self.sentence(), tuple(steps), choices, SOURCES)


def _known_to(layer: DerivedLayer, unit: str) -> str:
    known = layer.uncertainty[np.isfinite(layer.uncertainty)]
    return f" (one value known to {with_unit(float(np.median(known)), unit, 2)})" if known.size else ""


def derive_layers(
    data: Any,
    value: str,
    *,
    unit: str,
    spot: Sequence[str] | str,
    layer: str,
    order: Sequence[str],
    names: Sequence[str] | None = None,
    sigma_repeat: float | Mapping[str, float] | None = None,
    same_spot: bool = True,
    sigma_location: Sequence[float] | None = None,
    missing: str = "error",
) -> DerivedLayers:
    """Layers of a build from a table of readings: each build less the one before it, spot by spot.

    Parameters
    ----------
    data : table
        One row a reading.
    value : str
        Column of the readings, which are thicknesses of the whole build down to the metal.
    unit : str
        Unit of the readings.
    spot : column name or names
        What names a spot: rows with the same labels belong together, for example unit and location.
    layer : str
        Column that says after which coat a reading was taken.
    order : sequence of str
        Labels of that column, first coat first: ``["primer", "total"]``.
    names : sequence of str, optional
        Names of the layers; by default the first build's, then "total less primer".
    sigma_repeat : float or mapping of build to float, optional
        Standard deviation of one reading at one spot; by default pooled from the repeats in the table.
    same_spot : bool
        Whether readings with the same labels were taken at the same marked place. Otherwise the uncertainty takes in how the
        layers below vary from place to place, ``sigma_location``.
    sigma_location : sequence of float, optional
        Standard deviation of each true layer from place to place, first coat first.
    missing : {"error", "drop"}
        Missing readings are refused; or they count as not taken, and a spot without any other is listed.

    Returns
    -------
    DerivedLayers
        A spot without a partner reading is listed in ``unpaired`` and has no value for the layers that it lacks.

    Raises
    ------
    DataProblemsError
        Missing or non-numeric cells, a build of ``order`` that the table does not have.
    InvalidInputError
        Options that contradict one another.

    Examples
    --------
    >>> rows = {
    ...     "body": ["K1", "K1", "K1", "K1", "K2"],
    ...     "coat": ["primer", "primer", "total", "total", "total"],
    ...     "film": [1.08, 1.12, 3.17, 3.23, 3.30],
    ... }
    >>> found = derive_layers(rows, "film", unit="mil", spot="body", layer="coat", order=["primer", "total"])
    >>> found.layers[1].layer, found.layers[1].film.round(2).tolist()
    ('total less primer', [2.1, nan])
    >>> found.unpaired[0].reason
    "no reading of 'primer'"
    """
    builds = list(order)
    if not builds or len(set(builds)) < len(builds):
        raise InvalidInputError(f"order needs one or more different builds, got {builds}", argument="order")
    titles = [builds[0], *(f"{b} less {a}" for a, b in itertools.pairwise(builds))] if names is None else list(names)
    if len(titles) != len(builds) or len(set(titles)) < len(titles):
        raise InvalidInputError(f"names needs {len(builds)} different names, one a build, got {titles}", argument="names")
    whole = table(data)
    columns = [spot] if isinstance(spot, str) else list(spot)
    if not columns:
        raise InvalidInputError("spot needs the columns that name a spot", argument="spot")
    given = readings(whole, value, missing=missing)
    text = {name: labels(whole, name) for name in dict.fromkeys([*columns, layer])}
    problems = [
        DataProblem(name, row + 1, "", "label is missing")
        for name, words in text.items()
        for row, word in enumerate(words)
        if word is None
    ]
    if problems:
        raise DataProblemsError(problems, advice="Every reading needs its spot and its build.")
    coats = text[layer]
    _refuse_absent(builds, coats.tolist(), layer)

    # Rows of the builds, missing readings too: a spot that has nothing else is still a spot.
    place = {name: k for k, name in enumerate(builds)}
    build_of = np.array([place.get(name, -1) for name in coats.tolist()], dtype=np.int64)
    codes: dict[tuple[str, ...], int] = {}
    labelled = zip(*(text[name].tolist() for name in columns), strict=True)
    spot_of = np.array([codes.setdefault(key, len(codes)) if k >= 0 else -1 for key, k in zip(labelled, build_of, strict=True)])
    height, count = len(codes), len(builds)
    keep = build_of[given.rows] >= 0
    rows = given.rows[keep]
    mean, read, squares = cell_means(given.values[keep], spot_of[rows] * count + build_of[rows], height * count)
    film = successive_layers(mean.reshape(height, count))
    read = read.reshape(height, count)
    freedom = np.maximum(read - 1, 0).sum(axis=0)
    total = squares.reshape(height, count).sum(axis=0)
    spread = _repeat_spread(sigma_repeat, builds, total, freedom)
    location = [] if sigma_location is None else [float(x) for x in sigma_location]
    uncertainty, shared = _uncertainties(read, spread, same_spot, location)

    keys = {name: frozen(np.array([key[j] for key in codes], dtype=object)) for j, name in enumerate(columns)}
    spots = _spot_names(keys, height)
    left_out = {(int(spot_of[row - 1]), int(build_of[row - 1])) for row in given.missing_rows}
    unpaired = tuple(
        UnpairedSpot(spots[i], builds[k], f"{'missing reading' if (i, k) in left_out else 'no reading'} of '{builds[k]}'")
        for i, k in np.argwhere(read == 0).tolist()
    )
    strange = coats[build_of < 0].tolist()
    complete = int((read > 0).all(axis=1).sum())
    pairs = [_correlations(film[:, k], film[:, k + 1], shared[:, k]) for k in range(count - 1)]
    made = Made(
        function="derive_layers",
        unit=unit,
        count=int(keep.sum()),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={
            "value": value,
            "spot": columns,
            "layer": layer,
            "sigma_repeat": dict(sigma_repeat) if isinstance(sigma_repeat, Mapping) else sigma_repeat,
            "same_spot": same_spot,
            "sigma_location": location,
            "missing": missing,
        },
        version=_core.version,
    )
    return DerivedLayers(
        made=made,
        keys=keys,
        order=tuple(builds),
        layers=tuple(
            _derived(titles[k], builds[k], builds[k - 1] if k else "", film[:, k], uncertainty[:, k]) for k in range(count)
        ),
        reading_counts=tuple(frozen(np.ascontiguousarray(read[:, k])) for k in range(count)),
        spot_count=height,
        complete_count=complete,
        incomplete_count=height - complete,
        unpaired=unpaired,
        sigma_repeat=tuple(spread),
        repeat_sum_squares=tuple(total.tolist()),
        degrees_of_freedom=tuple(freedom.tolist()) if sigma_repeat is None else (0,) * count,
        neighbor_correlation=tuple(seen for seen, _ in pairs),
        shared_correlation=tuple(made_by for _, made_by in pairs),
        other_builds={name: strange.count(name) for name in dict.fromkeys(strange)},
    )


def _refuse_absent(builds: Sequence[str], present: Sequence[str], column: str) -> None:
    have = list(dict.fromkeys(present))
    if absent := [name for name in builds if name not in have]:
        near = [word for name in absent for word in difflib.get_close_matches(name, have, n=2, cutoff=0.4)]
        shown = ", ".join(repr(word) for word in (near or have[:12]))
        raise DataProblemsError(
            [DataProblem(column, 0, repr(name), "no reading of this build, which order names") for name in absent],
            advice=f"{'Nearest labels' if near else 'Labels present'}: {shown or 'none, the table is empty'}.",
        )


def _spot_names(keys: Mapping[str, NDArray[np.object_]], height: int) -> list[str]:
    columns = list(keys.values())
    return [" / ".join(str(column[i]) for column in columns) for i in range(height)]


def _repeat_spread(
    given: float | Mapping[str, float] | None, builds: Sequence[str], squares: Floats, freedom: NDArray[np.int64]
) -> list[float]:
    if given is None:
        return [float(np.sqrt(ss / df)) if df > 0 else float("nan") for ss, df in zip(squares, freedom, strict=True)]
    if isinstance(given, Mapping) and set(given) != set(builds):
        raise InvalidInputError(
            f"sigma_repeat needs one number for each of {list(builds)}, got {list(given)}", argument="sigma_repeat"
        )
    spread = [float(given[name]) if isinstance(given, Mapping) else float(given) for name in builds]
    if any(not (np.isfinite(sd) and sd >= 0.0) for sd in spread):
        raise InvalidInputError(f"sigma_repeat must be 0 or more, got {given}", argument="sigma_repeat")
    return spread


def _uncertainties(
    read: NDArray[np.int64], spread: Sequence[float], same_spot: bool, location: list[float]
) -> tuple[Floats, Floats]:
    """Standard uncertainty of each layer, and the covariance that each shared build gives the two layers it bounds."""
    coats = len(spread)
    uncertainty, shared = np.full(read.shape, np.nan), np.full((len(read), max(coats - 1, 0)), np.nan)
    # What is not known is put in as 0 and taken out again, layer by layer.
    known = np.isfinite(spread)
    repeat = [sd if ok else 0.0 for sd, ok in zip(spread, known, strict=True)]
    beneath = np.cumsum(np.square(location)) if location and not same_spot else np.zeros(coats)
    kinds, which = np.unique(read, axis=0, return_inverse=True)
    for kind, counts in enumerate(kinds):
        usable = [max(int(n), 1) for n in counts]
        found = _core.layer_uncertainty(usable, repeat, location, same_spot, 1, 0.0, True, 0.0, [])
        there = (counts > 0) & known
        both = there & np.concatenate([[True], there[:-1]])
        at = which.reshape(-1) == kind
        uncertainty[at] = np.where(both, found["uncertainty"], np.nan)
        for k in range(coats - 1):
            if there[k]:
                shared[at, k] = -(repeat[k] ** 2 / usable[k] + beneath[k])
    return uncertainty, shared


def _correlations(one: Floats, two: Floats, shared: Floats) -> tuple[float, float]:
    both = np.isfinite(one) & np.isfinite(two)
    if both.sum() < 3:
        return float("nan"), float("nan")
    covariance = np.cov(one[both], two[both])
    scale = float(np.sqrt(covariance[0, 0]) * np.sqrt(covariance[1, 1]))
    if not scale > 0.0:
        return float("nan"), float("nan")
    return float(covariance[0, 1]) / scale, float(np.mean(shared[both])) / scale


def _derived(title: str, name: str, before: str, film: Floats, uncertainty: Floats) -> DerivedLayer:
    there = film[np.isfinite(film)]
    return DerivedLayer(
        layer=title,
        build=name,
        before=before,
        film=frozen(np.ascontiguousarray(film)),
        uncertainty=frozen(np.ascontiguousarray(np.where(np.isfinite(film), uncertainty, np.nan))),
        count=int(there.size),
        mean=float(there.mean()) if there.size else float("nan"),
        sd=float(there.std(ddof=1)) if there.size > 1 else float("nan"),
        not_above_zero=int((there <= 0.0).sum()),
    )


def cell_means(values: Floats, cell: NDArray[np.integer[Any]], cells: int) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Mean, number and sum of squared deviations of the readings of each cell; NaN, 0 and 0 for a cell without readings.

    Parameters
    ----------
    values : array
        Readings, all finite.
    cell : array of int
        Cell of each reading, from 0.
    cells : int
        How many cells there are.

    Examples
    --------
    >>> [column.tolist() for column in cell_means(np.array([1.0, 1.2, 3.0]), np.array([0, 0, 2]), 3)]
    [[1.1, nan, 3.0], [2, 0, 1], [0.01999999999999999, 0.0, 0.0]]
    """
    given = np.ascontiguousarray(values, dtype=np.float64)
    found = _core.cell_means(given, np.ascontiguousarray(cell, dtype=np.int64), cells)
    return found["mean"], found["count"], found["sum_squares"]


def successive_layers(builds: Floats) -> Floats:
    """Layers from builds: the last axis holds the builds of a spot, first coat first.

    A build that is NaN, not measured, leaves the two layers that it bounds NaN.

    Examples
    --------
    >>> successive_layers(np.array([[1.0, 3.0, 3.5], [1.0, float("nan"), 3.5]])).tolist()
    [[1.0, 2.0, 0.5], [1.0, nan, nan]]
    """
    given = np.ascontiguousarray(builds, dtype=np.float64)
    out = np.empty(given.size)
    _core.successive_layers(given.reshape(-1), given.shape[-1], out)
    return out.reshape(given.shape)
