"""From stored records to what is shown; keeps the heavy rooms out of the command tree."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

from agent.assessment.model import Verdict
from agent.record.model import StoredRecord
from agent.record.seal import redact, seal, verify
from agent.record.store import (
    RECORD_NAME,
    read_document,
    read_record,
    text_of,
    write_file,
    write_record,
)

EXIT_CODES = {Verdict.MEETS: 0, Verdict.BELOW: 3, Verdict.NOT_PROVEN: 4}

if TYPE_CHECKING:
    from collections.abc import Sequence

    from agent.measurements import PathChange, PathStatistics
    from agent.record.model import Record
    from agent.settings.loader import Loaded
    from agent.sheet.model import Sheet
    from agent.sheet.view import Anew, Dress


def record_file(path: Path) -> Path:
    """Return the record's file for a record or the folder of its visit."""
    return path / RECORD_NAME if path.is_dir() else path


def read(path: Path) -> StoredRecord:
    """Return a stored record. Raises RecordError."""
    return read_record(record_file(path))


def stored(record: Record, folder: Path) -> tuple[StoredRecord, Path]:
    """Seal and store a record; return it with its path. Raises OutputError."""
    sealed = seal(record)
    return sealed, write_record(sealed, folder)


def text_of_unsaved(record: Record) -> str:
    """Return the text of a record that could not be stored."""
    return text_of(seal(record).document)


def shown(
    one: StoredRecord, *, hide: bool, settings_path: Path | None, loaded: Loaded
) -> tuple[StoredRecord, Anew | None]:
    """Return the record to show, redacted or judged anew as asked, and how it was judged anew.

    It is judged anew where a path of settings was named. Raises UsageError for a tier that these
    settings do not have.
    """
    anew = None
    if settings_path is not None:
        from agent.session.rejudge import judged_anew, same_tier
        from agent.sheet.view import Anew

        own = one.record
        one = replace(one, record=judged_anew(own, loaded))
        anew = Anew(
            settings=settings_path.name or str(settings_path),
            sha256=loaded.sha256,
            verdict=own.assessment.verdict,
            same=loaded.sha256 == own.settings_sha256,
            same_tier=same_tier(own.tier, one.record.tier),
        )
    return (redact(one) if hide else one), anew


def sheet_of(
    one: StoredRecord, *, judged_anew: Anew | None = None, dress: Dress | None = None
) -> Sheet:
    """Return the view model of a record's page, plainly dressed where no dress is given."""
    from agent.sheet.view import PLAIN, build_sheet

    return build_sheet(one, judged_anew=judged_anew, dress=dress or PLAIN)


def page_of_newer(path: Path, dress: Dress) -> Sheet:
    """Return the page of a record that this program is too old to read. Raises RecordError."""
    from agent.sheet.unread import unread_sheet

    return unread_sheet(read_document(record_file(path)), dress)


def content(sheet: Sheet, face: str, paper: str, *, detail: bool = False) -> bytes:
    """Return the page as the bytes of a file, with the second sheet if asked. Raises PageError."""
    if face == "pdf":
        from agent.sheet.pdf import pdf_of

        return pdf_of(sheet, paper, detail=detail)
    if face == "html":
        from agent.sheet.html import html_of

        return html_of(sheet, detail=detail).encode()
    from agent.sheet.terminal import NARROW, console_for, print_sheet

    text = StringIO()
    print_sheet(sheet, console_for(text, NARROW), detail=detail)
    return text.getvalue().encode()


def hand_out(content: bytes, out: Path | None) -> None:
    """Write a page into a file, or on standard output. Raises OutputError."""
    if out is None:
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    else:
        write_file(out, content)


def exit_code(record: Record) -> int:
    """Return the exit code of a record's verdict."""
    return EXIT_CODES[record.assessment.verdict]


def print_terminal(sheet: Sheet, *, detail: bool = False) -> None:
    """Print the page on standard output, with the second sheet if asked."""
    from agent.sheet.terminal import console_for, print_sheet

    print_sheet(sheet, console_for(sys.stdout), detail=detail)


def path_change(records: Sequence[Record]) -> PathChange | None:
    """Return how the walk of the last record compares with that of the first, to one target.

    None where one of them has no walk, or the targets differ.
    """
    from agent.stats.path_change import compare_paths

    walks = [_walk(one) for one in records]
    if not walks or walks[0] is None or walks[-1] is None or walks[0][0] != walks[-1][0]:
        return None
    return compare_paths(walks[0][1], walks[-1][1])


def _walk(record: Record) -> tuple[str, PathStatistics] | None:
    """Return the target and statistics of the walk to the server."""
    from agent.measurements import PathStatistics

    for one in record.measured:
        if isinstance(one.statistics, PathStatistics) and one.measurement.address is not None:
            return one.measurement.address, one.statistics
    return None


def print_measurements(record: Record) -> None:
    """Print every measurement of a record with its statistics."""
    from agent.sheet.single import build_single
    from agent.sheet.terminal import console_for, print_blocks

    print_blocks(build_single(record), console_for(sys.stdout))


def one_line(one: StoredRecord, dress: Dress | None = None) -> str:
    """Return the verdict with its reason as one line."""
    headline = sheet_of(one, dress=dress).headline
    return f"{headline.verdict}. {headline.reason}"


def measurements_text(record: Record) -> str:
    """Return the measurements of a record as one JSON array."""
    from agent.record.typed import document_of

    return json.dumps(document_of(record)["measurements"], indent=2, ensure_ascii=False) + "\n"


def verification(path: Path) -> tuple[bool, str]:
    """Return whether a record is whole and unchanged, and a sentence. Raises RecordError."""
    from agent.sheet.wording import verification_text

    found = verify(read_document(record_file(path)))
    return found.whole, f"{path}: {verification_text(found)}"
