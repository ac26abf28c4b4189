"""The question of how a server sees the asker, and its answer: our own form, no standard."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.codec.sighting import (
    ASK_BYTES,
    TOKEN_BYTES,
    Seen,
    decode_ask,
    decode_seen,
    encode_ask,
    encode_seen,
)
from agent.errors import MalformedMessage

TOKEN = bytes(range(TOKEN_BYTES))
tokens = st.binary(min_size=TOKEN_BYTES, max_size=TOKEN_BYTES)
addresses = st.ip_addresses().map(str)
ports = st.integers(min_value=1, max_value=65535)


@given(tokens, addresses, ports)
def test_what_was_asked_and_seen_comes_back_and_no_answer_is_longer(token, address, port):
    question = encode_ask(token)
    answer = encode_seen(token, Seen(address=address, port=port))
    assert decode_ask(question) == token
    assert decode_seen(answer, token) == Seen(address=address, port=port)
    assert len(answer) <= len(question) == ASK_BYTES


@given(tokens, addresses, ports)
def test_an_answer_is_no_question(token, address, port):
    """Else two servers could keep each other busy with a forged packet."""
    with pytest.raises(MalformedMessage):
        decode_ask(encode_seen(token, Seen(address=address, port=port)).ljust(ASK_BYTES))


@pytest.mark.parametrize(
    "answer",
    [
        b"",
        b"doorstep seen 0001020304050607 192.0.2.1 80",
        b"doorstep seen 0001020304050608 192.0.2.1 80\n",
        b"doorstep seen 0001020304050607 192.0.2.256 80\n",
        b"doorstep seen 0001020304050607 192.0.2.1 0\n",
        b"doorstep seen 0001020304050607 192.0.2.1 65536\n",
        b"doorstep seen 0001020304050607 <b>.2.1 80\n",
        b"doorstep seen 0001020304050607 192.0.2.1 80\n" + b" " * 90,
    ],
)
def test_anything_else_is_refused(answer):
    with pytest.raises(MalformedMessage):
        decode_seen(answer, TOKEN)


@pytest.mark.parametrize("length", [ASK_BYTES - 1, ASK_BYTES + 1])
def test_a_question_has_one_length(length):
    with pytest.raises(MalformedMessage):
        decode_ask(encode_ask(TOKEN).ljust(length)[:length])
