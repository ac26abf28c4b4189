"""What the reflector answers and what meets silence, in both modes, without a socket."""

import pytest
from cryptography.hazmat.primitives import hashes, hmac
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.stamp import SenderPacket, decode_reflector, encode_sender
from agent.codec.stamp_authenticated import (
    decode_authenticated_reflector,
    encode_authenticated_sender,
)
from agent.codec.stamp_extensions import Flags, read_chain, sealed, write_extension
from agent.server.options import ReflectorLimits
from agent.server.reflection import Arrival, reply_to
from agent.server.sessions import SessionBook

HERE, ELSEWHERE = "203.0.113.7", "198.51.100.9"
# RFC 3550 §6.4.1 Figure 2: b44db705.20000000 is 1995-11-10 11:33:25.125 UTC.
STAMP, STAMP_NS = 0xB44DB705_20000000, 816_003_205_125_000_000
SENT = STAMP + 0x8000_0000
UNKNOWN = write_extension(252, b"abc")


def opened(*, authenticated, **limits):
    """Return a book with one session, and its grant."""
    held = SessionBook(ReflectorLimits(**limits), port=862)
    return held, held.open(HERE, HERE, 0.0, authenticated=authenticated)


def request(grant, sequence=0, *, key=None, ssid=None):
    packet = SenderPacket(
        sequence=sequence, timestamp=STAMP, ssid=grant.ssid if ssid is None else ssid
    )
    key = key or grant.secret
    return encode_sender(packet) if key is None else encode_authenticated_sender(packet, key)


def ask(held, data, address=HERE):
    """Return the octets of the answer, None for silence."""
    arrival = Arrival(data=data, address=address, at_ns=STAMP_NS, hop_limit=57)
    reply = reply_to(arrival, held, 0.0)
    return None if reply is None else bytes(reply.stamped(SENT))


def report(held, grant):
    return held.tally(grant.session, 0.0).report()


def test_an_authenticated_answer_has_every_field_and_its_own_hmac():
    held, grant = opened(authenticated=True)
    data = ask(held, request(grant, 4_711))
    answer = decode_authenticated_reflector(data, grant.secret)
    assert (answer.sequence, answer.sender_sequence) == (0, 4_711)
    assert (answer.receive_timestamp, answer.timestamp) == (STAMP, SENT)
    assert (answer.sender_timestamp, answer.sender_ttl) == (STAMP, 57)
    assert answer.ssid == grant.ssid
    theirs = hmac.HMAC(bytes.fromhex(grant.key), hashes.SHA256())
    theirs.update(data[:96])
    assert data[96:] == theirs.finalize()[:16]
    assert len(data) == 112


def test_no_two_sessions_share_a_key_and_a_grant_keeps_it_out_of_sight():
    held, first = opened(authenticated=True)
    second = held.open(HERE, HERE, 0.0, authenticated=True)
    assert first.secret != second.secret
    assert len(first.secret) == 32
    assert first.key not in repr(first)
    assert held.open(HERE, HERE, 0.0).secret is None


def turned(data, at):
    changed = bytearray(data)
    changed[at] ^= 1
    return bytes(changed)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda data: data[:111],
        lambda data: data[:44],
        lambda data: turned(data, 3),
        lambda data: turned(data, 20),
        lambda data: turned(data, 111),
        lambda data: turned(data, 95),
    ],
    ids=["truncated", "base of the other mode", "sequence", "stamp", "hmac", "zeros"],
)
def test_what_is_not_under_the_key_meets_silence_and_uses_nothing_up(spoil):
    held, grant = opened(authenticated=True, packets_per_s=1)
    assert ask(held, spoil(request(grant))) is None
    assert ask(held, request(grant)) is not None
    seen = report(held, grant)
    assert (seen.received, seen.reflected, list(seen.arrivals())) == (1, 1, [0])


