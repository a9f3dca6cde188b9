"""Reports of results: one self-contained HTML page, and all numbers as JSON."""

from __future__ import annotations

from steadyfilm.reports.review import write_review

__all__ = ["write_review"]
