import pytest
from cryptography.hazmat.primitives import hashes, hmac
from hypothesis import given, settings
from hypothesis import strategies as st
from scapy.fields import BitField, ByteField, IntField, LongField, ShortField, XStrFixedLenField
from scapy.packet import Packet
from stamp_samples import reflectors, senders

from agent.codec.stamp import ErrorEstimate, ReflectorPacket, SenderPacket
from agent.codec.stamp_authenticated import (
    AUTHENTICATED_LENGTH,
    KEY_LENGTH,
    SSID_AT,
    TIMESTAMP_AT,
    decode_authenticated_reflector,
    decode_authenticated_sender,
    digest,
    encode_authenticated_reflector,
    encode_authenticated_sender,
    is_authentic,
)
from agent.errors import MalformedMessage

keys = st.binary(min_size=KEY_LENGTH, max_size=KEY_LENGTH)
KEY = bytes(range(32))
SENDER = SenderPacket(sequence=1, timestamp=0xB44DB705_20000000, ssid=0xABCD)


def zeros(name, octets):
    return XStrFixedLenField(name, bytes(octets), octets)


class SenderFigure(Packet):
    """RFC 8762 Figure 4 with the SSID of RFC 8972 Figure 3, field by field, for scapy."""

    name = "authenticated sender"
    fields_desc = [  # noqa: RUF012 - scapy's form
        IntField("sequence", 0),
        zeros("mbz1", 12),
        LongField("timestamp", 0),
        BitField("S", 0, 1),
        BitField("Z", 0, 1),
        BitField("scale", 0, 6),
        ByteField("multiplier", 0),
        ShortField("ssid", 0),
        zeros("mbz2", 68),
        XStrFixedLenField("hmac", b"", 16),
    ]


class ReflectorFigure(Packet):
    """RFC 8762 Figure 6 with the SSID of RFC 8972 Figure 4, field by field, for scapy."""

    name = "authenticated reflector"
    fields_desc = [  # noqa: RUF012 - scapy's form
        IntField("sequence", 0),
        zeros("mbz1", 12),
        LongField("timestamp", 0),
        ShortField("error", 0),
        ShortField("ssid", 0),
        zeros("mbz2", 4),
        LongField("received", 0),
        zeros("mbz3", 8),
        IntField("sender_sequence", 0),
        zeros("mbz4", 12),
        LongField("sender_timestamp", 0),
        ShortField("sender_error", 0),
        zeros("mbz5", 6),
        ByteField("sender_ttl", 0),
        zeros("mbz6", 15),
        XStrFixedLenField("hmac", b"", 16),
    ]


def hmac_of_another_library(key, data):
    """Return HMAC-SHA-256 over the first 96 octets, first 16 kept (RFC 8762 §4.4)."""
    made = hmac.HMAC(key, hashes.SHA256())
    made.update(data[:96])
    return made.finalize()[:16]


def test_the_truncated_digest_is_that_of_the_standards_own_example():
    # RFC 4231 §4.6, test case 5 (HMAC-SHA-256 cut to 128 bits).
    expected = "a3b6167473100ee06e0c796c2955552b"
    assert digest(b"\x0c" * 20, b"Test With Truncation").hex() == expected


def test_the_sender_packet_has_the_layout_of_the_standard():
    # RFC 8762 §4.2.2, RFC 8972 §3: 4 + 12 + 8 + 2 + 2 + 68 octets by hand, then the HMAC.
    data = encode_authenticated_sender(SENDER, KEY)
    zeros_12, zeros_68 = "00" * 12, "00" * 68
    assert data[:96].hex() == f"00000001{zeros_12}b44db705200000000001abcd{zeros_68}"
    assert data[96:] == hmac_of_another_library(KEY, data)
    assert len(data) == 112


def test_the_reflector_packet_has_the_layout_of_the_standard():
    # RFC 8762 §4.3.2: offsets and widths of each field, in order.
    packet = ReflectorPacket(
        sequence=0x01020304,
        timestamp=0x1112131415161718,
        receive_timestamp=0x2122232425262728,
        sender_sequence=0x31323334,
        sender_timestamp=0x4142434445464748,
        sender_ttl=0x40,
        error=ErrorEstimate(scale=5, multiplier=6),
        sender_error=ErrorEstimate(synchronized=True, ptp=True, scale=0x3F, multiplier=0xFF),
        ssid=0xABCD,
    )
    data = encode_authenticated_reflector(packet, KEY)
    blocks = [data[at : at + 16].hex() for at in range(0, 96, 16)]
    assert blocks == [
        "01020304" + "00" * 12,
        "1112131415161718" + "0506" + "abcd" + "00" * 4,
        "2122232425262728" + "00" * 8,
        "31323334" + "00" * 12,
        "4142434445464748" + "ffff" + "00" * 6,
        "40" + "00" * 15,
    ]
    assert data[96:] == hmac_of_another_library(KEY, data)
    assert len(data) == 112


