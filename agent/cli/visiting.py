"""The course of a visit on the command line: rights, consent, measuring, record, page."""

from __future__ import annotations

import logging
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

import typer

from agent.cli import faces
from agent.cli.asked import Asked
from agent.cli.dressing import Look, look_of
from agent.cli.guard import log_to, say
from agent.cli.output import reports_folder
from agent.cli.progress import ProgressLine
from agent.cli.requesting import request_for, settings_for
from agent.clock import SystemClock
from agent.errors import DoorstepError, OutputError
from agent.record.since import since
from agent.record.store import read_record, write_file
from agent.session.assemble import assemble
from agent.session.means import SystemMeans
from agent.session.request import VisitRequest
from agent.session.running import VisitRunning
from agent.session.visit import observe

if TYPE_CHECKING:
    from agent.record.model import Record, StoredRecord

CANNOT_WRITE = 1

_log = logging.getLogger("doorstep")


def run(asked: Asked) -> int:
    """Make a visit and return its exit code."""
    log_to(asked.log)
    with SystemMeans.take(want_frames=not asked.no_probe) as means:
        loaded = settings_for(asked)
        previous = read_record(faces.record_file(asked.previous)) if asked.previous else None
        request = request_for(asked, loaded, previous.record.record_id if previous else None)
        record = measured(request, means, quiet=asked.quiet)
    if previous is not None:
        record = replace(record, since=since(previous.record, record))
    return hand_over(record, asked, look_of(loaded.settings.identity))


def measured(request: VisitRequest, means: SystemMeans, *, quiet: bool) -> Record:
    """Run the visit and return its judged record."""
    clock, running = SystemClock(), VisitRunning()
    started = clock.wall()
    with stopping(running), ProgressLine(quiet=quiet) as line:
        outcome = observe(request, means, clock, running, line)
    return assemble(request, outcome, started, clock.wall())


@contextmanager
def stopping(running: VisitRunning) -> Iterator[None]:
    """Let the first Ctrl-C end the visit with what it has, the second abort."""

    def heard(_number: int, _frame: FrameType | None) -> None:
        if running.stopped():
            raise KeyboardInterrupt
        running.stop()
        say("Ending with what was measured so far. Ctrl-C again aborts without a record.")

    before = signal.signal(signal.SIGINT, heard)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def hand_over(record: Record, asked: Asked, look: Look) -> int:
    """Store the record, write its pages, show it; return the exit code."""
    code = faces.exit_code(record)
    try:
        stored, path = faces.stored(record, reports_folder(asked.out))
    except OutputError as error:
        say(error.sentence())
        sys.stdout.write(faces.text_of_unsaved(record))
        return CANNOT_WRITE
    unwritten = write_pages(stored, path.parent, look)
    show(stored, path, asked, look)
    return unwritten or code


def write_pages(stored: StoredRecord, folder: Path, look: Look) -> int:
    """Write both pages beside the record; a page that fails is said and does not lose the rest."""
    page, failed = faces.sheet_of(stored, dress=look.dress), 0
    for face in ("html", "pdf"):
        try:
            write_file(folder / f"sheet.{face}", faces.content(page, face, look.paper))
        except DoorstepError as error:
            say(error.sentence())
            failed = CANNOT_WRITE
    return failed


def show(stored: StoredRecord, path: Path, asked: Asked, look: Look) -> None:
    """Print the record, the one line or the page, and say where it all is."""
    if asked.json:
        sys.stdout.write(path.read_text(encoding="utf-8"))
        return
    if asked.quiet:
        typer.echo(faces.one_line(stored, look.dress))
        return
    faces.print_terminal(faces.sheet_of(stored, dress=look.dress))
    say(f"Record and pages: {path.parent}")
