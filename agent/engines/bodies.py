"""HTTP/1.1 messages on a bare socket: heads by h11, bodies past it.

A body is drained or sent by the socket itself, because a library that hands over every piece of it
costs more processor time than the transfer (RFC 9112 §6: a length and no coding is all we take).
"""

from __future__ import annotations

import os
import re
import select
import socket
import ssl
import struct
import sys
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Protocol

import h11

from agent.engines.connecting import Deadline, translate
from agent.errors import BadReply, ClosedEarly, ServerBusy

MAX_HEAD_BYTES = 32_768
MAX_ANSWER_BYTES = 1_048_576
RECEIVE_BYTES = 262_144
SEND_BYTES = 131_072
# A reader woken for every few packets spends its time on waking: with SO_RCVLOWAT (socket(7)) the
# kernel wakes it about every WAKE_S instead, so a count lags by no more than that. Where less comes
# all at once (the line slows down or stalls) SO_RCVTIMEO hands it over after LONGEST_WAIT_S. Beyond
# MOST_WAITING_BYTES Linux would enlarge and clamp the receive window for it.
WAKE_S = 0.006
LONGEST_WAIT_S = 0.02
MOST_WAITING_BYTES = 65_536
RETUNE_S = 0.1
# The same for a sender: what may wait unsent is this much of time, within bounds of size.
UNSENT_S = 0.01
LEAST_UNSENT_BYTES = 32_768
MOST_UNSENT_BYTES = 1_048_576
_TCP_NOTSENT_LOWAT = {"linux": 25, "darwin": 0x201}

# Retry-After without a usable number of seconds (RFC 9110 §10.2.3 also allows a date).
DEFAULT_WAIT_S = 10
RETRY_SECONDS = re.compile(r"[0-9]{1,5}")

_HTTP_REFUSED = 400
_HTTP_BUSY = 503

_random: list[memoryview] = []


