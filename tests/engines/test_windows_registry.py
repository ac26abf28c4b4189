"""Leases and ways on Windows over a scripted registry and call; never on a real system."""

import socket
import struct
import sys
from types import SimpleNamespace

import pytest

from agent.engines.windows_registry import (
    INTERFACES,
    SystemRegistry,
    WindowsTold,
    WindowsWays,
)

OBTAINED = 1_795_640_400
LEASED = {
    "EnableDHCP": 1,
    "DhcpIPAddress": "192.0.2.44",
    "DhcpServer": "192.0.2.1",
    "Lease": 3600,
    "LeaseObtainedTime": OBTAINED,
    "T1": OBTAINED + 1800,
    "LeaseTerminatesTime": OBTAINED + 3600,
    "DhcpDefaultGateway": ["192.0.2.1"],
    "DhcpNameServer": "198.51.100.53",
}
BY_HAND = {"EnableDHCP": 0, "IPAddress": ["203.0.113.30"], "DefaultGateway": ["203.0.113.1"]}
ROW = struct.Struct("<4s4sI4sII8I")
"""MIB_IPFORWARDROW; the sixth number is its type, 4 for a way over a gateway (from memory)."""


class ScriptedRegistry:
    def __init__(self, *keys):
        self.keys = keys

    def interfaces(self):
        return self.keys


class ScriptedCalls:
    def __init__(self, rows):
        self.rows = rows

    def best_route(self, address):
        return self.rows.get(address, b"")


def row(hop):
    return ROW.pack(bytes(4), bytes(4), 0, socket.inet_aton(hop), 14, 4, *(0,) * 8)


def test_a_lease_is_found_by_its_address():
    told = WindowsTold(ScriptedRegistry(BY_HAND, {}, LEASED))
    facts = told.lease("192.0.2.44")
    assert (facts.origin, facts.server_id, facts.gateway) == ("dhcp", "192.0.2.1", "192.0.2.1")
    assert (facts.lease_s, facts.t1_s, facts.t2_s) == (3600, 1800, None)
    # 2026-11-25 21:00:00 UTC is `date -u -d @1795640400`.
    assert (facts.obtained, facts.expires) == ("2026-11-25T21:00:00Z", "2026-11-25T22:00:00Z")
    assert facts.dns == ("198.51.100.53",)
    assert set(facts.sources.values()) == {"registry"}
    assert "t2_s" not in facts.sources
    by_hand = told.lease("203.0.113.30")
    assert (by_hand.origin, by_hand.gateway, by_hand.lease_s) == ("static", "203.0.113.1", None)
    assert told.lease("192.0.2.45") is None


def test_of_two_adapters_with_one_address_the_newer_lease_counts():
    old = {**LEASED, "LeaseObtainedTime": OBTAINED - 86_400, "DhcpServer": "192.0.2.254"}
    for keys in ((old, LEASED), (LEASED, old)):
        facts = WindowsTold(ScriptedRegistry(*keys)).lease("192.0.2.44")
        assert facts.server_id == "192.0.2.1"


def test_resolvers_and_gateway_are_those_of_the_interface():
    registry = ScriptedRegistry(BY_HAND, LEASED)
    assert WindowsTold(registry).resolvers(("2001:db8::4", "192.0.2.44")) == ("198.51.100.53",)
    ways = WindowsWays(ScriptedCalls({}), registry)
    assert ways.default_gateway("Ethernet", ("203.0.113.30",), 4) == "203.0.113.1"
    assert ways.default_gateway("Ethernet", ("203.0.113.30",), 6) is None
    assert ways.default_gateway("Ethernet", ("192.0.2.9",), 4) is None


def test_the_way_in_force_is_the_systems_own_word():
    ways = WindowsWays(ScriptedCalls({"198.51.100.10": row("192.0.2.1")}), ScriptedRegistry())
    found = ways.towards("198.51.100.10")
    assert (found.gateway, found.interface) == ("192.0.2.1", None)
    assert ways.towards("198.51.100.11") is None
    assert ways.towards("2001:db8::1") is None


class ScriptedKey:
    """A registry key as winreg hands it out: counted values and keys beneath it."""

    def __init__(self, values=(), keys=()):
        self.values, self.keys = tuple(values), dict(keys)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return None


def winreg(root):
    """Return a module with the documented calls of winreg over scripted keys."""

    def nth(items, place):
        if place >= len(items):
            raise OSError("no more data is available")
        return items[place]

    def opened(parent, name):
        beneath = root if parent == "machine" else parent.keys
        if name not in beneath:
            raise FileNotFoundError(name)
        return beneath[name]

    return SimpleNamespace(
        HKEY_LOCAL_MACHINE="machine",
        OpenKey=opened,
        EnumKey=lambda key, place: nth(list(key.keys), place),
        EnumValue=lambda key, place: (*nth(key.values, place), 1),
    )


@pytest.mark.parametrize("there", [True, False])
def test_every_key_of_the_registry_is_read_to_its_end(monkeypatch, there):
    first, second = ScriptedKey([("EnableDHCP", 1)]), ScriptedKey([("EnableDHCP", 0), ("Lease", 9)])
    parent = ScriptedKey(keys={"{a}": first, "{b}": second})
    monkeypatch.setitem(sys.modules, "winreg", winreg({INTERFACES: parent} if there else {}))
    expected = ({"EnableDHCP": 1}, {"EnableDHCP": 0, "Lease": 9}) if there else ()
    assert SystemRegistry().interfaces() == expected
