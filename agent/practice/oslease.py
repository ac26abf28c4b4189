"""Plays the laptop's operating system: takes a lease, sets it in force, writes it down."""

from __future__ import annotations

import secrets
import select
import socket
import struct
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Network

from agent.clock import SystemClock
from agent.codec import dhcp
from agent.codec.checksum import checksum
from agent.errors import MalformedMessage

ETHERTYPE_IPV4 = 0x0800
BROADCAST = b"\xff" * 6
ATTEMPTS = 3
WAIT_S = 1.0
LARGEST = 2048


@dataclass(frozen=True, slots=True, kw_only=True)
class Lease:
    """What a server granted: IPv4 texts, prefix length, seconds."""

    address: str
    prefix: int
    gateway: str | None
    dns: tuple[str, ...]
    server_id: str | None
    lease_s: int
    t1_s: int
    t2_s: int
    obtained: datetime
    captive_api: str | None = None


def take_lease(port: str, hardware_address: bytes) -> Lease | None:
    """Return the lease granted on a port of this network, None when nobody answers.

    DISCOVER, OFFER, REQUEST, ACK as in RFC 2131 §3.1, on a raw socket since there is no address.
    """
    with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(ETHERTYPE_IPV4)) as raw:
        raw.bind((port, ETHERTYPE_IPV4))
        for _ in range(ATTEMPTS):
            xid = secrets.randbits(32)
            asked = dhcp.discover(xid=xid, hardware_address=hardware_address)
            offer = _exchange(raw, asked, dhcp.MessageType.OFFER)
            if offer is None:
                continue
            granted = _exchange(raw, dhcp.request(offer), dhcp.MessageType.ACK)
            if granted is not None:
                return _lease(granted)
    return None


def _exchange(
    raw: socket.socket, asked: dhcp.DhcpMessage, wanted: dhcp.MessageType
) -> dhcp.DhcpMessage | None:
    raw.send(frame(asked))
    deadline = time.monotonic() + WAIT_S
    while (left := deadline - time.monotonic()) > 0:
        if not select.select((raw,), (), (), left)[0]:
            return None
        answer = unframe(raw.recv(LARGEST))
        if answer and answer.xid == asked.xid and answer.message_type == wanted:
            return answer
    return None


def frame(message: dhcp.DhcpMessage) -> bytes:
    """Return a broadcast Ethernet frame with a client's message (RFC 791 §3.1, RFC 768)."""
    body = dhcp.encode(message)
    udp = struct.pack("!4H", dhcp.CLIENT_PORT, dhcp.SERVER_PORT, 8 + len(body), 0) + body
    header = struct.pack(
        "!BBHHHBBH4s4s", 0x45, 0, 20 + len(udp), 0, 0, 64, 17, 0, b"\0" * 4, b"\xff" * 4
    )
    checked = header[:10] + checksum(header).to_bytes(2, "big") + header[12:]
    ethernet = BROADCAST + message.hardware_address + ETHERTYPE_IPV4.to_bytes(2, "big")
    return ethernet + checked + udp


def unframe(data: bytes) -> dhcp.DhcpMessage | None:
    """Return the server's message inside a frame, None when it is something else."""
    start = 14 + (data[14] & 0x0F) * 4 if len(data) > 42 else len(data)
    ports = data[start : start + 4]
    if data[23:24] != b"\x11" or ports != struct.pack("!HH", dhcp.SERVER_PORT, dhcp.CLIENT_PORT):
        return None
    with suppress(MalformedMessage):
        return dhcp.decode(data[start + 8 :])
    return None


def _lease(granted: dhcp.DhcpMessage) -> Lease:
    lease_s = granted.lease_s or 3600
    t1_s, t2_s = dhcp.default_timers(lease_s) or (lease_s, lease_s)
    mask = granted.subnet_mask or "255.255.255.0"
    return Lease(
        address=granted.yiaddr,
        prefix=IPv4Network(f"0.0.0.0/{mask}").prefixlen,
        gateway=granted.routers[0] if granted.routers else None,
        dns=granted.dns,
        server_id=granted.server_id,
        lease_s=lease_s,
        t1_s=granted.t1_s or t1_s,
        t2_s=granted.t2_s or t2_s,
        obtained=SystemClock().wall().astimezone(UTC),
        captive_api=granted.captive_api,
    )


def lease_file(lease: Lease, port: str) -> str:
    """Return the lease as dhclient writes it down (dhclient.leases(5); times in UTC)."""
    mask = IPv4Network(f"0.0.0.0/{lease.prefix}").netmask
    options = {
        "subnet-mask": mask,
        "routers": lease.gateway,
        "dhcp-lease-time": lease.lease_s,
        "dhcp-message-type": 5,
        "domain-name-servers": ",".join(lease.dns),
        "dhcp-server-identifier": lease.server_id,
        "dhcp-renewal-time": lease.t1_s,
        "dhcp-rebinding-time": lease.t2_s,
        "default-url": f'"{lease.captive_api}"' if lease.captive_api else None,
    }
    times = {"renew": lease.t1_s, "rebind": lease.t2_s, "expire": lease.lease_s}
    lines = [f'  interface "{port}";', f"  fixed-address {lease.address};"]
    lines += [f"  option {name} {value};" for name, value in options.items() if value]
    lines += [f"  {name} {_stamp(lease.obtained, after)};" for name, after in times.items()]
    return "\n".join(["lease {", *lines, "}", ""])


def _stamp(start: datetime, after_s: int) -> str:
    """Return weekday (0 = Sunday), date and time, as dhclient.leases(5) says."""
    when = start + timedelta(seconds=after_s)
    return f"{when.isoweekday() % 7} {when:%Y/%m/%d %H:%M:%S}"


def resolver_file(dns: tuple[str, ...]) -> str:
    """Return the text of resolv.conf(5)."""
    return "".join(f"nameserver {address}\n" for address in dns)
