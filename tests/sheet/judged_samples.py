"""Judgements written by hand, since only their presentation is under test here."""

from __future__ import annotations

from dataclasses import replace

from measured_samples import MBIT, PAYLOAD_SHARE

from agent.assessment.model import (
    Assessment,
    Criterion,
    Sense,
    Verdict,
)
from agent.measurements import Reason


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


def assessed(*, down: float, up: float, lost: int, rtt: float) -> Assessment:
    """Return what is judged at these Mbit/s, packets lost of 800 and ms."""
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
