"""Which walks `compare` holds against each other."""

from dataclasses import replace

import pytest

from agent.cli.faces import path_change
from agent.measurements import (
    Hop,
    HopWalk,
    Kind,
    Measurement,
    PathStatistics,
    Role,
    RoundTrip,
    State,
)
from agent.record import Measured

TARGET = "203.0.113.9"


class Stored:
    """As much of a record as a comparison of walks reads."""

    def __init__(self, *addresses, target=TARGET):
        hops = tuple(
            Hop(distance=i, sent=1, answered=1, addresses=(a,), rtt_ms=RoundTrip(count=1))
            for i, a in enumerate(addresses, start=1)
        )
        measurement = Measurement(
            kind=Kind.PATH,
            role=Role.SERVER,
            state=State.COMPLETE,
            method="udp",
            started_s=0.0,
            duration_s=1.0,
            address=target,
            observed=HopWalk(target=target, protocol="udp", waiting_s=1.0),
        )
        walked = Measured(
            measurement=measurement, statistics=PathStatistics(hops=hops, reached=True)
        )
        self.measured = (replace(walked, statistics=None), walked) if addresses else ()


ONE = Stored("192.0.2.1", TARGET)
OTHER = Stored("192.0.2.2", TARGET)


@pytest.mark.parametrize(
    ("records", "kind"),
    [((ONE, ONE), "same"), ((ONE, OTHER), "changed"), ((ONE, OTHER, ONE), "same")],
)
def test_first_and_last_are_compared(records, kind):
    assert path_change(records).kind == kind


@pytest.mark.parametrize(
    "records", [(), (ONE, Stored()), (ONE, Stored("192.0.2.1", "198.51.100.1", target="x"))]
)
def test_other_targets_and_missing_walks_are_not(records):
    assert path_change(records) is None
