"""What routers and servers say, reduced: which voices count, and what is wrong with them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.measurements import (
    AdvertisedPrefix,
    AdvertisedProbe,
    AdvertisedRouter,
    AdvertisedView,
    HeldPrefix,
    HeldRouter,
    LeaseFacts,
    LeaseProbe,
    Offer,
    OfferedNetwork,
    ServerAnswer,
)
from agent.stats import advertised as a
from agent.stats.advertised import AdvertisedFault
from agent.stats.lease import lease_statistics

ROUTER, SECOND = "02:00:5e:10:00:01", "02:00:5e:10:00:66"
NEVER = 0xFFFFFFFF


def prefix(**changes):
    fields = {
        "network": "2001:db8:1::",
        "prefix": 64,
        "on_link": True,
        "autonomous": True,
        "valid_s": 3600,
        "preferred_s": 1800,
    }
    return AdvertisedPrefix(**{**fields, **changes})


def router(hardware=ROUTER, **changes):
    fields = {
        "after_ms": 1.0,
        "address": "fe80::1",
        "hardware_address": hardware,
        "router_lifetime_s": 1800,
        "managed": False,
        "other": False,
        "prefixes": (prefix(),),
        "dns": ("2001:db8::53",),
        "dns_lifetime_s": 600,
    }
    return AdvertisedRouter(**{**fields, **changes})


def server(**changes):
    fields = {
        "after_ms": 1.0,
        "kind": "advertise",
        "server_id": "00030001aa",
        "address": "fe80::1",
        "hardware_address": ROUTER,
    }
    return ServerAnswer(**{**fields, **changes})


def probe(*routers, servers=(), asked=3):
    return AdvertisedProbe(
        routers_asked=1,
        servers_asked=asked,
        information_asked=asked,
        listened_s=6.0,
        routers=routers,
        servers=servers,
    )


def faults(*routers, **more):
    return set(a.advertised_faults(probe(*routers, **more)))


def test_nothing_is_known_where_nothing_was_read():
    assert a.advertised_statistics(LeaseFacts(family=6, origin="kernel")) is None
    assert lease_statistics(LeaseFacts(family=6, origin="kernel")).advertised is None


def test_silence_is_no_fault():
    assert faults() == set()
    assert a.advertised_statistics(held(probe())).managed is None


def held(told):
    return LeaseFacts(family=6, origin="kernel", advertised=told)


def test_what_is_heard_is_reduced():
    lent = OfferedNetwork(network="2001:db8:100::", prefix=56, preferred_s=10, valid_s=20)
    answers = (server(delegated=(lent,), dns=("2001:db8::54",)), server(kind="reply"))
    found = a.advertised_statistics(
        held(probe(router(mtu_bytes=1492, other=True), servers=answers))
    )
    assert (found.probed, found.routers, found.servers) == (True, (ROUTER,), ("00030001aa",))
    assert (found.managed, found.other, found.mtu_bytes) == (False, True, 1492)
    assert (found.prefixes, found.delegated) == (("2001:db8:1::/64",), ("2001:db8:100::/56",))
    assert found.dns == ("2001:db8::53", "2001:db8::54")
    assert found.faults == ()


def test_the_last_word_of_a_router_counts():
    """RFC 4861 §6.3.4: what was heard last replaces what was heard before."""
    over = router(router_lifetime_s=0, prefixes=(prefix(preferred_s=0),))
    assert faults(router(), over) == {AdvertisedFault.NO_ROUTER, AdvertisedFault.EXPIRED}
    assert faults(over, router()) == set()


@pytest.mark.parametrize(
    ("told", "expired"),
    [
        (prefix(preferred_s=0), True),
        (prefix(valid_s=0, preferred_s=0), True),
        (prefix(), False),
        (prefix(valid_s=NEVER, preferred_s=NEVER), False),
        # RFC 4862 §5.5.3: without the flag, for the link alone, or of another length than an
        # identifier of 64 bits leaves, no address is made of it.
        (prefix(preferred_s=0, autonomous=False), False),
        (prefix(preferred_s=0, network="fe80::"), False),
        (prefix(preferred_s=0, prefix=56), False),
    ],
)
def test_prefixes_that_make_no_address_any_more(told, expired):
    assert (AdvertisedFault.EXPIRED in faults(router(prefixes=(told,)))) is expired


@pytest.mark.parametrize(
    ("managed", "asked", "answers", "expected"),
    [
        (True, 3, (), {AdvertisedFault.NO_SERVER}),
        (True, 1, (), set()),  # one frame may be lost anywhere
        (True, 0, (), set()),
        (False, 3, (), set()),
        (True, 3, ("reply",), {AdvertisedFault.NO_SERVER}),
        (True, 3, ("advertise",), {AdvertisedFault.NO_ADDRESS}),
    ],
)
def test_servers_that_devices_are_sent_to(managed, asked, answers, expected):
    heard = tuple(server(kind=kind) for kind in answers)
    assert faults(router(managed=managed), servers=heard, asked=asked) == expected


def test_a_server_with_an_address_is_no_fault():
    lent = OfferedNetwork(network="2001:db8:1::20", prefix=128, preferred_s=1, valid_s=2)
    assert faults(router(managed=True), servers=(server(addresses=(lent,)),)) == set()


def test_two_devices_and_two_addresses_of_one_device():
    assert AdvertisedFault.TWO_ROUTERS in faults(router(), router(SECOND))
    assert AdvertisedFault.TWO_ROUTERS not in faults(router(), router(address="fe80::2"))


def test_a_router_of_a_network_of_its_own_is_no_way_out_and_needs_none():
    """RFC 4193 §3.1: fd00::/8."""
    hub = router(router_lifetime_s=0, prefixes=(prefix(network="fd00:db8::"),))
    assert AdvertisedFault.NO_ROUTER not in faults(hub)


def view(**changes):
    told = AdvertisedView(**{"received": True, "managed": False, "other": False, **changes})
    return a.advertised_statistics(LeaseFacts(family=6, origin="kernel", advertised_view=told))


def test_the_systems_own_view():
    found = view(
        mtu_bytes=1480,
        routers=(HeldRouter(address="fe80::1", hardware_address=ROUTER),),
        prefixes=(HeldPrefix(network="2001:db8:1::", prefix=64, preferred_s=9.0),),
    )
    assert (found.probed, found.routers, found.prefixes) == (False, (ROUTER,), ("2001:db8:1::/64",))
    assert (found.mtu_bytes, found.faults) == (1480, ())


def test_faults_that_the_systems_own_view_shows():
    assert view(managed=True).faults == ("managed-without-server",)
    gone = HeldPrefix(network="2001:db8:1::", prefix=64, valid_s=9.0, preferred_s=0.0)
    assert view(prefixes=(gone,)).faults == ("prefix-expired",)
    assert view(prefixes=(gone, HeldPrefix(network="2001:db8:2::", prefix=64))).faults == ()


def test_every_portal_that_is_named_once():
    offer = Offer(
        after_ms=1.0,
        server_id=None,
        server_hardware_address=None,
        address="192.0.2.9",
        captive_api="https://a.example/",
    )
    four = LeaseFacts(
        family=4, origin="dhcp", probe=LeaseProbe(sent=1, listened_s=6.0, offers=(offer, offer))
    )
    six = held(
        probe(
            router(captive_api="https://a.example/"),
            servers=(server(captive_api="https://b.example/"),),
        )
    )
    assert a.portals_of((four, six)) == ("https://a.example/", "https://b.example/")


routers = st.builds(
    router,
    hardware=st.sampled_from([ROUTER, SECOND]),
    address=st.sampled_from(["fe80::1", "fe80::2"]),
    router_lifetime_s=st.sampled_from([0, 1800]),
    managed=st.booleans(),
    prefixes=st.lists(
        st.builds(
            prefix,
            network=st.sampled_from(["2001:db8:1::", "fd00::", "fe80::"]),
            valid_s=st.integers(0, NEVER),
            preferred_s=st.integers(0, NEVER),
            autonomous=st.booleans(),
        ),
        max_size=3,
    ).map(tuple),
)


@given(st.lists(routers, max_size=5))
def test_no_more_ways_out_than_voices_and_never_a_fault_without_one(heard):
    told = probe(*heard)
    ways = a.default_routers(told)
    assert len(ways) <= len(a.latest_of(told)) <= len(heard)
    assert all(one.router_lifetime_s for one in ways)
    found = set(a.advertised_faults(told))
    assert not (AdvertisedFault.NO_ROUTER in found and ways)
    assert (AdvertisedFault.TWO_ROUTERS in found) is (len(ways) == 2)
    assert heard or not found
