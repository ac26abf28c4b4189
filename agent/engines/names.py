"""Looking up names over the tested line: own sockets, dnspython only to read and write messages."""

from __future__ import annotations

import errno
import secrets
import socket
from dataclasses import replace
from ipaddress import ip_address

import dns.exception
import dns.flags
import dns.message
import dns.rcode
import dns.rdatatype

from agent.clock import Clock, SystemClock
from agent.engines.connecting import Deadline, Peer, bind, connect, translate
from agent.errors import CannotMeasure, NameNotResolved, TimedOut
from agent.measurements import NameOutcome
from agent.ports.binding import Binding
from agent.ports.names import NameAnswer
from agent.units import ms_from_s

PORT = 53
LARGEST_UDP = 4096
LARGEST_TCP = 65535
MOST_ADDRESSES = 16
FIRST_ROUND = 3
"""The first round over the resolvers takes a third of the time; the second gets the rest."""

QTYPES = {4: "A", 6: "AAAA"}
ADDRESS_TYPES = (dns.rdatatype.A, dns.rdatatype.AAAA)
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
        """Send one query over UDP and wait for its answer.

        Everything the resolver or the way does is an outcome. Raises NameNotResolved for a name
        that cannot be asked, and CannotMeasure kinds where this laptop cannot send at all.
        """
        question = _question(name, qtype)
        deadline = Deadline(self._clock, within_s)
        try:
            with self._socket(resolver) as sock:
                return self._ask(sock, question, resolver, deadline)
        except OSError as error:
            if error.errno in GONE:
                return NameAnswer(outcome=NameOutcome.UNREACHABLE)
            raise translate(error, resolver, after_s=within_s) from error

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
            try:
                answer = self._settle(resolver, name, family, self._share_s(number, deadline))
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

    def _settle(self, resolver: str, name: str, family: int, within_s: float) -> NameAnswer:
        """Return the answer over UDP, or over TCP where it was cut (RFC 1035 §4.2.1)."""
        answer = self.query(resolver, name, QTYPES[family], within_s)
        return self._over_tcp(resolver, name, family, within_s) if answer.truncated else answer

    def _socket(self, resolver: str) -> socket.socket:
        if _literal(resolver) is None:
            raise NameNotResolved(name=resolver, problem="a resolver is given by its address")
        peer = Peer(address=resolver, port=self._port)
        family = socket.AF_INET6 if peer.family == 6 else socket.AF_INET
        sock = socket.socket(family, socket.SOCK_DGRAM)
        try:
            bind(sock, self._binding, peer)
            sock.connect((resolver, self._port))
        except (OSError, CannotMeasure):
            sock.close()
            raise
        return sock

    def _ask(
        self,
        sock: socket.socket,
        question: dns.message.Message,
        resolver: str,
        deadline: Deadline,
    ) -> NameAnswer:
        wire = question.to_wire()
        sent_s = self._clock.monotonic_s()
        outcome = NameOutcome.LOST
        try:
            sock.send(wire)
            while True:
                sock.settimeout(deadline.left_s(resolver))
                data = sock.recv(LARGEST_UDP)
                rtt_ms = ms_from_s(self._clock.monotonic_s() - sent_s)
                answer = read_answer(data, question)
                if answer is not None:
                    return replace(answer, rtt_ms=rtt_ms)
                outcome = NameOutcome.MALFORMED
        except (TimeoutError, TimedOut):
            return NameAnswer(outcome=outcome)
        except ConnectionRefusedError:
            return NameAnswer(outcome=NameOutcome.REFUSED)

    def _over_tcp(self, resolver: str, name: str, family: int, within_s: float) -> NameAnswer:
        question = _question(name, QTYPES[family])
        deadline = Deadline(self._clock, within_s)
        try:
            with connect(Peer(address=resolver, port=self._port), self._binding, deadline) as sock:
                wire = question.to_wire()
                sock.sendall(len(wire).to_bytes(2, "big") + wire)
                size = int.from_bytes(_exactly(sock, 2, resolver, deadline), "big")
                answer = read_answer(_exactly(sock, size, resolver, deadline), question)
        except OSError as error:
            raise translate(error, resolver, after_s=within_s) from error
        return answer or NameAnswer(outcome=NameOutcome.MALFORMED)


def read_answer(data: bytes, question: dns.message.Message) -> NameAnswer | None:
    """Return the answer to a question; None for anything else, however broken."""
    try:
        message = dns.message.from_wire(data, ignore_trailing=True, raise_on_truncation=False)
        if message.id != question.id or not question.is_response(message):
            return None
        return _answer(message, question.question[0].rdtype)
    except (dns.exception.DNSException, ValueError, IndexError, KeyError, AttributeError):
        return None


def _answer(message: dns.message.Message, qtype: dns.rdatatype.RdataType) -> NameAnswer:
    found = (item.to_text() for rrset in message.answer if rrset.rdtype == qtype for item in rrset)
    texts = tuple(found)[:MOST_ADDRESSES]
    return NameAnswer(
        outcome=NameOutcome.ANSWERED,
        rcode=int(message.rcode()),
        addresses=texts if qtype in ADDRESS_TYPES else (),
        names=tuple(t.rstrip(".") for t in texts) if qtype == dns.rdatatype.PTR else (),
        authenticated=bool(message.flags & dns.flags.AD),
        truncated=bool(message.flags & dns.flags.TC),
    )


def _question(name: str, qtype: str) -> dns.message.Message:
    """Return a query that asks to be told of validation: AD without DO (RFC 6840 §5.7)."""
    try:
        query = dns.message.make_query(name, qtype)
    except (dns.exception.DNSException, ValueError) as error:
        raise NameNotResolved(name=name, problem=f"no valid name: {error}") from error
    query.id = secrets.randbelow(1 << 16)
    query.flags |= dns.flags.AD
    return query


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


def _exactly(sock: socket.socket, size: int, resolver: str, deadline: Deadline) -> bytes:
    """Return `size` bytes before the deadline; a close before is a connection error."""
    data = bytearray()
    while len(data) < size:
        sock.settimeout(deadline.left_s(resolver))
        part = sock.recv(min(size - len(data), LARGEST_TCP))
        if not part:
            raise ConnectionResetError(errno.ECONNRESET, "closed before the answer ended")
        data += part
    return bytes(data)
