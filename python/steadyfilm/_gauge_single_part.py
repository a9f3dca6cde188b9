"""One part, measured again and again, against the tolerance that the gauge is to judge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._format import number, plural, with_unit
from steadyfilm._gauge_columns import bias_words, made_of, warn_constant
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Result, Step, build

__all__ = ["SinglePartStudy", "single_part_study"]

_PAGE = "cpp/methods/gauge_bias.md"


@dataclass(frozen=True, eq=False, repr=False)
class SinglePartStudy(Result):
    """Readings of one part at one place against the tolerance that a gauge is to judge; lengths in the unit of the data.

    ``cg`` compares the spread of the gauge with its share of the tolerance, ``cgk`` its bias too. ``minimum_tolerance`` and
    ``minimum_tolerance_cgk`` are the widths at which they are as required. Equal readings make ``cg`` infinite: the display then
    hides how the gauge repeats.
    """

    count: int
    mean: float
    bias: float
    sd: float
    t: float
    p: float
    cg: float
    cg_lower: float
    cg_upper: float
    cgk: float
    cgk_lower: float
    cgk_upper: float
    pct_variation: float
    minimum_tolerance: float
    minimum_tolerance_cgk: float
    reference: float
    tolerance_width: float
    tolerance_share: float
    sigma_spread: float
    required: float

    def sentence(self) -> str:
        unit = self.made.unit
        share = f"{number(100 * self.tolerance_share)} % of {with_unit(self.tolerance_width, unit)}"
        rule = f"{share}, gauge spread counted as {number(self.sigma_spread)} standard deviations"
        if self.sd == 0.0:
            return (
                f"All {plural(self.count, 'reading')} are {with_unit(self.mean, unit)}: the display hides how the gauge repeats, "
                f"so that no Cg can be given ({rule})."
            )
        level = number(100 * self.made.options["confidence_level"])
        figures = (
            f"Cg {number(self.cg, 3)} ({level} % {number(self.cg_lower, 3)} to {number(self.cg_upper, 3)}), "
            f"Cgk {number(self.cgk, 3)} ({level} % {number(self.cgk_lower, 3)} to {number(self.cgk_upper, 3)}); {rule}"
        )
        wanted = number(self.required, 4)
        if self.cg >= self.required and self.cgk >= self.required:
            sure = min(self.cg_lower, self.cgk_lower) >= self.required
            head = f"Cg and Cgk reach {wanted}" + ("" if sure else ", though their intervals reach below it")
        elif self.cg >= self.required:
            head = f"Cgk does not reach {wanted}, since the gauge reads {bias_words(self.bias)}"
        else:
            head = f"The gauge spreads too much for this tolerance: Cg does not reach {wanted}"
        need = with_unit(max(self.minimum_tolerance, self.minimum_tolerance_cgk), unit)
        return f"{head}: {figures}; with a tolerance of {need} both would."

    def _columns(self) -> dict[str, Any]:
        names = [
            "count",
            "mean",
            "reference",
            "bias",
            "sd",
            "t",
            "p",
            "cg",
            "cg_lower",
            "cg_upper",
            "cgk",
            "cgk_lower",
            "cgk_upper",
        ]
        names += ["pct_variation", "minimum_tolerance", "minimum_tolerance_cgk", "tolerance_width", "tolerance_share"]
        names += ["sigma_spread", "required"]
        return {"statistic": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        given = {
            "tolerance_share": self.tolerance_share,
            "tolerance_width": self.tolerance_width,
            "sigma_spread": self.sigma_spread,
            "sd": self.sd,
        }
        wanted = {**given, "required": self.required}
        steps = [
            Step("bias", "mean - reference", {"mean": self.mean, "reference": self.reference}, self.bias),
            Step("minimum_tolerance", "required * sigma_spread * sd / tolerance_share", wanted, self.minimum_tolerance),
            Step("pct_variation", "100 * sigma_spread * sd / tolerance_width", given, self.pct_variation),
        ]
        if self.sd > 0.0:
            room = "(tolerance_share * tolerance_width / 2 - abs(bias)) / (sigma_spread * sd / 2)"
            steps += [
                Step("cg", "tolerance_share * tolerance_width / (sigma_spread * sd)", given, self.cg),
                Step("cgk", room, {**given, "bias": self.bias}, self.cgk),
            ]
        return Explanation(
            title=self.sentence(),
            steps=tuple(steps),
            choices={
                "tolerance_share": f"{number(100 * self.tolerance_share)} %, given",
                "sigma_spread": f"{number(self.sigma_spread)} standard deviations, given",
                "required": number(self.required, 4),
                "intervals": "Cg by the chi-square of the variance; Cgk by Bissell's approximation",
                "readings": "of one part at one place; they tell nothing about other values, people or days",
            },
            sources=(
                _PAGE,
                "ISO 22514-7, capability of measurement processes (forms as cited in other texts; clauses not seen)",
                "Bissell, Applied Statistics 39 (1990): interval of an index with one near limit",
            ),
        )


def single_part_study(
    data: Any,
    column: str | None = None,
    *,
    unit: str,
    reference: float,
    tolerance_width: float,
    tolerance_share: float,
    sigma_spread: float,
    required: float = 1.33,
    confidence_level: float = 0.95,
    missing: str = "error",
) -> SinglePartStudy:
    """Cg and Cgk: does one part, measured again and again, use up too much of the tolerance?

    Users of these indices differ in the share of the tolerance and in the multiple of the standard deviation, and the figures
    differ with them: there is no default, and both stand in every text.

    Parameters
    ----------
    data : table, series, array or sequence
        Readings of one part at one place, 25 or better 50; a table needs ``column``.
    unit : str
        Unit of the readings.
    reference : float
        The part's known value.
    tolerance_width : float
        Upper less lower limit of what the gauge is to judge.
    tolerance_share : float
        Share of it that counts: 0.2 for 20 %.
    sigma_spread : float
        Standard deviations that count as the spread of the gauge, 4 or 6.
    required : float
        Index that is asked for.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, with column, row and value.
    InvalidInputError
        Fewer than two readings, options out of their domain.

    Warns
    -----
    ConstantDataWarning
        All readings are equal.

    Examples
    --------
    >>> seen = [2.01, 2.00, 2.02, 2.01, 1.99, 2.01, 2.00, 2.02, 2.01, 2.00]
    >>> rule = {"tolerance_width": 0.5, "tolerance_share": 0.2, "sigma_spread": 6}
    >>> found = single_part_study(seen, unit="mil", reference=2.0, **rule)
    >>> round(found.cg, 2), round(found.cgk, 2)
    (1.76, 1.51)
    """
    given = readings(data, column, missing=missing)
    found = _core.single_part_study(
        given.values, reference, tolerance_width, tolerance_share, sigma_spread, required, confidence_level
    )
    warn_constant(given)
    return build(
        SinglePartStudy,
        found,
        reference=float(reference),
        tolerance_width=float(tolerance_width),
        tolerance_share=float(tolerance_share),
        sigma_spread=float(sigma_spread),
        required=float(required),
        made=made_of("single_part_study", unit, given, confidence_level=confidence_level),
    )
