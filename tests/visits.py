"""Measurements of an invented visit, healthy unless a part is replaced."""

from dataclasses import replace
from functools import cache

from reaching import OPEN, look, port, whole

from agent.assessment.circumstances import Circumstances
from agent.chain import conclude
from agent.measurements import (
    Conditions,
    CountedBy,
    Direction,
    EchoOutcome,
    EchoSeries,
    Ended,
    HopWalk,
    Kind,
    LeaseFacts,
    LinkFacts,
    Measurement,
    Medium,
    NameOutcome,
    NameQueries,
    Phase,
    Reason,
    Role,
    State,
    Transfer,
    WebAttempt,
    WebFetch,
)
from agent.settings.choose import pick_plan, pick_tier
from agent.settings.loader import load

GATEWAY, MODEM, EDGE = "192.0.2.1", "198.19.7.1", "198.51.100.1"
SERVER, RESOLVER = "203.0.113.9", "203.0.113.53"
ALONE = Circumstances(nothing_else_on=True)


@cache
def settings():
    return load(None, {}, {}).settings


def measured(kind, role, observed, **more):
    fields = {
        "kind": kind,
        "role": role,
        "state": State.COMPLETE,
        "method": "test",
        "started_s": 0.0,
        "duration_s": 1.0,
        "id": f"{kind.value}-{role.value}",
        "family": 4,
        "observed": observed,
    }
    return Measurement(**{**fields, **more})


def failed(kind, role, code="timed-out", state=State.FAILED, **more):
    return measured(kind, role, None, state=state, reason=Reason(code=code), **more)


def cut_short(whole, code="closed-early"):
    return replace(whole, state=State.PARTIAL, reason=Reason(code=code))


def link(**more):
    facts = {
        "interface": "lan0",
        "up": True,
        "medium": Medium.WIRED,
        "speed_bps": 1_000_000_000,
        "duplex": "full",
        "mtu_bytes": 1500,
    }
    return measured(Kind.LINK, Role.LOCAL, LinkFacts(**{**facts, **more}))


def lease(**more):
    facts = {
        "family": 4,
        "origin": "dhcp",
        "address": "192.0.2.20",
        "prefix": 24,
        "gateway": GATEWAY,
        "dns": (RESOLVER,),
        "lease_s": 3600,
    }
    return measured(Kind.LEASE, Role.LOCAL, LeaseFacts(**{**facts, **more}))


def dns(answered=20, sent=20, rtt_ms=12.0, address=RESOLVER, **more):
    outcome = [NameOutcome.ANSWERED] * answered + [NameOutcome.LOST] * (sent - answered)
    came = [o is NameOutcome.ANSWERED for o in outcome]
    queries = NameQueries(
        resolver=address,
        transport="udp",
        waiting_s=2.0,
        name=("www.example.com",) * sent,
        qtype=("A",) * sent,
        sent_s=tuple(i * 0.05 for i in range(sent)),
        rtt_ms=tuple(rtt_ms if c else None for c in came),
        outcome=tuple(outcome),
        rcode=tuple(0 if c else None for c in came),
        addresses=(("203.0.113.80",),) * sent,
    )
    fields = {"address": address, **more}
    return measured(Kind.DNS, Role.RESOLVER, queries, **fields)


