"""What an operator decides about the server, with defaults that suit one machine on a gigabit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from agent import __version__
from agent.clock import Clock, SystemClock
from agent.codec.card import Limits

SOFTWARE = f"doorstep {__version__}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long the server waits, seconds.

    `head_s` for a whole request head, `idle_s` for the next request on a kept connection,
    `stall_s` for the next byte of a body in either direction, `linger_s` for a refused client to
    stop sending, `hold_s` keeps a client's turn between its transfers, `turn_s` is how long one
    client may keep its turn while others wait.
    """

    head_s: float = 10.0
    idle_s: float = 30.0
    stall_s: float = 10.0
    linger_s: float = 2.0
    hold_s: float = 5.0
    turn_s: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReflectorLimits:
    """What one reflector session may use, and how many there may be."""

    seconds: float = 600.0
    packets_per_s: int = 1_000
    max_packets: int = 100_000
    per_client: int = 16
    sessions: int = 512


def ignore(_line: str) -> None:
    """Drop a log line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServeOptions:
    """One server: where it listens, whom it serves, how much it gives.

    Port 0 takes a free one. `max_flows` bounds the transfers of one client at a time, a client
    being one IPv4 address or one IPv6 /64. New clients wait while the server's own processors are
    busier than `busy_ratio` with those it has, and while its port has promised its rate to them:
    `capacity_bps` is what the port carries, None to ask the system; `largest_bps` the fastest line
    that this server tests, None where it could be as fast as the port. `answer_port` is where it
    tells how it sees who asks, over TCP and UDP, None for nowhere. `log` takes one line of
    text per event.
    """

    host: str = "::"
    port: int = 0
    reflector_port: int = 0
    answer_port: int | None = None
    token: str | None = None
    server_id: str = "doorstep"
    max_seconds: float = 60.0
    max_bytes: int = 100_000_000_000
    max_upload_bytes: int = 100_000_000_000
    max_flows: int = 32
    max_clients: int = 50
    max_connections: int = 600
    busy_ratio: float = 0.9
    capacity_bps: float | None = None
    largest_bps: float | None = None
    certificate: Path | None = None
    key: Path | None = None
    patience: Patience = Patience()
    reflector: ReflectorLimits = ReflectorLimits()
    clock: Clock = field(default_factory=SystemClock)
    log: Callable[[str], None] = ignore

    def limits(self) -> Limits:
        """Return what the card says is allowed."""
        return Limits(
            seconds=self.max_seconds,
            bytes=self.max_bytes,
            upload_bytes=self.max_upload_bytes,
            flows=self.max_flows,
            clients=self.max_clients,
        )
