"""The page and the JSON of a review: complete, self-contained, harmless, and the same bytes for the same inputs."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from datetime import datetime
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.reports import write_review
from steadyfilm.reports.page import RUN_END, RUN_START
from steadyfilm.reports.review import review_html, review_json

from helpers import DATASETS, ONE_LAYER, load_dataset, shop

WHEN = datetime(2031, 5, 4, 21, 30)
VOID = {"meta", "br", "img", "link", "hr", "input"}


class Page(HTMLParser):
    """Elements in order, and whether every one that opens also closes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.fixture(scope="module")
def review() -> sf.Review:
    return sf.review_readings(shop(step=0.2), sf.read_plan(ONE_LAYER))


@pytest.fixture(scope="module")
def text(review: sf.Review) -> str:
    return review_html(review, when=WHEN)


def test_the_page_is_well_formed_with_a_language_and_headings_in_order(text: str) -> None:
    page = Page(text)
    assert page.open == []
    assert page.all("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_the_answer_comes_first(text: str, review: sf.Review) -> None:
    first = text[text.index("<main>") :][:1500]
    assert "Not stable" in first
    assert "The line is not stable: film rose by" in first
    order = [
        "Three answers, kept apart",
        "What moved",
        "Layer by layer",
        "Signals",
        "Usual differences",
        "How it was done",
        "Before anybody acts",
    ]
    places = [text.index(words) for words in order]
    assert places == sorted(places)
    for line in review.verdict:
        assert line.partition("'")[0] in " ".join(Page(text).words)


def test_the_page_needs_nothing_else_and_runs_nothing(text: str) -> None:
    page = Page(text)
    assert not page.all("script")
    assert not page.all("link")
    for _, attributes in page.elements:
        assert not [name for name in attributes if name.startswith("on")]
        for name in ("src", "href", "xlink:href"):
            assert (attributes.get(name) or "#").startswith("#")
    assert not re.search(r"@import|url\((?!['\"]?#)", text)


def test_pictures_have_words_and_a_table_with_headings(text: str) -> None:
    page = Page(text)
    pictures = page.all("svg")
    assert len(pictures) == 4  # two guns, a histogram, and the streams side by side
    for picture in pictures:
        assert picture["role"] == "img"
        labels = (picture["aria-labelledby"] or "").split()
        assert all(f'id="{label}"' in text for label in labels)
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert text.count("<figure>") == text.count("</table>\n\n</details>\n</figure>") == 4
    assert {x["scope"] for x in page.all("th")} == {"col", "row"}
    for found in re.findall(r"<svg.*?</svg>", text, re.DOTALL):
        ET.fromstring(found)


def test_each_chart_says_its_own_false_alarms_and_where_its_limits_come_from(text: str, review: sf.Review) -> None:
    words = " ".join(Page(text).words)
    for chart in review.layers[0].charts:
        assert f"{chart.expected_episodes:.1f} signals on average" in words
    assert "Limits from 120 baseline units, held fixed." in words


def test_safety_is_said_and_nothing_is_permitted(text: str) -> None:
    words = re.sub(r"\s+", " ", " ".join(Page(text).words))
    for said in (
        "do not replace the paint maker's technical and safety data sheets",
        "local law and fire code",
        "licensed professionals",
        "permission to operate a line, to spray, to enter a booth or an oven, or to ship",
        "Isocyanates.",
        "Solvent.",
        "Oven.",
        "never lower an exhaust",
    ):
        assert said in words


def test_the_run_stands_in_one_block_outside_the_digest(review: sf.Review, text: str) -> None:
    later = review_html(review, when=datetime(2032, 1, 1))

    def rest(page: str) -> str:
        return page[: page.index(RUN_START)] + page[page.index(RUN_END) + len(RUN_END) :]

    assert text != later
    assert rest(text) == rest(later)
    assert "2031-05" not in rest(text)
    block = text[text.index(RUN_START) : text.index(RUN_END)]
    digest = re.search(r"<code>([0-9a-f]{64})</code>", block)
    assert digest is not None
    page = text[: text.index(RUN_START)] + RUN_START + RUN_END + text[text.index(RUN_END) + len(RUN_END) :]
    assert digest.group(1) == hashlib.sha256(page.encode()).hexdigest()


def test_json_holds_all_numbers_and_its_digest(review: sf.Review) -> None:
    whole = json.loads(review_json(review, when=WHEN), parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    content = json.dumps(whole["review"], ensure_ascii=False, sort_keys=True)
    assert whole["sha256_of_review"] == hashlib.sha256(content.encode()).hexdigest()
    assert whole["run"] == {"finished": "2031-05-04T21:30:00"}
    assert whole["review"]["findings"][0]["size"] == pytest.approx(review.findings[0].size, rel=1e-9)
    assert whole["review"]["verdict"] == list(review.verdict)
    assert sf.Review.from_dict(whole["review"]).verdict == review.verdict


HOSTILE = ["<script>alert(1)</script>", '"><img src=x onerror=1>', "&amp;{{7*7}}", "a' b", "$x_1$", "\u202eright to left"]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_come_out_as_text(name: str) -> None:
    table: dict[str, list[Any]] = shop(step=0.2)
    table["unit"] = [unit + name for unit in table["unit"]]
    table["gun"] = [name if gun == "A" else gun for gun in table["gun"]]
    table["<b>crew"] = table["gun"]
    table["layer"] = [name] * len(table["gun"])
    quoted = json.dumps(name, ensure_ascii=False)
    plan = sf.read_plan(
        ONE_LAYER.replace('name = "film"', f"name = {quoted}").replace('value = "film"', 'value = "film"\nlayer = "layer"')
    ).model_copy(update={"title": name, "candidates": ("<b>crew",)})
    page = review_html(sf.review_readings(table, plan), when=WHEN)
    plain = Page(page)
    assert plain.open == []
    assert not plain.all("script")
    assert not plain.all("img")
    assert not plain.all("b")
    assert name.replace("\u202e", "<U+202E>") in "".join(plain.words)
    assert "49" not in re.findall(r"<title>.*?</title>", page)[0]
    for found in re.findall(r"<svg.*?</svg>", page, re.DOTALL):
        ET.fromstring(found)


def test_two_processes_and_thread_counts_write_the_same_bytes(tmp_path: Path) -> None:
    data = load_dataset(load_dataset().DEMO)
    data.write_demo(tmp_path, 5)
    (tmp_path / "plan.toml").write_bytes((DATASETS / load_dataset().DEMO / "plan.toml").read_bytes())
    code = (
        "import sys; from datetime import datetime; from steadyfilm.plan import load_plan\n"
        "from steadyfilm.review import review_files; from steadyfilm.reports import write_review\n"
        "found = review_files(sys.argv[1] + '/demo/readings.csv', load_plan(sys.argv[1] + '/plan.toml'))\n"
        "write_review(found, sys.argv[2], when=datetime(2026, 5, 4))"
    )
    for threads in ("1", "2"):
        path = str(Path(sf.__file__).parents[1])
        environment = {**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": threads, "PYTHONHASHSEED": threads}
        subprocess.run([sys.executable, "-c", code, str(tmp_path), str(tmp_path / threads)], env=environment, check=True)
    for name in ("review.html", "review.json"):
        assert (tmp_path / "1" / name).read_bytes() == (tmp_path / "2" / name).read_bytes()


def test_files_go_where_they_are_wanted(tmp_path: Path, review: sf.Review) -> None:
    written = write_review(review, tmp_path / "a" / "b", when=WHEN)
    assert written.html == tmp_path / "a" / "b" / "review.html"
    assert written.html.read_text(encoding="utf-8") == review_html(review, when=WHEN)
    assert json.loads(written.numbers.read_text(encoding="utf-8"))["review"]


def test_a_review_without_charts_or_windows_has_a_page_too() -> None:
    plan = sf.read_plan('columns = {unit = "u", value = "x"}\nmeasure = {unit = "unstated"}\nlayers = [{name = "film"}]')
    page = review_html(sf.review_readings({"u": ["a", "b"], "x": [1.0, 1.5]}, plan), when=WHEN)
    assert "Stability not judged" in page
    assert "too few units to set limits from" in page
    assert Page(page).open == []


def _measured_again() -> sf.Review:
    """A lower limit alone; U3's first attempt keeps it, its last one, which counts, does not."""
    plan = sf.read_plan(
        """
        adjust = []
        [columns]
        unit = "unit"
        value = "film"
        attempt = "attempt"
        [measure]
        unit = "um"
        [[layers]]
        name = "clear"
        lower = 42
        miss = "rework"
        """
    )
    units, film = ["U1", "U2", "U3", "U3", "U4"], [44.0, 41.0, 45.0, 41.996, 43.0]
    return sf.review_readings({"unit": units, "film": film, "attempt": [1, 1, 1, 2, 1]}, plan)


def test_units_to_rework_are_listed_with_the_average_that_was_judged() -> None:
    found = _measured_again()
    conformance = found.layers[0].conformance
    assert conformance is not None
    judged = dict(zip(conformance.units, conformance.average, strict=True))
    assert [(unit, judged[unit]) for unit in conformance.below] == [("U2", 41.0), ("U3", 41.996)]
    words = "|".join(word.strip() for word in Page(review_html(found, when=WHEN)).words if word.strip())
    # 41.996 has one digit more than the others, since 42.00 would not miss the limit.
    assert "unit|what misses|average, last attempt (um)|U2|below|41|U3|below|41.996|" in words


def test_a_window_with_one_limit_is_told_as_one() -> None:
    found = _measured_again()
    passed = "first pass 75.0 % (3 of 4), measured again 25.0 % (1 of 4)"
    assert f"2 units to rework, clear below 42 um: U2, U3 below (50.0 % of 4); {passed}." in found.verdict


def test_a_review_without_baseline_says_where_its_limits_come_from() -> None:
    plan = sf.read_plan(ONE_LAYER.partition("[baseline]")[0])
    found = sf.review_readings(shop(), plan)
    assert not found.has_baseline
    assert "these same units" in found.explain().choices["sigma"]
    page = " ".join(Page(review_html(found, when=WHEN)).words)
    assert "Without a baseline, limits lie at a multiple of the mean moving range of these same units" in page
    assert "baseline unit averages" not in page


def test_all_places_and_the_parts_of_the_variation_are_shown_and_a_place_left_out_is_named() -> None:
    rng = np.random.default_rng(5)
    rows = [(f"U{k:02d}", place, 2.1 + 0.02 * k % 0.1 + rng.normal(0, 0.05)) for k in range(30) for place in "abc"]
    rows += [("U00", "rare", 2.1)]
    table = {"serial": [x[0] for x in rows], "spot": [x[1] for x in rows], "film": [x[2] for x in rows]}
    plan = sf.read_plan(
        'columns = {unit = "serial", value = "film", location = "spot"}\nmeasure = {unit = "mil"}\n'
        'layers = [{name = "film", lower = 2.0, upper = 2.3}]'
    )
    page = review_html(sf.review_readings(table, plan), when=WHEN)
    words = " ".join(Page(page).words)
    assert "30 units with 3 places: means by place from" in words
    assert "Means by place (mil), last attempt; not read on every unit and left out: rare" in words
    assert "Standard deviations of means by place (mil)" in words
