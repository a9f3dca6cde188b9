"""Pictures: what they say, that they show the numbers they were given, and that nothing in a label can do harm."""

from __future__ import annotations

import gc
import hashlib
import html
import json
import os
import re
import subprocess
import sys
import unicodedata
import weakref
import xml.etree.ElementTree as ElementTree
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.colors import to_hex
from matplotlib.figure import Figure

from steadyfilm.limits import SpecLimits
from steadyfilm.plots import Drawn, style
from steadyfilm.plots._axis import time_ticks
from steadyfilm.plots._labels import spread_apart
from steadyfilm.plots.monitored import Mark, Panel, draw_monitored
from steadyfilm.run_rules import Signal, describe

VALUES = np.array([2.08, 2.11, 2.14, 2.09, 2.41, np.nan, 2.12, 2.06, 2.10, 1.78])
TIME = np.datetime64("2026-05-04T06:00", "us") + np.arange(10) * np.timedelta64(5, "h")


def picture(**more: object) -> Drawn:
    given: dict[str, object] = {
        "unit": "mil",
        "center": 2.1,
        "lower": 1.84,
        "upper": 2.36,
        "sigma": 0.087,
        "signals": [Mark(4, "beyond the limits", "above"), Mark(9, "beyond the limits", "below")],
        "time": TIME,
        "hollow": np.arange(10) == 7,
        "break_before": np.arange(10) == 3,
        "phases": [(0, "baseline"), (6, "under review")],
        "window": SpecLimits(2.0, 2.2),
        "quantity": "film",
        "stream": "steel",
        "title": "2 of 10 units lie outside the limits of 1.84 to 2.36 mil.",
        "caption": "A steady process shows 0.03 such points in 10 units.",
        "below": [Panel(np.full(10, 0.1), 0.1, 0.0, 0.2, label="spread", unit="mil", role="spread")],
    }
    return draw_monitored(VALUES, **{**given, **more})  # type: ignore[arg-type]  # one dictionary for many kinds of argument


def test_title_axes_and_caption_say_verdict_unit_and_false_alarms() -> None:
    drawn = picture()
    said = drawn.description()
    assert said["title"].startswith("2 of 10 units")
    assert said["caption"].endswith("in 10 units.")
    assert said["axes"] == {"values": {"x": "", "y": "film, steel (mil)"}, "spread": {"x": "time, 2026", "y": "spread (mil)"}}
    assert drawn.notes[0] == "film, steel, point 5 (2026-05-05 02:00), 2.41 mil: beyond the limits."
    texts = [text.get_text() for text in drawn.figure.findobj(mpl.text.Text)]
    for words in ("UCL 2.36", "LCL 1.84", "center 2.10", "window from 2.0", "window to 2.2", " under review"):
        assert words.strip() in [text.strip() for text in texts]


def test_numbers_drawn_are_the_numbers_given() -> None:
    drawn = picture()
    np.testing.assert_array_equal(drawn.data["values"], VALUES)
    assert drawn.data["signals"].tolist() == [4, 9]
    assert set(drawn.data["upper"]) == {2.36}
    points = drawn.artists["points"][0].get_ydata()
    ordinary = [0, 1, 2, 3, 6, 8]
    np.testing.assert_array_equal(points, VALUES[ordinary])
    assert drawn.artists["hollow"][0].get_ydata().tolist() == [VALUES[7]]
    assert len(drawn.artists["missing"][0].get_xdata()) == 1


def test_the_line_stops_at_breaks_missing_and_hollow_points() -> None:
    line = picture().artists["thread"][0].get_ydata()
    runs = [list(run) for run in np.split(line, np.flatnonzero(np.isnan(line))) if np.isfinite(run).any()]
    drawn = [[value for value in run if np.isfinite(value)] for run in runs]
    assert drawn == [[2.08, 2.11, 2.14], [2.09, 2.41], [2.12], [2.10, 1.78]]


