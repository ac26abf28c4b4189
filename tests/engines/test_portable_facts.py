"""Facts through psutil: scripted as macOS and Windows are documented, and really on loopback.

The rows are psutil's documented named tuples. No test here ran on a real macOS or Windows.
"""

import socket
import sys
from datetime import UTC, datetime
from typing import Any, ClassVar, NamedTuple

import pytest

from agent.clock import ManualClock
from agent.engines import macos_told
from agent.engines.macos_told import MacTold
from agent.engines.portable_facts import FoundWay, PortableFacts, own_source
from agent.engines.portable_links import mac_medium
from agent.errors import NoInterface, NoRoute
from agent.measurements import LeaseFacts, Medium


class Address(NamedTuple):
    family: int
    address: str
    netmask: str | None


class Stats(NamedTuple):
    isup: bool
    duplex: int
    speed: int
    mtu: int


class Counted(NamedTuple):
    bytes_sent: int
    bytes_recv: int
    errin: int
    errout: int


LINK_LAYER = -1
"""psutil.AF_LINK on Windows; any number that is no IP family serves."""

MASK_24 = "255.255.255.0"


class ScriptedTell:
    """An "en0" with both families, a tunnel, and loopback, as psutil tells of them."""

    addresses: ClassVar[dict[str, list[Any]]] = {
        "lo0": [Address(socket.AF_INET, "127.0.0.1", "255.0.0.0")],
        "en0": [
            Address(LINK_LAYER, "02-00-00-00-00-2A", None),
            Address(socket.AF_INET, "192.0.2.44", MASK_24),
            Address(socket.AF_INET6, "fe80::44%en0", "ffff:ffff:ffff:ffff::"),
            Address(socket.AF_INET6, "2001:db8::44", None),
        ],
        "en5": [Address(socket.AF_INET, "169.254.7.9", "255.255.0.0")],
        "utun3": [Address(socket.AF_INET, "100.64.0.2", "255.255.255.255")],
        "ppp0": [Address(socket.AF_INET, "203.0.113.77", "255.255.255.255")],
    }

    def net_if_addrs(self):
        return self.addresses

    def net_if_stats(self):
        told = {"en0": Stats(True, 2, 1000, 1500), "utun3": Stats(True, 0, 4294, 1380)}
        return {name: told.get(name, Stats(False, 1, 0, 0)) for name in (*self.addresses, "en9")}

    def net_io_counters(self, *, pernic):
        assert pernic
        return {"en0": Counted(bytes_sent=5, bytes_recv=7, errin=1, errout=2)}


class ScriptedWays:
    def __init__(self, default=None, towards=None):
        self.default, self.way = default or {}, towards

    def towards(self, address):
        return self.way

    def default_gateway(self, interface, addresses, family):
        return self.default.get((interface, family))


class ScriptedTold:
    def __init__(self, leases=(), resolvers=()):
        self.leases = {one.address: one for one in leases}
        self.named = resolvers

    def lease(self, address, interface):
        return self.leases.get(address)

    def resolvers(self, addresses):
        assert addresses
        return self.named


def facts(ways=None, told=None, **parts):
    return PortableFacts(
        "macOS",
        ways or ScriptedWays(),
        told or ScriptedTold(),
        tell=ScriptedTell(),
        **{"medium": mac_medium, "source": lambda address: "192.0.2.44", **parts},
    )


def port(name, **parts):
    return next(one for one in facts(**parts).interfaces() if one.name == name)


def test_an_interface_is_told_with_its_addresses_and_default_ways():
    found = port("en0", ways=ScriptedWays({("en0", 4): "192.0.2.1"}))
    link = found.link
    assert (link.up, link.medium, link.speed_bps, link.duplex) == (
        True,
        Medium.UNKNOWN,
        10**9,
        "full",
    )
    assert (link.mtu_bytes, link.hardware_address) == (1500, "02:00:00:00:00:2a")
    assert (link.receive_errors, link.transmit_errors) == (1, 2)
    assert [(a.address, a.prefix, a.family) for a in found.addresses] == [
        ("192.0.2.44", 24, 4),
        ("fe80::44", 64, 6),
        ("2001:db8::44", None, 6),
    ]
    assert (found.gateway(4), found.gateway(6)) == ("192.0.2.1", None)


