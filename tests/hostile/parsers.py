"""Every parser of bytes from outside, and valid packets to spoil for it.

The packets come from the figures and examples of the standards, from a foreign codec (scapy,
dnspython) or, where there is none, from our own writers.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass, replace

import given_answers as given
import name_answers as resolved
import web_answers as web

from agent.codec import (
    arp,
    bsd_route,
    captive,
    card,
    dhcp,
    dhcp6,
    dhcp_options,
    domain_list,
    http_date,
    icmp,
    icmp_extensions,
    ipv6,
    lease_files,
    macos_lease,
    mark,
    ntp,
    page_marks,
    pppoe,
    router_advertisement,
    rtnetlink,
    sighting,
    stamp,
    stamp_authenticated,
    stamp_extensions,
    tcp_info,
    told_leases,
    windows_echo,
    windows_route,
)
from agent.engines import (
    certificates,
    echo_framing,
    helper_advertised,
    helper_answers,
    helper_client,
    linux_ancillary,
    name_messages,
    name_secure,
    name_streams,
)
from agent.errors import BadReply, CannotMeasure, MalformedMessage
from agent.helper import advertised_hearing, concentrators, fields, offers, request, uses
from agent.probes import echo_messages, page_seen, web_access

REFUSALS = (MalformedMessage, BadReply, CannotMeasure, fields.Refusal)
"""What a parser may raise; the helper's client and the helper have words of their own."""

KEY = bytes(range(16))
ONE_LABEL = bytes.fromhex("2000c588000801 01186d0101")
"""RFC 4950 §5 with the label of its §3; checksum by RFC 1071."""

TWO_LABELS = bytes.fromhex("2000ba85000c0101186d000100010bfe")
QUOTE = bytes.fromhex("45000034") + bytes(124)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parser:
    """One parser by name, the valid packets to spoil, the module whose branches count."""

    name: str
    module: str
    parse: Callable[[bytes], object]
    valid: tuple[bytes, ...]


def _parser(name, module, parse, *valid) -> Parser:
    for packet in valid:
        parse(packet)
    return Parser(name=name, module=module.__name__, parse=parse, valid=valid)


def _sender() -> stamp.SenderPacket:
    return stamp.SenderPacket(sequence=7, timestamp=0xB44DB70520000000, ssid=0x1234)


def _reflector() -> stamp.ReflectorPacket:
    return stamp.ReflectorPacket(
        sequence=3,
        timestamp=0xB44DB70520000000,
        receive_timestamp=0xB44DB70510000000,
        sender_sequence=7,
        sender_timestamp=0xB44DB70500000000,
        sender_ttl=61,
    )


def _chain() -> bytes:
    """Return TLVs of RFC 8972 §4: padding, an unknown type, then the seal over both."""
    plain = stamp_extensions.write_extension(1, bytes(8))
    return stamp_extensions.sealed(plain + stamp_extensions.write_extension(99, b"abc"), KEY)


def _error(icmp_type: int, code: int, family: int, extension: bytes = b"") -> bytes:
    """Return an ICMP error (RFC 792, RFC 4443 §3) whose quote is padded as RFC 4884 §4 asks."""
    units = len(QUOTE) // (4 if family == 4 else 8) if extension else 0
    word = bytes((0, units, 0, 0)) if family == 4 else bytes((units, 0, 0, 0))
    return bytes((icmp_type, code, 0, 0)) + word + QUOTE + extension


def _interface() -> bytes:
    """Return the object of RFC 5837 §4.1 with index, IPv4 address, name and MTU."""
    value = (
        struct.pack("!IHH4s", 5, 1, 0, bytes((192, 0, 2, 1)))
        + b"\x08eth0\0\0\0"
        + (1500).to_bytes(4)
    )
    head = struct.pack("!HBB", len(value) + 4, 2, 0x0F)
    return bytes.fromhex("20000000") + head + value


def _card() -> dict[str, object]:
    return {
        "format": 1,
        "server_id": "ternbay-core-1",
        "software": "doorstep 0.1.0",
        "endpoints": {
            "download": "/download",
            "upload": "/upload",
            "receipts": "/receipts",
            "reflector": "/reflector",
        },
        "limits": {"seconds": 30, "bytes": 10**9, "upload_bytes": 10**9, "flows": 16, "clients": 8},
        "load": {"transfers": 0, "clients": 0, "wait_s": 0.0, "cpu_ratio": 0.1},
        "seen": {"address": "203.0.113.77", "port": 50000},
        "reflector_port": 862,
        "token_required": False,
        "time": "2026-03-02T09:14:07Z",
        "congestion_control": "bbr",
    }


