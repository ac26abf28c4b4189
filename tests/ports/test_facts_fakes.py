"""The scripted computer, and facts laid over another's."""

import pytest

from agent.errors import NoInterface, NoRoute, UsageError
from agent.measurements import LinkFacts, Medium
from agent.ports.facts import Counters, DefaultWay, Interface, Load, ScriptedFacts, Way
from agent.ports.injected import InjectedFacts

ETH = Interface(link=LinkFacts(interface="eth0", up=True, medium=Medium.WIRED, speed_bps=10**10))
AIR = Interface(link=LinkFacts(interface="wlan0", up=True, medium=Medium.WIRELESS))


def test_readings_come_in_turn_and_the_last_stays():
    first, last = (Counters(received_bytes=n, sent_bytes=n) for n in (1, 2))
    facts = ScriptedFacts(ports=(ETH,), counted=(first, last))
    assert [facts.counters("eth0") for _ in range(3)] == [first, last, last]


@pytest.mark.parametrize("ask", ["leases", "resolvers", "counters"])
def test_an_unknown_port_is_refused(ask):
    with pytest.raises(NoInterface):
        getattr(ScriptedFacts(ports=(ETH,)), ask)("eth9")


def test_ways():
    facts = ScriptedFacts(routes={"192.0.2.1": Way(interface="eth0")})
    assert facts.route("192.0.2.1").interface == "eth0"
    with pytest.raises(NoRoute):
        facts.route("192.0.2.2")


def test_the_gateway_is_that_of_the_lowest_metric():
    ways = [("192.0.2.9", 600), ("192.0.2.1", 100)]
    port = Interface(
        link=ETH.link, ways=tuple(DefaultWay(family=4, gateway=g, metric=m) for g, m in ways)
    )
    assert port.gateway(4) == "192.0.2.1"
    assert port.gateway(6) is None


def test_injected_facts_replace_and_are_marked():
    inner = ScriptedFacts(ports=(ETH, AIR), loads=(Load(busy_s=1.0, on_battery=False),))
    facts = InjectedFacts(
        inner, "eth0", {"speed_bps": 100_000_000, "medium": "wireless", "on_battery": True}
    )
    wired, air = facts.interfaces()
    assert (wired.link.speed_bps, wired.link.medium) == (100_000_000, Medium.WIRELESS)
    assert set(wired.link.injected) == {"speed_bps", "medium"}
    assert air == AIR
    assert facts.load() == Load(busy_s=1.0, on_battery=True, injected=("on_battery",))


def test_only_known_facts_can_be_injected():
    with pytest.raises(UsageError):
        InjectedFacts(ScriptedFacts(), "eth0", {"colour": "red"})
