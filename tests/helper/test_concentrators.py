"""What is kept of PPPoE discovery, and what crosses the border to the agent."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec import pppoe
from agent.codec.pppoe import Code, Discovery, Tag
from agent.engines.helper_client import read_concentrators
from agent.errors import BadReply, InterfaceDown
from agent.helper.concentrators import MOST_CONCENTRATORS, PadoHearing

UNIQ = b"\7" * 8
SENDER = bytes.fromhex("02005e1000fe")
ASKED = pppoe.initiation(UNIQ)


def pado(asked=ASKED, **more):
    return pppoe.encode(pppoe.offer(asked, **{"name": "ternbay-ac1", "cookie": b"c" * 16, **more}))


def hearing(*frames):
    heard = PadoHearing(host_uniq=UNIQ)
    for number, (body, sender) in enumerate(frames):
        heard.hear(body, sender, float(number))
    return heard


def crossed(heard):
    form = {
        "sent": 1,
        "listened_s": 3.0,
        "malformed": heard.malformed,
        "concentrators": heard.concentrators,
    }
    return read_concentrators(json.dumps(form).encode(), "eth0")


def test_a_concentrator_crosses_the_border_whole():
    (seen,) = crossed(hearing((pado(services=("", "internet")), SENDER))).concentrators
    assert (seen.name, seen.services, seen.cookie_bytes) == ("ternbay-ac1", ("", "internet"), 16)
    assert (seen.hardware_address, seen.after_ms, seen.error) == (SENDER.hex(":"), 0.0, None)


def test_only_answers_to_this_question_count():
    other = pado(pppoe.initiation(b"\1" * 8))
    without = pppoe.encode(Discovery(code=Code.PADO, tags=((Tag.AC_NAME, b"x"),)))
    padi = pppoe.encode(ASKED)
    heard = hearing((other, SENDER), (without, SENDER), (padi, SENDER), (b"\x11", SENDER))
    assert (heard.concentrators, heard.malformed) == ([], 1)


def test_each_concentrator_counts_once_and_their_number_is_bounded():
    many = [(pado(name=f"ac{n}"), bytes((2, 0, 94, 16, 1, n))) for n in range(60)]
    assert len(hearing((pado(), SENDER), (pado(name="again"), SENDER)).concentrators) == 1
    assert len(hearing(*many).concentrators) == MOST_CONCENTRATORS


def test_a_concentrator_that_refuses_says_why_in_harmless_words():
    tags = ((Tag.AC_SYSTEM_ERROR, b"full\x1b[2J\n"), (Tag.HOST_UNIQ, UNIQ))
    body = pppoe.encode(Discovery(code=Code.PADO, tags=tags))
    (seen,) = crossed(hearing((body, SENDER))).concentrators
    assert seen.error == "full\N{REPLACEMENT CHARACTER}[2J\N{REPLACEMENT CHARACTER}"
    assert (seen.name, seen.cookie_bytes) == ("", None)


@given(st.binary(max_size=120), st.integers(0, 60))
def test_any_bytes_make_an_answer_that_can_be_read(noise, place):
    wire = bytearray(pado(services=("a",) * 20))
    wire[place : place + len(noise)] = noise
    seen = crossed(hearing((bytes(wire), SENDER), (noise, SENDER)))
    assert all(len(one.services) <= 8 and one.name.isprintable() for one in seen.concentrators)


def test_what_the_helper_says_instead_is_an_error():
    with pytest.raises(InterfaceDown):
        read_concentrators(b'{"error": "interface"}', "eth0")
    with pytest.raises(BadReply):
        read_concentrators(b'{"sent": true}', "eth0")
