"""What Linux made of advertisements, from messages built after the kernel's headers."""

import struct
from dataclasses import replace
from ipaddress import ip_address

import pytest

from agent.codec import rtnetlink
from agent.engines.linux_advertised import advertised_view
from agent.measurements import HeldPrefix, HeldRouter

ETH, OTHER = 2, 3
NEVER = 0xFFFFFFFF


def attribute(kind, value):
    return struct.pack("=HH", 4 + len(value), kind) + value + bytes(-len(value) % 4)


def u32(number):
    return struct.pack("=I", number)


def link(flags, mtu=0):
    """IFLA_AF_SPEC (26), AF_INET6 (10), IFLA_INET6_FLAGS (1), IFLA_INET6_RA_MTU (9)."""
    inner = attribute(1, u32(flags)) + attribute(9, u32(mtu))
    spec = b"" if flags is None else attribute(26, attribute(10, inner))
    body = struct.pack("=BxHiII", 0, 1, ETH, 0x41, 0) + attribute(3, b"eth0\0") + spec
    return rtnetlink.link_entry(body)


def address(text, *, valid=3600, preferred=1800, index=ETH, bits=64):
    """Return struct ifaddrmsg with IFA_ADDRESS (1) and IFA_CACHEINFO (6): preferred, valid."""
    body = struct.pack("=BBBBI", 10, bits, 0, 0, index) + attribute(1, ip_address(text).packed)
    return rtnetlink.address_entry(body + attribute(6, struct.pack("=4I", preferred, valid, 0, 0)))


def route(gateway, *, protocol=9, ticks=90_000, index=ETH):
    """Return struct rtmsg; RTA_CACHEINFO (12): rta_expires is its third word, in 1/100 s."""
    body = struct.pack("=BBBBBBBBI", 10, 0, 0, 0, 254, protocol, 0, 1, 0)
    body += attribute(5, ip_address(gateway).packed) + attribute(4, u32(index))
    return rtnetlink.route_entry(
        body + attribute(12, struct.pack("=IIiIIIII", 0, 0, ticks, *[0] * 5))
    )


def neighbour(text, hardware, index=ETH):
    """Return struct ndmsg with NDA_DST (1) and NDA_LLADDR (2)."""
    body = struct.pack("=BxxxiHBB", 10, index, 2, 0x80, 1) + attribute(1, ip_address(text).packed)
    return rtnetlink.neighbour_entry(body + attribute(2, bytes.fromhex(hardware)))


def view(flags=0x20, mtu=0, addresses=(), routes=(), neighbours=()):
    return advertised_view(link(flags, mtu), addresses, routes, neighbours)


@pytest.mark.parametrize(
    ("flags", "received", "managed", "other"),
    [
        # net/if_inet6.h: IF_RA_RCVD 0x20, IF_RA_MANAGED 0x40, IF_RA_OTHERCONF 0x80.
        (0x80000020, True, False, False),
        (0x80000060, True, True, False),
        (0x800000A0, True, False, True),
        (0x800000E0, True, True, True),
        # Without an advertisement the kernel knows no flags: a manager may have heard one.
        (0x80000000, False, None, None),
    ],
)
def test_the_flags_are_the_last_advertisements(flags, received, managed, other):
    found = view(flags)
    assert (found.received, found.managed, found.other) == (received, managed, other)
    assert ("managed" in found.sources) is received


def test_a_port_without_ipv6_has_no_view():
    assert advertised_view(replace(link(0), ipv6_flags=None), (), (), ()) is None


def test_routers_with_what_is_left_of_them():
    found = view(
        routes=(route("fe80::1"), route("fe80::2", ticks=0)),
        neighbours=(neighbour("fe80::1", "02005e1000fe"), neighbour("fe80::2", "02005e1000aa", 3)),
    )
    assert found.routers == (
        HeldRouter(address="fe80::1", hardware_address="02:00:5e:10:00:fe", left_s=900.0),
        HeldRouter(address="fe80::2"),
    )


def test_ways_set_by_hand_or_on_another_port_are_no_advertised_routers():
    # linux/rtnetlink.h: RTPROT_STATIC 4, RTPROT_RA 9.
    assert view(routes=(route("fe80::1", protocol=4), route("fe80::2", index=OTHER))).routers == ()


def test_prefixes_live_as_long_as_their_best_address():
    found = view(
        addresses=(
            address("2001:db8:1::20", preferred=0, valid=600),
            address("2001:db8:1::21", preferred=50, valid=700),
            address("2001:db8:2::20", preferred=NEVER, valid=NEVER),
            address("fe80::20"),
            address("2001:db8:3::20", bits=128),
            address("2001:db8:4::20", index=OTHER),
        )
    )
    assert found.prefixes == (
        HeldPrefix(network="2001:db8:1::", prefix=64, valid_s=700.0, preferred_s=50.0),
        HeldPrefix(network="2001:db8:2::", prefix=64),
        HeldPrefix(network="2001:db8:3::20", prefix=128, valid_s=3600.0, preferred_s=1800.0),
    )


def test_the_advertised_mtu_is_told_with_its_source():
    assert (view(mtu=1492).mtu_bytes, view(mtu=1492).sources["mtu_bytes"]) == (1492, "netlink")
    assert view(mtu=0).mtu_bytes is None
