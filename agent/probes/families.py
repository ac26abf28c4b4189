"""The same pages over IPv4 alone and over IPv6 alone, at the same time.

A browser that races both families (RFC 8305) hides a family that is broken (§9.3), and one whose
large packets vanish (§9.1): so each is asked for alone, by requests that fill a packet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from ipaddress import IPv4Network, IPv6Network, ip_address
from urllib.parse import urlsplit

from agent.clock import Timeline
from agent.codec.translation import IPV4_ONLY, prefix_told
from agent.errors import CannotMeasure
from agent.measurements import (
    FamilyLook,
    FamilyTry,
    HopWalk,
    Kind,
    Measurement,
    Named,
    NameOutcome,
    Reason,
    Role,
    State,
)
from agent.ports.facts import HeldAddress, Interface
from agent.ports.http import HttpExchange, HttpPort, HttpRequest
from agent.ports.names import NameAnswer, NamesPort
from agent.ports.running import Running
from agent.units import ms_from_s

METHOD = "families"
QTYPES = {4: "A", 6: "AAAA"}
LOOKUP_S = 1.0
FULL_S = 3.0
"""A lost SYN is repeated after one second (RFC 6298 §2.1): time for one repeat and the page."""

SMALL_S = 2.0
PADDING_BYTES = 2_000
"""Longer than any packet's payload, as a browser's cookies are: the request fills one."""

MOST_TARGETS = 6
ANSWER_BYTES = 65_536
SILENCE = "timed-out"

UNIQUE_LOCAL = IPv6Network("fc00::/7")
"""RFC 4193 §3.1: not for ways beyond the site."""

TRANSLATED_HERE = IPv4Network("192.0.0.0/29")
"""RFC 7335 §4: the IPv4 address of a computer that translates by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyTarget:
    """One page by the name that the settings give it; `filling` asks with a full packet."""

    name: str
    url: str
    filling: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Means:
    http: HttpPort
    names: NamesPort
    resolvers: tuple[str, ...]
    timeline: Timeline
    running: Running
    until_s: float

    def left_s(self, most_s: float) -> float:
        """Return how long something may take that takes at most so long."""
        return max(0.0, min(most_s, self.until_s - self.timeline.now_s()))


def measure_families(
    http: HttpPort,
    names: NamesPort,
    targets: Sequence[FamilyTarget],
    *,
    interfaces: Sequence[Interface],
    tested: Interface,
    resolvers: tuple[str, ...],
    timeline: Timeline,
    within_s: float,
    running: Running,
    walk: Callable[[str], HopWalk | None] = lambda _: None,
) -> Measurement:
    """Return every page over each family, and what the laptop holds of both.

    `interfaces` are all of the computer, `tested` the one under test. A family of which the
    laptop holds no address is not tried, and without IPv6 nothing is.
    `walk` finds who answers on the way to an address: it is asked where IPv6 alone is dead.
    """
    started_s = timeline.now_s()
    means = _Means(
        http=http,
        names=names,
        resolvers=resolvers,
        timeline=timeline,
        running=running,
        until_s=started_s + within_s,
    )
    held = families_held(tested.addresses)
    wanted = held if 6 in held else ()
    asked = [(target, family) for target in targets[:MOST_TARGETS] for family in wanted]
    with ThreadPoolExecutor(max_workers=len(asked) + 1) as pool:
        prefix = pool.submit(_prefix, means)
        tries = [pool.submit(_try, means, target, family) for target, family in asked]
        look = FamilyLook(
            held=held,
            routed=tuple(sorted({way.family for way in tested.ways})),
            request_bytes=PADDING_BYTES,
            translation_prefix=_text(prefix),
            translates_itself=any(map(_translates, interfaces)),
            tries=tuple(one.result() for one in tries),
        )
    dead = _dead(look)
    if dead is not None and not running.stopped():
        look = replace(look, walk=walk(dead))
    cut = Reason(code="stopped") if running.stopped() else None
    return Measurement(
        kind=Kind.HTTP,
        role=Role.OUTSIDE,
        state=State.PARTIAL if cut else State.COMPLETE,
        method=METHOD,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        reason=cut,
        observed=look,
    )


