"""A router whose own answers to echo come late, while it forwards at once.

So do routers whose processor answers and whose hardware forwards (common practice, no source).
"""

from __future__ import annotations

import select
import socket
import time
from collections import deque

ECHO_REQUEST = 8
"""RFC 792, echo: the type of a request; that of a reply is 0."""

LARGEST = 65_535
CHECKSUM = slice(2, 4)


def answer_late(delay_s: float) -> None:
    """Answer every echo request to this host so much later, until the process ends."""
    due: deque[tuple[float, bytes, str]] = deque()
    with socket.socket(socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_ICMP) as port:
        while True:
            wait = due[0][0] - time.monotonic() if due else None
            if select.select((port,), (), (), None if wait is None else max(0.0, wait))[0]:
                packet, (sender, _) = port.recvfrom(LARGEST)
                reply = reply_to(packet)
                if reply is not None:
                    due.append((time.monotonic() + delay_s, reply, sender))
            while due and due[0][0] <= time.monotonic():
                _, reply, asked_by = due.popleft()
                port.sendto(reply, (asked_by, 0))


def reply_to(packet: bytes) -> bytes | None:
    """Return the reply to an IPv4 packet with an echo request (RFC 792), None for any other."""
    request = packet[(packet[0] & 0x0F) * 4 :]
    if len(request) < 8 or request[0] != ECHO_REQUEST:
        return None
    reply = bytearray(request)
    reply[0] = 0
    reply[CHECKSUM] = b"\0\0"
    reply[CHECKSUM] = checksum(bytes(reply)).to_bytes(2, "big")
    return bytes(reply)


def checksum(octets: bytes) -> int:
    """Return the Internet checksum (RFC 1071 §1)."""
    padded = octets + b"\0" * (len(octets) % 2)
    total = sum(int.from_bytes(padded[at : at + 2], "big") for at in range(0, len(padded), 2))
    while total > 0xFFFF:
        total = (total & 0xFFFF) + (total >> 16)
    return total ^ 0xFFFF
