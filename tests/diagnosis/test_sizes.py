"""Large packets that vanish are a fault only where TCP is not held to what passes."""

from dataclasses import replace

import pytest
from visits import EDGE, GATEWAY, SERVER, judge, path, server, visit

from agent.diagnosis.model import Segment
from agent.measurements import MtuSearch, SizeOutcome, TcpSegments


def walk(mtu, *, by=None, mss=1460, after=GATEWAY, held=1500):
    """A walk beside which 1500 did not pass, told by a router or by nobody."""
    refused = SizeOutcome.LOST if by is None else SizeOutcome.REFUSED
    whole = ((1500, None, refused, None), (mtu, None, SizeOutcome.ANSWERED, None))
    near = () if after is None else ((1500, 1, SizeOutcome.PASSED, after),)
    size, distance, outcome, answered_by = zip(*whole, *near, strict=True)
    count = len(size)
    search = MtuSearch(
        target=SERVER,
        protocol="stamp",
        header_bytes=28,
        size_bytes=size,
        distance=distance,
        sent_s=(0.0,) * count,
        rtt_ms=(None,) * count,
        outcome=outcome,
        far_received=(None,) * count,
        refused_by=(by, *(None,) * (count - 1)),
        named_bytes=(mtu if by else None, *(None,) * (count - 1)),
        answered_by=answered_by,
        tcp=TcpSegments(send_mss_bytes=mss - 12, option_bytes=12, path_mtu_bytes=held),
    )
    walked = path(GATEWAY, EDGE, SERVER)
    return replace(walked, observed=replace(walked.observed, mtu=search))


def finding(*changes):
    found = judge(visit(*changes)).diagnosis.findings
    return next((f for f in found if f.code == "large-packets-vanish"), None)


def test_an_unclamped_black_hole_behind_the_router_is_the_routers():
    found = finding(walk(1492))
    assert (found.segment, found.next_step) == (Segment.HOME, "set-router-mtu")
    assert found.values["path_mtu_bytes"] == 1492
    assert found.confidence >= 0.75


def test_one_in_the_operators_network_is_referred():
    found = finding(walk(1400, after=EDGE))
    assert (found.segment, found.next_step) == (Segment.OPERATOR, "refer-to-operator")


def test_one_that_nobody_places_stays_undetermined():
    assert finding(walk(1400, after=None)).segment is Segment.UNDETERMINED


def test_where_the_kernel_hides_the_segment_size_it_is_only_possible():
    assert finding(walk(1492, mss=1452, held=1492)).confidence < 0.75


@pytest.mark.parametrize(
    "walked",
    [walk(1492, mss=1452), walk(1492, by=GATEWAY), walk(1480, by=EDGE)],
    ids=["clamped", "pppoe-that-says-so", "tunnel-that-says-so"],
)
def test_a_smaller_path_that_works_is_no_fault(walked):
    assert finding(walked) is None
    assert judge(visit(walked)).diagnosis.segment is Segment.NONE


def test_heavy_loss_is_not_taken_for_a_limit_of_size():
    assert finding(walk(1492), server(up=100)) is None