def test_signals_differ_in_shape_size_and_words_not_in_color_alone() -> None:
    drawn = picture()
    plain_size = drawn.artists["points"][0].get_markersize()
    above, below = drawn.artists["signals"]
    assert (above.get_marker(), below.get_marker()) == ("^", "v")
    assert min(above.get_markersize(), below.get_markersize()) > 2 * plain_size
    assert [text.get_text() for text in drawn.artists["signal_labels"]] == ["beyond the limits", "beyond the limits"]


def test_control_limits_and_window_differ_in_dashes_width_and_color() -> None:
    drawn = picture()
    limit, window, center = drawn.artists["upper"][0], drawn.artists["window_upper"], drawn.artists["center"][0]
    assert len({str(style.DASHES[role]) for role in ("limit", "window", "center")}) == 3
    assert window.get_linewidth() >= 1.8 * limit.get_linewidth()
    assert len({to_hex(line.get_color()) for line in (limit, window)}) == 2
    assert center.get_linestyle() == "-"
    assert limit.get_linestyle() == "--"


HOSTILE = "$\\bad$ <script>alert(1)</script>\x00\x1b[31m \u202eabc\u2066 \ud800 & \"'"


def test_labels_cannot_carry_markup_or_invisible_characters() -> None:
    hostile = picture(
        title=f"Verdict {HOSTILE}",
        caption=HOSTILE,
        quantity=HOSTILE,
        stream=HOSTILE,
        signals=[(4, HOSTILE, "above")],
        phases=[(0, HOSTILE)],
        below=[Panel(np.full(10, 0.1), 0.1, 0.0, 0.2, label=HOSTILE, unit=HOSTILE, names=(HOSTILE, HOSTILE, HOSTILE))],
    )
    text = hostile.svg()
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    assert not re.search("[\x00-\x08\x0b-\x1f\u202a-\u202e\u2066-\u2069\ud800]", text)
    shown = "".join(ElementTree.fromstring(text).itertext())
    assert "$\\bad$" in shown
    hostile.png()


@given(st.text())
def test_plain_text_is_one_line_that_xml_can_hold(text: str) -> None:
    found = style.plain(text)
    assert style.plain(found) == found
    assert "".join(ElementTree.fromstring(f"<a>{html.escape(found)}</a>").itertext()) == found
    assert not any(unicodedata.category(character).startswith("C") for character in found)
    # Every letter is still there, those that no font here has as their numbers.
    spelled, read = (re.sub(r"<U\+([0-9A-F]{4,6})>", lambda x: chr(int(x[1], 16) % 0x110000), part) for part in (found, text))
    assert [letter for letter in read if letter.isalnum()] == [letter for letter in spelled if letter.isalnum()]


def test_svg_can_be_embedded_and_read_aloud() -> None:
    drawn = picture()
    text = drawn.svg()
    root = ElementTree.fromstring(text)
    assert root.get("role") == "img"
    names = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(names) == len(set(names))
    by_name = {element.get("id"): element.text for element in root.iter()}
    spoken = [by_name[name] for name in str(root.get("aria-labelledby")).split()]
    assert spoken[0] == drawn.title
    assert spoken[1] == " ".join((drawn.caption, *drawn.notes))
    inner = "{http://www.w3.org/2000/svg}"
    assert [child.tag for child in root][:2] == [f"{inner}title", f"{inner}desc"]
    assert not re.search(r'(href|src)="(?!#)', text)
    assert all(name in names for name in re.findall(r'(?:href="|url\()#([^")]+)', text))
    # two pictures on one page share no name, and no style rule reaches outside the picture
    other = re.findall(r'\bid="([^"]+)"', picture(title="Another.").svg())
    assert not set(names) & set(other)
    assert re.findall(r"<style[^>]*>([^{]*)\{", text) == [f"#{root.get('id')} *"]


