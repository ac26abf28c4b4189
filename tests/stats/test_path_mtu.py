"""A path MTU search reduced to values, limits and what TCP makes of them."""

from dataclasses import replace

import pytest

from agent.measurements import Hop, MtuSearch, RoundTrip, SizeOutcome, TcpSegments
from agent.stats.path_mtu import mtu_statistics

GATEWAY, EDGE, SERVER = "192.0.2.1", "198.51.100.1", "203.0.113.9"
HOPS = tuple(
    Hop(distance=d, sent=1, answered=1, addresses=(a,), rtt_ms=RoundTrip(count=1))
    for d, a in ((1, GATEWAY), (2, EDGE), (3, SERVER))
)
ANSWERED, LOST = SizeOutcome.ANSWERED, SizeOutcome.LOST


def search(*rows, target=SERVER, tcp=None, **more):
    """Rows: size, outcome, and what else is known of the packet."""
    told = [row[2] if len(row) > 2 else {} for row in rows]
    return MtuSearch(
        target=target,
        protocol="stamp",
        header_bytes=28,
        size_bytes=tuple(row[0] for row in rows),
        outcome=tuple(row[1] for row in rows),
        distance=tuple(one.get("distance") for one in told),
        sent_s=(0.0,) * len(rows),
        rtt_ms=(None,) * len(rows),
        far_received=tuple(one.get("far") for one in told),
        refused_by=tuple(one.get("by") for one in told),
        named_bytes=tuple(one.get("named") for one in told),
        answered_by=tuple(one.get("answered_by") for one in told),
        tcp=tcp,
        **more,
    )


def lost(size, count=4, **told):
    return [(size, LOST, told)] * count


def test_all_sizes_pass():
    found = mtu_statistics(search((1500, ANSWERED)), HOPS)
    assert (found.path_mtu_bytes, found.up_limit, found.up_below_bytes) == (1500, "none", None)


def test_a_router_names_the_limit():
    refusal = {"by": GATEWAY, "named": 1492}
    found = mtu_statistics(search((1500, SizeOutcome.REFUSED, refusal), (1492, ANSWERED)), HOPS)
    assert (found.path_mtu_bytes, found.up_limit) == (1492, "named")
    assert (found.limited_by, found.named_bytes) == (GATEWAY, 1492)


def test_silence_is_placed_behind_the_last_router_that_took_the_packet():
    passed = {"distance": 1, "answered_by": GATEWAY}
    rows = [(1492, ANSWERED), *lost(1493), (1500, SizeOutcome.PASSED, passed)]
    found = mtu_statistics(search(*rows, *lost(1500, 1, distance=2)), HOPS)
    assert (found.up_limit, found.up_below_bytes) == ("silent", 1493)
    assert (found.vanish_after, found.vanish_before) == (GATEWAY, EDGE)


def test_what_arrived_and_was_not_answered_is_a_limit_downwards():
    rows = [*lost(1500, far=True), (1400, ANSWERED), *lost(1401, far=True)]
    found = mtu_statistics(search(*rows), HOPS)
    assert (found.up_bytes, found.up_limit) == (1500, "none")
    assert (found.down_bytes, found.down_below_bytes, found.path_mtu_bytes) == (1400, 1401, 1400)


def test_what_was_under_way_is_no_limit():
    found = mtu_statistics(search((1500, SizeOutcome.OPEN), (1492, ANSWERED)), HOPS)
    assert (found.path_mtu_bytes, found.up_limit) == (1492, "none")


def test_one_lost_answer_is_no_limit_downwards():
    rows = [(1500, LOST, {"far": True}), (1492, ANSWERED)]
    assert mtu_statistics(search(*rows), HOPS).down_below_bytes is None


@pytest.mark.parametrize(
    ("target", "mss", "options", "held", "expected"),
    [
        (SERVER, 1448, 12, 1500, (1460, False)),
        (SERVER, 1440, 12, 1500, (1452, True)),
        (SERVER, 1452, 0, 1500, (1452, True)),
        # What the kernel learnt before hides whether the SYN announced more.
        (SERVER, 1440, 12, 1492, (None, None)),
        (SERVER, 1388, 12, 1492, (1400, True)),
        ("2001:db8::9", 1428, 12, 1500, (1440, False)),
        ("2001:db8::9", 1420, 12, 1500, (1432, True)),
    ],
)
def test_clamping(target, mss, options, held, expected):
    """RFC 6691 §2: an MSS counts neither IP nor TCP options; 1492 gives 1452, and 1432 in IPv6."""
    tcp = TcpSegments(send_mss_bytes=mss, option_bytes=options, path_mtu_bytes=held)
    found = mtu_statistics(search(*lost(1500), (1492, ANSWERED), target=target, tcp=tcp), ())
    assert (found.tcp_mss_bytes, found.tcp_held_down) == expected


def test_the_own_port_hides_nothing():
    tcp = TcpSegments(send_mss_bytes=1452, path_mtu_bytes=1492)
    rows = [(1500, SizeOutcome.HELD_BACK), (1493, SizeOutcome.HELD_BACK), (1492, ANSWERED)]
    found = mtu_statistics(search(*rows, tcp=tcp), ())
    assert (found.up_limit, found.tcp_mss_bytes, found.tcp_held_down) == ("port", 1452, True)


def test_nothing_came_back():
    found = mtu_statistics(search(*lost(1500), *lost(1280)), HOPS)
    assert (found.path_mtu_bytes, found.not_measured) == (None, "silent")
    told = replace(search(), not_measured="no-reflector")
    assert mtu_statistics(told, HOPS).not_measured == "no-reflector"
