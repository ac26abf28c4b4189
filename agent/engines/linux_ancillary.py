"""What Linux says beside a datagram: stamps, and the extended error of the error queue.

Numbers and layouts are those of the kernel's <linux/errqueue.h>, <linux/net_tstamp.h> and
<asm-generic/socket.h>; Python names few of them.
"""

from __future__ import annotations

import socket
import struct
from dataclasses import dataclass

from agent.units import NS_PER_S

IP_RECVERR = 11
IPV6_RECVERR = 25
IP_RECVERR_RFC4884 = 26
IPV6_RECVERR_RFC4884 = 31
SO_TIMESTAMPNS = 35
SO_TIMESTAMPING = 37
MSG_ERRQUEUE = 0x2000
SOL_IPV6 = 41

TX_STAMPS = 1 << 1 | 1 << 4 | 1 << 7 | 1 << 10 | 1 << 11
"""SOF_TIMESTAMPING: TX_SOFTWARE, SOFTWARE, OPT_ID, OPT_CMSG, OPT_TSONLY."""

TX_STAMPS_WITHOUT_ID = TX_STAMPS & ~(1 << 7)
"""Clearing OPT_ID and setting it again makes the kernel count sends from zero."""

SPACE = 512

ORIGIN_ICMP = 2
ORIGIN_ICMP6 = 3
ORIGIN_STAMP = 4

_TIMESPEC = struct.Struct("=qq")
_EXTENDED_ERROR = struct.Struct("=IBBBBII")
_EXTENSIONS_AT = struct.Struct("=H")
_DATA_OFFSET = 12
"""sock_ee_data_rfc4884 shares the place of ee_data in an error of ICMP."""

AncillaryItem = tuple[int, int, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExtendedError:
    """The kernel's sock_extended_err, with the address of who caused it.

    `extensions_at` is where in the returned payload the extensions of RFC 4884 begin, zero where
    there are none or the socket did not ask for them.
    """

    origin: int
    icmp_type: int
    icmp_code: int
    info: int
    data: int
    offender: str | None
    extensions_at: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """All that came beside one datagram; stamps in unix nanoseconds."""

    received_ns: int | None = None
    sent_ns: int | None = None
    error: ExtendedError | None = None


def read_ancillary(items: list[AncillaryItem]) -> Beside:
    """Return what the ancillary data of one recvmsg say; unknown and short items are passed."""
    received_ns = sent_ns = None
    error = None
    for level, kind, data in items:
        if level == socket.SOL_SOCKET and kind == SO_TIMESTAMPNS:
            received_ns = _unix_ns(data)
        elif level == socket.SOL_SOCKET and kind == SO_TIMESTAMPING:
            sent_ns = _unix_ns(data)
        elif (level, kind) in {(socket.SOL_IP, IP_RECVERR), (SOL_IPV6, IPV6_RECVERR)}:
            error = _extended_error(data)
    return Beside(received_ns=received_ns, sent_ns=sent_ns, error=error)


def _unix_ns(data: bytes) -> int | None:
    if len(data) < _TIMESPEC.size:
        return None
    seconds, nanoseconds = _TIMESPEC.unpack_from(data)
    return int(seconds) * NS_PER_S + int(nanoseconds) or None


def _extended_error(data: bytes) -> ExtendedError | None:
    if len(data) < _EXTENDED_ERROR.size:
        return None
    _, origin, icmp_type, icmp_code, _, info, key = _EXTENDED_ERROR.unpack_from(data)
    return ExtendedError(
        origin=origin,
        icmp_type=icmp_type,
        icmp_code=icmp_code,
        info=info,
        data=key,
        extensions_at=_EXTENSIONS_AT.unpack_from(data, _DATA_OFFSET)[0],
        offender=_address(data[_EXTENDED_ERROR.size :]),
    )


def _address(sockaddr: bytes) -> str | None:
    family = int.from_bytes(sockaddr[:2], "little" if _LITTLE else "big")
    if family == socket.AF_INET and len(sockaddr) >= 8:
        return socket.inet_ntop(socket.AF_INET, sockaddr[4:8])
    if family == socket.AF_INET6 and len(sockaddr) >= 24:
        return socket.inet_ntop(socket.AF_INET6, sockaddr[8:24])
    return None


_LITTLE = struct.pack("=H", 1) == b"\1\0"
