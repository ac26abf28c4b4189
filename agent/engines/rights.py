"""Splitting rights off before anything is read from a network.

Run plainly, nothing is there to split. With the raw-frame right (sudo, or a namespace of one's
own) the helper process keeps that right alone; the agent keeps at most raw ICMP sockets, becomes
the user who called, and holds no capability any more.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import socket
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field

from agent.engines.linux_capabilities import Account, keep_only, may_send_frames
from agent.errors import RightMissing
from agent.ports.frames import FramePort

NOT_ASKED = "not-asked"
RIGHT_MISSING = "right-missing"
EXTRA_MISSING = "frames-extra-missing"
NOT_SUPPORTED = "system-not-supported"


POOL = 8
"""Raw sockets of each family kept for later series; a series uses one up."""

ICMP_FILTER = 1
BLOCK = {socket.AF_INET: b"\xff" * 4, socket.AF_INET6: b"\xff" * 32}
PASS = {socket.AF_INET: b"\0" * 4, socket.AF_INET6: b"\0" * 32}
SOL_RAW = 255
LEVEL = {socket.AF_INET: SOL_RAW, socket.AF_INET6: socket.IPPROTO_ICMPV6}
PROTOCOL = {socket.AF_INET: socket.IPPROTO_ICMP, socket.AF_INET6: socket.IPPROTO_ICMPV6}
"""ICMP_FILTER of raw(7) and ICMP6_FILTER of RFC 3542 §3.2: a set bit keeps a type out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rights:
    """What is left after the split; `frames_reason` says why there is no helper.

    Raw ICMP sockets are there only where the system grants this user no datagram ICMP. They hear
    nothing until they are taken.
    """

    frames: FramePort | None = None
    frames_reason: str | None = None
    pool: list[socket.socket] = field(default_factory=list)

    def take_raw_icmp(self, family: int) -> socket.socket | None:
        """Return a raw ICMP socket of family 4 or 6 for one series, None where none is left."""
        wanted = socket.AF_INET6 if family == 6 else socket.AF_INET
        for held in self.pool:
            if held.family == wanted:
                self.pool.remove(held)
                held.setsockopt(LEVEL[wanted], ICMP_FILTER, PASS[wanted])
                return held
        return None

    def close(self) -> None:
        """End the helper and close the sockets; safe to call twice."""
        if self.frames is not None:
            self.frames.close()
        while self.pool:
            self.pool.pop().close()


def split_rights(want_frames: bool, environment: Mapping[str, str] = os.environ) -> Rights:
    """Start the helper where it is wanted and allowed, then give up every right.

    Must run before any thread is started and before any network input is read. Raises RightMissing
    where the system does not let rights be given up: going on with them would be unsafe.
    """
    if sys.platform != "linux":
        return Rights(frames_reason=NOT_SUPPORTED if want_frames else NOT_ASKED)
    if threading.active_count() > 1:
        raise RightMissing(right="a single thread", purpose="giving up rights")
    account = Account.calling(environment)
    raw = may_send_frames()
    frames, reason = _frames(want_frames, raw, account)
    rights = Rights(frames=frames, frames_reason=reason, pool=_raw_icmp() if raw else [])
    try:
        keep_only(0, account)
    except OSError as error:
        rights.close()
        raise RightMissing(right=f"setting rights ({error})", purpose="giving up rights") from error
    _close_needless(rights.pool)
    return rights


def _frames(wanted: bool, raw: bool, account: Account) -> tuple[FramePort | None, str | None]:
    if not wanted:
        return None, NOT_ASKED
    if not raw:
        return None, RIGHT_MISSING
    if importlib.util.find_spec("scapy") is None:
        return None, EXTRA_MISSING
    from agent.engines.helper_client import start_helpers  # noqa: PLC0415 - Linux only

    try:
        return start_helpers(account), None
    except OSError:
        return None, RIGHT_MISSING


def _raw_icmp() -> list[socket.socket]:
    """Return silent raw ICMP sockets of both families, as far as the system opens them."""
    pool: list[socket.socket] = []
    for family in (socket.AF_INET, socket.AF_INET6):
        with contextlib.suppress(OSError):
            for _ in range(POOL):
                pool.append(socket.socket(family, socket.SOCK_RAW, PROTOCOL[family]))
                pool[-1].setsockopt(LEVEL[family], ICMP_FILTER, BLOCK[family])
    return pool


def _close_needless(pool: list[socket.socket]) -> None:
    """Close the raw sockets of families in which this user may open datagram ICMP."""
    for held in list(pool):
        family = socket.AddressFamily(held.family)
        with contextlib.suppress(OSError):
            socket.socket(family, socket.SOCK_DGRAM, PROTOCOL[family]).close()
            pool.remove(held)
            held.close()
