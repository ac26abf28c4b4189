"""Bulk flows on bare sockets: HTTP bodies past the HTTP layer, FTP bodies on its data connection.

Whichever it is, a thread per flow carries the bodies and the sampler only looks on.
"""

from __future__ import annotations

import contextlib
import socket
from collections import deque

from agent.codec.card import UploadReceipt, parse_receipt
from agent.codec.tcp_info import TcpInfo
from agent.engines.bodies import (
    Answer,
    Answers,
    BodySender,
    BodySizes,
    Drain,
    Head,
    SendQueue,
    receive_answer,
)
from agent.engines.connecting import Deadline, Peer
from agent.engines.flow import ANSWER_WITHIN_S, AcknowledgedFlow, BulkFlow, CountingFlow
from agent.engines.ftp import FtpDownFlow, FtpUpFlow, is_ftp
from agent.engines.http import AGENT, HttpxEngine, Origin
from agent.engines.tcp_counters import TcpTeller, read_tcp_info, read_usage
from agent.errors import BadReply, ClosedEarly, MalformedMessage
from agent.measurements import Direction
from agent.ports.stream import Flow, FlowEnd, FlowOrder, Usage

# An upload's answer comes only after everything before it has crossed a slow line.
RECEIPT_WITHIN_S = 20.0
# A server that keeps bodies as files serves nobody while it puts one away: some ms for 64 MiB in
# memory. What such a pause lets run dry is nothing if what is on the way outlasts it.
BODY_S = 0.03
# Where only answers count, bodies are the grain of the count, and may be no longer than the rate
# asks. The heads between them, a good 200 octets each, are not in that count.
TRIAL_BYTES = 65_536
# Longer than most round trips, so that an answer to the head alone comes within it.
HELD_BACK_S = 0.3
LEAST_BODY_BYTES = 8_388_608
MOST_BODY_BYTES = 67_108_864
# More than any line that is sold holds in a round trip (2.5 Gbit/s and 100 ms: 31 MB).
UNANSWERED_BYTES = 67_108_864


class BulkEngine:
    """The stream port over the connections of an HTTP engine.

    `told` reads what the kernel knows of a connection; where it is nothing, an upload is counted
    by the bodies that the server answered.
    """

    def __init__(self, http: HttpxEngine, told: TcpTeller = read_tcp_info) -> None:
        self._http = http
        self._told = told

    def open(self, order: FlowOrder, *, within_s: float) -> Flow:
        """Begin to open a connection and return at once; its reading tells when it is ready."""
        flow = _kind(order)(self._http, order, within_s, self._told)
        flow.launch()
        return flow

    def usage(self) -> Usage:
        """Return running totals of interface and process."""
        return read_usage(self._http.binding.interface)


def _kind(order: FlowOrder) -> type[BulkFlow]:
    down = order.direction is Direction.DOWN
    if is_ftp(order.url):
        return FtpDownFlow if down else FtpUpFlow
    return DownFlow if down else UpFlow


class HttpFlow(BulkFlow):
    """A flow over a connection that httpx opened."""

    _origin: Origin

    def _dial(self) -> tuple[socket.socket, Peer]:
        opened = self._http.open(self._order.url, token=self._order.token, within_s=self._opening_s)
        self._origin = opened.origin
        return opened.sock, opened.origin.peer

    def _head(self, method: str, body: int | None = None) -> bytes:
        return Head(
            method=method,
            target=self._origin.target,
            authority=self._origin.authority,
            agent=AGENT,
            token=self._order.token,
            body_bytes=body,
        ).encode()


class DownFlow(HttpFlow, CountingFlow):
    """Bodies asked for one after the other and thrown away as they come."""

    def _carry(self, sock: socket.socket, address: str) -> None:
        ask = self._head("GET")
        while not self._stopping:
            deadline = Deadline(self._clock, ANSWER_WITHIN_S)
            sock.settimeout(ANSWER_WITHIN_S)
            sock.sendall(ask)
            answer = receive_answer(sock, "GET", address, deadline)
            self._receive(sock, answer, address)

    def _receive(self, sock: socket.socket, answer: Answer, address: str) -> None:
        length = self._checked_length(answer, address)
        if answer.early_bytes:
            self._count(answer.early_bytes)
        sock.settimeout(None)
        drain = Drain(sock, self._count, self._clock.monotonic_s)
        missing = drain.run(length - answer.early_bytes)
        if missing or not answer.keeps_open:
            raise ClosedEarly(address=address, bytes=self._bytes)

    def _checked_length(self, answer: Answer, address: str) -> int:
        """Return the length of a body worth timing.

        A portal or a filter answers with a page of its own: a wrong length is no slow line.
        """
        answer.refuse(address)
        wanted = self._order.body_bytes
        if answer.length is None:
            raise BadReply(address=address, problem="the download has no stated length")
        if wanted is not None and answer.length != wanted:
            problem = f"{answer.length} bytes where {wanted} were asked for"
            raise BadReply(address=address, problem=problem)
        if wanted is None and answer.length < self._order.least_bytes:
            problem = f"a download of {answer.length} bytes is too short to time"
            raise BadReply(address=address, problem=problem)
        return answer.length


