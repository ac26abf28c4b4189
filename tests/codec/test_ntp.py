"""Time messages by RFC 5905 and by a foreign codec."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scapy.layers.ntp import NTPHeader

from agent.codec import ntp
from agent.errors import MalformedMessage

STAMP = 0xB44DB70520000000
"""RFC 3550 §6.4.1, Figure 2: 1995-11-10 11:33:25.125 UTC."""

stamps = st.integers(0, 2**64 - 1)


def reply(**more):
    fields = {
        "leap": 0,
        "version": 4,
        "mode": 4,
        "stratum": 2,
        "poll": 6,
        "precision": -23,
        "root_delay_s": 0.5,
        "root_dispersion_s": 0.25,
        "reference_id": bytes((192, 0, 2, 1)),
        "reference": STAMP,
        "origin": 1,
        "receive": STAMP + 2,
        "transmit": STAMP + 3,
    }
    return ntp.TimeReply(**{**fields, **more})


def test_a_time_stamp_of_the_standards():
    """RFC 3550 §6.4.1: NTP seconds 3024992005.125 are 816003205.125 s since 1970."""
    assert ntp.from_unix_ns(816_003_205_125_000_000) == STAMP


def test_a_request_as_another_codec_reads_it():
    seen = NTPHeader(ntp.encode_request(0x0123456789ABCDEF))
    assert (seen.version, seen.mode, seen.stratum, seen.leap) == (4, 3, 0, 0)
    assert bytes(seen)[40:48].hex() == "0123456789abcdef"
    assert len(ntp.encode_request(1)) == 48


def test_a_reply_as_another_codec_writes_it():
    written = bytes(
        NTPHeader(
            leap=1, version=3, mode=4, stratum=1, poll=4, precision=-20, id="203.0.113.7",
            ref=0, orig=0, recv=0, sent=0, delay=0.5, dispersion=0.25,
        )
    )  # fmt: skip
    seen = ntp.decode_reply(written[:40] + STAMP.to_bytes(8, "big"))
    assert (seen.leap, seen.version, seen.stratum, seen.poll, seen.precision) == (1, 3, 1, 4, -20)
    assert (seen.root_delay_s, seen.root_dispersion_s) == (0.5, 0.25)
    assert seen.transmit == STAMP


@given(stamps, stamps, stamps, st.binary(min_size=4, max_size=4), st.integers(-128, 127))
def test_a_reply_comes_back_as_it_was_written(origin, receive, transmit, identity, precision):
    told = reply(
        origin=origin,
        receive=receive,
        transmit=transmit,
        reference_id=identity,
        precision=precision,
    )
    assert ntp.decode_reply(ntp.encode_reply(told)) == told
    assert ntp.decode_reply(ntp.encode_reply(told) + b"more") == told


@pytest.mark.parametrize("data", [b"", bytes(47), bytes(48), ntp.encode_request(7)])
def test_what_is_no_reply_of_a_server_is_refused(data):
    with pytest.raises(MalformedMessage):
        ntp.decode_reply(data)


@pytest.mark.parametrize(
    ("identity", "code"),
    [
        (b"RATE", "RATE"),
        (b"DENY", "DENY"),
        (b"RSTR", "RSTR"),
        (b"X\0\0\0", "X"),
        (b"\xff\xff<b", "????"),
        (b"\0\0\0\0", "????"),
        (b"a b!", "????"),
    ],
)
def test_kiss_codes(identity, code):
    """RFC 5905 §7.4: four ASCII characters, left justified and zero padded, at stratum 0."""
    assert reply(stratum=0, reference_id=identity).kiss_code == code
    assert reply(reference_id=identity).kiss_code is None


@pytest.mark.parametrize(
    "more", [{"leap": 3}, {"stratum": 0}, {"stratum": 16}, {"receive": 0}, {"transmit": 0}]
)
def test_a_server_whose_clock_is_not_set_says_so(more):
    assert reply().synchronized
    assert not reply(**more).synchronized


@given(stamps, st.integers(-(2**62), 2**62))
def test_differences_hold_across_the_end_of_an_era(earlier, apart):
    """RFC 5905 §6: era 0 ends on 2036-02-07; a difference is right all the same."""
    later = (earlier + apart) % 2**64
    assert ntp.apart_s(later, earlier) == apart / 2**32


def test_a_requests_nonce_is_found_again():
    assert ntp.decode_transmit(ntp.encode_request(99)) == 99
    with pytest.raises(MalformedMessage):
        ntp.decode_transmit(ntp.encode_reply(reply()))
