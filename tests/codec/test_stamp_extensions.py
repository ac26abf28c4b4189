"""Optional TLVs as a reflector answers them. RFC 8972 §4 and §4.8; wording of both from memory."""

import pytest
from cryptography.hazmat.primitives import hashes, hmac
from hypothesis import given
from hypothesis import strategies as st
from scapy.contrib.stamp import STAMPSessionSenderTestUnauthenticated, STAMPTestTLV

from agent.codec.stamp import SenderPacket, encode_sender
from agent.codec.stamp_extensions import (
    EXTRA_PADDING,
    HMAC_TYPE,
    Flags,
    is_intact,
    read_chain,
    reflected_chain,
    sealed,
    write_extension,
)

KEY = bytes(range(32))
LOCATION, TELEMETRY, PRIVATE = 2, 7, 252
PADDING = write_extension(EXTRA_PADDING, bytes(6))
UNKNOWN = write_extension(PRIVATE, b"abc")

kinds = st.integers(0, 255)
tlvs = st.builds(write_extension, kinds, st.binary(max_size=20))
chains = st.lists(tlvs, max_size=8).map(b"".join)


def flags(data):
    """Return the flags of each TLV that scapy finds, by name.

    The first bit on the wire is U (RFC 8972 §4); scapy's own names count from the last.
    """
    packet = STAMPSessionSenderTestUnauthenticated(
        encode_sender(SenderPacket(sequence=0, timestamp=0)) + data
    )
    return [names(int(tlv.flags)) for tlv in packet.tlv_objects]


def names(octet):
    return "".join(name for place, name in enumerate("UMIRRRRR") if octet & 0x80 >> place)


def hmac_of_another_library(data):
    made = hmac.HMAC(KEY, hashes.SHA256())
    made.update(data)
    return made.finalize()[:16]


def test_a_sender_writes_what_an_independent_dissector_reads():
    theirs = STAMPTestTLV(UNKNOWN)
    assert (names(int(theirs.flags)), theirs.type, theirs.len, theirs.value) == (
        "U",
        PRIVATE,
        3,
        b"abc",
    )


def test_padding_is_understood_and_other_types_are_marked():
    # §4: "U" set by the sender; a reflector clears it for what it knows.
    answer = reflected_chain(PADDING + UNKNOWN + PADDING)
    assert flags(answer) == ["", "U", ""]
    assert answer[1:] == (b"\0" + PADDING[1:] + UNKNOWN + b"\0" + PADDING[1:])[1:]


def test_what_flags_a_sender_set_do_not_come_back():
    odd = write_extension(EXTRA_PADDING, b"", flags=0xFF)
    assert reflected_chain(odd)[0] == 0


@pytest.mark.parametrize(
    "tail",
    [
        b"\x80",
        b"\x80\x01\x00",
        write_extension(LOCATION, bytes(9))[:-1],
        b"\x80\x01\xff\xff" + bytes(40),
        write_extension(HMAC_TYPE, bytes(15)),
        write_extension(HMAC_TYPE, bytes(17)),
    ],
    ids=["one octet", "no header", "cut", "too long", "short HMAC", "long HMAC"],
)
def test_a_malformed_one_is_marked_and_the_rest_copied(tail):
    data = UNKNOWN + tail + b"\x80\x01"
    chain = read_chain(UNKNOWN + tail)
    assert chain.malformed_at == len(UNKNOWN)
    answer = reflected_chain(UNKNOWN + tail)
    assert answer[0] == Flags.UNRECOGNIZED
    assert answer[len(UNKNOWN)] == Flags.MALFORMED
    assert answer[len(UNKNOWN) + 1 :] == tail[1:]
    assert len(reflected_chain(data)) == len(data)


def test_an_intact_chain_of_an_authenticated_session_gets_its_own_hmac():
    data = sealed(PADDING + UNKNOWN, KEY)
    assert data[-16:] == hmac_of_another_library(PADDING + UNKNOWN)
    answer = reflected_chain(data, KEY)
    assert flags(answer) == ["", "U", ""]
    assert answer[-16:] == hmac_of_another_library(answer[:-20])
    assert is_intact(answer, read_chain(answer), KEY)


def test_padding_may_follow_the_hmac_and_is_not_covered():
    answer = reflected_chain(sealed(UNKNOWN, KEY) + PADDING, KEY)
    assert flags(answer) == ["U", "", ""]


@pytest.mark.parametrize("data", [b"", PADDING], ids=["none", "padding alone"])
def test_without_anything_to_protect_no_hmac_is_asked_for(data):
    assert set(flags(reflected_chain(data, KEY))) <= {""}


TURNED = bytearray(sealed(UNKNOWN, KEY))
TURNED[5] ^= 1


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (UNKNOWN, ["UI"]),
        (PADDING + PADDING, ["I", "I"]),
        (bytes(TURNED), ["UI", "I"]),
        (sealed(UNKNOWN, bytes(32)), ["UI", "I"]),
        (sealed(b"", KEY) + UNKNOWN, ["I", "UI"]),
        (sealed(UNKNOWN, KEY) + sealed(b"", KEY), ["UI", "I", "I"]),
    ],
    ids=["missing", "missing over two", "changed", "other key", "misplaced", "twice"],
)
def test_a_chain_that_is_not_intact_is_marked_whole_and_keeps_its_octets(data, expected):
    answer = reflected_chain(data, KEY)
    assert flags(answer) == expected
    starts = {extension.start for extension in read_chain(data).extensions}
    changed = {at for at in range(len(data)) if data[at] != answer[at]}
    assert changed <= starts


def test_a_malformed_chain_is_not_intact():
    answer = reflected_chain(sealed(UNKNOWN, KEY) + b"\x80", KEY)
    marks = Flags.UNRECOGNIZED | Flags.INTEGRITY
    assert (answer[0], answer[-1]) == (marks, Flags.MALFORMED | Flags.INTEGRITY)


def test_without_a_key_an_hmac_is_a_type_not_understood():
    assert flags(reflected_chain(sealed(UNKNOWN, KEY))) == ["U", "U"]


@given(chains, st.sampled_from([None, KEY]))
def test_whole_chains_read_back_one_by_one(data, key):
    chain = read_chain(data)
    if chain.malformed_at is None:
        parts = [write_extension(e.type, e.value, e.flags) for e in chain.extensions]
        assert b"".join(parts) == data
    assert len(reflected_chain(data, key)) == len(data)


@given(st.binary(max_size=300) | chains, st.sampled_from([None, KEY]))
def test_any_octets_are_answered_by_as_many(data, key):
    answer = reflected_chain(data, key)
    assert len(answer) == len(data)
    ours, theirs = read_chain(answer), read_chain(data)
    assert ours.malformed_at == theirs.malformed_at
    assert [e.type for e in ours.extensions] == [e.type for e in theirs.extensions]
