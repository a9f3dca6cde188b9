"""Two hundred quiet months of the invented shop, each judged by limits from its own baseline month.

What the charts of a review show is set beside what they state: for the lines that keep the plan's alarm budget, for limits at 3
sigma and for the four zone tests. The findings of the review are counted, for in a quiet month each of them is false.

    python tests/bench/quiet_months.py             # all months, writes the two tables beside this file
    python tests/bench/quiet_months.py 7 8         # months of these seeds, prints what they show

Every month has batches of its own, normal with the standard deviation of the offsets that the invented shop lists. Those are one
month's offsets; opened again on the same days of every month they would be no in-control process: `quiet_model.py` shows what
that does. To keep the table's cost within reason each figure is simulated to 4 %; the mean of 200 is known to about 0.3 %.
"""

from __future__ import annotations

import csv
import importlib.util
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf
from steadyfilm._files import Cells, cells_from_bytes
from steadyfilm._review import alarms
from steadyfilm._review.averages import unit_averages, without_copies
from steadyfilm._review.gather import gather
from steadyfilm._review.options import LineRules, options_of
from steadyfilm._review.study import Studied, study_layer
from steadyfilm.review import SEED

HERE = Path(__file__).parent
SEEDS = range(1, 201)
CHARTS, MONTHS = HERE / "quiet_months_charts.csv", HERE / "quiet_months.csv"
RELATIVE_ERROR = 0.04
"""Of each stated figure."""
ZONES = LineRules(points=sf.WESTERN_ELECTRIC)
"""Their lines stay at whole sigma."""


@dataclass(frozen=True)
class Chart:
    """One stream's location and spread chart in one month: what it shows and what it states."""

    seed: int
    rules: str
    """``budget``, ``3 sigma`` or ``zones``."""
    sigma_multiple: float
    layer: str
    stream: str
    units: int
    episodes: int
    expected: float
    standard_error: float
    most_expected: int
    independent: float


@dataclass(frozen=True)
class Month:
    """What the review says of one quiet month."""

    seed: int
    sigma_multiple: float
    false_calls: int
    expected: float
    findings: int
    uneven: int
    names_a_cause: int
    """Whether a gun, batch, painter or gauge is named: streams of a change, its record, the gauge, or whose units are uneven."""
    stable: int


def demo() -> Any:
    """The repository's invented shop."""
    name = "quiet_months_datasets"
    if name not in sys.modules:
        folder = HERE.parents[1] / "datasets"
        spec = importlib.util.spec_from_file_location(name, folder / "__init__.py", submodule_search_locations=[str(folder)])
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return importlib.import_module(f"{name}.{sys.modules[name].DEMO}")


def with_own_batches(scenario: Any, random: np.random.Generator) -> Any:
    """The shop with batch offsets of one month's own."""
    layers = []
    for layer in scenario.layers:
        spread = float(np.std([batch.offset for batch in layer.batches], ddof=1))
        batches = tuple(replace(batch, offset=float(random.normal(0.0, spread))) for batch in layer.batches)
        layers.append(replace(layer, batches=batches))
    return replace(scenario, layers=tuple(layers))


def quiet_month(seed: int, *, own_batches: bool = True) -> tuple[Month, list[Chart]]:
    """Simulate and review one month; without batches of its own it is the shop's month as listed."""
    shop = demo()
    plan = sf.load_plan(Path(shop.__file__).parent / "plan.toml")
    plan = plan.model_copy(update={"layers": tuple(layer for layer in plan.layers if layer.chart)})
    random = np.random.default_rng([seed, 2])
    # Film readings alone: the other files have random numbers of their own.
    film = replace(shop.SHOP, oven=None, washer=None, panels=None, output=None, studies=(), events=())
    scenarios = [with_own_batches(film, random) if own_batches else film for _ in range(2)]
    baseline, quiet = (
        shop.simulate(name, seed=seed, scenario=scenario) for name, scenario in zip(("baseline", "quiet"), scenarios, strict=True)
    )

    def cells(table: Any) -> Cells:
        return cells_from_bytes(shop.to_csv(table, shop.SHOP.style), name="readings.csv")

    readings, base = cells(quiet.readings), cells(baseline.readings)
    review = sf.review_readings(readings, plan, baseline=base, events=cells(quiet.events), checks=cells(quiet.verification))
    assert review.alarms is not None
    multiple = review.alarms.sigma_multiple
    charts = [_chart(seed, "budget", multiple, layer.name, chart) for layer in review.layers for chart in layer.charts]
    usual, month = (unit_averages(without_copies(gather(x, plan))[0], plan, "first") for x in (base, readings))
    for k, layer in enumerate(plan.layers):
        studied = study_layer(usual[k], month[k], options_of(plan), seed=SEED, direct=layer.minus is None)
        assert isinstance(studied, Studied)
        zones = replace(studied, quiet=studied.quiet.under(ZONES))
        charts += [_chart(seed, "3 sigma", 3.0, layer.name, chart) for chart in studied.charts(3.0)]
        charts += [_chart(seed, "zones", 3.0, layer.name, chart) for chart in zones.charts(3.0)]
    return (
        Month(
            seed=seed,
            sigma_multiple=multiple,
            false_calls=sum(chart.episodes for chart in charts if chart.rules == "budget"),
            expected=round(review.alarms.expected, 4),
            findings=len(review.findings),
            uneven=len(review.uneven),
            names_a_cause=int(_names_a_cause(review)),
            stable=int(review.stable is True),
        ),
        charts,
    )


