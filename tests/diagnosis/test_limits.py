"""A missed rate that something beside the line limited: its own finding and next step."""

from dataclasses import replace

import pytest
from visits import criterion, down, first_hop, judge, server, up, visit

from agent.assessment.model import Verdict
from agent.diagnosis.model import Segment
from agent.measurements import TcpCounters

CARDS = (
    {"time": "2026-05-04T10:00:00+00:00", "load": {"capacity_bps": 1e9}},
    {"time": "2026-05-04T10:01:00+00:00", "load": {"capacity_bps": 1e9}},
)


def told(measured, readings=(), **facts):
    return replace(measured, observed=replace(measured.observed, tcp=tuple(readings), **facts))


def reading(**facts):
    return TcpCounters(at_s=6.0, min_rtt_ms=20.0, **facts)


def with_load(**load):
    return {"server_cards": (CARDS[0], {**CARDS[1], "load": load})}


UNREAD = [reading(receive_window_bytes=1_000, unread_bytes=99_000)]
NARROW = [reading(receive_window_bytes=130_000)]
FAR = [reading(send_window_bytes=14_000)]


@pytest.mark.parametrize(
    ("slow", "stated", "expected"),
    [
        (told(down(50e6), UNREAD), {}, ("laptop-limits", "laptop", "free-the-laptop")),
        (told(down(50e6), cpu_ratio=0.95), {}, ("laptop-limits", "laptop", "free-the-laptop")),
        (told(down(50e6), NARROW), {}, ("window-limits", "laptop", "reset-windows")),
        (told(up(5e6), FAR), {}, ("window-limits", "operator", "report-server")),
        (
            down(50e6),
            with_load(capacity_bps=55e6),
            ("server-limits", "operator", "use-larger-server"),
        ),
        (down(50e6), with_load(crowded_s=2.0), ("server-limits", "operator", "repeat-later")),
        (
            told(down(50e6), interface_bytes=80_000_000),
            {},
            ("other-traffic-limits", "laptop", "stop-other-programs"),
        ),
    ],
)
def test_a_rate_held_back_beside_the_line(slow, stated, expected):
    found = judge(visit(slow), **stated)
    finding = found.diagnosis.findings[0]
    assert (finding.code, finding.segment.value, finding.next_step) == expected
    assert finding.values["direction"] == slow.direction.value
    assert finding.evidence == (slow.id,)
    rate = criterion(found, f"throughput-{slow.direction.value}")
    assert rate.outcome is Verdict.NOT_PROVEN
    assert len(found.diagnosis.findings) == 1


def test_a_rate_that_is_kept_has_no_finding_whoever_limited_it():
    assert judge(visit(told(down(104e6), UNREAD))).diagnosis.findings == ()


def test_loss_on_the_line_stands_beside_a_slow_laptop():
    lossy = visit(server(up=16, down=16), first_hop(down=8), told(down(50e6), UNREAD))
    codes = {f.code for f in judge(lossy).diagnosis.findings}
    assert codes == {"laptop-limits", "loss-past-modem"}


def test_two_rates_far_apart_place_nothing():
    found = judge(visit(down(50e6), down(70e6, id="throughput-down-2"))).diagnosis
    assert [f.code for f in found.findings] == ["rate-unsteady"]
    assert found.segment is Segment.UNDETERMINED
    assert found.findings[0].values["direction"] == "down"
    steady = judge(visit(down(50e6), down(104e6, id="throughput-down-2"))).diagnosis
    assert steady.findings == ()