def test_what_psutil_makes_up_is_not_told():
    # From psutil's sources: 0 is "unknown speed", 4294 a number of 32 bits that is full.
    assert port("utun3").link.speed_bps is None
    assert port("en5").link.speed_bps is None
    assert (port("en5").link.duplex, port("en5", duplex_told=False).link.duplex) == ("half", None)
    assert port("en5").link.mtu_bytes is None
    assert port("en9").addresses == ()


@pytest.mark.parametrize(
    ("name", "medium"),
    [
        ("lo0", Medium.LOOPBACK),
        ("utun3", Medium.TUNNEL),
        ("ppp0", Medium.PPP),
        ("en5", Medium.UNKNOWN),
    ],
)
def test_media_are_told_by_name_where_the_name_stands_for_one(name, medium):
    assert port(name).link.medium is medium


def test_loopback_is_known_by_its_address_where_names_tell_nothing():
    assert port("lo0", medium=lambda name: Medium.UNKNOWN).link.medium is Medium.LOOPBACK


def test_a_way_is_named_by_the_table_or_by_the_holder_of_the_own_address():
    named = facts(ScriptedWays(towards=FoundWay(gateway="192.0.2.1", interface="utun3")))
    way = named.route("198.51.100.10")
    assert (way.interface, way.gateway, way.source) == ("utun3", "192.0.2.1", "192.0.2.44")
    held = facts(ScriptedWays(towards=FoundWay(gateway="192.0.2.1"))).route("198.51.100.10")
    assert (held.interface, held.gateway) == ("en0", "192.0.2.1")
    untold = facts().route("198.51.100.10")
    assert (untold.interface, untold.gateway) == ("en0", None)


def test_an_address_out_of_reach_is_no_route():
    def unreachable(address):
        raise OSError(51, "network is unreachable")

    with pytest.raises(NoRoute):
        facts(source=unreachable).route("198.51.100.10")


def test_an_address_of_unknown_origin_says_so_and_keeps_what_is_known():
    ways = ScriptedWays({("en0", 4): "192.0.2.1"})
    told = ScriptedTold(resolvers=("127.0.0.1", "198.51.100.53", "2001:db8::53", "nonsense"))
    four, six = facts(ways, told).leases("en0")
    assert (four.origin, four.address, four.prefix) == ("unknown", "192.0.2.44", 24)
    assert (four.gateway, four.dns) == ("192.0.2.1", ("198.51.100.53",))
    assert (four.lease_s, four.t1_s, four.server_id, four.expires) == (None, None, None, None)
    assert (six.origin, six.address, six.prefix, six.gateway) == (
        "unknown",
        "2001:db8::44",
        None,
        None,
    )
    assert six.dns == ("2001:db8::53",)


def test_a_lease_that_the_system_keeps_is_told_whole():
    kept = LeaseFacts(family=4, origin="dhcp", address="192.0.2.44", lease_s=3600)
    four, _ = facts(told=ScriptedTold([kept])).leases("en0")
    assert (four.origin, four.lease_s, four.prefix) == ("dhcp", 3600, 24)


def test_an_address_that_the_laptop_gave_itself_is_no_lease_of_anybody():
    # RFC 3927 §2.1: 169.254/16.
    kept = LeaseFacts(family=4, origin="dhcp", address="169.254.7.9")
    for told in (ScriptedTold(), ScriptedTold([kept])):
        (only,) = facts(told=told).leases("en5")
        assert (only.origin, only.prefix) == ("self-assigned", 16)
    (ppp,) = facts().leases("ppp0")
    assert ppp.origin == "ppp"


def test_a_port_without_address_has_none():
    (only,) = facts().leases("en9")
    assert (only.family, only.origin, only.address) == (4, "none", None)


