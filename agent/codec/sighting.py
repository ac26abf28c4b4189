"""Asking the operator's server how it sees the asker: one packet there, one back.

Our own form, no standard: a question is ASK_BYTES octets, `doorstep ask TOKEN` and spaces; the
answer is one line, `doorstep seen TOKEN ADDRESS PORT`. It is never longer than the question, so
that nobody gains by asking in another's name, and never a question itself, so that two servers
cannot keep each other busy.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from ipaddress import ip_address

from agent.errors import MalformedMessage

ASK_BYTES = 96
TOKEN_BYTES = 8

_ASK = re.compile(rb"doorstep ask ([0-9a-f]{16}) +")
_SEEN = re.compile(rb"doorstep seen ([0-9a-f]{16}) ([0-9A-Fa-f.:]{2,45}) ([0-9]{1,5})\n")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """The asker's address and port as the server saw them."""

    address: str
    port: int


def encode_ask(token: bytes) -> bytes:
    """Return a question; the token of TOKEN_BYTES comes back in its answer."""
    return f"doorstep ask {token.hex()}".encode().ljust(ASK_BYTES)


def decode_ask(data: bytes) -> bytes:
    """Return the token of a question; raises MalformedMessage."""
    found = _ASK.fullmatch(data)
    if found is None or len(data) != ASK_BYTES:
        raise _malformed("it is no question")
    return bytes.fromhex(found[1].decode())


def encode_seen(token: bytes, seen: Seen) -> bytes:
    """Return the answer to a question."""
    return f"doorstep seen {token.hex()} {seen.address} {seen.port}\n".encode()


def decode_seen(data: bytes, token: bytes) -> Seen:
    """Return what an answer to the question with this token says; raises MalformedMessage."""
    found = _SEEN.fullmatch(data)
    if found is None or len(data) > ASK_BYTES:
        raise _malformed("it is no answer")
    if bytes.fromhex(found[1].decode()) != token:
        raise _malformed("it answers another question")
    try:
        address = ip_address(found[2].decode())
    except ValueError as error:
        raise _malformed("its address is none") from error
    port = int(found[3])
    if not 0 < port <= 65535:
        raise _malformed("its port is none")
    return Seen(address=str(address), port=port)


def _malformed(problem: str) -> MalformedMessage:
    return MalformedMessage(message="sighting", offset=0, problem=problem)
