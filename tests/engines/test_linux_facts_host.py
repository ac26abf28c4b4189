"""The facts port on this very computer, against psutil, and over hand-made files."""

import socket

import psutil
import pytest

from agent.clock import ManualClock
from agent.engines.linux_facts import LinuxFacts
from agent.engines.linux_netlink import route_to
from agent.errors import NoInterface
from agent.helper.port import own_address
from agent.measurements import Medium

LOOPBACK = "lo"


@pytest.fixture
def facts(tmp_path):
    return LinuxFacts(tmp_path, ManualClock())


def port(facts, name):
    return next(p for p in facts.interfaces() if p.name == name)


def test_ports_and_addresses_are_those_that_psutil_sees(facts):
    ports = {p.name: p for p in facts.interfaces()}
    theirs = psutil.net_if_addrs()
    assert set(ports) == set(psutil.net_if_stats())
    for name, entries in theirs.items():
        wanted = {e.address.partition("%")[0] for e in entries if e.family != psutil.AF_LINK}
        assert {a.address for a in ports[name].addresses} == wanted
        assert ports[name].link.mtu_bytes == psutil.net_if_stats()[name].mtu


def test_loopback_is_no_line(facts):
    link = port(facts, LOOPBACK).link
    assert (link.medium, link.up, link.speed_bps) == (Medium.LOOPBACK, True, None)
    assert facts.route("127.0.0.1").interface == LOOPBACK
    assert facts.route("127.0.0.1").source == "127.0.0.1"
    assert route_to("127.0.0.1").gateway is None


@pytest.mark.loopback
def test_counters_count_what_is_sent(facts):
    before = facts.counters(LOOPBACK)
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as far,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as near,
    ):
        far.bind(("127.0.0.1", 0))
        for _ in range(10):
            near.sendto(bytes(10_000), far.getsockname())
    after = facts.counters(LOOPBACK)
    # RFC 791 and RFC 768: 28 bytes of headers on each; loopback frames add 14.
    assert after.sent_bytes - before.sent_bytes >= 10 * 10_028
    assert after.received_bytes - before.received_bytes >= 10 * 10_028


@pytest.mark.parametrize("ask", ["leases", "resolvers", "counters"])
def test_an_absent_port_is_refused(facts, ask):
    with pytest.raises(NoInterface):
        getattr(facts, ask)("absent0")


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        ({"etc/resolv.conf": "nameserver 192.0.2.53\n"}, ("192.0.2.53",)),
        (
            {
                "etc/resolv.conf": "nameserver 127.0.0.53\n",
                "run/systemd/resolve/resolv.conf": "nameserver 192.0.2.53\n",
            },
            ("192.0.2.53",),
        ),
        ({"etc/resolv.conf": "nameserver 127.0.0.1\nnameserver ::1\n"}, ()),
        ({"etc/resolv.conf": "nameserver not-an-address\n"}, ()),
        ({}, ()),
    ],
)
def test_a_local_stub_gives_way_to_the_resolvers_behind_it(tmp_path, facts, files, expected):
    for path, text in files.items():
        target = tmp_path / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text)
    assert facts.resolvers(LOOPBACK) == expected


def test_the_leases_resolvers_come_before_the_systems(tmp_path, facts):
    (tmp_path / "etc").mkdir()
    (tmp_path / "etc/resolv.conf").write_text("nameserver 198.51.100.53\n")
    lease = tmp_path / "var/lib/dhcp/dhclient.leases"
    lease.parent.mkdir(parents=True)
    lease.write_text("lease { fixed-address 127.0.0.1; option domain-name-servers 192.0.2.53; }\n")
    assert facts.resolvers(LOOPBACK) == ("192.0.2.53", "198.51.100.53")
    assert facts.leases(LOOPBACK)[0].dns == ("192.0.2.53",)


def test_the_load_moves_on(facts):
    first, second = facts.load(), facts.load()
    assert 0 < first.busy_s <= first.total_s <= second.total_s
    assert first.virtual_machine is None


def test_the_hardware_address_of_a_port():
    assert own_address(LOOPBACK) == bytes(6)
    with pytest.raises(OSError, match="No such device"):
        own_address("absent0")