def test_words_of_a_picture_stay_words_in_svg() -> None:
    text = picture().svg("What it shows", "More about it")
    assert ">UCL 2.36</text>" in text
    assert "What it shows</title>" in text
    assert "More about it</desc>" in text


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[1])
import hashlib, test_plots
drawn = test_plots.picture()
print(hashlib.sha256(drawn.svg().encode()).hexdigest(), hashlib.sha256(drawn.png()).hexdigest())
"""


def test_bytes_are_the_same_in_two_processes_and_under_a_callers_style() -> None:
    command = [sys.executable, "-c", SCRIPT, str(Path(__file__).parent)]
    one, two = (
        subprocess.run(
            command, env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "SOURCE_DATE_EPOCH": date},
            check=True, capture_output=True, text=True,
        ).stdout.split()
        for seed, zone, date in (("1", "UTC", "0"), ("2", "America/Denver", "1000000000"))
    )  # fmt: skip
    assert len(one) == 2
    assert one == two
    callers = {"font.size": 20, "axes.facecolor": "black", "svg.fonttype": "path", "text.usetex": False, "path.simplify": False}
    with mpl.rc_context(callers):
        before = dict(mpl.rcParams)
        text = picture().svg()
        assert dict(mpl.rcParams) == before
    assert hashlib.sha256(text.encode()).hexdigest() == one[0]


def test_pictures_are_written_by_the_suffix_of_the_file(tmp_path: Path) -> None:
    drawn = picture()
    assert drawn.save(tmp_path / "a.svg").read_text(encoding="utf-8").partition("\n")[2] == drawn.svg()
    ElementTree.parse(tmp_path / "a.svg")
    assert drawn.save(tmp_path / "a.png", dpi=100).read_bytes() == drawn.png(100)
    one, two = (drawn.save(tmp_path / f"{name}.pdf").read_bytes() for name in "ab")
    assert one == two
    assert one.startswith(b"%PDF")


def test_the_description_of_a_picture_is_plain_and_complete() -> None:
    said = json.loads(json.dumps(picture().description(), allow_nan=False))
    assert said["data"]["values"][:6] == [2.08, 2.11, 2.14, 2.09, 2.41, None]
    assert said["artists"]["signals"] == 2
    assert said["artists"]["line_labels"] == 5


def test_pictures_of_several_threads_do_not_disturb_each_other() -> None:
    alone = picture().svg()
    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(lambda _: picture().svg(), range(8))) == {alone}


def test_a_picture_shows_itself_in_a_notebook_unless_drawn_on_the_callers_axes() -> None:
    own = picture()
    assert str(own._repr_svg_()).startswith("<svg")
    assert bytes(own._repr_png_() or b"")[:8] == b"\x89PNG\r\n\x1a\n"
    figure = Figure(figsize=(8, 6))
    pair = figure.subplots(2, 1)
    drawn = picture(ax=pair)
    assert drawn.figure is figure
    assert list(drawn.axes.values()) == list(pair)
    assert drawn._repr_svg_() is None
    assert drawn._repr_png_() is None
    with pytest.raises(ValueError, match="2 panels"):
        picture(ax=list(Figure().subplots(3, 1)))


def test_one_axes_is_divided_among_the_panels_or_used_itself() -> None:
    figure = Figure(figsize=(10, 5))
    left, right = figure.subplots(1, 2)
    pair = picture(ax=left)
    assert all(axes.figure is figure for axes in pair.axes.values())
    assert len(pair.axes) == 2
    assert not left.axison
    single = picture(ax=right, below=[])
    assert single.axes["values"] is right
    assert right.get_title(loc="left").replace("\n", " ") == single.title
    figure.canvas.draw()


def test_nothing_keeps_figures_alive() -> None:
    drawn = picture()
    drawn.png()
    watch = weakref.ref(drawn.figure)
    del drawn
    gc.collect()
    assert watch() is None


def test_too_many_panels_are_refused_not_cut() -> None:
    row = Panel(np.zeros(10), 0.0, -1.0, 1.0)
    with pytest.raises(ValueError, match="1 to 4 panels, not 5"):
        picture(below=[row] * 4)


def test_many_points_become_an_image_while_words_stay_sharp() -> None:
    count = 6000
    values = 2.1 + 0.08 * np.sin(np.arange(count))
    drawn = draw_monitored(values, unit="mil", center=2.1, lower=1.8, upper=2.4, title=f"{count} units.")
    text = drawn.svg()
    assert text.count("<image") == 1
    assert len(text) < 400_000
    assert ">UCL 2.4</text>" in text


def test_limits_step_where_they_change() -> None:
    lower = np.array([1.0, 1.0, 1.0, 1.2, 1.2])
    drawn = draw_monitored(np.full(5, 2.0), unit="mil", center=2.0, lower=lower, upper=3.0, title="Steady.")
    x, y = drawn.artists["lower"][0].get_data()
    at = int(np.flatnonzero(np.diff(y))[0])
    assert (x[at], x[at + 1]) == (3.5, 3.5)
    assert (y[at], y[at + 1]) == (1.0, 1.2)
    np.testing.assert_array_equal(drawn.data["lower"], lower)


def test_bands_step_with_center_and_sigma() -> None:
    center, sigma = np.array([2.0, 2.0, 2.1, 2.1]), np.array([0.1, 0.1, 0.2, 0.2])
    drawn = draw_monitored(np.full(4, 2.0), unit="mil", center=center, lower=1.0, upper=3.0, sigma=sigma, title="Steady.")
    narrow = drawn.artists["bands"][-1].get_paths()[0].vertices
    # one sigma below the center: 1.9 on both sides of the step; above it: 2.1, then 2.3
    assert set(np.round(narrow[:, 1], 12)) == {1.9, 2.1, 2.3}


def test_an_excluded_value_far_away_does_not_flatten_the_chart() -> None:
    values = np.array([3.2, 3.25, 81.3, 3.21, 3.22])
    drawn = draw_monitored(
        values, unit="mil", center=3.2, lower=3.0, upper=3.4, hollow=[False, False, True, False, False], title="Steady."
    )
    low, high = drawn.axes["values"].get_ylim()
    assert (low, high) == (pytest.approx(2.98), pytest.approx(3.42))
    arrow, words = drawn.artists["off_scale"]
    assert arrow.get_marker() == "^"
    assert low < arrow.get_ydata()[0] < high
    assert words.get_text() == "81.3, off the scale"
    assert drawn.data["values"][2] == 81.3
    # a point that takes part is never cut off
    whole = draw_monitored(values, unit="mil", center=3.2, lower=3.0, upper=3.4, title="Steady.")
    assert whole.axes["values"].get_ylim()[1] > 81.3


def test_signals_in_a_row_share_one_label_and_many_kinds_get_letters() -> None:
    count = 40
    values = np.full(count, 2.1)
    run = [(point, "beyond the limits", "above") for point in range(10, 20)]
    drawn = draw_monitored(values, unit="mil", center=2.0, lower=1.9, upper=2.05, signals=run, title="Ten.")
    assert [text.get_text() for text in drawn.artists["signal_labels"]] == ["beyond the limits \u00d710"]
    apart = [(point, f"reason {point}", "above") for point in (0, 8, 16, 24, 39)]
    drawn = draw_monitored(values, unit="mil", center=2.0, lower=1.9, upper=2.05, signals=apart, title="Five.")
    assert [text.get_text() for text in drawn.artists["signal_labels"]] == list("abcde")
    foot = " ".join(drawn.artists["caption"].get_text().split())
    assert foot == "a: reason 0; b: reason 8; c: reason 16; d: reason 24; e: reason 39."


def test_labels_of_signals_do_not_overlap_each_other_or_leave_the_axes() -> None:
    rng = np.random.default_rng(11)
    values = 2.1 + 0.1 * rng.standard_normal(60)
    signals = [
        (int(point), f"reason {point % 5}", "above" if point % 2 else "below") for point in rng.choice(60, 12, replace=False)
    ]
    drawn = draw_monitored(values, unit="mil", center=2.1, lower=1.8, upper=2.4, signals=signals, title="Twelve.")
    drawn.figure.canvas.draw()
    frame = drawn.axes["values"].get_window_extent()
    boxes = [text.get_window_extent() for text in drawn.artists["signal_labels"]]
    assert len(boxes) > 3
    for i, box in enumerate(boxes):
        assert frame.x0 <= box.x0
        assert box.x1 <= frame.x1
        assert frame.y0 <= box.y0
        assert box.y1 <= frame.y1
        assert not any(box.overlaps(other) for other in boxes[:i])


def test_signals_of_the_rules_are_told_in_shop_words_and_their_run_is_drawn() -> None:
    signal = Signal(7, "8of8_beyond0_one", "above", 8)
    drawn = draw_monitored(np.full(10, 2.2), unit="mil", center=2.1, lower=1.8, upper=2.4, signals=[signal], title="A run.")
    assert drawn.notes == (f"value, point 8, 2.2 mil: {describe('8of8_beyond0_one')}.",)
    strong = drawn.artists["patterns"][0].get_ydata()
    assert np.isfinite(strong).sum() == 8
    with pytest.raises(ValueError, match="points 0 to 9"):
        draw_monitored(np.full(10, 2.2), unit="mil", center=2.1, lower=1.8, upper=2.4, signals=[(10, "", "")], title="A run.")


@pytest.mark.parametrize(
    "words", ["W" * 30 + " mm mmm", "184 units run at 2.111 mil, limits 1.85 to 2.34 mil;", "iiii llll ffff"]
)
def test_title_and_caption_stay_on_the_page(words: str) -> None:
    drawn = picture(title=f"{words} " * 6, caption=f"{words} " * 6)
    drawn.figure.canvas.draw()
    page = drawn.figure.bbox
    boxes = [drawn.artists[name].get_window_extent() for name in ("title", "caption")]
    for box in boxes:
        assert page.x0 <= box.x0
        assert box.x1 <= page.x1
        assert page.y0 <= box.y0
        assert box.y1 <= page.y1
    assert boxes[0].y0 >= drawn.axes["values"].get_tightbbox().y1
    assert boxes[1].y1 <= drawn.axes["spread"].get_tightbbox().y0


def test_words_of_phases_do_not_touch_each_other_or_the_title() -> None:
    phases = [(0, "baseline"), (2, "a rise of 0.2 mil"), (3, "another painter"), (9, "the end, and nothing after it")]
    drawn = picture(phases=phases)
    drawn.figure.canvas.draw()
    words = [artist for artist in drawn.artists["boundaries"] if isinstance(artist, mpl.text.Text)]
    assert [text.get_text() for text in words] == [text for _, text in phases]
    boxes = [text.get_window_extent() for text in words]
    assert not any(one.overlaps(two) for i, one in enumerate(boxes) for two in boxes[:i])
    title = drawn.artists["title"].get_window_extent()
    for box in boxes:
        assert box.y1 <= title.y0
        assert box.x1 <= drawn.figure.bbox.x1
    lines = [artist for artist in drawn.artists["boundaries"] if not isinstance(artist, mpl.text.Text)]
    assert len(lines) == 2 * 3  # none where the axis begins


def test_equal_or_unordered_times_are_drawn_in_order_so_that_no_point_hides_another() -> None:
    days = np.repeat(np.array(["2026-05-04", "2026-05-05"], dtype="datetime64[D]"), 5)
    drawn = picture(time=days)
    assert drawn.data["x"].tolist() == list(range(1, 11))
    assert [tick.get_text() for tick in drawn.axes["spread"].get_xticklabels()] == ["4 May", "5 May"]
    assert drawn.axes["spread"].get_xlabel() == "points in production order, day of 2026"


def test_time_ticks_are_few_round_and_inside() -> None:
    for hours in (1, 7, 30, 24 * 9, 24 * 40, 24 * 400, 24 * 4000):
        first = np.datetime64("2026-05-04T06:41")
        last = first + np.timedelta64(hours, "h")
        found = time_ticks(first, last, 7)
        assert 1 <= len(found) <= 7
        assert (found >= first).all()
        assert (found <= last).all()


def test_labels_of_lines_keep_their_distance_and_order() -> None:
    wished = np.array([10.0, 11.0, 12.0, 50.0, 99.0, 99.5])
    placed = spread_apart(wished, 8.0, 100.0)
    assert (np.diff(placed) >= 8.0 - 1e-12).all()
    assert placed[3] == 50.0
    assert placed.max() <= 100.0
    np.testing.assert_allclose(placed[:3].mean(), 11.0)


# -- colors ---------------------------------------------------------------------------------------


def test_the_six_colors_are_the_published_ones() -> None:
    """Petroff 2021 (arXiv:2107.02270), as matplotlib ships the sequence under the name petroff6."""
    import matplotlib.style

    shipped = matplotlib.style.library["petroff6"]["axes.prop_cycle"].by_key()["color"]
    assert list(style.SIX_COLORS) == shipped


# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions on
# Visualization and Computer Graphics 15 (2009) 1291-1298, matrices of full severity, for linear RGB.
DEFICIENCIES = {
    "none": np.eye(3),
    "protan": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]),
    "deutan": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]),
    "tritan": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]),
}


def lab(color: str, matrix: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (ISO/CIE 11664-4, white D65) of an sRGB color (IEC 61966-2-1) as seen with the deficiency."""
    coded = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    seen = np.clip(matrix @ linear, 0, 1)
    xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]) @ seen
    ratio = xyz / np.array([0.9505, 1.0, 1.089])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


