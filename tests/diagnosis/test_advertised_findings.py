"""What routers and DHCPv6 servers say, as findings: each probe tells its own story.

Tone and content of the next steps: common practice of the trade, no source.
"""

from dataclasses import replace

import pytest
from visits import judge, lease, settings, visit

from agent.measurements import (
    AdvertisedPrefix,
    AdvertisedProbe,
    AdvertisedRouter,
    AdvertisedView,
    HeldPrefix,
    HeldRouter,
    LeaseProbe,
    Offer,
    OfferedNetwork,
    ServerAnswer,
)
from agent.settings.model import PluggedInto

ROUTER, SECOND = "02:00:5e:10:00:01", "02:00:5e:10:00:66"
API, OTHER_API = "https://portal.ternbay.example/api", "https://other.ternbay.example/api"


def prefix(**changes):
    fields = {
        "network": "2001:db8:1::",
        "prefix": 64,
        "on_link": True,
        "autonomous": True,
        "valid_s": 2_592_000,
        "preferred_s": 604_800,  # defaults of RFC 4861 §6.2.1
    }
    return AdvertisedPrefix(**{**fields, **changes})


def router(*, hardware=ROUTER, **changes):
    fields = {
        "after_ms": 3.0,
        "address": f"fe80::{hardware[-2:]}",
        "hardware_address": hardware,
        "router_lifetime_s": 1800,
        "managed": False,
        "other": False,
        "prefixes": (prefix(),),
        "dns": ("2001:db8::53",),
        "dns_lifetime_s": 1800,
    }
    return AdvertisedRouter(**{**fields, **changes})


def server(**changes):
    fields = {
        "after_ms": 4.0,
        "kind": "advertise",
        "server_id": "0003000102005e100001",
        "address": "fe80::1",
        "hardware_address": ROUTER,
    }
    return ServerAnswer(**{**fields, **changes})


def network(bits, text="2001:db8:100::", valid_s=3600):
    return OfferedNetwork(network=text, prefix=bits, preferred_s=1800, valid_s=valid_s)


def probe(*heard, **more):
    fields = {
        "routers_asked": 1,
        "servers_asked": 3,
        "information_asked": 3,
        "listened_s": 6.0,
        "routers": tuple(one for one in heard if isinstance(one, AdvertisedRouter)),
        "servers": tuple(one for one in heard if isinstance(one, ServerAnswer)),
    }
    return AdvertisedProbe(**{**fields, **more})


def six(**facts):
    fields = {
        "family": 6,
        "origin": "kernel",
        "address": "2001:db8:1::20",
        "prefix": 64,
        "gateway": "fe80::01",
        "state": "preferred",
        "lease_s": None,
    }
    return replace(lease(**{**fields, **facts}), id="lease-6", family=6)


def found_in(*heard, four=None, held=None, **stated):
    advertised = heard[0] if heard and isinstance(heard[0], AdvertisedProbe) else probe(*heard)
    parts = (four or lease(), six(advertised=advertised, **(held or {})))
    found = judge(visit(*parts), **stated)
    return [(f.code, f.segment.value, f.next_step) for f in found.diagnosis.findings]


def values_of(code, *parts, **stated):
    found = judge(visit(*parts), **stated).diagnosis.findings
    return next(dict(f.values) for f in found if f.code == code)


def test_a_sound_router_is_no_finding():
    assert found_in(router()) == []


def test_silence_over_ipv6_is_no_finding():
    assert found_in(probe(), four=lease()) == []


def test_a_router_that_says_more_later_is_one_router():
    assert found_in(router(), router(after_ms=900.0, mtu_bytes=1492)) == []


def test_two_routers_and_the_one_of_the_way_in_force_is_the_wanted():
    heard = (router(hardware=SECOND), router())
    assert found_in(*heard) == [("two-ipv6-routers", "home", "find-second-router")]
    told = values_of("two-ipv6-routers", lease(), six(advertised=probe(*heard)))
    assert (told["routers"], told["hardware_address"]) == (2, SECOND)


def test_a_device_that_announces_a_network_of_its_own_is_no_second_router():
    """RFC 4861 §4.2: lifetime 0 is no default router; RFC 4193: fd00::/8 stays in the home."""
    hub = router(
        hardware=SECOND,
        router_lifetime_s=0,
        prefixes=(prefix(network="fd00:db8:1::"),),
    )
    assert found_in(router(), hub) == []
    assert found_in(hub) == []


@pytest.mark.parametrize("times", [{"preferred_s": 0}, {"preferred_s": 0, "valid_s": 0}])
def test_a_prefix_that_ran_out(times):
    told = found_in(router(prefixes=(prefix(**times),)), held={"state": "deprecated"})
    assert told == [("ipv6-prefix-expired", "home", "renew-ipv6-prefix")]


def test_a_prefix_withdrawn_beside_a_new_one_is_sound():
    old = prefix(network="2001:db8:9::", preferred_s=0, valid_s=7200)
    assert found_in(router(prefixes=(old, prefix()))) == []


def test_without_a_probe_the_address_itself_tells():
    held = {"state": "deprecated"}
    view = AdvertisedView(
        received=True, prefixes=(HeldPrefix(network="2001:db8:1::", prefix=64, preferred_s=0.0),)
    )
    found = judge(visit(lease(), six(advertised_view=view, **held))).diagnosis.findings
    assert [f.code for f in found] == ["prefix-withdrawn"]


