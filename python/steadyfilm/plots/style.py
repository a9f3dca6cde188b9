"""The look of all pictures: colors by role, line styles by role, safe text, and figures that touch no global setting.

Colors: the six of Petroff, "Accessible Color Sequences for Data Visualization" (2021, arXiv:2107.02270), chosen there for
readers with any color vision. A role never rests on color alone: every line has its own dash pattern and a label at its end,
every signal its own shape, size and words.
"""

from __future__ import annotations

import math
import re
import sys
import threading
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import TYPE_CHECKING, Any

from steadyfilm._format import number
from steadyfilm.errors import MissingExtraError

try:
    import matplotlib as mpl
    from matplotlib import font_manager
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.font_manager import FontProperties
    from matplotlib.ft2font import LoadFlags
except ImportError as error:
    raise MissingExtraError("drawing a picture", "plot") from error

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

__all__ = [
    "BANDS",
    "COLORS",
    "DASHES",
    "INK",
    "LINE_WIDTHS",
    "SIX_COLORS",
    "new_figure",
    "own_look",
    "plain",
    "put_text",
    "text_width",
    "wrapped",
]

SIX_COLORS = ("#5790fc", "#f89c20", "#e42536", "#964a8b", "#9c9ca1", "#7a21dd")
"""Petroff's sequence of six, in his order."""

INK = "#1f2328"
PAPER = "#ffffff"

COLORS = {
    "value": INK,
    "thread": SIX_COLORS[4],
    "trace": SIX_COLORS[0],
    "signal": SIX_COLORS[2],
    "limit": SIX_COLORS[5],
    "center": SIX_COLORS[5],
    "window": SIX_COLORS[1],
    "curve": SIX_COLORS[3],
    "bar": SIX_COLORS[0],
    "boundary": INK,
}

BANDS = ("#d5e3fe", "#e6effe", "#f3f7ff")
"""Within 1, 2 and 3 sigma of the center: tints of the first color, paler outward as points grow rarer."""

DASHES: dict[str, Any] = {
    "center": "solid",
    "limit": (0, (6, 2.5)),
    "window": (0, (9, 2, 1.5, 2)),
    "boundary": (0, (1, 1.8)),
    "trace": "solid",
    "curve": "solid",
}

LINE_WIDTHS = {"center": 1.0, "limit": 1.2, "window": 2.4, "boundary": 1.1, "trace": 1.7, "curve": 1.7, "thread": 0.8}

FONT = 8.5
SMALL = 7.5
WIDTH = 7.0
"""Inches; the text width of a page of letter or A4 paper with usual margins."""

OWN_FONT = "DejaVu Sans"
"""Comes with matplotlib: Latin, Greek, Cyrillic and many signs."""
FALLBACKS = (
    "Noto Sans CJK SC",
    "Noto Sans CJK JP",
    "Noto Sans CJK KR",
    "Noto Sans CJK TC",
    "WenQuanYi Zen Hei",
    "WenQuanYi Micro Hei",
    "Droid Sans Fallback",
    "Noto Sans Devanagari",
    "Noto Sans Thai",
    "Noto Sans Bengali",
    "Noto Sans Tamil",
    "FreeSans",
    "Unifont",
)
"""Looked for in this order, where they are installed, for letters that our own font lacks."""
FAMILIES = "'DejaVu Sans', 'Verdana', 'Arial', sans-serif"
"""What an SVG names, whatever is installed here: whoever shows it has fonts of his own."""

_LOCK = threading.RLock()
# These reach beyond the look of one picture; a style sheet may not set them either.
_PROCESS_WIDE = (
    "backend",
    "interactive",
    "toolbar",
    "webagg",
    "tk.",
    "macosx",
    "timezone",
    "date.epoch",
    "figure.max_open",
    "savefig.dir",
)
_OWN: Any = {
    **{key: value for key, value in mpl.rcParamsDefault.items() if not key.startswith(_PROCESS_WIDE)},
    "font.size": FONT,
    "axes.unicode_minus": True,
    "svg.fonttype": "none",
    "svg.hashsalt": "steadyfilm",
    "text.parse_math": False,
    "timezone": "UTC",
}


@contextmanager
def own_look() -> Iterator[None]:
    """The library's own settings for the time of one drawing; the caller's settings are back afterwards, one thread at a time."""
    with _LOCK, mpl.rc_context(_OWN | {"font.family": [OWN_FONT, *_installed()]}):
        yield


def plain(text: object) -> str:
    r"""Text that can only be read: one line, without control, bidirectional or other invisible characters.

    A letter that no font here has stands as its number, so that no empty box is drawn; `shown_again` puts it back where whoever
    shows the text has fonts of his own.

    >>> plain("gun\u202e 2\n<b>$x$"), plain("\x00")
    ('gun 2 <b>$x$', '')
    >>> plain("gun \U0001e900")
    'gun <U+1E900>'
    """
    kept = []
    for character in str(text):
        if character in "\n\r\t":
            kept.append(" ")
        # Cc control, Cf invisible formatting and direction marks, Cs and Cn not allowed in XML, Co private, Zl and Zp line breaks
        elif unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"):
            kept.append(character if _has_glyph(character) else f"<U+{ord(character):04X}>")
    return " ".join("".join(kept).split())