TOGETHER = ["value", "thread", "trace", "signal", "limit", "window"]
"""Roles that meet in one picture."""


def test_the_matrices_leave_white_white() -> None:
    for matrix in DEFICIENCIES.values():
        np.testing.assert_allclose(matrix.sum(axis=1), 1.0, atol=2e-6)


@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_roles_stay_apart_under_every_color_vision(deficiency: str) -> None:
    """A difference of 2.3 is just noticeable (Mahy, Van Eycken and Oosterlinck 1994); thin lines want ten times that."""
    seen = {role: lab(style.COLORS[role], DEFICIENCIES[deficiency]) for role in TOGETHER}
    seen["paper"] = lab(style.PAPER, DEFICIENCIES[deficiency])
    seen["band"] = lab(style.BANDS[0], DEFICIENCIES[deficiency])
    names = list(seen)
    for i, one in enumerate(names):
        for two in names[:i]:
            least = 10.0 if {one, two} == {"paper", "band"} else 24.0
            assert np.linalg.norm(seen[one] - seen[two]) > least, (deficiency, one, two)


def test_roles_stay_apart_in_grey_print() -> None:
    light = {role: lab(style.COLORS[role], np.eye(3))[0] for role in ("value", "trace", "signal", "limit", "window")}
    order = sorted(light, key=lambda role: light[role])
    assert order == ["value", "limit", "signal", "trace", "window"]
    assert min(np.diff(sorted(light.values()))) > 10.0
    assert lab(style.BANDS[0], np.eye(3))[0] - max(light.values()) > 15.0
    bands = [lab(color, np.eye(3))[0] for color in (*style.BANDS, style.PAPER)]
    assert (np.diff(bands) > 2.3).all()


# -- without the drawing package ------------------------------------------------------------------

WITHOUT = """
import sys
sys.modules["matplotlib"] = None
import steadyfilm
import steadyfilm.plots
from steadyfilm import MissingExtraError
try:
    import steadyfilm.plots.monitored
except MissingExtraError as error:
    print(error)
"""


def test_without_matplotlib_everything_else_works_and_the_error_names_the_extra() -> None:
    said = subprocess.run([sys.executable, "-c", WITHOUT], check=True, capture_output=True, text=True).stdout
    assert said == "drawing a picture needs packages that are not installed: pip install 'steadyfilm[plot]'\n"


def test_importing_the_package_loads_no_drawing_package() -> None:
    command = [sys.executable, "-c", "import sys, steadyfilm, steadyfilm.plots; print('matplotlib' in sys.modules)"]
    assert subprocess.run(command, check=True, capture_output=True, text=True).stdout == "False\n"
