"""How often the screens tell a pattern in quiet months: counts by screen and in all, for cpp/methods/screens.md.

``python tests/python/screens_rates.py 1000`` takes some minutes.
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from collections.abc import Sequence
from typing import Any

import steadyfilm as sf

from helpers import load_dataset
from screens_shop import COLUMNS, quiet_month

LOOSE = 0.2
"""Rate at which the screens are asked; lower rates follow from the adjusted chances."""


def gates_month(seed: int) -> sf.Screens:
    rows, listed = quiet_month(seed)
    return sf.screen(rows, "um", unit="um", processed=listed, false_flag_rate=LOOSE, **COLUMNS)


def truck_month(seed: int) -> sf.Screens:
    data = load_dataset(load_dataset().DEMO)
    columns: dict[str, Any] = {
        name: name for name in ("layer", "location", "repeat", "attempt", "time", "unit_of_measure", "gauge")
    }
    return sf.screen(
        dict(data.simulate("quiet", seed=seed).readings.columns),
        "value",
        unit="mil",
        serial="unit",
        groups=["painter", "gun"],
        limits={"primer": (1.0, 1.2), "total": (3.0, 3.5)},
        false_flag_rate=LOOSE,
        **columns,
    )


def counted(months: Sequence[sf.Screens], rate: float) -> Counter[str]:
    """Months that tell at least one pattern at this rate: in all, and by screen."""
    found: Counter[str] = Counter()
    for month in months:
        told = {pattern.screen for pattern in month.patterns if pattern.adjusted_pvalue <= rate}
        found.update(told)
        found["any"] += bool(told)
        found["fault"] += bool([fault for fault in month.faults if fault.check != "unit without readings"])
    return found


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    shops = {"gates": gates_month, "truck bodies": truck_month}
    for name, month in shops.items():
        if sys.argv[2:] and name not in sys.argv[2:]:
            continue
        months = [month(seed) for seed in range(1, count + 1)]
        for rate in (0.01, 0.05, 0.2):
            found = counted(months, rate)
            share = found["any"] / count
            error = math.sqrt(max(share, 1 / count) * (1 - share) / count)
            sys.stdout.write(f"{name}, asked for {rate:g}: {share:.4f} +- {error:.4f} of {count} months {dict(found)}\n")
        sys.stdout.flush()
        for month_number, found_month in enumerate(months, 1):
            for fault in found_month.faults:
                if fault.check != "unit without readings":
                    sys.stdout.write(f"  {name} {month_number}: {fault.check}: {fault.reason}\n")


if __name__ == "__main__":
    main()
