"""HTTP over the tested line by httpx; the only place that knows httpx and httpcore.

Names are looked up through the names port, so that no request leaves by another line: httpx only
ever sees a literal address, the name travels in the Host field and in TLS. Redirects, cookies,
proxies and the environment are left alone.
"""

from __future__ import annotations

import ssl
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from typing import TYPE_CHECKING, Any

from agent import __version__
from agent.clock import Clock, SystemClock
from agent.engines.certificates import faulty_certificate, valid_certificate
from agent.engines.connecting import Deadline, DeadlineStream, Peer, connect, secure
from agent.errors import BadReply, CannotMeasure, ClosedEarly, TlsFault
from agent.measurements import Certificate
from agent.ports.binding import Binding
from agent.ports.http import HttpExchange, HttpRequest
from agent.ports.names import NamesPort
from agent.units import ms_from_s

if TYPE_CHECKING:
    import socket

    import httpcore
    import httpx

AGENT = f"doorstep/{__version__}"
# Enough for any honest answer; a header beyond it is cut, so that a record stays small.
MAX_HEADERS = 64
MAX_HEADER_TEXT = 2_048


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a URL leads once its name is looked up."""

    peer: Peer
    host: str
    authority: str
    target: str
    secure: bool
    literal_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenConnection:
    """A connection that httpx opened and no longer holds."""

    sock: socket.socket
    origin: Origin


@dataclass(slots=True)
class _Marks:
    """Monotonic seconds of what httpcore tells through its trace, and our own marks."""

    at: dict[str, float] = field(default_factory=dict)
    stream: DeadlineStream | None = None

    def since(self, first: str, last: str) -> float | None:
        """Return milliseconds between two marks, None where one is missing."""
        begun, done = self.at.get(first), self.at.get(last)
        return None if begun is None or done is None else ms_from_s(done - begun)


class HttpxEngine:
    """The HTTP port over one interface.

    `context` replaces the system's trust store, `congestion_control` pins the algorithm of every
    connection (Linux), `receive_buffer_bytes` its receive buffer and so its window; all are for
    networks that were built for a test.
    """

    def __init__(
        self,
        binding: Binding,
        names: NamesPort,
        *,
        context: ssl.SSLContext | None = None,
        congestion_control: str | None = None,
        receive_buffer_bytes: int | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._binding = binding
        self._names = names
        self._context = context
        self._congestion_control = congestion_control
        self._receive_buffer_bytes = receive_buffer_bytes
        self._clock = clock or SystemClock()
        # What a first request would load must not stand in its time.
        import_module("httpcore")
        import_module("httpx")

    @property
    def binding(self) -> Binding:
        """Return what every connection is tied to."""
        return self._binding

    @property
    def clock(self) -> Clock:
        """Return the clock whose monotonic seconds stamp everything."""
        return self._clock

    def fetch(self, request: HttpRequest, *, within_s: float) -> HttpExchange:
        """Make one request on a connection of its own; a failure is in the exchange's `fault`."""
        deadline = Deadline(self._clock, within_s)
        return _Fetch(self, request, deadline, self._clock).run()

    def open(self, url: str, *, token: str | None, within_s: float) -> OpenConnection:
        """Open a connection to a URL with one HEAD request and hand over its socket.

        Where the server does not keep the connection open afterwards, a second one is made that
        has carried no request. Raises CannotMeasure.
        """
        deadline = Deadline(self._clock, within_s)
        request = HttpRequest(url=url, method="HEAD", token=token)
        fetch = _Fetch(self, request, deadline, self._clock)
        with fetch.exchange() as response:
            origin, kept = fetch.origin, fetch.kept_open(response)
            sock = fetch.hand_over() if kept else None
        return OpenConnection(sock=sock or self.connect(origin, deadline), origin=origin)

    def connect(self, origin: Origin, deadline: Deadline) -> socket.socket:
        """Return a connection on which no request was made yet."""
        sock = self.dial(origin.peer, deadline)
        if not origin.secure:
            return sock
        return secure(sock, self.trust(), origin.host, origin.peer, deadline)

    def dial(self, peer: Peer, deadline: Deadline) -> socket.socket:
        """Return a TCP connection from the tested interface."""
        return connect(
            peer,
            self._binding,
            deadline,
            congestion_control=self._congestion_control,
            receive_buffer_bytes=self._receive_buffer_bytes,
        )

    def trust(self) -> ssl.SSLContext:
        """Return the context that checks certificates, made when first needed."""
        if self._context is None:
            self._context = ssl.create_default_context()
        return self._context

    def locate(self, url: str, family: int | None, deadline: Deadline) -> Origin:
        """Return where a URL leads, its name looked up over the line; raises CannotMeasure."""
        parsed = _parse(url)
        address = self.address(parsed.host, family, deadline)
        literal = parsed.copy_with(host=address, username=None, password=None, fragment=None)
        tls = parsed.scheme == "https"
        return Origin(
            peer=Peer(address=address, port=parsed.port or (443 if tls else 80)),
            host=parsed.host,
            authority=parsed.netloc.decode("ascii"),
            target=parsed.raw_path.decode("ascii"),
            secure=tls,
            literal_url=str(literal),
        )

    def address(self, host: str, family: int | None, deadline: Deadline) -> str:
        """Return the literal address of a name, looked up over the line; raises CannotMeasure."""
        families = (family,) if family else self._families(host)
        for last, wanted in enumerate(families, start=1 - len(families)):
            try:
                return self._names.resolve(host, wanted, deadline.left_s(host))[0]
            except CannotMeasure:
                if last == 0:
                    raise
        raise AssertionError

    def _families(self, host: str) -> tuple[int, ...]:
        if ":" in host:
            return (6,)
        if self._binding.interface is None or self._binding.ipv6 is None:
            return (4,)
        return (4, 6) if self._binding.ipv4 else (6,)


