"""An encrypted resolver over the tested line: DNS over TLS and over HTTPS.

RFC 7858 and RFC 8484; the certificate must be that of the resolver's name (RFC 8310 §8.1).
"""

from __future__ import annotations

import base64
import ssl
from dataclasses import replace

import dns.message

from agent.clock import Clock, SystemClock
from agent.engines.connecting import Deadline, Peer, connect, secure
from agent.engines.name_messages import read_answer, write_question
from agent.engines.name_streams import ask_stream, outcome_of
from agent.errors import CannotMeasure
from agent.measurements import NameOutcome, NameTransport
from agent.ports.binding import Binding
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.names import NameAnswer, NameQuestion, NamesPort
from agent.units import ms_from_s

TLS_PORT, HTTPS_PORT = 853, 443
MEDIA_TYPE = "application/dns-message"
LARGEST_MESSAGE = 65_535
OK = 200


class EncryptedNames:
    """Queries to a resolver by its name, each on a connection of its own.

    `port` None is 853 for TLS (RFC 7858 §3.1) and 443 for HTTPS; `path` is that of RFC 8484's
    template. `context` replaces the system's trust store, for networks built for a test.
    """

    def __init__(
        self,
        binding: Binding,
        names: NamesPort,
        http: HttpPort,
        *,
        port: int | None = None,
        path: str = "/dns-query",
        context: ssl.SSLContext | None = None,
        clock: Clock | None = None,
    ) -> None:
        self._binding = binding
        self._names = names
        self._http = http
        self._port = port
        self._path = path
        self._context = context
        self._clock = clock or SystemClock()

    def ask(self, question: NameQuestion, within_s: float) -> NameAnswer:
        """Send one query over TLS or HTTPS; see `AskingPort`.

        Raises NameNotResolved also where the resolver's own name cannot be looked up.
        """
        query = write_question(question)
        try:
            if question.transport is NameTransport.HTTPS:
                return self._over_https(question.resolver, query, within_s)
            return self._over_tls(question.resolver, query, Deadline(self._clock, within_s))
        except CannotMeasure as error:
            problem = error.fields.get("kind")
            return NameAnswer(
                outcome=outcome_of(error), problem=None if problem is None else str(problem)
            )

    def _over_tls(self, host: str, query: dns.message.Message, deadline: Deadline) -> NameAnswer:
        peer = Peer(address=self._address(host, deadline), port=self._port or TLS_PORT)
        begun_s = self._clock.monotonic_s()
        plain = connect(peer, self._binding, deadline)
        with secure(plain, self._trust(), host, peer, deadline) as sock:
            setup_ms = ms_from_s(self._clock.monotonic_s() - begun_s)
            answer = ask_stream(sock, query, peer, deadline, self._clock)
        return replace(answer, setup_ms=setup_ms)

    def _over_https(self, host: str, query: dns.message.Message, within_s: float) -> NameAnswer:
        # RFC 8484 §4.1: identifier 0, so that caches of HTTP can help.
        query.id = 0
        wire = base64.urlsafe_b64encode(query.to_wire()).rstrip(b"=").decode()
        place = f"[{host}]" if ":" in host else host
        url = f"https://{place}:{self._port or HTTPS_PORT}{self._path}?dns={wire}"
        # RFC 8484 §5.2: HTTP/2 is the least that is recommended, and some resolvers speak no less.
        request = HttpRequest(url=url, accept=MEDIA_TYPE, max_bytes=LARGEST_MESSAGE, http2=True)
        exchange = self._http.fetch(request, within_s=within_s).checked()
        answer = read_answer(exchange.body, query) if _is_message(exchange) else None
        if answer is None:
            return NameAnswer(outcome=NameOutcome.MALFORMED, foreign=1)
        setup_ms = (exchange.connect_ms or 0.0) + (exchange.tls_ms or 0.0)
        before_ms = (exchange.lookup_ms or 0.0) + setup_ms
        whole_ms = exchange.total_ms
        rtt_ms = None if whole_ms is None else whole_ms - before_ms
        return replace(answer, setup_ms=setup_ms, rtt_ms=rtt_ms)

    def _address(self, host: str, deadline: Deadline) -> str:
        has_4 = self._binding.interface is None or self._binding.ipv4 is not None
        family = 6 if ":" in host or not has_4 else 4
        return self._names.resolve(host, family, deadline.left_s(host))[0]

    def _trust(self) -> ssl.SSLContext:
        if self._context is None:
            self._context = ssl.create_default_context()
        return self._context


def _is_message(exchange: HttpExchange) -> bool:
    kind = (exchange.header("Content-Type") or "").partition(";")[0].strip().lower()
    return exchange.status == OK and kind == MEDIA_TYPE
