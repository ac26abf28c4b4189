"""Answer heads and small JSON answers as bytes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from http import HTTPStatus

from agent.codec.document import write_document
from agent.server.refusal import RefusedRequest

CONTINUE = b"HTTP/1.1 100 Continue\r\n\r\n"
# A proxy or a mobile network that stores or rewrites a body would falsify what is measured.
_ALWAYS = (
    ("Cache-Control", "no-store, no-transform"),
    ("X-Content-Type-Options", "nosniff"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A status and one JSON object."""

    document: Mapping[str, object]
    status: int = 200
    headers: tuple[tuple[str, str], ...] = ()


def of_refusal(refused: RefusedRequest) -> Answer:
    """Return the answer a refusal stands for."""
    return Answer(
        document=refused.refusal.to_document(), status=refused.status, headers=refused.headers
    )


def write_answer(answer: Answer, *, keep: bool, body: bool = True) -> bytes:
    """Return a whole JSON answer; without its body for HEAD."""
    content = write_document(answer.document)
    head = write_head(
        answer.status,
        (("Content-Type", "application/json"), *answer.headers),
        length=len(content),
        keep=keep,
    )
    return head + content if body else head


def write_head(
    status: int, headers: Iterable[tuple[str, str]], *, length: int | None, keep: bool
) -> bytes:
    """Return an answer head (RFC 9112 §4) for a body of `length` bytes.

    None is for a status that has no body and must not tell a length (RFC 9110 §8.6).
    """
    lines = [f"HTTP/1.1 {status} {HTTPStatus(status).phrase}"]
    if length is not None:
        lines.append(f"Content-Length: {length}")
    lines += [f"{name}: {value}" for name, value in (*headers, *_ALWAYS)]
    lines.append(f"Connection: {'keep-alive' if keep else 'close'}")
    return ("\r\n".join(lines) + "\r\n\r\n").encode("ascii")
