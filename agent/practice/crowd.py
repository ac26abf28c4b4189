"""Other customers' traffic: bursts of datagrams at random, as pages and videos load.

Bursts arrive as in a Poisson process and their sizes are exponential, so that a shaped link under
a load of rho holds them up by rho / (1 - rho) times the duration of a mean burst, on average (the
queue M/M/1). What is taken from whoever fills the link is the load itself: nobody in the crowd
gives way.
"""

from __future__ import annotations

import math
import random
import socket
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass

from agent.practice.kernel import sharpen_timers

BURST_S = 0.006
"""What a mean burst keeps the link busy for: some ten fully loaded segments of a page."""

SEGMENT = 1472
"""Payload of a full packet: 1500 octets less IPv4 and UDP headers (RFC 791, RFC 768)."""

FRAME = 1514
MOST_SEGMENTS = 44
"""As many of them as fit into the 65,507 octets that one datagram may have."""

UDP_SEGMENT = 103
"""linux/udp.h: the kernel cuts what is sent into datagrams of this size."""

SO_SNDBUFFORCE = 32
SEND_BUFFER = 256 << 20
"""More than any queue before a port holds, as the kernel counts it."""

LEAST_SWING, MOST_SWING = 0.7, 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Crowd:
    """One direction of the traffic: frames of `load_bps` on a link of `link_bps`, both bit/s.

    With `swing_s` it is there for half of that time on average, then gone for as long.
    """

    link_bps: float
    load_bps: float
    seed: str
    swing_s: float = 0.0


def bursts(crowd: Crowd) -> Iterator[tuple[float, int]]:
    """Yield for ever when the next burst starts, in seconds from the first call, and its frames."""
    draw = random.Random(crowd.seed)
    mean_frames = crowd.link_bps * BURST_S / 8 / FRAME
    gap_s = mean_frames * FRAME * 8 / crowd.load_bps
    rushes = _rushes(crowd.swing_s, draw)
    at_s, (begins_s, ends_s) = 0.0, next(rushes)
    while True:
        at_s += draw.expovariate(1 / gap_s)
        while at_s > ends_s:
            begins_s, ends_s = next(rushes)
        if at_s >= begins_s:
            yield at_s, max(1, round(draw.expovariate(1 / mean_frames)))


def _rushes(swing_s: float, draw: random.Random) -> Iterator[tuple[float, float]]:
    """Yield from when to when the crowd is there."""
    if not swing_s:
        yield 0.0, math.inf
        return
    at_s = -draw.uniform(0, swing_s / 2)
    while True:
        ends_s = at_s + swing_s / 2 * draw.uniform(LEAST_SWING, MOST_SWING)
        yield at_s, ends_s
        at_s = ends_s + swing_s / 2 * draw.uniform(LEAST_SWING, MOST_SWING)


def send_crowd(crowd: Crowd, target: tuple[str, int], *, own_port: bool = False) -> None:
    """Send the traffic to an address and port until the process ends.

    With `own_port` the link that it crowds is this host's own, whose queue would make it wait.
    """
    sharpen_timers()
    began_s = time.monotonic()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as port:
        port.setsockopt(socket.IPPROTO_UDP, UDP_SEGMENT, SEGMENT)
        if own_port:
            with suppress(PermissionError):
                port.setsockopt(socket.SOL_SOCKET, SO_SNDBUFFORCE, SEND_BUFFER)
        for at_s, frames in bursts(crowd):
            time.sleep(max(0.0, began_s + at_s - time.monotonic()))
            _send(port, target, frames)


def _send(port: socket.socket, target: tuple[str, int], frames: int) -> None:
    while frames > 0:
        now = min(frames, MOST_SEGMENTS)
        frames -= now
        with suppress(OSError):
            port.sendto(bytes(now * SEGMENT), target)
