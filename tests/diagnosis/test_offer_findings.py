"""What hands out addresses, as findings: each probe tells its own story.

Tone and content of the next steps: common practice of the trade, no source.
"""

from dataclasses import replace

import pytest
from visits import GATEWAY, RESOLVER, delay, gateway, judge, lease, settings, visit

from agent.measurements import (
    AddressUse,
    Concentrator,
    LeaseProbe,
    Nak,
    Offer,
    PppoeProbe,
    Role,
)
from agent.settings.model import Handover, PluggedInto

ROUTER, ROGUE, OTHER = "02:00:5e:10:00:01", "02:00:5e:10:00:66", "02:00:5e:10:00:77"
NONE = {"origin": "none", "address": None, "gateway": None, "dns": (), "lease_s": None}


def offer(**changes):
    fields = {
        "after_ms": 3.0,
        "server_id": GATEWAY,
        "server_hardware_address": ROUTER,
        "address": "192.0.2.20",
        "lease_s": 3600,
        "t1_s": 1800,
        "t2_s": 3150,
        "subnet_mask": "255.255.255.0",
        "routers": (GATEWAY,),
        "dns": (RESOLVER,),
    }
    return Offer(**{**fields, **changes})


def probe(*offers, **more):
    fields = {"sent": 1 if offers else 2, "listened_s": 6.0, "offers": offers}
    return LeaseProbe(**{**fields, **more})


def nak(to_system, server=GATEWAY):
    return Nak(
        after_ms=4510.0, server_id=server, server_hardware_address=ROUTER, to_system=to_system
    )


def codes(found):
    return [f.code for f in found.diagnosis.findings]


def found_in(probe, *, held=None, **stated):
    found = judge(visit(lease(probe=probe, **(held or {}))), **stated)
    return [(f.code, f.segment.value, f.next_step) for f in found.diagnosis.findings]


def first(*args, **stated):
    return found_in(*args, **stated)[0]


def test_a_sound_offer_is_no_finding():
    assert found_in(probe(offer(), probed=("192.0.2.20",))) == []


@pytest.mark.parametrize(
    ("heard", "expected"),
    [
        (probe(presence_asked=True, naks=(nak(False),)), ("pool-exhausted", "widen-address-pool")),
        (probe(overheard=(GATEWAY,)), ("pool-exhausted", "widen-address-pool")),
        (probe(naks=(nak(True), nak(False))), ("lease-refused", "clear-refused-lease")),
        (probe(offer(), naks=(nak(True),)), ("lease-refused", "clear-refused-lease")),
        (probe(offer()), ("lease-not-taken", "ask-for-address-again")),
        (probe(presence_asked=True), ("no-lease", "restart-router")),
    ],
)
def test_why_there_is_no_address(heard, expected):
    told = found_in(heard, held=NONE)
    assert (told[0][0], told[0][2]) == expected
    assert {"no-lease", "lease-not-taken"} & {code for code, *_ in told[1:]} == set()


def test_an_address_of_another_family_leaves_the_empty_pool_a_finding():
    six = replace(lease(family=6, origin="kernel", address="2001:db8::20"), id="lease-6")
    four = lease(probe=probe(naks=(nak(False),)), **NONE)
    assert codes(judge(visit(four, six))) == ["pool-exhausted"]


def test_no_server_is_missed_where_none_is_expected():
    heard = probe(presence_asked=True)
    static = found_in(heard, held={"origin": "static"}, handover=Handover.STATIC)
    assert static == []
    ipv6_only = found_in(probe(offer(address="0.0.0.0", ipv6_only_s=1800)), held=NONE)
    assert "lease-not-taken" not in [code for code, *_ in ipv6_only]


def test_the_gateways_own_server_is_the_wanted_one():
    second = offer(server_id="192.0.2.66", server_hardware_address=ROGUE, routers=("192.0.2.66",))
    conclusion = judge(visit(lease(probe=probe(second, offer()))))
    (finding,) = conclusion.diagnosis.findings
    assert (finding.code, finding.segment, finding.next_step) == (
        "two-dhcp-servers",
        "home",
        "find-second-dhcp-server",
    )
    assert (finding.values["server"], finding.values["hardware_address"]) == ("192.0.2.66", ROGUE)
    assert (finding.values["servers"], finding.values["gateway"]) == (2, GATEWAY)
    assert finding.evidence == ("lease-local",)


def test_a_second_server_without_a_router_behind_it_comes_over_the_line():
    second = offer(server_id="192.0.2.66", server_hardware_address=ROGUE)
    heard = probe(offer(), second)
    assert first(heard, plugged_into=PluggedInto.ONT)[:2] == ("two-dhcp-servers", "access")


def test_what_a_second_server_gives_wrong_is_not_charged_to_the_gateway():
    second = offer(server_id="192.0.2.66", server_hardware_address=ROGUE, dns=(), routers=())
    assert [code for code, *_ in found_in(probe(offer(), second))] == ["two-dhcp-servers"]


@pytest.mark.parametrize(
    ("changes", "code", "step"),
    [
        ({"routers": ()}, "offer-without-router", "set-router-option"),
        ({"dns": ()}, "offer-without-dns", "set-dns-option"),
        ({"subnet_mask": "255.255.255.252"}, "mask-misfits-router", "set-mask-option"),
        ({"lease_s": 0}, "lease-time-zero", "set-lease-times"),
        ({"t1_s": 3150, "t2_s": 1800}, "timers-out-of-order", "set-lease-times"),
    ],
)
def test_an_offer_that_is_wrong(changes, code, step):
    assert found_in(probe(offer(**changes))) == [(code, "home", step)]
    direct = first(probe(offer(**changes)), plugged_into=PluggedInto.MODEM)
    assert direct == (code, "operator", "refer-to-operator")


