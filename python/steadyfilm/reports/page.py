"""What every report shares: its files, how names from the data are kept harmless, the digest, and the block about the run.

The same inputs and version give the same bytes, but for one marked block at the end that says when it was run.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from importlib import resources
from pathlib import Path
from typing import Any

from steadyfilm._text import escaped_json, visible
from steadyfilm.errors import MissingExtraError

__all__ = ["RUN_END", "RUN_START", "Written", "numbers_json", "render_page", "write_report"]

RUN_START, RUN_END = "<!-- run: not part of the digest -->", "<!-- end of run -->"


@dataclass(frozen=True)
class Written:
    """The files of a report; a report without tables for Excel has no workbook."""

    html: Path
    numbers: Path
    workbook: Path | None = None


def write_report(name: str, folder: str | Path, *, html: str, numbers: str, workbook: bytes | None = None) -> Written:
    r"""Write ``name.html``, ``name.json`` and, if there is one, ``name.xlsx`` into a folder, made if missing.

    Parameters
    ----------
    name : str
        Stem of the files.
    folder : str or Path
    html, numbers : str
        From ``render_page`` and ``numbers_json``. They are whole before a file is touched, so that no report is left half new.
    workbook : bytes, optional
        From ``workbook_bytes``.

    Examples
    --------
    >>> import tempfile
    >>> files = write_report("film", tempfile.mkdtemp(), html="<p>All in.</p>\n", numbers="{}\n")
    >>> files.html.name, files.numbers.read_bytes(), files.workbook
    ('film.html', b'{}\n', None)
    """
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    written = Written(place / f"{name}.html", place / f"{name}.json", None if workbook is None else place / f"{name}.xlsx")
    written.html.write_text(html, encoding="utf-8", newline="\n")
    written.numbers.write_text(numbers, encoding="utf-8", newline="\n")
    if written.workbook is not None and workbook is not None:
        written.workbook.write_bytes(workbook)
    return written


def render_page(template: str, *, when: datetime, **values: Any) -> str:
    """A page from its template; every name from the data is escaped, and what is not seen in it is written as its number."""
    try:
        import jinja2
        from markupsafe import Markup
    except ImportError as error:
        raise MissingExtraError("an HTML report", "job") from error
    source = resources.files("steadyfilm.reports") / "templates"
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda name: (source / name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=lambda value: visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    page = environment.get_template(template).render(
        safe=lambda text: Markup(text),  # the drawing part's own SVG, whose words are escaped there
        run_start=Markup(RUN_START),
        run_end=Markup(RUN_END),
        **values,
    )
    digest = hashlib.sha256(page.encode()).hexdigest()
    run = (
        f'{RUN_START}\n<section id="run"><h2>This run</h2><p>Finished {when.isoformat(sep=" ", timespec="seconds")}, local time. '
        f"The page above this block has SHA-256 <code>{digest}</code>; the same inputs, plan and version give the same page.</p>"
        f"</section>\n{RUN_END}"
    )
    return page.replace(RUN_START + RUN_END, run)


def numbers_json(name: str, content: dict[str, Any], *, when: datetime) -> str:
    """All numbers: the content with its digest, and ``run`` outside of it. Numbers have ten significant digits."""
    rounded = ten_digits(content)
    text = json.dumps(rounded, ensure_ascii=False, allow_nan=False, sort_keys=True)
    whole = {
        name: rounded,
        f"sha256_of_{name}": hashlib.sha256(text.encode()).hexdigest(),
        "run": {"finished": when.isoformat(timespec="seconds")},
    }
    return escaped_json(json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1)) + "\n"


def ten_digits(value: Any) -> Any:
    """The same with numbers rounded: the last bits depend on how many threads a sum was made with."""
    if isinstance(value, float):
        return float(f"{value:.10g}")
    if isinstance(value, dict):
        return {key: ten_digits(item) for key, item in value.items()}
    if isinstance(value, list):
        return [ten_digits(item) for item in value]
    return value
