"""Moments of a set of readings that survive a large common offset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._format import decimals_for, fixed, plural, with_unit
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Made, Result, Step, build

__all__ = ["Summary", "summarize"]


@dataclass(frozen=True, eq=False, repr=False)
class Summary(Result):
    """Moments of ``count`` readings, in the unit of the data unless said.

    ``sd`` has divisor n - 1; ``skewness`` and ``excess_kurtosis`` have divisor n and no unit. All are 0 for one reading and for
    equal ones.
    """

    count: int
    sum: float
    mean: float
    sum_squares: float
    sd: float
    minimum: float
    maximum: float
    lag1_autocorrelation: float
    skewness: float
    excess_kurtosis: float

    def sentence(self) -> str:
        unit = self.made.unit
        if self.count == 1:
            return f"A single reading of {with_unit(self.mean, unit)}, which tells nothing about spread."
        if self.sd == 0.0:
            return f"All {plural(self.count, 'reading')} are {with_unit(self.mean, unit)}: there is no spread."
        decimals = decimals_for(self.sd)

        def shown(value: float, more: int = 0) -> str:
            return f"{fixed(value, decimals + more)} {unit}".rstrip()

        return (
            f"{plural(self.count, 'reading')} average {shown(self.mean, 1)} with standard deviation {shown(self.sd, 1)}, "
            f"from {shown(self.minimum)} to {shown(self.maximum)}."
        )

    def _columns(self) -> dict[str, Any]:
        names = [
            "count",
            "mean",
            "sd",
            "minimum",
            "maximum",
            "lag1_autocorrelation",
            "skewness",
            "excess_kurtosis",
        ]
        return {"statistic": names, "value": [float(getattr(self, name)) for name in names]}

    def explain(self) -> Explanation:
        steps: tuple[Step, ...] = (Step("mean", "sum / count", {"sum": self.sum, "count": self.count}, self.mean),)
        if self.count > 1:
            inputs = {"sum_squares": self.sum_squares, "count": self.count}
            steps += (Step("sd", "sqrt(sum_squares / (count - 1))", inputs, self.sd),)
        return Explanation(
            title=self.sentence(),
            steps=steps,
            choices={"sums": "in twice the working precision", "sd": "divisor n - 1"},
            sources=("cpp/methods/summary.md",),
        )


def summarize(data: Any, column: str | None = None, *, unit: str, missing: str = "error") -> Summary:
    """Mean, spread and shape of readings in production order.

    Parameters
    ----------
    data : table, series, array or sequence
        At least one finite reading; a table needs ``column``.
    unit : str
        Unit of the readings, for example ``"mil"``; carried to every text and axis.
    missing : {"error", "drop"}
        Missing readings are refused, or left out and counted in ``made.missing_rows``.

    Raises
    ------
    DataProblemsError
        Missing, infinite or non-numeric readings, with column, row and value.

    Examples
    --------
    >>> found = summarize([2.11, 2.07, 2.14, 2.09], unit="mil")
    >>> round(found.mean, 4), round(found.sd, 4)
    (2.1025, 0.0299)
    """
    given = readings(data, column, missing=missing)
    made = Made(
        function="summarize",
        unit=unit,
        count=len(given.values),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={"missing": missing},
        version=_core.version,
    )
    return build(Summary, _core.summarize(given.values), made=made)
