"""Making sure that the kernel stamps packets as they arrive before anything is timed.

Linux switches receive stamps on in the background, for all sockets at once. Until then a packet
carries the time at which it was read, which is late by however long it lay there. Two packets
between two sockets of this program tell the one from the other without touching the line.
"""

from __future__ import annotations

import socket
import time

from agent.clock import unix_ns
from agent.engines.linux_ancillary import SO_TIMESTAMPNS, SPACE, read_ancillary

SETTLING_S = 0.05
"""What stamping takes to start (measured on Linux 6.18: well within), where it cannot be seen."""

LYING_S = 0.001
"""How long a packet lies unread, so that a stamp of its reading is told from one of its arrival."""

TRIES = 20

LOOPBACK = "127.0.0.1"


def await_stamping() -> bool:
    """Wait until arriving packets are stamped, as long as a stamped socket is held open.

    Returns whether that was seen. Without a loopback address a fixed time is waited instead.
    """
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
            sock.bind((LOOPBACK, 0))
            sock.settimeout(SETTLING_S)
            return any(_stamped_on_arrival(sock) for _ in range(TRIES))
    except OSError:
        time.sleep(SETTLING_S)
        return False


def _stamped_on_arrival(sock: socket.socket) -> bool:
    sock.sendto(b"", sock.getsockname())
    time.sleep(LYING_S)
    read_ns = unix_ns()
    _, items, _, _ = sock.recvmsg(1, SPACE)
    stamp_ns = read_ancillary(items).received_ns
    return stamp_ns is not None and stamp_ns < read_ns
