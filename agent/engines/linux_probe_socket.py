"""A probe socket on Linux: kernel stamps both ways, ICMP errors through the error queue."""

from __future__ import annotations

import socket
import time
from types import TracebackType
from typing import Self

from agent.engines.echo_framing import Framing, Unwrapped
from agent.engines.kernel_stamps import STEP_NS, StampClockMap
from agent.engines.linux_ancillary import (
    MSG_ERRQUEUE,
    ORIGIN_ICMP,
    ORIGIN_ICMP6,
    ORIGIN_STAMP,
    SO_TIMESTAMPING,
    SOL_IPV6,
    SPACE,
    TX_STAMPS,
    TX_STAMPS_WITHOUT_ID,
    Beside,
    ExtendedError,
    read_ancillary,
)
from agent.engines.linux_refusals import refusal
from agent.engines.waiting import wait_readable
from agent.measurements import StampClock
from agent.ports.binding import Binding
from agent.ports.datagram import Event, Failed, Received, Sent
from agent.units import NS_PER_S

LARGEST = 2048
MOST_AT_ONCE = 256
"""Datagrams taken in one poll, so that a flood cannot hold the caller."""

SEND_TRIES = 3
"""An ICMP error that arrives between two calls makes one send fail for no fault of its own."""


class LinuxProbeSocket:
    """One connected socket of `family` (4 or 6) towards `address`; see `ProbeSocket`."""

    def __init__(
        self, sock: socket.socket, family: int, framing: Framing, *, binding: Binding, address: str
    ) -> None:
        self._sock = sock
        self._family = family
        self._framing = framing
        self._binding = binding
        self._address = address
        self._clocks = StampClockMap()
        self._looked_ns = time.monotonic_ns()
        self._sent_after_ns: list[int] = []
        self._first_key_index = 0
        self._hop_limit: int | None = None

    @property
    def clock_steps(self) -> int:
        """Return how often the wall clock stepped while the socket was open."""
        return self._clocks.steps

    def fileno(self) -> int:
        """Return the descriptor that turns readable when something happened."""
        return self._sock.fileno()

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one datagram now and return its index; raises CannotMeasure."""
        index = len(self._sent_after_ns)
        data = self._framing.wrap(index, payload)
        try:
            self._set_hop_limit(hop_limit)
            before_ns = self._send(data)
        except OSError as error:
            raise refusal(error, binding=self._binding, address=self._address) from error
        self._sent_after_ns.append(before_ns)
        return index

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        wait_readable((self.fileno(),), timeout_s)
        self._clocks.look()
        since_ns, self._looked_ns = self._looked_ns, time.monotonic_ns()
        return (*self._errors(since_ns), *self._datagrams(since_ns))

    def close(self) -> None:
        """Give the socket back."""
        self._sock.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _send(self, data: bytes) -> int:
        for tries_left in reversed(range(SEND_TRIES)):
            # Reading the pending error clears it, so that it does not fail this send.
            self._sock.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
            before_ns = time.monotonic_ns()
            try:
                self._sock.send(data)
            except OSError:
                self._count_sends_anew()
                if not tries_left:
                    raise
            else:
                return before_ns
        raise AssertionError

    def _count_sends_anew(self) -> None:
        # Kernels differ in whether a failed send uses up a stamp number.
        for flags in (TX_STAMPS_WITHOUT_ID, TX_STAMPS):
            self._sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPING, flags)
        self._first_key_index = len(self._sent_after_ns)

    def _set_hop_limit(self, hop_limit: int | None) -> None:
        if hop_limit is None or hop_limit == self._hop_limit:
            return
        if self._family == 4:
            self._sock.setsockopt(socket.SOL_IP, socket.IP_TTL, hop_limit)
        else:
            self._sock.setsockopt(SOL_IPV6, socket.IPV6_UNICAST_HOPS, hop_limit)
        self._hop_limit = hop_limit

    def _errors(self, since_ns: int) -> list[Event]:
        events: list[Event] = []
        for _ in range(MOST_AT_ONCE):
            try:
                data, items, _, _ = self._sock.recvmsg(LARGEST, SPACE, MSG_ERRQUEUE)
            except OSError:
                break
            beside = read_ancillary(items)
            event = self._error_event(data, beside, since_ns) if beside.error else None
            if event is not None:
                events.append(event)
        return events

    def _error_event(self, data: bytes, beside: Beside, since_ns: int) -> Event | None:
        error = beside.error
        assert error is not None
        if error.origin == ORIGIN_STAMP:
            return self._sent_event(error, beside)
        if error.origin not in {ORIGIN_ICMP, ORIGIN_ICMP6}:
            return None
        at_ns, clock = self._when(beside.received_ns, since_ns)
        ends = error.extensions_at or len(data)
        return Failed(
            icmp_type=error.icmp_type,
            icmp_code=error.icmp_code,
            at_s=at_ns / NS_PER_S,
            clock=clock,
            source=error.offender,
            quoted=self._framing.quoted(data[:ends]),
            mtu_bytes=_mtu_bytes(error),
            extensions=data[ends:],
        )

    def _sent_event(self, error: ExtendedError, beside: Beside) -> Sent | None:
        index = self._first_key_index + error.data
        if beside.sent_ns is None or not 0 <= index < len(self._sent_after_ns):
            return None
        after_ns = self._sent_after_ns[index]
        at_ns = self._clocks.monotonic_ns(
            beside.sent_ns, since_ns=after_ns, until_ns=time.monotonic_ns()
        )
        # A stamp from before the call belongs to another send: the kernel's count was renewed.
        if at_ns is None or at_ns < after_ns - STEP_NS:
            return None
        return Sent(index=index, at_s=at_ns / NS_PER_S)

    def _datagrams(self, since_ns: int) -> list[Event]:
        events: list[Event] = []
        for _ in range(MOST_AT_ONCE):
            try:
                data, items, _, source = self._sock.recvmsg(LARGEST, SPACE)
            except BlockingIOError:
                break
            except OSError:
                # The pending error of an ICMP message that the error queue already told of.
                continue
            found = self._framing.unwrap(data)
            if found is not None:
                at_ns, clock = self._when(read_ancillary(items).received_ns, since_ns)
                events.append(_received(found, at_ns, clock, source))
        return events

    def _when(self, stamp_ns: int | None, since_ns: int) -> tuple[int, StampClock]:
        now_ns = time.monotonic_ns()
        at_ns = None
        if stamp_ns is not None:
            at_ns = self._clocks.monotonic_ns(stamp_ns, since_ns=since_ns, until_ns=now_ns)
        return (now_ns, StampClock.USER) if at_ns is None else (at_ns, StampClock.KERNEL)


def _received(
    found: Unwrapped, at_ns: int, clock: StampClock, source: tuple[object, ...] | None
) -> Received:
    return Received(
        payload=found.payload,
        sequence=found.sequence,
        at_s=at_ns / NS_PER_S,
        clock=clock,
        source=str(source[0]) if source else None,
    )


def _mtu_bytes(error: ExtendedError) -> int | None:
    kind = (error.origin, error.icmp_type, error.icmp_code)
    return error.info or None if kind in {(ORIGIN_ICMP, 3, 4), (ORIGIN_ICMP6, 2, 0)} else None
