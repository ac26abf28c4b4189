"""The printed face: one page by typst in a process of its own, the same bytes for one record."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import agent
from agent.errors import PageError, printable
from agent.sheet.catalogue import words
from agent.sheet.code import code_svg
from agent.sheet.model import Sheet

PAPERS = {"a4": "a4", "letter": "us-letter"}
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)

WITHIN_S = 60.0
"""Half a second is usual; a minute is a computer that is out of memory or hangs."""


def pdf_of(sheet: Sheet, paper: str = "a4") -> bytes:
    """Return the sheet as a PDF of one page; `paper` is "a4" or "letter".

    Raises PageError where typst is missing, refuses, dies or takes too long.
    """
    at = _began(sheet.started)
    inputs = {"sheet": json.dumps(_data(sheet, at)), "paper": PAPERS[paper]}
    order = json.dumps({"inputs": inputs, "at": at.isoformat()})
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


def _data(sheet: Sheet, at: datetime) -> dict[str, object]:
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
