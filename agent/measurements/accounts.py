"""What of an interface's octets a transfer's own connections account for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from agent.measurements.base import Direction, Measurement
from agent.measurements.transfer import TcpCounters, Transfer
from agent.units import bps

ETHERNET_HEADER_BYTES = 14

UNRESOLVED = 0.01
"""Segments on their way, sent twice or out of order at the two readings: what an account of this
kind cannot tell from traffic of others, as a share of the whole."""


def foreign_bytes(transfer: Transfer, direction: Direction) -> float | None:
    """Return the octets that the interface carried beside the transfer, None where not told.

    Headers are counted once per packet where packets were counted, else once per full segment: a
    kernel that joins segments counts the headers of one.
    """
    carried, payload = transfer.interface_bytes, _own_payload(transfer, direction)
    if carried is None or payload is None:
        return None
    other = carried - payload - _header_bytes(transfer, payload)
    return float(other) if other > UNRESOLVED * carried else 0.0


def accounted_s(transfer: Transfer) -> float:
    """Return how long the two readings of interface and connections lie apart, in seconds."""
    first = [reading.at_s for reading in transfer.tcp_first]
    last = [reading.at_s for reading in transfer.tcp]
    if first and last and max(last) > min(first):
        return max(last) - min(first)
    return transfer.slice_end_s[-1] if transfer.slice_end_s else 0.0


def foreign_rate_bps(measured: Iterable[Measurement]) -> float | None:
    """Return bit/s beside the transfers over their time together, None where none tells."""
    told = list(_told(measured))
    seconds = sum(span_s for _, span_s in told)
    return bps(sum(octets for octets, _ in told), seconds) if seconds > 0 else None


def _told(measured: Iterable[Measurement]) -> Iterator[tuple[float, float]]:
    for one in measured:
        if isinstance(one.observed, Transfer):
            octets = foreign_bytes(one.observed, one.direction)
            if octets is not None:
                yield octets, accounted_s(one.observed)


def _own_payload(transfer: Transfer, direction: Direction) -> int | None:
    """Return what the connections moved between the readings, sent twice included when up."""
    name = "bytes_received" if direction is Direction.DOWN else "bytes_sent"
    moved = [_moved(transfer, flow, last, name) for flow, last in enumerate(transfer.tcp)]
    known = [octets for octets in moved if octets is not None]
    if moved and len(known) == len(moved):
        return sum(known)
    return sum(transfer.slice_bytes) or None


def _moved(transfer: Transfer, flow: int, last: TcpCounters, name: str) -> int | None:
    first = transfer.tcp_first[flow] if flow < len(transfer.tcp_first) else None
    ended: int | None = getattr(last, name)
    begun: int | None = getattr(first, name) if first is not None else 0
    return None if ended is None else ended - (begun or 0)


def _header_bytes(transfer: Transfer, payload: int) -> float:
    header = (transfer.header_bytes or 0) + ETHERNET_HEADER_BYTES
    if transfer.interface_packets is not None:
        return float(transfer.interface_packets * header)
    room = (transfer.mtu_bytes or 0) - (transfer.header_bytes or 0)
    return payload * header / room if room > 0 else 0.0
