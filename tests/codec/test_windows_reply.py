"""Windows' echo structures, built field by field from the vendor's headers (from memory).

ipexport.h: ICMP_ECHO_REPLY is address, status, round trip, data size, reserved, data pointer and
IP_OPTION_INFORMATION; ICMPV6_ECHO_REPLY is a packed IPV6_ADDRESS_EX, status, round trip.
"""

import ctypes
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.windows_echo import (
    buffer_bytes,
    decode_echo_reply,
    decode_echo_reply_6,
    icmp_of,
)
from agent.errors import MalformedMessage

BASE = 0x1_0000_2000


class Options(ctypes.LittleEndianStructure):
    _fields_ = (
        ("ttl", ctypes.c_uint8),
        ("tos", ctypes.c_uint8),
        ("flags", ctypes.c_uint8),
        ("size", ctypes.c_uint8),
        ("data", ctypes.c_uint64),
    )


class Reply(ctypes.LittleEndianStructure):
    _fields_ = (
        ("address", ctypes.c_uint8 * 4),
        ("status", ctypes.c_uint32),
        ("rtt", ctypes.c_uint32),
        ("size", ctypes.c_uint16),
        ("reserved", ctypes.c_uint16),
        ("data", ctypes.c_uint64),
        ("options", Options),
    )


class Address6(ctypes.LittleEndianStructure):
    _pack_ = 1
    _fields_ = (
        ("port", ctypes.c_uint16),
        ("flow", ctypes.c_uint32),
        ("address", ctypes.c_uint8 * 16),
        ("scope", ctypes.c_uint32),
    )


class Reply6(ctypes.LittleEndianStructure):
    _fields_ = (("address", Address6), ("status", ctypes.c_uint32), ("rtt", ctypes.c_uint32))


def reply(status=0, *, source="192.0.2.9", payload=b"", rtt=12, at=None):
    """Return the buffer of one IPv4 reply whose data stand right behind the structure."""
    place = BASE + ctypes.sizeof(Reply) if at is None else at
    head = Reply(
        (ctypes.c_uint8 * 4)(*socket.inet_aton(source)), status, rtt, len(payload), 0, place
    )
    return bytes(head) + payload


def reply_6(status=0, source="2001:db8::9", rtt=12):
    """Return the buffer of one IPv6 reply."""
    octets = (ctypes.c_uint8 * 16)(*socket.inet_pton(socket.AF_INET6, source))
    return bytes(Reply6(Address6(0, 0, octets, 0), status, rtt))


def test_a_reply_gives_its_data_back():
    found = decode_echo_reply(reply(payload=b"as it was sent"), BASE)
    assert (found.source, found.status, found.rtt_ms, found.data) == (
        "192.0.2.9",
        0,
        12,
        b"as it was sent",
    )


def test_an_expired_hop_limit_names_the_router():
    # The vendor's IP_STATUS: IP_TTL_EXPIRED_TRANSIT is 11013.
    found = decode_echo_reply(reply(11_013, payload=b"quote", at=0), BASE)
    assert (found.source, icmp_of(found.status, 4), found.data) == ("192.0.2.9", (11, 0), b"")


def test_an_ipv6_reply_is_read_across_the_packed_address():
    found = decode_echo_reply_6(reply_6(11_013, rtt=7))
    assert (found.source, found.rtt_ms, icmp_of(found.status, 6)) == ("2001:db8::9", 7, (3, 0))


@pytest.mark.parametrize(
    ("status", "family", "kind"),
    [
        # RFC 792 and RFC 4443 §3 for the types; the meanings of IP_STATUS from memory.
        (11_003, 4, (3, 1)),
        (11_005, 4, (3, 3)),
        (11_009, 4, (3, 4)),
        (11_005, 6, (1, 4)),
        (11_009, 6, (2, 0)),
        (11_010, 4, None),
        (0, 4, None),
    ],
)
def test_a_status_stands_for_an_icmp_message_or_none(status, family, kind):
    assert icmp_of(status, family) == kind


@pytest.mark.parametrize("at", [0, BASE - 1, BASE + 39, BASE + 41, 2**63])
def test_data_outside_the_buffer_are_refused(at):
    with pytest.raises(MalformedMessage):
        decode_echo_reply(reply(payload=b"1234", at=at), BASE)


@given(st.binary(max_size=80), st.integers(min_value=0, max_value=2**64 - 1))
def test_any_buffer_is_read_or_refused(buffer, base):
    for read in (lambda: decode_echo_reply(buffer, base), lambda: decode_echo_reply_6(buffer)):
        try:
            assert len(read().data) <= len(buffer)
        except MalformedMessage:
            continue


@pytest.mark.parametrize(("family", "head"), [(4, Reply), (6, Reply6)])
def test_the_buffer_holds_reply_payload_error_and_status_block(family, head):
    # Vendor's reference of the calls: reply, request data, eight octets, one IO_STATUS_BLOCK (16).
    assert buffer_bytes(family, 24) == ctypes.sizeof(head) + 24 + 8 + 16
