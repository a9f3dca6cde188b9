"""Layers of a build of several coats, found as differences of builds: how thick, how well known, and how they add up.

Figures work on the numbers they are given; they do not replace the data sheets of the coating's maker, and a thin layer is no
reason to spray more before the data sheet and the design of booth and oven have been asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._derived_layers import SOURCES, DerivedLayer, DerivedLayers, UnpairedSpot, derive_layers, successive_layers
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import float_list
from steadyfilm._layer_windows import (
    LAYER_SIGNATURES,
    SOFT_COAT,
    LayerDiagnosis,
    LayerSignature,
    SignatureFit,
    WindowConsistency,
    diagnose_layers,
    window_consistency,
)
from steadyfilm._lengths import in_one_unit
from steadyfilm._result import Explanation, Made, Result, Step, build

__all__ = [
    "LAYER_SIGNATURES",
    "SOFT_COAT",
    "DerivedLayer",
    "DerivedLayers",
    "LayerDiagnosis",
    "LayerSignature",
    "LayerUncertainty",
    "SignatureFit",
    "StackUp",
    "UnpairedSpot",
    "WindowConsistency",
    "derive_layers",
    "diagnose_layers",
    "equal_layer_half_width",
    "gain_error",
    "layer_uncertainty",
    "stack_up",
    "successive_layers",
    "window_consistency",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class LayerUncertainty(Result):
    """How well each layer of a build is known, in the unit of the arguments; one element a layer, first coat first.

    Attributes
    ----------
    uncertainty : array
        Standard uncertainty of each layer.
    error_covariance : array
        Of the layers' errors, row by row, unit squared.
    neighbor_correlation : array
        Correlation of each layer's estimates with those of the next one, from spot to spot, while the true layers vary
        independently; NaN when their spread from spot to spot is not given.
    total_uncertainty : float
        Of the last build.
    """

    uncertainty: Floats
    error_covariance: Floats
    neighbor_correlation: Floats
    total_uncertainty: float
    readings: tuple[int, ...]
    sigma_repeat: tuple[float, ...]

    def sentence(self) -> str:
        options, unit = self.made.options, self.made.unit
        known = " and ".join(f"layer {k + 1} {with_unit(float(u), unit, 3)}" for k, u in enumerate(self.uncertainty))
        where = "the same spots" if options["same_spot"] else "different spots"
        spots = plural(options["locations"], "spot")
        text = f"Read at {where}, over {spots}, standard uncertainties are {known}"
        low = float(np.nanmin(self.neighbor_correlation)) if np.isfinite(self.neighbor_correlation).any() else 0.0
        if low <= -0.1:
            made = f"the measurement alone makes neighboring layers correlate by {number(low, 2)}"
            text += f"; {made}: no sign that one makes up for another"
        return text + "."

    def _columns(self) -> dict[str, Any]:
        after = [*self.neighbor_correlation.tolist(), float("nan")]
        return {
            "layer": np.arange(1, self.uncertainty.size + 1),
            "readings": list(self.readings),
            f"uncertainty_{self.made.unit}": self.uncertainty,
            "correlation_with_next": after,
        }

    def explain(self) -> Explanation:
        options = self.made.options
        last = len(self.readings) - 1
        inputs = {
            "sigma_repeat": self.sigma_repeat[last],
            "readings": self.readings[last],
            "locations": options["locations"],
            "sigma_offset": options["sigma_offset"],
            "gain": options["gain"],
            "thickness": sum(options["layer"]),
        }
        repeat = "sigma_repeat * sigma_repeat / readings / locations"
        total = f"sqrt({repeat} + sigma_offset * sigma_offset + gain * gain * thickness * thickness)"
        steps = [Step("total_uncertainty", total, inputs, self.total_uncertainty)]
        steps += [
            Step(f"layer_{k + 1}_uncertainty", "sqrt(error_variance)", {"error_variance": float(v)}, float(u))
            for k, (v, u) in enumerate(zip(np.diag(self._matrix()), self.uncertainty, strict=True))
        ]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "layer": "difference of two successive builds; a build's error enters both layers that it bounds",
                "spots": "the same for all builds" if options["same_spot"] else "different: the layers below vary too",
                "zero": "one for all builds: it cancels in every difference" if options["same_zero"] else "one a build",
                "what averages out": "repeats and spots; not the zero, not the gain",
            },
            sources=SOURCES,
        )

    def _matrix(self) -> Floats:
        return self.error_covariance.reshape(self.uncertainty.size, -1)


@dataclass(frozen=True, eq=False, repr=False)
class StackUp(Result):
    """The total of layers that each stay within center -+ half width, in the unit of the arguments."""

    center: float
    worst_half_width: float
    worst_lower: float
    worst_upper: float
    rss_half_width: float
    rss_lower: float
    rss_upper: float
    squares: float
    centers: tuple[float, ...]
    half_widths: tuple[float, ...]

    _plot: ClassVar[str] = "film_layers:plot_stack_up"

    def sentence(self) -> str:
        unit, correlation = self.made.unit, self.made.options["correlation"]
        kind = "independent layers" if correlation == 0.0 else f"layers that correlate by {number(correlation, 2)}"
        return (
            f"{plural(self.made.count, 'layer')} add up to {number(self.worst_lower)} to {with_unit(self.worst_upper, unit, 5)} "
            f"at worst; by root sum of squares, for {kind}, to {number(self.rss_lower, 4)} to {with_unit(self.rss_upper, unit)}."
        )

    def _columns(self) -> dict[str, Any]:
        unit = self.made.unit
        return {
            "way": ["worst case", "root sum of squares"],
            f"lower_{unit}": [self.worst_lower, self.rss_lower],
            f"center_{unit}": [self.center, self.center],
            f"upper_{unit}": [self.worst_upper, self.rss_upper],
        }

    def explain(self) -> Explanation:
        correlation = float(self.made.options["correlation"])
        inputs = {"correlation": correlation, "squares": self.squares, "worst_half_width": self.worst_half_width}
        rule = "sqrt((1 - correlation) * squares + correlation * worst_half_width * worst_half_width)"
        worst = {"center": self.center, "worst_half_width": self.worst_half_width}
        rss = {"center": self.center, "rss_half_width": self.rss_half_width}
        return Explanation(
            title=self.sentence(),
            steps=(
                Step("rss_half_width", rule, inputs, self.rss_half_width),
                Step("worst_lower", "center - worst_half_width", worst, self.worst_lower),
                Step("worst_upper", "center + worst_half_width", worst, self.worst_upper),
                Step("rss_lower", "center - rss_half_width", rss, self.rss_lower),
                Step("rss_upper", "center + rss_half_width", rss, self.rss_upper),
            ),
            choices={
                "squares": "sum of the squared half widths",
                "correlation": "0: independent layers" if correlation == 0.0 else "between any two layers",
            },
            sources=SOURCES,
        )


def layer_uncertainty(
    reading_counts: Sequence[int],
    *,
    sigma_repeat_um: float | Sequence[float] | None = None,
    sigma_repeat_mil: float | Sequence[float] | None = None,
    sigma_location_um: Sequence[float] | None = None,
    sigma_location_mil: Sequence[float] | None = None,
    same_spot: bool = True,
    locations: int = 1,
    sigma_offset_um: float | None = None,
    sigma_offset_mil: float | None = None,
    same_zero: bool = True,
    gain: float = 0.0,
    layer_um: Sequence[float] | None = None,
    layer_mil: Sequence[float] | None = None,
) -> LayerUncertainty:
    """How well the layers of a build are known, before a reading is taken.

    Layer k is build k less build k - 1, so that a build's error enters two layers with opposite signs. Lengths are given in
    micrometers or in mils, all in the same.

    Parameters
    ----------
    reading_counts : sequence of int
        Readings of each build at a spot, first coat first; one element a coat.
    sigma_repeat_um, sigma_repeat_mil : float or sequence
        Standard deviation of one reading at one spot, for all builds or one each.
    sigma_location_um, sigma_location_mil : sequence of float, optional
        Standard deviation of each true layer from spot to spot; needed for different spots and for the correlation.
    same_spot : bool
        Whether every build is read at the marked spots of the build before.
    locations : int
        Spots whose average counts.
    sigma_offset_um, sigma_offset_mil : float, optional
        Standard uncertainty of a gauge's zero; by default 0.
    same_zero : bool
        One gauge with one zero for all builds; else each build has a zero of its own.
    gain : float
        Relative error of the scale, 0.03 for 3 %; needs the layers' thicknesses.
    layer_um, layer_mil : sequence of float, optional
        Thickness of each layer.

    Raises
    ------
    InvalidInputError
        Lengths in two units, counts of 0, numbers of elements that differ, different spots without ``sigma_location``.

    Examples
    --------
    >>> spots = {"sigma_repeat_mil": 0.05, "sigma_location_mil": [0.12, 0.18]}
    >>> print(layer_uncertainty([3, 3], **spots).sentence())
    Read at the same spots, over 1 spot, standard uncertainties are layer 1 0.0289 mil and layer 2 0.0408 mil.
    >>> apart = layer_uncertainty([3, 3], **spots, same_spot=False)
    >>> round(float(apart.uncertainty[1]), 4), round(float(apart.neighbor_correlation[0]), 3)
    (0.1745, -0.492)
    """
    unit, lengths = in_one_unit(
        ("sigma_repeat",),
        sigma_repeat=(sigma_repeat_um, sigma_repeat_mil),
        sigma_location=(sigma_location_um, sigma_location_mil),
        sigma_offset=(sigma_offset_um, sigma_offset_mil),
        layer=(layer_um, layer_mil),
    )
    counts = [int(count) for count in reading_counts]
    repeat = float_list(lengths["sigma_repeat"])
    offset = float(lengths["sigma_offset"] or 0.0)
    layer = float_list(lengths["layer"])
    found = _core.layer_uncertainty(
        counts, repeat, float_list(lengths["sigma_location"]), same_spot, locations, offset, same_zero, gain, layer
    )
    matrix = found.pop("correlation").reshape(len(counts), -1)
    made = Made(
        function="layer_uncertainty",
        unit=unit,
        count=len(counts),
        options={
            "sigma_location": float_list(lengths["sigma_location"]),
            "same_spot": same_spot,
            "locations": locations,
            "sigma_offset": offset,
            "same_zero": same_zero,
            "gain": gain,
            "layer": layer,
        },
        version=_core.version,
    )
    return build(
        LayerUncertainty,
        found,
        made=made,
        neighbor_correlation=np.ascontiguousarray(np.diag(matrix, 1)),
        readings=tuple(counts),
        sigma_repeat=tuple(repeat if len(repeat) == len(counts) else repeat * len(counts)),
    )


def gain_error(gain: float, *, layer_um: float | None = None, layer_mil: float | None = None) -> float:
    """What a scale that is off by ``gain`` puts on a layer, in the layer's unit; no number of readings takes it out.

    Examples
    --------
    >>> round(gain_error(0.03, layer_mil=2.1), 3)
    0.063
    """
    _, lengths = in_one_unit(("layer",), layer=(layer_um, layer_mil))
    return _core.gain_error(gain, lengths["layer"])


def stack_up(
    *,
    centers_um: Sequence[float] | None = None,
    centers_mil: Sequence[float] | None = None,
    half_widths_um: Sequence[float] | None = None,
    half_widths_mil: Sequence[float] | None = None,
    correlation: float = 0.0,
) -> StackUp:
    """What layers within their windows add up to: at worst, and by root sum of squares.

    Parameters
    ----------
    centers_um, centers_mil, half_widths_um, half_widths_mil : sequence of float
        Middle and half width of each layer's window, all in one unit.
    correlation : float
        Between any two layers. One painter and one gun on all coats make it positive; 0 is for independent layers.

    Raises
    ------
    InvalidInputError
        Lengths in two units, numbers of elements that differ, a negative half width, an impossible correlation.

    Examples
    --------
    >>> print(stack_up(centers_mil=[1.1, 2.1], half_widths_mil=[0.1, 0.1]).sentence())
    2 layers add up to 3 to 3.4 mil at worst; by root sum of squares, for independent layers, to 3.059 to 3.341 mil.
    """
    unit, lengths = in_one_unit(
        ("centers", "half_widths"), centers=(centers_um, centers_mil), half_widths=(half_widths_um, half_widths_mil)
    )
    widths = float_list(lengths["half_widths"])
    found = _core.stack_up(float_list(lengths["centers"]), widths, correlation)
    made = Made("stack_up", unit, len(widths), options={"correlation": correlation}, version=_core.version)
    return build(
        StackUp,
        found,
        made=made,
        squares=sum(width * width for width in widths),
        centers=tuple(float_list(lengths["centers"])),
        half_widths=tuple(widths),
    )


def equal_layer_half_width(
    layer_count: int,
    *,
    total_half_width_um: float | None = None,
    total_half_width_mil: float | None = None,
    correlation: float = 0.0,
) -> float:
    """Half width that each of several equal layers may have so that they keep the total's by root sum of squares.

    Examples
    --------
    >>> round(equal_layer_half_width(2, total_half_width_mil=0.25), 3)
    0.177
    """
    _, lengths = in_one_unit(("total_half_width",), total_half_width=(total_half_width_um, total_half_width_mil))
    return _core.equal_layer_half_width(lengths["total_half_width"], layer_count, correlation)
