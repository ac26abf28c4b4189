"""Measurements that never were, drawn from a seed, for the records beside this file."""

from __future__ import annotations

import random
from dataclasses import replace

from agent.assessment.model import (
    Limiter,
    Limiting,
)
from agent.measurements import (
    CountedBy,
    DelayStatistics,
    Direction,
    DnsStatistics,
    EchoOutcome,
    EchoSeries,
    Ended,
    Hop,
    HopWalk,
    HttpStatistics,
    Kind,
    LeaseFacts,
    LeaseStatistics,
    LinkFacts,
    LinkStatistics,
    Measurement,
    Medium,
    NameOutcome,
    NameQueries,
    PathStatistics,
    Reason,
    Responsiveness,
    Role,
    RoundTrip,
    StampClock,
    State,
    ThroughputStatistics,
    Transfer,
    WebAttempt,
    WebFetch,
)
from agent.record.model import Measured
from agent.stats.voice import voice_estimate

GATEWAY = "192.0.2.1"
SERVER = "198.51.100.20"
RESOLVER = "198.51.100.53"
OUTSIDE = "203.0.113.80"
HOP_NAMES = {SERVER: "card.ternbay.example", "198.51.100.1": "edge1.ternbay.example"}
MBIT = 1_000_000
PAYLOAD_SHARE = 1448 / 1500


def link(speed_bps: int = 1_000 * MBIT) -> Measured:
    """Return a wired port."""
    return complete(
        Kind.LINK,
        Role.LOCAL,
        LinkFacts(
            interface="eth0",
            up=True,
            medium=Medium.WIRED,
            hardware_address="02:00:5e:10:00:01",
            speed_bps=speed_bps,
            duplex="full",
            mtu_bytes=1500,
            receive_errors=0,
            transmit_errors=0,
        ),
        LinkStatistics(
            up=True,
            medium="wired",
            speed_bps=speed_bps,
            duplex="full",
            mtu_bytes=1500,
            errors=0,
            ceiling_bps=speed_bps * 1448 / 1538,
        ),
    )


def lease(*, usable: bool = True) -> Measured:
    """Return a lease the system holds, or the absence of one."""
    if not usable:
        facts = LeaseFacts(family=4, origin="none", probe_reason="right-missing")
        return complete(
            Kind.LEASE, Role.LOCAL, facts, LeaseStatistics(family=4, usable=False, origin="none")
        )
    facts = LeaseFacts(
        family=4,
        origin="dhcp",
        address="192.0.2.44",
        prefix=24,
        gateway=GATEWAY,
        dns=(RESOLVER,),
        server_id=GATEWAY,
        lease_s=3600,
        sources={"address": "kernel", "lease_s": "network manager"},
    )
    return complete(
        Kind.LEASE,
        Role.LOCAL,
        facts,
        LeaseStatistics(
            family=4,
            usable=True,
            origin="dhcp",
            address="192.0.2.44",
            prefix=24,
            gateway=GATEWAY,
            dns=(RESOLVER,),
            server_id=GATEWAY,
            lease_s=3600,
            t1_s=1800,
            t2_s=3150,
            offers=1,
            servers=(GATEWAY,),
            first_offer_ms=12.4,
        ),
    )


def dns(seed: int, resolver: str = RESOLVER) -> Measured:
    """Return twenty answered queries to one resolver."""
    draw = random.Random(seed)
    rtts = tuple(round(draw.uniform(8, 24), 3) for _ in range(20))
    return complete(
        Kind.DNS,
        Role.RESOLVER,
        NameQueries(
            resolver=resolver,
            transport="udp",
            waiting_s=2.0,
            name=("www.example",) * 20,
            qtype=("A",) * 20,
            sent_s=tuple(4 + i * 0.05 for i in range(20)),
            rtt_ms=rtts,
            outcome=(NameOutcome.ANSWERED,) * 20,
            rcode=(0,) * 20,
            addresses=((OUTSIDE,),) * 20,
        ),
        DnsStatistics(sent=20, answered=20, median_ms=sorted(rtts)[10], p95_ms=max(rtts)),
        address=resolver,
    )


