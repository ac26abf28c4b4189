import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.contrib.mpls import MPLS, ICMPExtension_MPLS
from scapy.layers.inet import ICMPExtension_Header, ICMPExtension_InterfaceInformation

from agent.codec.checksum import checksum
from agent.codec.icmp_extensions import (
    Extensions,
    Interface,
    Label,
    decode_extensions,
    unannounced,
)

# RFC 4950 §3 names the labels; bytes and checksums by arithmetic from RFC 4884 §7, §8.
ONE_LABEL = bytes.fromhex("2000c588 00080101 186d0101")


def theirs(*objects):
    """An extension structure as a second implementation (scapy) writes it."""
    whole = ICMPExtension_Header()
    for one in objects:
        whole = whole / one
    return bytes(whole)


def structure(*objects):
    """RFC 4884 §7 and §8 by hand: objects as (class, C-type, value)."""
    body = b"".join(
        (len(v) + 4).to_bytes(2, "big") + bytes([number, kind]) + v for number, kind, v in objects
    )
    head = bytes([0x20, 0, 0, 0])
    return head[:2] + checksum(head + body).to_bytes(2, "big") + body


def test_a_label_stack_of_a_second_implementation():
    stack = [MPLS(label=24001, cos=5, s=0, ttl=1), MPLS(label=16, cos=0, s=1, ttl=254)]
    assert decode_extensions(theirs(ICMPExtension_MPLS(stack=stack))).labels == (
        Label(label=24001, traffic_class=5, bottom=False, ttl=1),
        Label(label=16, traffic_class=0, bottom=True, ttl=254),
    )


def test_the_interface_a_datagram_came_in_by():
    # RFC 5837 §4.1 and §4.3, written by scapy, whose own name length would not count itself.
    named = ICMPExtension_InterfaceInformation(
        has_ifindex=1, has_ipaddr=1, has_ifname=1, has_mtu=1, afi=1, ifname_len=8,
        ifindex=7, ip4="203.0.113.7", ifname=b"eth7" + bytes(3), mtu=1492,
    )  # fmt: skip
    assert decode_extensions(theirs(named)).interfaces == (
        Interface(role=0, index=7, address="203.0.113.7", name="eth7", mtu_bytes=1492),
    )
    six = ICMPExtension_InterfaceInformation(has_ipaddr=1, afi=2, ip6="2001:db8::7")
    assert decode_extensions(theirs(six)).interfaces == (Interface(role=0, address="2001:db8::7"),)


def test_roles_fields_left_out_and_a_padded_name_by_hand():
    # RFC 5837 §4.1: role 2 is "would have been forwarded over"; §4.3: the length octet counts
    # itself, and the name is filled up to a multiple of four octets.
    only_name = structure((2, 0b10_00_0010, bytes([8]) + b"ge-0" + bytes(3)))
    assert decode_extensions(only_name).interfaces == (Interface(role=2, name="ge-0"),)
    only_mtu = structure((2, 0b11_00_0001, (9000).to_bytes(4, "big")))
    assert decode_extensions(only_mtu).interfaces == (Interface(role=3, mtu_bytes=9000),)


def test_other_classes_are_passed_and_both_kinds_stand_together():
    labels = (1, 1, bytes.fromhex("186d0101"))
    found = decode_extensions(structure((9, 1, b"what"), labels, (2, 8, (5).to_bytes(4, "big"))))
    assert found == Extensions(
        labels=(Label(label=100048, traffic_class=0, bottom=True, ttl=1),),
        interfaces=(Interface(role=0, index=5),),
    )


@pytest.mark.parametrize(
    "value",
    [b"", b"\0", b"\0\3\0\0\1\2\3\4", b"\0\1\0\0\1\2", b"\0\2\0\0" + bytes(15)],
)
def test_an_address_that_is_none_leaves_its_object_out_and_no_other(value):
    labels = (1, 1, bytes.fromhex("186d0101"))
    found = decode_extensions(structure((2, 4, value), labels))
    assert found.interfaces == ()
    assert [label.label for label in found.labels] == [100048]


def test_a_name_longer_than_the_standard_allows_is_no_name():
    # RFC 5837 §4.3: at most 63 octets and the length octet.
    assert decode_extensions(structure((2, 2, bytes([64]) + b"n" * 63))).interfaces[0].name
    assert decode_extensions(structure((2, 2, bytes([68]) + b"n" * 67))).interfaces == ()


def test_a_stack_is_bounded():
    stack = (1, 1, bytes.fromhex("186d0001") * 200)
    assert len(decode_extensions(structure(stack)).labels) == 16


@pytest.mark.parametrize("header_bytes", [28, 48])
def test_an_old_sender_is_found_by_its_checksum(header_bytes):
    # RFC 4884 §5.5: behind exactly 128 octets of the datagram, without a length.
    quote = b"probe".ljust(128 - header_bytes, b"\0")
    assert unannounced(quote + ONE_LABEL, header_bytes) == ONE_LABEL
    assert unannounced(quote + ONE_LABEL[:-1] + b"\2", header_bytes) == b""
    assert unannounced(quote + b"\0" + ONE_LABEL, header_bytes) == b""
    # Without a checksum nothing tells a structure from a payload.
    assert unannounced(quote + b"\x20\0\0\0" + ONE_LABEL[4:], header_bytes) == b""
    assert unannounced(quote, header_bytes) == b""
    assert unannounced(b"", header_bytes) == b""


@given(st.binary(max_size=300))
def test_any_bytes_are_read_without_an_error(data):
    for whole in (data, b"\x20\0\0\0" + data):
        found = decode_extensions(whole)
        assert len(found.labels) + len(found.interfaces) <= 32
