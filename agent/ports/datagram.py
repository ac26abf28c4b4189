"""Sockets that send probes and tell when they left, what came back, and who refused.

Every stamp is in seconds of the monotonic clock (`Clock.monotonic_s`), whoever took it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from agent.measurements import StampClock


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """The kernel's word on when the datagram with this index left."""

    index: int
    at_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A datagram that came in; `payload` without ICMP header on echo sockets.

    `sequence` is the 16-bit number of an echo reply: the index of its request modulo 65536.
    """

    payload: bytes
    at_s: float
    clock: StampClock
    source: str | None = None
    sequence: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """An ICMP error about an own datagram.

    `source` sent the error; `quoted` is what it returned of the own payload, from its first byte
    and perhaps empty. `mtu_bytes` is the limit a router named (RFC 1191 §4), if it did.
    `extensions` is the structure it added (RFC 4884 §7), empty where there was none to be seen.
    """

    icmp_type: int
    icmp_code: int
    at_s: float
    clock: StampClock
    source: str | None = None
    quoted: bytes = b""
    mtu_bytes: int | None = None
    extensions: bytes = b""


Event = Sent | Received | Failed


class ProbeSocket(Protocol):
    """One socket towards one far end."""

    @property
    def clock_steps(self) -> int:
        """Return how often the wall clock stepped while the socket was open."""
        ...

    def send(self, payload: bytes, hop_limit: int | None = None) -> int:
        """Send one datagram now and return its index: 0, 1, 2 … over those that went out.

        Raises CannotMeasure where the system did not take it.
        """
        ...

    def poll(self, timeout_s: float) -> tuple[Event, ...]:
        """Return what happened, waiting at most `timeout_s` for something to happen."""
        ...

    def close(self) -> None:
        """Give the socket back; closing twice is harmless."""
        ...


@runtime_checkable
class SaysProtocol(Protocol):
    """A socket whose probes in a walk are not UDP."""

    protocol: str


class WaitTogether(Protocol):
    """Waiting on the sockets of several series at once, as one loop does."""

    def __call__(self, sockets: Sequence[ProbeSocket], timeout_s: float) -> Sequence[ProbeSocket]:
        """Wait at most `timeout_s` and return the sockets on which something may have happened."""
        ...
