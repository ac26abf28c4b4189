"""The lease this system holds: files first, netlink for the rest."""

import os
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.clock import ManualClock
from agent.codec import dhcp
from agent.codec.dhcp_options import pack_addresses, pack_seconds
from agent.codec.lease_files import FiledLease
from agent.engines.linux_facts import LinuxFacts
from agent.engines.linux_leases import Found, agreeing, filed_lease, held_leases, told_leases
from agent.errors import NoInterface
from agent.measurements import LinkFacts, Medium
from agent.ports.facts import DefaultWay, HeldAddress, Interface

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
RESOLVERS = ("198.51.100.53", "2001:db8::53")


def port(*addresses, medium=Medium.WIRED, name="eth0", **link):
    return Interface(
        link=LinkFacts(**{"interface": name, "up": True, "medium": medium, **link}),
        index=4,
        addresses=addresses,
        ways=(DefaultWay(family=4, gateway="192.0.2.1"),),
    )


def held(address, valid_s=None, **kwargs):
    family = 6 if ":" in address else 4
    return HeldAddress(address=address, prefix=24, family=family, valid_s=valid_s, **kwargs)


def leases(root, interface, resolvers=(), now=NOW, *, told=(), others=()):
    """Return the leases as the facts port puts them together, files under `root`."""

    def known(address):
        filed = filed_lease(root, interface, address)
        return (*told, *((filed,) if filed else ()))

    return held_leases(interface, resolvers, now, known, others)


def write(root, path, data):
    target = root / path
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(data if isinstance(data, bytes) else data.encode())
    return target


def dhclient(address="192.0.2.30", expire="2 2026/03/03 09:00:00", port="eth0"):
    return (
        f'lease {{\n interface "{port}";\n fixed-address {address};\n'
        " option dhcp-lease-time 86400;\n option dhcp-server-identifier 192.0.2.1;\n"
        " option dhcp-renewal-time 43200;\n option dhcp-rebinding-time 75600;\n"
        f" option domain-name-servers 192.0.2.53;\n expire {expire};\n}}\n"
    )


@pytest.mark.parametrize(
    ("address", "medium", "origin"),
    [
        (held("192.0.2.30", 3600.0), Medium.WIRED, "dhcp"),
        (held("192.0.2.30"), Medium.WIRED, "static"),
        (held("169.254.7.7"), Medium.WIRED, "self-assigned"),  # RFC 3927 §2.1
        (held("192.0.2.30"), Medium.PPP, "ppp"),
    ],
)
def test_the_origin_without_any_file(tmp_path, address, medium, origin):
    (facts,) = leases(tmp_path, port(address, medium=medium), RESOLVERS, NOW)
    assert (facts.origin, facts.address, facts.prefix) == (origin, address.address, 24)
    assert (facts.gateway, facts.dns) == ("192.0.2.1", ("198.51.100.53",))
    assert facts.sources["dns"] == "resolv.conf"
    assert (facts.server_id, facts.lease_s, facts.t1_s) == (None, None, None)


def test_what_netlink_alone_knows_of_the_time(tmp_path):
    (facts,) = leases(tmp_path, port(held("192.0.2.30", 3600.0)), (), NOW)
    assert (facts.left_s, facts.expires, facts.obtained) == (3600.0, "2026-03-02T10:00:00Z", None)


def test_no_address_is_one_entry_of_origin_none(tmp_path):
    (facts,) = leases(tmp_path, port(held("fe80::1", told_by="kernel")), RESOLVERS, NOW)
    assert (facts.family, facts.origin, facts.address) == (4, "none", None)


def test_both_families_ipv4_first_and_self_assigned_last(tmp_path):
    addresses = (
        held("2001:db8::30", 7200.0, told_by="kernel"),
        held("169.254.7.7"),
        held("192.0.2.30", 60.0),
    )
    found = leases(tmp_path, port(*addresses), RESOLVERS, NOW)
    assert [(f.family, f.origin) for f in found] == [
        (4, "dhcp"),
        (4, "self-assigned"),
        (6, "kernel"),
    ]
    assert found[2].dns == ("2001:db8::53",)


