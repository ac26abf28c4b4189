"""The operator's translator from IPv6 to IPv4: headers by RFC 7915, addresses by RFC 6052.

Each IPv6 address of a customer is given an IPv4 address of the pool for as long as this runs, so
that ports stay as they are. It carries TCP, UDP and echo; errors of ICMP are not carried.
"""

from __future__ import annotations

import socket
import struct
from collections.abc import Sequence
from ipaddress import IPv4Address, IPv6Address

from agent.codec.checksum import checksum
from agent.codec.translation import WELL_KNOWN, embedded, extracted

EVERY_FRAME = 0x0003
IPV4, IPV6 = 0x0800, 0x86DD
HEAD_4, HEAD_6 = 20, 40
TCP, UDP, ICMP, ICMPV6 = 6, 17, 1, 58
ECHOES = {128: 8, 129: 0}
"""Echo request and reply, of ICMPv6 and of ICMP (RFC 7915 §4.2, §5.2)."""

CHECKSUM_AT = {TCP: 16, UDP: 6, ICMP: 2, ICMPV6: 2}
LARGEST = 1500
DO_NOT_FRAGMENT = 0x4000


class Translator:
    """Turns packets of one family into packets of the other; knows who has which address."""

    def __init__(self, pool: Sequence[str]) -> None:
        self._free = [IPv4Address(address) for address in pool]
        self._given: dict[IPv6Address, IPv4Address] = {}

    def to_ipv4(self, packet: bytes) -> bytes | None:
        """Return the IPv4 packet of one to the well-known prefix, None where there is none."""
        if len(packet) < HEAD_6:
            return None
        length, protocol, hops = struct.unpack_from("!HBB", packet, 4)
        source, target = IPv6Address(packet[8:24]), IPv6Address(packet[24:40])
        body = packet[HEAD_6 : HEAD_6 + length]
        given = self._give(source)
        if target not in WELL_KNOWN or given is None or hops < 2:
            return None
        ends = given.packed + extracted(WELL_KNOWN, target).packed
        carried = _to_icmp(body) if protocol == ICMPV6 else (protocol, body)
        return None if carried is None else _packet_4(carried, hops - 1, ends)

    def to_ipv6(self, packet: bytes) -> bytes | None:
        """Return the IPv6 packet of one to the pool, None where nobody waits for it."""
        if len(packet) < HEAD_4:
            return None
        start, (whole,) = (packet[0] & 15) * 4, struct.unpack_from("!H", packet, 2)
        hops, protocol = packet[8], packet[9]
        source, target = IPv4Address(packet[12:16]), IPv4Address(packet[16:20])
        owner = next((six for six, four in self._given.items() if four == target), None)
        body = packet[start:whole]
        if owner is None or hops < 2 or HEAD_6 + len(body) > LARGEST:
            return None
        ends = embedded(WELL_KNOWN, source).packed + owner.packed
        carried = _to_icmpv6(body) if protocol == ICMP else (protocol, body)
        return None if carried is None else _packet_6(carried, hops - 1, ends)

    def _give(self, source: IPv6Address) -> IPv4Address | None:
        if source not in self._given and self._free and not source.is_link_local:
            self._given[source] = self._free.pop(0)
        return self._given.get(source)


def _to_icmp(body: bytes) -> tuple[int, bytes] | None:
    known = ECHOES.get(body[0]) if body else None
    return None if known is None else (ICMP, bytes([known]) + body[1:])


def _to_icmpv6(body: bytes) -> tuple[int, bytes] | None:
    known = {four: six for six, four in ECHOES.items()}.get(body[0]) if body else None
    return None if known is None else (ICMPV6, bytes([known]) + body[1:])


def _packet_4(carried: tuple[int, bytes], hops: int, ends: bytes) -> bytes | None:
    protocol, body = carried
    pseudo = b"" if protocol == ICMP else ends + struct.pack("!BBH", 0, protocol, len(body))
    checked = _checked(protocol, body, pseudo)
    fields = (0x45, 0, HEAD_4 + len(body), 0, DO_NOT_FRAGMENT, hops, protocol, 0, ends)
    head = struct.pack("!BBHHHBBH8s", *fields)
    head = head[:10] + checksum(head).to_bytes(2, "big") + head[12:]
    return None if checked is None else head + checked


def _packet_6(carried: tuple[int, bytes], hops: int, ends: bytes) -> bytes | None:
    protocol, body = carried
    checked = _checked(protocol, body, ends + struct.pack("!II", len(body), protocol))
    head = struct.pack("!IHBB", 6 << 28, len(body), protocol, hops) + ends
    return None if checked is None else head + checked


def _checked(protocol: int, body: bytes, pseudo: bytes) -> bytes | None:
    """Return the transport's part with its sum made anew; None for what is not carried."""
    at = CHECKSUM_AT.get(protocol)
    if at is None or len(body) < at + 2:
        return None
    total = checksum(pseudo + body[:at] + b"\0\0" + body[at + 2 :])
    if protocol == UDP:
        total = total or 0xFFFF
    return body[:at] + total.to_bytes(2, "big") + body[at + 2 :]


def run_translator(port: str, pool: Sequence[str]) -> None:
    """Translate for ever what arrives on a port, and send it back to who brought it."""
    translator = Translator(pool)
    with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(EVERY_FRAME)) as raw:
        raw.bind((port, EVERY_FRAME))
        while True:
            frame, where = raw.recvfrom(65_535)
            if where[2] != socket.PACKET_HOST:
                continue
            answer = _answer(translator, frame)
            if answer is not None:
                raw.send(answer)


def _answer(translator: Translator, frame: bytes) -> bytes | None:
    """Return the frame to send for one that came."""
    kind = int.from_bytes(frame[12:14], "big")
    turned = {IPV6: translator.to_ipv4, IPV4: translator.to_ipv6}.get(kind)
    packet = None if turned is None else turned(frame[14:])
    if packet is None:
        return None
    back = IPV4 if kind == IPV6 else IPV6
    return frame[6:12] + frame[:6] + back.to_bytes(2, "big") + packet
