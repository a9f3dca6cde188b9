"""Time of the demonstration month, from its files to the finished report, with everything imported and one run done before.

python cpp/bench/demo_month.py [--runs N] [--profile]
"""

from __future__ import annotations

import argparse
import cProfile
import os
import pstats
import statistics
import tempfile
import time
import warnings
from pathlib import Path

import steadyfilm as sf
from steadyfilm import _core
from steadyfilm.cli._demo import write_demo_files
from steadyfilm.reports import write_review


def job(readings: Path, plan_file: Path, out: Path) -> tuple[float, float, float]:
    """Seconds of reading and judging, and of writing the report; and the processor's time for both."""
    start, busy = time.perf_counter(), time.process_time()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", sf.SteadyfilmWarning)  # the report says what they say
        found = sf.review_files(readings, sf.load_plan(plan_file))
    judged = time.perf_counter()
    write_review(found, out)
    return judged - start, time.perf_counter() - judged, time.process_time() - busy


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--profile", action="store_true", help="say where the time goes instead")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        readings, plan = write_demo_files(Path(folder) / "data", 1)
        rows = sum(1 for _ in readings.open("rb")) - 1
        out = Path(folder) / "report"
        job(readings, plan, out)
        if args.profile:
            profile = cProfile.Profile(time.process_time)
            profile.runcall(job, readings, plan, out)
            pstats.Stats(profile).sort_stats("cumulative").print_stats(60)
            return
        times = [job(readings, plan, out) for _ in range(args.runs)]
        sizes = {path.suffix: path.stat().st_size for path in sorted(out.iterdir())}
    judged, written, busy = (statistics.median(column) for column in zip(*times, strict=True))
    total = [first + second for first, second, _ in times]
    print(f"{rows:,} readings; load average {os.getloadavg()[0]:.1f}; instruction set {_core.instruction_set()}")
    print(f"files to verdict     {judged:7.3f} s")
    print(f"verdict to report    {written:7.3f} s   " + ", ".join(f"{kind} {size / 1e3:.0f} kB" for kind, size in sizes.items()))
    print(f"files to report      {statistics.median(total):7.3f} s   ({min(total):.3f} to {max(total):.3f} in {len(total)} runs)")
    print(f"  of which computing {busy:7.3f} s   (processor time, whatever else runs)")


if __name__ == "__main__":
    main()
