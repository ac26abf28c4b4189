"""Bulk flows by FTP: commands on a control connection, bodies on a data connection of its own."""

from __future__ import annotations

import contextlib
import socket
import sys

from agent.engines.bodies import BodySender, Drain
from agent.engines.connecting import Deadline, Peer
from agent.engines.flow import ANSWER_WITHIN_S, AcknowledgedFlow, BulkFlow, CountingFlow
from agent.engines.ftp_control import BoundFtp, FtpTarget
from agent.engines.http import HttpxEngine
from agent.engines.tcp_counters import TcpTeller
from agent.errors import BadReply, CannotMeasure, ClosedEarly
from agent.ports.stream import FlowEnd, FlowOrder

EXPLAINED_WITHIN_S = 1.0
"""How long a server that broke a transfer may take to say why."""


def is_ftp(url: str) -> bool:
    """Return whether a URL is one of FTP."""
    return url[:4].lower() == "ftp:"


class FtpFlow(BulkFlow):
    """A flow whose connection is an FTP data connection, made before its transfer is ordered."""

    _control: BoundFtp | None = None
    _path = ""

    def _dial(self) -> tuple[socket.socket, Peer]:
        target = FtpTarget.parse(self._order.url)
        deadline = Deadline(self._clock, self._opening_s)
        address = self._http.address(target.host, None, deadline)
        self._path = target.path
        peer = Peer(address=address, port=target.port)
        self._control = BoundFtp(self._http, peer, deadline)
        self._control.reach()
        self._control.enter(target)
        self._check(self._control, address)
        return self._control.data(), peer

    def _check(self, control: BoundFtp, address: str) -> None:
        """Raise CannotMeasure where the server cannot serve this flow."""

    def _order_transfer(self, command: str) -> BoundFtp:
        assert self._control is not None
        self._control.deadline = Deadline(self._clock, ANSWER_WITHIN_S)
        self._control.start(f"{command} {self._path}")
        return self._control

    def _explained(self, fault: CannotMeasure) -> CannotMeasure:
        """Return what the server says of a transfer that broke, the break itself if nothing."""
        assert self._control is not None
        self._control.deadline = Deadline(self._clock, EXPLAINED_WITHIN_S)
        try:
            self._control.done()
        except BadReply as told:
            return told
        except CannotMeasure:
            return fault
        return fault

    def _abort(self) -> None:
        self._shut_control()
        super()._abort()

    def _shut_control(self) -> None:
        sock = self._control.sock if self._control else None
        if sock is not None:
            with contextlib.suppress(OSError):
                sock.shutdown(socket.SHUT_RDWR)

    def _close(self) -> None:
        super()._close()
        if self._control is not None:
            self._control.close()


class FtpDownFlow(FtpFlow, CountingFlow):
    """A file fetched again and again, each time over a new data connection."""

    def __init__(
        self, http: HttpxEngine, order: FlowOrder, opening_s: float, told: TcpTeller
    ) -> None:
        super().__init__(http, order, opening_s, told)
        self._length: int | None = None

    def _check(self, control: BoundFtp, address: str) -> None:
        self._length = control.length(self._path)
        if self._length is not None and self._length < self._order.least_bytes:
            problem = f"a download of {self._length} bytes is too short to time"
            raise BadReply(address=address, problem=problem)

    def _carry(self, sock: socket.socket, address: str) -> None:
        while not self._stopping:
            control = self._order_transfer("RETR")
            self._fetch(sock, address)
            if self._stopping:
                return
            control.deadline = Deadline(self._clock, ANSWER_WITHIN_S)
            control.done()
            sock = self._again(control)

    def _fetch(self, sock: socket.socket, address: str) -> None:
        """Take one file to its end, which is the end of the data connection."""
        before = self._bytes
        sock.settimeout(None)
        try:
            Drain(sock, self._count, self._clock.monotonic_s).run(sys.maxsize)
        except OSError as error:
            raise self._explained(self._translated(error)) from error
        got = self._bytes - before
        if not self._stopping and got < (self._length or self._order.least_bytes):
            raise self._explained(ClosedEarly(address=address, bytes=self._bytes))

    def _again(self, control: BoundFtp) -> socket.socket:
        old = self._sock
        control.deadline = Deadline(self._clock, ANSWER_WITHIN_S)
        self._sock = fresh = control.data()
        if old is not None:
            old.close()
        if self._stopping:
            self._halt()
        return fresh


class FtpUpFlow(FtpFlow, AcknowledgedFlow):
    """One file of random octets, sent until the flow is stopped, then measured and removed.

    The order's body length is not used: FTP needs a new connection for each file, whose slow
    start would stand in the middle of the measurement.
    """

    _server_bytes: int | None = None

    def end(self) -> FlowEnd:
        """Return the size of the file at the far end, None where it did not tell in time."""
        return FlowEnd(server_bytes=self._server_bytes)

    def _carry(self, sock: socket.socket, address: str) -> None:
        queue = self._prepare(sock)
        control = self._order_transfer("STOR")
        try:
            BodySender(sock, NoAnswer(address), queue).send(sys.maxsize, self._stopped)
        except OSError as error:
            raise self._explained(self._translated(error)) from error
        except ClosedEarly as error:
            raise self._explained(error) from error
        self._shut(socket.SHUT_WR)
        self._settle(control)

    def _settle(self, control: BoundFtp) -> None:
        control.deadline = self._closing_by or Deadline(self._clock, ANSWER_WITHIN_S)
        control.done()
        self._server_bytes = control.length(self._path)
        with contextlib.suppress(CannotMeasure):
            control.remove(self._path)


class NoAnswer:
    """What listens where nothing may come: an FTP server never speaks on an upload's connection."""

    def __init__(self, address: str) -> None:
        self.address = address

    def feed(self, data: bytes) -> None:
        """Raise ClosedEarly at the end of the stream, BadReply for anything else."""
        if not data:
            raise ClosedEarly(address=self.address, bytes=0)
        raise BadReply(address=self.address, problem="data where none belongs")