def _parse(url: str) -> httpx.URL:
    import httpx  # noqa: PLC0415 - heavy; only where a request is made

    try:
        parsed = httpx.URL(url)
    except httpx.InvalidURL as error:
        raise BadReply(address=url, problem=f"not a usable URL: {error}") from error
    if parsed.scheme not in {"http", "https"} or not parsed.host:
        raise BadReply(address=url, problem="not an http or https URL")
    return parsed


class _Fetch:
    """One request: the backend of its connection pool, and the translator of its faults."""

    def __init__(
        self, engine: HttpxEngine, request: HttpRequest, deadline: Deadline, clock: Clock
    ) -> None:
        self._engine = engine
        self._request = request
        self._deadline = deadline
        self._clock = clock
        self._marks = _Marks()
        self._origin: Origin | None = None
        self._told: dict[str, Any] = {}

    @property
    def origin(self) -> Origin:
        """Return where the URL led; only after the look-up."""
        assert self._origin is not None
        return self._origin

    def run(self) -> HttpExchange:
        """Return the exchange, its fault inside."""
        self._mark("begin")
        fault: CannotMeasure | None = None
        try:
            with self.exchange() as response:
                self._read(response)
        except CannotMeasure as error:
            fault = error
        self._mark("end")
        return self._exchange(fault)

    @contextmanager
    def exchange(self) -> Iterator[httpx.Response]:
        """Yield the answer once its head has come; raises CannotMeasure, here and for its body."""
        import httpcore  # noqa: PLC0415 - heavy; only where a request is made
        import httpx  # noqa: PLC0415

        try:
            self._locate()
            with self._client() as client, self._answer(client) as response:
                self._note_head(response)
                yield response
        except (httpcore.ProtocolError, httpx.HTTPError, httpx.InvalidURL) as error:
            raise self._foreign(error) from error

    def hand_over(self) -> socket.socket:
        """Return the socket of the answer, which the HTTP layer will not close."""
        assert self._marks.stream is not None
        return self._marks.stream.hand_over()

    def kept_open(self, response: httpx.Response) -> bool:
        """Return whether the connection may carry another request (RFC 9112 §9.3)."""
        wishes = response.headers.get("connection", "").lower()
        return response.http_version == "HTTP/1.1" and "close" not in wishes

    def connect_tcp(
        self,
        host: str,
        port: int,
        timeout: float | None = None,  # noqa: ARG002 - the deadline rules
        local_address: str | None = None,  # noqa: ARG002 - the binding rules
        socket_options: object = None,  # noqa: ARG002
    ) -> DeadlineStream:
        """Open the connection on httpcore's behalf."""
        peer = Peer(address=host, port=port)
        sock = self._engine.dial(peer, self._deadline)
        return self._keep(DeadlineStream(sock, peer, self._deadline, self._clock.monotonic_s))

    def _keep(self, stream: DeadlineStream) -> DeadlineStream:
        self._marks.stream = stream
        return stream

    def _locate(self) -> None:
        self._mark("lookup.started")
        self._origin = self._engine.locate(self._request.url, self._request.family, self._deadline)
        self._mark("lookup.complete")

    def _client(self) -> httpx.Client:
        import httpcore  # noqa: PLC0415
        import httpx  # noqa: PLC0415

        pool = httpcore.ConnectionPool(
            ssl_context=self._engine.trust() if self.origin.secure else _unused_context(),
            network_backend=self,  # type: ignore[arg-type]  # the one method that is called
            http2=self._request.http2,
        )
        return httpx.Client(transport=_transport(pool), trust_env=False)

    @contextmanager
    def _answer(self, client: httpx.Client) -> Iterator[httpx.Response]:
        headers = {
            "Host": self.origin.authority,
            "User-Agent": AGENT,
            "Accept": self._request.accept,
            "Accept-Encoding": "identity",
        }
        if self._request.padding_bytes:
            headers["Doorstep-Padding"] = "0" * self._request.padding_bytes
        if self._request.token is not None:
            headers["Authorization"] = f"Bearer {self._request.token}"
        extensions = {"sni_hostname": self.origin.host, "trace": self._trace}
        with client.stream(
            self._request.method, self.origin.literal_url, headers=headers, extensions=extensions
        ) as response:
            yield response

    def _trace(self, event: str, info: dict[str, Any]) -> None:
        self._mark(event)
        stream = info.get("return_value")
        if isinstance(stream, DeadlineStream):
            self._keep(stream)
        if event == "connection.start_tls.complete" and self._marks.stream is not None:
            sock = self._marks.stream.get_extra_info("ssl_object")
            self._told["certificate"] = (
                valid_certificate(sock) if isinstance(sock, ssl.SSLSocket) else None
            )

    def _note_head(self, response: httpx.Response) -> None:
        self._told["status"] = response.status_code
        pairs = response.headers.multi_items()[:MAX_HEADERS]
        self._told["headers"] = tuple((k[:MAX_HEADER_TEXT], v[:MAX_HEADER_TEXT]) for k, v in pairs)

    def _read(self, response: httpx.Response) -> None:
        body = bytearray()
        limit = self._request.max_bytes
        try:
            for chunk in response.iter_raw():
                body += chunk
                if len(body) > limit:
                    self._told["cut"] = True
                    break
        finally:
            self._told["body"] = bytes(body[:limit])

    def _foreign(self, error: Exception) -> CannotMeasure:
        address = self.origin.peer.address if self._origin else self._request.url
        stream = self._marks.stream
        if stream is not None and stream.ended:
            return ClosedEarly(address=address, bytes=stream.received)
        return BadReply(address=address, problem=str(error) or type(error).__name__)

    def _exchange(self, fault: CannotMeasure | None) -> HttpExchange:
        marks = self._marks
        if marks.stream is not None and marks.stream.first_byte_s is not None:
            marks.at["first"] = marks.stream.first_byte_s
        if isinstance(fault, TlsFault) and "certificate" not in self._told:
            self._told["certificate"] = self._shown(fault)
        return HttpExchange(
            url=self._request.url,
            remote=self._origin.peer.address if self._origin else None,
            family=self._origin.peer.family if self._origin else None,
            lookup_ms=marks.since("lookup.started", "lookup.complete"),
            connect_ms=marks.since(
                "connection.connect_tcp.started", "connection.connect_tcp.complete"
            ),
            tls_ms=marks.since("connection.start_tls.started", "connection.start_tls.complete"),
            first_byte_ms=marks.since("http11.send_request_headers.started", "first"),
            transfer_ms=marks.since("first", "end") if fault is None else None,
            total_ms=marks.since("begin", "end") if fault is None else None,
            fault=fault,
            **self._told,
        )

    def _shown(self, fault: TlsFault) -> Certificate | None:
        def handshake(context: ssl.SSLContext) -> ssl.SSLSocket:
            sock = self._engine.dial(self.origin.peer, self._deadline)
            return secure(sock, context, self.origin.host, self.origin.peer, self._deadline)

        return faulty_certificate(fault, handshake)

    def _mark(self, event: str) -> None:
        self._marks.at[event] = self._clock.monotonic_s()


