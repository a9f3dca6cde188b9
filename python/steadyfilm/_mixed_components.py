"""Components of readings of any layout by (restricted) maximum likelihood: the result and the call."""

from __future__ import annotations

import math
import re
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from steadyfilm import _core
from steadyfilm._component_parts import where_it_sits
from steadyfilm._format import number, plural, with_unit
from steadyfilm._input import make_table, readings
from steadyfilm._mixed_terms import Term, covariate_columns, read_terms
from steadyfilm._result import Explanation, Made, Result, Step, build
from steadyfilm.distributions import normal_quantile
from steadyfilm.errors import ConstantDataWarning, InvalidInputError

__all__ = ["FixedEffect", "MixedComponent", "MixedComponents", "SearchEnd", "mixed_components"]

Floats = NDArray[np.float64]

_METHODS = {"reml": True, "ml": False}
_SOURCES = (
    "cpp/methods/variance_components.md",
    "Patterson and Thompson, Biometrika 58 (1971) 545: restricted likelihood (from memory)",
    "Bates, Mächler, Bolker and Walker, Journal of Statistical Software 67 (2015), no. 1: profiled criterion (from memory)",
    "Searle, Casella and McCulloch, Variance Components (1992), chapters 6 and 7 (from memory)",
)


@dataclass(frozen=True)
class MixedComponent:
    """One component by maximum likelihood; the residual is the last.

    ``variance`` is 0 or more, ``relative_sd`` its root over that of the residual. ``variance_lower`` and ``variance_upper`` are
    the interval asked for, the standard errors those of the observed information; they are NaN at 0. ``unbiased_variance`` is the
    quadratic unbiased estimate as it comes, which may be negative; for balanced readings it is that of the analysis of variance.
    """

    source: str
    levels: int
    relative_sd: float
    variance: float
    variance_standard_error: float
    variance_lower: float
    variance_upper: float
    sd: float
    sd_lower: float
    sd_upper: float
    log_sd_standard_error: float
    wald_sd_lower: float
    wald_sd_upper: float
    share: float
    unbiased_variance: float
    on_boundary: bool


@dataclass(frozen=True)
class FixedEffect:
    """A fixed effect: the mean, a level of a factor against its first level, or the slope of a covariate (no level)."""

    term: str
    level: str
    estimate: float
    standard_error: float


@dataclass(frozen=True)
class SearchEnd:
    """How the search ended; ``last_change`` is what one more step would add to the log-likelihood."""

    converged: bool
    steps: int
    evaluations: int
    last_change: float


