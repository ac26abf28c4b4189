import pytest
from hypothesis import given
from hypothesis import strategies as st
from icmplib import ICMPv4Socket

from agent.codec.icmp import (
    Echo,
    decode_echo,
    decode_error,
    encode_echo,
    without_ip_header,
)
from agent.codec.icmp_extensions import Label, decode_labels
from agent.errors import MalformedMessage

# RFC 4950 §3 names the labels; bytes and checksums by arithmetic from RFC 4884 §7, §8.
ONE_LABEL = bytes.fromhex("2000c588 00080101 186d0101")
TWO_LABELS = bytes.fromhex("2000ba85 000c0101 186d0001 00010bfe")
QUOTE = bytes.fromhex("45000034") + bytes(124)


def test_echo_request_and_reply_follow_the_standard():
    # RFC 792 "Echo or Echo Reply Message"; checksums by arithmetic.
    data = bytes(range(8))
    request = encode_echo(Echo(icmp_type=8, identifier=0x1234, sequence=1, data=data))
    reply = encode_echo(Echo(icmp_type=0, identifier=0x1234, sequence=1, data=data))
    assert request.hex() == "0800d9ba12340001" + data.hex()
    assert reply.hex() == "0000e1ba12340001" + data.hex()
    odd = encode_echo(Echo(icmp_type=8, identifier=0x1234, sequence=1, data=b"A"))
    assert odd[2:4].hex() == "a4ca"


@given(st.integers(0, 255), st.integers(0, 65535), st.integers(0, 65535), st.binary(max_size=80))
def test_echo_messages_survive(icmp_type, identifier, sequence, data):
    echo = Echo(icmp_type=icmp_type, identifier=identifier, sequence=sequence, data=data)
    assert decode_echo(encode_echo(echo)) == echo


class TheirWriter:
    """The packet writer of icmplib without the socket that its class opens."""

    _ICMP_ECHO_REQUEST = ICMPv4Socket._ICMP_ECHO_REQUEST
    _checksum = ICMPv4Socket._checksum
    write = ICMPv4Socket._create_packet


@given(st.integers(0, 65535), st.integers(0, 65535), st.binary(max_size=80))
def test_a_second_packet_model_writes_the_same_bytes(identifier, sequence, data):
    theirs = TheirWriter().write(identifier, sequence, data)
    ours = encode_echo(Echo(icmp_type=8, identifier=identifier, sequence=sequence, data=data))
    assert ours == theirs


def test_an_echo_message_with_a_code_is_malformed():
    with pytest.raises(MalformedMessage):
        decode_echo(b"\0\1" + bytes(6))


def test_the_ip_header_is_taken_off_with_its_options():
    # RFC 791 §3.1: the header length is in 32-bit words.
    plain = bytes([0x45]) + bytes(19)
    with_options = bytes([0x46]) + bytes(23)
    assert without_ip_header(plain + b"payload") == b"payload"
    assert without_ip_header(with_options + b"payload") == b"payload"
    for broken in (b"", bytes([0x65]) + bytes(19), bytes([0x44]) + bytes(19), plain[:10]):
        with pytest.raises(MalformedMessage):
            without_ip_header(broken)


@pytest.mark.parametrize(
    ("message", "family", "mtu"),
    [
        # RFC 1191 §4: next-hop MTU in octets 7 and 8; 05d4 = 1492.
        ("0304 0000 0000 05d4", 4, 1492),
        ("0304 0000 0000 0000", 4, None),
        ("0303 0000 0000 05d4", 4, None),
        # RFC 4443 §3.2: 32-bit MTU; 0500 = 1280.
        ("0200 0000 0000 0500", 6, 1280),
        ("0300 0000 0000 0500", 6, None),
    ],
)
def test_the_limit_a_router_names(message, family, mtu):
    assert decode_error(bytes.fromhex(message) + QUOTE, family).mtu_bytes == mtu


@pytest.mark.parametrize(
    ("family", "icmp_type", "word"),
    # RFC 4884 §4: 128 octets are 0x20 words in octet 6 (v4), 0x10 double words in octet 5 (v6).
    [(4, 11, "00200000"), (4, 3, "00200000"), (6, 3, "10000000"), (6, 1, "10000000")],
)
def test_extensions_follow_the_padded_quote(family, icmp_type, word):
    data = bytes([icmp_type, 0, 0, 0]) + bytes.fromhex(word) + QUOTE + ONE_LABEL
    error = decode_error(data, family)
    assert error.quoted == QUOTE
    assert error.labels == (Label(label=100048, traffic_class=0, bottom=True, ttl=1),)


def test_a_length_of_zero_means_no_extensions():
    # RFC 4884 §5.4, strict reading.
    error = decode_error(bytes([11, 0, 0, 0]) + bytes(4) + QUOTE + ONE_LABEL, 4)
    assert error.quoted == QUOTE + ONE_LABEL
    assert error.labels == ()


def test_packet_too_big_has_no_extensions():
    # RFC 4884 §4.6; the first octet of a large MTU must not be read as a length.
    data = bytes.fromhex("0200 0000 10000000") + QUOTE + ONE_LABEL
    assert decode_error(data, 6).labels == ()


def test_label_stacks():
    # RFC 4950 §5: label 20 bits, class 3, bottom 1, TTL 8.
    assert decode_labels(TWO_LABELS) == (
        Label(label=100048, traffic_class=0, bottom=False, ttl=1),
        Label(label=16, traffic_class=5, bottom=True, ttl=254),
    )
    assert decode_labels(b"\x20\0\0\0" + ONE_LABEL[4:])[0].label == 100048
    assert decode_labels(ONE_LABEL[:-1] + b"\x02") == ()
    assert decode_labels(b"\x10\0\0\0" + ONE_LABEL[4:]) == ()
    assert decode_labels(b"\x20\0\0\0\0\3\1\1") == ()


@given(st.binary(max_size=300), st.sampled_from([4, 6]))
def test_any_bytes_give_an_error_or_malformed(data, family):
    if len(data) >= 8:
        assert data[8:].startswith(decode_error(data, family).quoted)
        return
    with pytest.raises(MalformedMessage):
        decode_error(data, family)
