"""Which ports are reached, how the server sees this laptop, and how far a blocked port gets.

All ports are tried at once. One that stays silent or is refused is tried again with limited hops,
beside a port of the same host that passes: routers name themselves where the limit runs out, so
"answers up to hop n, then nothing" says behind whom the port is dropped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

from agent.clock import Timeline
from agent.errors import CannotMeasure
from agent.measurements import (
    Kind,
    Measurement,
    PortAttempt,
    PortTarget,
    ReachLook,
    ReachOutcome,
    Reason,
    Role,
    State,
    Transport,
)
from agent.ports.reach import ReachOrder, ReachPort
from agent.ports.running import Running
from agent.settings.model import AT_SERVER, PortCheck, ReachPlan

METHOD = "ports"
COMMON_PORTS = (443, 80)
"""Tried for comparison where no port of a host is known to pass: what networks pass first; common
practice, no source."""

MOST_AT_ONCE = 64
MOST_WALKED = 3
"""Blocked ports that are looked at closer: routers limit how often they say that a hop limit ran
out (six in a row, then one a second: net/ipv4/icmp.c, inet_peer.c), and so does the time."""

PACKET_BYTES = 60
"""About what one attempt moves each way: a SYN and its answer with their headers."""

_NO_ANSWER = (ReachOutcome.SILENT, ReachOutcome.REFUSED, ReachOutcome.UNREACHABLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerEnds:
    """The operator's server: its address, the port of its card, the port that says who asks.

    `own`, `seen_address` and `seen_port` are the laptop's ends of the card's connection.
    """

    address: str | None = None
    card_port: int | None = None
    answer_port: int | None = None
    own: str | None = None
    seen_address: str | None = None
    seen_port: int | None = None


@dataclass
class _Run:
    """The attempts of one measurement."""

    reach: ReachPort
    plan: ReachPlan
    timeline: Timeline
    running: Running
    until_s: float
    answer_port: int | None
    targets: list[PortTarget]
    attempts: list[PortAttempt] = field(default_factory=list)

    def over(self) -> bool:
        return self.running.stopped() or self.timeline.now_s() >= self.until_s

    def try_all(self, wanted: Iterable[tuple[int, int | None]]) -> list[PortAttempt]:
        """Make attempts on (target, hop limit) side by side; keep and return them."""
        orders = list(wanted)
        if not orders or self.over():
            return []
        with ThreadPoolExecutor(max_workers=min(MOST_AT_ONCE, len(orders))) as pool:
            made = list(pool.map(self._try, orders))
        self.running.used(2 * PACKET_BYTES * len(made))
        self.attempts += made
        return made

    def _try(self, wanted: tuple[int, int | None]) -> PortAttempt:
        number, hop_limit = wanted
        target = self.targets[number]
        sent_s = self.timeline.now_s()
        order = ReachOrder(
            transport=target.transport,
            address=target.address or "",
            port=target.port,
            within_s=max(0.0, min(self.plan.waiting_s, self.until_s - sent_s)),
            hop_limit=hop_limit,
            asks=target.at_server and target.port == self.answer_port and hop_limit is None,
        )
        came = self.reach.attempt(order)
        return PortAttempt(
            target=number,
            sent_s=sent_s,
            outcome=came.outcome,
            hop_limit=hop_limit,
            rtt_ms=came.rtt_ms,
            answered_by=came.answered_by,
            icmp_type=came.icmp_type,
            icmp_code=came.icmp_code,
            own_address=came.own_address,
            own_port=came.own_port,
            seen_address=came.seen_address,
            seen_port=came.seen_port,
        )

    def outcomes(self, number: int) -> list[ReachOutcome]:
        return [a.outcome for a in self.attempts if a.target == number and a.hop_limit is None]

    def opened(self, number: int) -> bool:
        return ReachOutcome.OPEN in self.outcomes(number)


def measure_reach(
    reach: ReachPort,
    checks: Sequence[PortCheck],
    server: ServerEnds,
    plan: ReachPlan,
    *,
    resolve: Callable[[str], str],
    timeline: Timeline,
    within_s: float,
    running: Running,
) -> Measurement:
    """Return one entry for every attempt on the listed ports and on those compared with.

    `resolve` gives the address of a name and raises CannotMeasure. Without listed ports only the
    server's view is asked for, where it has a port for that.
    """
    started_s = timeline.now_s()
    run = _Run(
        reach=reach,
        plan=plan,
        timeline=timeline,
        running=running,
        until_s=started_s + within_s,
        answer_port=server.answer_port,
        targets=[*_listed(checks, server, resolve), *_views(checks, server)],
    )
    _attempt_all(run)
    if reach.limits_hops:
        _look_closer(run, _blocked(run)[:MOST_WALKED], server)
    cut = Reason(code="stopped") if running.stopped() else None
    return Measurement(
        kind=Kind.REACH,
        role=Role.OUTSIDE,
        state=State.PARTIAL if cut else State.COMPLETE,
        method=METHOD,
        started_s=started_s,
        duration_s=timeline.now_s() - started_s,
        reason=cut,
        observed=ReachLook(
            waiting_s=plan.waiting_s,
            targets=tuple(run.targets),
            attempts=tuple(run.attempts),
            own_address=server.own,
            card_address=server.seen_address,
            card_port=server.seen_port,
        ),
    )


def _listed(
    checks: Sequence[PortCheck], server: ServerEnds, resolve: Callable[[str], str]
) -> list[PortTarget]:
    hosts = list(dict.fromkeys(check.host for check in checks if check.host != AT_SERVER))
    known = dict(zip(hosts, _found(hosts, resolve), strict=True))
    return [_target(check, server, known.get(check.host)) for check in checks]


def _found(hosts: Sequence[str], resolve: Callable[[str], str]) -> Sequence[str | CannotMeasure]:
    """Return the address of each host, or why it has none; all are looked up at once."""

    def found(host: str) -> str | CannotMeasure:
        try:
            return resolve(host)
        except CannotMeasure as error:
            return error

    if not hosts:
        return []
    with ThreadPoolExecutor(max_workers=len(hosts)) as pool:
        return list(pool.map(found, hosts))


def _target(check: PortCheck, server: ServerEnds, found: str | CannotMeasure | None) -> PortTarget:
    """Return what is tried; nothing is found for the operator's own server, which is known."""
    target = PortTarget(
        name=check.name,
        transport=Transport(check.transport),
        port=check.port,
        wanted_open=check.expected == "open",
    )
    if found is None:
        problem = None if server.address else "no-server"
        return replace(target, address=server.address, at_server=True, problem=problem)
    if isinstance(found, CannotMeasure):
        return replace(target, problem=found.code)
    return replace(target, address=found, at_server=found == server.address)