def test_the_client_file_completes_the_lease(tmp_path):
    write(tmp_path, "var/lib/dhcp/dhclient.eth0.leases", dhclient())
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), RESOLVERS, NOW)
    assert (facts.origin, facts.server_id, facts.dns) == ("dhcp", "192.0.2.1", ("192.0.2.53",))
    assert (facts.lease_s, facts.t1_s, facts.t2_s) == (86400, 43200, 75600)
    assert (facts.obtained, facts.expires) == ("2026-03-02T09:00:00Z", "2026-03-03T09:00:00Z")
    assert facts.sources["server_id"] == facts.sources["dns"] == "dhclient-file"
    assert facts.sources["gateway"] == "netlink"


def test_of_several_entries_the_last_to_expire(tmp_path):
    text = dhclient(expire="1 2026/03/02 08:00:00") + dhclient(expire="3 2026/03/04 09:00:00")
    write(tmp_path, "var/lib/dhcp/dhclient.leases", text)
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), (), NOW)
    assert facts.expires == "2026-03-04T09:00:00Z"


@pytest.mark.parametrize("other", [{"address": "192.0.2.31"}, {"port": "eth1"}])
def test_a_lease_of_another_address_or_port_is_not_ours(tmp_path, other):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", dhclient(**other))
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), (), NOW)
    assert (facts.origin, facts.server_id) == ("static", None)


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("run/systemd/netif/leases/4", "networkd-file"),
        ("var/lib/NetworkManager/internal-aa-bb-eth0.lease", "networkmanager-file"),
    ],
)
def test_private_files_are_tolerated(tmp_path, path, source):
    text = "ADDRESS=192.0.2.30\nLIFETIME=3600\nT1=1800\nSERVER_ADDRESS=192.0.2.1\n"
    written = write(tmp_path, path, text)
    os.utime(written, (NOW.timestamp(), NOW.timestamp()))
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), (), NOW)
    assert (facts.server_id, facts.t1_s, facts.t2_s) == ("192.0.2.1", 1800, None)
    assert (facts.obtained, facts.expires) == ("2026-03-02T09:00:00Z", "2026-03-02T10:00:00Z")
    assert facts.sources["server_id"] == source


def test_a_kept_message_is_read(tmp_path):
    asked = dhcp.discover(xid=1, hardware_address=bytes(6))
    options = ((51, pack_seconds(3600)), (6, pack_addresses("192.0.2.53")))
    ack = dhcp.reply(
        asked, dhcp.MessageType.ACK, server_id="192.0.2.1", address="192.0.2.30", options=options
    )
    write(tmp_path, "var/lib/dhcpcd/eth0.lease", dhcp.encode(ack))
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), (), NOW)
    assert (facts.lease_s, facts.dns, facts.sources["lease_s"]) == (
        3600,
        ("192.0.2.53",),
        "dhcpcd-file",
    )


@pytest.mark.parametrize("data", [b"", b"\x00" * 10, b"\xff" * 5000, b"lease { fixed-address"])
def test_broken_files_leave_what_netlink_knows(tmp_path, data):
    for path in (
        "var/lib/dhcpcd/eth0.lease",
        "var/lib/dhcp/dhclient.leases",
        "run/systemd/netif/leases/4",
    ):
        write(tmp_path, path, data)
    (facts,) = leases(tmp_path, port(held("192.0.2.30", 60.0)), (), NOW)
    assert (facts.origin, facts.address, facts.server_id) == ("dhcp", "192.0.2.30", None)


def test_an_interface_name_is_no_pattern(tmp_path):
    write(tmp_path, "var/lib/dhcpcd/eth0.lease", b"")
    write(tmp_path, "var/lib/NetworkManager/internal-x-eth0.lease", "ADDRESS=192.0.2.30\n")
    (facts,) = leases(tmp_path, port(held("192.0.2.30"), name="e*"), (), NOW)
    assert facts.origin == "static"


def lease_of(address="192.0.2.30", **more):
    return FiledLease(**{"address": address, "server_id": "192.0.2.1", "lease_s": 3600, **more})


