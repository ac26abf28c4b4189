"""Records on disk: bounded reading, atomic writing, pages beside the record."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import NoReturn

from agent.errors import NewerRecordError, OutputError, RecordError
from agent.record.model import RECORD_VERSION, PracticeTruth, Record, StoredRecord
from agent.record.seal import Document, opened_of, salt_of, seal, sealed
from agent.record.typed import record_of

RECORD_NAME = "record.json"
# A visit of two minutes with every series at its longest stays below 20 MB.
LARGEST_BYTES = 64 * 1024 * 1024

AS_WRITTEN = "Use the file as the visit wrote it; a copy may have been cut short."
INDENT = "  "


def write_record(record: Record | StoredRecord, folder: Path) -> Path:
    """Write a record into its own folder below `folder` and return the path of its file.

    The file appears whole or not at all. Raises OutputError.
    """
    stored = record if isinstance(record, StoredRecord) else seal(record)
    path = folder / folder_name(stored.record) / RECORD_NAME
    write_file(path, text_of(stored.document).encode())
    return path


def write_file(path: Path, content: bytes) -> Path:
    """Write a file beside a record: whole or not at all. Raises OutputError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _replace(path, content)
    except OSError as error:
        raise OutputError(path=path, problem=error.strerror or error) from error
    return path


def read_record(path: Path) -> StoredRecord:
    """Read a record from its file or its folder. Raises RecordError."""
    document = read_document(path)
    version = document.get("record_version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        _refuse(path, "it does not say its version", AS_WRITTEN)
    if version > RECORD_VERSION:
        raise NewerRecordError(
            path=path,
            problem=f"it has version {version}, and this program knows versions up to "
            f"{RECORD_VERSION}",
            remedy="Open it with a newer doorstep; doorstep verify can still check that it is "
            "unchanged.",
        )
    return StoredRecord(document=document, record=record_of(opened_of(document), str(path)))


def read_document(path: Path) -> Document:
    """Read a record of any version as plain JSON, bounded in size and depth. Raises RecordError."""
    content = _bounded(path / RECORD_NAME if path.is_dir() else path)
    try:
        document = json.loads(content, object_pairs_hook=_once, parse_constant=_no_constant)
    except RecursionError as error:
        raise _unusable(path, "it is nested too deep", AS_WRITTEN) from error
    except ValueError as error:
        raise _unusable(path, f"it is not whole JSON ({error})", AS_WRITTEN) from error
    if not isinstance(document, dict):
        _refuse(path, "it is not a record", AS_WRITTEN)
    return document


def add_practice(path: Path, truth: PracticeTruth) -> StoredRecord:
    """Add what the practice network really was, seal anew, and write the record in its place.

    Members unknown to this version are kept. Raises RecordError and OutputError.
    """
    document = read_record(path).document
    opened = {**opened_of(document), "practice": asdict(truth)}
    block = document.get("integrity")
    previous = block.get("previous_sha256") if isinstance(block, dict) else None
    stored = sealed(opened, salt=salt_of(document, str(path)), previous_sha256=previous)
    target = path / RECORD_NAME if path.is_dir() else path
    write_file(target, text_of(stored.document).encode())
    return stored


def folder_name(record: Record) -> str:
    """Return "<UTC>-<record number>", safe as the name of a folder on every system."""
    try:
        at = datetime.fromisoformat(record.started).astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    except ValueError:
        at = "undated"
    number = "".join(c for c in record.record_id if c.isalnum() or c == "-")
    return f"{at}-{number[:40]}"


def text_of(document: object) -> str:
    """Return a document as JSON to read: objects indented, a column of scalars on one line."""
    return "".join(_lines(document, "")) + "\n"


def _lines(node: object, indent: str) -> Iterator[str]:
    deeper = indent + INDENT
    if isinstance(node, dict) and node:
        yield "{\n"
        for index, (name, value) in enumerate(node.items()):
            yield f"{deeper}{_compact(name)}: "
            yield from _lines(value, deeper)
            yield "\n" if index == len(node) - 1 else ",\n"
        yield indent + "}"
    elif isinstance(node, list | tuple) and any(isinstance(item, dict) for item in node):
        yield "[\n"
        for index, value in enumerate(node):
            yield deeper
            yield from _lines(value, deeper)
            yield "\n" if index == len(node) - 1 else ",\n"
        yield indent + "]"
    else:
        yield _compact(node)


def _compact(node: object) -> str:
    return json.dumps(node, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _bounded(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise _unusable(path, error.strerror or str(error), "Check the path.") from error
    if len(content) > LARGEST_BYTES:
        _refuse(path, f"it is larger than {LARGEST_BYTES // 2**20} MiB", AS_WRITTEN)
    return content


def _once(pairs: list[tuple[str, object]]) -> Document:
    members = dict(pairs)
    # Two readers may choose different ones of a doubled member, so one hash would stand for both.
    if len(members) != len(pairs):
        msg = "a member stands twice"
        raise ValueError(msg)
    return members


def _no_constant(name: str) -> NoReturn:
    msg = f"{name} is not a number of JSON"
    raise ValueError(msg)


def _replace(path: Path, content: bytes) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o644)
        temporary.replace(path)
    except BaseException:
        with suppress(OSError):
            temporary.unlink()
        raise


def _unusable(path: Path, problem: str, remedy: str) -> RecordError:
    return RecordError(path=path, problem=problem, remedy=remedy)


def _refuse(path: Path, problem: str, remedy: str) -> NoReturn:
    raise _unusable(path, problem, remedy)
