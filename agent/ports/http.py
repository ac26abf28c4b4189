"""One HTTP request over the tested line, with its phases; a scripted fake beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from agent.errors import CannotMeasure
from agent.measurements import Certificate


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpRequest:
    """What to ask: `token` becomes a bearer token (RFC 6750 §2.1), `max_bytes` bounds the body.

    `family` 4 or 6 picks the addresses of a name; None takes IPv4, else IPv6. `accept` is what
    the answer may be (RFC 9110 §12.5.1). `padding_bytes` more are sent, so that the request fills
    a packet. With `http2` that version is spoken where the server picks it (RFC 9113 §3.2).
    """

    url: str
    method: str = "GET"
    token: str | None = field(default=None, repr=False)
    max_bytes: int = 262_144
    family: int | None = None
    accept: str = "*/*"
    padding_bytes: int = 0
    http2: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpExchange:
    """What came of one request; phases in milliseconds, None where one was not reached.

    `first_byte_ms` runs from the request's first byte out to the answer's first byte in (W3C
    Resource Timing: responseStart - requestStart), `transfer_ms` from there to its last byte
    (responseEnd - responseStart); `total_ms` from the call to the last byte.
    `cut` says that the body was longer than allowed. `fault` says why there is no whole answer.
    """

    url: str
    remote: str | None = None
    family: int | None = None
    status: int | None = None
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""
    cut: bool = False
    lookup_ms: float | None = None
    connect_ms: float | None = None
    tls_ms: float | None = None
    first_byte_ms: float | None = None
    transfer_ms: float | None = None
    total_ms: float | None = None
    certificate: Certificate | None = None
    fault: CannotMeasure | None = None

    def header(self, name: str) -> str | None:
        """Return the first header of a name (any case), None where there is none."""
        wanted = name.lower()
        return next((value for key, value in self.headers if key.lower() == wanted), None)

    def checked(self) -> HttpExchange:
        """Return the exchange itself; raises its fault."""
        if self.fault is not None:
            raise self.fault
        return self


class HttpPort(Protocol):
    """Single requests: no redirects followed, no environment consulted, everything bounded."""

    def fetch(self, request: HttpRequest, *, within_s: float) -> HttpExchange:
        """Make one request on a connection of its own; a failure is in the exchange's `fault`."""
        ...


@dataclass
class ScriptedHttp:
    """A fake that answers by a function of the request and remembers what was asked."""

    answer: Callable[[HttpRequest], HttpExchange]
    asked: list[HttpRequest] = field(default_factory=list)
    waits_s: list[float] = field(default_factory=list)

    def fetch(self, request: HttpRequest, *, within_s: float) -> HttpExchange:
        """Return what the script answers."""
        self.asked.append(request)
        self.waits_s.append(within_s)
        return self.answer(request)
