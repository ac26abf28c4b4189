"""Queries over TCP, TLS and HTTPS: real sockets on loopback, certificates of a made-up authority.

The far end writes its answers with dnspython and its certificates with trustme.
"""

import base64
import ssl

import dns.message
import dns.rrset
import pytest
import trustme
from loopback_servers import LiteralNames, Scripted

from agent.engines.http import HttpxEngine
from agent.engines.name_secure import EncryptedNames
from agent.engines.names import BoundNames
from agent.measurements import NameOutcome, NameTransport
from agent.ports.binding import Binding
from agent.ports.names import NameQuestion

HOST, NAME = "dns.ternbay.example", "www.tern.example"
HOME = Binding(ipv4="127.0.0.1")
AUTHORITY = trustme.CA()


def reply_to(wire, address="198.51.100.7"):
    query = dns.message.from_wire(wire)
    reply = dns.message.make_response(query)
    reply.answer.append(dns.rrset.from_text(f"{NAME}.", 60, "IN", "A", address))
    return reply.to_wire()


def framed(data):
    return len(data).to_bytes(2) + data


def answers(_server, sock, change=lambda data: data):
    size = int.from_bytes(sock.recv(2))
    sock.sendall(change(framed(reply_to(sock.recv(size)))))


def context_of(*names, authority=AUTHORITY):
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert(*names).configure_cert(context)
    return context


@pytest.fixture
def trust():
    context = ssl.create_default_context()
    AUTHORITY.configure_trust(context)
    return context


@pytest.fixture
def server():
    running = []

    def start(handle, context=None):
        running.append(Scripted(handle, context))
        return running[-1]

    yield start
    for one in running:
        one.close()


def over(transport, port, trust, within_s=3.0):
    names = LiteralNames(**{HOST: "127.0.0.1"})
    http = HttpxEngine(HOME, names, context=trust)
    engine = EncryptedNames(HOME, names, http, port=port, context=trust)
    return engine.ask(NameQuestion(resolver=HOST, name=NAME, transport=transport), within_s)


def over_tcp(port, within_s=3.0):
    asked = NameQuestion(resolver="127.0.0.1", name=NAME, transport=NameTransport.TCP)
    return BoundNames(HOME, (), port=port).ask(asked, within_s)


@pytest.mark.loopback
def test_an_answer_over_tcp(server):
    found = over_tcp(server(answers).port)
    assert (found.outcome, found.addresses) == (NameOutcome.ANSWERED, ("198.51.100.7",))
    assert found.rtt_ms > 0
    assert found.setup_ms > 0


@pytest.mark.loopback
@pytest.mark.parametrize(
    ("change", "outcome"),
    [
        (lambda data: data[:20], NameOutcome.MALFORMED),
        (lambda data: b"", NameOutcome.MALFORMED),
        (lambda data: framed(b"\xff" * 60), NameOutcome.MALFORMED),
        (lambda data: framed(b""), NameOutcome.MALFORMED),
    ],
)
def test_a_broken_answer_over_tcp_is_an_outcome(server, change, outcome):
    found = over_tcp(server(lambda here, sock: answers(here, sock, change)).port)
    assert (found.outcome, found.addresses, found.rtt_ms) == (outcome, (), None)


@pytest.mark.loopback
def test_a_closed_port_and_a_dripping_server_over_tcp(server):
    closed = server(answers)
    closed.close()
    assert over_tcp(closed.port).outcome is NameOutcome.REFUSED

    def drips(here, sock):
        while not here.ending.wait(0.05):
            sock.sendall(b"\x01")

    dripping = server(drips)
    # One deadline over the whole wait, however often an octet comes.
    assert over_tcp(dripping.port, within_s=0.4).outcome is NameOutcome.LOST


@pytest.mark.loopback
def test_an_answer_over_tls(server, trust):
    # RFC 7858 §3.3: framed as over TCP.
    found = over(NameTransport.TLS, server(answers, context_of(HOST)).port, trust)
    assert (found.outcome, found.addresses) == (NameOutcome.ANSWERED, ("198.51.100.7",))
    assert found.setup_ms > 0


@pytest.mark.loopback
@pytest.mark.parametrize("transport", [NameTransport.TLS, NameTransport.HTTPS])
@pytest.mark.parametrize(
    ("made_for", "problem"),
    [(("other.example", AUTHORITY), "wrong-name"), ((HOST, trustme.CA()), "unknown-issuer")],
)
def test_a_certificate_that_is_not_the_resolvers_gets_no_query(
    server, trust, transport, made_for, problem
):
    # RFC 8310 §8.1: the certificate is checked against the name.
    name, authority = made_for
    heard = []
    context = context_of(name, authority=authority)
    here = server(lambda _, sock: heard.append(sock.recv(2)), context)
    found = over(transport, here.port, trust)
    assert (found.outcome, found.problem) == (NameOutcome.UNTRUSTED, problem)
    assert not any(heard)


@pytest.mark.loopback
def test_plain_text_where_tls_belongs_is_not_trusted(server, trust):
    found = over(NameTransport.TLS, server(lambda _, sock: sock.sendall(b"hello\r\n")).port, trust)
    assert (found.outcome, found.problem) == (NameOutcome.UNTRUSTED, None)


def web(answer, seen=None, status="200 OK", kind="application/dns-message"):
    """Answer a GET of RFC 8484 §4.1.1 by a function of the message it carries."""

    def handle(_server, sock):
        head = b""
        while b"\r\n\r\n" not in head:
            head += sock.recv(4096)
        target = head.split()[1].decode()
        carried = target.partition("?dns=")[2]
        wire = base64.urlsafe_b64decode(carried + "=" * (-len(carried) % 4))
        if seen is not None:
            seen.append((target, wire, head))
        body = answer(wire)
        sock.sendall(
            f"HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {len(body)}\r\n"
            f"Connection: close\r\n\r\n".encode()
            + body
        )

    return handle


@pytest.mark.loopback
def test_an_answer_over_https(server, trust):
    seen = []
    here = server(web(reply_to, seen), context_of(HOST))
    found = over(NameTransport.HTTPS, here.port, trust)
    assert (found.outcome, found.addresses) == (NameOutcome.ANSWERED, ("198.51.100.7",))
    assert found.setup_ms > 0
    target, wire, head = seen[0]
    # RFC 8484 §4.1: identifier 0, base64url without padding, the media type as Accept.
    assert target.startswith("/dns-query?dns=")
    assert "=" not in target.partition("?dns=")[2]
    assert wire[:2] == b"\0\0"
    assert b"application/dns-message" in head


@pytest.mark.loopback
@pytest.mark.parametrize(
    ("answer", "more"),
    [
        (reply_to, {"status": "404 Not Found"}),
        (reply_to, {"kind": "text/html"}),
        (lambda wire: b"<html>", {}),
        (lambda wire: b"", {}),
        (lambda wire: b"\xff" * 100_000, {}),
    ],
)
def test_what_is_no_dns_over_https_is_an_outcome(server, trust, answer, more):
    here = server(web(answer, **more), context_of(HOST))
    found = over(NameTransport.HTTPS, here.port, trust)
    assert (found.outcome, found.addresses) == (NameOutcome.MALFORMED, ())