def delays(seed: int, *, lost: int, rtt: float) -> tuple[Measured, ...]:
    """Return the series to the gateway, the first hop and the server."""
    return (
        delay(seed, Role.GATEWAY, GATEWAY, 200, 0, 0.42, "icmp-echo"),
        delay(seed, Role.FIRST_HOP, "198.51.100.1", 200, lost // 4, rtt * 0.6, "icmp-echo"),
        delay(seed, Role.SERVER, SERVER, 800, lost, rtt, "stamp"),
    )


def loaded(seed: int, *, rtt: float) -> tuple[Measured, ...]:
    """Return the series to gateway and server while each direction was full."""
    return tuple(
        under_load(delay(seed, role, address, 150, lost, at, method, queue=queue), load, queue)
        for load, queue in (("down", 6.0), ("up", 31.0))
        for role, address, lost, at, method in (
            (Role.GATEWAY, GATEWAY, 0, 0.42, "icmp-echo"),
            (Role.SERVER, SERVER, 1, rtt, "stamp"),
        )
    )


def under_load(one: Measured, load: str, rise_ms: float) -> Measured:
    """Return a series as one that ran while a direction was full."""
    found, far = one.statistics, one.measurement.role is Role.SERVER
    trips = found.rtt_ms
    responsive = Responsiveness(
        rpm=60_000 / trips.mean,
        foreign_rpm=58_000 / trips.mean,
        loaded_rpm=62_000 / trips.mean,
        tcp_ms=trips.mean,
        tls_ms=None,
        http_ms=trips.mean + 0.4,
        loaded_ms=trips.mean,
        foreign_sent=24,
        foreign_count=24,
        loaded_count=trips.count,
    )
    return replace(
        one,
        measurement=replace(one.measurement, observed=replace(one.measurement.observed, load=load)),
        statistics=replace(
            found,
            load=load,
            rise_ms=rise_ms,
            responsiveness=responsive if far else None,
        ),
    )


def delay(  # noqa: PLR0917 - one row of a table
    seed: int,
    role: Role,
    address: str,
    sent: int,
    lost: int,
    rtt: float,
    method: str,
    queue: float | None = None,
) -> Measured:
    """Return one delay series with gamma-shaped queueing above a floor."""
    draw = random.Random(f"{seed} {role} {queue}")
    gone = set(draw.sample(range(sent), lost))
    waits = rtt * 0.01 if queue is None else queue / 2
    rtts = tuple(
        None if i in gone else round(rtt + draw.gammavariate(2, waits), 4) for i in range(sent)
    )
    answered = sorted(value for value in rtts if value is not None)
    ratio = lost / sent
    series = EchoSeries(
        waiting_s=1.0,
        interval_s=0.01,
        payload_bytes=44,
        sent_s=tuple(round(6 + i * 0.01, 6) for i in range(sent)),
        rtt_ms=rtts,
        outcome=tuple(EchoOutcome.LOST if r is None else EchoOutcome.ANSWERED for r in rtts),
        copies=tuple(0 if r is None else 1 for r in rtts),
        arrival_order=tuple(i for i, r in enumerate(rtts) if r is not None),
        far_received=(True,) * sent if method == "stamp" else None,
    )
    return complete(
        Kind.DELAY,
        role,
        series,
        DelayStatistics(
            sent=sent,
            received=len(answered),
            voice=voice_estimate(answered, (ratio, 0.5 * ratio, ratio + 0.005), ())
            if method == "stamp" and queue is None
            else None,
            late=0,
            duplicates=0,
            reordered=0,
            loss_ratio=ratio,
            loss_low=max(0.0, ratio - 1.6 * (ratio / sent) ** 0.5),
            loss_high=ratio + 1.9 / sent + 2.0 * (ratio / sent) ** 0.5,
            rtt_ms=round_trip(answered),
            median_low_ms=answered[len(answered) // 2 - 20],
            median_high_ms=answered[len(answered) // 2 + 20],
            pdv_ms=answered[int(len(answered) * 0.95)] - answered[0],
            forward_loss_ratio=ratio / 2 if method == "stamp" else None,
            backward_loss_ratio=ratio / 2 if method == "stamp" else None,
        ),
        address=address,
        method=method,
    )


def path() -> Measured:
    """Return a walk over five hops, the third of them silent."""
    hops = (
        hop(1, 0.5, GATEWAY),
        hop(2, 8.8, "198.51.100.1"),
        Hop(distance=3, sent=3, answered=0, rtt_ms=RoundTrip(count=0)),
        hop(4, 12.9, "198.51.100.9"),
        hop(5, 14.3, SERVER),
    )
    walk = HopWalk(
        target=SERVER,
        protocol="udp",
        waiting_s=1.0,
        distance=tuple(h.distance for h in hops for _ in range(3)),
        attempt=(0, 1, 2) * 5,
        flow=(0,) * 15,
        sent_s=tuple(5 + i * 0.001 for i in range(15)),
        rtt_ms=tuple(h.rtt_ms.median for h in hops for _ in range(3)),
        answered_by=tuple(h.addresses[0] if h.addresses else None for h in hops for _ in range(3)),
        icmp_type=tuple(11 if h.addresses else None for h in hops for _ in range(3)),
        icmp_code=tuple(0 if h.addresses else None for h in hops for _ in range(3)),
        names=tuple(HOP_NAMES.items()),
    )
    return complete(
        Kind.PATH, Role.SERVER, walk, PathStatistics(hops=hops, reached=True), address=SERVER
    )


def hop(distance: int, median: float, address: str = "203.0.113.9", name: str | None = None) -> Hop:
    """Return a hop that answered three times."""
    known = name or HOP_NAMES.get(address)
    return Hop(
        distance=distance,
        sent=3,
        answered=3,
        addresses=(address,),
        names=(known,) if known else (),
        rtt_ms=RoundTrip(count=3, min=median - 0.1, median=median, max=median + 0.2),
    )


def web(target: str = "outside page", url: str = "http://www.example/") -> Measured:
    """Return one page that came."""
    attempt = WebAttempt(
        sent_s=3.0,
        lookup_ms=11.0,
        connect_ms=14.0,
        first_byte_ms=15.5,
        total_ms=44.0,
        status=200,
        bytes=5120,
        remote=OUTSIDE,
        marker_found=True,
    )
    return complete(
        Kind.HTTP,
        Role.OUTSIDE,
        WebFetch(target=target, url=url, marker=True, attempts=(attempt,)),
        HttpStatistics(
            sent=1,
            answered=1,
            lookup_ms=11.0,
            connect_ms=14.0,
            first_byte_ms=15.5,
            total_ms=44.0,
            status=200,
            intercepted=False,
        ),
        address=OUTSIDE,
    )


def limiter(
    measurement: str,
    direction: Direction = Direction.DOWN,
    limiter: Limiting = Limiting.LINE,
    confidence: float = 0.9,
) -> Limiter:
    """Return who limited a transfer."""
    return Limiter(
        direction=direction, measurement=measurement, limiter=limiter, confidence=confidence
    )


def throughput(
    seed: int, direction: Direction, mbit: float, burst: float | None = None
) -> Measured:
    """Return a transfer of six seconds: a ramp, then slices around the rate."""
    draw = random.Random(f"{seed} {direction}")
    rate, sends = mbit * MBIT, direction is Direction.UP
    slices = tuple(
        int(rate / 8 * 0.05 * min(1.0, (i + 1) / 12) * draw.gauss(1, 0.012)) for i in range(120)
    )
    transfer = Transfer(
        counted_by=CountedBy.CLIENT if direction is Direction.DOWN else CountedBy.SERVER,
        ended=Ended.INTERVAL,
        flows=6,
        slice_end_s=tuple(round((i + 1) * 0.05, 3) for i in range(120)),
        slice_bytes=slices,
        slice_flows=(6,) * 120,
        flow_bytes=(sum(slices) // 6,) * 6,
        header_bytes=52,
        mtu_bytes=1500,
        congestion_control="cubic",
    )
    return complete(
        Kind.THROUGHPUT,
        Role.SERVER,
        transfer,
        ThroughputStatistics(
            goodput_bps=rate,
            low_bps=rate * 0.996,
            high_bps=rate * 1.004,
            bytes=sum(slices),
            flows=6,
            counted_by=transfer.counted_by.value,
            ramp_s=0.6,
            used_s=5.4,
            batches=18,
            single_flow_bps=rate * 0.93,
            burst_bps=None if burst is None else burst * MBIT,
            retransmit_ratio=0.0004 if sends else None,
            tcp_efficiency_ratio=0.9996 if sends else None,
            buffer_delay_ratio=0.42 if not sends else 2.2,
            congestion_control="cubic",
            ideal_bps=max(rate, (20 if sends else 100) * PAYLOAD_SHARE * MBIT),
            ideal_source="tier" if mbit < 20 or (not sends and mbit < 100) else "observed",
            transfer_time_ratio=max(1.0, (20 if sends else 100) * PAYLOAD_SHARE / mbit),
            idle_rtt_ms=14.21,
            loaded_rtt_ms=20.4 if not sends else 45.5,
            rtt_source="delay",
            bdp_bits=rate * 0.01421,
            window_needed_bytes=rate * 0.01421 / 8,
            window_limited_ratio=0.0 if sends else None,
            send_buffer_limited_ratio=0.021 if sends else None,
        ),
        direction=direction,
        address=SERVER,
    )


def round_trip(answered: list[float]) -> RoundTrip:
    """Return the order statistics of sorted answers."""
    last = len(answered) - 1
    return RoundTrip(
        count=len(answered),
        min=answered[0],
        median=answered[last // 2],
        mean=sum(answered) / len(answered),
        p95=answered[int(last * 0.95)],
        p99=answered[int(last * 0.99)],
        max=answered[-1],
    )


def failed(kind: Kind, role: Role, reason: Reason) -> Measured:
    """Return a measurement that could not be attempted."""
    return Measured(
        measurement=Measurement(
            kind=kind,
            role=role,
            state=State.FAILED,
            method="none",
            started_s=2.0,
            duration_s=0.0,
            reason=reason,
        )
    )


def complete(kind, role, observed, statistics, **more) -> Measured:
    """Return a measurement that ran to its end."""
    method = more.pop("method", kind.value)
    return Measured(
        measurement=Measurement(
            kind=kind,
            role=role,
            state=State.COMPLETE,
            method=method,
            started_s=2.0,
            duration_s=1.5,
            family=4,
            clock=StampClock.KERNEL if kind is Kind.DELAY else None,
            observed=observed,
            **more,
        ),
        statistics=statistics,
    )
