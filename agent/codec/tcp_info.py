"""The kernel's counters of one TCP connection, as Linux lays them out in `struct tcp_info`.

The structure has only ever grown at its end (uapi header `linux/tcp.h`), and a kernel copies no
more than it knows: a field is read only where it lies wholly inside the bytes that came.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

ASK_BYTES = 512
"""More than any kernel returns, so that nothing known is cut off."""

TIMESTAMPS = 1
"""TCPI_OPT_TIMESTAMPS: segments carry the timestamp option (RFC 7323 §3.2)."""

_US_PER_MS = 1_000.0
_UNKNOWN_MIN_RTT = 0xFFFFFFFF


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpInfo:
    """What a kernel told; None for a field that it does not have.

    Sizes are bytes, times milliseconds. `bytes_acked` is what the far end acknowledged,
    `bytes_received` what arrived in order; both count payload of the stream, TLS included.
    `sacked_segments` are now at the far end ahead of a hole (RFC 2018 §3). `send_window_bytes` is
    what the far end offers, `receive_window_bytes` what this side offers.
    """

    options: int | None = None
    send_mss_bytes: int | None = None
    sacked_segments: int | None = None
    path_mtu_bytes: int | None = None
    advertised_mss_bytes: int | None = None
    rtt_ms: float | None = None
    congestion_window: int | None = None
    segments_retransmitted: int | None = None
    bytes_acked: int | None = None
    bytes_received: int | None = None
    not_sent_bytes: int | None = None
    min_rtt_ms: float | None = None
    busy_ms: float | None = None
    receive_window_limited_ms: float | None = None
    send_buffer_limited_ms: float | None = None
    bytes_sent: int | None = None
    bytes_retransmitted: int | None = None
    send_window_bytes: int | None = None
    receive_window_bytes: int | None = None

    @property
    def bytes_delivered(self) -> int | None:
        """Return what the far end's TCP holds or has held, those ahead of a hole included.

        Counting acknowledged octets alone moves a whole window of them to the moment when a lost
        segment is replaced.
        """
        if self.bytes_acked is None:
            return None
        return self.bytes_acked + (self.sacked_segments or 0) * (self.send_mss_bytes or 0)

    @property
    def timestamps(self) -> bool | None:
        """Return whether segments carry the timestamp option."""
        return None if self.options is None else bool(self.options & TIMESTAMPS)


def decode_tcp_info(blob: bytes) -> TcpInfo:
    """Return the fields of a `tcp_info` blob; any length is lawful, missing fields stay None."""
    min_rtt = _u32(blob, 148)
    return TcpInfo(
        options=_u8(blob, 5),
        send_mss_bytes=_u32(blob, 16),
        sacked_segments=_u32(blob, 28),
        path_mtu_bytes=_u32(blob, 60),
        advertised_mss_bytes=_u32(blob, 84),
        rtt_ms=_ms(_u32(blob, 68)),
        congestion_window=_u32(blob, 80),
        segments_retransmitted=_u32(blob, 100),
        bytes_acked=_u64(blob, 120),
        bytes_received=_u64(blob, 128),
        not_sent_bytes=_u32(blob, 144),
        min_rtt_ms=None if min_rtt == _UNKNOWN_MIN_RTT else _ms(min_rtt),
        busy_ms=_ms(_u64(blob, 168)),
        receive_window_limited_ms=_ms(_u64(blob, 176)),
        send_buffer_limited_ms=_ms(_u64(blob, 184)),
        bytes_sent=_u64(blob, 200),
        bytes_retransmitted=_u64(blob, 208),
        send_window_bytes=_u32(blob, 228),
        receive_window_bytes=_u32(blob, 232),
    )


def _u8(blob: bytes, offset: int) -> int | None:
    return blob[offset] if offset < len(blob) else None


def _u32(blob: bytes, offset: int) -> int | None:
    return _whole("=I", blob, offset)


def _u64(blob: bytes, offset: int) -> int | None:
    return _whole("=Q", blob, offset)


def _whole(form: str, blob: bytes, offset: int) -> int | None:
    if offset + struct.calcsize(form) > len(blob):
        return None
    (value,) = struct.unpack_from(form, blob, offset)
    return int(value)


def _ms(microseconds: int | None) -> float | None:
    return None if microseconds is None else microseconds / _US_PER_MS
