"""A port that tells whoever asks how it sees them, over TCP and UDP (`agent.codec.sighting`).

It shows that a port passes, and which address and port translators on the way leave. An answer is
never longer than its question, and there is a limit to how many are given.
"""

from __future__ import annotations

import select
import socket
import threading
from dataclasses import dataclass, field
from types import TracebackType
from typing import Self

from agent.clock import Clock
from agent.codec.sighting import ASK_BYTES, Seen, decode_ask, encode_seen
from agent.errors import MalformedMessage
from agent.server.peer import Peer

TICK_S = 0.1
PATIENCE_S = 2.0
MOST_OPEN = 64
MOST_PER_S = 200
READING = 1


@dataclass
class Allowance:
    """So many answers a second, over UDP, to all clients together."""

    per_s: int
    second: int = -1
    given: int = 0

    def take(self, now_s: float) -> bool:
        """Use one up; return False where none is left in this second."""
        if int(now_s) != self.second:
            self.second, self.given = int(now_s), 0
        self.given += 1
        return self.given <= self.per_s


@dataclass
class Answering:
    """The two sockets of the port in a thread of their own; ends with the block."""

    tcp: socket.socket
    udp: socket.socket
    clock: Clock
    _open: dict[int, tuple[socket.socket, float]] = field(default_factory=dict)
    _ending: threading.Event = field(default_factory=threading.Event)
    _allowance: Allowance = field(default_factory=lambda: Allowance(MOST_PER_S))

    @property
    def port(self) -> int:
        """Return the port, the same over both."""
        number: int = self.tcp.getsockname()[1]
        return number

    def __enter__(self) -> Self:
        self._poll = select.poll()
        for sock in (self.tcp, self.udp):
            sock.setblocking(False)
            self._poll.register(sock, READING)
        self._thread = threading.Thread(target=self._run, name="answering", daemon=True)
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._ending.set()
        self._thread.join()
        for number in list(self._open):
            self._drop(number)
        self.tcp.close()
        self.udp.close()

    def _run(self) -> None:
        while not self._ending.is_set():
            for number, _ in self._poll.poll(TICK_S * 1000):
                self._heard(number)
            self._drop_old()

    def _heard(self, number: int) -> None:
        try:
            if number == self.udp.fileno():
                self._answer_datagram()
            elif number == self.tcp.fileno():
                self._accept()
            elif number in self._open:
                self._answer_stream(number)
        except OSError:
            self._drop(number)

    def _answer_datagram(self) -> None:
        data, source = self.udp.recvfrom(ASK_BYTES + 1)
        answer = answer_to(data, source)
        if answer is not None and self._allowance.take(self.clock.monotonic_s()):
            self.udp.sendto(answer, source)

    def _accept(self) -> None:
        sock, _ = self.tcp.accept()
        if len(self._open) >= MOST_OPEN:
            self._drop(next(iter(self._open)))
        sock.setblocking(False)
        self._open[sock.fileno()] = (sock, self.clock.monotonic_s())
        self._poll.register(sock, READING)

    def _answer_stream(self, number: int) -> None:
        """Answer a question that came whole, as one packet does; end the connection either way."""
        sock, _ = self._open[number]
        answer = answer_to(sock.recv(ASK_BYTES + 1), sock.getpeername())
        if answer is not None:
            sock.send(answer)
        self._drop(number)

    def _drop_old(self) -> None:
        oldest_s = self.clock.monotonic_s() - PATIENCE_S
        for number in [n for n, (_, since_s) in self._open.items() if since_s < oldest_s]:
            self._drop(number)

    def _drop(self, number: int) -> None:
        held = self._open.pop(number, None)
        if held is not None:
            self._poll.unregister(number)
            held[0].close()


def answer_to(data: bytes, source: tuple[object, ...]) -> bytes | None:
    """Return the answer to a question from a socket address, None where it is no question."""
    try:
        token = decode_ask(data)
    except MalformedMessage:
        return None
    peer = Peer.of(source)
    return encode_seen(token, Seen(address=peer.address, port=peer.port))