@dataclass(frozen=True, eq=False, repr=False)
class MixedComponents(Result):
    """Components of readings of any layout, in the unit of the data, squares in unit squared.

    The effect arrays hold the predicted random effects of all terms, one element a level; their standard errors are those of
    the prediction and contain the error of the fixed effects. ``criterion`` is -2 times the log-likelihood. ``places`` says in
    words where each term's variation sits.
    """

    _plot: ClassVar[str] = "variance_components:plot_components"

    components: tuple[MixedComponent, ...]
    total_variance: float
    total_sd: float
    total_variance_standard_error: float
    fixed: tuple[FixedEffect, ...]
    fixed_count: int
    balanced: bool
    log_likelihood: float
    criterion: float
    log_determinant: float
    penalized_sum_squares: float
    degrees_of_freedom: float
    convergence: SearchEnd
    places: tuple[str, ...]
    effect_source: NDArray[np.object_]
    effect_level: NDArray[np.object_]
    effect_value: Floats
    effect_standard_error: Floats

    @property
    def residual_variance(self) -> float:
        """Variance of the residual, the last component."""
        return self.components[-1].variance

    def sentence(self) -> str:
        head = plural(self.made.count, "reading")
        unit = self.made.unit
        mean = self.fixed[0].estimate
        if self.total_variance == 0.0:
            rest = "" if self.fixed_count == 1 else " beyond the fixed effects"
            return f"{head}, mean {with_unit(mean, unit)}: there is no variation{rest} to divide."
        words = dict(zip([one.source for one in self.components], self.places, strict=True))
        clauses = [f"{head}: {where_it_sits(self.components, words, unit)}"]
        raw = [one for one in self.components[:-1] if self.balanced and one.on_boundary and one.unbiased_variance < 0.0]
        if raw:
            square = f" {unit} squared" if unit else ""
            texts = [f"{number(one.unbiased_variance, 3)}{square} for {one.source}" for one in raw]
            clauses.append(f"the analysis of variance gives {' and '.join(texts)}, counted as 0")
        factors = list(dict.fromkeys(one.term for one in self.fixed[1:]))
        if factors:
            clauses.append(f"beside the fixed effects of {' and '.join(factors)}")
        else:
            clauses.append(f"mean {with_unit(mean, unit)}")
        if self.made.missing_rows:
            clauses.append(f"{plural(len(self.made.missing_rows), 'missing reading')} left out")
        if not self.convergence.converged:
            clauses.append("the search for the highest likelihood did not end: take the figures as provisional")
        return "; ".join(clauses) + "."

    def _columns(self) -> dict[str, Any]:
        names = (
            *("source", "levels", "variance", "variance_standard_error", "variance_lower", "variance_upper"),
            *("sd", "sd_lower", "sd_upper", "share", "unbiased_variance", "on_boundary"),
        )
        return {name: [getattr(one, name) for one in self.components] for name in names}

    def fixed_frame(self, kind: str | None = None) -> Any:
        """One row a fixed effect."""
        names = ("term", "level", "estimate", "standard_error")
        return make_table({name: [getattr(one, name) for one in self.fixed] for name in names}, kind or self.made.frame)

    def effects_frame(self, kind: str | None = None) -> Any:
        """One row a level of a random term: the prediction of its effect, with its standard error."""
        columns = {
            "source": self.effect_source,
            "level": self.effect_level,
            "effect": self.effect_value,
            "standard_error": self.effect_standard_error,
        }
        return make_table(columns, kind or self.made.frame)

    def explain(self) -> Explanation:
        options = self.made.options
        steps = self._fit_steps() if self.total_variance > 0.0 else []
        for i, one in enumerate(self.components, 1):
            inputs = {"relative_sd": one.relative_sd, "residual_variance": self.residual_variance}
            steps.append(Step(f"variance_{i}", "relative_sd**2 * residual_variance", inputs, one.variance))
            steps.append(Step(f"sd_{i}", "sqrt(variance)", {"variance": one.variance}, one.sd))
        parts = {f"variance_{i}": one.variance for i, one in enumerate(self.components, 1)}
        steps.append(Step("total_variance", " + ".join(parts), parts, self.total_variance))
        steps.append(Step("total_sd", "sqrt(total_variance)", {"total_variance": self.total_variance}, self.total_sd))
        if self.total_variance > 0.0:
            total = {"total_variance": self.total_variance}
            steps += [
                Step(f"share_{i}", "variance / total_variance", {"variance": one.variance, **total}, one.share)
                for i, one in enumerate(self.components, 1)
            ]
        z = normal_quantile(0.5 + options["confidence_level"] / 2.0)
        for i, one in enumerate(self.components, 1):
            if math.isfinite(one.log_sd_standard_error):
                inputs = {"variance": one.variance, "log_sd_standard_error": one.log_sd_standard_error}
                formula = "2 * variance * log_sd_standard_error"
                steps.append(Step(f"variance_standard_error_{i}", formula, inputs, one.variance_standard_error))
                inputs = {"sd": one.sd, "z": z, "log_sd_standard_error": one.log_sd_standard_error}
                for end, sign in (("lower", "-"), ("upper", "+")):
                    formula = f"exp(log(sd) {sign} z * log_sd_standard_error)"
                    steps.append(Step(f"wald_sd_{end}_{i}", formula, inputs, getattr(one, f"wald_sd_{end}")))
        return Explanation(self.sentence(), tuple(steps), self._choices(), _SOURCES)

    def _fit_steps(self) -> list[Step]:
        size = {"penalized_sum_squares": self.penalized_sum_squares, "degrees_of_freedom": self.degrees_of_freedom}
        formula = "log_determinant + degrees_of_freedom * (1 + log(2 * pi * penalized_sum_squares / degrees_of_freedom))"
        inputs = {"log_determinant": self.log_determinant, **size, "pi": math.pi}
        return [
            Step("residual_variance", "penalized_sum_squares / degrees_of_freedom", size, self.residual_variance),
            Step("criterion", formula, inputs, self.criterion),
            Step("log_likelihood", "-criterion / 2", {"criterion": self.criterion}, self.log_likelihood),
        ]

    def _choices(self) -> dict[str, str]:
        options = self.made.options
        level = f"{number(100 * options['confidence_level'])} %, two-sided"
        profile = (
            f"{level}: values under which the highest likelihood is not lower than chi-square with 1 degree of freedom allows"
        )
        wald = f"{level}: from the standard error of ln(sd), by the observed information; none for a component at 0"
        at_zero = [one.source for one in self.components if one.on_boundary]
        raw = [f"{one.source} {number(one.unbiased_variance)}" for one in self.components]
        name = "analysis of variance" if self.balanced else "quadratic, unbiased"
        restricted = "restricted likelihood: of what no fixed effect can move"
        end = self.convergence
        return {
            "method": restricted if options["method"] == "reml" else "full likelihood: too small when fixed effects are many",
            "layout": "balanced" if self.balanced else "not balanced",
            "intervals": profile if options["intervals"] == "profile" else wald,
            "components at 0": ", ".join(at_zero) + ": the likelihood is highest there" if at_zero else "none",
            f"components as they come ({name})": "; ".join(raw),
            "fixed effects": "levels against the first level of their factor" if self.fixed_count > 1 else "the mean alone",
            "search": f"{plural(end.steps, 'step')}, {plural(end.evaluations, 'evaluation')}, "
            + ("converged" if end.converged else "not converged"),
            "left out": plural(len(self.made.missing_rows), "missing reading"),
        }


