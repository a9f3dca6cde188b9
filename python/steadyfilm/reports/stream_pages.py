"""Small multiples of a review's streams: what each did against the others, the quiet ones on one scale."""

from __future__ import annotations

import math
import warnings
from datetime import timedelta

import numpy as np

from steadyfilm._format import plural
from steadyfilm._review.verdict import names_of
from steadyfilm.errors import SteadyfilmWarning
from steadyfilm.plots.streams import COLUMNS, LARGE, ROWS, plot_streams
from steadyfilm.reports.figures import Figure, Table, concerns, figure_of, short_size
from steadyfilm.review import LayerReview, Review
from steadyfilm.streams import StreamsChart, streams

__all__ = ["stream_figures"]

FEWEST_DAYS = 8
"""Working days that each stream needs to be compared with others."""
MOST_PAGES = 4
"""Further pages would hold more panels than a reader of a report looks through; the table has every stream."""
FALSE_ALARM = 0.01


def stream_figures(review: Review, layer: LayerReview) -> tuple[Figure, ...]:
    """The pages of a layer's streams; none with fewer than two streams that have limits and enough days."""
    found = _compared(review, layer)
    if found is None:
        return ()
    named = _named(review, layer)
    names = [found.name(s) for s in range(found.stream_count)]
    loud = [name for name, state in zip(names, found.state, strict=True) if name in named or state in ("moved", "single point")]
    pages = max(1, math.ceil(len(loud) / LARGE), math.ceil((len(names) - len(loud)) / (COLUMNS * ROWS)))
    shown = min(pages, MOST_PAGES)
    pictures = []
    for page in range(1, shown + 1):
        drawn = plot_streams(
            found,
            quantity=f"{layer.name} of a stream less that of the others",
            page=page,
            judged=False,
            named=named,
            title=_title(layer, names, loud),
        )
        pictures.append(figure_of(drawn, _table(found, layer, named, pages, shown)))
    return tuple(pictures)


def _compared(review: Review, layer: LayerReview) -> StreamsChart | None:
    """Daily means of each stream against those of the others; without times nothing says what belongs together."""
    if layer.time is None:
        return None
    days = layer.time.astype("datetime64[D]")
    own = [chart for chart in layer.charts if math.isfinite(chart.lines.center)]
    own = [chart for chart in own if len(np.unique(days[chart.at])) >= FEWEST_DAYS]
    if len(own) < 2:
        return None
    table = {
        "film": np.concatenate([chart.values for chart in own]),
        "stream": np.concatenate([np.full(len(chart.at), chart.stream, dtype=object) for chart in own]),
        "day": np.concatenate([days[chart.at] for chart in own]),
    }
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SteadyfilmWarning)  # streams that do not vary: their charts say it
        return streams(
            table,
            "film",
            unit=review.made.unit,
            stream="stream",
            time="day",
            every=timedelta(days=1),
            false_alarm=FALSE_ALARM,
            fewest_points=FEWEST_DAYS,
        )


def _title(layer: LayerReview, names: list[str], loud: list[str]) -> str:
    """How many streams are quiet, and which are not."""
    name = layer.name[0].upper() + layer.name[1:]
    quiet = len(names) - len(loud)
    text = f"{name}, streams day by day against one another: {quiet} of {len(names)} without a signal or a change of their own"
    return f"{text}; {names_of(loud)} with one." if loud and quiet else f"{text}."


def _named(review: Review, layer: LayerReview) -> dict[str, str]:
    """Streams of which the review tells a change of their own, or signals, with the words for it."""
    found: dict[str, str] = {}
    for chart in layer.charts:
        if chart.signals:
            found[chart.stream] = plural(len(chart.signals), "signal")
    for finding in review.findings:
        concerned = [chart.stream for chart in layer.charts if finding.layer == layer.name and concerns(finding, chart)]
        if len(concerned) < len(layer.charts):
            for stream in concerned:
                found[stream] = f"{short_size(finding, review.made.unit)} from {finding.first_unit}"
    return found


def _table(found: StreamsChart, layer: LayerReview, named: dict[str, str], pages: int, shown: int) -> Table:
    unit = f" ({found.made.unit})" if found.made.unit else ""
    rows = tuple(
        (
            found.name(s),
            named.get(found.name(s), "" if found.state[s] == "quiet" else str(found.state[s])),
            str(int(found.count[s])),
            "" if math.isnan(found.change[s]) else f"{found.change[s]:+.3g}",
            "" if math.isnan(found.sigma_difference[s]) else f"{found.sigma_difference[s]:.3g}",
        )
        for s in range(found.stream_count)
    )
    left = "" if shown == pages else f"; {plural(pages - shown, 'further page')} left out"
    caption = f"Streams of {layer.name}, a point a day{left}"
    return Table(caption, ("stream", "state", "days", f"step{unit}", f"sigma of a difference{unit}"), rows)
