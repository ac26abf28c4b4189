"""Looking up names over the tested line: own sockets, dnspython only to read and write messages."""

from __future__ import annotations

import errno
import socket
from dataclasses import replace
from ipaddress import ip_address

import dns.message
import dns.rcode

from agent.clock import Clock, SystemClock
from agent.engines.connecting import Deadline, Peer, bind, connect, sockaddr, translate
from agent.engines.name_messages import read_answer, write_question
from agent.engines.name_streams import ask_stream, outcome_of
from agent.errors import CannotMeasure, NameNotResolved, TimedOut
from agent.measurements import NameOutcome, NameTransport
from agent.ports.binding import Binding
from agent.ports.names import NameAnswer, NameQuestion
from agent.units import ms_from_s

PORT = 53
LARGEST_UDP = 4096
FIRST_ROUND = 3
"""The first round over the resolvers takes a third of the time; the second gets the rest."""

QTYPES = {4: "A", 6: "AAAA"}
SETTLED = (dns.rcode.NOERROR, dns.rcode.NXDOMAIN)
GONE = {errno.ENETUNREACH, errno.EHOSTUNREACH, errno.ENETDOWN, errno.EHOSTDOWN}


class BoundNames:
    """Queries with random identifiers from random ports of the tested interface (RFC 5452 §9).

    `port` is 53 but for tests. Resolvers are literal addresses, in the order they are asked.
    """

    def __init__(
        self,
        binding: Binding,
        resolvers: tuple[str, ...],
        *,
        clock: Clock | None = None,
        port: int = PORT,
    ) -> None:
        self._binding = binding
        self._resolvers = resolvers
        self._clock = clock or SystemClock()
        self._port = port

    def query(self, resolver: str, name: str, qtype: str, within_s: float) -> NameAnswer:
        """Send one query over UDP and wait for its answer; see `ask`."""
        return self.ask(NameQuestion(resolver=resolver, name=name, qtype=qtype), within_s)

    def ask(self, question: NameQuestion, within_s: float) -> NameAnswer:
        """Send one query over UDP or TCP and wait for its answer.

        Everything the resolver or the way does is an outcome. Raises NameNotResolved for a name
        that cannot be asked, and CannotMeasure kinds where this laptop cannot send at all.
        """
        query, peer = write_question(question), self._peer(question.resolver)
        deadline = Deadline(self._clock, within_s)
        if question.transport is NameTransport.TCP:
            return self._over_tcp(query, peer, deadline)
        try:
            with self._socket(peer) as sock:
                return self._over_udp(sock, query, peer, deadline)
        except OSError as error:
            if error.errno in GONE:
                return NameAnswer(outcome=NameOutcome.UNREACHABLE)
            raise translate(error, peer.address, after_s=within_s) from error

    def resolve(self, name: str, family: int, within_s: float) -> tuple[str, ...]:
        """Return the addresses of a name, asking the line's resolvers in turn.

        A literal address is returned as it is. Every resolver is tried before one is tried again
        (RFC 1035 §4.2.1). Raises NameNotResolved.
        """
        literal = _literal(name)
        if literal is not None:
            if literal == family:
                return (name,)
            raise NameNotResolved(name=name, problem=f"it is no IPv{family} address")
        deadline = Deadline(self._clock, within_s)
        problem = "no resolver answered" if self._resolvers else "this line names no resolver"
        for number, resolver in enumerate(self._resolvers * 2):
            asked = NameQuestion(resolver=resolver, name=name, qtype=QTYPES[family])
            try:
                answer = self._settle(asked, self._share_s(number, deadline))
            except NameNotResolved:
                raise
            except CannotMeasure as error:
                problem = error.code
                continue
            if answer.addresses:
                return answer.addresses
            problem = _problem(answer, resolver, family)
            if answer.rcode in SETTLED:
                break
        raise NameNotResolved(name=name, problem=problem)

    def _share_s(self, number: int, deadline: Deadline) -> float:
        """Return the seconds that one try may take; both rounds share the time evenly."""
        count = len(self._resolvers)
        if number < count:
            return deadline.within_s / (FIRST_ROUND * count)
        return deadline.left_s("resolver") / (2 * count - number)

    def _settle(self, asked: NameQuestion, within_s: float) -> NameAnswer:
        """Return the answer over UDP, or over TCP where it was cut (RFC 1035 §4.2.1)."""
        answer = self.ask(asked, within_s)
        if not answer.truncated:
            return answer
        return self.ask(replace(asked, transport=NameTransport.TCP), within_s)

    def _peer(self, resolver: str) -> Peer:
        if _literal(resolver) is None:
            raise NameNotResolved(name=resolver, problem="a resolver is given by its address")
        return Peer(address=resolver, port=self._port)

    def _socket(self, peer: Peer) -> socket.socket:
        family = socket.AF_INET6 if peer.family == 6 else socket.AF_INET
        sock = socket.socket(family, socket.SOCK_DGRAM)
        try:
            bind(sock, self._binding, peer)
            # Connected, so that only what comes from this address and port is ever read.
            sock.connect(sockaddr(peer))
        except (OSError, CannotMeasure):
            sock.close()
            raise
        return sock

    def _over_udp(
        self, sock: socket.socket, query: dns.message.Message, peer: Peer, deadline: Deadline
    ) -> NameAnswer:
        sent_s = self._clock.monotonic_s()
        foreign = 0
        try:
            sock.send(query.to_wire())
            while True:
                sock.settimeout(deadline.left_s(peer.address))
                data = sock.recv(LARGEST_UDP)
                rtt_ms = ms_from_s(self._clock.monotonic_s() - sent_s)
                answer = read_answer(data, query)
                if answer is not None:
                    return replace(answer, rtt_ms=rtt_ms, foreign=foreign)
                foreign += 1
        except (TimeoutError, TimedOut):
            outcome = NameOutcome.MALFORMED if foreign else NameOutcome.LOST
            return NameAnswer(outcome=outcome, foreign=foreign)
        except ConnectionRefusedError:
            return NameAnswer(outcome=NameOutcome.REFUSED, foreign=foreign)

    def _over_tcp(self, query: dns.message.Message, peer: Peer, deadline: Deadline) -> NameAnswer:
        begun_s = self._clock.monotonic_s()
        try:
            with connect(peer, self._binding, deadline) as sock:
                setup_ms = ms_from_s(self._clock.monotonic_s() - begun_s)
                answer = ask_stream(sock, query, peer, deadline, self._clock)
        except CannotMeasure as error:
            return NameAnswer(outcome=outcome_of(error))
        return replace(answer, setup_ms=setup_ms)


def _problem(answer: NameAnswer, resolver: str, family: int) -> str:
    """Return why an answer holds no address."""
    if answer.rcode is None:
        return f"{resolver}: {answer.outcome}"
    known = {dns.rcode.NOERROR: f"no IPv{family} address", dns.rcode.NXDOMAIN: "no such name"}
    rcode = dns.rcode.Rcode(answer.rcode)
    return known.get(rcode, f"{resolver} answers {dns.rcode.to_text(rcode)}")


def _literal(name: str) -> int | None:
    try:
        return ip_address(name.partition("%")[0]).version
    except ValueError:
        return None
