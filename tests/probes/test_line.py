"""Which port is the line under test."""

import pytest

from agent.errors import InterfaceDown, NoAddress, NoInterface
from agent.measurements import LinkFacts, Medium
from agent.ports.facts import DefaultWay, HeldAddress, Interface, ScriptedFacts
from agent.probes.line import binding_of, find_line


def port(name, medium=Medium.WIRED, *, up=True, metric=None, parent=None, addresses=()):
    link = LinkFacts(interface=name, up=up, medium=medium, parent=parent)
    ways = () if metric is None else (DefaultWay(family=4, gateway="192.0.2.1", metric=metric),)
    held = tuple(HeldAddress(address=a, prefix=24, family=6 if ":" in a else 4) for a in addresses)
    return Interface(link=link, ways=ways, addresses=held)


LO = port("lo", Medium.LOOPBACK)


@pytest.mark.parametrize(
    ("ports", "line"),
    [
        ([LO, port("eth1"), port("eth0", metric=100)], "eth0"),
        ([port("wlan0", Medium.WIRELESS, metric=600), port("eth0", metric=100)], "eth0"),
        ([port("eth0"), port("wlan0", Medium.WIRELESS, metric=600)], "wlan0"),
        ([port("tun0", Medium.TUNNEL, metric=50), port("eth0", metric=100)], "eth0"),
        ([port("tun0", Medium.TUNNEL, metric=50), port("eth0")], "eth0"),
        ([port("eth0"), port("ppp0", Medium.PPP, metric=0, parent="eth0")], "ppp0"),
        ([port("eth0"), port("eth0.7", metric=0, parent="eth0")], "eth0.7"),
        ([port("wlan0", Medium.WIRELESS, up=False), port("eth0", up=False)], "eth0"),
        ([port("eth0", up=False), port("wlan0", Medium.WIRELESS)], "wlan0"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_the_likely_line_is_found(ports, line):
    assert find_line(ScriptedFacts(ports=tuple(ports))).interface.name == line


def test_a_named_port_is_taken_whatever_it_is():
    facts = ScriptedFacts(ports=(LO, port("eth0", metric=1), port("eth1", up=False)))
    line = find_line(facts, "eth1")
    assert line.binding.interface == "eth1"
    with pytest.raises(InterfaceDown):
        line.require_address()


@pytest.mark.parametrize(
    ("ports", "wanted"), [((LO,), None), ((port("eth0"),), "eth9"), ((), None)]
)
def test_no_port_at_all(ports, wanted):
    with pytest.raises(NoInterface):
        find_line(ScriptedFacts(ports=ports), wanted)


@pytest.mark.parametrize(
    ("addresses", "ipv4", "ipv6"),
    [
        ((), None, None),
        (("fe80::1",), None, None),
        (("169.254.9.9", "192.0.2.30"), "192.0.2.30", None),
        (("169.254.9.9",), "169.254.9.9", None),
        (("192.0.2.30", "fe80::1", "2001:db8::30"), "192.0.2.30", "2001:db8::30"),
    ],
)
def test_sockets_are_tied_to_the_address_that_reaches_furthest(addresses, ipv4, ipv6):
    binding = binding_of(port("eth0", addresses=addresses))
    assert (binding.ipv4, binding.ipv6) == (ipv4, ipv6)


def test_unusable_addresses_are_passed_over():
    held = HeldAddress(address="192.0.2.30", prefix=24, family=4, usable=False)
    bare = Interface(link=port("eth0").link, addresses=(held,))
    assert binding_of(bare).ipv4 is None
    with pytest.raises(NoAddress):
        find_line(ScriptedFacts(ports=(bare,))).require_address()
