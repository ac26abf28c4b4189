"""Answers of resolvers from a foreign coder (dnspython), and the readers they are thrown at."""

from __future__ import annotations

import dns.edns
import dns.flags
import dns.message
import dns.rrset

from agent.clock import ManualClock
from agent.engines import connecting, name_secure, name_streams
from agent.measurements import NameTransport
from agent.ports.binding import Binding
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.names import NameQuestion


def question(identifier: int = 4711) -> dns.message.Message:
    asked = dns.message.make_query("harbour.example", "A")
    asked.id = identifier
    return asked


def answers(asked: dns.message.Message | None = None) -> tuple[bytes, ...]:
    """Return answers of a foreign coder (dnspython): a chain, none such, cut, and refused.

    The refusal has the OPT record of RFC 6891 §6.1.2 with an extended error (RFC 8914 §2).
    """
    asked = asked or question()
    reply = dns.message.make_response(asked)
    reply.answer += [
        dns.rrset.from_text("harbour.example.", 60, "IN", "CNAME", "quay.example."),
        dns.rrset.from_text("quay.example.", 60, "IN", "A", "192.0.2.10", "192.0.2.11"),
    ]
    reply.additional += [dns.rrset.from_text("quay.example.", 60, "IN", "TXT", '"tide"')]
    empty = dns.message.make_response(asked)
    empty.set_rcode(3)
    soa = "ns.example. desk.example. 1 7200 3600 1209600 1200"
    empty.authority.append(dns.rrset.from_text("example.", 86_400, "IN", "SOA", soa))
    cut = dns.message.make_response(asked)
    cut.flags |= dns.flags.TC | dns.flags.AD
    refused = dns.message.make_response(asked)
    refused.use_edns(0, payload=1232, options=[dns.edns.EDEOption(6, "signature is wrong")])
    refused.set_rcode(2)
    return tuple(one.to_wire() for one in (reply, empty, cut, refused))


class _Stream:
    """A connection on which octets arrive by sevens, then its end."""

    def __init__(self, data: bytes) -> None:
        self.data = data

    def recv(self, size: int) -> bytes:
        part, self.data = self.data[: min(size, 7)], self.data[min(size, 7) :]
        return part

    def sendall(self, data: bytes) -> None:
        assert data

    def settimeout(self, seconds: float) -> None:
        assert seconds > 0


def over_stream(data: bytes) -> object:
    """Read an answer with its length before it (RFC 1035 §4.2.2)."""
    peer = connecting.Peer(address="192.0.2.53", port=53)
    clock = ManualClock()
    deadline = connecting.Deadline(clock, 1.0)
    return name_streams.ask_stream(_Stream(data), question(), peer, deadline, clock)


def over_https(data: bytes) -> object:
    """Read an answer as the body of one of HTTP (RFC 8484 §4.2)."""
    kind = (("Content-Type", "application/dns-message"),)
    port = ScriptedHttp(lambda r: HttpExchange(url=r.url, status=200, headers=kind, body=data))
    resolver = name_secure.EncryptedNames(Binding(), None, port, clock=ManualClock())
    asked = NameQuestion(
        resolver="dns.example", name="harbour.example", transport=NameTransport.HTTPS
    )
    return resolver.ask(asked, 1.0)
