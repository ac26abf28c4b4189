"""The printed face: one page by typst, the same bytes for the same record."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from agent.errors import PageError
from agent.sheet import words_en as words
from agent.sheet.code import code_svg
from agent.sheet.model import Sheet

if TYPE_CHECKING:
    from typst import Compiler

TEMPLATE = Path(__file__).with_name("page.typ")
PAPERS = {"a4": "a4", "letter": "us-letter"}
# ISO 19005-2 level B: the page still opens when today's programs are gone.
STANDARD: Final = "a-2b"
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)

_kept: list[Compiler] = []


def pdf_of(sheet: Sheet, paper: str = "a4") -> bytes:
    """Return the sheet as a PDF of one page; `paper` is "a4" or "letter".

    Raises PageError where typst is missing or refuses.
    """
    inputs = {"sheet": json.dumps(_data(sheet)), "paper": PAPERS[paper]}
    try:
        return _compiled(inputs, _began(sheet.started))
    except (ImportError, RuntimeError) as error:
        raise PageError(face="PDF", problem=error) from error


def _compiled(inputs: dict[str, str], at: datetime) -> bytes:
    from typst import TypstError  # noqa: PLC0415 - heavy, and only the PDF needs it

    compiler = _compiler()
    try:
        pages = compiler.compile(
            format="pdf", sys_inputs=inputs, pdf_standards=[STANDARD], timestamp=at
        )
    except TypstError:
        # PDF/A forbids a letter that no embedded face has; the page then does without the level.
        pages = compiler.compile(format="pdf", sys_inputs=inputs, timestamp=at)
    return pages if isinstance(pages, bytes) else b"".join(pages or [])


def _compiler() -> Compiler:
    """Return the compiler, made once: it reads the fonts."""
    if not _kept:
        from typst import Compiler  # noqa: PLC0415 - heavy, and only the PDF needs it

        made = Compiler(
            input=str(TEMPLATE),
            root=str(TEMPLATE.parent),
            font_paths=_font_folders(),
            ignore_system_fonts=True,
        )
        _kept.append(made)
    return _kept[0]


def _font_folders() -> list[str]:
    """Return the folder of the embedded sans; without it the built-in faces serve."""
    try:
        from font_source_sans_pro import font_directory  # noqa: PLC0415
    except ImportError:
        return []
    return [str(font_directory)]


def _data(sheet: Sheet) -> dict[str, object]:
    at = _began(sheet.started)
    return {
        **asdict(sheet),
        "day": [at.year, at.month, at.day, at.hour, at.minute, at.second],
        "code_svg": code_svg(sheet.proof.code_text),
        "words": {name: words.LABEL[name] for name in ("accepted", "sold", "record")},
    }


def _began(started: str) -> datetime:
    try:
        return datetime.fromisoformat(started).astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError):
        return EPOCH
