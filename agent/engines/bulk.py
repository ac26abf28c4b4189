"""Bulk flows on bare sockets: a thread per flow carries bodies, the sampler only looks on."""

from __future__ import annotations

import contextlib
import socket
import ssl
import struct
import sys
import threading

from agent.codec.card import UploadReceipt, parse_receipt
from agent.engines.bodies import (
    Answer,
    AnswerReader,
    BodySender,
    Drain,
    Head,
    receive_answer,
    receive_rest,
)
from agent.engines.connecting import Deadline, translate
from agent.engines.http import AGENT, HttpxEngine, OpenConnection
from agent.engines.tcp_counters import as_counters, read_facts, read_tcp_info, read_usage
from agent.errors import BadReply, CannotMeasure, ClosedEarly, MalformedMessage
from agent.measurements import Direction, TcpCounters
from agent.ports.stream import Flow, FlowEnd, FlowFacts, FlowOrder, FlowPhase, FlowReading, Usage

# How long a server may think before it answers a request of a flow that is running.
ANSWER_WITHIN_S = 3.0
# An upload's answer comes only after everything before it has crossed a slow line.
RECEIPT_WITHIN_S = 20.0
ABORT_WITHIN_S = 1.0
# Octets that may wait unsent in the kernel: enough to keep a fast line busy, little to drain.
NOT_SENT_BYTES = 32_768
_TCP_NOTSENT_LOWAT = {"linux": 25, "darwin": 0x201}

# What a TLS record of AEAD ciphers adds to at most 16,384 octets of content: header 5, tag 16, and
# one octet of inner type in 1.3 (RFC 8446 §5.2) or 8 of explicit nonce in 1.2 (RFC 5288 §3).
RECORD_CONTENT_BYTES = 16_384
RECORD_EXTRA_BYTES = {"TLSv1.3": 22, "TLSv1.2": 29}


class BulkEngine:
    """The stream port over the connections of an HTTP engine."""

    def __init__(self, http: HttpxEngine) -> None:
        self._http = http

    def open(self, order: FlowOrder, *, within_s: float) -> Flow:
        """Begin to open a connection and return at once; its reading tells when it is ready."""
        kind = DownFlow if order.direction is Direction.DOWN else UpFlow
        flow = kind(self._http, order, within_s)
        flow.launch()
        return flow

    def usage(self) -> Usage:
        """Return running totals of interface and process."""
        return read_usage(self._http.binding.interface)


