"""One request head off the wire, bounded in size and time; h11 does the grammar (RFC 9112)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import parse_qsl

import h11

from agent.clock import Clock
from agent.server.options import Patience
from agent.server.refusal import RefusedRequest
from agent.server.wire import Wire

MAX_HEAD_BYTES = 16_384
MAX_QUERY_FIELDS = 8
_READ = 4_096
_ABSOLUTE = re.compile(r"https?://[^/?#]*", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One request; `body_bytes` None where the head states no length, `rest` was read past it."""

    method: str
    path: str
    query: Mapping[str, str] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    keep: bool = True
    body_bytes: int | None = None
    chunked: bool = False
    rest: bytes = b""

    @property
    def expects_continue(self) -> bool:
        """Return True where the client waits before it sends the body (RFC 9110 §10.1.1)."""
        return self.headers.get("expect", "").lower() == "100-continue" and not self.rest

    @property
    def has_body(self) -> bool:
        """Return True where a body follows the head."""
        return self.chunked or bool(self.body_bytes)


def read_head(wire: Wire, early: bytes, patience: Patience, clock: Clock) -> Request | None:
    """Return the next request, None where the client has no more to ask.

    `early` are bytes read with the request before. Raises RefusedRequest for a head that is too
    large, too slow or no HTTP.
    """
    first = early or _first_bytes(wire, clock.monotonic_s() + patience.idle_s)
    if not first:
        return None
    grammar = h11.Connection(h11.SERVER, max_incomplete_event_size=MAX_HEAD_BYTES)
    until_s = clock.monotonic_s() + patience.head_s
    try:
        return _parsed(wire, grammar, first, until_s)
    except h11.RemoteProtocolError as error:
        raise RefusedRequest(error.error_status_hint, _code(error.error_status_hint)) from error
    except TimeoutError as error:
        raise RefusedRequest(408, "slow-head") from error


def _first_bytes(wire: Wire, until_s: float) -> bytes:
    try:
        return wire.receive(_READ, until_s)
    except TimeoutError:
        return b""


def _parsed(wire: Wire, grammar: h11.Connection, first: bytes, until_s: float) -> Request | None:
    data = first
    while True:
        grammar.receive_data(data)
        event = grammar.next_event()
        if isinstance(event, h11.Request):
            return _request(event, grammar.trailing_data[0])
        if event is not h11.NEED_DATA:
            return None
        data = wire.receive(_READ, until_s)
        if not data:
            return None


def _request(event: h11.Request, rest: bytes) -> Request:
    headers = {name.decode("ascii"): value.decode("latin-1") for name, value in event.headers}
    path, _, query = _ABSOLUTE.sub("", event.target.decode("ascii"), count=1).partition("?")
    length = headers.get("content-length")
    return Request(
        method=event.method.decode("ascii"),
        path=path,
        query=_fields(query),
        headers=headers,
        keep=event.http_version >= b"1.1" and "close" not in headers.get("connection", "").lower(),
        body_bytes=None if length is None else int(length),
        chunked="transfer-encoding" in headers,
        rest=rest,
    )


def _fields(query: str) -> Mapping[str, str]:
    try:
        return dict(parse_qsl(query, max_num_fields=MAX_QUERY_FIELDS))
    except ValueError as error:
        raise RefusedRequest(400, "bad-query") from error


def _code(status: int) -> str:
    return {431: "head-too-large", 501: "not-implemented"}.get(status, "bad-request")
