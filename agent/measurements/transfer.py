"""A bulk transfer in one direction: what arrived in each slice of time."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from agent.measurements.columns import require_equal_lengths


class CountedBy(StrEnum):
    """Who counted the bytes that arrived; `answers` are whole bodies that a server took."""

    CLIENT = "client"
    ACKNOWLEDGED = "acknowledged"
    SERVER = "server"
    ANSWERS = "answers"


class Ended(StrEnum):
    """Why a transfer stopped."""

    TIME = "time"
    DATA = "data"
    INTERVAL = "interval"
    FAULT = "fault"


@dataclass(frozen=True, slots=True, kw_only=True)
class TcpCounters:
    """A reading of the kernel's own counters of one connection (Linux tcp_info).

    Times are milliseconds, sizes bytes, None where this kernel does not tell. `send_window_bytes`
    is the window that the far end offers, `receive_window_bytes` the one that this side offers.
    `unread_bytes` have arrived and wait for this program, `not_sent_bytes` wait for the network.
    """

    at_s: float
    mss_bytes: int | None = None
    path_mtu_bytes: int | None = None
    rtt_ms: float | None = None
    min_rtt_ms: float | None = None
    congestion_window: int | None = None
    bytes_acked: int | None = None
    bytes_received: int | None = None
    bytes_sent: int | None = None
    bytes_retransmitted: int | None = None
    segments_retransmitted: int | None = None
    receive_window_limited_ms: float | None = None
    send_buffer_limited_ms: float | None = None
    busy_ms: float | None = None
    send_window_bytes: int | None = None
    receive_window_bytes: int | None = None
    unread_bytes: int | None = None
    not_sent_bytes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Transfer:
    """One direction.

    `slice_end_s` (seconds from the transfer's first byte) and `slice_bytes` (payload octets of all
    flows that arrived in the slice) are the observation; `slice_flows` how many flows were open.
    `flow_bytes` totals each flow. `tcp` holds the last reading of each flow. `server_bytes` is the
    far end's own total. `interface_bytes` is what the whole interface carried meanwhile, headers
    included. `header_bytes` is what each full segment carries beyond payload inside the IP packet
    (IP + TCP with options), `mtu_bytes` the packet size, for conversions between layers.
    `cpu_ratio` is this process's processor time over wall time, `waited_ratio` the time for which
    its threads together were ready to run and got no processor. `interface_packets` counts the
    packets of `interface_bytes`. `began_s` is when the first byte came, on the visit's time.
    `longest_s` is how long the transfer might have lasted when a narrow interval could end it
    sooner, None where its length was fixed: the interval depends on it. `tcp_samples` are readings
    of all flows about once a second.
    """

    counted_by: CountedBy
    ended: Ended
    flows: int
    slice_end_s: tuple[float, ...] = ()
    slice_bytes: tuple[int, ...] = ()
    slice_flows: tuple[int, ...] = ()
    flow_bytes: tuple[int, ...] = ()
    tcp: tuple[TcpCounters, ...] = ()
    tcp_first: tuple[TcpCounters, ...] = ()
    server_bytes: int | None = None
    interface_bytes: int | None = None
    header_bytes: int | None = None
    mtu_bytes: int | None = None
    congestion_control: str | None = None
    secure: bool = False
    cpu_ratio: float | None = None
    waited_ratio: float | None = None
    interface_packets: int | None = None
    began_s: float | None = None
    longest_s: float | None = None
    tcp_samples: tuple[TcpCounters, ...] = ()

    def __post_init__(self) -> None:
        require_equal_lengths(
            "a transfer",
            slice_end_s=self.slice_end_s,
            slice_bytes=self.slice_bytes,
            slice_flows=self.slice_flows or None,
        )
