"""Sealing a record and checking the seal: RFC 8785 canonical form, SHA-256, private part apart."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

import rfc8785

from agent.errors import RecordError
from agent.record.addresses import hidden, plain, shown
from agent.record.identifier import is_record_id
from agent.record.model import Record, StoredRecord
from agent.record.typed import document_of, record_of

CANONICAL = "RFC 8785"
SALT_BYTES = 16
# The two members of `integrity` that cannot be under the hash they belong to.
UNHASHED = ("sha256", "signature")

Document = dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """Whether a record is whole; `problems` are codes, worst first.

    Codes: `no-seal`, `canonical-form-unknown`, `not-canonical`, `body-changed`,
    `private-changed`, `private-hash-missing`, `record-number-wrong`. A redacted record is whole
    while its body is.
    """

    whole: bool
    problems: tuple[str, ...] = ()
    redacted: bool = False
    sha256: str = ""


def seal(
    record: Record, *, salt: bytes | None = None, previous_sha256: str | None = None
) -> StoredRecord:
    """Return the record sealed: addresses in the private part, hashes over both parts.

    `salt` is random where not given; it keeps the private part from being guessed by its hash.
    """
    opened = document_of(record)
    return sealed(opened, salt=salt or os.urandom(SALT_BYTES), previous_sha256=previous_sha256)


def sealed(
    opened: Mapping[str, object], *, salt: bytes, previous_sha256: str | None
) -> StoredRecord:
    """Return an open document sealed; members unknown to this version are sealed with it."""
    clean = cast("Document", plain(opened))
    private = cast("Document", clean.pop("private", None) or {})
    clean.pop("integrity", None)
    body, addresses = hidden(clean)
    document = cast("Document", body)
    document["private"] = {**private, "salt": salt.hex(), "addresses": addresses}
    document["private_sha256"] = _sha256(document["private"])
    document["integrity"] = {
        "canonical": CANONICAL,
        "sha256": None,
        "previous_sha256": previous_sha256,
        "public_key": None,
        "signature": None,
    }
    cast("Document", document["integrity"])["sha256"] = body_sha256(document)
    return StoredRecord(document=document, record=record_of(opened_of(document), "in memory"))


def opened_of(document: Mapping[str, object]) -> Document:
    """Return a sealed document with its addresses in place and its seal taken off."""
    private = document.get("private")
    body = {
        k: v for k, v in document.items() if k not in {"private", "private_sha256", "integrity"}
    }
    if not isinstance(private, Mapping):
        return body
    opened = cast("Document", shown(body, _addresses(private)))
    opened["private"] = {k: v for k, v in private.items() if k not in {"salt", "addresses"}}
    return opened


def _addresses(private: Mapping[str, object]) -> dict[str, str]:
    values = private.get("addresses")
    if not isinstance(values, Mapping):
        return {}
    return {token: value for token, value in values.items() if isinstance(value, str)}


def redact(stored: StoredRecord) -> StoredRecord:
    """Return the record without identity and addresses; the proof over what was measured stays."""
    private = stored.document.get("private")
    known = _addresses(private) if isinstance(private, Mapping) else {}
    document = {name: value for name, value in stored.document.items() if name != "private"}
    # The typed view may have been judged anew, so it is hidden by itself, with the same tokens.
    seen = {k: v for k, v in document_of(stored.record).items() if k != "private"}
    body = cast("Document", hidden(plain(seen), known)[0])
    return StoredRecord(document=document, record=record_of(body, "in memory"))


def body_sha256(document: Mapping[str, object]) -> str:
    """Return the hash of the body: all but `private`, and `integrity` without its own results."""
    body = {name: value for name, value in document.items() if name != "private"}
    block = body.get("integrity")
    if isinstance(block, Mapping):
        body["integrity"] = {k: v for k, v in block.items() if k not in UNHASHED}
    return _sha256(body)


def verify(document: Mapping[str, object]) -> Verification:
    """Return whether a record is unchanged and whole, and if not, why."""
    block = document.get("integrity")
    redacted = "private" not in document
    if not isinstance(block, Mapping) or not isinstance(block.get("sha256"), str):
        return Verification(whole=False, problems=("no-seal",), redacted=redacted)
    problems = tuple(_problems(document, block))
    return Verification(
        whole=not problems, problems=problems, redacted=redacted, sha256=block["sha256"]
    )


def _problems(document: Mapping[str, object], block: Mapping[str, object]) -> list[str]:
    problems = []
    if block.get("canonical") != CANONICAL:
        problems.append("canonical-form-unknown")
    try:
        problems += _changed(document, block)
    except (rfc8785.CanonicalizationError, UnicodeError, RecursionError):
        problems.append("not-canonical")
    if not is_record_id(str(document.get("record_id"))):
        problems.append("record-number-wrong")
    return problems


def _changed(document: Mapping[str, object], block: Mapping[str, object]) -> list[str]:
    problems = []
    if body_sha256(document) != block["sha256"]:
        problems.append("body-changed")
    if "private_sha256" not in document:
        problems.append("private-hash-missing")
    elif "private" in document and _sha256(document["private"]) != document["private_sha256"]:
        problems.append("private-changed")
    return problems


def salt_of(document: Mapping[str, object], path: str) -> bytes:
    """Return the salt of a sealed document; raises RecordError where the private part is gone."""
    private = document.get("private")
    try:
        return bytes.fromhex(cast("Mapping[str, str]", private)["salt"])
    except (TypeError, KeyError, ValueError) as error:
        raise RecordError(
            path=path,
            problem="its private part is missing",
            remedy="Use the record before it was redacted.",
        ) from error


def _sha256(value: Any) -> str:
    return hashlib.sha256(rfc8785.dumps(value)).hexdigest()