class UpFlow(HttpFlow, AcknowledgedFlow):
    """Bodies of random octets sent one after the other, counted by what was acknowledged.

    Where the kernel does not tell that, bodies of a bounded length count once a success has
    answered them whole; a server that answers before it has a body then counts for nothing. An
    order that names no length leaves it to the flow: a file server stands still while it puts a
    long body away, and a line stands still with it.
    """

    def __init__(
        self, http: HttpxEngine, order: FlowOrder, opening_s: float, told: TcpTeller
    ) -> None:
        super().__init__(http, order, opening_s, told)
        self._receipt: UploadReceipt | None = None
        self._answered_early = False
        self._unanswered: deque[int] = deque()
        self._unfinished = False
        self._answered_bytes = 0

    def arrived(self) -> int | None:
        """Return the body octets that TCP, else the server's answers, said have arrived."""
        return self._answered_bytes if self._by_answers else super().arrived()

    def _opened(self, sock: socket.socket, peer: Peer, info: TcpInfo | None) -> None:
        super()._opened(sock, peer, info)
        self._by_answers = not self._tcp_tells
        least = TRIAL_BYTES if self._by_answers else self._order.body_bytes or LEAST_BODY_BYTES
        most = self._order.body_bytes or MOST_BODY_BYTES
        self._sizes = BodySizes(least, most, BODY_S, self._clock.monotonic_s)

    def end(self) -> FlowEnd:
        """Return the far end's own count and receipt, where it gave one."""
        return FlowEnd(
            server_bytes=self._receipt.bytes if self._receipt else None,
            receipt=self._receipt,
            answered_early=self._answered_early,
        )

    def _carry(self, sock: socket.socket, address: str) -> None:
        queue = self._prepare(sock)
        answers = Answers("PUT", address, self._answered)
        unsent = self._try_out(sock, answers, queue) if self._by_answers else 0
        while not self._stopping and not unsent:
            self._await(sock, answers, most_missing=self._may_miss())
            unsent = self._put(sock, answers, queue, self._sizes.next_bytes)
        if unsent:
            self._shut(socket.SHUT_WR)
        self._await(sock, answers, most_missing=0)

    def _may_miss(self) -> int:
        """Return how many bodies may be on their way when another one is sent."""
        return max(1, UNANSWERED_BYTES // self._sizes.next_bytes)

    def _try_out(self, sock: socket.socket, answers: Answers, queue: SendQueue) -> int:
        """Send one body without its last octet for a while; returns what was left when stopped.

        An answer in that while says that this server's answers tell nothing of what has arrived.
        The count begins with this body's answer.
        """
        body = self._sizes.next_bytes
        self._announce(sock, answers, body)
        sender = BodySender(sock, answers, queue)
        unsent = 1 + sender.send(body - 1, self._stopped)
        if unsent == 1:
            sender.listen(HELD_BACK_S)
            unsent = sender.send(1, self._stopped)
        self._unfinished = unsent > 0
        if not unsent:
            self._await(sock, answers, most_missing=0)
            self._answered_bytes, self._first_byte_s = 0, self._clock.monotonic_s()
        return unsent

    def _put(self, sock: socket.socket, answers: Answers, queue: SendQueue, body: int) -> int:
        """Send one request; returns how much of its body was left when stopped."""
        self._announce(sock, answers, body)
        unsent = BodySender(sock, answers, queue).send(body, self._stopped)
        self._unfinished = unsent > 0
        return unsent

    def _announce(self, sock: socket.socket, answers: Answers, body: int) -> None:
        """Send one request's head."""
        head = self._head("PUT", body)
        sock.settimeout(ANSWER_WITHIN_S)
        sock.sendall(head)
        self._overhead += len(head)
        self._unanswered.append(body)
        self._unfinished = True
        answers.expect()

    def _await(self, sock: socket.socket, answers: Answers, *, most_missing: int) -> None:
        """Return once no more answers than these are missing."""
        deadline = self._answer_deadline()
        while answers.missing > most_missing:
            sock.settimeout(deadline.left_s(answers.address))
            answers.feed(sock.recv(65_536))

    def _answered(self, answer: Answer, text: bytes) -> None:
        """Read the receipt; an answer given early says nothing about what arrived."""
        body = self._unanswered.popleft()
        early = self._unfinished and not self._unanswered and not self._stopping
        self._answered_early |= early
        if early and self._by_answers:
            problem = "it answers before the body has arrived"
            raise BadReply(address=self._origin.peer.address, problem=problem)
        if not self._unfinished or self._unanswered:
            self._answered_bytes += body
        self._sizes.answered(body)
        with contextlib.suppress(MalformedMessage):
            receipt = parse_receipt(text)
            self._receipt = self._receipt.beside(receipt) if self._receipt else receipt
        if not answer.keeps_open and not self._stopping:
            raise ClosedEarly(address=self._origin.peer.address, bytes=self.arrived() or 0)

    def _answer_deadline(self) -> Deadline:
        return self._closing_by or Deadline(self._clock, RECEIPT_WITHIN_S)
