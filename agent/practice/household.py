"""Another device of the home that moves traffic all the while, as a film or a backup does."""

from __future__ import annotations

import random
import socket
import time
from collections.abc import Callable
from contextlib import suppress

FRAME_OCTETS = 1514
PAYLOAD_OCTETS = 1472
"""Of a full frame: less 14 of Ethernet, 20 of IPv4, 8 of UDP (RFC 791, RFC 768)."""

STREAM_PORT = 5004
"""RFC 3551 §8."""

GREETS_EVERY_S = 1.0
BURST_S = 0.01
"""Mean time from one burst to the next; common practice, no source: senders do not pace evenly."""

FURTHEST_BEHIND_S = 0.5


def send_bursts(send: Callable[[bytes], object], rate_bps: float, seed: str) -> None:
    """Send bursts of full datagrams at a mean rate of frames until the process ends."""
    draw, clock = random.Random(seed), time.monotonic
    pieces = PayloadPieces(rate_bps)
    due = clock()
    while True:
        due = max(due + draw.expovariate(1 / BURST_S), clock() - FURTHEST_BEHIND_S)
        time.sleep(max(0.0, due - clock()))
        for _ in range(pieces.next()):
            with suppress(OSError):
                send(bytes(PAYLOAD_OCTETS))


class PayloadPieces:
    """How many datagrams each burst has, so that the mean is the rate of frames."""

    def __init__(self, rate_bps: float) -> None:
        self._each = rate_bps * BURST_S / 8 / FRAME_OCTETS
        self._left = 0.0

    def next(self) -> int:
        """Return the datagrams of the next burst."""
        self._left += self._each
        whole = int(self._left)
        self._left -= whole
        return whole


def stream_to_who_asks(address: str, rate_bps: float, seed: str) -> None:
    """Wait on the outside for a device of the home, then send to it for ever."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.bind((address, STREAM_PORT))
        _, device = sock.recvfrom(64)
        send_bursts(lambda datagram: sock.sendto(datagram, device), rate_bps, seed)


def watch_stream(address: str) -> None:
    """Ask for the stream again and again from inside the home, and leave it unread."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.connect((address, STREAM_PORT))
        while True:
            with suppress(OSError):
                sock.send(b"on")
            time.sleep(GREETS_EVERY_S)


def send_backup(address: str, port: int, rate_bps: float, seed: str) -> None:
    """Send from inside the home to the outside for ever."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.connect((address, port))
        send_bursts(sock.send, rate_bps, seed)