def test_counters_are_those_of_the_port():
    counted = facts().counters("en0")
    assert (counted.received_bytes, counted.sent_bytes) == (7, 5)
    for asked in (facts().counters, facts().leases, facts().resolvers):
        with pytest.raises(NoInterface):
            asked("en77")


def test_the_load_names_the_untried_system():
    load = facts().load()
    assert load.unverified_system == "macOS"
    assert 0 < load.busy_s < load.total_s
    assert load.virtual_machine is None


def test_resolvers_on_macos_are_read_from_the_file_of_old(tmp_path):
    (tmp_path / "etc").mkdir()
    (tmp_path / "etc/resolv.conf").write_text("domain example\nnameserver 198.51.100.53\n")
    assert MacTold(tmp_path).resolvers(("192.0.2.44",)) == ("198.51.100.53",)
    assert MacTold(tmp_path / "none").resolvers(("192.0.2.44",)) == ()


PRINTED = """yiaddr = 192.0.2.44
server_identifier (ip): 192.0.2.1
lease_time (uint32): 0xe10
router (ip_mult): {192.0.2.1}
domain_name_server (ip_mult): {}
"""
"""As ipconfig(8) prints a message (from memory)."""


@pytest.mark.parametrize("interface", ["en0", "en1"])
def test_the_lease_that_macos_prints_is_taken_for_the_address_held(interface):
    told = MacTold(packet={"en0": PRINTED, "en1": ""}.get)
    found = told.lease("192.0.2.44", interface)
    if interface == "en1":
        assert found is None
        return
    assert (found.origin, found.server_id, found.lease_s) == ("dhcp", "192.0.2.1", 3600)
    assert (found.leased_routers, found.leased_dns, found.dns) == (("192.0.2.1",), (), ())
    assert found.sources["server_id"] == found.sources["origin"] == "ipconfig"
    assert told.lease("192.0.2.45", interface) is None


def test_where_nothing_prints_leases_none_is_told(monkeypatch, tmp_path):
    monkeypatch.setattr(macos_told, "PROGRAM", str(tmp_path / "ipconfig"))
    assert macos_told.printed_packet("en0") == ""
    program = tmp_path / "ipconfig"
    program.write_text("#!/bin/sh\necho yiaddr = 192.0.2.44 of $2\n")
    program.chmod(0o755)
    assert macos_told.printed_packet("en0") == "yiaddr = 192.0.2.44 of en0\n"


@pytest.mark.parametrize(
    ("expires", "state", "left_s", "expired_s"),
    [
        ("2026-03-02T10:00:00Z", None, 3600.0, None),
        ("2026-03-02T08:30:00Z", "expired", None, 1800.0),
    ],
)
def test_a_lease_ages_on_every_system(expires, state, left_s, expired_s):
    kept = LeaseFacts(family=4, origin="dhcp", address="192.0.2.44", expires=expires)
    now = datetime(2026, 3, 2, 9, tzinfo=UTC)
    four, _ = facts(told=ScriptedTold([kept]), clock=ManualClock(start=now)).leases("en0")
    assert (four.state, four.left_s, four.expired_s) == (state, left_s, expired_s)


@pytest.mark.skipif(sys.platform == "win32", reason="loopback has another name there")
def test_the_real_psutil_and_a_real_socket_tell_of_loopback():
    real = PortableFacts("this", ScriptedWays(), ScriptedTold())
    way = real.route("127.0.0.1")
    name = way.interface
    assert (way.source, own_source("127.0.0.1")) == ("127.0.0.1", "127.0.0.1")
    found = next(one for one in real.interfaces() if one.name == name)
    assert found.link.medium is Medium.LOOPBACK
    assert found.index == socket.if_nametoindex(name)
    assert ("127.0.0.1", 8) in [(one.address, one.prefix) for one in found.addresses]
    before = real.counters(name)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind(("127.0.0.1", 0))
        sock.sendto(bytes(500), sock.getsockname())
        sock.recv(1000)
    assert real.counters(name).sent_bytes >= before.sent_bytes + 500
