from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stamp_samples import estimates, reflectors, senders

from agent.codec.stamp import (
    ErrorEstimate,
    ReflectorPacket,
    SenderPacket,
    decode_reflector,
    decode_sender,
    encode_reflector,
    encode_sender,
    ntp_from_unix_ns,
    unix_ns_from_ntp,
)
from agent.errors import MalformedMessage

lengths = st.integers(44, 1400)

SYNCHRONIZED = ErrorEstimate(synchronized=True)


def test_sender_packet_has_the_layout_of_the_standard():
    # RFC 8762 §4.2.1; bytes derived by hand from the figure, stamp of RFC 3550 Figure 2.
    packet = SenderPacket(sequence=1, timestamp=0xB44DB705_20000000, error=SYNCHRONIZED)
    assert encode_sender(packet).hex() == (
        "00000001b44db705200000008001000000000000000000000000000000000000000000000000000000000000"
    )


def test_session_identifier_stands_in_octets_14_and_15():
    # RFC 8972 §3, Figures 1 and 2.
    assert encode_sender(SenderPacket(sequence=0, timestamp=0, ssid=0xABCD))[14:16].hex() == "abcd"
    answer = ReflectorPacket(
        sequence=0,
        timestamp=0,
        receive_timestamp=0,
        sender_sequence=0,
        sender_timestamp=0,
        sender_ttl=0,
        ssid=0xABCD,
    )
    assert encode_reflector(answer)[14:16].hex() == "abcd"


def test_reflector_packet_has_the_layout_of_the_standard():
    # RFC 8762 §4.3.1 Figure 5: offsets and widths of each field, in order.
    packet = ReflectorPacket(
        sequence=0x01020304,
        timestamp=0x1112131415161718,
        receive_timestamp=0x2122232425262728,
        sender_sequence=0x31323334,
        sender_timestamp=0x4142434445464748,
        sender_ttl=0x40,
        error=ErrorEstimate(scale=5, multiplier=6),
        sender_error=ErrorEstimate(synchronized=True, ptp=True, scale=0x3F, multiplier=0xFF),
    )
    assert encode_reflector(packet).hex() == (
        "010203041112131415161718050600002122232425262728313233344142434445464748ffff000040000000"
    )


def test_longer_packets_carry_an_extra_padding_element():
    # RFC 8972 §4.1: flags (U set by the sender), type 1, length, value.
    packet = SenderPacket(sequence=7, timestamp=0)
    assert encode_sender(packet, 60)[44:].hex() == "8001000c" + "00" * 12
    assert encode_sender(packet, 46)[44:] == b"\0\0"
    with pytest.raises(ValueError, match="shorter"):
        encode_sender(packet, 43)


def test_ntp_stamp_of_the_standard_example():
    # RFC 3550 §6.4.1 Figure 2: b44db705.20000000 is 1995-11-10 11:33:25.125 UTC.
    moment = datetime(1995, 11, 10, 11, 33, 25, 125_000, tzinfo=UTC)
    unix_ns = int(moment.timestamp() * 1000) * 1_000_000
    assert ntp_from_unix_ns(unix_ns) == 0xB44DB705_20000000
    assert unix_ns_from_ntp(0xB44DB705_20000000) == unix_ns
    assert 0xB44DB705 + 0.125 == 3024992005.125


def test_ntp_stamps_after_2036_belong_to_the_next_era():
    # RFC 4330 §3: top bit clear means the time is reckoned from 2036-02-07 06:28:16 UTC.
    rollover = int(datetime(2036, 2, 7, 6, 28, 16, tzinfo=UTC).timestamp()) * 10**9
    assert ntp_from_unix_ns(rollover) == 0
    assert unix_ns_from_ntp(0) == rollover
    assert unix_ns_from_ntp(2**64 - 1) == rollover


@given(st.integers(0, 4_000_000_000 * 10**9))
def test_nanoseconds_survive_the_ntp_format(unix_ns):
    assert unix_ns_from_ntp(ntp_from_unix_ns(unix_ns)) == unix_ns


def test_error_estimate_in_seconds():
    # RFC 4656 §4.1.2 (from memory): multiplier * 2^-32 * 2^scale.
    assert ErrorEstimate(scale=0, multiplier=1).seconds == 2**-32
    assert ErrorEstimate(scale=32, multiplier=3).seconds == 3.0
    assert ErrorEstimate(multiplier=0).seconds is None


@given(estimates)
def test_error_estimate_survives_its_word(estimate):
    assert ErrorEstimate.of_word(estimate.word()) == estimate


@given(senders, lengths)
def test_sender_packets_survive(packet, length):
    data = encode_sender(packet, length)
    assert len(data) == length
    assert decode_sender(data) == packet


@given(reflectors, lengths)
def test_reflector_packets_survive(packet, length):
    data = encode_reflector(packet, length)
    assert len(data) == length
    assert decode_reflector(data) == packet


@pytest.mark.parametrize("decode", [decode_sender, decode_reflector])
@given(data=st.binary(max_size=120))
def test_any_bytes_give_a_value_or_malformed(decode, data):
    if len(data) >= 44:
        decode(data)
        return
    with pytest.raises(MalformedMessage):
        decode(data)


@settings(deadline=None)
@given(senders)
def test_an_independent_dissector_reads_the_sender_packet(packet):
    from scapy.contrib.stamp import STAMPSessionSenderTestUnauthenticated as Theirs

    theirs = Theirs(encode_sender(packet))
    assert theirs.seq == packet.sequence
    assert (theirs.ssid, theirs.err_estimate.scale) == (packet.ssid, packet.error.scale)
    flags = (theirs.err_estimate.S, theirs.err_estimate.Z)
    assert flags == (packet.error.synchronized, packet.error.ptp)
    assert bytes(theirs) == encode_sender(packet)


@settings(deadline=None)
@given(reflectors)
def test_an_independent_dissector_reads_the_reflector_packet(packet):
    from scapy.contrib.stamp import STAMPSessionReflectorTestUnauthenticated as Theirs

    theirs = Theirs(encode_reflector(packet))
    assert (theirs.seq, theirs.seq_sender) == (packet.sequence, packet.sender_sequence)
    assert (theirs.ssid, theirs.ttl_sender) == (packet.ssid, packet.sender_ttl)
    assert theirs.err_estimate_sender.multiplier == packet.sender_error.multiplier
    assert bytes(theirs)[16:24] == packet.receive_timestamp.to_bytes(8, "big")
