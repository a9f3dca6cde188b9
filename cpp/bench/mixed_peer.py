"""Mixed models against statsmodels and lme4 on the same data in the same run; prints a table, never tested.

    python cpp/bench/mixed_peer.py [--write]

Each is asked for the restricted likelihood's estimates; ours gives standard errors and predictions with them, and is timed three
times: the core's call on codes, the whole Python call on a table of labels, and that with profile intervals, which the others are
not asked for and the target is held against. What is not installed is said. lme4 times itself inside
R (Rscript), reading excluded. With --write the table goes to DEVELOPERS.md, section Speed.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf
from steadyfilm import _core

TOP = Path(__file__).resolve().parents[2]
START, END = "<!-- mixed: written by cpp/bench/mixed_peer.py --write -->", "<!-- mixed: end -->"

R_SCRIPT = """
suppressMessages(library(lme4))
shape <- commandArgs(trailingOnly = TRUE)
d <- read.csv(shape[1])
for (name in setdiff(names(d), "film")) d[[name]] <- factor(d[[name]])
f <- as.formula(shape[2])
times <- sapply(1:as.integer(shape[3]), function(i) system.time(fit <<- lmer(f, d))[["elapsed"]])
cat("lme4", as.character(packageVersion("lme4")), "seconds", median(times), "criterion")
cat(" ", format(REMLcrit(fit), digits = 12), "\\n", sep = "")
"""


def crossed(readings: int, parts: int, people: int) -> dict[str, Any]:
    rng = np.random.default_rng(7)
    part, person = rng.integers(0, parts, readings), rng.integers(0, people, readings)
    film = 2.1 + rng.normal(0, 0.2, parts)[part] + rng.normal(0, 0.05, people)[person] + rng.normal(0, 0.05, readings)
    return {"film": film, "part": part, "person": person}


def study() -> dict[str, Any]:
    rng = np.random.default_rng(3)
    part, person, _ = (index.ravel()[5:] for index in np.indices((10, 3, 3)))
    both = rng.normal(0, 0.03, (10, 3))[part, person]
    film = 2.1 + rng.normal(0, 0.2, 10)[part] + rng.normal(0, 0.05, 3)[person] + both + rng.normal(0, 0.05, part.size)
    return {"film": film, "part": part, "person": person, "both": 3 * part + person}


def shop() -> dict[str, Any]:
    rng = np.random.default_rng(5)
    unit, place, _ = (index.ravel() for index in np.indices((440, 5, 3)))
    keep = rng.random(unit.size) > 1 / 11
    unit, place = unit[keep], place[keep]
    table = {"day": unit // 11, "unit": unit, "spot": 5 * unit + place, "painter": rng.integers(0, 6, 440)[unit]}
    table["gun"] = rng.integers(0, 8, 440)[unit]
    film = 2.1 + rng.normal(0, 0.05, unit.size) + rng.normal(0, 0.05, 5)[place]
    for codes, sd in zip(table.values(), (0.05, 0.08, 0.08, 0.04, 0.03), strict=True):
        film += rng.normal(0, sd, int(codes.max()) + 1)[codes]
    return {"film": film, **table, "place": place}


def seconds(call: Callable[[], Any], times: int) -> tuple[float, Any]:
    found, took = None, []
    for _ in range(times):
        start = time.perf_counter()
        found = call()
        took.append(time.perf_counter() - start)
    return statistics.median(took), found


def ours(table: dict[str, Any], random: list[str], fixed: list[str], times: int) -> tuple[float, float, float, Any]:
    def call(intervals: str = "wald") -> sf.MixedComponents:
        return sf.mixed_components(table, "film", unit="mil", random=random, fixed=fixed, intervals=intervals)

    def term(name: str) -> tuple[str, Any, int]:
        kinds, codes = np.unique(table[name], return_inverse=True)
        return name, codes.astype(np.int32), kinds.size

    terms = [[term(name) for name in names] for names in (random, fixed)]
    core, _ = seconds(lambda: _core.mixed_components(table["film"], *terms, [], True, 0.95, False), times)
    whole, found = seconds(call, times)
    profiled, _ = seconds(lambda: call("profile"), times)
    return core, whole, profiled, found


def statsmodels_seconds(table: dict[str, Any], random: list[str]) -> tuple[float, float] | str:
    try:
        import pandas as pd
        from statsmodels.regression.mixed_linear_model import MixedLM
    except ImportError:
        return "not installed"
    frame = pd.DataFrame({**table, "all": 1})
    frame["film"] *= 100.0  # it calls components below 0.01 the edge of its space
    terms = {name: f"0 + C({name})" for name in random}

    def call() -> Any:
        return MixedLM.from_formula("film ~ 1", groups="all", vc_formula=terms, data=frame).fit(reml=True)

    took, fitted = seconds(call, 1)
    return took, -2 * (fitted.llf + (frame.shape[0] - 1) * np.log(100.0))


def lme4_seconds(table: dict[str, Any], random: list[str], fixed: list[str], times: int) -> tuple[float, float] | str:
    if shutil.which("Rscript") is None:
        return "not installed"
    with tempfile.TemporaryDirectory() as folder:
        data, script = Path(folder) / "data.csv", Path(folder) / "time.R"
        np.savetxt(data, np.column_stack(list(table.values())), "%.17g", ",", header=",".join(table), comments="")
        script.write_text(R_SCRIPT, encoding="utf-8")
        formula = "film ~ " + " + ".join([*(fixed or ["1"]), *(f"(1 | {name})" for name in random)])
        command = ["Rscript", str(script), str(data), formula, str(times)]
        ran = subprocess.run(command, capture_output=True, text=True, check=False)
    found = re.search(r"seconds (\S+) criterion (\S+)", ran.stdout)
    return (float(found[1]), float(found[2])) if found else "not installed"


def peer_cell(peer: tuple[float, float] | str, own: float, criterion: float, target: float | None) -> str:
    if isinstance(peer, str):
        return peer
    took, other = peer
    times = took / own
    verdict = "" if target is None else f", target {target:g}: {'kept' if times >= target else 'missed'}"
    return f"{1e3 * took:.4g} ms, {times:.3g} times ours{verdict}; criterion {other - criterion:+.1g}"


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--write", action="store_true")
    write = options.parse_args().write
    load = os.getloadavg()[0]
    lines = [
        "| data | core, ms | Python call, ms | with profile intervals, ms | target, ms | statsmodels | lme4 |",
        "|---|---|---|---|---|---|---|",
    ]
    rows: list[tuple[str, dict[str, Any], list[str], list[str], float | None, bool, float | None, float | None]] = [
        ("gauge study: part, person, both; 85 readings", study(), ["part", "person", "both"], [], 2.0, True, None, None),
        ("shop: day, unit, unit x place, painter, gun; place fixed", shop(), ["day", "unit", "spot", "painter", "gun"], ["place"],
         200.0, False, None, None),
        ("crossed 40 x 10, 2,000 readings", crossed(2000, 40, 10), ["part", "person"], [], None, True, 50.0, None),
        ("crossed 200 x 20, 100,000 readings", crossed(100_000, 200, 20), ["part", "person"], [], 2000.0, False, None, 5.0),
    ]  # fmt: skip
    for name, table, random, fixed, target, small, over_statsmodels, over_lme4 in rows:
        core, whole, profiled, found = ours(table, random, fixed, 11)
        first = statsmodels_seconds(table, random) if small else "not asked"
        second = lme4_seconds(table, random, fixed, 5)
        kept = "" if target is None else f"{target:g}, {'kept' if 1e3 * profiled <= target else 'missed'}"
        cells = [
            f"{name} ({table['film'].size:,})" if "readings" not in name else name,
            f"{1e3 * core:.3g}",
            f"{1e3 * whole:.3g}",
            f"{1e3 * profiled:.3g}",
            kept,
            peer_cell(first, whole, found.criterion, over_statsmodels),
            peer_cell(second, whole, found.criterion, over_lme4),
        ]
        lines.append(f"| {' | '.join(cells)} |")
        print(lines[-1], flush=True)
    text = "\n".join(lines)
    text = f"{START}\n\nLoad average at the start {load:.1f}; medians of 11 calls (lme4 5, statsmodels 1).\n\n{text}\n\n{END}"
    if write:
        page = TOP / "DEVELOPERS.md"
        whole_text = page.read_text(encoding="utf-8")
        before, _, rest = whole_text.partition(START)
        page.write_text(before + text + rest.partition(END)[2], encoding="utf-8")


if __name__ == "__main__":
    main()
