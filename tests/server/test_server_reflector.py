"""The reflector on loopback, read by scapy's own STAMP dissector (RFC 8762 §4.3.1, Figure 5)."""

import socket
import time
from contextlib import closing

import pytest
from scapy.contrib.stamp import (
    STAMPSessionReflectorTestUnauthenticated,
    STAMPSessionSenderTestUnauthenticated,
)

from agent.codec.card import parse_report
from agent.codec.document import write_document
from agent.server.app import ReflectorLimits

pytestmark = pytest.mark.loopback

NTP_UNIX_S = 2_208_988_800  # RFC 5905 §6: seconds from 1900 to 1970
SILENCE_S = 0.3


def grant_of(serving):
    status, _, grant = serving.ask("POST", "/reflector")
    assert status == 201
    return grant


def sender(sequence, ssid, extra=b""):
    """Return a sender packet as scapy builds it: 44 octets and what is put behind them."""
    packet = STAMPSessionSenderTestUnauthenticated(seq=sequence, ssid=ssid, ts=1.5, tlv_objects=[])
    data = bytes(packet)
    assert len(data) == 44
    return data + extra


@pytest.fixture
def probe(common):
    """Return a function that sends one datagram and gives the answer, None for silence."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as udp:
        udp.connect(("127.0.0.1", common.address.reflector_port))

        def exchange(data, within_s=5.0):
            udp.settimeout(within_s)
            udp.send(data)
            try:
                return udp.recv(65_535)
            except TimeoutError:
                return None

        exchange.udp = udp
        yield exchange


def test_each_field_of_the_answer_is_as_the_standard_says(common, probe):
    grant = grant_of(common)
    assert grant["port"] == common.address.reflector_port
    probe.udp.setsockopt(socket.IPPROTO_IP, socket.IP_TTL, 37)
    request = bytearray(sender(4_711, grant["ssid"]))
    request[4:14] = bytes.fromhex("b44db70520000000 8a07")
    earliest_s = time.time()
    data = probe(bytes(request))
    latest_s = time.time()
    assert len(data) == 44
    answer = STAMPSessionReflectorTestUnauthenticated(data)
    assert answer.seq == 0
    assert answer.ssid == grant["ssid"]
    assert answer.seq_sender == 4_711
    assert data[28:38] == bytes(request[4:14])  # sender timestamp and error estimate, copied
    assert answer.ttl_sender == 37
    assert (answer.mbz1, answer.mbz2) == (0, 0)
    received_s, sent_s = (int.from_bytes(data[at : at + 8], "big") / 2**32 for at in (16, 4))
    assert earliest_s - 0.01 <= received_s - NTP_UNIX_S <= sent_s - NTP_UNIX_S <= latest_s + 0.01
    estimate = int.from_bytes(data[12:14], "big")
    assert estimate >> 14 == 0  # S: not known to be synchronised; Z: NTP format
    assert estimate & 0xFF != 0  # RFC 4656 §4.1.2: the multiplier must not be 0
    assert STAMPSessionReflectorTestUnauthenticated(probe(sender(9, grant["ssid"]))).seq == 1


@pytest.mark.parametrize("extra", [0, 1, 3, 4, 100, 1_428])
def test_an_answer_is_exactly_as_long_as_its_request(common, probe, extra):
    ssid = grant_of(common)["ssid"]
    data = probe(sender(0, ssid, b"\xa5" * extra))
    assert len(data) == 44 + extra
    # RFC 8972 §4: what is no TLV is marked malformed (0x40) and copied.
    assert data[44:] == (b"\x40" + b"\xa5" * (extra - 1) if extra else b"")


def test_what_holds_no_grant_meets_silence(common, probe):
    ssid = grant_of(common)["ssid"]
    for data in (
        b"",
        b"x",
        sender(0, ssid)[:43],
        sender(0, 0),
        sender(0, ssid ^ 1),
        sender(0, ssid, bytes(4_000)),
    ):
        assert probe(data, SILENCE_S / 6) is None
    assert probe(sender(1, ssid)) is not None


def test_another_address_meets_silence_with_the_right_ssid(common):
    grant = grant_of(common)
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as udp:
        udp.bind(("127.0.0.9", 0))
        udp.settimeout(SILENCE_S)
        udp.sendto(sender(0, grant["ssid"]), ("127.0.0.1", grant["port"]))
        with pytest.raises(TimeoutError):
            udp.recv(2_048)
    report = common.ask("GET", f"/reflector?session={grant['session']}")[2]
    assert (report["received"], report["elsewhere"]) == (0, 1)


def test_the_report_tells_what_arrived_and_in_which_order(common, probe):
    grant = grant_of(common)
    for number in (0, 1, 2, 5, 4, 4, 6):
        probe(sender(number, grant["ssid"]))
    target = f"/reflector?session={grant['session']}"
    report = parse_report(write_document(common.ask("GET", target)[2]))
    assert list(report.arrivals()) == [0, 1, 2, 5, 4, 4, 6]
    assert (report.received, report.reflected, report.refused) == (7, 7, 0)
    assert common.ask("DELETE", target)[2]["received"] == 7
    assert common.ask("GET", target)[0] == 404
    assert probe(sender(7, grant["ssid"]), SILENCE_S) is None


def test_past_the_granted_count_there_is_silence(start):
    serving = start(reflector=ReflectorLimits(max_packets=2))
    grant = grant_of(serving)
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as udp:
        udp.connect(("127.0.0.1", grant["port"]))
        udp.settimeout(5)
        for number in range(2):
            udp.send(sender(number, grant["ssid"]))
            assert len(udp.recv(2_048)) == 44
        udp.settimeout(SILENCE_S)
        udp.send(sender(2, grant["ssid"]))
        with pytest.raises(TimeoutError):
            udp.recv(2_048)
    report = serving.ask("GET", f"/reflector?session={grant['session']}")[2]
    assert (report["received"], report["reflected"], report["refused"]) == (3, 2, 1)


def test_sessions_of_one_client_are_bounded(start):
    serving = start(reflector=ReflectorLimits(per_client=2))
    assert [serving.ask("POST", "/reflector")[0] for _ in range(3)] == [201, 201, 503]


def test_the_answer_comes_from_the_address_that_was_asked(start):
    serving = start(host="::")
    grant = grant_of(serving)
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as udp:
        udp.bind(("127.0.0.1", 0))
        udp.settimeout(5)
        udp.sendto(sender(0, grant["ssid"]), ("127.0.0.77", grant["port"]))
        data, source = udp.recvfrom(2_048)
    assert len(data) == 44
    assert source == ("127.0.0.77", grant["port"])


def test_over_ipv6_the_hop_limit_is_told(start):
    if not socket.has_dualstack_ipv6():
        pytest.skip("this system has no sockets for both families")
    serving = start(host="::1")
    grant = grant_of(serving)
    with closing(socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)) as udp:
        udp.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_UNICAST_HOPS, 41)
        udp.connect(("::1", grant["port"]))
        udp.settimeout(5)
        udp.send(sender(0, grant["ssid"]))
        assert STAMPSessionReflectorTestUnauthenticated(udp.recv(2_048)).ttl_sender == 41
