"""The agent's side of the border: a helper that is silent, verbose, broken or gone."""

import json
import subprocess
import sys

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from agent.clock import SystemClock
from agent.engines import helper_client
from agent.engines.helper_client import HelperClient, Helpers, read_answer
from agent.errors import BadReply, CannotMeasure, InterfaceDown, RightMissing, TimedOut
from agent.ports.frames import Discover

ASKED = Discover(
    interface="eth0",
    hardware_address="02:00:5e:10:00:01",
    listen_s=6.0,
    options=((60, b"door"),),
    held=("192.0.2.30",),
    presence=False,
)
GOOD = {
    "sent": 1,
    "listened_s": 6.0,
    "malformed": 0,
    "offers": [],
    "presence_asked": False,
    "naks": [],
    "overheard": [],
    "probed": [],
    "in_use": [],
}


def ended(client):
    return all(one._process.returncode is not None for one in client._busy)


@pytest.fixture
def played():
    """Start a Python program in the helper's place; end it afterwards."""
    started = []

    def start(code, clock=None):
        process = subprocess.Popen(
            [sys.executable, "-S", "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        started.append(HelperClient(process, clock or SystemClock()))
        return Helpers([started[-1]])

    yield start
    for client in started:
        client.close()
        assert client._process.returncode is not None


def test_the_request_is_the_helpers_form(played):
    from agent.helper.request import parse_request

    client = played("import sys, json; print(json.dumps({'error': 'x', 'problem': input()}))")
    with pytest.raises(BadReply) as caught:
        client.discover(ASKED)
    wanted = parse_request(caught.value.fields["problem"].encode() + b"\n")
    assert (wanted.interface, wanted.listen_s, wanted.options) == ("eth0", 6.0, ((60, b"door"),))
    assert (wanted.held, wanted.presence) == (("192.0.2.30",), False)


def test_an_answer_is_read_and_the_helper_ended(played):
    client = played(f"input(); print({json.dumps(json.dumps(GOOD))})")
    assert client.discover(ASKED).sent == 1
    with pytest.raises(BadReply):
        client.discover(ASKED)


@pytest.mark.parametrize(
    ("code", "error"),
    [
        ("input()", BadReply),
        ("input(); print('x' * 300_000)", BadReply),
        ("input(); print('{}')", BadReply),
        ("input(); print('[1]')", BadReply),
        ("raise SystemExit", BadReply),
        ('input(); print(\'{"error": "right-missing"}\')', RightMissing),
        ('input(); print(\'{"error": "interface"}\')', InterfaceDown),
    ],
)
def test_anything_but_an_answer_is_an_error(played, code, error):
    with pytest.raises(error):
        played(code).discover(ASKED)


def test_the_helpers_own_code_reaches_the_reason(played):
    with pytest.raises(BadReply) as caught:
        played('input(); print(\'{"error": "frames-extra-missing"}\')').discover(ASKED)
    assert caught.value.fields["code"] == "frames-extra-missing"


def test_a_silent_helper_is_ended_in_time(played, monkeypatch):
    monkeypatch.setattr(helper_client, "STARTING_S", -8.7)
    client = played("import time; time.sleep(60)")
    with pytest.raises(TimedOut):
        client.discover(ASKED)
    assert ended(client)


def test_closing_ends_a_helper_that_was_never_asked(played):
    client = played("input()")
    client.close()
    client.close()
    assert client.pids == ()


def test_each_question_has_a_helper_of_its_own(played):
    answer = f"input(); print({json.dumps(json.dumps(GOOD))})"
    pair = Helpers([*played(answer)._idle, *played(answer)._idle])
    assert (pair.discover(ASKED).sent, pair.discover(ASKED).sent) == (1, 1)
    with pytest.raises(BadReply):
        pair.discover(ASKED)


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
)


@given(st.dictionaries(st.sampled_from(sorted(GOOD)), values))
@example({"listened_s": 10**400})
def test_any_form_is_a_probe_or_an_error(changes):
    try:
        probe = read_answer(json.dumps({**GOOD, **changes}).encode(), "eth0")
    except CannotMeasure:
        return
    assert isinstance(probe.sent, int)
