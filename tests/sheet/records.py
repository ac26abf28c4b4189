"""Records of visits that never were, for tests of the record and the sheet.

The scenario is our own: Tern Bay Fibre, with addresses kept for documentation (RFC 5737, RFC 3849,
RFC 2544, RFC 6598). Observations are drawn from a seed; the conclusions are written by hand, since
only their presentation is under test here.
"""

from __future__ import annotations

import random
from dataclasses import replace

from agent.assessment.model import (
    Assessment,
    Criterion,
    FitnessFact,
    Limiter,
    Limiting,
    Sense,
    Verdict,
)
from agent.diagnosis.model import Diagnosis, Finding, Segment
from agent.measurements import (
    Conditions,
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
    Phase,
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
from agent.record.identifier import new_record_id
from agent.record.model import (
    AgentFacts,
    Consent,
    Measured,
    Private,
    Record,
    ServerFacts,
    TierFacts,
    Visit,
)

GATEWAY = "192.0.2.1"
SERVER = "198.51.100.20"
RESOLVER = "198.51.100.53"
OUTSIDE = "203.0.113.80"
HOP_NAMES = {SERVER: "card.ternbay.example", "198.51.100.1": "edge1.ternbay.example"}
MBIT = 1_000_000
PAYLOAD_SHARE = 1448 / 1500


def healthy(seed: int = 1) -> Record:
    """Return a 100/20 fibre line that meets, behind an optical terminal: everything measured."""
    return _record(
        seed,
        measured=_numbered(
            link(),
            lease(),
            dns(seed),
            *delays(seed, lost=0, rtt=14.2),
            path(),
            web(),
            throughput(seed, Direction.DOWN, 106.4),
            throughput(seed, Direction.UP, 21.1),
            *loaded(seed, rtt=14.2),
        ),
        assessment=replace(
            _assessed(down=106.4, up=21.1, lost=0, rtt=14.2),
            limiters=(limiter("m09"), limiter("m10", Direction.UP, confidence=0.6)),
        ),
        diagnosis=Diagnosis(segment=Segment.NONE),
    )


def below(seed: int = 2) -> Record:
    """Return the same line held to half its tier by the access line."""
    finding = Finding(
        code="slow-line",
        segment=Segment.ACCESS,
        confidence=0.92,
        next_step="check-provisioning",
        evidence=("m08", "m09"),
        values={
            "down_bps": 47.9 * MBIT,
            "down_limit_bps": 92.46e6,
            "up_bps": 4.81 * MBIT,
            "up_limit_bps": 18.49e6,
        },
    )
    return _record(
        seed,
        measured=_numbered(
            link(),
            lease(),
            dns(seed),
            *delays(seed, lost=0, rtt=14.9),
            path(),
            web(),
            throughput(seed, Direction.DOWN, 47.9),
            throughput(seed, Direction.UP, 4.81),
            *loaded(seed, rtt=14.9),
            throughput(seed + 1, Direction.DOWN, 47.6),
            throughput(seed + 1, Direction.UP, 4.79),
        ),
        assessment=replace(
            _assessed(down=47.9, up=4.81, lost=0, rtt=14.9),
            limiters=(limiter("m09"), limiter("m10", Direction.UP)),
        ),
        diagnosis=Diagnosis(segment=Segment.ACCESS, findings=(finding,)),
    )


def held_back(seed: int = 8) -> Record:
    """Return a line with a deep bucket at the start, held back by the server both ways."""
    return _record(
        seed,
        measured=_numbered(
            link(10_000 * MBIT),
            lease(),
            dns(seed),
            *delays(seed, lost=0, rtt=14.2),
            path(),
            web(),
            throughput(seed, Direction.DOWN, 93.4, burst=188.2),
            throughput(seed, Direction.UP, 19.1),
            *loaded(seed, rtt=14.2),
        ),
        assessment=replace(
            _assessed(down=93.4, up=19.1, lost=0, rtt=14.2),
            limiters=(
                limiter("m09", limiter=Limiting.SERVER),
                limiter("m10", Direction.UP, limiter=Limiting.OTHER_TRAFFIC, confidence=0.5),
            ),
        ),
        diagnosis=Diagnosis(segment=Segment.NONE),
    )


def lossy(seed: int = 3) -> Record:
    """Return a line that loses packets both ways just past the modem."""
    finding = Finding(
        code="loss-past-modem",
        segment=Segment.ACCESS,
        confidence=0.7,
        next_step="read-levels",
        evidence=("m06",),
        values={"loss_up": 0.01, "loss_down": 0.01, "first_hop_loss": 0.02},
    )
    return _record(
        seed,
        measured=_numbered(
            link(),
            lease(),
            dns(seed),
            *delays(seed, lost=16, rtt=15.1),
            path(),
            web(),
            throughput(seed, Direction.DOWN, 71.3),
            throughput(seed, Direction.UP, 17.2),
        ),
        assessment=_assessed(down=71.3, up=17.2, lost=16, rtt=15.1),
        diagnosis=Diagnosis(segment=Segment.ACCESS, findings=(finding,)),
    )


def no_lease(seed: int = 4) -> Record:
    """Return a visit where the port has link and nothing gave an address."""
    finding = Finding(
        code="no-lease",
        segment=Segment.MODEM,
        confidence=0.85,
        next_step="restart-modem-alone",
        evidence=("m01", "m02"),
        values={"origin": "none", "address": None, "offers": 0},
    )
    why = Reason(code="no-address", values={"interface": "eth0"})
    missing = tuple(
        failed(kind, role, why)
        for kind, role in (
            (Kind.DNS, Role.RESOLVER),
            (Kind.DELAY, Role.GATEWAY),
            (Kind.DELAY, Role.SERVER),
            (Kind.PATH, Role.SERVER),
            (Kind.HTTP, Role.OUTSIDE),
            (Kind.THROUGHPUT, Role.SERVER),
        )
    )
    criteria = (
        Criterion(
            name="lease",
            measurements=("m02",),
            needed=True,
            sense=Sense.AT_LEAST,
            unit="count",
            limit=1,
            limit_source="common practice, no source",
            outcome=Verdict.BELOW,
            measured=0,
        ),
        missing_criterion("throughput-down", "bps"),
        missing_criterion("server-loss", "ratio"),
    )
    return _record(
        seed,
        measured=_numbered(link(), lease(usable=False), *missing),
        assessment=Assessment(verdict=Verdict.BELOW, criteria=criteria, deciding=("lease",)),
        diagnosis=Diagnosis(segment=Segment.MODEM, findings=(finding,)),
        server=None,
    )


def unproven(seed: int = 5) -> Record:
    """Return a visit on wireless: measured, and unfit to judge throughput."""
    record = below(seed)
    fact = FitnessFact(
        name="wireless", voids=("throughput", "delay"), measured="wireless", phase="before"
    )
    void = Reason(code="unfit", values={"fact": "wireless", "measured": "wireless"})
    criteria = tuple(
        replace(c, outcome=Verdict.NOT_PROVEN, reason=void) if c.unit == "bps" else c
        for c in record.assessment.criteria
    )
    assessment = replace(
        record.assessment,
        verdict=Verdict.NOT_PROVEN,
        criteria=criteria,
        fitness=(fact,),
        deciding=("throughput-down", "throughput-up"),
    )
    finding = Finding(
        code="slow-not-attributable",
        segment=Segment.HOME,
        confidence=0.8,
        next_step="plug-in-cable",
        values={"fact": "wireless", "direction": "down"},
    )
    return replace(
        record,
        assessment=assessment,
        diagnosis=Diagnosis(segment=Segment.HOME, findings=(finding,)),
    )


def empty(seed: int = 6) -> Record:
    """Return a record in which nothing was measured at all."""
    why = Reason(code="no-interface", values={"interface": "eth7"})
    return _record(
        seed,
        measured=_numbered(*(failed(kind, Role.LOCAL, why) for kind in Kind)),
        assessment=Assessment(verdict=Verdict.NOT_PROVEN, criteria=()),
        diagnosis=Diagnosis(segment=Segment.UNDETERMINED),
        server=None,
        tier=None,
        private=Private(),
        conditions=(),
    )


def extreme(text: str = "W" * 200, seed: int = 7) -> Record:
    """Return a record with one text in every free field, sixty findings and figures at the edge."""
    base = healthy(seed)
    findings = tuple(
        Finding(
            code=f"code-{i}-{text}"[:200],
            segment=list(Segment)[i % len(Segment)],
            confidence=i / 60,
            next_step=text,
            values={"text": text, "delay_ms": 30_000.0},
        )
        for i in range(60)
    )
    hops = tuple(hop(i, 5.0 + i, name=text) for i in range(1, 31))
    walk = Measured(
        measurement=replace(
            path().measurement,
            observed=HopWalk(
                target=text,
                protocol="udp",
                waiting_s=1.0,
                names=tuple(("192.0.2.9", text) for _ in hops),
            ),
        ),
        statistics=PathStatistics(hops=hops, reached=False, stop_code=text, stopped_at=30),
    )
    many = tuple(
        failed(kind, role, Reason(code=text[:60], values={text[:60]: text}))
        for kind in Kind
        for role in Role
    )
    resolvers = tuple(dns(seed, resolver=text) for _ in range(9))
    pages = tuple(web(target=text, url=text) for _ in range(9))
    limit = 1e10
    criteria = (
        *(
            replace(c, limit_source=text, converted=text, name=c.name if i % 2 else text)
            for i, c in enumerate(base.assessment.criteria * 4)
        ),
        replace(base.assessment.criteria[0], measured=0.0, low=0.0, high=0.0, limit=limit),
        replace(base.assessment.criteria[0], measured=limit, low=limit, high=limit, limit=limit),
    )
    return replace(
        base,
        measured=_numbered(
            *base_measured(base),
            walk,
            *many,
            *resolvers,
            *pages,
            throughput(seed, Direction.DOWN, 10_000.0),
        ),
        assessment=Assessment(
            verdict=Verdict.BELOW,
            criteria=criteria,
            fitness=tuple(FitnessFact(name=text, voids=(text,), measured=text) for _ in range(20)),
            deciding=(text,),
            rule=text,
        ),
        diagnosis=Diagnosis(segment=Segment.ACCESS, findings=findings),
        private=Private(
            work_order=text,
            technician=text,
            company=text,
            premises=text,
            contact=text,
            equipment=text,
        ),
        visit=replace(
            base.visit, spot=text, plugged_into=text, access=text, interface=text, plan=text
        ),
        tier=replace(base.tier, name=text) if base.tier else None,
        server=ServerFacts(id=text, software=text, url=text, card={"operator": text}),
        agent=AgentFacts(
            version=text, platform=text, python=text, device_id=text, laptop_check=text
        ),
        notes=(text,) * 10,
    )


def base_measured(record: Record) -> tuple[Measured, ...]:
    """Return what a record measured."""
    return record.measured


def link(speed_bps: int = 1_000 * MBIT) -> Measured:
    """Return a wired port."""
    return _complete(
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
        return _complete(
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
    return _complete(
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
    return _complete(
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
    return _complete(
        Kind.DELAY,
        role,
        series,
        DelayStatistics(
            sent=sent,
            received=len(answered),
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
    return _complete(
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
    return _complete(
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
    return _complete(
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


def missing_criterion(name: str, unit: str) -> Criterion:
    """Return a needed criterion that nothing was measured for."""
    return Criterion(
        name=name,
        measurements=(),
        needed=True,
        sense=Sense.AT_MOST if unit == "ratio" else Sense.AT_LEAST,
        unit=unit,
        limit=None,
        limit_source="tier",
        outcome=Verdict.NOT_PROVEN,
        reason=Reason(code="not-measured", values={"kind": "throughput", "cause": "no-address"}),
    )


def _complete(kind, role, observed, statistics, **more) -> Measured:
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


def _numbered(*measured: Measured) -> tuple[Measured, ...]:
    return tuple(
        replace(one, measurement=replace(one.measurement, id=f"m{i:02d}"))
        for i, one in enumerate(measured, start=1)
    )


def _rate(name: str, measured: float, sold: float, measurement: str) -> Criterion:
    limit = sold * 0.95 * PAYLOAD_SHARE * MBIT
    rate = measured * MBIT
    return Criterion(
        name=name,
        measurements=(measurement,),
        needed=True,
        sense=Sense.AT_LEAST,
        unit="bps",
        layer="payload",
        limit=limit,
        limit_source="tier",
        converted="ip>payload 1448/1500",
        measured=rate,
        low=rate * 0.996,
        high=rate * 1.004,
        confidence=0.95,
        margin=rate - limit,
        outcome=Verdict.MEETS if rate >= limit else Verdict.BELOW,
    )


def _assessed(*, down: float, up: float, lost: int, rtt: float) -> Assessment:
    ratio = lost / 800
    loss = Criterion(
        name="server-loss",
        measurements=("m06",),
        needed=True,
        sense=Sense.AT_MOST,
        unit="ratio",
        limit=0.005,
        limit_source="common practice, no source",
        measured=ratio,
        low=max(0.0, ratio - 0.006),
        high=ratio + 0.0048,
        confidence=0.95,
        margin=0.005 - ratio,
        outcome=Verdict.MEETS if ratio <= 0.005 else Verdict.BELOW,
    )
    delay_median = replace(
        loss,
        name="server-delay-median",
        unit="ms",
        limit=15.0,
        measured=rtt,
        low=rtt - 0.08,
        high=rtt + 0.09,
        margin=15.0 - rtt,
        outcome=Verdict.MEETS if rtt <= 15 else Verdict.BELOW,
        needed=False,
    )
    names = replace(
        loss,
        name="dns-median",
        unit="ms",
        limit=50.0,
        measured=16.0,
        low=12.0,
        high=20.0,
        margin=34.0,
        outcome=Verdict.MEETS,
        measurements=("m03",),
    )
    criteria = (
        _rate("throughput-down", down, 100, "m09"),
        _rate("throughput-up", up, 20, "m10"),
        loss,
        delay_median,
        names,
        replace(
            loss,
            name="web-reached",
            unit="ratio",
            sense=Sense.AT_LEAST,
            limit=1.0,
            measured=1.0,
            low=None,
            high=None,
            confidence=None,
            measurements=("m08",),
            outcome=Verdict.MEETS,
        ),
    )
    missed = tuple(c.name for c in criteria if c.needed and c.outcome is Verdict.BELOW)
    return Assessment(
        verdict=Verdict.BELOW if missed else Verdict.MEETS, criteria=criteria, deciding=missed
    )


def _record(seed: int, **parts) -> Record:
    defaults = {
        "record_id": new_record_id(random.Random(seed).randbytes(8)),
        "started": "2026-03-02T09:14:07Z",
        "finished": "2026-03-02T09:14:31Z",
        "utc_offset_min": 60,
        "agent": AgentFacts(version="0.1.0", platform="Linux 6.1", python="3.11.7"),
        "visit": Visit(
            purpose="installation",
            spot="hall, at the optical terminal",
            plugged_into="ont",
            access="fibre",
            handover="dhcp",
            nothing_else_on=True,
            interface="eth0",
            consent=Consent(given=True, how="option", at_s=0.0),
        ),
        "private": Private(
            work_order="WO-2026-0417",
            technician="R. Okafor",
            company="Tern Bay Fibre",
            premises="7 Slipway Lane, Tern Bay",
            contact="field@ternbay.example",
        ),
        "plan": tuple(kind.value for kind in Kind),
        "settings_sha256": "ab" * 32,
        "tier": TierFacts(
            name="Harbour 100/20",
            down_bps=100 * MBIT,
            up_bps=20 * MBIT,
            layer="ip",
            accept_down=0.95,
            accept_up=0.95,
        ),
        "server": ServerFacts(
            id="ternbay-core-1",
            software="doorstep 0.1.0",
            url=f"http://{SERVER}:8080/card",
            seen_address="192.0.2.44",
            card={"operator": "Tern Bay Fibre", "congestion_control": "bbr"},
        ),
        "conditions": (
            Conditions(
                phase=Phase.BEFORE,
                at_s=0.1,
                medium=Medium.WIRED,
                speed_bps=1_000 * MBIT,
                duplex="full",
                egress="eth0",
                tested_line=True,
                other_traffic_bps=1200.0,
                cpu_ratio=0.08,
                on_battery=False,
            ),
        ),
    }
    return Record(**{**defaults, **parts})


CASES = {
    "healthy": healthy,
    "below": below,
    "held-back": held_back,
    "lossy": lossy,
    "no-lease": no_lease,
    "unproven": unproven,
    "empty": empty,
    "extreme": extreme,
}
