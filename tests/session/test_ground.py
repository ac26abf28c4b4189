"""Which port is under test, and what hangs on it."""

import pytest

from agent.errors import InterfaceDown, NoAddress, NoInterface
from agent.measurements import LinkFacts, Medium
from agent.ports.facts import DefaultWay, HeldAddress, Interface, ScriptedFacts
from agent.session.ground import stand_on


def port(name, *, up=True, medium=Medium.WIRED, way=None, metric=0, addresses=()):
    """Return an interface; `way` is its default gateway."""
    ways = () if way is None else (DefaultWay(family=4, gateway=way, metric=metric),)
    held = tuple(HeldAddress(address=a, prefix=24, family=6 if ":" in a else 4) for a in addresses)
    link = LinkFacts(interface=name, up=up, medium=medium)
    return Interface(link=link, addresses=held, ways=ways)


LOOPBACK = port("lo", medium=Medium.LOOPBACK, addresses=("127.0.0.1",))
WIRED = port("eth0", way="192.168.1.1", metric=100, addresses=("192.168.1.20",))
RADIO = port("wlan0", medium=Medium.WIRELESS, way="192.168.2.1", metric=600)
EMPTY = port("eth1", up=False)


def test_the_port_with_the_way_out_is_stood_on():
    facts = ScriptedFacts(ports=(LOOPBACK, EMPTY, RADIO, WIRED), named={"eth0": ("203.0.113.53",)})
    ground = stand_on(facts, None)
    assert ground.interface.name == "eth0"
    assert ground.gateway == "192.168.1.1"
    assert ground.resolvers == ("203.0.113.53",)


def test_a_port_that_is_not_there_is_named():
    with pytest.raises(NoInterface, match="eth9"):
        stand_on(ScriptedFacts(ports=(LOOPBACK, WIRED)), "eth9")


def test_a_port_without_link_is_stood_on_but_carries_nothing():
    ground = stand_on(ScriptedFacts(ports=(LOOPBACK, EMPTY)), None)
    with pytest.raises(InterfaceDown, match="eth1"):
        ground.require_address()


@pytest.mark.parametrize(
    ("addresses", "ipv4"),
    [
        (("192.168.1.20",), "192.168.1.20"),
        (("169.254.7.7",), None),
        (("169.254.7.7", "192.0.2.3"), "192.0.2.3"),
        (("fe80::1",), None),
        ((), None),
    ],
)
def test_self_assigned_addresses_carry_no_measurement(addresses, ipv4):
    """RFC 3927 §7: a 169.254 source is never forwarded; RFC 4291 §2.5.6 likewise for fe80."""
    facts = ScriptedFacts(ports=(port("eth0", addresses=addresses),))
    ground = stand_on(facts, "eth0")
    assert ground.binding.ipv4 == ipv4
    if ipv4 is None:
        with pytest.raises(NoAddress):
            ground.require_address()
