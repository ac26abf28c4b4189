"""Ports beyond the line: every attempt to reach one, and what the far end saw of the laptop."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Transport(StrEnum):
    """What an attempt is made over."""

    TCP = "tcp"
    UDP = "udp"


class ReachOutcome(StrEnum):
    """What came of one attempt.

    OPEN a connection, or any answer over UDP; REFUSED a reset (RFC 9293 §3.10.7.1); UNREACHABLE an
    ICMP error with its code; EXPIRED a router's word that the hop limit ran out; SILENT nothing
    within the time; UNSENT refused by this laptop.
    """

    OPEN = "open"
    REFUSED = "refused"
    UNREACHABLE = "unreachable"
    EXPIRED = "expired"
    SILENT = "silent"
    UNSENT = "unsent"


@dataclass(frozen=True, slots=True, kw_only=True)
class PortTarget:
    """One port that was tried; `at_server` tells that it is the operator's own server.

    `listed` False is a port tried beside, for comparison. `problem` is the reason code where no
    address was found.
    """

    name: str
    transport: Transport
    port: int
    address: str | None = None
    at_server: bool = False
    listed: bool = True
    wanted_open: bool = True
    problem: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PortAttempt:
    """One attempt on the target with index `target`; `hop_limit` None is the system's own.

    `answered_by` sent the ICMP error. `seen_address` and `seen_port` are the laptop's own as the
    far end saw them, where it said so.
    """

    target: int
    sent_s: float
    outcome: ReachOutcome
    hop_limit: int | None = None
    rtt_ms: float | None = None
    answered_by: str | None = None
    icmp_type: int | None = None
    icmp_code: int | None = None
    own_address: str | None = None
    own_port: int | None = None
    seen_address: str | None = None
    seen_port: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachLook:
    """Every port tried and every attempt.

    `own_address` is the laptop's towards the operator's server, `card_address` and `card_port` are
    what the server's card said of it.
    """

    waiting_s: float
    targets: tuple[PortTarget, ...] = ()
    attempts: tuple[PortAttempt, ...] = ()
    own_address: str | None = None
    card_address: str | None = None
    card_port: int | None = None

    def __post_init__(self) -> None:
        if any(not 0 <= one.target < len(self.targets) for one in self.attempts):
            msg = "an attempt on a port that is not among the targets"
            raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class PortStatistics:
    """Of one port: `outcome` is open, refused, unreachable, filtered, or untried.

    Filtered is silence to every attempt. `hops` are who answered at each distance on the way there,
    over this port or the one it is compared with; `answers_to` is the last distance from which
    this port got an answer, `others_to` that for the other port, `reached_at` the distance of the
    target. `refused_at` is the distance from which a refusal comes. `answered_by` sent the error.
    """

    name: str
    transport: Transport
    port: int
    outcome: str
    wanted_open: bool = True
    at_server: bool = False
    address: str | None = None
    rtt_ms: float | None = None
    answered_by: str | None = None
    icmp_type: int | None = None
    icmp_code: int | None = None
    compared_with: int | None = None
    hops: tuple[tuple[str, ...], ...] = ()
    answers_to: int | None = None
    others_to: int | None = None
    reached_at: int | None = None
    refused_at: int | None = None

    @property
    def as_wanted(self) -> bool | None:
        """Tell whether the port is as the settings expect, None where it was not tried."""
        if self.outcome == "untried":
            return None
        return (self.outcome == "open") is self.wanted_open


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """One flow's ends here and as the far end saw them."""

    transport: Transport
    own_address: str | None
    own_port: int | None
    seen_address: str
    seen_port: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachStatistics:
    """Of all ports: how many are as expected, each one, and how the laptop is seen from outside.

    `seen_addresses` are all addresses that it was seen with: several are those of a translator that
    spreads flows over them.
    """

    ports: tuple[PortStatistics, ...] = ()
    tried: int = 0
    as_wanted: int = 0
    own_address: str | None = None
    seen_addresses: tuple[str, ...] = ()
    sightings: tuple[Sighting, ...] = ()
