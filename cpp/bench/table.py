"""Run the benchmarks several times and make the table of DEVELOPERS.md, section Speed.

    cpp/bench/run --table [--rounds N] [--write] [--readings N] [--threads N]

A figure is the median of the rounds, with the lowest and the highest behind it: how far to trust it on this machine. With
--write the table replaces the one in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import textwrap
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
START, END = "<!-- speed: written by cpp/bench/run --table --write -->", "<!-- speed: end -->"
LINE = re.compile(r"^(?P<call>\S.{50}\S|\S.*?) +[\d.]+ +[\d.]+ +(?P<ratio>[\d.]+) +[\d.]+-[\d.]+ *(?P<target>[\d.]+)?$")
FACT = re.compile(r"^(cache level \d|instruction set|threads|load before) +(.+)$")
PROGRAMS = ("read", "bench_chart_subgroup", "bench_run_rules", "bench_chart_ewma")


@dataclass
class Measured:
    """Ratios of each call in the order of their first line, one a round, and what the programs say of the machine."""

    ratios: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    targets: dict[str, float] = field(default_factory=dict)
    facts: dict[str, str] = field(default_factory=dict)
    loads: list[float] = field(default_factory=list)

    def run(self, command: list[str], isa: str = "") -> None:
        """One run of one program; its lines are shown as they are."""
        environment = {**os.environ, "STEADYFILM_ISA": isa}
        shown = subprocess.run(command, check=True, capture_output=True, text=True, env=environment).stdout
        print(shown, flush=True)
        for line in shown.splitlines():
            if fact := FACT.match(line):
                self.facts[fact[1]] = fact[2].strip()
                if fact[1] == "load before":
                    self.loads.append(float(fact[2].split()[0]))
            if found := LINE.match(line):
                self.ratios[found["call"]].append(float(found["ratio"]))
                if found["target"]:
                    self.targets[found["call"]] = float(found["target"])

    def cell(self, call: str, digits: int) -> str:
        """Median, and the range of the rounds."""
        ratios = self.ratios.get(call)
        if not ratios:
            return ""
        middle = f"{statistics.median(ratios):.{digits}f}"
        return middle if len(ratios) == 1 else f"{middle} ({min(ratios):.{digits}f} to {max(ratios):.{digits}f})"

    def verdict(self, call: str, *, most: bool) -> str:
        """The target, and whether the median keeps it."""
        if call not in self.targets:
            return ""
        target, found = self.targets[call], statistics.median(self.ratios[call])
        kept = found <= target if most else found >= target
        return f"{target:g}, {'kept' if kept else 'missed'}"


def table(best: Measured, others: dict[str, Measured], peer: Measured, command: str, readings: int) -> str:
    """The part of DEVELOPERS.md between the marks."""
    facts = best.facts
    caches = ", ".join(f"level {level} {size}" for level, size in sorted((k[-1], v) for k, v in facts.items() if "cache" in k))
    load = f"{min(best.loads):.1f} to {max(best.loads):.1f}"
    made = (
        f"`{command}`: {readings:,} readings ({readings * 8 // 10**6} MB), {facts['threads']} threads, instruction set "
        f"{facts['instruction set']}, caches {caches}; load average {load}, our own threads among it. Each figure is the "
        "median of the rounds, a round the median of pairs measured by turns; in brackets the lowest and the highest round."
    )
    lines = [
        textwrap.fill(made, width=150, break_on_hyphens=False),
        "",
        "| " + " | ".join(["call, in times of one read", facts["instruction set"], "target, at most", *others]) + " |",
        "|---" * (3 + len(others)) + "|",
    ]
    for call in best.ratios:
        cells = [call, best.cell(call, 2), best.verdict(call, most=True), *(other.cell(call, 2) for other in others.values())]
        lines.append("| " + " | ".join(cells) + " |")
    lines += ["", "| against NumPy written by | times faster | target, at least |", "|---|---|---|"]
    for call in peer.ratios:
        lines.append(f"| {call} | {peer.cell(call, 1)} | {peer.verdict(call, most=False)} |")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--readings", type=int, default=80_000_000)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--programs", type=Path, required=True, help="folder of the built benchmarks; cpp/bench/run gives it")
    args = parser.parse_args()
    size = ["--readings", str(args.readings), "--threads", str(args.threads)]

    best, peer = Measured(), Measured()
    others = {isa: Measured() for isa in ("v3", "baseline")}
    for _ in range(args.rounds):
        for name in PROGRAMS:
            best.run([str(args.programs / name), *size])
        for isa, other in others.items():
            other.run([str(args.programs / "bench_chart_subgroup"), *size], isa)
        peer.run([sys.executable, str(Path(__file__).with_name("peer.py")), *size])
    text = table(best, others, peer, f"cpp/bench/run --table --rounds {args.rounds}", args.readings)
    print(text)
    if args.write:
        page = TOP / "DEVELOPERS.md"
        before, rest = page.read_text(encoding="utf-8").split(START)
        page.write_text(f"{before}{START}\n\n{text}\n\n{END}{rest.split(END)[1]}", encoding="utf-8")


if __name__ == "__main__":
    main()
