"""The helper accepts one form; everything else is refused without a trace."""

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.helper import __main__ as helper
from agent.helper.fields import Refusal
from agent.helper.request import ConcentratorsWanted, OffersWanted, RoutersWanted, parse_request

FORM = {
    "want": "offers",
    "interface": "eth0",
    "hardware_address": "02:00:5e:10:00:01",
    "listen_s": 6.0,
}


def line(**changes):
    form = {key: value for key, value in {**FORM, **changes}.items() if value is not ...}
    return json.dumps(form).encode() + b"\n"


def test_the_form():
    wanted = parse_request(line(options={"60": "646f6f72", "61": "01aa"}))
    assert wanted == OffersWanted(
        interface="eth0",
        hardware_address=bytes.fromhex("02005e100001"),
        listen_s=6.0,
        options=((60, b"door"), (61, b"\x01\xaa")),
    )
    assert parse_request(line(listen_s=60)).listen_s == 60.0


def test_the_form_with_addresses_held():
    wanted = parse_request(line(held=["192.0.2.30", "198.51.100.9"]))
    assert wanted.held == ("192.0.2.30", "198.51.100.9")
    assert (wanted.presence, parse_request(line(presence=False)).presence) == (True, False)


def test_the_form_for_concentrators():
    wanted = parse_request(line(want="concentrators", listen_s=3))
    assert wanted == ConcentratorsWanted(
        interface="eth0", hardware_address=bytes.fromhex("02005e100001"), listen_s=3.0
    )


def test_the_form_for_routers():
    wanted = parse_request(line(want="routers"))
    assert wanted == RoutersWanted(
        interface="eth0", hardware_address=bytes.fromhex("02005e100001"), listen_s=6.0
    )


HOSTILE = {
    "routers with options": line(want="routers", options={"60": "7465"}),
    "routers with addresses": line(want="routers", held=[]),
    "routers in no time": line(want="routers", listen_s=3),
    "an address held in words": line(held=["here"]),
    "an address held of a group": line(held=["224.0.0.1"]),
    "no address held": line(held=["0.0.0.0"]),
    "this computer's own": line(held=["127.0.0.1"]),
    "presence in words": line(presence="yes"),
    "presence as a number": line(presence=1),
    "too many held": line(held=["192.0.2.30"] * 5),
    "one held": line(held="192.0.2.30"),
    "a number held": line(held=[3221225985]),
    "a wish that is no name": line(want=["offers"]),
    "concentrators with options": line(want="concentrators", options={"60": "7465"}),
    "concentrators with addresses": line(want="concentrators", held=[]),
    "concentrators in no time": line(want="concentrators", listen_s=0.5),
    "concentrators for ever": line(want="concentrators", listen_s=31),
    "a session": line(want="session"),
    "empty": b"\n",
    "no json": b"offers\n",
    "a list": b"[]\n",
    "no end of line": line()[:-1],
    "too long": b" " * 5000 + line(),
    "not ascii": line()[:-2] + b',"\xff":1}\n',
    "nested": b"[" * 3000 + b"\n",
    "another wish": line(want="request"),
    "a missing field": line(listen_s=...),
    "one field more": line(command="true"),
    "a repeated field": b'{"want":"offers",' + line()[1:],
    "a path": line(interface="../eth0"),
    "a long name": line(interface="e" * 16),
    "no name": line(interface=""),
    "a number for a name": line(interface=7),
    "a name with an end": line(interface="eth0\n"),
    "capital hex": line(hardware_address="02:00:5E:10:00:01"),
    "a group address": line(hardware_address="ff:ff:ff:ff:ff:ff"),
    "a short address": line(hardware_address="02:00:5e:10:00"),
    "too short": line(listen_s=5.9),
    "too long a time": line(listen_s=61),
    "not a number": line().replace(b"6.0", b"NaN"),
    "infinite": line().replace(b"6.0", b"1e999"),
    "a huge number": line().replace(b"6.0", b"9" * 3000),
    "truth for a time": line(listen_s=True),
    "text for a time": line(listen_s="6"),
    "another option": line(options={"50": "c0000201"}),
    "odd hex": line(options={"60": "0"}),
    "an empty option": line(options={"60": ""}),
    "a long option": line(options={"60": "00" * 256}),
    "options as a list": line(options=[60]),
}


@pytest.mark.parametrize("hostile", HOSTILE.values(), ids=HOSTILE.keys())
def test_anything_else_is_refused(hostile, monkeypatch):
    with pytest.raises(Refusal):
        parse_request(hostile)
    monkeypatch.setattr("socket.socket", None)
    sink = io.StringIO()
    assert helper.main(io.BytesIO(hostile), sink) == helper.REFUSED
    answer = json.loads(sink.getvalue())
    assert answer["error"] == "refused"
    assert answer.keys() == {"error", "problem"}


@given(st.binary(max_size=200))
def test_noise_is_refused(data):
    with pytest.raises(Refusal):
        parse_request(data + b"\n")


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=6,
)


@given(st.sampled_from(sorted(FORM)), json_values)
def test_one_wrong_value_is_refused_or_of_the_form(field, value):
    try:
        wanted = parse_request(line(**{field: value}))
    except Refusal:
        return
    assert 6 <= wanted.listen_s <= 60
    assert len(wanted.interface) <= 15


def test_no_request_at_all_ends_in_silence():
    sink = io.StringIO()
    assert helper.main(io.BytesIO(b""), sink) == helper.DONE
    assert sink.getvalue() == ""


def test_more_rights_than_frames_are_refused(monkeypatch):
    # capabilities(7): bit 13 is CAP_NET_RAW, bit 21 CAP_SYS_ADMIN.
    helper._refuse_more_rights("Name:\tx\nCapPrm:\t0000000000002000\n")
    with pytest.raises(Refusal):
        helper._refuse_more_rights("Name:\tx\nCapPrm:\t0000000000202000\n")
