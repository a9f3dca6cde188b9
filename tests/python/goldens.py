"""Texts that the package writes, to be compared with those in tests/golden; run as a script it writes them anew.

See tests/golden/README.md before doing that.
"""

from __future__ import annotations

import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

import steadyfilm as sf
from gauge_shop import full_study
from steadyfilm._files import cells_from_bytes
from steadyfilm.measurability import judge_gauge_cells
from steadyfilm.plots.gauge_rr import plot_appraisers, plot_deviations, plot_gauge_components
from steadyfilm.plots.gauge_windows import plot_accept_curves, plot_guard_bands
from steadyfilm.reports.cure import cure_html
from steadyfilm.reports.gauge import gauge_html
from steadyfilm.reports.page import RUN_END, RUN_START
from steadyfilm.reports.review import review_html
from steadyfilm.reports.wash import wash_html

from helpers import DATASETS, REPOSITORY

GOLDEN = REPOSITORY / "tests" / "golden"
TINY = GOLDEN / "tiny_month"
CURE = GOLDEN / "cure"
WASH = GOLDEN / "wash"
WHEN = datetime(2031, 6, 2, 21, 30)
MOST_ROWS = 15
SHOWN_ROWS = 3


def golden_texts() -> dict[str, str]:
    """Path below tests/golden and what belongs there."""
    tiny = tiny_review()
    oxide_plan = sf.load_plan(DATASETS / "oxide_thickness" / "plan.toml")
    oxide = sf.review_files(DATASETS / "oxide_thickness" / "data.csv", oxide_plan)
    study = full_gauge_study()
    bakes = tiny_bakes()
    washer = tiny_washer()
    return {
        "gauge/verdict.txt": _gauge_words(study),
        "gauge/page.html": _page(gauge_html(study, when=WHEN)),
        "gauge/figures.json": _described(_gauge_pictures(study)),
        "cure/verdict.txt": "\n".join([*bakes.verdict, "", str(bakes.explain()), ""]),
        "cure/page.html": _page(cure_html(bakes, when=WHEN)),
        "tiny_month/verdict.txt": _words(tiny),
        "tiny_month/page.html": _page(review_html(tiny, when=WHEN)),
        "tiny_month/figures.json": _figures(tiny),
        "oxide/verdict.txt": _words(oxide),
        "oxide/page.html": _page(review_html(oxide, when=WHEN)),
        "wash/verdict.txt": _wash_words(washer),
        "wash/page.html": _page(wash_html(washer, when=WHEN)),
    }


def tiny_review() -> sf.Review:
    """The review of the invented month that lies beside its goldens."""
    return sf.review_files(TINY / "readings.csv", sf.load_plan(TINY / "plan.toml"))


def full_gauge_study() -> sf.Measurability:
    """The full gauge study of the reference data against three windows."""
    windows = [
        sf.StudyWindow("topcoat", sf.SpecLimits(2.0, 2.2), difference=True),
        sf.StudyWindow("total", sf.SpecLimits(3.0, 3.5)),
        sf.StudyWindow("least", sf.SpecLimits(lower=2.5)),
    ]
    return judge_gauge_cells(cells_from_bytes(full_study().encode(), name="study.csv"), windows, unit="mil", title="Panels")


def _gauge_words(study: sf.Measurability) -> str:
    """The verdict, then what to do and the notes, then how it was made."""
    made = re.sub(r"-?\d+\.\d{6,}", lambda found: f"{float(found.group()):.6g}", str(study.explain()))
    return "\n".join([*study.verdict, "", *study.studies[0].steps, "", *study.notes, "", made, ""])


def _gauge_pictures(study: sf.Measurability) -> dict[str, Any]:
    judged = study.studies[0]
    window = sf.SpecLimits(3.0, 3.5)
    return {
        "shares": study.plot(),
        "deviations": plot_deviations(judged.study, window),
        "appraisers": plot_appraisers(judged.study, window),
        "components": plot_gauge_components(judged.study, window),
        "guards": plot_guard_bands(judged.windows[1], unit="mil"),
        "curves": plot_accept_curves(judged.windows[1], unit="mil"),
    }


