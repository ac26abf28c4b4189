"""Answers of the web and captures to spoil: the way of the engine, without a network."""

import socket
from datetime import UTC, datetime, timedelta
from functools import cache

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from agent.engines.http import HttpxEngine
from agent.ports.binding import Binding
from agent.ports.http import HttpRequest
from agent.probes import page_seen
from agent.probes.web_access import NamedApi, ask_portal
from agent.settings.model import WebTarget

URL = "http://192.0.2.7/"
TARGET = WebTarget(name="tern", url=URL, marker="landed", sha256="0" * 64)
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
WITHIN_S = 5.0

PAGE = (
    b"HTTP/1.1 200 OK\r\nDate: Mon, 02 Mar 2026 09:00:00 GMT\r\nContent-Type: text/html\r\n"
    b"Age: 30\r\nVia: 1.1 cache.ternbay.example\r\nContent-Length: 28\r\n\r\n"
    b"<p>The tern has landed</p>\r\n"
)
PORTAL = (
    b"HTTP/1.1 302 Found\r\nDate: Sunday, 06-Nov-94 08:49:37 GMT\r\n"
    b"Location: http://activation.ternbay.example/?mac=02:00:5e:10:00:01\r\n"
    b"Content-Length: 0\r\nConnection: close\r\n\r\n"
)
REFRESHED = (
    b"HTTP/1.1 511 Network Authentication Required\r\nTransfer-Encoding: chunked\r\n\r\n"
    b"4e\r\n<title>In</title><meta http-equiv=refresh content='0; url=https://192.0.2.1/'>\r\n"
    b"0\r\n\r\n"
)
# RFC 8908 §6, the second example.
CAPTIVE = (
    b'{"captive": false, "user-portal-url": "https://example.org/portal.html", '
    b'"venue-info-url": "https://flight.example.com/entertainment", '
    b'"seconds-remaining": 326, "can-extend-session": true}'
)
MARKS = (
    b"<title>Tern Bay &amp; guests</title><form><input name=a type='password'></form>",
    b'<META HTTP-EQUIV="refresh" CONTENT="0; URL=http://portal.example/in?a=1&amp;b=2">',
    b'<input autocomplete="billing cc-number"><input type=text>',
)
DATES = (
    b"Sun, 06 Nov 1994 08:49:37 GMT",
    b"Sunday, 06-Nov-94 08:49:37 GMT",
    b"Sun Nov  6 08:49:37 1994",
)
"""RFC 9110 §5.6.7."""


class _Names:
    def resolve(self, name, family, within_s):
        return (name,)


class _Played(HttpxEngine):
    """An engine whose every connection answers with the same octets and then ends."""

    def __init__(self):
        super().__init__(Binding(), _Names())
        self.answer = b""
        self.far = []

    def dial(self, peer, deadline):
        ours, theirs = socket.socketpair()
        theirs.sendall(self.answer)
        theirs.shutdown(socket.SHUT_WR)
        self.far.append(theirs)
        ours.settimeout(WITHIN_S)
        return ours

    def hang_up(self):
        while self.far:
            self.far.pop().close()


@cache
def _engine():
    return _Played()


def read_page(data):
    """Return the attempt that an answer makes, its texts held to their bounds."""
    exchange = _exchange(data)
    seen = page_seen.Seen(exchange=exchange, sent_s=0.0, clock=NOW, portal=exchange)
    attempt = page_seen.noted(seen, TARGET)
    for text in (attempt.redirected_to, attempt.via, attempt.title):
        assert text is None or len(text) <= page_seen.MAX_LOCATION
    for text in (attempt.via, attempt.title):
        assert text is None or text.isprintable()
    return exchange.checked()


def read_portal(data):
    """Return the portal's answer where the engine hands on what it made of the octets."""
    exchange = _exchange(data)

    class Port:
        def fetch(self, request, *, within_s):
            return exchange

    class Running:
        def used(self, count):
            assert count <= len(data)

    ask_portal(Port(), NamedApi(url="https://192.0.2.7/x", told_by="dhcp"), 1.0, Running())
    return exchange.checked()


def _exchange(data):
    engine = _engine()
    engine.answer = data
    try:
        return engine.fetch(HttpRequest(url=URL), within_s=WITHIN_S)
    finally:
        engine.hang_up()


def answer_of_the_api():
    """Return a whole answer of a captive portal API."""
    head = b"HTTP/1.1 200 OK\r\nContent-Type: application/captive+json\r\n"
    return head + f"Content-Length: {len(CAPTIVE)}\r\n\r\n".encode() + CAPTIVE


def certificate():
    """Return a certificate of a foreign writer in DER."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Tern Bay Fibre"),
            x509.NameAttribute(NameOID.COMMON_NAME, "www.ternbay.example"),
        ]
    )
    builder = x509.CertificateBuilder(name, name, key.public_key(), 7)
    builder = builder.not_valid_before(NOW).not_valid_after(NOW + timedelta(days=9))
    names = x509.SubjectAlternativeName([x509.DNSName("www.ternbay.example")])
    made = builder.add_extension(names, critical=False).sign(key, hashes.SHA256())
    return made.public_bytes(serialization.Encoding.DER)