class BulkFlow:
    """What both directions share: a connection, a thread, a phase, a fault."""

    def __init__(self, http: HttpxEngine, order: FlowOrder, opening_s: float) -> None:
        self._http = http
        self._order = order
        self._opening_s = opening_s
        self._clock = http.clock
        self._phase = FlowPhase.OPENING
        self._fault: CannotMeasure | None = None
        self._go = threading.Event()
        self._stopping = False
        self._closing_by: Deadline | None = None
        self._open: OpenConnection | None = None
        self._facts: FlowFacts | None = None
        self._first_byte_s: float | None = None
        self._thread = threading.Thread(target=self._live, name="bulk-flow", daemon=True)

    def launch(self) -> None:
        """Start the flow's thread, which opens the connection."""
        self._thread.start()

    def begin(self) -> None:
        """Start the bodies."""
        self._go.set()

    def reading(self) -> FlowReading:
        """Return how far the flow has come."""
        phase, fault = self._phase, self._fault
        return FlowReading(
            phase=phase, bytes=self.arrived(), first_byte_s=self._first_byte_s, fault=fault
        )

    def counters(self, at_s: float) -> TcpCounters | None:
        """Return the kernel's counters; None where there are none or nothing is open."""
        info = read_tcp_info(self._open.sock) if self._open else None
        return as_counters(info, at_s) if info else None

    def facts(self) -> FlowFacts | None:
        """Return what the connection is; None until it is open."""
        return self._facts

    def stop(self, within_s: float) -> None:
        """End the bodies now; the far end may say what it got for as long as given."""
        self._closing_by = Deadline(self._clock, within_s)
        self._stopping = True
        self._go.set()
        self._halt()

    def finish(self) -> FlowEnd:
        """Close the connection once the flow has ended or its time to end has passed."""
        assert self._closing_by is not None
        self._thread.join(max(0.0, self._closing_by.at_s - self._clock.monotonic_s()))
        if self._thread.is_alive():
            self._abort()
        self._close()
        return self.end()

    def arrived(self) -> int | None:
        """Return the payload that has arrived."""
        raise NotImplementedError

    def end(self) -> FlowEnd:
        """Return what was left to learn."""
        return FlowEnd()

    def _carry(self, connection: OpenConnection) -> None:
        raise NotImplementedError

    def _halt(self) -> None:
        """Wake the thread from whatever it waits for."""

    def _stopped(self) -> bool:
        return self._stopping

    def _live(self) -> None:
        try:
            self._connect()
            self._go.wait()
            self._phase = FlowPhase.RUNNING
            if self._open is not None and not self._stopping:
                self._carry(self._open)
        except CannotMeasure as error:
            self._keep(error)
        except OSError as error:
            self._keep(self._translated(error))
        finally:
            self._phase = FlowPhase.ENDED
            if self._stopping:
                self._close()

    def _connect(self) -> None:
        self._open = self._http.open(
            self._order.url, token=self._order.token, within_s=self._opening_s
        )
        sock, peer = self._open.sock, self._open.origin.peer
        tls = isinstance(sock, ssl.SSLSocket)
        self._facts = read_facts(sock, peer.address, peer.family, secure=tls)
        self._phase = FlowPhase.READY

    def _keep(self, error: CannotMeasure) -> None:
        if not self._stopping:
            self._fault = error

    def _translated(self, error: OSError) -> CannotMeasure:
        address = self._open.origin.peer.address if self._open else self._order.url
        return translate(error, address, after_s=ANSWER_WITHIN_S, count=self.arrived() or 0)

    def _head(self, connection: OpenConnection, method: str, body: int | None = None) -> bytes:
        origin = connection.origin
        return Head(
            method=method,
            target=origin.target,
            authority=origin.authority,
            agent=AGENT,
            token=self._order.token,
            body_bytes=body,
        ).encode()

    def _shut(self, how: int) -> None:
        """Shut the TCP connection below any TLS, so that another thread's call returns."""
        if self._open is not None:
            with contextlib.suppress(OSError):
                socket.socket.shutdown(self._open.sock, how)

    def _abort(self) -> None:
        """Drop what still waits to be sent, and wake the thread (SO_LINGER of 0 s: reset)."""
        if self._open is not None:
            with contextlib.suppress(OSError):
                self._open.sock.setsockopt(
                    socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0)
                )
        self._shut(socket.SHUT_RDWR)
        self._thread.join(ABORT_WITHIN_S)

    def _close(self) -> None:
        if self._open is not None:
            self._open.sock.close()


class DownFlow(BulkFlow):
    """Bodies asked for one after the other and thrown away as they come."""

    def __init__(self, http: HttpxEngine, order: FlowOrder, opening_s: float) -> None:
        super().__init__(http, order, opening_s)
        self._bytes = 0

    def arrived(self) -> int:
        """Return the body octets that the kernel handed to this process."""
        return self._bytes

    def _carry(self, connection: OpenConnection) -> None:
        ask = self._head(connection, "GET")
        address = connection.origin.peer.address
        while not self._stopping:
            deadline = Deadline(self._clock, ANSWER_WITHIN_S)
            connection.sock.settimeout(ANSWER_WITHIN_S)
            connection.sock.sendall(ask)
            answer = receive_answer(connection.sock, "GET", address, deadline)
            self._receive(connection.sock, answer, address)

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

    def _count(self, got: int) -> None:
        if self._first_byte_s is None:
            self._first_byte_s = self._clock.monotonic_s()
        self._bytes += got

    def _halt(self) -> None:
        self._shut(socket.SHUT_RDWR)


