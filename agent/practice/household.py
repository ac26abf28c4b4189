"""Another device of the home that moves traffic all the while, as films and backups do.

It keeps several TCP flows open to the outside. Each moves a piece in every period, so that all
together take a share of the line while nobody else uses it; beside others they take what TCP gives
so many flows.
"""

from __future__ import annotations

import random
import socket
import struct
import threading
import time
from contextlib import suppress
from dataclasses import dataclass

PORT = 5004
PAYLOAD_OF_FRAME = 1448 / 1514
"""Ethernet 14 (IEEE 802.3), IPv4 20 (RFC 791), TCP 20 with time stamps 12 (RFC 7323 §3.2)."""

PERIOD_S = 0.5
UNEVEN = 0.5
"""Pieces come so much sooner or later, drawn by the seed."""

REQUEST = struct.Struct("!?Q")
"""Whether the piece goes towards the home, and its octets."""

DONE = b"."
BLOCK = bytes(1 << 16)
AGAIN_S = 0.2
PATIENCE_S = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Traffic:
    """What the device moves: `rate_bps` at the frame layer, over `flows` flows."""

    outside: str
    down: bool
    rate_bps: float
    flows: int
    seed: int

    @property
    def piece_octets(self) -> int:
        """Return the octets of one flow's piece."""
        each = self.rate_bps * PAYLOAD_OF_FRAME * PERIOD_S / 8 / self.flows
        return max(1, round(each))

    def run(self) -> None:
        """Move traffic until the process ends."""
        flows = [
            threading.Thread(target=self._flow, args=(number,)) for number in range(self.flows)
        ]
        for flow in flows:
            flow.start()
        for flow in flows:
            flow.join()

    def _flow(self, number: int) -> None:
        draw = random.Random(f"{self.seed} household {number}")
        time.sleep(draw.uniform(0, PERIOD_S))
        while True:
            with (
                suppress(OSError),
                socket.create_connection((self.outside, PORT), timeout=PATIENCE_S) as stream,
            ):
                self._move(stream, draw)
            time.sleep(AGAIN_S)

    def _move(self, stream: socket.socket, draw: random.Random) -> None:
        due = time.monotonic()
        while True:
            stream.sendall(REQUEST.pack(self.down, self.piece_octets))
            if self.down:
                drain(stream, self.piece_octets)
            else:
                fill(stream, self.piece_octets)
                drain(stream, len(DONE))
            due = max(due + PERIOD_S * draw.uniform(1 - UNEVEN, 1 + UNEVEN), time.monotonic())
            time.sleep(max(0.0, due - time.monotonic()))


def serve_traffic(address: str) -> None:
    """Give and take pieces on the outside until the process ends."""
    with socket.create_server((address, PORT), backlog=64) as server:
        while True:
            stream, _ = server.accept()
            threading.Thread(target=_answer, args=(stream,), daemon=True).start()


def _answer(stream: socket.socket) -> None:
    with stream, suppress(OSError):
        while True:
            down, octets = REQUEST.unpack(_read(stream, REQUEST.size))
            if down:
                fill(stream, octets)
            else:
                drain(stream, octets)
                stream.sendall(DONE)


def _read(stream: socket.socket, octets: int) -> bytes:
    got = stream.recv(octets, socket.MSG_WAITALL)
    if len(got) < octets:
        raise ConnectionResetError
    return got


def fill(stream: socket.socket, octets: int) -> None:
    """Send so many octets. Raises OSError."""
    while octets > 0:
        octets -= stream.send(BLOCK[:octets])


def drain(stream: socket.socket, octets: int) -> None:
    """Take so many octets. Raises OSError."""
    while octets > 0:
        got = len(stream.recv(min(len(BLOCK), octets)))
        if not got:
            raise ConnectionResetError
        octets -= got
