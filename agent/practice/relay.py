"""The access line itself: a process that carries frames between two ports with delay and loss."""

from __future__ import annotations

import heapq
import json
import math
import mmap
import os
import random
import select
import socket
import struct
import time
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from agent.practice.kernel import sharpen_timers
from agent.practice.outages import Outages

SOL_PACKET = 263
PACKET_VNET_HDR = 15
PACKET_IGNORE_OUTGOING = 23
PACKET_STATISTICS = 6
SO_RCVBUFFORCE = 33
ALL_PROTOCOLS = 3
VNET_HEADER = 10
LARGEST = 65535 + 18 + VNET_HEADER
RECEIVE_BUFFER = 64 << 20
LOOK_EVERY_S = 0.5
OWN_DELAY_S = 0.0001
"""What the hosts of an idle path and this process itself add each way; measured here, so that
round trips come out as ordered."""

TURN = 64
"""Frames taken from one side before the other has its turn."""

IP_TYPES = (b"\x08\x00", b"\x86\xdd")
WAYS = ("up", "down")
COUNTERS = ("carried", "lost", "reordered", "duplicated", "refused", "overrun")


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What one direction of the line does to IP packets; seconds and ratios."""

    delay_s: float
    jitter_s: float = 0.0
    loss: float = 0.0
    burst: float = 1.0
    reorder: float = 0.0
    reorder_s: float = 0.0
    duplicate: float = 0.0


class Losses:
    """Loss of a two-state Markov chain (Gilbert 1960): mean ratio `loss`, mean run `burst`.

    With P(leave loss) = 1/burst and P(enter loss) = loss / (burst (1 - loss)) the share of time
    in loss is `loss`; burst 1/(1-loss) is independent loss.
    """

    def __init__(self, loss: float, burst: float, draw: random.Random) -> None:
        self._draw = draw.random
        self._losing = False
        run = max(burst, 1 / (1 - loss))
        self._stay = 1 - 1 / run
        self._enter = loss / (run * (1 - loss)) if loss else 0.0

    def next(self) -> bool:
        """Return whether the next packet is lost."""
        self._losing = self._draw() < (self._stay if self._losing else self._enter)
        return self._losing


class Direction:
    """One way of the line: the frames under way, in order or held back."""

    def __init__(self, name: str, way: Way, seed: str, counters: memoryview, log: int) -> None:
        self.name = name
        self._way = way
        self._draw = random.Random(seed)
        self._losses = Losses(way.loss, way.burst, self._draw)
        self._plain = way == Way(delay_s=way.delay_s)
        self._counters = counters
        self._log = log
        self._ordered: deque[tuple[float, bytes]] = deque()
        self._held: list[tuple[float, int, bytes]] = []
        self._last_due = 0.0
        self._serial = 0
        self.outages: Outages | None = None

    def take(self, frame: bytes, now: float) -> None:
        """Take a frame that arrived at `now` (monotonic seconds)."""
        if self.outages is not None and self.outages.dark_at(now):
            self._counters[1] += 1
            self._note_loss(frame, now)
            return
        if self._plain or frame[12:14] not in IP_TYPES:
            self._last_due = max(self._last_due, now + self._way.delay_s)
            self._ordered.append((self._last_due, frame))
            return
        if self._losses.next():
            self._counters[1] += 1
            self._note_loss(frame, now)
            return
        self._delay(frame, now)

    def _delay(self, frame: bytes, now: float) -> None:
        way, draw = self._way, self._draw.random
        due = now + way.delay_s
        if way.jitter_s:
            due += -way.jitter_s * math.log(1 - draw())
        if way.duplicate and draw() < way.duplicate:
            self._counters[3] += 1
            self._hold(due, frame)
        if way.reorder and draw() < way.reorder:
            self._counters[2] += 1
            self._hold(due + way.reorder_s, frame)
            return
        self._last_due = max(self._last_due, due)
        self._ordered.append((self._last_due, frame))

    def _hold(self, due: float, frame: bytes) -> None:
        self._serial += 1
        heapq.heappush(self._held, (due, self._serial, frame))

    def _note_loss(self, frame: bytes, now: float) -> None:
        line = {"way": self.name, "at_s": now, "packet": frame[14:78].hex()}
        os.write(self._log, json.dumps(line).encode() + b"\n")

    def next_due(self) -> float:
        """Return when the next frame leaves, infinity when none is under way."""
        ordered = self._ordered[0][0] if self._ordered else math.inf
        return min(ordered, self._held[0][0]) if self._held else ordered

    def release(self, out: socket.socket, now: float) -> None:
        """Send whatever is due."""
        while self._ordered and self._ordered[0][0] <= now:
            self._send(out, self._ordered.popleft()[1])
        while self._held and self._held[0][0] <= now:
            self._send(out, heapq.heappop(self._held)[2])

    def overran(self, frames: int) -> None:
        """Count frames that arrived faster than they could be read: losses not ordered."""
        self._counters[5] += frames

    def _send(self, out: socket.socket, frame: bytes) -> None:
        try:
            out.send(frame)
            self._counters[0] += 1
        except OSError:
            self._counters[4] += 1


def open_port(name: str, *, whole_super_frames: bool) -> socket.socket:
    """Return a packet socket on a port that sees arriving frames alone."""
    port = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, 0)
    if whole_super_frames:
        port.setsockopt(SOL_PACKET, PACKET_VNET_HDR, 1)
    port.setsockopt(SOL_PACKET, PACKET_IGNORE_OUTGOING, 1)
    try:
        port.setsockopt(socket.SOL_SOCKET, SO_RCVBUFFORCE, RECEIVE_BUFFER)
    except PermissionError:
        port.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)
    port.bind((name, ALL_PROTOCOLS))
    port.setblocking(False)
    return port


def carry(ports: tuple[socket.socket, socket.socket], up: Direction, down: Direction) -> None:
    """Carry frames between the ports until the process ends."""
    home, network = ports
    legs = ((home, up), (network, down))
    outs = ((up, network), (down, home))
    monotonic = time.monotonic
    looked = monotonic()
    while True:
        wait = min(up.next_due(), down.next_due()) - monotonic()
        ready = select.select(ports, (), (), min(LOOK_EVERY_S, max(0.0, wait)))[0]
        for port, direction in legs:
            if port in ready:
                _fill(port, direction, monotonic())
        for direction, out in outs:
            direction.release(out, monotonic())
        if monotonic() > looked + LOOK_EVERY_S:
            looked = monotonic()
            for port, direction in legs:
                direction.overran(dropped_by_kernel(port))


def dropped_by_kernel(port: socket.socket) -> int:
    """Return the frames lost for want of buffer since the last look (packet(7))."""
    seen_and_dropped = port.getsockopt(SOL_PACKET, PACKET_STATISTICS, 8)
    return int(struct.unpack("II", seen_and_dropped)[1])


def _fill(port: socket.socket, direction: Direction, now: float) -> None:
    for _ in range(TURN):
        try:
            direction.take(port.recv(LARGEST), now)
        except BlockingIOError:
            return


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayPlan:
    """What the relay carries: `counters` and `log` are descriptors that it writes to.

    It is dark for `dark_s` after each `dark_every_s` on average, both seconds; 0 is never.
    """

    ports: tuple[str, str]
    up: Way
    down: Way
    seed: int
    whole_super_frames: bool
    counters: int
    log: int
    dark_s: float = 0.0
    dark_every_s: float = 0.0


def plain_pair(plan: RelayPlan, shared: memoryview) -> tuple[Direction, Direction]:
    """Return the two directions of a plan, each for itself; `shared` are all counters."""
    up, down = (
        Direction(name, way, f"{plan.seed} {name}", counters_of(shared, place), plan.log)
        for place, (name, way) in enumerate(zip(WAYS, (plan.up, plan.down), strict=True))
    )
    return up, down


Pair = Callable[[RelayPlan, memoryview], tuple[Direction, Direction]]
"""Makes the directions up and down of a plan."""


def run_relay(plan: RelayPlan, ready: int, pair: Pair = plain_pair) -> None:
    """Carry frames for ever; a byte on the descriptor `ready` says that the ports are open."""
    sharpen_timers()
    with suppress(PermissionError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))
    shared = memoryview(mmap.mmap(plan.counters, mmap.PAGESIZE)).cast("Q")
    directions = pair(plan, shared)
    _darken(directions, plan)
    home, network = (
        open_port(name, whole_super_frames=plan.whole_super_frames) for name in plan.ports
    )
    os.write(ready, b"1")
    os.close(ready)
    carry((home, network), *directions)


def _darken(directions: tuple[Direction, Direction], plan: RelayPlan) -> None:
    """Let both directions be dark at the same times."""
    began_s = time.monotonic()
    for direction in directions if plan.dark_s else ():
        direction.outages = Outages(plan.dark_s, plan.dark_every_s, plan.seed, began_s)


def counters_of(shared: memoryview, place: int) -> memoryview:
    """Return the counters of one direction, by its place in WAYS."""
    return shared[place * len(COUNTERS) : (place + 1) * len(COUNTERS)]
