"""What is wrong with an offer, by the standards that say how it should be."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import LeaseFacts, LeaseProbe, Offer, OfferedRoute
from agent.stats.offers import (
    Fault,
    held_faults,
    mask_fits,
    offer_faults,
    servers_of,
    timers_reversed,
)

ROUTER, ROGUE = "02:00:5e:10:00:01", "02:00:5e:10:00:66"


def offer(**changes):
    fields = {
        "after_ms": 3.0,
        "server_id": "192.0.2.1",
        "server_hardware_address": ROUTER,
        "address": "192.0.2.30",
        "lease_s": 86400,
        "t1_s": 43200,
        "t2_s": 75600,
        "subnet_mask": "255.255.255.0",
        "routers": ("192.0.2.1",),
        "dns": ("192.0.2.53",),
    }
    return Offer(**{**fields, **changes})


def held(**changes):
    fields = {
        "family": 4,
        "origin": "dhcp",
        "address": "192.0.2.30",
        "gateway": "192.0.2.1",
        "dns": ("192.0.2.53",),
        "server_id": "192.0.2.1",
        "lease_s": 86400,
        "leased_routers": ("192.0.2.1",),
        "leased_dns": ("192.0.2.53",),
    }
    return LeaseFacts(**{**fields, **changes})


@pytest.mark.parametrize(
    ("changes", "faults"),
    [
        ({}, ()),
        ({"routers": ()}, (Fault.NO_ROUTER,)),
        ({"dns": ()}, (Fault.NO_DNS,)),
        ({"lease_s": 0}, (Fault.NO_TIME,)),
        ({"lease_s": None, "t1_s": None, "t2_s": None}, (Fault.NO_TIME,)),
        ({"t1_s": 75600, "t2_s": 43200}, (Fault.TIMERS,)),
        ({"routers": ("198.51.100.1",)}, (Fault.MASK,)),
        # RFC 8925 §3.3: an address of zero beside option 108 gives none, and wants nothing else.
        ({"address": "0.0.0.0", "routers": (), "dns": (), "ipv6_only_s": 1800}, ()),
    ],
)
def test_what_is_wrong_with_an_offer(changes, faults):
    assert offer_faults(offer(**changes)) == faults


@pytest.mark.parametrize(
    ("changes", "faults"),
    [
        ({}, ()),
        ({"gateway": None, "leased_routers": ()}, (Fault.NO_ROUTER,)),
        ({"dns": (), "leased_dns": ()}, (Fault.NO_DNS,)),
        # Named by the lease, lost on the laptop: no fault of what was given.
        ({"gateway": None, "dns": ()}, ()),
        # A resolver or gateway set by hand serves this laptop.
        ({"leased_dns": (), "leased_routers": ()}, ()),
        ({"t1_s": 75600, "t2_s": 43200}, (Fault.TIMERS,)),
        ({"lease_s": 0}, (Fault.NO_TIME,)),
        # Where the system does not tell what the lease names, nothing is charged to the server.
        ({"dns": (), "gateway": None, "leased_dns": None, "leased_routers": None}, ()),
    ],
)
def test_what_is_wrong_with_a_lease_held(changes, faults):
    assert held_faults(held(**changes)) == faults


@pytest.mark.parametrize("lease_s", [3600, 86400, 604800])
def test_the_times_of_the_standard_are_in_order(lease_s):
    """RFC 2131 §4.4.5: T1 = 0.5 and T2 = 0.875 of the lease: 3600 gives 1800 and 3150."""
    t1_s, t2_s = int(0.5 * lease_s), int(0.875 * lease_s)
    assert not timers_reversed(lease_s, t1_s, t2_s)
    assert timers_reversed(lease_s, t2_s, t1_s)
    assert timers_reversed(lease_s, t1_s, lease_s)
    assert timers_reversed(lease_s, lease_s + 1, None)
    assert not timers_reversed(lease_s, None, t2_s)
    # RFC 2131 §3.3: a lease without end is never renewed.
    assert not timers_reversed(0xFFFFFFFF, t2_s, t1_s)


@given(st.integers(1, 2**32 - 2), st.integers(0, 2**32 - 1), st.integers(0, 2**32 - 1))
def test_times_are_in_order_only_where_t1_t2_and_the_end_follow(lease_s, t1_s, t2_s):
    """RFC 2131 §4.4.5: T1 MUST be earlier than T2, and T2 than the end of the lease."""
    assert timers_reversed(lease_s, t1_s, t2_s) is not (t1_s < t2_s < lease_s)


@pytest.mark.parametrize(
    ("changes", "fits"),
    [
        ({}, True),
        ({"subnet_mask": "255.255.255.252"}, False),
        ({"subnet_mask": "255.255.0.255"}, False),
        ({"subnet_mask": None}, False),
        ({"routers": ("192.0.2.30",)}, False),
        ({"routers": ("198.51.100.1", "192.0.2.1")}, True),
        ({"subnet_mask": "255.255.255.255", "routers": ("198.51.100.1",)}, True),
        ({"routers": (), "subnet_mask": None}, True),
    ],
)
def test_the_gateway_must_lie_where_the_mask_says(changes, fits):
    """RFC 2132 §3.5: routers on the client's subnet; a /32 is common practice, no source."""
    assert mask_fits(offer(**changes)) is fits


def test_an_on_link_route_reaches_a_gateway_outside():
    """RFC 3442, local subnets: router 0.0.0.0 says that a network is on this link."""
    route = OfferedRoute(network="198.51.100.0", prefix=24, router="0.0.0.0")
    assert mask_fits(offer(routers=("198.51.100.1",), routes=(route,)))
    default = OfferedRoute(network="0.0.0.0", prefix=0, router="0.0.0.0")
    assert not mask_fits(offer(routers=("198.51.100.1",), routes=(default,)))


def servers(*offers):
    return servers_of(LeaseProbe(sent=1, listened_s=6.0, offers=offers))


def test_servers_are_counted_by_device():
    again = offer(after_ms=9.0, address="192.0.2.31")
    (one,) = servers(offer(), again)
    assert (one.server_id, one.hardware_address, len(one.offers)) == ("192.0.2.1", ROUTER, 2)
    first, second = servers(offer(), offer(server_hardware_address=ROGUE))
    assert (first.server_id, second.hardware_address) == ("192.0.2.1", ROGUE)


def test_two_servers_behind_one_relay_are_no_second_device():
    assert len(servers(offer(), offer(server_id="203.0.113.7"))) == 1
    # A radio bridge puts its own hardware address on everything; the gateways tell them apart.
    assert len(servers(offer(), offer(server_id="192.0.2.66", routers=("192.0.2.66",)))) == 2
    assert len(servers(offer(server_hardware_address=None))) == 1
    assert servers() == ()
