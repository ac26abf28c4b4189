"""Both address families side by side: the same pages over IPv4 alone and over IPv6 alone."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.path import HopWalk


class Named(StrEnum):
    """What the resolvers said of a name in one family.

    GIVEN an address, NONE by an answer that holds none, SILENT when no resolver answered; LITERAL
    is no name but an address.
    """

    GIVEN = "given"
    NONE = "none"
    SILENT = "silent"
    LITERAL = "literal"


class FamilyState(StrEnum):
    """IPv6 in this home: works, not there, there and broken, or not told by what was tried."""

    PRESENT = "present"
    ABSENT = "absent"
    BROKEN = "broken"
    UNTRIED = "untried"


class FamilyBreak(StrEnum):
    """How IPv6 is broken; NAMES_SILENT is a resolver that does not answer for IPv6 addresses."""

    NO_ROUTE = "no-route"
    NO_ANSWER = "no-answer"
    LARGE_LOST = "large-lost"
    SITE_UNANSWERED = "site-unanswered"
    NAMES_SILENT = "names-silent"
    SLOWER = "slower"


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyTry:
    """One page over one family; times in milliseconds, None where the phase was not reached.

    The request fills a packet. `problem` is the reason code where no whole answer came within
    `took_ms`, the look-up left out. `small_status` is the status of a small request, made after a
    large one had met silence, None where it was not made or met silence too.
    """

    target: str
    family: int
    named: Named
    sent_s: float
    address: str | None = None
    connect_ms: float | None = None
    first_byte_ms: float | None = None
    took_ms: float | None = None
    status: int | None = None
    bytes: int | None = None
    problem: str | None = None
    small_status: int | None = None

    @property
    def tried(self) -> bool:
        """Tell whether there was an address to connect to."""
        return self.named in {Named.GIVEN, Named.LITERAL} and self.problem != "name-not-resolved"


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyLook:
    """What the laptop holds of each family, and every page that was asked for over each.

    `held` and `routed` are the families (4, 6) with an address that is meant for more than its
    link, and with a default route. `translation_prefix` is the prefix that a resolver puts IPv4
    addresses into (RFC 7050), `translates_itself` whether this computer turns IPv4 into IPv6
    (RFC 6877). `request_bytes` is the size of the padding that fills a request's packet. `walk`
    leads to a page that has no connection over IPv6, where none has one.
    """

    held: tuple[int, ...]
    routed: tuple[int, ...]
    request_bytes: int
    translation_prefix: str | None = None
    translates_itself: bool = False
    tries: tuple[FamilyTry, ...] = ()
    walk: HopWalk | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyStatistics:
    """Of both families: the state of IPv6, how it is broken, and what that costs.

    `tried` and `answered` count pages over IPv6, `unanswered` names those that answer over IPv4
    alone. `connect_4_ms` and `connect_6_ms` are medians. `racing_s` is what each new connection
    loses in a client that tries both families (RFC 8305), `single_s` in one that waits for IPv6
    to fail first; `hangs` says that such a page does not come at all until someone gives up.
    `hops` are the addresses that answered at each distance on the way to `walked_to`, which has no
    connection over IPv6, and `stop_code` says why they end as in `PathStatistics`.
    `ipv4_missing` says that only IPv6 was given and nothing translates: sites without IPv6 are out
    of reach.
    """

    state: FamilyState
    breaks: tuple[FamilyBreak, ...] = ()
    translation_prefix: str | None = None
    translates_itself: bool = False
    tried: int = 0
    answered: int = 0
    unanswered: tuple[str, ...] = ()
    connect_4_ms: float | None = None
    connect_6_ms: float | None = None
    racing_s: float | None = None
    single_s: float | None = None
    hangs: bool = False
    hops: tuple[tuple[str, ...], ...] = ()
    walked_to: str | None = None
    stop_code: str | None = None
    ipv4_missing: bool = False