def _names_a_cause(review: sf.Review) -> bool:
    streams = len(review.layers[0].charts)
    named = [x for x in review.findings if len(x.streams) < streams or x.cause or x.ended_by or x.kind != "change"]
    return bool(named or review.uneven or review.gauge_faults)


def _chart(seed: int, rules: str, multiple: float, layer: str, chart: Any) -> Chart:
    return Chart(
        seed=seed,
        rules=rules,
        sigma_multiple=multiple,
        layer=layer,
        stream=chart.stream,
        units=len(chart.at),
        episodes=len(chart.signals),
        expected=round(chart.expected_episodes, 4),
        standard_error=round(chart.expected_error, 4),
        most_expected=int(chart.most_expected),
        independent=round(chart.independent_episodes, 4),
    )


def read(path: Path, kind: type[Any]) -> list[Any]:
    """The rows of a written table."""
    types = {field.name: {"int": int, "float": float, "str": str}[str(field.type)] for field in fields(kind)}
    with path.open(encoding="utf-8", newline="") as file:
        return [kind(**{name: types[name](text) for name, text in row.items()}) for row in csv.DictReader(file)]


def write(path: Path, rows: Sequence[Any]) -> None:
    """One table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.DictWriter(file, [field.name for field in fields(rows[0])], lineterminator="\n")
        table.writeheader()
        table.writerows(asdict(row) for row in rows)


def summary(months: Sequence[Month], charts: Sequence[Chart]) -> Iterable[str]:
    """Lines of a table in words."""
    yield "| rules | layer, stream | episodes a month | stated | 4 standard errors | months above the 99 % point | independent |"
    yield "|---|---|---|---|---|---|---|"
    for key in dict.fromkeys((x.rules, x.layer, x.stream) for x in charts):
        own = [x for x in charts if (x.rules, x.layer, x.stream) == key]
        count = len(own)
        mean = sum(x.episodes for x in own) / count
        spread = (sum((x.episodes - mean) ** 2 for x in own) / max(count - 1, 1)) ** 0.5
        stated, alone = sum(x.expected for x in own) / count, sum(x.independent for x in own) / count
        above = sum(x.episodes > x.most_expected for x in own)
        yield (
            f"| {key[0]} | {key[1]}, {key[2]} | {mean:.3f} | {stated:.3f} | {4 * spread / count**0.5:.3f} "
            f"| {above} of {count} | {alone:.3f} |"
        )
    total = len(months)
    yield ""
    yield (
        f"{total} months: {sum(x.false_calls for x in months) / total:.2f} false calls a month at "
        f"{min(x.sigma_multiple for x in months):.2f} to {max(x.sigma_multiple for x in months):.2f} sigma; "
        f"{sum(x.findings + x.uneven > 0 for x in months)} with a finding, {sum(x.names_a_cause for x in months)} with one that "
        f"names a gun, batch, painter or gauge; {sum(x.stable for x in months)} called stable."
    )


def main() -> None:
    """Run the months and write or print."""
    given = [int(word) for word in sys.argv[1:]]
    with ProcessPoolExecutor() as pool:
        found = []
        for one in pool.map(coarse_month, given or list(SEEDS)):
            found.append(one)
            sys.stderr.write(f"month {one[0].seed}\n")
    months, charts = [month for month, _ in found], [chart for _, own in found for chart in own]
    if not given:
        write(MONTHS, months)
        write(CHARTS, charts)
    sys.stdout.write("\n".join(summary(months, charts)) + "\n")


def coarse_month(seed: int) -> tuple[Month, list[Chart]]:
    """A month whose figures are simulated to ``RELATIVE_ERROR``."""
    alarms.RELATIVE_ERROR = RELATIVE_ERROR
    return quiet_month(seed)


if __name__ == "__main__":
    main()
