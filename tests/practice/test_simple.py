"""The small built-in servers and the laptop's DHCP client, read by independent codecs."""

from contextlib import suppress
from datetime import UTC, datetime

import dns.flags
import dns.message
import dns.rcode
import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import dhcp
from agent.errors import MalformedMessage
from agent.practice.addresses import plan_addresses
from agent.practice.oslease import Lease, frame, lease_file, resolver_file, unframe
from agent.practice.simple import answer_dhcp, answer_name, page

PLAN = plan_addresses(1, 1)
HARDWARE = bytes.fromhex("02005e005301")


def asked(name, qtype="A"):
    """Return dnspython's reading of our answer to dnspython's query."""
    query = dns.message.make_query(name, qtype)
    answer = dns.message.from_wire(answer_name(query.to_wire(), PLAN.names))
    assert query.is_response(answer)
    return answer


def test_a_known_name_gets_its_address():
    for name, address in PLAN.names.items():
        answer = asked(name.upper())
        assert answer.rcode() == dns.rcode.NOERROR
        assert [record.address for rrset in answer.answer for record in rrset] == [address]
        assert answer.flags & dns.flags.RA


def test_an_unknown_name_does_not_exist_and_a_known_one_has_no_other_records():
    assert asked("nobody.example").rcode() == dns.rcode.NXDOMAIN
    nothing = asked(PLAN.server_name, "AAAA")
    assert nothing.rcode() == dns.rcode.NOERROR
    assert nothing.answer == []


@given(st.binary(max_size=80))
def test_any_query_is_answered_or_malformed(data):
    with suppress(MalformedMessage):
        assert answer_name(data, PLAN.names)[:2] == data[:2]


def granted(message):
    return answer_dhcp(message, PLAN, 1200)


def test_discover_is_offered_and_request_acknowledged_as_independently_read():
    scapy = pytest.importorskip("scapy.layers.dhcp")
    discover = dhcp.discover(xid=77, hardware_address=HARDWARE)
    offer = granted(discover)
    ack = granted(dhcp.request(offer))
    for message, kind in ((offer, 2), (ack, 5)):
        seen = scapy.BOOTP(dhcp.encode(message))
        options = dict(o[:2] for o in seen[scapy.DHCP].options if isinstance(o, tuple))
        assert (seen.xid, seen.yiaddr) == (77, PLAN.laptop)
        assert options["message-type"] == kind
        assert options["router"] == options["server_id"] == PLAN.router
        assert options["name_server"] == PLAN.resolver
        assert options["subnet_mask"] == "255.255.255.0"
        # RFC 2131 §4.4.5: T1 half, T2 seven eighths of the lease.
        assert options["lease_time"] == 1200
        assert (options["renewal_time"], options["rebinding_time"]) == (600, 1050)


def test_other_messages_get_no_answer():
    release = dhcp.DhcpMessage(op=1, xid=1, hardware_address=HARDWARE, options=((53, b"\x07"),))
    nothing = dhcp.DhcpMessage(op=1, xid=1, hardware_address=HARDWARE)
    assert granted(release) is None
    assert granted(nothing) is None


def test_clients_frame_is_a_whole_broadcast_as_independently_read():
    l2, inet = pytest.importorskip("scapy.layers.l2"), pytest.importorskip("scapy.layers.inet")
    import scapy.layers.dhcp as layer

    seen = l2.Ether(frame(dhcp.discover(xid=5, hardware_address=HARDWARE)))
    assert seen.dst == "ff:ff:ff:ff:ff:ff"
    assert (seen[inet.IP].src, seen[inet.IP].dst) == ("0.0.0.0", "255.255.255.255")
    assert (seen[inet.UDP].sport, seen[inet.UDP].dport) == (68, 67)
    assert seen[layer.BOOTP].xid == 5
    sent_sum = seen[inet.IP].chksum
    del seen[inet.IP].chksum
    assert l2.Ether(bytes(seen))[inet.IP].chksum == sent_sum


def test_only_a_servers_message_is_read_from_a_frame():
    message = dhcp.discover(xid=5, hardware_address=HARDWARE)
    assert unframe(frame(message)) is None
    answer = bytearray(frame(message))
    answer[34:38] = bytes([0, 67, 0, 68])
    assert unframe(bytes(answer)) == message
    assert unframe(b"") is None


@given(st.binary(max_size=400))
def test_no_frame_breaks_the_client(data):
    unframe(data)
    unframe(b"\x02" * 14 + b"\x45" + b"\0" * 8 + b"\x11" + b"\0" * 10 + b"\0\x43\0\x44" + data)


def test_lease_file_says_times_as_its_manual_does():
    lease = Lease(
        address="198.18.0.30",
        prefix=24,
        gateway="198.18.0.1",
        dns=("198.51.100.130", "198.51.100.131"),
        server_id="198.18.0.1",
        lease_s=3600,
        t1_s=1800,
        t2_s=3150,
        # 2 March 2026 is a Monday; dhclient.leases(5): weekday from 0 = Sunday, times in UTC.
        obtained=datetime(2026, 3, 2, 23, 30, tzinfo=UTC),
    )
    lines = [line.strip() for line in lease_file(lease, "eth0").splitlines()]
    assert "renew 2 2026/03/03 00:00:00;" in lines
    assert "expire 2 2026/03/03 00:30:00;" in lines
    assert "option domain-name-servers 198.51.100.130,198.51.100.131;" in lines
    assert "option subnet-mask 255.255.255.0;" in lines
    assert resolver_file(lease.dns).split() == [
        "nameserver",
        "198.51.100.130",
        "nameserver",
        "198.51.100.131",
    ]


def test_page_holds_the_marker():
    assert all(site.marker in page(site) for site in PLAN.sites)
