"""A kernel filter so that the helper hears DHCP alone, however busy the port is.

Classic packet filter instructions of linux/filter.h as (code, jump if true, jump if false, value);
offsets are those of an untagged frame (RFC 894) with IPv4 (RFC 791 §3.1) and UDP (RFC 768).
"""

from __future__ import annotations

import ctypes
import socket
import struct

from agent.codec.dhcp import CLIENT_PORT

SO_ATTACH_FILTER = 26
INSTRUCTION = struct.Struct("=HBBI")
TO_CLIENT = (
    (0x28, 0, 0, 12),  # load the Ethernet type
    (0x15, 0, 8, 0x0800),  # IPv4, else refuse
    (0x30, 0, 0, 23),  # load the protocol
    (0x15, 0, 6, 17),  # UDP, else refuse
    (0x28, 0, 0, 20),  # load flags and fragment offset
    (0x45, 4, 0, 0x1FFF),  # a later fragment has no ports: refuse
    (0xB1, 0, 0, 14),  # index = length of the IP header
    (0x48, 0, 0, 16),  # load the destination port
    (0x15, 0, 1, CLIENT_PORT),
    (0x06, 0, 0, 0x40000),  # accept
    (0x06, 0, 0, 0),  # refuse
)


def hear_dhcp_alone(sock: socket.socket) -> None:
    """Attach the filter to a packet socket. Raises OSError."""
    program = b"".join(INSTRUCTION.pack(*step) for step in TO_CLIENT)
    buffer = ctypes.create_string_buffer(program, len(program))
    head = struct.pack("HP", len(TO_CLIENT), ctypes.addressof(buffer))
    sock.setsockopt(socket.SOL_SOCKET, SO_ATTACH_FILTER, head)
