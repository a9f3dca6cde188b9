"""Say in one line what a reader gets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from steadyfilm import _core
from steadyfilm._format import plural, with_unit
from steadyfilm._input import readings
from steadyfilm._result import Explanation, Made, Result, Step, build

__all__ = ["GaugeBias", "compute_gauge_bias"]


@dataclass(frozen=True, eq=False, repr=False)
class GaugeBias(Result):
    """What ``compute_gauge_bias`` found in ``count`` readings, in the unit of the data unless said."""

    count: int
    value: float

    def sentence(self) -> str:
        return f"{plural(self.count, 'reading')} give {with_unit(self.value, self.made.unit)}."

    def _columns(self) -> dict[str, Any]:
        return {"statistic": ["count", "value"], "value": [float(self.count), self.value]}

    def explain(self) -> Explanation:
        return Explanation(
            title=self.sentence(),
            steps=(Step("value", "count", {"count": self.count}, self.value),),
            choices={},
            sources=("cpp/methods/gauge_bias.md",),
        )


def compute_gauge_bias(data: Any, column: str | None = None, *, unit: str, missing: str = "error") -> GaugeBias:
    """Say what comes back, for readings in production order.

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
    >>> compute_gauge_bias([2.11, 2.07, 2.14, 2.09], unit="mil").count
    4
    """
    given = readings(data, column, missing=missing)
    made = Made(
        function="compute_gauge_bias",
        unit=unit,
        count=len(given.values),
        missing_rows=given.missing_rows,
        frame=given.frame,
        options={"missing": missing},
        version=_core.version,
    )
    return build(GaugeBias, _core.compute_gauge_bias(given.values), made=made)
