"""Months of the invented shop's washer, each judged by limits from its own baseline month: is a sick feed found, and is a quiet
month quiet?

    python tests/bench/wash_months.py             # all months, writes the table beside this file
    python tests/bench/wash_months.py 7 8         # months of these seeds, prints what they show

Each seed gives a quiet month and three sick ones: the feed pump stuck for two days from a day that goes round the month with the
seed, the pump delivering a fifth less from that day on, and a leak by which it has to deliver a tenth more.
"""

from __future__ import annotations

import csv
import importlib
import math
import sys
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf
from steadyfilm._plan.wash import WashPlan, load_wash_plan

HERE = Path(__file__).parent
DATASETS = HERE.parents[1] / "datasets"
TABLE = HERE / "wash_months.csv"
SEEDS = range(1, 201)
FIRST_DAYS = range(2, 20)
TANK = "phosphate"
KINDS = {"quiet": 1.0, "stuck": 0.0, "a fifth less": 0.8, "a tenth more": 1.1}
"""What the pump delivers from the event's first day on, as a share of what it should."""


@dataclass(frozen=True)
class Row:
    """One month: what happened, and what was told."""

    seed: int
    kind: str
    first_day: int
    found: bool
    """A change of the right tank to the right side that starts within a working day of the event."""
    start_error_intervals: int
    """How many intervals too late (below 0: too early) the change is said to have started."""
    intervals_to_see: int
    """From the first sick interval to the one beyond a limit, counted from 1; 0 if it is not found."""
    share: float
    titration_out: bool
    lead_hours: float
    other_changes: int
    """Changes that nothing caused."""


def shop() -> Any:
    """The generator, from the folder of data sets."""
    sys.path.insert(0, str(DATASETS.parent))
    return importlib.import_module("datasets.truck_bodies")


def logs(demo: Any, scenario: Any, seed: int, month: str) -> dict[str, Any]:
    """The washer's tables of a month, without its film readings."""
    package = demo.__name__
    files, output, units = (importlib.import_module(f"{package}.{name}") for name in ("wash_files", "output", "units"))
    planted = scenario.events if month == "demo" else ()
    found = files.log_wash(scenario, scenario.washer, planted, seed=seed, month=month)
    painted = units.plan_units(scenario, seed=seed, month=month)
    found["output"] = output.log_output(scenario, scenario.output, painted, month)
    return {name: table.columns for name, table in found.items()}


def tables(month: dict[str, Any], usual: dict[str, Any]) -> dict[str, Any]:
    """Tables by the names of a review, each with the usual one."""
    names = {"titrations": "wash_checks", "feed": "chemical_feed", "additions": "chemical_additions", "area": "output"}
    return {name: (month[file], usual[file]) for name, file in names.items()}


def weakened(month: dict[str, Any], share: float, since: np.datetime64) -> dict[str, Any]:
    """A month whose pump delivers another share from a day on; the titrations are left as they are."""
    feed = month["chemical_feed"]
    steps = np.diff(feed["total"], prepend=feed["total"][0])
    steps = np.where(feed["time"] > since, steps * share, steps)
    return month | {"chemical_feed": feed | {"total": np.round(feed["total"][0] + np.cumsum(steps), 2)}}


def months_of(seed: int, plan: WashPlan, demo: Any) -> list[Row]:
    """The four months of a seed."""
    first_day = FIRST_DAYS[seed % len(FIRST_DAYS)]
    scenario = demo.variant(demo.SHOP, {"events.E7.first_day": first_day, "events.E7.last_day": first_day + 1})
    usual, quiet, stuck = (logs(demo, scenario, seed, name) for name in ("baseline", "quiet", "demo"))
    days = np.unique(quiet["wash_checks"]["time"].astype("datetime64[D]"))
    since = days[first_day - 1] + np.timedelta64(6, "h").astype("timedelta64[m]")
    sick = {"quiet": quiet, "stuck": stuck}
    sick |= {kind: weakened(quiet, share, since) for kind, share in KINDS.items() if kind not in sick}
    return [_row(seed, kind, first_day, sf.review_wash(plan, tables(month, usual)), since) for kind, month in sick.items()]


def _row(seed: int, kind: str, first_day: int, review: sf.WashReview, since: np.datetime64) -> Row:
    told = [x for x in review.changes if kind != "quiet" and x.tank == TANK and (x.share < 0) == (KINDS[kind] < 1.0)]
    near = [x for x in told if abs((np.datetime64(x.start.replace(" ", "T")) - since) / np.timedelta64(1, "h")) < 24.0]
    others = len(review.changes) - len(near[:1])
    if not near:
        return Row(seed, kind, first_day, found=False, start_error_intervals=0, intervals_to_see=0, share=math.nan,
                   titration_out=any(x.outside for x in review.tanks), lead_hours=math.nan, other_changes=others)  # fmt: skip
    change = near[0]
    ends = next(x for x in review.tanks if x.name == TANK).charts[0].end
    starts = next(x for x in review.tanks if x.name == TANK).charts[0].start
    begins, seen = (np.datetime64(text.replace(" ", "T")) for text in (change.start, change.seen))
    true = int(np.searchsorted(starts, since))
    return Row(
        seed=seed,
        kind=kind,
        first_day=first_day,
        found=True,
        start_error_intervals=int(np.searchsorted(starts, begins)) - true,
        intervals_to_see=int(np.searchsorted(ends, seen)) - true + 1,
        share=round(change.share, 4),
        titration_out=bool(change.out_of_band),
        lead_hours=change.lead_hours,
        other_changes=others,
    )


def run(seeds: Iterable[int]) -> list[Row]:
    """Every month of these seeds."""
    plan, demo = load_wash_plan(DATASETS / "truck_bodies" / "plan.toml"), shop()
    return [row for seed in seeds for row in months_of(seed, plan, demo)]


def read(path: Path = TABLE) -> list[Row]:
    """The committed table."""
    kinds: dict[str, Any] = {"int": int, "float": float, "str": str, "bool": lambda text: text == "True"}
    with path.open(encoding="utf-8", newline="") as file:
        return [Row(**{x.name: kinds[str(x.type)](row[x.name]) for x in fields(Row)}) for row in csv.DictReader(file)]


def summary(rows: list[Row]) -> list[str]:
    """Rates in words, kind by kind."""
    lines = []
    for kind in KINDS:
        own = [x for x in rows if x.kind == kind]
        seen = [x.intervals_to_see for x in own if x.found]
        text = f"{kind}: {len(own)} months, {sum(x.other_changes for x in own)} changes that nothing caused"
        if kind != "quiet":
            exact = sum(x.start_error_intervals == 0 for x in own if x.found)
            text += f"; found {len(seen)}, start exact in {exact}, median {np.median(seen):.0f} intervals to see it"
        before = [x for x in own if x.titration_out]
        if kind == "stuck":
            text += f"; before the titration in {sum(x.lead_hours > 0 for x in before)} of {len(before)}"
        lines.append(text)
    return lines


def main(seeds: list[int]) -> None:
    """Write the table, or print what the months of some seeds show."""
    rows = run(seeds or SEEDS)
    if seeds:
        for row in rows:
            sys.stdout.write(f"{row}\n")
        return
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, [x.name for x in fields(Row)], lineterminator="\n")
        writer.writeheader()
        writer.writerows(asdict(row) for row in rows)
    sys.stdout.write("\n".join(summary(rows)) + "\n")


if __name__ == "__main__":
    main([int(text) for text in sys.argv[1:]])
