"""Opening probe sockets on Linux, tied to the interface under test.

Nothing here needs a privilege: UDP always works, datagram ICMP where `net.ipv4.ping_group_range`
allows it. A raw ICMP socket is used only where the system or the caller gives one.
"""

from __future__ import annotations

import secrets
import socket
import struct
import time
from ipaddress import ip_address

from agent.codec.icmp import ECHO_REPLY
from agent.engines.echo_framing import EchoFraming, Framing, PlainFraming
from agent.engines.linux_ancillary import (
    IP_RECVERR,
    IPV6_RECVERR,
    SO_TIMESTAMPING,
    SO_TIMESTAMPNS,
    SOL_IPV6,
    TX_STAMPS,
)
from agent.engines.linux_probe_socket import LinuxProbeSocket
from agent.engines.linux_refusals import refusal
from agent.errors import RightMissing
from agent.ports.binding import Binding

STAMPING_STARTS_S = 0.05
"""The kernel switches receive stamps on in the background; measured on Linux 6.18: well within."""

RECEIVE_BUFFER = 1 << 20

SOL_RAW = 255
ICMP_FILTER = 1

_FAMILIES = {4: socket.AF_INET, 6: socket.AF_INET6}
_ICMP_PROTOCOLS = {4: socket.IPPROTO_ICMP, 6: socket.IPPROTO_ICMPV6}


def open_stamp_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket towards a reflector; raises CannotMeasure."""
    return _open_udp(binding, address, port)


def open_path_socket(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    """Return a UDP socket for a hop walk: one socket, one flow; raises CannotMeasure."""
    return _open_udp(binding, address, port)


def open_echo_socket(
    binding: Binding, address: str, raw: socket.socket | None = None
) -> LinuxProbeSocket:
    """Return an ICMP echo socket; raises CannotMeasure, RightMissing where nothing is allowed.

    `raw` is a raw ICMP socket of the right family, opened while the right was held. It serves
    one series, and belongs to the returned socket from then on; it is left alone where the
    system allows datagram ICMP.
    """
    family = ip_address(address.partition("%")[0]).version
    sock = _datagram_icmp(family)
    framing = EchoFraming(family=family)
    if sock is None:
        sock = raw or _raw_icmp(family)
        framing = EchoFraming(family=family, identifier=secrets.randbits(16), ip_header=family == 4)
        _only_replies(sock, family)
    return _prepared(sock, family, framing, binding=binding, address=address, port=0)


def _open_udp(binding: Binding, address: str, port: int) -> LinuxProbeSocket:
    family = ip_address(address.partition("%")[0]).version
    try:
        sock = socket.socket(_FAMILIES[family], socket.SOCK_DGRAM)
    except OSError as error:
        raise refusal(error, binding=binding, address=address) from error
    return _prepared(sock, family, PlainFraming(), binding=binding, address=address, port=port)


def _datagram_icmp(family: int) -> socket.socket | None:
    try:
        return socket.socket(_FAMILIES[family], socket.SOCK_DGRAM, _ICMP_PROTOCOLS[family])
    except OSError:
        return None


def _raw_icmp(family: int) -> socket.socket:
    try:
        return socket.socket(_FAMILIES[family], socket.SOCK_RAW, _ICMP_PROTOCOLS[family])
    except OSError as error:
        raise RightMissing(right="to send ICMP echo", purpose="delay by echo") from error


def _only_replies(sock: socket.socket, family: int) -> None:
    if family == 4:
        mask = struct.pack("=I", 0xFFFFFFFF & ~(1 << ECHO_REPLY[4]))
        sock.setsockopt(SOL_RAW, ICMP_FILTER, mask)


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
        _tie(sock, family, binding, address, port)
        _ask_for_stamps_and_errors(sock, family)
    except OSError as error:
        sock.close()
        raise refusal(error, binding=binding, address=address) from error
    time.sleep(STAMPING_STARTS_S)
    return LinuxProbeSocket(sock, family, framing, binding=binding, address=address)


def _tie(sock: socket.socket, family: int, binding: Binding, address: str, port: int) -> None:
    sock.setblocking(False)
    if binding.interface is not None:
        name = binding.interface.encode() + b"\0"
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, name)
    own = binding.source(family)
    if own is not None:
        sock.bind(_sockaddr(own, 0, family, binding.interface))
    sock.connect(_sockaddr(address, port, family, binding.interface))


def _ask_for_stamps_and_errors(sock: socket.socket, family: int) -> None:
    level, option = (socket.SOL_IP, IP_RECVERR) if family == 4 else (SOL_IPV6, IPV6_RECVERR)
    sock.setsockopt(level, option, 1)
    sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
    sock.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPING, TX_STAMPS)
    sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER)


def _sockaddr(
    address: str, port: int, family: int, interface: str | None
) -> tuple[str, int] | tuple[str, int, int, int]:
    if family == 4:
        return address, port
    plain, _, zone = address.partition("%")
    name = (zone or interface) if ip_address(plain).is_link_local else None
    return plain, port, 0, socket.if_nametoindex(name) if name else 0