def _dead(look: FamilyLook) -> str | None:
    """Return an address without a connection over IPv6, where pages connect over IPv4 alone."""
    reached = {t.family for t in look.tries if t.connect_ms is not None or t.small_status}
    failed = (t.address for t in look.tries if t.family == 6 and t.problem is not None)
    return next(failed, None) if reached == {4} and 6 in look.routed else None


def families_held(addresses: Iterable[HeldAddress]) -> tuple[int, ...]:
    """Return the families of which an address is held that is meant for more than its site."""
    return tuple(sorted({held.family for held in addresses if held.usable and _far(held.address)}))


def _far(text: str) -> bool:
    address = ip_address(text.partition("%")[0])
    near = address.is_link_local or address.is_loopback or address.is_unspecified
    return not near and not (address.version == 6 and address in UNIQUE_LOCAL)


def _translates(port: Interface) -> bool:
    own = (ip_address(h.address.partition("%")[0]) for h in port.addresses if h.family == 4)
    return any(address in TRANSLATED_HERE for address in own)


def _text(prefix: Future[IPv6Network | None]) -> str | None:
    found = prefix.result()
    return None if found is None else str(found)


def _prefix(means: _Means) -> IPv6Network | None:
    """Return the prefix that the resolvers put IPv4 addresses into (RFC 7050 §3)."""
    answer = _answer(means, IPV4_ONLY, 6)
    return None if answer is None else prefix_told(answer.addresses)


def _answer(means: _Means, name: str, family: int) -> NameAnswer | None:
    """Return the first resolver's answer there is, None from silence."""
    for resolver in means.resolvers:
        within_s = means.left_s(LOOKUP_S)
        if not within_s or means.running.stopped():
            return None
        try:
            answer = means.names.query(resolver, name, QTYPES[family], within_s)
        except CannotMeasure:
            continue
        if answer.outcome is NameOutcome.ANSWERED:
            return answer
    return None


def _try(means: _Means, target: FamilyTarget, family: int) -> FamilyTry:
    named, address = _named(means, urlsplit(target.url).hostname or "", family)
    begun = FamilyTry(
        target=target.name,
        family=family,
        named=named,
        sent_s=means.timeline.now_s(),
        address=address,
    )
    if address is None or not means.left_s(FULL_S) or means.running.stopped():
        return begun if address is None else replace(begun, problem="stopped")
    return _fetched(means, target, begun)


def _named(means: _Means, host: str, family: int) -> tuple[Named, str | None]:
    """Return what is known of a host in a family, and its first address."""
    try:
        literal = ip_address(host).version
    except ValueError:
        answer = _answer(means, host, family)
        if answer is None:
            return Named.SILENT, None
        address = next(iter(answer.addresses), None)
        return (Named.NONE if address is None else Named.GIVEN), address
    return (Named.LITERAL, host) if literal == family else (Named.NONE, None)


def _fetched(means: _Means, target: FamilyTarget, begun: FamilyTry) -> FamilyTry:
    """Return the try with what came of a request that fills a packet; of a small one on silence."""
    request = HttpRequest(
        url=target.url,
        family=begun.family,
        max_bytes=ANSWER_BYTES,
        padding_bytes=PADDING_BYTES if target.filling else 0,
    )
    came = means.http.fetch(request, within_s=means.left_s(FULL_S))
    means.running.used(len(came.body) + request.padding_bytes)
    told = replace(
        begun,
        address=came.remote or begun.address,
        connect_ms=came.connect_ms,
        first_byte_ms=came.first_byte_ms,
        took_ms=ms_from_s(means.timeline.now_s() - begun.sent_s) - (came.lookup_ms or 0.0),
        status=came.status,
        bytes=None if came.status is None else len(came.body),
        problem=None if came.fault is None else came.fault.code,
    )
    return replace(told, small_status=_small(means, request)) if _silent(came) else told


def _silent(came: HttpExchange) -> bool:
    return came.fault is not None and came.fault.code == SILENCE


def _small(means: _Means, request: HttpRequest) -> int | None:
    """Return the status of an answer without a body to a request without padding."""
    within_s = means.left_s(SMALL_S)
    if not within_s or means.running.stopped():
        return None
    small = replace(request, method="HEAD", padding_bytes=0)
    return means.http.fetch(small, within_s=within_s).status
