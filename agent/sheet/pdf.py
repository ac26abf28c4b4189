"""The printed face: one page by typst in a process of its own, the same bytes for one record."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from base64 import b64decode
from dataclasses import asdict, replace
from datetime import UTC, datetime
from pathlib import Path

import agent
from agent.errors import PageError, printable
from agent.sheet.code import code_svg
from agent.sheet.fit import columns, paper_guess
from agent.sheet.model import Detail, Sheet

PAPERS = {"a4": "a4", "letter": "us-letter"}
NO_DETAIL = Detail(title="", spreads=None, tables=(), facts=(), listings=())
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)

WITHIN_S = 60.0
"""Half a second is usual; a minute is a computer that is out of memory or hangs."""


def pdf_of(sheet: Sheet, paper: str = "a4", *, detail: bool = False) -> bytes:
    """Return the sheet as a PDF of one page, of two with `detail`; `paper` is "a4" or "letter".

    Raises PageError where typst is missing, refuses, dies or takes too long.
    """
    at = moment_of(sheet.started)
    return printed("page", data_of(sheet, at, paper, detail=detail), paper, at)


def printed(template: str, data: dict[str, object], paper: str, at: datetime) -> bytes:
    """Return a template of this folder filled with data as PDF, dated `at`. Raises PageError."""
    inputs = {"sheet": json.dumps(data), "paper": PAPERS[paper]}
    order = json.dumps({"template": template, "inputs": inputs, "at": at.isoformat()})
    try:
        done = _typesetter(order.encode())
    except (OSError, subprocess.SubprocessError) as error:
        raise PageError(face="PDF", problem=_problem(error)) from error
    if done.returncode or not done.stdout:
        raise PageError(face="PDF", problem=_last_words(done))
    return done.stdout


def _typesetter(order: bytes) -> subprocess.CompletedProcess[bytes]:
    """Run the typesetter to its end; it is killed where it outstays its time."""
    places = (str(Path(agent.__file__).parents[1]), os.environ.get("PYTHONPATH"))
    return subprocess.run(
        [sys.executable, "-P", "-m", "agent.sheet.typeset"],
        input=order,
        capture_output=True,
        timeout=WITHIN_S,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, places))},
        check=False,
    )


def _problem(error: OSError | subprocess.SubprocessError) -> str:
    if isinstance(error, subprocess.TimeoutExpired):
        return f"the typesetter did not end within {error.timeout:g} s"
    return printable(error)


def _last_words(done: subprocess.CompletedProcess[bytes]) -> str:
    """Return what the process said last, or how it ended where it said nothing."""
    said = done.stderr.decode(errors="replace").strip().splitlines()
    return printable(said[-1]) if said else f"the typesetter ended with status {done.returncode}"


def data_of(sheet: Sheet, at: datetime, paper: str, *, detail: bool) -> dict[str, object]:
    """Return what the template draws: the sheet, its pictures, and the size to try first.

    The second sheet is a good half of it all, and left out where nobody asked for it.
    """
    shown = sheet if detail else replace(sheet, detail=NO_DETAIL)
    kind, content = picture_of(sheet.brand.logo)
    return {
        **asdict(shown),
        "day": day_of(at),
        "code_svg": code_svg(sheet.proof.code_text) if sheet.proof.code_text else "",
        "logo_kind": kind,
        "logo_content": list(content),
        "with_detail": detail,
        "guess": paper_guess(shown, paper),
        "columns": columns(shown),
    }


def picture_of(uri: str) -> tuple[str, bytes]:
    """Return the kind and the content of a picture that stands in a data URI (RFC 2397)."""
    head, _, content = uri.partition(",")
    kind = "svg" if "svg" in head else "png"
    return kind, b64decode(content)


def day_of(at: datetime) -> list[int]:
    """Return a moment as the template takes it."""
    return [at.year, at.month, at.day, at.hour, at.minute, at.second]


def moment_of(started: str) -> datetime:
    """Return when a visit began, in UTC to the second; a fixed day for a text that is no time."""
    try:
        return datetime.fromisoformat(started).astimezone(UTC).replace(microsecond=0)
    except (ValueError, OverflowError):
        return EPOCH