def test_preferred_past_valid_is_passed_over_by_hosts():
    """RFC 4862 §5.5.3(c)."""
    told = found_in(router(prefixes=(prefix(preferred_s=100, valid_s=50),)))
    assert told == [("ipv6-lifetimes-reversed", "home", "set-advertised-times")]


def test_routers_that_are_no_way_out():
    told = found_in(router(router_lifetime_s=0), held={"gateway": None})
    assert told == [("no-ipv6-router", "home", "mend-ipv6-router")]


def test_a_server_is_named_and_none_answers():
    told = found_in(router(managed=True))
    assert told == [("managed-without-server", "home", "start-ipv6-server")]
    assert found_in(router(managed=True), held={"origin": "dhcp"}) == []
    assert found_in(router(managed=True), server(addresses=(network(128),))) == []
    assert found_in(probe(router(managed=True), servers_asked=0)) == []


def test_without_a_probe_a_laptop_without_the_servers_address_is_worth_half():
    view = AdvertisedView(received=True, managed=True)
    found = judge(visit(lease(advertised_view=view))).diagnosis.findings
    assert [(f.code, f.confidence) for f in found] == [("managed-without-server", 0.5)]
    held = replace(view, prefixes=(HeldPrefix(network="2001:db8:1::20", prefix=128, valid_s=60.0),))
    assert judge(visit(lease(advertised_view=held))).diagnosis.findings == ()


def test_without_a_probe_two_routers_of_the_systems_table():
    ways = tuple(
        HeldRouter(address=f"fe80::{h[-2:]}", hardware_address=h) for h in (ROUTER, SECOND)
    )
    view = AdvertisedView(received=True, routers=ways)
    told = values_of("two-ipv6-routers", lease(), six(advertised_view=view))
    assert told["hardware_address"] == SECOND
    # One device may speak from two addresses of the link.
    same = AdvertisedView(
        received=True,
        routers=(ways[0], HeldRouter(address="fe80::9", hardware_address=ROUTER)),
    )
    assert judge(visit(lease(), six(advertised_view=same))).diagnosis.findings == ()


def test_a_server_that_has_no_address_left():
    """RFC 8415 §21.13: NoAddrsAvail is 2."""
    told = found_in(router(managed=True), server(address_status=2))
    assert told == [("ipv6-server-without-address", "home", "start-ipv6-server")]
    assert found_in(router(), server(address_status=2)) == []


NONE = {"origin": "none", "address": None, "gateway": None, "dns": (), "lease_s": None}


@pytest.mark.parametrize(
    "heard",
    [
        (router(dns=()),),
        (router(dns_lifetime_s=0),),  # RFC 8106 §5.1: no longer to be used
    ],
)
def test_ipv6_alone_needs_a_resolver(heard):
    told = found_in(*heard, four=lease(**NONE))
    assert ("ipv6-without-resolver", "home", "set-ipv6-resolver") in told
    assert "ipv6-without-resolver" not in {code for code, *_ in found_in(*heard)}
    named = found_in(*heard, server(kind="reply", dns=("2001:db8::53",)), four=lease(**NONE))
    assert "ipv6-without-resolver" not in {code for code, *_ in named}


def expecting(bits):
    line = settings().line.model_copy(update={"expected_delegation_bits": bits})
    return settings().model_copy(update={"line": line})


@pytest.mark.parametrize(
    ("heard", "expected", "missing"),
    [
        ((), 56, True),
        ((server(delegation_status=6),), 56, True),  # NoPrefixAvail
        ((server(delegated=(network(60),)),), 56, True),
        ((server(delegated=(network(56, valid_s=0),)),), 56, True),
        ((server(delegated=(network(56),)),), 56, False),
        ((server(delegated=(network(48),)),), 56, False),
        ((), None, False),
    ],
)
def test_the_prefix_that_the_service_delegates(heard, expected, missing):
    stated = {"rules": expecting(expected), "plugged_into": PluggedInto.MODEM}
    codes = {code for code, *_ in found_in(router(), *heard, **stated)}
    assert ("no-delegated-prefix" in codes) is missing
    behind = {**stated, "plugged_into": PluggedInto.ROUTER}
    assert "no-delegated-prefix" not in {c for c, *_ in found_in(router(), *heard, **behind)}


def offered(api):
    offer = Offer(
        after_ms=3.0,
        server_id="192.0.2.1",
        server_hardware_address=ROUTER,
        address="192.0.2.20",
        lease_s=3600,
        subnet_mask="255.255.255.0",
        routers=("192.0.2.1",),
        dns=("203.0.113.53",),
        captive_api=api,
    )
    return lease(probe=LeaseProbe(sent=1, listened_s=6.0, offers=(offer,)))


@pytest.mark.parametrize(
    ("four", "heard", "differ"),
    [
        (API, (router(captive_api=OTHER_API),), True),
        (API, (router(), server(captive_api=OTHER_API)), True),
        (None, (router(captive_api=API), server(captive_api=OTHER_API)), True),
        (API, (router(captive_api=API), server(captive_api=API)), False),
        (API, (router(),), False),
    ],
)
def test_all_that_hand_out_addresses_name_the_same_portal(four, heard, differ):
    """RFC 8910 §3: different URIs are a configuration error."""
    told = [code for code, *_ in found_in(*heard, four=offered(four))]
    assert told == (["portals-differ"] if differ else [])
