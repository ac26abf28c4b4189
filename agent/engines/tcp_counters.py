"""The system's own counters: of one TCP connection, of an interface, of this process."""

from __future__ import annotations

import socket
import sys
import time
from collections.abc import Callable
from pathlib import Path

from agent.codec.tcp_info import ASK_BYTES, TcpInfo, decode_tcp_info
from agent.measurements import TcpCounters
from agent.ports.stream import FlowFacts, Usage

# Fixed header lengths: IPv4 RFC 791 §3.1, IPv6 RFC 8200 §3, TCP RFC 9293 §3.1.
IP_HEADER_BYTES = {4: 20, 6: 40}
TCP_HEADER_BYTES = 20
# The 10-byte timestamp option, padded to whole words (RFC 7323 §3.2 and appendix A).
TIMESTAMP_BYTES = 12

_TCP_CONGESTION = 13

TcpTeller = Callable[[socket.socket], TcpInfo | None]
"""Reads what the kernel knows of a connection, None where it tells nothing."""


def read_tcp_info(sock: socket.socket) -> TcpInfo | None:
    """Return the kernel's counters of a connection, None where this system has none."""
    if sys.platform != "linux":
        return None
    try:
        return decode_tcp_info(sock.getsockopt(socket.IPPROTO_TCP, socket.TCP_INFO, ASK_BYTES))
    except OSError:
        return None


def as_counters(info: TcpInfo, at_s: float) -> TcpCounters:
    """Return the reading as it is recorded."""
    return TcpCounters(
        at_s=at_s,
        mss_bytes=info.send_mss_bytes,
        path_mtu_bytes=info.path_mtu_bytes,
        rtt_ms=info.rtt_ms,
        min_rtt_ms=info.min_rtt_ms,
        congestion_window=info.congestion_window,
        bytes_acked=info.bytes_acked,
        bytes_received=info.bytes_received,
        bytes_sent=info.bytes_sent,
        bytes_retransmitted=info.bytes_retransmitted,
        segments_retransmitted=info.segments_retransmitted,
        receive_window_limited_ms=info.receive_window_limited_ms,
        send_buffer_limited_ms=info.send_buffer_limited_ms,
        busy_ms=info.busy_ms,
        send_window_bytes=info.send_window_bytes,
        receive_window_bytes=info.receive_window_bytes,
        not_sent_bytes=info.not_sent_bytes,
    )


def read_facts(
    sock: socket.socket, remote: str, family: int, told: TcpInfo | None, *, secure: bool
) -> FlowFacts:
    """Return what stays the same over the life of a connection."""
    info = told or TcpInfo()
    return FlowFacts(
        remote=remote,
        family=family,
        secure=secure,
        congestion_control=congestion_control(sock),
        header_bytes=header_bytes(info, family),
        mtu_bytes=info.path_mtu_bytes,
    )


def header_bytes(info: TcpInfo, family: int) -> int | None:
    """Return IP and TCP header with options of a full segment, None where options are unknown."""
    if info.timestamps is None:
        return None
    return IP_HEADER_BYTES[family] + TCP_HEADER_BYTES + TIMESTAMP_BYTES * info.timestamps


def congestion_control(sock: socket.socket) -> str | None:
    """Return the name of the algorithm that governs what this side sends."""
    if sys.platform != "linux":
        return None
    try:
        name = sock.getsockopt(socket.IPPROTO_TCP, _TCP_CONGESTION, 16)
    except OSError:
        return None
    return name.split(b"\0", 1)[0].decode("ascii", "replace") or None


def unread_bytes(sock: socket.socket) -> int | None:
    """Return the octets that wait in the kernel for this program (FIONREAD), None if not told."""
    if sys.platform == "win32":
        return None
    import fcntl  # noqa: PLC0415 - not on every system
    import termios  # noqa: PLC0415

    waiting = bytearray(4)
    try:
        fcntl.ioctl(sock, termios.FIONREAD, waiting)
    except (OSError, ValueError):
        return None
    return int.from_bytes(waiting, sys.byteorder)


def read_usage(interface: str | None) -> Usage:
    """Return running totals of an interface (None: not told) and of this process."""
    import psutil  # noqa: PLC0415 - heavy; only where a transfer runs

    totals = psutil.net_io_counters(pernic=True, nowrap=False).get(interface or "")
    return Usage(
        received_bytes=totals.bytes_recv if totals else None,
        sent_bytes=totals.bytes_sent if totals else None,
        received_packets=totals.packets_recv if totals else None,
        sent_packets=totals.packets_sent if totals else None,
        processor_s=time.process_time(),
        waited_s=_waited_s(),
    )


def _waited_s() -> float | None:
    """Return for how long this process's threads were ready and got no processor.

    The second figure of schedstat, in ns (Linux, Documentation/scheduler/sched-stats.rst). Threads
    that have ended are not in it.
    """
    waits = [_second_figure(path) for path in Path("/proc/self/task").glob("*/schedstat")]
    known = [wait for wait in waits if wait is not None]
    return sum(known) / 1e9 if known else None


def _second_figure(path: Path) -> int | None:
    try:
        return int(path.read_text(encoding="ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return None
