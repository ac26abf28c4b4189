"""Looking up names over the tested line only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from agent.measurements import ExtendedError, NameOutcome, NameTransport


@dataclass(frozen=True, slots=True, kw_only=True)
class NameQuestion:
    """One query to one resolver.

    `udp_bytes` sends an OPT record that allows so long an answer (RFC 6891 §6.2.3), None none.
    `signatures` is its DO bit (RFC 3225 §3), `unchecked` the CD bit (RFC 4035 §3.2.2).
    """

    resolver: str
    name: str
    qtype: str = "A"
    transport: NameTransport = NameTransport.UDP
    udp_bytes: int | None = None
    signatures: bool = False
    unchecked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NameAnswer:
    """What came of one query to one resolver; times in milliseconds.

    `names` are those a PTR query found, without the final dot. `records` counts the answer's of the
    wanted type. `offered_bytes` is the UDP size of its OPT record, None without one. `foreign` is
    how much came to the same port and answered no question of ours. `setup_ms` is the time of the
    connection under the query, `problem` what its certificate has.
    """

    outcome: NameOutcome
    rtt_ms: float | None = None
    rcode: int | None = None
    addresses: tuple[str, ...] = ()
    authenticated: bool | None = None
    truncated: bool | None = None
    names: tuple[str, ...] = ()
    records: int = 0
    size_bytes: int | None = None
    offered_bytes: int | None = None
    extended_errors: tuple[ExtendedError, ...] = ()
    foreign: int = 0
    setup_ms: float | None = None
    problem: str | None = None


class AskingPort(Protocol):
    """Single queries of any form, each on a socket of its own."""

    def ask(self, question: NameQuestion, within_s: float) -> NameAnswer:
        """Send one query and wait for its answer; what resolver and way do is an outcome.

        Raises NameNotResolved for a name that cannot be asked, and CannotMeasure kinds where this
        laptop cannot send at all.
        """
        ...


class NamesPort(AskingPort, Protocol):
    """Queries bound to the tested interface; never the system's own resolver."""

    def query(self, resolver: str, name: str, qtype: str, within_s: float) -> NameAnswer:
        """Send one query to one resolver over UDP and wait for its answer."""
        ...

    def resolve(self, name: str, family: int, within_s: float) -> tuple[str, ...]:
        """Return the addresses of a name, asking the line's resolvers in turn.

        A literal address is returned as it is. Raises NameNotResolved.
        """
        ...
