"""Pictures as bytes: SVG that can be embedded and read aloud, PNG for everything else; the same bytes on every run."""

from __future__ import annotations

import hashlib
import html
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from steadyfilm.plots.style import FAMILIES, PAPER, own_look, plain, shown_again

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from steadyfilm.plots import Drawn

_NO_METADATA: dict[str, Any] = {"Date": None, "Creator": None, "Format": None, "Type": None}
_FONTS = re.compile(r"'DejaVu Sans'(, ('[^']*'|[\w-]+))*")
_HEAD = re.compile(r"<svg\b([^>]*)>")
_NAME = re.compile(r'(\bid=")([^"]+)(")|(url\(#)([^)]+)(\))|((?:xlink:)?href="#)([^"]+)(")')


def svg_text(figure: Figure, title: str, description: str) -> str:
    """An ``<svg>`` element with its own title and description; its inner names are its own, so that many fit on one page."""
    with own_look():
        sink = io.BytesIO()
        figure.savefig(sink, format="svg", metadata=_NO_METADATA, facecolor=PAPER)
    text = sink.getvalue().decode("utf-8")
    text = _FONTS.sub(lambda _: FAMILIES, text[text.index("<svg") :].rstrip() + "\n")
    title, description = plain(title), plain(description)
    own = "sf" + hashlib.sha256(f"{title}\0{description}\0{text}".encode()).hexdigest()[:10]
    text = _NAME.sub(lambda found: _renamed(found, own), text)
    # The writer's style rule would reach every element of the page that the picture is put into.
    text = text.replace('<style type="text/css">*{', f'<style type="text/css">#{own} *{{')
    spoken = f"<title id='{own}-title'>{html.escape(title)}</title>"
    spoken += f"<desc id='{own}-desc'>{html.escape(description)}</desc>"
    head = f"id='{own}' role='img' aria-labelledby='{own}-title {own}-desc'"
    return shown_again(_HEAD.sub(lambda found: f"<svg{found.group(1)} {head}>{spoken}".replace("'", '"'), text, count=1))


def _renamed(found: re.Match[str], own: str) -> str:
    start, name, end = (part for part in found.groups() if part is not None)
    return f"{start}{own}-{name}{end}"


def png_bytes(figure: Figure, dpi: float) -> bytes:
    """The picture as PNG."""
    with own_look():
        sink = io.BytesIO()
        figure.savefig(sink, format="png", dpi=dpi, metadata={"Software": None}, facecolor=PAPER)
    return sink.getvalue()


def write_picture(drawn: Drawn, path: Path, dpi: float) -> Path:
    """The picture in a file of the kind that its suffix names."""
    if path.suffix.lower() == ".svg":
        path.write_text('<?xml version="1.0" encoding="utf-8"?>\n' + drawn.svg(), encoding="utf-8", newline="\n")
    elif path.suffix.lower() == ".png":
        path.write_bytes(drawn.png(dpi))
    else:
        dateless = {"CreationDate": None} if path.suffix.lower() in (".pdf", ".ps", ".eps") else None
        with own_look():
            drawn.figure.savefig(path, dpi=dpi, metadata=dateless, facecolor=PAPER)
    return path
