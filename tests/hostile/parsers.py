"""Every parser of bytes from outside, and valid packets to spoil for it.

The packets come from the figures and examples of the standards, from a foreign codec (scapy,
dnspython) or, where there is none, from our own writers.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

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
MAC = bytes.fromhex("02005e100001")
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


def _offer() -> bytes:
    """Return an OFFER from a foreign codec (scapy)."""
    from scapy.layers.dhcp import BOOTP, DHCP

    options = [
        ("message-type", "offer"),
        ("server_id", "192.0.2.1"),
        ("lease_time", 3600),
        ("renewal_time", 1800),
        ("rebinding_time", 3150),
        ("subnet_mask", "255.255.255.0"),
        ("router", "192.0.2.1"),
        ("name_server", "192.0.2.53", "198.51.100.53"),
        (121, bytes.fromhex("18c63364c000020100c0000201")),
        (114, b"https://portal.ternbay.example/api"),
        (108, bytes(4)),
        (52, b"\3"),
        "end",
    ]
    whole = BOOTP(op=2, xid=77, yiaddr="192.0.2.30", chaddr=MAC, file=b"\x0f\x01a\xff")
    return bytes(whole / DHCP(options=options))


def _pado() -> bytes:
    """Return a PADO from a foreign codec (scapy): two services, cookie, an error, Host-Uniq."""
    from scapy.layers.ppp import PPPoED, PPPoED_Tags, PPPoETag

    said = (
        (0x0102, b"ternbay-ac1"),
        (0x0101, b""),
        (0x0101, b"internet"),
        (0x0104, bytes(16)),
        (0x0202, b"full"),
        (0x0103, HOST_UNIQ),
        (0x0000, b""),
    )
    tags = [PPPoETag(tag_type=kind, tag_value=value) for kind, value in said]
    return bytes(PPPoED(version=1, type=1, code=7, sessionid=0) / PPPoED_Tags(tag_list=tags))


def _arp_answer() -> bytes:
    """Return an ARP answer from a foreign codec (scapy)."""
    from scapy.layers.l2 import ARP

    mine, theirs = "02:00:5e:10:00:01", "02:00:5e:10:00:09"
    return bytes(ARP(op=2, hwsrc=theirs, psrc="192.0.2.30", hwdst=mine, pdst="0.0.0.0"))


def _refusal() -> bytes:
    """Return a NAK from a foreign codec (scapy)."""
    from scapy.layers.dhcp import BOOTP, DHCP

    said = [("message-type", "nak"), ("server_id", "192.0.2.1"), ("error_message", "no"), "end"]
    return bytes(BOOTP(op=2, xid=78, chaddr=MAC) / DHCP(options=said))


def _heard_offers(data: bytes) -> object:
    """Take a datagram as the helper does, and what it makes of it across the border."""
    heard = offers.Hearing(xid=77, hardware_address=MAC, presence_xid=78)
    heard.hear(data, "02:00:5e:10:00:fe", 1.0)
    kept = {"offers": heard.offers, "naks": heard.naks, "overheard": heard.overheard}
    return _helper_answer(_json({**OFFERS, **kept}))


def _heard_pado(data: bytes) -> object:
    heard = concentrators.PadoHearing(host_uniq=HOST_UNIQ)
    heard.hear(data, MAC, 1.0)
    return helper_client.read_concentrators(
        _json({**SESSIONS, "concentrators": heard.concentrators}), "eth0"
    )


def _heard_arp(data: bytes) -> object:
    asked = uses.UseProbing(own=frozenset({MAC}))
    asked.ask("192.0.2.30", 0.0, held=True)
    asked.hear(data, 1.0)
    return _helper_answer(_json({**OFFERS, "in_use": asked.in_use}))


def _advertisement() -> bytes:
    """Return an advertisement with every option, from a foreign codec (scapy)."""
    from scapy.layers import inet6 as s6

    packet = s6.IPv6(src="fe80::1", dst="ff02::1", hlim=255) / s6.ICMPv6ND_RA(M=1, O=1)
    for option in (
        s6.ICMPv6NDOptSrcLLAddr(lladdr="02:00:5e:10:00:fe"),
        s6.ICMPv6NDOptPrefixInfo(prefix="2001:db8:1::", prefixlen=64),
        s6.ICMPv6NDOptMTU(mtu=1492),
        s6.ICMPv6NDOptRouteInfo(prefix="2001:db8:9::", plen=48, rtlifetime=900),
        s6.ICMPv6NDOptRDNSS(dns=["2001:db8::53"], lifetime=1200),
        s6.ICMPv6NDOptDNSSL(searchlist=["ternbay.example"], lifetime=300),
        s6.ICMPv6NDOptCaptivePortal(URI=b"https://portal.ternbay.example/api"),
        s6.ICMPv6NDOptPREF64(prefix="64:ff9b::", scaledlifetime=225, plc=0),
    ):
        packet /= option
    return bytes(packet)


def _server_answer() -> bytes:
    """Return an ADVERTISE in its packet, from a foreign codec (scapy)."""
    from scapy.layers import dhcp6 as s6
    from scapy.layers.inet6 import UDP, IPv6

    address = s6.DHCP6OptIAAddress(addr="2001:db8:1::20", preflft=1800, validlft=3600)
    prefix = s6.DHCP6OptIAPrefix(prefix="2001:db8:100::", plen=56, preflft=7200, validlft=14400)
    packet = IPv6(src="fe80::1", dst="fe80::2") / UDP(sport=547, dport=546)
    packet /= s6.DHCP6_Advertise(trid=7)
    for option in (
        s6.DHCP6OptClientId(duid=s6.DUID_LL(lladdr="02:00:5e:10:00:01")),
        s6.DHCP6OptServerId(duid=s6.DUID_LL(lladdr="02:00:5e:10:00:fe")),
        s6.DHCP6OptIA_NA(iaid=1, T1=900, T2=1440, ianaopts=[address]),
        s6.DHCP6OptIA_PD(iaid=1, T1=3600, T2=5760, iapdopt=[prefix]),
        s6.DHCP6OptDNSServers(dnsservers=["2001:db8::53"]),
        s6.DHCP6OptDNSDomains(dnsdomains=["ternbay.example"]),
        s6.DHCP6OptStatusCode(statuscode=0),
    ):
        packet /= option
    return bytes(packet)


def _router_said(data: bytes) -> object:
    return router_advertisement.decode(ipv6.decode(data).payload)


def _every_option_6(data: bytes) -> object:
    """Read every property of a message, for they are decoded when asked for."""
    message = dhcp6.decode(ipv6.decode_datagram(ipv6.decode(data).payload).data)
    return [
        getattr(message, name)
        for name, value in vars(dhcp6.Dhcp6Message).items()
        if isinstance(value, property)
    ]


def _heard_routers(data: bytes) -> object:
    """Take a frame as the helper does, and what it makes of it across the border."""
    duid = dhcp6.link_layer_duid(MAC)
    heard = advertised_hearing.AdvertisedHearing(client_id=duid, own=MAC, solicit=7, information=8)
    heard.hear(data, bytes(6), 1.0)
    form = {**ADVERTISED, "routers": heard.routers, "servers": heard.servers}
    return _routers_answer(_json(form))


def _routers_answer(line: bytes) -> object:
    return helper_client.answer_of(line, "eth0", helper_advertised.advertised_probe)


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


def _json(document: object) -> bytes:
    return json.dumps(document).encode()


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
WISH = (
    b'{"want": "offers", "interface": "eth0", "hardware_address": "02:00:5e:10:00:01", '
    b'"listen_s": 6.0, "options": {"60": "7465"}}\n'
)
OFFERS = {
    "sent": 1,
    "listened_s": 6.0,
    "malformed": 0,
    "presence_asked": True,
    "naks": [
        {
            "after_ms": 4510.0,
            "server_id": "192.0.2.1",
            "server_hardware_address": "02:00:5e:10:00:01",
            "to_system": False,
            "message": "wrong network",
        }
    ],
    "overheard": ["192.0.2.66"],
    "probed": ["192.0.2.30"],
    "in_use": [
        {
            "address": "192.0.2.30",
            "hardware_address": "02:00:5e:10:00:09",
            "after_ms": 30.0,
            "held": True,
        }
    ],
    "offers": [
        {
            "after_ms": 12.5,
            "server_id": "192.0.2.1",
            "server_hardware_address": "02:00:5e:10:00:01",
            "address": "192.0.2.30",
            "lease_s": 3600,
            "t1_s": 1800,
            "t2_s": None,
            "subnet_mask": "255.255.255.0",
            "routers": ["192.0.2.1"],
            "dns": ["192.0.2.53"],
            "routes": [{"network": "198.51.100.0", "prefix": 24, "router": "192.0.2.1"}],
            "routes_given": True,
            "relay": "192.0.2.2",
            "mtu_bytes": 1500,
            "captive_api": "https://portal.ternbay.example/api",
            "ipv6_only_s": 1800,
            "faulty_options": [58],
        }
    ],
}
ADVERTISED = {
    "routers_asked": 1,
    "servers_asked": 1,
    "information_asked": 1,
    "listened_s": 6.0,
    "malformed": 0,
    "far": 0,
    "routers": [
        {
            "after_ms": 3.0,
            "address": "fe80::1",
            "hardware_address": "02:00:5e:10:00:fe",
            "router_lifetime_s": 1800,
            "managed": True,
            "other": False,
            "preference": "medium",
            "prefixes": [
                {
                    "network": "2001:db8:1::",
                    "prefix": 64,
                    "on_link": True,
                    "autonomous": True,
                    "valid_s": 2592000,
                    "preferred_s": 604800,
                }
            ],
            "routes": [{"network": "2001:db8:9::", "prefix": 48, "lifetime_s": 900}],
            "mtu_bytes": 1492,
            "dns": ["2001:db8::53"],
            "dns_lifetime_s": 1200,
            "domains": ["ternbay.example"],
            "captive_api": "https://portal.ternbay.example/api",
            "translator": "64:ff9b::/96",
            "faulty_options": [25],
        }
    ],
    "servers": [
        {
            "after_ms": 4.0,
            "kind": "advertise",
            "server_id": "0003000102005e1000fe",
            "address": "fe80::1",
            "hardware_address": "02:00:5e:10:00:fe",
            "preference": 0,
            "addresses": [
                {
                    "network": "2001:db8:1::20",
                    "prefix": 128,
                    "preferred_s": 1800,
                    "valid_s": 3600,
                }
            ],
            "t1_s": 900,
            "t2_s": 1440,
            "delegated": [],
            "delegated_t1_s": None,
            "delegated_t2_s": None,
            "status": 0,
            "address_status": None,
            "delegation_status": 6,
            "dns": ["2001:db8::53"],
            "domains": [],
            "captive_api": None,
            "refresh_s": None,
            "faulty_options": [],
        }
    ],
}
HOST_UNIQ = bytes(range(8))
SESSIONS = {
    "sent": 1,
    "listened_s": 3.0,
    "malformed": 0,
    "concentrators": [
        {
            "after_ms": 4.5,
            "hardware_address": "02:00:5e:10:00:fe",
            "name": "ternbay-ac1",
            "services": ["", "internet"],
            "cookie_bytes": 16,
            "error": None,
        }
    ],
}
RECEIPT = {"bytes": 30, "seconds": 0.3, "complete": True, "slices_100ms": [10, 10, 10], "flows": 2}
LEASE = b"""lease {
  interface "eth0";
  fixed-address 192.0.2.30;
  option subnet-mask 255.255.255.0;
  option routers 192.0.2.1;
  option domain-name-servers 192.0.2.53, 198.51.100.53;
  option dhcp-server-identifier 192.0.2.1;
  option dhcp-lease-time 3600;
  renew 1 2026/03/02 09:44:07;
  expire 1 2026/03/02 10:14:07;
}
"""
KEYED = b"ADDRESS=192.0.2.30\nNETMASK=255.255.255.0\nROUTER=192.0.2.1\nDNS=192.0.2.53\nT1=1800\n"


NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
SPANS = b"ADDRESS=192.0.2.30\nSERVER_ADDRESS=192.0.2.1\nT1=5min\nT2=8min 45s\nLIFETIME=10min\n"
DESCRIBED = {
    "Addresses": [
        {
            "Family": 2,
            "Address": [192, 0, 2, 38],
            "PrefixLength": 24,
            "ConfigSource": "DHCPv4",
            "ConfigProvider": [192, 0, 2, 1],
            "ValidLifetimeUSec": 29_785_000_000,
        },
        {"Family": 2, "Address": [192, 0, 2, 40], "ConfigSource": "static"},
    ],
    "DNS": [{"Family": 2, "Address": [192, 0, 2, 53], "ConfigSource": "DHCPv4"}],
    "Routes": [
        {
            "Family": 2,
            "DestinationPrefixLength": 0,
            "Gateway": [192, 0, 2, 1],
            "ConfigSource": "DHCPv4",
        }
    ],
    "DHCPv4Client": {"Lease": {"LeaseTimestampUSec": 26_185_000_000, "Timeout1USec": 2**35}},
}
OPTIONS = {
    "ip_address": "192.0.2.39",
    "dhcp_lease_time": "3600",
    "dhcp_server_identifier": "192.0.2.1",
    "expiry": "1772445600",
    "Gateway": "192.0.2.1",
    "AddressData": [{"address": "192.0.2.39", "prefix": 24}],
    "NameserverData": [{"address": "192.0.2.53"}],
}
PRINTED = b"""yiaddr = 192.0.2.44
server_identifier (ip): 192.0.2.1
lease_time (uint32): 0xe10
router (ip_mult): {192.0.2.1}
"""


def _options(data: bytes) -> object:
    """Read the properties that NetworkManager would have answered, spoiled as JSON."""
    try:
        said = json.loads(data)
    except (ValueError, RecursionError):
        return None
    if not isinstance(said, dict):
        return None
    return told_leases.option_lease(said), list(told_leases.typed_in(said))


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
    link += attribute(1, MAC) + attribute(4, struct.pack("=I", 1500)) + attribute(23, bytes(200))
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


def _helper_answer(line: bytes) -> object:
    return helper_client.read_answer(line, "eth0")


def _every_option(data: bytes) -> object:
    """Read every property of a message, for they are decoded when asked for."""
    message = dhcp.decode(data)
    return [
        getattr(message, name)
        for name, value in vars(dhcp.DhcpMessage).items()
        if isinstance(value, property)
    ]


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
        _parser("DHCP messages", dhcp, _every_option, _offer()),
        _parser(
            "classless routes",
            dhcp_options,
            dhcp_options.decode_routes,
            bytes.fromhex("18c63364c000020100c0000201"),
        ),
        _parser("offers heard", offers, _heard_offers, _offer(), _refusal()),
        _parser("IPv6 packets", ipv6, ipv6.decode, _advertisement(), _server_answer()),
        _parser("router advertisements", router_advertisement, _router_said, _advertisement()),
        _parser("DHCPv6 messages", dhcp6, _every_option_6, _server_answer()),
        _parser(
            "domain lists", domain_list, domain_list.decode_domains, b"\7ternbay\7example\0\1a\0"
        ),
        _parser(
            "routers heard", advertised_hearing, _heard_routers, _advertisement(), _server_answer()
        ),
        _parser("helper's routers", helper_advertised, _routers_answer, _json(ADVERTISED)),
        _parser("time reply", ntp, _time_read, _time_told(), _time_told()[:1] + bytes(47)),
        _parser("time request", ntp, ntp.decode_transmit, ntp.encode_request(7)),
        _parser("PPPoE discovery", pppoe, pppoe.decode, _pado()),
        _parser("concentrators heard", concentrators, _heard_pado, _pado()),
        _parser("ARP", arp, arp.decode, _arp_answer()),
        _parser("users of an address", uses, _heard_arp, _arp_answer()),
        _parser(
            "helper's concentrators",
            helper_answers,
            lambda line: helper_client.read_concentrators(line, "eth0"),
            _json(SESSIONS),
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
        _parser("lease files", lease_files, _text(lease_files.dhclient_leases), LEASE),
        _parser("keyed leases", lease_files, _text(lease_files.keyed_lease), KEYED, SPANS),
        _parser(
            "leases told by managers",
            told_leases,
            _text(lambda text: told_leases.described_leases(text, NOW, 26_185.0)),
            _json(DESCRIBED),
        ),
        _parser("options told by managers", told_leases, _options, _json(OPTIONS)),
        _parser(
            "leases as macOS prints them", macos_lease, _text(macos_lease.packet_lease), PRINTED
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
        _parser("server card", card, card.parse_card, _json(_card())),
        _parser("reflector grant", card, card.parse_grant, _json(GRANT)),
        _parser("reflector report", card, card.parse_report, _json(REPORT)),
        _parser("upload receipt", card, card.parse_receipt, _json(RECEIPT)),
        _parser(
            "server refusal",
            card,
            card.parse_refusal,
            _json({"error": {"code": "busy", "wait_s": 4.0}}),
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
        _parser("wishes of the helper", request, request.parse_request, WISH),
        _parser("answers of the helper", helper_client, _helper_answer, _json(OFFERS)),
    )
