"""How a process fits its specification window: indices with their uncertainty, and the share outside."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._callable import make_callable
from steadyfilm._capability_data import Within, judged_readings
from steadyfilm._capability_intervals import (
    CapabilityIndices,
    CpkDistribution,
    FractionOutside,
    IndexInterval,
    OneSidedIndexMoments,
    ShiftedCapability,
    capability_indices,
    cp_interval,
    cpk_interval,
    cpk_sampling_distribution,
    cpm_index,
    cpm_interval,
    fraction_outside,
    one_sided_index_critical_value,
    one_sided_index_interval,
    one_sided_index_moments,
    shifted_capability,
)
from steadyfilm._format import number, outside_text, plural, with_unit
from steadyfilm._input import check_options
from steadyfilm._result import Explanation, Made, Result, Step, build, frozen
from steadyfilm.errors import ConstantDataWarning, InvalidInputError
from steadyfilm.limits import SpecLimits

__all__ = [
    "Capability",
    "CapabilityIndices",
    "CpkDistribution",
    "FractionOutside",
    "IndexEstimate",
    "IndexInterval",
    "OneSidedIndexMoments",
    "ShiftedCapability",
    "capability",
    "capability_indices",
    "cp_interval",
    "cpk_interval",
    "cpk_sampling_distribution",
    "cpm_index",
    "cpm_interval",
    "fraction_outside",
    "one_sided_index_critical_value",
    "one_sided_index_interval",
    "one_sided_index_moments",
    "shifted_capability",
]

_FORMULAS = {
    "p": "(upper - lower) / (6 * {sigma})",
    "pu": "(upper - mean) / (3 * {sigma})",
    "pl": "(mean - lower) / (3 * {sigma})",
}


@dataclass(frozen=True)
class IndexEstimate:
    """One index: its value and interval, or the reason why there is none.

    ``lower`` and ``upper`` are the two-sided interval, ``lower_bound`` the one-sided bound: what the readings demonstrate.
    ``degrees_of_freedom`` are those of the sigma used. ``reason`` is empty when value and interval are there.
    """

    index: str
    value: float | None
    lower: float | None
    upper: float | None
    lower_bound: float | None
    degrees_of_freedom: float | None
    method: str
    reason: str


@dataclass(frozen=True, eq=False, repr=False)
class Capability(Result):
    """Readings against a specification window; indices have no unit, the rest that of the data.

    ``indices`` holds cp, cpk, cpu, cpl (a forecast, from ``sigma_within``), pp, ppk, ppu, ppl (what the period was, from
    ``sigma_total``) and cpm; each is also a property, None where it has no value. ``below`` and ``above`` count readings that
    miss a limit; ``expected_total`` and ``expected_within`` are the shares of a normal population, as fractions. ``values`` are
    the readings that took part, None when only moments were given; ``count`` is 0 when it is not known.
    """

    specification: SpecLimits
    count: int
    mean: float
    sigma_total: float
    sigma_within: float | None
    within_estimator: str
    stable: bool | None
    confidence_level: float
    mean_square_off_target: float | None
    off_center_ratio: float | None
    indices: tuple[IndexEstimate, ...]
    expected_total: FractionOutside
    expected_within: FractionOutside | None
    below: int | None
    above: int | None
    values: NDArray[np.float64] | None

    _plot: ClassVar[str] = "capability:plot_capability"

    def index(self, name: str) -> IndexEstimate:
        """The estimate of one index, for example ``"cpk"``, with interval or reason."""
        for estimate in self.indices:
            if estimate.index == name:
                return estimate
        known = ", ".join(estimate.index for estimate in self.indices)
        raise InvalidInputError(f"no index {name!r}; there are {known}", argument="name")

    @property
    def cp(self) -> float | None:
        """Window over six within sigmas."""
        return self.index("cp").value

    @property
    def cpk(self) -> float | None:
        """Distance of the mean from the nearer limit over three within sigmas."""
        return self.index("cpk").value

    @property
    def cpu(self) -> float | None:
        """Distance of the mean from the upper limit over three within sigmas."""
        return self.index("cpu").value

    @property
    def cpl(self) -> float | None:
        """Distance of the mean from the lower limit over three within sigmas."""
        return self.index("cpl").value

    @property
    def pp(self) -> float | None:
        """Window over six total sigmas."""
        return self.index("pp").value

    @property
    def ppk(self) -> float | None:
        """Distance of the mean from the nearer limit over three total sigmas."""
        return self.index("ppk").value

    @property
    def ppu(self) -> float | None:
        """Distance of the mean from the upper limit over three total sigmas."""
        return self.index("ppu").value

    @property
    def ppl(self) -> float | None:
        """Distance of the mean from the lower limit over three total sigmas."""
        return self.index("ppl").value

    @property
    def cpm(self) -> float | None:
        """Window over six root mean squares of the distance from the target."""
        return self.index("cpm").value

    def demonstrates(self, index: str, required: float) -> str:
        """Do the readings show that an index is at least ``required``?

        ``"demonstrated"`` when the one-sided lower bound reaches it, ``"missed"`` when even the upper end of the two-sided
        interval stays below it, else ``"not demonstrated"``, which is also the answer when the index has no interval.
        """
        found = self.index(index)
        if found.lower_bound is not None and found.lower_bound >= required:
            return "demonstrated"
        if found.upper is not None and found.upper < required:
            return "missed"
        return "not demonstrated"

    # -- words ----------------------------------------------------------------------------------

    def sentence(self) -> str:
        unit, clauses = self.made.unit, []
        place = outside_text(self.specification.lower, self.specification.upper, unit)
        if self.below is not None and self.above is not None:
            outside = self.below + self.above
            how_many = "none" if outside == 0 else f"{outside} of {self.count}"
            expected = "" if self.sigma_total == 0.0 else f" ({_share(self.expected_total.total)} expected)"
            average = f"average {with_unit(self.mean, unit)}" if self.sigma_total else f"are all {with_unit(self.mean, unit)}"
            clauses.append(f"{plural(self.count, 'reading')} {average}, {how_many} {place}{expected}")
        else:
            share = _share(self.expected_total.total)
            words = f"a mean of {with_unit(self.mean, unit)} and a total sigma of {with_unit(self.sigma_total, unit)}"
            clauses.append(f"{words[0].upper()}{words[1:]} put {share} {place}")
        if self.sigma_total == 0.0:
            clauses.append("Cp, Cpk, Pp and Ppk have no value, since there is no spread")
        else:
            clauses.append(f"{self._figure('ppk')} for this period, not a forecast")
            clauses.append(self._forecast())
        return "; ".join(clauses) + "."

    def _forecast(self) -> str:
        if self.stable is False:
            return "no forecast (Cp, Cpk), since the process is not stable"
        if self.cpk is None:
            return f"no forecast (Cp, Cpk): {self.index('cpk').reason}"
        proviso = "as long as the process stays stable" if self.stable else "if the process is stable, which was not checked"
        return f"{self._figure('cpk')} as a forecast {proviso}"

    def _figure(self, name: str) -> str:
        found = self.index(name)
        text = f"{name.capitalize()} {found.value:.2f}"
        if found.lower is None or found.upper is None or found.lower_bound is None:
            return text
        percent = number(100 * self.confidence_level)
        return (
            f"{text} ({percent} % interval {found.lower:.2f} to {found.upper:.2f}, at least {found.lower_bound:.2f} demonstrated)"
        )

    def _columns(self) -> dict[str, Any]:
        names = ["value", "lower", "upper", "lower_bound", "degrees_of_freedom"]
        numbers = {name: [getattr(found, name) for found in self.indices] for name in names}
        notes = [found.reason or found.method for found in self.indices]
        return {"index": [found.index for found in self.indices], **numbers, "note": notes}

    def explain(self) -> Explanation:
        return Explanation(
            title=self.sentence(),
            steps=tuple(self._steps()),
            choices={
                "sigma_total": "divisor n - 1, no c4",
                "sigma_within": self.within_estimator.replace("_", " ") or "none",
                "stable": {None: "not stated", True: "yes", False: "no: Cp and Cpk are refused"}[self.stable],
                "cpm": self.made.options["cpm_definition"].replace("_", " "),
                "confidence": f"{number(100 * self.confidence_level)} %, two-sided to show, one-sided lower bound as shown",
                "degrees of freedom": "those of the sigma used",
                "a reading on a limit": "meets it; on it means within a relative 1e-9, as 0.88 on 0.8 * 1.1",
                "distribution": "normal",
                "level": "one value is one reading as given: give unit averages when the rule judges unit averages",
            },
            sources=(
                "NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6",
                "Bissell 1990, Applied Statistics 39, 331-340",
                "Boyles 1991, Journal of Quality Technology 23, 17-26",
                "cpp/methods/capability.md",
            ),
        )

    def _steps(self) -> list[Step]:
        window = self.specification
        known = {"lower": window.lower, "upper": window.upper, "mean": self.mean}
        limits = {name: value for name, value in known.items() if value is not None}
        steps = []
        for letter, name, sigma in (("p", "sigma_total", self.sigma_total), ("c", "sigma_within", self.sigma_within)):
            for ending, formula in _FORMULAS.items():
                value = self.index(letter + ending).value
                if value is not None and sigma:
                    inputs = {key: limits[key] for key in ("lower", "upper", "mean") if key in formula}
                    steps.append(Step(letter + ending, formula.format(sigma=name), {**inputs, name: sigma}, value))
            sides = {letter + side: self.index(letter + side).value for side in ("pu", "pl")}
            given = {side: value for side, value in sides.items() if value is not None}
            nearest = self.index(letter + "pk").value
            if nearest is not None:
                formula = f"min({', '.join(given)})" if len(given) == 2 else next(iter(given))
                steps.append(Step(letter + "pk", formula, given, nearest))
                steps += _bissell(self.index(letter + "pk"), self.count, self.confidence_level)
        if self.cpm is not None and self.mean_square_off_target is not None:
            inputs = {**{key: limits[key] for key in ("lower", "upper")}, "mean_square": self.mean_square_off_target}
            steps.append(Step("cpm", "(upper - lower) / (6 * sqrt(mean_square))", inputs, self.cpm))
        if self.off_center_ratio is not None:
            formula = "abs(lower + upper - 2 * mean) / (upper - lower)"
            steps.append(Step("off_center_ratio", formula, limits, self.off_center_ratio))
        if not steps:
            distance = "upper - mean" if window.lower is None else "mean - lower"
            value = limits["upper"] - self.mean if window.lower is None else self.mean - limits["lower"]
            steps.append(Step("distance_to_limit", distance, limits, value))
            steps.append(Step("sigma_total", "0 * mean", {"mean": self.mean}, 0.0))
        return steps


def capability(
    data: Any = None,
    column: str | None = None,
    *,
    unit: str,
    lower: float | None = None,
    upper: float | None = None,
    target: float | None = None,
    mean: float | None = None,
    sigma_total: float | None = None,
    count: int | None = None,
    sigma_within: float | str | None = None,
    degrees_of_freedom_within: float | None = None,
    subgroup_size: int | None = None,
    subgroup: Any = None,
    time: Any = None,
    period: Any = None,
    excluded: Any = None,
    longest_gap: timedelta | None = None,
    stable: bool | None = None,
    confidence_level: float = 0.95,
    cpm_definition: str = "divisor_n",
    missing: str = "error",
) -> Capability:
    """Compare readings, or a known mean and sigma, with a specification window.

    Parameters
    ----------
    data : table, series, array or sequence, optional
        At least two readings in production order; a table needs ``column``. One value is one reading of what the rule judges:
        give unit averages when unit averages are judged, since readings of one unit are alike and would make every interval
        too narrow.
    unit : str
        Unit of readings and limits.
    lower, upper, target : float, optional
        Specification; at least one limit.
    mean, sigma_total, count : optional
        Instead of ``data``: a known mean and total sigma, and how many readings are behind them (without it no interval).
    sigma_within : float or estimator word, optional
        A known within sigma, or how to estimate it: ``"mean_moving_range"`` (default) or ``"median_moving_range"`` for single
        readings; ``"mean_range"`` (default), ``"mean_sd"``, ``"pooled_sd"`` or ``"pooled_sd_c4"`` inside subgroups.
    degrees_of_freedom_within : float, optional
        What a given ``sigma_within`` is worth; without it Cp and Cpk have no interval.
    subgroup_size, subgroup : optional
        Rational subgroups as in ``subgroup_chart``: rows a subgroup, or the column or sequence of their labels.
    time, period, excluded, longest_gap
        As in the charts: no moving range crosses a gap or a change of period; excluded rows (whole subgroups where there are
        some) take no part.
    stable : bool, optional
        What the charts said. False refuses Cp and Cpk: a forecast of an unstable process means nothing. None says in the
        verdict that stability was not checked.
    confidence_level : float
        Of the two-sided interval and of the one-sided lower bound.
    cpm_definition : {"divisor_n", "divisor_n_minus_1", "variance_plus_offset"}
        Under the root of Cpm: sum (x - target)^2 / n; the same over n - 1; or s^2 + (mean - target)^2.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, with column, row and value.
    InvalidInputError
        No limit, lower not below upper, neither or both of ``data`` and ``mean``, options out of their domain.

    Warns
    -----
    ConstantDataWarning
        All readings are equal: the indices have no value.

    Notes
    -----
    Indices assume a normal distribution. Pp and Ppk describe the period and forecast nothing.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6; formulas in cpp/methods/capability.md.

    Examples
    --------
    >>> found = capability(unit="um", mean=16.0, sigma_total=2.0, lower=8.0, upper=20.0)
    >>> round(found.pp, 2), round(found.ppk, 2)
    (1.0, 0.67)
    >>> print(capability([2.11, 2.07, 2.14, 2.09, 2.12], unit="mil", lower=2.0, upper=2.2, stable=False).sentence())
    5 readings average 2.106 mil, none outside 2.0 to 2.2 mil (0.03 % expected); Ppk 1.16 (95 % interval 0.30 to 2.01, at least \
0.44 demonstrated) for this period, not a forecast; no forecast (Cp, Cpk), since the process is not stable.
    """
    check_options(capability, locals())
    window = SpecLimits(lower=lower, upper=upper, target=target)
    options = {
        "lower": lower,
        "upper": upper,
        "target": target,
        "stable": stable,
        "confidence_level": confidence_level,
        "cpm_definition": cpm_definition,
        "missing": missing,
    }
    specification = (lower, upper, target, confidence_level, cpm_definition)
    if data is None:
        if mean is None or sigma_total is None:
            raise InvalidInputError("give data, or mean and sigma_total", argument="data")
        if isinstance(sigma_within, str):
            raise InvalidInputError(f"sigma_within={sigma_within!r} needs data", argument="sigma_within")
        within = Within(sigma_within, degrees_of_freedom_within, "given" if sigma_within is not None else "")
        found = _core.capability_from_moments(
            mean, sigma_total, count or 0, *specification, within.sigma, within.degrees_of_freedom, stable
        )
        made = Made("capability", unit, count or 0, options={**options, "count": count}, version=_core.version)
        return _build(found, made, window, within, stable, confidence_level, None)

    if mean is not None or sigma_total is not None or count is not None:
        raise InvalidInputError("give data, or mean, sigma_total and count, not both", argument="mean")
    judged = judged_readings(
        data,
        column,
        missing=missing,
        sigma_within=sigma_within,
        degrees_of_freedom=degrees_of_freedom_within,
        subgroup_size=subgroup_size,
        subgroup=subgroup,
        time=time,
        period=period,
        excluded=excluded,
        longest_gap=longest_gap,
    )
    values, within, given = judged.values, judged.within, judged.column
    found = _core.capability(values, *specification, within.sigma, within.degrees_of_freedom, stable)
    if found["sigma_total"] == 0.0:
        warnings.warn(
            f"all {values.size} readings of column '{given.name}' are equal; a stuck or coarse gauge is likelier than no spread",
            ConstantDataWarning,
            stacklevel=2,
        )
    made = Made(
        function="capability",
        unit=unit,
        count=int(values.size),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={**options, "subgroup_size": subgroup_size, **judged.left_out},
        version=_core.version,
    )
    return _build(found, made, window, within, stable, confidence_level, frozen(values))


def _build(
    found: dict[str, Any],
    made: Made,
    window: SpecLimits,
    within: Within,
    stable: bool | None,
    confidence_level: float,
    values: NDArray[np.float64] | None,
) -> Capability:
    indices = tuple(IndexEstimate(**index) for index in found.pop("indices"))
    expected = found.pop("expected_within")
    return build(
        Capability,
        found,
        made=made,
        specification=window,
        sigma_within=within.sigma,
        within_estimator=within.estimator,
        stable=stable,
        confidence_level=confidence_level,
        indices=indices,
        expected_within=None if expected is None else FractionOutside(**expected),
        values=values,
    )


def _bissell(found: IndexEstimate, count: int, confidence_level: float) -> list[Step]:
    """The ends of an approximate interval, recomputable from what they print."""
    if found.method != "Bissell 1990" or found.value is None or found.degrees_of_freedom is None:
        return []
    formula = f"{found.index} - z * sqrt(1 / (9 * count) + {found.index} * {found.index} / (2 * degrees_of_freedom))"
    known = {found.index: found.value, "count": count, "degrees_of_freedom": found.degrees_of_freedom}
    both, one = _core.normal_quantile((1 + confidence_level) / 2), _core.normal_quantile(confidence_level)
    ends = (("lower", found.lower, both, formula), ("upper", found.upper, both, formula.replace("- z", "+ z", 1)))
    steps = [Step(f"{found.index}_{end}", words, {**known, "z": z}, value) for end, value, z, words in ends if value is not None]
    if found.lower_bound is not None:
        steps.append(Step(f"{found.index}_lower_bound", formula, {**known, "z": one}, found.lower_bound))
    return steps


def _share(fraction: float) -> str:
    """A share in percent, or in parts per million where percent would be all zeros."""
    if fraction == 0.0 or fraction >= 1e-4:
        return f"{number(100 * fraction, 2)} %"
    return f"{number(1e6 * fraction, 2)} ppm"


make_callable(__name__)