GRANT = {
    "port": 862,
    "ssid": 77,
    "session": "0123456789abcdef",
    "seconds": 60.0,
    "packets_per_s": 200,
    "max_packets": 4000,
    "key": "00" * 32,
}
REPORT = {
    "received": 9,
    "reflected": 9,
    "refused": 0,
    "runs": [[0, 5], [6, 4]],
    "cut": False,
    "elsewhere": 0,
}
RECEIPT = {"bytes": 30, "seconds": 0.3, "complete": True, "slices_100ms": [10, 10, 10], "flows": 2}


def _ancillary(data: bytes) -> object:
    import socket

    levels = (
        (socket.SOL_SOCKET, linux_ancillary.SO_TIMESTAMPNS),
        (socket.SOL_SOCKET, linux_ancillary.SO_TIMESTAMPING),
        (socket.SOL_IP, linux_ancillary.IP_RECVERR),
        (linux_ancillary.SOL_IPV6, linux_ancillary.IPV6_RECVERR),
    )
    return linux_ancillary.read_ancillary([(*level, data) for level in levels])


def _extended_error() -> bytes:
    """Return a sock_extended_err (linux/errqueue.h) with the offender's address behind it."""
    head = struct.pack("=IBBBBII", 113, 2, 11, 0, 0, 0, 0)
    return head + struct.pack("=HH4s8x", 2, 0, bytes((192, 0, 2, 9)))


ENTRIES = {16: rtnetlink.link_entry, 20: rtnetlink.address_entry, 24: rtnetlink.route_entry}
"""By message type (linux/rtnetlink.h)."""


def _messages(data: bytes) -> object:
    read = ((ENTRIES.get(one.kind), one.body) for one in rtnetlink.messages(data))
    return [entry(body) for entry, body in read if entry]


def _netlink() -> bytes:
    """Return a link, an address and a route as one dump (linux/netlink.h, rtnetlink(7))."""

    def attribute(kind: int, value: bytes) -> bytes:
        return struct.pack("=HH", 4 + len(value), kind) + value + bytes(-len(value) % 4)

    def message(kind: int, body: bytes) -> bytes:
        return struct.pack("=IHHII", 16 + len(body), kind, 2, 1, 0) + body

    link = struct.pack("=BxHiII", 0, 1, 2, 0x1043, 0) + attribute(3, b"eth0\0")
    link += (
        attribute(1, given.MAC) + attribute(4, struct.pack("=I", 1500)) + attribute(23, bytes(200))
    )
    link += attribute(18, attribute(1, b"veth\0"))
    address = struct.pack("=BBBBi", 2, 24, 0, 0, 2) + attribute(2, bytes((192, 0, 2, 30)))
    address += attribute(6, struct.pack("=IIII", 1800, 3600, 0, 0))
    route = struct.pack("=BBBBBBBBI", 2, 0, 0, 0, 254, 16, 0, 1, 0)
    route += attribute(5, bytes((192, 0, 2, 1))) + attribute(4, struct.pack("=I", 2))
    return message(16, link) + message(20, address) + message(24, route)


def _mac_way() -> bytes:
    """Return a way over a gateway: rt_msghdr, gateway and mask (macOS, from memory)."""
    body = struct.pack("=BBH4s8x", 16, 2, 0, bytes((192, 0, 2, 1))) + bytes(4)
    return struct.pack("=HBBHxx6iI56x", 92 + len(body), 5, 4, 4, 3, 6, 77, 5, 0, 0, 0) + body


def _windows_row() -> bytes:
    """Return a default way of MIB_IPFORWARDROW (from memory)."""
    return struct.pack("<8xI4sII32x", 0, bytes((192, 0, 2, 1)), 14, 4)


def _windows_echo() -> bytes:
    """Return an ICMP_ECHO_REPLY that stood at address 0, its data behind it (from memory)."""
    return struct.pack("<4sIIHHQ16x", bytes((192, 0, 2, 1)), 0, 3, 4, 0, 40) + b"data"


def _answer_to(series: echo_messages.StampMessages) -> bytes:
    """Return what a reflector answers to number 7 of the series."""
    sent = stamp.decode_sender(series.encode(7, 1.5))
    reply = replace(_reflector(), sender_timestamp=sent.timestamp)
    return stamp.encode_reflector(reply, 44)


def _text(read: Callable[[str], object]) -> Callable[[bytes], object]:
    return lambda data: read(data.decode("latin-1"))