def mixed_components(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    random: Sequence[Any],
    fixed: Sequence[Any] = (),
    covariates: Sequence[str] = (),
    method: str = "reml",
    intervals: str = "profile",
    confidence_level: float = 0.95,
    missing: str = "error",
) -> MixedComponents:
    """Divide the variation of readings of any layout among crossed and nested sources: unbalanced, with cells missing.

    reading = mean + fixed effects + random effects + residual.

    Parameters
    ----------
    data : table, series, array or sequence
        One reading a row, in any order; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``.
    random : sequence of terms
        Each the name of a column of labels, a tuple of names, or a sequence of labels. A tuple is the combination of its columns:
        an interaction of columns that also stand alone, as ``["part", "appraiser", ("part", "appraiser")]``, else a nesting,
        outermost first, as ``["day", ("day", "unit")]``.
    fixed : sequence of terms
        Factors of which every level is of interest itself; the first level that appears is the base.
    covariates : sequence of str
        Columns of numbers with a straight-line effect.
    method : {"reml", "ml"}
        Restricted or full likelihood.
    intervals : {"profile", "wald"}
        What ``variance_lower``, ``sd_lower`` and so on are: by the profile of the likelihood, or by standard errors, which is
        faster and has none for a component at 0.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, missing labels or covariates; with column, row and value.
    InvalidInputError
        Terms that cannot be told apart (named), a term with one level or a level for every reading, fixed effects that follow
        from one another, too few readings, no residual variation.

    Notes
    -----
    Formulas in cpp/methods/variance_components.md. A component is 0 when the likelihood is highest there.

    Examples
    --------
    >>> table = {"film": [2.1, 2.2, 2.6, 2.5, 2.0, 2.1, 2.3], "body": [1, 1, 2, 2, 3, 3, 3]}
    >>> found = mixed_components(table, "film", unit="mil", random=["body"])
    >>> [(one.source, round(one.sd, 3)) for one in found.components]
    [('body', 0.221), ('residual', 0.119)]
    """
    for name, value, known in (("method", method, _METHODS), ("intervals", intervals, ("profile", "wald"))):
        if value not in known:
            raise InvalidInputError(f"{name} must be {' or '.join(map(repr, known))}, got {value!r}", argument=name)
    given = readings(data, column, missing=missing)
    chance, settled = read_terms(data, given, random, fixed)
    numbers = covariate_columns(data, given, covariates)
    try:
        found = _core.mixed_components(
            given.values,
            [term.for_core() for term in chance],
            [term.for_core() for term in settled],
            numbers,
            _METHODS[method],
            confidence_level,
            intervals == "profile",
        )
    except InvalidInputError as error:
        raise _with_labels(error, settled) from None
    if not found["total_variance"]:
        warnings.warn(f"'{given.name}' has no variation to divide: every component is 0", ConstantDataWarning, stacklevel=2)
    made = Made(
        "mixed_components",
        unit,
        int(found.pop("count")),
        given.missing_rows,
        given.frame,
        {
            "random": [list(term.columns) for term in chance],
            "fixed": [list(term.columns) for term in settled],
            "covariates": [name for name, _ in numbers],
            "method": method,
            "intervals": intervals,
            "confidence_level": confidence_level,
            "missing": missing,
        },
        _core.version,
    )
    value, standard_error = found.pop("effects")
    return build(
        MixedComponents,
        {**found, "components": _components(found["components"], intervals), "fixed": _fixed(found["fixed"], settled)},
        made=made,
        places=(*(term.place for term in chance), "from reading to reading otherwise"),
        effect_source=np.array([term.name for term in chance for _ in term.labels], dtype=object),
        effect_level=np.array([label for term in chance for label in term.labels], dtype=object),
        effect_value=value,
        effect_standard_error=standard_error,
    )


def _components(rows: Sequence[Mapping[str, Any]], intervals: str) -> tuple[MixedComponent, ...]:
    out = []
    for row in rows:
        ends = {}
        if intervals == "wald":
            ends = {f"sd_{end}": row[f"wald_sd_{end}"] for end in ("lower", "upper")}
            ends |= {f"variance_{end}": row[f"wald_sd_{end}"] ** 2 for end in ("lower", "upper")}
        out.append(build(MixedComponent, {**row, **ends}))
    return tuple(out)


def _fixed(rows: Sequence[Mapping[str, Any]], settled: Sequence[Term]) -> tuple[FixedEffect, ...]:
    labels = {term.name: term.labels for term in settled}
    return tuple(
        build(FixedEffect, {**row, "level": "" if row["level"] < 0 else labels[row["term"]][row["level"]]}) for row in rows
    )


def _with_labels(error: InvalidInputError, settled: Sequence[Term]) -> InvalidInputError:
    """The core knows levels by number; the caller knows them by label."""
    labels = {term.name: term.labels for term in settled}

    def put(match: re.Match[str]) -> str:
        return f"'{match[1]}' (level '{labels[match[1]][int(match[2])]}')" if match[1] in labels else match[0]

    text = re.sub(r"'([^']*)' \(level (\d+)\)", put, str(error))
    return InvalidInputError(text, function=error.function, argument=error.argument, position=error.position)
