"""Whose octets an interface carried: frames of 1514 octets with 1448 of payload (IEEE 802.3,
RFC 791, RFC 9293, RFC 7323 appendix A), joined by a kernel or not."""

from dataclasses import replace

import pytest
from accounts import carried
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import Direction
from agent.measurements.accounts import accounted_s, foreign_bytes, foreign_rate_bps

FRAMES = 10_000
PAYLOAD = 1448 * FRAMES


@pytest.mark.parametrize(
    ("interface_bytes", "packets", "expected"),
    [
        (1514 * FRAMES, FRAMES, 0),
        (PAYLOAD + 66 * 400, 400, 0),
        (1514 * FRAMES, None, 0),
        (PAYLOAD + 66 * 400, None, 0),
        (1514 * (FRAMES + 1000), FRAMES + 1000, 1448 * 1000),
        (1514 * (FRAMES + 1000), None, 1514 * 1000),
        (PAYLOAD + 66 * 440 + 1_448_000, 440, 1_448_000),
    ],
)
def test_only_what_no_connection_of_ours_moved_is_foreign(interface_bytes, packets, expected):
    one = carried(PAYLOAD, interface_bytes, packets)
    found = foreign_bytes(one.observed, Direction.DOWN)
    assert found == pytest.approx(expected, rel=1e-9)


def test_what_was_sent_twice_is_our_own():
    """The connection's own count of octets sent holds the retransmissions (Linux tcp_info)."""
    one = carried(PAYLOAD, 1514 * FRAMES, FRAMES, direction=Direction.UP)
    acknowledged = replace(one.observed, slice_bytes=(PAYLOAD // 2,))
    assert foreign_bytes(acknowledged, Direction.UP) == 0.0


def test_slices_stand_in_where_the_kernel_counts_no_octets():
    one = carried(PAYLOAD, 1514 * FRAMES, FRAMES).observed
    assert foreign_bytes(replace(one, tcp=(), tcp_first=()), Direction.DOWN) == 0.0
    assert accounted_s(replace(one, tcp=(), tcp_first=())) == 1.0
    assert foreign_bytes(replace(one, interface_bytes=None), Direction.DOWN) is None


def test_a_flow_that_began_later_counts_from_its_beginning():
    one = carried(PAYLOAD, 1514 * FRAMES, FRAMES).observed
    later = replace(one, tcp_first=())
    assert foreign_bytes(later, Direction.DOWN) == 0.0


def test_rates_of_several_transfers_are_weighed_by_their_time():
    """2 Mbyte beside the first in 1 s, none beside the second in 3 s: 16 Mbit in 4 s."""
    pair = (
        carried(PAYLOAD, 1514 * FRAMES + 2_000_000, FRAMES),
        carried(PAYLOAD, 1514 * FRAMES, FRAMES, seconds=3.0),
    )
    assert foreign_rate_bps(pair) == pytest.approx(4e6)
    assert foreign_rate_bps(()) is None


@given(st.integers(1, 10**9), st.integers(0, 10**10), st.integers(0, 10**6))
def test_it_is_never_negative_and_never_more_than_was_carried(own, interface_bytes, packets):
    found = foreign_bytes(carried(own, interface_bytes, packets).observed, Direction.DOWN)
    assert 0 <= found <= interface_bytes
