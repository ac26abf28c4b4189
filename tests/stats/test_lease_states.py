"""A lease reduced: which states of an address can be used, and whose the renewal times are."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import LeaseFacts, LinkFacts, Medium
from agent.stats.lease import lease_statistics
from agent.stats.link import link_statistics

INFINITE_S = 0xFFFF_FFFF


def lease(**more):
    return LeaseFacts(**{"family": 4, "origin": "dhcp", "address": "192.0.2.20", **more})


@pytest.mark.parametrize(
    ("state", "usable"),
    [
        (None, True),
        ("preferred", True),
        # RFC 4862 §5.5.4: a deprecated address goes on serving what uses it.
        ("deprecated", True),
        # RFC 4862 §5.4: neither is assigned to the port.
        ("tentative", False),
        ("duplicate", False),
        # Nobody took it away yet; that it is over has a finding of its own.
        ("expired", True),
    ],
)
def test_which_states_can_be_used(state, usable):
    found = lease_statistics(lease(state=state))
    assert (found.usable, found.state) == (usable, state)


@pytest.mark.parametrize(
    ("given_", "timers", "assumed"),
    [
        # RFC 2131 §4.4.5: 0.5 and 0.875 of the lease where the server states none.
        ({"lease_s": 86_400}, (43_200, 75_600), True),
        ({"lease_s": 86_400, "t1_s": 1000}, (1000, 75_600), True),
        ({"lease_s": 86_400, "t2_s": 80_000}, (43_200, 80_000), True),
        ({"lease_s": 86_400, "t1_s": 43_200, "t2_s": 75_600}, (43_200, 75_600), False),
        # RFC 2131 §3.3: a lease without end is never renewed.
        ({"lease_s": INFINITE_S}, (None, None), False),
        ({"lease_s": INFINITE_S, "t1_s": 600}, (600, None), False),
        ({}, (None, None), False),
        ({"t1_s": 600, "t2_s": 900}, (600, 900), False),
    ],
)
def test_stated_times_are_told_apart_from_the_standards(given_, timers, assumed):
    found = lease_statistics(lease(**given_))
    assert ((found.t1_s, found.t2_s), found.timers_assumed) == (timers, assumed)


@given(st.integers(8, 0xFFFF_FFFE))
def test_the_standards_times_are_in_order(lease_s):
    found = lease_statistics(lease(lease_s=lease_s))
    assert 0 < found.t1_s < found.t2_s < lease_s


@given(st.integers(1, 0xFFFF_FFFF), st.integers(0, 2**32), st.integers(0, 2**32))
def test_what_the_server_stated_is_never_replaced(lease_s, t1_s, t2_s):
    found = lease_statistics(lease(lease_s=lease_s, t1_s=t1_s, t2_s=t2_s))
    assert (found.t1_s, found.t2_s, found.timers_assumed) == (t1_s, t2_s, False)


def test_what_the_system_told_beyond_the_lease_is_kept():
    told = {
        "expired_s": 60.0,
        "ways": ("192.0.2.1", "on-link"),
        "leased_routers": ("192.0.2.1",),
        "leased_dns": (),
        "beside": ("wlan0",),
    }
    found = lease_statistics(lease(**told))
    assert {name: getattr(found, name) for name in told} == told


def test_a_port_on_a_port_keeps_its_tag_and_parent():
    facts = LinkFacts(
        interface="ppp0",
        up=True,
        medium=Medium.PPP,
        mtu_bytes=1492,
        speed_bps=1_000_000_000,
        parent="eth0.7",
        parent_kind="pppoe",
        vlan_id=7,
    )
    found = link_statistics(facts)
    assert (found.parent, found.parent_kind, found.vlan_id) == ("eth0.7", "pppoe", 7)