def test_a_wrong_key_is_counted_and_never_answered():
    held, grant = opened(authenticated=True)
    for sequence in range(3):
        assert ask(held, request(grant, sequence, key=bytes(32))) is None
    assert (report(held, grant).received, report(held, grant).unverified) == (0, 3)


@pytest.mark.parametrize("authenticated", [True, False])
def test_a_packet_of_the_other_mode_is_refused_with_the_right_ssid(authenticated):
    held, grant = opened(authenticated=authenticated)
    packet = SenderPacket(sequence=0, timestamp=STAMP, ssid=grant.ssid)
    other = encode_sender(packet) if authenticated else encode_authenticated_sender(packet, b"k")
    assert ask(held, other) is None
    assert report(held, grant).unverified == 1


def test_a_packet_of_another_session_is_refused_whoever_replays_it():
    held, first = opened(authenticated=True)
    second = held.open(HERE, HERE, 0.0, authenticated=True)
    under_the_first_key = request(first, ssid=second.ssid)
    assert ask(held, under_the_first_key) is None
    assert report(held, second).unverified == 1


def test_a_replay_from_another_address_is_refused():
    held, grant = opened(authenticated=True)
    data = request(grant)
    assert ask(held, data) is not None
    assert ask(held, data, ELSEWHERE) is None
    assert report(held, grant).elsewhere == 1


def test_a_replay_from_the_granted_address_is_told_as_a_copy_within_the_rate():
    held, grant = opened(authenticated=True, packets_per_s=3)
    data = request(grant, 5)
    answers = [ask(held, data) for _ in range(9)]
    assert sum(answer is not None for answer in answers) == 3
    assert list(report(held, grant).arrivals()) == [5] * 9


def test_an_answer_that_is_turned_round_is_no_request():
    # It is under the key of the session, as both directions are.
    held, grant = opened(authenticated=True)
    answer = ask(held, request(grant))
    assert ask(held, answer) is None
    assert (report(held, grant).received, report(held, grant).unverified) == (1, 1)


@pytest.mark.parametrize("authenticated", [True, False])
def test_optional_tlvs_are_answered_in_their_session(authenticated):
    held, grant = opened(authenticated=authenticated)
    key = grant.secret
    chain = UNKNOWN if key is None else sealed(UNKNOWN, key)
    base = request(grant)
    data = ask(held, base + chain)
    found = read_chain(data[len(base) :])
    assert [e.flags for e in found.extensions] == [Flags.UNRECOGNIZED, 0][: len(found.extensions)]
    assert len(data) == len(base + chain)


def test_a_changed_tlv_of_an_authenticated_session_is_marked_and_its_packet_still_counts():
    held, grant = opened(authenticated=True)
    chain = turned(sealed(UNKNOWN, grant.secret), 5)
    data = ask(held, request(grant) + chain)
    marks = [e.flags for e in read_chain(data[112:]).extensions]
    assert marks == [Flags.UNRECOGNIZED | Flags.INTEGRITY, Flags.INTEGRITY]
    assert report(held, grant).received == 1


@given(st.binary(max_size=300), st.booleans(), st.booleans())
def test_any_octets_behind_a_request_are_answered_by_as_many(tail, authenticated, cut):
    held, grant = opened(authenticated=authenticated)
    data = request(grant) + tail
    if cut:
        data = data[: len(tail)]
    answer = ask(held, data)
    assert answer is None or len(answer) == len(data)
    assert cut or answer is not None


@given(st.binary(max_size=200))
def test_octets_without_a_grant_meet_silence(data):
    held, grant = opened(authenticated=True)
    assert ask(held, data) is None
    assert report(held, grant).received == 0


def test_an_unauthenticated_answer_is_stamped_too():
    held, grant = opened(authenticated=False)
    answer = decode_reflector(ask(held, request(grant, 3)))
    assert (answer.timestamp, answer.receive_timestamp, answer.sequence) == (SENT, STAMP, 0)
