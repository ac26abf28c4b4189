"""Authenticated mode end to end on loopback: the key from the grant, the packets on UDP."""

import socket
from contextlib import closing

import pytest

from agent.codec.card import parse_grant, parse_report
from agent.codec.document import write_document
from agent.codec.stamp import SenderPacket, encode_sender
from agent.codec.stamp_authenticated import (
    decode_authenticated_reflector,
    encode_authenticated_sender,
)

pytestmark = pytest.mark.loopback

SILENCE_S = 0.1


def grant_of(serving, query="?mode=authenticated"):
    status, _, document = serving.ask("POST", f"/reflector{query}")
    assert status == 201
    return parse_grant(write_document(document))


@pytest.fixture
def udp(common):
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as sock:
        sock.connect(("127.0.0.1", common.address.reflector_port))
        sock.settimeout(5)
        yield sock


def packet(grant, sequence=0):
    return SenderPacket(sequence=sequence, timestamp=7, ssid=grant.ssid)


def test_the_grant_has_a_key_only_where_one_was_asked_for(common):
    assert len(grant_of(common).secret) == 32
    assert grant_of(common, "").secret is None
    assert grant_of(common, "?mode=unauthenticated").secret is None
    assert common.ask("POST", "/reflector?mode=both")[0] == 400


def test_the_key_is_not_told_again_nor_logged(common):
    grant = grant_of(common)
    status, _, document = common.ask("GET", f"/reflector?session={grant.session}")
    assert status == 200
    assert grant.key not in str(document)
    assert not [line for line in common.log if grant.key in line]


def test_a_session_under_its_key(common, udp):
    grant = grant_of(common)
    for sequence in range(3):
        udp.send(encode_authenticated_sender(packet(grant, sequence), grant.secret, 200))
        data = udp.recv(2_048)
        answer = decode_authenticated_reflector(data, grant.secret)
        assert len(data) == 200
        assert (answer.sequence, answer.sender_sequence) == (sequence, sequence)
        assert answer.receive_timestamp <= answer.timestamp
    udp.send(encode_authenticated_sender(packet(grant, 3), bytes(32)))
    udp.send(encode_sender(packet(grant, 4)))
    udp.send(encode_authenticated_sender(packet(grant, 5), grant.secret))
    answer = decode_authenticated_reflector(udp.recv(2_048), grant.secret)
    assert (answer.sequence, answer.sender_sequence) == (3, 5)
    target = f"/reflector?session={grant.session}"
    report = parse_report(write_document(common.ask("GET", target)[2]))
    assert (report.received, report.unverified, list(report.arrivals())) == (4, 2, [0, 1, 2, 5])


def test_oversized_packets_meet_silence_under_the_key_too(common, udp):
    grant = grant_of(common)
    udp.send(encode_authenticated_sender(packet(grant), grant.secret, 4_000))
    udp.settimeout(SILENCE_S)
    with pytest.raises(TimeoutError):
        udp.recv(8_192)
    udp.settimeout(5)
    udp.send(encode_authenticated_sender(packet(grant), grant.secret))
    assert len(udp.recv(2_048)) == 112
