"""Opening probe sockets on Linux, tied to the interface under test.

Nothing here needs a privilege: UDP always works, datagram ICMP where `net.ipv4.ping_group_range`
allows it. A raw ICMP socket is used only where the system or the caller gives one.
"""

from __future__ import annotations

import secrets
import socket
import struct
from collections.abc import Callable, Mapping
from contextlib import suppress

from agent.codec.icmp import ECHO_REPLY
from agent.engines.echo_framing import EchoFraming, Framing, PlainFraming
from agent.engines.linux_ancillary import (
    IP_RECVERR,
    IP_RECVERR_RFC4884,
    IPV6_RECVERR,
    IPV6_RECVERR_RFC4884,
    SO_TIMESTAMPING,
    SO_TIMESTAMPNS,
    SOL_IPV6,
    TX_STAMPS,
)
from agent.engines.linux_connect_socket import LinuxConnectSocket
from agent.engines.linux_mtu_socket import keep_whole
from agent.engines.linux_probe_socket import LinuxProbeSocket
from agent.engines.linux_refusals import refusal
from agent.engines.linux_stamping import await_stamping
from agent.engines.linux_tying import FAMILIES, family_of, sockaddr, tie
from agent.errors import RightMissing
from agent.ports.binding import Binding
from agent.ports.datagram import ProbeSocket

RECEIVE_BUFFER = 1 << 20

SOL_RAW = 255
ICMP_FILTER = 1
"""Option 1 at either level: ICMP_FILTER of raw(7), ICMP6_FILTER of RFC 3542 §3.2."""

_ICMP_PROTOCOLS = {4: socket.IPPROTO_ICMP, 6: socket.IPPROTO_ICMPV6}


def open_stamp_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket towards a reflector; raises CannotMeasure."""
    return _open_udp(binding, address, port)


def open_mtu_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket towards a reflector whose packets are never cut; raises CannotMeasure."""
    return _open_udp(binding, address, port, whole=True)


def open_path_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket for a hop walk: one socket, one flow; raises CannotMeasure."""
    return _open_udp(binding, address, port, extensions=True)


def open_unreachable_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket towards a port that nobody listens on; raises CannotMeasure."""
    return _open_udp(binding, address, port)


def open_connect_socket(binding: Binding, address: str, port: int) -> LinuxConnectSocket:
    """Return a socket whose probes are TCP connections to a port."""
    return LinuxConnectSocket(binding, address, port)


def open_echo_socket(
    binding: Binding, address: str, raw: socket.socket | None = None
) -> LinuxProbeSocket:
    """Return an ICMP echo socket; raises CannotMeasure, RightMissing where nothing is allowed.

    `raw` is a raw ICMP socket of the right family, opened while the right was held. It serves
    one series, and belongs to the returned socket from then on; it is left alone where the
    system allows datagram ICMP.
    """
    family = family_of(address)
    sock = _datagram_icmp(family)
    framing = EchoFraming(family=family)
    if sock is None:
        sock = raw or _raw_icmp(family)
        framing = EchoFraming(family=family, identifier=secrets.randbits(16), ip_header=family == 4)
        _only_replies(sock, family)
    return _prepared(sock, family, framing, binding=binding, address=address, port=0)


def _open_udp(
    binding: Binding,
    address: str,
    port: int,
    *,
    extensions: bool = False,
    whole: bool = False,
) -> LinuxProbeSocket:
    family = family_of(address)
    try:
        sock = socket.socket(FAMILIES[family], socket.SOCK_DGRAM)
    except OSError as error:
        raise refusal(error, binding=binding, address=address) from error
    if extensions:
        _ask_for_extensions(sock, family)
    if whole:
        keep_whole(sock, family)
    return _prepared(sock, family, PlainFraming(), binding=binding, address=address, port=port)


def _datagram_icmp(family: int) -> socket.socket | None:
    try:
        return socket.socket(FAMILIES[family], socket.SOCK_DGRAM, _ICMP_PROTOCOLS[family])
    except OSError:
        return None


def _raw_icmp(family: int) -> socket.socket:
    try:
        return socket.socket(FAMILIES[family], socket.SOCK_RAW, _ICMP_PROTOCOLS[family])
    except OSError as error:
        raise RightMissing(right="to send ICMP echo", purpose="delay by echo") from error


def _only_replies(sock: socket.socket, family: int) -> None:
    # A set bit keeps a type out, in 32 bits for IPv4 and in eight words of 32 bits for IPv6.
    word, bit = divmod(ECHO_REPLY[family], 32)
    masks = [0xFFFFFFFF] * (1 if family == 4 else 8)
    masks[word] &= ~(1 << bit)
    level = SOL_RAW if family == 4 else socket.IPPROTO_ICMPV6
    sock.setsockopt(level, ICMP_FILTER, struct.pack(f"={len(masks)}I", *masks))


def _prepared(
    sock: socket.socket,
    family: int,
    framing: Framing,
    *,
    binding: Binding,
    address: str,
    port: int,
) -> LinuxProbeSocket:
    try:
        tie(sock, family, binding)
        sock.connect(sockaddr(address, port, family, binding.interface))
        _ask_for_stamps_and_errors(sock, family)
    except OSError as error:
        sock.close()
        raise refusal(error, binding=binding, address=address) from error
    await_stamping()
    return LinuxProbeSocket(sock, family, framing, binding=binding, address=address)


def _ask_for_stamps_and_errors(sock: socket.socket, family: int) -> None:
    level, option = (socket.SOL_IP, IP_RECVERR) if family == 4 else (SOL_IPV6, IPV6_RECVERR)
    sock.setsockopt(level, option, 1)
    sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
    sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPING, TX_STAMPS)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)


def _ask_for_extensions(sock: socket.socket, family: int) -> None:
    """Have the kernel tell where extensions begin (RFC 4884); Linux before 5.9 cannot."""
    level, option = (
        (socket.SOL_IP, IP_RECVERR_RFC4884) if family == 4 else (SOL_IPV6, IPV6_RECVERR_RFC4884)
    )
    with suppress(OSError):
        sock.setsockopt(level, option, 1)


OPENERS: Mapping[str, Callable[[Binding, str, int], ProbeSocket]] = {
    "stamp": open_stamp_socket,
    "udp-path": open_path_socket,
    "stamp-whole": open_mtu_socket,
    "udp-unreachable": open_unreachable_socket,
    "tcp-connect": open_connect_socket,
}
"""By method, for all but ICMP echo."""