def incompressible() -> memoryview:
    """Return SEND_BYTES of random octets, made once."""
    if not _random:
        _random.append(memoryview(os.urandom(SEND_BYTES)))
    return _random[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What is put before a body."""

    method: str
    target: str
    authority: str
    agent: str
    token: str | None = None
    body_bytes: int | None = None

    def encode(self) -> bytes:
        """Return the request head as octets (RFC 9112 §3)."""
        fields = [("Host", self.authority), ("User-Agent", self.agent), ("Accept", "*/*")]
        fields.append(("Accept-Encoding", "identity"))
        if self.token is not None:
            fields.append(("Authorization", f"Bearer {self.token}"))
        if self.body_bytes is not None:
            fields.append(("Content-Type", "application/octet-stream"))
            fields.append(("Content-Length", str(self.body_bytes)))
        request = h11.Request(method=self.method, target=self.target, headers=fields)
        octets = h11.Connection(h11.CLIENT).send(request)
        assert octets is not None
        return octets


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A response head, and how much of its body came along with it."""

    status: int
    length: int | None
    early_bytes: int
    early: bytes
    retry_after_s: int
    keeps_open: bool

    def refuse(self, address: str) -> None:
        """Raise for an answer that is no success: ServerBusy or BadReply."""
        if self.status == _HTTP_BUSY:
            raise ServerBusy(address=address, wait_s=self.retry_after_s)
        if not 200 <= self.status < 300:
            raise BadReply(address=address, problem=f"HTTP status {self.status}")


class AnswerReader:
    """Reads one response head with h11, fed by whoever holds the socket."""

    def __init__(self, method: str, address: str) -> None:
        self._http = h11.Connection(h11.CLIENT, max_incomplete_event_size=MAX_HEAD_BYTES)
        self._http.send(h11.Request(method=method, target="/", headers=[("Host", "unused")]))
        self._http.send(h11.EndOfMessage())
        self.address = address
        self._count = 0
        self._ended = False

    def feed(self, data: bytes) -> Answer | None:
        """Return the answer once its head is whole; b"" is the end of the stream."""
        self._count += len(data)
        if not data:
            raise ClosedEarly(address=self.address, bytes=self._count)
        try:
            self._http.receive_data(data)
            return self._next()
        except h11.RemoteProtocolError as error:
            raise BadReply(address=self.address, problem=f"not HTTP: {error}") from error

    def _next(self) -> Answer | None:
        event = self._http.next_event()
        while isinstance(event, h11.InformationalResponse):
            event = self._http.next_event()
        return self._answer(event) if isinstance(event, h11.Response) else None

    def _answer(self, head: h11.Response) -> Answer:
        told = {name.decode("ascii"): value.decode("latin-1") for name, value in head.headers}
        coded = told.get("content-encoding", "identity").lower() != "identity"
        if coded and head.status_code < _HTTP_REFUSED:
            raise BadReply(address=self.address, problem="the body is compressed")
        length, retry = told.get("content-length"), told.get("retry-after", "")
        early = self._early()
        return Answer(
            status=head.status_code,
            length=None if length is None else int(length),
            early_bytes=len(early),
            early=early,
            retry_after_s=int(retry) if RETRY_SECONDS.fullmatch(retry) else DEFAULT_WAIT_S,
            keeps_open="close" not in told.get("connection", "").lower(),
        )

    def _early(self) -> bytes:
        body = bytearray()
        while isinstance(event := self._http.next_event(), h11.Data):
            body += event.data
        self._ended = isinstance(event, h11.EndOfMessage)
        return bytes(body)


def receive_answer(sock: socket.socket, method: str, address: str, deadline: Deadline) -> Answer:
    """Return the next answer on a socket; raises CannotMeasure."""
    reader = AnswerReader(method, address)
    while True:
        try:
            sock.settimeout(deadline.left_s(address))
            answer = reader.feed(sock.recv(MAX_HEAD_BYTES))
        except OSError as error:
            raise translate(error, address, after_s=deadline.within_s) from error
        if answer is not None:
            return answer


class Answers:
    """The answers to requests sent one behind the other, in their order (RFC 9112 §9.3.2).

    The next body follows at once, for an answer takes at least a round trip, in which a line that
    nothing is sent over carries nothing.
    """

    def __init__(
        self, method: str, address: str, answered: Callable[[Answer, bytes], None]
    ) -> None:
        self._method = method
        self.address = address
        self._answered = answered
        self._readers: deque[_WholeAnswer] = deque()

    @property
    def missing(self) -> int:
        """Return how many requests have no answer yet."""
        return len(self._readers)

    def expect(self) -> None:
        """Count one more request as sent."""
        self._readers.append(_WholeAnswer(self._method, self.address))

    def feed(self, data: bytes) -> None:
        """Take octets; raises CannotMeasure for a refusal, for no HTTP, and for b"", the end."""
        if not data:
            raise ClosedEarly(address=self.address, bytes=0)
        while data:
            if not self._readers:
                raise BadReply(address=self.address, problem="an answer that was not asked for")
            data = self._step(self._readers[0], data)

    def _step(self, reader: _WholeAnswer, data: bytes) -> bytes:
        """Return what is left for the next answer."""
        found = reader.take(data)
        if found is None:
            return b""
        answer, body, rest = found
        self._readers.popleft()
        self._answered(answer, body)
        return rest


class _WholeAnswer(AnswerReader):
    """Reads one answer with its body."""

    def __init__(self, method: str, address: str) -> None:
        super().__init__(method, address)
        self._head: Answer | None = None
        self._body = bytearray()

    def take(self, data: bytes) -> tuple[Answer, bytes, bytes] | None:
        """Return answer, body and what came behind it, None while it is not whole."""
        if self._head is None:
            self._head = self.feed(data)
            if self._head is None:
                return None
            self._head.refuse(self.address)
            self._body += self._head.early
        else:
            self._received(data)
            self._body += self._early()
        if len(self._body) > MAX_ANSWER_BYTES:
            raise BadReply(address=self.address, problem="a receipt without end")
        return (self._head, bytes(self._body), self._http.trailing_data[0]) if self._ended else None

    def _received(self, data: bytes) -> None:
        try:
            self._http.receive_data(data)
        except h11.RemoteProtocolError as error:
            raise BadReply(address=self.address, problem=f"not HTTP: {error}") from error


class Drain:
    """Throws away body octets as they come, telling how many each time.

    On Linux plain TCP the kernel drops them without copying (tcp(7), MSG_TRUNC); `recv_into` only,
    since `recv` would return memory that nobody wrote.
    """

    def __init__(
        self, sock: socket.socket, arrived: Callable[[int], None], now_s: Callable[[], float]
    ) -> None:
        self._sock = sock
        self._arrived = arrived
        self._now_s = now_s
        self._plain = sys.platform == "linux" and not isinstance(sock, ssl.SSLSocket)
        self._flags = socket.MSG_TRUNC if self._plain else 0
        self._buffer = memoryview(bytearray(RECEIVE_BYTES))
        self._waiting = 1
        self._tuned_s = now_s()
        self._since_tuned = 0

    def run(self, count: int) -> int:
        """Take `count` octets; returns how many were missing when the far end closed.

        Raises OSError. Whoever wants to end the wait shuts the socket down.
        """
        left = count
        while left > 0:
            try:
                got = self._sock.recv_into(self._buffer, min(left, RECEIVE_BYTES), self._flags)
            except BlockingIOError:
                continue
            if got == 0:
                return left
            left -= got
            self._arrived(got)
            self._since_tuned += got
            if self._since_tuned > MOST_WAITING_BYTES and self._plain:
                self._tune()
        self._wait_for(1)
        return 0

    def _tune(self) -> None:
        """Let the kernel wait for what comes in WAKE_S at the present rate."""
        now_s = self._now_s()
        spent_s = now_s - self._tuned_s
        if spent_s < RETUNE_S:
            return
        rate = self._since_tuned / spent_s
        self._tuned_s, self._since_tuned = now_s, 0
        waiting = max(1, min(MOST_WAITING_BYTES, int(rate * WAKE_S)))
        if not self._waiting / 2 < waiting < self._waiting * 2:
            self._wait_for(waiting)

    def _wait_for(self, waiting: int) -> None:
        """Be woken for so many octets, or for what is there after LONGEST_WAIT_S.

        A head is no body: whoever waits for one by poll(2) must find the mark at 1 again.
        """
        if waiting == self._waiting:
            return
        longest_s = LONGEST_WAIT_S if waiting > 1 else 0.0
        limit = struct.pack("ll", 0, int(longest_s * 1e6))
        self._sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVTIMEO, limit)
        self._sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVLOWAT, waiting)
        self._waiting = waiting