class UpFlow(BulkFlow):
    """Bodies of random octets sent one after the other, counted by what was acknowledged."""

    DEFAULT_BODY_BYTES = 67_108_864

    def __init__(self, http: HttpxEngine, order: FlowOrder, opening_s: float) -> None:
        super().__init__(http, order, opening_s)
        self._overhead = 0
        self._acked = 0
        self._baseline: int | None = None
        self._share = 1.0
        self._server_bytes: int | None = None
        self._receipt: UploadReceipt | None = None
        self._answered_early = False

    def arrived(self) -> int | None:
        """Return the body octets that the far end's TCP said it has, None where not told."""
        if self._baseline is None or self._open is None:
            return 0 if sys.platform == "linux" else None
        info = read_tcp_info(self._open.sock)
        if info is not None and info.bytes_delivered is not None:
            payload = int((info.bytes_delivered - self._baseline) * self._share) - self._overhead
            self._acked = max(self._acked, payload)
            self._note_first()
        return self._acked

    def end(self) -> FlowEnd:
        """Return the far end's own count and receipt, where it gave one."""
        return FlowEnd(
            server_bytes=self._server_bytes,
            receipt=self._receipt,
            answered_early=self._answered_early,
        )

    def _note_first(self) -> None:
        if self._first_byte_s is None and self._acked > 0:
            self._first_byte_s = self._clock.monotonic_s()

    def _carry(self, connection: OpenConnection) -> None:
        self._prepare(connection.sock)
        while not self._stopping:
            self._put(connection)

    def _prepare(self, sock: socket.socket) -> None:
        option = _TCP_NOTSENT_LOWAT.get(sys.platform)
        if option is not None:
            sock.setsockopt(socket.IPPROTO_TCP, option, NOT_SENT_BYTES)
        if isinstance(sock, ssl.SSLSocket):
            extra = RECORD_EXTRA_BYTES.get(sock.version() or "", 0)
            self._share = RECORD_CONTENT_BYTES / (RECORD_CONTENT_BYTES + extra)
        info = read_tcp_info(sock)
        self._baseline = info.bytes_delivered if info else None

    def _put(self, connection: OpenConnection) -> None:
        sock, address = connection.sock, connection.origin.peer.address
        body = self._order.body_bytes or self.DEFAULT_BODY_BYTES
        head = self._head(connection, "PUT", body)
        sock.settimeout(ANSWER_WITHIN_S)
        sock.sendall(head)
        self._overhead += len(head)
        sender = BodySender(sock, reader := AnswerReader("PUT", address))
        unsent = sender.send(body, self._stopped)
        if unsent:
            self._shut(socket.SHUT_WR)
        self._answered_early |= sender.answer is not None
        answer = sender.answer or self._await(sock, reader)
        self._settle(sock, answer, address, body if not unsent else None)

    def _await(self, sock: socket.socket, reader: AnswerReader) -> Answer:
        """Return the answer to a body that was sent, or cut short by us."""
        deadline = self._answer_deadline()
        while True:
            sock.settimeout(deadline.left_s(reader.address))
            answer = reader.feed(sock.recv(65_536))
            if answer is not None:
                answer.refuse(reader.address)
                return answer

    def _settle(self, sock: socket.socket, answer: Answer, address: str, whole: int | None) -> None:
        """Read the receipt; an answer given early says nothing about what arrived."""
        text = receive_rest(sock, answer, address, self._answer_deadline())
        with contextlib.suppress(MalformedMessage):
            self._receipt = parse_receipt(text)
        if self._receipt is not None:
            self._server_bytes = (self._server_bytes or 0) + self._receipt.bytes
        if whole is not None and not answer.keeps_open and not self._stopping:
            raise ClosedEarly(address=address, bytes=self._acked)

    def _answer_deadline(self) -> Deadline:
        return self._closing_by or Deadline(self._clock, RECEIPT_WITHIN_S)

    def _halt(self) -> None:
        """Say that no more will come; the sender also looks at the flag while it waits."""
        if self._phase is FlowPhase.READY:
            self._shut(socket.SHUT_RDWR)
