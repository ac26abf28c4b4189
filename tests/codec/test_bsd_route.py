"""The routing socket's messages, built field by field from macOS' headers (from memory).

net/route.h: struct rt_msghdr and struct rt_metrics; netinet/in.h: sockaddr_in; netinet6/in6.h:
sockaddr_in6; net/if_dl.h: sockaddr_dl. Each address is rounded up to four octets.
"""

import ctypes
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.bsd_route import decode_answer, encode_question
from agent.errors import MalformedMessage

RTM_GET, RTM_ADD = 4, 1
RTF_UP, RTF_GATEWAY, RTF_REJECT, RTF_IFSCOPE = 0x1, 0x2, 0x8, 0x1000000
RTA_DST, RTA_GATEWAY, RTA_NETMASK, RTA_IFP, RTA_IFA = 0x1, 0x2, 0x4, 0x10, 0x20
AF_INET, AF_LINK, AF_INET6 = 2, 18, 30


class Metrics(ctypes.Structure):
    _fields_ = (
        ("locks", ctypes.c_uint32),
        ("mtu", ctypes.c_uint32),
        ("hopcount", ctypes.c_uint32),
        ("expire", ctypes.c_int32),
        ("recvpipe", ctypes.c_uint32),
        ("sendpipe", ctypes.c_uint32),
        ("ssthresh", ctypes.c_uint32),
        ("rtt", ctypes.c_uint32),
        ("rttvar", ctypes.c_uint32),
        ("pksent", ctypes.c_uint32),
        ("state", ctypes.c_uint32),
        ("filler", ctypes.c_uint32 * 3),
    )


class Header(ctypes.Structure):
    _fields_ = (
        ("msglen", ctypes.c_ushort),
        ("version", ctypes.c_ubyte),
        ("type", ctypes.c_ubyte),
        ("index", ctypes.c_ushort),
        ("flags", ctypes.c_int),
        ("addrs", ctypes.c_int),
        ("pid", ctypes.c_int),
        ("seq", ctypes.c_int),
        ("errno", ctypes.c_int),
        ("use", ctypes.c_int),
        ("inits", ctypes.c_uint32),
        ("rmx", Metrics),
    )


class Inet(ctypes.Structure):
    _fields_ = (
        ("len", ctypes.c_uint8),
        ("family", ctypes.c_uint8),
        ("port", ctypes.c_uint16),
        ("addr", ctypes.c_uint8 * 4),
        ("zero", ctypes.c_char * 8),
    )


class Inet6(ctypes.Structure):
    _fields_ = (
        ("len", ctypes.c_uint8),
        ("family", ctypes.c_uint8),
        ("port", ctypes.c_uint16),
        ("flow", ctypes.c_uint32),
        ("addr", ctypes.c_uint8 * 16),
        ("scope", ctypes.c_uint32),
    )


class Link(ctypes.Structure):
    _fields_ = (
        ("len", ctypes.c_uint8),
        ("family", ctypes.c_uint8),
        ("index", ctypes.c_uint16),
        ("type", ctypes.c_uint8),
        ("nlen", ctypes.c_uint8),
        ("alen", ctypes.c_uint8),
        ("slen", ctypes.c_uint8),
        ("data", ctypes.c_char * 12),
    )


def inet(address):
    octets = (ctypes.c_uint8 * 4)(*socket.inet_aton(address))
    return bytes(Inet(ctypes.sizeof(Inet), AF_INET, 0, octets))


def inet6(packed):
    octets = (ctypes.c_uint8 * 16)(*packed)
    return bytes(Inet6(ctypes.sizeof(Inet6), AF_INET6, 0, 0, octets, 0))


def link(name=b"en0"):
    return bytes(Link(ctypes.sizeof(Link), AF_LINK, 4, 6, len(name), 0, 0, name))


def answer(addresses, *, flags=RTF_UP | RTF_GATEWAY, index=4, error=0, kind=RTM_GET, version=5):
    """Return one message; `addresses` maps a bit to the octets of its address."""
    body = b"".join(addresses[bit] for bit in sorted(addresses))
    head = Header(
        msglen=ctypes.sizeof(Header) + len(body),
        version=version,
        type=kind,
        index=index,
        flags=flags,
        addrs=sum(addresses),
        pid=77,
        seq=5,
        errno=error,
    )
    return bytes(head) + body


def test_the_question_is_a_header_a_destination_and_room_for_the_link():
    data = encode_question("192.0.2.9", sequence=5, process=77)
    head = Header.from_buffer_copy(data)
    assert ctypes.sizeof(Header) == 92
    assert (head.msglen, head.version, head.type) == (len(data), 5, RTM_GET)
    assert (head.pid, head.seq, head.index) == (77, 5, 0)
    assert head.addrs == RTA_DST | RTA_IFP
    assert not head.flags & RTF_IFSCOPE
    asked = Inet.from_buffer_copy(data, 92)
    assert (asked.len, asked.family, bytes(asked.addr)) == (16, AF_INET, bytes([192, 0, 2, 9]))
    room = Link.from_buffer_copy(data, 108)
    assert (room.len, room.family) == (20, AF_LINK)


