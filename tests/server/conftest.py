"""A server on loopback for one test, and plain sockets to speak to it."""

import http.client
import json
import socket
import threading
from collections.abc import Callable
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from functools import partial

import pytest

from agent.server.app import ServeOptions, ServerAddress, serve

WAIT_S = 20.0


@dataclass
class Serving:
    """A running server as a client sees it."""

    address: ServerAddress
    log: list[str]
    kept: ExitStack
    end: Callable[[], None] = lambda: None
    quiet: threading.Condition = field(default_factory=threading.Condition)

    def connect(self) -> http.client.HTTPConnection:
        """Return a connection that the test's end closes."""
        connection = http.client.HTTPConnection(
            self.address.host, self.address.port, timeout=WAIT_S
        )
        return self.kept.enter_context(closing(connection))

    def socket(self) -> socket.socket:
        """Return a connected plain socket."""
        address = (self.address.host, self.address.port)
        return self.kept.enter_context(socket.create_connection(address, timeout=WAIT_S))

    def ask(self, method, target, body=None, headers=None):
        """Return (status, headers, JSON) of one request on its own connection."""
        connection = self.connect()
        connection.request(method, target, body=body, headers=headers or {})
        answer = connection.getresponse()
        content = answer.read()
        connection.close()
        return answer.status, answer.headers, json.loads(content) if content else None

    def raw(self, data: bytes, *, end: bool = False, source: str | None = None) -> bytes:
        """Return everything the server says to raw bytes, up to its end of sending."""
        own = None if source is None else (source, 0)
        to = (self.address.host, self.address.port)
        with socket.create_connection(to, WAIT_S, own) as plain:
            plain.sendall(data)
            if end:
                plain.shutdown(socket.SHUT_WR)
            return read_all(plain)

    def logged(self, text: str) -> str:
        """Return the first log line that holds the text, waiting for it."""
        with self.quiet:
            found = self.quiet.wait_for(lambda: self._find(text), WAIT_S)
        assert found, f"no line with {text!r} in {self.log}"
        return found

    def note(self, line: str) -> None:
        """Take a log line."""
        with self.quiet:
            self.log.append(line)
            self.quiet.notify_all()

    def _find(self, text):
        return next((line for line in self.log if text in line), None)


def read_all(plain: socket.socket) -> bytes:
    """Return what comes until the far end ends."""
    parts = []
    while part := plain.recv(65_536):
        parts.append(part)
    return b"".join(parts)


def begin(kept: ExitStack, **chosen) -> Serving:
    """Start a server on a free loopback port; closing `kept` ends it."""
    serving = Serving(address=None, log=[], kept=kept)
    options = ServeOptions(**({"host": "127.0.0.1", "log": serving.note} | chosen))
    stop, up = threading.Event(), threading.Event()

    def ready(address):
        serving.address = address
        up.set()

    thread = threading.Thread(target=serve, args=(options, ready, stop))
    thread.start()
    serving.end = partial(_end, thread, stop)
    kept.callback(serving.end)
    assert up.wait(WAIT_S)
    return serving


@pytest.fixture
def start():
    """Return a function that starts a server with the given options."""
    with ExitStack() as kept:
        yield partial(begin, kept)


@pytest.fixture(scope="module")
def common():
    """Return a server with default options, shared by the tests that leave no mark on it."""
    with ExitStack() as kept:
        yield begin(kept)


def _end(thread, stop):
    stop.set()
    thread.join(WAIT_S)
    assert not thread.is_alive()