def _unused_context() -> ssl.SSLContext:
    """Return an empty context; without one httpcore loads the system's roots for plain HTTP."""
    return ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)


def _transport(pool: httpcore.ConnectionPool) -> httpx.BaseTransport:
    """Return a transport over a pool of our own: httpx itself takes no network backend."""
    import httpcore  # noqa: PLC0415
    import httpx  # noqa: PLC0415

    class Body(httpx.SyncByteStream):
        def __init__(self, inner: Any) -> None:
            self._inner = inner

        def __iter__(self) -> Iterator[bytes]:
            yield from self._inner

        def close(self) -> None:
            self._inner.close()

    class BoundTransport(httpx.BaseTransport):
        def handle_request(self, request: httpx.Request) -> httpx.Response:
            url = request.url
            answer = pool.handle_request(
                httpcore.Request(
                    method=request.method,
                    url=httpcore.URL(
                        scheme=url.raw_scheme,
                        host=url.raw_host,
                        port=url.port,
                        target=url.raw_path,
                    ),
                    headers=request.headers.raw,
                    content=request.stream,
                    extensions=request.extensions,
                )
            )
            return httpx.Response(
                answer.status,
                headers=answer.headers,
                stream=Body(answer.stream),
                extensions=answer.extensions,
            )

        def close(self) -> None:
            pool.close()

    return BoundTransport()