def _time_told() -> bytes:
    """Return a time server's reply (RFC 5905 §7.3)."""
    told = ntp.TimeReply(
        leap=0,
        version=4,
        mode=4,
        stratum=2,
        poll=6,
        precision=-23,
        root_delay_s=0.01,
        root_dispersion_s=0.02,
        reference_id=bytes((192, 0, 2, 1)),
        reference=0xB44DB70520000000,
        origin=7,
        receive=0xB44DB70520000001,
        transmit=0xB44DB70520000002,
    )
    return ntp.encode_reply(told)


def _time_read(data: bytes) -> object:
    reply = ntp.decode_reply(data)
    code = reply.kiss_code
    assert code is None or (code.isascii() and len(code) <= 4)
    return reply.synchronized, ntp.apart_s(reply.receive, reply.transmit)


def parsers() -> tuple[Parser, ...]:
    """Return every parser; each has taken its valid packets without a complaint."""
    sender = stamp.encode_sender(_sender())
    reflector = stamp.encode_reflector(_reflector(), 44)
    sealed = stamp_authenticated.encode_authenticated_sender(_sender(), KEY)
    answer = stamp_authenticated.encode_authenticated_reflector(_reflector(), KEY)
    echo = icmp.encode_echo(icmp.Echo(icmp_type=0, identifier=9, sequence=1, data=bytes(24)))
    marked = mark.encode_mark(mark.Mark(nonce=9, number=4), 24)
    series = echo_messages.StampMessages(ssid=0x1234, length=44, epoch_ns=0)
    echoes = echo_messages.MarkedMessages(nonce=9, length=44)
    framing = echo_framing.EchoFraming(family=4, identifier=9, ip_header=True)
    asked = resolved.question()
    return (
        _parser("STAMP sender", stamp, stamp.decode_sender, sender),
        _parser("STAMP reflector", stamp, stamp.decode_reflector, reflector),
        _parser(
            "STAMP sender, authenticated",
            stamp_authenticated,
            lambda data: stamp_authenticated.decode_authenticated_sender(data, KEY),
            sealed,
        ),
        _parser(
            "STAMP reflector, authenticated",
            stamp_authenticated,
            lambda data: stamp_authenticated.decode_authenticated_reflector(data, KEY),
            answer,
        ),
        _parser("STAMP extensions", stamp_extensions, stamp_extensions.read_chain, _chain()),
        _parser(
            "STAMP extensions, answered",
            stamp_extensions,
            lambda data: stamp_extensions.reflected_chain(data, KEY),
            _chain(),
        ),
        _parser("answers to STAMP", echo_messages, series.decode, _answer_to(series)),
        _parser("quoted STAMP", echo_messages, series.quoted, sender),
        _parser("answers to echo", echo_messages, echoes.decode, echoes.encode(0, 0.0)),
        _parser("marks", mark, mark.find_mark, marked),
        _parser("ICMP echo", icmp, icmp.decode_echo, echo),
        _parser("raw echo", echo_framing, framing.unwrap, bytes.fromhex("45") + bytes(19) + echo),
        _parser("IPv4 header", icmp, icmp.without_ip_header, bytes.fromhex("45") + bytes(27)),
        _parser(
            "ICMP errors",
            icmp,
            lambda data: icmp.decode_error(data, 4),
            _error(11, 0, 4),
            _error(3, 4, 4),
            _error(11, 0, 4, TWO_LABELS),
        ),
        _parser(
            "ICMPv6 errors",
            icmp,
            lambda data: icmp.decode_error(data, 6),
            _error(3, 0, 6, ONE_LABEL),
            _error(2, 0, 6),
        ),
        _parser(
            "ICMP extensions",
            icmp_extensions,
            icmp_extensions.decode_extensions,
            ONE_LABEL,
            TWO_LABELS,
            _interface(),
        ),
        _parser("DHCP messages", dhcp, given.every_option, given.offer()),
        _parser(
            "classless routes",
            dhcp_options,
            dhcp_options.decode_routes,
            bytes.fromhex("18c63364c000020100c0000201"),
        ),
        _parser("offers heard", offers, given.heard_offers, given.offer(), given.refusal()),
        _parser("IPv6 packets", ipv6, ipv6.decode, given.advertisement(), given.server_answer()),
        _parser(
            "router advertisements", router_advertisement, given.router_said, given.advertisement()
        ),
        _parser("DHCPv6 messages", dhcp6, given.every_option_6, given.server_answer()),
        _parser(
            "domain lists", domain_list, domain_list.decode_domains, b"\7ternbay\7example\0\1a\0"
        ),
        _parser(
            "routers heard",
            advertised_hearing,
            given.heard_routers,
            given.advertisement(),
            given.server_answer(),
        ),
        _parser(
            "helper's routers",
            helper_advertised,
            given.routers_answer,
            given.in_json(given.ADVERTISED),
        ),
        _parser("time reply", ntp, _time_read, _time_told(), _time_told()[:1] + bytes(47)),
        _parser("time request", ntp, ntp.decode_transmit, ntp.encode_request(7)),
        _parser("PPPoE discovery", pppoe, pppoe.decode, given.pado()),
        _parser("concentrators heard", concentrators, given.heard_pado, given.pado()),
        _parser("ARP", arp, arp.decode, given.arp_answer()),
        _parser("users of an address", uses, given.heard_arp, given.arp_answer()),
        _parser(
            "helper's concentrators",
            helper_answers,
            lambda line: helper_client.read_concentrators(line, "eth0"),
            given.in_json(given.SESSIONS),
        ),
        _parser("tcp_info", tcp_info, tcp_info.decode_tcp_info, bytes(range(256)), bytes(280)),
        _parser("netlink", rtnetlink, _messages, _netlink()),
        _parser("macOS ways", bsd_route, bsd_route.decode_answer, _mac_way()),
        _parser("Windows ways", windows_route, windows_route.decode_row, _windows_row()),
        _parser(
            "Windows echo",
            windows_echo,
            lambda data: windows_echo.decode_echo_reply(data, 0),
            _windows_echo(),
        ),
        _parser("Windows echo, IPv6", windows_echo, windows_echo.decode_echo_reply_6, bytes(36)),
        _parser("ancillary data", linux_ancillary, _ancillary, _extended_error(), bytes(16)),
        _parser("lease files", lease_files, _text(lease_files.dhclient_leases), given.LEASE),
        _parser(
            "keyed leases", lease_files, _text(lease_files.keyed_lease), given.KEYED, given.SPANS
        ),
        _parser(
            "leases told by managers",
            told_leases,
            _text(lambda text: told_leases.described_leases(text, given.NOW, 26_185.0)),
            given.in_json(given.DESCRIBED),
        ),
        _parser(
            "options told by managers",
            told_leases,
            given.options_told,
            given.in_json(given.OPTIONS),
        ),
        _parser(
            "leases as macOS prints them",
            macos_lease,
            _text(macos_lease.packet_lease),
            given.PRINTED,
        ),
        _parser(
            "DNS answers",
            name_messages,
            lambda data: name_messages.read_answer(data, asked),
            *resolved.answers(),
        ),
        _parser(
            "DNS over a connection",
            name_streams,
            resolved.over_stream,
            *(len(one).to_bytes(2) + one for one in resolved.answers()),
        ),
        _parser(
            "DNS over HTTPS",
            name_secure,
            resolved.over_https,
            *resolved.answers(resolved.question(0)),
        ),
        _parser(
            "sightings",
            sighting,
            lambda data: sighting.decode_seen(data, KEY[:8]),
            sighting.encode_seen(KEY[:8], sighting.Seen(address="2001:db8::7", port=40_000)),
        ),
        _parser("questions", sighting, sighting.decode_ask, sighting.encode_ask(KEY[:8])),
        _parser("server card", card, card.parse_card, given.in_json(_card())),
        _parser("reflector grant", card, card.parse_grant, given.in_json(GRANT)),
        _parser("reflector report", card, card.parse_report, given.in_json(REPORT)),
        _parser("upload receipt", card, card.parse_receipt, given.in_json(RECEIPT)),
        _parser(
            "server refusal",
            card,
            card.parse_refusal,
            given.in_json({"error": {"code": "busy", "wait_s": 4.0}}),
        ),
        _parser("web pages", page_seen, web.read_page, web.PAGE, web.PORTAL, web.REFRESHED),
        _parser("portal answers", web_access, web.read_portal, web.answer_of_the_api()),
        _parser("captive portal state", captive, captive.parse_portal_state, web.CAPTIVE),
        _parser("marks of pages", page_marks, page_marks.read_page_marks, *web.MARKS),
        _parser(
            "HTTP dates",
            http_date,
            _text(lambda text: http_date.read_http_date(text, 2026)),
            *web.DATES,
        ),
        _parser("certificates", certificates, certificates.read_certificate, web.certificate()),
        _parser("wishes of the helper", request, request.parse_request, given.WISH),
        _parser(
            "answers of the helper", helper_client, given.helper_answer, given.in_json(given.OFFERS)
        ),
    )
