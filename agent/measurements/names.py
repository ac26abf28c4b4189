"""Queries to one resolver, one entry per query sent."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.columns import require_equal_lengths

ABSENT_LABEL = "doorstep-absent-"
"""How the first label of a name begins that was asked because it must not exist.

An address in its answer shows that the resolver rewrites name errors (RFC 1035 §4.1.1 RCODE 3).
Such queries miss every cache, so their times do not belong to the resolver's round trips.
"""


class NameOutcome(StrEnum):
    """What became of one query."""

    ANSWERED = "answered"
    LATE = "late"
    LOST = "lost"
    MALFORMED = "malformed"
    REFUSED = "refused"
    UNREACHABLE = "unreachable"
    UNTRUSTED = "untrusted"


class NameTransport(StrEnum):
    """What carries a query: RFC 1035 §4.2 (both), RFC 7858, RFC 8484."""

    UDP = "udp"
    TCP = "tcp"
    TLS = "tls"
    HTTPS = "https"


class NamePurpose(StrEnum):
    """What one query beside the series is to show of the resolver.

    `extended` carries an OPT record (RFC 6891), `signed` asks for a soundly signed name, `bogus`
    for one whose signature is wrong and `unchecked` for the same without validation (RFC 4035
    §3.2.2). The others ask for an answer of more than 512 octets: `cut` without an OPT record,
    `large` with one, `large-tcp` over TCP. `same` asks for a name that all resolvers answer alike.
    """

    TCP = "tcp"
    EXTENDED = "extended"
    SIGNED = "signed"
    BOGUS = "bogus"
    UNCHECKED = "unchecked"
    CUT = "cut"
    LARGE = "large"
    LARGE_TCP = "large-tcp"
    SAME = "same"


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtendedError:
    """Why an answer is as it is, in the resolver's words (RFC 8914 §2)."""

    info_code: int
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameCheck:
    """One query beside the series; `records` is how many of the wanted type were answered.

    `offered_bytes` is the UDP size of the answer's OPT record, None without one. `foreign` counts
    what came to the same port and answered no question of ours.
    """

    purpose: NamePurpose
    name: str
    qtype: str
    transport: NameTransport
    sent_s: float
    outcome: NameOutcome
    rtt_ms: float | None = None
    rcode: int | None = None
    records: int = 0
    addresses: tuple[str, ...] = ()
    authenticated: bool | None = None
    truncated: bool | None = None
    size_bytes: int | None = None
    offered_bytes: int | None = None
    extended_errors: tuple[ExtendedError, ...] = ()
    foreign: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class NameQueries:
    """Columns, one entry per query: `rtt_ms` None unless answered, `rcode` per RFC 1035 §4.1.1.

    `waiting_s` is how long an answer was waited for. `addresses` holds, per query, the addresses
    of the answer, `foreign` how much came that answered no question of ours, `setup_ms` how long
    the connection took under the query, `problem` what its certificate has. `place` is the
    resolver's in the laptop's list, from 0. `private_names` may lead to private addresses.
    """

    resolver: str
    transport: str
    waiting_s: float
    name: tuple[str, ...] = ()
    qtype: tuple[str, ...] = ()
    sent_s: tuple[float, ...] = ()
    rtt_ms: tuple[float | None, ...] = ()
    outcome: tuple[NameOutcome, ...] = ()
    rcode: tuple[int | None, ...] = ()
    addresses: tuple[tuple[str, ...], ...] = ()
    authenticated: tuple[bool | None, ...] = ()
    truncated: tuple[bool | None, ...] = ()
    foreign: tuple[int, ...] = ()
    setup_ms: tuple[float | None, ...] = ()
    problem: tuple[str | None, ...] = ()
    checks: tuple[NameCheck, ...] = ()
    place: int | None = None
    private_names: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        require_equal_lengths(
            "queries to a resolver",
            name=self.name,
            qtype=self.qtype,
            sent_s=self.sent_s,
            rtt_ms=self.rtt_ms,
            outcome=self.outcome,
            rcode=self.rcode or None,
            addresses=self.addresses or None,
            foreign=self.foreign or None,
            setup_ms=self.setup_ms or None,
            problem=self.problem or None,
        )