class Listener(Protocol):
    """What hears the far end while a body is sent."""

    def feed(self, data: bytes) -> None:
        """Take octets, b"" at the end of the stream; raises CannotMeasure to end the body."""
        ...


class SendQueue:
    """How much may wait unsent in the kernel (TCP_NOTSENT_LOWAT): a few ms of the present rate.

    Little, so that a slow line is soon drained; yet a thread that is woken late on a busy computer
    must not leave a fast line empty.
    """

    def __init__(self, sock: socket.socket, now_s: Callable[[], float]) -> None:
        self._sock = sock
        self._now_s = now_s
        self._option = _TCP_NOTSENT_LOWAT.get(sys.platform)
        self._tuned_s = now_s()
        self._since_tuned = 0
        self.waiting_bytes = LEAST_UNSENT_BYTES
        self._set()

    def sent(self, count: int) -> None:
        """Note octets handed to the kernel; tunes the queue now and then."""
        self._since_tuned += count
        now_s = self._now_s()
        spent_s = now_s - self._tuned_s
        if spent_s < RETUNE_S:
            return
        wanted = int(self._since_tuned / spent_s * UNSENT_S)
        self._tuned_s, self._since_tuned = now_s, 0
        wanted = max(LEAST_UNSENT_BYTES, min(MOST_UNSENT_BYTES, wanted))
        if not self.waiting_bytes / 2 < wanted < self.waiting_bytes * 2:
            self.waiting_bytes = wanted
            self._set()

    def _set(self) -> None:
        if self._option is not None:
            self._sock.setsockopt(socket.IPPROTO_TCP, self._option, self.waiting_bytes)