def shown_again(markup: str) -> str:
    r"""Markup with the letters put back that `plain` had to write as numbers.

    >>> print(ascii(shown_again("gun &lt;U+9707&gt;, &lt;U+202E&gt;")))
    'gun \u9707, &lt;U+202E&gt;'
    """
    return _NUMBERED.sub(lambda found: chr(int(found[1], 16)) if _is_letter(int(found[1], 16)) else found[0], markup)


_NUMBERED = re.compile(r"&lt;U\+([0-9A-F]{4,6})&gt;")


def _is_letter(code: int) -> bool:
    return code <= sys.maxunicode and unicodedata.category(chr(code))[0] in "LMNPS" and chr(code) not in "<>&\"'"


@cache
def _installed() -> tuple[str, ...]:
    known = {font.name for font in font_manager.fontManager.ttflist}
    return tuple(name for name in FALLBACKS if name in known)


@cache
def _letters() -> frozenset[int]:
    """Every letter that one of the fonts in use has."""
    fonts = [font_manager.get_font(font_manager.findfont(FontProperties(family=name))) for name in (OWN_FONT, *_installed())]
    return frozenset(code for font in fonts for code in font.get_charmap())


def _has_glyph(character: str) -> bool:
    return character.isascii() or ord(character) in _letters()


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line in points, in the font that comes with matplotlib (others are seldom wider)."""
    return size * sum(_advance(character, bold) for character in text)


@cache
def _advance(character: str, bold: bool) -> float:
    font = font_manager.get_font(font_manager.findfont(FontProperties(family=OWN_FONT, weight="bold" if bold else "normal")))
    if ord(character) not in font.get_charmap():
        return 1.0  # of another script, from another font: seldom wider than an em
    return font.load_char(ord(character), flags=LoadFlags.NO_SCALE).horiAdvance / float(font.units_per_EM)


def wrapped(text: str, inches: float, size: float, *, bold: bool = False) -> list[str]:
    """Lines of at most this width, broken between words; a longer word stands on a line of its own."""
    room = 0.97 * inches * 72
    lines: list[str] = []
    for word in plain(text).split():
        if lines and text_width(f"{lines[-1]} {word}", size, bold=bold) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def matched(*values: float, digits: int = 4) -> list[str]:
    """Numbers that are read together, with the same count of decimals: ``digits`` for the largest (one less below 1).

    >>> matched(2.0, 2.2), matched(2.36142, 2.1, 1.83858), matched(0.0, 0.11264, 0.36784), matched(60.0, 90.0)
    (['2.0', '2.2'], ['2.361', '2.100', '1.839'], ['0.000', '0.113', '0.368'], ['60', '90'])
    """
    largest = max(abs(value) for value in values)
    if not 1e-4 <= largest < 1e9:
        return [number(value, digits) for value in values]
    decimals = max(0, digits - 1 - math.floor(math.log10(largest)) - (largest < 1))
    texts = [f"{value:.{decimals}f}" for value in values]
    while "." in texts[0] and all(text[-1] in "0." for text in texts):
        texts = [text[:-1] for text in texts]
    return texts


def put_text(axes: Axes, x: float, y: float, text: str, **options: Any) -> Text:
    """A text on axes that is never read as markup of any kind."""
    options.setdefault("fontsize", SMALL)
    options.setdefault("color", INK)
    return axes.text(x, y, plain(text), parse_math=False, usetex=False, **options)


def new_figure(width: float, height: float) -> Figure:
    """A figure that no window and no registry holds on to."""
    figure = Figure(figsize=(width, height), dpi=100, facecolor=PAPER)
    FigureCanvasAgg(figure)
    return figure


def dress(axes: Axes) -> None:
    """Quiet axes: two spines, ticks outside, nothing that competes with the points."""
    axes.set_facecolor(PAPER)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(INK)
        axes.spines[side].set_linewidth(0.8)
    axes.tick_params(labelsize=SMALL, colors=INK, width=0.8, length=3, direction="out", which="major")
    axes.grid(visible=False)
    axes.margins(x=0.01)


def _lines(text: str) -> str:
    return "\n".join(plain(line) for line in text.split("\n"))


def label(axes: Axes, *, x: str | None = None, y: str | None = None) -> None:
    """Axis labels, never read as markup."""
    if x is not None:
        axes.set_xlabel(_lines(x), fontsize=FONT, color=INK, parse_math=False, usetex=False)
    if y is not None:
        axes.set_ylabel(_lines(y), fontsize=FONT, color=INK, parse_math=False, usetex=False)
