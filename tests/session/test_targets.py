"""Whom the delay series go to."""

import pytest

from agent.measurements import Hop, LinkFacts, Medium, PathStatistics, RoundTrip
from agent.ports.facts import DefaultWay, HeldAddress, Interface, ScriptedFacts
from agent.session.ground import stand_on
from agent.session.targets import card_url, first_hop, host_of, server_host, surroundings
from agent.settings.model import Line, PluggedInto, Server


def path(*addresses):
    """Return a path with one answering address per hop, None for a silent hop."""
    hops = tuple(
        Hop(
            distance=distance,
            sent=3,
            answered=0 if address is None else 3,
            addresses=() if address is None else (address,),
            rtt_ms=RoundTrip(count=0),
        )
        for distance, address in enumerate(addresses, start=1)
    )
    return PathStatistics(hops=hops, reached=True)


def ground(gateway, *addresses, medium=Medium.WIRED):
    """Return a port with addresses and a default gateway."""
    port = Interface(
        link=LinkFacts(interface="eth0", up=True, medium=medium),
        addresses=tuple(HeldAddress(address=a, prefix=24, family=4) for a in addresses),
        ways=(DefaultWay(family=4, gateway=gateway, metric=0),),
    )
    return stand_on(ScriptedFacts(ports=(port,)), "eth0")


@pytest.mark.parametrize(
    ("addresses", "plugged_into", "expected"),
    [
        (("192.168.1.1", "203.0.113.1", "198.51.100.2"), PluggedInto.ROUTER, "203.0.113.1"),
        (("192.168.1.1", None, "198.51.100.2"), PluggedInto.ROUTER, "198.51.100.2"),
        (("192.168.1.1", "100.64.0.1", "198.51.100.2"), PluggedInto.ROUTER, "100.64.0.1"),
        (("192.168.1.1", "10.0.0.1", "203.0.113.1"), PluggedInto.MESH, "203.0.113.1"),
        (("192.168.1.1", "172.20.0.1", "203.0.113.1"), PluggedInto.UNKNOWN, "203.0.113.1"),
        (("192.168.1.1", "192.168.100.1", "203.0.113.1"), PluggedInto.ROUTER, "203.0.113.1"),
        (("192.168.1.1", "203.0.113.1"), PluggedInto.MODEM, "203.0.113.1"),
        (("192.168.1.1", "198.51.100.9"), PluggedInto.ROUTER, None),
        (("192.168.1.1", None, None), PluggedInto.ROUTER, None),
        ((), PluggedInto.ROUTER, None),
    ],
)
def test_the_first_hop_is_the_first_router_past_the_modem(addresses, plugged_into, expected):
    """RFC 1918 §3 blocks are a home's; RFC 6598 shared addresses are the operator's."""
    line = Line(modem_address="192.168.100.1")
    here = ground("192.168.1.1", "192.168.1.20")
    around = surroundings(here, plugged_into, line, server="198.51.100.9", seen="203.0.113.77")
    assert first_hop(path(*addresses), around) == expected


@pytest.mark.parametrize(
    ("gateway", "medium", "plugged_into"),
    [
        ("203.0.113.1", Medium.WIRED, PluggedInto.MODEM),
        ("203.0.113.1", Medium.WIRED, PluggedInto.ONT),
        ("10.255.0.1", Medium.PPP, PluggedInto.MODEM),
        ("10.255.0.1", Medium.PPP, PluggedInto.ROUTER),
    ],
)
def test_a_gateway_past_the_modem_is_itself_the_first_hop(gateway, medium, plugged_into):
    """Behind a bridging modem or at the end of a PPPoE session it has the gateway's own series."""
    here = ground(gateway, "203.0.113.77", medium=medium)
    around = surroundings(here, plugged_into, Line(), server="192.0.2.9", seen="203.0.113.77")
    assert first_hop(path(gateway, "198.51.100.2", "192.0.2.9"), around) is None
    assert first_hop(path(None, "198.51.100.2", "192.0.2.9"), around) == "198.51.100.2"


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ("http://192.0.2.1:8642", "http://192.0.2.1:8642/card"),
        ("http://192.0.2.1:8642/", "http://192.0.2.1:8642/card"),
        ("https://test.ternbay.example/line/card", "https://test.ternbay.example/line/card"),
    ],
)
def test_a_bare_server_url_gets_the_cards_path(given, expected):
    assert card_url(given) == expected


def test_the_servers_host_is_found_however_it_was_configured():
    plain = Server(download="http://192.0.2.7/file", upload="http://192.0.2.8/up/")
    assert server_host("https://[2001:db8::1]:8642/card", plain) == "2001:db8::1"
    assert server_host(None, plain) == "192.0.2.7"
    assert server_host(None, Server()) is None
    assert host_of("nonsense") == ""
