"""One bulk flow: a thread of its own carries bodies, everybody else only looks on."""

from __future__ import annotations

import contextlib
import socket
import ssl
import struct
import threading
from abc import ABC, abstractmethod
from dataclasses import replace

from agent.codec.tcp_info import TcpInfo
from agent.engines.bodies import SendQueue
from agent.engines.connecting import Deadline, Peer, translate
from agent.engines.http import HttpxEngine
from agent.engines.tcp_counters import TcpTeller, as_counters, read_facts, unread_bytes
from agent.errors import CannotMeasure
from agent.measurements import TcpCounters
from agent.ports.stream import FlowEnd, FlowFacts, FlowOrder, FlowPhase, FlowReading

# How long a server may think before it answers a request of a flow that is running.
ANSWER_WITHIN_S = 3.0
ABORT_WITHIN_S = 1.0

# What a TLS record of AEAD ciphers adds to at most 16,384 octets of content: header 5, tag 16, and
# one octet of inner type in 1.3 (RFC 8446 §5.2) or 8 of explicit nonce in 1.2 (RFC 5288 §3).
RECORD_CONTENT_BYTES = 16_384
RECORD_EXTRA_BYTES = {"TLSv1.3": 22, "TLSv1.2": 29}


class BulkFlow(ABC):
    """What all flows share: a connection, a thread, a phase, a fault."""

    _by_answers = False

    def __init__(
        self, http: HttpxEngine, order: FlowOrder, opening_s: float, told: TcpTeller
    ) -> None:
        self._http = http
        self._order = order
        self._told = told
        self._opening_s = opening_s
        self._clock = http.clock
        self._phase = FlowPhase.OPENING
        self._fault: CannotMeasure | None = None
        self._go = threading.Event()
        self._stopping = False
        self._closing_by: Deadline | None = None
        self._sock: socket.socket | None = None
        self._peer: Peer | None = None
        self._facts: FlowFacts | None = None
        self._first_byte_s: float | None = None
        self._thread = threading.Thread(target=self._live, name="bulk-flow", daemon=True)

    def launch(self) -> None:
        """Start the flow's thread, which opens the connection."""
        self._thread.start()

    def begin(self) -> None:
        """Start the bodies; the flow runs from now on, whenever its thread wakes."""
        if self._phase is FlowPhase.READY:
            self._phase = FlowPhase.RUNNING
        self._go.set()

    def reading(self) -> FlowReading:
        """Return how far the flow has come."""
        phase, fault = self._phase, self._fault
        return FlowReading(
            phase=phase,
            bytes=self.arrived(),
            by_answers=self._by_answers,
            first_byte_s=self._first_byte_s,
            fault=fault,
        )

    def counters(self, at_s: float) -> TcpCounters | None:
        """Return the kernel's counters; None where there are none or nothing is open."""
        info = self._told(self._sock) if self._sock else None
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

    @abstractmethod
    def arrived(self) -> int | None:
        """Return the payload that has arrived."""

    def end(self) -> FlowEnd:
        """Return what was left to learn."""
        return FlowEnd()

    @abstractmethod
    def _dial(self) -> tuple[socket.socket, Peer]:
        """Return the connection of the bodies and its far end, ready for the first of them."""

    @abstractmethod
    def _carry(self, sock: socket.socket, address: str) -> None:
        """Carry bodies until stopped; raises OSError and CannotMeasure."""

    @abstractmethod
    def _halt(self) -> None:
        """Wake the thread from whatever it waits for."""

    def _stopped(self) -> bool:
        return self._stopping

    def _live(self) -> None:
        try:
            self._connect()
            self._go.wait()
            if self._sock is not None and self._peer is not None and not self._stopping:
                self._carry(self._sock, self._peer.address)
        except CannotMeasure as error:
            self._keep(error)
        except OSError as error:
            self._keep(self._translated(error))
        finally:
            self._phase = FlowPhase.ENDED
            if self._stopping:
                self._close()

    def _connect(self) -> None:
        self._sock, self._peer = self._dial()
        self._opened(self._sock, self._peer, self._told(self._sock))
        self._phase = FlowPhase.READY

    def _opened(self, sock: socket.socket, peer: Peer, info: TcpInfo | None) -> None:
        """Note what the new connection is; `info` is what the kernel tells of it."""
        tls = isinstance(sock, ssl.SSLSocket)
        self._facts = read_facts(sock, peer.address, peer.family, info, secure=tls)

    def _keep(self, error: CannotMeasure) -> None:
        if not self._stopping:
            self._fault = error

    def _translated(self, error: OSError) -> CannotMeasure:
        # The order's URL may hold a login, and a fault ends in a record.
        address = self._peer.address if self._peer else "the server"
        return translate(error, address, after_s=ANSWER_WITHIN_S, count=self.arrived() or 0)

    def _shut(self, how: int) -> None:
        """Shut the TCP connection below any TLS, so that another thread's call returns."""
        if self._sock is not None:
            with contextlib.suppress(OSError):
                socket.socket.shutdown(self._sock, how)

    def _abort(self) -> None:
        """Drop what still waits to be sent, and wake the thread (SO_LINGER of 0 s: reset)."""
        if self._sock is not None:
            with contextlib.suppress(OSError):
                self._sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self._shut(socket.SHUT_RDWR)
        self._thread.join(ABORT_WITHIN_S)

    def _close(self) -> None:
        if self._sock is not None:
            self._sock.close()