def spread(count, of):
    """Positions of `count` things spaced evenly over `of`."""
    return {i * of // count for i in range(count)} if count else set()


def delay(role, address, *, sent=200, up=0, down=0, rtt_ms=5.0, told=None, **more):
    """A series that lost `up` probes on the way there and `down` answers on the way back."""
    gone_up = spread(up, sent)
    rest = [i for i in range(sent) if i not in gone_up]
    gone_down = {rest[i] for i in spread(down, len(rest))}
    lost = gone_up | gone_down
    told = role is Role.SERVER if told is None else told
    series = EchoSeries(
        waiting_s=1.0,
        interval_s=0.01,
        payload_bytes=44,
        sent_s=tuple(i * 0.01 for i in range(sent)),
        rtt_ms=tuple(None if i in lost else rtt_ms + i % 7 * 0.1 for i in range(sent)),
        outcome=tuple(EchoOutcome.LOST if i in lost else EchoOutcome.ANSWERED for i in range(sent)),
        copies=tuple(int(i not in lost) for i in range(sent)),
        arrival_order=tuple(i for i in range(sent) if i not in lost),
        far_received=tuple(i not in gone_up for i in range(sent)) if told else None,
    )
    return measured(Kind.DELAY, role, series, **{"address": address, **more})


def timed(role, address, rtt_ms, *, load="none", payload_bytes=44, ways=None, **more):
    """A series of these round trips, None for a loss; `ways` are the delays there and back."""
    count = len(rtt_ms)
    series = EchoSeries(
        waiting_s=1.0,
        interval_s=0.02,
        payload_bytes=payload_bytes,
        sent_s=tuple(i * 0.02 for i in range(count)),
        rtt_ms=tuple(rtt_ms),
        outcome=tuple(EchoOutcome.LOST if r is None else EchoOutcome.ANSWERED for r in rtt_ms),
        copies=tuple(int(r is not None) for r in rtt_ms),
        arrival_order=tuple(i for i, r in enumerate(rtt_ms) if r is not None),
        far_received=tuple(r is not None for r in rtt_ms) if role is Role.SERVER else None,
        forward_ms=tuple(ways[0]) if ways else None,
        backward_ms=tuple(ways[1]) if ways else None,
        load=load,
    )
    name = f"delay-{role.value}-{load}{'-long' if series.long else ''}"
    return measured(Kind.DELAY, role, series, **{"id": name, "address": address, **more})


AT = {
    Role.GATEWAY: (GATEWAY, 0.3),
    Role.MODEM: (MODEM, 0.6),
    Role.FIRST_HOP: (EDGE, 4.0),
    Role.SERVER: (SERVER, 8.0),
}
"""Address and idle round trip in ms of each far end of the healthy visit, outwards."""


def filled(direction, risen_from, rise_ms=30.0, *, roles=tuple(AT), lost=0):
    """The series beside a full direction: delay rises from one far end outwards."""
    order = list(AT)
    behind = order[order.index(risen_from) :] if risen_from else []
    return tuple(
        timed(
            role,
            AT[role][0],
            [None] * lost + [AT[role][1] + (rise_ms if role in behind else 0.0)] * (150 - lost),
            load=direction.value,
        )
        for role in roles
    )


STILL = [0.1] * 800


def drains(count, deepest_ms, period):
    """A queue that fills at once and drains evenly, again and again."""
    return [deepest_ms * (1 - i % period / period) if i % period else 0.1 for i in range(count)]


def at_random(count, deepest_ms):
    """Delays that have nothing to do with the ones before: a golden-ratio sequence."""
    return [deepest_ms * (i * 0.6180339887 % 1.0) for i in range(count)]


def idle(there, back, *, first_hop=True):
    """The idle series to server and first hop with these delays added there and back."""
    extra = [a + b for a, b in zip(there, back, strict=True)]
    hop = extra if first_hop else [0.1] * len(extra)
    return (
        timed(
            Role.SERVER,
            SERVER,
            [8.0 + e for e in extra],
            ways=([4.0 + t for t in there], [4.0 + b for b in back]),
            id="delay-server",
        ),
        timed(Role.FIRST_HOP, AT[Role.FIRST_HOP][0], [4.0 + e for e in hop], id="delay-first-hop"),
    )


def gateway(**more):
    return delay(Role.GATEWAY, GATEWAY, **{"rtt_ms": 0.3, **more})


def modem(**more):
    return delay(Role.MODEM, MODEM, **{"rtt_ms": 0.6, **more})


def first_hop(**more):
    return delay(Role.FIRST_HOP, EDGE, **{"rtt_ms": 4.0, **more})


def server(**more):
    return delay(Role.SERVER, SERVER, **{"sent": 800, "rtt_ms": 8.0, **more})


def path(*answers, target=SERVER):
    answers = answers or (GATEWAY, EDGE, target)
    count = len(answers)
    walk = HopWalk(
        target=target,
        protocol="udp",
        waiting_s=1.0,
        distance=tuple(range(1, count + 1)),
        attempt=(0,) * count,
        flow=(0,) * count,
        sent_s=(0.0,) * count,
        rtt_ms=tuple(None if a is None else 5.0 for a in answers),
        answered_by=answers,
        icmp_type=tuple(None if a is None else 3 if a == target else 11 for a in answers),
        icmp_code=tuple(None if a is None else 3 if a == target else 0 for a in answers),
    )
    return measured(Kind.PATH, Role.SERVER, walk, address=target)


def ports(*outcomes):
    """A listed port for each outcome."""
    targets = [port(f"port {number}", number) for number in range(80, 80 + len(outcomes))]
    tries = [whole(place, outcome) for place, outcome in enumerate(outcomes)]
    return measured(Kind.REACH, Role.OUTSIDE, look(targets, *tries))


def page(name, **attempt):
    fields = {"sent_s": 0.0, "status": 200, "total_ms": 60.0}
    attempts = (WebAttempt(**{**fields, **attempt}),)
    fetch = WebFetch(target=name, url=f"http://{name}.example.com/", attempts=attempts)
    return measured(Kind.HTTP, Role.OUTSIDE, fetch, id=f"http-{name}", address=name)


def dead_page(name, problem="timed-out"):
    return page(name, status=None, total_ms=None, problem=problem)


def fill(direction, rate_bps, *, wobble=0.002, seconds=6.0, alone=None, **more):
    """A transfer of a mean payload rate, its slices swinging by a share to and fro.

    `alone` is what a single flow has of it, in the first third of the time.
    """
    count = int(seconds / 0.05)
    first = 0 if alone is None else count // 3
    octets = [
        round(rate_bps / 8 * 0.05 * (1 + wobble * (-1) ** i) * (alone if i < first else 1))
        for i in range(count)
    ]
    transfer = Transfer(
        counted_by=CountedBy.CLIENT,
        ended=Ended.TIME,
        flows=6,
        slice_end_s=tuple((i + 1) * 0.05 for i in range(count)),
        slice_bytes=tuple(octets),
        slice_flows=(1,) * first + (6,) * (count - first) if first else (),
        header_bytes=52,
        mtu_bytes=1500,
    )
    fields = {"id": f"throughput-{direction.value}", "direction": direction, **more}
    return measured(Kind.THROUGHPUT, Role.SERVER, transfer, **fields)


def down(rate_bps=104e6, **more):
    return fill(Direction.DOWN, rate_bps, **more)


def up(rate_bps=21e6, **more):
    return fill(Direction.UP, rate_bps, **more)


def visit(*changes, without=()):
    """A healthy visit of a 100/20 line; each change replaces the part of the same id."""
    parts = [
        link(),
        lease(),
        dns(),
        gateway(),
        modem(),
        first_hop(),
        server(),
        path(),
        page("one"),
        page("two"),
        ports(OPEN),
        down(),
        up(),
    ]
    by_id = {p.id: p for p in parts}
    by_id.update({c.id: c for c in changes})
    return tuple(p for name, p in by_id.items() if name not in without)


def calm(phase=Phase.BEFORE, **more):
    fields = {
        "phase": phase,
        "at_s": 0.0,
        "medium": Medium.WIRED,
        "duplex": "full",
        "egress": "lan0",
        "tested_line": True,
        "other_traffic_bps": 0.0,
        "cpu_ratio": 0.2,
    }
    return Conditions(**{**fields, **more})


def tier(name="Tern Bay 100/20", **changes):
    return pick_tier(settings(), name).model_copy(update=changes)


def judge(
    measurements,
    *,
    conditions=None,
    circumstances=ALONE,
    sold="Tern Bay 100/20",
    plan="standard",
    rules=None,
    **stated,
):
    rules = rules or settings()
    product = tier(sold) if isinstance(sold, str) else sold
    return conclude(
        measurements,
        (calm(),) if conditions is None else conditions,
        rules,
        pick_plan(rules, plan) if isinstance(plan, str) else plan,
        product,
        replace(circumstances, **stated),
    )


def with_limits(**changes):
    """The settings with limits changed for every technology; None takes one away."""
    rules = settings()

    def changed(limits):
        update = {
            name: None if fields is None else getattr(limits, name).model_copy(update=fields)
            for name, fields in changes.items()
        }
        return limits.model_copy(update=update)

    table = {access: changed(limits) for access, limits in rules.limits.items()}
    return rules.model_copy(update={"limits": table})


def criterion(conclusion, name):
    """The criterion of a name; of several the needed one, else the first."""
    found = [c for c in conclusion.assessment.criteria if c.name == name]
    return next((c for c in found if c.needed), found[0])
