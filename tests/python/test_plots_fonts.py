"""Names in scripts that our own font lacks: no warning, no empty boxes, and in an SVG the letters themselves."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

import steadyfilm as sf
from steadyfilm.plots import style
from steadyfilm.plots.monitored import draw_monitored

GUN = "\u55b7\u67aa \u4e8c"
NUMBERED = "<U+55B7><U+67AA> <U+4E8C>"


@pytest.fixture
def without_fallbacks(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a machine with no font but the one that comes with matplotlib."""
    monkeypatch.setattr(style, "_installed", tuple)
    monkeypatch.setattr(style, "_letters", lambda: _OWN_LETTERS)


_OWN_LETTERS = frozenset(
    style.font_manager.get_font(style.font_manager.findfont(style.FontProperties(family=style.OWN_FONT))).get_charmap()
)


@pytest.mark.usefixtures("without_fallbacks")
def test_a_letter_without_a_glyph_stands_as_its_number_and_nothing_warns() -> None:
    rng = np.random.default_rng(2)
    table = {
        "film": rng.normal(2.1, 0.05, 90),
        "gun": [f"{GUN} {k % 3}" for k in range(90)],
    }
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        drawn = draw_monitored(
            table["film"][:30], unit="mil", center=2.1, lower=1.9, upper=2.3, quantity="film", stream=GUN, title=f"{GUN}: quiet.",
            caption=GUN, phases=[(10, GUN)], signals=[(4, GUN, "above")],
        )  # fmt: skip
        assert NUMBERED in drawn.axes["values"].get_ylabel()
        assert drawn.png(60)
        many = sf.streams(table, "film", unit="mil", stream="gun", fewest_points=5).plot()
        assert many.png(60)
        svg = drawn.svg()
    # Whoever shows an SVG has fonts of his own: the letters stand there again.
    assert GUN.split()[0] in svg
    assert "U+55B7" not in svg
    assert "U+55B7" not in many.svg()


def test_an_installed_fallback_is_used_and_named_nowhere_in_the_svg(monkeypatch: pytest.MonkeyPatch) -> None:
    # Liberation Mono stands for a font with more letters: what it has is not numbered.
    name = next(font.name for font in style.font_manager.fontManager.ttflist if font.name != style.OWN_FONT)
    extra = frozenset(style.font_manager.get_font(style.font_manager.findfont(style.FontProperties(family=name))).get_charmap())
    monkeypatch.setattr(style, "_installed", lambda: (name,))
    monkeypatch.setattr(style, "_letters", lambda: _OWN_LETTERS | extra)
    with style.own_look():
        assert style.mpl.rcParams["font.family"] == [style.OWN_FONT, name]
    drawn = draw_monitored([2.1, 2.2, 2.0], unit="mil", center=2.1, lower=1.9, upper=2.3, title="quiet.")
    svg = drawn.svg()
    assert style.FAMILIES in svg
    assert f"'{name}'" not in svg


def test_only_what_is_missing_is_numbered() -> None:
    assert style.plain("M\u00fcller \u0394 \u0416") == "M\u00fcller \u0394 \u0416"
    assert style.plain("\U0001e900x") == "<U+1E900>x"
    assert style.plain(style.plain("\U0001e900x")) == "<U+1E900>x"


def test_hostile_numbers_in_a_name_bring_back_nothing_hostile() -> None:
    for name in ("<U+202E>", "<U+003C>script<U+003E>", "<U+0000>", "<U+D800>", "<U+110000>", "<U+0022>", "<U+0026>lt;"):
        drawn = draw_monitored([2.1, 2.2, 2.0], unit="mil", center=2.1, lower=1.9, upper=2.3, title=name, quantity=name)
        svg = drawn.svg()
        assert "\u202e" not in svg
        assert "<script>" not in svg
        assert "&amp;lt;" in svg or name[1:7] in svg
