"""The printed face of records side by side: one page, the same bytes for the same records."""

from __future__ import annotations

from dataclasses import asdict

from agent.sheet.comparison.fit import paper_guess
from agent.sheet.comparison.model import Comparison
from agent.sheet.pdf import day_of, moment_of, picture_of, printed


def comparison_pdf(comparison: Comparison, paper: str = "a4") -> bytes:
    """Return the comparison as a PDF of one page; `paper` is "a4" or "letter".

    Raises PageError where typst is missing, refuses, dies or takes too long.
    """
    at = moment_of(comparison.started)
    kind, content = picture_of(comparison.brand.logo)
    data = {
        **asdict(comparison),
        "day": day_of(at),
        "logo_kind": kind,
        "logo_content": list(content),
        "guess": paper_guess(comparison),
    }
    return printed("compare", data, paper, at)
