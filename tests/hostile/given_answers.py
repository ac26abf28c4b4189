"""Packets, files and answers that give out addresses, and the readers they are thrown at."""

from __future__ import annotations

import json
from datetime import UTC, datetime

from agent.codec import dhcp, dhcp6, ipv6, router_advertisement, told_leases
from agent.engines import helper_advertised, helper_client
from agent.helper import advertised_hearing, concentrators, offers, uses

MAC = bytes.fromhex("02005e100001")


def offer() -> bytes:
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


def pado() -> bytes:
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


def arp_answer() -> bytes:
    """Return an ARP answer from a foreign codec (scapy)."""
    from scapy.layers.l2 import ARP

    mine, theirs = "02:00:5e:10:00:01", "02:00:5e:10:00:09"
    return bytes(ARP(op=2, hwsrc=theirs, psrc="192.0.2.30", hwdst=mine, pdst="0.0.0.0"))


def refusal() -> bytes:
    """Return a NAK from a foreign codec (scapy)."""
    from scapy.layers.dhcp import BOOTP, DHCP

    said = [("message-type", "nak"), ("server_id", "192.0.2.1"), ("error_message", "no"), "end"]
    return bytes(BOOTP(op=2, xid=78, chaddr=MAC) / DHCP(options=said))


def heard_offers(data: bytes) -> object:
    """Take a datagram as the helper does, and what it makes of it across the border."""
    heard = offers.Hearing(xid=77, hardware_address=MAC, presence_xid=78)
    heard.hear(data, "02:00:5e:10:00:fe", 1.0)
    kept = {"offers": heard.offers, "naks": heard.naks, "overheard": heard.overheard}
    return helper_answer(in_json({**OFFERS, **kept}))


def heard_pado(data: bytes) -> object:
    heard = concentrators.PadoHearing(host_uniq=HOST_UNIQ)
    heard.hear(data, MAC, 1.0)
    return helper_client.read_concentrators(
        in_json({**SESSIONS, "concentrators": heard.concentrators}), "eth0"
    )


def heard_arp(data: bytes) -> object:
    asked = uses.UseProbing(own=frozenset({MAC}))
    asked.ask("192.0.2.30", 0.0, held=True)
    asked.hear(data, 1.0)
    return helper_answer(in_json({**OFFERS, "in_use": asked.in_use}))


def advertisement() -> bytes:
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


def server_answer() -> bytes:
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


def router_said(data: bytes) -> object:
    return router_advertisement.decode(ipv6.decode(data).payload)


def every_option_6(data: bytes) -> object:
    """Read every property of a message, for they are decoded when asked for."""
    message = dhcp6.decode(ipv6.decode_datagram(ipv6.decode(data).payload).data)
    return [
        getattr(message, name)
        for name, value in vars(dhcp6.Dhcp6Message).items()
        if isinstance(value, property)
    ]


def heard_routers(data: bytes) -> object:
    """Take a frame as the helper does, and what it makes of it across the border."""
    duid = dhcp6.link_layer_duid(MAC)
    heard = advertised_hearing.AdvertisedHearing(client_id=duid, own=MAC, solicit=7, information=8)
    heard.hear(data, bytes(6), 1.0)
    form = {**ADVERTISED, "routers": heard.routers, "servers": heard.servers}
    return routers_answer(in_json(form))


def routers_answer(line: bytes) -> object:
    return helper_client.answer_of(line, "eth0", helper_advertised.advertised_probe)


def in_json(document: object) -> bytes:
    return json.dumps(document).encode()


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


def options_told(data: bytes) -> object:
    """Read the properties that NetworkManager would have answered, spoiled as JSON."""
    try:
        said = json.loads(data)
    except (ValueError, RecursionError):
        return None
    if not isinstance(said, dict):
        return None
    return told_leases.option_lease(said), list(told_leases.typed_in(said))


def helper_answer(line: bytes) -> object:
    return helper_client.read_answer(line, "eth0")


def every_option(data: bytes) -> object:
    """Read every property of a message, for they are decoded when asked for."""
    message = dhcp.decode(data)
    return [
        getattr(message, name)
        for name, value in vars(dhcp.DhcpMessage).items()
        if isinstance(value, property)
    ]
