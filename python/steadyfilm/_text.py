"""Names from a file, made safe to show: what cannot be seen, or turns the direction of writing, stands there as its number."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

__all__ = ["escaped_json", "nearest_names", "visible"]

MOST_NAMES = 8
"""Names that are shown where none is like the one that was asked for."""

_NOT_SHOWN = re.compile(
    "[\x00-\x1f\x7f-\x9f"  # control characters, ends of line among them
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # marks that turn the direction of writing
    "\u2028\u2029\ud800-\udfff\ufffe\uffff]"  # ends of line that are not seen as such, and what XML cannot hold
)


def visible(text: str) -> str:
    r"""Text for one line of a terminal or a cell.

    >>> visible("left\u202eright\x1b[31m")
    'left<U+202E>right<U+001B>[31m'
    """
    return _NOT_SHOWN.sub(lambda found: f"<U+{ord(found[0]):04X}>", text)


def escaped_json(text: str) -> str:
    r"""JSON in which characters that are not seen stand as their escapes; its own ends of line stay.

    >>> escaped_json('{\n"a\u202e": 1}')
    '{\n"a\\u202e": 1}'
    """
    return _NOT_SHOWN.sub(lambda found: found[0] if found[0] == "\n" else f"\\u{ord(found[0]):04x}", text)


def nearest_names(name: str, known: Iterable[str]) -> str:
    """For a refusal: the names that are like one that is not there, or what there is.

    >>> nearest_names("ducd", ["lid", "duct"]), nearest_names("x", ["lid", "duct"]), nearest_names("x", [])
    ("nearest: 'duct'", "there: 'lid', 'duct'", 'there: nothing')
    """
    have = list(dict.fromkeys(known))
    near = difflib.get_close_matches(name, have, n=3, cutoff=0.4)
    shown = near or have[:MOST_NAMES]
    return f"{'nearest' if near else 'there'}: {', '.join(repr(x) for x in shown) or 'nothing'}"
