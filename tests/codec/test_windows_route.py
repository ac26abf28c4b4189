"""Windows' forwarding row, built field by field after ipmib.h (from memory)."""

import ctypes
import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.windows_route import decode_row
from agent.errors import MalformedMessage

INVALID, DIRECT, INDIRECT = 2, 3, 4
"""MIB_IPROUTE_TYPE."""


class Row(ctypes.LittleEndianStructure):
    """MIB_IPFORWARDROW."""

    _fields_ = (
        ("destination", ctypes.c_uint8 * 4),
        ("mask", ctypes.c_uint8 * 4),
        ("policy", ctypes.c_uint32),
        ("next_hop", ctypes.c_uint8 * 4),
        ("index", ctypes.c_uint32),
        ("type", ctypes.c_uint32),
        ("protocol", ctypes.c_uint32),
        ("age", ctypes.c_uint32),
        ("next_as", ctypes.c_uint32),
        ("metrics", ctypes.c_uint32 * 5),
    )


def octets(address):
    return (ctypes.c_uint8 * 4)(*socket.inet_aton(address))


def row(destination="0.0.0.0", mask="0.0.0.0", hop="192.0.2.1", kind=INDIRECT, index=14):
    return bytes(
        Row(
            destination=octets(destination),
            mask=octets(mask),
            next_hop=octets(hop),
            type=kind,
            index=index,
        )
    )


def test_a_default_row_names_the_gateway_and_the_interface():
    assert ctypes.sizeof(Row) == 56
    found = decode_row(row())
    assert (found.gateway, found.index, found.default) == ("192.0.2.1", 14, True)


@pytest.mark.parametrize(("hop", "kind"), [("192.0.2.30", DIRECT), ("0.0.0.0", INDIRECT)])
def test_a_row_on_the_link_itself_has_no_gateway(hop, kind):
    # Windows writes the laptop's own address as the next hop of a direct way.
    found = decode_row(row("192.0.2.0", "255.255.255.0", hop, kind))
    assert (found.gateway, found.default) == (None, False)


def test_an_invalid_row_is_no_way():
    assert decode_row(row(kind=INVALID)) is None


@given(st.binary(max_size=70))
def test_short_rows_are_malformed_and_all_others_read(data):
    if len(data) < 56:
        with pytest.raises(MalformedMessage):
            decode_row(data)
    else:
        decode_row(data)