def told(*pairs):
    return told_leases(pairs, "192.0.2.30")


def test_a_manager_is_believed_before_a_file(tmp_path):
    write(tmp_path, "run/systemd/netif/leases/4", "ADDRESS=192.0.2.30\nT1=1700\nLIFETIME=3600\n")
    bus = told((lease_of(t2_s=3100, dns=("192.0.2.53",)), "networkd-dbus"))
    (facts,) = leases(tmp_path, port(held("192.0.2.30", 60.0)), RESOLVERS, told=bus)
    assert (facts.server_id, facts.t1_s, facts.t2_s, facts.dns) == (
        "192.0.2.1",
        1700,
        3100,
        ("192.0.2.53",),
    )
    named = ("origin", "server_id", "t2_s", "dns", "t1_s", "expires", "gateway")
    assert [facts.sources[name] for name in named] == [
        *["networkd-dbus"] * 4,
        "networkd-file",
        "netlink",
        "netlink",
    ]


@pytest.mark.parametrize(
    ("other", "agrees"),
    [
        ({}, True),
        ({"lease_s": None, "server_id": None}, True),
        ({"lease_s": 7200}, False),
        ({"server_id": "192.0.2.9"}, False),
        ({"origin": "static"}, False),
    ],
)
def test_only_who_speaks_of_the_same_lease_completes_it(other, agrees):
    first, second = (Found(lease=lease_of(**o), source="x") for o in ({}, other))
    assert agreeing((first, second)) == ((first, second) if agrees else (first,))


def test_an_address_typed_in_is_told_as_such(tmp_path):
    """Also where a lease of the same address is still on file from before."""
    write(tmp_path, "var/lib/dhcp/dhclient.eth0.leases", dhclient(expire="1 2026/03/01 09:00:00"))
    bus = told((lease_of(origin="static", server_id=None, lease_s=None), "networkmanager-dbus"))
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), told=bus)
    assert (facts.origin, facts.state, facts.server_id) == ("static", None, None)
    assert facts.sources["origin"] == "networkmanager-dbus"


def test_a_lease_that_is_over_while_its_address_is_held(tmp_path):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", dhclient(expire="1 2026/03/02 07:00:00"))
    (facts,) = leases(tmp_path, port(held("192.0.2.30", state="preferred")))
    assert (facts.origin, facts.state, facts.expired_s) == ("dhcp", "expired", 7200.0)
    assert facts.left_s is None


def test_where_the_kernel_counts_the_validity_the_file_may_be_old(tmp_path):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", dhclient(expire="1 2026/03/02 07:00:00"))
    (facts,) = leases(tmp_path, port(held("192.0.2.30", 60.0, state="preferred")))
    assert (facts.state, facts.expired_s, facts.left_s) == ("preferred", None, 60.0)


def test_what_is_left_of_a_lease_that_only_the_file_knows(tmp_path):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", dhclient())
    (facts,) = leases(tmp_path, port(held("192.0.2.30")))
    assert (facts.left_s, facts.state) == (86_400.0, None)


@pytest.mark.parametrize(
    ("text", "routers", "names"),
    [
        (dhclient(), (), ("192.0.2.53",)),
        (dhclient().replace(" option domain-name-servers 192.0.2.53;\n", ""), (), ()),
        ("lease { fixed-address 192.0.2.30; }", None, None),
    ],
)
def test_what_the_lease_itself_names(tmp_path, text, routers, names):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", text)
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), RESOLVERS)
    assert (facts.leased_routers, facts.leased_dns) == (routers, names)
    assert facts.dns == (names or ("198.51.100.53",))


def test_every_default_way_is_told_the_best_first(tmp_path):
    ways = (
        DefaultWay(family=4, gateway="192.0.2.2", metric=300),
        DefaultWay(family=4, gateway=None, metric=400),
        DefaultWay(family=4, gateway="192.0.2.1", metric=100),
        DefaultWay(family=6, gateway="fe80::1"),
    )
    interface = replace(port(held("192.0.2.30")), ways=ways)
    (facts,) = leases(tmp_path, interface)
    assert facts.ways == ("192.0.2.1", "192.0.2.2", "on-link")
    assert leases(tmp_path, replace(interface, ways=()))[0].ways == ()