class CountingFlow(BulkFlow):
    """A download: what arrives is counted here and thrown away."""

    def __init__(
        self, http: HttpxEngine, order: FlowOrder, opening_s: float, told: TcpTeller
    ) -> None:
        super().__init__(http, order, opening_s, told)
        self._bytes = 0

    def arrived(self) -> int:
        """Return the body octets that the kernel handed to this process."""
        return self._bytes

    def counters(self, at_s: float) -> TcpCounters | None:
        """Return the kernel's counters with what waits for this process to read it."""
        counters = super().counters(at_s)
        if counters is None or self._sock is None:
            return None
        return replace(counters, unread_bytes=unread_bytes(self._sock))

    def _count(self, got: int) -> None:
        if self._first_byte_s is None:
            self._first_byte_s = self._clock.monotonic_s()
        self._bytes += got

    def _halt(self) -> None:
        self._shut(socket.SHUT_RDWR)


class AcknowledgedFlow(BulkFlow):
    """An upload: what the far end's TCP acknowledged is counted, less what is no body."""

    def __init__(
        self, http: HttpxEngine, order: FlowOrder, opening_s: float, told: TcpTeller
    ) -> None:
        super().__init__(http, order, opening_s, told)
        self._overhead = 0
        self._acked = 0
        self._baseline: int | None = None
        self._share = 1.0
        self._tcp_tells = True

    def _opened(self, sock: socket.socket, peer: Peer, info: TcpInfo | None) -> None:
        super()._opened(sock, peer, info)
        self._tcp_tells = info is not None and info.bytes_delivered is not None

    def arrived(self) -> int | None:
        """Return the body octets that the far end's TCP said it has, None where not told."""
        if not self._tcp_tells:
            return None
        if self._baseline is None or self._sock is None:
            return 0
        info = self._told(self._sock)
        if info is not None and info.bytes_delivered is not None:
            payload = int((info.bytes_delivered - self._baseline) * self._share) - self._overhead
            self._acked = max(self._acked, payload)
            self._note_first()
        return self._acked

    def _note_first(self) -> None:
        if self._first_byte_s is None and self._acked > 0:
            self._first_byte_s = self._clock.monotonic_s()

    def _prepare(self, sock: socket.socket) -> SendQueue:
        """Return the kernel's own queue, kept short; remember where its count stands."""
        if isinstance(sock, ssl.SSLSocket):
            extra = RECORD_EXTRA_BYTES.get(sock.version() or "", 0)
            self._share = RECORD_CONTENT_BYTES / (RECORD_CONTENT_BYTES + extra)
        info = self._told(sock)
        self._baseline = info.bytes_delivered if info else None
        return SendQueue(sock, self._clock.monotonic_s)

    def _halt(self) -> None:
        """Say that no more will come; the sender also looks at the flag while it waits."""
        if self._phase is FlowPhase.READY:
            self._shut(socket.SHUT_RDWR)
