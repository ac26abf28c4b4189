"""Netlink messages: built by hand after the kernel's headers, and anything at all."""

import socket
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import rtnetlink
from agent.codec.rtnetlink import Kind
from agent.errors import MalformedMessage


def attribute(kind, value):
    return struct.pack("=HH", 4 + len(value), kind) + value + bytes(-len(value) % 4)


def message(kind, body, sequence=1):
    return struct.pack("=IHHII", 16 + len(body), kind, 2, sequence, 0) + body


def u32(number):
    return struct.pack("=I", number)


# struct ifinfomsg, rtnl_link_stats64 (linux/rtnetlink.h, linux/if_link.h).
LINK_BODY = (
    struct.pack("=BxHiII", 0, 1, 5, 0x1 | 0x40, 0)
    + attribute(3, b"eth0.7\0")
    + attribute(1, bytes.fromhex("02005e100001"))
    + attribute(4, u32(1500))
    + attribute(5, u32(2))
    + attribute(33, b"\x01")
    + attribute(35, u32(4))
    + attribute(23, struct.pack("=24Q", 10, 11, 2**40, 13, 14, 15, *range(18)))
    + attribute(18 | 0x8000, attribute(1, b"vlan\0"))
)


def test_a_link():
    found = rtnetlink.link_entry(LINK_BODY)
    assert (found.index, found.name, found.hardware_type, found.running) == (5, "eth0.7", 1, True)
    assert (found.kind, found.parent_index, found.mtu_bytes) == ("vlan", 2, 1500)
    assert found.address == bytes.fromhex("02005e100001")
    assert (found.carrier, found.carrier_changes) == (True, 4)
    assert (found.received_bytes, found.sent_bytes) == (2**40, 13)
    assert (found.receive_errors, found.transmit_errors) == (14, 15)


@pytest.mark.parametrize(("valid", "expected"), [(3600, 3600), (0xFFFFFFFF, None)])
def test_an_address_and_its_validity(valid, expected):
    # struct ifaddrmsg; IFA_LOCAL (2) is the own address where IFA_ADDRESS (1) is the peer's.
    body = (
        struct.pack("=BBBBI", socket.AF_INET, 24, 0x80, 0, 4)
        + attribute(1, bytes([192, 0, 2, 99]))
        + attribute(2, bytes([192, 0, 2, 30]))
        + attribute(6, struct.pack("=IIII", 100, valid, 0, 0))
        + attribute(8, u32(0x200))
        + attribute(11, b"\x02")
    )
    found = rtnetlink.address_entry(body)
    assert (found.index, found.address, found.prefix, found.valid_s) == (
        4,
        "192.0.2.30",
        24,
        expected,
    )
    assert (found.flags, found.protocol) == (0x200, 2)


def test_other_families_are_left_out():
    body = struct.pack("=BBBBI", socket.AF_PACKET, 0, 0, 0, 4)
    assert rtnetlink.address_entry(body) is None
    assert rtnetlink.route_entry(struct.pack("=8BI", 128, *(0,) * 7, 0)) is None


def route_body(*attributes, prefix=0, family=socket.AF_INET):
    return struct.pack("=8BI", family, prefix, 0, 0, 254, 3, 0, 1, 0) + b"".join(attributes)


def test_a_default_route():
    body = route_body(
        attribute(5, bytes([192, 0, 2, 1])), attribute(4, u32(4)), attribute(6, u32(100))
    )
    found = rtnetlink.route_entry(body)
    assert (found.destination, found.gateway, found.index, found.metric) == (
        None,
        "192.0.2.1",
        4,
        100,
    )


def test_of_several_paths_the_first():
    # struct rtnexthop, then its attributes.
    hops = b"".join(
        struct.pack("=HBBi", 16, 0, 0, index) + attribute(5, bytes([192, 0, 2, index]))
        for index in (4, 5)
    )
    found = rtnetlink.route_entry(route_body(attribute(9, hops)))
    assert (found.gateway, found.index) == ("192.0.2.4", 4)


def test_ipv4_over_an_ipv6_gateway():
    via = struct.pack("=H", socket.AF_INET6) + socket.inet_pton(socket.AF_INET6, "fe80::1")
    assert rtnetlink.route_entry(route_body(attribute(18, via))).gateway == "fe80::1"


@pytest.mark.parametrize(
    ("kind", "data", "tag"),
    [
        # linux/if_link.h: IFLA_VLAN_ID is the first attribute of a VLAN's own data, a u16.
        (b"vlan", attribute(1, struct.pack("=H", 7)), 7),
        (b"vlan", attribute(1, b"\0"), None),
        (b"vlan", b"", None),
        (b"macvlan", attribute(1, struct.pack("=H", 7)), None),
    ],
)
def test_the_tag_of_a_vlan(kind, data, tag):
    info = attribute(1, kind + b"\0") + attribute(2, data)
    found = rtnetlink.link_entry(LINK_BODY[:16] + attribute(18, info))
    assert (found.kind, found.vlan_id) == (kind.decode(), tag)


def test_messages_follow_each_other():
    data = message(Kind.NEW_LINK, LINK_BODY) + message(Kind.DONE, u32(0))
    assert [m.kind for m in rtnetlink.messages(data)] == [Kind.NEW_LINK, Kind.DONE]


@pytest.mark.parametrize(
    "data", [struct.pack("=IHHII", 4, 16, 0, 1, 0), struct.pack("=IHHII", 17, 16, 0, 1, 0)]
)
def test_wrong_lengths_are_malformed(data):
    with pytest.raises(MalformedMessage):
        list(rtnetlink.messages(data))


def test_an_attribute_too_short_for_itself():
    with pytest.raises(MalformedMessage):
        rtnetlink.link_entry(struct.pack("=BxHiII", 0, 1, 5, 0, 0) + struct.pack("=HH", 3, 1))


@given(st.binary(max_size=200), st.sampled_from([b"", LINK_BODY[:16], route_body()]))
def test_any_bytes_are_entries_or_malformed(data, head):
    for read in (rtnetlink.link_entry, rtnetlink.address_entry, rtnetlink.route_entry):
        try:
            read(head + data)
        except MalformedMessage:
            continue
