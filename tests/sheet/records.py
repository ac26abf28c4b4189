"""Records of visits that never were, for tests of the record and the sheet.

The scenario is our own: Tern Bay Fibre, with addresses kept for documentation (RFC 5737, RFC 3849,
RFC 2544, RFC 6598). Observations are drawn from a seed; the conclusions are written by hand, since
only their presentation is under test here.
"""

from __future__ import annotations

import random
from dataclasses import replace

from judged_samples import assessed, missing_criterion
from measured_samples import (
    MBIT,
    SERVER,
    delays,
    dns,
    failed,
    hop,
    lease,
    limiter,
    link,
    loaded,
    path,
    throughput,
    web,
)

from agent.assessment.model import (
    Assessment,
    Criterion,
    FitnessFact,
    Limiting,
    Sense,
    Verdict,
)
from agent.diagnosis.model import Diagnosis, Finding, Segment
from agent.measurements import (
    Conditions,
    Direction,
    HopWalk,
    Kind,
    LaptopCheck,
    Medium,
    PathStatistics,
    Phase,
    Reason,
    Role,
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
            assessed(down=106.4, up=21.1, lost=0, rtt=14.2),
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
            assessed(down=47.9, up=4.81, lost=0, rtt=14.9),
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
            assessed(down=93.4, up=19.1, lost=0, rtt=14.2),
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
        assessment=assessed(down=71.3, up=17.2, lost=16, rtt=15.1),
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
            version=text,
            platform=text,
            python=text,
            device_id=text,
            laptop_check=check_called(text),
        ),
        notes=(text,) * 10,
    )


def check_called(text: str) -> LaptopCheck:
    """Return a laptop's own check in which every text is the given one."""
    return LaptopCheck(
        device_id=text, checked=text, interface=text, medium=Medium.WIRED, server=text
    )


def base_measured(record: Record) -> tuple[Measured, ...]:
    """Return what a record measured."""
    return record.measured


def _numbered(*measured: Measured) -> tuple[Measured, ...]:
    return tuple(
        replace(one, measurement=replace(one.measurement, id=f"m{i:02d}"))
        for i, one in enumerate(measured, start=1)
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