def _views(checks: Sequence[PortCheck], server: ServerEnds) -> list[PortTarget]:
    """Return the server's own port for asking, over what the settings do not list already."""
    if server.address is None or server.answer_port is None:
        return []
    listed = {c.transport for c in checks if c.host == AT_SERVER and c.port == server.answer_port}
    return [
        PortTarget(
            name=f"{AT_SERVER} {transport}",
            transport=transport,
            port=server.answer_port,
            address=server.address,
            at_server=True,
            listed=False,
        )
        for transport in Transport
        if transport.value not in listed
    ]


def _attempt_all(run: _Run) -> None:
    """Try every port; those that stay silent again."""
    waiting = [n for n, target in enumerate(run.targets) if target.address is not None]
    for _ in range(run.plan.attempts):
        run.try_all((number, None) for number in waiting)
        waiting = [n for n in waiting if set(run.outcomes(n)) == {ReachOutcome.SILENT}]


def _blocked(run: _Run) -> list[int]:
    """Return the listed ports that should be open and are not, as far as anything was heard."""
    return [
        number
        for number, target in enumerate(run.targets)
        if target.listed
        and target.wanted_open
        and not run.opened(number)
        and set(run.outcomes(number)) & set(_NO_ANSWER)
    ]


def _look_closer(run: _Run, blocked: Sequence[int], server: ServerEnds) -> None:
    """Walk towards ports that pass, and towards the blocked ones as far as the former go."""
    others = _passing(run, blocked, server)
    longest = run.plan.max_distance
    beside = dict.fromkeys(other for other in others if other is not None)
    run.try_all((other, at) for other in beside for at in range(1, longest + 1))
    ends = {other: _end(run, other) for other in beside}
    reached = [longest if other is None else ends[other] for other in others]
    ways = list(zip(blocked, reached, strict=True))
    made = run.try_all((number, at) for number, end in ways for at in range(1, end + 1))
    # A router may have spared itself one answer: those that stay silent are asked once more.
    silent = [(a.target, a.hop_limit) for a in made if a.outcome is ReachOutcome.SILENT]
    run.try_all(silent)


def _end(run: _Run, number: int) -> int:
    """Return the nearest distance at which a port is open, else the last that is tried."""
    opened = (
        a.hop_limit
        for a in run.attempts
        if a.target == number and a.hop_limit and a.outcome is ReachOutcome.OPEN
    )
    return min(opened, default=run.plan.max_distance)


def _passing(run: _Run, blocked: Sequence[int], server: ServerEnds) -> list[int | None]:
    """Return for each blocked port a TCP port of its host that passes, None where none does.

    Where none is known, a few are tried, those of all hosts at once.
    """
    unknown: dict[str | None, int] = {}
    for number in blocked:
        if _open_beside(run, number) is None:
            unknown.setdefault(run.targets[number].address, number)
    first = len(run.targets)
    run.targets += [
        _beside(run.targets[number], port)
        for number in unknown.values()
        for port in _candidates(run, number, server)
    ]
    run.try_all((number, None) for number in range(first, len(run.targets)))
    return [_open_beside(run, number) for number in blocked]


def _open_beside(run: _Run, number: int) -> int | None:
    address = run.targets[number].address
    same = (n for n, target in enumerate(run.targets) if target.address == address)
    return next((n for n in same if _is_tcp(run.targets[n]) and run.opened(n)), None)


def _is_tcp(target: PortTarget) -> bool:
    return target.transport is Transport.TCP


def _candidates(run: _Run, number: int, server: ServerEnds) -> list[int]:
    """Return ports of a host that are likely to pass and were not tried yet."""
    address = run.targets[number].address
    tried = {t.port for t in run.targets if t.address == address and _is_tcp(t)}
    known = (server.card_port,) if run.targets[number].at_server else ()
    ports = [port for port in (*known, *COMMON_PORTS) if port is not None]
    return [port for port in dict.fromkeys(ports) if port not in tried]


def _beside(blocked: PortTarget, port: int) -> PortTarget:
    name = f"{blocked.name}, port {port}"
    return replace(blocked, name=name, port=port, transport=Transport.TCP, listed=False)