class BodySizes:
    """How long the next upload body is: what `seconds` of the present rate carry, within bounds.

    Each answer tells of octets; a body is never more than twice the one before it.
    """

    def __init__(self, least: int, most: int, seconds: float, now_s: Callable[[], float]) -> None:
        self._least = min(least, most)
        self._most = most
        self._seconds = seconds
        self._now_s = now_s
        self._since_s = now_s()
        self._octets = 0
        self.next_bytes = self._least

    def answered(self, octets: int) -> None:
        """Note a body that has arrived; looks at the rate again once that took `seconds`."""
        self._octets += octets
        now_s = self._now_s()
        spent_s = now_s - self._since_s
        if spent_s < self._seconds:
            return
        wanted = int(self._octets / spent_s * self._seconds)
        self._since_s, self._octets = now_s, 0
        most = min(self._most, 2 * self.next_bytes)
        self.next_bytes = max(self._least, min(most, wanted))


def select_ready(sock: socket.socket, seconds: float) -> tuple[bool, bool]:
    """Return whether a socket can be heard and whether it takes more, waiting for either."""
    heard, takes, broken = select.select([sock], [sock], [sock], seconds)
    return bool(heard or broken), bool(takes)


def poll_ready(sock: socket.socket) -> Callable[[float], tuple[bool, bool]]:
    """Return `select_ready` of one socket by poll(2), or as it is where there is no poll."""
    if sys.platform == "win32":
        return partial(select_ready, sock)
    poll = select.poll()
    poll.register(sock, select.POLLOUT | select.POLLIN)

    def ready(seconds: float) -> tuple[bool, bool]:
        events = next((events for _, events in poll.poll(seconds * 1000)), 0)
        return bool(events & ~select.POLLOUT), bool(events & select.POLLOUT)

    return ready


class BodySender:
    """Sends a body of random octets, and hears what the far end says meanwhile."""

    PATIENCE_S = 0.2

    def __init__(self, sock: socket.socket, reader: Listener, queue: SendQueue) -> None:
        self._sock = sock
        self._queue = queue
        self._reader = reader
        self._ready = poll_ready(sock)

    def send(self, count: int, halted: Callable[[], bool]) -> int:
        """Send `count` octets or stop once `halted`; returns how many were not sent.

        Raises OSError where the connection breaks, CannotMeasure for an answer that is no HTTP.
        """
        self._sock.settimeout(0)
        left = count
        while left > 0 and not halted():
            heard, takes = self._ready(self.PATIENCE_S)
            if heard:
                self._listen()
            if takes:
                sent = self._some(left)
                self._queue.sent(sent)
                left -= sent
        return left

    def listen(self, seconds: float) -> None:
        """Hear the far end for a time in which nothing is sent; raises as `send` does."""
        self._sock.settimeout(seconds)
        try:
            data = self._sock.recv(MAX_HEAD_BYTES)
        except TimeoutError:
            return
        self._reader.feed(data)

    def _some(self, left: int) -> int:
        try:
            return self._sock.send(incompressible()[: min(left, SEND_BYTES)])
        except (BlockingIOError, ssl.SSLWantWriteError, ssl.SSLWantReadError):
            return 0

    def _listen(self) -> None:
        try:
            data = self._sock.recv(MAX_HEAD_BYTES)
        except (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return
        self._reader.feed(data)