@pytest.mark.parametrize(
    ("other", "seen"),
    [
        (port(held("192.0.2.77"), name="wlan0"), ("wlan0",)),
        (port(held("198.51.100.77"), name="wlan0"), ()),
        (port(held("2001:db8::77"), name="wlan0"), ()),
        (port(held("192.0.2.77"), name="eth0"), ()),
        (port(held("192.0.2.77"), name="eth0.7", parent="eth0"), ()),
        (port(held("192.0.2.77"), name="wlan0", up=False), ()),
    ],
)
def test_another_port_in_the_same_network(tmp_path, other, seen):
    (facts,) = leases(tmp_path, port(held("192.0.2.30")), others=(other,))
    assert facts.beside == seen


def test_a_made_up_address_is_beside_nobody_and_in_no_file(tmp_path):
    write(tmp_path, "var/lib/dhcp/dhclient.leases", dhclient(address="169.254.7.7"))
    other = port(held("169.254.9.9"), name="wlan0")
    (facts,) = leases(tmp_path, port(held("169.254.7.7")), others=(other,))
    assert (facts.origin, facts.beside, facts.server_id) == ("self-assigned", (), None)


VALUES = st.none() | st.integers(0, 2**33)
LEASES = st.builds(
    FiledLease,
    address=st.just("192.0.2.30"),
    origin=st.sampled_from(["dhcp", "static"]),
    server_id=st.none() | st.sampled_from(["192.0.2.1", "192.0.2.9"]),
    lease_s=VALUES,
    t1_s=VALUES,
    t2_s=VALUES,
    routers=st.lists(st.just("192.0.2.1"), max_size=1).map(tuple),
    expires=st.none() | st.integers(0, 2**33).map(lambda s: datetime.fromtimestamp(s, UTC)),
)


@given(st.lists(LEASES, max_size=4), st.none() | st.floats(0, 1e9))
def test_every_fact_is_the_first_that_anybody_told_and_says_who(known, valid_s):
    """A law of the order: no later source overrules an earlier one, and none goes unnamed."""
    bus = told(*((lease, f"source {place}") for place, lease in enumerate(known)))
    (facts,) = held_leases(port(held("192.0.2.30", valid_s)), (), NOW, lambda _: bus)
    believed = agreeing(bus)
    for name in ("server_id", "lease_s", "t1_s", "t2_s"):
        first = next((f for f in believed if getattr(f.lease, name) is not None), None)
        assert getattr(facts, name) == (getattr(first.lease, name) if first else None)
        assert facts.sources.get(name) == (first.source if first else None)
    assert facts.state in (None, "expired")
    assert (facts.state == "expired") == (facts.expired_s is not None)
    assert facts.expired_s is None or (facts.expired_s >= 0 and valid_s is None)


@pytest.mark.parametrize(
    ("medium", "expected"),
    [(Medium.PPP, ("198.51.100.53",)), (Medium.WIRED, ("192.0.2.53",))],
)
def test_the_resolvers_of_a_session_are_what_its_peer_gave(tmp_path, medium, expected):
    """pppd(8), usepeerdns: the peer's resolvers stand in a file of their own."""
    write(tmp_path, "etc/resolv.conf", "nameserver 192.0.2.53\n")
    write(tmp_path, "etc/ppp/resolv.conf", "nameserver 198.51.100.53\n")

    class Scripted(LinuxFacts):
        def interfaces(self):
            way = DefaultWay(family=4, gateway=None)
            ours = port(held("192.0.2.30"), medium=medium, name="ppp0", mtu_bytes=1492)
            return (replace(ours, ways=(way,)),)

    facts = Scripted(tmp_path, ManualClock(start=NOW))
    assert facts.resolvers("ppp0") == expected
    (lease,) = facts.leases("ppp0")
    assert (lease.dns, lease.gateway, lease.ways) == (expected, None, ("on-link",))
    assert lease.origin == ("ppp" if medium is Medium.PPP else "static")
    with pytest.raises(NoInterface):
        facts.leases("ppp9")