def test_a_question_for_one_interface_is_scoped_to_it():
    data = encode_question("2001:db8::9", sequence=1, process=2, index=7)
    head = Header.from_buffer_copy(data)
    assert (head.index, head.flags & RTF_IFSCOPE) == (7, RTF_IFSCOPE)
    asked = Inet6.from_buffer_copy(data, 92)
    assert (asked.len, asked.family) == (28, AF_INET6)
    assert bytes(asked.addr) == socket.inet_pton(socket.AF_INET6, "2001:db8::9")


def test_a_default_way_names_gateway_and_interface():
    # The mask of a default way has length 0 and takes four octets nevertheless.
    found = decode_answer(
        answer(
            {
                RTA_DST: inet("0.0.0.0"),
                RTA_GATEWAY: inet("192.0.2.1"),
                RTA_NETMASK: bytes(4),
                RTA_IFP: link(),
                RTA_IFA: inet("192.0.2.30"),
            }
        )
    )
    assert (found.gateway, found.index, found.error) == ("192.0.2.1", 4, 0)
    assert (found.sequence, found.process, found.refused) == (5, 77, False)


def test_a_short_mask_is_stepped_over_to_the_next_address():
    # 255.255.255.0 is stored in seven octets, which take eight.
    mask = bytes([7, 0, 0, 0, 255, 255, 255, 0])
    found = decode_answer(
        answer({RTA_DST: inet("0.0.0.0"), RTA_GATEWAY: inet("192.0.2.1"), RTA_NETMASK: mask})
    )
    assert found.gateway == "192.0.2.1"


def test_an_ipv6_router_comes_without_the_kernels_scope():
    # KAME kernels keep the interface in octets 2 and 3 of a link-local address.
    kept = bytes.fromhex("fe80000400000000" + "0000000000000001")
    found = decode_answer(answer({RTA_GATEWAY: inet6(kept)}))
    assert found.gateway == "fe80::1"
    plain = socket.inet_pton(socket.AF_INET6, "2001:db8::1")
    assert decode_answer(answer({RTA_GATEWAY: inet6(plain)})).gateway == "2001:db8::1"


@pytest.mark.parametrize(
    ("addresses", "flags"),
    [
        ({RTA_DST: inet("192.0.2.0"), RTA_GATEWAY: link()}, RTF_UP),
        ({RTA_DST: inet("192.0.2.0"), RTA_GATEWAY: link()}, RTF_UP | RTF_GATEWAY),
        ({RTA_DST: inet("192.0.2.0")}, RTF_UP | RTF_GATEWAY),
        ({RTA_GATEWAY: bytes([4, AF_INET, 0, 0])}, RTF_UP | RTF_GATEWAY),
        ({RTA_GATEWAY: bytes([4, 99, 0, 0])}, RTF_UP | RTF_GATEWAY),
    ],
)
def test_no_gateway_is_made_up(addresses, flags):
    assert decode_answer(answer(addresses, flags=flags)).gateway is None


def test_a_refused_way_is_said_to_be_refused():
    assert decode_answer(answer({}, flags=RTF_UP | RTF_REJECT)).refused
    assert decode_answer(answer({}, error=3)).error == 3


@pytest.mark.parametrize("change", [{"kind": RTM_ADD}, {"version": 4}])
def test_other_messages_answer_nothing(change):
    assert decode_answer(answer({RTA_GATEWAY: inet("192.0.2.1")}, **change)) is None


@pytest.mark.parametrize("left", [0, 1, 91, 92, 100])
def test_a_message_cut_short_is_malformed(left):
    whole = answer({RTA_DST: inet("0.0.0.0"), RTA_GATEWAY: inet("192.0.2.1")})
    with pytest.raises(MalformedMessage):
        decode_answer(whole[:left])


def test_an_address_longer_than_the_message_is_malformed():
    with pytest.raises(MalformedMessage):
        decode_answer(answer({RTA_GATEWAY: bytes([200, AF_INET, 0, 0])}))


@given(st.binary(max_size=80), st.integers(0, 0xFF))
def test_any_addresses_are_read_or_malformed(body, follow):
    head = Header(msglen=92 + len(body), version=5, type=RTM_GET, flags=RTF_GATEWAY, addrs=follow)
    try:
        found = decode_answer(bytes(head) + body)
    except MalformedMessage:
        return
    assert found.gateway is None or follow & RTA_GATEWAY