@pytest.mark.parametrize(
    ("server", "place"),
    [
        (GATEWAY, ("operator", "refer-to-operator")),
        ("192.168.0.1", ("modem", "widen-address-pool")),
        (None, ("modem", "widen-address-pool")),
    ],
)
def test_an_empty_pool_at_the_modem_is_whose_server_says_so(server, place):
    """RFC 1918: no operator's server has a private address."""
    heard = probe(presence_asked=True, naks=(nak(False, server),))
    direct = first(heard, held=NONE, plugged_into=PluggedInto.MODEM)
    assert direct == ("pool-exhausted", *place)
    assert first(heard, held=NONE)[1] == "home"


@pytest.mark.parametrize(
    ("held", "code"),
    [
        ({"leased_dns": (), "dns": ()}, "offer-without-dns"),
        ({"leased_routers": (), "gateway": None}, "offer-without-router"),
        ({"t1_s": 3150, "t2_s": 1800}, "timers-out-of-order"),
    ],
)
def test_without_the_right_to_probe_the_lease_held_tells(held, code):
    assert found_in(None, held=held)[0][0] == code


def test_a_sound_offer_outweighs_what_the_system_tells():
    assert found_in(probe(offer()), held={"t1_s": 3150, "t2_s": 1800}) == []


@pytest.mark.parametrize("held", [True, False])
def test_an_address_that_another_device_uses(held):
    use = AddressUse(address="192.0.2.20", hardware_address=OTHER, after_ms=8.0, held=held)
    (told,) = judge(visit(lease(probe=probe(offer(), in_use=(use,))))).diagnosis.findings
    code = "address-in-use" if held else "offered-address-in-use"
    assert (told.code, told.segment, told.next_step) == (code, "home", "find-address-user")
    assert told.values == {"address": "192.0.2.20", "hardware_address": OTHER}


def test_a_server_that_is_gone_is_no_more_than_possible():
    (told,) = judge(visit(lease(probe=probe(), server_id=GATEWAY))).diagnosis.findings
    assert (told.code, told.confidence < 0.75) == ("lease-server-silent", True)
    dead = visit(lease(probe=probe(), server_id=GATEWAY), gateway(up=200))
    assert "lease-server-silent" not in codes(judge(dead))


def rules(**line):
    found = settings()
    return found.model_copy(update={"line": found.line.model_copy(update=line)})


def test_an_address_of_another_pool():
    expected = rules(expected_pools=("203.0.113.0/24",))
    assert first(None, rules=expected) == ("address-of-another-pool", "access", "check-drop")
    assert found_in(None, rules=rules(expected_pools=("192.0.2.0/24",))) == []
    other = offer(address="198.51.100.9", routers=(), subnet_mask=None)
    seen = found_in(probe(other), held=NONE, rules=rules(expected_pools=("192.0.2.0/24",)))
    assert "address-of-another-pool" in [code for code, *_ in seen]


def test_a_homes_own_private_addresses_are_of_no_pool():
    own = {"address": "192.168.1.20", "gateway": "192.168.1.1"}
    expected = rules(expected_pools=("100.64.0.0/10",))
    gate = delay(Role.GATEWAY, "192.168.1.1", rtt_ms=0.3)

    def told(found, **stated):
        return "address-of-another-pool" in codes(judge(found, rules=expected, **stated))

    assert not told(visit(lease(**own), gate), plugged_into=PluggedInto.ROUTER)
    assert told(visit(lease(**own), gate), plugged_into=PluggedInto.ONT)
    static = {**own, "origin": "static"}
    assert not told(visit(lease(**static), gate), plugged_into=PluggedInto.ONT)
    of_modem = visit(lease(**own), gate, delay(Role.MODEM, "192.168.1.1", rtt_ms=0.3))
    assert not told(of_modem, plugged_into=PluggedInto.MODEM)


def test_a_server_where_none_is_expected():
    expected = rules(expected_dhcp_servers=("203.0.113.7/32",))
    assert first(probe(offer()), rules=expected) == (
        "unexpected-dhcp-server",
        "access",
        "check-drop",
    )
    assert first(None, held={"server_id": GATEWAY}, rules=expected)[0] == "unexpected-dhcp-server"
    sound = rules(expected_dhcp_servers=(f"{GATEWAY}/32",))
    assert found_in(probe(offer()), rules=sound) == []


def padi(*concentrators):
    return PppoeProbe(sent=2, listened_s=3.0, concentrators=concentrators)


@pytest.mark.parametrize(
    ("heard", "expected"),
    [
        (None, ("pppoe-no-session", "undetermined", "start-pppoe-session")),
        (
            padi(Concentrator(after_ms=5.0, hardware_address=OTHER, name="ternbay-ac1")),
            ("pppoe-not-started", "laptop", "start-pppoe-session"),
        ),
        (padi(), ("pppoe-silent", "access", "check-sync-and-tag")),
    ],
)
def test_a_pppoe_handover_without_a_session(heard, expected):
    made_up = {**NONE, "origin": "self-assigned", "address": "169.254.3.4"}
    for held in (NONE, made_up):
        bare = lease(**held, pppoe=heard, probe_reason="pppoe-handover")
        found = judge(visit(bare), handover=Handover.PPPOE).diagnosis.findings
        assert [(f.code, f.segment, f.next_step) for f in found] == [expected]


def test_a_session_needs_no_concentrator():
    up = lease(origin="ppp", address="198.51.100.77", pppoe=padi())
    assert judge(visit(up), handover=Handover.PPPOE).diagnosis.findings == ()