def tiny_bakes() -> sf.BakeReview:
    """The three invented bakes that lie beside their goldens: one sound, one with a gap, one cut short."""
    columns = sf.LogColumns(time=None, minutes="minutes")
    options = sf.CureOptions(columns, unit="C", air=("duct",), tolerance_k=2.2)
    return sf.review_bake_files(CURE / "log.csv", CURE / "recipes.csv", options=options)


def tiny_washer() -> sf.WashReview:
    """The three invented weeks of two baths that lie beside their goldens."""
    return sf.review_wash_files(WASH / "plan.toml")


def _wash_words(review: sf.WashReview) -> str:
    """The verdict, then the notes, then how it was made."""
    made = re.sub(r"-?\d+\.\d{6,}", lambda found: f"{float(found.group()):.6g}", str(review.explain()))
    return "\n".join([*review.verdict, "", *review.notes, "", made, ""])


def _words(review: sf.Review) -> str:
    """The verdict, then every finding, then how it was made."""
    made = re.sub(r"-?\d+\.\d{6,}", lambda found: f"{float(found.group()):.6g}", str(review.explain()))
    return "\n".join([*review.verdict, "", *(finding.sentence for finding in review.findings), "", made, ""])


def _page(page: str) -> str:
    """The page with figures reduced to their words, long tables to their first rows, and without the block of the run."""
    page = page[: page.index(RUN_START)] + page[page.index(RUN_END) + len(RUN_END) :]
    page = re.sub(r"<svg.*?</svg>", lambda found: _figure_words(found.group()), page, flags=re.DOTALL)
    page = re.sub(r"<style>.*?</style>", "<style></style>", page, flags=re.DOTALL)
    return re.sub(r"<tbody>.*?</tbody>", lambda found: _first_rows(found.group()), page, flags=re.DOTALL)


def _figure_words(svg: str) -> str:
    """Title and description, as a screen reader says them, without the names that follow from the drawn numbers."""
    words = [re.search(rf"<{tag}[^>]*>.*?</{tag}>", svg, flags=re.DOTALL) for tag in ("title", "desc")]
    plain = [re.sub(r' id="[^"]*"', "", found.group()) for found in words if found]
    return "\n".join(["<svg>", *plain, "</svg>"])


def _first_rows(body: str) -> str:
    rows = re.findall(r"<tr.*?</tr>", body, flags=re.DOTALL)
    if len(rows) <= MOST_ROWS:
        return body
    return "\n".join(["<tbody>", *rows[:SHOWN_ROWS], f"<!-- {len(rows)} rows in all -->", "</tbody>"])


def _figures(review: sf.Review) -> str:
    """Words, axes, artists and numbers of the charts of one stream of unit averages."""
    layer = review.layers[0]
    values = layer.average[layer.stream == "left"]
    drawn = {
        "individuals": sf.individuals_chart(values, unit="mil", rules=sf.WESTERN_ELECTRIC).plot(),
        "ewma": sf.ewma_chart(values, unit="mil").plot(),
        "capability": sf.capability(values, unit="mil", lower=2.0, upper=2.3).plot(),
    }
    return _described(drawn)


def _described(drawn: dict[str, Any]) -> str:
    described = {name: _rounded(picture.description()) for name, picture in drawn.items()}
    for content in described.values():
        # Curves have hundreds of points; their ends and middle are enough to see that they are the same.
        for name, numbers in content["data"].items():
            if len(numbers) > 60:
                content["data"][name] = [numbers[0], numbers[len(numbers) // 2], numbers[-1]]
    text = json.dumps(described, indent=1)
    # One list of numbers on one line.
    return re.sub(r"\[[^\[\]{}]*\]", lambda found: re.sub(r"\s+", " ", found.group()), text) + "\n"


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _rounded(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return float(f"{value:.6g}") if isinstance(value, float | np.floating) else value


def write(folder: Path = GOLDEN) -> None:
    """Write every golden text anew."""
    for name, text in golden_texts().items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write()
