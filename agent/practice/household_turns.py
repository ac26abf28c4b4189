"""A device of the home that moves one piece after another, each over a connection of its own.

Small pieces are pages that somebody reads, large ones with a long pause a backup that comes again.
The far end is that of `agent.practice.household`.
"""

from __future__ import annotations

import random
import socket
import threading
import time
from contextlib import suppress
from dataclasses import dataclass

from agent.practice.household import DONE, PATIENCE_S, PORT, REQUEST, drain, fill

UNEVEN = 0.5
"""A pause is so much shorter or longer, drawn by the seed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """What the device moves: pieces of `octets` over `flows` flows, `pause_s` between two."""

    outside: str
    down: bool
    octets: int
    pause_s: float
    flows: int
    seed: int

    def run(self) -> None:
        """Move pieces until the process ends."""
        flows = [threading.Thread(target=self._flow, args=(place,)) for place in range(self.flows)]
        for flow in flows:
            flow.start()
        for flow in flows:
            flow.join()

    def _flow(self, place: int) -> None:
        draw = random.Random(f"{self.seed} turns {place}")
        while True:
            with suppress(OSError):
                self._move()
            time.sleep(self.pause_s * draw.uniform(1 - UNEVEN, 1 + UNEVEN))

    def _move(self) -> None:
        with socket.create_connection((self.outside, PORT), timeout=PATIENCE_S) as stream:
            stream.sendall(REQUEST.pack(self.down, self.octets))
            if self.down:
                drain(stream, self.octets)
            else:
                fill(stream, self.octets)
                drain(stream, len(DONE))