@settings(deadline=None)
@given(senders, keys)
def test_a_dissector_made_of_the_figure_reads_the_sender_packet(packet, key):
    data = encode_authenticated_sender(packet, key)
    theirs = SenderFigure(data)
    assert (theirs.sequence, theirs.timestamp) == (packet.sequence, packet.timestamp)
    assert (packet.error.synchronized, packet.error.ptp) == (theirs.S, theirs.Z)
    assert (theirs.scale, theirs.multiplier) == (packet.error.scale, packet.error.multiplier)
    assert theirs.ssid == packet.ssid
    assert theirs.hmac == hmac_of_another_library(key, data)
    assert not any(theirs.mbz1 + theirs.mbz2)


@settings(deadline=None)
@given(reflectors, keys)
def test_a_dissector_made_of_the_figure_reads_the_reflector_packet(packet, key):
    data = encode_authenticated_reflector(packet, key)
    theirs = ReflectorFigure(data)
    assert (theirs.sequence, theirs.timestamp) == (packet.sequence, packet.timestamp)
    assert (theirs.ssid, theirs.received) == (packet.ssid, packet.receive_timestamp)
    assert (theirs.sender_sequence, theirs.sender_ttl) == (
        packet.sender_sequence,
        packet.sender_ttl,
    )
    assert theirs.sender_timestamp == packet.sender_timestamp
    words = (packet.error.word(), packet.sender_error.word())
    assert (theirs.error, theirs.sender_error) == words
    assert theirs.hmac == hmac_of_another_library(key, data)
    assert not any(theirs.mbz1 + theirs.mbz2 + theirs.mbz3 + theirs.mbz4 + theirs.mbz5)
    assert not any(theirs.mbz6)


@given(senders, keys)
def test_a_dissectors_own_packet_is_read(packet, key):
    theirs = SenderFigure(
        sequence=packet.sequence,
        timestamp=packet.timestamp,
        S=packet.error.synchronized,
        Z=packet.error.ptp,
        scale=packet.error.scale,
        multiplier=packet.error.multiplier,
        ssid=packet.ssid,
        hmac=bytes(16),
    )
    covered = bytes(theirs)[:96]
    data = covered + hmac_of_another_library(key, covered)
    assert decode_authenticated_sender(data, key) == packet


@given(reflectors, keys)
def test_reflector_packets_survive(packet, key):
    data = encode_authenticated_reflector(packet, key)
    assert decode_authenticated_reflector(data, key) == packet


@given(senders, keys, st.integers(112, 1_400))
def test_longer_packets_survive_and_are_padded(packet, key, length):
    data = encode_authenticated_sender(packet, key, length)
    assert len(data) == length
    assert decode_authenticated_sender(data, key) == packet
    if length >= 116:
        # RFC 8972 §4.1: one Extra Padding TLV, U set; by §4.8 it alone needs no HMAC TLV.
        assert data[112:116] == bytes((0x80, 1)) + (length - 116).to_bytes(2, "big")


@given(st.integers(0, 8 * 112 - 1))
def test_any_bit_turned_is_noticed(bit):
    data = bytearray(encode_authenticated_sender(SENDER, KEY))
    data[bit // 8] ^= 1 << bit % 8
    assert not is_authentic(bytes(data), KEY)
    with pytest.raises(MalformedMessage, match="HMAC"):
        decode_authenticated_sender(bytes(data), KEY)


def test_another_key_is_noticed():
    data = encode_authenticated_sender(SENDER, KEY)
    with pytest.raises(MalformedMessage, match="HMAC"):
        decode_authenticated_sender(data, bytes(32))


def test_a_sender_packet_with_its_own_hmac_is_no_answer_to_itself():
    # Sent back as it is, the sender's timestamp stands where the reflector's would, and the
    # field that must hold the sender's holds zero.
    answer = decode_authenticated_reflector(encode_authenticated_sender(SENDER, KEY), KEY)
    assert answer.sender_timestamp != SENDER.timestamp


@pytest.mark.parametrize("decode", [decode_authenticated_sender, decode_authenticated_reflector])
@pytest.mark.parametrize("length", [0, 1, 44, 95, 96, 97, 111])
def test_fewer_octets_are_malformed(decode, length):
    data = encode_authenticated_sender(SENDER, KEY)[:length]
    assert not is_authentic(data, KEY)
    with pytest.raises(MalformedMessage, match="112"):
        decode(data, KEY)


@pytest.mark.parametrize("decode", [decode_authenticated_sender, decode_authenticated_reflector])
@given(data=st.binary(max_size=200))
def test_any_bytes_are_malformed(decode, data):
    with pytest.raises(MalformedMessage):
        decode(data, KEY)


def test_the_places_of_the_fields_that_a_reflector_reads_and_stamps():
    data = encode_authenticated_sender(SENDER, KEY)
    assert data[SSID_AT : SSID_AT + 2].hex() == "abcd"
    assert data[TIMESTAMP_AT : TIMESTAMP_AT + 8].hex() == "b44db70520000000"
    assert len(data) == AUTHENTICATED_LENGTH
