"""Lines of JSON between two processes over a local stream socket, with open sockets beside them."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from agent.clock import Clock, SystemClock

LONGEST = 1 << 23
PIECE = 1 << 16
MOST_SOCKETS = 16


@dataclass(frozen=True, slots=True)
class Message:
    """One line, and the descriptors that came with it; they belong to the receiver."""

    document: dict[str, Any]
    descriptors: tuple[int, ...] = ()


class Channel:
    """One end of the channel; one thread reads, writers take turns among themselves."""

    def __init__(self, sock: socket.socket, clock: Clock | None = None) -> None:
        self._sock = sock
        self._clock = clock or SystemClock()
        self._data = bytearray()
        self._descriptors: list[int] = []

    def send(self, document: Mapping[str, Any], sockets: Iterable[socket.socket] = ()) -> None:
        """Write one line; the sockets stay open here. Raises OSError."""
        data = json.dumps(document).encode() + b"\n"
        passed = [one.fileno() for one in sockets]
        sent = socket.send_fds(self._sock, [data], passed) if passed else 0
        self._sock.sendall(data[sent:])

    def receive(self, within_s: float | None = None) -> Message | None:
        """Return the next line, None after the last.

        Raises TimeoutError, OSError, and ValueError or TypeError where it is too long or no JSON
        object.
        """
        ends_s = None if within_s is None else self._clock.monotonic_s() + within_s
        while b"\n" not in self._data:
            if len(self._data) > LONGEST:
                msg = "a line too long"
                raise ValueError(msg)
            if not self._read(ends_s):
                return None
        line, _, rest = self._data.partition(b"\n")
        self._data = bytearray(rest)
        descriptors, self._descriptors = tuple(self._descriptors), []
        return Message(dict(json.loads(line)), descriptors)

    def close(self) -> None:
        """Close this end; the other one reads the end of the channel."""
        self._sock.close()

    def _read(self, ends_s: float | None) -> bool:
        left_s = None if ends_s is None else ends_s - self._clock.monotonic_s()
        if left_s is not None and left_s <= 0:
            raise TimeoutError
        self._sock.settimeout(left_s)
        data, descriptors, _, _ = socket.recv_fds(self._sock, PIECE, MOST_SOCKETS)
        self._data += data
        self._descriptors += descriptors
        return bool(data)
