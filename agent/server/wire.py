"""One accepted connection: every call takes a deadline, and bodies move without copies.

Raises TimeoutError at the deadline and other OSErrors when the far end is gone. Deadlines are
monotonic seconds.
"""

from __future__ import annotations

import os
import select
import socket
import ssl
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from agent.clock import Clock
from agent.server.payload import Payload

CHUNK = 1_048_576
# Shared by all connections, for nobody ever reads what is dropped into it.
_SINK = bytearray(CHUNK)
# One TLS record holds 16 KiB (RFC 8446 §5.1); more per call only saves calls.
SECURE_CHUNK = 262_144
# With MSG_TRUNC Linux counts and drops TCP data and leaves the buffer as it is (tcp(7)).
DISCARD = socket.MSG_TRUNC if sys.platform == "linux" else 0


class Wire:
    """A plain TCP connection."""

    def __init__(self, sock: socket.socket, clock: Clock) -> None:
        self._sock = sock
        self._clock = clock
        self._poll = select.poll()
        self._closing = threading.Lock()
        sock.setblocking(False)
        sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def begin(self, _until_s: float) -> None:
        """Make the connection ready for its first request."""

    def receive(self, most: int, until_s: float) -> bytes:
        """Return the next bytes, none at the far end's end of sending."""
        buffer = bytearray(most)
        count = self._retry(partial(self._sock.recv_into, buffer), select.POLLIN, until_s)
        return bytes(buffer[:count])

    def send(self, data: bytes, until_s: float) -> None:
        """Send all of the data."""
        rest = memoryview(data)
        while rest:
            sent = self._retry(partial(self._sock.send, rest), select.POLLOUT, until_s)
            rest = rest[sent:]

    def discard(self, most: int, until_s: float) -> int:
        """Take up to `most` bytes off the connection; return how many, 0 at the end of sending."""
        count = min(most, len(_SINK))
        return self._retry(partial(self._drop, count), select.POLLIN, until_s)

    def send_payload(self, payload: Payload, offset: int, count: int, until_s: float) -> int:
        """Send some of the payload from `offset`; return how many bytes went."""
        attempt = partial(self._give, payload, offset, count)
        return self._retry(attempt, select.POLLOUT, until_s)

    def end_sending(self) -> None:
        """Tell the far end that nothing more will come."""
        self._sock.shutdown(socket.SHUT_WR)

    def turn_away(self, answer: bytes) -> None:
        """Close at once, with an answer where that is possible without waiting."""
        with suppress(OSError):
            self._sock.send(answer)
            self._sock.shutdown(socket.SHUT_WR)
        self.close()

    def abort(self) -> None:
        """End both directions from another thread; whoever waits on the connection wakes."""
        with self._closing, suppress(OSError):
            socket.socket.shutdown(self._sock, socket.SHUT_RDWR)

    def close(self) -> None:
        """Close the connection."""
        with self._closing:
            self._sock.close()

    def _drop(self, count: int) -> int:
        return self._sock.recv_into(_SINK, count, DISCARD)

    def _give(self, payload: Payload, offset: int, count: int) -> int:
        return os.sendfile(self._sock.fileno(), payload.descriptor, offset, count)

    def _retry(self, attempt: Callable[[], int], wanted: int, until_s: float) -> int:
        while True:
            remaining_s = until_s - self._clock.monotonic_s()
            if remaining_s <= 0:
                raise TimeoutError
            try:
                return attempt()
            except BlockingIOError:
                self._wait(wanted, remaining_s)
            except ssl.SSLWantReadError:
                self._wait(select.POLLIN, remaining_s)
            except ssl.SSLWantWriteError:
                self._wait(select.POLLOUT, remaining_s)

    def _wait(self, event: int, remaining_s: float) -> None:
        self._poll.register(self._sock.fileno(), event)
        self._poll.poll(max(1, int(remaining_s * 1000)))


class SecureWire(Wire):
    """The same over TLS; bytes are counted after decryption."""

    def __init__(self, sock: socket.socket, clock: Clock, context: ssl.SSLContext) -> None:
        secure = context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        super().__init__(secure, clock)
        self._secure = secure

    def begin(self, until_s: float) -> None:
        """Shake hands."""

        def attempt() -> int:
            self._secure.do_handshake()
            return 1

        self._retry(attempt, select.POLLIN, until_s)

    def end_sending(self) -> None:
        """Say so inside TLS (RFC 8446 §6.1), then on the connection under it."""
        with suppress(OSError):
            self._secure.unwrap()
        super().end_sending()

    def turn_away(self, _answer: bytes) -> None:
        """Close at once: an answer would need a handshake first."""
        self.close()

    def _drop(self, count: int) -> int:
        return self._secure.recv_into(_SINK, count)

    def _give(self, payload: Payload, offset: int, count: int) -> int:
        most = min(count, SECURE_CHUNK)
        return self._secure.send(payload.view[offset : offset + most])
