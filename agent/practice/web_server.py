"""A small web server whose answers a function gives: pages, portals, proxies, odd dates."""

from __future__ import annotations

import ssl
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from email.utils import format_datetime
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from socketserver import TCPServer

from agent.clock import SystemClock

FETCH_WITHIN_S = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """One answer; `after_s` is how long it is held back, `clock` how far its Date is off."""

    status: int = 200
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""
    content_type: str = "text/html"
    after_s: float = 0.0
    clock: timedelta = timedelta()


Answer = Callable[[str, str], Served]
"""From the host that a request names, and its path, to the answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """Where a server listens; with `certificate` (a PEM file of both) it speaks TLS."""

    address: str
    port: int
    certificate: Path | None = None


def serve_answers(doors: Sequence[Door], answer: Answer) -> None:
    """Serve on every door for ever."""
    for door in doors:
        server = _Server((door.address, door.port), _handler(answer))
        if door.certificate is not None:
            context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
            context.load_cert_chain(door.certificate)
            # The handshake is left to the thread of the connection: one silent client holds no one.
            server.socket = context.wrap_socket(
                server.socket, server_side=True, do_handshake_on_connect=False
            )
        threading.Thread(target=server.serve_forever, daemon=True).start()
    threading.Event().wait()


def relayed(address: str, host: str, path: str) -> Served:
    """Return what the site at an address answers to a request; 502 where it does not."""
    connection = HTTPConnection(address, timeout=FETCH_WITHIN_S)
    try:
        connection.request("GET", path, headers={"Host": host, "Connection": "close"})
        came = connection.getresponse()
        body = came.read()
    except OSError:
        return Served(status=502)
    finally:
        connection.close()
    return Served(status=came.status, body=body)


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def server_bind(self) -> None:
        """Bind without looking up a name for the address, which takes seconds here."""
        TCPServer.server_bind(self)

    def handle_error(self, *_: object) -> None:
        """Stay silent about clients that hang up."""


def _handler(answer: Answer) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            served = answer(self.headers.get("Host", "").partition(":")[0], self.path)
            time.sleep(served.after_s)
            self.send_response_only(served.status)
            self.send_header("Date", _date(served.clock))
            self.send_header("Content-Type", served.content_type)
            self.send_header("Content-Length", str(len(served.body)))
            for name, value in served.headers:
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(served.body)

        def log_message(self, *_: object) -> None:
            """Stay silent."""

    return Handler


def _date(off: timedelta) -> str:
    return format_datetime(SystemClock().wall().astimezone(UTC) + off, usegmt=True)
