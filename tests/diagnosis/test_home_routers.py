"""Who translates addresses on the way, told by what the server saw and what the walk met.

Ranges: RFC 1918 §3 (private), RFC 6598 §7 (shared), RFC 6333 §5.7 (DS-Lite).
"""

import pytest
from visits import EDGE, SERVER, delay, judge, lease, path, settings, visit

from agent.diagnosis.model import Segment, Translation
from agent.measurements import Role
from agent.settings.model import PluggedInto
from agent.sheet.wording import SENTENCE, finding_sentence

SEEN = "203.0.113.77"
"""RFC 5737 §3; the line's address from outside."""

CORE = "203.0.113.1"


def at_home(*hops, own="192.168.1.20", seen=SEEN, network=(), into=PluggedInto.ROUTER):
    """Return the diagnosis of a home whose walk met the given hops."""
    inside = "192.168.1.1"
    parts = (
        lease(address=own, gateway=inside),
        delay(Role.GATEWAY, inside, rtt_ms=0.3),
        path(*hops),
    )
    rules = settings()
    line = rules.line.model_copy(update={"network_prefixes": network})
    rules = rules.model_copy(update={"line": line})
    return judge(visit(*parts), rules=rules, seen_address=seen, plugged_into=into).diagnosis


def advice(found):
    return {f.code: f for f in found.findings if f.segment is Segment.NONE}


def test_one_router_translates_and_is_no_finding():
    found = at_home("192.168.1.1", EDGE, "198.51.100.9")
    assert found.translation == Translation(translated=True, home_routers=1)
    assert "second-router" not in advice(found)


def test_a_private_hop_past_the_gateway_is_a_second_router():
    found = at_home("192.168.1.1", "192.168.0.1", EDGE, "198.51.100.9")
    assert found.translation.home_routers == 2
    told = advice(found)["second-router"]
    assert (told.values, told.next_step) == ({"routers": 2}, "let-one-router-bridge")
    assert told.evidence


def test_the_operators_own_private_hops_are_no_second_router():
    """The settings say whose they are."""
    hops = ("192.168.1.1", "10.20.0.1", EDGE, "198.51.100.9")
    assert "second-router" in advice(at_home(*hops))
    assert "second-router" not in advice(at_home(*hops, network=("10.0.0.0/8",)))


@pytest.mark.parametrize("own", ["100.64.0.9", "100.127.255.254", "192.0.0.2"])
def test_an_address_of_the_shared_range_is_shared(own):
    found = at_home(EDGE, "198.51.100.9", own=own, into=PluggedInto.MODEM)
    assert found.translation.shared
    assert advice(found)["shared-address"].values == {"address": own}


@pytest.mark.parametrize("own", ["100.63.255.255", "100.128.0.0", "192.0.0.8", "192.168.1.20"])
def test_its_neighbours_are_not(own):
    found = at_home(EDGE, "198.51.100.9", own=own, into=PluggedInto.MODEM)
    assert not found.translation.shared
    assert "shared-address" not in advice(found)


def test_an_address_that_the_server_sees_unchanged_is_not_translated():
    found = at_home("192.168.1.1", EDGE, own=SEEN)
    assert not found.translation.translated


@pytest.mark.parametrize("seen", [None, "2001:db8::7"])
def test_without_the_servers_view_over_ipv4_nothing_is_inferred(seen):
    assert at_home("192.168.1.1", EDGE, seen=seen).translation is None


def carrier(*hops, own="192.168.1.20"):
    return advice(at_home(*hops, own=own)).get("carrier-translation")


@pytest.mark.parametrize("hop", ["100.64.0.1", "100.127.255.254", "192.0.0.1"])
def test_a_first_hop_of_a_range_for_translation_is_a_sign_of_it(hop):
    told = carrier("192.168.1.1", hop, CORE, SERVER)
    assert (told.segment, told.values["hop"]) == (Segment.NONE, hop)
    assert len(finding_sentence(told.code, told.values)) <= SENTENCE


@pytest.mark.parametrize("hop", ["100.63.255.255", "100.128.0.1", "192.0.0.8", EDGE])
def test_its_neighbours_are_none(hop):
    assert carrier("192.168.1.1", hop, CORE, SERVER) is None


def test_a_shared_address_further_on_is_how_operators_number_links():
    assert carrier("192.168.1.1", EDGE, "100.64.0.1", SERVER) is None


def test_nobody_translates_an_address_that_the_server_sees_unchanged():
    assert carrier("192.168.1.1", "100.64.0.1", SERVER, own=SEEN) is None
